"""The one engine: walkers times steps, the same code for one walk and for ten thousand.

It goes along the way step by step with all walkers in one array. What depends on the way alone is
worked out before the loop; what depends on the walker's state (load, dark, tiredness, thirst) inside
it. Between two events every rate is constant, so totals run straight and the ledger may cut them
at any clock time.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from simulator.body import energy, pace, water
from simulator.walk import manner as manners

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions, Moment
    from simulator.walk.course import Course
    from simulator.walk.manner import Manner

HALT_CHUNK_S = 1800.0
"""A long wait is taken in pieces so that weather and need follow the clock [s]."""

MAX_EAT_KCAL_H = 240.0
"""Most that is eaten on the move: 60 g of carbohydrate an hour, Thomas, Erdman and Burke 2016
(from memory) [kcal/h]."""

STEEPEST_SLOPE = 0.45
"""Steepest ground Minetti et al. 2002 measured; steeper steps count as this steep and are flagged
(rise over run)."""

LONG_HALT_S = 4.0 * 3600.0
"""A halt at least this long starts the count of hours walked afresh; an assumption [s]."""


class Total(IntEnum):
    """Running totals of each walker, the rows of ``Trace.totals``."""

    CLOCK_S = 0
    MOVED_S = 1
    RESTED_S = 2
    STOPPED_S = 3
    ENERGY_KCAL = 4
    EATEN_KCAL = 5
    LOST_ML = 6
    DRUNK_ML = 7
    REFILLED_ML = 8
    DARK_S = 9
    LIGHT_NEED_S = 10
    LIGHT_USED_S = 11
    SURFACE_S = 12
    LIMITS_S = 13
    LOAD_S = 14
    DARK_PACE_S = 15
    FATIGUE_S = 16
    GROUP_S = 17


PACE_COSTS = {
    "surface": Total.SURFACE_S,
    "limits": Total.LIMITS_S,
    "load": Total.LOAD_S,
    "dark": Total.DARK_PACE_S,
    "fatigue": Total.FATIGUE_S,
    "group": Total.GROUP_S,
}
"""What each effect on pace cost, in the order in which the effects are applied."""


class Doing(IntEnum):
    """What an event is."""

    START = 0
    MOVE = 1
    REST = 2
    STOP = 3


@dataclass(frozen=True, slots=True)
class Walkers:
    """Who walks and what each carries; every field has shape (n,).

    Attributes
    ----------
    mass_kg, height_m, age_y : ndarray of float64
        Body mass [kg], height [m], age [years].
    male : ndarray of bool
        Which published resting-rate equation applies.
    pace_factor : ndarray of float64
        The walker's own speed over the pace model's.
    clothing_clo : ndarray of float64
        Insulation of the clothes walked in [clo].
    bag_kg : ndarray of float64
        Mass of the bag at departure, water and food included [kg].
    water_ml, capacity_ml : ndarray of float64
        Water at departure and what the bottles hold [mL].
    treats_ml : ndarray of float64
        Water that the treatment carried can make safe [mL].
    food_kcal, food_kg : ndarray of float64
        Food carried [kcal], [kg].
    light_s : ndarray of float64
        Hours of light carried, in seconds [s].
    party : ndarray of int64
        Walkers with the same number walk together; numbers do not decrease.
    """

    mass_kg: NDArray[np.float64]
    height_m: NDArray[np.float64]
    age_y: NDArray[np.float64]
    male: NDArray[np.bool_]
    pace_factor: NDArray[np.float64]
    clothing_clo: NDArray[np.float64]
    bag_kg: NDArray[np.float64]
    water_ml: NDArray[np.float64]
    capacity_ml: NDArray[np.float64]
    treats_ml: NDArray[np.float64]
    food_kcal: NDArray[np.float64]
    food_kg: NDArray[np.float64]
    light_s: NDArray[np.float64]
    party: NDArray[np.int64]

    @property
    def count(self) -> int:
        """Number of walkers n."""
        return int(self.mass_kg.size)


@dataclass(frozen=True, slots=True)
class Stop:
    """A planned stop, taken on reaching a step.

    Attributes
    ----------
    step : int
        The stop is made before this step; 0 is the start.
    off_m : float
        How far the place lies off the way, one direction [m].
    service_s : float
        Time at the place: queue, filling, treating [s].
    refill : bool
        Whether bottles are filled.
    treat : bool
        Whether the water must be treated, which uses up treatment.
    until_epoch_s : float or None
        Wait until this instant, for a night halt; None for no wait.
    place : int
        Row of the place, -1 when the halt is at no listed place.
    """

    step: int
    off_m: float = 0.0
    service_s: float = 0.0
    refill: bool = False
    treat: bool = False
    until_epoch_s: float | None = None
    place: int = -1


@dataclass(frozen=True, slots=True)
class Trace:
    """What happened, event by event; E events, n walkers.

    Attributes
    ----------
    step : (E,) int64
        The step an event belongs to; a stop or rest carries the step it comes before.
    doing : (E,) int8
        ``Doing`` codes.
    stop : (E,) int64
        Row of the stop in the list given, -1 elsewhere.
    distance_m : (E,) float64
        Along the way at the event's end [m].
    totals : (E, len(Total), n) float64
        Running totals at the event's end.
    """

    step: NDArray[np.int64]
    doing: NDArray[np.int8]
    stop: NDArray[np.int64]
    distance_m: NDArray[np.float64]
    totals: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Outcome:
    """How the walk went for each walker.

    Attributes
    ----------
    totals : (len(Total), n) float64
        Totals on arrival.
    step_clock_s : (S, n) float64 or None
        Time since departure at each step's start [s], when a trace was asked for.
    worst_deficit_ml : (n,) float64
        Largest body-water deficit on the way [mL].
    worst_short_ml : (n,) float64
        Largest deficit while the bottle was empty [mL].
    first_short_s : (n,) float64
        Time since departure when water first ran out while needed [s]; infinite if never.
    light_out_s : (n,) float64
        Time since departure when the light ran out while needed [s]; infinite if never.
    coldest_felt_c, hottest_felt_c : (n,) float64
        Extremes of the felt temperature [degC].
    energy_outside : (S,) bool
        Steps where the preferred energy equation left its range and the steep-ground one stood in.
    sweat_outside : (S,) bool
        Steps where the sweat equation was outside its published range.
    trace : Trace or None
        Event by event, when asked for.
    """

    totals: NDArray[np.float64]
    step_clock_s: NDArray[np.float64] | None
    worst_deficit_ml: NDArray[np.float64]
    worst_short_ml: NDArray[np.float64]
    first_short_s: NDArray[np.float64]
    light_out_s: NDArray[np.float64]
    coldest_felt_c: NDArray[np.float64]
    hottest_felt_c: NDArray[np.float64]
    energy_outside: NDArray[np.bool_]
    sweat_outside: NDArray[np.bool_]
    trace: Trace | None


class _State:
    """Everything that changes while the walkers walk."""

    def __init__(
        self, walkers: Walkers, conditions: Conditions, depart_epoch_s: NDArray[np.float64]
    ) -> None:
        n = walkers.count
        self.walkers = walkers
        self.conditions = conditions
        self.depart_epoch_s = depart_epoch_s
        self.totals = np.zeros((len(Total), n))
        self.since_rest_s = np.zeros(n)
        self.since_halt_s = np.zeros(n)
        self.treats_ml = walkers.treats_ml.copy()
        self.worst_deficit_ml = np.zeros(n)
        self.worst_short_ml = np.zeros(n)
        self.first_short_s = np.full(n, np.inf)
        self.light_out_s = np.full(n, np.inf)
        self.coldest_c = np.full(n, np.inf)
        self.hottest_c = np.full(n, -np.inf)
        self.sweat_in_range = np.ones(n, dtype=bool)
        self.area_m2 = np.asarray(water.body_area_m2(walkers.mass_kg, walkers.height_m))
        self.resting_w = np.where(
            walkers.male,
            energy.resting_w(walkers.mass_kg, walkers.height_m, walkers.age_y, "male"),
            energy.resting_w(walkers.mass_kg, walkers.height_m, walkers.age_y, "female"),
        )
        self.standing_w = np.asarray(energy.standing_w(walkers.mass_kg))
        # Parties are runs of equal numbers; one walker each needs no reduction.
        starts = np.flatnonzero(np.r_[True, walkers.party[1:] != walkers.party[:-1]])
        self.party_starts = starts if starts.size < n else None
        self.party_sizes = np.diff(np.r_[starts, n])

    @property
    def water_ml(self) -> NDArray[np.float64]:
        """Water in the bottles, from the balance itself so that it always closes."""
        total = self.totals
        return (
            self.walkers.water_ml + total[Total.REFILLED_ML] - total[Total.DRUNK_ML]
        )

    @property
    def load_kg(self) -> NDArray[np.float64]:
        """What the bag weighs now: water drunk and food eaten no longer weigh on the walker."""
        walkers, total = self.walkers, self.totals
        eaten = np.divide(
            total[Total.EATEN_KCAL],
            walkers.food_kcal,
            out=np.zeros(walkers.count),
            where=walkers.food_kcal > 0.0,
        )
        gone_ml = total[Total.DRUNK_ML] - total[Total.REFILLED_ML]
        return np.maximum(walkers.bag_kg - gone_ml / 1000.0 - eaten * walkers.food_kg, 0.0)

    def now(self) -> Moment:
        """What surrounds each walker."""
        return self.conditions.at(self.depart_epoch_s + self.totals[Total.CLOCK_S])

    def slowest(self, duration_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Longest time within each party: a group walks at its slowest."""
        if self.party_starts is None:
            return duration_s
        return np.repeat(np.maximum.reduceat(duration_s, self.party_starts), self.party_sizes)

    def spend(
        self,
        duration_s: NDArray[np.float64],
        power_w: NDArray[np.float64],
        moment: Moment,
        *,
        row: Total,
        walk_m_s: NDArray[np.float64] | float = 0.0,
        sheltered: bool = False,
        needs_light: NDArray[np.bool_] | None = None,
    ) -> None:
        """Let time pass at a constant rate: use energy, lose water, drink, eat, burn light."""
        walkers, total = self.walkers, self.totals
        hours = duration_s / 3600.0
        calm = np.zeros_like(moment.wind_m_s)
        loss = water.water_loss_g_h(
            power_w,
            self.area_m2,
            moment.air_c,
            moment.humidity_pct,
            calm if sheltered else moment.wind_m_s,
            calm if sheltered else moment.radiant_w_m2,
            walkers.clothing_clo,
            walk_m_s=walk_m_s,
            body_mass_loss_pct=(total[Total.LOST_ML] - total[Total.DRUNK_ML])
            / (10.0 * walkers.mass_kg),
        )
        self.sweat_in_range = np.asarray(loss.in_range)
        lost = loss.total_g_h * hours
        wanted = total[Total.LOST_ML] - total[Total.DRUNK_ML] + lost
        carried = self.water_ml
        drink = np.minimum(np.minimum(wanted, carried), water.MAX_DRINK_ML_H * hours)
        deficit = wanted - drink
        np.maximum(self.worst_deficit_ml, deficit, out=self.worst_deficit_ml)
        dry = (carried - drink <= 0.0) & (deficit > 0.0) & (duration_s > 0.0)
        if dry.any():
            np.maximum(self.worst_short_ml, deficit, out=self.worst_short_ml, where=dry)
            # Water runs straight within the event, so the bottle empties part of the way through.
            part = np.divide(drink, lost, out=np.zeros_like(lost), where=lost > 0.0)
            emptied = total[Total.CLOCK_S] + np.minimum(part, 1.0) * duration_s
            np.minimum(self.first_short_s, emptied, out=self.first_short_s, where=dry)

        burnt = power_w * duration_s / energy.J_PER_KCAL
        hungry = total[Total.ENERGY_KCAL] - total[Total.EATEN_KCAL] + burnt
        left = walkers.food_kcal - total[Total.EATEN_KCAL]
        eaten = np.minimum(np.minimum(hungry, left), MAX_EAT_KCAL_H * hours)

        total[Total.DARK_S] += moment.night * duration_s
        if needs_light is not None and needs_light.any():
            need = needs_light * duration_s
            lamp = np.minimum(need, walkers.light_s - total[Total.LIGHT_USED_S])
            total[Total.LIGHT_NEED_S] += need
            total[Total.LIGHT_USED_S] += lamp
            out = lamp < need
            if out.any():
                gone = total[Total.CLOCK_S] + lamp
                np.minimum(self.light_out_s, gone, out=self.light_out_s, where=out)

        passing = duration_s > 0.0
        np.minimum(self.coldest_c, moment.felt_c, out=self.coldest_c, where=passing)
        np.maximum(self.hottest_c, moment.felt_c, out=self.hottest_c, where=passing)
        total[Total.CLOCK_S] += duration_s
        total[row] += duration_s
        total[Total.ENERGY_KCAL] += burnt
        total[Total.EATEN_KCAL] += eaten
        total[Total.LOST_ML] += lost
        total[Total.DRUNK_ML] += drink

    def refill(self, *, treat: bool) -> None:
        """Fill every bottle as far as it holds, and treatment allows."""
        want = self.walkers.capacity_ml - self.water_ml
        if treat:
            want = np.minimum(want, self.treats_ml)
            self.treats_ml = self.treats_ml - want
        self.totals[Total.REFILLED_ML] += want


