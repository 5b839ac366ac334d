"""The door for map extracts: what a file holds, as arrays and tagged features.

What walking tags mean is decided once for each distinct combination of them.
"""

from __future__ import annotations

import bz2
import gzip
import re
import zlib
from array import array
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple, TypeVar

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

T = TypeVar("T")

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
    number : list of int
        Numbers of the ways.
    count : list of int
        How many points each has.
    refs : array of int
        Numbers of the points.
    """

    number: list[int] = field(default_factory=list)
    count: list[int] = field(default_factory=list)
    refs: array[int] = field(default_factory=lambda: array("q"))


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

BATCH_WAYS = 5_000
"""Ways that pass through the scratch file at a time."""

BATCH_BYTES = 1 << 20
"""The decoder writes ways when it holds this much of them [bytes]."""

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
    ways : Chains
        Points of all ways that are looked at.
    streets : list of int
        Rows in ``ways`` of walkable ones.
    verdicts, names, bridge_names, aliases : list
        What each of those is like and called.
    rejected : list of tuple
        Number, highway, name and reason of refused ways.
    points : list of tuple
        Number, longitude, latitude [degrees] and tags of points that may be places.
    shapes, drawn : list of tuple
        Row in ``ways`` and tags of ways that may be places, and of ways to draw.
    areas : list of Area
        Relations that may be places or are drawn.
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
    ways: Chains = field(default_factory=Chains)
    streets: list[int] = field(default_factory=list)
    verdicts: list[Walkability] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    bridge_names: list[str] = field(default_factory=list)
    aliases: list[str] = field(default_factory=list)
    rejected: list[tuple[int, str, str, str]] = field(default_factory=list)
    points: list[tuple[int, float, float, dict[str, str]]] = field(default_factory=list)
    shapes: list[tuple[int, dict[str, str]]] = field(default_factory=list)
    drawn: list[tuple[int, dict[str, str]]] = field(default_factory=list)
    areas: list[Area] = field(default_factory=list)
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
            table, texts = _Table(Path(scratch) / "positions", area), Path(scratch) / "ways"
            if area is None:
                _pass_over(path, raw, wanted, table, texts)
                raw.positions = table.positions()
            else:
                _nodes_inside(path, raw, wanted, table, area)
                raw.positions = table.positions()
                _ways_touching(path, raw, wanted, texts)
            del table
        if area is None and (np.asarray(raw.ways.refs, np.int64) < 0).any():
            raw.positions = np.concatenate([_unregistered(path), raw.positions])
    except (
        *(RuntimeError, ValueError, IndexError, OSError, EOFError, zlib.error),
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


def _pass_over(path: Path, raw: Raw, wanted: Wanted, table: _Table, texts: Path) -> None:
    """Take everything in one pass; which ways bound areas is known at the end of a file."""
    import osmium

    processor = osmium.FileProcessor(
        str(path), osmium.osm.NODE | osmium.osm.WAY | osmium.osm.RELATION
    )
    raw.attribution = credit_of(processor.header)
    batch = _Batch(texts)
    for item in (
        processor.with_filter(table.locate).with_filter(_tagged_nodes()).with_filter(_bounding())
    ):
        if item.is_way():
            batch.add(item)
            if batch.size == BATCH_WAYS:
                _take_ways(batch.read(), raw, wanted)
                batch = _Batch(texts)
        elif item.is_node():
            table.empty_when_full()
            _take_node(item, raw, wanted)
        else:
            raw.areas += _area(item, wanted)
    _take_ways(batch.read(), raw, wanted)


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


def _ways_touching(path: Path, raw: Raw, wanted: Wanted, texts: Path) -> None:
    """Take the ways that have a point among the positions, and the areas that they bound."""
    import osmium

    number = np.ascontiguousarray(raw.positions["id"])

    def settle(batch: _Batch) -> None:
        ways = batch.read()
        inside = np.concatenate([[0], np.cumsum(known_rows(number, ways.refs)[0])])
        ends = np.concatenate([[0], np.cumsum(ways.points)])
        _take_ways(ways.take(np.diff(inside[ends]) > 0), raw, wanted)

    batch = _Batch(texts)
    for way in osmium.FileProcessor(str(path), osmium.osm.WAY):
        batch.add(way)
        if batch.size == BATCH_WAYS:
            settle(batch)
            batch = _Batch(texts)
    settle(batch)
    touching = frozenset(raw.ways.number)
    for relation in osmium.FileProcessor(str(path), osmium.osm.RELATION).with_filter(_bounding()):
        raw.areas += (
            area for area in _area(relation, wanted) if not touching.isdisjoint(area.outer)
        )


class _Ways(NamedTuple):
    """Numbers of some ways, their tags as text, how many points they have, and those end to end."""

    number: list[int]
    tags: list[str]
    points: NDArray[np.int64]
    refs: NDArray[np.int64]

    def take(self, kept: NDArray[np.bool_]) -> _Ways:
        rows = np.flatnonzero(kept).tolist()
        return _Ways(
            [self.number[row] for row in rows],
            [self.tags[row] for row in rows],
            self.points[kept],
            self.refs[np.repeat(kept, self.points)],
        )


class _Batch:
    """Some ways, which pass through a scratch file.

    The decoder writes them as text (Object Per Line, osmcode.org/opl-file-format), whose digits
    are read at once. An object of Python for each point and tag would cost many times as much.
    """

    def __init__(self, path: Path) -> None:
        import osmium

        self.size = 0
        self._path = path
        form = osmium.io.File(str(path), "opl,add_metadata=false")
        self._writer = osmium.SimpleWriter(form, BATCH_BYTES, overwrite=True)

    def add(self, way: Any) -> None:  # noqa: ANN401 - osmium way
        self._writer.add_way(way)
        self.size += 1

    def read(self) -> _Ways:
        self._writer.close()
        # A line is: w1 Tkey=value,key=value Nn1,n2
        rows = [line.split(" ") for line in self._path.read_bytes().decode().split("\n") if line]
        refs = [row[2][1:] for row in rows]
        digits = ",".join(filter(None, refs)).replace("n", "")
        return _Ways(
            [int(row[0][1:]) for row in rows],
            [row[1][1:] for row in rows],
            np.array([text.count("n") for text in refs], np.int64),
            np.fromstring(digits, np.int64, sep=","),
        )


class _Tags(dict[str, tuple[str, str]]):
    """Tags of a batch by their text; most come many times, and each is decoded once."""

    def __missing__(self, text: str) -> tuple[str, str]:
        key, value = text.split("=")
        self[text] = found = (_plain(key), _plain(value))
        return found


_ESCAPED = re.compile("%([0-9a-f]+)%")


def _plain(text: str) -> str:
    """Undo the escapes of the text form: the number of a character between two per cent signs."""
    if "%" not in text:
        return text
    plain = _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)
    plain.encode()  # refuses halves of characters
    return plain


def _bounding() -> Any:  # noqa: ANN401 - osmium filter
    import osmium

    areas = osmium.filter.TagFilter(("type", "multipolygon"))
    areas.enable_for(osmium.osm.RELATION)
    return areas


def _area(relation: Any, wanted: Wanted) -> list[Area]:  # noqa: ANN401 - osmium relation
    """Take a relation that bounds an area, if it may be a place or is drawn."""
    tags = dict(relation.tags)
    if not (wanted(tags) or has_any(tags, DRAWN)):
        return []
    ways = [(member.role, member.ref) for member in relation.members if member.type == "w"]
    outer = tuple(number for role, number in ways if role in OUTER)
    inner = tuple(number for role, number in ways if role == INNER)
    return [Area(relation.id, tags, outer, inner)] if outer else []


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


def _take_ways(ways: _Ways, raw: Raw, wanted: Wanted) -> None:
    first = len(raw.ways.number)
    raw.ways.number += ways.number
    raw.ways.count += ways.points.tolist()
    raw.ways.refs.frombytes(ways.refs.tobytes())
    known = _Tags()
    for row, text in enumerate(ways.tags, first):
        tags = dict(map(known.__getitem__, text.split(","))) if text else {}
        _take_way(row, tags, raw, wanted)


def _take_way(row: int, tags: dict[str, str], raw: Raw, wanted: Wanted) -> None:
    if "highway" in tags or has_any(tags, STREET_TAGS):
        verdict = _verdict(tags, raw)
        if verdict.walkable:
            raw.streets.append(row)
            raw.verdicts.append(verdict)
            raw.names.append(name_of(tags))
            raw.bridge_names.append(bridge_name_of(tags))
            raw.aliases.append(aliases_of(tags))
        else:
            number = raw.ways.number[row]
            raw.rejected.append((number, tags.get("highway", ""), name_of(tags), verdict.reason))
    if wanted(tags):
        raw.shapes.append((row, tags))
    if has_any(tags, DRAWN):
        raw.drawn.append((row, tags))


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
    courses = _Courses.of(raw.ways, points)
    segments, outside = _segments(courses, raw.streets)
    counts = {"segments_outside": outside}
    streets = build_network(
        points,
        segments,
        collect_ways(
            [raw.ways.number[row] for row in raw.streets],
            *(raw.verdicts, raw.names, raw.bridge_names, raw.aliases),
        ),
        rejected=collect_rejected(raw.rejected),
        counts=counts,
        attribution=raw.attribution,
        where=where,
    )
    places = [
        *(Feature(f"n{number}", lon, lat, tags) for number, lon, lat, tags in raw.points),
        *_shapes(raw, courses),
    ]
    lines = [Line(tags, *line) for tags, line in courses.lines(raw.drawn)]
    for area, outline, holes in _outlines(raw, courses):
        if wanted(area.tags):
            places.append(_middle(f"r{area.number}", outline, area.tags))
        if has_any(area.tags, DRAWN):
            lines += (Line(area.tags, *_wound(*ring, ahead=True)) for ring in outline)
            tags = {**area.tags, HOLE: "yes"}
            lines += (Line(tags, *_wound(*ring, ahead=False)) for ring in holes)
    return Extract(streets, tuple(places), tuple(lines), streets.counts, raw.attribution)


@dataclass(frozen=True, slots=True)
class _Courses:
    """Rows of the points of ways, of way ``w`` ``row[start[w]:start[w + 1]]``; -1 unknown."""

    start: NDArray[np.int64]
    row: NDArray[np.int64]
    points: assemble.Points

    @classmethod
    def of(cls, chains: Chains, points: assemble.Points) -> _Courses:
        present, rows = known_rows(points.node_id, chains.refs)
        row = np.full(present.size, -1, np.int64)
        row[present] = rows
        return cls(np.cumsum([0, *chains.count]), row, points)

    def lines(self, ways: Iterable[tuple[int, T]]) -> Iterator[tuple[T, tuple[Floats, Floats]]]:
        """Give positions of ways, without points outside the extract, and what comes with them."""
        for way, what in ways:
            row = self.row[self.start[way] : self.start[way + 1]]
            row = row[row >= 0]
            if row.size:
                yield what, (self.points.lon[row], self.points.lat[row])


def _segments(courses: _Courses, streets: list[int]) -> tuple[assemble.Segments, int]:
    """Cut ways into segments; those with an end outside the extract are left out and counted."""
    count = np.diff(courses.start)
    is_street = np.zeros(count.size, bool)
    is_street[streets] = True
    row = courses.row[np.repeat(is_street, count)]
    way = np.repeat(np.arange(len(streets)), count[streets])
    inside = way[1:] == way[:-1]
    tail, head, way = row[:-1][inside], row[1:][inside], way[1:][inside]
    known = (tail >= 0) & (head >= 0)
    tail, head, way = tail[known], head[known], way[known]
    points = courses.points
    length_m = assemble.geodesic_m(points.lon, points.lat, tail, head)
    return assemble.Segments(tail, head, way, length_m), int((~known).sum())


def _shapes(raw: Raw, courses: _Courses) -> Iterator[Feature]:
    for (way, tags), line in courses.lines((shape[0], shape) for shape in raw.shapes):
        yield _middle(f"w{raw.ways.number[way]}", [line], tags)


def _middle(osm: str, outline: list[tuple[Floats, Floats]], tags: dict[str, str]) -> Feature:
    def whole(line: tuple[Floats, Floats]) -> slice:
        # The last point of an outline repeats the first.
        lon, lat = line
        return slice(lon.size - (lon.size > 1 and lon[0] == lon[-1] and lat[0] == lat[-1]))

    lon, lat = (np.concatenate([line[axis][whole(line)] for line in outline]) for axis in (0, 1))
    return Feature(osm, float(lon.mean()), float(lat.mean()), tags)


def _outlines(
    raw: Raw, courses: _Courses
) -> Iterator[tuple[Area, list[tuple[Floats, Floats]], list[tuple[Floats, Floats]]]]:
    """Give areas, their outlines and those of their holes, as far as they lie in the extract."""
    bounding = {number for area in raw.areas for number in (*area.outer, *area.inner)}
    rows = ((row, number) for row, number in enumerate(raw.ways.number) if number in bounding)
    ways = dict(courses.lines(rows))
    for area in raw.areas:
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
