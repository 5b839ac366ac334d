"""Crowds: the same numbers however they are cut, for walkers who differ in all that may differ."""

from __future__ import annotations

from dataclasses import fields, replace
from unittest.mock import Mock

import numpy as np
import pytest

from simulator.body import energy, exposure, water
from simulator.units import HOUR_S
from simulator.walk import engine, rates
from simulator.walk.conditions import CLOCK_STEP_S, Conditions
from simulator.walk.course import Course
from simulator.walk.engine import simulate
from simulator.walk.party import SWEAT_POSITIONS, Manner
from simulator.walk.records import (
    HOURLY,
    PASSING,
    Begun,
    Dosing,
    Each,
    Marks,
    Outcome,
    Stop,
    Total,
    Traits,
    Walkers,
    WeatherError,
    some_of,
)
from tests.walk.conftest import DEPART_EPOCH_S, make_conditions, make_course, make_walkers

COUNT = 150
BARE = Manner(load=False, dark=False, fatigue=False, surface=False)


def people(count: int = COUNT) -> Walkers:
    """Walkers who differ."""
    rng = np.random.default_rng(11)
    walkers = make_walkers(
        count, bag_kg=5.0, water_ml=600.0, capacity_ml=1200.0, food_kcal=600.0, food_kg=0.2
    )
    return replace(
        walkers,
        mass_kg=rng.uniform(50.0, 110.0, count),
        pace_factor=rng.uniform(0.6, 1.35, count),
        light_s=rng.uniform(0.0, 7200.0, count),
    )


def traits(count: int = COUNT) -> Traits:
    """Everyone has habits; some are hurt on the way."""
    rng = np.random.default_rng(12)
    return Traits(
        rest_factor=rng.uniform(0.5, 1.5, count),
        drink_share=rng.uniform(0.6, 1.0, count),
        sweat_factor=rng.uniform(0.7, 1.3, count),
        tiring_factor=rng.uniform(0.5, 1.5, count),
        hurt_from_m=np.where(rng.random(count) < 0.2, rng.uniform(0.0, 6000.0, count), np.inf),
        hurt_factor=np.full(count, 0.7),
    )


def weather_error(count: int = COUNT) -> WeatherError:
    """Give everyone weather of their own."""
    rng = np.random.default_rng(13)
    return WeatherError(
        air_c=rng.normal(0.0, 2.0, count),
        humidity_pct=rng.normal(0.0, 5.0, count),
        wind_factor=rng.uniform(0.5, 1.5, count),
        sun_factor=rng.uniform(0.5, 1.5, count),
        rain_factor=np.ones(count),
    )


def stops(count: int = COUNT) -> tuple[Stop, ...]:
    """Give a tap that works for some and a halt that some make, until a time of one's own."""
    rng = np.random.default_rng(14)
    taps = Each(active=rng.random(count) < 0.7, works=rng.random(count) < 0.5)
    halts = Each(
        active=rng.random(count) < 0.3,
        works=np.ones(count, dtype=bool),
        until_epoch_s=DEPART_EPOCH_S + rng.uniform(3e4, 5e4, count),
    )
    return (
        Stop(step=30, off_m=60.0, service_s=120.0, refill=True, each=taps),
        Stop(step=90, off_m=20.0, each=halts),
    )


def walk_all(*, crowd: int = 5000, rows: slice = slice(None)) -> Outcome:
    walkers = some_of(people(), rows)
    mine = tuple(
        replace(stop, each=some_of(stop.each, rows)) for stop in stops() if stop.each is not None
    )
    return simulate(
        make_course(8_000.0, slope=0.02),
        walkers,
        manner=Manner(street_lights=False),
        conditions=make_conditions(sun_deg=-20.0, air_c=3.0),
        depart_epoch_s=np.full(walkers.count, DEPART_EPOCH_S),
        stops=mine,
        traits=some_of(traits(), rows),
        error=some_of(weather_error(), rows),
        marks=Marks(hourly=True, steps=np.array([10, 80, 120])),
        beside_traffic=np.arange(160) % 2 == 0,
        longest_day_s=4000.0,
        crowd=crowd,
    )


