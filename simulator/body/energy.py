"""What walking, standing and resting cost, and what food can and cannot do about it.

All rates are gross (they include resting) and in watts unless a name says otherwise. Slope is
rise over run, positive uphill in the direction of travel.

The load term is where the sources disagree most: for 5 kg on level ground at 1.34 m/s Pandolf adds
14 W, total-mass scaling of the graded walking equation 22 W, and Huang and Kuo's measurement 38 W
(`load_cost_spread_w`). Against the whole that is 4 to 10 %.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.arrays import Flags, Floats
from simulator.body.limits import (
    PERCENT,
    Limit,
    floats,
    inside,
    is_female,
    one_of,
    possible,
    published,
    unchecked,
)

# Looney et al. 2019a (Med Sci Sports Exerc 51:346-351), level part, and 2019b (51:1954-1960),
# graded part; restated in two independent publications, the papers not read.
LCDA_STANDING_W_KG: Final = 1.44
LCDA_SPEED: Final = 1.94
LCDA_SPEED_POWER: Final = 0.43
LCDA_FAST: Final = 0.24
LCDA_GRADE: Final = 0.34
LCDA_GRADE_OUTER: Final = 1.05
LCDA_GRADE_BASE: Final = 1.11
"""Base of the inner power: 1.11 in two published restatements, one with a worked example that only
1.11 reproduces; from memory 1.1. With 1.1 the result at 1.34 m/s differs by +9.6 % at -10 %,
+6.4 % at -5 %, -3.4 % at +5 % and -2.6 % at +10 %; on level ground by nothing."""
LCDA_GRADE_SHIFT_PCT: Final = 32.0

# Pandolf, Givoni, Goldman 1977 (J Appl Physiol 43:577-581); restated in several public sources.
PANDOLF_STANDING_W_KG: Final = 1.5
PANDOLF_LOAD_W_KG: Final = 2.0
PANDOLF_SPEED: Final = 1.5
PANDOLF_GRADE: Final = 0.35

# Santee et al. 2003 (USARIEM TN03-3) downhill correction: from memory, one public restatement
# agrees, other restatements in circulation differ.
SANTEE_SPEED_DIVISOR: Final = 3.5
SANTEE_GRADE_SHIFT_PCT: Final = 6.0
SANTEE_CONSTANT: Final = 25.0
SANTEE_BRIDGE_SLOPE: Final = -0.01
"""The correction is not zero at level: alone it would lift 80 + 5 kg at 1.34 m/s by 15 W as the
ground tips from level to the slightest descent. Between level and this slope the rate runs
straight from the level value to the corrected one; at and below it the correction is exact."""

# Minetti et al. 2002 (J Appl Physiol 93:1039-1046), walking, fifth power first; restated.
MINETTI_WALK: Final = (280.5, -58.7, -76.8, 51.9, 19.6, 2.5)

TERRAIN_FACTORS: Final[dict[str, float]] = {
    "paved": 1.0,  # blacktop, Pandolf list; restated
    "compacted": 1.1,  # dirt road, Pandolf list; restated
    "gravel": 1.15,  # assumption: between dirt and grass, the order Kowalsky et al. 2021 measured
    "grass": 1.2,  # assumption by the same order; the restated list gives grass 1.1
    "ground": 1.2,  # light brush, Pandolf list; restated
    "sand": 2.1,  # loose sand, from memory; restated elsewhere as 2.0
    "mud": 1.8,  # swampy bog, Pandolf list; restated
    "rock": 1.5,  # assumption: as heavy brush
    "unknown": 1.1,  # assumption: as a dirt road
}
"""Energy terrain factor by surface. It multiplies the walking part of the metabolic rate. It must
not divide speed: see `simulator.body.pace.SURFACE_SPEED_FACTORS`."""

PANDOLF_LOAD_SHARE: Final = 0.7
"""Heaviest load over body mass; from memory."""

SANTEE_LEAST_SPEED_M_S: Final = 0.7
"""Assumption, 0.5 to 1.2 m/s. The correction was measured at 1.34 m/s; at a slow pace it takes
more than walking costs."""


def _downhill_speed(values: Mapping[str, Floats]) -> Floats:
    moving_down = (values["slope"] < 0) & (values["speed_m_s"] > 0)
    return np.where(moving_down, values["speed_m_s"], np.inf)


EQUATION_LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "lcda_2019": (
        Limit("speed_m_s", 0, 1.96, "m/s", "read in the abstract"),
        Limit("slope", -0.40, 0.45, "", "read in the abstract"),
    ),
    "pandolf_1977": (
        Limit("speed_m_s", 0, 2.5, "m/s", "from memory, with Givoni and Goldman 1971"),
        Limit("slope", -0.15, 0.25, "", "downhill field tests -12 to +12 %; rest from memory"),
        Limit(
            "speed_m_s downhill",
            SANTEE_LEAST_SPEED_M_S,
            math.inf,
            "m/s",
            "assumption; measured at 1.34 m/s (Santee et al. 2001, read in the abstract)",
            _downhill_speed,
            lambda spans: spans["speed_m_s"][0] >= SANTEE_LEAST_SPEED_M_S,
        ),
        Limit(
            "load_kg / mass_kg",
            0,
            PANDOLF_LOAD_SHARE,
            "",
            "from memory",
            lambda values: values["load_kg"] / values["mass_kg"],
            lambda spans: spans["load_kg"][1] / spans["mass_kg"][0] <= PANDOLF_LOAD_SHARE,
        ),
    ),
    "minetti_2002": (Limit("slope", -0.45, 0.45, "", "read in the abstract"),),
    "total_mass": (
        Limit(
            "load_kg / mass_kg",
            0,
            0.4,
            "",
            "Huang and Kuo 2014: cost linear in load up to 40 % of body weight; read",
            lambda values: values["load_kg"] / values["mass_kg"],
        ),
    ),
}
"""How far each source reaches; names are author and year."""


@published(EQUATION_LIMITS["lcda_2019"])
def lcda_w_kg(
    speed_m_s: ArrayLike, slope: ArrayLike, *, grade_base: float = LCDA_GRADE_BASE
) -> Floats:
    """Give the metabolic rate per kilogram by the graded walking equation.

    Looney et al. 2019, Med Sci Sports Exerc 51:346-351 and 51:1954-1960. Level part restated;
    standard error 0.20 W/kg level and 0.42 W/kg graded (read in the abstract).

    Parameters
    ----------
    speed_m_s : array_like
        Walking speed, m/s.
    slope : array_like
        Rise over run.
    grade_base : float
        Base of the inner power; see `LCDA_GRADE_BASE` for the doubt about it.

    Returns
    -------
    ndarray
        Gross metabolic rate, W per kg. At speed 0 the standing rate, whatever the slope.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere. Fitted to people without load.

    Examples
    --------
    >>> round(float(lcda_w_kg(1.34, 0.05)), 4)
    6.4567
    """
    grade_pct = PERCENT * floats(slope)
    speed = floats(speed_m_s)
    inner: Floats = np.exp((grade_pct + LCDA_GRADE_SHIFT_PCT) * np.log(grade_base))
    bend: Floats = 1.0 - np.exp(np.log(LCDA_GRADE_OUTER) * (1.0 - inner))
    square = speed * speed
    power: Floats = speed**LCDA_SPEED_POWER
    level = LCDA_STANDING_W_KG + LCDA_SPEED * power + LCDA_FAST * (square * square)
    return level + LCDA_GRADE * speed * grade_pct * bend


@published(EQUATION_LIMITS["pandolf_1977"])
def pandolf_w(
    mass_kg: ArrayLike,
    load_kg: ArrayLike,
    speed_m_s: ArrayLike,
    slope: ArrayLike,
    terrain: ArrayLike = 1.0,
) -> Floats:
    """Give the whole-body metabolic rate of load carriage, corrected downhill.

    Pandolf, Givoni and Goldman 1977, J Appl Physiol 43:577-581 (restated); downhill Santee et al.
    2003, USARIEM TN03-3 (from memory). Below level the correction applies in full from -1 % on;
    between level and -1 % the rate is bridged straight, because the correction alone jumps there
    (`SANTEE_BRIDGE_SLOPE`). It is held at the standing rate, which it would undercut for light
    people walking slowly. Standing (speed 0) has no slope.

    Parameters
    ----------
    mass_kg, load_kg : array_like
        Mass of the body and of all that it carries, kg.
    speed_m_s : array_like
        Walking speed, m/s.
    slope : array_like
        Rise over run.
    terrain : array_like
        Energy terrain factor, as in `TERRAIN_FACTORS`.

    Returns
    -------
    ndarray
        Gross metabolic rate, W.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere. Fitted to fit young men; reported to be too low for heavy
    modern loads (Drain et al. 2017, restated).

    Examples
    --------
    >>> round(float(pandolf_w(80, 5, 1.34, -0.05)), 2)
    290.85
    """
    mass, speed, grade_pct = floats(mass_kg), floats(speed_m_s), PERCENT * floats(slope)
    ratio = floats(load_kg) / mass
    total = mass + floats(load_kg)
    moved = total * speed
    standing = PANDOLF_STANDING_W_KG * mass + PANDOLF_LOAD_W_KG * total * (ratio * ratio)
    level = PANDOLF_SPEED * moved * speed
    change = PANDOLF_GRADE * moved * np.maximum(grade_pct, 0.0)
    if np.any(grade_pct < 0):
        # Uncorrected less level less correction, gathered; in part on the bridge, none uphill.
        bridge_pct = PERCENT * SANTEE_BRIDGE_SLOPE
        steep_pct = np.minimum(grade_pct, bridge_pct)
        shifted = steep_pct + SANTEE_GRADE_SHIFT_PCT
        corrected = (
            (PANDOLF_GRADE - 1.0 / SANTEE_SPEED_DIVISOR) * steep_pct * moved
            + (1.0 + ratio) * (shifted * shifted)
            + (speed * speed - SANTEE_CONSTANT)
        )
        part = np.minimum(np.maximum(grade_pct * (1.0 / bridge_pct), 0.0), 1.0)
        change = np.maximum(change + part * corrected, -level)
        still = speed == 0
        if np.any(still):
            change = np.where(still, 0.0 * change, change)
    return standing + floats(terrain) * (level + change)


@published(EQUATION_LIMITS["minetti_2002"])
def minetti_walk_j_kg_m(slope: ArrayLike) -> Floats:
    """Give the net cost of walking a metre along the path.

    Minetti et al. 2002, J Appl Physiol 93:1039-1046 (restated); ten elite mountain runners. Net
    of resting (from memory). The paper's own means differ from its polynomial: 1.64 against 2.5
    on the level (its cheapest speed), least cost at -10 % against -15 %.

    Parameters
    ----------
    slope : array_like
        Rise over run.

    Returns
    -------
    ndarray
        J per kg and metre along the path.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Notes
    -----
    Valid for {limits}; NaN elsewhere.

    Examples
    --------
    >>> round(float(minetti_walk_j_kg_m(0.1)), 4)
    4.8991
    """
    gradient = floats(slope)
    cost: Floats = np.full_like(gradient, MINETTI_WALK[0])
    for coefficient in MINETTI_WALK[1:]:
        cost = cost * gradient + coefficient
    return cost


J_PER_KCAL: Final = 4184.0
W_PER_KCAL_H: Final = J_PER_KCAL / 3600.0

KCAL_PER_G_CARBOHYDRATE: Final = 4.0  # Atwater; from memory

EAT_KCAL_H: Final = (30.0 * KCAL_PER_G_CARBOHYDRATE, 60.0 * KCAL_PER_G_CARBOHYDRATE)
"""What the gut takes up well during exercise: 30 to 60 g of carbohydrate an hour (Thomas, Erdman
and Burke 2016, Med Sci Sports Exerc 48:543-568; from memory). At walking pace less is fine."""

MAX_EAT_KCAL_H: Final = EAT_KCAL_H[1]
"""The upper end of `EAT_KCAL_H`."""

GLYCOGEN_KCAL: Final = (1500.0, 2400.0)
"""Carbohydrate stored in a fed adult's muscles and liver; from memory. A walk home of 25 km uses
about 1600 kcal, part of it fat."""

ATWATER_KCAL_G: Final[dict[str, float]] = {
    "protein": 4.0,
    "carbohydrate": 4.0,
    "fat": 9.0,
    "alcohol": 7.0,
    "fibre": 2.0,
}
"""Energy of food by component, kcal per g (Merrill and Watt 1973; from memory)."""

ONE_DAY_SHORTAGE: Final = (
    "A healthy adult can walk for a day with little or no food: the body's stores cover it. "
    "Expect to be slower, colder, hungry and short-tempered, and to judge worse; a little often "
    "helps more than much at once. Being short of food for a day is not starvation, and is no "
    "reason to leave the way or to go without water. It is different for people who take insulin "
    "or other medicine that lowers blood sugar, for small children, in pregnancy and in illness: "
    "they need to eat, and should ask their doctor beforehand."
)
"""What a one-day shortage of food does and does not mean, in plain words."""


def eat_kcal(used_kcal: ArrayLike, left_kcal: ArrayLike, hours: ArrayLike) -> Floats:
    """Give what to eat now: what was used, from what is left, no faster than it is taken up.

    Parameters
    ----------
    used_kcal : array_like
        Energy used and not yet eaten, kcal.
    left_kcal : array_like
        Energy of the food carried, kcal.
    hours : array_like
        Time it is eaten over, h.

    Returns
    -------
    ndarray
        kcal.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> [float(kcal) for kcal in eat_kcal([100, 900, 900], [500, 500, 50], 1.0)]
    [100.0, 240.0, 50.0]
    """
    most = MAX_EAT_KCAL_H * possible("hours", hours)
    wanted = np.maximum(floats(used_kcal), 0.0)
    return np.minimum(np.minimum(wanted, possible("left_kcal", left_kcal)), most)[()]


RESTING_W_KG: Final = 3.5 / 60 * 20.0  # 1 MET of 3.5 ml/kg/min at about 20 J/ml; common practice

# Mifflin, St Jeor et al. 1990 (Am J Clin Nutr 51:241-247); from memory, standard form.
MIFFLIN_KCAL_DAY_KG: Final = 10.0
MIFFLIN_KCAL_DAY_M: Final = 625.0
MIFFLIN_KCAL_DAY_YEAR: Final = -5.0
MIFFLIN_KCAL_DAY_MALE: Final = 5.0
MIFFLIN_KCAL_DAY_FEMALE: Final = -161.0
H_PER_DAY: Final = 24.0

# Huang and Kuo 2014 (J Exp Biol 217:605-613), at 1.25 m/s; read.
HUANG_KUO_LOAD_W_KG: Final = 7.6

LIMITS: Final[dict[str, tuple[Limit, ...]]] = EQUATION_LIMITS | {
    "mifflin_1990": (Limit("age_y", 19, 78, "years", "from memory"),),
}
"""How far each source reaches; names are author and year."""

LOAD_SHARE: Final = "load_kg / mass_kg"
"""Name of the limit of the load."""

WALKING_LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
    "lcda": LIMITS["lcda_2019"] + LIMITS["total_mass"],
    "pandolf": LIMITS["pandolf_1977"],
    "minetti": LIMITS["minetti_2002"],
}
"""Limits of each model of `walking_w`, by its word."""


def resting_w(mass_kg: ArrayLike, height_m: ArrayLike, age_y: ArrayLike, sex: object) -> Floats:
    """Give the resting metabolic rate.

    Mifflin, St Jeor et al. 1990, Am J Clin Nutr 51:241-247 (from memory, standard form).

    Parameters
    ----------
    mass_kg, height_m, age_y : array_like
        Body mass in kg, height in m, age in years.
    sex : str or array_like of str
        "male" or "female".

    Returns
    -------
    ndarray
        W. NaN outside ages 19 to 78.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(resting_w(80, 1.78, 40, "male")), 2)
    83.17
    """
    constant = np.where(is_female(sex), MIFFLIN_KCAL_DAY_FEMALE, MIFFLIN_KCAL_DAY_MALE)
    return _mifflin_w(mass_kg, height_m, age_y, constant)


@published(LIMITS["mifflin_1990"])
def _mifflin_w(
    mass_kg: ArrayLike, height_m: ArrayLike, age_y: ArrayLike, constant_kcal_day: Floats
) -> Floats:
    kcal_day = (
        MIFFLIN_KCAL_DAY_KG * floats(mass_kg)
        + MIFFLIN_KCAL_DAY_M * floats(height_m)
        + MIFFLIN_KCAL_DAY_YEAR * floats(age_y)
        + constant_kcal_day
    )
    return kcal_day * (W_PER_KCAL_H / H_PER_DAY)


ADULT_FROM_Y: Final = 18.0
"""Age from which the equations for adults are used; common practice, and the end of Schofield's."""

