"""Rests, refills and halts: where the walkers stand still or leave the way for a moment."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.walk import manner as manners
from simulator.walk.rates import walking_w
from simulator.walk.records import Total

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.manner import Manner
    from simulator.walk.records import Stop
    from simulator.walk.state import State

HALT_CHUNK_S = 1800.0
"""A long wait is taken in pieces so that weather and need follow the clock [s]."""

LONG_HALT_S = 4.0 * 3600.0
"""A halt at least this long starts the count of hours walked afresh; an assumption [s]."""

HOUR_S = 3600.0


def take_rest(state: State) -> bool:
    """Take the hourly rest where a full hour of moving is done; true if anyone rested.

    Parameters
    ----------
    state : State
        The walkers; changed in place.

    Returns
    -------
    bool
        Whether anyone rested.
    """
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
    """Leave the way, fill bottles or wait for light, and come back to the way.

    Parameters
    ----------
    state : State
        Changed in place.
    stop : Stop
        Whoever it is active for makes it.
    manner : Manner
        For the walk there and back.
    """
    each = stop.each
    if each is None:
        _stop(state, stop, manner, works=None, until_epoch_s=stop.until_epoch_s)
        return
    rows = np.flatnonzero(each.active)
    if rows.size == 0:
        return
    part = state.some(rows)
    until = stop.until_epoch_s if each.until_epoch_s is None else each.until_epoch_s[rows]
    _stop(part, stop, manner, works=each.works[rows], until_epoch_s=until)
    state.put(rows, part)


def _stop(
    state: State,
    stop: Stop,
    manner: Manner,
    *,
    works: NDArray[np.bool_] | None,
    until_epoch_s: float | NDArray[np.float64] | None,
) -> None:
    walkers = state.walkers
    moment = state.now()
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
        if stop.ahead_ml > 0.0:
            state.drink_ahead(stop.ahead_ml, works=works)
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
    # A stop as long as the hourly rest is a rest; a night halt also takes the tiredness away.
    long_enough = stop.service_s + halted >= np.maximum(state.rest_s_per_h, 1.0)
    state.since_rest_s = np.where(long_enough, 0.0, state.since_rest_s)
    state.since_halt_s = np.where(halted >= LONG_HALT_S, 0.0, state.since_halt_s)
