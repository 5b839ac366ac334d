"""Stops on a given way, checked against trying every subset of places."""

from __future__ import annotations

import itertools
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.supply.bottle import Treatment
from simulator.supply.refills import least_capacity_ml, plan_stops
from tests.conftest import EXAMPLES


class Day(NamedTuple):
    """What stays the same whatever stops are made."""

    need: list[int]
    end: int
    treated: list[bool]
    cost: list[int]
    contact: int
    stop_need: list[int]
    start: int
    capacity: int
    ahead: int
    one_bottle: bool
    treatments: tuple[Treatment, ...]


Choice = tuple[int, bool] | None
"""How to fill at a place: number of the treatment (-1 for none), carried on or not; or no stop."""


class Kit:
    """Water kept apart: the clean bottle, the bottle under treatment, the body."""

    def __init__(self, day: Day) -> None:
        self.day = day
        self.clean, self.waiting, self.fit_at, self.body = day.start, 0, 0, 0
        self.short, self.at = 0, 0
        self.treats = [treatment.treats_ml for treatment in day.treatments]

    def walk(self, need: int) -> None:
        """Walk, or stand, millilitre by millilitre of need."""
        end = self.at + need
        while True:
            if self.waiting and self.at >= self.fit_at:
                self.clean, self.waiting = self.clean + self.waiting, 0
            if self.at == end:
                return
            self.at += 1
            if self.body:
                self.body -= 1
            elif self.clean:
                self.clean -= 1
            else:
                self.short += 1

    def fill(self, method: int, *, on: bool) -> bool:
        """Fill here; false when nothing could be taken."""
        day = self.day
        drunk = min(self.clean, day.ahead - self.body)
        self.clean, self.body = self.clean - drunk, self.body + drunk
        if method < 0:
            self.clean, self.waiting = day.capacity, 0
            return True
        dose = day.treatments[method].dose_ml
        mixed = self.clean + self.waiting if day.one_bottle else 0
        room = day.capacity - self.clean - self.waiting
        taken = int(min(room, self.treats[method] - mixed))
        if taken <= 0:
            return False
        doses = -(-(taken + mixed) // dose) * dose if dose else taken + mixed
        self.treats[method] -= min(doses, self.treats[method])
        self.waiting += taken
        if not on:
            self.clean, self.waiting = self.clean + self.waiting, 0
            return True
        self.fit_at = self.at + day.contact
        if day.one_bottle:
            self.clean, self.waiting = 0, self.clean + self.waiting
        return True


def treatment_s(day: Day, choice: tuple[int, bool]) -> int:
    """Time that treating takes at a stop."""
    method, on = choice
    if method < 0:
        return 0
    treatment = day.treatments[method]
    return int(treatment.carry_s if on else treatment.wait_s)


def stop_need(day: Day, place: int, choice: tuple[int, bool]) -> int:
    """Water needed in the time of a stop."""
    method, on = choice
    if method < 0:
        return day.stop_need[place]
    treatment = day.treatments[method]
    return day.stop_need[place] + int(treatment.carry_ml if on else treatment.wait_ml)


def carry_out(day: Day, stops: tuple[Choice, ...]) -> tuple[float, float, int] | None:
    """Shortage, time and stops of one choice; None if it is impossible."""
    kit, time_s, made, gone = Kit(day), 0, 0, 0
    for place, here in enumerate(day.need):
        kit.walk(here - gone)
        gone = here
        choice = stops[place]
        if choice is None:
            continue
        kit.walk(stop_need(day, place, choice))
        if not kit.fill(choice[0], on=choice[1]):
            return None
        made, time_s = made + 1, time_s + day.cost[place] + treatment_s(day, choice)
    kit.walk(day.end - gone)
    return kit.short, time_s, made


def choices(day: Day, place: int) -> list[Choice]:
    """List everything that can be done at a place."""
    if not day.treated[place]:
        return [None, (-1, False)]
    filling: list[Choice] = [None]
    for number, treatment in enumerate(day.treatments):
        filling.append((number, False))
        if np.isfinite(treatment.carry_s):
            filling.append((number, True))
    return filling


amounts = st.integers(min_value=0, max_value=12)
few = st.integers(min_value=0, max_value=5)
tablets = st.builds(
    Treatment,
    treats_ml=st.sampled_from([0, 5, 10, 40, np.inf]),
    wait_s=few,
    dose_ml=st.sampled_from([0, 5]),
    carry_s=st.sampled_from([0, 1, np.inf]),
    wait_ml=st.integers(min_value=0, max_value=2),
    carry_ml=st.integers(min_value=0, max_value=1),
)


@st.composite
def days(draw: st.DrawFn) -> Day:
    """Make a short walk with a few places."""
    gaps = draw(st.lists(amounts, min_size=1, max_size=6))
    need = np.cumsum(gaps)[:-1].tolist()
    treatments = tuple(draw(st.lists(tablets, min_size=1, max_size=2)))
    places = len(need) if len(treatments) == 1 else min(len(need), 4)
    need = need[:places]
    capacity = draw(st.integers(min_value=0, max_value=15))
    contact = draw(few)
    return Day(
        need=need,
        end=sum(gaps),
        treated=draw(st.lists(st.booleans(), min_size=places, max_size=places)),
        cost=draw(st.lists(few, min_size=places, max_size=places)),
        contact=contact,
        stop_need=draw(st.lists(st.integers(0, 2), min_size=places, max_size=places)),
        start=min(draw(amounts), capacity),
        capacity=capacity,
        ahead=draw(st.sampled_from([0, 2, 6])),
        one_bottle=draw(st.booleans()),
        treatments=treatments,
    )


@settings(max_examples=4 * EXAMPLES)
@given(day=days())
def test_no_choice_of_stops_and_treatment_is_shorter_or_quicker(day: Day) -> None:
    plan = plan_stops(
        day.need,
        day.cost,
        start_ml=day.start,
        capacity_ml=day.capacity,
        end_need_ml=day.end,
        needs_treatment=day.treated,
        treatments=day.treatments,
        fit_after_ml=[day.contact] * len(day.need),
        stop_need_ml=day.stop_need,
        drink_ahead_ml=day.ahead,
        one_bottle=day.one_bottle,
    )

    every = itertools.product(*(choices(day, place) for place in range(len(day.need))))
    results = [result for stops in every if (result := carry_out(day, stops)) is not None]
    mine = (plan.short_ml, plan.stop_s, int(plan.chosen.sum()))
    assert mine == min(results)
    told = tuple(
        (int(method), bool(on)) if stopped else None
        for stopped, method, on in zip(plan.chosen, plan.method, plan.carried_on, strict=True)
    )
    assert carry_out(day, told) == mine
    # Nothing appears or vanishes: carried + taken + unmet = needed + left.
    stood = sum(stop_need(day, place, choice) for place, choice in enumerate(told) if choice)
    assert day.start + plan.filled_ml.sum() + plan.short_ml == day.end + stood + plan.left_ml
    for used, treatment in zip(plan.used_ml, day.treatments, strict=True):
        assert used <= treatment.treats_ml


def test_a_walk_the_bottle_covers_makes_no_stop() -> None:
    plan = plan_stops([100, 200], [0, 0], start_ml=500, capacity_ml=500, end_need_ml=500)
    assert not plan.chosen.any()
    assert plan.short_ml == 0


def test_a_place_that_cannot_be_used_is_never_chosen_even_when_dry() -> None:
    plan = plan_stops([400, 800], [np.inf, 60], start_ml=500, capacity_ml=500, end_need_ml=1200)
    assert plan.chosen.tolist() == [False, True]
    assert plan.short_ml == 300


def test_an_impossible_way_has_the_least_shortage_first_and_then_the_least_time() -> None:
    # The long dry stretch 300 -> 1500 costs 700 whatever one does; only the first tap that
    # starts it full and the last one matter, and the cheaper of two equal last taps is taken.
    plan = plan_stops(
        [300, 1500, 1500],
        [600, 90, 30],
        start_ml=500,
        capacity_ml=500,
        end_need_ml=2000,
    )
    assert plan.chosen.tolist() == [True, False, True]
    assert (plan.short_ml, plan.stop_s) == (700, 630)


def test_more_water_never_makes_the_shortage_or_the_time_at_no_shortage_worse() -> None:
    generator = np.random.default_rng(4)
    for _ in range(200):
        along = np.sort(generator.uniform(0, 3000, 12))
        cost = generator.uniform(0, 600, 11)
        plans = [
            plan_stops(along[:-1], cost, start_ml=c, capacity_ml=c, end_need_ml=along[-1])
            for c in (250.0, 500.0, 750.0, 1500.0)
        ]
        for less, more in itertools.pairwise(plans):
            assert more.short_ml <= less.short_ml + 1e-6
            if less.short_ml == 0:
                assert more.stop_s <= less.stop_s + 1e-6


def test_the_least_capacity_is_exactly_where_the_shortage_begins() -> None:
    generator = np.random.default_rng(9)
    for _ in range(100):
        along = np.sort(generator.integers(0, 3000, 9)).astype(float)
        capacity = least_capacity_ml(along[:-1], end_need_ml=along[-1])
        free = np.zeros(8)
        enough = plan_stops(
            along[:-1], free, start_ml=capacity, capacity_ml=capacity, end_need_ml=along[-1]
        )
        less = capacity - 1
        dry = plan_stops(along[:-1], free, start_ml=less, capacity_ml=less, end_need_ml=along[-1])
        assert enough.short_ml == 0
        assert dry.short_ml >= 1


def test_finishing_the_bottle_at_a_tap_saves_a_later_stop() -> None:
    given_way: dict[str, Any] = {"start_ml": 500, "capacity_ml": 500, "end_need_ml": 900}
    strict = plan_stops([200, 650], [60, 60], **given_way)
    ahead = plan_stops([200, 650], [60, 60], **given_way, drink_ahead_ml=300)
    assert strict.chosen.tolist() == [True, True]
    assert ahead.chosen.tolist() == [True, False]


def test_the_treatment_carried_limits_what_a_stream_gives() -> None:
    plan = plan_stops(
        [500, 1000],
        [60, 60],
        start_ml=500,
        capacity_ml=1000,
        end_need_ml=1500,
        needs_treatment=[True, True],
        treatments=[Treatment(500)],
    )
    assert plan.used_ml.tolist() == [500]
    assert plan.short_ml == 500


def test_a_hundred_and_fifty_places_are_planned_in_an_instant() -> None:
    generator = np.random.default_rng(1)
    along = np.sort(generator.uniform(0, 5000, 151))
    cost = generator.uniform(30, 900, 150)
    plan = plan_stops(
        along[:-1],
        cost,
        start_ml=500,
        capacity_ml=500,
        end_need_ml=along[-1],
        needs_treatment=generator.random(150) < 0.5,
        treatments=[Treatment(2000, wait_s=1800, dose_ml=500, carry_s=60)],
        fit_after_ml=np.full(150, 100.0),
        drink_ahead_ml=250,
    )
    assert plan.short_ml == 0
    # No stop brings more than the bottle and what is drunk ahead of need.
    assert plan.chosen.sum() >= (along[-1] - 500) // 750


@pytest.mark.parametrize(
    ("need", "cost", "amount", "words"),
    [
        ([2, 1], [0, 0], {}, "never fall"),
        ([-1, 1], [0, 0], {}, "never fall"),
        ([1, 99], [0, 0], {}, "never fall"),
        ([1, 2], [0], {}, "equally long"),
        ([1, 2], [0, -1], {}, "stop_s"),
        ([1, 2], [0, np.nan], {}, "stop_s"),
        ([1, 2], [0, 0], {"start_ml": 6}, "start_ml"),
        ([1, 2], [0, 0], {"start_ml": -1}, "start_ml"),
        ([1, 2], [0, 0], {"start_ml": np.nan}, "start_ml"),
        ([1, 2], [0, 0], {"capacity_ml": np.inf}, "start_ml must be 0 to capacity_ml: 5.0 of inf"),
        ([1, 2], [0, 0], {"treatments": [Treatment(-1)]}, "treatments"),
        ([1, 2], [0, 0], {"drink_ahead_ml": -1}, "drink_ahead_ml"),
        ([1, 2], [0, 0], {"drink_ahead_ml": np.inf}, "drink_ahead_ml must be 0 or more: inf"),
        ([1, 2], [0, 0], {"fit_after_ml": [1, -1]}, "fit_after_ml"),
        ([1, 2], [0, 0], {"stop_need_ml": [1]}, "stop_need_ml"),
    ],
)
def test_impossible_input_is_refused_with_its_range(
    need: list[float], cost: list[float], amount: dict[str, Any], words: str
) -> None:
    everything: dict[str, Any] = {"start_ml": 5.0, "capacity_ml": 5.0, "end_need_ml": 3.0}
    everything |= amount
    with pytest.raises(ValueError, match=words):
        plan_stops(need, cost, **everything)


def test_a_way_without_places_is_only_a_bottle() -> None:
    plan = plan_stops([], [], start_ml=500, capacity_ml=500, end_need_ml=800)
    assert plan.chosen.shape == (0,)
    assert plan.short_ml == 300
    # Neither full nor empty is out of range, nor is having no bottle at all.
    for start_ml, capacity_ml, short_ml in ((0, 500, 800), (0.5, 0.5, 799.5), (0, 0, 800)):
        plan = plan_stops([], [], start_ml=start_ml, capacity_ml=capacity_ml, end_need_ml=800)
        assert plan.short_ml == short_ml


def test_equal_plans_go_to_the_earlier_place() -> None:
    plan = plan_stops([400, 450], [60, 60], start_ml=500, capacity_ml=500, end_need_ml=900)
    assert plan.chosen.tolist() == [True, False]


def test_tablets_carried_on_save_the_wait_and_those_who_cannot_wait_for_them_stand_still() -> None:
    stream: dict[str, Any] = {
        "need_ml": [400],
        "stop_s": [180],
        "start_ml": 500.0,
        "capacity_ml": 500.0,
        "end_need_ml": 900.0,
        "needs_treatment": [True],
        "treatments": [Treatment(5000, wait_s=1800, dose_ml=500, carry_s=60)],
        "one_bottle": True,
    }
    # 100 mL are left, the contact time takes 100 mL of need: drunk first, the walk goes on.
    on = plan_stops(**stream, fit_after_ml=[100], drink_ahead_ml=250)
    assert (on.stop_s, on.carried_on.tolist(), on.short_ml) == (240, [True], 0)
    # Without drinking ahead the rest would mix with the stream's water: better to wait.
    wait = plan_stops(**stream, fit_after_ml=[100])
    assert (wait.stop_s, wait.carried_on.tolist(), wait.short_ml) == (1980, [False], 0)
    # One tablet for each half litre, the whole bottle being one.
    assert on.used_ml.tolist() == wait.used_ml.tolist() == [500]
