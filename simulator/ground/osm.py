"""The door for map extracts: what a file holds, as arrays and tagged features.

What walking tags mean is decided once for each distinct combination of them.
"""

from __future__ import annotations

import bz2
import gzip
import re
import zlib
from array import array
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from simulator.arrays import Floats
from simulator.errors import InputError, of_the_machine
from simulator.ground import assemble
from simulator.ground.assemble import StreetArrays, build_network
from simulator.ground.corridor import Corridor
from simulator.ground.walkable import (
    ATTRIBUTION,
    DRAWN,
    INVENTED_ATTRIBUTION,
    KEYS,
    STREET_TAGS,
    Walkability,
    Wanted,
    aliases_of,
    barrier_blocks,
    bridge_name_of,
    collect_rejected,
    collect_ways,
    crossing_delay_s,
    has_any,
    judge,
    may_be_place,
    name_of,
)

if TYPE_CHECKING:
    from collections.abc import Container

OUTER = frozenset({"outer", ""})
"""Roles of the ways that bound an area from outside (OpenStreetMap wiki, "Relation:multipolygon",
from memory; an empty role counts as outer)."""


INNER = "inner"
"""Role of the ways around what is no part of an area: islands of a lake, clearings of a wood."""

HOLE = "walkhome:hole"
"""Key that marks the outline of such a hole among the lines; no key of the map."""


class Area(NamedTuple):
    """A relation that bounds an area.

    Attributes
    ----------
    number : int
        Its number.
    tags : dict of str to str
        OSM tags.
    outer, inner : tuple of int
        Numbers of its outer ways, and of those around islands and clearings.
    """

    number: int
    tags: dict[str, str]
    outer: tuple[int, ...]
    inner: tuple[int, ...] = ()


@dataclass(slots=True)
class Chains:
    """Point numbers of many ways, end to end.

    Attributes
    ----------
    refs : array of int
        Point numbers.
    count : list of int
        How many belong to each way.
    """

    refs: array[int] = field(default_factory=lambda: array("q"))
    count: list[int] = field(default_factory=list)

    def add(self, refs: list[int]) -> None:
        """Append a way."""
        self.refs.extend(refs)
        self.count.append(len(refs))


@dataclass(slots=True)
class Outlines:
    """Areas, and the ways that may bound them.

    Attributes
    ----------
    areas : list of Area
        Those with a way here.
    ways : list of int
        Numbers of the ways.
    chains : Chains
        Their points.
    """

    areas: list[Area] = field(default_factory=list)
    ways: list[int] = field(default_factory=list)
    chains: Chains = field(default_factory=Chains)

    def add(self, number: int, refs: list[int]) -> None:
        """Append a way that may bound an area."""
        self.ways.append(number)
        self.chains.add(refs)


def read_areas(
    path: Path,
    wanted: Callable[[Mapping[str, str]], bool],
    *,
    among: Container[int] | None = None,
) -> list[Area]:
    """Read the relations that bound an area."""
    import osmium

    found = []
    bounding = osmium.filter.TagFilter(("type", "multipolygon"))
    for relation in osmium.FileProcessor(str(path), osmium.osm.RELATION).with_filter(bounding):
        tags = dict(relation.tags)
        if not wanted(tags):
            continue
        outer = tuple(
            member.ref for member in relation.members if member.type == "w" and member.role in OUTER
        )
        inner = tuple(
            member.ref for member in relation.members if member.type == "w" and member.role == INNER
        )
        if outer and (among is None or any(number in among for number in outer)):
            found.append(Area(relation.id, tags, outer, inner))
    return found


def joined(pieces: Iterable[tuple[Floats, Floats]]) -> list[tuple[Floats, Floats]]:
    """Join pieces of outlines end to end."""
    lines = [np.column_stack(piece) for piece in pieces if piece[0].size > 1]
    if not lines:
        return []
    merged = shapely.line_merge(shapely.MultiLineString(lines))
    parts = (shapely.get_coordinates(part) for part in shapely.get_parts(merged))
    return [(part[:, 0].copy(), part[:, 1].copy()) for part in parts]


FIXED_POINT = 1e-7
"""Degrees in one unit of a stored coordinate (OSM stores seven decimals)."""

TABLE_BYTES = 8_000_000
"""The scratch table is emptied when it is longer than this [bytes]: half a million points."""

