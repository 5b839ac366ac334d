"""Everything a question needs, loaded once: ground, network, closures, sky, walkers, bag."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.bag.items import Carried, Items, carried, read_items
from simulator.body.people import strictest
from simulator.errors import InputError
from simulator.ground.components import find_components
from simulator.ground.extract import Feature, Line, read_extract
from simulator.ground.fetched import Ground, with_ground
from simulator.ground.place_edits import edited, read_edits
from simulator.ground.places import Places, Tagged, attach, places_from
from simulator.ground.snap import Shape, Snap, nearest_point
from simulator.ground.streets import Streets
from simulator.ground.water import open_water
from simulator.plan import Plan, inputs
from simulator.questions.party import age_notes, manner_of, walkers_of
from simulator.route.closed_area import read_area
from simulator.route.closures import Closure, refuse_closed_ends, resolve
from simulator.route.search import Network
from simulator.sky.clock import clock_note, to_epoch_s, zone_name
from simulator.sky.weather import Weather, constant
from simulator.sky.weather_files import read_weather
from simulator.units import Units
from simulator.walk.conditions import Conditions, conditions_over
from simulator.walk.manner import Manner, barred_by_limits

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from simulator.walk.records import Walkers

LONGEST_WALK_H = 24.0 * 6
"""How far ahead sun and weather are laid out [h]."""


@dataclass(frozen=True, slots=True)
class Scene:
    """The plan with all it names, read and made ready.

    Attributes
    ----------
    plan : Plan
        What was asked.
    streets : Streets
        With terrain when the plan names rasters.
    places : Places
        Attached to the streets.
    lines : tuple of Line
        Water, parks and railways for drawing.
    network : Network
        Contracted streets.
    closure : Closure
        What the plan closes, and what it matched.
    closed : (M,) bool
        Segments that may not be used at any hour: closed by the plan or barred by someone's limits.
    unknown_height : (M,) bool
        Segments that the plan's rasters do not cover, where that closes them too: no slope can be
        promised to someone with a limit of slope, and no dry foot below a flood level.
    ends : tuple of Snap
        Start, vias and home on the streets.
    zone : str
        IANA zone of the start.
    depart_epoch_s : float
        Departure, seconds since 1970-01-01 UTC.
    conditions : Conditions
        Sun and weather from departure on.
    manner : Manner
        How the party walks.
    walkers : Walkers
        One party.
    items : Items or None
        The bag's list, if the plan names one.
    carried : Carried
        What the list adds up to.
    fingerprints : dict
        SHA-256 of each input file by name.
    notes : tuple of str
        What was noticed while loading: clock, weather, snapping.
    """

    plan: Plan
    streets: Streets
    places: Places
    lines: tuple[Line, ...]
    network: Network
    closure: Closure
    closed: NDArray[np.bool_]
    unknown_height: NDArray[np.bool_]
    ends: tuple[Snap, ...]
    zone: str
    depart_epoch_s: float
    conditions: Conditions
    manner: Manner
    walkers: Walkers
    items: Items | None
    carried: Carried
    fingerprints: dict[str, str]
    notes: tuple[str, ...]


def prepare(plan: Plan, *, progress: Callable[[str], None] | None = None) -> Scene:
    """Read every file of a plan and make it ready for any question.

    Parameters
    ----------
    plan : Plan
        What is asked.
    progress : callable, optional
        Told the name of each stage as it begins.

    Returns
    -------
    Scene
        Ground, sky, walkers and bag.

    Raises
    ------
    InputError
        When a file or a value cannot be used; the message says which.
    """
    tell = progress or _silent
    # What is quick to read comes first, so that a slip in it is found at once.
    zone = plan.trip.timezone or zone_name(*plan.trip.start)
    depart_epoch_s = to_epoch_s(plan.trip.depart, zone, where="trip.depart")
    items = None if plan.bag.items is None else read_items(plan.bag.items)
    load = carried(items)
    weather = weather_of(plan, zone)
    ground = with_ground(plan)
    plan = ground.plan
    tell("reading the map")
    streets, features, lines = _read_map(ground)
    if plan.map.elevation:
        tell("reading heights")
        streets = streets.with_heights(plan.map.elevation, smoothing_m=plan.map.smoothing_m)
    tell("placing start, home and refills")
    manner = manner_of(plan)
    closure = close(plan, streets, lines)
    barred = barred_by_limits(streets, manner)
    ends, notes = _snap_ends(plan, streets, barred)
    unknown_height = _unknown_height(plan, streets, manner, ends)
    standing = zip(end_names(plan), ends, strict=True)
    refuse_closed_ends(closure, {name: end.segment for name, end in standing})
    conditions = _conditions(plan, weather, ends, depart_epoch_s)
    return Scene(
        plan=plan,
        streets=streets,
        places=attach(_places(plan, [*features, *open_water(lines, streets)]), streets),
        lines=lines,
        network=Network.of_streets(streets),
        closure=closure,
        closed=closure.mask | barred | unknown_height,
        unknown_height=unknown_height,
        ends=ends,
        zone=zone,
        depart_epoch_s=depart_epoch_s,
        conditions=conditions,
        manner=manner,
        walkers=walkers_of(plan, load),
        items=items,
        carried=load,
        fingerprints=inputs(plan),
        notes=(
            *notes,
            *ground.notes,
            *weather.notes,
            *age_notes(plan),
            *filter(None, [clock_note(plan.trip.depart, zone)]),
        ),
    )


def _places(plan: Plan, features: Sequence[Tagged]) -> Places:
    """Pick the places of the map, with what the plan's own file says of them."""
    places = places_from(features)
    return places if plan.map.places is None else edited(places, read_edits(plan.map.places))


