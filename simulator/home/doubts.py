"""A way over ground of unknown height, walked as easy and as steep as that may be."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from simulator.body.catalogue import ASSUMPTIONS
from simulator.body.effort import CAPACITY_SPREAD
from simulator.body.energy import load_cost_spread_w
from simulator.home.crowd import arrivals_of
from simulator.home.crowd_records import Crowd
from simulator.home.own_pace import own_spread
from simulator.home.strain import Strain
from simulator.home.summary import SEED, findings_of
from simulator.home.unknown_heights import (
    STEEP_SHARE,
    Steep,
    eased,
    steepened,
    steepest,
    unknown_steps,
    where_words,
)
from simulator.home.verdict import LEVELS, Findings, Verdict, findings_of_arrivals, judge
from simulator.home.walked import Walked
from simulator.home.warmth import afoot, halt_cold, worst_of
from simulator.units import HOUR_S, Units, duration
from simulator.walk.course import beside_traffic, coarse
from simulator.walk.engine import simulate
from simulator.walk.party import SWEAT_POSITIONS, pace_band
from simulator.walk.records import NEARLY_S, Marks, Total, some_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from simulator.home.records import Summary
    from simulator.home.scene import Scene
    from simulator.home.way import Way
    from simulator.walk.course import Course
    from simulator.walk.party import Manner
    from simulator.walk.records import Begun, Outcome, Walkers

UNLIT = ASSUMPTIONS["speed share in the dark, unlit"]
LIT = ASSUMPTIONS["speed share in the dark, lit"]
TIRING = ASSUMPTIONS["speed share lost per hour of fatigue"]


class End(NamedTuple):
    """One end of one assumption.

    Attributes
    ----------
    words : str
        To follow "with".
    pace : float
        Pace over the planned one.
    manner : dict of str to float
        Fields of ``Manner`` that differ.
    plain : str
        To follow "if", in a few words.
    """

    words: str
    pace: float
    manner: dict[str, float]
    plain: str


@dataclass(frozen=True, slots=True)
class Doubts:
    """What the walk is at the ends of what is assumed.

    Attributes
    ----------
    need_l_band : tuple of float
        Water needed by the lowest and by the highest of the published sweat rates [l].
    elapsed_h_band : tuple of float
        Between which most walks lie with all that is assumed drawn at once [h].
    levels : dict of str to str
        Verdict at each end, by its words.
    graver : tuple of str
        Ends at which the verdict is graver, and why.
    lighter : tuple of str
        Ends at which it is lighter.
    close : tuple of str
        The graver ends in a few words, as reasons.
    moves_h : tuple of (str, float)
        What each end alone moves the time by, the most first [h].
    """

    need_l_band: tuple[float, float]
    elapsed_h_band: tuple[float, float]
    levels: dict[str, str]
    graver: tuple[str, ...]
    lighter: tuple[str, ...]
    close: tuple[str, ...]
    moves_h: tuple[tuple[str, float], ...]


LOWEST = "the lowest published sweat rate"
HIGHEST = "the highest published sweat rate"


def ends_of(scene: Scene, walked: Walked) -> tuple[End, ...]:
    """List the ends that can matter on a walk."""
    manner, one = scene.manner, walked.outcome.totals[:, 0]
    ends = [
        End(LOWEST, 1.0, {"sweat": SWEAT_POSITIONS["low"]}, "you sweat less"),
        End(HIGHEST, 1.0, {"sweat": SWEAT_POSITIONS["high"]}, "you sweat more"),
    ]
    if not paces_known(scene):
        fast, slow = pace_band(manner, walked.way.course)
        if fast < 1.0:
            ends.append(End("the fastest published pace", 1.0 / fast, {}, "you walk faster"))
        if slow > 1.0:
            ends.append(End("the slowest published pace", 1.0 / slow, {}, "you walk slower"))
    if manner.dark and one[Total.DARK_PACE_S] > 0.0:
        ends += [
            End(
                f"a pace of {unlit:.0%} in the dark on unlit ways",
                1.0,
                {"dark_unlit_factor": unlit, "dark_lit_factor": lit},
                f"the dark slows you {how}",
            )
            for unlit, lit, how in ((UNLIT.low, LIT.low, "more"), (UNLIT.high, LIT.high, "less"))
        ]
    if manner.fatigue and one[Total.FATIGUE_S] > 0.0:
        ends += [
            End(
                f"{per_h:.0%} of pace lost to tiredness in an hour",
                1.0,
                {"fatigue_per_h": per_h},
                f"you tire {how}",
            )
            for per_h, how in ((TIRING.high, "more"), (TIRING.low, "less"))
        ]
    return tuple(ends)


def paces_known(scene: Scene) -> bool:
    """Say whether everyone has told an own pace."""
    return all(
        walker.timed_walk is not None or walker.level_km_h is not None
        for walker in scene.plan.walker
    )


LEAST_MOVE_H = 1.0 / 12.0
"""What moves the time by less is not told [h]."""

DRAWS = 48
"""Walks drawn from all that is assumed of the time at once; the ends of the span they give differ
by a few minutes from one set of draws to another."""

SPAN = (0.1, 0.9)
"""Shares of the drawn walks between which the span lies."""


def drawn_times_h(scene: Scene, walked: Walked) -> NDArray[np.float64]:
    """Walk the way with all that is assumed of the time drawn at once."""
    rng = np.random.default_rng(SEED)
    members, manner = scene.walkers.count, scene.manner
    if paces_known(scene):
        spread = own_spread(scene.own, walked.way.course, model=manner.model)
        fast, slow = 1.0 / (1.0 + spread), 1.0 / (1.0 - spread)
    else:
        fast, slow = pace_band(manner, walked.way.course)

    def drawn(low: float, middle: float, high: float) -> NDArray[np.float64]:
        if not low < high:
            return np.full(DRAWS, middle)
        # As many to one side of the middle as to the other, most of them near it.
        middle, share = min(max(middle, low), high), rng.random(DRAWS)
        near_low = low + (middle - low) * np.sqrt(np.minimum(2.0 * share, 1.0))
        near_high = high - (high - middle) * np.sqrt(np.minimum(2.0 * (1.0 - share), 1.0))
        return np.where(share < 0.5, near_low, near_high)  # noqa: PLR2004 - a half

    pace = 1.0 / drawn(fast, 1.0, slow)
    capacity = drawn(CAPACITY_SPREAD.low, 1.0, CAPACITY_SPREAD.high)
    columns: dict[str, Any] = {
        name: np.repeat(drawn(low, float(np.mean(getattr(manner, name))), high), members)
        for name, low, high in (
            ("dark_unlit_factor", UNLIT.low, UNLIT.high),
            ("dark_lit_factor", LIT.low, LIT.high),
            ("fatigue_per_h", TIRING.low, TIRING.high),
        )
    }
    course = coarse(walked.way.course)
    each = np.tile(np.arange(members), DRAWS)
    crowd, pace = some_of(scene.walkers, each), np.repeat(pace, members)
    outcome = simulate(
        course,
        replace(
            crowd,
            pace_factor=crowd.pace_factor * pace,
            capacity_factor=crowd.capacity_factor * np.repeat(capacity, members),
            party=np.repeat(np.arange(DRAWS), members),
        ),
        manner=replace(manner, **columns),
        conditions=scene.conditions,
        depart_epoch_s=np.full(crowd.count, scene.depart_epoch_s),
        stops=walked.stops,
        like=_like(walked, each, pace),
        within_s=NEARLY_S,
    )
    hours: NDArray[np.float64] = outcome.totals[Total.CLOCK_S][::members] / HOUR_S
    return hours


def doubt(scene: Scene, walked: Walked, findings: Findings) -> Doubts:
    """Walk the way at both ends of what is assumed, and judge again."""
    units, ends = Units(scene.plan.units), ends_of(scene, walked)
    planned = judge(findings, units=units)
    outcome, walkers = _walk_all(scene, walked, ends)
    many = findings_at(scene, outcome, walkers, findings, course=walked.way.course)
    found = [(end.words, many.one(row)) for row, end in enumerate(ends)]
    plain = {end.words: end.plain for end in ends}
    for end, words, how in (
        ("low", "the least warmth that blanket, roof and wet clothes may give", "less"),
        ("high", "the most warmth that blanket, roof and wet clothes may give", "more"),
    ):
        plain[words] = f"blanket, roof and wet clothes keep you {how} warm"
        strain = findings.strain.copy()
        strain[Strain.FOOT_SHORT_CLO] = worst_of(afoot(scene, walked, end=end).lack_clo).max()
        halt_short_clo = np.array([halt_cold(scene, walked, end=end).short_clo])
        found.append((words, replace(findings, halt_short_clo=halt_short_clo, strain=strain)))
    verdicts = {words: judge(one, units=units) for words, one in found}
    need = outcome.totals[Total.LOST_ML].reshape(len(ends), -1).sum(axis=1) / 1000.0
    # The plan's own need is one of the estimates too; longer steps may miss it by a few drops.
    own = float(walked.outcome.totals[Total.LOST_ML].sum()) / 1000.0
    planned_h = float(findings.elapsed_h[0])
    early, late = np.quantile(drawn_times_h(scene, walked), SPAN).tolist()
    return Doubts(
        need_l_band=(min(float(need[0]), own), max(float(need[1]), own)),
        elapsed_h_band=(min(early, planned_h), max(late, planned_h)),
        levels={words: verdict.level for words, verdict in verdicts.items()},
        graver=tuple(_changes(planned, verdicts, graver=True)),
        lighter=tuple(_changes(planned, verdicts, graver=False)),
        close=tuple(_close(planned, verdicts, plain)),
        moves_h=tuple(
            sorted(
                (
                    (end.words, float(many.elapsed_h[row]) - planned_h)
                    for row, end in enumerate(ends)
                ),
                key=lambda moved: -abs(moved[1]),
            )
        ),
    )


def _walk_all(scene: Scene, walked: Walked, ends: tuple[End, ...]) -> tuple[Outcome, Walkers]:
    """Walk the way at every end at once, one party an end, with the stops as planned."""
    members, count = scene.walkers.count, len(ends)
    course = coarse(walked.way.course)
    each = np.tile(np.arange(members), count)
    crowd = some_of(scene.walkers, each)
    pace = np.repeat([end.pace for end in ends], members)
    walkers = replace(
        crowd,
        pace_factor=crowd.pace_factor * pace,
        party=np.repeat(np.arange(count), members),
    )
    outcome = simulate(
        course,
        walkers,
        manner=_manner_at(scene.manner, ends, members),
        conditions=scene.conditions,
        depart_epoch_s=np.full(walkers.count, scene.depart_epoch_s),
        stops=walked.stops,
        marks=Marks(hourly=True, steps=np.zeros(0, dtype=np.int64)),
        beside_traffic=beside_traffic(scene.streets, course),
        like=_like(walked, each, pace),
        within_s=NEARLY_S,
    )
    return outcome, walkers


def _like(walked: Walked, each: NDArray[np.intp], pace: NDArray[np.float64]) -> Begun | None:
    """Guess how walkers like those of the plan begin its steps at another pace."""
    begun = walked.outcome.begun
    return None if begun is None else begun.some(each).faster(pace)


def _manner_at(manner: Manner, ends: tuple[End, ...], members: int) -> Manner:
    """Give what is assumed walker by walker."""
    columns: dict[str, Any] = {
        name: np.repeat([end.manner.get(name, getattr(manner, name)) for end in ends], members)
        for name in ("sweat", "dark_unlit_factor", "dark_lit_factor", "fatigue_per_h")
    }
    return replace(manner, **columns)


def findings_at(
    scene: Scene, outcome: Outcome, walkers: Walkers, planned: Findings, *, course: Course
) -> Findings:
    """Read what the verdicts of parties that walk at the planned hour are made from."""
    members = scene.walkers.count
    count = walkers.count // members
    walks = arrivals_of(
        scene,
        Crowd(walkers, members, np.full(count, scene.depart_epoch_s)),
        outcome,
        conditions=scene.conditions,
        ways=course,
        in_the_open=np.full(count, planned.halt_open[0]),
    )
    # The stops are as planned, and so are the night halts.
    return replace(
        findings_of_arrivals(walks, like=planned),
        halt_short_clo=np.full(count, planned.halt_short_clo[0]),
        halt_h=np.full(count, planned.halt_h[0]),
    )


def _changes(planned: Verdict, verdicts: dict[str, Verdict], *, graver: bool) -> Iterator[str]:
    """Say at which ends the verdict is another one, level by level."""
    rank = LEVELS.index(planned.level)
    for level in LEVELS[rank + 1 :] if graver else LEVELS[:rank]:
        ends = [words for words, verdict in verdicts.items() if verdict.level == level]
        if not ends:
            continue
        some = " or ".join(filter(None, [", ".join(ends[:-1]), ends[-1]]))
        # Hour, place and what a loss means are told with the plan's own reasons.
        first = re.sub(r" \([^()]*\)", "", verdicts[ends[0]].reasons[0])
        yield f"with {some} it would be “{level}”" + (f", since {first}" if graver else "")


def _close(planned: Verdict, verdicts: dict[str, Verdict], plain: dict[str, str]) -> Iterator[str]:
    """Say in a few words at which ends the verdict is graver."""
    for level in LEVELS[LEVELS.index(planned.level) + 1 :]:
        ends = [plain[words] for words, verdict in verdicts.items() if verdict.level == level]
        if ends:
            yield f"close call: if {' or '.join(ends)}, it is “{level}”"


def weighed(scene: Scene, walked: Walked, summary: Summary, *, findings: Findings) -> Summary:
    """Put into a summary what its verdict hangs on.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.
    summary : Summary
        From ``simulator.home.summary.summarise``.
    findings : Findings
        What its verdict is made from.

    Returns
    -------
    Summary
        With ``water.need_l_band``, ``time.elapsed_h_band`` and ``verdict.hangs_on``; reasons and
        assumptions say it in words. The level stays that of the planned walk.
    """
    doubts = doubt(scene, walked, findings)
    told = summary.verdict
    return replace(
        summary,
        water=replace(summary.water, need_l_band=doubts.need_l_band),
        time=replace(summary.time, elapsed_h_band=doubts.elapsed_h_band),
        verdict=replace(
            told,
            reasons=(
                *told.reasons,
                *doubts.close,
            ),
            hangs_on=(*doubts.graver, *doubts.lighter),
        ),
        assumptions=(*summary.assumptions, *doubt_lines(scene, walked, doubts)),
    )


def doubt_lines(scene: Scene, walked: Walked, doubts: Doubts) -> list[str]:
    """Say in words how far the sources are apart on this walk."""
    units = Units(scene.plan.units)
    low, high = (units.volume(1000.0 * litres) for litres in doubts.need_l_band)
    need = units.volume(float(walked.outcome.totals[Total.LOST_ML].sum()))
    shortest, longest = doubts.elapsed_h_band
    lines = [
        (
            f"Water: {need} is needed by the {scene.plan.choices.sweat} estimate of sweat, {low} "
            f"by the lowest and {high} by the highest of the published ones."
        ),
        (
            f"Time: {duration(shortest)} to {duration(longest)} in eight of ten walks with pace, "
            "dark, tiredness and effort drawn at once from what is assumed of them."
        ),
    ]
    moved = [
        f"{words} ({'+' if hours > 0.0 else '-'}{duration(abs(hours))})"
        for words, hours in doubts.moves_h
        if abs(hours) >= LEAST_MOVE_H
    ]
    if moved:
        lines.append(f"What is assumed moves the time, the most first: {', '.join(moved)}.")
    speed = walked.way.course.length_m / float(walked.outcome.totals[Total.MOVED_S, 0])
    loads = load_cost_spread_w(scene.walkers.mass_kg, scene.walkers.bag_kg, speed)
    least, used, most = (float(np.sum(watts)) for watts in loads)
    if used > 0.0:
        lines.append(
            f"Carrying the bag costs {used:.0f} W on the level by the equation used; published "
            f"sources say {min(least, used):.0f} to {max(most, used):.0f} W."
        )
    changes = [*doubts.graver, *doubts.lighter]
    lines.append(
        f"The verdict hangs on what is assumed: {'; '.join(changes)}."
        if changes
        else "The verdict stays the same at both ends of everything tried: sweat, pace, dark, "
        "tiredness" + (", warmth at the halt." if walked.halts else ".")
    )
    return lines


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
    """Walk a way as easy and as steep as its unknown ground may be."""
    course, streets = walked.way.course, scene.streets
    unknown = unknown_steps(course, streets)
    if streets.terrain is None or not unknown.any():
        return None
    steep = steepest(streets, course, unknown)
    rough, first = steepened(course, unknown, steep)
    anew = rewalk(scene, replace(walked.way, course=rough))
    found = findings_of(scene, anew)
    planned = _as_planned(scene, walked, rough, first)
    same_stops = findings_at(scene, planned, scene.walkers, found, course=course)
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
        marks=Marks(hourly=True, steps=np.zeros(0, dtype=np.int64)),
        beside_traffic=beside_traffic(scene.streets, course),
    )


def _rank(verdict: Verdict) -> int:
    return LEVELS.index(verdict.level)


def bounded(
    scene: Scene, walked: Walked, summary: Summary, *, findings: Findings, rewalk: Rewalk
) -> Summary:
    """Put into a summary what unknown heights leave open.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.
    summary : Summary
        From ``simulator.home.summary.summarise``.
    findings : Findings
        What its verdict is made from.
    rewalk : callable
        Walks a way, ``simulator.home.walk.walk_way``.

    Returns
    -------
    Summary
        The same where every height of the way is known. Otherwise with the bands of ``heights``,
        reasons and assumptions in words, and the gravest verdict of all walks.
    """
    band = height_band(scene, walked, rewalk)
    if band is None:
        return summary
    units = Units(scene.plan.units)
    told = replace(
        summary.heights,
        time_h_band=band.elapsed_h,
        need_l_band=band.need_l,
        steepest_assumed=band.steep.slope,
    )
    planned, verdict = judge(findings, units=units), summary.verdict
    low, high = (units.volume(1000.0 * litres) for litres in band.need_l)
    where = where_words(told, units)
    span = f"{_span(*map(duration, band.elapsed_h))} and {_span(low, high)} of water"
    said = f"heights unknown for {where}: takes {span}"
    kept, level = verdict.reasons, verdict.level
    worse: tuple[str, ...] = ()
    if LEVELS.index(level) < _rank(band.gravest):
        level = band.gravest.level
        # What was found on the estimate may be "nothing", which no longer holds.
        if planned.level == LEVELS[0]:
            kept = tuple(text for text in kept if text not in planned.reasons)
        worse = tuple(
            f"if it is steep where heights are unknown: {text}"
            for text in band.gravest.reasons
            if text not in planned.reasons
        )
    reasons = (*worse, *kept)  # the gravest stays first
    return replace(
        summary,
        heights=told,
        verdict=replace(verdict, level=level, reasons=(*reasons[:1], said, *reasons[1:])),
        assumptions=(*summary.assumptions, _rests_on(band.steep, where)),
    )


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
