"""How a party walks: pace model, switches and limits, turned into arrays for streets and steps."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.body import energy, pace
from simulator.body import pace as fits
from simulator.ground.walkable import SURFACES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.ground.streets import Streets
    from simulator.walk.course import Course

SWEAT_POSITIONS = {"low": -1.0, "middle": 0.0, "high": 1.0}
"""Where each estimate of ``simulator.body.water.SWEAT_ESTIMATES`` stands in the band."""


@dataclass(frozen=True, slots=True)
class Manner:
    """What holds for the whole party, as the plan asks.

    What is assumed (dark, tiredness, sweat) may also be given walker by walker, shape (n,), to
    walk the same way under several assumptions at once.

    Attributes
    ----------
    model : str
        Key of ``simulator.body.pace.SPEEDS``.
    surface, stairs, load, dark, fatigue : bool
        Whether each effect on pace is counted.
    dark_unlit_factor, dark_lit_factor : float or (n,) float64
        Share of the daylight speed kept after dark without and with street lights.
    fatigue_per_h : float or (n,) float64
        Share of speed lost per hour of moving, see ``body.pace.fatigue_factor``.
    limits : tuple of str
        Keys of ``body.pace.LIMIT_RULES`` that anyone in the party has.
    street_lights : bool
        False when the event puts them out: every street is then unlit.
    rest_min_per_h : float
        Rest after each full hour of moving [min].
    energy_model : str
        ``"lcda"`` or ``"pandolf"``.
    sweat : float or (n,) float64
        Where in the band of published sweat rates the sweat is taken: -1 lowest, 0 middle, 1
        highest (``SWEAT_POSITIONS``).
    effort : bool
        Whether the pace is slowed to an effort that can be kept up.
    slope_response : float
        How much more slopes slow than by the model, in the exponent, from an own recorded walk
        (``body.own_pace``); 1 is as the model.
    """

    model: str = "tobler_1993"
    surface: bool = True
    stairs: bool = True
    load: bool = True
    dark: bool = True
    fatigue: bool = True
    dark_unlit_factor: float | NDArray[np.float64] = pace.DARK_UNLIT_FACTOR
    dark_lit_factor: float | NDArray[np.float64] = pace.DARK_LIT_FACTOR
    fatigue_per_h: float | NDArray[np.float64] = pace.FATIGUE_PER_H
    limits: tuple[str, ...] = ()
    street_lights: bool = True
    rest_min_per_h: float = 10.0
    energy_model: str = "lcda"
    sweat: float | NDArray[np.float64] = SWEAT_POSITIONS["middle"]
    effort: bool = True
    slope_response: float = 1.0

    def of_walkers(self, rows: slice) -> Manner:
        """Give the manner of some walkers."""
        cut: dict[str, Any] = {
            field.name: value[rows]
            for field in fields(self)
            if isinstance(value := getattr(self, field.name), np.ndarray)
        }
        return replace(self, **cut) if cut else self

    @property
    def limit_speed_factor(self) -> float:
        """Share of speed kept under the party's limits, the slowest of them."""
        return pace.strictest(self.limits).speed_factor

    @property
    def rest_s_per_h(self) -> float:
        """Rest after each full hour of moving, lengthened by the party's limits [s]."""
        return 60.0 * self.rest_min_per_h * pace.strictest(self.limits).rest_factor


MIDDLE_SLOPES = (-0.30, 0.30)
"""Slopes that at least four of the published models reach."""


def pace_limits(model: str) -> tuple[float, float]:
    """Give the least and the greatest slope that a pace model's source reaches.

    Parameters
    ----------
    model : str
        Key of ``SPEEDS``.

    Returns
    -------
    tuple of float
        Rise over run; infinite where no limit is stated.
    """
    if model == pace.MIDDLE:
        # Where most of the models reach; beyond it the slower of the border and Tobler's curve.
        return MIDDLE_SLOPES
    for limit in (fits.FIT_LIMITS | pace.LIMITS).get(model, ()):
        if limit.quantity == "slope":
            return limit.low, limit.high
    return -np.inf, np.inf


