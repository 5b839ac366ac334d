"""All that a plan asks about water beyond the walk itself: bottles compared, the way never dry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from simulator.ground.hours import open_at
from simulator.ground.kinds import PLACE_RULES
from simulator.home.records import (
    DryChance,
    LeastBottle,
    NextWater,
    OtherBottle,
    OtherWay,
    TreatmentUsed,
    WetWay,
)
from simulator.home.refills import (
    RELIED_ON_SHARE,
    Thirst,
    choose_refills,
    need_along,
    read_places,
    thirst_of,
)
from simulator.home.way import Way, arrival_epoch_s
from simulator.supply.bottle import used_ml
from simulator.supply.chance import UnsureWay, chance_dry, surest
from simulator.supply.never_dry import FillingPoints, NeverDry, Supply, never_dry, through
from simulator.supply.refills import least_capacity_ml
from simulator.units import HOUR_S, Units
from simulator.walk.course import alike, course_along, join_courses
from simulator.walk.engine import simulate
from simulator.walk.ledger import local_time
from simulator.walk.party import level_speed_m_s
from simulator.walk.records import Each, Outcome, Stop, Total, Walkers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.home.scene import Scene
    from simulator.home.walked import Walked
    from simulator.route.search import Waits
    from simulator.supply.refills import StopPlan

    Walks = Callable[[Scene, Way], Walked]

GRAIN_ML = 10.0
"""Needs are rounded to this when every outcome is followed [mL]: a mouthful."""

MOUTHFUL_ML = 50.0
"""Less than this missing is called a mouthful [mL]."""

PRICE_PER_S = 0.01 / 600.0
"""Chance worth giving up to save a second: one in a hundred for ten minutes; assumed."""

TRIES = 60
"""So many places are weighed against each other, those nearest to the way first."""


def needs_of(scene: Scene, place: int) -> str:
    """Say what it takes to get water at a place."""
    places = scene.places
    wants = {
        "treatment": places.needs_treatment[place],
        "a spigot key and leave of the owner": places.needs_key[place],
        "money": PLACE_RULES[places.kind[place]].needs_money,
    }
    return ", ".join(words for words, needed in wants.items() if needed) or "nothing"


def label_of(scene: Scene, place: int) -> str:
    """Call a place by its kind, and its name where it has one."""
    kind, name = scene.places.kind[place], scene.places.name[place]
    return f"{kind} {name}" if name else kind


class Ahead:
    """Water ahead of any point of one walked way.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.

    Attributes
    ----------
    thirst : Thirst
        Need and supply along it.
    plan : StopPlan
        The stops by need, one row a nearby place.
    relied_on : (C,) bool
        Places that give water and are relied on.
    """

    def __init__(self, scene: Scene, walked: Walked) -> None:
        self.scene, self.walked = scene, walked
        self.units = Units(scene.plan.units)
        reading = walked.reading
        self.thirst: Thirst = thirst_of(scene, walked.nearby, reading, walked.outcome)
        self.relied_on: NDArray[np.bool_] = reading.relied_on & self.thirst.gives
        self.plan: StopPlan = self.thirst.plan(reading.relied_on)
        self.wet = np.flatnonzero(self.relied_on)

    def after(self, along_m: float, *, beyond: int = -1) -> int:
        """Find the next water relied on from a point of the way."""
        ahead = self.wet[(self.walked.nearby.along_m[self.wet] >= along_m) & (self.wet > beyond)]
        return int(ahead[0]) if ahead.size else -1

    def columns(self, along_m: float, need_ml: float, row: int) -> dict[str, Any]:
        """Say where the next water is, from a point of the way."""
        if row < 0:
            return {
                "next_water": "",
                "next_water_km": np.nan,
                "next_water_ml": np.nan,
                "next_water_needs": "",
            }
        nearby = self.walked.nearby
        place = int(nearby.place[row])
        on_m = float(nearby.along_m[row]) - along_m + float(nearby.off_m[row])
        return {
            "next_water": label_of(self.scene, place),
            "next_water_km": on_m / 1000.0,
            "next_water_ml": max(float(self.thirst.need_ml[row]) - need_ml, 0.0),
            "next_water_needs": needs_of(self.scene, place),
        }

    def if_dry(self, row: int) -> tuple[int, str]:
        """Say what to do when a planned stop gives nothing."""
        arrive_ml = float(np.nan_to_num(self.plan.arrive_ml[row]))
        left_ml = max(arrive_ml - float(self.thirst.stop_need_ml[row]), 0.0)
        places = self.walked.nearby.place
        elsewhere = self.relied_on & (places != places[row])
        second = self.thirst.plan_after(row, elsewhere, left_ml)
        volume = self.units.volume
        stops = np.flatnonzero(second.chosen)
        if not stops.size:
            if second.short_ml <= 0.0:
                return -1, "if it gives none: what is left lasts to home"
            short = self._missing(second.short_ml)
            none = "if it gives none: no other water is relied on up to home"
            return -1, f"{none}; {short} would be missing"
        choice, nearby = int(stops[0]), self.walked.nearby
        on_m = float(nearby.along_m[choice] - nearby.along_m[row]) + float(nearby.off_m[choice])
        far = self.units.long(on_m) if on_m >= self.units.long_m else self.units.near(on_m)
        label = label_of(self.scene, int(nearby.place[choice]))
        text = f"if it gives none: {far} on to {label}, with {volume(left_ml)} left"
        if second.short_ml > 0.0:
            text += f"; {self._missing(second.short_ml)} would be missing on the way home"
        return choice, text

    def _missing(self, short_ml: float) -> str:
        """Say an amount missing so that a little does not read as none."""
        return "a mouthful" if short_ml < MOUTHFUL_ML else self.units.volume(short_ml)

    def treatment(self, row: int, taken_ml: float) -> str:
        """Say how water taken at a stop is made fit."""
        method = int(self.plan.method[row])
        if method < 0:
            return ""
        name, treatment = self.thirst.kit.names[method], self.thirst.kit.treatments[method]
        treated_ml = self.thirst.capacity_ml if self.thirst.kit.one_bottle else taken_ml
        if name == "tablets":
            count = float(used_ml(treated_ml, treatment.dose_ml, np.inf)) / treatment.dose_ml
            minutes = self.thirst.kit.contact_s[method] / 60.0
            how = "drink it then, on the way" if self.plan.carried_on[row] else "wait for it here"
            tablets = "1 tablet" if count == 1 else f"{count:.0f} tablets"
            return f"{tablets}, fit after {minutes:.0f} min: {how}"
        return f"{name} for {self.units.volume(treated_ml)}"


def with_next_water(
    scene: Scene, walked: Walked, refills: pd.DataFrame, hours: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame, WaterAhead]:
    """Add to the places and to the hours what comes next, and what if a tap is dry."""
    ahead = Ahead(scene, walked)
    thirst, nearby = ahead.thirst, walked.nearby
    rows = []
    for row, used in enumerate(refills["used"].tolist()):
        along_m, need_ml = float(nearby.along_m[row]), float(thirst.need_ml[row])
        columns = ahead.columns(along_m, need_ml, ahead.after(along_m, beyond=row))
        stopped = bool(used) and bool(ahead.plan.chosen[row])
        taken_ml = 1000.0 * float(refills["litres"].iloc[row])
        columns["treatment"] = ahead.treatment(row, taken_ml) if stopped else ""
        columns["works_share"] = float(walked.reading.works[row])
        columns["if_dry"] = ahead.if_dry(row)[1] if stopped else ""
        rows.append(columns)
    names = [*ahead.columns(0.0, 0.0, -1), "treatment", "works_share", "if_dry"]
    told = refills.assign(**{name: [row[name] for row in rows] for name in names})
    return told, _hours(ahead, hours), _water(ahead, told)


def _hours(ahead: Ahead, hours: pd.DataFrame) -> pd.DataFrame:
    """Say at each hour's end where the next water is."""
    so_far_m = 1000.0 * hours["distance_so_far_km"].to_numpy(np.float64)
    lost_ml = need_along(ahead.walked.outcome, ahead.walked.stops, so_far_m)
    rows = [
        ahead.columns(along_m, need_ml, ahead.after(along_m))
        for along_m, need_ml in zip(so_far_m.tolist(), lost_ml.tolist(), strict=True)
    ]
    names = ahead.columns(0.0, 0.0, -1)
    return hours.assign(**{name: [row[name] for row in rows] for name in names})


