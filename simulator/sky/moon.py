"""Phase and height of the moon, and what light it gives on the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from simulator.sky.sun import DELTA_T_S, LIMITS, check_place

FloatArray = npt.NDArray[np.float64]

UNIX_EPOCH_JD: Final = 2440587.5
J2000_JD: Final = 2451545.0
DAYS_A_CENTURY: Final = 36525.0

ELONGATION_DEG: Final = (
    297.8501921,
    445267.1114034,
    -0.0018819,
    1 / 545868,
    -1 / 113065000,
)
SUN_ANOMALY_DEG: Final = (357.5291092, 35999.0502909, -0.0001536, 1 / 24490000)
MOON_ANOMALY_DEG: Final = (
    134.9633964,
    477198.8675055,
    0.0087414,
    1 / 69699,
    -1 / 14712000,
)
"""Powers of the century since J2000 [deg]: mean elongation, anomaly of the sun and of the moon
(Meeus 1998, Astronomical Algorithms, 2nd ed., ch. 47-48; from memory)."""

# Low-precision lunar coordinates of the Astronomical Almanac (page D22 in recent years), from
# memory; stated errors 0.3 deg in longitude, 0.2 deg in latitude, 0.003 deg in parallax.
# Each row: size [deg], phase [deg], rate [deg per century].
LONGITUDE_TERMS: Final = (
    (6.29, 135.0, 477198.87),
    (-1.27, 259.3, -413335.36),
    (0.66, 235.7, 890534.22),
    (0.21, 269.9, 954397.74),
    (-0.19, 357.5, 35999.05),
    (-0.11, 186.5, 966404.03),
)
LATITUDE_TERMS: Final = (
    (5.13, 93.3, 483202.02),
    (0.28, 228.2, 960400.89),
    (-0.28, 318.3, 6003.15),
    (-0.17, 217.6, -407332.21),
)
PARALLAX_TERMS: Final = (
    (0.0518, 135.0, 477198.87),
    (0.0095, 259.3, -413335.36),
    (0.0078, 235.7, 890534.22),
    (0.0028, 269.9, 954397.74),
)
MEAN_LONGITUDE_DEG: Final = (218.32, 481267.881)
MEAN_PARALLAX_DEG: Final = 0.9508

EXTINCTION_MAG: Final = 0.2
"""Loss of light through clear air at the zenith [magnitudes], common practice for a sea-level
site."""


@dataclass(frozen=True, slots=True)
class MoonLight:
    """The moon over a place at given moments.

    Attributes
    ----------
    illuminated : numpy.ndarray
        Illuminated share of the disc, 0 to 1.
    elevation_deg : numpy.ndarray
        Height of the moon's centre without refraction [deg].
    clear_sky_lux : numpy.ndarray
        Light on level ground under a clear sky [lux]; 0 with the moon down. Cloud, trees and
        walls take most or all of it.
    """

    illuminated: FloatArray
    elevation_deg: FloatArray
    clear_sky_lux: FloatArray


def _centuries(epoch_s: npt.ArrayLike, *, shift_s: float) -> FloatArray:
    moments = np.asarray(epoch_s, dtype=np.float64)
    first, last = LIMITS["epoch_s"]
    moments = np.where((moments >= first) & (moments <= last), moments, np.nan)
    days = (moments + shift_s) / 86400.0 + (UNIX_EPOCH_JD - J2000_JD)
    return np.asarray(days / DAYS_A_CENTURY, dtype=np.float64)


def _power_series(coefficients: tuple[float, ...], century: FloatArray) -> FloatArray:
    return np.asarray(np.polynomial.polynomial.polyval(century, coefficients), dtype=np.float64)


def _phase_angle_deg(epoch_s: npt.ArrayLike) -> FloatArray:
    """Angle sun - moon - Earth [deg], 0 at full moon (Meeus 1998, Eq. 48.4)."""
    century = _centuries(epoch_s, shift_s=DELTA_T_S)
    elongation_deg = _power_series(ELONGATION_DEG, century)
    elongation = np.radians(elongation_deg)
    sun = np.radians(_power_series(SUN_ANOMALY_DEG, century))
    moon = np.radians(_power_series(MOON_ANOMALY_DEG, century))
    return np.asarray(
        180.0
        - elongation_deg
        - 6.289 * np.sin(moon)
        + 2.100 * np.sin(sun)
        - 1.274 * np.sin(2 * elongation - moon)
        - 0.658 * np.sin(2 * elongation)
        - 0.214 * np.sin(2 * moon)
        - 0.110 * np.sin(elongation),
        dtype=np.float64,
    )


def moon_illuminated_fraction(epoch_s: npt.ArrayLike) -> FloatArray:
    """Give the illuminated share of the moon's disc.

    Parameters
    ----------
    epoch_s : array_like
        Seconds since 1970-01-01 00:00 UTC [s].

    Returns
    -------
    numpy.ndarray
        0 at new moon to 1 at full moon; NaN outside the years 1950-2100.

    Notes
    -----
    Meeus 1998, Astronomical Algorithms, 2nd ed., ch. 48, the lower-precision formula; its own
    example differs from the rigorous value by 0.001.
    """
    angle = np.radians(_phase_angle_deg(epoch_s))
    return np.asarray((1.0 + np.cos(angle)) / 2.0, dtype=np.float64)


def _terms(
    rows: tuple[tuple[float, float, float], ...], century: FloatArray, *, phase_deg: float = 0.0
) -> FloatArray:
    total = np.zeros_like(century)
    for size, phase, rate in rows:
        total = total + size * np.sin(np.radians(phase + phase_deg + rate * century))
    return total


def ecliptic_deg(epoch_s: npt.ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give the moon's place seen from the centre of the Earth.

    Parameters
    ----------
    epoch_s : array_like
        Seconds since 1970-01-01 00:00 UTC [s].

    Returns
    -------
    longitude_deg : numpy.ndarray
        Ecliptic longitude [deg], error up to 0.3.
    latitude_deg : numpy.ndarray
        Ecliptic latitude [deg], error up to 0.2.
    parallax_deg : numpy.ndarray
        Horizontal parallax [deg], error up to 0.003 (Astronomical Almanac, low precision).
    """
    century = _centuries(epoch_s, shift_s=DELTA_T_S)
    longitude = _power_series(MEAN_LONGITUDE_DEG, century) + _terms(LONGITUDE_TERMS, century)
    latitude = _terms(LATITUDE_TERMS, century)
    parallax = MEAN_PARALLAX_DEG + _terms(PARALLAX_TERMS, century, phase_deg=90.0)
    return np.asarray(longitude % 360.0, dtype=np.float64), latitude, parallax


