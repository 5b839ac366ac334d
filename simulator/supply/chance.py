"""How sure a plan of stops is, when each place works only with its own chance.

Places fail independently of each other. Nothing is drawn at random: what may be left in the
bottles is followed with its probability from place to place, so the answers are exact for the
chances given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.supply.bottle import Rules, Treatment, Water, walk
from simulator.supply.refills import (
    CLEAN,
    Filling,
    StopPlan,
    checked,
    checked_amounts,
    checked_more,
    ways_to_fill,
)

Level = tuple[float, ...]
"""Water at hand as plain numbers, to tell possibilities apart: fit, waiting, need until that is
fit, then what each treatment can still treat [mL]."""

ROUNDING_CHANCE = 1e-12
"""Chances closer than this are the same."""


@dataclass(frozen=True, slots=True)
class Surest:
    """What is best done on the way, seeing at each place whether it works.

    Attributes
    ----------
    dry : float
        Chance of running dry, 0 to 1.
    stop_s : float
        Expected time of stops, those at dry places included, until home or dry [s].
    stops : tuple of Filling
        Stops made when every place works.
    """

    dry: float
    stop_s: float
    stops: tuple[Filling, ...]


class _Option(NamedTuple):
    """One thing to do at a place: its time when it works and when not, and what comes of it."""

    stop: Filling | None
    time_s: float
    failed_s: float
    done: Level | None  # None is dry
    failed: Level | None


@dataclass(frozen=True, slots=True)
class UnsureWay:
    """A way with places that may fail; K places. Arguments as for `plan_stops`.

    Attributes
    ----------
    need_ml, stop_s : ndarray of float, shape (K,)
        Need up to each place [mL], time of a stop there [s].
    works : ndarray of float, shape (K,)
        Chance that each works, 0 to 1.
    treated : ndarray of bool, shape (K,)
        Whether its water needs treatment.
    fit_after_ml : ndarray of float, shape (K,)
        Need until water carried on becomes fit [mL], NaN for none.
    stop_need_ml : ndarray of float, shape (K,)
        Water needed in the time of a stop, found working or not [mL].
    end_need_ml, start_ml : float
        Need up to home, water at the start [mL].
    treatments : tuple of Treatment
        What is carried; one that cannot run out counts as without limit.
    rules : Rules
        Of every stop.
    """

    need_ml: NDArray[np.float64]
    stop_s: NDArray[np.float64]
    works: NDArray[np.float64]
    treated: NDArray[np.bool_]
    fit_after_ml: NDArray[np.float64]
    stop_need_ml: NDArray[np.float64]
    end_need_ml: float
    start_ml: float
    treatments: tuple[Treatment, ...]
    rules: Rules

    @classmethod
    def of(
        cls,
        need_ml: ArrayLike,
        stop_s: ArrayLike,
        works: ArrayLike,
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
        grain_ml: float = 0.0,
    ) -> UnsureWay:
        """Check a way and its chances.

        Parameters
        ----------
        need_ml, stop_s, start_ml, capacity_ml, end_need_ml, needs_treatment, treatments, \
