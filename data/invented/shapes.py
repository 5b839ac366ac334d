"""Plain geometry on arrays of x, y in metres: curves, polygons, nearest points, crossings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from data.invented.frame import Bools, Floats, Ints

LONGEST_SEGMENT_M = 60.0
CELL_M = 64.0  # no smaller than the longest segment, so that neighbours suffice


def chainage(points: Floats) -> Floats:
    """Give the distance along a line at each of its points."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(steps)])


def at(points: Floats, distances: Floats) -> Floats:
    """Give the points that lie the given distances along a line."""
    along = chainage(points)
    return np.column_stack([np.interp(distances, along, points[:, axis]) for axis in (0, 1)])


def resample(points: Floats, step_m: float) -> Floats:
    """Give a line with points an equal distance of about `step_m` apart, both ends kept."""
    length = chainage(points)[-1]
    return at(points, np.linspace(0.0, length, max(2, round(length / step_m) + 1)))


def refine(points: Floats) -> Floats:
    """Give the line with points added where two lie further apart than a segment may be long."""
    along = chainage(points)
    parts = np.maximum(1, np.ceil(np.diff(along) / (LONGEST_SEGMENT_M - 1.0))).astype(np.int64)
    if parts.max() == 1:
        return points
    steps = [
        np.linspace(a, b, n, endpoint=False)
        for a, b, n in zip(along, along[1:], parts, strict=False)
    ]
    return at(points, np.append(np.concatenate(steps), along[-1]))


def spline(control: Floats, step_m: float) -> Floats:
    """Give a smooth line through the control points (uniform Catmull-Rom), resampled."""
    if len(control) == 2:
        return resample(control, step_m)
    padded = np.vstack([2 * control[0] - control[1], control, 2 * control[-1] - control[-2]])
    p0, p1, p2, p3 = padded[:-3], padded[1:-2], padded[2:-1], padded[3:]
    t = np.linspace(0.0, 1.0, 24, endpoint=False)[None, :, None]
    curve = 0.5 * (
        2 * p1[:, None]
        + (p2 - p0)[:, None] * t
        + (2 * p0 - 5 * p1 + 4 * p2 - p3)[:, None] * t**2
        + (3 * p1 - p0 - 3 * p2 + p3)[:, None] * t**3
    )
    return resample(np.vstack([curve.reshape(-1, 2), control[-1:]]), step_m)


def offset(points: Floats, distance_m: Floats | float) -> Floats:
    """Give a line moved sideways; positive is to the left of its direction."""
    ahead = np.gradient(points, axis=0)
    ahead /= np.hypot(ahead[:, 0], ahead[:, 1])[:, None]
    left = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    return np.asarray(points + left * np.reshape(distance_m, (-1, 1)))


def inside(points: Floats, polygon: Floats) -> Bools:
    """Tell which points lie inside a polygon (even-odd rule)."""
    x, y = points[:, 0][:, None], points[:, 1][:, None]
    x0, y0 = polygon[:, 0][None], polygon[:, 1][None]
    x1, y1 = np.roll(polygon[:, 0], -1)[None], np.roll(polygon[:, 1], -1)[None]
    spans = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing_x = x0 + (y - y0) * (x1 - x0) / (y1 - y0)
    return np.asarray(np.sum(spans & (x < crossing_x), axis=1) % 2 == 1)


def near_pairs(a: Floats, b: Floats, cell_m: float) -> tuple[Ints, Ints]:
    """Give index pairs (i of a, j of b) whose square cells touch; a superset of the near ones."""
    if not len(a) or not len(b):
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    cells_a = np.floor(a / cell_m).astype(np.int64)
    cells_b = np.floor(b / cell_m).astype(np.int64)
    wide = np.int64(1 << 24)
    key_b = cells_b[:, 0] * wide + cells_b[:, 1]
    order = np.argsort(key_b, kind="stable")
    key_b = key_b[order]
    rows, columns = [], []
    for dx in (-1, 0, 1):
        for dy in (-1, 0, 1):
            key_a = (cells_a[:, 0] + dx) * wide + cells_a[:, 1] + dy
            start = np.searchsorted(key_b, key_a, "left")
            count = np.searchsorted(key_b, key_a, "right") - start
            rows.append(np.repeat(np.arange(len(a)), count))
            within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
            columns.append(order[np.repeat(start, count) + within])
    return np.concatenate(rows), np.concatenate(columns)


