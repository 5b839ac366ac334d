"""A table of people: who starts where and when, going home where, with which bag."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.errors import InputError
from simulator.faults import gathered, shown
from simulator.files import read_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.plan import Plan

NEEDED = ("start_lat", "start_lon", "home_lat", "home_lon")
"""Columns without which there is no walk."""

NUMBERS = {
    "start_lat": (-90.0, 90.0),
    "start_lon": (-180.0, 180.0),
    "home_lat": (-90.0, 90.0),
    "home_lon": (-180.0, 180.0),
    "mass_kg": (20.0, 300.0),
    "height_m": (0.9, 2.5),
    "age_y": (4.0, 110.0),
    "pace_factor": (0.3, 2.0),
    "clothing_clo": (0.0, 4.0),
}
"""Columns with numbers and what is allowed, as in the plan."""

WORDS = ("id", "sex", "bag", "depart")
MOST_FAULTS = 20
"""Faults told of one table."""


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
    sex : str
        "male" or "female".
    bag : pathlib.Path or None
        List of items.
    depart : datetime.datetime
        Local clock time.
    """

    id: str
    start: tuple[float, float]
    home: tuple[float, float]
    mass_kg: float
    height_m: float
    age_y: float
    pace_factor: float
    clothing_clo: float
    sex: str
    bag: Path | None
    depart: datetime


def read_people(path: Path, plan: Plan) -> list[Person]:
    """Read the table; every fault in it is reported at once.

    Parameters
    ----------
    path : pathlib.Path
        CSV in UTF-8 with at least ``start_lat, start_lon, home_lat, home_lon``. Files of bags are
        taken relative to it.
    plan : Plan
        Gives what rows leave out.

    Returns
    -------
    list of Person
        In the order of the file.

    Raises
    ------
    InputError
        One line for each fault: row and column, what was found, what is allowed.
    """
    reader = csv.DictReader(io.StringIO(read_text(path, what="a table of people (.csv)")))
    header = [name.strip() for name in reader.fieldnames or ()]
    missing = [name for name in NEEDED if name not in header]
    unknown = [name for name in header if name not in NUMBERS and name not in WORDS]
    if missing or unknown:
        found = f"unknown column {shown(unknown[0])}" if unknown else f"no column {missing[0]}"
        allowed = ", ".join((*NUMBERS, *WORDS))
        where = f"{path}: line 1"
        raise InputError(where, f"found {found}; allowed: {allowed}; needed: {', '.join(NEEDED)}")
    people: list[Person] = []
    faults: list[tuple[str, str]] = []
    for number, row in enumerate(reader, start=2):
        cells = {
            (name or "").strip(): (cell or "").strip()
            for name, cell in row.items()
            if isinstance(cell, str)
        }
        problems = _problems(cells, path)
        if problems:
            faults += [(f"{path}: line {number}: {column}", text) for column, text in problems]
        else:
            people.append(_person(cells, number, path, plan))
        if len(faults) >= MOST_FAULTS:
            break
    if faults:
        raise gathered(faults)
    if not people:
        where = str(path)
        raise InputError(where, "holds no people; give one row for each")
    return people


def _problems(cells: Mapping[str, str], path: Path) -> list[tuple[str, str]]:
    """Say what is wrong with a row."""
    problems = []
    for name, (low, high) in NUMBERS.items():
        text = cells.get(name, "")
        if not text and name not in NEEDED:
            continue
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            problems.append((name, f"found {shown(text)}; allowed: {low:g} to {high:g}"))
    if cells.get("sex", "") not in {"", "male", "female"}:
        problems.append(("sex", f"found {shown(cells['sex'])}; allowed: male, female"))
    if cells.get("bag") and not (path.parent / cells["bag"]).is_file():
        problems.append(("bag", f"there is no file {shown(cells['bag'])} beside the table"))
    if cells.get("depart"):
        try:
            aware = datetime.fromisoformat(cells["depart"]).tzinfo is not None
        except ValueError:
            aware = True
        if aware:
            found = shown(cells["depart"])
            problems.append(
                ("depart", f"found {found}; allowed: local time such as 2026-05-04T16:30:00")
            )
    return problems


def _person(cells: Mapping[str, str], number: int, path: Path, plan: Plan) -> Person:
    """Fill a row up from the plan."""
    own = plan.walker[0]

    def given(name: str, otherwise: float) -> float:
        return float(cells[name]) if cells.get(name) else otherwise

    depart = cells.get("depart")
    return Person(
        id=cells.get("id") or str(number - 1),
        start=(float(cells["start_lat"]), float(cells["start_lon"])),
        home=(float(cells["home_lat"]), float(cells["home_lon"])),
        mass_kg=given("mass_kg", own.mass_kg),
        height_m=given("height_m", own.height_m),
        age_y=given("age_y", own.age_y),
        pace_factor=given("pace_factor", own.pace_factor),
        clothing_clo=given("clothing_clo", own.clothing_clo),
        sex=cells.get("sex") or own.sex,
        bag=path.parent / cells["bag"] if cells.get("bag") else plan.bag.items,
        depart=datetime.fromisoformat(depart) if depart else plan.trip.depart,
    )