class WaterAhead(NamedTuple):
    """What the water of a walk hangs on: the first of it, what treats it, and how sure it is."""

    first: NextWater | None
    treatment: tuple[TreatmentUsed, ...]
    chance_dry: DryChance


def _water(ahead: Ahead, refills: pd.DataFrame) -> WaterAhead:
    """Sum up what the water of this walk hangs on."""
    first = ahead.after(0.0)
    columns = ahead.columns(0.0, 0.0, first)
    found = None
    if first >= 0:
        found = NextWater(
            place=columns["next_water"],
            km=columns["next_water_km"],
            need_l=columns["next_water_ml"] / 1000.0,
            needs=columns["next_water_needs"],
        )
    return WaterAhead(found, _used(ahead, refills), sureness(ahead))


def _used(ahead: Ahead, refills: pd.DataFrame) -> tuple[TreatmentUsed, ...]:
    """List each treatment carried: what it could treat, what was used up, what is left."""
    kit = ahead.thirst.kit
    used = [0.0] * len(kit.names)
    for row, litres in enumerate(refills["litres"].tolist()):
        method = int(ahead.plan.method[row])
        if method >= 0 and litres > 0.0:
            treated = ahead.thirst.capacity_ml if kit.one_bottle else 1000.0 * litres
            left = kit.treatments[method].treats_ml - used[method]
            used[method] += float(used_ml(treated, kit.treatments[method].dose_ml, left))
    return tuple(
        TreatmentUsed(
            method=name,
            carried_l=treatment.treats_ml / 1000.0,
            used_l=gone / 1000.0,
            left_l=(treatment.treats_ml - gone) / 1000.0,
            doses_used=gone / treatment.dose_ml if treatment.dose_ml else None,
        )
        for name, treatment, gone in zip(kit.names, kit.treatments, used, strict=True)
    )


