"""The files of the detours command: tables, GeoJSON, and pages that go with the timeline."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from simulator import files
from simulator.report.content import attribution_of
from simulator.report.credits import weather_credit, with_credits
from simulator.report.detourfigures import (
    Detours,
    FloatArray,
    blockage_profile,
    crossings_map,
)
from simulator.report.detoursheet import sheet_data
from simulator.report.exports import DEGREE_DIGITS, json_text
from simulator.report.style import svg_text
from simulator.report.typeset import Page, typeset
from simulator.report.words import clean

DIGITS = {"lat": 6, "lon": 6, "turn_lat": 6, "turn_lon": 6, "water_short_l": 2}
"""Decimals of columns whose unit does not tell them; `SUFFIX_DIGITS` serves the rest."""

SUFFIX_DIGITS = {"_min": 1, "_km": 2, "_m": 0, "_kcal": 0, "_pct": 0, "_l": 2}


def write_detours(detours: Detours, folder: Path, page: Page | None = None) -> list[Path]:
    """Write every file of the detours command.

    Parameters
    ----------
    detours : Detours
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
    """Give a table as CSV; what is not known is an empty cell.

    Parameters
    ----------
    table : pandas.DataFrame
        Any of the tables of detours.

    Returns
    -------
    str
        Units are in the column names.
    """
    plain = table.astype(object).where(table.notna() & ~np.isinf(_numbers(table)), None)
    digits = {
        name: DIGITS.get(name, next((d for e, d in SUFFIX_DIGITS.items() if name.endswith(e)), 3))
        for name in table.columns
    }
    return files.csv_text(
        list(table.columns), plain.itertuples(index=False, name=None), decimals=digits
    )


def blockages_csv(detours: Detours) -> str:
    """Give what a blockage of each street costs as CSV.

    Parameters
    ----------
    detours : Detours
        What ``find_detours`` gave.

    Returns
    -------
    str
        One row a piece of street; ``way_around`` says no where the minutes are empty.
    """
    table = detours.blockages
    around = np.where(np.isinf(table["known_extra_min"].to_numpy(np.float64)), "no", "yes")
    return table_csv(table.assign(way_around=around))


def _numbers(table: pd.DataFrame) -> FloatArray:
    """Give the numbers of a table, NaN for text."""
    return np.asarray(
        table.apply(lambda column: pd.to_numeric(column, errors="coerce")).to_numpy(np.float64)
    )


def detours_summary(detours: Detours) -> dict[str, Any]:
    """Give everything found as plain values, for detours.json.

    Parameters
    ----------
    detours : Detours
        What ``find_detours`` gave.

    Returns
    -------
    dict
        Tables as lists of records; a number that is not known, or infinite, becomes null.
    """
    summary = detours.walk.summary
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


def detours_geojson(detours: Detours) -> str:
    """Give the way, its crossings, the ways around and the other ways as GeoJSON (RFC 7946).

    Parameters
    ----------
    detours : Detours
        What ``find_detours`` gave.

    Returns
    -------
    str
        A FeatureCollection; ``what`` is way, crossing, turn, around or other way.
    """
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


def _line(lonlat: FloatArray, about: dict[str, Any]) -> dict[str, Any]:
    points = np.asarray(lonlat, np.float64).round(DEGREE_DIGITS).tolist()
    return _feature({"type": "LineString", "coordinates": points}, about)


def _point(lon: float, lat: float, about: dict[str, Any]) -> dict[str, Any]:
    at = [round(float(lon), DEGREE_DIGITS), round(float(lat), DEGREE_DIGITS)]
    return _feature({"type": "Point", "coordinates": at}, about)


def _feature(geometry: dict[str, Any], about: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": about}


def detours_pdf(detours: Detours, *, page: Page = "A4") -> bytes:
    """Typeset the pages that go with the timeline: if the bridge is closed, turn here.

    Parameters
    ----------
    detours : Detours
        What ``find_detours`` gave.
    page : {"A4", "Letter"}
        Paper.

    Returns
    -------
    bytes
        A PDF file; tagged, fonts embedded, text selectable.

    Raises
    ------
    ValueError
        For paper of another name.
    """
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
