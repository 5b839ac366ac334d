"""What a bridge spans, and what to call it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from simulator.ground.extract import Line
from simulator.ground.streets import Streets
from simulator.ground.walkable import HIGHWAYS

SPANNED = {"waterway": "", "railway": "rail", "natural": "water"}
"""Keys of map lines a bridge may span, and what to call the line; "" is its own value."""

SPAN_ORDER = ("river", "canal", "water", "rail", "road", "stream")
"""What is told first of several things below."""

WATERWAYS = frozenset({"river", "canal", "stream"})
"""With one of these below, the outline of the same water is not told again."""

BRIDGE_WORDS = (
    "bridge",
    "brücke",
    "brucke",
    "steg",
    "brug",
    "pont",
    "ponte",
    "puente",
    "ford",
    "stones",
)
"""Endings of words that already say what it is (common words, not a full list)."""

FOOT_KINDS = frozenset({"footway", "path", "steps", "pedestrian", "bridleway", "corridor"})
"""Classes of street whose bridge is called a footbridge."""

Kind = tuple[str, str]
"""What passes below, and its name or ""."""


def spanned(
    streets: Streets,
    pieces: Sequence[NDArray[np.int32]],
    of_segment: NDArray[np.int32],
    lines: Sequence[Line],
) -> list[list[Kind]]:
    """Tell what passes below each bridge, from lines that cross it without meeting it.

    Parameters
    ----------
    streets : Streets
        The street network.
    pieces : sequence of ndarray of int
        Segments of each bridge.
    of_segment : ndarray of int, shape (M,)
        Bridge of each segment, -1 for none.
    lines : sequence of Line
        Water and rail of the map.

    Returns
    -------
    list of list of (str, str)
        For each bridge what passes below and its name, the most telling first.
    """
    below: list[set[Kind]] = [set() for _ in pieces]
    if not pieces:
        return []
    deck = np.concatenate(pieces)
    ends = np.stack([streets.tail[deck], streets.head[deck]], axis=1)
    decks = np.asarray(
        shapely.linestrings(np.stack([streets.lon[ends], streets.lat[ends]], axis=-1))
    )
    tree = shapely.STRtree(decks)
    meets = [
        frozenset(np.concatenate([streets.tail[rows], streets.head[rows]]).tolist())
        for rows in pieces
    ]
    layer = streets.ways.layer[streets.way]
    for street, row in _crossed_streets(streets, tree).tolist():
        number = int(of_segment[deck[row]])
        shares = {int(streets.tail[street]), int(streets.head[street])} & meets[number]
        if of_segment[street] != number and not shares and layer[street] <= layer[deck[row]]:
            below[number].add(("road", ""))
    for line in lines:
        kind = _line_kind(line)
        if kind is not None and line.lon.size > 1:
            path = shapely.linestrings(line.lon, line.lat)
            for row in tree.query(path, predicate="intersects").tolist():
                below[int(of_segment[deck[row]])].add(kind)
    return [_in_order(kinds) for kinds in below]


def said(kind: Kind) -> str:
    """Say what passes below: the kind and its name, unless the name says the kind.

    Parameters
    ----------
    kind : (str, str)
        From ``spanned``.

    Returns
    -------
    str
        Such as ``river Rhein`` or ``rail``.
    """
    what, name = kind
    return name if what in name.casefold().split() else f"{what} {name}".strip()


def _in_order(kinds: set[Kind]) -> list[Kind]:
    """Put what is below in order, without the nameless where one of the kind has a name."""
    named = {kind for kind, name in kinds if name}
    kept = {(kind, name) for kind, name in kinds if name or kind not in named}
    if WATERWAYS & {kind for kind, _ in kept}:
        kept = {(kind, name) for kind, name in kept if kind != "water"}
    rank = {kind: place for place, kind in enumerate(SPAN_ORDER)}
    return sorted(kept, key=lambda kind: (rank.get(kind[0], len(rank)), kind))


def _line_kind(line: Line) -> Kind | None:
    """Tell what a line of the map is; None if no bridge spans such a thing."""
    for key, kind in SPANNED.items():
        value = line.tags.get(key)
        if value is not None and value != "coastline":
            return kind or value, line.tags.get("name", "")
    return None


def _crossed_streets(streets: Streets, tree: shapely.STRtree) -> NDArray[np.int64]:
    """Pairs (segment, deck row) whose lines cross."""
    lon_tail, lon_head = streets.lon[streets.tail], streets.lon[streets.head]
    lat_tail, lat_head = streets.lat[streets.tail], streets.lat[streets.head]
    west, south, east, north = shapely.total_bounds(tree.geometries)
    near = (np.maximum(lon_tail, lon_head) >= west) & (np.maximum(lat_tail, lat_head) >= south)
    near &= (np.minimum(lon_tail, lon_head) <= east) & (np.minimum(lat_tail, lat_head) <= north)
    rows = np.flatnonzero(near)
    ends = np.stack([streets.tail[rows], streets.head[rows]], axis=1)
    lines = shapely.linestrings(np.stack([streets.lon[ends], streets.lat[ends]], axis=-1))
    street, deck = tree.query(lines, predicate="crosses")
    return np.column_stack([rows[street], deck])


def crossing_names(
    streets: Streets,
    pieces: Sequence[NDArray[np.int32]],
    ford: NDArray[np.bool_],
    below: Sequence[Sequence[Kind]],
    xy: NDArray[np.float64],
    middles: Sequence[tuple[float, float]],
) -> tuple[str, ...]:
    """Name each bridge by itself, by its street, or by what is near; all different.

    Parameters
    ----------
    streets : Streets
        The street network.
    pieces : sequence of ndarray of int
        Segments of each crossing.
    ford : ndarray of bool
        Which of them are fords.
    below : sequence of sequence of (str, str)
        From ``spanned``.
    xy : ndarray of float, shape (N, 2)
        Nodes in flat coordinates [m].
    middles : sequence of (float, float)
        Middle of each crossing in the same coordinates [m].

    Returns
    -------
    tuple of str
        One a crossing.
    """
    crossing = np.zeros(len(streets.ways), bool)
    crossing[streets.way[np.concatenate([np.empty(0, np.int32), *pieces]).astype(np.int32)]] = True
    elsewhere = {streets.ways.name[row] for row in np.flatnonzero(~crossing)} - {""}
    only_here = ["" if name in elsewhere else name for name in streets.ways.name]
    nearest = _landmarks(streets, np.flatnonzero(~crossing[streets.way]), xy)
    given = []
    for number, rows in enumerate(pieces):
        what = "ford" if ford[number] else _kind(streets, rows)
        over = next((name for _, name in below[number] if name), "")
        suffix = f" over {over}" if over and not ford[number] else ""
        own = _longest(streets, rows, streets.ways.bridge_name)
        alone = _longest(streets, rows, only_here)
        street = alone or _longest(streets, rows, streets.ways.name)
        words = street.casefold().split()
        if own or any(word.endswith(BRIDGE_WORDS) for word in (words if alone else words[-1:])):
            given.append(own or street)
        elif street:
            given.append(f"{street} {'ford' if ford[number] else 'bridge'}{suffix}")
        else:
            near = nearest(*middles[number])
            given.append(f"{what}{suffix}{near and f' near {near}'}")
    return _different(given)


def _longest(streets: Streets, rows: NDArray[np.int32], names: Sequence[str]) -> str:
    """Give the name that the greatest length of some segments bears, or ""."""
    length_m: dict[str, float] = {}
    for segment in rows.tolist():
        name = names[int(streets.way[segment])]
        length_m[name] = length_m.get(name, 0.0) + float(streets.length_m[segment])
    length_m.pop("", None)
    return min(length_m, key=lambda name: (-length_m[name], name), default="")


def _landmarks(
    streets: Streets, rows: NDArray[np.int64], xy: NDArray[np.float64]
) -> Callable[[float, float], str]:
    """Make a look-up of the nearest named street among some segments."""
    named = np.array([bool(name) for name in streets.ways.name], bool)
    rows = rows[named[streets.way[rows]]]
    if rows.size == 0:
        return lambda _x, _y: ""

    @cache
    def tree() -> cKDTree:
        """Index the streets when the first nameless crossing asks."""
        return cKDTree((xy[streets.tail[rows]] + xy[streets.head[rows]]) / 2)

    return lambda x, y: streets.ways.name[streets.way[rows[tree().query((x, y))[1]]]]


def _kind(streets: Streets, rows: NDArray[np.int32]) -> str:
    """Tell a footbridge from a bridge."""
    kinds = {HIGHWAYS[int(streets.ways.highway[way])] for way in np.unique(streets.way[rows])}
    return "footbridge" if kinds <= FOOT_KINDS else "bridge"


def _different(names: Sequence[str]) -> tuple[str, ...]:
    """Tell apart the names that occur more than once."""
    count = Counter(names)
    seen: Counter[str] = Counter()
    result = []
    for name in names:
        seen[name] += 1
        result.append(f"{name} ({seen[name]})" if count[name] > 1 else name)
    return tuple(result)
