"""A table that a person keeps in a spreadsheet, read whatever the spreadsheet's habits.

One reader serves lists of items and tables of people. What can be read in one way only is read;
what could mean two things is a fault, and all faults of a file are told at once.
"""

from __future__ import annotations

import calendar
import csv
import io
import math
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from typing import Final, Literal, NamedTuple

from simulator.errors import InputError, closest, gathered, shown
from simulator.files import FORMULA_STARTS

SEPARATORS: Final = ",;\t"

MOST_FAULTS: Final = 60
"""Faults of one file that are told; of more the number is said."""

HEADER_WITHIN: Final = 12
"""Lines among which the names of the columns are looked for, below a title."""

UNKNOWN: Final = frozenset({"", "?", "??", "???", "-", "\u2013", "\u2014", "n/a", "na", "unknown"})
"""What people write into a cell that they cannot fill."""

NEVER: Final = frozenset({"never", "none", "no date"})
"""What people write for a thing that does not go off."""

ERROR_CELL: Final = re.compile(
    r"#(?:ref|value|name|n/a|div/0|num|null|spill|calc)[!?]?", re.IGNORECASE
)
"""What a spreadsheet saves where its own sum failed."""

TOTAL_WORD: Final = re.compile(
    r"(?:grand |sub)?\W*(?:totals?|sum|summe|gesamt|somme|suma|totale|zusammen)\b", re.IGNORECASE
)
"""How the row below a list begins that sums it up, in a few languages."""

DIMENSIONS: Final[tuple[Mapping[str, float], ...]] = (
    {"g": 1.0, "gr": 1.0, "gram": 1.0, "grams": 1.0, "gramm": 1.0, "kg": 1000.0}
    | dict.fromkeys(("lb", "lbs"), 453.59237)
    | {"oz": 28.349523125},
    {"ml": 1.0, "cl": 10.0, "dl": 100.0, "ccm": 1.0, "cm3": 1.0, "cc": 1.0}
    | dict.fromkeys(("l", "lt", "litre", "litres", "liter", "liters"), 1000.0),
    {"kcal": 1.0, "kj": 1.0 / 4.184},
    dict.fromkeys(("h", "hr", "hrs", "hour", "hours", "std"), 1.0)
    | dict.fromkeys(("min", "mins", "minutes"), 1.0 / 60.0),
    {"wh": 1.0, "kwh": 1000.0},
    {"m": 1.0, "cm": 0.01},
    dict.fromkeys(("y", "yr", "yrs", "year", "years"), 1.0),
    {"clo": 1.0},
    dict.fromkeys(("pieces", "x", "\u00d7", "pc", "pcs", "piece", "stk", "st\u00fcck"), 1.0),
    {"months": 1.0, "month": 1.0},
    {"pct": 1.0, "%": 1.0},
)
"""Units that may stand for one another, each over the first. Pound and ounce are exact
(international avoirdupois); food labels count 4.184 kJ to the kcal. A fluid ounce is missing on
purpose: there are two."""

MONTHS: Final = {
    name.lower(): number for number, name in enumerate(calendar.month_abbr) if name
} | {name.lower(): number for number, name in enumerate(calendar.month_name) if name}

YEARS: Final = range(1970, 2200)
"""Years that a date on a list or of a walk may lie in."""

DAYS_SAID: Final = "a day as 2027-06-30 or 30.06.2027, a month as 2027-06 or 06/2027"

CellKind = Literal["text", "word", "number", "day", "moment"]


