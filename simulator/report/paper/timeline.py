"""The printed timeline: a PDF of a few pages, typeset from data that is never markup."""

from __future__ import annotations

from matplotlib.axes import Axes

from simulator.report.figures.alt import describe_map, describe_profile, describe_strip
from simulator.report.figures.map import card_map, copied, fitting_height_in, route_map
from simulator.report.figures.profile import STRIP_IN, WIDTH_IN, profile, profile_key, refill_strip
from simulator.report.figures.style import POINTS_PER_INCH, svg_text
from simulator.report.paper.press import Page, press
from simulator.report.paper.sheet import sheet_of
from simulator.report.subject import Walk

PROFILE_IN, HEADING_IN = 2.1, 0.55
"""Height of the profile, and of its heading and caption, where it fits under the map."""

NAMES = {"map": "Map of the way", "profile": "Height profile", "strip": "Places along the way"}
"""What its figures are called."""

BLANK = '<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1"/>'


def timeline_pdf(walk: Walk, *, page: Page = "A4") -> bytes:
    """Typeset the timeline."""
    return timeline_and_figures(walk, page=page)[0]


def timeline_and_figures(walk: Walk, *, page: Page = "A4") -> tuple[bytes, dict[str, str]]:
    """Typeset the timeline, and keep its figures for whoever else shows them."""
    sheet = sheet_of(walk)
    words = {
        "map": describe_map(walk),
        "profile": describe_profile(walk),
        "strip": describe_strip(walk),
    }

    def svg(name: str, axes: Axes) -> str:
        return svg_text(axes, prefix=f"{name}-wide", title=NAMES[name], description=words[name])

    data = sheet.as_dict() | {
        "profile_first": False,
        "alt": words,
        "insets": [],
        "profile_key": profile_key(walk),
    }
    scale = sheet.scale
    fixed = {
        "profile": svg("profile", profile(walk, size_in=(WIDTH_IN / scale, PROFILE_IN))),
        "strip": svg("strip", refill_strip(walk, size_in=(WIDTH_IN / scale, STRIP_IN))),
    }
    small = svg_text(card_map(walk), prefix="map-card")

    def drawings(drawing: str) -> dict[str, str]:
        return {"map": drawing, "card_map": copied(small), **fixed}

    with press(page, walk.plan.choices.font) as ready:
        # The sheets are set once without the map, to learn how much room it leaves.
        room = ready.value("timeline.typ", "room", sheet=data, drawings=drawings(BLANK))
        width_in, height_in = (float(side) / POINTS_PER_INCH / scale for side in room)
        map_in = fitting_height_in(walk, width_in, height_in)
        if height_in - map_in >= PROFILE_IN + HEADING_IN:
            data["profile_first"] = True
            map_in = height_in - PROFILE_IN - HEADING_IN
        else:
            map_in = height_in
        drawing = svg("map", route_map(walk, width_in=width_in, height_in=map_in))
        made = ready.pdf("timeline.typ", "card.typ", sheet=data, drawings=drawings(drawing))
    return made, {"map": drawing, **fixed}
