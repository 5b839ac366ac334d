"""The one bottle: what a stop, a stretch of way and a sip do to the water carried.

Everything is an array with one value a walker (or one a possibility, where stops are planned), and
the same functions serve the engine, which goes by the clock, and the choice of stops, which goes by
need: "later" is then "after more has been needed", so that water which tablets make fit after half
an hour is water that becomes fit after a known need.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

# Shortages below this are rounding of sums of needs, not thirst [mL].
ROUNDING_ML = 1e-6

ROUNDING_DOSES = 1e-9
"""A dose too much by this share of one is rounding."""

Amounts = NDArray[np.float64]


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
    wait_ml, carry_ml : float or (n,) float64
        Water needed in the time added [mL].
    """

    treats_ml: float
    wait_s: float = 0.0
    dose_ml: float = 0.0
    carry_s: float = inf
    wait_ml: float | Amounts = 0.0
    carry_ml: float | Amounts = 0.0


class Rules(NamedTuple):
    """What holds at every stop; numbers, or arrays that broadcast against the water.

    Attributes
    ----------
    capacity_ml : float or ndarray
        What the bottles hold together [mL].
    ahead_ml : float or ndarray
        Most that is drunk ahead of need at a stop [mL].
    one_bottle : bool or ndarray
        Untreated water mixes with what is left, and all of it must be treated.
    doses_ml : tuple of float
        Dose of each treatment [mL].
    """

    capacity_ml: float | Amounts
    ahead_ml: float | Amounts = 0.0
    one_bottle: bool | NDArray[np.bool_] = False
    doses_ml: tuple[float, ...] = (0.0,)


class Water(NamedTuple):
    """Water at hand; arrays of one shape.

    Attributes
    ----------
    fit_ml : ndarray
        In the bottles and fit to drink, with what was drunk ahead of need [mL].
    waiting_ml : ndarray
        In the bottles under treatment [mL].
    fit_after_ml : ndarray
        Need still to come until that becomes fit [mL].
    treats_ml : tuple of ndarray
        What each treatment can still treat [mL].
    """

    fit_ml: Amounts
    waiting_ml: Amounts
    fit_after_ml: Amounts
    treats_ml: tuple[Amounts, ...] = ()

    @property
    def total_ml(self) -> Amounts:
        """All water at hand [mL]."""
        return self.fit_ml + self.waiting_ml

    @classmethod
    def carried(cls, start_ml: Amounts, treats_ml: tuple[Amounts, ...] = ()) -> Water:
        """Begin with bottles of water fit to drink."""
        nothing = np.zeros_like(start_ml)
        return cls(start_ml, nothing, nothing, treats_ml)

    def where(self, chosen: NDArray[np.bool_], other: Water) -> Water:
        """Take this where chosen, else the other."""
        return Water(
            np.where(chosen, self.fit_ml, other.fit_ml),
            np.where(chosen, self.waiting_ml, other.waiting_ml),
            np.where(chosen, self.fit_after_ml, other.fit_after_ml),
            tuple(
                np.where(chosen, one, two)
                for one, two in zip(self.treats_ml, other.treats_ml, strict=True)
            ),
        )


def sip(wanted_ml: Amounts, fit_ml: Amounts) -> Amounts:
    """Give what is drunk of what is wanted: all that there is, and no more."""
    return np.minimum(wanted_ml, fit_ml)


def drunk_ahead_ml(fit_ml: Amounts, ahead_ml: float | Amounts) -> Amounts:
    """Give what is in the body ahead of need after a stop, of all fit water at hand [mL]."""
    return np.minimum(fit_ml, ahead_ml)


def filled_clean_ml(left_ml: Amounts, capacity_ml: float | Amounts) -> Amounts:
    """Give what goes into bottles that hold ``left_ml``, water under treatment counted [mL].

    Water under treatment is poured away for it, so what is left must count it.
    """
    return np.asarray(capacity_ml - left_ml)


def filled_treated_ml(
    left_ml: Amounts,
    capacity_ml: float | Amounts,
    treats_ml: Amounts,
    one_bottle: bool | NDArray[np.bool_],
) -> tuple[Amounts, Amounts]:
    """Give the untreated water taken into the bottles, and all that must be treated with it [mL].

    With one bottle what is left in it mixes with the new water and must be treated again; taking
    nothing then treats nothing.
    """
    mixed = np.where(one_bottle, left_ml, 0.0)
    room = np.minimum(capacity_ml - left_ml, treats_ml - mixed)
    taken = np.where(room > ROUNDING_ML, room, 0.0)
    return taken, np.where(taken > 0.0, taken + mixed, 0.0)


