"""Closed bridges on a terminal, in 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from simulator.files import terminal_safe
from simulator.report.detourfigures import Detours
from simulator.report.detoursheet import sheet_data
from simulator.report.words import loud

COLUMNS = 80
"""Widest line [characters]."""

MOST_LINES = 12
"""Crossings printed; detours.csv has them all."""


def detours_text(detours: Detours, *, written: Sequence[Path] = ()) -> str:
    """Lay out what each closed crossing costs.

    Parameters
    ----------
    detours : Detours
        What ``find_detours`` gave.
    written : sequence of pathlib.Path
        Files to name at the end.

    Returns
    -------
    str
        Lines of at most 80 columns, without the last line's end; file names are not broken.
    """
    sheet = sheet_data(detours)
    lines = _wrapped(sheet["headline"], "")
    if sheet["rows"]:
        lines += [
            "",
            f"{'at ' + sheet['long_unit']:>8}  {'known':>11}  {'found there':>11}  closed",
        ]
        lines += [_row(row) for row in sheet["rows"][:MOST_LINES]]
        left = len(sheet["rows"]) - MOST_LINES + sheet["rows_left_out"]
        lines += [f"          and {left} more in detours.csv"] if left > 0 else []
        dearest = sheet["rows"][0]
        lines += ["", *_wrapped(f"{dearest['name']} closed: {dearest['turn']}", "")]
    lines += ["", *_wrapped(sheet["cut"], "")]
    for first, second, lost in sheet["pairs"][:3]:
        lines += _wrapped(f"{first} and {second} both closed: {lost} walking", "- ")
    for number, longer, *_, bridges, verdict in sheet["others"]:
        over = f" over {bridges}" if bridges else ""
        lines += _wrapped(f"other way {number}: {longer}{over}; {verdict}", "- ")
    lines += loud(sheet["notes"])
    if written:
        lines += ["", "Written:", *(f"  {terminal_safe(str(path))}" for path in written)]
    return "\n".join(lines)


def _row(row: dict[str, Any]) -> str:
    name = terminal_safe(row["name"])
    line = f"{row['along']:>8}  {row['lost']:>11}  {row['met'] or '-':>11}  {name}"
    return line if len(line) <= COLUMNS else f"{line[: COLUMNS - 1]}\N{HORIZONTAL ELLIPSIS}"


def _wrapped(text: str, bullet: str) -> list[str]:
    return textwrap.wrap(
        terminal_safe(text),
        COLUMNS,
        initial_indent=bullet,
        subsequent_indent=" " * len(bullet),
    )
