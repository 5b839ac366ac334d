"""Figures of drawn walks: when home, what runs short and when, water hour by hour, what decides."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.questions.chances import QUANTILES
from simulator.report.style import ACCENT, FAINT, GREY, INK, PALE, in_ink
from simulator.report.words import drawable

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from simulator.questions.odds import OddsAnswer
    from simulator.questions.sensitivity import Ranking

HOUR_BINS = 0.25
"""Width of a bar of the arrival figure [h]."""

MOST_THINGS = 8
"""Things that the ranking shows."""

SHORTAGES = {
    "water": "water: bottle empty, thirst left",
    "energy": "food: all eaten on the way",
    "light": "light: unlit way, no lamp",
    "warmth": "warmth: feels below freezing",
    "warmth_of_a_night_halt": "warmth: too little for a night halt",
}
"""Shortages in the order shown."""


@in_ink
def arrivals_figure(ax: Axes, answer: OddsAnswer) -> None:
    """Draw how many are home after how long.

    Parameters
    ----------
    ax : Axes
        To draw on.
    answer : OddsAnswer
        Drawn walks.
    """
    hours = answer.walks["elapsed_h"].to_numpy(dtype=float)
    known = np.sort(hours[np.isfinite(hours)])
    share = np.arange(1, known.size + 1) / hours.size
    ax.plot(known, share, color=INK, linewidth=1.4)
    if known.size:
        low, middle, high = np.quantile(known, [0.05, 0.5, 0.95])
        ax.axvspan(low, high, color=FAINT, linewidth=0)
        ax.annotate(
            f"half of the walks: {middle:.1f} h",
            (middle, 0.5 * known.size / hours.size),
            xytext=(8, -10),
            textcoords="offset points",
            color=INK,
        )
        ax.plot([middle], [0.5 * known.size / hours.size], "o", color=ACCENT, markersize=4)
        ax.set_xlim(max(0.0, known[0] - 0.5), min(known[-1], max(high * 1.4, 13.0)) + 0.5)
    ax.set_ylim(0.0, 1.02)
    ax.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0 %", "25 %", "50 %", "75 %", "100 %"])
    ax.set_xlabel("hours after setting out; shaded: nine walks in ten")
    ax.set_title("How many are home")


@in_ink
def shortages_figure(ax: Axes, document: dict[str, Any]) -> None:
    """Draw the chance of each shortage, with its 95 % interval and the hour it begins.

    Parameters
    ----------
    ax : Axes
        To draw on.
    document : dict
        Content of odds.json.
    """
    rows = list(SHORTAGES.items())
    for place, (key, words) in enumerate(rows):
        told = document["shortages"][key]
        ax.barh(place, told["chance"], height=0.5, color=PALE, edgecolor=INK, linewidth=0.5)
        ax.plot([told["low"], told["high"]], [place, place], color=INK, linewidth=1.2)
        text = f"{told['chance']:.0%}"
        begins = told.get("from_h")
        if begins and begins["quantiles"]:
            text += f", half of them from {begins['quantiles']['0.5']['value']:.1f} h on"
        ax.text(max(told["high"], told["chance"]) + 0.02, place, text, va="center", color=INK)
        ax.text(0.0, place - 0.36, words, va="bottom", color=GREY)
    ax.set_ylim(len(rows) - 0.5, -0.75)
    ax.set_xlim(0.0, 1.75)
    ax.spines["bottom"].set_bounds(0.0, 1.0)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    ax.set_xticks([0.0, 0.5, 1.0], ["0 %", "50 %", "100 %"])
    ax.set_title("What runs short")


@in_ink
def band_figure(
    ax: Axes,
    table: pd.DataFrame,
    *,
    along: str,
    amount: str,
    xlabel: str,
    title: str,
    across_unit: float = 1.0,
    amount_unit: float = 1.0,
) -> None:
    """Draw an amount as bands of quantiles.

    Parameters
    ----------
    ax : Axes
        To draw on.
    table : pandas.DataFrame
        Ledger or profile of drawn walks.
    along, amount : str
        Column across, and the stem of the columns to draw.
    xlabel, title : str
        Words.
    across_unit, amount_unit : float
        What is printed as one.
    """
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


@in_ink
def ranking_figure(ax: Axes, ranking: Ranking) -> None:
    """Draw what decides an outcome: alone, and with its interplay.

    Parameters
    ----------
    ax : Axes
        To draw on.
    ranking : Ranking
        First-order and total indices.
    """
    shown = min(len(ranking.names), MOST_THINGS)
    ax.set_title(f"What decides: {ranking.outcome}")
    ax.set_xlim(0.0, 1.0)
    ax.set_xticks([0.0, 0.5, 1.0], ["0 %", "50 %", "100 %"])
    ax.set_yticks([])
    if not np.isfinite(ranking.total).any():
        ax.text(0.5, 0.5, "it hardly varies", ha="center", transform=ax.transAxes, color=GREY)
        return
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
    ax.set_xlabel("share of what varies; filled: alone, outlined: with interplay")
