"""A flat local frame in metres, laid on open sea so that nobody takes the place for a real one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

CENTRE_LAT = 46.0
CENTRE_LON = -30.0

# Length of a degree at 46 degrees north on the WGS84 ellipsoid, from the usual series
# (111132.92 - 559.82 cos 2p + 1.175 cos 4p and 111412.84 cos p - 93.5 cos 3p + 0.118 cos 5p).
M_PER_DEG_LAT = 111151.3
M_PER_DEG_LON = 77463.2


def to_lon_lat(points: Floats) -> Floats:
    """Give lon, lat in degrees for x, y in metres, one row a point."""
    return np.column_stack(
        [CENTRE_LON + points[:, 0] / M_PER_DEG_LON, CENTRE_LAT + points[:, 1] / M_PER_DEG_LAT]
    )


def lat_lon(x_km: float, y_km: float) -> tuple[float, float]:
    """Give lat, lon rounded to five decimals for one point in kilometres."""
    lat = CENTRE_LAT + y_km * 1000.0 / M_PER_DEG_LAT
    lon = CENTRE_LON + x_km * 1000.0 / M_PER_DEG_LON
    return round(lat, 5), round(lon, 5)
