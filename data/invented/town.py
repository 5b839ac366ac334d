"""The whole town: streets joined into one network, loose ends tied, nodes and areas tagged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from data.invented import layout, roads
from data.invented.frame import Bools, Floats, Ints
from data.invented.names import Names
from data.invented.noding import Line, Web, knot, pieces_of_network
from data.invented.shapes import chainage, near_pairs, offset, resample, spline
from data.invented.streets import Streets
from data.invented.styles import Tags
from data.invented.terrain import (
    ISLAND_PHASE,
    LAKE_PHASE,
    Hills,
    half_width_m,
    river_line,
    shore_line,
    water_gap_m,
)

SEED = 20261118
APART = ("Mere Island", "Saltworks Harbour")  # zones that join nothing, on purpose
FARTHEST_TIE_M = 420.0
CULVERT_M = 16.0
SMALLEST_PIECE = 40  # smaller loose pieces are left out
NOT_ON_FOOT = ("motorway", "motorway_link", "trunk", "construction")


@dataclass(frozen=True)
class Town:
    """A finished town.

    Attributes
    ----------
    web : Web
        The network.
    areas : list of tuple
        Closed outlines in metres with their tags.
    node_tags : dict
        Tags of nodes of the network.
    hills : Hills
        Heights.
    rng : numpy.random.Generator
        For what is placed afterwards.
    names : Names
        For what is named afterwards.
    """

    web: Web
    areas: list[tuple[Floats, Tags]]
    node_tags: dict[int, Tags]
    hills: Hills
    rng: np.random.Generator
    names: Names


def on_foot(tags: Tags) -> bool:
    """Tell whether this generator means a way to be walked."""
    if tags.get("highway", "motorway") in NOT_ON_FOOT:
        return False
    return tags.get("foot", tags.get("access", "yes")) not in ("private", "no", "use_sidepath")


def _pieces(web: Web) -> tuple[Ints, Ints, int]:
    """Give each node's piece, the pieces in order of size, and the main one."""
    piece = pieces_of_network(web, [on_foot(tags) for tags in web.tags])
    numbers, counts = np.unique(piece[piece >= 0], return_counts=True)
    order = numbers[np.argsort(-counts, kind="stable")]
    return piece, order, int(order[0])


def _apart(web: Web) -> Bools:
    marked = np.zeros(len(web.xy), np.bool_)
    for chain, zone in zip(web.chains, web.zones, strict=True):
        if zone in APART:
            marked[chain] = True
    return marked


def _clear(points: Floats, barriers: Floats) -> bool:
    if water_gap_m(points, 300.0).min() < 5.0:
        return False
    apart = np.hypot(*(points[:, None] - barriers[None]).transpose(2, 0, 1))
    return bool(apart.min() > 30.0)


def _ties(web: Web, barriers: Floats) -> list[Line]:
    """Give short paths that join loose pieces to the main one, where nothing is in the way."""
    piece, order, main = _pieces(web)
    apart = _apart(web)
    home = np.flatnonzero(piece == main)
    lines = []
    for number in order[1:].tolist():
        nodes = np.flatnonzero(piece == number)
        if len(nodes) < SMALLEST_PIECE or apart[nodes].any():
            continue
        a, b = near_pairs(web.xy[nodes], web.xy[home], FARTHEST_TIE_M)
        gaps = np.hypot(*(web.xy[nodes[a]] - web.xy[home[b]]).T)
        for place in np.argsort(gaps, kind="stable")[:4000:40].tolist():
            if gaps[place] > FARTHEST_TIE_M:
                break
            path = resample(web.xy[[nodes[a[place]], home[b[place]]]], 25.0)
            if _clear(path, barriers):
                tags = {"highway": "path", "surface": "ground", "lit": "no"}
                lines.append(Line(path, tags))
                break
    return lines


