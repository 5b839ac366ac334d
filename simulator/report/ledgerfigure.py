"""The hour-by-hour budgets as a figure: what is left stands up, what is short hangs down."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from simulator.report.content import units_of
from simulator.report.style import ACCENT, FAINT, INK, PAPER, axes_size_pt, in_ink, new_axes
from simulator.report.subject import SECONDS_PER_HOUR, Track, Walk, hour_letter

FloatArray = NDArray[np.float64]

WIDTH_IN = 7.09
HEIGHT_IN = 4.6
GAP = 0.36
"""Room between two budgets, as a share of one budget's height."""
CLOCK_PT = 27.0
"""Room one clock time takes on the axis [pt]."""
STRIP_FILLS = {"day": PAPER, "twilight": FAINT, "night": INK}


@in_ink
def ledger(
    walk: Walk, ax: Axes | None = None, *, size_in: tuple[float, float] | None = None
) -> Axes:
    """Draw the hourly budgets of water, food energy, light and warmth, one above the other.

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
        ax = new_axes(size_in or (WIDTH_IN, HEIGHT_IN), (0.62, 0.50, 0.10, 0.24))
    ax.set_axis_off()
    units, hours = units_of(walk), walk.hours

    def column(name: str) -> FloatArray:
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


def _budget(panel: Axes, left: FloatArray, short: FloatArray, above: str) -> None:
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


def _warmth(panel: Axes, unit: str, courses: list[tuple[str, FloatArray]]) -> None:
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
    panel.legend(loc="upper right", ncols=2, fontsize=7.0, borderaxespad=0.0)


def _hour_ticks(panel: Axes, walk: Walk, *, named: bool) -> None:
    track, count = Track(walk), len(walk.hours)
    panel.set_xlim(0.0, count)
    panel.set_xticks(np.arange(count))
    every = int(np.ceil(CLOCK_PT * count / max(axes_size_pt(panel)[0], 1.0)))
    labels = [
        f"{hour_letter(h)}\n{track.clock(h * SECONDS_PER_HOUR):%H:%M}" if h % every == 0 else ""
        for h in range(count)
    ]
    panel.set_xticklabels(labels if named else [""] * count, ha="left" if named else "center")


def _light_strip(panel: Axes, walk: Walk) -> None:
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
