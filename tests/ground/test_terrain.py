"""Heights along streets: pieces, bridges, tunnels, voids, noise; on made and on real ground."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib import cbook
from numpy.typing import NDArray
from pyproj import Geod

from simulator.ground.grid import Raster
from simulator.ground.raster import read_raster
from simulator.ground.terrain import (
    MOST_SLOPE,
    MOST_STAIRS_SLOPE,
    Terrain,
    climb_m,
    drape,
    flat,
    read_terrain,
)

Floats = NDArray[np.float64]

LIECHTENSTEIN = Path(__file__).parents[3] / "shared" / "data" / "liechtenstein"
GEOD = Geod(ellps="WGS84")

# A made country round 10 E 47 N, in metres east and north of there; one metre in degrees:
LON_PER_M = 1 / 76056.0
LAT_PER_M = 1 / 111172.0
CELL_M = 20.0
HALF_M = 1500.0

Surface = Callable[[Floats, Floats], Floats]


def ground(surface: Surface, *, cell_m: float = CELL_M, half_m: float = HALF_M) -> Raster:
    """Heights of a surface given in metres east and north, one value at each cell's centre."""
    count = round(2 * half_m / cell_m)
    along = (np.arange(count) + 0.5) * cell_m - half_m
    east, north = np.meshgrid(along, -along)
    a, e = cell_m * LON_PER_M, -cell_m * LAT_PER_M
    return Raster(
        height_m=surface(east, north).astype(np.float32),
        transform=(a, 0.0, 10 - half_m * LON_PER_M, 0.0, e, 47 + half_m * LAT_PER_M),
        crs="OGC:CRS84",
        cell_m=cell_m,
        source="made.tif",
    )


@dataclass
class Town:
    """Streets drawn in metres east and north of 10 E 47 N."""

    lon: Floats
    lat: Floats
    tail: NDArray[np.int32]
    head: NDArray[np.int32]
    length_m: Floats
    bridge: NDArray[np.bool_]
    tunnel: NDArray[np.bool_]
    steps: NDArray[np.bool_]

    def over(self, *rasters: Raster, smoothing_m: float = 0.0, **options: float) -> Terrain:
        """Drape the streets over rasters."""
        return drape(
            self.lon,
            self.lat,
            self.tail,
            self.head,
            self.length_m,
            self.bridge,
            self.tunnel,
            rasters=rasters,
            smoothing_m=smoothing_m,
            steps=self.steps,
            **options,
        )


def town(
    nodes: Sequence[tuple[float, float]],
    segments: Sequence[tuple[int, int]],
    *,
    bridge: Sequence[int] = (),
    tunnel: Sequence[int] = (),
    steps: Sequence[int] = (),
) -> Town:
    east, north = np.array(nodes, dtype=np.float64).T
    lon, lat = 10 + east * LON_PER_M, 47 + north * LAT_PER_M
    tail, head = np.array(segments, dtype=np.int32).T
    _, _, length = GEOD.inv(lon[tail], lat[tail], lon[head], lat[head])

    def flags(rows: Sequence[int]) -> NDArray[np.bool_]:
        return np.isin(np.arange(tail.size), rows)

    return Town(
        lon, lat, tail, head, np.asarray(length), flags(bridge), flags(tunnel), flags(steps)
    )


def line(*east: float, **options: Any) -> Town:  # noqa: ANN401 - passed on
    """One street along the parallel."""
    return town([(x, 0.0) for x in east], [(i, i + 1) for i in range(len(east) - 1)], **options)


def profile(terrain: Terrain, start_m: float) -> tuple[Floats, Floats]:
    """Distance and height along a street whose segments follow each other."""
    along = start_m + np.concatenate(([0.0], np.cumsum(terrain.piece_run_m)))
    first = terrain.node_height_m[0]
    return along, first + np.concatenate(([0.0], np.cumsum(terrain.piece_rise_m)))


def valley(east: Floats, _north: Floats) -> Floats:
    """Banks of 100 m in the west and 112 m in the east, a gorge of 100 m width down to 70 m."""
    height: Floats = np.where(np.abs(east) < 50, 70.0, np.where(east < 0, 100.0, 112.0))
    return height


