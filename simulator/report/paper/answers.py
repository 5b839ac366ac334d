"""Pages of figures and sentences, the same for every question that is answered in shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from matplotlib.axes import Axes

from simulator.report.figures.style import svg_text
from simulator.report.paper.press import Page, typeset
from simulator.report.words import clean

WIDE_IN: Final = 7.09
"""Width of the text on A4, and of a figure as wide as it [in]."""

HALF_IN: Final = 3.4
"""Width of one of two figures side by side [in]."""

LONGEST: Final = 700
"""Characters kept of one sentence."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure, and its words for who cannot see it.

    Attributes
    ----------
    axes : Axes
        As drawn.
    alt : str
        What it tells.
    """

    axes: Axes
    alt: str


@dataclass(frozen=True, slots=True)
class AnswerPart:
    """A part of the pages.

    Attributes
    ----------
    heading : str
        Perhaps empty.
    told : str
        A sentence or two under it.
    rows : tuple of tuple of Picture
        Figures; those of a row stand side by side.
    lines : tuple of str
        Sentences, one below the other.
    blanks : tuple of str
        Lines to write on, each with what belongs there.
    """

    heading: str = ""
    told: str = ""
    rows: tuple[tuple[Picture, ...], ...] = ()
    lines: tuple[str, ...] = ()
    blanks: tuple[str, ...] = ()


def answer_pdf(
    what: str,
    title: str,
    parts: Sequence[AnswerPart],
    *,
    standing: str,
    notes: Sequence[str] = (),
    attribution: str,
    page: Page = "A4",
    font: Path | None = None,
) -> bytes:
    """Set pages of figures and sentences."""
    drawings: dict[str, str] = {}

    def named(picture: Picture) -> dict[str, str]:
        name = f"figure-{len(drawings) + 1}"
        drawings[name] = svg_text(picture.axes, prefix=name)
        return {"name": name, "alt": clean(picture.alt, longest=LONGEST)}

    told = [
        {
            "heading": clean(part.heading),
            "told": clean(part.told, longest=LONGEST),
            "rows": [[named(picture) for picture in row] for row in part.rows],
            "list": [clean(line, longest=LONGEST) for line in part.lines],
            "blanks": list(part.blanks),
        }
        for part in parts
    ]
    sheet = {
        "what": what,
        "title": clean(title) or "Walk home",
        "parts": told,
        "standing": standing,
        "notes": [clean(note, longest=LONGEST) for note in notes],
        "attribution": clean(attribution, longest=LONGEST),
    }
    return typeset("answers.typ", sheet, page=page, font=font, drawings=drawings)