@dataclass(frozen=True, slots=True)
class Column:
    """What may stand in a column.

    Attributes
    ----------
    name : str
        As in the first line.
    kind : {"text", "word", "number", "day", "moment"}
        Text, one of `words`, a number, a day (a month counts to its end), a local clock time.
    unit : str
        Unit of the numbers; empty is none.
    low, high : float
        Least and most [`unit`].
    words : tuple of str
        Words that may stand there.
    several : bool
        Whether more than one of `words` may, joined by ``+``.
    needed : bool
        Whether neither the column nor a cell of it may be missing.
    money : bool
        Whether a sign or letters of a currency may stand beside the number.
    also : tuple of str
        Other names for the column.
    """

    name: str
    kind: CellKind = "text"
    unit: str = ""
    low: float = 0.0
    high: float = math.inf
    words: tuple[str, ...] = ()
    several: bool = False
    needed: bool = False
    money: bool = False
    also: tuple[str, ...] = ()

    @property
    def plain(self) -> str:
        """The name without its unit, e.g. ``mass`` of ``mass_g``."""
        ending = f"_{self.unit.lower()}"
        return self.name.removesuffix(ending) if self.unit else self.name


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table.

    Attributes
    ----------
    line : int
        Where it begins in the file, from 1.
    cells : mapping of str to object
        By column: str, float (nan unknown), date, datetime, or None.
    faults : tuple of (str, str)
        Column, empty for the whole line, and what is wrong there.
    written : tuple of str
        Its cells as they stand in the file.
    above : tuple of str
        Notes between the line before and this one, as they stand in the file.
    """

    line: int
    cells: Mapping[str, object]
    faults: tuple[tuple[str, str], ...] = ()
    written: tuple[str, ...] = ()
    above: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Heading:
    """The name of a column as a file writes it.

    Attributes
    ----------
    written : str
        As it stands there.
    column : str
        The column that it names; empty for one of the person's own, or an unknown one.
    unit : str
        Unit that a number alone has here, where that is another than the column's own.
    beside : str
        Unit that has to stand beside a number meant in the column's own; empty where none has to.
    """

    written: str
    column: str
    unit: str = ""
    beside: str = ""

    def told(self, written: str) -> str:
        """Give a cell of the file as it would stand under the column's own name."""
        plain = _cleaned(written)
        return f"{plain} {self.unit}" if self.unit and _is_number(plain) else plain

    def asked(self, cell: str) -> str:
        """Give a cell that is meant under the column's own name as it has to stand here."""
        return f"{cell} {self.beside}" if self.beside and _is_number(cell) else cell


def _is_number(cell: str) -> bool:
    return re.fullmatch(r"[^A-Za-z%]*\d[^A-Za-z%]*", cell) is not None


@dataclass(frozen=True, slots=True)
class Table:
    """A table as read.

    Attributes
    ----------
    source : str
        Its name, for messages.
    columns : tuple of str
        Columns that it has, in its order.
    rows : tuple of Row
        In order; totals and empty lines are not among them.
    faults : tuple of (str, str)
        Where and what: faults of the file and of its column names.
    notes : tuple of str
        What was read, or left, otherwise than by the letter.
    headings : tuple of Heading
        Every column of the file; none where it cannot be taken apart.
    separator : str
        Between the cells.
    above, below : tuple of str
        What stands above the names of the columns, and below the last row, line by line.
    """

    source: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    faults: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    headings: tuple[Heading, ...] = ()
    separator: str = ","
    above: tuple[str, ...] = ()
    below: tuple[str, ...] = ()

    def all_faults(self) -> list[tuple[str, str]]:
        """List every fault of file and rows, with where it is."""
        found = list(self.faults)
        for row in self.rows:
            found += [
                (place_of(self.source, row.line, column), text) for column, text in row.faults
            ]
        return found

    def require_sound(self) -> None:
        """Raise `InputError` with one line for each fault, if there is any."""
        faults = self.all_faults()
        if faults:
            raise told_together(faults, self.source)


@dataclass(frozen=True, slots=True)
class _Named:
    """A column of this file: what it is, how its numbers scale, whether its cells need a unit."""

    column: Column
    factor: float = 1.0
    bare: bool = False
    unit: str = ""


class _Line(NamedTuple):
    """A line of cells, its number in the file, and the notes above it."""

    number: int
    cells: list[str]
    above: list[str]


@dataclass(slots=True)
class _Habits:
    """How this file writes numbers and days, from its cells that can be read in one way only."""

    decimal: set[str] = field(default_factory=set)
    order: set[str] = field(default_factory=set)
    money: dict[str, int] = field(default_factory=dict)
    semicolons: bool = False


def place_of(source: str, line: int, column: str = "") -> str:
    """Say where in a table something is.

    Parameters
    ----------
    source : str
        Name of the table.
    line : int
        From 1.
    column : str
        Its name; empty for the whole line.

    Returns
    -------
    str
        For the beginning of a message.
    """
    return f"{source}: line {line}, column {column}" if column else f"{source}: line {line}"


