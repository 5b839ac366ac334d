"""What a person knows of places better than the map and the table of kinds.

A TOML file with two tables, each of any length::

    [kind."drinking water"]
    works = 0.6                       # share that works in any event, 0 to 1
    stop_min = 3
    hours = "06:00-22:00"             # where the map has none

    [place."n1234567"]                # number on the map, or the exact name
    works = { "power failure" = 1, flood = 0.2 }
    hours = "24/7"                    # in place of the map's
    needs_treatment = false
    needs_key = false
    gives = ["water", "shelter"]
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from simulator.errors import InputError
from simulator.faults import closest, gathered, shown
from simulator.files import read_text
from simulator.ground.hours import readable
from simulator.ground.kinds import EVENTS, PLACE_RULES
from simulator.ground.places import Places
from simulator.units import percent

LONGEST_STOP_MIN = 240.0
"""A stop for water longer than this is taken for a slip [min]."""

GIVES = frozenset({"water", "food", "shelter", "help", "rest"})
TABLES = ("kind", "place")

S_PER_MIN = 60.0


@dataclass(frozen=True, slots=True)
class Edit:
    """What is said of one place, or of all places of a kind; None leaves things as they are.

    Attributes
    ----------
    works : dict of str to float
        Share working by event, 0 to 1.
    stop_s : float or None
        Time at the place [s].
    hours : str or None
        Opening hours in the OSM syntax.
    needs_treatment, needs_key : bool or None
        What its water or tap needs.
    gives : frozenset of str or None
        What it gives.
    """

    works: dict[str, float]
    stop_s: float | None = None
    hours: str | None = None
    needs_treatment: bool | None = None
    needs_key: bool | None = None
    gives: frozenset[str] | None = None

    @property
    def told(self) -> str:
        """What is said, in words."""
        parts = [f"works {percent(share)} under {event}" for event, share in self.works.items()]
        if len(self.works) == len(EVENTS) and len(set(self.works.values())) == 1:
            parts = [f"works {percent(next(iter(self.works.values())))}"]
        if self.stop_s is not None:
            parts.append(f"stop {self.stop_s / S_PER_MIN:g} min")
        if self.hours is not None:
            parts.append(f"hours {self.hours}")
        if self.needs_treatment is not None:
            parts.append("untreated" if self.needs_treatment else "fit to drink")
        if self.needs_key is not None:
            parts.append("needs a key" if self.needs_key else "needs no key")
        if self.gives is not None:
            parts.append("gives " + " and ".join(sorted(self.gives) or ["nothing"]))
        return ", ".join(parts)


@dataclass(frozen=True, slots=True)
class Edits:
    """A file of edits.

    Attributes
    ----------
    kind : dict of str to Edit
        By kind of place.
    place : dict of str to Edit
        By number on the map, or name.
    source : str
        The file, for messages.
    """

    kind: dict[str, Edit]
    place: dict[str, Edit]
    source: str


def read_edits(path: Path) -> Edits:
    """Read a file of edits; every fault in it is reported at once.

    Parameters
    ----------
    path : pathlib.Path
        TOML in UTF-8.

    Returns
    -------
    Edits
        Checked.

    Raises
    ------
    InputError
        One line for each fault: key, what was found, what is allowed.
    """
    text = read_text(path, what="a list of places in TOML")
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        problem = f"not readable as TOML: {str(fault)[0].lower()}{str(fault)[1:]}"
        raise InputError(str(path), problem) from None
    faults: list[tuple[str, str]] = []
    found: dict[str, dict[str, Edit]] = {name: {} for name in TABLES}
    for table, rows in tables.items():
        if table not in TABLES or not isinstance(rows, dict):
            hint = closest(table, TABLES)
            problem = f'unknown table; {hint}write [kind."drinking water"] or [place."n123"]'
            faults.append((f"{path}: {table}", problem))
            continue
        for name, keys in rows.items():
            where = f"{path}: {table}.{shown(name)}"
            if table == "kind" and name not in PLACE_RULES:
                problem = (
                    f"unknown kind; {closest(name, PLACE_RULES)}kinds: {', '.join(PLACE_RULES)}"
                )
                faults.append((where, problem))
            elif not isinstance(keys, dict):
                faults.append((where, f"found {shown(keys)}; a table of keys is needed"))
            else:
                wrong = list(_faults(keys))
                faults += [(f"{where}.{key}", problem) for key, problem in wrong]
                if not wrong:
                    found[table][name] = _edit(keys)
    if faults:
        raise gathered(faults)
    return Edits(found["kind"], found["place"], str(path))


def _number(low: float, high: float) -> Callable[[object], str]:
    """Give a check that a value is a number within bounds."""

    def problem(value: object) -> str:
        right = isinstance(value, int | float) and not isinstance(value, bool)
        if right and low <= float(value) <= high:  # type: ignore[arg-type]  # asked above
            return ""
        return f"found {shown(value)}; a number from {low:g} to {high:g} is needed"

    return problem


def _switch(value: object) -> str:
    return "" if isinstance(value, bool) else f"found {shown(value)}; true or false is needed"


def _hours(value: object) -> str:
    if isinstance(value, str) and value and readable(value):
        return ""
    return f'found {shown(value)}; opening hours in the OSM syntax, e.g. "Mo-Fr 08:00-18:00"'


def _things(value: object) -> str:
    if isinstance(value, list) and all(isinstance(word, str) and word in GIVES for word in value):
        return ""
    return f"found {shown(value)}; a list of words out of {', '.join(sorted(GIVES))}"


def _works(value: object) -> str:
    if not isinstance(value, dict):
        return _number(0.0, 1.0)(value)
    unknown = [event for event in value if event not in EVENTS]
    if unknown:
        hint = closest(unknown[0], EVENTS)
        return f"unknown event {shown(unknown[0])}; {hint}events: {', '.join(EVENTS)}"
    return next(filter(None, map(_number(0.0, 1.0), value.values())), "")


CHECKS: Mapping[str, Callable[[object], str]] = {
    "works": _works,
    "stop_min": _number(0.0, LONGEST_STOP_MIN),
    "hours": _hours,
    "needs_treatment": _switch,
    "needs_key": _switch,
    "gives": _things,
}
"""Keys that may be written, and what is wrong with a value of each; "" is nothing."""


def _faults(keys: Mapping[str, object]) -> Iterator[tuple[str, str]]:
    for key, value in keys.items():
        if key not in CHECKS:
            yield key, f"unknown key; {closest(key, CHECKS)}keys: {', '.join(CHECKS)}"
        elif problem := CHECKS[key](value):
            yield key, problem


def _edit(keys: Mapping[str, object]) -> Edit:
    """Make an edit of checked keys."""
    works = keys.get("works", {})
    shares: dict[str, Any] = works if isinstance(works, dict) else dict.fromkeys(EVENTS, works)
    stop_min, gives = keys.get("stop_min"), keys.get("gives")
    hours, treatment, key = (keys.get(n) for n in ("hours", "needs_treatment", "needs_key"))
    return Edit(
        works={event: float(share) for event, share in shares.items()},
        stop_s=S_PER_MIN * float(stop_min) if isinstance(stop_min, int | float) else None,
        hours=hours if isinstance(hours, str) else None,
        needs_treatment=treatment if isinstance(treatment, bool) else None,
        needs_key=key if isinstance(key, bool) else None,
        gives=frozenset(map(str, gives)) if isinstance(gives, list) else None,
    )


def edited(places: Places, edits: Edits) -> Places:
    """Let what a person knows stand before map and table.

    Parameters
    ----------
    places : Places
        From the map.
    edits : Edits
        Kinds first, then single places.

    Returns
    -------
    Places
        With `edited` saying what was changed.

    Raises
    ------
    InputError
        When a place is named that the map does not have.
    """
    rows_of: dict[str, list[int]] = {}
    for row, (osm, name) in enumerate(zip(places.osm, places.name, strict=True)):
        for key in {osm, name} - {""}:
            rows_of.setdefault(key, []).append(row)
    missing = [
        (
            f"{edits.source}: place.{shown(name)}",
            (
                f"no place of this number or name on the map; {closest(name, rows_of)}"
                'numbers look like "n123", "w45" or "r6"'
            ),
        )
        for name in edits.place
        if name not in rows_of
    ]
    if missing:
        raise gathered(missing)
    by_row: dict[int, list[Edit]] = {}
    for row, kind in enumerate(places.kind):
        if kind in edits.kind:
            edit = edits.kind[kind]
            # Hours said of a kind are for those that have none on the map.
            by_row[row] = [replace(edit, hours=None) if places.hours[row] else edit]
    for name, edit in edits.place.items():
        for row in rows_of[name]:
            by_row.setdefault(row, []).append(edit)
    return _applied(places, by_row)


def _applied(places: Places, by_row: Mapping[int, list[Edit]]) -> Places:
    """Write edits into the columns."""
    hours, gives, told = list(places.hours), list(places.gives), list(places.edited)
    treatment, key = places.needs_treatment.copy(), places.needs_key.copy()
    works, service_s = places.works.copy(), places.service_s.copy()
    always_open = places.always_open.copy()
    for row, edit in ((row, edit) for row, many in by_row.items() for edit in many):
        for event, share in edit.works.items():
            works[row, EVENTS.index(event)] = share
        if edit.stop_s is not None:
            service_s[row] = edit.stop_s
        if edit.hours is not None:
            hours[row], always_open[row] = edit.hours, False
        if edit.needs_treatment is not None:
            treatment[row] = edit.needs_treatment
        if edit.needs_key is not None:
            key[row] = edit.needs_key
        if edit.gives is not None:
            gives[row] = edit.gives
        told[row] = "; ".join(filter(None, [told[row], edit.told]))
    return replace(
        places,
        hours=tuple(hours),
        gives=tuple(gives),
        needs_treatment=np.asarray(treatment),
        needs_key=np.asarray(key),
        always_open=always_open,
        works=works,
        service_s=service_s,
        edited=tuple(told),
    )
