"""Courses, walkers and skies made by hand, so that each claim stands on known numbers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from simulator.body.exposure import felt_c
from simulator.ground.walkable import SURFACES
from simulator.walk.conditions import CLOCK_STEP_S, Conditions
from simulator.walk.course import Course
from simulator.walk.records import Walkers

DEPART_EPOCH_S = 1_780_000_000.0


def make_course(
    length_m: float = 25_000.0, *, slope: float = 0.0, step_m: float = 50.0, surface: str = "paved"
) -> Course:
    """Lay an even street of one slope."""
    steps = round(length_m / step_m)
    run = np.full(steps, length_m / steps)
    return Course(
        segment=np.arange(steps, dtype=np.int32),
        forward=np.ones(steps, dtype=bool),
        way=np.zeros(steps, dtype=np.int32),
        distance_m=np.append(0.0, np.cumsum(run)),
        run_m=run,
        rise_m=run * slope,
        height_m=np.append(0.0, np.cumsum(run * slope)),
        lon=np.zeros(steps + 1),
        lat=np.linspace(0.0, length_m / 111_000.0, steps + 1),
        surface=np.full(steps, SURFACES.index(surface), dtype=np.int8),
        lit=np.ones(steps, dtype=np.int8),
        traffic=np.zeros(steps, dtype=np.int8),
        highway=np.zeros(steps, dtype=np.int8),
        stairs=np.zeros(steps, dtype=bool),
        bridge=np.zeros(steps, dtype=bool),
        tunnel=np.zeros(steps, dtype=bool),
        delay_s=np.zeros(steps),
    )


def make_walkers(n: int = 1, **changes: float) -> Walkers:
    """Make n walkers of 80 kg, 1.78 m, 40 years, with an empty bag."""
    values = {
        "mass_kg": 80.0,
        "height_m": 1.78,
        "age_y": 40.0,
        "pace_factor": 1.0,
        "clothing_clo": 0.9,
        "bag_kg": 0.0,
        "water_ml": 0.0,
        "capacity_ml": 0.0,
        "treats_ml": 0.0,
        "food_kcal": 0.0,
        "food_kg": 0.0,
        "light_s": 0.0,
    } | changes
    columns = {name: np.full(n, value) for name, value in values.items()}
    return Walkers(male=np.ones(n, dtype=bool), party=np.arange(n), **columns)


def make_conditions(
    *,
    sun_deg: float = 45.0,
    air_c: float = 15.0,
    humidity_pct: float = 50.0,
    wind_m_s: float = 1.0,
    rain_mm_h: float = 0.0,
    radiant_w_m2: float = 0.0,
    hours: float = 72.0,
) -> Conditions:
    """Hold sun and weather still."""
    steps = int(hours * 3600.0 / CLOCK_STEP_S) + 2
    felt = float(felt_c(air_c, humidity_pct, wind_m_s))
    row = [sun_deg, air_c, humidity_pct, wind_m_s, rain_mm_h, radiant_w_m2, felt]
    return Conditions(start_epoch_s=DEPART_EPOCH_S, values=np.tile(row, (steps, 1)))


@pytest.fixture
def course() -> Callable[..., Course]:
    """Give the course maker."""
    return make_course


@pytest.fixture
def walkers() -> Callable[..., Walkers]:
    """Give the walker maker."""
    return make_walkers


@pytest.fixture
def conditions() -> Callable[..., Conditions]:
    """Give the sky maker."""
    return make_conditions
