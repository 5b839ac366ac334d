"""Places from tags, and where they meet the streets. Tags as the OSM wiki describes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod
from shapely import LineString, Point

from simulator.ground.kinds import EVENTS, OPEN_WATER, PLACE_RULES, match, reason_left_out
from simulator.ground.osm import read_extract
from simulator.ground.places import Places, attach, open_water, places_from
from simulator.ground.streets import Streets
from simulator.ground.walkable import conditions, holds, may_be_place
from simulator.route.search import Network
from simulator.walk.course import course_along
from simulator.walk.stops import nearby_places

GEOD = Geod(ellps="WGS84")
LIECHTENSTEIN = Path(__file__).parents[3] / "shared" / "data" / "liechtenstein"


@dataclass
class Feature:
    """A feature with no more than a number, a position and tags."""

    tags: Mapping[str, str]
    osm: str = "n1"
    lon: float = 0.0
    lat: float = 0.0


@dataclass
class Line:
    """A line of the map."""

    tags: Mapping[str, str]
    lon: np.ndarray = field(default_factory=lambda: np.zeros(0))
    lat: np.ndarray = field(default_factory=lambda: np.zeros(0))


def tags_of(text: str) -> dict[str, str]:
    return dict(pair.split("=") for pair in text.split(" + "))


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("amenity=drinking_water", "drinking water"),
        ("amenity=water_point", "drinking water"),
        ("amenity=fountain + drinking_water=yes", "drinking water"),
        ("amenity=fountain", "fountain"),
        ("man_made=water_tap + drinking_water=yes", "drinking water"),
        ("man_made=water_tap", "tap"),
        ("natural=spring", "spring"),
        ("man_made=water_well", "well"),
        ("amenity=toilets + fee=yes", "toilets"),
        ("shop=supermarket", "supermarket"),
        ("shop=convenience + amenity=fuel", "convenience shop"),
        ("shop=bakery", "bakery"),
        ("shop=kiosk", "kiosk"),
        ("amenity=vending_machine + vending=sweets;drinks", "drinks machine"),
        ("amenity=vending_machine + vending=food; drinks", "drinks machine"),
        ("amenity=restaurant", "restaurant"),
        ("amenity=cafe", "cafe"),
        ("amenity=fast_food", "fast food"),
        ("amenity=pub", "pub"),
        ("amenity=school", "school"),
        ("office=company", "office"),
        ("amenity=townhall", "public building"),
        ("waterway=river", "river"),
        ("waterway=stream", "stream"),
        ("natural=water + water=lake", "lake"),
        ("amenity=shelter + shelter_type=public_transport", "bus shelter"),
        ("highway=bus_stop + shelter=yes", "bus shelter"),
        ("amenity=shelter + shelter_type=weather_shelter", "shelter"),
        ("amenity=place_of_worship", "place of worship"),
        ("building=church", "place of worship"),
        ("amenity=community_centre", "community centre"),
        ("amenity=police", "police"),
        ("amenity=fire_station", "fire station"),
        ("amenity=hospital", "hospital"),
        ("amenity=pharmacy", "pharmacy"),
        ("amenity=bench", "bench"),
    ],
)
def test_each_kind_is_known_by_its_tags(text: str, kind: str) -> None:
    assert match(tags_of(text)) == kind
    assert kind in PLACE_RULES


@pytest.mark.parametrize(
    "text",
    [
        "disused:amenity=pub",
        "abandoned:shop=bakery",
        "shop=vacant",
        "shop=clothes",
        "office=no",
        "highway=bus_stop + shelter=no",
        "amenity=vending_machine + vending=parking_tickets",
        "amenity=shelter_of_another_kind",
        "building=yes",
        "natural=tree",
        "waterway=ditch",
        "waterway=drain",
    ],
)
def test_what_is_something_else_or_no_more_is_no_place(text: str) -> None:
    assert match(tags_of(text)) is None


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("amenity=toilets + access=private", "access=private"),
        ("amenity=drinking_water + access=no", "access=no"),
        ("amenity=fountain + drinking_water=no", "drinking_water=no"),
        ("natural=spring + drinking_water=no", "drinking_water=no"),
        ("amenity=drinking_water + operational_status=out_of_order", "operational_status"),
        ("amenity=pub + disused=yes", "disused=yes"),
        ("natural=water + salt=yes", "salt=yes"),
        ("natural=water + water=wastewater", "water=wastewater"),
        ("waterway=stream + intermittent=yes", "intermittent=yes"),
        ("waterway=stream + tunnel=culvert", "tunnel=culvert"),
        ("waterway=river + tidal=yes", "tidal=yes"),
    ],
)
def test_a_place_one_may_not_use_is_left_out_with_the_tag_that_says_so(
    text: str, reason: str
) -> None:
    tags = tags_of(text)
    assert match(tags) is None
    places = places_from([Feature(tags, osm="n7")])
    assert len(places) == 0
    ((osm, kind, found),) = places.left_out
    assert osm == "n7"
    assert kind in PLACE_RULES
    assert reason in found


def only(text: str) -> Places:
    places = places_from([Feature(tags_of(text))])
    assert len(places) == 1
    return places


def test_whether_a_fountain_is_drinkable_decides_what_it_needs() -> None:
    assert not only("amenity=fountain + drinking_water=yes").needs_treatment[0]
    assert only("amenity=fountain").needs_treatment[0]
    # wiki Key:drinking_water:legal: in use, but not tested by anyone.
    custom = only("natural=spring + drinking_water=yes + drinking_water:legal=no")
    assert custom.needs_treatment[0]
    assert not only("natural=spring + drinking_water=yes").needs_treatment[0]


def test_a_place_that_is_more_than_its_water_loses_only_the_water() -> None:
    assert only("amenity=cafe + drinking_water=no").gives[0] == {"food", "shelter", "rest"}
    assert only("amenity=toilets + toilets:disposal=pitlatrine").gives[0] == {"rest"}
    assert "water" in only("amenity=toilets").gives[0]


def test_taps_on_other_peoples_walls_need_a_key_and_open_water_needs_treatment() -> None:
    for kind, rule in PLACE_RULES.items():
        assert rule.needs_key == (kind in {"school", "office", "public building", "sports ground"})
        if kind in OPEN_WATER:
            assert rule.needs_treatment
            assert rule.works["flood"] == 0


def test_the_table_is_complete_and_its_shares_make_sense() -> None:
    for kind, rule in PLACE_RULES.items():
        assert tuple(rule.works) == EVENTS, kind
        assert all(0 <= share <= 1 for share in rule.works.values()), kind
        # No event makes a place more likely to work than an ordinary day.
        assert max(rule.works.values()) == rule.works["none"], kind
        assert rule.gives <= {"water", "food", "shelter", "help", "rest"}, kind
        assert rule.gives, kind
        assert rule.service_s >= 0, kind
        if "water" in rule.gives:
            assert rule.service_s > 0, kind
        if rule.needs_treatment or rule.needs_key:
            assert "water" in rule.gives, kind
        for pattern in rule.tags:
            for key, values in conditions(pattern):
                assert key, kind
                assert values, kind


def test_every_row_of_the_table_can_be_reached() -> None:
    for kind, rule in PLACE_RULES.items():
        reached = set()
        for pattern in rule.tags:
            tags = {key: min(values) for key, values in conditions(pattern)}
            tags = {key: "yes" if value == "*" else value for key, value in tags.items()}
            reached.add(match(tags))
        assert kind in reached, kind


def test_lists_in_a_value_and_any_value_fit_as_the_table_says() -> None:
    assert holds({"vending": "sweets;drinks"}, ("vending", frozenset({"drinks"})))
    assert not holds({"vending": "sweets;tickets"}, ("vending", frozenset({"drinks"})))
    assert holds({"office": "lawyer"}, ("office", frozenset({"*"})))
    assert not holds({"office": "no"}, ("office", frozenset({"*"})))
    assert not holds({}, ("office", frozenset({"*"})))


def test_names_and_hours_are_carried_as_they_are_written() -> None:
    hostile = '<img src=x onerror="alert(1)">'
    places = places_from(
        [Feature({"amenity": "cafe", "name": hostile, "opening_hours": "Mo-Fr 08:00-18:00"})]
    )
    assert places.name == (hostile,)
    assert places.hours == ("Mo-Fr 08:00-18:00",)
    assert places.segment.tolist() == [-1]
    assert np.isinf(places.access_m).all()


def test_no_features_make_no_places() -> None:
    assert len(places_from([])) == 0


TOWN = """<?xml version='1.0' encoding='UTF-8'?>
<osm version="0.6">
 <node id="1" version="1" lat="46.0" lon="-64.80"/>
 <node id="2" version="1" lat="46.0" lon="-64.79"/>
 <node id="3" version="1" lat="46.0" lon="-64.788"/>
 <node id="4" version="1" lat="46.0" lon="-64.78"/>
 <node id="5" version="1" lat="46.01" lon="-64.79"/>
 <node id="6" version="1" lat="46.0010" lon="-64.799"/>
 <node id="7" version="1" lat="46.0010" lon="-64.798"/>
 <way id="10" version="1"><nd ref="1"/><nd ref="2"/><tag k="highway" v="residential"/></way>
 <way id="11" version="1"><nd ref="2"/><nd ref="3"/><tag k="highway" v="residential"/>
  <tag k="bridge" v="yes"/></way>
 <way id="12" version="1"><nd ref="3"/><nd ref="4"/><tag k="highway" v="residential"/></way>
 <way id="13" version="1"><nd ref="2"/><nd ref="5"/><tag k="highway" v="residential"/></way>
 <way id="14" version="1"><nd ref="6"/><nd ref="7"/><tag k="highway" v="footway"/></way>
