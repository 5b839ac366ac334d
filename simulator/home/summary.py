"""The summary: the numbers of summary.json, the verdict, the cautions and every assumption."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.body.drinking import dehydration_step
from simulator.home.cautions import assumptions, cautions, moon_over, no_light_caution, plain_cell
from simulator.home.crowd import arrivals_of
from simulator.home.crowd_records import Arrivals, Crowd
from simulator.home.hazards import hazards_of
from simulator.home.records import (
    CrossingOnWay,
    Felt,
    Food,
    Judged,
    Light,
    NightHalt,
    Route,
    Summary,
    SunTimes,
    TimeTaken,
    WaterUsed,
)
from simulator.home.scene import MOVED, age_sex_share, beyond_age
from simulator.home.unknown_heights import told_heights
from simulator.home.verdict import Findings, account_of, findings_of_arrivals, judge
from simulator.home.walked import home_by_told
from simulator.home.warmth import halt_cold, layer_caution
from simulator.sky.sun import STATE_WORDS, SunDay
from simulator.units import HOUR_S, Units
from simulator.walk.ledger import local_time
from simulator.walk.party import pace_band
from simulator.walk.records import Total, pace_costs_s

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from simulator.home.scene import Scene
    from simulator.home.walked import Walked
    from simulator.home.water import WaterAhead

SEED = 0
"""A single walk draws no random numbers; the field is there for the commands that do."""


def summarise(
    scene: Scene,
    walked: Walked,
    *,
    hours: pd.DataFrame,
    segments: pd.DataFrame,
    sun: SunDay,
    ahead: WaterAhead,
) -> Summary:
    """Gather the summary of one walk."""
    outcome, walkers = walked.outcome, scene.walkers
    total = outcome.totals
    cold = halt_cold(scene, walked)
    walks = arrivals_of_walked(scene, walked)
    shortages = account_of(walks).told(0, depart_epoch_s=scene.depart_epoch_s, zone=scene.zone)
    short_kcal = float(walks.energy_short_kcal[0])
    one = total[:, 0]
    findings = findings_of(scene, walked, arrivals=walks)
    verdict = judge(findings, units=Units(scene.plan.units))
    return Summary(
        title=scene.plan.title,
        seed=SEED,
        inputs=dict(sorted(scene.fingerprints.items())),
        route=_route(scene, walked, segments),
        heights=told_heights(walked.way.course, scene.streets),
        time=_time(scene, walked),
        water=_water(scene, walked, findings, ahead),
        food=Food(
            need_kcal=float(total[Total.ENERGY_KCAL].sum()),
            carried_kcal=float(walkers.food_kcal.sum()),
            eaten_kcal=float(total[Total.EATEN_KCAL].sum()),
            from_body_kcal=float((total[Total.ENERGY_KCAL] - total[Total.EATEN_KCAL]).sum())
            - short_kcal,
            short_kcal=short_kcal,
        ),
        light=Light(
            dark_h=float(one[Total.DARK_S]) / 3600.0,
            unlit_h=float(one[Total.LIGHT_NEED_S]) / 3600.0,
            carried_h=float(walkers.light_s.min()) / 3600.0,
            short_h=float(findings.light_short_h[0]),
            first_short_h=_finite(float(outcome.light_out_s.min()) / 3600.0),
            moon=moon_over(scene, segments),
        ),
        cold_heat=Felt(
            coldest_felt_c=_finite(float(findings.coldest_felt_c[0])),
            hottest_felt_c=_finite(float(findings.hottest_felt_c[0])),
            halt_short_clo=_finite(cold.short_clo),
            halt_notes=tuple(cold.notes),
        ),
        halts=tuple(
            NightHalt(
                reason=halt.reason,
                sheltered=halt.sheltered,
                place=scene.places.name[halt.stop.place] if halt.stop.place >= 0 else None,
                along_km=float(walked.way.course.distance_m[halt.stop.step]) / 1000.0,
                until=local_time(halt.stop.until_epoch_s, scene.zone)
                if halt.stop.until_epoch_s is not None
                else None,
            )
            for halt in walked.halts
        ),
        sun=told_sun(sun),
        shortages=tuple(shortages),
        verdict=Judged(verdict.level, verdict.reasons),
        hazards=hazards_of(scene, walked.way.course, segments),
        cautions=(
            *no_light_caution(scene, walked),
            *cautions(scene, walked, findings),
            *layer_caution(hours),
        ),
        assumptions=tuple(assumptions(scene, walked, hours=hours, segments=segments)),
        attribution=scene.streets.attribution,
    )


def findings_of(scene: Scene, walked: Walked, *, arrivals: Arrivals | None = None) -> Findings:
    """Gather what the verdict of one walk is made from.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.
    arrivals : Arrivals, optional
        From ``arrivals_of_walked``, where it is known already.

    Returns
    -------
    Findings
        NaN for what is not known.
    """
    found = findings_of_arrivals(
        arrivals or arrivals_of_walked(scene, walked),
        event=scene.plan.event.kind,
        unpriced=_unknown(scene, halts=bool(walked.halts)),
    )
    return replace(
        found,
        beyond_index_c=_beyond_index_c(scene, walked),
        beyond_age=tuple(beyond_age(scene.plan)),
        place=_places(scene, walked),
    )


def _places(scene: Scene, walked: Walked) -> Callable[[float], str] | None:
    """Say when and where an hour of the walk is."""
    trace = walked.outcome.trace
    if trace is None:
        return None
    clock_s, at_m = trace.totals[:, Total.CLOCK_S, 0], trace.distance_m
    units = Units(scene.plan.units)

    def place(hours: float) -> str:
        when = local_time(scene.depart_epoch_s + HOUR_S * hours, scene.zone)
        along = float(np.interp(HOUR_S * hours, clock_s, at_m)) / units.long_m
        return f"at {when:%H:%M}, {units.long_name} {along:.1f}"

    return place


def arrivals_of_walked(scene: Scene, walked: Walked) -> Arrivals:
    """Tell how one walk went, in the same record as thousands.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.

    Returns
    -------
    Arrivals
        One walk.
    """
    return arrivals_of(
        scene,
        Crowd(scene.walkers, scene.walkers.count, np.array([scene.depart_epoch_s])),
        walked.outcome,
        conditions=scene.conditions,
        ways=walked.way.course,
        in_the_open=np.array([any(not halt.sheltered for halt in walked.halts)]),
    )


def _beyond_index_c(scene: Scene, walked: Walked) -> float:
    """Air temperature where the weather is beyond the indices of felt temperature [degC]."""
    if walked.outcome.trace is None:
        return float("nan")
    clock = walked.outcome.trace.totals[:, Total.CLOCK_S, 0]
    sky = scene.conditions.at(scene.depart_epoch_s + clock)
    beyond = sky.air_c[np.isnan(sky.felt_c)]
    return float(beyond[np.argmax(np.abs(beyond))]) if beyond.size else float("nan")


NO_LIST = "what the bag holds: the plan names no list"

JUDGED = frozenset({"water_ml", "treats_ml", "light_h"})
"""Columns of the bag list whose unknown cells the verdict hangs on."""

JUDGED_WITH_HALT = JUDGED | {"warmth_clo"}


def told_sun(sun: SunDay) -> SunTimes:
    """Give the events of the day, what sort of day it is, and what to tell of that."""
    return SunTimes(**sun.events(), state=sun.state, told=STATE_WORDS[sun.state])


def _route(scene: Scene, walked: Walked, segments: pd.DataFrame) -> Route:
    course, crossings = walked.way.course, scene.ground.crossings
    met = crossings.of_segment[course.segment]
    first: dict[int, int] = {}
    for step in np.flatnonzero(met >= 0).tolist():
        first.setdefault(int(met[step]), step)
    passed = list(first)
    return Route(
        distance_km=course.length_m / 1000.0,
        ascent_m=float(np.maximum(course.rise_m, 0.0).sum()),
        descent_m=float(np.maximum(-course.rise_m, 0.0).sum()),
        bridges=tuple(crossings.name[number] for number in passed),
        crossings=tuple(
            CrossingOnWay(
                name=crossings.name[number],
                ways=tuple(crossings.way_ids[number]),
                along_km=float(course.distance_m[first[number]]) / 1000.0,
                lat=float(crossings.lat[number]),
                lon=float(crossings.lon[number]),
            )
            for number in passed
        ),
        steps_m=float(course.run_m[course.stairs].sum()),
        unlit_km=float(segments.loc[segments["unlit"], "run_m"].sum()) / 1000.0,
        tunnel_m=float(course.run_m[course.tunnel].sum()),
        closed=tuple(scene.closure.matched),
        moved=tuple(
            note.removeprefix(MOVED).strip() for note in scene.notes if note.startswith(MOVED)
        ),
    )


def _time(scene: Scene, walked: Walked) -> TimeTaken:
    one = walked.outcome.totals[:, 0]
    depart = scene.depart_epoch_s
    moving_h = float(one[Total.MOVED_S]) / 3600.0
    low, high = pace_band(scene.manner, walked.way.course)
    costs = pace_costs_s(
        {row: one[row] for row in Total},
        pace_factor=float(scene.walkers.pace_factor[0]),
        age_sex_factor=age_sex_share(scene.plan, 0),
    )
    return TimeTaken(
        depart=local_time(depart, scene.zone),
        arrive=local_time(depart + float(one[Total.CLOCK_S]), scene.zone),
        moving_h=moving_h,
        resting_h=float(one[Total.RESTED_S]) / 3600.0,
        stopped_h=float(one[Total.STOPPED_S]) / 3600.0,
        elapsed_h=float(one[Total.CLOCK_S]) / 3600.0,
        dark_h=float(one[Total.DARK_S]) / 3600.0,
        moving_h_band=(moving_h * low, moving_h * high),
        pace_cost_min={name: float(cost_s) / 60.0 for name, cost_s in costs.items()},
        home_by=home_by_told(scene, float(one[Total.CLOCK_S]), None, asked=False),
    )


def _water(scene: Scene, walked: Walked, findings: Findings, ahead: WaterAhead) -> WaterUsed:
    total, walkers = walked.outcome.totals, scene.walkers
    carried = float(walkers.water_ml.sum())
    refilled = float(total[Total.REFILLED_ML].sum())
    drunk = float(total[Total.DRUNK_ML].sum())
    return WaterUsed(
        need_l=float(total[Total.LOST_ML].sum()) / 1000.0,
        carried_l=carried / 1000.0,
        refilled_l=refilled / 1000.0,
        drunk_l=drunk / 1000.0,
        left_l=(carried + refilled - drunk) / 1000.0,
        short_l=float(findings.short_ml[0]) / 1000.0,
        worst_body_mass_loss_pct=float(findings.loss_pct[0]),
        worst_loss_means=dehydration_step(float(findings.loss_pct[0])).means,
        first_short_h=_finite(float(findings.first_short_h[0])),
        next=ahead.first,
        treatment=ahead.treatment,
        chance_dry=ahead.chance_dry,
    )


def _unknown(scene: Scene, *, halts: bool) -> tuple[str, ...]:
    """Empty cells of the bag list that a sum depends on."""
    if scene.items is None:
        return (NO_LIST,)
    judged = JUDGED_WITH_HALT if halts else JUDGED
    return tuple(
        plain_cell(cell) for cell in scene.carried.unknown if cell.split(" ", 1)[0] in judged
    )


def _finite(value: float) -> float | None:
    """Give a number, or None where there is none."""
    return value if np.isfinite(value) else None
