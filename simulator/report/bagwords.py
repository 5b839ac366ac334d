"""A packed bag in words: one wording for the terminal and for paper."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import TYPE_CHECKING, Final, Protocol

from simulator.units import UNKNOWN, Units, duration, energy

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from simulator.questions.pack import Packed
    from simulator.questions.pack_changes import Change

GRAMS_PER_OUNCE: Final = 28.349523125
"""Exact (international avoirdupois ounce)."""

G_PER_KG: Final = 1000.0

STEP_UNITS: Final = {"volume": "ml", "mass": "g"}
"""What a step of each limit is counted in; money has no unit here."""


class Demand(Protocol):
    """What the walk asks; see `simulator.bag.demand`."""

    @property
    def label(self) -> str:
        """Name for people."""

    @property
    def unit(self) -> str:
        """Unit of the need."""

    @property
    def need(self) -> float:
        """How much."""


class Balance(Protocol):
    """A demand and what the list has for it; see `simulator.bag.balance`."""

    @property
    def demand(self) -> Demand:
        """What is asked."""

    @property
    def have(self) -> float:
        """What the list gives."""

    @property
    def short(self) -> float:
        """What is missing."""

    @property
    def begins_h(self) -> float:
        """From when on."""

    @property
    def unknown(self) -> tuple[str, ...]:
        """Items that leave it open."""


def amount(value: float, unit: str, units: Units) -> str:
    """Say an amount of what a walk asks for.

    Parameters
    ----------
    value : float
        How much [`unit`].
    unit : str
        ``ml``, ``h``, ``kcal``, ``clo``, ``Wh``, ``packs`` or ``g``.
    units : Units
        Metric or US customary.

    Returns
    -------
    str
        Number and unit, or ``unknown``.

    Examples
    --------
    >>> amount(1240.0, "ml", Units("metric")), amount(0.354, "clo", Units("metric"))
    ('1.2 L', '0.4 clo')
    """
    if not math.isfinite(value):
        return UNKNOWN
    said = {"ml": units.volume, "h": duration, "kcal": energy}
    if unit in said:
        return said[unit](value)
    if unit == "g":
        return grams(value, units)
    if unit == "packs":
        return f"{value:.0f}"
    return f"{value:.1f} {unit}"


def grams(mass_g: float, units: Units) -> str:
    """Say a small mass.

    Parameters
    ----------
    mass_g : float
        Mass [g].
    units : Units
        Metric or US customary.

    Returns
    -------
    str
        Number and unit, or ``unknown``.
    """
    if not math.isfinite(mass_g):
        return UNKNOWN
    if abs(mass_g) >= G_PER_KG:
        return units.mass(mass_g / G_PER_KG)
    return f"{mass_g / GRAMS_PER_OUNCE:.1f} oz" if units.us else f"{mass_g:.0f} g"


def money(price: float) -> str:
    """Say a price in the list's own currency.

    Parameters
    ----------
    price : float
        Price [currency of the list].

    Returns
    -------
    str
        A number without a currency, or ``unknown``.
    """
    return f"{price:.2f}" if math.isfinite(price) else UNKNOWN


def counted(pairs: Iterable[tuple[str, int]]) -> str:
    """Say items and their pieces.

    Parameters
    ----------
    pairs : iterable of (str, int)
        Names and pieces.

    Returns
    -------
    str
        E.g. ``2 oat bar, 1 whistle``.
    """
    return ", ".join(f"{count} {name}" for name, count in pairs)


def headline(short: int, missing: Sequence[str]) -> str:
    """Say in one sentence how a bag does.

    Parameters
    ----------
    short : int
        How many demands of the walk are not met.
    missing : sequence of str
        Purposes that nothing is there for.

    Returns
    -------
    str
        One sentence.
    """
    if short:
        return f"{short} thing{' falls' if short == 1 else 's fall'} short on this walk."
    if missing:
        return f"Nothing falls short, but there is nothing for: {', '.join(missing)}."
    return "The bag holds what this walk asks for."


def when(hours: float, packed: Packed) -> str:
    """Say an hour of the walk as a clock time.

    Parameters
    ----------
    hours : float
        Hours after departure [h].
    packed : Packed
        The bag, judged.

    Returns
    -------
    str
        E.g. ``21:30, after 5 h 00 min``; by the clock at the start.
    """
    if not math.isfinite(hours):
        return UNKNOWN
    clock = packed.plan.trip.depart + timedelta(hours=hours)
    return f"{clock:%H:%M}, after {duration(hours)}"


def shortage(one: Balance, packed: Packed, units: Units) -> str:
    """Say what falls short.

    Parameters
    ----------
    one : Balance
        A demand that is not met.
    packed : Packed
        The bag, judged.
    units : Units
        Metric or US customary.

    Returns
    -------
    str
        E.g. ``Light: 2 h 00 min missing of 6 h 00 min, from 21:30, after 5 h 00 min``.
    """
    unit = one.demand.unit
    label = one.demand.label
    unknown = f"; unknown: {', '.join(one.unknown)}" if one.unknown else ""
    return (
        f"{label[0].upper()}{label[1:]}: {amount(one.short, unit, units)} missing of "
        f"{amount(one.demand.need, unit, units)}, from {when(one.begins_h, packed)}{unknown}"
    )


def change(one: Change, units: Units) -> str:
    """Say what a change does.

    Parameters
    ----------
    one : Change
        A change that was tried.
    units : Units
        Metric or US customary.

    Returns
    -------
    str
        E.g. ``Add head torch: light 2 h 00 min to 0 min missing; costs 18.00, 80 g``.
    """
    before, after = (amount(value, one.unit, units) for value in (one.before, one.after))
    missing = "" if one.target == "time on the way" else " missing"
    parts = [f"{one.what[0].upper()}{one.what[1:]}: {one.target} {before} to {after}{missing}"]
    if one.price:
        parts.append(f"costs {money(one.price)}")
    if one.mass_g:
        parts.append(f"{grams(one.mass_g, units)} {'more' if one.mass_g > 0 else 'in all'}")
    if abs(one.later_min) >= 1.0:
        word = "longer" if one.later_min > 0 else "shorter"
        parts.append(f"{duration(abs(one.later_min) / 60.0)} {word} on the way")
    return ", ".join(parts)


def limits_that_bind(packed: Packed, units: Units) -> list[str]:
    """Say what a little more of each limit would bring.

    Parameters
    ----------
    packed : Packed
        The bag, judged, with a choice.
    units : Units
        Metric or US customary.

    Returns
    -------
    list of str
        One sentence each; one that says so when nothing binds.
    """
    if packed.choice is None:
        return []
    said = []
    for one in packed.choice.more:
        step = (
            f"{one.step:g}"
            if one.limit == "budget"
            else amount(one.step, STEP_UNITS[one.limit], units)
        )
        names = {"budget": "money", "volume": "room", "mass": "mass"}
        text = f"{step} more {names[one.limit]} would take in: {counted(one.takes)}"
        text += f"; and leave out: {counted(one.leaves)}" if one.leaves else ""
        said.append(f"{text} (better in {one.improves}).")
    return said or ["No limit binds: more money, room or mass would bring nothing."]
