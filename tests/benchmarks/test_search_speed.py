"""Time of one least-cost route, against networkx and igraph on the same graph."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import igraph
import networkx as nx
import numpy as np
import pytest

from simulator.ground.streets import Streets
from simulator.route.search import Network

ROOT = Path(__file__).resolve().parents[2]
PAIRS = 12

T = TypeVar("T")


def _timed(call: Callable[[], T]) -> tuple[float, T]:
    start = time.process_time()
    found = call()
    return time.process_time() - start, found


@pytest.mark.benchmark
@pytest.mark.slow
def test_one_route_against_networkx_and_igraph(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "data.city", str(tmp_path)]
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    streets = Streets.read(tmp_path / "city.osm.pbf")
    rng = np.random.default_rng(1)
    forth, back = streets.length_m * rng.uniform(0.6, 1.4, (2, streets.tail.size))
    matrix = streets.matrix(forth, back)
    directed = nx.from_scipy_sparse_array(matrix, create_using=nx.DiGraph)
    rows, columns = matrix.nonzero()
    pairs = zip(rows.tolist(), columns.tolist(), strict=True)
    fast = igraph.Graph(n=matrix.shape[0], edges=list(pairs), directed=True)
    weights = np.asarray(matrix[rows, columns]).ravel().tolist()
    build_s, network = _timed(lambda: Network.of_streets(streets))

    seconds: dict[str, list[float]] = {"ours": [], "networkx": [], "both ends": [], "igraph": []}
    for _ in range(PAIRS):
        start, end = rng.integers(0, streets.tail.size, 2).tolist()
        source, target = int(streets.tail[start]), int(streets.head[end])

        def route(start: int = start, end: int = end) -> tuple[float, int]:
            path = network.least(forth, back, (start, 0.0), (end, 1.0))
            drawn = streets.polyline(
                path.segment, path.forward, path.from_fraction, path.to_fraction
            )
            return path.cost, len(drawn)

        def plain(source: int = source, target: int = target) -> float:
            return float(nx.dijkstra_path_length(directed, source, target))

        def both_ends(source: int = source, target: int = target) -> float:
            return float(nx.bidirectional_dijkstra(directed, source, target)[0])

        def compiled(source: int = source, target: int = target) -> float:
            found = fast.get_shortest_path(source, target, weights=weights, output="epath")
            return float(sum(weights[edge] for edge in found))

        ours_s, (cost, _) = _timed(route)
        seconds["ours"].append(ours_s)
        for name, call in (("networkx", plain), ("both ends", both_ends), ("igraph", compiled)):
            took_s, expected = _timed(call)
            seconds[name].append(took_s)
            assert cost == pytest.approx(expected, rel=1e-9)

    ours_s = float(np.median(seconds["ours"]))
    print(  # noqa: T201 - the report
        f"\n{matrix.shape[0]:,} nodes to {network.strings.junction.size:,} junctions, once: "
        f"{build_s * 1000:.0f} ms; medians of {PAIRS} routes"
    )
    for name, each in seconds.items():
        middle_s = float(np.median(each))
        row = f"{name:<12}{middle_s * 1000:>9.1f} ms{middle_s / ours_s:>8.1f}x"
        print(row)  # noqa: T201 - the report
