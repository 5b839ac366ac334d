"""Time of the engine against the bare numpy floor: the same formulas inline, nothing around them.

The floor keeps the totals that the engine keeps, in one loop over steps with all walkers in one
array; it validates nothing, flags nothing and takes no rests. The engine is timed without rests,
which is the same arithmetic, and with them, which is more.
"""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from simulator.body.exposure import felt_c
from simulator.walk.conditions import CLOCK_STEP_S, Conditions
from simulator.walk.course import Course
from simulator.walk.engine import simulate
from simulator.walk.party import Manner, slope_speed_m_s, surface_speed_factor, terrain_factor
from simulator.walk.records import Total, Walkers
from tests.walk.conftest import DEPART_EPOCH_S, make_conditions, make_course, make_walkers

Floats = NDArray[np.float64]

STEPS = 1_500
WALKERS = 10_000
ROUNDS = 3
MEMORY_MB = 200.0


def hilly_course() -> Course:
    """25 km of hills in 1,500 steps, a third of them without street lamps."""
    course = make_course(25_000.0, step_m=25_000.0 / STEPS)
    along = np.arange(STEPS)
    return replace(
        course,
        rise_m=course.run_m * 0.06 * np.sin(along / 20.0),
        lit=(along % 3 > 0).astype(np.int8),
        surface=(along // 50 % 3).astype(np.int8),
    )


def crowd(count: int) -> tuple[Walkers, Floats]:
    """People who differ, leaving within ten hours."""
    rng = np.random.default_rng(20260504)
    walkers = make_walkers(
        count,
        bag_kg=6.0,
        water_ml=1000.0,
        capacity_ml=1500.0,
        food_kcal=1500.0,
        food_kg=0.4,
        light_s=7200.0,
    )
    walkers = replace(
        walkers,
        mass_kg=rng.uniform(50.0, 110.0, count),
        pace_factor=rng.uniform(0.7, 1.1, count),
    )
    return walkers, DEPART_EPOCH_S + rng.uniform(0.0, 36_000.0, count)


def changing_sky() -> Conditions:
    """Every column of the sky runs through a day."""
    still = make_conditions()
    values = still.values.copy()
    turn = 2.0 * np.pi * np.arange(values.shape[0]) * CLOCK_STEP_S / 86_400.0
    values[:, 0] = 45.0 * np.cos(turn - 1.0)
    values[:, 1] = 12.0 + 6.0 * np.cos(turn - 0.5)
    values[:, 2] = 60.0 - 15.0 * np.cos(turn - 0.5)
    values[:, 3] = 3.0 + np.sin(turn)
    values[:, 5] = np.maximum(20.0 * np.cos(turn - 1.0), 0.0)
    values[:, 6] = felt_c(values[:, 1], values[:, 2], values[:, 3])
    return replace(still, values=values)


def floor(  # noqa: PLR0915 - one bare loop is the point
    course: Course, walkers: Walkers, manner: Manner, sky: Conditions, depart: Floats
) -> dict[Total, Floats]:
    """Walk with the formulas written out; coefficients as in ``simulator.body``."""
    n = walkers.count
    mass, clothes = walkers.mass_kg, walkers.clothing_clo
    area = 0.007184 * mass**0.425 * (100.0 * walkers.height_m) ** 0.725
    skin = area * (450.0 / 24.0 / 1.8)
    cover = 1.0 + 0.28 * clothes
    thin = np.minimum(clothes / 0.6, 1.0)
    clock = np.zeros(n)
    energy, eaten, lost, drunk = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    dark_s, need_s, used_s = np.zeros(n), np.zeros(n), np.zeros(n)
    surface_s, load_s, dark_pace_s, tired_s = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    worst, worst_short, first = np.zeros(n), np.zeros(n), np.full(n, np.inf)
    light_out, coldest, hottest = np.full(n, np.inf), np.full(n, np.inf), np.full(n, -np.inf)
    since_halt = np.zeros(n)
    grid = [np.ascontiguousarray(column) for column in sky.values.T]
    gains = [np.diff(column) for column in grid]
    base = slope_speed_m_s(manner, course.slope, course.stairs)
    on_surface = surface_speed_factor(manner, course.surface)
    terrain = terrain_factor(course.surface)

    def weather() -> list[Floats]:
        place = (depart + clock - sky.start_epoch_s) / CLOCK_STEP_S
        index = place.astype(np.intp)
        share = place - index
        return [
            column.take(index) + share * gain.take(index)
            for column, gain in zip(grid, gains, strict=True)
        ]

    def spend(  # noqa: PLR0915 - as above
        took: Floats, watts: Floats, now: list[Floats], walk: Floats, unlit: np.bool_
    ) -> None:
        nonlocal clock, energy, eaten, lost, drunk, dark_s, need_s, used_s
        sun, air, humid, wind, _rain, radiant, felt = now
        hours = took / 3600.0
        owed = lost - drunk
        vapour = 0.6105 * np.exp(17.27 * air / (air + 237.3)) * (humid / 100.0)
        rate = watts / area
        flow = np.minimum(np.maximum(wind * (2.0 / 3.0), walk), 3.0)
        step = np.minimum(walk, 1.5)
        clothed = np.minimum(
            1.044 * np.exp((0.066 * flow - 0.398) * flow + (0.094 * step - 0.378) * step), 1.0
        )
        bare = np.minimum(
            np.exp((0.047 * flow - 0.472) * flow + (0.117 * step - 0.342) * step), 1.0
        )
        motion = bare + thin * (clothed - bare)
        total = (clothes * 0.155 + 0.111 / cover) * motion
        clothing = total - 0.111 * bare / cover
        convection = np.where(flow > 1.0, 8.7 * flow**0.6, 3.5 + 5.2 * flow)
        kelvin = 273.15 + (air + 30.0) / 2
        outer = 1.0 / (
            cover * (convection + 4 * 0.97 * 0.77 * 5.67e-8 * (kelvin * kelvin * kelvin))
        )
        warm = 12.165 + 0.51274 * 36.6 + (0.02017 + 0.04361) * air + 0.19354 * vapour
        warm = warm - 0.25315 * flow + (0.005346 + 0.51274 * 0.0036) * rate
        dry = (warm - air - radiant * outer) / (clothing + outer)
        breath = rate * (
            (0.001516 * 28.56 + 0.00127 * 59.34)
            + (0.001516 * (0.115 - 1.0) + 0.00127 * 0.53) * air
            + (0.001516 * 0.641 - 0.00127 * 11.63) * vapour
        )
        required = rate - dry - breath
        gap = (0.6105 * np.exp(17.27 * warm / (warm + 237.3)) - vapour) * (16.7 / total)
        most = np.clip(0.38 * gap, 20.0, 525.0)
        piecewise = np.maximum(147.0 + 1.527 * required - 0.87 * most, 0.0)
        osec = 147.0 * np.exp(
            0.0012 * (27.9 * np.maximum(required, 0.0) * np.exp(-0.455 * np.log(most)))
        )
        awake = np.clip(1.0 + required / 100.0, 0.0, 1.0)
        osec = awake * osec
        resting = np.minimum(osec, piecewise)
        working = np.clip((rate - 65.0) / 35.0, 0.0, 1.0)
        osec = resting + working * (osec - resting)
        raised = np.minimum(0.38 * ((2.6 * motion - 6.5) * motion + 4.9), 0.9)
        needed = np.maximum(required, 0.0)
        wet = np.minimum(needed / np.maximum(raised * gap, 1.0), 1.7)
        efficiency = np.where(wet > 1.0, (2.0 - wet) ** 2 / 2, 1.0 - wet * wet / 2)
        iso = needed / np.maximum(efficiency, 0.05) * (2.67 / 1.8)
        iso = np.minimum(np.minimum(iso, 400.0 * 2.67 / 1.8), np.maximum(piecewise, osec))
        sweat = np.maximum((piecewise + osec) / 2, iso)
        sweat = np.minimum(sweat, 400.0 * 2.67 / 1.8) * area
        respired = np.maximum(1.7e-5 * (5867.0 - 1000.0 * vapour), 0.0) * watts * (3600.0 / 2430.0)
        urine = 50.0 - 35.0 * np.clip(owed / (10.0 * mass) / 2.0, 0.0, 1.0)
        loss = (sweat + respired + skin + urine) * hours
        wanted = owed + loss
        carried = walkers.water_ml - drunk
        drink = np.minimum(np.minimum(wanted, carried), 1420.0 * hours)
        deficit = wanted - drink
        np.maximum(worst, deficit, out=worst)
        empty = (carried - drink <= 0.0) & (deficit > 0.0) & (took > 0.0)
        np.maximum(worst_short, deficit, out=worst_short, where=empty)
        np.minimum(first, clock + drink / loss * took, out=first, where=empty)
        burnt = watts * took / 4184.0
        left = walkers.food_kcal - eaten
        meal = np.minimum(np.minimum(energy - eaten + burnt, left), 240.0 * hours)
        night = sun < -6.0
        need = (night & unlit) * took
        lamp = np.minimum(need, walkers.light_s - used_s)
        np.minimum(light_out, clock + lamp, out=light_out, where=lamp < need)
        np.minimum(coldest, felt, out=coldest, where=took > 0.0)
        np.maximum(hottest, felt, out=hottest, where=took > 0.0)
        dark_s += night * took
        need_s += need
        used_s += lamp
        clock += took
        energy += burnt
        eaten += meal
        lost += loss
        drunk += drink

    for row in range(course.run_m.size):
        now = weather()
        load = np.maximum(
            walkers.bag_kg - drunk / 1000.0 - eaten / walkers.food_kcal * walkers.food_kg, 0.0
        )
        run, grade = course.run_m[row], 100.0 * course.slope[row]
        unlit = course.lit[row] != 1
        fresh = run / (base[row] * walkers.pace_factor)
        slow = fresh / on_surface[row]
        surface_s += slow - fresh
        ratio = load / mass
        loaded = slow / np.sqrt(1.0 / (1.0 + ratio) - 2.0 * ratio * ratio / (1.5 * 1.34**2))
        load_s += loaded - slow
        after_dark = manner.dark_unlit_factor if unlit else manner.dark_lit_factor
        dim = loaded / np.where(now[0] < -6.0, after_dark, 1.0)
        dark_pace_s += dim - loaded
        tired = np.maximum(1.0 - 0.02 * np.maximum(since_halt / 3600.0 - 3.0, 0.0), 0.7)
        took = dim / tired
        tired_s += took - dim
        speed = run / took
        square = speed * speed
        bend = 1.0 - np.exp(np.log(1.05) * (1.0 - np.exp((grade + 32.0) * np.log(1.11))))
        watts_kg = 1.44 + 1.94 * speed**0.43 + 0.24 * (square * square)
        watts_kg = watts_kg + 0.34 * speed * grade * bend
        watts = (mass + load) * (1.44 + terrain[row] * (watts_kg - 1.44))
        spend(took, watts, now, speed, unlit)
        since_halt += took
    return {
        Total.CLOCK_S: clock,
        Total.ENERGY_KCAL: energy,
        Total.EATEN_KCAL: eaten,
        Total.LOST_ML: lost,
        Total.DRUNK_ML: drunk,
        Total.DARK_S: dark_s,
        Total.LIGHT_NEED_S: need_s,
        Total.LIGHT_USED_S: used_s,
    }


def best_s(run: Callable[[], object]) -> float:
    """Least processor time of some runs, which other work on the machine disturbs least."""
    taken = []
    for _ in range(ROUNDS):
        began = time.process_time()
        run()
        taken.append(time.process_time() - began)
    return min(taken)


@pytest.mark.benchmark
@pytest.mark.slow
def test_ten_thousand_walks_against_the_bare_numpy_floor() -> None:
    course, sky = hilly_course(), changing_sky()
    walkers, depart = crowd(WALKERS)
    manner = Manner(rest_min_per_h=0.0, effort=False)
    resting = Manner()

    def engine(manner: Manner = manner) -> NDArray[np.float64]:
        return simulate(
            course, walkers, manner=manner, conditions=sky, depart_epoch_s=depart
        ).totals

    bare = floor(course, walkers, manner, sky, depart)
    walked = engine()
    for row, values in bare.items():
        np.testing.assert_allclose(walked[row], values, rtol=1e-9, atol=1e-6, err_msg=row.name)
    floor_s = best_s(lambda: floor(course, walkers, manner, sky, depart))
    engine_s, resting_s = best_s(engine), best_s(lambda: engine(resting))
    tracemalloc.start()
    engine()
    peak_mb = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    alone, leave = crowd(1)
    one_s = best_s(
        lambda: simulate(course, alone, manner=resting, conditions=sky, depart_epoch_s=leave)
    )
    print(  # noqa: T201 - the report
        f"\n{WALKERS:,} walkers x {STEPS:,} steps: floor {floor_s:.2f} s, engine {engine_s:.2f} s, "
        f"ratio {engine_s / floor_s:.2f}; with rests {resting_s:.2f} s, ratio "
        f"{resting_s / floor_s:.2f}; peak {peak_mb:.0f} MB; one walk {one_s:.2f} s"
    )
    assert peak_mb < MEMORY_MB
