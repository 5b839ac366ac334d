"""The summary of a walk as typed records, and the JSON document it becomes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import datetime
from typing import Any

from simulator.home.hazards import Hazard
from simulator.walk.account import Shortage

SCHEMA = "walkhome summary 1"
"""Name and version of the layout of summary.json."""

Band = tuple[float, float]
"""Lowest and highest."""


@dataclass(frozen=True, slots=True)
class CrossingOnWay:
    """A crossing that the way goes over.

    Attributes
    ----------
    name : str
        As the map has it, or what it is.
    ways : tuple of int
        Its ways on the map.
    along_km : float
        From the start [km].
    lat, lon : float
        Where it lies [deg].
    """

    name: str
    ways: tuple[int, ...]
    along_km: float
    lat: float
    lon: float


@dataclass(frozen=True, slots=True)
class MainBridge:
    """What to do when the bridge is shut whose loss costs the way most.

    Attributes
    ----------
    name : str
        The bridge.
    reachable : bool
        Whether another way leads home.
    extra_min, extra_km : float or None
        What that costs [min], [km]; None without one.
    via : tuple of str
        Bridges that it goes over instead.
    turn_km : float or None
        Where it leaves the way [km].
    turn_into : str
        Street that it turns into.
    """

    name: str
    reachable: bool
    extra_min: float | None = None
    extra_km: float | None = None
    via: tuple[str, ...] = ()
    turn_km: float | None = None
    turn_into: str = ""


@dataclass(frozen=True, slots=True)
class Route:
    """The way.

    Attributes
    ----------
    distance_km, ascent_m, descent_m : float
        Length [km], up and down [m].
    bridges : tuple of str
        Names of the crossings, in walking order.
    crossings : tuple of CrossingOnWay
        The same with their places.
    steps_m, unlit_km, tunnel_m : float
        On stairs [m], without street lights [km], in tunnels [m].
    closed : tuple of str
        What the plan closes on this map.
    moved : tuple of str
        Where start or home were moved to a street.
    main_bridge : MainBridge or None
        None where no bridge is crossed, or where it was not asked.
    """

    distance_km: float
    ascent_m: float
    descent_m: float
    bridges: tuple[str, ...]
    crossings: tuple[CrossingOnWay, ...]
    steps_m: float
    unlit_km: float
    tunnel_m: float
    closed: tuple[str, ...]
    moved: tuple[str, ...]
    main_bridge: MainBridge | None = None


@dataclass(frozen=True, slots=True)
class Heights:
    """Where the heights of the way are unknown, and what that leaves open.

    Attributes
    ----------
    unknown_km : float
        How much of the way [km].
    stretches : tuple of tuple of float
        Begin and end of each stretch [km].
    time_h_band, need_l_band : tuple of float or None
        Time home [h] and water needed [L]; None where every height is known.
    steepest_assumed : float or None
        Slope that the unknown ground was walked at.
    """

    unknown_km: float
    stretches: tuple[Band, ...]
    time_h_band: Band | None = None
    need_l_band: Band | None = None
    steepest_assumed: float | None = None


@dataclass(frozen=True, slots=True)
class HomeBy:
    """Whether the walk is home by the hour that the plan names.

    Attributes
    ----------
    at : datetime
        That hour.
    late_min : float
        How much later the walk is home; negative for earlier [min].
    leave_by : datetime or None
        Latest departure of the day that is home by then; None for none, or where not asked.
    """

    at: datetime
    late_min: float
    leave_by: datetime | None = None


@dataclass(frozen=True, slots=True)
class TimeTaken:
    """Time and light.

    Attributes
    ----------
    depart, arrive : datetime
        Local times.
    moving_h, resting_h, stopped_h, elapsed_h : float
        On foot, at rests, at stops, and all of it [h].
    dark_h : float
        Of it after dark [h].
    moving_h_band : tuple of float
        On foot by the fastest and the slowest published pace [h].
    pace_cost_min : mapping of str to float
        What made it slower than the bare pace [min].
    home_by : HomeBy or None
        None where the plan names no hour.
    elapsed_h_band : tuple of float or None
        Between which most walks lie [h]; None where not worked out.
    leave_by : datetime or None
        Latest departure that is home before dark; None for none, or where not asked.
    leave_by_margin_h : float
        Spare time counted for a slow walk in it [h].
    """

    depart: datetime
    arrive: datetime
    moving_h: float
    resting_h: float
    stopped_h: float
    elapsed_h: float
    dark_h: float
    moving_h_band: Band
    pace_cost_min: Mapping[str, float]
    home_by: HomeBy | None
    elapsed_h_band: Band | None = None
    leave_by: datetime | None = None
    leave_by_margin_h: float = 0.0


@dataclass(frozen=True, slots=True)
class NextWater:
    """The first water that can be relied on.

    Attributes
    ----------
    place : str
        What and where.
    km : float
        From the start [km].
    need_l : float
        Water needed up to it [L].
    needs : str
        What it takes to get it: treatment, a key; or "nothing".
    """

    place: str
    km: float
    need_l: float
    needs: str


@dataclass(frozen=True, slots=True)
class TreatmentUsed:
    """One treatment carried.

    Attributes
    ----------
    method : str
        Its name.
    carried_l, used_l, left_l : float
        Water it could treat, treats on the way, and could after it [L].
    doses_used : float or None
        None for what has no doses.
    """

    method: str
    carried_l: float
    used_l: float
    left_l: float
    doses_used: float | None


@dataclass(frozen=True, slots=True)
class DryChance:
    """Chance of running dry, each place working with its assumed share only.

    Attributes
    ----------
    as_planned, going_on, at_best : float
        With the planned stops alone, going on to the next place, trying every place that helps.
    extra_min : float
        Time that the last takes [min].
    """

    as_planned: float
    going_on: float
    at_best: float
    extra_min: float


@dataclass(frozen=True, slots=True)
class LeastBottle:
    """The smallest bottles that never run dry on the way as walked.

    Attributes
    ----------
    every_place, no_stop : float
        Filled at every place relied on, and at none [L].
    """

    every_place: float
    no_stop: float


@dataclass(frozen=True, slots=True)
class OtherBottle:
    """The same way with other bottles; litres and kilograms are those of the whole party.

    Attributes
    ----------
    bottle_l, bag_kg : float
        What each walker's bottle holds [L], and what the bags weigh [kg].
    stops : int
        Stops for water.
    places : str
        Where.
    refilled_l, left_l, short_l : float
        Taken on the way, left at home, lacking [L].
    first_short_h : float or None
        Since when it lacks [h]; None for never.
    worst_body_mass_loss_pct : float
        Largest loss of body mass [%].
    elapsed_h : float
        Time home [h].
    arrive : str
        Local time at home, ISO 8601.
    never_dry : bool
        Whether it lasts.
    """

    bottle_l: float
    bag_kg: float
    stops: int
    places: str
    refilled_l: float
    left_l: float
    short_l: float
    first_short_h: float | None
    worst_body_mass_loss_pct: float
    elapsed_h: float
    arrive: str
    never_dry: bool


@dataclass(frozen=True, slots=True)
class OtherWay:
    """Another way, which runs less dry or never.

    Attributes
    ----------
    distance_km, elapsed_h, extra_min : float
        Its length [km], its time [h], and how much later it is home [min].
    short_l : float
        Water lacking on it [L].
    places : tuple of str
        Where bottles are filled.
    """

    distance_km: float
    elapsed_h: float
    extra_min: float
    short_l: float
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WetWay:
    """Whether there is a way that never runs dry.

    Attributes
    ----------
    fastest_runs_dry, exists, differs : bool
        Whether the fastest runs dry, whether one was found that does not, and whether another way
        than the planned one was found.
    need_ml_h : float
        Water needed in an hour, as the search counts it [mL/h].
    other : OtherWay or None
        None where none differs.
    """

    fastest_runs_dry: bool
    exists: bool
    differs: bool
    need_ml_h: float
    other: OtherWay | None = None


@dataclass(frozen=True, slots=True)
class WaterUsed:
    """Water of the whole party.

    Attributes
    ----------
    need_l, carried_l, refilled_l, drunk_l, left_l : float
        Litres [L].
    short_l : float
        Lacking at the worst [L]; NaN where no model says.
    worst_body_mass_loss_pct : float
        Largest loss of body mass [%].
    worst_loss_means : str
        What such a loss does.
    first_short_h : float or None
        Since when it lacks [h]; None for never.
    next : NextWater or None
        None without any.
    treatment : tuple of TreatmentUsed
        Each treatment carried.
    chance_dry : DryChance
        Where places work only as often as assumed.
    need_l_band : tuple of float or None
        By the lowest and the highest published sweat rate [L]; None where not worked out.
    bottles : tuple of OtherBottle
        Other bottles; empty where not asked.
    least_bottle_l : LeastBottle or None
        None where not asked.
    never_dry : WetWay or None
        None where not asked.
    """

    need_l: float
    carried_l: float
    refilled_l: float
    drunk_l: float
    left_l: float
    short_l: float
    worst_body_mass_loss_pct: float
    worst_loss_means: str
    first_short_h: float | None
    next: NextWater | None
    treatment: tuple[TreatmentUsed, ...]
    chance_dry: DryChance | None
    need_l_band: Band | None = None
    bottles: tuple[OtherBottle, ...] = ()
    least_bottle_l: LeastBottle | None = None
    never_dry: WetWay | None = None


@dataclass(frozen=True, slots=True)
class Food:
    """Food energy of the whole party.

    Attributes
    ----------
    need_kcal, carried_kcal, eaten_kcal, from_body_kcal, short_kcal : float
        Kilocalories.
    """

    need_kcal: float
    carried_kcal: float
    eaten_kcal: float
    from_body_kcal: float
    short_kcal: float


@dataclass(frozen=True, slots=True)
class Moon:
    """The moon while it is dark on the way.

    Attributes
    ----------
    illuminated_pct : float
        Share of its face that is lit [%].
    up_h, dark_h : float
        Of the dark on foot it is up, and the dark on foot [h].
    clear_sky_lux : float
        Most light under a clear sky [lx].
    words : str
        All of it in a sentence or two.
    """

    illuminated_pct: float
    up_h: float
    dark_h: float
    clear_sky_lux: float
    words: str


@dataclass(frozen=True, slots=True)
class Light:
    """Light to see by.

    Attributes
    ----------
    dark_h, unlit_h : float
        After dark, and of it without street lights [h].
    carried_h, short_h : float
        Carried, and lacking [h].
    first_short_h : float or None
        Since when it lacks [h]; None for never.
    moon : Moon or None
        None where it is not dark on the way.
    """

    dark_h: float
    unlit_h: float
    carried_h: float
    short_h: float
    first_short_h: float | None
    moon: Moon | None


@dataclass(frozen=True, slots=True)
class Felt:
    """Cold, heat and what a night halt asks.

    Attributes
    ----------
    coldest_felt_c, hottest_felt_c : float or None
        Felt temperature [degC]; None where no index says.
    halt_short_clo : float or None
        Insulation lacking at a halt [clo]; None without one.
    halt_notes : tuple of str
        What that rests on.
    """

    coldest_felt_c: float | None
    hottest_felt_c: float | None
    halt_short_clo: float | None
    halt_notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NightHalt:
    """One halt for the night.

    Attributes
    ----------
    reason : str
        Why.
    sheltered : bool
        Whether under a roof.
    place : str or None
        Name of the place; None by the way.
    along_km : float
        From the start [km].
    until : datetime or None
        When it ends.
    """

    reason: str
    sheltered: bool
    place: str | None
    along_km: float
    until: datetime | None


@dataclass(frozen=True, slots=True)
class SunTimes:
    """The sun on the day of departure.

    Attributes
    ----------
    civil_dawn, sunrise, sunset, civil_dusk : datetime or None
        Local times; None where it does not happen.
    state : str
        What sort of day it is; "usual" for most.
    told : str
        What to tell of that; empty for a usual day.
    """

    civil_dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    civil_dusk: datetime | None
    state: str
    told: str


@dataclass(frozen=True, slots=True)
class Judged:
    """The verdict as told.

    Attributes
    ----------
    level : str
        One of ``simulator.home.verdict.LEVELS``.
    reasons : tuple of str
        Gravest first; at least one.
    hangs_on : tuple of str or None
        Assumptions at whose ends it is another; None where not worked out.
    """

    level: str
    reasons: tuple[str, ...]
    hangs_on: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class WayLength:
    """How long a way is, and how much of it is beside traffic.

    Attributes
    ----------
    distance_km, moving_min : float
        Length [km] and time on foot [min].
    busy_day_km, busy_dark_km : float
        Beside busy roads by day and in the dark [km].
    """

    distance_km: float
    moving_min: float
    busy_day_km: float
    busy_dark_km: float


@dataclass(frozen=True, slots=True)
class WaysCompared:
    """The fastest way beside a quiet one.

    Attributes
    ----------
    chosen : str
        "quiet" or "fast".
    same : bool
        Whether both are one.
    quiet, fast : WayLength
        Each way.
    """

    chosen: str
    same: bool
    quiet: WayLength
    fast: WayLength


@dataclass(frozen=True, slots=True)
class Summary:
    """Everything that is told of one walk, beside its tables.

    Attributes
    ----------
    title : str
        The plan's.
    seed : int
        0: a single walk draws no random numbers.
    inputs, files : mapping of str to str
        SHA-256 of each file read, and of each file written beside the summary.
    route, heights, time, water, food, light, cold_heat, sun : records
        One subject each.
    halts, shortages, hazards : tuple of records
        Night halts, what falls short, where to take care.
    verdict : Judged
        The word, and why.
    cautions, assumptions : tuple of str
        Sentences.
    attribution : str
        Whose data the map is.
    ways : WaysCompared or None
        None where not compared.
    explored : bool
        Whether other bottles, hours, paces and bridges were tried.
    """

    title: str
    seed: int
    inputs: Mapping[str, str]
    route: Route
    heights: Heights
    time: TimeTaken
    water: WaterUsed
    food: Food
    light: Light
    cold_heat: Felt
    halts: tuple[NightHalt, ...]
    sun: SunTimes
    shortages: tuple[Shortage, ...]
    verdict: Judged
    hazards: tuple[Hazard, ...]
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]
    attribution: str
    ways: WaysCompared | None = None
    explored: bool = False
    files: Mapping[str, str] | None = None


def document(summary: Summary) -> dict[str, Any]:
    """Give a summary as the document of summary.json: what was not asked is left out, not null.

    Parameters
    ----------
    summary : Summary
        Of one walk.

    Returns
    -------
    dict
        Dicts, lists, text, numbers and None.
    """
    told: dict[str, Any] = {"schema": SCHEMA, **_plain(summary)}
    explored = told.pop("explored")
    route, time, water, verdict = (told[name] for name in ("route", "time", "water", "verdict"))
    if water["never_dry"] is not None:
        water["never_dry"] |= water["never_dry"].pop("other") or {}
    if not explored:
        for part, name in (
            (route, "main_bridge"),
            (time, "leave_by"),
            (time, "leave_by_margin_h"),
            (time["home_by"] or {"leave_by": None}, "leave_by"),
            (water, "bottles"),
            (water, "least_bottle_l"),
            (water, "never_dry"),
        ):
            del part[name]
    for part, name in (
        (told, "ways"),
        (told, "files"),
        (time, "elapsed_h_band"),
        (water, "need_l_band"),
        (verdict, "hangs_on"),
    ):
        if part[name] is None:
            del part[name]
    return told


def _plain(value: object) -> Any:  # noqa: ANN401 - JSON
    """Take records apart, down to what JSON knows."""
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Shortage):
        return {name: _plain(inner) for name, inner in value._asdict().items()}
    if isinstance(value, Mapping):
        return {str(name): _plain(inner) for name, inner in value.items()}
    if isinstance(value, tuple):
        return [_plain(inner) for inner in value]
    return value.isoformat() if isinstance(value, datetime) else value
