"""The year as a chart of dates and hours: verdict, light on arrival, worst shortage, coldest."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.patches import Patch

from simulator.report.style import ACCENT, FAINT, GREY, INK, PALE, PAPER, in_ink
from simulator.units import Units

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

VERDICTS = {"walk": PAPER, "walk with care": FAINT, "stay and wait": ACCENT, "not known": INK}
ARRIVALS = {"in daylight or twilight": PAPER, "in the dark": GREY}
WORST = {
    "none": PAPER,
    "water": "#6f93a8",
    "light": "#d9b44a",
    "heat": "#c4622d",
    "cold": PALE,
    "warmth of a night halt": ACCENT,
    "time": INK,
}
"""What is worst, from pale to dark so that a copier keeps some of it."""

COLD_STEPS_C = (-100.0, -28.0, -10.0, 0.0, 10.0, 20.0, 100.0)
COLD_INKS = (INK, "#4f4a40", GREY, PALE, FAINT, PAPER)
"""Felt temperature in bands; -28 is where bare skin can freeze soon."""


def on_calendar(hours: pd.DataFrame, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lay one value an hour out by local date and clock hour.

    Parameters
    ----------
    hours : pandas.DataFrame
        With ``depart``.
    values : (n,) float64
        One an hour.

    Returns
    -------
    (24, days) float64
        NaN for an hour that a clock change skips; the later of two that it repeats.
    """
    when = [datetime.fromisoformat(text) for text in hours["depart"]]
    first = when[0].date()
    days = (when[-1].date() - first).days + 1
    chart = np.full((24, days), np.nan)
    for moment, value in zip(when, values.tolist(), strict=True):
        chart[moment.hour, (moment.date() - first).days] = value
    return chart


@in_ink
def category_chart(
    ax: Axes, hours: pd.DataFrame, column: str, inks: dict[str, str], *, title: str
) -> None:
    """Draw a column of words as a chart of dates and hours.

    Parameters
    ----------
    ax : Axes
        To draw on.
    hours : pandas.DataFrame
        Rows of year.csv.
    column : str
        Which.
    inks : dict of str to str
        Colour of each word, in order.
    title : str
        Heading.
    """
    codes = {word: float(row) for row, word in enumerate(inks)}
    values = np.array([codes[word] for word in hours[column]])
    colours = ListedColormap(list(inks.values()))
    _chart(ax, hours, on_calendar(hours, values), colours, _between(len(inks)), title)
    present = [word for word in inks if (values == codes[word]).any()]
    _key(ax, [(inks[word], word) for word in present])


@in_ink
def cold_chart(ax: Axes, hours: pd.DataFrame, *, units: Units) -> None:
    """Draw how cold it feels at the coldest of each walk.

    Parameters
    ----------
    ax : Axes
        To draw on.
    hours : pandas.DataFrame
        Rows of year.csv.
    units : Units
        Of the key.
    """
    values = hours["coldest_felt_c"].to_numpy(dtype=float)
    colours = ListedColormap(list(COLD_INKS))
    _chart(
        ax,
        hours,
        on_calendar(hours, values),
        colours,
        COLD_STEPS_C,
        "Coldest felt on the walk",
    )
    say = units.degrees
    names = [
        f"below {say(COLD_STEPS_C[1])}",
        *(f"from {say(low)}" for low in COLD_STEPS_C[1:-1]),
    ]
    _key(ax, list(zip(COLD_INKS, names, strict=True)))


def _chart(
    ax: Axes,
    hours: pd.DataFrame,
    chart: NDArray[np.float64],
    colours: ListedColormap,
    edges: Sequence[float],
    title: str,
) -> None:
    days = chart.shape[1]
    ax.pcolormesh(
        np.arange(days + 1),
        np.arange(25),
        chart,
        cmap=colours,
        norm=BoundaryNorm(list(edges), colours.N),
        rasterized=True,
    )
    first = datetime.fromisoformat(hours["depart"].iloc[0]).date()
    starts = [(date(first.year, month, 1) - first).days for month in range(1, 13)]
    ax.set_xticks(starts, MONTHS, ha="left")
    ax.set_yticks([0, 6, 12, 18, 24])
    ax.set_ylim(24, 0)
    ax.set_xlim(0, days)
    ax.set_ylabel("leaving at [h]")
    ax.set_title(title)
    for spine in ax.spines.values():
        spine.set_visible(True)


def _between(words: int) -> list[float]:
    """Give the borders between whole numbers from 0."""
    return [row - 0.5 for row in range(words + 1)]


def _key(ax: Axes, entries: list[tuple[str, str]]) -> None:
    handles: list[Any] = [
        Patch(facecolor=ink, edgecolor=INK, linewidth=0.4, label=word) for ink, word in entries
    ]
    ax.legend(
        handles=handles,
        loc="upper left",
        bbox_to_anchor=(0.0, -0.12),
        ncols=min(len(handles), 7),
        fontsize=7,
        handlelength=1.2,
        columnspacing=1.0,
        borderaxespad=0.0,
    )


@in_ink
def bags_chart(ax: Axes, bags: list[tuple[str, pd.DataFrame]], hour: int) -> None:
    """Draw one strip a bag: the verdict on each day, leaving at the plan's hour.

    Parameters
    ----------
    ax : Axes
        To draw on.
    bags : list of (str, pandas.DataFrame)
        Names and rows.
    hour : int
        Local clock hour of departure.
    """
    words = list(VERDICTS)
    strips = []
    for _name, hours in bags:
        codes = np.array([float(words.index(word)) for word in hours["verdict"]])
        strips.append(on_calendar(hours, codes)[hour])
    chart = np.vstack(strips)
    days = chart.shape[1]
    ax.pcolormesh(
        np.arange(days + 1),
        np.arange(len(bags) + 1),
        chart,
        cmap=ListedColormap(list(VERDICTS.values())),
        norm=BoundaryNorm(_between(len(words)), len(words)),
        rasterized=True,
    )
    first = datetime.fromisoformat(bags[0][1]["depart"].iloc[0]).date()
    starts = [(date(first.year, month, 1) - first).days for month in range(1, 13)]
    ax.set_xticks(starts, MONTHS, ha="left")
    ax.set_yticks(np.arange(len(bags)) + 0.5, [name or "the plan's bag" for name, _ in bags])
    ax.set_ylim(len(bags), 0)
    ax.tick_params(axis="y", length=0)
    ax.hlines(np.arange(1, len(bags)), 0, days, color=INK, linewidth=0.6)
    for spine in ax.spines.values():
        spine.set_visible(True)
    ax.set_title(f"Leaving at {hour} h: the verdict of every day")
    _key(ax, [(ink, word) for word, ink in VERDICTS.items()])
