"""One trip on real streets: what closing any of them costs, in the streets' own terms.

The places a trip joins mostly lie halfway along a street. Its string of segments is cut there, so
that a way may leave in either direction and all behind this module is edges between junctions.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import fsum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.route.blockages import Around, Detours
from simulator.route.search import Network, Path, Position
from simulator.route.trees import Arcs
from simulator.route.weights import checked

FloatArray = NDArray[np.float64]


class Point(NamedTuple):
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


class Part(NamedTuple):
    """A stretch of a string between two points.

    Attributes
    ----------
    string : int
        The string it is part of.
    low, high : Point
        Where it begins and ends, along the string.
    tail, head : int
        Nodes there: a junction, or an end of the trip.
    """

    string: int
    low: Point
    high: Point
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

    known_extra_s: FloatArray
    met_extra_s: FloatArray


@dataclass(frozen=True)
class Layout:
    """The strings of a network, cut at the two ends of one trip.

    Attributes
    ----------
    network : Network
        The streets.
    origin, destination : tuple of int and float
        Segment and share from its tail, of both ends.
    parts : tuple of Part
        What became of the strings that were cut.
    arcs : Arcs
        Edges 0 to C - 1 are the strings of the network, the parts follow.
    """

    network: Network
    origin: Position
    destination: Position
    parts: tuple[Part, ...]
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
        points: dict[int, list[tuple[Point, int]]] = {}
        for node, (segment, fraction) in enumerate((origin, destination), junctions):
            place = int(network.place[segment])
            share = fraction if strings.along[place] else 1.0 - fraction
            string = int(np.searchsorted(strings.start, place, side="right")) - 1
            points.setdefault(string, []).append((Point(place, float(share)), node))
        parts = []
        for string, stops in points.items():
            first = (Point(int(strings.start[string]), 0.0), int(strings.first[string]))
            last = (Point(int(strings.start[string + 1]) - 1, 1.0), int(strings.last[string]))
            ordered = [first, *sorted(stops), last]
            for (low, tail), (high, head) in pairwise(ordered):
                parts.append(Part(string, low, high, tail, head))
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

    def costs(self, along_s: FloatArray, against_s: FloatArray) -> FloatArray:
        """Lay the times of the segments over the arcs.

        Parameters
        ----------
        along_s, against_s : ndarray of float, by place in the strings
            Time of each segment along its string, against it; infinite where closed [s].

        Returns
        -------
        ndarray of float, shape (A,)
            Time along each arc [s].
        """
        start = self.network.strings.start[:-1]
        there, back = np.add.reduceat(along_s, start), np.add.reduceat(against_s, start)
        there[list(self.cut_strings)] = back[list(self.cut_strings)] = np.inf
        ahead = [_stretch_s(along_s, part) for part in self.parts]
        return self.arcs.costs(
            np.append(there, ahead), np.append(back, [_stretch_s(against_s, p) for p in self.parts])
        )


class Trip:
    """A trip under given times, ready to say what any closure costs.

    Parameters
    ----------
    layout : Layout
        The streets and the two ends.
    cost_forward_s, cost_backward_s : ndarray of float, shape (M,)
        Time along each segment tail to head, head to tail; > 0, read only where open [s].
    closed : ndarray of bool, shape (M,), optional
        Segments closed from the outset.

    Raises
    ------
    ValueError
        A time that is needed is not finite and above zero.
    """

    def __init__(
        self,
        layout: Layout,
        cost_forward_s: FloatArray,
        cost_backward_s: FloatArray,
        *,
        closed: NDArray[np.bool_] | None = None,
    ) -> None:
        network, strings = layout.network, layout.network.strings
        self.layout = layout
        self._given = (cost_forward_s, cost_backward_s)
        self.closed = np.zeros(network.tail.size, bool) if closed is None else closed
        forth = checked(cost_forward_s, network.open_forward & ~self.closed, "forward")
        back = checked(cost_backward_s, network.open_backward & ~self.closed, "backward")
        forth, back = forth[strings.segment], back[strings.segment]
        self.along_s = np.where(strings.along, forth, back)
        self.against_s = np.where(strings.along, back, forth)
        junctions = strings.junction.size
        self.detours = Detours(
            layout.arcs, layout.costs(self.along_s, self.against_s), junctions, junctions + 1
        )

    @property
    def times_s(self) -> tuple[FloatArray, FloatArray]:
        """Times along the segments as given, tail to head and head to tail [s]."""
        return self._given

    @property
    def open_way(self) -> Around:
        """The least-time way with nothing more closed."""
        return self.detours.open_way

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

    def closing(self, segments: NDArray[np.integer]) -> Trip:
        """Give the same trip with some segments closed from the outset.

        Parameters
        ----------
        segments : ndarray of int
            Segments of the streets.

        Returns
        -------
        Trip
            Under the same times.
        """
        closed = self.closed.copy()
        closed[segments] = True
        return Trip(self.layout, *self._given, closed=closed)

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
        cost_s = self._cost_s(place, along) * share
        return Path(segment, forward, from_fraction, to_fraction, fsum(cost_s.tolist()))

    def profile(self) -> Profile:
        """Say what a blockage of each segment of the open way costs.

        The street a trip begins or ends on counts as blocked on the stretch that is walked.

        Returns
        -------
        Profile
            One row a segment of ``path(open_way)``.
        """
        arcs, trip = self.layout.arcs, self.detours
        known: list[FloatArray] = []
        met: list[FloatArray] = []
        for arc in trip.way(trip.open_way):
            edge = int(arcs.edge[arc])
            place, along, share = self._pieces(arc)
            there_and_back_s = self._cost_s(place, along) + self._cost_s(place, ~along)
            turning_s = np.concatenate([[0.0], np.cumsum(there_and_back_s * share)])[:-1]
            known.append(np.full(place.size, trip.without([edge]).extra_s))
            met.append(turning_s + trip.from_node(int(arcs.tail[arc]), [edge]).extra_s)
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
                both_s = (self._cost_s(place, along) + self._cost_s(place, ~along)) * share
                back_s = float(both_s[: int(closed.argmax())].sum())
                node = int(self.layout.arcs.tail[arc])
                return back_s + self.detours.from_node(node, edges).extra_s
        return 0.0

    def _pieces(self, arc: int) -> tuple[NDArray[np.int64], NDArray[np.bool_], FloatArray]:
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

    def _cost_s(self, place: NDArray[np.int64], along: NDArray[np.bool_]) -> FloatArray:
        """Time over whole segments, each along its string or against it."""
        return np.where(along, self.along_s[place], self.against_s[place])


def _stretch(part: Part) -> tuple[NDArray[np.int64], FloatArray]:
    """Give the places of a part and the share of each that belongs to it."""
    place = np.arange(part.low.place, part.high.place + 1)
    share = np.ones(place.size)
    share[0] -= part.low.share
    share[-1] -= 1.0 - part.high.share
    return place, share


def _stretch_s(cost_s: FloatArray, part: Part) -> float:
    """Add up the time over a part; of a closed segment that is only touched, nothing counts."""
    place, share = _stretch(part)
    walked = share > 0.0
    return float((cost_s[place[walked]] * share[walked]).sum())
