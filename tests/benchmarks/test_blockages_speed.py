"""Time of ways around closures on a city of 300,000 nodes, against scipy and networkx.

Run with ``pytest tests/benchmarks -m benchmark -s``. Times of the machine at hand; the ratios are
what is compared. Answers are asserted equal.
"""

from __future__ import annotations

import importlib.util
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import networkx as nx
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from simulator.arrays import Position
from simulator.body.pace import tobler_speed_m_s
from simulator.ground.osm import read_extract
from simulator.ground.streets import Streets
from simulator.route.blockages import Layout, PreparedTrip, TimedTrip
from simulator.route.search import Network

pytestmark = [pytest.mark.benchmark, pytest.mark.slow]

Floats = NDArray[np.float64]
Answer = TypeVar("Answer")

CLOSURES = 50
NETWORKX_RUNS = 3


def best_of(rounds: int, job: Callable[[], Answer]) -> tuple[float, Answer]:
    """Least time of several rounds [s], and the last answer."""
    times = []
    for _ in range(rounds):
        begin = time.process_time()
        answer = job()
        times.append(time.process_time() - begin)
    return min(times), answer


def scipy_tree(graph: csr_array, source: int) -> Floats:
    """Least time to every node by scipy."""
    times: Floats = dijkstra(graph, indices=source)  # type: ignore[call-overload]
    return times


@dataclass(frozen=True)
class City:
    """A city with hills, and a walk of some 25 km across it."""

    streets: Streets
    network: Network
    forward_s: Floats
    backward_s: Floats
    origin: Position
    destination: Position


@pytest.fixture(scope="module")
def city(tmp_path_factory: pytest.TempPathFactory) -> City:
    """Write the grid city as an extract, read it, and lay hills under it."""
    beside = Path(__file__).with_name("grid_city.py")
    spec = importlib.util.spec_from_file_location("grid_city", beside)
    assert spec is not None
    assert spec.loader is not None
    grid = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(grid)
    path = grid.write_grid(tmp_path_factory.mktemp("city") / "city.osm.pbf")
    streets = Streets.of(read_extract(path).streets)
    height = 60 * np.sin(streets.lon * 700) * np.cos(streets.lat * 500)
    height += 25 * np.sin(streets.lon * 2100 + 1) * np.sin(streets.lat * 1900)
    slope = (height[streets.head] - height[streets.tail]) / streets.length_m
    slope = np.clip(slope, -0.4, 0.4)
    rng = np.random.default_rng(0)
    manner = rng.uniform(0.7, 1.0, len(streets.ways))[streets.way]
    network = Network.of_streets(streets)
    start = streets.snap(46.020, 7.020, limit_m=100)
    home = streets.snap(46.175, 7.140, limit_m=100)
    return City(
        streets,
        network,
        streets.length_m / (manner * tobler_speed_m_s(slope)),
        streets.length_m / (manner * tobler_speed_m_s(-slope)),
        (start.segment, start.fraction),
        (home.segment, home.fraction),
    )