# Schofield 1985, as in FAO/WHO/UNU 2001: kcal a day from kg, by the age from which it holds; from
# memory. Boys, then girls.
SCHOFIELD: Final = (
    (0.0, (59.512, -30.4), (58.317, -31.1)),
    (3.0, (22.706, 504.3), (20.315, 485.9)),
    (10.0, (17.686, 658.2), (13.384, 692.6)),
)


def child_resting_w(mass_kg: ArrayLike, age_y: ArrayLike, male: ArrayLike) -> Floats:
    """Give the resting metabolic rate of a child.

    Schofield 1985 as adopted by FAO/WHO/UNU 2001 (from memory).

    Parameters
    ----------
    mass_kg, age_y : array_like
        Body mass, kg, and age, years; from 18 years on as at 17.
    male : array_like of bool
        Sex.

    Returns
    -------
    ndarray
        W.

    Examples
    --------
    >>> round(float(child_resting_w(27, 8, True)))
    54
    """
    mass, age = possible("mass_kg", mass_kg), possible("age_y", age_y)
    watts = np.zeros(np.broadcast_shapes(mass.shape, age.shape, np.shape(male)))
    for from_y, boys, girls in SCHOFIELD:
        per_kg, constant = (np.where(male, *pair) for pair in zip(boys, girls, strict=True))
        watts = np.where(
            age >= from_y, (per_kg * mass + constant) * W_PER_KCAL_H / H_PER_DAY, watts
        )
    return watts[()]


