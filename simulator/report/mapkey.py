"""The key under the map: every mark explained in as many rows as the width needs."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from simulator.report.glyphs import GIVES, draw_glyphs
from simulator.report.style import INK, PAPER, axes_size_pt

ROW_PT = 15.0
SOURCE_ROW_PT = 10.0
CHARACTER_PT = 4.1
MARK_PT = 17.0
GAP_PT = 5.0
WAY_DASHES: dict[str, Any] = {"day": "solid", "twilight": (0, (1.2, 1.2)), "night": None}
"""Inside of the double line by daylight; none leaves it solid."""
WORDS = (*WAY_DASHES, "hour", "bridge", *GIVES, "planned stop")


def key_depth_pt(width: float) -> float:
    """Room the key takes under a map.

    Parameters
    ----------
    width : float
        Width of the map on paper [pt].

    Returns
    -------
    float
        Height of the key [pt].
    """
    return len(_rows(width)) * ROW_PT + SOURCE_ROW_PT


def draw_key(ax: Axes, width: float, attribution: str) -> None:
    """Explain every mark under the map and say whose data it is.

    Parameters
    ----------
    ax : Axes
        The map.
    width : float
        Its width on paper [pt].
    attribution : str
        Whose data the map is.
    """
    rows = _rows(width)
    height = axes_size_pt(ax)[1]
    deep = key_depth_pt(width)
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


def _rows(width: float) -> list[list[str]]:
    """Words of the key, broken into rows that fit."""
    rows: list[list[str]] = [[]]
    left = width
    for word in WORDS:
        if _item_pt(word) - GAP_PT > left and rows[-1]:
            rows.append([])
            left = width
        rows[-1].append(word)
        left -= _item_pt(word)
    return rows


def _item_pt(word: str) -> float:
    return MARK_PT + len(word) * CHARACTER_PT + GAP_PT


def _mark(key: Axes, word: str, x: float, y: float) -> None:
    middle = np.array([x + MARK_PT / 2.0 - 2.0])
    level = np.array([y])
    if word in WAY_DASHES:
        across = [x, x + MARK_PT - 4.0]
        key.plot(across, [y, y], color=INK, lw=3.4, solid_capstyle="round")
        if WAY_DASHES[word] is not None:
            key.plot(across, [y, y], color=PAPER, lw=1.9, linestyle=WAY_DASHES[word])
    elif word == "hour":
        key.plot(middle, level, "o", ms=10.5, mfc=PAPER, mec=INK, mew=0.9)
        key.annotate("B", (middle[0], y), ha="center", va="center_baseline", fontweight="bold")
    elif word == "bridge":
        for side in (-1.0, 1.0):
            rail = np.array([[-6, 5.0], [-4, 3.4], [4, 3.4], [6, 5.0]]) * [1.0, side]
            key.plot(rail[:, 0] + middle, rail[:, 1] + level, color=INK, lw=1.0)
    elif word == "planned stop":
        draw_glyphs(key, middle, level, "water", used=True)
    else:
        draw_glyphs(key, middle, level, word)
