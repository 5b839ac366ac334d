"""Whether the party stays warm enough, hour by hour on the way and through its night halts."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.assumed import (
    ASSUMED_CLO,
    TARP_WIND_SHARE,
    WET_INSULATION_SHARE,
    wet_clothing_clo,
)
from simulator.body.energy import J_PER_KCAL
from simulator.body.warmth import (
    AIR_PERMEABILITY_L_M2_S,
    BODY_WIND_SHARE,
    LIMITS,
    WINDPROOF_L_M2_S,
    halt_warmth,
)
from simulator.body.water import body_area_m2
from simulator.ground.kinds import PLACE_RULES
from simulator.units import HOUR_S, Units
from simulator.walk.conditions import weather_at
from simulator.walk.ledger import Ledger, ledger_of
from simulator.walk.records import Doing, Total

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from simulator.home.scene import Scene
    from simulator.home.walked import Walked
    from simulator.walk.conditions import Conditions
    from simulator.walk.halts import Halt
    from simulator.walk.records import Walkers, WeatherError

RATE_LIMIT = next(limit for limit in LIMITS["iso_11079"] if limit.quantity == "metabolic_w_m2")
"""Metabolic rates that the standard reaches; others count as the nearest of them."""

AIR_LIMIT = next(limit for limit in LIMITS["iso_11079"] if limit.quantity == "air_c")
"""Air temperatures that the standard reaches. Wet and windy it chills far above them: the same
balance is carried on, and marked."""

COOL_UP_TO_C = 25.0
"""Warmest air in which clothes are asked about on foot [degC]; an assumption, 20 to 30."""

STRONGEST_M_S = 18.0 / BODY_WIND_SHARE
"""Wind that the standard reaches, 10 m above open ground; stronger counts as this [m/s]."""

WINDPROOF_FROM_CLO = 1.5
"""Clothes from which an outer coat that keeps the wind out is taken to be worn [clo]; an
assumption, 1.2 to 2. ``windproof`` in the plan says it for certain."""


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
    windproof: NDArray[np.bool_] | bool = False,
    wet_share: float = WET_INSULATION_SHARE.middle,
    left_out: NDArray[np.bool_] | None = None,
    error: WeatherError | None = None,
) -> Afoot:
    """Set what walkers wear against what each hour asks."""
    begins_s, long_s = hours_of(elapsed_s)
    sky = weather_at(conditions, depart_epoch_s + begins_s + 0.5 * long_s, error)
    rain_mm = np.cumsum(sky.rain_mm_h * long_s / HOUR_S, axis=0)
    wet = np.asarray(wet_clothing_clo(clothes_clo, rain_mm, kept=wet_share))
    worn = np.where(kept_dry, clothes_clo, wet)
    asked = (long_s > 0.0) & (sky.air_c <= COOL_UP_TO_C)
    if left_out is not None:
        asked &= ~left_out
    need = np.full(asked.shape, np.nan)
    if asked.any():
        found = halt_warmth(
            np.maximum(sky.air_c[asked], AIR_LIMIT.low),
            np.minimum(sky.wind_m_s[asked], STRONGEST_M_S),
            worn[asked],
            0.0,
            1.0,
            metabolic_w_m2=np.clip(
                _whole_hours(np.broadcast_to(rate_w_m2, asked.shape), long_s, left_out)[asked],
                RATE_LIMIT.low,
                RATE_LIMIT.high,
            ),
            humidity_pct=sky.humidity_pct[asked],
            permeability_l_m2_s=permeability_of(np.broadcast_to(windproof, asked.shape)[asked]),
        )
        need[asked] = found.required_minimal_clo
    return Afoot(need, worn, np.maximum(need - worn - carried_clo, 0.0))


def hours_of(elapsed_s: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Cut walks into hours since departure."""
    count = max(1, int(np.ceil(float(np.nanmax(elapsed_s, initial=0.0)) / HOUR_S)))
    begins_s: NDArray[np.float64] = HOUR_S * np.arange(count, dtype=np.float64)[:, None]
    return begins_s, np.clip(np.nan_to_num(elapsed_s) - begins_s, 0.0, HOUR_S)


