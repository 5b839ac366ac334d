"""The way as steps: nothing lost, nothing added, the same cost as the search found."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np
import pyproj
import pytest

from simulator.ground.streets import Streets
from simulator.route.search import Network, Path
from simulator.walk.course import LONGEST_STEP_M, course_along, join_courses
from simulator.walk.engine import simulate
from simulator.walk.party import Manner, street_times_s
from simulator.walk.records import Total
from tests.conftest import town_xml, write_heights
from tests.walk.conftest import DEPART_EPOCH_S, make_conditions, make_walkers

PLAIN = Manner(load=False, dark=False, fatigue=False, rest_min_per_h=0.0)


@pytest.fixture(scope="module")
def streets(tmp_path_factory: pytest.TempPathFactory) -> Streets:
    folder = tmp_path_factory.mktemp("town")
    (folder / "town.osm").write_text(town_xml(), encoding="utf-8")
    write_heights(folder / "heights.tif")
    return Streets.read(folder / "town.osm", elevation=[folder / "heights.tif"])


@pytest.fixture(scope="module")
def path(streets: Streets) -> Path:
    return least(streets, (3, 0.25), (streets.tail.size - 5, 0.6))


def least(streets: Streets, start: tuple[int, float], end: tuple[int, float]) -> Path:
    return Network.of_streets(streets).least(*street_times_s(streets, PLAIN), start, end)


def test_the_course_is_as_long_as_its_geodesics(streets: Streets, path: Path) -> None:
    course = course_along(streets, path)
    # pyproj Geod on WGS84, over the points of the course itself.
    geod = pyproj.Geod(ellps="WGS84")
    assert course.length_m == pytest.approx(geod.line_length(course.lon, course.lat), rel=1e-6)
    assert course.run_m.max() <= LONGEST_STEP_M
    assert (course.run_m > 0.0).all()


def test_the_course_begins_and_ends_part_of_the_way_along_its_segments(
    streets: Streets, path: Path
) -> None:
    course = course_along(streets, path)
    assert (course.lon[0], course.lat[0]) == pytest.approx(
        streets.point_at(int(path.segment[0]), path.from_fraction)
    )
    assert (course.lon[-1], course.lat[-1]) == pytest.approx(
        streets.point_at(int(path.segment[-1]), path.to_fraction)
    )


def test_the_engine_takes_the_time_that_the_search_found(streets: Streets, path: Path) -> None:
    course = course_along(streets, path)
    totals = simulate(
        course,
        make_walkers(),
        manner=PLAIN,
        conditions=make_conditions(),
        depart_epoch_s=np.array([DEPART_EPOCH_S]),
    ).totals
    assert totals[Total.MOVED_S, 0] == pytest.approx(path.cost, rel=1e-9)


def test_walking_back_turns_heights_round(streets: Streets, path: Path) -> None:
    there = course_along(streets, path)
    turned = replace(
        path,
        segment=path.segment[::-1],
        forward=~path.forward[::-1],
        from_fraction=path.to_fraction,
        to_fraction=path.from_fraction,
    )
    back = course_along(streets, turned)
    assert back.length_m == pytest.approx(there.length_m)
    assert back.rise_m.sum() == pytest.approx(-there.rise_m.sum())
    assert np.allclose(back.height_m[[0, -1]], there.height_m[[-1, 0]])


def test_shorter_steps_leave_length_and_climb_as_they_are(streets: Streets, path: Path) -> None:
    long, short = course_along(streets, path), course_along(streets, path, longest_step_m=7.0)
    assert short.run_m.size > long.run_m.size
    assert short.length_m == pytest.approx(long.length_m)
    assert np.maximum(short.rise_m, 0.0).sum() == pytest.approx(np.maximum(long.rise_m, 0.0).sum())


def test_two_legs_joined_are_one_course(streets: Streets) -> None:
    middle = (30, 0.5)
    first = course_along(streets, least(streets, (3, 0.25), middle))
    second = course_along(streets, least(streets, middle, (60, 0.5)))
    joined = join_courses([first, second])
    assert joined.length_m == pytest.approx(first.length_m + second.length_m)
    assert joined.lon.size == joined.run_m.size + 1
    assert joined.height_m[first.run_m.size] == pytest.approx(second.height_m[0], abs=1e-6)


def test_a_path_without_length_is_refused(streets: Streets, path: Path) -> None:
    nowhere = replace(
        path, segment=path.segment[:1], forward=path.forward[:1], from_fraction=0.5, to_fraction=0.5
    )
    with pytest.raises(ValueError, match="no length"):
        course_along(streets, nowhere)


@pytest.mark.slow
def test_a_real_way_keeps_its_length_and_cost(liechtenstein: FilePath) -> None:
    # Map data © OpenStreetMap contributors, ODbL 1.0; beside the checkout, skipped when absent.
    country = Streets.read(liechtenstein, elevation=sorted(liechtenstein.parent.glob("*.tif")))
    start = country.snap(47.1410, 9.5209, limit_m=500.0, component=0)
    end = country.snap(47.1020, 9.6100, limit_m=500.0, component=0)
    found = least(country, (start.segment, start.fraction), (end.segment, end.fraction))
    course = course_along(country, found)
    # Vaduz to Malbun: about 12.3 km and 1,300 m up, measured by plain shortest paths.
    assert 11_000.0 < course.length_m < 14_500.0
    assert 1_100.0 < np.maximum(course.rise_m, 0.0).sum() < 1_600.0
    totals = simulate(
        course,
        make_walkers(),
        manner=PLAIN,
        conditions=make_conditions(),
        depart_epoch_s=np.array([DEPART_EPOCH_S]),
    ).totals
    assert totals[Total.MOVED_S, 0] == pytest.approx(found.cost, rel=1e-9)
