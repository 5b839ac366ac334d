"""Physical bridges from map pieces, on hand-drawn maps and on real ones.

Real counts are those of the extracts themselves: every bridge segment belongs to one crossing.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from simulator.ground.osm import Extract, read_extract
from simulator.ground.streets import Streets
from simulator.route.crossings import Crossings, group_crossings

METRE = 1.0 / 111_195.0
"""Degrees in one metre, near the equator where the map is drawn."""


def draw(path: Path, ways: list[tuple[dict[str, str], list[tuple[float, float]]]]) -> Extract:
    """Write ways given in metres east and north as a map, and read it."""
    numbers: dict[tuple[float, float], int] = {}
    for _, points in ways:
        for point in points:
            numbers.setdefault(point, len(numbers) + 1)
    lines = ['<osm version="0.6">']
    lines += [
        f'<node id="{number}" version="1" lat="{north * METRE:.9f}" lon="{east * METRE:.9f}"/>'
        for (east, north), number in numbers.items()
    ]
    for way, (tags, points) in enumerate(ways, 101):
        refs = "".join(f'<nd ref="{numbers[point]}"/>' for point in points)
        pairs = "".join(f'<tag k="{key}" v="{value}"/>' for key, value in tags.items())
        lines.append(f'<way id="{way}" version="1">{refs}{pairs}</way>')
    path.write_text("\n".join([*lines, "</osm>"]), encoding="utf-8")
    return read_extract(path)


def road(name: str = "", **tags: str) -> dict[str, str]:
    """Tags of a road."""
    return {"highway": "residential", **({"name": name} if name else {}), **tags}


@pytest.fixture
def crossings(tmp_path: Path) -> Callable[..., Crossings]:
    """Draw a map and group its bridges."""

    def grouped(*ways: tuple[dict[str, str], list[tuple[float, float]]]) -> Crossings:
        extract = draw(tmp_path / "map.osm", list(ways))
        return group_crossings(Streets.of(extract.streets), lines=extract.lines)

    return grouped


RIVER = ({"waterway": "river", "name": "Ouselet"}, [(50.0, -500.0), (50.0, 500.0)])
"""A river running north, 50 m east of the origin."""


def test_a_bridge_split_into_ways_is_one_crossing(crossings: Callable[..., Crossings]) -> None:
    found = crossings(
        RIVER,
        (road("Mill Road"), [(-100.0, 0.0), (0.0, 0.0)]),
        (road("Mill Road", bridge="yes", lit="yes"), [(0.0, 0.0), (40.0, 0.0)]),
        (road("Mill Road", bridge="yes"), [(40.0, 0.0), (100.0, 0.0)]),
        (road("Mill Road"), [(100.0, 0.0), (200.0, 0.0)]),
    )
    assert found.name == ("Mill Road bridge over Ouselet",)
    assert found.spans == ("river Ouselet",)
    assert found.way_ids == ((103, 104),)
    assert found.length_m[0] == pytest.approx(100.0, rel=0.01)


def test_two_carriageways_and_a_footway_beside_them_are_one_crossing(
    crossings: Callable[..., Crossings],
) -> None:
    found = crossings(
        RIVER,
        (road("Mill Bridge", bridge="yes"), [(0.0, 0.0), (100.0, 0.0)]),
        (road("Mill Bridge", bridge="yes"), [(100.0, 12.0), (0.0, 12.0)]),
        ({"highway": "footway", "bridge": "yes"}, [(5.0, -8.0), (95.0, -8.0)]),
        (road("East Street"), [(100.0, 0.0), (100.0, 12.0)]),
    )
    assert found.name == ("Mill Bridge",)
    assert found.way_ids == ((102, 103, 104),)


def test_bridges_a_street_apart_stay_two(crossings: Callable[..., Crossings]) -> None:
    found = crossings(
        RIVER,
        (road("Mill Bridge", bridge="yes"), [(0.0, 0.0), (100.0, 0.0)]),
        (road("Low Bridge", bridge="yes"), [(0.0, 60.0), (100.0, 60.0)]),
    )
    assert found.name == ("Mill Bridge", "Low Bridge")


def test_one_bridge_passing_over_another_stays_two(crossings: Callable[..., Crossings]) -> None:
    found = crossings(
        (road("High Flyover", bridge="yes", layer="2"), [(0.0, 0.0), (100.0, 0.0)]),
        (road("Low Bridge", bridge="yes", layer="1"), [(50.0, -50.0), (50.0, 50.0)]),
    )
    assert len(found) == 2
    assert found.spans == ("road", "unknown")


def test_bridges_in_line_with_land_between_stay_two(crossings: Callable[..., Crossings]) -> None:
    found = crossings(
        (road("Canal Bridge", bridge="yes"), [(0.0, 0.0), (40.0, 0.0)]),
        (road("Mill Road"), [(40.0, 0.0), (60.0, 0.0)]),
        (road("River Bridge", bridge="yes"), [(60.0, 0.0), (140.0, 0.0)]),
    )
    assert len(found) == 2


def test_what_a_bridge_spans_is_told_from_what_passes_below(
    crossings: Callable[..., Crossings],
) -> None:
    found = crossings(
        ({"railway": "rail"}, [(20.0, -50.0), (20.0, 50.0)]),
        ({"natural": "water", "name": "Ouselet"}, [(40.0, -50.0), (40.0, 50.0)]),
        ({"waterway": "stream"}, [(500.0, -50.0), (500.0, 50.0)]),
        (road("Quay"), [(70.0, -50.0), (70.0, 50.0)]),
        (road("Mill Bridge", bridge="yes", layer="1"), [(0.0, 0.0), (100.0, 0.0)]),
        (road("Overhead", bridge="yes", layer="3"), [(90.0, -50.0), (90.0, 50.0)]),
    )
    assert dict(zip(found.name, found.spans, strict=True)) == {
        "Mill Bridge": "water Ouselet and rail and road",
        "Overhead bridge": "road",
    }


def test_a_nameless_footbridge_is_described_by_the_street_near_it(
    crossings: Callable[..., Crossings],
) -> None:
    found = crossings(
        RIVER,
        ({"highway": "footway", "bridge": "yes"}, [(0.0, 0.0), (100.0, 0.0)]),
        (road("Weaver Lane"), [(0.0, 0.0), (-100.0, 0.0)]),
        (road("Far Street"), [(0.0, 400.0), (100.0, 400.0)]),
        ({"highway": "footway", "bridge": "yes"}, [(0.0, 200.0), (100.0, 200.0)]),
    )
    assert found.name == (
        "footbridge over Ouselet near Weaver Lane",
        "footbridge over Ouselet near Far Street",
    )


def test_names_that_occur_twice_are_numbered(crossings: Callable[..., Crossings]) -> None:
    found = crossings(
        (road("Mill Road", bridge="yes"), [(0.0, 0.0), (100.0, 0.0)]),
        (road("Mill Road"), [(100.0, 0.0), (300.0, 0.0)]),
        (road("Mill Road", bridge="yes"), [(300.0, 0.0), (400.0, 0.0)]),
    )
    assert found.name == ("Mill Road bridge (1)", "Mill Road bridge (2)")


def test_the_name_of_the_structure_goes_before_that_of_the_street(
    crossings: Callable[..., Crossings],
) -> None:
    tags = {"bridge": "yes", "bridge:name": "Old Span"}
    found = crossings(
        ({**road("Mill Road"), **tags}, [(0.0, 0.0), (100.0, 0.0)]),
        (road("Mill Road"), [(100.0, 0.0), (300.0, 0.0)]),
    )
    assert found.name == ("Old Span",)


def test_a_ford_is_a_crossing_of_its_own(crossings: Callable[..., Crossings]) -> None:
    found = crossings(
        RIVER,
        (road("Mill Bridge", bridge="yes"), [(0.0, 0.0), (100.0, 0.0)]),
        (road("Wade Lane", ford="yes"), [(0.0, 10.0), (100.0, 10.0)]),
    )
    assert found.ford.tolist() == [False, True]
    assert found.name == ("Mill Bridge", "Wade Lane ford")


def test_a_map_without_bridges_has_no_crossings(crossings: Callable[..., Crossings]) -> None:
    found = crossings((road("Mill Road"), [(0.0, 0.0), (100.0, 0.0)]))
    assert len(found) == 0
    assert found.mask().sum() == 0
    assert found.start.tolist() == [0]


def test_every_bridge_segment_of_a_real_city_is_in_one_crossing(
    helsinki_extract: Extract,
) -> None:
    streets = Streets.of(helsinki_extract.streets)
    found = group_crossings(streets, lines=helsinki_extract.lines)
    bridge = streets.ways.bridge[streets.way]
    in_bridge = found.mask(*np.flatnonzero(~found.ford))
    np.testing.assert_array_equal(in_bridge, bridge)
    assert len(set(found.name)) == len(found)
    for number in range(len(found)):
        rows = found.segments(number)
        assert (found.of_segment[rows] == number).all()
        assert set(streets.ways.osm_id[streets.way[rows]].tolist()) == set(found.way_ids[number])


def test_the_bridges_over_a_real_border_river_are_told_apart(liechtenstein: Path) -> None:
    # The old timber bridge at Vaduz, and a bridge drawn as four ways, on the map of 2021.
    extract = read_extract(liechtenstein)
    found = group_crossings(Streets.of(extract.streets), lines=extract.lines)
    over = {
        name: ways
        for name, ways, spans in zip(found.name, found.way_ids, found.spans, strict=True)
        if "river Rhein" in spans
    }
    assert "Alte Rheinbrücke Vaduz" in over
    assert max(len(ways) for ways in over.values()) == 4


@pytest.mark.parametrize(
    ("other", "north_m", "one"),
    [
        # A footway hung beside a road of two lanes, 9 m from its middle; the same with air between.
        ({"highway": "footway"}, 9.0, True),
        ({"highway": "footway"}, 20.0, False),
        # Carriageways of one street may lie farther apart; another street at that distance not.
        (road("Mill Road"), 20.0, True),
        (road("Low Road"), 20.0, False),
        # Names or levels of their own tell structures apart, however near.
        ({"highway": "footway", "bridge:name": "Weavers' Footbridge"}, 9.0, False),
        ({"highway": "footway", "layer": "2"}, 9.0, False),
        ({"highway": "footway", "layer": "1"}, 9.0, True),
    ],
)
def test_decks_are_one_bridge_only_where_closing_one_closes_the_other(
    crossings: Callable[..., Crossings], other: dict[str, str], north_m: float, one: bool
) -> None:
    deck = road("Mill Road", bridge="yes", layer="1", **{"bridge:name": "Mill Bridge"})
    found = crossings(
        RIVER,
        (deck, [(0.0, 0.0), (100.0, 0.0)]),
        ({**other, "bridge": "yes"}, [(0.0, north_m), (100.0, north_m)]),
    )
    assert len(found) == (1 if one else 2)


def test_a_bridge_over_a_motorway_or_a_drain_says_so(crossings: Callable[..., Crossings]) -> None:
    found = crossings(
        ({"highway": "motorway", "ref": "A 9"}, [(20.0, -50.0), (20.0, 50.0)]),
        ({"waterway": "drain"}, [(70.0, -50.0), (70.0, 50.0)]),
        (road("Mill Bridge", bridge="yes", layer="1"), [(0.0, 0.0), (100.0, 0.0)]),
    )
    assert found.spans == ("road and drain",)
