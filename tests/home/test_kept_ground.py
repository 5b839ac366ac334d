"""A second plan on the ground of a first is answered as if nothing had been kept."""

from __future__ import annotations

import os
from datetime import timedelta

import pytest

from simulator import Plan, Walk
from simulator.home.scene import prepare
from simulator.home.walk import answer, walk_home
from tests.conftest import TownWriter


@pytest.fixture
def plan(write_town: TownWriter) -> Plan:
    return Plan.read(write_town()).with_changes(choices={"what_if": False})


def test_an_answer_on_kept_ground_is_the_one_on_fresh_ground(plan: Plan) -> None:
    scene = prepare(plan)
    later = plan.with_changes(
        trip={"depart": plan.trip.depart + timedelta(hours=10)}, event={"closed": ("Row 3 Street",)}
    )
    again = prepare(later, kept=scene.ground)
    assert again.ground is scene.ground
    assert answer(again).summary == walk_home(later).summary
    assert answer(again).summary != answer(scene).summary


def test_a_changed_file_or_smoothing_is_read_anew(plan: Plan) -> None:
    scene = prepare(plan)
    smoother = plan.with_changes(map={"smoothing_m": 80.0})
    assert prepare(smoother, kept=scene.ground).ground is not scene.ground
    assert plan.map.extract is not None
    os.utime(plan.map.extract, ns=(1, 1))
    assert prepare(plan, kept=scene.ground).ground is not scene.ground


def test_whoever_hears_of_the_stages_can_end_the_work(plan: Plan) -> None:
    class EnoughError(Exception):
        pass

    def stop(_stage: str) -> None:
        raise EnoughError

    with pytest.raises(EnoughError):
        answer(prepare(plan), progress=stop)


def test_the_first_answer_has_the_verdict_of_the_last(write_town: TownWriter) -> None:
    told: list[Walk] = []
    walk = answer(prepare(Plan.read(write_town())), first=told.append)
    assert len(told) == 1
    assert told[0].what_if is None
    assert walk.what_if is not None
    for part in ("verdict", "food", "light", "cautions"):
        assert told[0].summary[part] == walk.summary[part]
