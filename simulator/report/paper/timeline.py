"""The printed timeline: a PDF of a few pages, typeset from data that is never markup."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from matplotlib.axes import Axes

from simulator.report.figures.alt import describe_map, describe_profile, describe_strip
from simulator.report.figures.map import card_map, copied, fitting_height_in, route_map
from simulator.report.figures.profile import WIDTH_IN, profile, refill_strip
from simulator.report.figures.style import POINTS_PER_INCH, svg_text
from simulator.report.paper.press import Page, press
from simulator.report.paper.sheet import Sheet, sheet_of
from simulator.report.subject import Walk

CARD_LINES, CARD_LETTERS = 25, 30
"""Lines of a panel of the pocket card, and characters of a line beside a number."""

CARD_CAUTIONS = 820
"""Characters of cautions that fit on a panel of the pocket card."""

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

    data = sheet.as_dict() | {"profile_first": False, "card": _card(sheet), "alt": words}
    fixed = {
        "profile": svg("profile", profile(walk, size_in=(WIDTH_IN, PROFILE_IN))),
        "strip": svg("strip", refill_strip(walk)),
    }
    small = svg_text(card_map(walk), prefix="map-card")

    def drawings(drawing: str) -> dict[str, str]:
        return {"map": drawing, "card_map": copied(small), **fixed}

    with press(page, walk.plan.choices.font) as ready:
        # The sheets are set once without the map, to learn how much room it leaves.
        room = ready.value("timeline.typ", "room", sheet=data, drawings=drawings(BLANK))
        width_in, height_in = (float(side) / POINTS_PER_INCH for side in room)
        map_in = fitting_height_in(walk, width_in, height_in)
        if height_in - map_in >= PROFILE_IN + HEADING_IN:
            data["profile_first"] = True
            map_in = height_in - PROFILE_IN - HEADING_IN
        else:
            map_in = height_in
        drawing = svg("map", route_map(walk, width_in=width_in, height_in=map_in))
        made = ready.pdf("timeline.typ", "card.typ", sheet=data, drawings=drawings(drawing))
    return made, {"map": drawing, **fixed}


def _card(sheet: Sheet) -> dict[str, Any]:
    """Choose what fits on the pocket card; what is left out is on the large sheets."""
    turns = [{"along": turn.along, "short": turn.short} for turn in sheet.turns]
    first = _fitting([turn["short"] for turn in turns])
    more = _fitting([turn["short"] for turn in turns[first:]])
    care, room = [], CARD_LINES - len(sheet.hours) - 3
    for one in sheet.care:
        room -= -(-len(f"{one.along} {one.what}") // CARD_LETTERS)
        if room >= 0:
            care.append({"along": one.along, "what": one.what})
    cautions: list[str] = []
    for caution in sheet.cautions:
        if sum(map(len, cautions)) + len(caution) <= CARD_CAUTIONS:
            cautions.append(caution)
    return {
        "turns": turns[:first],
        "more_turns": turns[first : first + more],
        "turns_left_out": len(turns) - first - more,
        "bag": [
            {"name": purpose.name, "items": [tick.item for tick in purpose.ticks]}
            for purpose in sheet.bag
        ],
        "hours": [asdict(hour) for hour in sheet.hours[: CARD_LINES - 1]],
        "care": care,
        "cautions": cautions,
    }


def _fitting(texts: list[str]) -> int:
    """Count how many texts fill a panel."""
    lines = 0
    for count, text in enumerate(texts):
        lines += -(-len(text) // CARD_LETTERS)
        if lines > CARD_LINES:
            return count
    return len(texts)
