"""The year as a chart of dates and hours: verdict, light on arrival, worst shortage, coldest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path
from matplotlib.transforms import offset_copy

from simulator.report.figures.style import (
    FAINT,
    GREY,
    INK,
    PALE,
    PAPER,
    in_ink,
    new_axes,
)
from simulator.units import Units

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from numpy.typing import NDArray
    from shapely import LinearRing, Polygon

SIZE_IN = (7.09, 2.0)
"""Width and height of a chart of its own [in]."""

MARGINS_IN = (0.55, 0.63, 0.1, 0.28)
"""Room left, below, right and above of it [in]."""

NAMES_IN = 1.4
"""Room left of a chart of bags, for their names [in]."""

STRIP_IN = 0.28
"""Height of the strip of one bag [in]."""

SEAM_PT = 0.15
"""Width of the line round an area [pt]."""

KEY_COLUMNS = 5
KEY_PT = 19.0
"""From a chart down to its key [pt]."""

MIDDLE = "#b3ada1"
"""Grey half way between ink and paper in lightness, to the eye."""

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

VERDICTS = {"walk": PAPER, "walk with care": MIDDLE, "stay and wait": INK, "not known": PAPER}
ARRIVALS = {"in daylight or twilight": PAPER, "in the dark": GREY}
CHART = "at every hour of leaving, hours downward, days of the year across"
"""How the charts lie, in words."""

WORST = {
    "none": PAPER,
    "water": "#6f93a8",
    "light": "#d9b44a",
    "heat": "#c4622d",
    "cold": PALE,
    "warmth of a night halt": "#4f4a40",
    "time": INK,
    "wind and rain": "#4f6b5a",
    "effort": "#8a5a83",
    "other": GREY,
}
"""What is worst."""

LABELS = {"warmth of a night halt": "cold at a night halt"}
"""What a key calls it, where that is plainer."""

HATCHES = {
    "not known": ("xx", INK),
    "water": ("....", INK),
    "light": ("||||", INK),
    "heat": ("////", INK),
    "cold": ("----", INK),
    "warmth of a night halt": ("xxxx", PAPER),
    "wind and rain": ("\\\\\\\\", PAPER),
    "effort": ("++++", PAPER),
    "other": ("oo", INK),
}
"""Second channel of what is worst, and its ink: a copier keeps it where it loses the colour."""

COLD_STEPS_C = (-28.0, -10.0, 0.0, 10.0, 20.0)
COLD_INKS = (INK, "#4f4a40", GREY, PALE, FAINT, PAPER)
"""Felt temperature in bands; -28 is where bare skin can freeze soon."""


def on_calendar(hours: pd.DataFrame, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lay one value an hour out by local date and clock hour."""
    when = [datetime.fromisoformat(text) for text in hours["depart"]]
    first = when[0].date()
    days = (when[-1].date() - first).days + 1
    chart = np.full((24, days), np.nan)
    for moment, value in zip(when, values.tolist(), strict=True):
        chart[moment.hour, (moment.date() - first).days] = value
    return chart


@in_ink
def category_chart(
    hours: pd.DataFrame,
    column: str,
    inks: dict[str, str],
    ax: Axes | None = None,
    *,
    title: str,
    size_in: tuple[float, float] = SIZE_IN,
) -> Axes:
    """Draw a column of words as a chart of dates and hours."""
    ax = ax or new_axes(size_in, MARGINS_IN)
    codes = {word: float(row) for row, word in enumerate(inks)}
    values = np.array([codes[word] for word in hours[column]])
    chart = on_calendar(hours, values)
    _fill(ax, chart, list(inks.values()))
    for word in inks:
        _hatch(ax, chart == codes[word], word)
    _frame(ax, hours, title)
    present = [word for word in inks if (values == codes[word]).any()]
    _key(ax, [(inks[word], word) for word in present])
    return ax


