"""The ground under the map's way: streets by weight, water and green, each a few long paths."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from numpy.typing import NDArray

from simulator.report.style import FAINT, GREY, PALE

if TYPE_CHECKING:
    from simulator.ground.extract import Line
    from simulator.report.subject import Track

FloatArray = NDArray[np.float64]

EARTH_M_PER_DEG = 111_194.93  # mean Earth radius 6 371 008.8 m (IUGG) times pi / 180

RANKS: tuple[tuple[frozenset[str], float, str], ...] = (
    (frozenset({"motorway", "trunk", "primary"}), 1.0, GREY),
    (frozenset({"secondary", "tertiary"}), 0.7, PALE),
    (
        frozenset({"unclassified", "residential", "living_street", "pedestrian", "road", "busway"}),
        0.4,
        PALE,
    ),
)
"""Highway values, line weight [pt] and grey of each rank; all others are drawn last, finest."""

FINEST = (0.25, PALE)
FLOWING = frozenset({"river", "canal"})
"""Values of ``waterway`` drawn as a course."""
POINTS_DRAWN = 45_000
"""Most street points on one map: keeps the drawing small and quick in any city."""
LEAST_AREA_SHARE = 2e-4
"""Ponds and greens smaller than this share of the frame are left out."""
CORRIDOR_SHARE = 0.07
"""Small streets are drawn within this share of the frame's longer side from the way."""


@dataclass(frozen=True, slots=True)
class Plane:
    """A flat picture of a small piece of the globe: equirectangular, true at its middle latitude.

    Over a day's walk the error is far below a line's width.

    Parameters
    ----------
    lon, lat : float
        Middle of the picture [deg].
    """

    lon: float
    lat: float

    def project(self, lon: FloatArray, lat: FloatArray) -> FloatArray:
        """Metres east and north of the middle.

        Parameters
        ----------
        lon, lat : ndarray of float64, (N,)
            Positions [deg].

        Returns
        -------
        ndarray of float64, (N, 2)
            East, north [m].
        """
        turn = (np.asarray(lon) - self.lon + 180.0) % 360.0 - 180.0
        east = turn * EARTH_M_PER_DEG * np.cos(np.radians(self.lat))
        return np.column_stack([east, (np.asarray(lat) - self.lat) * EARTH_M_PER_DEG])


def across(track: Track, plane: Plane, along_m: FloatArray, half_m: float) -> FloatArray:
    """Short lines across the way at given distances.

    Parameters
    ----------
    track : Track
        Positions along the way.
    plane : Plane
        The projection.
    along_m : ndarray of float64, (Q,)
        Distances from the start [m].
    half_m : float
        Half the lines' length [m].

    Returns
    -------
    ndarray of float64, (Q, 2 ends, 2)
        The end on the left of the way, then that on its right [m].
    """
    here = plane.project(*track.lonlat_at(along_m).T)
    before = plane.project(*track.lonlat_at(along_m - half_m).T)
    after = plane.project(*track.lonlat_at(along_m + half_m).T)
    ahead = after - before
    ahead /= np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)[:, None]
    side = np.column_stack([-ahead[:, 1], ahead[:, 0]]) * half_m
    return np.stack([here - side, here + side], axis=1)


def chained(
    tail: NDArray[np.int32], head: NDArray[np.int32], way: NDArray[np.int32], points: FloatArray
) -> FloatArray:
    """Join segments that follow one another into lines parted by NaN: one path for all.

    Parameters
    ----------
    tail, head, way : ndarray of int, (S,)
        Segments in the order of the map data: end points as rows of `points`, and their way.
    points : ndarray of float64, (N, 2)
        Positions.

    Returns
    -------
    ndarray of float64, (Q, 2)
        Positions, with a row of NaN before each line but the first.
    """
    if tail.size == 0:
        return np.empty((0, 2))
    begins = np.ones(tail.size, dtype=bool)
    begins[1:] = (tail[1:] != head[:-1]) | (way[1:] != way[:-1])
    # A segment that begins a line writes a gap, its tail and its head; another only its head.
    last = np.cumsum(np.where(begins, 3, 1)) - 1
    line = np.full((int(last[-1]) + 1, 2), np.nan)
    line[last] = points[head]
    line[last[begins] - 1] = points[tail[begins]]
    return line[1:]


def ranked(streets: Any) -> NDArray[np.int8]:  # noqa: ANN401 - an earlier room's record
    """Rank of each segment's street, a position in `RANKS`; its length for the finest.

    Parameters
    ----------
    streets : Streets
        The network.

    Returns
    -------
    ndarray of int8, (M,)
        Rank of each segment.
    """
    from simulator.ground.walkable import HIGHWAYS  # noqa: PLC0415 - only when drawing

    of_value = np.array(
        [
            next(
                (r for r, (names, _, _) in enumerate(RANKS) if v.removesuffix("_link") in names),
                len(RANKS),
            )
            for v in HIGHWAYS
        ],
        dtype=np.int8,
    )
    of_segment: NDArray[np.int8] = of_value[np.asarray(streets.ways.highway)[streets.way]]
    return of_segment


