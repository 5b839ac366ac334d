"""What the bag must hold, as a list to tick off while packing."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd

from simulator.arrays import Floats
from simulator.home.directions import Direction, street_words
from simulator.home.hazards import KINDS, Hazard
from simulator.report.figures.style import first_given
from simulator.report.subject import DrawnWalk, Track, hour_letter, runs
from simulator.report.words import clean
from simulator.units import ML_PER_L, Units, energy, number

UNNAMED = "unnamed"
BRIDGE_GAP_M = 30.0
"""Bridge pieces closer than this are one crossing [m]."""


def units_of(walk: DrawnWalk) -> Units:
    """Units the plan asks for."""
    return Units("us" if walk.plan.units == "us" else "metric")


def attribution_of(walk: DrawnWalk) -> str:
    """Whose data the map is, as its source asks to be named."""
    return clean(getattr(walk.streets, "attribution", "") or "")


def given_by(value: object) -> tuple[str, ...]:
    """Read what a place gives from a table cell."""
    if isinstance(value, str):
        return tuple(sorted(word for word in value.replace(",", " ").split() if word))
    return tuple(sorted(str(word) for word in value)) if isinstance(value, Iterable) else ()


def places_of(walk: DrawnWalk) -> pd.DataFrame:
    """Refill table in walking order, with a glyph for each place and a number for each stop."""
    table = walk.refills.sort_values(["along_km", "off_m"], kind="stable").reset_index(drop=True)
    used = table["used"].astype(bool)
    given = [given_by(value) for value in table["gives"]]
    return table.assign(
        used=used,
        given=pd.Series(given, dtype=object),
        glyph=[first_given(words) for words in given],
        mark=[str(count) if stop else "" for stop, count in zip(used, used.cumsum(), strict=True)],
    )


def bridge_spans(walk: DrawnWalk) -> list[tuple[float, float, str]]:
    """Bridges crossed, in order: where each starts and ends along the way, and its name."""
    steps = walk.segments
    start = steps["distance_m"].to_numpy(np.float64)
    end = start + steps["run_m"].to_numpy(np.float64)
    named = steps["bridge_name"].astype(str)
    names = named.where(named != "", steps["street"].astype(str)).to_numpy()
    spans: list[tuple[float, float, str]] = []
    for first, after, on_bridge in runs(steps["bridge"].to_numpy(bool)):
        if not on_bridge:
            continue
        name = next((clean(n) for n in names[first:after] if clean(n)), "")
        begins, ends = float(start[first]), float(end[after - 1])
        if spans and begins - spans[-1][1] < BRIDGE_GAP_M and name in {spans[-1][2], ""}:
            begins, _, name = spans.pop()
        spans.append((begins, ends, name))
    return spans


def heights_known(walk: DrawnWalk, track: Track) -> bool:
    """Tell whether heights mean anything: there was a raster, and it covered the way."""
    return walk.streets.terrain is not None and bool(np.isfinite(track.height_m).all())


def longest_dry_m(walk: DrawnWalk, track: Track) -> tuple[float, float]:
    """Find the longest stretch without water that can be drunk as it is."""
    places = places_of(walk)
    wet = np.array(["water" in given for given in places["given"]], dtype=bool)
    wet &= (places["open"] != "no").to_numpy(bool) & ~places["needs_treatment"].to_numpy(bool)
    at = np.sort(places["along_km"].to_numpy(np.float64)[wet] * 1000.0)
    edges = np.concatenate([[0.0], at, [track.length_m]])
    widest = int(np.argmax(np.diff(edges)))
    return float(edges[widest]), float(edges[widest + 1])


EMPTY_ML = 25.0
"""Less water than this, hardly a mouthful, is called none."""

LEAST_ML, LEAST_KCAL, LEAST_H, LEAST_CLO = 1.0, 5.0, 1.0 / 60.0, 0.05
"""Shortages below this are not told."""

LACK = "\N{MINUS SIGN}"
"""Stands before an amount that is short."""

BLANK = "\N{EN DASH}"
"""Stands where no model says anything."""

ROUGHLY = "\N{ALMOST EQUAL TO}"


@dataclass(frozen=True, slots=True)
class Budget:
    """One budget in one hour, ready to print.

    Attributes
    ----------
    left, short : str
        What is left and what is short, without units; ``short`` is empty when nothing is.
    left_share, short_share : float
        Lengths of the full and of the hatched part of the bar, together at most 1.
    alarm : bool
        Whether what is short is printed loudly; food is not, for a body has its own store.
    asked : bool
        False where no model says anything: no bar.
    """

    left: str
    short: str
    left_share: float
    short_share: float
    alarm: bool = True
    asked: bool = True


@dataclass(frozen=True, slots=True)
class Budgets:
    """The four budgets in one hour.

    Attributes
    ----------
    water, food, light, warmth : Budget
        Water and food left in the bag and short so far, lamp hours left and short so far, and the
        clothes against what the hour asks of them.
    """

    water: Budget
    food: Budget
    light: Budget
    warmth: Budget


def budget_rows(walk: DrawnWalk, units: Units) -> tuple[Budgets, ...]:
    """Write the budgets of every hour."""
    table, told = walk.hours, walk.facts
    unit_ml, decimals = units.cup_ml, units.cup_digits
    water = _course(
        _column(table, "water_left_ml") / unit_ml,
        _column(table, "water_short_ml") / unit_ml,
        packed=told.water.carried_l * ML_PER_L / unit_ml,
        empty=EMPTY_ML / unit_ml,
        least=LEAST_ML / unit_ml,
        decimals=decimals,
    )
    food = _course(
        _column(table, "food_left_kcal"),
        _column(table, "energy_short_kcal"),
        packed=told.food.carried_kcal,
        empty=LEAST_KCAL,
        least=LEAST_KCAL,
        decimals=-1,
        alarm=False,
    )
    light = _course(
        _column(table, "light_left_h"),
        _column(table, "light_short_h"),
        packed=told.light.carried_h,
        empty=LEAST_H,
        least=LEAST_H,
        decimals=1,
    )
    return tuple(map(Budgets, water, food, light, _warmth(table)))


def _column(table: pd.DataFrame, name: str) -> Floats:
    return table[name].to_numpy(np.float64)


def _course(
    left: Floats,
    short: Floats,
    *,
    packed: float,
    empty: float,
    least: float,
    decimals: int,
    alarm: bool = True,
) -> list[Budget]:
    """Write one budget hour by hour; a full bar is what was packed, or the most there is of it."""
    lacks = np.where(short >= least, short, 0.0)
    full = float(np.nanmax(np.append(left + lacks, [packed, least])))

    def said(amount: float) -> str:
        return f"{round(amount, decimals):.{max(decimals, 0)}f}"

    rows = []
    for have, lack in zip(left.tolist(), lacks.tolist(), strict=True):
        some = max(lack, 0.6 * 10.0**-decimals)  # what is short is never told as zero
        rows.append(
            Budget(
                left=said(have) if have >= empty else "0",
                short=f"{LACK}{said(some)}" if lack > 0.0 else "",
                left_share=_share(have, full),
                short_share=_share(lack, full),
                alarm=alarm,
            )
        )
    return rows


def _warmth(table: pd.DataFrame) -> list[Budget]:
    """Write the clothes against what the hour asks; a full bar is what it asks."""
    rows = []
    for row in table[
        ["warmth_have_clo", "warmth_need_clo", "warmth_short_clo", "warmth_basis"]
    ].to_dict("records"):
        have, need = number(row["warmth_have_clo"]), number(row["warmth_need_clo"])
        if not math.isfinite(need):
            rows.append(Budget(BLANK, "", 0.0, 0.0, asked=False))
            continue
        short = number(row["warmth_short_clo"])
        told = f"{have:.1f}/{need:.1f}"
        if "outside" in str(row["warmth_basis"]):
            told = f"{ROUGHLY}{told}"
        lacks = short >= LEAST_CLO
        covered = 1.0 if need <= have else _share(have, need)
        rows.append(
            Budget(
                left="" if lacks else told,
                short=told if lacks else "",
                left_share=covered,
                short_share=round(1.0 - covered, 3) if lacks else 0.0,
            )
        )
    return rows


def _share(value: float, most: float) -> float:
    if not (math.isfinite(value) and most > 0.0):
        return 0.0
    return round(min(max(value / most, 0.0), 1.0), 3)


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


OPEN_WORDS = {"yes": "open", "no": "shut then", "unknown": "hours unknown"}
"""Whether a place is open on arrival, for a sentence."""

ROUTINE = ("passed", "noted", "closed on arrival", "opening hours unknown")
"""How reasons begin that the other columns of the list tell already."""


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
    open_words, why_told : str
        Whether it is open, for a sentence; why it is used or passed, where that is more than the
        other columns say.
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
    open_words: str
    why_told: str


def day_in_words(when: datetime) -> str:
    """Write a date nobody can misread, without the machine's language."""
    return f"{DAYS[when.weekday()]} {when.day} {MONTHS[when.month - 1]} {when.year}"


