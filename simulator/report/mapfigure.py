"""The map: the way as a banded double line, hours, distances, bridges and places on it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from simulator.report.backdrop import Plane, draw_ground, draw_streets
from simulator.report.content import attribution_of, bridge_spans, places_of, units_of
from simulator.report.glyphs import GIVES, Labels, draw_glyphs
from simulator.report.style import INK, PAPER, axes_size_pt, in_ink, new_axes
from simulator.report.subject import Track, Walk, hour_letter, runs
from simulator.report.units import Units
from simulator.report.words import drawable
from simulator.sky.sun import DAYLIGHT_STATES, daylight_state

FloatArray = NDArray[np.float64]

WIDTH_IN = 7.09
MARGIN_SHARE = 0.07
KEY_IN = 0.26
KEY_ROW_PT = 17.0
KEY_CHARACTER_PT = 4.15
SMALLEST_FRAME_M = 600.0
SHORT_BRIDGE_M = 12.0
BRIDGES_NAMED = 6


@in_ink
def route_map(
    walk: Walk,
    ax: Axes | None = None,
    *,
    width_in: float = WIDTH_IN,
    height_in: float = 4.6,
) -> Axes:
    """Draw the way home on its streets.

    The way is a double line: hollow by day, barred in twilight, solid in the dark.

    Parameters
    ----------
    walk : Walk
        What to draw.
    ax : Axes, optional
        Where to draw; a figure of its own if left out.
    width_in, height_in : float
        Size of that figure [in].

    Returns
    -------
    Axes
        Coordinates in metres east and north of the middle of the way.
    """
    if ax is None:
        ax = new_axes((width_in, height_in), (0.02, KEY_IN + 0.02, 0.02, 0.02))
    track = Track(walk)
    way = np.asarray(walk.path_lonlat, dtype=np.float64)
    middle = (way.min(axis=0) + way.max(axis=0)) / 2.0
    plane = Plane(float(middle[0]), float(middle[1]))
    way_m = plane.project(way[:, 0], way[:, 1])
    size = axes_size_pt(ax)
    _frame(ax, way_m, size)
    draw_ground(ax, getattr(walk, "lines", None), plane)
    draw_streets(ax, walk.streets, plane, way_m)
    labels = Labels(ax, size)
    labels.keep_clear(*_evenly(way_m, size, ax).T)
    _furniture(ax, labels, way_m, units_of(walk), attribution_of(walk))
    _way(ax, walk, track, plane)
    _bridges(ax, walk, track, plane)
    _places(ax, walk, plane, labels)
    _ends(ax, track, plane, labels)
    _hours(ax, track, plane, labels)
    _distances(ax, track, plane, labels, units_of(walk))
    _bridge_names(walk, track, plane, labels)
    _key(ax)
    return ax


def _frame(ax: Axes, way_m: FloatArray, size: tuple[float, float]) -> None:
    """Fix limits: the way with a margin, the scale equal both ways."""
    low, high = way_m.min(axis=0), way_m.max(axis=0)
    middle = (low + high) / 2.0
    span = np.maximum(high - low, SMALLEST_FRAME_M) * (1.0 + 2.0 * MARGIN_SHARE)
    metres_per_pt = max(span[0] / size[0], span[1] / size[1])
    half = np.array(size) * metres_per_pt / 2.0
    ax.set_xlim(middle[0] - half[0], middle[0] + half[0])
    ax.set_ylim(middle[1] - half[1], middle[1] + half[1])
    ax.set_aspect("equal", adjustable="box")
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_visible(True)


def _evenly(way_m: FloatArray, size: tuple[float, float], ax: Axes) -> FloatArray:
    """Points on the way every three points of paper, for labels to keep clear of."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(way_m, axis=0).T))])
    step = (ax.get_xlim()[1] - ax.get_xlim()[0]) / size[0] * 3.0
    at = np.arange(0.0, along[-1], step)
    return np.column_stack([np.interp(at, along, way_m[:, axis]) for axis in (0, 1)])


def _way(ax: Axes, walk: Walk, track: Track, plane: Plane) -> None:
    points = plane.project(track.lon, track.lat)
    ax.plot(points[:, 0], points[:, 1], color=PAPER, lw=6.0, zorder=3, solid_capstyle="round")
    ax.plot(
        points[:, 0],
        points[:, 1],
        color=INK,
        lw=3.4,
        zorder=3.1,
        solid_capstyle="round",
        gid="way",
    )
    states = daylight_state(walk.segments["sun_elevation_deg"].to_numpy(np.float64))
    for first, after, state in runs(states):
        stretch = points[first : after + 1]
        if DAYLIGHT_STATES[state] == "night":
            continue
        dashes: Any = "solid" if DAYLIGHT_STATES[state] == "day" else (0, (1.2, 1.2))
        ax.plot(stretch[:, 0], stretch[:, 1], color=PAPER, lw=1.9, zorder=3.2, linestyle=dashes)


