"""On the day: what can be told of the bag and of oneself, and what it changes."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.demo import demo_folder
from simulator.errors import InputError
from simulator.home.scene import Scene, prepare
from simulator.home.walk import walk_way
from simulator.home.way import Way, find_way
from simulator.plan import Plan
from simulator.questions.today import Left, read_left, with_left
from simulator.walk.records import Total


@pytest.fixture(scope="module")
def scene() -> Scene:
    plan = Plan.read(demo_folder() / "plan.toml")
    return prepare(plan.with_changes(choices={"halt": False}))


@pytest.fixture(scope="module")
def way(scene: Scene) -> Way:
    return find_way(scene)


def test_what_is_left_is_read_in_any_order() -> None:
    told = read_left("on_foot_h=3.5, light_h=2,food_kcal=600,water_l=0.3")
    assert told == Left(water_l=0.3, food_kcal=600.0, light_h=2.0, on_foot_h=3.5)
    assert read_left("light_h=0") == Left(light_h=0.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lamp_h=2", "light_h=NUMBER"),
        ("light_h=2,light_h=3", "light_h=NUMBER"),
        ("on_foot_h=-1", "zero or more"),
        ("on_foot_h=nan", "zero or more"),
        ("on_foot_h=80", "at most 72"),
    ],
)
def test_what_cannot_be_read_says_what_can(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read_left(text)


def test_who_has_walked_for_hours_is_slower_and_has_less_of_the_day_left(
    scene: Scene, way: Way
) -> None:
    fresh = walk_way(scene, way)
    tired_scene = with_left(scene, Left(on_foot_h=5.0))
    tired = walk_way(tired_scene, way)
    moved = [float(one.outcome.totals[Total.MOVED_S, 0]) for one in (fresh, tired)]
    assert moved[1] > moved[0] * 1.01
    slowed = [float(one.outcome.totals[Total.FATIGUE_S, 0]) for one in (fresh, tired)]
    # Nothing but tiredness differs between them, within what stops and hours of the clock do.
    assert moved[1] - moved[0] == pytest.approx(slowed[1] - slowed[0], rel=0.2)
    day_h = scene.plan.choices.longest_day_h
    assert tired_scene.plan.choices.longest_day_h == pytest.approx(day_h - 5.0)
    assert with_left(scene, Left(on_foot_h=40.0)).plan.choices.longest_day_h == 1.0


def test_lamp_hours_left_are_those_that_burn(scene: Scene, way: Way) -> None:
    told = with_left(scene, Left(light_h=1.5))
    assert told.carried.light_h == 1.5
    assert np.all(told.walkers.light_s == 5400.0)
    outcome = walk_way(told, way).outcome
    assert outcome.totals[Total.LIGHT_USED_S].max() == pytest.approx(5400.0)
    assert (outcome.totals[Total.LIGHT_NEED_S] > 5400.0).all()