def _without_scraps(web: Web) -> Web:
    """Leave out loose pieces that are apart by chance only."""
    piece, _, main = _pieces(web)
    keep_node = (piece == main) | _apart(web)
    kept = [
        number
        for number, (chain, tags) in enumerate(zip(web.chains, web.tags, strict=True))
        if not on_foot(tags) or keep_node[chain].any()
    ]
    return Web(
        web.xy,
        [web.chains[number] for number in kept],
        [web.tags[number] for number in kept],
        [web.zones[number] for number in kept],
    )


def degrees(web: Web) -> Ints:
    """Give how many segments one may walk meet at each node."""
    degree = np.zeros(len(web.xy), np.int64)
    for chain, tags in zip(web.chains, web.tags, strict=True):
        if on_foot(tags):
            np.add.at(degree, chain[:-1], 1)
            np.add.at(degree, chain[1:], 1)
    return degree


SIGNALS = {"highway": "crossing", "crossing": "traffic_signals", "tactile_paving": "yes"}
ZEBRA = {"highway": "crossing", "crossing": "uncontrolled", "crossing:markings": "zebra"}
CROSSING_SHARE = {"primary": 0.5, "secondary": 0.3, "tertiary": 0.12}
# Upper bounds of a draw between 0 and 1, and what stands in the way then.
OBSTACLES: dict[str, tuple[tuple[float, Tags], ...]] = {
    "track": (
        (0.14, {"barrier": "gate", "access": "yes"}),
        (0.18, {"barrier": "gate", "access": "private", "locked": "yes"}),
        (0.21, {"barrier": "cattle_grid"}),
    ),
    "footway": ((0.06, {"barrier": "bollard"}), (0.08, {"barrier": "cycle_barrier"})),
    "cycleway": ((0.06, {"barrier": "bollard"}),),
    "path": (
        (0.06, {"barrier": "kissing_gate", "foot": "yes"}),
        (0.10, {"barrier": "stile"}),
    ),
}


def _node_tags(web: Web, streets: Streets) -> dict[int, Tags]:
    """Tag crossings, gates, level crossings and turning places."""
    rng = streets.rng
    degree = degrees(web)
    tagged: dict[int, Tags] = {}
    for spot in streets.level_crossings:
        node = int(np.argmin(np.hypot(*(web.xy - spot).T)))
        tagged[node] = {"railway": "level_crossing", "crossing:barrier": "full"}
    for chain, tags in zip(web.chains, web.tags, strict=True):
        kind = tags.get("highway", "")
        if kind in CROSSING_SHARE and tags.get("lit") == "yes":
            meets = chain[1:-1][degree[chain[1:-1]] >= 3]
            for node in meets[rng.random(len(meets)) < CROSSING_SHARE[kind]].tolist():
                tagged.setdefault(node, dict(SIGNALS if rng.random() < 0.6 else ZEBRA))
        ends = [int(node) for node in chain[[0, -1]] if degree[node] == 1]
        if kind == "residential" and ends and rng.random() < 0.5:
            tagged.setdefault(ends[0], {"highway": "turning_circle"})
        if kind in OBSTACLES and len(chain) > 3:
            draw = rng.random()
            for bound, obstacle in OBSTACLES[kind]:
                if draw < bound:
                    tagged.setdefault(int(chain[1]), dict(obstacle))
                    break
    _lock(web, tagged)
    return tagged


def _lock(web: Web, tagged: dict[int, Tags]) -> None:
    """Put locked gates on the private ways of the harbour and the estate."""
    for chain, tags in zip(web.chains, web.tags, strict=True):
        if tags.get("access") == "private" and tags.get("highway") == "service":
            outer = int(chain[-2])
            tagged[outer] = {"barrier": "gate", "access": "private", "locked": "yes"}


def _ring(corners: tuple[tuple[float, float], ...]) -> Floats:
    points = np.array(corners) * 1000.0
    return spline(np.vstack([points, points[:1]]), 40.0)[:-1]


