"""The year on paper and as files: year.csv, year.json, a page of charts for each bag."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator import files
from simulator.report.exports import json_text, weather_credit, with_credits
from simulator.report.figures.year import (
    ARRIVALS,
    VERDICTS,
    WORST,
    bags_chart,
    bags_words,
    category_chart,
    category_words,
    cold_bands,
    cold_chart,
    cold_words,
)
from simulator.report.paper.answers import AnswerPart, Picture, answer_pdf
from simulator.report.paper.press import Page
from simulator.report.text import files_written, loud, wrapped
from simulator.report.words import drawable
from simulator.units import Units

if TYPE_CHECKING:
    import pandas as pd

    from simulator.questions.year import BagYear, YearAnswer

WHAT: Final = "A year of walks home"
"""What the pages are headed."""

STANDING: Final = "A model, not a promise: warnings of the day go first."
"""The caution that stands on the pages."""

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
    "foot_short_clo": 2,
    "time_short_h": 2,
    "short_from_h": 3,
}
"""Digits after the point in year.csv."""


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
        ``year.json``, ``year.csv``, ``year.pdf``, ``credits.txt``; all or none.

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


def year_pdf(answer: YearAnswer, *, page: Page = "A4") -> bytes:
    """Draw the charts of each bag; what no bag changes stands once, where they are compared."""
    charts = [_charts(answer, bag) for bag in answer.bags]
    first, *others = charts
    alike = {
        title for title in first if others and all(one.get(title) == first[title] for one in others)
    }
    parts = [
        _bag_part(answer, bag, {title: one for title, one in own.items() if title not in alike})
        for bag, own in zip(answer.bags, charts, strict=True)
    ]
    if others:
        both = [one for title, one in first.items() if title in alike]
        parts = [_comparison(answer, both), *(one for one in parts if one.rows or one.lines)]
    note = (
        f"Drawn: {answer.year} in the weather of a typical year "
        f"({answer.document['weather'][0]}), which has ordinary extremes, not the worst."
    )
    return answer_pdf(
        WHAT,
        answer.plan.title,
        parts,
        standing=f"{STANDING} {note}",
        attribution=answer.document["attribution"],
        page=page,
        font=answer.plan.choices.font,
    )


@dataclass(frozen=True, slots=True)
class _Chart:
    """One chart of a bag's year: equal where what it shows is; drawn where it is wanted."""

    told: str
    shown: tuple[object, ...]
    picture: Callable[[], Picture] = field(compare=False)

    @property
    def same(self) -> bool:
        """Whether every hour shows the same."""
        return len(set(self.shown)) == 1


def _charts(answer: YearAnswer, bag: BagYear) -> dict[str, _Chart]:
    """Give the charts of one bag by their titles."""
    hours = bag.hours.assign(
        arrival=np.where(bag.hours["arrives_in_the_dark"], *list(ARRIVALS)[::-1])
    )
    units = Units(answer.plan.units)
    made = {}
    for column, inks, title in (
        ("verdict", VERDICTS, "Verdict"),
        ("arrival", ARRIVALS, "Arrival"),
        ("worst", WORST, "What is worst"),
    ):
        made[title] = _Chart(
            f"{title}: {hours[column].iloc[0]} at every hour of the year.",
            tuple(hours[column]),
            partial(_category, hours, column, inks, title),
        )
    made[COLDEST] = _Chart(
        "",
        tuple(cold_bands(hours["coldest_felt_c"].to_numpy(dtype=float)).tolist()),
        lambda: Picture(cold_chart(hours, units=units), cold_words(hours, units=units)),
    )
    return made


COLDEST = "Coldest felt on the walk"


def _category(hours: pd.DataFrame, column: str, inks: dict[str, str], title: str) -> Picture:
    return Picture(
        category_chart(hours, column, inks, title=title),
        category_words(hours, column, inks, title=title),
    )


def _drawn(charts: Iterable[_Chart]) -> tuple[tuple[tuple[Picture, ...], ...], tuple[str, ...]]:
    """Draw what varies, and say in words what is the same all year."""
    charts = list(charts)
    pictures = tuple((one.picture(),) for one in charts if not (one.same and one.told))
    return pictures, tuple(one.told for one in charts if one.same and one.told)


def _bag_part(answer: YearAnswer, bag: BagYear, charts: Mapping[str, _Chart]) -> AnswerPart:
    """Give the charts of one bag."""
    rows, lines = _drawn(charts.values())
    told = bag.span.words(answer.plan.trip.depart) if len(answer.bags) == 1 else ""
    return AnswerPart(heading=bag.bag, told=told, rows=rows, lines=lines)


def _comparison(answer: YearAnswer, alike: Sequence[_Chart]) -> AnswerPart:
    """Compare the bags at the plan's hour, and show what is the same for all of them."""
    leave = answer.plan.trip.depart
    bags = [(drawable(bag.bag), bag.hours) for bag in answer.bags]
    compared = Picture(bags_chart(bags, leave.hour), bags_words(bags, leave.hour))
    rows, lines = _drawn(alike)
    return AnswerPart(
        heading="Which bag when",
        rows=((compared,), *rows),
        lines=(*(f"{bag.bag}: {bag.span.words(leave)}" for bag in answer.bags), *lines),
    )


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
        Lines no wider than the window, safe to print.
    """
    leave = answer.plan.trip.depart
    lines = [*wrapped(str(answer.document["title"])), ""]
    for bag, told in zip(answer.bags, answer.document["bags"], strict=True):
        if bag.bag:
            lines += wrapped(f"With {bag.bag}:")
        lines += wrapped(bag.span.words(leave))
        hours = ", ".join(f"{name} {count:,}" for name, count in told["verdicts"].items())
        lines += wrapped(f"Of {answer.document['hours']:,} departure hours: {hours}.")
        dark = told["arrives_in_the_dark_h"]
        lines += [*wrapped(f"{dark:,} of them arrive in the dark."), ""]
    lines = [*lines[:-1], *loud(answer.document["assumptions"]), *files_written(written)]
    return "\n".join(lines)
