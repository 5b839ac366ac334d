"""Which places to stop at so that the walker never runs dry, at least total time.

The way is given: places in the order they are passed, each with the water needed since the start
(cumulative) and what a stop costs in time. The answer is exact. It walks from place to place and
keeps every state that could still win (dynamic programming over arrivals and fill levels); the
argument why a dropped state can never win is beside `_front`.

Rules of the bottle
-------------------
- The walker drinks to need while there is water; unmet need is shortage and is counted once.
- A stop fills the bottle to the brim, or as far as the treatment left allows where the place's
  water needs treating.
- *Finish what you carry, then refill*: at a stop the walker may drink ahead of need from what is
  left in the bottle, up to ``drink_ahead_ml`` (0 = strictly to need). Drinking ahead beyond an
  hour's safe intake is not advised; the caller sets the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

# Shortages below this are rounding of sums of needs, not thirst [mL].
ROUNDING_ML = 1e-6


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
        Water at hand on arriving at each place [mL]: in the bottle, and drunk ahead of need.
    filled_ml : ndarray of float, shape (K,)
        Water taken at each place [mL]; 0 where the walker does not stop.
    treated_ml : float
        Part of the water taken that had to be treated [mL].
    left_ml : float
        Water at hand at the end [mL].
    """

    chosen: NDArray[np.bool_]
    short_ml: float
    stop_s: float
    arrive_ml: NDArray[np.float64]
    filled_ml: NDArray[np.float64]
    treated_ml: float
    left_ml: float


class _State(NamedTuple):
    """One way of having come this far."""

    short_ml: float
    stop_s: float
    stops: int
    level_ml: float  # bottle and drunk ahead
    treats_ml: float  # treatment left
    trail: tuple[int, ...]  # places stopped at


class _Rules(NamedTuple):
    """What holds at every stop."""

    capacity_ml: float
    drink_ahead_ml: float


