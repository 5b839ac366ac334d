"""The demo place holds what makes the job interesting, read with pyosmium, shapely and scipy."""

from __future__ import annotations

import csv
import subprocess
import sys
import tomllib
from collections import Counter
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import opening_hours
import osmium
import pytest
import rasterio
from pyproj import Geod
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, dijkstra
from shapely import LineString, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "data" / "demo"
FILES = ("town.osm.pbf", "heights.tif", "plan.toml", "bag.csv", "year.epw")
Tags = dict[str, str]

# Kinds of way a person may not or cannot walk; a rule of thumb, kept apart from the program's.
NOT_WALKED = {"motorway", "motorway_link", "trunk", "construction"}
SHUT = {"private", "no", "use_sidepath"}


@dataclass(frozen=True)
class Extract:
    """A map file as plain lists."""

    generator: str
    places: dict[int, tuple[float, float]]
    node_tags: dict[int, Tags]
    ways: list[tuple[int, list[int], Tags]]
    order: list[tuple[str, int]]
    stamps: set[tuple[int, str]]


def read(path: Path) -> Extract:
    places: dict[int, tuple[float, float]] = {}
    node_tags: dict[int, Tags] = {}
    ways: list[tuple[int, list[int], Tags]] = []
    order: list[tuple[str, int]] = []
    stamps: set[tuple[int, str]] = set()
    processor = osmium.FileProcessor(str(path))
    for item in processor:
        order.append((item.type_str(), item.id))
        stamps.add((item.version, str(item.timestamp)))
        if item.is_node():
            places[item.id] = (item.lon, item.lat)
            if len(item.tags):
                node_tags[item.id] = dict(item.tags)
        else:
            ways.append((item.id, [node.ref for node in item.nodes], dict(item.tags)))
    return Extract(processor.header.get("generator"), places, node_tags, ways, order, stamps)


def walked(tags: Tags) -> bool:
    kind = tags.get("highway")
    return kind is not None and kind not in NOT_WALKED and (
        tags.get("foot", tags.get("access", "yes")) not in SHUT
    )  # fmt: skip


@pytest.fixture(scope="module")
def town() -> Extract:
    return read(DEMO / "town.osm.pbf")


def line(town: Extract, nodes: list[int]) -> LineString:
    return LineString([town.places[node] for node in nodes])


def waters(town: Extract) -> list[BaseGeometry]:
    islands = [
        Polygon([town.places[n] for n in nodes])
        for _, nodes, tags in town.ways
        if tags.get("place") == "islet"
    ]
    found: list[BaseGeometry] = []
    for _, nodes, tags in town.ways:
        if tags.get("natural") == "water":
            water: BaseGeometry = Polygon([town.places[n] for n in nodes])
            for island in islands:
                water = water.difference(island)
            found.append(water)
    return found


def network(town: Extract) -> tuple[csr_array, dict[int, int]]:
    """Join the nodes one may walk between, with the distance on the ellipsoid in metres."""
    pairs = [pair for _, nodes, tags in town.ways if walked(tags) for pair in pairwise(nodes)]
    row = {node: number for number, node in enumerate(sorted({n for pair in pairs for n in pair}))}
    ends = np.array([[town.places[a] + town.places[b]] for a, b in pairs]).reshape(-1, 4)
    _, _, length = Geod(ellps="WGS84").inv(*ends.T)
    tail, head = ([row[pair[k]] for pair in pairs] for k in (0, 1))
    return csr_array((length, (tail, head)), shape=(len(row), len(row))), row


