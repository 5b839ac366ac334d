"""Tiredness inside the engine: nothing to work out before anyone is tired."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.body import pace

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

HOUR_S = 3600.0


def fatigue_factor(
    since_halt_s: NDArray[np.float64], *, per_h: NDArray[np.float64] | float
) -> NDArray[np.float64] | float:
    """Give the share of the fresh speed left.

    Parameters
    ----------
    since_halt_s : (n,) float64
        Walked since the last night halt [s].
    per_h : (n,) float64 or float
        Share lost in each hour after the free ones.

    Returns
    -------
    (n,) float64 or float
        As ``simulator.body.pace.fatigue_factor``; 1 while everyone is fresh.
    """
    if since_halt_s.max() <= pace.FATIGUE_FREE_H * HOUR_S:
        return 1.0
    return pace.fatigue_factor(since_halt_s / HOUR_S, fatigue_per_h=per_h)
