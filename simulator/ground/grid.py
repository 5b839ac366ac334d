"""Heights on a grid: bilinear between the centres of its cells, and smoothed.

Arrays only; `simulator.ground.raster` reads them from files. A cell without a height is NaN and
stays so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.arrays import Floats


class Filled(NamedTuple):
    """Values with the unknown ones worked out.

    Attributes
    ----------
    value : ndarray of float, shape (N,)
        Value of each point; NaN where its set touches no known point.
    anchors : ndarray of int, shape (N,)
        Known points that the set of each unknown point touches; 0 for known points.
    set_of : ndarray of int, shape (N,)
        Number of the connected set of each unknown point, from 0; -1 for known points.
    """

    value: NDArray[np.float64]
    anchors: NDArray[np.int64]
    set_of: NDArray[np.int64]


def harmonic(
    value: NDArray[np.float64],
    unknown: NDArray[np.bool_],
    tail: NDArray[np.integer],
    head: NDArray[np.integer],
    length: NDArray[np.float64],
) -> Filled:
    """Work out unknown values on a network so that each is the mean of its neighbours."""
    from scipy.sparse import coo_array, csr_array
    from scipy.sparse.csgraph import connected_components
    from scipy.sparse.linalg import spsolve

    size = int(unknown.sum())
    row = np.full(value.size, -1, dtype=np.int64)
    row[unknown] = np.arange(size)
    result = np.where(unknown, np.nan, value)
    anchors = np.zeros(value.size, dtype=np.int64)
    if size == 0:
        return Filled(result, anchors, row)

    touching = (unknown[tail] | unknown[head]) & (tail != head)
    one, other = tail[touching], head[touching]
    weight = 1.0 / length[touching]
    inner = unknown[one] & unknown[other]
    a, b, w = row[one[inner]], row[other[inner]], weight[inner]
    inside = coo_array(
        (np.concatenate((w, w)), (np.concatenate((a, b)), np.concatenate((b, a)))),
        shape=(size, size),
    )
    set_count, set_of_row = connected_components(inside, directed=False)

    # Lines from an unknown point to a known one.
    edge = ~inner
    at = np.where(unknown[one[edge]], one[edge], other[edge])
    known = np.where(unknown[one[edge]], other[edge], one[edge])
    holds = np.isfinite(value[known])
    at, known, held = row[at[holds]], known[holds], weight[edge][holds]
    pairs = np.unique(np.stack((set_of_row[at], known)), axis=1)
    anchors_of_set = np.bincount(pairs[0], minlength=set_count)

    # Sets without an anchor are left out: their system has no single answer.
    solvable = anchors_of_set[set_of_row] > 0
    if solvable.any():
        pull = np.bincount(at, weights=held, minlength=size)
        right = np.bincount(at, weights=held * value[known], minlength=size)
        degree = np.bincount(np.concatenate((a, b)), np.concatenate((w, w)), minlength=size) + pull
        degree[~solvable] = 1.0
        diagonal = np.arange(size)
        kept = solvable[inside.row]
        system = csr_array(
            (
                np.concatenate((degree, -inside.data[kept])),
                (
                    np.concatenate((diagonal, inside.row[kept])),
                    np.concatenate((diagonal, inside.col[kept])),
                ),
            ),
            shape=(size, size),
        )
        solved = np.atleast_1d(spsolve(system.tocsc(), right))
        result[np.flatnonzero(unknown)[solvable]] = solved[solvable]
    anchors[unknown] = anchors_of_set[set_of_row]
    set_of = np.full(value.size, -1, dtype=np.int64)
    set_of[unknown] = set_of_row
    return Filled(result, anchors, set_of)


Projection = Callable[[Floats, Floats], tuple[Floats, Floats]]
Affine = tuple[float, float, float, float, float, float]

# The kernel of the smoothing ends at this many sigmas; rasters are read with that margin.
SMOOTHING_REACH_SIGMAS = 4.0

# Points handled at a time: temporaries stay in the processor's cache.
BLOCK = 16_384

HALF_TURN_DEG = 180.0


@dataclass(frozen=True, slots=True)
class Raster:
    """Heights on a grid.

    Attributes
    ----------
    height_m : ndarray of float32, shape (rows, columns)
        Height of each cell [m]; NaN where the raster has none.
    transform : tuple of float
        ``(a, b, c, d, e, f)``: a point ``column, row`` of the grid, counted from the outer corner
        of the first cell, lies at ``x = a column + b row + c``, ``y = d column + e row + f``.
    crs : str
        Coordinate system of ``x, y`` (horizontal part), as WKT or authority code.
    cell_m : float
        Shorter side of a cell on the ground [m], at the middle of the raster.
    source : str
        Name of the file, without its folder.
    closed_cells : int
        Cells of small holes that were closed from their rim.
    credit : str
        Whose data this is, where the file says so.
    no_unit : str
        Name of the file if it gives no unit of height, so that metres are assumed.
    """

    height_m: NDArray[np.float32]
    transform: Affine
    crs: str
    cell_m: float
    source: str = ""
    closed_cells: int = 0
    credit: str = ""
    no_unit: str = ""

    def pixel(self, lon: ArrayLike, lat: ArrayLike) -> tuple[Floats, Floats]:
        """Give the place of points on the grid, in cells from the centre of the first cell."""
        return pixel(lon, lat, self.crs, self.transform, self.height_m.shape[1])

    def heights(self, lon: ArrayLike, lat: ArrayLike) -> Floats:
        """Give bilinear heights between the centres of the cells."""
        x, y = np.broadcast_arrays(
            np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
        )
        flat_x, flat_y = x.ravel(), y.ravel()
        out = np.empty(flat_x.size)
        for start in range(0, flat_x.size, BLOCK):
            part = slice(start, start + BLOCK)
            column, row = self.pixel(flat_x[part], flat_y[part])
            bilinear(self.height_m, column, row, out=out[part])
        return out.reshape(x.shape)


def pixel(
    lon: ArrayLike, lat: ArrayLike, crs: str, transform: Affine, columns: int
) -> tuple[Floats, Floats]:
    """Give the place of points on a grid, in cells from the centre of its first cell."""
    x, y = np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
    project, degrees = _projection(crs)
    if project is not None:
        x, y = (np.where(np.isfinite(place), place, np.nan) for place in project(x, y))
    a, b, c, d, e, f = transform
    if degrees and not (c >= -HALF_TURN_DEG and c + a * columns <= HALF_TURN_DEG):
        x = c + np.mod(x - c, 2 * HALF_TURN_DEG)  # a grid that counts 0 to 360 degrees
    size = a * e - b * d
    if b == 0 and d == 0:
        return x * (1 / a) - (c / a + 0.5), y * (1 / e) - (f / e + 0.5)
    x, y = x - c, y - f
    return (e * x - b * y) / size - 0.5, (a * y - d * x) / size - 0.5


@lru_cache(maxsize=16)
def _projection(crs: str) -> tuple[Projection | None, bool]:
    """From WGS84 degrees to a coordinate system (None: the same); whether that is in degrees."""
    from pyproj import CRS, Transformer

    target = CRS.from_user_input(crs)
    wgs84 = CRS.from_user_input("OGC:CRS84")
    if target.equals(wgs84, ignore_axis_order=True):
        return None, True
    transformer = Transformer.from_crs(wgs84, target, always_xy=True)
    return transformer.transform, bool(target.is_geographic)


def bilinear(
    grid: NDArray[np.float32], column: Floats, row: Floats, *, out: Floats | None = None
) -> Floats:
    """Interpolate a grid at points given in cells from the centre of the first cell."""
    if out is None:
        out = np.empty(column.size)
    for start in range(0, column.size, BLOCK):
        part = slice(start, start + BLOCK)
        _bilinear_block(grid, column[part], row[part], out[part])
    return out


def _bilinear_block(grid: NDArray[np.float32], column: Floats, row: Floats, out: Floats) -> None:
    rows, columns = grid.shape
    # Not (inside) also catches NaN.
    outside = None
    if not (
        column.min() >= 0
        and row.min() >= 0
        and column.max() <= columns - 1
        and row.max() <= rows - 1
    ):
        inside = (np.abs(column - (columns - 1) / 2) <= columns / 2) & (
            np.abs(row - (rows - 1) / 2) <= rows / 2
        )
        outside = ~inside
        column = np.where(outside, 0.0, column).clip(0, columns - 1)
        row = np.where(outside, 0.0, row).clip(0, rows - 1)
    left = column.astype(np.intp)
    top = row.astype(np.intp)
    np.minimum(left, columns - 2, out=left)
    np.minimum(top, rows - 2, out=top)
    across, down = column - left, row - top
    top *= columns
    top += left
    flat = grid.reshape(-1)
    # Indices are inside by construction; "clip" spares numpy its own check.
    nw = flat.take(top, mode="clip")
    top += 1
    ne = flat.take(top, mode="clip")
    top += columns
    se = flat.take(top, mode="clip")
    top -= 1
    sw = flat.take(top, mode="clip")
    ne -= nw
    se -= sw
    np.multiply(ne, across, out=out)
    out += nw
    lower = se * across
    lower += sw
    lower -= out
    lower *= down
    out += lower
    void = np.isnan(out)
    if void.any():
        top -= columns
        out[void] = _beside_voids(flat, top[void], columns, across[void], down[void])
    if outside is not None:
        out[outside] = np.nan


def _beside_voids(
    flat: NDArray[np.float32],
    first: NDArray[np.intp],
    columns: int,
    across: Floats,
    down: Floats,
) -> Floats:
    """Weigh the four cells, leaving out those of weight zero."""
    total = np.zeros(first.size)
    for offset, weight in (
        (0, (1 - across) * (1 - down)),
        (1, across * (1 - down)),
        (columns, (1 - across) * down),
        (columns + 1, across * down),
    ):
        value = flat[first + offset].astype(np.float64)
        total += np.where(weight == 0, 0.0, value * weight)
    return total


def smoothed(raster: Raster, sigma_m: float) -> Raster:
    """Smooth a raster with a Gaussian, so that its noise does not count as climbing."""
    if not 0 <= sigma_m < float("inf"):
        msg = f"sigma_m must be 0 or more: {sigma_m!r}"
        raise ValueError(msg)
    if sigma_m == 0:
        return raster
    from scipy.ndimage import gaussian_filter

    across_m, down_m = cell_sides_m(raster.crs, raster.transform, raster.height_m.shape)
    sigma = (sigma_m / down_m, sigma_m / across_m)
    known = np.isfinite(raster.height_m)
    if not known.any():
        return raster
    # The mean is taken out first, so that float32 keeps its digits for the differences.
    level = raster.height_m[known].mean(dtype=np.float64).astype(np.float32)
    height = raster.height_m - level
    if known.all():
        smooth = partial(gaussian_filter, mode="nearest", truncate=SMOOTHING_REACH_SIGMAS)
        height = smooth(height, sigma) + level
    else:
        smooth = partial(gaussian_filter, mode="constant", truncate=SMOOTHING_REACH_SIGMAS)
        height[~known] = 0.0
        weight = smooth(known.astype(np.float32), sigma)
        height = smooth(height, sigma)
        height[known] = height[known] / weight[known] + level
        height[~known] = np.nan
    return replace(raster, height_m=height)


def cell_sides_m(crs: str, transform: Affine, shape: tuple[int, ...]) -> tuple[float, float]:
    """Measure one cell on the ground at the middle of a raster."""
    from pyproj import Geod, Transformer

    a, b, c, d, e, f = transform
    rows, columns = shape
    column = columns / 2 + np.array([0.0, 1.0, 0.0])
    row = rows / 2 + np.array([0.0, 0.0, 1.0])
    back = Transformer.from_crs(crs, "OGC:CRS84", always_xy=True)
    lon, lat = back.transform(a * column + b * row + c, d * column + e * row + f)
    geod = Geod(ellps="WGS84")
    _, _, length = geod.inv([lon[0]] * 2, [lat[0]] * 2, lon[1:], lat[1:])
    return float(length[0]), float(length[1])
