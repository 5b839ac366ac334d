"""Streets as a bent lattice: warped rows and columns, thinned for dead ends, tied to others."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from data.invented.frame import Bools, Floats
from data.invented.shapes import Segments, chainage

Where = Callable[[Floats], Bools]


@dataclass(frozen=True)
class Fabric:
    """How a district's streets lie.

    Attributes
    ----------
    pitch_m : tuple of float
        Spacing of the two families of streets.
    angle_deg : float
        Direction of the first family.
    warp_m, wave_m : float
        Height and typical length of the bends.
    jitter_m : float
        Scatter of junctions.
    keep : float
        Share of streets kept beyond those that hold the district together.
    snap_m : float
        Junctions this near to an older street move onto it.
    step_m : float
        Distance between points along a street.
    stubs : float
        Share of blocks with a cul-de-sac.
    """

    pitch_m: tuple[float, float]
    angle_deg: float = 0.0
    warp_m: float = 30.0
    wave_m: float = 700.0
    jitter_m: float = 8.0
    keep: float = 0.8
    snap_m: float = 40.0
    step_m: float = 20.0
    stubs: float = 0.0


@dataclass(frozen=True)
class Run:
    """One street: its points, its family (0 row, 1 column, 2 cul-de-sac)."""

    points: Floats
    family: int


def waves(rng: np.random.Generator, wave_m: float, count: int = 5) -> Callable[[Floats], Floats]:
    """Give a smooth random displacement of about unit height, one x and one y part."""
    angle = rng.random((2, count)) * 2 * np.pi
    length = wave_m * (0.7 + 1.6 * rng.random((2, count)))
    phase = rng.random((2, count)) * 2 * np.pi
    wave_x, wave_y = np.cos(angle) * 2 * np.pi / length, np.sin(angle) * 2 * np.pi / length

    def shift(points: Floats) -> Floats:
        parts = [
            np.sin(points[:, :1] * wave_x[axis] + points[:, 1:] * wave_y[axis] + phase[axis]).sum(
                axis=1
            )
            for axis in (0, 1)
        ]
        return np.asarray(np.column_stack(parts) / np.sqrt(count / 2))

    return shift


def _thin(rng: np.random.Generator, tail: Floats, head: Floats, tied: Bools, keep: float) -> Bools:
    """Keep a random spanning forest (tied junctions count as one) and a share of the rest."""
    parent = list(range(len(tied) + 1))

    def root(number: int) -> int:
        while parent[number] != number:
            parent[number] = parent[parent[number]]
            number = parent[number]
        return number

    for number in np.flatnonzero(tied).tolist():
        parent[number] = len(tied)
    kept = rng.random(len(tail)) < keep
    for edge in rng.permutation(len(tail)).tolist():
        a, b = root(int(tail[edge])), root(int(head[edge]))
        if a != b:
            parent[a] = b
            kept[edge] = True
    return kept


def weave(
    rng: np.random.Generator,
    fabric: Fabric,
    *,
    box: Floats,
    region: Where,
    open_ground: Where,
    older: Segments,
    longest_run_m: float = 1400.0,
) -> list[Run]:
    """Fill a region with streets.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    fabric : Fabric
        How the streets lie.
    box : ndarray, shape (K, 2)
        Points whose bounding box holds the region, metres.
    region : callable
        Where junctions may lie.
    open_ground : callable
        Where any part of a street may lie (no water, no motorway).
    older : Segments
        Streets to tie to.
    longest_run_m : float
        Streets change name after this length.

    Returns
    -------
    list of Run
        Streets.
    """
    low, high = box.min(axis=0), box.max(axis=0)
    centre, radius = (low + high) / 2, float(np.hypot(*(high - low))) / 2 + 100.0
    count_u, count_v = (int(np.ceil(2 * radius / pitch)) + 1 for pitch in fabric.pitch_m)
    u = (np.arange(count_u) + 0.24 * (rng.random(count_u) - 0.5) * 2) * fabric.pitch_m[0] - radius
    v = (np.arange(count_v) + 0.24 * (rng.random(count_v) - 0.5) * 2) * fabric.pitch_m[1] - radius
    shift = waves(rng, fabric.wave_m)
    turn = np.radians(fabric.angle_deg)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])

    def place(flat: Floats) -> Floats:
        return np.asarray(centre + flat @ spin + fabric.warp_m * shift(flat))

    flat = np.stack(np.meshgrid(u, v, indexing="ij"), axis=-1).reshape(-1, 2)
    drawn = place(flat)
    moved = (rng.random(drawn.shape) - 0.5) * 2 * fabric.jitter_m
    alive = region(drawn + moved) & open_ground(drawn + moved)
    gap, onto, _ = older.nearest(drawn + moved, fabric.snap_m)
    tied = alive & np.isfinite(gap)
    moved[tied] = onto[tied] - drawn[tied]

    number = np.arange(count_u * count_v).reshape(count_u, count_v)
    runs: list[Run] = []
    ends = [
        (number[:-1].ravel(), number[1:].ravel()),
        (number[:, :-1].ravel(), number[:, 1:].ravel()),
    ]
    usable, shapes = [], []
    for family, (tail, head) in enumerate(ends):
        parts = max(2, round(fabric.pitch_m[family] / fabric.step_m)) + 1
        share = np.linspace(0.0, 1.0, parts)[None, :, None]
        between = flat[tail][:, None] * (1 - share) + flat[head][:, None] * share
        points = place(between.reshape(-1, 2)).reshape(between.shape)
        points = points + moved[tail][:, None] * (1 - share) + moved[head][:, None] * share
        good = alive[tail] & alive[head] & ~(tied[tail] & tied[head])
        middle = points[good, 1:-1]
        clear = open_ground(middle.reshape(-1, 2)).reshape(middle.shape[:2]).all(axis=1)
        good[np.flatnonzero(good)[~clear]] = False
        usable.append(good)
        shapes.append(points)
    tails = np.concatenate([ends[k][0][usable[k]] for k in (0, 1)])
    heads = np.concatenate([ends[k][1][usable[k]] for k in (0, 1)])
    kept = _thin(rng, tails, heads, tied, fabric.keep)
    split = int(usable[0].sum())
    for family, chosen in enumerate((kept[:split], kept[split:])):
        mask = usable[family].copy()
        mask[np.flatnonzero(mask)] = chosen
        grid = mask.reshape((count_u - 1, count_v) if family == 0 else (count_u, count_v - 1))
        lines = grid.T if family == 0 else grid
        shape = shapes[family].reshape(*grid.shape, *shapes[family].shape[1:])
        for row in range(lines.shape[0]):
            block = shape[:, row] if family == 0 else shape[row]
            runs += _runs(lines[row], block, family, longest_run_m)
            if fabric.stubs:
                runs += _stubs(rng, lines[row], block, fabric, 1 - family)
    return runs


def _runs(on: Bools, block: Floats, family: int, longest_run_m: float) -> list[Run]:
    found: list[Run] = []
    current: list[Floats] = []
    length = 0.0
    for column in range(len(on) + 1):
        more = column < len(on) and bool(on[column])
        if current and (not more or length > longest_run_m):
            found.append(Run(np.vstack([current[0][:1], *[part[1:] for part in current]]), family))
            current, length = [], 0.0
        if more:
            current.append(block[column])
            length += float(chainage(block[column])[-1])
    return found


def _stubs(
    rng: np.random.Generator, on: Bools, block: Floats, fabric: Fabric, other: int
) -> list[Run]:
    """Cul-de-sacs that leave a street at a middle point and end inside the block."""
    found = []
    deep = 0.42 * fabric.pitch_m[other]
    for column in np.flatnonzero(on).tolist():
        if rng.random() >= fabric.stubs:
            continue
        points = block[column]
        middle = len(points) // 2
        along = points[middle + 1] - points[middle - 1]
        across = np.array([-along[1], along[0]]) / np.hypot(*along)
        across *= 1.0 if rng.random() < 0.5 else -1.0
        length = deep * (0.6 + 0.4 * rng.random())
        bend = (rng.random() - 0.5) * 0.5
        share = np.linspace(0.0, 1.0, max(3, round(length / 15.0)))[:, None]
        stub = points[middle] + share * length * across
        stub = stub + (share**2) * bend * length * along / np.hypot(*along)
        found.append(Run(stub, 2))
    return found
