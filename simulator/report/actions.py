"""What a tired person must do: three lines, the span of arrival, and what falls short.

One source for terminal, paper, card and page. Everything is read from the summary and the tables
of a walk; nothing is worked out here but words.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd

from simulator.home.records import Summary
from simulator.report.subject import DrawnWalk, Track
from simulator.report.tables import clock_words, places_of
from simulator.report.words import clean
from simulator.units import HOUR_S, ML_PER_L, Units, duration, energy, number

STAY, CARE = "stay and wait", "walk with care"

LEAST = {
    "warmth at a halt": 0.05,
    "water": 0.05,
    "warmth on foot": 0.05,
    "light to see by": 1.0 / 60.0,
    "time": 1.0 / 60.0,
    "food": 50.0,
}
"""What may fall short, the most dangerous first (common practice), and what is too little to tell:
a mouthful [L], a bite [kcal], a minute [h], a thin shirt [clo]."""

JUMPER_CLO = 0.3
"""What a jumper adds (ISO 9920, garment tables)."""

MOST_JUMPERS = 4
"""More than so many are not worn over each other; common practice."""

ABOUT_MIN, SPAN_MIN = 5, 15
"""Clock times are said to this where no minute can be known; ends of a span, outward [min]."""

MOST_REMEDIES = 4
"""Sentences of the first line."""

FASTER = 0.98
"""An early arrival this close to the planned one is the same [share of the time]."""


@dataclass(frozen=True, slots=True)
class Lacking:
    """One thing that falls short on the walk.

    Attributes
    ----------
    what : str
        One of `LEAST`.
    amount : str
        How much, with its unit.
    from_clock : str
        Clock time from which; empty when not known.
    counts : bool
        Whether the verdict counts it.
    missing : float
        How much, in the unit of the summary.
    """

    what: str
    amount: str
    from_clock: str
    counts: bool
    missing: float

    @property
    def words(self) -> str:
        """Say it in a few words."""
        since = f" from {self.from_clock}" if self.from_clock else ""
        return f"{self.what} short{since}: {self.amount}"


@dataclass(frozen=True, slots=True)
class Arrival:
    """When the walk is home: the quickest, the likeliest and the slowest that is reckoned with.

    Attributes
    ----------
    early, likely, late : datetime
        Local times, rounded as they are said.
    depart : datetime
        When it sets out.
    """

    early: datetime
    likely: datetime
    late: datetime
    depart: datetime

    @property
    def span(self) -> str:
        """Say the span, e.g. ``22:30 to 02:15 Thu``; one time where there is no span."""
        if self.early >= self.late:
            return clock_words(self.likely, self.depart)
        early, late = (clock_words(end, self.depart) for end in (self.early, self.late))
        if self.early.date() == self.late.date():
            early = early[:5]  # the day is said once
        return f"{early} to {late}"

    @property
    def words(self) -> str:
        """Say it in full."""
        likely = clock_words(self.likely, self.depart)
        if self.early >= self.late:
            return f"home about {likely}"
        ends = self.span.replace(" to ", " and ")
        return f"home between {ends}, most likely about {likely}"


@dataclass(frozen=True, slots=True)
class Action:
    """One line to act on.

    Attributes
    ----------
    heading, text : str
        When, and what to do.
    """

    heading: str
    text: str


def about(when: datetime, *, step_min: int = ABOUT_MIN, up: bool | None = None) -> datetime:
    """Round a clock time to steps of some minutes: to the nearest, or always up or down."""
    step = timedelta(minutes=step_min)
    floor = when.replace(minute=0, second=0, microsecond=0)
    steps = (when - floor) / step
    whole = round(steps) if up is None else math.ceil(steps) if up else math.floor(steps)
    return floor + whole * step


def arrival_of(facts: Summary, track: Track) -> Arrival:
    """Read when the walk is home, as a span where the summary gives one."""
    planned_h = track.duration_s / 3600.0
    band = facts.time.elapsed_h_band or facts.heights.time_h_band
    low, high = band or (planned_h, planned_h)
    likely = about(track.clock(planned_h * HOUR_S))
    early = about(track.clock(min(low, planned_h) * HOUR_S), step_min=SPAN_MIN, up=False)
    late = about(track.clock(max(high, planned_h) * HOUR_S), step_min=SPAN_MIN, up=True)
    if not band:
        early = late = likely
    return Arrival(early, likely, late, track.clock(0.0))


def shortages_of(walk: DrawnWalk, units: Units, track: Track) -> tuple[Lacking, ...]:
    """Read what falls short, the most dangerous first, from the walk's one list of it."""
    depart = track.clock(0.0)
    found = []
    for one in walk.facts.shortages:
        what, missing, since = one.what, number(one.missing), one.from_h
        if missing < LEAST[what]:
            continue
        clock = (
            clock_words(about(track.clock(since * HOUR_S)), depart) if math.isfinite(since) else ""
        )
        amount = _amount(what, missing, units)
        found.append(Lacking(what, amount, clock, one.counts_in_verdict, missing))
    return tuple(sorted(found, key=lambda one: list(LEAST).index(one.what)))


