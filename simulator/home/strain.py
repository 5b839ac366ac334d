"""What the weather and the way ask of the body, hour by hour: the same for one walk and thousands.

Wind, rain and ice are looked up every ten minutes, heat and cold in the middle of each hour at the
hour's mean metabolic rate, its rests included (ISO 7243 and common practice). Hours of a night halt
are left out: the halt is judged by itself.
"""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from simulator.body.effort import (
    CHILD_BELOW_Y,
    OLD_FROM_Y,
    OLDEST_BACKED_Y,
    capacity_w,
    is_frail,
    kept_w,
)
from simulator.body.exposure import HEAT_INDEX_FROM_C
from simulator.body.heat_stress import (
    age_less_c,
    exposure_of,
    hours_to_hot_core,
    wbgt_c,
    wbgt_limit_c,
)
from simulator.body.warmth import BODY_WIND_SHARE, HALT_W_M2
from simulator.body.water import body_area_m2
from simulator.home.warmth import Afoot, hours_of
from simulator.units import HOUR_S
from simulator.walk.conditions import CLOCK_STEP_S, SUN_ABSORBED_SHARE, weather_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions, Moment
    from simulator.walk.records import Walkers, WeatherError

ICE_FROM_C, ICE_UP_TO_C = -2.0, 1.0
"""Air in which rain freezes on the ground [degC]; common practice."""

LEAST_RAIN_MM_H = 0.1
"""Less is not felt [mm/h]; the least that gauges tell."""

CORE_ASKED_FROM_C = -1.0
"""The core temperature is worked out where the wet bulb globe temperature comes this near to its
limit, or above [K]; an assumption, on the safe side: far below it nothing heats up."""

NO_HEAT_C = -99.0
"""Told where it is too cool for the wet bulb globe temperature to matter [K]."""

HOT_CLO = 0.6
"""Most that is worn in heat [clo]: layers are taken off down to trousers and shirt (0.61 in ASHRAE
55, from memory); an assumption, 0.4 to 0.7."""

COOLEST_BACKED_C = 15.0
"""Air of the coolest hour that ISO 7933 reaches; a cooler hour counts as this [degC]."""

MILD_C, MILD_PCT = 22.0, 50.0
"""Air of hours not walked in: any in which nobody heats up [degC, %]."""


SUN_ADDS_C = 8.0
"""What full sun adds to a heat index, which is told for shade [K]: up to 15 degF, US National
Weather Service; from memory. In proportion to the sun on level ground."""

FULL_SUN_W_M2 = 1000.0


class Strain(IntEnum):
    """What is found of each walk, the rows of ``strains_of``; of its worst hour and member."""

    WIND_M_S = 0
    """Strongest mean wind, 10 m above open ground [m/s]."""
    WIND_AT_H = 1
    """When, since departure [h]."""
    RAIN_MM_H = 2
    """Heaviest rain [mm/h]."""
    RAIN_AT_H = 3
    ICE_MM = 4
    """Rain that falls in air where it freezes on the ground [mm]."""
    ICE_AT_H = 5
    SNOW_MM = 6
    """Water that falls in colder air, as snow [mm]."""
    SNOW_AT_H = 7
    WBGT_C = 8
    """Hottest wet bulb globe temperature [degC]; ``NO_HEAT_C`` where it is cool."""
    HEAT_OVER_C = 9
    """By how much it passes the limit for this effort and age [K]."""
    HEAT_AT_H = 10
    HOT_CORE_H = 11
    """When the core reaches 38 degC [h]; infinite if never, NaN beyond the standard."""
    FOOT_SHORT_CLO = 12
    """Clothes that lack on foot, all that the bag holds put on [clo]."""
    FOOT_AT_H = 13
    EFFORT = 14
    """Metabolic rate over the one that can be kept up for so long."""
    EFFORT_AT_H = 15
    LOAD_SHARE = 16
    """Heaviest bag as packed over the mass of who carries it."""
    FRAIL = 17
    """1 where a child or an old person walks along."""
    BEYOND_AGE = 18
    """1 where someone is younger or older than the published equations reach."""
    SUN_FELT_C = 19
    """Highest heat index with what full sun adds to it [degC]; ``NO_HEAT_C`` where it is cool."""
    SUN_FELT_AT_H = 20
    WET_MM = 21
    """Rain that falls on the way in all, ice and snow left out [mm]."""


