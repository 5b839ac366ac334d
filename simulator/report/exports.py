"""Whose data the tables are made from: a small text beside files that have no place for a credit.

A CSV holds a heading and rows, and nothing else (RFC 4180): a line of credit in it would be read as
one more row. So the credit stands in one file beside all tables of a folder.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
import re
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import pandas as pd

from simulator.arrays import Floats
from simulator.errors import InputError
from simulator.files import csv_text
from simulator.home.hazards import Hazard
from simulator.home.records import document
from simulator.report.figures.profile import is_known, unknown_spans
from simulator.report.paper.sheet import sheet_of
from simulator.report.subject import DrawnWalk, Track, hour_letter
from simulator.report.tables import (
    attribution_of,
    bridge_spans,
    care_feature,
    heights_known,
    places_of,
)
from simulator.report.water import never_dry_feature
from simulator.report.words import clean

DEGREE_DIGITS = 6
"""About 0.1 m; RFC 7946 section 11.2 calls six decimals a reasonable choice."""

SUMMARY = "summary.json"
"""The document of a walk's set of files."""

SUMMARY_DIGITS = 6
"""Decimals kept in summary.json: far finer than any model, and the same on every machine."""

HOUR_DIGITS = {
    "lat": 5,
    "lon": 5,
    "distance_km": 2,
    "distance_so_far_km": 2,
    "next_water_km": 2,
    "speed_km_h": 1,
    "light_left_h": 2,
    "light_short_h": 2,
    "body_mass_loss_pct": 1,
    "sun_elevation_deg": 1,
    "rain_mm": 1,
    "air_c": 1,
    "felt_c": 1,
}
"""Decimals in hours.csv, by what the models can know; `SUFFIX_DIGITS` serves the rest."""

SUFFIX_DIGITS = {"_min": 1, "_kcal": 0, "_ml": 0, "_m": 0, "_clo": 2}

REFILL_DIGITS = {
    "lat": 6,
    "lon": 6,
    "along_km": 2,
    "off_m": 0,
    "litres": 2,
    "next_water_km": 2,
    "next_water_ml": 0,
    "works_share": 2,
}

GPX_SPACE = "http://www.topografix.com/GPX/1/1"
GPX_SCHEMA = "http://www.topografix.com/GPX/1/1/gpx.xsd"
XSI_SPACE = "http://www.w3.org/2001/XMLSchema-instance"


def hours_csv(walk: DrawnWalk) -> str:
    """Give the ledger as CSV."""
    table = walk.hours
    digits = {
        name: HOUR_DIGITS.get(
            name, next((d for end, d in SUFFIX_DIGITS.items() if name.endswith(end)), 3)
        )
        for name in table.columns
    }
    return _csv(table, digits)


def parquet(table: pd.DataFrame, *, attribution: str) -> bytes:
    """Give a table as Parquet, in full precision."""
    if find_spec("pyarrow") is None:
        where = "choices.also"
        raise InputError(where, "found 'parquet', which needs pyarrow; install walkhome[parquet]")
    import pyarrow as pa
    import pyarrow.parquet as pq

    made = pa.Table.from_pandas(table, preserve_index=False)
    told = {**(made.schema.metadata or {}), b"attribution": attribution.encode()}
    stream = io.BytesIO()
    pq.write_table(made.replace_schema_metadata(told), stream)
    return stream.getvalue()


def refills_csv(walk: DrawnWalk) -> str:
    """Give every refill, shelter and help place within reach as CSV."""
    table = places_of(walk)
    shown = table.assign(gives=[", ".join(words) for words in table["given"]])
    return _csv(shown[list(walk.refills.columns)], REFILL_DIGITS)


def _csv(table: pd.DataFrame, digits: dict[str, int]) -> str:
    plain = table.astype(object).where(table.notna(), None)
    for name in table.select_dtypes("datetimetz").columns:
        plain[name] = [when.isoformat() for when in table[name]]
    return csv_text(list(table.columns), plain.itertuples(index=False, name=None), decimals=digits)


def summary_json(walk: DrawnWalk, *, files: Mapping[str, bytes] | None = None) -> str:
    """Give the summary as JSON with sorted keys and the fingerprints of the files of its set."""
    sums = {
        name: hashlib.sha256(content).hexdigest()
        for name, content in (files or {}).items()
        if name != SUMMARY
    }
    return json_text(document(replace(walk.facts, files=sums or None)))


