"""Which places near the way are worth a stop, and when they are reached."""

from __future__ import annotations

import heapq
from bisect import bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.ground.snap import metres_per_degree
from simulator.route.near import distance_off

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import STRtree

    from simulator.ground.places import Places
    from simulator.ground.streets import Streets
    from simulator.walk.course import Course

LEAST_M_PER_DEGREE = 110_000.0
"""Less than any degree of latitude on the WGS84 ellipsoid (110,574 m at the equator) [m]."""

POLE_COSINE = 1e-3
"""Nearer to a pole than this every longitude is within reach."""

ROUNDING_M = 1e-6
"""Distances closer than this are the same point [m]."""


AGAIN_M = 500.0
"""A place is passed again when the way comes back within reach after more than so much of it beyond
reach [m]; an assumption, 300 to 1000."""


@dataclass(frozen=True, slots=True)
class Nearby:
    """Places within reach of the way, in the order they are passed, each as often as it is passed.

    Attributes
    ----------
    place : (C,) int64
        Row in ``Places``; a place passed twice has two rows, which differ in ``step``.
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

    @classmethod
    def ordered(
        cls,
        course: Course,
        place: NDArray[np.int64],
        along_m: NDArray[np.float64],
        off_m: NDArray[np.float64],
    ) -> Nearby:
        """Put passings in order along the way; ties by distance off."""
        order = np.lexsort((off_m, along_m))
        place, along_m, off_m = place[order], along_m[order], off_m[order]
        step = np.searchsorted(course.distance_m, along_m - ROUNDING_M, side="left")
        step = np.minimum(step, course.run_m.size - 1).astype(np.int64)
        _, first = np.unique(np.stack([place, step]), axis=1, return_index=True)
        kept = np.sort(first)
        return cls(place[kept], along_m[kept], off_m[kept], step[kept])

    @property
    def passing(self) -> list[tuple[int, int]]:
        """Tell passings apart: the place and the step before which each is stopped at."""
        return list(zip(self.place.tolist(), self.step.tolist(), strict=True))


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
    both = both_ways(streets, closed) & _about(streets, course, reach_m)
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
    outline = Outline.of(course)
    straight_m, beside_m = outline.beside(places, reach_m)
    # A door in sight of the way is walked to, whatever other street it is put on.
    direct = straight_m < near.off_m
    off_m = np.where(direct, straight_m, near.off_m)
    rows = np.flatnonzero(np.isfinite(off_m))
    again = np.array(sorted(outline.comes_back(places, rows, reach_m)), dtype=np.int64)
    rows = np.setdiff1d(rows, again)
    nodes = dict(reversed(node_passings(streets, course)))

    def along_of(row: int) -> float:
        if direct[row]:
            return float(beside_m[row])
        if (node := int(near.node[row])) >= 0:
            return nodes[node]
        return on_segment_m(
            places, row, streets=streets, course=course, start_fraction=start_fraction
        )[0]

    found = Nearby.ordered(
        course, rows, np.array([along_of(row) for row in rows.tolist()]), off_m[rows]
    )
    if not again.size:
        return found
    reach = Reach(places, streets, walkable=both, reach_m=reach_m, rows=again)
    more = reach.along(course, start_fraction=start_fraction)
    return Nearby.ordered(
        course,
        np.concatenate([found.place, more.place]),
        np.concatenate([found.along_m, more.along_m]),
        np.concatenate([found.off_m, more.off_m]),
    )


def both_ways(streets: Streets, closed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark segments that may be walked in both directions today, since one must come back."""
    both: NDArray[np.bool_] = streets.open_forward & streets.open_backward & ~closed
    return both


