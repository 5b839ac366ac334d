"""What walking, standing and resting cost, and what food can and cannot do about it.

All rates are gross (they include resting) and in watts unless a name says otherwise. Slope is
rise over run, positive uphill in the direction of travel.

The load term is where the sources disagree most: for 5 kg on level ground at 1.34 m/s Pandolf adds
14 W, total-mass scaling of the graded walking equation 22 W, and Huang and Kuo's measurement 38 W
(`load_cost_spread_w`). Against the whole that is 4 to 10 %.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.body.food import (
    GLYCOGEN_KCAL,
    J_PER_KCAL,
    MAX_EAT_KCAL_H,
    ONE_DAY_SHORTAGE,
    W_PER_KCAL_H,
    eat_kcal,
)
from simulator.body.limits import (
    Flags,
    Floats,
    Limit,
    floats,
    inside,
    is_female,
    one_of,
    possible,
    published,
    unchecked,
)
from simulator.body.metabolism import (
    LCDA_GRADE_BASE,
    LCDA_STANDING_W_KG,
    TERRAIN_FACTORS,
    lcda_w_kg,
    minetti_walk_j_kg_m,
    pandolf_w,
)
from simulator.body.metabolism import LIMITS as EQUATION_LIMITS

__all__ = (
    "GLYCOGEN_KCAL",
    "J_PER_KCAL",
    "LCDA_GRADE_BASE",
    "LIMITS",
    "MAX_EAT_KCAL_H",
    "ONE_DAY_SHORTAGE",
    "TERRAIN_FACTORS",
    "WALKING_LIMITS",
    "W_PER_KCAL_H",
    "eat_kcal",
    "heavy_walking_w",
    "lcda_w_kg",
    "load_cost_spread_w",
    "minetti_walk_j_kg_m",
    "pandolf_w",
    "resting_w",
    "standing_w",
    "walking_limits",
    "walking_w",
)

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
