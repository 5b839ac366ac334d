"""Whether each of many walks stays warm enough, on foot and through its night halts."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.assumed import TARP_WIND_SHARE, wet_clothing_clo
from simulator.body.energy import J_PER_KCAL
from simulator.body.halt import halt_warmth
from simulator.body.water import body_area_m2
from simulator.questions.afoot import hours_of, on_foot, weather_at, worst_of
from simulator.questions.warmth import HALT_FROM_S, SAMPLES, carries_roof, keeps_dry
from simulator.walk.conditions import Moment
from simulator.walk.records import HOURLY, Total, some_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.crowd_records import Crowd
    from simulator.questions.scene import Scene
    from simulator.walk.conditions import Conditions
    from simulator.walk.day import Halted
    from simulator.walk.records import Outcome

HOUR_S = 3600.0


class Nights(NamedTuple):
    """The worst night halt of each walk.

    Attributes
    ----------
    hours, short_clo : (n,) float64
        Length [h] and missing insulation [clo]; NaN without a halt.
    """

    hours: NDArray[np.float64]
    short_clo: NDArray[np.float64]


def halt_warmth_of(scene: Scene, crowd: Crowd, outcome: Outcome, conditions: Conditions) -> Nights:
    """Compare the warmth of every halt with what is worn and carried, as the main question does.

    Parameters
    ----------
    scene : Scene
        Bag and clothes.
    crowd : Crowd
        n walks.
    outcome : Outcome
        With its halts.
    conditions : Conditions
        Weather through the night.

    Returns
    -------
    Nights
        The halt that lacks most, of each walk.
    """
    worst = Nights(np.full(crowd.count, np.nan), np.full(crowd.count, np.nan))
    for halted in outcome.halted:
        alone = halted.rows % crowd.members == 0
        walks = halted.rows[alone] // crowd.members
        hours = (halted.until_s - halted.from_s)[alone] / HOUR_S
        long = hours > 0.0
        walks, hours = walks[long], hours[long]
        if walks.size == 0:
            continue
        from_s, until_s = halted.from_s[alone][long], halted.until_s[alone][long]
        sky = _weather(crowd, walks, from_s, until_s, conditions)
        night = halt_warmth(
            sky.air_c.min(axis=0),
            _wind_share(scene, halted) * sky.wind_m_s.max(axis=0),
            _worn_clo(scene, crowd, walks, from_s, conditions),
            scene.carried.warmth_clo / crowd.members,
            hours,
        )
        short = np.where(night.enough, 0.0, night.short_clo)
        worse = ~(worst.short_clo[walks] > short)
        worst.hours[walks[worse]] = hours[worse]
        worst.short_clo[walks[worse]] = short[worse]
    return worst


def _wind_share(scene: Scene, halted: Halted) -> float:
    """Share of the wind felt at the halt: walls keep it off, a roof without walls half of it."""
    if halted.place < 0:
        return TARP_WIND_SHARE.middle if carries_roof(scene) else 1.0
    return TARP_WIND_SHARE.middle if scene.places.always_open[halted.place] else 0.0


def _weather(
    crowd: Crowd,
    walks: NDArray[np.intp],
    from_s: NDArray[np.float64],
    until_s: NDArray[np.float64],
    conditions: Conditions,
) -> Moment:
    """Look the weather of each walk up over a span, shape (SAMPLES, m)."""
    clock = crowd.depart_epoch_s[walks] + np.linspace(from_s, until_s, SAMPLES)
    error = None if crowd.error is None else some_of(crowd.error, walks * crowd.members)
    return weather_at(conditions, clock, error)


def _worn_clo(
    scene: Scene,
    crowd: Crowd,
    walks: NDArray[np.intp],
    from_s: NDArray[np.float64],
    conditions: Conditions,
) -> NDArray[np.float64]:
    """Insulation of the thinnest clothes when the halt begins; rain takes some unless kept off."""
    clothing = crowd.walkers.clothing_clo.reshape(-1, crowd.members)
    clothes: NDArray[np.float64] = clothing[walks].min(axis=1)
    if keeps_dry(scene):
        return clothes
    sky = _weather(crowd, walks, np.zeros_like(from_s), from_s, conditions)
    rain_mm = sky.rain_mm_h.mean(axis=0) * from_s / HOUR_S
    return np.asarray(wet_clothing_clo(clothes, rain_mm))


def foot_short_of(
    scene: Scene, crowd: Crowd, outcome: Outcome, conditions: Conditions
) -> NDArray[np.float64]:
    """Say what clothes lack on foot, as the main question does.

    Parameters
    ----------
    scene : Scene
        Bag and clothes.
    crowd : Crowd
        n walks.
    outcome : Outcome
        With its hourly totals and halts.
    conditions : Conditions
        Weather through all walks.

    Returns
    -------
    (n,) float64
        Of the member who lacks most, in the hour that lacks most [clo].
    """
    walkers, total = crowd.walkers, outcome.totals
    elapsed_s = total[Total.CLOCK_S]
    begins_s, long_s = hours_of(elapsed_s)
    kcal = _at_hours(outcome, len(begins_s))
    rate_w = np.diff(kcal, axis=0) * J_PER_KCAL / np.where(long_s > 0.0, long_s, np.nan)
    left_out = np.zeros(long_s.shape, dtype=bool)
    for halted in outcome.halted:
        shared = np.minimum(begins_s + long_s[:, halted.rows], halted.until_s)
        shared -= np.maximum(begins_s, halted.from_s)
        left_out[:, halted.rows] |= shared >= HALT_FROM_S
    found = on_foot(
        conditions,
        np.repeat(crowd.depart_epoch_s, crowd.members),
        elapsed_s,
        rate_w / body_area_m2(walkers.mass_kg, walkers.height_m),
        walkers.clothing_clo,
        scene.carried.warmth_clo / crowd.members,
        kept_dry=keeps_dry(scene),
        left_out=left_out,
        error=crowd.error,
    )
    worst: NDArray[np.float64] = worst_of(found.lack_clo).reshape(-1, crowd.members).max(axis=1)
    return worst


def _at_hours(outcome: Outcome, count: int) -> NDArray[np.float64]:
    """Energy used up to each hour's edges, the last one's on arrival, shape (count + 1, n)."""
    total = outcome.totals
    used, elapsed_s = total[Total.ENERGY_KCAL], total[Total.CLOCK_S]
    edges_s = HOUR_S * np.arange(count + 1)[:, None]
    # Hours beyond the record, and the one of arrival, are filled with the walk's mean rate.
    kcal: NDArray[np.float64] = used * np.minimum(edges_s / elapsed_s, 1.0)
    if outcome.hourly is not None:
        kept = outcome.hourly[:count, 1 + HOURLY.index(Total.ENERGY_KCAL)]
        known = np.isfinite(kept)
        kcal[1 : len(kept) + 1][known] = kept[known]
    return kcal
