"""Heights from a global model served as cloud-optimised GeoTIFF tiles of one degree.

The layout is that of the Copernicus model with 30 m cells. Only the window that the area needs is
read. The model shows the surface: in woods and among high buildings it stands above the ground.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from simulator.fetch.cache import Cache
from simulator.fetch.http import ChangedError, MissingError, RangedFile, ServerLine, TransferError
from simulator.ground.corridor import Box, Cell, box_of, hull_of
from simulator.ground.raster import open_raster

ELEVATION = "https://copernicus-dem-30m.s3.amazonaws.com"
"""Public copy of the model where none is named, of the AWS Registry of Open Data, "Copernicus DEM",
GLO-30; address and names of the tiles as two libraries on PyPI have them (dem_stitcher 3.2, sardem
0.14; read)."""

CREDIT = (
    "Heights: produced using Copernicus WorldDEM-30 © DLR e.V. 2010-2014 and © Airbus Defence and "
    "Space GmbH 2014-2018 provided under COPERNICUS by the European Union and ESA; all rights "
    "reserved"
)
"""Credit that the model's licence asks for (licence of the Copernicus DEM; the words from
the © on as sardem 0.14 restates them, read; those before from memory)."""

FETCHED = ("GTiff",)
"""The one kind of raster that a server may send; others can name further files and addresses."""

MARGIN_DEG = 0.005
"""Read past the area, for smoothing [degrees]: at least 500 m up and 200 m across at 65 degrees."""

MOST_OFF_CELLS = 1.5
"""A tile may lie this many cells beside its degree: its cells are centred on whole seconds."""


def tile_name(lat: int, lon: int) -> str:
    """Name the tile of a degree.

    Parameters
    ----------
    lat, lon : int
        Its south-west corner [degrees].

    Returns
    -------
    str
        Name in the model's layout, without ending.

    Examples
    --------
    >>> tile_name(60, 24), tile_name(-1, -65)
    ('Copernicus_DSM_COG_10_N60_00_E024_00_DEM', 'Copernicus_DSM_COG_10_S01_00_W065_00_DEM')
    """
    north = f"{'N' if lat >= 0 else 'S'}{abs(lat):02d}"
    east = f"{'E' if lon >= 0 else 'W'}{abs(lon):03d}"
    return f"Copernicus_DSM_COG_10_{north}_00_{east}_00_DEM"


def tiles_of(cells: Sequence[Cell]) -> list[tuple[int, int]]:
    """List the tiles that an area needs."""
    found = set()
    for cell in cells:
        west, south, east, north = box_of(cell)
        rows = {int((south - MARGIN_DEG) // 1), int((north + MARGIN_DEG) // 1)}
        columns = {int((west - MARGIN_DEG) // 1), int((east + MARGIN_DEG) // 1)}
        found |= {
            (row, (column + 180) % 360 - 180)
            for row in rows.intersection(range(-90, 90))
            for column in columns
        }
    return sorted(found)


def fetch_heights(
    line: ServerLine,
    address: str,
    cells: Sequence[Cell],
    *,
    cache: Cache,
    folder: Path,
    day: str,
    fresh: bool,
    tell: Callable[[str], None],
) -> tuple[list[Path], list[str]]:
    """Fetch the windows that an area needs; the cache's lock is held."""
    written: list[Path] = []
    missing: list[str] = []
    tiles = tiles_of(cells)
    for number, (lat, lon) in enumerate(tiles, start=1):
        tell(f"heights {number} of {len(tiles)}, {line.received / 1e6:.1f} MB")
        name = tile_name(lat, lon)
        window = _window(cells, lat, lon)
        target = folder / f"heights-{name[22:25]}{name[29:33]}.tif"
        file = f"{address.rstrip('/')}/{name}/{name}.tif"
        credit = f"{CREDIT}, accessed {day}"

        def copied(*, fresh: bool) -> bool:
            # Called at once, so that the names of the loop are still this round's.
            copy = folder / "tile.tif"
            source = RangedFile(line, file, copy, cache=cache, fresh=fresh)  # noqa: B023
            held = _copy_window(source, copy, window, (lat, lon), target, credit=credit)  # noqa: B023
            copy.unlink()
            return held

        try:
            try:
                held = copied(fresh=fresh)
            except ChangedError:
                # Blocks of an older version were in the cache.
                held = copied(fresh=True)
        except MissingError:
            missing.append(name)
            continue
        if held:
            written.append(target)
    return written, missing


