"""An integer programme with goals in order of rank, solved exactly by scipy's HiGHS.

The first goal is met as well as can be, then the second without giving up any of the first, and
so on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
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
    weights: FloatArray
    aim: Aim
    enough: float = 0.0

    def score(self, counts: NDArray[np.int64]) -> float:
        """Say how badly a choice does; less is better.

        Parameters
        ----------
        counts : numpy.ndarray
            Pieces of each candidate, int64 (K).

        Returns
        -------
        float
            What is missing, the amount, or minus the amount.
        """
        amount = float(self.weights @ counts)
        if self.aim == "at least":
            return max(self.enough - amount, 0.0)
        return -amount if self.aim == "most" else amount


@dataclass(frozen=True, slots=True, eq=False)
class Limit:
    """What a choice may not exceed.

    Attributes
    ----------
    name : str
        E.g. ``budget``.
    weights : numpy.ndarray
        What one piece of each candidate takes, float64 (K), none negative.
    most : float
        All that there is.
    """

    name: str
    weights: FloatArray
    most: float


def best(
    upper: NDArray[np.int64], limits: Sequence[Limit], goals: Sequence[Goal]
) -> NDArray[np.int64]:
    """Choose how many of each candidate to take.

    Parameters
    ----------
    upper : numpy.ndarray
        Most pieces of each candidate, int64 (K).
    limits : sequence of Limit
        All are kept; taking nothing must be allowed.
    goals : sequence of Goal
        Most important first.

    Returns
    -------
    numpy.ndarray
        Pieces, int64 (K): no other choice within the limits does better in the first goal in which
        it differs. Among equals the solver's first, the same on every run.

    Raises
    ------
    ValueError
        When the limits forbid taking nothing.
    RuntimeError
        When the solver gives up.
    """
    if any(limit.most < 0 for limit in limits):
        msg = "`limits` must all be 0 or more"
        raise ValueError(msg)
    rows = [_Row(limit.weights, -np.inf, limit.most) for limit in limits]
    first = list(takewhile(lambda goal: goal.aim == "at least", goals))
    targets = [_clipped(goal) for goal in first]
    whole = _solve(np.zeros(upper.size), upper, [*rows, *targets])
    counts = np.zeros(upper.size, dtype=np.int64)
    if whole is not None:  # all that is asked for first can be had together
        rows += targets
        goals = goals[len(first) :]
        counts = whole
    for goal in goals:
        found = _step(goal, upper, rows)
        if found is None:
            msg = f"the solver found no answer for {goal.name!r} within the limits"
            raise RuntimeError(msg)
        counts = found
        rows.append(_held(goal, counts))
    return counts


@dataclass(frozen=True, slots=True, eq=False)
class _Row:
    """A linear constraint."""

    weights: FloatArray
    low: float
    high: float


def _clipped(goal: Goal) -> _Row:
    """Ask for all that a goal wants, in shares of it; a piece never counts for more than all."""
    if goal.enough <= 0.0:
        return _Row(np.zeros(goal.weights.size), -np.inf, np.inf)
    return _Row(np.minimum(goal.weights / goal.enough, 1.0), 1.0 - SLACK, np.inf)


def _held(goal: Goal, counts: NDArray[np.int64]) -> _Row:
    """Keep what has been reached."""
    reached = float(goal.weights @ counts)
    slack = SLACK * max(1.0, float(np.abs(goal.weights).max(initial=0.0)))
    if goal.aim == "least":
        return _Row(goal.weights, -np.inf, reached + slack)
    if goal.aim == "most":
        return _Row(goal.weights, reached - slack, np.inf)
    if reached >= goal.enough:
        return _clipped(goal)
    return _Row(goal.weights / goal.enough, reached / goal.enough - SLACK, np.inf)


def _step(goal: Goal, upper: NDArray[np.int64], rows: Sequence[_Row]) -> NDArray[np.int64] | None:
    """Do best in one goal."""
    if goal.aim == "least":
        return _solve(goal.weights, upper, rows)
    if goal.aim == "most":
        return _solve(-goal.weights, upper, rows)
    if goal.enough <= 0.0:
        return _solve(np.zeros(upper.size), upper, rows)
    share = np.minimum(goal.weights / goal.enough, 1.0)
    return _solve(np.zeros(upper.size), upper, rows, target=share)


def _solve(
    cost: FloatArray,
    upper: NDArray[np.int64],
    rows: Sequence[_Row],
    *,
    target: FloatArray | None = None,
) -> NDArray[np.int64] | None:
    """Solve one programme; with a target, what it lacks to 1 is all that costs."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - slow to import

    size = upper.size
    weights = np.array([[*row.weights, 0.0] for row in rows]).reshape(len(rows), size + 1)
    low = [row.low for row in rows]
    high = [row.high for row in rows]
    if target is not None:
        weights = np.vstack([weights, [*target, 1.0]])
        low, high = [*low, 1.0], [*high, np.inf]
    spare = float(target is not None)
    constraints = [LinearConstraint(weights, low, high)] if low else []
    found = milp(
        np.append(cost, spare),
        integrality=np.append(np.ones(size), 0.0),
        bounds=Bounds(np.zeros(size + 1), np.append(upper, spare)),
        constraints=constraints,
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None:
        return None
    return np.rint(found.x[:size]).astype(np.int64)
