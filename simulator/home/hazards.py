"""Where on the way to take care: what the map, the hour and the event say of each stretch.

A hazard is told only where the data say so. Much is not mapped: what is on the ground, signs and
local authorities come first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.ground.snap import metres_per_degree
from simulator.ground.walkable import BUSY, CROSSING_DELAY_S, HIGHWAYS, SURFACES
from simulator.home.crowd_records import When
from simulator.route.discomfort import traffic_danger
from simulator.units import Units
from simulator.walk.course import beside_traffic
from simulator.walk.ledger import local_time
from simulator.walk.party import pace_limits

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from simulator.home.scene import Scene
    from simulator.walk.course import Course

JOINED_M = 150.0
"""Stretches of one kind closer than this are told as one [m]; an assumption, 50 to 300."""

SHORTEST_M = 50.0
"""Shorter stretches beside traffic are not told [m]; an assumption, 20 to 100."""

CARRIAGEWAYS_M = 40.0
"""Crossings closer than this are one road with several carriageways [m]; an assumption."""

BESIDE_M = 60.0
"""Closed streets nearer to the way than this are told [m]; an assumption: within sight and reach of
a wrong turn, 30 to 100."""

SAMPLED_M = 20.0
"""Way and closed streets are compared at points this far apart [m]."""

ABOVE_FLOOD_M = 1.0
"""Height above the plan's flood level that is still told as near the water [m]; an assumption, 0.5
to 2: rasters and forecasts are no better."""

THROUGH_ROADS = BUSY | {"tertiary", "tertiary_link", "unclassified", "road"}
"""Kinds of road with through traffic; residential and service streets are left out."""

CROSSED_BY_TWO, MET_BY_FOUR = 2, 4
"""Pieces of busy road at a point that cross a smaller way, and that cross each other."""


class Kind(NamedTuple):
    """What is told of one kind of hazard; advice is common practice.

    Attributes
    ----------
    words : str
        What it is; ``{sidewalk}`` stands for what that is called in the plan's units.
    advice : str
        What to do.
    """

    words: str
    advice: str


KINDS = {
    "traffic in the dark": Kind(
        "unlit road with traffic, no {sidewalk} mapped",
        "face the traffic, be seen, step off for vehicles",
    ),
    "steps in the dark": Kind("steps, no light", "light every step, hold the rail"),
    "level crossing": Kind(
        "crosses a railway",
        "look and listen both ways; barriers and bells may be dead",
    ),
    "big road": Kind(
        "crosses a big road",
        "cross where drivers see you; signals may be dark",
    ),
    "ford": Kind(
        "crosses water without a bridge",
        "do not wade moving or high water; go round",
    ),
    "floods": Kind("floods, as the map says", "turn back where water covers the way"),
    "near the flood": Kind(
        "hardly above the flood level of the plan",
        "turn back where water covers the way; never wade",
    ),
    "tunnel": Kind("tunnel", "lamp on even by day; leave it for smoke or water"),
    "beside closed": Kind(
        "passes what is closed",
        "keep out of it, take no short cut; read the notices",
    ),
    "shut at times": Kind(
        "shut at certain hours",
        "be through in time, or ask; know the way round",
    ),
    "steep": Kind(
        "steeper than the pace model reaches",
        "slow, hands free; go round it in ice or wet",
    ),
    "poor path": Kind("exposed or hardly visible path", "slow; turn back if you lose it"),
    "marked hazard": Kind("a hazard is marked on the map", "look for signs and obey them"),
}
"""Kinds, the gravest first."""

NOTED = {
    "ford": ("ford=",),
    "floods": ("flood_prone=", "tidal="),
    "shut at times": ("foot:conditional=", "access:conditional=", "opening_hours="),
    "poor path": ("sac_scale=", "trail_visibility="),
    "marked hazard": ("hazard=",),
}
"""Kinds that the notes of a way tell, and how these begin."""


@dataclass(frozen=True, slots=True)
class Hazard:
    """One stretch or point of the way to take care at.

    Attributes
    ----------
    mark : str
        Letters by which map and list name it, in walking order.
    kind : str
        Key of ``KINDS``.
    from_km, to_km : float
        Where it begins and ends, from the start [km]; equal at a point.
    lat, lon : float
        Where it begins [deg].
    reached : str
        Local time at its beginning, as planned (ISO 8601).
    street : str
        Name of the street, of the road crossed, or of what is closed; empty without one.
    words, advice : str
        What it is, and one line of advice.
    """

    mark: str
    kind: str
    from_km: float
    to_km: float
    lat: float
    lon: float
    reached: str
    street: str
    words: str
    advice: str


class _Spotted(NamedTuple):
    """A hazard in the making: its kind, its first step, and where it ends [m]."""

    kind: str
    step: int
    from_m: float
    to_m: float
    street: str


def hazards_of(scene: Scene, course: Course, segments: pd.DataFrame) -> tuple[Hazard, ...]:
    """List where on a walked way to take care."""
    found = [*_stretches(scene, course, segments), *_points(scene, course)]
    found.sort(key=lambda one: (one.from_m, list(KINDS).index(one.kind)))
    units = Units(scene.plan.units)
    elapsed_s = segments["elapsed_s"].to_numpy(np.float64)
    return tuple(
        Hazard(
            mark=_letters(number),
            kind=one.kind,
            from_km=one.from_m / 1000.0,
            to_km=one.to_m / 1000.0,
            lat=float(np.interp(one.from_m, course.distance_m, course.lat)),
            lon=float(np.interp(one.from_m, course.distance_m, course.lon)),
            reached=local_time(
                scene.depart_epoch_s + float(elapsed_s[one.step]), scene.zone
            ).isoformat(),
            street=one.street,
            words=KINDS[one.kind].words.format(sidewalk=units.sidewalk),
            advice=KINDS[one.kind].advice,
        )
        for number, one in enumerate(found)
    )


STEEP_SLOPE = 0.15
"""Slope from which unpaved ground is slippery when wet, up or down; an assumption, 0.12 to 0.25."""

SOFT = frozenset({"gravel", "grass", "ground", "mud", "rock"})
"""Surfaces that are slippery when wet and steep."""


class MappedRisks(NamedTuple):
    """What the map tells of a way that weather, event or traffic can make dangerous.

    Attributes
    ----------
    amounts : tuple of float
        As ``crowd_records.MAPPED``.
    at_m : dict of When to float
        Where each begins along the way, its longest stretch where there are several [m]; NaN where
        there is none.
    """

    amounts: tuple[float, float, float, float]
    at_m: dict[When, float]


def mapped_risks(scene: Scene, course: Course) -> MappedRisks:
    """Sum up what the map tells of a way that weather, event or traffic can make dangerous."""
    ways = scene.streets.ways
    notes = [ways.note[row] for row in course.way.tolist()]
    wet = np.array([_noted(note, NOTED["ford"]) for note in notes], dtype=bool)
    fords = float(np.count_nonzero(wet & ~np.r_[False, wet[:-1]]))
    floods = np.array([_noted(note, NOTED["floods"]) for note in notes], dtype=bool)
    soft = np.array([name in SOFT for name in SURFACES])[course.surface]
    steep = soft & (np.abs(course.slope) >= STEEP_SLOPE)
    busy = beside_traffic(scene.streets, course)
    busy_m = float(course.run_m[busy].sum())
    danger_m = course.run_m[busy] * traffic_danger(ways, course.way[busy])
    return MappedRisks(
        (
            fords,
            float(course.run_m[floods].sum()) / 1e3,
            float(course.run_m[steep].sum()) / 1e3,
            float(danger_m.sum()) / busy_m if busy_m else 0.0,
        ),
        {
            When.FORD: _first_m(course, wet),
            When.FLOODS: _first_m(course, floods),
            When.STEEP: _longest_m(course, steep),
            When.BUSY: _longest_m(course, busy),
        },
    )


def _first_m(course: Course, where: NDArray[np.bool_]) -> float:
    return float(course.distance_m[where.argmax()]) if where.any() else math.nan


def _longest_m(course: Course, where: NDArray[np.bool_]) -> float:
    """Give where the longest stretch begins; those with little between them are one."""
    runs = _runs(course, where)
    if not runs:
        return math.nan
    first, _last = max(runs, key=lambda run: course.run_m[run[0] : run[1] + 1].sum())
    return float(course.distance_m[first])


def _letters(number: int) -> str:
    """Name the first a, after z come aa, ab and so on."""
    first, second = divmod(number, 26)
    return (chr(ord("a") + first - 1) if first else "") + chr(ord("a") + second)


def _stretches(scene: Scene, course: Course, segments: pd.DataFrame) -> list[_Spotted]:
    """Find every kind that holds over steps."""
    ways = scene.streets.ways
    unlit = (segments["dark"] & segments["unlit"]).to_numpy(bool)
    through = np.array([name in THROUGH_ROADS for name in HIGHWAYS])[course.highway]
    bare = (course.traffic > 0) & through & ~ways.sidewalk[course.way]
    low, high = pace_limits(scene.manner.model)
    holds = {
        "traffic in the dark": unlit & bare,
        "steps in the dark": unlit & course.stairs,
        "tunnel": course.tunnel,
        "steep": (course.slope < low) | (course.slope > high),
        "near the flood": _near_flood(scene, course),
    }
    notes = [ways.note[row] for row in course.way.tolist()]
    for kind, openings in NOTED.items():
        holds[kind] = np.array([_noted(note, openings) for note in notes], dtype=bool)
    names = [ways.name[row] for row in course.way.tolist()]
    found = []
    for kind, where in holds.items():
        least = SHORTEST_M if kind == "traffic in the dark" else 0.0
        for first, last in _runs(course, where):
            from_m, to_m = float(course.distance_m[first]), float(course.distance_m[last + 1])
            if float(course.run_m[first : last + 1][where[first : last + 1]].sum()) >= least:
                street = _longest(course, names, first, last)
                found.append(_Spotted(kind, first, from_m, to_m, street))
    return [*found, *_timed(scene, course), *_beside_closed(scene, course)]


def _noted(note: str, openings: tuple[str, ...]) -> bool:
    return bool(note) and any(part.startswith(openings) for part in note.split("; "))


def _runs(course: Course, where: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last step of each stretch; those with little between them are one."""
    steps = np.flatnonzero(where)
    if not steps.size:
        return []
    gap_m = course.distance_m[steps[1:]] - course.distance_m[steps[:-1] + 1]
    cuts = np.flatnonzero(gap_m > JOINED_M)
    firsts = steps[np.append(0, cuts + 1)]
    lasts = steps[np.append(cuts, steps.size - 1)]
    return list(zip(firsts.tolist(), lasts.tolist(), strict=True))


