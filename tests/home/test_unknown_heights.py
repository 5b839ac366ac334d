"""Ground of unknown height made easy and steep: worked by hand, and how it is told."""

from __future__ import annotations

from itertools import pairwise
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.ground.streets import Streets
from simulator.home.records import Heights
from simulator.home.unknown_heights import (
    EASIEST_SLOPE,
    RELIEF_UNKNOWN_M,
    STEEP_UNKNOWN,
    Steep,
    eased,
    share_words,
    steepened,
    steepest,
    stretches_m,
    where_words,
)
from simulator.units import Units
from simulator.walk.course import Course


def straight(rise_m: list[float], *, run_m: float = 100.0) -> Course:
    """Lay out steps of one length along a parallel."""
    count = len(rise_m)
    codes, flags = np.zeros(count, dtype=np.int8), np.zeros(count, dtype=bool)
    along = np.arange(count + 1, dtype=np.float64) * np.float64(run_m)
    return Course(
        segment=np.arange(count, dtype=np.int32),
        forward=~flags,
        way=np.zeros(count, dtype=np.int32),
        distance_m=along,
        run_m=np.full(count, run_m),
        rise_m=np.array(rise_m, dtype=np.float64),
        height_m=50.0 + np.concatenate(([0.0], np.cumsum(rise_m))),
        lon=along / 77_000.0,
        lat=np.full(count + 1, 46.0),
        surface=codes,
        lit=codes,
        traffic=codes,
        highway=codes,
        stairs=flags,
        bridge=flags,
        tunnel=flags,
        delay_s=np.arange(count, dtype=np.float64),
    )


def test_unknown_steps_go_up_and_down_at_the_slope_and_rise_as_estimated() -> None:
    course = straight([2, 4, -1, 3])
    unknown = np.array([False, True, True, False])
    rough, first = steepened(course, unknown, Steep(0.1, measured=True, relief_m=500.0))
    # By hand: 100 m that rise 4 m at 10 % up and down: 70 m up, 30 m down.
    assert rough.run_m.tolist() == pytest.approx([100, 70, 30, 45, 55, 100])
    assert rough.rise_m.tolist() == pytest.approx([2, 7, -3, 4.5, -5.5, 3])
    assert rough.height_m.tolist() == pytest.approx([50, 52, 59, 56, 60.5, 55, 58])
    assert first.tolist() == [0, 1, 3, 5]
    assert rough.delay_s.tolist() == [0, 1, 0, 2, 0, 3]
    np.testing.assert_allclose(rough.lon * 77_000.0, [0, 100, 170, 200, 245, 300, 400])
    assert rough.segment.tolist() == [0, 1, 1, 2, 2, 3]


def test_what_is_estimated_steeper_than_the_slope_stays() -> None:
    course = straight([0, 25, -30, 0])
    rough, _ = steepened(
        course, np.array([False, True, True, False]), Steep(0.1, measured=True, relief_m=0.0)
    )
    assert rough.rise_m.tolist() == [0, 25, -30, 0]


def test_an_end_of_the_way_on_unknown_ground_may_lie_higher_or_lower_than_estimated() -> None:
    course = straight([0, 0, 0, 0, 0])
    unknown = np.array([True, True, False, True, True])
    steep = Steep(0.1, measured=True, relief_m=8.0)
    rough, _ = steepened(course, unknown, steep)
    # 200 m that rise by the relief of 8 m: 70 m of each 100 m are climbed at 10 %.
    assert rough.run_m.tolist() == pytest.approx([70, 30, 70, 30, 100, 70, 30, 70, 30])
    assert rough.rise_m.sum() == pytest.approx(16)
    # More relief than the slope allows: all of it is climbed.
    high, _ = steepened(course, unknown, steep._replace(relief_m=500.0))
    assert high.slope.tolist() == pytest.approx([0.1, 0.1, 0, 0.1, 0.1])
    for relief_m, slope in ((8.0, -0.04), (500.0, EASIEST_SLOPE)):
        low = eased(course, unknown, steep._replace(relief_m=relief_m))
        assert low.slope.tolist() == pytest.approx([slope, slope, 0, slope, slope])


