"""A street grid written as a real extract, large enough that speed is felt.

The place is invented: a grid of junctions turned out of true by seeded noise, every block side
drawn with bends, streets cut into several ways with differing tags, as mappers do.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import osmium
from osmium.osm.mutable import Node, Way

KINDS = (
    {"highway": "residential", "surface": "asphalt", "lit": "yes"},
    {"highway": "residential"},
    {"highway": "tertiary", "sidewalk": "both", "lit": "yes", "maxspeed": "50"},
    {"highway": "footway", "surface": "gravel"},
    {"highway": "path", "surface": "ground", "lit": "no"},
    {"highway": "service"},
    {"highway": "steps", "surface": "concrete"},
    {"highway": "cycleway", "foot": "designated", "surface": "asphalt"},
)
"""Tag sets dealt out to the ways of the grid."""

KIND_SHARES = (0.3, 0.3, 0.15, 0.08, 0.07, 0.06, 0.01, 0.03)
"""How often each tag set is dealt."""

BLOCK_DEG = 0.001
"""Block side [degrees]."""

JUNCTIONS_PER_WAY = 6
"""Block sides in one way of a street."""


def write_grid(path: Path, *, rows: int = 215, between: int = 3, seed: int = 1) -> Path:
    """Write a ``rows`` by ``rows`` grid of junctions, ``between`` bends on every block side.

    Parameters
    ----------
    path : Path
        The extract to write; its ending chooses the format.
    rows : int
        Junctions on each side of the grid; 215 with 3 bends gives about 322,000 nodes.
    between : int
        Bends on each block side.
    seed : int
        Seed of the noise and of the tags.

    Returns
    -------
    Path
        ``path``.
    """
    rng = np.random.default_rng(seed)
    step = between + 1
    side = (rows - 1) * step + 1
    across, down = np.meshgrid(np.arange(side), np.arange(side))
    on_street = (across % step == 0) | (down % step == 0)
    number = np.full((side, side), -1)
    number[on_street] = np.arange(1, on_street.sum() + 1)
    noise = rng.normal(0.0, 0.06 * BLOCK_DEG / step, (2, side, side))
    lon = 7.0 + across * BLOCK_DEG / step + noise[0]
    lat = 46.0 + down * BLOCK_DEG / step + noise[1]
    streets = [number[i * step] for i in range(rows)] + [number[:, i * step] for i in range(rows)]
    stride = JUNCTIONS_PER_WAY * step
    with osmium.SimpleWriter(str(path), overwrite=True) as writer:
        for row, column in zip(*np.nonzero(on_street), strict=True):
            tags: dict[str, Any] = {}
            if row % step == 0 and column % step == 0 and rng.random() < 0.02:
                tags = {"highway": "crossing", "crossing": "traffic_signals"}
            elif rng.random() < 0.003:
                tags = {"amenity": "drinking_water"}
            where = (float(lon[row, column]), float(lat[row, column]))
            writer.add_node(Node(id=int(number[row, column]), location=where, tags=tags))
        way_id = 1
        for street, numbers in enumerate(streets):
            for first in range(0, side - 1, stride):
                kind = KINDS[rng.choice(len(KINDS), p=KIND_SHARES)]
                nodes = [int(n) for n in numbers[first : first + stride + 1]]
                tags = {**kind, "name": f"Street {street}"}
                writer.add_way(Way(id=way_id, nodes=nodes, tags=tags))
                way_id += 1
    return path
