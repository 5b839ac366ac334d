"""Lists made from lists: rows of a list, a list with other quantities, a list as bag.csv."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields

import numpy as np
from numpy.typing import ArrayLike

from simulator.bag.columns import COLUMNS, NUMBERS
from simulator.bag.items import Items, items_from
from simulator.files import csv_text


def rows_of(items: Items) -> list[dict[str, object]]:
    """Give a list as rows, the way `simulator.bag.items.items_from` takes them.

    Parameters
    ----------
    items : Items
        Any list.

    Returns
    -------
    list of dict
        One an item, by column name.
    """
    names = [field.name for field in fields(items) if field.name != "source"]
    columns = {name: getattr(items, name) for name in names}
    return [
        {
            name: float(column[row]) if name in NUMBERS else column[row]
            for name, column in columns.items()
        }
        for row in range(len(items))
    ]


def with_quantities(items: Items, quantity: ArrayLike) -> Items:
    """Change how many pieces of each item are there; items without any leave the list.

    Parameters
    ----------
    items : Items
        Any list.
    quantity : array_like
        Pieces, (K,).

    Returns
    -------
    Items
        The items with at least one piece.
    """
    counts = np.asarray(quantity, dtype=np.float64)
    rows = [
        row | {"quantity": float(count)}
        for row, count in zip(rows_of(items), counts, strict=True)
        if count > 0
    ]
    return items_from(rows, source=items.source)


def joined(*lists: Items) -> Items:
    """Put lists behind each other.

    Parameters
    ----------
    *lists : Items
        Any lists.

    Returns
    -------
    Items
        All rows, in order.
    """
    rows = [row for items in lists for row in rows_of(items)]
    return items_from(rows, source=lists[0].source if lists else "")


def items_csv(items: Items) -> str:
    """Write a list in the form of bag.csv.

    Parameters
    ----------
    items : Items
        Any list.

    Returns
    -------
    str
        CSV that `simulator.bag.items.parse_items` reads back to the same list; text that a
        spreadsheet would run as a formula has an apostrophe before it, which the reader drops.
    """
    return csv_text(COLUMNS, [[_cell(row, name) for name in COLUMNS] for row in rows_of(items)])


def _cell(row: Mapping[str, object], name: str) -> object:
    """Give a cell; whole numbers without a point, as a person writes them."""
    value = row[name]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value