@dataclass(frozen=True)
class Segments:
    """Straight pieces of many lines.

    Attributes
    ----------
    start, end : ndarray of float64, shape (N, 2)
        Metres.
    line : ndarray of int64, shape (N,)
        The line each piece belongs to.
    place : ndarray of int64, shape (N,)
        The piece's position within its line.
    """

    start: Floats
    end: Floats
    line: Ints
    place: Ints

    @classmethod
    def of(cls, lines: Sequence[Floats]) -> Segments:
        """Collect the pieces of lines whose points are at most `LONGEST_SEGMENT_M` apart."""
        if not lines:
            nothing = np.zeros((0, 2))
            return cls(nothing, nothing, np.zeros(0, np.int64), np.zeros(0, np.int64))
        counts = np.array([len(points) - 1 for points in lines])
        return cls(
            np.vstack([points[:-1] for points in lines]),
            np.vstack([points[1:] for points in lines]),
            np.repeat(np.arange(len(lines)), counts),
            np.concatenate([np.arange(count) for count in counts]),
        )

    @property
    def middle(self) -> Floats:
        """Midpoints, metres."""
        return np.asarray((self.start + self.end) / 2)

    def nearest(self, points: Floats, limit_m: float) -> tuple[Floats, Floats, Ints]:
        """Give distance (inf beyond the limit), nearest point and piece (-1) for each point."""
        distance = np.full(len(points), np.inf)
        nearest = points.copy()
        piece = np.full(len(points), -1, np.int64)
        i, j = near_pairs(points, self.middle, limit_m + LONGEST_SEGMENT_M)
        if not len(i):
            return distance, nearest, piece
        along = self.end[j] - self.start[j]
        length2 = np.maximum(np.sum(along**2, axis=1), 1e-9)
        share = np.clip(np.sum((points[i] - self.start[j]) * along, axis=1) / length2, 0.0, 1.0)
        foot = self.start[j] + along * share[:, None]
        apart = np.hypot(*(points[i] - foot).T)
        np.minimum.at(distance, i, apart)
        best = np.flatnonzero((apart == distance[i]) & (apart <= limit_m))
        best = best[np.lexsort((-j[best], i[best]))]  # of equals the first piece is written last
        nearest[i[best]] = foot[best]
        piece[i[best]] = j[best]
        distance[distance > limit_m] = np.inf
        return distance, nearest, piece


def crossings(
    a: Segments, b: Segments, tolerance_m: float
) -> tuple[Ints, Ints, Floats, Floats, Floats]:
    """Find where pieces of `a` meet pieces of `b`, ends that fall short by the tolerance included.

    Returns
    -------
    tuple
        Piece of a, piece of b, share along each (0 to 1), and the point.
    """
    i, j = near_pairs(a.middle, b.middle, CELL_M)
    along_a, along_b = a.end[i] - a.start[i], b.end[j] - b.start[j]
    between = b.start[j] - a.start[i]
    area = along_a[:, 0] * along_b[:, 1] - along_a[:, 1] * along_b[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (between[:, 0] * along_b[:, 1] - between[:, 1] * along_b[:, 0]) / area
        u = (between[:, 0] * along_a[:, 1] - between[:, 1] * along_a[:, 0]) / area
        slack_t = tolerance_m / np.hypot(*along_a.T)
        slack_u = tolerance_m / np.hypot(*along_b.T)
        meets = (t >= -slack_t) & (t <= 1 + slack_t) & (u >= -slack_u) & (u <= 1 + slack_u)
    meets &= np.abs(area) > 1e-6
    i, j, t, u = i[meets], j[meets], np.clip(t[meets], 0, 1), np.clip(u[meets], 0, 1)
    return i, j, t, u, a.start[i] + (a.end[i] - a.start[i]) * t[:, None]
