"""Ways around closures, against networkx on the town with the closed streets taken out.

Reference: networkx ``dijkstra_path_length`` on every case; the fewest bridges against trying all
sets. In these towns the two directions of a street often differ tenfold in time.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from math import inf
from typing import Any

import numpy as np
import pytest

from simulator.route.blockages import (
    LIMIT_SHARES,
    Layout,
    PreparedTrip,
    TimedTrip,
    pairs_that_matter,
    smallest_cut,
)
from simulator.route.trees import Arcs, homeward, lateness, outward

Towns = Callable[..., Any]
Trips = Callable[[Any], TimedTrip]
SEEDS = range(8)


def close(value: float, expected: float) -> bool:
    """Equal but for the order in which times are added up."""
    return value == expected or abs(value - expected) <= 1e-9 * (1.0 + abs(expected))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_open_way_is_that_of_the_search(town: Towns, trip_across: Trips, seed: int) -> None:
    place = town(seed)
    trip = trip_across(place)
    path = trip.path(trip.open_way)
    searched = place.network.least(
        place.forward_s, place.backward_s, place.origin, place.destination
    )
    assert close(trip.open_way.cost_s, place.least_s())
    assert close(path.cost, searched.cost)
    np.testing.assert_array_equal(path.segment, searched.segment)
    np.testing.assert_array_equal(path.forward, searched.forward)
    assert (path.from_fraction, path.to_fraction) == (searched.from_fraction, searched.to_fraction)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_street_pair_and_handful_closed_costs_what_networkx_finds(
    town: Towns, trip_across: Trips, seed: int
) -> None:
    place = town(seed)
    trip = trip_across(place)
    rng = np.random.default_rng(seed)
    way = trip.path(trip.open_way).segment
    closures = [[int(segment)] for segment in way]
    closures += [rng.choice(way, 2).tolist() for _ in range(10)]
    closures += [[*rng.integers(0, place.tail.size, 6).tolist(), int(way[-1])] for _ in range(5)]
    closures += [[int(segment)] for segment in rng.integers(0, place.tail.size, 5)]
    for closed in closures:
        around = trip.without(closed)
        expected = place.least_s(set(closed))
        assert close(around.cost_s, expected), closed
        if expected < inf:
            path = trip.path(around)
            assert close(path.cost, expected)
            assert not set(path.segment.tolist()) & set(closed)
            assert close(around.extra_s, expected - trip.open_way.cost_s)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_blockage_met_on_arrival_costs_the_way_back_as_well(
    town: Towns, trip_across: Trips, seed: int
) -> None:
    place = town(seed)
    trip = trip_across(place)
    path, profile = trip.path(trip.open_way), trip.profile()
    assert profile.known_extra_s.shape == profile.met_extra_s.shape == path.segment.shape
    for row in range(1, path.segment.size - 1):
        segment = int(path.segment[row])
        node = int((place.tail if path.forward[row] else place.head)[segment])
        closed_s, open_s = place.least_s({segment}, node), place.least_s((), node)
        assert close(profile.met_extra_s[row], closed_s - open_s)
        assert close(profile.known_extra_s[row], place.least_s({segment}) - place.least_s())
    assert (profile.met_extra_s >= profile.known_extra_s - 1e-6).all()
    arcs = trip.layout.arcs
    for arc in trip.detours.way(trip.open_way):
        node = int(arcs.tail[arc])
        around = trip.detours.from_node(node, [int(arcs.edge[arc])])
        if around.joins >= 0:
            # So much later than the open way from there.
            assert close(around.cost_s - around.extra_s, float(trip.detours.home.time_s[node]))
            assert around.cost_s >= around.extra_s >= 0.0


@pytest.mark.parametrize("seed", SEEDS)
def test_pairs_left_out_cost_no_more_than_one_of_them(
    town: Towns, trip_across: Trips, seed: int
) -> None:
    place = town(seed)
    trip = trip_across(place)
    rng = np.random.default_rng(seed)
    ends = (place.origin[0], place.destination[0])
    groups = [rng.choice(place.tail.size, 8) for _ in range(12)]
    groups = [group[~np.isin(group, ends)] for group in groups]
    found = {(pair.first, pair.second): pair for pair in pairs_that_matter(trip, groups)}
    single = [trip.without(group).cost_s for group in groups]
    for first, second in combinations(range(len(groups)), 2):
        expected = place.least_s({*groups[first].tolist(), *groups[second].tolist()})
        if (first, second) in found:
            pair = found[first, second]
            assert close(trip.open_way.cost_s + pair.extra_s, expected)
            assert expected > max(single[first], single[second])
            assert pair.path is None if expected == inf else pair.path is not None
        else:
            assert close(max(single[first], single[second]), expected)


@pytest.mark.parametrize("first", range(6))
def test_a_way_that_the_textbook_formula_misses_is_found(first: int) -> None:
    # Tree from the start, one street, tree towards home, both clear of the closure: 66, since
    # from the alley one goes home over the bridge (1 + 1 + 1), and when that is closed by the
    # steep stairs to the wharf (50). Exact: 10 + 50 + 1 + 1 = 62, worked by hand.
    # Whatever number a place happens to have.
    start, quay, bridge_end, alley, wharf, home = ((np.arange(6) + first) % 6).tolist()
    streets = {
        (start, quay): (1.0, 1.0),
        (quay, bridge_end): (1.0, 1.0),
        (bridge_end, home): (1.0, 1.0),
        (start, alley): (10.0, 10.0),
        (quay, alley): (100.0, 1.0),
        (bridge_end, alley): (1.0, 100.0),
        (bridge_end, wharf): (1.0, 1.0),
        (alley, wharf): (50.0, 1.0),
        (start, wharf): (64.0, 64.0),
    }
    tail, head = np.array(list(streets), np.int32).T
    there_s, back_s = np.array(list(streets.values())).T
    arcs = Arcs.build(tail, head, 6)
    detours = PreparedTrip(arcs, arcs.costs(there_s, back_s), start, home)
    assert detours.open_way.cost_s == 3.0
    around = detours.without([1])
    assert around.cost_s == 62.0
    passed = [int(arcs.head[arc]) for arc in detours.way(around)]
    assert passed == [alley, wharf, bridge_end, home]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_limit_changes_nothing_but_the_work(
    town: Towns, trip_across: Trips, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = town(seed)
    limited = trip_across(place)
    edges = range(place.network.strings.first.size)
    got = [limited.detours.without([edge]).cost_s for edge in edges]
    assert limited.detours.limits_used() <= set(LIMIT_SHARES)
    monkeypatch.setattr("simulator.route.blockages.LIMIT_SHARES", (inf,))
    full = trip_across(place)
    assert all(
        close(cost_s, full.detours.without([edge]).cost_s)
        for cost_s, edge in zip(got, edges, strict=True)
    )


def test_closing_nothing_on_the_way_changes_nothing(town: Towns, trip_across: Trips) -> None:
    trip = trip_across(town(3))
    path = trip.path(trip.open_way)
    off = np.setdiff1d(np.arange(town(3).tail.size), path.segment)
    beside = [
        segment
        for segment in off.tolist()
        if not set(trip.layout.edges([segment])) & set(trip.layout.edges(path.segment))
    ]
    assert trip.without(beside[:20]) == trip.open_way
    assert trip.without([]) == trip.open_way


def test_a_trip_to_where_one_stands_takes_no_time(town: Towns) -> None:
    place = town(0)
    layout = Layout.build(place.network, place.origin, place.origin)
    trip = TimedTrip(layout, place.forward_s, place.backward_s)
    assert trip.path(trip.open_way).cost == 0.0
    assert trip.profile().known_extra_s.size == 0


def test_an_island_has_no_way_home_and_says_so() -> None:
    arcs = Arcs.build(np.array([0, 2], np.int32), np.array([1, 3], np.int32), 4)
    detours = PreparedTrip(arcs, np.ones(4), 0, 3)
    assert detours.open_way.cost_s == inf
    assert detours.without([0]).joins == -1
    assert detours.way(detours.open_way) == ()


def test_the_tree_keeps_what_a_street_cuts_off_together(town: Towns, trip_across: Trips) -> None:
    place = town(5)
    trip = trip_across(place).detours
    home = homeward(trip.arcs, trip.cost_s, trip.destination)
    steps = lateness(trip.arcs, trip.cost_s, home)
    tree = outward(trip.arcs, trip.cost_s, home, trip.origin, steps=steps, limit_s=inf)
    for position in range(tree.order.size):
        low, high = tree.below(position)
        below = set()
        for node in tree.order.tolist():
            step = node
            while step >= 0 and step != int(tree.order[position]):
                step = int(tree.before[step])
            if step >= 0:
                below.add(node)
        assert below == set(tree.order[low:high].tolist())


@pytest.mark.parametrize("seed", range(24))
def test_the_fewest_bridges_equal_those_found_by_trying_all_sets(town: Towns, seed: int) -> None:
    place = town(seed, side=5, bends=1, one_way=0.05 * (seed % 2))
    rng = np.random.default_rng(seed)
    ends = (place.origin[0], place.destination[0])
    streets = np.setdiff1d(np.arange(place.tail.size), ends)
    bridges = rng.choice(streets, min(streets.size, 45), replace=False)
    groups = np.array_split(bridges, int(rng.integers(3, 8)))

    def cuts_off(numbers: tuple[int, ...]) -> bool:
        closed = {int(segment) for number in numbers for segment in groups[number]}
        return bool(place.least_s(closed) == inf)

    cut = smallest_cut(place.network, groups, place.origin, place.destination)
    every = tuple(range(len(groups)))
    if cut is None:
        assert not cuts_off(every)
        return
    fewest = next(
        size
        for size in range(len(groups) + 1)
        if any(cuts_off(some) for some in combinations(every, size))
    )
    assert cuts_off(cut.crossings)
    assert len(cut.crossings) == fewest
    assert cut.smallest


def test_bridges_of_one_deck_leave_no_doubt_about_the_fewest(
    town: Towns, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Ways that share no bridge are as many as the bridges that cut them (Menger 1927), where each
    # crossing is one deck walked both ways: nothing has to be tried.
    monkeypatch.setattr("simulator.route.blockages.MOST_TRIALS", -1)
    sizes = set()
    for seed in range(6):
        place = town(seed, side=5, bends=1, one_way=0.0)
        streets = np.setdiff1d(np.arange(place.tail.size), (place.origin[0], place.destination[0]))
        bridges = [np.array([row]) for row in streets.tolist()]
        cut = smallest_cut(place.network, bridges, place.origin, place.destination)
        if cut is None:  # start and home on one street
            continue
        assert cut.smallest
        sizes.add(len(cut.crossings))
    assert max(sizes) > 1


def test_a_doubt_about_the_fewest_bridges_is_said(
    town: Towns, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("simulator.route.blockages.MOST_TRIALS", 0)
    said = set()
    for seed in range(20):
        place = town(seed, side=5, bends=1)
        streets = np.setdiff1d(np.arange(place.tail.size), (place.origin[0], place.destination[0]))
        groups = np.array_split(np.random.default_rng(seed).permutation(streets)[:45], 5)
        cut = smallest_cut(place.network, groups, place.origin, place.destination)
        if cut is not None:
            said.add(cut.smallest)
    assert False in said
