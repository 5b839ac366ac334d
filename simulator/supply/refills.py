"""Which places to stop at so that the walker never runs dry, at least total time.

The way is given: places in the order they are passed, each with the water needed since the start
(cumulative) and what a stop costs in time. The answer is exact. It walks from place to place and
keeps every state that could still win (dynamic programming over arrivals and fill levels); the
argument why a dropped state can never win is beside `_front`.

Rules of the bottle
-------------------
- The walker drinks to need while there is water; unmet need is shortage and is counted once.
- A stop fills the bottles to the brim, or as far as the treatment left allows where the place's
  water needs treating.
- *Finish what you carry, then refill*: at a stop the walker may drink ahead of need from what is
  left, up to ``drink_ahead_ml`` (0 = strictly to need). Drinking ahead beyond an hour's safe intake
  is not advised; the caller sets the limit.
- Treated water is waited for at the place, or carried and drunk once it is fit (tablets).
- With one bottle untreated water mixes with the rest, and all of it must be treated.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.supply.bottle import (
    Rules,
    Treatment,
    Water,
    at_least_as_good,
    fill_clean,
    fill_treated,
    walk,
)


def checked(
    need_ml: ArrayLike,
    stop_s: ArrayLike,
    needs_treatment: ArrayLike | None,
    *,
    end_need_ml: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Give the three arrays of a way, or say what is wrong with them."""
    need = np.asarray(need_ml, dtype=np.float64)
    cost = np.asarray(stop_s, dtype=np.float64)
    treated = np.zeros(need.shape, dtype=np.bool_)
    if needs_treatment is not None:
        treated = np.asarray(needs_treatment, dtype=np.bool_)
    if need.ndim != 1 or cost.shape != need.shape or treated.shape != need.shape:
        msg = (
            "need_ml, stop_s and needs_treatment must be one-dimensional and equally long: "
            f"{need.shape}, {cost.shape}, {treated.shape}"
        )
        raise ValueError(msg)
    along = np.concatenate(([0.0], need, [end_need_ml]))
    if not (np.isfinite(along).all() and (np.diff(along) >= 0).all()):
        msg = f"need_ml must start at 0 or more and never fall up to end_need_ml: {along.tolist()}"
        raise ValueError(msg)
    if np.isnan(cost).any() or (cost < 0).any():
        msg = f"stop_s must be 0 or more, infinite where no stop is possible: {cost.tolist()}"
        raise ValueError(msg)
    return need, cost, treated


def checked_more(
    amount_ml: ArrayLike | None, need: NDArray[np.float64], missing: float, name: str
) -> NDArray[np.float64]:
    """Give one more amount for each place, or say what is wrong with it."""
    if amount_ml is None:
        return np.full(need.shape, missing)
    amount = np.asarray(amount_ml, dtype=np.float64)
    if amount.shape != need.shape or not (amount >= 0).all():
        msg = f"{name} must be as long as need_ml and nowhere below 0"
        raise ValueError(msg)
    return amount


def checked_rules(
    start_ml: float,
    capacity_ml: float,
    treatments: Sequence[Treatment],
    *,
    drink_ahead_ml: float,
    one_bottle: bool,
) -> Rules:
    """Give the rules of every stop, or say what is wrong with them."""
    if not 0 <= start_ml <= capacity_ml < float("inf"):
        msg = f"start_ml must be 0 to capacity_ml: {start_ml!r} of {capacity_ml!r}"
        raise ValueError(msg)
    if not 0 <= drink_ahead_ml < float("inf"):
        msg = f"drink_ahead_ml must be 0 or more: {drink_ahead_ml!r}"
        raise ValueError(msg)
    if not all(amount >= 0 for treatment in treatments for amount in treatment):
        msg = f"amounts and times of treatments must be 0 or more: {list(treatments)!r}"
        raise ValueError(msg)
    doses = tuple(treatment.dose_ml for treatment in treatments)
    return Rules(capacity_ml, drink_ahead_ml, one_bottle, doses)


AS_IT_IS = -1
"""Number of the treatment of water that needs none."""


@dataclass(frozen=True, slots=True)
class StopPlan:
    """The chosen stops and what they lead to.

    Attributes
    ----------
    chosen : ndarray of bool, shape (K,)
        Whether the walker stops at each place.
    short_ml : float
        Need left unmet over the whole way [mL]; 0 when the walker never runs dry.
    stop_s : float
        Total time of the chosen stops [s].
    arrive_ml : ndarray of float, shape (K,)
        Water fit to drink on arriving at each place [mL]: in the bottle, and drunk ahead of need.
    filled_ml : ndarray of float, shape (K,)
        Water taken at each place [mL], less what was poured away for it; 0 without a stop.
    method : ndarray of int, shape (K,)
        Number of the treatment used at each stop; -1 where none is, or no stop is made.
    carried_on : ndarray of bool, shape (K,)
        Whether the water taken becomes fit on the way and not at the place.
    used_ml : ndarray of float, shape (T,)
        What was used up of each treatment [mL], in whole doses.
    left_ml : float
        Water at hand at the end [mL].
    """

    chosen: NDArray[np.bool_]
    short_ml: float
    stop_s: float
    arrive_ml: NDArray[np.float64]
    filled_ml: NDArray[np.float64]
    method: NDArray[np.int64]
    carried_on: NDArray[np.bool_]
    used_ml: NDArray[np.float64]
    left_ml: float


