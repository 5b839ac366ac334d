"""What decides an outcome: first-order and total indices of Sobol, by SALib.

The first-order index of a thing is the share of an outcome's variance that goes away when that
thing alone is known; the total index is the share that stays while all but that thing is known, its
interplay with the others included. Sampling by Saltelli et al. 2010, estimator as in SALib.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.units import percent

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

LITTLE = 0.01
"""Variance below this share of the squared mean, or in absolute terms, is called none."""

WORTH_NAMING = 0.05
"""Total index from which a thing is named in words."""


@dataclass(frozen=True, slots=True)
class Ranking:
    """What decides one outcome.

    Attributes
    ----------
    outcome : str
        In words.
    names : tuple of str
        Things, the one that decides most first.
    first, total : (D,) float64
        First-order and total index of each; NaN where the outcome does not vary.
    first_error, total_error : (D,) float64
        Half the 95 % interval of each, by resampling.
    walks : int
        How many walks it took.
    """

    outcome: str
    names: tuple[str, ...]
    first: NDArray[np.float64]
    total: NDArray[np.float64]
    first_error: NDArray[np.float64]
    total_error: NDArray[np.float64]
    walks: int

    def words(self) -> str:
        """Say in one sentence what decides."""
        if not np.isfinite(self.total).any():
            return f"{_capital(self.outcome)} hardly varies."
        named = [
            f"{name} ({percent(share)})"
            for name, share in zip(self.names, self.total.tolist(), strict=True)
            if share >= WORTH_NAMING
        ]
        alone = float(np.clip(self.first, 0.0, 1.0).sum())
        told = f"{_capital(self.outcome)} is decided by {', '.join(named) or 'nothing much'}"
        single = percent(min(alone, 1.0))
        return f"{told}; single things explain {single}, the rest is their interplay."

    def told(self) -> dict[str, Any]:
        """Give the ranking as JSON has it."""
        return {
            "outcome": self.outcome,
            "walks": self.walks,
            "words": self.words(),
            "things": [
                {
                    "name": name,
                    "first_order": _number(self.first[row]),
                    "first_order_error": _number(self.first_error[row]),
                    "total": _number(self.total[row]),
                    "total_error": _number(self.total_error[row]),
                }
                for row, name in enumerate(self.names)
            ],
        }


def rank(
    outcomes: Callable[[NDArray[np.float64]], Mapping[str, NDArray[np.float64]]],
    names: Sequence[str],
    *,
    base: int,
    seed: int,
) -> tuple[Ranking, ...]:
    """Rank things by how much of each outcome they decide.

    Parameters
    ----------
    outcomes : callable
        Gives every outcome, shape (n,), for even numbers between 0 and 1, shape (n, D). Rows come
        in groups of D + 2 that belong to one base sample.
    names : sequence of str
        The D things.
    base : int
        Base samples, a power of two; ``base`` times (D + 2) walks are made.
    seed : int
        Scrambles the sequence and resamples.

    Returns
    -------
    tuple of Ranking
        One for each outcome.
    """
    from SALib.analyze import sobol as analysis  # noqa: PLC0415 - a second, and only here
    from SALib.sample import sobol as sampling  # noqa: PLC0415

    problem = {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}
    sample = sampling.sample(problem, base, calc_second_order=False, seed=seed)
    rankings = []
    for outcome, values in outcomes(np.asarray(sample)).items():
        spread = float(np.std(values))
        if spread <= LITTLE * max(abs(float(np.mean(values))), LITTLE):
            nothing = np.full(len(names), np.nan)
            rankings.append(
                Ranking(outcome, tuple(names), nothing, nothing, nothing, nothing, values.size)
            )
            continue
        found = analysis.analyze(problem, values, calc_second_order=False, seed=seed)
        order = np.argsort(-np.asarray(found["ST"]), kind="stable")
        rankings.append(
            Ranking(
                outcome=outcome,
                names=tuple(names[row] for row in order.tolist()),
                first=np.asarray(found["S1"])[order],
                total=np.asarray(found["ST"])[order],
                first_error=np.asarray(found["S1_conf"])[order],
                total_error=np.asarray(found["ST_conf"])[order],
                walks=values.size,
            )
        )
    return tuple(rankings)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
