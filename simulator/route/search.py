"""Ways from one position to many: one search of the network, then a short walk back for each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import fsum, inf, isinf
from typing import TYPE_CHECKING, NamedTuple, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components, dijkstra

from simulator.arrays import Flags, Floats, Position
from simulator.errors import NoWayHomeError

if TYPE_CHECKING:
    from simulator.ground.streets import Streets

Ints = NDArray[np.int32]

Kind = TypeVar("Kind", bound=np.generic)
BothWays: TypeAlias = tuple[NDArray[Kind], NDArray[Kind]]
"""Along the strings, and against them."""


@dataclass(frozen=True, slots=True)
class Strings:
    """C strings of segments between J junctions, covering S segments.

    A string runs from one junction to another (or back to the same one) over nodes where exactly
    two segments meet. On a ring without a junction the lowest node is made one.

    Attributes
    ----------
    junction : (J,) int32
        Nodes that are junctions or dead ends, ascending.
    start : (C + 1,) int32
        String ``c`` holds places ``start[c]:start[c + 1]`` of the arrays below.
    segment : (S,) int32
        Segments in the order of their string.
    along : (S,) bool
        Whether the string passes the segment tail to head.
    end_node : (S,) int32
        Node reached after each segment.
    first, last : (C,) int32
        Rows in ``junction`` at the two ends of each string.
    """

    junction: Ints
    start: Ints
    segment: Ints
    along: NDArray[np.bool_]
    end_node: Ints
    first: Ints
    last: Ints

    def ordered(self, forward: NDArray[Kind], backward: NDArray[Kind]) -> BothWays[Kind]:
        """Turn what holds tail to head, (S,) in order, into what holds along and against."""
        return (
            np.where(self.along, forward, backward),
            np.where(self.along, backward, forward),
        )


@dataclass(frozen=True, slots=True)
class Links:
    """Strings as links between different junctions, in both directions.

    String ``c`` walked from its first junction is link ``2 * c``, from its last ``2 * c + 1``, so
    that ``link ^ 1`` is the same string walked the other way.

    Attributes
    ----------
    leave_start : (J + 1,) int32
        Links that leave junction ``j`` are ``leave_link[leave_start[j]:leave_start[j + 1]]``.
    leave_link, leave_to : (D,) int32
        Links and the junctions they lead to, in the order of both; loops are left out.
    pair_start : (P,) int32
        First link of each pair of neighbours, which several strings may join.
    pair_row : (J + 1,) int32
        Pairs of junction ``j`` are ``pair_row[j]:pair_row[j + 1]``.
    """

    leave_start: Ints
    leave_link: Ints
    leave_to: Ints
    pair_start: Ints
    pair_row: Ints


def find_links(strings: Strings) -> Links:
    """Order the strings by the junctions they leave and reach."""
    leave = np.stack([strings.first, strings.last], axis=1).ravel()
    reach = np.stack([strings.last, strings.first], axis=1).ravel()
    dart = np.flatnonzero(leave != reach).astype(np.int32)
    dart = dart[np.lexsort((dart, reach[dart], leave[dart]))]
    leave, reach = leave[dart], reach[dart]
    new_pair = np.ones(dart.size, bool)
    new_pair[1:] = (leave[1:] != leave[:-1]) | (reach[1:] != reach[:-1])
    pair_start = np.flatnonzero(new_pair).astype(np.int32)
    rows = np.arange(strings.junction.size + 1)
    return Links(
        leave_start=np.searchsorted(leave, rows).astype(np.int32),
        leave_link=dart,
        leave_to=reach,
        pair_start=pair_start,
        pair_row=np.searchsorted(leave[pair_start], rows).astype(np.int32),
    )


def find_strings(tail: Ints, head: Ints, n_nodes: int, present: NDArray[np.bool_]) -> Strings:
    """Find the strings of a network."""
    rows = np.flatnonzero(present).astype(np.int32)
    # A dart leaves the node leaves[dart].
    leaves = np.stack([tail[rows], head[rows]], axis=1).ravel()
    degree = np.bincount(leaves, minlength=n_nodes)
    is_junction = (degree > 0) & (degree != 2)  # noqa: PLR2004 - two segments meet
    partner = _partners(leaves, is_junction)
    label = _labels(partner, rows.size)
    _open_rings(leaves, is_junction, partner, label)

    starts = np.flatnonzero(partner < 0).astype(np.int32)
    # Each string has two darts that leave a junction; the lower one gives its direction.
    order = np.argsort(label[starts >> 1], kind="stable")
    pairs = starts[order].reshape(-1, 2)
    walk = _walk(partner, pairs)
    size = np.bincount(label, minlength=pairs.shape[0])[label[pairs[:, 0] >> 1]]
    junction = np.flatnonzero(is_junction).astype(np.int32)
    return Strings(
        junction=junction,
        start=np.concatenate([[0], np.cumsum(size)]).astype(np.int32),
        segment=rows[walk >> 1],
        along=(walk & 1) == 0,
        end_node=leaves[walk ^ 1],
        first=np.searchsorted(junction, leaves[pairs[:, 0]]).astype(np.int32),
        last=np.searchsorted(junction, leaves[pairs[:, 1]]).astype(np.int32),
    )


def _partners(leaves: Ints, is_junction: NDArray[np.bool_]) -> Ints:
    """For each dart that leaves a node between two segments, give the other that leaves it."""
    inner = np.flatnonzero(~is_junction[leaves])
    order = inner[np.argsort(leaves[inner], kind="stable")].astype(np.int32)
    partner = np.full(leaves.size, -1, np.int32)
    partner[order[0::2]] = order[1::2]
    partner[order[1::2]] = order[0::2]
    return partner


def _labels(partner: Ints, count: int) -> Ints:
    """Give all segments of a string one number; they are linked at nodes between two."""
    linked = np.flatnonzero(partner >= 0)
    links = coo_array(
        (np.ones(linked.size, bool), (linked >> 1, partner[linked] >> 1)), shape=(count, count)
    )
    _, label = connected_components(links, directed=False)
    return np.asarray(label, np.int32)


def _open_rings(leaves: Ints, is_junction: NDArray[np.bool_], partner: Ints, label: Ints) -> None:
    """Make the lowest node of every ring without a junction a junction, in place."""
    count = int(label.max(initial=-1)) + 1
    opened = np.zeros(count, bool)
    opened[label[np.flatnonzero(partner < 0) >> 1]] = True
    ring = np.flatnonzero(~opened[label])
    if not ring.size:
        return
    lowest = np.full(count, leaves.max(initial=0) + 1, leaves.dtype)
    darts = np.concatenate([2 * ring, 2 * ring + 1])
    np.minimum.at(lowest, label[darts >> 1], leaves[darts])
    cut = darts[leaves[darts] == lowest[label[darts >> 1]]]
    is_junction[leaves[cut]] = True
    partner[cut] = -1


def _walk(partner: Ints, pairs: Ints) -> Ints:
    """Darts of all strings in order, string after string."""
    count = partner.size
    if not count:
        return np.empty(0, np.int32)
    # After a dart comes the partner of its opposite, which leaves the node it arrives at.
    follow = partner[np.arange(count) ^ 1]
    follow[pairs[:-1, 1] ^ 1] = pairs[1:, 0]
    follow[pairs[-1, 1] ^ 1] = -1
    has_next = follow >= 0
    start = np.concatenate([[0], np.cumsum(has_next)]).astype(np.int32)
    line = csr_array((np.ones(int(has_next.sum())), follow[has_next], start), shape=(count, count))
    return np.asarray(
        breadth_first_order(line, int(pairs[0, 0]), return_predecessors=False), np.int32
    )


class Held(NamedTuple):
    """Waits at the far ends of segments, looked up by place where they are asked for.

    Attributes
    ----------
    strings : Strings
        The order of places.
    forward, backward : (M,) float64
        Of each segment tail to head, head to tail.
    ahead : bool
        Whether along means along the string.
    """

    strings: Strings
    forward: Floats
    backward: Floats
    ahead: bool = True

    def along(self, place: NDArray[np.integer] | int, along: Flags | bool = True) -> Floats:
        """Give the waits of places that are walked along, or not."""
        segment = self.strings.segment[place]
        forward = self.strings.along[place] == (along == self.ahead)
        waits: Floats = np.where(forward, self.forward[segment], self.backward[segment])
        return waits

    def turned(self) -> Held:
        """Give the same with every segment walked the other way."""
        return self._replace(ahead=not self.ahead)


class Weights(NamedTuple):
    """Costs of one query, infinite where closed.

    Attributes
    ----------
    along, against : (S,) float64
        Cost of each segment, in the order of the strings, walked along and against its string.
    string : (2 C,) float64
        Cost of each string from its first junction and from its last, in turn.
    waits : Held
        What of ``along`` is a wait at the far end, and what of ``against``: whoever goes on there
        waits it in full, whoever ends within the segment not at all.
    """

    along: Floats
    against: Floats
    string: Floats
    waits: Held

    def turned(self) -> Weights:
        """Give the same with every segment walked the other way."""
        return Weights(self.against, self.along, self.string, self.waits.turned())


class Tree(NamedTuple):
    """How the cheapest ways from one point come to every junction; -1 at the ends of its string.

    Attributes
    ----------
    before : (J,) int64
        Junction before each.
    dart : (J,) int64
        Dart of the string walked from there, as rows of ``Weights.string``.
    """

    before: NDArray[np.int64]
    dart: NDArray[np.int64]

    def came(self, junction: int) -> tuple[int, int] | None:
        """Give both for one junction, if it is reached from another."""
        before = int(self.before[junction])
        return None if before < 0 else (before, int(self.dart[junction]))


class Point(NamedTuple):
    """A position in its string.

    Attributes
    ----------
    string : int
        Which string.
    place : int
        Place of the segment in the order of all strings.
    share : float
        Share of the segment already behind, seen along the string, 0 to 1.
    """

    string: int
    place: int
    share: float


def checked(cost: Floats, is_open: Flags, direction: str) -> Floats:
    """Check costs, and close what is not open."""
    cost = np.asarray(cost, np.float64)
    if cost.shape != is_open.shape:
        msg = f"{direction} costs have shape {cost.shape}, the network has {is_open.size} segments"
        raise ValueError(msg)
    if not (cost.size and cost.min() > 0.0 and cost.max() < inf):
        wrong = is_open & ~((cost > 0.0) & (cost < inf))
        if wrong.any():
            at = int(np.argmax(wrong))
            msg = f"{direction} cost of segment {at} must be finite and above zero: {cost[at]}"
            raise ValueError(msg)
    return cost if is_open.all() else np.where(is_open, cost, inf)


Waits = tuple[Floats, Floats]
"""What of the costs of each segment, tail to head and head to tail, is a wait at its far end."""


def leaving_cost(weights: Weights, place: int, share: float) -> float:
    """Give the cost of the last share of a segment, walked along its string, and of going on."""
    if share <= 0.0:
        return 0.0
    wait = float(weights.waits.along(place))
    return share * (float(weights.along[place]) - wait) + wait


def arriving_cost(weights: Weights, place: int, share: float) -> float:
    """Give the cost of a share of a segment, along its string, on which a walk ends."""
    if share <= 0.0:
        return 0.0
    return share * (float(weights.along[place]) - float(weights.waits.along(place)))


PartCost = Callable[[Weights, int, float], float]
"""``leaving_cost`` or ``arriving_cost``."""


def is_ahead(begin: Point, end: Point) -> bool:
    """Tell whether one point is at or after another on the same string."""
    return (begin.place, begin.share) <= (end.place, end.share)


def direct_cost(weights: Weights, begin: Point, end: Point) -> float:
    """Give the cost from point to point within one string."""
    if begin.string != end.string:
        return inf
    if begin.place == end.place:
        ahead = end.share - begin.share
        one_way = weights if ahead > 0.0 else weights.turned()
        return arriving_cost(one_way, begin.place, abs(ahead))
    if is_ahead(begin, end):
        return (
            leaving_cost(weights, begin.place, 1.0 - begin.share)
            + float(weights.along[begin.place + 1 : end.place].sum())
            + arriving_cost(weights, end.place, end.share)
        )
    back = weights.turned()
    return (
        leaving_cost(back, begin.place, begin.share)
        + float(weights.against[end.place + 1 : begin.place].sum())
        + arriving_cost(back, end.place, 1.0 - end.share)
    )


def stretch(start: int, stop: int, *, along: bool) -> Ints:
    """List places walked one after the other."""
    if along:
        return np.arange(start, stop + 1, dtype=np.int32)
    return ~np.arange(start, stop - 1, -1, dtype=np.int32)


def turned(start: Ints) -> Ints:
    """Give the starts of the strings when all places are read backwards."""
    return np.asarray(start[-1] - start[::-1], np.int32)


def running_cost(cost: Floats, start: Ints, length: Ints) -> Floats:
    """Add costs up from the start of each string."""
    shut = np.isinf(cost)
    total = np.cumsum(np.where(shut, 0.0, cost))
    before = np.repeat(np.concatenate([[0.0], total])[start[:-1]], length)
    run: Floats = total - before
    if shut.any():
        gates = np.cumsum(shut)
        run[gates > np.repeat(np.concatenate([[0], gates])[start[:-1]], length)] = inf
    return run


def string_costs(
    weights: Weights, point: Point, start: int, stop: int, part: PartCost
) -> tuple[Floats, Floats]:
    """Give the costs from a point to the nodes within its own string."""
    place = point.place
    onward = [part(weights, place, 1.0 - point.share)]
    onward.extend(weights.along[place + 1 : stop - 1])
    back = [part(weights.turned(), place, point.share)]
    back.extend(weights.against[start + 1 : place][::-1])
    return np.cumsum(onward[: stop - 1 - place]), np.cumsum(back[: place - start])


def explain(
    network: Network,
    cost_forward: NDArray[np.float64],
    cost_backward: NDArray[np.float64],
    origin: Position,
    destination: Position,
    closed: NDArray[np.bool_] | None,
) -> str:
    """Say how far each side reaches and what stops it."""
    out = network.field(cost_forward, cost_backward, origin, closed=closed) < inf
    home = network.field_to(cost_forward, cost_backward, destination, closed=closed) < inf
    shut = np.zeros(network.tail.size, bool) if closed is None else closed
    return (
        f"no way home on this map: the start reaches {_extent(network, out, shut)}, home is "
        f"reached from {_extent(network, home, shut)}; "
        f"{_cause(network, origin[0], destination[0], shut)}"
    )


def _extent(network: Network, reached: NDArray[np.bool_], shut: NDArray[np.bool_]) -> str:
    walked = reached[network.tail] & reached[network.head] & ~shut
    walked &= network.open_forward | network.open_backward
    distance_km = float(network.length_m[walked].sum()) / 1000.0
    near = distance_km < 10.0  # noqa: PLR2004 - farther, tenths tell nobody anything
    return f"{distance_km:,.{1 if near else 0}f} km of streets"


def _cause(
    network: Network,
    start: int,
    end: int,
    shut: NDArray[np.bool_],
) -> str:
    """Name what stands between: closure, one-way, barrier or gap, the first that explains it."""
    for segment, place in ((start, "the start"), (end, "home")):
        if shut[segment]:
            return f"the street at {place} is closed"
    links = network.open_forward | network.open_backward
    plain = np.arange(network.n_nodes, dtype=np.int32)
    if _joined(network, start, end, links & ~shut, plain):
        return "the streets between them are one-way on foot, the other way"
    if shut.any() and _joined(network, start, end, links, plain):
        return "what is closed lies between them"
    if _joined(network, start, end, links, network.same_node):
        return "a barrier that lets nobody through (a locked gate, a wall) lies between them"
    return (
        "no walkable street on this map joins them (an island, water without a bridge for "
        "walkers, or the edge of the map)"
    )


def _joined(
    network: Network,
    start: int,
    end: int,
    links: NDArray[np.bool_],
    stand_in: NDArray[np.int32],
) -> bool:
    """Whether two segments hang together, directions ignored."""
    size = network.n_nodes
    pairs = (stand_in[network.tail[links]], stand_in[network.head[links]])
    joined = coo_array((np.ones(pairs[0].size, bool), pairs), shape=(size, size))
    _, label = connected_components(joined, directed=False)
    return bool(label[stand_in[network.tail[start]]] == label[stand_in[network.tail[end]]])


def summed(walked: Floats, each: Floats, wait: Floats) -> float:
    """Add up what segments cost of which a share is walked, with the waits but for the last one.

    A closed segment may be touched at its end only: nothing of it is walked.
    """
    there = walked > 0.0
    waited = wait[there]
    terms = walked[there] * (each[there] - waited)
    return fsum([*terms.tolist(), *waited[:-1].tolist()])


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

    @property
    def walked(self) -> Floats:
        """Share of each segment that is walked, shape (K,), 1 but for the first and the last."""
        walked = np.ones(self.segment.size)
        walked[0] -= self.from_fraction if self.forward[0] else 1.0 - self.from_fraction
        walked[-1] -= 1.0 - self.to_fraction if self.forward[-1] else self.to_fraction
        return walked

    def sum_of(self, forward: Floats, backward: Floats, *, waits: Waits | None = None) -> float:
        """Add up a quantity along the way.

        Parameters
        ----------
        forward, backward : (M,) float64
            What each segment adds, tail to head and head to tail, such as its time.
        waits : tuple of two (M,) float64, optional
            What of it is a wait at the far end, tail to head and head to tail.

        Returns
        -------
        float
            In the same unit; parts of segments count in part, waits in full but for the last.
        """
        each = np.where(self.forward, forward[self.segment], backward[self.segment])
        wait = np.zeros(each.size)
        if waits is not None:
            wait = np.where(self.forward, waits[0][self.segment], waits[1][self.segment])
        return summed(self.walked, each, wait)


@dataclass(frozen=True, slots=True)
class Network:
    """A network of M segments and N nodes, contracted to J junctions and C strings.

    Strings are numbered in both directions as :class:`simulator.route.search.Links` says.

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
    in_order : tuple of two (S,) int64
        Rows of the costs tail to head, then those head to tail, that hold along the strings and
        against them.
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
    in_order: tuple[NDArray[np.intp], NDArray[np.intp]]
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
        forth = strings.segment.astype(np.intp)
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
            in_order=strings.ordered(forth, forth + tail.size),
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
        waits: Waits | None = None,
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
        waits : tuple of two (M,) float64, optional
            What of the costs is a wait at the far end of each segment, less than the cost: who
            begins within a segment and goes on waits in full, who ends within one not at all.

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
        weights = self._weigh(cost_forward, cost_backward, closed, waits)
        begin, end = self._point(origin), self._point(destination)
        entry = self._leave(weights, begin)
        distance = self._search(weights, begin, entry)
        first, last = self.strings.first[end.string], self.strings.last[end.string]
        by_first, by_last = self._leave(weights.turned(), end, arriving_cost)
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
        waits: Waits | None = None,
    ) -> Floats:
        """Find the least cost from one position to every node.

        Parameters
        ----------
        cost_forward, cost_backward, closed, waits
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
        return self._spread(self._weigh(cost_forward, cost_backward, closed, waits), origin)

    def field_along(
        self,
        cost_forward: Floats,
        cost_backward: Floats,
        other_forward: Floats,
        other_backward: Floats,
        origin: Position,
        *,
        closed: Flags | None = None,
        waits: Waits | None = None,
        other_waits: Waits | None = None,
    ) -> Floats:
        """Add up another quantity along the cheapest way from one position to every node.

        Parameters
        ----------
        cost_forward, cost_backward, closed, waits
            As for :meth:`least`: what the ways are chosen by.
        other_forward, other_backward, other_waits
            What is added up, such as time where the cost is not time; as the costs.
        origin : (int, float)
            Segment, and share of it from its tail, 0 to 1.

        Returns
        -------
        (N,) float64
            Along the ways that :meth:`least` gives; infinite where no way leads.

        Raises
        ------
        ValueError
            As for :meth:`least`.
        """
        weights = self._weigh(cost_forward, cost_backward, closed, waits)
        others = self._weigh(other_forward, other_backward, closed, other_waits)
        point = self._point(origin)
        entry = self._leave(weights, point)
        distance = self._search(weights, point, entry)
        along = self._summed(weights, others, distance, point, entry)
        return self._spread_from(weights, point, distance, others, along)[1]

    def field_to(
        self,
        cost_forward: Floats,
        cost_backward: Floats,
        destination: Position,
        *,
        closed: Flags | None = None,
        waits: Waits | None = None,
    ) -> Floats:
        """Find the least cost from every node to one position.

        Parameters
        ----------
        cost_forward, cost_backward, closed, waits
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
        weights = self._weigh(cost_forward, cost_backward, closed, waits).turned()
        string = weights.string.reshape(-1, 2)[:, ::-1].ravel()
        return self._spread(weights._replace(string=string), destination, arriving_cost)

    def _weigh(
        self,
        cost_forward: Floats,
        cost_backward: Floats,
        closed: Flags | None,
        waits: Waits | None,
    ) -> Weights:
        forth = checked(cost_forward, self.open_forward, "forward")
        back = checked(cost_backward, self.open_backward, "backward")
        if closed is not None:
            forth, back = np.where(closed, inf, forth), np.where(closed, inf, back)
        strings, both = self.strings, np.concatenate([forth, back])
        along, against = (both.take(rows) for rows in self.in_order)
        none = np.broadcast_to(0.0, self.tail.shape)
        held = Held(strings, *(waits or (none, none)))
        if not strings.first.size:
            return Weights(along, against, np.empty(0), held)
        string = np.empty(2 * strings.first.size)
        for side, each in enumerate((along, against)):
            np.add.reduceat(each, strings.start[:-1], out=string[side::2])
        return Weights(along, against, string, held)

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

    def _leave(
        self, weights: Weights, point: Point, part: PartCost = leaving_cost
    ) -> tuple[float, float]:
        """Cost from a point to the first and the last junction of its string."""
        start, stop = self.strings.start[point.string : point.string + 2]
        return (
            part(weights.turned(), point.place, point.share)
            + float(weights.against[start : point.place].sum()),
            part(weights, point.place, 1.0 - point.share)
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
        tree: Tree | None = None,
    ) -> list[Ints]:
        """Stretches of places from a point to a junction; see the module on ties."""
        strings = self.strings
        ends = (int(strings.first[point.string]), int(strings.last[point.string]))
        start, stop = strings.start[point.string : point.string + 2].tolist()
        steps: list[Ints] = []
        while (junction, distance[junction]) not in zip(ends, entry, strict=True):
            came = self._came(weights, distance, junction) if tree is None else tree.came(junction)
            if came is None:
                msg = "a cost is too small beside the cost of the whole way to be told from zero"
                raise ValueError(msg)
            junction, chosen = came
            low, high = strings.start[chosen >> 1 : (chosen >> 1) + 2].tolist()
            if chosen & 1:
                steps.append(stretch(high - 1, low, along=False))
            else:
                steps.append(stretch(low, high - 1, along=True))
        if (junction, distance[junction]) == (ends[0], entry[0]):
            steps.append(stretch(point.place, start, along=False))
        else:
            steps.append(stretch(point.place, stop - 1, along=True))
        return steps[::-1]

    def _came(self, weights: Weights, distance: Floats, junction: int) -> tuple[int, int] | None:
        """From which junction, and along which string, the cheapest way comes to one."""
        rows = slice(self.links.leave_start[junction], self.links.leave_start[junction + 1])
        before, dart, tight = self._tight(weights, distance, rows, distance[junction])
        first = int(np.argmax(tight))
        return (int(before[first]), int(dart[first])) if tight.any() else None

    def _tree(self, weights: Weights, distance: Floats) -> Tree:
        """Give the same for all junctions at once."""
        size = self.strings.junction.size
        node = np.repeat(np.arange(size), np.diff(self.links.leave_start))
        before, dart, tight = self._tight(weights, distance, slice(None), distance[node])
        rows = np.flatnonzero(tight)[::-1]  # of several the first counts, as for one of them
        tree = Tree(np.full(size, -1), np.full(size, -1))
        tree.before[node[rows]], tree.dart[node[rows]] = before[rows], dart[rows]
        return tree

    def _tight(
        self, weights: Weights, distance: Floats, rows: slice, reached: Floats
    ) -> tuple[Ints, Ints, NDArray[np.bool_]]:
        """Of links, give where each comes from, its dart, and whether a cheapest way takes it."""
        before, dart = self.links.leave_to[rows], self.links.leave_link[rows] ^ 1
        tight = distance[before] + weights.string[dart] == reached
        return before, dart, tight & (distance[before] < reached)

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
        wait = weights.waits.along(place, along)
        path = Path(segment, forward, float(from_fraction), float(to_fraction), 0.0)
        return replace(path, cost=summed(path.walked, cost, wait))

    def _spread(self, weights: Weights, origin: Position, part: PartCost = leaving_cost) -> Floats:
        """Least cost from a position to every node."""
        point = self._point(origin)
        distance = self._search(weights, point, self._leave(weights, point, part))
        return self._spread_from(weights, point, distance, weights, distance, part)[0]

    def _spread_from(
        self,
        weights: Weights,
        point: Point,
        distance: Floats,
        others: Weights,
        along: Floats,
        part: PartCost = leaving_cost,
    ) -> tuple[Floats, Floats]:
        """Carry the cost at the junctions, and another quantity, to the nodes between them."""
        strings = self.strings
        cost, other = np.full(self.n_nodes, inf), np.full(self.n_nodes, inf)
        cost[strings.junction], other[strings.junction] = distance, along
        length = np.diff(strings.start).astype(np.int32)
        # Nodes within strings come from either end; the node after the last place is a junction.
        inner = np.ones(strings.segment.size, bool)
        inner[strings.start[1:] - 1] = False
        at = np.flatnonzero(inner)
        string = np.repeat(np.arange(length.size), length)[at]
        nodes, first, last = strings.end_node[at], strings.first[string], strings.last[string]
        ahead, behind = _from_ends(weights, strings.start, length, at)
        by_first, by_last = distance[first] + ahead, distance[last] + behind
        cost[nodes] = np.minimum(by_first, by_last)
        if others is not weights:
            ahead, behind = _from_ends(others, strings.start, length, at)
            other[nodes] = np.where(by_first <= by_last, along[first] + ahead, along[last] + behind)
        start, stop = strings.start[point.string : point.string + 2].tolist()
        ways = string_costs(weights, point, start, stop, part)
        other_ways = string_costs(others, point, start, stop, part)
        ends = (
            strings.end_node[point.place : stop - 1],
            strings.end_node[start : point.place][::-1],
        )
        for nodes, direct, other_direct in zip(ends, ways, other_ways, strict=True):
            other[nodes] = np.where(direct < cost[nodes], other_direct, other[nodes])
            cost[nodes] = np.minimum(cost[nodes], direct)
        return cost, other

    def _summed(
        self,
        weights: Weights,
        others: Weights,
        distance: Floats,
        point: Point,
        entry: tuple[float, float],
    ) -> Floats:
        """Add another quantity up along the tree of cheapest ways to the junctions."""
        strings, size = self.strings, self.strings.junction.size
        tree = self._tree(weights, distance)
        known = tree.before >= 0
        parent = np.where(known, tree.before, np.arange(size))
        step = np.full(size, inf)
        step[known] = others.string[tree.dart[known]]
        ends = (int(strings.first[point.string]), int(strings.last[point.string]))
        starts = zip(ends, entry, self._leave(others, point), strict=True)
        for end, cost, other in reversed(list(starts)):
            if distance[end] == cost:
                parent[end], step[end] = end, other
        # Every junction hands on to the one before the one before it, until all point at a root.
        total = np.where(parent == np.arange(size), 0.0, step)
        while not np.array_equal(parent, parent[parent]):
            total, parent = total + total[parent], parent[parent]
        return np.asarray(total + step[parent])


