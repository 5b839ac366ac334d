"""Published equations for the sweat rate, and the band they span.

They agree in the heat and disagree by a factor of four in cool weather: for 300 W of walking at
20 degrees C they run from about 40 to about 380 g/h. So the walk is given a band.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.body.limits import Floats, Limit, floats, published

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

# ISO 7933: required sweat rate and its efficiency; restated.
SWEAT_G_PER_WH: Final = 2.67 / 1.8
LEAST_EFFICIENCY: Final = 0.05
MOST_WETTEDNESS: Final = 1.7
MOST_SWEAT_G_M2_H: Final = 400.0 * SWEAT_G_PER_WH
"""Most a person not used to heat can sweat, ISO 7933:2023; restated."""

_EMAX = Limit("max_evaporation_w_m2", 20, 525, "W/m2", "Shapiro 1982, from memory")

LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
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


@published(LIMITS["shapiro_1982"])
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


@published(LIMITS["gonzalez_2009"])
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


@published(LIMITS["gonzalez_2009"])
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
    return _piecewise(floats(required_evaporation_w_m2), floats(max_evaporation_w_m2))


def _piecewise(
    required: Floats, most: Floats, floor_g_m2_h: float | Floats = GONZALEZ_FLOOR_G_M2_H
) -> Floats:
    rate = floor_g_m2_h + GONZALEZ_REQUIRED * required + GONZALEZ_MOST * most
    return np.maximum(rate, 0.0)


@published(LIMITS["gonzalez_2012_cool"])
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
    return _piecewise(
        floats(required_evaporation_w_m2), floats(max_evaporation_w_m2), GONZALEZ_COOL_FLOOR_G_M2_H
    )


@published(LIMITS["iso_7933"])
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


@dataclass(frozen=True, slots=True)
class SweatBand:
    """What the sweat equations say together, g per m2 and hour.

    Attributes
    ----------
    low : ndarray
        ISO 7933, or the middle where that is lower.
    middle : ndarray
        Mean of the two equations of Gonzalez et al. 2009, piecewise and corrected. In cool wind
        the first falls to nothing and the second stays at its floor.
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

COOL_FADE_C: Final = 5.0
"""Assumption: the offset for air below 20 degrees C fades out over the next five."""

REST_W_M2: Final = 65.0
WORK_W_M2: Final = 100.0
"""Assumption: the floors of the corrected and of the cool equation come of people who march (their
sweat at rest was not read), and nobody at rest sweats 147 g/m2/h in a cool room. So up to the
metabolic rate of rest they do not count, and count in full from that of light work on: classes 0
and 1 of ISO 8996 (from memory). Walking is 150 and more."""

EMAX_RANGE_W_M2: Final = (_EMAX.low, _EMAX.high)


def sweat_middle_g_m2_h(required: Floats, most: Floats, metabolic_w_m2: Floats) -> Floats:
    """Give the middle of the band, unchecked and for any weather.

    Parameters
    ----------
    required : ndarray
        Evaporation that would keep the balance, W/m2; negative when the body cools without any.
    most : ndarray
        Most that can evaporate, static permeability, W/m2; held within 20 to 525, the range of
        the equations.
    metabolic_w_m2 : ndarray
        Metabolic rate, W per m2 of skin.

    Returns
    -------
    ndarray
        g per m2 and hour. It rises with what is required and falls with what can evaporate. At
        rest the piecewise equation counts alone where it is the lower one (`REST_W_M2`).
    """
    fitted_most = np.clip(most, *EMAX_RANGE_W_M2)
    piecewise = _piecewise(required, fitted_most)
    corrected = _active(required, fitted_most, piecewise, metabolic_w_m2)
    return np.minimum((piecewise + corrected) / 2, MOST_SWEAT_G_M2_H)


def _awake(required: Floats) -> Floats:
    return np.clip(1.0 - required / NO_SWEAT_BELOW_W_M2, 0.0, 1.0)


def _working(metabolic_w_m2: Floats) -> Floats:
    return np.clip((metabolic_w_m2 - REST_W_M2) / (WORK_W_M2 - REST_W_M2), 0.0, 1.0)


def _active(
    required: Floats, fitted_most: Floats, piecewise: Floats, metabolic_w_m2: Floats
) -> Floats:
    """Give the corrected equation, at rest no more than the piecewise one."""
    corrected = _awake(required) * _corrected(np.maximum(required, 0.0), fitted_most)
    if np.all(metabolic_w_m2 >= WORK_W_M2):
        return corrected
    working = _working(metabolic_w_m2)
    rate: Floats = working * corrected + (1.0 - working) * np.minimum(corrected, piecewise)
    return rate


def sweat_band_g_m2_h(
    required: Floats, most: Floats, most_moving: Floats, air_c: Floats, metabolic_w_m2: Floats
) -> SweatBand:
    """Give low, middle and high of the sweat rate, unchecked and for any weather.

    Parameters
    ----------
    required : ndarray
        Evaporation that would keep the balance, W/m2; negative when the body cools without any.
    most : ndarray
        Most that can evaporate, static permeability, W/m2; held within 20 to 525, the range of
        the equations.
    most_moving : ndarray
        The same with the permeability raised by motion, W/m2.
    air_c : ndarray
        Air temperature, degrees C.
    metabolic_w_m2 : ndarray
        Metabolic rate, W per m2 of skin.

    Returns
    -------
    SweatBand
        Bounded everywhere; whether the sources reach is the caller's to say.
    """
    fitted_most = np.clip(most, *EMAX_RANGE_W_M2)
    iso = _iso_7933(required, np.maximum(most_moving, 1.0))
    plain = _piecewise(required, fitted_most)
    corrected = _active(required, fitted_most, plain, metabolic_w_m2)
    cool = np.clip((COOL_BELOW_C + COOL_FADE_C - air_c) / COOL_FADE_C, 0.0, 1.0)
    offset = cool * (GONZALEZ_COOL_FLOOR_G_M2_H - GONZALEZ_FLOOR_G_M2_H)
    offset = _working(metabolic_w_m2) * _awake(required) * offset
    piecewise = _piecewise(required, fitted_most, GONZALEZ_FLOOR_G_M2_H + offset)
    middle = np.minimum((plain + corrected) / 2, MOST_SWEAT_G_M2_H)
    high = np.maximum(np.maximum(iso, piecewise), corrected)
    return SweatBand(
        low=np.minimum(iso, middle), middle=middle, high=np.minimum(high, MOST_SWEAT_G_M2_H)
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
