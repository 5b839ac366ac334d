"""A way laid out in steps, and which of them may be walked as one."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.ground.streets import Streets
    from simulator.route.search import Path

LONGEST_STEP_M = 100.0
"""No step is longer, so that halts, dusk and shortages fall within about a minute [m]."""


@dataclass(frozen=True, slots=True)
class Course:
    """Arrays along the way; a step is a stretch of one slope on one street.

    Attributes
    ----------
    segment : (S,) int32
        Street segment of each step.
    forward : (S,) bool
        Whether the step runs as the segment is drawn.
    way : (S,) int32
        Row of the street in ``Streets.ways``.
    distance_m : (S + 1,) float64
        Distance along the way at each step's start; the last value is the whole length [m].
    run_m : (S,) float64
        Horizontal length, greater than zero [m].
    rise_m : (S,) float64
        Height gained in the direction of travel; negative downhill [m].
    height_m : (S + 1,) float64
        Ground or deck height at each step's start and at the end [m]; all zero without terrain.
    lon, lat : (S + 1,) float64
        Position of each step's start and of the end [deg].
    surface, lit, traffic, highway : (S,) int8
        Codes as in ``Ways``.
    stairs, bridge, tunnel : (S,) bool
        What the step runs over.
    delay_s : (S,) float64
        Waiting at a crossing before the step [s].
    joins : (J,) int64 or None
        Steps from which on the engine may walk all up to the next as one, from ``alike``; None
        where every step is walked by itself.
    """

    segment: NDArray[np.int32]
    forward: NDArray[np.bool_]
    way: NDArray[np.int32]
    distance_m: NDArray[np.float64]
    run_m: NDArray[np.float64]
    rise_m: NDArray[np.float64]
    height_m: NDArray[np.float64]
    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    surface: NDArray[np.int8]
    lit: NDArray[np.int8]
    traffic: NDArray[np.int8]
    highway: NDArray[np.int8]
    stairs: NDArray[np.bool_]
    bridge: NDArray[np.bool_]
    tunnel: NDArray[np.bool_]
    delay_s: NDArray[np.float64]
    joins: NDArray[np.int64] | None = None

    @property
    def slope(self) -> NDArray[np.float64]:
        """Rise over run in the direction of travel, positive uphill, shape (S,)."""
        return self.rise_m / self.run_m

    @property
    def length_m(self) -> float:
        """Length of the whole way [m]."""
        return float(self.distance_m[-1])


def course_along(streets: Streets, path: Path, *, longest_step_m: float = LONGEST_STEP_M) -> Course:
    """Lay out a path as steps.

    Parameters
    ----------
    streets : Streets
        The network, with or without terrain.
    path : Path
        The way, segment by segment.
    longest_step_m : float
        Steps longer than this are divided evenly [m].

    Returns
    -------
    Course
        At least one step; every run is greater than zero.

    Raises
    ------
    ValueError
        When the path has no length.
    """
    piece_start, piece_run, piece_rise = _pieces(streets)
    segment = np.asarray(path.segment, dtype=np.int64)
    forward = np.asarray(path.forward, dtype=bool)

    # One row per piece of each segment, turned round where the segment is walked backward.
    count = piece_start[segment + 1] - piece_start[segment]
    row = np.repeat(np.arange(segment.size), count)
    rank = np.arange(row.size) - np.repeat(np.cumsum(count) - count, count)
    ahead = forward[row]
    piece = np.where(
        ahead, piece_start[segment[row]] + rank, piece_start[segment[row] + 1] - 1 - rank
    )
    run = piece_run[piece]
    rise = np.where(ahead, piece_rise[piece], -piece_rise[piece])

    # Cut the first and last segments to the part that is walked.
    length = np.bincount(row, weights=run, minlength=segment.size)
    before = np.cumsum(run) - run - np.repeat(np.cumsum(length) - length, count)
    enter, leave = _walked_part(path, forward)
    low = np.maximum(before, enter[row] * length[row])
    high = np.minimum(before + run, leave[row] * length[row])
    kept = high - low > 0.0
    if not kept.any():
        message = "the path has no length: its two ends are the same point"
        raise ValueError(message)
    share = np.where(kept, (high - low) / run, 0.0)

    # Divide long steps evenly; slope and street stay the same.
    parts = np.maximum(1, np.ceil(run * share / longest_step_m).astype(np.int64))
    index = np.repeat(np.flatnonzero(kept), parts[kept])
    nth = np.arange(index.size) - np.repeat(np.cumsum(parts[kept]) - parts[kept], parts[kept])
    run_m = (run * share / parts)[index]
    rise_m = (rise * share / parts)[index]
    along = low[index] + nth * run_m

    step_row = row[index]
    step_segment = segment[step_row]
    fraction = along / length[step_row]
    fraction = np.where(forward[step_row], fraction, 1.0 - fraction)
    lon, lat = _points(streets, step_segment, fraction)
    last = step_segment[-1:]
    end_fraction = np.array([leave[-1] if forward[-1] else 1.0 - leave[-1]])
    end_lon, end_lat = _points(streets, last, end_fraction)

    way = streets.way[step_segment]
    ways = streets.ways
    entered = np.empty(index.size, dtype=bool)
    entered[0] = False  # the walk starts beyond the first node
    entered[1:] = step_row[1:] != step_row[:-1]
    node = np.where(forward[step_row], streets.tail[step_segment], streets.head[step_segment])
    start_height = _start_height(streets, path)
    return Course(
        segment=step_segment.astype(np.int32),
        forward=forward[step_row],
        way=way.astype(np.int32),
        distance_m=np.concatenate([[0.0], np.cumsum(run_m)]),
        run_m=run_m,
        rise_m=rise_m,
        height_m=start_height + np.concatenate([[0.0], np.cumsum(rise_m)]),
        lon=np.concatenate([lon, end_lon]),
        lat=np.concatenate([lat, end_lat]),
        surface=ways.surface[way],
        lit=ways.lit[way],
        traffic=ways.traffic[way],
        highway=ways.highway[way],
        stairs=ways.steps[way],
        bridge=ways.bridge[way],
        tunnel=ways.tunnel[way],
        delay_s=np.where(entered, streets.delay_s[node], 0.0),
    )


def join_courses(courses: Sequence[Course]) -> Course:
    """Put the courses of successive legs behind each other.

    Parameters
    ----------
    courses : sequence of Course
        Each begins where the one before ends.

    Returns
    -------
    Course
        One course; heights and distances run on.
    """
    if len(courses) == 1:
        return courses[0]
    joined: dict[str, NDArray[np.generic]] = {}
    for field in fields(Course):
        if field.name == "joins":
            continue
        columns = [getattr(course, field.name) for course in courses]
        if field.name == "distance_m":
            joined[field.name] = np.concatenate(
                [[0.0], np.cumsum(np.concatenate([course.run_m for course in courses]))]
            )
        elif field.name in {"height_m", "lon", "lat"}:
            # The end of a leg is the start of the next.
            joined[field.name] = np.concatenate([*(c[:-1] for c in columns[:-1]), columns[-1]])
        else:
            joined[field.name] = np.concatenate(columns)
    return Course(**joined)  # type: ignore[arg-type]  # one array per field, by construction


def _pieces(
    streets: Streets,
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    terrain = streets.terrain
    if terrain is None:
        count = streets.length_m.size
        return np.arange(count + 1), streets.length_m, np.zeros(count)
    return terrain.piece_start, terrain.piece_run_m, terrain.piece_rise_m


def _walked_part(
    path: Path, forward: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where each segment is entered and left, as shares of it in the direction of travel."""
    enter = np.zeros(forward.size)
    leave = np.ones(forward.size)
    enter[0] = path.from_fraction if forward[0] else 1.0 - path.from_fraction
    leave[-1] = path.to_fraction if forward[-1] else 1.0 - path.to_fraction
    return enter, leave


