"""Bands, shortages and balances of tiny walks, worked out by hand beside each claim.

The course is level and paved, the sky stands still and nobody rests. Between two events of the
record everything runs straight, so that the moment of an amount is read off the straight line.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from simulator.ground.places import Places
from simulator.ground.snap import metres_per_degree
from simulator.home.doubts import ends_of
from simulator.home.refills import passed_of
from simulator.home.scene import Scene
from simulator.home.walked import Walked
from simulator.walk.course import Course
from simulator.walk.engine import State, Step, _by_slope, simulate, take_rest
from simulator.walk.ledger import BODY_KCAL, Ledger
from simulator.walk.party import Manner, pace_band
from simulator.walk.records import Outcome, Stop, Total, Walkers
from simulator.walk.stops import Outline
from tests.walk.conftest import DEPART_EPOCH_S, make_conditions, make_course, make_walkers

BARE = Manner(load=False, dark=False, fatigue=False, surface=False, rest_min_per_h=0.0)


def walk(
    course: Course, walkers: Walkers, *, stops: tuple[Stop, ...] = (), air_c: float = 25.0
) -> Outcome:
    return simulate(
        course,
        walkers,
        manner=BARE,
        conditions=make_conditions(air_c=air_c),
        depart_epoch_s=np.full(walkers.count, DEPART_EPOCH_S),
        stops=stops,
        record=True,
    )


def moment_of(outcome: Outcome, lost_ml: float) -> tuple[float, float]:
    """Read off the record when and where so much water is lost [s], [m]."""
    trace = outcome.trace
    assert trace is not None
    lost = np.append(0.0, trace.totals[:, Total.LOST_ML, 0])
    clock = np.append(0.0, trace.totals[:, Total.CLOCK_S, 0])
    way = np.append(0.0, trace.distance_m)
    return float(np.interp(lost_ml, lost, clock)), float(np.interp(lost_ml, lost, way))


# Speeds on the level [km/h], each from the source's own formula at slope 0: Tobler 1993,
# 6 exp(-3.5 x 0.05); Irmischer and Clarke 2018, 0.11 + exp(-25 / 1800) m/s for men; Naismith 1892,
# five kilometres in an hour as commonly restated.
LEVEL_KM_H = {
    "tobler_1993": 6.0 * np.exp(-0.175),
    "irmischer_clarke_2018": 3.6 * (0.11 + np.exp(-25.0 / 1800.0)),
    "naismith_1892": 5.0,
}


@pytest.mark.parametrize("model", LEVEL_KM_H)
def test_the_band_of_paces_runs_from_the_fastest_model_to_the_slowest(model: str) -> None:
    # Of the models here Tobler's is the fastest on the level and Irmischer and Clarke's the
    # slowest; a time over a time is the inverse of the speeds.
    fast, slow = pace_band(replace(BARE, model=model), make_course(1000.0))
    own = LEVEL_KM_H[model]
    assert fast == pytest.approx(own / LEVEL_KM_H["tobler_1993"], rel=1e-9)
    assert slow == pytest.approx(own / LEVEL_KM_H["irmischer_clarke_2018"], rel=1e-9)


@pytest.mark.parametrize("model", LEVEL_KM_H)
def test_the_ends_of_the_pace_are_walked_at_the_published_speeds(model: str) -> None:
    # Whoever walks at `pace` times the planned speed walks at the published one: 5.037 km/h at one
    # end and 3.946 km/h at the other, whichever model the plan has. Both ends are there unless the
    # plan's own model is that end.
    course = make_course(1000.0)
    scene = SimpleNamespace(
        manner=replace(BARE, model=model),
        plan=SimpleNamespace(walker=(SimpleNamespace(timed_walk=None, level_km_h=None),)),
    )
    walked = SimpleNamespace(
        way=SimpleNamespace(course=course),
        outcome=SimpleNamespace(totals=np.zeros((len(Total), 1))),
    )
    ends = ends_of(cast("Scene", scene), cast("Walked", walked))
    paces = {end.words: end.pace for end in ends if "pace" in end.words}
    own = LEVEL_KM_H[model]
    expected = {
        "the fastest published pace": LEVEL_KM_H["tobler_1993"] / own,
        "the slowest published pace": LEVEL_KM_H["irmischer_clarke_2018"] / own,
    }
    assert paces == {
        words: pytest.approx(pace) for words, pace in expected.items() if abs(pace - 1.0) > 1e-9
    }


UNFELT_ML = 200.0
"""A quarter of a percent of 80 kg, which the model calls no shortage yet."""


@pytest.mark.parametrize("step_m", [50.0, 500.0, 2500.0])
def test_without_water_it_runs_short_when_a_quarter_percent_is_lost_whatever_the_step(
    step_m: float,
) -> None:
    # Everything lost is owed from the first step on, at an even rate; the shortage begins where
    # 200 ml are lost, inside a step and not at its end.
    outcome = walk(make_course(10_000.0, step_m=step_m), make_walkers())
    total = outcome.totals[:, 0]
    at_s, at_m = moment_of(outcome, UNFELT_ML)
    assert 0.0 < at_s < total[Total.CLOCK_S] / 2.0
    assert outcome.first_short_s[0] == pytest.approx(at_s, rel=1e-6)
    assert outcome.first_short_m[0] == pytest.approx(at_m, rel=1e-6)
    assert outcome.worst_short_ml[0] == pytest.approx(total[Total.LOST_ML], rel=1e-9)


@pytest.mark.parametrize("step_m", [50.0, 2500.0])
def test_a_bottle_runs_dry_where_its_water_is_lost_and_is_short_a_quarter_percent_later(
    step_m: float,
) -> None:
    outcome = walk(
        make_course(10_000.0, step_m=step_m), make_walkers(water_ml=300.0, capacity_ml=300.0)
    )
    total = outcome.totals[:, 0]
    at_s, _ = moment_of(outcome, 300.0 + UNFELT_ML)
    assert outcome.first_short_s[0] == pytest.approx(at_s, rel=1e-6)
    assert total[Total.DRUNK_ML] == pytest.approx(300.0, rel=1e-9)
    assert outcome.worst_short_ml[0] == pytest.approx(total[Total.LOST_ML] - 300.0, rel=1e-9)


def test_the_worst_shortage_stays_when_a_tap_makes_up_for_it() -> None:
    # Dry for 7.5 km, then a bottle of a litre, which pays the debt and lasts to the end: the worst
    # is what was lost up to the tap.
    course = make_course(10_000.0, step_m=50.0)
    stop = Stop(step=150, off_m=0.0, service_s=0.0, refill=True, place=0)
    outcome = walk(course, make_walkers(capacity_ml=1000.0), stops=(stop,))
    total = outcome.totals[:, 0]
    until_tap = walk(make_course(7_500.0, step_m=50.0), make_walkers()).totals[Total.LOST_ML, 0]
    assert until_tap > 2.0 * UNFELT_ML
    assert total[Total.LOST_ML] - total[Total.DRUNK_ML] < UNFELT_ML
    assert outcome.worst_short_ml[0] == pytest.approx(until_tap, rel=1e-6)


def test_water_food_and_time_balance_on_a_walk_with_a_stop() -> None:
    # 500 ml and 800 kcal at the start, a bottle of 500 ml filled half way after 60 s of standing.
    course = make_course(8_000.0, step_m=100.0)
    stop = Stop(step=40, off_m=0.0, service_s=60.0, refill=True, place=0)
    walkers = make_walkers(water_ml=500.0, capacity_ml=500.0, food_kcal=800.0, food_kg=0.2)
    total = walk(course, walkers, stops=(stop,)).totals[:, 0]
    walking_s = 8_000.0 / (LEVEL_KM_H["tobler_1993"] / 3.6)
    assert total[Total.MOVED_S] == pytest.approx(walking_s, rel=1e-9)
    assert total[Total.CLOCK_S] == pytest.approx(walking_s + 60.0, rel=1e-9)
    drunk = total[Total.DRUNK_ML]
    assert 500.0 < drunk <= 1000.0
    assert drunk <= total[Total.LOST_ML] + 1e-9


def test_where_and_when_are_read_straight_within_each_hour_of_its_own_walk() -> None:
    # 4 km in the first hour, 1.5 km in half an hour; beside it 1 km in 2000 s and then home.
    ledger = Ledger(
        edge_s=np.array([[0.0, 0.0], [3600.0, 2000.0], [5400.0, np.nan]]),
        distance_m=np.array([[0.0, 0.0], [4000.0, 1000.0], [5500.0, np.nan]]),
        rows=(),
        totals=np.zeros((0, 3, 2, 1)),
    )
    for at_m, at_s in (
        ((0.0, 0.0), (0.0, 0.0)),
        ((1000.0, 500.0), (900.0, 1000.0)),
        ((4000.0, 1000.0), (3600.0, 2000.0)),
        ((4750.0, 250.0), (4500.0, 500.0)),
        ((5500.0, 1000.0), (5400.0, 2000.0)),
    ):
        assert ledger.at_s(np.array(at_m)).tolist() == pytest.approx(at_s)
        assert ledger.at_m(np.array(at_s)).tolist() == pytest.approx(at_m)
    assert np.isnan(ledger.at_s(np.array([np.nan, 500.0]))).tolist() == [True, False]


@pytest.mark.parametrize("record", [False, True])
def test_waits_at_crossings_and_rests_cost_no_pace(record: bool) -> None:
    # 6 km of Tobler's level speed take 71.5 min: one rest of ten minutes. Four crossings take half
    # a minute each. What the published pace alone takes holds neither.
    course = make_course(6_000.0, step_m=100.0)
    delay_s = np.zeros(course.run_m.size)
    delay_s[[10, 11, 30, 50]] = 30.0
    total = simulate(
        replace(course, delay_s=delay_s),
        make_walkers(),
        manner=replace(BARE, rest_min_per_h=10.0),
        conditions=make_conditions(),
        depart_epoch_s=np.array([DEPART_EPOCH_S]),
        record=record,
    ).totals[:, 0]
    alone_s = 6_000.0 / (LEVEL_KM_H["tobler_1993"] / 3.6)
    assert total[Total.MODEL_S] == pytest.approx(alone_s, abs=1e-6)
    assert total[Total.MOVED_S] == pytest.approx(alone_s + 120.0, abs=1e-6)
    assert total[Total.RESTED_S] == pytest.approx(600.0, abs=1e-6)
    assert total[Total.CLOCK_S] == pytest.approx(alone_s + 720.0, abs=1e-6)


def test_who_has_walked_a_full_hour_rests_once_and_nobody_else_does() -> None:
    # Ten minutes in the hour: due at 3600 s exactly, not before; twice that after two hours. Who
    # takes no rests takes none, and goes on counting.
    state = State(
        make_walkers(5),
        make_conditions(),
        np.full(5, DEPART_EPOCH_S),
        rest_s_per_h=600.0,
        sweat=0.0,
    )
    state.rest_s_per_h[3] = 0.0
    state.since_rest_s = np.array([3599.0, 3600.0, 7300.0, 3700.0, 0.0])
    assert take_rest(state)
    assert state.totals[Total.RESTED_S].tolist() == [0.0, 600.0, 1200.0, 0.0, 0.0]
    assert state.totals[Total.CLOCK_S].tolist() == [0.0, 600.0, 1200.0, 0.0, 0.0]
    assert state.since_rest_s.tolist() == [3599.0, 0.0, 100.0, 3700.0, 0.0]
    assert not take_rest(state)


@pytest.mark.parametrize(
    ("step_m", "food_kcal"),
    [(50.0, 0.0), (50.0, 300.0), (2500.0, 0.0), (2500.0, 300.0), (60_000.0, 0.0)],
)
def test_hunger_begins_where_the_body_s_own_store_and_the_food_are_used_up(
    step_m: float, food_kcal: float
) -> None:
    # At an even rate on the level: inside a step, and not at its end.
    walkers = make_walkers(food_kcal=food_kcal)
    outcome = walk(make_course(60_000.0, step_m=step_m), walkers)
    total = outcome.totals[:, 0]
    share = (BODY_KCAL + food_kcal) / total[Total.ENERGY_KCAL]
    assert 0.2 < share < 0.9
    assert total[Total.EATEN_KCAL] == pytest.approx(food_kcal)
    assert outcome.hungry_s[0] == pytest.approx(share * total[Total.CLOCK_S], rel=1e-6)
    assert outcome.hungry_m[0] == pytest.approx(share * 60_000.0, rel=1e-6)


def test_the_time_of_a_way_by_slope_holds_stairs_and_surface() -> None:
    # Three steps: 100 m up 10 % at 1.25 m/s, of which stairs leave half; 200 m up 10 % on ground
    # that leaves 80 %; 300 m level at 1.5 m/s. 100 / 0.625 + 200 / 1 = 360 s, and 200 s.
    nothing, never = np.zeros(3), np.zeros(3, dtype=bool)
    run_m, time_s, terrain, slope = _by_slope(
        Step(
            run_m=np.array([100.0, 200.0, 300.0]),
            slope=np.array([0.1, 0.1, 0.0]),
            delay_s=nothing,
            speed_m_s=np.array([1.25, 1.25, 1.5]),
            stairs=np.array([0.5, 1.0, 1.0]),
            surface=np.array([1.0, 0.8, 1.0]),
            terrain=np.array([1.0, 1.6, 1.2]),
            unlit=never,
            always_dark=never,
            busy=never,
            ahead_s=nothing,
        )
    )
    assert slope.ravel().tolist() == pytest.approx([0.0, 0.1])
    assert run_m.ravel().tolist() == pytest.approx([300.0, 300.0])
    assert time_s.ravel().tolist() == pytest.approx([200.0, 360.0])
    # By length: (100 x 1.0 + 200 x 1.6) / 300.
    assert terrain.ravel().tolist() == pytest.approx([1.2, 1.4])


def test_a_place_passed_on_the_way_out_is_come_back_to_where_it_comes_into_reach() -> None:
    # 2 km east in steps of 100 m and back. A place at 500 m is within 102 m of the steps that
    # cover 398 to 602 m, and of those from 3398 m, the first of which begins at 3300 m. Round the
    # end, at 1900 m, the way never leaves the reach for long.
    out = np.linspace(0.0, 2000.0, 21)
    metres = np.append(out, out[-2::-1])
    course = replace(
        make_course(4_000.0, step_m=100.0),
        lon=metres / float(metres_per_degree(0.0)[0]),
        lat=np.zeros(metres.size),
    )
    outline = Outline.of(course)
    east, north = outline.scale_m
    places = SimpleNamespace(
        lon=np.array([500.0, 1900.0]) / east, lat=np.array([10.0, 10.0]) / north
    )
    found = outline.comes_back(cast("Places", places), np.array([0, 1]), 100.0)
    assert set(found) == {0}
    assert found[0] == pytest.approx([3300.0])


def test_a_stop_for_water_is_no_time_of_the_pace() -> None:
    # 100 m off the way and back and a minute of standing, on 5 km of Tobler's level speed; asked
    # for places on the way, the need of a second is that of the walk without the stop.
    stop = Stop(step=25, off_m=100.0, service_s=60.0, refill=True, place=0)
    walkers = make_walkers(water_ml=300.0, capacity_ml=500.0)
    outcome = walk(make_course(5_000.0, step_m=100.0), walkers, stops=(stop,))
    total = outcome.totals[:, 0]
    speed_m_s = LEVEL_KM_H["tobler_1993"] / 3.6
    assert total[Total.MODEL_S] == pytest.approx(5_000.0 / speed_m_s, rel=1e-9)
    assert total[Total.WATER_STOP_S] == pytest.approx(200.0 / speed_m_s + 60.0, rel=1e-9)
    passed = passed_of(outcome, np.zeros((0, 1)), np.zeros((0, 1)), members=1)
    lost_ml = total[Total.LOST_ML] - total[Total.STOP_LOST_ML]
    assert passed.mean_ml_s[0] == pytest.approx(lost_ml / (5_000.0 / speed_m_s), rel=1e-9)
