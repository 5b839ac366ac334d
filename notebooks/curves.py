"""Figures of published models: one curve with its formula, several compared, a band.

Nothing is computed here: a model brings its own curve, and bands come in as arrays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, Protocol

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.text import TextPath
from matplotlib.transforms import Affine2D
from numpy.typing import NDArray

from simulator.arrays import Floats
from simulator.report.figures.style import (
    FAINT,
    GREY,
    HATCH,
    INK,
    PALE,
    axes_size_pt,
    in_ink,
    new_axes,
)

WIDTH_IN: Final = 5.6
HEIGHT_IN: Final = 2.6
LABELS_IN: Final = 1.45
"""Room for the names of lines, right of the axes [in]."""
FORMULA_IN: Final = 0.42
WORDS_IN: Final = 0.20
"""Room for what a model gives, under its formula [in]."""
FORMULA_PT: Final = 11.0
LINE_PT: Final = 10.0
"""Least distance of two names [pt]."""
DASHES: Final = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1.5, 2)), (0, (1, 1.2)), (0, (9, 4)))
"""Lines are told apart without colour."""

QUANTITIES: Final[dict[str, tuple[str, str]]] = {
    "slope": ("slope, rise over run", ""),
    "age_y": ("age", "years"),
    "mass_kg": ("body mass", "kg"),
    "height_m": ("body height", "m"),
    "load_kg": ("load", "kg"),
    "speed_m_s": ("walking speed", "m/s"),
    "walk_m_s": ("walking speed", "m/s"),
    "air_speed_m_s": ("air speed at the body", "m/s"),
    "air_c": ("air", "°C"),
    "humidity_pct": ("relative humidity", "%"),
    "wind_km_h": ("wind", "km/h"),
    "radiant_w_m2": ("sun on the skin", "W/m²"),
    "clothing_clo": ("clothing", "clo"),
    "metabolic_w": ("metabolic rate", "W"),
    "metabolic_w_m2": ("metabolic rate", "W/m²"),
    "required_evaporation_w_m2": ("evaporation that would keep the balance", "W/m²"),
    "max_evaporation_w_m2": ("most that can evaporate", "W/m²"),
}
"""Arguments of the models in words, each with its unit."""


UNIT_WORDS: Final = {"degrees C": "°C", "g/m2/h": "g/m²/h", "W/m2": "W/m²", "m2": "m²"}
"""Units of the catalogue as they are printed."""


class Curve(Protocol):
    """What this room needs of a model in order to draw it."""

    @property
    def gives(self) -> str:
        """What it gives, in plain words."""

    @property
    def unit(self) -> str:
        """Unit of that."""

    @property
    def formula(self) -> str:
        """Its formula as mathtext, without dollar signs."""

    @property
    def across(self) -> str:
        """Name of the argument that the curve runs along."""

    @property
    def fixed(self) -> Mapping[str, float]:
        """The other arguments."""

    def curve(self, points: int = 201) -> tuple[Floats, Floats]:
        """Give the curve, NaN beyond the limits."""


def quantity(name: str) -> str:
    """Name an argument for an axis."""
    words, unit = QUANTITIES[name]
    return f"{words} ({unit})" if unit else words


def held_at(fixed: Mapping[str, float]) -> str:
    """Say what the other arguments of a curve are."""
    told = []
    for name, value in fixed.items():
        words, unit = QUANTITIES[name]
        told.append(f"{words} {value:g} {unit}".rstrip())
    return ", ".join(told)


@in_ink
def model_figure(
    model: Curve, *, width_in: float = WIDTH_IN - LABELS_IN, height_in: float = HEIGHT_IN
) -> Axes:
    """Draw one model: its formula, and its curve as far as it is valid."""
    ax = new_axes((width_in, height_in), (0.52, 0.42, 0.12, FORMULA_IN + WORDS_IN))
    x, y = model.curve()
    ax.plot(x, y, color=INK, lw=1.6, gid="curve")
    ax.set_xlim(float(x[0]), float(x[-1]))
    known = y[np.isfinite(y)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    pad = 0.08 * max(high - low, 0.05 * abs(high), 1e-9)
    from_zero = model.unit != "degrees C" and 0.0 <= low <= 0.6 * high
    ax.set_ylim(0.0 if from_zero else low - pad, high + pad)
    _beyond(ax, x, y)
    ax.set_xlabel(quantity(model.across))
    unit = UNIT_WORDS.get(model.unit, model.unit)
    ax.annotate(
        f"{model.gives} ({unit})" if unit else model.gives,
        (0.0, 1.0),
        xycoords="axes fraction",
        xytext=(-0.52 * 72.0 + 5.0, 4.0),
        textcoords="offset points",
        va="bottom",
    )
    _formula(ax, model.formula, width_in - 0.2)
    return ax


def _beyond(ax: Axes, x: Floats, y: Floats) -> None:
    """Hatch where the model says nothing."""
    unknown = np.isnan(y)
    if unknown.any():
        ax.fill_between(
            x,
            0.0,
            1.0,
            where=unknown.tolist(),
            transform=ax.get_xaxis_transform(),
            facecolor="none",
            edgecolor=PALE,
            hatch=HATCH["night"],
            lw=0.0,
            zorder=0.5,
            gid="beyond",
        )


def _formula(ax: Axes, formula: str, room_in: float) -> None:
    """Write the formula above the axes, as outlines: no font is needed to read it."""
    figure = ax.get_figure(root=True)
    if figure is None:
        message = "the axes belong to no figure"
        raise ValueError(message)
    with mpl.rc_context({"text.parse_math": True, "mathtext.fontset": "dejavuserif"}):
        outline = TextPath((0.0, 0.0), f"${formula}$", size=FORMULA_PT)
    box = outline.get_extents()
    scale = min(1.0, room_in * 72.0 / box.width, FORMULA_IN * 72.0 / box.height)
    height_pt = float(figure.get_size_inches()[1]) * 72.0
    middle = height_pt - 0.5 * FORMULA_IN * 72.0 - 3.0
    place = (
        Affine2D()
        .translate(-box.x0, -0.5 * (box.y0 + box.y1))
        .scale(scale)
        .translate(5.0, middle)
        .scale(figure.dpi / 72.0)
    )
    figure.add_artist(
        PathPatch(outline, facecolor=INK, edgecolor="none", lw=0.0, transform=place, gid="formula")
    )


@in_ink
def lines_figure(
    x: Floats,
    lines: Mapping[str, Floats],
    *,
    across: str,
    up: str,
    from_zero: bool = False,
    mark_zero: bool = False,
    width_in: float = WIDTH_IN,
    height_in: float = HEIGHT_IN,
) -> Axes:
    """Draw several curves over one axis, each with its name at its end."""
    ax = new_axes((width_in, height_in), (0.52, 0.42, LABELS_IN, 0.10))
    for number, (name, values) in enumerate(lines.items()):
        ax.plot(
            x,
            values,
            color=INK,
            lw=2.0 if number == 0 else 1.1,
            ls=DASHES[number % len(DASHES)],
            gid=f"line-{number}",
            label=name,
        )
    ax.set_xlim(float(x[0]), float(x[-1]))
    if from_zero:
        ax.set_ylim(bottom=0.0)
    if mark_zero:
        ax.axvline(0.0, color=FAINT, lw=0.8, zorder=0.5)
    ax.set_xlabel(across)
    ax.set_ylabel(up)
    _names(ax, x, lines)
    return ax


def _names(ax: Axes, x: Floats, lines: Mapping[str, Floats]) -> None:
    """Name each line right of the axes, at the height of its last value, none over another."""
    low, high = ax.get_ylim()
    height_pt = axes_size_pt(ax)[1]
    ends = []
    for number, (name, values) in enumerate(lines.items()):
        known = np.flatnonzero(np.isfinite(values))
        if known.size:
            last = int(known[-1])
            ends.append(((float(values[last]) - low) / (high - low), last, name, number))
    # Of lines that end at one height, the one that ends first has the upper name.
    ends.sort(key=lambda end: (round(end[0] * height_pt / LINE_PT), -end[1]))
    at_pt = [share * height_pt for share, *_ in ends]
    for place in range(1, len(at_pt)):
        at_pt[place] = max(at_pt[place], at_pt[place - 1] + LINE_PT)
    too_high = max((at_pt[-1] if at_pt else 0.0) - height_pt, 0.0)
    for place in range(len(at_pt) - 1, -1, -1):
        top = height_pt if place == len(at_pt) - 1 else at_pt[place + 1] - LINE_PT
        at_pt[place] = min(at_pt[place], top) if too_high else at_pt[place]
    for (_, last, name, number), at in zip(ends, at_pt, strict=True):
        value = float(lines[name][last])
        ax.annotate(
            name,
            (float(x[last]), value),
            xytext=(1.03, at / height_pt),
            textcoords="axes fraction",
            va="center_baseline",
            fontweight="bold" if number == 0 else "normal",
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "color": GREY,
                "lw": 0.5,
                "shrinkA": 1,
                "shrinkB": 1,
                "relpos": (0.0, 0.5),
            },
        )


@in_ink
def band_figure(
    x: Floats,
    band: tuple[Floats, Floats, Floats],
    *,
    across: str,
    up: str,
    outside: NDArray[np.bool_] | None = None,
    names: Sequence[str] = ("low", "middle", "high"),
    width_in: float = WIDTH_IN,
    height_in: float = HEIGHT_IN,
) -> Axes:
    """Draw what several sources say together: least, middle and most."""
    ax = new_axes((width_in, height_in), (0.52, 0.42, LABELS_IN, 0.10))
    low, middle, high = band
    ax.fill_between(x, low, high, facecolor=FAINT, edgecolor="none", lw=0.0, gid="band")
    for values, weight in ((low, 0.8), (high, 0.8), (middle, 2.0)):
        ax.plot(x, values, color=INK, lw=weight)
    ax.set_xlim(float(x[0]), float(x[-1]))
    ax.set_ylim(bottom=0.0)
    if outside is not None and outside.any():
        _beyond(ax, x, np.where(outside, np.nan, 0.0))
    ax.set_xlabel(across)
    ax.set_ylabel(up)
    _names(ax, x, {names[1]: middle, names[0]: low, names[2]: high})
    return ax
