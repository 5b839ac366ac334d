"""The entries of the page: every key of the plan that can be set there, from text and back."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from simulator.errors import shown
from simulator.plan import PlanKey, plan_reference
from simulator.plan.values import as_point

OFFERED = ("trip", "walker", "weather", "event", "bag", "choices", "pace", "map")
"""Tables of the plan that the page shows, in its order."""

ELSEWHERE = {"bag.items", "event.closed_area"}
"""Keys that the page sets by its own means: the table of items, and areas drawn on the map."""

PERSON = "walker"
"""The table that may stand several times."""

LONGEST_TEXT, MOST_ENTRIES = 500, 200
"""Longest text of one entry [characters], and most entries of a list."""

FORM_HINTS = {
    "number": "a number is needed, e.g. 1.5",
    "whole": "a whole number is needed, e.g. 10",
    "point": "latitude and longitude in degrees are needed, e.g. 46.1, -64.7",
    "moment": "date and time are needed, e.g. 2026-05-04 16:30",
    "hour": "a time is needed, e.g. 21:00, or with its date, 2026-05-04 21:00",
    "switch": "yes or no is needed",
    "file": "choose one of the files beside the plan",
}
"""What to do about text that is not of an entry's kind."""

_NUMBER = re.compile(r"[-+\u2212]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?")

Entry = str | list[str]
"""What stands in one entry of the page: text, or a list of texts."""


@dataclass(frozen=True, slots=True)
class Field:
    """One entry of the page.

    Attributes
    ----------
    key : str
        Table and key, e.g. ``trip.start``.
    kind : str
        ``number``, ``whole``, ``text``, ``point``, ``moment``, ``hour``, ``switch``, ``file``,
        ``name`` (text or a number) or ``word`` (one of `words`).
    many : bool
        Whether it takes a list.
    words : tuple of str
        What may be chosen; empty when it is free.
    default, unit, meaning : str
        As in the printed reference of the plan.
    """

    key: str
    kind: str
    many: bool
    words: tuple[str, ...]
    default: str
    unit: str
    meaning: str

    @property
    def table(self) -> str:
        """Table of the plan it belongs to; empty at the top."""
        return self.key.rpartition(".")[0]

    @property
    def name(self) -> str:
        """Key within its table."""
        return self.key.rpartition(".")[2]


def page_fields() -> tuple[Field, ...]:
    """List the entries of the page, from the descriptions that check the plan."""
    rows = plan_reference()
    return tuple(
        _field(row)
        for row in rows
        if ("." not in row.key or row.key.partition(".")[0] in OFFERED) and row.key not in ELSEWHERE
    )


def _field(row: PlanKey) -> Field:
    """Read the kind of a key from its line in the reference."""
    many = row.kind.startswith("list of ")
    kind = row.kind.removeprefix("list of ")
    words = tuple(re.findall(r'"([^"]*)"', kind))
    return Field(
        key=row.key,
        kind="word" if words else _kind(kind),
        many=many,
        words=words,
        default="" if row.default in {"required", "none", "[]"} else row.default.strip('"'),
        unit=row.unit,
        meaning=row.meaning,
    )


def _kind(kind: str) -> str:
    """Name the kind of a key that is no choice of words."""
    for start, name in (
        ("[latitude", "point"),
        ("whole number", "whole"),
        ("number", "number"),
        ("four numbers", "number"),
        ("text or whole", "name"),
        ("date and time", "moment"),
        ("time, or", "hour"),
        ("true or false", "switch"),
        ("file name", "file"),
    ):
        if kind.startswith(start):
            return name
    return "text"


def text_of(field: Field, value: object) -> Entry:
    """Write a value of the file as it stands in its entry."""
    if field.many:
        parts = value if isinstance(value, list | tuple) else [] if value is None else [value]
        return [_plain(part) for part in parts]
    return "" if value is None else _plain(value)


