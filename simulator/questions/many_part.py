"""One part of a table of people, walked home: what a worker does, here or on another machine."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.bag.items import carried, read_items
from simulator.body import pace
from simulator.body.energy import J_PER_KCAL
from simulator.body.water import body_area_m2
from simulator.questions.afoot import on_foot, worst_of
from simulator.questions.crowd_stops import Hours, taps_near, who_stops
from simulator.questions.many_table import (
    Ground,
    Job,
    Part,
    counted,
    events_of,
    people_table,
)
from simulator.questions.party import PACE_AGE, RESTING_AGE, is_beyond_age
from simulator.questions.reach import Reach
from simulator.questions.scene import LONGEST_WALK_H, prepare, weather_of
from simulator.questions.summary import JUDGED
from simulator.questions.ways import Times, clock_rounds
from simulator.route.fan import Fan
from simulator.sky.clock import to_epoch_s
from simulator.walk.apart import Apart, walk_apart
from simulator.walk.conditions import Conditions, conditions_over
from simulator.walk.course import Course, course_along
from simulator.walk.manner import street_times_s
from simulator.walk.records import Total, Walkers, some_of
from simulator.walk.verdict import LOAD_CARE_SHARE

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from simulator.bag.items import Carried
    from simulator.plan import Plan
    from simulator.questions.people import Person
    from simulator.walk.records import Stop

HOUR_S = 3600.0
BUSY = 2
"""Traffic code of busy roads."""

ROUNDS = 3
"""Costs of the streets by day, and corrected twice by the hour of arrival."""


@lru_cache(maxsize=1)
def ground_of(plan: Plan) -> Ground:
    """Load what all people share, once in every process.

    Parameters
    ----------
    plan : Plan
        Map, weather, event and choices.

    Returns
    -------
    Ground
        Kept for the next part.
    """
    scene = prepare(plan)
    streets, manner = scene.streets, scene.manner
    return Ground(
        scene=scene,
        times=Times(*street_times_s(streets, manner), *street_times_s(streets, manner, dark=True)),
        reach=Reach(
            scene.places, streets, closed=scene.closed, reach_m=plan.choices.refill_reach_m
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


def walk_part(job: Job) -> Part:
    """Walk some people home.

    Parameters
    ----------
    job : Job
        Who, and on which ground.

    Returns
    -------
    Part
        The same wherever it is worked out.
    """
    ground = ground_of(job.plan)
    sky = _sky(job.plan, job.first_epoch_s, job.last_epoch_s)
    depart = np.array(
        [to_epoch_s(person.depart, ground.scene.zone, where="depart") for person in job.people]
    )
    courses, begins = _courses(ground, job, depart, sky)
    going = [row for row, course in enumerate(courses) if course is not None]
    if not going:
        rows = people_table(job, ground, depart, [], None, sky, [], [], [], np.zeros(0))
        return Part(job.number, rows, counted([]))
    ways = [course for course in courses if course is not None]
    walkers = _walkers(job, going)
    ways_depart = depart[going]
    sides = ground.scene.streets.ways.sidewalk
    beside = [(way.traffic == BUSY) & ~sides[way.way] for way in ways]

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
        walked = _put(walked, again, walk(again, [stops[row] for row in again]))
    care = [_calls_for_care(job.people[row]) for row in going]
    refills = [len(each) for each in stops]
    foot = _foot_short(walked, walkers, [job.people[row].bag for row in going], ways_depart, sky)
    rows = people_table(job, ground, depart, going, walked, sky, refills, ways, care, foot)
    return Part(job.number, rows, counted(events_of(ground, ways, walked, stops, ways_depart)))


@lru_cache(maxsize=1024)
def _keeps_dry(path: Path | None) -> bool:
    return path is not None and "shelter" in read_items(path).purpose


def _foot_short(
    walked: Apart,
    walkers: Walkers,
    bags: list[Path | None],
    depart_epoch_s: NDArray[np.float64],
    sky: Conditions,
) -> NDArray[np.float64]:
    """Say what clothes each lacks on foot, at the walk's mean metabolic rate [clo]."""
    elapsed_s = walked.totals[Total.CLOCK_S]
    rate_w = walked.totals[Total.ENERGY_KCAL] * J_PER_KCAL / elapsed_s
    found = on_foot(
        sky,
        depart_epoch_s,
        elapsed_s,
        rate_w / body_area_m2(walkers.mass_kg, walkers.height_m),
        walkers.clothing_clo,
        np.array([_load(bag)[0].warmth_clo for bag in bags]),
        kept_dry=np.array([_keeps_dry(bag) for bag in bags]),
    )
    return worst_of(found.lack_clo)


def _calls_for_care(person: Person) -> bool:
    """Whether the verdict hangs on something unknown, a heavy bag or an age beyond the models."""
    load, unknown = _load(person.bag)
    heavy = load.mass_kg > LOAD_CARE_SHARE * person.mass_kg
    return unknown or heavy or is_beyond_age(person.age_y)


def _courses(
    ground: Ground, job: Job, depart: NDArray[np.float64], sky: Conditions
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
                scene.network, costs.forward_s, costs.backward_s, start, closed=costs.closed
            )
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
    ground: Ground,
    person: Person,
    way: Course,
    begins: float,
    walked: Apart,
    row: int,
    walkers: Walkers,
    depart_epoch_s: float,
) -> list[Stop]:
    """Fill bottles only in need, at the next place that can be relied on and is open."""
    need, water = walked.totals[Total.LOST_ML, row], walkers.water_ml[row]
    if need <= water or walkers.capacity_ml[row] <= 0.0:
        return []
    nearby = ground.reach.along(way, start_fraction=begins)
    taps = taps_near(ground.scene, nearby, (), has_key=_load(person.bag)[0].has_key)
    if not taps.stops:
        return []
    clock, lost = walked.clock_s[row][taps.step], walked.lost_ml[row][taps.step]
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


def _put(walked: Apart, rows: list[int], again: Apart) -> Apart:
    """Put walks that were walked again in their places."""
    columns: dict[str, Any] = {}
    for name in Apart.__slots__:
        old, new = getattr(walked, name), getattr(again, name)
        if isinstance(old, tuple):
            held = list(old)
            for row, value in zip(rows, new, strict=True):
                held[row] = value
            columns[name] = tuple(held)
        else:
            columns[name] = old.copy()
            columns[name][..., rows] = new
    return Apart(**columns)
