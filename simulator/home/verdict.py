"""The verdict of many walks at once: the same thresholds as one walk's, without the words."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.drinking import dehydration_step
from simulator.units import HOUR_S, Units
from simulator.walk.account import Account, What
from simulator.walk.records import CHILL_CARE_C, HEAT_CARE_C, LIGHT_CARE_H

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.home.crowd_records import Arrivals

METRIC = Units()
"""What reasons are told in unless asked otherwise."""

LEVELS = ("walk", "walk with care", "stay and wait")
"""The verdicts, from light to grave."""

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

UNLIT_CARE_H = 0.5
"""Time on unlit ways in the dark, lamp or not, that calls for care [h]; an assumption."""

LONG_CARE_H, LONG_STAY_H = 12.0, 18.0
"""A planner's doubled and longest allowance for about 25 km [h]; common practice."""

BUSY_CARE_KM = 0.3
"""Distance in the dark along busy roads that is worth a word [km]; an assumption."""

FOOT_CARE_CLO = 0.3
"""Clothes lacking on foot, all that the bag holds put on, that call for care [clo]: about a jumper
(ASHRAE 55, table of garments, from memory); an assumption, 0.1 to 0.5."""

FOOT_STAY_CLO = 1.0
"""The same, for staying [clo]: as much again as street clothes for a cool day; one cools down while
walking. An assumption, 0.5 to 1.5."""

LOAD_CARE_SHARE = 0.30
"""Bag as packed over body mass from which care is called for: up to about 30 % keeps most agility
(US Army ADP 3-90, restated; Knapik and Reynolds, from memory)."""


@dataclass(frozen=True, slots=True)
class Findings:
    """What the verdict is made from; NaN means it is not known, and is judged as the worst.

    Attributes
    ----------
    loss_pct : float
        Worst body-mass loss [%].
    short_ml : float
        Largest deficit with the bottle empty [mL].
    first_short_h : float
        Hours after departure when it begins [h]; NaN when it does not.
    coldest_felt_c, hottest_felt_c : float
        Extremes of the felt temperature [degC].
    unlit_h : float
        Time on unlit ways in the dark [h].
    light_short_h : float
        The part of it without a lamp [h].
    elapsed_h : float
        Departure to arrival [h].
    halt_short_clo, halt_h : float
        Missing insulation [clo] and length [h] of the worst night halt; NaN without one.
    halt_sheltered : bool
        Whether every halt is at a shelter.
    busy_dark_km : float
        Walked in the dark along busy roads [km].
    event : str
        Kind of event in the plan.
    unpriced : tuple of str
        What the verdict hangs on and nobody knows, in words.
    beyond_index_c : float
        Air temperature where the felt temperature is not known [degC]; NaN where it is known.
    load_share : float
        Heaviest bag as packed over the mass of who carries it.
    beyond_age : tuple of str
        Walkers whose age is beyond the published models, in words.
    foot_short_clo : float
        Clothes that lack in the coldest hour on foot, all that the bag holds put on [clo]; 0 where
        nothing lacks, or it is too warm or too windy for the standard to say.
    """

    loss_pct: float
    short_ml: float
    first_short_h: float
    coldest_felt_c: float
    hottest_felt_c: float
    unlit_h: float
    light_short_h: float
    elapsed_h: float
    halt_short_clo: float
    halt_h: float
    halt_sheltered: bool
    busy_dark_km: float
    event: str
    unpriced: tuple[str, ...] = ()
    beyond_index_c: float = math.nan
    load_share: float = 0.0
    beyond_age: tuple[str, ...] = ()
    foot_short_clo: float = 0.0


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


def judge(findings: Findings, *, units: Units = METRIC) -> Verdict:
    """Weigh the findings; the gravest reason sets the level."""
    reasons = [
        *_not_known(findings, units),
        *_walkers(findings),
        *_water(findings, units),
        *_cold_and_heat(findings, units),
        *_light(findings),
        *_time(findings),
        *_event(findings, units),
        *(Reason(1, f"not known, so not judged: {text}") for text in findings.unpriced),
    ]
    if not reasons:
        reasons = [Reason(0, "no shortage, and nothing that calls for special care, was found")]
    reasons.sort(key=lambda reason: -reason.level)
    return Verdict(LEVELS[reasons[0].level], tuple(reason.text for reason in reasons))


MUST_BE_KNOWN = {
    "loss_pct": "how much water the body is short of",
    "short_ml": "how much water is short",
    "unlit_h": "how long unlit ways are walked in the dark",
    "light_short_h": "how long light is short",
    "elapsed_h": "how long the walk takes",
    "busy_dark_km": "how far the way runs along busy roads in the dark",
    "load_share": "how heavy the bag is for who carries it",
}
"""Findings without which there is no verdict but the gravest, in words."""


