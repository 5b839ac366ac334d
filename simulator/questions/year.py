"""When in the year is this bag enough? Every departure hour of a year against a typical year.

All hours are walked through the one engine at once, each with the sun and the weather of the hours
that it passes. The way is the plan's own at every hour.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from simulator.bag.items import carried, read_items
from simulator.errors import InputError
from simulator.home import verdict as one
from simulator.home.crowd import Hours, walk_crowd
from simulator.home.crowd_records import Arrivals, Crowd
from simulator.home.scene import LONGEST_WALK_H, Scene, prepare, walkers_of, weather_of, where_in
from simulator.home.unknown_heights import map_notes
from simulator.home.walk import walk_way
from simulator.home.way import Way, find_way
from simulator.questions.odds import judged, levels_of
from simulator.sky.weather_files import read_typical_year
from simulator.units import HOUR_S
from simulator.walk.account import What
from simulator.walk.conditions import Conditions, conditions_over
from simulator.walk.records import some_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from simulator.plan import Plan

WEEK = 7
FEWEST_IN_A_WEEK = 6
"""Days of the week around a day that must work for it to lie within the span: single bad days do
not end a season, two in a week do; an assumption."""


YEAR_DAYS = 365
MOST_CLUSTERS = 6
"""Clusters of bad days that are named; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Span:
    """The longest stretch of the year in which something works.

    Attributes
    ----------
    first, last : datetime.date or None
        Its ends; None when there is none. A last day before the first one lies in the next year.
    working : int
        Days of the whole year that work.
    bad_inside : int
        Days within the stretch that do not.
    days : int
        Days of the year.
    bad : tuple of (datetime.date, datetime.date, int)
        Clusters of days that do not work: first and last day of each, and how many it holds.
    careful : int
        Days that work with care only.
    """

    first: date | None
    last: date | None
    working: int
    bad_inside: int
    days: int
    bad: tuple[tuple[date, date, int], ...] = ()
    careful: int = 0

    def words(self, leave: datetime) -> str:
        """Say it in one or two sentences: how many days, and where the bad ones lie."""
        begin = f"Leaving at {leave.hour} h in this typical year"
        whom = "them" if self.working == self.days else "the others"
        count = "all" if self.careful == self.working else f"{self.careful}"
        care = f"; {count} of {whom} ask for care" if self.careful else ""
        if self.working == self.days:
            return f"{begin}, no day of {self.days} says stay and wait{care}."
        if not self.working:
            return f"{begin}, every day says stay and wait."
        named = sorted(sorted(self.bad, key=lambda one: -one[2])[:MOST_CLUSTERS])
        told = [_cluster(*one) for one in named]
        left = self.days - self.working - sum(count for *_ends, count in named)
        if left:
            told.append(f"{left} more scattered over the year")
        return (
            f"{begin}, {self.days - self.working} of {self.days} days say stay and wait: "
            f"{', '.join(told)}{care}."
        )


def _cluster(first: date, last: date, count: int) -> str:
    """Say a cluster of days."""
    if count == 1:
        return _named(first)
    every = (last - first).days % YEAR_DAYS + 1
    many = "" if count == every else f" ({count} of {every} days)"
    joined = "and" if every == 2 else "to"  # noqa: PLR2004 - two days are a pair
    return f"{_named(first)} {joined} {_named(last)}{many}"


def clusters(days: list[date], works: NDArray[np.bool_]) -> tuple[tuple[date, date, int], ...]:
    """Gather days that do not work into clusters less than a week apart."""
    found: list[tuple[date, date, int]] = []
    for day in (day for day, good in zip(days, works.tolist(), strict=True) if not good):
        if found and (day - found[-1][1]).days < WEEK:
            first, _last, count = found[-1]
            found[-1] = (first, day, count + 1)
        else:
            found.append((day, day, 1))
    if len(found) > 1 and (found[0][0] - found[-1][1]).days + len(days) < WEEK:
        # A winter runs over the turn of the year.
        (_first, last, begun), (first, _last, ended) = found[0], found[-1]
        found = [*found[1:-1], (first, last, begun + ended)]
    return tuple(found)


