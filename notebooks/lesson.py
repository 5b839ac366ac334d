"""What the lessons share: show a figure, move a slider, check an answer.

Jupyter starts a lesson in its own folder, so this file is found beside it.
"""

from __future__ import annotations

import base64
import html
import io
import math
import re
from collections.abc import Callable, Collection
from importlib.util import find_spec
from itertools import count
from typing import TypeAlias

from IPython.display import HTML
from matplotlib.axes import Axes

from simulator.report.figures.style import inked, new_axes, svg_text

Answer: TypeAlias = float | str | bool | Collection[str]

_figures = count(1)


def show(axes: Axes, words: str, *, dots: bool = False) -> HTML:
    """Show a figure of the project on white paper, whatever the colours of the notebook.

    Parameters
    ----------
    axes : Axes
        From any drawing function of ``simulator.report``.
    words : str
        What is to be seen, for those who cannot see it; also the caption.
    dots : bool
        Whether to show it as an image of dots, for charts of thousands of cells.

    Returns
    -------
    HTML
        The figure with its caption.
    """
    told = html.escape(words)
    if dots:
        stream = io.BytesIO()
        figure = axes.get_figure(root=True)
        if figure is None:
            message = "the axes belong to no figure"
            raise ValueError(message)
        figure.savefig(stream, format="png", dpi=150.0, facecolor="white")
        picture = base64.b64encode(stream.getvalue()).decode()
        drawing = f'<img alt="{told}" src="data:image/png;base64,{picture}" style="width:100%">'
    else:
        prefix = f"figure-{next(_figures)}"
        drawing = svg_text(axes, prefix=prefix, title=words, description=words)
    return HTML(  # type: ignore[no-untyped-call]
        '<figure style="background:#fff;color:#1d1b16;padding:8px;margin:0;max-width:720px">'
        f"{drawing}<figcaption>{told}</figcaption></figure>"
    )


def paper(
    width_in: float = 6.0, height_in: float = 2.8, *, left_in: float = 0.6, below_in: float = 0.42
) -> Axes:
    """Give empty axes in the style of the project, for drawing functions that ask for them.

    Parameters
    ----------
    width_in, height_in : float
        Size of the figure [in].
    left_in, below_in : float
        Room left of the axes for names, and below them for words [in].

    Returns
    -------
    Axes
        On a figure of their own.
    """
    with inked():
        return new_axes((width_in, height_in), (left_in, below_in, 0.25, 0.28))


def slide(
    tell: Callable[[float], str],
    *,
    low: float,
    high: float,
    step: float,
    start: float,
    name: str,
) -> None:
    """Let a slider choose a number where ipywidgets is installed; tell of three where it is not.

    Parameters
    ----------
    tell : callable
        What to say of a number.
    low, high, step, start : float
        Of the slider.
    name : str
        Beside it.
    """
    if find_spec("ipywidgets") is None:
        for value in (low, start, high):
            print(tell(value))
        print("(With ipywidgets installed this is a slider.)")
        return
    from ipywidgets import FloatSlider, interact

    def say(value: float) -> None:
        print(tell(value))

    slider = FloatSlider(
        value=start, min=low, max=high, step=step, description=name, continuous_update=False
    )
    interact(say, value=slider)


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
        answer = [answer] if isinstance(answer, str) else answer
        if not isinstance(answer, Collection):
            return False
        return {_plain(str(word)) for word in answer} == {_plain(word) for word in equals}
    return isinstance(answer, int | float) and math.isclose(
        answer, equals, rel_tol=0, abs_tol=within
    )


def _plain(words: str) -> str:
    return re.sub(r"\s+", " ", words).strip().casefold()