fit_after_ml, stop_need_ml, drink_ahead_ml, unfelt_ml, one_bottle
            As for `plan_stops`.
        works : array_like, shape (K,)
            Chance that each place works, 0 to 1.
        grain_ml : float
            Needs are rounded to whole multiples of this [mL], so that states stay few, and bottles
            count as one grain smaller, so that no risk is missed by it. 0 for none.

        Returns
        -------
        UnsureWay
            Ready to be asked.

        Raises
        ------
        ValueError
            As for `plan_stops`, and for chances outside 0 to 1.
        """
        need, cost, treated = checked(need_ml, stop_s, needs_treatment, end_need_ml=end_need_ml)
        share = np.asarray(works, dtype=np.float64)
        if share.shape != need.shape or not ((share >= 0) & (share <= 1)).all():
            msg = f"works must be as long as need_ml and within 0 to 1: {share.tolist()}"
            raise ValueError(msg)
        checked_amounts(start_ml, capacity_ml, treatments, drink_ahead_ml=drink_ahead_ml)
        start_ml, drink_ahead_ml = start_ml + unfelt_ml, drink_ahead_ml + unfelt_ml
        rules = Rules(
            capacity_ml, drink_ahead_ml, one_bottle, tuple(each.dose_ml for each in treatments)
        )
        # A treatment that lasts for every stop need not be counted, which keeps states few.
        most = need.size * (capacity_ml + max(rules.doses_ml, default=0.0))
        ample = tuple(
            treatment._replace(treats_ml=inf) if treatment.treats_ml >= most else treatment
            for treatment in treatments
        )
        fit_after = checked_more(fit_after_ml, need, np.nan, "fit_after_ml")
        stop_need = checked_more(stop_need_ml, need, 0.0, "stop_need_ml")
        if grain_ml > 0.0:
            need, fit_after, stop_need = (
                np.ceil(amount / grain_ml) * grain_ml for amount in (need, fit_after, stop_need)
            )
            ample = tuple(
                each._replace(
                    wait_ml=float(np.ceil(each.wait_ml / grain_ml) * grain_ml),
                    carry_ml=float(np.ceil(each.carry_ml / grain_ml) * grain_ml),
                )
                for each in ample
            )
            end_need_ml = float(np.ceil(end_need_ml / grain_ml) * grain_ml)
            start_ml = max(start_ml // grain_ml - 1, 0) * grain_ml
            rules = rules._replace(
                capacity_ml=max(capacity_ml // grain_ml - 1, 0) * grain_ml,
                ahead_ml=drink_ahead_ml // grain_ml * grain_ml,
            )
        return cls(
            need, cost, share, treated, fit_after, stop_need, end_need_ml, start_ml, ample, rules
        )

    @property
    def start(self) -> Level:
        """Water at the start."""
        treats = (treatment.treats_ml for treatment in self.treatments)
        return (float(self.start_ml), 0.0, 0.0, *treats)

    def onward(self, levels: Sequence[Level], place: int) -> list[Level | None]:
        """Walk from a place (-1 is the start) to the next, or home; None where it runs dry."""
        if not levels:
            return []
        return self._onward(_water(levels), np.zeros(len(levels)), place)

    def _onward(
        self, water: Water, short_ml: NDArray[np.float64], place: int
    ) -> list[Level | None]:
        begin = float(self.need_ml[place]) if place >= 0 else 0.0
        last = place + 1 == self.need_ml.size
        end = self.end_need_ml if last else float(self.need_ml[place + 1])
        after, short = walk(water, np.full(short_ml.shape, end - begin))
        dry = short + short_ml > 0.0
        return [
            None if none else level
            for none, level in zip(dry.tolist(), _levels_of(after), strict=True)
        ]

    def options(self, levels: Sequence[Level], place: int) -> list[list[_Option]]:
        """Give what can be done at a place for each amount at hand: pass first, then every fill."""
        passed = self.onward(levels, place)
        found = [[_Option(None, 0.0, 0.0, there, there)] for there in passed]
        cost_s = float(self.stop_s[place])
        if not levels or not np.isfinite(cost_s) or self.works[place] == 0.0:
            return found
        water, size = _water(levels), len(levels)
        stop_ml, fit_after = float(self.stop_need_ml[place]), self.fit_after_ml[place]
        tried, short = walk(water, np.full(size, stop_ml))
        failed = self._onward(tried, short, place)
        for way in ways_to_fill(self.treatments, carrying=bool(np.isfinite(fit_after))):
            if (way.code > CLEAN) != bool(self.treated[place]):
                continue
            there, dry = walk(water, np.full(size, stop_ml + way.need_ml))
            filled, took = way.fill(there, self.rules, np.full(size, fit_after))
            done = self._onward(filled, dry, place)
            stop = Filling(place, way.method, way.carried_on)
            for row in np.flatnonzero(took).tolist():
                found[row].append(
                    _Option(stop, cost_s + way.time_s, cost_s, done[row], failed[row])
                )
        return found


def _water(levels: Sequence[Level]) -> Water:
    """Put amounts at hand into arrays."""
    fit, waiting, after, *treats = np.array(levels, dtype=np.float64).reshape(len(levels), -1).T
    return Water(fit, waiting, after, tuple(treats))


def _levels_of(water: Water) -> list[Level]:
    """Give amounts at hand as plain numbers."""
    columns = (water.fit_ml, water.waiting_ml, water.fit_after_ml, *water.treats_ml)
    return list(zip(*(column.tolist() for column in columns), strict=True))


def chance_dry(odds: UnsureWay, plan: StopPlan) -> float:
    """Chance of running dry when the chosen stops are made and nothing is done about a failure.

    Parameters
    ----------
    odds : UnsureWay
        The way and its chances.
    plan : StopPlan
        From `plan_stops` on the same way.

    Returns
    -------
    float
        0 to 1.

    Examples
    --------
    >>> from simulator.supply.refills import plan_stops
    >>> way = {"start_ml": 500, "capacity_ml": 500, "end_need_ml": 900}
    >>> plan = plan_stops([400], [60], **way)
    >>> chance_dry(UnsureWay.of([400], [60], [0.75], **way), plan)
    0.25
    """
    dry = 0.0
    first = odds.onward([odds.start], -1)[0]
    states: dict[Level, float] = {} if first is None else {first: 1.0}
    dry += 1.0 if first is None else 0.0
    for place in range(odds.need_ml.size):
        after: dict[Level, float] = {}
        chosen = None
        if plan.chosen[place]:
            chosen = Filling(place, int(plan.method[place]), bool(plan.carried_on[place]))
        possible = odds.options(list(states), place)
        for options, chance in zip(possible, states.values(), strict=True):
            # A stop where nothing can be taken any more is passed.
            option = next((found for found in options if found.stop == chosen), options[0])
            works = float(odds.works[place]) if option.stop is not None else 1.0
            for result, share in ((option.done, works), (option.failed, 1.0 - works)):
                if result is None:
                    dry += chance * share
                elif share > 0.0:
                    after[result] = after.get(result, 0.0) + chance * share
        states = after
    return dry


def surest(odds: UnsureWay, *, price_per_s: float = 0.0) -> Surest:
    """Find what to do at each place, knowing what failed before, for the best chance.

    Parameters
    ----------
    odds : UnsureWay
        The way and its chances.
    price_per_s : float
        Chance one gives up to save a second [1/s]; 0 looks at the chance alone, and at the time
        only among equal chances.

    Returns
    -------
    Surest
        The best chance there is for this price, and the stops it means while all goes well.

    Raises
    ------
    ValueError
        For a price below zero.

    Examples
    --------
    >>> way = {"start_ml": 500, "capacity_ml": 500, "end_need_ml": 900}
    >>> surest(UnsureWay.of([400, 450], [60, 60], [0.5, 0.5], **way)).dry
    0.25
    """
    if not price_per_s >= 0.0:
        msg = f"price_per_s must be 0 or more: {price_per_s!r}"
        raise ValueError(msg)
    first = odds.onward([odds.start], -1)[0]
    if first is None:
        return Surest(1.0, 0.0, ())
    levels, home = _levels(odds, first)
    value: dict[Level | None, tuple[float, float]] = dict.fromkeys(home, (1.0, 0.0))
    best: list[dict[Level, _Option]] = []
    for place in reversed(range(len(levels))):
        value, chosen = _decide(levels[place], value, float(odds.works[place]), price_per_s)
        best.insert(0, chosen)
    stops = []
    water: Level | None = first
    for chosen in best:
        option = chosen[water] if water is not None else _Option(None, 0.0, 0.0, None, None)
        water = option.done
        if option.stop is not None:
            stops.append(option.stop)
    through, time_s = value[first]
    return Surest(1.0 - through, time_s, tuple(stops))


def _levels(odds: UnsureWay, first: Level) -> tuple[list[dict[Level, list[_Option]]], set[Level]]:
    """List what may be left on reaching each place, with the options there; and at home."""
    levels: list[dict[Level, list[_Option]]] = []
    arriving = {first}
    for place in range(odds.need_ml.size):
        reached = sorted(arriving)
        level = dict(zip(reached, odds.options(reached, place), strict=True))
        levels.append(level)
        arriving = {
            water
            for options in level.values()
            for option in options
            for water in (option.done, option.failed)
            if water is not None
        }
    return levels, arriving


def _decide(
    level: dict[Level, list[_Option]],
    value: dict[Level | None, tuple[float, float]],
    works: float,
    price_per_s: float,
) -> tuple[dict[Level | None, tuple[float, float]], dict[Level, _Option]]:
    """Choose at one place: chance of coming through and time from there on, by what is left."""
    value[None] = (0.0, 0.0)
    here: dict[Level | None, tuple[float, float]] = {}
    chosen: dict[Level, _Option] = {}
    for water, options in level.items():
        for option in options:
            worth = _worth(option, value, works)
            if water not in here or _better(worth, here[water], price_per_s):
                here[water], chosen[water] = worth, option
    return here, chosen


def _worth(
    option: _Option, value: dict[Level | None, tuple[float, float]], works: float
) -> tuple[float, float]:
    """Chance of coming through and expected time when an option is taken."""
    chance, time_s = value[option.done]
    if option.stop is None:
        return chance, time_s
    else_chance, else_s = value[option.failed]
    return (
        works * chance + (1.0 - works) * else_chance,
        works * (time_s + option.time_s) + (1.0 - works) * (else_s + option.failed_s),
    )


def _better(one: tuple[float, float], other: tuple[float, float], price_per_s: float) -> bool:
    """Whether one chance and time beats another at a price of time."""
    gain = one[0] - other[0] - price_per_s * (one[1] - other[1])
    if abs(gain) > ROUNDING_CHANCE:
        return gain > 0.0
    return one[1] < other[1]
