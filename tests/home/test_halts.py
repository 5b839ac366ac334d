"""Night halts: first light from the sky, the latest shelter in time, else the open."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest

from simulator.home.crowd import Halts, Rounds, add_halts
from simulator.home.crowd_records import StopChoice
from simulator.walk.conditions import CLOCK_STEP_S, Conditions
from simulator.walk.engine import simulate
from simulator.walk.halts import next_first_light, next_start
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


def walk_in(
    conditions: Conditions, *, light_s: float, length_m: float = 20_000.0, day_h: float = 14.0
) -> Outcome:
    return simulate(
        make_course(length_m),
        make_walkers(light_s=light_s),
        manner=Manner(street_lights=False),
        conditions=conditions,
        depart_epoch_s=np.array([DEPART_EPOCH_S]),
        record=True,
        longest_day_s=3600.0 * day_h,
    )


class Halted(NamedTuple):
    """The halt that a walk is given."""

    place: int
    until_s: float
    dark: bool
    open: bool


def halt_in(outcome: Outcome, nearby: Nearby, conditions: Conditions) -> Halted | None:
    """Halt where the day ends, if it ends before home."""
    assert outcome.limit_s is not None
    assert outcome.limit_step is not None
    assert outcome.limit_dark is not None
    assert outcome.step_clock_s is not None
    due = outcome.limit_s < outcome.totals[Total.CLOCK_S]
    halts = Halts.none(1)
    add_halts(
        halts,
        nearby,
        conditions=conditions,
        depart_epoch_s=np.array([DEPART_EPOCH_S]),
        limit_s=outcome.limit_s,
        limit_step=outcome.limit_step,
        clock_s=outcome.step_clock_s[nearby.step],
        off_s=np.full((nearby.place.size, 1), 60.0),
        usable=np.ones((nearby.place.size, 1), dtype=bool),
        due=due,
        among=np.arange(1),
        dark=outcome.limit_dark,
    )
    if not halts.until:
        return None
    ((where, until),) = halts.until.items()
    return Halted(where[1], float(until[0]), bool(halts.for_dark), bool(halts.in_the_open[0]))


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
    assert halt_in(walk_in(sky, light_s=1e6), shelters_at(5_000.0), sky) is None


def test_when_the_lamp_dies_the_halt_is_at_the_latest_shelter_reached_in_time() -> None:
    sky = night_until(DAWN_H)
    outcome = walk_in(sky, light_s=2.0 * 3600.0)
    halt = halt_in(outcome, shelters_at(2_000.0, 6_000.0, 15_000.0), sky)
    assert halt is not None
    assert not halt.open
    assert halt.place == 1
    assert halt.dark
    assert halt.until_s == pytest.approx(DEPART_EPOCH_S + DAWN_H * 3600.0, abs=60.0)


def test_without_a_shelter_in_time_the_halt_is_in_the_open_and_says_so() -> None:
    sky = night_until(DAWN_H)
    halt = halt_in(walk_in(sky, light_s=2.0 * 3600.0), shelters_at(15_000.0), sky)
    assert halt is not None
    assert halt.open
    assert halt.place == -1


def test_the_longest_day_ends_the_walk_for_the_day() -> None:
    sky = night_until(DAWN_H)
    halt = halt_in(walk_in(sky, light_s=1e6, day_h=2.0), shelters_at(4_000.0), sky)
    assert halt is not None
    assert not halt.dark
    assert halt.place == 0


def test_a_halt_by_day_is_a_rest_and_not_a_wait_for_the_next_morning() -> None:
    # Two hours after departure in full daylight: eight hours of rest, not the sixteen or more up to
    # the next first light; a rest that would end in the dark goes on until that.
    sky = make_conditions(sun_deg=30.0)
    halt = halt_in(walk_in(sky, light_s=1e6, day_h=2.0), shelters_at(), sky)
    assert halt is not None
    assert halt.until_s - DEPART_EPOCH_S == pytest.approx(10.0 * 3600.0, abs=60.0)
    hours = np.arange(sky.values.shape[0]) * CLOCK_STEP_S / 3600.0
    values = sky.values.copy()
    values[:, 0] = np.where((hours > 5.0) & (hours < 15.0), -30.0, 30.0)
    dusk = Conditions(start_epoch_s=DEPART_EPOCH_S, values=values)
    assert (next_start(dusk, DEPART_EPOCH_S + 7_200.0) - DEPART_EPOCH_S) / 3600.0 == pytest.approx(
        15.0, abs=0.2
    )


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
        halt = halt_in(outcome, shelters_at(2_000.0), sky)
        assert (halt is None) == (day_h == 0.0)
        # The same rule, kept while walking.
        assert (outcome.limit_s[0] == 14.0 * 3600.0) == (halt is None)


def choice(*keys: int) -> StopChoice:
    """Stop, or not, at one place on each walk."""
    key = np.array([keys], dtype=np.int64)
    return StopChoice(key, np.zeros_like(key), np.zeros(key.shape, dtype=bool), np.zeros(key.shape))


def test_rounds_rest_on_what_calls_for_itself_or_on_the_best_of_a_circle() -> None:
    rounds = Rounds(3)
    # Per walk: refills at closed places, shortage, time.
    rounds.add(choice(0, 0, 0), np.array([[0, 0, 0], [5, 5, 5], [9, 9, 9]], dtype=float))
    assert rounds.rest(choice(0, 1, 1)).tolist() == [0, -1, -1]
    rounds.add(choice(0, 1, 1), np.array([[0, 0, 1], [5, 0, 0], [9, 9, 9]], dtype=float))
    # The second walk goes back to no stop: a circle, of which the round without shortage is best.
    # The third does, too, but its stop is at a closed place.
    assert rounds.rest(choice(0, 0, 0)).tolist()[1:] == [1, 0]
    rounds.since[:] = 2
    assert rounds.rest(choice(0, 0, 0)).tolist() == [-1, -1, -1]
