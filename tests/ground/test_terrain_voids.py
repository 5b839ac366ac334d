"""Heights along streets: voids, caps, noise, and real ground."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib import cbook
from numpy.typing import NDArray

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
from tests.conftest import EXAMPLES
from tests.ground.terrain_towns import (
    CELL_M,
    GEOD,
    LIECHTENSTEIN,
    Floats,
    ground,
    line,
    ramp,
    town,
    valley,
)


def test_what_no_raster_covers_is_marked_and_estimated_along_the_street() -> None:
    # The ramp rises by 0.08 to the east, so a straight line over the hole is the truth, and where
    # the raster ends (1500 m east) the street goes on level.
    raster = ground(ramp)
    raster.height_m[:, 90:120] = np.nan  # 300 to 900 m east
    terrain = line(-200, 100, 500, 1200, 2000).over(raster)
    assert terrain.covered.tolist() == [True, False, False, False]
    assert terrain.node_known.tolist() == [True, True, False, True, False]
    assert not terrain.level.any()
    assert terrain.void_share == pytest.approx(1900 / 2200, rel=1e-3)
    height = terrain.node_height_m
    assert height[:4].tolist() == pytest.approx([184, 208, 240, 296], abs=0.01)
    assert height[4] == pytest.approx(200 + 0.08 * 1490, abs=0.08 * CELL_M)
    up, down = climb_m(terrain)
    assert up[:3].tolist() == pytest.approx([24, 32, 56], abs=0.02)
    assert down.tolist() == pytest.approx([0, 0, 0, 0], abs=1e-6)


def test_known_pieces_of_a_segment_with_a_hole_stay_as_sampled() -> None:
    def hilly(east: Floats, _north: Floats) -> Floats:
        return 100 + 10 * np.sin(east / 60)

    holed = ground(hilly)
    holed.height_m[:, 100:] = np.nan  # from 500 m east
    whole, part = (line(-400, 900, 1200).over(raster) for raster in (ground(hilly), holed))
    along = np.cumsum(whole.piece_run_m[: whole.piece_start[1]]) - 400
    known = along < 480
    np.testing.assert_array_equal(
        part.piece_rise_m[: known.size][known], whole.piece_rise_m[: known.size][known]
    )
    assert part.covered.tolist() == [False, False]


@pytest.mark.parametrize("deck", ["bridge", "tunnel"])
def test_a_deck_is_no_more_known_than_the_bank_it_leads_to(deck: str) -> None:
    # Without the far bank nothing holds that end: neither level nor two streets of the near bank
    # make it known. The near bank itself is believed from one reach before the abutment on.
    raster = ground(valley)
    raster.height_m[:, 72:] = np.nan  # from 60 m west on
    nodes = [(-400, 0), (-300, 0), (-160, 0), (-160, 140), (-160, 300), (160, 0), (400, 0)]
    segments = [(0, 1), (1, 2), (2, 3), (3, 4), (2, 5), (5, 6)]
    terrain = town(nodes, segments, **{deck: [4]}).over(raster)
    assert terrain.covered.tolist() == [True, False, False, True, False, False]
    assert terrain.node_known.tolist() == [True, True, False, True, True, False, False]
    assert terrain.node_height_m.tolist() == pytest.approx([100] * 7, abs=1e-3)
    assert terrain.loose_sets == 0


def test_a_raster_without_any_height_leaves_none() -> None:
    raster = ground(ramp)
    raster.height_m[:] = np.nan
    terrain = line(-200, 100, 500).over(raster)
    assert not terrain.covered.any()
    assert not terrain.node_known.any()
    assert np.isnan(terrain.piece_rise_m).all()


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


@settings(max_examples=2 * EXAMPLES)
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
    import osmium

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
    from simulator.ground.osm import read_extract

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