def _across(track: Track, plane: Plane, along_m: FloatArray, half_m: float) -> FloatArray:
    """Short lines across the way at given distances, (Q, 2 ends, 2)."""
    here = plane.project(*track.lonlat_at(along_m).T)
    before = plane.project(*track.lonlat_at(along_m - half_m).T)
    after = plane.project(*track.lonlat_at(along_m + half_m).T)
    ahead = after - before
    ahead /= np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)[:, None]
    side = np.column_stack([-ahead[:, 1], ahead[:, 0]]) * half_m
    return np.stack([here - side, here + side], axis=1)


def _distances(ax: Axes, track: Track, plane: Plane, labels: Labels, units: Units) -> None:
    """A tick across the way each km or mile, a number each fifth."""
    marks = np.arange(1, int(track.length_m // units.long_m) + 1)
    if marks.size == 0:
        return
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / labels.size_pt[0]
    for number, tick in zip(
        marks, _across(track, plane, marks * units.long_m, 3.4 * metres_per_pt), strict=True
    ):
        fifth = number % 5 == 0
        ax.plot(tick[:, 0], tick[:, 1], color=INK, lw=1.1 if fifth else 0.6, zorder=3.3)
        if fifth:
            x, y = tick.mean(axis=0)
            labels.place(
                float(x),
                float(y),
                f"{number} {units.long_name}",
                away=(5.0, 9.0, 14.0),
                must=False,
                leader=False,
            )


def _bridges(ax: Axes, walk: Walk, track: Track, plane: Plane) -> None:
    """Two rails beside the way, flared at both ends, at every bridge crossed."""
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / axes_size_pt(ax)[0]
    for start, end, _ in bridge_spans(walk):
        if end - start < SHORT_BRIDGE_M:
            continue
        middle, half = (start + end) / 2.0, max((end - start) / 2.0, 3.0 * metres_per_pt)
        spots = np.array([middle - half, middle + half])
        inner = _across(track, plane, spots, 4.0 * metres_per_pt)
        ends = _across(
            track, plane, spots + np.array([-2.0, 2.0]) * metres_per_pt, 6.0 * metres_per_pt
        )
        for side in (0, 1):
            rail = np.array([ends[0, side], inner[0, side], inner[1, side], ends[1, side]])
            ax.plot(rail[:, 0], rail[:, 1], color=INK, lw=1.0, zorder=3.6)


def _bridge_names(walk: Walk, track: Track, plane: Plane, labels: Labels) -> None:
    spans = sorted(bridge_spans(walk), key=lambda s: s[0] - s[1])[:BRIDGES_NAMED]
    for start, end, name in sorted(spans):
        text = drawable(name)
        if text and end - start >= SHORT_BRIDGE_M:
            x, y = plane.project(*track.lonlat_at(np.array([(start + end) / 2.0])).T)[0]
            labels.place(float(x), float(y), text, away=(9.0, 16.0, 26.0, 40.0), must=False)


def _places(ax: Axes, walk: Walk, plane: Plane, labels: Labels) -> None:
    places = places_of(walk)
    if places.empty:
        return
    points = plane.project(places["lon"].to_numpy(np.float64), places["lat"].to_numpy(np.float64))
    used = places["used"].to_numpy(bool)
    shut = (places["open"] == "no").to_numpy(bool)
    for given in GIVES:
        mine = (places["glyph"] == given).to_numpy(bool)
        for is_used, is_shut in ((False, True), (False, False), (True, False)):
            chosen = mine & (used == is_used) & ((shut == is_shut) | is_used)
            if chosen.any():
                draw_glyphs(
                    ax,
                    points[chosen, 0],
                    points[chosen, 1],
                    given,
                    used=is_used,
                    faint=not is_used,
                    zorder=6.5 if is_used else 2.5,
                )
    stops: pd.DataFrame = places[places["used"]]
    stop_points = points[used]
    labels.keep_clear(stop_points[:, 0], stop_points[:, 1])
    for (x, y), mark in zip(stop_points, stops["mark"], strict=True):
        labels.place(float(x), float(y), str(mark), size=8.0, weight="bold", away=(7.0, 11.0, 18.0))


def _ends(ax: Axes, track: Track, plane: Plane, labels: Labels) -> None:
    both = plane.project(track.lon[[0, -1]], track.lat[[0, -1]])
    ax.plot(*both[0], marker="s", ms=8.0, mfc=PAPER, mec=INK, mew=1.8, zorder=7)
    ax.plot(*both[1], marker="s", ms=8.0, mfc=INK, mec=PAPER, mew=0.8, zorder=7)
    labels.keep_clear(both[:, 0], both[:, 1])
    for (x, y), word, when in zip(both, ("start", "home"), (0.0, track.duration_s), strict=True):
        labels.place(
            float(x),
            float(y),
            f"{word} {track.clock(when):%H:%M}",
            size=9.0,
            weight="bold",
            away=(8.0, 14.0, 22.0),
        )


def _hours(ax: Axes, track: Track, plane: Plane, labels: Labels) -> None:
    """A lettered disc where each hour of the ledger begins, with its clock time."""
    times = track.whole_hours_s()
    if times.size == 0:
        return
    points = plane.project(*track.lonlat_at(track.along_at(times)).T)
    ax.plot(points[:, 0], points[:, 1], "o", ms=10.5, mfc=PAPER, mec=INK, mew=0.9, zorder=7.5)
    labels.keep_clear(points[:, 0], points[:, 1])
    for index, ((x, y), when) in enumerate(zip(points, times, strict=True), start=1):
        ax.annotate(
            hour_letter(index),
            (x, y),
            ha="center",
            va="center_baseline",
            fontsize=7.0,
            fontweight="bold",
            zorder=8,
        )
        labels.place(
            float(x),
            float(y),
            f"{track.clock(float(when)):%H:%M}",
            size=8.0,
            away=(8.0, 13.0, 20.0, 30.0),
        )


def _nice_length(metres: float) -> float:
    """The largest 1, 2 or 5 times a power of ten that is not longer."""
    power = 10.0 ** np.floor(np.log10(metres))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power <= metres))


