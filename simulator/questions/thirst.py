"""Need and supply of water along one way: what every question about water starts from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from simulator.body import energy, water
from simulator.questions.treatment import Kit, kit_of
from simulator.route.bottle import Treatment
from simulator.route.refills import StopPlan, plan_stops
from simulator.walk.records import Doing, Total

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.questions.refilling import Reading
    from simulator.questions.scene import Scene
    from simulator.walk.records import Outcome, Stop
    from simulator.walk.stops import Nearby

    Kind = TypeVar("Kind", np.bool_, np.float64, np.int64)

DRINK_AHEAD_ML = 250.0
"""Most that each walker drinks ahead of need before filling, to finish what is carried [mL]: a
glass, far below the safe hourly intake; assumed."""

RESERVE_ML = 50.0
"""Kept in each walker's bottle by the choice of stops where that can be had [mL]: a mouthful, so
that a way a little thirstier than reckoned does not run dry; at most `RESERVE_SHARE` of the bottle.
Assumed."""

RESERVE_SHARE = 0.1

HOUR_S = 3600.0

AMPLE = 3.0
"""Treatment for so many times the water still needed cannot run out."""


@dataclass(frozen=True, slots=True)
class Thirst:
    """Need and supply along one way: what every question about water starts from.

    Attributes
    ----------
    need_ml : (C,) float64
        Water the party needs up to each nearby place [mL], stops for water left out.
    fit_after_ml : (C,) float64
        Need from there until water taken and carried on is fit [mL].
    stop_need_ml : (C,) float64
        Water needed in the time of a stop there [mL], without treatment.
    stop_s : (C,) float64
        Time of a stop there without treatment [s].
    gives : (C,) bool
        Which places give water.
    treated : (C,) bool
        Which of their waters need treatment.
    end_need_ml, start_ml, capacity_ml : float
        Need up to home, water at the start, what all bottles hold [mL].
    kit : Kit
        What is carried for treating water.
    walkers : int
        How many drink from it.
    """

    need_ml: NDArray[np.float64]
    fit_after_ml: NDArray[np.float64]
    stop_need_ml: NDArray[np.float64]
    stop_s: NDArray[np.float64]
    gives: NDArray[np.bool_]
    treated: NDArray[np.bool_]
    end_need_ml: float
    start_ml: float
    capacity_ml: float
    kit: Kit
    walkers: int

    @property
    def ahead_ml(self) -> float:
        """Most the party drinks ahead of need at a stop [mL]."""
        return DRINK_AHEAD_ML * self.walkers

    @property
    def reserve_ml(self) -> float:
        """What the choice of stops keeps back in the bottles [mL]."""
        return min(RESERVE_ML * self.walkers, RESERVE_SHARE * self.capacity_ml)

    def treatments(self, left_ml: float) -> tuple[Treatment, ...]:
        """Give the treatments; one that cannot run out on what is left counts as without limit.

        Parameters
        ----------
        left_ml : float
            Water still needed [mL].

        Returns
        -------
        tuple of Treatment
            As in the kit.
        """
        enough = AMPLE * (left_ml + self.capacity_ml)
        return tuple(
            each._replace(treats_ml=inf) if each.treats_ml >= enough else each
            for each in self.kit.treatments
        )

    def plan(self, usable: NDArray[np.bool_]) -> StopPlan:
        """Choose the stops among some places.

        Parameters
        ----------
        usable : (C,) bool
            Places that may be stopped at.

        Returns
        -------
        StopPlan
            One row a nearby place.
        """
        rows = np.flatnonzero(usable & self.gives)
        plan = self._plan(rows, 0.0, self.start_ml)
        return _spread(plan, rows, usable.size)

    def plan_after(self, row: int, usable: NDArray[np.bool_], start_ml: float) -> StopPlan:
        """Choose the stops from a place on where nothing could be had.

        Parameters
        ----------
        row : int
            The place.
        usable : (C,) bool
            Places that may be stopped at.
        start_ml : float
            Water at hand there [mL].

        Returns
        -------
        StopPlan
            One row a nearby place; stops only after `row`.
        """
        later = usable & self.gives & (np.arange(usable.size) > row)
        rows = np.flatnonzero(later)
        plan = self._plan(rows, float(self.need_ml[row]), min(start_ml, self.capacity_ml))
        return _spread(plan, rows, usable.size)

    def _plan(self, rows: NDArray[np.intp], gone_ml: float, start_ml: float) -> StopPlan:
        kept = self._plan_keeping(self.reserve_ml, rows, gone_ml, start_ml)
        if kept.short_ml <= 0.0:  # what is at hand counts the reserve again
            return replace(
                kept,
                arrive_ml=kept.arrive_ml + self.reserve_ml,
                left_ml=kept.left_ml + self.reserve_ml,
            )
        return self._plan_keeping(0.0, rows, gone_ml, start_ml)

    def _plan_keeping(
        self, reserve_ml: float, rows: NDArray[np.intp], gone_ml: float, start_ml: float
    ) -> StopPlan:
        return plan_stops(
            self.need_ml[rows] - gone_ml,
            self.stop_s[rows],
            start_ml=max(start_ml - reserve_ml, 0.0),
            capacity_ml=self.capacity_ml - reserve_ml,
            end_need_ml=self.end_need_ml - gone_ml,
            needs_treatment=self.treated[rows],
            treatments=self.treatments(self.end_need_ml - gone_ml),
            fit_after_ml=self.fit_after_ml[rows],
            stop_need_ml=self.stop_need_ml[rows],
            drink_ahead_ml=self.ahead_ml,
            one_bottle=self.kit.one_bottle,
        )


def _spread(plan: StopPlan, rows: NDArray[np.intp], size: int) -> StopPlan:
    """Lay a plan of some places out over all of them."""

    def over(column: NDArray[Kind], empty: float) -> NDArray[Kind]:
        full = np.full(size, empty, dtype=column.dtype)
        full[rows] = column
        return full

    return replace(
        plan,
        chosen=over(plan.chosen, 0),
        arrive_ml=over(plan.arrive_ml, np.nan),
        filled_ml=over(plan.filled_ml, 0),
        method=over(plan.method, -1),
        carried_on=over(plan.carried_on, 0),
    )


def thirst_of(
    scene: Scene, nearby: Nearby, reading: Reading, outcome: Outcome, stops: Sequence[Stop]
) -> Thirst:
    """Read need and supply off a recorded walk.

    What is lost at stops for water hangs on the choice of stops, so it is told apart from what is
    lost on the way, rests and night halts included.

    Parameters
    ----------
    scene : Scene
        Bag and places.
    nearby, reading : Nearby, Reading
        Places within reach and what is known of them.
    outcome : Outcome
        The walk.
    stops : sequence of Stop
        The stops it was walked with.

    Returns
    -------
    Thirst
        For any question about water on this way.
    """
    walkers, rows = scene.walkers, nearby.place
    capacity_ml = float(walkers.capacity_ml.sum())
    terrain = scene.streets.terrain
    highest_m = 0.0 if terrain is None else float(np.nanmax(terrain.node_height_m, initial=0.0))
    kit = kit_of(
        scene.items,
        treats_ml=float(walkers.treats_ml.sum()),
        capacity_ml=capacity_ml,
        highest_m=highest_m,
    )
    way = way_need(outcome, stops)
    standing_ml_s = _standing_ml_s(scene, reading.arrive_s)
    stand_ml_s = float(standing_ml_s.mean()) if rows.size else 0.0
    kit = replace(
        kit,
        treatments=tuple(
            each._replace(
                wait_ml=stand_ml_s * each.wait_s if each.wait_s < inf else 0.0,
                carry_ml=stand_ml_s * each.carry_s if each.carry_s < inf else 0.0,
            )
            for each in kit.treatments
        ),
    )
    service_s = scene.places.service_s[rows]
    later = np.interp(way.passed_s(nearby.step) + kit.longest_contact_s, way.clock_s, way.need_ml)
    now = np.interp(way.passed_s(nearby.step), way.clock_s, way.need_ml)
    return Thirst(
        need_ml=way.need_ml[way.events(nearby.step)],
        fit_after_ml=later - now,
        stop_need_ml=standing_ml_s * service_s + way.mean_ml_s * (reading.stop_s - service_s),
        stop_s=reading.stop_s,
        gives=np.array(["water" in scene.places.gives[place] for place in rows.tolist()], bool),
        treated=scene.places.needs_treatment[rows],
        end_need_ml=float(way.need_ml[-1]),
        start_ml=min(float(walkers.water_ml.sum()), capacity_ml),
        capacity_ml=capacity_ml,
        kit=kit,
        walkers=walkers.count,
    )


def clock_s(outcome: Outcome) -> NDArray[np.float64]:
    """Give the party's clock at each step's start, after any stop there.

    Parameters
    ----------
    outcome : Outcome
        A recorded walk.

    Returns
    -------
    (S,) float64
        Time since departure [s].

    Raises
    ------
    ValueError
        When the walk was not recorded.
    """
    if outcome.step_clock_s is None:
        message = "places are read against a recorded walk; simulate with record=True"
        raise ValueError(message)
    return outcome.step_clock_s[:, 0]


@dataclass(frozen=True, slots=True)
class WayNeed:
    """Water needed on the way itself, event by event; E events.

    Attributes
    ----------
    step : (E,) int64
        Step of the course that each event belongs to.
    distance_m, clock_s : (E,) float64
        Along the way and since departure at its end [m], [s].
    need_ml : (E,) float64
        Needed by the party until then, stops for water left out [mL].
    mean_ml_s : float
        Mean need by the second, outside those stops [mL/s].
    """

    step: NDArray[np.int64]
    distance_m: NDArray[np.float64]
    clock_s: NDArray[np.float64]
    need_ml: NDArray[np.float64]
    mean_ml_s: float

    def events(self, step: NDArray[np.int64]) -> NDArray[np.int64]:
        """Find the last event before steps, and before any stop at them.

        Parameters
        ----------
        step : (C,) int64
            Steps of the course.

        Returns
        -------
        (C,) int64
            Rows of the events.
        """
        return np.maximum(np.searchsorted(self.step, step, side="left") - 1, 0)

    def passed_s(self, step: NDArray[np.int64]) -> NDArray[np.float64]:
        """Give the time at which steps are reached.

        Parameters
        ----------
        step : (C,) int64
            Steps of the course.

        Returns
        -------
        (C,) float64
            Since departure [s].
        """
        return self.clock_s[self.events(step)]

    def at_m(self, along_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the need up to points of the way.

        Parameters
        ----------
        along_m : (C,) float64
            Distances from the start [m].

        Returns
        -------
        (C,) float64
            Need [mL].
        """
        return np.interp(along_m, self.distance_m, self.need_ml)


