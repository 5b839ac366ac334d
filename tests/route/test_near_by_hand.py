"""Walking distances off a way on a network of four streets, added up by hand."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.route.near import Nearness, distance_off

# 0 --way-- 1, then two streets from 1 to 2, of 300 m and of 100 m, and one of 50 m from 2 to 3.
TAIL = np.array([0, 1, 1, 2], dtype=np.int32)
HEAD = np.array([1, 2, 2, 3], dtype=np.int32)
LENGTH_M = np.array([500.0, 300.0, 100.0, 50.0])


def near(
    length_m: np.ndarray[tuple[int], np.dtype[np.float64]] = LENGTH_M,
    closed: int | None = None,
    **place: float,
) -> Nearness:
    return distance_off(
        TAIL,
        HEAD,
        length_m,
        walkable=np.arange(4) != closed,
        nodes=4,
        way_segments=np.array([0], dtype=np.int32),
        segment=np.array([place["segment"]], dtype=np.int32),
        fraction=np.array([place["fraction"]]),
        access_m=np.array([place["access_m"]]),
        reach_m=1000.0,
    )


@pytest.mark.parametrize("order", [[0, 1, 2, 3], [0, 2, 1, 3]])
def test_of_parallel_streets_the_shorter_one_is_walked(order: list[int]) -> None:
    # To a tap 10 m off the middle of the last street: 100 + 25 + 10.
    found = near(LENGTH_M[order], segment=3, fraction=0.5, access_m=10.0)
    assert found.off_m[0] == pytest.approx(135.0)
    assert found.node[0] == 1


def test_a_place_on_the_longer_of_parallel_streets_is_reached_from_its_nearer_end() -> None:
    # At 0.9 of the street of 300 m: 270 m from node 1, or 100 m round and 30 m back.
    assert near(segment=1, fraction=0.9, access_m=0.0).off_m[0] == pytest.approx(130.0)
    assert near(segment=1, fraction=0.1, access_m=0.0).off_m[0] == pytest.approx(30.0)


def test_a_place_on_the_way_is_as_far_as_its_door() -> None:
    found = near(segment=0, fraction=0.5, access_m=12.0)
    assert found.off_m[0] == pytest.approx(12.0)
    assert found.node[0] == -1


def test_a_place_on_a_closed_street_is_out_of_reach_though_its_open_end_is_near() -> None:
    # A tap 10 m into the street of 100 m, which begins at the way; shut, as by a flood.
    assert near(segment=2, fraction=0.1, access_m=0.0).off_m[0] == pytest.approx(10.0)
    assert near(segment=2, fraction=0.1, access_m=0.0, closed=2).off_m[0] == np.inf
    # A tap beyond it is reached by the street of 300 m.
    found = near(segment=3, fraction=0.5, access_m=0.0, closed=2)
    assert found.off_m[0] == pytest.approx(325.0)
