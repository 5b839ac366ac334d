"""The fewest bridges whose loss cuts home off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

from simulator.route.search import Network, Position

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
