"""Whether the party stays warm enough through its night halts."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.assumed import TARP_WIND_SHARE, wet_clothing_clo
from simulator.body.halt import halt_warmth
from simulator.ground.kinds import PLACE_RULES
from simulator.walk.records import Doing, Total

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked
    from simulator.walk.halts import Halt

SAMPLES = 24
"""Instants at which the weather of a halt is looked up."""


class HaltCold(NamedTuple):
    """The worst night halt.

    Attributes
    ----------
    hours : float
        Length [h]; NaN without a halt.
    short_clo : float
        Insulation missing [clo], 0 when enough; NaN without a halt.
    notes : tuple of str
        One sentence a halt.
    """

    hours: float
    short_clo: float
    notes: tuple[str, ...]


def halt_cold(scene: Scene, walked: Walked) -> HaltCold:
    """Compare the warmth each halt needs with what is worn and carried.

    The air of a shelter counts as cold as outside, since nobody knows whether it is heated; walls
    keep the wind off, a roof without walls keeps off half of it (assumed).

    Parameters
    ----------
    scene : Scene
        Weather, clothes and bag.
    walked : Walked
        With its halts.

    Returns
    -------
    HaltCold
        The worst halt, and a sentence for each.
    """
    worst = HaltCold(float("nan"), float("nan"), ())
    notes = []
    for halt in walked.halts:
        began_s, ended_s = _span_s(walked, halt)
        hours = (ended_s - began_s) / 3600.0
        if hours <= 0.0:
            continue
        clock = scene.depart_epoch_s + np.linspace(began_s, ended_s, SAMPLES)
        sky = scene.conditions.at(clock)
        wind_share, where = _wind_share(scene, halt)
        night = halt_warmth(
            float(sky.air_c.min()),
            wind_share * float(sky.wind_m_s.max()),
            float(_worn_clo(scene, began_s).min()),
            scene.carried.warmth_clo / scene.walkers.count,
            hours,
        )
        short = 0.0 if bool(night.enough) else float(night.short_clo)
        notes.append(
            f"Halt of {hours:.1f} h {where}, down to {sky.air_c.min():.0f} °C: "
            f"{float(night.required_minimal_clo):.1f} clo is bearable, "
            f"{float(night.required_neutral_clo):.1f} clo is comfortable, "
            f"{float(night.available_clo):.1f} clo is worn and carried"
            + ("." if short == 0.0 else f"; {short:.1f} clo is missing.")
            + (" It hangs on what the bag carries." if bool(night.hangs_on_bag) else "")
            + ("" if bool(night.in_range) else " Outside the standard's range: a rough figure.")
        )
        if not worst.short_clo > short:
            worst = HaltCold(hours, short, ())
    return HaltCold(worst.hours, worst.short_clo, tuple(notes))


def _span_s(walked: Walked, halt: Halt) -> tuple[float, float]:
    """When a halt begins and ends, since departure [s]."""
    trace = walked.outcome.trace
    if trace is None:
        message = "halts are read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    events = np.flatnonzero(
        (trace.doing == Doing.STOP) & (trace.stop == walked.stops.index(halt.stop))
    )
    clock = trace.totals[:, Total.CLOCK_S, 0]
    return float(clock[events[0] - 1]), float(clock[events[0]])


def _wind_share(scene: Scene, halt: Halt) -> tuple[float, str]:
    """Share of the wind felt at the halt, and what the place is like."""
    place = halt.stop.place
    if place < 0:
        return 1.0, "in the open"
    if PLACE_RULES[scene.places.kind[place]].always_open:
        return TARP_WIND_SHARE.middle, "under a roof without walls"
    return 0.0, "behind walls, unheated"


def _worn_clo(scene: Scene, until_s: float) -> NDArray[np.float64]:
    """Insulation of the clothes when the halt begins; rain takes some unless kept off [clo]."""
    clothes = scene.walkers.clothing_clo
    if scene.items is not None and "shelter" in scene.items.purpose:
        return clothes
    clock = scene.depart_epoch_s + np.linspace(0.0, until_s, SAMPLES)
    rain_mm = float(scene.conditions.at(clock).rain_mm_h.mean()) * until_s / 3600.0
    return np.asarray(wet_clothing_clo(clothes, rain_mm))
