"""Pairs of closures that are worse together than either alone."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise
from math import comb
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

from simulator.arrays import Floats, Position
from simulator.route.search import Held, Network, Path, Waits, checked, summed
from simulator.route.trees import Arcs, Outward, SmallArray, homeward, lateness, outward

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


class PreparedTrip:
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

    def __init__(self, arcs: Arcs, cost_s: Floats, origin: int, destination: int) -> None:
        self.arcs, self.cost_s = arcs, cost_s
        self.origin, self.destination = origin, destination
        self.home = homeward(arcs, cost_s, destination)
        self.open_s = float(self.home.time_s[origin])
        self.open_way = (
            Around(self.open_s, 0.0, (origin,), (), origin) if np.isfinite(self.open_s) else NO_WAY
        )
        self._levels: dict[float, Outward] = {}

    def outward(self, share: float) -> Outward:
        """Give the ways from the origin that are late by no more than a share of the trip."""
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
        """Find the best way when some edges are closed, both ways."""
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
        """Find the best way home for someone who stands at a node and finds edges closed."""
        home_s = float(self.home.time_s[node])
        if not np.isfinite(home_s):
            return NO_WAY
        found = self._search([(0.0, node, NO_ARC)], _Closure(self, edges), np.inf)
        if found is None:
            return NO_WAY
        late_s, middle, joins = found
        return Around(home_s + late_s, late_s, (node,), middle, joins)

    def way(self, around: Around) -> tuple[int, ...]:
        """Give all arcs of a way around."""
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
    ) -> tuple[Floats, SmallArray]:
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
        """Search best-first, led by the open time home, for a node whose open way home is free."""
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
        """Tell whether a least-time way between the nodes of an arc takes that arc."""
        arcs = self.arcs
        return bool(arcs.alone[arc]) or arc == self.cheapest(
            int(arcs.tail[arc]), int(arcs.head[arc])
        )

    def cheapest(self, tail: int, head: int) -> int:
        """Find the cheapest arc between two neighbours."""
        leaving = slice(int(self.arcs.start[tail]), int(self.arcs.start[tail + 1]))
        rows = np.flatnonzero(self.arcs.head[leaving] == head) + leaving.start
        return int(rows[self.cost_s[rows].argmin()])


class _Closure:
    """What is closed, and which nodes have it on their open way home."""

    def __init__(self, trip: PreparedTrip, edges: Iterable[int] | NDArray[np.integer]) -> None:
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


def _ascending(values: Floats) -> Iterator[int]:
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


class TreePoint(NamedTuple):
    """A place on a string.

    Attributes
    ----------
    place : int
        Position of its segment in the strings.
    share : float
        Share of that segment that lies before it, along the string, 0 to 1.
    """

    place: int
    share: float


class StringPart(NamedTuple):
    """A stretch of a string between two points.

    Attributes
    ----------
    string : int
        The string it is part of.
    low, high : TreePoint
        Where it begins and ends, along the string.
    tail, head : int
        Nodes there: a junction, or an end of the trip.
    """

    string: int
    low: TreePoint
    high: TreePoint
    tail: int
    head: int


@dataclass(frozen=True, slots=True)
class Profile:
    """What a blockage of each street of a way costs.

    Attributes
    ----------
    known_extra_s : ndarray of float, shape (K,)
        Time lost when it is known on setting out; infinite where there is no way around [s].
    met_extra_s : ndarray of float, shape (K,)
        Time lost when it is met on arrival: back to the last junction, and on from there;
        infinite where there is no way around [s].
    """

    known_extra_s: Floats
    met_extra_s: Floats


@dataclass(frozen=True)
class Layout:
    """The strings of a network, cut at the two ends of one trip.

    Attributes
    ----------
    network : Network
        The streets.
    origin, destination : tuple of int and float
        Segment and share from its tail, of both ends.
    parts : tuple of StringPart
        What became of the strings that were cut.
    arcs : Arcs
        Edges 0 to C - 1 are the strings of the network, the parts follow.
    """

    network: Network
    origin: Position
    destination: Position
    parts: tuple[StringPart, ...]
    arcs: Arcs

    @classmethod
    def build(cls, network: Network, origin: Position, destination: Position) -> Layout:
        """Cut the strings that a trip begins and ends on.

        Parameters
        ----------
        network : Network
            The streets.
        origin, destination : tuple of int and float
            Segment, and share of it from its tail, 0 to 1.

        Returns
        -------
        Layout
            Depends on the map and the two ends only, not on times or closures.
        """
        strings = network.strings
        junctions = strings.junction.size
        points: dict[int, list[tuple[TreePoint, int]]] = {}
        for node, (segment, fraction) in enumerate((origin, destination), junctions):
            place = int(network.place[segment])
            share = fraction if strings.along[place] else 1.0 - fraction
            string = int(np.searchsorted(strings.start, place, side="right")) - 1
            points.setdefault(string, []).append((TreePoint(place, float(share)), node))
        parts = []
        for string, stops in points.items():
            first = (TreePoint(int(strings.start[string]), 0.0), int(strings.first[string]))
            last = (TreePoint(int(strings.start[string + 1]) - 1, 1.0), int(strings.last[string]))
            ordered = [first, *sorted(stops), last]
            for (low, tail), (high, head) in pairwise(ordered):
                parts.append(StringPart(string, low, high, tail, head))
        arcs = Arcs.build(
            np.append(strings.first, [part.tail for part in parts]).astype(np.int32),
            np.append(strings.last, [part.head for part in parts]).astype(np.int32),
            junctions + 2,
        )
        return cls(network, origin, destination, tuple(parts), arcs)

    @cached_property
    def cut_strings(self) -> tuple[int, ...]:
        """The strings that parts stand in for."""
        return tuple(sorted({part.string for part in self.parts}))

    def edges(self, segments: Iterable[int] | NDArray[np.integer]) -> list[int]:
        """Give the edges that closing some segments closes.

        Parameters
        ----------
        segments : iterable of int
            Segments of the streets.

        Returns
        -------
        list of int
            Whole strings by number, then parts.
        """
        strings = self.network.strings
        places = self.network.place[np.fromiter(segments, np.int64)]
        places = places[places >= 0]
        found = np.unique(np.searchsorted(strings.start, places, side="right") - 1).tolist()
        edges = [string for string in found if string not in self.cut_strings]
        if len(edges) < len(found):
            for number, part in enumerate(self.parts, strings.first.size):
                low = part.low.place + (part.low.share == 1.0)
                high = part.high.place - (part.high.share == 0.0)
                if ((places >= low) & (places <= high)).any():
                    edges.append(number)
        return edges

    def costs(self, along_s: Floats, against_s: Floats, waits: Held) -> Floats:
        """Lay the times of the segments over the arcs.

        Parameters
        ----------
        along_s, against_s : ndarray of float, by place in the strings
            Time of each segment along its string, against it; infinite where closed [s].
        waits : Held
            What of it is a wait at the far end [s].

        Returns
        -------
        ndarray of float, shape (A,)
            Time along each arc [s].
        """
        start = self.network.strings.start[:-1]
        there, back = np.add.reduceat(along_s, start), np.add.reduceat(against_s, start)
        there[list(self.cut_strings)] = back[list(self.cut_strings)] = np.inf
        ahead, behind = (
            [_stretch_s(cost_s, waits, part, along=along) for part in self.parts]
            for cost_s, along in ((along_s, True), (against_s, False))
        )
        return self.arcs.costs(np.append(there, ahead), np.append(back, behind))


class TimedTrip:
    """A trip under given costs, ready to say what any closure costs.

    Ways are chosen by cost. Where that is not time, such as time made longer beside traffic, what
    a way takes is told in time all the same.

    Parameters
    ----------
    layout : Layout
        The streets and the two ends.
    cost_forward_s, cost_backward_s : ndarray of float, shape (M,)
        Cost of each segment tail to head, head to tail; > 0, read only where open [s].
    closed : ndarray of bool, shape (M,), optional
        Segments closed from the outset.
    times_s : tuple of two ndarray of float, shape (M,), optional
        Time along each segment tail to head, head to tail; the costs when left out [s].
    waits, waits_s : tuple of two ndarray of float, shape (M,), optional
        What of costs and times is a wait at the far end, as for ``Network.least`` [s].

    Raises
    ------
    ValueError
        A time that is needed is not finite and above zero.
    """

    def __init__(
        self,
        layout: Layout,
        cost_forward_s: Floats,
        cost_backward_s: Floats,
        *,
        closed: NDArray[np.bool_] | None = None,
        times_s: tuple[Floats, Floats] | None = None,
        waits: Waits | None = None,
        waits_s: Waits | None = None,
    ) -> None:
        network, strings = layout.network, layout.network.strings
        self.layout = layout
        self._given = (cost_forward_s, cost_backward_s)
        self._timed = times_s is not None
        self.times_s = self._given if times_s is None else times_s
        none = np.broadcast_to(0.0, network.tail.shape)
        self._waits = waits or (none, none)
        self.waits_s = self._waits if times_s is None else waits_s or (none, none)
        self.closed = np.zeros(network.tail.size, bool) if closed is None else closed
        forth = checked(cost_forward_s, network.open_forward & ~self.closed, "forward")
        back = checked(cost_backward_s, network.open_backward & ~self.closed, "backward")
        forth, back = forth[strings.segment], back[strings.segment]
        self.along_s, self.against_s = strings.ordered(forth, back)
        junctions = strings.junction.size
        cost_s = layout.costs(self.along_s, self.against_s, Held(strings, *self._waits))
        self.detours = PreparedTrip(layout.arcs, cost_s, junctions, junctions + 1)

    @property
    def costs_s(self) -> tuple[Floats, Floats]:
        """Costs of the segments as given, tail to head and head to tail [s]."""
        return self._given

    @property
    def open_way(self) -> Around:
        """The cheapest way with nothing more closed."""
        return self.detours.open_way

    @cached_property
    def _walked_s(self) -> tuple[Floats, Floats]:
        """Time along the strings and against them, by place; infinite where closed [s]."""
        if not self._timed:
            return self.along_s, self.against_s
        network, strings = self.layout.network, self.layout.network.strings
        forth, back = (
            np.where(may & ~self.closed, time_s, np.inf)[strings.segment]
            for may, time_s in zip(
                (network.open_forward, network.open_backward), self.times_s, strict=True
            )
        )
        return strings.ordered(forth, back)

    @cached_property
    def _arc_time_s(self) -> Floats:
        """Time along each arc [s]."""
        strings = self.layout.network.strings
        return self.layout.costs(*self._walked_s, Held(strings, *self.waits_s))

    @cached_property
    def _home_time_s(self) -> dict[int, float]:
        """Time of the open way home, by node, as far as it was asked for [s]."""
        return {self.detours.destination: 0.0}

    def took_s(self, around: Around) -> float:
        """Say how long a way takes, from the first of its nodes to home.

        Parameters
        ----------
        around : Around
            From :meth:`without`, or from a junction.

        Returns
        -------
        float
            Time, whatever the way was chosen by; infinite when there is none [s].
        """
        if around.joins < 0:
            return float("inf")
        first = [self.detours.cheapest(*pair) for pair in pairwise(around.first)]
        arcs = self._arc_time_s[[*first, *around.middle]]
        return float(arcs.sum()) + self._from_s(around.joins)

    def lost_s(self, around: Around) -> float:
        """Say how much later a way is home than the open way from where it begins.

        Parameters
        ----------
        around : Around
            From :meth:`without`, or from a junction.

        Returns
        -------
        float
            Time; below zero where a way that costs more takes less; infinite when there is no
            way [s].
        """
        if not self._timed or around is self.open_way or around.joins < 0:
            return around.extra_s
        return self.took_s(around) - self._from_s(around.first[0])

    def _from_s(self, node: int) -> float:
        """Time of the open way home from a node [s]."""
        known, walked = self._home_time_s, []
        while node not in known:
            walked.append(node)
            node = self.detours.onward[node]
        time_s = known[node]
        for before in reversed(walked):
            time_s += float(self._arc_time_s[self.detours.cheapest(before, node)])
            known[before] = time_s
            node = before
        return time_s

    def without(self, segments: Iterable[int] | NDArray[np.integer]) -> Around:
        """Find the best way when some segments are closed, both ways.

        Parameters
        ----------
        segments : iterable of int
            Segments of the streets.

        Returns
        -------
        Around
            Exact. The open way when the closure does not touch it.
        """
        return self.detours.without(self.layout.edges(segments))

    def closing(self, segments: NDArray[np.integer]) -> TimedTrip:
        """Give the same trip with some segments closed from the outset."""
        closed = self.closed.copy()
        closed[segments] = True
        return TimedTrip(
            self.layout,
            *self._given,
            closed=closed,
            times_s=self.times_s if self._timed else None,
            waits=self._waits,
            waits_s=self.waits_s,
        )

    def path(self, around: Around) -> Path:
        """Unfold a way to segments.

        Parameters
        ----------
        around : Around
            A way from the origin, as :meth:`without` gives it, with a finite cost.

        Returns
        -------
        Path
            Segment by segment.
        """
        begins, ends = self.layout.origin, self.layout.destination
        pieces = [self._pieces(arc) for arc in self.detours.way(around)]
        if not sum(place.size for place, _, _ in pieces):
            here = np.array([begins[0]], np.int32)
            return Path(here, np.ones(1, bool), begins[1], begins[1], 0.0)
        place, along, share = (np.concatenate(column) for column in zip(*pieces, strict=True))
        strings = self.layout.network.strings
        segment, forward = strings.segment[place], along == strings.along[place]
        from_fraction = begins[1] if segment[0] == begins[0] else float(not forward[0])
        to_fraction = ends[1] if segment[-1] == ends[0] else float(forward[-1])
        wait_s = Held(strings, *self._waits).along(place, along)
        cost_s = summed(share, self._cost_s(place, along), wait_s)
        return Path(segment, forward, from_fraction, to_fraction, cost_s)

    def profile(self) -> Profile:
        """Say what a blockage of each segment of the open way costs.

        The street a trip begins or ends on counts as blocked on the stretch that is walked.

        Returns
        -------
        Profile
            One row a segment of ``path(open_way)``.
        """
        arcs, trip = self.layout.arcs, self.detours
        known: list[Floats] = []
        met: list[Floats] = []
        for arc in trip.way(trip.open_way):
            edge = int(arcs.edge[arc])
            place, along, share = self._pieces(arc)
            there_and_back_s = self._time_s(place, along) + self._time_s(place, ~along)
            turning_s = np.concatenate([[0.0], np.cumsum(there_and_back_s * share)])[:-1]
            known.append(np.full(place.size, self.lost_s(trip.without([edge]))))
            met.append(turning_s + self.lost_s(trip.from_node(int(arcs.tail[arc]), [edge])))
        return Profile(np.concatenate([[], *known]), np.concatenate([[], *met]))

    def met_extra_s(self, segments: NDArray[np.integer]) -> float:
        """Say what a closure costs that is found out on reaching it, by the open way.

        Parameters
        ----------
        segments : ndarray of int
            What is closed, such as a bridge.

        Returns
        -------
        float
            Back to the last junction and on from there, against walking on; 0 when the open way
            does not meet it, infinite when there is no way around [s].
        """
        edges = self.layout.edges(segments)
        for arc in self.detours.way(self.open_way):
            if int(self.layout.arcs.edge[arc]) in edges:
                place, along, share = self._pieces(arc)
                closed = np.isin(self.layout.network.strings.segment[place], segments)
                both_s = (self._time_s(place, along) + self._time_s(place, ~along)) * share
                back_s = float(both_s[: int(closed.argmax())].sum())
                node = int(self.layout.arcs.tail[arc])
                return back_s + self.lost_s(self.detours.from_node(node, edges))
        return 0.0

    def _pieces(self, arc: int) -> tuple[NDArray[np.int64], NDArray[np.bool_], Floats]:
        """Give the places an arc runs over, whether along the string, and how much of each."""
        arcs, strings = self.layout.arcs, self.layout.network.strings
        edge, ahead = int(arcs.edge[arc]), bool(arcs.forward[arc])
        if edge < strings.first.size:
            place = np.arange(int(strings.start[edge]), int(strings.start[edge + 1]))
            share = np.ones(place.size)
        else:
            part = self.layout.parts[edge - strings.first.size]
            place, share = _stretch(part)
        if not ahead:
            place, share = place[::-1], share[::-1]
        walked = share > 0.0
        place, share = place[walked], share[walked]
        return place, np.full(place.size, ahead), share

    def _cost_s(self, place: NDArray[np.int64], along: NDArray[np.bool_]) -> Floats:
        """Cost of whole segments, each along its string or against it."""
        return np.where(along, self.along_s[place], self.against_s[place])

    def _time_s(self, place: NDArray[np.int64], along: NDArray[np.bool_]) -> Floats:
        """Time over whole segments, each along its string or against it."""
        ahead, back = self._walked_s
        return np.where(along, ahead[place], back[place])


def _stretch(part: StringPart) -> tuple[NDArray[np.int64], Floats]:
    """Give the places of a part and the share of each that belongs to it."""
    place = np.arange(part.low.place, part.high.place + 1)
    share = np.ones(place.size)
    share[0] -= part.low.share
    share[-1] -= 1.0 - part.high.share
    return place, share


def _stretch_s(cost_s: Floats, waits: Held, part: StringPart, *, along: bool) -> float:
    """Add up the time over a part; of a closed segment that is only touched, nothing counts.

    Waits count in full where the far end of the segment is within the part, else not at all.
    """
    place, share = _stretch(part)
    wait_s = waits.along(place, along)
    goes_on = np.ones(place.size)
    if along:
        goes_on[-1] = part.high.share == 1.0
    else:
        goes_on[0] = part.low.share == 0.0
    walked = share > 0.0
    place, share, wait_s = place[walked], share[walked], wait_s[walked]
    return float(((cost_s[place] - wait_s) * share + wait_s * goes_on[walked]).sum())


MOST_TRIALS = 2_000
"""Smaller sets tried one by one where bridges with several decks leave a doubt (assumed)."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A set of crossings without which home cannot be reached.

    Attributes
    ----------
    crossings : tuple of int
        Their numbers, ascending; of several smallest sets, the one nearest the start.
    smallest : bool
        Whether no smaller set exists. False only where decks of one bridge lead to different
        places and there were too many smaller sets to try them all.
    """

    crossings: tuple[int, ...]
    smallest: bool


def smallest_cut(
    network: Network,
    groups: Sequence[NDArray[np.integer]],
    origin: Position,
    destination: Position,
    *,
    closed: NDArray[np.bool_] | None = None,
) -> Cut | None:
    """Find the fewest crossings whose closure leaves no way home, by maximum flow.

    As many ways as there are crossings in the answer, no two over the same crossing, lead home
    (Menger's theorem); that is what the flow counts.

    Parameters
    ----------
    network : Network
        The streets.
    groups : sequence of ndarray of int
        Segments of each crossing.
    origin, destination : tuple of int and float
        Segment, and share of it from its tail, 0 to 1.
    closed : ndarray of bool, shape (M,), optional
        Segments closed from the outset.

    Returns
    -------
    Cut or None
        None when home is reached without any of the crossings, so that no set of them cuts it
        off. No crossings at all when there is no way to begin with.
    """
    world = _condense(network, groups, origin, destination, closed)
    everything = frozenset(range(len(groups)))
    if world.joined(everything):
        return None
    if not world.joined(frozenset()):
        return Cut((), smallest=True)
    found = _by_flow(world)
    trials = sum(comb(len(groups), size) for size in range(1, len(found)))
    if world.uniform():
        return Cut(found, smallest=True)
    if trials > MOST_TRIALS:
        return Cut(found, smallest=False)
    for size in range(1, len(found)):
        for some in combinations(range(len(groups)), size):
            if not world.joined(frozenset(some)):
                return Cut(some, smallest=True)
    return Cut(found, smallest=True)


@dataclass(frozen=True, slots=True)
class _World:
    """Places that reach each other without a crossing, and the arcs between them.

    ``group`` is the crossing an arc belongs to, -1 for a street that is walked one way only.
    """

    size: int
    tail: NDArray[np.int64]
    head: NDArray[np.int64]
    group: NDArray[np.int64]
    deck: NDArray[np.int64]
    inner: NDArray[np.bool_]
    start: int
    home: int

    def joined(self, shut: frozenset[int]) -> bool:
        """Whether home is reached with some crossings shut."""
        kept = ~np.isin(self.group, list(shut))
        ones = np.ones(int(kept.sum()), np.int8)
        graph = csr_array((ones, (self.tail[kept], self.head[kept])), shape=(self.size,) * 2)
        reached = breadth_first_order(graph, self.start, return_predecessors=False)
        return bool((reached == self.home).any())

    def uniform(self) -> bool:
        """Whether the decks of every crossing join the same places, and are walked both ways."""
        for number in np.unique(self.group[self.group >= 0]).tolist():
            rows = np.flatnonzero(self.group == number)
            arcs = set(zip(self.tail[rows].tolist(), self.head[rows].tolist(), strict=True))
            if any((head, tail) not in arcs for tail, head in arcs):
                return False
            ends: dict[int, set[int]] = {}
            for row in rows.tolist():
                places = ends.setdefault(int(self.deck[row]), set())
                places.update(
                    place
                    for place in (int(self.tail[row]), int(self.head[row]))
                    if not self.inner[place]
                )
            if len({frozenset(places) for places in ends.values()}) > 1:
                return False
        return True


def _condense(
    network: Network,
    groups: Sequence[NDArray[np.integer]],
    origin: Position,
    destination: Position,
    closed: NDArray[np.bool_] | None,
) -> _World:
    """Shrink what hangs together without crossings to single places."""
    shut = np.zeros(network.tail.size, bool) if closed is None else closed
    of_group = np.full(network.tail.size, -1, np.int64)
    for number, group in enumerate(groups):
        of_group[group] = number
    forth, back = network.open_forward & ~shut, network.open_backward & ~shut
    start, home = network.n_nodes, network.n_nodes + 1
    arcs = [
        (network.tail[forth], network.head[forth], of_group[forth]),
        (network.head[back], network.tail[back], of_group[back]),
        _ends(network, origin, destination, forth, back, (start, home)),
    ]
    tail, head, group = (
        np.concatenate(column).astype(np.int64) for column in zip(*arcs, strict=True)
    )
    size = network.n_nodes + 2
    free = group < 0
    ones = np.ones(int(free.sum()), np.int8)
    graph = coo_array((ones, (tail[free], head[free])), shape=(size, size))
    count, label = connected_components(graph, connection="strong")
    place = label.astype(np.int64)
    bridged = ~free
    deck = np.full(tail.size, -1, np.int64)
    deck[bridged] = _decks(tail[bridged], head[bridged], group[bridged], size)
    inner = np.ones(count, bool)
    inner[place[tail[free]]] = False
    inner[place[head[free]]] = False
    inner &= _touches_one(count, place[tail[bridged]], place[head[bridged]], group[bridged])
    between = bridged | (place[tail] != place[head])
    return _World(
        count,
        place[tail[between]],
        place[head[between]],
        group[between],
        deck[between],
        inner,
        int(place[start]),
        int(place[home]),
    )


def _decks(
    tail: NDArray[np.int64], head: NDArray[np.int64], group: NDArray[np.int64], size: int
) -> NDArray[np.int64]:
    """Label the pieces of each crossing that hang together by themselves."""
    keys, inverse = np.unique(
        np.concatenate([group * size + tail, group * size + head]), return_inverse=True
    )
    first, second = inverse[: tail.size], inverse[tail.size :]
    ones = np.ones(tail.size, np.int8)
    graph = coo_array((ones, (first, second)), shape=(keys.size, keys.size))
    label: NDArray[np.int64] = connected_components(graph, directed=False)[1].astype(np.int64)
    return label[first]


def _touches_one(
    count: int, tail: NDArray[np.int64], head: NDArray[np.int64], group: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Whether each place is touched by no more than one crossing."""
    lowest, highest = np.full(count, np.iinfo(np.int64).max), np.full(count, -1)
    for place in (tail, head):
        np.minimum.at(lowest, place, group)
        np.maximum.at(highest, place, group)
    touches: NDArray[np.bool_] = highest <= lowest
    return touches


def _ends(
    network: Network,
    origin: Position,
    destination: Position,
    forth: NDArray[np.bool_],
    back: NDArray[np.bool_],
    nodes: tuple[int, int],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Give arcs from the start to the ends of its street, and from the ends of home's to home."""
    (begin, leave), (end, arrive) = origin, destination
    start, home = nodes
    pairs = []
    if forth[begin] or leave == 1.0:
        pairs.append((start, int(network.head[begin])))
    if back[begin] or leave == 0.0:
        pairs.append((start, int(network.tail[begin])))
    if forth[end] or arrive == 0.0:
        pairs.append((int(network.tail[end]), home))
    if back[end] or arrive == 1.0:
        pairs.append((int(network.head[end]), home))
    if begin == end and (
        leave == arrive or (forth[begin] and leave < arrive) or (back[begin] and leave > arrive)
    ):
        pairs.append((start, home))
    tail, head = np.array(pairs, np.int64).reshape(-1, 2).T
    return tail, head, np.full(tail.size, -1, np.int64)


def _by_flow(world: _World) -> tuple[int, ...]:
    """Find the cut by maximum flow, each crossing a gate that one way can pass."""
    count = int(world.group.max()) + 1
    crossing = world.group >= 0
    gate_in = world.size + world.group
    gate_out = gate_in + count
    numbers = np.arange(count)
    tail = np.concatenate(
        [world.tail, gate_out[crossing], world.size + numbers],
    )
    head = np.concatenate(
        [
            np.where(crossing, gate_in, world.head),
            world.head[crossing],
            world.size + count + numbers,
        ],
    )
    # More than every crossing together: a street is never what the flow waits for.
    plenty = count + 1
    capacity = np.where(np.arange(tail.size) < tail.size - count, plenty, 1).astype(np.int32)
    size = world.size + 2 * count
    order = np.unique(np.column_stack([tail, head]), axis=0, return_index=True)[1]
    graph = csr_array((capacity[order], (tail[order], head[order])), shape=(size, size))
    flow = maximum_flow(graph, world.start, world.home)
    left = csr_array(graph - flow.flow)
    left.data[left.data < 0] = 0
    left.eliminate_zeros()
    reached = np.zeros(size, bool)
    reached[breadth_first_order(left, world.start, return_predecessors=False)] = True
    cut = reached[world.size : world.size + count] & ~reached[world.size + count :]
    return tuple(np.flatnonzero(cut).tolist())


ROUNDING = 1e-9
"""Times that differ by less than this share are the same, added up in another order."""


@dataclass(frozen=True, slots=True)
class WorsePair:
    """Two closures that are worse together than either alone.

    Attributes
    ----------
    first, second : int
        Numbers of the closures, ascending.
    extra_s : float
        Time lost against the open way; infinite when nothing is left [s].
    path : Path or None
        The way that is left.
    """

    first: int
    second: int
    extra_s: float
    path: Path | None


def pairs_that_matter(trip: TimedTrip, groups: Sequence[NDArray[np.integer]]) -> list[WorsePair]:
    """Find the best way for every pair of closures that is worse than either by itself.

    Parameters
    ----------
    trip : TimedTrip
        The trip.
    groups : sequence of ndarray of int
        Segments of each closure, such as a bridge.

    Returns
    -------
    list of Pair
        In ascending order. A pair is left out where the way around one of them does not use the
        other: there it costs what the one costs alone.
    """
    single = {}
    for number in _groups_on(trip, trip.open_way, groups):
        single[number] = trip.without(groups[number])
    found: dict[tuple[int, int], WorsePair] = {}
    for number, around in sorted(single.items()):
        others = _groups_on(trip, around, groups) - {number}
        if not others:
            continue
        closed = trip.closing(groups[number])
        for other in sorted(others):
            pair = (min(number, other), max(number, other))
            if pair in found:
                continue
            both = closed.without(groups[other])
            alone = single[other].cost_s if other in single else trip.open_way.cost_s
            if both.cost_s > max(alone, around.cost_s) * (1.0 + ROUNDING):
                path = closed.path(both) if both.joins >= 0 else None
                found[pair] = WorsePair(*pair, both.cost_s - trip.open_way.cost_s, path)
    return [found[pair] for pair in sorted(found)]


def _groups_on(trip: TimedTrip, around: Around, groups: Sequence[NDArray[np.integer]]) -> set[int]:
    """Tell which closures a way meets."""
    if around.joins < 0:
        return set()
    walked = set(trip.path(around).segment.tolist())
    return {number for number, group in enumerate(groups) if walked.intersection(group.tolist())}
