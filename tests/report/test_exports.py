"""Plain files: read back by other programs' rules.

GPX: the order of elements in the GPX 1.1 schema, restated below (`test_gpx_schema` asks the schema
itself), and GDAL's reader. GeoJSON: RFC 7946, and shapely. JSON: RFC 8259. CSV: RFC 4180.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pyogrio
import pytest
from shapely.geometry import shape
from shapely.validation import explain_validity

from simulator.home.records import document
from simulator.report.exports import (
    hours_csv,
    json_text,
    refills_csv,
    route_geojson,
    route_gpx,
    summary_json,
)
from tests.report.conftest import HOSTILE, FixtureWalk

GPX = "{http://www.topografix.com/GPX/1/1}"
XSI = "{http://www.w3.org/2001/XMLSchema-instance}"

# xsd:sequence of the complex types of gpx.xsd that are used here.
ORDER = {
    "gpx": ("metadata", "wpt", "rte", "trk", "extensions"),
    "metadata": ("name", "desc", "author", "copyright", "link", "time", "keywords", "bounds"),
    "wpt": (
        "ele",
        "time",
        "magvar",
        "geoidheight",
        "name",
        "cmt",
        "desc",
        "src",
        "link",
        "sym",
        "type",
    ),
    "trkpt": (
        "ele",
        "time",
        "magvar",
        "geoidheight",
        "name",
        "cmt",
        "desc",
        "src",
        "link",
        "sym",
        "type",
    ),
    "trk": ("name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"),
    "trkseg": ("trkpt",),
    "bounds": (),
    "copyright": ("year", "license"),
}


@pytest.mark.parametrize("name", ["walk", "hostile"])
def test_gpx_keeps_the_schemas_elements_order_and_types(
    name: str, request: pytest.FixtureRequest
) -> None:
    root = ET.fromstring(route_gpx(request.getfixturevalue(name)))  # noqa: S314 - our own file
    assert root.tag == f"{GPX}gpx"
    assert root.get("version") == "1.1"
    assert root.get("creator")
    space, place = root.attrib[f"{XSI}schemaLocation"].split()
    assert space == GPX.strip("{}")
    assert place.endswith("gpx.xsd")
    for element in root.iter():
        assert element.tag.startswith(GPX)
        kind = element.tag.removeprefix(GPX)
        inside = [child.tag.removeprefix(GPX) for child in element]
        allowed = ORDER.get(kind, ())
        assert set(inside) <= set(allowed), (kind, inside)
        assert inside == sorted(inside, key=allowed.index)
        if kind in {"wpt", "trkpt"}:
            # latitudeType -90..90, longitudeType -180..180 (exclusive above)
            assert -90.0 <= float(element.attrib["lat"]) <= 90.0
            assert -180.0 <= float(element.attrib["lon"]) < 180.0
        if kind == "time":
            assert element.text is not None
            assert element.text.endswith("Z")
            assert datetime.fromisoformat(element.text).tzinfo == UTC
        if kind == "copyright":
            assert element.get("author")


def test_no_file_gives_an_estimated_height_as_a_known_one(walk: FixtureWalk) -> None:
    known = np.ones(len(walk.segments), dtype=bool)
    known[10:20] = known[-5:] = False
    holed = replace(walk, segments=walk.segments.assign(height_known=known))
    root = ET.fromstring(route_gpx(holed))  # noqa: S314 - our own file
    has = [point.find(f"{GPX}ele") is not None for point in root.iter(f"{GPX}trkpt")]
    # A point between a known step and an unknown one is known; the end of the way is not.
    wanted = np.ones(known.size + 1, dtype=bool)
    wanted[11:20] = wanted[-5:] = False
    assert has == wanted.tolist()
    home = list(root.iter(f"{GPX}wpt"))[-1]
    assert home.findtext(f"{GPX}name") == "Home"
    assert home.find(f"{GPX}ele") is None
    marked = [
        each["properties"]
        for each in json.loads(route_geojson(holed))["features"]
        if each["properties"]["what"] == "height unknown"
    ]
    starts = walk.segments["distance_m"].to_numpy()[[10, -5]] / 1000.0
    assert [each["along_km"] for each in marked] == pytest.approx(starts.tolist(), abs=1e-3)
    assert "height unknown" not in route_geojson(walk)


def test_gpx_track_runs_in_time_from_departure_to_arrival(walk: FixtureWalk) -> None:
    root = ET.fromstring(route_gpx(walk))  # noqa: S314 - our own file
    times = [
        datetime.fromisoformat(str(point.findtext(f"{GPX}time")))
        for point in root.iter(f"{GPX}trkpt")
    ]
    assert times == sorted(times)
    assert times[0] == datetime.fromisoformat(walk.summary["time"]["depart"])
    assert len(times) == len(walk.segments) + 1


def test_gdal_reads_the_gpx_as_one_track_with_its_waypoints(
    walk: FixtureWalk, tmp_path: Path
) -> None:
    path = tmp_path / "route.gpx"
    path.write_text(route_gpx(walk), encoding="utf-8")
    layers = {str(name) for name, _ in pyogrio.list_layers(path)}
    assert {"waypoints", "tracks", "track_points"} <= layers
    tracks = pyogrio.read_dataframe(path, layer="tracks")
    assert tracks["name"].tolist() == [walk.plan.title]
    coordinates = np.array(tracks.geometry[0].geoms[0].coords)
    np.testing.assert_allclose(coordinates[:, :2], walk.path_lonlat, atol=1e-6)
    waypoints = pyogrio.read_dataframe(path, layer="waypoints")
    care = walk.summary["hazards"]
    assert len(waypoints) == len(walk.refills) + len(walk.hours) - 1 + 2 + len(care)
    told = waypoints[waypoints["type"] == "take care"]
    assert [name.split(":")[0] for name in told["name"]] == [f"Care {one['mark']}" for one in care]


@pytest.mark.parametrize("name", ["walk", "hostile"])
def test_geojson_keeps_to_rfc_7946(name: str, request: pytest.FixtureRequest) -> None:
    walk = request.getfixturevalue(name)
    document = json.loads(route_geojson(walk))
    assert document["type"] == "FeatureCollection"
    assert "crs" not in document  # section 4: WGS 84 always
    west, south, east, north = document["bbox"]  # section 5
    for feature in document["features"]:
        assert set(feature) == {"type", "geometry", "properties"}  # section 3.2
        geometry = shape(feature["geometry"])
        assert explain_validity(geometry) == "Valid Geometry" or not geometry.is_simple
        assert geometry.has_z or feature["properties"]["what"] == "place"
    way = shape(document["features"][0]["geometry"])
    assert way.geom_type == "LineString"
    assert west <= way.bounds[0] <= way.bounds[2] <= east
    assert south <= way.bounds[1] <= way.bounds[3] <= north
    np.testing.assert_allclose(np.array(way.coords)[:, :2], walk.path_lonlat, atol=1e-6)
    whats = [feature["properties"]["what"] for feature in document["features"]]
    assert whats.count("bridge") == 2
    assert whats.count("place") == len(walk.refills)


def test_without_a_raster_no_height_is_written(walk: FixtureWalk) -> None:
    streets = walk.streets
    flat = replace(walk, streets=type(streets)(**(vars(streets) | {"terrain": None})))
    assert "<ele>" in route_gpx(walk)
    assert "<ele>" not in route_gpx(flat)
    way = json.loads(route_geojson(flat))["features"][0]["geometry"]["coordinates"]
    assert {len(position) for position in way} == {2}


@pytest.mark.parametrize("give", [hours_csv, refills_csv])
def test_csv_reads_back_with_the_columns_of_the_table(
    give: Callable[[FixtureWalk], str], walk: FixtureWalk
) -> None:
    table = walk.hours if give is hours_csv else walk.refills
    rows = list(csv.DictReader(io.StringIO(give(walk))))
    assert len(rows) == len(table)
    assert list(rows[0]) == list(table.columns)


def test_hours_csv_keeps_to_what_the_table_says(walk: FixtureWalk) -> None:
    rows = list(csv.DictReader(io.StringIO(hours_csv(walk))))
    for name, tolerance in (
        ("water_lost_ml", 0.5),
        ("distance_so_far_km", 0.005),
        ("felt_c", 0.05),
        ("moving_min", 0.05),
    ):
        read = np.array([float(row[name]) for row in rows])
        np.testing.assert_allclose(read, walk.hours[name], atol=tolerance + 1e-9)
    assert [row["daylight"] for row in rows] == walk.hours["daylight"].tolist()


def test_no_cell_can_start_a_formula_or_break_the_row(hostile: FixtureWalk) -> None:
    # OWASP, "CSV Injection": cells that begin with = + - @ tab or carriage return.
    for text in (hours_csv(hostile), refills_csv(hostile)):
        rows = list(csv.reader(io.StringIO(text)))
        assert {len(row) for row in rows} == {len(rows[0])}
        for row in rows[1:]:
            for cell in row:
                try:
                    float(cell)
                except ValueError:
                    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
                assert "\x00" not in cell
                assert "\u202e" not in cell


def test_missing_numbers_are_empty_cells_and_nulls(walk: FixtureWalk) -> None:
    hours = walk.hours.assign(felt_c=np.nan)
    row = next(csv.DictReader(io.StringIO(hours_csv(replace(walk, hours=hours)))))
    assert row["felt_c"] == ""
    told = {"x": [math.nan, np.float64(math.inf), None, np.int64(3), np.bool_(1)]}
    read = json.loads(json_text(told), parse_constant=pytest.fail)
    assert read["x"] == [None, None, None, 3, True]
    water = walk.summary["water"] | {"short_l": math.nan}
    holed = replace(walk, summary=walk.summary | {"water": water})
    read = json.loads(summary_json(holed), parse_constant=pytest.fail)
    assert read["water"]["short_l"] is None


def test_summary_is_sorted_stable_and_whole(walk: FixtureWalk) -> None:
    text = summary_json(walk)
    read = json.loads(text)
    assert list(read) == sorted(document(walk.facts))
    assert set(read) >= set(walk.summary)
    assert read["water"]["need_l"] == pytest.approx(walk.summary["water"]["need_l"], abs=1e-6)
    assert text == summary_json(walk)
    assert "-0.0" not in json_text({"a": -0.0, "b": -1e-9})


def test_a_lone_surrogate_does_not_break_the_file() -> None:
    assert json.loads(json_text({"name": "a\ud800b"}).encode()) == {"name": "a?b"}


def test_hostile_names_come_back_as_the_names_they_are(hostile: FixtureWalk) -> None:
    root = ET.fromstring(route_gpx(hostile))  # noqa: S314 - our own file
    names = {element.text for element in root.iter(f"{GPX}name")}
    assert HOSTILE[0] in names
    assert HOSTILE[1] in names
    assert "Bell and null[31m Street" in {n.replace("\x1b", "") for n in names if n} | names
