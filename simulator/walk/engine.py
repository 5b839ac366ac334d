"""Many walkers, each on a way of one's own, through the same steps as one walk."""

from __future__ import annotations

import copy
import itertools
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, NamedTuple, Self

import numpy as np

from simulator.body import energy, pace, water
from simulator.body.drinking import most_drink_ml_h, unfelt_ml
from simulator.body.effort import SLOPES_PCT, SLOWEST_SHARE, capacity_w, kept_speed_m_s, kept_w
from simulator.supply import bottle
from simulator.units import HOUR_S
from simulator.walk import party as manners
from simulator.walk.conditions import Moment, differing
from simulator.walk.course import join_courses
from simulator.walk.ledger import BODY_KCAL, HourMarks, as_long
from simulator.walk.rates import (
    load_factor,
    most_load_share,
    refuse_impossible,
    walking_w,
    water_loss_g_h,
)
from simulator.walk.records import (
    CHILL_CARE_C,
    HEAT_CARE_C,
    HOURLY,
    LIGHT_CARE_H,
    PACE_COSTS,
    PASSING,
    Begun,
    Doing,
    Dosing,
    Each,
    Halted,
    Marks,
    Outcome,
    Total,
    Trace,
    some_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions
    from simulator.walk.course import Course
    from simulator.walk.party import Manner
    from simulator.walk.records import Stop, Traits, Walkers, WeatherError


def fatigue_factor(
    since_halt_s: NDArray[np.float64], *, per_h: NDArray[np.float64] | float
) -> NDArray[np.float64] | float:
    """Give the share of the fresh speed left."""
    if since_halt_s.max() <= pace.FATIGUE_FREE_H * HOUR_S:
        return 1.0
    return pace.fatigue_factor(since_halt_s / HOUR_S, fatigue_per_h=per_h)


LIGHT_LOAD_SHARE = 0.4
"""Load over body mass up to which no formula of the walk needs a check; the least of their limits,
``simulator.body.energy.EQUATION_LIMITS["total_mass"]``."""


CHANGING = (
    "totals",
    "since_rest_s",
    "since_halt_s",
    "treats_ml",
    "waiting_ml",
    "fit_from_s",
    "worst_deficit_ml",
    "worst_short_ml",
    "first_short_s",
    "first_short_m",
    "light_out_s",
    "light_out_m",
    "hungry_s",
    "hungry_m",
    "coldest_c",
    "hottest_c",
    "cold_from_s",
    "hot_from_s",
    "next_mark_s",
)
"""What time passing changes, walkers last."""

FIXED = (
    "row",
    "depart_epoch_s",
    "area_m2",
    "unfelt_ml",
    "most_drink_ml_h",
    "skin_g_h",
    "resting_w",
    "standing_w",
    "more_w",
    "kept_w",
    "rest_s_per_h",
)
"""What stays, walkers last."""


class Standing:
    """Who the walkers are and how each stands: clocks, bottles, loads, extremes so far."""

    def __init__(
        self,
        walkers: Walkers,
        conditions: Conditions,
        depart_epoch_s: NDArray[np.float64],
        *,
        rest_s_per_h: float,
        sweat: float | NDArray[np.float64] = 0.0,
        traits: Traits | None = None,
        error: WeatherError | None = None,
        hours: HourMarks | None = None,
    ) -> None:
        n = walkers.count
        self.walkers, self.traits, self.error = walkers, traits, error
        self.conditions = conditions
        self.depart_epoch_s = depart_epoch_s
        self.row = np.arange(n)
        self.totals = np.zeros((len(Total), n))
        self.since_rest_s = np.zeros(n)
        self.since_halt_s = walkers.afoot_s.copy()
        self.treats_ml = walkers.treats_ml.copy()
        self.waiting_ml = np.zeros(n)
        self.fit_from_s = np.full(n, -np.inf)
        self.treating = self.drank_ahead = False
        self.worst_deficit_ml = np.zeros(n)
        self.worst_short_ml = np.zeros(n)
        self.first_short_s = np.full(n, np.inf)
        self.light_out_s = np.full(n, np.inf)
        self.hungry_s = np.full(n, np.inf)
        self.first_short_m, self.light_out_m, self.hungry_m = np.zeros((3, n))
        self.coldest_c = np.full(n, np.inf)
        self.hottest_c = np.full(n, -np.inf)
        self.cold_from_s = np.full(n, np.inf)
        self.hot_from_s = np.full(n, np.inf)
        self.light = most_load_share(walkers) <= LIGHT_LOAD_SHARE
        self.area_m2 = np.asarray(water.body_area_m2(walkers.mass_kg, walkers.height_m))
        self.unfelt_ml = unfelt_ml(walkers.mass_kg)
        self.most_drink_ml_h = np.asarray(most_drink_ml_h(walkers.mass_kg))
        self.skin_g_h = np.asarray(water.skin_diffusion_g_h(self.area_m2))
        self.resting_w = np.asarray(
            energy.resting_of(walkers.mass_kg, walkers.height_m, walkers.age_y, walkers.male)
        )
        standing_w = np.asarray(energy.standing_w(walkers.mass_kg))
        # Children use more at rest than the walking equations, made on adults, give them standing.
        self.more_w = np.maximum(self.resting_w - standing_w, 0.0)
        self.standing_w = standing_w + self.more_w
        self.kept_w = np.full(n, np.inf)
        self.rest_s_per_h = np.full(n, rest_s_per_h)
        self.sweat = np.full(n, sweat) if np.any(sweat) else None
        if traits is not None:
            self.rest_s_per_h = self.rest_s_per_h * traits.rest_factor
        self.at_m: NDArray[np.float64] | float = 0.0
        self.hours = hours
        self.next_mark_s = np.full(n, HOUR_S)
        self._group()

    def _group(self) -> None:
        """Find the parties: runs of equal numbers; one walker each needs no reduction."""
        party = self.walkers.party
        starts = np.flatnonzero(np.r_[True, party[1:] != party[:-1]])
        self.party_starts = starts if starts.size < party.size else None
        self.party_sizes = np.diff(np.r_[starts, party.size])

    def some(self, rows: NDArray[np.intp]) -> Self:
        """Copy some walkers, whole parties, to change them apart from the others."""
        part = copy.copy(self)
        part.walkers = some_of(self.walkers, rows)
        part.traits = None if self.traits is None else some_of(self.traits, rows)
        part.error = None if self.error is None else some_of(self.error, rows)
        part.sweat = None if self.sweat is None else self.sweat[rows]
        for name in (*CHANGING, *FIXED):
            setattr(part, name, getattr(self, name)[..., rows])
        if isinstance(self.at_m, np.ndarray):
            part.at_m = self.at_m[rows]
        if self.party_starts is not None:
            part._group()  # noqa: SLF001 - one's own kind
        return part

    def put(self, rows: NDArray[np.intp], part: Standing) -> None:
        """Write changed walkers back."""
        for name in CHANGING:
            getattr(self, name)[..., rows] = getattr(part, name)
        self.treating = self.treating or part.treating
        self.drank_ahead = self.drank_ahead or part.drank_ahead

    @property
    def water_ml(self) -> NDArray[np.float64]:
        """Water in the bottles, from the balance itself so that it always closes."""
        total = self.totals
        left: NDArray[np.float64] = (
            self.walkers.water_ml + total[Total.REFILLED_ML] - total[Total.DRUNK_ML]
        )
        return left

    @property
    def drinkable_ml(self) -> NDArray[np.float64]:
        """All water so far that was fit to drink, drunk or still in the bottles."""
        had: NDArray[np.float64] = self.walkers.water_ml + self.totals[Total.REFILLED_ML]
        return had - self.waiting_ml if self.treating else had

    @property
    def need_ml(self) -> NDArray[np.float64]:
        """Water lost so far outside stops for water, whose number is what it is asked for."""
        need: NDArray[np.float64] = self.totals[Total.LOST_ML] - self.totals[Total.STOP_LOST_ML]
        return need

    @property
    def fit_ml(self) -> NDArray[np.float64]:
        """Water in the bottles that is fit to drink now."""
        return self.water_ml - self.waiting_ml if self.treating else self.water_ml

    @property
    def load_kg(self) -> NDArray[np.float64]:
        """What the bag weighs now: water drunk and food eaten no longer weigh on the walker."""
        return self.load_after(self.totals[Total.DRUNK_ML], self.totals[Total.EATEN_KCAL])

    def load_after(
        self, drunk: NDArray[np.float64], eaten: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Give what the bag weighs when so many mL and kcal have been taken, (n,) or (E, n)."""
        walkers = self.walkers
        share = np.divide(
            eaten, walkers.food_kcal, out=np.zeros(eaten.shape), where=walkers.food_kcal > 0.0
        )
        gone_ml = drunk - self.totals[Total.REFILLED_ML]
        load: NDArray[np.float64] = np.maximum(
            walkers.bag_kg - gone_ml / 1000.0 - share * walkers.food_kg, 0.0
        )
        return load

    def now(self, ahead_s: NDArray[np.float64] | float = 0.0) -> Moment:
        """Look up what surrounds each walker, now or a little later."""
        return self.at(self.totals[Total.CLOCK_S] + ahead_s)

    def at(self, clock_s: NDArray[np.float64]) -> Moment:
        """Look up what surrounds each walker at times since departure, (n,) or (E, n)."""
        moment = self.conditions.at(self.depart_epoch_s + clock_s)
        return moment if self.error is None else differing(moment, self.error)

    def slowest(self, duration_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Longest time within each party: a group walks at its slowest."""
        if self.party_starts is None:
            return duration_s
        longest = np.maximum.reduceat(duration_s, self.party_starts, axis=-1)
        return np.repeat(longest, self.party_sizes, axis=-1)


Gains = dict[Total, "NDArray[np.float64]"]
"""What events add to totals, running straight through each."""

ROUNDING_S = 1e-6
AT_ONCE = Dosing()
"""Water that is treated is fit when the stop is over."""


class Events(NamedTuple):
    """What follows each other at constant rates: arrays (n,) for one event of n walkers, (E, n).

    Attributes
    ----------
    duration_s, power_w, walk_m_s : ndarray of float64
        How long, at what metabolic rate, at which speed.
    moment : Moment
        What surrounds each walker in each event.
    gone_m, run_m : ndarray of float64
        Distance on setting out, and walked; (E, n) or what broadcasts to it.
    needs_light : ndarray of bool or None
        Where a lamp burns if there is one; None for nowhere.
    gains : dict of Total to ndarray of float64
        What each event adds to totals beside what is burnt, lost, eaten and drunk.
    sheltered : bool
        Out of wind and sun.
    """

    duration_s: NDArray[np.float64]
    power_w: NDArray[np.float64]
    walk_m_s: NDArray[np.float64]
    moment: Moment
    gone_m: NDArray[np.float64] | float
    run_m: NDArray[np.float64] | float
    needs_light: NDArray[np.bool_] | None
    gains: Gains
    sheltered: bool = False


class _Used(NamedTuple):
    """Running totals after each event, (n,) or (E, n), and whether the sweat equation is backed."""

    burnt_kcal: NDArray[np.float64]
    eaten_kcal: NDArray[np.float64]
    lost_ml: NDArray[np.float64]
    drunk_ml: NDArray[np.float64]
    backed: NDArray[np.bool_]


def before(start: NDArray[np.float64], after: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give a running total before each event, from what it is after each."""
    return start if after.ndim == 1 else np.concatenate([start[None], after[:-1]])


def running(start: NDArray[np.float64], gains: NDArray[np.float64]) -> NDArray[np.float64]:
    """Add up one event after the other, as if each were added to the total by itself."""
    if gains.ndim == 1:
        return start + gains
    total = np.concatenate([start[None], gains])
    np.add.accumulate(total, axis=0, out=total)
    return total[1:]


def following(
    start: NDArray[np.float64], goal: NDArray[np.float64], most: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Let a running total follow a goal that never falls, by so much in an event at most."""
    goal = np.maximum(goal, start)
    if goal.ndim == 1:
        return np.minimum(goal, start + most)
    if (before(start, goal) + most >= goal).all():
        return goal
    total, here = np.empty_like(goal), start
    for event in range(len(goal)):
        here = np.minimum(goal[event], here + most[event], out=total[event])
    return total


def extreme(of: np.ufunc, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the least or most of each walker over events."""
    found: NDArray[np.float64] = values if values.ndim == 1 else of.reduce(values, axis=0)
    return found


def at_end(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give each walker's value in the last event."""
    last: NDArray[np.float64] = values if values.ndim == 1 else values[-1]
    return last


def _part(event: Events, duration_s: NDArray[np.float64], share: NDArray[np.float64]) -> Events:
    """Take a part of one event."""
    gains = {each: gain * share for each, gain in event.gains.items()}
    return event._replace(duration_s=duration_s, run_m=event.run_m * share, gains=gains)


class State(Standing):
    """Everything that changes while the walkers walk."""

    def spend(
        self,
        duration_s: NDArray[np.float64],
        power_w: NDArray[np.float64],
        moment: Moment,
        *,
        row: Total,
        walk_m_s: NDArray[np.float64] | None = None,
        run_m: NDArray[np.float64] | float = 0.0,
        sheltered: bool = False,
        needs_light: NDArray[np.bool_] | None = None,
        gains: Gains | None = None,
    ) -> bool:
        """Let time pass; in two parts where water under treatment becomes fit within it.

        Gives whether the sweat equation is backed for everyone.
        """
        event = Events(
            duration_s,
            power_w,
            np.zeros_like(power_w) if walk_m_s is None else walk_m_s,
            moment,
            self.at_m,
            run_m,
            needs_light,
            {row: duration_s, **(gains or {})},
            sheltered,
        )
        if not self.treating:
            return self._pass(event)
        until_s = np.clip(self.fit_from_s - self.totals[Total.CLOCK_S], 0.0, duration_s)
        passing = duration_s > 0.0
        share = np.divide(until_s, duration_s, out=np.zeros_like(until_s), where=passing)
        first = self._pass(_part(event, until_s, share))
        self._become_fit()
        rest = _part(event, duration_s - until_s, 1.0 - share)
        return self._pass(rest._replace(gone_m=self.at_m + run_m * share)) and first

    def _become_fit(self) -> None:
        """Let water whose treatment has taken its time be drunk."""
        fit = self.fit_from_s <= self.totals[Total.CLOCK_S] + ROUNDING_S
        self.waiting_ml = np.where(fit, 0.0, self.waiting_ml)
        self.treating = bool(self.waiting_ml.any())

    def _pass(self, event: Events) -> bool:
        """Let one event pass."""
        used = self.use(event, self.totals[Total.LOST_ML] - self.totals[Total.DRUNK_ML])
        self.book(event, used)
        return bool(used.backed)

    def use(self, events: Events, owed_ml: NDArray[np.float64]) -> _Used:
        """Say what events burn and lose, and what is eaten and drunk in them.

        What is owed to the body before each event only moves how much urine it makes.
        """
        walkers, total, traits = self.walkers, self.totals, self.traits
        hours = events.duration_s / HOUR_S
        rate_g_h, backed = water_loss_g_h(
            events.power_w,
            self.area_m2,
            events.moment,
            walkers.clothing_clo,
            skin_g_h=self.skin_g_h,
            body_mass_loss_pct=np.maximum(owed_ml, 0.0) / (10.0 * walkers.mass_kg),
            walk_m_s=events.walk_m_s,
            sheltered=events.sheltered,
            sweat=self.sweat,
            sweat_factor=None if traits is None else traits.sweat_factor,
        )
        lost = running(total[Total.LOST_ML], rate_g_h * hours)
        # Fit water is all that can have been drunk; who drinks less than is lost leaves the rest.
        goal = bottle.sip(lost, self.drinkable_ml)
        if traits is not None:
            goal = np.minimum(goal, lost - (1.0 - traits.drink_share) * lost)
        drunk = following(total[Total.DRUNK_ML], goal, self.most_drink_ml_h * hours)
        gone = events.power_w * events.duration_s / energy.J_PER_KCAL
        burnt = running(total[Total.ENERGY_KCAL], gone)
        # Eaten is what hunger asks, of the food there is, at a rate that can be borne.
        goal = np.minimum(burnt, walkers.food_kcal)
        eaten = following(total[Total.EATEN_KCAL], goal, energy.MAX_EAT_KCAL_H * hours)
        return _Used(burnt, eaten, lost, drunk, backed)

    def book(self, events: Events, used: _Used) -> dict[Total, NDArray[np.float64]]:
        """Write down what events come to; give the totals that change, after each, (E, n)."""
        duration_s, total = events.duration_s, self.totals
        after = {
            Total.CLOCK_S: running(total[Total.CLOCK_S], duration_s),
            Total.ENERGY_KCAL: used.burnt_kcal,
            Total.EATEN_KCAL: used.eaten_kcal,
            Total.LOST_ML: used.lost_ml,
            Total.DRUNK_ML: used.drunk_ml,
        }
        for each, gain in events.gains.items():
            after[each] = running(total[each], gain)
        night = events.moment.night
        if night.any():
            after[Total.DARK_S] = running(total[Total.DARK_S], night * duration_s)
        began_s = before(total[Total.CLOCK_S], after[Total.CLOCK_S])

        deficit = used.lost_ml - used.drunk_ml
        np.maximum(self.worst_deficit_ml, extreme(np.maximum, deficit), out=self.worst_deficit_ml)
        dry = (self.drinkable_ml - used.drunk_ml <= 0.0) & (deficit > self.unfelt_ml)
        if dry.any():
            dry &= duration_s > 0.0
            short = extreme(np.maximum, np.where(dry, deficit, 0.0))
            np.maximum(self.worst_short_ml, short, out=self.worst_short_ml)
            # Water runs straight within the event, so it runs short part of the way through.
            lost_before = before(total[Total.LOST_ML], used.lost_ml)
            lost = used.lost_ml - lost_before
            met = used.drunk_ml + self.unfelt_ml - lost_before
            part = np.divide(met, lost, out=np.zeros_like(lost), where=lost > 0.0)
            self._begin("first_short", dry, part, events, began_s)

        if at_end(used.burnt_kcal).max() > BODY_KCAL:
            lacking = used.burnt_kcal - used.eaten_kcal - BODY_KCAL
            hungry = before(total[Total.ENERGY_KCAL] - total[Total.EATEN_KCAL] - BODY_KCAL, lacking)
            gone = lacking - hungry
            part = np.divide(-hungry, gone, out=np.zeros_like(gone), where=gone > 0.0)
            self._begin("hungry", lacking > 0.0, part, events, began_s)

        if events.needs_light is not None and events.needs_light.any():
            need = events.needs_light * duration_s
            after[Total.LIGHT_NEED_S] = running(total[Total.LIGHT_NEED_S], need)
            wanted = running(total[Total.LIGHT_USED_S], need)
            lit = after[Total.LIGHT_USED_S] = np.minimum(wanted, self.walkers.light_s)
            out = (wanted > self.walkers.light_s) & (need > 0.0)
            if out.any():
                left = self.walkers.light_s - before(total[Total.LIGHT_USED_S], lit)
                part = np.divide(left, duration_s, out=np.zeros_like(left), where=out)
                self._begin("light_out", out, part, events, began_s)
        self._feel(events, began_s)
        if self.hours is not None:
            self.hours.read(
                total,
                after,
                next_s=self.next_mark_s,
                row=self.row,
                gone_m=events.gone_m,
                run_m=events.run_m,
            )
        for each, values in after.items():
            total[each] = at_end(values)
        return after

    def _begin(
        self,
        name: str,
        who: NDArray[np.bool_],
        part: NDArray[np.float64],
        events: Events,
        began_s: NDArray[np.float64],
    ) -> None:
        """Note when and where something first falls short, part of the way through an event."""
        from_s, from_m = getattr(self, f"{name}_s"), getattr(self, f"{name}_m")
        new = np.flatnonzero(np.atleast_2d(who).any(axis=0) & np.isinf(from_s))
        if not new.size:
            return
        at = (who[..., new].argmax(axis=0), new) if who.ndim > 1 else (new,)
        share = np.clip(part[at], 0.0, 1.0)
        gone_m, run_m = (
            np.broadcast_to(one, who.shape)[at] for one in (events.gone_m, events.run_m)
        )
        from_s[new] = began_s[at] + share * events.duration_s[at]
        from_m[new] = gone_m + share * run_m

    def _feel(self, events: Events, began_s: NDArray[np.float64]) -> None:
        """Keep the extremes of the felt temperature and when they first call for care."""
        felt, passing = events.moment.felt_c, events.duration_s > 0.0
        coldest = np.where(passing, felt, np.inf)
        hottest = np.where(passing, felt, -np.inf)
        np.minimum(self.coldest_c, extreme(np.minimum, coldest), out=self.coldest_c)
        np.maximum(self.hottest_c, extreme(np.maximum, hottest), out=self.hottest_c)
        for care, who in (
            (self.cold_from_s, coldest < CHILL_CARE_C),
            (self.hot_from_s, hottest >= HEAT_CARE_C),
        ):
            if who.any():
                since = extreme(np.minimum, np.where(who, began_s, np.inf))
                np.minimum(care, since, out=care)

    def drink_ahead(
        self, most_ml: NDArray[np.float64], *, works: NDArray[np.bool_] | None = None
    ) -> None:
        """Finish what is carried before filling, up to so much ahead of need.

        Not those who lack so much that they feel it: they drink as fast as is safe already.
        """
        total = self.totals
        ahead = total[Total.DRUNK_ML] - total[Total.LOST_ML]
        drinks = (most_ml > 0.0) & (ahead >= -self.unfelt_ml)
        drink = bottle.sip(np.maximum(most_ml - ahead, 0.0), self.fit_ml) * drinks
        total[Total.DRUNK_ML] += drink if works is None else works * drink
        self.drank_ahead = True

    def refill(
        self, *, treat: bool, dosing: Dosing = AT_ONCE, works: NDArray[np.bool_] | None = None
    ) -> None:
        """Fill every bottle as far as it holds, and treatment allows."""
        works = np.ones(self.row.size, dtype=bool) if works is None else works
        left, holds = self.water_ml, self.walkers.capacity_ml
        if not treat:
            self.waiting_ml = np.where(works, 0.0, self.waiting_ml)
            self.totals[Total.REFILLED_ML] += works * bottle.filled_clean_ml(left, holds)
            return
        taken, treated = bottle.filled_treated_ml(
            left, holds, np.minimum(self.treats_ml, dosing.limit_ml), dosing.one_bottle
        )
        taking = works & (taken > 0.0)
        taken, treated = np.where(taking, taken, 0.0), np.where(taking, treated, 0.0)
        self.treats_ml = self.treats_ml - bottle.used_ml(treated, dosing.dose_ml, self.treats_ml)
        if dosing.contact_s > 0.0:
            waiting = treated if dosing.one_bottle else self.waiting_ml + taken
            fit_from = self.totals[Total.CLOCK_S] + dosing.contact_s
            self.fit_from_s = np.where(taking, fit_from, self.fit_from_s)
            self.treating = True
        else:
            waiting = np.zeros(taken.size)
        self.waiting_ml = np.where(taking, waiting, self.waiting_ml)
        self.totals[Total.REFILLED_ML] += taken


HALT_CHUNK_S = 1800.0
"""A long wait is taken in pieces so that weather and need follow the clock [s]."""

LONG_HALT_S = 4.0 * 3600.0
"""A halt at least this long starts the count of hours walked afresh; an assumption [s]."""


def take_rest(state: State) -> bool:
    """Take the hourly rest where a full hour of moving is done; true if anyone rested."""
    if not state.since_rest_s.max() >= HOUR_S:
        return False
    due = np.flatnonzero((state.since_rest_s >= HOUR_S) & (state.rest_s_per_h > 0.0))
    if due.size == 0:
        return False
    everyone = due.size == state.walkers.count
    part = state if everyone else state.some(due)
    hours = np.floor(part.since_rest_s / HOUR_S)
    part.since_rest_s = part.since_rest_s - HOUR_S * hours
    part.spend(hours * part.rest_s_per_h, part.standing_w, part.now(), row=Total.RESTED_S)
    if not everyone:
        state.put(due, part)
    return True


def make_stop(state: State, stop: Stop, manner: Manner) -> None:
    """Leave the way, fill bottles or wait for light, and come back to the way."""
    each = stop.each
    if each is None:
        _stop(
            state,
            stop,
            manner,
            works=None,
            until_epoch_s=stop.until_epoch_s,
            ahead_ml=np.full(state.walkers.count, stop.ahead_ml),
        )
        return
    rows = np.flatnonzero(each.active)
    if rows.size == 0:
        return
    part = state.some(rows)
    until = stop.until_epoch_s if each.until_epoch_s is None else each.until_epoch_s[rows]
    ahead = np.full(rows.size, stop.ahead_ml) if each.ahead_ml is None else each.ahead_ml[rows]
    _stop(part, stop, manner, works=each.works[rows], until_epoch_s=until, ahead_ml=ahead)
    state.put(rows, part)


def _stop(
    state: State,
    stop: Stop,
    manner: Manner,
    *,
    works: NDArray[np.bool_] | None,
    until_epoch_s: float | NDArray[np.float64] | None,
    ahead_ml: NDArray[np.float64],
) -> None:
    walkers = state.walkers
    moment = state.now()
    before = state.totals[[Total.CLOCK_S, Total.LOST_ML]]
    if stop.off_m > 0.0:
        speed = manners.level_speed_m_s(manner) * walkers.pace_factor
        there_and_back = state.slowest(2.0 * stop.off_m / speed)
        pace = 2.0 * stop.off_m / there_and_back
        power, _outside = walking_w(
            walkers.mass_kg,
            state.load_kg,
            pace,
            0.0,
            1.0,
            model=manner.energy_model,
            light=state.light,
        )
        lamp = moment.night & (not manner.street_lights)
        state.spend(
            there_and_back,
            power,
            moment,
            row=Total.STOPPED_S,
            walk_m_s=pace,
            needs_light=lamp,
        )
    if stop.service_s > 0.0:
        service = np.full(walkers.count, stop.service_s)
        state.spend(service, state.standing_w, moment, row=Total.STOPPED_S)
    if stop.refill:
        if (ahead_ml > 0.0).any():
            state.drink_ahead(ahead_ml, works=works)
        state.refill(treat=stop.treat, dosing=stop.dosing, works=works)
    halted = np.zeros(walkers.count)
    if until_epoch_s is not None:
        wait = np.maximum(until_epoch_s - state.depart_epoch_s - state.totals[Total.CLOCK_S], 0.0)
        while (wait > 0.0).any():
            chunk = np.minimum(wait, HALT_CHUNK_S)
            state.spend(chunk, state.resting_w, state.now(), row=Total.STOPPED_S, sheltered=True)
            wait = wait - chunk
            halted = halted + chunk
        if stop.refill:
            state.refill(treat=stop.treat, dosing=stop.dosing, works=works)
    if until_epoch_s is None:
        after = state.totals[[Total.CLOCK_S, Total.LOST_ML]]
        state.totals[[Total.WATER_STOP_S, Total.STOP_LOST_ML]] += after - before
    # A stop as long as the hourly rest is a rest; a night halt also takes the tiredness away.
    long_enough = stop.service_s + halted >= np.maximum(state.rest_s_per_h, 1.0)
    state.since_rest_s = np.where(long_enough, 0.0, state.since_rest_s)
    state.since_halt_s = np.where(halted >= LONG_HALT_S, 0.0, state.since_halt_s)


class Step(NamedTuple):
    """One step: numbers where all walk one way, arrays of shape (n,) where each walks an own one.

    Attributes
    ----------
    run_m, slope, delay_s : float or (n,) float64
        Length [m], rise over run, wait at a crossing before it [s].
    speed_m_s : float or (n,) float64
        Speed by slope alone [m/s].
    stairs, surface, terrain : float or (n,) float64
        Share of speed kept on stairs and on the surface, and its energy factor.
    unlit, always_dark, busy : bool or (n,) bool
        No street light counted on; an unlit tunnel; beside heavy traffic.
    ahead_s : float or (n,) float64
        How much later light and weather are looked up: half the time of steps walked as one [s].
    """

    run_m: NDArray[np.float64] | float
    slope: NDArray[np.float64] | float
    delay_s: NDArray[np.float64] | float
    speed_m_s: NDArray[np.float64] | float
    stairs: NDArray[np.float64] | float
    surface: NDArray[np.float64] | float
    terrain: NDArray[np.float64] | float
    unlit: NDArray[np.bool_] | bool
    always_dark: NDArray[np.bool_] | bool
    busy: NDArray[np.bool_] | bool
    ahead_s: NDArray[np.float64] | float


class FixedSteps:
    """What depends on one way and not on the walker; lists, since one step is read at a time.

    Steps that are alike are walked as one, but never past a stop.
    """

    def __init__(
        self,
        course: Course,
        manner: Manner,
        beside_traffic: NDArray[np.bool_] | None,
        *,
        stops: Sequence[Stop] = (),
    ) -> None:
        single = step_columns(course, manner, beside_traffic)
        first, columns, self.gone = joined_columns(course, single, stops)
        self.columns = columns
        self.steps = course.run_m.size
        self.count = first.size
        self.first: list[int] = [*first.tolist(), self.steps]
        self.distance_m: list[float] = course.distance_m[self.first].tolist()
        listed = [np.asarray(column).tolist() for column in columns]
        self.rows = [Step(*row) for row in zip(*listed, strict=True)]

    def at(self, row: int) -> Step:
        """Give one step, or several as one."""
        return self.rows[row]

    def between(self, row: int, last: int) -> Step:
        """Give steps from one row up to another, as columns."""
        return Step(*(np.asarray(column)[row:last, None] for column in self.columns))

    def row_of(self, step: int) -> int:
        """Find the row that holds a step of the course."""
        return bisect_right(self.first, step) - 1


def joined_columns(
    course: Course, columns: Step, stops: Sequence[Stop]
) -> tuple[NDArray[np.int64], Step, NDArray[np.float64]]:
    """Join the steps that are alike; give also the share of its run that is over before each."""
    every = np.arange(course.run_m.size)
    if course.joins is None:
        return every, columns, np.zeros(every.size)
    first = np.union1d(course.joins, [stop.step for stop in stops]).astype(np.int64)
    run, speed = np.asarray(columns.run_m), np.asarray(columns.speed_m_s)
    run_m = np.add.reduceat(run, first)
    time_s = np.add.reduceat(run / speed, first)
    of_run = np.searchsorted(first, every, side="right") - 1
    begun_s = np.cumsum(run / speed) - run / speed
    gone = (begun_s - begun_s[first][of_run]) / time_s[of_run]
    joined = columns._replace(
        run_m=run_m,
        slope=np.add.reduceat(course.rise_m, first) / run_m,
        delay_s=np.asarray(columns.delay_s)[first],
        speed_m_s=run_m / time_s,
        ahead_s=np.where(np.diff(first, append=every.size) > 1, 0.5 * time_s, 0.0),
        # Stair speed does not follow the slope, so its share of the speed by slope does.
        stairs=time_s / np.add.reduceat(run / speed / np.asarray(columns.stairs), first),
        **{
            name: np.asarray(getattr(columns, name))[first]
            for name in ("surface", "terrain", "unlit", "always_dark", "busy")
        },
    )
    return first, joined, gone


def step_columns(course: Course, manner: Manner, beside_traffic: NDArray[np.bool_] | None) -> Step:
    """Work out what depends on the way alone, for all its steps."""
    unlit = manners.is_unlit(manner, course.lit)
    nowhere = np.zeros(course.run_m.size, dtype=bool)
    slope = course.slope
    speed_m_s = manners.slope_speed_m_s(manner, slope, nowhere)
    return Step(
        run_m=course.run_m,
        slope=slope,
        delay_s=course.delay_s,
        speed_m_s=speed_m_s,
        stairs=manners.slower_on_stairs(manner, speed_m_s, slope, course.stairs) / speed_m_s,
        surface=manners.surface_speed_factor(manner, course.surface),
        terrain=manners.terrain_factor(course.surface),
        unlit=unlit,
        always_dark=course.tunnel & unlit,
        busy=nowhere if beside_traffic is None else beside_traffic,
        ahead_s=np.zeros(course.run_m.size),
    )


EFFORT_ROUNDS = 3
"""How often the time on foot and the effort that can be kept up for it are worked out in turn; the
share kept falls with the logarithm of the time, so they settle within 1 %."""


def kept_rate_w(state: State, columns: Step, manner: Manner) -> NDArray[np.float64]:
    """Give the metabolic rate that each walker can keep up for the whole way."""
    walkers = state.walkers
    run_m, time_s, terrain, slope = _by_slope(columns)
    own_s = time_s / (walkers.pace_factor * manner.limit_speed_factor)
    capacity = walkers.capacity_factor * capacity_w(walkers.mass_kg, walkers.age_y, walkers.male)
    total_kg = walkers.mass_kg + walkers.bag_kg
    afoot_s = state.slowest(own_s.sum(axis=0))
    for _ in range(EFFORT_ROUNDS):
        kept = np.asarray(kept_w(capacity, afoot_s / HOUR_S))
        speed = kept_speed_m_s(kept / total_kg, slope, terrain)
        slower = np.clip(run_m / speed, own_s, own_s / SLOWEST_SHARE.middle)
        afoot_s = state.slowest(slower.sum(axis=0))
    return np.asarray(kept_w(capacity, afoot_s / HOUR_S))


def _by_slope(columns: Step) -> tuple[NDArray[np.float64], ...]:
    """Sum the way by the percent of slope: run [m], time [s], mean terrain, and the slope."""
    run, slope = np.atleast_2d(columns.run_m), np.atleast_2d(columns.slope)
    if np.ndim(columns.run_m) == 1:
        run, slope = run.T, slope.T
    shape, count = run.shape, run.shape[1]
    time = run / (columns.speed_m_s * columns.stairs * columns.surface).reshape(shape)  # type: ignore[union-attr]  # arrays here
    low, high = SLOPES_PCT
    bins = high - low + 1
    row = np.clip(np.rint(100.0 * slope), low, high).astype(np.intp) - low
    cell = (row * count + np.arange(count)).ravel()

    def summed(values: NDArray[np.float64]) -> NDArray[np.float64]:
        total = np.bincount(cell, values.ravel(), bins * count).astype(np.float64)
        return total.reshape(bins, count)

    run_m, time_s = summed(run), summed(time)
    soft = summed(run * np.reshape(columns.terrain, shape))
    used = run_m.any(axis=1)
    terrain = np.divide(soft, run_m, out=np.ones_like(soft), where=run_m > 0.0)
    pct = np.arange(low, high + 1, dtype=np.float64)[:, None] / 100.0
    return run_m[used], time_s[used], terrain[used], pct[used]


class PaceFactors:
    """Each walker's own pace, slower from where a small injury happens."""

    def __init__(self, state: State) -> None:
        self.factor = state.walkers.pace_factor
        self.waiting: list[tuple[float, int]] = []
        if state.traits is None:
            return
        from_m, self.slower = state.traits.hurt_from_m, state.traits.hurt_factor
        hurt = np.flatnonzero(np.isfinite(from_m))
        order = hurt[np.argsort(-from_m[hurt], kind="stable")]
        self.waiting = list(zip(from_m[order].tolist(), order.tolist(), strict=True))
        self.factor = self.factor.copy()

    def at(self, distance_m: float) -> NDArray[np.float64]:
        """Give the factors at a distance; distances must not decrease."""
        while self.waiting and self.waiting[-1][0] <= distance_m:
            _from_m, row = self.waiting.pop()
            self.factor[row] *= self.slower[row]
        return self.factor

    @property
    def next_change_m(self) -> float:
        """Where the factors asked for last change next."""
        return self.waiting[-1][0] if self.waiting else np.inf


class Stride(NamedTuple):
    """How steps are walked; arrays of shape (n,) for one step, (B, n) for several.

    Attributes
    ----------
    duration_s, power_w, speed_m_s : ndarray of float64
        How long, at what metabolic rate, how fast.
    moment : Moment
        What surrounds each walker.
    needs_light : ndarray of bool or None
        Where a lamp burns if there is one.
    gains : dict of Total to ndarray of float64
        What each effect on pace costs.
    outside : bool or (B,) bool
        Whether something had to stand in for the energy equation for anyone.
    """

    duration_s: NDArray[np.float64]
    power_w: NDArray[np.float64]
    speed_m_s: NDArray[np.float64]
    moment: Moment
    needs_light: NDArray[np.bool_] | None
    gains: Gains
    outside: NDArray[np.bool_] | bool


def stride(
    state: State,
    step: Step,
    manner: Manner,
    pace_factor: NDArray[np.float64],
    *,
    clock_s: NDArray[np.float64],
    load_kg: NDArray[np.float64],
    since_halt_s: NDArray[np.float64],
) -> Stride:
    """Say how walkers who stand like this walk a step."""
    walkers = state.walkers
    moment = state.at(clock_s + step.ahead_s)
    night = moment.night
    dark = night if step.always_dark is False else night | step.always_dark
    any_dark = bool(dark.any())
    factors = _slowing(state, step, manner, load_kg, dark if any_dark else None, since_halt_s)
    model_s = step.run_m / step.speed_m_s
    duration = model_s / pace_factor
    gains: Gains = {Total.MODEL_S: np.zeros(load_kg.shape) + model_s}
    for name, factor in factors.items():
        if isinstance(factor, float) and factor == 1.0:
            continue  # divides by one: nothing is lost
        slower = duration / factor
        gains[PACE_COSTS[name]] = slower - duration
        duration = slower
    if manner.effort:
        kept = kept_speed_m_s(state.kept_w / (walkers.mass_kg + load_kg), step.slope, step.terrain)
        slower = np.clip(step.run_m / kept, duration, duration / SLOWEST_SHARE.middle)
        gains[Total.EFFORT_S] = slower - duration
        duration = slower
    together = state.slowest(duration)
    if state.party_starts is not None:
        gains[Total.GROUP_S] = together - duration
    if isinstance(step.run_m, float):
        speed = step.run_m / together
    else:
        # Who is home already walks nothing, in no time.
        speed = np.divide(step.run_m, together, out=np.ones_like(together), where=together > 0.0)
    power, outside = walking_w(
        walkers.mass_kg,
        load_kg,
        speed,
        step.slope,
        step.terrain,
        model=manner.energy_model,
        light=state.light,
    )
    needs_light = dark & step.unlit if any_dark and np.any(step.unlit) else None
    return Stride(together, power + state.more_w, speed, moment, needs_light, gains, outside)


def move(
    state: State,
    step: Step,
    manner: Manner,
    pace_factor: NDArray[np.float64],
    busy_dark_m: NDArray[np.float64],
) -> tuple[bool, bool]:
    """Walk one step; give whether energy and sweat are outside of their equations for anyone."""
    here = stride(
        state,
        step,
        manner,
        pace_factor,
        clock_s=state.totals[Total.CLOCK_S],
        load_kg=state.load_kg,
        since_halt_s=state.since_halt_s,
    )
    if np.any(step.busy):
        busy_dark_m += step.run_m * (here.moment.night & step.busy)
    afoot_s = here.duration_s
    if np.any(step.delay_s):
        wait = np.zeros(state.walkers.count) + step.delay_s
        state.spend(
            wait, state.standing_w, here.moment, row=Total.MOVED_S, needs_light=here.needs_light
        )
        afoot_s = afoot_s + wait
    backed = state.spend(
        here.duration_s,
        here.power_w,
        here.moment,
        row=Total.MOVED_S,
        walk_m_s=here.speed_m_s,
        run_m=step.run_m,
        needs_light=here.needs_light,
        gains=here.gains,
    )
    state.since_rest_s += afoot_s
    state.since_halt_s += afoot_s
    return bool(here.outside), not backed


class Steps(NamedTuple):
    """Several steps as they were walked, B of them in E events.

    Attributes
    ----------
    totals : list of (len(Total), n) float64
        Before the first of E events and after each.
    begins, ends : (B,) int64
        Row of ``totals`` on setting out along each step, and at its end.
    rested : (B,) bool
        Whether anyone rests after it.
    energy_outside, sweat_outside : (B,) bool
        Whether anything had to stand in for the energy equation, and whether the sweat equation is
        not backed, for anyone.
    started : _AtStart
        How each was begun.
    """

    totals: list[NDArray[np.float64]]
    begins: NDArray[np.intp]
    ends: NDArray[np.intp]
    rested: NDArray[np.bool_]
    energy_outside: NDArray[np.bool_]
    sweat_outside: NDArray[np.bool_]
    started: _AtStart


class _Order(NamedTuple):
    """In which order B steps, W waits before and R rests after some of them follow each other."""

    waits: NDArray[np.intp]
    rests: NDArray[np.intp]
    taken: NDArray[np.intp]
    begins: NDArray[np.intp]
    moves: NDArray[np.intp]

    @classmethod
    def of(cls, steps: int, waits: NDArray[np.intp], rests: NDArray[np.intp]) -> _Order:
        """Put them in order: ``taken`` picks from steps, then waits, then rests."""
        row = np.concatenate([np.arange(steps), waits, rests])
        turn = np.repeat([1, 0, 2], [steps, waits.size, rests.size])
        taken = np.lexsort((turn, row))
        place = np.argsort(taken)
        begins = place[:steps].copy()
        begins[waits] = place[steps : steps + waits.size]
        return cls(waits, rests, taken, begins, place[:steps])

    def lay(
        self,
        steps: NDArray[np.float64],
        waits: NDArray[np.float64] | float,
        rests: NDArray[np.float64] | float,
    ) -> NDArray[np.float64]:
        """Lay what is known of each kind out in order, (E, n)."""
        if self.taken.size == len(steps):
            return steps
        count = steps.shape[-1]
        parts = [
            steps,
            np.broadcast_to(waits, (self.waits.size, count)),
            np.broadcast_to(rests, (self.rests.size, count)),
        ]
        laid: NDArray[np.float64] = np.concatenate(parts)[self.taken]
        return laid


class _AtStart(NamedTuple):
    """How B steps are begun, (B, n), and what is owed to the body before each of E events."""

    clock_s: NDArray[np.float64]
    load_kg: NDArray[np.float64]
    since_halt_s: NDArray[np.float64]
    owed_ml: NDArray[np.float64]

    @classmethod
    def of(cls, state: State) -> _AtStart:
        """Say how one step is begun now."""
        owed_ml = state.totals[Total.LOST_ML] - state.totals[Total.DRUNK_ML]
        return cls(
            state.totals[Total.CLOCK_S][None].copy(),
            state.load_kg[None],
            state.since_halt_s[None].copy(),
            owed_ml[None],
        )

    @classmethod
    def guess(cls, state: State, block: Block, like: Begun | None) -> _AtStart:
        """Guess how steps are begun: as on a walk like this one, or from the pace alone."""
        here, steps = cls.of(state), block.steps
        if like is None:
            guess_s = running(
                np.zeros(state.walkers.count), steps.run_m / steps.speed_m_s / block.pace_factor
            )
            return cls(
                before(here.clock_s[0], here.clock_s + guess_s),
                np.repeat(here.load_kg, len(guess_s), axis=0),
                before(here.since_halt_s[0], here.since_halt_s + guess_s),
                here.owed_ml,
            )
        row = np.searchsorted(like.first, block.first_step, side="right") - 1
        after = np.minimum(row + 1, like.first.size - 1)
        long = np.maximum(like.first[after] - like.first[row], 1)
        share = ((block.first_step - like.first[row]) / long)[:, None]
        owed_ml = here.owed_ml
        if not share.any() and row[-1] - row[0] == row.size - 1:
            owed_ml = like.owed_ml[like.event[row[0]] : [*like.event, None][row[-1] + 1]]
        then = (
            *(column[row] + share * (column[after] - column[row]) for column in like[2:5]),
            owed_ml,
        )
        # What has changed before lasts; without a change this is what was before, bit by bit.
        clock_s, load_kg, since_halt_s, owed_ml = (
            np.concatenate([now, (column + (now - column[0]))[1:]])
            for now, column in zip(here, then, strict=True)
        )
        # Even a guess has no bag of less than nothing, nor a time before the halt.
        return cls(clock_s, np.maximum(load_kg, 0.0), np.maximum(since_halt_s, 0.0), owed_ml)

    def settled(self, before: _AtStart, within_s: float) -> bool:
        """Whether a round has moved nothing, or the clock by so little."""
        if within_s > 0.0 and self.owed_ml.shape == before.owed_ml.shape:
            return bool(np.abs(self.clock_s - before.clock_s).max() <= within_s)
        pairs = zip(self, before, strict=True)
        return all(np.array_equal(*pair, equal_nan=True) for pair in pairs)

    def first(self, count: int, events: int) -> _AtStart:
        """Give the first steps, and so many events, alone."""
        clock_s, load_kg, since_halt_s = (column[:count] for column in self[:3])
        return _AtStart(clock_s, load_kg, since_halt_s, self.owed_ml[:events])


MOST_ROUNDS = 20
"""So many rounds are tried for all steps of a block; then only the first few are walked."""


class _Walked(NamedTuple):
    """Steps as they are walked from where they are said to begin."""

    here: Stride
    order: _Order
    events: Events
    used: _Used
    afoot_s: NDArray[np.float64]
    rest_s: NDArray[np.float64]
    since_rest_s: NDArray[np.float64]

    def ended_s(self, state: State) -> NDArray[np.float64]:
        """Say when each step and the rest after it are over, (B, n) [s]."""
        clock = running(state.totals[Total.CLOCK_S], self.events.duration_s)
        ended: NDArray[np.float64] = clock[np.append(self.order.begins[1:], len(clock)) - 1]
        return ended

    def begun(self, state: State) -> _AtStart:
        """Say how each step begins if the one before ends like this."""
        used, began, total = self.used, self.order.begins, state.totals
        clock = running(total[Total.CLOCK_S], self.events.duration_s)
        drunk = before(total[Total.DRUNK_ML], used.drunk_ml)
        eaten = before(total[Total.EATEN_KCAL], used.eaten_kcal)
        return _AtStart(
            before(total[Total.CLOCK_S], clock)[began],
            state.load_after(drunk[began], eaten[began]),
            before(state.since_halt_s, running(state.since_halt_s, self.afoot_s)),
            before(total[Total.LOST_ML], used.lost_ml) - drunk,
        )


class Block(NamedTuple):
    """Several steps to be walked at once.

    Attributes
    ----------
    steps : Step
        Columns of shape (B, 1).
    pace_factor : (n,) float64
        Each walker's own.
    gone_m : (B + 1, 1) float64
        Distance on setting out along each, and at the end [m].
    may_rest : (B, 1) bool
        Whether a rest may be taken after each.
    first_step : (B,) int64
        Step of the course that each begins with.
    """

    steps: Step
    pace_factor: NDArray[np.float64]
    gone_m: NDArray[np.float64]
    may_rest: NDArray[np.bool_]
    first_step: NDArray[np.int64]

    def first(self, count: int) -> Block:
        """Give the first steps alone."""
        return Block(
            Step(*(np.asarray(column)[:count] for column in self.steps)),
            self.pace_factor,
            self.gone_m[: count + 1],
            self.may_rest[:count],
            self.first_step[:count],
        )


def move_on(
    state: State,
    block: Block,
    manner: Manner,
    busy_dark_m: NDArray[np.float64],
    *,
    like: Begun | None = None,
    within_s: float = 0.0,
) -> Steps | None:
    """Walk several steps at once, to the same numbers as one after the other.

    How a step is walked hangs on the clock, the load and the tiredness with which it is begun, and
    those on the steps before. So all steps are walked from what is guessed of those, and again
    from what came of it, until nothing changes to the last bit: then each step was walked from
    where the one before ended. The first step is never guessed, so every round is right for one
    step more at least, and in practice for all after about ten; where a walk like this one, which
    changes no number, began in the same way, after the first. Who asks for less than the last bit
    gets it sooner. Where it takes longer, only the steps that are right by then are walked; the
    result tells how many. None where water becomes fit to drink within the first: that one is
    walked by itself, in parts.
    """
    begun = _AtStart.guess(state, block, like)
    ahead = int(_before_fit(state, begun.clock_s).sum())
    if ahead < len(begun.clock_s):
        block, begun = block.first(max(ahead, 1)), begun.first(max(ahead, 1), 1)
    tried = 0
    while True:
        tried += 1
        walked = _walk_from(state, begun, block, manner)
        found, count = walked.begun(state), len(block.may_rest)
        if found.settled(begun, within_s):
            sure = int(_before_fit(state, walked.ended_s(state)).sum())
            if sure == count:
                return _book(state, block, walked, found, busy_dark_m)
            if sure == 0:
                return None
            block, begun = block.first(sure), found.first(sure, int(walked.order.begins[sure]))
            continue
        begun = found
        if tried % MOST_ROUNDS == 0 and tried < count:
            block, begun = block.first(tried), begun.first(tried, 1)


def _before_fit(state: State, clock_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Mark the times, (B, n) [s] and rising, until which nobody's water becomes fit to drink."""
    if not state.treating:
        return np.ones(len(clock_s), dtype=bool)
    fit = state.fit_from_s <= state.totals[Total.CLOCK_S]
    before_fit: NDArray[np.bool_] = fit | (clock_s + ROUNDING_S < state.fit_from_s)
    return np.asarray(before_fit.all(axis=1))


def _walk_from(state: State, begun: _AtStart, block: Block, manner: Manner) -> _Walked:
    """Walk steps, each from where it is said to begin."""
    count = len(block.may_rest)
    here = stride(
        state,
        block.steps,
        manner,
        block.pace_factor,
        clock_s=begun.clock_s,
        load_kg=begun.load_kg,
        since_halt_s=begun.since_halt_s,
    )
    delay_s = np.broadcast_to(block.steps.delay_s, here.duration_s.shape)
    waits = np.flatnonzero(delay_s[:, 0])
    afoot_s = here.duration_s + delay_s if waits.size else here.duration_s
    since_rest_s, rest_s = _rests(state, afoot_s, block.may_rest)
    rests = np.flatnonzero(rest_s.any(axis=1))
    order = _Order.of(count, waits, rests)
    duration_s = order.lay(here.duration_s, delay_s[waits], rest_s[rests])
    moment = here.moment
    if order.taken.size > count:
        clock = running(state.totals[Total.CLOCK_S], duration_s)
        resting = state.at(clock[order.moves[rests]])
        columns = zip(moment, resting, strict=True)
        moment = Moment(*(order.lay(column, column[waits], late) for column, late in columns))
    events = Events(
        duration_s,
        order.lay(here.power_w, state.standing_w, state.standing_w),
        order.lay(here.speed_m_s, 0.0, 0.0),
        moment,
        0.0,
        0.0,
        None,
        {},
    )
    owed_ml = begun.owed_ml
    if len(owed_ml) != order.taken.size:
        owed_ml = np.repeat(owed_ml[:1], order.taken.size, axis=0)
    return _Walked(here, order, events, state.use(events, owed_ml), afoot_s, rest_s, since_rest_s)


def _book(
    state: State,
    block: Block,
    walked: _Walked,
    started: _AtStart,
    busy_dark_m: NDArray[np.float64],
) -> Steps:
    """Write down what steps walked at once come to."""
    here, order, count = walked.here, walked.order, len(block.may_rest)
    waits, rests = order.waits, order.rests
    duration_s = walked.events.duration_s
    gains = {each: order.lay(gain, 0.0, 0.0) for each, gain in here.gains.items()}
    delay_s = np.broadcast_to(block.steps.delay_s, here.duration_s.shape)
    gains[Total.MOVED_S] = order.lay(here.duration_s, delay_s[waits], 0.0)
    light, at_m = here.needs_light, block.gone_m[:-1]
    run_m = np.broadcast_to(block.steps.run_m, at_m.shape)
    if rests.size:
        gains[Total.RESTED_S] = order.lay(np.zeros_like(here.duration_s), 0.0, walked.rest_s[rests])
    if order.taken.size > count:
        row = np.concatenate([np.arange(count), waits, rests + 1])[order.taken]
        moving = order.taken < count
        run_m = np.where(moving[:, None], run_m[np.minimum(row, count - 1)], 0.0)
        at_m = block.gone_m[row]
        if light is not None:
            light = np.concatenate([light, light[waits], np.zeros_like(light[rests])])[order.taken]
    table = np.repeat(state.totals[None], len(duration_s) + 1, axis=0)
    events = walked.events._replace(gone_m=at_m, run_m=run_m, needs_light=light, gains=gains)
    for each, after in state.book(events, walked.used).items():
        table[1:, each] = after
    busy = np.flatnonzero(block.steps.busy)
    if busy.size:
        dark_m = np.asarray(block.steps.run_m)[busy] * here.moment.night[busy]
        busy_dark_m[:] = running(busy_dark_m, dark_m)[-1]
    state.since_rest_s = walked.since_rest_s
    state.since_halt_s = running(state.since_halt_s, walked.afoot_s)[-1]
    rested = np.zeros(count, dtype=bool)
    rested[rests] = True
    return Steps(
        list(table),
        order.begins,
        order.moves + 1,
        rested,
        np.broadcast_to(here.outside, count),
        ~walked.used.backed[order.moves],
        started,
    )


def _rests(
    state: State, afoot_s: NDArray[np.float64], may_rest: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Say how long has been moved since the last rest at the end, and the rest after each step."""
    rest_s, since, going_s = np.zeros_like(afoot_s), state.since_rest_s, afoot_s
    may_rest = may_rest & (state.rest_s_per_h > 0.0)
    while True:
        since_s = running(since, going_s)
        due = (since_s >= HOUR_S) & may_rest
        resting = np.flatnonzero(due.any(axis=0))
        if not resting.size:
            return since_s[-1], rest_s
        # The next rest of each walker, then on from there: what is behind counts no more.
        row = due[:, resting].argmax(axis=0)
        hours = np.floor(since_s[row, resting] / HOUR_S)
        rest_s[row, resting] = hours * state.rest_s_per_h[resting]
        since = since.copy()
        since[resting] = since_s[row, resting] - HOUR_S * hours
        behind = np.arange(len(afoot_s))[:, None] <= row
        going_s, may_rest = going_s.copy(), may_rest.copy()
        going_s[:, resting] = np.where(behind, 0.0, going_s[:, resting])
        may_rest[:, resting] &= ~behind


def _slowing(
    state: State,
    step: Step,
    manner: Manner,
    load_kg: NDArray[np.float64],
    dark: NDArray[np.bool_] | None,
    since_halt_s: NDArray[np.float64],
) -> dict[str, NDArray[np.float64] | float]:
    """Give the share of speed that each effect leaves, in the order of ``PACE_COSTS``."""
    walkers = state.walkers
    factors: dict[str, NDArray[np.float64] | float] = {
        "stairs": step.stairs,
        "surface": step.surface,
        "limits": manner.limit_speed_factor,
    }
    if manner.load:
        factors["load"] = load_factor(walkers.mass_kg, load_kg, light=state.light)
    if manner.dark and dark is not None:
        after_dark = (
            np.where(step.unlit, manner.dark_unlit_factor, manner.dark_lit_factor)
            if isinstance(step.unlit, np.ndarray)
            else (manner.dark_unlit_factor if step.unlit else manner.dark_lit_factor)
        )
        factors["dark"] = np.where(dark, after_dark, 1.0)
    if manner.fatigue:
        per_h: NDArray[np.float64] | float = manner.fatigue_per_h
        if state.traits is not None:
            per_h = per_h * state.traits.tiring_factor
        factors["fatigue"] = fatigue_factor(since_halt_s, per_h=per_h)
    return factors


class Day:
    """Watches a crowd's day; reset by every halt."""

    def __init__(self, state: State, longest_day_s: float) -> None:
        n = state.walkers.count
        self.longest_day_s = longest_day_s
        self.limit_s = np.full(n, longest_day_s)
        self.dark_s = np.full(n, np.inf)
        self.step = np.zeros(n, dtype=np.int64)
        self.unlit_s = np.zeros(n)
        self.night_unlit_s = np.zeros(n)
        self.halted: list[Halted] = []

    def at_start(self, clock_s: NDArray[np.float64], step: int) -> None:
        """Note the last step that begins within the day."""
        within = clock_s <= self.limit_s
        if within.all():
            self.step.fill(step)
        else:
            self.step[within] = step

    def within(self, reached_s: NDArray[np.float64], first: int) -> None:
        """Note the last of steps walked as one, from ``first`` on, that begins within the day."""
        inside = (reached_s <= self.limit_s).sum(axis=0)
        self.step = np.where(inside > 0, first + inside - 1, self.step)

    def is_untouched(self, totals: NDArray[np.float64]) -> bool:
        """Whether everyone is still within the day, with light."""
        if (totals[Total.LIGHT_NEED_S] > totals[Total.LIGHT_USED_S]).any():
            return False
        return bool((totals[Total.CLOCK_S] <= self.limit_s).all())

    def after_move(self, state: State, totals: NDArray[np.float64]) -> None:
        """Note when too much unlit way has been walked without a lamp."""
        short = totals[Total.LIGHT_NEED_S] > totals[Total.LIGHT_USED_S]
        if not short.any():
            return
        unlit_s = state.slowest(totals[Total.LIGHT_NEED_S] - totals[Total.LIGHT_USED_S])
        # An unlit tunnel by day is no reason to wait for first light.
        night = state.at(totals[Total.CLOCK_S]).night
        self.night_unlit_s += np.where(night, unlit_s - self.unlit_s, 0.0)
        self.unlit_s = unlit_s
        gone = (self.night_unlit_s > LIGHT_CARE_H * HOUR_S) & np.isinf(self.dark_s)
        if gone.any():
            self.dark_s[gone] = totals[Total.CLOCK_S][gone]
            self.limit_s = np.minimum(self.limit_s, self.dark_s)

    def after_stop(
        self, state: State, number: int, stop: Stop, began_s: NDArray[np.float64]
    ) -> None:
        """Begin a new day for those who halted."""
        each = stop.each
        if stop.until_epoch_s is None and (each is None or each.until_epoch_s is None):
            return
        clock = state.totals[Total.CLOCK_S]
        rows = np.arange(clock.size) if each is None else np.flatnonzero(each.active)
        at_m = np.broadcast_to(state.at_m, clock.shape)
        self.halted.append(Halted(number, stop.place, rows, began_s[rows], clock[rows], at_m[rows]))
        self.limit_s[rows] = clock[rows] + self.longest_day_s
        self.dark_s[rows] = np.inf
        self.night_unlit_s[rows] = 0.0


CROWD = 5000
"""Walkers taken at a time: their working arrays stay in the processor's nearer memory."""

NO_MARKS = Marks(hourly=False, steps=np.zeros(0, dtype=np.int64))


class _Passed:
    """Reads some totals on reaching marked steps."""

    def __init__(self, steps: NDArray[np.int64], count: int) -> None:
        self.values = np.zeros((steps.size, len(PASSING), count)) if steps.size else None
        self.waiting = steps.tolist()[::-1]

    def _note(self, totals: NDArray[np.float64]) -> None:
        if self.values is not None:
            self.values[self.values.shape[0] - len(self.waiting)] = totals[list(PASSING)]
        self.waiting.pop()

    def before(self, step: int, totals: NDArray[np.float64]) -> None:
        """Read what is due at a step, before any stop there."""
        while self.waiting and self.waiting[-1] <= step:
            self._note(totals)

    def within(self, after: int, fixed: FixedSteps, row: int, walked: Steps) -> None:
        """Read what was due within steps just walked, from a row on: each runs straight in time."""
        while self.waiting and self.waiting[-1] < after:
            step = self.waiting[-1]
            here = fixed.row_of(step) - row
            begun, ended = walked.totals[walked.begins[here]], walked.totals[walked.ends[here]]
            self._note(begun + fixed.gone[step] * (ended - begun))


class _Recorder:
    """Collects the trace of a walk."""

    def __init__(self) -> None:
        self.rows: list[tuple[int, int, int, float]] = []
        self.totals: list[NDArray[np.float64]] = []

    def note(
        self,
        totals: NDArray[np.float64],
        step: int,
        doing: Doing,
        distance_m: float,
        *,
        stop: int = -1,
    ) -> None:
        self.rows.append((step, int(doing), stop, distance_m))
        self.totals.append(totals.copy())

    def trace(self) -> Trace:
        step, doing, stop, distance = zip(*self.rows, strict=True)
        return Trace(
            step=np.array(step, dtype=np.int64),
            doing=np.array(doing, dtype=np.int8),
            stop=np.array(stop, dtype=np.int64),
            distance_m=np.array(distance, dtype=np.float64),
            totals=np.stack(self.totals),
        )


def simulate(
    course: Course,
    walkers: Walkers,
    *,
    manner: Manner,
    conditions: Conditions,
    depart_epoch_s: NDArray[np.float64],
    stops: Sequence[Stop] = (),
    record: bool = False,
    traits: Traits | None = None,
    error: WeatherError | None = None,
    marks: Marks = NO_MARKS,
    beside_traffic: NDArray[np.bool_] | None = None,
    longest_day_s: float | None = None,
    crowd: int = CROWD,
    like: Begun | None = None,
    within_s: float = 0.0,
    progress: Callable[[float], None] | None = None,
) -> Outcome:
    """Walk the course with every walker at once.

    Parameters
    ----------
    course : Course
        S steps along the way.
    walkers : Walkers
        n walkers.
    manner : Manner
        Pace model, switches, limits.
    conditions : Conditions
        Sun and weather; must cover every walk to its end, or its last values hold.
    depart_epoch_s : (n,) float64
        Departure, seconds since 1970-01-01 UTC.
    stops : sequence of Stop
        In order of ``step``.
    record : bool
        Whether to keep every event; needs memory for E x len(Total) x n numbers.
    traits : Traits, optional
        What sets walkers apart beside body and bag.
    error : WeatherError, optional
        How each walker's weather differs from ``conditions``.
    marks : Marks
        What to read on the way without keeping every event.
    beside_traffic : (S,) bool, optional
        Steps beside heavy traffic, of which the dark part is summed up.
    longest_day_s : float, optional
        Longest time afoot between nights, rests and stops included [s]; asks for ``limit_s`` and
        the halts in the outcome.
    crowd : int
        Walkers taken at a time when nothing is recorded; changes no result.
    like : Begun, optional
        How the same walkers began the steps of a walk much like this; saves time, changes no
        result.
    within_s : float
        How far off clocks may be where steps are walked at once [s]; 0 gives every bit as if one
        step were walked after the other.
    progress : callable, optional
        Told the share done, between 0 and 1.

    Returns
    -------
    Outcome
        Totals and first shortages of each walker; with ``record`` the trace.

    Raises
    ------
    ValueError
        For walkers or weather that cannot be, naming the quantity and its range.
    """
    refuse_impossible(walkers, conditions)
    depart = np.asarray(depart_epoch_s, dtype=np.float64)
    fixed = FixedSteps(course, manner, beside_traffic, stops=stops)
    edges = _edges(walkers.party, walkers.count if record else crowd)
    parts = []
    for low, high in itertools.pairwise(edges):
        rows = slice(low, high)
        theirs = manner.of_walkers(rows)
        state = State(
            some_of(walkers, rows),
            conditions,
            depart[rows],
            rest_s_per_h=manner.rest_s_per_h,
            sweat=theirs.sweat,
            traits=None if traits is None else some_of(traits, rows),
            error=None if error is None else some_of(error, rows),
            hours=HourMarks(tuple(Total) if record else HOURLY, high - low)
            if record or marks.hourly
            else None,
        )
        mine = [
            stop if stop.each is None else replace(stop, each=some_of(stop.each, rows))
            for stop in stops
        ]
        if manner.effort:
            state.kept_w = kept_rate_w(state, fixed.columns, manner)
        day = None if longest_day_s is None else Day(state, longest_day_s)
        part = _walk(state, fixed, theirs, mine, marks, day, like, within_s=within_s, record=record)
        parts.append(_moved_on(part, low))
        if progress is not None:
            progress(high / walkers.count)
    return parts[0] if len(parts) == 1 else _join(parts)


def _edges(party: NDArray[np.int64], most: int) -> list[int]:
    """Where to cut the walkers, never inside a party."""
    starts = np.flatnonzero(np.r_[True, party[1:] != party[:-1]])
    edges = [0]
    while edges[-1] + most < party.size:
        last = int(starts[np.searchsorted(starts, edges[-1] + most, side="right") - 1])
        if last <= edges[-1]:  # a party larger than a crowd stays whole
            beyond = np.searchsorted(starts, edges[-1], side="right")
            last = int(starts[beyond]) if beyond < starts.size else party.size
        edges.append(last)
    return edges if edges[-1] == party.size else [*edges, party.size]


def _moved_on(part: Outcome, first: int) -> Outcome:
    """Count the walkers of a crowd from the first of all walkers."""
    if not part.halted or first == 0:
        return part
    halted = tuple(halt._replace(rows=halt.rows + first) for halt in part.halted)
    return replace(part, halted=halted)


def _join(parts: list[Outcome]) -> Outcome:
    """Put crowds behind each other; what is said of a step holds when it holds for any of them."""
    joined: dict[str, object] = {}
    for field in fields(Outcome):
        values = [getattr(part, field.name) for part in parts]
        if field.name == "halted":
            joined[field.name] = tuple(halt for value in values for halt in value)
        elif values[0] is None or field.name == "begun":
            joined[field.name] = None
        elif field.name == "hourly":
            joined[field.name] = as_long(values)
        elif field.name in {"energy_outside", "sweat_outside"}:
            joined[field.name] = np.logical_or.reduce(values)
        else:
            joined[field.name] = np.concatenate(values, axis=-1)
    return Outcome(**joined)  # type: ignore[arg-type]  # one array per field, by construction


def _walk(
    state: State,
    fixed: FixedSteps,
    manner: Manner,
    stops: Sequence[Stop],
    marks: Marks,
    day: Day | None,
    like: Begun | None,
    *,
    within_s: float,
    record: bool,
) -> Outcome:
    """Walk one crowd from start to end."""
    recorder = _Recorder() if record else None
    if recorder is not None:
        recorder.note(state.totals, 0, Doing.START, 0.0)
    steps, count = fixed.steps, state.walkers.count
    energy_outside, sweat_outside = np.zeros((2, fixed.count), dtype=bool)
    lengths = np.diff(fixed.first)
    busy_dark_m = np.zeros(count)
    clock = np.zeros((steps, count)) if record else None
    passed = _Passed(marks.steps, count)
    pace_factor = PaceFactors(state)
    next_stop, row = 0, 0
    most = most_at_once(count)
    started: list[tuple[int, Steps]] = []
    while row < fixed.count:
        step = fixed.first[row]
        state.at_m = fixed.distance_m[row]
        passed.before(step, state.totals)
        next_stop = _stop_here(state, stops, next_stop, step, manner, day, recorder)
        last = min(fixed.count, row + most)
        if next_stop < len(stops):
            last = min(last, fixed.row_of(stops[next_stop].step))
        walked = _steps(state, fixed, row, last, manner, pace_factor, busy_dark_m, like, within_s)
        if most > 1:
            started.append((row, walked))
        last = row + walked.begins.size
        after = fixed.first[last]
        energy_outside[row:last] = walked.energy_outside
        sweat_outside[row:last] = walked.sweat_outside
        state.at_m = fixed.distance_m[last]
        passed.within(after, fixed, row, walked)
        if clock is not None or day is not None:
            _keep_time(state, fixed, row, walked, clock, day)
        if recorder is not None:
            for here in range(last - row):
                begins, at_m = fixed.first[row + here], fixed.distance_m[row + here + 1]
                ends = walked.ends[here]
                recorder.note(walked.totals[ends], begins, Doing.MOVE, at_m)
                if walked.rested[here]:
                    recorder.note(walked.totals[ends + 1], begins, Doing.REST, at_m)
        row = last
    return replace(
        _outcome(state, busy_dark_m),
        step_clock_s=clock,
        passing=passed.values,
        limit_s=None if day is None else day.limit_s,
        limit_step=None if day is None else day.step,
        limit_dark=None if day is None else day.dark_s <= day.limit_s,
        halted=() if day is None else tuple(day.halted),
        energy_outside=np.repeat(energy_outside, lengths),
        sweat_outside=np.repeat(sweat_outside, lengths),
        trace=None if recorder is None else recorder.trace(),
        begun=_all_begun(fixed, started) if started else None,
    )


def _all_begun(fixed: FixedSteps, walked: Sequence[tuple[int, Steps]]) -> Begun:
    """Say how all steps of a walk were begun."""
    first = [fixed.first[row : row + steps.begins.size] for row, steps in walked]
    events = np.cumsum([0, *(len(steps.started.owed_ml) for _row, steps in walked)])
    event = [steps.begins + before for (_row, steps), before in zip(walked, events, strict=False)]
    columns = zip(*(steps.started for _row, steps in walked), strict=True)
    return Begun(
        np.concatenate(first),
        np.concatenate(event),
        *(np.concatenate(column) for column in columns),
    )


STEPS_AT_ONCE = 8000
"""Steps times walkers that are walked at once; changes no number."""

FEW = 120
"""So many walkers and more are walked step by step: their arrays are long enough as they are."""


def most_at_once(count: int) -> int:
    """Say how many steps are walked at once."""
    return STEPS_AT_ONCE // count if count < FEW else 1


def _steps(
    state: State,
    fixed: FixedSteps,
    row: int,
    last: int,
    manner: Manner,
    pace_factor: PaceFactors,
    busy_dark_m: NDArray[np.float64],
    like: Begun | None,
    within_s: float,
) -> Steps:
    """Walk rows from one up to another at most, rests included; nobody rests at home."""
    own = pace_factor.at(fixed.distance_m[row])
    last = min(last, bisect_left(fixed.distance_m, pace_factor.next_change_m, row + 1))
    if last - row > 1:
        block = Block(
            fixed.between(row, last),
            own,
            gone_m=np.array(fixed.distance_m[row : last + 1])[:, None],
            may_rest=np.arange(row + 1, last + 1)[:, None] < fixed.count,
            first_step=np.array(fixed.first[row:last]),
        )
        walked = move_on(state, block, manner, busy_dark_m, like=like, within_s=within_s)
        if walked is not None:
            return walked
        last = row + 1
    started = _AtStart.of(state)
    begun = state.totals.copy()
    outside, unbacked = move(state, fixed.at(row), manner, own, busy_dark_m)
    state.at_m = fixed.distance_m[last]
    totals = [begun, state.totals]
    rests = last < fixed.count and state.since_rest_s.max() >= HOUR_S
    if rests:
        totals = [begun, state.totals.copy(), state.totals]
        rests = take_rest(state)
    return Steps(
        totals,
        ONE_BEGINS,
        ONE_ENDS,
        np.array([rests]),
        np.array([outside]),
        np.array([unbacked]),
        started,
    )


ONE_BEGINS, ONE_ENDS = np.array([0]), np.array([1])
"""Where one step alone begins and ends."""


def _keep_time(
    state: State,
    fixed: FixedSteps,
    row: int,
    walked: Steps,
    clock: NDArray[np.float64] | None,
    day: Day | None,
) -> None:
    """Note when steps were reached, and whether the day still lasted."""
    edges = fixed.first[row : row + walked.begins.size + 1]
    if clock is None and day is not None and day.is_untouched(walked.totals[walked.ends[-1]]):
        day.step.fill(edges[-1] - 1)
        return
    for begun, ended, (first, after) in zip(
        walked.begins.tolist(), walked.ends.tolist(), itertools.pairwise(edges), strict=True
    ):
        began_s = walked.totals[begun][Total.CLOCK_S]
        ended_s = walked.totals[ended][Total.CLOCK_S]
        reached_s = began_s + fixed.gone[first:after, None] * (ended_s - began_s)
        if clock is not None:
            clock[first:after] = reached_s
        if day is not None:
            day.at_start(began_s, first)
            if after - first > 1:
                day.within(reached_s, first)
            day.after_move(state, walked.totals[ended])


def _outcome(state: State, busy_dark_m: NDArray[np.float64]) -> Outcome:
    """Give what is told of any walk, walked along one way or an own one."""
    return Outcome(
        totals=state.totals,
        step_clock_s=None,
        worst_deficit_ml=state.worst_deficit_ml,
        worst_short_ml=state.worst_short_ml,
        first_short_s=state.first_short_s,
        light_out_s=state.light_out_s,
        hungry_s=state.hungry_s,
        first_short_m=state.first_short_m,
        light_out_m=state.light_out_m,
        hungry_m=state.hungry_m,
        coldest_felt_c=state.coldest_c,
        hottest_felt_c=state.hottest_c,
        cold_from_s=state.cold_from_s,
        hot_from_s=state.hot_from_s,
        busy_dark_m=busy_dark_m,
        hourly=None if state.hours is None else state.hours.values,
        passing=None,
        limit_s=None,
        limit_step=None,
        limit_dark=None,
        halted=(),
        energy_outside=np.zeros(0, dtype=bool),
        sweat_outside=np.zeros(0, dtype=bool),
        trace=None,
    )


def _stop_here(
    state: State,
    stops: Sequence[Stop],
    following: int,
    step: int,
    manner: Manner,
    day: Day | None,
    recorder: _Recorder | None,
) -> int:
    """Make the stops due before a step; give the row of the one after them."""
    while following < len(stops) and stops[following].step <= step:
        stop = stops[following]
        began_s = state.totals[Total.CLOCK_S].copy()
        make_stop(state, stop, manner)
        if day is not None:
            day.after_stop(state, following, stop, began_s)
        if recorder is not None:
            recorder.note(state.totals, step, Doing.STOP, float(np.max(state.at_m)), stop=following)
        following += 1
    return following


TOGETHER = 500
"""Walkers taken at a time; bounds the memory and changes no number."""

FEWER = 0.9
"""Who is home is set aside when this share or less is still on the way."""


@dataclass(frozen=True, slots=True)
class Apart:
    """How each walked.

    Attributes
    ----------
    outcome : Outcome
        n walks, with their hours; nothing that is told step by step.
    clock_s, need_ml : tuple of (S_i,) float64
        Time since departure [s] and water lost outside stops for water [mL] on reaching each step,
        of each walker.
    """

    outcome: Outcome
    clock_s: tuple[NDArray[np.float64], ...]
    need_ml: tuple[NDArray[np.float64], ...]

    def some(self, rows: NDArray[np.intp]) -> Apart:
        """Take some walks."""
        clock, need = self.clock_s, self.need_ml
        at = rows.tolist()
        return Apart(
            _of_walks(self.outcome, rows),
            tuple(clock[row] for row in at),
            tuple(need[row] for row in at),
        )

    def put(self, rows: Sequence[int], again: Apart) -> Apart:
        """Give the same with some walks replaced."""
        clock, need = list(self.clock_s), list(self.need_ml)
        for row, clock_s, need_ml in zip(rows, again.clock_s, again.need_ml, strict=True):
            clock[row], need[row] = clock_s, need_ml
        return Apart(with_walks(self.outcome, rows, again.outcome), tuple(clock), tuple(need))


def with_walks(outcome: Outcome, rows: Sequence[int], again: Outcome) -> Outcome:
    """Give the same walks with some of them replaced; nothing that is told step by step."""
    every = np.arange(outcome.totals.shape[1])
    taken = np.isin(every, rows)
    order = np.argsort(np.concatenate([every[~taken], np.asarray(rows)]), kind="stable")
    kept = _of_walks(outcome, np.flatnonzero(~taken))
    return _of_walks(_join([kept, again]), order)


def _of_walks(outcome: Outcome, rows: NDArray[np.intp]) -> Outcome:
    """Take some walks."""
    whole = {"halted", "energy_outside", "sweat_outside", "trace", "step_clock_s", "begun"}
    columns = {
        field.name: value[..., rows]
        for field in fields(Outcome)
        if field.name not in whole and (value := getattr(outcome, field.name)) is not None
    }
    return replace(outcome, **columns)


def walk_apart(
    courses: Sequence[Course],
    walkers: Walkers,
    *,
    manner: Manner,
    conditions: Conditions,
    depart_epoch_s: NDArray[np.float64],
    stops: Sequence[Sequence[Stop]],
    beside_traffic: Sequence[NDArray[np.bool_]],
    together: int = TOGETHER,
) -> Apart:
    """Walk every walker along an own course.

    Parameters
    ----------
    courses : sequence of Course
        One a walker.
    walkers : Walkers
        n walkers, each a party of one.
    manner : Manner
        How all of them walk.
    conditions : Conditions
        Sun and weather for all.
    depart_epoch_s : (n,) float64
        Departures, seconds since 1970-01-01 UTC.
    stops : sequence of sequence of Stop
        Of each walker, in order of ``step``.
    beside_traffic : sequence of (S_i,) bool
        Steps beside heavy traffic of each.
    together : int
        Walkers taken at a time; changes no number.

    Returns
    -------
    Apart
        In the order given; each walker's numbers are those of ``simulate`` alone.

    Raises
    ------
    ValueError
        For walkers or weather that cannot be.
    """
    refuse_impossible(walkers, conditions)
    # Ways of like length walk together, the longest first, so that few wait for many.
    length = np.array([course.run_m.size for course in courses], dtype=np.int64)
    order = np.argsort(-length, kind="stable")
    parts = []
    for first in range(0, order.size, together):
        rows = order[first : first + together]
        party = np.arange(rows.size)
        group = _Group(
            State(
                replace(some_of(walkers, rows), party=party),
                conditions,
                depart_epoch_s[rows],
                rest_s_per_h=manner.rest_s_per_h,
                sweat=manner.sweat,
                hours=HourMarks(HOURLY, rows.size),
            ),
            [courses[row] for row in rows.tolist()],
            manner,
            [stops[row] for row in rows.tolist()],
            [beside_traffic[row] for row in rows.tolist()],
        )
        parts.append(group.walk())
    back = np.argsort(order, kind="stable")
    clock = [each for part in parts for each in part.clock_s]
    need = [each for part in parts for each in part.need_ml]
    return Apart(
        outcome=_of_walks(_join([part.outcome for part in parts]), back),
        clock_s=tuple(clock[row] for row in back.tolist()),
        need_ml=tuple(need[row] for row in back.tolist()),
    )


class _Group:
    """Walkers whose ways are laid out side by side, the longest first."""

    def __init__(
        self,
        state: State,
        courses: list[Course],
        manner: Manner,
        stops: list[Sequence[Stop]],
        beside_traffic: list[NDArray[np.bool_]],
    ) -> None:
        self.state, self.manner = state, manner
        every = step_columns(join_courses(courses), manner, np.concatenate(beside_traffic))
        ends = np.cumsum([0, *(course.run_m.size for course in courses)]).tolist()
        laid = [
            joined_columns(course, Step(*(column[low:high] for column in every)), planned)  # type: ignore[index,arg-type]  # arrays here
            for course, (low, high), planned in zip(
                courses, itertools.pairwise(ends), stops, strict=True
            )
        ]
        self.first, self.gone = [one[0] for one in laid], [one[2] for one in laid]
        self.length = np.array([first.size for first in self.first], dtype=np.int64)
        # Steps that are walked as one are fewer: the longest way need no longer be the first.
        self.order = np.argsort(-self.length, kind="stable")
        self.length = self.length[self.order]
        self.state = state.some(self.order)
        self.state.row = np.arange(self.order.size)  # whose hours are whose, in the new order
        most, count = int(self.length[0]), self.length.size
        fill = Step(
            0.0,
            0.0,
            0.0,
            1.0,
            1.0,
            1.0,
            1.0,
            unlit=False,
            always_dark=False,
            busy=False,
            ahead_s=0.0,
        )
        self.columns = [
            np.full((most, count), value, dtype=bool if isinstance(value, bool) else float)
            for value in fill
        ]
        self.waiting: dict[int, list[tuple[int, Stop]]] = {}
        self.gone_m = np.zeros((most + 1, count))
        for place, row in enumerate(self.order.tolist()):
            course, own = courses[row], self.length[place]
            for column, values in zip(self.columns, laid[row][1], strict=True):
                column[:own, place] = values
            self.gone_m[:, place] = course.length_m
            self.gone_m[:own, place] = course.distance_m[self.first[row]]
            for stop in stops[row]:
                at = int(np.searchsorted(self.first[row], stop.step))
                self.waiting.setdefault(at, []).append((place, stop))
        if manner.effort:
            self.state.kept_w = kept_rate_w(self.state, Step(*self.columns), manner)
        # On reaching each run, on setting out along it, and at its end: clock and need.
        self.seen = np.zeros((3, 2, most, count))

    def walk(self) -> Apart:
        """Walk them all home."""
        whole = state = self.state
        busy = np.zeros(self.length.size)
        active = self.length.size
        for step in range(int(self.length[0])):
            going = int(np.searchsorted(-self.length, -step, side="left"))
            if going <= FEWER * active:
                if state is not whole:
                    whole.put(np.arange(active), state)
                active = going
                state = whole.some(np.arange(active))
            state.at_m = self.gone_m[step, :active]
            self.seen[0, :, step, :active] = state.totals[Total.CLOCK_S], state.need_ml
            for row, stop in self.waiting.get(step, ()):
                alone = np.arange(active) == row
                each = Each(active=alone, works=np.ones(active, dtype=bool))
                make_stop(state, replace(stop, each=each), self.manner)
            self.seen[1, :, step, :active] = state.totals[Total.CLOCK_S], state.need_ml
            here = Step(*(column[step, :active] for column in self.columns))
            move(state, here, self.manner, state.walkers.pace_factor, busy[:active])
            self.seen[2, :, step, :active] = state.totals[Total.CLOCK_S], state.need_ml
            state.at_m = self.gone_m[step + 1, :active]
            # Nobody rests at home.
            further = int(np.searchsorted(-self.length, -(step + 1), side="left"))
            state.since_rest_s[further:] = 0.0
            take_rest(state)
        if state is not whole:
            whole.put(np.arange(active), state)
        back = np.argsort(self.order, kind="stable")
        told = [self._told(row, int(back[row])) for row in range(self.length.size)]
        return Apart(
            outcome=_of_walks(_outcome(whole, busy), back),
            clock_s=tuple(one[0] for one in told),
            need_ml=tuple(one[1] for one in told),
        )

    def _told(self, row: int, place: int) -> NDArray[np.float64]:
        """Give clock and need of one walker on reaching each step of the course, (2, S)."""
        first, gone = self.first[row], self.gone[row]
        reached, begun, ended = self.seen[:, :, : first.size, place]
        of_run = np.searchsorted(first, np.arange(gone.size), side="right") - 1
        told: NDArray[np.float64] = begun[:, of_run] + gone * (ended - begun)[:, of_run]
        told[:, first] = reached
        return told
