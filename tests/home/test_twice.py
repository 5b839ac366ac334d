"""A place that the way comes back to is passed twice: an out-and-back beside one tap, by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod

from simulator import Plan, Walk, walk_home
from simulator.home.crowd import settle_one, walk_crowd
from simulator.home.crowd_records import Crowd, StopChoice
from simulator.home.refills import needs_of_walk
from simulator.home.scene import Scene, prepare
from simulator.home.walk import walk_way
from simulator.home.walked import Walked
from simulator.home.way import find_way
from simulator.walk.account import What
from simulator.walk.records import Total
from simulator.walk.stops import AGAIN_M, Outline, Reach, both_ways

DEGREE_M = 111_320.0 * np.cos(np.radians(46.0))
TAP_KM, TURN_KM, HOME_KM = 8.0, 11.0, 1.0
"""The way goes 11 km east and comes back to 1 km: it passes the tap at 8 km and at 14 km."""

PLAN = """\
title = "Out and back"
[trip]
start = [46.0, 7.0]
via = [[46.0, {turn:.7f}]]
home = [46.0, {home:.7f}]
depart = 2026-05-04T08:00:00
[map]
extract = "road.osm"
[walker]
mass_kg = 75
height_m = 1.75
age_y = 40
sex = "male"
[bag]
items = "bag.csv"
[choices]
what_if = false
[weather]
air_c = 27
humidity_pct = 40
wind_m_s = 2
cloud_pct = 0
rain_mm_h = 0
"""

BAG = """\
item,purpose,tier,quantity,mass_g,volume_ml,price,expires,water_ml,treats_ml,energy_kcal,light_h,\
warmth_clo,power_wh,caution
bottle,water,basic,1,{mass},{volume},4,,{volume},,,,,,
oat bar,food,basic,8,50,60,1,2027-06-30,,,200,,,,
lamp,light,basic,1,60,50,8,,,,,10,,,
"""

RoadWriter = Callable[..., Plan]


def east(km: float) -> float:
    return 7.0 + 1000.0 * km / float(DEGREE_M)


@pytest.fixture
def road(tmp_path: Path) -> RoadWriter:
    def write(*, hours: str = "", bottle_ml: int = 1000, turn_km: float = TURN_KM) -> Plan:
        nodes = [
            f'<node id="{number + 1}" version="1" lat="46.0" lon="{east(0.5 * number):.7f}"/>'
            for number in range(25)
        ]
        tags = {"amenity": "drinking_water"} | ({"opening_hours": hours} if hours else {})
        told = "".join(f'<tag k="{key}" v="{value}"/>' for key, value in tags.items())
        tap = f'<node id="99" version="1" lat="46.00005" lon="{east(TAP_KM):.7f}">{told}</node>'
        refs = "".join(f'<nd ref="{number + 1}"/>' for number in range(25))
        way = (
            f'<way id="1" version="1">{refs}<tag k="highway" v="residential"/>'
            '<tag k="sidewalk" v="both"/><tag k="lit" v="yes"/><tag k="surface" v="asphalt"/></way>'
        )
        text = f'<osm version="0.6" generator="invented">{"".join(nodes)}{tap}{way}</osm>'
        (tmp_path / "road.osm").write_text(text, encoding="utf-8")
        bag = BAG.format(mass=bottle_ml + 60, volume=bottle_ml)
        (tmp_path / "bag.csv").write_text(bag, encoding="utf-8")
        plan = PLAN.format(turn=east(turn_km), home=east(HOME_KM))
        (tmp_path / "plan.toml").write_text(plan, encoding="utf-8")
        return Plan.read(tmp_path / "plan.toml")

    return write


def walked_of(plan: Plan) -> tuple[Scene, Walked]:
    scene = prepare(plan)
    return scene, walk_way(scene, find_way(scene))


def test_it_is_met_at_both_distances(road: RoadWriter) -> None:
    scene, walked = walked_of(road())
    nearby = walked.nearby
    assert nearby.place.tolist() == [0, 0]
    assert nearby.along_m == pytest.approx([8_000.0, 14_000.0], rel=0.005)
    assert nearby.off_m == pytest.approx([5.6, 5.6], abs=0.2)
    assert nearby.step[0] < nearby.step[1]
    # As the search for many people says.
    reach = Reach(
        scene.places,
        scene.streets,
        walkable=both_ways(scene.streets, scene.closed),
        reach_m=300.0,
        rows=np.array([0]),
    )
    again = reach.along(walked.way.course, start_fraction=walked.way.legs[0].from_fraction)
    assert again.passing == nearby.passing
    assert again.along_m == pytest.approx(nearby.along_m)


def test_turning_back_within_sight_is_one_passing(road: RoadWriter) -> None:
    # Beyond the reach of 300 m for less than AGAIN_M of way.
    turn_km = TAP_KM + (300.0 + 0.4 * AGAIN_M) / 1000.0
    scene, walked = walked_of(road(turn_km=turn_km))
    assert walked.nearby.place.tolist() == [0]
    assert not Outline.of(walked.way.course).comes_back(scene.places, np.array([0]), 300.0)
    # Of its two points, as far off, the first counts, however it is looked for.
    reach = Reach(
        scene.places,
        scene.streets,
        walkable=both_ways(scene.streets, scene.closed),
        reach_m=300.0,
        rows=np.array([0]),
    )
    again = reach.along(walked.way.course, start_fraction=walked.way.legs[0].from_fraction)
    for nearby in (walked.nearby, again):
        assert nearby.along_m == pytest.approx([8_000.0], rel=0.005)


def test_the_bottle_is_filled_on_the_way_out_and_on_the_way_back(road: RoadWriter) -> None:
    walk = walk_home(road())
    assert walk.refills["along_km"].tolist() == pytest.approx([8.0, 14.0], rel=0.005)
    assert walk.refills["used"].tolist() == [True, True]
    litres = walk.refills["litres"].to_numpy(float)
    assert litres.sum() == pytest.approx(walk.facts.water.refilled_l)
    # 21 km in the sun ask for more than three bottles of a litre would leave without the second.
    assert (litres > 0.3).all()
    assert walk.facts.water.short_l == 0.0
    # Where the tap is dry on the way out, it is dry on the way back.
    assert "drinking water" not in walk.refills["if_dry"].iloc[0]


def test_each_passing_has_its_own_hour(road: RoadWriter) -> None:
    # It opens between the two: about 09:50 on the way out, 11:20 on the way back.
    walk = walk_home(road(hours="10:30-18:00"))
    assert walk.refills["open"].tolist() == ["no", "yes"]
    assert walk.refills["relied_on"].tolist() == [False, True]
    assert walk.refills["used"].tolist() == [False, True]


def test_a_crowd_stops_at_both_as_the_plan_does(road: RoadWriter) -> None:
    scene, walked = walked_of(road())
    assert [stop.step for stop in walked.stops] == walked.nearby.step.tolist()
    depart = np.full(3, scene.depart_epoch_s)
    members = scene.walkers.count
    three = type(scene.walkers)(
        **{
            name: np.tile(getattr(scene.walkers, name), 3)
            for name in scene.walkers.__slots__
            if name != "party"
        },
        party=np.arange(3),
    )
    arrivals = walk_crowd(scene, walked, Crowd(three, members, depart), conditions=scene.conditions)
    clock = float(walked.outcome.totals[Total.CLOCK_S, 0])
    assert arrivals.elapsed_s == pytest.approx(np.full(3, clock))


def test_what_was_dry_on_the_way_out_is_not_tried_on_the_way_back(road: RoadWriter) -> None:
    scene, walked = walked_of(road())
    needs = needs_of_walk(scene, walked.nearby, walked.reading, walked.outcome)
    usable = np.ones((2, 1), dtype=bool)
    assert needs.choose(usable).chosen[:, 0].tolist() == [True, True]
    dry = needs.choose(usable, works=np.zeros((2, 1), dtype=bool))
    assert dry.chosen[:, 0].tolist() == [True, False]
    # Another tap there would be tried.
    other = replace(needs, place=np.array([[0], [1]]))
    assert other.choose(usable, works=np.zeros((2, 1), dtype=bool)).chosen.all()


def test_stops_are_carried_to_another_way_passing_by_passing() -> None:
    key = np.array([[1], [0], [3]])
    one = StopChoice(key, key - 1, key > 1, 50.0 * key)
    there = one.at(np.array([7, 5, 7]), np.array([7, 7, 7, 6]))
    assert there.key[:, 0].tolist() == [1, 3, 0, 0]


def test_the_plan_settles_on_both(road: RoadWriter) -> None:
    scene, walked = walked_of(road())
    stops, halts, _choice, settled, _begun = settle_one(scene, walked.way.course, walked.nearby)
    assert settled
    assert not halts
    assert [(stop.place, stop.step) for stop in stops] == walked.nearby.passing


def test_a_walk_has_words_for_each(road: RoadWriter) -> None:
    walk: Walk = walk_home(road())
    stopped = walk.hours[walk.hours["stops"].str.contains("water")]
    assert len(stopped) == 2


def test_other_hours_fill_the_bottle_at_both(road: RoadWriter) -> None:
    walk = walk_home(road().with_changes(choices={"what_if": True}))
    assert walk.what_if is not None
    answers = walk.what_if.turned[0].answers
    assert answers is not None
    depart_min, water_ml, pace = walk.what_if.settings.columns()
    # A bottle of a litre at the plan's pace: by day and by night the tap is there twice.
    asked = np.isclose(water_ml, 1000.0) & np.isclose(pace, 1.0)
    assert np.unique(depart_min[asked]).size > 1
    assert (answers.account.missing[What.WATER][asked] == 0.0).all()
    # Once is not enough: where the tap closes before the way back, the last 7 km are dry.
    shut = walk_home(road(hours="09:00-10:30"))
    assert shut.refills["open"].tolist() == ["yes", "no"]
    assert shut.facts.water.short_l > 0.0


@pytest.mark.slow
def test_up_a_real_valley_and_back_no_place_is_passed_more_often_than_it_comes_near(
    liechtenstein: Path, road: RoadWriter
) -> None:
    plan = road().with_changes(
        map={"extract": liechtenstein},
        trip={
            "start": (47.1410, 9.5209),
            "via": ((47.1020, 9.6080),),
            "home": (47.1410, 9.5215),
        },
    )
    scene = prepare(plan)
    way = find_way(scene)
    walked = walk_way(scene, way)
    nearby, course = walked.nearby, way.course
    reach_m = plan.choices.refill_reach_m
    reach = Reach(
        scene.places,
        scene.streets,
        walkable=both_ways(scene.streets, scene.closed),
        reach_m=reach_m,
        rows=np.arange(scene.places.segment.size),
    )
    again = reach.along(course, start_fraction=way.legs[0].from_fraction)
    assert again.passing == nearby.passing
    assert again.along_m == pytest.approx(nearby.along_m)
    places, times = np.unique(nearby.place, return_counts=True)
    assert times.max() == 2
    assert (times == 2).sum() > 50
    # Geodesics from a point every 10 m of the way: how often it leaves the reach for longer.
    along_m = np.arange(0.0, course.length_m, 10.0)
    lon = np.interp(along_m, course.distance_m, course.lon)
    lat = np.interp(along_m, course.distance_m, course.lat)
    for place, count in zip(places.tolist(), times.tolist(), strict=True):
        there = [np.full(lon.size, each[place]) for each in (scene.places.lon, scene.places.lat)]
        off_m = Geod(ellps="WGS84").inv(lon, lat, *there)[2]
        near = np.flatnonzero(off_m <= reach_m)
        assert count <= 1 + int((np.diff(along_m[near]) > AGAIN_M).sum())
