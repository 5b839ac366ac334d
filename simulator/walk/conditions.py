"""Sun and weather on a regular clock, looked up for every walker at once."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.exposure import felt_c
from simulator.sky.sun import elevation_series, solar_w_m2
from simulator.walk.records import some_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.sky.weather import Weather
    from simulator.walk.records import WeatherError

CLOCK_STEP_S = 600.0
"""Step of the clock grid; between its points values run straight [s]."""

GRID_LEAST = 2
"""Grid points needed to draw a line between."""

PERCENT = 100.0

SUN_ABSORBED_SHARE = 0.175
"""Heat that reaches the skin over sunlight on level ground: about a quarter of a standing body
faces the sun, clothes and skin take up about 0.7 of it; an assumption, 0.1 to 0.25."""

SUN_ABSORBED_RANGE = (0.10, 0.25)
"""Range of the same."""

NIGHT_BELOW_DEG = -6.0
"""Sun height below which it is too dark to walk without light: end of civil twilight [deg]."""


class Moment(NamedTuple):
    """What surrounds each walker at one instant; every field has shape (n,).

    Attributes
    ----------
    sun_deg : ndarray of float64
        Geometric height of the sun [deg].
    air_c : ndarray of float64
        Air temperature [degC].
    humidity_pct : ndarray of float64
        Relative humidity [%].
    wind_m_s : ndarray of float64
        Wind 10 m above open ground [m/s].
    rain_mm_h : ndarray of float64
        Rain [mm/h].
    radiant_w_m2 : ndarray of float64
        Heat taken up from the sun per square metre of skin [W/m2].
    felt_c : ndarray of float64
        Felt temperature [degC]; NaN where the weather is beyond the published indices.
    """

    sun_deg: NDArray[np.float64]
    air_c: NDArray[np.float64]
    humidity_pct: NDArray[np.float64]
    wind_m_s: NDArray[np.float64]
    rain_mm_h: NDArray[np.float64]
    radiant_w_m2: NDArray[np.float64]
    felt_c: NDArray[np.float64]

    @property
    def night(self) -> NDArray[np.bool_]:
        """Whether civil twilight is over."""
        return self.sun_deg < NIGHT_BELOW_DEG


@dataclass(frozen=True, slots=True)
class Conditions:
    """Sun height and weather at one place on a regular clock.

    Attributes
    ----------
    start_epoch_s : float
        First instant of the grid, seconds since 1970-01-01 UTC.
    values : (T, 7) float64
        Columns in the order of ``Moment``, every ``CLOCK_STEP_S`` seconds.
    columns, rises : tuple of (T - 1,) float64
        Each column at the start of every grid step, and what it gains in the step; a rise of None
        stands for a column that never changes. Made from ``values``, since a look-up down one
        short array is far faster than across a table.
    """

    start_epoch_s: float
    values: NDArray[np.float64]
    columns: tuple[NDArray[np.float64], ...] = field(init=False, repr=False, compare=False)
    rises: tuple[NDArray[np.float64] | None, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Lay the columns out for looking up."""
        gains = np.diff(self.values, axis=0).T
        columns = tuple(np.ascontiguousarray(column) for column in self.values[:-1].T)
        rises = tuple(np.ascontiguousarray(gain) if gain.any() else None for gain in gains)
        object.__setattr__(self, "columns", columns)
        object.__setattr__(self, "rises", rises)

    @property
    def end_epoch_s(self) -> float:
        """Last instant that is known; beyond it the last values are held."""
        return self.start_epoch_s + CLOCK_STEP_S * float(self.values.shape[0] - 1)

    def at(self, epoch_s: NDArray[np.float64]) -> Moment:
        """Look up instants, straight lines between grid points.

        Parameters
        ----------
        epoch_s : (n,) float64
            Instants inside the grid.

        Returns
        -------
        Moment
            One value a walker.
        """
        place = (epoch_s - self.start_epoch_s) / CLOCK_STEP_S
        index = np.minimum(np.maximum(place.astype(np.intp), 0), self.values.shape[0] - 2)
        share = np.minimum(place - index, 1.0)
        return Moment(
            *(
                np.full(share.shape, column[0])
                if rise is None
                else column.take(index) + share * rise.take(index)
                for column, rise in zip(self.columns, self.rises, strict=True)
            )
        )


