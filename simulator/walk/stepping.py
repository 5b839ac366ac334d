"""One step of the way for every walker at once, all on one way or each on an own one."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.walk import manner as manners
from simulator.walk.rates import load_factor, walking_w
from simulator.walk.records import PACE_COSTS, Total
from simulator.walk.tiredness import fatigue_factor

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.course import Course
    from simulator.walk.manner import Manner
    from simulator.walk.state import State


class Step(NamedTuple):
    """One step: numbers where all walk one way, arrays of shape (n,) where each walks an own one.

    Attributes
    ----------
    run_m, slope, delay_s : float or (n,) float64
        Length [m], rise over run, wait at a crossing before it [s].
    speed_m_s : float or (n,) float64
        Speed by slope alone [m/s].
    stairs, surface, terrain : float or (n,) float64
        Share of speed kept on stairs and on the surface, and its energy factor.
    unlit, always_dark, busy : bool or (n,) bool
        No street light counted on; an unlit tunnel; beside heavy traffic.
    """

    run_m: NDArray[np.float64] | float
    slope: NDArray[np.float64] | float
    delay_s: NDArray[np.float64] | float
    speed_m_s: NDArray[np.float64] | float
    stairs: NDArray[np.float64] | float
    surface: NDArray[np.float64] | float
    terrain: NDArray[np.float64] | float
    unlit: NDArray[np.bool_] | bool
    always_dark: NDArray[np.bool_] | bool
    busy: NDArray[np.bool_] | bool


class FixedSteps:
    """What depends on one way and not on the walker; lists, since one step is read at a time."""

    def __init__(
        self, course: Course, manner: Manner, beside_traffic: NDArray[np.bool_] | None
    ) -> None:
        columns = step_columns(course, manner, beside_traffic)
        self.count = course.run_m.size
        self.distance_m: list[float] = course.distance_m.tolist()
        listed = [np.asarray(column).tolist() for column in columns]
        self.rows = [Step(*row) for row in zip(*listed, strict=True)]

    def at(self, step: int) -> Step:
        """Give one step.

        Parameters
        ----------
        step : int
            From 0.

        Returns
        -------
        Step
            Numbers, the same for everyone.
        """
        return self.rows[step]


def step_columns(course: Course, manner: Manner, beside_traffic: NDArray[np.bool_] | None) -> Step:
    """Work out what depends on the way alone, for all its steps.

    Parameters
    ----------
    course : Course
        S steps.
    manner : Manner
        Pace model and switches.
    beside_traffic : (S,) bool or None
        Steps beside heavy traffic.

    Returns
    -------
    Step
        Arrays of shape (S,).
    """
    unlit = manners.is_unlit(manner, course.lit)
    nowhere = np.zeros(course.run_m.size, dtype=bool)
    speed_m_s = manners.slope_speed_m_s(manner, course.slope, nowhere)
    return Step(
        run_m=course.run_m,
        slope=course.slope,
        delay_s=course.delay_s,
        speed_m_s=speed_m_s,
        stairs=manners.slope_speed_m_s(manner, course.slope, course.stairs) / speed_m_s,
        surface=manners.surface_speed_factor(manner, course.surface),
        terrain=manners.terrain_factor(course.surface),
        unlit=unlit,
        always_dark=course.tunnel & unlit,
        busy=nowhere if beside_traffic is None else beside_traffic,
    )


class OwnPace:
    """Each walker's own pace, slower from where a small injury happens."""

    def __init__(self, state: State) -> None:
        self.factor = state.walkers.pace_factor
        self.waiting: list[tuple[float, int]] = []
        if state.traits is None:
            return
        from_m, self.slower = state.traits.hurt_from_m, state.traits.hurt_factor
        hurt = np.flatnonzero(np.isfinite(from_m))
        order = hurt[np.argsort(-from_m[hurt], kind="stable")]
        self.waiting = list(zip(from_m[order].tolist(), order.tolist(), strict=True))
        self.factor = self.factor.copy()

    def at(self, distance_m: float) -> NDArray[np.float64]:
        """Give the factors at a distance; distances must not decrease.

        Parameters
        ----------
        distance_m : float
            Along the way [m].

        Returns
        -------
        (n,) float64
            Share of the pace model's speed.
        """
        while self.waiting and self.waiting[-1][0] <= distance_m:
            _from_m, row = self.waiting.pop()
            self.factor[row] *= self.slower[row]
        return self.factor


