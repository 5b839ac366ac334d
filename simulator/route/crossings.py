"""Physical bridges, put together from the pieces a map draws them in.

A map cuts one bridge into several ways, draws two carriageways, and lays the footway beside the
road deck as a way of its own. What a flood or an inspector closes is all of them at once, so
pieces that touch, or lie side by side along the same line, make one crossing here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from simulator.ground.osm import Line
from simulator.ground.streets import Streets
from simulator.ground.walkable import HIGHWAYS, Ways

SPANNED = {"waterway": "", "railway": "rail", "natural": "water", "highway": "road"}
"""Keys of map lines a bridge may span, and what to call the line; "" is its own value."""

SPAN_ORDER = ("river", "canal", "water", "rail", "road", "stream")
"""What is told first of several things below."""

WATERWAYS = frozenset({"river", "canal", "stream", "drain", "ditch"})
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
    """Tell what passes below each bridge, from lines that cross it without meeting it."""
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
    """Say what passes below: the kind and its name, unless the name says the kind."""
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
    """Name each bridge by itself, by its street, or by what is near; all different."""
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
    # Bridges of one name are told apart by what is near, and only then by number.
    twice = {name for name, count in Counter(given).items() if count > 1}
    for number, name in enumerate(given):
        if name in twice and " near " not in name:
            near = nearest(*middles[number], without=name)
            given[number] = f"{name} near {near}" if near else name
    return _different(given)


def _longest(streets: Streets, rows: NDArray[np.int32], names: Sequence[str]) -> str:
    """Give the name that the greatest length of some segments bears, or ""."""
    length_m: dict[str, float] = {}
    for segment in rows.tolist():
        name = names[int(streets.way[segment])]
        length_m[name] = length_m.get(name, 0.0) + float(streets.length_m[segment])
    length_m.pop("", None)
    return min(length_m, key=lambda name: (-length_m[name], name), default="")


LOOKED_AT = 40
"""Streets looked at for one that tells two bridges apart."""


def _landmarks(
    streets: Streets, rows: NDArray[np.int64], xy: NDArray[np.float64]
) -> Callable[..., str]:
    """Make a look-up of the nearest named street among some segments."""
    named = np.array([bool(name) for name in streets.ways.name], bool)
    rows = rows[named[streets.way[rows]]]
    if rows.size == 0:
        return lambda _x, _y, without="": str(without)[:0]

    @cache
    def tree() -> cKDTree:
        """Index the streets when the first nameless crossing asks."""
        return cKDTree((xy[streets.tail[rows]] + xy[streets.head[rows]]) / 2)

    def nearest(x: float, y: float, without: str = "") -> str:
        """Name the nearest street, of the next few one that a name does not hold already."""
        for row in np.atleast_1d(tree().query((x, y), k=min(LOOKED_AT, rows.size))[1]).tolist():
            name: str = streets.ways.name[streets.way[rows[row]]]
            if name.casefold() not in without.casefold():
                return name
        return ""

    return nearest


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


BESIDE_M = 25.0
"""Decks of one street whose centre lines come this near, in the same direction, are one bridge [m]
(assumed: two carriageways of three lanes)."""

GAP_M = 6.0
"""Decks of different streets with this much or less between their edges are one structure: a
footway hung beside a road [m]; an assumption, 3 to 10."""

LANE_M, VERGE_M = 3.5, 2.0
"""Width of a lane, and of what lies beside the lanes of a deck [m]; common practice."""

DECK_M = {
    **dict.fromkeys(("motorway", "trunk", "primary", "secondary"), 9.0),
    **dict.fromkeys(("tertiary", "unclassified", "residential", "road", "living_street"), 7.5),
    **dict.fromkeys(("service", "track", "pedestrian"), 4.5),
}
"""Width of a deck whose lanes are not mapped, by kind [m]; assumptions."""

FOOT_DECK_M = 2.5
"""Width of any other deck [m]; an assumption, 1.5 to 4."""

BESIDE_ANGLE_DEG = 30.0
"""Decks that differ by more than this in direction pass over one another [degrees] (assumed)."""

BESIDE_OVERLAP = 0.5
"""Share of the shorter deck that must lie beside the longer one (assumed)."""

DEGREE_M = 111_195.0
"""One degree of latitude on a sphere of 6,371 km [m]; used only to compare near points."""

FORD_NOTE = "ford="
"""Beginning of the note of a way that crosses water without a bridge."""


@dataclass(frozen=True, slots=True)
class Crossings:
    """The physical bridges of a map.

    Attributes
    ----------
    name : tuple of str, shape (C,)
        Its name, or a description of where it is; all different.
    spans : tuple of str, shape (C,)
        What passes below (``river Stour``, ``rail and road``), or ``unknown``.
    ford : ndarray of bool, shape (C,)
        Whether it is a ford: no bridge, and lost as soon as the water rises.
    way_ids : tuple of tuple of int, shape (C,)
        OSM numbers of the ways it is made of, ascending.
    lon, lat : ndarray of float, shape (C,)
        Middle of its pieces [degrees].
    length_m : ndarray of float, shape (C,)
        From its first end to its last, as the crow flies [m].
    start : ndarray of int, shape (C + 1,)
        Segments of crossing i are ``member[start[i]:start[i + 1]]``.
    member : ndarray of int
        Segments, by crossing.
    of_segment : ndarray of int, shape (M,)
        The crossing each segment belongs to, -1 for none.
    """

    name: tuple[str, ...]
    spans: tuple[str, ...]
    ford: NDArray[np.bool_]
    way_ids: tuple[tuple[int, ...], ...]
    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    length_m: NDArray[np.float64]
    start: NDArray[np.int64]
    member: NDArray[np.int32]
    of_segment: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.name)

    def segments(self, number: int) -> NDArray[np.int32]:
        """Give the segments of one crossing.

        Parameters
        ----------
        number : int
            Which one.

        Returns
        -------
        ndarray of int
            Rows of segments, ascending.
        """
        return self.member[self.start[number] : self.start[number + 1]]

    def mask(self, *numbers: int) -> NDArray[np.bool_]:
        """Mark the segments of some crossings.

        Parameters
        ----------
        *numbers : int
            Which ones.

        Returns
        -------
        ndarray of bool, shape (M,)
            True on their segments.
        """
        return np.isin(self.of_segment, numbers)


def group_crossings(streets: Streets, *, lines: Sequence[Line] = ()) -> Crossings:
    """Put the bridge segments of a map together into physical bridges; fords likewise.

    Parameters
    ----------
    streets : Streets
        The street network.
    lines : sequence of Line
        Water and rail of the map, to tell what each bridge spans; streets are found without.

    Returns
    -------
    Crossings
        Bridges in the order of their lowest segment, then fords.
    """
    x, y = _metres(streets)
    bridges = np.flatnonzero(streets.ways.bridge[streets.way])
    fords = np.flatnonzero(_fords(streets)[streets.way])
    pieces = _pieces(bridges, _beside(streets, bridges, _touching(streets, bridges), x, y))
    ford = np.arange(len(pieces)) < 0
    wet = _pieces(fords, _touching(streets, fords))
    pieces, ford = [*pieces, *wet], np.append(ford, np.ones(len(wet), bool))
    of_segment = np.full(streets.tail.size, -1, np.int32)
    for number, rows in enumerate(pieces):
        of_segment[rows] = number
    below = spanned(streets, pieces, of_segment, lines)
    middles = [(_middle(x, streets, rows), _middle(y, streets, rows)) for rows in pieces]
    return Crossings(
        name=crossing_names(streets, pieces, ford, below, np.column_stack([x, y]), middles),
        spans=tuple(" and ".join(map(said, kinds)) or "unknown" for kinds in below),
        ford=ford,
        way_ids=tuple(
            tuple(sorted(streets.ways.osm_id[np.unique(streets.way[rows])].tolist()))
            for rows in pieces
        ),
        lon=np.array([_middle(streets.lon, streets, rows) for rows in pieces], float),
        lat=np.array([_middle(streets.lat, streets, rows) for rows in pieces], float),
        length_m=np.array([_extent(x, y, streets, rows)[1] for rows in pieces], float),
        start=np.cumsum([0, *(rows.size for rows in pieces)]).astype(np.int64),
        member=np.concatenate([np.empty(0, np.int32), *pieces]).astype(np.int32),
        of_segment=of_segment,
    )


def _fords(streets: Streets) -> NDArray[np.bool_]:
    """Tell the ways that cross water without a bridge."""
    ways = streets.ways
    notes = (note.split("; ") for note in ways.note)
    wet = [any(part.startswith(FORD_NOTE) for part in parts) for parts in notes]
    return np.array(wet, bool) & ~ways.bridge


def _pieces(rows: NDArray[np.int64], label: NDArray[np.int32]) -> list[NDArray[np.int32]]:
    """Gather segments by label, numbered by first appearance: the map's order."""
    _, first = np.unique(label, return_index=True)
    return [rows[label == label[place]].astype(np.int32) for place in np.sort(first)]


