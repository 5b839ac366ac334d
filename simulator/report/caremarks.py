"""Marks on the map for where to take care, and for what the plan closes."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from simulator.report.backdrop import Plane, across, chained
from simulator.report.care import chosen
from simulator.report.glyphs import Labels
from simulator.report.style import INK, PAPER
from simulator.report.subject import Track, Walk
from simulator.units import number

FloatArray = NDArray[np.float64]

CARE, CLOSED = "take care", "closed"
"""What the key calls these marks."""

MARK_PT, LETTER_PT = 11.5, 7.0
TEETH_EVERY_PT, TEETH_PT = 4.0, 6.0
CROSSES_EVERY_PT = 9.0


def care_words(walk: Walk) -> tuple[str, ...]:
    """Name the marks of this module that a map of a walk needs in its key.

    Parameters
    ----------
    walk : Walk
        The walk.

    Returns
    -------
    tuple of str
        Of ``CARE`` and ``CLOSED``, those that are drawn.
    """
    shut = walk.closed is not None and bool(np.any(walk.closed))
    return (*([CARE] if chosen(walk) else ()), *([CLOSED] if shut else ()))


def care_mark(ax: Axes, x: float, y: float, letters: str, *, zorder: float = 7.6) -> None:
    """Draw a six-sided disc with small letters.

    Parameters
    ----------
    ax : Axes
        Where to draw.
    x, y : float
        Data coordinates.
    letters : str
        At most two.
    zorder : float
        Drawing order.
    """
    ax.plot(x, y, "h", ms=MARK_PT, mfc=PAPER, mec=INK, mew=0.9, zorder=zorder)
    ax.annotate(
        letters,
        (x, y),
        ha="center",
        va="center_baseline",
        fontsize=LETTER_PT,
        zorder=zorder + 0.1,
    )


def cross_marks(ax: Axes, x: FloatArray, y: FloatArray, *, zorder: float = 2.7) -> None:
    """Draw small upright crosses over what is closed.

    Parameters
    ----------
    ax : Axes
        Where to draw.
    x, y : ndarray of float64
        Data coordinates.
    zorder : float
        Drawing order.
    """
    ax.plot(x, y, "x", ms=4.2, mec=PAPER, mew=2.2, zorder=zorder - 0.05)
    ax.plot(x, y, "x", ms=4.2, mec=INK, mew=0.9, zorder=zorder)


def draw_care(ax: Axes, walk: Walk, track: Track, plane: Plane, labels: Labels) -> None:
    """Draw teeth on the right of the stretches to take care on, and a lettered mark at each.

    Parameters
    ----------
    ax : Axes
        The map, limits fixed.
    walk : Walk
        The walk.
    track : Track
        Its positions.
    plane : Plane
        The projection.
    labels : Labels
        What is written on the map; the marks keep clear of it.
    """
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / labels.size_pt[0]
    for one in chosen(walk):
        begins, ends = number(one["from_km"]) * 1000.0, number(one["to_km"]) * 1000.0
        every = np.arange(begins, ends + 1e-6, TEETH_EVERY_PT * metres_per_pt)
        if every.size > 1:
            teeth = across(track, plane, every, TEETH_PT * metres_per_pt)
            gaps = np.full((every.size, 1, 2), np.nan)
            middle = teeth.mean(axis=1, keepdims=True)
            line = np.concatenate([middle, teeth[:, :1], gaps], axis=1).reshape(-1, 2)
            ax.plot(line[:, 0], line[:, 1], color=INK, lw=0.6, zorder=2.9)
        x, y = plane.project(*track.lonlat_at(np.array([begins])).T)[0]
        spot = labels.spot(
            float(x), float(y), wide=MARK_PT, high=MARK_PT, away=(6.0, 11.0, 17.0, 25.0)
        )
        aside, up, _ = spot or (0.0, 0.0, 0.0)
        at = (float(x) + aside * metres_per_pt, float(y) + up * metres_per_pt)
        ax.plot([x, at[0]], [y, at[1]], color=INK, lw=0.5, zorder=6.0)
        care_mark(ax, *at, str(one["mark"]))


def draw_closed(ax: Axes, walk: Walk, plane: Plane, width_pt: float) -> None:
    """Draw crosses over the streets that the plan closes.

    Parameters
    ----------
    ax : Axes
        The map, limits fixed.
    walk : Walk
        The walk.
    plane : Plane
        The projection.
    width_pt : float
        Width of the map on paper [pt].
    """
    if walk.closed is None or not np.any(walk.closed):
        return
    streets, shut = walk.streets, np.flatnonzero(walk.closed)
    points = plane.project(streets.lon, streets.lat)
    tail, head = np.asarray(streets.tail)[shut], np.asarray(streets.head)[shut]
    line = chained(tail, head, np.asarray(streets.way)[shut], points)
    ax.plot(line[:, 0], line[:, 1], color=INK, lw=0.5, zorder=2.6, linestyle=(0, (2, 2)))
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    spots = closed_spots(walk, plane, every_m=(x1 - x0) / width_pt * CROSSES_EVERY_PT)
    shown = (spots > (x0, y0)).all(axis=1) & (spots < (x1, y1)).all(axis=1)
    cross_marks(ax, spots[shown, 0], spots[shown, 1])


def closed_spots(walk: Walk, plane: Plane, *, every_m: float) -> FloatArray:
    """Find spots on the streets that the plan closes, one in each small square of ground.

    Parameters
    ----------
    walk : Walk
        The walk.
    plane : Plane
        The projection.
    every_m : float
        Side of the squares [m]: marks on the spots do not run into one blot.

    Returns
    -------
    ndarray of float64, (K, 2)
        East, north [m].
    """
    if walk.closed is None or not np.any(walk.closed):
        return np.empty((0, 2))
    streets, shut = walk.streets, np.flatnonzero(walk.closed)
    points = plane.project(streets.lon, streets.lat)
    middle = (points[np.asarray(streets.tail)[shut]] + points[np.asarray(streets.head)[shut]]) / 2.0
    squares = np.floor(middle / every_m).astype(np.int64)
    first = np.unique(squares, axis=0, return_index=True)[1]
    spots: FloatArray = middle[np.sort(first)]
    return spots