def works_from_to(hours: pd.DataFrame, *, hour: int, year: int) -> Span:
    """Find the span at one clock hour."""
    when = [datetime.fromisoformat(text) for text in hours["depart"]]
    fine = hours["verdict"].isin(["walk", "walk with care"]).tolist()
    by_day: dict[date, bool] = {}
    for moment, works in zip(when, fine, strict=True):
        if moment.hour == hour and moment.year == year:
            by_day.setdefault(moment.date(), works)
    days = sorted(by_day)
    good = np.array([by_day[day] for day in days], dtype=bool)
    careful = sum(
        moment.hour == hour and moment.year == year and verdict == "walk with care"
        for moment, verdict in zip(when, hours["verdict"], strict=True)
    )
    return replace(longest_span(days, good), bad=clusters(days, good), careful=careful)


def longest_span(days: list[date], works: NDArray[np.bool_]) -> Span:
    """Find the longest stretch, around the turn of the year too."""
    count = works.size
    if works.all():
        return Span(days[0], days[-1], count, 0, count)
    half = WEEK // 2
    week = np.sum([np.roll(works, shift) for shift in range(-half, half + 1)], axis=0)
    good = works & (week >= FEWEST_IN_A_WEEK)
    # Fill the single bad days that a good week surrounds.
    held = good | (np.roll(good, 1) & np.roll(good, -1))
    # The week around the ends of a stretch reaches beyond it: add the working days at its ends.
    for _ in range(half):
        held |= works & (np.roll(held, 1) | np.roll(held, -1))
    if not held.any():
        return Span(None, None, int(works.sum()), 0, count)
    start = int(np.flatnonzero(~held)[0]) if not held.all() else 0
    turned = np.roll(held, -start)
    edges = np.diff(np.concatenate([[0], turned.astype(np.int8), [0]]))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    best = int(np.argmax(ends - begins))
    rows = (np.arange(begins[best], ends[best]) + start) % count
    return Span(
        first=days[int(rows[0])],
        last=days[int(rows[-1])],
        working=int(works.sum()),
        bad_inside=int((~works[rows]).sum()),
        days=count,
    )


def _named(day: date) -> str:
    return f"{day.day} {day:%B}"


SCHEMA = "walkhome year 1"

HALF_HOUR_S = 1800.0


@dataclass(frozen=True, slots=True)
class BagYear:
    """A year with one bag.

    Attributes
    ----------
    bag : str
        Its name.
    hours : pandas.DataFrame
        One row a departure hour.
    span : Span
        From when to when it works, leaving at the plan's clock time.
    """

    bag: str
    hours: pd.DataFrame
    span: Span


@dataclass(frozen=True, slots=True)
class YearAnswer:
    """Every departure hour of a year.

    Attributes
    ----------
    plan : Plan
        What was asked.
    year : int
        The calendar year whose dates are used.
    bags : tuple of BagYear
        One for each bag.
    document : dict
        The content of year.json.
    """

    plan: Plan
    year: int
    bags: tuple[BagYear, ...]
    document: dict[str, Any]

    @property
    def table(self) -> pd.DataFrame:
        """All rows, as in year.csv."""
        return pd.concat([each.hours for each in self.bags], ignore_index=True)