def ramp(east: Floats, north: Floats) -> Floats:
    height: Floats = 200 + 0.08 * east - 0.05 * north
    return height


def test_pieces_are_no_longer_than_a_cell_and_sum_to_the_segment() -> None:
    streets = line(-500, -100, -95, 0, 7, 300)
    terrain = streets.over(ground(ramp))
    assert (terrain.piece_run_m <= CELL_M + 1e-9).all()
    sums = np.add.reduceat(terrain.piece_run_m, terrain.piece_start[:-1])
    np.testing.assert_allclose(sums, streets.length_m, rtol=1e-12)
    assert np.diff(terrain.piece_start).tolist() == np.ceil(streets.length_m / CELL_M).tolist()
    assert terrain.covered.all()
    assert terrain.cell_m == CELL_M


def test_a_plane_is_met_exactly_with_and_without_smoothing() -> None:
    streets = town([(-400, 300), (250, -333), (7, 9)], [(0, 1), (1, 2), (2, 0)])
    expected = np.array(
        [ramp(np.array(x), np.array(y)) for x, y in [(-400, 300), (250, -333), (7, 9)]]
    )
    for smoothing_m in (0.0, 30.0):
        terrain = streets.over(ground(ramp), smoothing_m=smoothing_m)
        np.testing.assert_allclose(terrain.node_height_m, expected, atol=1e-3)
        up, down = climb_m(terrain)
        rise = expected[[1, 2, 0]] - expected[[0, 1, 2]]
        np.testing.assert_allclose(up, np.maximum(rise, 0), atol=2e-3)
        np.testing.assert_allclose(down, np.maximum(-rise, 0), atol=2e-3)


def test_a_hill_inside_one_segment_is_climbed_and_descended() -> None:
    # Both ends lie at 100 m: the ends alone would make it level.
    hill = ground(lambda x, _y: 100 + 40 * np.exp(-((x / 150) ** 2)))
    terrain = line(-700, 700).over(hill)
    up, down = climb_m(terrain)
    assert up[0] == pytest.approx(40, abs=0.2)
    assert down[0] == pytest.approx(40, abs=0.2)


def test_the_way_back_has_the_opposite_rises_in_the_opposite_order() -> None:
    bumps = ground(lambda x, y: 100 + 10 * np.sin(x / 60) + 5 * np.cos(y / 45))
    there = town([(-300, -200), (280, 160)], [(0, 1)]).over(bumps)
    back = town([(280, 160), (-300, -200)], [(0, 1)]).over(bumps)
    np.testing.assert_allclose(back.piece_rise_m, -there.piece_rise_m[::-1], atol=1e-9)


def test_without_its_tag_a_bridge_would_dip_into_the_gorge() -> None:
    terrain = line(-400, -60, 60, 400).over(ground(valley), max_slope=9)
    _, height = profile(terrain, -400)
    assert height.min() == pytest.approx(70)


@pytest.mark.parametrize("smoothing_m", [0.0, 25.0])
def test_a_bridge_runs_straight_between_points_one_reach_past_its_abutments(
    smoothing_m: float,
) -> None:
    # No cut falls on the very edge of the reach.
    nodes = (-410.0, -63.0, 63.0, 410.0)
    terrain = line(*nodes, bridge=[1]).over(ground(valley), smoothing_m=smoothing_m)
    along, height = profile(terrain, -410)
    reach = CELL_M + smoothing_m
    west, east = along[along <= -63 - reach].max(), along[along >= 63 + reach].min()
    assert west > -63 - reach - CELL_M
    assert east < 63 + reach + CELL_M
    between = (along >= west - 1e-6) & (along <= east + 1e-6)
    ends = np.interp([west, east], along, height)
    np.testing.assert_allclose(
        height[between], np.interp(along[between], [west, east], ends), atol=1e-6
    )
    # A sigma of 25 m leaves 2.5 % of the gorge's depth at 45 m from its edge (two-sided 5 % at
    # 1.96 sigma, 49 m; any table of the normal distribution), and cuts are 20 m apart.
    assert ends == pytest.approx([100, 112], abs=1e-3 if smoothing_m == 0 else 0.025 * 42)
    # Beyond the ends the ground is as sampled.
    as_ground = line(*nodes).over(ground(valley), smoothing_m=smoothing_m, max_slope=9)
    _, ground_height = profile(as_ground, -410)
    np.testing.assert_allclose(height[~between], ground_height[~between], atol=1e-6)


