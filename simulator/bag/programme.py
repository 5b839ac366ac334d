"""An integer programme with goals in order of rank, solved exactly by scipy's HiGHS.

The first goal is met as well as can be, then the second without giving up any of the first, and so
on. What is chosen may have to lie whole in one of several compartments.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from simulator.arrays import Floats

Aim = Literal["at least", "most", "least"]

SLACK: Final = 1e-6
"""What a goal may lose to rounding when it is held fixed: the solver's own tolerance, relative to
the largest number of its row."""


@dataclass(frozen=True, slots=True, eq=False)
class Goal:
    """One aim.

    Attributes
    ----------
    name : str
        What it is, for messages.
    weights : numpy.ndarray
        What one piece of each candidate counts, float64 (K).
    aim : {"at least", "most", "least"}
        Miss `enough` by as little as can be; have as much, or as little, as can be.
    enough : float
        For ``at least``: more than this is not sought.
    """

    name: str
    weights: Floats
    aim: Aim
    enough: float = 0.0

    def score(self, counts: NDArray[np.int64]) -> float:
        """Say how badly a choice does; less is better."""
        amount = float(self.weights @ counts)
        if self.aim == "at least":
            return max(self.enough - amount, 0.0)
        return -amount if self.aim == "most" else amount


@dataclass(frozen=True, slots=True, eq=False)
class PackLimit:
    """What a choice may not exceed.

    Attributes
    ----------
    name : str
        E.g. ``budget``.
    weights : numpy.ndarray
        What one piece of each candidate takes, float64 (K); below zero for what makes room for
        others, as a cable does for a power bank.
    most : float
        All that there is.
    """

    name: str
    weights: Floats
    most: float


@dataclass(frozen=True, slots=True, eq=False)
class Rooms:
    """Compartments, in one of which each piece must lie whole.

    Attributes
    ----------
    size_ml : numpy.ndarray
        Room that a piece of each candidate takes, float64 (K) [ml].
    room_ml : numpy.ndarray
        Usable room of each compartment, the main one first, float64 (R) [ml].
    """

    size_ml: Floats
    room_ml: Floats


def best(
    upper: NDArray[np.int64],
    limits: Sequence[PackLimit],
    goals: Sequence[Goal],
    *,
    rooms: Rooms | None = None,
) -> NDArray[np.int64]:
    """Choose how many of each candidate to take."""
    if any(limit.most < 0 for limit in limits):
        msg = "`limits` must all be 0 or more"
        raise ValueError(msg)
    counts = _ranked(upper, limits, goals, rooms=None)
    if rooms is not None and not unplaced(rooms, counts).any():
        return counts  # what is best without compartments, and goes into them, is best with them
    return counts if rooms is None else _ranked(upper, limits, goals, rooms=rooms)


def _ranked(
    upper: NDArray[np.int64],
    limits: Sequence[PackLimit],
    goals: Sequence[Goal],
    *,
    rooms: Rooms | None,
) -> NDArray[np.int64]:
    """Do best in one goal after the other."""
    rows = [Constraint(limit.weights, -np.inf, limit.most) for limit in limits]
    first = list(takewhile(lambda goal: goal.aim == "at least", goals))
    targets = [_clipped(goal) for goal in first]
    whole = _solve(np.zeros(upper.size), upper, [*rows, *targets], rooms=rooms)
    counts = np.zeros(upper.size, dtype=np.int64)
    if whole is not None:  # all that is asked for first can be had together
        rows += targets
        goals = goals[len(first) :]
        counts = whole.counts
    for goal in goals:
        found = _step(goal, upper, rows, rooms)
        if found is None:
            msg = f"the solver found no answer for {goal.name!r} within the limits"
            raise RuntimeError(msg)
        counts = found.counts
        rows.append(held_at(goal, counts))
    return counts


def unplaced(rooms: Rooms, counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Say how many pieces of each find no compartment when as many as can be do."""
    sizes = np.nan_to_num(rooms.size_ml)
    if _goes_in(sizes, counts, rooms.room_ml):
        return np.zeros_like(counts)
    found = _solve(-np.ones(counts.size), counts, [], rooms=rooms)
    return counts if found is None else counts - found.counts


def _goes_in(sizes: Floats, counts: NDArray[np.int64], room_ml: Floats) -> bool:
    """Try the largest first where least room is left; most bags are done with that."""
    left = np.sort(room_ml)
    for size in np.sort(np.repeat(sizes, counts))[::-1]:
        place = int(np.searchsorted(left, size - SLACK))
        if place == left.size:
            return False
        left[place] -= size
        left.sort()
    return True


@dataclass(frozen=True, slots=True, eq=False)
class Constraint:
    """A linear constraint; `extra` is what one unit of widening takes off the left side."""

    weights: Floats
    low: float
    high: float
    extra: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Solution:
    """An answer: pieces, and by how much a limit was widened for them."""

    counts: NDArray[np.int64]
    extra: float


def _clipped(goal: Goal) -> Constraint:
    """Ask for all that a goal wants, in shares of it; a piece never counts for more than all."""
    if goal.enough <= 0.0:
        return Constraint(np.zeros(goal.weights.size), -np.inf, np.inf)
    return Constraint(np.minimum(goal.weights / goal.enough, 1.0), 1.0 - SLACK, np.inf)


