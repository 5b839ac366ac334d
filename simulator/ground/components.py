"""Pieces of a network that hang together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components


@dataclass(frozen=True, slots=True)
class Components:
    """Pieces of the network that hang together, one-ways taken both ways.

    Attributes
    ----------
    label : (N,) int32
        Piece of each node; pieces are numbered from the longest, 0.
    nodes : (C,) int64
        Nodes of each piece.
    length_m : (C,) float64
        Walkable length of each piece [m].
    """

    label: NDArray[np.int32]
    nodes: NDArray[np.int64]
    length_m: NDArray[np.float64]


def find_components(
    tail: NDArray[np.int32], head: NDArray[np.int32], length_m: NDArray[np.float64], *, nodes: int
) -> Components:
    """Label the pieces of a network that hang together.

    Parameters
    ----------
    tail, head : (M,) int32
        Ends of the segments.
    length_m : (M,) float64
        Their lengths [m].
    nodes : int
        Number of nodes.

    Returns
    -------
    Components
        Pieces in order of length, the longest first.
    """
    links = coo_array((np.ones(tail.size, bool), (tail, head)), shape=(nodes, nodes))
    count, label = connected_components(links, directed=False)
    total_m = np.bincount(label[tail], length_m, count).astype(np.float64)
    order = np.argsort(-total_m, kind="stable")
    rank = np.empty(count, np.int32)
    rank[order] = np.arange(count)
    size = np.bincount(label, minlength=count)
    return Components(rank[label], size[order], total_m[order])