def json_text(value: object) -> str:
    """Write JSON that is the same on every machine.

    Parameters
    ----------
    value : object
        Dicts, sequences, numbers (numpy's too), text, dates, None.

    Returns
    -------
    str
        Sorted keys, floats to `SUMMARY_DIGITS` decimals, NaN and infinities as null (RFC 8259
        section 6 has neither). Characters that hide or turn their neighbours are written as
        escapes: the same text to a program, and harmless where a person looks.
    """
    text = json.dumps(_plain(value), sort_keys=True, indent=2, ensure_ascii=False, allow_nan=False)
    return _HIDING.sub(lambda found: json.dumps(found[0])[1:-1], text) + "\n"


_HIDING = re.compile(
    "[\x7f-\x9f\xad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ud800-\udfff]"
)
"""Controls, marks of direction and of zero width, line separators, halves of characters."""


def _plain(value: object) -> object:
    if isinstance(value, np.ndarray | np.generic):
        return _plain(value.tolist())
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, float):
        return round(value, SUMMARY_DIGITS) + 0.0 if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int):
        return value
    # A lone surrogate cannot be written as UTF-8 (RFC 8259 section 8.1).
    return str(value).encode("utf-8", "replace").decode("utf-8")


def route_geojson(walk: DrawnWalk) -> str:
    """Give the way, its hours, bridges, hazards and places as GeoJSON (RFC 7946)."""
    track = Track(walk)
    heights = heights_known(walk, track)

    def position(along_m: Floats) -> list[list[float]]:
        points = track.lonlat_at(along_m).round(DEGREE_DIGITS)
        if not heights:
            return [list(point) for point in points.tolist()]
        up = np.interp(along_m, track.along_m, track.height_m).round(1)
        return [list(point) for point in np.column_stack([points, up]).tolist()]

    way = position(track.along_m)
    time = walk.facts.time
    features = [
        _feature(
            "LineString",
            way if len(way) > 1 else way * 2,
            {
                "what": "way",
                "depart": time.depart.isoformat(),
                "arrive": time.arrive.isoformat(),
                "distance_km": round(track.length_m / 1000.0, 3),
                "verdict": walk.facts.verdict.level,
            },
        ),
        _feature("Point", way[0], {"what": "start", "time": time.depart.isoformat()}),
        _feature("Point", way[-1], {"what": "home", "time": time.arrive.isoformat()}),
    ]
    for index, when in enumerate(track.whole_hours_s(), start=1):
        along = float(track.along_at(np.array([when]))[0])
        features.append(
            _feature(
                "Point",
                position(np.array([along]))[0],
                {
                    "what": "hour",
                    "hour": hour_letter(index),
                    "time": track.clock(float(when)).isoformat(),
                    "along_km": round(along / 1000.0, 3),
                },
            )
        )
    for start, end, name in bridge_spans(walk):
        within = track.along_m[(track.along_m > start) & (track.along_m < end)]
        features.append(
            _feature(
                "LineString",
                position(np.concatenate([[start], within, [end]])),
                {
                    "what": "bridge",
                    "name": name,
                    "along_km": round(start / 1000.0, 3),
                    "length_m": round(end - start, 1),
                },
            )
        )
    for start, end in unknown_spans(walk, track):
        within = track.along_m[(track.along_m > start) & (track.along_m < end)]
        features.append(
            _feature(
                "LineString",
                position(np.concatenate([[start], within, [end]])),
                {
                    "what": "height unknown",
                    "along_km": round(start / 1000.0, 3),
                    "length_m": round(end - start, 1),
                },
            )
        )
    for one in walk.facts.hazards:
        begins, ends = one.from_km * 1000.0, one.to_km * 1000.0
        within = track.along_m[(track.along_m > begins) & (track.along_m < ends)]
        last = [ends] if ends > begins else []
        features.append(care_feature(one, position(np.concatenate([[begins], within, last]))))
    features.extend(_place_feature(row) for row in places_of(walk).to_dict("records"))
    lonlat = np.column_stack([track.lon, track.lat])
    if other := never_dry_feature(walk):
        features.append(other)
        lonlat = np.vstack([lonlat, other["geometry"]["coordinates"]])
    (west, south), (east, north) = lonlat.min(axis=0), lonlat.max(axis=0)
    box = [round(float(edge), DEGREE_DIGITS) for edge in (west, south, east, north)]
    return json_text(
        {
            "type": "FeatureCollection",
            "bbox": box,
            "features": features,
            "attribution": attribution_of(walk),
        }
    )


