"""One or two passes over a map extract, in memory that depends on what is kept.

Positions go from the decoder straight into a scratch table and from there, table by table, into
numpy, so that no Python object is made for a point without tags. Where only a corridor is wanted,
the first pass keeps the points inside, and the second the ways that touch one of them: memory
grows with the corridor and not with the file, and so does the scratch table.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.errors import InputError
from simulator.ground.areas import Chains, Outlines, read_areas
from simulator.ground.barriers import barrier_blocks, crossing_delay_s
from simulator.ground.corridor import Corridor
from simulator.ground.keep import (
    ATTRIBUTION,
    DRAWN,
    INVENTED_ATTRIBUTION,
    STREET_TAGS,
    Wanted,
    has_any,
)
from simulator.ground.walkable import KEYS, Verdict, judge
from simulator.ground.ways import bridge_name_of, name_of

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
_ACCESSED = re.compile(r"accessed (\d{4}-\d\d-\d\d)")


@dataclass(slots=True)
class Raw:
    """What the passes over a file collect.

    Attributes
    ----------
    positions : (N,) structured array
        Point numbers and fixed-point positions, sorted by number.
    ids, verdicts, names, bridge_names : list
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
    verdicts: list[Verdict] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    bridge_names: list[str] = field(default_factory=list)
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
    known: dict[frozenset[tuple[str, str]], Verdict] = field(default_factory=dict)


def scan(path: Path, wanted: Wanted, area: Corridor | None) -> Raw:
    """Read a file.

    Parameters
    ----------
    path : pathlib.Path
        Map extract.
    wanted : callable
        Given the tags of a point or way, whether to keep it as a place.
    area : Corridor, optional
        Keep only what lies inside or crosses its border; everything when left out.

    Returns
    -------
    Raw
        What was found.

    Raises
    ------
    InputError
        If the file cannot be read.
    """
    import osmium  # noqa: PLC0415 - slow to import

    raw = Raw()
    try:
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
    except (RuntimeError, ValueError, OSError, osmium.InvalidLocationError) as error:
        if isinstance(error, InputError):
            raise
        cause = " ".join(str(error).split())[:_LONGEST_CAUSE]
        raise InputError(
            str(path),
            f"cannot be read as a map extract ({cause}); it is damaged, cut short or of another "
            "kind: download or export it again",
        ) from error
    return raw


def credit_of(header: Any) -> str:  # noqa: ANN401 - osmium header
    """Give the credit of a file from its header.

    Parameters
    ----------
    header : osmium.io.Header
        Header of an extract.

    Returns
    -------
    str
        With the day of the data and of fetching where the header says so.
    """
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
        import osmium  # noqa: PLC0415 - slow to import

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
    import osmium  # noqa: PLC0415 - slow to import

    # The relations come last in a file, but say which of the ways before them to keep.
    raw.areas.areas = read_areas(path, lambda tags: wanted(tags) or has_any(tags, DRAWN))
    bounding = {number for area in raw.areas.areas for number in area.outer}
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
    import osmium  # noqa: PLC0415 - slow to import

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
    import osmium  # noqa: PLC0415 - slow to import

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
    import osmium  # noqa: PLC0415 - slow to import

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
            raw.streets.add(refs)
        else:
            raw.rejected.append((number, tags.get("highway", ""), name_of(tags), verdict.reason))
    if wanted(tags):
        raw.shapes.append((number, tags))
        raw.outlines.add(refs)
    if has_any(tags, DRAWN):
        raw.drawn.append(tags)
        raw.courses.add(refs)


def _verdict(tags: Mapping[str, str], raw: Raw) -> Verdict:
    """Judge each combination of walking tags once."""
    walking = frozenset(item for item in tags.items() if item[0] in KEYS)
    verdict = raw.known.get(walking)
    if verdict is None:
        verdict = raw.known[walking] = judge(tags)
    return verdict


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
    return np.array([found[number] for number in sorted(found)], RECORD)


def known_rows(
    number: NDArray[np.int64],
    refs: Any,  # noqa: ANN401 - any buffer or list of int
) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Say which point numbers are known, and the rows of those.

    Parameters
    ----------
    number : (N,) int64
        Known numbers, sorted.
    refs : buffer or list of int
        Numbers asked for.

    Returns
    -------
    present : (K,) bool
        Whether each is known.
    row : int64
        Row of each known one.
    """
    refs = np.asarray(refs, np.int64)
    if not number.size:
        return np.zeros(refs.size, bool), np.empty(0, np.int64)
    row = np.searchsorted(number, refs)
    row[row == number.size] = 0
    present = number[row] == refs
    return present, row[present]
