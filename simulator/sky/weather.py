"""Weather along the walk: constants, hourly values, a typical year, a design day.

Files are read in `simulator.sky.weather_files`; here are the values and what they are at a moment.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from simulator.errors import InputError
from simulator.units import DAY_S

FloatArray = npt.NDArray[np.float64]
Repeat = Literal["never", "always", "daily", "yearly"]

QUANTITIES: Final = ("air_c", "humidity_pct", "wind_m_s", "cloud_pct", "rain_mm_h")
"""The quantities that every weather carries."""

RANGES: Final = {
    "air_c": (-90.0, 60.0),
    "humidity_pct": (0.0, 100.0),
    "wind_m_s": (0.0, 75.0),
    "cloud_pct": (0.0, 100.0),
    "rain_mm_h": (0.0, 310.0),
}
"""Plausible values. Air, wind and rain reach about to the world records of weather stations
(WMO archive, from memory: -89.2 and 56.7 C; 113 m/s in one gust; 305 mm in an hour); 75 m/s is past
the strongest hourly means. A value outside is a fault of the file or of its units."""

HOURS_A_DAY: Final = 24
YEAR_S: Final = 365 * DAY_S
REFERENCE_YEAR: Final = np.datetime64("2001-01-01", "s")
"""Start of a year of 365 days, used to find month and hour from a position in a typical year."""


@dataclass(frozen=True, slots=True)
class WeatherAt:
    """Weather at given moments; every array has the shape of the moments asked for.

    Attributes
    ----------
    air_c : numpy.ndarray
        Air temperature [C].
    humidity_pct : numpy.ndarray
        Relative humidity [%].
    wind_m_s : numpy.ndarray
        Wind speed at 10 m, as forecasts and weather stations give it [m/s].
    cloud_pct : numpy.ndarray
        Share of the sky covered by cloud [%].
    rain_mm_h : numpy.ndarray
        Rate of rain [mm/h].
    solar_w_m2 : numpy.ndarray or None
        Global horizontal irradiance [W/m2]; None where the source has none.
    known : numpy.ndarray of bool
        False where the source does not cover the moment; all quantities are NaN there.
    """

    air_c: FloatArray
    humidity_pct: FloatArray
    wind_m_s: FloatArray
    cloud_pct: FloatArray
    rain_mm_h: FloatArray
    solar_w_m2: FloatArray | None
    known: npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Weather:
    """Weather over time at a regular step, all columns of one length.

    Attributes
    ----------
    epoch_s : numpy.ndarray
        Moments of the values [s]. Since 1970-01-01 00:00 UTC when `repeat` is "never" or "always";
        since local standard midnight when it is "daily"; since 1 January 00:00 local standard time
        of a 365-day year when it is "yearly".
    air_c : numpy.ndarray
        Air temperature [C].
    humidity_pct : numpy.ndarray
        Relative humidity [%].
    wind_m_s : numpy.ndarray
        Wind speed at 10 m [m/s].
    cloud_pct : numpy.ndarray
        Share of the sky covered by cloud [%].
    rain_mm_h : numpy.ndarray
        Rate of rain [mm/h].
    source : str
        Where the values come from, in words.
    solar_w_m2 : numpy.ndarray or None
        Global horizontal irradiance [W/m2], if the source has it.
    repeat : str
        "never", "always" (one value holds for ever), "daily" or "yearly".
    utc_offset_s : float
        Local standard time minus UTC [s]; used when the values repeat.
    notes : tuple of str
        What was filled or assumed while reading, one sentence each.
    """

    epoch_s: FloatArray
    air_c: FloatArray
    humidity_pct: FloatArray
    wind_m_s: FloatArray
    cloud_pct: FloatArray
    rain_mm_h: FloatArray
    source: str
    solar_w_m2: FloatArray | None = None
    repeat: Repeat = "never"
    utc_offset_s: float = 0.0
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        columns = [getattr(self, name) for name in QUANTITIES]
        if self.solar_w_m2 is not None:
            columns.append(self.solar_w_m2)
        if any(column.shape != self.epoch_s.shape for column in columns):
            msg = "every column of a weather must be as long as epoch_s"
            raise ValueError(msg)
        steps = np.diff(self.epoch_s)
        if self.repeat == "always":
            if self.epoch_s.size != 1:
                msg = "a weather that holds always has one value"
                raise ValueError(msg)
        elif not steps.size or steps[0] <= 0 or not np.allclose(steps, steps[0]):
            msg = "epoch_s must rise at one regular step"
            raise ValueError(msg)

    @property
    def first_s(self) -> float:
        """First moment covered [s since the epoch]; minus infinity when the values repeat."""
        return float(self.epoch_s[0]) if self.repeat == "never" else -np.inf

    @property
    def last_s(self) -> float:
        """Last moment covered [s since the epoch]; infinity when the values repeat."""
        return float(self.epoch_s[-1]) if self.repeat == "never" else np.inf

    def covers(self, first_s: float, last_s: float) -> bool:
        """Tell whether the values reach over a stretch of time.

        Parameters
        ----------
        first_s : float
            Start [s since the epoch].
        last_s : float
            End [s since the epoch].

        Returns
        -------
        bool
            True if `at` knows every moment of it.
        """
        return bool(self.first_s <= first_s <= last_s <= self.last_s)

    def at(self, epoch_s: npt.ArrayLike) -> WeatherAt:
        """Give the weather at moments, straight between the values.

        Parameters
        ----------
        epoch_s : array_like
            Seconds since 1970-01-01 00:00 UTC [s], any shape.

        Returns
        -------
        WeatherAt
            One array per quantity; NaN where the source does not cover the moment.
        """
        moments = np.asarray(epoch_s, dtype=np.float64)
        known = np.isfinite(moments)
        if self.repeat == "always":
            row = np.zeros(moments.shape, dtype=np.intp)
            after, share = row, np.zeros(moments.shape)
        else:
            step_s = float(self.epoch_s[1] - self.epoch_s[0])
            place = (self._folded(np.where(known, moments, 0.0)) - self.epoch_s[0]) / step_s
            count = self.epoch_s.size
            if self.repeat == "never":
                known = known & (place >= 0) & (place <= count - 1)
                row = np.clip(np.floor(place), 0, count - 2).astype(np.intp)
                after = row + 1
            else:
                row = np.floor(place).astype(np.intp)
                after = (row + 1) % count
            share = np.where(known, place - row, np.nan)
            row = row % count

        def value(column: FloatArray) -> FloatArray:
            between = column[row] * (1.0 - share) + column[after] * share
            return np.asarray(np.where(known, between, np.nan), dtype=np.float64)

        return WeatherAt(
            air_c=value(self.air_c),
            humidity_pct=value(self.humidity_pct),
            wind_m_s=value(self.wind_m_s),
            cloud_pct=value(self.cloud_pct),
            rain_mm_h=value(self.rain_mm_h),
            solar_w_m2=None if self.solar_w_m2 is None else value(self.solar_w_m2),
            known=np.asarray(known, dtype=np.bool_),
        )

    def _folded(self, moments: FloatArray) -> FloatArray:
        """Map moments onto the repeated day or year [s from its start]."""
        if self.repeat == "never":
            return moments
        local = moments + self.utc_offset_s
        if self.repeat == "daily":
            return np.asarray(local % DAY_S, dtype=np.float64)
        return year_position_s(local)


def year_position_s(local_s: FloatArray) -> FloatArray:
    """Find where a moment falls in a year of 365 days, by month, day and hour.

    Parameters
    ----------
    local_s : numpy.ndarray
        Local standard time as seconds since 1970-01-01 00:00 [s].

    Returns
    -------
    numpy.ndarray
        Seconds since 1 January 00:00 [s]; 29 February is taken as 28 February.
    """
    days = np.floor(local_s / DAY_S)
    dates = days.astype("datetime64[D]")
    months = dates.astype("datetime64[M]")
    month = months.astype(np.int64) % 12
    day_of_month = (dates - months.astype("datetime64[D]")).astype(np.int64)
    day_of_month = np.where((month == 1) & (day_of_month > 27), 27, day_of_month)  # noqa: PLR2004
    starts = np.concatenate([[0], np.cumsum([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])])
    position = (starts[month] + day_of_month) * DAY_S + (local_s - days * DAY_S)
    return np.asarray(position, dtype=np.float64)


def constant(
    *,
    air_c: float,
    humidity_pct: float,
    wind_m_s: float,
    cloud_pct: float,
    rain_mm_h: float,
    source: str = "constants of the plan",
) -> Weather:
    """Make weather that stays the same.

    Parameters
    ----------
    air_c : float
        Air temperature [C], -90 to 60.
    humidity_pct : float
        Relative humidity [%], 0 to 100.
    wind_m_s : float
        Wind speed at 10 m [m/s], 0 to 75.
    cloud_pct : float
        Share of the sky covered by cloud [%], 0 to 100.
    rain_mm_h : float
        Rate of rain [mm/h], 0 to 310.
    source : str
        Where the values come from, in words.

    Returns
    -------
    Weather
        Holds at every moment.

    Raises
    ------
    ValueError
        If a value is outside its range.
    """
    values = dict(
        zip(QUANTITIES, (air_c, humidity_pct, wind_m_s, cloud_pct, rain_mm_h), strict=True)
    )
    for name, value in values.items():
        low, high = RANGES[name]
        if not low <= value <= high:
            msg = f"{name} must be {low:g} to {high:g}, found {value!r}"
            raise ValueError(msg)
    columns: dict[str, Any] = {name: np.array([float(value)]) for name, value in values.items()}
    return Weather(epoch_s=np.zeros(1), source=source, repeat="always", **columns)


def design_day(
    weather: Weather, month: int, *, kind: Literal["mean", "hot", "cold"] = "mean"
) -> Weather:
    """Make one day that stands for a month, repeated for as long as the walk lasts.

    "mean" takes the mean of each hour over the days of the month; rain is then spread thin over
    every day, and extremes are gone. "hot" and "cold" take the real day of the month with the
    highest or lowest mean air temperature, hour by hour, all quantities together.

    Parameters
    ----------
    weather : Weather
        A typical year or an hourly file, at a step that divides the day.
    month : int
        Month, 1 to 12.
    kind : {"mean", "hot", "cold"}
        Which day stands for the month.

    Returns
    -------
    Weather
        One day, repeated daily.

    Raises
    ------
    ValueError
        If `month` or `kind` is not one of those.
    InputError
        If the weather has no whole day in that month.
    """
    if month not in range(1, 13):
        msg = f"month must be 1 to 12, found {month!r}"
        raise ValueError(msg)
    if kind not in {"mean", "hot", "cold"}:
        msg = f"kind must be mean, hot or cold, found {kind!r}"
        raise ValueError(msg)
    if weather.repeat in {"always", "daily"}:
        return weather
    local = weather.epoch_s + (0.0 if weather.repeat == "yearly" else weather.utc_offset_s)
    base = REFERENCE_YEAR if weather.repeat == "yearly" else np.datetime64(0, "s")
    moments = base + np.round(local).astype("timedelta64[s]")
    days = moments.astype("datetime64[D]")
    in_month = days.astype("datetime64[M]").astype(np.int64) % 12 == month - 1
    step_s = float(weather.epoch_s[1] - weather.epoch_s[0])
    per_day = round(DAY_S / step_s)
    dates, counts = np.unique(days[in_month], return_counts=True)
    whole = dates[counts == per_day]
    if not whole.size or not np.isclose(per_day * step_s, DAY_S):
        raise InputError(
            weather.source,
            f"holds no whole day of month {month}; choose one it covers, or a typical year",
        )
    rows = np.flatnonzero(np.isin(days, whole) & in_month).reshape(whole.size, per_day)
    if kind != "mean":
        means = weather.air_c[rows].mean(axis=1)
        rows = rows[[int(means.argmax() if kind == "hot" else means.argmin())]]
    columns: dict[str, Any] = {
        name: getattr(weather, name)[rows].mean(axis=0) for name in QUANTITIES
    }
    solar = None if weather.solar_w_m2 is None else weather.solar_w_m2[rows].mean(axis=0)
    names = {"mean": "mean day", "hot": "hottest day", "cold": "coldest day"}
    return Weather(
        epoch_s=local[rows[0]] % DAY_S,
        source=f"{weather.source}, {names[kind]} of month {month}",
        solar_w_m2=solar,
        repeat="daily",
        utc_offset_s=weather.utc_offset_s,
        notes=weather.notes,
        **columns,
    )
