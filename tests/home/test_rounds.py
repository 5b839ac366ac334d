"""Rounds of stops: at rest when they repeat, and the best of a circle otherwise."""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator.home.refills import Round, rest_of
from simulator.walk.records import Stop, Total
from simulator.walk.stops import Nearby

HERE, THERE, FAR = ((Stop(step=step, refill=True, place=step),) for step in (1, 2, 3))


class _Outcome:
    def __init__(self, short_ml: float, clock_s: float) -> None:
        self.worst_short_ml = np.array([short_ml])
        self.totals = np.zeros((len(Total), 1))
        self.totals[Total.CLOCK_S] = clock_s


class _Reading:
    def __init__(self, refused: int) -> None:
        self.refusal = tuple("closed on arrival" if place == refused else "" for place in range(5))


def walked(stops: tuple[Stop, ...], short_ml: float, clock_s: float, *, refused: int = -1) -> Round:
    outcome: Any = _Outcome(short_ml, clock_s)
    reading: Any = _Reading(refused)
    return Round(stops, outcome, reading)


NEARBY = Nearby(
    place=np.arange(5),
    along_m=np.zeros(5),
    off_m=np.zeros(5),
    step=np.zeros(5, dtype=np.int64),
)


def test_rounds_go_on_while_they_bring_something_new_and_rest_when_they_repeat() -> None:
    rounds = [walked((), 300.0, 10.0), walked(HERE, 0.0, 20.0)]
    assert rest_of(rounds, THERE, NEARBY) is None
    # The first round, dry and quick, is no part of the rest.
    assert rest_of(rounds, HERE, NEARBY) is rounds[1]


def test_of_a_circle_the_best_that_can_be_walked_is_taken() -> None:
    dry, slow = walked(HERE, 50.0, 20.0), walked(THERE, 0.0, 40.0)
    quick = walked(FAR, 0.4, 30.0)
    assert rest_of([walked((), 0.0, 0.0), dry, slow, quick], HERE, NEARBY) is quick
    shut = walked(FAR, 0.0, 30.0, refused=3)
    assert shut.broken(NEARBY) == 1
    assert rest_of([dry, slow, shut], HERE, NEARBY) is slow
