"""What makes a walker slower than the fits of speed say: surface, load, dark, hours, age.

Each is separate, to be switched and multiplied by the caller; 1 means no slowing.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.body.limits import Floats, Limit, floats, is_female, possible, published
from simulator.body.metabolism import PANDOLF_LOAD_W_KG, PANDOLF_SPEED, TERRAIN_FACTORS

LIMITS: Final[dict[str, tuple[Limit, ...]]] = {
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


@published(LIMITS["load_factor"])
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
BOHANNON_MEAN_M_S: Final = sum(BOHANNON_MALE_M_S + BOHANNON_FEMALE_M_S) / 12


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


@published(LIMITS["bohannon_1997"])
def _bohannon(age_y: ArrayLike, *, female: ArrayLike) -> Floats:
    age = floats(age_y)
    return np.where(
        female,
        np.interp(age, BOHANNON_MIDDLE_AGE_Y, BOHANNON_FEMALE_M_S),
        np.interp(age, BOHANNON_MIDDLE_AGE_Y, BOHANNON_MALE_M_S),
    )


def age_sex_factor(age_y: ArrayLike, sex: object) -> Floats:
    """Give the walking speed of an age and sex as a share of the mean adult's.

    `comfortable_speed_m_s` over the mean of its twelve groups, 1.381 m/s.

    Parameters
    ----------
    age_y : array_like
        Age, years.
    sex : str or array_like of str
        "male" or "female".

    Returns
    -------
    ndarray
        Factor, 0.92 to 1.06. NaN outside ages 20 to 79: no published speed was read for children
        or the very old; use one timed walk instead.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> round(float(age_sex_factor(75, "female")), 3)
    0.921
    """
    return comfortable_speed_m_s(age_y, sex) / BOHANNON_MEAN_M_S