@pytest.mark.slow
def test_the_committed_files_equal_a_fresh_build_byte_for_byte(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "data.make_demo", "--out", str(tmp_path)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    differing = [n for n in FILES if (DEMO / n).read_bytes() != (tmp_path / n).read_bytes()]
    assert differing == []


def test_the_demo_takes_less_than_five_megabytes() -> None:
    assert sorted(path.name for path in DEMO.iterdir()) == sorted(FILES)
    assert sum(path.stat().st_size for path in DEMO.iterdir()) < 5_000_000


def test_the_place_lies_in_the_open_atlantic_and_says_that_it_is_invented(town: Extract) -> None:
    # Nearest land are the Azores, between 36.9 and 39.8 degrees north (any atlas).
    lon, lat = np.array(list(town.places.values())).T
    assert 45.8 < lat.min() < lat.max() < 46.2
    assert -30.3 < lon.min() < lon.max() < -29.7
    assert "invented" in town.generator
    assert any("Invented place" in tags.get("note", "") for tags in town.node_tags.values())


def test_the_extract_is_sorted_complete_and_has_one_fixed_date(town: Extract) -> None:
    # Order "type, then id" as OSM files have it: nodes before ways, numbers rising.
    assert town.order == sorted(town.order, key=lambda item: ("nw".index(item[0]), item[1]))
    assert len(set(town.order)) == len(town.order)
    assert len(town.stamps) == 1
    assert all(node in town.places for _, nodes, _ in town.ways for node in nodes)
    assert all(2 <= len(nodes) <= 2000 for _, nodes, _ in town.ways)  # the limits of the OSM API


def test_no_two_neighbouring_points_of_a_way_are_the_same(town: Extract) -> None:
    twins = [
        way
        for way, nodes, _ in town.ways
        for a, b in pairwise(nodes)
        if a == b or town.places[a] == town.places[b]
    ]
    assert twins == []


def test_forty_thousand_points_or_more_can_be_walked(town: Extract) -> None:
    points = {node for _, nodes, tags in town.ways if walked(tags) for node in nodes}
    assert 40_000 <= len(points) < 80_000


def test_the_walkable_streets_are_one_network_and_two_pieces_apart(town: Extract) -> None:
    graph, _ = network(town)
    _, piece = connected_components(graph, directed=False)
    sizes = np.sort(np.bincount(piece))[::-1]
    assert len(sizes) == 3
    assert sizes[0] > 40_000
    assert sizes[1:].min() > 50


def test_the_river_is_crossed_by_bridges_of_many_kinds(town: Extract) -> None:
    river = next(w for w in waters(town) if w.length == max(x.length for x in waters(town)))
    over = [
        tags
        for _, nodes, tags in town.ways
        if "highway" in tags and "bridge" in tags and line(town, nodes).intersects(river)
    ]
    names = {tags["bridge:name"] for tags in over}
    assert len(names) >= 8
    kinds = {tags["highway"] for tags in over}
    assert {"motorway", "primary", "secondary", "tertiary", "footway", "path"} <= kinds
    split = Counter(tags["bridge:name"] for tags in over if tags["highway"] == "tertiary")
    assert max(split.values()) >= 3  # one deck drawn as several ways
    assert any(tags.get("material") == "stone" for tags in over)
    two = [tags for tags in over if tags.get("dual_carriageway") == "yes"]
    assert len(two) == 2
    assert any(
        tags["highway"] == "footway" and tags["bridge:name"] == two[0]["bridge:name"]
        for tags in over
    )
    rails = {
        tags.get("bridge:name")
        for _, nodes, tags in town.ways
        if "railway" in tags and "bridge" in tags and line(town, nodes).intersects(river)
    }
    assert any(tags["highway"] == "footway" and tags["bridge:name"] in rails for tags in over)
    fords = [tags for _, _, tags in town.ways if "ford" in tags]
    assert {tags["ford"] for tags in fords} == {"yes", "stepping_stones"}
    assert any(tags.get("waterway") == "weir" for _, _, tags in town.ways)


def test_no_street_runs_through_water_unless_it_is_a_bridge_a_tunnel_or_a_ford(
    town: Extract,
) -> None:
    dry = [
        (way, line(town, nodes))
        for way, nodes, tags in town.ways
        if ("highway" in tags and tags.get("man_made") != "pier") or "railway" in tags
        if not {"bridge", "tunnel", "ford"} & tags.keys()
    ]
    tree = STRtree([shape for _, shape in dry])
    wet = [
        dry[number][0]
        for water in waters(town)
        for number in tree.query(water, predicate="intersects").tolist()
    ]
    assert wet == []


def test_buildings_stand_clear_of_streets_and_water(town: Extract) -> None:
    houses = [
        Polygon([town.places[n] for n in nodes])
        for _, nodes, tags in town.ways
        if "building" in tags
    ]
    lines = [
        line(town, nodes)
        for _, nodes, tags in town.ways
        if {"highway", "railway", "waterway"} & tags.keys() and tags.get("tunnel") is None
    ]
    assert len(houses) > 15
    for shapes in (lines, waters(town)):
        assert STRtree(shapes).query(houses, predicate="intersects").size == 0


def test_what_makes_a_walk_hard_is_there(town: Extract) -> None:
    tags = [tags for _, _, tags in town.ways]
    steps = [t for t in tags if t.get("highway") == "steps"]
    assert len(steps) >= 10
    assert all(int(t["step_count"]) > 0 for t in steps)
    tunnels = {walked(t) for t in tags if t.get("tunnel") == "yes" and "highway" in t}
    assert tunnels == {True, False}
    assert any(t.get("highway") == "motorway" for t in tags)
    assert any(t.get("motorroad") == "yes" for t in tags)
    assert any(t.get("access") == "private" and "highway" in t for t in tags)
    assert any(t.get("route") == "ferry" for t in tags)
    assert any(t.get("leisure") == "park" for t in tags)
    assert {"yes", "no"} <= {t.get("lit") for t in tags if t.get("highway") in ("path", "footway")}
    assert any("oneway:foot" in t for t in tags)
    assert any("foot:conditional" in t for t in tags)
    barriers = Counter(
        (t["barrier"], t.get("access", "")) for t in town.node_tags.values() if "barrier" in t
    )
    assert barriers["gate", "private"] >= 3
    assert barriers["gate", "yes"] >= 3
    signals = [t for t in town.node_tags.values() if t.get("crossing") == "traffic_signals"]
    assert len(signals) > 30


def test_about_150_places_give_water_food_shelter_or_help(town: Extract) -> None:
    ways = [tags for _, _, tags in town.ways if "building" in tags]
    places = [
        tags
        for tags in (*town.node_tags.values(), *ways)
        if {"amenity", "shop", "tourism", "office", "railway"} & tags.keys()
        or tags.get("natural") == "spring"
        or tags.get("man_made") in ("water_tap", "water_well")
        or tags.get("highway") == "bus_stop"
    ]
    rest = [t for t in places if t.get("amenity") == "bench" or t.get("railway") is not None]
    assert 140 <= len(places) - len(rest) <= 200
    texts = [t["opening_hours"] for t in places if "opening_hours" in t]
    assert 60 < len(texts) < len(places)
    for text in texts:
        opening_hours.OpeningHours(text)  # raises where the text is not in the OSM grammar
    joined = " | ".join(texts)
    for part in ("24/7", "PH off", "Apr-Oct", "sunrise-sunset", "-02:00"):
        assert part in joined


def test_nothing_carries_a_brand_or_an_operator(town: Extract) -> None:
    used = {key for _, _, tags in town.ways for key in tags}
    used |= {key for tags in town.node_tags.values() for key in tags}
    assert not {key for key in used if key.split(":")[0] in ("brand", "operator", "wikidata")}


def shortest_m(town: Extract, without: str = "") -> float:
    """Give the length of the shortest walk from start to home, one bridge left out."""
    trip = tomllib.loads((DEMO / "plan.toml").read_text(encoding="utf-8"))["trip"]
    kept = [way for way in town.ways if not without or way[2].get("bridge:name") != without]
    graph, row = network(replace(town, ways=kept))
    _, piece = connected_components(graph, directed=False)
    lon_lat = np.array([town.places[node] for node in row])
    ends = []
    for lat, lon in (trip["start"], trip["home"]):
        _, _, away = Geod(ellps="WGS84").inv(
            *lon_lat.T, np.full(len(row), lon), np.full(len(row), lat)
        )
        away[piece != np.bincount(piece).argmax()] = np.inf
        assert away.min() < 100.0
        ends.append(int(away.argmin()))
    reach = dijkstra(graph, directed=False, indices=np.array(ends[:1]))
    return float(reach[0, ends[1]])


def test_the_shortest_way_home_is_about_25_km_whichever_bridge_of_the_city_fails(
    town: Extract,
) -> None:
    length = shortest_m(town)
    assert 23_000 < length < 26_000
    for name in ("Old Ossen Bridge", "Market Bridge", "New Bridge"):
        assert length <= shortest_m(town, without=name) < 27_000


def test_heights_cover_the_place_and_rise_to_a_ridge_150_to_250_m_above_the_river(
    town: Extract,
) -> None:
    lon, lat = np.array(list(town.places.values())).T
    with rasterio.open(DEMO / "heights.tif") as raster:
        box, height = raster.bounds, raster.read(1)
        assert raster.crs.to_epsg() == 4326
        assert raster.nodata is None
        walk = [town.places[n] for _, nodes, t in town.ways if walked(t) for n in nodes]
        assert all(box.left < x < box.right and box.bottom < y < box.top for x, y in walk)
        stairs = [
            town.places[n]
            for _, nodes, t in town.ways
            if t.get("name") == "Bracken Stairs"
            for n in nodes
        ]
        up = np.array([float(sample[0]) for sample in raster.sample(stairs)])
    assert np.isfinite(height).all()
    assert 150 < height.max() - np.percentile(height, 2) < 290
    assert np.ptp(up) > 120
    assert lon.size == lat.size


def test_the_bag_has_about_twenty_things_some_with_unknown_cells() -> None:
    with (DEMO / "bag.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert 18 <= len(rows) <= 24
    assert {row["tier"] for row in rows} == {"basic", "comfort"}
    assert any(not row["mass_g"] for row in rows)
    assert any(not row["price"] for row in rows)
    assert any("key" in row["item"] and row["purpose"] == "tool" for row in rows)
    volume = sum(float(row["volume_ml"]) * float(row["quantity"]) for row in rows)
    assert volume < 5000


def test_the_city_for_timing_is_the_same_each_time_in_every_format(tmp_path: Path) -> None:
    for folder, suffix in (("a", ".osm.pbf"), ("b", ".osm.pbf"), ("c", ".osm")):
        options = ["--nodes", "6000", "--suffix", suffix]
        command = [sys.executable, "-m", "data.city", str(tmp_path / folder), *options]
        subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    first, second = (read(tmp_path / folder / "city.osm.pbf") for folder in "ab")
    text = read(tmp_path / "c" / "city.osm")
    assert first == second
    assert (first.places, first.ways) == (text.places, text.ways)
    points = {node for _, nodes, tags in first.ways if walked(tags) for node in nodes}
    assert len(points) >= 5_000
    assert sum("bridge" in tags for _, _, tags in first.ways) >= 20
