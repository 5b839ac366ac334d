"""The plan in words and rows: one text for the printed timeline and for the offline page."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from simulator.report.care import Care, care_rows
from simulator.report.checklist import Purpose, bag_list
from simulator.report.content import (
    attribution_of,
    heights_known,
    longest_dry_m,
    units_of,
)
from simulator.report.glance import Figure, bridge_words, home_by_words, key_figures
from simulator.report.rows import (
    FEWEST_PRINTED,
    ROOM_ROWS,
    Hour,
    Place,
    clock_words,
    day_in_words,
    hour_rows,
    listed,
    place_rows,
    water_ahead,
)
from simulator.report.slowing import slowing_words
from simulator.report.subject import Track, Walk
from simulator.report.turns import Turn, turn_rows
from simulator.report.water import Bottle, bottle_rows, water_lines
from simulator.report.words import clean
from simulator.units import Units, number

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
        """Plain dicts, lists and text, for a template.

        Returns
        -------
        dict
            Keys as the attributes.
        """
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