BATCH_WAYS = 20_000
"""Ways compared with the corridor at a time."""

_NO_POSITION = 2147483647
RECORD = np.dtype([("id", "<i8"), ("x", "<i4"), ("y", "<i4")])
"""A row of the scratch table, as the decoder writes it."""
_ROWS = 1 << 19
_LONGEST_CAUSE = 160
_LOOK_BYTES = 1 << 16
_ACCESSED = re.compile(r"accessed (\d{4}-\d\d-\d\d)")


@dataclass(slots=True)
class Raw:
    """What the passes over a file collect.

    Attributes
    ----------
    positions : (N,) structured array
        Point numbers and fixed-point positions, sorted by number.
    ids, verdicts, names, bridge_names, aliases : list
        Of walkable ways.
    streets : Chains
        Their points.
    rejected : list of tuple
        Number, highway, name and reason of refused ways.
    points : list of tuple
        Number, longitude, latitude [degrees] and tags of points that may be places.
    shapes, outlines : list of tuple, Chains
        Number and tags of ways that may be places, and their points.
    drawn, courses : list of dict, Chains
        Tags of ways to draw, and their points.
    areas : Outlines
        Relations that may be places or are drawn, and the ways that bound them.
    blocked : list of int
        Points with a barrier.
    delays : dict of int to float
        Wait at a point [s].
    attribution : str
        Whose data this is.
    known : dict
        Verdict for each combination of walking tags.
    """

    positions: NDArray[Any] = field(default_factory=lambda: np.empty(0, RECORD))
    ids: list[int] = field(default_factory=list)
    verdicts: list[Walkability] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    bridge_names: list[str] = field(default_factory=list)
    aliases: list[str] = field(default_factory=list)
    streets: Chains = field(default_factory=Chains)
    rejected: list[tuple[int, str, str, str]] = field(default_factory=list)
    points: list[tuple[int, float, float, dict[str, str]]] = field(default_factory=list)
    shapes: list[tuple[int, dict[str, str]]] = field(default_factory=list)
    outlines: Chains = field(default_factory=Chains)
    drawn: list[dict[str, str]] = field(default_factory=list)
    courses: Chains = field(default_factory=Chains)
    areas: Outlines = field(default_factory=Outlines)
    blocked: list[int] = field(default_factory=list)
    delays: dict[int, float] = field(default_factory=dict)
    attribution: str = ATTRIBUTION
    known: dict[frozenset[tuple[str, str]], Walkability] = field(default_factory=dict)


LONGEST_ELEMENT_BYTES = 1 << 20
"""A piece of XML without an end of an element within this is no map [bytes]: a value has at most
255 characters (OpenStreetMap wiki, "Elements", from memory), and readers hold all of it."""


