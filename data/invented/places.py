"""Put the places of the table beside streets, buildings clear of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from data.invented import layout
from data.invented.frame import Floats, Ints
from data.invented.place_table import MAIN, OPEN, SORTS, Sort
from data.invented.roads import MAIN_KINDS, built
from data.invented.shapes import Segments
from data.invented.styles import Tags
from data.invented.terrain import water_gap_m
from data.invented.town import APART, Town, on_foot

APART_M = 130.0  # two places of one sort keep this far apart
NODE_OFF_M = 9.0
TRIES = 60


@dataclass(frozen=True)
class Place:
    """One place: its outline (one point: a node) in metres, and its tags."""

    outline: Floats
    tags: Tags


class _Sites:
    """Spots beside streets, by part of town."""

    def __init__(self, town: Town) -> None:
        web = town.web
        self._rng = town.rng
        self._segments = Segments.of([web.xy[chain] for chain in web.chains])
        zone_ends: dict[str, list[Ints]] = {}
        for chain, tags, zone in zip(web.chains, web.tags, web.zones, strict=True):
            if not on_foot(tags) or len(chain) < 3 or zone in APART or "bridge" in tags:
                continue
            if tags.get("tunnel") or tags.get("access") == "private":
                continue
            pairs = np.column_stack([chain[:-1], chain[1:]])
            if zone:
                zone_ends.setdefault(zone, []).append(pairs)
            elif tags["highway"] in MAIN_KINDS:
                zone_ends.setdefault(MAIN[0], []).append(pairs)
                if tags.get("lit") == "no":
                    zone_ends.setdefault(OPEN[0], []).append(pairs)
        self._pairs = {zone: np.vstack(parts) for zone, parts in zone_ends.items()}
        self._xy = web.xy

    def spots(self, zone: str, off_m: float, clear_m: float) -> list[tuple[Floats, Floats]]:
        """Give points beside streets with nothing near, and the direction of the street."""
        pairs = self._pairs[zone]
        a, b = pairs[self._rng.integers(len(pairs), size=TRIES)].T
        along = self._xy[b] - self._xy[a]
        along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
        side = np.where(self._rng.random(TRIES) < 0.5, 1.0, -1.0)[:, None]
        left = np.column_stack([-along[:, 1], along[:, 0]])
        points = (self._xy[a] + self._xy[b]) / 2 + side * off_m * left
        gap, _, _ = self._segments.nearest(points, clear_m)
        good = ~np.isfinite(gap) & (water_gap_m(points, 300.0) > clear_m + 4.0)
        if zone in OPEN:
            good &= ~built(points)
        return [(points[number], along[number]) for number in np.flatnonzero(good)]


def _outline(sort: Sort, point: Floats, along: Floats) -> Floats:
    if not sort.size_m[0]:
        return point[None]
    across = np.array([-along[1], along[0]])
    half_a, half_b = along * sort.size_m[0] / 2, across * sort.size_m[1] / 2
    return np.array(
        [point - half_a - half_b, point + half_a - half_b, point + half_a + half_b,
         point - half_a + half_b]
    )  # fmt: skip


def put(town: Town) -> list[Place]:
    """Place the spots drawn by hand and every row of the table.

    Raises
    ------
    RuntimeError
        A row found no room; the table asks for more than the town holds.
    """
    sites = _Sites(town)
    rng = town.rng
    found = [Place(np.array([spot]) * 1000.0, dict(tags)) for tags, spot in layout.SPOTS]
    for sort in SORTS:
        reach = float(np.hypot(*sort.size_m)) / 2
        off, clear = (reach + 6.0, reach + 3.0) if reach else (NODE_OFF_M, NODE_OFF_M - 3.0)
        mine: list[Floats] = []
        zones = rng.permutation(len(sort.zones))
        hours = rng.permutation(len(sort.hours))
        for number in range(sort.count):
            for attempt in range(len(zones)):
                zone = sort.zones[int(zones[(number + attempt) % len(zones)])]
                free = [
                    spot
                    for spot in sites.spots(zone, off, clear)
                    if all(np.hypot(*(spot[0] - other)) > APART_M for other in mine)
                ]
                if free:
                    break
            else:
                msg = f"no room for {sort.tags} in {sort.zones}"
                raise RuntimeError(msg)
            spot = free[0]
            mine.append(spot[0])
            tags = dict(sort.tags)
            if sort.suffix:
                ending = sort.suffix[int(rng.integers(len(sort.suffix)))]
                tags["name"] = f"{town.names.stem()} {ending}"
            text = sort.hours[int(hours[number % len(hours)])]
            if text:
                tags["opening_hours"] = text
            found.append(Place(_outline(sort, *spot), tags))
    return found
