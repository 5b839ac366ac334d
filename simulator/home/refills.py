"""Refills near the way: what can be relied on, what is needed, and where the bottles are filled.

One rule decides for one walk and for thousands, on arrays: what is needed up to each place, what a
stop there costs, and the choice of stops from both.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, fields, replace
from math import inf
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import pandas as pd

from simulator.body import energy, water
from simulator.body.drinking import unfelt_ml
from simulator.ground.hours import open_at
from simulator.supply.bottle import Treatment
from simulator.supply.refills import StopPlan, Stops, choose_stops, plan_stops
from simulator.units import HOUR_S, percent
from simulator.walk.conditions import weather_at
from simulator.walk.ledger import ledger_of, local_time
from simulator.walk.party import level_speed_m_s
from simulator.walk.records import Doing, Dosing, Stop, Total

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.bag.items import Items
    from simulator.home.scene import Scene
    from simulator.walk.conditions import Conditions
    from simulator.walk.records import Outcome, Walkers
    from simulator.walk.stops import Nearby

    Kind = TypeVar("Kind", np.bool_, np.float64, np.int64)

TABLET_ML = 500.0
"""Water that one tablet treats [mL]: one for each half litre, common practice; the label rules."""

CONTACT_S = 1800.0
"""Time from dropping tablets or drops until the water is fit [s]: 30 min, Mohamed et al. 2015,
J. Water Health 13:544-552 (read in summary), for clear water. Chlorine dioxide against
Cryptosporidium, and cold or cloudy water, take up to four hours by their labels (restated)."""

TABLET_S = 60.0
"""Time to drop tablets in and shake [s]; assumed."""

CUP_ML = 500.0
"""Water boiled at a time on a small stove [mL]; assumed."""

CUP_S = 480.0
"""Time to bring a cup to a rolling boil on a small stove and keep it there for a minute [s]:
assumed, 5 to 15 min by stove and wind; one minute of rolling boil is the CDC's, three above
2000 m."""

HIGH_S = 120.0
"""Two more minutes of boiling [s], above `HIGH_M`; CDC."""

HIGH_M = 2000.0
"""Height from which water is boiled for three minutes [m]; CDC."""

FILTER_S_PER_ML = 240.0 / 1000.0
"""Time to press water through a small filter [s/mL]: four minutes a litre; assumed, 1 to 10."""

ASSUMED = (
    f"Treating water: one tablet for each {TABLET_ML / 1000.0:g} L, fit after "
    f"{CONTACT_S / 60.0:.0f} min, longer in cold or cloudy water; a cup boils in "
    f"{CUP_S / 60.0:.0f} min; a filter gives a litre in {1000.0 * FILTER_S_PER_ML / 60.0:.0f} min. "
    "What the label says goes before these figures."
)
"""The assumptions of this module in a sentence."""

WORDS = {
    "filter": re.compile(r"filter|purifier|straw", flags=re.IGNORECASE),
    "boiling": re.compile(r"stove|burner|boil|kettle|fuel|cooker|pot\b|cup\b", flags=re.IGNORECASE),
}
"""How a method is known by an item's name; anything else that treats water counts as tablets, which
take the longest."""

ORDER = ("filter", "tablets", "boiling")


@dataclass(frozen=True, slots=True)
class Kit:
    """What is carried for water, of the whole party.

    Attributes
    ----------
    names : tuple of str
        Methods out of `ORDER`, quickest first.
    treatments : tuple of Treatment
        What each can treat and what it costs, for a full filling of every bottle.
    contact_s : tuple of float
        Time until the water is fit when it is carried on [s]; 0 where it is fit at once.
    one_bottle : bool
        A single vessel: untreated water mixes with what is left in it.
    """

    names: tuple[str, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    contact_s: tuple[float, ...] = ()
    one_bottle: bool = False

    @property
    def longest_contact_s(self) -> float:
        """Longest contact time of the methods carried [s]."""
        return max(self.contact_s, default=0.0)


def method_of(name: str) -> str:
    """Tell how an item treats water, by its name.

    Parameters
    ----------
    name : str
        As on the list.

    Returns
    -------
    str
        One of `ORDER`.

    Examples
    --------
    >>> method_of("squeeze filter"), method_of("strip of purification tablets")
    ('filter', 'tablets')
    """
    return next((method for method, words in WORDS.items() if words.search(name)), "tablets")


def kit_of(
    items: Items | None, *, treats_ml: float, capacity_ml: float, highest_m: float = 0.0
) -> Kit:
    """Say what the bag has for making water fit."""
    by_method = dict.fromkeys(ORDER, 0.0)
    vessels = 0.0
    if items is not None:
        amount = np.nan_to_num(items.treats_ml * items.quantity)
        for name, treats in zip(items.item, amount.tolist(), strict=True):
            if treats > 0.0:
                by_method[method_of(name)] += treats
        holds = np.where(np.isnan(items.holds_ml), items.water_ml, items.holds_ml)
        vessels = float(items.quantity[np.nan_to_num(holds) > 0.0].sum())
    by_method["tablets"] += max(treats_ml - sum(by_method.values()), 0.0)
    for name in reversed(ORDER):  # what the list has more of than is asked for goes, slowest first
        by_method[name] -= min(by_method[name], max(sum(by_method.values()) - treats_ml, 0.0))
    cup_s = CUP_S + (HIGH_S if highest_m > HIGH_M else 0.0)
    costs = {
        "filter": (capacity_ml * FILTER_S_PER_ML, 0.0, inf, 0.0),
        "tablets": (TABLET_S + CONTACT_S, TABLET_ML, TABLET_S, CONTACT_S),
        "boiling": (np.ceil(capacity_ml / CUP_ML) * cup_s, 0.0, inf, 0.0),
    }
    names = tuple(name for name in ORDER if by_method[name] > 0.0)
    return Kit(
        names=names,
        treatments=tuple(
            Treatment(by_method[name], float(costs[name][0]), costs[name][1], costs[name][2])
            for name in names
        ),
        contact_s=tuple(costs[name][3] for name in names),
        one_bottle=vessels == 1.0,
    )


DRINK_AHEAD_ML = 250.0
"""Most that each walker drinks ahead of need before filling, to finish what is carried [mL]: a
glass, far below the safe hourly intake; assumed."""

SPARED_SHARE = 0.5
"""Share of the water whose lack is not felt that the choice of stops may use up: the rest is for a
way a little thirstier than reckoned. Assumed."""

AMPLE = 3.0
"""Treatment for so many times the water still needed cannot run out."""


@dataclass(frozen=True, slots=True)
class Thirst:
    """Need and supply along one way: what every question about water starts from.

    Attributes
    ----------
    need_ml : (C,) float64
        Water the party needs up to each nearby place [mL], stops for water left out.
    fit_after_ml : (C,) float64
        Need from there until water taken and carried on is fit [mL].
    stop_need_ml : (C,) float64
        Water needed in the time of a stop there [mL], without treatment.
    stop_s : (C,) float64
        Time of a stop there without treatment [s].
    gives : (C,) bool
        Which places give water.
    treated : (C,) bool
        Which of their waters need treatment.
    end_need_ml, start_ml, capacity_ml : float
        Need up to home, water at the start, what all bottles hold [mL].
    kit : Kit
        What is carried for treating water.
    walkers : int
        How many drink from it.
    unfelt_ml : float
        Water that their bodies may lack before a stop is made for it [mL].
    """

    need_ml: NDArray[np.float64]
    fit_after_ml: NDArray[np.float64]
    stop_need_ml: NDArray[np.float64]
    stop_s: NDArray[np.float64]
    gives: NDArray[np.bool_]
    treated: NDArray[np.bool_]
    end_need_ml: float
    start_ml: float
    capacity_ml: float
    kit: Kit
    walkers: int
    unfelt_ml: float

    @property
    def ahead_ml(self) -> float:
        """Most the party drinks ahead of need at a stop [mL]."""
        return DRINK_AHEAD_ML * self.walkers

    def treatments(self, left_ml: float) -> tuple[Treatment, ...]:
        """Give the treatments; one that cannot run out on what is left counts as without limit."""
        enough = AMPLE * (left_ml + self.capacity_ml)
        return tuple(
            each._replace(treats_ml=inf) if each.treats_ml >= enough else each
            for each in self.kit.treatments
        )

    def plan(self, usable: NDArray[np.bool_]) -> StopPlan:
        """Choose the stops among some places."""
        rows = np.flatnonzero(usable & self.gives)
        plan = self._plan(rows, 0.0, self.start_ml)
        return _spread(plan, rows, usable.size)

    def plan_after(self, row: int, usable: NDArray[np.bool_], start_ml: float) -> StopPlan:
        """Choose the stops from a place on where nothing could be had."""
        later = usable & self.gives & (np.arange(usable.size) > row)
        rows = np.flatnonzero(later)
        plan = self._plan(rows, float(self.need_ml[row]), min(start_ml, self.capacity_ml))
        return _spread(plan, rows, usable.size)

    def _plan(self, rows: NDArray[np.intp], gone_ml: float, start_ml: float) -> StopPlan:
        return plan_stops(
            self.need_ml[rows] - gone_ml,
            self.stop_s[rows],
            start_ml=start_ml,
            capacity_ml=self.capacity_ml,
            end_need_ml=self.end_need_ml - gone_ml,
            needs_treatment=self.treated[rows],
            treatments=self.treatments(self.end_need_ml - gone_ml),
            fit_after_ml=self.fit_after_ml[rows],
            stop_need_ml=self.stop_need_ml[rows],
            drink_ahead_ml=self.ahead_ml,
            unfelt_ml=self.unfelt_ml,
            one_bottle=self.kit.one_bottle,
        )


def _spread(plan: StopPlan, rows: NDArray[np.intp], size: int) -> StopPlan:
    """Lay a plan of some places out over all of them."""

    def over(column: NDArray[Kind], empty: float) -> NDArray[Kind]:
        full = np.full(size, empty, dtype=column.dtype)
        full[rows] = column
        return full

    return replace(
        plan,
        chosen=over(plan.chosen, 0),
        arrive_ml=over(plan.arrive_ml, np.nan),
        filled_ml=over(plan.filled_ml, 0),
        method=over(plan.method, -1),
        carried_on=over(plan.carried_on, 0),
    )


@dataclass(frozen=True, slots=True)
class Met:
    """Places that n walks pass, in order, C at most; (C, n).

    Attributes
    ----------
    place : ndarray of int64
        Row in ``Places``; -1 beyond a walk's own.
    step : ndarray of int64
        The stop is made before this step of the walk's way.
    off_m : ndarray of float64
        Walking distance from the way, one direction [m].
    """

    place: NDArray[np.int64]
    step: NDArray[np.int64]
    off_m: NDArray[np.float64]

    @classmethod
    def along(cls, nearby: Nearby, walks: int) -> Met:
        """Let all walks pass the same places."""
        shape = (nearby.place.size, walks)
        return cls(
            np.broadcast_to(nearby.place[:, None], shape),
            np.broadcast_to(nearby.step[:, None], shape),
            np.broadcast_to(nearby.off_m[:, None], shape),
        )

    def some(self, walks: NDArray[np.intp]) -> Met:
        """Take some walks."""
        return Met(self.place[:, walks], self.step[:, walks], self.off_m[:, walks])

    @classmethod
    def each(cls, nearby: Sequence[Nearby]) -> Met:
        """Let every walk pass its own."""
        most = max((one.place.size for one in nearby), default=0)
        place = np.full((most, len(nearby)), -1, dtype=np.int64)
        step, off_m = np.zeros_like(place), np.zeros(place.shape)
        for walk, one in enumerate(nearby):
            place[: one.place.size, walk] = one.place
            step[: one.place.size, walk] = one.step
            off_m[: one.place.size, walk] = one.off_m
        return cls(place, step, off_m)


@dataclass(frozen=True, slots=True)
class Passed:
    """When n walks reach the places they pass, and what they have needed by then.

    Attributes
    ----------
    clock_s, need_ml : (C, n) float64
        Since departure, before any stop there [s]; water needed by the party, stops for water left
        out [mL].
    edge_s, edge_ml : (H, n) float64
        The same at the full hours and on arrival; NaN beyond.
    end_need_ml, mean_ml_s : (n,) float64
        Needed up to home [mL], and on the mean by the second [mL/s].
    """

    clock_s: NDArray[np.float64]
    need_ml: NDArray[np.float64]
    edge_s: NDArray[np.float64]
    edge_ml: NDArray[np.float64]
    end_need_ml: NDArray[np.float64]
    mean_ml_s: NDArray[np.float64]

    def need_after(self, later_s: float) -> NDArray[np.float64]:
        """Give what is needed within a time after each place is reached, (C, n) [mL]."""
        after = np.zeros_like(self.clock_s)
        for walk in range(self.end_need_ml.size):
            clock = np.concatenate([self.clock_s[:, walk], self.edge_s[:, walk]])
            need = np.concatenate([self.need_ml[:, walk], self.edge_ml[:, walk]])
            order = np.argsort(clock, kind="stable")
            order = order[: int(np.isfinite(clock).sum())]
            later = np.interp(self.clock_s[:, walk] + later_s, clock[order], need[order])
            after[:, walk] = np.maximum(later - self.need_ml[:, walk], 0.0)
        return after


def passed_of(
    outcome: Outcome,
    clock_s: NDArray[np.float64],
    need_ml: NDArray[np.float64],
    *,
    members: int,
) -> Passed:
    """Read what walks needed by the places they pass.

    Parameters
    ----------
    outcome : Outcome
        n walks of parties of so many members, with hours marked.
    clock_s, need_ml : (C, n) float64
        On reaching the places.
    members : int
        Members of each party.

    Returns
    -------
    Passed
        For any choice of stops.
    """
    ledger = ledger_of(outcome, members=members, length_m=0.0)
    edge_ml = ledger.party(Total.LOST_ML) - ledger.party(Total.STOP_LOST_ML)
    total = outcome.totals.reshape(len(Total), -1, members)
    end_ml = (total[Total.LOST_ML] - total[Total.STOP_LOST_ML]).sum(axis=-1)
    on_way_s = total[Total.CLOCK_S, :, 0] - total[Total.WATER_STOP_S, :, 0]
    return Passed(
        clock_s=clock_s,
        need_ml=np.maximum.accumulate(np.minimum(need_ml, end_ml), axis=0),
        edge_s=ledger.edge_s,
        edge_ml=edge_ml,
        end_need_ml=end_ml,
        mean_ml_s=end_ml / np.maximum(on_way_s, 1.0),
    )


@dataclass(frozen=True, slots=True)
class Needs:
    """Need and supply of n walks: what every choice of stops starts from.

    Attributes
    ----------
    place : (C, n) int64
        Row in ``Places``; a place passed twice has two rows here.
    need_ml, fit_after_ml, stop_need_ml, stop_s : (C, n) float64
        As in ``Thirst``, of each walk.
    gives, treated : (C, n) bool
        Which places give water, and which of it needs treatment.
    end_need_ml, start_ml, capacity_ml, unfelt_ml, stand_ml_s : (n,) float64
        As in ``Thirst``; and what the party loses standing still [mL/s].
    kit : Kit
        What is carried for treating water.
    members : int
        Members of each party.
    """

    place: NDArray[np.int64]
    need_ml: NDArray[np.float64]
    fit_after_ml: NDArray[np.float64]
    stop_need_ml: NDArray[np.float64]
    stop_s: NDArray[np.float64]
    gives: NDArray[np.bool_]
    treated: NDArray[np.bool_]
    end_need_ml: NDArray[np.float64]
    start_ml: NDArray[np.float64]
    capacity_ml: NDArray[np.float64]
    unfelt_ml: NDArray[np.float64]
    stand_ml_s: NDArray[np.float64]
    kit: Kit
    members: int

    def choose(
        self,
        usable: NDArray[np.bool_],
        *,
        works: NDArray[np.bool_] | None = None,
        must: NDArray[np.bool_] | None = None,
    ) -> Stops:
        """Choose where each walk stops, seeing on the spot whether a place works."""
        chosen = self._from(usable, must, np.zeros(self.end_need_ml.size), self.start_ml)
        if works is None or works.all():
            return chosen
        tried = np.zeros(usable.shape, dtype=bool)
        for _ in range(usable.shape[0]):
            failing = chosen.chosen & ~works & ~tried
            walks = np.flatnonzero(failing.any(axis=0))
            if walks.size == 0:
                break
            row = np.argmax(failing[:, walks], axis=0)
            tried[row, walks] = True
            later = usable[:, walks] & (np.arange(usable.shape[0])[:, None] > row)
            # What gave nothing is not tried again where the way comes back to it.
            later &= self.place[:, walks] != self.place[row, walks]
            gone = self.need_ml[row, walks]
            left = np.maximum(chosen.arrive_ml[row, walks] - self.stop_need_ml[row, walks], 0.0)
            again = self.some(walks)._from(  # noqa: SLF001 - one's own kind
                later,
                None if must is None else must[:, walks],
                gone,
                np.minimum(left, self.capacity_ml[walks]),
            )
            rows = np.arange(usable.shape[0])[:, None] > row
            for name in ("chosen", "method", "carried_on", "arrive_ml", "filled_ml"):
                column = getattr(chosen, name)
                column[:, walks] = np.where(rows, getattr(again, name), column[:, walks])
        return chosen

    def some(self, walks: NDArray[np.intp]) -> Needs:
        """Take some of the walks."""
        cut: dict[str, Any] = {
            field.name: value[..., walks]
            for field in fields(self)
            if isinstance(value := getattr(self, field.name), np.ndarray)
        }
        return replace(self, **cut)

    def _from(
        self,
        usable: NDArray[np.bool_],
        must: NDArray[np.bool_] | None,
        gone_ml: NDArray[np.float64],
        start_ml: NDArray[np.float64],
    ) -> Stops:
        """Choose from a place on, with so much needed before and so much at hand."""
        left_ml = self.end_need_ml - gone_ml
        usable = usable & self.gives
        kit = self.kit.treatments
        treats = np.array([[each.treats_ml] for each in kit]).reshape(len(kit), 1)
        treats = np.where(treats >= AMPLE * (left_ml + self.capacity_ml), inf, treats)
        stand = self.stand_ml_s
        return choose_stops(
            np.maximum(self.need_ml - gone_ml, 0.0),
            np.where(usable, self.stop_s, inf),
            start_ml=start_ml,
            capacity_ml=self.capacity_ml,
            end_need_ml=left_ml,
            needs_treatment=self.treated,
            treatments=[
                each._replace(
                    wait_ml=stand * (each.wait_s if each.wait_s < inf else 0.0),
                    carry_ml=stand * (each.carry_s if each.carry_s < inf else 0.0),
                )
                for each in kit
            ],
            fit_after_ml=self.fit_after_ml,
            stop_need_ml=self.stop_need_ml,
            drink_ahead_ml=np.full(left_ml.size, DRINK_AHEAD_ML * self.members),
            unfelt_ml=self.unfelt_ml,
            one_bottle=self.kit.one_bottle,
            treats_ml=treats,
            must=None if must is None else must & usable,
        )

    def ahead_ml(self) -> NDArray[np.float64]:
        """Most that each walker drinks ahead of need at each place, (C, n) [mL]."""
        left_ml = (self.end_need_ml - self.need_ml) / self.members
        steps = np.maximum(left_ml // AHEAD_STEP_ML - 1.0, 0.0)
        return np.minimum(DRINK_AHEAD_ML, steps * AHEAD_STEP_ML)


def stop_at(
    scene: Scene,
    kit: Kit,
    members: int,
    *,
    place: int,
    step: int,
    off_m: float,
    method: int,
    carried_on: bool,
) -> Stop:
    """Turn a choice into a stop for the engine, drinking ahead left out.

    Parameters
    ----------
    scene : Scene
        What was loaded.
    kit : Kit
        What the bag has for making water fit to drink.
    members : int
        How many fill their bottles.
    place : int
        Row of the place.
    step : int
        Step of the way that the stop follows.
    off_m : float
        How far the place lies off the way [m].
    method : int
        Treatment of the kit; below zero for none.
    carried_on : bool
        Whether one walks on while treated water stands.

    Returns
    -------
    Stop
        For the engine.
    """
    service_s, dosing = float(scene.places.service_s[place]), Dosing()
    if method >= 0:
        treatment = kit.treatments[method]
        service_s += treatment.carry_s if carried_on else treatment.wait_s
        alone = len(kit.treatments) == 1
        dosing = Dosing(
            dose_ml=treatment.dose_ml,
            limit_ml=float("inf") if alone else treatment.treats_ml / members,
            contact_s=kit.contact_s[method] if carried_on else 0.0,
            one_bottle=kit.one_bottle,
        )
    return Stop(
        step=step,
        off_m=off_m,
        service_s=service_s,
        refill=True,
        treat=method >= 0,
        place=place,
        dosing=dosing,
    )


def needs_of(
    scene: Scene,
    met: Met,
    passed: Passed,
    *,
    walkers: Walkers,
    members: int,
    depart_epoch_s: NDArray[np.float64],
    conditions: Conditions,
    kit: Kit,
) -> Needs:
    """Put need and supply of n walks together."""
    places, real = scene.places, met.place >= 0
    place = np.maximum(met.place, 0)
    walks = depart_epoch_s.size

    def of(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return values.reshape(walks, members)

    moment = weather_at(conditions, depart_epoch_s + passed.clock_s, None)
    standing = np.zeros(passed.clock_s.shape)
    for member in range(members):
        mass_kg, height_m = of(walkers.mass_kg)[:, member], of(walkers.height_m)[:, member]
        loss = water.water_loss_g_h(
            np.broadcast_to(np.asarray(energy.standing_w(mass_kg)), standing.shape),
            water.body_area_m2(mass_kg, height_m),
            moment.air_c,
            moment.humidity_pct,
            moment.wind_m_s,
            moment.radiant_w_m2,
            of(walkers.clothing_clo)[:, member],
        )
        standing += np.nan_to_num(np.asarray(loss.total_g_h)) / HOUR_S
    count = np.maximum(real.sum(axis=0), 1)
    service_s = places.service_s[place] if places.service_s.size else np.zeros(place.shape)
    speed = level_speed_m_s(scene.manner) * of(walkers.pace_factor).min(axis=1)
    stop_s = 2.0 * met.off_m / speed + service_s
    gives = np.array(["water" in each for each in places.gives], dtype=bool)
    capacity_ml = of(walkers.capacity_ml).sum(axis=1)
    later = passed.need_after(kit.longest_contact_s) if kit.longest_contact_s > 0.0 else None
    return Needs(
        place=met.place,
        need_ml=passed.need_ml,
        fit_after_ml=np.zeros(place.shape) if later is None else later,
        stop_need_ml=standing * service_s + passed.mean_ml_s * (stop_s - service_s),
        stop_s=stop_s,
        gives=real & gives[place] if gives.size else np.zeros(place.shape, dtype=bool),
        treated=places.needs_treatment[place] if gives.size else np.zeros(place.shape, dtype=bool),
        end_need_ml=passed.end_need_ml,
        start_ml=np.minimum(of(walkers.water_ml).sum(axis=1), capacity_ml),
        capacity_ml=capacity_ml,
        unfelt_ml=SPARED_SHARE * of(unfelt_ml(walkers.mass_kg)).sum(axis=1),
        stand_ml_s=np.where(real, standing, 0.0).sum(axis=0) / count,
        kit=kit,
        members=members,
    )


def kit_in(scene: Scene, *, treats_ml: float, capacity_ml: float) -> Kit:
    """Say what the scene's bag has for treating water, on the ground of its map."""
    terrain = scene.streets.terrain
    highest_m = 0.0 if terrain is None else float(np.nanmax(terrain.node_height_m, initial=0.0))
    return kit_of(scene.items, treats_ml=treats_ml, capacity_ml=capacity_ml, highest_m=highest_m)


