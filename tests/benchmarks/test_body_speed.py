"""Time of the body models over fifteen million walker-segments, against numpy's exponential."""

from __future__ import annotations

import os
import time
import tracemalloc
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from simulator.arrays import in_chunks
from simulator.body import energy, exposure, pace, water

Floats = NDArray[np.float64]

SEGMENTS = 15_000_000
ROUNDS = 3
WORKING_MEMORY_MB = 200


def _water_total(*columns: Floats) -> Floats:
    metabolic, area, air, humid, wind, sun, clothing, walk = columns
    loss = water.water_loss_g_h(metabolic, area, air, humid, wind, sun, clothing, walk_m_s=walk)
    return loss.total_g_h


def _cases(length: int) -> dict[str, tuple[Callable[..., Floats], tuple[object, ...]]]:
    rng = np.random.default_rng(20250501)
    slope = rng.uniform(-0.14, 0.24, length)
    mass = rng.uniform(50, 100, length)
    load = rng.uniform(0, 10, length)
    speed = rng.uniform(0.8, 1.6, length)
    air = rng.uniform(-10, 38, length)
    humid = rng.uniform(20, 80, length)
    wind = rng.uniform(0, 8, length)
    watts = mass * 4.0
    return {
        "tobler_1993": (pace.tobler_speed_m_s, (slope,)),
        "irmischer_clarke_2018": (pace.irmischer_clarke_2018_speed_m_s, (slope,)),
        "campbell_2019": (pace.campbell_2019_speed_m_s, (slope,)),
        "campbell_2022": (pace.campbell_2022_speed_m_s, (slope,)),
        "naismith_1892": (pace.naismith_1892_speed_m_s, (np.maximum(slope, -0.1),)),
        "load_factor": (pace.load_factor, (mass, load)),
        "fatigue_factor": (pace.fatigue_factor, (speed,)),
        "lcda_w_kg": (energy.lcda_w_kg, (speed, slope)),
        "walking_w": (energy.walking_w, (mass, load, speed, slope)),
        "pandolf_w": (energy.pandolf_w, (mass, load, speed, slope)),
        "minetti_walk_j_kg_m": (energy.minetti_walk_j_kg_m, (slope,)),
        "standing_w": (energy.standing_w, (mass,)),
        "sweat_g_m2_h": (water.sweat_g_m2_h, (watts, 10.0 * humid)),
        "respiratory_g_h": (water.respiratory_g_h, (watts, air, humid)),
        "water, one weather": (_water_total, (watts, 1.9, 12.0, 60.0, 3.0, 0.0, 0.9, 1.3)),
        "water, all vary": (_water_total, (watts, 1.9, air, humid, wind, 0.0, 0.9, speed)),
        "wind_chill_c": (exposure.wind_chill_c, (np.minimum(air, 10), wind * 3.6 + 5)),
        "heat_index_c": (exposure.heat_index_c, (air, humid)),
        "felt_c": (exposure.felt_c, (air, humid, wind)),
    }


def _best_s(*runs: Callable[[], object]) -> list[float]:
    """Give the least processor time of each, in turns, so that a busy machine matters little."""
    best = [float("inf")] * len(runs)
    for _ in range(ROUNDS):
        for index, run in enumerate(runs):
            began = time.thread_time()
            run()
            best[index] = min(best[index], time.thread_time() - began)
    return best


@pytest.mark.benchmark
@pytest.mark.slow
def test_body_models_over_fifteen_million_walker_segments() -> None:
    cases = _cases(SEGMENTS)
    slope = cases["tobler_1993"][1][0]
    assert isinstance(slope, np.ndarray)
    title = f"times numpy.exp over {SEGMENTS:,}"
    print(f"\n{title}")  # noqa: T201 - the report
    for name, (function, columns) in cases.items():
        unit_s, taken_s = _best_s(
            lambda: np.exp(slope),
            lambda f=function, c=columns: in_chunks(f, *c),  # type: ignore[misc]
        )
        print(f"{name:24s} {taken_s / unit_s:6.1f}")  # noqa: T201 - the report
        head = [c[:1000] if isinstance(c, np.ndarray) else c for c in columns]
        whole = in_chunks(function, *columns)[:1000]  # type: ignore[arg-type]
        np.testing.assert_allclose(whole, function(*head), rtol=1e-12)


@pytest.mark.benchmark
@pytest.mark.slow
def test_pieces_taken_by_several_threads_give_the_same_water() -> None:
    # Not one equation but a heat balance of a dozen: eight exponentials, logarithms and powers an
    # element and some hundred passes. By the wall clock, against one thread's exponential.
    function, columns = _cases(SEGMENTS)["water, all vary"]
    air = columns[2]
    assert isinstance(air, np.ndarray)
    found, taken_s = [], []
    for workers in (1, os.cpu_count() or 1):
        began = time.perf_counter()
        found.append(in_chunks(function, *columns, workers=workers))  # type: ignore[arg-type]
        taken_s.append(time.perf_counter() - began)
    began = time.perf_counter()
    np.exp(air)
    unit_s = time.perf_counter() - began
    one, all_s = (seconds / unit_s for seconds in taken_s)
    print(f"\nwater, all vary, by the wall: one thread {one:.1f}, every core {all_s:.1f}")  # noqa: T201
    np.testing.assert_array_equal(found[0], found[1])


@pytest.mark.benchmark
@pytest.mark.slow
def test_working_memory_stays_small_however_long_the_input() -> None:
    cases = _cases(SEGMENTS)
    function, columns = cases["water, all vary"]
    tracemalloc.start()
    try:
        result = in_chunks(function, *columns)  # type: ignore[arg-type]
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    report = (
        f"peak beyond the inputs {peak / 1e6:.0f} MB, of it {result.nbytes / 1e6:.0f} the result"
    )
    print(f"\n{report}")  # noqa: T201 - the report
    assert peak < WORKING_MEMORY_MB * 1e6
