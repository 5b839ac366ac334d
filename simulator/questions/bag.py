"""The content of bag.json, and the cautions of a packed bag."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from datetime import timedelta
from math import isfinite
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.bag.catalogue import read_catalogue
from simulator.bag.choose import Limits, choose
from simulator.bag.fit import (
    EASY_LOAD_SHARE,
    PACKING_ALLOWANCE,
    Balance,
    Cold,
    Fit,
    Journey,
    against,
    compartments_ml,
    demands,
    fit,
    flasks_filled,
    supplies,
)
from simulator.bag.items import (
    TIERS,
    Items,
    carried,
    cautions,
    items_csv,
    items_from,
    joined,
    with_quantities,
)
from simulator.bag.upkeep import Task, upkeep
from simulator.body.assumed import TARP_WIND_SHARE, wet_clothing_clo
from simulator.body.energy import GLYCOGEN_KCAL, W_PER_KCAL_H
from simulator.body.warmth import (
    BODY_WIND_SHARE,
    LEAST_AIR_SPEED_M_S,
    LIMITS,
    halt_warmth,
    required_clo,
)
from simulator.body.water import body_area_m2
from simulator.errors import InputError, NoWayHomeError
from simulator.files import read_text
from simulator.home.refills import read_places
from simulator.home.scene import LONGEST_WALK_H, prepare, walkers_of, weather_of
from simulator.home.summary import arrivals_of_walked
from simulator.home.unknown_heights import map_notes
from simulator.home.verdict import account_of
from simulator.home.walk import walk_way
from simulator.home.warmth import halt_cold, keeps_dry
from simulator.home.way import find_way, prepare_legs, street_times
from simulator.route.alternatives import alternatives
from simulator.units import G_PER_KG, HOUR_S, ML_PER_L, percent
from simulator.walk.account import NAMES, What
from simulator.walk.conditions import conditions_over
from simulator.walk.halts import next_first_light
from simulator.walk.records import Doing, Total

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from simulator.bag.catalogue import Catalogue
    from simulator.bag.choose import Choice
    from simulator.bag.fit import Dated
    from simulator.bag.items import BagSum
    from simulator.home.scene import Scene
    from simulator.home.walked import Walked
    from simulator.home.way import Way
    from simulator.plan import Plan
    from simulator.walk.account import Shortage
    from simulator.walk.records import Outcome

CERTAINTY: Final = 0.9
"""Share of walks that a bag should serve when nothing else is asked; a judgement."""

AMOUNTS: Final[Mapping[str, tuple[str, str, float]]] = {
    "water_start": ("water", "short_l", 1000.0),
    "water_capacity": ("water", "short_l", 1000.0),
    "light": ("light", "short_h", 1.0),
    "warmth_halt": ("warmth_of_a_night_halt", "short_clo", 1.0),
}
"""Demand: shortage of odds.json, its amount, and that amount's factor to the demand's unit. What
falls short of water is to be carried from the start, and to find room."""

FOR_EACH: Final = frozenset({"light", "warmth_halt"})
"""Demands whose shortage is one walker's, not the party's."""


def read_odds(path: Path, certainty: float) -> dict[str, Any]:
    """Read an odds.json, before any work is done for it."""
    if not 0.0 < certainty < 1.0:
        where = "certainty"
        raise InputError(where, f"found {certainty:g}; allowed: above 0 and below 1, e.g. 0.9")
    try:
        told = json.loads(read_text(path, what="an odds.json"))
    except json.JSONDecodeError as fault:
        where = f"{path}: line {fault.lineno}"
        raise InputError(where, f"cannot be read as JSON ({fault.msg})") from None
    if not isinstance(told, dict) or not isinstance(told.get("shortages"), dict):
        raise InputError(str(path), "found no `shortages`; give the odds.json of this plan")
    return told


def needed_for(
    path: Path,
    told: Mapping[str, Any],
    certainty: float,
    balances: Iterable[Balance],
    *,
    walkers: int,
    inputs: Mapping[str, str],
    lamps: int | None = None,
) -> dict[str, float]:
    """Read what the bag needs so that a share of the drawn walks lacks nothing."""
    _same_inputs(path, told, inputs)
    needed = {}
    for balance in balances:
        key = balance.demand.key
        if key not in AMOUNTS:
            continue
        shortage, amount, factor = AMOUNTS[key]
        missing = factor * _missing(path, told, shortage, amount, certainty)
        if missing > 0.0:
            each = walkers if key in FOR_EACH else 1
            if key == "light" and lamps is not None:
                each = lamps
            needed[key] = max(balance.have + each * missing, balance.demand.need)
    return needed


def _same_inputs(path: Path, told: Mapping[str, Any], inputs: Mapping[str, str]) -> None:
    """Refuse odds of another bag, plan or map."""
    theirs = told.get("inputs")
    known = theirs if isinstance(theirs, dict) else {}
    other = sorted(name for name, digest in inputs.items() if known.get(name) != digest)
    if other:
        problem = f"was made from another {other[0]}; make the odds again with these files"
        raise InputError(str(path), problem)


def _missing(
    path: Path, told: Mapping[str, Any], shortage: str, amount: str, certainty: float
) -> float:
    """Give what is missing at a certainty; 0 when so few walks lack it."""
    try:
        chance = float(told["shortages"][shortage]["chance"])
        if chance <= 1.0 - certainty:
            return 0.0
        rows = told["shortages"][shortage][amount]["quantiles"] or {}
        known = sorted((float(share), float(row["value"])) for share, row in rows.items())
    except (KeyError, TypeError, ValueError):
        where = f"{path}: shortages.{shortage}"
        raise InputError(where, "cannot be read; make the odds again") from None
    if not known:
        where = f"{path}: shortages.{shortage}"
        raise InputError(where, "too few walks lack it to say how much; draw more walks")
    wanted = (certainty - (1.0 - chance)) / chance
    shares, values = zip(*known, strict=True)
    if wanted > shares[-1]:
        where = f"{path}: shortages.{shortage}"
        most = 1.0 - chance * (1.0 - shares[-1])
        problem = f"tells no more than a certainty of {math.floor(1000 * most) / 1000:g}; ask less"
        raise InputError(where, problem)
    return float(np.interp(wanted, shares, values))


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
    """Give a walk as running totals, water places and cold hours."""
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
        people_per_lamp=scene.plan.choices.people_per_lamp,
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
    if keeps_dry(scene):
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
    """Say what a night in the open would ask, were the walk broken off halfway."""
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


MOST_RUNS: Final = 12
"""Changes tried at most, each by walking again."""

MOST_ADDED: Final = 3
"""Items of the catalogue tried for the worst shortage."""

MOST_DROPPED: Final = 2
"""Items tried without, the heaviest of the comfort tier."""

EARLIER_H: Final = 1.0
"""How much earlier a departure is tried [h]."""

HOURS: Final = "h"

FREE: Final = 0.02
"""What a change costs at least in the ranking, as a share of the bag; a judgement."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change and what it does.

    Attributes
    ----------
    what : str
        The change, in words.
    kind : str
        ``add``, ``drop``, ``swap``, ``leave earlier`` or ``other way``.
    target : str
        What it is measured by: the label of the worst shortage, or ``time on the way`` when nothing
        falls short.
    unit : str
        Unit of `before`, `after` and `gain`.
    before, after : float
        What is missing without and with it [`unit`].
    price : float
        What it costs [currency of the list]; nan is unknown.
    mass_g : float
        How much heavier the bag gets [g]; nan is unknown.
    later_min : float
        How much longer the walk takes [min].
    new_worst : str
        Label of what then is worst; empty when nothing falls short.
    """

    what: str
    kind: str
    target: str
    unit: str
    before: float
    after: float
    price: float
    mass_g: float
    later_min: float
    new_worst: str

    @property
    def gain(self) -> float:
        """How much less is missing [`unit`]."""
        return self.before - self.after

    @property
    def gain_per_money(self) -> float:
        """Gain for one unit of money; nan when it costs nothing or the price is unknown."""
        return self.gain / self.price if self.price > 0.0 else np.nan

    @property
    def gain_per_100_g(self) -> float:
        """Gain for 100 g; nan when it weighs nothing or the mass is unknown."""
        return 100.0 * self.gain / self.mass_g if self.mass_g > 0.0 else np.nan


@dataclass(frozen=True, slots=True)
class _Try:
    """A change to be walked."""

    what: str
    kind: str
    items: Items
    price: float = 0.0
    way: Way | None = None
    earlier_h: float = 0.0


def worst_of(balances: Sequence[Balance]) -> Balance | None:
    """Find the worst shortage: the greatest share missing, the more urgent among equals."""
    short = [one for one in balances if np.isfinite(one.begins_h)]
    return max(short, key=lambda one: np.nan_to_num(one.share, nan=1.0), default=None)


def next_best(
    scene: Scene,
    way: Way,
    journey: Journey,
    balances: Sequence[Balance],
    goods: Catalogue,
    *,
    most_runs: int = MOST_RUNS,
    needed: Mapping[str, float] | None = None,
    progress: Callable[[str], None] | None = None,
) -> tuple[Change, ...]:
    """Try single changes and rank them."""
    tell = progress or (lambda _stage: None)
    if most_runs < 1:
        return ()
    items = items_from([]) if scene.items is None else scene.items
    worst = worst_of(balances)
    found: list[Change] = []
    tries = list(_tries(scene, way, journey, items, worst, goods))[:most_runs]
    for number, one in enumerate(tries, 1):
        tell(f"trying change {number} of {len(tries)}: {one.what}")
        after = _walk_again(scene, way, one)
        if after is None:
            continue
        walk, shortages = after
        then = settled(
            against(one.items, walk, needed=needed), shortages, journey=walk, needed=needed
        )
        found.append(_measured(one, items, journey, walk, worst, then))
    return tuple(sorted(found, key=lambda change: _rank(change, items)))


WHAT_OF: Final[Mapping[str, str]] = {
    "water_start": NAMES[What.WATER],
    "water_capacity": NAMES[What.WATER],
    "treatment": NAMES[What.WATER],
    "energy": NAMES[What.FOOD],
    "light": NAMES[What.LIGHT],
    "warmth_walking": NAMES[What.WARMTH_ON_FOOT],
    "warmth_halt": NAMES[What.WARMTH_AT_A_HALT],
}
"""What each demand, by its key up to a number, is called in the one list of shortages."""

A_WALKER_S: Final = frozenset({"warmth_walking", "warmth_halt"})
"""Demands of which the list tells what one walker lacks; of light it tells what one lamp does."""


def shares_of(key: str, journey: Journey) -> int:
    """Say how many times the list of shortages counts what is missing of a demand."""
    return journey.lamps if key == "light" else journey.walkers if key in A_WALKER_S else 1


def what_of(key: str) -> str:
    """Give the row of the one list of shortages that a demand belongs to; itself when to none."""
    return WHAT_OF.get("treatment" if key.startswith("treatment") else key, key)


def settled(
    balances: Sequence[Balance],
    shortages: Sequence[Shortage],
    *,
    journey: Journey,
    needed: Mapping[str, float] | None = None,
) -> tuple[Balance, ...]:
    """Let the one list of what falls short on the walk decide what of a bag falls short."""
    told = {one.what: one for one in shortages}
    bearer: dict[str, str] = {}
    for one in balances:  # of several demands of one thing the one that lacks most bears it
        what = what_of(one.demand.key)
        lacks = {other.demand.key: np.nan_to_num(other.share) for other in balances}
        if what in told and lacks[one.demand.key] > lacks.get(bearer.get(what, ""), -1.0):
            bearer[what] = one.demand.key
    found = []
    for one in balances:
        key, what = one.demand.key, what_of(one.demand.key)
        if what == key or key in (needed or {}):
            found.append(one)
        elif bearer.get(what) == key:
            lack = told[what]
            factor = ML_PER_L if one.demand.unit == "ml" else 1.0
            factor *= shares_of(key, journey)
            need = np.nan if lack.missing is None else one.have + factor * lack.missing
            if key == "light":  # hours are not lost by adding lamps that shine side by side
                need = np.fmax(need, one.demand.need)
            demand = replace(one.demand, need=need)
            found.append(replace(one, demand=demand, begins_h=lack.from_h))
        else:
            found.append(replace(one, begins_h=np.nan))
    return tuple(found)


def _shortages(scene: Scene, walked: Walked) -> tuple[Shortage, ...]:
    """Read the one list of what falls short."""
    account = account_of(arrivals_of_walked(scene, walked))
    return account.told(0, depart_epoch_s=scene.depart_epoch_s, zone=scene.zone)


def _rank(change: Change, items: Items) -> tuple[bool, float, str]:
    """Order: helping changes by gain over cost, then the others by harm."""
    if not change.gain > 0.0:
        return True, -change.gain, change.what
    money = change.price / max(items.total("price").known, 1.0)
    mass = max(change.mass_g, 0.0) / max(items.total("mass_g").known, 1.0)
    cost = float(np.nan_to_num(money, nan=1.0) + np.nan_to_num(mass, nan=1.0))
    share = min(change.gain / change.before, 1.0) if change.before > 0.0 else 0.0
    return False, -share / (cost + FREE), change.what


def _measured(
    one: _Try,
    items: Items,
    journey: Journey,
    after: Journey,
    worst: Balance | None,
    then: Sequence[Balance],
) -> Change:
    """Say what a change did."""
    row = "" if worst is None else what_of(worst.demand.key)
    same = [b for b in then if what_of(b.demand.key) == row and isfinite(b.begins_h)]
    left = max((b.short for b in same), default=0.0)
    new = worst_of(then)
    with_it, without = (listed.total("mass_g") for listed in (one.items, items))
    judged = len(with_it.unknown) <= len(without.unknown)  # what came in has a mass
    return Change(
        what=one.what,
        kind=one.kind,
        target="time on the way" if worst is None else worst.demand.label,
        unit=HOURS if worst is None else worst.demand.unit,
        before=journey.elapsed_h if worst is None else worst.short,
        after=after.elapsed_h if worst is None else left,
        price=one.price,
        mass_g=with_it.known - without.known if judged else np.nan,
        later_min=60.0 * (after.elapsed_h - journey.elapsed_h),
        new_worst="" if new is None else new.demand.label,
    )


def _walk_again(scene: Scene, way: Way, one: _Try) -> tuple[Journey, tuple[Shortage, ...]] | None:
    """Walk with a change; nothing when it cannot be walked."""
    load = carried(one.items)
    changed = replace(
        scene, items=one.items, carried=load, walkers=walkers_of(scene.plan, load, own=scene.own)
    )
    try:
        if one.earlier_h:
            changed = _earlier(changed, one.earlier_h)
            way = find_way(changed)
        walked = walk_way(changed, one.way or way)
        return journey_of(changed, walked), _shortages(changed, walked)
    except (InputError, NoWayHomeError):
        return None


def _earlier(scene: Scene, hours: float) -> Scene:
    """Set out earlier: light, weather and opening hours move along."""
    depart = scene.plan.trip.depart - timedelta(hours=hours)
    plan = scene.plan.model_copy(
        update={"trip": scene.plan.trip.model_copy(update={"depart": depart})}
    )
    epoch_s = scene.depart_epoch_s - 3600.0 * hours
    try:
        conditions = conditions_over(
            weather_of(plan, scene.zone),
            lat=0.5 * (scene.ends[0].lat + scene.ends[-1].lat),
            lon=0.5 * (scene.ends[0].lon + scene.ends[-1].lon),
            start_epoch_s=epoch_s,
            hours=LONGEST_WALK_H,
        )
    except ValueError:
        where = f"{plan.weather.file or 'weather'}"
        raise InputError(where, "the weather does not reach back that far") from None
    return replace(scene, plan=plan, depart_epoch_s=epoch_s, conditions=conditions)


def _tries(
    scene: Scene,
    way: Way,
    journey: Journey,
    items: Items,
    worst: Balance | None,
    goods: Catalogue,
) -> Iterator[_Try]:
    """Set out what to try, what is likely to help first."""
    if worst is not None:
        yield from _additions(items, worst, goods)
        yield from _swaps(items, worst, goods)
    yield from _keys_and_tablets(scene, journey, items, goods)
    yield _Try(f"leave {EARLIER_H:g} h earlier", "leave earlier", items, earlier_h=EARLIER_H)
    yield from _other_ways(scene, way, items)
    yield from _drops(items, worst)


def _bought(goods: Catalogue, row: int) -> Items:
    """One piece out of the catalogue."""
    return with_quantities(goods.items, np.arange(len(goods.items)) == row)


def _additions(items: Items, worst: Balance, goods: Catalogue) -> Iterator[_Try]:
    """Try the items that give most for their money against the worst shortage."""
    there = set(items.item)  # one more of what is there already is no news
    rows = [row for row in _helpful(worst, goods) if goods.items.item[row] not in there]
    yield from (_add(items, goods, row) for row in rows[:MOST_ADDED])


def _helpful(worst: Balance, goods: Catalogue) -> list[int]:
    """Rows of the catalogue that lessen a shortage, most for the money first."""
    given = np.minimum(supplies(goods.items, worst.demand.gives), worst.short)
    worth = given / np.maximum(np.nan_to_num(goods.items.price, nan=np.inf), 0.01)
    order = np.lexsort((goods.items.mass_g, -worth))
    return [row for row in order.tolist() if given[row] > 0.0]


def _swaps(items: Items, worst: Balance, goods: Catalogue) -> Iterator[_Try]:
    """Try a larger one in place of the least that serves the same end."""
    own = supplies(items, worst.demand.gives)
    rows = np.flatnonzero((own > 0.0) & (items.quantity > 0.0))
    if rows.size == 0:
        return
    least = int(rows[np.argmin(own[rows])])
    given = supplies(goods.items, worst.demand.gives)
    larger = [row for row in _helpful(worst, goods) if given[row] > own[least]]
    best = max(larger, key=lambda row: given[row] - own[least], default=None)
    if best is None:
        return
    fewer = items.quantity.copy()
    fewer[least] = max(fewer[least] - 1.0, 0.0)
    changed = joined(with_quantities(items, fewer), _bought(goods, best))
    what = f"swap {items.item[least]} for {goods.items.item[best]}"
    yield _Try(what, "swap", changed, float(goods.items.price[best]))


def _keys_and_tablets(
    scene: Scene, journey: Journey, items: Items, goods: Catalogue
) -> Iterator[_Try]:
    """Try what opens more water: treatment, and a key for taps."""
    cheap = np.argsort(goods.items.price, kind="stable").tolist()
    if journey.raw_h and scene.carried.treats_ml <= 0.0:
        rows = [row for row in cheap if goods.items.treats_ml[row] > 0.0]
        yield from (_add(items, goods, row) for row in rows[:1])
    if scene.places.needs_key.any() and not scene.carried.has_key:
        keys = goods.items.is_a("tap key")
        rows = [row for row in cheap if keys[row]]
        yield from (_add(items, goods, row) for row in rows[:1])


def _add(items: Items, goods: Catalogue, row: int) -> _Try:
    name = goods.items.item[row]
    price = float(goods.items.price[row])
    return _Try(f"add {name}", "add", joined(items, _bought(goods, row)), price)


def _other_ways(scene: Scene, way: Way, items: Items) -> Iterator[_Try]:
    """Try other ways home, the shortest first."""
    legs = prepare_legs(scene, street_times(scene))
    longest = int(np.argmax([leg.cost for leg in way.legs]))
    for other in alternatives(legs.trips[longest], scene.streets.length_m, count=2):
        changed = legs.with_leg(scene, longest, other.path)
        names = _streets(scene, changed)
        yield _Try(f"another way, by {names}", "other way", items, way=changed)


def _streets(scene: Scene, way: Way) -> str:
    """Name the longest streets of a way."""
    metres: dict[str, float] = {}
    for row, run in zip(way.course.way.tolist(), way.course.run_m.tolist(), strict=True):
        name = scene.streets.ways.name[row]
        if name:
            metres[name] = metres.get(name, 0.0) + run
    longest = sorted(metres, key=lambda name: (-metres[name], name))[:2]
    return " and ".join(longest) or "streets without a name"


def _drops(items: Items, worst: Balance | None) -> Iterator[_Try]:
    """Try without the heaviest comforts that do nothing against the worst shortage."""
    helps = np.zeros(len(items)) if worst is None else supplies(items, worst.demand.gives)
    comfort = np.array([tier == "comfort" for tier in items.tier], dtype=np.bool_)
    heavy = np.nan_to_num(items.mass_g * items.quantity)
    order = np.argsort(-heavy, kind="stable").tolist()
    for row in [row for row in order if comfort[row] and helps[row] <= 0.0][:MOST_DROPPED]:
        fewer = items.quantity.copy()
        fewer[row] = 0.0
        yield _Try(f"drop {items.item[row]}", "drop", with_quantities(items, fewer))


PARTY: Final = (
    "The list is the party's; each walker carries a bag of the stated volume, and the load is "
    "shared by body mass. Shelter, warmth, water, food, light and signal are counted for each "
    "walker; the rest is shared."
)
"""What is assumed of a party, printed when there is more than one walker."""

RELIED: Final = (
    "{safe} places with safe water and {raw} with raw water are relied on, as the walk relies on "
    "them; a dry one makes water shorter."
)


@dataclass(frozen=True, slots=True, eq=False)
class Packed:
    """The bag, judged.

    Attributes
    ----------
    plan : Plan
        What was asked.
    items : Items
        The list; empty when the plan names none.
    fit : Fit
        Whether it fits person, bag and purse.
    elapsed_h : float
        How long the walk takes [h].
    balances : tuple of Balance
        Each demand of the walk and what the list has for it.
    if_halted : Cold
        What a night in the open would ask, planned or not.
    changes : tuple of Change
        Single changes, the best first.
    tiers : mapping of str to Choice
        The cheapest bag from the catalogue alone by standard, ``basic`` and ``comfort``.
    choice : Choice or None
        The best bag, when asked for.
    chosen_fit : Fit or None
        Whether the best bag fits, when asked for.
    chosen_balances : tuple of Balance
        The demands of the walk made with the best bag, and what that has for them.
    tasks : tuple of Task
        Upkeep of the list, or of the best bag when asked for.
    limits : Limits
        What the bag may take.
    inputs : mapping of str to str
        SHA-256 of each input file.
    attribution : str
        Credit of map and heights, with its days: what the walk asks of the bag rests on them.
    notes : tuple of str
        What the answers rest on.
    """

    plan: Plan
    items: Items
    fit: Fit
    elapsed_h: float
    balances: tuple[Balance, ...]
    if_halted: Cold
    changes: tuple[Change, ...]
    tiers: Mapping[str, Choice]
    choice: Choice | None
    chosen_fit: Fit | None
    chosen_balances: tuple[Balance, ...]
    tasks: tuple[Task, ...]
    limits: Limits
    inputs: Mapping[str, str]
    attribution: str
    notes: tuple[str, ...]

    @property
    def packing(self) -> Items:
        """The best bag when it was asked for, otherwise the list as it is."""
        return self.items if self.choice is None else self.choice.items

    @property
    def price_in_all(self) -> float:
        """Known price of all that is owned and of what is to be bought [currency of the list]."""
        return self.fit.price.known + (0.0 if self.choice is None else self.choice.spent)

    @property
    def chosen_csv(self) -> str | None:
        """The best bag in the form of bag.csv; None when it was not asked for."""
        return None if self.choice is None else items_csv(self.choice.items)

    @property
    def shortages(self) -> tuple[Balance, ...]:
        """What falls short on the walk, in the order of the demands."""
        return short_of(self.balances)


def short_of(balances: tuple[Balance, ...]) -> tuple[Balance, ...]:
    """Give the demands that are not met.

    Parameters
    ----------
    balances : tuple of Balance
        All of a walk.

    Returns
    -------
    tuple of Balance
        Those that have an hour at which they fall short.
    """
    return tuple(one for one in balances if isfinite(one.begins_h))


def pack(
    plan: Plan,
    *,
    choosing: bool = False,
    catalogue: Path | None = None,
    needed: Mapping[str, float] | None = None,
    odds: Path | None = None,
    certainty: float = CERTAINTY,
    most_runs: int = MOST_RUNS,
    progress: Callable[[str], None] | None = None,
) -> Packed:
    """Judge a plan's bag against its walk.

    Parameters
    ----------
    plan : Plan
        What is asked.
    choosing : bool
        Whether to choose the best bag, too.
    catalogue : pathlib.Path, optional
        What can be bought; the packaged invented one when left out.
    needed : mapping of str to float, optional
        Amounts by demand that take the place of the walk's own, e.g. what nine walks of ten need.
    odds : pathlib.Path, optional
        odds.json of the same files: what the bag needs at `certainty` is taken from it.
    certainty : float
        Share of the drawn walks that the bag should serve, in (0, 1).
    most_runs : int
        How many changes are tried by walking again; 0 for none.
    progress : callable, optional
        Told the name of each stage as it begins.

    Returns
    -------
    Packed
        Fit, shortages, changes, upkeep, and the best bag when asked for.

    Raises
    ------
    InputError
        When something in the plan or its files cannot be used.
    NoWayHomeError
        When no walkable way joins start and home on this map.
    """
    tell = progress or (lambda _stage: None)
    goods = read_catalogue(catalogue)
    drawn = None if odds is None else read_odds(odds, certainty)
    scene = prepare(plan, progress=tell)
    tell("finding the way")
    way = find_way(scene)
    tell("walking it hour by hour")
    walked = walk_way(scene, way)
    journey = journey_of(scene, walked)
    items = items_from([]) if scene.items is None else scene.items
    shortages = _shortages(scene, walked)
    balances = settled(_checked(items, journey, needed), shortages, journey=journey, needed=needed)
    if odds is not None and drawn is not None:
        sure = needed_for(
            odds,
            drawn,
            certainty,
            balances,
            walkers=journey.walkers,
            inputs=scene.fingerprints,
            lamps=journey.lamps,
        )
        needed = {**sure, **(needed or {})}
        balances = settled(
            _checked(items, journey, needed), shortages, journey=journey, needed=needed
        )
    limits = _limits(scene)
    tell("choosing what to pack")
    asked = {**{one.demand.key: one.demand.need for one in short_of(balances)}, **(needed or {})}
    asked = {key: amount for key, amount in asked.items() if isfinite(amount)}
    choice = _chosen(scene, goods, journey, limits, asked) if choosing else None
    chosen = () if choice is None else _with_the_best(scene, way, journey, choice, needed)
    changes = next_best(
        scene, way, journey, balances, goods, most_runs=most_runs, needed=needed, progress=tell
    )
    on = plan.trip.depart.date()
    return Packed(
        plan=plan,
        items=items,
        fit=_fit(scene, items, balances),
        elapsed_h=journey.elapsed_h,
        balances=balances,
        if_halted=if_halted(scene, journey),
        changes=changes,
        tiers=_tiers(goods, journey, limits, asked),
        choice=choice,
        chosen_fit=None if choice is None else _fit(scene, choice.items, chosen),
        chosen_balances=chosen,
        tasks=upkeep(items if choice is None else choice.items, on=on),
        limits=limits,
        inputs=scene.fingerprints,
        attribution=scene.streets.attribution,
        notes=_notes(scene, journey, needed, certainty=None if odds is None else certainty),
    )


def _with_the_best(
    scene: Scene, way: Way, journey: Journey, choice: Choice, needed: Mapping[str, float] | None
) -> tuple[Balance, ...]:
    """Walk again with the best bag, which weighs what it weighs, and see what then falls short."""
    after = _walk_again(scene, way, _Try("the best bag", "choice", choice.items))
    if after is None:
        return against(choice.items, journey, needed=needed)
    walk, shortages = after
    balances = against(choice.items, walk, needed=needed)
    return settled(balances, shortages, journey=walk, needed=needed)


def _checked(
    items: Items, journey: Journey, needed: Mapping[str, float] | None
) -> tuple[Balance, ...]:
    """Hold the list against the walk; a demand that there is not is the person's mistake."""
    try:
        return against(items, journey, needed=needed)
    except KeyError as fault:
        where = "needed amounts"
        raise InputError(where, str(fault.args[0])) from None


