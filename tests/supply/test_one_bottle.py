"""One bottle: what the choice of stops reckons with is what the engine then walks with."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simulator.supply.bottle import Rules, Treatment, Water, fill_clean, fill_treated, walk
from simulator.supply.refills import choose_stops
from simulator.walk.records import Doing, Dosing, Outcome, Stop, Total
from tests.conftest import EXAMPLES
from tests.walk.conftest import make_course, make_walkers
from tests.walk.test_engine import walk as walk_through

HOT = {"air_c": 24.0, "humidity_pct": 50.0}
"""Warm enough to need a litre, and never so hot that more is lost than may be drunk."""

OWED_ML = 400.0
"""Water that the body may owe."""


STARTS_ML, TREATS_ML = (
    each.ravel() for each in np.meshgrid([0.0, 250.0, 700.0, 1000.0], [0.0, 400.0, 1300.0, 5000.0])
)
"""Walkers side by side, each as it would walk alone."""


@settings(max_examples=EXAMPLES // 3)
@given(
    dose_ml=st.sampled_from([0.0, 500.0]),
    contact_s=st.sampled_from([0.0, 1800.0]),
    ahead_ml=st.sampled_from([0.0, 250.0]),
    one_bottle=st.booleans(),
    kinds=st.lists(st.booleans(), min_size=1, max_size=4),
)
def test_the_engine_empties_and_fills_the_bottle_of_the_choice_of_stops(
    *,
    dose_ml: float,
    contact_s: float,
    ahead_ml: float,
    one_bottle: bool,
    kinds: list[bool],
) -> None:
    """Read the needs off walks, and put them through the bottle by need alone."""
    dosing = Dosing(dose_ml=dose_ml, contact_s=contact_s, one_bottle=one_bottle)
    stops = tuple(
        Stop(
            step=70 * (number + 1),
            service_s=300.0,
            refill=True,
            treat=treat,
            dosing=dosing,
            ahead_ml=ahead_ml,
        )
        for number, treat in enumerate(kinds)
    )
    walkers = replace(
        make_walkers(STARTS_ML.size, capacity_ml=1000.0), water_ml=STARTS_ML, treats_ml=TREATS_ML
    )
    outcome = walk_through(
        make_course(20_000.0, step_m=50.0), walkers, stops=stops, record=True, sky=HOT
    )
    # What the body may owe counts as water at hand; who owes more drinks later and is short now.
    within = np.flatnonzero(outcome.worst_deficit_ml <= OWED_ML)
    assume(within.size > 0)
    rules = Rules(1000.0, OWED_ML + ahead_ml, one_bottle, (dose_ml,))
    for walker in within.tolist():
        follow_the_bottle(outcome, walker, rules, kinds=kinds, contact_s=contact_s)


def follow_the_bottle(
    outcome: Outcome, walker: int, rules: Rules, *, kinds: list[bool], contact_s: float
) -> None:
    """Put one walker's needs through the bottle by need alone."""
    assert outcome.trace is not None
    start_ml = float(STARTS_ML[walker])
    total = outcome.trace.totals[:, :, walker]
    lost, clock = total[:, Total.LOST_ML], total[:, Total.CLOCK_S]
    water = Water.carried(np.array([OWED_ML + start_ml]), (TREATS_ML[[walker]],))
    gone = short = 0.0
    for event in np.flatnonzero(outcome.trace.doing == Doing.STOP).tolist():
        water, missing = walk(water, np.array([lost[event] - gone]))
        gone, short = lost[event], short + float(missing[0])
        later = float(np.interp(clock[event] + contact_s, clock, lost)) - gone
        before = water.total_ml
        if kinds[int(outcome.trace.stop[event])]:
            after = np.array([later]) if contact_s > 0.0 else None
            water, _took = fill_treated(water, rules, 0, fit_after_ml=after)
        else:
            water = fill_clean(water, rules)
        taken = total[event, Total.REFILLED_ML] - total[event - 1, Total.REFILLED_ML]
        # The loss is read between the ends of steps, of which one takes 36 s and some 5 mL: how
        # much of the water has become fit by a stop is known to that alone.
        assert float((water.total_ml - before)[0]) == pytest.approx(taken, abs=6.0)
    water, missing = walk(water, np.array([lost[-1] - gone]))
    short += float(missing[0])
    assert short == 0.0
    left = start_ml + total[-1, Total.REFILLED_ML] - total[-1, Total.DRUNK_ML]
    owed = total[-1, Total.LOST_ML] - total[-1, Total.DRUNK_ML]
    assert float(water.total_ml[0]) == pytest.approx(OWED_ML + left - owed, abs=12.0)


def test_thousands_are_decided_as_one_by_one() -> None:
    rng = np.random.default_rng(3)
    places, walks = 9, 60
    need = np.sort(rng.uniform(0.0, 1600.0, (places, walks)), axis=0)
    asked: dict[str, Any] = {
        "needs_treatment": rng.random((places, walks)) < 0.5,
        "fit_after_ml": np.full((places, walks), 90.0),
        "stop_need_ml": rng.uniform(0.0, 20.0, (places, walks)),
        "must": rng.random((places, walks)) < 0.1,
    }
    cost = np.where(rng.random((places, walks)) < 0.2, np.inf, rng.uniform(60.0, 600.0, need.shape))
    each: dict[str, Any] = {
        "start_ml": rng.uniform(0.0, 600.0, walks),
        "capacity_ml": np.full(walks, 600.0),
        "end_need_ml": need[-1] + rng.uniform(0.0, 400.0, walks),
        "drink_ahead_ml": np.full(walks, 250.0),
    }
    kit = (Treatment(1500.0, 1860.0, 500.0, 60.0, 5.0, 1.0), Treatment(1e6, 120.0))
    together = choose_stops(need, cost, treatments=kit, **asked, **each)
    for row in range(walks):
        one = slice(row, row + 1)
        alone = choose_stops(
            need[:, one],
            cost[:, one],
            treatments=kit,
            **{name: values[:, one] for name, values in asked.items()},
            **{name: values[one] for name, values in each.items()},
        )
        assert (alone.chosen[:, 0] == together.chosen[:, row]).all()
        assert (alone.method[:, 0] == together.method[:, row]).all()
        assert alone.short_ml[0] == together.short_ml[row]
        assert alone.stop_s[0] == together.stop_s[row]