def test_the_cell_at_an_abutment_is_not_believed() -> None:
    # The abutment stands on the cell that averages bank and water.
    blurred = ground(
        lambda x, _y: np.where(np.abs(x) < 50, 70.0, np.where(np.abs(x) < 70, 85.0, 100))
    )
    terrain = line(-400, -60, 60, 400, bridge=[1]).over(blurred)
    up, down = climb_m(terrain)
    assert up.sum() == pytest.approx(0, abs=1e-6)
    assert down.sum() == pytest.approx(0, abs=1e-6)


def test_a_chain_of_bridge_ways_and_a_tunnel_is_one_straight_line() -> None:
    # Two bridge ways meet over the gorge; a tunnel follows at once through a hill of 60 m.
    def country(east: Floats, north: Floats) -> Floats:
        hill: Floats = 60 * np.exp(-(((east - 300) / 60) ** 2))
        return valley(east, north) + hill

    streets = line(-400, -60, 5, 60, 540, 800, bridge=[1, 2], tunnel=[3])
    terrain = streets.over(ground(country))
    along, height = profile(terrain, -400)
    deck = (along >= -60) & (along <= 540)
    slope = np.diff(height[deck]) / np.diff(along[deck])
    assert np.ptp(slope) < 1e-9
    assert height[deck][0] == pytest.approx(100, abs=1)
    assert height[deck][-1] == pytest.approx(112, abs=1)


def test_a_short_bank_between_two_bridges_belongs_to_the_chain() -> None:
    # A pier of 10 m in the river, lower than a cell can see.
    river = ground(lambda x, _y: np.where(np.abs(x) < 150, 60.0, 100.0))
    terrain = line(-500, -160, -5, 5, 160, 500, bridge=[1, 3]).over(river)
    _, height = profile(terrain, -500)
    np.testing.assert_allclose(height, 100, atol=1e-6)


def test_where_bridges_branch_each_arm_is_straight_and_the_fork_weighs_them_by_nearness() -> None:
    # Three arms over a lake to banks at 100, 112 and 106 m. At the fork the slopes add to zero:
    # height = sum(h / length) / sum(1 / length), with the lengths to the ends one cell inland.
    def banks(east: Floats, north: Floats) -> Floats:
        water = (np.abs(east) < 190) & (north < 390)
        return np.where(water, 50.0, np.where(north >= 390, 106.0, np.where(east < 0, 100.0, 112)))

    nodes = [(0, 0), (-200, 0), (200, 0), (0, 400), (-600, 0), (600, 0), (0, 800)]
    streets = town(nodes, [(0, 1), (0, 2), (0, 3), (1, 4), (2, 5), (3, 6)], bridge=[0, 1, 2])
    terrain = streets.over(ground(banks))
    length = np.array([220.0, 220.0, 420.0])
    expected = (np.array([100, 112, 106]) / length).sum() / (1 / length).sum()
    assert terrain.node_height_m[0] == pytest.approx(expected, abs=0.01)
    for arm in range(3):
        rise = terrain.piece_rise_m[terrain.piece_start[arm] : terrain.piece_start[arm + 1]]
        assert np.ptp(rise) < 1e-6
    assert terrain.loose_sets == 0


def test_a_bridge_cut_by_the_border_of_the_map_is_level_and_counted() -> None:
    terrain = line(-400, -60, 0, bridge=[1]).over(ground(valley))
    assert terrain.node_height_m.tolist() == pytest.approx([100, 100, 100])
    assert terrain.loose_sets == 1