def moon_elevation_deg(
    lat: npt.ArrayLike, lon: npt.ArrayLike, epoch_s: npt.ArrayLike
) -> FloatArray:
    """Give the height of the moon's centre, without refraction.

    Parameters
    ----------
    lat : array_like
        Latitude [deg], north positive.
    lon : array_like
        Longitude [deg], east positive.
    epoch_s : array_like
        Seconds since 1970-01-01 00:00 UTC [s].

    Returns
    -------
    numpy.ndarray
        Height [deg] seen from the ground (parallax applied), within about half a degree; NaN
        outside the years 1950-2100.

    Raises
    ------
    ValueError
        If a latitude is outside -90 to 90 or a longitude outside -180 to 180 degrees.
    """
    check_place(lat, lon)
    latitude_deg = np.asarray(lat, dtype=np.float64)
    longitude_deg = np.asarray(lon, dtype=np.float64)
    ecliptic_longitude, ecliptic_latitude, parallax = (
        np.radians(one) for one in ecliptic_deg(epoch_s)
    )
    century = _centuries(epoch_s, shift_s=0.0)
    obliquity = np.radians(23.439 - 0.0130 * century)
    cosine = np.cos(ecliptic_latitude)
    x = cosine * np.cos(ecliptic_longitude)
    y = cosine * np.sin(ecliptic_longitude) * np.cos(obliquity)
    y = y - np.sin(ecliptic_latitude) * np.sin(obliquity)
    z = cosine * np.sin(ecliptic_longitude) * np.sin(obliquity)
    z = z + np.sin(ecliptic_latitude) * np.cos(obliquity)
    # Mean sidereal time at Greenwich, Meeus 1998, Eq. 12.4 without its smallest terms.
    sidereal_deg = 280.46061837 + 360.98564736629 * century * DAYS_A_CENTURY
    angle = np.radians(sidereal_deg + longitude_deg) - np.arctan2(y, x)
    latitude = np.radians(latitude_deg)
    sine = np.sin(latitude) * z + np.cos(latitude) * np.hypot(x, y) * np.cos(angle)
    height = np.arcsin(np.clip(sine, -1.0, 1.0))
    return np.asarray(np.degrees(height - parallax * np.cos(height)), dtype=np.float64)


def moon_light(lat: npt.ArrayLike, lon: npt.ArrayLike, epoch_s: npt.ArrayLike) -> MoonLight:
    """Tell how much the moon helps on a dark way.

    Parameters
    ----------
    lat : array_like
        Latitude [deg], north positive.
    lon : array_like
        Longitude [deg], east positive.
    epoch_s : array_like
        Seconds since 1970-01-01 00:00 UTC [s].

    Returns
    -------
    MoonLight
        Illuminated share, height, and light on level ground under a clear sky.

    Raises
    ------
    ValueError
        If the place is not on the globe.

    Notes
    -----
    Brightness by phase after Krisciunas & Schaefer 1991 (PASP 103:1033-1039), magnitude to lux by
    m = -14.18 - 2.5 log10(lux), both from memory. Full moon at its highest gives about a quarter
    of a lux, a lit street ten times that and more (common practice); under cloud count on none.
    """
    phase_deg = np.abs((_phase_angle_deg(epoch_s) + 180.0) % 360.0 - 180.0)
    magnitude = -12.73 + 0.026 * phase_deg + 4e-9 * phase_deg**4
    height = moon_elevation_deg(lat, lon, epoch_s)
    sine = np.sin(np.radians(height))
    # The floor keeps the path through the air finite near the horizon.
    dimmed = magnitude + EXTINCTION_MAG / np.maximum(sine, 0.02)
    lux = 10.0 ** (-0.4 * (dimmed + 14.18)) * sine
    lux = np.where(sine > 0, lux, np.where(np.isnan(sine), np.nan, 0.0))
    share = np.broadcast_to(moon_illuminated_fraction(epoch_s), height.shape)
    return MoonLight(illuminated=share, elevation_deg=height, clear_sky_lux=lux)
