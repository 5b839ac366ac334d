"""Bridges and tunnels: straight between their ends, whatever the ground under or over them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.ground.harmonic import harmonic
from simulator.ground.pieces import Pieces

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Integers = NDArray[np.integer]

# A bridge or tunnel runs straight between two ends.
ENDS_OF_A_DECK = 2


def straighten(
    height: Floats,
    pieces: Pieces,
    tail: Integers,
    head: Integers,
    reaches: Floats,
    deck: Bools,
) -> tuple[Floats, int]:
    """Run bridges and tunnels straight, from one reach past the abutments to the next.

    Parameters
    ----------
    height : ndarray of float, shape (points,)
        Height of the ground at nodes and cuts [m].
    pieces : Pieces
        The segments' pieces.
    tail, head : ndarray of int, shape (M,)
        Ends of each segment.
    reaches : ndarray of float, shape (M,)
        Length of each segment, in reaches: how far past the abutments the ends lie.
    deck : ndarray of bool, shape (M,)
        Whether the segment is on a bridge or in a tunnel.

    Returns
    -------
    height : ndarray of float, shape (points,)
        Height of the way [m]; NaN along sets that run on into unknown ground.
    loose_sets : int
        Other connected sets with fewer than two ends on known ground.
    """
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
    deck: Bools,
    *,
    n_nodes: int,
) -> Floats:
    """Distance of each node from the nearest abutment along the ground, in reaches.

    Infinite beyond one reach.
    """
    from scipy.sparse import csr_array  # noqa: PLC0415 - slow to import
    from scipy.sparse.csgraph import dijkstra  # noqa: PLC0415

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
    pieces: Pieces, on_deck: Bools, unknown: Bools, held: Bools, distance: Floats
) -> NDArray[np.int64]:
    """Far ends of banks too short to hold an end one reach away: these ends hold instead.

    Only where one deck alone meets the bank; ground between two decks belongs to their chain.
    """
    from scipy.sparse import coo_array  # noqa: PLC0415 - slow to import
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

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