def test_a_bridge_that_meets_no_street_follows_the_ground_and_is_counted() -> None:
    terrain = line(-100, 100, bridge=[0]).over(ground(valley))
    assert terrain.node_height_m.tolist() == pytest.approx([100, 112])
    assert terrain.loose_sets == 1


def test_a_bank_shorter_than_the_reach_holds_the_bridge_at_its_far_end() -> None:
    terrain = line(-400, -60, 60, 72, bridge=[1]).over(ground(valley))
    assert terrain.node_height_m[[0, 3]].tolist() == pytest.approx([100, 112])
    assert terrain.loose_sets == 0
    along, height = profile(terrain, -400)
    assert np.interp(0, along, height) == pytest.approx(106, abs=1.5)


def test_two_streets_between_the_same_corners_do_not_lengthen_the_bank() -> None:
    # Added up, 15 m twice would be more than a cell, and the node at -75 m an end of the deck.
    streets = town(
        [(-400, 0), (-75, 0), (-60, 0), (60, 0), (400, 0)],
        [(0, 1), (1, 2), (2, 3), (3, 4), (2, 1), (1, 2)],
        bridge=[2],
    )
    terrain = streets.over(ground(lambda x, y: valley(x, y) + 0.1 * x))
    as_sampled = 100 - 7.5
    assert terrain.node_height_m[1] > as_sampled + 1


def test_streets_under_a_bridge_keep_their_own_ground() -> None:
    streets = town(
        [(-400, 0), (-60, 0), (60, 0), (400, 0), (0, -300), (0, 300)],
        [(0, 1), (1, 2), (2, 3), (4, 5)],
        bridge=[1],
    )
    terrain = streets.over(ground(valley))
    assert terrain.node_height_m[4:].tolist() == pytest.approx([70, 70])
    assert climb_m(terrain)[0][3] == pytest.approx(0)


def test_what_no_raster_covers_is_marked_and_never_zero() -> None:
    raster = ground(ramp)
    raster.height_m[:, 90:120] = np.nan  # 300 to 900 m east
    terrain = line(-200, 100, 500, 1200, 2000).over(raster)
    assert terrain.covered.tolist() == [True, False, False, False]
    assert np.isnan(terrain.node_height_m).tolist() == [False, False, True, False, True]
    uncovered = terrain.piece_start[1]
    assert np.isnan(terrain.piece_rise_m[uncovered:]).any()
    assert not (terrain.piece_rise_m[uncovered:] == 0).any()
    assert terrain.void_share == pytest.approx(1900 / 2200, rel=1e-3)
    up, _ = climb_m(terrain)
    assert np.isnan(up).tolist() == [False, True, True, True]


def test_streets_beyond_the_reach_of_the_coordinate_system_are_not_covered() -> None:
    # Web Mercator has no poles; PROJ gives infinity there.
    raster = replace(ground(ramp), crs="EPSG:3857")
    nodes = np.array([0.0, 10.0, 20.0]), np.array([90.0, 90.0, 47.0])
    ends = np.array([0, 1], dtype=np.int32)
    none = np.zeros(2, dtype=np.bool_)
    terrain = drape(
        *nodes,
        ends,
        ends + 1,
        np.array([100.0, 100.0]),
        none,
        none,
        rasters=[raster],
        smoothing_m=0,
    )
    assert not terrain.covered.any()


def test_a_bridge_over_a_void_is_known_from_its_banks() -> None:
    raster = ground(valley)
    raster.height_m[:, 73:77] = np.nan  # 40 m each side of the middle
    terrain = line(-400, -60, 60, 400, bridge=[1]).over(raster)
    assert terrain.covered.all()


def test_a_second_raster_answers_where_the_first_is_silent() -> None:
    fine = ground(ramp, cell_m=10)
    fine.height_m[:, 150:] = np.nan
    terrain = line(-300, 300).over(fine, ground(ramp))
    assert terrain.covered.all()
    np.testing.assert_allclose(terrain.piece_rise_m / terrain.piece_run_m, 0.08, atol=1e-3)
    assert terrain.sources == ("made.tif", "made.tif")


