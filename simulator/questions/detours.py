"""Whether a way home is left when a bridge is closed, by where, and at what price."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from simulator.errors import InputError, NoWayHomeError
from simulator.home.answer import Walk
from simulator.home.scene import Scene, prepare
from simulator.home.unknown_heights import map_notes
from simulator.home.walk import tabulate, walk_way
from simulator.home.walked import Walked
from simulator.home.way import CrossingPair, Legs, Way, find_way, prepare_legs, street_times
from simulator.route.alternatives import MOST_SHARED, MOST_STRETCH, alternatives
from simulator.route.blockages import Cut, smallest_cut
from simulator.route.crossings import BESIDE_M, DEGREE_M, Crossings
from simulator.route.search import Path

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.plan import Plan

    Page = Literal["A4", "Letter"]
    Writer = Callable[["Detours", FilePath, Page | None], list[FilePath]]

TableRow = dict[str, Any]

CROSSING_COLUMNS = (
    *("crossing", "ways", "spans", "extra_min", "extra_km", "water_short_l", "dark_min"),
    *("reachable", "kind", "on_way", "along_km", "lat", "lon", "extra_ascent_m"),
    *("energy_short_kcal", "extra_dark_min", "arrive", "next_refill", "next_refill_km"),
    *("turn_km", "turn_lat", "turn_lon", "turn_into", "instead", "met_extra_min", "verdict"),
    "hazards",
)
"""Columns of the crossings table, in order."""

ALTERNATIVE_COLUMNS = (
    *("extra_min", "extra_km", "shared_pct", "extra_ascent_m", "water_short_l"),
    *("energy_short_kcal", "dark_min", "unlit_km", "bridges", "arrive", "verdict"),
)
"""Columns of the table of other ways, in order."""

PAIR_COLUMNS = (
    *("first", "second", "extra_min", "reachable", "first_extra_min", "second_extra_min"),
)
"""Columns of the table of pairs, in order."""


def detour_row(
    crossings: Crossings,
    number: int,
    *,
    walk: Walk,
    way: Way,
    scene: Scene,
    other: Walk,
    walked: Walked,
    met_s: float,
) -> TableRow:
    """Compare the way around a closed crossing with the open way."""
    turn = turning_point(walk, way, walked.way)
    refill, refill_km = _next_refill(scene, walked, float(turn["turn_km"]))
    usual = crossings_of(crossings, way)
    instead = [n for n in crossings_of(crossings, walked.way) if n not in usual]
    return {
        **_about(crossings, number, walk=walk, way=way),
        **_compared(walk, other),
        **turn,
        "reachable": "yes",
        "instead": ", ".join(crossings.name[other_number] for other_number in instead),
        "next_refill": refill,
        "next_refill_km": refill_km,
        "met_extra_min": met_s / 60.0,
        "hazards": _new_hazards(walk, other),
    }


SAME_PLACE_DEG = 1e-4
"""Hazards of one kind this near to each other on two ways are the same [degrees]."""


def _new_hazards(walk: Walk, other: Walk) -> str:
    """Say where on another way to take care and not on the first: kind and distance along it."""
    known = walk.facts.hazards
    told = []
    for one in other.facts.hazards:
        again = any(
            one.kind == first.kind
            and one.to_km - one.from_km <= first.to_km - first.from_km + ROUNDING_KM
            and abs(one.lat - first.lat) < SAME_PLACE_DEG
            and abs(one.lon - first.lon) < SAME_PLACE_DEG
            for first in known
        )
        if not again:
            street = f" ({one.street})" if one.street else ""
            told.append(f"{one.words}{street}, km {one.from_km:.1f}")
    return "; ".join(told)


ROUNDING_KM = 0.01
"""A stretch may be this much longer on another way and still be the same [km]."""


def lost_row(crossings: Crossings, number: int, *, walk: Walk, way: Way, why: str = "") -> TableRow:
    """Say that a crossing cannot be walked around, or why that is not known."""
    unknown = dict.fromkeys(CROSSING_COLUMNS, np.nan)
    words = dict.fromkeys(("arrive", "next_refill", "turn_into", "instead", "hazards"), "")
    return {
        **unknown,
        **words,
        **_about(crossings, number, walk=walk, way=way),
        "reachable": "unknown" if why else "no",
        "verdict": why or "no way home",
    }


def untouched_row(crossings: Crossings, number: int, *, walk: Walk) -> TableRow:
    """Say that a crossing off the way costs nothing to lose."""
    return {
        **dict.fromkeys(CROSSING_COLUMNS, np.nan),
        **dict.fromkeys(("next_refill", "turn_into", "instead", "hazards"), ""),
        **_about(crossings, number, walk=walk, way=None),
        **_compared(walk, walk),
        "reachable": "yes",
        "met_extra_min": 0.0,
    }


def alternative_row(other: Walk, *, walk: Walk, shared: float, bridges: Sequence[str]) -> TableRow:
    """Compare another way with the first."""
    return {
        **_compared(walk, other),
        "shared_pct": 100.0 * shared,
        "unlit_km": other.facts.route.unlit_km,
        "bridges": ", ".join(bridges),
    }


def ranked(rows: Sequence[TableRow]) -> pd.DataFrame:
    """Put crossings in order: no way home first, then unknown, the dearest, and by name."""
    table = pd.DataFrame(rows, columns=list(CROSSING_COLUMNS))
    order = sorted(
        range(len(rows)),
        key=lambda row: (
            ("no", "unknown", "yes").index(rows[row]["reachable"]),
            rows[row]["on_way"] == "no",
            -rows[row]["extra_min"] if rows[row]["reachable"] == "yes" else 0.0,
            rows[row]["crossing"],
        ),
    )
    return table.iloc[order].reset_index(drop=True)


def pairs_table(
    crossings: Crossings, pairs: Sequence[CrossingPair], alone_s: NDArray[np.float64]
) -> pd.DataFrame:
    """Tell the pairs by name, dearest first."""
    rows = [
        {
            "first": crossings.name[pair.first],
            "second": crossings.name[pair.second],
            "extra_min": pair.extra_s / 60.0,
            "reachable": "yes" if np.isfinite(pair.extra_s) else "no",
            "first_extra_min": alone_s[pair.first] / 60.0,
            "second_extra_min": alone_s[pair.second] / 60.0,
        }
        for pair in sorted(pairs, key=lambda pair: (-pair.extra_s, pair.first, pair.second))
    ]
    return pd.DataFrame(rows, columns=list(PAIR_COLUMNS))


def blockages_table(scene: Scene, legs: Legs) -> pd.DataFrame:
    """Lay the cost of a blockage of each street along the way."""
    streets, profile = scene.streets, legs.profile()
    lengths, names = [], []
    for path in legs.paths:
        if path.cost == 0.0:
            continue
        lengths.append(_walked_m(path, streets.length_m))
        names += [streets.ways.name[row] for row in streets.way[path.segment].tolist()]
    reached = np.concatenate([[0.0], np.cumsum(np.concatenate([np.empty(0), *lengths]))]) / 1000.0
    return pd.DataFrame(
        {
            "from_km": reached[:-1],
            "to_km": reached[1:],
            "street": names,
            "known_extra_min": profile.known_extra_s / 60.0,
            "met_extra_min": profile.met_extra_s / 60.0,
        }
    )


def turning_point(walk: Walk, way: Way, around: Way) -> TableRow:
    """Find where the way around leaves the open way."""
    streets = walk.streets
    gone_m = 0.0
    for first, second in zip(way.legs, around.legs, strict=True):
        shared = 0
        most = min(first.segment.size, second.segment.size)
        while shared < most and (
            first.segment[shared] == second.segment[shared]
            and first.forward[shared] == second.forward[shared]
        ):
            shared += 1
        lengths_m = _walked_m(first, streets.length_m)
        if shared == first.segment.size == second.segment.size:
            gone_m += float(lengths_m.sum())
            continue
        lon, lat = streets.polyline(
            second.segment, second.forward, second.from_fraction, second.to_fraction
        )[shared]
        names = (streets.ways.name[row] for row in streets.way[second.segment[shared:]].tolist())
        return {
            "turn_km": (gone_m + float(lengths_m[:shared].sum())) / 1000.0,
            "turn_lat": float(lat),
            "turn_lon": float(lon),
            "turn_into": next((name for name in names if name), ""),
        }
    return {"turn_km": np.nan, "turn_lat": np.nan, "turn_lon": np.nan, "turn_into": ""}


def _walked_m(path: Path, length_m: NDArray[np.float64]) -> NDArray[np.float64]:
    """Length walked of each segment of a path [m]."""
    walked: NDArray[np.float64] = length_m[path.segment].copy()
    share = np.ones(walked.size)
    share[0] -= path.from_fraction if path.forward[0] else 1.0 - path.from_fraction
    share[-1] -= 1.0 - path.to_fraction if path.forward[-1] else path.to_fraction
    return walked * share


def _about(crossings: Crossings, number: int, *, walk: Walk, way: Way | None) -> TableRow:
    """Say what a crossing is, and where on the open way it lies."""
    along_km = np.nan
    if way is not None:
        gone_m = 0.0
        for path in way.legs:
            lengths_m = _walked_m(path, walk.streets.length_m)
            here = np.flatnonzero(crossings.of_segment[path.segment] == number)
            if here.size:
                along_km = (gone_m + float(lengths_m[: here[0]].sum())) / 1000.0
                break
            gone_m += float(lengths_m.sum())
    return {
        "crossing": crossings.name[number],
        "ways": " ".join(map(str, crossings.way_ids[number])),
        "spans": crossings.spans[number],
        "kind": "ford" if crossings.ford[number] else "bridge",
        "on_way": "no" if way is None else "yes",
        "along_km": along_km,
        "lat": float(crossings.lat[number]),
        "lon": float(crossings.lon[number]),
    }


def _compared(walk: Walk, other: Walk) -> TableRow:
    """Set one walked way against another."""
    first, second = walk.facts, other.facts
    dark_min = 60.0 * second.time.dark_h
    return {
        "extra_min": 60.0 * (second.time.elapsed_h - first.time.elapsed_h),
        "extra_km": second.route.distance_km - first.route.distance_km,
        "extra_ascent_m": second.route.ascent_m - first.route.ascent_m,
        "water_short_l": second.water.short_l,
        "energy_short_kcal": second.food.short_kcal,
        "dark_min": dark_min,
        "extra_dark_min": dark_min - 60.0 * first.time.dark_h,
        "arrive": second.time.arrive.isoformat(),
        "verdict": second.verdict.level,
    }


def _next_refill(scene: Scene, walked: Walked, turn_km: float) -> tuple[str, float]:
    """Find the first place after the turn that gives water and can be relied on."""
    nearby, course = walked.nearby, walked.way.course
    along_km = course.distance_m[nearby.step] / 1000.0
    for row in np.argsort(along_km, kind="stable").tolist():
        place = int(nearby.place[row])
        if (
            along_km[row] >= turn_km
            and walked.reading.relied_on[row]
            and "water" in scene.places.gives[place]
        ):
            return scene.places.name[place] or scene.places.kind[place], float(along_km[row])
    return "", np.nan


def crossings_of(crossings: Crossings, way: Way) -> list[int]:
    """List the crossings a way uses, in the order they are met."""
    met = [crossings.of_segment[path.segment] for path in way.legs]
    return [number for number in dict.fromkeys(np.concatenate(met).tolist()) if number >= 0]


ON_IT_M = 40.0
"""A crossing whose middle lies this near a detour is told as one that it uses [m] (assumed)."""


STANDS_ON_IT = "start, home or a via stands on it"
"""Why a crossing is not closed in turn."""


@dataclass(frozen=True, slots=True)
class Detours:
    """What each closed bridge costs, and what else is worth knowing about the way.

    Attributes
    ----------
    walk : Walk
        The way with nothing more closed than the plan says.
    crossings : pandas.DataFrame
        One row a crossing, dearest first: ``crossing``, ``ways`` (OSM numbers), ``spans``,
        ``extra_min``, ``extra_km``, ``water_short_l``, ``dark_min``, ``reachable`` (yes, no, or
        unknown where the verdict says why), and
        ``kind``, ``on_way`` (yes, no), ``along_km``, ``lat``, ``lon``, ``extra_ascent_m``,
        ``energy_short_kcal``, ``extra_dark_min``, ``arrive``, ``next_refill``,
        ``next_refill_km``, ``turn_km``, ``turn_lat``, ``turn_lon``, ``turn_into``, ``instead``
        (crossings of the way around that the open way does not use), ``met_extra_min`` (walking
        time lost when the closure is found out at the crossing), ``verdict``, ``hazards`` (where
        to take care on the way around and not on the open way).
    lonlat : dict of str to ndarray, shape (K, 2)
        The way when a crossing is closed, by its name [deg]; only where it differs.
    pairs : pandas.DataFrame
        Pairs that cost more together than the dearer alone: ``first``, ``second``,
        ``extra_min``, ``reachable``, and what each costs alone (``first_extra_min``,
        ``second_extra_min``); walking time, dearest first.
    cut : tuple of str or None
        The fewest crossings whose loss cuts home off; None when home is reached without any.
    cut_is_smallest : bool
        Whether it is proved that no smaller set does.
    blockages : pandas.DataFrame
        One row a piece of street of the way: ``from_km``, ``to_km``, ``street``,
        ``known_extra_min``, ``met_extra_min`` (walking time; infinite where there is no way).
    alternatives : pandas.DataFrame
        Other ways, least time first: ``extra_min``, ``extra_km``, ``shared_pct``,
        ``extra_ascent_m``, ``water_short_l``, ``dark_min``, ``unlit_km``, ``bridges``,
        ``verdict``.
    other_walks : tuple of Walk
        They, walked.
    notes : tuple of str
        What was assumed, and how the figures are meant.
    writer : callable or None
        Writes the files of the contract.
    """

    walk: Walk
    crossings: pd.DataFrame
    lonlat: dict[str, NDArray[np.float64]]
    pairs: pd.DataFrame
    cut: tuple[str, ...] | None
    cut_is_smallest: bool
    blockages: pd.DataFrame
    alternatives: pd.DataFrame
    other_walks: tuple[Walk, ...]
    notes: tuple[str, ...]
    writer: Writer | None = None

    def save(self, folder: str | FilePath, *, page: Page | None = None) -> list[FilePath]:
        """Write the files of the detours command."""
        if self.writer is None:
            message = "these detours have no writer; make them with one"
            raise TypeError(message)
        return self.writer(self, FilePath(folder), page)

    def _repr_html_(self) -> str:
        """Show the crossings in a notebook."""
        return self.crossings.to_html(max_cols=None, index=False, float_format="{:.1f}".format)


def find_detours(
    plan: Plan,
    *,
    progress: Callable[[str], None] | None = None,
    writer: Writer | None = None,
) -> Detours:
    """Close each crossing of the way in turn, and in pairs, and look for other ways.

    Parameters
    ----------
    plan : Plan
        What is asked; what it closes stays closed throughout.
    progress : callable, optional
        Told the name of each stage as it begins.
    writer : callable, optional
        Writes the files for ``Detours.save``.

    Returns
    -------
    Detours
        Every crossing of the way walked around in full, and everything beside it.

    Raises
    ------
    InputError
        When something in the plan or its files cannot be used.
    NoWayHomeError
        When there is no way home to begin with.
    """
    tell = progress or (lambda _stage: None)
    scene = prepare(plan, progress=tell)
    times = street_times(scene)
    tell("walking the open way")
    way = find_way(scene, times=times)
    walk = tabulate(scene, walk_way(scene, way))
    tell("putting bridges together")
    crossings = scene.ground.crossings
    legs = prepare_legs(scene, times)
    used = crossings_of(crossings, way)
    rows: list[TableRow] = []
    lonlat: dict[str, NDArray[np.float64]] = {}
    for place, number in enumerate(used, 1):
        tell(f"closing {crossings.name[number]} ({place} of {len(used)})")
        also_closed = crossings.mask(number)
        met_s = legs.met_extra_s(crossings.segments(number))
        if any(crossings.of_segment[end.segment] == number for end in scene.ends):
            rows.append(lost_row(crossings, number, walk=walk, way=way, why=STANDS_ON_IT))
            continue
        try:
            walked = walk_way(scene, find_way(scene, times=times, also_closed=also_closed))
        except NoWayHomeError:
            rows.append(lost_row(crossings, number, walk=walk, way=way))
            continue
        except InputError as fault:
            # What is asked for beyond the open way may lack heights, or hours of weather.
            rows.append(lost_row(crossings, number, walk=walk, way=way, why=fault.problem))
            continue
        other = tabulate(scene, walked)
        rows.append(
            detour_row(
                crossings,
                number,
                walk=walk,
                way=way,
                scene=scene,
                other=other,
                walked=walked,
                met_s=met_s,
            )
        )
        lonlat[crossings.name[number]] = other.path_lonlat
    tell("closing pairs, and every street of the way")
    groups = [crossings.segments(number) for number in range(len(crossings))]
    pairs = legs.pairs(groups)
    cut = smallest_cut(
        scene.network,
        groups,
        (scene.ends[0].segment, scene.ends[0].fraction),
        (scene.ends[-1].segment, scene.ends[-1].fraction),
        closed=scene.closed,
    )
    beside = _beside(crossings, used, pairs, cut, lonlat)
    rows += [untouched_row(crossings, number, walk=walk) for number in beside]
    tell("looking for other ways")
    table, other_walks = _other_ways(scene, legs, crossings, walk)
    return Detours(
        walk=walk,
        crossings=ranked(rows),
        lonlat=lonlat,
        pairs=pairs_table(crossings, pairs, legs.alone_s(groups)),
        cut=None if cut is None else tuple(crossings.name[number] for number in cut.crossings),
        cut_is_smallest=cut is None or cut.smallest,
        blockages=blockages_table(scene, legs),
        alternatives=table,
        other_walks=other_walks,
        notes=(*map_notes(scene.streets), *_notes(crossings, cut)),
        writer=writer,
    )


def _beside(
    crossings: Crossings,
    used: Sequence[int],
    pairs: Sequence[CrossingPair],
    cut: Cut | None,
    lonlat: dict[str, NDArray[np.float64]],
) -> list[int]:
    """Choose the crossings off the way that matter: near it, on a detour, or in the cut."""
    wanted = {number for pair in pairs for number in (pair.first, pair.second)}
    wanted |= set() if cut is None else set(cut.crossings)
    for line in lonlat.values():
        off_m = _off_m(crossings, line)
        wanted |= set(np.flatnonzero(off_m <= ON_IT_M).tolist())
    return sorted(wanted - set(used))


def _off_m(crossings: Crossings, line: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distance of the middle of each crossing from the points and pieces of a line [m]."""
    if not len(crossings):
        return np.empty(0)
    scale = np.array([np.cos(np.radians(line[:, 1].mean())), 1.0]) * DEGREE_M
    points = shapely.points(np.column_stack([crossings.lon, crossings.lat]) * scale)
    return np.asarray(shapely.distance(points, shapely.linestrings(line * scale)))


