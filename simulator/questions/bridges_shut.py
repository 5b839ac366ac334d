"""The way home when one or two bridges of the way are shut, and the latest departure by daylight.

What a page can be turned to without asking again: each answer is found beforehand.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, time
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.errors import NoWayHomeError
from simulator.questions.coarse import shortened
from simulator.questions.leave_by import departures, home_until_s, latest, through_s
from simulator.questions.ways import find_way
from simulator.questions.what_if import Answers, Settings, ask, earlier_sky, settings_for
from simulator.route.crossings import group_crossings
from simulator.sky.clock import to_epoch_s
from simulator.sky.sun import daylight_state
from simulator.walk.conditions import CLOCK_STEP_S
from simulator.walk.ledger import local_time
from simulator.walk.records import Total
from simulator.walk.stops import nearby_places

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked
    from simulator.questions.ways import Times, Way
    from simulator.route.crossings import Crossings
    from simulator.walk.conditions import Conditions
    from simulator.walk.course import Course
    from simulator.walk.records import Stop
    from simulator.walk.verdict import Findings

MOST_BRIDGES = 4
"""Bridges that can be shut, those of the way before those of the ways around."""

MOST_WAYS = 5
"""Ways worked out in all."""


@dataclass(frozen=True, slots=True)
class Turned:
    """The way home with some bridges shut.

    Attributes
    ----------
    closed : tuple of int
        Bridges shut beside what the plan closes, by their place in ``WhatIf.bridges``.
    crosses : tuple of int
        Those that this way uses.
    via : tuple of str
        Names of all bridges it uses, in order.
    course : Course or None
        The way in the longer steps that it was walked in; None when there is none.
    stops : tuple of Stop
        Planned stops that lie on it.
    answers : Answers or None
        How it goes at every setting; None when there is no way.
    drawn : Course or None
        The way in all its bends, for drawing.
    leaves_m : float
        Where it leaves the planned way, from the start [m].
    leaves_into : str
        Street it leaves it for; empty when that has no name.
    """

    closed: tuple[int, ...]
    crosses: tuple[int, ...]
    via: tuple[str, ...]
    course: Course | None
    stops: tuple[Stop, ...]
    answers: Answers | None
    drawn: Course | None = None
    leaves_m: float = 0.0
    leaves_into: str = ""


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Other departures, water, paces and closures, answered beforehand.

    Attributes
    ----------
    settings : Settings
        The walks asked of every way.
    bridges : tuple of str
        Bridges that can be shut.
    turned : tuple of Turned
        The planned way first, then the ways with bridges shut.
    sky_epoch_s : float
        First instant of ``daylight``, seconds since 1970-01-01 UTC.
    sky_step_s : float
        Its step [s].
    daylight : ndarray of int8, (T,)
        Codes of ``simulator.sky.sun.DAYLIGHT_STATES``.
    leave_by : datetime or None
        Latest departure of the day that is home by civil dusk; None when none is.
    dusk : datetime or None
        Civil dusk of that day; None where it does not happen or the weather is not known.
    leave_for_home_by : datetime or None
        Latest departure from that day on that is home by the hour the plan names; None when none
        is, or the plan names none.
    """

    settings: Settings
    bridges: tuple[str, ...]
    turned: tuple[Turned, ...]
    sky_epoch_s: float
    sky_step_s: float
    daylight: NDArray[np.int8]
    leave_by: datetime | None
    dusk: datetime | None
    leave_for_home_by: datetime | None = None

    def main_bridge(self) -> dict[str, Any] | None:
        """Tell what to do when the bridge is shut whose loss costs the planned way most.

        Returns
        -------
        dict or None
            ``name``, ``reachable``, ``extra_min``, ``extra_km`` (None without a way home),
            ``via``, the bridges used instead, ``turn_km`` and ``turn_into``, where the planned way
            is left and for which street; None when the way uses no bridge.
        """
        first, *others = self.turned
        ones = [one for one in others if len(one.closed) == 1 and one.closed[0] in first.crosses]
        if not ones:
            return None
        dearest = max(ones, key=lambda one: (self._arrive_s(one), -one.closed[0]))
        name = self.bridges[dearest.closed[0]]
        if dearest.course is None or first.course is None:
            return {
                "name": name,
                "reachable": False,
                "extra_min": None,
                "extra_km": None,
                "via": [],
                "turn_km": None,
                "turn_into": "",
            }
        return {
            "name": name,
            "reachable": True,
            "extra_min": (self._arrive_s(dearest) - self._arrive_s(first)) / 60.0,
            "extra_km": (dearest.course.length_m - first.course.length_m) / 1000.0,
            "via": [bridge for bridge in dearest.via if bridge not in first.via],
            "turn_km": dearest.leaves_m / 1000.0,
            "turn_into": dearest.leaves_into,
        }

    def _arrive_s(self, turned: Turned) -> float:
        """Give the duration with the plan's own settings, infinite without a way [s]."""
        if turned.answers is None:
            return float("inf")
        return float(turned.answers.arrive_s[self.settings.planned])