def _not_known(findings: Findings, units: Units) -> list[Reason]:
    """Take what no model could say for the worst: out of range is not safe."""
    reasons = [
        Reason(2, f"no model says {words}: taken as the worst")
        for name, words in MUST_BE_KNOWN.items()
        if math.isnan(getattr(findings, name))
    ]
    if math.isnan(findings.coldest_felt_c) or math.isnan(findings.hottest_felt_c):
        air_c = findings.beyond_index_c
        at = "" if math.isnan(air_c) else f", at {units.degrees(air_c)} of air"
        reasons.append(
            Reason(
                2,
                f"the weather is beyond the published tables of felt temperature{at}: taken as "
                "worse than the worst they hold",
            )
        )
    if findings.halt_h > 0.0 and math.isnan(findings.halt_short_clo):
        reasons.append(
            Reason(
                2,
                f"no model says whether a night halt of {findings.halt_h:.0f} h is warm enough: "
                "taken as too cold",
            )
        )
    return reasons


def _walkers(findings: Findings) -> list[Reason]:
    reasons = [
        Reason(
            1,
            f"{who}: the models were measured on adults, so take every number here as rough, and "
            "keep far inside it",
        )
        for who in findings.beyond_age
    ]
    if findings.load_share > LOAD_CARE_SHARE:
        reasons.append(
            Reason(
                1,
                f"the bag weighs {findings.load_share:.0%} of body mass, more than the "
                f"{LOAD_CARE_SHARE:.0%} that can be carried with ease: falls, sore feet and backs "
                "come sooner; leave things out, share the load or go slower",
            )
        )
    return reasons


def _water(findings: Findings, units: Units) -> list[Reason]:
    loss, short, since_h = findings.loss_pct, findings.short_ml, findings.first_short_h
    when = f" from hour {int(since_h) + 1}" if short > 0.0 and math.isfinite(since_h) else ""
    if loss >= LOSS_CARE_PCT:
        # With water left the loss comes of sweating faster than it is safe to drink.
        cause = (
            f"water runs short{when}" if short > 0.0 else "more is sweated than is safe to drink"
        )
        means = dehydration_step(loss).means
        level = 2 if loss >= LOSS_STAY_PCT else 1
        return [Reason(level, f"{cause}: {loss:.1f} % of body mass would be lost ({means})")]
    if short > 0.0 and math.isfinite(loss):
        means = dehydration_step(loss).means
        told = f"by up to {units.volume(short)}, {loss:.1f} % of body mass ({means})"
        return [Reason(0, f"water runs short{when}, {told}")]
    return []


def _cold_and_heat(findings: Findings, units: Units) -> list[Reason]:
    reasons = []
    cold, hot = findings.coldest_felt_c, findings.hottest_felt_c
    if cold <= CHILL_STAY_C:
        reasons.append(
            Reason(2, f"it feels like {units.degrees(cold)}: bare skin can freeze on the way")
        )
    elif cold < CHILL_CARE_C:
        reasons.append(
            Reason(1, f"it feels like {units.degrees(cold)}: cover hands, head and face")
        )
    if hot >= HEAT_STAY_C:
        reasons.append(Reason(2, f"it feels like {units.degrees(hot)}: heat stroke is possible"))
    elif hot >= HEAT_CARE_C:
        reasons.append(
            Reason(1, f"it feels like {units.degrees(hot)}: walk in the cool hours, in shade")
        )
    if findings.foot_short_clo >= FOOT_CARE_CLO:
        stay = findings.foot_short_clo >= FOOT_STAY_CLO
        reasons.append(
            Reason(
                2 if stay else 1,
                f"clothes are {findings.foot_short_clo:.1f} clo too thin for walking (a jumper "
                "gives about 0.3), with all that the bag holds put on: "
                + ("one cools down even on the move" if stay else "wear or pack a layer more"),
            )
        )
    if findings.halt_short_clo > 0.0:
        reasons.append(
            Reason(
                2,
                f"a night halt of {findings.halt_h:.0f} h lacks {findings.halt_short_clo:.1f} clo "
                "of warmth: too cold to sit still",
            )
        )
    return reasons


def _light(findings: Findings) -> list[Reason]:
    short, unlit = findings.light_short_h, findings.unlit_h
    if short > LIGHT_CARE_H:
        return [Reason(1, f"{short:.1f} h of unlit way in the dark without a working lamp")]
    if unlit > UNLIT_CARE_H:
        return [Reason(1, f"{unlit:.1f} h in the dark on unlit ways: watch each step, spare lamp")]
    return []


def _time(findings: Findings) -> list[Reason]:
    reasons = []
    if findings.elapsed_h > LONG_STAY_H:
        reasons.append(Reason(2, f"{findings.elapsed_h:.0f} h to get home is too long for one go"))
    elif findings.elapsed_h > LONG_CARE_H:
        reasons.append(Reason(1, f"{findings.elapsed_h:.0f} h to get home is a long day"))
    if findings.halt_h > 0.0 and not findings.halt_sheltered:
        reasons.append(Reason(2, "a night halt falls where no shelter is within reach"))
    return reasons


