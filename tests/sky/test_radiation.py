"""Clear-sky and clouded radiation against pvlib and the published cloud law."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pvlib.clearsky import haurwitz

from simulator.sky.sun import solar_w_m2


def test_a_clear_sky_equals_pvlibs_haurwitz() -> None:
    heights = np.linspace(-20.0, 90.0, 221)
    expected = haurwitz(pd.Series(90.0 - heights))["ghi"].to_numpy()
    assert solar_w_m2(heights, 0.0) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("oktas", "share"),
    # Kasten & Czeplak 1980: 1 - 0.75 (N/8)^3.4; overcast leaves a quarter, half cover 93 %.
    [(0, 1.0), (4, 0.9290), (6, 0.7180), (8, 0.25)],
)
def test_cloud_takes_its_published_share(oktas: int, share: float) -> None:
    clear = float(solar_w_m2(40.0, 0.0))
    assert float(solar_w_m2(40.0, oktas * 12.5)) / clear == pytest.approx(share, abs=5e-5)


def test_more_cloud_and_a_lower_sun_never_give_more() -> None:
    heights, cloud = np.meshgrid(np.linspace(-90, 90, 181), np.linspace(0, 100, 51))
    values = solar_w_m2(heights, cloud)
    assert np.all(np.diff(values, axis=0) <= 0)
    assert np.all(np.diff(values, axis=1) >= 0)
    assert np.all(values >= 0)


def test_unknown_stays_unknown_and_impossible_is_refused() -> None:
    assert np.isnan(solar_w_m2(np.array([np.nan, 10.0]), np.array([10.0, np.nan]))).all()
    with pytest.raises(ValueError, match="cloud_pct 0 to 100"):
        solar_w_m2(10.0, 120.0)
    with pytest.raises(ValueError, match="elevation_deg must be -90 to 90"):
        solar_w_m2(91.0, 0.0)
