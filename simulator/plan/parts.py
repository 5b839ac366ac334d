"""The tables of a plan: map, walkers, bag, weather, event, choices, pace."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, field_validator, model_validator

from simulator.faults import shown
from simulator.plan.values import (
    EXTRACT_SUFFIXES,
    FilePath,
    Number,
    Part,
    Switch,
    TimedWalk,
    Whole,
    as_closed,
    as_tuple,
    described,
)


class Map(Part):
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


class Walker(Part):
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
    timed_walk: Annotated[
        TimedWalk | None,
        described(
            "one walk of your own: kilometres, minutes without stops, metres climbed, metres "
            "descended; sets the pace, which pace_factor then multiplies",
            example="[5.0, 62, 40, 40]",
        ),
    ] = None
    limits: Annotated[
        tuple[Literal["no stairs", "push-chair", "wheels"], ...],
        BeforeValidator(as_tuple),
        described("what binds the choice of way"),
    ] = ()
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


class Bag(Part):
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
            "money for the bag, in the list's own currency; none when left out",
            low=0,
            high=1e9,
            example="150",
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


class Weather(Part):
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


class Event(Part):
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


class Choices(Part):
    """How the walk is made."""

    rest_min_per_h: Annotated[
        Number,
        described(
            "rest for each hour of moving", unit="min/h", low=0, high=45, why="or it is no walk"
        ),
    ] = 10.0
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


class Pace(Part):
    """Which published pace, and which of its corrections."""

    model: Annotated[
        Literal[
            "tobler_1993",
            "irmischer_clarke_2018",
            "campbell_2019",
            "campbell_2022",
            "naismith_1892",
        ],
        described("published function of the slope"),
    ] = "tobler_1993"
    surface: Annotated[Switch, described("slower on soft and rough ground")] = True
    stairs: Annotated[Switch, described("stairs at stair speed")] = True
    load: Annotated[Switch, described("slower with a load")] = True
    dark: Annotated[Switch, described("slower in the dark")] = True
    fatigue: Annotated[Switch, described("slower as the hours add up")] = True
    age_sex: Annotated[Switch, described("scaled to the free walking speed of age and sex")] = False
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