def _limits(scene: Scene) -> Limits:
    """Give what the bags of the party may take."""
    bag, people = scene.plan.bag, scene.walkers
    litres = None if bag.capacity_l is None else people.count * bag.capacity_l
    return Limits(
        budget=bag.budget,
        spend=bag.spend,
        volume_ml=None if litres is None else litres * ML_PER_L * PACKING_ALLOWANCE,
        rooms_ml=tuple(
            compartments_ml(
                litres, people.count * bag.pockets_l, PACKING_ALLOWANCE, bags=people.count
            )
        ),
        mass_g=EASY_LOAD_SHARE * float(people.mass_kg.sum()) * G_PER_KG,
    )


def _fit(scene: Scene, items: Items, balances: Sequence[Balance]) -> Fit:
    """Hold the list against the party, its bags and its purse, its flasks as full as they get."""
    need_ml = next(one.demand.need for one in balances if one.demand.key == "water_capacity")
    bag, people = scene.plan.bag, scene.walkers
    return fit(
        items,
        on=scene.plan.trip.depart.date(),
        body_mass_kg=float(people.mass_kg.sum()),
        capacity_l=None if bag.capacity_l is None else people.count * bag.capacity_l,
        pockets_l=people.count * bag.pockets_l,
        budget=bag.budget,
        stored=bag.stored,
        walkers=people.count,
        filled=flasks_filled(items, need_ml),
    )


