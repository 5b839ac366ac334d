"""Whether each of many walks stays warm enough through its night halts."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.assumed import TARP_WIND_SHARE, wet_clothing_clo
from simulator.body.halt import halt_warmth
from simulator.questions.warmth import SAMPLES, carries_roof
from simulator.walk.conditions import Moment, differing
from simulator.walk.records import some_of

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
    moment = conditions.at(clock.ravel())
    if crowd.error is not None:
        rows = np.tile(walks * crowd.members, SAMPLES)
        moment = differing(moment, some_of(crowd.error, rows))
    return Moment(*(column.reshape(clock.shape) for column in moment))


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
    if scene.items is not None and "shelter" in scene.items.purpose:
        return clothes
    sky = _weather(crowd, walks, np.zeros_like(from_s), from_s, conditions)
    rain_mm = sky.rain_mm_h.mean(axis=0) * from_s / HOUR_S
    return np.asarray(wet_clothing_clo(clothes, rain_mm))
