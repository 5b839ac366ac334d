"""Which places near the way are worth a stop, and when they are reached."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.ground.snap import metres_per_degree
from simulator.route.near import distance_off

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.ground.places import Places
    from simulator.ground.streets import Streets
    from simulator.walk.course import Course

LEAST_M_PER_DEGREE = 110_000.0
"""Less than any degree of latitude on the WGS84 ellipsoid (110,574 m at the equator) [m]."""

POLE_COSINE = 1e-3
"""Nearer to a pole than this every longitude is within reach."""

ROUNDING_M = 1e-6
"""Distances closer than this are the same point [m]."""


@dataclass(frozen=True, slots=True)
class Nearby:
    """Places within reach of the way, in the order they are passed.

    Attributes
    ----------
    place : (C,) int64
        Row in ``Places``.
    along_m : (C,) float64
        Where one leaves the way, measured from the start [m].
    off_m : (C,) float64
        Walking distance from the way, one direction [m].
    step : (C,) int64
        The stop is made before this step of the course.
    """

    place: NDArray[np.int64]
    along_m: NDArray[np.float64]
    off_m: NDArray[np.float64]
    step: NDArray[np.int64]


def nearby_places(
    places: Places,
    streets: Streets,
    *,
    course: Course,
    start_fraction: float,
    closed: NDArray[np.bool_],
    reach_m: float,
) -> Nearby:
    """Find every place within reach of the way.

    Parameters
    ----------
    places : Places
        Attached to the streets.
    streets : Streets
        The network.
    course : Course
        The way.
    start_fraction : float
        Where on its first segment the way begins, as a share from the segment's tail.
    closed : (M,) bool
        Segments that cannot be walked today.
    reach_m : float
        Farthest walk off the way, one direction [m].

    Returns
    -------
    Nearby
        In order along the way; ties by distance off.
    """
    both = streets.open_forward & streets.open_backward & ~closed
    both &= _about(streets, course, reach_m)
    near = distance_off(
        streets.tail,
        streets.head,
        streets.length_m,
        walkable=both,
        nodes=streets.lon.size,
        way_segments=np.unique(course.segment),
        segment=places.segment,
        fraction=places.fraction,
        access_m=places.access_m,
        reach_m=reach_m,
    )
    straight_m, beside_m = beside_way(places, course, reach_m)
    # A door in sight of the way is walked to, whatever other street it is put on.
    direct = straight_m < near.off_m
    off_m = np.where(direct, straight_m, near.off_m)
    rows = np.flatnonzero(np.isfinite(off_m))
    nodes = node_distances(streets, course)

    def along_of(row: int) -> float:
        if direct[row]:
            return float(beside_m[row])
        if (node := int(near.node[row])) >= 0:
            return nodes[node]
        return on_segment_m(
            places, row, streets=streets, course=course, start_fraction=start_fraction
        )

    along = np.array([along_of(row) for row in rows.tolist()])
    order = np.lexsort((off_m[rows], along))
    along = along[order]
    step = np.searchsorted(course.distance_m, along - ROUNDING_M, side="left")
    return Nearby(
        place=rows[order],
        along_m=along,
        off_m=off_m[rows][order],
        step=np.minimum(step, course.run_m.size - 1).astype(np.int64),
    )


ACROSS_M = 40.0
"""A place this near the way in a straight line is reached from it, though another street is nearer
still: across a forecourt, a car park or a verge [m]; an assumption, 20 to 60."""


def beside_way(
    places: Places, course: Course, reach_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Measure how far each place lies from the way in a straight line, and where along it.

    Bridges and tunnels are passed over, as one does not step off them; so are places that no
    street is near to.

    Parameters
    ----------
    places : Places
        Attached to the streets.
    course : Course
        The way.
    reach_m : float
        Farthest walk off the way, one direction; no farther than ``ACROSS_M`` counts [m].

    Returns
    -------
    off_m : (K,) float64
        Distance of each place from the way; infinite beyond the limit [m].
    along_m : (K,) float64
        Where along the way that is [m].
    """
    import shapely

    off_m, along_m = np.full(places.lon.size, np.inf), np.zeros(places.lon.size)
    steps = np.flatnonzero(~(course.bridge | course.tunnel))
    rows = np.flatnonzero(places.segment >= 0)
    if not steps.size or not rows.size:
        return off_m, along_m
    east, north = (float(scale) for scale in metres_per_degree(float(course.lat.mean())))
    corners = np.column_stack([course.lon * east, course.lat * north])
    lines = np.asarray(
        shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)[steps]), dtype=object
    )
    points = np.asarray(
        shapely.points(places.lon[rows] * east, places.lat[rows] * north), dtype=object
    )
    found, line = shapely.STRtree(lines).query_nearest(
        points, max_distance=max(min(reach_m, ACROSS_M), 1e-3), all_matches=False
    )
    row, step = rows[found], steps[line]
    off_m[row] = shapely.distance(points[found], lines[line])
    share = shapely.line_locate_point(lines[line], points[found], normalized=True)
    along_m[row] = course.distance_m[step] + share * course.run_m[step]
    return off_m, along_m


