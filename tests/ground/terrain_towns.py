"""Grounds and towns made by hand for the tests of heights."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

from simulator.ground.grid import Raster
from simulator.ground.terrain import Terrain, drape

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