def _areas() -> list[tuple[Floats, Tags]]:
    river = resample(river_line(), 55.0)
    width = half_width_m(river)
    water = {"natural": "water", "water": "river", "name": layout.RIVER_NAME}
    banks = np.vstack([offset(river, width), offset(river, -width)[::-1]])
    lake = {"natural": "water", "water": "lake", "name": "Sallow Mere"}
    uses = {"grid": "commercial", "works": "industrial", "old": "retail"}
    areas: list[tuple[Floats, Tags]] = [
        (banks, water),
        (shore_line(layout.LAKE_RADIUS_KM, LAKE_PHASE, 180), lake),
        (
            shore_line(layout.ISLAND_RADIUS_KM, ISLAND_PHASE, 70),
            {"place": "islet", "natural": "grassland", "name": "Mere Island"},
        ),
    ]
    for district in layout.DISTRICTS:
        use = uses.get(district.kind, "residential")
        areas.append((roads.outline(district), {"landuse": use, "name": district.name}))
    for name, corners in layout.PARKS.items():
        areas.append((_ring(corners), {"leisure": "park", "name": name}))
    y = np.arange(0.55, 8.6, 0.15)
    for name, low, high in (("Bracken Wood", 0.5, 8.6), ("Gap Wood", -4.1, -0.9)):
        y = np.arange(low, high, 0.15)
        crest = np.interp(y, layout.CREST_Y, layout.CREST_X)
        west = np.column_stack([crest - 0.61, y])
        east = np.column_stack([crest + 1.2, y])[::-1]
        areas.append((np.vstack([west, east]) * 1000.0, {"natural": "wood", "name": name}))
    fence = {"landuse": "industrial", "barrier": "fence", "access": "private"}
    areas.append((np.array(layout.HARBOUR) * 1000.0, {**fence, "name": "Saltworks Harbour"}))
    wall = {"barrier": "wall", "access": "private", "name": "Fennick Estate"}
    areas.append((np.array(layout.ESTATE) * 1000.0, wall))
    return areas


def _waters(drawn: list[Line]) -> list[Line]:
    river = spline(river_line(), 80.0)
    lines = [Line(river, {"waterway": "river", "name": layout.RIVER_NAME}, roads.NEVER_MET)]
    weir = np.array(layout.WEIR) * 1000.0
    lines.append(Line(weir, {"waterway": "weir", "name": "Mill Weir"}, roads.NEVER_MET))
    for name, path in layout.STREAMS.items():
        points = spline(np.array(path) * 1000.0, 24.0)
        over = [line.points for line in drawn if {"highway", "railway"} & line.tags.keys()]
        places = np.array([place for place, _, _ in roads.meetings(points, over)])
        along = chainage(points)
        middle = (along[1:] + along[:-1]) / 2
        below = (np.abs(middle[:, None] - places[None]) < CULVERT_M).any(axis=1)
        for part, label in roads.stretch(points, below.astype(np.int64)):
            tags = {"waterway": "stream", "name": name}
            tags |= {"tunnel": "culvert", "layer": "-1"} if label else {}
            lines.append(Line(part, tags, roads.NEVER_MET))
    return lines


def build(seed: int = SEED) -> Town:
    """Invent the town; the same seed gives the same town."""
    rng = np.random.default_rng(seed)
    hills = Hills(rng)
    names = Names(rng)
    streets = Streets(rng, hills, names)
    streets.by_hand()
    streets.districts()
    streets.exceptions()
    streets.apart()
    web = knot(streets.lines)
    barriers = np.vstack(
        [
            line.points
            for line in streets.lines
            if line.level == roads.NEVER_MET and line.tags.get("tunnel") != "yes"
        ]
    )
    web = _without_scraps(knot([*streets.lines, *_ties(web, barriers), *_waters(streets.lines)]))
    return Town(web, _areas(), _node_tags(web, streets), hills, rng, names)
