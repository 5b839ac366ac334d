"""How cold or hot it feels, and how warm a halt must be.

Wind chill and heat index are for people in ordinary clothing and health; they are not air
temperatures. Precipitation and wet clothing are outside every standard used here and enter only as
a stated penalty (`simulator.body.assumed`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.arrays import Floats
from simulator.body.limits import Limit, floats, inside, possible, published, unchecked

# Osczevski and Bluestein 2005 (Bull Amer Meteor Soc 86:1453-1458), in use by the Canadian and US
# weather services since 2001; read.
WIND_CHILL: Final = (13.12, 0.6215, -11.37, 0.3965)
WIND_CHILL_POWER: Final = 0.16
# Canadian weather service, wind below 5 km/h; from memory.
LOW_WIND: Final = (-1.59, 0.1345, 5.0)

# Osczevski and Bluestein, Canadian weather service; from memory.
FROSTBITE: Final = (-24.5, 0.667, 4.8, 2111.0, -4.8, -1.668)

# Rothfusz 1990 (NWS Technical Attachment SR 90-23) and the algorithm of the US weather service;
# read. Degrees F and %.
ROTHFUSZ: Final = (
    -42.379,
    2.04901523,
    10.14333127,
    -0.22475541,
    -6.83783e-3,
    -5.481717e-2,
    1.22874e-3,
    8.5282e-4,
    -1.99e-6,
)
# The simple form 0.5 (T + 61 + 1.2 (T - 68) + 0.094 R), averaged with T.
MILD: Final = (0.25 * (61.0 - 1.2 * 68.0), 0.25 * 2.2 + 0.5, 0.25 * 0.094)
HEAT_FROM_F: Final = 80.0
DRY_BELOW_PCT: Final = 13.0
DRY_UP_TO_F: Final = 112.0
DAMP_ABOVE_PCT: Final = 85.0
DAMP_UP_TO_F: Final = 87.0
FREEZING_F: Final = 32.0
F_PER_C: Final = 1.8

KM_H_PER_M_S: Final = 3.6
COLDEST_C: Final = -60.0
MOST_WIND_KM_H: Final = 110.0
WIND_CHILL_UP_TO_C: Final = 10.0
WIND_CHILL_FROM_KM_H: Final = 4.8
HEAT_INDEX_FROM_C: Final = (HEAT_FROM_F - FREEZING_F) / F_PER_C

LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "osczevski_bluestein_2005": (
        Limit("air_c", COLDEST_C, WIND_CHILL_UP_TO_C, "degrees C", "upper read; printed to -50"),
        Limit(
            "wind_km_h", WIND_CHILL_FROM_KM_H, MOST_WIND_KM_H, "km/h", "lower read; printed to 100"
        ),
    ),
    "low_wind": (
        Limit("air_c", COLDEST_C, WIND_CHILL_UP_TO_C, "degrees C", "as wind chill"),
        Limit("wind_km_h", 0, 5, "km/h", "Canadian weather service, from memory"),
    ),
    "frostbite": (
        Limit("air_c", COLDEST_C, -15, "degrees C", "from memory"),
        Limit("wind_km_h", 25, MOST_WIND_KM_H, "km/h", "from memory"),
        Limit("result", 0, 15, "min", "from memory"),
    ),
    "rothfusz_1990": (
        Limit("air_c", 4.4, 44.5, "degrees C", "40 to 112 F; from memory"),
        Limit("result", -math.inf, 60, "degrees C", "printed table ends near 137 F; from memory"),
    ),
}
"""How far each source reaches; names are author and year where there is one."""


@published(LIMITS["osczevski_bluestein_2005"])
def wind_chill_c(air_c: ArrayLike, wind_km_h: ArrayLike) -> Floats:
    """Give the wind chill index.

    Osczevski and Bluestein 2005, Bull Amer Meteor Soc 86:1453-1458 (read): dry bare skin of the
    face, walking 1.34 m/s into the wind.

    Parameters
    ----------
    air_c : array_like
        Air temperature, degrees C.
    wind_km_h : array_like
        Wind at 10 m, km/h.

    Returns
    -------
    ndarray
        Felt temperature, degrees C.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(wind_chill_c(-10, 20)), 2)
    -17.86
    """
    air = floats(air_c)
    wind: Floats = floats(wind_km_h) ** WIND_CHILL_POWER
    constant, per_air, per_wind, per_both = WIND_CHILL
    return constant + per_air * air + (per_wind + per_both * air) * wind


@published(LIMITS["low_wind"])
def low_wind_chill_c(air_c: ArrayLike, wind_km_h: ArrayLike) -> Floats:
    """Give the wind chill in hardly any wind.

    Canadian weather service (from memory): from the air temperature at calm to the index at
    5 km/h in a straight line.

    Parameters
    ----------
    air_c : array_like
        Air temperature, degrees C.
    wind_km_h : array_like
        Wind at 10 m, km/h.

    Returns
    -------
    ndarray
        Felt temperature, degrees C.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(low_wind_chill_c(-10, 5)), 2)
    -12.94
    """
    air = floats(air_c)
    constant, per_air, full_wind = LOW_WIND
    return air + (constant + per_air * air) * (floats(wind_km_h) / full_wind)


@published(LIMITS["frostbite"])
def frostbite_min(air_c: ArrayLike, wind_km_h: ArrayLike) -> Floats:
    """Give the time in which bare skin freezes in the most susceptible people.

    Osczevski and Bluestein, Canadian weather service (from memory): 5 % of people freeze by then.
    Printed warning bands are stricter at the extreme (under 2 min where this says 3.5).

    Parameters
    ----------
    air_c : array_like
        Air temperature, degrees C.
    wind_km_h : array_like
        Wind at 10 m, km/h.

    Returns
    -------
    ndarray
        Minutes.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere, which is not "safe": cover the skin.

    Examples
    --------
    >>> round(float(frostbite_min(-25, 30)), 2)
    9.99
    """
    scale, per_wind, still, constant, offset, power = FROSTBITE
    wind = per_wind * floats(wind_km_h) + still
    time: Floats = (scale * wind + constant) * (offset - floats(air_c)) ** power
    return time


@published(LIMITS["rothfusz_1990"])
def heat_index_c(air_c: ArrayLike, humidity_pct: ArrayLike) -> Floats:
    """Give the heat index, as the US weather service computes it.

    Rothfusz 1990, NWS Technical Attachment SR 90-23, with the service's adjustments for dry and
    damp air and its simple form below 80 F (read). Below 80 F the simple value is averaged with
    the air temperature; the service's text can also be read as leaving that out (0.1 degree
    at most near 80 F). Where the algorithm passes to the full regression, near 80 F, it jumps by
    up to 1.6 degrees between 20 and 80 % humidity and 3.2 at 100 %. Shade and light wind; full
    sun adds up to 8 degrees (from memory).

    Parameters
    ----------
    air_c : array_like
        Air temperature, degrees C.
    humidity_pct : array_like
        Relative humidity, %.

    Returns
    -------
    ndarray
        Felt temperature, degrees C.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(heat_index_c(30, 80)), 2)
    37.67
    """
    air_f = F_PER_C * floats(air_c) + FREEZING_F
    humid = floats(humidity_pct)
    mild = MILD[0] + MILD[1] * air_f + MILD[2] * humid
    hot = mild >= HEAT_FROM_F
    if not np.any(hot):
        return (mild - FREEZING_F) / F_PER_C
    c = ROTHFUSZ
    full = (
        (c[0] + air_f * (c[1] + air_f * c[4]))
        + humid * (c[2] + air_f * (c[3] + air_f * c[6]))
        + humid * humid * (c[5] + air_f * (c[7] + air_f * c[8]))
    )
    dry = (humid < DRY_BELOW_PCT) & (air_f <= DRY_UP_TO_F)
    if np.any(dry):
        root = np.sqrt(np.maximum(17.0 - np.abs(air_f - 95.0), 0.0) / 17.0)
        full = full - np.where(dry, (DRY_BELOW_PCT - humid) / 4.0 * root, 0.0)
    damp = (humid > DAMP_ABOVE_PCT) & (air_f <= DAMP_UP_TO_F)
    if np.any(damp):
        rise = (humid - DAMP_ABOVE_PCT) / 10.0 * ((DAMP_UP_TO_F - air_f) / 5.0)
        full = full + np.where(damp, rise, 0.0)
    return (np.where(hot, full, mild) - FREEZING_F) / F_PER_C


_bare_wind_chill_c = unchecked(wind_chill_c)
_bare_low_wind_chill_c = unchecked(low_wind_chill_c)
_bare_heat_index_c = unchecked(heat_index_c)


def felt_c(air_c: ArrayLike, humidity_pct: ArrayLike, wind_m_s: ArrayLike) -> Floats:
    """Give the felt temperature: wind chill, air temperature or heat index, as they apply.

    Wind chill up to 10 degrees C, heat index from 26.7 (80 F), the air temperature between. The
    published indices do not meet the air temperature at those borders: with 30 km/h of wind the
    felt temperature jumps by 3.4 degrees at 10 degrees C, at 90 % humidity by 3.5 at 26.7.

    Parameters
    ----------
    air_c : array_like
        Air temperature, degrees C.
    humidity_pct : array_like
        Relative humidity, %.
    wind_m_s : array_like
        Wind at 10 m, m/s.

    Returns
    -------
    ndarray
        Degrees C; NaN beyond the limits of the index that applies, which is not "safe".

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> [round(float(felt_c(air, 50, 5.0)), 1) for air in (0.0, 18.0, 32.0)]
    [-4.9, 18.0, 34.4]
    """
    air, humid, wind = np.broadcast_arrays(
        possible("air_c", air_c),
        possible("humidity_pct", humidity_pct),
        KM_H_PER_M_S * possible("wind_m_s", wind_m_s),
    )
    felt: Floats = np.array(air)
    for regime, index, other in (
        (air <= WIND_CHILL_UP_TO_C, _chill_c, wind),
        (air >= HEAT_INDEX_FROM_C, _heat_c, humid),
    ):
        if np.all(regime):
            felt = index(air, other)
        elif np.any(regime):
            # Only where it applies: the indices cost far more than picking out their rows.
            rows = np.flatnonzero(regime)
            felt.reshape(-1)[rows] = index(air.reshape(-1)[rows], other.reshape(-1)[rows])
    missing = np.isnan(humid + wind)
    return np.where(missing, np.nan, felt)[()] if np.any(missing) else felt[()]


def _chill_c(air: Floats, wind: Floats) -> Floats:
    """Wind chill by the formula for the wind there is; NaN beyond its limits."""
    still = wind < LOW_WIND[2]
    chill = _bare_wind_chill_c(air, wind)
    if np.any(still):
        chill = np.where(still, _bare_low_wind_chill_c(air, wind), chill)
    known = (air >= COLDEST_C) & (wind <= MOST_WIND_KM_H)
    return chill if np.all(known) else np.where(known, chill, np.nan)


def _heat_c(air: Floats, humid: Floats) -> Floats:
    """Heat index; NaN beyond its limits."""
    heat = _bare_heat_index_c(air, humid)
    known = inside(LIMITS["rothfusz_1990"], {"air_c": air, "result": heat})
    return heat if np.all(known) else np.where(known, heat, np.nan)


@dataclass(frozen=True, slots=True)
class FeltStep:
    """A published warning band of felt temperature.

    Attributes
    ----------
    from_c : float
        Felt temperature where it begins, degrees C; hotter steps begin upward, colder downward.
    means : str
        In plain words.
    source : str
        Where it comes from, and how well that is known.
    """

    from_c: float
    means: str
    source: str


HEAT_STEPS: Final = (
    FeltStep(27.0, "caution: tired sooner", "US weather service, from memory"),
    FeltStep(32.0, "heat cramps and exhaustion possible: rest in shade", "as above"),
    FeltStep(41.0, "heat exhaustion likely, heat stroke possible: do not walk on", "as above"),
    FeltStep(54.0, "heat stroke likely: do not walk", "as above"),
)
"""Bands of the heat index, shade and light wind; full sun is up to 8 degrees worse."""

COLD_STEPS: Final = (
    FeltStep(0.0, "uncomfortable: dress in layers, keep dry", "Canadian weather service; restated"),
    FeltStep(-10.0, "cold: cover head and hands, keep moving", "as above"),
    FeltStep(-28.0, "bare skin freezes in 10 to 30 minutes", "as above"),
    FeltStep(-40.0, "bare skin freezes in 5 to 10 minutes: stay inside", "as above"),
    FeltStep(-48.0, "bare skin freezes in 2 to 5 minutes: stay inside", "as above"),
    FeltStep(-55.0, "bare skin freezes in under 2 minutes: stay inside", "as above"),
)
"""Bands of the wind chill."""
