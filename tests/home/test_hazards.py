"""Where to take care, on a street written by hand where every hazard stands at a known place."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from pyproj import Geod

from simulator import Plan, demo_folder, walk_home
from simulator.ground.walkable import HIGHWAYS
from simulator.home.hazards import BESIDE_M, JOINED_M, KINDS, _own_road, _road_at, _runs
from simulator.home.scene import Scene
from simulator.walk.course import Course
from tests.conftest import BAG

SOUTH, WEST, STEP_DEG = 46.0, -64.8, 0.002
STEP_M = Geod(ellps="WGS84").inv(WEST, SOUTH, WEST, SOUTH + STEP_DEG)[2]  # about 222 m
QUIET = {"highway": "footway", "lit": "yes", "surface": "asphalt"}

PLAN = f"""\
title = "One street"
[trip]
start = [{SOUTH}, {WEST}]
home = [{{home}}, {WEST}]
depart = {{depart}}
[map]
extract = "street.osm"
[walker]
mass_kg = 80
height_m = 1.75
age_y = 40
sex = "male"
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
kind = "{{event}}"
{{closed}}
[choices]
what_if = false
"""
NIGHT, DAY = "2026-12-01T20:00:00", "2026-12-01T12:00:00"

Street = Callable[..., list[dict[str, Any]]]


@pytest.fixture
def street(tmp_path: Path) -> Street:
    """Give a function that walks one straight street and returns its hazards."""

    def walk(
        pieces: list[dict[str, str]],
        *,
        depart: str = NIGHT,
        event: str = "none",
        closed: str = "",
        points: dict[int, dict[str, str]] | None = None,
        across: dict[int, dict[str, str]] | None = None,
    ) -> list[dict[str, Any]]:
        nodes, ways = [], []
        for row in range(len(pieces) + 1):
            tags = "".join(
                f'<tag k="{k}" v="{v}"/>' for k, v in (points or {}).get(row, {}).items()
            )
            at = f'lat="{SOUTH + row * STEP_DEG}" lon="{WEST}"'
            nodes.append(f'<node id="{row + 1}" version="1" {at}>{tags}</node>')

        def way(number: int, refs: list[int], tags: dict[str, str]) -> None:
            told = "".join(f'<tag k="{k}" v="{v}"/>' for k, v in tags.items())
            line = "".join(f'<nd ref="{ref}"/>' for ref in refs)
            ways.append(f'<way id="{number}" version="1">{line}{told}</way>')

        for row, piece in enumerate(pieces):
            way(100 + row, [row + 1, row + 2], QUIET | piece)
        for row, crossing in (across or {}).items():
            for side, ref in ((-1, 500 + row), (1, 600 + row)):
                at = f'lat="{SOUTH + row * STEP_DEG}" lon="{WEST + side * STEP_DEG}"'
                nodes.append(f'<node id="{ref}" version="1" {at}/>')
            way(700 + row, [500 + row, row + 1, 600 + row], crossing)
        text = f'<osm version="0.6" generator="invented">{"".join(nodes)}{"".join(ways)}</osm>'
        (tmp_path / "street.osm").write_text(text, encoding="utf-8")
        (tmp_path / "bag.csv").write_text(BAG, encoding="utf-8")
        home = SOUTH + len(pieces) * STEP_DEG
        plan = tmp_path / "plan.toml"
        plan.write_text(PLAN.format(home=home, depart=depart, event=event, closed=closed), "utf-8")
        told: list[dict[str, Any]] = walk_home(Plan.read(plan)).summary["hazards"]
        return told

    return walk


def spans(hazards: list[dict[str, Any]], kind: str) -> list[tuple[float, float]]:
    """Give where a kind holds, in steps of the street."""
    return [
        (round(1000.0 * one["from_km"] / STEP_M, 2), round(1000.0 * one["to_km"] / STEP_M, 2))
        for one in hazards
        if one["kind"] == kind
    ]


def test_a_quiet_lit_footway_by_night_has_none(street: Street) -> None:
    assert street([{}] * 5) == []


# Keys and values as on the OpenStreetMap wiki.
BARE_ROAD = {"highway": "tertiary", "lit": "no", "name": "Mill Road"}


def test_an_unlit_road_without_a_sidewalk_is_told_after_dark_only(street: Street) -> None:
    pieces = [{}, BARE_ROAD, BARE_ROAD, {}]
    assert spans(street(pieces), "traffic in the dark") == [(1.0, 3.0)]
    assert street(pieces, depart=DAY) == []


@pytest.mark.parametrize(
    "better", [{"sidewalk": "both"}, {"lit": "yes"}, {"highway": "residential"}]
)
def test_a_sidewalk_a_lamp_or_a_street_without_through_traffic_takes_it_away(
    street: Street, better: dict[str, str]
) -> None:
    assert street([{}, BARE_ROAD | better, {}]) == []


def test_a_power_failure_puts_the_lamps_out(street: Street) -> None:
    pieces = [{}, BARE_ROAD | {"lit": "yes"}, {}]
    assert spans(street(pieces, event="power failure"), "traffic in the dark") == [(1.0, 2.0)]


def test_steps_are_told_where_they_are_dark(street: Street) -> None:
    pieces = [{}, {"highway": "steps", "lit": "no"}, {}]
    assert spans(street(pieces), "steps in the dark") == [(1.0, 2.0)]
    assert street(pieces, depart=DAY) == []
    assert street([{}, {"highway": "steps", "lit": "yes"}, {}]) == []


@pytest.mark.parametrize(
    ("tags", "kind"),
    [
        ({"tunnel": "yes"}, "tunnel"),
        ({"ford": "yes"}, "ford"),
        ({"ford": "stepping_stones"}, "ford"),
        ({"flood_prone": "yes"}, "floods"),
        ({"tidal": "yes"}, "floods"),
        ({"opening_hours": "Mo-Fr 06:00-22:00"}, "shut at times"),
        ({"trail_visibility": "bad"}, "poor path"),
        ({"hazard": "falling_rocks"}, "marked hazard"),
    ],
)
def test_what_the_map_says_of_a_way_is_told_by_day_and_by_night(
    street: Street, tags: dict[str, str], kind: str
) -> None:
    for depart in (DAY, NIGHT):
        told = street([{}, {}, tags, {}], depart=depart)
        assert [one["kind"] for one in told] == [kind]
        assert spans(told, kind) == [(2.0, 3.0)]


def test_a_crossing_of_a_railway_is_told_where_the_rails_lie(street: Street) -> None:
    told = street([{}] * 4, points={2: {"railway": "level_crossing"}})
    assert spans(told, "level crossing") == [(2.0, 2.0)]
    assert told[0]["lat"] == pytest.approx(SOUTH + 2 * STEP_DEG, abs=1e-6)


def test_crossing_a_big_road_is_told_and_walking_along_one_is_not(street: Street) -> None:
    big = {"highway": "primary", "lit": "yes", "sidewalk": "both", "name": "Trunk Street"}
    told = street([{}] * 4, across={2: big})
    assert spans(told, "big road") == [(2.0, 2.0)]
    assert told[0]["street"] == "Trunk Street"
    assert street([{}] * 4, across={2: big | {"highway": "residential"}}) == []
    assert street([{}, big, big, {}]) == []
    # Two big roads that cross: the one not walked along is named.
    told = street([big] * 4, across={2: big | {"name": "Ring"}})
    assert [one["street"] for one in told] == ["Ring"]
    # Other carriageways of the road that is walked along are not crossed by walking on.
    assert street([big] * 4, across={2: big}) == []


def test_near_stretches_are_one_and_far_ones_are_two(street: Street) -> None:
    gap = {"tunnel": "yes"}
    assert spans(street([gap, {}, gap]), "tunnel") == [(0.0, 1.0), (2.0, 3.0)]  # 222 m apart
    close = street([{"ford": "yes"}, {"ford": "yes"}])
    assert spans(close, "ford") == [(0.0, 2.0)]


def test_passing_what_the_plan_closes_is_told(street: Street) -> None:
    lane = QUIET | {"name": "Shut Lane"}
    told = street([{}] * 4, across={2: lane}, closed='closed = ["Shut Lane"]')
    (one,) = told
    assert one["kind"] == "beside closed"
    assert one["street"] == "Shut Lane"
    at_m, sampled_m = 2.0 * STEP_M, 20.0
    assert 1000.0 * one["from_km"] == pytest.approx(at_m - BESIDE_M, abs=sampled_m)
    assert 1000.0 * one["to_km"] == pytest.approx(at_m + BESIDE_M, abs=sampled_m)


def test_every_entry_has_its_letter_clock_time_and_advice(street: Street) -> None:
    told = street([{"tunnel": "yes"}, {}, {"ford": "yes"}, {}, BARE_ROAD])
    assert [one["mark"] for one in told] == ["a", "b", "c"]
    for one in told:
        assert one["words"] == KINDS[one["kind"]].words.format(sidewalk="pavement")
        assert one["advice"] == KINDS[one["kind"]].advice
        assert one["from_km"] <= one["to_km"]
    clocks = [one["reached"] for one in told]
    assert clocks == sorted(clocks)
    assert clocks[0].startswith("2026-12-01T20:00:00")


def test_the_flood_level_of_the_plan_marks_what_lies_hardly_above_it() -> None:
    plan = Plan.read(demo_folder() / "plan.toml").with_changes(
        event={"kind": "flood", "flood_level_m": 20.0}, choices={"what_if": False}
    )
    walk = walk_home(plan)
    low = walk.segments[
        (walk.segments["height_m"] < 21.0) & ~walk.segments["bridge"]  # the level and a metre
    ]
    told = [one for one in walk.summary["hazards"] if one["kind"] == "near the flood"]
    covered = np.zeros(len(low), dtype=bool)
    for one in told:
        inside = low["distance_m"].between(1000.0 * one["from_km"] - 1e-6, 1000.0 * one["to_km"])
        covered |= inside.to_numpy()
    assert len(low) > 0
    assert covered.all()


@pytest.mark.parametrize(("second_m", "runs"), [(250.0, [(0, 2)]), (250.5, [(0, 0), (2, 2)])])
def test_stretches_with_as_much_between_them_as_is_joined_are_one(
    second_m: float, runs: list[tuple[int, int]]
) -> None:
    # From 0 to 100 m and from 250 m on: 150 m between them, which is still joined.
    assert JOINED_M == 150.0
    distance_m = np.array([0.0, 100.0, second_m, 400.0])
    course = cast("Course", SimpleNamespace(distance_m=distance_m))
    assert _runs(course, np.array([True, False, True])) == runs
    assert _runs(course, np.zeros(3, dtype=bool)) == []


def test_at_a_crossing_the_big_road_is_named_that_one_does_not_follow() -> None:
    # Node 1: a lane ends, High Road comes and Main Road goes on. Ring Road touches none of it.
    roads = (("Ring Road", 3, 4), ("Green Lane", 0, 1), ("High Road", 2, 1), ("Main Road", 1, 5))
    kinds = ("primary", "residential", "primary", "secondary")
    streets = SimpleNamespace(
        tail=np.array([tail for _, tail, _ in roads]),
        head=np.array([head for _, _, head in roads]),
        way=np.arange(4),
        ways=SimpleNamespace(
            name=tuple(name for name, _, _ in roads),
            highway=np.array([HIGHWAYS.index(kind) for kind in kinds]),
        ),
    )
    scene = cast("Scene", SimpleNamespace(streets=streets))
    lane, high, main = (np.array([row], dtype=np.int32) for row in (1, 2, 3))
    assert _road_at(scene, 1, np.append(lane, main)) == "High Road"
    assert _road_at(scene, 1, np.append(lane, high)) == "Main Road"
    assert _road_at(scene, 1, np.concatenate([high, main])) == "High Road"
    assert _road_at(scene, 0, lane) == ""
    # Along Main Road and nothing else that is big, nothing is crossed.
    assert _own_road(scene, 5, main)
    assert not _own_road(scene, 1, main)
    assert _own_road(scene, 1, np.concatenate([high, main]))
