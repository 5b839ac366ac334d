"""What lies near any way, asked of all places once and then of each way at little cost."""

from __future__ import annotations

import heapq
from typing import TYPE_CHECKING

import numpy as np

from simulator.walk.stops import ROUNDING_M, Nearby, node_distances, on_segment_m

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.ground.places import Places
    from simulator.ground.streets import Streets
    from simulator.walk.course import Course


class Reach:
    """Every node within reach of every place.

    Parameters
    ----------
    places : Places
        Attached to the streets.
    streets : Streets
        The network.
    closed : (M,) bool
        Segments that cannot be walked.
    reach_m : float
        Farthest walk off a way, one direction [m].
    """

    def __init__(
        self,
        places: Places,
        streets: Streets,
        *,
        closed: NDArray[np.bool_],
        reach_m: float,
    ) -> None:
        self.places, self.streets, self.reach_m = places, streets, reach_m
        both = streets.open_forward & streets.open_backward & ~closed
        rows = np.flatnonzero(both)
        ends = np.concatenate([streets.tail[rows], streets.head[rows]])
        others = np.concatenate([streets.head[rows], streets.tail[rows]])
        length = np.tile(streets.length_m[rows], 2)
        order = np.argsort(ends, kind="stable")
        start = np.searchsorted(ends[order], np.arange(streets.lon.size + 1))
        self._links = (start.tolist(), others[order].tolist(), length[order].tolist())
        self.of_node: dict[int, list[tuple[int, float]]] = {}
        self.of_segment: dict[int, list[int]] = {}
        for row, segment in enumerate(places.segment.tolist()):
            if segment >= 0 and places.access_m[row] <= reach_m:
                self.of_segment.setdefault(segment, []).append(row)
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
        passed = node_distances(self.streets, course)
        best: dict[int, tuple[float, float]] = {}
        for node, along_m in passed.items():
            for row, off_m in self.of_node.get(node, ()):
                if row not in best or off_m < best[row][0]:
                    best[row] = (off_m, along_m)
        for segment in dict.fromkeys(course.segment.tolist()):
            for row in self.of_segment.get(segment, ()):
                along_m = on_segment_m(
                    self.places,
                    row,
                    streets=self.streets,
                    course=course,
                    start_fraction=start_fraction,
                )
                best[row] = (float(self.places.access_m[row]), along_m)
        rows = np.array(sorted(best), dtype=np.int64)
        off = np.array([best[row][0] for row in rows.tolist()])
        along = np.array([best[row][1] for row in rows.tolist()])
        order = np.lexsort((off, along))
        step = np.searchsorted(course.distance_m, along[order] - ROUNDING_M, side="left")
        return Nearby(
            place=rows[order],
            along_m=along[order],
            off_m=off[order],
            step=np.minimum(step, course.run_m.size - 1).astype(np.int64),
        )
