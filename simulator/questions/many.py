"""How do all these people get home? A table of people on one map, by any number of workers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import numpy as np
import pandas as pd

from simulator.bag.items import carried, read_items
from simulator.body.effort import pace_by_age
from simulator.errors import InputError
from simulator.ground.snap import Shape, nearest_points
from simulator.ground.streets import find_components
from simulator.home.crowd import (
    LEAST_ML,
    STOP_ROUNDS,
    Chooser,
    Hours,
    Rounds,
    arrivals_of,
)
from simulator.home.crowd_records import Arrivals, Crowd, StopChoice
from simulator.home.refills import RELIED_ON_SHARE, Met, Passed, passed_of, stop_at
from simulator.home.scene import (
    LONGEST_WALK_H,
    fitness_of,
    level_share,
    own_pace_factor,
    prepare,
    weather_of,
)
from simulator.home.summary import JUDGED
from simulator.home.unknown_heights import map_notes
from simulator.home.verdict import (
    LEVELS,
    NO_VERDICT,
    account_of,
    findings_of_arrivals,
    levels_of,
)
from simulator.home.way import Times, clock_rounds, street_times
from simulator.questions.people import Person, Unread
from simulator.route.crossings import Crossings
from simulator.route.search import Fan
from simulator.sky.clock import to_epoch_s
from simulator.units import HOUR_S
from simulator.walk.conditions import Conditions, conditions_over
from simulator.walk.course import Course, alike, beside_traffic, coarse, course_along
from simulator.walk.engine import Apart, walk_apart
from simulator.walk.ledger import local_time
from simulator.walk.records import Total, Walkers, some_of
from simulator.walk.stops import Reach, both_ways

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from simulator.bag.items import Carried, Items
    from simulator.ground.snap import Snaps
    from simulator.home.scene import Scene
    from simulator.plan import Plan
    from simulator.walk.records import Stop
    from simulator.walk.stops import Nearby


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
        ``PASSED``: how many pass what in which hour.
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
    crossings : Crossings
        The physical bridges and fords of the map.
    """

    scene: Scene
    times: Times
    reach: Reach
    opening: Hours
    crossings: Crossings


