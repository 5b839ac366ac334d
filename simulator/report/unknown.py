"""Stretches of the way whose height no raster has: found, and marked on map and profile."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from simulator.report.content import heights_known
from simulator.report.style import INK, PAPER, axes_size_pt
from simulator.report.subject import Track, Walk, runs
from simulator.units import Units

FloatArray = NDArray[np.float64]
Spans = list[tuple[float, float]]

WORD = "height unknown"
"""What the marks are called in the key of the map."""

BESIDE_PT, APART_PT, DOT_PT = 5.6, 4.0, 2.1
"""Dots run this far beside the way, this far apart, this wide [pt]."""

ROOM_SHARE = 0.3
"""Share of the profile's height that words above the line need."""

WORDS_PT = 64.0
"""A stretch of the profile narrower than this gets a question mark in place of words [pt]."""


def spans_where(flags: NDArray[np.bool_], along_m: FloatArray) -> Spans:
    """Find stretches of marked steps.

    Parameters
    ----------
    flags : ndarray of bool, (S,)
        Marked steps.
    along_m : ndarray of float64, (S + 1,)
        Distance at each step's start, and at the end [m].

    Returns
    -------
    list of (float, float)
        Start and end of each [m].
    """
    return [(float(along_m[i]), float(along_m[j])) for i, j, marked in runs(flags) if marked]


def unknown_spans(walk: Walk, track: Track) -> Spans:
    """Find the stretches of the way whose height is estimated.

    Parameters
    ----------
    walk : Walk
        The walk.
    track : Track
        Its positions.

    Returns
    -------
    list of (float, float)
        Start and end of each [m]; none where all heights are known, or none at all.
    """
    if not heights_known(walk, track):
        return []
    return spans_where(~walk.segments["height_known"].to_numpy(bool), track.along_m)


def is_known(walk: Walk, track: Track, along_m: FloatArray) -> NDArray[np.bool_]:
    """Tell at which places of the way the height is known.

    Parameters
    ----------
    walk : Walk
        The walk.
    track : Track
        Its positions.
    along_m : ndarray of float64, (Q,)
        Distances from the start [m].

    Returns
    -------
    ndarray of bool, (Q,)
        True where an estimated stretch borders on known ground, too.
    """
    known = np.full(along_m.size, heights_known(walk, track))
    for start, end in unknown_spans(walk, track):
        first = -np.inf if start <= 0.0 else start
        last = np.inf if end >= track.length_m else end
        known &= ~((along_m > first) & (along_m < last))
    return known


def dots_beside(spans: Spans, apart_m: float) -> FloatArray:
    """Choose where along the way the dots of a map stand.

    Parameters
    ----------
    spans : list of (float, float)
        From `unknown_spans`.
    apart_m : float
        From one dot to the next [m].

    Returns
    -------
    ndarray of float64, (Q,)
        Distances from the start [m]; at least one a span.
    """
    places = [
        np.linspace(start, end, 2 * max(round((end - start) / apart_m), 1) + 1)[1::2]
        for start, end in spans
    ]
    return np.concatenate(places) if places else np.zeros(0)


def dot(ax: Axes, points: FloatArray) -> None:
    """Draw the dots of unknown heights.

    Parameters
    ----------
    ax : Axes
        Map or key.
    points : ndarray of float64, (Q, 2)
        Where.
    """
    ax.plot(
        points[:, 0],
        points[:, 1],
        "o",
        ms=DOT_PT,
        mfc=INK,
        mec=PAPER,
        mew=0.3,
        zorder=3.5,
        gid="unknown-heights",
    )


def mark_profile(ax: Axes, spans: Spans, x: FloatArray, y: FloatArray, units: Units) -> None:
    """Break the line of the profile where it is an estimate, and say so above it.

    Parameters
    ----------
    ax : Axes
        The profile, limits fixed.
    spans : list of (float, float)
        From `unknown_spans`.
    x, y : ndarray of float64, (S + 1,)
        Distance and height in the plan's units.
    units : Units
        The plan's units.
    """
    foot, top = ax.get_ylim()
    lift = 0.07 * (top - foot)
    for start, end in spans:
        first, last = start / units.long_m, end / units.long_m
        inside = x[(x > first) & (x < last)]
        across = np.concatenate(([first], inside, [last]))
        line = np.interp(across, x, y)
        # Under the line where the clock times and the bands of light stand close above it.
        high = float(line.max()) > top - ROOM_SHARE * (top - foot)
        ax.plot(
            across,
            line,
            color=PAPER,
            lw=2.2,
            ls=(0, (1.2, 1.6)),
            zorder=4.1,
            gid="height-unknown",
        )
        wide = (last - first) / x[-1] * axes_size_pt(ax)[0] > WORDS_PT
        ax.text(
            (first + last) / 2.0,
            float(line.min()) - lift if high else float(line.max()) + lift,
            WORD if wide else "?",
            ha="center",
            va="top" if high else "bottom",
            fontsize=7.5,
            fontweight="bold",
            zorder=6,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
        )