def _plain(value: object) -> str:
    """Write one value."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return ", ".join(_plain(part) for part in value)
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds" if value.second else "minutes")
    if isinstance(value, time):
        return value.isoformat(timespec="seconds" if value.second else "minutes")
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:  # noqa: PLR2004
        return str(int(value))
    return str(value)


def value_of(field: Field, entry: Entry, *, files: Sequence[str] = ()) -> object:
    """Read an entry as the value that stands in the file."""
    if field.many:
        parts = [part for part in _texts(entry) if part]
        named = " ".join(parts)
        if field.kind == "number" and named in files:
            return named  # a file in place of numbers
        return [_value(field, part, files) for part in parts] if parts else None
    text = _texts(entry)[0] if entry else ""
    return _value(field, text, files) if text else None


def _texts(entry: Entry) -> list[str]:
    """Give the texts of an entry without outer spaces, or refuse what no page sends."""
    parts = entry if isinstance(entry, list) else [entry]
    if len(parts) > MOST_ENTRIES or any(len(part) > LONGEST_TEXT for part in parts):
        msg = f"found too much; allowed: {MOST_ENTRIES} entries of {LONGEST_TEXT} characters"
        raise ValueError(msg)
    return [part.strip() for part in parts]


def _value(field: Field, text: str, files: Sequence[str]) -> object:
    """Read one text by the kind of its entry."""
    if field.kind in {"number", "whole"}:
        return _number(field, text)
    if field.kind == "point":
        return _point(text)
    if field.kind == "name":
        return int(text) if text.isascii() and text.isdigit() else text
    if field.kind in {"moment", "hour"}:
        return _moment(field.kind, text)
    if field.kind == "switch":
        if text not in {"true", "false"}:
            raise ValueError(_wrong(text, "switch"))
        return text == "true"
    if field.kind == "file" and text not in files:
        raise ValueError(_wrong(text, "file"))
    return text


def _number(field: Field, text: str) -> int | float:
    """Read a number; a decimal comma is understood."""
    if not _NUMBER.fullmatch(text):
        raise ValueError(_wrong(text, field.kind))
    plain = text.replace(",", ".").replace("\u2212", "-")
    if re.fullmatch(r"[-+]?\d{1,15}", plain):
        return int(plain)
    value = float(plain)
    if field.kind == "whole" or not math.isfinite(value):
        raise ValueError(_wrong(text, field.kind))
    return value


def _point(text: str) -> list[float]:
    """Read latitude and longitude, with a comma or a space between."""
    parts = re.split(r"\s*[,;]\s*|\s+", text.strip("[] "))
    try:
        numbers = [float(part.replace("\u2212", "-")) for part in parts]
    except ValueError:
        raise ValueError(_wrong(text, "point")) from None
    if len(numbers) != 2 or not all(map(math.isfinite, numbers)):  # noqa: PLR2004 - a pair
        raise ValueError(_wrong(text, "point"))
    return list(as_point(numbers))


def _moment(kind: str, text: str) -> datetime | time:
    """Read a local date and time, or a time alone where that will do."""
    try:
        if kind == "hour":
            return time.fromisoformat(text)
    except ValueError:
        pass
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(_wrong(text, kind)) from None
    if _is_day(text) or moment.tzinfo is not None:
        raise ValueError(_wrong(text, kind))
    return moment


def _is_day(text: str) -> bool:
    """Whether a text is a date without a time."""
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _wrong(text: str, kind: str) -> str:
    return f"found {shown(text)}; {FORM_HINTS[kind]}"


def same(left: object, right: object) -> bool:
    """Tell whether two values of a file mean the same, whatever library read them."""
    if isinstance(left, bool) or isinstance(right, bool):
        return left is right
    if isinstance(left, list | tuple) and isinstance(right, list | tuple):
        return len(left) == len(right) and all(map(same, left, right))
    return bool(left == right)


def entries_of(tables: Mapping[str, Any], fields: Sequence[Field]) -> dict[str, Entry]:
    """Give every entry of the page as the file fills it."""
    found: dict[str, Entry] = {}
    people = persons(tables)
    for field in fields:
        if field.table == PERSON:
            for number, person in enumerate(people, start=1):
                found[f"{PERSON}.{number}.{field.name}"] = text_of(field, person.get(field.name))
        else:
            table = tables.get(field.table, {}) if field.table else tables
            found[field.key] = text_of(
                field, table.get(field.name) if isinstance(table, Mapping) else None
            )
    return found


def persons(tables: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Give the tables of those who walk."""
    found = tables.get(PERSON, {})
    people = found if isinstance(found, list) else [found]
    return [one if isinstance(one, Mapping) else {} for one in people] or [{}]
