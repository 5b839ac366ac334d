"""What figures, paper and page show of a walk's tables, gathered once for all of them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simulator.report.glyphs import first_given
from simulator.report.subject import Track, Walk, runs
from simulator.report.words import clean
from simulator.units import Units

FloatArray = NDArray[np.float64]

UNNAMED = "unnamed"
BRIDGE_GAP_M = 30.0
"""Bridge pieces closer than this are one crossing [m]."""


def units_of(walk: Walk) -> Units:
    """Units the plan asks for.

    Parameters
    ----------
    walk : Walk
        The walk.

    Returns
    -------
    Units
        Metric unless the plan says ``us``.
    """
    return Units("us" if walk.plan.units == "us" else "metric")


def attribution_of(walk: Walk) -> str:
    """Whose data the map is, as its source asks to be named.

    Parameters
    ----------
    walk : Walk
        The walk.

    Returns
    -------
    str
        One line; empty if the source asks for nothing.
    """
    return clean(getattr(walk.streets, "attribution", "") or "")


def given_by(value: object) -> tuple[str, ...]:
    """Read what a place gives from a table cell.

    Parameters
    ----------
    value : object
        A set of words, or text such as ``water, help``.

    Returns
    -------
    tuple of str
        The words, sorted.
    """
    if isinstance(value, str):
        return tuple(sorted(word for word in value.replace(",", " ").split() if word))
    return tuple(sorted(str(word) for word in value)) if isinstance(value, Iterable) else ()


def places_of(walk: Walk) -> pd.DataFrame:
    """Refill table in walking order, with a glyph for each place and a number for each stop.

    Parameters
    ----------
    walk : Walk
        The walk.

    Returns
    -------
    DataFrame
        The walk's columns, and ``glyph`` (a key of `GLYPHS`), ``mark`` (``1``, ``2`` … for
        planned stops, else empty), ``given`` (tuple of str). ``used`` is bool.
    """
    table = walk.refills.sort_values(["along_km", "off_m"], kind="stable").reset_index(drop=True)
    used = table["used"].astype(bool)
    given = [given_by(value) for value in table["gives"]]
    return table.assign(
        used=used,
        given=pd.Series(given, dtype=object),
        glyph=[first_given(words) for words in given],
        mark=[str(count) if stop else "" for stop, count in zip(used, used.cumsum(), strict=True)],
    )


def bridge_spans(walk: Walk) -> list[tuple[float, float, str]]:
    """Bridges crossed, in order: where each starts and ends along the way, and its name.

    Parameters
    ----------
    walk : Walk
        The walk.

    Returns
    -------
    list of (float, float, str)
        Start and end [m along the way] and the street's name, perhaps empty.
    """
    steps = walk.segments
    start = steps["distance_m"].to_numpy(np.float64)
    end = start + steps["run_m"].to_numpy(np.float64)
    named = steps["bridge_name"].astype(str)
    names = named.where(named != "", steps["street"].astype(str)).to_numpy()
    spans: list[tuple[float, float, str]] = []
    for first, after, on_bridge in runs(steps["bridge"].to_numpy(bool)):
        if not on_bridge:
            continue
        name = next((clean(n) for n in names[first:after] if clean(n)), "")
        begins, ends = float(start[first]), float(end[after - 1])
        if spans and begins - spans[-1][1] < BRIDGE_GAP_M and name in {spans[-1][2], ""}:
            begins, _, name = spans.pop()
        spans.append((begins, ends, name))
    return spans


def heights_known(walk: Walk, track: Track) -> bool:
    """Tell whether heights mean anything: there was a raster, and it covered the way.

    Parameters
    ----------
    walk : Walk
        The walk.
    track : Track
        Its positions.

    Returns
    -------
    bool
        False where the ground was counted as flat.
    """
    return walk.streets.terrain is not None and bool(np.isfinite(track.height_m).all())


def longest_dry_m(walk: Walk, track: Track) -> tuple[float, float]:
    """Find the longest stretch without water that can be drunk as it is.

    Places known to be shut and water that must be treated do not count.

    Parameters
    ----------
    walk : Walk
        The walk.
    track : Track
        Its positions.

    Returns
    -------
    (float, float)
        Start and end along the way [m].
    """
    places = places_of(walk)
    wet = np.array(["water" in given for given in places["given"]], dtype=bool)
    wet &= (places["open"] != "no").to_numpy(bool) & ~places["needs_treatment"].to_numpy(bool)
    at = np.sort(places["along_km"].to_numpy(np.float64)[wet] * 1000.0)
    edges = np.concatenate([[0.0], at, [track.length_m]])
    widest = int(np.argmax(np.diff(edges)))
    return float(edges[widest]), float(edges[widest + 1])
