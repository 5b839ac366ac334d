"""How much water a walker loses: sweat, breath, skin, urine.

Drink by need and keep looking for more; do not ration water below need. Do not drink more than is
lost either: too much is dangerous too (`simulator.body.drinking`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.arrays import Flags, Floats
from simulator.body.limits import Limit, floats, inside, one_of, possible, published, unchecked
from simulator.body.warmth import (
    HeatTerms,
    bare_body_air_speed_m_s,
    bare_vapour_pressure_kpa,
    heat_terms,
)

# Shapiro, Pandolf and Goldman 1982 (Eur J Appl Physiol 48:83-96); read.
SHAPIRO: Final = 27.9
SHAPIRO_POWER: Final = -0.455

# Gonzalez et al. 2009 (J Appl Physiol 107:379-388); read in the abstract.
GONZALEZ_FLOOR_G_M2_H: Final = 147.0
GONZALEZ_CORRECTED: Final = 0.0012
GONZALEZ_REQUIRED: Final = 1.527
GONZALEZ_MOST: Final = -0.87

# Gonzalez et al. 2012 (J Appl Physiol 112:1300-1310), below 20 degrees C; read in the abstract.
GONZALEZ_COOL_FLOOR_G_M2_H: Final = 350.0
COOL_BELOW_C: Final = 20.0
"""Air up to which the cool equation was published, degrees C."""

# ISO 7933: required sweat rate and its efficiency; restated.
SWEAT_G_PER_WH: Final = 2.67 / 1.8
LEAST_EFFICIENCY: Final = 0.05
MOST_WETTEDNESS: Final = 1.7
MOST_SWEAT_G_M2_H: Final = 400.0 * SWEAT_G_PER_WH
"""Most a person not used to heat can sweat, ISO 7933:2023; restated."""

_EMAX = Limit("max_evaporation_w_m2", 20, 525, "W/m2", "Shapiro 1982, from memory")

EMAX_RANGE_W_M2: Final = (_EMAX.low, _EMAX.high)
"""What can evaporate, as far as the equations reach."""

SWEAT_LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "shapiro_1982": (
        Limit("required_evaporation_w_m2", 50, 360, "W/m2", "from memory"),
        _EMAX,
    ),
    "gonzalez_2009": (
        Limit(
            "required_evaporation_w_m2",
            0,
            450,
            "W/m2",
            "rest to 450 W/m2 of metabolic rate; read in the abstract",
        ),
        _EMAX,
    ),
    "gonzalez_2012_cool": (
        Limit("required_evaporation_w_m2", 0, 450, "W/m2", "as Gonzalez 2009"),
        _EMAX,
        Limit("result", 0, 700, "g/m2/h", "read in the abstract"),
    ),
    "iso_7933": (
        Limit("max_evaporation_w_m2", 1, 5000, "W/m2", "above zero: air drier than the skin"),
    ),
}
"""How far each source reaches. Gonzalez 2009 also states 15 to 46 degrees C, 0.27 to 4.45 kPa,
wind 0.4 to 2.5 m/s, 2 to 8 h; `simulator.body.water` checks those."""


@published(SWEAT_LIMITS["shapiro_1982"])
def shapiro_1982_g_m2_h(
    required_evaporation_w_m2: ArrayLike, max_evaporation_w_m2: ArrayLike
) -> Floats:
    """Give the sweat rate by the first of the equations (OSE).

    Shapiro, Pandolf and Goldman 1982, Eur J Appl Physiol 48:83-96 (read). Found too high since.

    Parameters
    ----------
    required_evaporation_w_m2, max_evaporation_w_m2 : array_like
        Evaporation that would keep the heat balance, and the most that can evaporate, W/m2.

    Returns
    -------
    ndarray
        g per m2 and hour.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(shapiro_1982_g_m2_h(200, 200)), 1)
    500.8
    """
    return _shapiro(floats(required_evaporation_w_m2), floats(max_evaporation_w_m2))


def _shapiro(required: Floats, most: Floats) -> Floats:
    rate: Floats = SHAPIRO * required * np.exp(SHAPIRO_POWER * np.log(most))
    return rate


@published(SWEAT_LIMITS["gonzalez_2009"])
def gonzalez_2009_osec_g_m2_h(
    required_evaporation_w_m2: ArrayLike, max_evaporation_w_m2: ArrayLike
) -> Floats:
    """Give the sweat rate by the corrected equation (OSEC).

    Gonzalez et al. 2009, J Appl Physiol 107:379-388 (read in the abstract). Never below 147
    g/m2/h, about 290 g/h for a man, which is too much outside warm weather.

    Parameters
    ----------
    required_evaporation_w_m2, max_evaporation_w_m2 : array_like
        Evaporation that would keep the heat balance, and the most that can evaporate, W/m2.

    Returns
    -------
    ndarray
        g per m2 and hour.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(gonzalez_2009_osec_g_m2_h(200, 200)), 1)
    268.1
    """
    return _corrected(floats(required_evaporation_w_m2), floats(max_evaporation_w_m2))


def _corrected(required: Floats, most: Floats) -> Floats:
    rate: Floats = GONZALEZ_FLOOR_G_M2_H * np.exp(GONZALEZ_CORRECTED * _shapiro(required, most))
    return rate


@published(SWEAT_LIMITS["gonzalez_2009"])
def gonzalez_2009_piecewise_g_m2_h(
    required_evaporation_w_m2: ArrayLike, max_evaporation_w_m2: ArrayLike
) -> Floats:
    """Give the sweat rate by the piecewise equation (PW), not below zero.

    Gonzalez et al. 2009, J Appl Physiol 107:379-388 (read in the abstract); standard error below
    100 g/m2/h.

    Parameters
    ----------
    required_evaporation_w_m2, max_evaporation_w_m2 : array_like
        Evaporation that would keep the heat balance, and the most that can evaporate, W/m2.

    Returns
    -------
    ndarray
        g per m2 and hour.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(gonzalez_2009_piecewise_g_m2_h(200, 200)), 1)
    278.4
    """
    return bare_piecewise_g_m2_h(floats(required_evaporation_w_m2), floats(max_evaporation_w_m2))


def bare_piecewise_g_m2_h(
    required: Floats, most: Floats, floor_g_m2_h: float | Floats = GONZALEZ_FLOOR_G_M2_H
) -> Floats:
    """Give the piecewise equation with any floor, unchecked.

    Parameters
    ----------
    required, most : ndarray
        Evaporation that would keep the balance, and the most that can evaporate, W/m2.
    floor_g_m2_h : float or ndarray
        Constant of the equation; the one of warm weather if left out.

    Returns
    -------
    ndarray
        g per m2 and hour, not below zero.
    """
    rate = floor_g_m2_h + GONZALEZ_REQUIRED * required + GONZALEZ_MOST * most
    return np.maximum(rate, 0.0)


@published(SWEAT_LIMITS["gonzalez_2012_cool"])
def gonzalez_2012_cool_g_m2_h(
    required_evaporation_w_m2: ArrayLike, max_evaporation_w_m2: ArrayLike
) -> Floats:
    """Give the sweat rate below 20 degrees C (PWcool).

    Gonzalez et al. 2012, J Appl Physiol 112:1300-1310 (read in the abstract): night marches of 14
    to 37 km with 15 to 31 kg at 16 to 26 degrees C. The highest of the sources in cool weather.

    Parameters
    ----------
    required_evaporation_w_m2, max_evaporation_w_m2 : array_like
        Evaporation that would keep the heat balance, and the most that can evaporate, W/m2.

    Returns
    -------
    ndarray
        g per m2 and hour.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(gonzalez_2012_cool_g_m2_h(150, 200)), 1)
    405.0
    """
    return bare_piecewise_g_m2_h(
        floats(required_evaporation_w_m2), floats(max_evaporation_w_m2), GONZALEZ_COOL_FLOOR_G_M2_H
    )


@published(SWEAT_LIMITS["iso_7933"])
def iso_7933_g_m2_h(
    required_evaporation_w_m2: ArrayLike, max_evaporation_w_m2: ArrayLike
) -> Floats:
    """Give the steady required sweat rate of ISO 7933.

    The evaporation required over its efficiency, at most what a person not used to heat can sweat
    (restated). Its maximum evaporation is the one with the permeability raised by motion.

    Parameters
    ----------
    required_evaporation_w_m2, max_evaporation_w_m2 : array_like
        Evaporation that would keep the heat balance, and the most that can evaporate, W/m2.

    Returns
    -------
    ndarray
        g per m2 and hour; 0 where no evaporation is required.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(iso_7933_g_m2_h(100, 500)), 1)
    151.4
    """
    return _iso_7933(floats(required_evaporation_w_m2), floats(max_evaporation_w_m2))


def _iso_7933(required: Floats, most: Floats) -> Floats:
    wet = np.minimum(np.maximum(required, 0.0) / most, MOST_WETTEDNESS)
    efficiency = np.where(wet > 1.0, (2.0 - wet) ** 2 / 2, 1.0 - wet * wet / 2)
    efficiency = np.maximum(efficiency, LEAST_EFFICIENCY)
    rate = np.maximum(required, 0.0) / efficiency * SWEAT_G_PER_WH
    return np.minimum(rate, MOST_SWEAT_G_M2_H)


SWEAT_MODELS: Final[dict[str, Callable[[ArrayLike, ArrayLike], Floats]]] = {
    "gonzalez_2009_piecewise": gonzalez_2009_piecewise_g_m2_h,
    "gonzalez_2009_osec": gonzalez_2009_osec_g_m2_h,
    "gonzalez_2012_cool": gonzalez_2012_cool_g_m2_h,
    "shapiro_1982": shapiro_1982_g_m2_h,
    "iso_7933": iso_7933_g_m2_h,
}
"""Sweat rate in g/m2/h from required and maximum evaporation, by author and year."""


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
    """Whether ISO 7933 is surely below the mean for everyone, so that it need not be asked."""
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
        As for `simulator.body.warmth.heat_terms`.

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


# DuBois and DuBois 1916; standard form.
DUBOIS_M2: Final = 0.007184
DUBOIS_MASS_POWER: Final = 0.425
DUBOIS_HEIGHT_POWER: Final = 0.725
CM_PER_M: Final = 100.0

# Fanger 1970, ISO 7730: latent heat of breathing; from memory.
FANGER_BREATH: Final = 1.7e-5
FANGER_BREATH_PA: Final = 5867.0
PA_PER_KPA: Final = 1000.0
LATENT_HEAT_J_G: Final = 2430.0  # at 30 degrees C; IOM 2004, read
S_PER_H: Final = 3600.0

# Institute of Medicine 2004, Dietary Reference Intakes for Water, p. 83; read.
SKIN_DIFFUSION_ML_DAY: Final = 450.0
SKIN_DIFFUSION_AREA_M2: Final = 1.8  # area it is taken for; assumption, the usual reference body
URINE_ML_H: Final = 50.0
URINE_DRY_ML_H: Final = 15.0
URINE_DRY_AT_PCT: Final = 2.0  # assumption, 1 to 4 %: where the kidneys save all they can
H_PER_DAY: Final = 24.0

LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "water_loss": (
        Limit("air_c", 15, 46, "degrees C", "Gonzalez 2009; read in the abstract"),
        Limit("vapour pressure", 0.27, 4.45, "kPa", "Gonzalez 2009; read in the abstract"),
        Limit("air speed at the body", 0.4, 2.5, "m/s", "Gonzalez 2009; read in the abstract"),
        Limit("metabolic rate", 40, 450, "W/m2", "rest to 450; Gonzalez 2009, read in abstract"),
        Limit("clothing_clo", 0.1, 1.5, "clo", "ISO 7933 to 1.0, restated; stretched"),
    ),
}
"""Where the sweat equations are backed; joint limits by the names of derived quantities."""


@published()
def body_area_m2(mass_kg: ArrayLike, height_m: ArrayLike) -> Floats:
    """Give the skin area of a body.

    DuBois and DuBois 1916, Arch Intern Med 17:863-871 (standard form).

    Parameters
    ----------
    mass_kg, height_m : array_like
        Body mass in kg and height in m.

    Returns
    -------
    ndarray
        m2.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(body_area_m2(80, 1.78)), 4)
    1.9803
    """
    height_cm = CM_PER_M * floats(height_m)
    area: Floats = DUBOIS_M2 * floats(mass_kg) ** DUBOIS_MASS_POWER * height_cm**DUBOIS_HEIGHT_POWER
    return area


def sweat_g_m2_h(required_evaporation_w_m2: ArrayLike, max_evaporation_w_m2: ArrayLike) -> Floats:
    """Give the predicted sweat rate by the preferred equation.

    The piecewise equation of Gonzalez et al. 2009: of the published ones it alone neither
    overpredicts in the heat (Shapiro 1982) nor keeps sweating at rest (its sister, OSEC), and it
    agrees with ISO 7933 within a third from 25 to 35 degrees C. All stand in
    `simulator.body.water.SWEAT_MODELS`.

    Parameters
    ----------
    required_evaporation_w_m2, max_evaporation_w_m2 : array_like
        As from `required_evaporation_w_m2` and `max_evaporation_w_m2`, W/m2.

    Returns
    -------
    ndarray
        g per m2 of skin and hour; NaN outside the limits.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(sweat_g_m2_h(250, 150)), 1)
    398.2
    """
    return gonzalez_2009_piecewise_g_m2_h(required_evaporation_w_m2, max_evaporation_w_m2)


@published()
def respiratory_g_h(metabolic_w: ArrayLike, air_c: ArrayLike, humidity_pct: ArrayLike) -> Floats:
    """Give the water lost by breathing.

    Fanger 1970, ISO 7730 (from memory). Breathing grows with the metabolic rate, so the area of
    the body falls out.

    Parameters
    ----------
    metabolic_w : array_like
        Whole-body metabolic rate, W.
    air_c, humidity_pct : array_like
        Air temperature in degrees C, relative humidity in %.

    Returns
    -------
    ndarray
        g/h.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(respiratory_g_h(165 * 1.9, 20, 50)), 1)
    37.1
    """
    vapour = bare_vapour_pressure_kpa(floats(air_c), floats(humidity_pct))
    return _breath_g_h(floats(metabolic_w), vapour)


def _breath_g_h(metabolic_w: Floats, vapour_kpa: Floats) -> Floats:
    per_watt = FANGER_BREATH * (FANGER_BREATH_PA - PA_PER_KPA * vapour_kpa)
    return np.maximum(per_watt, 0.0) * metabolic_w * (S_PER_H / LATENT_HEAT_J_G)


@published()
def skin_diffusion_g_h(area_m2: ArrayLike) -> Floats:
    """Give the water that passes through dry skin.

    About 450 ml a day (Institute of Medicine 2004, read), taken for 1.8 m2.

    Parameters
    ----------
    area_m2 : array_like
        Skin area, m2.

    Returns
    -------
    ndarray
        g/h.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> float(skin_diffusion_g_h(1.8))
    18.75
    """
    return floats(area_m2) * (SKIN_DIFFUSION_ML_DAY / H_PER_DAY / SKIN_DIFFUSION_AREA_M2)


_bare_skin_diffusion_g_h = unchecked(skin_diffusion_g_h)


@published()
def urine_g_h(body_mass_loss_pct: ArrayLike = 0.0) -> Floats:
    """Give the urine flow, less when water is short.

    50 ml/h when well supplied, down to 15 ml/h in dehydration (Institute of Medicine 2004, read);
    straight between, reached at 2 % of body mass (assumption).

    Parameters
    ----------
    body_mass_loss_pct : array_like
        Water deficit, % of body mass.

    Returns
    -------
    ndarray
        g/h.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> [float(flow) for flow in urine_g_h([0.0, 1.0, 5.0])]
    [50.0, 32.5, 15.0]
    """
    dry = np.clip(floats(body_mass_loss_pct) / URINE_DRY_AT_PCT, 0.0, 1.0)
    return URINE_ML_H + (URINE_DRY_ML_H - URINE_ML_H) * dry


@dataclass(frozen=True, slots=True)
class WaterLoss:
    """Water that a walker loses in an hour.

    Attributes
    ----------
    sweat_g_h : ndarray
        Sweat, by the estimate asked for.
    respiratory_g_h : ndarray
        With the breath.
    insensible_g_h : ndarray
        Through dry skin.
    urine_g_h : ndarray
        Urine.
    total_g_h : ndarray
        All four.
    in_range : ndarray of bool
        True where the sweat equations are backed by their source (`LIMITS`). In cold weather it
        is False and the sweat is a bounded assumption.
    """

    sweat_g_h: Floats
    respiratory_g_h: Floats
    insensible_g_h: Floats
    urine_g_h: Floats
    total_g_h: Floats
    in_range: Flags


SWEAT_ESTIMATES: Final[dict[str, str]] = {
    "low": "steady balance of ISO 7933, or the mean of the two equations of Gonzalez et al. 2009 "
    "where that is lower",
    "middle": "mean of the two sweat equations of Gonzalez et al. 2009, or ISO 7933 where that is "
    "higher and one of the two confirms it",
    "high": "the highest of the published sweat rates, in warm air no less than at 20 degrees C",
}
"""Which of the sweat equations a water loss is made with, in words. At 20 degrees C low and high
differ by a factor of about four, more in light clothing; above 33 by less than two."""


def water_loss_g_h(
    metabolic_w: ArrayLike,
    area_m2: ArrayLike,
    air_c: ArrayLike,
    humidity_pct: ArrayLike,
    wind_m_s: ArrayLike,
    radiant_w_m2: ArrayLike,
    clothing_clo: ArrayLike,
    *,
    walk_m_s: ArrayLike = 0.0,
    body_mass_loss_pct: ArrayLike = 0.0,
    sweat: str = "middle",
) -> WaterLoss:
    """Give the water a walker loses in an hour, in any weather.

    Sweat comes from the heat balance and the published equations, whose band is wide in cool
    weather (`simulator.body.water`). Below 15 degrees C none of them reaches: there the sweat
    follows the heat balance down to nothing (`simulator.body.water.NO_SWEAT_BELOW_W_M2`, an
    assumption) and `in_range` is False. Missing input gives NaN and `in_range` False.

    Parameters
    ----------
    metabolic_w : array_like
        Whole-body metabolic rate, W.
    area_m2 : array_like
        Skin area, m2.
    air_c, humidity_pct : array_like
        Air temperature in degrees C, relative humidity in %.
    wind_m_s : array_like
        Wind at 10 m, m/s, as weather reports give it.
    radiant_w_m2 : array_like
        Heat absorbed from the sun, W per m2 of skin.
    clothing_clo : array_like
        Basic insulation of the clothing, clo.
    walk_m_s : array_like
        Walking speed, m/s.
    body_mass_loss_pct : array_like
        Water deficit so far, % of body mass; it lowers the urine.
    sweat : str
        Estimate of the sweat: "low", "middle" or "high" of the band.

    Returns
    -------
    WaterLoss
        Arrays of the broadcast shape.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> loss = water_loss_g_h(300, 1.98, 30, 50, 2, 0, 0.6, walk_m_s=1.3)
    >>> bool(loss.in_range), 300 < float(loss.sweat_g_h) < 400
    (True, True)
    """
    watts, area = possible("metabolic_w", metabolic_w), possible("area_m2", area_m2)
    air, clothing = possible("air_c", air_c), possible("clothing_clo", clothing_clo)
    walk = possible("walk_m_s", walk_m_s)
    vapour = bare_vapour_pressure_kpa(air, possible("humidity_pct", humidity_pct))
    air_speed = bare_body_air_speed_m_s(possible("wind_m_s", wind_m_s), walk)
    rate, sun = watts / area, possible("radiant_w_m2", radiant_w_m2)
    terms = heat_terms(rate, air, vapour, air_speed, sun, clothing, walk)
    rate_g_m2_h: Floats
    if one_of("sweat", sweat, SWEAT_ESTIMATES) == "middle":
        rate_g_m2_h = sweat_middle_g_m2_h(terms, rate)
    else:
        cool = cool_terms(terms, rate, air, floats(humidity_pct), air_speed, sun, clothing, walk)
        rate_g_m2_h = getattr(sweat_band_g_m2_h(terms, cool, rate), sweat)
    chosen = rate_g_m2_h * area
    breath = _breath_g_h(watts, vapour)
    skin = _bare_skin_diffusion_g_h(area)
    urine = urine_g_h(body_mass_loss_pct)
    total = chosen + breath + skin + urine
    backed = inside(
        LIMITS["water_loss"],
        {
            "air_c": air,
            "vapour pressure": vapour,
            "air speed at the body": air_speed,
            "metabolic rate": rate,
            "clothing_clo": clothing,
        },
    )
    return WaterLoss(
        sweat_g_h=chosen,
        respiratory_g_h=breath,
        insensible_g_h=skin,
        urine_g_h=urine,
        total_g_h=total,
        in_range=backed & ~np.isnan(total),
    )
