"""Streets to and from networkx, with the attribute names osmnx gives.

Graphs are an exchange format here, not a working one: M segments become up to 2 M dictionaries.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import isclose
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.errors import InputError
from simulator.ground import assemble
from simulator.ground.assemble import StreetArrays, build_network
from simulator.ground.walkable import (
    ATTRIBUTION,
    HIGHWAYS,
    SMOOTHNESS,
    STREET_TAGS,
    SURFACES,
    Walkability,
    aliases_of,
    barrier_blocks,
    bridge_name_of,
    collect_rejected,
    collect_ways,
    crossing_delay_s,
    judge,
    name_of,
)

if TYPE_CHECKING:
    import networkx as nx

CRS = "epsg:4326"
"""Coordinate system of the graphs given: longitude and latitude on WGS84, in degrees."""

_DAY = re.compile(r"\d{4}-\d\d-\d\d")
"""A day, as osmnx begins ``created_date`` with it."""

WHERE = "graph"
"""What messages call a graph that came without a file."""

LIT_TEXT = {0: "no", 1: "yes"}
"""Value of ``lit`` for each code; unknown has none."""


def from_networkx(graph: nx.MultiDiGraph[Any], *, where: str = WHERE) -> StreetArrays:
    """Take a graph with the attributes osmnx gives."""
    row = {node: index for index, node in enumerate(graph.nodes)}
    points = _points(graph, where)
    gathered = _Gathered()
    for (start, end), data, forth, back in _streets_of(graph):
        way = gathered.way_of(data, forth=forth, back=back)
        if way >= 0:
            gathered.add(way, row[start], row[end], data.get("geometry"))
    points = gathered.with_bends(points, _to_degrees(graph))
    tail, head = np.array(gathered.tail, np.int64), np.array(gathered.head, np.int64)
    length_m = assemble.geodesic_m(points.lon, points.lat, tail, head)
    return build_network(
        points,
        assemble.Segments(tail, head, np.array(gathered.way, np.int64), length_m),
        collect_ways(
            gathered.osm_id,
            gathered.verdicts,
            gathered.names,
            gathered.bridge_names,
            gathered.aliases,
        ),
        rejected=collect_rejected(gathered.rejected),
        counts={"merged_tags": gathered.merged},
        attribution=_credit(graph),
        where=where,
    )


def _credit(graph: nx.MultiDiGraph[Any]) -> str:
    """Give the graph's own credit, or that of its data with the day osmnx made it."""
    own = graph.graph.get("attribution")
    if own:
        return str(own)
    made = _DAY.match(str(graph.graph.get("created_date", "")))
    return ATTRIBUTION + (f", accessed {made.group()}" if made else "")


def to_networkx(streets: StreetArrays) -> nx.MultiDiGraph[int]:
    """Give a graph with the attributes osmnx gives."""
    import networkx as nx

    graph: nx.MultiDiGraph[int] = nx.MultiDiGraph(
        crs=CRS, simplified=False, attribution=streets.attribution
    )
    keys = _unique_keys(streets)
    ends = np.concatenate([streets.tail, streets.head])
    street_count = np.bincount(ends, minlength=keys.size)
    terrain = streets.terrain
    for index, key in enumerate(keys.tolist()):
        data: dict[str, Any] = {
            "x": float(streets.lon[index]),
            "y": float(streets.lat[index]),
            "street_count": int(street_count[index]),
        }
        if terrain is not None and terrain.node_known[index]:
            data["elevation"] = float(terrain.node_height_m[index])
        if streets.delay_s[index]:
            data["delay_s"] = float(streets.delay_s[index])
        if key != streets.node_id[index]:
            data["osmid"] = int(streets.node_id[index])
        graph.add_node(key, **data)
    attributes = [_attributes(streets, way) for way in range(len(streets.ways))]
    tails, heads = keys[streets.tail].tolist(), keys[streets.head].tolist()
    for index, (tail, head) in enumerate(zip(tails, heads, strict=True)):
        data = {**attributes[streets.way[index]], "length": float(streets.length_m[index])}
        if streets.open_forward[index]:
            graph.add_edge(tail, head, **data, reversed=False)
        if streets.open_backward[index]:
            graph.add_edge(head, tail, **data, reversed=True)
    return graph


def read_graphml(path: Path) -> StreetArrays:
    """Read a graph that osmnx saved."""
    if not path.is_file():
        raise InputError(str(path), "does not exist; name a GraphML file saved by osmnx")
    import networkx as nx
    import osmnx as ox

    try:
        graph = ox.load_graphml(path)
    # A damaged XML file is a SyntaxError to the standard library's parser.
    except (nx.NetworkXException, SyntaxError, ValueError, TypeError, KeyError) as error:
        cause = " ".join(str(error).split())
        raise InputError(
            str(path), f"is no GraphML file of a street network ({cause}); save it with osmnx again"
        ) from error
    return from_networkx(graph, where=str(path))


