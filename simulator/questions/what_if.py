"""The same walk with another departure, more or less water, another pace: many walks in one go.

Streets and stops stay as planned, so that what is read off is what a person with the plan in hand
meets. Every answer comes from the one engine.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.ground.hours import open_at
from simulator.questions.scene import weather_of
from simulator.units import Units
from simulator.walk.conditions import CLOCK_STEP_S, Conditions, conditions_over
from simulator.walk.engine import simulate
from simulator.walk.ledger import local_time
from simulator.walk.records import HOURLY, Each, Marks, Outcome, Total, some_of
from simulator.walk.verdict import Findings, judge

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.walk.course import Course
    from simulator.walk.records import Stop, Walkers

DEPART_MIN = tuple(range(-360, 361, 60))
"""Departures asked for, later than planned [min]."""

WATER_STEPS = (-2, -1, 0, 1, 2, 4)
"""Water carried, in half litres (half quarts in US units) more than planned."""

PACE = (0.8, 0.9, 1.0, 1.1, 1.2)
"""Pace asked for, over the planned one."""

MOST_HOURS = 48
"""Hours of a walk that are kept."""

LEDGER = ("along_m", "water_left_ml", "water_short_ml", "energy_short_kcal", "light_short_h")
"""Columns of ``Answers.ledger``."""

SPARE_H = 12.0
"""How long after the planned walk's end sun and weather are laid out, beside what a later departure
and a slower pace take [h]."""


@dataclass(frozen=True, slots=True)
class Settings:
    """The walks asked for: every departure with every amount of water at every pace.

    Attributes
    ----------
    depart_min : tuple of int
        Departures, later than planned [min].
    water_ml : tuple of float
        Water of the whole party at departure [mL].
    pace : tuple of float
        Pace over the planned one.
    planned : int
        Which of the walks is the plan's own; departures vary slowest, paces fastest.
    """

    depart_min: tuple[int, ...]
    water_ml: tuple[float, ...]
    pace: tuple[float, ...]
    planned: int

    @property
    def count(self) -> int:
        """Number of walks C."""
        return len(self.depart_min) * len(self.water_ml) * len(self.pace)

    def columns(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Give departure [min], water [mL] and pace of each walk, each of shape (C,)."""
        grids = np.meshgrid(self.depart_min, self.water_ml, self.pace, indexing="ij")
        depart, water, pace = (np.asarray(grid, dtype=np.float64).ravel() for grid in grids)
        return depart, water, pace


@dataclass(frozen=True, slots=True)
class Answers:
    """How the walks went.

    Attributes
    ----------
    arrive_s : ndarray of float64, (C,)
        Departure to arrival [s].
    ledger : ndarray of float64, (C, H, 5)
        At the end of each hour, the last one on arrival, and NaN from then on: the columns of
        ``LEDGER``; amounts are the party's, light is the member's who has least.
    level : tuple of str
        Verdict of each walk.
    reasons : tuple of tuple of str
        And why.
    """

    arrive_s: NDArray[np.float64]
    ledger: NDArray[np.float64]
    level: tuple[str, ...]
    reasons: tuple[tuple[str, ...], ...]


def earlier_sky(
    scene: Scene, from_epoch_s: float, *, elapsed_s: float, until_epoch_s: float | None = None
) -> Conditions:
    """Lay out sun and weather from before the planned departure, as early as weather is known.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    from_epoch_s : float
        Earliest instant wished for, seconds since 1970-01-01 UTC.
    elapsed_s : float
        How long the planned walk takes [s].
    until_epoch_s : float, optional
        Moment that must be covered as well, seconds since 1970-01-01 UTC.

    Returns
    -------
    Conditions
        On the same clock grid as the plan's own.
    """
    weather = weather_of(scene.plan, scene.zone)
    start, home = scene.ends[0], scene.ends[-1]
    depart = scene.depart_epoch_s
    later_h = elapsed_s / 3600.0 / min(PACE) + max(DEPART_MIN) / 60.0 + SPARE_H
    if until_epoch_s is not None:
        later_h = max(later_h, (until_epoch_s - depart) / 3600.0 + 1.0)
    steps = max(int(np.ceil((depart - from_epoch_s) / CLOCK_STEP_S)), 0)
    an_hour = int(3600.0 / CLOCK_STEP_S)
    for back in range(steps, 0, -an_hour):
        begin = depart - CLOCK_STEP_S * back
        try:
            found = conditions_over(
                weather,
                lat=0.5 * (start.lat + home.lat),
                lon=0.5 * (start.lon + home.lon),
                start_epoch_s=begin,
                hours=(depart - begin) / 3600.0 + later_h,
            )
        except ValueError:
            continue
        if found.end_epoch_s >= min(scene.conditions.end_epoch_s, depart + 3600.0 * later_h):
            return found
    return scene.conditions