def _chosen(
    scene: Scene,
    goods: Catalogue,
    journey: Journey,
    limits: Limits,
    needed: Mapping[str, float] | None,
) -> Choice:
    return choose(
        scene.items,
        goods,
        demands(journey, needed=needed),
        limits=limits,
        walkers=scene.walkers.count,
        on=scene.plan.trip.depart.date(),
    )


def _tiers(
    goods: Catalogue, journey: Journey, limits: Limits, needed: Mapping[str, float] | None
) -> dict[str, Choice]:
    """Price a basic and a comfortable bag for this walk, bought from nothing."""
    asked = demands(journey, needed=needed)
    open_purse = replace(limits, budget=None, spend=None)
    return {
        standard: choose(
            None,
            goods,
            asked,
            limits=open_purse,
            walkers=journey.walkers,
            standard=standard,
            ask_more=False,
        )
        for standard in ("basic", "comfort")
    }


def _notes(
    scene: Scene,
    journey: Journey,
    needed: Mapping[str, float] | None,
    *,
    certainty: float | None,
) -> tuple[str, ...]:
    """Say what the answers rest on."""
    notes = [
        RELIED.format(safe=len(journey.safe_h), raw=len(journey.raw_h)),
        f"A bag is filled to {PACKING_ALLOWANCE:.0%} of its stated volume (assumed).",
        f"The mass limit is {EASY_LOAD_SHARE:.0%} of body mass (guidance, from memory).",
        "Items, prices and masses of the catalogue are invented.",
    ]
    if certainty is not None:
        notes.append(
            f"What {percent(certainty)} of the drawn walks need takes the place of this walk's."
        )
    if needed:
        notes.append(f"Taken from outside this walk: {', '.join(sorted(needed))}.")
    notes += [PARTY] if scene.walkers.count > 1 else []
    return (*map_notes(scene.streets), *notes, *scene.notes)


