"""The columns of bag.csv: what may stand in each cell, and how it is read."""

from __future__ import annotations

import calendar
import csv
import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from simulator.faults import closest, gathered, shown
from simulator.files import FORMULA_STARTS

PURPOSES = (
    "shelter",
    "warmth",
    "water",
    "food",
    "first aid",
    "light",
    "signal",
    "power",
    "tool",
    "hygiene",
    "paper",
    "other",
)
"""What an item is for."""

TIERS = ("basic", "comfort")
"""Whether an item is needed, or nice to have."""

NUMBERS: Mapping[str, float] = {
    "quantity": 1_000,
    "mass_g": 50_000,
    "volume_ml": 200_000,
    "price": 10_000_000,
    "water_ml": 30_000,
    "holds_ml": 30_000,
    "treats_ml": 10_000_000,
    "energy_kcal": 50_000,
    "light_h": 10_000,
    "warmth_clo": 10,
    "power_wh": 2_000,
}
"""Columns of numbers with the most that one piece may have; assumed, to catch wrong units."""

REQUIRED = ("item", "purpose", "tier", "quantity")
"""Columns and cells that may not be missing or empty."""

COLUMNS = (
    "item", "purpose", "tier", "quantity", "mass_g", "volume_ml", "price", "expires", "water_ml",
    "holds_ml", "treats_ml", "energy_kcal", "light_h", "warmth_clo", "power_wh", "caution",
)  # fmt: skip
"""Every column, in the order of the file; all but those of `REQUIRED` may be left out."""

SEPARATORS = ",;\t"

WATER_G_PER_ML = 1.0
"""Density of water [g/ml], to catch a mass that leaves out the contents."""

MASS_TOLERANCE = 0.95
"""Share of its water's mass that an item must have at least; allows for rounding."""


def read_rows(
    text: str, source: str, *, also: Mapping[str, float] | None = None
) -> list[dict[str, object]]:
    """Read and check every cell of a list.

    Parameters
    ----------
    text : str
        The file's content.
    source : str
        Its name, for messages.
    also : mapping of str to float, optional
        More columns of numbers that may stand in it, with the most that each may hold.

    Returns
    -------
    list of dict
        One a line: text, float (nan unknown), date or None by column.

    Raises
    ------
    InputError
        One line for each fault: file, line, column, what was found, what is allowed.
    """
    faults: list[tuple[str, str]] = []
    numbers = {**NUMBERS, **(also or {})}
    separator, lines = _lines(text, source, faults)
    if not lines:
        where, needed = f"{source}: line 1", ",".join(REQUIRED)
        raise gathered(faults or [(where, f"found no column names; begin with {needed},…")])
    (number, header), *body = lines
    names = [cell.strip().lower() for cell in header]
    while names and not names[-1]:
        names.pop()
    faults += _header_faults(names, f"{source}: line {number}", (*COLUMNS, *(also or ())))
    if faults:
        raise gathered(faults)
    rows = []
    for line, cells in body:
        where = f"{source}: line {line}"
        if len(cells) > len(names) and any(cell.strip() for cell in cells[len(names) :]):
            problem = (
                f"found {len(cells)} cells, allowed: {len(names)} as in the first line; put text "
                f"that holds {shown(separator)} in double quotes"
            )
            faults.append((where, problem))
            continue
        padded = [*cells[: len(names)], *[""] * (len(names) - len(cells))]
        row, found = _row(dict(zip(names, padded, strict=True)), where, separator, numbers)
        rows.append(row)
        faults += found
    if faults:
        raise gathered(faults)
    return rows


def _lines(
    text: str, source: str, faults: list[tuple[str, str]]
) -> tuple[str, list[tuple[int, list[str]]]]:
    """Split the text into numbered lines of cells; notes and empty lines fall away."""
    first = next((t for t in text.splitlines() if t.strip() and not t.lstrip().startswith("#")), "")
    separator = max(SEPARATORS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    lines: list[tuple[int, list[str]]] = []
    start = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells) and not cells[0].lstrip().startswith("#"):
                lines.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as fault:
        problem = f"cannot be read as CSV ({fault}); check the double quotes"
        faults.append((f"{source}: line {start}", problem))
        return separator, []
    return separator, lines