COLUMNS = {
    "row": "int64",
    "id": "str",
    "depart": "str",
    "status": "str",
    "reason": "str",
    "verdict": "str",
    "arrive": "str",
    "arrives_after_dark": "bool",
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
    dark: list[bool],
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
                "reason": _why(job, row, status),
            }
        )
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    if walks is None:
        return _typed(table)
    arrive = depart[going] + walks.elapsed_s
    short_of, short_from_h = account_of(walks).first()
    level = levels_of(findings_of_arrivals(walks, event=ground.scene.plan.event.kind))
    level[walks.limits_left] = NO_VERDICT
    cared = np.array(care, dtype=bool)
    night = walks.elapsed_s > HOUR_S * job.plan.choices.longest_day_h
    level = np.where((level == 0) & (cared | night), np.int8(1), level)
    columns: dict[str, list[Any]] = {
        "status": ["home" if lev >= 0 else "not known" for lev in level.tolist()],
        "reason": ["" if lev >= 0 else NOT_KNOWN for lev in level.tolist()],
        "verdict": [LEVELS[lev] if lev >= 0 else "" for lev in level.tolist()],
        "arrive": [local_time(when, zone).isoformat() for when in arrive.tolist()],
        "arrives_after_dark": dark,
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
        "bridges": [
            "; ".join(ground.crossings.name[one] for one in crossed(ground, way)) for way in ways
        ],
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


NOT_KNOWN = "the weather ends before the walk does, or a body model does not answer"
"""Why a walk has no verdict."""


def _why(job: Job, row: int, status: str) -> str:
    """Say why somebody does not walk."""
    if status == "no way home":
        return "no walkable way joins start and home on this map"
    if status == "no street near":
        lost = [name for name, at in (("start", job.start), ("home", job.home)) if at[row][0] < 0]
        limit_m = job.plan.choices.snap_limit_m
        return f"no street within {limit_m:g} m of {' and '.join(lost)} (choices.snap_limit_m)"
    return "start and home are the same place on the streets" if status == "at home" else ""


def _of_rows(rows: Sequence[Mapping[str, object]]) -> pd.DataFrame:
    return _typed(pd.DataFrame(rows, columns=list(COLUMNS)))


NOT_READ = "not read"
"""Status of a row with a fault."""


def crossed(ground: SharedGround, way: Course) -> dict[int, int]:
    """Give each physical crossing that a way uses, once, and the step that first comes onto it."""
    of_step = ground.crossings.of_segment[way.segment]
    numbers, steps = np.unique(of_step, return_index=True)
    order = np.argsort(steps)
    pairs = zip(numbers[order].tolist(), steps[order].tolist(), strict=True)
    return {number: step for number, step in pairs if number >= 0}


PASSED: Mapping[str, str] = {
    "kind": "str",
    "name": "str",
    "ways": "str",
    "lat": "float64",
    "lon": "float64",
    "hour": "str",
    "people": "int64",
}
"""Columns of what is passed and their types: ``kind`` is crossing, refill or shelter; ``ways`` are
numbers of OpenStreetMap, of the ways of a crossing or of the place itself; ``hour`` is ISO 8601,
local."""

Event = tuple[str, int, float]
"""Kind, number of crossing or place (-1 for a night in the open), and when."""


def events_of(
    ground: SharedGround,
    ways: list[Course],
    walked: Apart,
    stops: list[list[Stop]],
    depart: NDArray[np.float64],
) -> list[Event]:
    """List who passes which crossing and fills bottles where, and when."""
    events: list[Event] = []
    for row, way in enumerate(ways):
        when = depart[row] + walked.clock_s[row]
        events += [
            ("crossing", number, float(when[step])) for number, step in crossed(ground, way).items()
        ]
        events += [("refill", stop.place, float(when[stop.step])) for stop in stops[row]]
    return events


def shelter_events(
    ground: SharedGround,
    ways: list[Course],
    begins: list[float],
    walked: Apart,
    elapsed_s: NDArray[np.float64],
    depart: NDArray[np.float64],
) -> list[Event]:
    """Say where those whose day is too long are when it ends: the last shelter before that."""
    places, event = ground.scene.places, ground.scene.plan.event.kind
    limit_s = HOUR_S * ground.scene.plan.choices.longest_day_h
    share = places.works_in(event)
    events: list[Event] = []
    for row in np.flatnonzero(elapsed_s > limit_s).tolist():
        nearby = ground.reach.along(ways[row], start_fraction=begins[row])
        when_s = walked.clock_s[row][nearby.step]
        found = [
            (float(at_s), place)
            for at_s, place in zip(when_s.tolist(), nearby.place.tolist(), strict=True)
            if at_s <= limit_s
            and "shelter" in places.gives[place]
            and share[place] >= RELIED_ON_SHARE
            and bool(ground.opening.may_enter(place, np.array([depart[row] + at_s])).all())
        ]
        at_s, place = max(found, default=(limit_s, -1))
        events.append(("shelter", place, float(depart[row] + at_s)))
    return events


QUARTER_S = 900.0
"""All time zones in use differ from UTC by whole quarters of an hour [s]."""


def counted(ground: SharedGround, events: Sequence[Event]) -> pd.DataFrame:
    """Count people by what they pass and in which clock hour."""
    zone = ground.scene.zone
    quarters = {int(when // QUARTER_S) for _, _, when in events}
    hours = {
        quarter: local_time(QUARTER_S * quarter, zone)
        .replace(minute=0, second=0, microsecond=0)
        .isoformat()
        for quarter in quarters
    }
    counts = Counter((kind, number, hours[int(when // QUARTER_S)]) for kind, number, when in events)
    return _table_of(
        [
            (kind, *_known_as(ground, kind, number), hour, people)
            for (kind, number, hour), people in counts.items()
        ]
    )


def _known_as(ground: SharedGround, kind: str, number: int) -> tuple[str, str, float, float]:
    """Give name, numbers on the map and position of what is passed."""
    if kind == "crossing":
        crossings = ground.crossings
        ways = " ".join(map(str, crossings.way_ids[number]))
        at = float(crossings.lat[number]), float(crossings.lon[number])
        return crossings.name[number], ways, *at
    if number < 0:
        return "in the open, no shelter in time", "", np.nan, np.nan
    places = ground.scene.places
    name = places.name[number] or f"{places.kind[number]} {places.osm[number]}"
    return name, str(places.osm[number]), float(places.lat[number]), float(places.lon[number])


def _table_of(rows: Sequence[tuple[object, ...]]) -> pd.DataFrame:
    table = pd.DataFrame(rows, columns=list(PASSED)).astype(dict(PASSED))
    return table.sort_values(["kind", "name", "ways", "hour"], ignore_index=True)


ROUNDS = 3
"""Costs of the streets by day, and corrected twice by the hour of arrival."""


@lru_cache(maxsize=1)
def ground_of(plan: Plan) -> SharedGround:
    """Load what all people share, once in every process."""
    scene = prepare(plan)
    # How the plan's own walker takes slopes says nothing of others.
    scene = replace(scene, manner=replace(scene.manner, slope_response=1.0))
    return SharedGround(
        scene=scene,
        times=street_times(scene, pace_factor=1.0),
        reach=Reach(
            scene.places,
            scene.streets,
            walkable=both_ways(scene.streets, scene.closed),
            reach_m=plan.choices.refill_reach_m,
            rows=np.arange(scene.places.segment.size),
        ),
        opening=Hours(scene),
        crossings=scene.ground.crossings,
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
def _load(path: Path | None) -> tuple[Carried, Items | None, bool]:
    """Add a bag up; also whether the verdict hangs on something unknown in it."""
    items = None if path is None else read_items(path)
    load = carried(items)
    unknown = {text.split(" ", 1)[0] for text in load.unknown}
    return load, items, path is None or bool(unknown & JUDGED)


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
        rows = people_table(job, ground, depart, [], None, [], [], [], [])
        return PeoplePart(job.number, rows, counted(ground, []))
    ways = [course for course in courses if course is not None]
    walkers = _walkers(ground.scene, job, going)
    ways_depart = depart[going]
    beside = [beside_traffic(ground.scene.streets, way) for way in ways]

    def walk(rows: NDArray[np.intp], stops: list[list[Stop]], *, quick: bool = False) -> Apart:
        return walk_apart(
            [coarse(ways[row]) if quick else ways[row] for row in rows.tolist()],
            _some(walkers, rows),
            manner=ground.scene.manner,
            conditions=sky,
            depart_epoch_s=ways_depart[rows],
            stops=stops,
            beside_traffic=[beside[row] for row in rows.tolist()],
        )

    def passing(row: int) -> Nearby:
        return ground.reach.along(ways[row], start_fraction=begins[going[row]])

    bags = [job.people[row].bag for row in going]
    crowd = Crowd(walkers, 1, ways_depart)
    walked, stops = _settle(_thirsty(ground, sky, crowd, bags, passing, walk), len(bags), walk)
    care = [_calls_for_care(job.people[row]) for row in going]
    refills = [len(each) for each in stops]
    loads = [_load(job.people[row].bag)[0] for row in going]
    crowd = Crowd(
        walkers,
        1,
        ways_depart,
        carried_clo=np.array([load.walking_clo for load in loads]),
        kept_dry=np.array([load.rainwear > 0 for load in loads]),
    )
    walks = arrivals_of(
        ground.scene,
        crowd,
        walked.outcome,
        conditions=sky,
        ways=ways,
        in_the_open=np.zeros(len(ways), dtype=bool),
    )
    dark = sky.at(ways_depart + walks.elapsed_s).night.tolist()
    rows = people_table(job, ground, depart, going, walks, refills, ways, care, dark)
    events = events_of(ground, ways, walked, stops, ways_depart)
    events += shelter_events(
        ground, ways, [begins[row] for row in going], walked, walks.elapsed_s, ways_depart
    )
    return PeoplePart(job.number, rows, counted(ground, events))


def _calls_for_care(person: Person) -> bool:
    """Whether the verdict hangs on something unknown."""
    return _load(person.bag)[2]


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
            fans[key] = Fan(
                scene.network, *costs.weighed, start, closed=costs.closed, waits=costs.waits
            )
        path = fans[key].way_to(home)
        if path is not None:
            courses[row] = alike(course_along(scene.streets, path))
            begins[row] = path.from_fraction
    return courses, begins


def _walkers(scene: Scene, job: Job, going: list[int]) -> Walkers:
    """Put people into arrays, each with an own bag."""
    people = [job.people[row] for row in going]
    loads = [_load(person.bag)[0] for person in people]
    age = np.array([person.age_y for person in people])
    male = np.array([person.sex == "male" for person in people])
    by_age = np.asarray(pace_by_age(age, male)) if job.plan.pace.age_sex else np.ones(age.size)
    # A pace of one's own shows one's age already.
    fitted = scene.own[0] if scene.own else None
    own = [
        own_pace_factor(job.plan, 0, fitted)
        if person.timed
        else person.pace_factor
        * (
            share
            if person.level_km_h is None
            else level_share(person.level_km_h, model=job.plan.pace.model)
        )
        for person, share in zip(people, by_age.tolist(), strict=True)
    ]
    return Walkers(
        mass_kg=np.array([person.mass_kg for person in people]),
        height_m=np.array([person.height_m for person in people]),
        age_y=age,
        male=male,
        pace_factor=np.array(own),
        clothing_clo=np.array([person.clothing_clo for person in people]),
        bag_kg=np.array([load.mass_kg for load in loads]),
        water_ml=np.array([load.water_ml for load in loads]),
        capacity_ml=np.array([load.water_capacity_ml for load in loads]),
        treats_ml=np.array([load.treats_ml for load in loads]),
        food_kcal=np.array([load.energy_kcal for load in loads]),
        food_kg=np.array([load.food_mass_kg for load in loads]),
        light_s=np.array([HOUR_S * load.light_h for load in loads]),
        party=np.arange(len(people)),
        windproof=np.array(
            [
                1.0 if load.windproof > 0 else np.nan if said is None else float(said)
                for load, said in zip(loads, [one.windproof for one in people], strict=True)
            ]
        ),
        capacity_factor=np.array(
            [
                fitness_of(
                    one.capacity_ml_kg_min, mass_kg=one.mass_kg, age_y=one.age_y, sex=one.sex
                )
                for one in people
            ]
        ),
    )


def _some(walkers: Walkers, rows: NDArray[np.intp]) -> Walkers:
    return replace(some_of(walkers, rows), party=np.arange(rows.size))


def _settle(
    parties: list[_AlikePacked], count: int, walk: Callable[..., Apart]
) -> tuple[Apart, list[list[Stop]]]:
    """Let everyone walk until stops and arrival times agree, as the plan does.

    All walk side by side, whatever bag they carry; who has come to rest does not walk again.
    """
    stops: list[list[Stop]] = [[] for _ in range(count)]
    active = np.arange(count)
    walked: Apart | None = None
    for _ in range(STOP_ROUNDS):
        among = [np.flatnonzero(np.isin(each.row, active)) for each in parties]
        for each, some in zip(parties, among, strict=True):
            each.put_stops(stops, some)
        now = walk(active, [stops[row] for row in active.tolist()])
        walked = now if walked is None else walked.put(active.tolist(), now)
        again = [
            each.row[each.correct(some, now.some(np.searchsorted(active, each.row[some])))]
            for each, some in zip(parties, among, strict=True)
            if some.size
        ]
        active = np.sort(np.concatenate([np.empty(0, dtype=np.intp), *again]))
        if active.size == 0:
            break
    if walked is None:
        message = "nobody walks"
        raise ValueError(message)
    return walked, stops


def _thirsty(
    ground: SharedGround,
    sky: Conditions,
    crowd: Crowd,
    bags: list[Path | None],
    passing: Callable[[int], Nearby],
    walk: Callable[..., Apart],
) -> list[_AlikePacked]:
    """Find who needs more water than is carried, by bag, and where each would first stop for it."""
    walkers = crowd.walkers
    able = np.flatnonzero(walkers.capacity_ml > 0.0)
    if able.size == 0:
        return []
    first = walk(able, [[] for _ in able], quick=True)
    need_ml = first.outcome.totals[Total.LOST_ML]
    by_bag: dict[Path | None, list[int]] = {}
    for at in np.flatnonzero(need_ml > walkers.water_ml[able]).tolist():
        by_bag.setdefault(bags[able[at]], []).append(at)
    parties = []
    for bag, positions in by_bag.items():
        those = np.array(positions)
        rows = able[those]
        load, items, _unknown = _load(bag)
        chooser = Chooser(replace(ground.scene, items=items, carried=load), sky, ground.opening)
        some = crowd.some(rows)
        met = Met.each([passing(row) for row in rows.tolist()])
        _relied, choice = chooser.choose(some, met, _passed(first.some(those), met))
        count = rows.size
        parties.append(
            _AlikePacked(
                row=rows,
                crowd=some,
                chooser=chooser,
                met=met,
                choice=choice,
                rounds=Rounds(count),
                worth=np.zeros((3, count)),
                final=np.zeros(count, dtype=bool),
            )
        )
    return parties


@dataclass(frozen=True, slots=True)
class _AlikePacked:
    """People with one bag, and where each stops for water; their choice is corrected in place."""

    row: NDArray[np.intp]
    crowd: Crowd
    chooser: Chooser
    met: Met
    choice: StopChoice
    rounds: Rounds
    worth: NDArray[np.float64]
    final: NDArray[np.bool_]

    def put_stops(self, stops: list[list[Stop]], some: NDArray[np.intp]) -> None:
        """Turn the choices of some into stops, in their places among all people."""
        kit = self.chooser.kit(self.crowd)
        for walk in some.tolist():
            stops[int(self.row[walk])] = [
                replace(
                    stop_at(
                        self.chooser.scene,
                        kit,
                        1,
                        place=int(self.met.place[place, walk]),
                        step=int(self.met.step[place, walk]),
                        off_m=float(self.met.off_m[place, walk]),
                        method=int(self.choice.method[place, walk]),
                        carried_on=bool(self.choice.carried_on[place, walk]),
                    ),
                    ahead_ml=float(self.choice.ahead_ml[place, walk]),
                )
                for place in np.flatnonzero(self.choice.key[:, walk]).tolist()
            ]

    def correct(self, some: NDArray[np.intp], walked: Apart) -> NDArray[np.intp]:
        """Correct the choices of some by how they walked; give those who must walk again."""
        there, crowd, mine = self.met.some(some), self.crowd.some(some), self.choice.some(some)
        relied, again = self.chooser.choose(crowd, there, _passed(walked, there))
        short = np.rint(walked.outcome.worst_short_ml / LEAST_ML)
        broken = ((mine.key > 0) & ~relied).sum(axis=0)
        self.worth[:, some] = [broken, short, walked.outcome.totals[Total.CLOCK_S]]
        every = np.arange(self.row.size)
        self.rounds.add(self.choice.some(every), self.worth.copy())
        number = len(self.rounds.choices) - 1
        wanted = self.choice.some(every)
        wanted.put(some, again)
        rest = np.where(self.final, number, self.rounds.rest(wanted))[some]
        for earlier in np.unique(rest[(rest >= 0) & (rest < number)]).tolist():
            back = some[rest == earlier]
            self.choice.put(back, self.rounds.choices[earlier].some(back))
            self.final[back] = True
        new = some[rest < 0]
        self.choice.put(new, wanted.some(new))
        going_on: NDArray[np.intp] = some[rest != number]
        return going_on


def _passed(walked: Apart, met: Met) -> Passed:
    """Read when and how thirsty people reach the places they pass."""
    clock_s, need_ml = (
        np.array([each[step] for each, step in zip(column, met.step.T, strict=True)]).T
        for column in (walked.clock_s, walked.need_ml)
    )
    return passed_of(
        walked.outcome, clock_s.reshape(met.step.shape), need_ml.reshape(met.step.shape), members=1
    )


SMALLEST_PART, LARGEST_PART, PARTS = 250, 1_000, 4
"""Least and most people in a part, and parts that a small table is cut into. A part is walked side
by side, so that a large one costs each person less; it is what is kept of a run broken off."""


def part_size(people: int) -> int:
    """Say how many people make a part; changes no number.

    Parameters
    ----------
    people : int
        All of the table.

    Returns
    -------
    int
        The same for the same table, whoever works on it.
    """
    return max(SMALLEST_PART, min(LARGEST_PART, -(-people // PARTS)))


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
    unread: Sequence[Unread] = (),
    workers: int = 1,
    scheduler: str | None = None,
    size: int | None = None,
    progress: Callable[[str], None] | None = None,
) -> Basis:
    """Walk a table of people home.

    Parameters
    ----------
    plan : Plan
        Map, weather, event and choices for all; its walker, bag and departure stand in for what
        rows leave out. Its walkers' limits hold for everyone.
    people : sequence of Person
        From `simulator.questions.people.read_people`.
    store : Store
        Gets every part as it is finished; parts it has are not done again.
    unread : sequence of Unread
        Rows of the table that cannot be walked; they keep their place in the answer.
    workers : int
        Processes on this machine; changes no number.
    scheduler : str, optional
        Address of a Dask scheduler to work on instead.
    size : int
        People in a part; as `part_size` says when left out. Changes no number.
    progress : callable, optional
        Told how many are done.

    Returns
    -------
    Basis
        What all these walks rest on.

    Raises
    ------
    InputError
        When the plan's files cannot be used, the weather covers no departure, or a process of the
        work was ended; finished parts are kept.
    """
    tell = progress or (lambda _stage: None)
    size = size or part_size(len(people))
    tell("loading the map")
    scene = ground_of(plan).scene
    tell("placing people on the streets")
    held = {one.row for one in unread}
    places = [row for row in range(len(people) + len(held)) if row not in held]
    covered = _covered(plan, scene, people)
    walking = [row for row, known in enumerate(covered) if known]
    jobs = [
        job
        for job in _jobs(
            plan, [people[row] for row in walking], [places[row] for row in walking], scene, size
        )
        if not store.has(job.number)
    ]
    last = -(-len(walking) // size)
    others = [
        {"row": one.row, "id": one.id, "status": NOT_READ, "reason": one.reason} for one in unread
    ] + [
        {
            "row": places[row],
            "id": people[row].id,
            "status": "not known",
            "reason": "the weather does not cover the departure",
        }
        for row, known in enumerate(covered)
        if not known
    ]
    if others and not store.has(last):
        store.put(PeoplePart(last, _of_rows(others), _table_of([])))
    done = len(people) - sum(len(job.people) for job in jobs)
    try:
        with _executor(workers, scheduler) as (executor, hands):
            for part in _in_turn(jobs, executor, AHEAD * hands):
                store.put(part)
                done += len(part.rows)
                tell(f"walked {done:,} of {len(people):,} people home")
    except BrokenExecutor:
        where = "--workers"
        problem = "a process was ended, perhaps for want of memory; run it again with fewer"
        raise InputError(where, f"{problem}: finished parts are kept") from None
    return Basis(scene.streets.attribution, map_notes(scene.streets))


def _jobs(
    plan: Plan, people: Sequence[Person], places: Sequence[int], scene: Scene, size: int
) -> Iterator[Job]:
    """Cut the table into parts; who leaves the same place at the same time stays together."""
    starts = _snapped(scene, plan, np.array([person.start for person in people]))
    homes = _snapped(scene, plan, np.array([person.home for person in people]))
    depart = np.array([to_epoch_s(person.depart, scene.zone, where="depart") for person in people])
    first, last = float(depart.min()), float(depart.max())
    order = np.lexsort((np.arange(len(people)), depart, starts.fraction, starts.segment))
    for number, begin in enumerate(range(0, order.size, size)):
        rows = order[begin : begin + size].tolist()
        yield Job(
            number=number,
            plan=plan,
            people=tuple(people[row] for row in rows),
            row=tuple(places[row] for row in rows),
            start=tuple((int(starts.segment[row]), float(starts.fraction[row])) for row in rows),
            home=tuple((int(homes.segment[row]), float(homes.fraction[row])) for row in rows),
            first_epoch_s=first,
            last_epoch_s=last,
        )


def _covered(plan: Plan, scene: Scene, people: Sequence[Person]) -> list[bool]:
    """Say whose departure the weather knows."""
    depart = [to_epoch_s(person.depart, scene.zone, where="depart") for person in people]
    known = np.asarray(weather_of(plan, scene.zone).at(np.array(depart)).known)
    covered: list[bool] = known.tolist()
    if not any(covered):
        problem = "covers none of the table's departures; give a file that does"
        raise InputError(str(plan.weather.file), problem)
    return covered


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