SCHEMA = "walkhome bag 1"
"""Name and version of the layout of bag.json."""

STANDING = (
    "What a list cannot know: your own medicines, spectacles, shoes that fit. Ask a doctor or "
    "pharmacist about medicines. Drink by thirst and need, do not save water; treat water by its "
    "label. Local law decides what may be carried. Orders of the authorities come first."
)
"""The caution that stands on every bag; common practice and public guidance."""


def document(packed: Packed) -> dict[str, Any]:
    """Give the content of bag.json.

    Parameters
    ----------
    packed : Packed
        The bag, judged.

    Returns
    -------
    dict
        Numbers in full precision; what is unknown is None.
    """
    choice = packed.choice
    return {
        "schema": SCHEMA,
        "title": packed.plan.title,
        "inputs": dict(sorted(packed.inputs.items())),
        "attribution": packed.attribution,
        "depart": packed.plan.trip.depart.isoformat(),
        "walkers": len(packed.plan.walker),
        "elapsed_h": packed.elapsed_h,
        "money": {
            "may_cost_in_all": packed.limits.budget,
            "new_money": packed.limits.spend,
            "price_of_the_list": packed.fit.price.known,
        },
        "fit": _fit_entry(packed.fit),
        "demands": [_balance(one) for one in packed.balances],
        "shortages": [_balance(one) for one in packed.shortages],
        "if_halted": {
            "at_h": packed.if_halted.at_h,
            "more_clo": _known(packed.if_halted.more_clo),
            "note": packed.if_halted.note,
        },
        "price_by_tier": {tier: _total(total) for tier, total in packed.fit.price_by_tier.items()},
        "price_by_purpose": [
            {"tier": tier, "purpose": purpose} | _total(total)
            for (tier, purpose), total in packed.fit.price_by.items()
        ],
        "a_bag_from_nothing": {
            standard: _bought_entry(choice) for standard, choice in packed.tiers.items()
        },
        "changes": [_change(one) for one in packed.changes],
        "chosen": None if choice is None else _choice_entry(choice, packed),
        "upkeep": [
            {
                "day": task.day.isoformat(),
                "every": "year" if task.yearly else None,
                "kind": task.kind,
                "what": task.what,
                "why": task.why,
            }
            for task in packed.tasks
        ],
        "cautions": list(cautions_of(packed)),
        "assumptions": list(packed.notes) + _demand_notes(packed.balances),
    }


