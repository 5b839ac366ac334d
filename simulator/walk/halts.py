"""When a walk has to stop for the night, where, and until when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.walk.conditions import CLOCK_STEP_S, NIGHT_BELOW_DEG
from simulator.walk.records import Stop

if TYPE_CHECKING:
    from simulator.walk.conditions import Conditions

DAY_OVER = "the longest day afoot is over"
NO_LIGHT = "it is dark and no light is left for unlit ways"
"""Why a walk halts."""

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


def next_start(conditions: Conditions, epoch_s: float) -> float:
    """When a walk that halts goes on: at first light, or after a rest by day.

    Parameters
    ----------
    conditions : Conditions
        Covers the next two days.
    epoch_s : float
        Begin of the halt, seconds since 1970-01-01 UTC.

    Returns
    -------
    float
        First light, for a halt that begins in the dark. One that begins by day lasts
        ``NO_DAWN_WAIT_S``, and on to first light only when it is dark by then.
    """
    rested_s = epoch_s + NO_DAWN_WAIT_S
    sun = conditions.at(np.array([epoch_s, rested_s])).sun_deg
    if sun[0] < NIGHT_BELOW_DEG:
        return next_first_light(conditions, epoch_s)
    return rested_s if sun[1] >= NIGHT_BELOW_DEG else next_first_light(conditions, rested_s)
