"""Unknown heights between known ones, against a dense solution by numpy and worked cases."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.ground.grid import harmonic


def test_a_line_between_two_known_points_is_straight() -> None:
    value = np.array([10.0, 0, 0, 40.0])
    filled = harmonic(
        value,
        np.array([False, True, True, False]),
        np.array([0, 1, 2]),
        np.array([1, 2, 3]),
        np.array([1.0, 5.0, 4.0]),
    )
    assert filled.value.tolist() == pytest.approx([10, 13, 28, 40])
    assert filled.anchors.tolist() == [0, 2, 2, 0]


def test_random_networks_agree_with_a_dense_least_squares_solution() -> None:
    # The harmonic solution minimises sum(difference^2 / length): numpy.linalg.lstsq on the lines.
    generator = np.random.default_rng(11)
    for _ in range(20):
        size, lines = 30, 70
        tail, head = generator.integers(0, size, (2, lines))
        length = generator.uniform(1, 100, lines)
        unknown = generator.random(size) < 0.6
        value = generator.uniform(0, 500, size)
        filled = harmonic(value, unknown, tail, head, length)

        column = np.flatnonzero(unknown)
        matrix, right = np.zeros((lines, size)), np.zeros(lines)
        for row in range(lines):
            weight = length[row] ** -0.5
            for end, sign in ((tail[row], 1.0), (head[row], -1.0)):
                if unknown[end]:
                    matrix[row, end] += sign * weight
                else:
                    right[row] -= sign * weight * value[end]
        dense, *_ = np.linalg.lstsq(matrix[:, column], right)
        held = filled.anchors[column] > 0
        np.testing.assert_allclose(filled.value[column][held], dense[held], atol=1e-6)
        assert np.isnan(filled.value[column][~held]).all()
        np.testing.assert_array_equal(filled.value[~unknown], value[~unknown])


def test_a_dead_end_keeps_the_value_of_its_root_and_an_island_stays_unknown() -> None:
    filled = harmonic(
        np.array([7.0, 0, 0, 0, 0]),
        np.array([False, True, True, True, True]),
        np.array([0, 1, 3]),
        np.array([1, 2, 4]),
        np.array([3.0, 4.0, 5.0]),
    )
    assert filled.value[:3].tolist() == pytest.approx([7, 7, 7])
    assert np.isnan(filled.value[3:]).all()
    assert filled.anchors.tolist() == [0, 1, 1, 0, 0]
    assert filled.set_of[1] == filled.set_of[2] != filled.set_of[3]


def test_a_known_point_without_a_value_holds_nothing() -> None:
    filled = harmonic(
        np.array([np.nan, 0, 9.0]),
        np.array([False, True, False]),
        np.array([0, 1]),
        np.array([1, 2]),
        np.array([1.0, 1.0]),
    )
    assert filled.value[1] == pytest.approx(9)
    assert filled.anchors[1] == 1


def test_nothing_unknown_gives_everything_back() -> None:
    value = np.array([1.0, 2.0])
    filled = harmonic(value, np.zeros(2, bool), np.array([0]), np.array([1]), np.array([1.0]))
    assert filled.value.tolist() == [1, 2]
    assert filled.set_of.tolist() == [-1, -1]
