"""Rasters that miss a part of the way: the band of time and water, against the whole raster."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray

from simulator import InputError, Plan, demo_folder, walk_home
from simulator.ground.raster import read_rasters
from simulator.ground.terrain import drape
from simulator.home import walk as home
from simulator.home.answer import Walk
from simulator.home.doubts import height_band
from simulator.home.records import Heights
from simulator.home.scene import Scene, prepare
from simulator.home.unknown_heights import (
    STEEP_LEAST,
    STEEP_SHARE,
    STEEP_UNKNOWN,
    map_notes,
    steepest,
    unknown_steps,
    where_words,
)
from simulator.home.verdict import LEVELS
from simulator.home.way import Way, find_way
from simulator.questions.today import Left, walk_on
from simulator.units import Units
from simulator.walk.course import course_along
from simulator.walk.party import street_times_s
from simulator.walk.records import Outcome, Total
from tests.conftest import QUICK, SOUTH, STEP_DEG, TownWriter

Flags = NDArray[np.bool_]
Keep = Callable[[NDArray[np.float64], NDArray[np.float64]], Flags]


def hole(path: Path, keep: Keep) -> None:
    """Take the heights of a raster away where they are not kept, by longitude and latitude."""
    with rasterio.open(path) as raster:
        height, profile = raster.read(1), raster.profile
        rows, columns = np.indices(height.shape)
        a, _, west, _, e, north = tuple(raster.transform)[:6]
    lon, lat = west + a * (columns + 0.5), north + e * (rows + 0.5)
    height = np.where(keep(lon, lat), height, -9999.0).astype("float32")
    with rasterio.open(path, "w", **(profile | {"nodata": -9999.0})) as raster:
        raster.write(height, 1)


def north_of(row: float) -> Keep:
    """Keep what lies south of a row of the town's streets."""
    return lambda _lon, lat: lat < SOUTH + row * STEP_DEG


@pytest.fixture(scope="module")
def demo_scene() -> Scene:
    plan = Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})
    return prepare(plan)


@pytest.fixture(scope="module")
def demo_way(demo_scene: Scene) -> Way:
    return find_way(demo_scene)


def with_hole(scene: Scene, way: Way, at_m: float, radius_m: float) -> tuple[Scene, Way]:
    """Drape the demo over its raster with a round hole at a place of the way."""
    streets, plan = scene.streets, scene.plan
    bounds = (streets.lon.min(), streets.lat.min(), streets.lon.max(), streets.lat.max())
    (raster,) = read_rasters(plan.map.elevation, bounds=bounds, margin_m=200.0)
    spot = int(np.searchsorted(way.course.distance_m, at_m))
    a, _, c, _, e, f = raster.transform
    rows, columns = np.indices(raster.height_m.shape)
    # One degree at 46 N: 77.5 km east, 111.1 km north (WGS 84).
    east = (c + a * columns - way.course.lon[spot]) * 77_500.0
    north = (f + e * rows - way.course.lat[spot]) * 111_100.0
    height = np.where(np.hypot(east, north) < radius_m, np.nan, raster.height_m)
    same = streets.same_node()
    terrain = drape(
        streets.lon,
        streets.lat,
        same[streets.tail],
        same[streets.head],
        streets.length_m,
        streets.ways.bridge[streets.way],
        streets.ways.tunnel[streets.way],
        rasters=[replace(raster, height_m=height.astype(np.float32))],
        smoothing_m=plan.map.smoothing_m,
        steps=streets.ways.steps[streets.way],
    )
    terrain = replace(
        terrain,
        node_height_m=terrain.node_height_m[same],
        node_known=terrain.node_known[same],
    )
    holed = replace(scene, streets=streets.with_terrain(terrain))
    legs = [course_along(holed.streets, leg) for leg in way.legs]
    assert len(legs) == 1
    return holed, replace(way, course=legs[0])