def used_ml(treated_ml: Amounts | float, dose_ml: float, left_ml: Amounts | float) -> Amounts:
    """Say how much treatment an amount of water uses up: whole doses, never more than is left.

    Parameters
    ----------
    treated_ml : float or ndarray
        Water to treat [mL].
    dose_ml : float
        Water that one dose treats [mL]; 0 where any amount may be treated.
    left_ml : float or ndarray
        Water that can still be treated [mL].

    Returns
    -------
    ndarray
        Treatment used [mL].

    Examples
    --------
    >>> float(used_ml(600.0, 500.0, 5000.0))
    1000.0
    """
    if dose_ml <= 0.0:
        return np.asarray(treated_ml)
    return np.minimum(np.ceil(treated_ml / dose_ml - ROUNDING_DOSES) * dose_ml, left_ml)


def walk(water: Water, need_ml: Amounts | float) -> tuple[Water, Amounts]:
    """Drink the need of one stretch, or of the time a stop takes."""
    if not np.any(water.waiting_ml):
        return _drink(water, need_ml)
    need_ml = np.asarray(need_ml)
    until_ml = np.minimum(water.fit_after_ml, need_ml)
    first, short = _drink(water, until_ml)
    fit = water.fit_after_ml <= need_ml
    first = first._replace(
        fit_ml=np.where(fit, first.total_ml, first.fit_ml),
        waiting_ml=np.where(fit, 0.0, first.waiting_ml),
        fit_after_ml=np.where(fit, 0.0, first.fit_after_ml - until_ml),
    )
    last, more = _drink(first, need_ml - until_ml)
    return last, short + more


def _drink(water: Water, need_ml: Amounts | float) -> tuple[Water, Amounts]:
    """Meet a need from what is fit; what is not there is short."""
    missing = need_ml - water.fit_ml
    short = np.where(missing > ROUNDING_ML, missing, 0.0)
    return water._replace(fit_ml=np.maximum(-missing, 0.0)), short


def fill_clean(water: Water, rules: Rules) -> Water:
    """Drink ahead and fill every bottle; what was under treatment is poured away for it."""
    drunk = drunk_ahead_ml(water.fit_ml, rules.ahead_ml)
    left = water.fit_ml - drunk
    nothing = np.zeros_like(left)
    filled = drunk + left + filled_clean_ml(left, rules.capacity_ml)
    return water._replace(fit_ml=filled, waiting_ml=nothing, fit_after_ml=nothing)


def fill_treated(
    water: Water, rules: Rules, method: int, *, fit_after_ml: Amounts | None = None
) -> tuple[Water, NDArray[np.bool_]]:
    """Drink ahead, fill with water that must be treated, and treat it."""
    drunk = drunk_ahead_ml(water.fit_ml, rules.ahead_ml)
    left = water.total_ml - drunk
    taken, treated = filled_treated_ml(
        left, rules.capacity_ml, water.treats_ml[method], rules.one_bottle
    )
    took = taken > 0.0
    treats = list(water.treats_ml)
    treats[method] = treats[method] - used_ml(treated, rules.doses_ml[method], treats[method])
    if fit_after_ml is None:
        nothing = np.zeros_like(taken)
        after = Water(water.total_ml + taken, nothing, nothing, tuple(treats))
    else:
        # In one bottle all of it waits, and only what was drunk ahead is at hand.
        after = Water(
            np.where(rules.one_bottle, drunk, water.fit_ml),
            np.where(rules.one_bottle, treated, water.waiting_ml + taken),
            np.broadcast_to(np.asarray(fit_after_ml, dtype=np.float64), taken.shape),
            tuple(treats),
        )
    return after.where(took, water), took


def at_least_as_good(one: Water, other: Water) -> NDArray[np.bool_]:
    """Say whether one can do whatever the other can: every later choice may be copied."""
    better = (one.fit_ml >= other.fit_ml) & (one.total_ml >= other.total_ml)
    for mine, theirs in zip(one.treats_ml, other.treats_ml, strict=True):
        better &= mine >= theirs
    if np.any(one.waiting_ml):
        better &= (
            (other.waiting_ml == 0.0)
            | (one.waiting_ml == 0.0)
            | (one.fit_after_ml <= other.fit_after_ml)
            | (one.fit_ml >= other.total_ml)
        )
    return better
