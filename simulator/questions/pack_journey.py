"""A walked way as the plain numbers that the bag is held against."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.bag.demand import Cold, Journey
from simulator.body.assumed import TARP_WIND_SHARE, wet_clothing_clo
from simulator.body.food import GLYCOGEN_KCAL, W_PER_KCAL_H
from simulator.body.halt import LEAST_AIR_SPEED_M_S, LIMITS, halt_warmth, required_clo
from simulator.body.heat import BODY_WIND_SHARE
from simulator.body.water import body_area_m2
from simulator.questions.refilling import read_places
from simulator.questions.warmth import halt_cold
from simulator.walk.halts import next_first_light
from simulator.walk.records import Doing, Total

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked
    from simulator.walk.records import Outcome

HOUR_S: Final = 3600.0

WARMEST_C: Final = next(limit.high for limit in LIMITS["iso_11079"] if limit.quantity == "air_c")
"""Air temperature above which the standard for cold says nothing [degC]."""

SAMPLES: Final = 24
"""Instants at which the weather of a span is looked up."""

LEAST_SPAN_H: Final = 0.5
"""A last hour shorter than this is reckoned with the one before [h]."""

LEAST_AFOOT_H: Final = 0.1
"""Time afoot within an hour from which its effort is reckoned [h]."""

LOOKED_AT_ML: Final = 1.0
"""Treatment that a bag is lent, to learn which raw water could be relied on with some [ml]."""


def journey_of(scene: Scene, walked: Walked) -> Journey:
    """Give a walk as running totals, water places and cold hours.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        From ``walk_way``; recorded.

    Returns
    -------
    Journey
        For `simulator.bag.balance.against`.
    """
    outcome = walked.outcome
    if outcome.trace is None:
        message = "the bag is held against a recorded walk; simulate with record=True"
        raise ValueError(message)
    total = outcome.trace.totals
    safe_h, raw_h = _water_h(scene, walked)
    return Journey(
        walkers=scene.walkers.count,
        clock_h=total[:, Total.CLOCK_S, 0] / HOUR_S,
        lost_ml=total[:, Total.LOST_ML].sum(axis=1),
        energy_kcal=total[:, Total.ENERGY_KCAL].sum(axis=1),
        unlit_h=total[:, Total.LIGHT_NEED_S].max(axis=1) / HOUR_S,
        distance_km=outcome.trace.distance_m / 1000.0,
        safe_h=safe_h,
        raw_h=raw_h,
        cold=(_cold_on_the_move(scene, outcome), *_cold_at_halts(scene, walked)),
        store_kcal=GLYCOGEN_KCAL[0],
    )


def _water_h(scene: Scene, walked: Walked) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """When water that can be relied on is passed: safe, and raw whether or not it is treated."""
    lent = replace(scene.carried, treats_ml=max(scene.carried.treats_ml, LOOKED_AT_ML))
    reading = read_places(replace(scene, carried=lent), walked.nearby, walked.outcome)
    safe: list[float] = []
    raw: list[float] = []
    for row, place in enumerate(walked.nearby.place.tolist()):
        if "water" in scene.places.gives[place] and reading.relied_on[row]:
            kind = raw if scene.places.needs_treatment[place] else safe
            kind.append(float(reading.arrive_s[row]) / HOUR_S)
    return tuple(safe), tuple(raw)


def _worn_clo(scene: Scene, until_h: float) -> NDArray[np.float64]:
    """Insulation of each walker's clothes by then; rain takes some unless kept off [clo]."""
    clothes = scene.walkers.clothing_clo
    if scene.items is not None and scene.items.of("shelter").any():
        return clothes
    clock = scene.depart_epoch_s + np.linspace(0.0, until_h * HOUR_S, SAMPLES)
    rain_mm = float(scene.conditions.at(clock).rain_mm_h.mean()) * until_h
    return np.asarray(wet_clothing_clo(clothes, rain_mm))


