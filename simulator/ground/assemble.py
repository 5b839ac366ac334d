"""From points and the segments between them to clean arrays: no zero lengths, barriers applied.

A barrier that stops walkers is a property of a point. It is applied by giving every segment that
ends at this point its own copy of the point (same ``node_id``, same place): one may walk up to the
barrier from each side, and no path passes it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


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
        """Keep some segments.

        Parameters
        ----------
        kept : (M,) bool
            Which.

        Returns
        -------
        Segments
            The segments kept, in their order.
        """
        return Segments(self.tail[kept], self.head[kept], self.way[kept], self.length_m[kept])


def geodesic_m(lon: Floats, lat: Floats, tail: Ints, head: Ints) -> Floats:
    """Measure segments on the WGS84 ellipsoid.

    Parameters
    ----------
    lon, lat : (N,) float64
        Points [degrees].
    tail, head : (M,) int64
        Rows of the end points.

    Returns
    -------
    (M,) float64
        Lengths [m]; Karney (2013), doi:10.1007/s00190-012-0578-z, as implemented in PROJ.
    """
    from pyproj import Geod  # noqa: PLC0415 - slow to import

    _, _, length_m = Geod(ellps="WGS84").inv(
        lon[tail], lat[tail], lon[head], lat[head], return_back_azimuth=False
    )
    return np.asarray(length_m, np.float64)


def merge_same_place(points: Points, segments: Segments) -> tuple[Points, Segments, int]:
    """Drop segments without length and join the points they connect.

    Dropping alone would cut the way in two; joined points keep the lowest row, any barrier and the
    longest wait.

    Parameters
    ----------
    points : Points
        N points.
    segments : Segments
        M segments.

    Returns
    -------
    points : Points
        The same N rows; those joined to another are no longer used.
    segments : Segments
        Segments with length.
    dropped : int
        Number of segments dropped.
    """
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
    """Give every segment its own copy of a point that no walker can pass.

    Parameters
    ----------
    points : Points
        N points.
    segments : Segments
        M segments.

    Returns
    -------
    points : Points
        The N points, and the copies after them.
    segments : Segments
        The segments, ending at the copies.
    """
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
    """Keep some points, or repeat them.

    Parameters
    ----------
    points : Points
        N points.
    rows : (K,) int64
        Rows wanted, in order.

    Returns
    -------
    Points
        K points.
    """
    return Points(
        points.node_id[rows],
        points.lon[rows],
        points.lat[rows],
        points.blocked[rows],
        points.delay_s[rows],
    )


def drop_unused(points: Points, segments: Segments) -> tuple[Points, Segments]:
    """Leave out points that no segment touches.

    Parameters
    ----------
    points : Points
        N points.
    segments : Segments
        M segments.

    Returns
    -------
    points : Points
        The points touched, in their order.
    segments : Segments
        The segments, renumbered.
    """
    used = np.zeros(points.node_id.size, bool)
    used[segments.tail] = True
    used[segments.head] = True
    renumber = np.cumsum(used) - 1
    return take_points(points, np.flatnonzero(used)), Segments(
        renumber[segments.tail], renumber[segments.head], segments.way, segments.length_m
    )