def clock_words(when: datetime, depart: datetime) -> str:
    """Write a clock time, with its weekday when it is no longer the first day."""
    if when.date() == depart.date():
        return f"{when:%H:%M}"
    return f"{when:%H:%M} {DAYS[when.weekday()][:3]}"


def hour_rows(walk: DrawnWalk, units: Units, track: Track) -> tuple[Hour, ...]:
    """Write the ledger as rows."""
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
                place=clean(_street(str(row["place"])), longest=60),
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


def _street(place: str) -> str:
    """Say a street without a name as the directions do."""
    if not place.startswith(NO_NAME):
        return place
    return street_words("", place.removeprefix(NO_NAME).rstrip(")"))


NO_NAME = "(unnamed "
"""How the ledger calls a street without a name, before its class."""


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
    return f"{unlit_min:.0f} min" if unlit_min >= 1.0 else ""


def _climb(up_m: float, down_m: float, units: Units) -> str:
    up, down = units.height(up_m).split(" ")[0], units.height(down_m).split(" ")[0]
    return f"↑{up} ↓{down}"


def place_rows(walk: DrawnWalk, units: Units, track: Track) -> tuple[Place, ...]:
    """Write the refill table as rows."""
    depart = track.clock(0.0)
    rows = []
    for row in places_of(walk).to_dict("records"):
        needs = [
            word
            for key, word in (("needs_treatment", "treat"), ("needs_key", "tap key"))
            if bool(row[key])
        ]
        kind, name = clean(row["kind"], longest=40), clean(row["name"], longest=60)
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
                why=_why(row, units, always=True),
                used=bool(row["used"]),
                water="water" in row["given"],
                open_words=OPEN_WORDS.get(str(row["open"]), clean(row["open"])),
                why_told=_why(row, units),
            )
        )
    return tuple(rows)


