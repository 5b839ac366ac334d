"""The best way around whatever is closed, exactly, from two least-time trees.

Times differ by direction here, and that breaks the textbook shortcut (tree from the start, one
arc, tree towards home), because the second tree may run through the closure itself. Three facts
make an exact answer cheap all the same:

* a place whose way from the start avoids the closure keeps its least time, so every way around
  is such a tree way, then one arc into the part of the tree that is cut off, then on from there;
* the open least time to home never exceeds the closed one, so it can lead a best-first search;
* where the open way home avoids the closure, the two are equal, and the search is over.

Mostly the very first arc ends it, and nothing is searched at all.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from simulator.route.trees import (
    Arcs,
    FloatArray,
    Outward,
    SmallArray,
    homeward,
    lateness,
    outward,
)

LIMIT_SHARES = (0.01, 0.03, 0.1, 0.3, np.inf)
"""Detours up to this share of the trip are looked for first; few closures need the whole map."""

NO_ARC = -1
"""Stands for the arc, and the node, before one that a search began with."""


@dataclass(frozen=True, slots=True)
class Around:
    """The best way when something is closed.

    Attributes
    ----------
    cost_s : float
        Its time; infinite when there is no way [s].
    extra_s : float
        Time lost against the open way, >= 0 [s].
    first : tuple of int
        Nodes from the origin to where it leaves the ways that were best before.
    middle : tuple of int
        Arcs from there to where it is the open way home again.
    joins : int
        That node; -1 when there is no way.
    """

    cost_s: float
    extra_s: float
    first: tuple[int, ...]
    middle: tuple[int, ...]
    joins: int


NO_WAY = Around(float("inf"), float("inf"), (), (), -1)
"""What is left when everything is cut off."""


class Detours:
    """One trip, prepared so that the best way around any closure is found at once.

    Parameters
    ----------
    arcs : Arcs
        The graph.
    cost_s : ndarray of float, shape (A,)
        Time along each arc, > 0, infinite where it may not be walked [s].
    origin, destination : int
        Nodes the trip joins.

    Attributes
    ----------
    open_way : Around
        The least-time way with nothing closed.
    """

    def __init__(self, arcs: Arcs, cost_s: FloatArray, origin: int, destination: int) -> None:
        self.arcs, self.cost_s = arcs, cost_s
        self.origin, self.destination = origin, destination
        self.home = homeward(arcs, cost_s, destination)
        self.open_s = float(self.home.time_s[origin])
        self.open_way = (
            Around(self.open_s, 0.0, (origin,), (), origin) if np.isfinite(self.open_s) else NO_WAY
        )
        self._levels: dict[float, Outward] = {}

    def outward(self, share: float) -> Outward:
        """Give the ways from the origin that are late by no more than a share of the trip.

        Parameters
        ----------
        share : float
            Greatest lateness over the least time of the trip; infinite for all nodes.

        Returns
        -------
        Outward
            Grown once for each share.
        """
        if share not in self._levels:
            self._levels[share] = outward(
                self.arcs,
                self.cost_s,
                self.home,
                self.origin,
                steps=self._steps,
                limit_s=share * self.open_s,
            )
        return self._levels[share]

    @cached_property
    def _steps(self) -> csr_array:
        """Time lost by each step."""
        return lateness(self.arcs, self.cost_s, self.home)

    def limits_used(self) -> set[float]:
        """Shares of the trip for which ways out have been grown so far."""
        return set(self._levels)

    @cached_property
    def onward(self) -> list[int]:
        """The next node on the open way home, by node."""
        nodes: list[int] = self.home.onward.tolist()
        return nodes

    @cached_property
    def step(self) -> dict[int, int]:
        """Position along the open way, by node."""
        node = self.origin
        step: dict[int, int] = {}
        while node >= 0:
            step[node] = len(step)
            node = self.onward[node]
        return step

    def without(self, edges: Iterable[int] | NDArray[np.integer]) -> Around:
        """Find the best way when some edges are closed, both ways.

        Parameters
        ----------
        edges : iterable of int
            The edges that are closed.

        Returns
        -------
        Around
            Exact. The open way when the closure does not touch it.
        """
        if self.open_way is NO_WAY:
            return NO_WAY
        closure = _Closure(self, edges)
        if not closure.bars(self.origin):
            return self.open_way
        for share in LIMIT_SHARES:
            found = self._within(self.outward(share), closure)
            if found is not None:
                return found
        return NO_WAY

    def from_node(self, node: int, edges: Iterable[int] | NDArray[np.integer]) -> Around:
        """Find the best way home for someone who stands at a node and finds edges closed.

        Parameters
        ----------
        node : int
            Where the closure is met.
        edges : iterable of int
            The edges that are closed.

        Returns
        -------
        Around
            Its cost, and its extra, count from the node: what the surprise costs there.
        """
        home_s = float(self.home.time_s[node])
        if not np.isfinite(home_s):
            return NO_WAY
        found = self._search([(0.0, node, NO_ARC)], _Closure(self, edges), np.inf)
        if found is None:
            return NO_WAY
        late_s, middle, joins = found
        return Around(home_s + late_s, late_s, (node,), middle, joins)

    def way(self, around: Around) -> tuple[int, ...]:
        """Give all arcs of a way around.

        Parameters
        ----------
        around : Around
            From ``without`` or ``from_node``.

        Returns
        -------
        tuple of int
            From the first of its nodes to home; empty when there is no way.
        """
        if around.joins < 0:
            return ()
        first = (self.cheapest(*pair) for pair in itertools.pairwise(around.first))
        return (*first, *around.middle, *self._home_way(around.joins))

    def _within(self, tree: Outward, closure: _Closure) -> Around | None:
        """Find the best way around that is late by no more than a tree's limit, if any."""
        slices = self._cut_off(tree, closure)
        late_s, entry = self._entries(tree, slices)
        seeds: list[tuple[float, int, int]] = []
        best, bound_s = -1, tree.limit_s
        for row in _ascending(late_s):
            if int(entry[row]) in closure.closed:
                continue
            node = int(self.arcs.head[entry[row]])
            if not closure.bars(node):
                best, bound_s = row, float(late_s[row])
                break
            seeds.append((float(late_s[row]), node, int(entry[row])))
        found = self._search(seeds, closure, bound_s, (tree, slices)) if seeds else None
        if found is None:
            if best < 0:
                return None
            found = bound_s, (int(entry[best]),), int(self.arcs.head[entry[best]])
        extra_s, middle, joins = found
        node, before, first = int(self.arcs.tail[middle[0]]), tree.before_list, []
        while node >= 0:
            first.append(node)
            node = before[node]
        return Around(self.open_s + extra_s, extra_s, tuple(reversed(first)), middle, joins)

    def _cut_off(self, tree: Outward, closure: _Closure) -> list[tuple[int, int]]:
        """Give the runs of a tree's order that a closure cuts off, outermost only."""
        tail, head = self.arcs.tail[closure.arcs], self.arcs.head[closure.arcs]
        cut = closure.arcs[tree.before[head] == tail]
        cheapest = [arc for arc in cut.tolist() if self.is_cheapest(arc)]
        places = set(tree.place[self.arcs.head[cheapest]].tolist())
        runs: list[tuple[int, int]] = []
        for place in sorted(places):
            if not runs or place >= runs[-1][1]:
                runs.append(tree.below(place))
        return runs

    def _entries(
        self, tree: Outward, slices: Sequence[tuple[int, int]]
    ) -> tuple[FloatArray, SmallArray]:
        """Give the arcs from what keeps its time into what is cut off, and their lateness."""
        late, entries = [np.empty(0)], [np.empty(0, np.int32)]
        for first, last in slices:
            run = slice(int(tree.first[first]), int(tree.first[last]))
            start, late_s = tree.entry_from[run], tree.entry_late_s[run]
            rows = np.flatnonzero(((start < first) | (start >= last)) & (late_s < np.inf))
            for other_first, other_last in slices:
                if other_first != first:
                    rows = rows[(start[rows] < other_first) | (start[rows] >= other_last)]
            late.append(late_s[rows])
            entries.append(tree.entry[run][rows])
        return np.concatenate(late), np.concatenate(entries)

    def _search(
        self,
        seeds: list[tuple[float, int, int]],
        closure: _Closure,
        bound_s: float,
        within: tuple[Outward, Sequence[tuple[int, int]]] | None = None,
    ) -> tuple[float, tuple[int, ...], int] | None:
        """Search best-first, led by the open time home, for a node whose open way home is free.

        Gives its lateness, the arcs from the seed to it, and the node; None when nothing is
        found that is earlier than the bound.
        """
        arcs, cost_s, home_s = self.arcs, self.cost_s, self.home.time_s
        heap = [(late_s, node, arc, NO_ARC) for late_s, node, arc in seeds]
        heapq.heapify(heap)
        by: dict[int, tuple[int, int]] = {}
        while heap:
            late_s, node, arc, before = heapq.heappop(heap)
            if node in by:
                continue
            by[node] = (arc, before)
            if not closure.bars(node):
                return late_s, _unwound(by, node), node
            leaving = slice(int(arcs.start[node]), int(arcs.start[node + 1]))
            heads = arcs.head[leaving]
            onward_s = late_s + np.maximum(cost_s[leaving] + home_s[heads] - home_s[node], 0.0)
            for onward, (head, head_late_s) in enumerate(
                zip(heads.tolist(), onward_s.tolist(), strict=True), leaving.start
            ):
                if head_late_s < bound_s and head not in by and onward not in closure.closed:
                    if within is not None and not _inside(int(within[0].place[head]), within[1]):
                        continue
                    heapq.heappush(heap, (head_late_s, head, onward, node))
        return None

    def _home_way(self, node: int) -> tuple[int, ...]:
        """Give the arcs of the open way home from a node."""
        way = []
        while (onward := self.onward[node]) >= 0:
            way.append(self.cheapest(node, onward))
            node = onward
        return tuple(way)

    def is_cheapest(self, arc: int) -> bool:
        """Tell whether a least-time way between the nodes of an arc takes that arc.

        Parameters
        ----------
        arc : int
            The arc.

        Returns
        -------
        bool
            False where a parallel arc is cheaper.
        """
        arcs = self.arcs
        return bool(arcs.alone[arc]) or arc == self.cheapest(
            int(arcs.tail[arc]), int(arcs.head[arc])
        )

    def cheapest(self, tail: int, head: int) -> int:
        """Find the cheapest arc between two neighbours.

        Parameters
        ----------
        tail, head : int
            The nodes; some arc leads from one to the other.

        Returns
        -------
        int
            The first of the cheapest arcs.
        """
        leaving = slice(int(self.arcs.start[tail]), int(self.arcs.start[tail + 1]))
        rows = np.flatnonzero(self.arcs.head[leaving] == head) + leaving.start
        return int(rows[self.cost_s[rows].argmin()])


