"""The small line-drawn marks for places, and where labels go so that they do not collide."""

from __future__ import annotations

import functools
import io
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any, ParamSpec, TypeVar
from xml.etree import ElementTree as ET

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.path import Path

from simulator.arrays import Floats
from simulator.report.words import label_font

INK = "#1d1b16"
GREY = "#6b665c"
PALE = "#aaa498"
FAINT = "#dedad1"
PAPER = "#ffffff"
ACCENT = "#9c2f1b"  # oxide red: dark enough (7 : 1 on paper) to copy as black

ROLES = {INK: "ink", GREY: "grey", PALE: "pale", FAINT: "faint", PAPER: "paper", ACCENT: "accent"}
"""Colour to its role: the offline page swaps roles for its dark theme."""

SMALLEST_PT = 9.0
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
    "axes.titlesize": 10.0,
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
    """Decorate a drawing function so that all it makes is in the house style."""

    @functools.wraps(draw)
    def drawn(*args: Given.args, **kwargs: Given.kwargs) -> Result:
        with inked():
            return draw(*args, **kwargs)

    return drawn


def new_axes(size_in: tuple[float, float], margins: tuple[float, float, float, float]) -> Axes:
    """Axes on a figure of their own, without any window system."""
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
    """Width and height of axes on paper [pt]."""
    figure = ax.get_figure(root=True)
    if figure is None:
        message = "the axes belong to no figure"
        raise ValueError(message)
    box = ax.get_window_extent().transformed(figure.dpi_scale_trans.inverted())
    return float(box.width * POINTS_PER_INCH), float(box.height * POINTS_PER_INCH)


_BEYOND_HUNDREDTHS = re.compile(r"(?<=\.\d\d)\d+")
_BEYOND_TENTHS = re.compile(r"(?<=\.\d)\d+")
_LONG_PATH = 3000
"""A path of more characters is drawn to a tenth of a point, others to a hundredth."""

_CURVE = re.compile(r"C(?: -?[\d.]+){4} (-?[\d.]+ -?[\d.]+)")
"""In a long path, a dot of a pattern: arcs of some tenths of a point are as good straight."""

_IS_PATH = ' d="'
_SPACE_BESIDE_LETTER = re.compile(r" *([A-Za-z]) *")
_PATH_DATA = re.compile(r' (?:d|x|y|transform)="[^"]*"')
_NAMESPACES = {"": "http://www.w3.org/2000/svg", "xlink": "http://www.w3.org/1999/xlink"}
_DRAWN = frozenset(
    {"svg", "g", "defs", "style", "path", "use", "clipPath", "rect", "text", "tspan", "pattern"}
    | {"title", "desc", "line", "polyline", "polygon", "circle"}
)


def svg_text(ax: Axes, *, prefix: str, title: str = "", description: str = "") -> str:
    """Save the figure of some axes as SVG: same input, same bytes; nothing active inside."""
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

    def shortened(found: re.Match[str]) -> str:
        path = found.group()
        if len(path) > _LONG_PATH:
            path = _CURVE.sub(r"L \1", _BEYOND_TENTHS.sub("", path))
        else:
            path = _BEYOND_HUNDREDTHS.sub("", path)
        # SVG 2, section 9.3.9: a path needs no space beside a letter.
        if not path.startswith(_IS_PATH):
            return path
        return _IS_PATH + _SPACE_BESIDE_LETTER.sub(r"\1", path.removeprefix(_IS_PATH))

    return _PATH_DATA.sub(shortened, text)


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


GIVES = ("water", "food", "shelter", "help", "rest")
"""What a place may give, the most pressing first: a place is drawn by its first."""


def _strokes(*lines: Sequence[tuple[float, float]]) -> Path:
    points: list[tuple[float, float]] = []
    codes: list[int] = []
    for line in lines:
        points.extend(line)
        codes.extend([int(Path.MOVETO)] + [int(Path.LINETO)] * (len(line) - 1))
    return Path(np.array(points), np.array(codes, dtype=np.uint8))


