"""Everything a question needs, loaded once: ground, network, closures, sky, walkers, bag."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.bag.items import Carried, Items, carried, read_items
from simulator.body import pace
from simulator.body.effort import (
    CHILD_BELOW_Y,
    ML_O2_MIN_PER_W,
    OLDEST_BACKED_Y,
    capacity_w,
    is_frail,
    pace_by_age,
)
from simulator.body.pace import strictest
from simulator.errors import InputError
from simulator.fetch.sources import Ground, with_ground
from simulator.ground.osm import HOLE, Feature, Line, read_extract
from simulator.ground.places import (
    Places,
    Tagged,
    attach,
    edited,
    open_water,
    places_from,
    read_edits,
)
from simulator.ground.snap import Shape, Snap, nearest_point
from simulator.ground.streets import Streets, find_components
from simulator.home.own_pace import own_pace_notes, own_paces, steepest_response
from simulator.plan import Plan, inputs
from simulator.route.closures import Closure, read_area, refuse_closed_ends, resolve
from simulator.route.crossings import Crossings, group_crossings
from simulator.route.search import Network
from simulator.sky.clock import clock_note, to_epoch_s, zone_name
from simulator.sky.weather import Weather, constant
from simulator.sky.weather_files import read_weather
from simulator.units import Units
from simulator.walk.conditions import Conditions, conditions_over
from simulator.walk.party import SWEAT_POSITIONS, Manner, barred_by_limits, slope_times_s
from simulator.walk.records import Walkers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from simulator.body.own_pace import OwnPace
    from simulator.plan.tables import Walker

LIGHTS_OUT = frozenset({"power failure"})
"""Events that put street lights out."""

LEAST_PACE, MOST_PACE = 0.3, 2.0
"""Range of a walker's pace over the model's, as of the plan's ``pace_factor``."""


def manner_of(plan: Plan) -> Manner:
    """Say how the plan's party walks."""
    limits = tuple(dict.fromkeys(limit for walker in plan.walker for limit in walker.limits))
    asked = plan.pace
    return Manner(
        model=asked.model,
        surface=asked.surface,
        stairs=asked.stairs,
        load=asked.load,
        dark=asked.dark,
        fatigue=asked.fatigue,
        dark_unlit_factor=asked.dark_unlit_factor,
        dark_lit_factor=asked.dark_lit_factor,
        fatigue_per_h=asked.fatigue_per_h,
        limits=limits,
        street_lights=plan.event.kind not in LIGHTS_OUT,
        rest_min_per_h=plan.choices.rest_min_per_h,
        energy_model=plan.choices.energy_model,
        sweat=SWEAT_POSITIONS[plan.choices.sweat],
        effort=asked.effort,
    )


def walkers_of(plan: Plan, load: Carried, *, own: Sequence[OwnPace | None] = ()) -> Walkers:
    """Put the plan's walkers into arrays; what the bag holds is shared out by body mass.

    Parameters
    ----------
    plan : Plan
        What is asked.
    load : Carried
        What the bag adds up to.
    own : sequence of OwnPace or None, optional
        Own paces from recorded walks, for each walker; needed where the plan names such walks.

    Returns
    -------
    Walkers
        One party; ``age_notes`` says what stands in for an age beyond the published ones.

    Raises
    ------
    InputError
        When a timed walk gives a pace that is no walk.
    """
    people = plan.walker
    mass = np.array([walker.mass_kg for walker in people])
    share = mass / mass.sum()
    fitted = own or [None] * len(people)
    own_pace = np.array([own_pace_factor(plan, row, one) for row, one in enumerate(fitted)])
    return Walkers(
        mass_kg=mass,
        height_m=np.array([walker.height_m for walker in people]),
        age_y=np.array([walker.age_y for walker in people]),
        male=np.array([walker.sex == "male" for walker in people]),
        pace_factor=own_pace,
        clothing_clo=np.array([walker.clothing_clo for walker in people]),
        bag_kg=share * load.mass_kg,
        water_ml=share * load.water_ml,
        capacity_ml=share * load.water_capacity_ml,
        treats_ml=share * load.treats_ml,
        food_kcal=share * load.energy_kcal,
        food_kg=share * load.food_mass_kg,
        light_s=light_shared_s(load, mass.size, plan.choices.people_per_lamp),
        party=np.zeros(mass.size, dtype=np.int64),
        windproof=np.array(
            [
                float(row < load.windproof or bool(walker.windproof))
                if row < load.windproof or walker.windproof is not None
                else np.nan
                for row, walker in enumerate(people)
            ]
        ),
        capacity_factor=np.array(
            [
                fitness_of(
                    one.capacity_ml_kg_min, mass_kg=one.mass_kg, age_y=one.age_y, sex=one.sex
                )
                for one in people
            ]
        ),
    )