def _about(streets: Streets, course: Course, reach_m: float) -> NDArray[np.bool_]:
    """Mark segments in the box that holds everything within reach; the others need no search."""
    north = reach_m / LEAST_M_PER_DEGREE
    farthest = np.radians(min(float(np.abs(course.lat).max()) + north, 90.0))
    east = north / max(float(np.cos(farthest)), POLE_COSINE)
    inside = (
        (streets.lat >= course.lat.min() - north)
        & (streets.lat <= course.lat.max() + north)
        & (streets.lon >= course.lon.min() - east)
        & (streets.lon <= course.lon.max() + east)
    )
    marked: NDArray[np.bool_] = inside[streets.tail] & inside[streets.head]
    return marked


def node_distances(streets: Streets, course: Course) -> dict[int, float]:
    """Measure at what distance along the way each node of it is first passed.

    Parameters
    ----------
    streets : Streets
        The network.
    course : Course
        The way.

    Returns
    -------
    dict of int to float
        Metres by node.
    """
    segment, ahead = course.segment, course.forward
    # Turning back on a street is a new run: the end not reached counts as passed where one turns.
    first = np.r_[True, (segment[1:] != segment[:-1]) | (ahead[1:] != ahead[:-1])]
    last = np.r_[first[1:], True]
    enters = np.where(ahead, streets.tail[segment], streets.head[segment])[first]
    leaves = np.where(ahead, streets.head[segment], streets.tail[segment])[last]
    passed: dict[int, float] = {int(enters[0]): 0.0}
    for node, metres in zip(leaves.tolist(), course.distance_m[1:][last].tolist(), strict=True):
        passed.setdefault(node, metres)
    return passed


def on_segment_m(
    places: Places, row: int, *, streets: Streets, course: Course, start_fraction: float
) -> float:
    """Measure at what distance along the way a place stands on one of its segments.

    Parameters
    ----------
    places : Places
        Attached to the streets.
    row : int
        Which place.
    streets : Streets
        The network.
    course : Course
        The way.
    start_fraction : float
        Where on its first segment it begins, as a share from the segment's tail.

    Returns
    -------
    float
        Distance [m].
    """
    segment = int(places.segment[row])
    steps = np.flatnonzero(course.segment == segment)
    gaps = np.flatnonzero(np.diff(steps) > 1)
    steps = steps[: int(gaps[0]) + 1 if gaps.size else steps.size]
    length = float(streets.length_m[segment])
    ahead = bool(course.forward[steps[0]])
    share = float(places.fraction[row])
    position = (share if ahead else 1.0 - share) * length
    entered = 0.0
    if steps[0] == 0:
        entered = (start_fraction if ahead else 1.0 - start_fraction) * length
    begin, end = course.distance_m[steps[0]], course.distance_m[steps[-1] + 1]
    return float(np.clip(begin + position - entered, begin, end))
