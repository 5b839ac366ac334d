"""Stretches of the way whose height no raster has: found, and marked on map and profile."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.transforms import blended_transform_factory
from numpy.typing import NDArray

from simulator.arrays import Floats
from simulator.report.figures.style import (
    ACCENT,
    FAINT,
    GIVES,
    GREY,
    HATCH,
    INK,
    PALE,
    PAPER,
    axes_size_pt,
    draw_glyphs,
    in_ink,
    new_axes,
)
from simulator.report.subject import DrawnWalk, Track, hour_letter, runs
from simulator.report.tables import bridge_spans, heights_known, longest_dry_m, places_of, units_of
from simulator.sky.sun import DAYLIGHT_STATES, daylight_state
from simulator.units import HOUR_S, Units

WIDTH_IN, STRIP_IN = 7.09, 1.75
LEAST_SPAN_M = 60.0
"""Least height shown, so that flat ground looks flat [m]."""
CLOCK_PT = 34.0
"""Room one clock time takes on the axis [pt]."""
STOP_PT = 22.0
"""Room one planned stop takes on the line [pt]."""
WORD_PT = 42.0
"""A band of light narrower than this gets no word [pt]."""


@in_ink
def profile(
    walk: DrawnWalk, ax: Axes | None = None, *, size_in: tuple[float, float] | None = None
) -> Axes:
    """Draw the height of the way against distance, with daylight and the hours."""
    if ax is None:
        ax = new_axes(size_in or (WIDTH_IN, 2.35), (0.56, 0.46, 0.10, 0.58))
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
            fontweight="bold",
            fontsize=9.0,
        )
    ax.set_xlabel(f"distance from the start ({units.long_name})")
    ax.set_ylabel(f"height ({units.short_name})")
    return ax


def profile_key(walk: DrawnWalk) -> str:
    """Say what the marks of the profile mean, only those that are drawn."""
    told = [
        ("Upright tick: bridge.", bool(bridge_spans(walk))),
        ("Ringed: planned stop.", bool(walk.refills["used"].astype(bool).any())),
    ]
    return " ".join(words for words, drawn in told if drawn)


def _light_bands(ax: Axes, walk: DrawnWalk, x: Floats, y: Floats, base: float) -> None:
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
                fontsize=9.0,
                fontstyle="italic",
                zorder=6,
                bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
            )


def _unlit(ax: Axes, walk: DrawnWalk, x: Floats) -> None:
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


def _stops(ax: Axes, walk: DrawnWalk, track: Track, y: Floats, units: Units) -> None:
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
            fontsize=9.0,
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
    walk: DrawnWalk, ax: Axes | None = None, *, size_in: tuple[float, float] | None = None
) -> Axes:
    """Draw what may be had where: one lane for each need, planned stops ringed."""
    if ax is None:
        ax = new_axes(size_in or (WIDTH_IN, STRIP_IN), (0.74, 0.44, 0.14, 0.12))
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
        color=INK,
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
        fontweight="bold",
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
        zorder=7,
    )
    ax.set_xlabel(f"distance from the start ({units.long_name})")
    return ax


HEIGHT_IN = 4.6
GAP = 0.36
"""Room between two budgets, as a share of one budget's height."""


STRIP_FILLS = {"day": PAPER, "twilight": FAINT, "night": INK}


@in_ink
def ledger(
    walk: DrawnWalk, ax: Axes | None = None, *, size_in: tuple[float, float] | None = None
) -> Axes:
    """Draw the hourly budgets of water, food energy, light and warmth, one above the other."""
    if ax is None:
        ax = new_axes(size_in or (WIDTH_IN, HEIGHT_IN), (0.62, 0.50, 0.10, 0.24))
    ax.set_axis_off()
    units, hours = units_of(walk), walk.hours

    def column(name: str) -> Floats:
        return hours[name].to_numpy(np.float64)

    volume = units.cup_ml
    budgets = (
        (
            f"water ({units.cup_name})",
            "left at the hour's end",
            column("water_left_ml") / volume,
            column("water_short_ml") / volume,
        ),
        ("food (kcal)", "eaten this hour", column("eaten_kcal"), column("energy_short_kcal")),
        ("lamp (h)", "left at the hour's end", column("light_left_h"), column("light_short_h")),
    )
    rows = len(budgets) + 1
    height = 1.0 / (rows + GAP * (rows - 1))
    for row, (label, above, left, short) in enumerate(budgets):
        panel = ax.inset_axes((0.0, 1.0 - height - row * (1.0 + GAP) * height, 1.0, height))
        _budget(panel, left, short, above)
        panel.set_ylabel(label)
        _hour_ticks(panel, walk, named=False)
        if row == 0:
            _light_strip(panel, walk)
    panel = ax.inset_axes((0.0, 0.0, 1.0, height))
    _warmth(
        panel,
        units.temperature_name,
        [
            (word, np.array([units.temperature(c) for c in column(name)]))
            for name, word in (("air_c", "air"), ("felt_c", "felt"))
        ],
    )
    _hour_ticks(panel, walk, named=True)
    panel.set_xlabel("clock time at the start of each hour")
    return ax


