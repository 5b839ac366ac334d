"""Night halts: first light from the sky, the latest shelter in time, else the open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.walk.conditions import CLOCK_STEP_S, Conditions
from simulator.walk.engine import simulate
from simulator.walk.halts import Halt, next_first_light, next_halt
from simulator.walk.party import Manner
from simulator.walk.records import Outcome, Total
from simulator.walk.stops import Nearby
from tests.walk.conftest import DEPART_EPOCH_S, make_conditions, make_course, make_walkers

DAWN_H = 10.0


def night_until(dawn_h: float) -> Conditions:
    """Let the sun rise through -6 degrees at a given hour after departure."""
    sky = make_conditions(sun_deg=-30.0)
    hours = np.arange(sky.values.shape[0]) * CLOCK_STEP_S / 3600.0
    values = sky.values.copy()
    values[:, 0] = -6.0 + 5.0 * (hours - dawn_h)
    return Conditions(start_epoch_s=DEPART_EPOCH_S, values=values)


def walk_in(conditions: Conditions, *, light_s: float, length_m: float = 20_000.0) -> Outcome:
    return simulate(
        make_course(length_m),
        make_walkers(light_s=light_s),
        manner=Manner(street_lights=False),
        conditions=conditions,
        depart_epoch_s=np.array([DEPART_EPOCH_S]),
        record=True,
    )


def halt_in(outcome: Outcome, nearby: Nearby, conditions: Conditions, day_h: float) -> Halt | None:
    return next_halt(
        outcome,
        conditions=conditions,
        depart_epoch_s=DEPART_EPOCH_S,
        longest_day_s=day_h * 3600.0,
        nearby=nearby,
        shelters=np.ones(nearby.place.size, dtype=bool),
        off_s=np.full(nearby.place.size, 60.0),
        halts=[],
    )


def shelters_at(*metres: float) -> Nearby:
    along = np.array(metres)
    return Nearby(
        place=np.arange(along.size),
        along_m=along,
        off_m=np.full(along.size, 40.0),
        step=(along / 50.0).astype(np.int64),
    )


def test_first_light_is_when_the_sun_rises_through_minus_six_degrees() -> None:
    dawn = next_first_light(night_until(DAWN_H), DEPART_EPOCH_S)
    assert (dawn - DEPART_EPOCH_S) / 3600.0 == pytest.approx(DAWN_H, abs=0.01)


def test_without_a_dawn_a_halt_still_ends() -> None:
    dark = make_conditions(sun_deg=-30.0)
    assert next_first_light(dark, DEPART_EPOCH_S) == DEPART_EPOCH_S + 8.0 * 3600.0


def test_a_lit_short_walk_needs_no_halt() -> None:
    sky = night_until(DAWN_H)
    assert halt_in(walk_in(sky, light_s=1e6), shelters_at(5_000.0), sky, 14.0) is None


def test_when_the_lamp_dies_the_halt_is_at_the_latest_shelter_reached_in_time() -> None:
    sky = night_until(DAWN_H)
    outcome = walk_in(sky, light_s=2.0 * 3600.0)
    halt = halt_in(outcome, shelters_at(2_000.0, 6_000.0, 15_000.0), sky, 14.0)
    assert halt is not None
    assert halt.sheltered
    assert halt.stop.place == 1
    assert "dark" in halt.reason
    assert halt.stop.until_epoch_s == pytest.approx(DEPART_EPOCH_S + DAWN_H * 3600.0, abs=60.0)


def test_without_a_shelter_in_time_the_halt_is_in_the_open_and_says_so() -> None:
    sky = night_until(DAWN_H)
    halt = halt_in(walk_in(sky, light_s=2.0 * 3600.0), shelters_at(15_000.0), sky, 14.0)
    assert halt is not None
    assert not halt.sheltered
    assert halt.stop.place == -1


def test_the_longest_day_ends_the_walk_for_the_day() -> None:
    sky = night_until(DAWN_H)
    halt = halt_in(walk_in(sky, light_s=1e6), shelters_at(4_000.0), sky, 2.0)
    assert halt is not None
    assert "longest day" in halt.reason
    assert halt.stop.place == 0


def test_an_unlit_tunnel_by_day_is_no_reason_to_wait_for_first_light() -> None:
    course = make_course(20_000.0)
    tunnel = (course.distance_m[:-1] >= 3_000.0) & (course.distance_m[:-1] < 5_000.0)
    dark = replace(course, tunnel=tunnel, lit=np.zeros_like(course.lit))
    for day_h, sky in ((0.0, make_conditions()), (DAWN_H, night_until(DAWN_H))):
        outcome = simulate(
            dark,
            make_walkers(),
            manner=Manner(),
            conditions=sky,
            depart_epoch_s=np.array([DEPART_EPOCH_S]),
            record=True,
            longest_day_s=14.0 * 3600.0,
        )
        assert outcome.totals[Total.LIGHT_NEED_S, 0] > 0.25 * 3600.0
        assert outcome.limit_s is not None
        halt = halt_in(outcome, shelters_at(2_000.0), sky, 14.0)
        assert (halt is None) == (day_h == 0.0)
        # The same rule, kept while walking.
        assert (outcome.limit_s[0] == 14.0 * 3600.0) == (halt is None)