def test_impossible_slopes_are_capped_and_counted_and_stairs_may_be_steeper() -> None:
    cliff = ground(lambda x, _y: np.where(x < 0, 100.0, 160.0))
    for steps, most in ((False, MOST_SLOPE), (True, MOST_STAIRS_SLOPE)):
        terrain = line(-100, 100, steps=[0] if steps else []).over(cliff)
        assert terrain.capped == 2  # the cells' centres are 20 m apart and no cut falls on them
        slope = terrain.piece_rise_m / terrain.piece_run_m
        assert slope.max() == pytest.approx(most)
    gentle = line(-100, 100).over(ground(ramp))
    assert gentle.capped == 0


def test_ground_below_the_sea_keeps_its_sign() -> None:
    terrain = line(-300, 300).over(ground(lambda x, _y: -4.0 + 0.01 * x))
    assert terrain.node_height_m.tolist() == pytest.approx([-7, -1], abs=1e-3)


def test_smoothing_takes_most_of_the_climb_that_noise_invents() -> None:
    # True climb of a 2 km street over two hills: 2 x 30 m. White noise of 1.5 m on 10 m cells.
    def hills(east: Floats, _north: Floats) -> Floats:
        return 100 + 15 * (1 - np.cos(2 * np.pi * (east + 1000) / 1000))

    true = ground(hills, cell_m=10)
    noise = np.random.default_rng(2).normal(0, 1.5, true.height_m.shape)
    noisy = replace(true, height_m=(true.height_m + noise).astype(np.float32))
    streets = line(-1000, 1000)

    def climb(raster: Raster, smoothing_m: float) -> float:
        return float(climb_m(streets.over(raster, smoothing_m=smoothing_m))[0].sum())

    assert climb(true, 0) == pytest.approx(60, abs=1)
    assert climb(noisy, 0) > 80
    assert climb(noisy, 30) == pytest.approx(60, abs=4)
    # The hills themselves lose a factor exp(-(2 pi 30 / 1000)^2 / 2) = 0.98 to the kernel.
    assert climb(true, 30) == pytest.approx(0.98 * 60, abs=1)


def test_a_flat_world_has_one_level_piece_a_segment_and_says_it_has_no_source() -> None:
    terrain = flat(np.array([10.0, 25.0]), 3)
    assert terrain.piece_run_m.tolist() == [10, 25]
    assert terrain.piece_rise_m.tolist() == [0, 0]
    assert terrain.node_height_m.tolist() == [0, 0, 0]
    assert terrain.sources == ()
    with pytest.raises(ValueError, match="at least one raster"):
        line(0, 10).over()


def test_a_town_without_streets_has_no_climb() -> None:
    up, down = climb_m(flat(np.zeros(0), 0))
    assert up.size == down.size == 0


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_rises_add_up_to_the_height_between_the_nodes_on_any_network(data: st.DataObject) -> None:
    place = st.tuples(st.floats(-1200, 1200), st.floats(-1200, 1200))
    nodes = data.draw(st.lists(place, min_size=2, max_size=12, unique=True))
    node = st.integers(0, len(nodes) - 1)
    segment = st.tuples(node, node).filter(
        lambda ends: np.hypot(*np.subtract(nodes[ends[0]], nodes[ends[1]])) > 0.1
    )
    segments = data.draw(st.lists(segment, min_size=1, max_size=20))
    flag = st.lists(st.integers(0, len(segments) - 1), max_size=6)
    streets = town(nodes, segments, bridge=data.draw(flag), tunnel=data.draw(flag))
    bumps = ground(lambda x, y: 100 + 10 * np.sin(x / 60) + 5 * np.cos(y / 45))
    terrain = streets.over(bumps, smoothing_m=15, max_slope=1e9, max_stairs_slope=1e9)
    rise = np.add.reduceat(terrain.piece_rise_m, terrain.piece_start[:-1])
    height = terrain.node_height_m
    np.testing.assert_allclose(rise, height[streets.head] - height[streets.tail], atol=1e-6)
    # Nothing leaves the range of the ground it is worked out from.
    assert height.min() >= 85 - 1e-3
    assert height.max() <= 115 + 1e-3


