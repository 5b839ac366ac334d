"""How do all these people get home? A table of people on one map, by any number of workers."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import numpy as np
import pandas as pd

from simulator.bag.items import carried, read_items
from simulator.body import pace
from simulator.errors import InputError, gathered, shown
from simulator.files import read_text
from simulator.ground.snap import Shape, nearest_points
from simulator.ground.streets import find_components
from simulator.home.crowd import Hours, arrivals_of, taps_near, who_stops
from simulator.home.crowd_records import Arrivals, Crowd
from simulator.home.scene import (
    LONGEST_WALK_H,
    PACE_AGE,
    RESTING_AGE,
    is_beyond_age,
    prepare,
    weather_of,
)
from simulator.home.summary import JUDGED
from simulator.home.unknown_heights import map_notes
from simulator.home.verdict import LEVELS, LOAD_CARE_SHARE, account_of, verdict_levels
from simulator.home.way import Reach, Times, clock_rounds, street_times
from simulator.plan.values import as_local_time
from simulator.route.search import Fan
from simulator.sky.clock import to_epoch_s
from simulator.units import HOUR_S
from simulator.walk.conditions import Conditions, conditions_over
from simulator.walk.course import Course, beside_traffic, course_along
from simulator.walk.engine import Apart, walk_apart
from simulator.walk.ledger import local_time
from simulator.walk.records import Total, Walkers, some_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from simulator.bag.items import Carried
    from simulator.ground.snap import Snaps
    from simulator.home.scene import Scene
    from simulator.plan import Plan
    from simulator.walk.records import Stop

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
    header, table = _table(path)
    missing = [name for name in NEEDED if name not in header]
    unknown = [name for name in header if name not in NUMBERS and name not in WORDS]
    if missing or unknown:
        found = f"unknown column {shown(unknown[0])}" if unknown else f"no column {missing[0]}"
        allowed = ", ".join((*NUMBERS, *WORDS))
        where = f"{path}: line 1"
        raise InputError(where, f"found {found}; allowed: {allowed}; needed: {', '.join(NEEDED)}")
    people: list[Person] = []
    faults: list[tuple[str, str]] = []
    for number, row in table:
        if len(row) > len(header) and any(row[len(header) :]):
            problem = f"found {len(row)} cells, allowed: {len(header)} as in the first line"
            faults.append((f"{path}: line {number}", problem))
            continue
        cells = dict(zip(header, row, strict=False))
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


def _table(path: Path) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Read a table's column names, and its lines by number; empty ones fall away."""
    text = read_text(path, what="a table of people (.csv)")
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    except csv.Error as fault:
        where = f"{path}: line {reader.line_num + 1}"
        problem = f"cannot be read as CSV ({fault}); check double quotes and line ends"
        raise InputError(where, problem) from None
    filled = [(number, row) for number, row in rows if any(row)]
    return (filled[0][1], filled[1:]) if filled else ([], [])


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
    if cells.get("bag") and not os.path.isfile(path.parent / cells["bag"]):  # noqa: PTH113
        problems.append(("bag", f"there is no file {shown(cells['bag'])} beside the table"))
    if cells.get("depart"):
        try:
            as_local_time(cells["depart"])
        except ValueError as fault:
            problems.append(("depart", str(fault)))
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
        depart=as_local_time(depart) if depart else plan.trip.depart,
    )


@dataclass(frozen=True, slots=True)
class Job:
    """Some people of the table.

    Attributes
    ----------
    number : int
        Which part.
    plan : Plan
        Map, weather, event and choices for all.
    people : tuple of Person
        Who.
    row : tuple of int
        Rows of the table.
    start, home : tuple of (int, float)
        Where each stands on the streets: segment, -1 for none near, and share from its tail.
    first_epoch_s, last_epoch_s : float
        Earliest and latest departure of the whole table.
    """

    number: int
    plan: Plan
    people: tuple[Person, ...]
    row: tuple[int, ...]
    start: tuple[tuple[int, float], ...]
    home: tuple[tuple[int, float], ...]
    first_epoch_s: float
    last_epoch_s: float


