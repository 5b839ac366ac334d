"""Quiet ways: what more of it costs and saves, on the demo and on a drawn town."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.demo import demo_folder
from simulator.ground.walkable import HIGHWAYS
from simulator.home.scene import Scene, prepare
from simulator.home.way import compare_ways, find_way, prepare_legs, street_times
from simulator.plan import Plan
from simulator.route.discomfort import quiet_factor


@pytest.fixture(scope="module")
def scene() -> Scene:
    return prepare(Plan.read(demo_folder() / "plan.toml"))


def test_more_quiet_is_never_quicker_and_never_less_quiet(scene: Scene) -> None:
    # Minimising t + q·d for growing q: t rises and d falls. Exchange argument, by hand.
    times = street_times(scene, quiet=0.0)
    bother = quiet_factor(scene.streets.ways, quiet=1.0)[scene.streets.way] - 1.0
    pair = (times.day_forward_s, times.day_backward_s)
    start, home = ((end.segment, end.fraction) for end in (scene.ends[0], scene.ends[-1]))
    took, bothered = [], []
    for quiet in (0.0, 0.25, 1.0, 3.0, 5.0):
        factor = 1.0 + quiet * bother
        path = scene.network.least(pair[0] * factor, pair[1] * factor, start, home)
        took.append(path.sum_of(*pair))
        bothered.append(path.sum_of(*(each * bother for each in pair)))
    assert took == sorted(took)
    assert bothered == sorted(bothered, reverse=True)
    assert bothered[2] < bothered[0]


def test_both_ways_are_told_and_the_quiet_one_keeps_off_traffic(scene: Scene) -> None:
    times = street_times(scene)
    way = find_way(scene, times=times)
    told = compare_ways(scene, way, times=times)
    quiet, fast = told.quiet, told.fast
    assert told.chosen == "quiet"
    assert not told.same
    assert quiet.moving_min > fast.moving_min
    busy = [one.busy_day_km + one.busy_dark_km for one in (quiet, fast)]
    assert busy[0] < busy[1]
    # By hand from the way itself: no sidewalk mapped, and a kind of road with fast traffic.
    streets, course = scene.streets, way.course
    kinds = np.array(HIGHWAYS)[course.highway]
    loud = np.isin(kinds, ["primary", "secondary", "trunk"]) & ~streets.ways.sidewalk[course.way]
    assert busy[0] >= float(course.run_m[loud].sum()) / 1000.0 - 1e-6


def test_asked_for_the_fastest_the_way_is_the_fastest(scene: Scene) -> None:
    fastest = prepare(scene.plan.with_changes(choices={"quiet": 0.0}))
    times = street_times(fastest)
    way = find_way(fastest, times=times)
    assert way.cost_s == pytest.approx(sum(leg.cost for leg in way.legs))
    told = compare_ways(fastest, way, times=times)
    assert told.chosen == "fast"
    assert told.quiet.busy_dark_km < told.fast.busy_dark_km


def test_closures_are_told_in_time_and_chosen_by_quiet(scene: Scene) -> None:
    legs = prepare_legs(scene, street_times(scene))
    trip = legs.trips[0]
    segments = trip.path(trip.open_way).segment
    for row in np.linspace(5, segments.size - 6, 12).astype(int).tolist():
        around = trip.without([int(segments[row])])
        if not np.isfinite(around.cost_s):
            continue
        path = trip.path(around)
        assert path.cost == pytest.approx(around.cost_s)
        assert around.extra_s >= 0.0
        assert trip.took_s(around) == pytest.approx(path.sum_of(*trip.times_s))
        open_s = trip.path(trip.open_way).sum_of(*trip.times_s)
        assert trip.lost_s(around) == pytest.approx(trip.took_s(around) - open_s, abs=1e-6)
