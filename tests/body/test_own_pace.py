"""An own pace fitted to a recorded walk gives back what it was walked with, within what it says."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from simulator.body.own_pace import (
    LEAST_PIECES,
    RESPONSE_SPREAD,
    OwnPace,
    correlation_inflation,
    fit_own_pace,
    slope_bend,
)
from simulator.body.pace import SPEEDS

FACTOR, RESPONSE, PIECE_M = 0.87, 1.25, 50.0


def noise(rng: np.random.Generator, count: int, likeness: float) -> NDArray[np.float64]:
    """Give errors of which neighbours are alike: a first-order autoregression of variance 1."""
    fresh = rng.normal(size=count)
    fresh[1:] *= np.sqrt(1.0 - likeness**2)
    made: NDArray[np.float64] = lfilter([1.0], [1.0, -likeness], fresh)
    return made


def walked(
    seed: int,
    *,
    count: int = 120,
    likeness: float = 0.5,
    spread: float = 0.1,
    hilly: bool = True,
    model: str = "middle",
) -> OwnPace | None:
    """Fit a walk made by the model itself, with errors of pace and some stops."""
    rng = np.random.default_rng(seed)
    hills = 0.12 * np.sin(6.0 * np.pi * np.arange(count) / count)
    slope = hills + rng.normal(0.0, 0.02, count) if hilly else rng.normal(0.0, 0.003, count)
    bend = slope_bend(slope, model=model)
    own = FACTOR * np.exp((RESPONSE if hilly else 1.0) * bend)
    speed = float(SPEEDS[model](0.0)) * own * np.exp(spread * noise(rng, count, likeness))
    time_s = PIECE_M / speed
    stops = rng.random(count) < 0.03
    time_s[stops] += rng.uniform(60.0, 600.0, int(stops.sum()))
    return fit_own_pace(np.full(count, PIECE_M), time_s, slope, model=model)


def fits(walks: int, **kinds: object) -> list[OwnPace]:
    found = [walked(seed, **kinds) for seed in range(walks)]  # type: ignore[arg-type]  # keywords of walked
    return [one for one in found if one is not None]


@pytest.mark.parametrize("model", ["middle", "tobler_1993", "irmischer_clarke_2018"])
def test_a_walk_without_errors_gives_back_factor_and_response(model: str) -> None:
    found = walked(1, spread=1e-6, model=model)
    assert found is not None
    assert found.factor == pytest.approx(FACTOR, rel=1e-3)
    assert found.slope_response == pytest.approx(RESPONSE, rel=1e-3)


@pytest.mark.parametrize(
    ("kinds", "least"),
    [
        # 19 of 20 are meant; 200 walks leave 0.03 of chance (twice the binomial's deviation).
        ({"likeness": 0.0}, 0.92),
        ({"likeness": 0.5}, 0.90),
        ({"likeness": 0.5, "hilly": False}, 0.90),
        ({"likeness": 0.8, "count": 300}, 0.90),
        # 2 km of which neighbours are very much alike tell little of their own error.
        ({"likeness": 0.8, "count": 40}, 0.82),
    ],
)
def test_the_interval_holds_the_true_factor_about_as_often_as_it_says(
    kinds: dict[str, object], least: float
) -> None:
    found = fits(200, **kinds)
    low, high = np.array([one.interval() for one in found]).T * [[one.factor for one in found]]
    assert np.mean((low <= FACTOR) & (high >= FACTOR)) >= least
    # Nor so wide that it says nothing.
    assert np.median(high / low) < 1.2


def test_the_response_lies_within_its_error_about_as_often_as_it_says() -> None:
    found = fits(200)
    error = np.array([one.slope_response - RESPONSE for one in found])
    reach = 1.96 * np.sqrt([one.covariance[1, 1] for one in found])
    assert 0.90 <= np.mean(np.abs(error) < reach) <= 0.995


def test_the_errors_stated_are_those_that_happen() -> None:
    found = fits(200, likeness=0.5)
    happens = float(np.std([np.log(one.factor) for one in found]))
    stated = float(np.mean([one.standard_error() for one in found]))
    assert stated == pytest.approx(happens, rel=0.15)  # 200 walks know a deviation to 5 %


def test_a_flat_walk_leaves_the_answer_to_slopes_as_unsure_as_before() -> None:
    found = fits(20, hilly=False)
    assert all(abs(one.slope_response - 1.0) < 0.2 for one in found)
    assert min(float(np.sqrt(one.covariance[1, 1])) for one in found) > 0.9 * RESPONSE_SPREAD
    assert all(one.standard_error(-0.3) > one.standard_error() for one in found)


def test_stops_and_leaps_change_nothing() -> None:
    rng = np.random.default_rng(3)
    slope = rng.uniform(-0.1, 0.1, 100)
    time_s = PIECE_M / (0.9 * SPEEDS["middle"](slope) * np.exp(0.05 * rng.normal(size=100)))
    length = np.full(100, PIECE_M)
    plain = fit_own_pace(length, time_s, slope)
    held = time_s.copy()
    held[::10] += 900.0
    stopped = fit_own_pace(length, held, slope)
    assert plain is not None
    assert stopped is not None
    assert stopped.stopped == 10
    assert stopped.factor == pytest.approx(plain.factor, rel=0.01)


def test_likeness_of_neighbours_widens_as_the_textbook_says() -> None:
    # Variance of a mean of a first-order autoregression over that of independent errors, many of
    # them: (1 + r) / (1 - r); Box, Jenkins and Reinsel, Time Series Analysis; from memory.
    for likeness in (0.0, 0.5, 0.8):
        rng = np.random.default_rng(11)
        found = [correlation_inflation(noise(rng, 4000, likeness)) for _ in range(20)]
        assert np.mean(found) == pytest.approx((1.0 + likeness) / (1.0 - likeness), rel=0.12)


def test_too_few_pieces_make_no_fit() -> None:
    few = LEAST_PIECES - 1
    assert fit_own_pace(np.full(few, 50.0), np.full(few, 40.0), np.zeros(few)) is None
    steep = np.full(100, 0.5)
    assert fit_own_pace(np.full(100, 50.0), np.full(100, 40.0), steep) is None
