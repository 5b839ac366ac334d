"""The legs of a way home, prepared so that closures on them can be judged at once."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from simulator.body.pace import LimitRule, strictest
from simulator.errors import InputError, NoWayHomeError
from simulator.home.records import WayLength, WaysCompared
from simulator.home.scene import where_in
from simulator.home.unknown_heights import share_words
from simulator.route.blockages import Layout, Profile, TimedTrip, pairs_that_matter
from simulator.route.discomfort import quiet_factor
from simulator.route.search import Path, Waits
from simulator.units import HOUR_S
from simulator.walk.course import Course, alike, course_along, join_courses
from simulator.walk.party import barred_by, barred_by_limits, street_times_s, waits_s

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from simulator.ground.snap import Snap
    from simulator.home.scene import Scene


STEEPER = (0.06, 0.08, 0.10, 0.125, 0.15, 0.20, 0.25, 0.30)
"""Slopes tried beyond the limit, rise over run."""


def barred_words(
    scene: Scene,
    forward_s: NDArray[np.float64],
    backward_s: NDArray[np.float64],
    origin: Snap,
    destination: Snap,
) -> str:
    """Say what the party's limits bar, and which single one would have to give."""
    rule = strictest(scene.manner.limits)
    barred = []
    if not rule.stairs:
        barred.append("steps")
    if math.isfinite(rule.max_slope):
        barred.append(f"slopes over {rule.max_slope:.1%}")
    if rule.refused:
        barred.append(f"{', '.join(sorted(rule.refused))} underfoot")
    said = f"the limits of the party ({', '.join(scene.manner.limits)}) bar {'; '.join(barred)}"
    for words, wider in _wider(rule):
        closed = scene.closure.mask | scene.unknown_height | barred_by(scene.streets, wider)
        try:
            scene.network.least(
                forward_s,
                backward_s,
                (origin.segment, origin.fraction),
                (destination.segment, destination.fraction),
                closed=closed,
            )
        except NoWayHomeError:
            continue
        return f"{said}; there is a way {words}"
    return f"{said}; more than one of these would have to give"


def _wider(rule: LimitRule) -> Iterator[tuple[str, LimitRule]]:
    """Let one limit give at a time, the least first."""
    for slope in STEEPER:
        if slope > rule.max_slope:
            yield f"with slopes up to {slope:.1%}", replace(rule, max_slope=slope)
    if math.isfinite(rule.max_slope):
        yield "with any slope", replace(rule, max_slope=math.inf)
    if not rule.stairs:
        yield "over steps", replace(rule, stairs=True)
    if rule.refused:
        yield "on any surface", replace(rule, refused=frozenset())


CLOCK_ROUNDS = 3
"""How often arrival times and the way may correct each other; the second round rarely differs."""

SECONDS_PER_DAY = 86_400.0


@dataclass(frozen=True, slots=True)
class Way:
    """A way home.

    Attributes
    ----------
    legs : tuple of Path
        One between each two of start, vias and home; what they cost is what they were chosen by.
    course : Course
        All legs, step by step.
    cost_s : float
        Moving time by slope, surface, stairs, crossings and dark [s]; load and tiredness come
        on top in the walk.
    costs : tuple of Costs
        What each leg's search weighed; empty for a way laid out otherwise.
    """

    legs: tuple[Path, ...]
    course: Course
    cost_s: float
    costs: tuple[Costs, ...] = ()


@dataclass(frozen=True, slots=True)
class Times:
    """Time on every street each way, and its weight beside traffic, by day and after dark.

    Attributes
    ----------
    day_forward_s, day_backward_s, dark_forward_s, dark_backward_s : (M,) float64
        Walking times [s].
    day_quiet, dark_quiet : (M,) float64
        Factors from time to what the way is chosen by, at least 1.
    waits_s : tuple of two (M,) float64
        What of the times is a wait at the far end, tail to head and head to tail [s].
    """

    day_forward_s: NDArray[np.float64]
    day_backward_s: NDArray[np.float64]
    dark_forward_s: NDArray[np.float64]
    dark_backward_s: NDArray[np.float64]
    day_quiet: NDArray[np.float64]
    dark_quiet: NDArray[np.float64]
    waits_s: Waits

    def fastest(self) -> Times:
        """Give the same times for those who do not mind traffic."""
        none = np.ones(self.day_quiet.size)
        return replace(self, day_quiet=none, dark_quiet=none)


