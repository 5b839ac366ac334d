"""Least-time trees of a trip, laid out so that any closure can be judged from them.

The junction graph is held as arcs, both directions of every edge, in an order that depends on
the map alone. Costs are laid over it for each question. A closed direction costs infinity.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, csr_array
from scipy.sparse.csgraph import depth_first_order, dijkstra

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.int64]
SmallArray = NDArray[np.int32]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Arcs:
    """Both directions of every edge, ordered by where they start and end.

    Attributes
    ----------
    n_nodes : int
        Number of nodes, N.
    tail, head : ndarray of int, shape (A,)
        Nodes each arc joins; A is twice the number of edges.
    edge : ndarray of int, shape (A,)
        Edge each arc runs along.
    forward : ndarray of bool, shape (A,)
        Whether it runs as the edge is drawn.
    start : ndarray of int, shape (N + 1,)
        Arcs leaving node i are ``start[i]:start[i + 1]``.
    twin : ndarray of int, shape (A,)
        The arc of the same edge the other way.
    """

    n_nodes: int
    tail: SmallArray
    head: SmallArray
    edge: SmallArray
    forward: BoolArray
    start: SmallArray
    twin: SmallArray

    @classmethod
    def build(cls, tail: SmallArray, head: SmallArray, n_nodes: int) -> Arcs:
        """Lay out the arcs of some edges."""
        count = tail.size
        both_tail = np.concatenate([tail, head]).astype(np.int64)
        both_head = np.concatenate([head, tail]).astype(np.int64)
        order = np.argsort(both_tail * n_nodes + both_head, kind="stable")
        place = np.empty(2 * count, np.int32)
        place[order] = np.arange(2 * count)
        starts = np.zeros(n_nodes + 1, np.int32)
        np.cumsum(np.bincount(both_tail, minlength=n_nodes), out=starts[1:])
        return cls(
            n_nodes,
            both_tail[order].astype(np.int32),
            both_head[order].astype(np.int32),
            (order % count).astype(np.int32),
            order < count,
            starts,
            place[(order + count) % (2 * count)],
        )

    @cached_property
    def pair_first(self) -> IndexArray:
        """First arc of each pair of nodes: parallel edges stand together."""
        changes = (np.diff(self.tail) != 0) | (np.diff(self.head) != 0)
        return np.flatnonzero(np.concatenate([[True], changes]))

    @cached_property
    def pair_of(self) -> SmallArray:
        """Pair of nodes each arc belongs to, shape (A,)."""
        marks = np.zeros(self.tail.size, np.int32)
        marks[self.pair_first[1:]] = 1
        return np.cumsum(marks, dtype=np.int32)

    @cached_property
    def pair_start(self) -> SmallArray:
        """Pairs that leave node i are ``pair_start[i]:pair_start[i + 1]``."""
        starts = np.searchsorted(self.pair_first, self.start)
        return starts.astype(np.int32)

    @cached_property
    def pair_ends(self) -> tuple[SmallArray, SmallArray]:
        """Nodes each pair joins: where its arcs start, and where they end."""
        return self.tail[self.pair_first], self.head[self.pair_first]

    @cached_property
    def parallel(self) -> IndexArray:
        """Arcs that share both their nodes with another arc."""
        sizes = np.diff(np.append(self.pair_first, self.tail.size))
        return np.flatnonzero(sizes[self.pair_of] > 1)

    @cached_property
    def alone(self) -> BoolArray:
        """Whether no other arc joins the same nodes the same way, shape (A,)."""
        alone = np.ones(self.tail.size, bool)
        alone[self.parallel] = False
        return alone

    def costs(self, cost_forward_s: FloatArray, cost_backward_s: FloatArray) -> FloatArray:
        """Lay the costs of the edges over the arcs."""
        return np.where(self.forward, cost_forward_s[self.edge], cost_backward_s[self.edge])

    def of_edges(self, edges: NDArray[np.integer]) -> SmallArray:
        """Give both arcs of some edges."""
        first = self.place[edges]
        return np.concatenate([first, self.twin[first]])

    @cached_property
    def place(self) -> SmallArray:
        """The forward arc of each edge, shape (E,)."""
        place = np.empty(self.tail.size // 2, np.int32)
        rows = np.flatnonzero(self.forward)
        place[self.edge[rows]] = rows
        return place


@dataclass(frozen=True)
class Homeward:
    """Least time from every node to one.

    Attributes
    ----------
    time_s : ndarray of float, shape (N,)
        Infinite where there is no way [s].
    onward : ndarray of int, shape (N,)
        The next node of the least-time way; negative at the end and where there is no way.
    """

    time_s: FloatArray
    onward: SmallArray


@dataclass(frozen=True)
class Outward:
    """The ways that lead from one node towards another and are late by no more than a limit.

    Lateness is the time lost against the least time of the trip when home is then made in the
    least time. The nodes stand in the order of a walk of the tree, each before all those below
    it, so that what a closed arc of the tree cuts off stands together.

    Attributes
    ----------
    limit_s : float
        Greatest lateness that is looked at [s].
    late_s : ndarray of float, shape (N,)
        Lateness of each node; infinite beyond the limit [s].
    before : ndarray of int, shape (N,)
        The node before each on its way; negative at the root and beyond the limit.
    place : ndarray of int, shape (N,)
        Position of each node in the order; N beyond the limit.
    order : ndarray of int, shape (R,)
        Nodes within the limit.
    above : ndarray of int, shape (R,)
        Position of the node before each, by position.
    first : ndarray of int, shape (R + 1,)
        Arcs into the node at position i are ``entry[first[i]:first[i + 1]]``.
    entry : ndarray of int
        Arcs by the position of the node they lead to.
    entry_from : ndarray of int
        Position of the node each of them comes from.
    entry_late_s : ndarray of float
        Lateness of the way by each of them [s].
    """

    limit_s: float
    late_s: FloatArray
    before: SmallArray
    place: SmallArray
    order: SmallArray
    above: SmallArray
    first: IndexArray
    entry: SmallArray
    entry_from: SmallArray
    entry_late_s: FloatArray

    @cached_property
    def before_list(self) -> list[int]:
        """``before`` for walking it step by step."""
        nodes: list[int] = self.before.tolist()
        return nodes

    def below(self, place: int) -> tuple[int, int]:
        """Give the positions of a node and of all below it."""
        outside = self.above[place + 1 :] < place
        size = int(outside.argmax()) if outside.size else 0
        if outside.size and not outside[size]:
            size = outside.size
        return place, place + 1 + size


def homeward(arcs: Arcs, cost_s: FloatArray, destination: int) -> Homeward:
    """Find the least time to one node from all others."""
    back_s = _by_pair(arcs, cost_s[arcs.twin])
    size = (arcs.n_nodes, arcs.n_nodes)
    matrix = csr_array((back_s, arcs.pair_ends[1], arcs.pair_start), shape=size)
    time_s, onward = _dijkstra(matrix, destination, np.inf)
    return Homeward(time_s, onward)


def lateness(arcs: Arcs, cost_s: FloatArray, home: Homeward) -> csr_array:
    """Give the time each step loses against going home from where it begins in least time."""
    tail, head = arcs.pair_ends
    with np.errstate(invalid="ignore"):
        step_s = _by_pair(arcs, cost_s) + home.time_s[head] - home.time_s[tail]
    np.maximum(step_s, 0.0, out=step_s)
    step_s[np.isnan(step_s)] = np.inf
    return csr_array((step_s, head, arcs.pair_start), shape=(arcs.n_nodes, arcs.n_nodes))


def outward(
    arcs: Arcs,
    cost_s: FloatArray,
    home: Homeward,
    origin: int,
    *,
    steps: csr_array,
    limit_s: float,
) -> Outward:
    """Grow the ways from a node that are late by no more than a limit."""
    late_s, before = _dijkstra(steps, origin, limit_s)
    reached = before >= 0
    starts = np.zeros(arcs.n_nodes + 1, np.int32)
    np.cumsum(reached, out=starts[1:])
    parents = before[reached]
    size = (arcs.n_nodes, arcs.n_nodes)
    tree = csc_array((np.ones(parents.size), parents, starts), shape=size).tocsr()
    order = depth_first_order(tree, origin, return_predecessors=False)
    place = np.full(arcs.n_nodes, arcs.n_nodes, np.int32)
    place[order] = np.arange(order.size, dtype=np.int32)
    above = np.full(order.size, -1, np.int32)
    above[1:] = place[before[order[1:]]]
    first = np.zeros(order.size + 1, np.int64)
    counts = arcs.start[order + 1] - arcs.start[order]
    np.cumsum(counts, out=first[1:])
    leaving = np.repeat(arcs.start[order] - first[:-1], counts) + np.arange(first[-1])
    entry = arcs.twin[leaving]
    came_from = arcs.tail[entry]
    with np.errstate(invalid="ignore"):
        step_s = cost_s[entry] + np.repeat(home.time_s[order], counts) - home.time_s[came_from]
        entry_late_s = late_s[came_from] + np.maximum(step_s, 0.0)
    entry_late_s[~(entry_late_s <= limit_s)] = np.inf
    return Outward(
        limit_s,
        late_s,
        before,
        place,
        order,
        above,
        first,
        entry,
        place[came_from],
        entry_late_s,
    )


def _by_pair(arcs: Arcs, along_s: FloatArray) -> FloatArray:
    """Take the cheapest of parallel arcs."""
    least_s = along_s[arcs.pair_first]
    np.minimum.at(least_s, arcs.pair_of[arcs.parallel], along_s[arcs.parallel])
    return least_s


def _dijkstra(matrix: csr_array, root: int, limit_s: float) -> tuple[FloatArray, SmallArray]:
    """Find least times from a node, and the node before each."""
    time_s, before = dijkstra(
        matrix, directed=True, indices=root, return_predecessors=True, limit=limit_s
    )  # type: ignore[call-overload]  # the stubs leave out a single root
    return time_s, before
