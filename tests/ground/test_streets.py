"""Street arrays: lengths, snapping, pieces, drawing.

Geodesic check lines: GeographicLib example lines and lines computed with pyproj 3.7.2 (PROJ 9.5.1,
Karney 2013, doi:10.1007/s00190-012-0578-z). Helsinki: © OpenStreetMap contributors, ODbL 1.0.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
import shapely
from pyproj import Geod, Transformer

from simulator.errors import InputError
from simulator.ground.assemble import geodesic_m
from simulator.ground.snap import metres_per_degree
from simulator.ground.streets import Streets
from simulator.ground.terrain import flat

MapWriter = Callable[..., Path]
PATH = {"highway": "path"}


@pytest.mark.parametrize(
    ("lat1", "lon1", "lat2", "lon2", "length_m"),
    [
        (-41.32, 174.81, 40.96, -5.50, 19959679.2674),
        (40.6, -73.8, 51.6, -0.5, 5551759.4003),
        (35.6812, 139.7671, 35.4658, 139.6223, 27266.0558),
        (51.5, -0.12, 51.5, 0.24, 24998.5608),
        (0.0, 0.0, 0.5, 179.5, 19936288.579),
        (0.0, 0.0, 1.0, 0.0, 110574.3886),
        (89.0, 0.0, 90.0, 0.0, 111693.8649),
        (0.0, 0.0, 0.0, 1.0, 111319.4908),
    ],
)
def test_lengths_are_geodesics_on_the_ellipsoid(
    lat1: float, lon1: float, lat2: float, lon2: float, length_m: float
) -> None:
    ends = (np.array([lon1, lon2]), np.array([lat1, lat2]))
    # The table is rounded to 0.1 mm (one line to 1 mm).
    found = geodesic_m(*ends, np.array([0]), np.array([1]))
    assert found == pytest.approx([length_m], abs=6e-4)


def test_every_length_of_a_real_map_is_the_geodesic_of_its_ends(helsinki: Streets) -> None:
    tail, head = helsinki.tail, helsinki.head
    _, _, expected = Geod(ellps="WGS84").inv(
        helsinki.lon[tail], helsinki.lat[tail], helsinki.lon[head], helsinki.lat[head]
    )
    np.testing.assert_allclose(helsinki.length_m, expected, rtol=1e-12)
    assert (helsinki.length_m > 0.0).all()


def test_a_degree_has_the_size_that_geodesics_give_it() -> None:
    # Half a second of arc either way: short enough that curvature does not show.
    geod, step = Geod(ellps="WGS84"), 1e-4
    for lat in (-80.0, -41.0, 0.0, 47.0, 60.0, 85.0):
        east, north = metres_per_degree(lat)
        _, _, east_m = geod.inv(10.0, lat, 10.0 + step, lat)
        _, _, north_m = geod.inv(10.0, lat - step / 2, 10.0, lat + step / 2)
        assert float(east) * step == pytest.approx(east_m, rel=1e-8)
        assert float(north) * step == pytest.approx(north_m, rel=1e-8)


def test_snapping_finds_what_shapely_finds_in_a_projection(helsinki: Streets) -> None:
    # ETRS89 / TM35FIN (EPSG:3067) keeps distances in Helsinki within 0.04 %.
    project = Transformer.from_crs(4326, 3067, always_xy=True).transform
    x, y = project(helsinki.lon, helsinki.lat)
    ends = np.stack([helsinki.tail, helsinki.head], axis=1)
    lines = np.asarray(shapely.linestrings(np.stack([x[ends], y[ends]], axis=-1)))
    rng = np.random.default_rng(7)
    lat = rng.uniform(helsinki.lat.min(), helsinki.lat.max(), 300)
    lon = rng.uniform(helsinki.lon.min(), helsinki.lon.max(), 300)
    tree = shapely.STRtree(lines)
    points = shapely.points(np.stack(project(lon, lat), axis=-1))
    expected_m = shapely.distance(points, lines[tree.nearest(points)])
    many = helsinki.snap_many(lat, lon, limit_m=5000.0)
    np.testing.assert_allclose(many.distance_m, expected_m, rtol=1e-3, atol=0.01)
    for index in range(0, 300, 6):
        one = helsinki.snap(float(lat[index]), float(lon[index]), limit_m=5000.0)
        assert one.distance_m == pytest.approx(expected_m[index], rel=1e-3, abs=0.01)
        assert one.distance_m == pytest.approx(many.distance_m[index], rel=1e-5, abs=1e-4)
        assert (one.lon, one.lat) == pytest.approx(helsinki.point_at(one.segment, one.fraction))


def test_a_point_on_a_street_snaps_to_itself_mid_segment(write_map: MapWriter) -> None:
    points = {1: (24.0, 60.0), 2: (24.02, 60.01), 3: (24.03, 60.0)}
    streets = Streets.read(write_map(points, [(1, [1, 2, 3], PATH)]))
    lon, lat = streets.point_at(1, 0.3)
    found = streets.snap(lat, lon, limit_m=1.0)
    assert found.segment == 1
    assert found.fraction == pytest.approx(0.3, abs=1e-9)
    assert found.distance_m < 1e-3


def test_many_places_out_of_reach_are_marked_and_the_rest_found(helsinki: Streets) -> None:
    lon, lat = helsinki.point_at(5, 0.5)
    found = helsinki.snap_many(np.array([lat, 0.0]), np.array([lon, 0.0]), limit_m=100.0)
    assert found.segment[0] >= 0
    assert found.segment[1] == -1
    assert np.isinf(found.distance_m[1])
    assert helsinki.snap_many(np.empty(0), np.empty(0), limit_m=100.0).segment.size == 0


def test_a_start_in_the_sea_is_refused_with_the_distance_to_the_nearest_street(
    helsinki: Streets,
) -> None:
    with pytest.raises(InputError) as caught:
        helsinki.snap(60.0, 24.94, limit_m=500.0)
    message = str(caught.value)
    assert message.startswith("(60.00000, 24.94000): the nearest walkable street is 1")
    assert " km away, farther than the limit of 500 m" in message


def test_snapping_can_be_kept_to_one_piece_of_the_network(write_map: MapWriter) -> None:
    points = {1: (24.0, 60.0), 2: (24.01, 60.0), 3: (24.0, 60.001), 4: (24.001, 60.001)}
    streets = Streets.read(write_map(points, [(1, [1, 2], PATH), (2, [3, 4], PATH)]))
    pieces = streets.components()
    assert pieces.length_m.tolist() == sorted(pieces.length_m, reverse=True)
    assert pieces.nodes.tolist() == [2, 2]
    assert streets.snap(60.001, 24.0, limit_m=500.0).segment == 1
    kept = streets.snap(60.001, 24.0, limit_m=500.0, component=0)
    assert kept.segment == 0
    assert kept.distance_m == pytest.approx(111.4, abs=0.5)
    many = streets.snap_many(np.array([60.001]), np.array([24.0]), limit_m=500.0, component=0)
    assert many.segment.tolist() == [0]


def test_streets_across_the_date_line_are_snapped_and_drawn(write_map: MapWriter) -> None:
    points = {1: (179.999, -17.0), 2: (-179.999, -17.0)}
    streets = Streets.read(write_map(points, [(1, [1, 2], PATH)]))
    assert streets.length_m[0] == pytest.approx(213.0, abs=1.0)
    found = streets.snap(-17.0001, -179.9995, limit_m=50.0)
    assert found.fraction == pytest.approx(0.75, abs=1e-3)
    assert found.lon == pytest.approx(-179.9995, abs=1e-6)
    many = streets.snap_many(np.array([-17.0001]), np.array([179.9995]), limit_m=50.0)
    assert many.fraction == pytest.approx([0.25], abs=1e-3)


def test_pieces_are_those_networkx_finds(helsinki: Streets) -> None:
    graph: nx.Graph[int] = nx.Graph()
    graph.add_edges_from(zip(helsinki.tail.tolist(), helsinki.head.tolist(), strict=True))
    expected = sorted(len(nodes) for nodes in nx.connected_components(graph))
    pieces = helsinki.components()
    assert sorted(pieces.nodes.tolist()) == expected
    assert pieces.length_m.sum() == pytest.approx(helsinki.length_m.sum())


def test_the_matrix_keeps_the_cheapest_of_parallel_segments(write_map: MapWriter) -> None:
    points = {1: (24.0, 60.0), 2: (24.01, 60.0)}
    one_way = {"highway": "path", "oneway:foot": "yes"}
    streets = Streets.read(write_map(points, [(1, [1, 2], PATH), (2, [1, 2], one_way)]))
    matrix = streets.matrix(np.array([5.0, 3.0]), np.array([7.0, 1.0]))
    assert matrix.toarray().tolist() == [[0.0, 3.0], [7.0, 0.0]]


def test_a_path_is_drawn_through_its_points(write_map: MapWriter) -> None:
    points = {1: (24.0, 60.0), 2: (24.01, 60.0), 3: (24.02, 60.0)}
    streets = Streets.read(write_map(points, [(1, [1, 2, 3], PATH)]))
    drawn = streets.polyline(np.array([1, 0]), np.array([False, False]), 0.5, 0.5)
    assert drawn.tolist() == pytest.approx(
        np.array([[24.015, 60.0], [24.01, 60.0], [24.005, 60.0]])
    )


def test_heights_of_other_streets_are_refused(helsinki: Streets) -> None:
    own = flat(helsinki.length_m, helsinki.node_id.size)
    assert helsinki.with_terrain(own).terrain is own
    with pytest.raises(ValueError, match="terrain has 5 nodes and 3 segments"):
        helsinki.with_terrain(flat(helsinki.length_m[:3], 5))