def test_real_terrain_climbs_what_its_profile_does() -> None:
    # The terrain sample that matplotlib ships: 3 arc-seconds, Appalachians. The climb along a row
    # of cells, cut at the cells' centres, is the sum of the positive steps between them.
    sample: Any = cbook.get_sample_data("jacksboro_fault_dem.npz")
    dx, dy = float(sample["dx"]), float(sample["dy"])
    west, north = float(sample["xmin"]), float(max(sample["ymin"], sample["ymax"]))
    raster = Raster(
        sample["elevation"].astype(np.float32), (dx, 0, west, 0, -dy, north), "OGC:CRS84", 74.0
    )
    column = np.arange(402)
    lon = np.asarray(west + (column + 0.5) * dx, dtype=np.float64)
    lat = np.full(402, north - 100.5 * dy)
    tail = np.arange(401, dtype=np.int32)
    _, _, length = GEOD.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    none = np.zeros(401, dtype=np.bool_)
    terrain = drape(
        lon, lat, tail, tail + 1, length, none, none, rasters=[raster], smoothing_m=0, max_slope=9
    )
    steps = np.diff(sample["elevation"][100, :402].astype(float))
    assert climb_m(terrain)[0].sum() == pytest.approx(steps[steps > 0].sum(), rel=1e-3)


needs_liechtenstein = pytest.mark.skipif(
    not LIECHTENSTEIN.is_dir(), reason="the open data of Liechtenstein is not on this machine"
)


@needs_liechtenstein
def test_heights_agree_with_those_that_mappers_wrote_in_liechtenstein() -> None:
    # `ele` tags of peaks, huts, signposts: their own error and that of a 3 arc-second grid on
    # steep ground give metres of scatter, but no offset.
    import osmium  # noqa: PLC0415 - only here

    written = []
    for node in osmium.FileProcessor(
        str(LIECHTENSTEIN / "liechtenstein_2021-05-05.osm.pbf"), osmium.osm.NODE
    ).with_filter(osmium.filter.KeyFilter("ele")):
        text = node.tags["ele"].replace(",", ".").removesuffix("m").strip()
        if text.replace(".", "", 1).isdigit():
            written.append((node.lon, node.lat, float(text)))
    lon, lat, ele = np.array(written).T
    found = read_raster(LIECHTENSTEIN / "dem_clip_3s.tif").heights(lon, lat)
    inside = np.isfinite(found)
    difference = (found - ele)[inside]
    assert inside.sum() > 300
    median = np.median(difference)
    assert abs(median) < 3
    assert np.median(np.abs(difference - median)) < 10


@needs_liechtenstein
def test_the_bridges_of_liechtenstein_do_not_dip_and_nothing_is_left_unknown() -> None:
    from simulator.ground.extract import read_extract  # noqa: PLC0415 - slow to import

    streets = read_extract(LIECHTENSTEIN / "liechtenstein_2021-05-05.osm.pbf").streets
    bridge, tunnel = streets.ways.bridge[streets.way], streets.ways.tunnel[streets.way]
    none = np.zeros_like(bridge)
    same = streets.same_node()

    def over(bridge: NDArray[np.bool_], tunnel: NDArray[np.bool_]) -> Terrain:
        return read_terrain(
            streets.lon,
            streets.lat,
            same[streets.tail],
            same[streets.head],
            streets.length_m,
            bridge,
            tunnel,
            paths=[LIECHTENSTEIN / "dem_clip_3s.tif"],
            smoothing_m=30,
        )

    straight, sampled = over(bridge, tunnel), over(none, none)
    assert straight.covered.all()
    assert straight.void_share == 0
    deck = bridge | tunnel
    before, after = (np.add(*climb_m(t))[deck].sum() for t in (sampled, straight))
    assert after < 0.75 * before
    up, down = climb_m(straight)
    both = np.minimum(up, down)[deck]
    assert both.max() < 1e-6  # a deck goes up or down, never both within one segment
