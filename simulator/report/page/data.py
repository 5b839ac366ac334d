"""What the page's script draws from: ways, ledgers and daylight, as plain numbers and text."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from matplotlib.axes import Axes

from simulator.arrays import Floats
from simulator.report.actions import ABOUT_MIN, SPAN_MIN
from simulator.report.figures.map import (
    Plane,
    chained,
    closed_spots,
    draw_ground,
    draw_streets,
    frame_for,
)
from simulator.report.figures.profile import Spans, spans_where, unknown_spans
from simulator.report.figures.style import ROLES, new_axes
from simulator.report.subject import DrawnWalk, Track
from simulator.report.tables import (
    bridge_spans,
    care_rows,
    chosen,
    heights_known,
    places_of,
    units_of,
)
from simulator.report.words import clean
from simulator.sky.clock import zone_name
from simulator.sky.sun import DAYLIGHT_STATES, daylight_state
from simulator.units import HOUR_S, Units

SKY_STEP_S = 600.0
CANVAS_IN = (7.1, 6.4)
"""Size that streets are chosen for, as on a printed map [in]."""

CROSSES_EVERY_SHARE, LEAST_CROSSES_M = 0.03, 100.0
"""Distance of crosses over what is closed: as a share of the way's extent, and at least [m]."""

CLOSED_DRAWN = 20_000
"""Most closed pieces of street drawn: keeps the page small in any flood."""

GREEN, WATER = "green", "water"


def live_data(walk: DrawnWalk, *, plane: Plane | None = None) -> dict[str, Any]:
    """Gather what the script needs.

    Parameters
    ----------
    walk : DrawnWalk
        What `simulator.walk_home` gave.
    plane : Plane, optional
        Where the streets are drawn already: lengths count from its middle, and no ground is given.

    Returns
    -------
    dict
        Numbers, text and lists. Lengths are whole metres east and north of the middle of the way.
    """
    units, track = units_of(walk), Track(walk)
    way = np.asarray(walk.path_lonlat, dtype=np.float64)
    middle = (way.min(axis=0) + way.max(axis=0)) / 2.0
    grounded = plane is None
    plane = plane or Plane(float(middle[0]), float(middle[1]))
    reasons: dict[str, int] = {}
    ways = _ways(walk, track, plane, reasons)
    what_if = walk.what_if
    settings = {
        "depart_min": [0] if what_if is None else list(what_if.settings.depart_min),
        "water_ml": [_carried_ml(walk)]
        if what_if is None
        else [_whole(ml) for ml in what_if.settings.water_ml],
        "pace": [1.0] if what_if is None else list(what_if.settings.pace),
        "planned": 0 if what_if is None else int(what_if.settings.planned),
    }
    return {
        "units": _units(units),
        "settings": settings,
        "bridges": [] if what_if is None else [clean(name) for name in what_if.bridges],
        "ways": ways,
        "reasons": list(reasons),
        "sky": _sky(walk, track),
        "ground": _ground(walk, plane, plane.project(way[:, 0], way[:, 1])) if grounded else None,
        "places": _places(walk, plane),
        "care": _care(walk, units, track, plane),
        "closed": _closed(walk, plane, plane.project(way[:, 0], way[:, 1])),
        "heights": heights_known(walk, track),
        "unknown_heights": any(way.get("rough") for way in ways),
        "home_by": _home_by(walk),
        "span_min": _span_min(walk),
        "span_step_min": SPAN_MIN,
        "about_min": ABOUT_MIN,
    }


def packed(data: dict[str, Any]) -> dict[str, Any]:
    """Write lines and ledgers as steps from point to point, which takes half the room."""
    ground = data["ground"]
    lines = [{**line, **{name: _steps(line[name]) for name in "xy"}} for line in ground["lines"]]
    ways = [
        way
        if "ledger" not in way
        else {
            **way,
            **{name: _steps(way[name]) for name in "xysh"},
            "ledger": [_steps(one, every=LEDGER_COLUMNS) for one in way["ledger"]],
        }
        for way in data["ways"]
    ]
    return {**data, "ground": {**ground, "lines": lines}, "ways": ways}


LEDGER_COLUMNS = 5
"""Numbers of each hour of a ledger."""