def _budget(panel: Axes, left: Floats, short: Floats, above: str) -> None:
    middle = np.arange(left.size) + 0.5
    panel.bar(middle, left, width=0.72, facecolor=PAPER, edgecolor=INK, lw=0.9, zorder=2)
    with mpl.rc_context({"hatch.color": ACCENT}):
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
    low, high = -float(np.nanmax(short, initial=0.0)), float(np.nanmax(left, initial=0.0))
    span = max(high - low, 1e-6)
    panel.set_ylim(low - 0.10 * span if low < 0 else 0.0, high + 0.12 * span)
    panel.locator_params(axis="y", nbins=4)
    panel.annotate(
        f"up: {above}; down: short so far",
        (1.0, 1.0),
        xycoords="axes fraction",
        xytext=(0.0, 6.5),
        textcoords="offset points",
        ha="right",
        va="bottom",
        annotation_clip=False,
    )


def _warmth(panel: Axes, unit: str, courses: list[tuple[str, Floats]]) -> None:
    for (word, degrees), style in zip(courses, ((0, (3, 1.5)), "solid"), strict=True):
        panel.step(
            np.arange(degrees.size + 1),
            np.append(degrees, degrees[-1]),
            where="post",
            color=INK,
            lw=1.2,
            ls=style,
            label=word,
        )
    panel.margins(x=0.0, y=0.3)
    panel.set_ylabel(f"warmth ({unit})")
    panel.legend(loc="upper right", ncols=2, fontsize=9.0, borderaxespad=0.0)


def _hour_ticks(panel: Axes, walk: DrawnWalk, *, named: bool) -> None:
    track, count = Track(walk), len(walk.hours)
    panel.set_xlim(0.0, count)
    panel.set_xticks(np.arange(count))
    every = int(np.ceil(CLOCK_PT * count / max(axes_size_pt(panel)[0], 1.0)))
    labels = [
        f"{hour_letter(h)}\n{track.clock(h * HOUR_S):%H:%M}" if h % every == 0 else ""
        for h in range(count)
    ]
    panel.set_xticklabels(labels if named else [""] * count, ha="left" if named else "center")


def _light_strip(panel: Axes, walk: DrawnWalk) -> None:
    """Day, twilight and night of each hour along the top edge."""
    over = panel.get_xaxis_transform()
    for hour, state in enumerate(walk.hours["daylight"]):
        panel.fill_between(
            [hour, hour + 1],
            1.02,
            1.08,
            transform=over,
            facecolor=STRIP_FILLS[state],
            edgecolor=INK,
            lw=0.6,
            clip_on=False,
        )


Spans = list[tuple[float, float]]

WORD = "height unknown"
"""What the marks are called in the key of the map."""

BESIDE_PT, APART_PT, DOT_PT = 5.6, 4.0, 2.1
"""Dots run this far beside the way, this far apart, this wide [pt]."""

ROOM_SHARE = 0.3
"""Share of the profile's height that words above the line need."""

WORDS_PT = 64.0
"""A stretch of the profile narrower than this gets a question mark in place of words [pt]."""


def spans_where(flags: NDArray[np.bool_], along_m: Floats) -> Spans:
    """Find stretches of marked steps."""
    return [(float(along_m[i]), float(along_m[j])) for i, j, marked in runs(flags) if marked]


def unknown_spans(walk: DrawnWalk, track: Track) -> Spans:
    """Find the stretches of the way whose height is estimated."""
    if not heights_known(walk, track):
        return []
    return spans_where(~walk.segments["height_known"].to_numpy(bool), track.along_m)


def is_known(walk: DrawnWalk, track: Track, along_m: Floats) -> NDArray[np.bool_]:
    """Tell at which places of the way the height is known."""
    known = np.full(along_m.size, heights_known(walk, track))
    for start, end in unknown_spans(walk, track):
        first = -np.inf if start <= 0.0 else start
        last = np.inf if end >= track.length_m else end
        known &= ~((along_m > first) & (along_m < last))
    return known


def dots_beside(spans: Spans, apart_m: float) -> Floats:
    """Choose where along the way the dots of a map stand."""
    places = [
        np.linspace(start, end, 2 * max(round((end - start) / apart_m), 1) + 1)[1::2]
        for start, end in spans
    ]
    return np.concatenate(places) if places else np.zeros(0)


def dot(ax: Axes, points: Floats) -> None:
    """Draw the dots of unknown heights."""
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


def mark_profile(ax: Axes, spans: Spans, x: Floats, y: Floats, units: Units) -> None:
    """Break the line of the profile where it is an estimate, and say so above it."""
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
            fontsize=9.0,
            fontweight="bold",
            zorder=6,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
        )
