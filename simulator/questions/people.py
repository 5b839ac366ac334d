"""A table of people: who starts where and when, going home where, with which bag."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from simulator.bag.items import read_items, read_written
from simulator.errors import InputError, shown
from simulator.plan.values import as_local_time
from simulator.spreadsheet import Column, place_of, read_table, told_together

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from simulator.plan import Plan
    from simulator.spreadsheet import Row

COLUMNS: Final = (
    Column("id", also=("name",)),
    Column("start_lat", "number", low=-90.0, high=90.0, needed=True),
    Column("start_lon", "number", low=-180.0, high=180.0, needed=True),
    Column("home_lat", "number", low=-90.0, high=90.0, needed=True),
    Column("home_lon", "number", low=-180.0, high=180.0, needed=True),
    Column("mass_kg", "number", unit="kg", low=20.0, high=300.0, also=("weight",)),
    Column("height_m", "number", unit="m", low=0.9, high=2.5),
    Column("age_y", "number", unit="y", low=4.0, high=110.0),
    Column("pace_factor", "number", low=0.3, high=2.0),
    Column("clothing_clo", "number", unit="clo", low=0.0, high=4.0),
    Column("windproof", "word", words=("yes", "no")),
    Column("capacity_ml_kg_min", "number", unit="mL/kg/min", low=7.0, high=95.0),
    Column("level_km_h", "number", unit="km/h", low=1.5, high=9.0),
    Column("sex", "word", words=("male", "female")),
    Column("bag"),
    Column("depart", "moment"),
)
"""Columns of the table and what is allowed, as in the plan; all but the places may be left out."""

LARGEST_BYTES: Final = 50_000_000
"""Most that a table may hold [B]: half a million people, each with all columns."""


@dataclass(frozen=True, slots=True)
class Person:
    """One row; what it leaves out is the plan's own.

    Attributes
    ----------
    id : str
        Name of the row; its number when none is given.
    start, home : tuple of float
        Latitude, longitude [degrees].
    mass_kg, height_m, age_y, pace_factor, clothing_clo : float
        As in the plan.
    windproof : bool or None
        Whether the outer layer keeps the wind out; None where that is not said.
    capacity_ml_kg_min, level_km_h : float or None
        Measured aerobic capacity, and own speed on the level; None where not known. The plan's own
        stand in only for a row that gives no other mass, age or sex.
    sex : str
        "male" or "female".
    bag : pathlib.Path or None
        List of items.
    depart : datetime.datetime
        Local clock time.
    timed : bool
        Whether the pace is that of the timed walk of the plan's walker: a row of the plan's own
        body that gives no other pace.
    """

    id: str
    start: tuple[float, float]
    home: tuple[float, float]
    mass_kg: float
    height_m: float
    age_y: float
    pace_factor: float
    clothing_clo: float
    windproof: bool | None
    capacity_ml_kg_min: float | None
    level_km_h: float | None
    sex: str
    bag: Path | None
    depart: datetime
    timed: bool = False


@dataclass(frozen=True, slots=True)
class Unread:
    """A row that cannot be walked.

    Attributes
    ----------
    row : int
        Which row of the table, from 0.
    id : str
        Its name; its number when none is given.
    reason : str
        Line of the file and every fault in it.
    """

    row: int
    id: str
    reason: str


@dataclass(frozen=True, slots=True)
class People:
    """A table as read.

    Attributes
    ----------
    people : tuple of Person
        Rows that can be walked, in the order of the file.
    unread : tuple of Unread
        The others.
    notes : tuple of str
        What was read otherwise than by the letter.
    """

    people: tuple[Person, ...]
    unread: tuple[Unread, ...] = ()
    notes: tuple[str, ...] = ()


def read_people(path: Path, plan: Plan, *, strict: bool = False) -> People:
    """Read the table; a bad row does not stop the others.

    Parameters
    ----------
    path : pathlib.Path
        CSV as any spreadsheet saves it, with at least ``start_lat, start_lon, home_lat,
        home_lon``. Files of bags are taken relative to it.
    plan : Plan
        Gives what rows leave out.
    strict : bool
        Whether to refuse the whole table for one bad row.

    Returns
    -------
    People
        In the order of the file.

    Raises
    ------
    InputError
        When the columns cannot be told, when no row can be walked, or, if strict, any cannot.
    """
    source = str(path)
    text, notes = read_written(path, what="a table of people (.csv)", largest=LARGEST_BYTES)
    table = read_table(text, source, COLUMNS)
    if table.faults:
        table.require_sound()
    people: list[Person] = []
    unread: list[Unread] = []
    faults: list[tuple[str, str]] = []
    for number, row in enumerate(table.rows):
        found = [*row.faults, *_bag_faults(row.cells, path), *_hour_faults(row.cells)]
        faults += [(place_of(source, row.line, column), problem) for column, problem in found]
        name = str(row.cells.get("id") or number + 1)
        if found:
            unread.append(Unread(number, name, _reason(row, found)))
        else:
            people.append(_person(row.cells, name, path, plan))
    if faults and (strict or not people):
        raise told_together(faults, source)
    if not people:
        raise InputError(source, "holds no people; give one row for each")
    notes = (*notes, *table.notes, *_timed_notes(people, plan))
    return People(tuple(people), tuple(unread), notes)


def _timed_notes(people: Sequence[Person], plan: Plan) -> list[str]:
    """Say for whom the timed walk of the plan's walker counts."""
    walk = plan.walker[0].timed_walk
    if walk is None:
        return []
    count = sum(person.timed for person in people)
    slopes = "; what it tells of slopes counts in the plan alone" if isinstance(walk, Path) else ""
    told = (
        f"{plan.walker_key(0, 'timed_walk')} sets the pace of {count:,} of {len(people):,} people: "
        f"those whose row gives no mass_kg, age_y, sex, pace_factor or level_km_h{slopes}; all "
        "others walk at the model's pace or at their own"
    )
    return [told]


