"""Published equations for the metabolic rate of walking: graded walking, Pandolf, Minetti.

Slope is rise over run, positive uphill in the direction of travel.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.body.limits import PERCENT, Floats, Limit, floats, published

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


LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
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


@published(LIMITS["lcda_2019"])
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


@published(LIMITS["pandolf_1977"])
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


@published(LIMITS["minetti_2002"])
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
