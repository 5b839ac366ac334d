"""Drawn walks on paper and as files: odds.json, odds.csv, one page of figures."""

from __future__ import annotations

import io
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from simulator import files
from simulator.report.exports import json_text
from simulator.report.oddsfigures import (
    arrivals_figure,
    band_figure,
    ranking_figure,
    shortages_figure,
)
from simulator.report.style import GREY, INK, inked
from simulator.report.words import drawable
from simulator.units import METRES_PER_KM, ML_PER_L, Units

if TYPE_CHECKING:
    from simulator.questions.odds import OddsAnswer

Page = Literal["A4", "Letter"]

PAPER_IN: Final = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
"""Width and height of a page [in]."""

DECIMALS: Final = {
    "pace_factor": 4,
    "mass_kg": 2,
    "rest_factor": 4,
    "drink_share": 4,
    "sweat_factor": 4,
    "tiring_factor": 4,
    "hurt_from_km": 3,
    "air_error_c": 3,
    "humidity_error_pct": 3,
    "wind_factor": 4,
    "elapsed_h": 4,
    "dark_h": 4,
    "water_short_l": 3,
    "water_short_from_h": 3,
    "body_mass_loss_pct": 3,
    "energy_short_kcal": 1,
    "food_out_h": 3,
    "light_short_h": 3,
    "light_out_h": 3,
    "coldest_felt_c": 2,
    "hottest_felt_c": 2,
    "halt_h": 2,
    "halt_short_clo": 2,
}
"""Digits after the point in odds.csv."""

WIDE = 104
"""Characters of a printed line."""


def odds_json(answer: OddsAnswer) -> str:
    """Give the content of odds.json.

    Parameters
    ----------
    answer : OddsAnswer
        What `simulator.questions.odds.odds` gave.

    Returns
    -------
    str
        JSON, with the quantiles hour by hour and along the way.
    """
    bands = {
        "ledger": answer.ledger.to_dict("list"),
        "profile": answer.profile.to_dict("list"),
    }
    return json_text({**answer.document, "bands": bands})


def write_odds(answer: OddsAnswer, folder: Path, *, page: Page = "A4") -> list[Path]:
    """Write every file of drawn walks.

    Parameters
    ----------
    answer : OddsAnswer
        What `simulator.questions.odds.odds` gave.
    folder : pathlib.Path
        Made when it does not exist.
    page : {"A4", "Letter"}
        Paper of the figures.

    Returns
    -------
    list of pathlib.Path
        ``odds.json``, ``odds.csv``, ``odds.pdf``; all or none.

    Raises
    ------
    InputError
        When nothing can be written there.
    """
    files.require_writable_folder(folder)
    table = answer.walks
    rows = table.itertuples(index=False, name=None)
    contents = {
        "odds.json": odds_json(answer).encode(),
        "odds.csv": files.csv_text(list(table.columns), rows, decimals=DECIMALS).encode(),
        "odds.pdf": odds_pdf(answer, page=page),
    }
    with files.staged(folder) as stage:
        for name, content in contents.items():
            files.write_bytes(stage / name, content)
    return [folder / name for name in contents]


def odds_pdf(answer: OddsAnswer, *, page: Page = "A4") -> bytes:
    """Draw the page of figures and the page of what was assumed.

    Parameters
    ----------
    answer : OddsAnswer
        What `simulator.questions.odds.odds` gave.
    page : {"A4", "Letter"}
        Paper.

    Returns
    -------
    bytes
        PDF; the same for the same answer.
    """
    stream = io.BytesIO()
    nothing: dict[str, Any] = {"CreationDate": None, "Producer": None, "Creator": None}
    with inked(), PdfPages(stream, metadata={**nothing, "Title": "Odds of a walk home"}) as pdf:
        pdf.savefig(figures_page(answer, PAPER_IN[page]))
        pdf.savefig(words_page(answer, PAPER_IN[page]))
    return stream.getvalue()