def refuse_giants(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """Pass XML on piece by piece, as long as its elements end within bounds.

    Parameters
    ----------
    pieces : iterable of bytes
        Of a file, each far smaller than `LONGEST_ELEMENT_BYTES`.

    Yields
    ------
    bytes
        The same.

    Raises
    ------
    ValueError
        If an element is longer than any in a map.
    """
    run = 0
    for piece in pieces:
        first = piece.find(b">")
        run += len(piece) if first < 0 else first
        if run > LONGEST_ELEMENT_BYTES:
            msg = f"an element longer than {LONGEST_ELEMENT_BYTES / 1e6:.0f} MB"
            raise ValueError(msg)
        if first >= 0:
            run = len(piece) - piece.rfind(b">") - 1
        yield piece


def _refuse_giants_in(path: Path) -> None:
    """Look through a file of XML, packed or not, before the map library holds an element of it."""
    suffix = path.suffix.lower()
    if suffix not in {".gz", ".bz2", ".osm"}:
        return
    with path.open("rb") as raw:
        stream = (
            gzip.GzipFile(fileobj=raw)
            if suffix == ".gz"
            else bz2.BZ2File(raw)
            if suffix == ".bz2"
            else raw
        )
        for _ in refuse_giants(iter(lambda: stream.read(_LOOK_BYTES), b"")):
            pass


def scan(path: Path, wanted: Wanted, area: Corridor | None) -> Raw:
    """Read a file."""
    import osmium

    raw = Raw()
    try:
        _refuse_giants_in(path)
        with TemporaryDirectory(ignore_cleanup_errors=True) as scratch:
            table = _Table(Path(scratch) / "positions", area)
            if area is None:
                _pass_over(path, raw, wanted, table)
            else:
                _nodes_inside(path, raw, wanted, table, area)
            raw.positions = table.positions()
            del table
        if area is not None:
            _ways_touching(path, raw, wanted)
        elif min(raw.streets.refs, default=0) < 0:
            raw.positions = np.concatenate([_unregistered(path), raw.positions])
    except (
        *(RuntimeError, ValueError, OSError, EOFError, zlib.error),
        osmium.InvalidLocationError,
    ) as error:
        # A fault with a number of the system's is of the scratch table, not of the map.
        numbered = isinstance(error, OSError) and error.errno is not None
        if isinstance(error, InputError) or numbered or of_the_machine(error):
            raise
        cause = " ".join(str(error).split())[:_LONGEST_CAUSE]
        raise InputError(
            str(path),
            f"cannot be read as a map extract ({cause}); it is damaged, cut short or of another "
            "kind: download or export it again",
        ) from error
    return raw


def credit_of(header: Any) -> str:  # noqa: ANN401 - osmium header
    """Give the credit of a file from its header."""
    generator = header.get("generator", "")
    if "invented" in generator.lower():
        return INVENTED_ATTRIBUTION
    day = header.get("osmosis_replication_timestamp", "")[:10]
    accessed = _ACCESSED.search(generator)
    return (
        ATTRIBUTION
        + (f", data of {day}" if re.fullmatch(r"\d{4}-\d\d-\d\d", day) else "")
        + (f", accessed {accessed.group(1)}" if accessed else "")
    )


class _Table:
    """The scratch table of positions, which the decoder fills and we empty."""

    def __init__(self, path: Path, area: Corridor | None) -> None:
        import osmium

        self._path = path
        self._area = area
        self._store = osmium.index.create_map(f"sparse_file_array,{path}")
        self._kept: list[NDArray[Any]] = []
        self.locate = osmium.NodeLocationsForWays(self._store)
        self.locate.apply_nodes_to_ways = False

    def empty_when_full(self) -> None:
        if self._store.used_memory() > TABLE_BYTES:
            self._empty()

    def _empty(self) -> None:
        rows = self._store.used_memory() // RECORD.itemsize
        for start in range(0, rows, _ROWS):
            count = min(_ROWS, rows - start)
            found: NDArray[Any] = np.fromfile(
                self._path, RECORD, count=count, offset=start * RECORD.itemsize
            )
            found = found[found["x"] != _NO_POSITION]
            if self._area is not None:
                found = found[_inside(found["x"], found["y"], self._area)]
            self._kept.append(found)
        self._store.clear()

    def positions(self) -> NDArray[Any]:
        """Give all positions kept, sorted by point number."""
        self._empty()
        positions = np.concatenate([np.empty(0, RECORD), *self._kept])
        number = positions["id"]
        if number.size and (number[1:] <= number[:-1]).any():
            # Of several versions of a point the last one counts.
            _, last = np.unique(number[::-1], return_index=True)
            positions = positions[number.size - 1 - last]
        return positions


def _inside(x: NDArray[np.int32], y: NDArray[np.int32], area: Corridor) -> NDArray[np.bool_]:
    """Tell which fixed-point positions lie in a corridor; most are far away, and found so fast."""
    near = np.zeros(x.size, bool)
    for west, south, east, north in area.boxes():
        level = (y >= south / FIXED_POINT) & (y <= north / FIXED_POINT)
        for turn in (-360.0, 0.0, 360.0):
            low, high = (west + turn) / FIXED_POINT, (east + turn) / FIXED_POINT
            near |= level & (x >= low) & (x <= high)
    rows = np.flatnonzero(near)
    lon, lat = (axis[rows].astype(np.float64) * FIXED_POINT for axis in (x, y))
    near[rows] = area.contains(lon, lat)
    return near


def _pass_over(path: Path, raw: Raw, wanted: Wanted, table: _Table) -> None:
    """Take everything in one pass."""
    import osmium

    # The relations come last in a file, but say which of the ways before them to keep.
    raw.areas.areas = read_areas(path, lambda tags: wanted(tags) or has_any(tags, DRAWN))
    bounding = {number for area in raw.areas.areas for number in (*area.outer, *area.inner)}
    processor = osmium.FileProcessor(str(path), osmium.osm.NODE | osmium.osm.WAY)
    raw.attribution = credit_of(processor.header)
    for item in processor.with_filter(table.locate).with_filter(_tagged_nodes()):
        if item.is_node():
            table.empty_when_full()
            _take_node(item, raw, wanted)
        else:
            refs = [node.ref for node in item.nodes]
            _take_way(item.id, dict(item.tags), refs, raw, wanted)
            if item.id in bounding:
                raw.areas.add(item.id, refs)


def _nodes_inside(path: Path, raw: Raw, wanted: Wanted, table: _Table, area: Corridor) -> None:
    """Take the points of a corridor."""
    import osmium

    boxes = [
        (west + turn, south, east + turn, north)
        for west, south, east, north in area.boxes()
        for turn in (-360.0, 0.0, 360.0)
    ]
    processor = osmium.FileProcessor(str(path), osmium.osm.NODE)
    raw.attribution = credit_of(processor.header)
    for node in processor.with_filter(table.locate).with_filter(_tagged_nodes()):
        table.empty_when_full()
        at = node.location
        if not at.valid():
            continue
        lon, lat = at.lon, at.lat
        if any(w <= lon <= e and s <= lat <= n for w, s, e, n in boxes):
            _take_node(node, raw, wanted)
    lon, lat = (np.array([point[part] for point in raw.points], np.float64) for part in (1, 2))
    inside = area.contains(lon, lat)
    raw.points = [point for point, kept in zip(raw.points, inside, strict=True) if kept]


def _ways_touching(path: Path, raw: Raw, wanted: Wanted) -> None:
    """Take the ways that have a point among the positions, and the areas that they bound."""
    import osmium

    number = np.ascontiguousarray(raw.positions["id"])
    batch: list[tuple[int, dict[str, str]]] = []
    chains = Chains()

    def settle() -> None:
        present = known_rows(number, chains.refs)[0]
        ends = np.cumsum([0, *chains.count])
        touching = np.diff(np.concatenate([[0], np.cumsum(present)])[ends]) > 0
        for index in np.flatnonzero(touching).tolist():
            refs = chains.refs[ends[index] : ends[index + 1]].tolist()
            _take_way(*batch[index], refs, raw, wanted)
            raw.areas.add(batch[index][0], refs)
        batch.clear()
        chains.refs, chains.count = array("q"), []

    for way in osmium.FileProcessor(str(path), osmium.osm.WAY):
        batch.append((way.id, dict(way.tags)))
        chains.add([node.ref for node in way.nodes])
        if len(batch) >= BATCH_WAYS:
            settle()
    settle()
    raw.areas.areas = read_areas(
        path, lambda tags: wanted(tags) or has_any(tags, DRAWN), among=frozenset(raw.areas.ways)
    )


def _tagged_nodes() -> Any:  # noqa: ANN401 - osmium filter
    import osmium

    untagged = osmium.filter.EmptyTagFilter()
    untagged.enable_for(osmium.osm.NODE)
    return untagged


def _take_node(node: Any, raw: Raw, wanted: Wanted) -> None:  # noqa: ANN401 - osmium node
    tags = dict(node.tags)
    if "barrier" in tags and barrier_blocks(tags):
        raw.blocked.append(node.id)
    delay_s = crossing_delay_s(tags)
    if delay_s:
        raw.delays[node.id] = delay_s
    if wanted(tags) and node.location.valid():
        raw.points.append((node.id, node.lon, node.lat, tags))


def _take_way(number: int, tags: dict[str, str], refs: list[int], raw: Raw, wanted: Wanted) -> None:
    if "highway" in tags or has_any(tags, STREET_TAGS):
        verdict = _verdict(tags, raw)
        if verdict.walkable:
            raw.ids.append(number)
            raw.verdicts.append(verdict)
            raw.names.append(name_of(tags))
            raw.bridge_names.append(bridge_name_of(tags))
            raw.aliases.append(aliases_of(tags))
            raw.streets.add(refs)
        else:
            raw.rejected.append((number, tags.get("highway", ""), name_of(tags), verdict.reason))
    if wanted(tags):
        raw.shapes.append((number, tags))
        raw.outlines.add(refs)
    if has_any(tags, DRAWN):
        raw.drawn.append(tags)
        raw.courses.add(refs)


def _verdict(tags: Mapping[str, str], raw: Raw) -> Walkability:
    """Judge each combination of walking tags once."""
    walking = frozenset(item for item in tags.items() if item[0] in KEYS)
    verdict = raw.known.get(walking)
    if verdict is None:
        verdict = raw.known[walking] = judge(tags)
    return verdict


def _unregistered(path: Path) -> NDArray[Any]:
    """Positions of points with negative numbers, which editors give before they upload."""
    import osmium

    found = {
        node.id: (node.id, node.location.x, node.location.y)
        for node in osmium.FileProcessor(str(path), osmium.osm.NODE)
        if node.id < 0
    }
    return np.array([found[number] for number in sorted(found)], RECORD)


def known_rows(
    number: NDArray[np.int64],
    refs: Any,  # noqa: ANN401 - any buffer or list of int
) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Say which point numbers are known, and the rows of those."""
    refs = np.asarray(refs, np.int64)
    if not number.size:
        return np.zeros(refs.size, bool), np.empty(0, np.int64)
    row = np.searchsorted(number, refs)
    row[row == number.size] = 0
    present = number[row] == refs
    return present, row[present]


ENDINGS = (".osm.pbf", ".pbf", ".osm", ".osm.gz", ".osm.bz2")
"""Endings of the file names that can be read."""


class Feature(NamedTuple):
    """A tagged feature as the map has it.

    Attributes
    ----------
    osm : str
        "n123", "w45" or "r6": kind and number.
    lon, lat : float
        Position [degrees]; of a way or relation, the mean of its outline's points.
    tags : dict of str to str
        OSM tags.
    """

    osm: str
    lon: float
    lat: float
    tags: dict[str, str]


class Line(NamedTuple):
    """A way, or the outline of an area, kept for the map.

    Attributes
    ----------
    tags : dict of str to str
        OSM tags.
    lon, lat : (K,) float64
        Its points [degrees].
    """

    tags: dict[str, str]
    lon: Floats
    lat: Floats


@dataclass(frozen=True, slots=True)
class Extract:
    """What one map extract holds.

    Attributes
    ----------
    streets : StreetArrays
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

    streets: StreetArrays
    places: tuple[Feature, ...]
    lines: tuple[Line, ...]
    counts: dict[str, int]
    attribution: str


def credit_at(path: Path) -> str:
    """Give the credit of a map without reading its streets.

    Parameters
    ----------
    path : pathlib.Path
        An extract, or a graph in GraphML.

    Returns
    -------
    str
        With the days that the file knows.
    """
    if path.name.endswith(".graphml"):
        from simulator.ground.graphml import read_graphml

        return read_graphml(path).attribution
    import osmium

    with osmium.io.Reader(str(path), osmium.osm.NOTHING) as reader:
        return credit_of(reader.header())


def read_extract(
    path: Path | str, *, wanted: Wanted = may_be_place, area: Corridor | None = None
) -> Extract:
    """Read a map extract, whole or where a walk needs it.

    Parameters
    ----------
    path : path
        ``.osm.pbf``, ``.osm``, ``.osm.gz`` or ``.osm.bz2``.
    wanted : callable
        Given the tags of a point or way, whether to keep it as a place.
    area : Corridor, optional
        Keep only what lies inside: memory then grows with the corridor and not with the file.
        Segments across its border are left out, as at the border of any extract.

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
    return _arrange(scan(path, wanted, area), str(path), wanted)


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


def _arrange(raw: Raw, where: str, wanted: Wanted) -> Extract:
    number = np.ascontiguousarray(raw.positions["id"])
    lon = raw.positions["x"] * FIXED_POINT
    lat = raw.positions["y"] * FIXED_POINT
    blocked = np.zeros(number.size, bool)
    blocked[known_rows(number, raw.blocked)[1]] = True
    delay_s = np.zeros(number.size)
    present, rows = known_rows(number, list(raw.delays))
    delay_s[rows] = np.array(list(raw.delays.values()))[present]
    points = assemble.Points(number, lon, lat, blocked, delay_s)
    segments, outside = _segments(raw.streets, points)
    counts = {"segments_outside": outside}
    streets = build_network(
        points,
        segments,
        collect_ways(raw.ids, raw.verdicts, raw.names, raw.bridge_names, raw.aliases),
        rejected=collect_rejected(raw.rejected),
        counts=counts,
        attribution=raw.attribution,
        where=where,
    )
    places = [
        *(Feature(f"n{number}", lon, lat, tags) for number, lon, lat, tags in raw.points),
        *_shapes(raw, points),
    ]
    lines = [*_lines(raw, points)]
    for area, outline, holes in _outlines(raw, points):
        if wanted(area.tags):
            places.append(_middle(f"r{area.number}", outline, area.tags))
        if has_any(area.tags, DRAWN):
            lines += (Line(area.tags, *_wound(*ring, ahead=True)) for ring in outline)
            tags = {**area.tags, HOLE: "yes"}
            lines += (Line(tags, *_wound(*ring, ahead=False)) for ring in holes)
    return Extract(streets, tuple(places), tuple(lines), streets.counts, raw.attribution)


def _segments(chains: Chains, points: assemble.Points) -> tuple[assemble.Segments, int]:
    """Cut ways into segments; those with an end outside the extract are left out and counted."""
    count = np.array(chains.count, np.int64)
    present, found = known_rows(points.node_id, chains.refs)
    row = np.full(present.size, -1, np.int64)
    row[present] = found
    way = np.repeat(np.arange(count.size), count)
    inside = way[1:] == way[:-1]
    tail, head, way = row[:-1][inside], row[1:][inside], way[1:][inside]
    known = (tail >= 0) & (head >= 0)
    tail, head, way = tail[known], head[known], way[known]
    length_m = assemble.geodesic_m(points.lon, points.lat, tail, head)
    return assemble.Segments(tail, head, way, length_m), int((~known).sum())


def _chains(chains: Chains, points: assemble.Points) -> Iterator[tuple[int, Floats, Floats]]:
    """Positions of each way, without points outside the extract."""
    present, found = known_rows(points.node_id, chains.refs)
    kept = np.concatenate([[0], np.cumsum(present)])
    ends = np.cumsum([0, *chains.count])
    lon, lat = points.lon[found], points.lat[found]
    for index, (start, stop) in enumerate(zip(kept[ends[:-1]], kept[ends[1:]], strict=True)):
        if stop > start:
            yield index, lon[start:stop], lat[start:stop]


def _shapes(raw: Raw, points: assemble.Points) -> Iterator[Feature]:
    for index, lon, lat in _chains(raw.outlines, points):
        number, tags = raw.shapes[index]
        yield _middle(f"w{number}", [(lon, lat)], tags)


def _middle(osm: str, outline: list[tuple[Floats, Floats]], tags: dict[str, str]) -> Feature:
    def whole(line: tuple[Floats, Floats]) -> slice:
        # The last point of an outline repeats the first.
        lon, lat = line
        return slice(lon.size - (lon.size > 1 and lon[0] == lon[-1] and lat[0] == lat[-1]))

    lon, lat = (np.concatenate([line[axis][whole(line)] for line in outline]) for axis in (0, 1))
    return Feature(osm, float(lon.mean()), float(lat.mean()), tags)


def _outlines(
    raw: Raw, points: assemble.Points
) -> Iterator[tuple[Area, list[tuple[Floats, Floats]], list[tuple[Floats, Floats]]]]:
    """Give areas, their outlines and those of their holes, as far as they lie in the extract."""
    ways = {
        raw.areas.ways[index]: (lon, lat) for index, lon, lat in _chains(raw.areas.chains, points)
    }
    for area in raw.areas.areas:
        outline, holes = (
            joined(ways[number] for number in numbers if number in ways)
            for numbers in (area.outer, area.inner)
        )
        if outline:
            yield area, outline, holes


def _wound(lon: Floats, lat: Floats, *, ahead: bool) -> tuple[Floats, Floats]:
    """Run a closed outline against the clock, or with it; so the hole of an area stays empty."""
    closed = lon[0] == lon[-1] and lat[0] == lat[-1]
    twice_area = float((lon[:-1] * lat[1:] - lon[1:] * lat[:-1]).sum())
    if closed and (twice_area > 0.0) != ahead:
        return lon[::-1].copy(), lat[::-1].copy()
    return lon, lat


def _lines(raw: Raw, points: assemble.Points) -> Iterator[Line]:
    for index, lon, lat in _chains(raw.courses, points):
        yield Line(raw.drawn[index], lon, lat)
