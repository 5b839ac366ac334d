"""The plan in words and rows: one text for the printed timeline and for the offline page."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from simulator.home.records import (
    Heights,
    MainBridge,
    Summary,
    SunTimes,
    TimeTaken,
    WaterUsed,
    WayLength,
    WaysCompared,
)
from simulator.report.actions import Action, Lacking, actions_of, arrival_of, shortages_of
from simulator.report.subject import DrawnWalk, Track
from simulator.report.tables import (
    FEWEST_PRINTED,
    ROOM_ROWS,
    Care,
    Hour,
    Place,
    Purpose,
    Turn,
    attribution_of,
    bag_list,
    care_rows,
    clock_words,
    day_in_words,
    heights_known,
    hour_rows,
    listed,
    longest_dry_m,
    place_rows,
    turn_rows,
    units_of,
    water_ahead,
)
from simulator.report.water import Bottle, bottle_rows, water_lines
from simulator.report.words import clean
from simulator.sky.sun import DARK_ALL_DAY, LIGHT_ALL_DAY
from simulator.units import ML_PER_L, UNKNOWN, Units, duration, energy, number

NAMES = {
    "age_sex": "age and sex",
    "own_pace": "own pace",
    "limits": "limits of those who walk",
    "dark": "dark",
    "fatigue": "tiredness",
    "effort": "an effort that can be kept up",
    "group": "waiting for each other",
}
"""Words for what a cost of pace is called in the summary, where they differ."""

LEAST_MIN = 0.5
"""What takes less is not told [min]."""


def slowing_words(time: TimeTaken) -> str:
    """Say what made the walk slower or faster than the bare pace model."""
    costs = {NAMES.get(name, clean(name)): cost for name, cost in time.pace_cost_min.items()}
    lost = {name: cost for name, cost in costs.items() if cost >= LEAST_MIN}
    won = {name: -cost for name, cost in costs.items() if cost <= -LEAST_MIN}
    bare = "than the bare pace model by:"
    if lost:
        faster = f"; faster by: {_listed(won)}" if won else ""
        return f"Slower {bare} {_listed(lost)}{faster}."
    return f"Faster {bare} {_listed(won)}." if won else ""


def _listed(minutes: dict[str, float]) -> str:
    """List minutes, largest first; the unit stands once."""
    ranked = sorted(minutes.items(), key=lambda item: -item[1])
    return ", ".join(
        f"{name} {_whole(cost)}{'' if place else ' min'}"
        for place, (name, cost) in enumerate(ranked)
    )


def _whole(cost_min: float) -> str:
    # Half a minute is told as one, never as none.
    return f"{max(round(cost_min), 1)}"


LEAST_SHORT_H = 1.0 / 60.0
"""A shortage of light under a minute is not told [h]."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One key figure.

    Attributes
    ----------
    label, value, note : str
        What it is, the number with its unit, and one more fact, perhaps empty.
    short : bool
        Whether something runs short here.
    """

    label: str
    value: str
    note: str = ""
    short: bool = False


def key_figures(
    facts: Summary,
    track: Track,
    units: Units,
    *,
    heights: bool,
    asked: bool,
    short: Sequence[Lacking],
) -> tuple[Figure, ...]:
    """Write the key figures; the first eight stand at the top of the first page."""
    route, time, water = facts.route, facts.time, facts.water
    food, light, felt = facts.food, facts.light, facts.cold_heat
    depart, arrival = track.clock(0.0), arrival_of(facts, track)
    unlit = duration(light.unlit_h)
    length_m = route.distance_km * 1000.0
    felt_c = (number(felt.coldest_felt_c), number(felt.hottest_felt_c))
    likely = clock_words(arrival.likely, depart)
    return (
        Figure("Leave", f"{depart:%H:%M}", day_in_words(depart)),
        Figure(
            "Home",
            arrival.span,
            f"most likely about {likely}, {_elapsed(facts)} in all"
            if arrival.early < arrival.late
            else f"{_elapsed(facts)} in all",
        ),
        Figure(
            "Way",
            units.long(length_m),
            f"up {units.height(route.ascent_m)}, "
            f"down {units.height(route.descent_m)}{_unknown_part(facts.heights, units)}"
            if heights
            else "heights not known: counted as flat",
        ),
        *(
            Figure("Moved", clean(what), clean(why), short=True)
            for what, _, why in (told.partition(": ") for told in route.moved)
        ),
        *_traffic(facts.ways, units),
        _runs_short(short, water),
        Figure(
            "Water needed",
            units.volume(water.need_l * ML_PER_L),
            f"{_need_span(facts.heights, units)}"
            f"carried {units.volume(water.carried_l * ML_PER_L)}, "
            f"refilled {units.volume(water.refilled_l * ML_PER_L)}",
        ),
        Figure(
            "In the dark",
            duration(time.dark_h),
            f"unlit {unlit}; lamp light carried {duration(light.carried_h)}",
            short=light.short_h >= LEAST_SHORT_H,
        ),
        Figure(
            "Food needed",
            energy(food.need_kcal),
            f"carried {energy(food.carried_kcal)}",
        ),
        Figure(
            "Feels like",
            _range(units, *felt_c),
            "coldest and warmest hour" if felt_c[0] != felt_c[1] else "all the way",
        ),
        _leave_by(facts, depart, asked=asked),
        Figure("Walking", duration(time.moving_h), _beside_walking(time)),
    )


SEEN_LONG = 0.05
"""Least part of a long unit that its printed digit shows."""


def _traffic(ways: WaysCompared | None, units: Units) -> tuple[Figure, ...]:
    """Tell how much of the way is beside traffic, and what the fastest or a quiet way would be."""
    if ways is None:
        return ()
    quiet = ways.chosen == "quiet"
    own, other = (ways.quiet, ways.fast) if quiet else (ways.fast, ways.quiet)
    heading = "Beside traffic"
    if ways.same:
        return (
            Figure(
                heading,
                _beside(own, units),
                "the fastest way and the quietest are one",
            ),
        )
    later_min = other.moving_min - own.moving_min
    apart = f"{duration(abs(later_min) / 60.0)} {'longer' if later_min > 0.0 else 'shorter'}"
    name = "fastest" if quiet else "quieter"
    far = units.long(1000.0 * other.distance_km)
    return (
        Figure(
            heading,
            _beside(own, units),
            f"the {name} way: {far}, {apart}, {_beside(other, units)} beside traffic",
        ),
    )


def _beside(way: WayLength, units: Units) -> str:
    """Say how far a way runs beside traffic, and how much of that in the dark."""
    day_m, dark_m = 1000.0 * way.busy_day_km, 1000.0 * way.busy_dark_km
    told = units.long(day_m + dark_m)
    if dark_m < SEEN_LONG * units.long_m:
        return told
    return f"{told} ({'all' if day_m < SEEN_LONG * units.long_m else units.long(dark_m)} dark)"


def _runs_short(short: Sequence[Lacking], water: WaterUsed) -> Figure:
    """Tell what falls short, the most dangerous first, and how much water the body loses."""
    loss = _loss(water.worst_body_mass_loss_pct)
    if not short:
        nothing = not math.isfinite(water.short_l)
        return Figure("Falls short", UNKNOWN if nothing else "nothing known", loss)
    first = short[0]
    since = f" from {first.from_clock}" if first.from_clock else ""
    more = [f"also {one.what}: {one.amount}" for one in short[1:]]
    return Figure(
        "Falls short",
        f"{first.what}{since}",
        "; ".join(filter(None, [first.amount, *more, loss])),
        short=any(one.counts for one in short),
    )


def _elapsed(facts: Summary) -> str:
    """Tell the time home, as a span where heights are unknown."""
    ends = [duration(end) for end in facts.heights.time_h_band or [facts.time.elapsed_h]]
    return " to ".join(dict.fromkeys(ends))


def _need_span(heights: Heights, units: Units) -> str:
    """Tell the span of the water needed where heights are unknown; empty where it has none."""
    band = heights.need_l_band or ()
    ends = list(dict.fromkeys(units.volume(end * ML_PER_L) for end in band))
    return f"{' to '.join(ends)} by unknown heights; " if len(ends) > 1 else ""


def _unknown_part(heights: Heights, units: Units) -> str:
    """Tell how much of the way has no heights; empty where all has or none has."""
    if heights.time_h_band is None:
        return ""
    return f"; heights unknown for {units.near(heights.unknown_km * 1000.0)}"


def _leave_by(facts: Summary, depart: datetime, *, asked: bool) -> Figure:
    """Tell the latest departure of the day that is home before dark."""
    label = "Leave by"
    state, dusk = facts.sun.state, facts.sun.civil_dusk
    if state in LIGHT_ALL_DAY:
        return Figure(label, "any hour", "it does not get dark that day")
    if state == DARK_ALL_DAY:
        return Figure(label, "no hour", "the sun does not rise that day")
    if not asked:
        return Figure(label, "not asked", "this plan leaves it out")
    if dusk is None or not facts.explored:
        return Figure(label, UNKNOWN, "not worked out")
    dark, latest = f"{dusk:%H:%M}", facts.time.leave_by
    if latest is None:
        return Figure(label, "no hour", f"too long for this day: dark from {dark}")
    margin = facts.time.leave_by_margin_h
    spare = f", with {duration(margin)} for a slow walk" if margin > 0.0 else ""
    return Figure(label, clock_words(latest, depart), f"to be home by dark, {dark}{spare}")


def home_by_words(facts: Summary, depart: datetime) -> str:
    """Say when to leave so as to be home by the hour that the plan names."""
    asked = facts.time.home_by
    if asked is None:
        return ""
    by, late = clock_words(asked.at, depart), asked.late_min
    # Rounded up, for someone waits: half a minute late is late.
    now = (
        f"leaving {depart:%H:%M} is too late by {duration(math.ceil(late) / 60.0)}."
        if late > 0.0
        else f"leaving {depart:%H:%M} leaves {duration(math.floor(-late) / 60.0)} to spare."
    )
    if not facts.explored:
        return f"Home by {by}: {now}"
    if asked.leave_by is None:
        return f"No hour of this day is early enough to be home by {by}: {now}"
    return f"Leave by {clock_words(asked.leave_by, depart)} to be home by {by}: {now}"


def bridge_words(bridge: MainBridge | None, units: Units) -> tuple[str, str]:
    """Say what to do when the main bridge is shut."""
    if bridge is None:
        return "", ""
    heading = f"If {clean(bridge.name, longest=60)} is shut"
    if not bridge.reachable:
        return heading, "There is no other way home on foot on this map. Stay, or turn back early."
    via = [clean(name, longest=60) for name in bridge.via]
    extra_min, extra_m = number(bridge.extra_min), number(bridge.extra_km) * 1000.0
    parts = [f"{duration(extra_min / 60.0)} more" if extra_min >= 1.0 else "hardly longer"]
    if abs(extra_m) >= 0.05 * units.long_m:
        told = units.long(abs(extra_m))
        parts.append(f"{told} {'farther' if extra_m > 0.0 else 'less to walk'}")
    told = f"go by {' and '.join(via)}" if via else "go round it"
    turn = ""
    if bridge.turn_km is not None:
        into = clean(bridge.turn_into, longest=60)
        at = f"{units.long_name} {bridge.turn_km * 1000.0 / units.long_m:.1f}"
        turn = f"Leave the way at {at}{f' for {into}' if into else ''}, "
    told = f"{turn}{told}" if turn else told[0].upper() + told[1:]
    return heading, f"{told}: {', '.join(parts)}."


def _beside_walking(time: TimeTaken) -> str:
    """Rests and stops, and how far the published pace models differ."""
    parts = [
        f"{word} {duration(hours)}"
        for word, hours in (("rests", time.resting_h), ("stops", time.stopped_h))
        if hours != 0.0
    ]
    low, high = map(duration, time.moving_h_band)
    parts.insert(0, f"{low} to {high} by other published paces")
    return "; ".join(parts)


def _loss(percent: float) -> str:
    """Say what the body loses; a loss too small to see is left out."""
    if not math.isfinite(percent):
        return f"loss of body mass {UNKNOWN}"
    return f"body loses up to {percent:.1f} % of its mass" if percent >= 0.05 else ""  # noqa: PLR2004 - the last digit


def _range(units: Units, low: float, high: float) -> str:
    if not (math.isfinite(low) and math.isfinite(high)):
        return f"{units.degrees(low)} to {units.degrees(high)}"
    first = units.degrees(low).split(" ")[0]
    if units.degrees(low) == units.degrees(high):
        return units.degrees(low)
    return f"{first} to {units.degrees(high)}"


UNNAMED = re.compile(r"unnamed\b")
"""How the walk calls a bridge that the map does not name."""

HEADLINES = {
    "walk": "Walk.",
    "walk with care": "Walk with care.",
    "stay and wait": "Stay and wait.",
}
"""The verdict as a person says it."""

FORECAST_K = 5.0
"""A change of the forecast's temperature from which the plan no longer holds [K]."""

