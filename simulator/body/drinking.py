"""How much to drink, and what too little and too much of it do.

Drink by need and keep looking for more; do not ration water below need. Do not drink more than is
lost either: too much is dangerous too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.arrays import Flags, Floats
from simulator.body.limits import PERCENT, floats, possible
from simulator.units import Units

MAX_DRINK_ML_H: Final = 1420.0
"""Most to drink in an hour: 1.5 US quarts, TB MED 507 / NAVMED P-5052-5; restated by several
military sites."""

MAX_DRINK_ML_DAY: Final = 11_360.0
"""Most to drink in a day: 12 US quarts, same source."""

STANDARD_DRINKER_KG: Final = 75.0
"""Body that the two limits are told for: soldiers of about 75 kg; from memory."""

UNFELT_LOSS_PCT: Final = 0.25
"""Water lost and not drunk that is no shortage yet, in percent of body mass: a quarter of what
first brings thirst (1 to 2 %, from memory). An assumption, 0.1 to 0.5."""

DO_NOT_RATION: Final = (
    "Do not ration water below need: drink when thirsty, look for more, and rest in shade or "
    "shelter to lose less. Never drink sea water, urine or spirits."
)
"""Guidance of public emergency agencies (restated), in plain words."""


def unfelt_ml(mass_kg: ArrayLike) -> Floats:
    """Give the water that a body may lack before it counts as a shortage.

    Parameters
    ----------
    mass_kg : array_like
        Body mass [kg].

    Returns
    -------
    float64 array
        Lack that is not felt [mL].

    Examples
    --------
    >>> float(unfelt_ml(80.0))
    200.0
    """
    return 10.0 * UNFELT_LOSS_PCT * np.asarray(mass_kg, dtype=np.float64)


def most_drink_ml_h(mass_kg: ArrayLike) -> Floats:
    """Give the most that is safe to drink in an hour.

    `MAX_DRINK_ML_H` by body mass, never above it. Children of 9 to 12 are told 0.1 to 0.25 L every
    20 minutes (American Academy of Pediatrics 2011; from memory), which this keeps within.

    Parameters
    ----------
    mass_kg : array_like
        Body mass, kg.

    Returns
    -------
    ndarray
        mL.

    Examples
    --------
    >>> round(float(most_drink_ml_h(27)))
    511
    """
    return (MAX_DRINK_ML_H * _of_standard(mass_kg))[()]


def _of_standard(mass_kg: ArrayLike) -> Floats:
    """Body mass over the one that the limits are told for, at most 1."""
    return np.minimum(possible("mass_kg", mass_kg) / STANDARD_DRINKER_KG, 1.0)


def do_not_overdrink(units: Units, mass_kg: float = STANDARD_DRINKER_KG) -> str:
    """Warn of drinking too much, with the most that is safe.

    Parameters
    ----------
    units : Units
        The system it is told in.
    mass_kg : float
        Body mass of the lightest who walks, kg.

    Returns
    -------
    str
        ACSM position stand (Sawka et al. 2007; read in summary) and TB MED 507, in plain words.

    Examples
    --------
    >>> "1.5 qt in an hour" in do_not_overdrink(Units("us"))
    True
    """
    share = float(_of_standard(mass_kg))
    hour, day = (units.volume(share * most_ml) for most_ml in (MAX_DRINK_ML_H, MAX_DRINK_ML_DAY))
    who = "" if share == 1.0 else f" at {units.mass(mass_kg)}"
    return (
        f"Drink by thirst, never more than is lost, nor more than {hour} in an hour or {day} in a "
        f"day{who}: too much water dilutes the blood's salt, which can kill. Headache, nausea, "
        "swollen hands and confusion with clear urine mean too much: stop drinking, eat something "
        "salty, get help."
    )


DO_NOT_OVERDRINK: Final = do_not_overdrink(Units())
"""The same with metric units first."""


@dataclass(frozen=True, slots=True)
class DehydrationStep:
    """What a loss of body mass as water means.

    Attributes
    ----------
    from_pct : float
        Loss from which it applies, % of body mass.
    means : str
        In plain words.
    source : str
        Where it comes from, and how well that is known.
    """

    from_pct: float
    means: str
    source: str


DEHYDRATION_STEPS: Final = (
    DehydrationStep(0.0, "no effect expected", "common practice"),
    DehydrationStep(1.0, "thirst", "from memory"),
    DehydrationStep(
        2.0,
        "slower, worse judgement and mood, more heat strain: drink and rest now",
        "ACSM 2007 and NATA 2017; read in summary",
    ),
    DehydrationStep(5.0, "headache, irritability, marked heat strain: stop", "from memory"),
    DehydrationStep(8.0, "medical emergency: get help", "from memory"),
)
"""Loss of body mass and what it means. Illness, age and medicines lower the thresholds."""


def dehydration_step(body_mass_loss_pct: float) -> DehydrationStep:
    """Give the published step that a loss of water has reached.

    Parameters
    ----------
    body_mass_loss_pct : float
        Water that was needed and not drunk, % of body mass; a surplus counts as no loss. On a
        long hot way it can be more than a body holds: nobody lives to owe that, and the gravest
        step is given.

    Returns
    -------
    DehydrationStep
        One of `DEHYDRATION_STEPS`.

    Raises
    ------
    ValueError
        When the loss is not known.

    Examples
    --------
    >>> dehydration_step(2.3).from_pct
    2.0
    """
    loss = float(body_mass_loss_pct)
    if np.isnan(loss):
        msg = "body_mass_loss_pct is not known; allowed: a number of %"
        raise ValueError(msg)
    reached = [step for step in DEHYDRATION_STEPS if step.from_pct <= max(loss, 0.0)]
    return reached[-1]


def drink_ml(
    deficit_ml: ArrayLike,
    left_ml: ArrayLike,
    hours: ArrayLike,
    *,
    drunk_today_ml: ArrayLike = 0.0,
    mass_kg: ArrayLike = STANDARD_DRINKER_KG,
) -> Floats:
    """Give what to drink now: by need, from what is left, up to the safe rate.

    Parameters
    ----------
    deficit_ml : array_like
        Water lost and not yet replaced, ml.
    left_ml : array_like
        Water carried or at hand, ml.
    hours : array_like
        Time it is drunk over, h.
    drunk_today_ml : array_like
        Drunk so far this day, ml.
    mass_kg : array_like
        Body mass, kg.

    Returns
    -------
    ndarray
        ml; never more than is lacking, so over-drinking cannot come of it.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> float(drink_ml(3000, 5000, 1.0))
    1420.0
    """
    lacking = np.maximum(floats(deficit_ml), 0.0)
    most_day = MAX_DRINK_ML_DAY * _of_standard(mass_kg)
    day = np.maximum(most_day - possible("drunk_today_ml", drunk_today_ml, "drunk_ml"), 0.0)
    safe = np.minimum(most_drink_ml_h(mass_kg) * possible("hours", hours), day)
    return np.minimum(np.minimum(lacking, possible("left_ml", left_ml, "drunk_ml")), safe)[()]


def over_drinking(
    drunk_ml: ArrayLike,
    lost_ml: ArrayLike,
    hours: ArrayLike,
    *,
    drunk_today_ml: ArrayLike = 0.0,
    mass_kg: ArrayLike = STANDARD_DRINKER_KG,
) -> Flags:
    """Say where drinking is too much.

    Parameters
    ----------
    drunk_ml, lost_ml : array_like
        Drunk and lost over the same time, ml.
    hours : array_like
        That time, h.
    drunk_today_ml : array_like
        Drunk in the whole day, this included, ml.
    mass_kg : array_like
        Body mass, kg.

    Returns
    -------
    ndarray of bool
        True where more is drunk than lost (ACSM 2007), or faster than 1.42 l an hour or 11.36 l a
        day (TB MED 507), less for a body lighter than theirs. Missing input gives
        False, which does not mean that all is well.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> bool(over_drinking(1000, 400, 1.0))
    True
    """
    drunk = possible("drunk_ml", drunk_ml)
    flags: Flags = (
        (drunk > possible("lost_ml", lost_ml))
        | (drunk > most_drink_ml_h(mass_kg) * possible("hours", hours))
        | (
            possible("drunk_today_ml", drunk_today_ml, "drunk_ml")
            > MAX_DRINK_ML_DAY * _of_standard(mass_kg)
        )
    )
    return flags


def dehydration_pct(deficit_ml: ArrayLike, mass_kg: ArrayLike) -> Floats:
    """Give a water deficit as a share of body mass.

    Parameters
    ----------
    deficit_ml : array_like
        Water lost and not replaced, ml (1 g each).
    mass_kg : array_like
        Body mass, kg.

    Returns
    -------
    ndarray
        %.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> float(dehydration_pct(1600, 80))
    2.0
    """
    grams_per_kg = 1000.0
    return (PERCENT / grams_per_kg * floats(deficit_ml) / possible("mass_kg", mass_kg))[()]
