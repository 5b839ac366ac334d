"""Many walks at once: no different from the main question, walk by walk."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from simulator import Plan, demo_folder
from simulator.home.crowd import MOST_HALTS, _Block, walk_crowd
from simulator.home.crowd_records import Crowd
from simulator.home.scene import Scene, prepare
from simulator.home.verdict import LEVELS, findings_of_arrivals, levels_of
from simulator.home.walk import tabulate, walk_way
from simulator.home.walked import Walked
from simulator.home.way import find_way
from simulator.walk.records import Outcome, Total, some_of


@pytest.fixture(scope="module")
def scene() -> Scene:
    return prepare(Plan.read(demo_folder() / "plan.toml"))


@pytest.fixture(scope="module")
def walked(scene: Scene) -> Walked:
    return walk_way(scene, find_way(scene))


def alike(scene: Scene, count: int) -> Crowd:
    """Walk the plan's own walk many times."""
    members = scene.walkers.count
    rows = np.tile(np.arange(members), count)
    walkers = replace(some_of(scene.walkers, rows), party=np.repeat(np.arange(count), members))
    return Crowd(walkers, members, np.full(count, scene.depart_epoch_s))


def test_a_crowd_of_the_plan_s_own_walk_is_that_walk_to_the_bit(
    scene: Scene, walked: Walked
) -> None:
    arrivals = walk_crowd(scene, walked, alike(scene, 3), conditions=scene.conditions)
    own = walked.outcome
    assert (arrivals.elapsed_s == own.totals[Total.CLOCK_S, 0]).all()
    assert (arrivals.short_ml == own.worst_short_ml.sum()).all()
    assert (arrivals.dark_s == own.totals[Total.DARK_S, 0]).all()
    level = levels_of(findings_of_arrivals(arrivals, event=scene.plan.event.kind))
    told = tabulate(scene, walked).summary["verdict"]["level"]
    assert LEVELS[level[0]] == told


@pytest.mark.parametrize(
    ("limit_s", "halt", "due"),
    [
        # Two walks of two, home after 3 h and after 2 h; the first has halted as often as is tried.
        ([7200.0] * 4, True, [True, False]),
        ([7200.0] * 4, False, [False, False]),
        (None, True, [False, False]),
        (None, False, [False, False]),
        ([10800.0, 0.0, 7199.0, 0.0], True, [False, True]),
    ],
)
def test_a_walk_is_due_to_halt_when_its_day_ends_before_home_and_halts_are_allowed(
    limit_s: list[float] | None, halt: bool, due: list[bool]
) -> None:
    totals = np.zeros((len(Total), 4))
    totals[Total.CLOCK_S] = [10800.0, 10800.0, 7200.0, 7200.0]
    choices = SimpleNamespace(plan=SimpleNamespace(choices=SimpleNamespace(halt=halt)))
    outcome = SimpleNamespace(totals=totals, limit_s=None if limit_s is None else np.array(limit_s))
    block = cast("_Block", SimpleNamespace(scene=choices))
    some = np.zeros(2, dtype=np.int64)
    assert _Block._due(block, cast("Outcome", outcome), 2, some).tolist() == due
    often = np.full(2, MOST_HALTS, dtype=np.int64)
    assert not _Block._due(block, cast("Outcome", outcome), 2, often).any()
