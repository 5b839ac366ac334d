"""What walking costs per second inside the engine: the body's own formulas without their checks.

The engine proves once, at its door, that walkers and weather are possible; then the bare formulas
give the same numbers as the checked ones, to the bit, in a fraction of the time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.body import energy, pace, water
from simulator.body.energy import LCDA_STANDING_W_KG, lcda_w_kg
from simulator.body.limits import possible, unchecked
from simulator.body.warmth import body_air_speed_m_s, heat_terms, vapour_pressure_kpa
from simulator.body.water import (
    cool_terms,
    sweat_band_g_m2_h,
    sweat_between_g_m2_h,
    sweat_middle_g_m2_h,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions, Moment
    from simulator.walk.records import Walkers

STEEPEST_SLOPE = 0.45
"""Steepest ground Minetti et al. 2002 measured; steeper steps count as this steep and are flagged
(rise over run)."""

LIGHTEST_LIMITS = {
    limit.quantity: limit
    for limit in energy.WALKING_LIMITS["lcda"]
    if limit.quantity in {"speed_m_s", "slope", "load_kg / mass_kg"}
}
"""Bounds within which the graded walking equation needs no check of its own."""

_vapour_kpa = unchecked(vapour_pressure_kpa)
_air_speed_m_s = unchecked(body_air_speed_m_s)
_breath_g_h = unchecked(water.respiratory_g_h)
_urine_g_h = unchecked(water.urine_g_h)
_lcda_w_kg = unchecked(lcda_w_kg)
_load_factor = unchecked(pace.load_factor)


def refuse_impossible(walkers: Walkers, conditions: Conditions) -> None:
    """Refuse what no body or weather can be, once for the whole walk."""
    for name in ("mass_kg", "height_m", "age_y", "clothing_clo"):
        possible(name, getattr(walkers, name))
    possible("pace_factor", walkers.pace_factor, "factor")
    possible("bag_kg", walkers.bag_kg, "load_kg")
    for name in ("water_ml", "capacity_ml", "treats_ml"):
        possible(name, getattr(walkers, name), "drunk_ml")
    sky = dict(zip(MOMENT_COLUMNS, conditions.values.T, strict=True))
    for name in ("air_c", "humidity_pct", "wind_m_s", "radiant_w_m2"):
        possible(name, sky[name])


MOMENT_COLUMNS = (
    "sun_deg",
    "air_c",
    "humidity_pct",
    "wind_m_s",
    "rain_mm_h",
    "radiant_w_m2",
    "felt_c",
)
"""Columns of ``Conditions.values``."""


def most_load_share(walkers: Walkers) -> float:
    """Largest load over body mass that anyone can come to, bottles full; NaN when not known."""
    more_kg = np.maximum(walkers.capacity_ml - walkers.water_ml, 0.0) / 1000.0
    return float(((walkers.bag_kg + more_kg) / walkers.mass_kg).max())


def load_factor(
    mass_kg: NDArray[np.float64], load_kg: NDArray[np.float64], *, light: bool
) -> NDArray[np.float64]:
    """Give the share of speed kept under the load, without checks where the load is light."""
    return _load_factor(mass_kg, load_kg) if light else pace.load_factor(mass_kg, load_kg)


def walking_w(
    mass_kg: NDArray[np.float64],
    load_kg: NDArray[np.float64],
    speed_m_s: NDArray[np.float64],
    slope: NDArray[np.float64] | float,
    terrain: NDArray[np.float64] | float,
    *,
    model: str,
    light: bool,
) -> tuple[NDArray[np.float64], NDArray[np.bool_] | bool]:
    """Give the metabolic rate of steps, and of each whether anything stands in for the equation."""
    if model == "lcda" and light:
        slopes, speeds = LIGHTEST_LIMITS["slope"], LIGHTEST_LIMITS["speed_m_s"]
        if _within(slope, slopes.low, slopes.high) and speed_m_s.max() <= speeds.high:
            walking = _lcda_w_kg(speed_m_s, slope) - LCDA_STANDING_W_KG
            return (mass_kg + load_kg) * (LCDA_STANDING_W_KG + terrain * walking), False
    power = np.asarray(energy.walking_w(mass_kg, load_kg, speed_m_s, slope, terrain, model=model))
    outside = np.isnan(power)
    if not outside.any():
        return power, False
    bounded = np.clip(slope, -STEEPEST_SLOPE, STEEPEST_SLOPE)
    steep = energy.walking_w(mass_kg, load_kg, speed_m_s, bounded, terrain, model="minetti")
    heavy = energy.heavy_walking_w(mass_kg, load_kg, speed_m_s, slope, terrain, model=model)
    return np.where(outside, np.where(np.isnan(heavy), steep, heavy), power), np.asarray(
        outside.any(axis=-1)
    )


def _within(values: NDArray[np.float64] | float, low: float, high: float) -> bool:
    if isinstance(values, float):
        return low <= values <= high
    return bool(values.min() >= low and values.max() <= high)


def water_loss_g_h(
    power_w: NDArray[np.float64],
    area_m2: NDArray[np.float64],
    moment: Moment,
    clothing_clo: NDArray[np.float64],
    *,
    skin_g_h: NDArray[np.float64],
    body_mass_loss_pct: NDArray[np.float64],
    walk_m_s: NDArray[np.float64],
    sheltered: bool,
    sweat: NDArray[np.float64] | None,
    sweat_factor: NDArray[np.float64] | None,
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Give the water lost in an hour, (n,) or (E, n), and whether the equation is backed, (E,)."""
    still = np.zeros_like(power_w) if sheltered else None
    vapour = _vapour_kpa(moment.air_c, moment.humidity_pct)
    wind = moment.wind_m_s if still is None else still
    air_speed = _air_speed_m_s(wind, walk_m_s)
    rate = power_w / area_m2
    around = (air_speed, moment.radiant_w_m2 if still is None else still, clothing_clo, walk_m_s)
    terms = heat_terms(rate, moment.air_c, vapour, *around)
    if sweat is None:
        rate_g_m2_h = sweat_middle_g_m2_h(terms, rate)
    else:
        cool = cool_terms(terms, rate, moment.air_c, moment.humidity_pct, *around)
        rate_g_m2_h = sweat_between_g_m2_h(sweat_band_g_m2_h(terms, cool, rate), sweat)
    sweat_g_h = rate_g_m2_h * area_m2
    if sweat_factor is not None:
        sweat_g_h = sweat_g_h * sweat_factor
    breath = _breath_g_h(power_w, moment.air_c, moment.humidity_pct)
    total = sweat_g_h + breath + skin_g_h + _urine_g_h(body_mass_loss_pct)
    quantities = {
        "air_c": moment.air_c,
        "vapour pressure": vapour,
        "air speed at the body": air_speed,
        "metabolic rate": rate,
        "clothing_clo": clothing_clo,
    }
    backed = np.ones(power_w.shape[:-1], dtype=bool)
    for limit in water.LIMITS["water_loss"]:
        value = quantities[limit.quantity]
        if not (value.min() >= limit.low and value.max() <= limit.high):
            if not backed.ndim:
                return total, np.zeros((), dtype=bool)
            inside = (value >= limit.low) & (value <= limit.high)
            backed &= np.broadcast_to(inside, power_w.shape).all(axis=-1)
    return total, backed
