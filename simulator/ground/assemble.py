"""From what a door has read to clean streets; every reader ends here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from simulator.arrays import Flags, Floats
from simulator.errors import InputError
from simulator.ground.terrain import Terrain
from simulator.ground.walkable import Rejected, Ways

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Points:
    """The points of a map.

    Attributes
    ----------
    node_id : (N,) int64
        OSM node numbers.
    lon, lat : (N,) float64
        Position [degrees, WGS84].
    blocked : (N,) bool
        A barrier stops walkers here.
    delay_s : (N,) float64
        Mean wait here [s].
    """

    node_id: Ints
    lon: Floats
    lat: Floats
    blocked: Flags
    delay_s: Floats


@dataclass(frozen=True, slots=True)
class Segments:
    """Straight pieces between two points.

    Attributes
    ----------
    tail, head : (M,) int64
        Rows of the two points, in the order of drawing.
    way : (M,) int64
        Row of the way.
    length_m : (M,) float64
        Geodesic length [m].
    """

    tail: Ints
    head: Ints
    way: Ints
    length_m: Floats

    def take(self, kept: Flags) -> Segments:
        """Keep some segments."""
        return Segments(self.tail[kept], self.head[kept], self.way[kept], self.length_m[kept])


def geodesic_m(lon: Floats, lat: Floats, tail: Ints, head: Ints) -> Floats:
    """Measure segments on the WGS84 ellipsoid."""
    from pyproj import Geod

    _, _, length_m = Geod(ellps="WGS84").inv(
        lon[tail], lat[tail], lon[head], lat[head], return_back_azimuth=False
    )
    return np.asarray(length_m, np.float64)


def merge_same_place(points: Points, segments: Segments) -> tuple[Points, Segments, int]:
    """Drop segments without length and join the points they connect."""
    without = ~(segments.length_m > 0.0)
    dropped = int(without.sum())
    if not dropped:
        return points, segments, 0
    size = points.node_id.size
    pairs = (segments.tail[without], segments.head[without])
    joined = coo_array((np.ones(dropped, bool), pairs), shape=(size, size))
    count, label = connected_components(joined, directed=False)
    lowest = np.full(count, size, np.int64)
    np.minimum.at(lowest, label, np.arange(size))
    stand_in = lowest[label]
    blocked, delay_s = points.blocked.copy(), points.delay_s.copy()
    np.logical_or.at(blocked, stand_in, points.blocked)
    np.maximum.at(delay_s, stand_in, points.delay_s)
    merged = Points(points.node_id, points.lon, points.lat, blocked, delay_s)
    kept = segments.take(~without)
    return (
        merged,
        Segments(stand_in[kept.tail], stand_in[kept.head], kept.way, kept.length_m),
        dropped,
    )


def split_barriers(points: Points, segments: Segments) -> tuple[Points, Segments]:
    """Give every segment its own copy of a point that no walker can pass."""
    size, count = points.node_id.size, segments.tail.size
    ends = np.concatenate([segments.tail, segments.head])
    at = np.flatnonzero(points.blocked[ends])
    # The first segment to come keeps the point itself.
    _, first = np.unique(ends[at], return_index=True)
    more = np.delete(at, first)
    if not more.size:
        return points, segments
    origin = ends[more]
    ends[more] = size + np.arange(more.size)
    rows = np.concatenate([np.arange(size), origin])
    return take_points(points, rows), Segments(
        ends[:count], ends[count:], segments.way, segments.length_m
    )


def take_points(points: Points, rows: Ints) -> Points:
    """Keep some points, or repeat them."""
    return Points(
        points.node_id[rows],
        points.lon[rows],
        points.lat[rows],
        points.blocked[rows],
        points.delay_s[rows],
    )


def drop_unused(points: Points, segments: Segments) -> tuple[Points, Segments]:
    """Leave out points that no segment touches."""
    used = np.zeros(points.node_id.size, bool)
    used[segments.tail] = True
    used[segments.head] = True
    renumber = np.cumsum(used) - 1
    return take_points(points, np.flatnonzero(used)), Segments(
        renumber[segments.tail], renumber[segments.head], segments.way, segments.length_m
    )


@dataclass(frozen=True, slots=True)
class StreetArrays:
    """Streets as a reader leaves them: N nodes, M segments, W ways.

    Attributes
    ----------
    node_id : (N,) int64
        OSM node numbers; repeated where a barrier separates segments, negative where the source
        had none.
    lon, lat : (N,) float64
        Positions [degrees, WGS84].
    tail, head : (M,) int32
        Rows of the two nodes; tail to head follows the drawing.
    way : (M,) int32
        Row in ``ways``.
    length_m : (M,) float64
        WGS84 geodesic [m], above zero.
    open_forward, open_backward : (M,) bool
        May be walked tail to head, head to tail.
    delay_s : (N,) float64
        Mean wait at this node [s]: an assumption by kind of crossing.
    ways : Ways
        What each way is like.
    rejected : Rejected
        Ways that may not be walked, and why.
    terrain : Terrain or None
        Heights; None = flat.
    counts : dict of str to int
        What was found, dropped and joined while reading.
    attribution : str
        Whose data this is.
    """

    node_id: NDArray[np.int64]
    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    tail: NDArray[np.int32]
    head: NDArray[np.int32]
    way: NDArray[np.int32]
    length_m: NDArray[np.float64]
    open_forward: NDArray[np.bool_]
    open_backward: NDArray[np.bool_]
    delay_s: NDArray[np.float64]
    ways: Ways
    rejected: Rejected
    terrain: Terrain | None
    counts: dict[str, int]
    attribution: str

    def same_node(self) -> NDArray[np.int32]:
        """Find the first copy of each node."""
        _, first, inverse = np.unique(self.node_id, return_index=True, return_inverse=True)
        return first[inverse].astype(np.int32)


def build_network(
    points: Points,
    segments: Segments,
    ways: Ways,
    *,
    rejected: Rejected,
    counts: dict[str, int],
    attribution: str,
    where: str,
) -> StreetArrays:
    """Clean raw points and segments into streets."""
    points, segments, dropped = merge_same_place(points, segments)
    points, segments = drop_unused(points, segments)
    blocked = int(points.blocked.sum())
    points, segments = split_barriers(points, segments)
    if not segments.tail.size:
        raise InputError(
            where,
            f"holds no walkable way ({len(rejected)} ways refused); choose an extract that covers "
            "the walk and keeps its highway tags",
        )
    used = np.unique(segments.way)
    renumber = np.zeros(len(ways), np.int32)
    renumber[used] = np.arange(used.size)
    ways = ways.take(used)
    way = renumber[segments.way]
    return StreetArrays(
        node_id=points.node_id,
        lon=points.lon,
        lat=points.lat,
        tail=segments.tail.astype(np.int32),
        head=segments.head.astype(np.int32),
        way=way,
        length_m=segments.length_m,
        open_forward=ways.forward[way],
        open_backward=ways.backward[way],
        delay_s=points.delay_s,
        ways=ways,
        rejected=rejected,
        terrain=None,
        counts={
            **counts,
            "ways_kept": len(ways),
            "ways_rejected": len(rejected),
            "zero_length_segments": dropped,
            "barriers": blocked,
        },
        attribution=attribution,
    )