def _unknown_height(
    plan: Plan, streets: Streets, manner: Manner, ends: tuple[Snap, ...]
) -> NDArray[np.bool_]:
    """Mark streets without heights where they are closed for it; no end may stand on one."""
    terrain = streets.terrain
    if terrain is None:
        return np.zeros(streets.way.size, dtype=bool)
    sloped = math.isfinite(strictest(manner.limits).max_slope)
    if terrain.covered.any() and not sloped and plan.event.flood_level_m is None:
        return np.zeros(streets.way.size, dtype=bool)
    unknown = ~terrain.covered
    for name, end in zip(end_names(plan), ends, strict=True):
        if unknown[end.segment]:
            problem = (
                f"{', '.join(terrain.sources)} has no height at {name}; give rasters that "
                "cover the whole way, or leave elevation out to count the ground as flat"
            )
            raise InputError(where_in(plan, "map.elevation"), problem)
    return unknown


def _read_map(ground: Ground) -> tuple[Streets, tuple[Feature, ...], tuple[Line, ...]]:
    """Read an extract, or a graph, which has streets only."""
    if ground.extract.name.lower().endswith(".graphml"):
        return Streets.read(ground.extract), (), ()
    extract = read_extract(ground.extract, area=ground.area)
    return extract.streets, extract.places, extract.lines


def _conditions(
    plan: Plan, weather: Weather, ends: tuple[Snap, ...], depart_epoch_s: float
) -> Conditions:
    """Lay sun and weather out for the middle of the trip."""
    try:
        return conditions_over(
            weather,
            lat=0.5 * (ends[0].lat + ends[-1].lat),
            lon=0.5 * (ends[0].lon + ends[-1].lon),
            start_epoch_s=depart_epoch_s,
            hours=LONGEST_WALK_H,
        )
    except ValueError:
        problem = (
            f"the weather does not cover the departure at {plan.trip.depart:%Y-%m-%d %H:%M}; give "
            "a file that does, or constants"
        )
        raise InputError(str(plan.weather.file or "weather"), problem) from None


