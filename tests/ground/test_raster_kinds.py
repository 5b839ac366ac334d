"""Rasters: smoothing, other file kinds, and the credit they carry."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from rasterio import Affine

from simulator.ground.grid import smoothed
from simulator.ground.raster import read_raster
from tests.ground.rasters import (
    NORTH,
    WEST,
    a_plane,
    centres,
    degrees_grid,
    tilted,
    write,
)


def test_smoothing_leaves_a_plane_alone_and_keeps_voids(tmp_path: Path) -> None:
    transform = degrees_grid()
    x, y = centres(transform, (60, 80))
    height = tilted(x, y)
    height[0:3, 0:10] = np.nan
    raster = read_raster(write(tmp_path / "plane.tif", height, transform))
    result = smoothed(raster, 40.0)
    np.testing.assert_array_equal(np.isnan(result.height_m), np.isnan(height))
    reach = int(np.ceil(4 * 40 / raster.cell_m)) + 3
    inner = (slice(reach, -reach), slice(reach, -reach))
    assert result.height_m[inner].size
    np.testing.assert_allclose(result.height_m[inner], height[inner], atol=1e-4)
    assert smoothed(raster, 0.0) is raster


def test_smoothing_beside_a_void_is_the_weighted_mean_of_what_is_known(tmp_path: Path) -> None:
    # By the formula, sum over the known cells of exp(-d2 / 2 s2) h over that of exp(-d2 / 2 s2).
    transform = Affine(0.0001, 0, WEST, 0, -0.0001 * 0.6842, NORTH)  # square on the ground
    height = np.random.default_rng(2).uniform(100.0, 140.0, (21, 21))
    height[6:12, 8:15] = np.nan
    raster = read_raster(write(tmp_path / "hole.tif", height, transform))
    cells = 2.0
    found = smoothed(raster, cells * raster.cell_m).height_m
    rows, columns = np.nonzero(np.isfinite(height))
    for row, column in ((5, 10), (12, 8), (9, 7), (0, 0), (20, 3)):
        square = (rows - row) ** 2 + (columns - column) ** 2
        weight = np.exp(-square / (2.0 * cells**2))
        by_hand = (weight * height[rows, columns]).sum() / weight.sum()
        # Cells are square to a part in a thousand, and the filter ends some sigmas out.
        assert found[row, column] == pytest.approx(by_hand, abs=0.05)


def test_smoothing_lowers_white_noise_by_the_kernels_own_factor(tmp_path: Path) -> None:
    # A Gaussian of s cells leaves 1 / (2 s sqrt(pi)) of the standard deviation of white noise
    # (sum of the squared kernel); a sample of about 100 independent patches scatters by some 10 %.
    transform = Affine(0.0001, 0, WEST, 0, -0.0001 * 0.6842, NORTH)  # square on the ground
    noise = np.random.default_rng(5).normal(200.0, 3.0, (300, 300))
    raster = read_raster(write(tmp_path / "noise.tif", noise, transform))
    cells = 4.0
    result = smoothed(raster, cells * raster.cell_m)
    found = result.height_m[30:-30, 30:-30].std()
    assert found == pytest.approx(3.0 / (2 * cells * np.sqrt(np.pi)), rel=0.1)


def test_a_negative_smoothing_is_refused(tmp_path: Path) -> None:
    raster = read_raster(a_plane(tmp_path / "plane.tif"))
    with pytest.raises(ValueError, match="sigma_m"):
        smoothed(raster, -1.0)