def _wave(height: float) -> list[tuple[float, float]]:
    across = np.linspace(-1.0, 1.0, 17)
    return [(float(x), float(height + 0.26 * np.sin(np.pi * 2.0 * x))) for x in across]


def _bowl() -> list[tuple[float, float]]:
    turn = np.linspace(np.pi, 2.0 * np.pi, 13)
    arc = [(float(np.cos(a)), float(0.25 + 1.05 * np.sin(a))) for a in turn]
    return [*arc, (-1.0, 0.25)]


GLYPHS: dict[str, Path] = {
    "water": _strokes(_wave(0.42), _wave(-0.42)),
    "food": _strokes(_bowl(), [(0.0, 0.5), (0.0, 0.95)]),
    "shelter": _strokes([(-1.0, -0.1), (0.0, 0.85), (1.0, -0.1)], [(-0.55, -0.85), (0.55, -0.85)]),
    "help": _strokes(
        [(-0.9, 0.0), (0.9, 0.0)],
        *([(-0.45, -s * 0.78), (0.45, s * 0.78)] for s in (1.0, -1.0)),
    ),
    "rest": _strokes(
        [(-1.0, 0.15), (1.0, 0.15)], [(-0.6, 0.15), (-0.6, -0.75)], [(0.6, 0.15), (0.6, -0.75)]
    ),
}
"""Own marks, strokes only: two waves, a bowl, a roof over ground, a six-armed star, a bench."""


def first_given(gives: Iterable[str]) -> str:
    """Which glyph draws a place."""
    given = set(gives)
    return next((name for name in GIVES if name in given), "rest")


def draw_glyphs(
    ax: Axes,
    x: Floats,
    y: Floats,
    given: str,
    *,
    used: bool = False,
    faint: bool = False,
    halo: bool = False,
    zorder: float = 6.0,
    clip: bool = True,
) -> None:
    """Draw one kind of mark at several points; a used place stands on a ringed disc."""
    if halo:
        ax.plot(x, y, "o", ms=7.5, mfc=PAPER, mec="none", zorder=zorder - 0.2, clip_on=clip)
    if used:
        ax.plot(x, y, "o", ms=11.5, mfc=PAPER, mec=INK, mew=1.3, zorder=zorder - 0.1, clip_on=clip)
    ax.plot(
        x,
        y,
        linestyle="none",
        marker=GLYPHS[given],
        ms=6.4 if used else 6.0,
        mfc="none",
        mec=GREY if faint else INK,
        mew=1.2 if used else (0.75 if faint else 1.0),
        zorder=zorder,
        clip_on=clip,
    )