def sureness(ahead: Ahead) -> DryChance:
    """Weigh the chance of running dry, each place working with its assumed share only."""
    planned = chance_dry(_odds(ahead, ahead.plan.chosen | ahead.relied_on), _at(ahead))
    going_on = surest(_odds(ahead, ahead.relied_on, waits=True), price_per_s=PRICE_PER_S)
    best = surest(_odds(ahead, ahead.walked.reading.tried & ahead.thirst.gives, waits=True))
    return DryChance(
        as_planned=planned,
        going_on=min(going_on.dry, planned),
        at_best=min(best.dry, going_on.dry, planned),
        extra_min=max(best.stop_s - ahead.plan.stop_s, 0.0) / 60.0,
    )


def _rows(ahead: Ahead, among: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Choose the places to weigh, each once: the planned ones, then the nearest to the way."""
    rows, nearby = np.flatnonzero(among), ahead.walked.nearby
    rows = rows[np.lexsort((nearby.off_m[rows], ~ahead.plan.chosen[rows]))]
    # A place that fails fails again where the way comes back to it: no second chance.
    rows = rows[np.sort(np.unique(nearby.place[rows], return_index=True)[1])]
    return np.sort(rows[:TRIES])


def _odds(ahead: Ahead, among: NDArray[np.bool_], *, waits: bool = False) -> UnsureWay:
    thirst, reading = ahead.thirst, ahead.walked.reading
    rows = _rows(ahead, among) if waits else np.flatnonzero(among)
    treatments = thirst.treatments(thirst.end_need_ml)
    if waits:  # what is waited for is fit at once: the surest, and far fewer states to follow
        treatments = tuple(each._replace(carry_s=np.inf) for each in treatments)
    return UnsureWay.of(
        thirst.need_ml[rows],
        reading.stop_s[rows],
        reading.works[rows],
        start_ml=thirst.start_ml,
        capacity_ml=thirst.capacity_ml,
        end_need_ml=thirst.end_need_ml,
        needs_treatment=thirst.treated[rows],
        treatments=treatments,
        fit_after_ml=thirst.fit_after_ml[rows],
        stop_need_ml=thirst.stop_need_ml[rows],
        drink_ahead_ml=thirst.ahead_ml,
        unfelt_ml=thirst.unfelt_ml,
        one_bottle=thirst.kit.one_bottle,
        grain_ml=GRAIN_ML if waits else 0.0,
    )


def _at(ahead: Ahead) -> StopPlan:
    """Give the plan with its stops numbered among the places relied on."""
    rows = np.flatnonzero(ahead.plan.chosen | ahead.relied_on)
    return replace(
        ahead.plan,
        chosen=ahead.plan.chosen[rows],
        method=ahead.plan.method[rows],
        carried_on=ahead.plan.carried_on[rows],
    )


BOTTLES_L = (0.5, 1.0, 1.5, 2.0)
"""Bottles compared, for each walker, full at the start [L]."""

ROUNDS = 4
"""How often stops and arrival times may correct each other before the last answer is taken."""

COLUMNS = tuple(field.name for field in fields(OtherBottle))
"""Columns of the table; litres and kilograms are those of the whole party."""


def compare_bottles(
    scene: Scene, walked: Walked, *, bottles_l: Sequence[float] = BOTTLES_L
) -> pd.DataFrame:
    """Walk the same way with other bottles."""
    members = scene.walkers.count
    parties = [_with_bottle(scene, 1000.0 * litres) for litres in bottles_l]
    scenes = [replace(scene, walkers=walkers) for walkers in parties]
    halts = [halt.stop for halt in walked.halts]
    # The plan's own walk tells needs and hours well enough for a first choice of stops.
    wanted = [choose_refills(one, walked.nearby, walked.reading, walked.outcome) for one in scenes]
    for _ in range(ROUNDS):
        stops = _all_stops(wanted, halts, members)
        outcome = _walk_all(scene, walked, parties, stops)
        each = [_party(outcome, slice(n * members, (n + 1) * members)) for n in range(len(parties))]
        again = [
            choose_refills(one, walked.nearby, read_places(one, walked.nearby, mine), mine)
            for one, mine in zip(scenes, each, strict=True)
        ]
        if again == wanted:
            break
        chosen, wanted = wanted, again
    else:
        wanted = chosen
    rows = [
        _row(scene, litres, walkers, mine, stops)
        for litres, walkers, mine, stops in zip(bottles_l, parties, each, wanted, strict=True)
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def least_bottle(scene: Scene, walked: Walked) -> LeastBottle:
    """Give the smallest bottles that never run dry on the way as walked."""
    thirst = thirst_of(scene, walked.nearby, walked.reading, walked.outcome)
    wet = walked.reading.relied_on & thirst.gives
    every_ml = least_capacity_ml(thirst.need_ml[wet], end_need_ml=thirst.end_need_ml)
    return LeastBottle(every_place=every_ml / 1000.0, no_stop=thirst.end_need_ml / 1000.0)


def _with_bottle(scene: Scene, bottle_ml: float) -> Walkers:
    """Give the party with other bottles, full."""
    walkers = scene.walkers
    full = np.full(walkers.count, bottle_ml)
    return replace(
        walkers,
        water_ml=full,
        capacity_ml=full,
        bag_kg=walkers.bag_kg + (full - walkers.water_ml) / 1000.0,
    )


def _all_stops(wanted: Sequence[Sequence[Stop]], halts: Sequence[Stop], members: int) -> list[Stop]:
    """Put the stops of every party in one list; night halts are everyone's."""
    number = np.repeat(np.arange(len(wanted)), members)
    works = np.ones(number.size, dtype=bool)
    stops = list(halts)
    for party, mine in enumerate(wanted):
        stops += [replace(stop, each=Each(active=number == party, works=works)) for stop in mine]
    return sorted(stops, key=lambda stop: stop.step)


def _walk_all(
    scene: Scene, walked: Walked, parties: Sequence[Walkers], stops: Sequence[Stop]
) -> Outcome:
    """Walk with every bottle in one run."""
    number = np.repeat(np.arange(len(parties)), scene.walkers.count)
    columns = {
        name: np.concatenate([getattr(walkers, name) for walkers in parties])
        for name in Walkers.__dataclass_fields__
    }
    return simulate(
        walked.way.course,
        Walkers(**columns | {"party": number}),
        manner=scene.manner,
        conditions=scene.conditions,
        depart_epoch_s=np.full(number.size, scene.depart_epoch_s),
        stops=stops,
        record=True,
    )


def _party(outcome: Outcome, rows: slice) -> Outcome:
    """Take one party out of a recorded run."""
    trace, clock = outcome.trace, outcome.step_clock_s
    if trace is None or clock is None:
        message = "bottles are compared on recorded walks; simulate with record=True"
        raise ValueError(message)
    return replace(
        outcome,
        totals=outcome.totals[:, rows],
        step_clock_s=clock[:, rows],
        worst_deficit_ml=outcome.worst_deficit_ml[rows],
        worst_short_ml=outcome.worst_short_ml[rows],
        first_short_s=outcome.first_short_s[rows],
        hourly=None if outcome.hourly is None else outcome.hourly[..., rows],
        trace=replace(trace, totals=trace.totals[:, :, rows]),
    )


def _row(
    scene: Scene, litres: float, walkers: Walkers, mine: Outcome, stops: Sequence[Stop]
) -> dict[str, object]:
    total = mine.totals
    start, refilled = float(walkers.water_ml.sum()), float(total[Total.REFILLED_ML].sum())
    short_ml, first_s = float(mine.worst_short_ml.sum()), float(mine.first_short_s.min())
    clock_s = float(total[Total.CLOCK_S].max())
    loss: NDArray[np.float64] = mine.worst_deficit_ml / (10.0 * walkers.mass_kg)
    return {
        "bottle_l": litres,
        "bag_kg": float(walkers.bag_kg.sum()),
        "stops": len(stops),
        "places": "; ".join(label_of(scene, stop.place) for stop in stops),
        "refilled_l": refilled / 1000.0,
        "left_l": (start + refilled - float(total[Total.DRUNK_ML].sum())) / 1000.0,
        "short_l": short_ml / 1000.0,
        "first_short_h": first_s / 3600.0 if np.isfinite(first_s) else np.nan,
        "worst_body_mass_loss_pct": float(loss.max()),
        "elapsed_h": clock_s / 3600.0,
        "arrive": local_time(scene.depart_epoch_s + clock_s, scene.zone).isoformat(),
        "never_dry": short_ml <= 0.0,
    }


FAR_SHARE = 2.0
"""Places that lie on no way shorter than so many times the fastest are not looked at."""

WORTH_S = 300.0
"""Another way is worth naming for its stops when it saves at least this [s]."""

LEAST_ML = 1.0
"""Water missing below this is none [mL]."""


@dataclass(frozen=True, slots=True)
class DryWay:
    """What the need for water says about the way.

    Attributes
    ----------
    needed : bool
        Whether the fastest way runs dry in spite of its stops.
    found : bool
        Whether a way was found that runs less dry, or not at all.
    walked : Walked or None
        That way as walked, where it differs from the fastest and is better.
    places : tuple of int
        Rows of the places filled at, in order.
    rate_ml_h : float
        Need by which bottles were taken to empty, while walking [mL/h].
    safe : bool
        Whether the way, walked with all that the walk counts, never runs dry.
    """

    needed: bool
    found: bool
    walked: Walked | None
    places: tuple[int, ...]
    rate_ml_h: float
    safe: bool


def dry_way(scene: Scene, walked: Walked, walk: Walks) -> DryWay:
    """Find the way that water chooses."""
    short_ml = _short_ml(walked)
    runs_dry = short_ml > 0.0
    thirst = thirst_of(scene, walked.nearby, walked.reading, walked.outcome)
    mean, most = _rates_ml_s(walked)
    if mean <= 0.0 or thirst.end_need_ml <= thirst.start_ml:
        return _fastest(mean)
    ground = _Ground(scene, walked)
    stop_s = sum(stop.service_s for stop in walked.stops)
    best = None
    for rate in (mean, most) if runs_dry else (mean,):
        answer = ground.ask(thirst, rate)
        if answer is None:
            break
        if not runs_dry and answer.total_s > ground.fastest_s + stop_s - WORTH_S:
            return _fastest(rate)
        other = _between(scene, ground, answer, walk)
        if _short_ml(other) >= max(short_ml, LEAST_ML):
            continue
        best = DryWay(
            needed=runs_dry,
            found=True,
            walked=other,
            places=tuple(int(ground.rows[point]) for point, _ in answer.visits),
            rate_ml_h=rate * HOUR_S,
            safe=_short_ml(other) <= 0.0,
        )
        if best.safe:
            break
    if best is not None and (runs_dry or (best.safe and not _later(best.walked, walked))):
        return best
    if not runs_dry:
        return _fastest(mean)
    return DryWay(
        needed=True, found=False, walked=None, places=(), rate_ml_h=mean * HOUR_S, safe=False
    )


def _between(scene: Scene, ground: _Ground, answer: NeverDry, walk: Walks) -> Walked:
    """Walk from water to water as the plan would, or the quickest way where that leaves less dry.

    Which waters, is found by time, since need goes with time; a way beside less traffic takes more.
    """
    quiet = walk(scene, ground.way(answer, ground.costs.weighed, ground.costs.waits))
    if _short_ml(quiet) <= 0.0 or scene.plan.choices.quiet <= 0.0:
        return quiet
    quickest = walk(scene, ground.way(answer, ground.times_s, ground.costs.waits_s))
    return quickest if _short_ml(quickest) < _short_ml(quiet) else quiet


def _fastest(rate_ml_s: float) -> DryWay:
    """Say that the fastest way is the one that never runs dry."""
    return DryWay(
        needed=False,
        found=True,
        walked=None,
        places=(),
        rate_ml_h=rate_ml_s * HOUR_S,
        safe=True,
    )


def _short_ml(walked: Walked) -> float:
    """Water missing at the driest moment [mL]."""
    return float(walked.outcome.worst_short_ml.sum())


def _later(other: Walked | None, walked: Walked) -> bool:
    """Whether another way is home no sooner, all counted."""
    if other is None:
        return True
    clocks = (one.outcome.totals[Total.CLOCK_S].max() for one in (other, walked))
    return float(next(clocks)) > float(next(clocks)) - WORTH_S


def _rates_ml_s(walked: Walked) -> tuple[float, float]:
    """Need for each second of the way's walking time: mean, and of the thirstiest hour [mL/s]."""
    totals, cost_s = walked.outcome.totals, walked.way.cost_s
    mean = float(totals[Total.LOST_ML].sum()) / cost_s
    trace = walked.outcome.trace
    if trace is None:
        return mean, mean
    clock = trace.totals[:, Total.CLOCK_S, 0]
    lost, moved = trace.totals[:, Total.LOST_ML].sum(axis=1), trace.totals[:, Total.MOVED_S, 0]
    edges = np.arange(0.0, clock[-1], HOUR_S)
    if edges.size < 2:  # noqa: PLR2004 - one hour or less has no other
        return mean, mean
    hourly = np.diff(np.interp(edges, clock, lost))
    moving = np.diff(np.interp(edges, clock, moved)) * cost_s / float(totals[Total.MOVED_S, 0])
    # An hour of mostly halt says nothing of walking.
    busy = moving > 0.5 * moving.max(initial=0.0)
    return mean, max(mean, float((hourly[busy] / moving[busy]).max(initial=mean)))


class _Ground:
    """Streets at the hour they are reached, and the water that may be had on them."""

    def __init__(self, scene: Scene, walked: Walked) -> None:
        self.scene = scene
        ends = [(end.segment, end.fraction) for end in scene.ends]
        network = scene.network
        first = walked.way.costs[0]
        self.costs, self.times_s, self.shut = first, first.times_s, first.closed
        self.ends = ends
        costs, waits = self.times_s, first.waits_s
        begin = network.field(*costs, ends[0], closed=self.shut, waits=waits)
        home = network.field_to(*costs, ends[-1], closed=self.shut, waits=waits)
        self.fastest_s = sum(
            network.least(*costs, start, end, closed=self.shut, waits=waits).cost
            for start, end in pairwise(ends)
        )
        limit_s = FAR_SHARE * walked.way.cost_s
        through_s = begin + home
        streets = scene.streets
        # Whoever steps here is home later than any way worth a look.
        self.far = np.minimum(through_s[streets.tail], through_s[streets.head]) > limit_s
        self.rows = self._worth_a_look(begin, home, limit_s)
        self.points = self._points(begin)

    def _worth_a_look(
        self, begin_s: NDArray[np.float64], home_s: NDArray[np.float64], limit_s: float
    ) -> NDArray[np.intp]:
        """Rows of the places that give water one may have, not too far off."""
        places, carried = self.scene.places, self.scene.carried
        streets = self.scene.streets
        wet = np.array(["water" in gives for gives in places.gives], dtype=bool)
        wet &= (places.segment >= 0) & (places.access_m <= self.scene.plan.choices.refill_reach_m)
        wet &= places.works_in(self.scene.plan.event.kind) >= RELIED_ON_SHARE
        wet &= ~places.needs_key | carried.has_key
        wet &= ~places.needs_treatment | (carried.treats_ml > 0.0)
        rows = np.flatnonzero(wet)
        segment = places.segment[rows]
        through_s = begin_s + home_s
        near = np.minimum(through_s[streets.tail[segment]], through_s[streets.head[segment]])
        return rows[(near <= limit_s) & ~self.shut[segment]]

    def _points(self, begin_s: NDArray[np.float64]) -> FillingPoints:
        """Set the places on the streets; a stop at one that is shut cannot be made."""
        scene, places, rows = self.scene, self.scene.places, self.rows
        segment = places.segment[rows]
        speed = level_speed_m_s(scene.manner) * float(scene.walkers.pace_factor.min())
        reached = arrival_epoch_s(scene, begin_s, 0.0)[segment]
        stop_s = places.service_s[rows].copy()
        for number, (place, epoch_s) in enumerate(
            zip(rows.tolist(), reached.tolist(), strict=True)
        ):
            state = None
            if places.hours[place]:
                state = open_at(
                    places.hours[place],
                    local_time(epoch_s, scene.zone),
                    lat=float(places.lat[place]),
                    lon=float(places.lon[place]),
                )
            if state is False or (state is None and not places.always_open[place]):
                stop_s[number] = np.inf
        return FillingPoints(
            segment=segment.astype(np.int32),
            fraction=places.fraction[rows],
            access_s=places.access_m[rows] / speed,
            stop_s=stop_s,
            treated=places.needs_treatment[rows],
        )

    def ask(self, thirst: Thirst, rate_ml_s: float) -> NeverDry | None:
        """Find the way for a need by the second."""
        points, kit = self.points, thirst.kit
        supply = Supply(thirst.start_ml / rate_ml_s, thirst.capacity_ml / rate_ml_s)
        stop_s = points.stop_s
        if kit.treatments:
            first = kit.treatments[0]
            total_ml = sum(treatment.treats_ml for treatment in kit.treatments)
            supply = supply._replace(
                treats_s=total_ml / rate_ml_s,
                dose_s=first.dose_ml / rate_ml_s,
                one_bottle=kit.one_bottle,
            )
            stop_s = stop_s + np.where(points.treated, min(first.wait_s, first.carry_s), 0.0)
        return never_dry(
            self.scene.streets.tail,
            self.scene.streets.head,
            self.scene.streets.lon.size,
            self._open(self.times_s[0], self.scene.streets.open_forward),
            self._open(self.times_s[1], self.scene.streets.open_backward),
            ends=self.ends,
            points=FillingPoints(
                points.segment, points.fraction, points.access_s, stop_s, points.treated
            ),
            supply=supply,
        )

    def _open(self, cost_s: NDArray[np.float64], may: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Give times with infinity where one may not walk."""
        return np.where(may & ~self.shut & ~self.far, cost_s, np.inf)

    def way(
        self, answer: NeverDry, costs: tuple[NDArray[np.float64], NDArray[np.float64]], waits: Waits
    ) -> Way:
        """Lay the way found out along the streets that cost least from water to water."""
        points = self.points
        visits = [
            (leg, (int(points.segment[point]), float(points.fraction[point])))
            for point, leg in answer.visits
        ]
        legs = [
            self.scene.network.least(*costs, begin, end, closed=self.shut, waits=waits)
            for begin, end in pairwise(through(self.ends, visits))
            if begin != end
        ]
        courses = [course_along(self.scene.streets, leg) for leg in legs]
        return Way(
            legs=tuple(legs),
            course=alike(join_courses(courses)),
            cost_s=sum(leg.sum_of(*self.times_s, waits=self.costs.waits_s) for leg in legs),
        )


@dataclass(frozen=True, slots=True)
class WaterAnswers:
    """Answers about water.

    Attributes
    ----------
    bottles : pandas.DataFrame
        The same way with other bottles, one row each; ``simulator.home.water.COLUMNS``.
    never_dry_lonlat : (K, 2) float64 or None
        Longitude and latitude of the way that never runs dry [deg], where it is not the fastest.
    compared : tuple of OtherBottle
        The rows of ``bottles``.
    least : LeastBottle
        The smallest bottles that never run dry.
    never_dry : WetWay
        Whether there is a way that never runs dry, and what it costs.
    """

    bottles: pd.DataFrame
    never_dry_lonlat: NDArray[np.float64] | None
    compared: tuple[OtherBottle, ...]
    least: LeastBottle
    never_dry: WetWay


def answer_water(scene: Scene, walked: Walked, walk: Walks) -> WaterAnswers:
    """Answer what a plan asks about water."""
    bottles = compare_bottles(scene, walked)
    found = dry_way(scene, walked, walk)
    plain = bottles.astype(object).where(bottles.notna(), None)
    course = None if found.walked is None else found.walked.way.course
    return WaterAnswers(
        bottles=bottles,
        never_dry_lonlat=None if course is None else np.column_stack([course.lon, course.lat]),
        compared=tuple(OtherBottle(*row) for row in plain.itertuples(index=False, name=None)),
        least=least_bottle(scene, walked),
        never_dry=_never_dry(scene, walked, found),
    )


def _never_dry(scene: Scene, walked: Walked, found: DryWay) -> WetWay:
    """Say which way never runs dry, and what it costs."""
    told = WetWay(
        fastest_runs_dry=found.needed,
        exists=found.found and found.safe,
        differs=found.walked is not None,
        need_ml_h=found.rate_ml_h,
    )
    if found.walked is not None:
        other = found.walked
        clock_s = float(other.outcome.totals[Total.CLOCK_S].max())
        extra_s = clock_s - float(walked.outcome.totals[Total.CLOCK_S].max())
        other_way = OtherWay(
            distance_km=other.way.course.length_m / 1000.0,
            elapsed_h=clock_s / 3600.0,
            extra_min=extra_s / 60.0,
            short_l=float(other.outcome.worst_short_ml.sum()) / 1000.0,
            places=tuple(label_of(scene, place) for place in found.places),
        )
        told = replace(told, other=other_way)
    return told