def plan_stops(
    need_ml: ArrayLike,
    stop_s: ArrayLike,
    *,
    start_ml: float,
    capacity_ml: float,
    end_need_ml: float,
    needs_treatment: ArrayLike | None = None,
    treats_ml: float = float("inf"),
    drink_ahead_ml: float = 0.0,
) -> StopPlan:
    """Choose the stops with the least shortage, and among those the least time.

    Ties go to fewer stops, then to the earlier places.

    Parameters
    ----------
    need_ml : array_like, shape (K,)
        Water needed from the start to each place [mL], in the order they are passed
        (never falling, the first not below 0).
    stop_s : array_like, shape (K,)
        What a stop there costs: way there and back, filling, treatment [s], not negative;
        infinite for a place that cannot be used.
    start_ml : float
        Water carried at the start [mL], 0 to `capacity_ml`.
    capacity_ml : float
        What the bottles hold together [mL].
    end_need_ml : float
        Water needed from the start to the end of the way [mL].
    needs_treatment : array_like of bool, shape (K,), optional
        Whether the water of each place must be treated; none if left out.
    treats_ml : float, default: inf
        Water that the tablets, filter or fuel carried can treat [mL].
    drink_ahead_ml : float, default: 0
        Most the walker drinks ahead of need at a stop, from what is left in the bottle [mL].

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
    need, cost, treated = _checked(need_ml, stop_s, needs_treatment, end_need_ml=end_need_ml)
    _check_amounts(start_ml, capacity_ml, treats_ml, drink_ahead_ml)
    rules = _Rules(capacity_ml, drink_ahead_ml)
    first = _State(0.0, 0.0, 0, float(start_ml), float(treats_ml), ())
    states = [first]
    for place, stretch in enumerate(np.diff(need, prepend=0.0)):
        states = [_walk(state, stretch) for state in states]
        if np.isfinite(cost[place]):
            states += [
                _fill(state, place, float(cost[place]), rules, treated=bool(treated[place]))
                for state in states
            ]
        states = _front(states)
    last_stretch = end_need_ml - (need[-1] if need.size else 0.0)
    best = min((_walk(state, last_stretch) for state in states), key=_order)
    return _told(first, best, need, treated, rules)


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
    need, _, _ = _checked(need_ml, np.zeros(np.shape(need_ml)), None, end_need_ml=end_need_ml)
    return float(np.diff(need, prepend=0.0, append=end_need_ml).max())


def _walk(state: _State, need_ml: float) -> _State:
    """Drink the need of one stretch; what is not there is short."""
    missing = need_ml - state.level_ml
    if missing > ROUNDING_ML:
        return state._replace(short_ml=state.short_ml + missing, level_ml=0.0)
    return state._replace(level_ml=max(state.level_ml - need_ml, 0.0))


def _taken_ml(state: _State, rules: _Rules, *, treated: bool) -> float:
    """Water taken at a stop: room left once what may be drunk ahead has been drunk."""
    room = rules.capacity_ml - max(state.level_ml - rules.drink_ahead_ml, 0.0)
    return min(room, state.treats_ml) if treated else room


def _fill(state: _State, place: int, cost_s: float, rules: _Rules, *, treated: bool) -> _State:
    taken = _taken_ml(state, rules, treated=treated)
    return _State(
        state.short_ml,
        state.stop_s + cost_s,
        state.stops + 1,
        state.level_ml + taken,
        state.treats_ml - taken if treated else state.treats_ml,
        (*state.trail, place),
    )


def _order(state: _State) -> tuple[float, float, int, tuple[int, ...]]:
    """Give what counts, best first: shortage, time, few stops, early places."""
    return state.short_ml, state.stop_s, state.stops, state.trail


def _front(states: list[_State]) -> list[_State]:
    """Keep the states no other state beats.

    A state that comes earlier in `_order` and has at least as
    much water and treatment left can copy every later choice of the other: walking and filling
    never turn more water or treatment into less. So its total stays in front.
    """
    kept: list[_State] = []
    corners: list[tuple[float, float]] = []
    for state in sorted(states, key=_order):
        if any(level >= state.level_ml and left >= state.treats_ml for level, left in corners):
            continue
        kept.append(state)
        corners.append((state.level_ml, state.treats_ml))
    return kept


def _told(
    first: _State,
    best: _State,
    need: NDArray[np.float64],
    treated: NDArray[np.bool_],
    rules: _Rules,
) -> StopPlan:
    """Walk the chosen stops once more and write down the levels."""
    chosen = np.zeros(need.size, dtype=np.bool_)
    chosen[list(best.trail)] = True
    arrive, filled = np.zeros(need.size), np.zeros(need.size)
    state = first
    for place, stretch in enumerate(np.diff(need, prepend=0.0)):
        state = _walk(state, stretch)
        arrive[place] = state.level_ml
        if chosen[place]:
            filled[place] = _taken_ml(state, rules, treated=bool(treated[place]))
            state = _fill(state, place, 0.0, rules, treated=bool(treated[place]))
    return StopPlan(
        chosen=chosen,
        short_ml=float(best.short_ml),
        stop_s=float(best.stop_s),
        arrive_ml=arrive,
        filled_ml=filled,
        treated_ml=float(filled[treated].sum()),
        left_ml=float(best.level_ml),
    )


def _checked(
    need_ml: ArrayLike,
    stop_s: ArrayLike,
    needs_treatment: ArrayLike | None,
    *,
    end_need_ml: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
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


def _check_amounts(
    start_ml: float, capacity_ml: float, treats_ml: float, drink_ahead_ml: float
) -> None:
    if not 0 <= start_ml <= capacity_ml < float("inf"):
        msg = f"start_ml must be 0 to capacity_ml: {start_ml!r} of {capacity_ml!r}"
        raise ValueError(msg)
    if not (treats_ml >= 0 and 0 <= drink_ahead_ml < float("inf")):
        msg = (
            f"treats_ml and drink_ahead_ml must be 0 or more: {treats_ml!r} and {drink_ahead_ml!r}"
        )
        raise ValueError(msg)
