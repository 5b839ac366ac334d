"""Figures of the walk besides the map: height profile, hour-by-hour ledger, refill strip."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.transforms import blended_transform_factory
from numpy.typing import NDArray

from simulator.report.content import bridge_spans, longest_dry_m, places_of, units_of
from simulator.report.glyphs import GIVES, draw_glyphs
from simulator.report.style import (
    ACCENT,
    FAINT,
    GREY,
    HATCH,
    INK,
    PALE,
    PAPER,
    in_ink,
    new_axes,
)
from simulator.report.subject import SECONDS_PER_HOUR, Track, Walk, hour_letter, runs
from simulator.report.units import Units
from simulator.sky.sun import DAYLIGHT_STATES, daylight_state

FloatArray = NDArray[np.float64]

WIDTH_IN = 7.09
LEAST_SPAN_M = 60.0
"""Least height shown, so that flat ground looks flat [m]."""
NAMED_SHARE = 0.05
"""A band of light narrower than this share of the way gets no word."""


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
    _unlit(ax, walk, x)
    for start, end, _ in bridge_spans(walk):
        middle = np.array([(start + end) / 2.0])
        at = np.interp(middle, track.along_m, y)
        ax.plot(middle / units.long_m, at, marker=2, ms=6, color=INK, mew=0.9, zorder=5)
        ax.plot(middle / units.long_m, at, marker=3, ms=6, color=INK, mew=0.9, zorder=5)
    _stops(ax, walk, track, y, units)
    _hour_axis(ax, track, units)
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
        if (x[after] - x[first]) / x[-1] > NAMED_SHARE:
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
    """A bar along the foot where the way is dark and no street lamp is known."""
    steps = walk.segments
    unlit = steps["dark"].to_numpy(bool) & (steps["lit"].to_numpy() != 1)
    strip = blended_transform_factory(ax.transData, ax.transAxes)
    for first, after, is_unlit in runs(unlit):
        if is_unlit:
            ax.fill_between(
                x[[first, after]], 0.0, 0.03, transform=strip, facecolor=INK, lw=0.0, zorder=4.5
            )


def _stops(ax: Axes, walk: Walk, track: Track, y: FloatArray, units: Units) -> None:
    places = places_of(walk)
    stops = places[places["used"]]
    at_m = stops["along_km"].to_numpy(np.float64) * 1000.0
    heights = np.interp(at_m, track.along_m, y)
    lift = 0.13 * (ax.get_ylim()[1] - ax.get_ylim()[0])
    for along, height, mark, given in zip(
        at_m / units.long_m, heights, stops["mark"], stops["glyph"], strict=True
    ):
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
    at = track.along_at(times) / units.long_m
    over = ax.get_xaxis_transform()
    for index, (along, when) in enumerate(zip(at, times, strict=True), start=1):
        ax.plot([along, along], [1.035, 1.065], color=INK, lw=0.7, transform=over, clip_on=False)
        ax.annotate(
            f"{hour_letter(index)}\n{track.clock(float(when)):%H:%M}",
            (float(along), 1.075),
            xycoords=over,
            ha="center",
            va="bottom",
            fontsize=7.0,
            linespacing=1.15,
            annotation_clip=False,
        )
    for along, when, side in (
        (0.0, 0.0, "left"),
        (track.length_m / units.long_m, track.duration_s, "right"),
    ):
        word = (
            f"A\n{track.clock(when):%H:%M}"
            if side == "left"
            else f"home\n{track.clock(when):%H:%M}"
        )
        near = at.size and np.abs(at - along).min() < 0.045 * track.length_m / units.long_m
        if not near:
            ax.annotate(
                word,
                (along, 1.075),
                xycoords=over,
                ha=side,
                va="bottom",
                fontsize=7.0,
                fontweight="bold",
                linespacing=1.15,
                annotation_clip=False,
            )


@in_ink
def ledger(
    walk: Walk, ax: Axes | None = None, *, size_in: tuple[float, float] | None = None
) -> Axes:
    """Draw the hourly budgets of water, food energy, light and warmth, one above the other.

    What is left stands up as outlined bars; what is short hangs down, hatched.

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
        Invisible axes that hold one inset for each budget.
    """
    if ax is None:
        ax = new_axes(size_in or (WIDTH_IN, 4.6), (0.62, 0.50, 0.10, 0.22))
    ax.set_axis_off()
    units, hours = units_of(walk), walk.hours

    def column(name: str) -> FloatArray:
        return hours[name].to_numpy(np.float64)

    water = units.volume_ml
    budgets = (
        (
            f"water ({units.volume_name})",
            column("water_left_ml") / water,
            column("water_short_ml") / water,
        ),
        ("food (kcal)", column("eaten_kcal"), column("energy_short_kcal")),
        ("light (h)", column("light_left_h"), column("light_short_h")),
    )
    rows = len(budgets) + 1
    height = 1.0 / (rows + 0.28 * (rows - 1))
    count = len(hours)
    for row, (label, left, short) in enumerate(budgets):
        panel = ax.inset_axes((0.0, 1.0 - height - row * 1.28 * height, 1.0, height))
        _budget(panel, left, short, label)
        _hour_ticks(panel, walk, named=False)
    panel = ax.inset_axes((0.0, 0.0, 1.0, height))
    for name, style, word in (("air_c", (0, (3, 1.5)), "air"), ("felt_c", "solid", "felt")):
        degrees = np.array([units.temperature(c) for c in column(name)])
        panel.step(
            np.arange(count + 1),
            np.append(degrees, degrees[-1]),
            where="post",
            color=INK,
            lw=1.2,
            ls=style,
            label=word,
        )
    panel.margins(x=0.0, y=0.3)
    panel.set_ylabel(f"warmth ({units.temperature_name})")
    panel.legend(loc="upper right", ncols=2, fontsize=7.0, borderaxespad=0.0)
    _hour_ticks(panel, walk, named=True)
    panel.set_xlabel("hour of the walk, with the clock time at its start")
    return ax


def _budget(panel: Axes, left: FloatArray, short: FloatArray, label: str) -> None:
    middle = np.arange(left.size) + 0.5
    panel.bar(middle, left, width=0.72, facecolor=PAPER, edgecolor=INK, lw=0.9, zorder=2)
    panel.bar(
        middle,
        -short,
        width=0.72,
        facecolor=PAPER,
        edgecolor=ACCENT,
        hatch="//////",
        lw=0.9,
        zorder=2,
    )
    panel.axhline(0.0, color=INK, lw=0.8, zorder=3)
    panel.set_ylabel(label)
    low, high = -float(np.nanmax(short, initial=0.0)), float(np.nanmax(left, initial=0.0))
    span = max(high - low, 1e-6)
    panel.set_ylim(low - 0.10 * span if low < 0 else 0.0, high + 0.12 * span)
    panel.locator_params(axis="y", nbins=4)
    if low < 0:
        worst = int(np.nanargmax(short))
        panel.annotate(
            "short",
            (worst + 0.5, -short[worst]),
            xytext=(0, 3),
            textcoords="offset points",
            ha="center",
            va="bottom",
            color=ACCENT,
            fontweight="bold",
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
            zorder=4,
        )


def _hour_ticks(panel: Axes, walk: Walk, *, named: bool) -> None:
    track = Track(walk)
    count = len(walk.hours)
    panel.set_xlim(0.0, count)
    panel.set_xticks(np.arange(count))
    labels = [f"{hour_letter(h)}\n{track.clock(h * SECONDS_PER_HOUR):%H:%M}" for h in range(count)]
    panel.set_xticklabels(labels if named else [""] * count, ha="left" if named else "center")
    for hour, state in enumerate(walk.hours["daylight"]):
        if state in {"twilight", "night"}:
            panel.axvspan(
                hour,
                hour + 1,
                facecolor="none",
                edgecolor=FAINT,
                hatch=HATCH[state],
                lw=0.0,
                zorder=0,
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
        f"no water for {units.long(end - start)}",
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