@dataclass
class Labels:
    """Places labels one after another where they cover least; the earlier has precedence.

    Parameters
    ----------
    ax : Axes
        Whose limits are already fixed.
    size_pt : (float, float)
        Width and height of the axes on paper [pt].
    font : pathlib.Path or None
        Font file that the plan names, for letters that the figures' own lacks.
    """

    ax: Axes
    size_pt: tuple[float, float]
    font: FilePath | None = None
    _busy: list[Floats] = field(default_factory=list)
    _boxes: list[tuple[float, float, float, float]] = field(default_factory=list)

    CHARACTER_EM = 0.62
    """Mean advance of the figures' font; a little wide, so that boxes do not touch."""

    def paper(self, x: Floats, y: Floats) -> Floats:
        """Turn data coordinates into points on paper."""
        (x0, x1), (y0, y1) = self.ax.get_xlim(), self.ax.get_ylim()
        width, height = self.size_pt
        return np.column_stack([(x - x0) / (x1 - x0) * width, (y - y0) / (y1 - y0) * height])

    def keep_clear(self, x: Floats, y: Floats) -> None:
        """Mark points that labels should not cover."""
        self._busy.append(self.paper(x, y))

    def reserve(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Mark a box that labels should not cover."""
        self._boxes.append((x0, y0, x1, y1))

    def reserve_marks(self, points: Floats, half_pt: float) -> None:
        """Mark a square round each point that labels should not cover."""
        for x, y in self.paper(points[:, 0], points[:, 1]):
            self.reserve(x - half_pt, y - half_pt, x + half_pt, y + half_pt)

    def place(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = SMALLEST_PT,
        weight: str = "normal",
        accent: bool = False,
        away: Sequence[float] = (9.0, 15.0, 24.0),
        must: bool = True,
        leader: bool = True,
    ) -> bool:
        """Write a label beside a point."""
        whole = sum(unicodedata.east_asian_width(letter) in "WF" for letter in text)
        wide = (whole + (len(text) - whole) * self.CHARACTER_EM) * size + 3.0
        spot = self.spot(x, y, wide=wide, high=size * 1.25, away=away, must=must)
        if spot is None:
            return False
        ink = ACCENT if accent else INK
        line = {"arrowstyle": "-", "lw": 0.5, "color": ink, "shrinkA": 0, "shrinkB": 3}
        self.ax.annotate(
            text,
            (x, y),
            xytext=spot[:2],
            textcoords="offset points",
            ha="center",
            va="center",
            fontproperties=label_font(text, self.font),
            fontsize=size,
            fontweight=weight,
            color=ink,
            zorder=9,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.7},
            arrowprops=line if leader and spot[2] > min(away) else None,
        )
        return True

    def spot(
        self,
        x: float,
        y: float,
        *,
        wide: float,
        high: float,
        away: Sequence[float],
        must: bool = True,
    ) -> tuple[float, float, float] | None:
        """Find and reserve the freest box near a point."""
        at = self.paper(np.array([x]), np.array([y]))[0]
        tried = [
            self._try(at, radius, turn, wide, high)
            for radius in away
            for turn in np.arange(16) * np.pi / 8.0
        ]
        if min(away) <= 0.0:
            over = (at[0] - wide / 2, at[1] - high / 2, at[0] + wide / 2, at[1] + high / 2)
            tried.insert(0, (self._cost(over, lines=False), over, 0.0))
        cost, box, distance = min(tried, key=lambda one: one[0])
        if cost >= _COVERING and not must:
            return None
        self._boxes.append(box)
        return (box[0] + box[2]) / 2.0 - at[0], (box[1] + box[3]) / 2.0 - at[1], distance

    def _try(
        self, at: Floats, radius: float, turn: float, wide: float, high: float
    ) -> tuple[float, tuple[float, float, float, float], float]:
        across, up = float(np.cos(turn)), float(np.sin(turn))
        x = at[0] + across * (radius + wide / 2.0)
        y = at[1] + up * (radius + high / 2.0)
        box = (x - wide / 2.0, y - high / 2.0, x + wide / 2.0, y + high / 2.0)
        return self._cost(box) + radius * 0.02 + abs(up) * 0.05, box, radius

    def _cost(self, box: tuple[float, float, float, float], *, lines: bool = True) -> float:
        """How much a box would cover: outside the frame, marks and labels, the way's line."""
        x0, y0, x1, y1 = box
        width, height = self.size_pt
        cost = 0.0
        if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
            cost += 40.0
        for points in self._busy if lines else ():
            inside = (
                (points[:, 0] > x0)
                & (points[:, 0] < x1)
                & (points[:, 1] > y0)
                & (points[:, 1] < y1)
            )
            cost += float(inside.sum())
        for a0, b0, a1, b1 in self._boxes:
            over = max(0.0, min(x1, a1) - max(x0, a0)) * max(0.0, min(y1, b1) - max(y0, b0))
            if over > 0:
                cost += _COVERING + over * 0.2
        return cost


_COVERING = 6.0  # a label that covers this much is better left out, where it may be