def _points(
    streets: Streets, segment: NDArray[np.int64], fraction: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Longitude and latitude a share of the way from tail to head."""
    tail, head = streets.tail[segment], streets.head[segment]
    lon = streets.lon[tail] + fraction * (streets.lon[head] - streets.lon[tail])
    lat = streets.lat[tail] + fraction * (streets.lat[head] - streets.lat[tail])
    return lon, lat


def _start_height(streets: Streets, path: Path) -> float:
    """Height where the path begins [m]."""
    terrain = streets.terrain
    if terrain is None:
        return 0.0
    segment = int(path.segment[0])
    first, last = terrain.piece_start[segment], terrain.piece_start[segment + 1]
    along = np.concatenate([[0.0], np.cumsum(terrain.piece_run_m[first:last])])
    tail_height = float(terrain.node_height_m[streets.tail[segment]])
    height = tail_height + np.concatenate([[0.0], np.cumsum(terrain.piece_rise_m[first:last])])
    return float(np.interp(path.from_fraction * along[-1], along, height))


ALIKE_SLOPE = 0.03
"""Steps whose slopes differ by less are alike to the engine: their walking time is summed up
exactly, only what is burnt and sweated takes their mean slope (assumed)."""

ALIKE_M = 60.0
"""No more than this is walked as one: rests, dusk and shortages shift by less than a minute, an
arrival by less than 10 s, or half a minute where the night is spent by the way [m]."""


def alike(course: Course) -> Course:
    """Mark which steps the engine may walk as one.

    Parameters
    ----------
    course : Course
        S steps.

    Returns
    -------
    Course
        The same steps. What lies underfoot, beside or above never changes within a run, no wait
        at a crossing falls into one, and along busy roads it stays on one street.
    """
    waits = course.delay_s > 0.0
    return _joined(course, waits[1:] | waits[:-1], most_m=ALIKE_M)


LONGEST_M = 400.0
"""Longest run of ``coarse``: dusk and dawn shift by half a run at most, and with them an arrival by
less than a minute; hours and shortages by less than three [m]."""


def coarse(course: Course) -> Course:
    """Mark longer runs to walk as one, where many walks are compared.

    Parameters
    ----------
    course : Course
        S steps.

    Returns
    -------
    Course
        The same steps. As with ``alike``, but runs are longer, and may begin with a wait.
    """
    return _joined(course, course.delay_s[1:] > 0.0, most_m=LONGEST_M)


def _joined(course: Course, breaks: NDArray[np.bool_], *, most_m: float) -> Course:
    """Mark the steps that begin a run, (S,) joins, given where one must begin, (S - 1,)."""
    busy = (course.traffic[1:] == BUSY) & (course.way[1:] != course.way[:-1])
    starts = _runs(course, breaks | busy | _changes(course), most_m=most_m)
    return replace(course, joins=np.array(starts, dtype=np.int64))


def _runs(course: Course, breaks: NDArray[np.bool_], *, most_m: float) -> list[int]:
    """Find the steps that begin a run: of slopes little apart, and no longer than so."""
    slopes, run = course.slope.tolist(), course.run_m.tolist()
    starts, length, low, high = [0], run[0], slopes[0], slopes[0]
    for step, broken in enumerate(breaks.tolist(), start=1):
        slope = slopes[step]
        if slope < low:
            low = slope
        elif slope > high:
            high = slope
        length += run[step]
        if broken or high - low > ALIKE_SLOPE or length > most_m:
            starts.append(step)
            length, low, high = run[step], slope, slope
    return starts


def _changes(course: Course) -> NDArray[np.bool_]:
    """Mark where what lies underfoot, beside or above changes, shape (S - 1,)."""
    changed = np.zeros(course.run_m.size - 1, dtype=bool)
    for column in (course.surface, course.lit, course.traffic, course.stairs, course.tunnel):
        changed |= column[1:] != column[:-1]
    return changed


BUSY = 2
"""Traffic code of busy roads."""


def beside_traffic(streets: Streets, course: Course) -> NDArray[np.bool_]:
    """Mark steps along busy roads without a pavement, shape (S,)."""
    beside: NDArray[np.bool_] = (course.traffic == BUSY) & ~streets.ways.sidewalk[course.way]
    return beside
