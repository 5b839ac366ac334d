"""Heat with sun, effort and age: the wet bulb globe temperature, and the minutes to a hot core.

The wet bulb globe temperature (WBGT) is worked out from the weather after Liljegren et al. 2008 by
a kept library, and set against the reference limits of ISO 7243 for people who are not used to
heat, at the metabolic rate of the walk. The core temperature follows ISO 7933:2023 (predicted heat
strain), restated in a general-purpose comfort library; neither standard was read. Both protect
healthy people of working age: children, the old, the ill and those on some medicines are in danger
sooner (`FRAIL_LESS_C`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.arrays import Flags, Floats
from simulator.body.assumed import Assumed
from simulator.body.limits import Limit, floats, inside, possible
from simulator.body.warmth import (
    BREATH_HEAT,
    BREATH_VAPOUR,
    BREATH_VAPOUR_TERMS,
    CLOTHED,
    CLOTHING_AREA_PER_CLO,
    CONVECTION_FAST,
    CONVECTION_FAST_FROM_M_S,
    CONVECTION_SLOW,
    CORE,
    EMISSIVITY,
    EXPIRED,
    LEWIS_K_KPA,
    M2K_W_PER_CLO,
    MAGNUS,
    MOST_AIR_SPEED_M_S,
    MOST_PERMEABILITY,
    MOST_WALK_M_S,
    MOTION_PERMEABILITY,
    RADIATING_SHARE,
    SKIN,
    STATIC_PERMEABILITY,
    STEFAN_BOLTZMANN,
    STILL_AIR_M2K_W,
    THIN_CLO,
    bare_vapour_pressure_kpa,
)

KELVIN: Final = 273.15
SEA_LEVEL_HPA: Final = 1013.25
"""Pressure of the standard atmosphere; the index moves by 0.1 degree in a thousand metres."""

SOLAR_CONSTANT_W_M2: Final = 1367.0
MOST_OF_CLEAR: Final = 0.85
# Share of the sun's radiation that comes straight: Liljegren et al. 2008; from memory.
DIRECT_SHARE: Final = (3.0, -1.34, -1.65)
MOST_DIRECT: Final = 0.9
LEAST_SUN_DEG: Final = 0.5
"""The sun counts as down below half a degree: its beam would divide by nothing."""

WBGT_FROM_C: Final = 10.0
"""Coolest air for which the index is worked out; below it no limit of the standard's table can be
passed, since full sun in saturated still air lifts it by less than 10 degrees and the least limit
is 20."""

LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "liljegren_2008": (
        Limit("air_c", 0, 60, "degrees C", "assumption; validated in summer weather"),
    ),
    "iso_7933_2023": (
        Limit("air_c", 15, 50, "degrees C", "restated"),
        Limit("vapour_kpa", 0.5, 4.5, "kPa", "restated"),
        Limit("radiant_gap_c", 0, 60, "K", "restated"),
        Limit("metabolic_w_m2", 56, 250, "W/m2", "restated"),
        Limit("clothing_clo", 0.1, 1.0, "clo", "restated"),
    ),
}
"""How far each source reaches. Air faster than 3 m/s counts as 3, on the warm side."""


def direct_sun_share(solar_w_m2: ArrayLike, sun_deg: ArrayLike) -> Floats:
    """Give the share of the sun's radiation on level ground that comes straight from it.

    Liljegren et al. 2008, J Occup Environ Hyg 5:645-655 (from memory), from how near the radiation
    is to that outside the air.

    Parameters
    ----------
    solar_w_m2 : array_like
        Radiation on level ground, W/m2.
    sun_deg : array_like
        Height of the sun, degrees.

    Returns
    -------
    ndarray
        0 to 0.9.
    """
    sine = np.sin(np.radians(floats(sun_deg)))
    up = sine > math.sin(math.radians(LEAST_SUN_DEG))
    outside = SOLAR_CONSTANT_W_M2 * np.where(up, sine, 1.0)
    clear = np.clip(floats(solar_w_m2) / outside, 1e-6, MOST_OF_CLEAR)
    constant, linear, inverse = DIRECT_SHARE
    share = np.exp(constant + linear * clear + inverse / clear)
    return np.where(up, np.minimum(share, MOST_DIRECT), 0.0)[()]


def wbgt_c(
    air_c: ArrayLike,
    humidity_pct: ArrayLike,
    wind_m_s: ArrayLike,
    solar_w_m2: ArrayLike,
    sun_deg: ArrayLike,
) -> Floats:
    """Give the outdoor wet bulb globe temperature from the weather.

    Liljegren et al. 2008, J Occup Environ Hyg 5:645-655, by the library `thermofeel`: 0.7 natural
    wet bulb, 0.2 globe, 0.1 air; wind brought from 10 m down to 2 m by its own profile.

    Parameters
    ----------
    air_c, humidity_pct : array_like
        Air temperature, degrees C, and relative humidity, %.
    wind_m_s : array_like
        Wind 10 m above open ground, m/s.
    solar_w_m2 : array_like
        Sun on level ground, W/m2.
    sun_deg : array_like
        Height of the sun, degrees.

    Returns
    -------
    ndarray
        Degrees C. NaN in air cooler than 10 degrees C, where it is not asked, and above 60.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(wbgt_c(35, 40, 1.27, 900, 64.5)), 1)
    33.2
    """
    from thermofeel import calculate_wbgt_liljegren

    columns = np.broadcast_arrays(
        possible("air_c", air_c),
        possible("humidity_pct", humidity_pct),
        possible("wind_m_s", wind_m_s),
        floats(solar_w_m2),
        floats(sun_deg),
    )
    air, humid, wind, solar, height = (np.ravel(column) for column in columns)
    result = np.full(air.shape, np.nan)
    asked = (air >= WBGT_FROM_C) & (air <= LIMITS["liljegren_2008"][0].high)
    asked &= np.isfinite(humid + wind + solar + height)
    if asked.any():
        # The dew point of bone-dry air does not exist; 1 % is as dry as deserts come.
        kelvin = calculate_wbgt_liljegren(
            air[asked] + KELVIN,
            np.maximum(humid[asked], 1.0),
            np.full(int(asked.sum()), SEA_LEVEL_HPA),
            wind[asked],
            np.maximum(solar[asked], 0.0),
            np.asarray(direct_sun_share(solar[asked], height[asked])),
            np.sin(np.radians(height[asked])),
        )
        result[asked] = np.asarray(kelvin) - KELVIN
    return result.reshape(columns[0].shape)[()]


# --- ISO 7243 -------------------------------------------------------------------------------------

REFERENCE_W: Final = (115.0, 180.0, 300.0, 415.0, 520.0)
REFERENCE_NEW_C: Final = (32.0, 29.0, 26.0, 23.0, 20.0)
REFERENCE_USED_C: Final = (33.0, 30.0, 28.0, 26.0, 25.0)
"""WBGT limits of people not used to heat, and used to it, by metabolic rate: ISO 7243:2017, Table
A.1; from memory. Straight between the classes."""

STANDARD_AREA_M2: Final = 1.8
"""Body that the classes are told for; same source."""

FRAIL_LESS_C: Final = Assumed(
    1.0, 2.0, 4.0, "lower limit for children and from 65 years on; no source gives a number"
)

VERY_OLD_FROM_Y: Final = 75.0
VERY_OLD_LESS_C: Final = Assumed(
    1.0, 3.0, 5.0, "lower limit from 75 years on; heat waves kill most among them"
)


def wbgt_limit_c(
    metabolic_w: ArrayLike, area_m2: ArrayLike, *, used_to_heat: bool = False
) -> Floats:
    """Give the reference limit of the wet bulb globe temperature.

    ISO 7243:2017, Table A.1 (from memory), straight between its classes; below the lowest as there,
    beyond the highest on the line of the last two.

    Parameters
    ----------
    metabolic_w : array_like
        Mean metabolic rate of an hour, rests included, W.
    area_m2 : array_like
        Surface of the body, m2: the classes hold for 1.8 m2.
    used_to_heat : bool
        Whether the person has spent a week or more working in such heat.

    Returns
    -------
    ndarray
        Degrees C.

    Examples
    --------
    >>> float(wbgt_limit_c(300, 1.8))
    26.0
    """
    reference = REFERENCE_USED_C if used_to_heat else REFERENCE_NEW_C
    watts = possible("metabolic_w", metabolic_w) * STANDARD_AREA_M2 / floats(area_m2)
    per_w = (reference[-1] - reference[-2]) / (REFERENCE_W[-1] - REFERENCE_W[-2])
    beyond = np.maximum(watts - REFERENCE_W[-1], 0.0)
    return (np.interp(watts, REFERENCE_W, reference) + per_w * beyond)[()]


def age_less_c(age_y: ArrayLike, *, child_below_y: float, old_from_y: float) -> Floats:
    """Give how much lower the limit is for the young and the old.

    Parameters
    ----------
    age_y : array_like
        Age, years.
    child_below_y, old_from_y : float
        Ages between which nothing is taken off.

    Returns
    -------
    ndarray
        K; assumptions, see `FRAIL_LESS_C` and `VERY_OLD_LESS_C`.
    """
    age = floats(age_y)
    frail = (age < child_below_y) | (age >= old_from_y)
    less = np.where(frail, FRAIL_LESS_C.middle, 0.0)
    return np.where(age >= VERY_OLD_FROM_Y, VERY_OLD_LESS_C.middle, less)[()]


# --- ISO 7933 -------------------------------------------------------------------------------------

CORE_LIMIT_C: Final = 38.0
"""Rectal temperature that the standard lets nobody pass; restated."""

# ISO 7933:2023, restated. Skin of the unclothed: constant, per air, radiant, kPa, m/s, rectal.
BARE_SKIN: Final = (7.191, 0.064, 0.061, 0.198, -0.348, 0.616)
BARE_UP_TO_CLO: Final = 0.2
STILL_AIR_MOTION: Final = (0.047, -0.472, 0.117, -0.342)
COVERED_SHARE: Final = 0.54
REFLECTING: Final = 0.42  # of the covering, plain cloth
BODY_MASS_KG: Final = 75.0
BODY_AREA_M2: Final = 0.202 * 75.0**0.425 * 1.8**0.725
MOST_SWEAT_W_M2: Final = 400.0  # not used to heat
MOST_WET_SHARE: Final = 0.85  # not used to heat
SWEAT_AT_ONCE: Final = 1.7
LEAST_EFFICIENCY: Final = 0.05
MET_W_M2: Final = 58.15
FIRST_SKIN_C: Final = 34.1
FIRST_CORE_C: Final = 36.8
SKIN_SHARE: Final = (0.3, 0.09, 0.1)
RECTAL: Final = (2.0, -1.962, -1.31, 9.0)
KEEP_CORE: Final = math.exp(-1 / 10)
KEEP_SKIN: Final = math.exp(-1 / 3)
KEEP_SWEAT: Final = math.exp(-1 / 10)
WHOLLY_WET_BELOW: Final = 0.5  # what can evaporate over the sweat: below it the skin is all wet
ROUNDS: Final = 12
"""Rounds of the two inner balances; each halves the error, which ends below 0.001 K."""


@dataclass(frozen=True, slots=True)
class HeatExposure:
    """What one or more bodies are in, hour by hour; every field has shape (H, n).

    Attributes
    ----------
    air_c, radiant_c : ndarray
        Air and mean radiant temperature [degC].
    vapour_kpa : ndarray
        Vapour pressure [kPa].
    air_speed_m_s, walk_m_s : ndarray
        Speed of the air past the body, walking included, and of the walk [m/s].
    metabolic_w_m2 : ndarray
        Metabolic rate [W/m2].
    clothing_clo : ndarray
        Insulation worn [clo].
    """

    air_c: Floats
    radiant_c: Floats
    vapour_kpa: Floats
    air_speed_m_s: Floats
    walk_m_s: Floats
    metabolic_w_m2: Floats
    clothing_clo: Floats


def radiant_c(air_c: ArrayLike, absorbed_w_m2: ArrayLike) -> Floats:
    """Give the mean radiant temperature that stands for sun taken up by the body.

    The temperature of surroundings that would radiate so much more than the air does.

    Parameters
    ----------
    air_c : array_like
        Air temperature, degrees C.
    absorbed_w_m2 : array_like
        Sun taken up, W per m2 of skin.

    Returns
    -------
    ndarray
        Degrees C.

    Examples
    --------
    >>> round(float(radiant_c(35.0, 120.0)))
    57
    """
    air_k = floats(air_c) + KELVIN
    gain = np.maximum(floats(absorbed_w_m2), 0.0) / (
        EMISSIVITY * RADIATING_SHARE * STEFAN_BOLTZMANN
    )
    return ((air_k**4 + gain) ** 0.25 - KELVIN)[()]


def hours_to_hot_core(
    exposure: HeatExposure, *, step_h: float = 1.0, limit_c: float = CORE_LIMIT_C
) -> Floats:
    """Give after how many hours the core of bodies in changing weather is too hot.

    ISO 7933:2023 minute by minute (restated), standing posture, drinking freely, not used to heat,
    for the standard's body of 75 kg and 1.8 m.

    Parameters
    ----------
    exposure : HeatExposure
        H spans, one after the other.
    step_h : float
        Length of each span, h.
    limit_c : float
        Rectal temperature that is too hot, degrees C.

    Returns
    -------
    (n,) ndarray
        h; infinite when it is not reached, NaN when the exposure leaves the standard's limits in a
        span before that.
    """
    spans, count = exposure.air_c.shape
    body = _Body(count)
    found = np.full(count, np.inf)
    unknown = np.zeros(count, dtype=bool)
    minutes = round(60.0 * step_h)
    for hour in range(spans):
        span = _Span(exposure, hour)
        unknown |= ~span.inside & np.isinf(found)
        if (unknown | np.isfinite(found)).all():
            break  # nothing that follows changes what is found
        for minute in range(minutes):
            body.minute(span, first=hour == 0 and minute == 0)
            now = (body.rectal_c >= limit_c) & np.isinf(found)
            found[now] = hour * step_h + (minute + 1) / 60.0
    return np.where(unknown, np.nan, found)


class _Span:
    """What stays the same through one span."""

    def __init__(self, exposure: HeatExposure, hour: int) -> None:
        self.air = air = exposure.air_c[hour]
        self.vapour = vapour = exposure.vapour_kpa[hour]
        self.met = met = exposure.metabolic_w_m2[hour]
        clo = exposure.clothing_clo[hour]
        self.radiant = radiant = exposure.radiant_c[hour]
        self.inside: Flags = np.asarray(
            inside(
                LIMITS["iso_7933_2023"],
                {
                    "air_c": air,
                    "vapour_kpa": vapour,
                    "radiant_gap_c": radiant - air,
                    "metabolic_w_m2": met,
                    "clothing_clo": clo,
                },
            )
        )
        speed = exposure.air_speed_m_s[hour]
        walk = np.minimum(exposure.walk_m_s[hour], MOST_WALK_M_S)
        slow = np.minimum(speed, MOST_AIR_SPEED_M_S)
        self.area = area = 1.0 + CLOTHING_AREA_PER_CLO * clo
        scale, air_2, air_1, walk_2, walk_1 = CLOTHED
        clothed = np.minimum(
            scale * np.exp((air_2 * slow + air_1) * slow + (walk_2 * walk + walk_1) * walk), 1.0
        )
        air_2, air_1, walk_2, walk_1 = STILL_AIR_MOTION
        bare = np.minimum(
            np.exp((air_2 * speed + air_1) * speed + (walk_2 * walk + walk_1) * walk), 1.0
        )
        motion = np.where(
            clo <= THIN_CLO, ((THIN_CLO - clo) * bare + clo * clothed) / THIN_CLO, clothed
        )
        total = (clo * M2K_W_PER_CLO + STILL_AIR_M2K_W / area) * motion
        self.clothing = total - bare * STILL_AIR_M2K_W / area
        square, linear, constant = MOTION_PERMEABILITY
        raised = STATIC_PERMEABILITY * ((square * motion + linear) * motion + constant)
        self.vapour_resistance = total / np.minimum(raised, MOST_PERMEABILITY) / LEWIS_K_KPA
        expired = EXPIRED[0] + EXPIRED[1] * air + EXPIRED[2] * vapour
        breath = BREATH_HEAT * met * (expired - air)
        constant, per_air, per_kpa = BREATH_VAPOUR_TERMS
        breath = breath + BREATH_VAPOUR * met * (constant + per_air * air + per_kpa * vapour)
        self.made = met - breath
        first, per = CONVECTION_SLOW
        fast, power = CONVECTION_FAST
        forced = np.where(
            speed > CONVECTION_FAST_FROM_M_S, fast * speed**power, first + per * speed
        )
        self.convection = np.maximum(2.38 * np.abs(radiant + 0.1 - air) ** 0.25, forced)
        covered = (1.0 - COVERED_SHARE) * EMISSIVITY + COVERED_SHARE * (1.0 - REFLECTING)
        self.radiating = covered * RADIATING_SHARE * STEFAN_BOLTZMANN
        self.core_aim = CORE[0] + CORE[1] * met
        self.clothed_skin = (
            SKIN[0]
            + SKIN[1] * air
            + SKIN[2] * radiant
            + SKIN[3] * vapour
            + SKIN[4] * speed
            + SKIN[5] * met
        )
        self.bare_skin = (
            BARE_SKIN[0]
            + BARE_SKIN[1] * air
            + BARE_SKIN[2] * radiant
            + BARE_SKIN[3] * vapour
            + BARE_SKIN[4] * speed
        )
        self.clothed_share = np.clip((clo - BARE_UP_TO_CLO) / (THIN_CLO - BARE_UP_TO_CLO), 0.0, 1.0)


class _Body:
    """Temperatures and sweat of n bodies."""

    def __init__(self, count: int) -> None:
        self.skin_c = np.full(count, FIRST_SKIN_C)
        self.core_c = np.full(count, FIRST_CORE_C)
        self.rectal_c = np.full(count, FIRST_CORE_C)
        self.aim_c = np.full(count, FIRST_CORE_C)
        self.skin_share = np.full(count, SKIN_SHARE[0])
        self.sweat_w_m2 = np.zeros(count)

    def minute(self, span: _Span, *, first: bool) -> None:
        """Let a minute pass."""
        heat = MET_W_M2 * BODY_MASS_KG / BODY_AREA_M2
        aim = self.aim_c * KEEP_CORE + span.core_aim * (1.0 - KEEP_CORE)
        stored = heat * (aim - self.aim_c) * (1.0 - self.skin_share)
        clothed = span.clothed_skin + SKIN[6] * self.rectal_c
        bare = span.bare_skin + BARE_SKIN[5] * self.rectal_c
        wanted = bare + span.clothed_share * (clothed - bare)
        skin = wanted if first else self.skin_c * KEEP_SKIN + wanted * (1.0 - KEEP_SKIN)
        convected, radiated = _dry_w_m2(span, skin)
        scale, rise, offset = MAGNUS
        most = (scale * np.exp(rise * skin / (skin + offset)) - span.vapour) / (
            span.vapour_resistance
        )
        required = span.made - stored - convected - radiated
        self._sweat(required, most)
        evaporated = self._evaporated(most)
        storage = np.maximum(required, 0.0) - evaporated + stored
        start, slope, least = SKIN_SHARE
        core = self.core_c
        for _ in range(ROUNDS):
            share = np.minimum(np.maximum(start - slope * (core - FIRST_CORE_C), least), start)
            found = storage / heat + self.skin_c * self.skin_share / 2.0 - skin * share / 2.0
            found = (found + self.core_c * (1.0 - self.skin_share / 2.0)) / (1.0 - share / 2.0)
            core = (core + found) / 2.0
        per_core, per_rectal, constant, divisor = RECTAL
        self.rectal_c = (
            self.rectal_c + (per_core * found + per_rectal * self.rectal_c + constant) / divisor
        )
        self.skin_c, self.core_c, self.aim_c, self.skin_share = skin, found, aim, share

    def _sweat(self, required: Floats, most: Floats) -> None:
        """Follow the sweat that is asked for."""
        wet = required / np.where(most > 0.0, most, 1.0)
        efficiency = np.where(wet > 1.0, (2.0 - wet) ** 2 / 2.0, 1.0 - wet * wet / 2.0)
        asked = np.minimum(required / np.maximum(efficiency, LEAST_EFFICIENCY), MOST_SWEAT_W_M2)
        asked = np.where((most <= 0.0) | (wet >= SWEAT_AT_ONCE), MOST_SWEAT_W_M2, asked)
        asked = np.where(required <= 0.0, 0.0, asked)
        self.sweat_w_m2 = self.sweat_w_m2 * KEEP_SWEAT + asked * (1.0 - KEEP_SWEAT)

    def _evaporated(self, most: Floats) -> Floats:
        """Give what of it evaporates."""
        can = np.maximum(most, 0.0)
        ratio = can / np.maximum(self.sweat_w_m2, 1e-6)
        wet = np.where(ratio >= WHOLLY_WET_BELOW, np.sqrt(ratio * ratio + 2.0) - ratio, 1.0)
        share = np.minimum(wet, MOST_WET_SHARE) * can
        return np.where(self.sweat_w_m2 > 0.0, share, 0.0)


def _dry_w_m2(span: _Span, skin: Floats) -> tuple[Floats, Floats]:
    """Give what convection and radiation take from the clothes, by their own temperature."""
    outer = span.radiant + 0.1
    around = (span.radiant + 273.0) ** 2
    convecting, given = span.area * span.convection, span.area * span.radiant
    through = 1.0 / span.clothing
    taken, open_to = convecting * span.air + skin * through, convecting + through
    for _ in range(ROUNDS):
        kelvin = outer + 273.0
        radiating = span.radiating * (kelvin * kelvin + around) * (outer + span.radiant + 546.0)
        wanted = (taken + radiating * given) / (open_to + radiating * span.area)
        outer = (outer + wanted) / 2.0
    return (
        span.area * span.convection * (wanted - span.air),
        span.area * radiating * (wanted - span.radiant),
    )


def exposure_of(
    air_c: ArrayLike,
    humidity_pct: ArrayLike,
    air_speed_m_s: ArrayLike,
    absorbed_w_m2: ArrayLike,
    metabolic_w_m2: ArrayLike,
    clothing_clo: ArrayLike,
    walk_m_s: ArrayLike,
) -> HeatExposure:
    """Put weather and effort into the form that the core temperature is worked out from.

    Parameters
    ----------
    air_c, humidity_pct : array_like
        Air temperature, degrees C, and relative humidity, %.
    air_speed_m_s, walk_m_s : array_like
        Speed of the air past the body and of the walk, m/s.
    absorbed_w_m2 : array_like
        Sun taken up, W per m2 of skin.
    metabolic_w_m2 : array_like
        Metabolic rate, W per m2 of skin.
    clothing_clo : array_like
        Insulation worn, clo.

    Returns
    -------
    HeatExposure
        Of the broadcast shape (H, n).
    """
    air, humid, speed, sun, met, clo, walk = np.broadcast_arrays(
        *map(
            floats,
            (
                air_c,
                humidity_pct,
                air_speed_m_s,
                absorbed_w_m2,
                metabolic_w_m2,
                clothing_clo,
                walk_m_s,
            ),
        )
    )
    return HeatExposure(
        air_c=air,
        radiant_c=np.asarray(radiant_c(air, sun)),
        vapour_kpa=bare_vapour_pressure_kpa(air, humid),
        air_speed_m_s=np.minimum(np.maximum(speed, walk), MOST_AIR_SPEED_M_S),
        walk_m_s=walk,
        metabolic_w_m2=met,
        clothing_clo=clo,
    )
