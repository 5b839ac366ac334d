"""How much one sweats in any weather: the published equations put together into a band.

They agree in the heat and disagree by far in cool weather, and none of them was made below 15
degrees C. The band runs from the lowest to the highest of them; the walk uses its middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from simulator.body.heat import HeatTerms, bare_vapour_pressure_kpa, heat_terms
from simulator.body.limits import Floats, unchecked
from simulator.body.sweat import (
    COOL_BELOW_C,
    EMAX_RANGE_W_M2,
    GONZALEZ_COOL_FLOOR_G_M2_H,
    GONZALEZ_FLOOR_G_M2_H,
    MOST_SWEAT_G_M2_H,
    SWEAT_G_PER_WH,
    bare_piecewise_g_m2_h,
    gonzalez_2009_osec_g_m2_h,
    iso_7933_g_m2_h,
)

_corrected_g_m2_h = unchecked(gonzalez_2009_osec_g_m2_h)
_iso_7933_g_m2_h = unchecked(iso_7933_g_m2_h)


@dataclass(frozen=True, slots=True)
class SweatBand:
    """What the sweat equations say together, g per m2 and hour.

    Attributes
    ----------
    low : ndarray
        ISO 7933, or the mean of the two equations of Gonzalez et al. 2009 where that is lower.
    middle : ndarray
        That mean. In cool wind the piecewise one falls to nothing and the corrected one stays at
        its floor. Where ISO 7933 is higher, ISO 7933, as far as one of the two is as high.
    high : ndarray
        The highest of all but Shapiro's, which its own authors' successors found too high.
    """

    low: Floats
    middle: Floats
    high: Floats


NO_SWEAT_BELOW_W_M2: Final = -100.0
"""Assumption. Two of the equations never come below 147 and 350 g/m2/h, however cold. Where the
body would cool without any evaporation, that constant is faded out, to nothing where it would
cool by 100 W/m2; range -50 to -200."""

REST_W_M2: Final = 65.0
WORK_W_M2: Final = 100.0
"""Assumption: the floors of the corrected and of the cool equation come of people who march (their
sweat at rest was not read), and nobody at rest sweats 147 g/m2/h in a cool room. So up to the
metabolic rate of rest they do not count, and count in full from that of light work on: classes 0
and 1 of ISO 8996 (from memory). Walking is 150 and more."""

SURELY: Final = 1.001
"""Room for rounding where a bound is asked instead of every walker."""


def sweat_middle_g_m2_h(terms: HeatTerms, metabolic_w_m2: Floats) -> Floats:
    """Give the middle of the band, unchecked and for any weather.

    Parameters
    ----------
    terms : HeatTerms
        The heat balance; what can evaporate is held within 20 to 525 W/m2, the range of the
        equations.
    metabolic_w_m2 : ndarray
        Metabolic rate, W per m2 of skin.

    Returns
    -------
    ndarray
        g per m2 and hour. It rises with what is required and falls with what can evaporate. At
        rest the piecewise equation counts alone where it is the lower one (`REST_W_M2`).
    """
    required, most = terms.required_w_m2, terms.most_w_m2
    fitted_most = np.clip(most, *EMAX_RANGE_W_M2)
    piecewise = bare_piecewise_g_m2_h(required, fitted_most)
    corrected = _active(required, fitted_most, piecewise, metabolic_w_m2)
    mean = (piecewise + corrected) / 2
    if _standard_is_lower(required, most, mean):
        return np.minimum(mean, MOST_SWEAT_G_M2_H)
    iso = _iso_7933_g_m2_h(required, np.maximum(terms.most_moving_w_m2, 1.0))
    return _middle(mean, iso, piecewise, corrected)


def _standard_is_lower(required: Floats, most: Floats, mean: Floats) -> bool:
    """Whether ISO 7933 is surely below the mean for everyone, so that it need not be asked.

    Motion only raises what can evaporate, so the wettedness is at most that of standing clothes;
    up to a wettedness of one the efficiency is at least that of the wettest.
    """
    hardest, least = required.max(initial=-np.inf), most.min(initial=np.inf)
    if hardest <= 0.0:
        return True
    if not least >= hardest:
        return False
    efficiency = 1.0 - 0.5 * (hardest / least) ** 2
    return bool(SURELY * SWEAT_G_PER_WH * hardest / efficiency <= mean.min())


def _middle(mean: Floats, iso: Floats, piecewise: Floats, corrected: Floats) -> Floats:
    confirmed = np.minimum(iso, np.maximum(piecewise, corrected))
    return np.minimum(np.maximum(mean, confirmed), MOST_SWEAT_G_M2_H)


def _awake(required: Floats) -> Floats:
    return np.clip(1.0 - required / NO_SWEAT_BELOW_W_M2, 0.0, 1.0)


def _working(metabolic_w_m2: Floats) -> Floats:
    return np.clip((metabolic_w_m2 - REST_W_M2) / (WORK_W_M2 - REST_W_M2), 0.0, 1.0)


def _active(
    required: Floats, fitted_most: Floats, piecewise: Floats, metabolic_w_m2: Floats
) -> Floats:
    """Give the corrected equation, at rest no more than the piecewise one."""
    corrected = _awake(required) * _corrected_g_m2_h(np.maximum(required, 0.0), fitted_most)
    if np.all(metabolic_w_m2 >= WORK_W_M2):
        return corrected
    working = _working(metabolic_w_m2)
    rate: Floats = working * corrected + (1.0 - working) * np.minimum(corrected, piecewise)
    return rate


def sweat_band_g_m2_h(terms: HeatTerms, cool: HeatTerms, metabolic_w_m2: Floats) -> SweatBand:
    """Give low, middle and high of the sweat rate, unchecked and for any weather.

    Above 20 degrees C the cool equation was not made. It is 203 g/m2/h above the piecewise one,
    and dropping it there would let the high end fall as it gets warmer. So (an assumption) the
    high end stays at what it is at 20 degrees C until the other equations overtake it.

    Parameters
    ----------
    terms : HeatTerms
        The heat balance; what can evaporate is held within 20 to 525 W/m2, the range of the
        equations.
    cool : HeatTerms
        The same in air no warmer than `COOL_BELOW_C`, see `cool_terms`.
    metabolic_w_m2 : ndarray
        Metabolic rate, W per m2 of skin.

    Returns
    -------
    SweatBand
        Bounded everywhere; whether the sources reach is the caller's to say.
    """
    required, fitted_most = terms.required_w_m2, np.clip(terms.most_w_m2, *EMAX_RANGE_W_M2)
    iso = _iso_7933_g_m2_h(required, np.maximum(terms.most_moving_w_m2, 1.0))
    piecewise = bare_piecewise_g_m2_h(required, fitted_most)
    corrected = _active(required, fitted_most, piecewise, metabolic_w_m2)
    mean = (piecewise + corrected) / 2
    middle = _middle(mean, iso, piecewise, corrected)

    counts = _working(metabolic_w_m2) * _awake(cool.required_w_m2)
    in_the_cool = bare_piecewise_g_m2_h(
        cool.required_w_m2,
        np.clip(cool.most_w_m2, *EMAX_RANGE_W_M2),
        GONZALEZ_FLOOR_G_M2_H + counts * (GONZALEZ_COOL_FLOOR_G_M2_H - GONZALEZ_FLOOR_G_M2_H),
    )
    high = np.maximum(np.maximum(iso, piecewise), np.maximum(corrected, in_the_cool))
    return SweatBand(
        low=np.minimum(iso, np.minimum(mean, MOST_SWEAT_G_M2_H)),
        middle=middle,
        high=np.minimum(high, MOST_SWEAT_G_M2_H),
    )


def cool_terms(
    terms: HeatTerms,
    metabolic_w_m2: Floats,
    air_c: Floats,
    humidity_pct: Floats,
    air_speed_m_s: Floats,
    radiant_w_m2: Floats,
    clothing_clo: Floats,
    walk_m_s: Floats,
) -> HeatTerms:
    """Give the heat balance in air no warmer than the cool equation was made for.

    Parameters
    ----------
    terms : HeatTerms
        The heat balance as it is; given back where no air is warmer.
    metabolic_w_m2 : ndarray
        Metabolic rate, W per m2 of skin.
    air_c, humidity_pct : ndarray
        Air temperature, degrees C, and its relative humidity, %.
    air_speed_m_s, radiant_w_m2, clothing_clo, walk_m_s : ndarray
        As for `simulator.body.heat.heat_terms`.

    Returns
    -------
    HeatTerms
        At the same relative humidity, wind and sun.
    """
    if np.all(air_c <= COOL_BELOW_C):
        return terms
    cool_c = np.minimum(air_c, COOL_BELOW_C)
    vapour_kpa = bare_vapour_pressure_kpa(cool_c, humidity_pct)
    return heat_terms(
        *(metabolic_w_m2, cool_c, vapour_kpa, air_speed_m_s, radiant_w_m2, clothing_clo, walk_m_s)
    )


def sweat_between_g_m2_h(band: SweatBand, position: Floats) -> Floats:
    """Give a sweat rate within the band, unchecked.

    Parameters
    ----------
    band : SweatBand
        From `sweat_band_g_m2_h`.
    position : ndarray
        -1 for the low end, 0 for the middle, 1 for the high end; straight between.

    Returns
    -------
    ndarray
        g per m2 and hour.
    """
    below, above = np.maximum(-position, 0.0), np.maximum(position, 0.0)
    return (1.0 - below - above) * band.middle + below * band.low + above * band.high
