"""What effort a person can keep up: capacity by age, sex and mass, and its share by the hours.

The published capacities are means of people without disease who could take the test; about one in
six is a fifth or more below (`CAPACITY_SPREAD`). Illness, pregnancy, medicines, heat and height
take more. Past what can be kept, a person slows or stops: so does the walk here.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.arrays import Flags, Floats
from simulator.body.assumed import Assumed
from simulator.body.energy import ADULT_FROM_Y, LCDA_STANDING_W_KG, lcda_w_kg
from simulator.body.limits import Limit, floats, is_female, possible, published

# Myers et al. 2017 (Prog Cardiovasc Dis 60:21-29), the FRIEND registry; from memory.
FRIEND_ML_KG_MIN: Final = 79.9
FRIEND_PER_YEAR: Final = -0.39
FRIEND_FEMALE: Final = -13.7
FRIEND_PER_LB: Final = -0.127
LB_PER_KG: Final = 2.20462

ML_O2_MIN_PER_W: Final = 60.0 / 20.9
"""Oxygen used by a watt of metabolic rate [mL/min], at 20.9 kJ a litre; standard."""

CHILD_ML_KG_MIN: Final = (48.0, 42.0)
"""Capacity of boys and of girls of 8 to 16 [mL/kg/min]: Armstrong and Welsman 1994, Exerc Sport Sci
Rev 22:435-476; from memory, rounded down."""

LEAST_ML_KG_MIN: Final = 12.0
"""Capacity taken where the line of the registry falls below [mL/kg/min]; an assumption, 10 to 15:
about what living alone asks for."""

CAPACITY_SPREAD: Final = Assumed(
    0.8, 1.0, 1.2, "own capacity over the mean of age, sex and mass: one standard deviation"
)
"""Standard error of the registry's equation is about 7 mL/kg/min; from memory."""

# Bink 1962 (Ergonomics 5:25-28): share of the capacity that can be kept for a time; from memory.
BINK_LONGEST_MIN: Final = 5700.0
BINK_DIVISOR: Final = 3.1

LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "friend_2017": (
        Limit("age_y", 20, 79, "years", "from memory"),
        Limit("mass_kg", 40, 160, "kg", "assumption: the registry's own range was not read"),
    ),
    "bink_1962": (Limit("hours", 4 / 60, 24, "h", "4 min from memory; a day is an assumption"),),
    "sutherland_1980": (Limit("age_y", 1, 7, "years", "from memory"),),
    "bohannon_andrews_2011": (Limit("age_y", 20, 99, "years", "from memory"),),
}
"""How far each source reaches."""


def aerobic_capacity_ml_kg_min(mass_kg: ArrayLike, age_y: ArrayLike, sex: object) -> Floats:
    """Give the mean aerobic capacity of adults.

    Myers et al. 2017, Prog Cardiovasc Dis 60:21-29 (FRIEND registry, treadmill; from memory).

    Parameters
    ----------
    mass_kg : array_like
        Body mass, kg.
    age_y : array_like
        Age, years.
    sex : str or array_like of str
        "male" or "female".

    Returns
    -------
    ndarray
        Largest oxygen uptake, mL per kg and minute. NaN outside ages 20 to 79 and 40 to 160 kg.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(aerobic_capacity_ml_kg_min(80, 40, "male")), 1)
    41.9
    """
    return _friend(mass_kg, age_y, female=is_female(sex))


@published(LIMITS["friend_2017"])
def _friend(mass_kg: ArrayLike, age_y: ArrayLike, *, female: ArrayLike) -> Floats:
    return (
        FRIEND_ML_KG_MIN
        + FRIEND_PER_YEAR * floats(age_y)
        + np.where(female, FRIEND_FEMALE, 0.0)
        + FRIEND_PER_LB * LB_PER_KG * floats(mass_kg)
    )


def capacity_w(mass_kg: ArrayLike, age_y: ArrayLike, male: ArrayLike) -> Floats:
    """Give the aerobic capacity of anyone as a metabolic rate.

    `aerobic_capacity_ml_kg_min`, its line carried on beyond 79 years and 160 kg and held at
    `LEAST_ML_KG_MIN`; below 18 years `CHILD_ML_KG_MIN`, between 18 and 20 as at 20. What is carried
    on has no backing by the source: it stands in so that nobody goes unjudged.

    Parameters
    ----------
    mass_kg, age_y : array_like
        Body mass, kg, and age, years.
    male : array_like of bool
        Sex.

    Returns
    -------
    ndarray
        W.
    """
    mass, age = possible("mass_kg", mass_kg), possible("age_y", age_y)
    grown = (
        FRIEND_ML_KG_MIN
        + FRIEND_PER_YEAR * np.maximum(age, LIMITS["friend_2017"][0].low)
        + np.where(male, 0.0, FRIEND_FEMALE)
        + FRIEND_PER_LB * LB_PER_KG * np.maximum(mass, LIMITS["friend_2017"][1].low)
    )
    per_kg = np.maximum(grown, LEAST_ML_KG_MIN)
    boys, girls = CHILD_ML_KG_MIN
    per_kg = np.where(age < ADULT_FROM_Y, np.where(male, boys, girls), per_kg)
    return (per_kg * mass / ML_O2_MIN_PER_W)[()]