def resting_of(
    mass_kg: ArrayLike, height_m: ArrayLike, age_y: ArrayLike, male: ArrayLike
) -> Floats:
    """Give the resting metabolic rate of people of any age.

    `resting_w` within its ages, older people as at its oldest; children by `child_resting_w`, and
    from 18 to 19 as at 19.

    Parameters
    ----------
    mass_kg, height_m, age_y : array_like
        Body mass in kg, height in m, age in years.
    male : array_like of bool
        Sex.

    Returns
    -------
    ndarray
        W.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.
    """
    (span,) = LIMITS["mifflin_1990"]
    age = possible("age_y", age_y)
    constant = np.where(male, MIFFLIN_KCAL_DAY_MALE, MIFFLIN_KCAL_DAY_FEMALE)
    grown = _mifflin_w(mass_kg, height_m, np.clip(age, span.low, span.high), constant)
    return np.where(age < ADULT_FROM_Y, child_resting_w(mass_kg, age, male), grown)[()]


@published()
def standing_w(mass_kg: ArrayLike) -> Floats:
    """Give the metabolic rate of quiet standing.

    The walking equation at speed 0 (Looney et al. 2019, restated): 1.44 W/kg. For 80 kg 115 W;
    Pandolf says 120 W, Mifflin-St Jeor times 1.3 about 108 W.

    Parameters
    ----------
    mass_kg : array_like
        Body mass, kg.

    Returns
    -------
    ndarray
        W.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(standing_w(80)), 1)
    115.2
    """
    return LCDA_STANDING_W_KG * floats(mass_kg)


