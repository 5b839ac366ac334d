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

from simulator.arrays import Flags, Floats
from simulator.ground.grid import SMOOTHING_REACH_SIGMAS, Raster, bilinear, harmonic, smoothed
from simulator.ground.raster import read_rasters

Integers = NDArray[np.integer]


@dataclass(frozen=True, slots=True)
class Pieces:
    """M segments cut into P pieces at C cuts; points are the N nodes, then the cuts.

    Attributes
    ----------
    start : ndarray of int, shape (M + 1,)
        Pieces of segment ``i`` are ``start[i]:start[i + 1]``, ordered tail to head.
    segment : ndarray of int, shape (P,)
        Segment of each piece.
    run_m : ndarray of float, shape (P,)
        Length of each piece [m].
    begin, end : ndarray of int, shape (P,)
        Points where each piece begins and ends.
    cut_segment : ndarray of int, shape (C,)
        Segment of each cut.
    tail, head : ndarray of int, shape (C,)
        Nodes at the ends of each cut's segment.
    fraction : ndarray of float, shape (C,)
        Where the cut lies on its segment, from the tail.
    n_nodes : int
        Number of nodes.
    """

    start: NDArray[np.int64]
    segment: NDArray[np.int64]
    run_m: Floats
    begin: NDArray[np.int64]
    end: NDArray[np.int64]
    cut_segment: NDArray[np.int64]
    tail: Integers
    head: Integers
    fraction: Floats
    n_nodes: int


def cut(
    tail: Integers, head: Integers, length_m: Floats, piece_m: Floats, *, n_nodes: int
) -> Pieces:
    """Cut segments into equal pieces."""
    count = np.maximum(np.ceil(length_m / piece_m), 1).astype(np.int64)
    start = np.concatenate(([0], np.cumsum(count)))
    segment = np.repeat(np.arange(count.size), count)
    piece = np.arange(start[-1])
    position = piece - start[segment]
    # Segment i adds count[i] - 1 cuts, so the cut after piece p has the number p - i.
    next_cut = n_nodes + piece - segment
    first, last = position == 0, position == count[segment] - 1
    cut_segment, cut_position = segment[~first], position[~first]
    return Pieces(
        start=start,
        segment=segment,
        run_m=(length_m / count)[segment],
        begin=np.where(first, tail[segment], next_cut - 1).astype(np.int64),
        end=np.where(last, head[segment], next_cut).astype(np.int64),
        tail=tail[cut_segment],
        head=head[cut_segment],
        fraction=cut_position / count[cut_segment],
        cut_segment=cut_segment,
        n_nodes=n_nodes,
    )


# A bridge or tunnel runs straight between two ends.
ENDS_OF_A_DECK = 2


def straighten(
    height: Floats,
    pieces: Pieces,
    tail: Integers,
    head: Integers,
    reaches: Floats,
    deck: Flags,
) -> tuple[Floats, int]:
    """Run bridges and tunnels straight, from one reach past the abutments to the next."""
    if not deck.any():
        return height, 0
    near = _near_abutments(tail, head, reaches, deck, n_nodes=pieces.n_nodes)
    distance = np.concatenate((near, _cut_distance(pieces, near, reaches)))
    on_deck = deck[pieces.segment]
    unknown = distance < 1
    unknown[pieces.begin[on_deck]] = unknown[pieces.end[on_deck]] = True
    held = ~unknown & np.isfinite(height)
    unknown[_stub_ends(pieces, on_deck, unknown, held, distance)] = False
    filled = harmonic(height, unknown, pieces.begin, pieces.end, pieces.run_m)
    solved = np.where(unknown & (filled.anchors == 0), height, filled.value)
    loose = unknown & (filled.anchors < ENDS_OF_A_DECK)
    # A deck is no more known than the ground that it leads to.
    blind = ~unknown & np.isnan(height)
    leads = np.concatenate(
        (
            pieces.begin[unknown[pieces.begin] & blind[pieces.end]],
            pieces.end[unknown[pieces.end] & blind[pieces.begin]],
        )
    )
    hanging = unknown & np.isin(filled.set_of, filled.set_of[leads])
    solved[hanging] = np.nan
    loose &= ~hanging
    return solved, int(np.unique(filled.set_of[loose]).size)


