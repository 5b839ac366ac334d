"""The lines drawn by hand, cut where they become bridge, tunnel, town or country."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from data.invented import layout
from data.invented.frame import Bools, Floats, Ints
from data.invented.layout import Road
from data.invented.noding import Line
from data.invented.shapes import Segments, at, chainage, crossings, inside, offset, resample, spline
from data.invented.styles import ROADS, Tags
from data.invented.terrain import half_width_m, river_line, water_gap_m

STEP_M = 26.0
ABUTMENT_M = 24.0  # a bridge begins this far from the water, so that riverside paths pass below
OVERPASS_M = 32.0
NEVER_MET = 9  # level of motorways and rails: they join others at their ends only
MAIN_KINDS = ("primary", "secondary", "tertiary")


def outline(district: layout.District) -> Floats:
    """Give a district's outline, metres."""
    corners = np.array(district.outline) * 1000.0
    if not district.radius_km:
        return corners
    angle = np.linspace(0, 2 * np.pi, 14, endpoint=False)
    uneven = 1 + 0.16 * np.sin(3 * angle + district.angle_deg)
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * uneven[:, None]
    return np.asarray(corners[0] + ring * district.radius_km * 1000.0)


def built(points: Floats) -> Bools:
    """Tell which points lie in a district."""
    within = np.zeros(len(points), np.bool_)
    for district in layout.DISTRICTS:
        within |= inside(points, outline(district))
    return within


def stretch(points: Floats, label: Ints) -> list[tuple[Floats, int]]:
    """Cut a line where its segments' label changes; neighbours share the point between."""
    cuts = np.concatenate([[0], np.flatnonzero(np.diff(label)) + 1, [len(label)]])
    return [(points[a : b + 1], int(label[a])) for a, b in pairwise(cuts.tolist())]


def with_points_at(points: Floats, distances: Sequence[float]) -> Floats:
    """Give the line with further points at the given distances along it."""
    along = chainage(points)
    extra = [d for d in distances if np.min(np.abs(along - d)) > 1.0]
    return at(points, np.sort(np.concatenate([along, extra])))


def meetings(line: Floats, others: Sequence[Floats]) -> list[tuple[float, int, float]]:
    """Give where a line meets others: distance along it, number of the other, distance there."""
    mine, theirs = Segments.of([line]), Segments.of(others)
    i, j, t, u, _ = crossings(mine, theirs, 0.1)
    along = chainage(line)
    found = []
    for a, b, share_a, share_b in zip(i.tolist(), j.tolist(), t.tolist(), u.tolist(), strict=True):
        number, place = int(theirs.line[b]), int(theirs.place[b])
        there = chainage(others[number])
        found.append(
            (
                float(along[a] + share_a * (along[a + 1] - along[a])),
                number,
                float(there[place] + share_b * (there[place + 1] - there[place])),
            )
        )
    return sorted(found)


def _tags(road: Road, *, town: bool) -> Tags:
    base, in_town, in_country = ROADS[road.kind]
    name = {"name": road.name} if road.name else {}
    return {**base, **(in_town if town else in_country), **name, **road.extra}


def _over_water(points: Floats, margin_m: float) -> Bools:
    """Tell which segments touch the water or its bank, one unbroken run for each crossing."""
    fine = np.array([points[:-1] * (1 - s) + points[1:] * s for s in (0.0, 0.25, 0.5, 0.75, 1.0)])
    gap = water_gap_m(fine.reshape(-1, 2), 200.0).reshape(fine.shape[:2])
    lowest: Floats = np.min(gap, axis=0)
    near = lowest < margin_m
    grown: Bools = lowest < 0
    for _ in range(8):
        grown[1:] |= grown[:-1] & near[1:]
        grown[:-1] |= grown[1:] & near[:-1]
    return grown


def draw(road: Road, points: Floats) -> list[Line]:
    """Cut a road into ways."""
    middle = (points[:-1] + points[1:]) / 2
    town = built(middle).astype(np.int64)
    tunnel = np.zeros(len(middle), np.bool_)
    for west, east in road.under:
        tunnel |= (middle[:, 0] > west * 1000.0) & (middle[:, 0] < east * 1000.0)
    bridge = _over_water(points, ABUTMENT_M) if road.over else np.zeros(len(middle), np.bool_)
    lines = []
    for part, label in stretch(points, np.where(bridge, 2, np.where(tunnel, 3, town))):
        tags = _tags(road, town=bool(built(part).any()) if label > 1 else bool(label))
        if label == 2:
            lines += _bridge(road, part, tags)
        elif label == 3:
            tags |= {"tunnel": "yes", "layer": "-1", "name": f"{road.name} Tunnel"}
            if road.kind != "motorroad":
                tags |= {"lit": "yes", "sidewalk": "right"}
            lines.append(Line(part, tags, -1))
        else:
            lines.append(Line(part, tags))
    return lines