def told_together(faults: Sequence[tuple[str, str]], source: str) -> InputError:
    """Join faults into one error; of very many the first are told, and how many more there are.

    Parameters
    ----------
    faults : sequence of (str, str)
        Where and what; at least one.
    source : str
        Name of the table.

    Returns
    -------
    InputError
        To be raised.
    """
    told = list(faults[:MOST_FAULTS])
    if len(faults) > MOST_FAULTS:
        told.append((source, f"and {len(faults) - MOST_FAULTS:,} more faults"))
    return gathered(told)


def decoded(raw: bytes, source: str, *, what: str) -> tuple[str, tuple[str, ...]]:
    """Turn a saved table into text.

    Parameters
    ----------
    raw : bytes
        The file.
    source : str
        Its name, for messages.
    what : str
        What it should be, for messages.

    Returns
    -------
    text : str
        Without a byte-order mark; lines end in line feeds.
    notes : tuple of str
        A word where the letters had to be guessed.

    Raises
    ------
    InputError
        When it is a workbook or no text.
    """
    if raw.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        problem = f"found a workbook or archive; {what} is needed: save or export it as CSV"
        raise InputError(source, problem)
    notes: tuple[str, ...] = ()
    try:
        if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            text = raw.decode("utf-16")
        else:
            text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        try:
            text = raw.decode("cp1252")
        except UnicodeDecodeError as fault:
            line = raw.count(b"\n", 0, fault.start) + 1
            problem = f"found bytes that are not UTF-8 text; save {what} again as UTF-8"
            raise InputError(place_of(source, line), problem) from None
        notes = (f"{source} is not UTF-8; its letters were read as Windows-1252, check them.",)
    if any(sign < " " and sign not in "\t\n\r\f" for sign in text):
        raise InputError(source, f"found binary data; {what} is needed")
    return text.replace("\r\n", "\n").replace("\r", "\n"), notes


def read_table(
    text: str,
    source: str,
    columns: Sequence[Column],
    *,
    totals: bool = False,
) -> Table:
    """Read a table of known columns.

    Parameters
    ----------
    text : str
        The file's content; any line ends.
    source : str
        Its name, for messages.
    columns : sequence of Column
        What may stand in it. A name may carry another unit (``volume_l``) or none (``mass``; its
        cells must then say theirs). Columns whose names begin with ``#`` are the person's own.
    totals : bool
        Whether a last line of sums is to be left out.

    Returns
    -------
    Table
        Rows with their faults; nothing is raised.
    """
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    separator = _separator(plain, columns)
    lines, below, broken = _lines(plain, separator)
    if broken:
        return Table(source, (), (), ((place_of(source, broken[0]), broken[1]),))
    place, notes = _header_place(lines, columns, source)
    if place is None:
        needed = separator.join(one.name for one in columns if one.needed)
        problem = f"found no column names; begin with {needed}{separator}\u2026"
        return Table(source, (), (), ((place_of(source, 1), problem),))
    number, header, _ = lines[place]
    named, faults = _named(header, place_of(source, number), columns)
    body = lines[place + 1 :]
    habits = _habits(body, named, separator)
    faults += _mixed_money(habits, place_of(source, number))
    rows: list[Row] = []
    dropped: list[str] = []
    for line, cells, above in body:
        row = _row(line, cells, header, named, habits, separator)
        row = replace(row, written=tuple(cells), above=(*dropped, *above))
        dropped = []
        if totals and _is_total(row, cells, named, rows):
            what = f"{place_of(source, line)} looks like a line of totals and was not counted."
            notes.append(what)
            dropped = list(row.above)
            continue
        rows.append(row)
    first = plain.split("\n")[: number - 1]
    return Table(
        source,
        tuple(one.column.name for one in named if one is not None),
        tuple(rows),
        tuple(faults),
        tuple(notes),
        headings=tuple(_heading(cell, one) for cell, one in zip(header, named, strict=True)),
        separator=separator,
        above=tuple(line for line in first if line.strip()),
        below=(*dropped, *below),
    )


def _heading(written: str, one: _Named | None) -> Heading:
    if one is None:
        return Heading(written, "")
    beside = one.column.unit if one.bare or one.unit else ""
    return Heading(written, one.column.name, one.unit, beside)


