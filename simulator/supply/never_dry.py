"""The way that water chooses: least time home with no stretch longer than the bottle lasts.

Between two refills only the least-time way matters, so the streets shrink to the points where one
may fill up: an arc joins two of them when a full bottle lasts from one to the other, and longer
arcs are dropped. On those arcs the least time is found exactly, each point opened only when it can
still lie on the best way (a search led by the least time home, which never says too much).

Need is counted in the seconds of walking that it covers: the bottle is taken to empty evenly.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count, pairwise
from math import ceil, inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from simulator.arrays import Floats, Position

LEAST_S = 1e-9
"""An arc of no length would be no arc to the search; far below any time that matters [s]."""

ROUNDING_S = 1e-6
"""A stretch longer than the bottle by this little still counts as within it [s]."""


@dataclass(frozen=True, slots=True)
class FillingPoints:
    """Where one may fill bottles; P points.

    Attributes
    ----------
    segment : (P,) int32
        Street segment.
    fraction : (P,) float64
        Where on it, as a share from its tail.
    access_s : (P,) float64
        Walk from the street to the point, one direction [s].
    stop_s : (P,) float64
        Time at the point [s]; infinite where it cannot be used.
    treated : (P,) bool
        Whether its water uses up treatment.
    """

    segment: NDArray[np.int32]
    fraction: Floats
    access_s: Floats
    stop_s: Floats
    treated: NDArray[np.bool_]


class Supply(NamedTuple):
    """What is carried, in seconds of walking that it covers.

    Attributes
    ----------
    start_s : float
        Water at the start.
    bottle_s : float
        Full bottles.
    treats_s : float
        Water that can be treated on the whole way.
    dose_s : float
        Treatment is used up in whole doses of this; 0 for any amount.
    one_bottle : bool
        Whether what is left mixes with untreated water, so that a full bottle is treated.
    """

    start_s: float
    bottle_s: float
    treats_s: float = inf
    dose_s: float = 0.0
    one_bottle: bool = False


@dataclass(frozen=True, slots=True)
class NeverDry:
    """A way that never runs dry.

    Attributes
    ----------
    visits : tuple of (int, int)
        Refills in order: point, and how many of the ends between start and home were passed
        before it.
    walk_s : float
        Walking time, to and from the points included [s].
    stop_s : float
        Time at the points [s].
    opened : int
        Points from which ways were looked for.
    """

    visits: tuple[tuple[int, int], ...]
    walk_s: float
    stop_s: float
    opened: int

    @property
    def total_s(self) -> float:
        """Walking and stopping together [s]."""
        return self.walk_s + self.stop_s


class _Label(NamedTuple):
    """A way as far as one refill."""

    time_s: float
    walk_s: float
    used_s: float  # treatment
    leg: int
    point: int  # -1 is the start
    before: _Label | None


class _Places:
    """The streets with the points and ends set into them, and least times between those."""

    def __init__(
        self,
        tail: NDArray[np.int32],
        head: NDArray[np.int32],
        nodes: int,
        forward_s: Floats,
        backward_s: Floats,
        positions: Sequence[Position],
    ) -> None:
        size = nodes + len(positions)
        ahead_open, back_open = np.isfinite(forward_s), np.isfinite(backward_s)
        rows = [tail[ahead_open], head[back_open]]
        columns = [head[ahead_open], tail[back_open]]
        costs = [forward_s[ahead_open], backward_s[back_open]]
        on: dict[int, list[tuple[float, int]]] = {}
        for number, (segment, fraction) in enumerate(positions, nodes):
            ends = (int(tail[segment]), int(head[segment]))
            ahead, back = float(forward_s[segment]), float(backward_s[segment])
            arcs = (
                (number, ends[1], _part(1.0 - fraction, ahead)),
                (number, ends[0], _part(fraction, back)),
                (ends[0], number, _part(fraction, ahead)),
                (ends[1], number, _part(1.0 - fraction, back)),
            )
            others = on.setdefault(segment, [])
            beside = [
                (a, b, _part(abs(fraction - share), ahead if (fraction > share) == onto else back))
                for share, other in others
                for onto, a, b in ((True, other, number), (False, number, other))
            ]
            others.append((fraction, number))
            for begins, finishes, time_s in (*arcs, *beside):
                rows.append(np.array([begins], dtype=np.int32))
                columns.append(np.array([finishes], dtype=np.int32))
                costs.append(np.array([time_s]))
        row, column = np.concatenate(rows), np.concatenate(columns)
        cost = np.concatenate(costs)
        kept = np.isfinite(cost)
        row, column, cost = row[kept], column[kept], np.maximum(cost[kept], LEAST_S)
        order = np.lexsort((cost, column, row))
        row, column, cost = row[order], column[order], cost[order]
        # Of parallel streets the quickest: a sparse matrix has one cell for each pair.
        first = np.ones(row.size, dtype=np.bool_)
        first[1:] = (row[1:] != row[:-1]) | (column[1:] != column[:-1])
        start = np.searchsorted(row[first], np.arange(size + 1))
        self.graph = csr_array((cost[first], column[first], start), shape=(size, size))
        self.nodes = nodes
        self.rows: dict[int, Floats] = {}

    def times_s(self, number: int, limit_s: float) -> Floats:
        """Least times from a position to all positions [s]; infinite beyond the limit."""
        if number not in self.rows:
            found = dijkstra(self.graph, indices=[self.nodes + number], limit=limit_s + ROUNDING_S)[
                0
            ]
            self.rows[number] = found[self.nodes :]
        return self.rows[number]

    def times_to_s(self, number: int) -> Floats:
        """Least times from all positions to one [s]."""
        turned = self.graph.T.tocsr()
        found: Floats = dijkstra(turned, indices=[self.nodes + number])[0]
        return found[self.nodes :]


def never_dry(
    tail: NDArray[np.int32],
    head: NDArray[np.int32],
    nodes: int,
    forward_s: Floats,
    backward_s: Floats,
    *,
    ends: Sequence[Position],
    points: FillingPoints,
    supply: Supply,
) -> NeverDry | None:
    """Find the least-time way on which the bottle lasts from each refill to the next.

    Parameters
    ----------
    tail, head : (M,) int32
        Ends of the segments.
    nodes : int
        Number of nodes.
    forward_s, backward_s : (M,) float64
        Walking time tail to head, head to tail [s]; above zero, infinite where closed.
    ends : sequence of (int, float)
        Start, places to pass in order, and home: segment, and share of it from its tail.
    points : FillingPoints
        Where one may fill up.
    supply : Supply
        Bottles and treatment, in seconds of walking.

    Returns
    -------
    NeverDry or None
        None when there is no such way.

    Notes
    -----
    Every refill fills to the brim. Whether a point is open is the caller's to say once, in
    ``points.stop_s``, as the hour one gets there depends on the way.
    """
    amount = points.segment.size
    positions = [
        *zip(points.segment.tolist(), points.fraction.tolist(), strict=True),
        *((int(segment), float(fraction)) for segment, fraction in ends),
    ]
    ground = _Places(tail, head, nodes, forward_s, backward_s, positions)
    search = _Search(ground, points, supply, legs=len(ends) - 1, amount=amount)
    return search.best()


def _part(share: float, time_s: float) -> float:
    """Time over a part of a segment; of a closed one nothing counts where nothing is walked."""
    return share * time_s if share > 0.0 else 0.0


class _Search:
    """Least time over refills, led by the least time home."""

    def __init__(
        self, ground: _Places, points: FillingPoints, supply: Supply, *, legs: int, amount: int
    ) -> None:
        self.ground, self.points, self.supply = ground, points, supply
        self.legs, self.amount = legs, amount
        self.usable = np.isfinite(points.stop_s)
        # Least time home of every position in every leg, over the ends still to come.
        self.ahead_s = np.full((legs, amount + legs + 1), inf)
        onward = 0.0
        for leg in reversed(range(legs)):
            self.ahead_s[leg] = ground.times_to_s(amount + leg + 1) + onward
            onward = float(self.ahead_s[leg, amount + leg])
        self.ahead_s[:, :amount] += points.access_s
        self.opened = 0

    def best(self) -> NeverDry | None:
        """Find the best way."""
        start = _Label(0.0, 0.0, 0.0, 0, -1, None)
        number = count()
        queue = [(float(self.ahead_s[0, self.amount]), next(number), start)]
        kept: dict[tuple[int, int], list[float]] = {}
        while queue:
            _, _, label = heapq.heappop(queue)
            if label.leg == self.legs:
                return self._told(label)
            # Labels of one point come in order of time: a later one must use less treatment.
            used = kept.setdefault((label.leg, label.point), [])
            if used and used[-1] <= label.used_s:
                continue
            used.append(label.used_s)
            for onward in self._from(label):
                ahead_s = 0.0
                if onward.leg < self.legs:
                    ahead_s = float(self.ahead_s[onward.leg, onward.point])
                if ahead_s < inf:
                    heapq.heappush(queue, (onward.time_s + ahead_s, next(number), onward))
        return None

    def _from(self, label: _Label) -> list[_Label]:
        """Give every next refill that the bottle reaches, and home."""
        supply, points = self.supply, self.points
        at_start = label.point < 0
        lasts_s = supply.start_s if at_start else supply.bottle_s
        missing_s = supply.bottle_s - supply.start_s if at_start else 0.0
        position = self.amount if at_start else label.point
        gone_s = 0.0 if at_start else float(points.access_s[label.point])
        onward = []
        self.opened += 1
        for leg in range(label.leg, self.legs):
            times_s = self.ground.times_s(position, supply.bottle_s)
            reach_s = gone_s + times_s[: self.amount] + points.access_s
            within = self.usable & (reach_s <= lasts_s + ROUNDING_S)
            for point in np.flatnonzero(within).tolist():
                if point == label.point and leg == label.leg:
                    continue
                walked_s = float(reach_s[point])
                used_s = label.used_s
                if points.treated[point]:
                    used_s += self._used_s(missing_s + walked_s)
                    if used_s > supply.treats_s + ROUNDING_S:
                        continue
                onward.append(
                    _Label(
                        label.time_s + walked_s + float(points.stop_s[point]),
                        label.walk_s + walked_s,
                        used_s,
                        leg,
                        point,
                        label,
                    )
                )
            position, before = self.amount + leg + 1, gone_s
            gone_s = before + float(times_s[position])
            if gone_s > lasts_s + ROUNDING_S:
                break
            if leg + 1 == self.legs:
                onward.append(
                    _Label(
                        label.time_s + gone_s,
                        label.walk_s + gone_s,
                        label.used_s,
                        self.legs,
                        -1,
                        label,
                    )
                )
        return onward

    def _used_s(self, taken_s: float) -> float:
        """Treatment used up by filling what has been drunk."""
        treated = self.supply.bottle_s if self.supply.one_bottle else taken_s
        dose = self.supply.dose_s
        return ceil(treated / dose - ROUNDING_S) * dose if dose > 0.0 else treated

    def _told(self, label: _Label) -> NeverDry:
        visits = []
        last = label
        while last.before is not None:
            last = last.before
            if last.point >= 0:
                visits.append((last.point, last.leg))
        return NeverDry(
            visits=tuple(reversed(visits)),
            walk_s=label.walk_s,
            stop_s=label.time_s - label.walk_s,
            opened=self.opened,
        )


def through(ends: Sequence[Position], visits: Sequence[tuple[int, Position]]) -> list[Position]:
    """Put refills between the ends in the order of the way.

    Parameters
    ----------
    ends : sequence of (int, float)
        Start, places to pass, home.
    visits : sequence of (int, (int, float))
        Leg and position of each refill, in order.

    Returns
    -------
    list of (int, float)
        Every position to walk through, start and home included.
    """
    on: list[Position] = [ends[0]]
    for leg, (_, end) in enumerate(pairwise(ends)):
        on += [position for number, position in visits if number == leg]
        on.append(end)
    return on