def _bridge(road: Road, part: Floats, tags: Tags) -> list[Line]:
    if "ford" in road.over_tags:
        return [Line(part, {**tags, **road.over_tags, "name": road.over})]
    tags = {**tags, "bridge": "yes", "layer": "1", "bridge:name": road.over, **road.over_tags}
    if road.kind in ("footpath", "footway"):
        tags["name"] = road.over
    if road.over != "Market Bridge":
        return [Line(part, tags, 1)]
    # Three ways in a row, as where the surface and the footway change on the deck.
    thirds = np.array_split(np.arange(len(part) - 1), 3)
    changes: tuple[Tags, ...] = ({}, {"sidewalk": "left", "surface": "metal"}, {"maxspeed": "30"})
    return [
        Line(part[piece[0] : piece[-1] + 2], {**tags, **change}, 1)
        for piece, change in zip(thirds, changes, strict=True)
    ]


def hand_drawn() -> tuple[list[Road], list[Floats]]:
    """Give the roads and their smooth lines."""
    return list(layout.ROADS), [
        spline(np.array(road.path) * 1000.0, STEP_M) for road in layout.ROADS
    ]


def _lifted(
    points: Floats, tags: Tags, places: Sequence[float], wet: Bools, tunnel: Bools, name: str
) -> list[Line]:
    """Cut a line that others pass below into ground, bridge and tunnel."""
    along = (chainage(points)[:-1] + chainage(points)[1:]) / 2
    up = wet.copy()
    for place in places:
        up |= np.abs(along - place) < OVERPASS_M
    lines = []
    for part, label in stretch(points, np.where(tunnel, 2, up).astype(np.int64)):
        extra: Tags = {}
        if label == 1:
            extra = {"bridge": "yes", "layer": "1"}
            if name and water_gap_m(part, 100.0).min() < 0:
                extra["bridge:name"] = name
        elif label == 2:
            extra = {"tunnel": "yes", "layer": "-2"}
        lines.append(Line(part, {**tags, **extra}, NEVER_MET))
    return lines


def motorway(others: Sequence[Floats]) -> tuple[list[Line], list[Floats]]:
    """Give the motorway's two carriageways, its links to the expressway, and its lines."""
    road = layout.MOTORWAY
    middle = spline(np.array(road.path) * 1000.0, STEP_M)
    lines, drawn = [], []
    for side in (-13.0, 13.0):
        points = offset(middle if side < 0 else middle[::-1], -13.0)
        places = [place for place, _, _ in meetings(points, others)]
        wet = _over_water(points, ABUTMENT_M)
        nothing = np.zeros(len(wet), np.bool_)
        lines += _lifted(points, _tags(road, town=False), places, wet, nothing, road.over)
        drawn.append(points)
    return lines, drawn


def expressway_line() -> Floats:
    """Give the motorroad's line."""
    return spline(np.array(layout.TRUNK.path) * 1000.0, STEP_M)


def expressway(others: Sequence[Floats], carriageways: Sequence[Floats]) -> list[Line]:
    """Give the motorroad through the ridge, and slip roads to the motorway it passes below."""
    road = layout.TRUNK
    points = expressway_line()
    middle = (points[:-1] + points[1:]) / 2
    west, east = (1000.0 * x for x in road.under[0])
    tunnel = (middle[:, 0] > west) & (middle[:, 0] < east)
    places = [place for place, _, _ in meetings(points, others)]
    lines = []
    joins = points[[0, int(np.argmin(np.abs(points[:, 0] + 2100.0)))]]
    for part in _lifted(
        points, _tags(road, town=False), places, np.zeros(len(middle), np.bool_), tunnel, ""
    ):
        inner = int(np.argmin(np.hypot(*(part.points - joins[1]).T)))
        cuts = [0, inner, len(part.points) - 1]
        for a, b in pairwise(cuts):
            if b > a and (inner in (a, b)):
                lines.append(Line(part.points[a : b + 1], part.tags, NEVER_MET))
    for way, join in zip(carriageways, joins[::-1], strict=True):  # east side first
        near = int(np.argmin(np.hypot(*(way - join).T)))
        for step in (-15, 15):
            bow = (way[near + step] + join) / 2 + (join - way[near]) * 0.3
            slip = spline(np.array([way[near + step], bow, join]), STEP_M)
            tags = {"highway": "motorway_link", "oneway": "yes", "surface": "asphalt"}
            lines.append(Line(slip if step < 0 else slip[::-1], tags, NEVER_MET))
    return lines