</osm>
"""


@pytest.fixture(scope="module")
def town(tmp_path_factory: pytest.TempPathFactory) -> Streets:
    path = tmp_path_factory.mktemp("town") / "town.osm"
    path.write_text(TOWN)
    return Streets.of(read_extract(path).streets)


def way_of(streets: Streets, segment: int) -> int:
    return int(streets.ways.osm_id[streets.way[segment]])


def test_a_place_meets_the_nearest_street_mid_segment(town: Streets) -> None:
    places = attach(places_from([Feature({"amenity": "cafe"}, lon=-64.7975, lat=46.0005)]), town)
    assert way_of(town, places.segment[0]) == 10
    assert places.fraction[0] == pytest.approx(0.25, abs=1e-3)
    # The foot of the perpendicular lies due south: a geodesic along the meridian.
    _, _, expected = GEOD.inv(-64.7975, 46.0005, -64.7975, 46.0)
    assert places.access_m[0] == pytest.approx(expected, rel=1e-3)


def test_one_does_not_step_off_a_bridge_or_onto_a_path_that_leads_nowhere(town: Streets) -> None:
    places = attach(
        places_from(
            [
                Feature({"amenity": "bench"}, lon=-64.7885, lat=46.0),  # under the bridge
                Feature({"amenity": "bench"}, lon=-64.7985, lat=46.0009),  # beside a lone path
            ]
        ),
        town,
    )
    assert [way_of(town, row) for row in places.segment] == [12, 10]


def test_a_place_far_from_every_street_stays_without_one(town: Streets) -> None:
    places = attach(places_from([Feature({"amenity": "cafe"}, lon=-64.7, lat=46.3)]), town)
    assert places.segment.tolist() == [-1]
    assert np.isinf(places.access_m[0])


def test_the_nearest_street_is_that_of_shapely_for_many_places(town: Streets) -> None:
    generator = np.random.default_rng(3)
    lon, lat = generator.uniform(-64.801, -64.779, 200), generator.uniform(45.998, 46.012, 200)
    features = [
        Feature({"amenity": "bench"}, lon=float(x), lat=float(y))
        for x, y in zip(lon, lat, strict=True)
    ]
    places = attach(places_from(features), town, reach_m=5000)
    # A plane good to metres over this town: equirectangular at 46 N.
    scale = np.array([111320 * np.cos(np.radians(46)), 111130])
    lines = {
        way_of(town, row): LineString(
            [
                (town.lon[end] * scale[0], town.lat[end] * scale[1])
                for end in (town.tail[row], town.head[row])
            ]
        )
        for row in range(town.tail.size)
        if way_of(town, row) not in {11, 14}
    }
    for row in range(200):
        point = Point(lon[row] * scale[0], lat[row] * scale[1])
        best = min(lines.values(), key=point.distance)
        mine = lines[way_of(town, int(places.segment[row]))]
        assert mine.distance(point) == pytest.approx(best.distance(point), abs=2)
        assert places.access_m[row] == pytest.approx(best.distance(point), rel=0.01, abs=1)


def test_streams_are_reached_from_the_bank_beside_the_street_not_from_the_bridge(
    town: Streets,
) -> None:
    stream = Line(
        {"waterway": "stream", "name": "Brook"},
        np.array([-64.7894, -64.7894]),
        np.array([45.99, 46.02]),
    )
    culvert = Line({"waterway": "stream", "tunnel": "culvert"}, stream.lon, stream.lat)
    found = open_water([stream, culvert, Line({"railway": "rail"}, stream.lon, stream.lat)], town)
    assert found
    assert all(point.tags["name"] == "Brook" for point in found)
    places = attach(places_from(found), town)
    assert set(places.kind) == {"stream"}
    assert places.needs_treatment.all()
    assert {way_of(town, row) for row in places.segment} <= {10, 12, 13}
    assert (places.access_m <= 60 + 1).all()
    # The street to the north runs beside it for 1.1 km: a point for each half kilometre of stream.
    assert 2 <= len(found) <= 4


def test_far_water_and_empty_lines_give_nothing(town: Streets) -> None:
    far = Line({"waterway": "river"}, np.array([-64.7, -64.7]), np.array([45.9, 45.95]))
    assert open_water([far, Line({"waterway": "river"})], town) == ()
    assert open_water([], town) == ()


@pytest.mark.skipif(
    not LIECHTENSTEIN.is_dir(), reason="the open data of Liechtenstein is not on this machine"
)
def test_every_drinking_water_point_of_liechtenstein_becomes_a_place_on_a_street() -> None:
    # 32 points are tagged amenity=drinking_water in this extract of 2021 (counted with osmium).
    extract = read_extract(LIECHTENSTEIN / "liechtenstein_2021-05-05.osm.pbf")
    wanted = [f for f in extract.places if f.tags.get("amenity") == "drinking_water"]
    usable = [f for f in wanted if not reason_left_out(f.tags, "drinking water")]
    assert len(wanted) == 32
    places = attach(places_from(extract.places), Streets.of(extract.streets))
    water = {
        osm for osm, kind in zip(places.osm, places.kind, strict=True) if kind == "drinking water"
    }
    assert {f.osm for f in usable} <= water
    assert (places.segment >= 0).mean() > 0.95


def test_a_place_drawn_as_point_and_as_building_is_one() -> None:
    school = {"amenity": "school", "name": "Hill School"}
    wing = {"building": "school"}
    places = places_from(
        [
            Feature(wing, osm="w1", lon=-64.8, lat=46.0),
            Feature(school, osm="n2", lon=-64.8002, lat=46.0001),
            Feature(wing, osm="w3", lon=-64.7997, lat=46.0),
            Feature(school | {"name": "Dale School"}, osm="n4", lon=-64.8004, lat=46.0),
            Feature(wing, osm="w5", lon=-64.79, lat=46.0),  # 770 m away
        ]
    )
    # Of two schools near one building each name stays; the far building is another place.
    assert sorted(places.name) == ["", "Dale School", "Hill School"]
    assert set(places.osm) == {"n2", "n4", "w5"}


def test_merging_keeps_the_hours_of_either_and_never_joins_two_points() -> None:
    cafe = {"amenity": "cafe"}
    places = places_from(
        [
            Feature(cafe | {"name": "Corner"}, osm="n1", lon=-64.8, lat=46.0),
            Feature(cafe | {"opening_hours": "24/7"}, osm="w2", lon=-64.8, lat=46.0001),
            Feature({"amenity": "bench"}, osm="n3", lon=-64.8, lat=46.0),
            Feature({"amenity": "bench"}, osm="n4", lon=-64.8, lat=46.0),
        ]
    )
    assert places.osm == ("n1", "n3", "n4")
    assert places.hours[0] == "24/7"
    assert places.name[0] == "Corner"


def test_a_cemetery_is_a_place_by_its_ground_and_a_parcel_shop_gives_no_water() -> None:
    cemetery = {"landuse": "cemetery", "name": "West Cemetery"}
    assert may_be_place(cemetery)
    assert not may_be_place({"landuse": "forest"})
    features = [
        Feature(cemetery, lon=7.0, lat=46.0),
        Feature({"amenity": "post_office", "name": "Parcel corner"}, lon=7.01, lat=46.0),
        Feature({"shop": "convenience", "amenity": "post_office"}, lon=7.02, lat=46.0),
    ]
    places = places_from(features)
    assert places.kind == ("cemetery tap", "post office", "convenience shop")
    assert ["water" in gives for gives in places.gives] == [True, False, True]


def test_a_shop_beside_the_way_is_reached_though_a_car_park_is_nearer(tmp_path: Path) -> None:
    # The street runs east; 25 m north of it stands a shop, 5 m from the aisle of a car park that
    # hangs on another street 500 m off. By streets alone the walk off the way is over a kilometre.
    nodes = {1: (0, 0), 2: (1000, 0), 3: (400, 30), 4: (600, 30), 5: (600, 600), 6: (1000, 600)}
    scale = 1.0 / 111_195.0
    text = ['<osm version="0.6">']
    text += [
        f'<node id="{number}" version="1" lat="{north * scale:.9f}" lon="{east * scale:.9f}"/>'
        for number, (east, north) in nodes.items()
    ]
    ways = {
        11: ([1, 2], "residential"),
        12: ([3, 4], "service"),
        13: ([4, 5], "service"),
        14: ([5, 6], "residential"),
        15: ([6, 2], "residential"),
    }
    for number, (refs, kind) in ways.items():
        inner = "".join(f'<nd ref="{ref}"/>' for ref in refs)
        text.append(f'<way id="{number}" version="1">{inner}<tag k="highway" v="{kind}"/></way>')
    path = tmp_path / "town.osm"
    path.write_text("\n".join([*text, "</osm>"]), encoding="utf-8")
    streets = Streets.read(path)
    shop = Feature({"shop": "supermarket"}, lon=500 * scale, lat=25 * scale)
    places = attach(places_from([shop]), streets)
    assert way_of(streets, int(places.segment[0])) == 12
    row = int(np.flatnonzero(streets.ways.osm_id[streets.way] == 11)[0])
    cost = streets.length_m
    course = course_along(
        streets, Network.of_streets(streets).least(cost, cost, (row, 0.0), (row, 1.0))
    )
    near = nearby_places(
        places,
        streets,
        course=course,
        start_fraction=0.0,
        closed=np.zeros(streets.way.size, bool),
        reach_m=300.0,
    )
    assert near.place.tolist() == [0]
    assert near.off_m[0] == pytest.approx(25.0, rel=0.01)
    assert near.along_m[0] == pytest.approx(500.0, rel=0.01)


@pytest.mark.parametrize(("oneway", "off_m"), [("no", [150.0]), ("yes", []), ("-1", [])])
def test_a_place_is_near_only_by_streets_that_lead_there_and_back(
    tmp_path: Path, oneway: str, off_m: list[float]
) -> None:
    # A shop 150 m up a side street; where that may be walked one way only, a refill is no detour.
    scale = 1.0 / 111_195.0
    nodes = {1: (0, 0), 2: (500, 0), 3: (1000, 0), 4: (500, 150)}
    points = "".join(
        f'<node id="{number}" version="1" lat="{north * scale:.9f}" lon="{east * scale:.9f}"/>'
        for number, (east, north) in nodes.items()
    )
    path = tmp_path / "town.osm"
    path.write_text(
        f'<osm version="0.6">{points}'
        '<way id="11" version="1"><nd ref="1"/><nd ref="2"/><nd ref="3"/>'
        '<tag k="highway" v="residential"/></way>'
        '<way id="12" version="1"><nd ref="2"/><nd ref="4"/>'
        f'<tag k="highway" v="residential"/><tag k="oneway:foot" v="{oneway}"/></way></osm>',
        encoding="utf-8",
    )
    streets = Streets.read(path)
    shop = Feature({"shop": "supermarket"}, lon=500 * scale, lat=150 * scale)
    places = attach(places_from([shop]), streets)
    assert way_of(streets, int(places.segment[0])) == 12
    first, last = np.flatnonzero(streets.ways.osm_id[streets.way] == 11).tolist()
    cost = streets.length_m
    course = course_along(
        streets, Network.of_streets(streets).least(cost, cost, (first, 0.0), (last, 1.0))
    )
    near = nearby_places(
        places,
        streets,
        course=course,
        start_fraction=0.0,
        closed=np.zeros(streets.way.size, bool),
        reach_m=300.0,
    )
    assert near.off_m.tolist() == pytest.approx(off_m, rel=0.01)
    assert near.along_m.tolist() == pytest.approx([500.0] * len(off_m), rel=0.01)
    shut = nearby_places(
        places,
        streets,
        course=course,
        start_fraction=0.0,
        closed=streets.ways.osm_id[streets.way] == 12,
        reach_m=300.0,
    )
    assert shut.place.tolist() == []


@pytest.mark.parametrize(
    ("first", "second", "names", "count"),
    [
        # 10 m apart. A building and the point in it are one place, two points are two; of a school
        # several outlines without a name are one, of a shop they are two, and so are two names.
        ("n1", "w2", ("", ""), 1),
        ("w2", "n1", ("", ""), 1),
        ("n1", "n2", ("", ""), 2),
        ("w1", "w2", ("", ""), 1),
        ("w1", "w2", ("East School", ""), 1),
        ("w1", "n2", ("East School", "West School"), 2),
    ],
)
def test_near_outlines_and_points_of_a_school_are_one_or_two(
    first: str, second: str, names: tuple[str, str], count: int
) -> None:
    features = [
        Feature({"amenity": "school"} | ({"name": name} if name else {}), osm=osm, lon=lon)
        for osm, name, lon in zip((first, second), names, (0.0, 10.0 / 111_195.0), strict=True)
    ]
    assert len(places_from(features).kind) == count


def test_near_outlines_of_shops_are_two() -> None:
    shops = [
        Feature({"shop": "supermarket"}, osm=osm, lon=lon)
        for osm, lon in (("w1", 0.0), ("w2", 10.0 / 111_195.0))
    ]
    assert len(places_from(shops).kind) == 2