def _metres(streets: Streets) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Flat coordinates good enough to compare points some tens of metres apart."""
    middle = np.radians(streets.lat.mean()) if streets.lat.size else 0.0
    return streets.lon * DEGREE_M * np.cos(middle), streets.lat * DEGREE_M


def _middle(values: NDArray[np.float64], streets: Streets, rows: NDArray[np.int32]) -> float:
    """Centre of the span of some segments in one coordinate."""
    ends = np.concatenate([values[streets.tail[rows]], values[streets.head[rows]]])
    return float((ends.min() + ends.max()) / 2)


def _extent(
    x: NDArray[np.float64], y: NDArray[np.float64], streets: Streets, rows: NDArray[np.int32]
) -> tuple[NDArray[np.float64], float]:
    """Direction (unit vector) and length of the longest line across some segments [m]."""
    nodes = np.unique(np.concatenate([streets.tail[rows], streets.head[rows]]))
    points = np.column_stack([x[nodes], y[nodes]])
    centred = points - points.mean(0)
    far = points[np.argmax((centred**2).sum(1))]
    other = points[np.argmax(((points - far) ** 2).sum(1))]
    length = float(np.hypot(*(other - far)))
    return (other - far) / max(length, 1e-9), length


def _touching(streets: Streets, deck: NDArray[np.int64]) -> NDArray[np.int32]:
    """Label the sets of bridge segments that share nodes."""
    nodes = streets.node_id.size
    same = streets.same_node()
    columns = np.concatenate([same[streets.tail[deck]], same[streets.head[deck]]])
    rows = np.tile(np.arange(deck.size), 2) + nodes
    links = coo_array(
        (np.ones(rows.size, np.int8), (rows, columns)), shape=(nodes + deck.size,) * 2
    )
    labels = connected_components(links, directed=False)[1][nodes:]
    return np.unique(labels, return_inverse=True)[1].astype(np.int32)


def _beside(
    streets: Streets,
    deck: NDArray[np.int64],
    label: NDArray[np.int32],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
) -> NDArray[np.int32]:
    """Join sets of bridge segments that run side by side."""
    if deck.size == 0:
        return label
    ends = np.stack([streets.tail[deck], streets.head[deck]], axis=1)
    lines = np.asarray(shapely.linestrings(np.stack([x[ends], y[ends]], axis=-1)))
    left, right = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=BESIDE_M)
    apart = label[left] < label[right]
    pairs = np.unique(np.column_stack([label[left[apart]], label[right[apart]]]), axis=0)
    joined = []
    for first, second in pairs.tolist():
        rows = [deck[label == number].astype(np.int32) for number in (first, second)]
        if _side_by_side(x, y, streets, *rows) and _one_structure(x, y, streets, *rows):
            joined.append((first, second))
    count = int(label.max()) + 1
    row, column = np.array(joined, np.int64).reshape(-1, 2).T
    links = coo_array((np.ones(row.size, np.int8), (row, column)), shape=(count, count))
    together: NDArray[np.int32] = connected_components(links, directed=False)[1]
    return together[label]


def _side_by_side(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    streets: Streets,
    first: NDArray[np.int32],
    second: NDArray[np.int32],
) -> bool:
    """Whether two near decks run along the same line, one beside the other."""
    (axis, length), (other_axis, other_length) = (
        _extent(x, y, streets, rows) for rows in (first, second)
    )
    if abs(float(axis @ other_axis)) < np.cos(np.radians(BESIDE_ANGLE_DEG)):
        return False
    if other_length > length:
        axis = other_axis
    spans = []
    for rows in (first, second):
        nodes = np.concatenate([streets.tail[rows], streets.head[rows]])
        along = x[nodes] * axis[0] + y[nodes] * axis[1]
        spans.append((along.min(), along.max()))
    shared = min(spans[0][1], spans[1][1]) - max(spans[0][0], spans[1][0])
    return bool(shared >= BESIDE_OVERLAP * min(high - low for low, high in spans))


def _one_structure(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    streets: Streets,
    first: NDArray[np.int32],
    second: NDArray[np.int32],
) -> bool:
    """Whether closing one of two decks side by side means closing the other."""
    ways = streets.ways
    rows = [np.unique(streets.way[part]) for part in (first, second)]
    decks, levels, called = (
        [{values[row] for row in part.tolist()} for part in rows]
        for values in (ways.bridge_name, ways.layer.tolist(), ways.name)
    )
    for own, other in ((decks[0] - {""}, decks[1] - {""}), (levels[0] - {0}, levels[1] - {0})):
        if own and other and own.isdisjoint(other):
            return False
    apart_m = _apart_m(x, y, streets, first, second)
    if (called[0] & called[1]) - {""}:
        return apart_m <= BESIDE_M
    half_m = sum(0.5 * max(_deck_m(ways, row) for row in part.tolist()) for part in rows)
    return apart_m - half_m <= GAP_M


def _deck_m(ways: Ways, row: int) -> float:
    """Width of the deck of a way [m]."""
    if ways.lanes[row]:
        return LANE_M * float(ways.lanes[row]) + VERGE_M
    return DECK_M.get(HIGHWAYS[ways.highway[row]].removesuffix("_link"), FOOT_DECK_M)


def _apart_m(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    streets: Streets,
    first: NDArray[np.int32],
    second: NDArray[np.int32],
) -> float:
    """Distance between the centre lines of two decks, where they lie side by side [m]."""
    lines = [
        shapely.multilinestrings(
            [[(x[end], y[end]) for end in (streets.tail[row], streets.head[row])] for row in part]
        )
        for part in (first.tolist(), second.tolist())
    ]
    shorter, longer = sorted(lines, key=shapely.length)
    middles = shapely.line_interpolate_point(shapely.get_parts(shorter), 0.5, normalized=True)
    return float(np.median(shapely.distance(middles, longer)))