def thirst_of(scene: Scene, nearby: Nearby, reading: Reading, outcome: Outcome) -> Thirst:
    """Read need and supply off a recorded walk."""
    needs = needs_of_walk(scene, nearby, reading, outcome)
    stand_ml_s = float(needs.stand_ml_s[0])
    treatments = tuple(
        each._replace(
            wait_ml=stand_ml_s * each.wait_s if each.wait_s < inf else 0.0,
            carry_ml=stand_ml_s * each.carry_s if each.carry_s < inf else 0.0,
        )
        for each in needs.kit.treatments
    )
    return Thirst(
        need_ml=needs.need_ml[:, 0],
        fit_after_ml=needs.fit_after_ml[:, 0],
        stop_need_ml=needs.stop_need_ml[:, 0],
        stop_s=needs.stop_s[:, 0],
        gives=needs.gives[:, 0],
        treated=needs.treated[:, 0],
        end_need_ml=float(needs.end_need_ml[0]),
        start_ml=float(needs.start_ml[0]),
        capacity_ml=float(needs.capacity_ml[0]),
        kit=replace(needs.kit, treatments=treatments),
        walkers=needs.members,
        unfelt_ml=float(needs.unfelt_ml[0]),
    )


def needs_of_walk(scene: Scene, nearby: Nearby, reading: Reading, outcome: Outcome) -> Needs:
    """Read need and supply off one recorded walk, as off thousands."""
    walkers, members = scene.walkers, scene.walkers.count
    trace = outcome.trace
    if trace is None:
        message = "needs are read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    total = trace.totals[reached(outcome, nearby.step)]
    need_ml = (total[:, Total.LOST_ML] - total[:, Total.STOP_LOST_ML]).sum(axis=1)
    passed = passed_of(outcome, reading.arrive_s[:, None], need_ml[:, None], members=members)
    return needs_of(
        scene,
        Met.along(nearby, 1),
        passed,
        walkers=walkers,
        members=members,
        depart_epoch_s=np.array([scene.depart_epoch_s]),
        conditions=scene.conditions,
        kit=kit_in(
            scene,
            treats_ml=float(walkers.treats_ml.sum()),
            capacity_ml=float(walkers.capacity_ml.sum()),
        ),
    )