def test_fifty_closures_take_few_searches(city: City) -> None:
    layout = Layout.build(city.network, city.origin, city.destination)
    trip = TimedTrip(layout, city.forward_s, city.backward_s)
    path = trip.path(trip.open_way)
    rows = np.linspace(1, path.segment.size - 2, CLOSURES).astype(int)
    closures = [[int(segment)] for segment in path.segment[rows]]

    arcs, open_s = layout.arcs, trip.detours.cost_s
    ends = (trip.detours.origin, trip.detours.destination)

    def ours() -> list[float]:
        # From nothing but the contracted graph: both trees are part of the time.
        fresh = PreparedTrip(arcs, open_s, *ends)
        return [fresh.without(layout.edges(closed)).cost_s for closed in closures]

    def from_streets() -> list[float]:
        fresh = TimedTrip(layout, city.forward_s, city.backward_s)
        return [fresh.without(closed).cost_s for closed in closures]

    ours_s, costs = best_of(7, ours)
    streets_s, again = best_of(7, from_streets)
    assert costs == again
    size = (arcs.n_nodes, arcs.n_nodes)

    def with_scipy() -> list[float]:
        answers = []
        for closed in closures:
            cost_s = open_s.copy()
            cost_s[arcs.of_edges(np.array(layout.edges(closed)))] = np.inf
            graph = csr_array((cost_s, arcs.head, arcs.start), shape=size)
            answers.append(float(scipy_tree(graph, trip.detours.origin)[-1]))
        return answers

    scipy_s, by_scipy = best_of(3, with_scipy)
    np.testing.assert_allclose(costs, by_scipy, rtol=1e-9)

    graph: nx.DiGraph[int] = nx.DiGraph()
    usable = np.isfinite(open_s)
    graph.add_weighted_edges_from(
        zip(
            arcs.tail[usable].tolist(),
            arcs.head[usable].tolist(),
            open_s[usable].tolist(),
            strict=True,
        )
    )

    def with_networkx() -> list[float]:
        answers = []
        for closed in closures[:: CLOSURES // NETWORKX_RUNS][:NETWORKX_RUNS]:
            shut = arcs.of_edges(np.array(layout.edges(closed))).tolist()
            links = [(int(arcs.tail[arc]), int(arcs.head[arc])) for arc in shut]
            kept = {link: graph.edges[link]["weight"] for link in links if graph.has_edge(*link)}
            graph.remove_edges_from(kept)
            answers.append(
                float(nx.dijkstra_path_length(graph, trip.detours.origin, trip.detours.destination))
            )
            graph.add_weighted_edges_from((*link, weight) for link, weight in kept.items())
        return answers

    networkx_s, by_networkx = best_of(1, with_networkx)
    few = costs[:: CLOSURES // NETWORKX_RUNS][:NETWORKX_RUNS]
    np.testing.assert_allclose(few, by_networkx, rtol=1e-9)
    networkx_s *= CLOSURES / NETWORKX_RUNS
    print(  # noqa: T201 - a benchmark's result
        f"\n{CLOSURES} closures on {arcs.n_nodes:,} junctions ({city.streets.node_id.size:,} nodes)"
        f"\n  ours      {1e3 * ours_s:9.1f} ms; {1e3 * streets_s:.1f} ms from the times of segments"
        f"\n  scipy     {1e3 * scipy_s:9.1f} ms: {scipy_s / ours_s:.1f} times"
        f"\n  networkx  {1e3 * networkx_s:9.1f} ms: {networkx_s / ours_s:.0f} times"
        f" (from {NETWORKX_RUNS} runs)"
    )


def test_every_street_of_the_way_takes_a_few_trees(city: City) -> None:
    layout = Layout.build(city.network, city.origin, city.destination)
    trip = TimedTrip(layout, city.forward_s, city.backward_s)
    path = trip.path(trip.open_way)

    def ours() -> Floats:
        fresh = TimedTrip(layout, city.forward_s, city.backward_s)
        return fresh.profile().known_extra_s

    ours_s, extra_s = best_of(5, ours)
    graph = city.streets.matrix(city.forward_s, city.backward_s)
    tree_s, _ = best_of(3, lambda: scipy_tree(graph, int(city.streets.tail[path.segment[0]])))
    for row in range(1, path.segment.size - 1, path.segment.size // 12):
        closed = np.zeros(city.streets.tail.size, bool)
        closed[path.segment[row]] = True
        again = city.network.least(
            city.forward_s, city.backward_s, city.origin, city.destination, closed=closed
        )
        assert again.cost == pytest.approx(path.cost + extra_s[row], rel=1e-9)
    length_km = city.streets.length_m[path.segment].sum() / 1e3
    print(  # noqa: T201 - a benchmark's result
        f"\nevery one of {path.segment.size:,} streets of a way of {length_km:.1f} km"
        f"\n  ours      {1e3 * ours_s:9.1f} ms, known and met"
        f"\n  scipy     {1e3 * tree_s:9.1f} ms for one tree of the full graph:"
        f" {ours_s / tree_s:.2f} trees"
    )
