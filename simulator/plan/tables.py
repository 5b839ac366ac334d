"""The tables of a plan: map, walkers, bag, weather, event, choices, pace."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, time, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal, NamedTuple, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BeforeValidator, Field, field_validator, model_validator

from simulator.errors import InputError, address_fault, shown
from simulator.files import parse_toml, read_text, write_text
from simulator.plan.values import (
    EXTRACT_SUFFIXES,
    LONGEST_TRIP_KM,
    FilePath,
    Number,
    PlanTable,
    Point,
    Switch,
    Text,
    TimedWalk,
    Whole,
    as_closed,
    as_local_time,
    as_point,
    as_time_or_day,
    as_tuple,
    described,
    refuse_time_that_does_not_exist,
    straight_km,
    zone_name_at,
)

LATEST_HOME_H = 72.0
"""How long after departure one may ask to be home [h]; an assumption: three days, more than any
walk home takes that this is made for."""


class Trip(PlanTable):
    """From where to where, and when."""

    start: Annotated[Point, described("where the walk begins, latitude first", unit="degrees")]
    home: Annotated[Point, described("where it ends, latitude first", unit="degrees")]
    via: Annotated[
        tuple[Point, ...],
        described("places to pass on the way, in order, e.g. a school", unit="degrees"),
    ] = ()
    depart: Annotated[
        datetime,
        BeforeValidator(as_local_time),
        described("clock time at the start, e.g. 2026-05-04T16:30:00; no Z, no offset"),
    ]
    home_by: Annotated[
        datetime | time | None,
        BeforeValidator(as_time_or_day),
        described(
            "clock time by which to be home, as 21:00:00 for the first such hour after departure, "
            "or with its date",
            example="21:00:00",
        ),
    ] = None
    timezone: Annotated[
        Text | None,
        described(
            "IANA time zone of the start; looked up from the map when left out",
            example='"Europe/Paris"',
        ),
    ] = None

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, name: str | None) -> str | None:
        if name is None:
            return None
        try:
            ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            msg = f"found {shown(name)}; an IANA name is needed, e.g. 'Europe/Paris'"
            raise ValueError(msg) from None
        return name

    @model_validator(mode="after")
    def _a_walk_that_can_be(self) -> Self:
        places = (self.start, *self.via, self.home)
        length = sum(straight_km(a, b) for a, b in pairwise(places))
        if length > LONGEST_TRIP_KM:
            msg = (
                f"found {length:.0f} km in straight lines from start to home; allowed: up to "
                f"{LONGEST_TRIP_KM:.0f} km; check that every place is [latitude, longitude]"
            )
            raise ValueError(msg)
        if len(set(places)) == 1:
            msg = "found start and home at the same place; give another home, or a via"
            raise ValueError(msg)
        refuse_time_that_does_not_exist(self.depart, self.zone)
        return self

    @model_validator(mode="after")
    def _home_after_departure(self) -> Self:
        until = self.home_until
        if until is None:
            return self
        refuse_time_that_does_not_exist(until, self.zone)
        latest = self.depart + timedelta(hours=LATEST_HOME_H)
        if not self.depart < until <= latest:
            msg = (
                f"found home_by {until.isoformat()} with departure {self.depart.isoformat()}; "
                f"allowed: after departure, at most {LATEST_HOME_H:g} hours later"
            )
            raise ValueError(msg)
        return self

    @property
    def home_until(self) -> datetime | None:
        """Local date and time by which to be home; None when not asked."""
        if not isinstance(self.home_by, time):
            return self.home_by
        until = datetime.combine(self.depart.date(), self.home_by)
        return until if until > self.depart else until + timedelta(days=1)

    @property
    def zone(self) -> ZoneInfo:
        """Time zone of the start, as given or looked up."""
        return ZoneInfo(self.timezone or zone_name_at(*self.start))

    @property
    def departs(self) -> datetime:
        """Departure with its time zone."""
        return self.depart.replace(tzinfo=self.zone)


NO_HEIGHTS = "none"
"""In place of a server of heights: none are fetched."""


class Fetch(PlanTable):
    """What ``walkhome fetch`` brings into the cache, and from where."""

    longest_way: Annotated[
        Number,
        described(
            "ways up to this many times the straight line, of each leg, are on the map",
            low=1.1,
            high=4,
            why="less leaves no detour, more fetches a country",
        ),
    ] = 1.5
    margin_km: Annotated[
        Number,
        described("least room around start, vias and home", unit="km", low=0.5, high=50),
    ] = 2.0
    streets_from: Annotated[
        Text | None,
        described(
            "server that answers Overpass questions; a public one when left out",
            example='"https://maps.example.org/api/interpreter"',
        ),
    ] = None
    heights_from: Annotated[
        Text | None,
        described(
            'server with tiles laid out as the Copernicus model of 30 m; "none" for no heights; a '
            "public one when left out",
            example='"https://heights.example.org/tiles"',
        ),
    ] = None
    places_from: Annotated[
        Text | None,
        described(
            "geocoder for places written by name; a public one when left out",
            example='"https://places.example.org"',
        ),
    ] = None
    weather_from: Annotated[
        Text | None,
        described(
            "where to get the typical year that weather.file names, when it is missing",
            example='"https://weather.example.org/{lat:.2f}/{lon:.2f}/year.epw"',
        ),
    ] = None

    @field_validator("streets_from", "heights_from", "places_from")
    @classmethod
    def _an_address(cls, address: str | None) -> str | None:
        problem = "" if address in {None, NO_HEIGHTS} else address_fault(str(address))
        if problem:
            raise ValueError(problem)
        return address


class NamedPlace(NamedTuple):
    """A place that a plan names in words.

    Attributes
    ----------
    key : str
        Where it stands, e.g. ``trip.start``.
    name : str
        As written.
    """

    key: str
    name: str


def names_beside(source: Path) -> Path:
    """Say which file holds the places of a plan that stand there by name.

    Parameters
    ----------
    source : pathlib.Path
        The plan's file.

    Returns
    -------
    pathlib.Path
        File beside it.
    """
    return source.with_suffix(".names.toml")


def read_names(source: Path) -> dict[str, tuple[float, float]]:
    """Read the places that were looked up for a plan.

    Parameters
    ----------
    source : pathlib.Path
        The plan.

    Returns
    -------
    dict of str to (float, float)
        Name to latitude and longitude [degrees]; empty without the file.

    Raises
    ------
    InputError
        When the file is not as ``walkhome fetch`` writes it.
    """
    path = names_beside(source)
    if not path.exists():
        return {}
    text = read_text(path, what="a list of looked-up places")
    try:
        return {name: as_point(row["at"]) for name, row in parse_toml(text).items()}
    except (ValueError, KeyError, TypeError) as fault:
        cause = "a place lacks `at`" if isinstance(fault, KeyError) else str(fault)
        problem = f"{cause}; correct it, or delete the file and run walkhome fetch again"
        raise InputError(str(path), problem) from None


def write_names(
    source: Path, rows: Sequence[tuple[str, float, float, str]], *, credit: str
) -> Path:
    """Add places to those looked up for a plan.

    Parameters
    ----------
    source : pathlib.Path
        The plan.
    rows : sequence of (str, float, float, str)
        Name, latitude and longitude [degrees], and what the geocoder calls it.
    credit : str
        Whose data the places are, and when they were asked for.

    Returns
    -------
    pathlib.Path
        The file written.
    """
    path = names_beside(source)
    known = read_names(source)
    old = parse_toml(read_text(path, what="a list of looked-up places")) if known else {}
    table = {name: (*known[name], str(old[name].get("found", ""))) for name in known}
    table |= {name: (lat, lon, found) for name, lat, lon, found in rows}
    lines = [
        f"# Places that {source.name} has by name, looked up by walkhome fetch. Correct `at`,",
        "# [latitude, longitude], where it is wrong. Delete a place to have it looked up again.",
        f"# {credit}",
    ]
    for name, (lat, lon, found) in table.items():
        # JSON strings are TOML strings, except for one control character that neither prints.
        lines += ["", f"[{_quoted(name)}]", f"at = [{lat:.7f}, {lon:.7f}]"]
        lines.append(f"found = {_quoted(found)}")
    write_text(path, "\n".join(lines) + "\n")
    return path


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def places_by_name(tables: Mapping[str, Any]) -> Iterator[NamedPlace]:
    """Go through the places of a plan that are written in words.

    Parameters
    ----------
    tables : mapping
        The plan as read from TOML.

    Yields
    ------
    NamedPlace
        Start, vias and home, as far as they are text.
    """
    trip = tables.get("trip")
    if not isinstance(trip, Mapping):
        return
    via = trip.get("via")
    stops = via if isinstance(via, list) else [via]
    rows = [("trip.start", trip.get("start"))]
    rows += [(f"trip.via[{number}]", place) for number, place in enumerate(stops, start=1)]
    rows.append(("trip.home", trip.get("home")))
    for key, place in rows:
        if isinstance(place, str) and place.strip():
            yield NamedPlace(key, place)


def with_names(
    tables: Mapping[str, Any], names: Mapping[str, tuple[float, float]]
) -> dict[str, Any]:
    """Put places where a plan has names; a name not known stays, and is refused as one."""
    if not any(place.name in names for place in places_by_name(tables)):
        return dict(tables)

    def at(place: object) -> object:
        return list(names[place]) if isinstance(place, str) and place in names else place

    trip = dict(tables["trip"])
    for key in ("start", "home"):
        if key in trip:
            trip[key] = at(trip[key])
    if "via" in trip:
        via = trip["via"]
        trip["via"] = [at(place) for place in via] if isinstance(via, list) else [at(via)]
    return {**tables, "trip": trip}


def read_tables(source: Path) -> dict[str, Any]:
    """Read a plan's tables as they stand, before anything is checked.

    Parameters
    ----------
    source : pathlib.Path
        The plan.

    Returns
    -------
    dict
        Empty when the file is not TOML; reading the plan then says so.
    """
    try:
        return parse_toml(read_text(source, what="a plan in TOML"))
    except tomllib.TOMLDecodeError:
        return {}


def refuse_address(where: str, address: str) -> None:
    """Refuse what is no web address.

    Parameters
    ----------
    where : str
        Key or variable that named it.
    address : str
        What was found.

    Raises
    ------
    InputError
        When it does not begin with http:// or https://, names no server, or holds a password.
    """
    problem = address_fault(address)
    if problem:
        raise InputError(where, problem)


PAIR = 2

MOST_WALKS = 1_000_000
"""More are a slip of the keyboard."""


def as_chances(value: object) -> tuple[tuple[str | int, float], ...]:
    """Read what may be closed, with what chance."""
    pairs: list[tuple[str | int, float]] = []
    for entry in value if isinstance(value, list | tuple) else (value,):
        if not isinstance(entry, list | tuple) or len(entry) != PAIR:
            msg = f'found {shown(entry)}; allowed: pairs, e.g. ["Mill Bridge", 0.1]'
            raise ValueError(msg)
        (name,) = as_closed(entry[0])
        chance = entry[1]
        if isinstance(chance, bool) or not isinstance(chance, int | float) or not 0 <= chance <= 1:
            msg = f"found {shown(chance)} as the chance of {shown(name)}; allowed: 0 to 1"
            raise ValueError(msg)
        pairs.append((name, float(chance)))
    return tuple(pairs)


class Odds(PlanTable):
    """How much everything may differ from the plan; 0 holds a thing still."""

    walks: Annotated[
        Whole, described("how many walks are drawn", low=10, high=MOST_WALKS, why="or a slip")
    ] = 2000
    seed: Annotated[
        Whole, described("starts the random numbers; the same seed, the same walks", low=0)
    ] = 1
    depart_sd_min: Annotated[
        Number,
        described(
            "departure, normal around the plan's (assumed)",
            unit="min",
            low=0,
            high=720,
            why="a day",
        ),
    ] = 20.0
    pace_sd: Annotated[
        Number,
        described(
            "own pace, log-normal around pace_factor; adults of one age and sex differ by about "
            "0.12 (Bohannon 1997, from memory)",
            low=0,
            high=0.5,
        ),
    ] = 0.12
    mass_sd_kg: Annotated[
        Number,
        described("body mass, normal; clothes and scales (assumed)", unit="kg", low=0, high=20),
    ] = 2.0
    tiring_sd: Annotated[
        Number,
        described(
            "fitness: speed lost with the hours, log-normal around fatigue_per_h (assumed)",
            low=0,
            high=1,
        ),
    ] = 0.4
    fit_and_fast: Annotated[
        Number,
        described(
            "how far the fast are also the fit: correlation of pace and fitness (assumed)",
            low=0,
            high=1,
        ),
    ] = 0.5
    injury_chance: Annotated[
        Number,
        described(
            "chance of a blister, strain or the like somewhere on the way (assumed)", low=0, high=1
        ),
    ] = 0.05
    injury_pace: Annotated[
        Number, described("share of pace kept from there on (assumed)", low=0.2, high=1)
    ] = 0.75
    rest_sd: Annotated[
        Number,
        described("rests, log-normal around rest_min_per_h (assumed)", low=0, high=1),
    ] = 0.3
    drink_least: Annotated[
        Number,
        described(
            "share of the water lost that is drunk while there is any, even from this to 1; people "
            "on the move replace about two thirds or more (from memory)",
            low=0.3,
            high=1,
        ),
    ] = 0.7
    sweat_sd: Annotated[
        Number,
        described(
            "own sweat, log-normal around the equation; people differ by a quarter to a third "
            "(from memory)",
            low=0,
            high=1,
        ),
    ] = 0.3
    weather_days: Annotated[
        Whole,
        described(
            "with a typical year: days around the date that may be the day, all alike (assumed)",
            unit="days",
            low=0,
            high=180,
        ),
    ] = 15
    air_sd_c: Annotated[
        Number,
        described(
            "otherwise: error of the air temperature, normal, one for all hours; a day-ahead "
            "forecast misses by about 2 (common practice)",
            unit="°C",
            low=0,
            high=15,
        ),
    ] = 2.0
    humidity_sd_pct: Annotated[
        Number,
        described("error of the relative humidity, normal (assumed)", unit="%", low=0, high=40),
    ] = 8.0
    warm_and_dry: Annotated[
        Number,
        described(
            "how far warmer than forecast is drier: correlation of both errors (assumed)",
            low=0,
            high=1,
        ),
    ] = 0.5
    wind_sd: Annotated[
        Number,
        described("wind, log-normal around the forecast (assumed)", low=0, high=1),
    ] = 0.35
    sun_sd: Annotated[
        Number,
        described("sunlight through the clouds, log-normal (assumed)", low=0, high=1),
    ] = 0.3
    rain_sd: Annotated[
        Number,
        described("rain, log-normal around the forecast (assumed)", low=0, high=2),
    ] = 0.8
    closures: Annotated[
        tuple[tuple[str | int, float], ...],
        BeforeValidator(as_chances),
        described(
            "what may be closed, each for itself: name as on the map or way number, and chance",
            example='[["Mill Bridge", 0.1]]',
        ),
    ] = ()
    bridge_chance: Annotated[
        Number,
        described(
            "chance that a bridge of the way is closed, each for itself, beside closures (assumed)",
            low=0,
            high=1,
        ),
    ] = 0.0
    places: Annotated[
        Switch,
        described("draw whether each place works, by the assumed share of its kind in the event"),
    ] = True
    places_together: Annotated[
        Number,
        described(
            "how far places fail together: correlation of a normal copula (assumed)", low=0, high=1
        ),
    ] = 0.5


class Map(PlanTable):
    """The ground, from files."""

    extract: Annotated[
        FilePath | None,
        described(
            f"OpenStreetMap extract, relative to the plan: {', '.join(EXTRACT_SUFFIXES)}; when "
            "left out, the map that walkhome fetch has brought",
            example='"town.osm.pbf"',
        ),
    ] = None
    elevation: Annotated[
        tuple[FilePath, ...],
        BeforeValidator(as_tuple),
        described(
            "elevation rasters with a coordinate system; when left out those that walkhome fetch "
            "has brought with the map; without any the ground counts as flat"
        ),
    ] = ()
    smoothing_m: Annotated[
        Number,
        described(
            "width of the smoothing of heights (standard deviation), 0 for none",
            unit="m",
            low=0,
            high=500,
            why="more would flatten hills",
        ),
    ] = 30.0

    places: Annotated[
        FilePath | None,
        described(
            "what you know of places better than the map: share working, stop, hours (.toml)",
            example='"places.toml"',
        ),
    ] = None

    @field_validator("extract")
    @classmethod
    def _known_kind(cls, path: Path | None) -> Path | None:
        if path is not None and not path.name.lower().endswith(EXTRACT_SUFFIXES):
            msg = (
                f"found {shown(path.name)}; allowed: a file ending in {' '.join(EXTRACT_SUFFIXES)}"
            )
            raise ValueError(msg)
        return path


class Walker(PlanTable):
    """A person who walks; several make a group, which walks at the pace of its slowest."""

    mass_kg: Annotated[
        Number,
        described(
            "body mass, without bag and clothes",
            unit="kg",
            low=20,
            high=300,
            why="the body models say nothing outside",
        ),
    ]
    height_m: Annotated[
        Number, described("body height", unit="m", low=0.9, high=2.5, why="write metres, e.g. 1.75")
    ]
    age_y: Annotated[
        Number, described("age", unit="years", low=4, high=110, why="a smaller child is carried")
    ]
    sex: Annotated[
        Literal["male", "female"], described("used by the published models only, which know two")
    ]
    pace_factor: Annotated[
        Number,
        described(
            "own pace over the model's, from one timed walk",
            low=0.3,
            high=2.0,
            why="outside it is not walking",
        ),
    ] = 1.0
    level_km_h: Annotated[
        Number | None,
        described(
            "own speed on level ground, kept for an hour or more; scales the model of pace, which "
            "pace_factor then multiplies",
            unit="km/h",
            low=1.5,
            high=9,
            why="outside it is not walking",
            example="4.5",
        ),
    ] = None
    timed_walk: Annotated[
        TimedWalk | None,
        described(
            "one walk of your own: kilometres, minutes without stops, metres climbed, metres "
            "descended; or a recorded track with times (.gpx), from which stops are taken out and "
            "whose heights come from map.elevation; sets the pace, which pace_factor then "
            "multiplies; another day, another load is another pace",
            example="[5.0, 62, 40, 40]",
        ),
    ] = None
    limits: Annotated[
        tuple[Literal["no stairs", "push-chair", "wheels"], ...],
        BeforeValidator(as_tuple),
        described("what binds the choice of way"),
    ] = ()
    windproof: Annotated[
        Switch | None,
        described(
            "whether the outer layer worn keeps the wind out; when left out, clothes of 1.5 clo "
            "and more are taken to have such a coat",
            example="true",
        ),
    ] = None
    capacity_ml_kg_min: Annotated[
        Number | None,
        described(
            "own aerobic capacity (largest oxygen uptake), if measured; else the mean of age, sex "
            "and mass",
            unit="mL/kg/min",
            low=7,
            high=95,
            why="no one lies outside",
            example="42",
        ),
    ] = None
    clothing_clo: Annotated[
        Number,
        described(
            "insulation of the clothes worn; 0.9 is trousers, shirt and jacket",
            unit="clo",
            low=0,
            high=4,
            why="4 clo is polar clothing",
        ),
    ] = 0.9


class Bag(PlanTable):
    """What is carried, and what it may hold and cost."""

    items: Annotated[
        FilePath | None,
        described("list of the items, relative to the plan (.csv)", example='"bag.csv"'),
    ] = None
    capacity_l: Annotated[
        Number | None,
        described(
            "volume the bag holds; unknown when left out", unit="l", low=0.2, high=150, example="5"
        ),
    ] = None
    pockets_l: Annotated[
        tuple[Annotated[Number, Field(gt=0)], ...],
        BeforeValidator(as_tuple),
        described("volumes of its pockets, each part of capacity_l", unit="l"),
    ] = ()
    stored: Annotated[
        Literal["carried", "office", "car"], described("where the bag waits for the day")
    ] = "carried"
    budget: Annotated[
        Number | None,
        described(
            "what the bag may cost in all, in the list's own currency; no limit when left out",
            low=0,
            high=1e9,
            example="150",
        ),
    ] = None
    spend: Annotated[
        Number | None,
        described(
            "new money that may be spent on the bag now, in the list's own currency; no limit of "
            "its own when left out",
            low=0,
            high=1e9,
            example="40",
        ),
    ] = None

    @model_validator(mode="after")
    def _pockets_in_the_bag(self) -> Self:
        inside = sum(self.pockets_l)
        if self.pockets_l and (self.capacity_l is None or inside > self.capacity_l):
            msg = (
                f"found pockets of {inside:g} l in a bag of {self.capacity_l} l; "
                "capacity_l counts the pockets too: give it, at least as large"
            )
            raise ValueError(msg)
        return self


CONSTANTS = ("air_c", "humidity_pct", "wind_m_s", "cloud_pct", "rain_mm_h")
"""Weather keys that are needed together when no file is given."""


class PlanWeather(PlanTable):
    """The weather: five constants, or a file."""

    air_c: Annotated[
        Number | None,
        described(
            "air temperature",
            unit="°C",
            low=-70,
            high=57,
            why="the records of lived-in places",
            example="12",
        ),
    ] = None
    humidity_pct: Annotated[
        Number | None, described("relative humidity", unit="%", low=0, high=100, example="60")
    ] = None
    wind_m_s: Annotated[
        Number | None,
        described(
            "wind, 10 m above open ground",
            unit="m/s",
            low=0,
            high=60,
            why="more is a hurricane",
            example="3",
        ),
    ] = None
    cloud_pct: Annotated[
        Number | None, described("cloud cover", unit="%", low=0, high=100, example="50")
    ] = None
    rain_mm_h: Annotated[
        Number | None,
        described("rain", unit="mm/h", low=0, high=300, why="a record cloudburst", example="0"),
    ] = None
    file: Annotated[
        FilePath | None,
        described(
            "hourly .csv, or a typical year (.epw, or .csv in TMY3 form), instead of constants",
            example='"hours.csv"',
        ),
    ] = None
    month: Annotated[
        Whole | None,
        described(
            "month of a typical year to take a design day from",
            unit="1-12",
            low=1,
            high=12,
            example="5",
        ),
    ] = None

    @field_validator("file")
    @classmethod
    def _known_kind(cls, path: Path | None) -> Path | None:
        if path is not None and path.suffix.lower() not in {".csv", ".epw"}:
            msg = f"found {shown(path.name)}; allowed: a file ending in .csv or .epw"
            raise ValueError(msg)
        return path

    @model_validator(mode="after")
    def _constants_or_file(self) -> Self:
        given = [name for name in CONSTANTS if getattr(self, name) is not None]
        missing = [name for name in CONSTANTS if name not in given]
        if self.file is not None and given:
            msg = f"found a file and constants ({', '.join(given)}); give one or the other"
            raise ValueError(msg)
        if self.file is None and missing:
            msg = f'missing: {", ".join(missing)}; give all five constants, or file = "hours.csv"'
            raise ValueError(msg)
        if self.file is None and self.month is not None:
            msg = "found month without a file; a design day is taken from a typical year: give file"
            raise ValueError(msg)
        return self


class Event(PlanTable):
    """What has happened, and what it closes."""

    kind: Annotated[
        Literal["none", "road failure", "power failure", "flood", "storm"],
        described("what happened"),
    ] = "none"
    closed: Annotated[
        tuple[str | int, ...],
        BeforeValidator(as_closed),
        described("closed streets and bridges: names as on the map, or OpenStreetMap way numbers"),
    ] = ()
    closed_area: Annotated[
        FilePath | None, described("closed areas (.geojson, WGS 84)", example='"closed.geojson"')
    ] = None
    flood_level_m: Annotated[
        Number | None,
        described(
            "everything lower than this height is closed",
            unit="m",
            low=-450,
            high=9000,
            why="no land lies outside",
            example="12.5",
        ),
    ] = None


class Choices(PlanTable):
    """How the walk is made."""

    rest_min_per_h: Annotated[
        Number,
        described(
            "rest for each hour of moving", unit="min/h", low=0, high=45, why="or it is no walk"
        ),
    ] = 10.0
    quiet: Annotated[
        Number,
        described(
            "how much quiet streets are preferred: 0 is the fastest way, 1 counts a minute beside "
            "fast traffic as about two",
            low=0,
            high=5,
        ),
    ] = 1.0
    longest_day_h: Annotated[
        Number,
        described(
            "longest day on foot; then shelter until first light",
            unit="h",
            low=1,
            high=24,
            why="a day has 24 hours",
        ),
    ] = 14.0
    refill_reach_m: Annotated[
        Number, described("how far off the way a refill may lie", unit="m", low=0, high=5000)
    ] = 300.0
    snap_limit_m: Annotated[
        Number,
        described("how far start, home and vias may lie from a street", unit="m", low=1, high=5000),
    ] = 500.0
    page: Annotated[Literal["A4", "Letter"], described("paper of the timeline")] = "A4"
    print: Annotated[Literal["usual", "large"], described("size of the letters on paper")] = "usual"
    font: Annotated[
        FilePath | None,
        described(
            "font for letters that the paper's own lacks, e.g. of China or Thailand (.ttf .otf)",
            example='"names.ttf"',
        ),
    ] = None
    energy_model: Annotated[
        Literal["lcda", "pandolf"],
        described("published equation for the energy of walking with a load"),
    ] = "lcda"
    sweat: Annotated[
        Literal["low", "middle", "high"],
        described("which of the published sweat rates; in cool air they differ by a factor of 4"),
    ] = "middle"
    halt: Annotated[
        Switch, described("stop at a shelter for the night when the day is too long or too dark")
    ] = True
    people_per_lamp: Annotated[
        Whole,
        described("walkers who see by the light of one lamp (assumed, 1 to 4)", low=1, high=20),
    ] = 2
    what_if: Annotated[
        Switch,
        described(
            "work out other departures, water, paces and shut bridges: for the page, the latest "
            "departure and the shut bridge on paper"
        ),
    ] = True
    also: Annotated[
        tuple[Literal["calendar", "parquet"], ...],
        BeforeValidator(as_tuple),
        described("further files: walk.ics; hours.parquet and refills.parquet"),
    ] = ()


class Pace(PlanTable):
    """Which published pace, and which of its corrections."""

    model: Annotated[
        Literal[
            "middle",
            "tobler_1993",
            "irmischer_clarke_2018",
            "campbell_2019",
            "campbell_2022",
            "naismith_1892",
        ],
        described("published function of the slope; middle is their median"),
    ] = "middle"
    surface: Annotated[Switch, described("slower on soft and rough ground")] = True
    stairs: Annotated[Switch, described("stairs at stair speed")] = True
    load: Annotated[Switch, described("slower with a load")] = True
    dark: Annotated[Switch, described("slower in the dark")] = True
    fatigue: Annotated[Switch, described("slower as the hours add up")] = True
    age_sex: Annotated[
        Switch,
        described(
            "slower by the usual walking speed of age and sex, never faster; left out for who has "
            "timed a walk"
        ),
    ] = True
    effort: Annotated[
        Switch, described("slower where the effort could not be kept up for the whole way")
    ] = True
    dark_unlit_factor: Annotated[
        Number,
        described("pace in the dark on unlit ways, over daylight (assumed)", low=0.2, high=1),
    ] = 0.8
    dark_lit_factor: Annotated[
        Number, described("pace in the dark on lit ways, over daylight (assumed)", low=0.2, high=1)
    ] = 0.95
    fatigue_per_h: Annotated[
        Number,
        described(
            "share of pace lost with each hour of moving after three (assumed)",
            unit="1/h",
            low=0,
            high=0.1,
        ),
    ] = 0.02