def railway(roads: Sequence[Road], drawn: list[Floats]) -> tuple[list[Line], list[Floats], Floats]:
    """Give the railway, the roads with points at level crossings, and those points."""
    points = spline(np.array(layout.RAIL) * 1000.0, STEP_M)
    tags = {"railway": "rail", "gauge": "1435", "electrified": "no", "usage": "main"}
    met = meetings(points, drawn)
    below = [place for place, number, _ in met if roads[number].kind in MAIN_KINDS]
    level = [(p, n, d) for p, n, d in met if roads[n].kind not in MAIN_KINDS]
    points = with_points_at(points, [place for place, _, _ in level])
    for _, number, there in level:
        drawn[number] = with_points_at(drawn[number], [there])
    spots = at(points, np.array([place for place, _, _ in level]))
    wet = _over_water(points, ABUTMENT_M)
    lines = []
    nothing = np.zeros(len(wet), np.bool_)
    for part in _lifted(points, tags, below, wet, nothing, layout.RAIL_BRIDGE):
        along = chainage(part.points)
        cuts = [
            int(np.argmin(np.hypot(*(part.points - spot).T)))
            for spot in spots
            if np.min(np.hypot(*(part.points - spot).T)) < 1.2
        ]
        edges = sorted({0, *cuts, len(along) - 1})
        for a, b in pairwise(edges):
            lines.append(Line(part.points[a : b + 1], part.tags, NEVER_MET))
    return lines, drawn, spots


def rail_walkway() -> list[Line]:
    """Give the footway beside the rails on the railway bridge, and the paths that lead to it."""
    points = offset(spline(np.array(layout.RAIL) * 1000.0, STEP_M), -8.0)
    wet = np.flatnonzero(_over_water(points, ABUTMENT_M))
    points = points[wet[0] - 4 : wet[-1] + 6]
    south, north = (np.array(path) * 1000.0 for path in layout.RAIL_WALK)
    points = spline(np.vstack([south, points[::6], points[-1:], north]), STEP_M)
    bridge = _over_water(points, ABUTMENT_M).astype(np.int64)
    lines = []
    for part, label in stretch(points, bridge):
        tags = {"highway": "footway", "surface": "gravel", "lit": "no", "name": "Rail Walk"}
        if label:
            tags |= {
                "bridge": "yes", "layer": "1", "surface": "wood", "width": "1.5",
                "bridge:name": layout.RAIL_BRIDGE, "name": "Heronsgap Walkway",
            }  # fmt: skip
        lines.append(Line(part, tags, 1 if label else 0))
    return lines


def dual_carriageway() -> list[Line]:
    """Give the bridge with two carriageways and a footway of its own."""
    start, end = np.array([-5150.0, -1700.0]), np.array([-4900.0, -450.0])
    middle = resample(np.vstack([start, end]), STEP_M)
    share = np.linspace(0, 1, len(middle))
    bulge = np.minimum(1.0, np.minimum(share, 1 - share) * 9)
    lines = []
    for distance, kind in ((-9.0, "up"), (9.0, "down"), (19.0, "foot")):
        points = offset(middle, bulge * distance)
        if kind == "down":
            points = points[::-1]
        bridge = _over_water(points, ABUTMENT_M).astype(np.int64)
        for part, label in stretch(points, bridge):
            tags: Tags = {
                "highway": "secondary", "oneway": "yes", "lanes": "2", "lit": "yes",
                "surface": "asphalt", "name": "New Bridge Road", "dual_carriageway": "yes",
                "sidewalk": "separate", "foot": "use_sidepath",
            }  # fmt: skip
            if kind == "foot":
                tags = {
                    "highway": "footway", "footway": "sidewalk", "lit": "yes", "foot": "designated",
                    "surface": "paving_stones", "name": "New Bridge Road",
                }  # fmt: skip
            if label:
                tags |= {"bridge": "yes", "layer": "1", "bridge:name": "New Bridge"}
            lines.append(Line(part, tags, 1 if label else 0))
    return lines


# Paths along the water: side (+1 left bank, looking downstream), from and to (share of its length).
BANKS = (
    ("Quayside", 1, 0.700, 0.775, {"highway": "footway", "surface": "sett", "lit": "yes"}),
    ("Ossen Towpath", -1, 0.655, 0.765, {"highway": "path", "surface": "compacted", "lit": "no"}),
    ("Saltings Path", -1, 0.80, 0.90, {"highway": "path", "surface": "ground", "lit": "no"}),
    ("Weirside Walk", 1, 0.585, 0.685, {"highway": "footway", "surface": "fine_gravel",
                                        "lit": "no"}),
    ("Gap Path", -1, 0.41, 0.56, {"highway": "path", "surface": "ground", "lit": "no"}),
    ("Otter Path", -1, 0.20, 0.37, {"highway": "path", "surface": "grass", "lit": "no"}),
)  # fmt: skip


def riverside() -> list[Line]:
    """Give the paths along the banks."""
    river = river_line()
    along = chainage(river)
    lines = []
    for name, side, first, last, tags in BANKS:
        wanted = (along >= first * along[-1]) & (along <= last * along[-1])
        gap = half_width_m(river) + 13.0
        path = resample(offset(river, side * gap)[wanted], 20.0)
        lines.append(Line(path, {**tags, "name": name}))
    return lines
