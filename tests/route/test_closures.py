"""What is closed, said in words, on a hand-drawn map: each request, and each refusal.

GeoJSON forms follow RFC 7946 (positions are longitude, latitude; section 3.1.1).
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import MultiPolygon, Polygon, box

from simulator.errors import InputError
from simulator.ground.osm import Line, read_extract
from simulator.ground.streets import Streets
from simulator.ground.terrain import flat
from simulator.route.closures import (
    Closure,
    Window,
    read_area,
    read_window,
    refuse_closed_ends,
    resolve,
)
from simulator.route.crossings import group_crossings
from simulator.units import Units

MAP = """<osm version="0.6">
<node id="1" version="1" lat="46.000" lon="7.000"/>
<node id="2" version="1" lat="46.000" lon="7.002"/>
<node id="3" version="1" lat="46.000" lon="7.004"/>
<node id="4" version="1" lat="46.000" lon="7.006"/>
<node id="5" version="1" lat="46.004" lon="7.004"/>
<node id="6" version="1" lat="46.0001" lon="7.002"/>
<node id="7" version="1" lat="46.0001" lon="7.004"/>
<way id="11" version="1"><nd ref="1"/><nd ref="2"/>
 <tag k="highway" v="residential"/><tag k="name" v="Café Row"/><tag k="lit" v="no"/></way>
<way id="12" version="1"><nd ref="2"/><nd ref="3"/>
 <tag k="highway" v="primary"/><tag k="name" v="Mill Bridge"/><tag k="bridge" v="yes"/></way>
<way id="13" version="1"><nd ref="3"/><nd ref="4"/>
 <tag k="highway" v="residential"/><tag k="name" v="East Street"/></way>
<way id="14" version="1"><nd ref="3"/><nd ref="5"/>
 <tag k="highway" v="steps"/></way>
<way id="15" version="1"><nd ref="6"/><nd ref="7"/>
 <tag k="highway" v="footway"/><tag k="bridge" v="yes"/></way>
<way id="16" version="1"><nd ref="1"/><nd ref="5"/>
 <tag k="highway" v="motorway"/><tag k="name" v="Fast Way"/></way>
