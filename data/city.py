"""Write a big invented city for timing runs: ``python -m data.city FOLDER [--nodes N]``.

A bent grid with a meandering river, bridges, stairs, hills and places; several hundred thousand
points, a sixth of them junctions. Built in seconds, never committed. At its coordinates is open
sea.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from data.invented.frame import Bools, Floats, Ints, lat_lon, to_lon_lat
from data.invented.lattice import waves
from data.invented.mapfile import NOTE, Drawing, write
from data.invented.names import Names
from data.invented.papers import BAG, plan_text
from data.invented.place_table import SORTS
from data.invented.styles import Tags
from data.invented.terrain import HEIGHT_STEP_M, NOISE_M, write_raster

BETWEEN = 3  # points on a street between two junctions
NODES_PER_JUNCTION = 5.8  # with that many points, and KEEP below
KEEP = 0.9
PITCH_M = 104.0
JITTER_M = 12.0
WARP_M = 160.0
RIVER_HALF_WIDTH_M = 55.0
BANK_M = 20.0
BRIDGES = 26
STREETS_A_WAY = 7
PLACES = 420
NAMES = 3000
CELL_M = 25.0
FAR_SHARE = 0.83  # start and home lie this share of the city's half width from the middle

# Weight and tags of the streets.
SORTS_OF_STREET: tuple[tuple[float, Tags], ...] = (
    (6, {"highway": "residential", "sidewalk": "both", "lit": "yes", "surface": "asphalt"}),
    (2, {"highway": "residential", "sidewalk": "no", "lit": "no", "surface": "asphalt"}),
    (2, {"highway": "tertiary", "sidewalk": "both", "lit": "yes", "surface": "asphalt"}),
    (1, {"highway": "secondary", "lit": "yes", "maxspeed": "50"}),
    (1, {"highway": "living_street", "surface": "paving_stones", "lit": "yes"}),
    (1, {"highway": "footway", "surface": "fine_gravel", "lit": "no"}),
    (1, {"highway": "service"}),
    (1, {"highway": "pedestrian", "surface": "sett", "lit": "yes"}),
    (0.6, {"highway": "steps", "step_count": "60", "lit": "no"}),
    (0.3, {"highway": "residential", "access": "private"}),
    (0.3, {"highway": "trunk", "motorroad": "yes", "foot": "no"}),
)


class _City:
    """The grid: junctions, streets between them, and the river."""

    def __init__(self, rng: np.random.Generator, nodes: int) -> None:
        self.rng = rng
        self.side = int(np.ceil(np.sqrt(nodes / NODES_PER_JUNCTION)))
        self.half_m = self.side * PITCH_M / 2
        self._bend = waves(rng, self.half_m / 3.0)
        self._river_phase = rng.random(3) * 2 * np.pi
        self.hills = waves(rng, 3200.0, 7)
        steps = np.arange(self.side)
        flat = np.stack(np.meshgrid(steps, steps, indexing="ij"), axis=-1).astype(np.float64)
        flat = (flat + 0.5) * PITCH_M - self.half_m
        jitter = (rng.random(flat.shape) - 0.5) * 2 * JITTER_M
        self.junctions = self.bent(flat.reshape(-1, 2)).reshape(flat.shape) + jitter
        self.dry: Bools = (
            self.water_gap_m(self.junctions.reshape(-1, 2)).reshape(flat.shape[:2]) > 0
        )

    def bent(self, flat: Floats) -> Floats:
        """Move points of the straight grid to their places."""
        return np.asarray(flat + WARP_M * self._bend(flat))

    def river_x(self, y: Floats) -> Floats:
        """Give where the river runs at each y."""
        a, b, c = self._river_phase
        wide = self.half_m / 11000.0
        return np.asarray(
            wide * (1500 * np.sin(y / 3900 + a) + 700 * np.sin(y / 1700 + b))
            + 160 * np.sin(y / 610 + c)
        )

    def water_gap_m(self, points: Floats) -> Floats:
        """Give about how far points lie from the bank (negative in the water)."""
        y = points[:, 1]
        lean = (self.river_x(y + 5) - self.river_x(y - 5)) / 10.0
        across = np.abs(points[:, 0] - self.river_x(y)) / np.sqrt(1 + lean**2)
        return np.asarray(across - RIVER_HALF_WIDTH_M - BANK_M)

    def height_m(self, points: Floats) -> Floats:
        """Give heights: hills that fall off to the river."""
        away = np.clip(self.water_gap_m(points) + BANK_M, 0.0, None)
        rise = 1 - np.exp(-((away / 900.0) ** 2))
        bank = np.clip(away / BANK_M, 0.0, 1.0)
        return np.asarray(
            8 + 4 * bank + rise * 38 * np.log1p(np.exp(1.4 * self.hills(points)[:, 0]))
        )


def _streets(city: _City, drawing: Drawing, numbers: Ints, names: Names, across: bool) -> None:
    """Add the streets of one family; `across` ones run with x and may bridge the river."""
    grid = city.junctions if across else city.junctions.transpose(1, 0, 2)
    ids = numbers if across else numbers.T
    dry = city.dry if across else city.dry.T
    share = np.arange(1, BETWEEN + 1)[None, None, :, None] / (BETWEEN + 1)
    start, end = grid[:-1, :, None], grid[1:, :, None]
    inner = start * (1 - share) + end * share
    side = np.stack([start[..., 1] - end[..., 1], end[..., 0] - start[..., 0]], axis=-1)
    bow = (city.rng.random(inner.shape[:2]) - 0.5)[..., None, None] * 0.3
    inner = inner + side * bow * share * (1 - share) * 2
    wet = (city.water_gap_m(inner.reshape(-1, 2)) < -BANK_M).reshape(inner.shape[:3]).any(axis=2)
    open_street = dry[:-1] & dry[1:] & ~wet & (city.rng.random(wet.shape) < KEEP)
    weights = np.cumsum([weight for weight, _ in SORTS_OF_STREET])
    inner_ids = drawing.add_nodes(to_lon_lat(inner.reshape(-1, 2))).reshape(inner.shape[:3])
    lines = np.concatenate([ids[:-1, :, None], inner_ids], axis=2)
    draws = city.rng.random(open_street.shape) * weights[-1]
    pool = [names.new("city") for _ in range(NAMES)]  # names come back in other parts of the city
    for row in range(open_street.shape[1]):
        cuts = np.flatnonzero(np.diff(np.concatenate([[0], open_street[:, row], [0]])))
        for first, last in cuts.reshape(-1, 2).tolist():
            for a in range(first, last, STREETS_A_WAY):
                b = min(a + STREETS_A_WAY, last)
                tags = dict(SORTS_OF_STREET[int(np.searchsorted(weights, draws[a, row]))][1])
                tags["name"] = pool[int(city.rng.integers(len(pool)))]
                drawing.ways.append((np.append(lines[a:b, row].ravel(), ids[b, row]), tags))


def _bridges(city: _City, drawing: Drawing, numbers: Ints, names: Names) -> None:
    for row in np.linspace(3, city.side - 4, BRIDGES).astype(np.int64).tolist():
        wet = np.flatnonzero(~city.dry[:, row])
        if not len(wet) or wet[0] == 0 or wet[-1] == city.side - 1:
            continue
        a, b = int(wet[0]) - 1, int(wet[-1]) + 1
        ends = city.junctions[[a, b], row]
        share = np.linspace(0, 1, 8)[1:-1, None]
        deck = drawing.add_nodes(to_lon_lat(ends[0] * (1 - share) + ends[1] * share))
        kind = ("secondary", "tertiary", "footway")[row % 3]
        tags = {
            "highway": kind, "bridge": "yes", "layer": "1", "lit": "yes", "surface": "asphalt",
            "name": names.new("city"), "bridge:name": f"{names.stem()} Bridge",
        }  # fmt: skip
        path = np.concatenate([[numbers[a, row]], deck, [numbers[b, row]]])
        drawing.ways.append((path, tags))


def _places(city: _City, drawing: Drawing) -> None:
    rng = city.rng
    single = [sort for sort in SORTS if not sort.size_m[0]]
    dry = np.argwhere(city.dry)
    for number in range(PLACES):
        sort = single[number % len(single)]
        i, j = dry[int(rng.integers(len(dry)))]
        tags = dict(sort.tags)
        hours = sort.hours[int(rng.integers(len(sort.hours)))]
        if hours:
            tags["opening_hours"] = hours
        drawing.add_node(to_lon_lat(city.junctions[i, j][None] + [[14.0, 17.0]]), tags)


def write_city(
    folder: Path, *, nodes: int = 300_000, seed: int = 1, suffix: str = ".osm.pbf"
) -> tuple[Path, Path]:
    """Write a city's map extract and heights, and a plan.toml and bag.csv that use them.

    Parameters
    ----------
    folder : Path
        Where to write; made when missing.
    nodes : int
        About how many points of streets there shall be, at least 5,000.
    seed : int
        The same seed gives the same city.
    suffix : str
        Form of the extract: ``.osm.pbf``, ``.osm``, ``.osm.gz`` or ``.osm.bz2``.

    Returns
    -------
    tuple of Path
        The extract and the raster of heights.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(seed)
    city = _City(rng, nodes)
    names = Names(rng)
    drawing = Drawing()
    flat = city.junctions.reshape(-1, 2)
    numbers = drawing.add_nodes(to_lon_lat(flat)).reshape(city.side, city.side)
    for across in (True, False):
        _streets(city, drawing, numbers, names, across)
    _bridges(city, drawing, numbers, names)
    signals = {"highway": "crossing", "crossing": "traffic_signals"}
    for number in np.flatnonzero(rng.random(len(flat)) < 0.02).tolist():
        drawing.node_tags[number] = dict(signals)
    _places(city, drawing)
    drawing.add_node(to_lon_lat(np.zeros((1, 2))), {"place": "city", "note": NOTE})
    extract, heights = folder / f"city{suffix}", folder / "heights.tif"
    write(drawing, extract)
    edge = city.half_m + 4 * WARP_M
    steps = np.arange(-edge + CELL_M / 2, edge, CELL_M)
    mesh = np.stack(np.meshgrid(steps, steps[::-1]), axis=-1)
    height = city.height_m(mesh.reshape(-1, 2)).reshape(mesh.shape[:2])
    height += NOISE_M * rng.standard_normal(height.shape)
    write_raster(heights, np.round(height / HEIGHT_STEP_M) * HEIGHT_STEP_M, CELL_M, -edge, edge)
    far = city.half_m / 1000.0 * FAR_SHARE
    plan = plan_text(
        "Across the invented city",
        extract.name,
        lat_lon(-far, -0.38 * far),
        lat_lon(far, 0.38 * far),
        start_is="the west of the city",
        home_is="the east, beyond the river",
    )
    (folder / "plan.toml").write_text(plan, encoding="utf-8", newline="\n")
    (folder / "bag.csv").write_text(BAG, encoding="utf-8", newline="\n")
    return extract, heights


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Write a big invented city for timing runs.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--nodes", type=int, default=300_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--suffix", default=".osm.pbf")
    chosen = parser.parse_args()
    for path in write_city(
        chosen.folder, nodes=chosen.nodes, seed=chosen.seed, suffix=chosen.suffix
    ):
        print(f"{path.stat().st_size:>10} {path}")
