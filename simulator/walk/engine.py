"""The one engine: walkers times steps, the same code for one walk and for ten thousand.

It goes along the way step by step with all walkers in one array. What depends on the way alone is
worked out before the loop; what depends on the walker's state (load, dark, tiredness, thirst)
inside it. Between two events every rate is constant, so totals run straight and the ledger may cut
them at any clock time. Crowds are walked some thousands at a time, which changes no number: no
walker sees another outside the own party.
"""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from simulator.walk.day import Day
from simulator.walk.rates import refuse_impossible
from simulator.walk.records import (
    PASSING,
    Doing,
    Marks,
    Outcome,
    Total,
    Trace,
    some_of,
)
from simulator.walk.state import State
from simulator.walk.stepping import FixedSteps, OwnPace, move
from simulator.walk.stopping import make_stop, take_rest

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions
    from simulator.walk.course import Course
    from simulator.walk.manner import Manner
    from simulator.walk.records import Stop, Traits, Walkers, WeatherError

CROWD = 5000
"""Walkers taken at a time: their working arrays stay in the processor's nearer memory."""

NO_MARKS = Marks(hours=0, steps=np.zeros(0, dtype=np.int64))


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
    traits: Traits | None = None,
    error: WeatherError | None = None,
    marks: Marks = NO_MARKS,
    beside_traffic: NDArray[np.bool_] | None = None,
    longest_day_s: float | None = None,
    crowd: int = CROWD,
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
    fixed = FixedSteps(course, manner, beside_traffic)
    edges = _edges(walkers.party, walkers.count if record else crowd)
    parts = []
    for low, high in pairwise(edges):
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
            mark_hours=marks.hours,
        )
        mine = [
            stop if stop.each is None else replace(stop, each=some_of(stop.each, rows))
            for stop in stops
        ]
        day = None if longest_day_s is None else Day(state, longest_day_s)
        part = _walk(state, fixed, theirs, mine, marks, day, record=record)
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
        elif values[0] is None:
            joined[field.name] = None
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
    *,
    record: bool,
) -> Outcome:
    """Walk one crowd from start to end."""
    recorder = _Recorder() if record else None
    if recorder is not None:
        recorder.note(state, 0, Doing.START, 0.0)
    steps, count = fixed.count, state.walkers.count
    energy_outside = np.zeros(steps, dtype=bool)
    sweat_outside = np.zeros(steps, dtype=bool)
    busy_dark_m = np.zeros(count)
    clock = np.zeros((steps, count)) if record else None
    passing = np.zeros((marks.steps.size, len(PASSING), count)) if marks.steps.size else None
    marked = marks.steps.tolist()
    pace_factor = OwnPace(state)
    next_mark = next_stop = 0
    for step in range(steps):
        state.at_m = fixed.distance_m[step]
        next_stop = _stop_here(state, stops, next_stop, step, manner, day, recorder)
        while next_mark < len(marked) and marked[next_mark] <= step:
            passing[next_mark] = state.totals[list(PASSING)]  # type: ignore[index]  # some marked
            next_mark += 1
        if clock is not None:
            clock[step] = state.totals[Total.CLOCK_S]
        if day is not None:
            day.at_start(state, step)
        own = pace_factor.at(state.at_m)
        energy_outside[step] = move(state, fixed.at(step), manner, own, busy_dark_m)
        sweat_outside[step] = not state.sweat_backed
        state.at_m = fixed.distance_m[step + 1]
        if day is not None:
            day.after_move(state)
        if recorder is not None:
            recorder.note(state, step, Doing.MOVE, state.at_m)
        rested = step + 1 < steps and take_rest(state)
        if rested and recorder is not None:
            recorder.note(state, step, Doing.REST, state.at_m)
    return Outcome(
        totals=state.totals,
        step_clock_s=clock,
        worst_deficit_ml=state.worst_deficit_ml,
        worst_short_ml=state.worst_short_ml,
        first_short_s=state.first_short_s,
        light_out_s=state.light_out_s,
        food_out_s=state.food_out_s,
        coldest_felt_c=state.coldest_c,
        hottest_felt_c=state.hottest_c,
        cold_from_s=state.cold_from_s,
        hot_from_s=state.hot_from_s,
        busy_dark_m=busy_dark_m,
        hourly=state.hourly,
        passing=passing,
        limit_s=None if day is None else day.limit_s,
        limit_step=None if day is None else day.step,
        halted=() if day is None else tuple(day.halted),
        energy_outside=energy_outside,
        sweat_outside=sweat_outside,
        trace=None if recorder is None else recorder.trace(),
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
            recorder.note(state, step, Doing.STOP, state.at_m, stop=following)
        following += 1
    return following