def _feature(kind: str, coordinates: object, properties: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": kind, "coordinates": coordinates},
        "properties": properties,
    }


def _place_feature(row: dict[Hashable, Any]) -> dict[str, Any]:
    return _feature(
        "Point",
        [round(float(row["lon"]), DEGREE_DIGITS), round(float(row["lat"]), DEGREE_DIGITS)],
        {
            "what": "place",
            "kind": clean(row["kind"]),
            "name": clean(row["name"]),
            "osm": clean(row["osm"]),
            "gives": list(row["given"]),
            "open": str(row["open"]),
            "hours": clean(row["hours"]),
            "along_km": round(float(row["along_km"]), 3),
            "off_m": round(float(row["off_m"]), 0),
            "used": bool(row["used"]),
            "needs_treatment": bool(row["needs_treatment"]),
            "needs_key": bool(row["needs_key"]),
            "why": clean(row["why"]),
        },
    )


def route_gpx(walk: DrawnWalk) -> str:
    """Give the way as a GPX 1.1 track with times; hours, places and hazards as waypoints."""
    track = Track(walk)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<gpx version="1.1" creator="walkhome" xmlns="{GPX_SPACE}" xmlns:xsi="{XSI_SPACE}"',
        f' xsi:schemaLocation="{GPX_SPACE} {GPX_SCHEMA}">',
        _gpx_metadata(walk, track),
    ]
    times = track.whole_hours_s()
    lines.append(_waypoint(walk, track, 0.0, 0.0, f"Start, hour {hour_letter(0)}", "start"))
    for index, when in enumerate(times, start=1):
        along = float(track.along_at(np.array([when]))[0])
        name = f"Hour {hour_letter(index)}, {track.clock(float(when)):%H:%M}"
        lines.append(_waypoint(walk, track, along, float(when), name, "hour"))
    lines.extend(_gpx_place(row) for row in places_of(walk).to_dict("records"))
    lines.extend(_gpx_care(one) for one in walk.facts.hazards)
    lines.append(_waypoint(walk, track, track.length_m, track.duration_s, "Home", "home"))
    lines.append(f"<trk>{_tag('name', clean(walk.plan.title) or 'Walk home')}<trkseg>")
    known = is_known(walk, track, track.along_m)
    for lon, lat, height, elapsed, is_height in zip(
        track.lon, track.lat, track.height_m, track.elapsed_s, known, strict=True
    ):
        ele = f"<ele>{height:.1f}</ele>" if is_height else ""
        lines.append(
            f'<trkpt lat="{lat:.{DEGREE_DIGITS}f}" lon="{lon:.{DEGREE_DIGITS}f}">{ele}'
            f"<time>{_utc(track.clock(float(elapsed)))}</time></trkpt>"
        )
    lines.append("</trkseg></trk>\n</gpx>\n")
    return "\n".join(lines)


def _utc(when: datetime) -> str:
    return when.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _tag(name: str, text: str) -> str:
    return f"<{name}>{escape(text)}</{name}>" if text else ""


def _gpx_metadata(walk: DrawnWalk, track: Track) -> str:
    """Name, description, copyright and bounds, in the schema's order."""
    sheet = sheet_of(walk)
    owner = attribution_of(walk)
    copyright_tag = f"<copyright author={quoteattr(owner)}/>" if owner else ""
    bounds = (
        f'<bounds minlat="{track.lat.min():.6f}" minlon="{track.lon.min():.6f}" '
        f'maxlat="{track.lat.max():.6f}" maxlon="{track.lon.max():.6f}"/>'
    )
    return (
        f"<metadata>{_tag('name', sheet.title)}"
        f"{_tag('desc', f'{sheet.headline} {sheet.sentence} {sheet.standing}')}"
        f"{copyright_tag}{bounds}</metadata>"
    )


def _waypoint(
    walk: DrawnWalk, track: Track, along_m: float, elapsed_s: float, name: str, kind: str
) -> str:
    at = np.array([along_m])
    lon, lat = track.lonlat_at(at)[0]
    height = float(np.interp(along_m, track.along_m, track.height_m))
    ele = f"<ele>{height:.1f}</ele>" if is_known(walk, track, at)[0] else ""
    return (
        f'<wpt lat="{lat:.{DEGREE_DIGITS}f}" lon="{lon:.{DEGREE_DIGITS}f}">{ele}'
        f"<time>{_utc(track.clock(elapsed_s))}</time>{_tag('name', name)}{_tag('type', kind)}</wpt>"
    )


