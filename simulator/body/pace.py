"""How fast people walk: published fits of speed to slope, and what makes them slower.

Slope is rise over run (not an angle), positive uphill in the direction of travel; speeds are along
the map, without stops. Published speeds for level ground run from 3.95 to 5.3 km/h, so a walk
deserves a band (`speed_band`) and, better, one timed walk of one's own
(`pace_factor_from_timed_walk`). Each slowing factor is a separate function or table, to be
switched and multiplied by the caller; 1 means no slowing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.arrays import Floats
from simulator.body.energy import PANDOLF_LOAD_W_KG, PANDOLF_SPEED, TERRAIN_FACTORS
from simulator.body.limits import (
    PERCENT,
    Limit,
    flags,
    floats,
    is_female,
    one_of,
    possible,
    published,
)

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

FIT_LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "irmischer_clarke_2018": (Limit("slope", -0.30, 0.30, "", "slopes walked; from memory"),),
    "campbell_2019": (Limit("slope", -0.577, 0.577, "", NOT_READ),),
    "campbell_2022": (Limit("slope", -0.577, 0.577, "", NOT_READ),),
    "naismith_1892": (
        Limit("slope", -0.20, 0.40, "", "none stated; assumption: not for steep descents"),
    ),
}
"""How far each fit reaches; names are author and year."""


@published(FIT_LIMITS["irmischer_clarke_2018"])
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


@published(FIT_LIMITS["campbell_2019"])
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


@published(FIT_LIMITS["campbell_2022"])
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


@published(FIT_LIMITS["naismith_1892"])
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


SLOWING_LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "load_factor": (
        Limit(
            "load_kg / mass_kg",
            0,
            0.7,
            "",
            "from memory, Pandolf et al. 1977",
            lambda values: values["load_kg"] / values["mass_kg"],
        ),
    ),
    "bohannon_1997": (Limit("age_y", 20, 79, "years", "read in the abstract"),),
}
"""How far each source reaches."""

SURFACE_SPEED_FACTORS: Final[dict[str, float]] = {
    surface: eta**-0.5 for surface, eta in TERRAIN_FACTORS.items()
}
"""Share of the paved speed by surface, at the same metabolic rate.

