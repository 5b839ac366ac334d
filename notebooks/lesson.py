"""What the lessons share: show a figure, check an answer.

Jupyter starts a lesson in its own folder, so this file is found beside it.
"""

from __future__ import annotations

import html
import math
import re
from collections.abc import Callable, Collection
from itertools import count
from typing import TypeAlias

from IPython.display import HTML
from matplotlib.axes import Axes

from simulator.report.style import svg_text

Answer: TypeAlias = float | str | bool | Collection[str]

_figures = count(1)


def show(axes: Axes, words: str) -> HTML:
    """Show a figure of the project on white paper, whatever the colours of the notebook.

    Parameters
    ----------
    axes : Axes
        From any drawing function of ``simulator.report``.
    words : str
        What is to be seen, for those who cannot see it; also the caption.

    Returns
    -------
    HTML
        The figure with its caption.
    """
    svg = svg_text(axes, prefix=f"figure-{next(_figures)}", title=words, description=words)
    return HTML(  # type: ignore[no-untyped-call]
        '<figure style="background:#fff;color:#1d1b16;padding:8px;margin:0;max-width:720px">'
        f"{svg}<figcaption>{html.escape(words)}</figcaption></figure>"
    )


def check(
    answer: object, equals: Answer | Callable[[], Answer], *, within: float = 0.0, hint: str = ""
) -> None:
    """Say whether an answer is right, and give a hint when it is not.

    Parameters
    ----------
    answer : object
        What was put in place of the three dots.
    equals : float, str, bool, collection of str, or callable that gives one
        The right answer. Words may be written in any case, several in any order. What takes long
        to work out is given as a function, and not called before there is an answer.
    within : float
        How far a number may be off.
    hint : str
        Where to look again.
    """
    if answer is ...:
        print("Put your answer in place of the three dots, and run this cell again.")
    elif _same(answer, equals() if callable(equals) else equals, within):
        print("Right.")
    else:
        print(f"Not yet. {hint}".strip())


def _same(answer: object, equals: Answer, within: float) -> bool:
    """Compare numbers with a margin, words without case, several words without order."""
    if isinstance(equals, bool) or isinstance(answer, bool):
        return answer is equals
    if isinstance(equals, str):
        return isinstance(answer, str) and _plain(answer) == _plain(equals)
    if isinstance(equals, Collection):
        if isinstance(answer, str) or not isinstance(answer, Collection):
            return False
        return {_plain(str(word)) for word in answer} == {_plain(word) for word in equals}
    return isinstance(answer, int | float) and math.isclose(
        answer, equals, rel_tol=0, abs_tol=within
    )


def _plain(words: str) -> str:
    return re.sub(r"\s+", " ", words).strip().casefold()
