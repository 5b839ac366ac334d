"""Stops and arrival times that correct each other: when to stop, and what to take from a circle.

Each round walks with some stops and learns from it which stops would be best. Mostly the answer
comes to rest. Sometimes two or three sets of stops call for each other in turn; each of them was
walked, so its times and its water are right, and the best of them is taken.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.walk.records import Total

if TYPE_CHECKING:
    from simulator.questions.refilling import Reading
    from simulator.walk.records import Outcome, Stop
    from simulator.walk.stops import Nearby

LEAST_ML = 1.0
"""Shortages that differ by less count as the same [mL]."""


class Round(NamedTuple):
    """One set of stops, walked.

    Attributes
    ----------
    stops : tuple of Stop
        As walked.
    outcome : Outcome
        With trace.
    reading : Reading
        What is known of the places at the time they are reached in it.
    """

    stops: tuple[Stop, ...]
    outcome: Outcome
    reading: Reading

    def broken(self, nearby: Nearby) -> int:
        """Count refills at places that its own arrival times speak against.

        Parameters
        ----------
        nearby : Nearby
            Places within reach.

        Returns
        -------
        int
            0 when it can be walked as planned.
        """
        refused = {
            place
            for place, why in zip(nearby.place.tolist(), self.reading.refusal, strict=True)
            if why
        }
        return sum(stop.refill and stop.place in refused for stop in self.stops)


def rest_of(rounds: list[Round], wanted: tuple[Stop, ...], nearby: Nearby) -> Round | None:
    """Tell whether the rounds have come to rest, and on which of them.

    Parameters
    ----------
    rounds : list of Round
        Those with the same night halts, in order.
    wanted : tuple of Stop
        What the last of them calls for.
    nearby : Nearby
        Places within reach.

    Returns
    -------
    Round or None
        The last, when it calls for itself; the best of a circle: with open places first, then the
        least shortage, then the least time. None while rounds still bring something new.
    """
    first = next((n for n, one in enumerate(rounds) if one.stops == wanted), None)
    if first is None:
        return None

    def worth(one: Round) -> tuple[int, float, float]:
        short_ml = float(one.outcome.worst_short_ml.sum())
        clock_s = float(one.outcome.totals[Total.CLOCK_S].max())
        return one.broken(nearby), float(np.round(short_ml / LEAST_ML)), clock_s

    return min(rounds[first:], key=worth)