def year(
    plan: Plan,
    *,
    weather: Path | None = None,
    bags: Mapping[str, Path] | None = None,
    block: int = 5_000,
    progress: Callable[[str], None] | None = None,
) -> YearAnswer:
    """Walk home from every hour of the year.

    Parameters
    ----------
    plan : Plan
        What is asked; its date gives the calendar year.
    weather : pathlib.Path, optional
        A typical year, in place of the plan's weather.
    bags : mapping of str to pathlib.Path, optional
        Item lists by name, to compare; the plan's own when left out.
    block : int
        Walks at a time; changes no number.
    progress : callable, optional
        Told each stage as it begins.

    Returns
    -------
    YearAnswer
        8,760 hours a bag, 8,784 in a leap year.

    Raises
    ------
    InputError
        When the weather is no typical year, or something else cannot be used.
    NoWayHomeError
        When no walkable way joins start and home.
    """
    tell = progress or (lambda _stage: None)
    plan = _with_typical_year(plan, weather)
    scene = prepare(plan, progress=tell)
    tell("finding the way")
    way = find_way(scene)
    depart = departure_hours(plan.trip.depart.year, scene.zone)
    tell("laying out a year of sun and weather")
    conditions = _conditions(scene, depart)
    opening = Hours(scene, step_s=HALF_HOUR_S)
    years = []
    chosen: dict[str, Path | None] = dict(bags) if bags else {"": plan.bag.items}
    for name, path in chosen.items():
        carrying = scene if bags is None else _with_bag(scene, path)
        tell(f"walking {depart.size:,} departure hours{f' with {name}' if name else ''}")
        years.append(_bag_year(carrying, way, name, depart, conditions, opening, block))
    return YearAnswer(
        plan=plan,
        year=plan.trip.depart.year,
        bags=tuple(years),
        document=_document(scene, years, depart),
    )


def _with_typical_year(plan: Plan, weather: Path | None) -> Plan:
    """Insist on a typical year: constants and a few days hold no seasons."""
    if weather is not None:
        nothing = dict.fromkeys(("air_c", "humidity_pct", "wind_m_s", "cloud_pct", "rain_mm_h"))
        plan = plan.with_changes(weather={**nothing, "file": weather, "month": None})
    where = where_in(plan, "weather")
    if plan.weather.file is None or plan.weather.month is not None:
        raise InputError(
            where,
            "a year needs the weather of a year; name a typical year (.epw, or .csv in TMY3 form) "
            "as weather.file without month, or with --weather; the README says where such files "
            "come from",
        )
    try:
        read_typical_year(plan.weather.file)
    except InputError as fault:
        raise InputError(
            where, f"a year needs a typical year: {fault.where} {fault.problem}"
        ) from None
    return plan


def departure_hours(calendar_year: int, zone: str) -> NDArray[np.float64]:
    """List every full hour of a year at a place."""
    local = ZoneInfo(zone)
    first = datetime(calendar_year, 1, 1, tzinfo=local).astimezone(UTC)
    after = datetime(calendar_year + 1, 1, 1, tzinfo=local).astimezone(UTC)
    hours = round((after - first) / timedelta(hours=1))
    return first.timestamp() + HOUR_S * np.arange(hours, dtype=np.float64)


def _conditions(scene: Scene, depart: NDArray[np.float64]) -> Conditions:
    return conditions_over(
        weather_of(scene.plan, scene.zone),
        lat=0.5 * (scene.ends[0].lat + scene.ends[-1].lat),
        lon=0.5 * (scene.ends[0].lon + scene.ends[-1].lon),
        start_epoch_s=float(depart[0]),
        hours=float(depart[-1] - depart[0]) / HOUR_S + LONGEST_WALK_H,
    )


def _with_bag(scene: Scene, path: Path | None) -> Scene:
    """Carry another bag."""
    items = None if path is None else read_items(path)
    load = carried(items)
    return replace(
        scene, items=items, carried=load, walkers=walkers_of(scene.plan, load, own=scene.own)
    )