def _window(cells: Sequence[Cell], lat: int, lon: int) -> Box:
    """Give the part of the area that lies on a tile, with its margin."""
    west, south, east, north = hull_of(cells)
    # The area may lie past the date line, seen from the tile.
    turn = 360.0 if lon + 1 < west - MARGIN_DEG else 0.0
    return (
        max(west - MARGIN_DEG - turn, lon),
        max(south - MARGIN_DEG, lat),
        min(east + MARGIN_DEG - turn, lon + 1.0),
        min(north + MARGIN_DEG, lat + 1.0),
    )


def _copy_window(
    source: RangedFile, copy: Path, box: Box, corner: tuple[int, int], target: Path, *, credit: str
) -> bool:
    """Write a window of a remote tile as a small GeoTIFF; False if it is empty."""
    import rasterio
    from rasterio.errors import RasterioError

    try:
        with open_raster(copy, kinds=FETCHED) as tile:
            _check_tile(tile, corner, source)
            rows, columns = _span(tile, box)
            if rows[0] >= rows[1] or columns[0] >= columns[1]:
                return False
            _fill_blocks(tile, source, rows, columns)
        # Opened anew, for the library may have looked at blocks before they were filled.
        with open_raster(copy, kinds=FETCHED) as tile:
            height = tile.read(1, window=(rows, columns))
            profile = {
                "driver": "GTiff",
                "width": height.shape[1],
                "height": height.shape[0],
                "count": 1,
                "dtype": tile.dtypes[0],
                "crs": tile.crs,
                "transform": _moved(tile.transform, columns[0], rows[0]),
                "nodata": tile.nodata,
                "compress": "deflate",
                "predictor": 3 if height.dtype.kind == "f" else 2,
                "tiled": True,
            }
            unit = tile.units[0] or "m"
    except RasterioError as error:
        problem = (
            "is no readable tile of heights (a cloud-optimised GeoTIFF); check the address under "
            "[fetch] heights_from"
        )
        raise TransferError(source.address, problem) from error
    with rasterio.open(target, "w", **profile) as window:
        window.write(height, 1)
        window.units = (unit,)
        window.update_tags(TIFFTAG_COPYRIGHT=credit)
    return True


def _fill_blocks(
    tile: Any,  # noqa: ANN401 - rasterio has no types
    source: RangedFile,
    rows: tuple[int, int],
    columns: tuple[int, int],
) -> None:
    """Fetch the compressed blocks that a window touches."""
    tall, wide = tile.block_shapes[0]
    for down in range(rows[0] // tall, (rows[1] - 1) // tall + 1):
        for across in range(columns[0] // wide, (columns[1] - 1) // wide + 1):
            offset, size = (
                tile.get_tag_item(f"BLOCK_{what}_{across}_{down}", "TIFF", bidx=1)
                for what in ("OFFSET", "SIZE")
            )
            # A block without a place in the file is empty, and read as such.
            if offset and size:
                source.fill(int(offset), int(offset) + int(size))


def _check_tile(tile: Any, corner: tuple[int, int], source: RangedFile) -> None:  # noqa: ANN401 - rasterio has no types
    """See that the tile is of the degree that was asked for."""
    lat, lon = corner
    across, up = abs(tile.transform.a), abs(tile.transform.e)
    off = (
        abs(tile.bounds.left - lon) / across,
        abs(tile.bounds.bottom - lat) / up,
        abs(tile.bounds.right - lon - 1) / across,
        abs(tile.bounds.top - lat - 1) / up,
    )
    if tile.crs is None or not tile.crs.is_geographic or max(off) > MOST_OFF_CELLS:
        raise TransferError(
            tile_name(lat, lon),
            f"lies at {tuple(round(edge, 3) for edge in tile.bounds)}, not at its degree; check "
            f"the address of the heights ({source.size / 1e6:.1f} MB file)",
        )


def _moved(transform: Any, column: int, row: int) -> Any:  # noqa: ANN401 - affine has no types
    """Move the origin of a grid; the operator for it changed between versions of the library."""
    a, b, c, d, e, f = tuple(transform)[:6]
    return type(transform)(a, b, c + a * column + b * row, d, e, f + d * column + e * row)


def _span(tile: Any, box: Box) -> tuple[tuple[int, int], tuple[int, int]]:  # noqa: ANN401 - as above
    """Rows and columns of a box, first and past the last."""
    west, south, east, north = box
    step = tile.transform
    columns = ((west - step.c) / step.a, (east - step.c) / step.a)
    rows = ((north - step.f) / step.e, (south - step.f) / step.e)
    return (
        (max(int(rows[0]) - 1, 0), min(int(rows[1]) + 2, tile.height)),
        (max(int(columns[0]) - 1, 0), min(int(columns[1]) + 2, tile.width)),
    )
