"""The plan in words and rows: one text for the printed timeline and for the offline page."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd

from simulator.report.content import (
    attribution_of,
    longest_dry_m,
    places_of,
    stretches,
    units_of,
)
from simulator.report.subject import SECONDS_PER_HOUR, Track, Walk, hour_letter
from simulator.report.units import UNKNOWN, Units, duration, energy, number
from simulator.report.words import clean
from simulator.sky.sun import DAYLIGHT_STATES

HEADLINES = {
    "walk": "Walk.",
    "walk with care": "Walk with care.",
    "stay and wait": "Stay and wait.",
}
"""The verdict as a person says it."""

LIGHT_SIGNS = {"day": "○", "twilight": "◐", "night": "●"}
"""Open, half and full disc: they keep their meaning on a copier."""

REDO = (
    "the bag, its water or your shoes change, or something in it has expired",
    "the forecast moves by more than 5 °C (9 °F), or rain, snow, wind or flood is announced",
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

REFILLS_PRINTED = 36
"""Places listed on paper; the rest are in refills.csv."""

WATER_ON_FIRST_PAGE = 5


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


@dataclass(frozen=True, slots=True)
class Hour:
    """One row of the hour-by-hour table, ready to print.

    Attributes
    ----------
    letter, start, place, along, climb, pause : str
        Hour, clock time and street at its start, distance so far at its end, metres up and down,
        minutes of rest and stops.
    light_sign, light, felt, stops : str
        Daylight, the lamp's state, felt temperature, what is stopped for.
    water_left, water_short, food_short : str
        Amounts at the hour's end; empty when nothing is short.
    water_left_share, water_short_share, food_short_share : float
        Lengths of the bars, 0 to 1.
    short : bool
        Whether any budget is short in this hour.
    """

    letter: str
    start: str
    place: str
    along: str
    climb: str
    pause: str
    light_sign: str
    light: str
    felt: str
    stops: str
    water_left: str
    water_short: str
    food_short: str
    water_left_share: float
    water_short_share: float
    food_short_share: float
    short: bool


@dataclass(frozen=True, slots=True)
class Place:
    """One row of the refill list, ready to print.

    Attributes
    ----------
    mark, along, arrive, name, off, gives, open, hours, needs, why : str
        Number of a planned stop, where and when, what it is and gives, whether open on arrival,
        what it needs (treatment, key), and why it is used or passed.
    used : bool
        Whether the walk stops here.
    water : bool
        Whether it gives water.
    """

    mark: str
    along: str
    arrive: str
    name: str
    off: str
    gives: str
    open: str
    hours: str
    needs: str
    why: str
    used: bool
    water: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything the timeline and the page say, as text.

    Attributes
    ----------
    title, day, level, headline, sentence : str
        Heading, date in words, verdict level, verdict and what it means in one sentence.
    figures : tuple of Figure
        Key figures, the most needed first.
    reasons, cautions, assumptions, redo : tuple of str
        Sentences.
    hours : tuple of Hour
        The ledger.
    places : tuple of Place
        Planned stops, then other places; at most `REFILLS_PRINTED`.
    places_left_out : int
        Places not listed.
    water : tuple of Place
        Where water comes next, for the first page.
    dry : str
        The longest stretch without water, in words.
    streets : tuple of (str, str, str, str)
        Distance, clock time, street and length with climb, in walking order.
    inputs : tuple of (str, str)
        File and the first digits of its SHA-256.
    bridges, attribution, standing, long_unit : str
        Bridges crossed, whose data the map is, the standing caution, unit of distance.
    """

    title: str
    day: str
    level: str
    headline: str
    sentence: str
    figures: tuple[Figure, ...]
    reasons: tuple[str, ...]
    hours: tuple[Hour, ...]
    places: tuple[Place, ...]
    places_left_out: int
    water: tuple[Place, ...]
    dry: str
    streets: tuple[tuple[str, str, str, str], ...]
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]
    redo: tuple[str, ...]
    inputs: tuple[tuple[str, str], ...]
    bridges: str
    attribution: str
    standing: str
    long_unit: str

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
    rows = _places(walk, units, track)
    listed = _listed(rows)
    start, end = longest_dry_m(walk, track)
    return Sheet(
        title=clean(walk.plan.title) or "Walk home",
        day=day_in_words(track.clock(0.0)),
        level=level,
        headline=HEADLINES.get(level, clean(level)),
        sentence=_sentence(summary, track, units),
        figures=_figures(summary, track, units),
        reasons=_sentences(summary["verdict"]["reasons"]),
        hours=_hours(walk, units, track),
        places=listed,
        places_left_out=len(rows) - len(listed),
        water=tuple(p for p in rows if p.used or (p.water and p.open != "no"))[
            :WATER_ON_FIRST_PAGE
        ],
        dry=f"{units.long(end - start)} without water, from {units.long_name} "
        f"{start / units.long_m:.1f} to {end / units.long_m:.1f}",
        streets=tuple(_street(s, units, track) for s in stretches(walk)),
        cautions=_sentences(summary["cautions"]),
        assumptions=_sentences(summary["assumptions"]),
        redo=REDO,
        inputs=_inputs(summary.get("inputs", {})),
        bridges=", ".join(_names(summary["route"].get("bridges", []))),
        attribution=attribution_of(walk),
        standing=STANDING_CAUTION,
        long_unit=units.long_name,
    )


