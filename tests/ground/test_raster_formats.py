"""Elevation rasters of other formats than GeoTIFF, and the credit that a file carries."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import CRS, Transformer
from rasterio import Affine

from simulator.errors import InputError
from simulator.ground.raster import read_raster, read_rasters

WEST, SOUTH, EAST, NORTH = 10.0, 47.0, 10.02, 47.015
BOUNDS = (WEST, SOUTH, EAST, NORTH)


def test_an_ascii_grid_with_its_own_coordinate_file_is_read(tmp_path: Path) -> None:
    # Layout of the Esri ASCII grid: header, then rows from the north; corner of the first cell.
    rows = np.arange(12.0).reshape(3, 4) * 10 + 100
    lines = "\n".join(" ".join(f"{value:g}" for value in row) for row in rows)
    (tmp_path / "hill.asc").write_text(
        "ncols 4\nnrows 3\nxllcorner 500000\nyllcorner 5200000\ncellsize 30\n"
        f"NODATA_value -9999\n{lines.replace('110', '-9999')}\n"
    )
    (tmp_path / "hill.prj").write_text(CRS.from_epsg(32632).to_wkt("WKT1_ESRI"))
    raster = read_raster(tmp_path / "hill.asc")
    back = Transformer.from_crs("EPSG:32632", "EPSG:4326", always_xy=True)
    lon, lat = back.transform([500015.0, 500105.0, 500045.0], [5200075.0, 5200015.0, 5200075.0])
    assert raster.heights(lon, lat)[:2] == pytest.approx([100.0, 210.0], abs=0.01)
    assert np.isnan(raster.heights(lon, lat)[2])
    (tmp_path / "hill.prj").unlink()
    with pytest.raises(InputError, match="does not say where on Earth it lies"):
        read_raster(tmp_path / "hill.asc")


def test_a_shuttle_tile_is_placed_by_its_name(tmp_path: Path) -> None:
    # SRTM topography documentation, version 2.1, section 2.1: 1201 rows of 1201 big-endian
    # 16-bit heights, from the north, the first sample on the corner that the name gives.
    steps = np.arange(1201)
    height = (500 + steps[None, :] - 0.25 * steps[::-1, None]).astype(">i2")
    height[600, 600] = -32768  # a void
    path = tmp_path / "N47E010.hgt"
    path.write_bytes(height.tobytes())
    raster = read_raster(path, bounds=BOUNDS)
    lon, lat = WEST + 12 / 1200, SOUTH + 8 / 1200
    assert float(raster.heights(lon, lat)) == pytest.approx(500 + 12 - 2, abs=1.0)
    assert raster.cell_m == pytest.approx(1 / 1200 * 76_000, rel=0.01)


def test_the_credit_that_a_file_carries_is_kept_through_joining(tmp_path: Path) -> None:
    step = 0.02 / 80
    paths = []
    for west, owner in ((WEST, "Office of the West"), (WEST + 40 * step, "Office of the East")):
        path = tmp_path / f"{owner}.tif"
        transform = Affine(step, 0, west, 0, -step, SOUTH + 60 * step)
        with rasterio.open(
            path, "w", driver="GTiff", width=40, height=60, count=1, dtype="float32",
            crs="EPSG:4326", transform=transform,
        ) as file:  # fmt: skip
            file.write(np.full((60, 40), 200.0, np.float32), 1)
            file.update_tags(TIFFTAG_COPYRIGHT=owner)
        paths.append(path)
    (joined,) = read_rasters(paths, bounds=BOUNDS)
    assert joined.credit == "Office of the West; Office of the East"