def held_at(goal: Goal, counts: NDArray[np.int64], *, better: float = 0.0) -> Constraint:
    """Keep what has been reached, or ask for more than that."""
    reached = float(goal.weights @ counts)
    slack = SLACK * max(1.0, float(np.abs(goal.weights).max(initial=0.0))) - better
    if goal.aim == "least":
        return Constraint(goal.weights, -np.inf, reached + slack)
    if goal.aim == "most":
        return Constraint(goal.weights, reached - slack, np.inf)
    if reached >= goal.enough:
        return _clipped(goal)
    share = SLACK - better / goal.enough
    return Constraint(goal.weights / goal.enough, reached / goal.enough - share, np.inf)


def _step(
    goal: Goal, upper: NDArray[np.int64], rows: Sequence[Constraint], rooms: Rooms | None
) -> _Solution | None:
    """Do best in one goal."""
    if goal.aim == "least":
        return _solve(goal.weights, upper, rows, rooms=rooms)
    if goal.aim == "most":
        return _solve(-goal.weights, upper, rows, rooms=rooms)
    if goal.enough <= 0.0:
        return _solve(np.zeros(upper.size), upper, rows, rooms=rooms)
    share = np.minimum(goal.weights / goal.enough, 1.0)
    return _solve(np.zeros(upper.size), upper, rows, target=share, rooms=rooms)


def _solve(
    cost: Floats,
    upper: NDArray[np.int64],
    rows: Sequence[Constraint],
    *,
    target: Floats | None = None,
    rooms: Rooms | None = None,
    widening: Literal["", "limit", "rooms"] = "",
) -> _Solution | None:
    """Solve one programme."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array, eye_array, hstack, vstack

    size, spare = upper.size, float(target is not None)
    weights = [[*row.weights, 0.0, -row.extra] for row in rows]
    low, high = [row.low for row in rows], [row.high for row in rows]
    if target is not None:
        weights.append([*target, 1.0, 0.0])
        low, high = [*low, 1.0], [*high, np.inf]
    left = csr_array(np.array(weights).reshape(len(weights), size + 2))
    inside = 0
    if rooms is not None:
        inside = rooms.room_ml.size
        sizes = np.nan_to_num(rooms.size_ml)
        lying = hstack([eye_array(size)] * inside)
        block = csr_array(np.kron(np.eye(inside), sizes))
        grows = np.zeros((inside, size + 2))
        grows[0, size + 1] = -float(widening == "rooms")
        taken = hstack([eye_array(size), csr_array((size, 2)), -lying])
        left = vstack(
            [
                csr_array(hstack([left, csr_array((left.shape[0], inside * size))])),
                csr_array(taken),
                csr_array(hstack([csr_array(grows), block])),
            ]
        )
        low += [0.0] * size + [-np.inf] * inside
        high += [0.0] * size + rooms.room_ml.tolist()
    most = np.concatenate(
        [upper, [spare, np.inf if widening else 0.0], np.tile(upper, inside)]
    ).astype(np.float64)
    whole = np.concatenate([np.ones(size), np.zeros(2), np.ones(inside * size)])
    found = milp(
        np.concatenate([cost, [spare, float(bool(widening))], np.zeros(inside * size)]),
        integrality=whole,
        bounds=Bounds(np.zeros(most.size), most),
        constraints=[LinearConstraint(left, low, high)] if low else [],
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None:
        return None
    return _Solution(np.rint(found.x[:size]).astype(np.int64), float(found.x[size + 1]))


SAME: Final = 1e-6
"""Scores closer than this are equal."""

BETTER: Final = 1e-4
"""Least gain that counts as one, of all that is asked for; well above `SLACK`."""


def least_more(
    upper: NDArray[np.int64],
    limits: Sequence[PackLimit],
    place: int,
    aims: Sequence[Goal],
    counts: NDArray[np.int64],
    rooms: Rooms | None,
) -> float | None:
    """Find the least widening of a limit that makes the first goal that differs better."""
    steps = []
    for number, goal in enumerate(aims):
        if goal.aim == "at least" and goal.score(counts) <= SAME * max(1.0, goal.enough):
            continue  # all that is asked for is there
        better = BETTER * max(1.0, goal.enough)
        held = [held_at(earlier, counts) for earlier in aims[:number]]
        step = widening_for(
            upper, limits, place, [*held, held_at(goal, counts, better=better)], rooms
        )
        steps += [] if step is None else [step]
    return min(steps, default=None)


def widening_for(
    upper: NDArray[np.int64],
    limits: Sequence[PackLimit],
    place: int,
    held: Sequence[Constraint],
    rooms: Rooms | None,
) -> float | None:
    """Find by how much a limit must be widened for something to be had; None for never."""
    rows = [
        Constraint(limit.weights, -np.inf, limit.most, extra=float(number == place))
        for number, limit in enumerate(limits)
    ]
    in_rooms = rooms is not None and limits[place].name == "volume"
    found = _solve(
        np.zeros(upper.size),
        upper,
        [*rows, *held],
        rooms=rooms,
        widening="rooms" if in_rooms else "limit",
    )
    return None if found is None else round(found.extra, MONEY_DIGITS)


MONEY_DIGITS: Final = 6
"""Digits after the point to which a widening is told; prices and millilitres have fewer."""


def widened(
    limits: Sequence[PackLimit], place: int, rooms: Rooms | None, step: float
) -> tuple[list[PackLimit], Rooms | None]:
    """Widen one limit; more room is more of the main compartment."""
    wider = [*limits]
    wider[place] = replace(limits[place], most=limits[place].most + step + SLACK)
    if rooms is None or limits[place].name != "volume":
        return wider, rooms
    room_ml = rooms.room_ml.copy()
    room_ml[0] += step + SLACK
    return wider, replace(rooms, room_ml=room_ml)
