"""A way laid out in fewer, longer steps, for asking many questions of it at once."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.walk.course import Course

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.walk.records import Stop

SLOPE_WITHIN = 0.015
"""Neighbouring steps whose slopes differ by less than this become one (assumed: it changes the pace
of every published model by a few in a hundred, and up and down alike)."""

LONGEST_M = 250.0
"""No joined step is longer, so that the hours and the dark fall within some minutes [m]."""


def coarse(course: Course) -> Course:
    """Join neighbouring steps that are alike.

    Parameters
    ----------
    course : Course
        S steps.

    Returns
    -------
    Course
        At most S steps of the same length, climb and waiting in all; street, surface, light,
        traffic, stairs and tunnel never change within one.
    """
    first = np.array(_starts(course), dtype=np.int64)
    ends = np.append(first, course.run_m.size)
    return Course(
        segment=course.segment[first],
        forward=course.forward[first],
        way=course.way[first],
        distance_m=course.distance_m[ends],
        run_m=np.add.reduceat(course.run_m, first),
        rise_m=np.add.reduceat(course.rise_m, first),
        height_m=course.height_m[ends],
        lon=course.lon[ends],
        lat=course.lat[ends],
        surface=course.surface[first],
        lit=course.lit[first],
        traffic=course.traffic[first],
        highway=course.highway[first],
        stairs=course.stairs[first],
        bridge=course.bridge[first],
        tunnel=course.tunnel[first],
        delay_s=np.add.reduceat(course.delay_s, first),
    )


def shortened(course: Course, stops: Sequence[Stop]) -> tuple[Course, tuple[Stop, ...]]:
    """Lay a way out in longer steps, and put its stops before the steps that hold them.

    Parameters
    ----------
    course : Course
        The way.
    stops : sequence of Stop
        Stops on it.

    Returns
    -------
    tuple of (Course, tuple of Stop)
        The same way and stops in longer steps.
    """
    longer = coarse(course)
    at_m = course.distance_m[[stop.step for stop in stops]] if stops else np.zeros(0)
    moved = zip(stops, steps_at(longer, at_m).tolist(), strict=True)
    return longer, tuple(replace(stop, step=step) for stop, step in moved)


def steps_at(course: Course, along_m: NDArray[np.float64]) -> NDArray[np.int64]:
    """Find the steps that hold points of the way.

    Parameters
    ----------
    course : Course
        The way.
    along_m : (K,) float64
        Distances from the start [m].

    Returns
    -------
    (K,) ndarray of int64
        One step a point.
    """
    steps = np.searchsorted(course.distance_m, along_m, side="right") - 1
    return np.clip(steps, 0, course.run_m.size - 1).astype(np.int64)


def _starts(course: Course) -> list[int]:
    """Find the steps that begin a joined one."""
    breaks = _changes(course) | (course.delay_s[1:] > 0.0)
    slope, run = course.slope.tolist(), course.run_m.tolist()
    starts, length, low, high = [0], run[0], slope[0], slope[0]
    for step, broken in enumerate(breaks.tolist(), start=1):
        low, high = min(low, slope[step]), max(high, slope[step])
        length += run[step]
        if broken or high - low > SLOPE_WITHIN or length > LONGEST_M:
            starts.append(step)
            length, low, high = run[step], slope[step], slope[step]
    return starts


def _changes(course: Course) -> NDArray[np.bool_]:
    """Mark where what lies underfoot, beside or above changes, shape (S - 1,)."""
    changed = np.zeros(course.run_m.size - 1, dtype=bool)
    for column in (course.surface, course.lit, course.traffic, course.stairs, course.tunnel):
        changed |= column[1:] != column[:-1]
    return changed
