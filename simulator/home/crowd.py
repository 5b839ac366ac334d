"""Walks along one way, with what each finds on it: the shared work of plan, odds, year and people.

First all walk without stops, which tells what each has lost and when each passes every place; from
that follows who stops where; then all walk again with their stops, until stops, night halts and
arrival times agree. Everything is decided walk by walk, so neither the size of a block nor the
number of workers changes a number.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.assumed import TARP_WIND_SHARE, wet_clothing_clo
from simulator.body.energy import J_PER_KCAL, resting_of
from simulator.body.warmth import halt_warmth
from simulator.body.water import body_area_m2
from simulator.ground.hours import open_at
from simulator.home.crowd_records import Arrivals, Crowd, StopChoice, When, join_arrivals
from simulator.home.hazards import MappedRisks, mapped_risks
from simulator.home.refills import (
    RELIED_ON_SHARE,
    Kit,
    Met,
    Passed,
    kit_in,
    needs_of,
    passed_of,
    stop_at,
)
from simulator.home.strain import strains_of
from simulator.home.walked import allowed_s
from simulator.home.warmth import (
    HALT_FROM_S,
    SAMPLES,
    carries_roof,
    hours_of,
    keeps_dry,
    on_foot,
    permeability_of,
    windproof_of,
)
from simulator.units import HOUR_S
from simulator.walk.account import Lack, first_lack, lacks_of
from simulator.walk.conditions import Moment, weather_at
from simulator.walk.course import Course, beside_traffic, coarse
from simulator.walk.engine import simulate
from simulator.walk.halts import DAY_OVER, NO_LIGHT, Halt, next_start
from simulator.walk.ledger import Ledger, amounts_of, ledger_of, local_time
from simulator.walk.party import level_speed_m_s
from simulator.walk.records import (
    NEARLY_S,
    PASSING,
    Begun,
    Each,
    Marks,
    Outcome,
    Stop,
    Total,
    some_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from numpy.typing import NDArray

    from simulator.home.scene import Scene
    from simulator.home.walked import Walked
    from simulator.walk.conditions import Conditions
    from simulator.walk.records import Halted
    from simulator.walk.stops import Nearby

QUARTER_S = 900.0
"""Opening hours are looked up for quarters of an hour, in which they rarely change [s]."""


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


STOP_ROUNDS = 12
"""How often stops and arrival times may correct each other before the last answer is taken."""

LEAST_ML = 1.0
"""Shortages that differ by less count as the same [mL]."""


def stops_of(
    scene: Scene,
    kit: Kit,
    members: int,
    met: Met,
    choice: StopChoice,
    works: NDArray[np.bool_],
) -> list[Stop]:
    """Turn the choices of walks along one way into stops for the engine."""
    stops = []
    for row in np.flatnonzero(choice.key.any(axis=1)).tolist():
        here = choice.key[row] > 0
        ways = np.unique(
            np.stack([choice.method[row][here], choice.carried_on[row][here]], axis=1), axis=0
        )
        for method, carried_on in ways.tolist():
            mine = here & (choice.method[row] == method)
            mine &= choice.carried_on[row] == bool(carried_on)
            stop = stop_at(
                scene,
                kit,
                members,
                place=int(met.place[row, 0]),
                step=int(met.step[row, 0]),
                off_m=float(met.off_m[row, 0]),
                method=int(method),
                carried_on=bool(carried_on),
            )
            each = Each(
                active=np.repeat(mine, members),
                works=np.repeat(works[row], members),
                ahead_ml=np.repeat(choice.ahead_ml[row], members),
            )
            stops.append(replace(stop, each=each))
    return stops


def relied_on(
    scene: Scene,
    met: Met,
    clock_s: NDArray[np.float64],
    depart_epoch_s: NDArray[np.float64],
    opening: Hours,
    *,
    has_key: NDArray[np.bool_] | bool,
    treats: NDArray[np.bool_] | bool,
) -> NDArray[np.bool_]:
    """Say which places can be relied on when each walk gets there, (C, n), as for one walk."""
    places = scene.places
    relied = np.zeros(met.place.shape, dtype=bool)
    sure = places.works_in(scene.plan.event.kind) >= RELIED_ON_SHARE
    for place in np.unique(met.place[met.place >= 0]).tolist():
        if not sure[place]:
            continue
        row, walk = np.nonzero(met.place == place)
        can = opening.may_enter(place, depart_epoch_s[walk] + clock_s[row, walk])
        if places.needs_key[place]:
            can = can & np.broadcast_to(has_key, depart_epoch_s.shape)[walk]
        if places.needs_treatment[place]:
            can = can & np.broadcast_to(treats, depart_epoch_s.shape)[walk]
        relied[row, walk] = can
    return relied


@dataclass(frozen=True, slots=True)
class Chooser:
    """Decides where walks stop: the same for a plan, a crowd and a table of people.

    Attributes
    ----------
    scene : Scene
        Places, manner and event; its bag unless a kit is given.
    conditions : Conditions
        Weather of all walks.
    opening : Hours
        Opening hours looked up so far.
    """

    scene: Scene
    conditions: Conditions
    opening: Hours

    def kit(self, crowd: Crowd) -> Kit:
        """Say what the bag has for treating water: everyone's first party's."""
        walkers, members = crowd.walkers, crowd.members
        return kit_in(
            self.scene,
            treats_ml=float(walkers.treats_ml[:members].sum()),
            capacity_ml=float(walkers.capacity_ml[:members].sum()),
        )

    def choose(
        self,
        crowd: Crowd,
        met: Met,
        passed: Passed,
        *,
        must: NDArray[np.bool_] | None = None,
    ) -> tuple[NDArray[np.bool_], StopChoice]:
        """Choose the stops of walks with one bag, at least those that must be, (C, n).

        Gives also which places could be relied on.
        """
        relied = relied_on(
            self.scene,
            met,
            passed.clock_s,
            crowd.depart_epoch_s,
            self.opening,
            has_key=self.scene.carried.has_key,
            treats=self.scene.carried.treats_ml > 0.0,
        )
        needs = needs_of(
            self.scene,
            met,
            passed,
            walkers=crowd.walkers,
            members=crowd.members,
            depart_epoch_s=crowd.depart_epoch_s,
            conditions=self.conditions,
            kit=self.kit(crowd),
        )
        chosen = needs.choose(
            relied,
            works=None if crowd.works is None else crowd.works.T,
            must=must,
        )
        return relied, StopChoice.of(chosen, needs.ahead_ml())


class Rounds:
    """What was tried by each walk since its last halt, to tell when it has come to rest."""

    def __init__(self, walks: int) -> None:
        self.choices: list[StopChoice] = []
        self.worth: list[NDArray[np.float64]] = []
        self.since = np.zeros(walks, dtype=np.int64)

    def add(self, choice: StopChoice, worth: NDArray[np.float64]) -> None:
        """Note what all walks have just tried; the worth is (3, n), the less the better."""
        self.choices.append(choice)
        self.worth.append(worth)

    def put_back(
        self, choice: StopChoice, walks: NDArray[np.intp], tried: NDArray[np.int64]
    ) -> None:
        """Give walks the choice again that each tried in an earlier round."""
        for earlier in np.unique(tried).tolist():
            mine = walks[tried == earlier]
            choice.put(mine, self.choices[earlier].some(mine))

    def rest(self, wanted: StopChoice) -> NDArray[np.int64]:
        """Give the round that each walk rests on, -1 while rounds bring something new.

        The last round when it calls for itself; of a circle the best: with open places first, then
        the least shortage, then the least time.
        """
        last, walks = len(self.choices) - 1, self.since.size
        same = np.array([(each.key == wanted.key).all(axis=0) for each in self.choices])
        tried = np.arange(last + 1)[:, None]
        same &= tried >= self.since
        first = np.where(same.any(axis=0), np.argmax(same, axis=0), last + 1)
        circle = tried >= first
        worth = np.where(circle, np.array(self.worth).transpose(1, 0, 2), np.inf)
        order = np.lexsort((*np.broadcast_to(tried, (1, last + 1, walks)), *worth[::-1]), axis=0)
        return np.where(first <= last, order[0], -1)


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
    for_dark : set of (int, int, int)
        Halts by walk, step and place that are made for want of light, not of rest.
    """

    walks: int
    until: dict[tuple[int, int], NDArray[np.float64]]
    last_step: NDArray[np.int64]
    count: NDArray[np.int64]
    in_the_open: NDArray[np.bool_]
    for_dark: set[tuple[int, int, int]]

    @classmethod
    def none(cls, walks: int) -> Halts:
        """Begin without any."""
        return cls(
            walks,
            {},
            np.full(walks, -1, dtype=np.int64),
            np.zeros(walks, dtype=np.int64),
            np.zeros(walks, dtype=bool),
            set(),
        )

    def add(self, walk: int, *, step: int, place: int, until_epoch_s: float, dark: bool) -> None:
        """Let one walk halt."""
        if dark:
            self.for_dark.add((walk, step, place))
        until = self.until.setdefault((step, place), np.full(self.walks, np.nan))
        until[walk] = until_epoch_s
        self.last_step[walk] = step
        self.count[walk] += 1
        self.in_the_open[walk] |= place < 0

    def some(self, walks: NDArray[np.intp]) -> Halts:
        """Take some of the walks."""
        return Halts(
            walks.size,
            {key: until[walks] for key, until in self.until.items()},
            self.last_step[walks],
            self.count[walks],
            self.in_the_open[walks],
            set(),
        )

    def stops(self, scene: Scene, nearby: Nearby, members: int) -> list[Stop]:
        """Turn them into stops for the engine, party by party."""
        off_m = dict(zip(nearby.passing, nearby.off_m.tolist(), strict=True))
        stops = []
        for (step, place), until in self.until.items():
            waits = np.isfinite(until)
            if waits.any():
                active = np.repeat(waits, members)
                stops.append(
                    Stop(
                        step=step,
                        off_m=off_m.get((place, step), 0.0),
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
    nearby: Nearby,
    *,
    conditions: Conditions,
    depart_epoch_s: NDArray[np.float64],
    limit_s: NDArray[np.float64],
    limit_step: NDArray[np.int64],
    clock_s: NDArray[np.float64],
    off_s: NDArray[np.float64],
    usable: NDArray[np.bool_],
    due: NDArray[np.bool_],
    among: NDArray[np.intp],
    dark: NDArray[np.bool_],
) -> None:
    """Halt each walk whose day ends: at the latest shelter in time, or else where it stands."""
    arrive = clock_s + off_s
    after = np.maximum(halts.last_step[among], 0)
    fits = usable & (arrive <= limit_s) & (nearby.step[:, None] > after)
    for column in np.flatnonzero(due).tolist():
        walk, inside = int(among[column]), np.flatnonzero(fits[:, column])
        if inside.size:
            # The latest shelter loses least; the nearer to the way where two are reached alike.
            order = np.lexsort((-nearby.off_m[inside], arrive[inside, column]))
            row = int(inside[order[-1]])
            step, place = int(nearby.step[row]), int(nearby.place[row])
            at_s = arrive[row, column]
        else:
            step, place = int(max(limit_step[column], halts.last_step[walk])), -1
            at_s = limit_s[column]
        until = next_start(conditions, float(depart_epoch_s[column] + at_s))
        halts.add(walk, step=step, place=place, until_epoch_s=until, dark=bool(dark[column]))


class Nights(NamedTuple):
    """The worst night halt of each walk.

    Attributes
    ----------
    hours, short_clo : (n,) float64
        Length [h] and missing insulation [clo]; NaN without a halt.
    from_s, at_m : (n,) float64
        Since when, after departure [s], and where along the way [m].
    """

    hours: NDArray[np.float64]
    short_clo: NDArray[np.float64]
    from_s: NDArray[np.float64]
    at_m: NDArray[np.float64]

    @property
    def lack(self) -> Lack:
        """What is missing; nothing without a halt."""
        missing = np.where(np.isnan(self.hours), 0.0, self.short_clo)
        return Lack(missing, np.where(missing == 0.0, np.inf, self.from_s), self.at_m)


def halt_warmth_of(scene: Scene, crowd: Crowd, outcome: Outcome, conditions: Conditions) -> Nights:
    """Compare the warmth of every halt with what is worn and carried, as the main question does."""
    none = np.full(crowd.count, np.nan)
    worst = Nights(none.copy(), none.copy(), none.copy(), none.copy())
    # A party is as windproof as its least windproof member.
    each_proof = windproof_of(crowd.walkers).reshape(-1, crowd.members)
    proof: NDArray[np.bool_] = np.asarray(each_proof.all(axis=1))
    for halted in outcome.halted:
        alone = halted.rows % crowd.members == 0
        walks = halted.rows[alone] // crowd.members
        hours = (halted.until_s - halted.from_s)[alone] / HOUR_S
        long = hours > 0.0
        walks, hours = walks[long], hours[long]
        if walks.size == 0:
            continue
        from_s, until_s = halted.from_s[alone][long], halted.until_s[alone][long]
        sky = _weather(crowd, walks, from_s, until_s, conditions)
        night = halt_warmth(
            sky.air_c.min(axis=0),
            _wind_share(scene, halted) * sky.wind_m_s.max(axis=0),
            _worn_clo(scene, crowd, walks, from_s, conditions),
            scene.carried.warmth_clo / crowd.members,
            hours,
            permeability_l_m2_s=permeability_of(proof[walks]),
        )
        short = np.where(night.enough, 0.0, night.short_clo)
        worse = ~(worst.short_clo[walks] > short)
        for column, values in zip(
            worst, (hours, short, from_s, halted.at_m[alone][long]), strict=True
        ):
            column[walks[worse]] = values[worse]
    return worst


def _wind_share(scene: Scene, halted: Halted) -> float:
    """Share of the wind felt at the halt: walls keep it off, a roof without walls half of it."""
    if halted.place < 0:
        return TARP_WIND_SHARE.middle if carries_roof(scene) else 1.0
    return TARP_WIND_SHARE.middle if scene.places.always_open[halted.place] else 0.0


def _weather(
    crowd: Crowd,
    walks: NDArray[np.intp],
    from_s: NDArray[np.float64],
    until_s: NDArray[np.float64],
    conditions: Conditions,
) -> Moment:
    """Look the weather of each walk up over a span, shape (SAMPLES, m)."""
    clock = crowd.depart_epoch_s[walks] + np.linspace(from_s, until_s, SAMPLES)
    error = None if crowd.error is None else some_of(crowd.error, walks * crowd.members)
    return weather_at(conditions, clock, error)


def _worn_clo(
    scene: Scene,
    crowd: Crowd,
    walks: NDArray[np.intp],
    from_s: NDArray[np.float64],
    conditions: Conditions,
) -> NDArray[np.float64]:
    """Insulation of the thinnest clothes when the halt begins; rain takes some unless kept off."""
    clothing = crowd.walkers.clothing_clo.reshape(-1, crowd.members)
    clothes: NDArray[np.float64] = clothing[walks].min(axis=1)
    if keeps_dry(scene):
        return clothes
    sky = _weather(crowd, walks, np.zeros_like(from_s), from_s, conditions)
    rain_mm = sky.rain_mm_h.mean(axis=0) * from_s / HOUR_S
    return np.asarray(wet_clothing_clo(clothes, rain_mm))


def strains(
    scene: Scene,
    crowd: Crowd,
    outcome: Outcome,
    ledger: Ledger,
    conditions: Conditions,
    length_m: NDArray[np.float64] | float,
) -> tuple[NDArray[np.float64], Lack]:
    """Say what the hours on the way ask of the body, and what clothes lack from when on."""
    walkers, total = crowd.walkers, outcome.totals
    elapsed_s = total[Total.CLOCK_S]
    begins_s, long_s = hours_of(elapsed_s)
    kcal = ledger.of(Total.ENERGY_KCAL).reshape(len(begins_s) + 1, -1)
    rate_w = np.diff(kcal, axis=0) * J_PER_KCAL / np.where(long_s > 0.0, long_s, np.nan)
    resting = resting_of(walkers.mass_kg, walkers.height_m, walkers.age_y, walkers.male)
    left_out = rate_w < SITTING_SHARE * resting
    for halted in outcome.halted:
        shared = np.minimum(begins_s + long_s[:, halted.rows], halted.until_s)
        shared -= np.maximum(begins_s, halted.from_s)
        left_out[:, halted.rows] |= shared >= HALT_FROM_S
    depart = np.repeat(crowd.depart_epoch_s, crowd.members)
    found = on_foot(
        conditions,
        depart,
        elapsed_s,
        rate_w / np.asarray(body_area_m2(walkers.mass_kg, walkers.height_m)),
        walkers.clothing_clo,
        scene.carried.walking_clo / crowd.members
        if crowd.carried_clo is None
        else np.repeat(crowd.carried_clo, crowd.members),
        kept_dry=keeps_dry(scene)
        if crowd.kept_dry is None
        else np.repeat(crowd.kept_dry, crowd.members),
        windproof=windproof_of(walkers),
        left_out=left_out,
        error=crowd.error,
    )
    lack = np.nan_to_num(found.lack_clo, nan=0.0).reshape(len(begins_s), -1, crowd.members)
    asked = strains_of(
        conditions,
        depart,
        walkers,
        elapsed_s,
        total[Total.MOVED_S],
        length_m,
        rate_w,
        found,
        members=crowd.members,
        left_out=left_out,
        error=crowd.error,
    )
    return asked, first_lack(lack.max(axis=-1), ledger)


SITTING_SHARE = 1.5
"""An hour whose mean metabolic rate stays below this share of the resting one is waited out, not
walked; an assumption, 1.2 to 2: walking takes three times the rate of rest or more."""


BLOCK = 5_000
"""Walks taken at a time; bounds the memory and changes no number."""

MOST_HALTS = 5
"""Nights planned at most, as in the main question."""


def walk_crowd(
    scene: Scene,
    walked: Walked,
    crowd: Crowd,
    *,
    conditions: Conditions,
    follow_plan: bool = True,
    profile: NDArray[np.int64] | None = None,
    opening: Hours | None = None,
    block: int = BLOCK,
    progress: Callable[[float], None] | None = None,
) -> Arrivals:
    """Walk one way many times.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The plan's own walk on this way: the course, places near it, stops.
    crowd : Crowd
        n walks.
    conditions : Conditions
        Sun and weather over all departures and walks.
    follow_plan : bool
        Whether everyone makes the plan's stops, or only stops when in need.
    profile : (K,) int64, optional
        Steps at which the profile is read.
    opening : Hours, optional
        Opening hours looked up so far, to share between calls.
    block : int
        Walks at a time.
    progress : callable, optional
        Told the share done.

    Returns
    -------
    Arrivals
        In the order of the walks.
    """
    own = {(stop.place, stop.step) for stop in walked.stops if stop.until_epoch_s is None}
    return walk_along(
        scene,
        walked.way.course,
        walked.nearby,
        crowd,
        conditions=conditions,
        must=own if follow_plan else (),
        profile=profile,
        opening=opening,
        block=block,
        progress=progress,
    )


def walk_along(
    scene: Scene,
    course: Course,
    nearby: Nearby,
    crowd: Crowd,
    *,
    conditions: Conditions,
    must: Collection[tuple[int, int]] = (),
    first: StopChoice | None = None,
    profile: NDArray[np.int64] | None = None,
    opening: Hours | None = None,
    within_s: float = 0.0,
    block: int = BLOCK,
    progress: Callable[[float], None] | None = None,
) -> Arrivals:
    """Walk any way many times, as ``walk_crowd``; rounds may begin with the stops of one walk.

    Walks that are only compared may be so far off in time [s].
    """
    steps = np.zeros(0, dtype=np.int64) if profile is None else profile
    walker = _Block(scene, course, nearby, opening or Hours(scene), conditions, steps, within_s)
    parts = []
    for begin in range(0, crowd.count, block):
        some = np.arange(begin, min(begin + block, crowd.count))
        alike = None if first is None else first.some(np.zeros(some.size, dtype=np.intp))
        parts.append(walker.walk(crowd.some(some), must=must, first=alike).arrivals)
        if progress is not None:
            progress((int(some[-1]) + 1) / crowd.count)
    return join_arrivals(parts)


class Settled(NamedTuple):
    """Walks whose stops, halts and arrival times agree.

    Attributes
    ----------
    arrivals : Arrivals
        How each went.
    stops : list of Stop
        Those walked with in the last round, of the walks that were then still unsettled.
    choice : StopChoice
        Where each stops for water.
    halts : Halts
        Night halts.
    settled : bool
        Whether all came to rest, with every place open that is stopped at.
    begun : Begun or None
        How the steps of one walk were begun in the last round: for guesses.
    """

    arrivals: Arrivals
    stops: list[Stop]
    choice: StopChoice
    halts: Halts
    settled: bool
    begun: Begun | None


class PlannedStops(NamedTuple):
    """Stops and night halts of the plan's own walk.

    Attributes
    ----------
    stops : tuple of Stop
        All of them, halts too, in order.
    halts : tuple of Halt
        Night halts, with their reasons.
    choice : StopChoice
        Where the walk stops for water.
    settled : bool
        Whether it came to rest, with every place open that is stopped at.
    begun : Begun or None
        How its steps were begun: for guesses.
    """

    stops: tuple[Stop, ...]
    halts: tuple[Halt, ...]
    choice: StopChoice
    settled: bool
    begun: Begun | None


def settle_one(scene: Scene, course: Course, nearby: Nearby) -> PlannedStops:
    """Settle stops and night halts of the plan's own walk along a way, as of thousands."""
    members = scene.walkers.count
    block = _Block(
        scene, course, nearby, Hours(scene), scene.conditions, np.zeros(0, dtype=np.int64)
    )
    depart = np.array([scene.depart_epoch_s])
    found = block.walk(Crowd(scene.walkers, members, depart))
    stops, halts = [], []
    for stop in found.stops:
        each = stop.each
        if each is None or not each.active.any():
            continue
        if each.until_epoch_s is None:
            ahead = 0.0 if each.ahead_ml is None else float(each.ahead_ml[0])
            stops.append(replace(stop, each=None, ahead_ml=ahead))
            continue
        halt = replace(stop, each=None, until_epoch_s=float(each.until_epoch_s[0]))
        stops.append(halt)
        dark = (0, stop.step, stop.place) in found.halts.for_dark
        halts.append(Halt(halt, NO_LIGHT if dark else DAY_OVER, sheltered=stop.place >= 0))
    return PlannedStops(tuple(stops), tuple(halts), found.choice, found.settled, found.begun)


@dataclass(frozen=True, slots=True)
class _Block:
    """Everything that is the same for all blocks of walks."""

    scene: Scene
    course: Course
    nearby: Nearby
    opening: Hours
    conditions: Conditions
    profile: NDArray[np.int64]
    within_s: float = 0.0

    def walk(
        self,
        crowd: Crowd,
        *,
        must: Collection[tuple[int, int]] = (),
        first: StopChoice | None = None,
    ) -> Settled:
        """Walk until stops, night halts and arrival times agree."""
        mine = np.array([passing in must for passing in self.nearby.passing], dtype=bool)
        forced = np.broadcast_to(mine[:, None], (mine.size, crowd.count))
        found = self._settle(crowd, forced, first, None)
        tired = np.flatnonzero(found.halts.count > 0)
        if tired.size == 0:
            return found
        stops = (found.choice.key > 0) | forced
        again = self._settle(
            crowd.some(tired), stops[:, tired], found.choice.some(tired), found.begun
        )
        if tired.size == crowd.count:
            return again
        found.arrivals.put(tired, again.arrivals)
        return found

    def _settle(
        self,
        crowd: Crowd,
        must: NDArray[np.bool_],
        first: StopChoice | None,
        like: Begun | None,
    ) -> Settled:
        """Let every walk correct its stops by its arrival times until it rests."""
        met = Met.along(self.nearby, crowd.count)
        halts, rounds = Halts.none(crowd.count), Rounds(crowd.count)
        chooser = Chooser(self.scene, self.conditions, self.opening)
        choice, begun = first, like
        if choice is None:
            choice, begun = self._first(crowd, met, chooser, must)
        works = np.ones(met.place.shape, dtype=bool) if crowd.works is None else crowd.works.T
        worth = np.zeros((3, crowd.count))
        final = np.zeros(crowd.count, dtype=bool)
        active = np.arange(crowd.count)
        arrivals: Arrivals | None = None
        made: list[Stop] = []
        for number in range(STOP_ROUNDS):
            some, mine = crowd.some(active), choice.some(active)
            stops = stops_of(
                self.scene, chooser.kit(some), some.members, met, mine, works[:, active]
            )
            stops += halts.some(active).stops(self.scene, self.nearby, crowd.members)
            made = sorted(stops, key=lambda stop: stop.step)
            outcome = self._simulate(some, made, like=begun)
            passed = self._passed(outcome, some.members)
            near = Met.along(self.nearby, active.size)
            relied, again = chooser.choose(some, near, passed, must=must[:, active])
            worth[:, active] = _worth(outcome, (mine.key > 0) & ~relied, some.members)
            rounds.add(choice.some(np.arange(crowd.count)), worth.copy())
            wanted = choice.some(np.arange(crowd.count))
            wanted.put(active, again)
            rest = np.where(final, number, rounds.rest(wanted))[active]
            back = np.flatnonzero((rest >= 0) & (rest < number))
            rounds.put_back(choice, active[back], rest[back])
            final[active[back]] = True
            new = active[rest < 0]
            choice.put(new, wanted.some(new))
            resting = rest == number
            due = resting & self._due(outcome, some.members, halts.count[active])
            # How a walk went is told once it rests; until then only its clock is asked for.
            if (resting & ~due).any() or number == STOP_ROUNDS - 1:
                part = self._arrivals(some, outcome, halts.some(active))
                arrivals = arrivals or part
                arrivals.put(active, part)
            if due.any():
                self._halt(some, outcome, halts, due, active)
                rounds.since[active[due]] = number + 1
                final[active[due]] = False
            going = np.flatnonzero(~resting | due)
            active, begun = active[going], outcome.begun
            if active.size == 0:
                break
            begun = None if begun is None else begun.some(_members(going, crowd.members))
        if arrivals is None:
            message = "nobody walks"
            raise ValueError(message)
        settled = bool(active.size == 0 and not worth[0].any())
        return Settled(arrivals, made, choice, halts, settled, begun if crowd.count == 1 else None)

    def _first(
        self, crowd: Crowd, met: Met, chooser: Chooser, must: NDArray[np.bool_]
    ) -> tuple[StopChoice, Begun | None]:
        """Choose stops on walks without any, in longer steps: where to begin the rounds."""
        outcome = self._simulate(crowd, [], course=coarse(self.course), within_s=NEARLY_S)
        passed = self._passed(outcome, crowd.members)
        _relied, choice = chooser.choose(crowd, met, passed, must=must)
        return choice, outcome.begun

    def _passed(self, outcome: Outcome, members: int) -> Passed:
        passing = _passing(outcome, members)[: self.nearby.step.size]
        lost, left_out = (
            passing[:, PASSING.index(row)] for row in (Total.LOST_ML, Total.STOP_LOST_ML)
        )
        return passed_of(outcome, passing[:, 0], lost - left_out, members=members)

    def _due(self, outcome: Outcome, members: int, halts: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Find the walks whose day ends before home."""
        if outcome.limit_s is None or not self.scene.plan.choices.halt:
            return np.zeros(halts.size, dtype=bool)
        clock = outcome.totals[Total.CLOCK_S][::members]
        due: NDArray[np.bool_] = (outcome.limit_s[::members] < clock) & (halts < MOST_HALTS)
        return due

    def _marks(self) -> NDArray[np.int64]:
        return np.concatenate([self.nearby.step, self.profile])

    def _simulate(
        self,
        crowd: Crowd,
        stops: list[Stop],
        *,
        course: Course | None = None,
        like: Begun | None = None,
        within_s: float | None = None,
    ) -> Outcome:
        scene, course = self.scene, course or self.course
        read, where = np.unique(self._marks(), return_inverse=True)
        outcome = simulate(
            course,
            crowd.walkers,
            manner=scene.manner,
            conditions=self.conditions,
            depart_epoch_s=np.repeat(crowd.depart_epoch_s, crowd.members),
            stops=stops,
            traits=crowd.traits,
            error=crowd.error,
            marks=Marks(hourly=True, steps=read),
            beside_traffic=beside_traffic(scene.streets, course),
            longest_day_s=HOUR_S * scene.plan.choices.longest_day_h,
            like=like,
            within_s=self.within_s if within_s is None else within_s,
        )
        if outcome.passing is None:
            return replace(outcome, passing=np.zeros((0, len(PASSING), crowd.walkers.count)))
        return replace(outcome, passing=outcome.passing[where])

    def _enterable(
        self, place: NDArray[np.int64], crowd: Crowd, clock_s: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        entered = np.zeros(clock_s.shape, dtype=bool)
        for row, each in enumerate(place.tolist()):
            entered[row] = self.opening.may_enter(each, crowd.depart_epoch_s + clock_s[row])
        return entered

    def _halt(
        self,
        crowd: Crowd,
        outcome: Outcome,
        halts: Halts,
        due: NDArray[np.bool_],
        among: NDArray[np.intp],
    ) -> None:
        """Plan one more halt for the walks whose day ends on the way."""
        scene, nearby, members = self.scene, self.nearby, crowd.members
        places = scene.places
        gives = np.array(["shelter" in places.gives[row] for row in nearby.place.tolist()], bool)
        share = places.works_in(scene.plan.event.kind)[nearby.place]
        clock = _passing(outcome, members)[: nearby.place.size, 0, :]
        shelters = np.zeros(clock.shape, dtype=bool)
        rows = np.flatnonzero(gives & (share >= RELIED_ON_SHARE))
        shelters[rows] = self._enterable(nearby.place[rows], crowd, clock[rows])
        slowest = crowd.walkers.pace_factor.reshape(-1, members).min(axis=1)
        speed = level_speed_m_s(scene.manner) * slowest
        service = places.service_s[nearby.place][:, None]
        if outcome.limit_s is None or outcome.limit_step is None or outcome.limit_dark is None:
            message = "a halt needs the end of the day; give simulate longest_day_s"
            raise ValueError(message)
        add_halts(
            halts,
            self.nearby,
            conditions=self.conditions,
            depart_epoch_s=crowd.depart_epoch_s,
            limit_s=outcome.limit_s[::members],
            limit_step=outcome.limit_step[::members],
            clock_s=clock,
            off_s=0.5 * (2.0 * nearby.off_m[:, None] / speed + service),
            usable=shelters,
            due=due,
            among=among,
            dark=outcome.limit_dark[::members],
        )

    def _arrivals(self, crowd: Crowd, outcome: Outcome, halts: Halts) -> Arrivals:
        return arrivals_of(
            self.scene,
            crowd,
            outcome,
            conditions=self.conditions,
            ways=self.course,
            in_the_open=halts.in_the_open.copy(),
            profile=_passing(outcome, crowd.members)[self.nearby.step.size :],
        )


def arrivals_of(
    scene: Scene,
    crowd: Crowd,
    outcome: Outcome,
    *,
    conditions: Conditions,
    ways: Course | Sequence[Course],
    in_the_open: NDArray[np.bool_],
    profile: NDArray[np.float64] | None = None,
) -> Arrivals:
    """Tell how each walk went: what verdict, ledger and shortages of any walk are read from.

    Parameters
    ----------
    scene : Scene
        Event, bag and clothes.
    crowd : Crowd
        n walks.
    outcome : Outcome
        With hours marked, and with its halts.
    conditions : Conditions
        Sun and weather of them all.
    ways : Course or sequence of Course
        The way of all, or of each walk.
    in_the_open : (n,) bool
        Whether a night halt has no shelter.
    profile : (K, len(PASSING), n) float64, optional
        Totals on reaching chosen steps.

    Returns
    -------
    Arrivals
        In the order of the crowd.
    """
    members, total, walkers = crowd.members, outcome.totals, crowd.walkers

    def worst(values: NDArray[np.float64]) -> NDArray[np.float64]:
        top: NDArray[np.float64] = values.reshape(-1, members).max(axis=1)
        return top

    def first(values: NDArray[np.float64]) -> NDArray[np.float64]:
        least: NDArray[np.float64] = values.reshape(-1, members).min(axis=1)
        return least

    each = [ways] if isinstance(ways, Course) else ways
    length_m = np.array([way.length_m for way in each])
    busy_km = (
        np.array([way.run_m[beside_traffic(scene.streets, way)].sum() for way in each]) / 1000.0
    )
    busy_dark_km = outcome.busy_dark_m[::members] / 1000.0
    risks = [mapped_risks(scene, way) for way in each]
    mapped = np.array([one.amounts for one in risks]).T
    if isinstance(ways, Course):
        length_m = np.full(crowd.count, length_m[0])
    ledger = ledger_of(outcome, members=members, length_m=length_m)
    told = amounts_of(ledger, walkers)
    elapsed = total[Total.CLOCK_S][::members]
    night = halt_warmth_of(scene, crowd, outcome, conditions)
    strain, foot = strains(scene, crowd, outcome, ledger, conditions, np.repeat(length_m, members))
    lacks = lacks_of(
        outcome,
        ledger,
        foot=foot,
        halt=night.lack,
        allowed_s=allowed_s(scene, crowd.depart_epoch_s),
    )
    end = crowd.depart_epoch_s + elapsed
    unknown = ~np.isfinite(total).all(axis=0).reshape(-1, members).all(axis=1)
    return Arrivals(
        elapsed_s=elapsed,
        dark_s=total[Total.DARK_S][::members],
        unlit_s=total[Total.LIGHT_NEED_S][::members],
        loss_pct=worst(outcome.worst_deficit_ml / (10.0 * walkers.mass_kg)),
        coldest_c=first(outcome.coldest_felt_c),
        hottest_c=worst(outcome.hottest_felt_c),
        cold_from_s=first(outcome.cold_from_s),
        hot_from_s=first(outcome.hot_from_s),
        halt_h=night.hours,
        strain=strain,
        slowed_share=worst(total[Total.EFFORT_S] / np.maximum(total[Total.MOVED_S], 1.0)),
        mapped=np.broadcast_to(mapped, (len(mapped), crowd.count)).copy(),
        when_s=_when_s(ledger, night, risks, first(outcome.cold_from_s)),
        halt_in_the_open=in_the_open,
        busy_dark_km=busy_dark_km,
        busy_day_km=np.maximum(busy_km - busy_dark_km, 0.0),
        missing=np.stack([lack.missing for lack in lacks]),
        short_from_s=np.stack([lack.from_s for lack in lacks]),
        short_at_m=np.stack([lack.at_m for lack in lacks]),
        hourly=np.stack([ledger.distance_m, *told], axis=1)[1:],
        profile=np.zeros((0, len(PASSING), crowd.count)) if profile is None else profile,
        limits_left=unknown | (end > conditions.end_epoch_s),
    )


def _when_s(
    ledger: Ledger,
    night: Nights,
    risks: Sequence[MappedRisks],
    cold_s: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Say when what is told with its hour begins, or is most."""
    found = np.full((len(When), cold_s.size), np.nan)
    found[When.COLD] = np.where(np.isfinite(cold_s), cold_s, np.nan)
    unlit_s = np.diff(ledger.one(Total.LIGHT_NEED_S), axis=0)
    most = np.nan_to_num(unlit_s).argmax(axis=0)
    found[When.UNLIT] = ledger.edge_s[most, np.arange(cold_s.size)]
    found[When.HALT] = night.from_s
    for row in risks[0].at_m:
        at_m = np.array([one.at_m[row] for one in risks])
        found[row] = ledger.at_s(np.broadcast_to(at_m, cold_s.shape))
    return found


def _worth(outcome: Outcome, broken: NDArray[np.bool_], members: int) -> NDArray[np.float64]:
    """Say what stops are worth: places not open, shortage, time, (3, n), the less the better."""
    short = np.rint(_party(outcome.worst_short_ml, members) / LEAST_ML)
    clock_s = outcome.totals[Total.CLOCK_S][::members]
    return np.stack([broken.sum(axis=0).astype(np.float64), short, clock_s])


def _members(walks: NDArray[np.intp], members: int) -> NDArray[np.intp]:
    """Give the walkers of some walks."""
    walkers: NDArray[np.intp] = (walks[:, None] * members + np.arange(members)).ravel()
    return walkers


def _party(values: NDArray[np.float64], members: int) -> NDArray[np.float64]:
    """Sum over the members of each party."""
    if members == 1:
        return values
    total: NDArray[np.float64] = values.reshape(-1, members).sum(axis=1)
    return total


def _passing(outcome: Outcome, members: int) -> NDArray[np.float64]:
    """Totals on reaching steps, the party's; the clock is everyone's."""
    if outcome.passing is None:
        message = "the places were not asked for"
        raise ValueError(message)
    if members == 1:
        return outcome.passing
    steps, columns, walkers = outcome.passing.shape  # a way may pass no place at all
    shaped = outcome.passing.reshape(steps, columns, walkers // members, members)
    passing: NDArray[np.float64] = shaped.sum(axis=-1)
    passing[:, 0] = shaped[:, 0, :, 0]
    return passing
