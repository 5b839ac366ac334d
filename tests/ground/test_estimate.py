"""Estimated heights: a network solved by hand, and the Laplacian of networkx."""

from __future__ import annotations

from collections.abc import Sequence

import networkx as nx
import numpy as np
import pytest
from numpy.typing import NDArray

from simulator.ground.terrain import Pieces, cut, estimated

Floats = NDArray[np.float64]
Ends = NDArray[np.int64]


def _cut(
    tail: Sequence[int], head: Sequence[int], length_m: Sequence[float], *, nodes: int
) -> tuple[Pieces, Ends, Ends, Floats]:
    """Cut every 50 m."""
    arrays = np.array(tail), np.array(head), np.array(length_m, dtype=np.float64)
    return (cut(*arrays, np.full(len(tail), 50.0), n_nodes=nodes), *arrays)


def _with_cuts(node_height_m: Sequence[float] | Floats, pieces: Pieces) -> Floats:
    return np.concatenate((node_height_m, np.full(pieces.fraction.size, np.nan)))


def test_a_junction_between_three_known_heights_is_their_mean_by_nearness() -> None:
    # By hand: (10/100 + 20/200 + 60/400) / (1/100 + 1/200 + 1/400) = 0.35 / 0.0175 = 20.
    pieces, tail, head, length_m = _cut([0, 1, 2], [3, 3, 3], [100, 200, 400], nodes=4)
    height, level = estimated(
        _with_cuts([10, 20, 60, np.nan], pieces), pieces, tail, head, length_m
    )
    assert height[:4].tolist() == pytest.approx([10, 20, 60, 20])
    # Cuts every 50 m: straight from each end to the junction.
    assert height[4:].tolist() == pytest.approx([15, *[20] * 3, *np.linspace(60, 20, 9)[1:-1]])
    assert not level.any()


def test_random_networks_agree_with_the_laplacian_of_networkx() -> None:
    generator = np.random.default_rng(5)
    for _ in range(10):
        graph = nx.connected_watts_strogatz_graph(40, 4, 0.3, seed=int(generator.integers(1000)))
        for one in graph.edges.values():
            one["weight"] = 1.0 / one.setdefault("length", float(generator.uniform(20, 300)))
        tail, head = (list(ends) for ends in zip(*graph.edges, strict=True))
        lengths = [graph.edges[pair]["length"] for pair in graph.edges]
        pieces, tails, heads, length_m = _cut(tail, head, lengths, nodes=40)
        known = generator.random(40) < 0.3
        node_height_m = np.where(known, generator.uniform(0, 200, 40), np.nan)
        height, _ = estimated(_with_cuts(node_height_m, pieces), pieces, tails, heads, length_m)
        laplacian = nx.laplacian_matrix(graph, nodelist=range(40)).toarray()
        inner = np.ix_(~known, ~known)
        outer = np.ix_(~known, known)
        solved = np.linalg.solve(laplacian[inner], -laplacian[outer] @ node_height_m[known])
        np.testing.assert_allclose(height[:40][~known], solved, atol=1e-8)
        np.testing.assert_array_equal(height[:40][known], node_height_m[known])


def test_cuts_that_are_known_hold_the_heights_beside_them() -> None:
    # A segment of 200 m, its cut at 100 m known: straight on both sides of it.
    pieces, tail, head, length_m = _cut([0], [1], [200], nodes=2)
    height, _ = estimated(np.array([0, 40, np.nan, 30, np.nan]), pieces, tail, head, length_m)
    assert height.tolist() == pytest.approx([0, 40, 15, 30, 35])


def test_a_dead_end_is_level_and_a_part_without_known_heights_lies_at_their_median() -> None:
    pieces, tail, head, length_m = _cut([0, 1, 2, 4], [1, 2, 3, 5], [100, 100, 70, 90], nodes=6)
    nan = np.nan
    start = _with_cuts([10, 30, nan, nan, nan, nan], pieces)
    height, level = estimated(start, pieces, tail, head, length_m)
    assert height[:6].tolist() == pytest.approx([10, 30, 30, 30, 20, 20])
    assert level.tolist() == [False, False, False, True]
    assert np.isfinite(height).all()


def test_what_is_known_throughout_or_nowhere_is_left_as_it_is() -> None:
    pieces, tail, head, length_m = _cut([0], [1], [40], nodes=2)
    for given in ([3.0, 5.0], [np.nan, np.nan]):
        height, level = estimated(np.array(given), pieces, tail, head, length_m)
        np.testing.assert_array_equal(height, given)
        assert not level.any()
