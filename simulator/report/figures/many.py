"""Figures of a table of people: who is home when, what bridges and refills carry."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
from matplotlib import rcParams
from matplotlib.ticker import MaxNLocator

from simulator.report.figures.style import GREY, INK, PALE, in_ink, new_axes
from simulator.report.words import clean, drawable

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

MOST_ROWS = 12
"""Bridges and refills shown; passed.csv has them all."""

WIDTH_IN = 7.09
"""Width of a figure of its own [in]."""

HOME_IN = 2.0
"""Height of the figure of arrivals [in]."""

ROW_IN = 0.36
"""Height of the row of one bridge or refill [in]."""

MARGINS_IN = (0.5, 0.42, 0.12, 0.26)
"""Room left, below, right and above of a figure of its own [in]."""

FULL = 0.45
"""Share of the row that the highest bar takes; its number stands above it."""

NAMES_IN = 2.0
"""Room left of it for names [in]."""

NAME_LETTERS = 30
"""Characters of a name that fit there."""

MOST_HOURS = 10
"""Hours of the clock that stand below one figure."""

LETTER_EM = 0.8
"""Width that a figure takes, with its gap, over the size of the letters."""

TOLD = 3
"""Busiest bridges or refills that are named in words."""


@in_ink
def home_figure(
    rows: pd.DataFrame,
    ax: Axes | None = None,
    *,
    size_in: tuple[float, float] = (WIDTH_IN, HOME_IN),
) -> Axes:
    """Draw how many are home after how long."""
    ax = ax or new_axes(size_in, MARGINS_IN)
    elapsed = _elapsed_h(rows)
    ax.step(elapsed, np.arange(1, elapsed.size + 1), color=INK, linewidth=1.4, where="post")
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_ylim(0.0, len(rows) * 1.02)
    ax.axhline(len(rows), color=GREY, linewidth=0.6, linestyle=":")
    ax.set_xlabel("hours after setting out; dotted: everyone in the table")
    ax.set_ylabel("people")
    ax.set_title("How many are home")
    return ax


def home_words(rows: pd.DataFrame) -> str:
    """Say what the figure of arrivals tells."""
    elapsed = _elapsed_h(rows)
    told = f"People home by hours after setting out: {elapsed.size:,} of {len(rows):,} in all."
    if elapsed.size == 0:
        return told
    middle = float(np.median(elapsed))
    return f"{told} Half of these after {middle:.1f} h, the last after {elapsed[-1]:.1f} h."


def _elapsed_h(rows: pd.DataFrame) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.sort(rows.loc[rows["status"] == "home", "elapsed_h"].to_numpy(dtype=np.float64))


@in_ink
def passed_figure(
    passed: pd.DataFrame,
    kind: str,
    ax: Axes | None = None,
    *,
    title: str,
    size_in: tuple[float, float] | None = None,
) -> Axes:
    """Draw how many pass what in which hour."""
    grid = _grid(passed, kind)
    _left, below, right, above = MARGINS_IN
    high_in = ROW_IN * max(len(grid), 1) + below + above
    ax = ax or new_axes(size_in or (WIDTH_IN, high_in), (NAMES_IN, below, right, above))
    ax.set_title(title)
    if grid.empty:
        ax.set_axis_off()
        ax.text(0.0, 0.4, "none", transform=ax.transAxes, color=GREY)
        return ax
    hours = [text[11:16] for text in grid.columns]
    most = float(grid.to_numpy().max())
    column_pt = 72.0 * ((size_in or (WIDTH_IN,))[0] - NAMES_IN - right) / len(hours)
    letters_pt = min(rcParams["font.size"], column_pt / (LETTER_EM * len(f"{most:.0f}")))
    for row, name in enumerate(grid.index):
        for column, people in enumerate(grid.loc[name].to_numpy(dtype=float).tolist()):
            if people > 0.0:
                height, base = FULL * people / most, -row - 0.9
                ax.bar(column, height, 0.9, bottom=base, color=PALE, edgecolor=INK, lw=0.4)
                told, above_it = f"{people:.0f}", base + height + 0.04
                ax.text(column, above_it, told, ha="center", va="bottom", fontsize=letters_pt)
    names = [
        "\n".join(drawable(line, longest=NAME_LETTERS) for line in str(name).split("\n"))
        for name in grid.index
    ]
    ax.set_yticks(-np.arange(len(names)) - 0.5, names)
    ax.tick_params(axis="y", length=0)
    ax.set_ylim(-len(names) - 0.1, 0.05)
    every = -(-len(hours) // MOST_HOURS)
    ax.set_xticks(range(0, len(hours), every), hours[::every])
    ax.set_xlim(-0.7, len(hours) - 0.3)
    ax.set_xlabel("from this hour of the clock on")
    return ax


def passed_words(passed: pd.DataFrame, kind: str, *, title: str) -> str:
    """Say what the figure of bridges or refills tells: the busiest, and their fullest hour."""
    grid = _grid(passed, kind)
    if grid.empty:
        return f"{title}: none."
    told = [
        f"{clean(name, longest=2 * NAME_LETTERS)} {row.sum():.0f} in all, most from "
        f"{str(row.idxmax())[11:16]} on, {row.max():.0f}"
        for name, row in grid.head(TOLD).iterrows()
    ]
    return f"{title}: {'; '.join(told)}."


def _grid(passed: pd.DataFrame, kind: str) -> pd.DataFrame:
    """Lay people out by name and hour, the busiest first, with the hours of nobody between."""
    table = passed[passed["kind"] == kind]
    # A place without a name is known by its number in the files; a person finds it by where it is.
    names = [
        f"{name.removesuffix(number).strip()}\n{lat:.4f}, {lon:.4f}"
        if number and name.endswith(f" {number}")
        else name
        for name, number, lat, lon in zip(
            table["name"], table["ways"], table["lat"], table["lon"], strict=True
        )
    ]
    table = table.assign(name=names)
    grid = table.pivot_table(index="name", columns="hour", values="people", aggfunc="sum")
    grid = grid.fillna(0.0)
    busiest = grid.sum(axis=1).sort_values(ascending=False, kind="stable").index[:MOST_ROWS]
    return grid.loc[busiest] if grid.empty else _every_hour(grid.loc[busiest])


def _every_hour(grid: pd.DataFrame) -> pd.DataFrame:
    """Put the hours in which nobody passes anything between the others."""
    known = {datetime.fromisoformat(text): text for text in grid.columns}
    first, last = min(known), max(known)
    count = round((last - first) / timedelta(hours=1)) + 1
    hours = [first + timedelta(hours=hour) for hour in range(count)]
    columns = [known.get(when, when.isoformat()) for when in hours]
    return grid.reindex(columns=columns, fill_value=0.0)
