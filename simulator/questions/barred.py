"""Why someone with limits finds no way home, and what would have to give for one to exist."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from simulator.body.people import LimitRule, strictest
from simulator.errors import NoWayHomeError
from simulator.walk.manner import barred_by

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np
    from numpy.typing import NDArray

    from simulator.ground.snap import Snap
    from simulator.questions.scene import Scene

STEEPER = (0.06, 0.08, 0.10, 0.125, 0.15, 0.20, 0.25, 0.30)
"""Slopes tried beyond the limit, rise over run."""


def barred_words(
    scene: Scene,
    forward_s: NDArray[np.float64],
    backward_s: NDArray[np.float64],
    origin: Snap,
    destination: Snap,
) -> str:
    """Say what the party's limits bar, and which single one would have to give.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    forward_s, backward_s : (M,) float64
        Walking times [s].
    origin, destination : Snap
        Ends of the leg without a way.

    Returns
    -------
    str
        A clause to follow the refusal.
    """
    rule = strictest(scene.manner.limits)
    barred = []
    if not rule.stairs:
        barred.append("steps")
    if math.isfinite(rule.max_slope):
        barred.append(f"slopes over {rule.max_slope:.1%}")
    if rule.refused:
        barred.append(f"{', '.join(sorted(rule.refused))} underfoot")
    said = f"the limits of the party ({', '.join(scene.manner.limits)}) bar {'; '.join(barred)}"
    for words, wider in _wider(rule):
        closed = scene.closure.mask | scene.unknown_height | barred_by(scene.streets, wider)
        try:
            scene.network.least(
                forward_s,
                backward_s,
                (origin.segment, origin.fraction),
                (destination.segment, destination.fraction),
                closed=closed,
            )
        except NoWayHomeError:
            continue
        return f"{said}; there is a way {words}"
    return f"{said}; more than one of these would have to give"


def _wider(rule: LimitRule) -> Iterator[tuple[str, LimitRule]]:
    """Let one limit give at a time, the least first."""
    for slope in STEEPER:
        if slope > rule.max_slope:
            yield f"with slopes up to {slope:.1%}", replace(rule, max_slope=slope)
    if math.isfinite(rule.max_slope):
        yield "with any slope", replace(rule, max_slope=math.inf)
    if not rule.stairs:
        yield "over steps", replace(rule, stairs=True)
    if rule.refused:
        yield "on any surface", replace(rule, refused=frozenset())
