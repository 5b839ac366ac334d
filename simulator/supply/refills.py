"""Which places to stop at so that nobody runs dry, at least total time: the one decider of refills.

The way is given: places in the order they are passed, each with the water needed since the start
(cumulative) and what a stop costs in time. The answer is exact, for one walk and for thousands at
once (the last axis is the walk; each is decided by itself). It goes from place to place and keeps
every possibility that could still win (dynamic programming over arrivals and fill levels); the
argument why a dropped one can never win is beside `_front`.

Rules of the bottle
-------------------
- The walker drinks to need while there is water; unmet need is shortage and is counted once. What
  the body may owe without harm is drunk again before anything else.
- A stop fills the bottles to the brim, or as far as the treatment left allows where the place's
  water needs treating.
- *Finish what you carry, then refill*: at a stop the walker may drink ahead of need from what is
  left, up to ``drink_ahead_ml`` (0 = strictly to need). Drinking ahead beyond an hour's safe intake
  is not advised; the caller sets the limit.
- Treated water is waited for at the place, or carried and drunk once it is fit (tablets).
- With one bottle untreated water mixes with the rest, and all of it must be treated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from math import inf
from typing import Any, NamedTuple

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

__all__ = [
    "Filling",
    "StopPlan",
    "Stops",
    "Treatment",
    "choose_stops",
    "least_capacity_ml",
    "plan_stops",
]

AS_IT_IS = -1
"""Number of the treatment of water that needs none."""

PASS, CLEAN = 0, 1
"""Codes of what is done at a place; those above are each treatment waited for and carried on."""

TOGETHER = 200_000
"""Pairs of possibilities compared at a time; bounds the memory and changes no answer."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class StopPlan:
    """The chosen stops of one walk and what they lead to.

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
    arrive_ml: Floats
    filled_ml: Floats
    method: NDArray[np.int64]
    carried_on: NDArray[np.bool_]
    used_ml: Floats
    left_ml: float


@dataclass(frozen=True, slots=True)
class Stops:
    """The chosen stops of n walks; attributes as in `StopPlan`, with the walk as last axis.

    Attributes
    ----------
    chosen, carried_on : ndarray of bool, shape (K, n)
        Who stops where, and carries the water on.
    method : ndarray of int, shape (K, n)
        Treatment used.
    arrive_ml, filled_ml : ndarray of float, shape (K, n)
        Water on arriving, and taken [mL].
    short_ml, stop_s, left_ml : ndarray of float, shape (n,)
        Need unmet, time of all stops, water at the end.
    used_ml : ndarray of float, shape (T, n)
        Treatment used up [mL].
    """

    chosen: NDArray[np.bool_]
    method: NDArray[np.int64]
    carried_on: NDArray[np.bool_]
    arrive_ml: Floats
    filled_ml: Floats
    short_ml: Floats
    stop_s: Floats
    used_ml: Floats
    left_ml: Floats

    def one(self, walk: int) -> StopPlan:
        """Give one walk's plan."""
        return StopPlan(
            chosen=self.chosen[:, walk],
            short_ml=float(self.short_ml[walk]),
            stop_s=float(self.stop_s[walk]),
            arrive_ml=self.arrive_ml[:, walk],
            filled_ml=self.filled_ml[:, walk],
            method=self.method[:, walk],
            carried_on=self.carried_on[:, walk],
            used_ml=self.used_ml[:, walk],
            left_ml=float(self.left_ml[walk]),
        )


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


class WayToFill(NamedTuple):
    """One way to fill at a place: its code, and the treatment's time and need there."""

    code: int
    time_s: float
    need_ml: float | Floats

    @property
    def method(self) -> int:
        """Number of the treatment, -1 for none."""
        return (self.code - 2) // 2 if self.code > CLEAN else AS_IT_IS

    @property
    def carried_on(self) -> bool:
        """Whether the water becomes fit on the way."""
        return self.code > CLEAN and self.code % 2 == 1

    def fill(
        self, water: Water, rules: Rules, fit_after_ml: Floats
    ) -> tuple[Water, NDArray[np.bool_]]:
        """Fill the bottles; also where anything could be taken."""
        if self.code == CLEAN:
            return fill_clean(water, rules), np.ones(np.shape(water.fit_ml), dtype=bool)
        after = fit_after_ml if self.carried_on else None
        return fill_treated(water, rules, self.method, fit_after_ml=after)