@dataclass(slots=True)
class _Gathered:
    """Ways and segments found in a graph."""

    osm_id: list[int] = field(default_factory=list)
    verdicts: list[Walkability] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    bridge_names: list[str] = field(default_factory=list)
    aliases: list[str] = field(default_factory=list)
    rejected: list[tuple[int, str, str, str]] = field(default_factory=list)
    tail: list[int] = field(default_factory=list)
    head: list[int] = field(default_factory=list)
    way: list[int] = field(default_factory=list)
    bends: list[tuple[float, float]] = field(default_factory=list)
    known: dict[object, int] = field(default_factory=dict)
    merged: int = 0
    nodes: int = 0

    def way_of(self, data: Mapping[str, Any], *, forth: bool, back: bool) -> int:
        """Row of the way with these tags, -1 if it may not be walked."""
        self.merged += any(isinstance(value, list) for value in data.values())
        tags = {
            key: _text(value) for key, value in data.items() if key not in {"geometry", "length"}
        }
        number = int(float(tags.pop("osmid", "0")))
        tags.pop("reversed", None)
        key = (number, frozenset(tags.items()), forth, back)
        if key not in self.known:
            self.known[key] = self._judged(number, tags, forth=forth, back=back)
        return self.known[key]

    def _judged(self, number: int, tags: dict[str, str], *, forth: bool, back: bool) -> int:
        untagged = "highway" not in tags and not any(key in tags for key in STREET_TAGS)
        verdict = judge({**tags, "foot": "yes"} if untagged else tags)
        if not verdict.walkable:
            row = (number, tags.get("highway", ""), name_of(tags), verdict.reason)
            self.rejected.append(row)
            return -1
        both = tags.get("oneway") == "yes"
        verdict = replace(
            verdict,
            forward=verdict.forward and (forth or both),
            backward=verdict.backward and (back or both),
            traffic=int(tags.get("traffic", verdict.traffic)),
            notes=(tags["note"],) if "note" in tags else verdict.notes,
        )
        self.osm_id.append(number)
        self.verdicts.append(verdict)
        self.names.append(name_of(tags))
        self.bridge_names.append(bridge_name_of(tags))
        self.aliases.append(aliases_of(tags))
        return len(self.osm_id) - 1

    def add(self, way: int, tail: int, head: int, geometry: Any) -> None:  # noqa: ANN401 - shapely line
        """Add the segments of one edge; its bends become points of their own."""
        inner = [] if geometry is None else list(geometry.coords)[1:-1]
        first = -1 - len(self.bends)
        self.bends.extend((point[0], point[1]) for point in inner)
        # Bends are numbered from -1 down until the number of nodes is known.
        chain = [tail, *(first - index for index in range(len(inner))), head]
        self.tail.extend(chain[:-1])
        self.head.extend(chain[1:])
        self.way.extend([way] * (len(chain) - 1))

    def with_bends(self, points: assemble.Points, to_degrees: Any) -> assemble.Points:  # noqa: ANN401 - transform
        """Append the bends to the nodes and give them rows."""
        count, more = points.node_id.size, len(self.bends)
        self.tail = [row if row >= 0 else count - 1 - row for row in self.tail]
        self.head = [row if row >= 0 else count - 1 - row for row in self.head]
        bends = np.array(self.bends, np.float64).reshape(more, 2)
        lon, lat = to_degrees(bends[:, 0], bends[:, 1])
        lowest = min(0, int(points.node_id.min(initial=0)))
        return assemble.Points(
            np.concatenate([points.node_id, lowest - 1 - np.arange(more)]),
            np.concatenate([points.lon, lon]),
            np.concatenate([points.lat, lat]),
            np.concatenate([points.blocked, np.zeros(more, bool)]),
            np.concatenate([points.delay_s, np.zeros(more)]),
        )


