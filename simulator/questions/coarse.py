"""A way laid out in fewer, longer steps, for asking many questions of it at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.walk.course import Course

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