def test_the_slope_is_the_weighted_percentile_of_the_known_ground(
    demo_scene: Scene, demo_way: Way
) -> None:
    scene, way = with_hole(demo_scene, demo_way, 14_000.0, 1500.0)
    streets, unknown = scene.streets, unknown_steps(way.course, scene.streets)
    found = steepest(streets, way.course, unknown)
    terrain = streets.terrain
    assert terrain is not None
    piece = np.repeat(np.arange(streets.way.size), np.diff(terrain.piece_start))
    deck = (streets.ways.bridge | streets.ways.tunnel)[streets.way]
    course = way.course
    spots = np.column_stack([course.lon[:-1], course.lat[:-1]])[unknown] * [77_240.0, 111_200.0]
    tails = np.column_stack([streets.lon, streets.lat])[streets.tail] * [77_240.0, 111_200.0]
    far = np.array([np.hypot(*(spots - tail).T).min() for tail in tails[::50]])
    assert (far < 2000.0).any()  # otherwise nothing is near, and the check below is of nothing
    near = np.zeros(streets.way.size, dtype=bool)
    for low in range(0, streets.way.size, 4000):
        part = slice(low, low + 4000)
        off = np.hypot(*(tails[part, None] - spots[None, ::8]).transpose(2, 0, 1)).min(axis=1)
        near[part] = off < 2000.0
    shares = []
    for chosen in (terrain.covered & ~deck, terrain.covered & ~deck & near):
        of_piece = chosen[piece]
        run, rise = terrain.piece_run_m[of_piece], terrain.piece_rise_m[of_piece]
        # numpy's weighted quantile as the outside check.
        shares.append(
            np.quantile(np.abs(rise) / run, STEEP_SHARE, weights=run, method="inverted_cdf")
        )
    assert found.measured
    assert found.slope == pytest.approx(max(STEEP_LEAST, *shares), rel=0.02)  # every 8th spot only
    assert found.slope > STEEP_LEAST


@pytest.fixture(scope="module")
def whole(demo_scene: Scene, demo_way: Way) -> Outcome:
    """Walk the way on the whole raster."""
    return home.walk_way(demo_scene, demo_way).outcome


@pytest.mark.parametrize("at_m", [300.0, 14_000.0])
def test_the_band_holds_what_the_whole_raster_gives(
    demo_scene: Scene, demo_way: Way, whole: Outcome, at_m: float
) -> None:
    check_band(demo_scene, demo_way, whole, at_m, 800.0)


@pytest.mark.slow
@pytest.mark.parametrize("radius_m", [300.0, 2000.0, 5000.0])
@pytest.mark.parametrize("at_m", range(0, 25_000, 4000))
def test_the_band_holds_the_truth_wherever_the_hole_is(
    demo_scene: Scene, demo_way: Way, whole: Outcome, at_m: int, radius_m: float
) -> None:
    check_band(demo_scene, demo_way, whole, float(at_m), radius_m)


def check_band(
    demo_scene: Scene, demo_way: Way, whole: Outcome, at_m: float, radius_m: float
) -> None:
    """Check that time and water on the whole raster lie within the band of the holed one."""
    scene, way = with_hole(demo_scene, demo_way, at_m, radius_m)
    band = height_band(scene, home.walk_way(scene, way), home.walk_way)
    if band is None:
        assert not unknown_steps(way.course, scene.streets).any()
        return
    true_h = float(whole.totals[Total.CLOCK_S, 0]) / 3600.0
    true_l = float(whole.totals[Total.LOST_ML].sum()) / 1000.0
    assert band.elapsed_h[0] <= true_h <= band.elapsed_h[1]
    assert band.need_l[0] <= true_l <= band.need_l[1]


def test_where_nothing_is_known_near_by_the_default_holds(demo_scene: Scene, demo_way: Way) -> None:
    scene, way = with_hole(demo_scene, demo_way, 12_000.0, 14_000.0)
    found = steepest(scene.streets, way.course, unknown_steps(way.course, scene.streets))
    assert not found.measured
    assert found.slope >= STEEP_UNKNOWN


def test_estimated_heights_make_nobody_faster_than_on_the_level(
    demo_scene: Scene, demo_way: Way
) -> None:
    scene, _ = with_hole(demo_scene, demo_way, 14_000.0, 2000.0)
    streets, terrain = scene.streets, scene.streets.terrain
    assert terrain is not None
    level = streets.with_terrain(replace(terrain, piece_rise_m=np.zeros_like(terrain.piece_rise_m)))
    here, flat = (street_times_s(each, scene.manner) for each in (streets, level))
    blind = replace(terrain, covered=np.ones_like(terrain.covered))
    trusted = street_times_s(streets.with_terrain(blind), scene.manner)
    unknown = ~terrain.covered
    assert unknown.any()
    for way in (0, 1):
        assert (here[way][unknown] >= flat[way][unknown] - 1e-9).all()
        assert (trusted[way][unknown] < flat[way][unknown] - 1e-9).any()
        np.testing.assert_array_equal(here[way][~unknown], trusted[way][~unknown])


