"""Scale and north on the map, and the key under it that explains every mark."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from simulator.report.caremarks import CARE, CLOSED, care_mark, cross_marks
from simulator.report.glyphs import GIVES, Labels, draw_glyphs
from simulator.report.style import INK, PAPER, axes_size_pt
from simulator.report.unknown import WORD as UNKNOWN_HEIGHT
from simulator.report.unknown import dot
from simulator.units import Units

FloatArray = NDArray[np.float64]

CORNER_PT = 60.0
ROW_PT = 15.0
SOURCE_ROW_PT = 10.0
CHARACTER_PT = 4.1
MARK_PT = 17.0
GAP_PT = 5.0
WAY_PT, INSIDE_PT = 3.9, 1.8
"""Weight of the way's line and of its hollow: outlines of a good point survive a copier [pt]."""
WAY_DASHES: dict[str, Any] = {"day": "solid", "twilight": (0, (1.2, 1.2)), "night": None}
"""Inside of the double line by daylight; none leaves it solid."""
WORDS = (*WAY_DASHES, "hour", "bridge", *GIVES, "planned stop")


def key_depth_pt(width: float, *, more: Sequence[str] = ()) -> float:
    """Room the key takes under a map.

    Parameters
    ----------
    width : float
        Width of the map on paper [pt].
    more : sequence of str
        Words of marks that only some maps have.

    Returns
    -------
    float
        Height of the key [pt].
    """
    return len(_rows(width, more)) * ROW_PT + SOURCE_ROW_PT


def draw_key(ax: Axes, width: float, attribution: str, *, more: Sequence[str] = ()) -> None:
    """Explain every mark under the map and say whose data it is.

    Parameters
    ----------
    ax : Axes
        The map.
    width : float
        Its width on paper [pt].
    attribution : str
        Whose data the map is.
    more : sequence of str
        Words of marks that only some maps have.
    """
    rows = _rows(width, more)
    height = axes_size_pt(ax)[1]
    deep = key_depth_pt(width, more=more)
    key = ax.inset_axes((0.0, -deep / height, 1.0, deep / height))
    key.set_axis_off()
    key.set_xlim(0.0, width)
    key.set_ylim(0.0, deep)
    for position, row in enumerate(rows):
        y = deep - (position + 0.55) * ROW_PT
        x = 2.0
        for word in row:
            _mark(key, word, x, y)
            key.annotate(word, (x + MARK_PT, y), va="center_baseline")
            x += _item_pt(word)
    key.annotate(attribution, (width, SOURCE_ROW_PT / 2.0), ha="right", va="center_baseline")


def _rows(width: float, more: Sequence[str]) -> list[list[str]]:
    """Words of the key, broken into rows that fit."""
    rows: list[list[str]] = [[]]
    left = width
    for word in (*WORDS, *more):
        if _item_pt(word) - GAP_PT > left and rows[-1]:
            rows.append([])
            left = width
        rows[-1].append(word)
        left -= _item_pt(word)
    return rows


def _item_pt(word: str) -> float:
    return MARK_PT + len(word) * CHARACTER_PT + GAP_PT


def _mark(key: Axes, word: str, x: float, y: float) -> None:
    if word in WAY_DASHES:
        _way_mark(key, word, x, y)
    elif word in SELDOM:
        SELDOM[word](key, x, y)
    else:
        _common_mark(key, word, np.array([x + MARK_PT / 2.0 - 2.0]), np.array([y]))


def _way_mark(key: Axes, word: str, x: float, y: float) -> None:
    across = [x, x + MARK_PT - 4.0]
    key.plot(across, [y, y], color=INK, lw=WAY_PT, solid_capstyle="round")
    if WAY_DASHES[word] is not None:
        key.plot(across, [y, y], color=PAPER, lw=INSIDE_PT, linestyle=WAY_DASHES[word])


