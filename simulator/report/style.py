"""One look for every figure: ink on paper, hatching and line weight first, one accent colour.

Nothing global is changed: `inked` sets matplotlib's parameters for the time of one drawing.
"""

from __future__ import annotations

import functools
import io
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, ParamSpec, TypeVar
from xml.etree import ElementTree as ET

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

INK = "#1d1b16"
GREY = "#6b665c"
PALE = "#aaa498"
FAINT = "#dedad1"
PAPER = "#ffffff"
ACCENT = "#9c2f1b"  # oxide red: dark enough (7 : 1 on paper) to copy as black

ROLES = {INK: "ink", GREY: "grey", PALE: "pale", FAINT: "faint", PAPER: "paper", ACCENT: "accent"}
"""Colour to its role: the offline page swaps roles for its dark theme."""

SMALLEST_PT = 7.0
"""No text on paper is smaller."""

HATCH = {"day": "", "twilight": "....", "night": "//////"}
"""Second channel of daylight, so that a copier keeps it."""

POINTS_PER_INCH = 72.0

PARAMETERS: dict[Any, Any] = {
    "axes.edgecolor": INK,
    "axes.facecolor": "none",
    "axes.labelcolor": INK,
    "axes.labelsize": SMALLEST_PT,
    "axes.linewidth": 0.6,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlelocation": "left",
    "axes.titlesize": 8.5,
    "axes.titleweight": "bold",
    "axes.unicode_minus": True,
    "figure.dpi": POINTS_PER_INCH,
    "figure.facecolor": "none",
    "font.family": ["DejaVu Sans"],
    "font.size": SMALLEST_PT,
    "hatch.color": GREY,
    "hatch.linewidth": 0.4,
    "legend.frameon": False,
    "lines.solid_capstyle": "butt",
    "path.simplify": True,
    "path.simplify_threshold": 0.35,
    "savefig.facecolor": "none",
    "svg.fonttype": "none",
    "svg.hashsalt": "walkhome",
    "text.color": INK,
    "text.parse_math": False,  # a street called "$x$" is a name, not a formula
    "xtick.color": INK,
    "xtick.labelsize": SMALLEST_PT,
    "xtick.major.size": 3.0,
    "xtick.major.width": 0.6,
    "ytick.color": INK,
    "ytick.labelsize": SMALLEST_PT,
    "ytick.major.size": 3.0,
    "ytick.major.width": 0.6,
}

Given = ParamSpec("Given")
Result = TypeVar("Result")


@contextmanager
def inked() -> Iterator[None]:
    """Draw in the house style inside this block, and leave no trace of it after."""
    with mpl.rc_context(PARAMETERS):
        yield


def in_ink(draw: Callable[Given, Result]) -> Callable[Given, Result]:
    """Decorate a drawing function so that all it makes is in the house style.

    Parameters
    ----------
    draw : callable
        Makes or fills axes.

    Returns
    -------
    callable
        The same, run inside `inked`.
    """

    @functools.wraps(draw)
    def drawn(*args: Given.args, **kwargs: Given.kwargs) -> Result:
        with inked():
            return draw(*args, **kwargs)

    return drawn


def new_axes(size_in: tuple[float, float], margins: tuple[float, float, float, float]) -> Axes:
    """Axes on a figure of their own, without any window system.

    Parameters
    ----------
    size_in : (float, float)
        Width and height of the figure [in].
    margins : (float, float, float, float)
        Room left, below, right and above the axes [in].

    Returns
    -------
    Axes
        Empty axes.
    """
    width, height = size_in
    left, below, right, above = margins
    figure = Figure(figsize=size_in)
    return figure.add_axes(
        (
            left / width,
            below / height,
            (width - left - right) / width,
            (height - below - above) / height,
        )
    )


def axes_size_pt(ax: Axes) -> tuple[float, float]:
    """Width and height of axes on paper [pt].

    Parameters
    ----------
    ax : Axes
        Any axes.

    Returns
    -------
    (float, float)
        Width, height [pt].
    """
    figure = ax.get_figure(root=True)
    if figure is None:
        message = "the axes belong to no figure"
        raise ValueError(message)
    box = ax.get_window_extent().transformed(figure.dpi_scale_trans.inverted())
    return float(box.width * POINTS_PER_INCH), float(box.height * POINTS_PER_INCH)


_BEYOND_HUNDREDTHS = re.compile(r"(?<=\.\d\d)\d+")
_PATH_DATA = re.compile(r' (?:d|x|y|transform)="[^"]*"')
_NAMESPACES = {"": "http://www.w3.org/2000/svg", "xlink": "http://www.w3.org/1999/xlink"}
_DRAWN = frozenset(
    {"svg", "g", "defs", "style", "path", "use", "clipPath", "rect", "text", "tspan", "pattern"}
    | {"title", "desc", "line", "polyline", "polygon", "circle"}
)


def svg_text(ax: Axes, *, prefix: str, title: str = "", description: str = "") -> str:
    """Save the figure of some axes as SVG: same input, same bytes; nothing active inside.

    Parameters
    ----------
    ax : Axes
        Axes of the figure to save.
    prefix : str
        Put before every id, so that several figures can stand in one page.
    title, description : str
        Accessible name and description, put inside the figure.

    Returns
    -------
    str
        An ``<svg>`` element without XML declaration.
    """
    figure = ax.get_figure(root=True)
    if figure is None:
        message = "the axes belong to no figure"
        raise ValueError(message)
    stream = io.StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    with inked():
        figure.savefig(stream, format="svg", metadata=nothing)
    root = ET.fromstring(stream.getvalue())  # noqa: S314 - written by matplotlib just above
    _keep_only_drawing(root)
    _prefix_ids(root, prefix)
    if title:
        _name(root, prefix, title, description)
    for space, uri in _NAMESPACES.items():
        ET.register_namespace(space, uri)
    text = ET.tostring(root, encoding="unicode")
    return _PATH_DATA.sub(lambda found: _BEYOND_HUNDREDTHS.sub("", found.group()), text)


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def _keep_only_drawing(element: ET.Element) -> None:
    """Drop everything that is not a drawing element, every handler and outside reference."""
    for child in list(element):
        if _local(child.tag) not in _DRAWN:
            element.remove(child)
            continue
        _keep_only_drawing(child)
    for key, value in list(element.attrib.items()):
        name = _local(key).lower()
        if name.startswith("on") or (name == "href" and not value.startswith("#")):
            del element.attrib[key]


def _prefix_ids(root: ET.Element, prefix: str) -> None:
    for element in root.iter():
        for key, value in list(element.attrib.items()):
            if key == "id":
                element.set(key, f"{prefix}-{value}")
            elif _local(key) == "href":
                element.set(key, f"#{prefix}-{value[1:]}")
            elif "url(#" in value:
                element.set(key, value.replace("url(#", f"url(#{prefix}-"))


def _name(root: ET.Element, prefix: str, title: str, description: str) -> None:
    space = _NAMESPACES[""]
    root.set("role", "img")
    root.set("aria-labelledby", f"{prefix}-name {prefix}-words")
    for position, (tag, text, mark) in enumerate(
        (("title", title, "name"), ("desc", description, "words"))
    ):
        child = ET.Element(f"{{{space}}}{tag}", {"id": f"{prefix}-{mark}"})
        child.text = text
        root.insert(position, child)
