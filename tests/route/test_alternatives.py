"""Other ways home, held to their own promises on towns searched by networkx."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import networkx as nx
import numpy as np
import pytest

from simulator.route.alternatives import LOCAL_SHARE, alternatives
from simulator.route.blockages import Layout, TimedTrip
from simulator.route.search import Network

Towns = Callable[..., Any]
Trips = Callable[[Any], TimedTrip]


def nodes_of(place: Any, path: Any) -> list[int]:  # noqa: ANN401 - fixtures share no module
    """Nodes between the segments of a path."""
    ends = np.where(path.forward, place.head[path.segment], place.tail[path.segment])
    return [int(node) for node in ends[:-1]]


@pytest.mark.parametrize("seed", range(12))
def test_alternatives_keep_sharing_stretch_and_order(
    town: Towns, trip_across: Trips, seed: int
) -> None:
    place = town(seed, side=14, whims=0.2)
    trip = trip_across(place)
    length_m = np.full(place.tail.size, 100.0)
    first = set(trip.path(trip.open_way).segment.tolist())
    found = alternatives(trip, length_m, most_shared=0.6, most_stretch=1.5)
    assert len(found) <= 3
    assert [way.extra_s for way in found] == sorted(way.extra_s for way in found)
    ways = [first]
    for way in found:
        own = way.path.segment.tolist()
        assert len(nodes_of(place, way.path)) == len(set(nodes_of(place, way.path)))
        assert way.path.cost == pytest.approx(trip.open_way.cost_s + way.extra_s, rel=1e-9)
        assert 0.0 < way.extra_s <= 0.5 * trip.open_way.cost_s
        for other in ways:
            # End streets count by the part walked; whole streets bound that from above.
            shared = sum(segment in other for segment in own[1:-1])
            assert shared <= 0.6 * len(own)
        ways.append(set(own))


@pytest.mark.parametrize("seed", range(6))
def test_no_stretch_of_an_alternative_has_a_short_cut(
    town: Towns, trip_across: Trips, seed: int
) -> None:
    place = town(seed, side=14, whims=0.2)
    trip = trip_across(place)
    graph = place.graph()
    local_s = LOCAL_SHARE * trip.open_way.cost_s
    for way in alternatives(trip, np.full(place.tail.size, 100.0), most_stretch=1.5):
        path = way.path
        costs = np.where(
            path.forward, place.forward_s[path.segment], place.backward_s[path.segment]
        )
        nodes, gone_s = nodes_of(place, path), np.cumsum(costs[1:-1])
        gone_s = np.concatenate([[0.0], gone_s])
        for begin in range(len(nodes)):
            reach = nx.single_source_dijkstra_path_length(
                graph, nodes[begin], cutoff=local_s, weight="time_s"
            )
            for end in range(begin + 1, len(nodes)):
                stretch_s = gone_s[end] - gone_s[begin]
                if stretch_s > local_s:
                    break
                assert reach[nodes[end]] == pytest.approx(stretch_s, rel=1e-9)


def test_some_town_has_alternatives(town: Towns, trip_across: Trips) -> None:
    counts = [
        len(alternatives(trip_across(place), np.full(place.tail.size, 100.0), most_shared=0.6))
        for place in (town(seed, side=14, whims=0.2) for seed in range(12))
    ]
    assert max(counts) >= 2


def test_a_single_street_has_no_alternative() -> None:
    both = np.ones(3, bool)
    network = Network.build(
        np.arange(3, dtype=np.int32), np.arange(1, 4, dtype=np.int32), 4, both, both
    )
    trip = TimedTrip(Layout.build(network, (0, 0.5), (2, 0.5)), np.ones(3), np.ones(3))
    assert alternatives(trip, np.ones(3)) == []


def test_another_way_keeps_off_the_bridges_of_the_first() -> None:
    # Two banks joined by three bridges, each 600 s farther from start and home than the one before.
    places = {(x, y): row for row, (x, y) in enumerate((x, y) for x in range(4) for y in (0, 1))}
    links = [((x, y), (x + 1, y)) for x in range(3) for y in (0, 1)]
    bridges = [((x, 0), (x, 1)) for x in (1, 2, 3)]
    both = [*links, *bridges, ((0, 0), (1, 1))]
    tail, head = (np.array([places[pair[end]] for pair in both], np.int32) for end in (0, 1))
    time_s = np.array([600.0] * 6 + [100.0] * 3 + [9_000.0])
    every = np.ones(tail.size, bool)
    network = Network.build(tail, head, 8, every, every)
    start, home = (0, 0.0), (1, 0.0)
    trip = TimedTrip(Layout.build(network, start, home), time_s, time_s)
    first = set(trip.path(trip.open_way).segment.tolist())
    assert 6 in first
    groups = [np.array([row]) for row in (6, 7, 8)]
    kept_off = alternatives(
        trip, time_s, crossings=groups, most_shared=1.0, most_stretch=5.0, local_share=0.0
    )
    assert kept_off
    for other in kept_off:
        assert 6 not in other.path.segment.tolist()
        assert other.extra_s == pytest.approx(other.path.cost - trip.open_way.cost_s)
    # Where no way without it is short enough, the bridge is used again.
    tight = alternatives(trip, time_s, crossings=groups, most_shared=1.0, most_stretch=1.01)
    assert all(6 in other.path.segment.tolist() for other in tight)