@dataclass(frozen=True, slots=True)
class Costs:
    """What the search weighs: time, longer beside traffic.

    Attributes
    ----------
    forward_s, backward_s : (M,) float64
        Walking times [s].
    closed : (M,) bool
        Segments that cannot be taken.
    quiet : (M,) float64
        Factor from time to what the way is chosen by, at least 1.
    waits_s : tuple of two (M,) float64
        What of the times is a wait at the far end, tail to head and head to tail [s].
    """

    forward_s: NDArray[np.float64]
    backward_s: NDArray[np.float64]
    closed: NDArray[np.bool_]
    quiet: NDArray[np.float64]
    waits_s: Waits

    @property
    def times_s(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Walking times, tail to head and head to tail [s]."""
        return self.forward_s, self.backward_s

    @property
    def weighed(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """What the way is chosen by, tail to head and head to tail [s of quiet walking]."""
        return self.forward_s * self.quiet, self.backward_s * self.quiet

    @property
    def waits(self) -> Waits:
        """What of ``weighed`` is a wait at the far end [s of quiet walking]."""
        forward_s, backward_s = self.waits_s
        return forward_s * self.quiet, backward_s * self.quiet


USUAL_QUIET = 1.0
"""Weight of quiet that a way is compared with where the plan asks for the fastest."""

BUSY = 2
"""Traffic code of busy roads."""


def street_times(
    scene: Scene, *, pace_factor: float | None = None, quiet: float | None = None
) -> Times:
    """Work out every street's time for the slowest of the party.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    pace_factor : float, optional
        Of another walker.
    quiet : float, optional
        Another weight of quiet than the plan's.

    Returns
    -------
    Times
        By day and after dark.
    """
    slowest = float(scene.walkers.pace_factor.min()) if pace_factor is None else pace_factor
    streets, weight = scene.streets, scene.plan.choices.quiet if quiet is None else quiet
    by_slope_s = scene.ground.slope_times_s(scene.manner)
    day, dark = (
        street_times_s(
            streets, scene.manner, speed_factor=slowest, dark=dark_too, by_slope_s=by_slope_s
        )
        for dark_too in (False, True)
    )
    by_day, in_dark = (
        quiet_factor(streets.ways, quiet=weight, dark=dark_too)[streets.way]
        for dark_too in (False, True)
    )
    return Times(*day, *dark, by_day, in_dark, waits_s(streets))


def find_way(
    scene: Scene, *, times: Times | None = None, also_closed: NDArray[np.bool_] | None = None
) -> Way:
    """Find the way home: the least time, where a minute beside traffic counts as more than one.

    A street's time depends on whether it is dark when one gets there, and some closures hold only
    at certain hours. Both are settled by turns: arrival times from the way so far, then the way
    from arrival times, at most ``CLOCK_ROUNDS`` times.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    times : Times, optional
        From ``street_times``, to spare the work when asking often.
    also_closed : (M,) bool, optional
        More segments to keep off.

    Returns
    -------
    Way
        Through every via in order.

    Raises
    ------
    NoWayHomeError
        When a leg cannot be walked; says how far each side reaches and what stops it.
    """
    times = times or street_times(scene)
    closed = scene.closed if also_closed is None else scene.closed | also_closed
    legs: list[Path] = []
    weighed: list[Costs] = []
    gone_s = 0.0
    for origin, destination in pairwise(scene.ends):
        try:
            leg, costs = _leg(scene, times, closed, origin, destination, gone_s)
        except NoWayHomeError as error:
            _refuse_gap_in_heights(scene, times, also_closed, origin, destination)
            if not scene.manner.limits or also_closed is not None:
                raise
            by_day = (times.day_forward_s, times.day_backward_s)
            message = f"{error}; {barred_words(scene, *by_day, origin, destination)}"
            raise NoWayHomeError(message) from None
        legs.append(leg)
        weighed.append(costs)
        gone_s += leg.sum_of(*costs.times_s, waits=costs.waits_s)
    courses = [course_along(scene.streets, leg) for leg in legs if _has_length(leg)]
    if not courses:
        problem = "falls on the same point of the nearest street as the start; nothing to walk"
        raise InputError(where_in(scene.plan, "trip.home"), problem)
    course = alike(join_courses(courses))
    return Way(legs=tuple(legs), course=course, cost_s=gone_s, costs=tuple(weighed))


def compare_ways(scene: Scene, way: Way, *, times: Times) -> WaysCompared:
    """Set the way chosen beside the fastest one, or the fastest beside a quiet one."""
    quiet = scene.plan.choices.quiet > 0.0
    other_times = times.fastest() if quiet else street_times(scene, quiet=USUAL_QUIET)
    other = find_way(scene, times=other_times)
    told = (_told_way(scene, way), _told_way(scene, other))
    return WaysCompared(
        chosen="quiet" if quiet else "fast",
        same=all(
            np.array_equal(first.segment, second.segment)
            for first, second in zip(way.legs, other.legs, strict=True)
        ),
        **dict(zip(("quiet", "fast") if quiet else ("fast", "quiet"), told, strict=True)),
    )


def _told_way(scene: Scene, way: Way) -> WayLength:
    """Say how long a way is, how long it takes, and how much of it is beside traffic."""
    streets = scene.streets
    busy_m = {False: 0.0, True: 0.0}
    gone_s = 0.0
    for leg, costs in zip(way.legs, way.costs, strict=True):
        each_s = np.where(leg.forward, costs.forward_s[leg.segment], costs.backward_s[leg.segment])
        moving_s = gone_s + np.cumsum(each_s * leg.walked)
        gone_s += leg.sum_of(*costs.times_s, waits=costs.waits_s)
        rests_s = np.floor(moving_s / HOUR_S) * scene.manner.rest_s_per_h
        night = scene.conditions.at(scene.depart_epoch_s + moving_s + rests_s).night
        beside = streets.ways.traffic[streets.way[leg.segment]] == BUSY
        length_m = streets.length_m[leg.segment] * leg.walked
        for dark in busy_m:
            busy_m[dark] += float(length_m[beside & (night == dark)].sum())
    return WayLength(
        distance_km=way.course.length_m / 1000.0,
        moving_min=way.cost_s / 60.0,
        busy_day_km=busy_m[False] / 1000.0,
        busy_dark_km=busy_m[True] / 1000.0,
    )


def _refuse_gap_in_heights(
    scene: Scene,
    times: Times,
    also_closed: NDArray[np.bool_] | None,
    origin: Snap,
    destination: Snap,
) -> None:
    """Blame the rasters when streets that were left out for want of heights would lead home."""
    terrain = scene.streets.terrain
    if terrain is None or not scene.unknown_height.any():
        return
    closed = scene.closure.mask | barred_by_limits(scene.streets, scene.manner)
    try:
        scene.network.least(
            times.day_forward_s,
            times.day_backward_s,
            (origin.segment, origin.fraction),
            (destination.segment, destination.fraction),
            closed=closed if also_closed is None else closed | also_closed,
        )
    except NoWayHomeError:
        return
    problem = (
        f"{', '.join(terrain.sources)} leaves {share_words(terrain.void_share)} of the streets "
        "without height, and the others give no way home; give rasters that cover the whole way"
    )
    raise InputError(where_in(scene.plan, "map.elevation"), problem)


def _leg(
    scene: Scene,
    times: Times,
    closed: NDArray[np.bool_],
    origin: Snap,
    destination: Snap,
    gone_s: float,
) -> tuple[Path, Costs]:
    """One leg, with darkness and hours of closure by arrival time, and what was weighed."""
    start = (origin.segment, origin.fraction)
    end = (destination.segment, destination.fraction)
    found: list[Path] = []
    for costs in clock_rounds(scene, times, closed, start, gone_s):
        found.append(
            scene.network.least(*costs.weighed, start, end, closed=costs.closed, waits=costs.waits)
        )
        if len(found) > 1 and np.array_equal(found[-1].segment, found[-2].segment):
            break
    return found[-1], costs


def clock_rounds(
    scene: Scene,
    times: Times,
    closed: NDArray[np.bool_],
    start: tuple[int, float],
    gone_s: float,
) -> Iterator[Costs]:
    """Go round between arrival times and the costs they bring.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    times : Times
        From ``street_times``.
    closed : (M,) bool
        Segments closed at all hours.
    start : tuple of int and float
        Segment and share from its tail where the leg begins.
    gone_s : float
        Moving time before the leg [s].

    Yields
    ------
    Costs
        First by day; then, where darkness or hours of closure count, by the arrival times that the
        round before brought, until they change nothing, at most ``CLOCK_ROUNDS`` times.
    """
    costs = Costs(times.day_forward_s, times.day_backward_s, closed, times.day_quiet, times.waits_s)
    yield costs
    before = np.zeros(closed.size, dtype=bool)
    for _ in range(CLOCK_ROUNDS if scene.manner.dark or scene.closure.timed else 0):
        # Streets are reached when the way chosen gets there, not when the fastest would.
        arrive = scene.network.field_along(
            *costs.weighed,
            *costs.times_s,
            start,
            closed=costs.closed,
            waits=costs.waits,
            other_waits=costs.waits_s,
        )
        at = arrival_epoch_s(scene, arrive, gone_s)
        dark = scene.conditions.at(at).night
        shut = closed | _closed_then(scene, at, dark)
        if np.array_equal(dark, before) and np.array_equal(shut, costs.closed):
            return
        before = dark
        costs = Costs(
            np.where(dark, times.dark_forward_s, times.day_forward_s),
            np.where(dark, times.dark_backward_s, times.day_backward_s),
            shut,
            np.where(dark, times.dark_quiet, times.day_quiet),
            times.waits_s,
        )
        yield costs


def _closed_then(
    scene: Scene, at: NDArray[np.float64], dark: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Segments closed at the hour one gets to them."""
    every = np.arange(at.size, dtype=np.int32)
    return scene.closure.closed_on_arrival(every, _minute_of_day(scene, at), dark)


def arrival_epoch_s(
    scene: Scene, arrive_s: NDArray[np.float64], gone_s: float
) -> NDArray[np.float64]:
    """Say when each segment is reached, hourly rests included; far ends count as late."""
    streets = scene.streets
    moving = np.minimum(arrive_s[streets.tail], arrive_s[streets.head]) + gone_s
    moving = np.where(np.isfinite(moving), moving, SECONDS_PER_DAY)
    rests = np.floor(moving / 3600.0) * scene.manner.rest_s_per_h
    return np.minimum(moving + rests, 2.0 * SECONDS_PER_DAY) + scene.depart_epoch_s


def _minute_of_day(scene: Scene, epoch_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Local minute of the day; the offset at departure holds for the whole walk."""
    depart = scene.plan.trip.depart
    midnight = depart.replace(hour=0, minute=0, second=0, microsecond=0)
    since_midnight_s = (depart - midnight).total_seconds()
    return (since_midnight_s + epoch_s - scene.depart_epoch_s) / 60.0


def _has_length(path: Path) -> bool:
    """Whether a leg covers any ground; two ends may be the same point."""
    return len(path.segment) > 1 or path.from_fraction != path.to_fraction


@dataclass(frozen=True, slots=True)
class CrossingPair:
    """Two crossings that are worse to lose together than either alone.

    Attributes
    ----------
    first, second : int
        Numbers of the crossings, ascending.
    extra_s : float
        Walking time lost; infinite when no way is left [s].
    paths : tuple of Path
        The legs of the way that is left; empty when none is.
    """

    first: int
    second: int
    extra_s: float
    paths: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class Legs:
    """Start to home over every via, each street at the time and light of the open way.

    Attributes
    ----------
    trips : tuple of TimedTrip
        One a leg.
    """

    trips: tuple[TimedTrip, ...]

    @property
    def paths(self) -> tuple[Path, ...]:
        """The open way, leg by leg."""
        return tuple(trip.path(trip.open_way) for trip in self.trips)

    def profile(self) -> Profile:
        """Say what a blockage of each street of the open way costs.

        Returns
        -------
        Profile
            All legs in a row.
        """
        profiles = [trip.profile() for trip in self.trips]
        return Profile(
            np.concatenate([one.known_extra_s for one in profiles]),
            np.concatenate([one.met_extra_s for one in profiles]),
        )

    def met_extra_s(self, segments: NDArray[np.integer]) -> float:
        """Say what a closure costs that is found out where the open way first meets it.

        Parameters
        ----------
        segments : ndarray of int
            What is closed.

        Returns
        -------
        float
            Walking time lost; 0 when the open way does not meet it [s].
        """
        for number, trip in enumerate(self.trips):
            met_s = trip.met_extra_s(segments)
            if met_s != 0.0:
                later = self.trips[number + 1 :]
                return met_s + sum(one.lost_s(one.without(segments)) for one in later)
        return 0.0

    def alone_s(self, groups: Sequence[NDArray[np.integer]]) -> NDArray[np.float64]:
        """Add up the walking time lost when each of some closures stands alone.

        Parameters
        ----------
        groups : sequence of ndarray of int
            Segments of each closure.

        Returns
        -------
        ndarray of float, one a closure
            Infinite where no way is left [s].
        """
        lost = [[trip.lost_s(trip.without(group)) for group in groups] for trip in self.trips]
        total: NDArray[np.float64] = np.sum(lost, axis=0)
        return total

    def pairs(self, groups: Sequence[NDArray[np.integer]]) -> list[CrossingPair]:
        """Find the pairs of closures that cost more together than the worse one alone.

        Both in what the ways are chosen by and in time.

        Parameters
        ----------
        groups : sequence of ndarray of int
            Segments of each closure.

        Returns
        -------
        list of Pair
            In ascending order.
        """
        single = [[trip.without(group).extra_s for group in groups] for trip in self.trips]
        by_leg = [
            {(pair.first, pair.second): pair for pair in pairs_that_matter(trip, groups)}
            for trip in self.trips
        ]
        alone, alone_s = np.sum(single, axis=0), self.alone_s(groups)
        on_way = np.flatnonzero(alone > 0.0).tolist()
        wanted = {pair for found in by_leg for pair in found}
        if len(self.trips) > 1:
            wanted |= {(a, b) for a in on_way for b in on_way if a < b}
        pairs = []
        for first, second in sorted(wanted):
            extra, lost_s, paths = 0.0, 0.0, []
            for leg, trip in enumerate(self.trips):
                pair = by_leg[leg].get((first, second))
                if pair is None:
                    worse = max((first, second), key=lambda number: single[leg][number])
                    around = trip.without(groups[worse])
                    extra += around.extra_s
                    lost_s += trip.lost_s(around)
                    paths += [trip.path(around)] if np.isfinite(around.extra_s) else []
                elif pair.path is None:
                    extra = lost_s = np.inf
                else:
                    extra += pair.extra_s
                    lost_s += pair.path.sum_of(*trip.times_s, waits=trip.waits_s) - trip.took_s(
                        trip.open_way
                    )
                    paths.append(pair.path)
            dearer = extra > max(alone[first], alone[second]) * (1.0 + 1e-9)
            if dearer and lost_s > max(alone_s[first], alone_s[second]):
                pairs.append(
                    CrossingPair(first, second, lost_s, tuple(paths) if np.isfinite(lost_s) else ())
                )
        return pairs

    def with_leg(self, scene: Scene, number: int, path: Path) -> Way:
        """Give the open way with one leg replaced.

        Parameters
        ----------
        scene : Scene
            The loaded plan.
        number : int
            Which leg.
        path : Path
            What to walk instead.

        Returns
        -------
        Way
            As ``find_way`` gives it.
        """
        paths = list(self.paths)
        paths[number] = path
        took_s = sum(
            each.sum_of(*trip.times_s, waits=trip.waits_s)
            for trip, each in zip(self.trips, paths, strict=True)
        )
        return way_of(scene, paths, took_s)


def way_of(scene: Scene, paths: Sequence[Path], took_s: float) -> Way:
    """Lay out legs as a way that can be walked."""
    courses = [course_along(scene.streets, path) for path in paths if path.cost > 0.0]
    return Way(legs=tuple(paths), course=alike(join_courses(courses)), cost_s=took_s)


def prepare_legs(scene: Scene, times: Times) -> Legs:
    """Prepare every leg under the light and the closing hours of its arrival times.

    Parameters
    ----------
    scene : Scene
        The loaded plan; its way home exists.
    times : Times
        From ``street_times``.

    Returns
    -------
    Legs
        Ready for closures.

    Raises
    ------
    NoWayHomeError
        When a leg cannot be walked.
    """
    trips = []
    gone_s = 0.0
    for origin, destination in pairwise(scene.ends):
        start = (origin.segment, origin.fraction)
        layout = Layout.build(scene.network, start, (destination.segment, destination.fraction))
        *_, costs = clock_rounds(scene, times, scene.closed, start, gone_s)
        trip = TimedTrip(
            layout,
            *costs.weighed,
            closed=costs.closed,
            times_s=costs.times_s,
            waits=costs.waits,
            waits_s=costs.waits_s,
        )
        if not np.isfinite(trip.open_way.cost_s):
            message = "no way home exists on this map with what is closed"
            raise NoWayHomeError(message)
        trips.append(trip)
        gone_s += trip.took_s(trip.open_way)
    return Legs(tuple(trips))