def _event(findings: Findings, units: Units) -> list[Reason]:
    reasons = []
    if findings.busy_dark_km >= BUSY_CARE_KM:
        reasons.append(
            Reason(
                1,
                f"{units.long(1000.0 * findings.busy_dark_km)} in the dark along busy roads: "
                "be seen, face the traffic",
            )
        )
    if findings.event == "flood":
        reasons.append(Reason(1, "flood: never walk into moving or murky water; turn back"))
    if findings.event == "storm":
        reasons.append(Reason(1, "storm: wait inside while warnings hold; keep off woods"))
    return reasons


CARE, STAY = 1, 2
"""Positions in ``simulator.home.verdict.LEVELS``."""

EVENTS_WITH_CARE = frozenset({"flood", "storm"})
"""Events that call for care on every walk."""


def verdict_levels(
    arrivals: Arrivals, *, event: str, always_care: bool = False
) -> NDArray[np.int8]:
    """Judge every walk.

    Parameters
    ----------
    arrivals : Arrivals
        n walks.
    event : str
        Kind of event.
    always_care : bool
        Whether something that the verdict hangs on is not known of any walk.

    Returns
    -------
    (n,) int8
        Positions in ``simulator.home.verdict.LEVELS``, as ``simulator.home.verdict.judge`` gives
        for each; -1 where the walk itself is not known.
    """
    care, stay = _calls(arrivals)
    if always_care or event in EVENTS_WITH_CARE:
        care = np.ones_like(care)
    level = np.where(stay, STAY, np.where(care, CARE, 0)).astype(np.int8)
    level[arrivals.limits_left] = -1
    return level


def _calls(walks: Arrivals) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Say what calls for care, and what for staying."""
    elapsed_h = walks.elapsed_s / HOUR_S
    care = (
        (walks.loss_pct >= LOSS_CARE_PCT)
        | (walks.coldest_c < CHILL_CARE_C)
        | (walks.hottest_c >= HEAT_CARE_C)
        | (walks.foot_short_clo >= FOOT_CARE_CLO)
        | (walks.missing[What.LIGHT] > LIGHT_CARE_H)
        | (walks.unlit_s > HOUR_S * UNLIT_CARE_H)
        | (elapsed_h > LONG_CARE_H)
        | (walks.busy_dark_km >= BUSY_CARE_KM)
    )
    stay = (
        (walks.loss_pct >= LOSS_STAY_PCT)
        | (walks.coldest_c <= CHILL_STAY_C)
        | (walks.hottest_c >= HEAT_STAY_C)
        | (walks.halt_short_clo > 0.0)
        | (walks.foot_short_clo >= FOOT_STAY_CLO)
        | (elapsed_h > LONG_STAY_H)
        | ((walks.halt_h > 0.0) & walks.halt_in_the_open)
        # What no model can say is taken as the worst, as for one walk.
        | np.isnan(walks.coldest_c)
        | np.isnan(walks.hottest_c)
        | ((walks.halt_h > 0.0) & np.isnan(walks.halt_short_clo))
    )
    return care, stay


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
    halt = walks.missing[What.WARMTH_AT_A_HALT]
    counts = np.zeros(walks.missing.shape, dtype=bool)
    counts[What.WATER] = walks.loss_pct >= LOSS_CARE_PCT
    counts[What.LIGHT] = walks.missing[What.LIGHT] > LIGHT_CARE_H
    counts[What.WARMTH_ON_FOOT] = walks.foot_short_clo >= FOOT_CARE_CLO
    counts[What.WARMTH_AT_A_HALT] = ~(halt <= 0.0)
    counts[What.TIME] = walks.elapsed_s > HOUR_S * LONG_CARE_H
    return Account(walks.missing, walks.short_from_s, walks.short_at_m, counts)


def found_in(walks: Arrivals, walk: int, planned: Findings) -> Findings:
    """Put one of many walks into what a verdict is made from.

    Parameters
    ----------
    walks : Arrivals
        Of the same person with the same bag, or a part of it.
    walk : int
        Which.
    planned : Findings
        The planned walk's; what no variant changes is taken from it.

    Returns
    -------
    Findings
        Of that walk.
    """
    first_h = float(walks.first_short_s[walk]) / HOUR_S
    return replace(
        planned,
        loss_pct=float(walks.loss_pct[walk]),
        short_ml=float(walks.short_ml[walk]),
        first_short_h=first_h if np.isfinite(first_h) else float("nan"),
        coldest_felt_c=float(walks.coldest_c[walk]),
        hottest_felt_c=float(walks.hottest_c[walk]),
        unlit_h=float(walks.unlit_s[walk]) / HOUR_S,
        light_short_h=float(walks.missing[What.LIGHT, walk]),
        elapsed_h=float(walks.elapsed_s[walk]) / HOUR_S,
        halt_short_clo=float(walks.halt_short_clo[walk]),
        halt_h=float(walks.halt_h[walk]),
        busy_dark_km=float(walks.busy_dark_km[walk]),
        foot_short_clo=float(walks.foot_short_clo[walk]),
    )
