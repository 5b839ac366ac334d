"""The engine: level ground against published figures, balances for any walk, one equals many."""

from __future__ import annotations

from dataclasses import fields, replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.body.drinking import MAX_DRINK_ML_H
from simulator.body.pace import stairs_speed_m_s
from simulator.walk.course import Course
from simulator.walk.engine import Day, State, simulate
from simulator.walk.party import Manner
from simulator.walk.records import PACE_COSTS, Doing, Outcome, Stop, Total, Walkers, pace_costs_s
from tests.conftest import EXAMPLES
from tests.walk.conftest import DEPART_EPOCH_S, make_conditions, make_course, make_walkers

BARE = Manner(load=False, dark=False, fatigue=False, surface=False)


def walk(
    course: Course,
    walkers: Walkers,
    *,
    manner: Manner = BARE,
    stops: tuple[Stop, ...] = (),
    record: bool = False,
    sky: dict[str, float] | None = None,
) -> Outcome:
    return simulate(
        course,
        walkers,
        manner=manner,
        conditions=make_conditions(**(sky or {})),
        depart_epoch_s=np.full(walkers.count, DEPART_EPOCH_S),
        stops=stops,
        record=record,
    )


def test_level_25_km_takes_tobler_s_time_moving_and_ten_minutes_after_each_hour() -> None:
    # Tobler 1993: 6 exp(-3.5 x 0.05) km/h = 5.0367 km/h, so 25 km take 4.9635 h; four full hours
    # are done on the way, so four rests of ten minutes.
    totals = walk(make_course(25_000.0), make_walkers()).totals[:, 0]
    assert totals[Total.MOVED_S] / 3600.0 == pytest.approx(25.0 / (6.0 * np.exp(-0.175)), rel=1e-9)
    assert totals[Total.RESTED_S] == pytest.approx(4 * 600.0)


def test_25_km_in_ideal_conditions_is_within_half_an_hour_of_five_and_a_half() -> None:
    # Common practice, no source: about five and a half hours.
    totals = walk(make_course(25_000.0), make_walkers()).totals[:, 0]
    assert totals[Total.CLOCK_S] / 3600.0 == pytest.approx(5.5, abs=0.5)


def test_energy_of_level_25_km_is_that_of_the_graded_walking_equation() -> None:
    # Looney et al. 2019 at 1.39910 m/s on 80 + 5 kg: 391.08 W over 4.96353 h = 1670.2 kcal,
    # computed from the published formula outside this code.
    manner = replace(BARE, rest_min_per_h=0.0)
    totals = walk(make_course(25_000.0), make_walkers(bag_kg=5.0), manner=manner).totals[:, 0]
    assert totals[Total.ENERGY_KCAL] == pytest.approx(1670.2, abs=0.2)


def test_energy_of_level_25_km_by_pandolf() -> None:
    # Pandolf et al. 1977: 370.24 W over 4.96353 h = 1581.2 kcal, computed outside this code.
    manner = replace(BARE, rest_min_per_h=0.0, energy_model="pandolf")
    totals = walk(make_course(25_000.0), make_walkers(bag_kg=5.0), manner=manner).totals[:, 0]
    assert totals[Total.ENERGY_KCAL] == pytest.approx(1581.2, abs=0.2)


def test_reversing_a_level_way_changes_nothing_and_a_hilly_one_the_time() -> None:
    level = walk(make_course(5_000.0), make_walkers()).totals
    up = walk(make_course(5_000.0, slope=0.08), make_walkers()).totals
    down = walk(make_course(5_000.0, slope=-0.08), make_walkers()).totals
    assert np.array_equal(level, walk(reversed_course(make_course(5_000.0)), make_walkers()).totals)
    # Tobler's peak lies at -5 %, so 8 % down is faster than 8 % up by exp(3.5 x 0.10).
    assert up[Total.MOVED_S, 0] / down[Total.MOVED_S, 0] == pytest.approx(np.exp(0.35), rel=1e-9)


def reversed_course(course: Course) -> Course:
    """Walk it the other way."""
    return replace(course, rise_m=-course.rise_m[::-1], run_m=course.run_m[::-1])