def _lines(text: str, separator: str) -> tuple[list[_Line], list[str], tuple[int, str] | None]:
    """Split into numbered lines of cells with the notes above each, and those at the end.

    Empty lines fall away.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    lines: list[_Line] = []
    notes: list[str] = []
    start = 1
    try:
        for cells in reader:
            first = cells[0].strip() if cells else ""
            note = first.startswith("#") and not ERROR_CELL.fullmatch(first)
            told = re.fullmatch(r"sep=.?", first, flags=re.IGNORECASE) and start == 1
            if note:
                notes.append(separator.join(cells))
            elif any(cell.strip() for cell in cells) and not told:
                lines.append(_Line(start, cells, notes))
                notes = []
            start = reader.line_num + 1
    except csv.Error as fault:
        return [], [], (start, f"cannot be read as CSV ({fault}); check the double quotes")
    return lines, notes, None


def _separator(text: str, columns: Sequence[Column]) -> str:
    """Find what parts the cells: with it the first lines hold most names of columns."""
    told = re.match(r"sep=([,;\t])\s*\n", text, flags=re.IGNORECASE)
    if told:
        return told.group(1)
    first = [line for line in text.split("\n") if line.strip() and not _is_note(line)]
    known = _spellings(columns)

    def names(separator: str) -> tuple[int, int]:
        best = 0
        for line in first[:HEADER_WITHIN]:
            cells = line.replace('"', "").split(separator)
            best = max(best, sum(_resolved(cell, known) is not None for cell in cells))
        return best, first[0].count(separator) if first else 0

    return max(SEPARATORS, key=names)


def _is_note(line: str) -> bool:
    return line.lstrip().startswith("#")


def _header_place(
    lines: Sequence[_Line], columns: Sequence[Column], source: str
) -> tuple[int | None, list[str]]:
    """Find the line that names the columns, and say what stands above it."""
    if not lines:
        return None, []
    known = _spellings(columns)
    counts = [
        sum(_resolved(cell, known) is not None for cell in line.cells)
        for line in lines[:HEADER_WITHIN]
    ]
    place = counts.index(max(counts))
    if max(counts) < min(2, len(columns)):
        place = 0
    if place == 0:
        return 0, []
    above = f"{place_of(source, lines[0].number)} to the line before the column names was not read."
    return place, [above]


def _spellings(columns: Sequence[Column]) -> dict[str, _Named]:
    """Give every way in which a column may be named."""
    known: dict[str, _Named] = {}
    for column in columns:
        for unit, factor in _factors(column.unit).items() if column.unit else ():
            own = unit if factor != 1.0 else ""
            for name in (column.plain, *column.also):
                known[f"{name}_{unit}"] = _Named(column, factor, unit=own)
        if column.unit and column.plain != column.name:
            known.setdefault(column.plain, _Named(column, bare=True))
        for other in column.also:
            known.setdefault(other, _Named(column, bare=column.plain != column.name))
    return known | {column.name: _Named(column) for column in columns}


def _factors(unit: str) -> dict[str, float]:
    """Give the units that may stand for one, and what each is of it."""
    for dimension in DIMENSIONS:
        own = dimension.get(unit.lower())
        if own is not None:
            return {name: factor / own for name, factor in dimension.items()}
    return {unit.lower(): 1.0} if unit else {}


def _resolved(cell: str, known: Mapping[str, _Named]) -> _Named | None:
    """Find the column that a heading names."""
    plain = re.sub(r"[\s\-\[\](){}.,/:_]+", "_", cell.strip().lower()).strip("_")
    return known.get(plain)


def _named(
    header: Sequence[str], where: str, columns: Sequence[Column]
) -> tuple[list[_Named | None], list[tuple[str, str]]]:
    """Match the headings to columns; unknown, doubled and missing ones are faults."""
    known, allowed = _spellings(columns), [column.name for column in columns]
    named: list[_Named | None] = []
    faults: list[tuple[str, str]] = []
    seen: set[str] = set()
    for cell in header:
        heading = cell.strip()
        found = None if heading.startswith("#") else _resolved(heading, known)
        if found is None and heading and not heading.startswith("#"):
            hint = closest(heading.lower(), allowed)
            problem = (
                f"found the column {shown(heading.lower())}; {hint}allowed: {', '.join(allowed)}; "
                "a column of your own begins with #"
            )
            faults.append((where, problem))
        elif found is not None and found.column.name in seen:
            faults.append((where, f"found the column {found.column.name!r} twice; keep one"))
            found = None
        if found is not None:
            seen.add(found.column.name)
        named.append(found)
    missing = [one.name for one in columns if one.needed and one.name not in seen]
    if missing:
        problem = f"missing columns: {', '.join(missing)}; the first line names the columns"
        faults.append((where, problem))
    return named, faults


def _habits(body: Sequence[_Line], named: Sequence[_Named | None], separator: str) -> _Habits:
    """Learn from cells that mean one thing only how this file writes the others."""
    habits = _Habits(semicolons=separator == ";")
    for line in body:
        for cell, one in zip(line.cells, named, strict=False):
            if one is None:
                continue
            if one.column.kind == "number":
                digits = _digits_of(cell)
                mark = _sure_mark(digits)
                if mark:
                    habits.decimal.add(mark)
                if one.column.money and (sign := _currency(cell)):
                    habits.money[sign] = habits.money.get(sign, 0) + 1
            elif one.column.kind in {"day", "moment"}:
                order = _sure_order(cell)
                if order:
                    habits.order.add(order)
    return habits


def _mixed_money(habits: _Habits, where: str) -> list[tuple[str, str]]:
    if len(habits.money) < 2:  # noqa: PLR2004 - two currencies
        return []
    found = ", ".join(sorted(habits.money))
    return [(where, f"found prices in {found}; a list has one currency: convert the others")]


def _digits_of(cell: str) -> str:
    """Give the number in a cell without sign, unit or currency."""
    found = re.search(r"\d[\d.,' \u2019\u00a0\u202f]*", cell)
    return found.group(0).strip(" '\u2019\u00a0\u202f").rstrip(".,") if found else ""


def _sure_mark(digits: str) -> str:
    """Give the decimal mark that a number shows beyond doubt; nothing otherwise."""
    marks = [sign for sign in digits if sign in ".,"]
    if not marks:
        return ""
    if len(set(marks)) > 1:
        return marks[-1] if marks.count(marks[-1]) == 1 else ""
    if len(marks) > 1:
        return "," if marks[0] == "." else "."
    before, after = digits.split(marks[0])
    sure = len(after) != 3 or before.startswith("0") or len(before) > 3  # noqa: PLR2004
    return marks[0] if sure else ""


def _row(
    line: int,
    cells: Sequence[str],
    header: Sequence[str],
    named: Sequence[_Named | None],
    habits: _Habits,
    separator: str,
) -> Row:
    """Read one line; every fault in it is found."""
    faults: list[tuple[str, str]] = []
    if any(cell.strip() for cell in cells[len(header) :]):
        problem = (
            f"found {len(cells)} cells, allowed: {len(header)} as in the first line; put text "
            f"that holds {shown(separator)} in double quotes"
        )
        return Row(line, {}, (("", problem),))
    read: dict[str, object] = {}
    padded = [*cells[: len(header)], *[""] * (len(header) - len(cells))]
    for cell, one in zip(padded, named, strict=True):
        if one is None:
            continue
        try:
            read[one.column.name] = _value(_cleaned(cell), one, habits)
        except ValueError as fault:
            faults.append((one.column.name, str(fault)))
    return Row(line, read, tuple(faults))


def _cleaned(cell: str) -> str:
    """Give a cell's text on one line, its spaces plain."""
    return " ".join(cell.replace("\ufeff", "").split())


