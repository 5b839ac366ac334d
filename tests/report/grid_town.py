"""An invented town on a grid, for drawing under an invented walk."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
from numpy.typing import NDArray

from simulator.ground.walkable import HIGHWAYS

FloatArray = NDArray[np.float64]

NORTH, EAST = 46.10, -64.80
M_PER_DEG_LAT = 111_195.0
M_PER_DEG_LON = M_PER_DEG_LAT * float(np.cos(np.radians(NORTH)))


def lonlat_of(metres: FloatArray) -> FloatArray:
    return np.column_stack(
        [EAST + metres[:, 0] / M_PER_DEG_LON, NORTH + metres[:, 1] / M_PER_DEG_LAT]
    )


def grid_streets(columns: int = 70, rows: int = 50, spacing_m: float = 260.0) -> SimpleNamespace:
    """Lay out a slightly bent grid town with the arrays of `Streets`."""
    rng = np.random.default_rng(7)
    x, y = np.meshgrid(np.arange(columns), np.arange(rows))
    metres = np.column_stack([x.ravel(), y.ravel()]) * spacing_m - 1500.0
    metres = metres + rng.normal(0.0, spacing_m * 0.09, metres.shape)
    lonlat = lonlat_of(metres)
    node = np.arange(columns * rows).reshape(rows, columns)
    tails = np.concatenate([node[:, :-1].ravel(), node[:-1, :].T.ravel()])
    heads = np.concatenate([node[:, 1:].ravel(), node[1:, :].T.ravel()])
    way = np.concatenate(
        [np.repeat(np.arange(rows), columns - 1), np.repeat(np.arange(columns), rows - 1) + rows]
    )
    kinds = np.array(
        [
            HIGHWAYS.index(k)
            for k in ("primary", "residential", "tertiary", "residential", "footway")
        ]
    )
    highway = kinds[np.arange(rows + columns) % 5].astype(np.int8)
    return SimpleNamespace(
        lon=lonlat[:, 0],
        lat=lonlat[:, 1],
        tail=tails.astype(np.int32),
        head=heads.astype(np.int32),
        way=way.astype(np.int32),
        ways=SimpleNamespace(
            highway=highway, name=[f"Grid Street {row}" for row in range(rows + columns)]
        ),
        terrain=object(),
        attribution="© OpenStreetMap contributors (invented demo town)",
    )
