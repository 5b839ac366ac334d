"""Several ways home on one map, told apart by their dashes."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from simulator.report.backdrop import Plane, draw_ground, draw_streets
from simulator.report.content import attribution_of, units_of
from simulator.report.glyphs import Labels
from simulator.report.mapkey import draw_scale
from simulator.report.style import ACCENT, INK, PAPER, axes_size_pt, in_ink, new_axes
from simulator.report.subject import Walk
from simulator.report.words import drawable

FloatArray = NDArray[np.float64]

WIDTH_IN = 7.09
KEY_IN = 0.30
ROW_IN = 0.16
MARGIN_SHARE = 0.07
SMALLEST_FRAME_M = 600.0
DASHES = ((0, (5, 2)), (0, (1, 1.4)), (0, (7, 2, 1, 2)), (0, (3, 3)), (0, (9, 2)))
"""Dashes of the other ways, in their order; after the last they begin again."""


@in_ink
def ways_map(
    walk: Walk,
    others: Mapping[str, FloatArray],
    *,
    name: str = "the way",
    width_in: float = WIDTH_IN,
    height_in: float = 4.0,
) -> Axes:
    """Draw a way and others beside it on the streets.

    Parameters
    ----------
    walk : Walk
        Its way is drawn solid and heavy.
    others : mapping of str to (K, 2) ndarray
        Other ways by name, longitude and latitude [deg]; dashed, over the first.
    name : str
        What the first is called in the key.
    width_in, height_in : float
        Size of the figure, key included [in].

    Returns
    -------
    Axes
        Coordinates in metres east and north of the middle of all ways.
    """
    deep_in = KEY_IN + ROW_IN * len(others)
    ax = new_axes((width_in, height_in), (0.02, 0.02 + deep_in, 0.02, 0.02))
    lines = {drawable(name): np.asarray(walk.path_lonlat, np.float64)}
    lines |= {drawable(word): np.asarray(line, np.float64) for word, line in others.items()}
    every = np.concatenate(list(lines.values()))
    middle = (every.min(axis=0) + every.max(axis=0)) / 2.0
    plane = Plane(float(middle[0]), float(middle[1]))
    drawn = {word: plane.project(line[:, 0], line[:, 1]) for word, line in lines.items()}
    everywhere = np.concatenate(list(drawn.values()))
    _frame(ax, everywhere)
    first = next(iter(drawn.values()))
    draw_ground(ax, walk.lines, plane)
    draw_streets(ax, walk.streets, plane, _there_and_back(list(drawn.values())))
    labels = Labels(ax, axes_size_pt(ax))
    for line in drawn.values():
        labels.keep_clear(line[:, 0], line[:, 1])
    draw_scale(ax, labels, everywhere, units_of(walk))
    for number, line in enumerate(drawn.values()):
        _line(ax, line, number)
    for end, face, word in ((0, PAPER, "start"), (-1, INK, "home")):
        x, y = (float(value) for value in first[end])
        ax.plot(x, y, marker="s", ms=8.0, mfc=face, mec=INK, mew=1.5, zorder=7)
        labels.reserve_marks(first[[end]], 5.0)
        labels.place(x, y, word, size=9.0, weight="bold", away=(8.0, 14.0, 22.0))
    _key(ax, list(drawn), deep_in, drawable(attribution_of(walk), longest=120))
    return ax


def _there_and_back(lines: list[FloatArray]) -> FloatArray:
    """Join ways into one line, every second one turned, so that streets are drawn near them all."""
    return np.concatenate([line[:: -1 if number % 2 else 1] for number, line in enumerate(lines)])


def _frame(ax: Axes, points: FloatArray) -> None:
    """Fix limits round some points, the scale equal both ways."""
    size = np.array(axes_size_pt(ax))
    low, high = points.min(axis=0), points.max(axis=0)
    span = np.maximum(high - low, SMALLEST_FRAME_M) * (1.0 + 2.0 * MARGIN_SHARE)
    half = size * float(np.max(span / size)) / 2.0
    middle = (low + high) / 2.0
    ax.set_xlim(middle[0] - half[0], middle[0] + half[0])
    ax.set_ylim(middle[1] - half[1], middle[1] + half[1])
    ax.set_aspect("equal", adjustable="box")
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_visible(True)


def _line(ax: Axes, line: FloatArray, number: int) -> None:
    """Draw one way: the first heavy, others dashed over it."""
    if number == 0:
        ax.plot(*line.T, color=PAPER, lw=6.0, zorder=3)
        ax.plot(*line.T, color=INK, lw=3.4, zorder=3.1, gid="way")
        return
    dashes = DASHES[(number - 1) % len(DASHES)]
    ax.plot(*line.T, color=PAPER, lw=2.6, zorder=3.2)
    ax.plot(*line.T, color=ACCENT, lw=1.6, ls=dashes, zorder=3.3, gid=f"other-{number}")


def _key(ax: Axes, names: list[str], deep_in: float, attribution: str) -> None:
    """Name the ways under the map."""
    width, height = axes_size_pt(ax)
    deep = deep_in * 72.0
    key = ax.inset_axes((0.0, -deep / height, 1.0, deep / height))
    key.set_axis_off()
    key.set_xlim(0.0, width)
    key.set_ylim(0.0, deep)
    for number, name in enumerate(names):
        y = deep - 10.0 - number * ROW_IN * 72.0
        if number == 0:
            key.plot([2.0, 36.0], [y, y], color=INK, lw=3.4)
        else:
            dashes = DASHES[(number - 1) % len(DASHES)]
            key.plot([2.0, 36.0], [y, y], color=ACCENT, lw=1.6, ls=dashes)
        key.annotate(name, (42.0, y), va="center_baseline")
    key.annotate(attribution, (width, 4.0), ha="right", va="bottom")