def _other_ways(
    scene: Scene, legs: Legs, crossings: Crossings, walk: Walk
) -> tuple[pd.DataFrame, tuple[Walk, ...]]:
    """Walk the other ways worth knowing, on the leg that takes longest."""
    longest = int(np.argmax([trip.open_way.cost_s for trip in legs.trips]))
    groups = [crossings.segments(number) for number in range(len(crossings))]
    found = alternatives(legs.trips[longest], scene.streets.length_m, crossings=groups)
    walks, rows = [], []
    for other in found:
        way = legs.with_leg(scene, longest, other.path)
        walked = tabulate(scene, walk_way(scene, way))
        walks.append(walked)
        bridges = [crossings.name[number] for number in crossings_of(crossings, way)]
        rows.append(alternative_row(walked, walk=walk, shared=other.shared, bridges=bridges))
    return pd.DataFrame(rows, columns=list(ALTERNATIVE_COLUMNS)), tuple(walks)


def _notes(crossings: Crossings, cut: Cut | None) -> tuple[str, ...]:
    """Say how the figures are meant."""
    notes = [
        (
            "Every crossing of the way was closed in turn and the way around it walked in full: "
            "time with rests and stops, water, food, light. Pairs, blockages and figures for a "
            "closure met on arrival are walking time at the light of the open way."
        ),
        (
            "Pieces of one bridge count as one crossing: ways that touch, carriageways and "
            f"footways within {BESIDE_M:.0f} m of each other along the same line. What a bridge "
            "spans is read from the map."
        ),
        (
            f"Other ways share at most {MOST_SHARED:.0%} of their length with one given before "
            f"and take at most {MOST_STRETCH:.1f} times as long. They keep off the bridges of the "
            "first way where that can be done within it. These limits are assumptions."
        ),
        (
            "Ways are chosen as the plan's own: by time, a minute beside traffic counting as more "
            "than one. A way around can take less time than the open way where it runs along a "
            "busier road; what it costs in the eyes of that choice never falls."
        ),
        (
            "A map is not the state of a bridge: believe signs, tapes and the authorities, and "
            "never enter moving water."
        ),
    ]
    if crossings.ford.any():
        notes.append(
            f"{int(crossings.ford.sum())} fords count as crossings. They are the first to be lost "
            "when water rises; do not wade."
        )
    if cut is not None and not cut.smallest:
        notes.append("A smaller set of crossings that cuts home off could not be ruled out.")
    return tuple(notes)
