"""What a terminal shows: the words of the paper, wrapped at the window's width."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Sequence
from pathlib import Path

from simulator.files import terminal_safe
from simulator.report.paper.sheet import Sheet

NARROWEST, WIDEST = 50, 80
"""Lines are wrapped within these [characters]; longer ones are hard to follow."""

LABEL = 15
"""Room of a label [characters]."""

MOST_REASONS, MOST_CAUTIONS = 6, 3
"""Reasons and cautions printed; what is left is counted."""


def window() -> int:
    """Width to wrap at: the window's, within bounds; the widest where there is no window."""
    return min(max(shutil.get_terminal_size((WIDEST, 24)).columns, NARROWEST), WIDEST)


def wrapped(text: str, *, first: str = "", rest: str = "") -> list[str]:
    """Wrap one text; a number keeps its sign of per cent."""
    kept = terminal_safe(text).replace(" %", "\N{NO-BREAK SPACE}%")
    lines = textwrap.wrap(kept, window(), initial_indent=first, subsequent_indent=rest)
    return [line.replace("\N{NO-BREAK SPACE}%", " %") for line in lines]


def row(label: str, text: str) -> list[str]:
    """Lay out a labelled line, wrapped under its text; a long label has a line of its own."""
    safe = terminal_safe(label)
    if len(safe) + 3 > LABEL:
        return [f"  {safe}", *wrapped(text, first=" " * LABEL, rest=" " * LABEL)]
    return wrapped(text, first=f"  {safe}".ljust(LABEL), rest=" " * LABEL)


def item(text: str) -> list[str]:
    """Lay out one entry of a list, wrapped."""
    return wrapped(text, first="  - ", rest="    ")


def counted(texts: Sequence[str], most: int, where: str) -> list[str]:
    """Lay out a list up to a length, and count what is left."""
    lines = [line for text in texts[:most] for line in item(text)]
    left = len(texts) - most
    return lines + (item(f"{left} more {where}") if left > 0 else [])


def loud(texts: Iterable[str]) -> list[str]:
    """Lay out the sentences that begin in capitals: what nobody may miss."""
    lines: list[str] = []
    for text in texts:
        first = text.partition(" ")[0]
        if len(first) > 1 and first.isupper():
            lines += ["", *wrapped(text)]
    return lines


def files_written(written: Sequence[Path]) -> list[str]:
    """Name the files; their names are not broken."""
    if not written:
        return []
    return ["", "Written:", *(f"  {terminal_safe(str(path))}" for path in written)]


def _next_turns(sheet: Sheet, most: int, heading: str) -> list[str]:
    """Lay out the first turns of the way under a heading; nothing when none are asked for."""
    if not most:
        return []
    lines = ["", heading]
    for turn in sheet.turns[:most]:
        where = f"{turn.along} {sheet.long_unit}, {turn.when}"
        lines += wrapped(f"{where}: {turn.text} ({turn.then})", first="  ", rest="    ")
    left = len(sheet.turns) - most
    return lines + (item(f"{left} more in the timeline") if left > 0 else [])


def walk_text(
    sheet: Sheet,
    *,
    written: Sequence[Path] = (),
    notes: Sequence[str] = (),
    turns: int = 0,
    bold: bool = False,
) -> str:
    """Lay out the verdict, what to do, and the key figures of a walk.

    Parameters
    ----------
    sheet : Sheet
        The walk in words, as on paper.
    written : sequence of pathlib.Path
        Files to name at the end.
    notes : sequence of str
        What to know of these files.
    turns : int
        How many of the next turns to tell.
    bold : bool
        Whether the terminal shows bold letters.

    Returns
    -------
    str
        Lines no wider than the window, without the last line's end.
    """

    def heavy(text: str) -> str:
        return f"\x1b[1m{text}\x1b[0m" if bold else text

    lines = [heavy(terminal_safe(sheet.headline.rstrip(".")).upper()), *wrapped(sheet.sentence)]
    lines += loud(sheet.assumptions)
    if sheet.home_by:
        lines += wrapped(sheet.home_by)
    for action in sheet.actions:
        lines += ["", heavy(terminal_safe(action.heading))]
        lines += wrapped(action.text, first="  ", rest="  ")
    lines += _next_turns(sheet, turns, heavy("Next on the way"))
    lines += ["", "Why:", *counted(sheet.reasons, MOST_REASONS, "in the timeline"), ""]
    for figure in sheet.figures:
        mark = "! " if figure.short else ""
        lines += row(figure.label, f"{mark}{'; '.join(filter(None, (figure.value, figure.note)))}")
    if sheet.sun:
        lines += row("Sun", sheet.sun)
    if sheet.bridge_heading:
        lines += ["", *wrapped(f"{sheet.bridge_heading}: {sheet.bridge_words}")]
    if sheet.cautions:
        lines += ["", "Mind:", *counted(sheet.cautions, MOST_CAUTIONS, "in the timeline")]
    for note in filter(None, notes):
        lines += ["", *wrapped(note)]
    if any(path.name == "timeline.pdf" for path in written):
        lines += ["", *wrapped(NEXT)]
    return "\n".join(lines + files_written(written))


NEXT = (
    "Next: print timeline.pdf, walk a part of the way on a good day, and write your own time into "
    "the plan. Local authorities' word comes first."
)
"""What to do with the files."""