</osm>"""


@pytest.fixture(scope="module")
def streets(tmp_path_factory: pytest.TempPathFactory) -> Streets:
    """Draw a row of streets, a bridge with a footway beside it, and stairs."""
    path = tmp_path_factory.mktemp("map") / "map.osm"
    path.write_text(MAP, encoding="utf-8")
    return Streets.of(read_extract(path).streets)


@pytest.fixture(scope="module")
def hilly(streets: Streets) -> Streets:
    """Give them heights: a dip between nodes 3 and 4, the bridge high above its banks."""
    count = streets.tail.size
    height_by_id = {1: 20.0, 2: 12.0, 3: 12.0, 4: 20.0, 5: 40.0, 6: 12.0, 7: 12.0}
    node_m = np.array([height_by_id[number] for number in streets.node_id.tolist()])
    rise = node_m[streets.head] - node_m[streets.tail]
    dip = streets.ways.name.index("East Street")
    rises = []
    for segment in range(count):
        if streets.way[segment] == dip:
            rises += [-7.0, rise[segment] + 7.0]
        else:
            rises += [rise[segment] / 2, rise[segment] / 2]
    drawn = replace(
        flat(streets.length_m, streets.node_id.size),
        node_height_m=node_m,
        piece_start=np.arange(0, 2 * count + 1, 2),
        piece_run_m=np.repeat(streets.length_m / 2, 2),
        piece_rise_m=np.array(rises),
    )
    return streets.with_terrain(drawn)


def closed_ways(streets: Streets, closure: Closure) -> set[int]:
    """Numbers of the ways closed at all hours."""
    return set(streets.ways.osm_id[streets.way[closure.mask]].tolist())


@pytest.mark.parametrize(
    ("entry", "ways"),
    [
        ("Mill Bridge", {12, 15}),
        ("mill   BRIDGE", {12, 15}),
        ("cafe row", {11}),
        ("CAFÉ ROW", {11}),
        (13, {13}),
        ("13", {13}),
        ("way 13", {13}),
        ("w13", {13}),
        ("highway=steps", {14}),
    ],
)
def test_names_numbers_and_classes_close_their_ways(
    streets: Streets, entry: str | int, ways: set[int]
) -> None:
    closure = resolve(streets, closed=[entry])
    assert closed_ways(streets, closure) == ways
    assert len(closure.matched) == 1
    assert f"{len(ways)} way" in closure.matched[0]


def test_a_bridge_closes_with_the_footway_beside_it(streets: Streets) -> None:
    closure = resolve(streets, closed=["Mill Bridge"])
    assert closed_ways(streets, closure) == {12, 15}
    length_m = streets.length_m[closure.mask].sum()
    assert closure.matched == (f"Mill Bridge: 2 ways, {length_m:,.0f} m",)
    assert closed_ways(streets, resolve(streets, closed=[12])) == {12}


def test_a_bridge_closes_by_the_name_it_is_described_with(streets: Streets) -> None:
    river = Line(
        {"waterway": "river", "name": "Ouselet"}, np.array([7.003, 7.003]), np.array([45.9, 46.1])
    )
    nameless = replace(streets, ways=replace(streets.ways, name=("", "", "East Street", "", "")))
    crossings = group_crossings(nameless, lines=[river])
    assert crossings.name == ("bridge over Ouselet near East Street",)
    closure = resolve(nameless, closed=list(crossings.name), lines=[river])
    assert closed_ways(nameless, closure) == {12, 15}


def test_closures_combine(streets: Streets) -> None:
    closure = resolve(
        streets, closed=["East Street", 11], classes=["steps"], area=box(7.0025, 45.9, 7.003, 46.1)
    )
    assert closed_ways(streets, closure) == {11, 12, 13, 14, 15}
    assert len(closure.matched) == len(closure.parts) == 4


def test_whatever_touches_an_area_is_closed_and_nothing_else(streets: Streets) -> None:
    inside = resolve(streets, area=box(7.0045, 45.9999, 7.0046, 46.0001))
    assert closed_ways(streets, inside) == {13}
    corner = Polygon([(7.00599, 46.0), (7.007, 46.0), (7.007, 46.001)])
    assert closed_ways(streets, resolve(streets, area=corner)) == {13}
    west, south, east, north = 7.0005, 45.999, 7.0055, 46.001
    gap = [(west, south), (east, south), (east, north), (west, north)]
    hole = Polygon(box(6.99, 45.99, 7.02, 46.02).exterior.coords, [gap])
    assert closed_ways(streets, resolve(streets, area=hole)) == {11, 13, 14}
    two = MultiPolygon([box(7.0001, 45.99, 7.0002, 46.01), box(7.0058, 45.99, 7.0059, 46.01)])
    assert closed_ways(streets, resolve(streets, area=two)) == {11, 13}


def test_a_flood_takes_the_dip_and_spares_the_deck(hilly: Streets) -> None:
    assert closed_ways(hilly, resolve(hilly, flood_level_m=11.0)) == {13}
    assert closed_ways(hilly, resolve(hilly, flood_level_m=12.0)) == {13}
    assert closed_ways(hilly, resolve(hilly, flood_level_m=12.5)) == {11, 12, 13, 14, 15}


def test_unknown_heights_are_told_and_not_taken_as_dry(hilly: Streets) -> None:
    terrain = hilly.terrain
    assert terrain is not None
    height_m = terrain.node_height_m.copy()
    height_m[hilly.node_id == 1] = np.nan
    holed = hilly.with_terrain(replace(terrain, node_height_m=height_m))
    closure = resolve(holed, flood_level_m=11.0)
    assert closed_ways(holed, closure) == {13}
    assert "without a known height" in closure.matched[-1]


def test_hours_close_by_the_clock_past_midnight(streets: Streets) -> None:
    closure = resolve(streets, closed=["Mill Bridge 18:00-06:00", "East Street"])
    assert closed_ways(streets, closure) == {13}
    bridge = np.isin(streets.ways.osm_id[streets.way], (12, 15))
    for minute, shut in ((1079, False), (1080, True), (1439, True), (0, True), (359, True)):
        assert (closure.closed_at(minute)[bridge] == shut).all()
    assert not closure.closed_at(360)[bridge].any()
    row = int(np.flatnonzero(bridge)[0])
    at = closure.closed_on_arrival(
        np.array([row, row, row], np.int32),
        np.array([1000.0, 1100.0, 1440.0 + 1100.0]),
        np.zeros(3, bool),
    )
    assert at.tolist() == [False, True, True]


def test_hours_can_be_given_beside_an_area_or_a_level(hilly: Streets) -> None:
    closure = resolve(
        hilly,
        area=box(7.0001, 45.99, 7.0002, 46.01),
        flood_level_m=11.0,
        windows={"area": "08:00-09:00", "flood level": "22:00\u201304:00"},
    )
    assert not closure.mask.any()
    assert closure.closed_at(8 * 60).sum() == closure.closed_at(23 * 60).sum() == 1


def test_unlit_ways_close_after_dark_only(streets: Streets) -> None:
    for closure in (
        resolve(streets, unlit_after_dark=True),
        resolve(streets, closed=["Unlit after dark"]),
    ):
        assert not closure.mask.any()
        assert not closure.closed_at(720).any()
        dark = closure.closed_at(720, dark=True)
        assert set(streets.ways.osm_id[streets.way[dark]].tolist()) == {11}


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("Mill Brigde", "did you mean 'Mill Bridge'"),
        ("Mill", "did you mean 'Mill Bridge'"),
        ("Caffe Row", "did you mean 'Café Row'"),
        ("Atlantis", "use a name from the map"),
        (99, "way 99 is not among the walkable streets"),
        (16, "way 16 is closed to walkers anyway"),
        ("highway=step", "did you mean 'steps'"),
        ("highway=secondary", "no walkable street of this map has the class 'secondary'"),
        ("  ", "names nothing"),
        ("Mill Bridge 18:00-18:00", "not two different times"),
        ("Mill Bridge 25:00-06:00", "not two different times"),
    ],
)
def test_what_matches_nothing_is_refused_with_a_hint(
    streets: Streets, entry: str | int, said: str
) -> None:
    with pytest.raises(InputError, match=r"event\.closed") as refusal:
        resolve(streets, closed=[entry])
    assert said in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_swapped_coordinates_are_recognised_on_the_map(streets: Streets) -> None:
    with pytest.raises(InputError, match="latitude and longitude swapped"):
        resolve(streets, area=box(45.99, 6.99, 46.01, 7.01))
    with pytest.raises(InputError, match="meets no street of this map"):
        resolve(streets, area=box(8.0, 46.0, 8.1, 46.1))


def test_a_flood_level_is_told_in_the_units_of_the_plan(hilly: Streets) -> None:
    # NIST SP 811 (2008), appendix B.8: a foot is 0.3048 m; 12.5 m are 41.01 ft.
    assert resolve(hilly, flood_level_m=12.5).matched[0].startswith("below 12.5 m: 5 ways")
    told = resolve(hilly, flood_level_m=12.5, units=Units("us")).matched[0]
    assert told.startswith("below 41 ft: 5 ways")
    assert re.search(r"5 ways, [\d.,]+ (ft|mi)", told)


def test_a_flood_level_needs_heights_and_something_below_it(
    streets: Streets, hilly: Streets
) -> None:
    with pytest.raises(InputError, match=r"map\.elevation"):
        resolve(streets, flood_level_m=10.0)
    with pytest.raises(InputError, match=r"the lowest street lies at 5\.0 m"):
        resolve(hilly, flood_level_m=4.0)


def test_hours_for_something_that_is_not_closed_are_refused(streets: Streets) -> None:
    with pytest.raises(InputError, match="which is not closed"):
        resolve(streets, closed=["Mill Bridge"], windows={"East Street": "18:00-06:00"})


def test_a_start_or_home_inside_the_closure_is_refused(streets: Streets) -> None:
    closure = resolve(streets, closed=["Mill Bridge", "East Street 18:00-06:00"])
    bridge = int(np.flatnonzero(streets.ways.osm_id[streets.way] == 12)[0])
    east = int(np.flatnonzero(streets.ways.osm_id[streets.way] == 13)[0])
    with pytest.raises(InputError, match=r"trip\.home: lies inside what is closed \(Mill Bridge\)"):
        refuse_closed_ends(closure, {"trip.start": east, "trip.home": bridge})
    refuse_closed_ends(closure, {"trip.start": east}, minute_of_day=720.0)
    with pytest.raises(InputError, match=r"trip\.start"):
        refuse_closed_ends(closure, {"trip.start": east}, minute_of_day=1200.0)


def test_a_window_is_read_as_written() -> None:
    assert read_window("18:00-06:00", where="x") == Window(1080, 360)
    assert str(read_window("8:05 \u2013 24:00", where="x")) == "08:05-24:00"
    with pytest.raises(InputError, match="write them as"):
        read_window("evening", where="x")


SQUARE = [[7.0, 46.0], [7.1, 46.0], [7.1, 46.1], [7.0, 46.1], [7.0, 46.0]]
BOW_TIE = [[7.0, 46.0], [7.1, 46.1], [7.1, 46.0], [7.0, 46.1], [7.0, 46.0]]


def polygon(ring: list[list[float]]) -> dict[str, Any]:
    """Make a GeoJSON polygon."""
    return {"type": "Polygon", "coordinates": [ring]}


def write(path: Path, content: Any) -> Path:  # noqa: ANN401 - any JSON
    """Write JSON, or text as it is."""
    text = content if isinstance(content, str) else json.dumps(content)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "content",
    [
        polygon(SQUARE),
        {"type": "MultiPolygon", "coordinates": [[SQUARE]]},
        {"type": "Feature", "properties": {}, "geometry": polygon(SQUARE)},
        {
            "type": "FeatureCollection",
            "features": [
                {"type": "Feature", "properties": None, "geometry": polygon(SQUARE)},
                {"type": "Feature", "properties": None, "geometry": polygon(SQUARE)},
            ],
        },
    ],
)
def test_every_form_of_area_is_read(tmp_path: Path, content: dict[str, Any]) -> None:
    area = read_area(write(tmp_path / "closed.geojson", content))
    assert area.bounds == (7.0, 46.0, 7.1, 46.1)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("{", "this is not GeoJSON"),
        ("[]", "this is not GeoJSON"),
        ({"type": "FeatureCollection", "features": []}, "the closed area is empty"),
        ({"type": "Feature", "geometry": None}, "the closed area is empty"),
        ({"type": "Polygon", "coordinates": []}, "the closed area is empty"),
        ({"type": "Point", "coordinates": [7.0, 46.0]}, "not 'Point'"),
        ({"type": "Polygon", "coordinates": [[["a", "b"]]]}, "cannot be read"),
        ({"type": "Polygon", "coordinates": 5}, "cannot be read"),
        ({"type": "Polygon"}, "cannot be read"),
        (polygon(BOW_TIE), "not a clean polygon: Self-intersection"),
        (polygon([[46.0, 107.0], [46.1, 107.0], [46.1, 107.1], [46.0, 107.0]]), "swapped"),
        (polygon([[700.0, 460.0], [701.0, 460.0], [701.0, 461.0], [700.0, 460.0]]), "degrees"),
    ],
)
def test_a_bad_area_is_refused_in_one_line(
    tmp_path: Path, content: dict[str, Any] | str, said: str
) -> None:
    path = write(tmp_path / "closed.geojson", content)
    with pytest.raises(InputError, match=r"closed\.geojson") as refusal:
        read_area(path)
    assert said in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_a_missing_area_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="found no file"):
        read_area(tmp_path / "none.geojson")


def test_names_in_local_use_and_road_numbers_close_too(tmp_path: Path) -> None:
    path = tmp_path / "map.osm"
    tags = (
        '<tag k="highway" v="primary"/><tag k="name" v="Mill Bridge"/><tag k="ref" v="B 62"/>'
        '<tag k="loc_name" v="The Hump"/><tag k="alt_name" v="Old Weir Bridge;Weir Bridge"/>'
    )
    path.write_text(
        MAP.replace('<tag k="highway" v="primary"/><tag k="name" v="Mill Bridge"/>', tags)
    )
    streets = Streets.read(path)
    for name in ("B 62", "the hump", "Weir Bridge", "old weir bridge", "Mill Bridge"):
        assert 12 in closed_ways(streets, resolve(streets, closed=[name]))
    with pytest.raises(InputError, match="did you mean 'The Hump'"):
        resolve(streets, closed=["The Humps"])