@dataclass(frozen=True, slots=True)
class PeoplePart:
    """What became of them.

    Attributes
    ----------
    number : int
        Which part.
    rows : pandas.DataFrame
        One row a person.
    passed : pandas.DataFrame
        ``kind`` (bridge or refill), ``name``, ``hour`` (ISO, local) and ``people``.
    """

    number: int
    rows: pd.DataFrame
    passed: pd.DataFrame


@dataclass(frozen=True, slots=True)
class SharedGround:
    """What all people share.

    Attributes
    ----------
    scene : Scene
        The loaded plan.
    times : Times
        Walking time of every street for a pace factor of 1.
    reach : Reach
        Places near every node.
    opening : Hours
        Opening hours looked up so far.
    """

    scene: Scene
    times: Times
    reach: Reach
    opening: Hours


COLUMNS = {
    "row": "int64",
    "id": "str",
    "depart": "str",
    "status": "str",
    "verdict": "str",
    "arrive": "str",
    "elapsed_h": "float64",
    "distance_km": "float64",
    "dark_h": "float64",
    "water_short_l": "float64",
    "body_mass_loss_pct": "float64",
    "energy_short_kcal": "float64",
    "light_short_h": "float64",
    "coldest_felt_c": "float64",
    "hottest_felt_c": "float64",
    "short_of": "str",
    "short_from_h": "float64",
    "refills": "float64",
    "bridges": "str",
    "needs_a_night_halt": "bool",
}
"""Columns of the people's results and their types; text is empty and numbers are NaN where there
is no walk."""


def people_table(
    job: Job,
    ground: SharedGround,
    depart: NDArray[np.float64],
    going: list[int],
    walks: Arrivals | None,
    refills: list[int],
    ways: list[Course],
    care: list[bool],
) -> pd.DataFrame:
    """Put everyone into rows, with a way home or without."""
    zone = ground.scene.zone
    rows: list[dict[str, Any]] = []
    for row, person in enumerate(job.people):
        near = job.start[row][0] >= 0 and job.home[row][0] >= 0
        status = "no way home" if near else "no street near"
        if near and job.start[row] == job.home[row]:
            status = "at home"
        rows.append(
            {
                "row": job.row[row],
                "id": person.id,
                "depart": local_time(float(depart[row]), zone).isoformat(),
                "status": status,
            }
        )
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    if walks is None:
        return _typed(table)
    arrive = depart[going] + walks.elapsed_s
    short_of, short_from_h = account_of(walks).first()
    event = ground.scene.plan.event.kind
    level = verdict_levels(walks, event=event)
    cared = np.array(care, dtype=bool)
    night = walks.elapsed_s > HOUR_S * job.plan.choices.longest_day_h
    level = np.where((level == 0) & (cared | night), np.int8(1), level)
    columns: dict[str, list[Any]] = {
        "status": ["home" if lev >= 0 else "not known" for lev in level.tolist()],
        "verdict": [LEVELS[lev] if lev >= 0 else "" for lev in level.tolist()],
        "arrive": [local_time(when, zone).isoformat() for when in arrive.tolist()],
        "elapsed_h": (walks.elapsed_s / HOUR_S).tolist(),
        "distance_km": [way.length_m / 1000.0 for way in ways],
        "dark_h": (walks.dark_s / HOUR_S).tolist(),
        "water_short_l": (walks.short_ml / 1000.0).tolist(),
        "body_mass_loss_pct": walks.loss_pct.tolist(),
        "energy_short_kcal": walks.energy_short_kcal.tolist(),
        "light_short_h": (walks.light_short_s / HOUR_S).tolist(),
        "coldest_felt_c": walks.coldest_c.tolist(),
        "hottest_felt_c": walks.hottest_c.tolist(),
        "short_of": short_of,
        "short_from_h": short_from_h.tolist(),
        "refills": refills,
        "bridges": ["; ".join(dict.fromkeys(_bridges(ground, way).values())) for way in ways],
        "needs_a_night_halt": night.tolist(),
    }
    for name, values in columns.items():
        table[name] = table[name].astype(object)
        table.loc[going, name] = pd.Series(values, index=going, dtype=object)
    return _typed(table)


