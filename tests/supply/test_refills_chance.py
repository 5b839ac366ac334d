"""How sure the stops are, against every outcome tried one by one."""

from __future__ import annotations

import copy
import itertools
from math import prod
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.supply.bottle import Treatment
from simulator.supply.chance import UnsureWay, chance_dry, surest
from simulator.supply.refills import plan_stops
from tests.conftest import EXAMPLES
from tests.supply.test_refills import (
    Choice,
    Day,
    Kit,
    choices,
    days,
    stop_need,
    treatment_s,
)

shares = st.lists(st.sampled_from([0.0, 0.25, 0.5, 1.0]), min_size=6, max_size=6)


def asked(day: Day) -> dict[str, Any]:
    """Give the arguments that both questions share."""
    return {
        "start_ml": day.start,
        "capacity_ml": day.capacity,
        "end_need_ml": day.end,
        "needs_treatment": day.treated,
        "treatments": day.treatments,
        "fit_after_ml": [day.contact] * len(day.need),
        "stop_need_ml": day.stop_need,
        "drink_ahead_ml": day.ahead,
        "one_bottle": day.one_bottle,
    }


def odds_of(day: Day, works: list[float]) -> UnsureWay:
    return UnsureWay.of(day.need, day.cost, works[: len(day.need)], **asked(day))


def runs_dry(day: Day, stops: tuple[Choice, ...], working: tuple[bool, ...]) -> bool:
    """Carry stops out; those where nothing can be taken are passed, broken ones cost their time."""
    kit, gone = Kit(day), 0
    for place, here in enumerate(day.need):
        kit.walk(here - gone)
        gone = here
        choice = stops[place]
        if choice is None or kit.short:
            continue
        tried = copy.deepcopy(kit)
        tried.walk(stop_need(day, place, choice))
        if not tried.fill(choice[0], on=choice[1]):
            continue
        if working[place]:
            kit = tried
        else:
            kit.walk(day.stop_need[place])
    kit.walk(day.end - gone)
    return kit.short > 0


@settings(max_examples=3 * EXAMPLES)
@given(day=days(), works=shares)
def test_the_chance_of_the_chosen_stops_is_the_sum_over_every_outcome(
    day: Day, works: list[float]
) -> None:
    plan = plan_stops(day.need, day.cost, **asked(day))
    chosen: tuple[Choice, ...] = tuple(
        (int(method), bool(on)) if stopped else None
        for stopped, method, on in zip(plan.chosen, plan.method, plan.carried_on, strict=True)
    )
    dry = 0.0
    for working in itertools.product((False, True), repeat=len(day.need)):
        chance = prod(
            share if up else 1.0 - share for share, up in zip(works, working, strict=False)
        )
        if runs_dry(day, chosen, working):
            dry += chance
    assert chance_dry(odds_of(day, works), plan) == pytest.approx(dry, abs=1e-9)


def best_by_trying(kit: Kit, place: int, works: list[float], price: float) -> tuple[float, float]:
    """Chance of coming through and expected time of the best choice, by trying all of them."""
    day = kit.day
    last = place == len(day.need)
    kit = copy.deepcopy(kit)
    before = day.need[place - 1] if place else 0
    kit.walk((day.end if last else day.need[place]) - before)
    if kit.short:
        return 0.0, 0.0
    if last:
        return 1.0, 0.0
    passed = best_by_trying(kit, place + 1, works, price)
    found = [passed]
    share = works[place]
    for choice in choices(day, place):
        if choice is None or share == 0.0:
            continue
        tried, broken = copy.deepcopy(kit), copy.deepcopy(kit)
        tried.walk(stop_need(day, place, choice))
        broken.walk(day.stop_need[place])
        if not tried.fill(choice[0], on=choice[1]):
            continue
        chance, time_s = (0.0, 0.0)
        if not tried.short:
            chance, time_s = best_by_trying(tried, place + 1, works, price)
        failed = (0.0, 0.0)
        if not broken.short:
            failed = best_by_trying(broken, place + 1, works, price)
        cost = day.cost[place]
        found.append(
            (
                share * chance + (1.0 - share) * failed[0],
                share * (time_s + cost + treatment_s(day, choice))
                + (1.0 - share) * (failed[1] + cost),
            )
        )
    if price == 0.0:
        return max(found, key=lambda pair: (round(pair[0], 9), -pair[1]))
    return max(found, key=lambda pair: (round(pair[0] - price * pair[1], 9), -pair[1]))


