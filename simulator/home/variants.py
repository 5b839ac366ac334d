"""The way home when one or two bridges of the way are shut, and the latest departure by daylight.

What a page can be turned to without asking again: each answer is found beforehand.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, time
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import NoWayHomeError
from simulator.home.crowd import Hours, walk_along
from simulator.home.crowd_records import LEDGER as _COLUMNS
from simulator.home.crowd_records import Arrivals, Crowd, StopChoice
from simulator.home.records import MainBridge
from simulator.home.scene import weather_of
from simulator.home.summary import arrivals_of_walked
from simulator.home.verdict import (
    Findings,
    account_of,
    findings_of_arrivals,
    judge_each,
    reached_m,
)
from simulator.home.walked import departures, home_until_s, latest
from simulator.home.way import find_way, prepare_legs
from simulator.sky.clock import to_epoch_s
from simulator.sky.sun import daylight_state
from simulator.units import HOUR_S, Units
from simulator.walk.account import Account
from simulator.walk.conditions import CLOCK_STEP_S, Conditions, conditions_over
from simulator.walk.course import coarse
from simulator.walk.ledger import local_time
from simulator.walk.records import NEARLY_S, Total, some_of
from simulator.walk.stops import nearby_places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.home.scene import Scene
    from simulator.home.walked import Walked
    from simulator.home.way import Times, Way
    from simulator.route.crossings import Crossings
    from simulator.walk.course import Course
    from simulator.walk.records import Walkers
    from simulator.walk.stops import Nearby

DEPART_MIN = tuple(range(-360, 361, 60))
"""Departures asked for, later than planned [min]."""

WATER_STEPS = (-2, -1, 0, 1, 2, 4)
"""Water carried, in half litres (half quarts in US units) more than planned."""

PACE = (0.8, 0.9, 1.0, 1.1, 1.2)
"""Pace asked for, over the planned one."""

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
    account : Account
        What falls short on each walk.
    level : tuple of str
        Verdict of each walk.
    reasons : tuple of tuple of str
        And why.
    """

    arrive_s: NDArray[np.float64]
    ledger: NDArray[np.float64]
    account: Account
    level: tuple[str, ...]
    reasons: tuple[tuple[str, ...], ...]


def earlier_sky(
    scene: Scene, from_epoch_s: float, *, elapsed_s: float, until_epoch_s: float | None = None
) -> Conditions:
    """Lay out sun and weather from before the planned departure, as early as weather is known."""
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
    """Choose the walks to ask for."""
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
    way: tuple[Course, Nearby],
    settings: Settings,
    *,
    sky: Conditions,
    findings: Findings,
    opening: Hours,
    first: StopChoice,
    own: Arrivals | None = None,
    more_departs_epoch_s: NDArray[np.float64] | None = None,
) -> tuple[Answers, float, NDArray[np.float64]]:
    """Walk a way with all settings at once, each with the stops and halts that it needs itself.

    Gives also how long the planned setting takes in these steps, before the plan's own walk is put
    in its place, and how long further departures take that are otherwise as planned [s].
    """
    later_min, water, pace = settings.columns()
    more = np.zeros(0) if more_departs_epoch_s is None else more_departs_epoch_s
    depart = np.append(scene.depart_epoch_s + 60.0 * later_min, more)
    water = np.append(water, np.full(more.size, settings.columns()[1][settings.planned]))
    pace = np.append(pace, np.ones(more.size))
    walks = walk_along(
        scene,
        *way,
        Crowd(_crowd(scene.walkers, water, pace), scene.walkers.count, depart),
        conditions=sky,
        opening=opening,
        first=first,
        within_s=NEARLY_S,
    )
    planned_s = float(walks.elapsed_s[settings.planned])
    if own is not None:
        walks.put(np.array([settings.planned]), own)
    answers = _answers(scene, walks, depart[: settings.count], findings)
    return answers, planned_s, walks.elapsed_s[settings.count :]


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


def _placed(scene: Scene, found: Findings, depart_epoch_s: float) -> Findings:
    """Let the words of one walk name clock and place."""
    units = Units(scene.plan.units)

    def place(hours: float) -> str:
        when = local_time(depart_epoch_s + HOUR_S * hours, scene.zone)
        return f"at {when:%H:%M}, {units.long_name} {reached_m(found, hours) / units.long_m:.1f}"

    return replace(found, place=place)


def _answers(
    scene: Scene, walks: Arrivals, depart_epoch_s: NDArray[np.float64], planned: Findings
) -> Answers:
    """Read ledger and verdict of each walk; those without a departure here are left out."""
    found, count = findings_of_arrivals(walks, like=planned), depart_epoch_s.size
    verdicts = judge_each(
        found.some(slice(count)),
        units=Units(scene.plan.units),
        alone=lambda walk: _placed(scene, found.one(walk), float(depart_epoch_s[walk])),
    )
    columns = [_COLUMNS.index(name) for name in ("distance_m", *LEDGER[1:])]
    account = account_of(walks)
    return Answers(
        arrive_s=walks.elapsed_s[:count],
        account=Account(
            account.missing[:, :count],
            account.from_s[:, :count],
            account.at_m[:, :count],
            account.counts[:, :count],
        ),
        ledger=walks.hourly[:, columns, :count].transpose(2, 0, 1),
        level=tuple(verdict.level for verdict in verdicts),
        reasons=tuple(verdict.reasons for verdict in verdicts),
    )


