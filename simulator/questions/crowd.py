"""Many walks along one way, with what each finds on it: the shared work of odds and year.

First everyone walks without stops, which tells what each has lost and when each passes every
place; from that follows who stops where; then all walk again with their stops, and again with
night halts for those whose day ends on the way. Everything is decided walk by walk, so neither the
size of a block nor the number of workers changes a number.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.questions.crowd_records import Arrivals, Crowd, join_arrivals
from simulator.questions.crowd_stops import (
    Halts,
    Hours,
    Taps,
    add_halts,
    merged,
    taps_along,
    who_stops,
)
from simulator.questions.crowd_warmth import foot_short_of, halt_warmth_of
from simulator.questions.refilling import RELIED_ON_SHARE
from simulator.walk.engine import simulate
from simulator.walk.manner import level_speed_m_s
from simulator.walk.records import (
    HOURLY,
    PASSING,
    Marks,
    Outcome,
    Total,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked
    from simulator.walk.conditions import Conditions
    from simulator.walk.records import Stop

BLOCK = 5_000
"""Walks taken at a time; bounds the memory and changes no number."""

MOST_HALTS = 5
"""Nights planned at most, as in the main question."""

HOUR_S = 3600.0
BUSY = 2
"""Traffic code of busy roads."""


def walk_crowd(
    scene: Scene,
    walked: Walked,
    crowd: Crowd,
    *,
    conditions: Conditions,
    taps: Taps | None = None,
    follow_plan: bool = True,
    hours: int = 0,
    profile: NDArray[np.int64] | None = None,
    opening: Hours | None = None,
    block: int = BLOCK,
    progress: Callable[[float], None] | None = None,
) -> Arrivals:
    """Walk one way many times.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The plan's own walk on this way: the course, places near it, stops.
    crowd : Crowd
        n walks.
    conditions : Conditions
        Sun and weather over all departures and walks.
    taps : Taps, optional
        Where bottles can be filled; found anew when left out.
    follow_plan : bool
        Whether everyone makes the plan's stops, or only stops when in need.
    hours : int
        Full hours at which the ledger is read.
    profile : (K,) int64, optional
        Steps at which the profile is read.
    opening : Hours, optional
        Opening hours looked up so far, to share between calls.
    block : int
        Walks at a time.
    progress : callable, optional
        Told the share done.

    Returns
    -------
    Arrivals
        In the order of the walks.
    """
    taps = taps or taps_along(scene, walked)
    steps = np.zeros(0, dtype=np.int64) if profile is None else profile
    walker = _Block(scene, walked, taps, opening or Hours(scene), conditions, hours, steps)
    parts = []
    for first in range(0, crowd.count, block):
        some = np.arange(first, min(first + block, crowd.count))
        parts.append(walker.walk(crowd.some(some), follow_plan=follow_plan))
        if progress is not None:
            progress((int(some[-1]) + 1) / crowd.count)
    return join_arrivals(parts)


@dataclass(frozen=True, slots=True)
class _Block:
    """Everything that is the same for all blocks of walks."""

    scene: Scene
    walked: Walked
    taps: Taps
    opening: Hours
    conditions: Conditions
    hours: int
    profile: NDArray[np.int64]

    def walk(self, crowd: Crowd, *, follow_plan: bool) -> Arrivals:
        """Walk without stops, with stops, and with halts."""
        nearby, members = self.walked.nearby, crowd.members
        first = self._simulate(crowd, [], nearby.step)
        passing = _passing(first, members)
        clock, lost = passing[:, 0, :], passing[:, PASSING.index(Total.LOST_ML), :]
        water, holds = (
            _party(crowd.walkers.water_ml, members),
            _party(crowd.walkers.capacity_ml, members),
        )
        rows = self.taps.row
        works = np.ones(clock[rows].shape, bool) if crowd.works is None else crowd.works.T
        stopping = who_stops(
            self.taps,
            need_ml=lost[rows],
            end_need_ml=_party(first.totals[Total.LOST_ML], members),
            start_ml=water,
            capacity_ml=holds,
            enterable=self._enterable(self.taps.place, crowd, clock[rows]),
            works=works,
            follow_plan=follow_plan,
        )
        stopping, works = (np.repeat(each, members, axis=1) for each in (stopping, works))
        halts = Halts.none(crowd.count)
        outcome = self._simulate(crowd, merged(self.taps, stopping, works), self._marks())
        arrivals = self._arrivals(crowd, outcome, halts)
        if not self.scene.plan.choices.halt:
            return arrivals
        for _ in range(MOST_HALTS):
            due = _due(outcome, members)
            if due.size == 0:
                break
            self._halt(crowd, outcome, halts, due)
            some, tired = crowd.some(due), halts.some(due)
            columns = (due[:, None] * members + np.arange(members)).ravel()
            stops = merged(self.taps, stopping[:, columns], works[:, columns])
            stops += tired.stops(self.scene, self.walked, members)
            stops.sort(key=lambda stop: stop.step)
            again = self._simulate(some, stops, self._marks())
            arrivals.put(due, self._arrivals(some, again, tired))
            _overwrite(outcome, columns, again)
        return arrivals

    def _marks(self) -> NDArray[np.int64]:
        return np.concatenate([self.walked.nearby.step, self.profile])

    def _simulate(self, crowd: Crowd, stops: list[Stop], steps: NDArray[np.int64]) -> Outcome:
        scene, course = self.scene, self.walked.way.course
        read, where = np.unique(steps, return_inverse=True)
        beside = (course.traffic == BUSY) & ~scene.streets.ways.sidewalk[course.way]
        outcome = simulate(
            course,
            crowd.walkers,
            manner=scene.manner,
            conditions=self.conditions,
            depart_epoch_s=np.repeat(crowd.depart_epoch_s, crowd.members),
            stops=stops,
            traits=crowd.traits,
            error=crowd.error,
            marks=Marks(hours=self.hours, steps=read),
            beside_traffic=beside,
            longest_day_s=HOUR_S * scene.plan.choices.longest_day_h,
        )
        if outcome.passing is None:
            return replace(outcome, passing=np.zeros((0, len(PASSING), crowd.walkers.count)))
        return replace(outcome, passing=outcome.passing[where])

    def _enterable(
        self, place: NDArray[np.int64], crowd: Crowd, clock_s: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        entered = np.zeros(clock_s.shape, dtype=bool)
        for row, each in enumerate(place.tolist()):
            entered[row] = self.opening.may_enter(each, crowd.depart_epoch_s + clock_s[row])
        return entered

    def _halt(self, crowd: Crowd, outcome: Outcome, halts: Halts, due: NDArray[np.intp]) -> None:
        """Plan one more halt for the walks whose day ends on the way."""
        scene, nearby, members = self.scene, self.walked.nearby, crowd.members
        places = scene.places
        gives = np.array(["shelter" in places.gives[row] for row in nearby.place.tolist()], bool)
        share = places.works_in(scene.plan.event.kind)[nearby.place]
        clock = _passing(outcome, members)[: nearby.place.size, 0, :]
        shelters = np.zeros(clock.shape, dtype=bool)
        rows = np.flatnonzero(gives & (share >= RELIED_ON_SHARE))
        shelters[rows] = self._enterable(nearby.place[rows], crowd, clock[rows])
        slowest = crowd.walkers.pace_factor.reshape(-1, members).min(axis=1)
        speed = level_speed_m_s(scene.manner) * slowest
        service = places.service_s[nearby.place][:, None]
        if outcome.limit_s is None or outcome.limit_step is None:
            message = "a halt needs the end of the day; give simulate longest_day_s"
            raise ValueError(message)
        add_halts(
            halts,
            self.walked,
            conditions=self.conditions,
            depart_epoch_s=crowd.depart_epoch_s,
            limit_s=outcome.limit_s[::members],
            limit_step=outcome.limit_step[::members],
            clock_s=clock,
            off_s=0.5 * (2.0 * nearby.off_m[:, None] / speed + service),
            usable=shelters,
            due=due,
        )

    def _arrivals(self, crowd: Crowd, outcome: Outcome, halts: Halts) -> Arrivals:
        members, total = crowd.members, outcome.totals
        walkers = crowd.walkers

        def worst(values: NDArray[np.float64]) -> NDArray[np.float64]:
            top: NDArray[np.float64] = values.reshape(-1, members).max(axis=1)
            return top

        def first(values: NDArray[np.float64]) -> NDArray[np.float64]:
            least: NDArray[np.float64] = values.reshape(-1, members).min(axis=1)
            return least

        hourly = np.zeros((0, 1 + len(HOURLY), crowd.count))
        if outcome.hourly is not None:
            shaped = outcome.hourly.reshape(*outcome.hourly.shape[:2], -1, members)
            hourly = shaped.sum(axis=-1)
            hourly[:, 0] = shaped[:, 0, :, 0]
        elapsed = total[Total.CLOCK_S][::members]
        night = halt_warmth_of(self.scene, crowd, outcome, self.conditions)
        end = crowd.depart_epoch_s + elapsed
        unknown = ~np.isfinite(total).all(axis=0).reshape(-1, members).all(axis=1)
        return Arrivals(
            elapsed_s=elapsed,
            dark_s=total[Total.DARK_S][::members],
            unlit_s=total[Total.LIGHT_NEED_S][::members],
            light_short_s=worst(total[Total.LIGHT_NEED_S] - total[Total.LIGHT_USED_S]),
            loss_pct=worst(outcome.worst_deficit_ml / (10.0 * walkers.mass_kg)),
            short_ml=_party(outcome.worst_short_ml, members),
            first_short_s=first(outcome.first_short_s),
            energy_short_kcal=_party(total[Total.ENERGY_KCAL] - total[Total.EATEN_KCAL], members),
            food_out_s=first(outcome.food_out_s),
            light_out_s=first(outcome.light_out_s),
            coldest_c=first(outcome.coldest_felt_c),
            hottest_c=worst(outcome.hottest_felt_c),
            cold_from_s=first(outcome.cold_from_s),
            hot_from_s=first(outcome.hot_from_s),
            halt_h=night.hours,
            halt_short_clo=night.short_clo,
            foot_short_clo=foot_short_of(self.scene, crowd, outcome, self.conditions),
            halt_in_the_open=halts.in_the_open.copy(),
            busy_dark_km=outcome.busy_dark_m[::members] / 1000.0,
            hourly=hourly,
            profile=_passing(outcome, members)[self.walked.nearby.step.size :],
            limits_left=unknown | (end > self.conditions.end_epoch_s),
        )


def _party(values: NDArray[np.float64], members: int) -> NDArray[np.float64]:
    """Sum over the members of each party."""
    if members == 1:
        return values
    total: NDArray[np.float64] = values.reshape(-1, members).sum(axis=1)
    return total


def _passing(outcome: Outcome, members: int) -> NDArray[np.float64]:
    """Totals on reaching steps, the party's; the clock is everyone's."""
    if outcome.passing is None:
        message = "the places were not asked for"
        raise ValueError(message)
    if members == 1:
        return outcome.passing
    shaped = outcome.passing.reshape(*outcome.passing.shape[:2], -1, members)
    passing: NDArray[np.float64] = shaped.sum(axis=-1)
    passing[:, 0] = shaped[:, 0, :, 0]
    return passing


def _due(outcome: Outcome, members: int) -> NDArray[np.intp]:
    """Find the walks whose day ends before home."""
    if outcome.limit_s is None:
        return np.zeros(0, dtype=np.intp)
    return np.flatnonzero(outcome.limit_s[::members] < outcome.totals[Total.CLOCK_S][::members])


def _overwrite(outcome: Outcome, columns: NDArray[np.intp], again: Outcome) -> None:
    """Do the same for what the next halt is decided from."""
    outcome.totals[:, columns] = again.totals
    for name in ("limit_s", "limit_step", "passing"):
        old, new = getattr(outcome, name), getattr(again, name)
        if old is not None and new is not None:
            old[..., columns] = new
