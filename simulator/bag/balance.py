"""What a list has for each thing that a walk asks, and from which hour it falls short."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from simulator.bag.demand import (
    BLISTER_FROM_KM,
    BLISTER_WORDS,
    PHONE_LEFT_WH,
    PHONE_W,
    Demand,
    Journey,
    demands,
)
from simulator.bag.items import Items

WATER_MARGIN_ML: Final = 1.0
"""Shortages of water smaller than this are rounding [ml]."""


@dataclass(frozen=True, slots=True)
class Balance:
    """A demand and what the list has for it.

    Attributes
    ----------
    demand : Demand
        What is asked.
    have : float
        What the list gives [unit of the demand]; a lower bound when anything is unknown.
    unknown : tuple of str
        Items whose empty cell leaves `have` open.
    begins_h : float
        Hours after departure from which it falls short [h]; nan when it does not.
    """

    demand: Demand
    have: float
    unknown: tuple[str, ...]
    begins_h: float

    @property
    def short(self) -> float:
        """What is missing [unit of the demand]; nan where the need is unknown."""
        return float(np.maximum(self.demand.need - self.have, 0.0))

    @property
    def share(self) -> float:
        """What is missing over what is needed, 0 to 1; nan where the need is unknown."""
        return self.short / self.demand.need if self.demand.need > 0.0 else self.short


def supplies(items: Items, gives: Sequence[str]) -> NDArray[np.float64]:
    """Give what one piece of each item counts toward a demand.

    Parameters
    ----------
    items : Items
        The list.
    gives : sequence of str
        As `Demand.gives`; a name that stands twice counts twice.

    Returns
    -------
    numpy.ndarray
        In the demand's unit, float64 (K); unknown cells count as nothing.
    """
    given = np.zeros(len(items))
    for name in gives:
        if name == "blister_care":
            given += [bool(BLISTER_WORDS.search(item)) for item in items.item]
        elif name == "holds_ml":
            given += np.nan_to_num(
                np.where(np.isnan(items.holds_ml), items.water_ml, items.holds_ml)
            )
        else:
            given += np.nan_to_num(getattr(items, name))
    return given


def against(
    items: Items, journey: Journey, *, needed: Mapping[str, float] | None = None
) -> tuple[Balance, ...]:
    """Hold a list against a walk.

    Parameters
    ----------
    items : Items
        The list.
    journey : Journey
        The walk.
    needed : mapping of str to float, optional
        As for `demands`.

    Returns
    -------
    tuple of Balance
        One for each demand, in its order; of the sets of stretches with raw water only the one
        that lacks most.
    """
    found = []
    for demand in demands(journey, needed=needed):
        have = float(supplies(items, demand.gives) @ items.quantity)
        columns = [name for name in dict.fromkeys(demand.gives) if name != "blister_care"]
        unknown = [name for column in columns for name in items.total(column).unknown]
        begins = _begins_h(demand, have, items, journey) if _falls_short(demand, have) else np.nan
        found.append(Balance(demand, have, tuple(dict.fromkeys(unknown)), begins))
    mixed = [one for one in found if one.demand.key.startswith("treatment")]
    worst = max(mixed, key=lambda one: one.short, default=None)
    return tuple(one for one in found if one not in mixed or one is worst)


def _falls_short(demand: Demand, have: float) -> bool:
    """Say whether a demand is not met; rounding does not count."""
    return demand.need - have > (WATER_MARGIN_ML if demand.unit == "ml" else 1e-9)


def _begins_h(demand: Demand, have: float, items: Items, journey: Journey) -> float:
    """Find from when on a demand that is not met is felt [h]."""
    if demand.key.startswith("warmth"):
        return next(cold.at_h for cold in journey.cold if cold.key == demand.key)
    if demand.key.startswith("treatment"):
        return _untreated_h(journey, items)
    begins = _BEGINS[demand.key](journey, have)
    return min(begins, journey.elapsed_h)


def _crossing_h(clock_h: NDArray[np.float64], total: NDArray[np.float64], level: float) -> float:
    """Find when a running total first exceeds a level, or the end [h]."""
    past = np.flatnonzero(total > level)
    if past.size == 0:
        return float(clock_h[-1])
    after = int(past[0])
    if after == 0:
        return float(clock_h[0])
    before = after - 1
    share = (level - total[before]) / (total[after] - total[before])
    return float(clock_h[before] + max(share, 0.0) * (clock_h[after] - clock_h[before]))


def _dry_h(journey: Journey, places_h: Sequence[float], holds_ml: float) -> float:
    """Find when bottles filled at each place first run dry before the next [h]."""
    edges = [*places_h, journey.elapsed_h]
    for begin, end in pairwise(edges):
        filled, needed = np.interp([begin, end], journey.clock_h, journey.lost_ml)
        if needed - filled > holds_ml + WATER_MARGIN_ML:
            return _crossing_h(journey.clock_h, journey.lost_ml, float(filled) + holds_ml)
    return journey.elapsed_h


def _untreated_h(journey: Journey, items: Items) -> float:
    """Find when the water runs out where raw water lies but cannot be treated any more [h]."""
    starts_ml, holds_ml, left_ml = (
        float(supplies(items, (name,)) @ items.quantity)
        for name in ("water_ml", "holds_ml", "treats_ml")
    )
    safe = [0.0, *sorted(set(journey.safe_h)), journey.elapsed_h]
    for number, (begin, end) in enumerate(pairwise(safe)):
        bottle_ml = holds_ml if number else starts_ml
        filled, needed = np.interp([begin, end], journey.clock_h, journey.lost_ml)
        if not any(begin <= at <= end for at in journey.raw_h):
            continue
        missing_ml = max(float(needed - filled) - bottle_ml, 0.0)
        if missing_ml > left_ml + WATER_MARGIN_ML:
            return _crossing_h(
                journey.clock_h, journey.lost_ml, float(filled) + bottle_ml + left_ml
            )
        left_ml -= missing_ml
    return journey.elapsed_h


_BEGINS: Mapping[str, Callable[[Journey, float], float]] = {
    "water_start": lambda journey, have: _crossing_h(journey.clock_h, journey.lost_ml, have),
    "water_capacity": lambda journey, have: _dry_h(
        journey, sorted({*journey.safe_h, *journey.raw_h}), have
    ),
    "light": lambda journey, have: _crossing_h(
        journey.clock_h, journey.walkers * journey.unlit_h, have
    ),
    "energy": lambda journey, have: _crossing_h(
        journey.clock_h, journey.energy_kcal, journey.walkers * journey.store_kcal + have
    ),
    "blister_care": lambda journey, _have: _crossing_h(
        journey.clock_h, journey.distance_km, BLISTER_FROM_KM
    ),
    "phone_power": lambda _journey, have: (PHONE_LEFT_WH + have) / PHONE_W,
}
"""When each demand that is not met is first felt [h], by key."""