REDO = (
    "the bag, its water or your shoes change, or something in it has expired",
    "the forecast moves by more than {change}, or rain, snow, wind or flood is announced",
    "a bridge or street on the way is closed, or opening hours change",
    "you leave more than an hour earlier or later than printed here",
    "you are ill, hurt, pregnant, or walk with someone slower",
    "three months have passed: the season, the light and the map have moved on",
)
"""When the printed plan no longer holds: common practice, not from a source."""

STANDING_CAUTION = (
    "A plan made beforehand from open data. Orders and advice of the authorities, of emergency "
    "services and of your doctor come first; what you see on the ground beats what is printed here."
)


TRIAL = (
    "On a good day, by daylight and with this bag, walk a part of the way and write it down, stops "
    "taken out of the minutes. A time of your own in the plan is worth more than any assumed pace."
)
"""Stands over the rows for walks on trial."""

NOT_ASKED = "Ways round a shut bridge were not asked for in this plan."
"""Stands where the plan leaves other departures and shut bridges out."""

CARE_WORDS = (
    "Read from map, hour and event as planned; much is not mapped. Local authorities, signs and "
    "what you see on the ground come first."
)
"""What stands under the list of places to take care at."""

WARMTH_KEY = (
    "Warmth: clothes worn against clothes the hour asks for, to be cold but well enough (1 clo: a "
    "suit with a vest; a jumper gives 0.3), at a halt with what the bag adds. Empty: no model says."
)
BARS_KEY = (
    "Bars tell the end of each hour. Frame: what was packed, or the most there is or lacks on this "
    "way. Solid: left. Hatched, with a minus or in bold: short so far. Warmth: clothes worn / "
    "asked for, to be cold but well enough (1 clo: a suit with a vest; a jumper gives 0.3), at a "
    "halt with the bag's; a dash: no model says. ○ day, ◐ twilight, ● night; minutes: lamp needed."
)
"""What the columns and bars of the hour table mean."""