def _amount(what: str, missing: float, units: Units) -> str:
    if not math.isfinite(missing):
        return "no model says how much"
    if what == "water":
        return units.volume(missing * ML_PER_L)
    if what == "food":
        return energy(missing)
    if what.startswith("warmth"):
        return f"{missing:.1f} clo ({_layers(missing)})"
    return duration(missing)


def _layers(clo: float) -> str:
    if not math.isfinite(clo):
        return "as much as can be had"
    count = max(round(clo / JUMPER_CLO), 1)
    if count > MOST_JUMPERS:
        return "more than jumpers give"
    return "about a jumper" if count == 1 else f"about {count} jumpers"


def actions_of(walk: DrawnWalk, units: Units, track: Track) -> tuple[Action, Action, Action]:
    """Say what to change before leaving, where water comes next, and when to turn back or stay."""
    short = shortages_of(walk, units, track)
    return (
        Action("Before you leave", _before(walk, short, units, track)),
        Action("Water", _water(walk, short, units, track)),
        _turn_or_stay(walk, units, track),
    )


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith((".", "?")) else ".")


def _before(walk: DrawnWalk, short: Sequence[Lacking], units: Units, track: Track) -> str:
    """Say what to change, the most dangerous lack first; what is left over is counted."""
    time, depart = walk.facts.time, track.clock(0.0)
    asked, early = time.home_by, time.leave_by
    latest = asked.leave_by if asked is not None and asked.late_min > 0.0 else None
    told = [f"Leave by {clock_words(latest, depart)}, to be home in time."] if latest else []
    told += [_remedy(one) for one in short if one.what not in {"time", "food"}]
    told += _filled(walk, units, short)
    if early and not latest and early < depart:
        told.append(f"Leaving by {clock_words(early, depart)} brings you home before dark.")
    told += [_remedy(one) for one in short if one.what == "food"]
    left = len(told) - MOST_REMEDIES
    more = [f"{left} more below."] if left > 0 else []
    return " ".join([*told[:MOST_REMEDIES], *more]) or "Pack what is listed; no lack is known."


def _remedy(one: Lacking) -> str:
    since = f" from {one.from_clock} on" if one.from_clock else ""
    if one.what == "water":
        return f"Carry {one.amount} more water: it falls short{since}."
    if one.what == "light to see by":
        return f"Take a lamp or cells for {one.amount} more: dark without a lamp{since}."
    if one.what == "warmth on foot":
        return f"Pack more to wear, {_layers(one.missing)}: too thin{since}."
    if one.what == "warmth at a halt":
        more = one.missing > (MOST_JUMPERS + 0.5) * JUMPER_CLO
        what = "a sleeping bag or the like" if more else f"{_layers(one.missing)} or a sleeping bag"
        return f"Pack warmth for sitting still, {what}."
    return f"{one.amount} more food is welcome; a day with less is hard, not dangerous."


def _filled(walk: DrawnWalk, units: Units, short: Sequence[Lacking]) -> list[str]:
    """Say the least water with which no stop is needed, where stops are planned."""
    least = walk.facts.water.least_bottle_l
    stops = bool(walk.refills["used"].astype(bool).any())
    if not stops or least is None or any(one.what == "water" for one in short):
        return []
    tenth_ml = 0.1 * units.volume_ml
    full = units.volume(math.ceil(least.no_stop * ML_PER_L / tenth_ml) * tenth_ml)
    return [f"Fill {full} of water: then no stop for it is needed."]