def explore(
    scene: Scene, walked: Walked, *, times: Times, findings: Findings, dusk: datetime | None
) -> WhatIf:
    """Work out other settings and the ways around shut bridges.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The planned walk.
    times : Times
        From ``street_times``.
    findings : Findings
        What its verdict was made from.
    dusk : datetime or None
        Civil dusk of the day of departure.

    Returns
    -------
    WhatIf
        All on ways laid out in longer steps than the plan's own: arrival may differ from it by a
        minute, or by a rest that falls before or after the last step.
    """
    depart = local_time(scene.depart_epoch_s, scene.zone)
    midnight = datetime.combine(depart.date(), time())
    begin = min(
        to_epoch_s(midnight, scene.zone, where="trip.depart"), scene.depart_epoch_s - 6 * 3600.0
    )
    elapsed_s = float(walked.outcome.totals[Total.CLOCK_S, 0])
    until_s = home_until_s(scene)
    sky = earlier_sky(scene, begin, elapsed_s=elapsed_s, until_epoch_s=until_s)
    settings = settings_for(scene, sky, elapsed_s=elapsed_s)
    dark_s = None if dusk is None else dusk.timestamp()
    tried = departures(scene, sky, (dark_s, until_s))
    course, stops = shortened(walked.way.course, walked.stops)
    answers, took_s = ask(
        scene,
        course,
        stops,
        settings,
        sky=sky,
        findings=findings,
        more_departs_epoch_s=tried,
    )
    took_s = through_s(scene, course, stops, tried, sky=sky, halting_s=took_s)
    planned = Turned((), (), (), course, stops, answers, drawn=walked.way.course)
    bridges, turned = _around(scene, walked, times, settings, sky, findings, planned)
    return WhatIf(
        settings=settings,
        bridges=bridges,
        turned=turned,
        sky_epoch_s=sky.start_epoch_s,
        sky_step_s=CLOCK_STEP_S,
        daylight=daylight_state(sky.values[:, 0]).astype(np.int8),
        leave_by=latest(scene, tried, took_s, dark_s),
        dusk=dusk if tried.size else None,
        leave_for_home_by=latest(scene, tried, took_s, until_s),
    )


def _around(
    scene: Scene,
    walked: Walked,
    times: Times,
    settings: Settings,
    sky: Conditions,
    findings: Findings,
    planned: Turned,
) -> tuple[tuple[str, ...], tuple[Turned, ...]]:
    """Shut bridges of the way, then of the ways around, until enough ways are known."""
    crossings = group_crossings(scene.streets, lines=scene.lines)
    used: dict[tuple[int, ...], list[int]] = {(): _met(crossings, walked.way)}
    toggles: list[int] = used[()][:MOST_BRIDGES]
    names = tuple(crossings.name[number] for number in used[()])
    found: dict[tuple[int, ...], Turned] = {(): replace(planned, via=names)}
    waiting: list[tuple[int, ...]] = [(number,) for number in toggles]
    while waiting and len(found) < MOST_WAYS:
        shut = waiting.pop(0)
        if tuple(sorted(shut)) in found:
            continue
        key = tuple(sorted(shut))
        try:
            way = find_way(scene, times=times, also_closed=crossings.mask(*shut))
        except NoWayHomeError:
            found[key] = Turned(key, (), (), None, (), None)
            continue
        met = _met(crossings, way)
        toggles += [number for number in met if number not in toggles]
        del toggles[MOST_BRIDGES:]
        used[key] = met
        course, stops = shortened(way.course, _kept(scene, walked, way))
        leaves_m, leaves_into = _parting(scene, walked.way, way)
        answer, _none = ask(scene, course, stops, settings, sky=sky, findings=findings)
        found[key] = Turned(
            closed=key,
            crosses=(),
            via=tuple(crossings.name[number] for number in met),
            course=course,
            stops=stops,
            answers=answer,
            drawn=way.course,
            leaves_m=leaves_m,
            leaves_into=leaves_into,
        )
        if len(key) == 1:
            waiting += [(*shut, number) for number in met if number in toggles]
    place = {number: row for row, number in enumerate(toggles)}
    turned = [
        replace(
            one,
            closed=tuple(sorted(place[number] for number in key)),
            crosses=tuple(place[number] for number in used.get(key, ()) if number in place),
        )
        for key, one in found.items()
    ]
    return tuple(crossings.name[number] for number in toggles), tuple(turned)


def _met(crossings: Crossings, way: Way) -> list[int]:
    """List the crossings a way uses, in the order they are met."""
    met = np.concatenate([crossings.of_segment[path.segment] for path in way.legs])
    return [number for number in dict.fromkeys(met.tolist()) if number >= 0]


def _parting(scene: Scene, planned: Way, other: Way) -> tuple[float, str]:
    """Find where another way leaves the planned one [m], and for which street."""
    ours, theirs = (np.concatenate([path.segment for path in way.legs]) for way in (planned, other))
    shared = min(ours.size, theirs.size)
    apart = np.flatnonzero(ours[:shared] != theirs[:shared])
    first = int(apart[0]) if apart.size else shared - 1
    along = np.flatnonzero(other.course.segment == theirs[first])
    row = scene.streets.way[theirs[first]]
    return float(other.course.distance_m[along[0]]), scene.streets.ways.name[row]


def _kept(scene: Scene, walked: Walked, way: Way) -> Sequence[Stop]:
    """Keep the planned stops that lie on another way too."""
    if not walked.stops:
        return ()
    near = nearby_places(
        scene.places,
        scene.streets,
        course=way.course,
        start_fraction=way.legs[0].from_fraction,
        closed=scene.closed,
        reach_m=scene.plan.choices.refill_reach_m,
    )
    row = {place: number for number, place in enumerate(near.place.tolist())}
    kept = [
        replace(
            stop,
            step=int(near.step[row[stop.place]]),
            off_m=float(near.off_m[row[stop.place]]),
        )
        for stop in walked.stops
        if stop.place in row
    ]
    return sorted(kept, key=lambda stop: stop.step)