def _steps(values: list[int | None], *, every: int = 1) -> list[int | None]:
    """Give each number less the one so many places before it; gaps stay gaps."""
    last, steps = [0] * every, []
    for place, value in enumerate(values):
        steps.append(None if value is None else value - last[place % every])
        last[place % every] = last[place % every] if value is None else value
    return steps


def as_script_data(data: dict[str, Any]) -> str:
    """Write data as JSON that no HTML parser can mistake for markup."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def _whole(value: float) -> int:
    return round(value) if math.isfinite(value) else 0


def _carried_ml(walk: DrawnWalk) -> int:
    return _whole(walk.facts.water.carried_l * 1000.0)


def _units(units: Units) -> dict[str, Any]:
    return {
        "long": units.long_name,
        "long_m": units.long_m,
        "short": units.short_name,
        "short_m": units.short_m,
        "volume": units.volume_name,
        "volume_ml": units.volume_ml,
        "cup": units.cup_name,
        "cup_ml": units.cup_ml,
        "cup_digits": units.cup_digits,
    }


def _ways(
    walk: DrawnWalk, track: Track, plane: Plane, reasons: dict[str, int]
) -> list[dict[str, Any]]:
    """Put the planned way first, then those with bridges shut."""
    planned = _drawn(
        plane.project(track.lon, track.lat),
        track.along_m,
        track.height_m,
        [clean(name) for name in walk.segments["street"]],
        unknown_spans(walk, track),
    )
    planned |= {
        "bridges": [
            [_whole((start + end) / 2.0), clean(name)] for start, end, name in bridge_spans(walk)
        ],
        "closed": [],
        "crosses": [],
    }
    if walk.what_if is None:
        return [planned | _one_answer(walk, reasons)]
    found = []
    for place, turned in enumerate(walk.what_if.turned):
        if turned.course is None or turned.answers is None:
            found.append({"closed": list(turned.closed), "none": True})
            continue
        course = turned.course
        shape = planned
        if place:
            names, terrain = walk.streets.ways.name, walk.streets.terrain
            shape = _drawn(
                plane.project(course.lon, course.lat),
                course.distance_m,
                course.height_m,
                [clean(names[row]) for row in course.way.tolist()],
                []
                if terrain is None
                else spans_where(~terrain.covered[course.segment], course.distance_m),
            ) | {"bridges": []}
        answers = _answers(turned.answers, reasons)
        if not place:
            _put_plan(walk, answers, walk.what_if.settings.planned, reasons)
        crossing = {"closed": list(turned.closed), "crosses": list(turned.crosses)}
        found.append(shape | crossing | answers)
    return found


def _drawn(
    points: Floats,
    along_m: Floats,
    height_m: Floats,
    names: list[str],
    unknown: Spans,
) -> dict[str, Any]:
    """Lay a way out for drawing, with the streets it follows."""
    streets = [
        [_whole(float(along_m[row])), name]
        for row, name in enumerate(names)
        if row == 0 or name != names[row - 1]
    ]
    return {
        "x": [_whole(value) for value in points[:, 0].tolist()],
        "y": [_whole(value) for value in points[:, 1].tolist()],
        "s": [_whole(value) for value in along_m.tolist()],
        "h": [_whole(10.0 * value) for value in height_m.tolist()],
        "streets": streets,
        "rough": [[_whole(start), _whole(end)] for start, end in unknown],
    }


def _answers(answers: Any, reasons: dict[str, int]) -> dict[str, Any]:  # noqa: ANN401 - an earlier room's record
    """Write every setting's ledger as whole numbers."""
    scale = np.array([1.0, 1.0, 1.0, 0.1, 60.0])
    ledger = np.asarray(answers.ledger) * scale
    rows = [
        [_whole(value) for value in one[np.isfinite(one[:, 0])].ravel().tolist()] for one in ledger
    ]
    return {
        "ledger": rows,
        "arrive_min": [round(value / 60.0, 1) for value in answers.arrive_s.tolist()],
        "level": list(answers.level),
        "why": [
            [reasons.setdefault(clean(text, longest=600), len(reasons)) for text in texts]
            for texts in answers.reasons
        ],
    }