def _typed(table: pd.DataFrame) -> pd.DataFrame:
    """Give every column its type, so that all parts fit together."""
    for name, kind in COLUMNS.items():
        if kind == "float64":
            table[name] = pd.to_numeric(table[name]).astype("float64")
        elif kind == "int64":
            table[name] = table[name].astype("int64")
        else:
            filled = table[name].astype(object).where(table[name].notna(), "")
            table[name] = filled.astype(str) if kind == "str" else filled.astype(bool)
    return table


def _bridges(ground: SharedGround, way: Course) -> dict[int, str]:
    """Name every bridge of a way, by the step at which one comes onto it."""
    ways = ground.scene.streets.ways
    onto = np.flatnonzero(way.bridge & ~np.r_[False, way.bridge[:-1]])
    names = {}
    for step in onto.tolist():
        row = int(way.way[step])
        names[step] = ways.bridge_name[row] or ways.name[row] or f"bridge {ways.osm_id[row]}"
    return names


def events_of(
    ground: SharedGround,
    ways: list[Course],
    walked: Apart,
    stops: list[list[Stop]],
    depart: NDArray[np.float64],
) -> list[tuple[str, str, str]]:
    """List who passes which bridge and fills bottles where, in which clock hour."""
    zone, places = ground.scene.zone, ground.scene.places
    events = []
    for row, way in enumerate(ways):
        clock = walked.clock_s[row]

        def hour(step: int, row: int = row, clock: NDArray[np.float64] = clock) -> str:
            when = local_time(float(depart[row] + clock[step]), zone)
            return when.replace(minute=0, second=0, microsecond=0).isoformat()

        events += [("bridge", name, hour(step)) for step, name in _bridges(ground, way).items()]
        for stop in stops[row]:
            name = places.name[stop.place] or f"{places.kind[stop.place]} {places.osm[stop.place]}"
            events.append(("refill", name, hour(stop.step)))
    return events


def counted(events: list[tuple[str, str, str]]) -> pd.DataFrame:
    """Count people by what they pass and when."""
    table = pd.DataFrame(events, columns=["kind", "name", "hour"])
    counted = table.value_counts(["kind", "name", "hour"]).rename("people").reset_index()
    return counted.sort_values(["kind", "name", "hour"], ignore_index=True)


ROUNDS = 3
"""Costs of the streets by day, and corrected twice by the hour of arrival."""


@lru_cache(maxsize=1)
def ground_of(plan: Plan) -> SharedGround:
    """Load what all people share, once in every process."""
    scene = prepare(plan)
    return SharedGround(
        scene=scene,
        times=street_times(scene, pace_factor=1.0),
        reach=Reach(
            scene.places, scene.streets, closed=scene.closed, reach_m=plan.choices.refill_reach_m
        ),
        opening=Hours(scene),
    )


@lru_cache(maxsize=4)
def _sky(plan: Plan, first_epoch_s: float, last_epoch_s: float) -> Conditions:
    scene = ground_of(plan).scene
    return conditions_over(
        weather_of(plan, scene.zone),
        lat=0.5 * (scene.ends[0].lat + scene.ends[-1].lat),
        lon=0.5 * (scene.ends[0].lon + scene.ends[-1].lon),
        start_epoch_s=first_epoch_s,
        hours=(last_epoch_s - first_epoch_s) / HOUR_S + LONGEST_WALK_H,
    )


@lru_cache(maxsize=1024)
def _load(path: Path | None) -> tuple[Carried, bool]:
    """Add a bag up; also whether the verdict hangs on something unknown in it."""
    load = carried(None if path is None else read_items(path))
    unknown = {text.split(" ", 1)[0] for text in load.unknown}
    return load, path is None or bool(unknown & JUDGED)


