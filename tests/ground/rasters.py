"""Rasters written for the tests of the raster door."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio import Affine

Floats = NDArray[np.float64]
Surface = Callable[[Floats, Floats], Floats]

WEST, SOUTH, EAST, NORTH = 10.0, 47.0, 10.02, 47.015
BOUNDS = (WEST, SOUTH, EAST, NORTH)


def tilted(x: Floats, y: Floats) -> Floats:
    """Give a plane over coordinates of any size, some hundred metres high."""
    plane: Floats = 300.0 + 80 * (x - x.mean()) / np.ptp(x) - 50 * (y - y.mean()) / np.ptp(y)
    return plane


def write(
    path: Path,
    height: NDArray[Any],
    transform: Affine,
    *,
    crs: str | None = "EPSG:4326",
    unit: str = "",
    scale: float = 1.0,
    offset: float = 0.0,
    **options: Any,  # noqa: ANN401 - passed on
) -> Path:
    bands = height if height.ndim == 3 else height[None]
    profile = {
        "driver": "GTiff",
        "width": bands.shape[2],
        "height": bands.shape[1],
        "count": bands.shape[0],
        "dtype": bands.dtype,
        "crs": crs,
        "transform": transform,
    }
    with rasterio.open(path, "w", **(profile | options)) as file:
        file.write(bands)
        file.scales, file.offsets = (scale,) * file.count, (offset,) * file.count
        if unit:
            file.units = (unit,) * file.count
    return path


def centres(transform: Affine, shape: tuple[int, int]) -> tuple[Floats, Floats]:
    """Coordinates of the cells' centres: half a cell in, as GeoTIFF's pixel-is-area says."""
    column, row = np.meshgrid(np.arange(shape[1]) + 0.5, np.arange(shape[0]) + 0.5)
    return (
        transform.a * column + transform.b * row + transform.c,
        transform.d * column + transform.e * row + transform.f,
    )


def degrees_grid(shape: tuple[int, int] = (60, 80)) -> Affine:
    rows, columns = shape
    return Affine((EAST - WEST) / columns, 0, WEST, 0, -(NORTH - SOUTH) / rows, NORTH)


def a_plane(path: Path, dtype: str = "float32", **options: Any) -> Path:  # noqa: ANN401
    transform = degrees_grid()
    x, y = centres(transform, (60, 80))
    return write(path, tilted(x, y).astype(dtype), transform, **options)


def points(count: int = 500, *, inset: float = 0.1) -> tuple[Floats, Floats]:
    generator = np.random.default_rng(7)
    lon = generator.uniform(inset, 1 - inset, count) * (EAST - WEST) + WEST
    lat = generator.uniform(inset, 1 - inset, count) * (NORTH - SOUTH) + SOUTH
    return lon, lat
