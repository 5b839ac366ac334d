"""Does this person, with this bag, get home from there? The main question."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import InputError
from simulator.home.answer import Walk
from simulator.home.cautions import ends_at_first_light
from simulator.home.crowd import settle_one
from simulator.home.directions import directions
from simulator.home.doubts import bounded, weighed
from simulator.home.refills import (
    read_places,
    refills_table,
)
from simulator.home.scene import Scene, age_sex_share, prepare
from simulator.home.summary import findings_of, summarise
from simulator.home.variants import explore
from simulator.home.walked import Walked, home_by_told, steps_of
from simulator.home.warmth import with_warmth
from simulator.home.water import answer_water, with_next_water
from simulator.home.way import Way, compare_ways, find_way, street_times
from simulator.sky.sun import sun_day
from simulator.walk.course import beside_traffic
from simulator.walk.engine import simulate
from simulator.walk.ledger import hours_table, local_time
from simulator.walk.records import Outcome, Stop, Total
from simulator.walk.stops import nearby_places

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from simulator.home.answer import Writer
    from simulator.plan import Plan
    from simulator.walk.course import Course
    from simulator.walk.records import Begun


def walk_home(
    plan: Plan,
    *,
    progress: Callable[[str], None] | None = None,
    writer: Writer | None = None,
) -> Walk:
    """Answer the main question for one plan.

    Parameters
    ----------
    plan : Plan
        What is asked.
    progress : callable, optional
        Told the name of each stage as it begins.
    writer : callable, optional
        Writes the files for ``Walk.save``.

    Returns
    -------
    Walk
        Way, ledger, refills and verdict.

    Raises
    ------
    InputError
        When something in the plan or its files cannot be used.
    NoWayHomeError
        When no walkable way joins start and home on this map.
    """
    return answer(prepare(plan, progress=progress), progress=progress, writer=writer)


def answer(
    scene: Scene,
    *,
    progress: Callable[[str], None] | None = None,
    writer: Writer | None = None,
    first: Callable[[Walk], None] | None = None,
) -> Walk:
    """Answer the main question for a plan that is ready.

    Parameters
    ----------
    scene : Scene
        From ``prepare``.
    progress : callable, optional
        Told the name of each stage as it begins; what it raises ends the work.
    writer : callable, optional
        Writes the files for ``Walk.save``.
    first : callable, optional
        Given the walk with its verdict, before other hours, paces and bridges are tried.

    Returns
    -------
    Walk
        Way, ledger, refills and verdict.

    Raises
    ------
    InputError
        When something in the plan or its files cannot be used.
    NoWayHomeError
        When no walkable way joins start and home on this map.
    """
    tell = progress or (lambda _stage: None)
    tell("finding the way")
    times = street_times(scene)
    way = find_way(scene, times=times)
    tell("walking it hour by hour")
    walked = walk_way(scene, way)
    walk = tabulate(scene, walked, writer=writer)
    findings = findings_of(scene, walked)
    facts = weighed(scene, walked, walk.facts, findings=findings)
    facts = bounded(scene, walked, facts, findings=findings, rewalk=walk_way)
    facts = replace(facts, ways=compare_ways(scene, way, times=times))
    walk = replace(walk, facts=facts)
    if first is not None:
        first(walk)
    if not scene.plan.choices.what_if:
        return walk
    tell("asking where water runs short")
    water = answer_water(scene, walked, walk_way)
    tell("trying other hours, paces and bridges")
    # A departure that must be home in time is told for the slow end of the span.
    planned_h = facts.time.elapsed_h
    slow_h = planned_h if facts.time.elapsed_h_band is None else facts.time.elapsed_h_band[1]
    slow = max(slow_h / planned_h, 1.0)
    what_if = explore(
        scene,
        walked,
        times=times,
        findings=findings,
        dusk=walk.sun["civil_dusk"],
        slow=slow,
    )
    elapsed_s = float(walked.outcome.totals[Total.CLOCK_S, 0])
    home_by = home_by_told(scene, elapsed_s, what_if.leave_for_home_by, asked=True, slow=slow)
    facts = replace(
        facts,
        route=replace(facts.route, main_bridge=what_if.main_bridge()),
        time=replace(
            facts.time,
            leave_by=what_if.leave_by,
            leave_by_margin_h=slow_h - planned_h,
            home_by=home_by,
        ),
        water=replace(
            facts.water,
            bottles=water.compared,
            least_bottle_l=water.least,
            never_dry=water.never_dry,
        ),
        explored=True,
    )
    return replace(walk, what_if=what_if, water=water, facts=facts)


def walk_way(scene: Scene, way: Way) -> Walked:
    """Walk one way: settle refills, night halts and arrival times with each other.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    way : Way
        From ``find_way``.

    Returns
    -------
    Walked
        The last round.

    Raises
    ------
    InputError
        When the weather file ends before the walk does.
    """
    nearby = nearby_places(
        scene.places,
        scene.streets,
        course=way.course,
        start_fraction=way.legs[0].from_fraction,
        closed=scene.closed,
        reach_m=scene.plan.choices.refill_reach_m,
    )
    planned = settle_one(scene, way.course, nearby)
    outcome = _simulate(scene, way.course, planned.stops, planned.begun)
    return Walked(
        way=way,
        outcome=outcome,
        nearby=nearby,
        reading=read_places(scene, nearby, outcome),
        stops=planned.stops,
        halts=planned.halts,
        choice=planned.choice,
        settled=planned.settled,
    )


def _simulate(scene: Scene, course: Course, stops: tuple[Stop, ...], like: Begun | None) -> Outcome:
    outcome = simulate(
        course,
        scene.walkers,
        manner=scene.manner,
        conditions=scene.conditions,
        depart_epoch_s=np.full(scene.walkers.count, scene.depart_epoch_s),
        stops=stops,
        record=True,
        beside_traffic=beside_traffic(scene.streets, course),
        longest_day_s=3600.0 * scene.plan.choices.longest_day_h,
        like=like,
    )
    end_epoch_s = scene.depart_epoch_s + float(outcome.totals[Total.CLOCK_S].max())
    if end_epoch_s > scene.conditions.end_epoch_s:
        known = local_time(scene.conditions.end_epoch_s, scene.zone)
        wanted = local_time(end_epoch_s, scene.zone)
        msg = f"{scene.plan.weather.file or 'weather'}"
        raise InputError(
            msg,
            f"the weather is known until {known:%Y-%m-%d %H:%M}, the walk lasts until "
            f"{wanted:%Y-%m-%d %H:%M}; give a file that covers it, or constants",
        )
    if not np.isfinite(outcome.totals).all():
        msg = f"{scene.plan.source or 'plan'}: walker"
        raise InputError(
            msg,
            "the body models say nothing for this walker on this way; check mass, height, age, "
            "pace_factor and what the bag weighs",
        )
    return outcome


def tabulate(scene: Scene, walked: Walked, *, writer: Writer | None = None) -> Walk:
    """Put a walked way into tables and the summary.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        From ``walk_way``.
    writer : callable, optional
        Writes the files for ``Walk.save``.

    Returns
    -------
    Walk
        Tables of floats in full precision; rounding is left to what prints them.
    """
    course, outcome = walked.way.course, walked.outcome
    segments = steps_of(scene, walked)
    hours = hours_table(
        outcome,
        course=course,
        walkers=scene.walkers,
        conditions=scene.conditions,
        streets=scene.streets,
        depart_epoch_s=scene.depart_epoch_s,
        zone=scene.zone,
        stop_labels=[_label(scene, stop) for stop in walked.stops],
        age_sex_factor=age_sex_share(scene.plan, 0),
    )
    refills = refills_table(
        scene,
        walked.nearby,
        walked.reading,
        used=_litres(walked),
        halts={
            (halt.stop.place, halt.stop.step): halt.reason
            for halt in walked.halts
            if halt.sheltered
        },
        lasts=float(outcome.totals[Total.LOST_ML].sum()) <= float(scene.walkers.water_ml.sum()),
    )
    refills, hours, ahead = with_next_water(scene, walked, refills, hours)
    hours = with_warmth(scene, walked, hours)
    depart = local_time(scene.depart_epoch_s, scene.zone)
    start = scene.ends[0]
    sun = sun_day(start.lat, start.lon, depart.date(), scene.zone)
    return Walk(
        plan=scene.plan,
        streets=scene.streets,
        lines=scene.lines,
        course=course,
        hours=hours,
        segments=segments,
        refills=refills,
        facts=summarise(scene, walked, hours=hours, segments=segments, sun=sun, ahead=ahead),
        sun=sun.events(),
        items=scene.items,
        places=scene.places,
        outcome=outcome,
        directions=directions(
            scene.streets,
            course,
            crossings=scene.ground.crossings,
            landmarks=_landmarks(refills),
        ),
        closed=scene.closure.mask,
        writer=writer,
    )


BESIDE_M = 40.0
"""A place this near the way is seen from it [m]; an assumption."""


NO_LANDMARKS = frozenset({"river", "stream", "lake", "bench", "office"})
"""Kinds that stretch along the way, stand everywhere, or bear no sign."""


def _landmarks(refills: pd.DataFrame) -> list[tuple[float, str]]:
    """Name the places that stand beside the way, and nowhere else near."""
    seen = refills[(refills["off_m"] <= BESIDE_M) & ~refills["kind"].isin(NO_LANDMARKS)]
    return [
        (1000.0 * along_km, name or kind)
        for along_km, name, kind in zip(seen["along_km"], seen["name"], seen["kind"], strict=True)
    ]


def _label(scene: Scene, stop: Stop) -> str:
    """Name a stop for the ledger."""
    if stop.place < 0:
        name = "by the way, no shelter within reach"
    else:
        name = scene.places.name[stop.place] or scene.places.kind[stop.place]
    if stop.until_epoch_s is not None:
        until = local_time(stop.until_epoch_s, scene.zone)
        light = "first light " if ends_at_first_light(scene, stop.until_epoch_s) else ""
        return f"halt until {light}{until:%H:%M}: {name}"
    return f"water: {name}"


def _litres(walked: Walked) -> dict[int, float]:
    """Litres taken at each nearby place that was stopped at."""
    trace = walked.outcome.trace
    if trace is None:
        return {}
    taken: dict[int, float] = {}
    refilled = trace.totals[:, Total.REFILLED_ML].sum(axis=1)
    for event in np.flatnonzero(trace.stop >= 0).tolist():
        stop = walked.stops[int(trace.stop[event])]
        rows = np.flatnonzero(
            (walked.nearby.place == stop.place) & (walked.nearby.step == stop.step)
        )
        if stop.place >= 0 and rows.size:
            litres = float(refilled[event] - refilled[event - 1]) / 1000.0
            taken[int(rows[0])] = taken.get(int(rows[0]), 0.0) + litres
    return taken
