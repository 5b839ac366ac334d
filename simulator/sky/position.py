"""The sun's own motion and its height over any place: the arithmetic behind `sky.sun`."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

__all__ = ["LIMITS", "Track", "check_place", "heights_deg", "hour_angle_deg", "sun_track"]

FloatArray = npt.NDArray[np.float64]

DAY_S: Final = 86400.0
HALF_TURN_DEG: Final = 180.0

LIMITS: Final = {
    "lat": (-90.0, 90.0),
    "lon": (-180.0, 180.0),
    # One fixed TT - UT1 (below) keeps the height within 0.002 deg over these years.
    "epoch_s": (-631152000.0, 4102444800.0),  # 1950-01-01 to 2100-01-01
}
"""Allowed latitude and longitude [deg] (outside: ValueError) and time [s] (outside: NaN)."""

DELTA_T_S: Final = 69.0
"""TT - UT1 [s], near the observed value of the 2020s (IERS, from memory). Ten seconds of error
shift the sun by 0.0001 deg."""

PARALLAX_RAD: Final = np.radians(8.794 / 3600)
"""Horizontal parallax of the sun [rad] at its mean distance (Reda & Andreas 2004, Eq. 35)."""

ANCHOR_S: Final = 21600.0
"""Spacing [s] of the moments at which pvlib is asked; between them the declination and the
equation of time run straight, which costs less than 0.0001 deg."""


class Track(NamedTuple):
    """The sun's own motion, the same for every place on Earth.

    Attributes
    ----------
    anchor_s : numpy.ndarray
        Moments [s since the epoch].
    declination_rad : numpy.ndarray
        Declination [rad].
    equation_of_time_s : numpy.ndarray
        Apparent minus mean solar time [s].
    """

    anchor_s: FloatArray
    declination_rad: FloatArray
    equation_of_time_s: FloatArray


def check_place(lat: npt.ArrayLike, lon: npt.ArrayLike) -> None:
    """Refuse a place that is not on the globe.

    Parameters
    ----------
    lat : array_like
        Latitude [deg], north positive.
    lon : array_like
        Longitude [deg], east positive.

    Raises
    ------
    ValueError
        If a latitude is outside -90 to 90 or a longitude outside -180 to 180 degrees.
    """
    for name, value in (("lat", lat), ("lon", lon)):
        low, high = LIMITS[name]
        values = np.asarray(value, dtype=np.float64)
        if np.any((values < low) | (values > high)):
            msg = f"{name} must be {low:g} to {high:g} degrees, found {values!r}"
            raise ValueError(msg)


def sun_track(first_s: float, last_s: float) -> Track:
    """Ask pvlib for declination and equation of time at moments spanning a stretch of time.

    Parameters
    ----------
    first_s : float
        Start [s since the epoch].
    last_s : float
        End [s since the epoch].

    Returns
    -------
    Track
        The sun's motion at steps of six hours, from before the start to after the end.
    """
    # pvlib takes half a second to import: only walks that ask for the sun pay for it.
    import pandas as pd  # noqa: PLC0415
    from pvlib.solarposition import spa_python  # noqa: PLC0415

    steps = np.arange(np.floor(first_s / ANCHOR_S), np.floor(last_s / ANCHOR_S) + 2)
    anchor_s = steps * ANCHOR_S
    moments = pd.DatetimeIndex(anchor_s.astype("datetime64[s]"), tz="UTC")
    # Seen from the pole, the height of the sun is its declination less the parallax there.
    at_pole = spa_python(moments, latitude=90.0, longitude=0.0, delta_t=DELTA_T_S)
    height = np.radians(at_pole["elevation"].to_numpy(dtype=np.float64))
    return Track(
        anchor_s=anchor_s,
        declination_rad=height + PARALLAX_RAD * np.cos(height),
        equation_of_time_s=at_pole["equation_of_time"].to_numpy(dtype=np.float64) * 60.0,
    )


def hour_angle_deg(track: Track, lon: npt.ArrayLike, epoch_s: FloatArray) -> FloatArray:
    """Give the angle of the sun west of the meridian.

    Parameters
    ----------
    track : Track
        The sun's motion, spanning the moments.
    lon : array_like
        Longitude [deg], east positive.
    epoch_s : numpy.ndarray
        Seconds since 1970-01-01 00:00 UTC [s].

    Returns
    -------
    numpy.ndarray
        Hour angle [deg], 0 at noon, not wrapped to a full turn.
    """
    equation_s = np.interp(epoch_s, track.anchor_s, track.equation_of_time_s)
    angle = (epoch_s % DAY_S + equation_s) / 240.0 - HALF_TURN_DEG
    return np.asarray(angle + np.asarray(lon, dtype=np.float64), dtype=np.float64)


def heights_deg(
    track: Track, lat: npt.ArrayLike, lon: npt.ArrayLike, epoch_s: FloatArray
) -> FloatArray:
    """Give the geometric height of the sun's centre from its motion.

    Parameters
    ----------
    track : Track
        The sun's motion, spanning the moments.
    lat : array_like
        Latitude [deg], north positive.
    lon : array_like
        Longitude [deg], east positive.
    epoch_s : numpy.ndarray
        Seconds since 1970-01-01 00:00 UTC [s].

    Returns
    -------
    numpy.ndarray
        Height seen from the ground, without refraction [deg].
    """
    declination = np.interp(epoch_s, track.anchor_s, track.declination_rad)
    angle = np.radians(hour_angle_deg(track, lon, epoch_s))
    latitude = np.radians(np.asarray(lat, dtype=np.float64))
    sine = np.sin(latitude) * np.sin(declination)
    sine = sine + np.cos(latitude) * np.cos(declination) * np.cos(angle)
    height = np.arcsin(np.clip(sine, -1.0, 1.0))
    return np.asarray(np.degrees(height - PARALLAX_RAD * np.cos(height)), dtype=np.float64)
