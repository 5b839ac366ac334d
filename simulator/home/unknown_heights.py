"""Ground whose height no raster has: where the way meets it, and how steep it may be.

The way is walked on estimated heights, and once more on ground as easy and as steep as it may be:
between those lie time and water, and the gravest verdict holds.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from simulator.ground.snap import metres_per_degree
from simulator.walk.course import Course, alike

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.ground.streets import Streets
    from simulator.ground.terrain import Terrain
from simulator.home.records import Heights
from simulator.units import Units

STEEP_SHARE = 0.95
"""Unknown ground is taken to be no steeper than this share of the known streets' length, all along
(assumption, 0.9 to 0.99: single pitches are steeper, but no ground is at its steepest throughout).
"""

STEEP_LEAST = 0.10
"""However flat the known ground, unknown ground may be this steep, rise over run (assumption, 0.05
to 0.15: what is missing may be the only hill)."""

EASIEST_SLOPE = -0.05
"""Where an end of the way lies on unknown ground, that may run downhill like this at best: the
slope of the fastest walk by Tobler 1993, other pace models lie near (assumption, -0.1 to 0)."""

STEEP_UNKNOWN = 0.15
"""Taken where too little ground is known to tell, rise over run: about the steepest that streets
for houses are built (common practice; assumption, 0.1 to 0.2)."""

NEAR_M = 2000.0
"""Known ground this near to the unknown part of a way tells how steep it may be [m]; assumption,
1000 to 5000 m."""

LEAST_KNOWN_M = 1000.0
"""Known streets near by of less than this length in all, or than the unknown part of the way, do
not tell how steep it may be [m]; assumption, 500 to 5000 m."""

RELIEF_UNKNOWN_M = 300.0
"""Least relief where too little ground is known to tell: the side of a valley (assumption, 100 to
1000 m)."""

JOINED_M = 50.0
"""Known ground shorter than this does not part two unknown stretches when they are told [m]."""

FEW_STRETCHES = 3
"""More stretches than this are told by their number."""


class Steep(NamedTuple):
    """How steep unknown ground is taken to be.

    Attributes
    ----------
    slope : float
        Rise over run.
    measured : bool
        Whether the known ground tells it.
    relief_m : float
        How much higher an end of the way on unknown ground may lie than estimated [m]: as far as
        the lowest and the highest known height of the map are apart.
    """

    slope: float
    measured: bool
    relief_m: float


def steepest(streets: Streets, course: Course, unknown: NDArray[np.bool_]) -> Steep:
    """Read from the known ground of a map how steep the unknown part of a way may be."""
    terrain = streets.terrain
    if terrain is None or not terrain.node_known.any():
        return Steep(STEEP_UNKNOWN, measured=False, relief_m=RELIEF_UNKNOWN_M)
    relief_m = float(np.ptp(terrain.node_height_m[terrain.node_known]))
    deck = (streets.ways.bridge | streets.ways.tunnel)[streets.way]
    ground = terrain.covered & ~deck
    near = ground & _near(streets, course.lon[:-1][unknown], course.lat[:-1][unknown])
    found = max(STEEP_LEAST, *(_slope_within(terrain, chosen) for chosen in (ground, near)))
    unknown_m = float(course.run_m[unknown].sum())
    if float(streets.length_m[near].sum()) >= max(LEAST_KNOWN_M, unknown_m):
        return Steep(found, measured=True, relief_m=relief_m)
    return Steep(
        max(found, STEEP_UNKNOWN), measured=False, relief_m=max(relief_m, RELIEF_UNKNOWN_M)
    )


def _slope_within(terrain: Terrain, chosen: NDArray[np.bool_]) -> float:
    """Slope that `STEEP_SHARE` of the length of some segments stays below; 0 without any."""
    piece = np.repeat(chosen, np.diff(terrain.piece_start))
    run_m = terrain.piece_run_m[piece]
    if run_m.size == 0:
        return 0.0
    slope = np.abs(terrain.piece_rise_m[piece]) / run_m
    order = np.argsort(slope, kind="stable")
    gone = np.cumsum(run_m[order])
    return float(slope[order][np.searchsorted(gone, STEEP_SHARE * gone[-1])])


def _near(
    streets: Streets, lon: NDArray[np.float64], lat: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Mark the segments that begin within `NEAR_M` of any of some points, shape (M,)."""
    from scipy.spatial import KDTree

    scale = np.array(metres_per_degree(float(lat.mean())))
    tree = KDTree(np.column_stack([lon, lat]) * scale)
    away, _ = tree.query(
        np.column_stack([streets.lon, streets.lat]) * scale, distance_upper_bound=NEAR_M
    )
    return np.isfinite(away)[streets.tail]


def unknown_steps(course: Course, streets: Streets) -> NDArray[np.bool_]:
    """Mark the steps of a way that no raster covers, shape (S,); all of them without rasters."""
    if streets.terrain is None:
        return np.ones(course.run_m.size, dtype=np.bool_)
    return ~streets.terrain.covered[course.segment]


def stretches_m(course: Course, unknown: NDArray[np.bool_]) -> tuple[tuple[float, float], ...]:
    """Join unknown steps to stretches."""
    found: list[tuple[float, float]] = []
    for first, after in _runs(unknown):
        begin, end = float(course.distance_m[first]), float(course.distance_m[after])
        if found and begin - found[-1][1] < JOINED_M:
            begin, _ = found.pop()
        found.append((begin, end))
    return tuple(found)


