"""Height of the sun, its rise and set, twilight and the radiation it brings.

All heights are geometric: the centre of the disc, without refraction, as seen from the ground.
Sunrise, sunset and civil twilight are crossings of that height, found by root finding.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo
from datetime import date as Date  # noqa: N812 - `date` is an argument of the public functions
from typing import Final, NamedTuple, overload

import numpy as np
import numpy.typing as npt

from simulator.arrays import Floats
from simulator.sky.clock import read_zone
from simulator.units import DAY_S

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


class SunTrack(NamedTuple):
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

    anchor_s: Floats
    declination_rad: Floats
    equation_of_time_s: Floats


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


def sun_track(first_s: float, last_s: float) -> SunTrack:
    """Ask pvlib for declination and equation of time at moments spanning a stretch of time.

    Parameters
    ----------
    first_s : float
        Start [s since the epoch].
    last_s : float
        End [s since the epoch].

    Returns
    -------
    SunTrack
        The sun's motion at steps of six hours, from before the start to after the end.
    """
    # pvlib takes half a second to import: only walks that ask for the sun pay for it.
    import pandas as pd
    from pvlib.solarposition import spa_python

    steps = np.arange(np.floor(first_s / ANCHOR_S), np.floor(last_s / ANCHOR_S) + 2)
    anchor_s = steps * ANCHOR_S
    moments = pd.DatetimeIndex(anchor_s.astype("datetime64[s]"), tz="UTC")
    # Seen from the pole, the height of the sun is its declination less the parallax there.
    at_pole = spa_python(moments, latitude=90.0, longitude=0.0, delta_t=DELTA_T_S)
    height = np.radians(at_pole["elevation"].to_numpy(dtype=np.float64))
    return SunTrack(
        anchor_s=anchor_s,
        declination_rad=height + PARALLAX_RAD * np.cos(height),
        equation_of_time_s=at_pole["equation_of_time"].to_numpy(dtype=np.float64) * 60.0,
    )


def hour_angle_deg(track: SunTrack, lon: npt.ArrayLike, epoch_s: Floats) -> Floats:
    """Give the angle of the sun west of the meridian.

    Parameters
    ----------
    track : SunTrack
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


