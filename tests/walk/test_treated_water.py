"""Water under treatment on the move: nothing is drunk before its time, and every balance closes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.walk.records import Doing, Dosing, Each, Outcome, Stop, Total, Walkers
from tests.conftest import EXAMPLES
from tests.walk.conftest import make_course, make_walkers
from tests.walk.test_engine import walk

TABLETS = Dosing(dose_ml=500.0, contact_s=1800.0)
HOT = {"air_c": 30.0, "humidity_pct": 50.0}


def with_stop(walkers: Walkers, dosing: Dosing, *, ahead_ml: float = 0.0) -> Outcome:
    """Walk 20 km in the heat with one stop at a stream after 6 km."""
    stop = Stop(step=120, refill=True, treat=True, dosing=dosing, ahead_ml=ahead_ml)
    return walk(make_course(20_000.0), walkers, stops=(stop,), record=True, sky=HOT)


def drunk_between(outcome: Outcome, begin_s: float, end_s: float) -> float:
    """Millilitres drunk in a span of time since departure."""
    assert outcome.trace is not None
    clock = outcome.trace.totals[:, Total.CLOCK_S, 0]
    drunk = np.interp([begin_s, end_s], clock, outcome.trace.totals[:, Total.DRUNK_ML, 0])
    return float(drunk[1] - drunk[0])


def filled_at(outcome: Outcome) -> float:
    """Time since departure at the end of the only stop."""
    assert outcome.trace is not None
    event = int(np.flatnonzero(outcome.trace.doing == Doing.STOP)[0])
    return float(outcome.trace.totals[event, Total.CLOCK_S, 0])


def test_a_dry_walker_drinks_nothing_until_the_tablets_have_taken_their_time() -> None:
    walkers = make_walkers(water_ml=100.0, capacity_ml=1000.0, treats_ml=5000.0)
    outcome = with_stop(walkers, TABLETS)
    at_s = filled_at(outcome)
    # Totals are kept at the ends of steps, of which the last one before takes 36 s.
    assert drunk_between(outcome, at_s, at_s + 1800.0 - 40.0) == pytest.approx(0.0, abs=1e-9)
    assert drunk_between(outcome, at_s + 1800.0, at_s + 2400.0) > 50.0
    # At once fit, the same water is drunk from the stop on.
    at_once = with_stop(walkers, Dosing(dose_ml=500.0))
    assert drunk_between(at_once, at_s, at_s + 600.0) > 50.0


def test_one_bottle_mixes_so_that_what_was_left_must_wait_too() -> None:
    walkers = make_walkers(water_ml=1000.0, capacity_ml=1000.0, treats_ml=5000.0)
    two = with_stop(walkers, TABLETS)
    one = with_stop(walkers, Dosing(dose_ml=500.0, contact_s=1800.0, one_bottle=True))
    at_s = filled_at(two)
    assert drunk_between(two, at_s, at_s + 1700.0) > 50.0
    assert drunk_between(one, at_s, at_s + 1700.0) == pytest.approx(0.0, abs=1e-9)


def test_drinking_ahead_bridges_the_contact_time() -> None:
    walkers = make_walkers(water_ml=1000.0, capacity_ml=1000.0, treats_ml=5000.0)
    one_bottle = Dosing(dose_ml=500.0, contact_s=1800.0, one_bottle=True)
    strict = with_stop(walkers, one_bottle)
    ahead = with_stop(walkers, one_bottle, ahead_ml=250.0)
    assert strict.worst_short_ml[0] > 0.0
    assert ahead.first_short_s[0] > strict.first_short_s[0]
    total = ahead.totals[:, 0]
    assert total[Total.DRUNK_ML] <= total[Total.LOST_ML] + 1e-9


def test_whole_tablets_are_used_up_and_then_there_are_none() -> None:
    walkers = make_walkers(water_ml=1000.0, capacity_ml=1000.0, treats_ml=1000.0)
    stops = tuple(
        Stop(step=step, refill=True, treat=True, dosing=Dosing(dose_ml=500.0))
        for step in (60, 120, 180)
    )
    outcome = walk(make_course(20_000.0), walkers, stops=stops, record=True, sky=HOT)
    assert outcome.trace is not None
    stopped = np.flatnonzero(outcome.trace.doing == Doing.STOP)
    refilled = outcome.trace.totals[:, Total.REFILLED_ML, 0]
    taken = refilled[stopped] - refilled[stopped - 1]
    # Each top-up takes less than half a litre and still a whole tablet: two, and none is left.
    assert (taken[:2] > 0.0).all()
    assert (taken[:2] < 500.0).all()
    assert taken[2] == 0.0


def test_clean_water_takes_the_place_of_water_under_treatment() -> None:
    walkers = make_walkers(water_ml=100.0, capacity_ml=1000.0, treats_ml=5000.0)
    stops = (
        Stop(step=120, refill=True, treat=True, dosing=TABLETS),
        Stop(step=130, refill=True),
    )
    outcome = walk(make_course(20_000.0), walkers, stops=stops, record=True, sky=HOT)
    assert outcome.trace is not None
    event = int(np.flatnonzero(outcome.trace.stop == 1)[0])
    at_s = float(outcome.trace.totals[event, Total.CLOCK_S, 0])
    assert drunk_between(outcome, at_s, at_s + 600.0) > 50.0


def test_only_the_party_that_stops_is_changed_by_it() -> None:
    walkers = make_walkers(2, water_ml=300.0, capacity_ml=1000.0, treats_ml=5000.0)
    each = Each(active=np.array([True, False]), works=np.ones(2, dtype=bool))
    stop = Stop(step=120, service_s=60.0, refill=True, treat=True, dosing=TABLETS, each=each)
    both = walk(make_course(20_000.0), walkers, stops=(stop,), sky=HOT)
    alone = make_walkers(water_ml=300.0, capacity_ml=1000.0, treats_ml=5000.0)
    stopped = with_stop(alone, TABLETS)
    plain = walk(make_course(20_000.0), alone, sky=HOT)
    assert both.totals[Total.REFILLED_ML, 0] == pytest.approx(
        stopped.totals[Total.REFILLED_ML, 0], rel=0.01
    )
    assert np.array_equal(both.totals[:, 1], plain.totals[:, 0])


MANY = 16


@settings(max_examples=EXAMPLES // 2)
@given(
    dice=st.integers(0, 10**6),
    contact=st.sampled_from([0.0, 600.0, 1800.0, 14_400.0]),
    dose=st.sampled_from([0.0, 500.0]),
    ahead=st.sampled_from([0.0, 250.0]),
    one_bottle=st.booleans(),
    steps=st.lists(st.integers(0, 190), min_size=1, max_size=4, unique=True),
)
def test_water_balances_whatever_is_treated_and_when(
    dice: int, contact: float, dose: float, ahead: float, one_bottle: bool, steps: list[int]
) -> None:
    chance = np.random.default_rng(dice)
    capacity, treats = chance.uniform(250.0, 1500.0, MANY), chance.uniform(0.0, 4000.0, MANY)
    start = capacity * np.resize((0.0, 0.3, 0.8, 1.0), MANY)
    treats[::8] = 0.0
    walkers = replace(
        make_walkers(MANY, bag_kg=3.0), water_ml=start, capacity_ml=capacity, treats_ml=treats
    )
    dosing = Dosing(dose_ml=dose, contact_s=contact, one_bottle=one_bottle)
    stops = tuple(
        Stop(step=step, refill=True, treat=True, dosing=dosing, ahead_ml=ahead)
        for step in sorted(steps)
    )
    outcome = walk(make_course(10_000.0), walkers, stops=stops, record=True, sky=HOT)
    assert outcome.trace is not None
    totals = outcome.trace.totals
    drunk = totals[:, Total.DRUNK_ML]
    left = start + totals[:, Total.REFILLED_ML] - drunk
    assert (left >= -1e-6).all()
    assert (left <= capacity + 1e-6).all()
    assert (np.diff(drunk, axis=0) >= -1e-9).all()
    assert (totals[-1, Total.REFILLED_ML] <= treats + 1e-6).all()
    # Nobody drinks more ahead of need than the stop allows.
    assert (drunk - totals[:, Total.LOST_ML] <= ahead + 1e-6).all()
    parts = totals[-1, [Total.MOVED_S, Total.RESTED_S, Total.STOPPED_S]].sum(axis=0)
    assert parts == pytest.approx(totals[-1, Total.CLOCK_S])