def _one_answer(walk: DrawnWalk, reasons: dict[str, int]) -> dict[str, Any]:
    """Write the plan's own ledger alone."""
    made: dict[str, Any] = {"ledger": [[]], "arrive_min": [0.0], "level": [""], "why": [[]]}
    _put_plan(walk, made, 0, reasons)
    return made


def _put_plan(walk: DrawnWalk, made: dict[str, Any], row: int, reasons: dict[str, int]) -> None:
    """Let the planned setting say just what the plan's tables say."""
    table = walk.hours
    columns = (
        table["distance_so_far_km"] * 1000.0,
        table["water_left_ml"],
        table["water_short_ml"],
        table["energy_short_kcal"] / 10.0,
        table["light_short_h"] * 60.0,
    )
    rows = np.column_stack([column.to_numpy(np.float64) for column in columns])
    made["ledger"][row] = [_whole(value) for value in rows.ravel().tolist()]
    made["arrive_min"][row] = round(walk.facts.time.elapsed_h * 60.0, 1)
    verdict = walk.facts.verdict
    made["level"][row] = verdict.level
    made["why"][row] = [
        reasons.setdefault(clean(text, longest=600), len(reasons)) for text in verdict.reasons
    ]


def _sky(walk: DrawnWalk, track: Track) -> dict[str, Any]:
    """Daylight every ten minutes, and the clock's distance from UTC."""
    depart = track.clock(0.0)
    what_if = walk.what_if
    if what_if is None:
        steps = np.arange(0.0, track.duration_s + SKY_STEP_S, SKY_STEP_S)
        sun = np.interp(steps, track.elapsed_s[:-1], walk.segments["sun_elevation_deg"])
        start, codes = depart.timestamp(), daylight_state(sun)
    else:
        start, codes = what_if.sky_epoch_s, what_if.daylight
    zone = ZoneInfo(walk.plan.trip.timezone or zone_name(*walk.plan.trip.start))
    every = start + HOUR_S * np.arange(int(len(codes) * SKY_STEP_S / 3600.0) + 2)
    offsets: list[list[float]] = []
    for epoch in every.tolist():
        shift = datetime.fromtimestamp(epoch, tz=UTC).astimezone(zone).utcoffset()
        seconds = 0.0 if shift is None else shift.total_seconds()
        if not offsets or offsets[-1][1] != seconds:
            offsets.append([epoch, seconds])
    return {
        "depart": depart.timestamp(),
        "start": start,
        "step": SKY_STEP_S,
        "states": "".join(str(int(code)) for code in codes),
        "names": list(DAYLIGHT_STATES),
        "offsets": offsets,
    }


def _ground(walk: DrawnWalk, plane: Plane, way_m: Floats) -> dict[str, Any]:
    """Streets, water and green around the way, as lines of whole metres with gaps of null."""
    axes = new_axes(CANVAS_IN, (0.0, 0.0, 0.0, 0.0))
    frame_for(axes, way_m)
    draw_ground(axes, walk.lines, plane)
    draw_streets(axes, walk.streets, plane, way_m)
    x0, x1 = axes.get_xlim()
    y0, y1 = axes.get_ylim()
    return _drawn_on(axes) | {"frame": [_whole(v) for v in (x0, x1, y0, y1)]}


def ground_areas(
    lines: Iterable[Any], plane: Plane, frame: tuple[Floats, Floats]
) -> dict[str, Any]:
    """Water and green of a whole map, as lines and outlines of whole metres.

    Parameters
    ----------
    lines : iterable of Line
        Tagged lines of the map.
    plane : Plane
        The projection.
    frame : (ndarray, ndarray)
        South-west and north-east corner [m].

    Returns
    -------
    dict
        ``lines`` and ``areas``.
    """
    axes = new_axes(CANVAS_IN, (0.0, 0.0, 0.0, 0.0))
    axes.set_xlim(frame[0][0], frame[1][0])
    axes.set_ylim(frame[0][1], frame[1][1])
    draw_ground(axes, lines, plane)
    return _drawn_on(axes)