def _reason(row: Row, found: Sequence[tuple[str, str]]) -> str:
    """Say what is wrong with a row, on one line."""
    told = "; ".join(f"{column}: {problem}" if column else problem for column, problem in found)
    return f"line {row.line}: {' '.join(told.split())}"


def _bag_faults(cells: Mapping[str, object], path: Path) -> list[tuple[str, str]]:
    """Say what is wrong with the bag that a row names."""
    name = cells.get("bag")
    if not name:
        return []
    problem = _bag_problem(path.parent / str(name), str(name))
    return [("bag", problem)] if problem else []


def _hour_faults(cells: Mapping[str, object]) -> list[tuple[str, str]]:
    """Say what is wrong with the hour that a row names, by the plan's own rules."""
    if cells.get("depart") is None:
        return []
    try:
        as_local_time(cells["depart"])
    except ValueError as fault:
        return [("depart", str(fault))]
    return []


@lru_cache(maxsize=1024)
def _bag_problem(path: Path, name: str) -> str:
    """Read a bag to see whether it can be; many people may share one."""
    try:
        if not path.is_file():
            return f"there is no file {shown(name)} beside the table"
        read_items(path)
    except OSError as fault:
        return f"{shown(name)} cannot be read ({fault.strerror})"
    except InputError as fault:
        return f"{shown(name)} cannot be used: {str(fault).splitlines()[0]}"
    return ""


def _person(cells: Mapping[str, object], name: str, path: Path, plan: Plan) -> Person:
    """Fill a row up from the plan."""
    own = plan.walker[0]

    def given(column: str, otherwise: float) -> float:
        value = cells.get(column)
        return value if isinstance(value, float) and math.isfinite(value) else otherwise

    of_own_body = not cells.get("sex") and all(
        math.isnan(given(column, math.nan)) for column in ("mass_kg", "age_y")
    )

    def measured(column: str) -> float | None:
        value = given(column, math.nan)
        if not math.isnan(value):
            return value
        found: float | None = getattr(own, column) if of_own_body else None
        return found

    own_pace = any(
        not math.isnan(given(column, math.nan)) for column in ("pace_factor", "level_km_h")
    )
    depart, windproof = cells.get("depart"), cells.get("windproof")
    return Person(
        id=name,
        start=(given("start_lat", 0.0), given("start_lon", 0.0)),
        home=(given("home_lat", 0.0), given("home_lon", 0.0)),
        mass_kg=given("mass_kg", own.mass_kg),
        height_m=given("height_m", own.height_m),
        age_y=given("age_y", own.age_y),
        pace_factor=given("pace_factor", own.pace_factor),
        clothing_clo=given("clothing_clo", own.clothing_clo),
        windproof=windproof == "yes" if windproof else own.windproof,
        capacity_ml_kg_min=measured("capacity_ml_kg_min"),
        level_km_h=measured("level_km_h"),
        sex=str(cells.get("sex") or own.sex),
        bag=path.parent / str(cells["bag"]) if cells.get("bag") else plan.bag.items,
        depart=depart if isinstance(depart, datetime) else plan.trip.depart,
        timed=own.timed_walk is not None and of_own_body and not own_pace,
    )
