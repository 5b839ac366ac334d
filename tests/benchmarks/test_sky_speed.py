"""The sun over a year of ten-minute steps, against pvlib and astral."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import astral
import astral.sun
import numpy as np
import pandas as pd
import pytest
from pvlib.solarposition import spa_python

from simulator.sky.sun import elevation_series

pytestmark = [pytest.mark.benchmark, pytest.mark.slow]

LAT, LON = 46.1, -64.7


def best_of(times: int, work: Callable[[], Any]) -> tuple[float, Any]:
    """Run `work` several times; give the shortest time [s] and the last answer."""
    spent = []
    answer = None
    for _ in range(times):
        start = time.perf_counter()
        answer = work()
        spent.append(time.perf_counter() - start)
    return min(spent), answer


def test_a_year_of_sun_heights_is_a_fraction_of_pvlibs_time() -> None:
    moments = pd.date_range("2025-01-01", periods=366 * 144, freq="10min", tz="UTC")
    epoch_s = moments.as_unit("ns").asi8 / 1e9
    ours_s, ours = best_of(7, lambda: elevation_series(LAT, LON, epoch_s))
    theirs_s, theirs = best_of(3, lambda: spa_python(moments, LAT, LON, delta_t=69.0))
    some = moments[::50]
    observer = astral.Observer(LAT, LON, 0.0)
    loop_s, loop = best_of(
        1,
        lambda: [astral.sun.elevation(observer, one, with_refraction=False) for one in some],
    )
    assert np.abs(ours - theirs["elevation"].to_numpy()).max() < 0.001
    # astral follows the NOAA spreadsheet, good to about 0.02 degree.
    assert np.abs(ours[::50] - np.array(loop)).max() < 0.03
    loop_s *= len(moments) / len(some)
    print(f"\n{len(moments)} sun heights    seconds   times ours")  # noqa: T201 - the report
    for name, spent in (
        ("this project", ours_s),
        ("pvlib spa_python", theirs_s),
        ("astral, one by one", loop_s),
    ):
        print(f"  {name:<22} {spent:8.4f} {spent / ours_s:8.1f}")  # noqa: T201