def day_in_words(when: datetime) -> str:
    """A date nobody can misread, without the machine's language.

    Parameters
    ----------
    when : datetime
        Any.

    Returns
    -------
    str
        E.g. ``Monday 4 May 2026``.
    """
    days = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
    months = (
        "January February March April May June July August September October November December"
    ).split()
    return f"{days[when.weekday()]} {when.day} {months[when.month - 1]} {when.year}"


def _clock(when: datetime, depart: datetime) -> str:
    """Clock time, with the day named when it is no longer the first."""
    later = (when.date() - depart.date()).days
    return f"{when:%H:%M}" + (f" (+{later} d)" if later else "")


def _sentences(texts: Any) -> tuple[str, ...]:  # noqa: ANN401 - from a JSON-like summary
    cleaned = (clean(text, longest=600) for text in texts)
    return tuple(t[0].upper() + t[1:] for t in cleaned if t)


def _names(values: Any) -> list[str]:  # noqa: ANN401 - as above
    """Names of bridges, given as text or as records with a name."""
    found = []
    for value in values:
        name = clean(value.get("name", "") if isinstance(value, dict) else value)
        found.append(name or "an unnamed bridge")
    return list(dict.fromkeys(found))


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
    length = units.long(number(summary["route"]["distance_km"]) * 1000.0)
    return (
        f"{opening}: {length} on foot, leaving {depart:%H:%M}, home about {_clock(arrive, depart)}."
    )


def _figures(summary: dict[str, Any], track: Track, units: Units) -> tuple[Figure, ...]:
    route, time, water = summary["route"], summary["time"], summary["water"]
    food, light, felt = summary["food"], summary["light"], summary["cold_heat"]
    depart = track.clock(0.0)
    arrive = track.clock(track.duration_s)
    parts = ", ".join(
        f"{word} {duration(number(time[key]))}"
        for word, key in (("walking", "moving_h"), ("rests", "resting_h"), ("stops", "stopped_h"))
        if not number(time[key]) == 0.0
    )
    first = number(water.get("first_short_h"))
    when = (
        f"from {_clock(track.clock(first * SECONDS_PER_HOUR), depart)}"
        if math.isfinite(first)
        else ""
    )
    short = number(water["short_l"]) * 1000.0
    loss = number(water["worst_body_mass_loss_pct"])
    return (
        Figure("Leave", f"{depart:%H:%M}", day_in_words(depart)),
        Figure(
            "Home about", _clock(arrive, depart), f"{duration(number(time['elapsed_h']))} in all"
        ),
        Figure(
            "Way",
            units.long(number(route["distance_km"]) * 1000.0),
            f"up {units.height(number(route['ascent_m']))}, "
            f"down {units.height(number(route['descent_m']))}",
        ),
        Figure("Time", duration(number(time["elapsed_h"])), parts),
        Figure(
            "In the dark",
            duration(number(time["dark_h"])),
            f"{units.long(number(route['unlit_km']) * 1000.0)} without street light",
        ),
        Figure(
            "Water needed",
            units.volume(number(water["need_l"]) * 1000.0),
            f"carried {units.volume(number(water['carried_l']) * 1000.0)}, "
            f"refilled {units.volume(number(water['refilled_l']) * 1000.0)}",
        ),
        Figure(
            "Water short",
            units.volume(short) if short != 0.0 else "none",
            f"{when + '; ' if when else ''}body loses up to {_percent(loss)}",
            short=short > 0.0,
        ),
        Figure(
            "Food needed",
            energy(number(food["need_kcal"])),
            f"carried {energy(number(food['carried_kcal']))}, "
            f"short {energy(number(food['short_kcal']))}",
            short=number(food["short_kcal"]) > 0.0,
        ),
        Figure(
            "Lamp",
            duration(number(light["carried_h"])),
            f"dark {duration(number(light['dark_h']))}, short {duration(number(light['short_h']))}",
            short=number(light["short_h"]) > 0.0,
        ),
        Figure(
            "Feels like",
            _range(units, number(felt["coldest_felt_c"]), number(felt["hottest_felt_c"])),
            "coldest and warmest hour",
        ),
    )


def _percent(value: float) -> str:
    return f"{value:.1f} % of its mass" if math.isfinite(value) else UNKNOWN


def _range(units: Units, low: float, high: float) -> str:
    if not (math.isfinite(low) and math.isfinite(high)):
        return f"{units.degrees(low)} to {units.degrees(high)}"
    first = f"{units.temperature(low):.0f}".replace("-", "\N{MINUS SIGN}")
    return f"{first} to {units.degrees(high)}"


