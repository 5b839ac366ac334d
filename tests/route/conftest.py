"""Small towns where uphill and downhill times differ strongly, and the same towns in networkx."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from numpy.typing import NDArray

from simulator.arrays import Position
from simulator.route.blockages import Layout, TimedTrip
from simulator.route.search import Network

ENDS = ("start", "home")


@dataclass(frozen=True)
class Town:
    """A seeded town: arrays, and the two ends of a trip across it."""

    tail: NDArray[np.int32]
    head: NDArray[np.int32]
    n_nodes: int
    forward_s: NDArray[np.float64]
    backward_s: NDArray[np.float64]
    open_forward: NDArray[np.bool_]
    open_backward: NDArray[np.bool_]
    origin: Position
    destination: Position

    @property
    def network(self) -> Network:
        """The town, contracted."""
        return Network.build(
            self.tail, self.head, self.n_nodes, self.open_forward, self.open_backward
        )

    def graph(self, closed: Collection[int] = ()) -> nx.MultiDiGraph[int | str]:
        """Give the town to networkx, first and last street cut where the trip begins and ends."""
        graph: nx.MultiDiGraph[int | str] = nx.MultiDiGraph()
        graph.add_nodes_from([*range(self.n_nodes), *ENDS])
        cuts: dict[int, list[tuple[float, int | str]]] = {}
        for name, (segment, fraction) in zip(ENDS, (self.origin, self.destination), strict=True):
            cuts.setdefault(segment, []).append((fraction, name))
        for segment, (tail, head) in enumerate(zip(self.tail, self.head, strict=True)):
            stops = [(0.0, int(tail)), *sorted(cuts.get(segment, []), key=str), (1.0, int(head))]
            for (low, begin), (high, end) in pairwise(stops):
                share = high - low
                if segment in closed and share > 0.0:
                    continue
                if self.open_forward[segment] or share == 0.0:
                    graph.add_edge(begin, end, time_s=self.forward_s[segment] * share)
                if self.open_backward[segment] or share == 0.0:
                    graph.add_edge(end, begin, time_s=self.backward_s[segment] * share)
        return graph

    def least_s(self, closed: Collection[int] = (), source: int | str = ENDS[0]) -> float:
        """Least time home by networkx; infinite where there is no way."""
        try:
            return float(
                nx.dijkstra_path_length(self.graph(closed), source, ENDS[1], weight="time_s")
            )
        except nx.NetworkXNoPath:
            return float("inf")


def build_town(
    seed: int, *, side: int = 9, bends: int = 2, one_way: float = 0.03, whims: float = 1.0
) -> Town:
    """Lay out a grid with gaps, doubled streets, bends and one-ways over steep hills.

    ``whims`` is the spread of what else makes the two directions of a street differ (stairs,
    waiting, crowds), as the standard deviation of the logarithm of time.
    """
    rng = np.random.default_rng(seed)
    at = [(100.0 * x, 100.0 * y) for y in range(side) for x in range(side)]
    links: list[tuple[int, int]] = []

    def street(begin: int, end: int) -> None:
        before, count = begin, int(rng.integers(0, bends + 1))
        for bend in range(1, count + 1):
            share = bend / (count + 1)
            first, last = np.array(at[begin]), np.array(at[end])
            at.append(tuple((1 - share) * first + share * last))
            links.append((before, len(at) - 1))
            before = len(at) - 1
        links.append((before, end))

    for node in range(side * side):
        if (node + 1) % side and rng.random() < 0.9:
            street(node, node + 1)
        if node + side < side * side and rng.random() < 0.9:
            street(node, node + side)
        if (node + 1) % side and rng.random() < 0.05:
            street(node, node + 1)
    ends = np.array(links, np.int32)
    turned = rng.random(len(links)) < 0.5
    tail, head = np.where(turned, ends[:, 1], ends[:, 0]), np.where(turned, ends[:, 0], ends[:, 1])
    x, y = (np.array(at) + rng.normal(0, 5, (len(at), 2))).T
    height = 80 * np.sin(x / 170) * np.cos(y / 130) + rng.normal(0, 5, x.size)
    length = np.hypot(x[tail] - x[head], y[tail] - y[head]) + 1.0
    slope = np.clip((height[head] - height[tail]) / length, -0.6, 0.6)
    # One way, either way or neither, but never closed both ways.
    only = rng.random(tail.size) < one_way
    ahead = rng.random(tail.size) < 0.5
    places = rng.choice(tail.size, 2, replace=False)
    shares = [float(rng.choice([0.0, 1.0, rng.random()])) for _ in range(2)]
    return Town(
        tail.astype(np.int32),
        head.astype(np.int32),
        x.size,
        length * np.exp(4 * slope + rng.normal(0, whims, tail.size)),
        length * np.exp(-4 * slope + rng.normal(0, whims, tail.size)),
        ~only | ahead,
        ~only | ~ahead,
        (int(places[0]), shares[0]),
        (int(places[1]), shares[1]),
    )


@pytest.fixture(scope="session")
def town() -> Callable[..., Town]:
    """Build a town from a seed."""
    return build_town


@pytest.fixture(scope="session")
def trip_across() -> Callable[[Town], TimedTrip]:
    """Make the trip of a town, with nothing closed."""

    def trip(place: Town) -> TimedTrip:
        layout = Layout.build(place.network, place.origin, place.destination)
        return TimedTrip(layout, place.forward_s, place.backward_s)

    return trip
