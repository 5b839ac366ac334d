"""Text from maps and lists made fit to print."""

from __future__ import annotations

import functools
import textwrap
import unicodedata
from collections.abc import Iterable
from typing import TYPE_CHECKING

from simulator.files import terminal_safe
from simulator.report.fonts import letters

if TYPE_CHECKING:
    from pathlib import Path

LONGEST = 160
"""Characters kept of one name; longer ones are cut with an ellipsis."""

_UNPRINTABLE = frozenset({"Co", "Cn"})  # private use and unassigned code points


def clean(text: object, *, longest: int = LONGEST) -> str:
    """Make one line of plain text from anything.

    Control and format characters (direction overrides, zero-width marks) go, so that a hostile
    name cannot reorder or hide its neighbours; white space is collapsed.

    Parameters
    ----------
    text : object
        Usually a name out of map data.
    longest : int
        Characters kept; the last becomes an ellipsis if there were more.

    Returns
    -------
    str
        One line. Not itself escaped for HTML, XML or a spreadsheet.

    Examples
    --------
    >>> clean("Mill" + chr(0x202E) + "  Lane" + chr(7))
    'Mill Lane'
    """
    return _clean(str(text), longest)


@functools.lru_cache(maxsize=8192)
def _clean(text: str, longest: int) -> str:
    kept = (c for c in terminal_safe(text) if unicodedata.category(c) not in _UNPRINTABLE)
    line = " ".join("".join(kept).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def loud(texts: Iterable[str], *, columns: int = 80) -> list[str]:
    """Lay out the sentences that begin in capitals: what nobody may miss.

    Parameters
    ----------
    texts : iterable of str
        Assumptions or notes.
    columns : int
        Widest line [characters].

    Returns
    -------
    list of str
        Wrapped lines safe to print, each sentence after an empty one.
    """
    lines: list[str] = []
    for text in texts:
        first = text.partition(" ")[0]
        if len(first) > 1 and first.isupper():
            lines += ["", *textwrap.wrap(terminal_safe(text), columns)]
    return lines


def drawable(text: object, *, longest: int = 32, font: Path | None = None) -> str:
    """Make a label the figures' fonts can draw; what they lack becomes a middle dot.

    Parameters
    ----------
    text : object
        Usually a name out of map data.
    longest : int
        Characters kept.
    font : pathlib.Path or None
        Font file that the plan names.

    Returns
    -------
    str
        One short line of characters the fonts have; empty if hardly any were left.
    """
    has = letters(font)
    shown = "".join(c if ord(c) in has else "·" for c in clean(text, longest=longest))
    return shown if shown.strip("· ") else ""