def ways_to_fill(treatments: Sequence[Treatment], *, carrying: bool) -> tuple[WayToFill, ...]:
    """Give every way to take water: as it is, and each treatment waited for and carried on."""
    ways = [WayToFill(CLEAN, 0.0, 0.0)]
    for number, each in enumerate(treatments):
        if np.isfinite(each.wait_s):
            ways.append(WayToFill(2 + 2 * number, each.wait_s, each.wait_ml))
        if carrying and np.isfinite(each.carry_s):
            ways.append(WayToFill(3 + 2 * number, each.carry_s, each.carry_ml))
    return tuple(ways)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked, checked; arrays with the walk as last axis."""

    need_ml: Floats  # (K, n)
    stop_s: Floats  # (K, n)
    treated: NDArray[np.bool_]  # (K, n)
    fit_after_ml: Floats  # (K, n)
    stop_need_ml: Floats  # (K, n)
    must: NDArray[np.bool_]  # (K, n)
    start_ml: Floats  # (n,)
    end_need_ml: Floats  # (n,)
    capacity_ml: Floats  # (n,)
    ahead_ml: Floats  # (n,)
    treatments: tuple[Treatment, ...]
    treats_ml: Floats  # (T, n)
    one_bottle: bool

    def some(self, walks: NDArray[np.intp]) -> _Asked:
        """Take some of the walks."""
        cut: dict[str, Any] = {
            field.name: value[..., walks]
            for field in fields(self)
            if isinstance(value := getattr(self, field.name), np.ndarray)
        }
        # What a treatment needs in its time may differ from walk to walk.
        treatments = tuple(
            each._replace(
                wait_ml=_of_walks(each.wait_ml, walks), carry_ml=_of_walks(each.carry_ml, walks)
            )
            for each in self.treatments
        )
        return replace(self, **cut, treatments=treatments)

    def rules(self, *, column: bool) -> Rules:
        """Give the rules of every stop, as a column beside several possibilities."""
        cut = (slice(None), None) if column else (slice(None),)
        return Rules(
            self.capacity_ml[cut],
            self.ahead_ml[cut],
            self.one_bottle,
            tuple(each.dose_ml for each in self.treatments),
        )


def _of_walks(amount_ml: float | Floats, walks: NDArray[np.intp]) -> float | Floats:
    """Take some walks' amounts; one number is everyone's."""
    return amount_ml[walks] if isinstance(amount_ml, np.ndarray) else amount_ml


class _States(NamedTuple):
    """Possible pasts of each walk, (n, L), best first; beyond a walk's own short by infinity."""

    short_ml: Floats
    stop_s: Floats
    stops: NDArray[np.int64]
    water: Water