def test_unlit_ways_after_dark_cost_the_stated_factor_and_burn_light() -> None:
    manner = replace(BARE, dark=True, dark_unlit_factor=0.8, street_lights=False)
    course = make_course(4_000.0)
    day = walk(course, make_walkers(), manner=manner, sky={"sun_deg": 30.0}).totals
    night = walk(
        course, make_walkers(light_s=1800.0), manner=manner, sky={"sun_deg": -20.0}, record=True
    )
    assert night.totals[Total.MOVED_S] == pytest.approx(day[Total.MOVED_S] / 0.8)
    assert night.totals[Total.LIGHT_USED_S, 0] == pytest.approx(1800.0)
    assert night.light_out_s[0] == pytest.approx(1800.0)
    assert night.totals[Total.LIGHT_NEED_S] == pytest.approx(night.totals[Total.MOVED_S])


def test_pace_costs_add_up_to_the_whole_slowing() -> None:
    manner = Manner(dark=True, street_lights=False)
    course = make_course(20_000.0, surface="grass")
    walked = walk(course, make_walkers(bag_kg=8.0), manner=manner, sky={"sun_deg": -20.0}).totals[
        :, 0
    ]
    bare = walk(course, make_walkers(), manner=BARE).totals[:, 0]
    costs = sum(walked[row] for row in PACE_COSTS.values())
    assert walked[Total.MOVED_S] - bare[Total.MOVED_S] == pytest.approx(costs)
    assert walked[Total.MODEL_S] == pytest.approx(bare[Total.MOVED_S])
    assert all(walked[PACE_COSTS[name]] > 0.0 for name in ("surface", "load", "dark", "fatigue"))


def test_stairs_and_own_pace_are_told_apart_from_the_model() -> None:
    course = make_course(1000.0, slope=0.1)
    stairs = replace(course, stairs=np.ones_like(course.stairs))
    slope_s = walk(course, make_walkers(), manner=BARE).totals[Total.MOVED_S, 0]
    steps = walk(stairs, make_walkers(pace_factor=0.8), manner=replace(BARE, stairs=True)).totals
    one = {row: steps[row, 0] for row in Total}
    costs = pace_costs_s(one, pace_factor=0.8, age_sex_factor=0.9)
    assert one[Total.MODEL_S] == pytest.approx(slope_s)
    assert costs["age_sex"] == pytest.approx(slope_s / 0.9 - slope_s)
    assert costs["own_pace"] == pytest.approx(slope_s / 0.8 - slope_s / 0.9)
    # The flight sets the speed, and own pace slows it too.
    flight_s = 1000.0 / float(stairs_speed_m_s(up=True)) / 0.8
    assert costs["stairs"] == pytest.approx(flight_s - slope_s / 0.8)
    assert sum(costs.values()) + one[Total.MODEL_S] == pytest.approx(one[Total.MOVED_S])


def test_a_group_walks_at_its_slowest() -> None:
    pair = make_walkers(2)
    pair = replace(pair, pace_factor=np.array([1.0, 0.7]), party=np.zeros(2, dtype=np.int64))
    together = walk(make_course(10_000.0), pair).totals
    alone = walk(make_course(10_000.0), make_walkers(pace_factor=0.7)).totals
    assert together[Total.CLOCK_S] == pytest.approx(np.repeat(alone[Total.CLOCK_S], 2))
    assert together[Total.GROUP_S, 0] > 0.0
    assert together[Total.GROUP_S, 1] == 0.0


def test_the_load_falls_as_water_and_food_go() -> None:
    manner = replace(BARE, load=True)
    kept = walk(make_course(), make_walkers(bag_kg=6.0), manner=manner).totals
    drunk = walk(
        make_course(),
        make_walkers(bag_kg=6.0, water_ml=2000.0, capacity_ml=2000.0, food_kcal=900, food_kg=0.3),
        manner=manner,
    ).totals
    assert drunk[Total.MOVED_S, 0] < kept[Total.MOVED_S, 0]


