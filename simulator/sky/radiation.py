"""The sun's radiation on the ground, for the heat it puts on a walker."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["solar_w_m2"]

FloatArray = npt.NDArray[np.float64]

HAURWITZ_W_M2: Final = 1098.0
HAURWITZ_DECAY: Final = 0.059
"""Clear-sky coefficients of Haurwitz 1945 (J. Meteorology 2:154-166), as given by Reno, Hansen &
Stein 2012 (SAND2012-2389)."""

KASTEN_CZEPLAK_SHARE: Final = 0.75
KASTEN_CZEPLAK_POWER: Final = 3.4
"""Cloud reduction 1 - 0.75 (N/8)^3.4 of Kasten & Czeplak 1980 (Solar Energy 24:177-189), from
memory."""


def solar_w_m2(elevation_deg: npt.ArrayLike, cloud_pct: npt.ArrayLike) -> FloatArray:
    """Estimate the sun's radiation on level ground under cloud.

    Parameters
    ----------
    elevation_deg : array_like
        Height of the sun [deg].
    cloud_pct : array_like
        Share of the sky covered by cloud [%], 0 to 100.

    Returns
    -------
    numpy.ndarray
        Global horizontal irradiance [W/m2]; 0 with the sun at or below the horizon, NaN where an
        input is NaN.

    Raises
    ------
    ValueError
        If a height is outside -90 to 90 degrees or a cloud cover outside 0 to 100 %.

    Notes
    -----
    Clear sky after Haurwitz 1945, cloud after Kasten & Czeplak 1980 (fitted at Hamburg to hourly
    means). Single hours differ by a third or more: use it for a heat load, not for a yield.
    """
    height = np.asarray(elevation_deg, dtype=np.float64)
    cloud = np.asarray(cloud_pct, dtype=np.float64)
    if np.any(np.abs(height) > 90) or np.any((cloud < 0) | (cloud > 100)):  # noqa: PLR2004
        msg = "elevation_deg must be -90 to 90 and cloud_pct 0 to 100"
        raise ValueError(msg)
    sine = np.sin(np.radians(height))
    # The floor keeps the exponent finite; below it the irradiance is 0 to ten digits anyway.
    clear = HAURWITZ_W_M2 * sine * np.exp(-HAURWITZ_DECAY / np.maximum(sine, 1e-3))
    clear = np.where(sine > 0, clear, np.where(np.isnan(sine), np.nan, 0.0))
    shade = 1.0 - KASTEN_CZEPLAK_SHARE * (cloud / 100.0) ** KASTEN_CZEPLAK_POWER
    return np.asarray(clear * shade, dtype=np.float64)
