"""What slowed the walk, in one line."""

from __future__ import annotations

from typing import Any

from simulator.report.words import clean
from simulator.units import number

NAMES = {
    "age_sex": "age and sex",
    "own_pace": "own pace",
    "limits": "limits of those who walk",
    "dark": "dark",
    "fatigue": "tiredness",
    "group": "waiting for each other",
}
"""Words for what a cost of pace is called in the summary, where they differ."""

LEAST_MIN = 0.5
"""What takes less is not told [min]."""


def slowing_words(summary: dict[str, Any]) -> str:
    """Say what made the walk slower or faster than the bare pace model.

    Parameters
    ----------
    summary : dict
        As in summary.json.

    Returns
    -------
    str
        Whole minutes, largest first; empty when nothing counts.
    """
    costs = {
        NAMES.get(name, clean(name)): number(cost)
        for name, cost in summary["time"].get("pace_cost_min", {}).items()
    }
    lost = {name: cost for name, cost in costs.items() if cost >= LEAST_MIN}
    won = {name: -cost for name, cost in costs.items() if cost <= -LEAST_MIN}
    bare = "than the bare pace model by:"
    if lost:
        faster = f"; faster by: {_listed(won)}" if won else ""
        return f"Slower {bare} {_listed(lost)}{faster}."
    return f"Faster {bare} {_listed(won)}." if won else ""


def _listed(minutes: dict[str, float]) -> str:
    """List minutes, largest first; the unit stands once."""
    ranked = sorted(minutes.items(), key=lambda item: -item[1])
    return ", ".join(
        f"{name} {_whole(cost)}{'' if place else ' min'}"
        for place, (name, cost) in enumerate(ranked)
    )


def _whole(cost_min: float) -> str:
    # Half a minute is told as one, never as none.
    return f"{max(round(cost_min), 1)}"