def plan_stops(
    need_ml: ArrayLike,
    stop_s: ArrayLike,
    *,
    start_ml: float,
    capacity_ml: float,
    end_need_ml: float,
    needs_treatment: ArrayLike | None = None,
    treatments: Sequence[Treatment] = (Treatment(inf),),
    fit_after_ml: ArrayLike | None = None,
    stop_need_ml: ArrayLike | None = None,
    drink_ahead_ml: float = 0.0,
    unfelt_ml: float = 0.0,
    one_bottle: bool = False,
) -> StopPlan:
    """Choose the stops of one walk: `choose_stops` for a single one.

    Parameters
    ----------
    need_ml, stop_s : array_like, shape (K,)
        As for `choose_stops`.
    start_ml, capacity_ml, end_need_ml : float
        As for `choose_stops`.
    needs_treatment, treatments, fit_after_ml, stop_need_ml, drink_ahead_ml, unfelt_ml, one_bottle
        As for `choose_stops`.

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
    checked_amounts(start_ml, capacity_ml, treatments, drink_ahead_ml=drink_ahead_ml)
    return choose_stops(
        need[:, None],
        cost[:, None],
        start_ml=np.array([start_ml], dtype=np.float64),
        capacity_ml=np.array([capacity_ml], dtype=np.float64),
        end_need_ml=np.array([end_need_ml], dtype=np.float64),
        needs_treatment=treated[:, None],
        treatments=treatments,
        fit_after_ml=fit_after[:, None],
        stop_need_ml=stop_need[:, None],
        drink_ahead_ml=np.array([drink_ahead_ml], dtype=np.float64),
        unfelt_ml=np.array([unfelt_ml], dtype=np.float64),
        one_bottle=one_bottle,
    ).one(0)


def choose_stops(
    need_ml: Floats,
    stop_s: Floats,
    *,
    start_ml: Floats,
    capacity_ml: Floats,
    end_need_ml: Floats,
    needs_treatment: NDArray[np.bool_],
    treatments: Sequence[Treatment],
    fit_after_ml: Floats,
    stop_need_ml: Floats,
    drink_ahead_ml: Floats,
    unfelt_ml: Floats | float = 0.0,
    one_bottle: bool = False,
    treats_ml: Floats | None = None,
    must: NDArray[np.bool_] | None = None,
) -> Stops:
    """Choose the stops with the least shortage, and among those the least time, of n walks.

    Ties go to fewer stops, then to stopping earlier.

    Parameters
    ----------
    need_ml : ndarray of float, shape (K, n)
        Water needed from the start to each place [mL], in the order they are passed (never
        falling, the first not below 0).
    stop_s : ndarray of float, shape (K, n)
        What a stop there costs: way there and back, filling [s], not negative; infinite for a
        place that cannot be used.
    start_ml, capacity_ml : ndarray of float, shape (n,)
        Water at the start, at most what the bottles hold together [mL].
    end_need_ml : ndarray of float, shape (n,)
        Water needed from the start to the end of the way [mL].
    needs_treatment : ndarray of bool, shape (K, n)
        Whether the water of each place must be treated.
    treatments : sequence of Treatment
        What can treat it, T of them.
    fit_after_ml : ndarray of float, shape (K, n)
        Need from each place until water taken there and carried on is fit [mL]; NaN where no water
        is carried on.
    stop_need_ml : ndarray of float, shape (K, n)
        Water needed in the time of a stop, before the bottles are filled [mL].
    drink_ahead_ml : ndarray of float, shape (n,)
        Most that is drunk ahead of need at a stop, from what is left in the bottle [mL].
    unfelt_ml : ndarray of float, shape (n,)
        Water that the body may be short of without harm [mL]: no stop is made to spare it.
    one_bottle : bool
        Whether untreated water mixes with what is left.
    treats_ml : ndarray of float, shape (T, n), optional
        What each walk's treatments can treat, in place of ``treatments``' own.
    must : ndarray of bool, shape (K, n), optional
        Where a stop is made needed or not, if anything can be taken there.

    Returns
    -------
    Stops
        Chosen stops, shortage, time.
    """
    places, walks = need_ml.shape
    treats = np.array([[each.treats_ml] for each in treatments], dtype=np.float64).reshape(-1, 1)
    asked = _Asked(
        need_ml=need_ml,
        stop_s=stop_s,
        treated=needs_treatment,
        fit_after_ml=fit_after_ml,
        stop_need_ml=stop_need_ml,
        must=np.zeros((places, walks), dtype=bool) if must is None else must,
        # What the body may owe is a vessel more, full at the start and topped up first.
        start_ml=start_ml + unfelt_ml,
        end_need_ml=end_need_ml,
        capacity_ml=capacity_ml,
        ahead_ml=drink_ahead_ml + unfelt_ml,
        treatments=tuple(treatments),
        treats_ml=np.broadcast_to(treats, (len(treatments), walks))
        if treats_ml is None
        else treats_ml,
        one_bottle=one_bottle,
    )
    carrying = bool(np.isfinite(fit_after_ml).any())
    ways = ways_to_fill(treatments, carrying=carrying)
    code = np.zeros((places, walks), dtype=np.int64)
    # Who comes home on what is carried, and must stop nowhere, needs no choice.
    asking = (end_need_ml > asked.start_ml) | asked.must.any(axis=0)
    rows = np.flatnonzero(asking)
    if rows.size:
        few = asked.some(rows)
        code[:, rows] = _best(few, ways_to_fill(few.treatments, carrying=carrying))
    return _told(asked, ways, code, unfelt_ml)


def _best(asked: _Asked, ways: tuple[WayToFill, ...]) -> NDArray[np.int64]:
    """Find the best possibility of every walk, as codes of what is done at each place (K, n)."""
    places, walks = asked.need_ml.shape
    rules = asked.rules(column=True)
    states = _States(
        np.zeros((walks, 1)),
        np.zeros((walks, 1)),
        np.zeros((walks, 1), dtype=np.int64),
        Water.carried(
            asked.start_ml[:, None].copy(), tuple(one[:, None].copy() for one in asked.treats_ml)
        ),
    )
    came_from: list[tuple[int, NDArray[np.intp], NDArray[np.int64]]] = []
    gone = np.zeros(walks)
    for place in range(places):
        need = asked.need_ml[place]
        states = _walked(states, (need - gone)[:, None])
        gone = need
        open_here = np.isfinite(asked.stop_s[place])
        if not open_here.any():
            continue
        made = [(PASS, states)]
        for way in ways:
            usable = open_here & (asked.treated[place] == (way.code > CLEAN))
            if way.carried_on:
                usable &= np.isfinite(asked.fit_after_ml[place])
            if usable.any():
                made.append((way.code, _filled(states, asked, place, way, rules, usable)))
        if len(made) == 1:
            continue
        states, parent, done = _front(_together(made, asked.must[place]))
        codes = np.repeat([code for code, _ in made], made[0][1].short_ml.shape[1])
        width = made[0][1].short_ml.shape[1]
        came_from.append((place, parent % width, codes[done]))
    states = _walked(states, (asked.end_need_ml - gone)[:, None])
    every = np.arange(walks)
    at = np.lexsort((states.stops, states.stop_s, states.short_ml), axis=-1)[:, 0]
    code = np.zeros((places, walks), dtype=np.int64)
    for place, parent, done in reversed(came_from):
        code[place] = done[every, at]
        at = parent[every, at]
    return code


def _walked(states: _States, need_ml: Floats) -> _States:
    water, short = walk(states.water, need_ml)
    return states._replace(short_ml=states.short_ml + short, water=water)


def _filled(
    states: _States,
    asked: _Asked,
    place: int,
    way: WayToFill,
    rules: Rules,
    usable: NDArray[np.bool_],
) -> _States:
    """Stop at a place in one way; what cannot be done is short by infinity."""
    there = _walked(states, (asked.stop_need_ml[place] + way.need_ml)[:, None])
    water, took = way.fill(there.water, rules, asked.fit_after_ml[place][:, None])
    took = took & usable[:, None]
    return _States(
        np.where(took, there.short_ml, inf),
        there.stop_s + np.where(usable, asked.stop_s[place], 0.0)[:, None] + way.time_s,
        there.stops + 1,
        water,
    )


def _together(made: list[tuple[int, _States]], must: NDArray[np.bool_]) -> _States:
    """Put possibilities beside each other, in the order of the ways; who must stop cannot pass."""
    each = [states for _code, states in made]
    if must.any():
        able = np.logical_or.reduce([np.isfinite(one.short_ml) for one in each[1:]])
        passed = np.where(must[:, None] & able, inf, each[0].short_ml)
        each[0] = each[0]._replace(short_ml=passed)
    waters = [one.water for one in each]
    return _States(
        np.concatenate([one.short_ml for one in each], axis=1),
        np.concatenate([one.stop_s for one in each], axis=1),
        np.concatenate([one.stops for one in each], axis=1),
        Water(
            np.concatenate([one.fit_ml for one in waters], axis=1),
            np.concatenate([one.waiting_ml for one in waters], axis=1),
            np.concatenate([one.fit_after_ml for one in waters], axis=1),
            tuple(
                np.concatenate(list(column), axis=1)
                for column in zip(*(one.treats_ml for one in waters), strict=True)
            ),
        ),
    )


def _taken(states: _States, order: NDArray[np.intp]) -> _States:
    def of(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.take_along_axis(values, order, axis=1)

    water = states.water
    return _States(
        of(states.short_ml),
        of(states.stop_s),
        np.take_along_axis(states.stops, order, axis=1),
        Water(
            of(water.fit_ml),
            of(water.waiting_ml),
            of(water.fit_after_ml),
            tuple(of(one) for one in water.treats_ml),
        ),
    )


def _front(states: _States) -> tuple[_States, NDArray[np.intp], NDArray[np.intp]]:
    """Keep the possibilities no other one beats, best first; also where each stood before."""
    order = np.lexsort((states.stops, states.stop_s, states.short_ml), axis=-1)
    states = _taken(states, order)
    walks, width = states.short_ml.shape
    beaten = ~np.isfinite(states.short_ml)
    later = np.triu(np.ones((width, width), dtype=bool), k=1)
    block = max(TOGETHER // (width * width), 1)
    for first in range(0, walks, block):
        rows = slice(first, first + block)
        water = states.water
        one = Water(
            water.fit_ml[rows, :, None],
            water.waiting_ml[rows, :, None],
            water.fit_after_ml[rows, :, None],
            tuple(each[rows, :, None] for each in water.treats_ml),
        )
        other = Water(
            water.fit_ml[rows, None, :],
            water.waiting_ml[rows, None, :],
            water.fit_after_ml[rows, None, :],
            tuple(each[rows, None, :] for each in water.treats_ml),
        )
        beats = at_least_as_good(one, other) & later & ~beaten[rows, :, None]
        beaten[rows] |= beats.any(axis=1)
    front = np.argsort(beaten, axis=1, kind="stable")[:, : int((~beaten).sum(axis=1).max())]
    kept = _taken(states, front)
    gone = np.take_along_axis(beaten, front, axis=1)
    source = np.take_along_axis(order, front, axis=1)
    return kept._replace(short_ml=np.where(gone, inf, kept.short_ml)), source, source


def _told(
    asked: _Asked, ways: tuple[WayToFill, ...], code: NDArray[np.int64], unfelt_ml: Floats | float
) -> Stops:
    """Walk the chosen stops once more and write down the levels."""
    places, walks = code.shape
    rules = asked.rules(column=False)
    water = Water.carried(
        np.array(asked.start_ml, dtype=np.float64), tuple(one.copy() for one in asked.treats_ml)
    )
    arrive, filled = np.zeros((places, walks)), np.zeros((places, walks))
    method = np.full((places, walks), AS_IT_IS)
    carried_on = np.zeros((places, walks), dtype=np.bool_)
    short, stop_s, gone = np.zeros(walks), np.zeros(walks), np.zeros(walks)
    for place in range(places):
        water, missing = walk(water, asked.need_ml[place] - gone)
        short, gone = short + missing, asked.need_ml[place]
        arrive[place] = np.maximum(water.fit_ml - unfelt_ml, 0.0)
        for way in ways:
            here = code[place] == way.code
            if not here.any():
                continue
            there, missing = walk(water, np.where(here, asked.stop_need_ml[place] + way.need_ml, 0))
            full, _took = way.fill(there, rules, asked.fit_after_ml[place])
            short = short + np.where(here, missing, 0.0)
            stop_s = stop_s + np.where(here, asked.stop_s[place] + way.time_s, 0.0)
            filled[place] = np.where(here, full.total_ml - there.total_ml, filled[place])
            method[place][here], carried_on[place][here] = way.method, way.carried_on
            water = full.where(here, water)
    water, missing = walk(water, asked.end_need_ml - gone)
    used = [
        np.subtract(was, left, out=np.zeros(walks), where=was != left)
        for was, left in zip(asked.treats_ml, water.treats_ml, strict=True)
    ]
    return Stops(
        chosen=code != PASS,
        method=method,
        carried_on=carried_on,
        arrive_ml=arrive,
        filled_ml=filled,
        short_ml=short + missing,
        stop_s=stop_s,
        used_ml=np.array(used, dtype=np.float64).reshape(len(asked.treatments), walks),
        left_ml=np.maximum(water.total_ml - unfelt_ml, 0.0),
    )


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


def checked_amounts(
    start_ml: float, capacity_ml: float, treatments: Sequence[Treatment], *, drink_ahead_ml: float
) -> None:
    """Refuse amounts of a bottle and its treatments that cannot be."""
    if not 0 <= start_ml <= capacity_ml < float("inf"):
        msg = f"start_ml must be 0 to capacity_ml: {start_ml!r} of {capacity_ml!r}"
        raise ValueError(msg)
    if not 0 <= drink_ahead_ml < float("inf"):
        msg = f"drink_ahead_ml must be 0 or more: {drink_ahead_ml!r}"
        raise ValueError(msg)
    if not all(amount >= 0 for treatment in treatments for amount in treatment):
        msg = f"amounts and times of treatments must be 0 or more: {list(treatments)!r}"
        raise ValueError(msg)