def move(
    state: State,
    step: Step,
    manner: Manner,
    pace_factor: NDArray[np.float64],
    busy_dark_m: NDArray[np.float64],
) -> bool:
    """Walk one step.

    Parameters
    ----------
    state : State
        Changed in place.
    step : Step
        Where the walkers are.
    manner : Manner
        How they walk.
    pace_factor : (n,) float64
        Each one's own.
    busy_dark_m : (n,) float64
        Added to where it is dark beside heavy traffic [m].

    Returns
    -------
    bool
        True when the energy equation had to be replaced by the steep-ground one for anyone.
    """
    walkers, total = state.walkers, state.totals
    moment = state.now()
    load_kg = state.load_kg
    night = moment.night
    dark = night if step.always_dark is False else night | step.always_dark
    any_dark = bool(dark.any())
    if step.busy is not False and any_dark:
        busy_dark_m += step.run_m * (night & step.busy)
    factors = _slowing(state, step, manner, load_kg, dark if any_dark else None)
    model_s = step.run_m / step.speed_m_s
    total[Total.MODEL_S] += model_s
    duration = model_s / pace_factor
    for name, factor in factors.items():
        if isinstance(factor, float) and factor == 1.0:
            continue  # divides by one: nothing is lost
        slower = duration / factor
        total[PACE_COSTS[name]] += slower - duration
        duration = slower
    together = state.slowest(duration)
    if state.party_starts is not None:
        total[Total.GROUP_S] += together - duration
    if isinstance(step.run_m, float):
        speed = step.run_m / together
    else:
        # Who is home already walks nothing, in no time.
        speed = np.divide(step.run_m, together, out=np.ones_like(together), where=together > 0.0)
    power, outside = walking_w(
        walkers.mass_kg,
        load_kg,
        speed,
        step.slope,
        step.terrain,
        model=manner.energy_model,
        light=state.light,
    )
    needs_light = dark & step.unlit if any_dark and np.any(step.unlit) else None
    afoot_s = together
    if np.any(step.delay_s):
        wait = np.zeros(walkers.count) + step.delay_s
        state.spend(wait, state.standing_w, moment, row=Total.MOVED_S, needs_light=needs_light)
        afoot_s = together + wait
    state.spend(
        together,
        power,
        moment,
        row=Total.MOVED_S,
        walk_m_s=speed,
        run_m=step.run_m,
        needs_light=needs_light,
    )
    state.since_rest_s += afoot_s
    state.since_halt_s += afoot_s
    return outside


def _slowing(
    state: State,
    step: Step,
    manner: Manner,
    load_kg: NDArray[np.float64],
    dark: NDArray[np.bool_] | None,
) -> dict[str, NDArray[np.float64] | float]:
    """Give the share of speed that each effect leaves, in the order of ``PACE_COSTS``."""
    walkers = state.walkers
    factors: dict[str, NDArray[np.float64] | float] = {
        "stairs": step.stairs,
        "surface": step.surface,
        "limits": manner.limit_speed_factor,
    }
    if manner.load:
        factors["load"] = load_factor(walkers.mass_kg, load_kg, light=state.light)
    if manner.dark and dark is not None:
        after_dark = (
            np.where(step.unlit, manner.dark_unlit_factor, manner.dark_lit_factor)
            if isinstance(step.unlit, np.ndarray)
            else (manner.dark_unlit_factor if step.unlit else manner.dark_lit_factor)
        )
        factors["dark"] = np.where(dark, after_dark, 1.0)
    if manner.fatigue:
        per_h: NDArray[np.float64] | float = manner.fatigue_per_h
        if state.traits is not None:
            per_h = per_h * state.traits.tiring_factor
        factors["fatigue"] = fatigue_factor(state.since_halt_s, per_h=per_h)
    return factors
