"""Refills, shelters and help near the way: which to rely on, which to stop at, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from simulator.ground.hours import open_at
from simulator.questions.thirst import DRINK_AHEAD_ML, Thirst, clock_s, thirst_of
from simulator.units import percent
from simulator.walk.ledger import local_time
from simulator.walk.manner import level_speed_m_s
from simulator.walk.records import Dosing, Stop

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.route.refills import StopPlan
    from simulator.walk.records import Outcome
    from simulator.walk.stops import Nearby

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
    arrive_s = clock_s(outcome)[nearby.step] if nearby.step.size else np.zeros(0)
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


def choose_refills(
    scene: Scene, nearby: Nearby, reading: Reading, outcome: Outcome, stops: Sequence[Stop]
) -> list[Stop]:
    """Choose where to fill bottles so that the party never runs dry at least total time.

    Parameters
    ----------
    scene : Scene
        Bag and places.
    nearby, reading : Nearby, Reading
        Places within reach and what is known of them.
    outcome : Outcome
        A recorded walk: what is needed up to each place.
    stops : sequence of Stop
        The stops it was walked with.

    Returns
    -------
    list of Stop
        In order along the way.
    """
    thirst = thirst_of(scene, nearby, reading, outcome, stops)
    plan = thirst.plan(reading.relied_on)
    return [_stop(scene, nearby, thirst, plan, row) for row in np.flatnonzero(plan.chosen).tolist()]


def _stop(scene: Scene, nearby: Nearby, thirst: Thirst, plan: StopPlan, row: int) -> Stop:
    """Turn one chosen place into a stop for the engine."""
    place, method = int(nearby.place[row]), int(plan.method[row])
    service_s, dosing = float(scene.places.service_s[place]), Dosing()
    if method >= 0:
        treatment = thirst.kit.treatments[method]
        on = bool(plan.carried_on[row])
        service_s += treatment.carry_s if on else treatment.wait_s
        alone = len(thirst.kit.treatments) == 1
        dosing = Dosing(
            dose_ml=treatment.dose_ml,
            limit_ml=float("inf") if alone else treatment.treats_ml / thirst.walkers,
            contact_s=thirst.kit.contact_s[method] if on else 0.0,
            one_bottle=thirst.kit.one_bottle,
        )
    # Nobody drinks more than is needed up to home.
    left_ml = (thirst.end_need_ml - float(thirst.need_ml[row])) / thirst.walkers
    return Stop(
        step=int(nearby.step[row]),
        off_m=float(nearby.off_m[row]),
        service_s=service_s,
        refill=True,
        treat=method >= 0,
        place=place,
        dosing=dosing,
        ahead_ml=min(DRINK_AHEAD_ML, max(left_ml // AHEAD_STEP_ML - 1.0, 0.0) * AHEAD_STEP_ML),
    )


def refills_table(
    scene: Scene,
    nearby: Nearby,
    reading: Reading,
    *,
    used: dict[int, float],
    halts: dict[int, str],
    lasts: bool,
) -> pd.DataFrame:
    """Every refill, shelter and help place within reach, used or passed and why.

    Parameters
    ----------
    scene : Scene
        Places and event.
    nearby, reading : Nearby, Reading
        Places within reach and what is known of them.
    used : dict of int to float
        Litres taken, by row of ``nearby``.
    halts : dict of int to str
        Why a night is spent at a place, by row of ``places``.
    lasts : bool
        Whether the water carried lasts to home without any stop.

    Returns
    -------
    pandas.DataFrame
        One row a place, in order along the way.
    """
    places = scene.places
    rows = []
    for row, place in enumerate(nearby.place.tolist()):
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
                "why": f"night halt here: {halts[place]}"
                if place in halts
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