@settings(max_examples=3 * EXAMPLES)
@given(day=days(), works=shares, price=st.sampled_from([0.0, 0.015625, 0.125]))
def test_no_way_of_deciding_on_the_spot_is_surer(
    day: Day, works: list[float], price: float
) -> None:
    chance, time_s = best_by_trying(Kit(day), 0, works, price)
    best = surest(odds_of(day, works), price_per_s=price)
    assert best.dry == pytest.approx(1.0 - chance, abs=1e-9)
    assert best.stop_s == pytest.approx(time_s, abs=1e-9)


def test_two_taps_of_even_chance_leave_a_quarter_and_a_price_passes_the_dear_one() -> None:
    way: dict[str, Any] = {"start_ml": 500, "capacity_ml": 500, "end_need_ml": 900}
    odds = UnsureWay.of([400, 450], [60, 600], [0.5, 0.5], **way)
    sure = surest(odds)
    assert sure.dry == 0.25
    # The second tap is tried only when the first is dry: 60 s, and half of the time 600 s more.
    assert sure.stop_s == 360.0
    assert [stop.place for stop in sure.stops] == [0]
    assert surest(odds, price_per_s=0.001).dry == 0.5


def test_the_best_chance_is_never_below_that_of_the_planned_stops() -> None:
    generator = np.random.default_rng(12)
    for _ in range(30):
        along = np.sort(generator.uniform(0, 2500, 16))
        way: dict[str, Any] = {
            "start_ml": 500.0,
            "capacity_ml": 500.0,
            "end_need_ml": along[-1],
            "needs_treatment": generator.random(15) < 0.4,
            "treatments": [Treatment(1000, wait_s=1800, dose_ml=500, carry_s=60)],
            "fit_after_ml": np.full(15, 80.0),
        }
        cost, works = generator.uniform(60, 600, 15), generator.uniform(0.2, 1.0, 15)
        odds = UnsureWay.of(along[:-1], cost, works, **way)
        planned = chance_dry(odds, plan_stops(along[:-1], cost, **way))
        assert surest(odds).dry <= planned + 1e-12
        # Rounding to 5 mL never hides a risk.
        assert (
            surest(UnsureWay.of(along[:-1], cost, works, **way, grain_ml=5.0)).dry
            >= surest(odds).dry - 1e-12
        )


def test_a_hundred_places_are_weighed_in_an_instant() -> None:
    generator = np.random.default_rng(5)
    along = np.sort(generator.uniform(0, 4000, 101))
    odds = UnsureWay.of(
        along[:-1],
        generator.uniform(60, 600, 100),
        generator.uniform(0.3, 0.9, 100),
        start_ml=500,
        capacity_ml=1000,
        end_need_ml=along[-1],
        needs_treatment=generator.random(100) < 0.3,
        treatments=[Treatment(20000, wait_s=1800, dose_ml=500)],
        drink_ahead_ml=250,
        grain_ml=10.0,
    )
    assert 0.0 <= surest(odds).dry < 0.05


@pytest.mark.parametrize("works", [[0.5], [0.5, 1.5], [0.5, -0.1], [0.5, np.nan]])
def test_chances_outside_nought_to_one_are_refused(works: list[float]) -> None:
    with pytest.raises(ValueError, match="works"):
        UnsureWay.of([1, 2], [0, 0], works, start_ml=1, capacity_ml=1, end_need_ml=3)


def test_a_price_below_nought_is_refused() -> None:
    odds = UnsureWay.of([], [], [], start_ml=1, capacity_ml=1, end_need_ml=1)
    assert surest(odds).dry == 0.0
    with pytest.raises(ValueError, match="price_per_s"):
        surest(odds, price_per_s=-1)
