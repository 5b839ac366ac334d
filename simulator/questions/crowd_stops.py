"""Where each of many walks stops: refills as they turn out on the way, and night halts.

The plan's own stops are followed; whoever finds a place shut or dry, or needs more than planned,
stops at the next place that can be relied on before the bottles would run dry. Waters that need
treatment are used only where the plan uses them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.ground.hours import open_at
from simulator.questions.refilling import RELIED_ON_SHARE
from simulator.walk.halts import next_first_light
from simulator.walk.ledger import local_time
from simulator.walk.records import Each, Stop

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked
    from simulator.walk.conditions import Conditions
    from simulator.walk.stops import Nearby

QUARTER_S = 900.0
"""Opening hours are looked up for quarters of an hour, in which they rarely change [s]."""


@dataclass(frozen=True, slots=True)
class Taps:
    """Places along one way where bottles can be filled; C of them, in order.

    Attributes
    ----------
    row : (C,) int64
        Row of the way's ``Nearby``.
    stops : tuple of Stop
        The stop at each.
    planned : (C,) bool
        Which of them the plan itself stops at.
    share : (C,) float64
        Share of such places that work in the event.
    relied : (C,) bool
        Whether one may count on it, opening hours left aside.
    """

    row: NDArray[np.int64]
    stops: tuple[Stop, ...]
    planned: NDArray[np.bool_]
    share: NDArray[np.float64]
    relied: NDArray[np.bool_]

    @property
    def step(self) -> NDArray[np.int64]:
        """The step each stop is made before."""
        return np.array([stop.step for stop in self.stops], dtype=np.int64)

    @property
    def place(self) -> NDArray[np.int64]:
        """Row of each in ``Places``."""
        return np.array([stop.place for stop in self.stops], dtype=np.int64)


def taps_along(scene: Scene, walked: Walked) -> Taps:
    """List where bottles can be filled along a way.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The plan's own walk on this way.

    Returns
    -------
    Taps
        The plan's stops and every other place that gives water fit to drink.
    """
    own = [stop for stop in walked.stops if stop.until_epoch_s is None]
    return taps_near(scene, walked.nearby, own, has_key=scene.carried.has_key)


def taps_near(scene: Scene, nearby: Nearby, own: Sequence[Stop], *, has_key: bool) -> Taps:
    """List where bottles can be filled among the places near a way.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    nearby : Nearby
        Places near the way.
    own : sequence of Stop
        Stops for water that are planned already.
    has_key : bool
        Whether the bag has the key that some taps need.

    Returns
    -------
    Taps
        The planned stops and every other place that gives water fit to drink.
    """
    places = scene.places
    planned = {stop.place: stop for stop in own}
    rows, stops = [], []
    for row, place in enumerate(nearby.place.tolist()):
        plain = not places.needs_treatment[place] and (not places.needs_key[place] or has_key)
        if place in planned:
            stop = planned.pop(place)
        elif "water" in places.gives[place] and plain:
            stop = Stop(
                step=int(nearby.step[row]),
                off_m=float(nearby.off_m[row]),
                service_s=float(places.service_s[place]),
                refill=True,
                place=place,
            )
        else:
            continue
        rows.append(row)
        stops.append(stop)
    chosen = {stop.place for stop in own}
    share = places.works_in(scene.plan.event.kind)[[stop.place for stop in stops]]
    follows = np.array([stop.place in chosen for stop in stops], dtype=bool)
    return Taps(
        row=np.array(rows, dtype=np.int64),
        stops=tuple(stops),
        planned=follows,
        share=share,
        relied=(share >= RELIED_ON_SHARE) | follows,
    )


class Hours:
    """Opening hours of places at many instants, each distinct quarter of an hour asked once."""

    def __init__(self, scene: Scene, *, step_s: float = QUARTER_S) -> None:
        self.scene, self.step_s = scene, step_s
        self.known: dict[tuple[str, float], bool | None] = {}

    def may_enter(self, place: int, epoch_s: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Say when a place can be used, as far as hours tell.

        Parameters
        ----------
        place : int
            Row in ``Places``.
        epoch_s : (n,) float64
            Instants, seconds since 1970-01-01 UTC.

        Returns
        -------
        (n,) bool
            Open; where hours are not known, whether the kind of place is never locked.
        """
        places = self.scene.places
        text, always = places.hours[place], bool(places.always_open[place])
        if not text:
            return np.full(epoch_s.size, always)
        quarter, where = np.unique(np.floor(epoch_s / self.step_s), return_inverse=True)
        states = [self._state(place, text, float(when)) for when in quarter.tolist()]
        entered = np.array([always if state is None else state for state in states], dtype=bool)
        return entered[where]

    def _state(self, place: int, text: str, quarter: float) -> bool | None:
        key = (text, quarter)
        if key not in self.known:
            places = self.scene.places
            self.known[key] = open_at(
                text,
                local_time(quarter * self.step_s, self.scene.zone),
                lat=float(places.lat[place]),
                lon=float(places.lon[place]),
            )
        return self.known[key]


