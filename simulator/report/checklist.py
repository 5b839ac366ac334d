"""What the bag must hold, as a list to tick off while packing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from simulator.report.subject import Walk
from simulator.report.words import clean
from simulator.units import number

ORDER = (
    *("shelter", "warmth", "water", "food", "first aid", "light"),
    *("signal", "power", "tool", "hygiene", "paper", "other"),
)
"""Purposes in the order of the checklist: what is needed first lies on top."""


@dataclass(frozen=True, slots=True)
class Tick:
    """One line to tick.

    Attributes
    ----------
    item, expires, caution : str
        How many of what, its last good day (ISO 8601), the person's own note; perhaps empty.
    """

    item: str
    expires: str
    caution: str


@dataclass(frozen=True, slots=True)
class Purpose:
    """What serves one purpose.

    Attributes
    ----------
    name : str
        The purpose.
    ticks : tuple of Tick
        Its items, as listed.
    """

    name: str
    ticks: tuple[Tick, ...]


def bag_list(walk: Walk) -> tuple[Purpose, ...]:
    """Put the bag's list in order.

    Parameters
    ----------
    walk : Walk
        The walk.

    Returns
    -------
    tuple of Purpose
        Empty when the plan names no list.
    """
    items = walk.items
    if items is None:
        return ()
    found: dict[str, list[Tick]] = {}
    rows = zip(items.item, items.purpose, items.quantity, items.expires, items.caution, strict=True)
    for item, purpose, quantity, expires, caution in rows:
        count = number(quantity)
        told = (
            f"{count:g} \N{MULTIPLICATION SIGN} " if math.isfinite(count) and count != 1.0 else ""
        )
        found.setdefault(str(purpose), []).append(
            Tick(
                item=told + clean(item, longest=60),
                expires="" if expires is None else expires.isoformat(),
                caution=clean(caution, longest=120),
            )
        )
    order = [*(name for name in ORDER if name in found), *sorted(set(found) - set(ORDER))]
    return tuple(Purpose(name, tuple(found[name])) for name in order)