def walk_part(job: Job) -> PeoplePart:
    """Walk some people home."""
    ground = ground_of(job.plan)
    sky = _sky(job.plan, job.first_epoch_s, job.last_epoch_s)
    depart = np.array(
        [to_epoch_s(person.depart, ground.scene.zone, where="depart") for person in job.people]
    )
    courses, begins = _courses(ground, job, depart, sky)
    going = [row for row, course in enumerate(courses) if course is not None]
    if not going:
        rows = people_table(job, ground, depart, [], None, [], [], [])
        return PeoplePart(job.number, rows, counted([]))
    ways = [course for course in courses if course is not None]
    walkers = _walkers(job, going)
    ways_depart = depart[going]
    beside = [beside_traffic(ground.scene.streets, way) for way in ways]

    def walk(rows: list[int], stops: list[list[Stop]]) -> Apart:
        return walk_apart(
            [ways[row] for row in rows],
            _some(walkers, rows),
            manner=ground.scene.manner,
            conditions=sky,
            depart_epoch_s=ways_depart[rows],
            stops=stops,
            beside_traffic=[beside[row] for row in rows],
        )

    every = list(range(len(ways)))
    walked = walk(every, [[] for _ in ways])
    stops = [
        _stops(
            ground,
            job.people[going[row]],
            way,
            begins[going[row]],
            walked,
            row,
            walkers,
            float(ways_depart[row]),
        )
        for row, way in enumerate(ways)
    ]
    again = [row for row in every if stops[row]]
    if again:
        walked = walked.put(again, walk(again, [stops[row] for row in again]))
    care = [_calls_for_care(job.people[row]) for row in going]
    refills = [len(each) for each in stops]
    loads = [_load(job.people[row].bag)[0] for row in going]
    crowd = Crowd(
        walkers,
        1,
        ways_depart,
        carried_clo=np.array([load.warmth_clo for load in loads]),
        kept_dry=np.array([load.rainwear > 0 for load in loads]),
    )
    walks = arrivals_of(
        ground.scene,
        crowd,
        walked.outcome,
        conditions=sky,
        length_m=np.array([way.length_m for way in ways]),
        in_the_open=np.zeros(len(ways), dtype=bool),
    )
    rows = people_table(job, ground, depart, going, walks, refills, ways, care)
    return PeoplePart(
        job.number, rows, counted(events_of(ground, ways, walked, stops, ways_depart))
    )


def _calls_for_care(person: Person) -> bool:
    """Whether the verdict hangs on something unknown, a heavy bag or an age beyond the models."""
    load, unknown = _load(person.bag)
    heavy = load.mass_kg > LOAD_CARE_SHARE * person.mass_kg
    return unknown or heavy or is_beyond_age(person.age_y)


def _courses(
    ground: SharedGround, job: Job, depart: NDArray[np.float64], sky: Conditions
) -> tuple[list[Course | None], list[float]]:
    """Find everyone's way: one fan of ways for all who leave one place at one time."""
    scene = ground.scene
    courses: list[Course | None] = [None] * len(job.people)
    begins = [0.0] * len(job.people)
    fans: dict[tuple[int, float, float], Fan] = {}
    for row, (start, home) in enumerate(zip(job.start, job.home, strict=True)):
        if start[0] < 0 or home[0] < 0 or start == home:
            continue
        key = (*start, float(depart[row]))
        if key not in fans:
            fans.clear()  # people stand in the order of their origins
            leaving = replace(
                scene,
                plan=scene.plan.with_changes(trip={"depart": job.people[row].depart}),
                depart_epoch_s=float(depart[row]),
                conditions=sky,
            )
            rounds = clock_rounds(leaving, ground.times, scene.closed, start, 0.0)
            *_, costs = islice(rounds, ROUNDS)
            fans[key] = Fan(scene.network, *costs.weighed, start, closed=costs.closed)
        path = fans[key].way_to(home)
        if path is not None:
            courses[row] = course_along(scene.streets, path)
            begins[row] = path.from_fraction
    return courses, begins


