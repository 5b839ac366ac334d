"""The least-time way from start over vias to home, each street taken at the hour one gets there."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import InputError, NoWayHomeError
from simulator.questions.barred import barred_words
from simulator.questions.scene import where_in
from simulator.questions.unknown_heights import share_words
from simulator.walk.course import course_along, join_courses
from simulator.walk.manner import barred_by_limits, street_times_s

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from simulator.ground.snap import Snap
    from simulator.questions.scene import Scene
    from simulator.route.search import Path
from simulator.walk.course import Course

CLOCK_ROUNDS = 3
"""How often arrival times and the way may correct each other; the second round rarely differs."""

SECONDS_PER_DAY = 86_400.0


@dataclass(frozen=True, slots=True)
class Way:
    """A way home.

    Attributes
    ----------
    legs : tuple of Path
        One between each two of start, vias and home.
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
    """Time on every street each way, by day and after dark.

    Attributes
    ----------
    day_forward_s, day_backward_s, dark_forward_s, dark_backward_s : (M,) float64
        Walking times [s].
    """

    day_forward_s: NDArray[np.float64]
    day_backward_s: NDArray[np.float64]
    dark_forward_s: NDArray[np.float64]
    dark_backward_s: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Costs:
    """What the search weighs.

    Attributes
    ----------
    forward_s, backward_s : (M,) float64
        Walking times [s].
    closed : (M,) bool
        Segments that cannot be taken.
    """

    forward_s: NDArray[np.float64]
    backward_s: NDArray[np.float64]
    closed: NDArray[np.bool_]


def street_times(scene: Scene) -> Times:
    """Work out every street's time for the slowest of the party.

    Parameters
    ----------
    scene : Scene
        The loaded plan.

    Returns
    -------
    Times
        By day and after dark.
    """
    slowest = float(scene.walkers.pace_factor.min())
    day = street_times_s(scene.streets, scene.manner, speed_factor=slowest)
    dark = street_times_s(scene.streets, scene.manner, speed_factor=slowest, dark=True)
    return Times(*day, *dark)


def find_way(
    scene: Scene, *, times: Times | None = None, also_closed: NDArray[np.bool_] | None = None
) -> Way:
    """Find the least-time way home.

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
        gone_s += leg.cost
    courses = [course_along(scene.streets, leg) for leg in legs if _has_length(leg)]
    if not courses:
        problem = "falls on the same point of the nearest street as the start; nothing to walk"
        raise InputError(where_in(scene.plan, "trip.home"), problem)
    course = join_courses(courses)
    return Way(legs=tuple(legs), course=course, cost_s=gone_s, costs=tuple(weighed))


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
            scene.network.least(costs.forward_s, costs.backward_s, start, end, closed=costs.closed)
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
    costs = Costs(times.day_forward_s, times.day_backward_s, closed)
    yield costs
    before = np.zeros(closed.size, dtype=bool)
    for _ in range(CLOCK_ROUNDS if scene.manner.dark or scene.closure.timed else 0):
        arrive = scene.network.field(costs.forward_s, costs.backward_s, start, closed=costs.closed)
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
    """Say when each segment is reached, hourly rests included; far ends count as late.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    arrive_s : (N,) float64
        Moving time to every node from the leg's begin [s]; infinite where none leads.
    gone_s : float
        Moving time before the leg [s].

    Returns
    -------
    (M,) ndarray of float64
        Seconds since 1970-01-01 UTC.
    """
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
