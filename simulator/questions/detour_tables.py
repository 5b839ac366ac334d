"""Rows of what each closed crossing, pair and street costs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simulator.questions.answer import Walk
from simulator.questions.legs import Legs, Pair
from simulator.questions.scene import Scene
from simulator.questions.walked import Walked
from simulator.questions.ways import Way
from simulator.route.crossings import Crossings
from simulator.route.search import Path

Row = dict[str, Any]

CROSSING_COLUMNS = (
    *("crossing", "ways", "spans", "extra_min", "extra_km", "water_short_l", "dark_min"),
    *("reachable", "kind", "on_way", "along_km", "lat", "lon", "extra_ascent_m"),
    *("energy_short_kcal", "extra_dark_min", "arrive", "next_refill", "next_refill_km"),
    *("turn_km", "turn_lat", "turn_lon", "turn_into", "instead", "met_extra_min", "verdict"),
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
) -> Row:
    """Compare the way around a closed crossing with the open way.

    Parameters
    ----------
    crossings : Crossings
        All crossings.
    number : int
        The closed one.
    walk, way : Walk, Way
        The open way, walked.
    scene : Scene
        The loaded plan.
    other, walked : Walk, Walked
        The way around, walked.
    met_s : float
        Walking time lost when the closure is found out at the crossing [s].

    Returns
    -------
    dict
        Of ``CROSSING_COLUMNS``.
    """
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
    }


def lost_row(crossings: Crossings, number: int, *, walk: Walk, way: Way, why: str = "") -> Row:
    """Say that a crossing cannot be walked around, or why that is not known.

    Parameters
    ----------
    crossings : Crossings
        All crossings.
    number : int
        The closed one.
    walk, way : Walk, Way
        The open way, walked.
    why : str
        What keeps it from being known; "" when there is no way home.

    Returns
    -------
    dict
        Of ``CROSSING_COLUMNS``.
    """
    unknown = dict.fromkeys(CROSSING_COLUMNS, np.nan)
    words = dict.fromkeys(("arrive", "next_refill", "turn_into", "instead"), "")
    return {
        **unknown,
        **words,
        **_about(crossings, number, walk=walk, way=way),
        "reachable": "unknown" if why else "no",
        "verdict": why or "no way home",
    }


def untouched_row(crossings: Crossings, number: int, *, walk: Walk) -> Row:
    """Say that a crossing off the way costs nothing to lose.

    Parameters
    ----------
    crossings : Crossings
        All crossings.
    number : int
        The closed one.
    walk : Walk
        The open way, walked.

    Returns
    -------
    dict
        Of ``CROSSING_COLUMNS``.
    """
    return {
        **dict.fromkeys(CROSSING_COLUMNS, np.nan),
        **dict.fromkeys(("next_refill", "turn_into", "instead"), ""),
        **_about(crossings, number, walk=walk, way=None),
        **_compared(walk, walk),
        "reachable": "yes",
        "met_extra_min": 0.0,
    }


def alternative_row(other: Walk, *, walk: Walk, shared: float, bridges: Sequence[str]) -> Row:
    """Compare another way with the first.

    Parameters
    ----------
    other, walk : Walk
        The other way and the first, walked.
    shared : float
        Greatest share of its length on a way given before, 0 to 1.
    bridges : sequence of str
        Names of the crossings it uses.

    Returns
    -------
    dict
        Of ``ALTERNATIVE_COLUMNS``.
    """
    route = other.summary["route"]
    return {
        **_compared(walk, other),
        "shared_pct": 100.0 * shared,
        "unlit_km": route["unlit_km"],
        "bridges": ", ".join(bridges),
    }


def ranked(rows: Sequence[Row]) -> pd.DataFrame:
    """Put crossings in order: no way home first, then unknown, the dearest, and by name.

    Parameters
    ----------
    rows : sequence of dict
        Of ``CROSSING_COLUMNS``.

    Returns
    -------
    pandas.DataFrame
        One row a crossing.
    """
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
    crossings: Crossings, pairs: Sequence[Pair], alone_s: NDArray[np.float64]
) -> pd.DataFrame:
    """Tell the pairs by name, dearest first.

    Parameters
    ----------
    crossings : Crossings
        All crossings.
    pairs : sequence of Pair
        From ``Legs.pairs``.
    alone_s : ndarray of float64, shape (C,)
        Walking time lost when each crossing is closed by itself [s].

    Returns
    -------
    pandas.DataFrame
        ``first``, ``second``, ``extra_min``, ``reachable``, ``first_extra_min``,
        ``second_extra_min``; all walking time.
    """
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
    """Lay the cost of a blockage of each street along the way.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    legs : Legs
        The open way.

    Returns
    -------
    pandas.DataFrame
        ``from_km``, ``to_km``, ``street``, ``known_extra_min``, ``met_extra_min``.
    """
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


def turning_point(walk: Walk, way: Way, around: Way) -> Row:
    """Find where the way around leaves the open way.

    Parameters
    ----------
    walk, way : Walk, Way
        The open way, walked.
    around : Way
        The way around.

    Returns
    -------
    dict
        ``turn_km`` along the open way, ``turn_lat``, ``turn_lon``, and ``turn_into``, the first
        street with a name after it ("" for none).
    """
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


def _about(crossings: Crossings, number: int, *, walk: Walk, way: Way | None) -> Row:
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


def _compared(walk: Walk, other: Walk) -> Row:
    """Set one walked way against another."""
    first, second = walk.summary, other.summary
    dark_min = 60.0 * second["time"]["dark_h"]
    return {
        "extra_min": 60.0 * (second["time"]["elapsed_h"] - first["time"]["elapsed_h"]),
        "extra_km": second["route"]["distance_km"] - first["route"]["distance_km"],
        "extra_ascent_m": second["route"]["ascent_m"] - first["route"]["ascent_m"],
        "water_short_l": second["water"]["short_l"],
        "energy_short_kcal": second["food"]["short_kcal"],
        "dark_min": dark_min,
        "extra_dark_min": dark_min - 60.0 * first["time"]["dark_h"],
        "arrive": second["time"]["arrive"],
        "verdict": second["verdict"]["level"],
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
    """List the crossings a way uses, in the order they are met.

    Parameters
    ----------
    crossings : Crossings
        All crossings.
    way : Way
        The way.

    Returns
    -------
    list of int
        Their numbers, each once.
    """
    met = [crossings.of_segment[path.segment] for path in way.legs]
    return [number for number in dict.fromkeys(np.concatenate(met).tolist()) if number >= 0]
