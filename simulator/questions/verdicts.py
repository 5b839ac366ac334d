"""The verdict of many walks at once: the same thresholds as one walk's, without the words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.walk import verdict as one

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.crowd_records import Arrivals

HOUR_S = 3600.0
CARE, STAY = 1, 2
"""Positions in ``simulator.walk.verdict.LEVELS``."""

EVENTS_WITH_CARE = frozenset({"flood", "storm"})
"""Events that call for care on every walk."""


def verdict_levels(
    arrivals: Arrivals, *, event: str, always_care: bool = False
) -> NDArray[np.int8]:
    """Judge every walk.

    Parameters
    ----------
    arrivals : Arrivals
        n walks.
    event : str
        Kind of event.
    always_care : bool
        Whether something that the verdict hangs on is not known of any walk.

    Returns
    -------
    (n,) int8
        Positions in ``simulator.walk.verdict.LEVELS``, as ``simulator.walk.verdict.judge`` gives
        for each; -1 where the walk itself is not known.
    """
    care, stay = _calls(arrivals)
    if always_care or event in EVENTS_WITH_CARE:
        care = np.ones_like(care)
    level = np.where(stay, STAY, np.where(care, CARE, 0)).astype(np.int8)
    level[arrivals.limits_left] = -1
    return level


def _calls(walks: Arrivals) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Say what calls for care, and what for staying."""
    elapsed_h = walks.elapsed_s / HOUR_S
    care = (
        (walks.loss_pct >= one.LOSS_CARE_PCT)
        | (walks.short_ml >= one.SHORT_CARE_ML)
        | (walks.coldest_c < one.CHILL_CARE_C)
        | (walks.hottest_c >= one.HEAT_CARE_C)
        | (walks.foot_short_clo >= one.FOOT_CARE_CLO)
        | (walks.light_short_s > HOUR_S * one.LIGHT_CARE_H)
        | (walks.unlit_s > HOUR_S * one.UNLIT_CARE_H)
        | (elapsed_h > one.LONG_CARE_H)
        | (walks.busy_dark_km >= one.BUSY_CARE_KM)
    )
    stay = (
        (walks.loss_pct >= one.LOSS_STAY_PCT)
        | (walks.coldest_c <= one.CHILL_STAY_C)
        | (walks.hottest_c >= one.HEAT_STAY_C)
        | (walks.halt_short_clo > 0.0)
        | (walks.foot_short_clo >= one.FOOT_STAY_CLO)
        | (elapsed_h > one.LONG_STAY_H)
        | ((walks.halt_h > 0.0) & walks.halt_in_the_open)
        # What no model can say is taken as the worst, as for one walk.
        | np.isnan(walks.coldest_c)
        | np.isnan(walks.hottest_c)
        | ((walks.halt_h > 0.0) & np.isnan(walks.halt_short_clo))
    )
    return care, stay
