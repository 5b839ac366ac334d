"""Hills: a valley floor, a ridge with a gap for the river, waves, and a river bed."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from data.invented import layout
from data.invented.frame import CENTRE_LAT, CENTRE_LON, M_PER_DEG_LAT, M_PER_DEG_LON, Floats
from data.invented.lattice import waves
from data.invented.shapes import Segments, spline

CELL_M = 20.0
HEIGHT_STEP_M = 0.125  # survives float32 exactly, and packs well
NOISE_M = 0.25
RIVER_SMOOTHING = 5  # points to either side; no bend is then tighter than the river is wide
WATER_BELOW_BANK_M = 3.5


def river_line() -> Floats:
    """Give the river's middle line, metres, upstream to downstream."""
    points = spline(np.array(layout.RIVER) * 1000.0, 40.0)
    wide = np.pad(points, ((RIVER_SMOOTHING, RIVER_SMOOTHING), (0, 0)), mode="edge")
    share = np.full(2 * RIVER_SMOOTHING + 1, 1 / (2 * RIVER_SMOOTHING + 1))
    return np.column_stack([np.convolve(wide[:, axis], share, "valid") for axis in (0, 1)])


def half_width_m(points: Floats) -> Floats:
    """Give half the river's width: it widens downstream (westwards)."""
    return np.asarray(np.interp(points[:, 0] / 1000.0, [-14, -9, -5, 4, 14], [62, 52, 44, 34, 24]))


def water_gap_m(points: Floats, limit_m: float = 3000.0) -> Floats:
    """Give the distance to the river's edge (negative in the water)."""
    distance, nearest, _ = Segments.of([river_line()]).nearest(points, limit_m)
    return np.where(np.isfinite(distance), distance - half_width_m(nearest), limit_m)


def lake_share(points: Floats, radius_km: float, phase: float) -> Floats:
    """Give the distance from the lake's middle as a share of the shore's distance."""
    away = points - np.array(layout.LAKE_KM) * 1000.0
    angle = np.arctan2(away[:, 1], away[:, 0])
    shore = 1 + 0.18 * np.sin(2 * angle + phase) + 0.09 * np.sin(3 * angle + 2 * phase)
    return np.asarray(np.hypot(away[:, 0], away[:, 1]) / (radius_km * 1000.0 * shore))


def shore_line(radius_km: float, phase: float, count: int) -> Floats:
    """Give the outline at which `lake_share` is one."""
    angle = np.linspace(0.0, 2 * np.pi, count, endpoint=False)
    shore = 1 + 0.18 * np.sin(2 * angle + phase) + 0.09 * np.sin(3 * angle + 2 * phase)
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * shore[:, None] * radius_km * 1000.0
    return np.asarray(ring + np.array(layout.LAKE_KM) * 1000.0)


LAKE_LEVEL_M = 56.0
LAKE_PHASE = 0.7
ISLAND_PHASE = 2.1


