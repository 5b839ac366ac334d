"""What a bag may be made of: what is owned and what can be bought, as one table to choose from."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from simulator.bag.catalogue import Catalogue
from simulator.bag.items import Items, items_from
from simulator.bag.lists import joined, rows_of
from simulator.bag.programme import Limit
from simulator.bag.sharing import SHARED, pieces

OWNED_VALUE: Final = 4.0
"""Comfort, 0 to 10, of all pieces of an item that a person has chosen to own; a judgement."""

ALIKE: Final = tuple(
    re.compile(words, flags=re.IGNORECASE)
    for words in (
        r"\bpower ?bank",
        r"\bmap\b",
        r"\bfirst-aid (?:pouch|kit|set)",
        r"\b(?:torch|lamp)\b",
        r"\b(?:filter|tablets)\b",
        r"\b(?:multi-?tool|knife)\b",
        r"\b(?:rain jacket|poncho)\b",
        r"\bgloves\b",
        r"\bsocks\b",
    )
)
"""Names of things of which one (for each walker, where each needs one) is enough: one of the
comfort tier is not bought beside it. The basic tier is free: it is bought only when asked for."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a bag may take in all; None is no limit.

    Attributes
    ----------
    budget : float or None
        Money for what is bought [currency of the list].
    volume_ml : float or None
        Usable room [ml].
    mass_g : float or None
        Mass as packed [g].
    """

    budget: float | None = None
    volume_ml: float | None = None
    mass_g: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Owned items, then the catalogue's; K rows.

    Attributes
    ----------
    items : Items
        One piece of each; `quantity` means nothing here.
    upper : numpy.ndarray
        Most pieces that may be taken, int64 (K).
    value : numpy.ndarray
        Comfort of a piece, float64 (K).
    price : numpy.ndarray
        Price of a piece, 0 for what is owned, float64 (K) [currency of the list].
    owned : int
        How many rows, from the first, are owned.
    refused : tuple of str
        One sentence for each item that may not be taken.
    """

    items: Items
    upper: NDArray[np.int64]
    value: NDArray[np.float64]
    price: NDArray[np.float64]
    owned: int
    refused: tuple[str, ...]


def candidates(
    owned: Items | None, catalogue: Catalogue, limits: Limits, *, walkers: int, on: date | None
) -> Candidates:
    """Put owned and bought items into one table; those that cannot be judged get no pieces.

    Parameters
    ----------
    owned : Items or None
        What is there already.
    catalogue : Catalogue
        What can be bought.
    limits : Limits
        Which cells must be known.
    walkers : int
        How many share the bag.
    on : date or None
        Owned items past their last good day by then get no pieces.

    Returns
    -------
    Candidates
        Owned items first.
    """
    have = _whole_pieces(items_from([]) if owned is None else owned)
    items = joined(have, catalogue.items)
    each = [1 if SHARED[purpose] else walkers for purpose in catalogue.items.purpose]
    there = _counts(have)
    wanted = catalogue.most * each - [there.get(_plain(name), 0) for name in catalogue.items.item]
    upper = np.concatenate([have.quantity.astype(np.int64), np.maximum(wanted, 0)])
    own = np.arange(len(items)) < len(have)
    price = np.where(own, 0.0, items.price)
    refused: list[str] = []
    for row, name in enumerate(items.item):
        why = _refusal(items, row, price=float(price[row]), limits=limits, on=on)
        if why and upper[row] > 0:
            refused.append(f"{name}: {why}")
            upper[row] = 0
    value = np.concatenate([OWNED_VALUE / np.maximum(have.quantity, 1.0), catalogue.value])
    return Candidates(items, upper, value, np.nan_to_num(price), len(have), tuple(refused))


def _plain(name: str) -> str:
    """Give a name with capitals and spaces apart."""
    return " ".join(name.casefold().split())


def _counts(items: Items) -> Counter[str]:
    """Count the pieces of each name; what is owned is not bought again."""
    counts: Counter[str] = Counter()
    for name, count in zip(items.item, items.quantity.tolist(), strict=True):
        counts[_plain(name)] += int(count)
    return counts


def _whole_pieces(items: Items) -> Items:
    """Make an item of half a piece one piece of half the size, so that pieces can be counted."""
    rows = []
    for row in rows_of(items):
        count = float(str(row["quantity"]))
        if not count.is_integer():
            scaled = {
                name: cell * count
                for name, cell in row.items()
                if isinstance(cell, float) and name != "quantity"
            }
            row = row | scaled | {"quantity": 1.0}  # noqa: PLW2901 - the row, made countable
        rows.append(row)
    return items_from(rows, source=items.source)


def _refusal(items: Items, row: int, *, price: float, limits: Limits, on: date | None) -> str:
    """Say why an item is not to be considered; nothing when it is."""
    expires = items.expires[row]
    if on is not None and expires is not None and expires < on:
        return f"past its last good day, {expires}"
    unknown = [
        name
        for name, cell, limit in (
            ("price", price, limits.budget),
            ("volume", items.volume_ml[row], limits.volume_ml),
            ("mass", items.mass_g[row], limits.mass_g),
        )
        if limit is not None and np.isnan(cell)
    ]
    return f"not chosen, its {' and '.join(unknown)} is unknown" if unknown else ""


def one_of_a_kind(table: Candidates, walkers: int) -> list[Limit]:
    """Keep comforts from being bought beside what is alike and owned, or beside each other.

    Parameters
    ----------
    table : Candidates
        What can be taken.
    walkers : int
        How many share the bag.

    Returns
    -------
    list of Limit
        One for each kind and purpose that could be heaped up.
    """
    own = np.arange(len(table.items)) < table.owned
    comfort = np.array([tier == "comfort" for tier in table.items.tier], dtype=np.bool_)
    found = []
    for kind in ALIKE:
        alike = np.array([bool(kind.search(name)) for name in table.items.item], dtype=np.bool_)
        bought = alike & comfort & ~own
        for purpose in sorted({table.items.purpose[row] for row in np.flatnonzero(bought)}):
            same = np.array([one == purpose for one in table.items.purpose], dtype=np.bool_)
            there = int(table.upper[alike & own & same].sum())
            enough = max(pieces(purpose, walkers) - there, 0)
            found.append(Limit(kind.pattern, (bought & same).astype(np.float64), float(enough)))
    return found