def headline(document: dict[str, Any]) -> str:
    """Say the main chances in one sentence.

    Parameters
    ----------
    document : dict
        Content of odds.json.

    Returns
    -------
    str
        A sentence.
    """
    chances = document["chances"]
    return (
        f"Of {document['walks']:,} drawn walks {chances['home_within_12_h']['chance']:.0%} are "
        f"home within 12 h, {chances['home_within_18_h']['chance']:.0%} within 18 h and "
        f"{chances['home_by_dark']['chance']:.0%} before dark; water runs short on "
        f"{document['shortages']['water']['chance']:.0%} of them."
    )


def figures_page(answer: OddsAnswer, size_in: tuple[float, float]) -> Figure:
    """Lay the figures out on one page.

    Parameters
    ----------
    answer : OddsAnswer
        Drawn walks.
    size_in : (float, float)
        Width and height [in].

    Returns
    -------
    Figure
        Not yet saved.
    """
    units = Units(answer.plan.units)
    with inked():
        figure = Figure(figsize=size_in)
        figure.text(0.08, 0.955, drawable(answer.plan.title, longest=70), size=14, weight="bold")
        told = "\n".join(textwrap.wrap(headline(answer.document), 95))
        figure.text(0.08, 0.945, told, size=8.5, va="top", color=INK)
        grid = figure.add_gridspec(
            3, 2, left=0.15, right=0.95, top=0.875, bottom=0.085, hspace=0.42, wspace=0.36
        )
        arrivals_figure(figure.add_subplot(grid[0, 0]), answer)
        shortages_figure(figure.add_subplot(grid[0, 1]), answer.document)
        band_figure(
            figure.add_subplot(grid[1, 0]),
            answer.ledger,
            along="hour",
            amount="water_left_l",
            xlabel="hours after setting out, of those still on the way",
            title=f"Water left [{units.volume_name}]: half and nine in ten of the walks",
            amount_unit=units.volume_ml / ML_PER_L,
        )
        band_figure(
            figure.add_subplot(grid[1, 1]),
            answer.profile,
            along="distance_km",
            amount="elapsed_h",
            xlabel=f"{units.long_name} along the plan's own way",
            title="Hours gone along the way",
            across_unit=units.long_m / METRES_PER_KM,
        )
        for column, ranking in enumerate(answer.rankings[:2]):
            ranking_figure(figure.add_subplot(grid[2, column]), ranking)
        error = answer.document["chances"]["home_within_12_h"]["standard_error"]
        figure.text(
            0.08,
            0.018,
            f"Seed {answer.document['seed']}; the standard error of a chance is at most "
            f"{0.5 / answer.document['walks'] ** 0.5:.1%} (home within 12 h: {error:.1%}). "
            "A model, not a promise: authorities and warnings of the day go first.",
            color=GREY,
        )
    return figure


def words_page(answer: OddsAnswer, size_in: tuple[float, float]) -> Figure:
    """Print what decides, every distribution with its source, and what is assumed.

    Parameters
    ----------
    answer : OddsAnswer
        Drawn walks.
    size_in : (float, float)
        Width and height [in].

    Returns
    -------
    Figure
        Not yet saved.
    """
    document = answer.document
    lines: list[tuple[str, bool]] = []

    def paragraph(text: str, *, strong: bool = False) -> None:
        wrapped = textwrap.wrap(drawable(text, longest=600), WIDE, subsequent_indent="   ") or [""]
        lines.extend((line, strong) for line in wrapped)

    if answer.rankings:
        paragraph("What decides", strong=True)
        for ranking in answer.rankings:
            paragraph(ranking.words())
        paragraph("")
    paragraph("What was drawn, and from what", strong=True)
    for row in document["distributions"]:
        mark = " (changed in the plan)" if row["changed"] else ""
        paragraph(f"{row['key']} = {row['value']}{mark}: {row['says']}.")
    paragraph("")
    paragraph("What holds for all walks", strong=True)
    for text in document["assumptions"]:
        paragraph(text)
    with inked():
        figure = Figure(figsize=size_in)
        step = 0.0145
        for number, (line, strong) in enumerate(lines):
            figure.text(
                0.08,
                0.955 - step * number,
                line,
                size=8.5 if strong else 7.5,
                weight="bold" if strong else "normal",
            )
    return figure
