"""Bodies and skies through the whole walk, on the demo place: limits, nights, weather, clocks."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
from pythermalcomfort.models import ireq

from simulator import InputError, NoWayHomeError, Plan, demo_folder, walk_home
from simulator.body import drinking, energy
from simulator.body.pace import LIMIT_RULES
from simulator.body.warmth import BODY_WIND_SHARE, HALT_HUMIDITY_PCT, HALT_W_M2
from simulator.home.answer import Walk
from simulator.home.cautions import COLD, HEAT
from simulator.sky.moon import moon_light
from simulator.sky.sun import sun_elevation_deg
from tests.conftest import PLAN, TownWriter

ZONE = "America/Noronha"


@pytest.fixture(scope="module")
def demo_plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})


@pytest.fixture(scope="module")
def usual(demo_plan: Plan) -> Walk:
    return walk_home(demo_plan)


# --- people with limits -------------------------------------------------------------------------

BY_STEPS = {"start": (46.00834, -30.095426), "home": (46.007938, -30.088079)}
"""The shortest way between these two runs over steps."""

BY_TRACKS = {"start": (45.946444, -30.0601), "home": (45.942234, -30.056)}
"""The shortest way between these two runs on ground that wheels sink into."""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("limit", "trip"),
    [("no stairs", BY_STEPS), ("push-chair", BY_STEPS), ("wheels", BY_TRACKS)],
)
def test_a_limit_binds_the_way_and_lengthens_the_rests(
    demo_plan: Plan, limit: str, trip: dict[str, tuple[float, float]]
) -> None:
    rule = LIMIT_RULES[limit]
    plan = demo_plan.with_changes(trip=trip, walker={"pace_factor": 0.35})
    anyone = walk_home(plan)
    bound = walk_home(plan.with_changes(walker={"limits": (limit,)}))
    assert anyone.course.stairs.any() or set(anyone.segments["surface"]) & rule.refused
    assert not bound.course.stairs.any()
    assert not set(bound.segments["surface"]) & rule.refused
    assert np.abs(bound.course.slope).max() <= rule.max_slope + 1e-9
    assert bound.course.length_m > anyone.course.length_m
    hours = np.floor(bound.summary["time"]["moving_h"])
    rest_h = bound.summary["time"]["resting_h"]
    assert rest_h == pytest.approx(hours * rule.rest_factor * 10.0 / 60.0)


@pytest.mark.parametrize("limit", ["push-chair", "wheels"])
def test_a_hill_too_steep_for_wheels_is_no_way_home_and_says_what_would_have_to_give(
    demo_plan: Plan, limit: str
) -> None:
    with pytest.raises(NoWayHomeError, match=rf"{limit}.*slopes over.*there is a way with slopes"):
        walk_home(demo_plan.with_changes(walker={"limits": (limit,)}))


# --- nights -------------------------------------------------------------------------------------


def bag_without(folder: Path, *names: str, extra: str = "") -> Path:
    """Write the demo bag without some items."""
    lines = (demo_folder() / "bag.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith(names)]
    path = folder / "bag.csv"
    path.write_text("\n".join([*kept, *extra.splitlines(), ""]), encoding="utf-8")
    return path


def test_without_a_lamp_the_walk_waits_for_first_light_and_spends_meanwhile(
    demo_plan: Plan, tmp_path: Path
) -> None:
    bag = bag_without(tmp_path, "head torch", "glow stick")
    late = datetime(2026, 11, 18, 20, 0)  # noqa: DTZ001 - local by contract
    walk = walk_home(demo_plan.with_changes(trip={"depart": late}, bag={"items": bag}))
    told = walk.summary
    (halt,) = told["halts"]
    assert "no light is left" in halt["reason"]
    until = datetime.fromisoformat(halt["until"])
    # First light is when the sun stands 6 degrees below the horizon (civil dawn).
    height = float(sun_elevation_deg(*demo_plan.trip.start, until))
    assert height == pytest.approx(-6.0, abs=0.25)
    waiting = walk.hours[walk.hours["stopped_min"] > 59.0]
    assert len(waiting) >= 8
    assert (waiting["water_lost_ml"] > 0.0).all()
    assert (waiting["energy_used_kcal"] > 0.0).all()
    assert walk.hours["stops"].str.contains("halt until first light").any()
    after = walk.hours[walk.hours["clock_start"] > halt["until"]]
    assert after["distance_km"].sum() > 15.0
    assert told["verdict"]["level"] == "stay and wait"
    assert told["cold_heat"]["halt_notes"]


@pytest.mark.slow
def test_a_day_that_is_too_long_ends_at_a_shelter(demo_plan: Plan) -> None:
    told = walk_home(demo_plan.with_changes(choices={"longest_day_h": 5.0})).summary
    assert told["halts"][0]["reason"] == "the longest day afoot is over"
    assert told["halts"][0]["sheltered"]


ROOFED = (
    "wool blanket,warmth,,basic,1,900,4000,20,,,,,,,1.0,,,\n"
    "tarp with lines,shelter,tarp,basic,1,500,900,25,,,,,,,,,,"
)


def test_a_night_under_a_tarp_in_a_blanket_at_two_degrees_gets_an_honest_answer(
    demo_plan: Plan, tmp_path: Path
) -> None:
    bag = bag_without(tmp_path, "head torch", "glow stick", "foil", "dry", extra=ROOFED)
    plan = demo_plan.with_changes(
        trip={"depart": datetime(2026, 11, 18, 20, 0)},  # noqa: DTZ001 - local by contract
        weather={"air_c": 2.0, "wind_m_s": 3.0, "rain_mm_h": 0.0},
        bag={"items": bag},
    )
    told = walk_home(plan).summary
    note = told["cold_heat"]["halt_notes"][0]
    assert "under the tarp carried" in note
    needed, available = (
        float(re.search(rf"([\d.]+) clo is {word}", note)[1])  # type: ignore[index]  # it is there
        for word in ("bearable", "worn and carried")
    )
    # ISO 11079:2007 by pythermalcomfort `ireq`: a person at rest, half of the wind (the tarp's
    # assumed share) brought to body height; the note gives a tenth of a clo.
    theirs = ireq(
        tdb=2.0,
        tr=2.0,
        vr=max(0.5 * 3.0 * BODY_WIND_SHARE, 0.4),
        rh=HALT_HUMIDITY_PCT,
        met=HALT_W_M2 / 58.15,
        clo=available,
        p=50,
        walk_sp=1e-9,
        limit_inputs=False,
        round_output=False,
    )
    assert needed == pytest.approx(float(theirs.icl_min), abs=0.06)
    # Blanket 1.0, hat 0.05, gloves 0.05, clothes 1.0: less than half of it.
    assert available == pytest.approx(2.1, abs=0.01)
    assert told["cold_heat"]["halt_short_clo"] == pytest.approx(needed - available, abs=0.1)
    assert told["verdict"]["level"] == "stay and wait"
    assert "warmth" in told["verdict"]["reasons"][0]


# --- weather from files, and the clock ----------------------------------------------------------


def hourly(folder: Path, first: datetime, temperatures: list[float]) -> Path:
    """Write weather by the hour."""
    rows = [
        f"{(first + timedelta(hours=hour)).isoformat(timespec='minutes')},{air},70,2,40,0"
        for hour, air in enumerate(temperatures)
    ]
    path = folder / "hours.csv"
    header = "time,air_c,humidity_pct,wind_m_s,cloud_pct,rain_mm_h"
    path.write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    return path


def with_file(plan: Plan, path: Path, **changes: object) -> Plan:
    """Take the weather of a plan from a file."""
    constants = dict.fromkeys(("air_c", "humidity_pct", "wind_m_s", "cloud_pct", "rain_mm_h"))
    return plan.with_changes(weather={**constants, "file": path, **changes})


def test_weather_by_the_hour_reaches_the_ledger_at_its_clock_time(
    last_hours: Plan, tmp_path: Path
) -> None:
    first = datetime(2026, 11, 18, 16, 0)  # noqa: DTZ001 - local by contract
    path = hourly(tmp_path, first, [20.0 - hour for hour in range(30)])
    walk = walk_home(with_file(last_hours, path))
    # Departure at 16:30; the middle of the ledger's first hour is 17:00, an hour after 16:00.
    assert walk.hours["air_c"].iloc[0] == pytest.approx(19.0, abs=0.1)


@pytest.mark.slow
def test_a_typical_year_and_its_design_day_make_a_walk(demo_plan: Plan) -> None:
    # Greensboro and Sand Point, the TMY3 files that pvlib carries.
    data = Path(pvlib.__file__).parent / "data"
    for name, month, coldest, hottest in (
        ("723170TYA.CSV", None, -15.0, 30.0),
        ("723170TYA.CSV", 7, 15.0, 35.0),
        ("703165TY.csv", 1, -15.0, 8.0),
    ):
        walk = walk_home(with_file(demo_plan, data / name, month=month))
        assert walk.hours["air_c"].between(coldest, hottest).all()
        assert any("day standing for the month" in t for t in walk.summary["assumptions"]) == (
            month is not None
        )


EPW_FIELDS = 35


@pytest.mark.slow
def test_an_epw_file_makes_a_walk(demo_plan: Plan, tmp_path: Path) -> None:
    # Fields of an EPW row (EnergyPlus, Auxiliary Programs): 6 dry bulb, 8 humidity, 21 wind,
    # 22 sky cover in tenths, 33 rain.
    head = ["LOCATION,Nowhere,-,INV,Made,000000,46.0,-30.1,-2.0,20.0"]
    head += ["DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0"]
    head += ["HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,made", "COMMENTS 2,made"]
    head += ["DATA PERIODS,1,1,Data,Sunday,1/1,12/31"]
    rows = []
    for when in pd.date_range("2005-01-01", periods=8760, freq="h"):
        cells = ["0"] * EPW_FIELDS
        cells[:6] = [str(when.year), str(when.month), str(when.day), str(when.hour + 1), "60", "?9"]
        cells[6], cells[8], cells[21], cells[22] = str(when.month), "65", "2.5", "4"
        rows.append(",".join(cells))
    path = tmp_path / "year.epw"
    path.write_text("\n".join([*head, *rows, ""]), encoding="utf-8")
    walk = walk_home(with_file(demo_plan, path))
    assert walk.hours["air_c"].to_numpy() == pytest.approx(np.full(len(walk.hours), 11.0))


@pytest.mark.parametrize(
    ("depart", "after", "clocks"),
    [
        # European Union: clocks go back on 25 October 2026 at 03:00, ahead on 29 March at 02:00.
        ("2026-10-25T00:30:00", 3, "2026-10-25T02:30:00+01:00"),
        ("2026-03-29T00:30:00", 2, "2026-03-29T03:30:00+02:00"),
    ],
)
def test_clocks_that_shift_during_the_walk_shift_in_the_ledger(
    demo_plan: Plan, depart: str, after: int, clocks: str
) -> None:
    when = datetime.fromisoformat(depart)
    trip = {"depart": when, "timezone": "Europe/Berlin"}
    walk = walk_home(demo_plan.with_changes(trip=trip))
    stamps = walk.hours["clock_start"].tolist()
    assert stamps[after].isoformat() == clocks
    assert {b - a for a, b in pairwise(stamps)} == {timedelta(hours=1)}
    told = walk.summary["time"]
    gone = datetime.fromisoformat(told["arrive"]) - datetime.fromisoformat(told["depart"])
    assert gone.total_seconds() / 3600.0 == pytest.approx(told["elapsed_h"], abs=0.001)


@pytest.mark.parametrize(
    ("month", "dark", "events"), [(6, False, 0), (12, True, 0)], ids=["midnight sun", "polar night"]
)
def test_polar_day_and_night_are_walked(
    write_town: TownWriter, month: int, dark: bool, events: int
) -> None:
    # 78 degrees north: the sun neither rises nor sets in June and December (Astronomical Almanac).
    plan = re.sub(r"46\.0", "78.0", PLAN).replace("2026-05-04", f"2026-{month:02d}-21")
    plan = plan.replace('elevation = ["heights.tif"]\n', "").replace(
        "[trip]", '[trip]\ntimezone = "Arctic/Longyearbyen"'
    )
    path = write_town(plan)
    town = path.parent / "town.osm"
    town.write_text(town.read_text(encoding="utf-8").replace('lat="46.', 'lat="78.'), "utf-8")
    walk = walk_home(Plan.read(path).with_changes(choices={"what_if": False}))
    told = walk.summary
    happening = ("civil_dawn", "sunrise", "sunset", "civil_dusk")
    assert sum(told["sun"][name] is not None for name in happening) == events
    assert told["sun"]["state"] == ("dark all day" if dark else "sun never sets")
    assert ("does not rise" if dark else "does not set") in told["sun"]["told"]
    assert (told["time"]["dark_h"] > 0.0) == dark
    assert set(walk.hours["daylight"]) == ({"night"} if dark else {"day"})
    json.dumps(told, allow_nan=False)


# --- water, food, moon, and what no model says --------------------------------------------------


def test_weather_beyond_every_table_is_the_worst_and_still_written(
    last_hours: Plan, tmp_path: Path
) -> None:
    # 43 degrees C at 90 % lies beyond the printed heat index table of the US weather service.
    plan = last_hours.with_changes(weather={"air_c": 43.0, "humidity_pct": 90.0})
    walk = walk_home(plan)
    assert walk.summary["verdict"]["level"] == "stay and wait"
    assert "beyond the published tables" in walk.summary["verdict"]["reasons"][0]
    assert walk.summary["cold_heat"]["hottest_felt_c"] is None
    json.dumps(walk.summary, allow_nan=False)
    assert all(path.stat().st_size > 0 for path in walk.save(tmp_path / "out"))


@pytest.mark.parametrize(
    ("weather", "known", "words", "other"),
    [
        # Rothfusz 1990 reaches 44.5 degrees C of air and a printed index of 60, Osczevski and
        # Bluestein 2005 air of -60 and 110 km/h of wind (from memory): beyond, nothing is felt.
        ({"air_c": 42.0, "humidity_pct": 60.0}, False, HEAT, COLD),
        ({"air_c": 50.0, "humidity_pct": 20.0}, False, HEAT, COLD),
        ({"air_c": -50.0}, True, COLD, HEAT),
        ({"air_c": -65.0}, False, COLD, HEAT),
        ({"air_c": 8.0, "wind_m_s": 40.0}, False, COLD, HEAT),
        ({"air_c": 30.0, "humidity_pct": 50.0}, True, HEAT, COLD),
        ({"air_c": 2.0}, True, COLD, HEAT),
    ],
)
def test_heat_and_cold_cautions_stay_in_the_worst_weather(
    last_hours: Plan, weather: dict[str, float], words: str, other: str, *, known: bool
) -> None:
    told = walk_home(last_hours.with_changes(weather=weather)).summary
    assert (told["cold_heat"]["coldest_felt_c"] is not None) is known
    assert words in told["cautions"]
    assert other not in told["cautions"]


def test_the_published_guidance_on_water_and_food_is_among_the_cautions(usual: Walk) -> None:
    cautions = usual.summary["cautions"]
    assert drinking.DO_NOT_RATION in cautions
    assert drinking.DO_NOT_OVERDRINK in cautions
    assert any(energy.ONE_DAY_SHORTAGE in text for text in cautions)
    assert usual.summary["water"]["worst_loss_means"] in {
        step.means for step in drinking.DEHYDRATION_STEPS
    }


@pytest.mark.slow
def test_nobody_drinks_faster_or_more_than_is_safe(demo_plan: Plan) -> None:
    hot = demo_plan.with_changes(weather={"air_c": 38.0, "humidity_pct": 40.0, "rain_mm_h": 0.0})
    walk = walk_home(hot)
    assert walk.hours["drunk_ml"].max() <= drinking.MAX_DRINK_ML_H + 1e-6
    assert not any("drinks more" in text for text in walk.summary["cautions"])


@pytest.mark.slow
def test_the_moon_is_told_in_words_and_changes_no_number(demo_plan: Plan) -> None:
    # Full moon 2026-11-24 14:53 UTC, new moon 2026-11-09 07:02 UTC (published almanacs, from
    # memory; the illuminated share is checked here against the day only).
    full, new = (
        walk_home(demo_plan.with_changes(trip={"depart": datetime(2026, 11, day, 18, 0)}))  # noqa: DTZ001
        for day in (24, 9)
    )
    bright, black = full.summary["light"]["moon"], new.summary["light"]["moon"]
    assert bright["illuminated_pct"] > 97.0
    assert black["illuminated_pct"] < 3.0
    assert "lamp" in bright["words"]
    assert full.summary["light"]["unlit_h"] == pytest.approx(
        new.summary["light"]["unlit_h"], abs=0.1
    )
    middle = moon_light(
        *demo_plan.trip.start, datetime.fromisoformat("2026-11-24T21:00:00-02:00").timestamp()
    )
    assert bright["clear_sky_lux"] >= float(middle.clear_sky_lux) * 0.99


def test_rain_on_the_way_says_that_wet_clothes_are_not_counted(usual: Walk) -> None:
    assert any("wet clothes are not counted" in text for text in usual.summary["assumptions"])


def test_start_and_home_on_one_point_of_the_street_are_refused(write_town: TownWriter) -> None:
    path = write_town(PLAN.replace("home = [46.0148, -64.7952]", "home = [46.00021, -64.7998]"))
    walk_or_refusal = Plan.read(path).with_changes(trip={"home": (46.0002, -64.79980001)})
    with pytest.raises(InputError, match=r"trip.home.*same point"):
        walk_home(walk_or_refusal.with_changes(trip={"start": (46.0002, -64.7998)}))