class _Closure:
    """What is closed, and which nodes have it on their open way home."""

    def __init__(self, trip: Detours, edges: Iterable[int] | NDArray[np.integer]) -> None:
        self.arcs = trip.arcs.of_edges(np.unique(np.fromiter(edges, np.int64)))
        self.closed = frozenset(self.arcs.tolist())
        self._trip = trip
        tail, head = trip.arcs.tail[self.arcs], trip.arcs.head[self.arcs]
        on_way = trip.home.onward[tail] == head
        self._cut = {
            node
            for node, arc in zip(tail[on_way].tolist(), self.arcs[on_way].tolist(), strict=True)
            if trip.is_cheapest(arc)
        }
        self._last = max((trip.step[node] for node in self._cut if node in trip.step), default=-1)
        self._known: dict[int, bool] = {}

    def bars(self, node: int) -> bool:
        """Whether a node's open way home runs through the closure (or it has none)."""
        trip, walked = self._trip, []
        while True:
            if node in self._known:
                barred = self._known[node]
                break
            if node in trip.step:
                barred = trip.step[node] <= self._last
                break
            walked.append(node)
            if node in self._cut:
                barred = True
                break
            if (node := trip.onward[node]) < 0:
                barred = True
                break
        self._known.update(dict.fromkeys(walked, barred))
        return barred


def _ascending(values: FloatArray) -> Iterator[int]:
    """Give the rows from the least value up, in the hope that the first few are enough."""
    if values.size:
        first = int(values.argmin())
        yield first
        yield from (row for row in np.argsort(values, kind="stable").tolist() if row != first)


def _unwound(by: dict[int, tuple[int, int]], node: int) -> tuple[int, ...]:
    """Give the arcs of a search from its seed to a node."""
    way = []
    while True:
        arc, before = by[node]
        if arc != NO_ARC:
            way.append(arc)
        if before == NO_ARC:
            return tuple(reversed(way))
        node = before


def _inside(place: int, runs: Sequence[tuple[int, int]]) -> bool:
    """Whether a place lies in any of some runs."""
    return any(first <= place < last for first, last in runs)
