"""One way walked, before it is put into tables: what summary, warmth and advice read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.walk.ledger import segments_table
from simulator.walk.records import Doing, Total

if TYPE_CHECKING:
    import pandas as pd

    from simulator.questions.refilling import Reading
    from simulator.questions.scene import Scene
    from simulator.questions.ways import Way
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
    settled : bool
        Whether stops and arrival times agree.
    """

    way: Way
    outcome: Outcome
    nearby: Nearby
    reading: Reading
    stops: tuple[Stop, ...]
    halts: tuple[Halt, ...]
    settled: bool


def steps_of(scene: Scene, walked: Walked) -> pd.DataFrame:
    """Put the steps of a walked way into a table.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way, recorded.

    Returns
    -------
    pandas.DataFrame
        As ``simulator.walk.ledger.segments_table``.
    """
    outcome = walked.outcome
    trace, step_clock = outcome.trace, outcome.step_clock_s
    if trace is None or step_clock is None:
        message = "tables are made from a recorded walk; simulate with record=True"
        raise ValueError(message)
    moved = trace.totals[trace.doing == Doing.MOVE][:, Total.MOVED_S, 0]
    return segments_table(
        walked.way.course,
        streets=scene.streets,
        manner=scene.manner,
        step_clock_s=step_clock[:, 0],
        moving_s=np.diff(moved, prepend=0.0),
        conditions=scene.conditions,
        depart_epoch_s=scene.depart_epoch_s,
    )
