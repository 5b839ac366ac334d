"""The plan file: what is understood, what is refused, and in which words."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import subprocess
import sys
import tomllib
import zoneinfo
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from simulator.errors import InputError
from simulator.plan import Plan, inputs, plan_reference
from simulator.plan.tables import PlanWeather, Trip, Walker

CONTRACT = """
title = "To the mill"
units = "metric"
[trip]
start = [46.0, -64.8]
home  = [46.1, -64.7]
via   = []
depart = 2026-05-04T16:30:00
[map]
extract   = "town.osm.pbf"
elevation = ["heights.tif"]
[walker]
mass_kg = 80
height_m = 1.75
age_y = 40
sex = "male"
pace_factor = 1.0
[bag]
items = "bag.csv"
capacity_l = 5.0
budget = 150
[weather]
air_c = 12
humidity_pct = 60
wind_m_s = 3
cloud_pct = 50
rain_mm_h = 0
[event]
kind = "power failure"
closed = ["Mill Bridge", 1234567]
closed_area = "closed.geojson"
flood_level_m = 12.5
[choices]
rest_min_per_h = 10
longest_day_h = 14
"""
"""Every key of the plan file that the contract names."""

NAMED_FILES = ("town.osm.pbf", "heights.tif", "bag.csv", "closed.geojson")


def written(folder: Path, text: str = CONTRACT) -> Path:
    for name in NAMED_FILES:
        (folder / name).write_bytes(name.encode())
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return path


def changed(old: str, new: str) -> str:
    assert CONTRACT.count(old) == 1, f"{old!r} must stand once in the contract's plan"
    return CONTRACT.replace(old, new)


def refusal(folder: Path, text: str) -> list[str]:
    path = written(folder, text)
    with pytest.raises(InputError) as caught:
        Plan.read(path)
    return [line.replace(f"{path}: ", "") for line in str(caught.value).splitlines()]


def test_the_contracts_plan_is_read_key_by_key(tmp_path: Path) -> None:
    plan = Plan.read(written(tmp_path))

    assert plan.title == "To the mill"
    assert plan.trip.start == (46.0, -64.8)
    assert plan.trip.via == ()
    assert plan.trip.depart == dt.datetime(2026, 5, 4, 16, 30)  # noqa: DTZ001 - local by contract
    assert plan.map.extract == tmp_path / "town.osm.pbf"
    assert plan.map.elevation == (tmp_path / "heights.tif",)
    assert len(plan.walker) == 1
    assert plan.walker[0].mass_kg == 80.0
    assert plan.bag.items == tmp_path / "bag.csv"
    assert plan.event.closed == ("Mill Bridge", 1234567)
    assert plan.event.closed_area == tmp_path / "closed.geojson"
    assert plan.event.flood_level_m == 12.5
    assert plan.choices.longest_day_h == 14.0
    assert plan.source == tmp_path / "plan.toml"


def test_several_walker_tables_make_a_group(tmp_path: Path) -> None:
    second = '[[walker]]\nmass_kg = 30\nheight_m = 1.35\nage_y = 9\nsex = "female"\n[bag]'
    text = changed("[walker]", "[[walker]]").replace("[bag]", second)
    plan = Plan.read(written(tmp_path, text))
    assert [walker.age_y for walker in plan.walker] == [40.0, 9.0]


def test_a_lone_value_needs_no_brackets_where_a_list_may_stand(tmp_path: Path) -> None:
    text = changed('["heights.tif"]', '"heights.tif"').replace(
        '["Mill Bridge", 1234567]', '"Mill Bridge"'
    )
    plan = Plan.read(written(tmp_path, text))
    assert plan.map.elevation == (tmp_path / "heights.tif",)
    assert plan.event.closed == ("Mill Bridge",)


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path: Path) -> None:
    path = written(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + CONTRACT.replace("\n", "\r\n").encode())
    assert Plan.read(path).title == "To the mill"


def test_every_fault_is_reported_at_once_one_line_each(tmp_path: Path) -> None:
    text = (
        changed("mass_kg = 80", "mass_kg = 800")
        .replace('sex = "male"', 'sex = "males"')
        .replace("air_c = 12", 'air_c = "12"')
        .replace("rest_min_per_h", "rest_min_per_hour")
    )
    lines = refusal(tmp_path, text)
    assert len(lines) == 4
    assert lines[0].startswith("walker[1].mass_kg: found 800; allowed: 20 to 300 kg")
    assert (
        lines[1] == "walker[1].sex: found 'males'; did you mean 'male'? allowed: 'male', 'female'"
    )
    assert lines[2] == "weather.air_c: found '12'; a number without quotes is needed, e.g. 1.5"
    assert lines[3].startswith(
        "choices.rest_min_per_hour: unknown key; did you mean 'rest_min_per_h'? allowed here:"
    )


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("title =", "titel =", "titel: unknown key; did you mean 'title'?"),
        ("[event]", "[evnt]", "evnt: unknown key; did you mean 'event'?"),
        ("pace_factor = 1.0", "budget = 3", "budget: unknown key; it belongs under [bag]"),
        ("title =", 'source = "x"\ntitle =', "source: unknown key; remove it"),
        ("mass_kg = 80", "mass_kg = 12", "walker[1].mass_kg: found 12; allowed: 20 to 300 kg"),
        ("mass_kg = 80", "mass_kg = -80", "walker[1].mass_kg: found -80; allowed: 20 to 300 kg"),
        ("mass_kg = 80", "mass_kg = nan", "walker[1].mass_kg: found nan; nan and inf say nothing"),
        ("mass_kg = 80", "mass_kg = true", "walker[1].mass_kg: found True; a number"),
        ("mass_kg = 80\n", "", "walker[1].mass_kg: missing; add it: body mass"),
        ("height_m = 1.75", "height_m = 175", "allowed: 0.9 to 2.5 m (write metres, e.g. 1.75)"),
        ("age_y = 40", "age_y = 140", "walker[1].age_y: found 140; allowed: 4 to 110 years"),
        ("humidity_pct = 60", "humidity_pct = 101", "humidity_pct: found 101; allowed: 0 to 100 %"),
        ("humidity_pct = 60\n", "", "weather: missing: humidity_pct; give all five constants"),
        ("air_c = 12", 'air_c = 12\nfile = "h.csv"', "weather: found a file and constants"),
        ("air_c = 12", "air_c = 12\nmonth = 3", "weather: found month without a file"),
        ('kind = "power failure"', 'kind = "powerfailure"', "did you mean 'power failure'?"),
        ("1234567", "1.5", "event.closed: found 1.5; allowed: names in quotes as on the map"),
        ("1234567", "-4", "event.closed: found -4; allowed"),
        ('"town.osm.pbf"', '"town.pdf"', "map.extract: found 'town.pdf'; allowed: a file ending"),
        ('"town.osm.pbf"', '"gone.osm"', "map.extract: found no file"),
        ('"bag.csv"', '"gone.csv"', "bag.items: found no file"),
        ('"bag.csv"', '"."', "bag.items: found the folder"),
        ('"bag.csv"', "7", "bag.items: found 7; a file name in quotes is needed"),
        ("[46.0, -64.8]", "[46.0]", "trip.start: found [46.0]; two numbers are needed"),
        ("[46.0, -64.8]", '"46 N"', "trip.start: found '46 N'; two numbers are needed"),
        ("via   = []", "via   = [[1, 2], [300, 2]]", "trip.via[2]: found [300, 2]"),
        ("capacity_l = 5.0", "capacity_l = 5.0\npockets_l = [4, 4]", "bag: found pockets of 8 l"),
        ("[walker]", "walker = []\n[walkers]", "walker: found []; "),
    ],
)  # fmt: skip
def test_a_fault_names_its_key_what_was_found_and_what_is_allowed(
    tmp_path: Path, old: str, new: str, words: str
) -> None:
    if old == "[walker]":  # a key before the first table
        text = "walker = []\n" + re.sub(r"\[walker\].*?(?=\[bag\])", "", CONTRACT, flags=re.DOTALL)
    else:
        text = changed(old, new)
    lines = refusal(tmp_path, text)
    assert len(lines) == 1, lines
    assert words in lines[0]


def test_a_swapped_pair_is_named_as_swapped_with_the_remedy(tmp_path: Path) -> None:
    lines = refusal(tmp_path, changed("[46.0, -64.8]", "[-164.8, 46.0]"))
    assert "this looks swapped: write [46, -164.8]" in lines[0]


def test_a_swapped_pair_that_could_be_a_place_is_found_by_the_distance(tmp_path: Path) -> None:
    lines = refusal(tmp_path, changed("[46.0, -64.8]", "[-64.8, 46.0]"))
    assert len(lines) == 1
    assert "km in straight lines" in lines[0]
    assert "check that every place is [latitude, longitude]" in lines[0]


def test_a_walk_from_a_place_to_itself_needs_a_via(tmp_path: Path) -> None:
    text = changed("home  = [46.1, -64.7]", "home  = [46.0, -64.8]")
    assert "start and home at the same place" in refusal(tmp_path, text)[0]
    loop = Plan.read(written(tmp_path, text.replace("via   = []", "via = [[46.1, -64.7]]")))
    assert loop.trip.via == ((46.1, -64.7),)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("2026-05-04T16:30:00Z", "without Z or offset, e.g. 2026-05-04T16:30:00"),
        ("2026-05-04T16:30:00-03:00", "without Z or offset, e.g. 2026-05-04T16:30:00"),
        ("2026-05-04", "the hour is missing"),
        ("16:30:00", "a date and time without quotes is needed"),
        ('"next Monday"', "a date and time without quotes is needed"),
        ("1830-05-04T16:30:00", "allowed: 1950 to 2098"),
    ],
)
def test_departure_is_a_clock_time_at_the_start(tmp_path: Path, value: str, words: str) -> None:
    lines = refusal(tmp_path, changed("2026-05-04T16:30:00", value))
    assert len(lines) == 1
    assert lines[0].startswith("trip.depart: ")
    assert words in lines[0]


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("21:00:00Z", "21"),  # TOML has no time of day with an offset
        ('"nine"', "a date and time without quotes is needed"),
        ("9", "a clock time without quotes, Z or offset is needed, e.g. 21:00:00"),
        ("true", "a clock time without quotes, Z or offset is needed, e.g. 21:00:00"),
        ("2026-05-04", "the hour is missing"),
        ("2026-05-04T21:00:00Z", "without Z or offset"),
        ("2026-05-04T16:30:00", "allowed: after departure, at most 72 hours later"),
        ("2026-05-04T09:00:00", "allowed: after departure, at most 72 hours later"),
        ("2026-05-07T16:31:00", "allowed: after departure, at most 72 hours later"),
    ],
)
def test_the_hour_to_be_home_by_is_a_clock_time_after_departure(
    tmp_path: Path, value: str, words: str
) -> None:
    lines = refusal(tmp_path, changed("[map]", f"home_by = {value}\n[map]"))
    assert len(lines) == 1
    assert words in lines[0]


@pytest.mark.parametrize(
    ("value", "until"),
    [
        ("21:00:00", dt.datetime(2026, 5, 4, 21)),  # noqa: DTZ001 - local by contract
        ("16:30:00", dt.datetime(2026, 5, 5, 16, 30)),  # noqa: DTZ001 - the next one
        ('"06:15"', dt.datetime(2026, 5, 5, 6, 15)),  # noqa: DTZ001 - the next morning
        ("2026-05-06T06:00:00", dt.datetime(2026, 5, 6, 6)),  # noqa: DTZ001 - as written
    ],
)
def test_a_time_alone_is_the_first_such_hour_after_departure(
    tmp_path: Path, value: str, until: dt.datetime
) -> None:
    plan = Plan.read(written(tmp_path, changed("[map]", f"home_by = {value}\n[map]")))
    assert plan.trip.home_until == until


# Daylight saving from the IANA time zone database, through zoneinfo: in 2026 Moncton leaps from
# 02:00 to 03:00 on 8 March, and 01:30 occurs twice on 1 November.
def test_a_time_that_daylight_saving_leaps_over_is_refused(tmp_path: Path) -> None:
    lines = refusal(tmp_path, changed("2026-05-04T16:30:00", "2026-03-08T02:30:00"))
    assert len(lines) == 1
    assert "does not exist in America/Moncton: the clocks leap 60 minutes ahead" in lines[0]
    assert "write e.g. 2026-03-08T03:30:00" in lines[0]


def test_a_time_that_occurs_twice_is_taken_as_the_first(tmp_path: Path) -> None:
    plan = Plan.read(written(tmp_path, changed("2026-05-04T16:30:00", "2026-11-01T01:30:00")))
    assert plan.trip.departs.utcoffset() == dt.timedelta(hours=-3)


def test_the_time_zone_comes_from_the_start_unless_it_is_given(tmp_path: Path) -> None:
    plan = Plan.read(written(tmp_path))
    assert plan.trip.timezone is None
    assert plan.trip.zone.key == "America/Moncton"
    given = plan.with_changes(trip={"timezone": "America/Lima"})
    assert given.trip.departs.utcoffset() == dt.timedelta(hours=-5)


@pytest.mark.parametrize("name", ["Mars/Olympus", "", "/etc/passwd", "../x"])
def test_a_time_zone_that_nobody_knows_is_refused(tmp_path: Path, name: str) -> None:
    text = changed("[map]", f'timezone = "{name}"\n[map]')
    assert "an IANA name is needed" in refusal(tmp_path, text)[0]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("title = 'x'\n[trip\nstart = 1", 2),
        ("a = 1\na = 2\n", 2),
        ("title = 'x'\ndepart = 25:61\n", 2),
        ('a = "x', 1),
    ],
)
def test_a_syntax_error_names_its_line(tmp_path: Path, text: str, line: int) -> None:
    lines = refusal(tmp_path, text)
    assert len(lines) == 1
    assert lines[0].startswith(f"line {line}: found")
    assert "this is not TOML" in lines[0]


def test_files_that_are_no_plan_are_refused_in_one_line(tmp_path: Path) -> None:
    for content in (b"", b"PK\x03\x04zip", b"title = '\xff'", b"a\0b", b"x" * 6_000_000):
        path = tmp_path / "plan.toml"
        path.write_bytes(content)
        with pytest.raises(InputError) as caught:
            Plan.read(path)
        assert "\n" not in str(caught.value)
    for path in (tmp_path, tmp_path / "gone.toml"):
        with pytest.raises(InputError):
            Plan.read(path)


def test_hostile_text_cannot_break_the_message_apart(tmp_path: Path) -> None:
    text = changed('sex = "male"', 'sex = "a\\n\\u001b[31mb' + "c" * 500 + '"')
    lines = refusal(tmp_path, text)
    assert len(lines) == 1
    assert "\x1b" not in lines[0]
    assert len(lines[0]) < 200


def test_a_plan_is_frozen() -> None:
    walker = Walker(mass_kg=80, height_m=1.75, age_y=40, sex="male")
    with pytest.raises(ValidationError):
        walker.mass_kg = 90  # type: ignore[misc]


def test_a_plan_can_be_made_in_python(tmp_path: Path) -> None:
    from simulator.plan.tables import Map

    plan = Plan(
        trip=Trip(start=(46, -64.8), home=(46.1, -64.7), depart="2026-05-04T16:30"),
        map=Map(extract=tmp_path / "town.osm.pbf"),
        walker=(Walker(mass_kg=80, height_m=1.75, age_y=40, sex="male"),),
        weather=PlanWeather(air_c=12, humidity_pct=60, wind_m_s=3, cloud_pct=50, rain_mm_h=0),
    )
    assert plan.bag.items is None
    assert plan.source is None


def test_a_what_if_changes_only_what_it_names(tmp_path: Path) -> None:
    plan = Plan.read(written(tmp_path))
    other = plan.with_changes(
        walker={"pace_factor": 0.9}, choices={"rest_min_per_h": 5}, bag={"items": None}
    )
    assert other.walker[0].pace_factor == 0.9
    assert other.walker[0].mass_kg == plan.walker[0].mass_kg
    assert other.choices.rest_min_per_h == 5.0
    assert other.bag.items is None
    assert other.map == plan.map
    assert plan.choices.rest_min_per_h == 10.0


def test_a_what_if_is_checked_like_a_file(tmp_path: Path) -> None:
    plan = Plan.read(written(tmp_path))
    with pytest.raises(
        InputError, match=r"plan: walker\[1\]\.mass_kg: found 5; allowed: 20 to 300"
    ):
        plan.with_changes(walker={"mass_kg": 5})
    with pytest.raises(InputError, match=r"plan: wether: unknown key; did you mean 'weather'"):
        plan.with_changes(wether={"air_c": 5})


def test_inputs_are_the_fingerprints_of_every_file(tmp_path: Path) -> None:
    path = written(tmp_path)
    sums = inputs(Plan.read(path))
    assert set(sums) == {"plan.toml", *NAMED_FILES}
    for name, found in sums.items():
        assert found == hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()


def test_two_inputs_of_one_name_are_told_apart(tmp_path: Path) -> None:
    (tmp_path / "east").mkdir()
    (tmp_path / "east" / "heights.tif").write_bytes(b"east")
    text = changed('["heights.tif"]', '["heights.tif", "east/heights.tif"]')
    sums = inputs(Plan.read(written(tmp_path, text)))
    assert sums["map.elevation[2] heights.tif"] == hashlib.sha256(b"east").hexdigest()


def test_the_reference_lists_every_key_with_its_meaning() -> None:
    rows = {row.key: row for row in plan_reference()}
    assert all(row.meaning for row in rows.values())
    contract: dict[str, Any] = tomllib.loads(CONTRACT)
    keys = {
        f"{table}.{key}" if isinstance(part, dict) else table
        for table, part in contract.items()
        for key in (part if isinstance(part, dict) else (table,))
    }
    assert keys <= set(rows)
    assert rows["choices.longest_day_h"][1:4] == ("number, 1 to 24", "14", "h")
    assert rows["walker.mass_kg"].default == "required"
    assert rows["choices.page"].kind == '"A4" | "Letter"'


def test_numbers_with_a_unit_in_their_name_say_the_same_unit() -> None:
    endings = {"kg": "kg", "m": "m", "y": "years", "c": "°C", "pct": "%", "l": "l", "clo": "clo"}
    for row in plan_reference():
        ending = row.key.rsplit("_", maxsplit=1)[-1]
        if "_" in row.key and ending in endings:
            assert row.unit.startswith(endings[ending]), row.key


def test_the_plan_offers_exactly_the_pace_models_there_are() -> None:
    from simulator.body.pace import FATIGUE_PER_H, PACE_MODELS

    rows = {row.key: row for row in plan_reference()}
    assert re.findall(r'"(\w+)"', rows["pace.model"].kind) == ["middle", *PACE_MODELS]
    assert float(rows["pace.fatigue_per_h"].default) == FATIGUE_PER_H


def test_reading_a_plan_imports_neither_numpy_nor_osmnx(tmp_path: Path) -> None:
    code = (
        "import sys; from simulator.plan import Plan; Plan.read(sys.argv[1]);"
        "print([m for m in ('numpy', 'osmnx', 'pandas') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, written(tmp_path)], check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[]"


def test_zones_are_known_on_every_system() -> None:
    assert "America/Moncton" in zoneinfo.available_timezones()