def _value(cell: str, one: _Named, habits: _Habits) -> object:
    """Read one cell by its column."""
    column = one.column
    if column.kind == "text":
        if cell.startswith("'") and cell[1:].startswith(FORMULA_STARTS):
            cell = cell[1:]  # put there by `simulator.files.csv_safe`, for the spreadsheet
        if column.needed and not cell:
            _refuse_empty(cell)
        return cell
    if ERROR_CELL.fullmatch(cell):
        msg = f"found {shown(cell)}, a sum that failed in the spreadsheet; write the value"
        raise ValueError(msg)
    if cell.lower() in UNKNOWN:
        if column.needed:
            _refuse_empty(cell)
        return {"number": math.nan, "word": ""}.get(column.kind)
    if column.kind == "number":
        return _number(cell, one, habits)
    if column.kind == "day":
        return None if cell.lower() in NEVER else _day(cell, habits)
    return _moment(cell, habits) if column.kind == "moment" else _word(cell, column)


def _refuse_empty(cell: str) -> None:
    found = f"found {shown(cell)}" if cell else "found an empty cell"
    msg = f"{found}; write it"
    raise ValueError(msg)


def _word(cell: str, column: Column) -> str:
    """Read one of the words that may stand in a column, or several."""
    allowed = ", ".join(column.words)
    parts = re.split(r"\s*[+&,;/]\s*", cell) if column.several else [cell]
    found = []
    for part in parts:
        word = " ".join(part.lower().replace("_", " ").split())
        if word not in column.words:
            msg = f"found {shown(part)}; {closest(part, column.words)}allowed: {allowed}"
            raise ValueError(msg)
        found.append(word)
    return " + ".join(dict.fromkeys(found))


