"""The printed timeline: a PDF of a few pages, typeset from data that is never markup."""

from __future__ import annotations

from matplotlib.axes import Axes

from simulator.report.figures.alt import describe_map, describe_profile, describe_strip
from simulator.report.figures.map import card_map, copied, fitting_height_in, inset_map, route_map
from simulator.report.figures.profile import STRIP_IN, WIDTH_IN, profile, profile_key, refill_strip
from simulator.report.figures.style import POINTS_PER_INCH, svg_text
from simulator.report.paper.press import Page, press
from simulator.report.paper.sheet import sheet_of
from simulator.report.subject import DrawnWalk, Track
from simulator.report.tables import units_of

PROFILE_IN, HEADING_IN = 2.1, 0.55
"""Height of the profile, and of its heading and caption, where it fits under the map."""

NAMES = {"map": "Map of the way", "profile": "Height profile", "strip": "Places along the way"}
"""What its figures are called."""

KNOT_M, KNOT_EDGE_M, FEWEST_TURNS, MOST_INSETS = 700.0, 60.0, 3, 4
"""A stretch so long with so many turns is hard to follow [m]; such stretches that are drawn."""

BLANK = '<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1"/>'


def knots(walk: DrawnWalk) -> list[tuple[float, float, list[float]]]:
    """Find the stretches that are hardest to follow: many turns close together."""
    at = [float(one.along_m) for one in walk.directions if one.turn not in {"start", "go on"}]
    found: list[tuple[float, float, list[float]]] = []
    while len(found) < MOST_INSETS:
        free = [one for one in at if all(not start <= one <= end for start, end, _ in found)]
        windows = [[b for b in free if a <= b <= a + KNOT_M] for a in free]
        best = max(windows, key=len, default=[])
        if len(best) < FEWEST_TURNS:
            break
        found.append((best[0], best[-1], best))
    # Two stand side by side: one alone would leave half a row of paper empty.
    return sorted(found if len(found) == 1 else found[: len(found) // 2 * 2])


def timeline_pdf(walk: DrawnWalk, *, page: Page = "A4") -> bytes:
    """Typeset the timeline."""
    return timeline_and_figures(walk, page=page)[0]


def timeline_and_figures(walk: DrawnWalk, *, page: Page = "A4") -> tuple[bytes, dict[str, str]]:
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
    units, track = units_of(walk), Track(walk)
    insets: dict[str, str] = {}
    for start, end, turns in knots(walk):
        name = f"inset-{len(insets) + 1}"
        marked = [(one, f"{one / units.long_m:.1f}") for one in turns]
        first, last = max(start - KNOT_EDGE_M, 0.0), min(end + KNOT_EDGE_M, track.length_m)
        span = f"{units.long_name} {marked[0][1]} to {marked[-1][1]}"
        told = f"{len(turns)} turns, marked by their {units.long_name}; arrows point home."
        insets[name] = svg_text(inset_map(walk, first, last, marked), prefix=name)
        data["insets"].append({"name": name, "heading": f"{span}:", "words": told})
        words[name] = f"Map of the stretch from {span} close up, with {told}"
    fixed = {
        "profile": svg("profile", profile(walk, size_in=(WIDTH_IN / scale, PROFILE_IN))),
        "strip": svg("strip", refill_strip(walk, size_in=(WIDTH_IN / scale, STRIP_IN))),
    }
    small = svg_text(card_map(walk), prefix="map-card")

    def drawings(drawing: str) -> dict[str, str]:
        return {"map": drawing, "card_map": copied(small), **fixed, **insets}

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
