"""Rows of the hour table, the refill list and the street list, as a person reads them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from simulator.report.budgets import EMPTY_ML, Budgets, budget_rows
from simulator.report.content import places_of
from simulator.report.subject import Track, Walk, hour_letter
from simulator.report.words import clean
from simulator.units import Units, energy, number

DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)

NOTHING = "\N{EN DASH}"
"""Stands in a cell with nothing to say."""

LIGHT_SIGNS = {"day": "○", "twilight": "◐", "night": "●"}
"""Open, half and full disc: they keep their meaning on a copier."""

ROOM_ROWS, FEWEST_PRINTED = 29, 12
"""Rows of hours and places that fit on a page together; least places listed."""

PARTS = 12
"""Parts of the way from each of which places are listed in turn."""

WATER_ON_FIRST_PAGE = 6


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
    warmth : str
        The clothes against what the hour asks of them; empty where no model says.
    budgets : Budgets
        Water, food, lamp light and warmth as short text and bars.
    short : bool
        Whether water or lamp light is short in this hour.
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
    warmth: str
    budgets: Budgets
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


def day_in_words(when: datetime) -> str:
    """Write a date nobody can misread, without the machine's language.

    Parameters
    ----------
    when : datetime
        Any.

    Returns
    -------
    str
        E.g. ``Monday 4 May 2026``.
    """
    return f"{DAYS[when.weekday()]} {when.day} {MONTHS[when.month - 1]} {when.year}"


def clock_words(when: datetime, depart: datetime) -> str:
    """Write a clock time, with its weekday when it is no longer the first day.

    Parameters
    ----------
    when, depart : datetime
        The time, and the departure.

    Returns
    -------
    str
        E.g. ``06:40 Thu``.
    """
    if when.date() == depart.date():
        return f"{when:%H:%M}"
    return f"{when:%H:%M} {DAYS[when.weekday()][:3]}"


def hour_rows(walk: Walk, units: Units, track: Track) -> tuple[Hour, ...]:
    """Write the ledger as rows.

    Parameters
    ----------
    walk : Walk
        The walk.
    units : Units
        Units to print in.
    track : Track
        Its positions.

    Returns
    -------
    tuple of Hour
        One row an hour.
    """
    table = walk.hours
    left = table["water_left_ml"].to_numpy(np.float64)
    short = table["water_short_ml"].to_numpy(np.float64)
    hungry = table["energy_short_kcal"].to_numpy(np.float64)
    budgets = budget_rows(walk, units)
    depart = track.clock(0.0)
    unlamped_min = np.diff(table["light_short_h"].to_numpy(np.float64), prepend=0.0) * 60.0
    rows = []
    for index, (row, state) in enumerate(
        zip(table.to_dict("records"), table["daylight"], strict=True)
    ):
        start = datetime.fromisoformat(str(row["clock_start"]))
        pause = number(row["resting_min"]) + number(row["stopped_min"])
        dry = bool(short[index] > 0.0)
        without = float(unlamped_min[index])
        unlit = number(row["unlit_min"])
        rows.append(
            Hour(
                letter=hour_letter(index),
                start=clock_words(start, depart),
                place=clean(row["place"], longest=60),
                along=f"{number(row['distance_so_far_km']) * 1000.0 / units.long_m:.1f}",
                climb=_climb(number(row["ascent_m"]), number(row["descent_m"]), units),
                pause=f"{pause:.0f}" if math.isfinite(pause) and round(pause) else NOTHING,
                light_sign=LIGHT_SIGNS.get(str(state), "?"),
                light=_lamp(unlit, without) or str(state),
                felt=units.degrees(number(row["felt_c"])),
                stops=clean(row["stops"], longest=200) if isinstance(row["stops"], str) else "",
                water_left="empty" if left[index] < EMPTY_ML else units.cups(left[index]),
                water_short=_short_water(short[index], units) if dry else "",
                food_short=energy(hungry[index]) if hungry[index] > 0.0 else "",
                warmth=_clothes(row),
                budgets=budgets[index],
                short=dry or without >= 1.0,
            )
        )
    return tuple(rows)


def _clothes(row: Mapping[Any, Any]) -> str:
    """Say what is worn against what the hour asks; empty where no model says."""
    have, need = number(row["warmth_have_clo"]), number(row["warmth_need_clo"])
    if not math.isfinite(need):
        return ""
    rough = "about " if "outside" in str(row["warmth_basis"]) else ""
    return f"{have:.1f} clo, {rough}{need:.1f} asked"


def _short_water(short_ml: float, units: Units) -> str:
    """Say a shortage; one too small for the unit's last digit is not told as zero."""
    least_ml = 10.0**-units.cup_digits * units.cup_ml
    return f"< {units.cups(least_ml)}" if short_ml < 0.5 * least_ml else units.cups(short_ml)


