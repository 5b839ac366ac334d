"""How fast heights come from a raster, beside the readers people use for it.

Run with ``pytest tests/benchmarks -m benchmark -s``. Times of the machine at hand; the ratios are
what is compared. Answers are asserted equal.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from pyproj import Geod
from rasterio import Affine
from scipy.ndimage import map_coordinates

from simulator.ground.raster import read_raster
from simulator.ground.terrain import drape

pytestmark = [pytest.mark.benchmark, pytest.mark.slow]

Floats = NDArray[np.float64]

POINTS = 1_000_000
CELLS = 1200
CELL_DEG = 1 / 3600  # one arc-second, the usual size of open elevation tiles
WEST, NORTH = 10.0, 47.5


def best_s(job: Callable[[], object], *, rounds: int = 7) -> float:
    """Least time of several rounds [s]: what the machine can do when not disturbed."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return min(times)


@pytest.fixture(scope="module")
def tile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a third of a degree of rolling ground in one-arc-second cells."""
    path = tmp_path_factory.mktemp("heights") / "tile.tif"
    row, column = np.mgrid[0:CELLS, 0:CELLS]
    height = 400 + 150 * np.sin(row / 90) * np.cos(column / 70) + 20 * np.sin(row * column / 9000)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=CELLS,
        height=CELLS,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=Affine(CELL_DEG, 0, WEST, 0, -CELL_DEG, NORTH),
        compress="deflate",
        tiled=True,
    ) as file:
        file.write(height.astype(np.float32), 1)
    return path


def random_points(count: int) -> tuple[Floats, Floats]:
    generator = np.random.default_rng(8)
    span = (CELLS - 1) * CELL_DEG
    lon = WEST + CELL_DEG / 2 + span * generator.random(count)
    lat = NORTH - CELL_DEG / 2 - span * generator.random(count)
    return lon, lat


def test_a_million_heights_beside_rasterio_and_scipy(tile: Path) -> None:
    raster = read_raster(tile)
    lon, lat = random_points(POINTS)
    mine = best_s(lambda: raster.heights(lon, lat))
    found = raster.heights(lon, lat)

    grid = raster.height_m.astype(np.float64)
    place = np.stack(((NORTH - lat) / CELL_DEG - 0.5, (lon - WEST) / CELL_DEG - 0.5))
    scipy_s = best_s(lambda: map_coordinates(grid, place, order=1), rounds=3)
    np.testing.assert_allclose(
        found, map_coordinates(grid, place, order=1, mode="nearest"), atol=1e-3
    )

    def sampled() -> list[float]:
        with rasterio.open(tile) as file:
            return [value[0] for value in file.sample(zip(lon, lat, strict=True))]

    # rasterio.sample takes the cell a point falls in: equal at the cells' centres.
    start = time.perf_counter()
    nearest = np.array(sampled())
    sample_s = time.perf_counter() - start
    column, row = np.floor((lon - WEST) / CELL_DEG), np.floor((NORTH - lat) / CELL_DEG)
    at_centres = raster.heights(WEST + (column + 0.5) * CELL_DEG, NORTH - (row + 0.5) * CELL_DEG)
    np.testing.assert_allclose(nearest, at_centres, atol=1e-3)

    rows = (
        ("Raster.heights", mine),
        ("scipy map_coordinates, order 1", scipy_s),
        ("rasterio sample, nearest cell", sample_s),
    )
    print(f"\n{POINTS:,} heights, {CELLS} x {CELLS} cells         ms   times ours")  # noqa: T201
    for name, seconds in rows:
        print(f"  {name:<34} {1000 * seconds:9.1f} {seconds / mine:9.1f}")  # noqa: T201


def test_a_city_of_four_hundred_thousand_segments_is_draped(tile: Path) -> None:
    raster = read_raster(tile)
    size = 470
    lon, lat = (
        grid.ravel()
        for grid in np.meshgrid(
            WEST + 0.02 + np.arange(size) * 0.0004, NORTH - 0.02 - np.arange(size) * 0.0003
        )
    )
    node = np.arange(size * size, dtype=np.int32).reshape(size, size)
    tail = np.concatenate((node[:, :-1].ravel(), node[:-1].ravel()))
    head = np.concatenate((node[:, 1:].ravel(), node[1:].ravel()))
    _, _, length = Geod(ellps="WGS84").inv(lon[tail], lat[tail], lon[head], lat[head])
    generator = np.random.default_rng(1)
    bridge, tunnel = generator.random(tail.size) < 0.01, generator.random(tail.size) < 0.002

    def job() -> object:
        return drape(
            lon, lat, tail, head, length, bridge, tunnel, rasters=[raster], smoothing_m=30.0
        )

    seconds = best_s(job, rounds=3)
    terrain = drape(lon, lat, tail, head, length, bridge, tunnel, rasters=[raster], smoothing_m=0.0)
    # Away from bridges the nodes keep the raster's own heights.
    touched = np.zeros(lon.size, dtype=np.bool_)
    for rows in (tail, head):
        touched[rows[bridge | tunnel]] = True
    for _ in range(2):
        for one, other in ((tail, head), (head, tail)):
            touched[one[touched[other]]] = True
    np.testing.assert_allclose(
        terrain.node_height_m[~touched], raster.heights(lon, lat)[~touched], atol=1e-9
    )
    print(  # noqa: T201
        f"\n{tail.size:,} segments cut into {terrain.piece_run_m.size:,} pieces, "
        f"{int((bridge | tunnel).sum()):,} of them bridges or tunnels: {seconds:.2f} s, smoothed"
    )