def _longest(course: Course, names: list[str], first: int, last: int) -> str:
    """Name of the street that most of a stretch follows."""
    total: dict[str, float] = {}
    for step in range(first, last + 1):
        total[names[step]] = total.get(names[step], 0.0) + float(course.run_m[step])
    return max(total, key=lambda name: total[name])


def _near_flood(scene: Scene, course: Course) -> NDArray[np.bool_]:
    level_m = scene.plan.event.flood_level_m
    if level_m is None or scene.streets.terrain is None:
        return np.zeros(course.run_m.size, dtype=bool)
    lowest = np.minimum(course.height_m[:-1], course.height_m[1:])
    return (lowest < level_m + ABOVE_FLOOD_M) & ~course.bridge


def _timed(scene: Scene, course: Course) -> list[_Spotted]:
    """Find what the plan closes at certain hours."""
    found = []
    for part in scene.closure.timed:
        for first, last in _runs(course, part.mask[course.segment]):
            ends_m = float(course.distance_m[last + 1])
            found.append(
                _Spotted(
                    "shut at times", first, float(course.distance_m[first]), ends_m, part.label
                )
            )
    return found


def _beside_closed(scene: Scene, course: Course) -> list[_Spotted]:
    """Find where the way passes streets that the plan closes at all hours."""
    parts = [part for part in scene.closure.parts if part.always and part.mask.any()]
    if not parts:
        return []
    from scipy.spatial import cKDTree

    streets = scene.streets
    scale = np.array(metres_per_degree(course.lat[0]))
    nodes_m = (np.column_stack([streets.lon, streets.lat]) - (course.lon[0], course.lat[0])) * scale
    along_m = np.append(np.arange(0.0, course.length_m, SAMPLED_M), course.length_m)
    here = np.column_stack(
        [np.interp(along_m, course.distance_m, degrees) for degrees in (course.lon, course.lat)]
    )
    way_m = (here - (course.lon[0], course.lat[0])) * scale
    found = []
    for part in parts:
        shut = np.flatnonzero(part.mask)
        count = np.ceil(streets.length_m[shut] / SAMPLED_M).astype(np.int64) + 1
        row = np.repeat(shut, count)
        rank = np.arange(row.size) - np.repeat(np.cumsum(count) - count, count)
        share = (rank / np.repeat(count - 1, count))[:, None]
        closed_m = (1.0 - share) * nodes_m[streets.tail[row]] + share * nodes_m[streets.head[row]]
        near = np.flatnonzero(cKDTree(closed_m).query(way_m)[0] < BESIDE_M)
        for some in np.split(near, np.flatnonzero(np.diff(along_m[near]) > JOINED_M) + 1):
            if some.size:
                begins, ends = float(along_m[some[0]]), float(along_m[some[-1]])
                step = int(np.searchsorted(course.distance_m, begins, side="right")) - 1
                step = min(step, course.run_m.size - 1)
                found.append(_Spotted("beside closed", step, begins, ends, part.label))
    return found