def _number(cell: str, one: _Named, habits: _Habits) -> float:
    """Read a number, with or without its unit."""
    column = one.column
    allowed = f"allowed: a number from {column.low:g} to {column.high:.0f}"
    allowed += "" if column.needed else ", or an empty cell for unknown"
    text = re.sub(r"^(?:~|\u2248|ca\.?|approx\.?|about)\s*", "", cell, flags=re.IGNORECASE)
    text = _without_currency(text) if column.money else text
    found = re.fullmatch(
        r"([-+\u2212\u2013]?)\s*(\d[\d.,' \u2019\u00a0\u202f]*|[.,]\d+)([eE][-+]?\d+)?\s*(.*)", text
    )
    if found is None and column.unit == "pieces":
        found = re.fullmatch(r"()(?:x|\u00d7)\s*(\d+)()()", text)
    if found is None:
        may = f"alone or with {column.unit}" if column.unit else "without a unit"
        msg = f"found {shown(cell)}; {allowed}; write the number {may}"
        raise ValueError(msg)
    sign, digits, power, unit = found.groups()
    if sign in {"-", "\u2212", "\u2013"} and column.low >= 0.0:
        msg = f"found {shown(cell)}; {allowed}; nothing is negative"
        raise ValueError(msg)
    factor = _factor(cell, unit, one, allowed)
    try:
        value = float(_plain(digits.strip(), habits) + (power or "")) * factor
    except ValueError as fault:
        msg = f"found {shown(cell)}; {allowed}; {fault}"
        raise ValueError(msg) from None
    value = -value if sign in {"-", "\u2212", "\u2013"} else value
    if not column.low <= value <= column.high:
        msg = f"found {shown(cell)}; {allowed}; check the unit in the column's name"
        raise ValueError(msg)
    return value


def _factor(cell: str, unit: str, one: _Named, allowed: str) -> float:
    """Give what the unit beside a number is of the column's own."""
    column, plain = one.column, unit.strip().rstrip(".").lower().replace("\u00b3", "3")
    known = _factors(column.unit)
    if not plain:
        if one.bare:
            msg = (
                f"found {shown(cell)} without a unit in a column without one; name the column "
                f"{column.name}, or write e.g. {shown(f'{cell} {column.unit}')}"
            )
            raise ValueError(msg)
        return one.factor
    if plain == "mah":
        msg = f"found {shown(cell)}; {allowed}; write Wh: mAh times volts, divided by 1000"
        raise ValueError(msg)
    if plain not in known:
        may = f"alone or with {column.unit}" if known else "without a unit"
        msg = f"found {shown(cell)}; {allowed}; write the number {may}"
        raise ValueError(msg)
    return known[plain]


def _plain(digits: str, habits: _Habits) -> str:
    """Write digits with a decimal point and without marks between thousands."""
    grouped = re.fullmatch(r"\d{1,3}(?:[ '\u2019\u00a0\u202f]\d{3})+([.,]\d+)?", digits)
    if grouped:
        digits = re.sub(r"[ '\u2019\u00a0\u202f]", "", digits)
    elif re.search(r"[ '\u2019\u00a0\u202f]", digits):
        msg = "write one number"
        raise ValueError(msg)
    marks = [sign for sign in digits if sign in ".,"]
    if not marks:
        return digits
    if len(marks) == 1 and (grouped or _sure_mark(digits) or not digits[0].isdigit()):
        return digits.replace(",", ".")
    if len(marks) > 1:
        decimal = _sure_mark(digits)
        thousands = "." if decimal == "," else ","
        pattern = rf"\d{{1,3}}(?:\{thousands}\d{{3}})+(?:\{decimal}\d+)?"
        if not decimal or not re.fullmatch(pattern, digits):
            msg = "write one number, without marks between thousands"
            raise ValueError(msg)
        return digits.replace(thousands, "").replace(decimal, ".")
    return _doubtful(digits, marks[0], habits)