class Reach:
    """Every node within reach of places.

    Parameters
    ----------
    places : Places
        Attached to the streets.
    streets : Streets
        The network.
    walkable : (M,) bool
        Segments that may be walked in both directions, since one must come back.
    reach_m : float
        Farthest walk off a way, one direction [m].
    rows : (K,) int64
        Which places.
    """

    def __init__(
        self,
        places: Places,
        streets: Streets,
        *,
        walkable: NDArray[np.bool_],
        reach_m: float,
        rows: NDArray[np.int64],
    ) -> None:
        rows = rows[places.segment[rows] >= 0]
        self.places, self.streets, self.reach_m, self.rows = places, streets, reach_m, rows
        self.walkable = walkable
        kept = np.flatnonzero(walkable)
        ends = np.concatenate([streets.tail[kept], streets.head[kept]])
        others = np.concatenate([streets.head[kept], streets.tail[kept]])
        length = np.tile(streets.length_m[kept], 2)
        order = np.argsort(ends, kind="stable")
        start = np.searchsorted(ends[order], np.arange(streets.lon.size + 1))
        self._links = (start.tolist(), others[order].tolist(), length[order].tolist())
        self.of_node: dict[int, list[tuple[int, float]]] = {}
        self.of_segment: dict[int, list[int]] = {}
        for row in rows.tolist():
            segment = int(places.segment[row])
            if places.access_m[row] <= reach_m:
                self.of_segment.setdefault(segment, []).append(row)
                if walkable[segment]:
                    self._spread(row, segment)

    def _spread(self, row: int, segment: int) -> None:
        """Walk out from one place as far as the reach allows."""
        streets, access = self.streets, float(self.places.access_m[row])
        share, length = float(self.places.fraction[row]), float(streets.length_m[segment])
        queue = [
            (access + share * length, int(streets.tail[segment])),
            (access + (1.0 - share) * length, int(streets.head[segment])),
        ]
        heapq.heapify(queue)
        start, others, lengths = self._links
        done: set[int] = set()
        while queue:
            off_m, node = heapq.heappop(queue)
            if off_m > self.reach_m or node in done:
                continue
            done.add(node)
            self.of_node.setdefault(node, []).append((row, off_m))
            for link in range(start[node], start[node + 1]):
                heapq.heappush(queue, (off_m + lengths[link], others[link]))

    def along(self, course: Course, *, start_fraction: float) -> Nearby:
        """Find the places within reach of one way.

        Parameters
        ----------
        course : Course
            The way.
        start_fraction : float
            Where on its first segment it begins, as a share from the segment's tail.

        Returns
        -------
        Nearby
            In order along the way; ties by distance off.
        """
        outline = Outline.of(course)
        offers: list[tuple[int, float, float]] = [
            (row, off_m, along_m)
            for node, along_m in node_passings(self.streets, course)
            for row, off_m in self.of_node.get(node, ())
        ]
        for segment in dict.fromkeys(course.segment.tolist()):
            for row in self.of_segment.get(segment, ()):
                access_m = float(self.places.access_m[row])
                offers += [
                    (row, access_m, along_m)
                    for along_m in on_segment_m(
                        self.places,
                        row,
                        streets=self.streets,
                        course=course,
                        start_fraction=start_fraction,
                    )
                ]
        straight = outline.in_sight(self.places, self.rows, min(self.reach_m, ACROSS_M))
        offers += zip(*(column.tolist() for column in straight), strict=True)
        rows = np.unique([row for row, _off_m, _along_m in offers]).astype(np.int64)
        begins = outline.comes_back(self.places, rows, self.reach_m)
        # The nearest of each passing, the first of several alike.
        best: dict[tuple[int, int], tuple[float, float]] = {}
        for row, off_m, along_m in offers:
            number = bisect_right(begins[row], along_m + ROUNDING_M) if row in begins else 0
            known_m, there_m = best.get((row, number), (np.inf, np.inf))
            nearer = off_m < known_m - ROUNDING_M
            if nearer or (off_m <= known_m + ROUNDING_M and along_m < there_m):
                best[row, number] = (off_m, along_m)
        off, along = np.array(list(best.values())).reshape(-1, 2).T
        place = np.array([row for row, _number in best], dtype=np.int64)
        return Nearby.ordered(course, place, along, off)


ACROSS_M = 40.0
"""A place this near the way in a straight line is reached from it, though another street is nearer
still: across a forecourt, a car park or a verge [m]; an assumption, 20 to 60."""


