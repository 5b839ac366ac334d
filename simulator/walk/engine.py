"""The one engine: walkers times steps, the same code for one walk and for ten thousand.

It goes along the way step by step with all walkers in one array. What depends on the way alone is
worked out before the loop; what depends on the walker's state (load, dark, tiredness, thirst)
inside it. Between two events every rate is constant, so totals run straight and the ledger may cut
them at any clock time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.body import energy, pace
from simulator.walk import manner as manners
from simulator.walk.records import PACE_COSTS, Doing, Outcome, Stop, Total, Trace
from simulator.walk.state import State

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions
    from simulator.walk.course import Course
    from simulator.walk.manner import Manner
    from simulator.walk.records import Walkers

HALT_CHUNK_S = 1800.0
"""A long wait is taken in pieces so that weather and need follow the clock [s]."""

STEEPEST_SLOPE = 0.45
"""Steepest ground Minetti et al. 2002 measured; steeper steps count as this steep and are flagged
(rise over run)."""

LONG_HALT_S = 4.0 * 3600.0
"""A halt at least this long starts the count of hours walked afresh; an assumption [s]."""


class _Recorder:
    """Collects the trace of a walk."""

    def __init__(self) -> None:
        self.rows: list[tuple[int, int, int, float]] = []
        self.totals: list[NDArray[np.float64]] = []

    def note(
        self, state: State, step: int, doing: Doing, distance_m: float, *, stop: int = -1
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
    state = State(walkers, conditions, np.asarray(depart_epoch_s, dtype=np.float64))
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
        self.unlit = manners.is_unlit(manner, course.lit)


def _move(state: State, fixed: _FixedSteps, manner: Manner, step: int) -> bool:
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
    state.spend(together, power, moment, row=Total.MOVED_S, walk_m_s=speed, needs_light=needs_light)
    state.since_rest_s += together_s
    state.since_halt_s += together_s
    return bool(outside.any())


def _rest(state: State, manner: Manner) -> bool:
    """Take the hourly rest where a full hour of moving is done; true if anyone rested."""
    hours = np.floor(state.since_rest_s / 3600.0)
    if not hours.any():
        return False
    state.since_rest_s = state.since_rest_s - 3600.0 * hours
    state.spend(hours * manner.rest_s_per_h, state.standing_w, state.now(), row=Total.RESTED_S)
    return True


def _stop(state: State, stop: Stop, manner: Manner) -> None:
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
            state.spend(chunk, state.resting_w, state.now(), row=Total.STOPPED_S, sheltered=True)
            wait = wait - chunk
            halted = halted + chunk
        if stop.refill:
            state.refill(treat=stop.treat)
    # A stop as long as the hourly rest is a rest; a night halt also takes the tiredness away.
    long_enough = stop.service_s + halted >= max(manner.rest_s_per_h, 1.0)
    state.since_rest_s = np.where(long_enough, 0.0, state.since_rest_s)
    state.since_halt_s = np.where(halted >= LONG_HALT_S, 0.0, state.since_halt_s)
