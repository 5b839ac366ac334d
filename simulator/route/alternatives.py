"""Other ways home that are worth knowing: little shared, little longer, and nowhere silly.

Where the tree of least-time ways out and the tree of least-time ways home run along the same
streets, they form a *plateau*. The way out to a plateau, along it, and home from it is as good as
any way through it; and no stretch of it shorter than the plateau can be bettered by a local
short cut. The criteria (limited sharing, local optimality, bounded stretch) are those of Abraham,
Delling, Goldberg & Werneck (2013), "Alternative routes in road networks", ACM Journal of
Experimental Algorithmics 18, from memory; their limits are for driving, those here are assumed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.route.blockages import Around, PreparedTrip, TimedTrip
from simulator.route.search import Path
from simulator.route.trees import Outward

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_SHARED = 0.5
"""Share of an alternative's length that may lie on the first way or another one (assumed)."""

MOST_STRETCH = 1.4
"""Time of an alternative over the least time, at most (assumed)."""

LOCAL_SHARE = 0.1
"""No stretch that takes up to this share of the least time may have a short cut (assumed)."""

MOST_LOOKED_AT = 200
"""Candidates unfolded, best first, before giving up (assumed)."""


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another way home.

    Attributes
    ----------
    path : Path
        The way.
    extra_s : float
        What it costs above the first way: time, where the trip's costs are times [s].
    shared : float
        Greatest share of its length that lies on the first way or on an earlier alternative.
    """

    path: Path
    extra_s: float
    shared: float


def alternatives(
    trip: TimedTrip,
    length_m: NDArray[np.float64],
    *,
    count: int = 3,
    crossings: Sequence[NDArray[np.integer]] = (),
    most_shared: float = MOST_SHARED,
    most_stretch: float = MOST_STRETCH,
    local_share: float = LOCAL_SHARE,
) -> list[Alternative]:
    """Find other ways home that share little with the first and with each other.

    Parameters
    ----------
    trip : TimedTrip
        The trip.
    length_m : ndarray of float, shape (M,)
        Length of each segment [m].
    count : int
        How many to find at most.
    crossings : sequence of ndarray of int
        Segments of each bridge: another way keeps off those of the first way, as far as that can
        be walked within the stretch allowed.
    most_shared : float
        Share of its length that may lie on a way already given, 0 to 1.
    most_stretch : float
        Time over the least time, at most; 1 or more.
    local_share : float
        Every stretch that takes up to this share of the least time is itself least-time.

    Returns
    -------
    list of Alternative
        In order of cost; fewer than ``count`` when the map has no more.
    """
    open_s = trip.detours.open_s
    if not np.isfinite(open_s) or open_s == 0.0:
        return []
    limit_s = (most_stretch - 1.0) * open_s
    for avoided in (_avoided(trip, crossings, limit_s), np.empty(0, np.int64)):
        found = _keeping_off(trip, avoided, length_m, count, most_shared, limit_s, local_share)
        if found or not avoided.size:
            break
    return found


def _keeping_off(
    trip: TimedTrip,
    avoided: NDArray[np.int64],
    length_m: NDArray[np.float64],
    count: int,
    most_shared: float,
    limit_s: float,
    local_share: float,
) -> list[Alternative]:
    """Find other ways that keep off some segments."""
    open_s = trip.detours.open_s
    off = trip.closing(avoided) if avoided.size else trip
    # How much later the best way without those bridges is; a way through a plateau adds to that.
    later_s = off.detours.open_s - open_s
    taken = [_lengths(trip.path(trip.open_way), length_m)]
    found: list[Alternative] = []
    tree = off.detours.outward((limit_s - later_s) / off.detours.open_s)
    through = _by_plateaus(off.detours, tree, local_share)[:MOST_LOOKED_AT]
    for around in [*([off.open_way] if avoided.size else []), *through]:
        nodes = _nodes(off.detours, around)
        if len(set(nodes)) < len(nodes):
            continue
        path = off.path(around)
        own = _lengths(path, length_m)
        shared = max(_common_m(own, other) for other in taken) / sum(own.values())
        if shared <= most_shared:
            found.append(Alternative(path, later_s + around.extra_s, shared))
            taken.append(own)
        if len(found) == count:
            break
    return found


def _avoided(
    trip: TimedTrip, crossings: Sequence[NDArray[np.integer]], limit_s: float
) -> NDArray[np.int64]:
    """Choose the bridges of the first way to keep off: all that can be spared together."""
    on_way = set(trip.path(trip.open_way).segment.tolist())
    met = [segments for segments in crossings if on_way.intersection(segments.tolist())]
    lost_s = [trip.without(segments).extra_s for segments in met]
    spared = [met[row] for row in np.argsort(lost_s, kind="stable").tolist()]
    while spared:
        together = np.concatenate(spared).astype(np.int64)
        if trip.without(together).extra_s <= limit_s:
            return together
        spared.pop()
    return np.empty(0, np.int64)


def _by_plateaus(detours: PreparedTrip, tree: Outward, local_share: float) -> list[Around]:
    """Give the way through each plateau that is long enough, least lost time first."""
    onward, home_s = detours.home.onward, detours.home.time_s
    nodes = tree.order
    before = tree.before[nodes]
    inside = before >= 0
    on_plateau = np.zeros(onward.size, bool)
    on_plateau[nodes[inside]] = onward[before[inside]] == nodes[inside]
    # A plateau begins at a node not reached along one, and ends where none goes on.
    goes_on = np.zeros(onward.size, bool)
    goes_on[tree.before[on_plateau]] = True
    begins = np.flatnonzero(goes_on & ~on_plateau)
    found = []
    for first in begins.tolist():
        last = first
        while goes_on[last] and on_plateau[onward[last]]:
            last = int(onward[last])
        length_s = float(home_s[first] - home_s[last])
        if length_s >= local_share * detours.open_s and tree.late_s[first] > 0.0:
            found.append((float(tree.late_s[first]), first))
    around = []
    for late_s, node in sorted(found):
        way, step = [node], node
        while (step := tree.before_list[step]) >= 0:
            way.append(step)
        around.append(Around(detours.open_s + late_s, late_s, tuple(reversed(way)), (), node))
    return around


def _nodes(detours: PreparedTrip, around: Around) -> list[int]:
    """Give the nodes of a way, to see whether it meets itself."""
    nodes = list(around.first)
    node = around.joins
    while (node := detours.onward[node]) >= 0:
        nodes.append(node)
    return nodes


def _lengths(path: Path, length_m: NDArray[np.float64]) -> dict[int, float]:
    """Give the length walked on each segment of a path [m]."""
    share = np.ones(path.segment.size)
    share[0] -= path.from_fraction if path.forward[0] else 1.0 - path.from_fraction
    share[-1] -= 1.0 - path.to_fraction if path.forward[-1] else path.to_fraction
    walked = length_m[path.segment] * share
    return dict(zip(path.segment.tolist(), walked.tolist(), strict=True))


def _common_m(own: dict[int, float], other: dict[int, float]) -> float:
    """Add up the length of the segments that two ways share [m]."""
    return sum(length for segment, length in own.items() if segment in other)
