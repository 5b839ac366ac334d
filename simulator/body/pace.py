"""How fast people walk: published fits of speed to slope, and what makes them slower.

Slope is rise over run (not an angle), positive uphill in the direction of travel; speeds are along
the map, without stops. Published speeds for level ground run from 3.95 to 5.3 km/h, so a walk
deserves a band (`speed_band`) and, better, one timed walk of one's own
(`pace_factor_from_timed_walk`). Each slowing factor is a separate function or table, to be
switched and multiplied by the caller; 1 means no slowing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.body.fits import LIMITS as FIT_LIMITS
from simulator.body.fits import (
    campbell_2019_speed_m_s,
    campbell_2022_speed_m_s,
    irmischer_clarke_2018_speed_m_s,
    naismith_1892_speed_m_s,
)
from simulator.body.limits import Floats, Limit, flags, floats, one_of, possible, published
from simulator.body.people import LIMIT_RULES, LimitRule, group_speed_m_s, strictest
from simulator.body.slowing import (
    DARK_LIT_FACTOR,
    DARK_UNLIT_FACTOR,
    FATIGUE_FREE_H,
    FATIGUE_LEAST,
    FATIGUE_PER_H,
    SURFACE_SPEED_FACTORS,
    age_sex_factor,
    comfortable_speed_m_s,
    dark_factor,
    fatigue_factor,
    load_factor,
)

__all__ = (
    "DARK_LIT_FACTOR",
    "DARK_UNLIT_FACTOR",
    "FATIGUE_FREE_H",
    "FATIGUE_LEAST",
    "FATIGUE_PER_H",
    "LIMITS",
    "LIMIT_RULES",
    "PACE_MODELS",
    "STAIR_SOURCES",
    "SURFACE_SPEED_FACTORS",
    "LimitRule",
    "SpeedBand",
    "StairSource",
    "age_sex_factor",
    "campbell_2019_speed_m_s",
    "campbell_2022_speed_m_s",
    "comfortable_speed_m_s",
    "dark_factor",
    "fatigue_factor",
    "group_speed_m_s",
    "irmischer_clarke_2018_speed_m_s",
    "load_factor",
    "naismith_1892_speed_m_s",
    "pace_factor_from_timed_walk",
    "speed_band",
    "stairs_speed_m_s",
    "strictest",
    "tobler_speed_m_s",
)

KM_H: Final = 3.6  # km/h in a m/s

# Tobler 1993, NCGIA Technical Report 93-1, on Imhof 1950 (Swiss military marching rates); restated.
TOBLER_FASTEST_KM_H: Final = 6.0
TOBLER_DECAY: Final = 3.5
TOBLER_FASTEST_SLOPE: Final = -0.05
TOBLER_OFF_PATH: Final = 0.6

LIMITS: Final[dict[str, tuple[Limit, ...]]] = FIT_LIMITS | {
    "tobler_1993": (
        Limit("slope", -0.7, 0.7, "", "no limit stated; beyond is extrapolation of Imhof's data"),
    ),
}
"""How far each source reaches; names are author and year."""


@published(LIMITS["tobler_1993"])
def tobler_speed_m_s(slope: ArrayLike, off_path: ArrayLike = False) -> Floats:
    """Give the walking speed by Tobler's hiking function.

    Tobler 1993, NCGIA Technical Report 93-1 (restated): 6 km/h on a 5 % descent, less on either
    side. The marching rates behind it are Swiss military.

    Parameters
    ----------
    slope : array_like
        Rise over run.
    off_path : array_like of bool
        Off the path speed is three fifths.

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
    Valid for slope {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(3.6 * float(tobler_speed_m_s(0.05)), 4)
    4.2281
    """
    away = np.abs(floats(slope) - TOBLER_FASTEST_SLOPE)
    speed: Floats = (TOBLER_FASTEST_KM_H / KM_H) * np.exp(-TOBLER_DECAY * away)
    return speed * np.where(flags("off_path", off_path), TOBLER_OFF_PATH, 1.0)


PACE_MODELS: Final[dict[str, Callable[[ArrayLike], Floats]]] = {
    "tobler_1993": tobler_speed_m_s,
    "irmischer_clarke_2018": irmischer_clarke_2018_speed_m_s,
    "campbell_2019": campbell_2019_speed_m_s,
    "campbell_2022": campbell_2022_speed_m_s,
    "naismith_1892": naismith_1892_speed_m_s,
}
"""Speed in m/s from slope, by author and year: the list and the dispatch."""


@dataclass(frozen=True, slots=True)
class SpeedBand:
    """What the published fits say together.

    Attributes
    ----------
    low, middle, high : ndarray
        Slowest, median and fastest of the fits that reach this slope, m/s; NaN where none does.
    fits : ndarray of int
        How many do.
    """

    low: Floats
    middle: Floats
    high: Floats
    fits: NDArray[np.int64]


def speed_band(slope: ArrayLike) -> SpeedBand:
    """Give the slowest, the median and the fastest published speed at a slope.

    Parameters
    ----------
    slope : array_like
        Rise over run.

    Returns
    -------
    SpeedBand
        Over all of `PACE_MODELS`.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> band = speed_band(0.0)
    >>> [round(3.6 * float(speed), 2) for speed in (band.low, band.middle, band.high)]
    [3.95, 4.13, 5.04]
    """
    speeds = np.sort([model(slope) for model in PACE_MODELS.values()], axis=0)  # NaN goes last
    fits = np.sum(~np.isnan(speeds), axis=0)
    last = np.maximum(fits - 1, 0)

    def rank(index: NDArray[np.int64]) -> Floats:
        chosen: Floats = np.take_along_axis(speeds, index[np.newaxis], axis=0)[0]
        return chosen

    middle = (rank(last // 2) + rank((last + 1) // 2)) / 2
    return SpeedBand(low=speeds[0], middle=middle, high=rank(last), fits=fits)


def pace_factor_from_timed_walk(
    distance_m: ArrayLike,
    time_s: ArrayLike,
    slope: ArrayLike = 0.0,
    *,
    model: str = "tobler_1993",
) -> float:
    """Give a person's own pace factor from one timed walk.

    Walk a known way of an hour or more as you would walk home, and time it without the stops.

    Parameters
    ----------
    distance_m : array_like
        Length of the walk along the map, m; or the lengths of its pieces.
    time_s : array_like
        Time taken without stops, s; of the whole, or of each piece.
    slope : array_like
        Rise over run of the whole, or of each piece.
    model : str
        Key of `PACE_MODELS`: the one the factor will be used with.

    Returns
    -------
    float
        The model's time over the time taken: above 1 is faster than the model.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range, and for slopes beyond the model.

    Examples
    --------
    >>> round(pace_factor_from_timed_walk(5000, 3600), 3)
    0.993
    """
    length = possible("distance_m", distance_m)
    if np.shape(slope) not in {(), length.shape}:
        msg = f"slope has shape {np.shape(slope)}; allowed: one value, or one for each length"
        raise ValueError(msg)
    taken = float(np.sum(possible("time_s", time_s)))
    speed = PACE_MODELS[one_of("model", model, PACE_MODELS)](slope)
    factor = float(np.sum(length / speed)) / taken
    if math.isnan(factor):
        msg = f"slope = {slope!r} or a length or time is missing or beyond the limits of {model}"
        raise ValueError(msg)
    return factor


# Fruin 1971, Pedestrian Planning and Design: free speed on stairs, measured along the plan run
# (horizontal); from memory, approximate.
FRUIN_UP_M_S: Final = (0.5, 0.6)
FRUIN_DOWN_M_S: Final = (0.7, 0.8)


def stairs_speed_m_s(up: ArrayLike) -> Floats:
    """Give the free walking speed on stairs, along the plan run.

    Fruin 1971 (from memory, approximate): 0.5 to 0.6 m/s up and 0.7 to 0.8 m/s down; the middle
    of each. The length is the horizontal one, which is what a map gives. Other sources measure
    along the stair (`STAIR_SOURCES`).

    Parameters
    ----------
    up : array_like of bool
        True going up.

    Returns
    -------
    ndarray
        m/s. A short flight; a long climb is slower.

    Raises
    ------
    ValueError
        For a direction that is missing.

    Examples
    --------
    >>> float(stairs_speed_m_s(True))
    0.55
    """
    middle_up, middle_down = sum(FRUIN_UP_M_S) / 2, sum(FRUIN_DOWN_M_S) / 2
    return np.where(flags("up", up), middle_up, middle_down)[()]


@dataclass(frozen=True, slots=True)
class StairSource:
    """A published stair speed, with the length it is measured along.

    Attributes
    ----------
    direction : str
        "up", "down" or "both".
    m_s : float
        Speed along the length the source uses, m/s.
    length : str
        "plan" (horizontal) or "stair" (along the slope).
    rise_over_run : float
        Of the stair: riser over tread.
    source : str
        Where it comes from, and how well that is known.
    """

    direction: str
    m_s: float
    length: str
    rise_over_run: float
    source: str

    def plan_m_s(self) -> float:
        """Give the speed along the plan run, m/s."""
        if self.length == "plan":
            return self.m_s
        return self.m_s / math.hypot(1.0, self.rise_over_run)


STAIR_SOURCES: Final = (
    StairSource("up", sum(FRUIN_UP_M_S) / 2, "plan", 7 / 11, "Fruin 1971; from memory"),
    StairSource("down", sum(FRUIN_DOWN_M_S) / 2, "plan", 7 / 11, "Fruin 1971; from memory"),
    StairSource("down", 0.47, "stair", 7 / 11, "NIST TN 1839, crowded fire drills; read"),
    StairSource("both", 0.85 * 1.08, "stair", 7 / 11, "SFPE Handbook, free flow; from memory"),
)
"""Stair speeds that disagree: other lengths and other crowding. `stairs_speed_m_s` uses Fruin."""
