"""Which way home never runs dry, where the fastest does or another is quicker with its stops."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from simulator.ground.hours import open_at
from simulator.questions.refilling import RELIED_ON_SHARE
from simulator.questions.thirst import Thirst, thirst_of
from simulator.questions.ways import Way, arrival_epoch_s
from simulator.route.never_dry import NeverDry, Points, Supply, never_dry, through
from simulator.walk.course import course_along, join_courses
from simulator.walk.ledger import local_time
from simulator.walk.manner import level_speed_m_s
from simulator.walk.records import Total

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked

    Walks = Callable[[Scene, Way], Walked]

FAR_SHARE = 2.0
"""Places that lie on no way shorter than so many times the fastest are not looked at."""

WORTH_S = 300.0
"""Another way is worth naming for its stops when it saves at least this [s]."""

LEAST_ML = 1.0
"""Water missing below this is none [mL]."""

HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class DryWay:
    """What the need for water says about the way.

    Attributes
    ----------
    needed : bool
        Whether the fastest way runs dry in spite of its stops.
    found : bool
        Whether a way was found that runs less dry, or not at all.
    walked : Walked or None
        That way as walked, where it differs from the fastest and is better.
    places : tuple of int
        Rows of the places filled at, in order.
    rate_ml_h : float
        Need by which bottles were taken to empty, while walking [mL/h].
    safe : bool
        Whether the way, walked with all that the walk counts, never runs dry.
    """

    needed: bool
    found: bool
    walked: Walked | None
    places: tuple[int, ...]
    rate_ml_h: float
    safe: bool


def dry_way(scene: Scene, walked: Walked, walk: Walks) -> DryWay:
    """Find the way that water chooses.

    The bottle is taken to empty evenly with walking time: by the mean need of the fastest way, and
    where the way found so still runs dry, by the need of its thirstiest hour. Places count as open
    by the earliest hour one can be there.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The fastest way as walked.
    walk : callable
        Walks a way, ``simulator.questions.home.walk_way``.

    Returns
    -------
    DryWay
        With the way itself only where it differs and matters.
    """
    short_ml = _short_ml(walked)
    runs_dry = short_ml > 0.0
    thirst = thirst_of(scene, walked.nearby, walked.reading, walked.outcome, walked.stops)
    mean, most = _rates_ml_s(walked)
    if mean <= 0.0 or thirst.end_need_ml <= thirst.start_ml:
        return _fastest(mean)
    ground = _Ground(scene, walked)
    stop_s = sum(stop.service_s for stop in walked.stops)
    best = None
    for rate in (mean, most) if runs_dry else (mean,):
        answer = ground.ask(thirst, rate)
        if answer is None:
            break
        if not runs_dry and answer.total_s > ground.fastest_s + stop_s - WORTH_S:
            return _fastest(rate)
        other = walk(scene, ground.way(answer))
        if _short_ml(other) >= max(short_ml, LEAST_ML):
            continue
        best = DryWay(
            needed=runs_dry,
            found=True,
            walked=other,
            places=tuple(int(ground.rows[point]) for point, _ in answer.visits),
            rate_ml_h=rate * HOUR_S,
            safe=_short_ml(other) <= 0.0,
        )
        if best.safe:
            break
    if best is not None and (runs_dry or (best.safe and not _later(best.walked, walked))):
        return best
    if not runs_dry:
        return _fastest(mean)
    return DryWay(
        needed=True, found=False, walked=None, places=(), rate_ml_h=mean * HOUR_S, safe=False
    )


def _fastest(rate_ml_s: float) -> DryWay:
    """Say that the fastest way is the one that never runs dry."""
    return DryWay(
        needed=False,
        found=True,
        walked=None,
        places=(),
        rate_ml_h=rate_ml_s * HOUR_S,
        safe=True,
    )


def _short_ml(walked: Walked) -> float:
    """Water missing at the driest moment [mL]."""
    return float(walked.outcome.worst_short_ml.sum())


def _later(other: Walked | None, walked: Walked) -> bool:
    """Whether another way is home no sooner, all counted."""
    if other is None:
        return True
    clocks = (one.outcome.totals[Total.CLOCK_S].max() for one in (other, walked))
    return float(next(clocks)) > float(next(clocks)) - WORTH_S


def _rates_ml_s(walked: Walked) -> tuple[float, float]:
    """Need for each second of the way's walking time: mean, and of the thirstiest hour [mL/s]."""
    totals, cost_s = walked.outcome.totals, walked.way.cost_s
    mean = float(totals[Total.LOST_ML].sum()) / cost_s
    trace = walked.outcome.trace
    if trace is None:
        return mean, mean
    clock = trace.totals[:, Total.CLOCK_S, 0]
    lost, moved = trace.totals[:, Total.LOST_ML].sum(axis=1), trace.totals[:, Total.MOVED_S, 0]
    edges = np.arange(0.0, clock[-1], HOUR_S)
    if edges.size < 2:  # noqa: PLR2004 - one hour or less has no other
        return mean, mean
    hourly = np.diff(np.interp(edges, clock, lost))
    moving = np.diff(np.interp(edges, clock, moved)) * cost_s / float(totals[Total.MOVED_S, 0])
    # An hour of mostly halt says nothing of walking.
    busy = moving > 0.5 * moving.max(initial=0.0)
    return mean, max(mean, float((hourly[busy] / moving[busy]).max(initial=mean)))