def _why(row: Mapping[Any, Any], units: Units, *, always: bool = False) -> str:
    """Say why a place is used or passed; the usual reasons of those passed only when asked."""
    told = clean(row["why"], longest=120)
    if not always and not row["used"] and told.startswith(ROUTINE):
        return ""
    litres = number(row["litres"])
    return told + (f"; {units.cups(litres * 1000.0)}" if litres > 0.0 else "") + _second_choice(row)


def _second_choice(row: Mapping[Any, Any]) -> str:
    """Say where to go when a planned stop gives nothing."""
    told = row.get("if_dry")
    return f"; {clean(told, longest=120)}" if row["used"] and isinstance(told, str) and told else ""


def water_ahead(rows: tuple[Place, ...], dry: tuple[float, float]) -> tuple[Place, ...]:
    """Choose water for the first page: stops, the first, and those around the dry stretch."""
    wet = [place for place in rows if place.water and (place.used or place.open != "no")]
    easy = [place for place in wet if place.used or not place.needs] or wet
    before = [place for place in easy if float(place.along) <= dry[0] + 0.05]
    after = [place for place in easy if float(place.along) >= dry[1] - 0.05]
    sure = sorted(easy, key=lambda place: place.open != "yes")
    wanted = [*(p for p in wet if p.used), *before[-1:], *after[:1], *sure]
    chosen = list(dict.fromkeys(wanted))[:WATER_ON_FIRST_PAGE]
    return tuple(place for place in rows if place in chosen)


