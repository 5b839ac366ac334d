"""A way over ground of unknown height, walked as easy and as steep as that may be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.questions.doubts import findings_at
from simulator.questions.summary import findings_of
from simulator.questions.unknown_heights import (
    STEEP_SHARE,
    Steep,
    eased,
    steepened,
    steepest,
    unknown_steps,
    where_words,
)
from simulator.questions.walked import Walked, steps_of
from simulator.units import Units, duration
from simulator.walk.engine import simulate
from simulator.walk.records import Total
from simulator.walk.verdict import LEVELS, Findings, Verdict, judge

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.ways import Way
    from simulator.walk.course import Course
    from simulator.walk.records import Outcome

Rewalk = Callable[["Scene", "Way"], Walked]


@dataclass(frozen=True, slots=True)
class Band:
    """What unknown heights leave open.

    Attributes
    ----------
    steep : Steep
        How steep the unknown ground was taken to be.
    elapsed_h : tuple of float
        Shortest and longest time home [h].
    need_l : tuple of float
        Least and most water needed [l].
    gravest : Verdict
        The gravest verdict of the walks at the steepest.
    """

    steep: Steep
    elapsed_h: tuple[float, float]
    need_l: tuple[float, float]
    gravest: Verdict


def height_band(scene: Scene, walked: Walked, rewalk: Rewalk) -> Band | None:
    """Walk a way as easy and as steep as its unknown ground may be.

    The steepest is walked with the stops as planned, for that is what a person does who knows no
    better, and with stops and night halts found anew.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as planned, on estimated heights.
    rewalk : callable
        Walks a way, ``simulator.questions.home.walk_way``.

    Returns
    -------
    Band or None
        None where all heights of the way are known, or none at all are asked for.
    """
    course, streets = walked.way.course, scene.streets
    unknown = unknown_steps(course, streets)
    if streets.terrain is None or not unknown.any():
        return None
    steep = steepest(streets, course, unknown)
    rough, first = steepened(course, unknown, steep)
    anew = rewalk(scene, replace(walked.way, course=rough))
    found = findings_of(scene, anew, segments=steps_of(scene, anew))
    planned = _as_planned(scene, walked, rough, first)
    same_stops = findings_at(found, planned, scene.walkers, int(scene.walkers.party[0]))
    easy = _as_planned(scene, walked, eased(course, unknown, steep), np.arange(unknown.size))
    units = Units(scene.plan.units)
    verdicts = [judge(one, units=units) for one in (found, same_stops)]
    walks = (walked.outcome, anew.outcome, planned, easy)
    hours = [float(one.totals[Total.CLOCK_S, 0]) / 3600.0 for one in walks]
    litres = [float(one.totals[Total.LOST_ML].sum()) / 1000.0 for one in walks]
    return Band(
        steep=steep,
        elapsed_h=(min(hours), max(hours)),
        need_l=(min(litres), max(litres)),
        gravest=max(verdicts, key=_rank),
    )


def _as_planned(scene: Scene, walked: Walked, course: Course, first: NDArray[np.int64]) -> Outcome:
    """Walk other ground with the stops of the plan."""
    return simulate(
        course,
        scene.walkers,
        manner=scene.manner,
        conditions=scene.conditions,
        depart_epoch_s=np.full(scene.walkers.count, scene.depart_epoch_s),
        stops=[replace(stop, step=int(first[stop.step])) for stop in walked.stops],
    )


def _rank(verdict: Verdict) -> int:
    return LEVELS.index(verdict.level)


def bounded(
    scene: Scene, walked: Walked, summary: dict[str, Any], *, findings: Findings, rewalk: Rewalk
) -> dict[str, Any]:
    """Put into a summary what unknown heights leave open.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.
    summary : dict
        From ``simulator.questions.summary.summarise``.
    findings : Findings
        What its verdict is made from.
    rewalk : callable
        Walks a way, ``simulator.questions.home.walk_way``.

    Returns
    -------
    dict
        The same where every height of the way is known. Otherwise with the bands of ``heights``,
        reasons and assumptions in words, and the gravest verdict of all walks.
    """
    band = height_band(scene, walked, rewalk)
    if band is None:
        return summary
    units = Units(scene.plan.units)
    told = summary["heights"] | {
        "time_h_band": list(band.elapsed_h),
        "need_l_band": list(band.need_l),
        "steepest_assumed": band.steep.slope,
    }
    planned, verdict = judge(findings, units=units), summary["verdict"]
    low, high = (units.volume(1000.0 * litres) for litres in band.need_l)
    where = where_words(told, units)
    span = f"{_span(*map(duration, band.elapsed_h))} and {_span(low, high)} of water"
    said = f"heights unknown for {where}: takes {span}"
    kept, worse = verdict["reasons"], []
    level = verdict["level"]
    if LEVELS.index(level) < _rank(band.gravest):
        level = band.gravest.level
        # What was found on the estimate may be "nothing", which no longer holds.
        if planned.level == LEVELS[0]:
            kept = [text for text in kept if text not in planned.reasons]
        worse = [
            f"if it is steep where heights are unknown: {text}"
            for text in band.gravest.reasons
            if text not in planned.reasons
        ]
    reasons = [*worse, *kept]  # the gravest stays first
    return summary | {
        "heights": told,
        "verdict": verdict | {"level": level, "reasons": [*reasons[:1], said, *reasons[1:]]},
        "assumptions": [*summary["assumptions"], _rests_on(band.steep, where)],
    }


def _span(low: str, high: str) -> str:
    """Say a span; its unit once where both ends end on the same word."""
    return low if low == high else f"{low} to {high}"


def _rests_on(steep: Steep, where: str) -> str:
    """Say what the span rests on."""
    source = (
        f"as steep as all but {1.0 - STEEP_SHARE:.0%} of the known streets here are at most"
        if steep.measured
        else "taken so since too little ground near by is known to tell"
    )
    return (
        f"Heights unknown for {where}: walked as estimated, as one even slope, and up "
        f"and down at {steep.slope:.0%} all along, {source} (assumed; single hills may be "
        "steeper). Time and water lie between, and the graver verdict of both holds."
    )
