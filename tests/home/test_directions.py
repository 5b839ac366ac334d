"""Lines of a way against small maps drawn by hand; whole towns are walked in `test_told_way`."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import networkx as nx
import numpy as np
import pytest

from simulator.ground.streets import Streets
from simulator.home.directions import Direction, _filled, directions, ground_words, turn_words
from simulator.report.tables import turn_words as printed
from simulator.route.search import Network
from simulator.units import Units
from simulator.walk.course import course_along
from tests.walk.conftest import make_course

DEGREE_M = 111_195.0
ELLIPSOID = 0.01  # at the equator a degree is up to 0.6 % shorter or longer than on the sphere

Point = tuple[float, float]


def told(
    points: dict[str, Point],
    streets: list[tuple[str, dict[str, Any]]],
    way: str,
    *,
    landmarks: tuple[tuple[float, str], ...] = (),
) -> tuple[Direction, ...]:
    """Draw streets between lettered points [m east, m north] and tell the way along some."""
    graph: nx.MultiDiGraph[int] = nx.MultiDiGraph(crs="EPSG:4326")
    number = {letter: row + 1 for row, letter in enumerate(points)}
    for letter, (east, north) in points.items():
        graph.add_node(number[letter], x=east / DEGREE_M, y=north / DEGREE_M)
    for osmid, (chain, tags) in enumerate(streets, 100):
        for begin, end in itertools.pairwise(chain):
            for pair in ((begin, end), (end, begin)):
                ends = [number[letter] for letter in pair]
                length = float(np.hypot(*np.subtract(points[begin], points[end])))
                graph.add_edge(*ends, osmid=osmid, length=length, **tags)
    town = Streets.from_networkx(graph)
    rows = {
        frozenset((int(town.node_id[tail]), int(town.node_id[head]))): row
        for row, (tail, head) in enumerate(zip(town.tail, town.head, strict=True))
    }
    steps = [
        rows[frozenset((number[begin], number[end]))] for begin, end in itertools.pairwise(way)
    ]
    cost = np.full(town.tail.size, 1e6)
    cost[steps] = 1.0
    first, last = steps[0], steps[-1]
    from_tail = 0.0 if int(town.node_id[town.tail[first]]) == number[way[0]] else 1.0
    to_head = 1.0 if int(town.node_id[town.head[last]]) == number[way[-1]] else 0.0
    path = Network.of_streets(town).least(cost, cost, (first, from_tail), (last, to_head))
    assert path.segment.tolist() == steps
    return directions(town, course_along(town, path), landmarks=landmarks)


def road(name: str = "", kind: str = "residential", **more: str) -> dict[str, Any]:
    """Tags of a street."""
    return {"highway": kind, **({"name": name} if name else {}), **more}


CROSSROADS = {"s": (0.0, -200.0), "o": (0.0, 0.0), "n": (0.0, 300.0)}


@pytest.mark.parametrize(
    ("corner", "turn"),
    [
        ((-200.0, 0.0), "left"),
        ((200.0, 0.0), "right"),
        ((-140.0, 140.0), "bear left"),
        ((140.0, 140.0), "bear right"),
        ((60.0, -190.0), "sharp right"),
        ((-60.0, -190.0), "sharp left"),
    ],
)
def test_a_turn_is_told_as_it_is_drawn(corner: Point, turn: str) -> None:
    first, second = told(
        {**CROSSROADS, "x": corner},
        [("son", road("Mill Lane")), ("ox", road("High Street"))],
        "sox",
    )
    assert (first.turn, first.heading) == ("start", "north")
    assert (second.turn, second.street) == (turn, "High Street")
    assert second.along_m == pytest.approx(200.0, rel=ELLIPSOID)


def test_a_street_is_followed_past_its_side_streets_without_a_word() -> None:
    points = {**CROSSROADS, "w": (-100.0, 0.0), "e": (100.0, 20.0)}
    way = told(points, [("son", road("Mill Lane")), ("woe", road("High Street"))], "son")
    assert len(way) == 1
    assert way[0].length_m == pytest.approx(500.0, rel=ELLIPSOID)


def test_a_slip_road_that_leaves_at_a_small_angle_is_no_straight_on() -> None:
    points = {**CROSSROADS, "x": (20.0, 100.0), "y": (200.0, 100.0)}
    streets = [
        ("son", road("Main Road", "primary")),
        ("oxy", road("", "primary_link")),
    ]
    _first, second = told(points, streets, "soxy")
    assert (second.turn, second.kind) == ("keep right", "primary_link")
    text = printed(second, Units())[0]
    assert text == "Keep right into a slip road; leaving Main Road on the left"


def test_where_the_name_bends_off_and_a_street_goes_straight_a_line_says_which() -> None:
    points = {**CROSSROADS, "x": (200.0, 115.0)}
    streets = [("sox", road("Mill Lane")), ("on", road("High Street"))]
    followed = told(points, streets, "sox")
    assert [line.turn for line in followed] == ["start", "right"]
    left = told(points, streets, "son")
    assert [(line.turn, line.street) for line in left][1:] == [("straight on", "High Street")]


def test_a_path_before_the_right_one_is_told_not_to_take() -> None:
    points = {
        **CROSSROADS,
        "a": (0.0, 40.0),
        "b": (-50.0, 40.0),
        "c": (0.0, 80.0),
        "d": (-90.0, 80.0),
        "e": (-50.0, -100.0),
        "f": (0.0, -100.0),
    }
    streets = [
        ("sfoacn", road("", "unclassified")),
        ("ab", road("", "track")),
        ("cd", road("", "path")),
        ("fe", road("", "path")),
    ]
    _start, line = told(points, streets, "sfoacd")
    # The track 40 m before looks like the path; the path 180 m before is out of doubt.
    assert (line.turn, line.kind, line.past) == ("left", "path", 1)
    assert line.past_m == pytest.approx(40.0, rel=ELLIPSOID)
    assert printed(line, Units())[0] == "Left into a path; not the one 40 m before"


def test_two_ways_that_words_cannot_tell_apart_are_counted() -> None:
    points = {**CROSSROADS, "x": (-200.0, 20.0), "y": (-190.0, -60.0)}
    streets = [("son", road("Mill Lane")), ("ox", road("", "path")), ("oy", road("", "path"))]
    _start, line = told(points, streets, "soy")
    assert (line.nth, line.ways) == (1, 3)
    assert "way 1 of 3 from the left" in printed(line, Units())[0]
    _start, plain = told(points, streets, "sox")
    assert plain.nth == 0


def test_a_long_stretch_is_cut_at_what_one_passes() -> None:
    points: dict[str, Point] = {"s": (0.0, 0.0)}
    names = "abcdefgh"
    for row, letter in enumerate(names, 1):
        points[letter] = (0.0, 500.0 * row)
    points |= {"x": (100.0, 1000.0), "y": (-100.0, 3000.0)}
    streets = [
        ("s" + names, road("", "track")),
        ("bx", road("Mill Lane")),
        ("fy", road("High Street")),
    ]
    way = told(points, streets, "s" + names)
    assert [line.turn for line in way] == ["start", *["go on"] * (len(way) - 1)]
    assert max(line.length_m for line in way) <= 1300.0
    assert ("Mill Lane", "right") in {line.passing for line in way}
    assert ("High Street", "left") in {line.passing for line in way}
    assert sum(line.length_m for line in way) == pytest.approx(4000.0, rel=ELLIPSOID)


def test_a_turn_behind_a_bridge_or_a_place_says_so() -> None:
    points = {**CROSSROADS, "b": (0.0, 60.0), "c": (0.0, 90.0), "x": (200.0, 90.0)}
    streets = [
        ("so", road("Mill Lane")),
        ("ob", road("Mill Lane", bridge="yes", **{"bridge:name": "Mill Bridge"})),
        ("bcn", road("Mill Lane")),
        ("cx", road("High Street")),
    ]
    way = told(points, streets, "sobcx")
    assert way[1].after == "Mill Bridge"
    assert told(points, streets, "sobcx", landmarks=((280.0, "Town Hall"),))[1].after == "Town Hall"


def test_ground_is_told_by_its_slope() -> None:
    assert ground_words(500.0, 5.0, 3.0) == "level"
    assert ground_words(500.0, 12.0, 0.0) == "uphill"
    assert ground_words(500.0, 0.0, 12.0) == "downhill"
    assert ground_words(500.0, 0.0, 40.0) == "steeply downhill"
    assert ground_words(2000.0, 20.0, 20.0) == "up and down"
    assert ground_words(0.0, 0.0, 0.0) == "level"
    assert turn_words(-180.0) == "sharp left"


def test_a_turn_follows_the_last_mark_within_sixty_metres_before_it() -> None:
    # The turn is at 500 m; a mark as much as a metre past it still stands there.
    course = make_course(1_000.0, step_m=100.0)
    line = Direction(along_m=500.0, turn="left", street="Ash Road", kind="residential")

    def after(*marks: tuple[float, str], turn: str = "left") -> str:
        return _filled(replace(line, turn=turn), 900.0, course, [], marks).after

    assert after((440.0, "the well")) == "the well"
    assert after((439.0, "the well")) == ""
    assert after((501.0, "the well")) == "the well"
    assert after((501.5, "the well")) == ""
    assert after((450.0, "the mill"), (480.0, "the well"), (502.0, "the inn")) == "the well"
    assert after((480.0, "the well"), turn="go on") == ""