def settings_for(scene: Scene, sky: Conditions, *, elapsed_s: float) -> Settings:
    """Choose the walks to ask for.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    sky : Conditions
        No walk begins before it does, nor ends after it.
    elapsed_s : float
        How long the planned walk takes [s].

    Returns
    -------
    Settings
        The plan's own walk among them.
    """
    slowest_s = elapsed_s / min(PACE)
    departs = tuple(
        minutes
        for minutes in DEPART_MIN
        if minutes == 0
        or (
            scene.depart_epoch_s + 60.0 * minutes >= sky.start_epoch_s
            and scene.depart_epoch_s + 60.0 * minutes + slowest_s <= sky.end_epoch_s
        )
    )
    carried = float(scene.walkers.water_ml.sum())
    half = 0.5 * Units(scene.plan.units).volume_ml
    waters = tuple(sorted({max(carried + half * step, 0.0) for step in WATER_STEPS}))
    place = (departs.index(0), waters.index(carried), PACE.index(1.0))
    planned = (place[0] * len(waters) + place[1]) * len(PACE) + place[2]
    return Settings(departs, waters, PACE, planned)


def ask(
    scene: Scene,
    course: Course,
    stops: Sequence[Stop],
    settings: Settings,
    *,
    sky: Conditions,
    findings: Findings,
    more_departs_epoch_s: NDArray[np.float64] | None = None,
) -> tuple[Answers, NDArray[np.float64]]:
    """Walk a way with all settings at once.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    course : Course
        The way.
    stops : sequence of Stop
        Stops made, whatever the setting; a place known to be shut then gives nothing.
    settings : Settings
        The walks asked for.
    sky : Conditions
        Sun and weather of them all.
    findings : Findings
        The planned walk's; what no setting changes is taken from it.
    more_departs_epoch_s : (Q,) float64, optional
        More departures, with the plan's water and pace.

    Returns
    -------
    Answers
        Of the settings.
    ndarray of float64, (Q,)
        Departure to arrival of the further departures [s].
    """
    later_min, water, pace = settings.columns()
    more = np.zeros(0) if more_departs_epoch_s is None else more_departs_epoch_s
    depart = np.append(scene.depart_epoch_s + 60.0 * later_min, more)
    water = np.append(water, np.full(more.size, settings.columns()[1][settings.planned]))
    pace = np.append(pace, np.ones(more.size))
    walkers = _crowd(scene.walkers, water, pace)
    members = scene.walkers.count
    each_depart = np.repeat(depart, members)
    ways = scene.streets.ways
    outcome = simulate(
        course,
        walkers,
        manner=scene.manner,
        conditions=sky,
        depart_epoch_s=each_depart,
        stops=[
            replace(stop, each=_who(scene, course, stop, each_depart, findings)) for stop in stops
        ],
        marks=Marks(hours=MOST_HOURS, steps=np.zeros(0, dtype=np.int64)),
        beside_traffic=(course.traffic == BUSY) & ~ways.sidewalk[course.way],
    )
    arrive = outcome.totals[Total.CLOCK_S].reshape(-1, members)[:, 0]
    answers = _answers(
        outcome,
        walkers,
        members,
        settings.count,
        findings,
        Units(scene.plan.units),
        course.length_m,
    )
    return answers, arrive[settings.count :]


BUSY = 2
"""Traffic code of busy roads."""


def _crowd(party: Walkers, water: NDArray[np.float64], pace: NDArray[np.float64]) -> Walkers:
    """Let the party walk once for each setting; water is shared out by body mass."""
    members, walks = party.count, water.size
    crowd = some_of(party, np.tile(np.arange(members), walks))
    share = np.tile(party.mass_kg / party.mass_kg.sum(), walks)
    bottles = share * np.repeat(water, members)
    return replace(
        crowd,
        pace_factor=crowd.pace_factor * np.repeat(pace, members),
        bag_kg=np.maximum(crowd.bag_kg + (bottles - crowd.water_ml) / 1000.0, 0.0),
        water_ml=bottles,
        capacity_ml=np.maximum(crowd.capacity_ml, bottles),
        party=np.repeat(np.arange(walks), members),
    )


