"""Street-by-street instructions, against ways drawn by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from simulator.home.directions import DEGREE_M, Direction, directions, ground_words, turn_words

Step = dict[str, object]


def told(
    corners: list[tuple[float, float]],
    streets: list[str],
    *,
    rise_m: list[float] | None = None,
    bridges: dict[int, str] | None = None,
    landmarks: tuple[tuple[float, str], ...] = (),
    kinds: list[str] | None = None,
) -> tuple[Direction, ...]:
    """Lay out one step between each two corners [m east, m north of the equator]."""
    at = np.array(corners)
    run = np.hypot(*np.diff(at, axis=0).T)
    count = run.size
    bridges = bridges or {}
    steps = pd.DataFrame(
        {
            "distance_m": np.concatenate([[0.0], np.cumsum(run)])[:-1],
            "run_m": run,
            "rise_m": rise_m or [0.0] * count,
            "lon": at[:-1, 0] / DEGREE_M,
            "lat": at[:-1, 1] / DEGREE_M,
            "street": streets,
            "highway": kinds or ["residential"] * count,
            "bridge": [row in bridges for row in range(count)],
            "bridge_name": [bridges.get(row, "") for row in range(count)],
            "tunnel": False,
            "steps": False,
        }
    )
    return directions(steps, landmarks=landmarks, end=(at[-1, 0] / DEGREE_M, at[-1, 1] / DEGREE_M))


@pytest.mark.parametrize(
    ("corner", "turn"),
    [
        ((0.0, 400.0), "straight on"),
        ((-200.0, 200.0), "left"),
        ((200.0, 200.0), "right"),
        ((-140.0, 340.0), "bear left"),
        ((140.0, 340.0), "bear right"),
        ((60.0, 10.0), "sharp right"),
        ((-60.0, 10.0), "sharp left"),
    ],
)
def test_a_turn_is_told_as_it_is_drawn(corner: tuple[float, float], turn: str) -> None:
    # North for 200 m, then on to the corner.
    first, second = told([(0.0, 0.0), (0.0, 200.0), corner], ["Mill Lane", "High Street"])
    assert first.turn == "start"
    assert (second.turn, second.street, second.along_m) == (turn, "High Street", 200.0)


def test_turns_read_the_same_in_any_direction_of_the_compass() -> None:
    for quarter in range(4):
        spin = np.array([[0, -1], [1, 0]])
        corners = np.array([(0.0, 0.0), (0.0, 200.0), (200.0, 200.0)])
        spun = corners @ np.linalg.matrix_power(spin, quarter).T
        _first, second = told([tuple(row) for row in spun.tolist()], ["A", "B"])
        assert second.turn == "right"


def test_a_bend_of_the_same_street_is_no_turn() -> None:
    way = told([(0.0, 0.0), (0.0, 200.0), (300.0, 200.0)], ["Mill Lane", "Mill Lane"])
    assert len(way) == 1
    assert way[0].length_m == pytest.approx(500.0)


def test_a_short_nameless_link_is_told_with_the_street_before_it() -> None:
    way = told(
        [(0.0, 0.0), (0.0, 200.0), (30.0, 200.0), (30.0, 500.0)],
        ["Mill Lane", "", "High Street"],
        kinds=["residential", "footway", "residential"],
    )
    assert [one.street for one in way] == ["Mill Lane", "High Street"]
    assert sum(one.length_m for one in way) == pytest.approx(530.0)


def test_a_turn_behind_a_bridge_or_a_place_says_so() -> None:
    corners = [(0.0, 0.0), (0.0, 200.0), (0.0, 260.0), (0.0, 290.0), (200.0, 290.0)]
    streets = ["Mill Lane"] * 3 + ["High Street"]
    way = told(corners, streets, bridges={1: "Mill Bridge"})
    assert way[0].over == ("Mill Bridge",)
    assert way[1].after == "Mill Bridge"
    assert told(corners, streets, landmarks=((280.0, "Town Hall"),))[1].after == "Town Hall"
    assert told(corners, streets, landmarks=((180.0, "Town Hall"),))[1].after == ""


def test_ground_is_told_by_its_slope() -> None:
    assert ground_words(500.0, 5.0, 3.0) == "level"
    assert ground_words(500.0, 12.0, 0.0) == "uphill"
    assert ground_words(500.0, 0.0, 12.0) == "downhill"
    assert ground_words(500.0, 0.0, 40.0) == "steeply downhill"
    assert ground_words(2000.0, 20.0, 20.0) == "up and down"
    assert ground_words(0.0, 0.0, 0.0) == "level"
    assert turn_words(-180.0) == "sharp left"


def test_lengths_add_up_however_many_streets_there_are() -> None:
    count = 200
    corners = [(0.0, 50.0 * row) for row in range(count + 1)]
    way = told(corners, [f"Street {row}" for row in range(count)])
    assert len(way) <= 60
    assert sum(one.length_m for one in way) == pytest.approx(50.0 * count)
    assert [one.along_m for one in way] == sorted(one.along_m for one in way)
