"""Costs of one query along the strings of a contracted network, and sums over parts of them.

Every function is total over closed segments, whose cost is infinite: nothing of a closed segment
costs nothing, any part of it costs infinitely much.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Flags = NDArray[np.bool_]


class Weights(NamedTuple):
    """Costs of one query, infinite where closed.

    Attributes
    ----------
    along, against : (S,) float64
        Cost of each segment, in the order of the strings, walked along and against its string.
    string : (2 C,) float64
        Cost of each string from its first junction and from its last, in turn.
    """

    along: Floats
    against: Floats
    string: Floats


class Point(NamedTuple):
    """A position in its string.

    Attributes
    ----------
    string : int
        Which string.
    place : int
        Place of the segment in the order of all strings.
    share : float
        Share of the segment already behind, seen along the string, 0 to 1.
    """

    string: int
    place: int
    share: float


def checked(cost: Floats, is_open: Flags, direction: str) -> Floats:
    """Check costs, and close what is not open.

    Parameters
    ----------
    cost : (M,) float64
        Cost of each segment in one direction.
    is_open : (M,) bool
        Segments open in this direction.
    direction : str
        Its name, for messages.

    Returns
    -------
    (M,) float64
        The costs, infinite where not open.

    Raises
    ------
    ValueError
        If the cost of an open segment is not finite and above zero.
    """
    cost = np.asarray(cost, np.float64)
    if cost.shape != is_open.shape:
        msg = f"{direction} costs have shape {cost.shape}, the network has {is_open.size} segments"
        raise ValueError(msg)
    wrong = is_open & ~((cost > 0.0) & (cost < inf))
    if wrong.any():
        at = int(np.argmax(wrong))
        msg = f"{direction} cost of segment {at} must be finite and above zero: {cost[at]}"
        raise ValueError(msg)
    return np.where(is_open, cost, inf)


def part_cost(cost: Floats, place: int, share: float) -> float:
    """Give the cost of a share of a segment.

    Parameters
    ----------
    cost : (S,) float64
        Costs by place.
    place : int
        Place of the segment.
    share : float
        Share walked, 0 to 1.

    Returns
    -------
    float
        Cost; none of a closed segment costs nothing.
    """
    return share * float(cost[place]) if share > 0.0 else 0.0


def is_ahead(begin: Point, end: Point) -> bool:
    """Tell whether one point is at or after another on the same string.

    Parameters
    ----------
    begin, end : Point
        Points on one string.

    Returns
    -------
    bool
        True if ``end`` is reached from ``begin`` along the string.
    """
    return (begin.place, begin.share) <= (end.place, end.share)


def direct_cost(weights: Weights, begin: Point, end: Point) -> float:
    """Give the cost from point to point within one string.

    Parameters
    ----------
    weights : Weights
        Costs of the query.
    begin, end : Point
        Where from, where to.

    Returns
    -------
    float
        Cost; infinite if the points are on different strings.
    """
    if begin.string != end.string:
        return inf
    if not is_ahead(begin, end):
        return direct_cost(Weights(weights.against, weights.along, weights.string), end, begin)
    if begin.place == end.place:
        return part_cost(weights.along, begin.place, end.share - begin.share)
    return (
        part_cost(weights.along, begin.place, 1.0 - begin.share)
        + float(weights.along[begin.place + 1 : end.place].sum())
        + part_cost(weights.along, end.place, end.share)
    )


def stretch(start: int, stop: int, *, along: bool) -> Ints:
    """List places walked one after the other.

    Parameters
    ----------
    start, stop : int
        First and last place walked.
    along : bool
        Whether they are walked along their string.

    Returns
    -------
    (K,) int32
        The places; each inverted (``~place``) if walked against the string.
    """
    if along:
        return np.arange(start, stop + 1, dtype=np.int32)
    return ~np.arange(start, stop - 1, -1, dtype=np.int32)


def turned(start: Ints) -> Ints:
    """Give the starts of the strings when all places are read backwards.

    Parameters
    ----------
    start : (C + 1,) int32
        Starts of the strings.

    Returns
    -------
    (C + 1,) int32
        Starts after reversal.
    """
    return np.asarray(start[-1] - start[::-1], np.int32)


def running_cost(cost: Floats, start: Ints, length: Ints) -> Floats:
    """Add costs up from the start of each string.

    Parameters
    ----------
    cost : (S,) float64
        Costs by place, infinite where closed.
    start : (C + 1,) int32
        Starts of the strings.
    length : (C,) int32
        Places of each string.

    Returns
    -------
    (S,) float64
        Cost from the start of the string to the end of the place; infinite from the first closed
        place on.
    """
    shut = np.isinf(cost)
    total = np.cumsum(np.where(shut, 0.0, cost))
    before = np.repeat(np.concatenate([[0.0], total])[start[:-1]], length)
    run: Floats = total - before
    if shut.any():
        gates = np.cumsum(shut)
        run[gates > np.repeat(np.concatenate([[0], gates])[start[:-1]], length)] = inf
    return run


def string_costs(weights: Weights, point: Point, start: int, stop: int) -> tuple[Floats, Floats]:
    """Give the costs from a point to the nodes within its own string.

    Parameters
    ----------
    weights : Weights
        Costs of the query.
    point : Point
        Where from.
    start, stop : int
        Places of the string.

    Returns
    -------
    onward : (stop - 1 - place,) float64
        Cost to each node ahead, nearest first, without the junction at the end.
    back : (place - start,) float64
        Cost to each node behind, nearest first, without the junction at the start.
    """
    place = point.place
    onward = [part_cost(weights.along, place, 1.0 - point.share)]
    onward.extend(weights.along[place + 1 : stop - 1])
    back = [part_cost(weights.against, place, point.share)]
    back.extend(weights.against[start + 1 : place][::-1])
    return np.cumsum(onward[: stop - 1 - place]), np.cumsum(back[: place - start])
