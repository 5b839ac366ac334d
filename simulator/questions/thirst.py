"""Need and supply of water along one way: what every question about water starts from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from simulator.questions.treatment import Kit, kit_of
from simulator.route.bottle import Treatment
from simulator.route.refills import StopPlan, plan_stops
from simulator.walk.records import Total

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.refilling import Reading
    from simulator.questions.scene import Scene
    from simulator.walk.records import Outcome
    from simulator.walk.stops import Nearby

    Kind = TypeVar("Kind", np.bool_, np.float64, np.int64)

DRINK_AHEAD_ML = 250.0
"""Most that each walker drinks ahead of need before filling, to finish what is carried [mL]: a
glass, far below the safe hourly intake; assumed."""

AMPLE = 3.0
"""Treatment for so many times the water still needed cannot run out."""


@dataclass(frozen=True, slots=True)
class Thirst:
    """Need and supply along one way: what every question about water starts from.

    Attributes
    ----------
    need_ml : (C,) float64
        Water the party needs up to each nearby place [mL].
    fit_at_ml : (C,) float64
        Need by which water taken there and carried on is fit [mL].
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
    fit_at_ml: NDArray[np.float64]
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
        return plan_stops(
            self.need_ml[rows] - gone_ml,
            self.stop_s[rows],
            start_ml=start_ml,
            capacity_ml=self.capacity_ml,
            end_need_ml=self.end_need_ml - gone_ml,
            needs_treatment=self.treated[rows],
            treatments=self.treatments(self.end_need_ml - gone_ml),
            fit_at_ml=self.fit_at_ml[rows] - gone_ml,
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


def thirst_of(scene: Scene, nearby: Nearby, reading: Reading, outcome: Outcome) -> Thirst:
    """Read need and supply off a recorded walk.

    Parameters
    ----------
    scene : Scene
        Bag and places.
    nearby, reading : Nearby, Reading
        Places within reach and what is known of them.
    outcome : Outcome
        The walk.

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
    passed_s = clock_s(outcome)[nearby.step] if nearby.step.size else np.zeros(0)
    need = _lost_ml(outcome, passed_s)
    return Thirst(
        need_ml=need,
        fit_at_ml=np.maximum(_lost_ml(outcome, passed_s + kit.longest_contact_s), need),
        stop_s=reading.stop_s,
        gives=np.array(["water" in scene.places.gives[place] for place in rows.tolist()], bool),
        treated=scene.places.needs_treatment[rows],
        end_need_ml=float(outcome.totals[Total.LOST_ML].sum()),
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


def _lost_ml(outcome: Outcome, at_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Water the party has lost by given times since departure, in order [mL]."""
    if outcome.trace is None:
        message = "needs are read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    totals = outcome.trace.totals
    lost = np.interp(at_s, totals[:, Total.CLOCK_S, 0], totals[:, Total.LOST_ML].sum(axis=1))
    return np.maximum.accumulate(lost)
