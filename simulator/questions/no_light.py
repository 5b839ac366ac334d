"""Where a halt for the night waits in vain: high latitudes, where first light is far off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.walk.conditions import CLOCK_STEP_S, NIGHT_BELOW_DEG
from simulator.walk.records import Total

if TYPE_CHECKING:
    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked

LONGEST_WAIT_H = 16.0
"""Longest wait for first light that a night halt can be counted on for [h]; an assumption, 12 to
20; the longest night without twilight at latitude 60 has 16.2 h."""

NEAR_DEG = 0.5
"""The sun of a first light found between steps of the clock lies this near to its height [deg]."""

WAITING_FAILS = (
    f"First light is more than {LONGEST_WAIT_H:.0f} h away at a night halt of this plan, or does "
    "not come at all: waiting for light does not work there, whatever halts this plan shows. "
    "Carry lamp light for the whole way with some to spare, keep to lit ways, or stay "
    "where it is warm."
)
"""Common practice."""


def no_light_caution(scene: Scene, walked: Walked) -> list[str]:
    """Warn when a night halt waits for a first light that does not come soon.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked, with its trace.

    Returns
    -------
    list of str
        One sentence or none.
    """
    trace = walked.outcome.trace
    if trace is None:
        message = "halts are read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    for event in np.flatnonzero(trace.stop >= 0).tolist():
        if walked.stops[int(trace.stop[event])].until_epoch_s is None:
            continue
        began_s = scene.depart_epoch_s + float(trace.totals[event - 1, Total.CLOCK_S, 0])
        if _dark_for_long(scene, began_s):
            return [WAITING_FAILS]
    return []


def ends_at_first_light(scene: Scene, until_epoch_s: float) -> bool:
    """Say whether a halt ends at first light, or only when its time is over.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    until_epoch_s : float
        Its end, seconds since 1970-01-01 UTC.

    Returns
    -------
    bool
        False where the sun brings no first light, in polar night and polar day.
    """
    height_deg = float(scene.conditions.at(np.array([until_epoch_s])).sun_deg[0])
    return abs(height_deg - NIGHT_BELOW_DEG) < NEAR_DEG


def _dark_for_long(scene: Scene, began_epoch_s: float) -> bool:
    """Say whether the longest wait from a moment on brings no first light, and ends in the dark."""
    waited = began_epoch_s + np.arange(0.0, 3600.0 * LONGEST_WAIT_H, CLOCK_STEP_S)
    dark = scene.conditions.at(waited).sun_deg < NIGHT_BELOW_DEG
    return bool(dark[-1]) and not bool((dark[:-1] & ~dark[1:]).any())