def slope_speed_m_s(
    manner: Manner, slope: NDArray[np.float64], stairs: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Give the speed by slope alone, on stairs by the stair speed."""
    low, high = pace_limits(manner.model)
    bounded = np.clip(slope, low, high)
    speed = np.asarray(pace.SPEEDS[manner.model](bounded), dtype=np.float64)
    beyond = bounded != slope
    if beyond.any():
        # Steeper than the model reaches: never faster than at its border, nor than Tobler's curve.
        steep = np.asarray(pace.tobler_speed_m_s(np.clip(slope, *pace_limits("tobler_1993"))))
        speed = np.where(beyond, np.minimum(speed, steep), speed)
    if manner.slope_response != 1.0:
        level = float(pace.SPEEDS[manner.model](0.0))
        speed = level * (speed / level) ** manner.slope_response
    return slower_on_stairs(manner, speed, slope, stairs)


def slower_on_stairs(
    manner: Manner,
    speed_m_s: NDArray[np.float64],
    slope: NDArray[np.float64],
    stairs: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Give the speed by slope and stairs from that by slope: no flight is faster than its slope."""
    if not (manner.stairs and stairs.any()):
        return speed_m_s
    climbed = np.minimum(pace.stairs_speed_m_s(slope >= 0.0), speed_m_s)
    return np.where(stairs, climbed, speed_m_s)


def surface_speed_factor(manner: Manner, surface: NDArray[np.int8]) -> NDArray[np.float64]:
    """Give the share of speed kept on each surface code."""
    if not manner.surface:
        return np.ones(surface.shape)
    table = np.array([pace.SURFACE_SPEED_FACTORS[name] for name in SURFACES])
    return table[surface]


def terrain_factor(surface: NDArray[np.int8]) -> NDArray[np.float64]:
    """Give the energy terrain factor of each surface code; never used to divide speed."""
    table = np.array([energy.TERRAIN_FACTORS[name] for name in SURFACES])
    return table[surface]


def is_unlit(manner: Manner, lit: NDArray[np.int8]) -> NDArray[np.bool_]:
    """Say where no street light can be relied on; unknown counts as unlit."""
    unlit: NDArray[np.bool_] = (lit != 1) | (not manner.street_lights)
    return unlit


def street_times_s(
    streets: Streets,
    manner: Manner,
    *,
    speed_factor: float = 1.0,
    dark: bool = False,
    by_slope_s: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Time to walk every segment each way, for choosing the way.

    Load and fatigue slow all ways nearly alike and are left to the walk itself.

    Parameters
    ----------
    streets : Streets
        The network; without terrain every slope is zero, and where its heights are estimated
        nobody is faster than on the level.
    manner : Manner
        Pace model and switches.
    speed_factor : float
        The slowest walker's own factor.
    dark : bool
        Walk it all in the dark.
    by_slope_s : tuple of (M,) float64, optional
        From ``slope_times_s``, to spare the work when asking twice [s].

    Returns
    -------
    forward_s, backward_s : (M,) float64
        Walking time tail to head and head to tail, crossing delay at the far end included [s].
    """
    ways, way = streets.ways, streets.way
    factor = surface_speed_factor(manner, ways.surface[way])
    factor = factor * speed_factor * manner.limit_speed_factor
    if dark and manner.dark:
        unlit = is_unlit(manner, ways.lit[way])
        factor = factor * np.where(unlit, manner.dark_unlit_factor, manner.dark_lit_factor)
    ahead_s, back_s = slope_times_s(streets, manner) if by_slope_s is None else by_slope_s
    ahead_wait_s, back_wait_s = waits_s(streets)
    return ahead_s / factor + ahead_wait_s, back_s / factor + back_wait_s


def waits_s(streets: Streets) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give the wait at the far end of every segment, tail to head and head to tail, (M,) [s]."""
    return streets.delay_s[streets.head], streets.delay_s[streets.tail]


def slope_times_s(
    streets: Streets, manner: Manner
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Time by slope and stairs alone over every segment each way.

    Parameters
    ----------
    streets : Streets
        The network; without terrain every slope is zero, and where its heights are estimated
        nobody is faster than on the level.
    manner : Manner
        Pace model and switches.

    Returns
    -------
    forward_s, backward_s : (M,) float64
        At the model's pace [s].
    """
    terrain, way = streets.terrain, streets.way
    if terrain is None:
        run, rise, start = streets.length_m, np.zeros(way.size), np.arange(way.size)
        piece_segment = start
    else:
        run, rise = terrain.piece_run_m, np.nan_to_num(terrain.piece_rise_m)
        start = terrain.piece_start[:-1]
        piece_segment = np.repeat(np.arange(way.size), np.diff(terrain.piece_start))
    slope = rise / run
    stairs = streets.ways.steps[way][piece_segment]
    ahead = slope_speed_m_s(manner, slope, stairs)
    back = slope_speed_m_s(manner, -slope, stairs)
    if terrain is not None and not terrain.covered.all():
        # An estimated height draws nobody downhill: no faster than on the level.
        level = slope_speed_m_s(manner, np.zeros(slope.size), stairs)
        known = terrain.covered[piece_segment]
        ahead = np.where(known, ahead, np.minimum(ahead, level))
        back = np.where(known, back, np.minimum(back, level))
    return np.add.reduceat(run / ahead, start), np.add.reduceat(run / back, start)


def barred_by_limits(streets: Streets, manner: Manner) -> NDArray[np.bool_]:
    """Mark segments that someone in the party cannot use: stairs, slope or surface, shape (M,).

    Parameters
    ----------
    streets : Streets
        The network.
    manner : Manner
        How the party walks.

    Returns
    -------
    ndarray of bool
        True where the party cannot go.
    """
    return barred_by(streets, pace.strictest(manner.limits))


def barred_by(streets: Streets, rule: pace.LimitRule) -> NDArray[np.bool_]:
    """Mark segments that a rule keeps people off, shape (M,).

    Parameters
    ----------
    streets : Streets
        The network.
    rule : LimitRule
        Stairs, steepest slope and refused surfaces.

    Returns
    -------
    ndarray of bool
        True where they cannot go.
    """
    barred = np.zeros(streets.way.size, dtype=bool)
    ways, way, terrain = streets.ways, streets.way, streets.terrain
    if not rule.stairs:
        barred |= ways.steps[way]
    refused = np.array([surface in rule.refused for surface in SURFACES])
    barred |= refused[ways.surface[way]]
    if terrain is not None and np.isfinite(rule.max_slope):
        steep = np.abs(terrain.piece_rise_m) > rule.max_slope * terrain.piece_run_m
        barred |= np.logical_or.reduceat(steep, terrain.piece_start[:-1])
    return barred


def level_speed_m_s(manner: Manner) -> float:
    """Speed of the pace model on level, even ground, for the steps between the way and a stop.

    Parameters
    ----------
    manner : Manner
        How the party walks.

    Returns
    -------
    float
        Speed [m/s], a walker's own factor left out.
    """
    level = slope_speed_m_s(manner, np.zeros(1), np.zeros(1, dtype=bool))
    return float(level[0]) * manner.limit_speed_factor


def pace_band(manner: Manner, course: Course) -> tuple[float, float]:
    """Spread of the published pace models on this way, as factors on the moving time.

    Parameters
    ----------
    manner : Manner
        The model in use counts as 1.
    course : Course
        The way.

    Returns
    -------
    low, high : float
        Fastest and slowest model's time over the model's in use.
    """
    times = {
        name: float(
            (
                course.run_m
                / slope_speed_m_s(
                    replace(manner, model=name, slope_response=1.0), course.slope, course.stairs
                )
            ).sum()
        )
        for name in {**pace.PACE_MODELS, manner.model: None}
    }
    own = times[manner.model]
    return min(times.values()) / own, max(times.values()) / own