def test_a_refill_fills_the_bottles_and_costs_its_detour_and_service() -> None:
    walkers = make_walkers(water_ml=300.0, capacity_ml=500.0)
    plain = walk(make_course(), walkers)
    stop = Stop(step=60, off_m=100.0, service_s=120.0, refill=True)
    refilled = walk(make_course(), walkers, stops=(stop,), record=True)
    # There and back at the level Tobler speed, 6 exp(-0.175) / 3.6 m/s.
    detour_s = 200.0 / (6.0 * np.exp(-0.175) / 3.6)
    assert refilled.totals[Total.STOPPED_S, 0] == pytest.approx(detour_s + 120.0)
    assert 0.0 < refilled.totals[Total.REFILLED_ML, 0] <= 500.0
    assert refilled.worst_short_ml[0] < plain.worst_short_ml[0]
    assert refilled.first_short_s[0] > plain.first_short_s[0]


def test_treated_refills_stop_when_the_treatment_is_used_up() -> None:
    walkers = make_walkers(water_ml=500.0, capacity_ml=500.0, treats_ml=250.0)
    stops = tuple(Stop(step=step, refill=True, treat=True) for step in (150, 300, 450))
    assert walk(make_course(), walkers, stops=stops).totals[Total.REFILLED_ML, 0] <= 250.0


def test_a_stop_as_long_as_the_rest_is_not_followed_by_another_rest() -> None:
    hour_m = 5036.7
    step = int(0.9 * hour_m / 50.0)
    rested = walk(make_course(6_000.0), make_walkers(), stops=(Stop(step=step, service_s=900.0),))
    assert rested.totals[Total.RESTED_S, 0] == 0.0


def test_a_night_halt_waits_for_its_instant_and_takes_the_tiredness_away() -> None:
    manner = replace(BARE, fatigue=True)
    until = DEPART_EPOCH_S + 14.0 * 3600.0
    halted = walk(
        make_course(),
        make_walkers(),
        manner=manner,
        stops=(Stop(step=250, until_epoch_s=until),),
        record=True,
    )
    through = walk(make_course(), make_walkers(), manner=manner)
    trace = halted.trace
    assert trace is not None
    end = np.flatnonzero(trace.doing == Doing.STOP)[0]
    assert trace.totals[end, Total.CLOCK_S, 0] == pytest.approx(14.0 * 3600.0)
    assert halted.totals[Total.MOVED_S, 0] < through.totals[Total.MOVED_S, 0]


def test_ten_thousand_walkers_and_one_walker_agree_to_the_bit() -> None:
    rng = np.random.default_rng(5)
    crowd = make_walkers(10_000, bag_kg=4.0, water_ml=800.0, capacity_ml=1000.0, food_kcal=500.0)
    crowd = replace(
        crowd,
        mass_kg=rng.uniform(50.0, 110.0, crowd.count),
        pace_factor=rng.uniform(0.6, 1.2, crowd.count),
    )
    manner = Manner(street_lights=False)
    course = make_course(3_000.0, slope=0.03)
    stops = (Stop(step=20, off_m=50.0, service_s=60.0, refill=True),)
    all_of_them = walk(course, crowd, manner=manner, stops=stops, sky={"sun_deg": -20.0})
    for row in (0, 4_321, 9_999):
        one = replace(
            crowd, **{f.name: getattr(crowd, f.name)[row : row + 1] for f in fields(Walkers)}
        )
        alone = walk(course, one, manner=manner, stops=stops, sky={"sun_deg": -20.0})
        assert np.array_equal(alone.totals[:, 0], all_of_them.totals[:, row])
        assert alone.first_short_s[0] == all_of_them.first_short_s[row]


AMOUNTS = {
    "mass_kg": (45.0, 120.0),
    "pace_factor": (0.5, 1.3),
    "bag_kg": (3.0, 12.0),
    "water_ml": (0.0, 1500.0),
    "capacity_ml": (1500.0, 3000.0),
    "food_kcal": (0.0, 3000.0),
    "light_s": (0.0, 20_000.0),
}
MANY = 16
"""Walkers by the dice under one sky: each walks as it would alone, so one run shows them all."""


