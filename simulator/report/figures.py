"""Height profile and refill strip, against distance."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.transforms import blended_transform_factory
from numpy.typing import NDArray

from simulator.report.content import bridge_spans, heights_known, longest_dry_m, places_of, units_of
from simulator.report.glyphs import GIVES, draw_glyphs
from simulator.report.style import (
    ACCENT,
    FAINT,
    GREY,
    HATCH,
    INK,
    PALE,
    PAPER,
    axes_size_pt,
    in_ink,
    new_axes,
)
from simulator.report.subject import Track, Walk, hour_letter, runs
from simulator.report.unknown import mark_profile, unknown_spans
from simulator.sky.sun import DAYLIGHT_STATES, daylight_state
from simulator.units import Units

FloatArray = NDArray[np.float64]

WIDTH_IN = 7.09
LEAST_SPAN_M = 60.0
"""Least height shown, so that flat ground looks flat [m]."""
CLOCK_PT = 27.0
"""Room one clock time takes on the axis [pt]."""
STOP_PT = 22.0
"""Room one planned stop takes on the line [pt]."""
WORD_PT = 33.0
"""A band of light narrower than this gets no word [pt]."""


@in_ink
def profile(
    walk: Walk, ax: Axes | None = None, *, size_in: tuple[float, float] | None = None
) -> Axes:
    """Draw the height of the way against distance, with daylight and the hours.

    Parameters
    ----------
    walk : Walk
        What to draw.
    ax : Axes, optional
        Where to draw; a figure of its own if left out.
    size_in : (float, float), optional
        Width and height of that figure [in].

    Returns
    -------
    Axes
        Distance against height, in the plan's units.
    """
    if ax is None:
        ax = new_axes(size_in or (WIDTH_IN, 2.35), (0.48, 0.42, 0.10, 0.52))
    units, track = units_of(walk), Track(walk)
    x = track.along_m / units.long_m
    y = track.height_m / units.short_m
    known = bool(np.isfinite(y).any())
    low, high = (float(np.nanmin(y)), float(np.nanmax(y))) if known else (0.0, 0.0)
    pad = max(LEAST_SPAN_M / units.short_m - (high - low), 0.0)
    top = high + pad + 0.12 * (high - low + pad)
    base = low - 0.10 * (high - low + pad)
    ax.set_xlim(0.0, x[-1])
    ax.set_ylim(base, top)
    _light_bands(ax, walk, x, y, base)
    ax.plot(x, y, color=INK, lw=1.3, zorder=4, gid="height")
    mark_profile(ax, unknown_spans(walk, track), x, y, units)
    _unlit(ax, walk, x)
    for start, end, _ in bridge_spans(walk):
        middle = np.array([(start + end) / 2.0])
        at = np.interp(middle, track.along_m, y)
        ax.plot(middle / units.long_m, at, marker=2, ms=6, color=INK, mew=0.9, zorder=5)
        ax.plot(middle / units.long_m, at, marker=3, ms=6, color=INK, mew=0.9, zorder=5)
    _stops(ax, walk, track, y, units)
    _hour_axis(ax, track, units)
    if not heights_known(walk, track):
        ax.text(
            0.5,
            0.5,
            "heights are not known: the ground is counted as flat",
            transform=ax.transAxes,
            ha="center",
            color=ACCENT,
            fontsize=8.5,
        )
    ax.set_xlabel(f"distance from the start ({units.long_name})")
    ax.set_ylabel(f"height ({units.short_name})")
    return ax


def _light_bands(ax: Axes, walk: Walk, x: FloatArray, y: FloatArray, base: float) -> None:
    """Hatch the ground under the way by daylight, and name the bands above it."""
    states = daylight_state(walk.segments["sun_elevation_deg"].to_numpy(np.float64))
    strip = blended_transform_factory(ax.transData, ax.transAxes)
    for first, after, code in runs(states):
        state = DAYLIGHT_STATES[code]
        part = slice(first, after + 1)
        ax.fill_between(
            x[part],
            y[part],
            base,
            facecolor="none" if state == "day" else PAPER,
            edgecolor=PALE if state == "twilight" else GREY,
            hatch=HATCH[state],
            lw=0.0,
            zorder=2,
        )
        fills = {"day": PAPER, "twilight": FAINT, "night": INK}
        ax.fill_between(
            x[[first, after]],
            1.0,
            1.035,
            transform=strip,
            facecolor=fills[state],
            edgecolor=INK,
            lw=0.6,
            clip_on=False,
            zorder=5,
        )
        if first:
            ax.axvline(x[first], color=INK, lw=0.6, ls=(0, (4, 2)), zorder=3)
        if (x[after] - x[first]) / x[-1] * axes_size_pt(ax)[0] > WORD_PT:
            ax.text(
                (x[first] + x[after]) / 2.0,
                0.985,
                state,
                transform=strip,
                ha="center",
                va="top",
                fontsize=7.5,
                fontstyle="italic",
                zorder=6,
                bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
            )


def _unlit(ax: Axes, walk: Walk, x: FloatArray) -> None:
    """Draw a bar along the foot where the way is dark and no street light is counted on."""
    steps = walk.segments
    dark = steps["dark"].to_numpy(bool) | steps["tunnel"].to_numpy(bool)
    unlit = dark & steps["unlit"].to_numpy(bool)
    strip = blended_transform_factory(ax.transData, ax.transAxes)
    for first, after, is_unlit in runs(unlit):
        if is_unlit:
            ax.fill_between(
                x[[first, after]], 0.0, 0.03, transform=strip, facecolor=INK, lw=0.0, zorder=4.5
            )


def _stops(ax: Axes, walk: Walk, track: Track, y: FloatArray, units: Units) -> None:
    """Stand the planned stops on the line; close neighbours stand higher and lower in turn."""
    places = places_of(walk)
    stops = places[places["used"]]
    at_m = stops["along_km"].to_numpy(np.float64) * 1000.0
    heights = np.interp(at_m, track.along_m, y)
    near = np.diff(at_m, prepend=-np.inf) / track.length_m * axes_size_pt(ax)[0] < STOP_PT
    step = 0.13 * (ax.get_ylim()[1] - ax.get_ylim()[0])
    lift = step
    for along, height, mark, given, crowded in zip(
        at_m / units.long_m, heights, stops["mark"], stops["glyph"], near, strict=True
    ):
        lift = 2.2 * step if crowded and lift == step else step
        ax.plot([along, along], [height, height + lift], color=INK, lw=0.6, zorder=4)
        draw_glyphs(
            ax, np.array([along]), np.array([height + lift]), given, used=True, zorder=7, clip=False
        )
        ax.annotate(
            mark,
            (along, height + lift),
            xytext=(9.5, 0),
            textcoords="offset points",
            va="center_baseline",
            ha="center",
            fontsize=8,
            fontweight="bold",
            zorder=8,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.4},
        )


def _hour_axis(ax: Axes, track: Track, units: Units) -> None:
    """Clock times along the top where each hour of the ledger begins."""
    times = track.whole_hours_s()
    whole = track.length_m / units.long_m
    over = ax.get_xaxis_transform()
    room = CLOCK_PT / axes_size_pt(ax)[0] * whole
    marks = [(0.0, f"A\n{track.clock(0.0):%H:%M}", "left")]
    marks += [
        (float(at), f"{hour_letter(index)}\n{track.clock(float(when)):%H:%M}", "center")
        for index, (at, when) in enumerate(
            zip(track.along_at(times) / units.long_m, times, strict=True), start=1
        )
    ]
    home = (whole, f"home\n{track.clock(track.duration_s):%H:%M}", "right")
    written = -room
    for at, words, side in [*marks, home]:
        ax.plot([at, at], [1.035, 1.065], color=INK, lw=0.7, transform=over, clip_on=False)
        is_end = side != "center"
        clear = at - written >= room * (1.4 if written == 0.0 else 1.0)
        before_home = whole - at >= 1.4 * room
        if not is_end and not (clear and before_home):
            continue
        written = at
        ax.annotate(
            words,
            (at, 1.075),
            xycoords=over,
            ha=side,
            va="bottom",
            linespacing=1.15,
            fontweight="bold" if is_end else "normal",
            annotation_clip=False,
        )


@in_ink
def refill_strip(
    walk: Walk, ax: Axes | None = None, *, size_in: tuple[float, float] | None = None
) -> Axes:
    """Draw what may be had where: one lane for each need, planned stops ringed.

    Parameters
    ----------
    walk : Walk
        What to draw.
    ax : Axes, optional
        Where to draw; a figure of its own if left out.
    size_in : (float, float), optional
        Width and height of that figure [in].

    Returns
    -------
    Axes
        Distance against lane.
    """
    if ax is None:
        ax = new_axes(size_in or (WIDTH_IN, 1.75), (0.62, 0.40, 0.14, 0.10))
    units, track = units_of(walk), Track(walk)
    places = places_of(walk)
    lanes = {given: len(GIVES) - 1 - lane for lane, given in enumerate(GIVES)}
    for lane in lanes.values():
        ax.axhline(lane, color=FAINT, lw=0.8, zorder=1)
    ax.set_xlim(0.0, track.length_m / units.long_m)
    ax.set_ylim(-0.6, len(GIVES) - 0.4)
    ax.set_yticks(list(lanes.values()), list(lanes))
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)
    along = places["along_km"].to_numpy(np.float64) * 1000.0 / units.long_m
    shut = (places["open"] == "no").to_numpy(bool)
    used = places["used"].to_numpy(bool)
    for given, lane in lanes.items():
        mine = np.array([given in words for words in places["given"]], dtype=bool)
        for is_used in (False, True):
            for is_shut in (True, False):
                chosen = mine & (used == is_used) & (shut == is_shut)
                draw_glyphs(
                    ax,
                    along[chosen],
                    np.full(int(chosen.sum()), float(lane)),
                    given,
                    used=is_used and given == "water",
                    faint=is_shut,
                    clip=False,
                    zorder=6.0 if is_used else 3.0,
                )
    for at, mark in zip(along[used], places["mark"][used], strict=True):
        ax.annotate(
            mark,
            (at, lanes["water"]),
            xytext=(0, 8),
            textcoords="offset points",
            ha="center",
            va="bottom",
            fontweight="bold",
            annotation_clip=False,
        )
    start, end = longest_dry_m(walk, track)
    ax.plot(
        [start / units.long_m, end / units.long_m],
        [lanes["water"]] * 2,
        color=ACCENT,
        lw=2.0,
        zorder=2,
    )
    ax.annotate(
        f"no ready water for {units.long(end - start)}",
        ((start + end) / 2 / units.long_m, lanes["water"]),
        xytext=(0, -3.5),
        textcoords="offset points",
        ha="center",
        va="top",
        color=ACCENT,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
        zorder=7,
    )
    ax.set_xlabel(f"distance from the start ({units.long_name})")
    return ax