@dataclass(frozen=True, slots=True)
class Outline:
    """A way drawn on a plane.

    Attributes
    ----------
    course : Course
        The way.
    scale_m : tuple of float
        Metres in a degree east and north.
    lines : ndarray of object
        Its steps as lines [m].
    tree : shapely.STRtree
        Of the lines.
    """

    course: Course
    scale_m: tuple[float, float]
    lines: NDArray[np.object_]
    tree: STRtree

    @classmethod
    def of(cls, course: Course) -> Outline:
        """Draw a way."""
        import shapely

        east, north = (float(scale) for scale in metres_per_degree(float(course.lat.mean())))
        corners = np.column_stack([course.lon * east, course.lat * north])
        lines = np.asarray(
            shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)), dtype=object
        )
        return cls(course, (east, north), lines, shapely.STRtree(lines))

    def _near(
        self, places: Places, rows: NDArray[np.int64], within_m: float
    ) -> tuple[NDArray[np.int64], NDArray[np.object_], NDArray[np.intp]]:
        """List places and steps so near to each other: row, point and step."""
        import shapely

        east, north = self.scale_m
        x, y = places.lon[rows] * east, places.lat[rows] * north
        inside = np.ones(rows.size, dtype=bool)
        for values, corners, scale in ((x, self.course.lon, east), (y, self.course.lat, north)):
            inside &= values >= corners.min() * scale - within_m
            inside &= values <= corners.max() * scale + within_m
        rows = rows[inside]
        points = np.asarray(shapely.points(x[inside], y[inside]), dtype=object)
        found, step = self.tree.query(points, predicate="dwithin", distance=max(within_m, 1e-3))
        return rows[found], points[found], step

    def in_sight(
        self, places: Places, rows: NDArray[np.int64], within_m: float
    ) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
        """List places by steps so near, bridges and tunnels left out: row, off and along [m]."""
        import shapely

        course = self.course
        row, points, step = self._near(places, rows, within_m)
        kept = ~(course.bridge | course.tunnel)[step]
        row, points, step = row[kept], points[kept], step[kept]
        off_m = shapely.distance(points, self.lines[step])
        share = shapely.line_locate_point(self.lines[step], points, normalized=True)
        return row, off_m, course.distance_m[step] + share * course.run_m[step]

    def beside(
        self, places: Places, reach_m: float
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Measure how far each place lies from the way in a straight line, and where along it.

        Bridges and tunnels are passed over, as one does not step off them; so are places that no
        street is near to. Infinite beyond the reach or ``ACROSS_M``; both of shape (K,) [m].
        """
        off_m, along_m = np.full(places.lon.size, np.inf), np.zeros(places.lon.size)
        attached = np.flatnonzero(places.segment >= 0)
        row, off, along = self.in_sight(places, attached, min(reach_m, ACROSS_M))
        # The nearest is written last, and of several alike the first along the way.
        order = np.lexsort((along, np.round(off / ROUNDING_M)))[::-1]
        off_m[row[order]], along_m[row[order]] = off[order], along[order]
        return off_m, along_m

    def comes_back(
        self, places: Places, rows: NDArray[np.int64], reach_m: float
    ) -> dict[int, list[float]]:
        """Find the places that the way comes back to after having gone farther than the reach.

        Gives where along it each comes within reach again, for places that do [m].
        """
        # Measured on a plane, so a little more than the reach.
        row, _points, step = self._near(places, rows, 1.01 * reach_m + 1.0)
        order = np.lexsort((step, row))
        row, step = row[order], step[order]
        distance_m = self.course.distance_m
        gap_m = distance_m[step[1:]] - distance_m[step[:-1] + 1]
        again = 1 + np.flatnonzero((row[1:] == row[:-1]) & (gap_m > AGAIN_M))
        begins: dict[int, list[float]] = {}
        for pair in again.tolist():
            begins.setdefault(int(row[pair]), []).append(float(distance_m[step[pair]]))
        return begins


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


def node_passings(streets: Streets, course: Course) -> list[tuple[int, float]]:
    """List the nodes of a way in order, each as often as it is passed, and where along it [m]."""
    segment, ahead = course.segment, course.forward
    # Turning back on a street is a new run: the end not reached counts as passed where one turns.
    first = np.r_[True, (segment[1:] != segment[:-1]) | (ahead[1:] != ahead[:-1])]
    last = np.r_[first[1:], True]
    enters = np.where(ahead, streets.tail[segment], streets.head[segment])[first]
    leaves = np.where(ahead, streets.head[segment], streets.tail[segment])[last]
    passed = zip(leaves.tolist(), course.distance_m[1:][last].tolist(), strict=True)
    return [(int(enters[0]), 0.0), *passed]


def on_segment_m(
    places: Places, row: int, *, streets: Streets, course: Course, start_fraction: float
) -> list[float]:
    """Measure at what distances along the way a place stands on one of its segments, in order.

    ``start_fraction`` says where on its first segment the way begins, as a share from the tail.
    """
    segment = int(places.segment[row])
    steps = np.flatnonzero(course.segment == segment)
    turns = (np.diff(steps) > 1) | (course.forward[steps[1:]] != course.forward[steps[:-1]])
    length, share = float(streets.length_m[segment]), float(places.fraction[row])
    found, before, left = [], -2, 0.0
    for run in np.split(steps, 1 + np.flatnonzero(turns)):
        ahead = bool(course.forward[run[0]])
        position = (share if ahead else 1.0 - share) * length
        begin, end = course.distance_m[run[0]], course.distance_m[run[-1] + 1]
        entered = 0.0
        if run[0] == 0:
            entered = (start_fraction if ahead else 1.0 - start_fraction) * length
        elif run[0] == before + 1:  # turned back on the street
            entered = length - left
        before, left = int(run[-1]), entered + end - begin
        found.append(float(np.clip(begin + position - entered, begin, end)))
    return found
