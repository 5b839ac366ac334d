"""What a stop and a stretch of way do to the water carried: the rules of the bottle.

Time is kept by need: "later" is "after more has been needed". So water that tablets make fit after
half an hour is water that becomes fit after a known need.
"""

from __future__ import annotations

from math import ceil, inf
from typing import NamedTuple

# Shortages below this are rounding of sums of needs, not thirst [mL].
ROUNDING_ML = 1e-6


class Treatment(NamedTuple):
    """One way of making water fit to drink, and what it costs at a stop.

    Attributes
    ----------
    treats_ml : float
        Water it can treat before it is used up [mL].
    wait_s : float
        Time added to a stop when the water is made fit there [s].
    dose_ml : float
        It is used up in whole doses of this much [mL], as tablets are; 0 for any amount.
    carry_s : float
        Time added to a stop when the water becomes fit on the way [s]; infinite where it cannot.
    wait_ml, carry_ml : float
        Water needed in the time added [mL].
    """

    treats_ml: float
    wait_s: float = 0.0
    dose_ml: float = 0.0
    carry_s: float = inf
    wait_ml: float = 0.0
    carry_ml: float = 0.0


class Rules(NamedTuple):
    """What holds at every stop.

    Attributes
    ----------
    capacity_ml : float
        What the bottles hold together [mL].
    ahead_ml : float
        Most that is drunk ahead of need at a stop [mL].
    one_bottle : bool
        Untreated water mixes with what is left, and all of it must be treated.
    doses_ml : tuple of float
        Dose of each treatment [mL].
    """

    capacity_ml: float
    ahead_ml: float = 0.0
    one_bottle: bool = False
    doses_ml: tuple[float, ...] = (0.0,)


class Water(NamedTuple):
    """Water at hand.

    Attributes
    ----------
    fit_ml : float
        In the bottles and fit to drink, with what was drunk ahead of need [mL].
    waiting_ml : float
        In the bottles under treatment [mL].
    fit_after_ml : float
        Need still to come until that becomes fit [mL].
    treats_ml : tuple of float
        What each treatment can still treat [mL].
    """

    fit_ml: float
    waiting_ml: float = 0.0
    fit_after_ml: float = 0.0
    treats_ml: tuple[float, ...] = ()

    @property
    def total_ml(self) -> float:
        """All water at hand [mL]."""
        return self.fit_ml + self.waiting_ml


def walk(water: Water, need_ml: float) -> tuple[Water, float]:
    """Drink the need of one stretch, or of the time a stop takes."""
    if not water.waiting_ml:
        return _drink(water, need_ml)
    if water.fit_after_ml > need_ml:
        return _drink(water._replace(fit_after_ml=water.fit_after_ml - need_ml), need_ml)
    left_ml = need_ml - water.fit_after_ml
    water, short = _drink(water, water.fit_after_ml)
    water = water._replace(fit_ml=water.total_ml, waiting_ml=0.0, fit_after_ml=0.0)
    water, more = _drink(water, left_ml)
    return water, short + more


def _drink(water: Water, need_ml: float) -> tuple[Water, float]:
    """Meet a need from what is fit; what is not there is short."""
    missing = need_ml - water.fit_ml
    if missing > ROUNDING_ML:
        return water._replace(fit_ml=0.0), missing
    return water._replace(fit_ml=max(-missing, 0.0)), 0.0


def fill_clean(water: Water, rules: Rules) -> Water:
    """Drink ahead and fill every bottle; what was under treatment is poured away for it."""
    drunk = min(water.fit_ml, rules.ahead_ml)
    return water._replace(fit_ml=drunk + rules.capacity_ml, waiting_ml=0.0, fit_after_ml=0.0)


def fill_treated(
    water: Water, rules: Rules, method: int, *, fit_after_ml: float | None = None
) -> Water:
    """Drink ahead, fill with water that must be treated, and treat it."""
    drunk = min(water.fit_ml, rules.ahead_ml)
    inside = water.fit_ml - drunk + water.waiting_ml
    left = water.treats_ml[method]
    if rules.one_bottle:
        treated = min(rules.capacity_ml, left)
        taken = treated - inside
    else:
        treated = taken = min(rules.capacity_ml - inside, left)
    if taken <= ROUNDING_ML:
        return water
    treats = list(water.treats_ml)
    treats[method] = left - used_ml(treated, rules.doses_ml[method], left)
    if fit_after_ml is None:
        return Water(water.fit_ml + water.waiting_ml + taken, 0.0, 0.0, tuple(treats))
    if rules.one_bottle:
        return Water(drunk, treated, fit_after_ml, tuple(treats))
    return Water(water.fit_ml, water.waiting_ml + taken, fit_after_ml, tuple(treats))


def used_ml(treated_ml: float, dose_ml: float, left_ml: float) -> float:
    """Say how much treatment an amount of water uses up.

    Parameters
    ----------
    treated_ml : float
        Water treated [mL].
    dose_ml : float
        Size of a dose [mL]; 0 for any amount.
    left_ml : float
        What is left of the treatment [mL].

    Returns
    -------
    float
        In whole doses [mL], never more than is left.

    Examples
    --------
    >>> used_ml(600, 500, 5000)
    1000
    """
    if dose_ml <= 0.0:
        return treated_ml
    return min(ceil(treated_ml / dose_ml - ROUNDING_ML) * dose_ml, left_ml)


def at_least_as_good(one: Water, other: Water) -> bool:
    """Say whether one can do whatever the other can: every later choice may be copied."""
    if one.fit_ml < other.fit_ml or one.total_ml < other.total_ml:
        return False
    sooner = (
        other.waiting_ml == 0.0
        or one.waiting_ml == 0.0
        or one.fit_after_ml <= other.fit_after_ml
        or one.fit_ml >= other.total_ml
    )
    return sooner and all(
        mine >= theirs for mine, theirs in zip(one.treats_ml, other.treats_ml, strict=True)
    )
