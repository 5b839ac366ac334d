"""All that a plan asks about water beyond the walk itself: bottles compared, the way never dry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.questions.bottles import compare_bottles, least_bottle_ml
from simulator.questions.dry_way import DryWay, dry_way
from simulator.questions.next_water import label_of
from simulator.walk.records import Total

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from simulator.questions.dry_way import Walks
    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked


@dataclass(frozen=True, slots=True)
class WaterAnswers:
    """Answers about water.

    Attributes
    ----------
    bottles : pandas.DataFrame
        The same way with other bottles, one row each; ``simulator.questions.bottles.COLUMNS``.
    never_dry_lonlat : (K, 2) float64 or None
        Longitude and latitude of the way that never runs dry [deg], where it is not the fastest.
    summary : dict
        For ``water`` in summary.json: ``bottles``, ``least_bottle_l``, ``never_dry``.
    """

    bottles: pd.DataFrame
    never_dry_lonlat: NDArray[np.float64] | None
    summary: dict[str, Any]


def answer_water(scene: Scene, walked: Walked, walk: Walks) -> WaterAnswers:
    """Answer what a plan asks about water.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The fastest way as walked.
    walk : callable
        Walks a way, ``simulator.questions.home.walk_way``.

    Returns
    -------
    WaterAnswers
        Costs about one run of the engine, and two more where another way is walked.
    """
    bottles = compare_bottles(scene, walked)
    least = least_bottle_ml(scene, walked)
    found = dry_way(scene, walked, walk)
    rows = bottles.astype(object).where(bottles.notna(), None).to_dict("records")
    course = None if found.walked is None else found.walked.way.course
    return WaterAnswers(
        bottles=bottles,
        never_dry_lonlat=None if course is None else np.column_stack([course.lon, course.lat]),
        summary={
            "bottles": rows,
            "least_bottle_l": {name: amount / 1000.0 for name, amount in least.items()},
            "never_dry": _never_dry(scene, walked, found),
        },
    )


def _never_dry(scene: Scene, walked: Walked, found: DryWay) -> dict[str, Any]:
    """Say which way never runs dry, and what it costs."""
    told: dict[str, Any] = {
        "fastest_runs_dry": found.needed,
        "exists": found.found and found.safe,
        "differs": found.walked is not None,
        "need_ml_h": found.rate_ml_h,
    }
    if found.walked is not None:
        other = found.walked
        clock_s = float(other.outcome.totals[Total.CLOCK_S].max())
        extra_s = clock_s - float(walked.outcome.totals[Total.CLOCK_S].max())
        told |= {
            "distance_km": other.way.course.length_m / 1000.0,
            "elapsed_h": clock_s / 3600.0,
            "extra_min": extra_s / 60.0,
            "short_l": float(other.outcome.worst_short_ml.sum()) / 1000.0,
            "places": [label_of(scene, place) for place in found.places],
        }
    return told
