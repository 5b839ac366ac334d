"""What the odds command prints."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.files import terminal_safe
from simulator.report.odds import headline
from simulator.report.oddsfigures import SHORTAGES
from simulator.report.words import loud
from simulator.units import percent

if TYPE_CHECKING:
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