def _points(scene: Scene, course: Course) -> list[_Spotted]:
    """Find crossings of railways and of big roads, where the way enters a segment."""
    streets = scene.streets
    segment = course.segment
    entered = np.append(False, segment[1:] != segment[:-1])
    node = np.where(course.forward, streets.tail[segment], streets.head[segment])
    delay_s = streets.delay_s[node]
    busy = np.array([name in BUSY for name in HIGHWAYS])[streets.ways.highway[streets.way]]
    meeting = np.bincount(
        np.concatenate([streets.tail[busy], streets.head[busy]]), minlength=streets.lon.size
    )[node]
    on_busy = busy[segment]
    was_busy = np.append(False, on_busy[:-1])
    rails = entered & np.isclose(delay_s, CROSSING_DELAY_S["railway"])
    roads = entered & (
        (~was_busy & ~on_busy & (meeting >= CROSSED_BY_TWO))
        | (was_busy & on_busy & (meeting >= MET_BY_FOUR))
    )
    found = []
    for kind, where in (("level crossing", rails), ("big road", roads & ~rails)):
        last_m = -np.inf
        for step in np.flatnonzero(where).tolist():
            at_m = float(course.distance_m[step])
            walked = segment[step - 1 : step + 1]
            if kind == "big road" and on_busy[step] and _own_road(scene, int(node[step]), walked):
                continue
            if at_m - last_m > CARRIAGEWAYS_M:
                name = "" if kind == "level crossing" else _road_at(scene, int(node[step]), segment)
                found.append(_Spotted(kind, step, at_m, at_m, name))
            last_m = at_m
    return found


def _own_road(scene: Scene, node: int, walked: NDArray[np.int32]) -> bool:
    """Whether all the big road at a point is the one that is walked along: nothing is crossed."""
    streets = scene.streets
    there = np.flatnonzero((streets.tail == node) | (streets.head == node))
    own = {streets.ways.name[row] for row in streets.way[walked].tolist()}
    others = [
        row
        for row in streets.way[np.setdiff1d(there, walked)].tolist()
        if HIGHWAYS[streets.ways.highway[row]] in BUSY
    ]
    return "" not in own and all(streets.ways.name[row] in own for row in others)


def _road_at(scene: Scene, node: int, used: NDArray[np.int32]) -> str:
    """Name of the busy road at a point, of one that the way does not follow if there is one."""
    streets = scene.streets
    there = np.flatnonzero((streets.tail == node) | (streets.head == node))
    busy = [
        row for row in there.tolist() if HIGHWAYS[streets.ways.highway[streets.way[row]]] in BUSY
    ]
    named = [row for row in busy if streets.ways.name[streets.way[row]]]
    others = [row for row in named if row not in used] or named
    return streets.ways.name[streets.way[others[0]]] if others else ""
