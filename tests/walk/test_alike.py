"""Steps walked as one: the same walk within the bound that `ALIKE_M` states, and the same sums."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from simulator import Plan, demo_folder
from simulator.home.scene import KeptGround, Scene, prepare
from simulator.home.walk import walk_way
from simulator.home.walked import steps_of
from simulator.home.way import Way, find_way
from simulator.walk.course import ALIKE_M, ALIKE_SLOPE, LONGEST_M, alike, coarse
from simulator.walk.engine import simulate, walk_apart
from simulator.walk.records import Doing, Outcome, Stop, Total

ARRIVAL_S = 10.0
SLOWEST_UNLIT_M_S = 0.8


@pytest.fixture(scope="module")
def plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml")


@pytest.fixture(scope="module")
def ground(plan: Plan) -> KeptGround:
    return prepare(plan).ground


@pytest.fixture(scope="module")
def scene(plan: Plan, ground: KeptGround) -> Scene:
    return prepare(plan, kept=ground)


@pytest.fixture(scope="module")
def way(scene: Scene) -> Way:
    return find_way(scene)


def apart(way: Way) -> Way:
    """Have every step walked by itself."""
    return replace(way, course=replace(way.course, joins=None))


def test_runs_keep_to_what_they_promise(way: Way) -> None:
    course = way.course
    joins = alike(replace(course, joins=None)).joins
    assert joins is not None
    assert joins[0] == 0
    edges = np.append(joins, course.run_m.size)
    assert edges.size < 0.4 * course.run_m.size
    for first, after in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        if after - first == 1:
            continue
        rows = slice(first, after)
        assert course.run_m[rows].sum() <= ALIKE_M
        assert np.ptp(course.slope[rows]) <= ALIKE_SLOPE
        assert (course.delay_s[rows] == 0.0).all()
        for column in (course.surface, course.lit, course.stairs, course.tunnel, course.traffic):
            assert np.unique(column[rows]).size == 1


def other_plans(plan: Plan) -> Iterator[Plan]:
    for hours in (-9, -4, -2, 6):
        yield plan.with_changes(trip={"depart": plan.trip.depart + timedelta(hours=hours)})
    yield plan.with_changes(event={"closed": ("Old Ossen Bridge",)})
    yield plan.with_changes(weather={"air_c": 33.0, "cloud_pct": 0.0})
    yield plan.with_changes(walker={"pace_factor": 0.8, "clothing_clo": 0.5})


@pytest.mark.slow
def test_arrival_and_stops_are_those_of_every_step_by_itself(
    plan: Plan, ground: KeptGround
) -> None:
    for asked in (plan, *other_plans(plan)):
        here = prepare(asked, kept=ground)
        way = find_way(here)
        joined, single = walk_way(here, way), walk_way(here, apart(way))
        assert joined.outcome.totals[Total.CLOCK_S] == pytest.approx(
            single.outcome.totals[Total.CLOCK_S], abs=ARRIVAL_S
        )
        assert [(stop.place, stop.step) for stop in joined.stops] == [
            (stop.place, stop.step) for stop in single.stops
        ]
        # A hundredth of what is lost and burnt is far below what the models promise.
        for row in (Total.LOST_ML, Total.ENERGY_KCAL, Total.LIGHT_NEED_S):
            assert joined.outcome.totals[row] == pytest.approx(
                single.outcome.totals[row], rel=0.01
            ), row


@pytest.mark.parametrize("later_h", [-9, -4, 0, 5])
def test_longer_runs_are_the_same_walk_within_their_bound(
    plan: Plan, ground: KeptGround, way: Way, later_h: int
) -> None:
    scene = prepare(
        plan.with_changes(trip={"depart": plan.trip.depart + timedelta(hours=later_h)}), kept=ground
    )
    longer = replace(way, course=coarse(way.course))
    assert longer.course.joins is not None
    edges = np.append(longer.course.joins, way.course.run_m.size)
    assert edges.size < 0.1 * way.course.run_m.size
    assert np.add.reduceat(way.course.run_m, edges[:-1]).max() <= max(
        LONGEST_M, way.course.run_m.max()
    )
    assert not np.setdiff1d(np.flatnonzero(way.course.delay_s), edges).size
    joined, single = (walk(scene, each, record=True) for each in (longer, apart(way)))
    clock = joined.totals[Total.CLOCK_S]
    assert clock == pytest.approx(single.totals[Total.CLOCK_S], abs=60.0)
    for row in (Total.LOST_ML, Total.ENERGY_KCAL):
        assert joined.totals[row] == pytest.approx(single.totals[row], rel=0.01), row
    # Dusk and dawn fall anywhere in a run, whose middle decides for all of it.
    half_a_run_s = 0.5 * LONGEST_M / SLOWEST_UNLIT_M_S
    for row in (Total.LIGHT_NEED_S, Total.DARK_S):
        assert joined.totals[row] == pytest.approx(single.totals[row], abs=2.0 * half_a_run_s), row


def walk(scene: Scene, way: Way, *stops: Stop, record: bool) -> Outcome:
    return simulate(
        way.course,
        scene.walkers,
        manner=scene.manner,
        conditions=scene.conditions,
        depart_epoch_s=np.full(scene.walkers.count, scene.depart_epoch_s),
        stops=stops,
        record=record,
    )


def test_a_stop_is_made_at_its_own_step(scene: Scene, way: Way) -> None:
    joins = way.course.joins
    assert joins is not None
    inside = int(np.setdiff1d(np.arange(way.course.run_m.size), joins)[100])
    stopped = walk(scene, way, Stop(step=inside, service_s=600.0), record=True)
    trace = stopped.trace
    assert trace is not None
    (event,) = np.flatnonzero(trace.doing == Doing.STOP).tolist()
    assert trace.distance_m[event] == pytest.approx(way.course.distance_m[inside], abs=1e-9)


def test_the_table_of_steps_adds_up_to_the_walk(scene: Scene, way: Way) -> None:
    walked = walk_way(scene, way)
    table = steps_of(scene, walked)
    assert len(table) == way.course.run_m.size
    assert table["moving_s"].sum() == pytest.approx(walked.outcome.totals[Total.MOVED_S, 0])
    assert (table["moving_s"] > 0.0).all()
    assert table["elapsed_s"].is_monotonic_increasing


def test_side_by_side_is_as_alone(scene: Scene, way: Way) -> None:
    alone = walk(scene, way, record=True)
    beside = walk_apart(
        [way.course],
        scene.walkers,
        manner=scene.manner,
        conditions=scene.conditions,
        depart_epoch_s=np.array([scene.depart_epoch_s]),
        stops=[[]],
        beside_traffic=[np.zeros(way.course.run_m.size, dtype=bool)],
    )
    assert alone.step_clock_s is not None
    assert beside.outcome.totals == pytest.approx(alone.totals, rel=1e-12)
    assert beside.clock_s[0] == pytest.approx(alone.step_clock_s[:, 0], rel=1e-12)
