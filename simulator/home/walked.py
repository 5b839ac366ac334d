"""The latest departure of a day that is home by some hour: found by walking each of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

import numpy as np

from simulator.home.records import HomeBy
from simulator.sky.clock import to_epoch_s
from simulator.units import DAY_S, HOUR_S
from simulator.walk.ledger import local_time, segments_table
from simulator.walk.records import LONG_CARE_H, Doing, Total

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from simulator.home.crowd_records import StopChoice
    from simulator.home.refills import Reading
    from simulator.home.scene import Scene
    from simulator.home.way import Way
    from simulator.walk.conditions import Conditions
    from simulator.walk.halts import Halt
    from simulator.walk.records import Outcome, Stop
    from simulator.walk.stops import Nearby


@dataclass(frozen=True, slots=True)
class Walked:
    """One way walked, before it is put into tables.

    Attributes
    ----------
    way : Way
        The way.
    outcome : Outcome
        With trace.
    nearby : Nearby
        Places within reach.
    reading : Reading
        What is known of them at the time they are reached.
    stops : tuple of Stop
        As walked.
    halts : tuple of Halt
        Night halts among them.
    choice : StopChoice
        What is done at each place nearby.
    settled : bool
        Whether stops and arrival times agree.
    """

    way: Way
    outcome: Outcome
    nearby: Nearby
    reading: Reading
    stops: tuple[Stop, ...]
    halts: tuple[Halt, ...]
    choice: StopChoice
    settled: bool


def steps_of(scene: Scene, walked: Walked) -> pd.DataFrame:
    """Put the steps of a walked way into a table."""
    outcome = walked.outcome
    trace, step_clock = outcome.trace, outcome.step_clock_s
    if trace is None or step_clock is None:
        message = "tables are made from a recorded walk; simulate with record=True"
        raise ValueError(message)
    moves = trace.doing == Doing.MOVE
    moved = np.diff(trace.totals[moves][:, Total.MOVED_S, 0], prepend=0.0)
    clock = step_clock[:, 0]
    # Steps walked as one follow each other without a rest; the last has what is left.
    first = trace.step[moves]
    moving = np.diff(clock, append=clock[-1])
    last = np.append(first[1:], clock.size) - 1
    moving[last] = moved - (clock[last] - clock[first])
    return segments_table(
        walked.way.course,
        streets=scene.streets,
        manner=scene.manner,
        step_clock_s=step_clock[:, 0],
        moving_s=moving,
        conditions=scene.conditions,
        depart_epoch_s=scene.depart_epoch_s,
    )


DEPART_STEP_S = 900.0
"""Departures that are tried lie this far apart [s]."""

FIRST_DEPART_H = 3
"""No departure before this clock hour is tried: it would be the night before; an assumption."""


def home_until_s(scene: Scene) -> float | None:
    """Give the moment by which the plan wants to be home."""
    until = scene.plan.trip.home_until
    return None if until is None else to_epoch_s(until, scene.zone, where="trip.home_by")


def allowed_s(scene: Scene, depart_epoch_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give how long walks may take: a long day at most, or until the plan wants to be home [s]."""
    longest = np.full(depart_epoch_s.size, HOUR_S * LONG_CARE_H)
    until_s = home_until_s(scene)
    if until_s is None:
        return longest
    days = np.floor((until_s - scene.depart_epoch_s) / DAY_S)
    left_s = np.mod(until_s - depart_epoch_s, DAY_S) + days * DAY_S
    own = depart_epoch_s == scene.depart_epoch_s
    left_s = np.where(own, until_s - scene.depart_epoch_s, left_s)
    allowed: NDArray[np.float64] = np.minimum(longest, left_s)
    return allowed


def departures(
    scene: Scene, sky: Conditions, wanted: Sequence[float | None]
) -> NDArray[np.float64]:
    """Give the quarter hours of the day that are tried."""
    asked = [moment for moment in wanted if moment is not None]
    if not asked:
        return np.zeros(0)
    midnight = datetime.combine(local_time(scene.depart_epoch_s, scene.zone).date(), time())
    early = midnight + timedelta(hours=FIRST_DEPART_H)
    first = to_epoch_s(early, scene.zone, where="trip.depart")
    every = np.arange(first, max(asked), DEPART_STEP_S)
    return every[every >= sky.start_epoch_s]


def latest(
    scene: Scene,
    tried: NDArray[np.float64],
    took_s: NDArray[np.float64],
    until_epoch_s: float | None,
) -> datetime | None:
    """Find the latest departure that is home by a moment."""
    if until_epoch_s is None:
        return None
    home = np.flatnonzero(tried + took_s <= until_epoch_s)
    return local_time(float(tried[home[-1]]), scene.zone) if home.size else None


def home_by_told(
    scene: Scene, elapsed_s: float, leave: datetime | None, *, asked: bool, slow: float = 1.0
) -> HomeBy | None:
    """Tell whether the plan is home by the hour it names, and when to leave for it."""
    until = home_until_s(scene)
    if until is None:
        return None
    late_s = scene.depart_epoch_s + elapsed_s - until
    if asked and scene.depart_epoch_s + slow * elapsed_s <= until:
        # Between the quarter hours that were tried lies the planned departure itself.
        own = local_time(scene.depart_epoch_s, scene.zone)
        leave = own if leave is None else max(leave, own)
    return HomeBy(local_time(until, scene.zone), late_s / 60.0, leave)
