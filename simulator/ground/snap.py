"""The nearest point on a street, mid-segment: exact for one place, and for many at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.errors import InputError

WGS84_A_M = 6378137.0
"""Semi-major axis of the WGS84 ellipsoid [m] (EPSG:7030)."""

WGS84_E2 = 0.0066943799901413165
"""First eccentricity squared of the WGS84 ellipsoid (EPSG:7030, 1/f = 298.257223563)."""

SAMPLE_M = 50.0
"""Distance between the sample points that stand for a segment in the search for many places [m]."""


class Shape(NamedTuple):
    """Geometry of a street network.

    Attributes
    ----------
    lon, lat : (N,) float64
        Nodes [degrees].
    tail, head : (M,) int32
        Ends of the segments.
    source : str
        What this is, for messages.
    """

    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    tail: NDArray[np.int32]
    head: NDArray[np.int32]
    source: str


@dataclass(frozen=True, slots=True)
class Snap:
    """A point on a street.

    Attributes
    ----------
    segment : int
        Row of the segment.
    fraction : float
        Share of the segment from its tail, 0 to 1.
    distance_m : float
        Geodesic distance from the place asked for [m].
    lon, lat : float
        The point on the street [degrees].
    """

    segment: int
    fraction: float
    distance_m: float
    lon: float
    lat: float


@dataclass(frozen=True, slots=True)
class Snaps:
    """Points on streets for K places.

    Attributes
    ----------
    segment : (K,) int32
        Rows of the segments, -1 where none is near enough.
    fraction : (K,) float64
        Share of the segment from its tail; NaN where none is near enough.
    distance_m : (K,) float64
        Distance from the place [m]; infinite where none is near enough.
    """

    segment: NDArray[np.int32]
    fraction: NDArray[np.float64]
    distance_m: NDArray[np.float64]


def metres_per_degree(
    lat: NDArray[np.float64] | float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give the size of a degree on the WGS84 ellipsoid.

    Parameters
    ----------
    lat : array or float
        Latitude [degrees].

    Returns
    -------
    east_m, north_m : array
        Metres per degree of longitude, of latitude: the radii of curvature in the prime vertical
        (times the cosine of latitude) and in the meridian.
    """
    phi = np.radians(lat)
    w2 = 1.0 - WGS84_E2 * np.sin(phi) ** 2
    east = WGS84_A_M / np.sqrt(w2) * np.cos(phi)
    north = WGS84_A_M * (1.0 - WGS84_E2) / w2**1.5
    return np.radians(east), np.radians(north)


def nearest_point(
    shape: Shape, lat: float, lon: float, *, limit_m: float, allowed: NDArray[np.bool_]
) -> Snap:
    """Find the nearest point on an allowed segment.

    Parameters
    ----------
    shape : Shape
        The streets.
    lat, lon : float
        Where [degrees, WGS84].
    limit_m : float
        Farthest the street may lie [m].
    allowed : (M,) bool
        Segments to choose from. Of equally near ones the lowest row is taken.

    Returns
    -------
    Snap
        Point on the street. Nearness is judged in the tangent plane at the place, right to 1 in
        1,000 within some 30 km; the distance given is geodesic.

    Raises
    ------
    InputError
        If nothing allowed lies within ``limit_m``.
    """
    where = f"({lat:.5f}, {lon:.5f})"
    rows = np.flatnonzero(allowed)
    if not rows.size:
        raise InputError(where, "no walkable street to start from on this map")
    fraction, distance_m = _project(shape, rows, lat, lon)
    best = int(np.argmin(distance_m))
    segment, share = int(rows[best]), float(fraction[best])
    found_lon, found_lat = _along(shape, segment, share)
    true_m = _geodesic_m(lon, lat, found_lon, found_lat)
    if not true_m <= limit_m:
        raise InputError(
            where,
            f"the nearest walkable street is {_far(true_m)} away, farther than the limit of "
            f"{_far(limit_m)}; move the point to a street, or use a map that covers it",
        )
    return Snap(segment, share, true_m, found_lon, found_lat)


