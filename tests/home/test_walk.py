"""The main question on a hand-written town and on the demo place."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator import InputError, NoWayHomeError, Plan, demo_folder, walk_home
from simulator.home import walk as home
from simulator.home.answer import Walk
from simulator.home.scene import Scene, prepare, walkers_of
from simulator.home.way import Way, find_way
from tests.conftest import EXAMPLES, PLAN, TownWriter


@pytest.fixture(scope="module")
def demo_plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml")


@pytest.fixture(scope="module")
def demo_scene(demo_plan: Plan) -> Scene:
    return prepare(demo_plan)


@pytest.fixture(scope="module")
def demo_way(demo_scene: Scene) -> Way:
    return find_way(demo_scene)


@pytest.fixture(scope="module")
def demo_walk(demo_scene: Scene, demo_way: Way) -> Walk:
    return home.tabulate(demo_scene, home.walk_way(demo_scene, demo_way))


def test_the_demo_walk_is_about_25_km_and_crosses_the_river(demo_walk: Walk) -> None:
    route = demo_walk.summary["route"]
    assert 22.0 < route["distance_km"] < 28.0
    assert route["bridges"]


def test_the_summary_is_plain_json(demo_walk: Walk) -> None:
    told = json.loads(json.dumps(demo_walk.summary, allow_nan=False))
    assert told["verdict"]["level"] in {"walk", "walk with care", "stay and wait"}
    assert told["verdict"]["reasons"]


def test_water_energy_light_and_time_balance_in_the_summary(demo_walk: Walk) -> None:
    balance(demo_walk.summary)


def balance(told: dict[str, Any]) -> None:
    """Check every sum that the contract states."""
    water, food, light, time = told["water"], told["food"], told["light"], told["time"]
    drawn = water["carried_l"] + water["refilled_l"] - water["drunk_l"] - water["left_l"]
    assert drawn == pytest.approx(0.0, abs=1e-9)
    assert water["left_l"] >= -1e-9
    assert water["drunk_l"] <= water["need_l"] + 1e-9
    given = food["eaten_kcal"] + food["from_body_kcal"] + food["short_kcal"]
    assert food["need_kcal"] == pytest.approx(given)
    assert food["eaten_kcal"] <= food["carried_kcal"] + 1e-9
    assert light["short_h"] <= light["unlit_h"] + 1e-9
    assert light["unlit_h"] - light["short_h"] <= light["carried_h"] + 1e-9
    parts = time["moving_h"] + time["resting_h"] + time["stopped_h"]
    assert parts == pytest.approx(time["elapsed_h"])
    gone = datetime.fromisoformat(time["arrive"]) - datetime.fromisoformat(time["depart"])
    assert gone.total_seconds() / 3600.0 == pytest.approx(time["elapsed_h"], abs=1.0 / 3600.0)


def test_the_ledger_adds_up_to_the_summary(demo_walk: Walk) -> None:
    hours, told = demo_walk.hours, demo_walk.summary
    assert hours["distance_km"].sum() == pytest.approx(told["route"]["distance_km"])
    assert hours["ascent_m"].sum() == pytest.approx(told["route"]["ascent_m"])
    assert hours["water_lost_ml"].sum() / 1000.0 == pytest.approx(told["water"]["need_l"])
    assert hours["drunk_ml"].sum() / 1000.0 == pytest.approx(told["water"]["drunk_l"])
    assert hours["moving_min"].sum() / 60.0 == pytest.approx(told["time"]["moving_h"])
    assert hours["dark_min"].sum() / 60.0 == pytest.approx(told["time"]["dark_h"])
    whole = hours.iloc[:-1]
    spent = whole["moving_min"] + whole["resting_min"] + whole["stopped_min"]
    assert np.allclose(spent, 60.0)


def test_each_effect_on_pace_can_be_switched_off_alone(last_hours: Plan) -> None:
    # By night, so that the dark has its effect.
    depart = last_hours.trip.depart.replace(hour=19)
    usual = prepare(last_hours.with_changes(trip={"depart": depart}))
    way = find_way(usual)

    def timed(**switch: bool) -> dict[str, Any]:
        scene = replace(usual, manner=replace(usual.manner, **switch))  # type: ignore[arg-type]
        told: dict[str, Any] = home.tabulate(scene, home.walk_way(scene, way)).summary["time"]
        return told

    all_on = timed()
    for name in ("surface", "load", "dark", "fatigue"):
        told = timed(**{name: False})
        assert told["pace_cost_min"][name] == 0.0
        # Nobody tires within two hours, and what is not there costs nothing.
        costs = all_on["pace_cost_min"][name] > 0.0
        assert (told["moving_h"] < all_on["moving_h"]) is costs
    assert min(all_on["pace_cost_min"][name] for name in ("load", "dark")) > 0.0


def test_refills_that_are_used_are_open_or_never_locked(demo_walk: Walk) -> None:
    used = demo_walk.refills[demo_walk.refills["used"]]
    assert (used["litres"] > 0.0).all()
    assert used["litres"].sum() == pytest.approx(demo_walk.summary["water"]["refilled_l"])
    assert (used["open"] != "no").all()
    assert demo_walk.refills["why"].str.len().gt(0).all()


def test_the_same_plan_gives_the_same_walk(last_hours: Plan) -> None:
    plan = last_hours.with_changes(choices={"what_if": True})
    first, again = walk_home(plan), walk_home(plan)
    assert again.summary == first.summary
    assert again.hours.equals(first.hours)
    assert again.what_if is not None


@pytest.mark.slow
@settings(max_examples=EXAMPLES // 2)
@given(
    mass_kg=st.floats(45.0, 120.0),
    pace=st.floats(0.6, 1.2),
    hour=st.integers(0, 23),
    air_c=st.floats(-15.0, 36.0),
    event=st.sampled_from(["none", "power failure", "flood", "storm"]),
    day_h=st.floats(3.0, 20.0),
)
def test_every_balance_holds_over_random_plans(
    demo_plan: Plan,
    mass_kg: float,
    pace: float,
    hour: int,
    air_c: float,
    event: str,
    day_h: float,
) -> None:
    plan = demo_plan.with_changes(
        trip={"depart": demo_plan.trip.depart.replace(hour=hour)},
        walker={"mass_kg": mass_kg, "pace_factor": pace},
        weather={"air_c": air_c},
        event={"kind": event},
        choices={"longest_day_h": day_h},
    )
    balance(walk_home(plan).summary)


def test_more_water_in_the_bag_never_makes_the_shortage_worse(
    demo_scene: Scene, demo_way: Way
) -> None:
    shortages = []
    for litres in (0.0, 0.5, 2.0):
        load = replace(
            demo_scene.carried,
            water_ml=1000.0 * litres,
            water_capacity_ml=max(1000.0 * litres, 500.0),
        )
        scene = replace(demo_scene, carried=load, walkers=walkers_of(demo_scene.plan, load))
        walked = home.walk_way(scene, demo_way)
        shortages.append(float(walked.outcome.worst_short_ml.sum()))
    assert shortages == sorted(shortages, reverse=True)
    assert shortages[-1] == 0.0


def test_closing_a_bridge_of_the_way_never_makes_it_better(
    demo_scene: Scene, demo_way: Way
) -> None:
    course = demo_way.course
    bridge = np.zeros(demo_scene.streets.way.size, dtype=bool)
    bridge[course.segment[course.bridge]] = True
    around = find_way(demo_scene, also_closed=bridge)
    # In what it is chosen by: time, weighed beside traffic.
    assert sum(leg.cost for leg in around.legs) > sum(leg.cost for leg in demo_way.legs)
    assert not bridge[around.course.segment].any()


def test_a_town_without_its_bridge_has_no_way_home_and_says_how_far_each_side_reaches(
    write_town: TownWriter,
) -> None:
    with pytest.raises(NoWayHomeError, match=r"km"):
        walk_home(Plan.read(write_town(bridge=False)))


def test_a_via_is_passed_in_order(write_town: TownWriter) -> None:
    path = write_town(PLAN.replace("home =", "via = [[46.0002, -64.7952]]\nhome ="))
    walk = walk_home(Plan.read(path))
    straight = walk_home(Plan.read(path).with_changes(trip={"via": ()}))
    assert walk.summary["route"]["distance_km"] > straight.summary["route"]["distance_km"]
    near = np.hypot(walk.path_lonlat[:, 0] + 64.7952, walk.path_lonlat[:, 1] - 46.0002)
    assert near.min() < 1e-3


def test_flat_ground_is_said_loudly(write_town: TownWriter) -> None:
    walk = walk_home(Plan.read(write_town(PLAN.replace('elevation = ["heights.tif"]\n', ""))))
    assert walk.summary["route"]["ascent_m"] == 0.0
    assert any(text.startswith("NO HEIGHTS") for text in walk.summary["assumptions"])


def test_a_raster_without_a_unit_and_what_slows_nobody_are_among_the_assumptions(
    write_town: TownWriter,
) -> None:
    path = write_town()
    plan = Plan.read(path).with_changes(choices={"what_if": False})
    told = " ".join(walk_home(plan).summary["assumptions"])
    assert "heights.tif gives no unit of height: metres are assumed" in told
    assert "Heat and cold slow nobody here" in told
    assert "thin air" not in told
    with rasterio.open(path.parent / "heights.tif", "r+") as raster:
        raster.units = ("metre",)
        raster.write(raster.read(1) + np.float32(2200.0), 1)
    high = " ".join(walk_home(plan).summary["assumptions"])
    assert "no unit of height" not in high
    # The town's raster runs from 10 to 40 m.
    assert re.search(r"climbs to 22[1-4]\d m: thin air slows nobody here", high)


def test_uphill_takes_longer_than_downhill(write_town: TownWriter) -> None:
    plan = Plan.read(write_town())
    there = walk_home(plan).summary
    back = walk_home(plan.with_changes(trip={"start": plan.trip.home, "home": plan.trip.start}))
    assert there["route"]["ascent_m"] == pytest.approx(back.summary["route"]["descent_m"], abs=0.5)
    assert there["time"]["moving_h"] != pytest.approx(back.summary["time"]["moving_h"], rel=1e-3)


def test_weather_that_ends_before_the_walk_does_is_refused(write_town: TownWriter) -> None:
    path = write_town(
        re.sub(r"\[weather\].*", '[weather]\nfile = "hours.csv"\n', PLAN, flags=re.DOTALL)
    )
    (path.parent / "hours.csv").write_text(
        "time,air_c,humidity_pct,wind_m_s,cloud_pct,rain_mm_h\n"
        "2026-05-04T08:00,10,60,2,50,0\n2026-05-04T09:00,11,60,2,50,0\n",
        encoding="utf-8",
    )
    with pytest.raises(InputError, match="weather"):
        walk_home(Plan.read(path))


def test_all_files_of_the_contract_are_written_together(
    write_town: TownWriter, tmp_path: Path
) -> None:
    saved = walk_home(Plan.read(write_town())).save(tmp_path / "out")
    assert {path.name for path in saved} == {
        "summary.json",
        "hours.csv",
        "refills.csv",
        "route.geojson",
        "route.gpx",
        "bottles.csv",
        "timeline.pdf",
        "page.html",
        "credits.txt",
    }
    assert all(path.stat().st_size > 0 for path in saved)


def test_people_who_cannot_take_stairs_are_led_around_them(
    demo_scene: Scene, demo_plan: Plan
) -> None:
    limited = prepare(demo_plan.with_changes(walker={"limits": ("no stairs",)}))
    way = find_way(limited)
    assert not way.course.stairs.any()
    # What ways are chosen by never falls when something is barred; time alone may.
    usual = find_way(demo_scene)
    assert sum(leg.cost for leg in way.legs) >= sum(leg.cost for leg in usual.legs) - 1e-6


def test_what_darkness_takes_is_told_where_it_is_counted_and_only_there(last_hours: Plan) -> None:
    counted, left_out = (
        walk_home(last_hours.with_changes(pace={"dark": dark})).summary["assumptions"]
        for dark in (True, False)
    )
    assert any(text.startswith("After dark pace falls to") for text in counted)
    assert not any(text.startswith("After dark pace falls to") for text in left_out)
    assert "Left out by the plan: dark." in left_out
    assert "Left out by the plan: dark." not in counted
