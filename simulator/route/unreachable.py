"""Why no way exists: how far each side reaches, and what stands between."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from simulator.route.search import Network, Position


def explain(
    network: Network,
    cost_forward: NDArray[np.float64],
    cost_backward: NDArray[np.float64],
    origin: Position,
    destination: Position,
    closed: NDArray[np.bool_] | None,
) -> str:
    """Say how far each side reaches and what stops it.

    Parameters
    ----------
    network : Network
        The network searched.
    cost_forward, cost_backward : (M,) float64
        Costs of the failed search.
    origin, destination : (int, float)
        Its two positions.
    closed : (M,) bool or None
        What was closed.

    Returns
    -------
    str
        One line.
    """
    out = network.field(cost_forward, cost_backward, origin, closed=closed) < inf
    home = network.field_to(cost_forward, cost_backward, destination, closed=closed) < inf
    shut = np.zeros(network.tail.size, bool) if closed is None else closed
    return (
        f"no way home on this map: the start reaches {_extent(network, out, shut)}, home is "
        f"reached from {_extent(network, home, shut)}; "
        f"{_cause(network, origin[0], destination[0], shut, out, home)}"
    )


def _extent(network: Network, reached: NDArray[np.bool_], shut: NDArray[np.bool_]) -> str:
    walked = reached[network.tail] & reached[network.head] & ~shut
    walked &= network.open_forward | network.open_backward
    distance_km = float(network.length_m[walked].sum()) / 1000.0
    nodes = int(reached.sum())
    return f"{distance_km:,.1f} km of streets ({nodes:,} points)"


def _cause(
    network: Network,
    start: int,
    end: int,
    shut: NDArray[np.bool_],
    out: NDArray[np.bool_],
    home: NDArray[np.bool_],
) -> str:
    """Name what stands between: closure, one-way, barrier or gap, the first that explains it."""
    for segment, place in ((start, "the start"), (end, "home")):
        if shut[segment]:
            return f"the street at {place} is closed"
    links = network.open_forward | network.open_backward
    plain = np.arange(network.n_nodes, dtype=np.int32)
    if _joined(network, start, end, links & ~shut, plain):
        return "the streets between them are one-way on foot, the other way"
    if shut.any() and _joined(network, start, end, links, plain):
        border = shut & (out[network.tail] | out[network.head])
        border |= shut & (home[network.tail] | home[network.head])
        return (
            f"what is closed lies between them ({int(shut.sum()):,} pieces of street closed, "
            f"{int(border.sum()):,} of them at the edge of what is reached)"
        )
    if _joined(network, start, end, links, network.same_node):
        return "a barrier that lets nobody through (a locked gate, a wall) lies between them"
    return (
        "no walkable street on this map joins them (an island, water without a bridge for "
        "walkers, or the edge of the map)"
    )


def _joined(
    network: Network,
    start: int,
    end: int,
    links: NDArray[np.bool_],
    stand_in: NDArray[np.int32],
) -> bool:
    """Whether two segments hang together, directions ignored."""
    size = network.n_nodes
    pairs = (stand_in[network.tail[links]], stand_in[network.head[links]])
    joined = coo_array((np.ones(pairs[0].size, bool), pairs), shape=(size, size))
    _, label = connected_components(joined, directed=False)
    return bool(label[stand_in[network.tail[start]]] == label[stand_in[network.tail[end]]])