def who_stops(
    taps: Taps,
    *,
    need_ml: NDArray[np.float64],
    end_need_ml: NDArray[np.float64],
    start_ml: NDArray[np.float64],
    capacity_ml: NDArray[np.float64],
    enterable: NDArray[np.bool_],
    works: NDArray[np.bool_],
    follow_plan: bool,
) -> NDArray[np.bool_]:
    """Decide at each tap who stops there, seeing before each whether the last one worked.

    Parameters
    ----------
    taps : Taps
        C places in order.
    need_ml : (C, n) float64
        Water each walk has lost by each place [mL].
    end_need_ml, start_ml, capacity_ml : (n,) float64
        Lost by home, carried at the start, held by the bottles [mL].
    enterable, works : (C, n) bool
        Whether it is open, as anyone can read, and whether it works, which shows on the spot.
    follow_plan : bool
        Stop wherever the plan does, needed or not.

    Returns
    -------
    (C, n) bool
        Who stops where.
    """
    count, walks = need_ml.shape
    counted = enterable & taps.relied[:, None]
    # What is lost by the next place that can be relied on, or by home.
    following = np.empty((count, walks))
    ahead = end_need_ml
    for row in range(count - 1, -1, -1):
        following[row] = ahead
        ahead = np.where(counted[row], need_ml[row], ahead)
    stopping = np.zeros((count, walks), dtype=bool)
    left, before = start_ml.copy(), np.zeros(walks)
    for row in range(count):
        left = np.maximum(left - (need_ml[row] - before), 0.0)
        before = need_ml[row]
        wanted = left < following[row] - need_ml[row]
        if follow_plan and taps.planned[row]:
            wanted = np.ones(walks, dtype=bool)
        stopping[row] = counted[row] & wanted & (capacity_ml > left)
        left = np.where(stopping[row] & works[row], capacity_ml, left)
    return stopping