def _cold_on_the_move(scene: Scene, outcome: Outcome) -> Cold:
    """Find the hour, and the walker, with least clothing for the heat made by walking."""
    trace = outcome.trace
    if trace is None:
        message = "warmth is read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    clock_h = trace.totals[:, Total.CLOCK_S, 0] / HOUR_S
    edges = np.append(np.arange(0.0, clock_h[-1], 1.0), clock_h[-1])
    if edges[-2] > 0.0 and edges[-1] - edges[-2] < LEAST_SPAN_H:
        edges = np.delete(edges, -2)  # a few minutes of rest are no hour's effort
    sky = scene.conditions.at(scene.depart_epoch_s + 0.5 * (edges[1:] + edges[:-1]) * HOUR_S)
    note = (
        "cold but bearable by the balance of ISO 11079 at each hour's mean effort, clothes "
        "wet where rain is not kept off"
    )
    if float(sky.air_c.min()) > WARMEST_C:
        note = f"no figure above {WARMEST_C:g} °C, where the standard for cold ends"
        return Cold("warmth_walking", np.nan, np.nan, note)
    area_m2 = np.asarray(body_area_m2(scene.walkers.mass_kg, scene.walkers.height_m))
    afoot = (trace.doing != Doing.STOP)[:, np.newaxis]  # a halt has its own reckoning
    energy = _summed(np.where(afoot, _steps(trace.totals[:, Total.ENERGY_KCAL]), 0.0))
    active_h = _summed(np.where(afoot[:, 0], _steps(clock_h), 0.0))
    lengths_h = np.diff(np.interp(edges, clock_h, active_h))
    lengths_h[lengths_h < LEAST_AFOOT_H] = np.nan
    worn = np.array([_worn_clo(scene, hour) for hour in edges[1:].tolist()])
    more = np.full(worn.shape, np.nan)
    for walker in range(scene.walkers.count):
        used_kcal = np.diff(np.interp(edges, clock_h, energy[:, walker]))
        effort_w_m2 = W_PER_KCAL_H * used_kcal / lengths_h / area_m2[walker]
        wind = np.maximum(BODY_WIND_SHARE * sky.wind_m_s, LEAST_AIR_SPEED_M_S)
        more[:, walker] = required_clo(effort_w_m2, sky.air_c, wind) - worn[:, walker]
    if np.isnan(more).all():
        note = "no figure: effort, cold or wind lie outside the standard's range"
        return Cold("warmth_walking", np.nan, np.nan, note)
    worst = int(np.nanargmax(np.where(np.isnan(more), -np.inf, more).max(axis=1)))
    return Cold("warmth_walking", float(edges[worst]), max(float(np.nanmax(more)), 0.0), note)


def _steps(total: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give what each event added to a running total; the first added nothing."""
    return np.diff(total, axis=0, prepend=total[:1])


def _summed(steps: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the running total again."""
    return np.cumsum(steps, axis=0)


def _cold_at_halts(scene: Scene, walked: Walked) -> tuple[Cold, ...]:
    """Say what the worst halt asks beyond the clothes worn."""
    bare = replace(scene, carried=replace(scene.carried, warmth_clo=0.0))
    night = halt_cold(bare, walked)
    if not walked.halts or not np.isfinite(night.short_clo) or walked.outcome.step_clock_s is None:
        return ()
    at_h = float(walked.outcome.step_clock_s[walked.halts[0].stop.step, 0]) / HOUR_S
    return (Cold("warmth_halt", at_h, night.short_clo, f"a halt of {night.hours:.1f} h"),)


def if_halted(scene: Scene, journey: Journey) -> Cold:
    """Say what a night in the open would ask, were the walk broken off halfway.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    journey : Journey
        The walk as planned.

    Returns
    -------
    Cold
        Key ``warmth_if_halted``: from halfway to the next first light, under a roof without walls,
        in the coldest air and the strongest wind of that time.
    """
    at_h = 0.5 * journey.elapsed_h
    begin_s = scene.depart_epoch_s + at_h * HOUR_S
    end_s = next_first_light(scene.conditions, begin_s)
    sky = scene.conditions.at(np.linspace(begin_s, end_s, SAMPLES))
    night = halt_warmth(
        float(sky.air_c.min()),
        TARP_WIND_SHARE.middle * float(sky.wind_m_s.max()),
        float(_worn_clo(scene, at_h).min()),
        0.0,
        (end_s - begin_s) / HOUR_S,
    )
    short = 0.0 if bool(night.enough) else float(night.short_clo)
    note = (
        f"{(end_s - begin_s) / HOUR_S:.1f} h until first light under a roof without walls, down to "
        f"{float(sky.air_c.min()):.0f} °C"
    )
    note += "" if bool(night.in_range) else "; outside the standard's range, a rough figure"
    return Cold("warmth_if_halted", at_h, short, note)