def strains_of(
    conditions: Conditions,
    depart_epoch_s: NDArray[np.float64],
    walkers: Walkers,
    elapsed_s: NDArray[np.float64],
    moved_s: NDArray[np.float64],
    length_m: NDArray[np.float64] | float,
    rate_w: NDArray[np.float64],
    found: Afoot,
    *,
    members: int = 1,
    left_out: NDArray[np.bool_] | None = None,
    error: WeatherError | None = None,
) -> NDArray[np.float64]:
    """Say what each walk asks of the body at its worst."""
    begins_s, long_s = hours_of(elapsed_s)
    on_the_way = long_s > 0.0 if left_out is None else (long_s > 0.0) & ~left_out
    result = np.zeros((len(Strain), elapsed_s.size))
    _weather(result, conditions, depart_epoch_s, begins_s, on_the_way, elapsed_s, error)
    area = np.asarray(body_area_m2(walkers.mass_kg, walkers.height_m))
    sky = weather_at(conditions, depart_epoch_s + begins_s + 0.5 * long_s, error)
    rate = np.where(on_the_way, rate_w, np.nan)
    middle_h = (begins_s + 0.5 * long_s) / HOUR_S
    walk_m_s = length_m / np.maximum(moved_s, 1.0)
    _heat(result, walkers, area, sky, rate, middle_h, walk_m_s, long_s)
    _worst(result, Strain.FOOT_SHORT_CLO, Strain.FOOT_AT_H, found.lack_clo, middle_h)
    capacity = walkers.capacity_factor * capacity_w(walkers.mass_kg, walkers.age_y, walkers.male)
    kept = np.asarray(kept_w(capacity, np.maximum(moved_s, 1.0) / HOUR_S))
    # An hour that has hardly begun says nothing of what is kept up for hours.
    whole = np.where(long_s >= min(HOUR_S, float(long_s.max())) * 0.5, rate / kept, np.nan)
    _worst(result, Strain.EFFORT, Strain.EFFORT_AT_H, whole, middle_h)
    result[Strain.LOAD_SHARE] = walkers.bag_kg / walkers.mass_kg
    result[Strain.FRAIL] = is_frail(walkers.age_y)
    result[Strain.BEYOND_AGE] = (walkers.age_y < CHILD_BELOW_Y) | (walkers.age_y > OLDEST_BACKED_Y)
    return result if members == 1 else _of_parties(result, members)


def _worst(
    result: NDArray[np.float64],
    row: Strain,
    at: Strain,
    values: NDArray[np.float64],
    middle_h: NDArray[np.float64],
) -> None:
    """Keep the largest value of each walk and the hour in which it comes."""
    known = np.where(np.isnan(values), -np.inf, values)
    where = known.argmax(axis=0)
    every = np.arange(values.shape[1])
    top = known[where, every]
    result[row] = np.where(np.isfinite(top), top, 0.0)
    result[at] = np.broadcast_to(middle_h, values.shape)[where, every]


def _weather(
    result: NDArray[np.float64],
    conditions: Conditions,
    depart_epoch_s: NDArray[np.float64],
    begins_s: NDArray[np.float64],
    on_the_way: NDArray[np.bool_],
    elapsed_s: NDArray[np.float64],
    error: WeatherError | None,
) -> None:
    """Find wind, rain and ice; every ten minutes, so that no peak of an hourly file is missed."""
    an_hour = int(HOUR_S / CLOCK_STEP_S)
    after_s = (begins_s + CLOCK_STEP_S * np.arange(an_hour)).reshape(-1, 1)
    clock_s = np.minimum(after_s, np.nan_to_num(elapsed_s))
    sky = weather_at(conditions, depart_epoch_s + clock_s, error)
    walking = np.repeat(on_the_way, an_hour, axis=0) & (after_s <= np.nan_to_num(elapsed_s))
    hours = np.broadcast_to(clock_s / HOUR_S, walking.shape)
    rain = np.where(walking, sky.rain_mm_h, 0.0)
    wet = rain >= LEAST_RAIN_MM_H
    icy = wet & (sky.air_c >= ICE_FROM_C) & (sky.air_c <= ICE_UP_TO_C)
    snow = wet & (sky.air_c < ICE_FROM_C)
    liquid = np.where(sky.air_c > ICE_FROM_C, rain, 0.0)
    for row, at, values in (
        (Strain.WIND_M_S, Strain.WIND_AT_H, np.where(walking, sky.wind_m_s, 0.0)),
        (Strain.RAIN_MM_H, Strain.RAIN_AT_H, liquid),
    ):
        _worst(result, row, at, values, hours)
    result[Strain.WET_MM] = liquid.sum(axis=0) * CLOCK_STEP_S / HOUR_S
    for row, at, falling in (
        (Strain.ICE_MM, Strain.ICE_AT_H, icy),
        (Strain.SNOW_MM, Strain.SNOW_AT_H, snow),
    ):
        result[row] = (rain * falling).sum(axis=0) * CLOCK_STEP_S / HOUR_S
        result[at] = hours[falling.argmax(axis=0), np.arange(hours.shape[1])]