def heights_deg(track: SunTrack, lat: npt.ArrayLike, lon: npt.ArrayLike, epoch_s: Floats) -> Floats:
    """Give the geometric height of the sun's centre from its motion.

    Parameters
    ----------
    track : SunTrack
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


SUNRISE_DEG: Final = -0.8333
"""Height at sunrise and sunset [deg]: 34' refraction and 16' half disc (USNO definition, from
memory)."""

CIVIL_TWILIGHT_DEG: Final = -6.0
"""Height at civil dawn and dusk [deg], centre of the disc, no refraction (USNO, from memory)."""

DAYLIGHT_STATES: Final = ("day", "twilight", "night")
"""Names of the codes that `daylight_state` gives."""

DARK_ALL_DAY: Final = "dark all day"
LIGHT_ALL_DAY: Final = ("sun never sets", "never dark")
"""States of a day without a change between light and dark."""

STATE_WORDS: Final = {
    "day and night": "",
    "never dark": "the sun sets, but it does not get dark that day",
    "sun never sets": "the sun does not set and it does not get dark that day",
    "sun never rises": "the sun does not rise that day, there is twilight at most",
    DARK_ALL_DAY: "the sun does not rise that day, it stays dark",
}
"""What a reader must be told of each state of a day; nothing of the usual one."""

HAURWITZ_W_M2: Final = 1098.0
HAURWITZ_DECAY: Final = 0.059
"""Clear-sky coefficients of Haurwitz 1945 (J. Meteorology 2:154-166), as given by Reno, Hansen &
Stein 2012 (SAND2012-2389)."""

KASTEN_CZEPLAK_SHARE: Final = 0.75
KASTEN_CZEPLAK_POWER: Final = 3.4
"""Cloud reduction 1 - 0.75 (N/8)^3.4 of Kasten & Czeplak 1980 (Solar Energy 24:177-189), from
memory."""


def elevation_series(lat: npt.ArrayLike, lon: npt.ArrayLike, epoch_s: npt.ArrayLike) -> Floats:
    """Give the geometric height of the sun's centre at many moments or places.

    Parameters
    ----------
    lat : array_like
        Latitude [deg], north positive; scalar or broadcast against `epoch_s`.
    lon : array_like
        Longitude [deg], east positive; scalar or broadcast against `epoch_s`.
    epoch_s : array_like
        Seconds since 1970-01-01 00:00 UTC [s], any shape, any order.

    Returns
    -------
    numpy.ndarray
        Height [deg], without refraction; NaN where the time is not finite or outside 1950-2100.

    Raises
    ------
    ValueError
        If a latitude or longitude is not on the globe.

    Notes
    -----
    Declination and equation of time come from pvlib's NREL solar position algorithm (Reda &
    Andreas 2004, Solar Energy 76:577-589) every six hours; the rest is spherical trigonometry.
    Within 0.001 deg of that algorithm at the moment itself.
    """
    check_place(lat, lon)
    moments = np.asarray(epoch_s, dtype=np.float64)
    first, last = LIMITS["epoch_s"]
    known = (moments >= first) & (moments <= last)
    if not np.any(known):
        shape = np.broadcast_shapes(np.shape(lat), np.shape(lon), moments.shape)
        return np.full(shape, np.nan)
    track = sun_track(float(moments[known].min()), float(moments[known].max()))
    heights = heights_deg(track, lat, lon, moments)
    return heights if np.all(known) else np.where(known, heights, np.nan)


def _epoch(when: datetime) -> float:
    if when.tzinfo is None:
        msg = f"when must carry a time zone, found {when!r}"
        raise ValueError(msg)
    return when.timestamp()


@overload
def sun_elevation_deg(lat: float, lon: float, when: datetime) -> float: ...
@overload
def sun_elevation_deg(
    lat: npt.ArrayLike, lon: npt.ArrayLike, when: datetime | Iterable[datetime]
) -> float | Floats: ...
def sun_elevation_deg(
    lat: npt.ArrayLike, lon: npt.ArrayLike, when: datetime | Iterable[datetime]
) -> float | Floats:
    """Give the geometric height of the sun's centre.

    Parameters
    ----------
    lat : array_like
        Latitude [deg], north positive.
    lon : array_like
        Longitude [deg], east positive.
    when : datetime.datetime or iterable of datetime.datetime
        Time-zone aware moment, or several (a pandas DatetimeIndex will do).

    Returns
    -------
    float or numpy.ndarray
        Height [deg], without refraction; NaN outside the years 1950-2100.

    Raises
    ------
    ValueError
        If `when` carries no time zone, or the place is not on the globe.

    See Also
    --------
    elevation_series : The same from seconds since the epoch; source and accuracy.

    Examples
    --------
    >>> from datetime import UTC
    >>> round(sun_elevation_deg(51.4769, 0.0, datetime(2025, 6, 21, 12, tzinfo=UTC)), 1)
    62.0
    """
    if isinstance(when, datetime):
        height = elevation_series(lat, lon, _epoch(when))
    else:
        height = elevation_series(lat, lon, np.array([_epoch(one) for one in when]))
    return float(height) if height.ndim == 0 else height


@dataclass(frozen=True, slots=True)
class SunDay:
    """The sun of one local civil date at one place.

    The day runs from one midnight of the sun to the next around the solar noon nearest to 12:00
    on the date, so dusk may fall after clock midnight: every time carries its own date and offset.

    Attributes
    ----------
    civil_dawn : datetime.datetime or None
        Rising through -6 deg; None if it does not happen.
    sunrise : datetime.datetime or None
        Rising through -0.8333 deg; None if it does not happen.
    noon : datetime.datetime
        Passage through the meridian.
    sunset : datetime.datetime or None
        Sinking through -0.8333 deg; None if it does not happen.
    civil_dusk : datetime.datetime or None
        Sinking through -6 deg; None if it does not happen.
    highest_deg : float
        Greatest height of the day [deg].
    lowest_deg : float
        Least height of the day [deg].
    daylight_h : float
        Time above -0.8333 deg [h], to the minute.
    twilight_h : float
        Time between -6 and -0.8333 deg [h], to the minute.
    state : str
        "day and night", "never dark" (sets, twilight all night), "sun never sets",
        "sun never rises" (twilight only) or "dark all day".
    """

    civil_dawn: datetime | None
    sunrise: datetime | None
    noon: datetime
    sunset: datetime | None
    civil_dusk: datetime | None
    highest_deg: float
    lowest_deg: float
    daylight_h: float
    twilight_h: float
    state: str

    def events(self) -> dict[str, datetime | None]:
        """Give the four events alone, in the order of the day.

        Returns
        -------
        dict
            ``civil_dawn``, ``sunrise``, ``sunset``, ``civil_dusk``; None where it does not happen.
        """
        return {
            "civil_dawn": self.civil_dawn,
            "sunrise": self.sunrise,
            "sunset": self.sunset,
            "civil_dusk": self.civil_dusk,
        }


def _state(lowest_deg: float, highest_deg: float) -> str:
    if highest_deg < CIVIL_TWILIGHT_DEG:
        return DARK_ALL_DAY
    if highest_deg < SUNRISE_DEG:
        return "sun never rises"
    if lowest_deg > SUNRISE_DEG:
        return "sun never sets"
    if lowest_deg > CIVIL_TWILIGHT_DEG:
        return "never dark"
    return "day and night"


def sun_day(lat: float, lon: float, date: Date, tz: str | tzinfo) -> SunDay:
    """Describe the sun's course over one local civil date.

    Parameters
    ----------
    lat : float
        Latitude [deg], north positive.
    lon : float
        Longitude [deg], east positive.
    date : datetime.date
        Local civil date.
    tz : str or datetime.tzinfo
        Time zone that the place keeps.

    Returns
    -------
    SunDay
        Events, extremes, hours of light and a state in words.

    Raises
    ------
    ValueError
        If the place is not on the globe or the date is outside 1950-2099.
    InputError
        If the zone is unknown.

    Notes
    -----
    Heights are taken every minute and each crossing is then bisected to a hundredth of a second.
    Hills, height above the sea and real air move true times by minutes.
    """
    check_place(lat, lon)
    zone = read_zone(tz, where="tz") if isinstance(tz, str) else tz
    clock_noon = datetime.combine(date, time(12), tzinfo=zone).timestamp()
    first, last = LIMITS["epoch_s"]
    if not first + DAY_S <= clock_noon <= last - DAY_S:
        msg = f"date must be 1950-01-02 to 2099-12-30, found {date}"
        raise ValueError(msg)
    track = sun_track(clock_noon - 1.5 * DAY_S, clock_noon + 1.5 * DAY_S)
    angle = float(hour_angle_deg(track, lon, np.array(clock_noon)))
    noon = clock_noon - ((angle + HALF_TURN_DEG) % 360.0 - HALF_TURN_DEG) * 240.0
    # Once more, with the equation of time of the noon itself.
    angle = float(hour_angle_deg(track, lon, np.array(noon)))
    noon -= ((angle + HALF_TURN_DEG) % 360.0 - HALF_TURN_DEG) * 240.0

    minutes = noon + np.arange(-720.0, 721.0) * 60.0
    heights = heights_deg(track, lat, lon, minutes)

    def crossing(level_deg: float, *, rising: bool) -> datetime | None:
        above = heights >= level_deg
        turned = above[1:] & ~above[:-1] if rising else above[:-1] & ~above[1:]
        found = np.flatnonzero(turned)
        if not found.size:
            return None
        low, high = minutes[found[0]], minutes[found[0]] + 60.0
        while high - low > 0.01:  # noqa: PLR2004 - a hundredth of a second
            middle = (low + high) / 2
            is_above = heights_deg(track, lat, lon, np.array(middle)) >= level_deg
            if is_above == rising:
                high = middle
            else:
                low = middle
        return _local(float(low + high) / 2, zone)

    lowest, highest = float(heights.min()), float(heights.max())
    up = int(np.count_nonzero(heights[:-1] >= SUNRISE_DEG)) / 60
    lit = int(np.count_nonzero(heights[:-1] >= CIVIL_TWILIGHT_DEG)) / 60
    return SunDay(
        civil_dawn=crossing(CIVIL_TWILIGHT_DEG, rising=True),
        sunrise=crossing(SUNRISE_DEG, rising=True),
        noon=_local(noon, zone),
        sunset=crossing(SUNRISE_DEG, rising=False),
        civil_dusk=crossing(CIVIL_TWILIGHT_DEG, rising=False),
        highest_deg=highest,
        lowest_deg=lowest,
        daylight_h=up,
        twilight_h=lit - up,
        state=_state(lowest, highest),
    )


def _local(epoch_s: float, zone: tzinfo) -> datetime:
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=float(epoch_s))).astimezone(zone)


def sun_events(lat: float, lon: float, date: Date, tz: str | tzinfo) -> dict[str, datetime | None]:
    """Give dawn, sunrise, sunset and dusk of one local civil date.

    Parameters
    ----------
    lat : float
        Latitude [deg], north positive.
    lon : float
        Longitude [deg], east positive.
    date : datetime.date
        Local civil date.
    tz : str or datetime.tzinfo
        Time zone that the place keeps.

    Returns
    -------
    dict
        ``civil_dawn``, ``sunrise``, ``sunset``, ``civil_dusk``: time-aware local times in that
        order, None where it does not happen.

    Raises
    ------
    ValueError
        If the place is not on the globe or the date is outside 1950-2099.

    See Also
    --------
    sun_day : Which also says why an event does not happen, and how the day is bounded.

    Examples
    --------
    >>> events = sun_events(51.5074, -0.1278, Date(2025, 6, 21), "Europe/London")
    >>> f"{events['sunset']:%H:%M}"
    '21:21'
    """
    return sun_day(lat, lon, date, tz).events()


@overload
def daylight_state(elevation_deg: float) -> int: ...
@overload
def daylight_state(elevation_deg: Floats) -> npt.NDArray[np.int8]: ...
def daylight_state(elevation_deg: float | Floats) -> int | npt.NDArray[np.int8]:
    """Tell day, civil twilight and night apart by the height of the sun.

    Parameters
    ----------
    elevation_deg : float or numpy.ndarray
        Geometric height of the sun [deg].

    Returns
    -------
    int or numpy.ndarray of int8
        Position in `DAYLIGHT_STATES`; -1 where the height is NaN.

    Examples
    --------
    >>> [DAYLIGHT_STATES[daylight_state(height)] for height in (10.0, -3.0, -7.0)]
    ['day', 'twilight', 'night']
    """
    height = np.asarray(elevation_deg, dtype=np.float64)
    codes = (height < SUNRISE_DEG).astype(np.int8) + (height < CIVIL_TWILIGHT_DEG)
    codes = np.where(np.isnan(height), -1, codes).astype(np.int8)
    return int(codes) if codes.ndim == 0 else codes


def solar_w_m2(elevation_deg: npt.ArrayLike, cloud_pct: npt.ArrayLike) -> Floats:
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