def _drawn_on(axes: Axes) -> dict[str, Any]:
    """Read back what was drawn."""
    lines = [
        {
            "width": float(line.get_linewidth()),
            "colour": ROLES[str(line.get_color())],
            **gapped(points),
        }
        for line in axes.lines
        if len(points := np.asarray(line.get_xydata(), dtype=np.float64))
    ]
    areas = [
        {
            "kind": str(patch.get_gid()),
            **_rings([np.asarray(ring) for ring in patch.get_path().to_polygons()]),
        }
        for patch in axes.patches
        if patch.get_gid() in {GREEN, WATER}
    ]
    return {"lines": lines, "areas": areas}


def gapped(points: Floats) -> dict[str, list[int | None]]:
    """Write a line as whole metres, with nothing where it is broken.

    Parameters
    ----------
    points : ndarray of float64, (N, 2)
        East and north [m]; NaN breaks the line.

    Returns
    -------
    dict
        ``x`` and ``y``.
    """
    return {
        name: [None if math.isnan(value) else round(value) for value in points[:, axis].tolist()]
        for axis, name in enumerate("xy")
    }


def _rings(polygons: list[Floats]) -> dict[str, list[list[int]]]:
    return {
        name: [[round(value) for value in ring[:, axis].tolist()] for ring in polygons]
        for axis, name in enumerate("xy")
    }


def _places(walk: DrawnWalk, plane: Plane) -> list[dict[str, Any]]:
    """Places that can be touched on the map."""
    table = places_of(walk)
    at = plane.project(table["lon"].to_numpy(np.float64), table["lat"].to_numpy(np.float64))
    return [
        {
            "x": _whole(x),
            "y": _whole(y),
            "gives": str(row["glyph"]),
            "mark": str(row["mark"]),
            "name": clean(row["name"], longest=60) or clean(row["kind"], longest=40),
            "kind": clean(row["kind"], longest=40),
            "why": clean(row["why"], longest=120),
        }
        for (x, y), row in zip(at.tolist(), table.to_dict("records"), strict=True)
    ]


def _home_by(walk: DrawnWalk) -> float | None:
    """Moment by which the plan wants to be home, seconds since 1970 in UTC."""
    asked = walk.facts.time.home_by
    return None if asked is None else asked.at.timestamp()


def _span_min(walk: DrawnWalk) -> list[float] | None:
    """Shortest and longest time home that is reckoned with [min]; None where not worked out."""
    band = walk.facts.time.elapsed_h_band or walk.facts.heights.time_h_band
    return None if band is None else [round(60.0 * end, 1) for end in band]


def _care(walk: DrawnWalk, units: Units, track: Track, plane: Plane) -> list[dict[str, Any]]:
    """Where to take care on the planned way, each with what is told when it is touched."""
    told = chosen(walk)
    along = np.array([one.from_km for one in told], dtype=np.float64) * 1000.0
    at = plane.project(*track.lonlat_at(along).T)
    return [
        {
            "x": _whole(x),
            "y": _whole(y),
            "mark": row.mark,
            "words": f"{units.long_name} {row.along}, about {row.when}: {row.what}. "
            f"{row.advice[:1].upper()}{row.advice[1:]}.",
        }
        for (x, y), row in zip(at.tolist(), care_rows(walk, units, track), strict=True)
    ]


def _closed(walk: DrawnWalk, plane: Plane, way_m: Floats) -> dict[str, Any]:
    """Streets that the plan closes, as lines, and spots on them to cross out."""
    shut = np.zeros(0, np.int64) if walk.closed is None else np.flatnonzero(walk.closed)
    streets, shut = walk.streets, shut[:CLOSED_DRAWN]
    points = plane.project(streets.lon, streets.lat)
    tail, head = np.asarray(streets.tail)[shut], np.asarray(streets.head)[shut]
    line = chained(tail, head, np.asarray(streets.way)[shut], points)
    every_m = max(float(np.ptp(way_m, axis=0).max()) * CROSSES_EVERY_SHARE, LEAST_CROSSES_M)
    spots = closed_spots(walk, plane, every_m=every_m)
    crosses = {name: [_whole(v) for v in spots[:, axis].tolist()] for axis, name in enumerate("xy")}
    return {**crosses, "line": gapped(line)}
