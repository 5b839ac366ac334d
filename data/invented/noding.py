"""Make one network of many drawn lines: lines that meet on the ground share a node."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from data.invented.frame import Floats, Ints
from data.invented.shapes import Segments, crossings, near_pairs

REACH_M = 0.8  # an end this short of a line still meets it
MERGE_M = 1.5  # points closer than this become one node


@dataclass(frozen=True)
class Line:
    """A drawn line before it becomes a way.

    Attributes
    ----------
    points : ndarray of float64, shape (N, 2)
        Metres, at most `shapes.LONGEST_SEGMENT_M` apart.
    tags : dict of str to str
        OSM tags.
    level : int
        0 meets every other line on the ground; any other level meets others at its ends only.
    zone : str
        The district it belongs to, or "".
    """

    points: Floats
    tags: dict[str, str]
    level: int = 0
    zone: str = ""


@dataclass(frozen=True)
class Web:
    """A network: places of nodes, and for each way its nodes and tags.

    Attributes
    ----------
    xy : ndarray of float64, shape (N, 2)
        Metres.
    chains : list of ndarray of int64
        Node positions in `xy`, in order along each way.
    tags : list of dict
        OSM tags of each way.
    zones : list of str
        The district of each way, or "".
    """

    xy: Floats
    chains: list[Ints]
    tags: list[dict[str, str]]
    zones: list[str]


def _with_crossings(lines: Sequence[Floats]) -> list[Floats]:
    pieces = Segments.of(lines)
    i, j, t, u, where = crossings(pieces, pieces, REACH_M)
    same = (pieces.line[i] == pieces.line[j]) & (np.abs(pieces.place[i] - pieces.place[j]) <= 1)
    once = (i < j) & ~same
    line = np.concatenate([pieces.line[i[once]], pieces.line[j[once]]])
    along = np.concatenate([(pieces.place[i] + t)[once], (pieces.place[j] + u)[once]])
    where = np.vstack([where[once], where[once]])
    order = np.lexsort((along, line))
    line, along, where = line[order], along[order], where[order]
    first = np.searchsorted(line, np.arange(len(lines) + 1))
    full = []
    for number, points in enumerate(lines):
        mine = slice(first[number], first[number + 1])
        position = np.concatenate([np.arange(len(points)), along[mine]])
        keep = np.argsort(position, kind="stable")
        full.append(np.vstack([points, where[mine]])[keep])
    return full


def _merge(points: Floats, loose: Ints) -> Ints:
    """Give a node number for each point; `loose` ones merge with others close by."""
    parent = np.arange(len(points))

    def root(number: int) -> int:
        while parent[number] != number:
            parent[number] = parent[parent[number]]
            number = int(parent[number])
        return number

    i, j = near_pairs(points[loose], points[loose], MERGE_M)
    close = (i < j) & (np.hypot(*(points[loose[i]] - points[loose[j]]).T) <= MERGE_M)
    for a, b in zip(loose[i[close]].tolist(), loose[j[close]].tolist(), strict=True):
        low, high = sorted((root(a), root(b)))
        parent[high] = low
    return np.array([root(number) for number in range(len(points))], np.int64)


def _unrepeated(chain: Ints, used: set[tuple[int, int]]) -> list[Ints]:
    """Cut a chain where its pieces are already part of another way."""
    parts: list[Ints] = []
    start = 0
    for place in range(len(chain) - 1):
        a, b = int(chain[place]), int(chain[place + 1])
        pair = (min(a, b), max(a, b))
        if pair in used:
            if place > start:
                parts.append(chain[start : place + 1])
            start = place + 1
        used.add(pair)
    if len(chain) - start > 1:
        parts.append(chain[start:])
    return parts


def knot(lines: Sequence[Line]) -> Web:
    """Join lines into a network."""
    ground = [number for number, line in enumerate(lines) if line.level == 0]
    full = [line.points for line in lines]
    for number, points in zip(ground, _with_crossings([full[n] for n in ground]), strict=True):
        full[number] = points
    counts = np.array([len(points) for points in full])
    ends = np.cumsum(counts)
    loose = np.zeros(int(ends[-1]), np.bool_)
    for number, line in enumerate(lines):
        first, last = ends[number] - counts[number], ends[number] - 1
        if line.level == 0:
            loose[first : last + 1] = True
        else:
            loose[[first, last]] = True
    xy = np.vstack(full)
    node = _merge(xy, np.flatnonzero(loose))
    used: set[tuple[int, int]] = set()
    chains, tags, zones = [], [], []
    for number, line in enumerate(lines):
        chain = node[ends[number] - counts[number] : ends[number]]
        chain = chain[np.concatenate([[True], np.diff(chain) != 0])]
        for part in _unrepeated(chain, used):
            chains.append(part)
            tags.append(line.tags)
            zones.append(line.zone)
    return Web(xy, chains, tags, zones)


def pieces_of_network(web: Web, walkable: Sequence[bool]) -> Ints:
    """Give a component number for each node over the ways that may be walked (-1: none)."""
    parent = np.arange(len(web.xy))

    def root(number: int) -> int:
        while parent[number] != number:
            parent[number] = parent[parent[number]]
            number = int(parent[number])
        return number

    touched = np.zeros(len(web.xy), np.bool_)
    for chain, may in zip(web.chains, walkable, strict=True):
        if not may:
            continue
        touched[chain] = True
        first = root(int(chain[0]))
        for number in chain[1:].tolist():
            parent[root(number)] = first
    return np.array([root(n) if touched[n] else -1 for n in range(len(web.xy))], np.int64)