def _common_mark(key: Axes, word: str, middle: FloatArray, level: FloatArray) -> None:
    if word == "hour":
        key.plot(middle, level, "o", ms=10.5, mfc=PAPER, mec=INK, mew=0.9)
        at = (float(middle[0]), float(level[0]))
        key.annotate("B", at, ha="center", va="center_baseline", fontweight="bold")
    elif word == "bridge":
        for side in (-1.0, 1.0):
            rail = np.array([[-6, 5.0], [-4, 3.4], [4, 3.4], [6, 5.0]]) * [1.0, side]
            key.plot(rail[:, 0] + middle, rail[:, 1] + level, color=INK, lw=1.0)
    elif word == "planned stop":
        draw_glyphs(key, middle, level, "water", used=True)
    else:
        draw_glyphs(key, middle, level, word)


def _unknown_mark(key: Axes, x: float, y: float) -> None:
    steps = np.arange(-6.0, 7.0, 4.0) + x + MARK_PT / 2.0 - 2.0
    for side in (-4.6, 4.6):
        dot(key, np.column_stack([steps, np.full(steps.size, y + side)]))
    key.plot([x, x + MARK_PT - 4.0], [y, y], color=INK, lw=WAY_PT, solid_capstyle="round")


def _care_mark(key: Axes, x: float, y: float) -> None:
    care_mark(key, x + 3.5, y, "a")
    for tooth in (10.0, 12.0, 14.0):
        key.plot([x + tooth] * 2, [y - 3.0, y + 3.0], color=INK, lw=0.6)


def _closed_mark(key: Axes, x: float, y: float) -> None:
    cross_marks(key, np.array([x + MARK_PT / 2.0 - 2.0]), np.array([y]))


SELDOM = {UNKNOWN_HEIGHT: _unknown_mark, CARE: _care_mark, CLOSED: _closed_mark}
"""Marks that only some maps have, and what draws them."""


def _nice_length(metres: float) -> float:
    """Find the largest 1, 2 or 5 times a power of ten that is not longer."""
    power = 10.0 ** np.floor(np.log10(metres))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power <= metres))


def draw_scale(ax: Axes, labels: Labels, way_m: FloatArray, units: Units) -> None:
    """Draw scale bar and north in the lower corner that the way leaves free.

    Parameters
    ----------
    ax : Axes
        The map, in metres, limits fixed.
    labels : Labels
        What is written on it; the bar's room is reserved.
    way_m : ndarray of float64, (K, 2)
        The way [m].
    units : Units
        Units of the bar.
    """
    width = labels.size_pt[0]
    (x0, x1), y0 = ax.get_xlim(), ax.get_ylim()[0]
    metres_per_pt = (x1 - x0) / width
    paper = labels.paper(way_m[:, 0], way_m[:, 1])
    low = paper[paper[:, 1] < CORNER_PT, 0]
    bar_left = bool((low < width / 2.0).sum() <= (low > width / 2.0).sum())
    long_m = _nice_length(110.0 * metres_per_pt / units.long_m) * units.long_m
    bar_pt = long_m / metres_per_pt
    start = 10.0 if bar_left else width - bar_pt - 34.0
    for half in (0, 1):
        ax.add_line(
            Line2D(
                [
                    x0 + (start + half * bar_pt / 2) * metres_per_pt,
                    x0 + (start + (half + 1) * bar_pt / 2) * metres_per_pt,
                ],
                [y0 + 10.0 * metres_per_pt] * 2,
                color=INK,
                lw=3.2 if half == 0 else 1.0,
                zorder=8,
            )
        )
    ax.annotate(
        f"{long_m / units.long_m:g} {units.long_name}",
        (start + bar_pt + 4.0, 10.0),
        xycoords="axes points",
        va="center_baseline",
        zorder=8,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.7},
    )
    labels.reserve(start - 4.0, 2.0, start + bar_pt + 30.0, 20.0)
    north = start + 4.0
    ax.annotate(
        "N",
        (north, 42.0),
        xytext=(north, 20.0),
        xycoords="axes points",
        textcoords="axes points",
        ha="center",
        fontsize=8.0,
        fontweight="bold",
        zorder=8,
        arrowprops={"arrowstyle": "-", "lw": 1.2, "color": INK, "shrinkA": 0, "shrinkB": 0},
        annotation_clip=False,
    )
    labels.reserve(north - 7.0, 16.0, north + 7.0, 46.0)
