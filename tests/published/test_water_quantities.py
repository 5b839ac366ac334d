"""Totals of a walk against the quantities that handbooks plan with.

- Institute of Medicine 2005, Dietary Reference Intakes for Water: adequate intake of total water
  3.7 L a day for men, 2.7 L for women, temperate and not exercising.
- The Sphere Handbook 2011, water supply: survival needs, drinking and food, 2.5 to 3 L a person
  and day, by climate and physiology (restated).
- FEMA/Ready.gov and Red Cross: a US gallon (3.785 L) a person and day, half of it to drink; needs
  can double in great heat (restated).
- TB MED 507 / NAVMED P-5052-5: easy work (walking at 2.5 mph, under 30 lb) half a quart to a quart
  an hour by heat, at most 1.5 quarts an hour and 12 quarts a day (restated by several military
  sites).

These are planning figures, not predictions: the totals must lie in their frame, no closer.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulator.body import water
from simulator.walk.records import Total
from tests.walk.conftest import make_course, make_walkers
from tests.walk.test_engine import BARE, walk

SPHERE_SURVIVAL_L = (2.5, 3.0)
READY_DRINKING_L = 3.785411784 / 2.0
ADEQUATE_MEN_L, ADEQUATE_WOMEN_L = 3.7, 2.7
QUART_ML = 946.352946
WAYS_KM = 25.0


def resting_ml_h(mass_kg: float, height_m: float, *, air_c: float) -> float:
    """Loss of someone at rest in the shade, by the hour."""
    area = water.body_area_m2(mass_kg, height_m)
    loss = water.water_loss_g_h(80.0, area, air_c, 50.0, 0.5, 0.0, 0.6)
    return float(loss.total_g_h)


def walking(air_c: float) -> tuple[float, float]:
    """Litres needed on 25 km and hours they take, with 5 kg and all the water one wants."""
    plenty = make_walkers(water_ml=20_000.0, capacity_ml=20_000.0, bag_kg=25.0)
    manner = replace(BARE, load=False)
    sky = {"air_c": air_c, "humidity_pct": 50.0}
    total = walk(make_course(1000.0 * WAYS_KM), plenty, manner=manner, sky=sky).totals[:, 0]
    return float(total[Total.LOST_ML]) / 1000.0, float(total[Total.CLOCK_S]) / 3600.0


@pytest.mark.parametrize("air_c", [5.0, 10.0, 15.0, 20.0])
def test_a_day_at_rest_lies_between_the_drinking_part_and_the_adequate_intake(
    air_c: float,
) -> None:
    for mass_kg, height_m, most_l in ((80, 1.78, ADEQUATE_MEN_L), (60, 1.65, ADEQUATE_WOMEN_L)):
        day_l = 24.0 * resting_ml_h(mass_kg, height_m, air_c=air_c) / 1000.0
        assert 0.5 * READY_DRINKING_L < day_l < most_l


def test_a_mild_day_with_the_walk_needs_more_than_survival_and_less_than_double_the_gallon() -> (
    None
):
    need_l, hours = walking(15.0)
    day_l = need_l + (24.0 - hours) * resting_ml_h(80, 1.78, air_c=15.0) / 1000.0
    assert day_l > READY_DRINKING_L
    assert SPHERE_SURVIVAL_L[0] * 0.9 < day_l < 2.0 * 2.0 * READY_DRINKING_L


def test_great_heat_can_double_the_need_of_a_mild_day_and_stays_under_the_daily_cap() -> None:
    mild_l, _ = walking(15.0)
    hot_l, hours = walking(35.0)
    assert hot_l > 2.0 * mild_l
    assert hot_l * 1000.0 < 12.0 * QUART_ML
    # By the hour within the table's half quart to quart, give or take its quarter quart.
    assert 0.25 * QUART_ML < 1000.0 * hot_l / hours < 1.25 * QUART_ML
    assert 1000.0 * hot_l / hours < 1.5 * QUART_ML


@pytest.mark.parametrize("air_c", [-5.0, 5.0, 15.0, 25.0, 35.0])
def test_half_a_litre_is_gone_within_hours_and_a_gallon_is_enough_for_any_mild_walk(
    air_c: float,
) -> None:
    need_l, hours = walking(air_c)
    per_hour = need_l / hours
    assert np.isfinite(per_hour)
    assert 0.5 / per_hour < 8.0
    if air_c <= 15.0:
        assert need_l < 2.0 * READY_DRINKING_L
    if air_c >= 25.0:
        assert 0.5 / per_hour < 2.5