# --- whole plans --------------------------------------------------------------------------------


def test_a_hole_in_the_way_gives_a_span_where_it_was_a_refusal(write_town: TownWriter) -> None:
    path = write_town(QUICK)
    whole = walk_home(Plan.read(path)).summary
    # The bridge is the only way over, and its banks have no heights.
    hole(path.parent / "heights.tif", lambda _lon, lat: abs(lat - SOUTH - 0.0075) > 0.003)
    walk = walk_home(Plan.read(path))
    told = walk.summary["heights"]
    (stretch,) = told["stretches"]
    assert told["unknown_km"] == pytest.approx(stretch[1] - stretch[0], abs=0.05)
    # What lies in the hole is unknown, what lies more than a block outside is not.
    from_middle = np.abs(walk.segments["lat"] - SOUTH - 0.0075)
    assert not walk.segments.loc[from_middle < 0.003 - STEP_DEG / 8, "height_known"].any()
    assert walk.segments.loc[from_middle > 0.003 + STEP_DEG, "height_known"].all()
    low, high = told["time_h_band"]
    assert low <= whole["time"]["elapsed_h"] <= high
    assert low <= walk.summary["time"]["elapsed_h"] <= high
    low, high = told["need_l_band"]
    assert low <= whole["water"]["need_l"] <= high
    assert told["steepest_assumed"] >= STEEP_LEAST
    reason = walk.summary["verdict"]["reasons"][1]
    assert reason.startswith(f"heights unknown for {where_words(Heights(**told), Units())}: takes ")
    assert any(text.startswith("HEIGHTS ARE MISSING") for text in walk.summary["assumptions"])
    assert any(text.startswith("Heights unknown for") for text in walk.summary["assumptions"])
    unknown = ~walk.segments["height_known"]
    assert walk.segments.loc[unknown, "run_m"].sum() / 1000.0 == pytest.approx(told["unknown_km"])
    assert walk.hours["height_unknown_m"].sum() / 1000.0 == pytest.approx(told["unknown_km"])


def test_a_hole_off_the_way_changes_nothing_but_a_note(write_town: TownWriter) -> None:
    path = write_town(QUICK)
    whole = walk_home(Plan.read(path)).summary
    hole(path.parent / "heights.tif", lambda lon, lat: (lon < -64.7962) | (lat > SOUTH + 0.003))
    holed = walk_home(Plan.read(path)).summary
    changed = {key for key, value in whole.items() if holed[key] != value}
    assert changed == {"inputs", "assumptions"}
    (note,) = set(holed["assumptions"]) - set(whole["assumptions"])
    assert note.startswith("HEIGHTS ARE MISSING for ")


def test_with_all_heights_the_summary_says_so_and_gives_no_span(write_town: TownWriter) -> None:
    told = walk_home(Plan.read(write_town(QUICK))).summary["heights"]
    assert told == {
        "unknown_km": 0.0,
        "stretches": [],
        "time_h_band": None,
        "need_l_band": None,
        "steepest_assumed": None,
    }


def test_without_any_raster_all_is_unknown_and_stays_flat(write_town: TownWriter) -> None:
    plan = QUICK.replace('elevation = ["heights.tif"]\n', "")
    walk = walk_home(Plan.read(write_town(plan)))
    told, length_km = walk.summary["heights"], walk.summary["route"]["distance_km"]
    assert told["unknown_km"] == pytest.approx(length_km)
    assert told["stretches"] == [[0.0, pytest.approx(length_km)]]
    assert told["time_h_band"] is None
    assert not any("HEIGHTS ARE MISSING" in text for text in walk.summary["assumptions"])
    assert not walk.segments["height_known"].any()


def test_home_on_unknown_ground_may_lie_on_a_hill(write_town: TownWriter) -> None:
    path = write_town(QUICK)
    hole(path.parent / "heights.tif", north_of(8))
    walk = walk_home(Plan.read(path))
    told = walk.summary["heights"]
    assert told["stretches"][-1][1] == pytest.approx(walk.summary["route"]["distance_km"])
    assert told["time_h_band"][0] < walk.summary["time"]["elapsed_h"] < told["time_h_band"][1]