def steepened(
    course: Course, unknown: NDArray[np.bool_], steep: Steep
) -> tuple[Course, NDArray[np.int64]]:
    """Make unknown ground go up and down all the way, as steep as it may be."""
    slope, most = course.slope, steep.slope
    slope = np.where(unknown, slope + _open_slope(course, unknown, steep.relief_m), slope)
    slope = np.where(unknown, np.minimum(slope, np.maximum(course.slope, most)), slope)
    share = 0.5 * (1.0 + slope / most)
    split = unknown & (share > 0.0) & (share < 1.0)
    parts = np.where(split, 2, 1)
    first = np.cumsum(parts) - parts
    step = np.repeat(np.arange(parts.size), parts)
    second = np.ones(step.size, dtype=np.bool_)
    second[first] = False
    part = np.where(split[step], np.where(second, 1.0 - share[step], share[step]), 1.0)
    run_m = course.run_m[step] * part
    rise_m = run_m * np.where(split[step], np.where(second, -most, most), slope[step])
    behind = np.where(second, share[step], 0.0)
    changed: dict[str, Any] = {
        "distance_m": np.concatenate(([0.0], np.cumsum(run_m))),
        "run_m": run_m,
        "rise_m": rise_m,
        "height_m": course.height_m[0] + np.concatenate(([0.0], np.cumsum(rise_m))),
        "delay_s": np.where(second, 0.0, course.delay_s[step]),
    }
    for name in ("lon", "lat"):
        at = getattr(course, name)
        inner = at[step] + behind * (at[step + 1] - at[step])
        changed[name] = np.append(inner, at[-1])
    rest = {
        field.name: getattr(course, field.name)[step]
        for field in fields(Course)
        if field.name not in changed and field.name != "joins"
    }
    return alike(Course(**changed, **rest)), first


def _open_slope(course: Course, unknown: NDArray[np.bool_], relief_m: float) -> NDArray[np.float64]:
    """Slope to add where the way begins or ends on unknown ground, shape (S,)."""
    added = np.zeros(unknown.size)
    for first, after in _runs(unknown):
        if first == 0 or after == unknown.size:
            added[first:after] = relief_m / float(course.run_m[first:after].sum())
    return added


def eased(course: Course, unknown: NDArray[np.bool_], steep: Steep) -> Course:
    """Make unknown ground as easy as it may be."""
    slope = course.slope
    for first, after in _runs(unknown):
        part = slice(first, after)
        length_m = float(course.run_m[part].sum())
        if first == 0 or after == unknown.size:
            slope[part] = max(EASIEST_SLOPE, -steep.relief_m / length_m)
        else:
            slope[part] = float(course.rise_m[part].sum()) / length_m
    rise_m = slope * course.run_m
    height_m = course.height_m[0] + np.concatenate(([0.0], np.cumsum(rise_m)))
    return alike(replace(course, rise_m=rise_m, height_m=height_m))


def _runs(unknown: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First step of each unknown stretch, and the step after its last."""
    edge = np.diff(np.concatenate(([False], unknown, [False])).astype(np.int8))
    firsts, afters = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    return list(zip(firsts.tolist(), afters.tolist(), strict=True))


def told_heights(course: Course, streets: Streets) -> Heights:
    """Say where the heights of a way are unknown."""
    unknown = unknown_steps(course, streets)
    return Heights(
        unknown_km=float(course.run_m[unknown].sum()) / 1000.0,
        stretches=tuple(
            (begin / 1000.0, end / 1000.0) for begin, end in stretches_m(course, unknown)
        ),
    )


def where_words(told: Heights, units: Units) -> str:
    """Say how much of the way has no heights, and where."""
    spans = [
        tuple(f"{1000.0 * at / units.long_m:.1f}" for at in stretch) for stretch in told.stretches
    ]
    much = units.near(1000.0 * told.unknown_km)
    if len(spans) > FEW_STRETCHES:
        return (
            f"{much} in {len(spans)} stretches between {units.long_name} {spans[0][0]} and "
            f"{spans[-1][1]}"
        )
    listed = " and ".join(f"{begin} to {end}" for begin, end in spans)
    return f"{much}, {units.long_name} {listed}"


def share_words(share: float) -> str:
    """Say a share that is above zero."""
    return f"{share:.0%}" if share >= 0.01 else "under 1%"  # noqa: PLR2004 - the last digit


def map_notes(streets: Streets, *, spanned: bool = False) -> tuple[str, ...]:
    """Say what the heights of a map leave out.

    Parameters
    ----------
    streets : Streets
        The network.
    spanned : bool
        Whether a span says what that may do; otherwise the figures are those of the estimate.

    Returns
    -------
    tuple of str
        One sentence, or none where every height is known or no raster was named.
    """
    terrain = streets.terrain
    if terrain is None or terrain.covered.all():
        return ()
    level = (
        " Streets that no street of known height leads to count as level."
        if terrain.level.any()
        else ""
    )
    alone = "" if spanned else " The figures are those of the estimate; walkhome plan gives a span."
    note = (
        f"HEIGHTS ARE MISSING for {share_words(terrain.void_share)} of the streets of this map "
        f"(none in {', '.join(terrain.sources)}): estimated along the streets between known "
        f"heights. Hills there make the real walk longer and harder.{level}{alone}"
    )
    return (note,)
