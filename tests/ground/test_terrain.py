"""Heights along streets: pieces, bridges, tunnels, voids, noise; on made and on real ground."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.ground.terrain import climb_m
from tests.ground.terrain_towns import (
    CELL_M,
    Floats,
    ground,
    line,
    profile,
    ramp,
    town,
    valley,
)


def test_pieces_are_no_longer_than_a_cell_and_sum_to_the_segment() -> None:
    streets = line(-500, -100, -95, 0, 7, 300)
    terrain = streets.over(ground(ramp))
    assert (terrain.piece_run_m <= CELL_M + 1e-9).all()
    sums = np.add.reduceat(terrain.piece_run_m, terrain.piece_start[:-1])
    np.testing.assert_allclose(sums, streets.length_m, rtol=1e-12)
    assert np.diff(terrain.piece_start).tolist() == np.ceil(streets.length_m / CELL_M).tolist()
    assert terrain.covered.all()
    assert terrain.cell_m == CELL_M


def test_a_raster_finer_than_a_few_strides_cuts_no_shorter_pieces() -> None:
    # Cells of 1 m: 101 m are cut into 21 pieces of at most 5 m, 5 m into one, 6 m into two.
    fine = ground(ramp, cell_m=1.0, half_m=120.0)
    terrain = line(-100, 1, 6, 12).over(fine)
    assert np.diff(terrain.piece_start).tolist() == [21, 1, 2]
    np.testing.assert_allclose(terrain.piece_run_m[:21], 101.0 / 21.0, rtol=1e-3)


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
