"""Street by street: where to turn, into what, after which bridge, how far and how steep.

Turns are read from the drawn line alone: the bearing over a short stretch before a street is left
against that over a short stretch after. Signs and local names may differ from the map.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

BEARING_OVER_M = 30.0
"""Bearings are taken over this much of the way before and after a turn [m] (assumed)."""

STRAIGHT_DEG, BEAR_DEG, SHARP_DEG = 30.0, 60.0, 135.0
"""Below the first it is straight on, below the second one bears, above the third it is sharp
[deg]; common practice."""

SLIVER_M = 40.0
"""A stretch shorter than this, and any stretch without a name shorter than `UNNAMED_M`, is told
with the one before it [m] (assumed)."""

UNNAMED_M = 120.0

LANDMARK_M = 60.0
"""A bridge or a place is named beside a turn that follows within this distance [m] (assumed)."""

MOST = 60
"""More instructions than this are thinned by telling short stretches with those before them."""

STEEP, SLOPED = 0.06, 0.02
"""Slopes from which ground is called steep, and up- or downhill (assumed)."""

ROLLING_M = 8.0
"""Climb and fall that make a stretch go up and down [m] (assumed)."""

DEGREE_M = 111_195.0
"""One degree of latitude on a sphere of 6,371 km [m]; used only to compare near points."""


@dataclass(frozen=True, slots=True)
class Direction:
    """One instruction and the stretch that follows it.

    Attributes
    ----------
    along_m : float
        Where it is given, from the start [m].
    turn : str
        ``start``, ``straight on``, ``left``, ``right``, ``bear left``, ``bear right``,
        ``sharp left`` or ``sharp right``.
    street : str
        Name of the street turned into; empty when it has none.
    kind : str
        Its class, as the map tags it.
    after : str
        Bridge or place that the turn follows; empty when none stands there.
    length_m : float
        How far it is followed [m].
    ascent_m, descent_m : float
        Climb and fall on it [m].
    ground : str
        ``level``, ``uphill``, ``downhill``, ``steeply uphill``, ``steeply downhill`` or ``up and
        down``.
    over : tuple of str
        Bridges crossed on it, in order.
    through : tuple of str
        ``tunnel`` and ``stairs`` where there are any.
    """

    along_m: float
    turn: str
    street: str
    kind: str
    after: str
    length_m: float
    ascent_m: float
    descent_m: float
    ground: str
    over: tuple[str, ...]
    through: tuple[str, ...]


def directions(
    steps: pd.DataFrame, *, landmarks: Sequence[tuple[float, str]] = (), end: tuple[float, float]
) -> tuple[Direction, ...]:
    """Tell the way street by street."""
    if len(steps) == 0:
        return ()
    start = steps["distance_m"].to_numpy(np.float64)
    edges = np.append(start, start[-1] + float(steps["run_m"].iloc[-1]))
    line = _Line(steps, edges, end)
    cuts = _cuts(steps, edges)
    bridges = _bridges(steps, edges)
    marks = sorted([*landmarks, *((after, name) for _before, after, name in bridges)])
    told = []
    for number, (first, after) in enumerate(zip(cuts, [*cuts[1:], len(steps)], strict=True)):
        main = _longest(steps, first, after)
        at_m = float(edges[first])
        told.append(
            Direction(
                along_m=at_m,
                turn="start" if number == 0 else turn_words(line.turn_deg(at_m)),
                street=main[0],
                kind=main[1],
                after="" if number == 0 else _mark_before(marks, at_m),
                length_m=float(edges[after] - edges[first]),
                ascent_m=float(np.maximum(steps["rise_m"].iloc[first:after], 0.0).sum()),
                descent_m=float(np.maximum(-steps["rise_m"].iloc[first:after], 0.0).sum()),
                ground="",
                over=tuple(name for begin, _end, name in bridges if at_m <= begin < edges[after]),
                through=tuple(
                    word
                    for word, column in (("tunnel", "tunnel"), ("stairs", "steps"))
                    if bool(steps[column].iloc[first:after].any())
                ),
            )
        )
    return tuple(
        replace(one, ground=ground_words(one.length_m, one.ascent_m, one.descent_m)) for one in told
    )


def turn_words(turn_deg: float) -> str:
    """Say a turn in words.

    Parameters
    ----------
    turn_deg : float
        Change of bearing, positive to the right, -180 to 180 [deg].

    Returns
    -------
    str
        As in ``Direction.turn``.

    Examples
    --------
    >>> turn_words(90.0), turn_words(-45.0), turn_words(10.0), turn_words(-170.0)
    ('right', 'bear left', 'straight on', 'sharp left')
    """
    size = abs(turn_deg)
    if size < STRAIGHT_DEG:
        return "straight on"
    side = "right" if turn_deg > 0.0 else "left"
    if size < BEAR_DEG:
        return f"bear {side}"
    return f"sharp {side}" if size > SHARP_DEG else side


def ground_words(length_m: float, ascent_m: float, descent_m: float) -> str:
    """Say how the ground runs.

    Parameters
    ----------
    length_m : float
        Length of the stretch [m].
    ascent_m, descent_m : float
        Climb and fall on it [m].

    Returns
    -------
    str
        As in ``Direction.ground``.

    Examples
    --------
    >>> ground_words(400.0, 30.0, 0.0), ground_words(1000.0, 20.0, 20.0)
    ('steeply uphill', 'up and down')
    """
    if length_m <= 0.0:
        return "level"
    slope = (ascent_m - descent_m) / length_m
    if abs(slope) >= SLOPED:
        way = "uphill" if slope > 0.0 else "downhill"
        return f"steeply {way}" if abs(slope) >= STEEP else way
    if min(ascent_m, descent_m) >= ROLLING_M:
        return "up and down"
    return "level"


class _Line:
    """The drawn way in metres, for bearings."""

    def __init__(
        self, steps: pd.DataFrame, edges: NDArray[np.float64], end: tuple[float, float]
    ) -> None:
        lon = np.append(steps["lon"].to_numpy(np.float64), end[0])
        lat = np.append(steps["lat"].to_numpy(np.float64), end[1])
        self.edges = edges
        self.y = lat * DEGREE_M
        self.x = lon * DEGREE_M * math.cos(math.radians(float(lat.mean())))

    def turn_deg(self, at_m: float) -> float:
        """Give the change of bearing at a distance, positive to the right [deg]."""
        reach = min(BEARING_OVER_M, at_m, float(self.edges[-1]) - at_m)
        before, here, after = (self._at(at_m + shift) for shift in (-reach, 0.0, reach))
        turn = self._bearing(here, after) - self._bearing(before, here)
        return (turn + 180.0) % 360.0 - 180.0

    def _at(self, at_m: float) -> tuple[float, float]:
        return (
            float(np.interp(at_m, self.edges, self.x)),
            float(np.interp(at_m, self.edges, self.y)),
        )

    @staticmethod
    def _bearing(begin: tuple[float, float], end: tuple[float, float]) -> float:
        return math.degrees(math.atan2(end[0] - begin[0], end[1] - begin[1]))


def _cuts(steps: pd.DataFrame, edges: NDArray[np.float64]) -> list[int]:
    """Find the steps at which another street begins, slivers told with what goes before."""
    names = [
        name or f"\0{kind}" for name, kind in zip(steps["street"], steps["highway"], strict=True)
    ]
    changes = [0, *(row for row in range(1, len(names)) if names[row] != names[row - 1])]
    runs = [
        (names[first], first, float(edges[after] - edges[first]))
        for first, after in zip(changes, [*changes[1:], len(names)], strict=True)
    ]
    shortest, unnamed = SLIVER_M, UNNAMED_M
    while True:
        kept = _joined(runs, shortest, unnamed)
        if len(kept) <= MOST:
            return [first for _name, first, _length in kept]
        shortest, unnamed = 2.0 * shortest, 2.0 * unnamed


def _joined(
    runs: list[tuple[str, int, float]], shortest_m: float, unnamed_m: float
) -> list[tuple[str, int, float]]:
    kept: list[tuple[str, int, float]] = []
    for name, first, length in runs:
        least = unnamed_m if name.startswith("\0") else shortest_m
        if kept and (length < least or kept[-1][0] == name):
            last = kept[-1]
            kept[-1] = (last[0], last[1], last[2] + length)
        elif len(kept) == 1 and kept[0][2] < shortest_m:
            kept[0] = (name, kept[0][1], kept[0][2] + length)
        else:
            kept.append((name, first, length))
    return kept


def _longest(steps: pd.DataFrame, first: int, after: int) -> tuple[str, str]:
    """Name the street that makes up most of some steps, and its class."""
    length: dict[tuple[str, str], float] = {}
    part = steps.iloc[first:after]
    for name, kind, run in zip(part["street"], part["highway"], part["run_m"], strict=True):
        length[(name, kind)] = length.get((name, kind), 0.0) + float(run)
    by_name: dict[str, float] = {}
    for (name, _kind), run in length.items():
        by_name[name] = by_name.get(name, 0.0) + run
    best = max(by_name, key=lambda name: (by_name[name], name))
    kinds = {kind: run for (name, kind), run in length.items() if name == best}
    return best, max(kinds, key=lambda kind: (kinds[kind], kind))


def _bridges(steps: pd.DataFrame, edges: NDArray[np.float64]) -> list[tuple[float, float, str]]:
    """Find the bridges crossed: where each begins and ends, and its name."""
    on = steps["bridge"].to_numpy(bool)
    starts = np.flatnonzero(on & ~np.append(False, on[:-1]))
    ends = np.flatnonzero(on & ~np.append(on[1:], False)) + 1
    found: list[tuple[float, float, str]] = []
    for first, after in zip(starts.tolist(), ends.tolist(), strict=True):
        named = [name for name in steps["bridge_name"].iloc[first:after] if name]
        name = named[0] if named else "the bridge"
        begin = float(edges[first])
        if found and begin - found[-1][1] < SLIVER_M and found[-1][2] == name:
            begin = found.pop()[0]
        found.append((begin, float(edges[after]), name))
    return found


def _mark_before(marks: list[tuple[float, str]], at_m: float) -> str:
    """Name the last thing passed shortly before a turn."""
    passed = [name for where, name in marks if at_m - LANDMARK_M <= where <= at_m + 1.0]
    return passed[-1] if passed else ""