def _bag_year(
    scene: Scene,
    way: Way,
    name: str,
    depart: NDArray[np.float64],
    conditions: Conditions,
    opening: Hours,
    block: int,
) -> BagYear:
    members = scene.walkers.count
    rows = np.tile(np.arange(members), depart.size)
    party = np.repeat(np.arange(depart.size), members)
    crowd = Crowd(replace(some_of(scene.walkers, rows), party=party), members, depart)
    arrivals = walk_crowd(
        scene,
        walk_way(scene, way),
        crowd,
        conditions=conditions,
        follow_plan=False,
        opening=opening,
        block=block,
    )
    table = hours_of(scene, arrivals, depart, conditions)
    if name:
        table.insert(0, "bag", name)
    leave = scene.plan.trip.depart
    span = works_from_to(table, hour=leave.hour, year=leave.year)
    return BagYear(bag=name, hours=table, span=span)


def hours_of(
    scene: Scene, walks: Arrivals, depart: NDArray[np.float64], conditions: Conditions
) -> pd.DataFrame:
    """Put departure hours into a table."""
    level = levels_of(scene, walks)
    short_of, short_from_h = one.account_of(walks).first()
    arrive = depart + walks.elapsed_s
    zone = ZoneInfo(scene.zone)

    def clock(epochs: NDArray[np.float64]) -> list[str]:
        return [
            datetime.fromtimestamp(round(each), tz=UTC).astimezone(zone).isoformat()
            for each in epochs.tolist()
        ]

    return pd.DataFrame(
        {
            "depart": clock(depart),
            "verdict": [one.LEVELS[row] if row >= 0 else "not known" for row in level.tolist()],
            "arrive": clock(arrive),
            "dark_h": walks.dark_s / HOUR_S,
            "water_short_l": walks.short_ml / 1000.0,
            "coldest_felt_c": walks.coldest_c,
            "hottest_felt_c": walks.hottest_c,
            "arrives_in_the_dark": conditions.at(arrive).night,
            "worst": list(one.worst_of(judged(scene, walks))),
            "elapsed_h": walks.elapsed_s / HOUR_S,
            "unlit_h": walks.unlit_s / HOUR_S,
            "light_short_h": walks.light_short_s / HOUR_S,
            "body_mass_loss_pct": walks.loss_pct,
            "energy_short_kcal": walks.energy_short_kcal,
            "halt_h": walks.halt_h,
            "halt_short_clo": walks.halt_short_clo,
            "foot_short_clo": walks.foot_short_clo,
            "time_short_h": walks.missing[What.TIME],
            "short_of": short_of,
            "short_from_h": short_from_h,
        }
    )


def _document(scene: Scene, years: list[BagYear], depart: NDArray[np.float64]) -> dict[str, Any]:
    leave = scene.plan.trip.depart
    return {
        "schema": SCHEMA,
        "title": scene.plan.title,
        "seed": 0,
        "inputs": dict(sorted(scene.fingerprints.items())),
        "attribution": scene.streets.attribution,
        "year": leave.year,
        "hours": int(depart.size),
        "weather": [str(scene.plan.weather.file and scene.plan.weather.file.name), *scene.notes],
        "bags": [
            {
                "bag": each.bag,
                "works": each.span.words(leave),
                "from": _day(each.span.first),
                "to": _day(each.span.last),
                "working_days_of_year": each.span.working,
                "verdicts": {
                    name: int((each.hours["verdict"] == name).sum()) for name in one.LEVELS
                },
                "arrives_in_the_dark_h": int(each.hours["arrives_in_the_dark"].sum()),
            }
            for each in years
        ],
        "assumptions": [*map_notes(scene.streets), *ASSUMPTIONS],
    }


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


ASSUMPTIONS = (
    "The way is the plan's own at every hour; closures that hold at certain hours are not moved.",
    (
        "Bottles are filled where the plan would fill them leaving at that hour; opening hours are "
        "read at half hours."
    ),
    "A typical year has ordinary extremes, not the worst ones; its wind is that of an open field.",
    "Each hour has the sun and the weather of the hours that its walk passes.",
    "A bag works on a day when leaving at the plan's hour does not end in stay and wait.",
)
"""What holds for every hour of the year."""