def _lamp(unlit_min: float, without_min: float) -> str:
    """Say what the hour asks of the lamp; empty if nothing."""
    if without_min >= 1.0:
        return f"{without_min:.0f} min, no lamp"
    return f"lamp {unlit_min:.0f} min" if unlit_min >= 1.0 else ""


def _climb(up_m: float, down_m: float, units: Units) -> str:
    up, down = units.height(up_m).split(" ")[0], units.height(down_m).split(" ")[0]
    return f"↑{up} ↓{down}"


def place_rows(walk: Walk, units: Units, track: Track) -> tuple[Place, ...]:
    """Write the refill table as rows.

    Parameters
    ----------
    walk : Walk
        The walk.
    units : Units
        Units to print in.
    track : Track
        Its positions.

    Returns
    -------
    tuple of Place
        One row a place, in walking order.
    """
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
                arrive=clock_words(datetime.fromisoformat(str(arrive)), depart)
                if isinstance(arrive, str) and arrive
                else NOTHING,
                name=f"{name} ({kind})" if name else kind,
                off=units.near(number(row["off_m"])),
                gives=", ".join(row["given"]),
                open=str(row["open"]),
                hours=clean(row["hours"], longest=60) if isinstance(row["hours"], str) else "",
                needs=", ".join(needs),
                why=clean(row["why"], longest=120)
                + (f"; {units.cups(litres * 1000.0)}" if litres > 0.0 else "")
                + _second_choice(row),
                used=bool(row["used"]),
                water="water" in row["given"],
            )
        )
    return tuple(rows)


def _second_choice(row: Mapping[Any, Any]) -> str:
    """Say where to go when a planned stop gives nothing."""
    told = row.get("if_dry")
    return f"; {clean(told, longest=120)}" if row["used"] and isinstance(told, str) and told else ""


def water_ahead(rows: tuple[Place, ...], dry: tuple[float, float]) -> tuple[Place, ...]:
    """Choose water for the first page: stops, the first, and those around the dry stretch.

    Parameters
    ----------
    rows : tuple of Place
        All places.
    dry : (float, float)
        Where the longest stretch without water starts and ends, in the printed unit.

    Returns
    -------
    tuple of Place
        At most `WATER_ON_FIRST_PAGE`, in walking order.
    """
    wet = [place for place in rows if place.used or (place.water and place.open != "no")]
    easy = [place for place in wet if place.used or not place.needs] or wet
    before = [place for place in easy if float(place.along) <= dry[0] + 0.05]
    after = [place for place in easy if float(place.along) >= dry[1] - 0.05]
    sure = sorted(easy, key=lambda place: place.open != "yes")
    wanted = [*(p for p in wet if p.used), *before[-1:], *after[:1], *sure]
    chosen = list(dict.fromkeys(wanted))[:WATER_ON_FIRST_PAGE]
    return tuple(place for place in rows if place in chosen)


def listed(rows: tuple[Place, ...], *, most: int) -> tuple[Place, ...]:
    """Choose the places to print: planned stops, then water and shelter spread along the way.

    Parameters
    ----------
    rows : tuple of Place
        All places.
    most : int
        Places printed, unless more stops are planned.

    Returns
    -------
    tuple of Place
        In walking order.
    """
    if not rows:
        return ()
    part = max(float(row.along) for row in rows) / PARTS + 1e-9
    turns: dict[tuple[int, bool], int] = {}
    rank: dict[int, tuple[int, int]] = {}
    by_use = sorted(
        range(len(rows)),
        key=lambda i: (rows[i].open == "no", rows[i].open != "yes", rows[i].needs != "", i),
    )
    for index in by_use:
        row = rows[index]
        if row.gives == "rest" and not row.used:
            continue
        here = (int(float(row.along) / part), row.water)
        turns[here] = turns.get(here, 0) + 1
        rank[index] = (0, 0) if row.used else (turns[here], 0 if row.water else 1)
    chosen = sorted(rank, key=lambda i: (*rank[i], i))
    stops = sum(row.used for row in rows)
    return tuple(rows[index] for index in sorted(chosen[: max(most, stops)]))