def cautions_of(packed: Packed) -> tuple[str, ...]:
    """List what to mind about the bag to be packed.

    Parameters
    ----------
    packed : Packed
        The bag, judged.

    Returns
    -------
    tuple of str
        The standing one first.
    """
    return (STANDING, *cautions(packed.packing, stored=packed.plan.bag.stored))


def _fit_entry(found: Fit) -> dict[str, Any]:
    return {
        "mass_g": _total(found.mass),
        "mass_share": found.mass_share,
        "load": found.load,
        "volume_ml": _total(found.volume),
        "usable_ml": _known(found.usable_ml),
        "volume_left_ml": _known(found.volume_left_ml),
        "too_large": list(found.too_large),
        "filled": _counted(found.filled),
        "price": _total(found.price),
        "budget_left": _known(found.budget_left),
        "covered": list(found.covered),
        "missing": list(found.missing),
        "missing_first": list(found.missing_first),
        "too_few": list(found.too_few),
        "duplicates": list(found.duplicates),
        "expired": _dates(found.expired),
        "expiring": _dates(found.expiring),
    }


def _balance(one: Balance) -> dict[str, Any]:
    return {
        "key": one.demand.key,
        "what": one.demand.label,
        "unit": one.demand.unit,
        "need": _known(one.demand.need),
        "have": one.have,
        "short": _known(one.short),
        "begins_h": _known(one.begins_h),
        "unknown": list(one.unknown),
        "note": one.demand.note,
    }


