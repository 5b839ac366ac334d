"""What is asked about stops, checked: shapes, order, ranges."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.route.bottle import Rules, Treatment


def checked(
    need_ml: ArrayLike,
    stop_s: ArrayLike,
    needs_treatment: ArrayLike | None,
    *,
    end_need_ml: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]]:
    """Give the three arrays of a way, or say what is wrong with them.

    Parameters
    ----------
    need_ml, stop_s, needs_treatment, end_need_ml
        As for `plan_stops`.

    Returns
    -------
    tuple of ndarray
        Needs [mL], times [s], whether treatment is needed; each of shape (K,).

    Raises
    ------
    ValueError
        If an array has the wrong shape, needs fall along the way, or a time is negative.
    """
    need = np.asarray(need_ml, dtype=np.float64)
    cost = np.asarray(stop_s, dtype=np.float64)
    treated = np.zeros(need.shape, dtype=np.bool_)
    if needs_treatment is not None:
        treated = np.asarray(needs_treatment, dtype=np.bool_)
    if need.ndim != 1 or cost.shape != need.shape or treated.shape != need.shape:
        msg = (
            "need_ml, stop_s and needs_treatment must be one-dimensional and equally long: "
            f"{need.shape}, {cost.shape}, {treated.shape}"
        )
        raise ValueError(msg)
    along = np.concatenate(([0.0], need, [end_need_ml]))
    if not (np.isfinite(along).all() and (np.diff(along) >= 0).all()):
        msg = f"need_ml must start at 0 or more and never fall up to end_need_ml: {along.tolist()}"
        raise ValueError(msg)
    if np.isnan(cost).any() or (cost < 0).any():
        msg = f"stop_s must be 0 or more, infinite where no stop is possible: {cost.tolist()}"
        raise ValueError(msg)
    return need, cost, treated


def checked_more(
    amount_ml: ArrayLike | None, need: NDArray[np.float64], missing: float, name: str
) -> NDArray[np.float64]:
    """Give one more amount for each place, or say what is wrong with it.

    Parameters
    ----------
    amount_ml : array_like or None
        Not negative [mL].
    need : ndarray of float, shape (K,)
        Checked needs [mL].
    missing : float
        What stands for all when nothing is given.
    name : str
        For the message.

    Returns
    -------
    ndarray of float, shape (K,)
        The amounts [mL].

    Raises
    ------
    ValueError
        If it is not as long as `need`, or somewhere below 0.
    """
    if amount_ml is None:
        return np.full(need.shape, missing)
    amount = np.asarray(amount_ml, dtype=np.float64)
    if amount.shape != need.shape or not (amount >= 0).all():
        msg = f"{name} must be as long as need_ml and nowhere below 0"
        raise ValueError(msg)
    return amount


def checked_rules(
    start_ml: float,
    capacity_ml: float,
    treatments: Sequence[Treatment],
    *,
    drink_ahead_ml: float,
    one_bottle: bool,
) -> Rules:
    """Give the rules of every stop, or say what is wrong with them.

    Parameters
    ----------
    start_ml, capacity_ml, treatments, drink_ahead_ml, one_bottle
        As for `plan_stops`.

    Returns
    -------
    Rules
        Checked.

    Raises
    ------
    ValueError
        If an amount or a time is negative, or more is carried than the bottles hold.
    """
    if not 0 <= start_ml <= capacity_ml < float("inf"):
        msg = f"start_ml must be 0 to capacity_ml: {start_ml!r} of {capacity_ml!r}"
        raise ValueError(msg)
    if not 0 <= drink_ahead_ml < float("inf"):
        msg = f"drink_ahead_ml must be 0 or more: {drink_ahead_ml!r}"
        raise ValueError(msg)
    if not all(amount >= 0 for treatment in treatments for amount in treatment):
        msg = f"amounts and times of treatments must be 0 or more: {list(treatments)!r}"
        raise ValueError(msg)
    doses = tuple(treatment.dose_ml for treatment in treatments)
    return Rules(capacity_ml, drink_ahead_ml, one_bottle, doses)
