"""Drawn walks on paper and as files: odds.json, odds.csv, a few pages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from simulator import files
from simulator.report.exports import json_text, weather_credit, with_credits
from simulator.report.figures.odds import (
    SHORTAGES,
    arrivals_figure,
    arrivals_words,
    band_figure,
    band_words,
    ranged,
    ranking_figure,
    shortages_figure,
    shortages_words,
    since,
)
from simulator.report.paper.answers import AnswerPart, Picture, answer_pdf
from simulator.report.paper.press import Page
from simulator.report.text import files_written, loud, wrapped
from simulator.units import METRES_PER_KM, ML_PER_L, Units, percent

if TYPE_CHECKING:
    import pandas as pd

    from simulator.questions.odds import OddsAnswer

CHANCES: Final = {
    "home": "home at all",
    "home_by_dark": "home before dark",
    "arrives_in_the_dark": "arrives in the dark",
    "home_within_12_h": "home within 12 h",
    "home_within_18_h": "home within 18 h",
    "night_halt": "needs a night halt",
    "verdict_walk": "verdict: walk",
    "verdict_walk with care": "verdict: walk with care",
    "verdict_stay and wait": "verdict: stay and wait",
}
"""Chances in words, in the order shown."""

RANGE: Final = (
    "In brackets: the range of each chance, 19 times in 20, from the number of walks drawn. It "
    "tells nothing of what the models do not know."
)
"""What is said of the chances."""


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
        Lines no wider than the window, safe to print.
    """
    document = answer.document
    lines = [*wrapped(str(document["title"])), "", *wrapped(headline(document)), ""]
    for name, told in document["chances"].items():
        lines += wrapped(f"{CHANCES.get(name, name)}: {ranged(told)}", first="  ", rest="    ")
    lines += ["", "What falls short:"]
    for key, words in SHORTAGES.items():
        told = document["shortages"][key]
        text = f"{words}: {ranged(told)}{since(told)}"
        lines += wrapped(text, first="  ", rest="    ")
    if answer.rankings:
        lines += [""]
        for ranking in answer.rankings:
            lines += wrapped(ranking.words())
    lines += ["", *wrapped(RANGE)]
    seed = f"Seed {document['seed']}. All that was drawn stands in odds.json and odds.pdf."
    lines += ["", *wrapped(seed), *loud(document["assumptions"]), *files_written(written)]
    return "\n".join(lines)


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
    "food_short_from_h": 3,
    "light_short_h": 3,
    "light_short_from_h": 3,
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
        *([AnswerPart(heading="What decides", lines=decides)] if decides else []),
        AnswerPart(
            heading="Every chance with its range", told=RANGE, lines=tuple(_chances(document))
        ),
        AnswerPart(heading="What was drawn, and from what", lines=drawn),
        AnswerPart(heading="What holds for all walks", lines=tuple(document["assumptions"])),
    ]
    return answer_pdf(
        WHAT,
        answer.plan.title,
        parts,
        standing=STANDING,
        notes=[f"Seed {document['seed']}."],
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
            xlabel="hours after leaving; bands: half, nine in ten",
            title=f"Water left ({units.volume_name})",
            amount_unit=units.volume_ml / ML_PER_L,
        ),
        _band(
            answer.profile,
            along="distance_km",
            amount="elapsed_h",
            xlabel=f"distance along the planned way ({units.long_name})",
            title="Hours on the way",
            across_unit=units.long_m / METRES_PER_KM,
        ),
    )
    ranked = tuple(Picture(ranking_figure(one), one.words()) for one in answer.rankings[:2])
    if ranked:
        yield ranked


def _band(table: pd.DataFrame, **told: Any) -> Picture:  # noqa: ANN401 - as `band_figure` takes
    return Picture(band_figure(table, **told), band_words(table, **told))


def _chances(document: dict[str, Any]) -> Iterator[str]:
    """Say every chance with the range that the number of walks leaves."""
    for name, told in document["chances"].items():
        words = CHANCES.get(name, name)
        yield f"{words[:1].upper()}{words[1:]}: {ranged(told)}"
    for key, words in SHORTAGES.items():
        told = document["shortages"][key]
        yield f"{words[:1].upper()}{words[1:]}: {ranged(told)}{since(told)}"


UNITS: Final = {"_min": "min", "_kg": "kg", "_c": "°C", "_pct": "%"}
"""Units that the names of distributions end with."""


PLAIN: Final = {
    "pace_factor": "the plan's pace",
    "fatigue_per_h": "the plan's tiring",
    "rest_min_per_h": "the plan's rests",
}
"""What the plan's keys are called on paper."""


def _drawn(row: dict[str, Any]) -> str:
    """Say what was drawn and how widely, without the name that the plan has for it."""
    unit = next((unit for end, unit in UNITS.items() if str(row["key"]).endswith(end)), "")
    value = row["value"]
    shown = {True: "yes", False: "no"}.get(value) if isinstance(value, bool) else None
    if shown is None:
        shown = f"{value:g} {unit}".strip() if isinstance(value, float | int) else "none"
        shown = ", ".join(map(str, value)) if isinstance(value, list | tuple) and value else shown
    mark = ", as the plan says" if row["changed"] else ""
    says = str(row["says"])
    for word, plain in PLAIN.items():
        says = says.replace(word, plain)
    return f"{says[:1].upper()}{says[1:]}: {shown}{mark}."


def headline(document: dict[str, Any]) -> str:
    """Say the main chances in one sentence."""
    said = {name: percent(told["chance"]) for name, told in document["chances"].items()}
    return (
        f"Of {document['walks']:,} drawn walks {said['home_within_12_h']} are "
        f"home within 12 h, {said['home_within_18_h']} within 18 h and {said['home_by_dark']} "
        f"before dark; water runs short on {percent(document['shortages']['water']['chance'])} "
        "of them."
    )