def _doubtful(digits: str, mark: str, habits: _Habits) -> str:
    """Read 1,500 or 1.500 as the rest of the file writes numbers."""
    other = "." if mark == "," else ","
    if habits.decimal == {mark} or (not habits.decimal and mark == "," and habits.semicolons):
        return digits.replace(mark, ".")
    if habits.decimal == {other}:
        return digits.replace(mark, "")
    if not habits.decimal and mark == "." and not habits.semicolons:
        return digits
    whole, part = digits.split(mark)
    small = f"{whole}.{part.rstrip('0') or '0'}" if part.endswith("0") else f"{whole}.{part}0"
    msg = f"it may be {whole}{part} or {whole}.{part}: write {whole}{part}, or {small}"
    raise ValueError(msg)


def _currency(cell: str) -> str:
    """Give the sign or the letters of a currency beside a number; nothing when there are none."""
    found = re.fullmatch(r"\s*([^\d\s.,+-]{1,3})?\s*[\d.,' \u2019]+\s*([^\d\s.,+-]{1,3})?\s*", cell)
    if not found:
        return ""
    beside = (found.group(1) or found.group(2) or "").strip()
    is_sign = len(beside) == 1 and unicodedata.category(beside) == "Sc"
    return beside if is_sign or re.fullmatch(r"[A-Z]{3}|Fr|kr|z\u0142|K\u010d", beside) else ""


def _without_currency(cell: str) -> str:
    beside = _currency(cell)
    text = cell.replace(beside, "", 1).strip() if beside else cell
    return re.sub(r"[.,][-\u2013\u2014]$", "", text)  # 12,- is twelve


def _years(text: str) -> int:
    """Read a year; of two figures it is one of this century."""
    return int(text) + (2000 if len(text) == 2 else 0)  # noqa: PLR2004


def _sure_order(cell: str) -> str:
    """Give the order of day and month that a date shows beyond doubt."""
    found = re.match(r"\s*(\d{1,2})[/-](\d{1,2})[/-](?:\d{4}|\d{2})(?!\d)", cell)
    if not found:
        return ""
    first, second = int(found.group(1)), int(found.group(2))
    if first > 12 >= second:  # noqa: PLR2004 - months
        return "day first"
    return "month first" if second > 12 >= first else ""  # noqa: PLR2004 - months


def _day(cell: str, habits: _Habits, *, to_the_day: bool = False) -> date:
    """Read a day; a month counts to its end."""
    parts = _day_parts(cell, habits)
    if parts is not None and parts[0] in YEARS:
        year, month, day = parts
        try:
            last = calendar.monthrange(year, month)[1]
            if day is not None or not to_the_day:
                return date(year, month, last if day is None else day)
        except (ValueError, calendar.IllegalMonthError):
            pass
    allowed = "a day as 2027-06-30 or 30.06.2027" if to_the_day else f"{DAYS_SAID}, or empty"
    msg = f"found {shown(cell)}; allowed: {allowed}"
    raise ValueError(msg)


DAY_FORMS: Final = tuple(
    re.compile(form)
    for form in (
        r"(?P<year>\d{4})[-/.](?P<month>\d{1,2})(?:[-/.](?P<day>\d{1,2}))?\.?",
        r"(?P<year>\d{4})(?P<month>\d{2})(?P<day>\d{2})",
        r"(?P<day>\d{1,2})\.\s?(?P<month>\d{1,2})\.\s?(?P<year>\d{4}|\d{2})",
        r"(?P<month>\d{1,2})[/.-](?P<year>\d{4})(?P<day>)",
        r"(?:(?P<day>\d{1,2})[. -]+)?(?P<month>[A-Za-z]{3,9})\.?[ -]+(?P<year>\d{4})",
    )
)
"""Ways of writing a day or a month in which each figure says what it is."""