def _furniture(ax: Axes, labels: Labels, way_m: FloatArray, units: Units, attribution: str) -> None:
    """Scale bar, north and attribution in the corners that the way leaves free."""
    width, height = labels.size_pt
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    metres_per_pt = (x1 - x0) / width
    paper = labels.paper(way_m[:, 0], way_m[:, 1])
    left = paper[paper[:, 1] < 60.0]
    bar_left = not bool((left[:, 0] < width / 2.0).any()) or bool(
        (left[:, 0] > width / 2.0).mean() > 0.5  # noqa: PLR2004 - the emptier side
    )
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
    text = drawable(attribution, longest=90)
    if text:
        right = bar_left
        ax.annotate(
            text,
            (width - 4.0 if right else 4.0, 4.0),
            xycoords="axes points",
            ha="right" if right else "left",
            va="bottom",
            zorder=8,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.7},
        )
        long_pt = len(text) * 4.4
        labels.reserve(*((width - long_pt, 0.0, width, 14.0) if right else (0, 0, long_pt, 14.0)))


def _key(ax: Axes) -> None:
    """One line under the map that explains every mark, in points on paper."""
    width, height = axes_size_pt(ax)
    key = ax.inset_axes((0.0, -KEY_ROW_PT / height, 1.0, KEY_ROW_PT / height))
    key.set_axis_off()
    key.set_xlim(0.0, width)
    key.set_ylim(0.0, KEY_ROW_PT)
    row, item = KEY_ROW_PT / 2.0 - 1.0, 1.0
    dashes: Any
    for word, dashes in (("day", "solid"), ("twilight", (0, (1.2, 1.2))), ("dark", None)):
        across = [item, item + 16.0]
        key.plot(across, [row, row], color=INK, lw=3.4, solid_capstyle="round")
        if dashes is not None:
            key.plot(across, [row, row], color=PAPER, lw=1.9, linestyle=dashes)
        item = _key_word(key, item + 20.0, row, word)
    key.plot(item + 4.0, row, "o", ms=10.5, mfc=PAPER, mec=INK, mew=0.9)
    key.annotate("B", (item + 4.0, row), ha="center", va="center_baseline", fontweight="bold")
    item = _key_word(key, item + 12.0, row, "hour begins")
    for side in (-1.0, 1.0):
        rail = np.array([[0, 5.5], [2, 3.6], [8, 3.6], [10, 5.5]]) * [1.0, side]
        key.plot(rail[:, 0] + item, rail[:, 1] + row, color=INK, lw=1.0)
    item = _key_word(key, item + 14.0, row, "bridge")
    for given in GIVES:
        draw_glyphs(key, np.array([item + 4.0]), np.array([row]), given)
        item = _key_word(key, item + 11.0, row, given)
    draw_glyphs(key, np.array([item + 5.0]), np.array([row]), "water", used=True)
    _key_word(key, item + 14.0, row, "planned stop")


def _key_word(key: Axes, x: float, y: float, word: str) -> float:
    """Write a word of the key; gives where the next item may begin."""
    key.annotate(word, (x, y), va="center_baseline")
    return x + len(word) * KEY_CHARACTER_PT + 10.0
