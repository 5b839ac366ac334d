"""When a walk has to stop for the night, where, and until when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.walk.conditions import CLOCK_STEP_S, NIGHT_BELOW_DEG
from simulator.walk.records import LIGHT_CARE_H, Doing, Stop, Total

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions
    from simulator.walk.records import Outcome, Trace
    from simulator.walk.stops import Nearby

NO_DAWN_WAIT_S = 8.0 * 3600.0
"""Where the sun brings no dawn within two days, a halt lasts this long; an assumption [s]."""

DAWN_SEARCH_S = 48.0 * 3600.0


@dataclass(frozen=True, slots=True)
class Halt:
    """A night halt.

    Attributes
    ----------
    stop : Stop
        For the engine.
    reason : str
        Why the walk cannot go on, in words.
    sheltered : bool
        Whether it is at a place that gives shelter.
    """

    stop: Stop
    reason: str
    sheltered: bool


def next_first_light(conditions: Conditions, epoch_s: float) -> float:
    """When civil twilight next begins.

    Parameters
    ----------
    conditions : Conditions
        Covers the next two days.
    epoch_s : float
        From when on, seconds since 1970-01-01 UTC.

    Returns
    -------
    float
        The next instant at which the sun rises through -6 degrees; without one within two days
        (polar day or night), ``NO_DAWN_WAIT_S`` later.
    """
    clock = epoch_s + np.arange(0.0, DAWN_SEARCH_S, CLOCK_STEP_S)
    above = conditions.at(clock).sun_deg - NIGHT_BELOW_DEG
    rising = np.flatnonzero((above[:-1] < 0.0) & (above[1:] >= 0.0))
    if rising.size == 0:
        return epoch_s + NO_DAWN_WAIT_S
    first = rising[0]
    share = above[first] / (above[first] - above[first + 1])
    return float(clock[first] + share * CLOCK_STEP_S)


def next_halt(
    outcome: Outcome,
    *,
    conditions: Conditions,
    depart_epoch_s: float,
    longest_day_s: float,
    nearby: Nearby,
    shelters: NDArray[np.bool_],
    off_s: NDArray[np.float64],
    halts: Sequence[Halt],
) -> Halt | None:
    """Find the first point beyond which the walk must not go on today, and where to halt.

    Parameters
    ----------
    outcome : Outcome
        One party's walk with the halts so far; with step clock and trace.
    conditions : Conditions
        For first light.
    depart_epoch_s : float
        Departure, seconds since 1970-01-01 UTC.
    longest_day_s : float
        Longest time afoot between nights, rests and stops included [s].
    nearby : Nearby
        Places within reach of the way.
    shelters : (C,) bool
        Which of them give shelter that can be used.
    off_s : (C,) float64
        Time from the way to each [s].
    halts : sequence of Halt
        Those already planned, in order.

    Returns
    -------
    Halt or None
        None when the walk can go through.
    """
    if outcome.step_clock_s is None or outcome.trace is None:
        message = "a halt is looked for in a recorded walk; simulate with record=True"
        raise ValueError(message)
    clock = outcome.step_clock_s[:, 0]
    end_s = float(outcome.totals[Total.CLOCK_S, 0])
    began_s, from_step = 0.0, 0
    if halts:
        from_step = halts[-1].stop.step
        began_s = float(clock[from_step])
    limit_s, reason = began_s + longest_day_s, "the longest day afoot is over"
    dark_at_s = _light_gone_s(outcome.trace, began_s, conditions, depart_epoch_s)
    if dark_at_s < limit_s:
        limit_s, reason = dark_at_s, "it is dark and no light is left for unlit ways"
    if limit_s >= end_s:
        return None
    arrive_s = clock[nearby.step] + off_s
    fits = shelters & (arrive_s <= limit_s) & (nearby.step > from_step)
    if fits.any():
        # The latest shelter loses least; the nearer to the way where two are reached alike.
        best = int(np.flatnonzero(fits)[np.lexsort((-nearby.off_m[fits], arrive_s[fits]))[-1]])
        at_s, place = float(arrive_s[best]), int(nearby.place[best])
        step, off_m = int(nearby.step[best]), float(nearby.off_m[best])
    else:
        step = max(int(np.searchsorted(clock, limit_s, side="right")) - 1, from_step)
        at_s, place, off_m = float(clock[step]), -1, 0.0
    until = next_first_light(conditions, depart_epoch_s + at_s)
    stop = Stop(step=step, off_m=off_m, until_epoch_s=until, place=place)
    return Halt(stop=stop, reason=reason, sheltered=place >= 0)


def _light_gone_s(
    trace: Trace, began_s: float, conditions: Conditions, depart_epoch_s: float
) -> float:
    """When someone has walked unlit ways at night without a lamp for too long since a time [s]."""
    moves = trace.doing == Doing.MOVE
    totals = trace.totals[moves]
    clock = totals[:, Total.CLOCK_S, 0]
    unlit_s = np.max(totals[:, Total.LIGHT_NEED_S] - totals[:, Total.LIGHT_USED_S], axis=1)
    night = conditions.at(depart_epoch_s + clock).night
    so_far_s = np.cumsum(np.where(night, np.diff(unlit_s, prepend=0.0), 0.0))
    before = int(np.searchsorted(clock, began_s, side="right")) - 1
    since_s = so_far_s - (so_far_s[before] if before >= 0 else 0.0)
    gone = np.flatnonzero((clock > began_s) & (since_s > LIGHT_CARE_H * 3600.0))
    return float(clock[gone[0]]) if gone.size else float("inf")
