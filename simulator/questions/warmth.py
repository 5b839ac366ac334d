"""Whether the party stays warm enough through its night halts."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.assumed import (
    ASSUMED_CLO,
    TARP_WIND_SHARE,
    WET_INSULATION_SHARE,
    wet_clothing_clo,
)
from simulator.body.halt import halt_warmth
from simulator.ground.kinds import PLACE_RULES
from simulator.units import Units
from simulator.walk.records import Doing, Total

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked
    from simulator.walk.halts import Halt

SAMPLES = 24
"""Instants at which the weather of a halt is looked up."""


class Warm(NamedTuple):
    """What is assumed of the warmth in a bag and of a roof without walls.

    Attributes
    ----------
    bag_factor : float
        Insulation of what the bag carries over what its list says.
    wind_share : float
        Wind left under a roof without walls.
    wet_share : float
        Insulation that soaked clothes keep.
    """

    bag_factor: float
    wind_share: float
    wet_share: float


_BLANKET = ASSUMED_CLO["blanket"]

WARM = {
    "low": Warm(_BLANKET.low / _BLANKET.middle, TARP_WIND_SHARE.high, WET_INSULATION_SHARE.low),
    "middle": Warm(1.0, TARP_WIND_SHARE.middle, WET_INSULATION_SHARE.middle),
    "high": Warm(_BLANKET.high / _BLANKET.middle, TARP_WIND_SHARE.low, WET_INSULATION_SHARE.high),
}
"""The assumptions and both ends of their range; the list's numbers are given a blanket's."""


class HaltCold(NamedTuple):
    """The worst night halt.

    Attributes
    ----------
    hours : float
        Length [h]; NaN without a halt.
    short_clo : float
        Insulation missing [clo], 0 when enough; NaN without a halt, or when no model says.
    notes : tuple of str
        One sentence a halt.
    """

    hours: float
    short_clo: float
    notes: tuple[str, ...]


def halt_cold(scene: Scene, walked: Walked, *, end: str = "middle") -> HaltCold:
    """Compare the warmth each halt needs with what is worn and carried.

    The air of a shelter counts as cold as outside, since nobody knows whether it is heated; walls
    keep the wind off, a roof without walls keeps off half of it (assumed).

    Parameters
    ----------
    scene : Scene
        Weather, clothes and bag.
    walked : Walked
        With its halts.
    end : {"low", "middle", "high"}
        End of the range of what is assumed (``WARM``).

    Returns
    -------
    HaltCold
        The worst halt, and a sentence for each. A halt of which no model says whether it is warm
        enough is the worst.
    """
    assumed, units = WARM[end], Units(scene.plan.units)
    worst = HaltCold(float("nan"), float("nan"), ())
    notes = []
    for halt in walked.halts:
        began_s, ended_s = _span_s(walked, halt)
        hours = (ended_s - began_s) / 3600.0
        if hours <= 0.0:
            continue
        clock = scene.depart_epoch_s + np.linspace(began_s, ended_s, SAMPLES)
        sky = scene.conditions.at(clock)
        wind_share, where = _wind_share(scene, halt, assumed)
        night = halt_warmth(
            float(sky.air_c.min()),
            wind_share * float(sky.wind_m_s.max()),
            float(_worn_clo(scene, began_s, assumed).min()),
            assumed.bag_factor * scene.carried.warmth_clo / scene.walkers.count,
            hours,
        )
        short = 0.0 if bool(night.enough) else float(night.short_clo)
        notes.append(
            f"Halt of {hours:.1f} h {where}, down to {units.degrees(float(sky.air_c.min()))}: "
            f"{float(night.required_minimal_clo):.1f} clo is bearable, "
            f"{float(night.required_neutral_clo):.1f} clo is comfortable, "
            f"{float(night.available_clo):.1f} clo is worn and carried"
            + _missing(short)
            + (" It hangs on what the bag carries." if bool(night.hangs_on_bag) else "")
            + ("" if bool(night.in_range) else " Outside the standard's range: a rough figure.")
        )
        first, unknown = np.isnan(worst.hours), np.isnan(short)
        if first or unknown or short >= worst.short_clo:
            worst = HaltCold(hours, short, ())
    return HaltCold(worst.hours, worst.short_clo, tuple(notes))


def _missing(short_clo: float) -> str:
    """End the sentence of a halt."""
    if np.isnan(short_clo):
        return "; no model says whether that is enough."
    return "." if short_clo == 0.0 else f"; {short_clo:.1f} clo is missing."


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


ROOF = re.compile(r"\b(tarp(aulin)?|tent|bivv?y|bivouac)", re.IGNORECASE)
"""Names of shelter items that make a roof; a poncho does not."""


def carries_roof(scene: Scene) -> bool:
    """Say whether the bag holds a roof to sit out a night under.

    Parameters
    ----------
    scene : Scene
        With its bag.

    Returns
    -------
    bool
        True for an item of purpose shelter that is a tarp or tent by its name.
    """
    items = scene.items
    return items is not None and any(
        purpose == "shelter" and ROOF.search(name) is not None
        for name, purpose in zip(items.item, items.purpose, strict=True)
    )


def _wind_share(scene: Scene, halt: Halt, assumed: Warm) -> tuple[float, str]:
    """Share of the wind felt at the halt, and what the place is like."""
    place = halt.stop.place
    if place < 0:
        if carries_roof(scene):
            return assumed.wind_share, "under the tarp carried"
        return 1.0, "in the open"
    if PLACE_RULES[scene.places.kind[place]].always_open:
        return assumed.wind_share, "under a roof without walls"
    return 0.0, "behind walls, unheated"


def _worn_clo(scene: Scene, until_s: float, assumed: Warm) -> NDArray[np.float64]:
    """Insulation of the clothes when the halt begins; rain takes some unless kept off [clo]."""
    clothes = scene.walkers.clothing_clo
    if scene.items is not None and "shelter" in scene.items.purpose:
        return clothes
    clock = scene.depart_epoch_s + np.linspace(0.0, until_s, SAMPLES)
    rain_mm = float(scene.conditions.at(clock).rain_mm_h.mean()) * until_s / 3600.0
    return np.asarray(wet_clothing_clo(clothes, rain_mm, kept=assumed.wet_share))
