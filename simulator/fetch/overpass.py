"""Street data in pieces from a server that answers Overpass questions.

Each cell of the grid is one question. The answer is OpenStreetMap XML, which the reader of map
extracts takes as it is; a cell that is too much for the server is asked for in quarters. The
graph library has a client of its own, but that one changes process-wide settings and name
look-up, drops the tags of gates and crossings, waits in silence and keeps no half-done work.
"""

from __future__ import annotations

import gzip
import re
import urllib.parse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from simulator.errors import InputError, shown
from simulator.fetch.http import Answer, CutError, Request, ServerLine, looks_like_page
from simulator.ground.corridor import Box
from simulator.ground.osm import refuse_giants
from simulator.ground.walkable import DRAWN, NO_PLACES, PLACE_KEYS, PUBLIC_BUILDINGS, STREET_TAGS

OVERPASS = "https://overpass-api.de/api/interpreter"
"""Public server of OpenStreetMap data where none is named; the address that osmnx has too."""

TIMEOUT_S = 180
"""Time that the server may take for one cell [s]."""

LARGEST_BYTES = 400_000_000
"""An answer larger than this, unpacked, is asked for in quarters [bytes]."""

MOST_QUARTERINGS = 3
"""A cell is quartered at most this often: to a piece of some 1.4 km."""

MOMENT = "%Y-%m-%dT%H:%M:%SZ"
"""How such a server writes a moment."""

FIRST_YEAR, LAST_YEAR = 2004, 2100
"""Years that data of OpenStreetMap can be of: it began in 2004; the last one is for a slip."""

MOST_REMARK_BYTES = 120

KEPT_BYTES = 4096
"""Begin and end of an answer that are looked at [bytes]."""

_META = re.compile(rb'osm_base="([^"]{0,40})"')
_REMARK = re.compile(rb"<remark>\s*(.*?)\s*</remark>", re.DOTALL)
_ROOT = re.compile(rb"<osm[\s>]")


class TooMuchError(Exception):
    """The server could not answer for so large a piece."""


@dataclass(frozen=True, slots=True)
class AnswerFacts:
    """What an answer says about itself.

    Attributes
    ----------
    data_of : str
        Moment of the data, ISO 8601 in UTC; empty when not said.
    size : int
        Size unpacked [bytes].
    """

    data_of: str
    size: int


def question(box: Box) -> str:
    """Write the question for everything the reader of extracts keeps."""
    west, south, east, north = box
    places = [f'["{key}"]' for key in sorted(PLACE_KEYS - NO_PLACES.keys())]
    places += [f'["{key}"]["{key}"!~"{_either(values)}"]' for key, values in NO_PLACES.items()]
    places += [f'["building"~"{_either(PUBLIC_BUILDINGS)}"]', '["building"]["name"]']
    drawn = [f'["{key}"~"{_either(values)}"]' for key, values in DRAWN.items()]
    streets = [f'["{key}"~"{_either(values)}"]' for key, values in STREET_TAGS.items()]
    plain = _union("way", ['["highway"]', *streets, *drawn]) + _union("nw", places)
    areas = _union('rel["type"="multipolygon"]', [*places, *drawn])
    bounds = ",".join(f"{edge:.6f}" for edge in (south, west, north, east))
    # Of the outline of an area, which may be a whole lake, only the ways in the box.
    return (
        f"[out:xml][timeout:{TIMEOUT_S}][bbox:{bounds}];({plain})->.plain;({areas})->.areas;"
        f"(.plain;way(r.areas)({bounds}););(._;>;);(._;.areas;);out body;"
    )


def _union(kind: str, filters: Sequence[str]) -> str:
    return "".join(f"{kind}{one};" for one in filters)


def _either(values: frozenset[str]) -> str:
    return f"^({'|'.join(sorted(values))})$"


def quarters(box: Box) -> tuple[Box, ...]:
    """Cut a box in four."""
    west, south, east, north = box
    across, up = (west + east) / 2, (south + north) / 2
    return (
        (west, south, across, up),
        (across, south, east, up),
        (west, up, across, north),
        (across, up, east, north),
    )


def fetch_piece(line: ServerLine, address: str, box: Box, target: Path) -> AnswerFacts:
    """Ask for one box and write the answer, compressed."""
    found: list[AnswerFacts] = []

    def take(answer: Answer, pieces: Iterator[bytes]) -> None:
        start, end, size = b"", b"", 0
        with target.open("wb") as raw, gzip.GzipFile("", "wb", 5, raw, mtime=0) as stream:
            for piece in refuse_giants(pieces):
                size += len(piece)
                if size > LARGEST_BYTES:
                    raise TooMuchError
                start = start if len(start) >= KEPT_BYTES else start + piece[:KEPT_BYTES]
                end = (end + piece)[-KEPT_BYTES:]
                stream.write(piece)
        found[:] = [_judged(answer, start, end, size)]
        _check_content(target, box)

    form = urllib.parse.urlencode({"data": question(box)}).encode()
    line.fetch(Request(address, form=form), take)
    return found[0]


