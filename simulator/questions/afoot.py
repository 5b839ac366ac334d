"""Whether clothes are warm enough on foot, hour by hour; the same for one walk and for thousands.

The balance is that of ISO 11079 at the hour's mean metabolic rate, its rests included (averaging
over work and rest is common practice; the last hour, which is not whole, at that of the sixty
minutes before home), in the weather of its middle, with the clothes walked in, rain counted. It is
asked within the standard's reach only, so not in air above 10 degC.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.assumed import WET_INSULATION_SHARE, wet_clothing_clo
from simulator.body.halt import LIMITS, halt_warmth
from simulator.walk.conditions import Moment, differing
from simulator.walk.records import some_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions
    from simulator.walk.records import WeatherError

HOUR_S = 3600.0

AIR_LIMIT = next(limit for limit in LIMITS["iso_11079"] if limit.quantity == "air_c")
"""Air temperatures that the standard reaches."""


class Afoot(NamedTuple):
    """What each hour on foot asks, shape (H, n); NaN where it is not asked or the walk is over.

    Attributes
    ----------
    need_clo : ndarray of float64
        Cold but bearable [clo].
    worn_clo : ndarray of float64
        What is worn, less what rain takes [clo].
    lack_clo : ndarray of float64
        What lacks with all that the bag holds put on [clo].
    """

    need_clo: NDArray[np.float64]
    worn_clo: NDArray[np.float64]
    lack_clo: NDArray[np.float64]


def on_foot(
    conditions: Conditions,
    depart_epoch_s: NDArray[np.float64],
    elapsed_s: NDArray[np.float64],
    rate_w_m2: NDArray[np.float64],
    clothes_clo: NDArray[np.float64],
    carried_clo: NDArray[np.float64] | float,
    *,
    kept_dry: NDArray[np.bool_] | bool,
    wet_share: float = WET_INSULATION_SHARE.middle,
    left_out: NDArray[np.bool_] | None = None,
    error: WeatherError | None = None,
) -> Afoot:
    """Set what walkers wear against what each hour asks.

    Parameters
    ----------
    conditions : Conditions
        Weather through all walks.
    depart_epoch_s : (n,) float64
        Departures, seconds since 1970-01-01 UTC.
    elapsed_s : (n,) float64
        Departure to home [s].
    rate_w_m2 : (n,) or (H, n) float64
        Metabolic rate, W per m2 of skin.
    clothes_clo : (n,) float64
        Insulation of the clothes when dry [clo].
    carried_clo : float or (n,) float64
        What the bag adds [clo]. A blanket counts as a cloak, as its list says: on the high side.
    kept_dry : bool or (n,) bool
        Whether something keeps the rain off.
    wet_share : float
        Insulation that soaked clothes keep.
    left_out : (H, n) bool, optional
        Hours not to ask of, e.g. of a night halt.
    error : WeatherError, optional
        Weather of one's own.

    Returns
    -------
    Afoot
        H is the longest walk's hours.
    """
    begins_s, long_s = hours_of(elapsed_s)
    sky = weather_at(conditions, depart_epoch_s + begins_s + 0.5 * long_s, error)
    rain_mm = np.cumsum(sky.rain_mm_h * long_s / HOUR_S, axis=0)
    wet = np.asarray(wet_clothing_clo(clothes_clo, rain_mm, kept=wet_share))
    worn = np.where(kept_dry, clothes_clo, wet)
    asked = (long_s > 0.0) & (sky.air_c >= AIR_LIMIT.low) & (sky.air_c <= AIR_LIMIT.high)
    if left_out is not None:
        asked &= ~left_out
    need = np.full(asked.shape, np.nan)
    if asked.any():
        found = halt_warmth(
            sky.air_c[asked],
            sky.wind_m_s[asked],
            worn[asked],
            0.0,
            1.0,
            metabolic_w_m2=_whole_hours(np.broadcast_to(rate_w_m2, asked.shape), long_s)[asked],
            humidity_pct=sky.humidity_pct[asked],
        )
        need[asked] = np.where(found.in_range, found.required_minimal_clo, np.nan)
    return Afoot(need, worn, np.maximum(need - worn - carried_clo, 0.0))


def hours_of(elapsed_s: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cut walks into hours since departure.

    Parameters
    ----------
    elapsed_s : (n,) float64
        Departure to home [s]; a walk that is not known has no hours.

    Returns
    -------
    begins_s : (H, 1) float64
        Begin of each hour, as many as the longest walk has [s].
    long_s : (H, n) float64
        How much of it each walk takes [s].
    """
    count = max(1, int(np.ceil(float(np.nanmax(elapsed_s, initial=0.0)) / HOUR_S)))
    begins_s: NDArray[np.float64] = HOUR_S * np.arange(count, dtype=np.float64)[:, None]
    return begins_s, np.clip(np.nan_to_num(elapsed_s) - begins_s, 0.0, HOUR_S)


def _whole_hours(
    rate_w_m2: NDArray[np.float64], long_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Take the rate of an hour that is not whole over sixty minutes that end with it."""
    share = long_s[1:] / HOUR_S
    blended = share * rate_w_m2[1:] + (1.0 - share) * rate_w_m2[:-1]
    part = (share > 0.0) & (share < 1.0)
    return np.concatenate([rate_w_m2[:1], np.where(part, blended, rate_w_m2[1:])])


def weather_at(
    conditions: Conditions, epoch_s: NDArray[np.float64], error: WeatherError | None
) -> Moment:
    """Look the weather of walks up at several instants each.

    Parameters
    ----------
    conditions : Conditions
        Weather through all walks.
    epoch_s : (H, n) float64
        Instants, seconds since 1970-01-01 UTC.
    error : WeatherError or None
        Weather of one's own, n values a field.

    Returns
    -------
    Moment
        Shape (H, n).
    """
    moment = conditions.at(epoch_s.ravel())
    if error is not None:
        moment = differing(
            moment, some_of(error, np.tile(np.arange(epoch_s.shape[1]), len(epoch_s)))
        )
    return Moment(*(column.reshape(epoch_s.shape) for column in moment))


def worst_of(lack_clo: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the most that lacks in any hour of each walk.

    Parameters
    ----------
    lack_clo : (H, n) float64
        From `on_foot`.

    Returns
    -------
    (n,) float64
        0 where nothing lacks or nothing is asked [clo].
    """
    worst: NDArray[np.float64] = np.nan_to_num(lack_clo, nan=0.0).max(axis=0)
    return worst