def _snap_ends(
    plan: Plan, streets: Streets, barred: NDArray[np.bool_]
) -> tuple[tuple[Snap, ...], tuple[str, ...]]:
    """Put start, vias and home on the nearest streets that can reach each other."""
    usable = (streets.open_forward | streets.open_backward) & ~barred
    pieces = find_components(
        streets.tail[usable], streets.head[usable], streets.length_m[usable], nodes=streets.lon.size
    ).label
    at = (plan.trip.start, *plan.trip.via, plan.trip.home)
    nearest = [
        _snap(plan, streets, name, place, usable)
        for name, place in zip(end_names(plan), at, strict=True)
    ]
    label = {int(pieces[streets.tail[snap.segment]]) for snap in nearest}
    if len(label) == 1:
        return tuple(nearest), ()
    best: list[Snap] | None = None
    for piece in sorted(label | {0}):
        inside = usable & (pieces[streets.tail] == piece)
        try:
            together = [
                _snap(plan, streets, name, place, inside)
                for name, place in zip(end_names(plan), at, strict=True)
            ]
        except InputError:
            continue
        if best is None or _far(together) < _far(best):
            best = together
    if best is None:
        return tuple(nearest), ()  # the search will say how far each side reaches
    moved = [
        f"{name} was moved to a street {Units(plan.units).near(snap.distance_m)} away, since the "
        "nearest one does not join up with the others."
        for name, snap, first in zip(end_names(plan), best, nearest, strict=True)
        if snap != first
    ]
    return tuple(best), tuple(moved)


def _snap(
    plan: Plan,
    streets: Streets,
    name: str,
    place: tuple[float, float],
    allowed: NDArray[np.bool_],
) -> Snap:
    """Snap one end; the refusal names its key."""
    try:
        return nearest_point(
            Shape(streets.lon, streets.lat, streets.tail, streets.head, streets.attribution),
            *place,
            limit_m=plan.choices.snap_limit_m,
            allowed=allowed,
        )
    except InputError as fault:
        msg = f"{plan.source or 'plan'}: {name}"
        raise InputError(msg, fault.problem) from None


def _far(snaps: list[Snap]) -> float:
    """How far the ends lie from their streets, together [m]."""
    return sum(snap.distance_m for snap in snaps)


def where_in(plan: Plan, key: str) -> str:
    """Name a key of the plan for a message.

    Parameters
    ----------
    plan : Plan
        What is asked.
    key : str
        Table and key, e.g. ``map.elevation``.

    Returns
    -------
    str
        File and key.
    """
    return f"{plan.source or 'plan'}: {key}"


def end_names(plan: Plan) -> tuple[str, ...]:
    """Keys of start, vias and home in the plan, in walking order.

    Parameters
    ----------
    plan : Plan
        What is asked.

    Returns
    -------
    tuple of str
        ``trip.start``, the vias, ``trip.home``.
    """
    vias = (f"trip.via[{number}]" for number in range(1, len(plan.trip.via) + 1))
    return ("trip.start", *vias, "trip.home")


def close(plan: Plan, streets: Streets, lines: Sequence[Line] = ()) -> Closure:
    """Turn the plan's closures into masks.

    Parameters
    ----------
    plan : Plan
        What is asked.
    streets : Streets
        The network, with terrain when a flood level is asked for.
    lines : sequence of Line
        Water and railways of the map, by which nameless bridges are described.

    Returns
    -------
    Closure
        What is closed, and what it matched.
    """
    event = plan.event
    return resolve(
        streets,
        closed=event.closed,
        area=None if event.closed_area is None else read_area(event.closed_area),
        flood_level_m=event.flood_level_m,
        lines=lines,
        units=Units(plan.units),
    )


def weather_of(plan: Plan, zone: str) -> Weather:
    """Give the plan's weather, from constants or from the file it names.

    Parameters
    ----------
    plan : Plan
        What is asked.
    zone : str
        IANA zone of local times in the file.

    Returns
    -------
    Weather
        For any instant it covers.
    """
    asked = plan.weather
    if asked.file is None:
        return constant(
            air_c=_given(asked.air_c),
            humidity_pct=_given(asked.humidity_pct),
            wind_m_s=_given(asked.wind_m_s),
            cloud_pct=_given(asked.cloud_pct),
            rain_mm_h=_given(asked.rain_mm_h),
        )
    return read_weather(asked.file, zone, month=asked.month)


def _given(value: float | None) -> float:
    """Give a constant that the plan's own check has required."""
    if value is None:
        msg = "weather"
        raise InputError(msg, "a constant is missing; give all five, or a file")
    return value


def _silent(stage: str) -> None:
    """Say nothing."""
