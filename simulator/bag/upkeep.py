"""What to replace in the bag, and when to look through it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from simulator.bag.items import Items

AHEAD_DAYS: Final = 30
"""How long before its last good day an item is to be replaced [days]; common practice."""

LOOKS: Final = ((3, 1), (6, 1), (9, 1), (12, 1))
"""Month and day of the four looks, every year at the turn of the seasons; common practice."""

WATER_MONTHS: Final = (3, 9)
"""Months of the looks at which stored water is changed: every half year, public household
guidance (from memory)."""

SEASON: Final = (
    "Swap clothes, sun and rain things for the season; make the plan again for its light and "
    "weather."
)


@dataclass(frozen=True, slots=True)
class Task:
    """Something to do on a day.

    Attributes
    ----------
    day : date
        When.
    kind : str
        ``replace`` or ``look``.
    what : str
        In a few words.
    why : str
        In a sentence.
    items : tuple of str
        Items it is about.
    yearly : bool
        Whether it is to be done on that day of every year.
    """

    day: date
    kind: str
    what: str
    why: str
    items: tuple[str, ...]
    yearly: bool = False


def upkeep(items: Items, *, on: date) -> tuple[Task, ...]:
    """Set out what to do to keep a bag good.

    Parameters
    ----------
    items : Items
        The list.
    on : date
        The day to begin at.

    Returns
    -------
    tuple of Task
        In order of day; what is past its last good day, or nearly, comes on `on` itself.
    """
    tasks = [*_replacements(items, on), *_looks(items, on)]
    return tuple(sorted(tasks, key=lambda task: (task.day, task.kind != "replace", task.what)))


def _replacements(items: Items, on: date) -> list[Task]:
    """One task for each last good day."""
    by_day: dict[date, list[str]] = {}
    for name, expires, count in zip(items.item, items.expires, items.quantity, strict=True):
        if expires is not None and count > 0:
            by_day.setdefault(expires, []).append(name)
    tasks = []
    for expires, names in by_day.items():
        late = expires < on
        why = f"Last good day: {expires}." + (" It has passed." if late else "")
        day = max(on, expires - timedelta(days=AHEAD_DAYS))
        tasks.append(Task(day, "replace", f"replace {', '.join(names)}", why, tuple(names)))
    return tasks


def _looks(items: Items, on: date) -> list[Task]:
    """Set out the four looks, each from its next day on every year."""
    there = [name for name, count in zip(items.item, items.quantity, strict=True) if count > 0]
    lit, full = items.is_a("lamp", "cells", "radio"), items.is_a("power bank")
    cells = tuple(name for name, one in zip(items.item, lit, strict=True) if one)
    charged = tuple(name for name, one in zip(items.item, full, strict=True) if one)
    stored = tuple(
        name
        for name, water_ml, count in zip(items.item, items.water_ml, items.quantity, strict=True)
        if water_ml > 0 and count > 0
    )
    undated = tuple(
        name
        for name, purpose, expires in zip(items.item, items.purpose, items.expires, strict=True)
        if name in there and expires is None and purpose in {"food", "first aid"}
    )
    dated = sorted(
        (expires, name)
        for name, expires in zip(items.item, items.expires, strict=True)
        if name in there and expires is not None
    )
    days = ", ".join(f"{name} {expires}" for expires, name in dated)
    tasks = []
    for month, number in LOOKS:
        day = date(on.year, month, number)
        day = day if day >= on else date(on.year + 1, month, number)
        change = stored if month in WATER_MONTHS else ()
        steps = [SEASON]
        steps += [f"Switch on and look for leaks: {', '.join(cells)}."] if cells else []
        steps += [f"Charge: {', '.join(charged)}."] if charged else []
        steps += [f"Change the water: {', '.join(change)}."] if change else []
        steps += [f"Renew what ends before the next look: {days}."] if dated else []
        steps += [f"Read the label's date: {', '.join(undated)}."] if undated else []
        about = (*cells, *charged, *change, *(name for _, name in dated), *undated)
        about = tuple(dict.fromkeys(about))
        tasks.append(Task(day, "look", "look through the bag", " ".join(steps), about, yearly=True))
    return tasks