LARGE = 1.3
"""How much larger large print is."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything the timeline and the page say, as text.

    Attributes
    ----------
    title, day, level, headline, sentence : str
        Heading, date in words, verdict level, verdict and what it means in one sentence.
    actions : tuple of Action
        Three lines to act on: before leaving, water, turning back or staying.
    arrival : str
        When the walk is home, as a span.
    short : tuple of str
        What falls short, the most dangerous first.
    home_by : str
        When to leave so as to be home by the hour that the plan names; empty when it names none.
    figures : tuple of Figure
        Key figures, the most needed first.
    reasons, cautions, assumptions, redo : tuple of str
        Sentences.
    hours : tuple of Hour
        The ledger.
    slowing : str
        What made the walk slower or faster than the bare pace model.
    places : tuple of Place
        Planned stops, then other places; as many as fit beside the hours.
    places_left_out : int
        Places not listed.
    water : tuple of Place
        Where water comes next, for the first page.
    dry : str
        The longest stretch without water, in words.
    water_words : tuple of str
        How sure the water is, and what the smallest bottle would be.
    bottles : tuple of Bottle
        The same way with other bottles.
    turns : tuple of Turn
        The way street by street.
    care : tuple of Care
        Where to take care.
    care_left_out : int
        Such places not listed.
    care_words : str
        What the list rests on.
    bag : tuple of Purpose
        What the bag must hold, to tick off.
    bridge_heading, bridge_words : str
        What to do when the main bridge is shut; empty when it uses none.
    sun : str
        First light, sunset and dark of the day.
    closed : tuple of str
        What the plan closes.
    inputs : tuple of str
        Files that it was made from.
    walking : str
        Time on foot, rests and stops.
    scale : float
        How much larger than usual the print is.
    bridges, attribution, standing, trial, long_unit, short_unit, volume_unit : str
        Bridges crossed, whose data the map is, the standing caution, why to walk for a trial,
        units of distance, height and volume.
    bars_key, warmth_key : str
        What the bars and the warmth of the hour table mean.
    """

    title: str
    day: str
    level: str
    headline: str
    sentence: str
    actions: tuple[Action, ...]
    arrival: str
    short: tuple[str, ...]
    home_by: str
    figures: tuple[Figure, ...]
    reasons: tuple[str, ...]
    hours: tuple[Hour, ...]
    slowing: str
    places: tuple[Place, ...]
    places_left_out: int
    water: tuple[Place, ...]
    dry: str
    water_words: tuple[str, ...]
    bottles: tuple[Bottle, ...]
    turns: tuple[Turn, ...]
    care: tuple[Care, ...]
    care_left_out: int
    care_words: str
    bag: tuple[Purpose, ...]
    bridge_heading: str
    bridge_words: str
    sun: str
    closed: tuple[str, ...]
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]
    redo: tuple[str, ...]
    inputs: tuple[str, ...]
    walking: str
    scale: float
    bridges: str
    attribution: str
    standing: str
    trial: str
    long_unit: str
    short_unit: str
    volume_unit: str
    bars_key: str
    warmth_key: str

    def as_dict(self) -> dict[str, Any]:
        """Plain dicts, lists and text, for a template."""
        return asdict(self)


