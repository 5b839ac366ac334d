"""Figures of drawn walks: when home, what runs short and when, water hour by hour, what decides."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.questions.odds import QUANTILES
from simulator.report.figures.style import FAINT, GREY, INK, PALE, in_ink, new_axes
from simulator.report.words import drawable
from simulator.units import duration, percent

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from simulator.questions.odds import OddsAnswer, Ranking

HOUR_BINS = 0.25
"""Width of a bar of the arrival figure [h]."""

MARGINS_IN = (0.56, 0.46, 0.12, 0.28)
"""Room left, below, right and above of a figure of its own [in]."""

RANKING_MARGINS_IN = (1.25, 0.58, 0.24, 0.44)
"""The same of a ranking: names stand on its left, and two lines above and below [in]."""

SIZE_IN = (3.4, 2.85)
"""Width and height of a figure of its own [in]."""

SOON_H = 0.5
"""What begins sooner is said to begin at the start [h]."""

MOST_THINGS = 8
"""Things that the ranking shows."""

SHORTAGES = {
    "water": "water: the bottle runs dry",
    "energy": "food: more lacks than a body gives",
    "light": "light: dark way, no lamp",
    "warmth": "warmth: clothes too thin on foot",
    "warmth_of_a_night_halt": "warmth: too little at a night halt",
    "time": "time: longer than a long day",
}
"""Shortages in the order shown."""


def ranged(told: dict[str, Any]) -> str:
    """Say a chance with the range that the number of drawn walks leaves."""
    return f"{percent(told['chance'])} ({percent(told['low'])} to {percent(told['high'])})"


def since(told: dict[str, Any]) -> str:
    """Say from which hour half of the walks concerned fall short; empty where it is not known."""
    begins = told.get("from_h")
    if not begins or not begins["quantiles"]:
        return ""
    hour = begins["quantiles"]["0.5"]["value"]
    return ", mostly from the start" if hour < SOON_H else f", mostly from hour {hour:.0f} on"


@in_ink
def arrivals_figure(
    answer: OddsAnswer, ax: Axes | None = None, *, size_in: tuple[float, float] = SIZE_IN
) -> Axes:
    """Draw how many are home after how long."""
    ax = ax or new_axes(size_in, MARGINS_IN)
    hours = answer.walks["elapsed_h"].to_numpy(dtype=float)
    known = np.sort(hours[np.isfinite(hours)])
    share = np.arange(1, known.size + 1) / hours.size
    ax.plot(known, share, color=INK, linewidth=1.4)
    if known.size:
        low, middle, high = np.quantile(known, [0.05, 0.5, 0.95])
        ax.axvspan(low, high, color=FAINT, linewidth=0)
        ax.annotate(
            f"half of the walks: {duration(float(middle))}",
            (middle, 0.5 * known.size / hours.size),
            xytext=(8, -10),
            textcoords="offset points",
            color=INK,
        )
        ax.plot([middle], [0.5 * known.size / hours.size], "o", color=INK, markersize=5)
        ax.set_xlim(max(0.0, known[0] - 0.5), min(known[-1], max(high * 1.4, 13.0)) + 0.5)
    ax.set_ylim(0.0, 1.02)
    ax.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0 %", "25 %", "50 %", "75 %", "100 %"])
    ax.set_xlabel("hours after leaving; shaded: nine in ten")
    ax.set_title("How many are home")
    return ax


WIDEST_BAR = 2.25
"""End of the axis of shares: behind the longest bar its words must have room."""


@in_ink
def shortages_figure(
    document: dict[str, Any], ax: Axes | None = None, *, size_in: tuple[float, float] = SIZE_IN
) -> Axes:
    """Draw the chance of each shortage, with its 95 % interval and the hour it begins."""
    ax = ax or new_axes(size_in, (0.18, *MARGINS_IN[1:]))
    rows = list(SHORTAGES.items())
    for place, (key, words) in enumerate(rows):
        told = document["shortages"][key]
        ax.barh(place, told["chance"], height=0.3, color=PALE, edgecolor=INK, linewidth=0.5)
        ax.plot([told["low"], told["high"]], [place, place], color=INK, linewidth=1.2)
        text = f"{percent(told['chance'])}{since(told)}"
        ax.text(max(told["high"], told["chance"]) + 0.02, place, text, va="center", color=INK)
        ax.text(0.0, place - 0.2, words, va="bottom", color=GREY)
    ax.set_ylim(len(rows) - 0.6, -0.7)
    ax.set_xlim(0.0, WIDEST_BAR)
    ax.spines["bottom"].set_bounds(0.0, 1.0)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    ax.set_xticks([0.0, 0.5, 1.0], ["0 %", "50 %", "100 %"])
    ax.set_title("What runs short")
    return ax


@in_ink
def band_figure(
    table: pd.DataFrame,
    ax: Axes | None = None,
    *,
    size_in: tuple[float, float] = SIZE_IN,
    along: str,
    amount: str,
    xlabel: str,
    title: str,
    across_unit: float = 1.0,
    amount_unit: float = 1.0,
) -> Axes:
    """Draw an amount as bands of quantiles."""
    ax = ax or new_axes(size_in, MARGINS_IN)
    across = table[along].to_numpy(dtype=float) / across_unit
    columns = {
        share: table[f"{amount}_{share:g}"].to_numpy(dtype=float) / amount_unit
        for share in QUANTILES
    }
    outer, inner, middle = (columns[0.05], columns[0.95]), (columns[0.25], columns[0.75]), 0.5
    ax.fill_between(across, *outer, color=FAINT, linewidth=0)
    ax.fill_between(across, *inner, color=PALE, linewidth=0)
    ax.plot(across, columns[middle], color=INK, linewidth=1.4)
    ax.set_xlabel(xlabel)
    ax.set_ylim(bottom=min(0.0, float(np.nanmin(columns[0.05], initial=0.0))))
    ax.set_title(title)
    return ax


@in_ink
def ranking_figure(
    ranking: Ranking, ax: Axes | None = None, *, size_in: tuple[float, float] = SIZE_IN
) -> Axes:
    """Draw what decides an outcome: alone, and with its interplay."""
    ax = ax or new_axes(size_in, RANKING_MARGINS_IN)
    shown = min(len(ranking.names), MOST_THINGS)
    ax.set_title(f"What decides\n{ranking.outcome}")
    ax.set_xlim(0.0, 1.0)
    ax.set_xticks([0.0, 0.5, 1.0], ["0 %", "50 %", "100 %"])
    ax.set_yticks([])
    if not np.isfinite(ranking.total).any():
        ax.text(0.5, 0.5, "it hardly varies", ha="center", transform=ax.transAxes, color=GREY)
        return ax
    for place in range(shown):
        total, first = float(ranking.total[place]), float(ranking.first[place])
        ax.barh(place, max(total, 0.0), 0.62, color="none", edgecolor=INK, linewidth=0.6)
        ax.barh(place, min(max(first, 0.0), max(total, 0.0)), 0.62, color=PALE, linewidth=0)
        error = float(ranking.total_error[place])
        ax.plot([max(total - error, 0.0), min(total + error, 1.0)], [place, place], color=INK, lw=1)
    ax.set_ylim(shown - 0.4, -0.6)
    names = [drawable(name, longest=22) for name in ranking.names[:shown]]
    ax.set_yticks(range(shown), names)
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel("share of what varies; filled: alone,\noutlined: with interplay")
    return ax


def arrivals_words(answer: OddsAnswer) -> str:
    """Say what the arrival figure tells."""
    quantiles = answer.document["time_home_h"]["quantiles"]
    opening = "Share of the walks that are home, by hours after setting out."
    if not quantiles:
        return f"{opening} Too few walks to say more."
    low, middle, high = (f"{quantiles[share]['value']:.1f} h" for share in ("0.05", "0.5", "0.95"))
    return f"{opening} Half of those that arrive take {middle}, nine in ten {low} to {high}."


def shortages_words(document: dict[str, Any]) -> str:
    """Say what the figure of shortages tells."""
    told = document["shortages"]
    shares = (f"{words}, {percent(told[key]['chance'])}" for key, words in SHORTAGES.items())
    return f"Chance of each shortage, with its range. {'; '.join(shares)}."


def band_words(
    table: pd.DataFrame,
    *,
    along: str,
    amount: str,
    xlabel: str,
    title: str,
    across_unit: float = 1.0,
    amount_unit: float = 1.0,
) -> str:
    """Say what a figure of bands tells: its beginning, middle and end."""
    known = table[table[f"{amount}_0.5"].notna()]
    if known.empty:
        return f"{title}. Too few walks to say more."
    points = []
    for row in sorted({0, len(known) // 2, len(known) - 1}):
        low, middle, high = (
            f"{float(known[f'{amount}_{share:g}'].iloc[row]) / amount_unit:.1f}"
            for share in (0.05, 0.5, 0.95)
        )
        at = f"{float(known[along].iloc[row]) / across_unit:.1f}"
        points.append(f"at {at} half of them {middle}, nine in ten {low} to {high}")
    return f"{title}, by {xlabel}: {'; '.join(points)}."
