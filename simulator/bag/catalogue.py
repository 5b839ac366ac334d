"""The catalogue: generic things that a bag may hold, with what they cost, weigh and give.

A catalogue has the columns of bag.csv for one piece, and those of `ALSO`.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.bag.items import Items, guess_kinds, items_from, read_rows, read_written
from simulator.errors import InputError, gathered

ALSO = {
    "most": 100.0,
    "value": 10.0,
    "lasts_months": 600.0,
    "mass_low_g": 50_000.0,
    "mass_high_g": 50_000.0,
    "price_low": 10_000_000.0,
    "price_high": 10_000_000.0,
}
"""Columns that a catalogue has beside those of bag.csv, with the most that each may hold."""

FILE_NAME = "catalogue.csv"


@dataclass(frozen=True, slots=True, eq=False)
class Catalogue:
    """What can be bought, one row an item.

    Attributes
    ----------
    items : Items
        One piece of each; `quantity` is 1 throughout.
    most : numpy.ndarray
        Pieces that make sense, for each walker or for the party (`simulator.bag.fit`),
        int64 (K).
    value : numpy.ndarray
        Comfort that a piece gives, 0 to 10, float64 (K); a judgement.
    lasts_months : numpy.ndarray
        How long it keeps when new [months]; nan where it does not go off.
    mass_low_g, mass_high_g : numpy.ndarray
        Range of mass on sale [g]; nan is unknown.
    price_low, price_high : numpy.ndarray
        Range of price [currency of the list]; nan is unknown.
    """

    items: Items
    most: NDArray[np.int64]
    value: NDArray[np.float64]
    lasts_months: NDArray[np.float64]
    mass_low_g: NDArray[np.float64]
    mass_high_g: NDArray[np.float64]
    price_low: NDArray[np.float64]
    price_high: NDArray[np.float64]


def read_catalogue(path: str | Path | None = None) -> Catalogue:
    """Read a catalogue.

    Parameters
    ----------
    path : str or pathlib.Path, optional
        CSV with the columns of bag.csv and any of `ALSO`; the packaged one when left out, whose
        items, prices and masses are invented.

    Returns
    -------
    Catalogue
        In the order of the file.

    Raises
    ------
    InputError
        One line for each fault: file, line, column, what was found, what is allowed.
    """
    source = packaged_catalogue() if path is None else Path(path)
    text, _notes = read_written(source, what="a catalogue of items in CSV")
    return parse_catalogue(text, source=FILE_NAME if path is None else str(source))


def packaged_catalogue() -> Path:
    """Find the packaged catalogue: in the installed package, or in a checkout."""
    with as_file(files("simulator")) as here:
        for found in (here / f"_{FILE_NAME}", here.parent / "data" / FILE_NAME):
            if found.is_file():
                return found
        problem = f"found no {FILE_NAME} in the package or in data/; install the package again"
        raise InputError(str(here), problem)


def parse_catalogue(text: str, *, source: str = FILE_NAME) -> Catalogue:
    """Read a catalogue from text; see `read_catalogue`."""
    rows, notes = read_rows(text, source, also=ALSO)
    notes = (*notes, *guess_kinds(rows, source))
    faults = [
        (f"{source}: {row['item']}", problem) for row in rows if (problem := _row_fault(row)) != ""
    ]
    if faults:
        raise gathered(faults)

    def numbers(name: str, missing: float = np.nan) -> NDArray[np.float64]:
        found = np.array([row.get(name, np.nan) for row in rows], dtype=np.float64)
        return np.where(np.isnan(found), missing, found)

    return Catalogue(
        items=items_from(rows, source=source, notes=notes),
        most=numbers("most", 1.0).astype(np.int64),
        value=numbers("value", 0.0),
        lasts_months=numbers("lasts_months"),
        mass_low_g=numbers("mass_low_g"),
        mass_high_g=numbers("mass_high_g"),
        price_low=numbers("price_low"),
        price_high=numbers("price_high"),
    )


def _row_fault(row: dict[str, object]) -> str:
    """Find what is wrong with a row although each cell alone is right."""
    if row["quantity"] != 1.0:
        return f"found the quantity {row['quantity']:g}; a catalogue describes 1 piece"
    for name, low, high in (
        ("mass_g", "mass_low_g", "mass_high_g"),
        ("price", "price_low", "price_high"),
    ):
        least, middle, most = (row.get(key, np.nan) for key in (low, name, high))
        cells = [cell for cell in (least, middle, most) if isinstance(cell, float)]
        known = [cell for cell in cells if not np.isnan(cell)]
        if known != sorted(known):
            return f"found {name} {middle} outside {least} to {most}; write low, middle, high"
    return ""
