"""Ways from one position to many: one search of the network, then a short walk back for each."""

from __future__ import annotations

from math import isinf
from typing import TYPE_CHECKING

import numpy as np

from simulator.route.weights import Weights, direct_cost, is_ahead, stretch

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.route.search import Network, Path

Position = tuple[int, float]


class Fan:
    """The least-cost ways from one position, found once for any number of destinations.

    Parameters
    ----------
    network : Network
        The streets.
    cost_forward, cost_backward : (M,) float64
        Cost of each segment each way; finite and above zero where open.
    origin : (int, float)
        Segment, and share of it from its tail.
    closed : (M,) bool
        Segments nobody may walk this time.
    """

    # The search and its unpacking are the network's own; this class only keeps the search.
    # ruff: noqa: SLF001

    def __init__(
        self,
        network: Network,
        cost_forward: NDArray[np.float64],
        cost_backward: NDArray[np.float64],
        origin: Position,
        *,
        closed: NDArray[np.bool_],
    ) -> None:
        self.network, self.origin = network, origin
        self.weights = network._weigh(cost_forward, cost_backward, closed)
        self.begin = network._point(origin)
        self.entry = network._leave(self.weights, self.begin)
        self.distance = network._search(self.weights, self.begin, self.entry)

    def way_to(self, destination: Position) -> Path | None:
        """Give the way to one destination.

        Parameters
        ----------
        destination : (int, float)
            Segment, and share of it from its tail.

        Returns
        -------
        Path or None
            As `Network.least` gives it; None when no way exists.
        """
        network, weights, begin = self.network, self.weights, self.begin
        end = network._point(destination)
        string = network.strings
        first, last = int(string.first[end.string]), int(string.last[end.string])
        backwards = Weights(weights.against, weights.along, weights.string)
        by_first, by_last = network._leave(backwards, end)
        totals = (
            direct_cost(weights, begin, end),
            float(self.distance[first]) + by_first,
            float(self.distance[last]) + by_last,
        )
        best = int(np.argmin(totals))
        if isinf(totals[best]):
            return None
        if best == 0:
            steps = [stretch(begin.place, end.place, along=is_ahead(begin, end))]
        else:
            start, stop = string.start[end.string : end.string + 2].tolist()
            steps = network._backtrack(
                weights, self.distance, begin, self.entry, (first, last)[best - 1]
            )
            ahead = best == 1
            steps.append(stretch(start if ahead else stop - 1, end.place, along=ahead))
        return network._unpack(weights, steps, self.origin[1], destination[1])
