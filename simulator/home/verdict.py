"""Walk, walk with care, or stay and wait: one rule for one walk and for ten thousand.

Every rule reads arrays of findings, one element a walk, and gives the level that it calls for; the
gravest sets the verdict. Words are made for one walk at a time. A number that is not known counts
as the worst, and a graver finding never lightens the word.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from simulator.body.drinking import dehydration_step
from simulator.home.crowd_records import When
from simulator.home.strain import NO_HEAT_C, Strain
from simulator.units import HOUR_S, Units
from simulator.walk.account import Account, What
from simulator.walk.records import CHILL_CARE_C, HEAT_CARE_C, LIGHT_CARE_H, LONG_CARE_H, LONG_STAY_H

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.home.crowd_records import Arrivals

METRIC = Units()
"""What reasons are told in unless asked otherwise."""

LEVELS = ("walk", "walk with care", "stay and wait")
"""The verdicts, from light to grave."""

CALM, CARE, STAY = 0, 1, 2
"""Positions in ``LEVELS``."""

NO_VERDICT = -1
"""Told of a walk that is not known at all."""

LOSS_CARE_PCT = 2.0
"""Body-mass loss above which performance suffers [%]; Sawka et al. 2007, ACSM position stand."""

LOSS_STAY_PCT = 4.0
"""Body-mass loss above which thinking and strength clearly suffer [%]; from memory, a margin below
the 5 to 6 % of marked heat strain."""

CHILL_STAY_C = -28.0
"""Wind chill at which exposed skin can freeze within 10 to 30 minutes [degC]; the public
categories of Environment and Climate Change Canada."""

HEAT_STAY_C = 39.4
"""Heat index of 103 degF, "danger" in the same table [degC]; from memory."""

HEAT_OVER_CARE_C = 0.0
"""Wet bulb globe temperature over the limit of ISO 7243 for this effort and age from which care is
called for [K]: where the standard itself asks for more rest."""

SUN_FELT_STAY_C, FRAIL_SUN_FELT_STAY_C = 46.0, 42.0
"""Heat index with what full sun adds, from which to stay [degC]; an assumption, 44 to 50 (the
middle of "danger" in the same table), and 40 to 45 for children and the old. Very dry heat in full
sun passes it before the wet bulb globe temperature tells."""

HEAT_OVER_STAY_C, FRAIL_HEAT_OVER_STAY_C = 4.5, 3.0
"""The same, for staying [K]; an assumption, 4 to 6: at a walking effort it comes to 30 to 31 degC,
where armies and sports bodies call off exercise for people not used to heat (from memory). For
children and the old an assumption, 2 to 4."""

WIND_CARE_M_S, WIND_STAY_M_S = 13.9, 20.8
"""Mean wind 10 m above open ground from which walking is laborious, and from which roofs and trees
suffer [m/s]: Beaufort 7 and 9, WMO; from memory. Gusts are about half as strong again, and from
some 20 m/s throw people over (Penwarden 1973, Lawson; from memory)."""

FRAIL_WIND_CARE_M_S, FRAIL_WIND_STAY_M_S = 10.8, 17.2
"""The same for children and the old [m/s]: Beaufort 6 and 8. Gusts of some 15 m/s are dangerous to
frail people (Penwarden 1973, Lawson; from memory)."""

RAIN_CARE_MM_H, RAIN_STAY_MM_H = 7.6, 50.0
"""Heavy rain (American Meteorological Society) and violent rain (UK Met Office) [mm/h]; both from
memory. The latter floods streets and paths within the hour."""

ICE_CARE_MM, ICE_STAY_MM = 0.1, 2.0
"""Rain on freezing ground from which it is slippery, and from which all is coated [mm];
assumptions, 0.1 to 0.5 and 1 to 6: weather services warn of freezing rain of any amount (common
practice)."""

SNOW_CARE_MM, SNOW_STAY_MM = 1.0, 20.0
"""Snow, as water, from which pace and footing are not those of this plan, and from which ways are
lost under it [mm]; assumptions, 0.5 to 2 and 10 to 30: about 1 and 20 cm."""

LEAST_TOLD_ML = 1.0
"""Lack of water that is still told [ml]; below it is rounding."""

LIGHT_STAY_H = 2.0
"""The same, for waiting until it is light [h]; an assumption, 1 to 4: who cannot see the ground
falls, and loses the way."""

UNLIT_CARE_H = 0.5
"""Time on unlit ways in the dark, lamp or not, that calls for care [h]; an assumption, 0.25 to
1."""

FRAIL_LONG_CARE_H, FRAIL_LONG_STAY_H = 8.0, 14.0
"""The same for children and the old [h]; assumptions, 6 to 10 and 12 to 16: a working day, and a
waking one with its breaks."""

BUSY_CARE_KM = 0.3
"""Distance in the dark along busy roads without pavement that is worth a word, as along a main road
at 80 km/h (``route.discomfort.traffic_danger``) [km]; an assumption, 0.1 to 0.5."""

BUSY_DAY_CARE_KM = 2.0
"""The same by day [km]; an assumption, 1 to 4: for people on foot the dark is three to seven times
as deadly as the day on the same roads (Sullivan and Flannagan 2002, Accid Anal Prev 34:487-498;
from memory). Walking on the side that faces the traffic is what road codes ask where there is no
pavement (Vienna Convention on Road Traffic 1968, article 20), not a reason to stay off it."""

BUSY_UNSEEN_STAY_KM = 1.0
"""The same in the dark with no light at all, for staying [km]; an assumption, 0.5 to 3: an impact
at 80 km/h kills more than half (Rosén and Sander 2009 and later; from memory)."""

FOOT_CARE_CLO = 0.3
"""Clothes lacking on foot, all that the bag holds put on, that call for care [clo]: about a jumper
(ASHRAE 55, table of garments, from memory); an assumption, 0.1 to 0.5."""

FOOT_STAY_CLO = 1.0
"""The same, for staying [clo]: as much again as street clothes for a cool day; one cools down while
walking. An assumption, 0.5 to 1.5."""

LOAD_CARE_SHARE = 0.30
"""Bag as packed over body mass from which care is called for: up to about 30 % keeps most agility
(US Army ADP 3-90, restated; Knapik and Reynolds, from memory)."""

FRAIL_LOAD_CARE_SHARE = 0.15
"""The same for children and the old: guidance for school bags is 10 to 15 % (from memory)."""

SLOWED_CARE_SHARE = 0.05
"""Time on foot that comes of going slower to keep the effort up, from which care is called for; an
assumption, 0.03 to 0.15."""

EFFORT_CARE, EFFORT_STAY = 1.05, 1.25
"""Metabolic rate of an hour over the one that can be kept up for the whole walk, at the slowest
pace that still is walking; assumptions, 1 to 1.1 and 1.1 to 1.4: an hour may pass a mean a
little."""

STEEP_WET_CARE_KM = 0.1
"""Unpaved steep way in rain or on ice that is worth a word [km]; an assumption, 0.05 to 0.5."""

STEEP_WET_MM = 1.0
"""Rain on the way from which unpaved ground is slippery [mm]; an assumption, 0.5 to 2: a day counts
as wet from 1 mm on (UK Met Office; from memory), and a passing drizzle dries."""


def _nothing() -> NDArray[np.float64]:
    return np.zeros(1)


def _as_main_road() -> NDArray[np.float64]:
    return np.ones(1)


def _no_hours() -> NDArray[np.float64]:
    return np.full((len(When), 1), np.nan)


def _no_way() -> NDArray[np.float64]:
    return np.zeros((0, 1))


@dataclass(frozen=True, slots=True)
class Findings:
    """What the verdict of n walks is made from; arrays of shape (n,), NaN where not known.

    Attributes
    ----------
    loss_pct : ndarray
        Worst body-mass loss [%].
    short_ml : ndarray
        Largest deficit with the bottle empty [mL].
    first_short_h : ndarray
        Hours after departure when it begins [h]; NaN when it does not.
    coldest_felt_c, hottest_felt_c : ndarray
        Extremes of the felt temperature [degC].
    unlit_h : ndarray
        Time on unlit ways in the dark [h].
    light_short_h : ndarray
        The part of it without a lamp [h].
    elapsed_h : ndarray
        Departure to arrival [h].
    halt_short_clo, halt_h : ndarray
        Missing insulation [clo] and length [h] of the worst night halt; NaN without one.
    halt_open : ndarray of bool
        Whether a night halt has no shelter.
    busy_dark_km, busy_day_km : ndarray
        Along busy roads without pavement, in the dark and by day [km].
    strain : (len(Strain), n) float64
        From ``simulator.home.strain.strains_of``.
    slowed_share : ndarray
        Time on foot that comes of going slower to keep the effort up.
    light_out_h : ndarray
        When the lamp is out while needed, since departure [h].
    fords, floods_km, steep_km : ndarray
        Waters crossed without a bridge, way that floods as the map says, and unpaved steep way
        [km]; the same for all walks of one way.
    busy_danger : ndarray
        Mean danger of the busy roads, over a main road at 80 km/h.
    when_h : (len(When), n) float64
        When each begins, since departure [h]; NaN where it does not.
    along_m : (H, n) float64
        Distance along the way at the end of each hour [m].
    event : str
        Kind of event in the plan.
    unpriced : tuple of str
        What the verdict hangs on and nobody knows, in words.
    beyond_index_c : float
        Air temperature where the felt temperature is not known [degC]; NaN where it is known.
    beyond_age : tuple of str
        Walkers whose age is beyond the published models, in words.
    place : callable or None
        Says in words when and where an hour of the walk is; for the words of one walk.
    """

    loss_pct: NDArray[np.float64]
    short_ml: NDArray[np.float64]
    first_short_h: NDArray[np.float64]
    coldest_felt_c: NDArray[np.float64]
    hottest_felt_c: NDArray[np.float64]
    unlit_h: NDArray[np.float64]
    light_short_h: NDArray[np.float64]
    elapsed_h: NDArray[np.float64]
    halt_short_clo: NDArray[np.float64]
    halt_h: NDArray[np.float64]
    halt_open: NDArray[np.bool_]
    busy_dark_km: NDArray[np.float64]
    strain: NDArray[np.float64]
    busy_day_km: NDArray[np.float64] = field(default_factory=_nothing)
    slowed_share: NDArray[np.float64] = field(default_factory=_nothing)
    light_out_h: NDArray[np.float64] = field(default_factory=_nothing)
    fords: NDArray[np.float64] = field(default_factory=_nothing)
    floods_km: NDArray[np.float64] = field(default_factory=_nothing)
    steep_km: NDArray[np.float64] = field(default_factory=_nothing)
    busy_danger: NDArray[np.float64] = field(default_factory=_as_main_road)
    when_h: NDArray[np.float64] = field(default_factory=_no_hours)
    along_m: NDArray[np.float64] = field(default_factory=_no_way)
    event: str = "none"
    unpriced: tuple[str, ...] = ()
    beyond_index_c: float = math.nan
    beyond_age: tuple[str, ...] = ()
    place: Callable[[float], str] | None = None

    @property
    def count(self) -> int:
        """Number of walks n."""
        return int(self.loss_pct.size)

    @property
    def frail(self) -> NDArray[np.bool_]:
        """Where a child or an old person walks along; not known counts as so."""
        frail: NDArray[np.bool_] = ~(self.strain[Strain.FRAIL] == 0.0)
        return frail

    def one(self, row: int) -> Findings:
        """Give the findings of one walk, with arrays of one."""
        return self.some(slice(row, row + 1))

    def some(self, rows: slice) -> Findings:
        """Give the findings of some walks; what is said of all at once holds for each."""
        cut: dict[str, Any] = {}
        for each in fields(self):
            value = getattr(self, each.name)
            if isinstance(value, np.ndarray):
                cut[each.name] = value[..., rows] if value.shape[-1] > 1 else value
        return replace(self, **cut)


def calm_strain(count: int = 1) -> NDArray[np.float64]:
    """Give the strain of walks that ask nothing of anyone."""
    strain = np.zeros((len(Strain), count))
    strain[[Strain.WBGT_C, Strain.HEAT_OVER_C, Strain.SUN_FELT_C]] = NO_HEAT_C
    strain[Strain.HOT_CORE_H] = np.inf
    return strain


class Reason(NamedTuple):
    """One reason, with the level it calls for.

    Attributes
    ----------
    level : int
        Position in ``LEVELS``.
    text : str
        The reason in words.
    """

    level: int
    text: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """The judgement.

    Attributes
    ----------
    level : str
        One of ``LEVELS``.
    reasons : tuple of str
        Gravest first; at least one.
    """

    level: str
    reasons: tuple[str, ...]


NOTHING_FOUND = "no shortage, and nothing that calls for special care, was found"


def judge(findings: Findings, *, units: Units = METRIC) -> Verdict:
    """Weigh the findings of one walk; the gravest reason sets the level."""
    return judge_each(findings, units=units)[0]


def judge_each(
    findings: Findings, *, units: Units = METRIC, alone: Callable[[int], Findings] | None = None
) -> list[Verdict]:
    """Weigh the findings of n walks; rules are asked once for all, words are made one by one.

    ``alone`` gives the findings of one walk with what its words need, such as clock and place.
    """
    alone = alone or findings.one
    levels = _levels(findings)
    verdicts = []
    for walk in range(findings.count):
        one = alone(walk)
        reasons = [
            Reason(level, rule.words(one, level, units))
            for rule, level in zip(RULES, levels[:, walk].tolist(), strict=True)
            if level > CALM
        ]
        reasons += _water_note(one, units)
        if not reasons:
            reasons = [Reason(CALM, NOTHING_FOUND)]
        reasons.sort(key=lambda reason: -reason.level)
        texts = tuple(reason.text for reason in reasons)
        verdicts.append(Verdict(LEVELS[reasons[0].level], texts))
    return verdicts


def levels_of(findings: Findings) -> NDArray[np.int8]:
    """Judge many walks.

    Parameters
    ----------
    findings : Findings
        Of n walks.

    Returns
    -------
    (n,) int8
        Positions in ``LEVELS``, as ``judge`` gives for each.
    """
    return np.asarray(_levels(findings).max(axis=0), dtype=np.int8)


def _levels(findings: Findings) -> NDArray[np.int8]:
    """Ask every rule of every walk, (R, n)."""
    return np.stack([np.broadcast_to(rule.level(findings), findings.count) for rule in RULES])


def findings_of_arrivals(
    arrivals: Arrivals,
    *,
    event: str = "none",
    unpriced: tuple[str, ...] = (),
    like: Findings | None = None,
) -> Findings:
    """Gather what the verdicts of a crowd are made from.

    Parameters
    ----------
    arrivals : Arrivals
        n walks.
    event : str
        Kind of event.
    unpriced : tuple of str
        What the verdicts hang on and nobody knows, in words.
    like : Findings, optional
        Of the plan's own walk: event and what is not known are taken from it.

    Returns
    -------
    Findings
        Of n walks.
    """
    fords, floods_km, steep_km, busy_danger = arrivals.mapped
    first_h = arrivals.first_short_s / HOUR_S
    return Findings(
        loss_pct=arrivals.loss_pct,
        short_ml=arrivals.short_ml,
        first_short_h=np.where(np.isfinite(first_h), first_h, np.nan),
        coldest_felt_c=arrivals.coldest_c,
        hottest_felt_c=arrivals.hottest_c,
        unlit_h=arrivals.unlit_s / HOUR_S,
        light_short_h=arrivals.missing[What.LIGHT],
        elapsed_h=arrivals.elapsed_s / HOUR_S,
        halt_short_clo=arrivals.halt_short_clo,
        halt_h=arrivals.halt_h,
        halt_open=arrivals.halt_in_the_open,
        busy_dark_km=arrivals.busy_dark_km,
        busy_day_km=arrivals.busy_day_km,
        strain=arrivals.strain,
        slowed_share=arrivals.slowed_share,
        light_out_h=arrivals.short_from_s[What.LIGHT] / HOUR_S,
        fords=fords,
        floods_km=floods_km,
        steep_km=steep_km,
        busy_danger=busy_danger,
        when_h=arrivals.when_s / HOUR_S,
        along_m=arrivals.hourly[:, 0],
        event=event if like is None else like.event,
        unpriced=unpriced if like is None else like.unpriced,
        beyond_index_c=math.nan if like is None else like.beyond_index_c,
        beyond_age=() if like is None else like.beyond_age,
    )


def worst_of(findings: Findings) -> tuple[str, ...]:
    """Name what is worst on each walk.

    Parameters
    ----------
    findings : Findings
        Of n walks.

    Returns
    -------
    tuple of str
        Words of ``KINDS``: what calls for staying goes before what calls for care, and the more
        dangerous before the less.
    """
    levels = np.stack([rule.level(findings) for rule in RULES])
    first, worst = levels.argmax(axis=0), levels.max(axis=0)
    kinds = [rule.kind for rule in RULES]
    pairs = zip(first.tolist(), worst.tolist(), strict=True)
    return tuple(kinds[row] if level > CALM else "none" for row, level in pairs)


KINDS = (
    "none",
    "water",
    "light",
    "heat",
    "cold",
    "warmth of a night halt",
    "time",
    "wind and rain",
    "effort",
    "other",
)
"""What may be worst on a walk."""


def account_of(walks: Arrivals) -> Account:
    """Give what falls short on walks, and whether the verdict goes by it.

    Parameters
    ----------
    walks : Arrivals
        n walks.

    Returns
    -------
    Account
        The one list of shortages.
    """
    found = findings_of_arrivals(walks)
    counts = np.zeros(walks.missing.shape, dtype=bool)
    counts[What.WATER] = _water(found) > CALM
    counts[What.LIGHT] = _light(found) > CALM
    counts[What.WARMTH_ON_FOOT] = _clothes(found) > CALM
    counts[What.WARMTH_AT_A_HALT] = ~(walks.missing[What.WARMTH_AT_A_HALT] <= 0.0)
    counts[What.TIME] = _time(found) > CALM
    return Account(walks.missing, walks.short_from_s, walks.short_at_m, counts)


class Rule(NamedTuple):
    """One thing that is weighed.

    Attributes
    ----------
    kind : str
        Word of ``KINDS``.
    level : callable
        Gives the level that it calls for, of n walks.
    words : callable
        Says it of one walk, with its level.
    """

    kind: str
    level: Callable[[Findings], NDArray[np.int8]]
    words: Callable[[Findings, int, Units], str]


def _steps(
    values: NDArray[np.float64],
    care: float | NDArray[np.float64],
    stay: float | NDArray[np.float64] = math.inf,
) -> NDArray[np.int8]:
    """Give the level that values call for; what is not known is the worst."""
    level = (values >= care).astype(np.int8) + (values >= stay)
    return np.where(np.isnan(values), STAY, level).astype(np.int8)


def _frail(findings: Findings, frail: float, grown: float) -> NDArray[np.float64]:
    return np.where(findings.frail, frail, grown)


def _start(units: Units) -> str:
    return f"from the start, {units.long_name} 0.0"


def _at(findings: Findings, hours: float, units: Units) -> str:
    """Say when and where, e.g. ``at 19:30, km 8.4``; without a clock by the hour of the walk."""
    if not math.isfinite(hours):
        return _start(units)
    if findings.place is not None:
        return findings.place(hours)
    along = reached_m(findings, hours) / units.long_m
    return f"in hour {int(hours) + 1}, {units.long_name} {along:.1f}"


def reached_m(findings: Findings, hours: float) -> float:
    """Give where one walk is at an hour, straight within it [m]."""
    along_m = findings.along_m[:, 0]
    known = along_m[np.isfinite(along_m)]
    hour_h = np.minimum(np.arange(known.size + 1), float(findings.elapsed_h[0]))
    return float(np.interp(hours, hour_h, np.append(0.0, known)))


def _when(findings: Findings, row: When, units: Units) -> str:
    return _at(findings, float(findings.when_h[row, 0]), units)


def _value(findings: Findings, row: Strain) -> float:
    return float(findings.strain[row, 0])


# --- The rules, the most dangerous first ----------------------------------------------------------

MUST_BE_KNOWN = {
    "loss_pct": "how much water the body is short of",
    "short_ml": "how much water is short",
    "unlit_h": "how long unlit ways are walked in the dark",
    "light_short_h": "how long light is short",
    "elapsed_h": "how long the walk takes",
    "busy_dark_km": "how far the way runs along busy roads in the dark",
    "busy_day_km": "how far the way runs along busy roads",
    "slowed_share": "how much the effort slows",
}
"""Findings without which there is no verdict but the gravest, in words."""

STRAIN_KNOWN = {
    Strain.WIND_M_S: "how strong the wind is",
    Strain.RAIN_MM_H: "how heavy the rain is",
    Strain.HEAT_OVER_C: "how hot it is",
    Strain.FOOT_SHORT_CLO: "whether the clothes are warm enough",
    Strain.EFFORT: "whether the effort can be kept up",
    Strain.LOAD_SHARE: "how heavy the bag is for who carries it",
}
"""The same of the hours on the way."""


def _unknown(findings: Findings) -> NDArray[np.int8]:
    missing = np.zeros(findings.count, dtype=bool)
    for name in MUST_BE_KNOWN:
        missing = missing | np.isnan(getattr(findings, name))
    for row in STRAIN_KNOWN:
        missing = missing | np.isnan(findings.strain[row])
    return np.where(missing, STAY, CALM).astype(np.int8)


def _unknown_words(findings: Findings, _level: int, units: Units) -> str:
    lacking = [
        words
        for name, words in MUST_BE_KNOWN.items()
        if math.isnan(float(getattr(findings, name)[0]))
    ]
    lacking += [words for row, words in STRAIN_KNOWN.items() if math.isnan(_value(findings, row))]
    return (
        f"no model says {', nor '.join(lacking)} ({_start(units)}): taken as the worst; do not "
        "rely on this plan"
    )


def _no_index(findings: Findings) -> NDArray[np.int8]:
    missing = np.isnan(findings.coldest_felt_c) | np.isnan(findings.hottest_felt_c)
    return np.where(missing, STAY, CALM).astype(np.int8)


def _no_index_words(findings: Findings, _level: int, units: Units) -> str:
    air_c = findings.beyond_index_c
    at = "" if math.isnan(air_c) else f", at {units.degrees(air_c)} of air"
    return (
        f"the weather is beyond the published tables of felt temperature{at} ({_start(units)}): "
        "taken as worse than the worst they hold; wait inside"
    )


def _hot_core(findings: Findings) -> NDArray[np.int8]:
    reached = np.isfinite(findings.strain[Strain.HOT_CORE_H])
    return np.where(reached, STAY, CALM).astype(np.int8)


def _hot_core_words(findings: Findings, _level: int, units: Units) -> str:
    hours = _value(findings, Strain.HOT_CORE_H)
    return (
        f"heat: the body's core would pass 38 °C after {hours:.1f} h "
        f"({_at(findings, hours, units)}), by ISO 7933: heat stroke is possible; wait in a "
        "cool place for evening or another day"
    )


def _sun_heat(findings: Findings) -> NDArray[np.int8]:
    stay = _frail(findings, FRAIL_HEAT_OVER_STAY_C, HEAT_OVER_STAY_C)
    return _steps(findings.strain[Strain.HEAT_OVER_C], HEAT_OVER_CARE_C, stay)


def _sun_heat_words(findings: Findings, level: int, units: Units) -> str:
    over = _value(findings, Strain.HEAT_OVER_C)
    index = _value(findings, Strain.WBGT_C)
    who = " and age" if bool(findings.frail[0]) else ""
    do = (
        "wait in a cool place for evening or another day"
        if level == STAY
        else "go slower, rest in shade each half hour, wet skin and clothes, or leave when it cools"
    )
    return (
        f"heat with sun: {units.degrees(index)} of wet bulb globe temperature "
        f"{_at(findings, _value(findings, Strain.HEAT_AT_H), units)}, {units.warmer(over)} over "
        f"what this effort{who} allows: {do}"
    )


def _shade_heat(findings: Findings) -> NDArray[np.int8]:
    known = np.nan_to_num(findings.hottest_felt_c, nan=-math.inf)
    return _steps(known, HEAT_CARE_C, HEAT_STAY_C)


def _shade_heat_words(findings: Findings, level: int, units: Units) -> str:
    hot = units.degrees(float(findings.hottest_felt_c[0]))
    when = _at(findings, _value(findings, Strain.HEAT_AT_H), units)
    if level == STAY:
        return f"it feels like {hot} in the shade ({when}): heat stroke is possible; wait inside"
    return f"it feels like {hot} in the shade ({when}): walk in the cool hours, in shade"


def _sun_felt(findings: Findings) -> NDArray[np.int8]:
    stay = _frail(findings, FRAIL_SUN_FELT_STAY_C, SUN_FELT_STAY_C)
    known = np.nan_to_num(findings.strain[Strain.SUN_FELT_C], nan=-math.inf)
    return np.where(known >= stay, STAY, CALM).astype(np.int8)


def _sun_felt_words(findings: Findings, _level: int, units: Units) -> str:
    hot = units.degrees(_value(findings, Strain.SUN_FELT_C))
    when = _at(findings, _value(findings, Strain.SUN_FELT_AT_H), units)
    return (
        f"it feels like {hot} in the sun ({when}): heat stroke is possible; wait in a cool place "
        "for evening or another day"
    )


def _wind(findings: Findings) -> NDArray[np.int8]:
    care = _frail(findings, FRAIL_WIND_CARE_M_S, WIND_CARE_M_S)
    stay = _frail(findings, FRAIL_WIND_STAY_M_S, WIND_STAY_M_S)
    return _steps(findings.strain[Strain.WIND_M_S], care, stay)


def _wind_words(findings: Findings, level: int, units: Units) -> str:
    wind = units.wind(_value(findings, Strain.WIND_M_S))
    when = _at(findings, _value(findings, Strain.WIND_AT_H), units)
    if level == STAY:
        return (
            f"wind of {wind} on the mean, gusts half as strong again ({when}): people are thrown "
            "over, branches and tiles fall; wait inside until it drops"
        )
    return (
        f"wind of {wind} on the mean, gusts half as strong again ({when}): hard to walk against; "
        "keep off woods, ridges and bridges, stow the umbrella"
    )


def _rain(findings: Findings) -> NDArray[np.int8]:
    return _steps(findings.strain[Strain.RAIN_MM_H], RAIN_CARE_MM_H, RAIN_STAY_MM_H)


def _rain_words(findings: Findings, level: int, units: Units) -> str:
    rain = units.rain(_value(findings, Strain.RAIN_MM_H))
    when = _at(findings, _value(findings, Strain.RAIN_AT_H), units)
    if level == STAY:
        return (
            f"violent rain of {rain} ({when}): streets and streams flood within the hour; wait "
            "inside, stay out of underpasses and valley floors"
        )
    return (
        f"heavy rain of {rain} ({when}): wear what keeps it out from the start, and turn back "
        "where water covers the way"
    )


def _ice(findings: Findings) -> NDArray[np.int8]:
    stay = _frail(findings, ICE_CARE_MM, ICE_STAY_MM)
    return _steps(findings.strain[Strain.ICE_MM], ICE_CARE_MM, stay)


def _ice_words(findings: Findings, level: int, units: Units) -> str:
    when = _at(findings, _value(findings, Strain.ICE_AT_H), units)
    do = (
        "wait inside until it thaws or is gritted"
        if level == STAY
        else ("gritted ways only, short flat steps, spikes or socks over the shoes")
    )
    return f"rain near freezing, so ice underfoot ({when}): {do}"


def _snow(findings: Findings) -> NDArray[np.int8]:
    return _steps(findings.strain[Strain.SNOW_MM], SNOW_CARE_MM, SNOW_STAY_MM)


def _snow_words(findings: Findings, level: int, units: Units) -> str:
    fallen = _value(findings, Strain.SNOW_MM)
    when = _at(findings, _value(findings, Strain.SNOW_AT_H), units)
    do = (
        "wait inside until ways are cleared"
        if level == STAY
        else ("leave much more time: snow is not counted in the pace here")
    )
    return f"about {fallen:.0f} cm of snow falls on the way (first {when}): {do}"


def _water(findings: Findings) -> NDArray[np.int8]:
    return _steps(findings.loss_pct, LOSS_CARE_PCT, LOSS_STAY_PCT)


def _water_words(findings: Findings, _level: int, units: Units) -> str:
    loss, short = float(findings.loss_pct[0]), float(findings.short_ml[0])
    if math.isnan(loss):
        return f"how much water is lost is not known ({_start(units)}): do not rely on this plan"
    since = float(findings.first_short_h[0])
    means = dehydration_step(loss).means
    if short >= LEAST_TOLD_ML:
        when = f" {_from(findings, since, units)}"
        return (
            f"water runs short{when}: {loss:.1f} % of body mass would be lost ({means}); carry "
            f"{units.volume(short)} more, or fill up before then"
        )
    # With water left the loss comes of sweating faster than it is safe to drink.
    return (
        f"more is sweated than is safe to drink: {loss:.1f} % of body mass would be lost by "
        f"arrival ({_at(findings, float(findings.elapsed_h[0]), units)}; {means}); go slower, or "
        "in the cool hours"
    )


def _water_note(findings: Findings, units: Units) -> list[Reason]:
    """Tell of water that runs short and does no harm."""
    loss, short = float(findings.loss_pct[0]), float(findings.short_ml[0])
    if not (short >= LEAST_TOLD_ML and loss < LOSS_CARE_PCT):
        return []
    since = float(findings.first_short_h[0])
    when = f" {_from(findings, since, units)}"
    means = dehydration_step(loss).means
    told = f"by up to {units.volume(short)}, {loss:.1f} % of body mass ({means})"
    return [Reason(CALM, f"water runs short{when}, {told}; drink what you have by thirst")]


def _from(findings: Findings, hours: float, units: Units) -> str:
    """Say from when and where on."""
    at = _at(findings, hours, units)
    return at if at == _start(units) else f"from {at.removeprefix('at ').removeprefix('in ')} on"


def _chill(findings: Findings) -> NDArray[np.int8]:
    known = np.nan_to_num(findings.coldest_felt_c, nan=math.inf)
    level = (known < CHILL_CARE_C).astype(np.int8) + (known <= CHILL_STAY_C)
    return np.asarray(level, dtype=np.int8)


def _chill_words(findings: Findings, level: int, units: Units) -> str:
    cold = units.degrees(float(findings.coldest_felt_c[0]))
    since = _from(findings, float(findings.when_h[When.COLD, 0]), units)
    if level == STAY:
        return f"it feels like {cold} ({since}): bare skin can freeze on the way; wait inside"
    return f"it feels like {cold} ({since}): cover hands, head and face"


def _clothes(findings: Findings) -> NDArray[np.int8]:
    return _steps(findings.strain[Strain.FOOT_SHORT_CLO], FOOT_CARE_CLO, FOOT_STAY_CLO)


def _clothes_words(findings: Findings, level: int, units: Units) -> str:
    lack = _value(findings, Strain.FOOT_SHORT_CLO)
    when = _at(findings, _value(findings, Strain.FOOT_AT_H), units)
    do = (
        "one cools down even on the move; wait inside, or dress windproof and dry"
        if level == STAY
        else "wear or pack a layer more"
    )
    return (
        f"clothes are {lack:.1f} clo too thin for walking ({when}; a jumper gives about 0.3), with "
        f"all that the bag holds put on: {do}"
    )


def _effort(findings: Findings) -> NDArray[np.int8]:
    slowed = _steps(findings.slowed_share, SLOWED_CARE_SHARE)
    beyond = _steps(findings.strain[Strain.EFFORT], EFFORT_CARE, EFFORT_STAY)
    return np.maximum(slowed, beyond)


def _effort_words(findings: Findings, level: int, units: Units) -> str:
    over, slowed = _value(findings, Strain.EFFORT), float(findings.slowed_share[0])
    when = _at(findings, _value(findings, Strain.EFFORT_AT_H), units)
    if over >= EFFORT_CARE:
        return (
            f"the effort is {over:.0%} of what can be kept up for so long, even at the slowest "
            f"walking pace ({when}): "
            + (
                "do not walk it; be fetched, or split it over two days"
                if level == STAY
                else "rest before you must, and leave load behind"
            )
        )
    return (
        f"the pace is slowed so that the effort can be kept up: {slowed:.0%} of the time on foot "
        f"comes of it (hardest {when}); rest before you must, share the load, start early"
    )


def _halt(findings: Findings) -> NDArray[np.int8]:
    halting = findings.halt_h > 0.0
    cold = np.isnan(findings.halt_short_clo) | (findings.halt_short_clo > 0.0)
    return np.where(halting & (cold | findings.halt_open), STAY, CALM).astype(np.int8)


def _halt_words(findings: Findings, _level: int, units: Units) -> str:
    hours, short = float(findings.halt_h[0]), float(findings.halt_short_clo[0])
    do = f" ({_when(findings, When.HALT, units)}); wait indoors and leave at first light instead"
    if math.isnan(short):
        return (
            f"no model says whether a night halt of {hours:.0f} h is warm enough: taken as too "
            f"cold{do}"
        )
    said = []
    if short > 0.0:
        said.append(
            f"a night halt of {hours:.0f} h lacks {short:.1f} clo of warmth: too cold to sit still"
        )
    if bool(findings.halt_open[0]):
        said.append("a night halt falls where no shelter is within reach")
    return "; ".join(said) + do


def _light(findings: Findings) -> NDArray[np.int8]:
    return _steps(findings.light_short_h, LIGHT_CARE_H, LIGHT_STAY_H)


def _light_words(findings: Findings, level: int, units: Units) -> str:
    short = float(findings.light_short_h[0])
    do = (
        "wait indoors until first light, or take a lamp"
        if level == STAY
        else "take a lamp or cells, or leave earlier"
    )
    since = _from(findings, float(findings.light_out_h[0]), units)
    return f"{short:.1f} h of unlit way in the dark without a lamp to see by ({since}): {do}"


def _dark(findings: Findings) -> NDArray[np.int8]:
    lit = findings.light_short_h < LIGHT_CARE_H
    return np.where(lit, _steps(findings.unlit_h, UNLIT_CARE_H), CALM).astype(np.int8)


def _dark_words(findings: Findings, _level: int, units: Units) -> str:
    unlit = float(findings.unlit_h[0])
    return (
        f"{unlit:.1f} h in the dark on unlit ways (most in the hour that begins "
        f"{_when(findings, When.UNLIT, units)}): watch each step, have a spare lamp at hand"
    )


def _time(findings: Findings) -> NDArray[np.int8]:
    care = _frail(findings, FRAIL_LONG_CARE_H, LONG_CARE_H)
    stay = _frail(findings, FRAIL_LONG_STAY_H, LONG_STAY_H)
    return _steps(findings.elapsed_h, np.nextafter(care, np.inf), np.nextafter(stay, np.inf))


def _time_words(findings: Findings, level: int, units: Units) -> str:
    hours, frail = float(findings.elapsed_h[0]), bool(findings.frail[0])
    most_h = (
        (FRAIL_LONG_STAY_H if frail else LONG_STAY_H)
        if level == STAY
        else (FRAIL_LONG_CARE_H if frail else LONG_CARE_H)
    )
    over = f"{most_h:g} h are over {_at(findings, most_h, units)}"
    if level == STAY:
        return (
            f"{hours:.0f} h to get home is too long for one go ({over}): be fetched, or stay the "
            "night"
        )
    who = " for a child or an old person" if frail else ""
    return (
        f"{hours:.0f} h to get home is a long day{who} ({over}): start early, plan a place to stop "
        "before then"
    )


def _roads(findings: Findings) -> NDArray[np.int8]:
    dark_km, day_km = (
        km * findings.busy_danger for km in (findings.busy_dark_km, findings.busy_day_km)
    )
    unseen = (dark_km >= BUSY_UNSEEN_STAY_KM) & (findings.light_short_h >= LIGHT_CARE_H)
    level = np.maximum(_steps(dark_km, BUSY_CARE_KM), _steps(day_km, BUSY_DAY_CARE_KM))
    return np.maximum(level, np.where(unseen, STAY, CALM)).astype(np.int8)


def _roads_words(findings: Findings, level: int, units: Units) -> str:
    dark, day = (
        units.long(1000.0 * float(each[0]))
        for each in (findings.busy_dark_km, findings.busy_day_km)
    )
    where = f"longest stretch {_when(findings, When.BUSY, units)}"
    if float(findings.busy_dark_km[0] * findings.busy_danger[0]) >= BUSY_CARE_KM:
        said = f"{dark} in the dark along busy roads without pavement ({where})"
        if level == STAY:
            return f"{said}, and no lamp: drivers do not see you; wait for daylight"
        return f"{said}: be seen, face the traffic, step off for vehicles"
    return (
        f"{day} along busy roads without pavement ({where}): face the traffic, wear something "
        "bright, step off for lorries, or take the quiet way"
    )


def _mapped(findings: Findings) -> NDArray[np.int8]:
    rain = findings.strain[Strain.RAIN_MM_H]
    flood = findings.event == "flood"
    wet = (findings.fords > 0.0) | (findings.floods_km > 0.0)
    deep = wet & (flood | (rain >= RAIN_CARE_MM_H))
    slippery = (findings.steep_km >= STEEP_WET_CARE_KM) & (
        (findings.strain[Strain.WET_MM] >= STEEP_WET_MM)
        | (findings.strain[Strain.ICE_MM] > 0.0)
        | (findings.strain[Strain.SNOW_MM] > 0.0)
    )
    care = (findings.fords > 0.0) | slippery
    return np.where(deep, STAY, np.where(care, CARE, CALM)).astype(np.int8)


def _mapped_words(findings: Findings, level: int, units: Units) -> str:
    fords, floods = int(findings.fords[0]), float(findings.floods_km[0])
    steep = units.long(1000.0 * float(findings.steep_km[0]))
    said = []
    if fords:
        times = "once" if fords == 1 else f"{fords} times"
        at = _when(findings, When.FORD, units)
        said.append(f"the way crosses water without a bridge {times} ({at})")
    if floods > 0.0 and level == STAY:
        at = _when(findings, When.FLOODS, units)
        said.append(f"{units.long(1000.0 * floods)} of it floods, as the map says ({at})")
    if level == STAY:
        return f"{' and '.join(said)}: never wade moving or high water; wait, or go round"
    if fords:
        return f"{said[0]}: turn back where it is high or fast (marks on the map)"
    return (
        f"{steep} of steep unpaved way is slippery in this weather (longest stretch "
        f"{_when(findings, When.STEEP, units)}): go slow, or go round it"
    )


def _load(findings: Findings) -> NDArray[np.int8]:
    most = _frail(findings, FRAIL_LOAD_CARE_SHARE, LOAD_CARE_SHARE)
    return _steps(findings.strain[Strain.LOAD_SHARE], np.nextafter(most, np.inf))


def _load_words(findings: Findings, _level: int, units: Units) -> str:
    most = FRAIL_LOAD_CARE_SHARE if bool(findings.frail[0]) else LOAD_CARE_SHARE
    return (
        f"the bag weighs {_value(findings, Strain.LOAD_SHARE):.0%} of body mass {_start(units)}, "
        f"more than the {most:.0%} that can be carried with ease: falls, sore feet and backs come "
        "sooner; leave things out, share the load or go slower"
    )


def _age(findings: Findings) -> NDArray[np.int8]:
    told = np.full(findings.count, bool(findings.beyond_age))
    beyond = told | ~(findings.strain[Strain.BEYOND_AGE] == 0.0)
    return np.where(beyond, CARE, CALM).astype(np.int8)


def _age_words(findings: Findings, _level: int, units: Units) -> str:
    who = " and ".join(findings.beyond_age) or "a child or a very old person walks along"
    return (
        f"{who} ({_start(units)}): the models were measured on adults, so take every number here "
        "as rough, and keep far inside it"
    )


EVENTS_WITH_CARE = {
    "flood": "flood ({when}): never walk into moving or murky water; turn back",
    "storm": "storm ({when}): wait inside while warnings hold; keep off woods; at thunder go "
    "indoors, and wait 30 minutes after the last",
}
"""Events that call for care on every walk; thunder as the US National Weather Service says, from
memory."""


def _event(findings: Findings) -> NDArray[np.int8]:
    level = CARE if findings.event in EVENTS_WITH_CARE else CALM
    return np.full(findings.count, level, dtype=np.int8)


def _event_words(findings: Findings, _level: int, units: Units) -> str:
    return EVENTS_WITH_CARE[findings.event].format(when=_start(units))


def _unpriced(findings: Findings) -> NDArray[np.int8]:
    return np.full(findings.count, CARE if findings.unpriced else CALM, dtype=np.int8)


def _unpriced_words(findings: Findings, _level: int, units: Units) -> str:
    return (
        f"not known, so not judged ({_start(units)}): {'; '.join(findings.unpriced)}; weigh or "
        "look it up"
    )


RULES = (
    Rule("other", _unknown, _unknown_words),
    Rule("other", _no_index, _no_index_words),
    Rule("heat", _hot_core, _hot_core_words),
    Rule("heat", _sun_heat, _sun_heat_words),
    Rule("heat", _sun_felt, _sun_felt_words),
    Rule("heat", _shade_heat, _shade_heat_words),
    Rule("wind and rain", _wind, _wind_words),
    Rule("wind and rain", _ice, _ice_words),
    Rule("wind and rain", _rain, _rain_words),
    Rule("wind and rain", _mapped, _mapped_words),
    Rule("cold", _chill, _chill_words),
    Rule("cold", _clothes, _clothes_words),
    Rule("warmth of a night halt", _halt, _halt_words),
    Rule("water", _water, _water_words),
    Rule("effort", _effort, _effort_words),
    Rule("light", _light, _light_words),
    Rule("other", _roads, _roads_words),
    Rule("wind and rain", _snow, _snow_words),
    Rule("time", _time, _time_words),
    Rule("light", _dark, _dark_words),
    Rule("effort", _load, _load_words),
    Rule("other", _age, _age_words),
    Rule("wind and rain", _event, _event_words),
    Rule("other", _unpriced, _unpriced_words),
)
"""All that is weighed, the most dangerous first among equals."""
