"""The plan in words and rows: one text for the printed timeline and for the offline page."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from simulator.report.actions import Action, Shortage, actions_of, arrival_of, shortages_of
from simulator.report.subject import Track, Walk
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


def slowing_words(summary: dict[str, Any]) -> str:
    """Say what made the walk slower or faster than the bare pace model."""
    costs = {
        NAMES.get(name, clean(name)): number(cost)
        for name, cost in summary["time"].get("pace_cost_min", {}).items()
    }
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
    summary: dict[str, Any],
    track: Track,
    units: Units,
    *,
    heights: bool,
    asked: bool,
    short: Sequence[Shortage],
) -> tuple[Figure, ...]:
    """Write the key figures; the first eight stand at the top of the first page."""
    route, time, water = summary["route"], summary["time"], summary["water"]
    food, light, felt = summary["food"], summary["light"], summary["cold_heat"]
    depart, arrival = track.clock(0.0), arrival_of(summary, track)
    unlit = duration(number(light.get("unlit_h", light["dark_h"])))
    length_m = number(route["distance_km"]) * 1000.0
    felt_c = (number(felt["coldest_felt_c"]), number(felt["hottest_felt_c"]))
    likely = clock_words(arrival.likely, depart)
    return (
        Figure("Leave", f"{depart:%H:%M}", day_in_words(depart)),
        Figure(
            "Home",
            arrival.span,
            f"most likely about {likely}, {_elapsed(summary)} in all"
            if arrival.early < arrival.late
            else f"{_elapsed(summary)} in all",
        ),
        Figure(
            "Way",
            units.long(length_m),
            f"up {units.height(number(route['ascent_m']))}, "
            f"down {units.height(number(route['descent_m']))}{_unknown_part(summary, units)}"
            if heights
            else "heights not known: counted as flat",
        ),
        *(
            Figure("Moved", clean(what), clean(why), short=True)
            for what, _, why in (told.partition(": ") for told in route.get("moved", ()))
        ),
        *_traffic(summary, units),
        _runs_short(short, summary),
        Figure(
            "Water needed",
            units.volume(number(water["need_l"]) * ML_PER_L),
            f"{_need_span(summary, units)}"
            f"carried {_litres(units, water['carried_l'])}, "
            f"refilled {_litres(units, water['refilled_l'])}",
        ),
        Figure(
            "In the dark",
            duration(number(time["dark_h"])),
            f"unlit {unlit}; lamp light carried {duration(number(light['carried_h']))}",
            short=number(light["short_h"]) >= LEAST_SHORT_H,
        ),
        Figure(
            "Food needed",
            energy(number(food["need_kcal"])),
            f"carried {energy(number(food['carried_kcal']))}",
        ),
        Figure(
            "Feels like",
            _range(units, *felt_c),
            "coldest and warmest hour" if felt_c[0] != felt_c[1] else "all the way",
        ),
        _leave_by(summary, depart, asked=asked),
        Figure("Walking", duration(number(time["moving_h"])), _beside_walking(time)),
    )


SEEN_LONG = 0.05
"""Least part of a long unit that its printed digit shows."""


def _traffic(summary: dict[str, Any], units: Units) -> tuple[Figure, ...]:
    """Tell how much of the way is beside traffic, and what the fastest or a quiet way would be."""
    ways = summary.get("ways")
    if not ways:
        return ()
    own = ways[ways["chosen"]]
    other = ways["fast" if ways["chosen"] == "quiet" else "quiet"]
    heading = "Beside traffic"
    if ways["same"]:
        return (
            Figure(
                heading,
                _beside(own, units),
                "the fastest way and the quietest are one",
            ),
        )
    later_min = number(other["moving_min"]) - number(own["moving_min"])
    apart = f"{duration(abs(later_min) / 60.0)} {'longer' if later_min > 0.0 else 'shorter'}"
    name = "fastest" if ways["chosen"] == "quiet" else "quieter"
    far = units.long(1000.0 * number(other["distance_km"]))
    return (
        Figure(
            heading,
            _beside(own, units),
            f"the {name} way: {far}, {apart}, {_beside(other, units)} beside traffic",
        ),
    )


def _beside(way: dict[str, Any], units: Units) -> str:
    """Say how far a way runs beside traffic, and how much of that in the dark."""
    day_m, dark_m = (1000.0 * number(way[key]) for key in ("busy_day_km", "busy_dark_km"))
    told = units.long(day_m + dark_m)
    if dark_m < SEEN_LONG * units.long_m:
        return told
    return f"{told} ({'all' if day_m < SEEN_LONG * units.long_m else units.long(dark_m)} dark)"


def _runs_short(short: Sequence[Shortage], summary: dict[str, Any]) -> Figure:
    """Tell what falls short, the most dangerous first, and how much water the body loses."""
    loss = _loss(number(summary["water"]["worst_body_mass_loss_pct"]))
    if not short:
        nothing = not math.isfinite(number(summary["water"]["short_l"]))
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


def _elapsed(summary: dict[str, Any]) -> str:
    """Tell the time home, as a span where heights are unknown."""
    band = summary.get("heights", {}).get("time_h_band")
    ends = [duration(number(end)) for end in band or [summary["time"]["elapsed_h"]]]
    return " to ".join(dict.fromkeys(ends))


def _need_span(summary: dict[str, Any], units: Units) -> str:
    """Tell the span of the water needed where heights are unknown; empty where it has none."""
    band = summary.get("heights", {}).get("need_l_band")
    ends = list(dict.fromkeys(units.volume(number(end) * ML_PER_L) for end in band or []))
    return f"{' to '.join(ends)} by unknown heights; " if len(ends) > 1 else ""


def _unknown_part(summary: dict[str, Any], units: Units) -> str:
    """Tell how much of the way has no heights; empty where all has or none has."""
    told = summary.get("heights", {})
    if not told.get("time_h_band"):
        return ""
    return f"; heights unknown for {units.near(number(told['unknown_km']) * 1000.0)}"


def _litres(units: Units, water_l: object) -> str:
    return units.volume(number(water_l) * ML_PER_L)


def _leave_by(summary: dict[str, Any], depart: datetime, *, asked: bool) -> Figure:
    """Tell the latest departure of the day that is home before dark."""
    label = "Leave by"
    sun = summary.get("sun", {})
    state, dusk = sun.get("state"), sun.get("civil_dusk")
    if state in LIGHT_ALL_DAY:
        return Figure(label, "any hour", "it does not get dark that day")
    if state == DARK_ALL_DAY:
        return Figure(label, "no hour", "the sun does not rise that day")
    if not asked:
        return Figure(label, "not asked", "this plan leaves it out")
    if dusk is None or "leave_by" not in summary["time"]:
        return Figure(label, UNKNOWN, "not worked out")
    dark = f"{datetime.fromisoformat(str(dusk)):%H:%M}"
    latest = summary["time"]["leave_by"]
    if latest is None:
        return Figure(label, "no hour", f"too long for this day: dark from {dark}")
    when = datetime.fromisoformat(str(latest))
    margin = number(summary["time"].get("leave_by_margin_h", 0.0))
    spare = f", with {duration(margin)} for a slow walk" if margin > 0.0 else ""
    return Figure(label, clock_words(when, depart), f"to be home by dark, {dark}{spare}")


def home_by_words(summary: dict[str, Any], depart: datetime) -> str:
    """Say when to leave so as to be home by the hour that the plan names."""
    asked = summary["time"].get("home_by")
    if not asked:
        return ""
    by = clock_words(datetime.fromisoformat(str(asked["at"])), depart)
    late = number(asked["late_min"])
    # Rounded up, for someone waits: half a minute late is late.
    now = (
        f"leaving {depart:%H:%M} is too late by {duration(math.ceil(late) / 60.0)}."
        if late > 0.0
        else f"leaving {depart:%H:%M} leaves {duration(math.floor(-late) / 60.0)} to spare."
    )
    if "leave_by" not in asked:
        return f"Home by {by}: {now}"
    if asked["leave_by"] is None:
        return f"No hour of this day is early enough to be home by {by}: {now}"
    leave = clock_words(datetime.fromisoformat(str(asked["leave_by"])), depart)
    return f"Leave by {leave} to be home by {by}: {now}"


def bridge_words(summary: dict[str, Any], units: Units) -> tuple[str, str]:
    """Say what to do when the main bridge is shut."""
    bridge = summary["route"].get("main_bridge")
    if not bridge:
        return "", ""
    heading = f"If {clean(bridge['name'], longest=60)} is shut"
    if not bridge["reachable"]:
        return heading, "There is no other way home on foot on this map. Stay, or turn back early."
    via = [clean(name, longest=60) for name in bridge["via"]]
    extra_min, extra_m = number(bridge["extra_min"]), number(bridge["extra_km"]) * 1000.0
    parts = [f"{duration(extra_min / 60.0)} more" if extra_min >= 1.0 else "hardly longer"]
    if abs(extra_m) >= 0.05 * units.long_m:
        told = units.long(abs(extra_m))
        parts.append(f"{told} {'farther' if extra_m > 0.0 else 'less to walk'}")
    told = f"go by {' and '.join(via)}" if via else "go round it"
    turn = ""
    if bridge.get("turn_km") is not None:
        into = clean(bridge.get("turn_into") or "", longest=60)
        at = f"{units.long_name} {number(bridge['turn_km']) * 1000.0 / units.long_m:.1f}"
        turn = f"Leave the way at {at}{f' for {into}' if into else ''}, "
    told = f"{turn}{told}" if turn else told[0].upper() + told[1:]
    return heading, f"{told}: {', '.join(parts)}."


def _beside_walking(time: dict[str, Any]) -> str:
    """Rests and stops, and how far the published pace models differ."""
    parts = [
        f"{word} {duration(number(time[key]))}"
        for word, key in (("rests", "resting_h"), ("stops", "stopped_h"))
        if number(time[key]) != 0.0
    ]
    if "moving_h_band" in time:
        low, high = (duration(number(end)) for end in time["moving_h_band"])
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
    bridges, attribution, standing, long_unit, short_unit, volume_unit : str
        Bridges crossed, whose data the map is, the standing caution, units of distance, height and
        volume.
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
    long_unit: str
    short_unit: str
    volume_unit: str
    bars_key: str
    warmth_key: str

    def as_dict(self) -> dict[str, Any]:
        """Plain dicts, lists and text, for a template."""
        return asdict(self)


def sheet_of(walk: Walk) -> Sheet:
    """Say a walk in words and rows.

    Parameters
    ----------
    walk : Walk
        What `simulator.walk_home` gave.

    Returns
    -------
    Sheet
        All text cleaned of control characters; not escaped.
    """
    units, track, summary = units_of(walk), Track(walk), walk.summary
    level = str(summary["verdict"]["level"])
    rows = place_rows(walk, units, track)
    printed = listed(rows, most=max(FEWEST_PRINTED, ROOM_ROWS - len(walk.hours)))
    start, end = longest_dry_m(walk, track)
    asked = bool(walk.plan.choices.what_if)
    change = units.warmer(FORECAST_K)
    short = shortages_of(walk, units, track)
    care = care_rows(walk, units, track)
    bridges = _bridges(summary["route"].get("bridges", []))
    bridge_heading, bridge_told = bridge_words(summary, units)
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
        sentence=_sentence(summary, track, units),
        actions=actions_of(walk, units, track),
        arrival=arrival_of(summary, track).words,
        short=tuple(one.words for one in short),
        home_by=home_by_words(summary, track.clock(0.0)),
        figures=key_figures(
            summary, track, units, heights=heights_known(walk, track), asked=asked, short=short
        ),
        reasons=_sentences(_gathered(summary["verdict"]["reasons"])),
        hours=hour_rows(walk, units, track),
        slowing=slowing_words(summary),
        places=printed,
        places_left_out=len(rows) - len(printed),
        water=water_ahead(rows, (start / units.long_m, end / units.long_m)),
        dry=f"{units.long(end - start)} without ready water, from {units.long_name} "
        f"{start / units.long_m:.1f} to {end / units.long_m:.1f}",
        water_words=water_lines(walk),
        bottles=bottle_rows(walk),
        turns=turn_rows(walk, units, track),
        care=care,
        care_left_out=len(summary.get("hazards", [])) - len(care),
        care_words=CARE_WORDS,
        bag=bag_list(walk),
        bridge_heading=bridge_heading,
        bridge_words=bridge_told,
        sun=_sun(summary),
        closed=_sentences(summary["route"].get("closed", [])),
        cautions=_sentences(summary["cautions"]),
        assumptions=_sentences(summary["assumptions"]),
        redo=tuple(text.format(change=change) for text in REDO),
        inputs=tuple(clean(name) for name in sorted(summary.get("inputs", {}))),
        walking=_walking(summary),
        scale=LARGE if walk.plan.choices.print == "large" else 1.0,
        bridges=bridges,
        attribution=attribution_of(walk),
        standing=STANDING_CAUTION,
        long_unit=units.long_name,
        short_unit=units.short_name,
        volume_unit=units.cup_name,
        bars_key=BARS_KEY,
        warmth_key=WARMTH_KEY,
    )


def _sentences(texts: Any) -> tuple[str, ...]:  # noqa: ANN401 - from a JSON-like summary
    cleaned = (clean(text, longest=600) for text in texts)
    return tuple(t[0].upper() + t[1:] for t in cleaned if t)


def _gathered(texts: Any) -> list[str]:  # noqa: ANN401 - as above
    """Join sentences that open with the same words before a colon into one."""
    opened: dict[str, list[str]] = {}
    for text in texts:
        opening, colon, rest = str(text).partition(": ")
        opened.setdefault(opening + colon, []).append(rest)
    return [opening + "; ".join(rests) for opening, rests in opened.items()]


def _bridges(names: Any) -> str:  # noqa: ANN401 - as above
    """Name the bridges that have a name, and count the others."""
    known = [clean(name) for name in names]
    named = list(dict.fromkeys(name for name in known if name and not UNNAMED.match(name)))
    others = len([name for name in known if not name or UNNAMED.match(name)])
    counted = [f"{others} without a name"] if others else []
    return ", ".join([*named, *counted])


def _walking(summary: dict[str, Any]) -> str:
    """Tell the time on foot, and what comes to it."""
    time = summary["time"]
    return f"On foot {duration(number(time['moving_h']))}; {_beside_walking(time)}."


def _sentence(summary: dict[str, Any], track: Track, units: Units) -> str:
    depart = track.clock(0.0)
    meanings = {
        "walk": "This bag and these legs should bring you home",
        "walk with care": "You should get home if you mind the points below",
        "stay and wait": "Do not set out as planned. If you must",
    }
    level = str(summary["verdict"]["level"])
    opening = meanings.get(level, "The walk would bring you home")
    length = units.long(number(summary["route"]["distance_km"]) * 1000.0)
    return (
        f"{opening}: {length} on foot, leaving {depart:%H:%M}, {arrival_of(summary, track).words}."
    )


def _sun(summary: dict[str, Any]) -> str:
    """Tell what sort of day it is if not the usual, and first light, sunset and dark if any."""
    events = summary.get("sun", {})
    told = [str(events["told"])] if events.get("told") else []
    told += [
        f"{word} {datetime.fromisoformat(str(events[name])):%H:%M}"
        for name, word in (
            ("civil_dawn", "first light"),
            ("sunset", "sunset"),
            ("civil_dusk", "dark"),
        )
        if events.get(name) is not None
    ]
    line = ", ".join(told)
    return line[:1].upper() + line[1:]