def _water(walk: DrawnWalk, short: Sequence[Lacking], units: Units, track: Track) -> str:
    """Say the next planned or sure water, and what to do when it gives none."""
    places = places_of(walk)
    wet = np.array(["water" in given for given in places["given"]], dtype=bool)
    used = places["used"].to_numpy(bool) & wet
    told = []
    if used.any():
        row = places[used].to_dict("records")[0]
        told.append(_sentence(f"stop {row['mark']}, {_where(row, units, track)}"))
        backup = clean(row.get("if_dry") or "", longest=160)
        told += [_sentence(backup)] if backup else []
        count = int(used.sum())
        told += [f"{count - 1} more planned after it."] if count > 1 else []
    else:
        told.append("What you carry lasts to home; no stop is planned.")
        sure = wet & (places["open"] == "yes").to_numpy(bool)
        sure &= ~places["needs_treatment"].to_numpy(bool) & ~places["needs_key"].to_numpy(bool)
        if sure.any():
            told.append(
                _sentence(
                    f"if you want more: {_where(places[sure].to_dict('records')[0], units, track)}"
                )
            )
    dry = next((one for one in short if one.what == "water"), None)
    if dry is not None:
        told[:1] = [*told[:1]] if used.any() else []
        told.append(_sentence(dry.words))
    return " ".join(told)


def _named(row: Mapping[Any, Any]) -> str:
    name, kind = clean(row["name"], longest=50), clean(row["kind"], longest=40)
    return name or kind


def _at(along_km: object, units: Units) -> str:
    return f"{units.long_name} {number(along_km) * 1000.0 / units.long_m:.1f}"


def _where(row: Mapping[Any, Any], units: Units, track: Track) -> str:
    """Say a place: name, distance along, clock time, distance off."""
    arrive = row["arrive"]
    when = ""
    if isinstance(arrive, str) and arrive:
        clock = clock_words(about(datetime.fromisoformat(arrive)), track.clock(0.0))
        when = f", about {clock}"
    off = units.near(number(row["off_m"]))
    return f"{_named(row)}, {_at(row['along_km'], units)}{when}, {off} off the way"


def _turn_or_stay(walk: DrawnWalk, units: Units, track: Track) -> Action:
    """Say up to where going back is shorter, by when that must be reached, and where to stay."""
    half_s = track.duration_s / 2.0
    along_m = float(track.along_at(np.array([half_s]))[0])
    arrival, depart = arrival_of(walk.facts, track), track.clock(0.0)
    at = f"{units.long_name} {along_m / units.long_m:.1f}"
    late = about(depart + (arrival.late - depart) / 2, up=True)
    shelters = _shelters(walk, along_m, units)
    stay = f"stay at the next shelter: {shelters}" if shelters else "turn back, or stay with people"
    text = (
        f"Up to {at} going back is the shorter way. Not there by {clock_words(late, depart)}, "
        f"or hurt, or shivering: {stay}."
    )
    if walk.facts.verdict.level == STAY:
        first = next(iter(walk.facts.verdict.reasons), "")
        return Action(
            "Stay",
            f"Stay where you are, indoors and with people if you can: {clean(first, longest=240)}. "
            f"If you must go: {text[:1].lower()}{text[1:]}",
        )
    return Action("Turn back or stay", text)


def _shelters(walk: DrawnWalk, half_m: float, units: Units) -> str:
    """Name the shelter nearest to the half of the way, and the next one."""
    places = places_of(walk)
    roof = [bool({"shelter", "help"} & set(given)) for given in places["given"]]
    fit = places[np.array(roof, dtype=bool) & (places["open"] != "no").to_numpy(bool)]
    if fit.empty:
        return ""
    along = fit["along_km"].to_numpy(np.float64) * 1000.0
    before = fit[along <= half_m].tail(1)
    after = fit[along > half_m].head(2 - len(before))
    chosen = pd.concat([before, after])
    return " or ".join(
        f"{_named(row)}, {_at(row['along_km'], units)}" for row in chosen.to_dict("records")
    )
