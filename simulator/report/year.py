"""The year on paper and as files: year.csv, year.json, a page of charts for each bag."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from simulator import files
from simulator.report.exports import json_text
from simulator.report.style import GREY, inked
from simulator.report.words import drawable, loud
from simulator.report.yearfigures import (
    ARRIVALS,
    VERDICTS,
    WORST,
    bags_chart,
    category_chart,
    cold_chart,
)
from simulator.units import Units

if TYPE_CHECKING:
    from simulator.questions.year import BagYear, YearAnswer

Page = Literal["A4", "Letter"]

PAPER_IN: Final = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
"""Width and height of a page [in]."""

DECIMALS: Final = {
    "dark_h": 3,
    "water_short_l": 3,
    "coldest_felt_c": 2,
    "hottest_felt_c": 2,
    "elapsed_h": 3,
    "unlit_h": 3,
    "light_short_h": 3,
    "body_mass_loss_pct": 3,
    "energy_short_kcal": 1,
    "halt_h": 2,
    "halt_short_clo": 2,
}
"""Digits after the point in year.csv."""

DPI = 150.0
"""Of the charts inside the page [dots per inch]."""


def year_json(answer: YearAnswer) -> str:
    """Give the content of year.json.

    Parameters
    ----------
    answer : YearAnswer
        What `simulator.questions.year.year` gave.

    Returns
    -------
    str
        JSON.
    """
    return json_text(answer.document)


def write_year(answer: YearAnswer, folder: Path, *, page: Page = "A4") -> list[Path]:
    """Write every file of a year.

    Parameters
    ----------
    answer : YearAnswer
        What `simulator.questions.year.year` gave.
    folder : pathlib.Path
        Made when it does not exist.
    page : {"A4", "Letter"}
        Paper of the charts.

    Returns
    -------
    list of pathlib.Path
        ``year.json``, ``year.csv``, ``year.pdf``; all or none.

    Raises
    ------
    InputError
        When nothing can be written there.
    """
    files.require_writable_folder(folder)
    table = answer.table
    rows = table.itertuples(index=False, name=None)
    contents = {
        "year.json": year_json(answer).encode(),
        "year.csv": files.csv_text(list(table.columns), rows, decimals=DECIMALS).encode(),
        "year.pdf": year_pdf(answer, page=page),
    }
    with files.staged(folder) as stage:
        for name, content in contents.items():
            files.write_bytes(stage / name, content)
    return [folder / name for name in contents]


def year_pdf(answer: YearAnswer, *, page: Page = "A4") -> bytes:
    """Draw a page for each bag, and one that compares them.

    Parameters
    ----------
    answer : YearAnswer
        What `simulator.questions.year.year` gave.
    page : {"A4", "Letter"}
        Paper.

    Returns
    -------
    bytes
        PDF; the same for the same answer.
    """
    stream = io.BytesIO()
    nothing: dict[str, Any] = {"CreationDate": None, "Producer": None, "Creator": None}
    with inked(), PdfPages(stream, metadata={**nothing, "Title": "A year of walks home"}) as pdf:
        if len(answer.bags) > 1:
            pdf.savefig(comparison_page(answer, PAPER_IN[page]), dpi=DPI)
        for bag in answer.bags:
            pdf.savefig(bag_page(answer, bag, PAPER_IN[page]), dpi=DPI)
    return stream.getvalue()


def bag_page(answer: YearAnswer, bag: BagYear, size_in: tuple[float, float]) -> Figure:
    """Lay the charts of one bag out on a page.

    Parameters
    ----------
    answer : YearAnswer
        The year.
    bag : BagYear
        One of its bags.
    size_in : (float, float)
        Width and height [in].

    Returns
    -------
    Figure
        Not yet saved.
    """
    hours = bag.hours.assign(
        arrival=np.where(bag.hours["arrives_in_the_dark"], *list(ARRIVALS)[::-1])
    )
    with inked():
        figure = Figure(figsize=size_in)
        title = answer.plan.title + (f": {bag.bag}" if bag.bag else "")
        figure.text(0.08, 0.955, drawable(title, longest=70), size=14, weight="bold")
        told = bag.span.words(answer.plan.trip.depart)
        figure.text(0.08, 0.945, "\n".join(textwrap.wrap(told, 95)), size=8.5, va="top")
        grid = figure.add_gridspec(4, 1, left=0.1, right=0.95, top=0.885, bottom=0.085, hspace=0.52)
        rows = [figure.add_subplot(grid[row, 0]) for row in range(4)]
        category_chart(rows[0], hours, "verdict", VERDICTS, title="Verdict")
        category_chart(rows[1], hours, "arrival", ARRIVALS, title="Arrival")
        category_chart(rows[2], hours, "worst", WORST, title="What is worst")
        cold_chart(rows[3], hours, units=Units(answer.plan.units))
        figure.text(
            0.08,
            0.018,
            f"{answer.year}, weather of a typical year ({drawable(answer.document['weather'][0])}),"
            " which has no extremes. A model, not a promise: warnings of the day go first.",
            color=GREY,
        )
    return figure


def comparison_page(answer: YearAnswer, size_in: tuple[float, float]) -> Figure:
    """Compare the bags at the plan's hour.

    Parameters
    ----------
    answer : YearAnswer
        The year, with several bags.
    size_in : (float, float)
        Width and height [in].

    Returns
    -------
    Figure
        Not yet saved.
    """
    leave = answer.plan.trip.depart
    with inked():
        figure = Figure(figsize=size_in)
        title = f"{answer.plan.title}: which bag when"
        figure.text(0.08, 0.955, drawable(title, longest=70), size=14, weight="bold")
        height = min(0.09 * len(answer.bags), 0.5)
        ax = figure.add_axes((0.2, 0.885 - height, 0.75, height))
        bags_chart(ax, [(drawable(bag.bag), bag.hours) for bag in answer.bags], leave.hour)
        lines = [
            line
            for bag in answer.bags
            for line in textwrap.wrap(f"{drawable(bag.bag)}: {bag.span.words(leave)}", 95)
        ]
        for number, line in enumerate(lines):
            figure.text(0.08, 0.82 - height - 0.018 * number, line, size=8.5)
    return figure


def year_text(answer: YearAnswer, *, written: Sequence[Path]) -> str:
    """Sum the year up for a terminal.

    Parameters
    ----------
    answer : YearAnswer
        What `simulator.questions.year.year` gave.
    written : sequence of pathlib.Path
        Files written.

    Returns
    -------
    str
        Lines of at most 80 characters, safe to print.
    """
    leave = answer.plan.trip.depart
    lines = [str(answer.document["title"]), ""]
    for bag, told in zip(answer.bags, answer.document["bags"], strict=True):
        if bag.bag:
            lines.append(f"With {bag.bag}:")
        lines += textwrap.wrap(bag.span.words(leave), 80)
        hours = ", ".join(f"{name} {count:,}" for name, count in told["verdicts"].items())
        lines += textwrap.wrap(f"Of {answer.document['hours']:,} departure hours: {hours}.", 80)
        lines += [f"Arriving in the dark: {told['arrives_in_the_dark_h']:,} of them.", ""]
    lines = [*lines[:-1], *loud(answer.document["assumptions"]), ""]
    lines += ["Written:", *(f"  {path}" for path in written)]
    return "\n".join(files.terminal_safe(line) for line in lines)
