"""Published equations for the sweat rate.

They agree in the heat and disagree by a factor of four in cool weather: for 300 W of walking at
20 degrees C they run from about 40 to about 380 g/h. `simulator.body.sweating` puts them together.
"""

from __future__ import annotations

from collections.abc import Callable
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
    return bare_piecewise_g_m2_h(
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
