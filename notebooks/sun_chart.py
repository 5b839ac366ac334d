"""The height of the sun through a year: night, twilight and day by date and clock hour."""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes

from simulator.arrays import Floats
from simulator.report.figures.style import (
    ACCENT,
    FAINT,
    GREY,
    HATCH,
    INK,
    PAPER,
    in_ink,
    new_axes,
)
from simulator.sky.sun import CIVIL_TWILIGHT_DEG, SUNRISE_DEG

WIDTH_IN: Final = 5.6
SUN_LEVELS_DEG: Final = (15.0, 30.0, 45.0, 60.0)
MONTH_STARTS: Final = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
MONTH_NAMES: Final = ("J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D")


@in_ink
def sun_year(
    elevation_deg: Floats,
    day: Floats,
    hour_of_day: Floats,
    *,
    across: str,
    width_in: float = WIDTH_IN,
    height_in: float = 3.0,
) -> Axes:
    """Draw the height of the sun through a year, with night, twilight and day."""
    ax = new_axes((width_in, height_in), (0.52, 0.42, 0.95, 0.10))
    heights = elevation_deg.T
    ax.contourf(
        day,
        hour_of_day,
        heights,
        levels=(-90.0, CIVIL_TWILIGHT_DEG, SUNRISE_DEG, 90.0),
        colors=(PAPER, FAINT, PAPER),
        hatches=(HATCH["night"], "", HATCH["day"]),  # dots would make a file ten times as large
    )
    ax.contour(
        day,
        hour_of_day,
        heights,
        levels=(CIVIL_TWILIGHT_DEG, SUNRISE_DEG),
        colors=INK,
        linewidths=(0.6, 1.6),
        linestyles="solid",
    )
    for level in SUN_LEVELS_DEG:
        if level < float(heights.max()):
            ax.contour(
                day,
                hour_of_day,
                heights,
                levels=(level,),
                colors=GREY,
                linewidths=0.7,
                linestyles=((0, (4, 2)),),
            )
            _level_name(ax, elevation_deg, day, hour_of_day, level)
    ax.set_xticks(MONTH_STARTS, MONTH_NAMES, ha="left")
    ax.set_yticks(np.arange(0.0, 25.0, 3.0))
    ax.set_ylim(0.0, 24.0)
    ax.set_xlabel(across)
    ax.set_ylabel("clock hour")
    _edge_names(ax, elevation_deg[-1], hour_of_day)
    return ax


def _edge_names(ax: Axes, last_deg: Floats, hours: Floats) -> None:
    """Name the lines right of the axes, where they meet the last day."""
    for level, morning, evening in (
        (CIVIL_TWILIGHT_DEG, "civil dawn", "civil dusk"),
        (SUNRISE_DEG, "sunrise", "sunset"),
    ):
        above = np.flatnonzero(last_deg >= level)
        if not 0 < above.size < last_deg.size:
            continue
        apart = 0.35 if level == SUNRISE_DEG else -0.35
        for words, hour in (
            (morning, float(hours[above[0]]) + apart),
            (evening, float(hours[above[-1]]) - apart),
        ):
            ax.annotate(
                words,
                (1.015, hour / 24.0),
                xycoords="axes fraction",
                va="center_baseline",
                fontweight="bold" if level == SUNRISE_DEG else "normal",
                annotation_clip=False,
            )


def _level_name(ax: Axes, elevation_deg: Floats, day: Floats, hours: Floats, level: float) -> None:
    """Write a height on its line, in the afternoon of the longest day."""
    longest = int(np.argmax(elevation_deg.max(axis=1)))
    afternoon = np.flatnonzero(elevation_deg[longest] >= level)
    ax.text(
        float(day[longest]),
        float(hours[afternoon[-1]]),
        f"{level:g}°",
        ha="center",
        va="center",
        color=ACCENT,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
    )