def walkers_by_the_dice(dice: int) -> Walkers:
    """Draw walkers; two in eight have no water, two a full bottle, one neither food nor lamp."""
    chance = np.random.default_rng(dice)
    drawn = {name: chance.uniform(*ends, MANY) for name, ends in AMOUNTS.items()}
    drawn["water_ml"][::4] = 0.0
    drawn["water_ml"][1::4] = drawn["capacity_ml"][1::4]
    drawn["food_kcal"][::8] = drawn["light_s"][::8] = 0.0
    return replace(make_walkers(MANY), **drawn)  # type: ignore[arg-type]  # columns of floats


SKIES = st.fixed_dictionaries(
    {
        "sun_deg": st.floats(-40.0, 60.0),
        "air_c": st.floats(-10.0, 38.0),
        "humidity_pct": st.floats(10.0, 95.0),
        "wind_m_s": st.floats(0.0, 12.0),
    }
)
STOPS = st.lists(st.integers(1, 99), max_size=4).map(
    lambda steps: tuple(
        Stop(step=s, off_m=40.0, service_s=90.0, refill=True) for s in sorted(steps)
    )
)


@settings(max_examples=EXAMPLES // 2)
@given(dice=st.integers(0, 10**6), sky=SKIES, stops=STOPS, slope=st.floats(-0.2, 0.2))
def test_water_light_food_and_time_balance_in_every_walk(
    dice: int, sky: dict[str, float], stops: tuple[Stop, ...], slope: float
) -> None:
    walkers, course = walkers_by_the_dice(dice), make_course(5_000.0, slope=slope)
    result = walk(course, walkers, manner=Manner(street_lights=False), stops=stops, sky=sky)
    total = result.totals
    left = walkers.water_ml + total[Total.REFILLED_ML] - total[Total.DRUNK_ML]
    lit_s = np.minimum(walkers.light_s, total[Total.LIGHT_NEED_S])
    assert (left >= -1e-6).all()
    assert (left <= walkers.capacity_ml + 1e-6).all()
    assert (total[Total.DRUNK_ML] <= total[Total.LOST_ML] + 1e-6).all()
    assert (total[Total.EATEN_KCAL] <= walkers.food_kcal + 1e-6).all()
    assert (total[Total.LIGHT_USED_S] <= lit_s + 1e-6).all()
    parts = total[Total.MOVED_S] + total[Total.RESTED_S] + total[Total.STOPPED_S]
    assert total[Total.CLOCK_S] == pytest.approx(parts)
    most_ml = MAX_DRINK_ML_H * total[Total.CLOCK_S] / 3600.0
    assert (total[Total.DRUNK_ML] <= most_ml + 1e-6).all()
    assert np.isfinite(total).all()


@settings(max_examples=EXAMPLES // 4)
@given(dice=st.integers(0, 10**6), sky=SKIES)
def test_more_water_never_makes_a_shortage_worse(dice: int, sky: dict[str, float]) -> None:
    poorer = replace(walkers_by_the_dice(dice), capacity_ml=np.full(MANY, 4000.0))
    # The added water is carried: its weight counts too.
    more_ml = np.linspace(1.0, 1000.0, MANY)
    richer = replace(
        poorer, water_ml=poorer.water_ml + more_ml, bag_kg=poorer.bag_kg + more_ml / 1000.0
    )
    course = make_course(10_000.0)
    less = walk(course, poorer, manner=Manner(), sky=sky)
    plenty = walk(course, richer, manner=Manner(), sky=sky)
    assert (plenty.worst_short_ml <= less.worst_short_ml + 1e-6).all()


def test_the_last_step_within_the_day_is_found_among_steps_walked_as_one() -> None:
    # Steps 7, 8 and 9 begin for three walkers at these times; the day is 100 s long, its very end
    # included. Who is past it when step 7 begins keeps the step noted before.
    day = Day(cast("State", SimpleNamespace(walkers=SimpleNamespace(count=3))), 100.0)
    day.at_start(np.array([10.0, 10.0, 10.0]), 4)
    day.within(np.array([[50.0, 90.0, 101.0], [100.0, 100.1, 110.0], [100.1, 120.0, 130.0]]), 7)
    assert day.step.tolist() == [8, 7, 4]
    day.at_start(np.array([100.0, 100.1, 200.0]), 12)
    assert day.step.tolist() == [12, 7, 4]
