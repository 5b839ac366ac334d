"""Heights along every street: sampled on the ground, straight on bridges and in tunnels.

A street is cut into pieces no longer than a cell of the raster, so that a hill inside one segment
is climbed. The ground under a bridge or over a tunnel says nothing about the way through: each
connected set of bridges and tunnels runs straight between its ends. The ends lie past the
abutments, because the cell at an abutment averages bank and water.

Where no raster has a height it is estimated along the streets, and marked as such.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.ground.decks import straighten
from simulator.ground.estimate import estimated
from simulator.ground.grid import SMOOTHING_REACH_SIGMAS, Raster, bilinear, smoothed
from simulator.ground.pieces import Pieces, cut
from simulator.ground.raster import read_rasters

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Integers = NDArray[np.integer]

# Slopes beyond these are taken for faults of the raster (a cliff beside the path, a retaining
# wall) and capped [rise over run]. Ways: 0.7 is 35 degrees, about where loose ground slides and
# hands are needed (common practice). Stairs: pitched up to about 45 degrees (common practice).
# A lower cap would take real climbing off mountain paths and make them look quicker.
MOST_SLOPE = 0.7
MOST_STAIRS_SLOPE = 1.0

# Pieces are not cut shorter than this, however fine the raster: a stride's detail is noise [m].
SHORTEST_PIECE_M = 5.0


@dataclass(frozen=True, slots=True)
class Terrain:
    """Heights of the streets.

    Attributes
    ----------
    node_height_m : ndarray of float, shape (N,)
        Height of each node [m]; estimated where unknown, NaN if no height at all is known.
    node_known : ndarray of bool, shape (N,)
        Whether the height of the node is known.
    piece_start : ndarray of int, shape (M + 1,)
        Pieces of segment ``i`` are ``piece_start[i]:piece_start[i + 1]``, ordered tail to head.
    piece_run_m : ndarray of float, shape (P,)
        Length of each piece [m]; those of a segment sum to its length.
    piece_rise_m : ndarray of float, shape (P,)
        Height gained from tail to head [m]; estimated where unknown, see
        `simulator.ground.estimate`. Capped slopes are capped here only: node heights stay as the
        raster has them.
    covered : ndarray of bool, shape (M,)
        Whether every height along the segment is known.
    level : ndarray of bool, shape (M,)
        Segments of parts of the network that touch no known height: counted as level.
    smoothing_m : float
        Standard deviation of the smoothing [m]; 0 = none.
    cell_m : float
        Shorter side of the finest raster's cells [m]; 0 if there is no raster.
    capped : int
        Pieces whose slope was capped.
    void_share : float
        Part of the streets' length that is not covered, 0 to 1.
    loose_sets : int
        Sets of bridges and tunnels with fewer than two ends on known ground, such as a bridge cut
        by the border of the map: level from their one end, or following the ground if they have
        none.
    closed_cells : int
        Cells of small holes in the rasters that were closed from their rim.
    sources : tuple of str
        Names of the rasters; empty for a flat world.
    credits : tuple of str
        Whose heights these are, where the rasters say so.
    no_unit : tuple of str
        Names of the rasters that give no unit of height, so that metres are assumed.
    """

    node_height_m: Floats
    node_known: Bools
    piece_start: NDArray[np.int64]
    piece_run_m: Floats
    piece_rise_m: Floats
    covered: Bools
    level: Bools
    smoothing_m: float
    cell_m: float
    capped: int
    void_share: float
    loose_sets: int
    closed_cells: int
    sources: tuple[str, ...]
    credits: tuple[str, ...] = ()
    no_unit: tuple[str, ...] = ()


def flat(length_m: Floats, n_nodes: int) -> Terrain:
    """Give the terrain of a map without heights: one level piece a segment.

    Parameters
    ----------
    length_m : ndarray of float, shape (M,)
        Length of each segment [m].
    n_nodes : int
        Number of nodes.

    Returns
    -------
    Terrain
        Zero rise everywhere, no sources: outputs must say that heights were left out.
    """
    length = np.asarray(length_m, dtype=np.float64)
    return Terrain(
        node_height_m=np.zeros(n_nodes),
        node_known=np.ones(n_nodes, dtype=np.bool_),
        piece_start=np.arange(length.size + 1, dtype=np.int64),
        piece_run_m=length.copy(),
        piece_rise_m=np.zeros(length.size),
        covered=np.ones(length.size, dtype=np.bool_),
        level=np.zeros(length.size, dtype=np.bool_),
        smoothing_m=0.0,
        cell_m=0.0,
        capped=0,
        void_share=0.0,
        loose_sets=0,
        closed_cells=0,
        sources=(),
    )


def read_terrain(
    lon: Floats,
    lat: Floats,
    tail: Integers,
    head: Integers,
    length_m: Floats,
    bridge: Bools,
    tunnel: Bools,
    *,
    paths: Sequence[Path | str],
    smoothing_m: float,
    steps: Bools | None = None,
) -> Terrain:
    """Read the rasters of a street network and drape it over them; flat if there are none.

    Parameters
    ----------
    lon, lat : ndarray of float, shape (N,)
        Nodes [deg].
    tail, head : ndarray of int, shape (M,)
        Ends of each segment.
    length_m : ndarray of float, shape (M,)
        Length of each segment, above 0 [m].
    bridge, tunnel : ndarray of bool, shape (M,)
        Whether the segment is on a bridge, in a tunnel.
    paths : sequence of path
        Elevation rasters.
    smoothing_m : float
        Standard deviation of the smoothing [m].
    steps : ndarray of bool, shape (M,), optional
        Whether the segment is stairs; none if left out.

    Returns
    -------
    Terrain
        Heights along every segment.

    Raises
    ------
    InputError
        If a raster cannot be used or none touches the streets.
    """
    if not paths or lon.size == 0:
        return flat(length_m, lon.size)
    bounds = (float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max()))
    rasters = read_rasters(paths, bounds=bounds, margin_m=SMOOTHING_REACH_SIGMAS * smoothing_m)
    return drape(
        lon,
        lat,
        tail,
        head,
        length_m,
        bridge,
        tunnel,
        rasters=rasters,
        smoothing_m=smoothing_m,
        steps=steps,
    )


def drape(
    lon: Floats,
    lat: Floats,
    tail: Integers,
    head: Integers,
    length_m: Floats,
    bridge: Bools,
    tunnel: Bools,
    *,
    rasters: Sequence[Raster],
    smoothing_m: float,
    steps: Bools | None = None,
    max_slope: float = MOST_SLOPE,
    max_stairs_slope: float = MOST_STAIRS_SLOPE,
) -> Terrain:
    """Sample heights along every segment.

    Parameters
    ----------
    lon, lat : ndarray of float, shape (N,)
        Nodes [deg].
    tail, head : ndarray of int, shape (M,)
        Ends of each segment.
    length_m : ndarray of float, shape (M,)
        Length of each segment, above 0 [m].
    bridge, tunnel : ndarray of bool, shape (M,)
        Whether the segment is on a bridge, in a tunnel.
    rasters : sequence of Raster
        Asked in turn for each point; the first with a height there counts.
    smoothing_m : float
        Standard deviation of the smoothing of the rasters [m]; 0 = none. Bridges and tunnels are
        widened by one cell and by this, as the smoothing spreads the water's height as far.
    steps : ndarray of bool, shape (M,), optional
        Whether the segment is stairs; none if left out.
    max_slope, max_stairs_slope : float
        Steepest believable slope of a way and of stairs, rise over run.

    Returns
    -------
    Terrain
        Heights along every segment, estimated and not `covered` where no raster has any.

    Raises
    ------
    ValueError
        If there is no raster; use `flat` then.
    """
    if not rasters:
        msg = "rasters must hold at least one raster; use flat() for a map without heights"
        raise ValueError(msg)
    ground = [smoothed(raster, smoothing_m) for raster in rasters]
    places = [raster.pixel(lon, lat) for raster in ground]
    cell_m = _cell_m(ground, places, tail, head)
    pieces = cut(tail, head, length_m, np.maximum(cell_m, SHORTEST_PIECE_M), n_nodes=lon.size)
    height = _sample(ground, places, pieces)

    deck = bridge | tunnel
    loose_sets = 0
    if deck.any():
        reach_m = cell_m + smoothing_m
        height, loose_sets = straighten(height, pieces, tail, head, length_m / reach_m, deck)

    known = np.isfinite(height)
    covered = np.ones(deck.shape, dtype=np.bool_)
    covered[pieces.segment[~(known[pieces.begin] & known[pieces.end])]] = False
    height, level = estimated(height, pieces, tail, head, length_m)
    rise = height[pieces.end] - height[pieces.begin]
    stairs = np.zeros(deck.shape, dtype=np.bool_) if steps is None else steps
    limit = np.where(stairs, max_stairs_slope, max_slope)[pieces.segment] * pieces.run_m
    steep = np.abs(rise) > limit
    return Terrain(
        node_height_m=height[: lon.size],
        node_known=known[: lon.size],
        piece_start=pieces.start,
        piece_run_m=pieces.run_m,
        piece_rise_m=np.clip(rise, -limit, limit),
        covered=covered,
        level=level,
        smoothing_m=float(smoothing_m),
        cell_m=min(raster.cell_m for raster in rasters),
        capped=int(steep.sum()),
        void_share=float(length_m[~covered].sum() / length_m.sum()) if length_m.size else 0.0,
        loose_sets=loose_sets,
        closed_cells=sum(raster.closed_cells for raster in rasters),
        sources=tuple(raster.source for raster in rasters),
        credits=tuple(dict.fromkeys(raster.credit for raster in rasters if raster.credit)),
        no_unit=tuple(raster.no_unit for raster in rasters if raster.no_unit),
    )


def climb_m(terrain: Terrain) -> tuple[Floats, Floats]:
    """Sum what each segment climbs and falls, walked from tail to head.

    Parameters
    ----------
    terrain : Terrain
        Heights.

    Returns
    -------
    tuple of ndarray of float, shape (M,)
        Climb and fall [m], both 0 or more; walked the other way they change places. Estimated
        on segments that are not `covered`.
    """
    start = terrain.piece_start[:-1]
    if start.size == 0:
        return np.zeros(0), np.zeros(0)
    up = np.add.reduceat(np.maximum(terrain.piece_rise_m, 0.0), start)
    down = np.add.reduceat(np.maximum(-terrain.piece_rise_m, 0.0), start)
    return up, down


def _cell_m(
    rasters: Sequence[Raster],
    places: Sequence[tuple[Floats, Floats]],
    tail: Integers,
    head: Integers,
) -> Floats:
    """Cell of the first raster that either end of a segment lies on; else the last one's."""
    cell = np.full(tail.size, rasters[-1].cell_m)
    for raster, (column, row) in zip(rasters[-2::-1], places[-2::-1], strict=True):
        rows, columns = raster.height_m.shape
        inside = (column > 0) & (column < columns - 1) & (row > 0) & (row < rows - 1)
        cell[inside[tail] | inside[head]] = raster.cell_m
    return cell


def _sample(
    rasters: Sequence[Raster], places: Sequence[tuple[Floats, Floats]], pieces: Pieces
) -> Floats:
    """Heights of nodes and cuts; a cut lies between its nodes on the grid as on the ground."""
    height = np.full(pieces.n_nodes + pieces.fraction.size, np.nan)
    for raster, place in zip(rasters, places, strict=True):
        column, row = (
            np.concatenate((at, at[pieces.tail] + (at[pieces.head] - at[pieces.tail]) * share))
            for at, share in ((place[0], pieces.fraction), (place[1], pieces.fraction))
        )
        missing = np.isnan(height)
        if missing.all():
            height = bilinear(raster.height_m, column, row)
        elif missing.any():
            height[missing] = bilinear(raster.height_m, column[missing], row[missing])
    return height
