"""What a walk asks of the bag, as amounts.

A walk comes in as plain running totals over the clock. Nothing here knows streets or bodies.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

BLISTER_FROM_KM: Final = 8.0
"""Distance from which untrained feet in everyday shoes want blister care [km]; common practice
puts the first hot spots at one to two hours of walking."""

BLISTER_WORDS: Final = re.compile(
    r"\b(?:blister|plaster|moleskin|foot tape|sports tape|zinc tape)", flags=re.IGNORECASE
)
"""Name of an item that cares for blisters."""

PHONE_W: Final = 1.2
"""Power a telephone draws on the way, screen on for a look now and then, searching for weak
networks [W]; assumed."""

PHONE_LEFT_WH: Final = 6.0
"""Charge left in a telephone at the end of a working day [Wh]: two fifths of 15 Wh; assumed. One
telephone for the party is kept alive."""


@dataclass(frozen=True, slots=True)
class Cold:
    """A time at which the clothes worn are too thin.

    Attributes
    ----------
    key : str
        ``warmth_walking`` or ``warmth_halt``.
    at_h : float
        When it begins, hours after departure [h].
    more_clo : float
        Insulation that each walker needs beyond what is worn [clo]; nan where no model answers.
    note : str
        What it was reckoned from, in words.
    """

    key: str
    at_h: float
    more_clo: float
    note: str


@dataclass(frozen=True, slots=True, eq=False)
class Journey:
    """The party's walk as running totals; E instants, the first is the departure.

    Attributes
    ----------
    walkers : int
        How many walk.
    clock_h : numpy.ndarray
        Hours since departure, not decreasing, from 0 [h].
    lost_ml : numpy.ndarray
        Water lost by the party so far [ml].
    energy_kcal : numpy.ndarray
        Energy used by the party so far [kcal].
    unlit_h : numpy.ndarray
        Time on unlit ways in the dark so far [h].
    distance_km : numpy.ndarray
        Way made so far [km].
    safe_h : tuple of float
        When places are passed whose water needs no treatment and can be relied on [h].
    raw_h : tuple of float
        When places are passed whose water must be treated first [h].
    cold : tuple of Cold
        Times at which more warmth is wanted.
    store_kcal : float
        Energy that a walker's own body gives before lack of food is felt [kcal].
    """

    walkers: int
    clock_h: NDArray[np.float64]
    lost_ml: NDArray[np.float64]
    energy_kcal: NDArray[np.float64]
    unlit_h: NDArray[np.float64]
    distance_km: NDArray[np.float64]
    safe_h: tuple[float, ...]
    raw_h: tuple[float, ...]
    cold: tuple[Cold, ...]
    store_kcal: float

    @property
    def elapsed_h(self) -> float:
        """Departure to arrival [h]."""
        return float(self.clock_h[-1])


@dataclass(frozen=True, slots=True)
class Demand:
    """One thing that the walk asks of the bag.

    Attributes
    ----------
    key : str
        Name for programs, e.g. ``water_capacity``.
    label : str
        Name for people.
    unit : str
        Unit of `need`.
    gives : tuple of str
        What counts toward it: columns of the list, or ``blister_care``.
    need : float
        How much, for the whole party [`unit`]; nan is unknown.
    note : str
        What it rests on.
    """

    key: str
    label: str
    unit: str
    gives: tuple[str, ...]
    need: float
    note: str


def demands(journey: Journey, *, needed: Mapping[str, float] | None = None) -> tuple[Demand, ...]:
    """List what a walk asks of the bag, what stops a walker soonest first.

    Parameters
    ----------
    journey : Journey
        The walk.
    needed : mapping of str to float, optional
        Amounts by key that take the place of the walk's own, e.g. what nine walks of ten need.

    Returns
    -------
    tuple of Demand
        With a need of 0 where nothing is asked.

    Raises
    ------
    KeyError
        When `needed` names no demand.
    """
    found = tuple(_demands(journey))
    known = {demand.key for demand in found}
    unknown = [key for key in needed or {} if key not in known]
    if unknown:
        msg = f"no demand is called {unknown[0]!r}; allowed: {', '.join(sorted(known))}"
        raise KeyError(msg)
    return tuple(replace(one, need=(needed or {}).get(one.key, one.need)) for one in found)


def _demands(journey: Journey) -> Iterator[Demand]:
    """Work out each demand."""
    party = journey.walkers
    yield from _water_demands(journey)
    for cold in journey.cold:
        label = "warmth at a halt" if cold.key == "warmth_halt" else "warmth on the move"
        yield Demand(cold.key, label, "clo", ("warmth_clo",), party * cold.more_clo, cold.note)
    unlit_h = party * float(journey.unlit_h[-1])
    note = "a lamp for each walker on unlit ways in the dark"
    yield Demand("light", "light", "h", ("light_h",), unlit_h, note)
    over_kcal = max(float(journey.energy_kcal[-1]) - party * journey.store_kcal, 0.0)
    note = f"what is used beyond {journey.store_kcal:.0f} kcal of a body's own (from memory)"
    yield Demand("energy", "food", "kcal", ("energy_kcal",), over_kcal, note)
    far = float(float(journey.distance_km[-1]) >= BLISTER_FROM_KM)
    note = f"one pack for the party from {BLISTER_FROM_KM:g} km on (common practice)"
    yield Demand("blister_care", "blister care", "packs", ("blister_care",), far, note)
    used_wh = max(PHONE_W * journey.elapsed_h - PHONE_LEFT_WH, 0.0)
    note = f"{PHONE_W:g} W for one phone that starts with {PHONE_LEFT_WH:g} Wh (assumed)"
    yield Demand("phone_power", "power for a phone", "Wh", ("power_wh",), used_wh, note)


def _water_demands(journey: Journey) -> Iterator[Demand]:
    """Work out what bottles and treatment must do."""
    water = water_stretches(journey)
    relied = f"{len(journey.safe_h)} safe and {len(journey.raw_h)} raw water places relied on"
    note = f"lasts to the first water; {relied}"
    yield Demand("water_start", "water at the start", "ml", ("water_ml",), water.first_ml, note)
    note = f"bottles filled at every water place; {relied}"
    yield Demand("water_capacity", "room for water", "ml", ("holds_ml",), water.longest_ml, note)
    label, note = "treatment or larger bottles", "where raw water lies between safe places"
    for number, (first, later, need_ml) in enumerate(water.mixed):
        key = f"treatment_{number}" if number else "treatment"
        gives = ("treats_ml", *("water_ml",) * first, *("holds_ml",) * later)
        yield Demand(key, label, "ml", gives, need_ml, note)


@dataclass(frozen=True, slots=True)
class Stretches:
    """Water lost between the places that give it.

    Attributes
    ----------
    first_ml : float
        Up to the first place of any kind, or home [ml].
    longest_ml : float
        Between two places of any kind, or the last and home: the most [ml].
    mixed : tuple of (int, int, float)
        For sets of stretches between safe places that have raw water on them: whether the one
        from the start is among them, how many others, and their loss together [ml].
    """

    first_ml: float
    longest_ml: float
    mixed: tuple[tuple[int, int, float], ...]


def water_stretches(journey: Journey) -> Stretches:
    """Measure the stretches between water places.

    Parameters
    ----------
    journey : Journey
        The walk.

    Returns
    -------
    Stretches
        What bottles and treatment must cover. Treated water adds to the bottle of its stretch,
        so any set of such stretches must be covered by its bottles and the treatment together.
    """
    home_h = journey.elapsed_h
    everywhere = sorted({*journey.safe_h, *journey.raw_h})
    losses = _losses(journey, [0.0, *everywhere, home_h])
    safe = [0.0, *sorted(set(journey.safe_h)), home_h]
    raw = [
        loss if any(begin <= at <= end for at in journey.raw_h) else 0.0
        for begin, end, loss in zip(safe[:-1], safe[1:], _losses(journey, safe), strict=True)
    ]
    later = sorted((loss for loss in raw[1:] if loss > 0.0), reverse=True)
    mixed = [
        (first, count, first * raw[0] + sum(later[:count]))
        for first in ((0, 1) if raw[0] > 0.0 else (0,))
        for count in range(len(later) + 1)
        if first or count
    ]
    return Stretches(losses[0], max(losses[1:], default=0.0), tuple(mixed))


def _losses(journey: Journey, edges: Sequence[float]) -> list[float]:
    """Water lost between instants [ml]."""
    return np.diff(np.interp(edges, journey.clock_h, journey.lost_ml)).tolist()