class _Recorder:
    """Collects the trace of a walk."""

    def __init__(self) -> None:
        self.rows: list[tuple[int, int, int, float]] = []
        self.totals: list[NDArray[np.float64]] = []

    def note(
        self, state: _State, step: int, doing: Doing, distance_m: float, *, stop: int = -1
    ) -> None:
        self.rows.append((step, int(doing), stop, distance_m))
        self.totals.append(state.totals.copy())

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

    Returns
    -------
    Outcome
        Totals and first shortages of each walker; with ``record`` the trace.
    """
    state = _State(walkers, conditions, np.asarray(depart_epoch_s, dtype=np.float64))
    fixed = _FixedSteps(course, manner)
    recorder = _Recorder() if record else None
    if recorder is not None:
        recorder.note(state, 0, Doing.START, 0.0)
    steps = course.run_m.size
    energy_outside = np.zeros(steps, dtype=bool)
    sweat_outside = np.zeros(steps, dtype=bool)
    clock = np.zeros((steps, walkers.count)) if record else None
    waiting = list(enumerate(stops))
    for step in range(steps):
        while waiting and waiting[0][1].step <= step:
            row, stop = waiting.pop(0)
            _stop(state, stop, manner)
            if recorder is not None:
                recorder.note(state, step, Doing.STOP, float(course.distance_m[step]), stop=row)
        if clock is not None:
            clock[step] = state.totals[Total.CLOCK_S]
        energy_outside[step] = _move(state, fixed, manner, step)
        sweat_outside[step] = not state.sweat_in_range.all()
        if recorder is not None:
            recorder.note(state, step, Doing.MOVE, float(course.distance_m[step + 1]))
        rested = manner.rest_s_per_h > 0.0 and step + 1 < steps and _rest(state, manner)
        if rested and recorder is not None:
            recorder.note(state, step, Doing.REST, float(course.distance_m[step + 1]))
    return Outcome(
        totals=state.totals,
        step_clock_s=clock,
        worst_deficit_ml=state.worst_deficit_ml,
        worst_short_ml=state.worst_short_ml,
        first_short_s=state.first_short_s,
        light_out_s=state.light_out_s,
        coldest_felt_c=state.coldest_c,
        hottest_felt_c=state.hottest_c,
        energy_outside=energy_outside,
        sweat_outside=sweat_outside,
        trace=None if recorder is None else recorder.trace(),
    )


class _FixedSteps:
    """What depends on the way and not on the walker."""

    def __init__(self, course: Course, manner: Manner) -> None:
        self.run_m = course.run_m
        self.slope = course.slope
        self.delay_s = course.delay_s
        self.tunnel = course.tunnel
        self.speed_m_s = manners.slope_speed_m_s(manner, course.slope, course.stairs)
        self.surface = manners.surface_speed_factor(manner, course.surface)
        self.terrain = manners.terrain_factor(course.surface)
        self.unlit = manners.is_unlit(manner, course.lit, course.tunnel)


def _move(state: _State, fixed: _FixedSteps, manner: Manner, step: int) -> bool:
    """Walk one step; true when the energy equation had to be replaced by the steep-ground one."""
    walkers, total = state.walkers, state.totals
    moment = state.now()
    load_kg = state.load_kg
    dark = moment.night | bool(fixed.tunnel[step] & fixed.unlit[step])
    unlit = bool(fixed.unlit[step])
    after_dark = manner.dark_unlit_factor if unlit else manner.dark_lit_factor
    factors = {
        "surface": fixed.surface[step],
        "limits": manner.limit_speed_factor,
        "load": pace.load_factor(walkers.mass_kg, load_kg) if manner.load else 1.0,
        "dark": np.where(dark, after_dark, 1.0) if manner.dark else 1.0,
        "fatigue": (
            pace.fatigue_factor(state.since_halt_s / 3600.0, per_h=manner.fatigue_per_h)
            if manner.fatigue
            else 1.0
        ),
    }
    duration = fixed.run_m[step] / (fixed.speed_m_s[step] * walkers.pace_factor)
    for name, factor in factors.items():
        slower = duration / factor
        total[PACE_COSTS[name]] += slower - duration
        duration = slower
    together = state.slowest(duration)
    total[Total.GROUP_S] += together - duration
    speed = fixed.run_m[step] / together
    slope = float(fixed.slope[step])
    power = np.asarray(
        energy.walking_w(
            walkers.mass_kg,
            load_kg,
            speed,
            slope,
            fixed.terrain[step],
            model=manner.energy_model,
        )
    )
    outside = np.isnan(power)
    if outside.any():
        bounded = min(max(slope, -STEEPEST_SLOPE), STEEPEST_SLOPE)
        steep = energy.walking_w(
            walkers.mass_kg, load_kg, speed, bounded, fixed.terrain[step], model="minetti"
        )
        power = np.where(outside, steep, power)
    needs_light = dark & unlit
    if fixed.delay_s[step] > 0.0:
        wait = np.full(walkers.count, fixed.delay_s[step])
        state.spend(wait, state.standing_w, moment, row=Total.MOVED_S, needs_light=needs_light)
        together_s = together + wait
    else:
        together_s = together
    state.spend(
        together, power, moment, row=Total.MOVED_S, walk_m_s=speed, needs_light=needs_light
    )
    state.since_rest_s += together_s
    state.since_halt_s += together_s
    return bool(outside.any())


def _rest(state: _State, manner: Manner) -> bool:
    """Take the hourly rest where a full hour of moving is done; true if anyone rested."""
    hours = np.floor(state.since_rest_s / 3600.0)
    if not hours.any():
        return False
    state.since_rest_s = state.since_rest_s - 3600.0 * hours
    state.spend(hours * manner.rest_s_per_h, state.standing_w, state.now(), row=Total.RESTED_S)
    return True


def _stop(state: _State, stop: Stop, manner: Manner) -> None:
    """Leave the way, fill bottles or wait for light, and come back to the way."""
    walkers = state.walkers
    ones = np.ones(walkers.count)
    moment = state.now()
    if stop.off_m > 0.0:
        speed = manners.level_speed_m_s(manner) * walkers.pace_factor
        there_and_back = state.slowest(2.0 * stop.off_m / speed)
        power = np.asarray(
            energy.walking_w(
                walkers.mass_kg,
                state.load_kg,
                2.0 * stop.off_m / there_and_back,
                0.0,
                model=manner.energy_model,
            )
        )
        lamp = moment.night & (not manner.street_lights)
        state.spend(
            there_and_back,
            power,
            moment,
            row=Total.STOPPED_S,
            walk_m_s=2.0 * stop.off_m / there_and_back,
            needs_light=lamp,
        )
    if stop.service_s > 0.0:
        state.spend(stop.service_s * ones, state.standing_w, moment, row=Total.STOPPED_S)
    if stop.refill:
        state.refill(treat=stop.treat)
    halted = np.zeros(walkers.count)
    if stop.until_epoch_s is not None:
        wait = np.maximum(
            stop.until_epoch_s - state.depart_epoch_s - state.totals[Total.CLOCK_S], 0.0
        )
        while (wait > 0.0).any():
            chunk = np.minimum(wait, HALT_CHUNK_S)
            state.spend(
                chunk, state.resting_w, state.now(), row=Total.STOPPED_S, sheltered=True
            )
            wait = wait - chunk
            halted = halted + chunk
        if stop.refill:
            state.refill(treat=stop.treat)
    # A stop as long as the hourly rest is a rest; a night halt also takes the tiredness away.
    long_enough = stop.service_s + halted >= max(manner.rest_s_per_h, 1.0)
    state.since_rest_s = np.where(long_enough, 0.0, state.since_rest_s)
    state.since_halt_s = np.where(halted >= LONG_HALT_S, 0.0, state.since_halt_s)