def test_the_graver_verdict_of_both_walks_holds(write_town: TownWriter) -> None:
    # Leaving so that the estimate is home before the lights count, and the steep walk is not.
    plan = QUICK.replace("sex =", "pace_factor = 0.35\nsex =").replace("lamp,light", "stone,tool")
    plan += '[event]\nkind = "power failure"\n'
    path = write_town(plan)
    (path.parent / "bag.csv").write_text(
        "item,purpose,tier,quantity,mass_g,volume_ml,price,expires,water_ml,treats_ml,"
        "energy_kcal,light_h,warmth_clo,power_wh,caution\n"
        "bottle,water,basic,1,1540,1560,4,,1500,0,0,0,0,0,\n",
        encoding="utf-8",
    )
    hole(path.parent / "heights.tif", north_of(1.5))
    read = Plan.read(path)
    walk = walk_home(read)
    dusk = walk.sun["civil_dusk"]
    assert dusk is not None
    length = timedelta(hours=walk.summary["time"]["elapsed_h"])
    depart: datetime = (dusk - length + timedelta(minutes=5)).replace(tzinfo=None, microsecond=0)
    read = read.with_changes(trip={"depart": depart})
    scene = prepare(read)
    estimate = home.tabulate(scene, home.walk_way(scene, find_way(scene))).summary["verdict"]
    walk = walk_home(read)
    verdict = walk.summary["verdict"]
    assert LEVELS.index(verdict["level"]) > LEVELS.index(estimate["level"]) == 0
    assert verdict["reasons"][0].startswith("if it is steep where heights are unknown: ")
    assert verdict["reasons"][1].startswith("heights unknown for ")
    assert any("without a lamp to see by" in text for text in verdict["reasons"])
    assert not any("nothing that calls for special care" in text for text in verdict["reasons"])


@pytest.mark.parametrize("limits", ['["push-chair"]', '["wheels"]'])
def test_whoever_needs_a_gentle_slope_is_promised_none_on_unknown_ground(
    write_town: TownWriter, limits: str
) -> None:
    path = write_town(QUICK.replace("sex =", f"limits = {limits}\nsex ="))
    hole(path.parent / "heights.tif", lambda _lon, lat: abs(lat - SOUTH - 0.0075) > 0.003)
    with pytest.raises(InputError, match=r"leaves \d+% of the streets without height"):
        walk_home(Plan.read(path))


def test_whoever_cannot_climb_stairs_still_gets_a_span(write_town: TownWriter) -> None:
    path = write_town(QUICK.replace("sex =", 'limits = ["no stairs"]\nsex ='))
    hole(path.parent / "heights.tif", lambda _lon, lat: abs(lat - SOUTH - 0.0075) > 0.003)
    assert walk_home(Plan.read(path)).summary["heights"]["time_h_band"] is not None


def test_below_a_flood_level_unknown_ground_is_not_taken_as_dry(write_town: TownWriter) -> None:
    # The known ground falls from 32.5 m in the south to 28.8 m at the river.
    path = write_town(QUICK + "[event]\nflood_level_m = 29.0\n")
    hole(path.parent / "heights.tif", north_of(8))
    with pytest.raises(InputError, match=r"has no height at trip\.home"):
        walk_home(Plan.read(path))


def test_a_raster_of_voids_only_is_refused(write_town: TownWriter) -> None:
    path = write_town(QUICK)
    hole(path.parent / "heights.tif", lambda lon, _lat: lon > 0.0)
    with pytest.raises(InputError, match=r"has no height at trip\.start"):
        walk_home(Plan.read(path))


def test_a_plan_made_anew_on_the_way_has_the_span_too(write_town: TownWriter) -> None:
    path = write_town(QUICK)
    hole(path.parent / "heights.tif", north_of(8))
    walk: Walk = walk_on(Plan.read(path), left=Left())
    assert walk.summary["heights"]["time_h_band"] is not None


def test_a_map_with_all_heights_or_none_has_no_note(demo_scene: Scene, demo_way: Way) -> None:
    assert map_notes(demo_scene.streets) == ()
    assert map_notes(replace(demo_scene.streets, terrain=None)) == ()
    scene, _ = with_hole(demo_scene, demo_way, 14_000.0, 2000.0)
    (note,) = map_notes(scene.streets)
    assert "count as level" not in note
    assert note.endswith("walkhome plan gives a span.")
    (spanned,) = map_notes(scene.streets, spanned=True)
    assert note.startswith(spanned)
