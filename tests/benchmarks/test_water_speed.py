"""Questions about water on a city of many places: ratios against networkx, answers the same."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from math import inf
from typing import Any, TypeVar

import networkx as nx
import numpy as np
import pytest

from simulator.supply.bottle import Treatment
from simulator.supply.chance import UnsureWay, surest
from simulator.supply.never_dry import FillingPoints, Supply, never_dry
from simulator.supply.refills import plan_stops

SIDE, BLOCK_S = 40, 60
WET = 60
BOTTLE_S = 1200
STOP_S = 180


Answer = TypeVar("Answer")


def clocked(task: Callable[[], Answer]) -> tuple[float, Answer]:
    begin = time.process_time()
    answer = task()
    return time.process_time() - begin, answer


@pytest.mark.benchmark
@pytest.mark.slow
def test_the_way_never_dry_beside_networkx_on_places_times_fill_levels() -> None:
    generator = np.random.default_rng(2)
    node = np.arange(SIDE * SIDE).reshape(SIDE, SIDE)
    tail = np.concatenate([node[:, :-1].ravel(), node[:-1].ravel()]).astype(np.int32)
    head = np.concatenate([node[:, 1:].ravel(), node[1:].ravel()]).astype(np.int32)
    # Whole minutes, so that fill levels are whole minutes too.
    minutes = generator.integers(1, 4, tail.size)
    cost = np.asarray(60.0 * minutes, dtype=np.float64)
    wet = generator.choice(tail.size, WET, replace=False)
    points = FillingPoints(
        segment=wet.astype(np.int32),
        fraction=np.zeros(WET),
        access_s=np.zeros(WET),
        stop_s=np.full(WET, float(STOP_S)),
        treated=np.zeros(WET, dtype=bool),
    )
    first, last = 0, int(np.flatnonzero(head == node[-1, -1])[0])

    def mine() -> float:
        found = never_dry(
            tail,
            head,
            node.size,
            cost,
            cost,
            ends=[(first, 0.0), (last, 1.0)],
            points=points,
            supply=Supply(BOTTLE_S, BOTTLE_S),
        )
        return inf if found is None else found.total_s

    def theirs() -> float:
        full = BOTTLE_S // 60
        graph: nx.DiGraph[tuple[int, int]] = nx.DiGraph()
        for a, b, length in zip(tail.tolist(), head.tolist(), minutes.tolist(), strict=True):
            for level in range(length, full + 1):
                for begin, end in ((a, b), (b, a)):
                    graph.add_edge((begin, level), (end, level - length), s=60 * length)
        for place in tail[wet].tolist():
            for level in range(full):
                graph.add_edge((place, level), (place, full), s=STOP_S)
        least = nx.single_source_dijkstra_path_length(graph, (0, full), weight="s")
        home = int(node[-1, -1])
        return min((least.get((home, level), inf) for level in range(full + 1)), default=inf)

    own_s, own = clocked(mine)
    nx_s, other = clocked(theirs)
    assert own == pytest.approx(other, abs=1e-5)
    print(  # noqa: T201 - a benchmark's result
        f"\nway never dry, {node.size} nodes, {WET} places, 20 fill levels: here {own_s:.3f} s, "
        f"networkx expanded {nx_s:.3f} s: {nx_s / own_s:.0f} times"
    )


@pytest.mark.benchmark
@pytest.mark.slow
def test_stops_and_chances_of_many_places() -> None:
    generator = np.random.default_rng(3)
    for size in (50, 150, 500):
        along = np.sort(generator.uniform(0, 4000, size + 1))
        need, end = along[:-1], float(along[-1])
        cost, works = generator.uniform(60, 600, size), generator.uniform(0.3, 0.9, size)
        treated = generator.random(size) < 0.3
        way: dict[str, Any] = {
            "start_ml": 500.0,
            "capacity_ml": 1000.0,
            "end_need_ml": end,
            "needs_treatment": treated,
            "drink_ahead_ml": 250.0,
        }
        tablets = Treatment(inf, wait_s=1860, dose_ml=500, carry_s=60)
        fit_after = np.full(size, 80.0)
        plan_s, plan = clocked(
            partial(plan_stops, need, cost, treatments=[tablets], fit_after_ml=fit_after, **way)
        )
        near = np.sort(generator.choice(size, min(size, 60), replace=False))
        few = way | {"needs_treatment": treated[near]}
        odds = UnsureWay.of(
            need[near],
            cost[near],
            works[near],
            treatments=[tablets._replace(carry_s=inf)],
            grain_ml=10.0,
            **few,
        )
        chance_s, best = clocked(partial(surest, odds))
        print(  # noqa: T201 - a benchmark's result
            f"\n  {size} places: stops in {1000 * plan_s:.0f} ms, "
            f"surest of {near.size} in {1000 * chance_s:.0f} ms"
        )
        assert plan.short_ml == 0.0
        assert 0.0 <= best.dry <= 1.0