def sheet_of(walk: DrawnWalk) -> Sheet:
    """Say a walk in words and rows.

    Parameters
    ----------
    walk : DrawnWalk
        What `simulator.walk_home` gave.

    Returns
    -------
    Sheet
        All text cleaned of control characters; not escaped.
    """
    units, track, facts = units_of(walk), Track(walk), walk.facts
    level = facts.verdict.level
    rows = place_rows(walk, units, track)
    printed = listed(rows, most=max(FEWEST_PRINTED, ROOM_ROWS - len(walk.hours)))
    start, end = longest_dry_m(walk, track)
    asked = bool(walk.plan.choices.what_if)
    change = units.warmer(FORECAST_K)
    short = shortages_of(walk, units, track)
    care = care_rows(walk, units, track)
    bridges = _bridges(facts.route.bridges)
    bridge_heading, bridge_told = bridge_words(facts.route.main_bridge, units)
    if bridges and not asked:
        bridge_heading, bridge_told = (
            "If a bridge is shut",
            f"{NOT_ASKED} The way crosses {bridges}.",
        )
    return Sheet(
        title=clean(walk.plan.title) or "Walk home",
        day=day_in_words(track.clock(0.0)),
        level=level,
        headline=HEADLINES.get(level, clean(level)),
        sentence=_sentence(facts, track, units),
        actions=actions_of(walk, units, track),
        arrival=arrival_of(facts, track).words,
        short=tuple(one.words for one in short),
        home_by=home_by_words(facts, track.clock(0.0)),
        figures=key_figures(
            facts, track, units, heights=heights_known(walk, track), asked=asked, short=short
        ),
        reasons=_sentences(_gathered(facts.verdict.reasons)),
        hours=hour_rows(walk, units, track),
        slowing=slowing_words(facts.time),
        places=printed,
        places_left_out=len(rows) - len(printed),
        water=water_ahead(rows, (start / units.long_m, end / units.long_m)),
        dry=f"{units.long(end - start)} without ready water, from {units.long_name} "
        f"{start / units.long_m:.1f} to {end / units.long_m:.1f}",
        water_words=water_lines(walk),
        bottles=bottle_rows(walk),
        turns=turn_rows(walk, units, track),
        care=care,
        care_left_out=len(facts.hazards) - len(care),
        care_words=CARE_WORDS,
        bag=bag_list(walk),
        bridge_heading=bridge_heading,
        bridge_words=bridge_told,
        sun=_sun(facts.sun),
        closed=_sentences(facts.route.closed),
        cautions=_sentences(facts.cautions),
        assumptions=_sentences(facts.assumptions),
        redo=tuple(text.format(change=change) for text in REDO),
        inputs=tuple(clean(name) for name in sorted(facts.inputs)),
        walking=_walking(facts.time),
        scale=LARGE if walk.plan.choices.print == "large" else 1.0,
        bridges=bridges,
        attribution=attribution_of(walk),
        standing=STANDING_CAUTION,
        trial=TRIAL,
        long_unit=units.long_name,
        short_unit=units.short_name,
        volume_unit=units.cup_name,
        bars_key=BARS_KEY,
        warmth_key=WARMTH_KEY,
    )