def reached(outcome: Outcome, step: NDArray[np.int64]) -> NDArray[np.int64]:
    """Find the events that end on reaching steps, before any stop at them."""
    if outcome.trace is None:
        message = "places are read against a recorded walk; simulate with record=True"
        raise ValueError(message)
    return np.maximum(np.searchsorted(outcome.trace.step, step, side="left") - 1, 0)


def need_along(
    outcome: Outcome, stops: Sequence[Stop], along_m: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give what the party needs on the way up to points of it, stops for water left out [mL]."""
    trace = outcome.trace
    if trace is None:
        message = "needs are read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    chosen = np.array([stop.until_epoch_s is None for stop in stops], dtype=bool)
    left_out = trace.doing == Doing.STOP
    left_out[left_out] = chosen[trace.stop[left_out]]
    lost = np.diff(trace.totals[:, Total.LOST_ML].sum(axis=1), prepend=0.0)
    need_ml = np.maximum.accumulate(np.cumsum(np.where(left_out, 0.0, lost)))
    return np.interp(along_m, trace.distance_m, need_ml)


RELIED_ON_SHARE = 0.5
"""A place is relied on when at least this share of its kind is assumed to work in the event."""

AHEAD_STEP_ML = 50.0
"""Where home is near less is drunk, in whole steps of this, and one step is kept back [mL]."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What can be said of each nearby place at the time it is reached; all of shape (C,).

    Attributes
    ----------
    arrive_s : ndarray of float64
        Time since departure at the turn-off [s].
    open : tuple of str
        ``"yes"``, ``"no"`` or ``"unknown"``.
    refusal : tuple of str
        Why the place is not relied on; "" when it is.
    stop_s : ndarray of float64
        Way there and back, queue and filling [s], without treatment.
    works : ndarray of float64
        Share of such places assumed to work in the event, 0 to 1.
    tried : ndarray of bool
        Places that may be tried, relied on or not: open or never locked, with what they need.
    """

    arrive_s: NDArray[np.float64]
    open: tuple[str, ...]
    refusal: tuple[str, ...]
    stop_s: NDArray[np.float64]
    works: NDArray[np.float64]
    tried: NDArray[np.bool_]

    @property
    def relied_on(self) -> NDArray[np.bool_]:
        """Places without a refusal."""
        return np.array([not text for text in self.refusal], dtype=bool)


def read_places(scene: Scene, nearby: Nearby, outcome: Outcome) -> Reading:
    """Judge every nearby place at the hour the walker gets there.

    Parameters
    ----------
    scene : Scene
        Event, bag and places.
    nearby : Nearby
        Places within reach.
    outcome : Outcome
        A recorded walk, for arrival times.

    Returns
    -------
    Reading
        Unknown hours stay unknown: outdoor things that are never locked are relied on, anything
        behind a door is not.
    """
    places, rows = scene.places, nearby.place
    trace = outcome.trace
    if trace is None:
        message = "places are read against a recorded walk; simulate with record=True"
        raise ValueError(message)
    arrive_s = trace.totals[reached(outcome, nearby.step), Total.CLOCK_S, 0]
    works = places.works_in(scene.plan.event.kind)[rows]
    states = [
        open_at(
            places.hours[place],
            local_time(scene.depart_epoch_s + arrive, scene.zone),
            lat=lat,
            lon=lon,
        )
        if places.hours[place]
        else None
        for place, arrive, lat, lon in zip(
            rows.tolist(),
            arrive_s.tolist(),
            places.lat[rows].tolist(),
            places.lon[rows].tolist(),
            strict=True,
        )
    ]
    barred = [
        _barred(scene, place, state) for place, state in zip(rows.tolist(), states, strict=True)
    ]
    doubt = [
        "" if share >= RELIED_ON_SHARE else f"may not work in this event (assumed {percent(share)})"
        for share in works.tolist()
    ]
    speed = level_speed_m_s(scene.manner) * float(scene.walkers.pace_factor.min())
    return Reading(
        arrive_s=arrive_s,
        open=tuple({True: "yes", False: "no", None: "unknown"}[state] for state in states),
        refusal=tuple(text or share for text, share in zip(barred, doubt, strict=True)),
        stop_s=2.0 * nearby.off_m / speed + places.service_s[rows],
        works=works,
        tried=np.array([not text for text in barred], dtype=bool),
    )


def _barred(scene: Scene, place: int, state: bool | None) -> str:
    """Why a place cannot be used at all, as far as is known."""
    places = scene.places
    if state is False:
        return "closed on arrival"
    if state is None and not places.always_open[place]:
        return "opening hours unknown, so not relied on"
    if places.needs_key[place] and not scene.carried.has_key:
        return "needs a spigot key and leave of the owner; no key in the bag"
    if places.needs_treatment[place] and scene.carried.treats_ml <= 0.0:
        return "untreated water, and nothing in the bag treats it"
    return ""


def choose_refills(scene: Scene, nearby: Nearby, reading: Reading, outcome: Outcome) -> list[Stop]:
    """Choose where to fill bottles so that the party never runs dry at least total time."""
    needs = needs_of_walk(scene, nearby, reading, outcome)
    chosen, ahead_ml = needs.choose(reading.relied_on[:, None]), needs.ahead_ml()
    return [
        replace(
            stop_at(
                scene,
                needs.kit,
                needs.members,
                place=int(nearby.place[row]),
                step=int(nearby.step[row]),
                off_m=float(nearby.off_m[row]),
                method=int(chosen.method[row, 0]),
                carried_on=bool(chosen.carried_on[row, 0]),
            ),
            ahead_ml=float(ahead_ml[row, 0]),
        )
        for row in np.flatnonzero(chosen.chosen[:, 0]).tolist()
    ]


def refills_table(
    scene: Scene,
    nearby: Nearby,
    reading: Reading,
    *,
    used: dict[int, float],
    halts: dict[tuple[int, int], str],
    lasts: bool,
) -> pd.DataFrame:
    """Every refill, shelter and help place within reach, used or passed and why."""
    places = scene.places
    rows = []
    for row, passing in enumerate(nearby.passing):
        place = passing[0]
        gives = places.gives[place]
        rows.append(
            {
                "kind": places.kind[place],
                "name": places.name[place],
                "osm": places.osm[place],
                "lat": float(places.lat[place]),
                "lon": float(places.lon[place]),
                "along_km": float(nearby.along_m[row]) / 1000.0,
                "off_m": float(nearby.off_m[row]),
                "hours": places.hours[place],
                "arrive": local_time(
                    scene.depart_epoch_s + float(reading.arrive_s[row]), scene.zone
                ).isoformat(),
                "open": reading.open[row],
                "gives": ", ".join(sorted(gives)),
                "needs_treatment": bool(places.needs_treatment[place]),
                "needs_key": bool(places.needs_key[place]),
                "relied_on": not reading.refusal[row],
                "used": row in used,
                "why": f"night halt here: {halts[passing]}"
                if passing in halts
                else _why(gives, reading.refusal[row], used=row in used, lasts=lasts),
                "litres": used.get(row, 0.0),
            }
        )
    return pd.DataFrame(rows, columns=REFILL_COLUMNS)


REFILL_COLUMNS = [
    "kind",
    "name",
    "osm",
    "lat",
    "lon",
    "along_km",
    "off_m",
    "hours",
    "arrive",
    "open",
    "gives",
    "needs_treatment",
    "needs_key",
    "relied_on",
    "used",
    "why",
    "litres",
]


def _why(gives: frozenset[str], refusal: str, *, used: bool, lasts: bool) -> str:
    """One reason for using or passing a place."""
    if used:
        return "stop here: with fewer stops the bottles would run dry"
    if refusal:
        return refusal
    if "water" not in gives:
        return "noted, in case it is needed"
    if lasts:
        return "passed: what is carried lasts to home"
    return "passed: another stop serves better"