def _from_ends(
    weights: Weights, start: Ints, length: Ints, at: NDArray[np.integer]
) -> tuple[Floats, Floats]:
    """Cost to the nodes after some places from the first and from the last end of their string."""
    ahead = running_cost(weights.along, start, length)
    behind = running_cost(weights.against[::-1], turned(start), length[::-1])[::-1]
    return ahead[at], behind[at + 1]


class Fan:
    """The least-cost ways from one position, found once for any number of destinations.

    Parameters
    ----------
    network : Network
        The streets.
    cost_forward, cost_backward : (M,) float64
        Cost of each segment each way; finite and above zero where open.
    origin : (int, float)
        Segment, and share of it from its tail.
    closed : (M,) bool
        Segments nobody may walk this time.
    waits : tuple of two (M,) float64, optional
        As for `Network.least`.
    """

    # The search and its unpacking are the network's own; this class only keeps the search.
    # ruff: noqa: SLF001

    def __init__(
        self,
        network: Network,
        cost_forward: NDArray[np.float64],
        cost_backward: NDArray[np.float64],
        origin: Position,
        *,
        closed: NDArray[np.bool_],
        waits: Waits | None = None,
    ) -> None:
        self.network, self.origin = network, origin
        self.weights = network._weigh(cost_forward, cost_backward, closed, waits)
        self.begin = network._point(origin)
        self.entry = network._leave(self.weights, self.begin)
        self.distance = network._search(self.weights, self.begin, self.entry)
        self.tree = network._tree(self.weights, self.distance)

    def way_to(self, destination: Position) -> Path | None:
        """Give the way to one destination.

        Parameters
        ----------
        destination : (int, float)
            Segment, and share of it from its tail.

        Returns
        -------
        Path or None
            As `Network.least` gives it; None when no way exists.
        """
        network, weights, begin = self.network, self.weights, self.begin
        end = network._point(destination)
        string = network.strings
        first, last = int(string.first[end.string]), int(string.last[end.string])
        by_first, by_last = network._leave(weights.turned(), end, arriving_cost)
        totals = (
            direct_cost(weights, begin, end),
            float(self.distance[first]) + by_first,
            float(self.distance[last]) + by_last,
        )
        best = int(np.argmin(totals))
        if isinf(totals[best]):
            return None
        if best == 0:
            steps = [stretch(begin.place, end.place, along=is_ahead(begin, end))]
        else:
            start, stop = string.start[end.string : end.string + 2].tolist()
            steps = network._backtrack(
                weights, self.distance, begin, self.entry, (first, last)[best - 1], self.tree
            )
            ahead = best == 1
            steps.append(stretch(start if ahead else stop - 1, end.place, along=ahead))
        return network._unpack(weights, steps, self.origin[1], destination[1])