def _change(one: Change) -> dict[str, Any]:
    return {
        "what": one.what,
        "kind": one.kind,
        "measured_by": one.target,
        "unit": one.unit,
        "before": one.before,
        "after": one.after,
        "gain": one.gain,
        "price": _known(one.price),
        "mass_g": _known(one.mass_g),
        "gain_per_money": _known(one.gain_per_money),
        "gain_per_100_g": _known(one.gain_per_100_g),
        "later_min": one.later_min,
        "then_worst": one.new_worst or None,
    }


def _bought_entry(choice: Choice) -> dict[str, Any]:
    return {
        "price": choice.spent,
        "volume_ml": choice.volume_ml,
        "mass_g": choice.mass_g,
        "uncovered": list(choice.uncovered),
        "unmet": dict(choice.unmet),
        "items": _listed(choice.items),
    }


def _choice_entry(choice: Choice, packed: Packed) -> dict[str, Any]:
    by_tier = dict.fromkeys(TIERS, 0.0)
    prices = (choice.bought.price * choice.bought.quantity).tolist()
    for tier, price in zip(choice.bought.tier, prices, strict=True):
        by_tier[tier] += price if math.isfinite(price) else 0.0
    return {
        "limits": {
            "budget": packed.limits.budget,
            "spend": packed.limits.spend,
            "volume_ml": packed.limits.volume_ml,
            "mass_g": packed.limits.mass_g,
            "rooms_ml": list(packed.limits.rooms_ml),
        },
        "spent": choice.spent,
        "price_in_all": packed.price_in_all,
        "filled": _counted(choice.filled),
        "spent_by_tier": by_tier,
        "volume_ml": choice.volume_ml,
        "mass_g": choice.mass_g,
        "value": choice.value,
        "fit": None if packed.chosen_fit is None else _fit_entry(packed.chosen_fit),
        "buy": _listed(choice.bought),
        "leave_at_home": _counted(choice.left_out),
        "not_considered": list(choice.not_considered),
        "uncovered": list(choice.uncovered),
        "shortages": [_balance(one) for one in short_of(packed.chosen_balances)],
        "limits_that_bind": [
            {
                "limit": one.limit,
                "more": one.step,
                "within": one.within or None,
                "improves": one.improves,
                "by": one.by,
                "takes": _counted(one.takes),
                "leaves": _counted(one.leaves),
            }
            for one in choice.more
        ],
    }


def _listed(items: Items) -> list[dict[str, Any]]:
    return [
        {"item": name, "pieces": count, "price": _known(price)}
        for name, count, price in zip(
            items.item, items.quantity.tolist(), items.price.tolist(), strict=True
        )
    ]


def _total(total: BagSum) -> dict[str, Any]:
    return {"known": total.known, "unknown": list(total.unknown)}


def _counted(pairs: Iterable[tuple[str, int]]) -> list[dict[str, Any]]:
    return [{"item": name, "pieces": count} for name, count in pairs]


def _dates(dated: Iterable[Dated]) -> list[Mapping[str, str]]:
    return [{"item": one.item, "expires": one.expires.isoformat()} for one in dated]


def _demand_notes(balances: Iterable[Balance]) -> list[str]:
    """Say what each demand rests on."""
    return [f"{one.demand.label}: {one.demand.note}." for one in balances]


def _known(value: float) -> float | None:
    """Give a number, or None where there is none."""
    return value if math.isfinite(value) else None