def _near_abutments(
    tail: Integers,
    head: Integers,
    reaches: Floats,
    deck: Flags,
    *,
    n_nodes: int,
) -> Floats:
    """Distance of each node from the nearest abutment along the ground, in reaches."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    on_deck = np.zeros(n_nodes, dtype=np.bool_)
    on_deck[tail[deck]] = on_deck[head[deck]] = True
    grounded = np.zeros(n_nodes, dtype=np.bool_)
    grounded[tail[~deck]] = grounded[head[~deck]] = True
    abutments = np.flatnonzero(on_deck & grounded)
    if abutments.size == 0:
        return np.full(n_nodes, np.inf)
    # Rows are built by hand: two lines between the same nodes must not be added up.
    line = np.flatnonzero(~deck)
    line = line[np.argsort(tail[line], kind="stable")]
    starts = np.searchsorted(tail[line], np.arange(n_nodes + 1))
    graph: csr_array[np.float64, tuple[int, int]] = csr_array(
        (reaches[line], head[line], starts), shape=(n_nodes, n_nodes)
    )
    distance: Floats = dijkstra(graph, directed=False, indices=abutments, limit=1.0, min_only=True)
    return distance


def _cut_distance(pieces: Pieces, near: Floats, reaches: Floats) -> Floats:
    """Distance of each cut from the nearest abutment along the ground, in reaches."""
    length = reaches[pieces.cut_segment]
    return np.minimum(
        near[pieces.tail] + pieces.fraction * length,
        near[pieces.head] + (1 - pieces.fraction) * length,
    )


def _stub_ends(
    pieces: Pieces, on_deck: Flags, unknown: Flags, held: Flags, distance: Floats
) -> NDArray[np.int64]:
    """Far ends of banks too short to hold an end one reach away: these ends hold instead."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    abutment = np.zeros(unknown.size, dtype=np.bool_)
    abutment[pieces.begin[on_deck]] = abutment[pieces.end[on_deck]] = True
    abutment &= distance == 0
    ground = ~on_deck & (unknown[pieces.begin] | unknown[pieces.end])
    begin, end = pieces.begin[ground], pieces.end[ground]
    points, compact = np.unique(np.concatenate((begin, end)), return_inverse=True)
    one, other = compact[: begin.size], compact[begin.size :]
    banks = coo_array((np.ones(one.size), (one, other)), shape=(points.size, points.size))
    count, bank = connected_components(banks, directed=False)
    anchored = np.bincount(bank, held[points], minlength=count) > 0
    decks = np.bincount(bank, abutment[points], minlength=count)
    order = np.argsort(distance[points], kind="stable")
    farthest = np.empty(count, dtype=np.int64)
    farthest[bank[order]] = points[order]  # the last written is the farthest
    ends: NDArray[np.int64] = farthest[~anchored & (decks == 1)]
    return ends


def estimated(
    height: Floats, pieces: Pieces, tail: Integers, head: Integers, length_m: Floats
) -> tuple[Floats, Flags]:
    """Fill unknown heights with the harmonic solution along the streets."""
    unknown = np.isnan(height)
    nowhere = np.zeros(tail.size, dtype=np.bool_)
    if not unknown.any() or unknown.all():
        return height, nowhere
    # Segments whose cuts are all unknown run straight: only their ends are solved for.
    n_nodes = pieces.n_nodes
    known_cuts = np.bincount(pieces.cut_segment, ~unknown[n_nodes:], minlength=tail.size)
    whole = known_cuts == 0
    cut_whole = whole[pieces.cut_segment]
    piece = ~whole[pieces.segment]
    solved_for = unknown.copy()
    solved_for[n_nodes:] &= ~cut_whole
    filled = harmonic(
        height,
        solved_for,
        np.concatenate((tail[whole], pieces.begin[piece])),
        np.concatenate((head[whole], pieces.end[piece])),
        np.concatenate((length_m[whole], pieces.run_m[piece])),
    )
    value = filled.value
    loose = solved_for & (filled.anchors == 0)
    value[loose] = np.median(height[~unknown])
    straight = value[pieces.tail] + pieces.fraction * (value[pieces.head] - value[pieces.tail])
    value[n_nodes:] = np.where(cut_whole, straight, value[n_nodes:])
    return value, loose[tail] & loose[head]


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
        `simulator.ground.terrain`. Capped slopes are capped here only: node heights stay as the
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
    node_known: Flags
    piece_start: NDArray[np.int64]
    piece_run_m: Floats
    piece_rise_m: Floats
    covered: Flags
    level: Flags
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
    """Give the terrain of a map without heights: one level piece a segment."""
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
    bridge: Flags,
    tunnel: Flags,
    *,
    paths: Sequence[Path | str],
    smoothing_m: float,
    steps: Flags | None = None,
) -> Terrain:
    """Read the rasters of a street network and drape it over them; flat if there are none."""
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
    bridge: Flags,
    tunnel: Flags,
    *,
    rasters: Sequence[Raster],
    smoothing_m: float,
    steps: Flags | None = None,
    max_slope: float = MOST_SLOPE,
    max_stairs_slope: float = MOST_STAIRS_SLOPE,
) -> Terrain:
    """Sample heights along every segment."""
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
    """Sum what each segment climbs and falls, walked from tail to head."""
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