def _gpx_care(one: Hazard) -> str:
    """Give a place to take care at, where it begins, as a waypoint."""
    street = clean(one.street)
    name = f"Care {one.mark}: {clean(one.words)}{f' ({street})' if street else ''}"
    until = one.to_km - one.from_km
    advice = clean(one.advice) + (f", for {until:.1f} km" if until >= SHORTEST_KM else "")
    return (
        f'<wpt lat="{one.lat:.{DEGREE_DIGITS}f}" '
        f'lon="{one.lon:.{DEGREE_DIGITS}f}">{_tag("name", name)}'
        f"{_tag('desc', advice)}{_tag('type', 'take care')}</wpt>"
    )


SHORTEST_KM = 0.05
"""Shorter stretches are told as points [km]."""


def _gpx_place(row: dict[Hashable, Any]) -> str:
    name, kind = clean(row["name"]), clean(row["kind"])
    needs = [
        word
        for key, word in (("needs_treatment", "treat the water"), ("needs_key", "needs a key"))
        if bool(row[key])
    ]
    words = [
        f"{float(row['off_m']):.0f} m off the way at km {float(row['along_km']):.1f}",
        f"gives {', '.join(row['given'])}",
        f"open on arrival: {row['open']}",
        *needs,
        f"planned stop {row['mark']}" if row["used"] else "not a planned stop",
    ]
    return (
        f'<wpt lat="{float(row["lat"]):.{DEGREE_DIGITS}f}" '
        f'lon="{float(row["lon"]):.{DEGREE_DIGITS}f}">{_tag("name", name or kind)}'
        f"{_tag('desc', '; '.join(words))}{_tag('type', kind)}</wpt>"
    )


CREDITS: Final = "credits.txt"
"""Name of the file."""

HEADING: Final = (
    "Whose data these tables are made from. Keep this file with them, and the credit on what you\n"
    "publish from them. All else that is made from the map carries its credit inside.\n"
)
"""What stands at its top."""

NOBODY: Final = "Map: its source asks for no credit."
"""What is said where the map names nobody."""

CONSTANT_WEATHER: Final = "Weather: written in the plan."
"""What is said where no weather file is named."""

LARGEST_BYTES: Final = 100_000
"""A file larger than this is none of ours, and is not read."""

TABLE: Final = re.compile(r"\w+\.csv")
"""Name of a table."""

SEPARATOR: Final = "; "
"""Between the credits of map and heights, as the streets carry them."""

LONGEST: Final = 400
"""Characters kept of one credit."""


def weather_credit(plan: Any) -> str:  # noqa: ANN401 - the plan's own model lives in an earlier room
    """Say where the weather comes from."""
    file = plan.weather.file
    return CONSTANT_WEATHER if file is None else f"Weather: {clean(Path(file).name)}"


def with_credits(
    contents: Mapping[str, bytes], folder: Path, *, attribution: str, weather: str
) -> dict[str, bytes]:
    """Put the credits beside files that are about to be written."""
    tables = [name for name in contents if TABLE.fullmatch(name)]
    if not tables:
        return dict(contents)
    text = credits_text(tables, attribution=attribution, weather=weather, before=_before(folder))
    return {**contents, CREDITS: text.encode()}


def credits_text(tables: Sequence[str], *, attribution: str, weather: str, before: str = "") -> str:
    """Give the content of `CREDITS`."""
    told = [clean(credit, longest=LONGEST) for credit in attribution.split(SEPARATOR)]
    lines = [line for line in told if line] or [NOBODY]
    blocks = {frozenset(tables): [*lines, clean(weather, longest=LONGEST)]}
    for block in before.split("\n\n")[1:]:
        heading, _, said = block.partition("\n")
        named = frozenset(clean(heading).removesuffix(":").split(", "))
        older = said and all(map(TABLE.fullmatch, named))
        if older and not named & frozenset(tables):
            blocks[named] = [clean(line, longest=LONGEST) for line in said.splitlines()]
    told_of = sorted((", ".join(sorted(named)), said) for named, said in blocks.items())
    return "\n".join(
        [
            HEADING,
            *(
                "\n".join([f"{names}:", *(f"  {one}" for one in said), ""])
                for names, said in told_of
            ),
        ]
    )


def _before(folder: Path) -> str:
    """Read what the folder says already; nothing where it says nothing that can be read."""
    path = folder / CREDITS
    try:
        if path.is_file() and path.stat().st_size <= LARGEST_BYTES:
            return path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
    return ""