def same(left: Outcome, right: Outcome) -> None:
    for field in fields(Outcome):
        here, there = getattr(left, field.name), getattr(right, field.name)
        if field.name in {"halted", "begun"}:
            continue
        if field.name == "trace":
            if here is not None:
                columns = ((getattr(here, c.name), getattr(there, c.name)) for c in fields(here))
                assert all(np.array_equal(*pair) for pair in columns)
        elif here is None or here.dtype == bool:
            assert here is None or np.array_equal(here, there)
        else:
            assert np.array_equal(here, there, equal_nan=True), field.name


def test_guesses_of_the_walk_itself_need_no_second_round_and_little_less_than_bits_few(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    course, walkers, sky = hard_day()
    rounds = Mock(wraps=engine._walk_from)
    monkeypatch.setattr(engine, "_walk_from", rounds)
    monkeypatch.setattr(engine, "most_at_once", lambda _count: 100)

    def walked(like: Begun | None = None, within_s: float = 0.0) -> tuple[Outcome, int]:
        rounds.reset_mock()
        outcome = simulate(
            course,
            walkers,
            manner=Manner(street_lights=False, effort=True),
            conditions=sky,
            depart_epoch_s=np.full(COUNT, DEPART_EPOCH_S),
            like=like,
            within_s=within_s,
        )
        return outcome, rounds.call_count

    exact, many = walked()
    nearly, fewer = walked(within_s=1e-3)
    again, once = walked(exact.begun)
    blocks = -(-course.run_m.size // 100)
    assert once == blocks < fewer < many
    same(exact, again)
    off_s = np.abs(nearly.totals[Total.CLOCK_S] - exact.totals[Total.CLOCK_S])
    assert off_s.max() < 2e-3


@pytest.mark.parametrize("crowd", [41, 64])
def test_the_size_of_the_crowd_changes_no_bit(crowd: int) -> None:
    same(walk_all(), walk_all(crowd=crowd))


def test_one_walker_out_of_many_differs_in_no_bit_from_the_same_walker_alone() -> None:
    every = walk_all()
    for row in (0, 17, 149):
        alone = walk_all(rows=slice(row, row + 1))
        assert np.array_equal(alone.totals[:, 0], every.totals[:, row])
        assert alone.hourly is not None
        assert every.hourly is not None
        hours = alone.hourly[:, :, 0]
        assert np.array_equal(hours, every.hourly[: len(hours), :, row], equal_nan=True)


def test_parties_are_never_cut_apart() -> None:
    walkers = replace(people(90), party=np.repeat(np.arange(18), 5))
    outcomes = [
        simulate(
            make_course(3_000.0),
            walkers,
            manner=BARE,
            conditions=make_conditions(),
            depart_epoch_s=np.full(90, DEPART_EPOCH_S),
            crowd=crowd,
        )
        for crowd in (1, 7, 5000)
    ]
    for outcome in outcomes[1:]:
        same(outcomes[0], outcome)
    clock = outcomes[0].totals[Total.CLOCK_S].reshape(18, 5)
    assert (clock == clock[:, :1]).all()


def test_the_bare_rates_of_the_engine_are_the_body_s_checked_ones_to_the_bit() -> None:
    rng = np.random.default_rng(3)
    n = 500
    mass, load = rng.uniform(50, 110, n), rng.uniform(0, 15, n)
    speed = rng.uniform(0.5, 1.9, n)
    for model, light in (("lcda", True), ("lcda", False), ("pandolf", False)):
        mine, outside = rates.walking_w(mass, load, speed, 0.07, 1.1, model=model, light=light)
        theirs = energy.walking_w(mass, load, speed, 0.07, 1.1, model=model)
        assert np.array_equal(mine, theirs)
        assert not outside
    area = np.asarray(water.body_area_m2(mass, 1.75))
    sky = make_conditions(air_c=24.0, wind_m_s=2.0, radiant_w_m2=30.0)
    moment = sky.at(np.full(n, DEPART_EPOCH_S))
    clothes, loss = np.full(n, 0.7), rng.uniform(0.0, 4.0, n)
    for estimate, position in SWEAT_POSITIONS.items():
        total, backed = rates.water_loss_g_h(
            mine,
            area,
            moment,
            clothes,
            skin_g_h=np.asarray(water.skin_diffusion_g_h(area)),
            body_mass_loss_pct=loss,
            walk_m_s=speed,
            sheltered=False,
            sweat=None if position == 0.0 else np.full(n, position),
            sweat_factor=None,
        )
        checked = water.water_loss_g_h(
            *(mine, area, 24.0, 50.0, 2.0, 30.0, 0.7),
            walk_m_s=speed,
            body_mass_loss_pct=loss,
            sweat=estimate,
        )
        assert np.array_equal(total, checked.total_g_h)
        assert backed == bool(checked.in_range.all())


def test_assumptions_given_walker_by_walker_walk_as_each_alone_would() -> None:
    columns = {
        "sweat": np.array([-1.0, 0.0, 1.0, 0.5, 0.0]),
        "dark_unlit_factor": np.array([0.67, 0.8, 0.8, 0.9, 1.0]),
        "dark_lit_factor": np.array([0.9, 0.95, 0.95, 1.0, 1.0]),
        "fatigue_per_h": np.array([0.0, 0.02, 0.05, 0.02, 0.02]),
    }
    course = make_course(22_000.0)
    half = np.arange(course.lit.size) % 2
    course = replace(course, lit=half.astype(np.int8))
    night = make_conditions(sun_deg=-30.0, air_c=22.0)

    def walk(count: int, manner: Manner, crowd: int = 5000) -> Outcome:
        walkers = make_walkers(count, water_ml=500.0, capacity_ml=500.0, light_s=9e4)
        depart = np.full(count, DEPART_EPOCH_S)
        return simulate(
            *(course, walkers),
            manner=manner,
            conditions=night,
            depart_epoch_s=depart,
            crowd=crowd,
        )

    together = walk(5, Manner(**columns))  # type: ignore[arg-type]  # names of the manner
    same(together, walk(5, Manner(**columns), crowd=2))  # type: ignore[arg-type]
    for row in range(5):
        own = {name: float(column[row]) for name, column in columns.items()}
        alone = walk(1, Manner(**own))  # type: ignore[arg-type]
        np.testing.assert_allclose(
            together.totals[:, row], alone.totals[:, 0], rtol=1e-12, atol=1e-9
        )
    need = together.totals[Total.LOST_ML]
    assert need[0] < need[1] < need[2]


def test_steeper_than_any_equation_reaches_is_flagged_and_still_priced() -> None:
    power, outside = rates.walking_w(
        np.full(2, 80.0), np.zeros(2), np.full(2, 0.4), 0.8, 1.0, model="lcda", light=True
    )
    assert outside
    assert np.isfinite(power).all()


def test_impossible_walkers_and_weather_are_refused_at_the_door() -> None:
    def walk(walkers: Walkers, **sky: float) -> Outcome:
        return simulate(
            make_course(500.0),
            walkers,
            manner=BARE,
            conditions=make_conditions(**sky),
            depart_epoch_s=np.full(1, DEPART_EPOCH_S),
        )

    with pytest.raises(ValueError, match="mass_kg"):
        walk(make_walkers(mass_kg=-1.0))
    with pytest.raises(ValueError, match="pace_factor"):
        walk(make_walkers(pace_factor=0.0))
    sky = make_conditions()
    values = sky.values.copy()
    values[5, 2] = 130.0
    with pytest.raises(ValueError, match="humidity"):
        simulate(
            make_course(500.0),
            make_walkers(),
            manner=BARE,
            conditions=replace(sky, values=values),
            depart_epoch_s=np.full(1, DEPART_EPOCH_S),
        )


def level(course: Course, walkers: Walkers, *, error: WeatherError | None = None) -> Outcome:
    return simulate(
        course,
        walkers,
        manner=replace(BARE, rest_min_per_h=0.0),
        conditions=make_conditions(air_c=2.0, wind_m_s=5.0),
        depart_epoch_s=np.full(walkers.count, DEPART_EPOCH_S),
        error=error,
        marks=Marks(hourly=True, steps=np.array([100, 200])),
    )


def test_marks_at_full_hours_lie_on_the_straight_line_of_an_even_walk() -> None:
    # On level ground at one pace everything grows evenly: distance at hour k is k times the speed.
    outcome = level(make_course(14_000.0), make_walkers(3))
    km_h = 6.0 * np.exp(-0.175)  # Tobler 1993 on the level
    assert outcome.hourly is not None
    assert outcome.passing is not None
    assert outcome.hourly.shape[1:] == (1 + len(HOURLY), 3)
    for hour in (1, 2):
        assert outcome.hourly[hour - 1, 0] == pytest.approx(1000.0 * km_h * hour)
    assert np.isnan(outcome.hourly[2:]).all()  # home after 2.8 h
    assert outcome.passing[:, PASSING.index(Total.CLOCK_S), 0] / 3600.0 == pytest.approx(
        np.array([5.0, 10.0]) / km_h
    )


def test_a_weather_error_of_nothing_changes_nothing_and_colder_air_feels_colder() -> None:
    course, walkers = make_course(4_000.0), make_walkers(2)
    none = WeatherError(*(np.zeros(2), np.zeros(2), np.ones(2), np.ones(2), np.ones(2)))
    plain = level(course, walkers)
    same(plain, level(course, walkers, error=none))
    colder = level(course, walkers, error=replace(none, air_c=np.array([-5.0, 0.0])))
    expected = float(exposure.felt_c(-3.0, 50.0, 5.0))
    assert colder.coldest_felt_c == pytest.approx([expected, plain.coldest_felt_c[1]])
    assert colder.cold_from_s[0] == 0.0


@pytest.mark.parametrize("air_c", [-5.0, 33.0])  # with that on top of 2 °C, chilled and hot
def test_one_felt_temperature_that_is_not_known_hides_no_other_s(air_c: float) -> None:
    course = make_course(4_000.0)
    one, two = (np.zeros(count) for count in (1, 2))
    # Far beyond what any index of felt temperature covers.
    off = replace(
        WeatherError(two, two, two + 1.0, two + 1.0, two + 1.0), air_c=np.array([70.0, air_c])
    )
    own = replace(WeatherError(one, one, one + 1.0, one + 1.0, one + 1.0), air_c=one + air_c)
    beside = level(course, make_walkers(2), error=off)
    alone = level(course, make_walkers(1), error=own)
    assert np.isnan(beside.coldest_felt_c[0])
    assert alone.cold_from_s[0] == 0.0 or alone.hot_from_s[0] == 0.0
    for name in ("coldest_felt_c", "hottest_felt_c", "cold_from_s", "hot_from_s"):
        assert getattr(beside, name)[1] == getattr(alone, name)[0], name


def test_a_hurt_walker_is_slower_from_there_on_only() -> None:
    habits = Traits(
        rest_factor=np.ones(2),
        drink_share=np.ones(2),
        sweat_factor=np.ones(2),
        tiring_factor=np.ones(2),
        hurt_from_m=np.array([np.inf, 2_000.0]),
        hurt_factor=np.full(2, 0.5),
    )
    outcome = simulate(
        make_course(4_000.0),
        make_walkers(2),
        manner=replace(BARE, rest_min_per_h=0.0),
        conditions=make_conditions(),
        depart_epoch_s=np.full(2, DEPART_EPOCH_S),
        traits=habits,
    )
    whole, hurt = outcome.totals[Total.MOVED_S]
    assert hurt == pytest.approx(whole * (0.5 + 0.5 / 0.5))


def test_who_drinks_less_than_is_lost_keeps_water_and_runs_a_deficit() -> None:
    habits = Traits(
        rest_factor=np.ones(2),
        drink_share=np.array([1.0, 0.6]),
        sweat_factor=np.ones(2),
        tiring_factor=np.ones(2),
        hurt_from_m=np.full(2, np.inf),
        hurt_factor=np.ones(2),
    )
    outcome = simulate(
        make_course(4_000.0),
        make_walkers(2, water_ml=3000.0, capacity_ml=3000.0, bag_kg=4.0),
        manner=BARE,
        conditions=make_conditions(),
        depart_epoch_s=np.full(2, DEPART_EPOCH_S),
        traits=habits,
    )
    lost, drunk = outcome.totals[Total.LOST_ML], outcome.totals[Total.DRUNK_ML]
    assert drunk[0] == pytest.approx(lost[0])
    assert drunk[1] == pytest.approx(0.6 * lost[1])


def test_a_tap_that_fails_costs_its_time_and_gives_nothing() -> None:
    each = Each(active=np.array([True, True, False]), works=np.array([True, False, True]))
    stop = Stop(step=40, off_m=50.0, service_s=60.0, refill=True, each=each)
    outcome = simulate(
        make_course(4_000.0),
        make_walkers(3, water_ml=100.0, capacity_ml=500.0, bag_kg=1.0),
        manner=BARE,
        conditions=make_conditions(),
        depart_epoch_s=np.full(3, DEPART_EPOCH_S),
        stops=(stop,),
    )
    refilled, stopped = outcome.totals[Total.REFILLED_ML], outcome.totals[Total.STOPPED_S]
    assert refilled[0] > 0.0
    assert refilled[1] == refilled[2] == 0.0
    assert stopped[0] == stopped[1] > stopped[2] == 0.0


@pytest.mark.parametrize("light_s", [0.0, 2_400.0, 1e6])
def test_the_day_of_a_crowd_ends_where_the_halt_of_one_recorded_walk_does(light_s: float) -> None:
    longest_day_s = 3_600.0
    outcome = simulate(
        make_course(9_000.0),
        make_walkers(3, light_s=light_s),
        manner=Manner(street_lights=False),
        conditions=make_conditions(sun_deg=-30.0),
        depart_epoch_s=np.full(3, DEPART_EPOCH_S),
        longest_day_s=longest_day_s,
    )
    alone = simulate(
        make_course(9_000.0),
        make_walkers(1, light_s=light_s),
        manner=Manner(street_lights=False),
        conditions=make_conditions(sun_deg=-30.0),
        depart_epoch_s=np.full(1, DEPART_EPOCH_S),
        record=True,
        longest_day_s=longest_day_s,
    )
    assert alone.step_clock_s is not None
    assert alone.limit_s is not None
    assert outcome.limit_step is not None
    last = int(np.searchsorted(alone.step_clock_s[:, 0], alone.limit_s[0], side="right")) - 1
    assert (outcome.limit_step == last).all()
    # Fifteen minutes without a lamp on unlit ways end the day, if the hour does not end it before.
    ends_s = min(longest_day_s, light_s + 900.0)
    assert ends_s <= alone.limit_s[0] <= ends_s + 60.0


def test_a_halt_begins_the_day_afresh() -> None:
    until = DEPART_EPOCH_S + 20_000.0
    outcome = simulate(
        make_course(9_000.0),
        make_walkers(2),
        manner=BARE,
        conditions=make_conditions(),
        depart_epoch_s=np.full(2, DEPART_EPOCH_S),
        stops=(Stop(step=40, until_epoch_s=until),),
        longest_day_s=3_000.0,
    )
    assert outcome.limit_s == pytest.approx([23_000.0, 23_000.0])
    (halt,) = outcome.halted
    assert halt.until_s == pytest.approx([20_000.0, 20_000.0])
    assert halt.from_s[0] < 3_000.0


def hard_day() -> tuple[Course, Walkers, Conditions]:
    """Hills, crossings, tunnels and an evening, for parties that tire, stumble and run dry."""
    course = make_course(16_000.0)
    steps, rng = course.run_m.size, np.random.default_rng(8)
    rise = course.run_m * np.repeat(rng.uniform(-0.25, 0.25, steps // 8), 8)
    course = replace(
        course,
        rise_m=rise,
        height_m=np.append(0.0, np.cumsum(rise)),
        delay_s=np.where(rng.random(steps) < 0.1, 25.0, 0.0),
        lit=(rng.random(steps) < 0.5).astype(np.int8),
        tunnel=rng.random(steps) < 0.03,
        stairs=rng.random(steps) < 0.03,
        surface=rng.integers(0, 3, steps).astype(np.int8),
    )
    walkers = replace(people(), party=np.repeat(np.arange(COUNT // 2), 2))
    walkers = replace(walkers, treats_ml=np.full(COUNT, 3000.0), food_kg=np.full(COUNT, 0.4))
    still = make_conditions(hours=24.0)
    hours = np.arange(len(still.values)) * CLOCK_STEP_S / HOUR_S
    sky = still.values.copy()
    sky[:, 0], sky[:, 1] = 25.0 - 12.0 * hours, 31.0 - 3.0 * hours
    sky[:, 6] = sky[:, 1]
    return course, walkers, replace(still, values=sky)


GUESSED = (40, 20)
"""Steps at once and rounds with which other guesses are tried as well."""


@pytest.mark.parametrize(("at_once", "rounds"), [(5, 20), GUESSED, (4000, 20), (40, 3)])
def test_steps_walked_at_once_give_the_bits_of_one_after_the_other(
    monkeypatch: pytest.MonkeyPatch, at_once: int, rounds: int
) -> None:
    course, walkers, sky = hard_day()
    stops = (
        Stop(
            step=40,
            off_m=60.0,
            service_s=90.0,
            refill=True,
            treat=True,
            dosing=Dosing(contact_s=1800.0),
        ),
        Stop(step=110, off_m=20.0, service_s=60.0, refill=True, ahead_ml=300.0),
        Stop(step=200, until_epoch_s=DEPART_EPOCH_S + 9.0 * HOUR_S),
    )

    def walked(like: Begun | None = None) -> Outcome:
        return simulate(
            course,
            walkers,
            manner=Manner(street_lights=False, effort=True),
            conditions=sky,
            depart_epoch_s=np.full(COUNT, DEPART_EPOCH_S),
            stops=stops,
            record=True,
            traits=traits(),
            error=weather_error(),
            marks=Marks(hourly=True, steps=np.array([0, 39, 111, 250])),
            beside_traffic=np.arange(course.run_m.size) % 5 == 0,
            longest_day_s=4.0 * HOUR_S,
            like=like,
        )

    monkeypatch.setattr(engine, "most_at_once", lambda _count: 1)
    alone = walked()
    monkeypatch.setattr(engine, "most_at_once", lambda _count: at_once)
    monkeypatch.setattr(engine, "MOST_ROUNDS", rounds)
    together = walked()
    assert (alone.totals[Total.RESTED_S] > 0.0).any()
    assert np.isfinite(alone.first_short_s).any()
    assert np.isfinite(alone.light_out_s).any()
    same(alone, together)
    if (at_once, rounds) != GUESSED:
        return
    # Whatever is guessed from: the walk itself, one of another pace, or nonsense.
    assert together.begun is not None
    same(alone, walked(together.begun))
    same(alone, walked(together.begun.faster(np.linspace(0.5, 2.0, COUNT))))
    lighter_kg = np.linspace(60.0, 0.0, together.begun.first.size)[:, None] + np.zeros(COUNT)
    same(alone, walked(together.begun._replace(load_kg=lighter_kg)))
    lower_s = -100.0 * together.begun.since_halt_s
    same(alone, walked(together.begun._replace(since_halt_s=lower_s)))