Pandolf's level walking term is eta V^2: holding it gives V over V paved = eta^(-1/2), e.g. 0.953
for eta 1.1 and 0.690 for 2.1. Dividing speed by eta itself would slow far too much; de Gruchy et
al. 2017 (Internet Archaeology 45, read) find the effect on speed smaller than on energy.
"""

REFERENCE_SPEED_M_S: Final = 1.34  # unloaded level speed whose rate is held constant


@published(SLOWING_LIMITS["load_factor"])
def load_factor(mass_kg: ArrayLike, load_kg: ArrayLike) -> Floats:
    """Give the share of the unloaded speed at the same metabolic rate.

    Pandolf et al. 1977 on level ground, solved for the speed at which the loaded rate equals the
    unloaded rate at 1.34 m/s. There is no accepted coefficient; for a day bag the effect is 2 to
    3 %, less than the fits of speed differ.

    Parameters
    ----------
    mass_kg, load_kg : array_like
        Mass of the body and of all that it carries, kg.

    Returns
    -------
    ndarray
        Factor, 1 without load.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(1.34 * float(load_factor(80, 5)), 4)
    1.298
    """
    mass = floats(mass_kg)
    ratio = floats(load_kg) / mass
    share_of_square = 1.0 / (1.0 + ratio) - (
        PANDOLF_LOAD_W_KG * ratio * ratio / (PANDOLF_SPEED * REFERENCE_SPEED_M_S**2)
    )
    return np.sqrt(share_of_square)


DARK_UNLIT_FACTOR: Final = 0.80
"""Assumption, 0.67 to 1.0. No speed factor for walking outdoors at night was found in the
literature; army march rates are 0.80 of the day rate on roads and 0.67 across country (from
memory)."""

DARK_LIT_FACTOR: Final = 0.95
"""Assumption, 0.9 to 1.0, for streets with lamps; no source."""


def dark_factor(
    lit: ArrayLike,
    *,
    unlit_factor: ArrayLike = DARK_UNLIT_FACTOR,
    lit_factor: ArrayLike = DARK_LIT_FACTOR,
) -> Floats:
    """Give the share of the daylight speed that is kept in the dark.

    An assumption, not science: see `DARK_UNLIT_FACTOR`. Where lamps are unknown the way counts as
    unlit.

    Parameters
    ----------
    lit : array_like of int
        1 lit, 0 unlit, -1 unknown.
    unlit_factor, lit_factor : array_like
        Shares, to be changed by the person.

    Returns
    -------
    ndarray
        Factor.

    Raises
    ------
    ValueError
        For factors outside 0.01 to 10.

    Examples
    --------
    >>> [float(share) for share in dark_factor([1, 0, -1])]
    [0.95, 0.8, 0.8]
    """
    with_lamps = possible("lit_factor", lit_factor, "factor")
    without = possible("unlit_factor", unlit_factor, "factor")
    return np.where(np.asarray(lit) == 1, with_lamps, without)[()]


FATIGUE_PER_H: Final = 0.02
"""Assumption, 0 to 0.05 of the fresh speed lost in each hour of walking after `FATIGUE_FREE_H`.
No equation for fatigue beyond four hours was found in a source that could be read."""

FATIGUE_FREE_H: Final = 3.0
"""Assumption, 2 to 4 h of walking before tiredness slows."""

FATIGUE_LEAST: Final = 0.7
"""Assumption, 0.6 to 0.9: slower than this share tired people stop rather than walk."""


def fatigue_factor(
    moving_h: ArrayLike,
    *,
    fatigue_per_h: ArrayLike = FATIGUE_PER_H,
    free_h: ArrayLike = FATIGUE_FREE_H,
    least: ArrayLike = FATIGUE_LEAST,
) -> Floats:
    """Give the share of the fresh speed that is left after hours of walking.

    An assumption, not science: see `FATIGUE_PER_H`.

    Parameters
    ----------
    moving_h : array_like
        Hours walked so far, rests left out.
    fatigue_per_h : array_like
        Share of the fresh speed lost in each hour after the free ones.
    free_h : array_like
        Hours before any loss.
    least : array_like
        Share that is never undercut.

    Returns
    -------
    ndarray
        Factor.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> [round(float(share), 2) for share in fatigue_factor([2.0, 5.0, 40.0])]
    [1.0, 0.96, 0.7]
    """
    tired_h = np.maximum(possible("moving_h", moving_h) - possible("free_h", free_h, "hours"), 0.0)
    loss = possible("fatigue_per_h", fatigue_per_h, "share")
    return np.maximum(1.0 - loss * tired_h, possible("least", least, "share"))[()]


# Bohannon 1997 (Age Ageing 26:15-19), comfortable speed by decade, m/s. The extremes (1.272 women
# in their 70s, 1.462 men in their 40s) were read in the abstract; the other cells are from memory.
BOHANNON_MIDDLE_AGE_Y: Final = (25.0, 35.0, 45.0, 55.0, 65.0, 75.0)
BOHANNON_MALE_M_S: Final = (1.393, 1.458, 1.462, 1.393, 1.359, 1.330)
BOHANNON_FEMALE_M_S: Final = (1.407, 1.415, 1.391, 1.395, 1.296, 1.272)


def comfortable_speed_m_s(age_y: ArrayLike, sex: object) -> Floats:
    """Give the comfortable level walking speed of adults over a few metres.

    Bohannon 1997, Age Ageing 26:15-19: 230 people, 7.6 m of indoor floor, so an upper bound for a
    walk of hours. Read by decade, straight between the middles of the decades.

    Parameters
    ----------
    age_y : array_like
        Age, years.
    sex : str or array_like of str
        "male" or "female".

    Returns
    -------
    ndarray
        m/s. NaN outside ages 20 to 79.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> float(comfortable_speed_m_s(45, "male"))
    1.462
    """
    return _bohannon(age_y, female=is_female(sex))


@published(SLOWING_LIMITS["bohannon_1997"])
def _bohannon(age_y: ArrayLike, *, female: ArrayLike) -> Floats:
    age = floats(age_y)
    return np.where(
        female,
        np.interp(age, BOHANNON_MIDDLE_AGE_Y, BOHANNON_FEMALE_M_S),
        np.interp(age, BOHANNON_MIDDLE_AGE_Y, BOHANNON_MALE_M_S),
    )


@dataclass(frozen=True, slots=True)
class LimitRule:
    """What one limit of a person means for the way.

    Attributes
    ----------
    max_slope : float
        Steepest slope, up or down, rise over run; infinite if none.
    stairs : bool
        True if stairs can be taken.
    refused : frozenset of str
        Surfaces that cannot be taken, words of `simulator.body.energy.TERRAIN_FACTORS`.
    speed_factor : float
        Share of the walker's speed.
    rest_factor : float
        Rest needed, as a multiple of the walker's.
    why : str
        Where the numbers come from.
    """

    max_slope: float
    stairs: bool
    refused: frozenset[str]
    speed_factor: float
    rest_factor: float
    why: str


WHEELCHAIR_RAMP_SLOPE: Final = 1 / 12
"""Steepest ramp of the ADA Standards for Accessible Design, 405.2 (from memory). Others are
stricter: ISO 21542 allows it for short ramps only and DIN 18040-1 stops at 6 % (both from memory);
ADA 403.3 wants walking surfaces no steeper than 5 % (from memory)."""

WHEELCHAIR_RAMP_STRICT_SLOPE: Final = 0.06
"""DIN 18040-1, from memory; a person alone on a long way should plan with this."""

LIMIT_RULES: Final[dict[str, LimitRule]] = {
    "no stairs": LimitRule(
        max_slope=math.inf,
        stairs=False,
        refused=frozenset(),
        speed_factor=1.0,
        rest_factor=1.5,
        why="rest: assumption, 1 to 2 times",
    ),
    "push-chair": LimitRule(
        max_slope=0.125,
        stairs=False,
        refused=frozenset({"sand", "mud", "rock"}),
        speed_factor=0.9,
        rest_factor=1.5,
        why="assumptions: slope 0.08 to 0.16, speed 0.8 to 1, rest 1 to 2 times",
    ),
    "wheels": LimitRule(
        max_slope=WHEELCHAIR_RAMP_SLOPE,
        stairs=False,
        refused=frozenset({"gravel", "grass", "ground", "sand", "mud", "rock"}),
        speed_factor=0.9,
        rest_factor=2.0,
        why="slope: ADA 405.2, from memory; assumptions: speed 0.6 to 1.2, rest 1 to 3 times",
    ),
}
"""Limits a plan may name. Kerbs, camber and width are not in map data: look before trusting."""

UNLIMITED: Final = LimitRule(
    max_slope=math.inf,
    stairs=True,
    refused=frozenset(),
    speed_factor=1.0,
    rest_factor=1.0,
    why="no limit",
)


def strictest(limits: Iterable[str]) -> LimitRule:
    """Join limits of one person or of a whole group into the rule that binds.

    Parameters
    ----------
    limits : iterable of str
        Words of `LIMIT_RULES`.

    Returns
    -------
    LimitRule
        The least slope, all refused surfaces, the slowest pace, the longest rest.

    Raises
    ------
    ValueError
        For an unknown word.

    Examples
    --------
    >>> strictest(["no stairs", "push-chair"]).max_slope
    0.125
    """
    rules = [LIMIT_RULES[one_of("limits", word, LIMIT_RULES)] for word in limits]
    if not rules:
        return UNLIMITED
    return LimitRule(
        max_slope=min(rule.max_slope for rule in rules),
        stairs=all(rule.stairs for rule in rules),
        refused=frozenset().union(*(rule.refused for rule in rules)),
        speed_factor=min(rule.speed_factor for rule in rules),
        rest_factor=max(rule.rest_factor for rule in rules),
        why="; ".join(dict.fromkeys(rule.why for rule in rules)),
    )


GROUP_SLOWER_M_S: Final = (0.12, 0.18)
"""Groups cross streets this much slower than people alone: Gates et al. 2006, Transp Res Rec
1982:38-47 (read in the abstract). Not applied: over hours a group is taken at its slowest."""


def group_speed_m_s(speed_m_s: ArrayLike, *, axis: int = 0) -> Floats:
    """Give the speed of a group that stays together: its slowest member's.

    Parameters
    ----------
    speed_m_s : array_like
        Speed of each member, m/s.
    axis : int
        Axis of the members.

    Returns
    -------
    ndarray
        m/s; NaN where any member's is unknown.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> float(group_speed_m_s([1.4, 1.1]))
    1.1
    """
    slowest: Floats = possible("speed_m_s", speed_m_s).min(axis=axis)
    return slowest


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


MIDDLE: Final = "middle"
"""Word for the median of the published models."""


def middle_speed_m_s(slope: ArrayLike) -> Floats:
    """Give the median speed of the published models that reach a slope.

    Parameters
    ----------
    slope : array_like
        Rise over run.

    Returns
    -------
    ndarray
        m/s; NaN where no model reaches.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(3.6 * float(middle_speed_m_s(0.0)), 2)
    4.13
    """
    return speed_band(slope).middle


SPEEDS: Final[dict[str, Callable[[ArrayLike], Floats]]] = {
    MIDDLE: middle_speed_m_s,
    **PACE_MODELS,
}
"""What a plan may choose: the median of the published models, or one of them."""


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
        Key of `SPEEDS`: the one the factor will be used with.

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
    speed = SPEEDS[one_of("model", model, SPEEDS)](slope)
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
