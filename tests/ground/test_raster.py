"""Elevation rasters: what the door takes and refuses, and heights at any point."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from matplotlib import cbook
from pyproj import CRS, Transformer
from rasterio import Affine
from scipy.ndimage import map_coordinates

from simulator.errors import InputError
from simulator.ground import raster as door
from simulator.ground.grid import Raster, bilinear, smoothed
from simulator.ground.raster import read_raster, read_rasters
from tests.ground.rasters import (
    BOUNDS,
    EAST,
    NORTH,
    SOUTH,
    WEST,
    a_plane,
    centres,
    degrees_grid,
    points,
    tilted,
    write,
)


@pytest.mark.parametrize(
    "crs",
    [
        "EPSG:4326",  # WGS84 degrees
        "EPSG:4258",  # ETRS89 degrees
        "EPSG:32632",  # UTM 32N
        "EPSG:3035",  # European equal-area
        "EPSG:2056",  # Swiss oblique Mercator on another ellipsoid
        "EPSG:3857",  # web Mercator
        "EPSG:2263",  # New York, its metres are US survey feet
    ],
)
@pytest.mark.parametrize("shape_of_grid", ["north up", "south up", "turned"])
def test_a_plane_in_any_coordinate_system_is_met_between_the_centres_of_its_cells(
    tmp_path: Path, crs: str, shape_of_grid: str
) -> None:
    # Bilinear interpolation reproduces a plane exactly; half a cell off would show as metres.
    # The coordinates are those of PROJ.
    west, south, east, north = BOUNDS
    if crs == "EPSG:2263":
        west, south, east, north = -74.0, 40.7, -73.98, 40.715
    forward = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    left, bottom, right, top = forward.transform_bounds(west, south, east, north)
    rows, columns = 70, 90
    transform = Affine((right - left) / columns, 0, left, 0, (bottom - top) / rows, top)
    if shape_of_grid == "south up":
        transform = Affine((right - left) / columns, 0, left, 0, (top - bottom) / rows, bottom)
    if shape_of_grid == "turned":
        middle = ((left + right) / 2, (bottom + top) / 2)
        transform = (
            Affine.translation(*middle)
            @ Affine.rotation(20)
            @ Affine.translation(*(-v for v in middle))
        ) @ transform
    x, y = centres(transform, (rows, columns))
    scale = (np.ptp(x), np.ptp(y))
    height = 300 + 80 * (x - left) / scale[0] - 50 * (y - bottom) / scale[1]
    raster = read_raster(write(tmp_path / "plane.tif", height, transform, crs=crs))

    generator = np.random.default_rng(3)
    lon = west + (east - west) * generator.uniform(0.3, 0.7, 200)
    lat = south + (north - south) * generator.uniform(0.3, 0.7, 200)
    at_x, at_y = forward.transform(lon, lat)
    expected = 300 + 80 * (at_x - left) / scale[0] - 50 * (at_y - bottom) / scale[1]
    np.testing.assert_allclose(raster.heights(lon, lat), expected, atol=1e-3)


def test_real_terrain_agrees_with_scipy_and_with_the_files_own_reader(tmp_path: Path) -> None:
    # The terrain sample that matplotlib ships, read back by rasterio and by scipy's order 1.
    sample: Any = cbook.get_sample_data("jacksboro_fault_dem.npz")
    height = sample["elevation"]
    dx, dy = float(sample["dx"]), float(sample["dy"])
    west, north = float(sample["xmin"]), float(max(sample["ymin"], sample["ymax"]))
    path = write(tmp_path / "sample.tif", height, Affine(dx, 0, west, 0, -dy, north))
    raster = read_raster(path)
    rows, columns = height.shape
    generator = np.random.default_rng(0)
    row, column = generator.uniform(0, rows - 1, 5000), generator.uniform(0, columns - 1, 5000)
    lon, lat = west + (column + 0.5) * dx, north - (row + 0.5) * dy
    by_scipy = map_coordinates(height.astype(np.float64), [row, column], order=1)
    np.testing.assert_allclose(raster.heights(lon, lat), by_scipy, atol=1e-3)

    whole_row, whole_column = row.astype(int), column.astype(int)
    lon, lat = west + (whole_column + 0.5) * dx, north - (whole_row + 0.5) * dy
    with rasterio.open(path) as file:
        by_rasterio = [value[0] for value in file.sample(zip(lon, lat, strict=True))]
    np.testing.assert_allclose(raster.heights(lon, lat), by_rasterio, atol=1e-3)


def test_heights_keep_the_shape_of_the_points_and_are_nan_outside(tmp_path: Path) -> None:
    raster = read_raster(a_plane(tmp_path / "plane.tif"))
    lon, lat = np.meshgrid([WEST - 0.001, 10.005, 10.01], [47.002, 47.01])
    found = raster.heights(lon, lat)
    assert found.shape == (2, 3)
    assert np.isnan(found).tolist() == [[True, False, False]] * 2
    assert raster.heights(10.01, 47.01).shape == ()
    assert np.isnan(raster.heights([np.nan, 10.01], [47.01, np.inf])).all()


def test_the_outer_half_cell_takes_the_height_of_the_nearest_centres(tmp_path: Path) -> None:
    raster = read_raster(a_plane(tmp_path / "plane.tif"))
    cell = (EAST - WEST) / 80
    at_edge, at_centre = raster.heights([WEST + 1e-9, WEST + cell / 2], [47.01, 47.01])
    assert at_edge == pytest.approx(at_centre)


@pytest.mark.parametrize(
    ("dtype", "mark", "declared"),
    [
        ("int16", -32768, -32768),
        ("uint16", 65535, 65535),
        ("float32", -9999, -9999),
        ("float32", np.nan, None),
        ("float32", np.nan, np.nan),
        ("float64", -1.797e308, -1.797e308),
        ("int16", -9999, None),  # undeclared, but nobody walks below -500 m
        ("float32", 3.4e38, None),
    ],
)
def test_voids_stay_voids_and_never_turn_into_heights(
    tmp_path: Path, dtype: str, mark: float, declared: float | None
) -> None:
    transform = degrees_grid()
    x, y = centres(transform, (60, 80))
    height = np.round(tilted(x, y)).astype(dtype)
    height[20:40, 30:50] = mark  # too large a hole to close
    raster = read_raster(write(tmp_path / "holes.tif", height, transform, nodata=declared))
    assert np.isnan(raster.height_m[20:40, 30:50]).all()
    assert np.isnan(raster.height_m).sum() == 20 * 20
    assert np.isnan(raster.heights(*(v[30, 40] for v in (x, y))))
    # Half a cell from the hole one of the four cells is void; on a known centre none counts.
    half = (x[30, 29] + x[30, 30]) / 2
    assert np.isnan(raster.heights(half, y[30, 29]))
    assert raster.heights(x[30, 29], y[30, 29]) == pytest.approx(height[30, 29])


NO = np.nan


@pytest.mark.parametrize(
    ("cells", "column", "row", "height"),
    [
        # On the line between two known centres, a quarter of the way from 10 to 30.
        ([[NO, 10], [NO, 30]], 1.0, 0.25, 15.0),
        ([[10, NO], [30, NO]], 0.0, 0.25, 15.0),
        ([[NO, NO], [10, 30]], 0.25, 1.0, 15.0),
        ([[10, 30], [NO, NO]], 0.25, 0.0, 15.0),
        # On the one known centre.
        ([[NO, 7], [NO, NO]], 1.0, 0.0, 7.0),
        ([[NO, NO], [7, NO]], 0.0, 1.0, 7.0),
        ([[NO, NO], [NO, 7]], 1.0, 1.0, 7.0),
        # Off the line between them, if ever so little, the void counts.
        ([[NO, 10], [NO, 30]], 0.999, 0.25, NO),
        ([[NO, NO], [10, 30]], 0.25, 0.999, NO),
    ],
)
def test_beside_a_void_only_cells_that_carry_weight_count(
    cells: list[list[float]], column: float, row: float, height: float
) -> None:
    found = bilinear(np.array(cells, np.float32), np.array([column]), np.array([row]))
    assert found == pytest.approx(height, nan_ok=True)


def test_a_small_hole_is_closed_from_its_rim_and_counted(tmp_path: Path) -> None:
    transform = degrees_grid()
    x, y = centres(transform, (60, 80))
    height = tilted(x, y)
    holed = height.copy()
    holed[10:15, 20:25] = holed[30, 30] = np.nan
    holed[0, 5:8] = np.nan  # at the border: nothing known beyond it
    raster = read_raster(write(tmp_path / "holes.tif", holed, transform))
    assert raster.closed_cells == 26
    assert np.isnan(raster.height_m).sum() == 3
    # A plane is harmonic, so closing reproduces it (to float32).
    np.testing.assert_allclose(raster.height_m[8:40], height[8:40], atol=1e-4)


@pytest.mark.parametrize(
    ("unit", "metres"),
    [
        ("m", 1.0),
        ("metre", 1.0),
        ("ft", 0.3048),  # international foot, exactly
        ("US survey foot", 1200 / 3937),  # exactly, US National Bureau of Standards 1959
        ("dm", 0.1),
    ],
)
def test_heights_in_the_files_own_unit_become_metres(
    tmp_path: Path, unit: str, metres: float
) -> None:
    plain = read_raster(a_plane(tmp_path / "plain.tif"))
    raster = read_raster(a_plane(tmp_path / "unit.tif", unit=unit))
    np.testing.assert_allclose(raster.height_m, plain.height_m * metres, rtol=1e-6)


def test_the_vertical_system_gives_the_unit_when_the_band_has_none(tmp_path: Path) -> None:
    # EPSG:6360 is NAVD88 height in US survey feet.
    plain = read_raster(a_plane(tmp_path / "plain.tif"))
    feet = a_plane(tmp_path / "feet.tif", crs="EPSG:4326+6360")
    assert CRS.from_user_input("EPSG:4326+6360").is_compound
    raster = read_raster(feet)
    np.testing.assert_allclose(raster.height_m, plain.height_m * 1200 / 3937, rtol=1e-6)


def test_rasters_without_a_unit_of_height_are_remembered(tmp_path: Path) -> None:
    assert read_raster(a_plane(tmp_path / "bare.tif")).no_unit == "bare.tif"
    assert read_raster(a_plane(tmp_path / "metre.tif", unit="metre")).no_unit == ""
    assert read_raster(a_plane(tmp_path / "feet.tif", crs="EPSG:4326+6360")).no_unit == ""


def test_scale_and_offset_of_whole_numbers_are_applied(tmp_path: Path) -> None:
    transform = degrees_grid()
    stored = np.full((60, 80), 1234, dtype=np.int16)
    raster = read_raster(write(tmp_path / "scaled.tif", stored, transform, scale=0.1, offset=100.0))
    np.testing.assert_allclose(raster.height_m, 223.4, rtol=1e-6)


def test_only_the_window_of_the_area_is_read_and_gives_the_same_heights(tmp_path: Path) -> None:
    path = a_plane(tmp_path / "plane.tif")
    whole = read_raster(path)
    area = (10.008, 47.006, 10.012, 47.008)
    part = read_raster(path, bounds=area, margin_m=50)
    assert part.height_m.size < whole.height_m.size / 5
    lon, lat = np.meshgrid(np.linspace(area[0], area[2], 50), np.linspace(area[1], area[3], 50))
    np.testing.assert_allclose(part.heights(lon, lat), whole.heights(lon, lat), atol=1e-4)
    # The margin is there: 50 m are 0.00045 degrees of latitude.
    assert np.isfinite(part.heights(10.01, 47.006 - 0.00044))


def test_a_window_in_projected_coordinates_covers_the_whole_area(tmp_path: Path) -> None:
    forward = Transformer.from_crs("EPSG:4326", "EPSG:32633", always_xy=True)  # 5 degrees off axis
    left, bottom, right, top = forward.transform_bounds(*BOUNDS)
    transform = Affine(10, 0, left - 500, 0, -10, top + 500)
    shape = (int(top - bottom + 1000) // 10, int(right - left + 1000) // 10)
    x, y = centres(transform, shape)
    path = write(tmp_path / "utm.tif", tilted(x, y), transform, crs="EPSG:32633")
    part = read_raster(path, bounds=BOUNDS)
    lon, lat = np.meshgrid(np.linspace(WEST, EAST, 40), np.linspace(SOUTH, NORTH, 40))
    np.testing.assert_allclose(
        part.heights(lon, lat), read_raster(path).heights(lon, lat), atol=1e-3
    )


def test_longitudes_counted_from_0_to_360_are_understood(tmp_path: Path) -> None:
    transform = Affine(0.001, 0, 285.99, 0, -0.001, 40.73)
    x, y = centres(transform, (40, 40))
    raster = read_raster(
        write(tmp_path / "round.tif", tilted(x, y), transform), bounds=(-74.0, 40.7, -73.98, 40.72)
    )
    assert raster.heights(x[20, 20] - 360, y[20, 20]) == pytest.approx(tilted(x, y)[20, 20])


def test_finer_rasters_are_asked_first_and_tiles_of_one_grid_have_no_seam(tmp_path: Path) -> None:
    transform = degrees_grid()
    x, y = centres(transform, (60, 80))
    height = tilted(x, y)
    coarse = write(
        tmp_path / "coarse.tif", np.full((6, 8), 5.0), transform @ Affine.scale(10), dtype="float64"
    )
    west = write(tmp_path / "west.tif", height[:, :40], transform)
    east = write(tmp_path / "east.tif", height[:, 40:], transform @ Affine.translation(40, 0))
    far = write(tmp_path / "far.tif", height, Affine.translation(3, 3) @ transform)
    rasters = read_rasters([coarse, west, far, east], bounds=BOUNDS)
    assert [raster.source for raster in rasters] == ["west.tif, east.tif", "coarse.tif"]
    lon, lat = points()
    whole = read_raster(write(tmp_path / "whole.tif", height, transform))
    np.testing.assert_allclose(rasters[0].heights(lon, lat), whole.heights(lon, lat), atol=1e-4)


def test_a_raster_larger_than_memory_allows_is_averaged_down(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "MOST_CELLS", 1300)
    path = a_plane(tmp_path / "plane.tif")
    raster = read_raster(path)
    assert raster.height_m.size <= 1300
    monkeypatch.undo()
    fine = read_raster(path)
    assert raster.cell_m == pytest.approx(2 * fine.cell_m, rel=1e-6)
    lon, lat = points()
    np.testing.assert_allclose(raster.heights(lon, lat), fine.heights(lon, lat), atol=1e-3)


def test_cell_sides_are_geodesic_lengths(tmp_path: Path) -> None:
    # WGS84 at 47 N: a degree of longitude is 76.06 km, of latitude 111.17 km (from memory).
    raster = read_raster(a_plane(tmp_path / "plane.tif"))
    assert raster.cell_m == pytest.approx((EAST - WEST) / 80 * 76060, rel=1e-3)


def refused(path: Path, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        read_raster(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_files_that_are_no_raster_are_refused_in_one_line(tmp_path: Path) -> None:
    refused(tmp_path / "missing.tif", "no such file")
    refused(tmp_path, "no such file")
    text = tmp_path / "text.tif"
    text.write_text("not a raster")
    refused(text, "no readable raster")
    empty = tmp_path / "empty.tif"
    empty.touch()
    refused(empty, "no readable raster")
    whole = a_plane(tmp_path / "whole.tif").read_bytes()
    cut = tmp_path / "cut.tif"
    cut.write_bytes(whole[: len(whole) // 2])
    refused(cut, "no readable raster")


def test_rasters_without_a_place_on_earth_are_refused(tmp_path: Path) -> None:
    height = np.full((10, 10), 5.0)
    with pytest.warns(rasterio.errors.NotGeoreferencedWarning):
        bare = write(tmp_path / "bare.tif", height, Affine.identity(), crs=None)
    refused(bare, "where on Earth")
    refused(write(tmp_path / "no_crs.tif", height, degrees_grid(), crs=None), "where on Earth")
    site = 'LOCAL_CS["site grid",UNIT["metre",1]]'
    refused(write(tmp_path / "site.tif", height, degrees_grid(), crs=site), "coordinate system")


def test_pictures_unknown_units_and_other_areas_are_refused(tmp_path: Path) -> None:
    picture = np.zeros((3, 10, 10), dtype=np.uint8)
    refused(
        write(tmp_path / "photo.tif", picture, degrees_grid(), photometric="RGB"), "is a picture"
    )
    refused(a_plane(tmp_path / "unit.tif", unit="furlong"), "'furlong'")
    plane = a_plane(tmp_path / "plane.tif")
    with pytest.raises(InputError, match="covers nothing of the map"):
        read_rasters([plane], bounds=(20.0, 10.0, 20.1, 10.1))


def test_smoothing_beside_a_void_weighs_what_is_known_and_nothing_else() -> None:
    # Rising along the rows only, cut off by a void: every known cell of a column has the height of
    # the column, so a mean over known cells, with weights even to both sides, gives it back.
    known = np.tile(np.arange(40.0) * 3.0 + 100.0, (20, 1))
    height = np.vstack([known, np.full((10, 40), np.nan)]).astype(np.float32)
    raster = Raster(height, (10.0, 0.0, 0.0, 0.0, -10.0, 300.0), "EPSG:32633", 10.0)
    smooth = smoothed(raster, 20.0)
    inner = slice(12, 28)  # farther from the sides than the weights reach
    np.testing.assert_allclose(smooth.height_m[:20, inner], known[:, inner], atol=0.01)
    assert np.isnan(smooth.height_m[20:]).all()
