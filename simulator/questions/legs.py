"""The legs of a way home, prepared so that closures on them can be judged at once."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import NoWayHomeError
from simulator.questions.ways import Times, Way, clock_rounds
from simulator.route.pairs import pairs_that_matter
from simulator.route.search import Path
from simulator.route.trip import Layout, Profile, Trip
from simulator.walk.course import course_along, join_courses

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.questions.scene import Scene


@dataclass(frozen=True, slots=True)
class Pair:
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
    trips : tuple of Trip
        One a leg.
    """

    trips: tuple[Trip, ...]

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
            if met_s > 0.0:
                later = self.trips[number + 1 :]
                return met_s + sum(one.without(segments).extra_s for one in later)
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
        lost = [[trip.without(group).extra_s for group in groups] for trip in self.trips]
        total: NDArray[np.float64] = np.sum(lost, axis=0)
        return total

    def pairs(self, groups: Sequence[NDArray[np.integer]]) -> list[Pair]:
        """Find the pairs of closures that cost more together than the worse one alone.

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
        alone = np.sum(single, axis=0)
        on_way = np.flatnonzero(alone > 0.0).tolist()
        wanted = {pair for found in by_leg for pair in found}
        if len(self.trips) > 1:
            wanted |= {(a, b) for a in on_way for b in on_way if a < b}
        pairs = []
        for first, second in sorted(wanted):
            extra_s, paths = 0.0, []
            for leg, trip in enumerate(self.trips):
                pair = by_leg[leg].get((first, second))
                if pair is not None:
                    extra_s += pair.extra_s
                    paths += [] if pair.path is None else [pair.path]
                else:
                    worse = max((first, second), key=lambda number: single[leg][number])
                    around = trip.without(groups[worse])
                    extra_s += around.extra_s
                    paths += [trip.path(around)] if np.isfinite(around.extra_s) else []
            if extra_s > max(alone[first], alone[second]) * (1.0 + 1e-9):
                pairs.append(
                    Pair(first, second, extra_s, tuple(paths) if np.isfinite(extra_s) else ())
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
        return way_of(scene, paths)


def way_of(scene: Scene, paths: Sequence[Path]) -> Way:
    """Lay out legs as a way that can be walked.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    paths : sequence of Path
        One a leg.

    Returns
    -------
    Way
        As ``find_way`` gives it.
    """
    courses = [course_along(scene.streets, path) for path in paths if path.cost > 0.0]
    cost_s = sum(path.cost for path in paths)
    return Way(legs=tuple(paths), course=join_courses(courses), cost_s=cost_s)


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
        trip = Trip(layout, costs.forward_s, costs.backward_s, closed=costs.closed)
        if not np.isfinite(trip.open_way.cost_s):
            message = "no way home exists on this map with what is closed"
            raise NoWayHomeError(message)
        trips.append(trip)
        gone_s += trip.open_way.cost_s
    return Legs(tuple(trips))