@published(LIMITS["bink_1962"])
def kept_share(hours: ArrayLike) -> Floats:
    """Give the share of the aerobic capacity that can be kept up for a time.

    Bink 1962, Ergonomics 5:25-28 (from memory); occupational guidance agrees with about a third
    over eight hours (NIOSH; from memory).

    Parameters
    ----------
    hours : array_like
        How long, h.

    Returns
    -------
    ndarray
        Share of the capacity, of the gross metabolic rate.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(kept_share(6)), 2)
    0.39
    """
    return (math.log10(BINK_LONGEST_MIN) - np.log10(60.0 * floats(hours))) / BINK_DIVISOR


ONE_WALK_FACTOR: Final = Assumed(
    1.0, 1.2, 1.4, "effort kept up on one walk over that kept up working day after day"
)
"""Bink's shares were made for work shifts; walkers on a single long day are found at 40 to 50 % of
their capacity (from memory)."""


def kept_w(capacity: ArrayLike, hours: ArrayLike) -> Floats:
    """Give the metabolic rate that can be kept up for some hours.

    `kept_share` of the capacity times `ONE_WALK_FACTOR`; times beyond its limits count as the
    nearest of them.

    Parameters
    ----------
    capacity : array_like
        From `capacity_w`, W.
    hours : array_like
        Time on foot, h.

    Returns
    -------
    ndarray
        W.
    """
    (span,) = LIMITS["bink_1962"]
    share = ONE_WALK_FACTOR.middle * kept_share(np.clip(hours, span.low, span.high))
    return (floats(capacity) * np.minimum(share, 1.0))[()]


SPEEDS_M_S: Final = np.geomspace(0.01, 1.95, 150)
"""Speeds at which the graded walking equation is asked; straight between them it is off by less
than 0.1 %."""


def speed_at_w_kg(rate_w_kg: ArrayLike, slope: float, terrain: float = 1.0) -> Floats:
    """Give the speed at which walking costs so much.

    The graded walking equation of Looney et al. 2019, the terrain factor on the part above
    standing as in `simulator.body.energy.walking_w`, solved for speed. It always rises with speed
    here: downhill, where it may not, the fastest speed at which no slower one costs more is given.

    Parameters
    ----------
    rate_w_kg : array_like
        Metabolic rate over body and bag together, W/kg.
    slope : float
        Rise over run; beyond the equation's limits as at the nearest of them.
    terrain : float
        Energy terrain factor.

    Returns
    -------
    ndarray
        m/s, 0.01 where even that costs more, 1.95 where no walking speed does.

    Examples
    --------
    >>> round(float(speed_at_w_kg(4.414, 0.0)), 2)
    1.34
    """
    held = min(max(slope, -0.40), 0.45)
    walking = np.asarray(lcda_w_kg(SPEEDS_M_S, held)) - LCDA_STANDING_W_KG
    cost = np.maximum.accumulate(LCDA_STANDING_W_KG + terrain * walking)
    return np.interp(floats(rate_w_kg), cost, SPEEDS_M_S)[()]


OLD_FROM_Y: Final = 65.0
"""Age from which cold, heat, thirst and falls call for more caution; common practice."""

OLDEST_BACKED_Y: Final = 79.0
"""Oldest age of the published equations of capacity and resting rate."""

CHILD_BELOW_Y: Final = 16.0
"""Age below which a walker counts as a child in what is judged; an assumption, 14 to 18."""

SLOPES_PCT: Final = (-40, 45)
RATE_STEP_W_KG: Final = 0.02
MOST_RATE_W_KG: Final = 16.0


@cache
def _speeds() -> Floats:
    """Lay `speed_at_w_kg` out by slope, to the percent, and rate; on pavement."""
    low, high = SLOPES_PCT
    rates = np.arange(LCDA_STANDING_W_KG, MOST_RATE_W_KG, RATE_STEP_W_KG)
    return np.stack([speed_at_w_kg(rates, slope / 100.0) for slope in range(low, high + 1)])


