"""Later and earlier fits of walking speed to slope than Tobler's.

Slope is rise over run (not an angle), positive uphill in the direction of travel; speeds are along
the map, without stops.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.body.limits import PERCENT, Floats, Limit, flags, floats, is_female, published

# Irmischer and Clarke 2018 (Cartogr Geogr Inf Sci 45:177-186); from memory, and a published set of
# eight check values agrees.
IRMISCHER_BASE_M_S: Final = 0.11
IRMISCHER_ON: Final = (1.0, -5.0, 30.0)  # m/s, fastest slope %, spread %
IRMISCHER_OFF: Final = (0.67, -2.0, 30.0)
IRMISCHER_FEMALE: Final = 0.95

# Campbell et al. 2019 (Appl Geogr 106:93-107) and 2022 (Comput Environ Urban Syst 97:101866),
# medians: form restated, coefficients a, b, c, d, e from memory. Other percentiles are not shipped:
# their coefficients could not be read.
CAMPBELL_2019: Final = (-1.53, 14.04, 36.81, 0.32, -2.73e-3)
CAMPBELL_2022: Final = (-1.4579, 22.0787, 76.3271, 0.0525, -3.2002e-4)

# Naismith 1892 (Scott Mountaineer Club J 2:136), metric form; restated.
NAISMITH_S_M: Final = 0.72
NAISMITH_S_M_CLIMBED: Final = 6.0

NOT_READ: Final = "30 degrees; the limit of the source was not read"

LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "irmischer_clarke_2018": (Limit("slope", -0.30, 0.30, "", "slopes walked; from memory"),),
    "campbell_2019": (Limit("slope", -0.577, 0.577, "", NOT_READ),),
    "campbell_2022": (Limit("slope", -0.577, 0.577, "", NOT_READ),),
    "naismith_1892": (
        Limit("slope", -0.20, 0.40, "", "none stated; assumption: not for steep descents"),
    ),
}
"""How far each fit reaches; names are author and year."""


@published(LIMITS["irmischer_clarke_2018"])
def irmischer_clarke_2018_speed_m_s(
    slope: ArrayLike, sex: object = "male", off_path: ArrayLike = False
) -> Floats:
    """Give the walking speed by Irmischer and Clarke.

    Irmischer and Clarke 2018, Cartogr Geogr Inf Sci 45:177-186 (from memory; a published set of
    check values agrees). About 200 cadets finding their way by map and compass: a slow pace.

    Parameters
    ----------
    slope : array_like
        Rise over run.
    sex : str or array_like of str
        "male" or "female".
    off_path : array_like of bool
        Off the road, another curve.

    Returns
    -------
    ndarray
        m/s.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(irmischer_clarke_2018_speed_m_s(0.0)), 4)
    1.0962
    """
    off = flags("off_path", off_path)
    top_m_s, fastest_pct, spread_pct = (
        np.where(off, there, here) for there, here in zip(IRMISCHER_OFF, IRMISCHER_ON, strict=True)
    )
    away = (floats(slope) - fastest_pct / PERCENT) * (PERCENT / spread_pct)
    speed: Floats = IRMISCHER_BASE_M_S + top_m_s * np.exp(-0.5 * (away * away))
    if sex == "male":
        return speed
    return speed * np.where(is_female(sex), IRMISCHER_FEMALE, 1.0)


def _lorentz(slope: Floats, a: float, b: float, c: float, d: float, e: float) -> Floats:
    angle_deg = np.degrees(np.arctan(slope))
    away = (angle_deg - a) / b
    return c / (math.pi * b * (1.0 + away * away)) + d + e * angle_deg


@published(LIMITS["campbell_2019"])
def campbell_2019_speed_m_s(slope: ArrayLike) -> Floats:
    """Give the median walking speed by Campbell et al. 2019.

    Campbell et al. 2019, Appl Geogr 106:93-107: a Lorentz curve through crowd-sourced tracks
    (form restated, coefficients from memory).

    Parameters
    ----------
    slope : array_like
        Rise over run.

    Returns
    -------
    ndarray
        m/s.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(campbell_2019_speed_m_s(0.0)), 4)
    1.1447
    """
    return _lorentz(floats(slope), *CAMPBELL_2019)


@published(LIMITS["campbell_2022"])
def campbell_2022_speed_m_s(slope: ArrayLike) -> Floats:
    """Give the median walking speed by Campbell et al. 2022.

    Campbell et al. 2022, Comput Environ Urban Syst 97:101866: the same curve, more tracks (form
    restated, coefficients from memory).

    Parameters
    ----------
    slope : array_like
        Rise over run.

    Returns
    -------
    ndarray
        m/s.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(campbell_2022_speed_m_s(0.0)), 4)
    1.1481
    """
    return _lorentz(floats(slope), *CAMPBELL_2022)


@published(LIMITS["naismith_1892"])
def naismith_1892_speed_m_s(slope: ArrayLike) -> Floats:
    """Give the walking speed by Naismith's rule.

    Naismith 1892, Scott Mountaineer Club J 2:136, metric form (restated): an hour for 5 km and an
    hour for 600 m climbed; descents as level. Langmuir's corrections for descents are left out:
    they jump at 5 and at 12 degrees.

    Parameters
    ----------
    slope : array_like
        Rise over run.

    Returns
    -------
    ndarray
        m/s.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(10_000 / float(naismith_1892_speed_m_s(0.06)) / 3600, 4)
    3.0
    """
    climbed = np.maximum(floats(slope), 0.0)
    return 1.0 / (NAISMITH_S_M + NAISMITH_S_M_CLIMBED * climbed)