def _heat(
    result: NDArray[np.float64],
    walkers: Walkers,
    area_m2: NDArray[np.float64],
    sky: Moment,
    rate_w: NDArray[np.float64],
    middle_h: NDArray[np.float64],
    walk_m_s: NDArray[np.float64],
    long_s: NDArray[np.float64],
) -> None:
    """Set the heat of each hour against what the effort and the age can bear."""
    solar = sky.radiant_w_m2 / SUN_ABSORBED_SHARE
    index = np.asarray(wbgt_c(sky.air_c, sky.humidity_pct, sky.wind_m_s, solar, sky.sun_deg))
    hot_h = np.isfinite(rate_w) & (sky.air_c >= HEAT_INDEX_FROM_C)
    added = SUN_ADDS_C * np.minimum(solar / FULL_SUN_W_M2, 1.0)
    sunny = np.where(hot_h, sky.felt_c + added, np.nan)
    _worst(result, Strain.SUN_FELT_C, Strain.SUN_FELT_AT_H, sunny, middle_h)
    result[Strain.SUN_FELT_C] = np.where(hot_h.any(axis=0), result[Strain.SUN_FELT_C], NO_HEAT_C)
    result[Strain.WBGT_C] = NO_HEAT_C
    result[Strain.HEAT_OVER_C] = NO_HEAT_C
    result[Strain.HOT_CORE_H] = np.inf
    asked = np.isfinite(index) & np.isfinite(rate_w)
    if not asked.any():
        return
    less = age_less_c(walkers.age_y, child_below_y=CHILD_BELOW_Y, old_from_y=OLD_FROM_Y)
    limit = wbgt_limit_c(np.nan_to_num(rate_w), area_m2) - less
    over = np.where(asked, index - limit, np.nan)
    known = asked.any(axis=0)
    _worst(result, Strain.HEAT_OVER_C, Strain.HEAT_AT_H, over, middle_h)
    result[Strain.HEAT_OVER_C] = np.where(known, np.fmax.reduce(over), NO_HEAT_C)
    result[Strain.WBGT_C] = np.where(
        known, np.fmax.reduce(np.where(asked, index, np.nan)), NO_HEAT_C
    )
    hot = np.flatnonzero(result[Strain.HEAT_OVER_C] >= CORE_ASKED_FROM_C)
    if hot.size == 0:
        return
    afoot = np.isfinite(rate_w[:, hot])
    rate = np.where(afoot, rate_w[:, hot] / area_m2[hot], HALT_W_M2)
    # A halt, and the hours after arrival, are taken as sitting in the shade in mild air.
    exposure = exposure_of(
        np.where(afoot, np.maximum(sky.air_c[:, hot], COOLEST_BACKED_C), MILD_C),
        np.where(afoot, sky.humidity_pct[:, hot], MILD_PCT),
        BODY_WIND_SHARE * sky.wind_m_s[:, hot],
        np.where(afoot, sky.radiant_w_m2[:, hot], 0.0),
        rate,
        np.minimum(walkers.clothing_clo[hot], HOT_CLO),
        walk_m_s[hot],
    )
    reached = hours_to_hot_core(exposure)
    home_h = long_s[:, hot].sum(axis=0) / HOUR_S
    result[Strain.HOT_CORE_H, hot] = np.where(reached > home_h, np.inf, reached)


LEAST_OF = frozenset({Strain.HOT_CORE_H})
"""Rows of which the least is the worst."""

WHEN_OF = {
    Strain.WIND_AT_H: Strain.WIND_M_S,
    Strain.RAIN_AT_H: Strain.RAIN_MM_H,
    Strain.ICE_AT_H: Strain.ICE_MM,
    Strain.SNOW_AT_H: Strain.SNOW_MM,
    Strain.HEAT_AT_H: Strain.HEAT_OVER_C,
    Strain.FOOT_AT_H: Strain.FOOT_SHORT_CLO,
    Strain.EFFORT_AT_H: Strain.EFFORT,
    Strain.SUN_FELT_AT_H: Strain.SUN_FELT_C,
}
"""Rows that say when another one is at its worst."""


def _of_parties(each: NDArray[np.float64], members: int) -> NDArray[np.float64]:
    """Give the worst member of each party, and that member's hour."""
    shaped = each.reshape(len(Strain), -1, members)
    worst: NDArray[np.float64] = shaped.max(axis=2)
    for row in LEAST_OF:
        # What is unknown of one member is not told of the party while another one's is known.
        values = np.where(np.isnan(shaped[row]), np.inf, shaped[row])
        worst[row] = np.where(np.isnan(shaped[row]).all(axis=1), np.nan, values.min(axis=1))
    every = np.arange(worst.shape[1])
    for at, row in WHEN_OF.items():
        worst[at] = shaped[at][every, shaped[row].argmax(axis=1)]
    return worst
