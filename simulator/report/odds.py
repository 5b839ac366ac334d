"""Drawn walks on paper and as files: odds.json, odds.csv, a few pages."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from simulator import files
from simulator.files import terminal_safe
from simulator.report.exports import json_text, weather_credit, with_credits
from simulator.report.figures.odds import (
    SHORTAGES,
    arrivals_figure,
    arrivals_words,
    band_figure,
    band_words,
    ranking_figure,
    shortages_figure,
    shortages_words,
)
from simulator.report.paper.answers import AnswerPart, Picture, answer_pdf
from simulator.report.paper.press import Page
from simulator.report.words import loud
from simulator.units import METRES_PER_KM, ML_PER_L, Units, percent

if TYPE_CHECKING:
    import pandas as pd

    from simulator.questions.odds import OddsAnswer

COLUMNS = 80


def odds_text(answer: OddsAnswer, *, written: Sequence[Path]) -> str:
    """Sum the drawn walks up for a terminal.

    Parameters
    ----------
    answer : OddsAnswer
        What `simulator.questions.odds.odds` gave.
    written : sequence of pathlib.Path
        Files written.

    Returns
    -------
    str
        Lines of at most 80 characters, safe to print.
    """
    document = answer.document
    lines = [str(document["title"]), "", *_wrapped(headline(document)), ""]
    for name, told in document["chances"].items():
        lines.append(f"  {name.replace('_', ' '):28s} {_chance(told)}")
    lines += ["", "What runs short, and mostly from which hour:"]
    for key, words in SHORTAGES.items():
        told = document["shortages"][key]
        begins = told.get("from_h")
        when = ""
        if begins and begins["quantiles"]:
            when = f"  hour {begins['quantiles']['0.5']['value']:.1f}"
        lines.append(f"  {words:36s} {_chance(told)}{when}")
    if answer.rankings:
        lines += [""]
        for ranking in answer.rankings:
            lines += _wrapped(ranking.words())
    lines += ["", "After each chance the standard error of the drawing, in per cent."]
    lines += ["", f"Seed {document['seed']}. Every distribution stands in odds.json and odds.pdf."]
    lines += loud(document["assumptions"])
    lines += ["", "Written:", *(f"  {path}" for path in written)]
    return "\n".join(terminal_safe(line) for line in lines)


def _chance(told: dict[str, Any]) -> str:
    return f"{percent(told['chance']):>9} ± {100.0 * told['standard_error']:.1f}"


def _wrapped(text: str) -> list[str]:
    """Wrap a sentence; a number keeps its sign of per cent."""
    kept = textwrap.wrap(text.replace(" %", "\N{NO-BREAK SPACE}%"), COLUMNS)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in kept]


WHAT: Final = "Odds of the walk home"
"""What the pages are headed."""

STANDING: Final = "A model, not a promise: authorities and warnings of the day go first."
"""The caution that stands on every page of odds."""

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
        ``odds.json``, ``odds.csv``, ``odds.pdf``, ``credits.txt``; all or none.

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
    contents = with_credits(
        contents,
        folder,
        attribution=answer.document["attribution"],
        weather=weather_credit(answer.plan),
    )
    with files.staged(folder) as stage:
        for name, content in contents.items():
            files.write_bytes(stage / name, content)
    return [folder / name for name in contents]


def odds_pdf(answer: OddsAnswer, *, page: Page = "A4") -> bytes:
    """Draw the page of figures and the page of what was assumed."""
    document = answer.document
    drawn = tuple(_drawn(row) for row in document["distributions"])
    decides = tuple(ranking.words() for ranking in answer.rankings)
    parts = [
        AnswerPart(told=headline(document), rows=tuple(_rows(answer))),
        *([AnswerPart(heading="What decides", lines=decides, new_page=True)] if decides else []),
        AnswerPart(heading="What was drawn, and from what", lines=drawn, new_page=not decides),
        AnswerPart(heading="What holds for all walks", lines=tuple(document["assumptions"])),
    ]
    error = document["chances"]["home_within_12_h"]["standard_error"]
    note = (
        f"Seed {document['seed']}; the standard error of a chance is at most "
        f"{50.0 / document['walks'] ** 0.5:.1f} % (home within 12 h: {100.0 * error:.1f} %)."
    )
    return answer_pdf(
        WHAT,
        answer.plan.title,
        parts,
        standing=STANDING,
        notes=[note],
        attribution=document["attribution"],
        page=page,
        font=answer.plan.choices.font,
    )


def _rows(answer: OddsAnswer) -> Iterator[tuple[Picture, ...]]:
    """Draw the figures, two and two."""
    units, document = Units(answer.plan.units), answer.document
    yield (
        Picture(arrivals_figure(answer), arrivals_words(answer)),
        Picture(shortages_figure(document), shortages_words(document)),
    )
    yield (
        _band(
            answer.ledger,
            along="hour",
            amount="water_left_l",
            xlabel="hours after setting out, of those still on the way",
            title=f"Water left [{units.volume_name}]: half, and nine in ten",
            amount_unit=units.volume_ml / ML_PER_L,
        ),
        _band(
            answer.profile,
            along="distance_km",
            amount="elapsed_h",
            xlabel=f"{units.long_name} along the plan's own way",
            title="Hours gone along the way",
            across_unit=units.long_m / METRES_PER_KM,
        ),
    )
    ranked = tuple(Picture(ranking_figure(one), one.words()) for one in answer.rankings[:2])
    if ranked:
        yield ranked


def _band(table: pd.DataFrame, **told: Any) -> Picture:  # noqa: ANN401 - as `band_figure` takes
    return Picture(band_figure(table, **told), band_words(table, **told))


def _drawn(row: dict[str, Any]) -> str:
    mark = " (changed in the plan)" if row["changed"] else ""
    return f"{row['key']} = {row['value']}{mark}: {row['says']}."


def headline(document: dict[str, Any]) -> str:
    """Say the main chances in one sentence."""
    said = {name: percent(told["chance"]) for name, told in document["chances"].items()}
    return (
        f"Of {document['walks']:,} drawn walks {said['home_within_12_h']} are "
        f"home within 12 h, {said['home_within_18_h']} within 18 h and {said['home_by_dark']} "
        f"before dark; water runs short on {percent(document['shortages']['water']['chance'])} "
        "of them."
    )
