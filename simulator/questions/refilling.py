"""Refills, shelters and help near the way: which to rely on, which to stop at, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from simulator.ground.hours import open_at
from simulator.ground.kinds import PLACE_RULES
from simulator.route.refills import Treatment, plan_stops
from simulator.walk.ledger import local_time
from simulator.walk.manner import level_speed_m_s
from simulator.walk.records import Stop, Total

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.walk.records import Outcome
    from simulator.walk.stops import Nearby

RELIED_ON_SHARE = 0.5
"""A place is relied on when at least this share of its kind is assumed to work in the event."""

TREATMENT_WAIT_S = 1800.0
"""Contact time of tablets, waited at the place [s]; 30 min, see body.water and the label."""


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
        Way there and back, queue and treatment [s].
    """

    arrive_s: NDArray[np.float64]
    open: tuple[str, ...]
    refusal: tuple[str, ...]
    stop_s: NDArray[np.float64]

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
    arrive_s = _clock(outcome)[nearby.step] if nearby.step.size else np.zeros(0)
    opened: list[str] = []
    refusal: list[str] = []
    stop_s = np.zeros(nearby.place.size)
    speed = level_speed_m_s(scene.manner) * float(scene.walkers.pace_factor.min())
    for row, place in enumerate(nearby.place.tolist()):
        rule = PLACE_RULES[scene.places.kind[place]]
        when = local_time(scene.depart_epoch_s + float(arrive_s[row]), scene.zone)
        state = open_at(
            scene.places.hours[place],
            when,
            lat=float(scene.places.lat[place]),
            lon=float(scene.places.lon[place]),
        )
        opened.append({True: "yes", False: "no", None: "unknown"}[state])
        refusal.append(_refusal(scene, place, state))
        wait = TREATMENT_WAIT_S if scene.places.needs_treatment[place] else 0.0
        stop_s[row] = 2.0 * nearby.off_m[row] / speed + rule.service_s + wait
    return Reading(arrive_s=arrive_s, open=tuple(opened), refusal=tuple(refusal), stop_s=stop_s)


def _refusal(scene: Scene, place: int, state: bool | None) -> str:
    """Why a place is not relied on."""
    places, event = scene.places, scene.plan.event.kind
    rule = PLACE_RULES[places.kind[place]]
    share = rule.works[event]
    if state is False:
        return "closed on arrival"
    if state is None and not rule.always_open:
        return "opening hours unknown, so not relied on"
    if places.needs_key[place] and not scene.carried.has_key:
        return "needs a spigot key and leave of the owner; no key in the bag"
    if places.needs_treatment[place] and scene.carried.treats_ml <= 0.0:
        return "untreated water, and nothing in the bag treats it"
    if share < RELIED_ON_SHARE:
        return f"may not work in this event (assumed {share:.0%})"
    return ""


def choose_refills(scene: Scene, nearby: Nearby, reading: Reading, outcome: Outcome) -> list[Stop]:
    """Choose where to fill bottles so that the party never runs dry at least total time.

    Parameters
    ----------
    scene : Scene
        Bag and places.
    nearby, reading : Nearby, Reading
        Places within reach and what is known of them.
    outcome : Outcome
        A recorded walk: what is needed up to each place.

    Returns
    -------
    list of Stop
        In order along the way.
    """
    gives = np.array(
        ["water" in scene.places.gives[place] for place in nearby.place.tolist()], dtype=bool
    )
    usable = gives & reading.relied_on
    walkers = scene.walkers
    if not usable.any():
        return []
    need = _lost_ml(outcome)[nearby.step]
    treat = scene.places.needs_treatment[nearby.place]
    plan = plan_stops(
        need,
        np.where(usable, reading.stop_s, np.inf),
        start_ml=float(walkers.water_ml.sum()),
        capacity_ml=float(walkers.capacity_ml.sum()),
        end_need_ml=float(outcome.totals[Total.LOST_ML].sum()),
        needs_treatment=treat,
        treatments=[Treatment(float(walkers.treats_ml.sum()), wait_s=0.0)],
    )
    stops = []
    for row in np.flatnonzero(plan.chosen).tolist():
        place = int(nearby.place[row])
        rule = PLACE_RULES[scene.places.kind[place]]
        stops.append(
            Stop(
                step=int(nearby.step[row]),
                off_m=float(nearby.off_m[row]),
                service_s=rule.service_s + (TREATMENT_WAIT_S if treat[row] else 0.0),
                refill=True,
                treat=bool(treat[row]),
                place=place,
            )
        )
    return stops


def _clock(outcome: Outcome) -> NDArray[np.float64]:
    """Clock at each step's start, the party's."""
    if outcome.step_clock_s is None:
        message = "places are read against a recorded walk; simulate with record=True"
        raise ValueError(message)
    return outcome.step_clock_s[:, 0]


def _lost_ml(outcome: Outcome) -> NDArray[np.float64]:
    """Water the party has lost up to each step's start [mL]."""
    clock = _clock(outcome)
    if outcome.trace is None:
        message = "needs are read from a recorded walk; simulate with record=True"
        raise ValueError(message)
    totals = outcome.trace.totals
    lost = np.interp(clock, totals[:, Total.CLOCK_S, 0], totals[:, Total.LOST_ML].sum(axis=1))
    return np.maximum.accumulate(lost)


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
