"""The door for map extracts: what a file holds, as arrays and tagged features.

:mod:`simulator.ground.scan` reads the file; here points, segments and features are put together.
What walking tags mean is decided once for each distinct combination of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from simulator.errors import InputError
from simulator.ground import assemble
from simulator.ground.areas import Area, Chains, joined
from simulator.ground.build import build_streets
from simulator.ground.corridor import Corridor
from simulator.ground.keep import DRAWN, Wanted, has_any, may_be_place
from simulator.ground.scan import FIXED_POINT, Raw, credit_of, known_rows, scan
from simulator.ground.streets import Streets
from simulator.ground.ways import collect_rejected, collect_ways

Floats = NDArray[np.float64]

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
        return Streets.read(path).attribution
    import osmium  # noqa: PLC0415 - slow to import

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
    streets = build_streets(
        points,
        segments,
        collect_ways(raw.ids, raw.verdicts, raw.names, raw.bridge_names),
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
    for area, outline in _outlines(raw, points):
        if wanted(area.tags):
            places.append(_middle(f"r{area.number}", outline, area.tags))
        if has_any(area.tags, DRAWN):
            lines += (Line(area.tags, lon, lat) for lon, lat in outline)
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
) -> Iterator[tuple[Area, list[tuple[Floats, Floats]]]]:
    """Give areas and their outer outlines, as far as they lie in the extract."""
    ways = {
        raw.areas.ways[index]: (lon, lat) for index, lon, lat in _chains(raw.areas.chains, points)
    }
    for area in raw.areas.areas:
        outline = joined(ways[number] for number in area.outer if number in ways)
        if outline:
            yield area, outline


def _lines(raw: Raw, points: assemble.Points) -> Iterator[Line]:
    for index, lon, lat in _chains(raw.courses, points):
        yield Line(raw.drawn[index], lon, lat)