def light_shared_s(load: Carried, members: int, people_per_lamp: int) -> NDArray[np.float64]:
    """Give the light that each member has, by lamps that must shine at the same time."""
    lamps = max(load.lamps, 1)
    shining = min(lamps, -(-members // people_per_lamp))
    reached = np.arange(members) < shining * people_per_lamp
    return np.where(reached, 3600.0 * load.light_h / shining, 0.0)


def fitness_of(
    capacity_ml_kg_min: float | None, *, mass_kg: float, age_y: float, sex: str
) -> float:
    """Give the own aerobic capacity over the mean of age, sex and mass.

    Parameters
    ----------
    capacity_ml_kg_min : float or None
        As measured [mL/kg/min]; None where not known.
    mass_kg, age_y : float
        Body mass [kg], age [years].
    sex : str
        "male" or "female".

    Returns
    -------
    float
        1 where not known.
    """
    if capacity_ml_kg_min is None:
        return 1.0
    mean_w = float(capacity_w(mass_kg, age_y, sex == "male"))
    return capacity_ml_kg_min * mass_kg / ML_O2_MIN_PER_W / mean_w


def own_pace_factor(plan: Plan, row: int, fitted: OwnPace | None = None) -> float:
    """Give one walker's pace over the model's."""
    walker = plan.walker[row]
    factor = walker.pace_factor
    if walker.timed_walk is not None:
        if not isinstance(walker.timed_walk, tuple):
            if fitted is None:
                message = "a recorded walk is fitted before its walker is put into arrays"
                raise ValueError(message)
            timed = fitted.factor
        else:
            timed = timed_pace_factor(walker.timed_walk, model=plan.pace.model)
        if not LEAST_PACE <= timed <= MOST_PACE:
            problem = (
                f"found a pace of {timed:.2f} times the model's; allowed: {LEAST_PACE:g} to "
                f"{MOST_PACE:g}; write kilometres, minutes, metres climbed, metres descended, or "
                "name another recorded walk"
            )
            where = f"{plan.source or 'plan'}: {plan.walker_key(row, 'timed_walk')}"
            raise InputError(where, problem)
        factor *= timed
    elif walker.level_km_h is not None:
        factor *= level_share(walker.level_km_h, model=plan.pace.model)
    return factor * age_sex_share(plan, row)


def level_share(level_km_h: float, *, model: str) -> float:
    """Give an own speed on the level over a model's.

    Parameters
    ----------
    level_km_h : float
        Own speed [km/h].
    model : str
        Key of ``simulator.body.pace.SPEEDS``.

    Returns
    -------
    float
        Share.
    """
    return level_km_h / 3.6 / float(pace.SPEEDS[model](0.0))


def age_sex_share(plan: Plan, row: int) -> float:
    """Give the share that age and sex have in a walker's own pace."""
    walker = plan.walker[row]
    # A walk of one's own shows one's age already.
    own = walker.timed_walk is not None or walker.level_km_h is not None
    if not plan.pace.age_sex or own:
        return 1.0
    return float(pace_by_age(walker.age_y, walker.sex == "male"))


def timed_pace_factor(timed_walk: tuple[float, float, float, float], *, model: str) -> float:
    """Give the pace factor that one timed walk shows."""
    length_km, minutes, ascent_m, descent_m = timed_walk
    length_m, change_m = 1000.0 * length_km, ascent_m + descent_m
    if change_m == 0.0:
        return pace.pace_factor_from_timed_walk(length_m, 60.0 * minutes, model=model)
    steepness = change_m / length_m
    parts = [(height_m / steepness, sign) for height_m, sign in ((ascent_m, 1), (descent_m, -1))]
    walked = [(part_m, sign * steepness) for part_m, sign in parts if part_m > 0.0]
    lengths, slopes = (np.array(column) for column in zip(*walked, strict=True))
    times = lengths / length_m * 60.0 * minutes
    return pace.pace_factor_from_timed_walk(lengths, times, slopes, model=model)


def load_share(walkers: Walkers) -> float:
    """Give the heaviest bag as packed over the mass of who carries it."""
    return float((walkers.bag_kg / walkers.mass_kg).max())


def is_beyond_age(age_y: float) -> bool:
    """Say whether an age is outside what the models of the body were made from."""
    return not CHILD_BELOW_Y <= age_y <= OLDEST_BACKED_Y


def beyond_age(plan: Plan) -> list[str]:
    """Name the walkers whose age is outside what the models of the body were made from."""
    return [
        f"{_who(plan, row)} is {walker.age_y:g} years old"
        for row, walker in enumerate(plan.walker)
        if is_beyond_age(walker.age_y)
    ]


def age_cautions(plan: Plan) -> list[str]:
    """Say what to mind with children and old people."""
    return [
        f"AGE: {_who(plan, row)} is {walker.age_y:g}. "
        + (
            "Children tire, chill and overheat sooner and walk slower than the adults the models "
            "were measured on"
            if walker.age_y < CHILD_BELOW_Y
            else "From about 65 on thirst, heat and cold are felt later and falls hurt more than "
            "with the adults the models were measured on"
        )
        + ": time a walk of theirs (timed_walk), plan more rest, ask a doctor when in doubt."
        for row, walker in enumerate(plan.walker)
        if is_frail(walker.age_y)
    ]


def age_notes(plan: Plan) -> list[str]:
    """Say loudly what is used for a walker beyond the published models."""
    return [note for row, walker in enumerate(plan.walker) for note in _age_note(plan, row, walker)]


def _who(plan: Plan, row: int) -> str:
    return f"walker {row + 1}" if len(plan.walker) > 1 else "the walker"


def _age_note(plan: Plan, row: int, walker: Walker) -> Iterator[str]:
    who, age = _who(plan, row), walker.age_y
    if is_beyond_age(age):
        used = (
            "children's resting energy, drinking and walking speed are published, water and warmth "
            "are an adult's by body mass and surface"
            if age < CHILD_BELOW_Y
            else "what is published for 78 years stands in for energy, and the line of capacity by "
            "age is carried on"
        )
        yield f"AGE: {who} is {age:g}; the models were measured on adults: {used}."


LONGEST_WALK_H = 24.0 * 6
"""How far ahead sun and weather are laid out [h]."""


@dataclass(frozen=True)
class KeptGround:
    """The ground of a plan, read: what stays while hour, bag, walkers, ends and closures change.

    Attributes
    ----------
    mark : tuple
        Files it was read from, and how; equal marks mean the same ground.
    streets : Streets
        With terrain when the plan names rasters.
    places : Places
        Attached to the streets.
    lines : tuple of Line
        Water, parks and railways.
    network : Network
        Contracted streets.
    """

    mark: tuple[object, ...]
    streets: Streets
    places: Places
    lines: tuple[Line, ...]
    network: Network

    @cached_property
    def crossings(self) -> Crossings:
        """Physical bridges and fords, put together when first asked for."""
        return group_crossings(self.streets, lines=self.lines)

    @cached_property
    def _slope_times(self) -> dict[tuple[object, ...], tuple[NDArray[np.float64], ...]]:
        """Times by slope of the paces asked for so far."""
        return {}

    def slope_times_s(self, manner: Manner) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Time by slope and stairs alone over every segment each way, once for a pace model [s]."""
        asked = (manner.model, manner.slope_response, manner.stairs)
        if asked not in self._slope_times:
            self._slope_times[asked] = slope_times_s(self.streets, manner)
        forward_s, backward_s = self._slope_times[asked]
        return forward_s, backward_s


@dataclass(frozen=True, slots=True)
class Scene:
    """The plan with all it names, read and made ready.

    Attributes
    ----------
    plan : Plan
        What was asked.
    ground : KeptGround
        Streets, places and network, to prepare the next plan on.
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
    own : tuple of OwnPace or None
        For each walker, the own pace that a recorded walk shows.
    """

    plan: Plan
    ground: KeptGround
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
    own: tuple[OwnPace | None, ...] = ()


def prepare(
    plan: Plan,
    *,
    progress: Callable[[str], None] | None = None,
    kept: KeptGround | None = None,
) -> Scene:
    """Read every file of a plan and make it ready for any question.

    Parameters
    ----------
    plan : Plan
        What is asked.
    progress : callable, optional
        Told the name of each stage as it begins.
    kept : KeptGround, optional
        Ground of an earlier plan; taken where it is still the same, to spare the reading.

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
    found = with_ground(plan)
    plan = found.plan
    own = own_paces(plan, plan.map.elevation)
    ground = read_ground(found, kept=kept, progress=tell)
    streets = ground.streets
    tell("placing start, home and refills")
    manner = replace(manner_of(plan), slope_response=steepest_response(own))
    closure = close(plan, ground)
    barred = barred_by_limits(streets, manner)
    ends, notes = _snap_ends(plan, streets, barred, ground.lines)
    unknown_height = _unknown_height(plan, streets, manner, ends)
    standing = zip(end_names(plan), ends, strict=True)
    refuse_closed_ends(closure, {name: end.segment for name, end in standing})
    conditions = _conditions(plan, weather, ends, depart_epoch_s)
    return Scene(
        plan=plan,
        ground=ground,
        streets=streets,
        places=ground.places,
        lines=ground.lines,
        network=ground.network,
        closure=closure,
        closed=closure.mask | barred | unknown_height,
        unknown_height=unknown_height,
        ends=ends,
        zone=zone,
        depart_epoch_s=depart_epoch_s,
        conditions=conditions,
        manner=manner,
        walkers=walkers_of(plan, load, own=own),
        items=items,
        carried=load,
        fingerprints=inputs(plan),
        notes=(
            *notes,
            *found.notes,
            *weather.notes,
            *age_notes(plan),
            *own_pace_notes(plan, own),
            *(() if items is None else items.notes),
            *filter(None, [clock_note(plan.trip.depart, zone)]),
        ),
        own=own,
    )


def read_ground(
    found: Ground,
    *,
    kept: KeptGround | None = None,
    progress: Callable[[str], None] | None = None,
) -> KeptGround:
    """Read map, heights and places, or take those that are kept if they are the same.

    Parameters
    ----------
    found : Ground
        Files of a plan's ground.
    kept : KeptGround, optional
        Ground of an earlier plan.
    progress : callable, optional
        Told the name of each stage as it begins.

    Returns
    -------
    KeptGround
        `kept` itself where files and manner of reading are the same.

    Raises
    ------
    InputError
        When a file cannot be used; the message says which.
    """
    tell = progress or _silent
    asked = found.plan.map
    named = [found.extract, *asked.elevation, *filter(None, [asked.places])]
    mark = (found.area, asked.smoothing_m, asked.places is None, *map(_file_mark, named))
    if kept is not None and kept.mark == mark:
        return kept
    tell("reading the map")
    streets, features, lines = _read_map(found)
    if asked.elevation:
        tell("reading heights")
        streets = streets.with_heights(asked.elevation, smoothing_m=asked.smoothing_m)
    return KeptGround(
        mark=mark,
        streets=streets,
        places=attach(_places(found.plan, [*features, *open_water(lines, streets)]), streets),
        lines=lines,
        network=Network.of_streets(streets),
    )


def _file_mark(path: Path) -> tuple[object, ...]:
    """Tell a file from another, and from itself after a change."""
    if not path.is_file():
        return (path, None)  # whoever reads it says what is wrong
    state = path.stat()
    return (path, state.st_mtime_ns, state.st_size)


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
    return Streets.of(extract.streets), extract.places, extract.lines


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


MOVED = "MOVED:"
"""Beginning of a note on an end that lies elsewhere than the plan says; capitals make it loud."""

FAR_END_M = 100.0
"""An end this far from its street is told loudly [m]; an assumption: no house stands so far off."""


def _snap_ends(
    plan: Plan, streets: Streets, barred: NDArray[np.bool_], lines: Sequence[Line]
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
        return tuple(nearest), _moved(plan, at, nearest, nearest, lines)
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
    return tuple(best), _moved(plan, at, best, nearest, lines)


def _moved(
    plan: Plan,
    at: Sequence[tuple[float, float]],
    ends: Sequence[Snap],
    nearest: Sequence[Snap],
    lines: Sequence[Line],
) -> tuple[str, ...]:
    """Say loudly which ends the way does not reach where the plan puts them, and why."""
    units, notes = Units(plan.units), []
    for name, place, end, first in zip(end_names(plan), at, ends, nearest, strict=True):
        if _in_water(place, lines):
            why = "the place in the plan lies in water"
        elif end != first:
            why = "the nearest street does not join up with the others"
        elif end.distance_m >= FAR_END_M:
            why = "no street that may be walked is nearer"
        else:
            continue
        far = units.near(end.distance_m)
        notes.append(f"{MOVED} {name} to a street {far} away: {why}. Check the coordinates.")
    return tuple(notes)


def _in_water(place: tuple[float, float], lines: Sequence[Line]) -> bool:
    """Whether a place lies inside the outline of some water, and on none of its isles."""
    wet = [
        line
        for line in lines
        if line.tags.get("natural") == "water" or line.tags.get("waterway") == "riverbank"
    ]
    around = [line for line in wet if _encloses(line, place)]
    return bool(around) and not any(HOLE in line.tags for line in around)


def _encloses(line: Line, place: tuple[float, float]) -> bool:
    """Whether a closed outline runs around a place."""
    import shapely

    lat, lon = place
    if line.lon.size < RING_POINTS or line.lon[0] != line.lon[-1] or line.lat[0] != line.lat[-1]:
        return False
    near = line.lon.min() <= lon <= line.lon.max() and line.lat.min() <= lat <= line.lat.max()
    ring = shapely.linearrings(line.lon, line.lat)
    return near and bool(shapely.contains_xy(shapely.polygons(ring), lon, lat))


RING_POINTS = 4
"""Points of the smallest closed outline, the first counted twice."""

AROUND_DEG = 1.0
"""A place this near to the map, read the other way round, was meant the other way round [degrees];
an assumption."""


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
        lat, lon = place
        around = (
            streets.lat.min() - AROUND_DEG <= lon <= streets.lat.max() + AROUND_DEG
            and streets.lon.min() - AROUND_DEG <= lat <= streets.lon.max() + AROUND_DEG
        )
        hint = f"this looks swapped, for the map lies there: write [{lon:g}, {lat:g}]; "
        raise InputError(msg, (hint if around else "") + fault.problem) from None


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
    """Keys of start, vias and home in the plan, in walking order."""
    vias = (f"trip.via[{number}]" for number in range(1, len(plan.trip.via) + 1))
    return ("trip.start", *vias, "trip.home")


def close(plan: Plan, ground: KeptGround) -> Closure:
    """Turn the plan's closures into masks."""
    event = plan.event
    named = any(isinstance(entry, str) for entry in event.closed)
    return resolve(
        ground.streets,
        closed=event.closed,
        area=None if event.closed_area is None else read_area(event.closed_area),
        flood_level_m=event.flood_level_m,
        crossings=ground.crossings if named else None,
        lines=ground.lines,
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