def _lcda_total_w(
    mass_kg: ArrayLike,
    load_kg: ArrayLike,
    speed_m_s: ArrayLike,
    slope: ArrayLike,
    terrain: ArrayLike,
) -> Floats:
    watts = _lcda_any_load_w(mass_kg, load_kg, speed_m_s, slope, terrain)
    masses = {"mass_kg": floats(mass_kg), "load_kg": floats(load_kg)}
    kept = inside(LIMITS["total_mass"], masses)
    return watts if np.all(kept) else np.where(kept, watts, np.nan)[()]


def _lcda_any_load_w(
    mass_kg: ArrayLike,
    load_kg: ArrayLike,
    speed_m_s: ArrayLike,
    slope: ArrayLike,
    terrain: ArrayLike,
) -> Floats:
    mass, load = possible("mass_kg", mass_kg), possible("load_kg", load_kg)
    eta = possible("terrain", terrain)
    walking = lcda_w_kg(speed_m_s, slope) - LCDA_STANDING_W_KG
    watts: Floats = (mass + load) * (LCDA_STANDING_W_KG + eta * walking)
    return watts


def _minetti_total_w(
    mass_kg: ArrayLike,
    load_kg: ArrayLike,
    speed_m_s: ArrayLike,
    slope: ArrayLike,
    terrain: ArrayLike,
) -> Floats:
    mass, load = possible("mass_kg", mass_kg), possible("load_kg", load_kg)
    return RESTING_W_KG * mass + (mass + load) * _minetti_net_w_kg(speed_m_s, slope, terrain)