def way_need(outcome: Outcome, stops: Sequence[Stop]) -> WayNeed:
    """Tell what is needed on the way from what is needed at stops for water.

    Parameters
    ----------
    outcome : Outcome
        A recorded walk of one party.
    stops : sequence of Stop
        The stops it was walked with; night halts belong to the way.

    Returns
    -------
    WayNeed
        Running need.

    Raises
    ------
    ValueError
        When the walk was not recorded.
    """
    trace = outcome.trace
    if trace is None:
        message = "needs are read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    chosen = np.array([stop.until_epoch_s is None for stop in stops], dtype=bool)
    left_out = trace.doing == Doing.STOP
    left_out[left_out] = chosen[trace.stop[left_out]]
    lost = np.diff(trace.totals[:, Total.LOST_ML].sum(axis=1), prepend=0.0)
    clock = trace.totals[:, Total.CLOCK_S, 0]
    spent_s = float(np.diff(clock, prepend=0.0)[~left_out].sum())
    need = np.maximum.accumulate(np.cumsum(np.where(left_out, 0.0, lost)))
    return WayNeed(
        step=trace.step,
        distance_m=trace.distance_m,
        clock_s=clock,
        need_ml=need,
        mean_ml_s=float(need[-1]) / max(spent_s, 1.0),
    )


def _standing_ml_s(scene: Scene, arrive_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Water the party loses by the second while it stands at each place [mL/s]."""
    walkers = scene.walkers
    moment = scene.conditions.at(scene.depart_epoch_s + arrive_s)
    rate_g_h = np.zeros(arrive_s.size)
    for mass_kg, height_m, clo in zip(
        walkers.mass_kg.tolist(),
        walkers.height_m.tolist(),
        walkers.clothing_clo.tolist(),
        strict=True,
    ):
        loss = water.water_loss_g_h(
            np.full(arrive_s.size, float(energy.standing_w(mass_kg))),
            water.body_area_m2(mass_kg, height_m),
            moment.air_c,
            moment.humidity_pct,
            moment.wind_m_s,
            moment.radiant_w_m2,
            clo,
        )
        rate_g_h += np.nan_to_num(np.asarray(loss.total_g_h))
    return rate_g_h / HOUR_S
