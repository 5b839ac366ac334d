"""Chances and quantiles of drawn walks, each with its standard error."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import ndtri

if TYPE_CHECKING:
    from numpy.typing import NDArray

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)
"""Quantiles that are told of every amount."""

SURE = 0.95
"""Share of intervals that hold the true chance."""

FEWEST = 20
"""Amounts of fewer walks than this are told without quantiles."""


def chance_of(happened: NDArray[np.bool_]) -> dict[str, float]:
    """Give the share of walks in which something happened.

    Parameters
    ----------
    happened : (n,) bool
        By walk; n at least 1.

    Returns
    -------
    dict
        ``chance``, ``standard_error`` (binomial) and ``low``, ``high``: the 95 % interval of
        Wilson 1927, which is honest where nothing or everything happened.
    """
    n = happened.size
    share = float(happened.mean())
    z = float(ndtri(0.5 + SURE / 2.0))
    middle = (share + z**2 / (2.0 * n)) / (1.0 + z**2 / n)
    reach = z / (1.0 + z**2 / n) * np.sqrt(share * (1.0 - share) / n + z**2 / (4.0 * n**2))
    return {
        "chance": share,
        "standard_error": float(np.sqrt(share * (1.0 - share) / n)),
        "low": max(float(middle - reach), 0.0) if share > 0.0 else 0.0,
        "high": min(float(middle + reach), 1.0) if share < 1.0 else 1.0,
    }


def amount_of(values: NDArray[np.float64]) -> dict[str, Any]:
    """Give mean and quantiles of an amount.

    Parameters
    ----------
    values : (n,) float64
        By walk; NaN and infinite ones are left out.

    Returns
    -------
    dict
        ``walks`` counted, ``mean``, its ``standard_error``, and ``quantiles`` by their share with
        the standard error of each, found from its neighbours in rank; None where too few.
    """
    known = np.sort(values[np.isfinite(values)])
    n = known.size
    if n < FEWEST:
        return {"walks": int(n), "mean": None, "standard_error": None, "quantiles": None}
    rows = {}
    for share in QUANTILES:
        reach = np.sqrt(share * (1.0 - share) / n)
        low, middle, high = np.quantile(known, np.clip([share - reach, share, share + reach], 0, 1))
        rows[f"{share:g}"] = {"value": float(middle), "standard_error": float(high - low) / 2.0}
    return {
        "walks": int(n),
        "mean": float(known.mean()),
        "standard_error": float(known.std(ddof=1) / np.sqrt(n)),
        "quantiles": rows,
    }


def bands_of(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the quantiles of each row, leaving out who is home.

    Parameters
    ----------
    values : (H, n) float64
        NaN after arrival.

    Returns
    -------
    (H, 5) float64
        ``QUANTILES``; NaN where fewer than ``FEWEST`` are left.
    """
    bands = np.full((values.shape[0], len(QUANTILES)), np.nan)
    for row, column in enumerate(values):
        known = column[np.isfinite(column)]
        if known.size >= FEWEST:
            bands[row] = np.quantile(known, QUANTILES)
    return bands