def _walkers(job: Job, going: list[int]) -> Walkers:
    """Put people into arrays, each with an own bag."""
    people = [job.people[row] for row in going]
    loads = [_load(person.bag)[0] for person in people]
    own = np.array([person.pace_factor for person in people])
    age = np.array([person.age_y for person in people])
    if job.plan.pace.age_sex:
        within = np.clip(age, PACE_AGE.low, PACE_AGE.high)
        own = own * np.asarray(pace.age_sex_factor(within, [person.sex for person in people]))
    return Walkers(
        mass_kg=np.array([person.mass_kg for person in people]),
        height_m=np.array([person.height_m for person in people]),
        age_y=np.clip(age, RESTING_AGE.low, RESTING_AGE.high),
        male=np.array([person.sex == "male" for person in people]),
        pace_factor=own,
        clothing_clo=np.array([person.clothing_clo for person in people]),
        bag_kg=np.array([load.mass_kg for load in loads]),
        water_ml=np.array([load.water_ml for load in loads]),
        capacity_ml=np.array([load.water_capacity_ml for load in loads]),
        treats_ml=np.array([load.treats_ml for load in loads]),
        food_kcal=np.array([load.energy_kcal for load in loads]),
        food_kg=np.array([load.food_mass_kg for load in loads]),
        light_s=np.array([HOUR_S * load.light_h for load in loads]),
        party=np.arange(len(people)),
    )


def _some(walkers: Walkers, rows: list[int]) -> Walkers:
    return replace(some_of(walkers, np.array(rows)), party=np.arange(len(rows)))


def _stops(
    ground: SharedGround,
    person: Person,
    way: Course,
    begins: float,
    walked: Apart,
    row: int,
    walkers: Walkers,
    depart_epoch_s: float,
) -> list[Stop]:
    """Fill bottles only in need, at the next place that can be relied on and is open."""
    need, water = walked.outcome.totals[Total.LOST_ML, row], walkers.water_ml[row]
    if need <= water or walkers.capacity_ml[row] <= 0.0:
        return []
    nearby = ground.reach.along(way, start_fraction=begins)
    taps = taps_near(ground.scene, nearby, (), has_key=_load(person.bag)[0].has_key)
    if not taps.stops:
        return []
    clock, lost = walked.clock_s[row][taps.step], walked.need_ml[row][taps.step]
    enterable = np.array(
        [
            ground.opening.may_enter(place, np.array([depart_epoch_s + float(passing)]))
            for place, passing in zip(taps.place.tolist(), clock.tolist(), strict=True)
        ]
    )
    stopping = who_stops(
        taps,
        need_ml=lost[:, None],
        end_need_ml=np.array([need]),
        start_ml=np.array([water]),
        capacity_ml=walkers.capacity_ml[row : row + 1],
        enterable=enterable,
        works=np.ones_like(enterable),
        follow_plan=False,
    )
    return [stop for stop, here in zip(taps.stops, stopping[:, 0].tolist(), strict=True) if here]


PART = 250
"""People in a part: what is kept when a run is broken off; changes no number."""

AHEAD = 2
"""Parts handed out for each worker at a time; bounds the memory."""


class Store(Protocol):
    """Keeps finished parts, so that a run that was broken off goes on from there."""

    def has(self, number: int) -> bool:
        """Say whether a part is finished."""

    def put(self, part: PeoplePart) -> None:
        """Keep a finished part."""


class Basis(NamedTuple):
    """What all the walks of a table rest on.

    Attributes
    ----------
    attribution : str
        Credit of map and heights, with its days.
    notes : tuple of str
        What the map does not say, in words.
    """

    attribution: str
    notes: tuple[str, ...]


def many(
    plan: Plan,
    people: Sequence[Person],
    store: Store,
    *,
    workers: int = 1,
    scheduler: str | None = None,
    size: int = PART,
    progress: Callable[[str], None] | None = None,
) -> Basis:
    """Walk a table of people home.

    Parameters
    ----------
    plan : Plan
        Map, weather, event and choices for all; its walker, bag and departure stand in for what
        rows leave out. Its walkers' limits hold for everyone.
    people : sequence of Person
        From `simulator.questions.many.read_people`.
    store : Store
        Gets every part as it is finished; parts it has are not done again.
    workers : int
        Processes on this machine; changes no number.
    scheduler : str, optional
        Address of a Dask scheduler to work on instead.
    size : int
        People in a part; changes no number.
    progress : callable, optional
        Told how many are done.

    Returns
    -------
    Basis
        What all these walks rest on.

    Raises
    ------
    InputError
        When the plan's files cannot be used, or the weather does not cover a departure.
    """
    tell = progress or (lambda _stage: None)
    tell("loading the map")
    scene = ground_of(plan).scene
    tell("placing people on the streets")
    jobs = [job for job in _jobs(plan, people, scene, size) if not store.has(job.number)]
    done = len(people) - sum(len(job.people) for job in jobs)
    with _executor(workers, scheduler) as (executor, hands):
        for part in _in_turn(jobs, executor, AHEAD * hands):
            store.put(part)
            done += len(part.rows)
            tell(f"walked {done:,} of {len(people):,} people home")
    return Basis(scene.streets.attribution, map_notes(scene.streets))