MOST_BRIDGES = 4
"""Bridges that can be shut: the dearest to lose of the way, then those of the ways around."""

MOST_WAYS = 5
"""Ways worked out in all."""


@dataclass(frozen=True, slots=True)
class Turned:
    """The way home with some bridges shut.

    Attributes
    ----------
    closed : tuple of int
        Bridges shut beside what the plan closes, by their place in ``WhatIf.bridges``.
    crosses : tuple of int
        Those that this way uses.
    via : tuple of str
        Names of all bridges it uses, in order.
    course : Course or None
        The way; None when there is none.
    answers : Answers or None
        How it goes at every setting; None when there is no way.
    leaves_m : float
        Where it leaves the planned way, from the start [m].
    leaves_into : str
        Street it leaves it for; empty when that has no name.
    planned_s : float
        With the plan's own settings, in longer steps whichever way it is, so that ways compare;
        infinite without a way [s].
    """

    closed: tuple[int, ...]
    crosses: tuple[int, ...]
    via: tuple[str, ...]
    course: Course | None
    answers: Answers | None
    leaves_m: float = 0.0
    leaves_into: str = ""
    planned_s: float = float("inf")


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Other departures, water, paces and closures, answered beforehand.

    Attributes
    ----------
    settings : Settings
        The walks asked of every way.
    bridges : tuple of str
        Bridges that can be shut.
    turned : tuple of Turned
        The planned way first, then the ways with bridges shut.
    sky_epoch_s : float
        First instant of ``daylight``, seconds since 1970-01-01 UTC.
    sky_step_s : float
        Its step [s].
    daylight : ndarray of int8, (T,)
        Codes of ``simulator.sky.sun.DAYLIGHT_STATES``.
    leave_by : datetime or None
        Latest departure of the day that is home by civil dusk; None when none is.
    dusk : datetime or None
        Civil dusk of that day; None where it does not happen or the weather is not known.
    leave_for_home_by : datetime or None
        Latest departure from that day on that is home by the hour the plan names; None when none
        is, or the plan names none.
    """

    settings: Settings
    bridges: tuple[str, ...]
    turned: tuple[Turned, ...]
    sky_epoch_s: float
    sky_step_s: float
    daylight: NDArray[np.int8]
    leave_by: datetime | None
    dusk: datetime | None
    leave_for_home_by: datetime | None = None

    def main_bridge(self) -> MainBridge | None:
        """Tell what to do when the bridge is shut whose loss costs the planned way most."""
        first, *others = self.turned
        ones = [one for one in others if len(one.closed) == 1 and one.closed[0] in first.crosses]
        if not ones:
            return None
        dearest = max(ones, key=lambda one: (self._arrive_s(one), -one.closed[0]))
        name = self.bridges[dearest.closed[0]]
        if dearest.course is None or first.course is None:
            return MainBridge(name, reachable=False)
        return MainBridge(
            name,
            reachable=True,
            extra_min=(self._arrive_s(dearest) - self._arrive_s(first)) / 60.0,
            extra_km=(dearest.course.length_m - first.course.length_m) / 1000.0,
            via=tuple(bridge for bridge in dearest.via if bridge not in first.via),
            turn_km=dearest.leaves_m / 1000.0,
            turn_into=dearest.leaves_into,
        )

    def _arrive_s(self, turned: Turned) -> float:
        """Give the duration with the plan's own settings, infinite without a way [s]."""
        return turned.planned_s


def explore(
    scene: Scene,
    walked: Walked,
    *,
    times: Times,
    findings: Findings,
    dusk: datetime | None,
    slow: float = 1.0,
) -> WhatIf:
    """Work out other settings and the ways around shut bridges."""
    depart = local_time(scene.depart_epoch_s, scene.zone)
    midnight = datetime.combine(depart.date(), time())
    begin = min(
        to_epoch_s(midnight, scene.zone, where="trip.depart"), scene.depart_epoch_s - 6 * 3600.0
    )
    elapsed_s = float(walked.outcome.totals[Total.CLOCK_S, 0])
    until_s = home_until_s(scene)
    sky = earlier_sky(scene, begin, elapsed_s=elapsed_s, until_epoch_s=until_s)
    settings = settings_for(scene, sky, elapsed_s=elapsed_s)
    dark_s = None if dusk is None else dusk.timestamp()
    tried = departures(scene, sky, (dark_s, until_s))
    opening = Hours(scene)
    answers, planned_s, took_s = ask(
        scene,
        (coarse(walked.way.course), walked.nearby),
        settings,
        sky=sky,
        findings=findings,
        opening=opening,
        first=walked.choice,
        own=arrivals_of_walked(scene, walked),
        more_departs_epoch_s=tried,
    )
    planned = Turned(
        (),
        (),
        (),
        walked.way.course,
        answers,
        planned_s=planned_s,
    )
    bridges, turned = _around(scene, walked, times, settings, sky, findings, opening, planned)
    return WhatIf(
        settings=settings,
        bridges=bridges,
        turned=turned,
        sky_epoch_s=sky.start_epoch_s,
        sky_step_s=CLOCK_STEP_S,
        daylight=daylight_state(sky.values[:, 0]).astype(np.int8),
        leave_by=latest(scene, tried, slow * took_s, dark_s),
        dusk=dusk if tried.size else None,
        leave_for_home_by=latest(scene, tried, slow * took_s, until_s),
    )


