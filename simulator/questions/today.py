"""On the day: I am here, this is closed, this much is left in the bag."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import InputError, shown
from simulator.home.answer import Walk
from simulator.home.doubts import bounded, weighed
from simulator.home.scene import Scene, prepare
from simulator.home.summary import findings_of
from simulator.home.walk import tabulate, walk_way
from simulator.home.way import find_way
from simulator.plan import Plan
from simulator.plan.values import as_local_time
from simulator.units import HOUR_S

if TYPE_CHECKING:
    from simulator.home.answer import Writer

LEFT_KEYS = ("water_l", "food_kcal", "light_h", "on_foot_h")
"""What can be told on the day, as written."""

MOST_ON_FOOT_H = 72.0
"""Longest time on foot that is believed [h]."""

FROM_OPTION, AT_OPTION, LEFT_OPTION = "--from", "--at", "--left"
"""Where these are written, for messages."""

LEAST_DAY_H = 1.0
"""However long one has been on foot, so much is walked before a night is looked for [h]."""

LATE_FOR_HOME = timedelta(hours=12)
"""Who leaves within this after the hour to be home by is late for it; later it is the next day's;
an assumption."""

LATITUDES, LONGITUDES = 90.0, 180.0
"""Greatest latitude and longitude [degrees]."""


@dataclass(frozen=True, slots=True)
class Left:
    """What is left in the bag; None where the list still holds.

    Attributes
    ----------
    water_l : float or None
        Drinking water [L].
    food_kcal : float or None
        Food [kcal].
    light_h : float or None
        Hours that the lamps still burn [h].
    on_foot_h : float
        Time on foot so far since the last night's rest [h].
    """

    water_l: float | None = None
    food_kcal: float | None = None
    light_h: float | None = None
    on_foot_h: float = 0.0


def read_left(text: str) -> Left:
    """Read what is left, ``water_l=0.4,food_kcal=600``."""
    found: dict[str, float] = {}
    for part in text.split(","):
        key, _, number = (word.strip() for word in part.partition("="))
        if key not in LEFT_KEYS or key in found:
            keys = ", ".join(f"{name}=NUMBER" for name in LEFT_KEYS)
            raise InputError(
                LEFT_OPTION, f"found {shown(part.strip())}; write one or more of {keys}"
            )
        try:
            found[key] = float(number)
        except ValueError:
            found[key] = math.nan
        if not 0.0 <= found[key] < math.inf:
            raise InputError(
                LEFT_OPTION, f"{key}: found {shown(number)}; a number of zero or more is needed"
            )
    if found.get("on_foot_h", 0.0) > MOST_ON_FOOT_H:
        raise InputError(
            LEFT_OPTION,
            f"on_foot_h: found {found['on_foot_h']:g}; at most {MOST_ON_FOOT_H:g} hours since the "
            "last night's rest can be told",
        )
    return Left(**found)


def read_here(text: str) -> tuple[float, float]:
    """Read a place, ``46.01,-30.08``."""
    parts = text.split(",")
    try:
        lat, lon = (float(part) for part in parts)
    except ValueError:
        raise InputError(FROM_OPTION, f"found {shown(text)}; write LAT,LON in degrees") from None
    if not (abs(lat) <= LATITUDES and abs(lon) <= LONGITUDES):
        raise InputError(
            FROM_OPTION,
            f"found latitude {lat:g} and longitude {lon:g}; latitude goes first, -90 to 90",
        )
    return lat, lon


def read_time(text: str) -> datetime:
    """Read a local time, ``2026-05-04T17:20``."""
    try:
        return as_local_time(text)
    except ValueError as fault:
        raise InputError(AT_OPTION, str(fault)) from None


def replan(
    plan: Plan,
    *,
    here: tuple[float, float] | None = None,
    closed: Sequence[str | int] = (),
    depart: datetime | None = None,
) -> Plan:
    """Change a plan to what is true now; everything else stays as planned."""
    trip = {
        **({} if here is None else {"start": here}),
        **({} if depart is None else {"depart": depart, "home_by": _home_by(plan, depart)}),
    }
    event = plan.event.model_copy(update={"closed": (*plan.event.closed, *closed)})
    return plan.model_copy(update={"trip": plan.trip.model_copy(update=trip), "event": event})


def _home_by(plan: Plan, depart: datetime) -> datetime | time | None:
    """Keep the planned hour to be home by, however late one leaves for it that day."""
    trip = plan.trip
    until = trip.home_until
    if until is None or not trip.depart <= depart < until + LATE_FOR_HOME:
        return trip.home_by
    return until


def with_left(scene: Scene, left: Left) -> Scene:
    """Put into the bag what is left, and take its weight out."""
    load, walkers = scene.carried, scene.walkers
    water_ml = load.water_ml if left.water_l is None else 1000.0 * left.water_l
    if water_ml > max(load.water_capacity_ml, load.water_ml):
        raise InputError(
            LEFT_OPTION,
            f"water_l: found {water_ml / 1000.0:g}; the containers of the bag list hold "
            f"{load.water_capacity_ml / 1000.0:g} L",
        )
    food_kcal = load.energy_kcal if left.food_kcal is None else left.food_kcal
    eaten = 1.0 - food_kcal / load.energy_kcal if load.energy_kcal > 0.0 else 0.0
    food_kg = load.food_mass_kg * (1.0 - eaten)
    # A litre of water is a kilogram; eaten food leaves with its packing.
    lighter_kg = (load.water_ml - water_ml) / 1000.0 + load.food_mass_kg - food_kg
    share = walkers.mass_kg / walkers.mass_kg.sum()
    light_h = load.light_h if left.light_h is None else left.light_h
    choices = scene.plan.choices
    day_h = max(choices.longest_day_h - left.on_foot_h, LEAST_DAY_H)
    return replace(
        scene,
        # Who has been on foot for hours is tired, and the longest day ends the sooner.
        plan=scene.plan.model_copy(
            update={"choices": choices.model_copy(update={"longest_day_h": day_h})}
        ),
        carried=replace(
            load,
            light_h=light_h,
            water_ml=water_ml,
            energy_kcal=food_kcal,
            food_mass_kg=food_kg,
            mass_kg=max(load.mass_kg - lighter_kg, 0.0),
        ),
        walkers=replace(
            walkers,
            water_ml=share * water_ml,
            food_kcal=share * food_kcal,
            food_kg=share * food_kg,
            light_s=np.full(walkers.count, HOUR_S * light_h),
            afoot_s=np.full(walkers.count, HOUR_S * left.on_foot_h),
            bag_kg=np.maximum(walkers.bag_kg - share * lighter_kg, 0.0),
        ),
    )


def asked_today(
    plan: Plan,
    here: str | None,
    at: str | None,
    closed: Sequence[str],
    left: str | None,
) -> tuple[Plan, Callable[..., Walk]]:
    """Read what is asked on the day, as written on the command line.

    Parameters
    ----------
    plan : Plan
        As made beforehand.
    here, at, left : str or None
        Place, local time and what is left; None where the plan still holds.
    closed : sequence of str
        What is closed besides.

    Returns
    -------
    tuple of Plan and callable
        The plan as it is now, and what walks it, to be called as ``walk_home`` is.

    Raises
    ------
    InputError
        Something cannot be read.
    """
    changed = replan(
        plan,
        here=None if here is None else read_here(here),
        closed=closed,
        depart=None if at is None else read_time(at),
    )
    bag = Left() if left is None else read_left(left)
    return changed, partial(walk_on, left=bag)


def walk_on(
    plan: Plan,
    *,
    left: Left,
    progress: Callable[[str], None] | None = None,
    writer: Writer | None = None,
) -> Walk:
    """Walk home from where one is, with what is left."""
    tell = progress or (lambda _stage: None)
    scene = with_left(prepare(plan, progress=tell), left)
    tell("finding the way")
    way = find_way(scene)
    tell("walking it hour by hour")
    walked = walk_way(scene, way)
    walk = tabulate(scene, walked, writer=writer)
    findings = findings_of(scene, walked)
    facts = weighed(scene, walked, walk.facts, findings=findings)
    facts = bounded(scene, walked, facts, findings=findings, rewalk=walk_way)
    return replace(walk, facts=facts)