def _header_faults(
    names: Sequence[str], where: str, allowed: Sequence[str]
) -> Iterator[tuple[str, str]]:
    """Find column names that are unknown, missing or there twice."""
    for position, name in enumerate(names):
        if name not in allowed:
            hint = closest(name, allowed)
            problem = f"found the column {shown(name)}; {hint}allowed: {', '.join(allowed)}"
            yield where, problem
        elif name in names[:position]:
            yield where, f"found the column {name!r} twice; keep one"
    missing = [name for name in REQUIRED if name not in names]
    if missing:
        problem = f"missing columns: {', '.join(missing)}; the first line names the columns"
        yield where, problem


def _row(
    cells: Mapping[str, str], where: str, separator: str, numbers: Mapping[str, float]
) -> tuple[dict[str, object], list[tuple[str, str]]]:
    """Read one line; every fault in it is found."""
    row: dict[str, object] = {}
    faults: list[tuple[str, str]] = []
    for name, cell in cells.items():
        try:
            row[name] = _value(name, cell.strip(), separator, numbers)
        except ValueError as fault:
            faults.append((f"{where}, column {name}", str(fault)))
    if not faults:
        faults += [(f"{where}, column mass_g", text) for text in _too_light(row)]
    return row, faults


def _value(name: str, cell: str, separator: str, numbers: Mapping[str, float]) -> object:
    """Read one cell by its column."""
    if not cell and name in REQUIRED:
        msg = "found an empty cell; write it"
        raise ValueError(msg)
    if name in numbers:
        return _number(name, cell, separator, numbers[name])
    if name == "expires":
        return _day(cell)
    if name in {"purpose", "tier"}:
        allowed = PURPOSES if name == "purpose" else TIERS
        word = " ".join(cell.lower().replace("_", " ").split())
        if word not in allowed:
            msg = f"found {shown(cell)}; {closest(cell, allowed)}allowed: {', '.join(allowed)}"
            raise ValueError(msg)
        return word
    if cell.startswith("'") and cell[1:].startswith(FORMULA_STARTS):
        cell = cell[1:]  # put there by `simulator.files.csv_safe`, for the spreadsheet
    return " ".join(cell.split())


def _number(name: str, cell: str, separator: str, most: float) -> float:
    """Read a number from 0; empty is unknown."""
    if not cell:
        return math.nan
    plain = cell.replace(",", ".") if separator != "," and cell.count(",") == 1 else cell
    allowed = f"allowed: a number from 0 to {most:.0f}"
    allowed += "" if name in REQUIRED else ", or an empty cell for unknown"
    if re.fullmatch(r"[-\u2212\u2013]\s*[\d.,]+", cell):
        msg = f"found {shown(cell)}; {allowed}; nothing is negative"
        raise ValueError(msg)
    if not re.fullmatch(r"\+?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?", plain):
        hint = "write only the number, without unit, sign of money or thousands separator"
        msg = f"found {shown(cell)}; {allowed}; {hint}"
        raise ValueError(msg)
    value = float(plain)
    if value > most:
        msg = f"found {shown(cell)}; {allowed}; check the unit in the column's name"
        raise ValueError(msg)
    return value


def _day(cell: str) -> date | None:
    """Read a day, or a month that counts to its end; empty is unknown or never."""
    if not cell:
        return None
    found = re.fullmatch(r"(\d{4})-(\d{1,2})(?:-(\d{1,2}))?", cell)
    if found:
        year, month = int(found.group(1)), int(found.group(2))
        try:
            last = calendar.monthrange(year, month)[1]
            return date(year, month, int(found.group(3) or last))
        except ValueError:
            pass
    msg = f"found {shown(cell)}; allowed: a day as 2027-06-30, a month as 2027-06, or empty"
    raise ValueError(msg)


def _too_light(row: Mapping[str, object]) -> Iterator[str]:
    """Find an item that weighs less than the water in it."""
    mass, water = row.get("mass_g"), row.get("water_ml")
    if not isinstance(mass, float) or not isinstance(water, float):
        return
    least = water * WATER_G_PER_ML
    if mass < least * MASS_TOLERANCE:
        yield (
            f"found {mass:g} g for an item with {water:g} ml of water, which alone is {least:g} g; "
            "write the mass as packed, water included"
        )