def differing(moment: Moment, error: WeatherError) -> Moment:
    """Give the weather of walkers for whom it differs from the common one."""
    air_c = moment.air_c + error.air_c
    humidity_pct = np.clip(moment.humidity_pct + error.humidity_pct, 0.0, PERCENT)
    wind_m_s = moment.wind_m_s * error.wind_factor
    return Moment(
        sun_deg=moment.sun_deg,
        air_c=air_c,
        humidity_pct=humidity_pct,
        wind_m_s=wind_m_s,
        rain_mm_h=moment.rain_mm_h * error.rain_factor,
        radiant_w_m2=moment.radiant_w_m2 * error.sun_factor,
        felt_c=np.asarray(felt_c(air_c, humidity_pct, wind_m_s)),
    )


def conditions_over(
    weather: Weather, *, lat: float, lon: float, start_epoch_s: float, hours: float
) -> Conditions:
    """Lay sun and weather on the clock grid for one place.

    Parameters
    ----------
    weather : Weather
        Covers the whole span.
    lat, lon : float
        The place [deg]; the middle of the way stands for all of it.
    start_epoch_s : float
        Start of the span, seconds since 1970-01-01 UTC.
    hours : float
        Length of the span [h].

    Returns
    -------
    Conditions
        From the start to ``hours`` later, or to where the weather is last known.

    Raises
    ------
    ValueError
        When the weather is not known for the first two grid points.
    """
    # Every grid has its points at the same moments, so that one moment looks alike in all of them.
    early_s = start_epoch_s % CLOCK_STEP_S
    if early_s and np.isfinite(weather.at(np.array([start_epoch_s - early_s])).air_c).all():
        start_epoch_s, hours = start_epoch_s - early_s, hours + early_s / 3600.0
    steps = int(np.ceil(hours * 3600.0 / CLOCK_STEP_S)) + 2
    epoch_s = start_epoch_s + CLOCK_STEP_S * np.arange(steps)
    sky = weather.at(epoch_s)
    height = elevation_series(lat, lon, epoch_s)
    radiant = SUN_ABSORBED_SHARE * solar_w_m2(height, sky.cloud_pct)
    felt = np.asarray(felt_c(sky.air_c, sky.humidity_pct, sky.wind_m_s))
    values = np.column_stack(
        [height, sky.air_c, sky.humidity_pct, sky.wind_m_s, sky.rain_mm_h, radiant, felt]
    )
    # A felt temperature beyond the published indices is not known though the weather is.
    unknown = np.flatnonzero(~np.isfinite(values[:, :-1]).all(axis=1))
    known = int(unknown[0]) if unknown.size else steps
    if known < GRID_LEAST:
        message = "the weather does not cover the start"
        raise ValueError(message)
    return Conditions(start_epoch_s=start_epoch_s, values=values[:known])


def weather_at(
    conditions: Conditions, epoch_s: NDArray[np.float64], error: WeatherError | None
) -> Moment:
    """Look the weather of walks up at several instants each.

    Parameters
    ----------
    conditions : Conditions
        Sun and weather by the clock.
    epoch_s : (H, N) float64
        Instants of N walks [s].
    error : WeatherError or None
        How the walks' weather differs.

    Returns
    -------
    Moment
        Of (H, N) values each.
    """
    moment = conditions.at(epoch_s.ravel())
    if error is not None:
        moment = differing(
            moment, some_of(error, np.tile(np.arange(epoch_s.shape[1]), len(epoch_s)))
        )
    return Moment(*(column.reshape(epoch_s.shape) for column in moment))