def _day_parts(cell: str, habits: _Habits) -> tuple[int, int, int | None] | None:
    """Give year, month and day of every form that means one thing only."""
    for form in DAY_FORMS:
        if found := form.fullmatch(cell):
            month, day = found.group("month").lower(), found.group("day")
            number = int(month) if month.isdigit() else MONTHS.get(month, 0)
            return _years(found.group("year")), number, int(day) if day else None
    if found := re.fullmatch(r"(\d{1,2})[/.](\d{2})", cell):
        return _label(int(found.group(1)), int(found.group(2)), cell)
    if found := re.fullmatch(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4}|\d{2})", cell):
        return _ordered(int(found.group(1)), int(found.group(2)), _years(found.group(3)), habits)
    return None


def _label(month: int, year: int, cell: str) -> tuple[int, int, None] | None:
    """Read a label's 09/28; where the second figure could be a day or a month it is no date."""
    if 1 <= month <= 12 < year:  # noqa: PLR2004 - months
        return 2000 + year, month, None
    msg = f"found {shown(cell)}; which figure is the year? write a month as 2028-09"
    raise ValueError(msg)


def _ordered(first: int, second: int, year: int, habits: _Habits) -> tuple[int, int, int] | None:
    """Put day and month in order: by themselves, or as the other dates of the file stand."""
    if first == second or first > 12:  # noqa: PLR2004 - months
        return year, second, first
    if second > 12:  # noqa: PLR2004 - months
        return year, first, second
    if habits.order == {"day first"}:
        return year, second, first
    if habits.order == {"month first"}:
        return year, first, second
    written = f"{year}-{second:02d}-{first:02d} or {year}-{first:02d}-{second:02d}"
    msg = f"found day and month in an order that may be either; write {written}"
    raise ValueError(msg)


def _moment(cell: str, habits: _Habits) -> datetime:
    """Read a local clock time."""
    found = re.fullmatch(
        r"(.+?)[T ,]+(\d{1,2})[:.h](\d{2})(?::(\d{2})(?:\.0+)?)?\s*([AaPp])?\.?(?:[Mm]\.?)?", cell
    )
    if found is not None:
        day_text, hour, minute, second, half = found.groups()
        day = _day(day_text, habits, to_the_day=True)
        hours = int(hour)
        if half:
            hours = hours % 12 + (12 if half.lower() == "p" else 0)
        try:
            return datetime.combine(day, time(hours, int(minute), int(second or 0)))
        except ValueError:
            pass
    msg = f"found {shown(cell)}; allowed: local time such as 2026-05-04T16:30:00"
    raise ValueError(msg)


def _is_total(
    row: Row, cells: Sequence[str], named: Sequence[_Named | None], before: Iterable[Row]
) -> bool:
    """Say whether a line sums up those above it."""
    text, words = "", ""
    for cell, one in zip(cells, named, strict=False):
        if one is not None and one.column.kind == "word":
            words += cell.strip()
        elif one is not None and one.column.kind == "text":
            text += cell.strip()
    if words or not any(column.kind == "word" for column in _columns(named)):
        return False
    return bool(TOTAL_WORD.match(text)) or (not text and _sums(row, list(before)))


def _columns(named: Iterable[_Named | None]) -> Iterator[Column]:
    return (one.column for one in named if one is not None)


def _sums(row: Row, before: Sequence[Row]) -> bool:
    """Say whether a line holds nothing but sums of the numbers above, times pieces or not."""
    told = {
        name: value
        for name, value in row.cells.items()
        if isinstance(value, float) and math.isfinite(value)
    }
    if not told or not before:
        return False

    def close(name: str, value: float) -> bool:
        plain = pieces = 0.0
        for one in before:
            cell, count = one.cells.get(name), one.cells.get("quantity")
            if isinstance(cell, float) and math.isfinite(cell):
                plain += cell
                known = isinstance(count, float) and math.isfinite(count)
                pieces += cell * (count if known and isinstance(count, float) else 1.0)
        slack = 0.006 * max(abs(value), 1.0)
        return abs(plain - value) <= slack or abs(pieces - value) <= slack

    return all(close(name, value) for name, value in told.items())
