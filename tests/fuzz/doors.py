"""Every door through which something comes in from outside, with a good file to spoil."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

from simulator.bag.catalogue import read_catalogue
from simulator.bag.items import read_items
from simulator.errors import InputError
from simulator.fetch.cache import read_record
from simulator.fetch.geocode import _read as read_found
from simulator.fetch.http import Answer, CutError, Request, ServerLine
from simulator.fetch.overpass import TooMuchError, fetch_piece
from simulator.ground.hours import open_at
from simulator.ground.osm import read_extract
from simulator.ground.places import read_edits
from simulator.ground.raster import read_raster
from simulator.ground.streets import Streets
from simulator.ground.track import read_track
from simulator.plan import Plan
from simulator.plan.tables import names_beside, read_names
from simulator.questions.people import read_people
from simulator.questions.today import read_here, read_left, read_time
from simulator.route.closures import read_area, read_window
from simulator.sky.weather_files import read_weather
from tests.conftest import BAG, PLAN, town_xml, write_heights

ZONE = "America/Moncton"


@dataclass(frozen=True)
class Door:
    """One door.

    Attributes
    ----------
    name : str
        What the file is called.
    good : callable
        Gives a file that is taken, written in a folder of its own.
    read : callable
        Takes a file through the door.
    refusals : tuple of type
        What it may raise; a refusal of a person's file is one line for each fault.
    """

    name: str
    good: Callable[[Path], bytes]
    read: Callable[[Path], object]
    refusals: tuple[type[BaseException], ...] = (InputError,)


def text(content: str) -> Callable[[Path], bytes]:
    return lambda _: content.encode()


FULL_PLAN = (
    PLAN
    + """
