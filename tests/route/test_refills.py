"""Stops on a given way, checked against trying every subset of places."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from simulator.route.refills import least_capacity_ml, plan_stops


def carry_out(
    need: NDArray[np.float64],
    stops: tuple[bool, ...],
    treated: NDArray[np.bool_],
    start: float,
    capacity: float,
    end: float,
    treats: float,
    ahead: float,
) -> float:
    """Shortage of one choice of stops, with the bottle and the body as two separate stores."""
    bottle, body, short, at = start, 0.0, 0.0, 0.0
    for place, here in enumerate([*need, end]):
        want, at = here - at, here
        from_body = min(body, want)
        from_bottle = min(bottle, want - from_body)
        body, bottle = body - from_body, bottle - from_bottle
        short += want - from_body - from_bottle
        if place < len(need) and stops[place]:
            drunk = min(bottle, ahead - body)
            bottle, body = bottle - drunk, body + drunk
            taken = min(capacity - bottle, treats) if treated[place] else capacity - bottle
            treats -= taken if treated[place] else 0.0
            bottle += taken
    return short


amounts = st.integers(min_value=0, max_value=12)


@settings(max_examples=300, deadline=None)
@given(
    gaps=st.lists(amounts, min_size=1, max_size=8),
    costs=st.lists(st.integers(min_value=0, max_value=5), min_size=8, max_size=8),
    treated=st.lists(st.booleans(), min_size=8, max_size=8),
    capacity=st.integers(min_value=0, max_value=15),
    start=amounts,
    treats=st.sampled_from([0.0, 3.0, 7.0, 20.0, np.inf]),
    ahead=st.sampled_from([0.0, 2.0, 6.0]),
)
def test_no_subset_of_places_is_shorter_or_quicker(
    gaps: list[int],
    costs: list[int],
    treated: list[bool],
    capacity: int,
    start: int,
    treats: float,
    ahead: float,
) -> None:
    need = np.cumsum(gaps).astype(float)[:-1]
    end = float(sum(gaps))
    cost = np.array(costs[: need.size], dtype=float)
    treat = np.array(treated[: need.size], dtype=bool)
    filled = float(min(start, capacity))

    plan = plan_stops(
        need,
        cost,
        start_ml=filled,
        capacity_ml=capacity,
        end_need_ml=end,
        needs_treatment=treat,
        treats_ml=treats,
        drink_ahead_ml=ahead,
    )

    rest = (treat, filled, float(capacity), end, treats, ahead)
    every = [
        (carry_out(need, stops, *rest), float(cost[list(stops)].sum()), sum(stops))
        for stops in itertools.product((False, True), repeat=need.size)
    ]
    mine = (plan.short_ml, plan.stop_s, int(plan.chosen.sum()))
    assert mine == min(every)
    assert carry_out(need, tuple(plan.chosen.tolist()), *rest) == plan.short_ml
    # Nothing appears or vanishes: carried + taken + unmet = needed + left.
    assert filled + plan.filled_ml.sum() + plan.short_ml == end + plan.left_ml
    assert plan.treated_ml <= treats


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
    given_way = {"start_ml": 500, "capacity_ml": 500, "end_need_ml": 900}
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
        treats_ml=500,
    )
    assert plan.treated_ml == 500
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
        treats_ml=2000,
    )
    assert plan.short_ml == 0
    assert plan.chosen.sum() >= (along[-1] - 500) // 500


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
        ([1, 2], [0, 0], {"treats_ml": -1}, "treats_ml"),
    ],
)
def test_impossible_input_is_refused_with_its_range(
    need: list[float], cost: list[float], amount: dict[str, float], words: str
) -> None:
    everything = {"start_ml": 5.0, "capacity_ml": 5.0, "end_need_ml": 3.0} | amount
    with pytest.raises(ValueError, match=words):
        plan_stops(need, cost, **everything)


def test_a_way_without_places_is_only_a_bottle() -> None:
    plan = plan_stops([], [], start_ml=500, capacity_ml=500, end_need_ml=800)
    assert plan.chosen.shape == (0,)
    assert plan.short_ml == 300


def test_equal_plans_go_to_the_earlier_place() -> None:
    plan = plan_stops([400, 450], [60, 60], start_ml=500, capacity_ml=500, end_need_ml=900)
    assert plan.chosen.tolist() == [True, False]
