"""Other departures, waters, paces and closures, against the same things asked one at a time."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from simulator import Plan, Walk, demo_folder, walk_home
from simulator.body.drinking import unfelt_ml
from simulator.home import walk as home
from simulator.home.refills import SPARED_SHARE
from simulator.home.scene import prepare
from simulator.home.summary import findings_of
from simulator.home.variants import WhatIf
from simulator.home.verdict import judge
from simulator.home.way import find_way


@pytest.fixture(scope="module")
def plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml")


@pytest.fixture(scope="module")
def walk(whole_walk: Walk) -> Walk:
    return whole_walk


@pytest.fixture(scope="module")
def what_if(walk: Walk) -> WhatIf:
    assert walk.what_if is not None
    return walk.what_if


def test_the_planned_setting_is_the_plans_own_walk(walk: Walk, what_if: WhatIf) -> None:
    answers = what_if.turned[0].answers
    assert answers is not None
    planned = what_if.settings.planned
    # Longer steps: a minute in seven hours is stated where they are made.
    assert answers.arrive_s[planned] / 3600.0 == pytest.approx(
        walk.summary["time"]["elapsed_h"], abs=1.0 / 60.0
    )
    assert answers.level[planned] == walk.summary["verdict"]["level"]
    hours = len(walk.hours)
    assert np.nanmax(answers.ledger[planned, :, 0]) == pytest.approx(walk.course.length_m)
    assert answers.ledger[planned, : hours - 1, 0] / 1000.0 == pytest.approx(
        walk.hours["distance_so_far_km"][:-1], abs=0.1
    )


@pytest.mark.parametrize("later_min", [-360, -240, 120, 300])
@pytest.mark.parametrize("pace", [1.0, 1.2])
def test_another_setting_is_the_plan_of_that_setting(
    plan: Plan, what_if: WhatIf, later_min: int, pace: float
) -> None:
    trip = plan.trip.model_copy(update={"depart": plan.trip.depart + timedelta(minutes=later_min)})
    walker = [one.model_copy(update={"pace_factor": pace * one.pace_factor}) for one in plan.walker]
    scene = prepare(plan.model_copy(update={"trip": trip, "walker": tuple(walker)}))
    walked = home.walk_way(scene, find_way(scene))
    answers = what_if.turned[0].answers
    assert answers is not None
    departs, waters, paces = what_if.settings.columns()
    water = waters[what_if.settings.planned]
    (row,) = np.flatnonzero((departs == later_min) & (waters == water) & (paces == pace))
    # Stops and night halts of its own; longer steps shift a seven hours' walk by a minute.
    assert answers.arrive_s[row] == pytest.approx(
        float(walked.outcome.totals[0, 0]), rel=1.0 / 420.0
    )
    found = findings_of(scene, walked)
    assert answers.level[row] == judge(found).level


def test_more_water_or_a_quicker_pace_never_makes_it_worse(plan: Plan, what_if: WhatIf) -> None:
    answers = what_if.turned[0].answers
    assert answers is not None
    settings = what_if.settings
    shape = (len(settings.depart_min), len(settings.water_ml), len(settings.pace))
    worst = np.nanmax(answers.ledger[:, :, 2], axis=1).reshape(shape)
    # Up to what more weight makes one sweat, and to what is no reason for a detour [mL].
    spared_ml = SPARED_SHARE * float(unfelt_ml(plan.walker[0].mass_kg))
    assert (worst[:, 1:] <= np.maximum(worst[:, :-1] + 1.0, spared_ml)).all()
    assert (np.diff(answers.arrive_s.reshape(shape), axis=2) < 0.0).all()


def test_a_shut_bridge_is_never_used_and_never_makes_the_way_quicker(what_if: WhatIf) -> None:
    first, *others = what_if.turned
    assert first.closed == ()
    assert others
    assert first.answers is not None
    planned = what_if.settings.planned
    for one in others:
        assert not set(one.closed) & set(one.crosses)
        assert not {what_if.bridges[number] for number in one.closed} & set(one.via)
        if one.answers is not None:
            assert one.answers.arrive_s[planned] > first.answers.arrive_s[planned] - 60.0


def test_the_main_bridge_is_the_one_whose_loss_costs_most(walk: Walk, what_if: WhatIf) -> None:
    told = walk.facts.route.main_bridge
    assert told is not None
    assert told == what_if.main_bridge()
    assert told.name in what_if.bridges
    assert told.extra_min is not None
    assert told.extra_min > 0.0
    assert told.extra_km is not None
    assert told.extra_km > 0.0
    assert told.name not in told.via


def test_who_leaves_at_the_latest_hour_is_home_by_dusk(
    plan: Plan, walk: Walk, what_if: WhatIf
) -> None:
    assert what_if.leave_by is not None
    assert what_if.dusk is not None
    # The told hour is that of a slow walk, so the planned one has its margin in hand.
    # Past that margin and the quarter of an hour between departures tried, even it is late.
    margin_min = 60.0 * walk.summary["time"]["leave_by_margin_h"]
    for late_min, in_time in ((0, True), (margin_min + 20.0, False)):
        depart = what_if.leave_by.replace(tzinfo=None) + timedelta(minutes=late_min)
        trip = plan.trip.model_copy(update={"depart": depart})
        scene = prepare(plan.model_copy(update={"trip": trip}))
        walked = home.walk_way(scene, find_way(scene))
        home_at = what_if.leave_by + timedelta(
            minutes=late_min, seconds=float(walked.outcome.totals[0, 0])
        )
        assert (home_at <= what_if.dusk) is in_time


def test_a_plan_may_leave_it_out(last_hours: Plan) -> None:
    walk = walk_home(last_hours.with_changes(choices={"what_if": False}))
    assert walk.what_if is None
    assert "main_bridge" not in walk.summary["route"]
    assert replace(walk, what_if=None).directions
