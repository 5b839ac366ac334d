"""What the page is told of a walk and its ground: the offline page's words, as plain data."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.bag.items import COLUMNS, DEPENDS_ON, Items, carried
from simulator.home.answer import Walk
from simulator.home.scene import KeptGround
from simulator.report.figures.map import EARTH_M_PER_DEG, RANKS, Plane, chained, ranked
from simulator.report.page.data import gapped, ground_areas, live_data
from simulator.report.page.html import page_template
from simulator.report.paper.sheet import sheet_of
from simulator.report.words import clean
from simulator.route.closures import plain
from simulator.walk.ledger import local_time

if TYPE_CHECKING:
    from jinja2 import Template

BLOCKS = (
    "actions", "figures", "why", "water", "hours", "refills", "streets", "care", "cautions",
    "assumptions",
)  # fmt: skip
"""Parts of the offline page that the desk shows, by their name in its template."""


def plane_of(ground: KeptGround) -> Plane:
    """Give the flat picture of the whole ground, true in its middle."""
    lon, lat = ground.streets.lon, ground.streets.lat
    return Plane(float((lon.min() + lon.max()) / 2.0), float((lat.min() + lat.max()) / 2.0))


def ground_told(ground: KeptGround) -> dict[str, Any]:
    """Describe the ground for drawing: streets by rank, water, green, and what can be shut."""
    plane, streets = plane_of(ground), ground.streets
    points = plane.project(streets.lon, streets.lat)
    rank = ranked(streets)
    lines = []
    for position in range(len(RANKS) + 1):
        rows = np.flatnonzero(rank == position)
        line = chained(streets.tail[rows], streets.head[rows], streets.way[rows], points)
        lines.append(gapped(line))
    low, high = points.min(axis=0), points.max(axis=0)
    return {
        "middle": [plane.lat, plane.lon],
        "degree_m": [EARTH_M_PER_DEG, EARTH_M_PER_DEG * float(np.cos(np.radians(plane.lat)))],
        "frame": [round(float(v)) for v in (low[0], high[0], low[1], high[1])],
        "streets": lines,
        "ground": ground_areas(ground.lines, plane, (low, high)),
        "crossings": _crossings(ground, plane),
        "attribution": clean(streets.attribution),
    }


def _crossings(ground: KeptGround, plane: Plane) -> list[dict[str, Any]]:
    """Say what can be shut with one touch, and how the plan names it."""
    crossings, ways = ground.crossings, ground.streets.ways
    of_name: dict[str, set[int]] = {}
    for number, pair in zip(
        ways.osm_id.tolist(), zip(ways.name, ways.bridge_name, strict=True), strict=True
    ):
        for name in pair:
            of_name.setdefault(plain(name), set()).add(number)
    at = plane.project(crossings.lon, crossings.lat)
    found = []
    for row, name in enumerate(crossings.name):
        numbers = crossings.way_ids[row]
        # A bridge that shares its name with the street it carries is shut by its numbers alone.
        alone = of_name.get(plain(name), set()) <= set(numbers)
        found.append(
            {
                "name": clean(name, longest=60),
                "over": clean(crossings.spans[row], longest=60),
                "ford": bool(crossings.ford[row]),
                "x": round(float(at[row, 0])),
                "y": round(float(at[row, 1])),
                "shut": [name] if alone else [str(number) for number in numbers],
            }
        )
    return found


@cache
def _template() -> Template:
    return page_template()


def walk_told(walk: Walk, plane: Plane) -> dict[str, Any]:
    """Tell a walk in the words, tables and drawings of the offline page."""
    sheet = sheet_of(walk)
    template = _template()
    context = template.new_context({"sheet": sheet})
    live = live_data(walk, plane=plane)
    return {
        "level": sheet.level,
        "headline": sheet.headline,
        "sentence": sheet.sentence,
        "home_by": sheet.home_by,
        "day": sheet.day,
        "title": sheet.title,
        "bridge": [sheet.bridge_heading, sheet.bridge_words],
        "hours": [
            {
                "letter": hour.letter,
                "start": hour.start,
                "along": hour.along,
                "water": hour.water_left,
                "water_short": hour.water_short,
                "light_sign": hour.light_sign,
                "light": hour.light,
                "felt": hour.felt,
                "short": hour.short,
            }
            for hour in sheet.hours
        ],
        "long_unit": sheet.long_unit,
        "figures": [[one.label, one.value, one.short] for one in sheet.figures],
        "html": {name: "".join(template.blocks[name](context)) for name in BLOCKS},
        "live": live,
        "tried": _tried(walk),
    }


def _tried(walk: Walk) -> dict[str, Any]:
    """List what other departures and shut bridges bring, as far as they were worked out."""
    what_if = walk.what_if
    if what_if is None:
        return {"departures": [], "bridges": []}
    settings = what_if.settings
    departs, waters, paces = settings.columns()
    planned = settings.planned
    zone = walk.plan.trip.zone.key
    departures, bridges = [], []
    for turned in what_if.turned:
        answers = turned.answers
        names = [clean(what_if.bridges[number], longest=60) for number in turned.closed]
        if answers is not None and not turned.closed:
            same = (waters == waters[planned]) & (paces == paces[planned])
            for row in np.flatnonzero(same).tolist():
                leave = walk.plan.trip.departs.timestamp() + 60.0 * float(departs[row])
                departures.append(
                    {
                        "depart": f"{local_time(leave, zone):%Y-%m-%dT%H:%M}",
                        "arrive": _arrival(leave + float(answers.arrive_s[row]), zone),
                        "level": answers.level[row],
                    }
                )
        elif len(names) == 1:
            leave = walk.plan.trip.departs.timestamp()
            bridges.append(
                {
                    "name": names[0],
                    "arrive": ""
                    if answers is None
                    else _arrival(leave + float(answers.arrive_s[planned]), zone),
                    "level": "no way home" if answers is None else answers.level[planned],
                }
            )
    return {"departures": departures, "bridges": bridges}


def _arrival(epoch_s: float, zone: str) -> str:
    return f"{local_time(epoch_s, zone):%H:%M}"


def bag_told(items: Items | None, capacity_l: float | None) -> dict[str, Any]:
    """Sum the list up, column by column."""
    if items is None or not len(items):
        return {"sums": {}, "full": ""}
    sums: dict[str, list[float]] = {}
    for column in COLUMNS:
        if column in DEPENDS_ON:
            total = items.total(column)
            sums[column] = [total.known, total.unknown_count]
    sums["warmth_clo"] = [carried(items).warmth_clo, sums["warmth_clo"][1]]
    room, used = capacity_l, sums["volume_ml"][0] / 1000.0
    full = ""
    if room is not None and used > room:
        full = f"The list takes {used:.1f} l, the bag holds {room:g} l."
    return {"sums": sums, "full": full}