def _judged(answer: Answer, start: bytes, end: bytes, size: int) -> AnswerFacts:
    """Tell a whole answer from a page, a cut one and one that gave up half-way."""
    if looks_like_page(start):
        msg = "a web page, not map data"
        raise ValueError(msg)
    if not _ROOT.search(start):
        kind = answer.headers.get("content-type", "of unknown kind").split(";")[0]
        msg = f"no OpenStreetMap XML ({shown(kind)})"
        raise ValueError(msg)
    remark = _REMARK.search(end)
    if remark:
        # Timeouts and full memory come as a remark at the end of an answer with code 200.
        raise TooMuchError(remark.group(1)[:MOST_REMARK_BYTES].decode("utf-8", "replace"))
    if not end.rstrip().endswith(b"</osm>"):
        raise CutError
    base = _META.search(start)
    return AnswerFacts(_moment(base.group(1).decode("utf-8", "replace")) if base else "", size)


def _moment(text: str) -> str:
    """Check the moment that the data is said to be of; the writer of maps takes no other form."""
    try:
        year = datetime.strptime(text, MOMENT).replace(tzinfo=UTC).year
    except ValueError:
        year = 0
    if not FIRST_YEAR <= year <= LAST_YEAR:
        msg = f"data of an impossible date ({shown(text)})"
        raise ValueError(msg)
    return text


def _check_content(path: Path, box: Box) -> None:
    """Read the answer once, and see that it is of the place that was asked for."""
    import osmium

    try:
        beside = _beside(path, box)
        # What follows is read in the library, only to see that it can be.
        nothing = osmium.filter.IdFilter([])
        whole = osmium.FileProcessor(
            str(path), osmium.osm.NODE | osmium.osm.WAY | osmium.osm.RELATION
        )
        for _ in whole.with_filter(nothing):
            pass
    except (RuntimeError, ValueError, osmium.InvalidLocationError) as fault:
        msg = f"damaged XML ({' '.join(str(fault).split())[:100]})"
        raise ValueError(msg) from None
    if beside:
        msg = "all of it lies beside the area asked for"
        raise ValueError(msg)


def _beside(path: Path, box: Box) -> bool:
    """Tell whether all points lie to one side of a box, which a way may cross all the same."""
    import osmium

    west, south, east, north = box
    hull = (181.0, 91.0, -181.0, -91.0)
    inside = False
    for node in osmium.FileProcessor(str(path), osmium.osm.NODE):
        at = node.location
        if not at.valid():
            msg = f"point {node.id} lies nowhere on Earth"
            raise ValueError(msg)
        lon, lat = at.lon, at.lat
        inside = inside or (west <= lon <= east and south <= lat <= north)
        hull = (min(hull[0], lon), min(hull[1], lat), max(hull[2], lon), max(hull[3], lat))
    empty = hull[0] > hull[2]
    overlaps = hull[0] <= east and hull[2] >= west and hull[1] <= north and hull[3] >= south
    return not inside and not empty and not overlaps


def merge_pieces(pieces: Sequence[Path], target: Path, *, data_of: str, accessed: str) -> int:
    """Put pieces together into one extract, everything once and in order."""
    import osmium

    reader = osmium.MergeInputReader()
    for piece in pieces:
        reader.add_file(str(piece))
    header = osmium.io.Header()
    header.set("generator", f"walkhome fetch; accessed {accessed}")
    if data_of:
        header.set("osmosis_replication_timestamp", data_of)
    with osmium.SimpleWriter(str(target), header=header, overwrite=True) as writer:
        copy = _Copy(writer)
        reader.apply(copy, simplify=True)
    if not copy.ways:
        where = "street data"
        problem = (
            "the server has no street in the whole area; its data may be of another region: name "
            "another server under [fetch] streets_from"
        )
        raise InputError(where, problem)
    return copy.ways


class _Copy:
    """Write what passes by, and count the ways."""

    def __init__(self, writer: Any) -> None:  # noqa: ANN401 - osmium writer
        self._writer = writer
        self.ways = 0

    def node(self, node: Any) -> None:  # noqa: ANN401 - osmium node
        self._writer.add_node(node)

    def way(self, way: Any) -> None:  # noqa: ANN401 - osmium way
        self._writer.add_way(way)
        self.ways += 1

    def relation(self, relation: Any) -> None:  # noqa: ANN401 - osmium relation
        self._writer.add_relation(relation)