def _streets_of(
    graph: nx.MultiDiGraph[Any],
) -> Iterator[tuple[tuple[Any, Any], dict[str, Any], bool, bool]]:
    """Each street once: ends in the order of drawing, data, and which directions have an edge."""
    if not graph.is_directed():
        for start, end, data in graph.edges(data=True):
            yield (start, end), data, True, True
        return
    waiting: dict[object, list[int]] = {}
    found: list[tuple[Any, Any, dict[str, Any], bool]] = []
    for start, end, data in graph.edges(data=True):
        # A simplified street lists the same numbers in the opposite order on the way back.
        numbers = data.get("osmid")
        same = frozenset(numbers) if isinstance(numbers, list) else numbers
        length_m = float(data.get("length", 0.0))
        twins = waiting.get((end, start, same), [])
        at = next((at for at in twins if isclose(_length_m(found[at]), length_m)), -1)
        if at < 0:
            waiting.setdefault((start, end, same), []).append(len(found))
            found.append((start, end, data, False))
            continue
        twins.remove(at)
        first_start, first_end, first_data, _ = found[at]
        if first_data.get("reversed") is True and data.get("reversed") is not True:
            found[at] = (start, end, data, True)
        else:
            found[at] = (first_start, first_end, first_data, True)
    for start, end, data, both in found:
        if not both and data.get("reversed") is True:
            geometry = data.get("geometry")
            drawn = data if geometry is None else {**data, "geometry": geometry.reverse()}
            yield (end, start), drawn, False, True
        else:
            yield (start, end), data, True, both


def _length_m(street: tuple[Any, Any, dict[str, Any], bool]) -> float:
    return float(street[2].get("length", 0.0))


def _points(graph: nx.MultiDiGraph[Any], where: str) -> assemble.Points:
    numbers, x, y, blocked, delay_s = [], [], [], [], []
    for index, (node, data) in enumerate(graph.nodes(data=True)):
        try:
            x.append(float(data["x"]))
            y.append(float(data["y"]))
        except (KeyError, TypeError, ValueError) as error:
            place = f"{where}: node {node}"
            raise InputError(place, "needs x and y, its position as numbers") from error
        tags = {key: _text(value) for key, value in data.items()}
        numbers.append(node if isinstance(node, int) else -1 - index)
        blocked.append(barrier_blocks(tags) is not None)
        delay_s.append(float(tags.get("delay_s", crossing_delay_s(tags))))
    lon, lat = _to_degrees(graph)(np.array(x, np.float64), np.array(y, np.float64))
    if not (np.isfinite(lon) & np.isfinite(lat)).all():
        raise InputError(where, "has nodes whose x or y is not a finite number; remove them")
    return assemble.Points(
        np.array(numbers, np.int64), lon, lat, np.array(blocked, bool), np.array(delay_s)
    )


def _to_degrees(graph: nx.MultiDiGraph[Any]) -> Any:  # noqa: ANN401 - a bound method or a function
    """Give the function from the graph's coordinates to longitude and latitude."""
    import pyproj

    crs = pyproj.CRS.from_user_input(graph.graph.get("crs", CRS))
    if crs.is_geographic:
        return lambda x, y: (x, y)
    return pyproj.Transformer.from_crs(crs, CRS, always_xy=True).transform


def _text(value: object) -> str:
    if isinstance(value, list):
        value = value[0] if value else ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def _unique_keys(streets: StreetArrays) -> NDArray[np.int64]:
    """Node numbers, with new negative ones for the copies at barriers."""
    keys = streets.node_id.copy()
    copies = np.flatnonzero(streets.same_node() != np.arange(keys.size))
    keys[copies] = min(0, int(keys.min())) - 1 - np.arange(copies.size)
    return keys


def _attributes(streets: StreetArrays, way: int) -> dict[str, Any]:
    ways = streets.ways
    data: dict[str, Any] = {
        "osmid": int(ways.osm_id[way]),
        "highway": HIGHWAYS[ways.highway[way]],
        "foot": "yes",
        "oneway": False,
        "traffic": int(ways.traffic[way]),
    }
    known = {
        "name": ways.name[way],
        "bridge:name": ways.bridge_name[way],
        "note": ways.note[way],
        "surface": SURFACES[ways.surface[way]].replace("unknown", ""),
        "smoothness": SMOOTHNESS[ways.smoothness[way]].replace("unknown", ""),
        "lit": LIT_TEXT.get(int(ways.lit[way]), ""),
        "bridge": "yes" * bool(ways.bridge[way]),
        "tunnel": "yes" * bool(ways.tunnel[way]),
        "sidewalk": "yes" * bool(ways.sidewalk[way]),
        "shoulder": "yes" * bool(ways.shoulder[way]),
        "motorroad": "yes" * bool(ways.motorroad[way]),
        "maxspeed": f"{ways.maxspeed_km_h[way]:.7g}" * bool(ways.maxspeed_km_h[way]),
        "lanes": str(ways.lanes[way]) * bool(ways.lanes[way]),
        "alt_name": ways.aliases[way],
        "layer": str(ways.layer[way]) * bool(ways.layer[way]),
    }
    data.update((key, value) for key, value in known.items() if value)
    return data
