"""A person's own pace from one recorded walk: how fast on the level, and how much slower on slopes.

The speed of each piece of the walk is compared with a published model at the same slope. The
logarithm of their ratio is a straight line in the logarithm of the model's own slowing: its height
is the pace on the level, its steepness how strongly this person answers to slopes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.arrays import Floats
from simulator.body.limits import floats, one_of, possible
from simulator.body.pace import SPEEDS

STOPPED_SHARE: Final = 0.5
"""A piece slower than this share of the walker's usual pace on its slope holds a stop; an
assumption, 0.4 to 0.6: slopes are allowed for, so that who keeps walking is not halved."""

FASTEST_SHARE: Final = 2.0
"""A piece faster than this over the usual pace is an error of the positions; an assumption, 1.5 to
3."""

HUBER: Final = 1.345
"""Residuals beyond this many standard deviations weigh less: 95 % of the efficiency of least
squares where the errors are normal (Huber 1964, Ann Math Stat 35:73-101; from memory)."""

MAD_TO_SD: Final = 1.4826
"""Standard deviation over the median absolute deviation of the normal distribution."""

RESPONSE_SPREAD: Final = 0.3
"""How far people's answer to slopes is expected from the model's [standard deviation]; an
assumption, 0.2 to 0.5: the published models differ from their median by as much. A walk without
slopes says nothing against it."""

RESPONSES: Final = (0.4, 2.5)
"""Answers to slope that are believed; an assumption: beyond it the heights are wrong."""

ROUNDS, SETTLED = 30, 1e-6
"""Most rounds of the robust fit, and the change at which it has settled."""

LEAST_PIECES: Final = 20
"""Fewer pieces make no fit; an assumption, 20 to 40: a kilometre or two."""

FITTED_SLOPES: Final = (-0.30, 0.30)
"""Slopes that are compared: where at least four of the published models reach."""


@dataclass(frozen=True, slots=True)
class OwnPace:
    """What a recorded walk says of its walker.

    Attributes
    ----------
    factor : float
        Own speed on the level over the model's.
    slope_response : float
        How much more a slope slows than by the model, in the exponent: 1 as the model, 2 twice.
    covariance : (2, 2) float64
        Of the logarithm of the factor, and of the response.
    pieces, stopped : int
        Pieces that the fit uses, and those left out for a stop.
    """

    factor: float
    slope_response: float
    covariance: NDArray[np.float64]
    pieces: int
    stopped: int

    def interval(self, bend: float = 0.0) -> tuple[float, float]:
        """Give the range of the pace over the fitted one in which it lies 19 times of 20.

        Parameters
        ----------
        bend : float
            Where: logarithm of the model's speed over its speed on the level, 0 on the level.

        Returns
        -------
        (float, float)
            Shares of the fitted pace.
        """
        reach = 1.96 * self.standard_error(bend)
        return math.exp(-reach), math.exp(reach)

    def standard_error(self, bend: float = 0.0) -> float:
        """Give the standard error of the logarithm of the pace where the model slows by `bend`.

        Parameters
        ----------
        bend : float
            Logarithm of the model's speed over its speed on the level.

        Returns
        -------
        float
            Standard error.
        """
        at = np.array([1.0, bend])
        return math.sqrt(float(at @ self.covariance @ at))


def slope_bend(slope: ArrayLike, *, model: str) -> Floats:
    """Give the logarithm of a model's speed on a slope over its speed on the level.

    Parameters
    ----------
    slope : array_like
        Rise over run.
    model : str
        Key of `SPEEDS`.

    Returns
    -------
    ndarray
        0 on the level, negative where it is slower; NaN where the model does not reach.
    """
    speed = SPEEDS[one_of("model", model, SPEEDS)]
    bend: Floats = np.log(speed(slope)) - np.log(speed(0.0))
    return bend


def fit_own_pace(
    length_m: ArrayLike, time_s: ArrayLike, slope: ArrayLike, *, model: str = "middle"
) -> OwnPace | None:
    """Fit a person's own pace to the pieces of one walk, by robust least squares.

    Pieces that hold a stop are left out. Neighbouring pieces are alike (mood, surface), so that the
    errors are widened by the correlation that the residuals show.

    Parameters
    ----------
    length_m, time_s : array_like
        Of each piece, in the order walked [m], [s].
    slope : array_like
        Rise over run of each piece.
    model : str
        Key of `SPEEDS`.

    Returns
    -------
    OwnPace or None
        None where too few pieces are left.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.
    """
    length, time = possible("distance_m", length_m), possible("time_s", time_s)
    walked = floats(slope)
    low, high = FITTED_SLOPES
    bend = np.where((walked >= low) & (walked <= high), slope_bend(walked, model=model), np.nan)
    level = float(SPEEDS[model](0.0))
    ratio = np.log(length / time) - math.log(level) - bend
    known = np.isfinite(ratio)
    if int(known.sum()) < LEAST_PIECES:
        return None
    away = ratio - float(np.median(ratio[known]))
    stopped = known & (away < math.log(STOPPED_SHARE))
    used = known & ~stopped & (away < math.log(FASTEST_SHARE))
    if int(used.sum()) < LEAST_PIECES:
        return None
    return _fitted(ratio[used], bend[used], stopped=int(stopped.sum()))


def _fitted(ratio: Floats, bend: Floats, *, stopped: int) -> OwnPace:
    columns = np.column_stack([np.ones(ratio.size), bend])
    prior = np.diag([0.0, 1.0 / RESPONSE_SPREAD**2])
    found, weight = np.array([float(np.median(ratio)), 0.0]), np.ones(ratio.size)
    for _ in range(ROUNDS):
        residual = ratio - columns @ found
        spread = max(MAD_TO_SD * float(np.median(np.abs(residual))), 1e-6)
        weight = np.minimum(1.0, HUBER * spread / np.maximum(np.abs(residual), 1e-12))
        variance = spread**2 * _widened(correlation_inflation(residual), ratio.size)
        precision = columns.T @ (weight[:, None] * columns) / variance + prior
        before, found = found, np.linalg.solve(precision, columns.T @ (weight * ratio) / variance)
        if np.abs(found - before).max() < SETTLED:
            break
    response = float(np.clip(1.0 + found[1], *RESPONSES))
    return OwnPace(
        factor=math.exp(float(found[0])),
        slope_response=response,
        covariance=np.linalg.inv(precision),
        pieces=int(ratio.size),
        stopped=stopped,
    )


def _widened(inflation: float, count: int) -> float:
    """Widen further for how few independent pieces there are, as Student's distribution does."""
    independent = max(count / inflation, 4.0)
    return inflation * independent / (independent - 2.0)


def correlation_inflation(residual: Floats) -> float:
    """Give by how much neighbours that are alike widen the variance of a mean.

    One and twice the sum of the correlations at growing distance, as long as they stay clear of
    zero (initial sequence of Geyer 1992, Stat Sci 7:473-483; from memory).

    Parameters
    ----------
    residual : ndarray
        In the order walked.

    Returns
    -------
    float
        At least 1.
    """
    centred = residual - residual.mean()
    total, count = float(centred @ centred), centred.size
    if total <= 0.0:
        return 1.0
    inflation = 1.0
    for lag in range(1, count // 4):
        alike = float(centred[:-lag] @ centred[lag:]) / total
        if alike < 1.0 / math.sqrt(count):
            break
        inflation += 2.0 * alike
    return inflation
