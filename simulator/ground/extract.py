"""The door for map extracts: one streaming pass, and everything lands in arrays.

Positions go from the decoder straight into a scratch table and from there into numpy, so that no
Python object is made for a point without tags. What walking tags mean is decided once for each
distinct combination of them.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.errors import InputError
from simulator.ground import assemble
from simulator.ground.barriers import barrier_blocks, crossing_delay_s
from simulator.ground.build import build_streets
from simulator.ground.streets import Streets
from simulator.ground.walkable import KEYS, Verdict, judge, words
from simulator.ground.ways import bridge_name_of, collect_rejected, collect_ways, name_of

ENDINGS = (".osm.pbf", ".pbf", ".osm", ".osm.gz", ".osm.bz2")
"""Endings of the file names that can be read."""

ATTRIBUTION = "Map data © OpenStreetMap contributors, ODbL 1.0"
"""Credit that goes with every OpenStreetMap extract (openstreetmap.org/copyright)."""

INVENTED_ATTRIBUTION = "Invented place: no real map data"
"""Credit of an extract whose header says that its generator invented it."""

PLACE_KEYS = words(
    "amenity shop emergency man_made natural tourism drinking_water leisure healthcare office "
    "social_facility public_transport"
)
"""Keys of features that may be places to refill, shelter or get help."""

NO_PLACES = {"natural": words("tree tree_row wood water coastline scrub grassland bare_rock")}
"""Values of these keys that alone make no place: too many, or drawn as lines."""

PUBLIC_BUILDINGS = words(
    "church chapel mosque synagogue temple cathedral school university hospital civic public "
    "government train_station transportation hotel fire_station community_centre sports_hall"
)
"""Values of ``building`` that may shelter a walker even without a name."""

DRAWN = {
    "waterway": words("river stream canal riverbank"),
    "natural": words("water coastline"),
    "leisure": words("park"),
    "landuse": words("forest"),
    "railway": words("rail light_rail tram narrow_gauge"),
}
"""Ways kept as lines, to draw the map and to find open water."""

STREET_TAGS = {
    "route": words("ferry"),
    "man_made": words("pier"),
    "railway": words("platform"),
    "public_transport": words("platform"),
}
"""Ways without ``highway`` that a walker may ask about."""

Wanted = Callable[[Mapping[str, str]], bool]
"""Given the tags of a point or way, whether to keep it as a place."""

FIXED_POINT = 1e-7
"""Degrees in one unit of a stored coordinate (OSM stores seven decimals)."""

_NO_POSITION = 2147483647
_RECORD = np.dtype([("id", "<i8"), ("x", "<i4"), ("y", "<i4")])
_LONGEST_CAUSE = 160


class Feature(NamedTuple):
    """A tagged feature as the map has it.

    Attributes
    ----------
    osm : str
        "n123" or "w45": kind and number.
    lon, lat : float
        Position [degrees]; of a way, the mean of its points.
    tags : dict of str to str
        OSM tags.
    """

    osm: str
    lon: float
    lat: float
    tags: dict[str, str]


class Line(NamedTuple):
    """A way kept for the map.

    Attributes
    ----------
    tags : dict of str to str
        OSM tags.
    lon, lat : (K,) float64
        Its points [degrees].
    """

    tags: dict[str, str]
    lon: NDArray[np.float64]
    lat: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Extract:
    """What one map extract holds.

    Attributes
    ----------
    streets : Streets
        Walkable streets, without heights.
    places : tuple of Feature
        Features that may be places.
    lines : tuple of Line
        Water, rail, parks and woods, to draw the map.
    counts : dict of str to int
        What was found and dropped.
    attribution : str
        Whose data this is.
    """

    streets: Streets
    places: tuple[Feature, ...]
    lines: tuple[Line, ...]
    counts: dict[str, int]
    attribution: str


def may_be_place(tags: Mapping[str, str]) -> bool:
    """Decide whether a feature may be a place to refill, shelter or get help.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags.

    Returns
    -------
    bool
        True for the keys in :data:`PLACE_KEYS` and for named or public buildings.
    """
    building = tags.get("building")
    if building is not None and (building in PUBLIC_BUILDINGS or "name" in tags):
        return True
    return any(tags[key] not in NO_PLACES.get(key, ()) for key in PLACE_KEYS.intersection(tags))


def read_extract(path: Path | str, *, wanted: Wanted = may_be_place) -> Extract:
    """Read a map extract in one pass.

    Parameters
    ----------
    path : path
        ``.osm.pbf``, ``.osm``, ``.osm.gz`` or ``.osm.bz2``.
    wanted : callable
        Given the tags of a point or way, whether to keep it as a place.

    Returns
    -------
    Extract
        Streets, features and lines.

    Raises
    ------
    InputError
        If the file is missing, of another kind, damaged, or holds no walkable way.
    """
    path = Path(path)
    _check_name(path)
    with TemporaryDirectory(ignore_cleanup_errors=True) as scratch:
        raw = _scan(path, Path(scratch) / "positions", wanted)
    return _arrange(raw, str(path))


@dataclass(slots=True)
class _Chains:
    """Point numbers of many ways, end to end."""

    refs: array[int] = field(default_factory=lambda: array("q"))
    count: list[int] = field(default_factory=list)

    def add(self, nodes: Any) -> None:  # noqa: ANN401 - osmium node list
        self.refs.extend([node.ref for node in nodes])
        self.count.append(len(nodes))


@dataclass(slots=True)
class _Raw:
    """What a pass over the file collects."""

    positions: NDArray[Any] = field(default_factory=lambda: np.empty(0, _RECORD))
    ids: list[int] = field(default_factory=list)
    verdicts: list[Verdict] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    bridge_names: list[str] = field(default_factory=list)
    streets: _Chains = field(default_factory=_Chains)
    rejected: list[tuple[int, str, str, str]] = field(default_factory=list)
    points: list[Feature] = field(default_factory=list)
    shapes: list[tuple[int, dict[str, str]]] = field(default_factory=list)
    outlines: _Chains = field(default_factory=_Chains)
    drawn: list[dict[str, str]] = field(default_factory=list)
    courses: _Chains = field(default_factory=_Chains)
    blocked: list[int] = field(default_factory=list)
    delays: dict[int, float] = field(default_factory=dict)
    attribution: str = ATTRIBUTION
    known: dict[frozenset[tuple[str, str]], Verdict] = field(default_factory=dict)


def _check_name(path: Path) -> None:
    if not path.is_file():
        kind = "is a folder, not a file" if path.is_dir() else "does not exist"
        raise InputError(str(path), f"{kind}; name a map extract ({', '.join(ENDINGS)})")
    if not path.name.lower().endswith(ENDINGS):
        raise InputError(
            str(path), f"is not named like a map extract; allowed are {', '.join(ENDINGS)}"
        )
    if path.stat().st_size == 0:
        raise InputError(str(path), "is empty; download or export the map extract again")


def _scan(path: Path, table: Path, wanted: Wanted) -> _Raw:
    """Read the file once; the decoder writes positions into the table."""
    import osmium  # noqa: PLC0415 - slow to import

    raw = _Raw()
    store = osmium.index.create_map(f"sparse_file_array,{table}")
    locate = osmium.NodeLocationsForWays(store)
    locate.apply_nodes_to_ways = False
    untagged = osmium.filter.EmptyTagFilter()
    untagged.enable_for(osmium.osm.NODE)
    try:
        processor = osmium.FileProcessor(str(path), osmium.osm.NODE | osmium.osm.WAY)
        if "invented" in processor.header.get("generator", "").lower():
            raw.attribution = INVENTED_ATTRIBUTION
        for item in processor.with_filter(locate).with_filter(untagged):
            if item.is_node():
                _take_node(item, raw, wanted)
            else:
                _take_way(item, raw, wanted)
    except (RuntimeError, ValueError, OSError, osmium.InvalidLocationError) as error:
        cause = " ".join(str(error).split())[:_LONGEST_CAUSE]
        raise InputError(
            str(path),
            f"cannot be read as a map extract ({cause}); it is damaged, cut short or of another "
            "kind: download or export it again",
        ) from error
    raw.positions = _positions(table)
    if min(raw.streets.refs, default=0) < 0:
        raw.positions = np.concatenate([_unregistered(path), raw.positions])
    return raw


def _take_node(node: Any, raw: _Raw, wanted: Wanted) -> None:  # noqa: ANN401 - osmium node
    tags = dict(node.tags)
    if "barrier" in tags and barrier_blocks(tags):
        raw.blocked.append(node.id)
    delay_s = crossing_delay_s(tags)
    if delay_s:
        raw.delays[node.id] = delay_s
    if wanted(tags) and node.location.valid():
        raw.points.append(Feature(f"n{node.id}", node.lon, node.lat, tags))


def _take_way(way: Any, raw: _Raw, wanted: Wanted) -> None:  # noqa: ANN401 - osmium way
    tags = dict(way.tags)
    if "highway" in tags or _has(tags, STREET_TAGS):
        walking = frozenset(item for item in tags.items() if item[0] in KEYS)
        verdict = raw.known.get(walking)
        if verdict is None:
            verdict = raw.known[walking] = judge(tags)
        if verdict.walkable:
            raw.ids.append(way.id)
            raw.verdicts.append(verdict)
            raw.names.append(name_of(tags))
            raw.bridge_names.append(bridge_name_of(tags))
            raw.streets.add(way.nodes)
        else:
            raw.rejected.append((way.id, tags.get("highway", ""), name_of(tags), verdict.reason))
    if wanted(tags):
        raw.shapes.append((way.id, tags))
        raw.outlines.add(way.nodes)
    if _has(tags, DRAWN):
        raw.drawn.append(tags)
        raw.courses.add(way.nodes)


def _has(tags: Mapping[str, str], table: Mapping[str, frozenset[str]]) -> bool:
    return any(tags.get(key) in values for key, values in table.items())


def _positions(table: Path) -> NDArray[Any]:
    """Read the table of positions, sorted by point number."""
    positions: NDArray[Any] = np.fromfile(table, _RECORD)
    positions = positions[positions["x"] != _NO_POSITION]
    number = positions["id"]
    if number.size and (number[1:] <= number[:-1]).any():
        # Of several versions of a point the last one counts.
        _, last = np.unique(number[::-1], return_index=True)
        positions = positions[number.size - 1 - last]
    return positions


def _arrange(raw: _Raw, where: str) -> Extract:
    number = np.ascontiguousarray(raw.positions["id"])
    lon = raw.positions["x"] * FIXED_POINT
    lat = raw.positions["y"] * FIXED_POINT
    blocked = np.zeros(number.size, bool)
    blocked[_rows(number, raw.blocked)[1]] = True
    delay_s = np.zeros(number.size)
    present, rows = _rows(number, list(raw.delays))
    delay_s[rows] = np.array(list(raw.delays.values()))[present]
    points = assemble.Points(number, lon, lat, blocked, delay_s)
    segments, outside = _segments(raw.streets, points)
    counts = {"segments_outside": outside}
    streets = build_streets(
        points,
        segments,
        collect_ways(raw.ids, raw.verdicts, raw.names, raw.bridge_names),
        rejected=collect_rejected(raw.rejected),
        counts=counts,
        attribution=raw.attribution,
        where=where,
    )
    places = (*raw.points, *_shapes(raw, points))
    return Extract(streets, places, tuple(_lines(raw, points)), streets.counts, raw.attribution)


def _unregistered(path: Path) -> NDArray[Any]:
    """Positions of points with negative numbers, which editors give before they upload.

    The decoder's table holds positive numbers only; such files are small.
    """
    import osmium  # noqa: PLC0415 - slow to import

    found = {
        node.id: (node.id, node.location.x, node.location.y)
        for node in osmium.FileProcessor(str(path), osmium.osm.NODE)
        if node.id < 0
    }
    return np.array([found[number] for number in sorted(found)], _RECORD)


def _rows(number: NDArray[np.int64], refs: Any) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:  # noqa: ANN401 - any buffer or list of int
    """Say which point numbers are known, and the rows of those."""
    refs = np.asarray(refs, np.int64)
    if not number.size:
        return np.zeros(refs.size, bool), np.empty(0, np.int64)
    row = np.searchsorted(number, refs)
    row[row == number.size] = 0
    present = number[row] == refs
    return present, row[present]


def _segments(chains: _Chains, points: assemble.Points) -> tuple[assemble.Segments, int]:
    """Cut ways into segments; those with an end outside the extract are left out and counted."""
    count = np.array(chains.count, np.int64)
    present, found = _rows(points.node_id, chains.refs)
    row = np.full(present.size, -1, np.int64)
    row[present] = found
    way = np.repeat(np.arange(count.size), count)
    inside = way[1:] == way[:-1]
    tail, head, way = row[:-1][inside], row[1:][inside], way[1:][inside]
    known = (tail >= 0) & (head >= 0)
    tail, head, way = tail[known], head[known], way[known]
    length_m = assemble.geodesic_m(points.lon, points.lat, tail, head)
    return assemble.Segments(tail, head, way, length_m), int((~known).sum())


def _chains(
    chains: _Chains, points: assemble.Points
) -> Iterator[tuple[int, NDArray[np.float64], NDArray[np.float64]]]:
    """Positions of each way, without points outside the extract."""
    present, found = _rows(points.node_id, chains.refs)
    kept = np.concatenate([[0], np.cumsum(present)])
    ends = np.cumsum([0, *chains.count])
    lon, lat = points.lon[found], points.lat[found]
    for index, (start, stop) in enumerate(zip(kept[ends[:-1]], kept[ends[1:]], strict=True)):
        if stop > start:
            yield index, lon[start:stop], lat[start:stop]


def _shapes(raw: _Raw, points: assemble.Points) -> Iterator[Feature]:
    for index, lon, lat in _chains(raw.outlines, points):
        number, tags = raw.shapes[index]
        # The last point of an outline repeats the first.
        closed = lon.size > 1 and lon[0] == lon[-1] and lat[0] == lat[-1]
        stop = lon.size - 1 if closed else lon.size
        yield Feature(f"w{number}", float(lon[:stop].mean()), float(lat[:stop].mean()), tags)


def _lines(raw: _Raw, points: assemble.Points) -> Iterator[Line]:
    for index, lon, lat in _chains(raw.courses, points):
        yield Line(raw.drawn[index], lon, lat)