def nearest_points(
    shape: Shape,
    lat: NDArray[np.float64],
    lon: NDArray[np.float64],
    *,
    limit_m: float,
    allowed: NDArray[np.bool_],
) -> Snaps:
    """Find the nearest point on an allowed segment for each place.

    Every segment is stood for by points at most :data:`SAMPLE_M` apart, so that the nearest
    segment has one within the distance to the nearest point plus half that spacing: a search
    among few candidates is exact.

    Parameters
    ----------
    shape : Shape
        The streets.
    lat, lon : (K,) float64
        Places [degrees, WGS84].
    limit_m : float
        Farthest the street may lie [m].
    allowed : (M,) bool
        Segments to choose from.

    Returns
    -------
    Snaps
        One row a place.
    """
    from scipy.spatial import cKDTree

    lat, lon = np.asarray(lat, np.float64), np.asarray(lon, np.float64)
    rows = np.flatnonzero(allowed)
    result = Snaps(
        np.full(lat.size, -1, np.int32), np.full(lat.size, np.nan), np.full(lat.size, np.inf)
    )
    if not rows.size or not lat.size:
        return result
    owner, sample = _samples(shape, rows)
    tree = cKDTree(sample)
    place = _unit_sphere_m(lon, lat)
    nearest, _ = tree.query(place)
    # The sphere of radius a differs from local ellipsoidal metres by under 1 %.
    reach = 1.02 * np.minimum(nearest, limit_m) + 0.6 * SAMPLE_M
    asked = np.flatnonzero(nearest <= 1.02 * limit_m + 0.6 * SAMPLE_M)
    found = tree.query_ball_point(place[asked], reach[asked], return_sorted=True)
    lengths = np.array([len(one) for one in found], np.int64)
    if not lengths.sum():
        return result
    at = np.repeat(asked, lengths)
    segment = owner[np.concatenate([np.asarray(one, np.int64) for one in found])]
    fraction, distance_m = _project(shape, segment, lat[at], lon[at])
    order = np.lexsort((segment, distance_m, at))
    first = np.ones(order.size, bool)
    first[1:] = at[order[1:]] != at[order[:-1]]
    best = order[first]
    best = best[distance_m[best] <= limit_m]
    result.segment[at[best]] = segment[best]
    result.fraction[at[best]] = fraction[best]
    result.distance_m[at[best]] = distance_m[best]
    return result


def _project(
    shape: Shape,
    rows: NDArray[np.int64],
    lat: NDArray[np.float64] | float,
    lon: NDArray[np.float64] | float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Share along each segment and distance [m], in the tangent plane at each place, or at one."""
    east, north = metres_per_degree(lat)
    tail, head = shape.tail[rows], shape.head[rows]
    x0 = ((shape.lon[tail] - lon + 180.0) % 360.0 - 180.0) * east
    y0 = (shape.lat[tail] - lat) * north
    dx = ((shape.lon[head] - shape.lon[tail] + 180.0) % 360.0 - 180.0) * east
    dy = (shape.lat[head] - shape.lat[tail]) * north
    square = dx * dx + dy * dy
    share = -(x0 * dx + y0 * dy) / np.where(square > 0.0, square, 1.0)
    share = np.clip(share, 0.0, 1.0)
    return share, np.hypot(x0 + share * dx, y0 + share * dy)


def _samples(
    shape: Shape, rows: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Points along segments, with the segment each belongs to."""
    tail, head = shape.tail[rows], shape.head[rows]
    across = (shape.lon[head] - shape.lon[tail] + 180.0) % 360.0 - 180.0
    up = shape.lat[head] - shape.lat[tail]
    east, north = metres_per_degree(shape.lat[tail])
    count = np.ceil(np.hypot(across * east, up * north) / SAMPLE_M).astype(np.int64).clip(1)
    owner = np.repeat(np.arange(rows.size), count)
    first = np.repeat(np.cumsum(count) - count, count)
    share = (np.arange(owner.size) - first + 0.5) / count[owner]
    lon = shape.lon[tail][owner] + share * across[owner]
    lat = shape.lat[tail][owner] + share * up[owner]
    return rows[owner], _unit_sphere_m(lon, lat)


def _unit_sphere_m(lon: NDArray[np.float64], lat: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points on a sphere of the equator's radius [m], so that no map edge divides neighbours."""
    lam, phi = np.radians(lon), np.radians(lat)
    level = np.cos(phi)
    return WGS84_A_M * np.stack([level * np.cos(lam), level * np.sin(lam), np.sin(phi)], axis=-1)


def _along(shape: Shape, segment: int, share: float) -> tuple[float, float]:
    tail, head = shape.tail[segment], shape.head[segment]
    across = (shape.lon[head] - shape.lon[tail] + 180.0) % 360.0 - 180.0
    lon = (shape.lon[tail] + share * across + 180.0) % 360.0 - 180.0
    return float(lon), float(shape.lat[tail] + share * (shape.lat[head] - shape.lat[tail]))


def _geodesic_m(lon1: float, lat1: float, lon2: float, lat2: float) -> float:
    from pyproj import Geod

    _, _, distance_m = Geod(ellps="WGS84").inv(lon1, lat1, lon2, lat2)
    return float(distance_m)


def _far(distance_m: float) -> str:
    return f"{distance_m / 1000:,.1f} km" if distance_m >= 1000 else f"{distance_m:.0f} m"  # noqa: PLR2004 - metres in a kilometre
