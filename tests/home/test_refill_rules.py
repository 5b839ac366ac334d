"""Who may be relied on for water, rule by rule, on one tap."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from simulator.home.refills import AMPLE, Kit, Thirst, _barred, need_along
from simulator.home.scene import Scene
from simulator.supply.bottle import Treatment
from simulator.walk.records import Doing, Outcome, Stop, Total, Trace


def tap(
    *, key: bool = False, raw: bool = False, locked: bool = False, has_key: bool = False,
    treats_ml: float = 0.0,
) -> Scene:  # fmt: skip
    places = SimpleNamespace(
        needs_key=np.array([key]),
        needs_treatment=np.array([raw]),
        always_open=np.array([not locked]),
    )
    carried = SimpleNamespace(has_key=has_key, treats_ml=treats_ml)
    return cast("Scene", SimpleNamespace(places=places, carried=carried))


@pytest.mark.parametrize(
    ("scene", "state", "why"),
    [
        (tap(), None, ""),
        (tap(), True, ""),
        (tap(), False, "closed on arrival"),
        (tap(locked=True), None, "opening hours unknown, so not relied on"),
        (tap(locked=True), True, ""),
        (tap(key=True), None, "needs a spigot key and leave of the owner; no key in the bag"),
        (tap(key=True), True, "needs a spigot key and leave of the owner; no key in the bag"),
        (tap(key=True, has_key=True), None, ""),
        (tap(raw=True), None, "untreated water, and nothing in the bag treats it"),
        (tap(raw=True, treats_ml=500.0), None, ""),
        (tap(key=True, raw=True, has_key=True), None,
         "untreated water, and nothing in the bag treats it"),
    ],
)  # fmt: skip
def test_a_tap_is_barred_by_what_is_missing(scene: Scene, state: bool | None, why: str) -> None:
    assert _barred(scene, 0, state) == why


def test_the_need_of_a_way_leaves_out_the_stops_for_water_and_nothing_else() -> None:
    # Two walkers: 1000 s of walking for 100 mL, a stop for water of 200 s and 30 mL, a wait for
    # first light of 300 s and 40 mL, 1000 s of walking for 100 mL.
    walking = Doing.MOVE
    totals = np.zeros((4, len(Total), 2))
    totals[:, Total.CLOCK_S] = np.array([1000.0, 1200.0, 1500.0, 2500.0])[:, np.newaxis]
    totals[:, Total.LOST_ML] = np.array([50.0, 65.0, 85.0, 135.0])[:, np.newaxis]
    trace = Trace(
        step=np.array([0, 1, 1, 1]),
        doing=np.array([walking, Doing.STOP, Doing.STOP, walking], dtype=np.int8),
        stop=np.array([-1, 0, 1, -1]),
        distance_m=np.array([1500.0, 1500.0, 1500.0, 3000.0]),
        totals=totals,
    )
    stops = [SimpleNamespace(until_epoch_s=None), SimpleNamespace(until_epoch_s=1.0)]
    need = need_along(
        cast("Outcome", SimpleNamespace(trace=trace)),
        cast("list[Stop]", stops),
        np.array([1499.0, 2250.0, 3000.0]),
    )
    assert need == pytest.approx([100.0, 140.0 + 50.0, 240.0])


def thirst(*treatments: Treatment, gives: tuple[bool, ...] = (True, True, True)) -> Thirst:
    """One with half a litre; places at 100, 500 and 900 mL of need, home at 1300."""
    return Thirst(
        need_ml=np.array([100.0, 500.0, 900.0]),
        fit_after_ml=np.zeros(3),
        stop_need_ml=np.zeros(3),
        stop_s=np.array([0.0, 60.0, 60.0]),
        gives=np.array(gives),
        treated=np.zeros(3, dtype=bool),
        end_need_ml=1300.0,
        start_ml=500.0,
        capacity_ml=500.0,
        kit=Kit(names=("filter",) * len(treatments), treatments=treatments),
        walkers=1,
        unfelt_ml=0.0,
    )


def test_after_a_dry_place_the_stops_are_chosen_from_there_on() -> None:
    # From the first place 1200 mL are needed, of which a full bottle is there: more than 500 mL
    # cannot be. The second comes after 400: 100 are left, drunk ahead, and 500 filled, which with
    # those 100 leaves 200 at the third, 400 on; from there 400 are needed, and 500 filled. The dry
    # place itself, which would cost no time, is not asked again.
    plan = thirst().plan_after(0, np.ones(3, dtype=bool), 9999.0)
    assert plan.chosen.tolist() == [False, True, True]
    assert plan.arrive_ml[1:].tolist() == [100.0, 200.0]
    assert plan.short_ml == 0.0
    # With 300 mL in hand the second is reached 100 mL too late.
    assert thirst().plan_after(0, np.ones(3, dtype=bool), 300.0).short_ml == 100.0
    # From the second place on only the third is left, and none after the third.
    assert thirst().plan_after(1, np.ones(3, dtype=bool), 500.0).chosen.tolist() == [0, 0, 1]
    assert thirst().plan_after(2, np.ones(3, dtype=bool), 250.0).short_ml == 150.0
    # What gives no water, or cannot be used, is no stop.
    without = thirst(gives=(True, False, True)).plan_after(0, np.array([True, True, False]), 500.0)
    assert not without.chosen.any()
    assert without.short_ml == 700.0


def test_a_treatment_for_three_times_what_can_be_treated_counts_as_without_limit() -> None:
    # 1300 mL to go and a bottle of 500 are at most 1800 mL to treat; three times that are 5400.
    assert AMPLE == 3.0
    just, less = Treatment(5400.0), Treatment(5399.0)
    assert [each.treats_ml for each in thirst(just, less).treatments(1300.0)] == [np.inf, 5399.0]
