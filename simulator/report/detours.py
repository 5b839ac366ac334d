"""The files of the detours command: tables, GeoJSON, and pages that go with the timeline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from simulator import files
from simulator.arrays import Floats
from simulator.home.records import document
from simulator.report.exports import DEGREE_DIGITS, json_text, weather_credit, with_credits
from simulator.report.figures.detours import DetoursLike, blockage_profile, crossings_map
from simulator.report.figures.style import svg_text
from simulator.report.paper.press import Page, typeset
from simulator.report.paper.sheet import STANDING_CAUTION
from simulator.report.tables import attribution_of, units_of
from simulator.report.text import files_written, item, loud, wrapped
from simulator.report.words import clean
from simulator.units import Units, duration, energy

MOST_ROWS = 24
"""Crossings printed; all of them are in detours.csv."""

MOST_PAIRS = 12
"""Pairs printed."""

MORE_MIN = 0.5
"""A pair is printed when it costs this much more than both losses added up [min]."""

DEAREST_STREETS = 6
"""Streets named as the dearest to find blocked."""


def sheet_data(detours: DetoursLike) -> dict[str, Any]:
    """Put what was found into words for the printed pages."""
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
        return f"The way uses one crossing, {name}. A way round it takes {lost_time}."
    return (
        f"The way uses {len(on_way)} crossings; each has a way round. The longest is round "
        f"{name}: {lost_time}."
    )


def _lost(row: Any) -> str:  # noqa: ANN401 - a record of any of the tables
    """Say how much longer, or that nothing is left."""
    if row["reachable"] != "yes":
        return "no way home" if row["reachable"] == "no" else "not known"
    return _more(float(row["extra_min"]))


def _more(minutes: float) -> str:
    """Say minutes more or fewer as a person does, e.g. ``+7 h 16 min``."""
    sign = "\N{MINUS SIGN}" if minutes <= -0.5 else "+"  # noqa: PLR2004 - rounds to none
    return f"{sign}{duration(abs(minutes) / 60.0)}"


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
            f"{_more(float(row['extra_dark_min']))} in the dark",
            f"home {datetime.fromisoformat(row['arrive']):%H:%M}",
        ]
        if float(row["water_short_l"]) > 0.0:
            costs.append(f"water short {units.volume(1000.0 * float(row['water_short_l']))}")
        if float(row["energy_short_kcal"]) > 0.0:
            costs.append(f"food short {energy(float(row['energy_short_kcal']))}")
        if row["next_refill"]:
            along = units.long(1000.0 * float(row["next_refill_km"]))
            costs.append(f"next water {clean(row['next_refill'])} at {along}")
        if row["hazards"]:
            costs.append(f"take care: {clean(row['hazards'], longest=160)}")
        lost = float(row["met_extra_min"])
        met = _more(lost) if math.isfinite(lost) else "no way"
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


def _cut(detours: DetoursLike) -> str:
    if detours.cut is None:
        return "Home is reached without any bridge or ford: closing them all leaves a way."
    if not detours.cut:
        return "There is no way home to begin with."
    names = ", ".join(clean(name) for name in detours.cut)
    count = len(detours.cut)
    if count == 1:
        return f"Closing {names} alone leaves no way home."
    sure = "No fewer would do" if detours.cut_is_smallest else "Fewer may do so too"
    return f"Only when all of these {count} are closed is no way home left: {names}. {sure}."


def _dearest(detours: DetoursLike, units: Units) -> list[list[str]]:
    """Name the streets that are dearest to find blocked, by stretch."""
    table = detours.blockages
    if table.empty:
        return []
    stretch = (table["street"] != table["street"].shift()).cumsum()
    rows = []
    for _, part in table.groupby(stretch, sort=False):
        met = float(part["met_extra_min"].max())
        from_m, to_m = (1000.0 * float(part[c].iloc[i]) for c, i in (("from_km", 0), ("to_km", -1)))
        rows.append((met, from_m, to_m, clean(part["street"].iloc[0]) or "a street without a name"))
    rows.sort(key=lambda row: (-row[0], row[1]))
    return [
        [
            f"{from_m / units.long_m:.1f} to {to_m / units.long_m:.1f}",
            name,
            f"up to {duration(met / 60.0)}" if math.isfinite(met) else "no way around",
        ]
        for met, from_m, to_m, name in rows[:DEAREST_STREETS]
    ]


def _other(number: int, row: Any, units: Units) -> list[str]:  # noqa: ANN401 - a record
    return [
        str(number),
        _more(float(row["extra_min"])),
        _signed(units.long(1000.0 * float(row["extra_km"]))),
        f"{float(row['shared_pct']):.0f} %",
        _signed(units.height(float(row["extra_ascent_m"]))),
        duration(float(row["dark_min"]) / 60.0),
        units.cups(1000.0 * float(row["water_short_l"])),
        clean(row["bridges"], longest=160),
        clean(row["verdict"]),
    ]


MOST_LINES = 12
"""Crossings printed; detours.csv has them all."""


def detours_text(detours: DetoursLike, *, written: Sequence[Path] = ()) -> str:
    """Lay out what each closed crossing costs.

    Parameters
    ----------
    detours : DetoursLike
        What ``find_detours`` gave.
    written : sequence of pathlib.Path
        Files to name at the end.

    Returns
    -------
    str
        Lines no wider than the window, without the last line's end; file names are not broken.
    """
    sheet = sheet_data(detours)
    lines = wrapped(sheet["headline"])
    if sheet["rows"]:
        lines += [""]
        for row in sheet["rows"][:MOST_LINES]:
            found = f", {row['met']} when found out there" if row["met"] else ""
            place = f"{sheet['long_unit']} {row['along']}"
            lines += item(f"{row['name']}, {place}: {row['lost']} when known before{found}")
        left = len(sheet["rows"]) - MOST_LINES + sheet["rows_left_out"]
        lines += [f"    {left} more in detours.csv"] if left > 0 else []
        dearest = sheet["rows"][0]
        lines += ["", *wrapped(f"{dearest['name']} closed: {dearest['turn']}")]
    lines += ["", *wrapped(sheet["cut"])]
    for first, second, lost in sheet["pairs"][:3]:
        lines += item(f"{first} and {second} both closed: {lost} of walking")
    for number, longer, *_, bridges, verdict in sheet["others"]:
        over = f" over {bridges}" if bridges else ""
        lines += item(f"other way {number}: {longer}{over}; {verdict}")
    lines += loud(sheet["notes"])
    lines += files_written(written)
    return "\n".join(lines)


DIGITS = {"lat": 6, "lon": 6, "turn_lat": 6, "turn_lon": 6, "water_short_l": 2}
"""Decimals of columns whose unit does not tell them; `SUFFIX_DIGITS` serves the rest."""

SUFFIX_DIGITS = {"_min": 1, "_km": 2, "_m": 0, "_kcal": 0, "_pct": 0, "_l": 2}


def write_detours(detours: DetoursLike, folder: Path, page: Page | None = None) -> list[Path]:
    """Write every file of the detours command.

    Parameters
    ----------
    detours : DetoursLike
        What ``find_detours`` gave.
    folder : pathlib.Path
        Where the files shall be; made when it does not exist.
    page : {"A4", "Letter"}, optional
        Paper; the plan's choice when left out.

    Returns
    -------
    list of pathlib.Path
        The files, the table of crossings first.

    Raises
    ------
    InputError
        When nothing can be written there.
    """
    folder = Path(folder)
    files.require_writable_folder(folder)
    contents: dict[str, bytes] = {
        "detours.csv": table_csv(detours.crossings).encode(),
        "detours.geojson": detours_geojson(detours).encode(),
        "detours.json": json_text(detours_summary(detours)).encode(),
        "blockages.csv": blockages_csv(detours).encode(),
        "detours.pdf": detours_pdf(detours, page=page or detours.walk.plan.choices.page),
    }
    contents = with_credits(
        contents,
        folder,
        attribution=attribution_of(detours.walk),
        weather=weather_credit(detours.walk.plan),
    )
    with files.staged(folder) as stage:
        for name, content in contents.items():
            files.write_bytes(stage / name, content)
    return [folder / name for name in contents]


def table_csv(table: pd.DataFrame) -> str:
    """Give a table as CSV; what is not known is an empty cell."""
    plain = table.astype(object).where(table.notna() & ~np.isinf(_numbers(table)), None)
    digits = {
        name: DIGITS.get(name, next((d for e, d in SUFFIX_DIGITS.items() if name.endswith(e)), 3))
        for name in table.columns
    }
    return files.csv_text(
        list(table.columns), plain.itertuples(index=False, name=None), decimals=digits
    )


def blockages_csv(detours: DetoursLike) -> str:
    """Give what a blockage of each street costs as CSV."""
    table = detours.blockages
    around = np.where(np.isinf(table["known_extra_min"].to_numpy(np.float64)), "no", "yes")
    return table_csv(table.assign(way_around=around))


def _numbers(table: pd.DataFrame) -> Floats:
    """Give the numbers of a table, NaN for text."""
    return np.asarray(
        table.apply(lambda column: pd.to_numeric(column, errors="coerce")).to_numpy(np.float64)
    )


def detours_summary(detours: DetoursLike) -> dict[str, Any]:
    """Give everything found as plain values, for detours.json."""
    summary = document(detours.walk.facts)
    return {
        "schema": "walkhome detours 1",
        "title": detours.walk.plan.title,
        "inputs": summary["inputs"],
        "seed": summary["seed"],
        "open_way": {"route": summary["route"], "time": summary["time"]},
        "crossings": detours.crossings.to_dict("records"),
        "pairs": detours.pairs.to_dict("records"),
        "fewest_that_cut_home_off": None if detours.cut is None else list(detours.cut),
        "no_smaller_set_exists": detours.cut_is_smallest,
        "alternatives": detours.alternatives.to_dict("records"),
        "notes": list(detours.notes),
        "attribution": attribution_of(detours.walk),
    }


def detours_geojson(detours: DetoursLike) -> str:
    """Give the way, its crossings, the ways around and the other ways as GeoJSON (RFC 7946)."""
    features = [_line(detours.walk.path_lonlat, {"what": "way"})]
    cut = set(detours.cut or ())
    for row in detours.crossings.to_dict("records"):
        about = {str(key): _said(value) for key, value in row.items() if key not in {"lat", "lon"}}
        about["in_fewest_that_cut_home_off"] = row["crossing"] in cut
        features.append(_point(row["lon"], row["lat"], {"what": "crossing", **about}))
        name = clean(row["crossing"])
        if row["crossing"] in detours.lonlat:
            around = {"what": "around", "crossing": name, "extra_min": _said(row["extra_min"])}
            features.append(_line(detours.lonlat[row["crossing"]], around))
            turn = {"what": "turn", "crossing": name, "into": clean(row["turn_into"])}
            features.append(_point(row["turn_lon"], row["turn_lat"], turn))
    for number, walk in enumerate(detours.other_walks, 1):
        features.append(_line(walk.path_lonlat, {"what": "other way", "number": number}))
    return json_text(
        {
            "type": "FeatureCollection",
            "features": features,
            "attribution": attribution_of(detours.walk),
        }
    )


def _said(value: object) -> object:
    """Make one property: clean text, rounded numbers, null for what is not known."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, float | np.floating):
        return round(float(value), 3) if math.isfinite(value) else None
    return value


def _line(lonlat: Floats, about: dict[str, Any]) -> dict[str, Any]:
    points = np.asarray(lonlat, np.float64).round(DEGREE_DIGITS).tolist()
    return _feature({"type": "LineString", "coordinates": points}, about)


def _point(lon: float, lat: float, about: dict[str, Any]) -> dict[str, Any]:
    at = [round(float(lon), DEGREE_DIGITS), round(float(lat), DEGREE_DIGITS)]
    return _feature({"type": "Point", "coordinates": at}, about)


def _feature(geometry: dict[str, Any], about: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": about}


def detours_pdf(detours: DetoursLike, *, page: Page = "A4") -> bytes:
    """Typeset the pages that go with the timeline: if the bridge is closed, turn here."""
    return typeset(
        "detours.typ",
        sheet_data(detours),
        page=page,
        font=detours.walk.plan.choices.font,
        drawings={
            "map": svg_text(crossings_map(detours), prefix="map"),
            "profile": svg_text(blockage_profile(detours), prefix="profile"),
        },
    )
