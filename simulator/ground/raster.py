"""The door for elevation rasters.

A raster is read only where it is needed, in any coordinate system and vertical unit the file
states. Cells without a height stay without one (NaN), never zero; only small holes inside the
data are closed, from the cells around them.
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import InputError, shown
from simulator.files import shown_path
from simulator.ground.grid import Affine, Raster, cell_sides_m, harmonic, pixel

if TYPE_CHECKING:
    from pyproj import CRS

Bounds = tuple[float, float, float, float]

# Metres in one unit of height, by the name files use. International foot: 0.3048 m exactly;
# US survey foot: 1200/3937 m exactly (US National Bureau of Standards, Federal Register 1959).
METRES_PER_UNIT = {
    "m": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "dm": 0.1,
    "cm": 0.01,
    "mm": 0.001,
    "ft": 0.3048,
    "foot": 0.3048,
    "feet": 0.3048,
    "international foot": 0.3048,
    "us survey foot": 1200 / 3937,
    "us survey feet": 1200 / 3937,
    "us-ft": 1200 / 3937,
    "ftus": 1200 / 3937,
    "us_survey_foot": 1200 / 3937,
}

# Heights of ground people walk on [m]; anything outside is an undeclared void (-9999, 32767).
# Lowest shore about -430 m, highest summit about 8849 m (from memory), with room.
LAND_HEIGHT_M = (-500.0, 9000.0)

# A larger window is averaged down while it is read [cells]: 8 m cells for a square of 25 km, and
# less than 200 MB of memory for reading and smoothing.
MOST_CELLS = 10_000_000

# Memory for blocks of a file; the reader would take a twentieth of the machine's [MB].
BLOCK_CACHE_MB = 64

# Holes of at most this many cells, enclosed by data, are closed from their rim [cells].
SMALL_HOLE_CELLS = 25

# Two grids are one when no cell is off by more than this [cells].
SAME_GRID_CELLS = 0.01

# Tiles are joined while the result is at most this many times their own cells.
MOST_EMPTY = 3

# One degree of latitude, rounded up, for margins only [m] (WGS84: 110.6 to 111.7 km).
METRES_PER_DEGREE = 111_700.0


def read_rasters(
    paths: Sequence[Path | str], *, bounds: Bounds, margin_m: float = 0.0
) -> tuple[Raster, ...]:
    """Read the parts of elevation rasters that an area needs, finest first."""
    found = [_opened(Path(path), bounds, margin_m) for path in paths]
    touching = [raster for raster in found if raster.height_m.size]
    if paths and not touching:
        west, south, east, north = bounds
        raise InputError(
            ", ".join(str(path) for path in paths),
            f"covers nothing of the map (latitude {south:.4f} to {north:.4f}, longitude "
            f"{west:.4f} to {east:.4f}); give a raster of that area or leave elevation out",
        )
    joined = [_holes_closed(raster) for raster in _joined(touching)]
    return tuple(sorted(joined, key=lambda raster: raster.cell_m))


def read_raster(path: Path | str, *, bounds: Bounds | None = None, margin_m: float = 0.0) -> Raster:
    """Read one elevation raster, whole or where an area needs it."""
    return _holes_closed(_opened(Path(path), bounds, margin_m))


# Kinds of raster that are one file, a coordinate file (.prj) apart; any other kind may name files
# and addresses that its reader then opens. Names are those of the GDAL library.
ALONE = ("GTiff", "SRTMHGT", "AAIGrid", "DTED", "USGSDEM", "HFA", "GSAG", "GSBG", "GS7BG", "BT")

# Kinds that have their header in a file of its own (.hdr).
PAIRED = ("EHdr", "ENVI")

# What the library would look for beside such a pair and believe: overviews and masks.
BESIDE = (".ovr", ".msk")


@contextmanager
def open_raster(path: Path, *, kinds: Sequence[str] = ALONE) -> Iterator[Any]:
    """Open a raster so that its reader looks at nothing else, and sends no request.

    Parameters
    ----------
    path : pathlib.Path
        A file on this machine.
    kinds : sequence of str
        Names of the library's drivers that may read it.

    Yields
    ------
    rasterio.DatasetReader
        The raster.

    Raises
    ------
    rasterio.errors.RasterioError
        If it is of another kind, or names a file with overviews.
    """
    import rasterio

    closed = {
        "GDAL_CACHEMAX": BLOCK_CACHE_MB,
        "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR" if "GTiff" in kinds else "FALSE",
        "GDAL_PAM_ENABLED": "NO",
    }
    with rasterio.Env(**closed), _first_that_reads(path.absolute(), kinds) as dataset:
        yield dataset


def _first_that_reads(path: Path, kinds: Sequence[str]) -> Any:  # noqa: ANN401 - rasterio has no types
    import rasterio
    from rasterio.errors import RasterioIOError

    for kind in kinds:
        try:
            dataset = rasterio.open(path, driver=kind)
        except RasterioIOError:
            continue
        if not dataset.tags(ns="OVERVIEWS"):
            return dataset
        dataset.close()  # it names another file, which its reader would open
    message = "of none of the kinds asked for"
    raise RasterioIOError(message)


def _opened(path: Path, bounds: Bounds | None, margin_m: float) -> Raster:
    from rasterio.errors import NotGeoreferencedWarning, RasterioError

    if not os.path.isfile(path):  # noqa: PTH113 - a name too long is no file either
        problem = "no such file; give the path of an elevation raster"
        raise InputError(shown_path(path), problem)
    paired = path.with_suffix(".hdr").exists() and path.suffix.lower() not in {".tif", ".hgt"}
    beside = [path.with_name(path.name + end) for end in BESIDE if paired]
    if any(file.exists() for file in beside):
        problem = f"has a file of {', '.join(BESIDE)} beside it, which could change it; move that"
        raise InputError(str(path), problem)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with open_raster(path, kinds=PAIRED if paired else ALONE) as dataset:
                return _read(dataset, path, bounds, margin_m)
    except RasterioError as error:
        raise InputError(
            str(path),
            "is no readable raster of heights; give a complete GeoTIFF, or a file of kind "
            f"{', '.join((*ALONE[1:], *PAIRED))}",
        ) from error


def _read(dataset: Any, path: Path, bounds: Bounds | None, margin_m: float) -> Raster:  # noqa: ANN401 - rasterio has no types
    from rasterio.enums import ColorInterp, Resampling

    crs = _crs(dataset, path)
    if ColorInterp.red in dataset.colorinterp or np.dtype(dataset.dtypes[0]).kind == "c":
        raise InputError(str(path), "is a picture, not heights; give a raster of heights")
    factor = _metres_per_unit(dataset, crs, path)
    horizontal = crs.to_2d() if not crs.is_compound else crs.sub_crs_list[0]
    name = horizontal.to_wkt()
    top, left, rows, columns = _window(dataset, name, bounds, margin_m=margin_m)
    step = max(1, int(np.ceil(np.sqrt(rows * columns / MOST_CELLS))))
    a, b, c, d, e, f = _affine(dataset)
    corner = (a * left + b * top + c, d * left + e * top + f)
    if min(rows, columns) < 2 * step:
        return Raster(np.empty((0, 0), dtype=np.float32), (a, b, c, d, e, f), name, np.nan)
    # Whole steps only, so that averaged cells keep their true size.
    rows, columns = rows - rows % step, columns - columns % step
    data = dataset.read(
        1,
        window=((top, top + rows), (left, left + columns)),
        out_shape=(rows // step, columns // step),
        resampling=Resampling.average if step > 1 else Resampling.nearest,
        masked=True,
    )
    height = data.astype(np.float64).filled(np.nan)
    height *= dataset.scales[0] * factor
    height += dataset.offsets[0] * factor
    low, high = LAND_HEIGHT_M
    height[~((height > low) & (height < high))] = np.nan
    transform = (a * step, b * step, corner[0], d * step, e * step, corner[1])
    return Raster(
        height_m=height.astype(np.float32),
        transform=transform,
        crs=name,
        cell_m=min(cell_sides_m(name, transform, height.shape)),
        source=path.name,
        credit=" ".join(dataset.tags().get("TIFFTAG_COPYRIGHT", "").split()),
        no_unit="" if _band_unit(dataset) or crs.is_compound else path.name,
    )


def _crs(dataset: Any, path: Path) -> CRS:  # noqa: ANN401 - rasterio has no types
    from pyproj import CRS, Transformer
    from pyproj.exceptions import ProjError
    from rasterio.errors import CRSError

    if dataset.crs is None or dataset.transform.is_identity or dataset.transform.determinant == 0:
        raise InputError(
            str(path),
            "does not say where on Earth it lies (no coordinate system or no position); "
            "give a georeferenced raster",
        )
    try:
        crs = CRS.from_wkt(dataset.crs.to_wkt())
        Transformer.from_crs("OGC:CRS84", crs, always_xy=True)
    except (ProjError, CRSError) as error:
        raise InputError(
            str(path),
            f"has a coordinate system that cannot be placed on Earth ({dataset.crs}); "
            "reproject it to a published one, e.g. EPSG:4326",
        ) from error
    return crs


def _metres_per_unit(dataset: Any, crs: CRS, path: Path) -> float:  # noqa: ANN401 - rasterio has no types
    unit = _band_unit(dataset)
    if unit:
        try:
            return METRES_PER_UNIT[unit.lower()]
        except KeyError:
            raise InputError(
                str(path),
                f"has heights in {shown(unit)}; allowed are {', '.join(METRES_PER_UNIT)}",
            ) from None
    if crs.is_compound:
        return float(crs.sub_crs_list[1].axis_info[0].unit_conversion_factor)
    return 1.0


def _band_unit(dataset: Any) -> str:  # noqa: ANN401 - rasterio has no types
    return (dataset.units[0] or "").strip()


def _window(
    dataset: Any,  # noqa: ANN401 - rasterio has no types
    crs: str,
    bounds: Bounds | None,
    *,
    margin_m: float,
) -> tuple[int, int, int, int]:
    """First row, first column, rows and columns that an area needs; 0 rows if none."""
    if bounds is None:
        return 0, 0, dataset.height, dataset.width
    west, south, east, north = bounds
    upward = margin_m / METRES_PER_DEGREE
    # The margin in longitude is taken at the latitude nearer a pole, where it is widest.
    sideways = upward / float(np.cos(np.radians(min(max(abs(south), abs(north)) + upward, 89.0))))
    steps = np.linspace(0.0, 1.0, 21)
    along, up = (grid.ravel() for grid in np.meshgrid(steps, steps))
    column, row = pixel(
        west - sideways + along * (east - west + 2 * sideways),
        south - upward + up * (north - south + 2 * upward),
        crs,
        _affine(dataset),
        dataset.width,
    )
    finite = np.isfinite(column) & np.isfinite(row)
    if not finite.any():
        return 0, 0, 0, 0
    # One cell more on each side, so that the outermost points still have four neighbours.
    spans = []
    for place, size in ((row[finite], dataset.height), (column[finite], dataset.width)):
        first = max(int(np.floor(place.min())) - 1, 0)
        spans.append((first, max(min(int(np.ceil(place.max())) + 2, size) - first, 0)))
    return spans[0][0], spans[1][0], spans[0][1], spans[1][1]


def _affine(dataset: Any) -> Affine:  # noqa: ANN401 - rasterio has no types
    a, b, c, d, e, f = tuple(dataset.transform)[:6]
    return a, b, c, d, e, f


def _joined(rasters: Sequence[Raster]) -> list[Raster]:
    """Join tiles whose cells fall on one grid; where they overlap the first counts."""
    joined: list[Raster] = []
    for raster in rasters:
        for position, earlier in enumerate(joined):
            offset = _offset(earlier, raster)
            if offset is not None:
                union = _union(earlier, raster, offset)
                if union is not None:
                    joined[position] = union
                    break
        else:
            joined.append(raster)
    return joined


def _offset(first: Raster, second: Raster) -> tuple[int, int] | None:
    """Rows and columns from the first raster's corner to the second's; None if not one grid."""
    a, b, c, d, e, f = first.transform
    a2, b2, c2, d2, e2, f2 = second.transform
    if first.crs != second.crs or b or d or b2 or d2:
        return None
    if abs(a2 / a - 1) * max(first.height_m.shape) > SAME_GRID_CELLS:
        return None
    if abs(e2 / e - 1) * max(first.height_m.shape) > SAME_GRID_CELLS:
        return None
    right, down = (c2 - c) / a, (f2 - f) / e
    if abs(right - round(right)) > SAME_GRID_CELLS or abs(down - round(down)) > SAME_GRID_CELLS:
        return None
    return round(down), round(right)


def _union(first: Raster, second: Raster, offset: tuple[int, int]) -> Raster | None:
    """Put two rasters of one grid into one; None if most of it would be empty space."""
    corners = np.array([(0, 0), offset])
    ends = corners + np.array([first.height_m.shape, second.height_m.shape])
    origin = corners.min(axis=0)
    shape = ends.max(axis=0) - origin
    if shape.prod() > MOST_EMPTY * (first.height_m.size + second.height_m.size):
        return None
    height = np.full(tuple(shape), np.nan, dtype=np.float32)
    for raster, (top, left) in zip((second, first), (corners - origin)[::-1], strict=True):
        rows, columns = raster.height_m.shape
        part = height[top : top + rows, left : left + columns]
        np.copyto(part, raster.height_m, where=np.isfinite(raster.height_m))
    a, b, c, d, e, f = first.transform
    return replace(
        first,
        height_m=height,
        transform=(a, b, c + a * float(origin[1]), d, e, f + e * float(origin[0])),
        source=", ".join(dict.fromkeys((first.source, second.source))),
        credit="; ".join(filter(None, dict.fromkeys((first.credit, second.credit)))),
        no_unit=", ".join(filter(None, dict.fromkeys((first.no_unit, second.no_unit)))),
    )


def _holes_closed(raster: Raster) -> Raster:
    """Close small holes from their rim; larger ones and those at the border stay open."""
    void = np.isnan(raster.height_m)
    if not void.any():
        return raster
    from scipy.ndimage import label

    hole, count = label(void)
    small = np.bincount(hole.ravel(), minlength=count + 1) <= SMALL_HOLE_CELLS
    small[0] = False
    for side in (hole[0], hole[-1], hole[:, 0], hole[:, -1]):
        small[side] = False
    cells = np.flatnonzero(small[hole])
    if cells.size == 0:
        return raster
    columns = void.shape[1]
    closing = small[hole].ravel()
    tail, head = [], []
    for step, always in ((1, True), (columns, True), (-1, False), (-columns, False)):
        # A pair of hole cells is taken once: backward steps only to known cells.
        wanted = cells if always else cells[~closing[cells + step]]
        tail.append(wanted)
        head.append(wanted + step)
    ends = np.concatenate(tail + head)
    place, compact = np.unique(ends, return_inverse=True)
    half = compact.size // 2
    filled = harmonic(
        raster.height_m.ravel()[place].astype(np.float64),
        closing[place],
        compact[:half],
        compact[half:],
        np.ones(half),
    )
    height = raster.height_m.copy()
    height.ravel()[place] = filled.value
    return replace(raster, height_m=height, closed_cells=int(cells.size))