@in_ink
def cold_chart(
    hours: pd.DataFrame,
    ax: Axes | None = None,
    *,
    units: Units,
    size_in: tuple[float, float] = SIZE_IN,
) -> Axes:
    """Draw how cold it feels at the coldest of each walk."""
    ax = ax or new_axes(size_in, MARGINS_IN)
    bands = cold_bands(hours["coldest_felt_c"].to_numpy(dtype=float))
    _fill(ax, on_calendar(hours, bands), list(COLD_INKS))
    _frame(ax, hours, "Coldest felt on the walk")
    present = set(bands[np.isfinite(bands)].astype(int).tolist())
    named = enumerate(zip(COLD_INKS, cold_names(units), strict=True))
    _key(ax, [entry for code, entry in named if code in present])
    return ax


def cold_bands(felt_c: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sort felt temperatures into the bands of the chart."""
    bands = np.searchsorted(COLD_STEPS_C, felt_c, side="right").astype(np.float64)
    return np.where(np.isfinite(felt_c), bands, np.nan)


def cold_names(units: Units) -> list[str]:
    """Name the bands of felt temperature."""
    say = units.degrees
    return [f"below {say(COLD_STEPS_C[0])}", *(f"from {say(low)}" for low in COLD_STEPS_C)]


def _fill(ax: Axes, chart: NDArray[np.float64], inks: Sequence[str]) -> None:
    """Fill the cells of each code; as outlines, so that print is sharp and the file small."""
    for code, ink in enumerate(inks):
        outline = _outline(chart == code)
        if outline is not None:
            # The hair line closes the seam that a viewer leaves between two areas.
            ax.add_patch(PathPatch(outline, facecolor=ink, edgecolor=ink, linewidth=SEAM_PT))


def _hatch(ax: Axes, cells: NDArray[np.bool_], word: str) -> None:
    """Hatch the cells of a word that has a hatching."""
    outline = _outline(cells) if word in HATCHES else None
    if outline is not None:
        hatch, ink = HATCHES[word]
        with mpl.rc_context({"hatch.color": ink}):
            ax.add_patch(PathPatch(outline, facecolor="none", linewidth=0.0, hatch=hatch))


def _outline(cells: NDArray[np.bool_]) -> Path | None:
    """Draw round cells that touch: columns are x, rows are y; None without any."""
    from shapely import box, get_parts, union_all

    edges = np.diff(cells.astype(np.int8), axis=1, prepend=0, append=0)
    (row, first), (_, after) = np.nonzero(edges == 1), np.nonzero(edges == -1)
    if row.size == 0:
        return None
    areas = get_parts(union_all(box(first, row, after, row + 1)))
    rings = [np.asarray(ring.coords) for area in areas for ring in _rings(area)]
    return Path.make_compound_path(*(Path(ring, closed=True) for ring in rings))


def _rings(area: Polygon) -> Iterator[LinearRing]:
    """Give an area's outline and then its holes, which run the other way round."""
    from shapely.geometry.polygon import orient

    turned = orient(area)
    yield turned.exterior
    yield from turned.interiors


def _frame(ax: Axes, hours: pd.DataFrame, title: str) -> None:
    """Put months across and hours of the day down."""
    first, last = (datetime.fromisoformat(hours["depart"].iloc[row]).date() for row in (0, -1))
    _months(ax, first, (last - first).days + 1)
    ax.set_yticks([0, 6, 12, 18, 24])
    ax.set_ylim(24, 0)
    ax.set_ylabel("leaving at (hour)")
    ax.set_title(title)


def _months(ax: Axes, first: date, days: int) -> None:
    starts = [(date(first.year, month, 1) - first).days for month in range(1, 13)]
    ax.set_xticks(starts, MONTHS, ha="left")
    ax.set_xlim(0, days)
    for spine in ax.spines.values():
        spine.set_visible(True)


def _swatch(ink: str, word: str) -> tuple[Patch, ...]:
    """Draw a colour and the hatching over it, as they lie in the chart, with a frame."""
    fill = Patch(facecolor=ink, linewidth=0.0)
    frame = Patch(facecolor="none", edgecolor=INK, linewidth=0.4)
    if word not in HATCHES:
        return fill, frame
    hatch, hatch_ink = HATCHES[word]
    with mpl.rc_context({"hatch.color": hatch_ink}):
        return fill, Patch(facecolor="none", linewidth=0.0, hatch=hatch), frame


def _key(ax: Axes, entries: list[tuple[str, str]]) -> None:
    handles: list[Any] = [_swatch(ink, word) for ink, word in entries]
    ax.legend(
        handles=handles,
        labels=[LABELS.get(word, word) for _ink, word in entries],
        loc="upper left",
        bbox_to_anchor=(0.0, 0.0),
        bbox_transform=offset_copy(
            ax.transAxes, ax.get_figure(root=True), y=-KEY_PT, units="points"
        ),
        ncols=min(len(handles), KEY_COLUMNS),
        fontsize=9,
        handlelength=1.2,
        columnspacing=1.0,
        borderaxespad=0.0,
    )


@in_ink
def bags_chart(
    bags: list[tuple[str, pd.DataFrame]],
    hour: int,
    ax: Axes | None = None,
    *,
    size_in: tuple[float, float] | None = None,
) -> Axes:
    """Draw one strip a bag: the verdict on each day, leaving at the plan's hour."""
    _left, below, right, above = MARGINS_IN
    high_in = STRIP_IN * len(bags) + below + above
    ax = ax or new_axes(size_in or (SIZE_IN[0], high_in), (NAMES_IN, below, right, above))
    words = list(VERDICTS)
    strips = []
    for _name, hours in bags:
        codes = np.array([float(words.index(word)) for word in hours["verdict"]])
        strips.append(on_calendar(hours, codes)[hour])
    chart = np.vstack(strips)
    _fill(ax, chart, list(VERDICTS.values()))
    _months(ax, datetime.fromisoformat(bags[0][1]["depart"].iloc[0]).date(), chart.shape[1])
    ax.set_yticks(np.arange(len(bags)) + 0.5, [name or "the plan's bag" for name, _ in bags])
    ax.set_ylim(len(bags), 0)
    ax.tick_params(axis="y", length=0)
    ax.hlines(np.arange(1, len(bags)), 0, chart.shape[1], color=INK, linewidth=0.6)
    ax.set_title(f"Leaving at {hour} h: the verdict of every day")
    _key(ax, [(ink, word) for word, ink in VERDICTS.items()])
    return ax


def category_words(hours: pd.DataFrame, column: str, inks: dict[str, str], *, title: str) -> str:
    """Say what a chart of words tells: how many departure hours have which."""
    counts = hours[column].value_counts()
    told = [f"{word} {counts[word]:,}" for word in inks if word in counts.index]
    return f"{title} {CHART}. Of {len(hours):,} departure hours: {', '.join(told)}."


def cold_words(hours: pd.DataFrame, *, units: Units) -> str:
    """Say what the chart of cold tells: how many departure hours fall into each band."""
    bands = cold_bands(hours["coldest_felt_c"].to_numpy(dtype=float))
    counts = [int((bands == code).sum()) for code in range(len(COLD_INKS))]
    told = [f"{name} {n:,}" for name, n in zip(cold_names(units), counts, strict=True) if n]
    return f"Coldest felt on the walk {CHART}. Of {len(hours):,} hours: {', '.join(told)}."


def bags_words(bags: list[tuple[str, pd.DataFrame]], hour: int) -> str:
    """Say what the chart of bags tells: the days of each verdict."""
    told = []
    for name, hours in bags:
        then = [datetime.fromisoformat(text).hour == hour for text in hours["depart"]]
        counts = hours["verdict"][then].value_counts()
        days = ", ".join(f"{word} {counts[word]}" for word in VERDICTS if word in counts.index)
        told.append(f"{name or 'the plan' + chr(39) + 's bag'}: {days}")
    return f"Days of each verdict when leaving at {hour} h, one strip a bag. {'; '.join(told)}."