def _minetti_net_w_kg(speed_m_s: ArrayLike, slope: ArrayLike, terrain: ArrayLike) -> Floats:
    speed, eta = possible("speed_m_s", speed_m_s), possible("terrain", terrain)
    gradient = possible("slope", slope)
    path_m_s = speed * np.sqrt(1.0 + gradient * gradient)
    return eta * (path_m_s * minetti_walk_j_kg_m(gradient))


_TOTAL_W: Final = {"lcda": _lcda_total_w, "pandolf": pandolf_w, "minetti": _minetti_total_w}

_PANDOLF_BUT_LOAD: Final = tuple(
    limit for limit in LIMITS["pandolf_1977"] if limit.quantity != LOAD_SHARE
)
_ANY_LOAD_W: Final = {
    "lcda": _lcda_any_load_w,
    "pandolf": published(_PANDOLF_BUT_LOAD)(unchecked(pandolf_w)),
}


def walking_w(
    mass_kg: ArrayLike,
    load_kg: ArrayLike,
    speed_m_s: ArrayLike,
    slope: ArrayLike,
    terrain: ArrayLike = 1.0,
    *,
    model: str = "lcda",
    steep_ground: bool = False,
) -> Floats:
    """Give the total metabolic rate of walking with a load.

    "lcda" is the graded walking equation times body and load together; the terrain factor
    multiplies the part above standing, as it does in Pandolf's equation. "pandolf" is `pandolf_w`.
    "minetti" is the cost per metre of path times total mass, plus resting at one MET.

    Parameters
    ----------
    mass_kg, load_kg : array_like
        Mass of the body and of all that it carries, kg.
    speed_m_s : array_like
        Walking speed along the map, m/s.
    slope : array_like
        Rise over run.
    terrain : array_like
        Energy terrain factor, as in `TERRAIN_FACTORS`.
    model : str
        "lcda", "pandolf" or "minetti".
    steep_ground : bool
        Where only the slope leaves the model's limits, use "minetti" instead of NaN. The models
        do not meet there: for 60 to 100 kg at Tobler's pace the rate drops at the border by up to
        6 % from "lcda", and from "pandolf" by up to 5 % uphill and 35 % downhill.

    Returns
    -------
    ndarray
        Gross metabolic rate, W; NaN outside the limits (`WALKING_LIMITS`), which
        `walking_limits` names.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(walking_w(80, 5, 1.34, 0.0)), 1)
    375.2
    """
    watts = _TOTAL_W[one_of("model", model, _TOTAL_W)](mass_kg, load_kg, speed_m_s, slope, terrain)
    if not steep_ground or not np.any(np.isnan(watts)):
        return watts
    failed = walking_limits(mass_kg, load_kg, speed_m_s, slope, model=model)
    only_slope = failed.pop("slope", np.False_)
    for other in failed.values():
        only_slope = only_slope & ~other
    steep = _minetti_total_w(mass_kg, load_kg, speed_m_s, slope, terrain)
    return np.where(only_slope, steep, watts)[()]


