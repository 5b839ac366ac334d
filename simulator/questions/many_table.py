"""What became of people, in rows and in counts of what they pass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simulator.questions.crowd_records import Arrivals
from simulator.questions.verdicts import verdict_levels
from simulator.walk.ledger import local_time
from simulator.walk.records import HOURLY, PASSING, Total
from simulator.walk.verdict import LEVELS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.plan import Plan
    from simulator.questions.crowd_stops import Hours
    from simulator.questions.people import Person
    from simulator.questions.reach import Reach
    from simulator.questions.scene import Scene
    from simulator.questions.ways import Times
    from simulator.walk.apart import Apart
    from simulator.walk.conditions import Conditions
    from simulator.walk.course import Course
    from simulator.walk.records import Stop

HOUR_S = 3600.0


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
class Part:
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
class Ground:
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
    "refills": "float64",
    "bridges": "str",
    "needs_a_night_halt": "bool",
}
"""Columns of the people's results and their types; text is empty and numbers are NaN where there
is no walk."""


def _arrivals(
    walked: Apart,
    walkers_kg: NDArray[np.float64],
    end: NDArray[np.bool_],
    foot_short_clo: NDArray[np.float64],
) -> Arrivals:
    """Give the walks as the verdict reads them; night halts are not walked here."""
    total = walked.totals
    count = total.shape[1]
    none, never = np.full(count, np.nan), np.full(count, np.inf)
    return Arrivals(
        elapsed_s=total[Total.CLOCK_S],
        dark_s=total[Total.DARK_S],
        unlit_s=total[Total.LIGHT_NEED_S],
        light_short_s=total[Total.LIGHT_NEED_S] - total[Total.LIGHT_USED_S],
        loss_pct=walked.worst_deficit_ml / (10.0 * walkers_kg),
        short_ml=walked.worst_short_ml,
        first_short_s=walked.first_short_s,
        energy_short_kcal=total[Total.ENERGY_KCAL] - total[Total.EATEN_KCAL],
        food_out_s=never,
        light_out_s=walked.light_out_s,
        coldest_c=walked.coldest_felt_c,
        hottest_c=walked.hottest_felt_c,
        cold_from_s=never,
        hot_from_s=never,
        halt_h=none,
        halt_short_clo=none,
        foot_short_clo=foot_short_clo,
        halt_in_the_open=np.zeros(count, dtype=bool),
        busy_dark_km=walked.busy_dark_m / 1000.0,
        hourly=np.zeros((0, 1 + len(HOURLY), count)),
        profile=np.zeros((0, len(PASSING), count)),
        limits_left=~np.isfinite(total).all(axis=0) | end,
    )


def people_table(
    job: Job,
    ground: Ground,
    depart: NDArray[np.float64],
    going: list[int],
    walked: Apart | None,
    sky: Conditions,
    refills: list[int],
    ways: list[Course],
    care: list[bool],
    foot_short_clo: NDArray[np.float64],
) -> pd.DataFrame:
    """Put everyone into rows, with a way home or without.

    Parameters
    ----------
    job : Job
        Who.
    ground : Ground
        Zone, event and names.
    depart : (n,) float64
        Departures of everyone, seconds since 1970-01-01 UTC.
    going : list of int
        Who has a way home.
    walked : Apart or None
        How they walked; None when nobody does.
    sky : Conditions
        The weather, which may end too soon.
    refills : list of int
        Stops for water of each who walks.
    ways : list of Course
        Their ways.
    care : list of bool
        Whether something of the person or the bag calls for care on any walk.
    foot_short_clo : (g,) float64
        Clothes that each who walks lacks in the coldest hour on foot [clo].

    Returns
    -------
    pandas.DataFrame
        ``COLUMNS``, one row a person.
    """
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
    if walked is None:
        return _typed(table)
    leave = depart[going]
    arrive = leave + walked.totals[Total.CLOCK_S]
    mass = np.array([job.people[row].mass_kg for row in going])
    walks = _arrivals(walked, mass, arrive > sky.end_epoch_s, foot_short_clo)
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


def _bridges(ground: Ground, way: Course) -> dict[int, str]:
    """Name every bridge of a way, by the step at which one comes onto it."""
    ways = ground.scene.streets.ways
    onto = np.flatnonzero(way.bridge & ~np.r_[False, way.bridge[:-1]])
    names = {}
    for step in onto.tolist():
        row = int(way.way[step])
        names[step] = ways.bridge_name[row] or ways.name[row] or f"bridge {ways.osm_id[row]}"
    return names


def events_of(
    ground: Ground,
    ways: list[Course],
    walked: Apart,
    stops: list[list[Stop]],
    depart: NDArray[np.float64],
) -> list[tuple[str, str, str]]:
    """List who passes which bridge and fills bottles where, in which clock hour.

    Parameters
    ----------
    ground : Ground
        Names and zone.
    ways : list of Course
        Way of each who walks.
    walked : Apart
        When each step is reached.
    stops : list of list of Stop
        Stops of each.
    depart : (n,) float64
        Departures, seconds since 1970-01-01 UTC.

    Returns
    -------
    list of (str, str, str)
        Kind, name, hour.
    """
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
    """Count people by what they pass and when.

    Parameters
    ----------
    events : list of (str, str, str)
        Kind, name, hour.

    Returns
    -------
    pandas.DataFrame
        ``kind``, ``name``, ``hour``, ``people``.
    """
    table = pd.DataFrame(events, columns=["kind", "name", "hour"])
    counted = table.value_counts(["kind", "name", "hour"]).rename("people").reset_index()
    return counted.sort_values(["kind", "name", "hour"], ignore_index=True)