def _sentences(texts: Iterable[str]) -> tuple[str, ...]:
    cleaned = (clean(text, longest=600) for text in texts)
    return tuple(t[0].upper() + t[1:] for t in cleaned if t)


def _gathered(texts: Iterable[str]) -> list[str]:
    """Join sentences that open with the same words before a colon into one."""
    opened: dict[str, list[str]] = {}
    for text in texts:
        opening, colon, rest = text.partition(": ")
        opened.setdefault(opening + colon, []).append(rest)
    return [opening + "; ".join(rests) for opening, rests in opened.items()]


def _bridges(names: Iterable[str]) -> str:
    """Name the bridges that have a name, and count the others."""
    known = [clean(name) for name in names]
    named = list(dict.fromkeys(name for name in known if name and not UNNAMED.match(name)))
    others = len([name for name in known if not name or UNNAMED.match(name)])
    counted = [f"{others} without a name"] if others else []
    return ", ".join([*named, *counted])


def _walking(time: TimeTaken) -> str:
    """Tell the time on foot, and what comes to it."""
    return f"On foot {duration(time.moving_h)}; {_beside_walking(time)}."


def _sentence(facts: Summary, track: Track, units: Units) -> str:
    depart = track.clock(0.0)
    meanings = {
        "walk": "This bag and these legs should bring you home",
        "walk with care": "You should get home if you mind the points below",
        "stay and wait": "Do not set out as planned. If you must",
    }
    level = facts.verdict.level
    opening = meanings.get(level, "The walk would bring you home")
    length = units.long(facts.route.distance_km * 1000.0)
    return f"{opening}: {length} on foot, leaving {depart:%H:%M}, {arrival_of(facts, track).words}."


def _sun(sun: SunTimes) -> str:
    """Tell what sort of day it is if not the usual, and first light, sunset and dark if any."""
    told = [sun.told] if sun.told else []
    told += [
        f"{word} {when:%H:%M}"
        for word, when in (
            ("first light", sun.civil_dawn),
            ("sunset", sun.sunset),
            ("dark", sun.civil_dusk),
        )
        if when is not None
    ]
    line = ", ".join(told)
    return line[:1].upper() + line[1:]