def heavy_walking_w(
    mass_kg: ArrayLike,
    load_kg: ArrayLike,
    speed_m_s: ArrayLike,
    slope: ArrayLike,
    terrain: ArrayLike = 1.0,
    *,
    model: str = "lcda",
) -> Floats:
    """Give a rate to stand in where the load is beyond what was measured.

    Assumption: up to the heaviest load of the model its own formula, from there on the same
    formula scaled on, or each further kilogram at what "minetti" says it costs, whichever is more.
    So the rate has no jump where the load leaves the limit, and a heavier load never costs less.
    Heavy modern loads are reported to cost more than Pandolf says (Drain et al. 2017, restated).

    Parameters
    ----------
    mass_kg, load_kg, speed_m_s, slope, terrain : array_like
        As for `walking_w`.
    model : str
        "lcda" or "pandolf".

    Returns
    -------
    ndarray
        Gross metabolic rate, W; NaN where another limit than the load's is left.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> [round(float(heavy_walking_w(60, load, 1.34, 0.0)), 1) for load in (24, 25, 30)]
    [370.8, 375.2, 397.3]
    """
    own = _ANY_LOAD_W[one_of("model", model, _ANY_LOAD_W)]
    (most,) = (limit.high for limit in WALKING_LIMITS[model] if limit.quantity == LOAD_SHARE)
    mass, load = possible("mass_kg", mass_kg), possible("load_kg", load_kg)
    measured = np.minimum(load, most * mass)
    further = (load - measured) * _minetti_net_w_kg(speed_m_s, slope, terrain)
    scaled = own(mass, load, speed_m_s, slope, terrain)
    return np.maximum(scaled, own(mass, measured, speed_m_s, slope, terrain) + further)[()]