def listed(rows: tuple[Place, ...], *, most: int) -> tuple[Place, ...]:
    """Choose the places to print: planned stops, then water and shelter spread along the way."""
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


NO_BREAK = "\N{NO-BREAK SPACE}"
THROUGH = {"tunnel": "through a tunnel", "stairs": "with stairs"}


@dataclass(frozen=True, slots=True)
class Turn:
    """One instruction, ready to print.

    Attributes
    ----------
    along, when : str
        Distance from the start and clock time where it is given.
    text : str
        E.g. ``After Mill Bridge, left into High Street``.
    then : str
        How far, how steep, over or through what.
    short : str
        The instruction for a small card.
    """

    along: str
    when: str
    text: str
    then: str
    short: str


def turn_rows(walk: DrawnWalk, units: Units, track: Track) -> tuple[Turn, ...]:
    """Write the way's instructions."""
    depart = track.clock(0.0)
    rows = []
    for one in walk.directions:
        when = track.clock(float(track.time_at(np.array([one.along_m]))[0]))
        text, then, short = turn_words(one, units)
        along = f"{one.along_m / units.long_m:.1f}"
        rows.append(Turn(along, clock_words(when, depart), text, then, short))
    return tuple(rows)


def turn_words(one: Direction, units: Units) -> tuple[str, str, str]:
    """Say one line of the way: what to do, what follows, and both in short for a card."""
    street = clean(street_words(one.street, one.kind), longest=60)
    after, at, side = (clean(text, longest=50) for text in (one.after, *one.passing))
    if one.turn == "start":
        turn = f"set out {one.heading} along {street}"
    elif one.turn == "turn back":
        turn = f"turn back along {street}, {one.heading}"
    elif one.turn == "go on":
        past = f"past {at} on the {side}" if at else f"past {after}" if after else ""
        past = f"over {at}" if side == "over" else past
        turn = " ".join(filter(None, ["go on", past])) + f", {units.height(one.height_m)} high"
        after = ""
    else:
        turn = f"{one.turn} {'along' if one.turn == 'straight on' else 'into'} {street}"
    said = [turn]
    if one.nth:
        said.append(f"way {one.nth} of {one.ways} from the left")
    if one.past:
        before = units.near(one.past_m)
        said.append(
            f"not the one {before} before"
            if one.past == 1
            else f"not the {one.past} in the {before} before"
        )
    if one.leaving:
        leaving, side = one.leaving[0]
        said.append(f"leaving {clean(leaving, longest=40)} on the {side}")
    text = "; ".join(said)
    long = one.length_m >= units.long_m
    length = units.long(one.length_m, digits=2) if long else units.near(one.length_m)
    passed = [f"over {clean(name, longest=50)}" for name in one.over]
    passed += [THROUGH.get(word, "") for word in one.through]
    return (
        f"After {after}, {text}" if after else text[0].upper() + text[1:],
        ", ".join([length, _ground(one, units), *filter(None, passed)]),
        f"{turn}, {length.replace(' ', NO_BREAK)}",
    )


def _ground(one: Direction, units: Units) -> str:
    """Say how the ground runs, with its climb where that is felt."""
    told = str(one.ground)
    if told == "level":
        return told
    up, down = units.height(one.ascent_m), units.height(one.descent_m)
    if told == "up and down":
        return f"up {up} and down {down}"
    return f"{told} {up if 'uphill' in told else down}"


MOST = 24
"""Places to take care at that are printed and drawn, the gravest kinds first."""


