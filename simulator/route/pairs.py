"""Pairs of closures that are worse together than either alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.route.blockages import Around
from simulator.route.search import Path
from simulator.route.trip import Trip

ROUNDING = 1e-9
"""Times that differ by less than this share are the same, added up in another order."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two closures that are worse together than either alone.

    Attributes
    ----------
    first, second : int
        Numbers of the closures, ascending.
    extra_s : float
        Time lost against the open way; infinite when nothing is left [s].
    path : Path or None
        The way that is left.
    """

    first: int
    second: int
    extra_s: float
    path: Path | None


def pairs_that_matter(trip: Trip, groups: Sequence[NDArray[np.integer]]) -> list[Pair]:
    """Find the best way for every pair of closures that is worse than either by itself.

    Parameters
    ----------
    trip : Trip
        The trip.
    groups : sequence of ndarray of int
        Segments of each closure, such as a bridge.

    Returns
    -------
    list of Pair
        In ascending order. A pair is left out where the way around one of them does not use the
        other: there it costs what the one costs alone.
    """
    single = {}
    for number in _groups_on(trip, trip.open_way, groups):
        single[number] = trip.without(groups[number])
    found: dict[tuple[int, int], Pair] = {}
    for number, around in sorted(single.items()):
        others = _groups_on(trip, around, groups) - {number}
        if not others:
            continue
        closed = trip.closing(groups[number])
        for other in sorted(others):
            pair = (min(number, other), max(number, other))
            if pair in found:
                continue
            both = closed.without(groups[other])
            alone = single[other].cost_s if other in single else trip.open_way.cost_s
            if both.cost_s > max(alone, around.cost_s) * (1.0 + ROUNDING):
                path = closed.path(both) if both.joins >= 0 else None
                found[pair] = Pair(*pair, both.cost_s - trip.open_way.cost_s, path)
    return [found[pair] for pair in sorted(found)]


def _groups_on(trip: Trip, around: Around, groups: Sequence[NDArray[np.integer]]) -> set[int]:
    """Tell which closures a way meets."""
    if around.joins < 0:
        return set()
    walked = set(trip.path(around).segment.tolist())
    return {number for number, group in enumerate(groups) if walked.intersection(group.tolist())}