def _around(
    scene: Scene,
    walked: Walked,
    times: Times,
    settings: Settings,
    sky: Conditions,
    findings: Findings,
    opening: Hours,
    planned: Turned,
) -> tuple[tuple[str, ...], tuple[Turned, ...]]:
    """Shut bridges of the way, then of the ways around, until enough ways are known."""
    crossings = scene.ground.crossings
    used: dict[tuple[int, ...], list[int]] = {(): _met(crossings, walked.way)}
    toggles = _dearest(scene, times, crossings, used[()])
    names = tuple(crossings.name[number] for number in used[()])
    found: dict[tuple[int, ...], Turned] = {(): replace(planned, via=names)}
    waiting: list[tuple[int, ...]] = [(number,) for number in toggles]
    while waiting and len(found) < MOST_WAYS:
        shut = waiting.pop(0)
        if tuple(sorted(shut)) in found:
            continue
        key = tuple(sorted(shut))
        try:
            way = find_way(scene, times=times, also_closed=crossings.mask(*shut))
        except NoWayHomeError:
            found[key] = Turned(key, (), (), None, None)
            continue
        met = _met(crossings, way)
        toggles += [number for number in met if number not in toggles]
        del toggles[MOST_BRIDGES:]
        used[key] = met
        nearby = _places_along(scene, way)
        leaves_m, leaves_into = _parting(scene, walked.way, way)
        answer, planned_s, _none = ask(
            scene,
            (coarse(way.course), nearby),
            settings,
            sky=sky,
            findings=findings,
            opening=opening,
            first=walked.choice.at(walked.nearby.place, nearby.place),
        )
        found[key] = Turned(
            closed=key,
            crosses=(),
            via=tuple(crossings.name[number] for number in met),
            course=way.course,
            answers=answer,
            leaves_m=leaves_m,
            leaves_into=leaves_into,
            planned_s=planned_s,
        )
        if len(key) == 1:
            waiting += [(*shut, number) for number in met if number in toggles]
    place = {number: row for row, number in enumerate(toggles)}
    turned = [
        replace(
            one,
            closed=tuple(sorted(place[number] for number in key)),
            crosses=tuple(place[number] for number in used.get(key, ()) if number in place),
        )
        for key, one in found.items()
    ]
    return tuple(crossings.name[number] for number in toggles), tuple(turned)


def _dearest(scene: Scene, times: Times, crossings: Crossings, used: list[int]) -> list[int]:
    """Choose the crossings of the way whose loss costs most, in the order they are met."""
    if len(used) <= MOST_BRIDGES:
        return list(used)
    groups = [crossings.segments(number) for number in used]
    lost_s = prepare_legs(scene, times).alone_s(groups)
    dearest = np.argsort(-lost_s, kind="stable")[:MOST_BRIDGES]
    return [used[row] for row in sorted(dearest.tolist())]


def _met(crossings: Crossings, way: Way) -> list[int]:
    """List the crossings a way uses, in the order they are met."""
    met = np.concatenate([crossings.of_segment[path.segment] for path in way.legs])
    return [number for number in dict.fromkeys(met.tolist()) if number >= 0]


def _parting(scene: Scene, planned: Way, other: Way) -> tuple[float, str]:
    """Find where another way leaves the planned one [m], and for which street."""
    ours, theirs = (np.concatenate([path.segment for path in way.legs]) for way in (planned, other))
    shared = min(ours.size, theirs.size)
    apart = np.flatnonzero(ours[:shared] != theirs[:shared])
    first = int(apart[0]) if apart.size else shared - 1
    along = np.flatnonzero(other.course.segment == theirs[first])
    row = scene.streets.way[theirs[first]]
    return float(other.course.distance_m[along[0]]), scene.streets.ways.name[row]


def _places_along(scene: Scene, way: Way) -> Nearby:
    """Find the places within reach of another way."""
    return nearby_places(
        scene.places,
        scene.streets,
        course=way.course,
        start_fraction=way.legs[0].from_fraction,
        closed=scene.closed,
        reach_m=scene.plan.choices.refill_reach_m,
    )