@dataclass(slots=True)
class Halts:
    """Night halts of many walks, gathered by place or by step on the way.

    Attributes
    ----------
    walks : int
        How many walks.
    until : dict
        By (step, place): until when each walk waits there, NaN for those that do not.
    last_step : (n,) int64
        Step of each walk's latest halt, -1 before the first.
    count : (n,) int64
        Halts so far.
    in_the_open : (n,) bool
        Whether any is at no shelter.
    """

    walks: int
    until: dict[tuple[int, int], NDArray[np.float64]]
    last_step: NDArray[np.int64]
    count: NDArray[np.int64]
    in_the_open: NDArray[np.bool_]

    @classmethod
    def none(cls, walks: int) -> Halts:
        """Begin without any.

        Parameters
        ----------
        walks : int
            Number of walks.

        Returns
        -------
        Halts
            Nobody halts.
        """
        return cls(
            walks,
            {},
            np.full(walks, -1, dtype=np.int64),
            np.zeros(walks, dtype=np.int64),
            np.zeros(walks, dtype=bool),
        )

    def add(self, walk: int, *, step: int, place: int, until_epoch_s: float) -> None:
        """Let one walk halt.

        Parameters
        ----------
        walk : int
            Which walk.
        step : int
            It halts before this step.
        place : int
            Row of the place; -1 in the open.
        until_epoch_s : float
            First light, seconds since 1970-01-01 UTC.
        """
        until = self.until.setdefault((step, place), np.full(self.walks, np.nan))
        until[walk] = until_epoch_s
        self.last_step[walk] = step
        self.count[walk] += 1
        self.in_the_open[walk] |= place < 0

    def some(self, walks: NDArray[np.intp]) -> Halts:
        """Take some of the walks.

        Parameters
        ----------
        walks : ndarray of int
            Which walks.

        Returns
        -------
        Halts
            Of these walks, in this order.
        """
        return Halts(
            walks.size,
            {key: until[walks] for key, until in self.until.items()},
            self.last_step[walks],
            self.count[walks],
            self.in_the_open[walks],
        )

    def stops(self, scene: Scene, walked: Walked, members: int) -> list[Stop]:
        """Turn them into stops for the engine, party by party.

        Parameters
        ----------
        scene : Scene
            The loaded plan.
        walked : Walked
            The plan's own walk, for distances off the way.
        members : int
            Walkers in a party.

        Returns
        -------
        list of Stop
            In the order of the way.
        """
        off_m = dict(zip(walked.nearby.place.tolist(), walked.nearby.off_m.tolist(), strict=True))
        stops = []
        for (step, place), until in self.until.items():
            waits = np.isfinite(until)
            if waits.any():
                active = np.repeat(waits, members)
                stops.append(
                    Stop(
                        step=step,
                        off_m=off_m.get(place, 0.0),
                        refill=_safe_water(scene, place),
                        place=place,
                        each=Each(active, np.ones_like(active), np.repeat(until, members)),
                    )
                )
        return stops


def _safe_water(scene: Scene, place: int) -> bool:
    """Whether a halt gives water fit to drink without a key."""
    places = scene.places
    return bool(
        place >= 0
        and "water" in places.gives[place]
        and not places.needs_treatment[place]
        and not places.needs_key[place]
    )


def add_halts(
    halts: Halts,
    walked: Walked,
    *,
    conditions: Conditions,
    depart_epoch_s: NDArray[np.float64],
    limit_s: NDArray[np.float64],
    limit_step: NDArray[np.int64],
    clock_s: NDArray[np.float64],
    off_s: NDArray[np.float64],
    usable: NDArray[np.bool_],
    due: NDArray[np.intp],
) -> None:
    """Halt each walk whose day ends: at the latest shelter in time, or else where it stands.

    Parameters
    ----------
    halts : Halts
        Added to.
    walked : Walked
        For the places near the way.
    conditions : Conditions
        For first light.
    depart_epoch_s, limit_s, limit_step : (n,)
        Departure, and where the day ends.
    clock_s, off_s : (C, n) float64
        When each nearby place is passed, and the time from the way to it [s].
    usable : (C, n) bool
        Which of them give shelter that can be used then.
    due : (m,) int64
        The walks to halt.
    """
    nearby = walked.nearby
    arrive = clock_s + off_s
    fits = usable & (arrive <= limit_s) & (nearby.step[:, None] > np.maximum(halts.last_step, 0))
    for walk in due.tolist():
        inside = np.flatnonzero(fits[:, walk])
        if inside.size:
            # The latest shelter loses least; the nearer to the way where two are reached alike.
            order = np.lexsort((-nearby.off_m[inside], arrive[inside, walk]))
            row = int(inside[order[-1]])
            step, place, at_s = int(nearby.step[row]), int(nearby.place[row]), arrive[row, walk]
        else:
            step, place = int(max(limit_step[walk], halts.last_step[walk])), -1
            at_s = limit_s[walk]
        until = next_first_light(conditions, float(depart_epoch_s[walk] + at_s))
        halts.add(walk, step=step, place=place, until_epoch_s=until)


def merged(taps: Taps, stopping: NDArray[np.bool_], works: NDArray[np.bool_]) -> list[Stop]:
    """Turn who stops at which tap into stops for the engine.

    Parameters
    ----------
    taps : Taps
        C places.
    stopping, works : (C, w) bool
        By walker: who stops, for whom it works.

    Returns
    -------
    list of Stop
        Those that anyone makes.
    """
    return [
        replace(stop, each=Each(stopping[row], works[row]))
        for row, stop in enumerate(taps.stops)
        if stopping[row].any()
    ]