def daylight_words(hours: pd.DataFrame) -> list[str]:
    """Day, twilight or night of each hour, whether the table holds words or codes.

    Parameters
    ----------
    hours : DataFrame
        The ledger.

    Returns
    -------
    list of str
        One word an hour.
    """
    return [
        state if isinstance(state, str) else DAYLIGHT_STATES[int(state)]
        for state in hours["daylight"]
    ]


def _share(value: float, most: float) -> float:
    if not (math.isfinite(value) and most > 0.0):
        return 0.0
    return round(min(max(value / most, 0.0), 1.0), 3)


def _hours(walk: Walk, units: Units, track: Track) -> tuple[Hour, ...]:
    table = walk.hours
    left = table["water_left_ml"].to_numpy(np.float64)
    short = table["water_short_ml"].to_numpy(np.float64)
    hungry = table["energy_short_kcal"].to_numpy(np.float64)
    most_water = float(np.nanmax(np.concatenate([left, short, [1.0]])))
    most_food = float(np.nanmax(np.append(hungry, 1.0)))
    depart = track.clock(0.0)
    rows = []
    for index, (row, state) in enumerate(
        zip(table.to_dict("records"), daylight_words(table), strict=True)
    ):
        start = datetime.fromisoformat(str(row["clock_start"]))
        pause = number(row["resting_min"]) + number(row["stopped_min"])
        dry = bool(short[index] > 0.0)
        dim = number(row["light_short_h"])
        unlit = number(row["unlit_min"])
        rows.append(
            Hour(
                letter=hour_letter(index),
                start=_clock(start, depart),
                place=clean(row["place"], longest=60),
                along=f"{number(row['distance_so_far_km']) * 1000.0 / units.long_m:.1f}",
                climb=_climb(number(row["ascent_m"]), number(row["descent_m"]), units),
                pause=f"{pause:.0f}" if math.isfinite(pause) and round(pause) else "–",
                light_sign=LIGHT_SIGNS.get(state, "?"),
                light=f"lamp short {duration(dim)}"
                if dim > 0.0
                else (f"lamp {unlit:.0f} min" if unlit >= 1.0 else state),
                felt=units.degrees(number(row["felt_c"])),
                stops=clean(row["stops"], longest=200) if isinstance(row["stops"], str) else "",
                water_left=units.volume(left[index]),
                water_short=units.volume(short[index]) if dry else "",
                food_short=energy(hungry[index]) if hungry[index] > 0.0 else "",
                water_left_share=_share(left[index], most_water),
                water_short_share=_share(short[index], most_water),
                food_short_share=_share(hungry[index], most_food),
                short=dry or dim > 0.0,
            )
        )
    return tuple(rows)


def _climb(up_m: float, down_m: float, units: Units) -> str:
    up, down = units.height(up_m).split(" ")[0], units.height(down_m).split(" ")[0]
    return f"↑{up} ↓{down}"


def _places(walk: Walk, units: Units, track: Track) -> tuple[Place, ...]:
    depart = track.clock(0.0)
    rows = []
    for row in places_of(walk).to_dict("records"):
        needs = [
            word
            for key, word in (("needs_treatment", "treat"), ("needs_key", "tap key"))
            if bool(row[key])
        ]
        kind, name = clean(row["kind"], longest=40), clean(row["name"], longest=60)
        litres = number(row["litres"])
        arrive = row["arrive"]
        rows.append(
            Place(
                mark=str(row["mark"]),
                along=f"{number(row['along_km']) * 1000.0 / units.long_m:.1f}",
                arrive=_clock(datetime.fromisoformat(str(arrive)), depart)
                if isinstance(arrive, str) and arrive
                else "–",
                name=f"{name} ({kind})" if name else kind,
                off=units.near(number(row["off_m"])),
                gives=", ".join(row["given"]),
                open=str(row["open"]),
                hours=clean(row["hours"], longest=60) if isinstance(row["hours"], str) else "",
                needs=", ".join(needs),
                why=clean(row["why"], longest=120)
                + (f"; {units.volume(litres * 1000.0)}" if litres > 0.0 else ""),
                used=bool(row["used"]),
                water="water" in row["given"],
            )
        )
    return tuple(rows)


def _listed(rows: tuple[Place, ...]) -> tuple[Place, ...]:
    """Planned stops always, then water, then what gives most; in walking order."""
    weight = [
        (not row.used, row.open == "no", not row.water, -row.gives.count(","), index)
        for index, row in enumerate(rows)
    ]
    chosen = sorted(range(len(rows)), key=weight.__getitem__)[:REFILLS_PRINTED]
    return tuple(rows[index] for index in sorted(chosen))


def _street(stretch: dict[str, Any], units: Units, track: Track) -> tuple[str, str, str, str]:
    start = float(stretch["start_m"])
    when = track.clock(float(track.time_at(np.array([start]))[0]))
    length = (
        units.long(stretch["length_m"])
        if stretch["length_m"] >= units.long_m
        else units.near(stretch["length_m"])
    )
    climb = _climb(stretch["ascent_m"], stretch["descent_m"], units)
    return (
        f"{start / units.long_m:.1f}",
        _clock(when, track.clock(0.0)),
        str(stretch["street"]),
        f"{length}  {climb}",
    )
