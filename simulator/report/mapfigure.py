"""The map: the way as a banded double line, hours, distances, bridges and places on it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from simulator.report.backdrop import Plane, across, draw_ground, draw_streets
from simulator.report.caremarks import care_words, draw_care, draw_closed
from simulator.report.content import attribution_of, bridge_spans, places_of, units_of
from simulator.report.glyphs import GIVES, Labels, draw_glyphs
from simulator.report.mapkey import (
    INSIDE_PT,
    WAY_DASHES,
    WAY_PT,
    draw_key,
    draw_scale,
    key_depth_pt,
)
from simulator.report.style import INK, PAPER, POINTS_PER_INCH, axes_size_pt, in_ink, new_axes
from simulator.report.subject import Track, Walk, hour_letter, runs
from simulator.report.unknown import (
    APART_PT,
    BESIDE_PT,
    WORD,
    dot,
    dots_beside,
    unknown_spans,
)
from simulator.report.words import drawable
from simulator.sky.sun import DAYLIGHT_STATES, daylight_state
from simulator.units import Units

FloatArray = NDArray[np.float64]

WIDTH_IN = 7.09
FLATTEST = 0.42
"""Least height of a map over its width."""
EDGE_IN = 0.02
MARGIN_SHARE = 0.07
SMALLEST_FRAME_M = 600.0
SHORT_BRIDGE_M = 12.0
CROWDED_PT = 16.0
SAME_SPOT_PT = 7.0
BRIDGES_NAMED = 6


class HourMark(NamedTuple):
    """Where an hour begins, or several that are spent on the same spot.

    Attributes
    ----------
    x, y : float
        Position [m in the map's plane].
    letter : str
        The (first) hour's letter.
    begins, until : str
        Clock time the (first) hour begins, and the last one; empty if there is one only.
    """

    x: float
    y: float
    letter: str
    begins: str
    until: str = ""


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
        ax = new_axes(
            (width_in, height_in),
            (
                EDGE_IN,
                EDGE_IN + _key_depth_in(walk, width_in),
                EDGE_IN,
                EDGE_IN,
            ),
        )
    track = Track(walk)
    way = np.asarray(walk.path_lonlat, dtype=np.float64)
    middle = (way.min(axis=0) + way.max(axis=0)) / 2.0
    plane = Plane(float(middle[0]), float(middle[1]))
    way_m = plane.project(way[:, 0], way[:, 1])
    size = axes_size_pt(ax)
    frame_for(ax, way_m)
    draw_ground(ax, walk.lines, plane)
    draw_streets(ax, walk.streets, plane, way_m)
    draw_closed(ax, walk, plane, size[0])
    labels = Labels(ax, size, walk.plan.choices.font)
    labels.keep_clear(*evenly(way_m, size, ax).T)
    draw_scale(ax, labels, way_m, units_of(walk))
    _way(ax, walk, track, plane)
    draw_bridges(ax, walk, track, plane)
    _unknown_heights(ax, walk, track, plane)
    ends = plane.project(track.lon[[0, -1]], track.lat[[0, -1]])
    hours = _hour_groups(track, plane, labels)
    _end_marks(ax, ends, labels)
    _hour_marks(ax, hours, labels)
    _passed(ax, walk, plane)
    _stops(ax, walk, plane, labels)
    draw_care(ax, walk, track, plane, labels)
    _end_times(ends, track, labels)
    _hour_times(hours, ends[1], labels)
    draw_distances(ax, track, plane, labels, units_of(walk))
    _bridge_names(walk, track, plane, labels)
    draw_key(ax, size[0], drawable(attribution_of(walk), longest=120), more=_seldom(walk))
    return ax


def fitting_height_in(walk: Walk, width_in: float, most_in: float) -> float:
    """Choose a map height that suits the way's shape.

    Parameters
    ----------
    walk : Walk
        What will be drawn.
    width_in : float
        Width of the figure [in].
    most_in : float
        Most height there is [in].

    Returns
    -------
    float
        Height of the figure with its key [in].
    """
    way = np.asarray(walk.path_lonlat, dtype=np.float64)
    span = np.maximum(np.ptp(way, axis=0), 1e-9)
    aspect = float(span[1] / (span[0] * np.cos(np.radians(way[:, 1].mean()))))
    wanted = width_in * min(max(aspect * 1.15, FLATTEST), 1.6) + _key_depth_in(walk, width_in)
    return min(wanted, most_in)


def _seldom(walk: Walk) -> tuple[str, ...]:
    """Name the marks that are explained only on the maps that have them."""
    unknown = (WORD,) if unknown_spans(walk, Track(walk)) else ()
    return (*unknown, *care_words(walk))


def _key_depth_in(walk: Walk, width_in: float) -> float:
    width = (width_in - 2.0 * EDGE_IN) * POINTS_PER_INCH
    return key_depth_pt(width, more=_seldom(walk)) / POINTS_PER_INCH


def frame_for(ax: Axes, way_m: FloatArray) -> None:
    """Fix limits: the way with a margin, the scale equal both ways.

    Parameters
    ----------
    ax : Axes
        Whose limits are set.
    way_m : ndarray of float64, (K, 2)
        The way [m].
    """
    size = axes_size_pt(ax)
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


def evenly(way_m: FloatArray, size: tuple[float, float], ax: Axes) -> FloatArray:
    """Find points on the way every three points of paper, for labels to keep clear of.

    Parameters
    ----------
    way_m : ndarray of float64, (K, 2)
        The way [m].
    size : (float, float)
        Width and height of the map on paper [pt].
    ax : Axes
        The map, limits fixed.

    Returns
    -------
    ndarray of float64, (Q, 2)
        Positions [m].
    """
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(way_m, axis=0).T))])
    step = (ax.get_xlim()[1] - ax.get_xlim()[0]) / size[0] * 3.0
    at = np.arange(0.0, along[-1], step)
    return np.column_stack([np.interp(at, along, way_m[:, axis]) for axis in (0, 1)])


def _way(ax: Axes, walk: Walk, track: Track, plane: Plane) -> None:
    points = plane.project(track.lon, track.lat)
    ax.plot(points[:, 0], points[:, 1], color=PAPER, lw=6.5, zorder=3, solid_capstyle="round")
    ax.plot(
        points[:, 0],
        points[:, 1],
        color=INK,
        lw=WAY_PT,
        zorder=3.1,
        solid_capstyle="round",
        gid="way",
    )
    states = daylight_state(walk.segments["sun_elevation_deg"].to_numpy(np.float64))
    for first, after, state in runs(states):
        stretch = points[first : after + 1]
        dashes = WAY_DASHES[DAYLIGHT_STATES[state]]
        if dashes is not None:
            ax.plot(
                stretch[:, 0],
                stretch[:, 1],
                color=PAPER,
                lw=INSIDE_PT,
                zorder=3.2,
                linestyle=dashes,
            )


def draw_distances(ax: Axes, track: Track, plane: Plane, labels: Labels, units: Units) -> None:
    """Draw a tick across the way each km or mile, a number each fifth.

    Parameters
    ----------
    ax : Axes
        The map, limits fixed.
    track : Track
        Positions along the way.
    plane : Plane
        The projection.
    labels : Labels
        What is written on the map.
    units : Units
        Units of the numbers.
    """
    marks = np.arange(1, int(track.length_m // units.long_m) + 1)
    if marks.size == 0:
        return
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / labels.size_pt[0]
    ticks = across(track, plane, marks.astype(np.float64) * units.long_m, 4.6 * metres_per_pt)
    fifth = marks % 5 == 0
    for chosen, weight in ((ticks[~fifth], 0.6), (ticks[fifth], 1.1)):
        gaps = np.full((chosen.shape[0], 1, 2), np.nan)
        line = np.concatenate([chosen, gaps], axis=1).reshape(-1, 2)
        ax.plot(line[:, 0], line[:, 1], color=INK, lw=weight, zorder=3.3)
    for number, (x, y) in zip(marks[fifth], ticks[fifth].mean(axis=1), strict=True):
        labels.place(
            float(x),
            float(y),
            f"{number} {units.long_name}",
            away=(5.0, 9.0, 14.0),
            must=False,
            leader=False,
        )


def draw_bridges(ax: Axes, walk: Walk, track: Track, plane: Plane) -> None:
    """Draw two rails beside the way, flared at both ends, at every bridge crossed.

    Parameters
    ----------
    ax : Axes
        The map, limits fixed.
    walk : Walk
        The walk.
    track : Track
        Positions along the way.
    plane : Plane
        The projection.
    """
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / axes_size_pt(ax)[0]
    for start, end, _ in bridge_spans(walk):
        if end - start < SHORT_BRIDGE_M:
            continue
        middle, half = (start + end) / 2.0, max((end - start) / 2.0, 3.0 * metres_per_pt)
        spots = np.array([middle - half, middle + half])
        inner = across(track, plane, spots, 4.0 * metres_per_pt)
        ends = across(
            track, plane, spots + np.array([-2.0, 2.0]) * metres_per_pt, 6.0 * metres_per_pt
        )
        for side in (0, 1):
            rail = np.array([ends[0, side], inner[0, side], inner[1, side], ends[1, side]])
            ax.plot(rail[:, 0], rail[:, 1], color=INK, lw=1.0, zorder=3.6)


def _unknown_heights(ax: Axes, walk: Walk, track: Track, plane: Plane) -> None:
    """Dot both sides of the way where its height is unknown."""
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / axes_size_pt(ax)[0]
    along = dots_beside(unknown_spans(walk, track), APART_PT * metres_per_pt)
    if along.size:
        dot(ax, across(track, plane, along, BESIDE_PT * metres_per_pt).reshape(-1, 2))


def _bridge_names(walk: Walk, track: Track, plane: Plane, labels: Labels) -> None:
    spans = sorted(bridge_spans(walk), key=lambda s: s[0] - s[1])[:BRIDGES_NAMED]
    named: set[str] = set()
    for start, end, name in sorted(spans):
        text = drawable(name, font=labels.font)
        # Several bridges of one street are named once.
        if text and text not in named and end - start >= SHORT_BRIDGE_M:
            named.add(text)
            x, y = plane.project(*track.lonlat_at(np.array([(start + end) / 2.0])).T)[0]
            labels.place(float(x), float(y), text, away=(9.0, 16.0, 26.0, 40.0), must=False)


def _passed(ax: Axes, walk: Walk, plane: Plane) -> None:
    """Draw the places that are passed by, small and grey."""
    places = places_of(walk)
    passed = places[~places["used"]]
    points = plane.project(passed["lon"].to_numpy(np.float64), passed["lat"].to_numpy(np.float64))
    for given in GIVES:
        mine = (passed["glyph"] == given).to_numpy(bool)
        draw_glyphs(ax, points[mine, 0], points[mine, 1], given, faint=True, halo=True, zorder=2.5)


def _stops(ax: Axes, walk: Walk, plane: Plane, labels: Labels) -> None:
    """Draw the planned stops, ringed and numbered, moved aside where a mark is in their way."""
    places = places_of(walk)
    stops = places[places["used"]]
    points = plane.project(stops["lon"].to_numpy(np.float64), stops["lat"].to_numpy(np.float64))
    metres_per_pt = (ax.get_xlim()[1] - ax.get_xlim()[0]) / labels.size_pt[0]
    for (x, y), given, mark in zip(points, stops["glyph"], stops["mark"], strict=True):
        spot = labels.spot(float(x), float(y), wide=13.0, high=13.0, away=(0.0, 4.0, 9.0, 15.0))
        across, up, moved = spot or (0.0, 0.0, 0.0)
        at = np.array([[x + across * metres_per_pt, y + up * metres_per_pt]])
        if moved:
            ax.plot([x, at[0, 0]], [y, at[0, 1]], color=INK, lw=0.6, zorder=6.0)
        draw_glyphs(ax, at[:, 0], at[:, 1], given, used=True, zorder=6.5)
        labels.place(
            float(at[0, 0]),
            float(at[0, 1]),
            str(mark),
            size=8.0,
            weight="bold",
            away=(7.0, 10.0),
            leader=False,
        )


def _end_marks(ax: Axes, ends: FloatArray, labels: Labels) -> None:
    """Draw the start as an open square and home as a full one."""
    ax.plot(*ends[0], marker="s", ms=8.0, mfc=PAPER, mec=INK, mew=1.8, zorder=7)
    ax.plot(*ends[1], marker="s", ms=8.0, mfc=INK, mec=PAPER, mew=0.8, zorder=7)
    labels.reserve_marks(ends, 5.0)


def _end_times(ends: FloatArray, track: Track, labels: Labels) -> None:
    for (x, y), word, when in zip(ends, ("start", "home"), (0.0, track.duration_s), strict=True):
        labels.place(
            float(x),
            float(y),
            f"{word} {track.clock(when):%H:%M}",
            size=9.0,
            weight="bold",
            away=(8.0, 14.0, 22.0),
        )


def _hour_groups(track: Track, plane: Plane, labels: Labels) -> list[HourMark]:
    """Find where hours begin; those spent on the same spot share one mark."""
    times = track.whole_hours_s()
    points = plane.project(*track.lonlat_at(track.along_at(times)).T)
    paper = labels.paper(points[:, 0], points[:, 1])
    marks: list[HourMark] = []
    first = 0
    for index, when in enumerate(times):
        if index and np.hypot(*(paper[index] - paper[first])) < SAME_SPOT_PT:
            marks[-1] = marks[-1]._replace(until=f"{track.clock(float(when)):%H:%M}")
            continue
        first = index
        marks.append(
            HourMark(
                float(points[index, 0]),
                float(points[index, 1]),
                hour_letter(index + 1),
                f"{track.clock(float(when)):%H:%M}",
            )
        )
    return marks


def _hour_marks(ax: Axes, hours: list[HourMark], labels: Labels) -> None:
    """Draw a lettered disc where each hour of the ledger begins."""
    for mark in hours:
        ax.plot(mark.x, mark.y, "o", ms=10.5, mfc=PAPER, mec=INK, mew=0.9, zorder=7.5)
        ax.annotate(
            mark.letter,
            (mark.x, mark.y),
            ha="center",
            va="center_baseline",
            fontsize=7.0,
            fontweight="bold",
            zorder=8,
        )
        labels.reserve_marks(np.array([[mark.x, mark.y]]), 5.5)


def _hour_times(hours: list[HourMark], home: FloatArray, labels: Labels) -> None:
    """Write the clock time beside each disc; next to home, home's own label says it."""
    metres_per_pt = (labels.ax.get_xlim()[1] - labels.ax.get_xlim()[0]) / labels.size_pt[0]
    for mark in hours:
        from_home = np.hypot(mark.x - home[0], mark.y - home[1]) / metres_per_pt
        if from_home >= CROWDED_PT or mark.until:
            text = f"{mark.begins} to {mark.until}" if mark.until else mark.begins
            labels.place(mark.x, mark.y, text, size=8.0, away=(8.0, 13.0, 20.0, 30.0))
