"""Own paces from recorded walks: the track, the heights of the plan's rasters, and the fit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from simulator.body.own_pace import LEAST_PIECES, OwnPace, fit_own_pace, slope_bend
from simulator.errors import InputError
from simulator.ground.grid import SMOOTHING_REACH_SIGMAS, smoothed
from simulator.ground.raster import read_rasters
from simulator.ground.track import LONGEST_PIECE_M, TrackPieces, read_track

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.plan import Plan
    from simulator.walk.course import Course

LEAST_SHARE_WITH_HEIGHT = 0.8
"""Part of a recorded walk that must lie on the plan's rasters; an assumption, 0.7 to 0.95."""

TRACK_SPREAD = 0.04
"""What the fit of one walk cannot see, up or down: another day, another load, and a length measured
along positions that are off by metres; an assumption, 0.03 to 0.08."""

SAID_SPREAD = 0.05
"""How far an own pace told in numbers is off on another day, up or down; an assumption, 0.03 to
0.1."""


def own_paces(plan: Plan, rasters: Sequence[Path]) -> tuple[OwnPace | None, ...]:
    """Fit the pace of every walker who names a recorded walk.

    Parameters
    ----------
    plan : Plan
        What is asked.
    rasters : sequence of pathlib.Path
        Elevation rasters, the plan's own or fetched ones.

    Returns
    -------
    tuple of OwnPace or None
        For each walker; None without a recorded walk.

    Raises
    ------
    InputError
        When a track cannot be used, or no raster holds its heights.
    """
    return tuple(
        _own_pace(plan, row, walker.timed_walk, rasters)
        if isinstance(walker.timed_walk, Path)
        else None
        for row, walker in enumerate(plan.walker)
    )


def _own_pace(plan: Plan, row: int, path: Path, rasters: Sequence[Path]) -> OwnPace:
    key = f"{plan.source or 'plan'}: {plan.walker_key(row, 'timed_walk')}"
    where, pieces = f"{key}: {path.name}", read_track(path, where=key)
    slope = _slopes(pieces, rasters, plan.map.smoothing_m, where)
    near = (pieces.length_m <= LONGEST_PIECE_M) & np.isfinite(slope)
    found = fit_own_pace(
        pieces.length_m[near], pieces.time_s[near], slope[near], model=plan.pace.model
    )
    if found is None:
        problem = (
            f"leaves fewer than {LEAST_PIECES} pieces of 50 m that were walked without a stop on "
            "slopes up to 30 %; record a longer walk, or write four numbers: [kilometres, minutes "
            "without stops, metres climbed, metres descended]"
        )
        raise InputError(where, problem)
    return found


def _slopes(
    pieces: TrackPieces, rasters: Sequence[Path], smoothing_m: float, where: str
) -> NDArray[np.float64]:
    """Give the slope of each piece from the rasters that the plan walks on."""
    numbers = "or write [kilometres, minutes without stops, metres climbed, metres descended]"
    if not rasters:
        problem = (
            "needs map.elevation: heights of a recorded walk are taken from the same raster as "
            f"those of the way, for receivers' own are off by tens of metres; name one, {numbers}"
        )
        raise InputError(where, problem)
    lon, lat = pieces.lon, pieces.lat
    bounds = (float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max()))
    height = np.full(lon.shape, np.nan)
    try:
        found = read_rasters(rasters, bounds=bounds, margin_m=SMOOTHING_REACH_SIGMAS * smoothing_m)
    except InputError as fault:
        if "covers nothing" not in fault.problem:
            raise
        found = ()
    for raster in found:
        ground = smoothed(raster, smoothing_m)
        height = np.where(np.isnan(height), ground.heights(lon, lat), height)
    slope: NDArray[np.float64] = (height[:, 1] - height[:, 0]) / pieces.length_m
    share = float(pieces.length_m[np.isfinite(slope)].sum() / pieces.length_m.sum())
    if share < LEAST_SHARE_WITH_HEIGHT:
        problem = (
            f"found {share:.0%} of the recorded walk on the rasters of map.elevation; allowed: "
            f"{LEAST_SHARE_WITH_HEIGHT:.0%} and more; record one nearer home, name one more "
            f"raster, {numbers}"
        )
        raise InputError(where, problem)
    return slope


def steepest_response(own: Sequence[OwnPace | None]) -> float:
    """Give the answer to slopes that the party walks by: the strongest of those known."""
    return max((one.slope_response for one in own if one is not None), default=1.0)


def own_spread(own: Sequence[OwnPace | None], course: Course, *, model: str) -> float:
    """Give how far own paces may be off on a way, up or down: the widest of the party's.

    For a recorded walk the standard error of its fit on the slopes of this way, as the half width
    of a triangle of the same standard deviation, and what no fit can see; for a pace told in
    numbers what is assumed.
    """
    bend = slope_bend(course.slope, model=model)
    reached = np.isfinite(bend)
    mean = float(np.average(bend[reached], weights=course.run_m[reached])) if reached.any() else 0.0
    spreads = [
        SAID_SPREAD
        if one is None
        else float(np.hypot(TRACK_SPREAD, np.sqrt(6.0) * one.standard_error(mean)))
        for one in own
    ]
    return max(spreads, default=SAID_SPREAD)


def own_pace_notes(plan: Plan, own: Sequence[OwnPace | None]) -> list[str]:
    """Say what was read out of recorded walks, and what it is not."""
    said = []
    for row, one in enumerate(own):
        if one is None:
            continue
        who = f"walker {row + 1}" if len(own) > 1 else "the walker"
        low, high = one.interval()
        path = plan.walker[row].timed_walk
        name = path.name if isinstance(path, Path) else ""
        kept = (
            f"answers to slopes {one.slope_response:.2f} times as strongly"
            if abs(one.slope_response - 1.0) > np.sqrt(one.covariance[1, 1])
            else f"answers to slopes much as it ({one.slope_response:.2f} times)"
        )
        said.append(
            f"OWN PACE: by {name} {who} has {one.factor:.2f} times the model's pace on the level "
            f"({one.factor * low:.2f} to {one.factor * high:.2f}) and {kept}, from {one.pieces} "
            f"pieces of some 50 m; {one.stopped} with a stop are left out. A walk on another day, "
            "with another load, is another pace."
        )
    return said
