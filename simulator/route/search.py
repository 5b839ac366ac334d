"""Exact least-cost paths over directed costs, on a network contracted to its junctions.

The structure is found once (:meth:`Network.build`). Each query brings a cost for either direction
of every segment; the costs of a string are added up, compiled code searches between junctions, and
the path is unpacked to segments. Starts and ends may lie anywhere on a segment.

Ties: among equally cheap ways the one whose last differing step comes from the lowest junction,
then by the lowest string, is taken; a direct way within one string comes first.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum, inf, isinf
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from simulator.errors import NoWayHomeError
from simulator.route.contraction import Links, Strings, find_links, find_strings
from simulator.route.unreachable import explain
from simulator.route.weights import (
    Flags,
    Floats,
    Ints,
    Point,
    Weights,
    checked,
    direct_cost,
    is_ahead,
    part_cost,
    running_cost,
    stretch,
    string_costs,
    turned,
)

if TYPE_CHECKING:
    from simulator.ground.streets import Streets

Position = tuple[int, float]
"""A segment, and the share of it from its tail (0 to 1)."""


@dataclass(frozen=True, slots=True)
class Path:
    """A way from a start to an end.

    Attributes
    ----------
    segment : (K,) int32
        Segments in the order walked.
    forward : (K,) bool
        Whether each is walked tail to head.
    from_fraction : float
        Where on the first segment the walk begins, measured from its tail, 0 to 1.
    to_fraction : float
        Where on the last segment the walk ends, measured from its tail, 0 to 1.
    cost : float
        Total, in the unit of the costs.
    """

    segment: Ints
    forward: Flags
    from_fraction: float
    to_fraction: float
    cost: float


@dataclass(frozen=True, slots=True)
class Network:
    """A network of M segments and N nodes, contracted to J junctions and C strings.

    Strings are numbered in both directions as :class:`simulator.route.contraction.Links` says.

    Attributes
    ----------
    tail, head : (M,) int32
        Ends of the segments.
    n_nodes : int
        N.
    open_forward, open_backward : (M,) bool
        May be walked tail to head, head to tail.
    length_m : (M,) float64
        Lengths [m], for messages.
    same_node : (N,) int32
        First copy of each node; copies differ only at barriers. For messages.
    strings : Strings
        Segments in order between junctions.
    place : (M,) int32
        Where each segment stands in ``strings``, -1 if it is closed both ways.
    links : Links
        Strings as links between neighbouring junctions.
    """

    tail: Ints
    head: Ints
    n_nodes: int
    open_forward: Flags
    open_backward: Flags
    length_m: Floats
    same_node: Ints
    strings: Strings
    place: Ints
    links: Links

    @classmethod
    def build(
        cls,
        tail: Ints,
        head: Ints,
        n_nodes: int,
        open_forward: Flags,
        open_backward: Flags,
        *,
        length_m: Floats | None = None,
        same_node: Ints | None = None,
    ) -> Network:
        """Contract a network.

        Parameters
        ----------
        tail, head : (M,) int32
            Ends of the segments.
        n_nodes : int
            Number of nodes.
        open_forward, open_backward : (M,) bool
            May be walked tail to head, head to tail.
        length_m : (M,) float64, optional
            Lengths [m], so that messages can say how far one gets.
        same_node : (N,) int32, optional
            First copy of each node, so that messages can tell a barrier from an island.

        Returns
        -------
        Network
            Ready for queries.
        """
        strings = find_strings(tail, head, n_nodes, open_forward | open_backward)
        place = np.full(tail.size, -1, np.int32)
        place[strings.segment] = np.arange(strings.segment.size)
        return cls(
            tail=tail,
            head=head,
            n_nodes=n_nodes,
            open_forward=open_forward,
            open_backward=open_backward,
            length_m=np.zeros(tail.size) if length_m is None else length_m,
            same_node=np.arange(n_nodes, dtype=np.int32) if same_node is None else same_node,
            strings=strings,
            place=place,
            links=find_links(strings),
        )

    @classmethod
    def of_streets(cls, streets: Streets) -> Network:
        """Contract a street network.

        Parameters
        ----------
        streets : Streets
            Streets to walk.

        Returns
        -------
        Network
            Ready for queries.
        """
        return cls.build(
            streets.tail,
            streets.head,
            streets.node_id.size,
            streets.open_forward,
            streets.open_backward,
            length_m=streets.length_m,
            same_node=streets.same_node() if streets.counts.get("barriers") else None,
        )

    def least(
        self,
        cost_forward: Floats,
        cost_backward: Floats,
        origin: Position,
        destination: Position,
        *,
        closed: Flags | None = None,
    ) -> Path:
        """Find the cheapest way from one position to another.

        Parameters
        ----------
        cost_forward, cost_backward : (M,) float64
            Cost of each segment tail to head, head to tail; finite and above zero where open.
        origin, destination : (int, float)
            Segment, and share of it from its tail, 0 to 1.
        closed : (M,) bool, optional
            Segments nobody may walk this time.

        Returns
        -------
        Path
            The way, unpacked to segments.

        Raises
        ------
        NoWayHomeError
            If no way exists; says how far each side reaches and what stops it.
        ValueError
            If a cost is not finite and above zero, or a position is not on the network.
        """
        weights = self._weigh(cost_forward, cost_backward, closed)
        begin, end = self._point(origin), self._point(destination)
        entry = self._leave(weights, begin)
        distance = self._search(weights, begin, entry)
        first, last = self.strings.first[end.string], self.strings.last[end.string]
        backwards = Weights(weights.against, weights.along, weights.string)
        by_first, by_last = self._leave(backwards, end)
        direct = direct_cost(weights, begin, end)
        totals = (direct, distance[first] + by_first, distance[last] + by_last)
        best = int(np.argmin(totals))
        if isinf(totals[best]):
            raise NoWayHomeError(
                explain(self, cost_forward, cost_backward, origin, destination, closed)
            )
        if best == 0:
            steps = [stretch(begin.place, end.place, along=is_ahead(begin, end))]
        else:
            start, stop = self.strings.start[end.string : end.string + 2].tolist()
            steps = self._backtrack(weights, distance, begin, entry, int((first, last)[best - 1]))
            if best == 1:
                steps.append(stretch(start, end.place, along=True))
            else:
                steps.append(stretch(stop - 1, end.place, along=False))
        return self._unpack(weights, steps, origin[1], destination[1])

    def field(
        self,
        cost_forward: Floats,
        cost_backward: Floats,
        origin: Position,
        *,
        closed: Flags | None = None,
    ) -> Floats:
        """Find the least cost from one position to every node.

        Parameters
        ----------
        cost_forward, cost_backward, closed
            As for :meth:`least`.
        origin : (int, float)
            Segment, and share of it from its tail, 0 to 1.

        Returns
        -------
        (N,) float64
            Least cost; infinite where no way leads.

        Raises
        ------
        ValueError
            As for :meth:`least`.
        """
        return self._spread(self._weigh(cost_forward, cost_backward, closed), origin)

    def field_to(
        self,
        cost_forward: Floats,
        cost_backward: Floats,
        destination: Position,
        *,
        closed: Flags | None = None,
    ) -> Floats:
        """Find the least cost from every node to one position.

        Parameters
        ----------
        cost_forward, cost_backward, closed
            As for :meth:`least`.
        destination : (int, float)
            Segment, and share of it from its tail, 0 to 1.

        Returns
        -------
        (N,) float64
            Least cost; infinite where no way leads.

        Raises
        ------
        ValueError
            As for :meth:`least`.
        """
        weights = self._weigh(cost_forward, cost_backward, closed)
        string = weights.string.reshape(-1, 2)[:, ::-1].ravel()
        return self._spread(Weights(weights.against, weights.along, string), destination)

    def _weigh(self, cost_forward: Floats, cost_backward: Floats, closed: Flags | None) -> Weights:
        forth = checked(cost_forward, self.open_forward, "forward")
        back = checked(cost_backward, self.open_backward, "backward")
        if closed is not None:
            forth, back = np.where(closed, inf, forth), np.where(closed, inf, back)
        strings = self.strings
        forth, back = forth[strings.segment], back[strings.segment]
        along = np.where(strings.along, forth, back)
        against = np.where(strings.along, back, forth)
        if not strings.first.size:
            return Weights(along, against, np.empty(0))
        start = strings.start[:-1]
        ends = (np.add.reduceat(along, start), np.add.reduceat(against, start))
        return Weights(along, against, np.stack(ends, axis=1).ravel())

    def _point(self, position: Position) -> Point:
        segment, fraction = position
        if not (0 <= segment < self.tail.size and 0.0 <= fraction <= 1.0):
            msg = f"position {position} is not on the network of {self.tail.size} segments"
            raise ValueError(msg)
        place = int(self.place[segment])
        if place < 0:
            msg = f"segment {segment} is closed in both directions"
            raise ValueError(msg)
        string = int(np.searchsorted(self.strings.start, place, side="right")) - 1
        share = fraction if self.strings.along[place] else 1.0 - fraction
        return Point(string, place, float(share))

    def _leave(self, weights: Weights, point: Point) -> tuple[float, float]:
        """Cost from a point to the first and the last junction of its string."""
        start, stop = self.strings.start[point.string : point.string + 2]
        return (
            part_cost(weights.against, point.place, point.share)
            + float(weights.against[start : point.place].sum()),
            part_cost(weights.along, point.place, 1.0 - point.share)
            + float(weights.along[point.place + 1 : stop].sum()),
        )

    def _search(self, weights: Weights, point: Point, entry: tuple[float, float]) -> Floats:
        """Least cost from a point to every junction."""
        strings, size = self.strings, self.strings.junction.size
        data = weights.string[self.links.leave_link]
        if self.links.pair_start.size < data.size:
            data = np.minimum.reduceat(data, self.links.pair_start)
        column, row = self.links.leave_to[self.links.pair_start], self.links.pair_row
        ends = (int(strings.first[point.string]), int(strings.last[point.string]))
        if 0.0 in entry:
            # On a junction: an extra row would need an edge of no cost, which means no edge.
            source = ends[entry.index(0.0)]
        else:
            out = [(cost, end) for cost, end in zip(entry, ends, strict=True) if not isinf(cost)]
            source = size
            data = np.append(data, [cost for cost, _ in out])
            column = np.append(column, np.array([end for _, end in out], column.dtype))
            row = np.append(row, np.array([column.size], row.dtype))
            size += 1
        graph = csr_array((data, column, row), shape=(size, size))
        distance: Floats = dijkstra(graph, indices=[source])[0]
        return distance[: strings.junction.size]

    def _backtrack(
        self,
        weights: Weights,
        distance: Floats,
        point: Point,
        entry: tuple[float, float],
        junction: int,
    ) -> list[Ints]:
        """Stretches of places from a point to a junction; see the module on ties."""
        strings = self.strings
        ends = (int(strings.first[point.string]), int(strings.last[point.string]))
        start, stop = strings.start[point.string : point.string + 2].tolist()
        steps: list[Ints] = []
        while (junction, distance[junction]) not in zip(ends, entry, strict=True):
            rows = slice(self.links.leave_start[junction], self.links.leave_start[junction + 1])
            before, dart = self.links.leave_to[rows], self.links.leave_link[rows] ^ 1
            tight = distance[before] + weights.string[dart] == distance[junction]
            tight &= distance[before] < distance[junction]
            if not tight.any():
                msg = "a cost is too small beside the cost of the whole way to be told from zero"
                raise ValueError(msg)
            chosen = int(dart[np.argmax(tight)])
            low, high = strings.start[chosen >> 1 : (chosen >> 1) + 2].tolist()
            if chosen & 1:
                steps.append(stretch(high - 1, low, along=False))
            else:
                steps.append(stretch(low, high - 1, along=True))
            junction = int(before[np.argmax(tight)])
        if (junction, distance[junction]) == (ends[0], entry[0]):
            steps.append(stretch(point.place, start, along=False))
        else:
            steps.append(stretch(point.place, stop - 1, along=True))
        return steps[::-1]

    def _unpack(
        self, weights: Weights, steps: list[Ints], from_fraction: float, to_fraction: float
    ) -> Path:
        """Turn stretches into a path; ends of which nothing is walked are left out."""
        walk = np.concatenate(steps)
        along = walk >= 0
        place = np.where(along, walk, ~walk)
        segment = self.strings.segment[place]
        forward = along == self.strings.along[place]
        if segment.size > 1 and from_fraction == float(forward[0]):
            segment, forward, along, place = segment[1:], forward[1:], along[1:], place[1:]
            from_fraction = 1.0 - float(forward[0])
        if segment.size > 1 and to_fraction == 1.0 - float(forward[-1]):
            segment, forward, along, place = segment[:-1], forward[:-1], along[:-1], place[:-1]
            to_fraction = float(forward[-1])
        cost = np.where(along, weights.along[place], weights.against[place])
        walked = np.ones(segment.size)
        walked[0] -= from_fraction if forward[0] else 1.0 - from_fraction
        walked[-1] -= 1.0 - to_fraction if forward[-1] else to_fraction
        # A closed segment may be touched at its end only: nothing of it is walked.
        total = fsum((walked[walked > 0.0] * cost[walked > 0.0]).tolist())
        return Path(segment, forward, float(from_fraction), float(to_fraction), total)

    def _spread(self, weights: Weights, origin: Position) -> Floats:
        """Least cost from a position to every node."""
        strings, point = self.strings, self._point(origin)
        distance = self._search(weights, point, self._leave(weights, point))
        cost = np.full(self.n_nodes, inf)
        cost[strings.junction] = distance
        length = np.diff(strings.start).astype(np.int32)
        # Nodes within strings come from either end; the node after the last place is a junction.
        ahead = running_cost(weights.along, strings.start, length)
        behind = running_cost(weights.against[::-1], turned(strings.start), length[::-1])[::-1]
        inner = np.ones(strings.segment.size, bool)
        inner[strings.start[1:] - 1] = False
        at = np.flatnonzero(inner)
        string = np.repeat(np.arange(length.size), length)[at]
        cost[strings.end_node[at]] = np.minimum(
            distance[strings.first[string]] + ahead[at],
            distance[strings.last[string]] + behind[at + 1],
        )
        start, stop = strings.start[point.string : point.string + 2].tolist()
        onward, back = string_costs(weights, point, start, stop)
        nodes = strings.end_node[point.place : stop - 1]
        cost[nodes] = np.minimum(cost[nodes], onward)
        nodes = strings.end_node[start : point.place][::-1]
        cost[nodes] = np.minimum(cost[nodes], back)
        return cost
