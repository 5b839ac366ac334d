"""Segments cut into pieces short enough to follow the ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
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
    """Cut segments into equal pieces.

    Parameters
    ----------
    tail, head : ndarray of int, shape (M,)
        Ends of each segment.
    length_m, piece_m : ndarray of float, shape (M,)
        Length of each segment, and the most a piece of it may have [m].
    n_nodes : int
        Number of nodes.

    Returns
    -------
    Pieces
        The pieces, those of a segment equally long.
    """
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