class Filling(NamedTuple):
    """A stop made.

    Attributes
    ----------
    place : int
        Where.
    method : int
        Number of the treatment, -1 for none.
    carried_on : bool
        Whether the water becomes fit on the way.
    """

    place: int
    method: int
    carried_on: bool


class _State(NamedTuple):
    """One way of having come this far."""

    short_ml: float
    stop_s: float
    water: Water
    trail: tuple[Filling, ...]


def plan_stops(
    need_ml: ArrayLike,
    stop_s: ArrayLike,
    *,
    start_ml: float,
    capacity_ml: float,
    end_need_ml: float,
    needs_treatment: ArrayLike | None = None,
    treatments: Sequence[Treatment] = (Treatment(float("inf")),),
    fit_after_ml: ArrayLike | None = None,
    stop_need_ml: ArrayLike | None = None,
    drink_ahead_ml: float = 0.0,
    one_bottle: bool = False,
) -> StopPlan:
    """Choose the stops with the least shortage, and among those the least time.

    Ties go to fewer stops, then to the earlier places.

    Parameters
    ----------
    need_ml : array_like, shape (K,)
        Water needed from the start to each place [mL], in the order they are passed
        (never falling, the first not below 0).
    stop_s : array_like, shape (K,)
        What a stop there costs: way there and back, filling [s], not negative; infinite for a
        place that cannot be used.
    start_ml : float
        Water carried at the start [mL], 0 to `capacity_ml`.
    capacity_ml : float
        What the bottles hold together [mL].
    end_need_ml : float
        Water needed from the start to the end of the way [mL].
    needs_treatment : array_like of bool, shape (K,), optional
        Whether the water of each place must be treated; none if left out.
    treatments : sequence of Treatment
        What can treat it, T of them; one without limit or time if left out.
    fit_after_ml : array_like, shape (K,), optional
        Need from each place until water taken there and carried on is fit [mL], not negative;
        without it no water is carried on.
    stop_need_ml : array_like, shape (K,), optional
        Water needed in the time of a stop, before the bottles are filled [mL]; none if left out.
    drink_ahead_ml : float, default: 0
        Most the walker drinks ahead of need at a stop, from what is left in the bottle [mL].
    one_bottle : bool, default: False
        Whether untreated water mixes with what is left.

    Returns
    -------
    StopPlan
        Chosen stops, shortage, time.

    Raises
    ------
    ValueError
        If an array has the wrong shape, needs fall along the way, or an amount is negative.

    Examples
    --------
    >>> plan = plan_stops([400, 700, 900], [300, 60, 120],
    ...                   start_ml=500, capacity_ml=500, end_need_ml=1300)
    >>> plan.chosen.tolist(), plan.short_ml, plan.stop_s
    ([True, False, True], 0.0, 420.0)
    """
    need, cost, treated = checked(need_ml, stop_s, needs_treatment, end_need_ml=end_need_ml)
    fit_after = checked_more(fit_after_ml, need, np.nan, "fit_after_ml")
    stop_need = checked_more(stop_need_ml, need, 0.0, "stop_need_ml")
    rules = checked_rules(
        start_ml, capacity_ml, treatments, drink_ahead_ml=drink_ahead_ml, one_bottle=one_bottle
    )
    treats = tuple(float(treatment.treats_ml) for treatment in treatments)
    start = Water(float(start_ml), treats_ml=treats)
    states = [_State(0.0, 0.0, start, ())]
    stretches = np.diff(need, prepend=0.0, append=end_need_ml).tolist()
    for place, stretch in enumerate(stretches[:-1]):
        states = [_walked(state, stretch) for state in states]
        if np.isfinite(cost[place]):
            ways = ways_to_fill(
                place, float(fit_after[place]), treatments, rules, treated=bool(treated[place])
            )
            states += [
                _State(
                    there.short_ml,
                    there.stop_s + float(cost[place]) + way.time_s,
                    water,
                    (*there.trail, way.stop),
                )
                for state in states
                for way in ways
                for there in [_walked(state, float(stop_need[place]) + way.need_ml)]
                if (water := way.fill(there.water)) is not there.water
            ]
        states = _front(states)
    best = min((_walked(state, stretches[-1]) for state in states), key=_order)
    return _told(best, stretches[:-1], fit_after, stop_need, start, treatments, rules)