@dataclass(frozen=True, slots=True)
class Care:
    """One place to take care at, ready to print.

    Attributes
    ----------
    mark, along, when, what, advice : str
        Its letter, where it begins (and ends) in the printed unit, about when it is reached, what
        it is, and one line of advice.
    """

    mark: str
    along: str
    when: str
    what: str
    advice: str


def chosen(walk: DrawnWalk) -> tuple[Hazard, ...]:
    """Choose what is printed: all of it, or the gravest kinds and the longest stretches."""
    told = walk.facts.hazards
    if len(told) <= MOST:
        return told
    gravity = {kind: rank for rank, kind in enumerate(KINDS)}
    ranked = sorted(
        range(len(told)),
        key=lambda row: (
            gravity.get(told[row].kind, len(gravity)),
            told[row].from_km - told[row].to_km,
            row,
        ),
    )
    return tuple(told[row] for row in sorted(ranked[:MOST]))


def care_rows(walk: DrawnWalk, units: Units, track: Track) -> tuple[Care, ...]:
    """Write the places to take care at as rows."""
    depart = track.clock(0.0)
    rows = []
    for one in chosen(walk):
        begins, ends = (km * 1000.0 / units.long_m for km in (one.from_km, one.to_km))
        span = (
            f"{begins:.1f}" if f"{ends:.1f}" == f"{begins:.1f}" else f"{begins:.1f} to {ends:.1f}"
        )
        street = clean(one.street, longest=60)
        words = clean(one.words, longest=80)
        rows.append(
            Care(
                mark=clean(one.mark, longest=3),
                along=span,
                when=clock_words(datetime.fromisoformat(one.reached), depart),
                what=f"{words[:1].upper()}{words[1:]}{f': {street}' if street else ''}",
                advice=clean(one.advice, longest=120),
            )
        )
    return tuple(rows)


def care_feature(one: Hazard, coordinates: list[list[float]]) -> dict[str, Any]:
    """Give a place to take care at as a GeoJSON feature."""
    told = {
        name: clean(getattr(one, name)) for name in ("mark", "kind", "street", "words", "advice")
    }
    return {
        "type": "Feature",
        "geometry": {"type": "LineString", "coordinates": coordinates}
        if len(coordinates) > 1
        else {"type": "Point", "coordinates": coordinates[0]},
        "properties": {
            "what": "take care",
            **told,
            "from_km": round(one.from_km, 3),
            "to_km": round(one.to_km, 3),
            "reached": one.reached,
        },
    }


ORDER = (
    *("shelter", "warmth", "water", "food", "first aid", "light"),
    *("signal", "power", "tool", "hygiene", "paper", "other"),
)
"""Purposes in the order of the checklist: what is needed first lies on top."""


@dataclass(frozen=True, slots=True)
class Tick:
    """One line to tick.

    Attributes
    ----------
    item, expires, caution : str
        How many of what, its last good day (ISO 8601), the person's own note; perhaps empty.
    """

    item: str
    expires: str
    caution: str


@dataclass(frozen=True, slots=True)
class Purpose:
    """What serves one purpose.

    Attributes
    ----------
    name : str
        The purpose.
    ticks : tuple of Tick
        Its items, as listed.
    """

    name: str
    ticks: tuple[Tick, ...]


def bag_list(walk: DrawnWalk) -> tuple[Purpose, ...]:
    """Put the bag's list in order."""
    items = walk.items
    if items is None:
        return ()
    found: dict[str, list[Tick]] = {}
    rows = zip(items.item, items.purpose, items.quantity, items.expires, items.caution, strict=True)
    for item, purpose, quantity, expires, caution in rows:
        count = number(quantity)
        told = (
            f"{count:g} \N{MULTIPLICATION SIGN} " if math.isfinite(count) and count != 1.0 else ""
        )
        found.setdefault(str(purpose), []).append(
            Tick(
                item=told + clean(item, longest=60),
                expires="" if expires is None else expires.isoformat(),
                caution=clean(caution, longest=120),
            )
        )
    order = [*(name for name in ORDER if name in found), *sorted(set(found) - set(ORDER))]
    return tuple(Purpose(name, tuple(found[name])) for name in order)
