"""Heights that no raster has: estimated along the streets between those that are known."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.ground.harmonic import harmonic
from simulator.ground.pieces import Pieces

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Integers = NDArray[np.integer]


def estimated(
    height: Floats, pieces: Pieces, tail: Integers, head: Integers, length_m: Floats
) -> tuple[Floats, Bools]:
    """Fill unknown heights with the harmonic solution along the streets.

    Between two known heights a street runs straight; where streets meet, their junction is the
    mean of its neighbours, weighed by one over their distance; a dead end stays level.

    Parameters
    ----------
    height : ndarray of float, shape (points,)
        Height of nodes and cuts [m]; NaN where unknown.
    pieces : Pieces
        The segments' pieces.
    tail, head : ndarray of int, shape (M,)
        Ends of each segment.
    length_m : ndarray of float, shape (M,)
        Length of each segment, above 0 [m].

    Returns
    -------
    height : ndarray of float, shape (points,)
        Known heights as they were, the others estimated. A part of the network that touches no
        known height is level, at the median of the known ones; all NaN if none is known.
    level : ndarray of bool, shape (M,)
        Segments of such parts.
    """
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