[event]
kind = "flood"
closed = ["Mill Bridge", 1234567]
flood_level_m = 12.5
[choices]
rest_min_per_h = 10
[fetch]
longest_way = 1.5
streets_from = "http://127.0.0.1:9/api"
[odds]
walks = 100
seed = 7
"""
)
PEOPLE = (
    "id,start_lat,start_lon,home_lat,home_lon,mass_kg,sex,depart\n"
    "a,46.0002,-64.7998,46.0148,-64.7952,70,female,2026-05-04T09:30:00\n"
    "b,46.0002,-64.7998,46.0148,-64.7952,,,\n"
)
HOURS = "time,air_c,humidity_pct,wind_m_s,cloud_pct,rain_mm_h\n" + "".join(
    f"{(datetime(2026, 5, 4, tzinfo=UTC) + timedelta(hours=hour)):%Y-%m-%dT%H:00},12,60,3,50,0\n"
    for hour in range(60)
)
AREA = json.dumps(
    {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"name": "flood"},
                "geometry": {
                    "type": "Polygon",
                    "coordinates": [
                        [[-64.8, 46.0], [-64.79, 46.0], [-64.79, 46.01], [-64.8, 46.0]]
                    ],
                },
            }
        ],
    }
)
PLACES = '[kind."drinking water"]\nstop_min = 3\n[place."n123"]\nhours = "Mo-Fr 08:00-18:00"\n'
NAMES = '["Mill Street 5"]\nat = [46.0, -64.8]\nfound = "Mill Street 5, Fennick"\n'
FOUND = json.dumps([{"lat": "46.0", "lon": "-64.8", "display_name": "Mill Street 5, Fennick"}])
RECORD = (
    '{"check": "0", "record": {"about": "x", "facts": {"n": 1}, "files": [{"name": "a", "sha256": '
    '"0", "size": 1}], "key": "k", "kind": "piece", "made_epoch_s": 1.0}}'
)
GRID = "ncols 4\nnrows 3\nxllcorner -64.8\nyllcorner 46\ncellsize 0.01\nNODATA_value -9999\n" + (
    "10 20 30 40\n" * 3
)


def raster(folder: Path) -> bytes:
    write_heights(folder / "good.tif")
    return (folder / "good.tif").read_bytes()


def read_grid(path: Path) -> object:
    path.with_suffix(".prj").write_text('GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",'
        '6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]',
        encoding="utf-8")  # fmt: skip
    return read_raster(path)


def pbf(folder: Path) -> bytes:
    import osmium

    (folder / "good.osm").write_text(town_xml(), encoding="utf-8")
    with osmium.SimpleWriter(str(folder / "good.osm.pbf"), overwrite=True) as writer:
        for one in osmium.FileProcessor(str(folder / "good.osm")):
            writer.add(one)
    return (folder / "good.osm.pbf").read_bytes()


def graphml(folder: Path) -> bytes:
    import osmnx

    (folder / "good.osm").write_text(town_xml(), encoding="utf-8")
    graph = Streets.read(folder / "good.osm").to_networkx()
    osmnx.save_graphml(graph, folder / "good.graphml")
    return (folder / "good.graphml").read_bytes()


def typical_year(suffix: str) -> Callable[[Path], bytes]:
    """Give a typical year in one of its two forms."""

    @cache
    def write(_: Path) -> bytes:
        moments = [datetime(2001, 1, 1, tzinfo=UTC) + timedelta(hours=h) for h in range(8760)]
        if suffix == ".epw":
            head = (
                "LOCATION,Invented,-,-,INV,1,46.0,-64.8,-4.0,10.0\nDESIGN CONDITIONS,0\n"
                "TYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n"
                "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,invented\nCOMMENTS 2,invented\n"
                "DATA PERIODS,1,1,Data,Sunday,1/1,12/31\n"
            )
            rows = [
                f"2001,{m.month},{m.day},{m.hour + 1},60,?9,12.0,5.0,60,101325,0,0,300,0,0,0,0,0,0,"
                "0,"
                "180,3.0,5,5,20.0,77777,9,999999999,10,0.1,0,88,0.2,0.0,1.0\n"
                for m in moments
            ]
            return (head + "".join(rows)).encode()
        from importlib.resources import files

        return (Path(str(files("pvlib"))) / "data" / "723170TYA.CSV").read_bytes()

    return write


def answered(path: Path) -> object:
    """Take a file as the answer of a street server."""

    class Line:
        def fetch(self, _: Request, take: Callable[[Answer, Iterator[bytes]], None]) -> None:
            take(Answer(200, {}), iter([path.read_bytes()]))

    line = cast("ServerLine", Line())
    box = (-64.81, 45.99, -64.78, 46.03)
    return fetch_piece(line, "http://127.0.0.1:9", box, path.with_name("piece.osm.gz"))


def words(path: Path) -> str:
    return path.read_bytes().decode("utf-8", "replace")


def read_options(path: Path) -> None:
    """Take a text through every option that is read from one."""
    refused = 0
    for read in (
        read_here,
        read_left,
        read_time,
        lambda said: read_window(said, where="closed"),
        lambda said: open_at(said, datetime(2026, 5, 4, 9, tzinfo=UTC), lat=46.0, lon=-64.8),
    ):
        try:
            read(words(path))
        except InputError as fault:
            check_words(fault)
            refused += 1


def read_found_place(path: Path) -> object:
    return read_found(path.read_bytes())


def weather_of(path: Path) -> object:
    return read_weather(path, ZONE)


def named(path: Path) -> object:
    plan = path.with_name("plan.toml")
    names_beside(plan).write_bytes(path.read_bytes())
    return read_names(plan)


def people_of(path: Path) -> object:
    own = SimpleNamespace(
        mass_kg=80,
        height_m=1.75,
        age_y=40,
        sex="male",
        pace_factor=1.0,
        clothing_clo=1.0,
        windproof=None,
        capacity_ml_kg_min=None,
        level_km_h=None,
        timed_walk=None,
    )
    plan: Any = SimpleNamespace(
        walker=(own,),
        bag=SimpleNamespace(items=None),
        trip=SimpleNamespace(depart=datetime(2026, 5, 4, 9, 30)),  # noqa: DTZ001 - local by contract
    )
    return read_people(path, plan)


LONGEST_LINE = 700
"""A fault is a line or a few on a terminal [characters]; the name of the file is part of it."""


def check_words(fault: BaseException) -> None:
    """See that a refusal can be printed: short lines without control characters."""
    said = str(fault)
    said.encode("utf-8")
    for line in said.split("\n"):
        assert len(line) <= LONGEST_LINE, line[:LONGEST_LINE]
        assert "\0" not in line


TRACK = (
    '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="test" '
    'xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    + "".join(
        f'<trkpt lat="{46 + row / 5000:.4f}" lon="-64.8"><ele>3</ele>'
        f"<time>2026-05-04T10:{row // 3:02}:{row % 3 * 20:02}Z</time></trkpt>"
        for row in range(130)
    )
    + "</trkseg></trk></gpx>"
)

BAD_ANSWER = (ValueError, CutError, TooMuchError)

DOORS = {
    "plan": Door("plan.toml", text(FULL_PLAN), lambda path: Plan.read(path, check_files=False)),
    "bag": Door("bag.csv", text(BAG), read_items),
    "catalogue": Door("catalogue.csv", text(
        (Path(__file__).parents[2] / "data" / "catalogue.csv").read_text(encoding="utf-8")
    ), read_catalogue),
    "people": Door("people.csv", text(PEOPLE), people_of),
    "hourly weather": Door("hours.csv", text(HOURS), weather_of),
    "typical year, EPW": Door("year.epw", typical_year(".epw"), weather_of),
    "typical year, TMY3": Door("year.csv", typical_year(".csv"), weather_of),
    "closed area": Door("closed.geojson", text(AREA), read_area),
    "places": Door("places.toml", text(PLACES), read_edits),
    "names": Door("names.toml", text(NAMES), named),
    "recorded walk": Door("walk.gpx", text(TRACK), lambda path: read_track(path, where="plan")),
    "map, XML": Door("town.osm", text(town_xml()), read_extract),
    "map, PBF": Door("town.osm.pbf", pbf, read_extract),
    "map, GraphML": Door("town.graphml", graphml, Streets.read),
    "heights, GeoTIFF": Door("heights.tif", raster, read_raster),
    "heights, ASCII grid": Door("heights.asc", text(GRID), read_grid),
    "answer with streets": Door("answer.osm", text(town_xml()), answered, BAD_ANSWER),
    "answer with places": Door("found.json", text(FOUND), read_found_place, (ValueError,)),
    "record of the cache": Door("record.json", text(RECORD), read_record),
    "words on the day": Door("words.txt", text("46.0,-64.8 water_l=0.5 Mo-Fr 08:00-18:00"),
        read_options),
}  # fmt: skip
