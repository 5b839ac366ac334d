"""The corridor of a walk: what is inside, against the ellipsoid's own distances."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from simulator.ground.corridor import Corridor, box_of, hull_of, sphere_m
from tests.conftest import EXAMPLES

GEOD = Geod(ellps="WGS84")
OSLO_LIKE = ((59.9, 10.7), (60.1, 10.9))


def test_any_way_that_is_short_enough_lies_inside() -> None:
    # A way with one corner is as long as the two distances to it; measured on the ellipsoid
    # (Karney 2013, as in PROJ). The sphere errs by up to 0.6 %.
    corridor = Corridor(OSLO_LIKE, 1.5, 1000.0)
    (south, west), (north, east) = OSLO_LIKE
    rng = np.random.default_rng(3)
    lon, lat = rng.uniform(10.2, 11.4, 4000), rng.uniform(59.7, 60.3, 4000)
    there = GEOD.inv(np.full(4000, west), np.full(4000, south), lon, lat)[2]
    back = GEOD.inv(np.full(4000, east), np.full(4000, north), lon, lat)[2]
    straight = GEOD.inv(west, south, east, north)[2]
    ratio = (there + back) / straight
    inside = corridor.contains(lon, lat)
    assert inside[ratio < 1.49].all()
    assert not inside[ratio > 1.51].any()
    assert 200 < inside.sum() < 3800


def test_a_short_leg_has_the_margin_around_both_ends() -> None:
    corridor = Corridor(((60.0, 10.0), (60.0, 10.001)), 1.5, 2000.0)
    lon, lat, _ = GEOD.fwd(
        np.full(36, 10.0), np.full(36, 60.0), np.arange(36) * 10.0, np.full(36, 1900.0)
    )
    assert corridor.contains(np.asarray(lon), np.asarray(lat)).all()


def test_vias_make_a_corridor_of_legs() -> None:
    bent = Corridor(((60.0, 10.0), (60.2, 10.0), (60.2, 10.4)), 1.2, 500.0)
    assert bent.contains(np.array([10.0, 10.2]), np.array([60.1, 60.2])).all()
    assert not bent.contains(np.array([10.3]), np.array([60.05])).any()
    assert len(bent.legs()) == 2


@given(
    lat=st.floats(-78, 78),
    lon=st.floats(-180, 180),
    north=st.floats(-0.2, 0.2),
    east=st.floats(-0.3, 0.3),
    longest=st.floats(1.1, 3.0),
)
@settings(max_examples=2 * EXAMPLES)
def test_cells_and_boxes_hold_every_point_inside(
    lat: float, lon: float, north: float, east: float, longest: float
) -> None:
    home = (lat + north, (lon + east + 180) % 360 - 180)
    corridor = Corridor(((lat, lon), home), longest, 800.0)
    cells = corridor.cells()
    rng = np.random.default_rng(0)
    ((_, _, reach),) = corridor.legs()
    lons, lats, _ = GEOD.fwd(
        np.full(300, lon), np.full(300, lat), rng.uniform(0, 360, 300), rng.uniform(0, reach, 300)
    )
    lons, lats = np.asarray(lons), np.asarray(lats)
    inside = corridor.contains(lons, lats)
    ((west, south, east_edge, top),) = corridor.boxes()
    for x, y in zip(lons[inside], lats[inside], strict=True):
        column = int(np.floor(x * 10))
        column = (column + 1800) % 3600 - 1800
        assert (int(np.floor(y * 10)), column) in cells
        assert south <= y <= top
        assert any(west <= x + turn <= east_edge for turn in (-360, 0, 360))


def test_the_date_line_is_crossed() -> None:
    corridor = Corridor(((-16.8, 179.95), (-16.8, -179.95)), 1.3, 1000.0)
    cells = corridor.cells()
    assert {column for _, column in cells} >= {1799, -1800}
    west, _, east, _ = hull_of(cells)
    assert 0.19 <= east - west <= 0.5
    assert corridor.contains(np.array([180.0, -180.0]), np.array([-16.8, -16.8])).all()


def test_a_walk_of_twenty_five_kilometres_needs_a_few_pieces() -> None:
    # Area of the ellipse: pi a b with a = 1.5 d / 2 and b = sqrt(1.5^2 - 1) d / 2, some 820 km^2,
    # where a cell has some 87 km^2 at 45 degrees.
    home = GEOD.fwd(10.0, 45.0, 30.0, 25_000.0)
    cells = Corridor(((45.0, 10.0), (home[1], home[0])), 1.5, 2000.0).cells()
    assert 10 <= len(cells) <= 30


def test_distances_on_the_sphere_are_within_the_stated_error() -> None:
    rng = np.random.default_rng(1)
    lat, lon = rng.uniform(-80, 80, 500), rng.uniform(-180, 180, 500)
    ours = np.array(
        [
            float(sphere_m(y, x, np.array([y + 0.1]), np.array([x + 0.1]))[0])
            for y, x in zip(lat, lon, strict=True)
        ]
    )
    theirs = np.asarray(GEOD.inv(lon, lat, lon + 0.1, lat + 0.1)[2])
    assert ours == pytest.approx(theirs, rel=0.006)


def test_boxes_of_cells_meet() -> None:
    assert box_of((601, 249)) == pytest.approx((24.9, 60.1, 25.0, 60.2))
    assert hull_of([(601, 249), (602, 251)]) == pytest.approx((24.9, 60.1, 25.2, 60.3))
