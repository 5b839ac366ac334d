"""What lies near a way, measured along the streets and not through walls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

if TYPE_CHECKING:
    from numpy.typing import NDArray

NO_NODE = -9999
"""What scipy writes where a search did not come."""


@dataclass(frozen=True, slots=True)
class Nearness:
    """How far off a way each place lies.

    Attributes
    ----------
    off_m : (K,) float64
        Walking distance from the way to the place, one direction [m]; infinite beyond reach.
    node : (K,) int64
        Node of the way at which one leaves it, -1 when the place stands on the way itself or
        is beyond reach.
    """

    off_m: NDArray[np.float64]
    node: NDArray[np.int64]


def distance_off(
    tail: NDArray[np.int32],
    head: NDArray[np.int32],
    length_m: NDArray[np.float64],
    *,
    walkable: NDArray[np.bool_],
    nodes: int,
    way_segments: NDArray[np.int32],
    segment: NDArray[np.int32],
    fraction: NDArray[np.float64],
    access_m: NDArray[np.float64],
    reach_m: float,
) -> Nearness:
    """Measure the walk from a way to each place.

    Parameters
    ----------
    tail, head : (M,) int32
        Ends of the segments.
    length_m : (M,) float64
        Segment lengths [m].
    walkable : (M,) bool
        Segments that may be walked in both directions, since one must come back.
    nodes : int
        Number of nodes.
    way_segments : (K,) int32
        Segments of the way.
    segment, fraction, access_m : (P,)
        Where each place meets the streets: segment (-1 for none), share from its tail, and the
        distance from the street to the door [m]. One on a street that may not be walked is out of
        reach.
    reach_m : float
        Places farther off are left out [m].

    Returns
    -------
    Nearness
        One row a place.
    """
    row, column = tail[walkable], head[walkable]
    # Parallel segments: the shorter one counts; coo_matrix would add them up.
    order = np.argsort(-length_m[walkable], kind="stable")
    weight = length_m[walkable][order]
    key_low = np.minimum(row, column)[order].astype(np.int64)
    key_high = np.maximum(row, column)[order].astype(np.int64)
    _, last = np.unique((key_low * nodes + key_high)[::-1], return_index=True)
    kept = weight.size - 1 - last
    matrix = sparse.csr_array((weight[kept], (key_low[kept], key_high[kept])), shape=(nodes, nodes))
    starts = np.unique(np.concatenate([tail[way_segments], head[way_segments]])).astype(np.int32)
    distance, _, source = csgraph.dijkstra(
        matrix,
        directed=False,
        indices=starts,
        min_only=True,
        limit=reach_m,
        return_predecessors=True,
    )
    attached = segment >= 0
    at = np.where(attached, segment, 0)
    by_tail = distance[tail[at]] + fraction * length_m[at]
    by_head = distance[head[at]] + (1.0 - fraction) * length_m[at]
    first = by_tail <= by_head
    off = np.where(first, by_tail, by_head) + access_m
    node = np.where(first, source[tail[at]], source[head[at]]).astype(np.int64)
    on_way = attached & np.isin(segment, way_segments)
    off = np.where(on_way, access_m, off)
    # The last street is walked, too: a tap on a closed one is not reached from its open end.
    beyond = ~attached | ~(on_way | walkable[at]) | ~(off <= reach_m)
    off = np.where(beyond, np.inf, off)
    node = np.where(on_way | beyond | (node == NO_NODE), -1, node)
    return Nearness(off_m=off, node=node)
