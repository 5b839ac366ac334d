"""Walkers on ways of their own: each as alone in the engine, to the bit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.ground.walkable import SURFACES
from simulator.walk.course import Course
from simulator.walk.engine import simulate, walk_apart
from simulator.walk.party import Manner
from simulator.walk.records import HOURLY, Stop, some_of
from tests.walk.conftest import DEPART_EPOCH_S, make_conditions, make_course, make_walkers


def rough(steps: int, seed: int) -> Course:
    """Lay a way of many slopes, surfaces, lamps, stairs and crossings."""
    rng = np.random.default_rng(seed)
    course = make_course(40.0 * steps, step_m=40.0)
    return replace(
        course,
        rise_m=course.run_m * rng.normal(0.0, 0.08, steps),
        lit=rng.integers(-1, 2, steps).astype(np.int8),
        surface=rng.integers(0, len(SURFACES), steps).astype(np.int8),
        stairs=rng.random(steps) < 0.02,
        tunnel=rng.random(steps) < 0.02,
        delay_s=np.where(rng.random(steps) < 0.1, 15.0, 0.0),
    )


@pytest.mark.parametrize("together", [3, 500])
def test_each_walks_as_alone_to_the_bit(together: int) -> None:
    count = 12
    rng = np.random.default_rng(1)
    courses = [rough(int(rng.integers(20, 220)), seed) for seed in range(count)]
    walkers = make_walkers(
        count, bag_kg=5.0, water_ml=300.0, capacity_ml=800.0, food_kcal=300, food_kg=0.1
    )
    walkers = replace(
        walkers,
        mass_kg=rng.uniform(50, 100, count),
        pace_factor=rng.uniform(0.6, 1.3, count),
        light_s=rng.uniform(0.0, 4000.0, count),
    )
    depart = DEPART_EPOCH_S + rng.uniform(0.0, 7200.0, count)
    stops = [
        (Stop(step=10 + row, off_m=30.0, service_s=60.0, refill=True),) if row % 3 else ()
        for row in range(count)
    ]
    beside = [np.arange(course.run_m.size) % 4 == 0 for course in courses]
    sky = make_conditions(sun_deg=-20.0, air_c=28.0, radiant_w_m2=10.0)
    manner = Manner(rest_min_per_h=8.0)
    every = walk_apart(
        courses,
        walkers,
        manner=manner,
        conditions=sky,
        depart_epoch_s=depart,
        stops=stops,
        beside_traffic=beside,
        together=together,
    )
    for row in range(count):
        alone = simulate(
            courses[row],
            some_of(walkers, slice(row, row + 1)),
            manner=manner,
            conditions=sky,
            depart_epoch_s=depart[row : row + 1],
            stops=stops[row],
            beside_traffic=beside[row],
            record=True,
        )
        assert np.array_equal(every.outcome.totals[:, row], alone.totals[:, 0])
        for name in (
            "worst_deficit_ml",
            "worst_short_ml",
            "first_short_s",
            "first_short_m",
            "light_out_s",
            "light_out_m",
            "coldest_felt_c",
            "hottest_felt_c",
            "busy_dark_m",
        ):
            assert getattr(every.outcome, name)[row] == getattr(alone, name)[0], name
        assert alone.step_clock_s is not None
        assert alone.hourly is not None
        assert every.outcome.hourly is not None
        read = [0, *(1 + total for total in HOURLY)]
        hours = alone.hourly[:, read, 0]
        assert np.array_equal(every.outcome.hourly[: len(hours), :, row], hours, equal_nan=True)
        # Steps are reached before any stop at them; the record holds when they are left.
        through = np.ones(alone.step_clock_s.shape[0], dtype=bool)
        through[[stop.step for stop in stops[row]]] = False
        assert np.array_equal(every.clock_s[row][through], alone.step_clock_s[through, 0])