def _whole_hours(
    rate_w_m2: NDArray[np.float64],
    long_s: NDArray[np.float64],
    left_out: NDArray[np.bool_] | None,
) -> NDArray[np.float64]:
    """Take the rate of an hour that is not whole over sixty minutes that end with it."""
    share = long_s[1:] / HOUR_S
    if left_out is not None:
        share = np.where(left_out[:-1], 1.0, share)
    blended = share * rate_w_m2[1:] + (1.0 - share) * rate_w_m2[:-1]
    part = (share > 0.0) & (share < 1.0)
    return np.concatenate([rate_w_m2[:1], np.where(part, blended, rate_w_m2[1:])])


def worst_of(lack_clo: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the most that lacks in any hour of each walk."""
    worst: NDArray[np.float64] = np.nan_to_num(lack_clo, nan=0.0).max(axis=0)
    return worst


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


HALT_FROM_S = 60.0
"""An hour with at least this much of a night halt is judged by the halt [s]; an assumption: the
halt asks for more than the walking."""

WALKING, HALT, NOT_ASKED = "walking", "halt", "not asked"
ROUGH_WALKING, ROUGH = "walking, outside the standard", "halt, outside the standard"
"""What the warmth of an hour was judged by, as ``warmth_basis`` in hours.csv says it."""

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
            permeability_l_m2_s=permeability_of(keeps_wind_out(scene).all()),
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


def afoot(scene: Scene, walked: Walked, *, end: str = "middle") -> Afoot:
    """Set what the party wears against what each hour on foot asks."""
    assumed, walkers = WARM[end], scene.walkers
    rate_w, halting = hourly_rates(scene, walked)
    return on_foot(
        scene.conditions,
        np.full(walkers.count, scene.depart_epoch_s),
        walked.outcome.totals[Total.CLOCK_S],
        rate_w / np.asarray(body_area_m2(walkers.mass_kg, walkers.height_m)),
        walkers.clothing_clo,
        assumed.bag_factor * scene.carried.walking_clo / walkers.count,
        kept_dry=keeps_dry(scene),
        windproof=keeps_wind_out(scene),
        wet_share=assumed.wet_share,
        left_out=halting,
    )


def hourly_rates(scene: Scene, walked: Walked) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Give the mean metabolic rate of each hour, and which hours belong to a night halt."""
    ledger = _ledger(scene, walked)
    edges = ledger.edge_s[:, 0]
    kcal = ledger.of(Total.ENERGY_KCAL)[:, 0]
    rate = np.diff(kcal, axis=0) * J_PER_KCAL / np.diff(edges)[:, None]
    halting = np.array([_halt_in(walked, *hour) is not None for hour in itertools.pairwise(edges)])
    return rate, np.repeat(halting[:, None], rate.shape[1], axis=1)


def with_warmth(scene: Scene, walked: Walked, hours: pd.DataFrame) -> pd.DataFrame:
    """Set what is worn against what each hour asks, as columns of the ledger."""
    found, edges = afoot(scene, walked), _ledger(scene, walked).edge_s[:, 0]
    middle = scene.depart_epoch_s + 0.5 * (edges[1:] + edges[:-1])
    sky = scene.conditions.at(middle)
    rows = []
    for hour, ends in enumerate(itertools.pairwise(edges.tolist())):
        halt = _halt_in(walked, *ends)
        if halt is None:
            backed = bool(sky.air_c[hour] <= AIR_LIMIT.high)
            rows.append(_on_foot(found.worn_clo[hour], found.need_clo[hour], backed=backed))
        else:
            weather = (float(sky.air_c[hour]), float(sky.wind_m_s[hour]))
            rows.append(_at_halt(scene, halt, *_span_s(walked, halt), weather))
    have, need, short, basis = zip(*rows, strict=True)
    return hours.assign(
        warmth_have_clo=have, warmth_need_clo=need, warmth_short_clo=short, warmth_basis=basis
    )


def _ledger(scene: Scene, walked: Walked) -> Ledger:
    """Cut the walk into its hours."""
    length_m = walked.way.course.length_m
    return ledger_of(walked.outcome, members=scene.walkers.count, length_m=length_m)


def _halt_in(walked: Walked, begins_s: float, ends_s: float) -> Halt | None:
    """Find the night halt that an hour belongs to."""
    for halt in walked.halts:
        since, until = _span_s(walked, halt)
        if min(ends_s, until) - max(begins_s, since) >= HALT_FROM_S:
            return halt
    return None


LACK_CLO = 0.1
"""Clothes lacking on foot that are worth a word [clo]; an assumption, 0.05 to 0.2."""


def layer_caution(hours: pd.DataFrame) -> list[str]:
    """Say in which hours on foot the clothes are too thin."""
    walking = hours["warmth_basis"].isin([WALKING, ROUGH_WALKING])
    thin = hours[walking & (hours["warmth_short_clo"] >= LACK_CLO)]
    if thin.empty:
        return []
    most = float(thin["warmth_short_clo"].max())
    first, last = int(thin["hour"].iloc[0]) + 1, int(thin["hour"].iloc[-1]) + 1
    when = f"in hour {first}" if first == last else f"between hours {first} and {last}"
    # A long-sleeved sweater adds 0.25 (thin) to 0.36 clo (thick): ASHRAE 55, table of garments;
    # from memory.
    return [
        (
            f"Clothes: {when} up to {most:.1f} clo is lacking on foot. Put on a layer more, such "
            "as a jumper (about 0.3 clo) or a windproof jacket, before you are cold, and keep "
            "rests short."
        )
    ]


def _on_foot(
    have: NDArray[np.float64], need: NDArray[np.float64], *, backed: bool
) -> tuple[float, float, float, str]:
    """Give clothes, need and lack of the member who lacks most while walking [clo]."""
    if not np.isfinite(need).all():
        return float(have.min()), float("nan"), float("nan"), NOT_ASKED
    worst = int(np.argmax(need - have))
    lack = max(float(need[worst] - have[worst]), 0.0)
    return float(have[worst]), float(need[worst]), lack, WALKING if backed else ROUGH_WALKING


def _at_halt(
    scene: Scene, halt: Halt, since: float, until: float, weather: tuple[float, float]
) -> tuple[float, float, float, str]:
    """Give clothes, need and lack of the member who lacks most in an hour of a halt [clo]."""
    assumed = WARM["middle"]
    air_c, wind_m_s = weather
    night = halt_warmth(
        air_c,
        _wind_share(scene, halt, assumed)[0] * wind_m_s,
        float(_worn_clo(scene, since, assumed).min()),
        assumed.bag_factor * scene.carried.warmth_clo / scene.walkers.count,
        (until - since) / HOUR_S,
        permeability_l_m2_s=permeability_of(keeps_wind_out(scene).all()),
    )
    lack = 0.0 if bool(night.enough) else float(night.short_clo)
    basis = HALT if bool(night.in_range) else ROUGH
    return float(night.available_clo), float(night.required_minimal_clo), lack, basis


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


def carries_roof(scene: Scene) -> bool:
    """Say whether the bag holds a roof to sit out a night under; a poncho is none."""
    return scene.items is not None and bool(scene.items.is_a("tarp").any())


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


def keeps_dry(scene: Scene) -> bool:
    """Say whether the bag holds something for each walker that keeps the rain off.

    Parameters
    ----------
    scene : Scene
        The loaded plan.

    Returns
    -------
    bool
        True when there is rainwear for everyone.
    """
    return scene.carried.rainwear >= scene.walkers.count


def keeps_wind_out(scene: Scene) -> NDArray[np.bool_]:
    """Say of each walker whether the wind is kept out."""
    return windproof_of(scene.walkers)


def windproof_of(walkers: Walkers) -> NDArray[np.bool_]:
    """Say of each walker whether the clothes walked in keep the wind out."""
    thick: NDArray[np.bool_] = walkers.clothing_clo >= WINDPROOF_FROM_CLO
    # NaN is not said: then thick clothes are taken for a coat.
    return np.where(np.isnan(walkers.windproof), thick, walkers.windproof == 1.0)


def permeability_of(windproof: NDArray[np.bool_] | np.bool_) -> NDArray[np.float64]:
    """Give the air permeability of the outer layer, on foot and at a halt alike [L/(m2 s)]."""
    return np.where(windproof, WINDPROOF_L_M2_S, AIR_PERMEABILITY_L_M2_S)


def _worn_clo(scene: Scene, until_s: float, assumed: Warm) -> NDArray[np.float64]:
    """Insulation of the clothes when the halt begins; rain takes some unless kept off [clo]."""
    clothes = scene.walkers.clothing_clo
    if keeps_dry(scene):
        return clothes
    clock = scene.depart_epoch_s + np.linspace(0.0, until_s, SAMPLES)
    rain_mm = float(scene.conditions.at(clock).rain_mm_h.mean()) * until_s / 3600.0
    return np.asarray(wet_clothing_clo(clothes, rain_mm, kept=assumed.wet_share))
