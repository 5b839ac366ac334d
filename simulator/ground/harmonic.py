"""Unknown heights between known ones: straight along a line, harmonic where lines meet."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


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
    """Work out unknown values on a network so that each is the mean of its neighbours.

    Neighbours weigh by one over their distance. Along a line between two known points that is
    the straight line; where lines branch it is the shape of least total squared slope; a dead
    end keeps the value of the point where it begins.

    Parameters
    ----------
    value : ndarray of float, shape (N,)
        Known values; those of unknown points are not looked at. A known point that is NaN does
        not count as known to its neighbours.
    unknown : ndarray of bool, shape (N,)
        Which points to work out.
    tail, head : ndarray of int, shape (M,)
        Ends of the lines between points.
    length : ndarray of float, shape (M,)
        Length of each line, above zero.

    Returns
    -------
    Filled
        All values, and how well each set is held.
    """
    from scipy.sparse import coo_array, csr_array  # noqa: PLC0415 - slow to import
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415
    from scipy.sparse.linalg import spsolve  # noqa: PLC0415

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