def kept_speed_m_s(rate_w_kg: Floats, slope: ArrayLike, terrain: ArrayLike) -> Floats:
    """Give the speed at which walking costs so much, read from a table, unchecked.

    `speed_at_w_kg` at the nearest percent of slope, straight between rates 0.02 W/kg apart: fit
    for the inner loop of a walk.

    Parameters
    ----------
    rate_w_kg : ndarray
        Metabolic rate over body and bag together, W/kg.
    slope, terrain : float or ndarray
        Rise over run, and the energy terrain factor.

    Returns
    -------
    ndarray
        m/s.
    """
    table = _speeds()
    low, high = SLOPES_PCT
    row = np.clip(np.rint(100.0 * floats(slope)), low, high).astype(np.intp) - low
    place = (rate_w_kg - LCDA_STANDING_W_KG) / (floats(terrain) * RATE_STEP_W_KG)
    place = np.clip(place, 0.0, table.shape[1] - 1.001)
    column = place.astype(np.intp)
    left = table[row, column]
    speed: Floats = left + (place - column) * (table[row, column + 1] - left)
    return speed


SLOWEST_SHARE: Final = Assumed(
    0.5, 0.7, 0.9, "share of the pace below which tired people stop rather than walk slower"
)
"""An effort is kept up by going slower down to this; what it then still asks too much is judged."""


# --- Pace by age ----------------------------------------------------------------------------------

# Bohannon and Williams Andrews 2011 (Physiotherapy 97:182-189), usual walking speed of 23,111
# people, meta-analysis; from memory. The last group is 80 to 99; 85 stands for its middle since
# most of it are in their eighties (an assumption, 83 to 88).
ANDREWS_AGE_Y: Final = (25.0, 35.0, 45.0, 55.0, 65.0, 75.0, 85.0)
ANDREWS_MALE_M_S: Final = (1.358, 1.433, 1.434, 1.433, 1.339, 1.262, 0.968)
ANDREWS_FEMALE_M_S: Final = (1.341, 1.337, 1.390, 1.313, 1.241, 1.132, 0.943)
ANDREWS_ADULT_M_S: Final = (sum(ANDREWS_MALE_M_S[:4]) + sum(ANDREWS_FEMALE_M_S[:4])) / 8
"""Mean of both sexes from 20 to 59: what a pace model of adults is taken to stand for."""

# Sutherland et al. 1980 (J Bone Joint Surg 62A:336-353), free speed of children, m/s; from memory.
SUTHERLAND_AGE_Y: Final = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0)
SUTHERLAND_M_S: Final = (0.64, 0.72, 0.86, 1.00, 1.08, 1.09, 1.14)
CHILD_GROWN_Y: Final = 16.0
"""Age at which a child's pace has grown to an adult's; an assumption, 14 to 18. Between 7 years and
this age the share rises straight."""


def pace_by_age(age_y: ArrayLike, male: ArrayLike) -> Floats:
    """Give the share of an adult's pace that people of an age and sex walk at.

    Usual speed of Bohannon and Williams Andrews 2011 over the mean of 20 to 59 years, never above
    1; children by Sutherland et al. 1980 up to 7 years, then straight to 1 at 16. Short walks
    indoors all: over hours the old and children fall back further than this.

    Parameters
    ----------
    age_y : array_like
        Age, years; beyond 85 as at 85.
    male : array_like of bool
        Sex.

    Returns
    -------
    ndarray
        Share, 0.46 to 1.

    Examples
    --------
    >>> [round(float(share), 2) for share in pace_by_age([8, 45, 75, 90], [True] * 4)]
    [0.85, 1.0, 0.91, 0.7]
    """
    age = possible("age_y", age_y)
    adult = np.where(
        male,
        np.interp(age, ANDREWS_AGE_Y, ANDREWS_MALE_M_S),
        np.interp(age, ANDREWS_AGE_Y, ANDREWS_FEMALE_M_S),
    )
    share = np.minimum(adult / ANDREWS_ADULT_M_S, 1.0)
    grown = SUTHERLAND_M_S[-1] / ANDREWS_ADULT_M_S
    young = np.interp(
        age,
        (*SUTHERLAND_AGE_Y, CHILD_GROWN_Y),
        (*(speed / ANDREWS_ADULT_M_S for speed in SUTHERLAND_M_S), 1.0),
    )
    child = np.where(age <= SUTHERLAND_AGE_Y[-1], np.minimum(young, grown), young)
    return np.where(age < CHILD_GROWN_Y, child, share)[()]


def is_frail(age_y: ArrayLike) -> Flags:
    """Say who is to be judged more warily than grown people of working age.

    Parameters
    ----------
    age_y : array_like
        Age, years.

    Returns
    -------
    ndarray of bool
        True for children and from `OLD_FROM_Y` on.
    """
    age = floats(age_y)
    frail: Flags = (age < CHILD_BELOW_Y) | (age >= OLD_FROM_Y)
    return frail