def _jobs(plan: Plan, people: Sequence[Person], scene: Scene, size: int) -> Iterator[Job]:
    """Cut the table into parts; who leaves the same place at the same time stays together."""
    starts = _snapped(scene, plan, np.array([person.start for person in people]))
    homes = _snapped(scene, plan, np.array([person.home for person in people]))
    depart = np.array([to_epoch_s(person.depart, scene.zone, where="depart") for person in people])
    first, last = float(depart.min()), float(depart.max())
    if first < scene.conditions.start_epoch_s and plan.weather.file is not None:
        _require_weather(plan, scene, first)
    order = np.lexsort((np.arange(len(people)), depart, starts.fraction, starts.segment))
    for number, begin in enumerate(range(0, order.size, size)):
        rows = order[begin : begin + size].tolist()
        yield Job(
            number=number,
            plan=plan,
            people=tuple(people[row] for row in rows),
            row=tuple(rows),
            start=tuple((int(starts.segment[row]), float(starts.fraction[row])) for row in rows),
            home=tuple((int(homes.segment[row]), float(homes.fraction[row])) for row in rows),
            first_epoch_s=first,
            last_epoch_s=last,
        )


def _require_weather(plan: Plan, scene: Scene, first_epoch_s: float) -> None:
    from simulator.home.scene import weather_of

    if not bool(weather_of(plan, scene.zone).at(first_epoch_s).known):
        raise InputError(
            str(plan.weather.file),
            "the weather begins after the first departure of the table; give a file that covers it",
        )


def _snapped(scene: Scene, plan: Plan, at: NDArray[np.float64]) -> Snaps:
    """Put places on the nearest streets of the largest piece of the network."""
    streets = scene.streets
    usable = (streets.open_forward | streets.open_backward) & ~scene.closed
    label = find_components(
        streets.tail[usable], streets.head[usable], streets.length_m[usable], nodes=streets.lon.size
    ).label
    return nearest_points(
        Shape(streets.lon, streets.lat, streets.tail, streets.head, streets.attribution),
        at[:, 0],
        at[:, 1],
        limit_m=plan.choices.snap_limit_m,
        allowed=usable & (label[streets.tail] == 0),
    )


@contextmanager
def _executor(workers: int, scheduler: str | None) -> Iterator[tuple[Executor | None, int]]:
    """Give who does the work: this process, several, or a Dask cluster."""
    if scheduler is not None:
        try:
            from distributed import Client
        except ImportError:
            where = "--scheduler"
            problem = "needs the package distributed; install it, or use --workers"
            raise InputError(where, problem) from None
        try:
            with Client(scheduler, timeout="10s") as client:
                hands = max(len(client.ncores()), 1)
                yield client.get_executor(), hands
        except OSError as error:
            where = "--scheduler"
            raise InputError(where, f"found no scheduler at {scheduler!r}: {error}") from None
    elif workers > 1:
        with ProcessPoolExecutor(workers) as pool:
            yield pool, workers
    else:
        yield None, 1


def _in_turn(jobs: Sequence[Job], executor: Executor | None, ahead: int) -> Iterator[PeoplePart]:
    """Give parts as they are finished, with few under way at a time."""
    if executor is None:
        yield from map(walk_part, jobs)
        return
    waiting: set[Future[PeoplePart]] = set()
    for job in jobs:
        waiting.add(executor.submit(walk_part, job))
        if len(waiting) >= ahead:
            finished, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            yield from (future.result() for future in finished)
    while waiting:
        finished, waiting = wait(waiting, return_when=FIRST_COMPLETED)
        yield from (future.result() for future in finished)
