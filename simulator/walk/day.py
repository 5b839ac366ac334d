"""How long each walker may go on today: until the longest day afoot is over or the light is gone.

The same rule as ``simulator.walk.halts`` reads from one recorded walk, kept while walking so that
it holds for a crowd without a record.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.walk.records import Total
from simulator.walk.verdict import LIGHT_CARE_H

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.records import Stop
    from simulator.walk.state import State

HOUR_S = 3600.0


class Halted(NamedTuple):
    """Who waited at one halt, from when until when.

    Attributes
    ----------
    stop : int
        Row of the stop in the list given to the engine.
    place : int
        Row of the place, -1 in the open.
    rows : (m,) int64
        Who waited.
    from_s, until_s : (m,) float64
        Begin and end since departure [s].
    """

    stop: int
    place: int
    rows: NDArray[np.intp]
    from_s: NDArray[np.float64]
    until_s: NDArray[np.float64]


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

    def at_start(self, state: State, step: int) -> None:
        """Note the last step that begins within the day.

        Parameters
        ----------
        state : State
            The walkers.
        step : int
            Step about to begin.
        """
        clock = state.totals[Total.CLOCK_S]
        within = clock <= self.limit_s
        if within.all():
            self.step.fill(step)
        else:
            self.step[within] = step

    def after_move(self, state: State) -> None:
        """Note when too much unlit way has been walked without a lamp.

        Parameters
        ----------
        state : State
            The walkers after a step.
        """
        short = state.totals[Total.LIGHT_NEED_S] > state.totals[Total.LIGHT_USED_S]
        if not short.any():
            return
        unlit_s = self._unlit_s(state)
        # An unlit tunnel by day is no reason to wait for first light.
        self.night_unlit_s += np.where(state.now().night, unlit_s - self.unlit_s, 0.0)
        self.unlit_s = unlit_s
        gone = (self.night_unlit_s > LIGHT_CARE_H * HOUR_S) & np.isinf(self.dark_s)
        if gone.any():
            self.dark_s[gone] = state.totals[Total.CLOCK_S][gone]
            self.limit_s = np.minimum(self.limit_s, self.dark_s)

    def after_stop(
        self, state: State, number: int, stop: Stop, began_s: NDArray[np.float64]
    ) -> None:
        """Begin a new day for those who halted.

        Parameters
        ----------
        state : State
            The walkers after a stop.
        number : int
            Row of the stop.
        stop : Stop
            The stop.
        began_s : ndarray of float64
            Time since departure when it began [s].
        """
        each = stop.each
        if stop.until_epoch_s is None and (each is None or each.until_epoch_s is None):
            return
        clock = state.totals[Total.CLOCK_S]
        rows = np.arange(clock.size) if each is None else np.flatnonzero(each.active)
        self.halted.append(Halted(number, stop.place, rows, began_s[rows], clock[rows]))
        self.limit_s[rows] = clock[rows] + self.longest_day_s
        self.dark_s[rows] = np.inf
        self.night_unlit_s[rows] = 0.0

    def _unlit_s(self, state: State) -> NDArray[np.float64]:
        """Unlit way in the dark without a lamp so far, of the party's member who has most [s]."""
        unlit = state.totals[Total.LIGHT_NEED_S] - state.totals[Total.LIGHT_USED_S]
        return state.slowest(unlit)
