"""What goes into the engine and what comes out: walkers, stops, totals, trace."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from enum import IntEnum, unique
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

LONG_CARE_H, LONG_STAY_H = 10.0, 18.0
"""A long day on foot for people not used to it, an assumption, 8 to 12; and a planner's longest
allowance for about 25 km, common practice [h]."""

CHILL_CARE_C = 0.0
"""Felt temperature below which uncovered hands and face need care [degC]; an assumption, -5 to
5."""

HEAT_CARE_C = 32.2
"""Heat index of 90 degF, "extreme caution" in the public table of the US National Weather Service
[degC]; from memory. It is told for shade."""

LIGHT_CARE_H = 0.25
"""Unlit dark time without a lamp that is worth a word [h]; an assumption, 0.1 to 0.5."""


@unique
class Total(IntEnum):
    """Running totals of each walker, the rows of ``Trace.totals``."""

    CLOCK_S = 0
    MOVED_S = 1
    RESTED_S = 2
    STOPPED_S = 3
    ENERGY_KCAL = 4
    EATEN_KCAL = 5
    LOST_ML = 6
    DRUNK_ML = 7
    REFILLED_ML = 8
    DARK_S = 9
    LIGHT_NEED_S = 10
    LIGHT_USED_S = 11
    SURFACE_S = 12
    LIMITS_S = 13
    LOAD_S = 14
    DARK_PACE_S = 15
    FATIGUE_S = 16
    GROUP_S = 17
    STAIRS_S = 18
    EFFORT_S = 19
    MODEL_S = 20
    """What the published pace model alone would have taken, stairs and own pace left out."""
    WATER_STOP_S = 21
    STOP_LOST_ML = 22
    """Time spent at stops for water, and water lost in it; night halts belong to the way."""


PACE_COSTS = {
    "stairs": Total.STAIRS_S,
    "surface": Total.SURFACE_S,
    "limits": Total.LIMITS_S,
    "load": Total.LOAD_S,
    "dark": Total.DARK_PACE_S,
    "fatigue": Total.FATIGUE_S,
    "effort": Total.EFFORT_S,
    "group": Total.GROUP_S,
}
"""What each effect on pace cost, in the order in which the effects are applied, after own pace."""


def pace_costs_s(
    totals: Mapping[Total, NDArray[np.float64]], *, pace_factor: float, age_sex_factor: float
) -> dict[str, NDArray[np.float64]]:
    """Tell apart what made one walker slower or faster than the published pace model.

    Parameters
    ----------
    totals : mapping of Total to ndarray of float64
        Of the walker.
    pace_factor : float
        Own pace over the model's, age and sex included.
    age_sex_factor : float
        The share of age and sex in it; 1 when they are left out.

    Returns
    -------
    dict of str to ndarray of float64
        Seconds lost, negative where won. With ``MODEL_S`` and the waits at crossings they add up
        to the time moving.
    """
    model = totals[Total.MODEL_S]
    aged = model / age_sex_factor
    return {
        "age_sex": aged - model,
        "own_pace": model / pace_factor - aged,
        **{name: totals[row] for name, row in PACE_COSTS.items()},
    }


HOURLY = (
    Total.ENERGY_KCAL,
    Total.EATEN_KCAL,
    Total.LOST_ML,
    Total.DRUNK_ML,
    Total.REFILLED_ML,
    Total.LIGHT_NEED_S,
    Total.LIGHT_USED_S,
    Total.STOP_LOST_ML,
)
"""Totals read at every full hour, the rows of ``Outcome.hourly`` after the distance."""

PASSING = (
    Total.CLOCK_S,
    Total.LOST_ML,
    Total.DRUNK_ML,
    Total.REFILLED_ML,
    Total.STOP_LOST_ML,
)
"""Totals read on reaching chosen steps, the rows of ``Outcome.passing``."""


class Doing(IntEnum):
    """What an event is."""

    START = 0
    MOVE = 1
    REST = 2
    STOP = 3


def _left_out() -> NDArray[np.float64]:
    return np.zeros(0)


@dataclass(frozen=True, slots=True)
class Walkers:
    """Who walks and what each carries; every field has shape (n,).

    Attributes
    ----------
    mass_kg, height_m, age_y : ndarray of float64
        Body mass [kg], height [m], age [years].
    male : ndarray of bool
        Which published resting-rate equation applies.
    pace_factor : ndarray of float64
        The walker's own speed over the pace model's.
    clothing_clo : ndarray of float64
        Insulation of the clothes walked in [clo].
    bag_kg : ndarray of float64
        Mass of the bag at departure, water and food included [kg].
    water_ml, capacity_ml : ndarray of float64
        Water at departure and what the bottles hold [mL].
    treats_ml : ndarray of float64
        Water that the treatment carried can make safe [mL].
    food_kcal, food_kg : ndarray of float64
        Food carried [kcal], [kg].
    light_s : ndarray of float64
        Hours of light carried, in seconds [s].
    party : ndarray of int64
        Walkers with the same number walk together; numbers do not decrease.
    capacity_factor : ndarray of float64
        Own aerobic capacity over the mean of age, sex and mass; 1 where left out.
    windproof : ndarray of float64
        1 where the clothes keep the wind out, 0 where not, NaN where that is not said.
    afoot_s : ndarray of float64
        Time on foot before the walk begins, since the last night's rest, which tires [s].
    """

    mass_kg: NDArray[np.float64]
    height_m: NDArray[np.float64]
    age_y: NDArray[np.float64]
    male: NDArray[np.bool_]
    pace_factor: NDArray[np.float64]
    clothing_clo: NDArray[np.float64]
    bag_kg: NDArray[np.float64]
    water_ml: NDArray[np.float64]
    capacity_ml: NDArray[np.float64]
    treats_ml: NDArray[np.float64]
    food_kcal: NDArray[np.float64]
    food_kg: NDArray[np.float64]
    light_s: NDArray[np.float64]
    party: NDArray[np.int64]
    capacity_factor: NDArray[np.float64] = field(default_factory=_left_out)
    windproof: NDArray[np.float64] = field(default_factory=_left_out)
    afoot_s: NDArray[np.float64] = field(default_factory=_left_out)

    def __post_init__(self) -> None:
        """Fill in what was left out."""
        if self.capacity_factor.size == 0:
            object.__setattr__(self, "capacity_factor", np.ones(self.mass_kg.size))
        if self.windproof.size == 0:
            object.__setattr__(self, "windproof", np.full(self.mass_kg.size, np.nan))
        if self.afoot_s.size == 0:
            object.__setattr__(self, "afoot_s", np.zeros(self.mass_kg.size))

    @property
    def count(self) -> int:
        """Number of walkers n."""
        return int(self.mass_kg.size)


@dataclass(frozen=True, slots=True)
class Traits:
    """What sets walkers apart beside body and bag; every field has shape (n,).

    Attributes
    ----------
    rest_factor : ndarray of float64
        Rest taken over the rest planned.
    drink_share : ndarray of float64
        Share of the water lost that is drunk while there is any; 1 is by need.
    sweat_factor : ndarray of float64
        The walker's own sweat over the equation's.
    tiring_factor : ndarray of float64
        Speed lost with the hours over what the manner says.
    hurt_from_m : ndarray of float64
        Distance from which a small injury slows [m]; infinite for none.
    hurt_factor : ndarray of float64
        Share of speed kept from there on.
    """

    rest_factor: NDArray[np.float64]
    drink_share: NDArray[np.float64]
    sweat_factor: NDArray[np.float64]
    tiring_factor: NDArray[np.float64]
    hurt_from_m: NDArray[np.float64]
    hurt_factor: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class WeatherError:
    """How each walker's weather differs from the common one, alike in all its hours; shape (n,).

    Attributes
    ----------
    air_c : ndarray of float64
        Added to the air temperature [K].
    humidity_pct : ndarray of float64
        Added to the relative humidity, held within 0 to 100 [%].
    wind_factor, sun_factor, rain_factor : ndarray of float64
        Multiply wind, absorbed sunlight and rain.
    """

    air_c: NDArray[np.float64]
    humidity_pct: NDArray[np.float64]
    wind_factor: NDArray[np.float64]
    sun_factor: NDArray[np.float64]
    rain_factor: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Each:
    """What a stop means to each walker; a party stops together, so its members are alike.

    Attributes
    ----------
    active : (n,) bool
        Who makes the stop.
    works : (n,) bool
        For whom the place gives what it promises; others lose the time only.
    until_epoch_s : (n,) float64 or None
        Until when each one waits, in place of the stop's own.
    ahead_ml : (n,) float64 or None
        Most that each one drinks ahead of need, in place of the stop's own [mL].
    """

    active: NDArray[np.bool_]
    works: NDArray[np.bool_]
    until_epoch_s: NDArray[np.float64] | None = None
    ahead_ml: NDArray[np.float64] | None = None


@dataclass(frozen=True, slots=True)
class Dosing:
    """How untreated water is made fit at a stop.

    Attributes
    ----------
    dose_ml : float
        Treatment is used up in whole doses of this much [mL]; 0 for any amount.
    limit_ml : float
        Most that each walker treats here [mL], where several treatments share the total.
    contact_s : float
        Time from filling until the water is fit [s]; 0 when that is part of the stop.
    one_bottle : bool
        Whether untreated water mixes with what is left, so that all of it is treated.
    """

    dose_ml: float = 0.0
    limit_ml: float = float("inf")
    contact_s: float = 0.0
    one_bottle: bool = False


@dataclass(frozen=True, slots=True)
class Stop:
    """A planned stop, taken on reaching a step.

    Attributes
    ----------
    step : int
        The stop is made before this step; 0 is the start.
    off_m : float
        How far the place lies off the way, one direction [m].
    service_s : float
        Time at the place: queue, filling, treating [s].
    refill : bool
        Whether bottles are filled.
    treat : bool
        Whether the water must be treated, which uses up treatment.
    until_epoch_s : float or None
        Wait until this instant, for a night halt; None for no wait.
    place : int
        Row of the place, -1 when the halt is at no listed place.
    dosing : Dosing
        How water that must be treated is made fit.
    ahead_ml : float
        Most that each walker drinks ahead of need before filling [mL].
    each : Each or None
        Differences between walkers; None when all do the same.
    """

    step: int
    off_m: float = 0.0
    service_s: float = 0.0
    refill: bool = False
    treat: bool = False
    until_epoch_s: float | None = None
    place: int = -1
    dosing: Dosing = Dosing()
    ahead_ml: float = 0.0
    each: Each | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Marks:
    """What to read on the way, without keeping every event.

    Attributes
    ----------
    hourly : bool
        Whether every walk is read at its full hours.
    steps : (K,) int64
        Steps on reaching which totals are read, before any stop there; in order.
    """

    hourly: bool
    steps: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Trace:
    """What happened, event by event; E events, n walkers.

    Attributes
    ----------
    step : (E,) int64
        The step an event belongs to; a stop or rest carries the step it comes before.
    doing : (E,) int8
        ``Doing`` codes.
    stop : (E,) int64
        Row of the stop in the list given, -1 elsewhere.
    distance_m : (E,) float64
        Along the way at the event's end [m].
    totals : (E, len(Total), n) float64
        Running totals at the event's end.
    """

    step: NDArray[np.int64]
    doing: NDArray[np.int8]
    stop: NDArray[np.int64]
    distance_m: NDArray[np.float64]
    totals: NDArray[np.float64]


class Halted(NamedTuple):
    """Who waited at one halt, from when until when.

    Attributes
    ----------
    stop : int
        Row of the stop in the list given to the engine.
    place : int
        Row of the place, -1 in the open.
    rows : (m,) int64
        Who waited.
    from_s, until_s : (m,) float64
        Begin and end since departure [s].
    at_m : (m,) float64
        Where along the way [m].
    """

    stop: int
    place: int
    rows: NDArray[np.intp]
    from_s: NDArray[np.float64]
    until_s: NDArray[np.float64]
    at_m: NDArray[np.float64]


NEARLY_S = 1e-3
"""So far off may clocks be where walks are only compared or begun with [s]."""


class Begun(NamedTuple):
    """How the steps of a walk were begun, R of them in E events: a walk like it guesses from these.

    Attributes
    ----------
    first : (R,) int64
        Step of the course that each begins with, the first of those walked as one.
    event : (R,) int64
        Its first event, a wait or the walking itself.
    clock_s, load_kg, since_halt_s : (R, n) float64
        Time since departure [s], weight of the bag [kg], time afoot since a halt [s].
    owed_ml : (E, n) float64
        Water lost and not drunk before each event [mL].
    """

    first: NDArray[np.int64]
    event: NDArray[np.int64]
    clock_s: NDArray[np.float64]
    load_kg: NDArray[np.float64]
    since_halt_s: NDArray[np.float64]
    owed_ml: NDArray[np.float64]

    def some(self, walkers: NDArray[np.intp]) -> Begun:
        """Take some walkers, also several times."""
        return Begun(*self[:2], *(column[:, walkers] for column in self[2:]))

    def faster(self, pace: NDArray[np.float64]) -> Begun:
        """Guess how the same walkers begin them at another pace, (n,) over theirs."""
        return self._replace(clock_s=self.clock_s / pace, since_halt_s=self.since_halt_s / pace)


@dataclass(frozen=True, slots=True)
class Outcome:
    """How the walk went for each walker.

    Attributes
    ----------
    totals : (len(Total), n) float64
        Totals on arrival.
    step_clock_s : (S, n) float64 or None
        Time since departure at each step's start [s], when a trace was asked for.
    worst_deficit_ml : (n,) float64
        Largest body-water deficit on the way [mL].
    worst_short_ml : (n,) float64
        Largest deficit while the bottle was empty [mL].
    first_short_s : (n,) float64
        Time since departure when water first ran out while needed [s]; infinite if never.
    light_out_s : (n,) float64
        Time since departure when the light ran out while needed [s]; infinite if never.
    hungry_s : (n,) float64
        Time since departure when more energy is missing than the body itself gives [s]; infinite
        if never.
    first_short_m, light_out_m, hungry_m : (n,) float64
        Where along the way that is [m].
    coldest_felt_c, hottest_felt_c : (n,) float64
        Extremes of the felt temperature [degC].
    cold_from_s, hot_from_s : (n,) float64
        Time since departure when the felt temperature first called for care [s]; infinite if
        never.
    busy_dark_m : (n,) float64
        Walked after dark on the steps named as beside traffic [m].
    hourly : (H, 1 + R, n) float64 or None
        Distance [m] and totals at each full hour, those of ``HOURLY`` or all of a recorded walk;
        NaN after arrival.
    passing : (K, len(PASSING), n) float64 or None
        Totals on reaching the steps asked for.
    limit_s : (n,) float64 or None
        Time since departure at which the day afoot, or the light, is used up, counted from the
        last halt [s]; when a longest day was given.
    limit_step : (n,) int64 or None
        The last step that begins before it.
    limit_dark : (n,) bool or None
        Whether it is the light that is used up.
    halted : tuple of Halted
        Who waited where, from when until when; when a longest day was given.
    energy_outside : (S,) bool
        Steps where the preferred energy equation left its range and the steep-ground one stood in.
    sweat_outside : (S,) bool
        Steps where the sweat equation was outside its published range.
    trace : Trace or None
        Event by event, when asked for.
    begun : Begun or None
        How steps were begun, of few walkers; for guesses only.
    """

    totals: NDArray[np.float64]
    step_clock_s: NDArray[np.float64] | None
    worst_deficit_ml: NDArray[np.float64]
    worst_short_ml: NDArray[np.float64]
    first_short_s: NDArray[np.float64]
    light_out_s: NDArray[np.float64]
    hungry_s: NDArray[np.float64]
    first_short_m: NDArray[np.float64]
    light_out_m: NDArray[np.float64]
    hungry_m: NDArray[np.float64]
    coldest_felt_c: NDArray[np.float64]
    hottest_felt_c: NDArray[np.float64]
    cold_from_s: NDArray[np.float64]
    hot_from_s: NDArray[np.float64]
    busy_dark_m: NDArray[np.float64]
    hourly: NDArray[np.float64] | None
    passing: NDArray[np.float64] | None
    limit_s: NDArray[np.float64] | None
    limit_step: NDArray[np.int64] | None
    limit_dark: NDArray[np.bool_] | None
    halted: tuple[Halted, ...]
    energy_outside: NDArray[np.bool_]
    sweat_outside: NDArray[np.bool_]
    trace: Trace | None
    begun: Begun | None = None


Record = TypeVar("Record", Walkers, Traits, WeatherError, Each)


def some_of(record: Record, rows: slice | NDArray[np.integer[Any]]) -> Record:
    """Take some walkers out of a record of arrays.

    Parameters
    ----------
    record : Walkers, Traits, WeatherError or Each
        Every field has the walkers last, or is None.
    rows : slice or (m,) int
        Which walkers.

    Returns
    -------
    Walkers, Traits, WeatherError or Each
        The same kind.
    """
    taken: dict[str, Any] = {}
    for each in fields(record):
        value = getattr(record, each.name)
        taken[each.name] = None if value is None else value[rows]
    return replace(record, **taken)