def draw_streets(
    ax: Axes,
    streets: Any,  # noqa: ANN401 - an earlier room's record
    plane: Plane,
    way_m: FloatArray,
) -> None:
    """Draw the streets in the frame, the small ones only near the way.

    Parameters
    ----------
    ax : Axes
        Limits already fixed, in metres of `plane`.
    streets : Streets
        The network.
    plane : Plane
        The projection.
    way_m : ndarray of float64, (K, 2)
        The way, metres of `plane`.
    """
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    points = plane.project(streets.lon, streets.lat)
    inside = (points[:, 0] > x0) & (points[:, 0] < x1) & (points[:, 1] > y0) & (points[:, 1] < y1)
    tail, head = np.asarray(streets.tail), np.asarray(streets.head)
    shown = inside[tail] | inside[head]
    rank = ranked(streets)
    reach = CORRIDOR_SHARE * max(x1 - x0, y1 - y0)
    off = _distance_from(points, way_m, inside, reach)
    near = np.minimum(off[tail], off[head])
    left = POINTS_DRAWN
    for position in range(len(RANKS) + 1):
        mine = shown & (rank == position)
        if position >= 2:  # noqa: PLR2004 - the two main ranks are drawn across the frame
            mine &= near <= reach * (1.0 if position == 2 else 0.5)  # noqa: PLR2004 - as above
        chosen = np.flatnonzero(mine)
        if chosen.size > left:
            chosen = np.sort(chosen[np.argsort(near[chosen], kind="stable")[:left]])
        left -= chosen.size
        weight, grey = RANKS[position][1:] if position < len(RANKS) else FINEST
        line = chained(tail[chosen], head[chosen], np.asarray(streets.way)[chosen], points)
        ax.plot(
            line[:, 0],
            line[:, 1],
            lw=weight,
            color=grey,
            zorder=1.4 - 0.1 * position,
            gid=f"streets-{position}",
        )


def _distance_from(
    points: FloatArray, way_m: FloatArray, inside: NDArray[np.bool_], reach: float
) -> FloatArray:
    """Distance of the points inside the frame from the way; inf outside or beyond reach."""
    from scipy.spatial import cKDTree  # noqa: PLC0415 - only when drawing

    step = np.hypot(*np.diff(way_m, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(step)])
    dense = np.arange(0.0, along[-1] + 1.0, max(reach / 4.0, 1.0))
    spine = np.column_stack([np.interp(dense, along, way_m[:, axis]) for axis in (0, 1)])
    off = np.full(points.shape[0], np.inf)
    if inside.any():
        off[inside] = cKDTree(spine).query(points[inside], distance_upper_bound=2.0 * reach)[0]
    return off


def _areas_and_lines(lines: Iterable[Line]) -> Iterator[tuple[str, bool, Line]]:
    for line in lines:
        kind = _ground_kind(line.tags)
        if kind and line.lon.size > 1:
            closed = bool(line.lon[0] == line.lon[-1] and line.lat[0] == line.lat[-1])
            yield kind, closed and line.tags.get("waterway") not in FLOWING, line


def _ground_kind(tags: Mapping[str, str]) -> str:
    if tags.get("natural") == "water" or tags.get("waterway") in {*FLOWING, "riverbank"}:
        return "water"
    if tags.get("leisure") == "park" or tags.get("landuse") == "forest":
        return "green"
    return "green" if tags.get("natural") == "wood" else ""


def draw_ground(ax: Axes, lines: Iterable[Line], plane: Plane) -> None:
    """Draw water with level hatching and green with stipple, if the walk offers any.

    Parameters
    ----------
    ax : Axes
        Limits already fixed, in metres of `plane`.
    lines : iterable of Line
        Tagged lines and outlines of the extract.
    plane : Plane
        The projection.
    """
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    least_m2 = LEAST_AREA_SHARE * (x1 - x0) * (y1 - y0)
    rivers: list[FloatArray] = []
    areas: dict[str, list[FloatArray]] = {"water": [], "green": []}
    for kind, area, line in _areas_and_lines(lines):
        shape = plane.project(line.lon, line.lat)
        low, high = shape.min(axis=0), shape.max(axis=0)
        if high[0] < x0 or low[0] > x1 or high[1] < y0 or low[1] > y1:
            continue
        if area:
            if np.prod(high - low) > least_m2:
                areas[kind].append(shape)
        elif kind == "water":
            rivers.extend([shape, np.full((1, 2), np.nan)])
    for kind, hatch in (("green", "...."), ("water", "-----")):
        if areas[kind]:
            ax.add_patch(
                PathPatch(
                    Path.make_compound_path(*(Path(a, closed=True) for a in areas[kind])),
                    facecolor="none",
                    edgecolor=PALE,
                    linewidth=0.4,
                    hatch=hatch,
                    zorder=0.5,
                    gid=kind,
                )
            )
    if rivers:
        course = np.vstack(rivers)
        ax.plot(course[:, 0], course[:, 1], color=GREY, lw=3.4, zorder=0.7)
        ax.plot(course[:, 0], course[:, 1], color=FAINT, lw=2.6, zorder=0.71, gid="rivers")