def test_between_known_heights_the_easiest_is_one_even_slope() -> None:
    course = straight([1, 6, -2, 8, 1])
    easy = eased(
        course, np.array([False, True, True, True, False]), Steep(0.2, measured=True, relief_m=90.0)
    )
    assert easy.rise_m.tolist() == pytest.approx([1, 4, 4, 4, 1])
    assert easy.height_m[-1] == pytest.approx(course.height_m[-1])


def tobler_s(course: Course) -> float:
    """Tobler 1993: 6 km/h times exp(-3.5 |slope + 0.05|)."""
    return float((course.run_m * 3.6 / 6 * np.exp(3.5 * np.abs(course.slope + 0.05))).sum())


@given(
    st.lists(
        st.tuples(st.floats(-9.0, 9.0), st.booleans(), st.booleans()), min_size=2, max_size=30
    ),
    st.floats(0.1, 0.3),
)
def test_time_never_falls_with_more_unknown_ground_and_never_rises_with_easier(
    steps: list[tuple[float, bool, bool]], slope: float
) -> None:
    course = straight([0.0, *(rise for rise, _, _ in steps), 0.0])
    some = np.array([False, *(unknown for _, unknown, _ in steps), False])
    more = some | np.array([False, *(unknown for _, _, unknown in steps), False])
    steep = Steep(slope, measured=True, relief_m=100.0)
    easy, one, other = (
        eased(course, some, steep),
        *(steepened(course, unknown, steep)[0] for unknown in (some, more)),
    )
    for changed in (easy, one, other):
        assert changed.length_m == pytest.approx(course.length_m)
        assert changed.rise_m.sum() == pytest.approx(course.rise_m.sum(), abs=1e-9)
    order = [tobler_s(each) for each in (easy, course, one, other)]
    assert all(less <= greater * (1 + 1e-12) for less, greater in pairwise(order))


def test_stretches_less_than_fifty_metres_apart_are_told_as_one() -> None:
    course = straight([0] * 10, run_m=40.0)
    flags = [True, False, True, True, False, False, True, False, False, True]
    assert stretches_m(course, np.array(flags)) == ((0, 160), (240, 280), (360, 400))
    assert stretches_m(course, np.zeros(10, dtype=bool)) == ()


@pytest.mark.parametrize(
    ("stretches", "unknown_km", "units", "words"),
    [
        ([[6.2, 7.6]], 1.4, Units(), "1.4 km, km 6.2 to 7.6"),
        ([[6.2, 7.6]], 1.4, Units("us"), "0.9 mi, mi 3.9 to 4.7"),
        ([[0.1, 0.2], [3, 3.1]], 0.2, Units(), "200 m, km 0.1 to 0.2 and 3.0 to 3.1"),
        (
            [[0, 1], [2, 3], [4, 5], [6, 7]],
            4.0,
            Units(),
            "4.0 km in 4 stretches between km 0.0 and 7.0",
        ),
    ],
)
def test_where_is_told_in_the_units_of_the_plan(
    stretches: list[list[float]], unknown_km: float, units: Units, words: str
) -> None:
    told = Heights(unknown_km, tuple((begin, end) for begin, end in stretches))
    assert where_words(told, units) == words


def test_a_share_is_never_told_as_nothing() -> None:
    assert [share_words(share) for share in (1e-6, 0.004, 0.22, 1.0)] == [
        "under 1%",
        "under 1%",
        "22%",
        "100%",
    ]


def test_a_map_without_heights_says_that_its_steepness_was_not_measured() -> None:
    bare = cast("Streets", SimpleNamespace(terrain=None))
    told = steepest(bare, straight([0.0]), np.ones(2, dtype=bool))
    assert told == Steep(STEEP_UNKNOWN, measured=False, relief_m=RELIEF_UNKNOWN_M)
    nowhere = SimpleNamespace(terrain=SimpleNamespace(node_known=np.zeros(4, dtype=bool)))
    assert steepest(cast("Streets", nowhere), straight([0.0]), np.ones(2, dtype=bool)) == told
