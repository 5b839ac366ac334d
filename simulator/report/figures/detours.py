"""Figures of closed bridges: the map of crossings by cost, and what a blockage costs where."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from simulator.arrays import Floats
from simulator.report.figures.map import Plane, draw_ground, draw_scale, draw_streets
from simulator.report.figures.style import (
    GREY,
    HATCH,
    INK,
    PALE,
    PAPER,
    Labels,
    axes_size_pt,
    in_ink,
    new_axes,
)
from simulator.report.subject import DrawnWalk
from simulator.report.tables import attribution_of, units_of
from simulator.report.words import drawable

WIDTH_IN = 7.09
KEY_IN = 0.55
MARGIN_SHARE = 0.08
SMALLEST_FRAME_M = 600.0
MOST_LINES = 4
"""Detours drawn on the map, the dearest."""
DETOUR_DASHES = ((0, (5, 2)), (0, (1, 1.4)), (0, (7, 2, 1, 2)), (0, (3, 3)))
"""Dashes of the detours drawn, dearest first, told apart without colour."""
LEAST_TOP_MIN = 10.0
"""Least height of the blockage profile [min]."""


class DetoursLike(Protocol):
    """What this room needs of finished detours in order to draw them."""

    @property
    def walk(self) -> DrawnWalk:
        """The open way, walked."""

    @property
    def crossings(self) -> pd.DataFrame:
        """One row a crossing, dearest first."""

    @property
    def lonlat(self) -> dict[str, Floats]:
        """The way around each closed crossing, by name, (K, 2) [deg]."""

    @property
    def pairs(self) -> pd.DataFrame:
        """Pairs that cost more together."""

    @property
    def cut(self) -> tuple[str, ...] | None:
        """The fewest crossings whose loss cuts home off."""

    @property
    def cut_is_smallest(self) -> bool:
        """Whether that is proved."""

    @property
    def blockages(self) -> pd.DataFrame:
        """One row a piece of street of the way."""

    @property
    def alternatives(self) -> pd.DataFrame:
        """Other ways worth knowing."""

    @property
    def other_walks(self) -> tuple[Any, ...]:
        """They, walked."""

    @property
    def notes(self) -> tuple[str, ...]:
        """How the figures are meant."""


@in_ink
def crossings_map(
    detours: DetoursLike, *, width_in: float = WIDTH_IN, height_in: float = 5.4
) -> Axes:
    """Draw the way, its crossings by what their loss costs, and the dearest ways around."""
    ax = new_axes((width_in, height_in), (0.02, 0.02 + KEY_IN, 0.02, 0.02))
    walk, table = detours.walk, detours.crossings
    way = np.asarray(walk.path_lonlat, np.float64)
    drawn = _drawn(detours)
    spots = table[["lon", "lat"]].to_numpy(np.float64)
    everything = np.concatenate([way, *drawn.values(), spots])
    middle = (everything.min(axis=0) + everything.max(axis=0)) / 2.0
    plane = Plane(float(middle[0]), float(middle[1]))
    way_m = plane.project(way[:, 0], way[:, 1])
    size = axes_size_pt(ax)
    _frame(ax, plane.project(everything[:, 0], everything[:, 1]), size)
    draw_ground(ax, walk.lines, plane)
    draw_streets(ax, walk.streets, plane, way_m)
    labels = Labels(ax, size, detours.walk.plan.choices.font)
    labels.keep_clear(way_m[:, 0], way_m[:, 1])
    draw_scale(ax, labels, way_m, units_of(walk))
    ax.plot(*way_m.T, color=PAPER, lw=5.5, zorder=3)
    ax.plot(*way_m.T, color=INK, lw=2.6, zorder=3.1, gid="way")
    for (name, line), dashes in zip(drawn.items(), DETOUR_DASHES, strict=False):
        off = _apart(plane.project(line[:, 0], line[:, 1]), way_m)
        ax.plot(*off.T, color=PAPER, lw=3.2, zorder=3.2)
        ax.plot(*off.T, color=INK, lw=1.7, ls=dashes, zorder=3.3, gid=f"around-{drawable(name)}")
    for end, face in ((0, PAPER), (-1, INK)):
        ax.plot(*way_m[end], marker="s", ms=8.0, mfc=face, mec=INK, mew=1.5, zorder=7)
    labels.reserve_marks(way_m[[0, -1]], 5.0)
    _marks(ax, labels, table, plane, set(detours.cut or ()))
    for end, word in ((0, "start"), (-1, "home")):
        x, y = float(way_m[end, 0]), float(way_m[end, 1])
        labels.place(x, y, word, size=9.0, weight="bold", away=(8.0, 14.0, 22.0))
    _key(ax, detours, len(drawn), drawable(attribution_of(walk), longest=120))
    return ax


def _drawn(detours: DetoursLike) -> dict[str, Floats]:
    """Choose the ways around that are drawn, dearest first."""
    names = [str(name) for name in detours.crossings["crossing"] if name in detours.lonlat]
    return {name: np.asarray(detours.lonlat[name], np.float64) for name in names[:MOST_LINES]}


def _apart(line_m: Floats, way_m: Floats) -> Floats:
    """Keep the points of a line that lie off the way, parted by NaN where it joins it."""
    known = {(round(x), round(y)) for x, y in way_m.tolist()}
    on_way = np.array([(round(x), round(y)) in known for x, y in line_m.tolist()], bool)
    # Ends of each stretch stay, so that it is seen to leave the way and come back.
    inner = on_way & np.append(True, on_way[:-1]) & np.append(on_way[1:], True)
    apart = line_m.copy()
    apart[inner] = np.nan
    return apart


def _frame(ax: Axes, points: Floats, size: tuple[float, float]) -> None:
    """Fix limits round some points, the scale equal both ways."""
    low, high = points.min(axis=0), points.max(axis=0)
    span = np.maximum(high - low, SMALLEST_FRAME_M) * (1.0 + 2.0 * MARGIN_SHARE)
    half = np.array(size) * max(span[0] / size[0], span[1] / size[1]) / 2.0
    middle = (low + high) / 2.0
    ax.set_xlim(middle[0] - half[0], middle[0] + half[0])
    ax.set_ylim(middle[1] - half[1], middle[1] + half[1])
    ax.set_aspect("equal", adjustable="box")
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_visible(True)


def _marks(ax: Axes, labels: Labels, table: pd.DataFrame, plane: Plane, cut: set[str]) -> None:
    """Draw a mark at every crossing, and name it where there is room."""
    points = plane.project(table["lon"].to_numpy(np.float64), table["lat"].to_numpy(np.float64))
    extra = np.nan_to_num(table["extra_min"].to_numpy(np.float64))
    most = max(float(extra.max(initial=0.0)), LEAST_TOP_MIN)
    for row, (x, y) in enumerate(points):
        name = str(table["crossing"].iloc[row])
        on_way = table["on_way"].iloc[row] == "yes"
        lost = table["reachable"].iloc[row] == "no"
        side = 11.0 + (9.0 if lost else 9.0 * np.sqrt(max(extra[row], 0.0) / most))
        if name in cut:
            ax.plot(
                x,
                y,
                "o" if on_way else "D",
                ms=side + 5.0 if on_way else 10.0,
                mfc=PAPER,
                mec=INK,
                mew=0.8,
                zorder=6.4 if on_way else 6.1,
            )
        if on_way:
            face = INK if lost else PAPER
            ax.plot(x, y, "o", ms=side, mfc=face, mec=INK, mew=1.3, zorder=6.5)
            ax.annotate(
                str(row + 1),
                (x, y),
                ha="center",
                va="center_baseline",
                color=PAPER if lost else INK,
                fontweight="bold",
                zorder=8,
            )
        else:
            ax.plot(x, y, "D", ms=5.5, mfc=PAPER, mec=INK, mew=1.0, zorder=6.2)
        labels.reserve_marks(np.array([[x, y]]), (side if on_way else 8.0) / 2.0)
    for row, (x, y) in enumerate(points):
        labels.place(
            float(x),
            float(y),
            drawable(table["crossing"].iloc[row], font=labels.font),
            away=(13.0, 19.0, 28.0),
            must=False,
        )


def _key(ax: Axes, detours: DetoursLike, lines: int, attribution: str) -> None:
    """Explain the marks under the map."""
    width, height = axes_size_pt(ax)
    deep = KEY_IN * 72.0
    key = ax.inset_axes((0.0, -deep / height, 1.0, deep / height))
    key.set_axis_off()
    key.set_xlim(0.0, width)
    key.set_ylim(0.0, deep)
    x, y = 6.0, deep - 8.0
    table = detours.crossings
    on_way, lost = table["on_way"] == "yes", table["reachable"] == "no"
    every = (
        (bool((on_way & ~lost).any()), ("o", PAPER, 0.0, "on the way; larger costs more")),
        (bool((on_way & lost).any()), ("o", INK, 0.0, "no way home without it")),
        (bool((~on_way).any()), ("D", PAPER, 0.0, "not on the way")),
        (bool(detours.cut), ("D", PAPER, 10.0, "double: close all, no way is left")),
    )
    marks = [mark for drawn, mark in every if drawn]
    for mark, face, ring, words in marks:
        if ring:
            key.plot(x + 3, y, mark, ms=ring, mfc=PAPER, mec=INK, mew=0.8)
        size = 9.0 if mark == "o" else 5.5
        key.plot(x + 3, y, mark, ms=size, mfc=face, mec=INK, mew=1.0)
        key.annotate(words, (x + 13.0, y), va="center_baseline")
        x += 13.0 + 5.2 * len(words) + 10.0
    x, y = 2.0, deep - 24.0
    for number, dashes in zip(range(1, lines + 1), DETOUR_DASHES, strict=False):
        key.plot([x, x + 26.0], [y, y], color=INK, lw=1.7, ls=dashes)
        key.annotate(f"around {number}", (x + 29.0, y), va="center_baseline")
        x += 76.0
    key.annotate(attribution, (width, 5.0), ha="right", va="center_baseline")


@in_ink
def blockage_profile(
    detours: DetoursLike, *, width_in: float = WIDTH_IN, height_in: float = 4.4
) -> Axes:
    """Draw what a blockage costs along the way: known on setting out, and met on arrival."""
    ax = new_axes((width_in, height_in), (0.60, 0.46, 0.10, 0.32))
    table, units = detours.blockages, units_of(detours.walk)
    if table.empty:
        return ax
    edges_m = 1000.0 * np.append(table["from_km"].to_numpy(), table["to_km"].to_numpy()[-1])
    edges = edges_m / units.long_m
    known, met = (table[name].to_numpy(np.float64) for name in ("known_extra_min", "met_extra_min"))
    finite = met[np.isfinite(met)]
    top = 1.12 * max(float(finite.max(initial=0.0)), LEAST_TOP_MIN)
    ax.set_xlim(0.0, edges[-1])
    ax.set_ylim(0.0, top)
    _steps(ax, edges, np.where(np.isinf(met), top, met), fill=True)
    ax.stairs(np.where(np.isinf(met), top, met), edges, color=INK, lw=0.9, gid="met", zorder=3)
    ax.stairs(
        np.where(np.isinf(known), top, known), edges, color=INK, lw=1.7, gid="known", zorder=4
    )
    shut = np.isinf(known)
    if shut.any():
        ax.stairs(
            np.where(shut, top, 0.0),
            edges,
            fill=True,
            facecolor="none",
            edgecolor=INK,
            hatch="xxxx",
            lw=0.0,
            zorder=2,
        )
    for _, row in detours.crossings[detours.crossings["on_way"] == "yes"].iterrows():
        at = 1000.0 * float(row["along_km"]) / units.long_m
        ax.plot([at, at], [top, 0.94 * top], color=INK, lw=1.2, zorder=5, clip_on=False)
        number = 1 + int(
            detours.crossings.index[detours.crossings["crossing"] == row["crossing"]][0]
        )
        ax.annotate(str(number), (at, top), ha="center", va="bottom", fontweight="bold")
    ax.set_xlabel(f"distance from the start ({units.long_name})")
    ax.set_ylabel("minutes lost")
    return ax


def _steps(ax: Axes, edges: Floats, values: Floats, *, fill: bool) -> None:
    """Hatch the ground under a stepped line."""
    ax.stairs(
        values,
        edges,
        fill=fill,
        facecolor="none",
        edgecolor=PALE,
        hatch=HATCH["night"],
        lw=0.0,
        zorder=1,
    )
    ax.axhline(0.0, color=GREY, lw=0.4)
