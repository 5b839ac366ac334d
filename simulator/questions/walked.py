"""One way walked, before it is put into tables: what summary, warmth and advice read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulator.questions.refilling import Reading
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
