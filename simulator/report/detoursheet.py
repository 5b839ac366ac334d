"""Closed bridges in words: what the printed pages say."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any

import pandas as pd

from simulator.report.content import attribution_of, units_of
from simulator.report.detourfigures import Detours
from simulator.report.sheet import STANDING_CAUTION
from simulator.report.words import clean
from simulator.units import Units, energy

MOST_ROWS = 24
"""Crossings printed; all of them are in detours.csv."""

MOST_PAIRS = 12
"""Pairs printed."""

MORE_MIN = 0.5
"""A pair is printed when it costs this much more than both losses added up [min]."""

DEAREST_STREETS = 6
"""Streets named as the dearest to find blocked."""


def sheet_data(detours: Detours) -> dict[str, Any]:
    """Put what was found into words for the printed pages.

    Parameters
    ----------
    detours : Detours
        What ``find_detours`` gave.

    Returns
    -------
    dict
        Text only, but for truth values.
    """
    units = units_of(detours.walk)
    table = detours.crossings.reset_index(drop=True)
    on_way = table[table["on_way"] == "yes"]
    return {
        "title": clean(detours.walk.plan.title) or "Walk home",
        "standing": STANDING_CAUTION,
        "headline": _headline(table),
        "long_unit": units.long_name,
        "rows": [_row(number, row, units) for number, row in _records(on_way)[:MOST_ROWS]],
        "rows_left_out": max(len(on_way) - MOST_ROWS, 0),
        "off_way": ", ".join(clean(name) for name in table["crossing"][table["on_way"] == "no"]),
        "pairs": [
            [clean(row["first"]), clean(row["second"]), _lost(row)]
            for row in _worse_than_both(detours.pairs).head(MOST_PAIRS).to_dict("records")
        ],
        "cut": _cut(detours),
        "streets": _dearest(detours, units),
        "others": [
            _other(number, row, units)
            for number, row in enumerate(detours.alternatives.to_dict("records"), 1)
        ],
        "notes": list(detours.notes),
        "attribution": attribution_of(detours.walk),
        "alt": {
            "map": f"Map of the way home with its crossings by what their loss costs. "
            f"{_headline(table)}",
            "profile": "What a blockage costs along the way, in minutes: known on setting out, "
            "and met on arrival.",
        },
    }


def _worse_than_both(pairs: pd.DataFrame) -> pd.DataFrame:
    """Keep the pairs that cost more than the two losses added up."""
    together = pairs["first_extra_min"] + pairs["second_extra_min"]
    return pairs[pairs["extra_min"] > together + MORE_MIN]


def _records(table: pd.DataFrame) -> list[tuple[int, dict[str, Any]]]:
    """Give the rows the numbers they have on the map."""
    return [
        (int(str(index)) + 1, {str(key): value for key, value in row.items()})
        for index, row in zip(table.index, table.to_dict("records"), strict=True)
    ]


def _headline(table: pd.DataFrame) -> str:
    on_way = table[table["on_way"] == "yes"]
    if on_way.empty:
        return "The way home uses no bridge and no ford."
    lost = on_way[on_way["reachable"] == "no"]
    if not lost.empty:
        return f"Without {clean(lost['crossing'].iloc[0])} there is no way home."
    unknown = on_way[on_way["reachable"] == "unknown"]
    if not unknown.empty:
        return f"What the loss of {clean(unknown['crossing'].iloc[0])} costs is not known."
    dearest = on_way.iloc[0]
    name, lost_time = clean(dearest["crossing"]), _lost(dearest.to_dict())
    if len(on_way) == 1:
        return f"The way uses one crossing, {name}. It can be walked around: {lost_time}."
    return (
        f"The way uses {len(on_way)} crossings; each can be walked around. The dearest to lose is "
        f"{name}: {lost_time}."
    )


def _lost(row: Any) -> str:  # noqa: ANN401 - a record of any of the tables
    """Say how much longer, or that nothing is left."""
    if row["reachable"] != "yes":
        return "no way home" if row["reachable"] == "no" else "not known"
    return f"{float(row['extra_min']):+.0f} min"


def _signed(amount: str) -> str:
    """Put a plus before an amount that has no sign."""
    return amount if amount.startswith(("-", "\N{MINUS SIGN}")) else f"+{amount}"


def _row(number: int, row: dict[str, Any], units: Units) -> dict[str, str]:
    """Put one crossing of the way into words."""
    if row["reachable"] != "yes":
        left = "No way home is left on this map: stay, or ask for help."
        turn = left if row["reachable"] == "no" else f"Not known: {clean(row['verdict'])}."
        costs, met = [_lost(row)], ""
    else:
        into = f" into {clean(row['turn_into'])}" if row["turn_into"] else ""
        instead = f"; cross by {clean(row['instead'], longest=120)}" if row["instead"] else ""
        where = units.long(1000.0 * float(row["turn_km"]))
        at = f"{float(row['turn_lat']):.5f}, {float(row['turn_lon']):.5f}"
        turn = f"Turn at {where} ({at}){into}{instead}."
        costs = [
            _lost(row),
            _signed(units.long(1000.0 * float(row["extra_km"]))),
            f"{_signed(units.height(float(row['extra_ascent_m'])))} climb",
            f"{float(row['extra_dark_min']):+.0f} min dark",
            f"home {datetime.fromisoformat(row['arrive']):%H:%M}",
        ]
        if float(row["water_short_l"]) > 0.0:
            costs.append(f"water short {units.volume(1000.0 * float(row['water_short_l']))}")
        if float(row["energy_short_kcal"]) > 0.0:
            costs.append(f"food short {energy(float(row['energy_short_kcal']))}")
        if row["next_refill"]:
            along = units.long(1000.0 * float(row["next_refill_km"]))
            costs.append(f"next water {clean(row['next_refill'])} at {along}")
        lost = float(row["met_extra_min"])
        met = f"{lost:+.0f} min" if math.isfinite(lost) else "no way"
    return {
        "number": str(number),
        "name": clean(row["crossing"]),
        "spans": clean(row["spans"]),
        "along": f"{1000.0 * float(row['along_km']) / units.long_m:.1f}",
        "turn": turn,
        "lost": costs[0],
        "costs": ", ".join(costs[1:]),
        "met": met,
    }


def _cut(detours: Detours) -> str:
    if detours.cut is None:
        return "Home is reached without any bridge or ford: losing them all cuts nobody off."
    if not detours.cut:
        return "There is no way home to begin with."
    names = ", ".join(clean(name) for name in detours.cut)
    count = len(detours.cut)
    if count == 1:
        return f"The loss of {names} alone cuts home off."
    sure = "No smaller set does" if detours.cut_is_smallest else "A smaller set may do so too"
    return f"Home is cut off only when all of these {count} are lost: {names}. {sure}."


def _dearest(detours: Detours, units: Units) -> list[list[str]]:
    """Name the streets that are dearest to find blocked, by stretch."""
    table = detours.blockages
    if table.empty:
        return []
    stretch = (table["street"] != table["street"].shift()).cumsum()
    rows = []
    for _, part in table.groupby(stretch, sort=False):
        met = float(part["met_extra_min"].max())
        from_m, to_m = (1000.0 * float(part[c].iloc[i]) for c, i in (("from_km", 0), ("to_km", -1)))
        rows.append((met, from_m, to_m, clean(part["street"].iloc[0]) or "unnamed way"))
    rows.sort(key=lambda row: (-row[0], row[1]))
    return [
        [
            f"{from_m / units.long_m:.1f} to {to_m / units.long_m:.1f}",
            name,
            f"up to {met:.0f} min" if math.isfinite(met) else "no way around",
        ]
        for met, from_m, to_m, name in rows[:DEAREST_STREETS]
    ]


def _other(number: int, row: Any, units: Units) -> list[str]:  # noqa: ANN401 - a record
    return [
        str(number),
        f"{float(row['extra_min']):+.0f} min",
        _signed(units.long(1000.0 * float(row["extra_km"]))),
        f"{float(row['shared_pct']):.0f} %",
        _signed(units.height(float(row["extra_ascent_m"]))),
        f"{float(row['dark_min']):.0f} min",
        units.cups(1000.0 * float(row["water_short_l"])),
        clean(row["bridges"], longest=160),
        clean(row["verdict"]),
    ]