def walking_limits(
    mass_kg: ArrayLike,
    load_kg: ArrayLike,
    speed_m_s: ArrayLike,
    slope: ArrayLike,
    *,
    model: str = "lcda",
) -> dict[str, Flags]:
    """Say which limits of a walking model are left, and where.

    Parameters
    ----------
    mass_kg, load_kg, speed_m_s, slope : array_like
        As for `walking_w`.
    model : str
        "lcda", "pandolf" or "minetti".

    Returns
    -------
    dict of str to ndarray of bool
        Quantity of each limit of the model: True where it is left (or the input is missing).

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.
    """
    values = {
        "mass_kg": possible("mass_kg", mass_kg),
        "load_kg": possible("load_kg", load_kg),
        "speed_m_s": possible("speed_m_s", speed_m_s),
        "slope": possible("slope", slope),
    }
    limits = WALKING_LIMITS[one_of("model", model, WALKING_LIMITS)]
    return {limit.quantity: ~inside((limit,), values) for limit in limits}


def load_cost_spread_w(
    mass_kg: ArrayLike, load_kg: ArrayLike, speed_m_s: ArrayLike = 1.34
) -> tuple[Floats, Floats, Floats]:
    """Give what a load adds on level ground by the three sources that disagree.

    Parameters
    ----------
    mass_kg, load_kg : array_like
        Body and load, kg.
    speed_m_s : array_like
        Walking speed, m/s.

    Returns
    -------
    tuple of ndarray
        W added by Pandolf 1977 (low), by total-mass scaling of the walking equation (the one
        `walking_w` uses) and by Huang and Kuo 2014 (high; measured at 1.25 m/s).

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> [round(float(watts), 1) for watts in load_cost_spread_w(80, 5)]
    [14.1, 22.1, 38.0]
    """
    low = pandolf_w(mass_kg, load_kg, speed_m_s, 0.0) - pandolf_w(mass_kg, 0.0, speed_m_s, 0.0)
    middle = _lcda_total_w(mass_kg, load_kg, speed_m_s, 0.0, 1.0) - _lcda_total_w(
        mass_kg, 0.0, speed_m_s, 0.0, 1.0
    )
    high = HUANG_KUO_LOAD_W_KG * possible("load_kg", load_kg)
    return low, middle, high[()]