class Hills:
    """Heights of the invented country.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of the waves.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        self._broad = waves(rng, 3800.0, 6)
        self._small = waves(rng, 900.0, 8)

    def height_m(self, points: Floats, gap_m: Floats) -> Floats:
        """Give heights in metres, `gap_m` being the distance to the river's edge."""
        x, y = points[:, 0] / 1000.0, points[:, 1] / 1000.0
        water = 26.0 + 1.25 * x  # the river falls westwards, 1.25 m a kilometre
        away = np.maximum(gap_m, 0.0)
        near, far = 1 - np.exp(-((away / 420.0) ** 2)), 1 - np.exp(-((away / 1600.0) ** 2))
        crest_x = _smooth(y, layout.CREST_Y, layout.CREST_X)
        rise = _smooth(y, layout.CREST_Y, layout.CREST_RISE_M)
        width = _smooth(y, layout.CREST_Y, layout.CREST_WIDTH_KM)
        broad, small = self._broad(points)[:, 0], self._small(points)[:, 0]
        past = x - crest_x - 0.07 * small
        # Steep to the west, gentle to the east, as a tilted bed of rock weathers.
        width = width * np.where(past < 0.0, 0.7, 1.15)
        ridge = rise * (1 + 0.05 * small) * np.exp(-0.5 * (past / width) ** 2)
        land = water + 3.0 + 16.0 * far + near * (ridge + 3.5 * small)
        land += far * 20.0 * np.log1p(np.exp(1.3 * broad))
        mound = np.hypot(x - layout.MOUND_KM[0], y - layout.MOUND_KM[1]) / layout.MOUND_WIDTH_KM
        land += near * layout.MOUND_RISE_M * np.exp(-0.5 * mound**2)
        land = self._with_lake(points, land)
        bank = np.clip((gap_m + 4.0) / 16.0, 0.0, 1.0)
        return np.asarray(
            water
            + 3.0
            - WATER_BELOW_BANK_M
            + _ease(bank) * (land - water - 3.0 + WATER_BELOW_BANK_M)
        )

    @staticmethod
    def _with_lake(points: Floats, land: Floats) -> Floats:
        share = lake_share(points, layout.LAKE_RADIUS_KM, LAKE_PHASE)
        shore = _ease(np.clip((share - 0.98) / 0.6, 0.0, 1.0))
        land = LAKE_LEVEL_M + shore * (land - LAKE_LEVEL_M)
        island = lake_share(points, layout.ISLAND_RADIUS_KM, ISLAND_PHASE)
        return np.asarray(land + 9.0 * np.clip(1.0 - island**2, 0.0, 1.0))


def _ease(share: Floats) -> Floats:
    return np.asarray(share**2 * (3 - 2 * share))


def _smooth(at: Floats, knots: tuple[float, ...], values: tuple[float, ...]) -> Floats:
    curve = spline(np.column_stack([knots, values]) * [1.0, 0.01], 0.02)
    return np.asarray(np.interp(at, curve[:, 0], curve[:, 1] * 100.0))


def _grid(cell_m: float) -> tuple[Floats, Floats]:
    width, height = layout.HALF_WIDTH_KM * 1000.0, layout.HALF_HEIGHT_KM * 1000.0
    return (
        np.arange(-width + cell_m / 2, width, cell_m),
        np.arange(height - cell_m / 2, -height, -cell_m),
    )


def _gap_grid_m(x: Floats, y: Floats) -> Floats:
    """Give the distance to the water on a fine grid: exact near it, interpolated far off."""
    coarse_x, coarse_y = _grid(CELL_M * 8)
    mesh = np.stack(np.meshgrid(coarse_x, coarse_y), axis=-1)
    coarse = water_gap_m(mesh.reshape(-1, 2)).reshape(mesh.shape[:2])
    wide = np.array([np.interp(x, coarse_x, row) for row in coarse])
    gap = np.array([np.interp(-y, -coarse_y, column) for column in wide.T]).T
    close = gap < 400.0
    fine = np.stack(np.meshgrid(x, y), axis=-1)
    gap[close] = water_gap_m(fine[close], 700.0)
    return gap


def heights_grid(hills: Hills, rng: np.random.Generator) -> Floats:
    """Give the raster: rows from the north, with a little noise as a survey has."""
    x, y = _grid(CELL_M)
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    height = hills.height_m(points, _gap_grid_m(x, y).ravel()).reshape(len(y), len(x))
    height = height + NOISE_M * rng.standard_normal(height.shape)
    return np.asarray(np.round(height / HEIGHT_STEP_M) * HEIGHT_STEP_M)


def write_raster(
    path: Path, height_m: Floats, cell_m: float, west_m: float, north_m: float
) -> None:
    """Write heights as a GeoTIFF in degrees (EPSG:4326)."""
    import rasterio

    transform = rasterio.transform.from_origin(
        CENTRE_LON + west_m / M_PER_DEG_LON,
        CENTRE_LAT + north_m / M_PER_DEG_LAT,
        cell_m / M_PER_DEG_LON,
        cell_m / M_PER_DEG_LAT,
    )
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=height_m.shape[0],
        width=height_m.shape[1],
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=transform,
        compress="lzw",
        predictor=3,
        tiled=True,
        blockxsize=256,
        blockysize=256,
    ) as raster:
        raster.write(height_m.astype(np.float32), 1)
        raster.update_tags(note="Invented heights of an invented place; open sea in truth.")
        raster.set_band_unit(1, "metre")
