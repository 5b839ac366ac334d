"""A plan made ready for any number of drawn walks: ways around what is closed, found once each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import InputError, NoWayHomeError
from simulator.questions.crowd import walk_crowd
from simulator.questions.crowd_records import LEDGER_HOURS, Arrivals, Crowd
from simulator.questions.crowd_stops import Hours, taps_along
from simulator.questions.draws import FARTHEST, Drawn, places_that_work, shape_walks
from simulator.questions.home import walk_way
from simulator.questions.scene import LONGEST_WALK_H, Scene, prepare, weather_of
from simulator.questions.ways import find_way
from simulator.route.closures import resolve
from simulator.walk.conditions import conditions_over
from simulator.walk.records import HOURLY, PASSING

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from simulator.plan import Plan
    from simulator.plan.odds import Odds
    from simulator.questions.walked import Walked
    from simulator.sky.weather import Weather
    from simulator.walk.conditions import Conditions

HOUR_S = 3600.0
DAY_H = 24.0

PROFILE_POINTS = 40
"""Points along the way at which the profile is told."""


@dataclass(frozen=True, slots=True)
class Closing:
    """Something that may be closed.

    Attributes
    ----------
    name : str
        As in the plan, or the bridge's name.
    chance : float
        How likely.
    mask : (M,) bool
        Its segments.
    """

    name: str
    chance: float
    mask: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Outcome:
    """Drawn walks and how they went, in order; walks without a way home are NaN.

    Attributes
    ----------
    drawn : Drawn
        The draws.
    arrivals : Arrivals
        How each went.
    no_way : (n,) bool
        Walks on which closures leave no way home.
    way : (n,) int64
        Which way each took, -1 without one.
    """

    drawn: Drawn
    arrivals: Arrivals
    no_way: NDArray[np.bool_]
    way: NDArray[np.int64]


@dataclass(slots=True)
class Trial:
    """A plan ready for any number of drawn walks; ways are found once for each closure.

    Attributes
    ----------
    scene : Scene
        The loaded plan.
    settings : Odds
        How far everything spreads.
    conditions : Conditions
        Sun and weather over all that may be drawn.
    by_days : bool
        Whether days of a typical year are drawn.
    closings : tuple of Closing
        What may be closed.
    ways : list of Walked
        The plan's walk on each way found so far; the first with nothing closed.
    known : dict
        Way by closures, -1 for none.
    opening : Hours
        Opening hours looked up so far.
    block : int
        Walks at a time.
    """

    scene: Scene
    settings: Odds
    conditions: Conditions
    by_days: bool
    closings: tuple[Closing, ...]
    ways: list[Walked]
    known: dict[bytes, int]
    opening: Hours
    block: int

    @classmethod
    def prepare(cls, plan: Plan, *, block: int, progress: Callable[[str], None]) -> Trial:
        """Load a plan and walk it once.

        Parameters
        ----------
        plan : Plan
            What is asked.
        block : int
            Walks at a time.
        progress : callable
            Told each stage.

        Returns
        -------
        Trial
            Ready to run.
        """
        scene = prepare(plan, progress=progress)
        progress("walking the plan itself")
        own = walk_way(scene, find_way(scene))
        weather = weather_of(plan, scene.zone)
        by_days = weather.repeat == "yearly"
        return cls(
            scene=scene,
            settings=plan.odds,
            conditions=_conditions(scene, plan.odds, weather, by_days=by_days),
            by_days=by_days,
            closings=_closings(scene, plan.odds, own),
            ways=[own],
            known={},
            opening=Hours(scene),
            block=block,
        )

    def run(
        self,
        unit: NDArray[np.float64],
        *,
        seed: int,
        luck_of: NDArray[np.int64],
        progress: Callable[[str], None],
    ) -> Outcome:
        """Walk every drawn walk.

        Parameters
        ----------
        unit : (n, D) float64
            Even numbers for all that is drawn.
        seed : int
            For the luck of single places.
        luck_of : (n,) int64
            Which draw of that luck each walk takes.
        progress : callable
            Told how many are done.

        Returns
        -------
        Outcome
            In the order of the rows.
        """
        drawn = shape_walks(
            self.scene,
            self.settings,
            unit,
            by_days=self.by_days,
            chances=np.array([closing.chance for closing in self.closings]),
            length_m=self.ways[0].way.course.length_m,
        )
        way = self._ways_of(drawn.closed)
        arrivals = _empty(unit.shape[0], LEDGER_HOURS, PROFILE_POINTS)
        for number in np.unique(way[way >= 0]).tolist():
            rows = np.flatnonzero(way == number)
            part = self._walk(number, drawn, rows, seed=seed, luck_of=luck_of)
            arrivals.put(rows, part)
            progress(f"walked {int((way <= number).sum()):,} of {way.size:,}")
        return Outcome(drawn=drawn, arrivals=arrivals, no_way=way < 0, way=way)

    def _walk(
        self,
        number: int,
        drawn: Drawn,
        rows: NDArray[np.intp],
        *,
        seed: int,
        luck_of: NDArray[np.int64],
    ) -> Arrivals:
        """Walk those who take one way."""
        walked = self.ways[number]
        taps = taps_along(self.scene, walked)
        works = places_that_work(
            self.scene,
            self.settings,
            taps.place,
            together=drawn.together[rows],
            seed=seed,
            luck_of=luck_of[rows],
        )
        crowd: Crowd = replace(drawn.crowd.some(rows), works=works)
        return walk_crowd(
            self.scene,
            walked,
            crowd,
            conditions=self.conditions,
            taps=taps,
            hours=LEDGER_HOURS,
            profile=profile_steps(walked),
            opening=self.opening,
            block=self.block,
        )

    def _ways_of(self, closed: NDArray[np.bool_]) -> NDArray[np.int64]:
        """Find the way of each walk, once for each set of closures."""
        way = np.zeros(closed.shape[0], dtype=np.int64)
        if closed.shape[1] == 0:
            return way
        sets, which = np.unique(closed, axis=0, return_inverse=True)
        found = [self._way_around(each) for each in sets]
        return np.array(found, dtype=np.int64)[which.ravel()]

    def _way_around(self, closed: NDArray[np.bool_]) -> int:
        key = closed.tobytes()
        if not closed.any():
            return 0
        if key not in self.known:
            mask = np.logical_or.reduce(
                [c.mask for c, shut in zip(self.closings, closed.tolist(), strict=True) if shut]
            )
            self.known[key] = self._way_without(mask)
        return self.known[key]

    def _way_without(self, mask: NDArray[np.bool_]) -> int:
        scene = replace(self.scene, closed=self.scene.closed | mask)
        try:
            way = find_way(scene)
        except NoWayHomeError:
            return -1
        for number, walked in enumerate(self.ways):
            if np.array_equal(walked.way.course.segment, way.course.segment):
                return number
        self.ways.append(walk_way(scene, way))
        return len(self.ways) - 1


def profile_steps(walked: Walked) -> NDArray[np.int64]:
    """Choose the steps at which the profile is read.

    Parameters
    ----------
    walked : Walked
        A way.

    Returns
    -------
    (PROFILE_POINTS,) int64
        Evenly spread over its length.
    """
    course = walked.way.course
    at_m = np.linspace(0.0, course.length_m, PROFILE_POINTS, endpoint=False)
    return np.searchsorted(course.distance_m[:-1], at_m, side="right").astype(np.int64) - 1


def _empty(walks: int, hours: int, points: int) -> Arrivals:
    """Make room for walks; without a way home all stays unknown."""
    shapes = {"hourly": (hours, 1 + len(HOURLY), walks), "profile": (points, len(PASSING), walks)}
    columns: dict[str, Any] = {
        name: np.full(shapes.get(name, (walks,)), np.nan) for name in Arrivals.__slots__
    }
    columns["halt_in_the_open"] = np.zeros(walks, dtype=bool)
    columns["limits_left"] = np.ones(walks, dtype=bool)
    return Arrivals(**columns)


def _conditions(scene: Scene, settings: Odds, weather: Weather, *, by_days: bool) -> Conditions:
    """Lay sun and weather over every departure that may be drawn and the walk after it."""
    early_h = FARTHEST * settings.depart_sd_min / 60.0 + 1.0
    days_h = DAY_H * settings.weather_days if by_days else 0.0
    try:
        return conditions_over(
            weather,
            lat=0.5 * (scene.ends[0].lat + scene.ends[-1].lat),
            lon=0.5 * (scene.ends[0].lon + scene.ends[-1].lon),
            start_epoch_s=scene.depart_epoch_s - HOUR_S * (early_h + days_h),
            hours=2.0 * (early_h + days_h) + LONGEST_WALK_H,
        )
    except ValueError:
        problem = (
            f"the weather does not begin {early_h:.1f} h before the departure, as early as walks "
            "are drawn; give a file that does, or a smaller odds.depart_sd_min"
        )
        raise InputError(str(scene.plan.weather.file or "weather"), problem) from None


def _closings(scene: Scene, settings: Odds, own: Walked) -> tuple[Closing, ...]:
    """List what may be closed: as the plan names it, and every bridge of the way."""
    closings = []
    for name, chance in settings.closures:
        closure = resolve(scene.streets, closed=(name,), area=None, flood_level_m=None)
        closings.append(Closing(str(name), chance, closure.mask))
    if settings.bridge_chance > 0.0:
        ways, course = scene.streets.ways, own.way.course
        taken: set[str] = {closing.name for closing in closings}
        for row in dict.fromkeys(course.way[course.bridge].tolist()):
            name = ways.bridge_name[row] or ways.name[row] or f"bridge {ways.osm_id[row]}"
            if name in taken:
                continue
            taken.add(name)
            same = np.array(
                [
                    bool(bridge) and (deck or street or f"bridge {number}") == name
                    for bridge, deck, street, number in zip(
                        ways.bridge.tolist(),
                        ways.bridge_name,
                        ways.name,
                        ways.osm_id.tolist(),
                        strict=True,
                    )
                ]
            )
            closings.append(Closing(name, settings.bridge_chance, same[scene.streets.way]))
    return tuple(closings)