def _who(
    scene: Scene,
    course: Course,
    stop: Stop,
    depart_epoch_s: NDArray[np.float64],
    findings: Findings,
) -> Each | None:
    """Say for whom a stop gives what it promises: not where it is known to be shut then."""
    if stop.place < 0 or not scene.places.hours[stop.place]:
        return None
    # About when it is reached: the planned walk's mean pace will do.
    share = float(course.distance_m[stop.step]) / course.length_m
    reached = depart_epoch_s + share * 3600.0 * findings.elapsed_h
    opened: dict[float, bool] = {}
    for when in np.unique(reached).tolist():
        state = open_at(
            scene.places.hours[stop.place],
            local_time(when, scene.zone),
            lat=float(scene.places.lat[stop.place]),
            lon=float(scene.places.lon[stop.place]),
        )
        opened[when] = state is not False
    works = np.array([opened[when] for when in reached.tolist()], dtype=bool)
    return Each(active=np.ones(works.size, dtype=bool), works=works)


def _answers(
    outcome: Outcome,
    walkers: Walkers,
    members: int,
    count: int,
    planned: Findings,
    units: Units,
    length_m: float,
) -> Answers:
    """Read ledger and verdict of each walk; walks beyond ``count`` are left out."""
    used = count * members
    total = outcome.totals[:, :used].reshape(len(Total), count, members)
    water = walkers.water_ml[:used].reshape(count, members).sum(axis=1)
    arrive = total[Total.CLOCK_S, :, 0]
    ledger = _ledger(outcome, total, water, length_m)
    mass = walkers.mass_kg[:used].reshape(count, members)

    def of(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return values[:used].reshape(count, members)

    loss = (of(outcome.worst_deficit_ml) / (10.0 * mass)).max(axis=1)
    short = of(outcome.worst_short_ml).sum(axis=1)
    first = of(outcome.first_short_s).min(axis=1) / 3600.0
    light = (total[Total.LIGHT_NEED_S] - total[Total.LIGHT_USED_S]).max(axis=1) / 3600.0
    coldest = of(outcome.coldest_felt_c).min(axis=1)
    hottest = of(outcome.hottest_felt_c).max(axis=1)
    busy = of(outcome.busy_dark_m)[:, 0] / 1000.0
    verdicts = [
        judge(
            replace(
                planned,
                loss_pct=float(loss[walk]),
                short_ml=float(short[walk]),
                first_short_h=float(first[walk]) if np.isfinite(first[walk]) else float("nan"),
                coldest_felt_c=float(coldest[walk]),
                hottest_felt_c=float(hottest[walk]),
                unlit_h=float(total[Total.LIGHT_NEED_S, walk, 0]) / 3600.0,
                light_short_h=float(light[walk]),
                elapsed_h=float(arrive[walk]) / 3600.0,
                busy_dark_km=float(busy[walk]),
            ),
            units=units,
        )
        for walk in range(count)
    ]
    return Answers(
        arrive_s=arrive,
        ledger=ledger,
        level=tuple(verdict.level for verdict in verdicts),
        reasons=tuple(verdict.reasons for verdict in verdicts),
    )


def _ledger(
    outcome: Outcome,
    total: NDArray[np.float64],
    water: NDArray[np.float64],
    length_m: float,
) -> NDArray[np.float64]:
    """Cut the ledger at the full hours and on arrival, shape (C, H, len(LEDGER))."""
    if outcome.hourly is None:
        message = "the ledger is cut at marked hours; simulate with marks"
        raise ValueError(message)
    _rows, count, members = total.shape
    used = count * members
    marked = outcome.hourly[:, :, :used].reshape(MOST_HOURS, -1, count, members)
    rows = {row: marked[:, 1 + place] for place, row in enumerate(HOURLY)}
    arrive_h = total[Total.CLOCK_S, :, 0] / 3600.0
    last = np.minimum(np.ceil(arrive_h).astype(np.int64), MOST_HOURS) - 1
    kept = int(last.max()) + 1
    ledger = np.full((count, kept, len(LEDGER)), np.nan)

    def five(values: dict[Total, NDArray[np.float64]]) -> list[NDArray[np.float64]]:
        lost, drunk = values[Total.LOST_ML].sum(-1), values[Total.DRUNK_ML].sum(-1)
        return [
            np.maximum(water + values[Total.REFILLED_ML].sum(-1) - drunk, 0.0),
            np.maximum(lost - drunk, 0.0),
            values[Total.ENERGY_KCAL].sum(-1) - values[Total.EATEN_KCAL].sum(-1),
            (values[Total.LIGHT_NEED_S] - values[Total.LIGHT_USED_S]).max(-1) / 3600.0,
        ]

    ledger[:, :, 0] = marked[:kept, 0, :, 0].T
    for column, values in enumerate(five({row: rows[row][:kept] for row in HOURLY}), start=1):
        ledger[:, :, column] = values.T
    every = np.arange(count)
    ledger[every, last, 0] = length_m
    for column, at_home in enumerate(five({row: total[row] for row in HOURLY}), start=1):
        ledger[every, last, column] = at_home
    return ledger