class _Ground:
    """Streets at the hour they are reached, and the water that may be had on them."""

    def __init__(self, scene: Scene, walked: Walked) -> None:
        self.scene = scene
        ends = [(end.segment, end.fraction) for end in scene.ends]
        network = scene.network
        weighed = walked.way.costs[0]
        self.forward_s, self.backward_s = weighed.forward_s, weighed.backward_s
        self.shut = weighed.closed
        self.ends = ends
        costs = (self.forward_s, self.backward_s)
        begin = network.field(*costs, ends[0], closed=self.shut)
        home = network.field_to(*costs, ends[-1], closed=self.shut)
        self.fastest_s = sum(
            network.least(*costs, start, end, closed=self.shut).cost
            for start, end in pairwise(ends)
        )
        limit_s = FAR_SHARE * walked.way.cost_s
        through_s = begin + home
        streets = scene.streets
        # Whoever steps here is home later than any way worth a look.
        self.far = np.minimum(through_s[streets.tail], through_s[streets.head]) > limit_s
        self.rows = self._worth_a_look(begin, home, limit_s)
        self.points = self._points(begin)

    def _worth_a_look(
        self, begin_s: NDArray[np.float64], home_s: NDArray[np.float64], limit_s: float
    ) -> NDArray[np.intp]:
        """Rows of the places that give water one may have, not too far off."""
        places, carried = self.scene.places, self.scene.carried
        streets = self.scene.streets
        wet = np.array(["water" in gives for gives in places.gives], dtype=bool)
        wet &= (places.segment >= 0) & (places.access_m <= self.scene.plan.choices.refill_reach_m)
        wet &= places.works_in(self.scene.plan.event.kind) >= RELIED_ON_SHARE
        wet &= ~places.needs_key | carried.has_key
        wet &= ~places.needs_treatment | (carried.treats_ml > 0.0)
        rows = np.flatnonzero(wet)
        segment = places.segment[rows]
        through_s = begin_s + home_s
        near = np.minimum(through_s[streets.tail[segment]], through_s[streets.head[segment]])
        return rows[(near <= limit_s) & ~self.shut[segment]]

    def _points(self, begin_s: NDArray[np.float64]) -> Points:
        """Set the places on the streets; a stop at one that is shut cannot be made."""
        scene, places, rows = self.scene, self.scene.places, self.rows
        segment = places.segment[rows]
        speed = level_speed_m_s(scene.manner) * float(scene.walkers.pace_factor.min())
        reached = arrival_epoch_s(scene, begin_s, 0.0)[segment]
        stop_s = places.service_s[rows].copy()
        for number, (place, epoch_s) in enumerate(
            zip(rows.tolist(), reached.tolist(), strict=True)
        ):
            state = None
            if places.hours[place]:
                state = open_at(
                    places.hours[place],
                    local_time(epoch_s, scene.zone),
                    lat=float(places.lat[place]),
                    lon=float(places.lon[place]),
                )
            if state is False or (state is None and not places.always_open[place]):
                stop_s[number] = np.inf
        return Points(
            segment=segment.astype(np.int32),
            fraction=places.fraction[rows],
            access_s=places.access_m[rows] / speed,
            stop_s=stop_s,
            treated=places.needs_treatment[rows],
        )

    def ask(self, thirst: Thirst, rate_ml_s: float) -> NeverDry | None:
        """Find the way for a need by the second."""
        points, kit = self.points, thirst.kit
        supply = Supply(thirst.start_ml / rate_ml_s, thirst.capacity_ml / rate_ml_s)
        stop_s = points.stop_s
        if kit.treatments:
            first = kit.treatments[0]
            total_ml = sum(treatment.treats_ml for treatment in kit.treatments)
            supply = supply._replace(
                treats_s=total_ml / rate_ml_s,
                dose_s=first.dose_ml / rate_ml_s,
                one_bottle=kit.one_bottle,
            )
            stop_s = stop_s + np.where(points.treated, min(first.wait_s, first.carry_s), 0.0)
        return never_dry(
            self.scene.streets.tail,
            self.scene.streets.head,
            self.scene.streets.lon.size,
            self._open(self.forward_s, self.scene.streets.open_forward),
            self._open(self.backward_s, self.scene.streets.open_backward),
            ends=self.ends,
            points=Points(points.segment, points.fraction, points.access_s, stop_s, points.treated),
            supply=supply,
        )

    def _open(self, cost_s: NDArray[np.float64], may: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Give times with infinity where one may not walk."""
        return np.where(may & ~self.shut & ~self.far, cost_s, np.inf)

    def way(self, answer: NeverDry) -> Way:
        """Lay the way found out along the streets."""
        points = self.points
        visits = [
            (leg, (int(points.segment[point]), float(points.fraction[point])))
            for point, leg in answer.visits
        ]
        legs = [
            self.scene.network.least(self.forward_s, self.backward_s, begin, end, closed=self.shut)
            for begin, end in pairwise(through(self.ends, visits))
            if begin != end
        ]
        courses = [course_along(self.scene.streets, leg) for leg in legs]
        return Way(
            legs=tuple(legs),
            course=join_courses(courses),
            cost_s=sum(leg.cost for leg in legs),
        )
