"""The small map on the pocket card: the way, distances, bridges and water, black only."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from simulator.report.backdrop import RANKS, Plane, chained, draw_ground, ranked
from simulator.report.content import places_of, units_of
from simulator.report.glyphs import Labels, draw_glyphs
from simulator.report.mapfigure import draw_bridges, draw_distances, evenly, frame_for
from simulator.report.style import FAINT, GREY, INK, PALE, PAPER, axes_size_pt, in_ink, new_axes
from simulator.report.subject import Track, Walk

FloatArray = NDArray[np.float64]

WIDTH_IN = 2.38
"""A panel's width less its margins, on the narrower paper [in]."""

LEAST_IN, MOST_IN = 1.15, 1.7
EDGE_IN = 0.01
ROADS_DRAWN = 2
"""Ranks of streets drawn: main roads, to find one's place; more would be a blot."""

WATER_PT, APART_PT = 9.0, 14.0
COPIED = {INK: "#000000", GREY: "#000000", PALE: "#000000", FAINT: PAPER}
"""A copier knows black and white only."""


@in_ink
def card_map(walk: Walk) -> Axes:
    """Draw the way small enough for a panel of the pocket card.

    Parameters
    ----------
    walk : Walk
        What to draw.

    Returns
    -------
    Axes
        Coordinates in metres east and north of the middle of the way.
    """
    track = Track(walk)
    way = np.asarray(walk.path_lonlat, dtype=np.float64)
    middle = (way.min(axis=0) + way.max(axis=0)) / 2.0
    plane = Plane(float(middle[0]), float(middle[1]))
    way_m = plane.project(way[:, 0], way[:, 1])
    span = np.maximum(np.ptp(way_m, axis=0), 1.0)
    height_in = min(max(WIDTH_IN * float(span[1] / span[0]) * 1.15, LEAST_IN), MOST_IN)
    ax = new_axes((WIDTH_IN, height_in), (EDGE_IN, EDGE_IN, EDGE_IN, EDGE_IN))
    frame_for(ax, way_m)
    draw_ground(ax, [line for line in walk.lines if _is_water(line.tags)], plane)
    _roads(ax, walk, plane)
    labels = Labels(ax, axes_size_pt(ax))
    labels.keep_clear(*evenly(way_m, labels.size_pt, ax).T)
    line = plane.project(track.lon, track.lat)
    ax.plot(line[:, 0], line[:, 1], color=PAPER, lw=4.2, zorder=3, solid_capstyle="round")
    ax.plot(line[:, 0], line[:, 1], color=INK, lw=2.2, zorder=3.1, solid_capstyle="round")
    draw_bridges(ax, walk, track, plane)
    ends = line[[0, -1]]
    ax.plot(*ends[0], "s", ms=6.0, mfc=PAPER, mec=INK, mew=1.5, zorder=7)
    ax.plot(*ends[1], "s", ms=6.0, mfc=INK, mec=PAPER, mew=0.6, zorder=7)
    labels.reserve_marks(ends, 4.0)
    _water(ax, walk, plane, labels)
    draw_distances(ax, track, plane, labels, units_of(walk))
    return ax


def copied(svg: str) -> str:
    """Turn the house's inks into black and white.

    Parameters
    ----------
    svg : str
        A figure.

    Returns
    -------
    str
        The same, as a copier gives it.
    """
    for ink, black in COPIED.items():
        svg = svg.replace(ink, black)
    return svg


def _is_water(tags: dict[str, str]) -> bool:
    return tags.get("natural") == "water" or "waterway" in tags


def _roads(ax: Axes, walk: Walk, plane: Plane) -> None:
    """Draw main roads as hair lines."""
    streets = walk.streets
    points = plane.project(streets.lon, streets.lat)
    rank = ranked(streets)
    for position in range(min(ROADS_DRAWN, len(RANKS))):
        mine = np.flatnonzero(rank == position)
        tail, head = np.asarray(streets.tail)[mine], np.asarray(streets.head)[mine]
        road = chained(tail, head, np.asarray(streets.way)[mine], points)
        ax.plot(road[:, 0], road[:, 1], lw=0.45 - 0.2 * position, color=GREY, zorder=1.0)


def _water(ax: Axes, walk: Walk, plane: Plane, labels: Labels) -> None:
    """Draw planned stops ringed and numbered, and other ready water where there is room."""
    places = places_of(walk)
    at = plane.project(places["lon"].to_numpy(np.float64), places["lat"].to_numpy(np.float64))
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / labels.size_pt[0]
    ready = np.array(["water" in given for given in places["given"]], dtype=bool)
    ready &= (places["open"] != "no").to_numpy(bool)
    ready &= ~(places["needs_treatment"].astype(bool) | places["needs_key"].astype(bool))
    used = places["used"].to_numpy(bool)
    others: list[int] = []
    for row in np.flatnonzero(ready & ~used).tolist():
        # Water beside water is one mark here.
        if not others or np.hypot(*(at[row] - at[others[-1]])) > APART_PT * metres_per_pt:
            others.append(row)
    for row in [*np.flatnonzero(used).tolist(), *others]:
        stop = bool(used[row])
        x, y = float(at[row, 0]), float(at[row, 1])
        size = 12.0 if stop else WATER_PT
        spot = labels.spot(x, y, wide=size, high=size, away=(3.0, 8.0), must=stop)
        if spot is None:
            continue
        here = np.array([[x + spot[0] * metres_per_pt, y + spot[1] * metres_per_pt]])
        draw_glyphs(ax, here[:, 0], here[:, 1], "water", used=stop, zorder=6.5)
        if stop:
            mark = str(places["mark"].iloc[row])
            labels.place(
                float(here[0, 0]),
                float(here[0, 1]),
                mark,
                size=7.5,
                weight="bold",
                away=(6.5, 9.0),
                leader=False,
            )