def least_capacity_ml(need_ml: ArrayLike, *, end_need_ml: float) -> float:
    """Smallest bottle, full at the start, that never runs dry when every place is used.

    Parameters
    ----------
    need_ml : array_like, shape (K,)
        Water needed from the start to each usable place [mL], never falling.
    end_need_ml : float
        Water needed from the start to the end of the way [mL].

    Returns
    -------
    float
        The largest need between two neighbouring places [mL].

    Raises
    ------
    ValueError
        If needs fall along the way.

    Examples
    --------
    >>> least_capacity_ml([400, 700, 900], end_need_ml=1300)
    400.0
    """
    need, _, _ = checked(need_ml, np.zeros(np.shape(need_ml)), None, end_need_ml=end_need_ml)
    return float(np.diff(need, prepend=0.0, append=end_need_ml).max())


class Way(NamedTuple):
    """One way to fill at a place.

    Attributes
    ----------
    stop : Filling
        The stop it makes.
    time_s : float
        Time for treatment [s].
    need_ml : float
        Water needed in that time [mL].
    fill : callable
        What it does to the water at hand.
    """

    stop: Filling
    time_s: float
    need_ml: float
    fill: Callable[[Water], Water]


def ways_to_fill(
    place: int,
    fit_after_ml: float,
    treatments: Sequence[Treatment],
    rules: Rules,
    *,
    treated: bool,
) -> list[Way]:
    """Give every way to take water at a place."""
    if not treated:
        stop = Filling(place, AS_IT_IS, carried_on=False)
        return [Way(stop, 0.0, 0.0, lambda water: fill_clean(water, rules))]

    def filling(number: int, after_ml: float | None) -> Callable[[Water], Water]:
        return lambda water: fill_treated(water, rules, number, fit_after_ml=after_ml)

    ways = []
    for number, each in enumerate(treatments):
        if np.isfinite(each.wait_s):
            stop = Filling(place, number, carried_on=False)
            ways.append(Way(stop, each.wait_s, each.wait_ml, filling(number, None)))
        if np.isfinite(each.carry_s) and np.isfinite(fit_after_ml):
            stop = Filling(place, number, carried_on=True)
            ways.append(Way(stop, each.carry_s, each.carry_ml, filling(number, fit_after_ml)))
    return ways


def _walked(state: _State, need_ml: float) -> _State:
    water, short = walk(state.water, need_ml)
    return state._replace(short_ml=state.short_ml + short, water=water)


def _order(state: _State) -> tuple[float, float, int, tuple[Filling, ...]]:
    """Give what counts, best first: shortage, time, few stops, early places."""
    return state.short_ml, state.stop_s, len(state.trail), state.trail


def _front(states: list[_State]) -> list[_State]:
    """Keep the states no other state beats."""
    kept: list[_State] = []
    for state in sorted(states, key=_order):
        if not any(at_least_as_good(other.water, state.water) for other in kept):
            kept.append(state)
    return kept


def _told(
    best: _State,
    stretches: Sequence[float],
    fit_after: NDArray[np.float64],
    stop_need: NDArray[np.float64],
    water: Water,
    treatments: Sequence[Treatment],
    rules: Rules,
) -> StopPlan:
    """Walk the chosen stops once more and write down the levels."""
    size = len(stretches)
    stops = {stop.place: stop for stop in best.trail}
    arrive, filled = np.zeros(size), np.zeros(size)
    method = np.full(size, AS_IT_IS)
    carried_on = np.zeros(size, dtype=np.bool_)
    first = water
    for place, stretch in enumerate(stretches):
        water, _ = walk(water, stretch)
        arrive[place] = water.fit_ml
        if place not in stops:
            continue
        stop = stops[place]
        method[place], carried_on[place] = stop.method, stop.carried_on
        treated = stop.method != AS_IT_IS
        ways = ways_to_fill(place, float(fit_after[place]), treatments, rules, treated=treated)
        way = next(way for way in ways if way.stop == stop)
        water, _ = walk(water, float(stop_need[place]) + way.need_ml)
        before = water.total_ml
        water = way.fill(water)
        filled[place] = water.total_ml - before
    used = [
        0.0 if was == left else was - left
        for was, left in zip(first.treats_ml, best.water.treats_ml, strict=True)
    ]
    return StopPlan(
        chosen=np.isin(np.arange(size), list(stops)),
        short_ml=float(best.short_ml),
        stop_s=float(best.stop_s),
        arrive_ml=arrive,
        filled_ml=filled,
        method=method,
        carried_on=carried_on,
        used_ml=np.array(used, dtype=np.float64),
        left_ml=float(best.water.total_ml),
    )
