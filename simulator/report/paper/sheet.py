"""The plan in words and rows: one text for the printed timeline and for the offline page."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

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
from simulator.units import HOUR_S, ML_PER_L, UNKNOWN, Units, duration, energy, number

NAMES = {
    "age_sex": "age and sex",
    "own_pace": "own pace",
    "limits": "limits of those who walk",
    "dark": "dark",
    "fatigue": "tiredness",
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
    also : str
        The number in the units that were not asked for; empty where it has no such unit.
    """

    label: str
    value: str
    note: str = ""
    short: bool = False
    also: str = ""


def key_figures(
    summary: dict[str, Any], track: Track, units: Units, *, heights: bool, asked: bool
) -> tuple[Figure, ...]:
    """Write the key figures."""
    route, time, water = summary["route"], summary["time"], summary["water"]
    food, light, felt = summary["food"], summary["light"], summary["cold_heat"]
    depart, arrive = track.clock(0.0), track.clock(track.duration_s)
    unlit = duration(number(light.get("unlit_h", light["dark_h"])))
    length_m = number(route["distance_km"]) * 1000.0
    felt_c = (number(felt["coldest_felt_c"]), number(felt["hottest_felt_c"]))
    return (
        Figure("Leave", f"{depart:%H:%M}", day_in_words(depart)),
        Figure(
            "Home about",
            clock_words(arrive, depart),
            f"{_elapsed(summary)} in all",
        ),
        _leave_by(summary, depart, asked=asked),
        Figure(
            "Way",
            units.long(length_m),
            f"up {_climb(units, route['ascent_m'])}, "
            f"down {_climb(units, route['descent_m'])}{_unknown_part(summary, units)}"
            if heights
            else "heights not known: counted as flat",
            also=units.other.long(length_m),
        ),
        Figure("Walking", duration(number(time["moving_h"])), _beside_walking(time)),
        _first_shortage(summary, track, units),
        Figure(
            "Water needed",
            units.volume(number(water["need_l"]) * ML_PER_L),
            f"{_need_span(summary, units)}"
            f"carried {_litres(units, water['carried_l'])}, "
            f"refilled {_litres(units, water['refilled_l'])}",
            also=units.other.volume(number(water["need_l"]) * ML_PER_L),
        ),
        Figure(
            "In the dark",
            duration(number(time["dark_h"])),
            f"unlit {unlit}; lamp light carried {duration(number(light['carried_h']))}",
            short=number(light["short_h"]) >= LEAST_SHORT_H,
        ),
        Figure(
            "Food energy short",
            _or_none(number(food["short_kcal"]), energy),
            f"needed {energy(number(food['need_kcal']))}, "
            f"carried {energy(number(food['carried_kcal']))}",
        ),
        Figure(
            "Feels like",
            _range(units, *felt_c),
            "coldest and warmest hour",
            also=_range(units.other, *felt_c),
        ),
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


def _climb(units: Units, climb_m: object) -> str:
    return units.both(Units.height, number(climb_m))


def _litres(units: Units, water_l: object) -> str:
    return units.both(Units.volume, number(water_l) * ML_PER_L)


def _leave_by(summary: dict[str, Any], depart: datetime, *, asked: bool) -> Figure:
    """Tell the latest departure of the day that is home before dark."""
    label = "Leave by, for daylight"
    sun = summary.get("sun", {})
    state, dusk = sun.get("state"), sun.get("civil_dusk")
    if state in LIGHT_ALL_DAY:
        return Figure(label, "any hour", "it does not get dark that day")
    if state == DARK_ALL_DAY:
        return Figure(label, "no hour", "the sun does not rise that day")
    if not asked:
        return Figure(label, "not asked", "what_if = false")
    if dusk is None or "leave_by" not in summary["time"]:
        return Figure(label, UNKNOWN, "not worked out")
    dark = f"{datetime.fromisoformat(str(dusk)):%H:%M}"
    latest = summary["time"]["leave_by"]
    if latest is None:
        return Figure(label, "no hour", f"too long for this day: dark from {dark}")
    when = datetime.fromisoformat(str(latest))
    return Figure(label, clock_words(when, depart), f"to be home by dark, {dark}")


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


def _first_shortage(summary: dict[str, Any], track: Track, units: Units) -> Figure:
    """Tell what runs short first, and when; food is left out, for a body has its own store."""
    depart = track.clock(0.0)
    water, light = summary["water"], summary["light"]
    found: list[tuple[float, str, str]] = []
    for name, part, said, least in (
        ("water", water, _litres(units, water["short_l"]), 0.0),
        ("light", light, duration(number(light["short_h"])), LEAST_SHORT_H),
    ):
        short = number(part["short_l" if name == "water" else "short_h"])
        if short > least:
            after = number(part.get("first_short_h"))
            found.append((after if math.isfinite(after) else math.inf, name, said))
    loss = _loss(number(water["worst_body_mass_loss_pct"]))
    if not found:
        return Figure("First shortage", "none", loss)
    after, name, said = min(found)
    at = "" if math.isinf(after) else clock_words(track.clock(after * HOUR_S), depart)
    others = [f"{other} short {amount}" for _after, other, amount in sorted(found)[1:]]
    note = "; ".join(filter(None, [f"up to {said}", *others, loss]))
    return Figure("First shortage", f"{name} {at}".strip(), note, short=True)


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
        told = units.both(Units.long, abs(extra_m))
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
        parts.insert(0, f"{low} to {high} by other pace models")
    return "; ".join(parts)


def _or_none(amount: float, say: Callable[[float], str]) -> str:
    return "none" if amount == 0.0 else say(amount)


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


NOT_ASKED = "Not asked: what_if = false."
"""Stands where the plan leaves other departures and shut bridges out."""

CARE_WORDS = (
    "Read from map, hour and event as planned; much is not mapped. Local authorities, signs and "
    "what you see on the ground come first."
)
"""What stands under the list of places to take care at."""

WARMTH_KEY = (
    "Warmth: clothes worn against clothes the hour asks to be cold but bearable (1 clo: about a "
    "suit with a vest), at a halt with what the bag adds. Lacking on foot means one layer more; "
    "empty is beyond the model's reach, so not asked."
)
BARS_KEY = (
    "Bars at the hour's end. Frame: what was packed, or the most there is or lacks on this way. "
    "Solid: left; empty: none left; hatched, with a minus: short so far. Warmth: clothes worn / "
    "asked for to be cold but bearable (1 clo: a suit with a vest), at a halt with the bag's; "
    "hatched: lacking in that hour, on foot one layer more; a dash: beyond the model, not asked. "
    "○ day, ◐ twilight, ● night."
)
"""What the columns and bars of the hour table mean."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything the timeline and the page say, as text.

    Attributes
    ----------
    title, day, level, headline, sentence : str
        Heading, date in words, verdict level, verdict and what it means in one sentence.
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
    inputs : tuple of (str, str)
        File and the first digits of its SHA-256.
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
    inputs: tuple[tuple[str, str], ...]
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
    """Say a walk in words and rows."""
    units, track, summary = units_of(walk), Track(walk), walk.summary
    level = str(summary["verdict"]["level"])
    rows = place_rows(walk, units, track)
    printed = listed(rows, most=max(FEWEST_PRINTED, ROOM_ROWS - len(walk.hours)))
    start, end = longest_dry_m(walk, track)
    asked = bool(walk.plan.choices.what_if)
    change = units.both(Units.warmer, FORECAST_K)
    care = care_rows(walk, units, track)
    bridges = _bridges(summary["route"].get("bridges", []))
    bridge_heading, bridge_told = bridge_words(summary, units)
    if bridges and not asked:
        bridge_heading, bridge_told = "If a bridge is shut", f"{NOT_ASKED} Crossed: {bridges}."
    return Sheet(
        title=clean(walk.plan.title) or "Walk home",
        day=day_in_words(track.clock(0.0)),
        level=level,
        headline=HEADLINES.get(level, clean(level)),
        sentence=_sentence(summary, track, units),
        home_by=home_by_words(summary, track.clock(0.0)),
        figures=key_figures(summary, track, units, heights=heights_known(walk, track), asked=asked),
        reasons=_sentences(_gathered(summary["verdict"]["reasons"])),
        hours=hour_rows(walk, units, track),
        slowing=slowing_words(summary),
        places=printed,
        places_left_out=len(rows) - len(printed),
        water=water_ahead(rows, (start / units.long_m, end / units.long_m)),
        dry=f"{units.both(Units.long, end - start)} without ready water, from {units.long_name} "
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
        inputs=_inputs(summary.get("inputs", {})),
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


def _inputs(inputs: Any) -> tuple[tuple[str, str], ...]:  # noqa: ANN401 - as above
    rows = []
    for name, value in sorted(dict(inputs).items()):
        digest = value.get("sha256", "") if isinstance(value, dict) else value
        rows.append((clean(name), clean(digest)[:16]))
    return tuple(rows)


def _sentence(summary: dict[str, Any], track: Track, units: Units) -> str:
    depart = track.clock(0.0)
    arrive = track.clock(track.duration_s)
    meanings = {
        "walk": "This bag and these legs should bring you home",
        "walk with care": "You should get home, but not without the care named below",
        "stay and wait": "Do not set out as planned. If you must, the walk would bring you home",
    }
    level = str(summary["verdict"]["level"])
    opening = meanings.get(level, "The walk would bring you home")
    length_m = number(summary["route"]["distance_km"]) * 1000.0
    length = units.both(Units.long, length_m)
    return (
        f"{opening}: {length} on foot, leaving {depart:%H:%M}, "
        f"home about {clock_words(arrive, depart)}."
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
