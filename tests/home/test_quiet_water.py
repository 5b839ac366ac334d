"""From water to water one walks as the plan would: off the main road, unless that leaves one dry.

A main road runs 10 km straight east from the start to the home, and half a kilometre south of it a
lane. Cross streets join them at both ends and in the middle; from there a path leads 0.7 km north
to the only tap. To the tap it is 5.7 km by the road and 6.7 by the lane, and so it is from there
to the home.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from simulator import Plan
from simulator.ground.walkable import HIGHWAYS
from simulator.home.scene import prepare
from simulator.home.walk import walk_way
from simulator.home.water import dry_way
from simulator.home.way import find_way
from simulator.walk.records import Total

KM_DEG = 1000.0 / 111_319.49
"""A kilometre along the equator of the WGS84 ellipsoid, 6,378,137 m x pi / 180 a degree [deg]."""

POINTS = {
    1: (0.0, 0.0), 2: (5.0, 0.0), 3: (10.0, 0.0),
    4: (0.0, -0.5), 5: (5.0, -0.5), 6: (10.0, -0.5), 7: (5.0, 0.7),
}  # fmt: skip
WAYS = {
    11: ((1, 2, 3), {"highway": "primary", "maxspeed": "80", "sidewalk": "no", "shoulder": "no"}),
    12: ((4, 5, 6), {"highway": "residential"}),
    13: ((1, 4), {"highway": "residential"}),
    14: ((2, 5), {"highway": "residential"}),
    15: ((3, 6), {"highway": "residential"}),
    16: ((2, 7), {"highway": "path"}),
}

PLAN = f"""\
title = "Road and lane, invented"
[trip]
start = [0.0, 0.0]
home = [0.0, {10 * KM_DEG:.7f}]
depart = 2026-05-04T07:00:00
timezone = "UTC"
[map]
extract = "town.osm"
[walker]
mass_kg = 80
height_m = 1.75
age_y = 40
sex = "male"
[bag]
items = "bag.csv"
[weather]
air_c = 34
humidity_pct = 50
wind_m_s = 1
cloud_pct = 100
rain_mm_h = 0
[choices]
what_if = false
refill_reach_m = 100
"""


def town(folder: Path, bottle_ml: float, quiet: float = 1.0) -> Plan:
    """Write road, lane and tap, and a bag with one full bottle."""
    tap = '<tag k="amenity" v="drinking_water"/>'
    points = "".join(
        f'<node id="{number}" version="1" lat="{north * KM_DEG:.7f}" lon="{east * KM_DEG:.7f}">'
        f"{tap if number == 7 else ''}</node>"
        for number, (east, north) in POINTS.items()
    )
    ways = "".join(
        f'<way id="{number}" version="1">'
        + "".join(f'<nd ref="{ref}"/>' for ref in refs)
        + "".join(f'<tag k="{key}" v="{value}"/>' for key, value in tags.items())
        + "</way>"
        for number, (refs, tags) in WAYS.items()
    )
    (folder / "town.osm").write_text(
        f'<osm version="0.6" generator="invented">{points}{ways}</osm>', encoding="utf-8"
    )
    (folder / "bag.csv").write_text(
        "item,purpose,tier,quantity,mass_g,volume_ml,price,water_ml\n"
        f"bottle,water,basic,1,{bottle_ml + 40:g},{bottle_ml + 60:g},4,{bottle_ml:g}\n",
        encoding="utf-8",
    )
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    return Plan.read(folder / "plan.toml").with_changes(choices={"quiet": quiet})


NEED_ML_KM = 180.0
"""Water of a kilometre there and then, on the level [mL]; checked in the first test."""


@pytest.mark.parametrize(
    ("bottle_km", "quiet", "km", "main_road_km"),
    [
        # For 7.5 km: enough for 6.7 along the lane. For 5.6, with what is not felt at most 6.5: the
        # road alone is short enough. Who does not mind traffic takes the road anyway.
        (7.5, 1.0, 13.4, 0.0),
        (5.6, 1.0, 11.4, 10.0),
        (7.5, 0.0, 11.4, 10.0),
    ],
)
def test_the_way_from_water_to_water_is_quiet_where_that_keeps_one_from_running_dry(
    tmp_path: Path, bottle_km: float, quiet: float, km: float, main_road_km: float
) -> None:
    scene = prepare(town(tmp_path, NEED_ML_KM * bottle_km, quiet))
    walked = walk_way(scene, find_way(scene))
    length_km = 10.0 if quiet == 0.0 else 11.0
    assert walked.way.course.length_m == pytest.approx(1000.0 * length_km, rel=0.002)
    lost_ml = float(walked.outcome.totals[Total.LOST_ML].sum())
    assert lost_ml / length_km == pytest.approx(NEED_ML_KM, rel=0.1)
    found = dry_way(scene, walked, walk_way)
    assert found.needed
    assert found.safe
    assert found.walked is not None
    course = found.walked.way.course
    assert course.length_m == pytest.approx(1000.0 * km, rel=0.002)
    road = np.array(HIGHWAYS)[course.highway] == "primary"
    assert float(course.run_m[road].sum()) == pytest.approx(1000.0 * main_road_km, abs=1.0)
    # What it takes is told in time, whatever it was chosen by.
    moved_s = float(found.walked.outcome.totals[Total.MOVED_S].max())
    assert found.walked.way.cost_s == pytest.approx(moved_s, rel=0.15)
