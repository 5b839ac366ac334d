"""Places of a map and where they meet the streets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from simulator.ground.kinds import (
    EVENTS,
    PLACE_RULES,
    gives,
    kind_of,
    match,
    needs_treatment,
    reason_left_out,
)
from simulator.ground.snap import Shape, metres_per_degree, nearest_points

if TYPE_CHECKING:
    from simulator.ground.streets import Streets

__all__ = ["PLACE_RULES", "Places", "Tagged", "attach", "match", "places_from"]

REACH_M = 300.0
"""Places farther than this from any street, as the crow flies, are not attached [m]."""

SAME_PLACE_M = 60.0
"""A place drawn both as a point and as a building, or as several buildings, is one when they lie
this close [m] and no name speaks against it. Assumed: half of a large building."""

SAME_THING_M = 15.0
"""As `SAME_PLACE_M`, for things that are small and often stand in twos; assumed."""

SMALL = frozenset(
    {"bench", "bus shelter", "shelter", "drinking water", "tap", "fountain", "well", "spring"}
    | {"cattle trough", "drinks machine", "emergency phone"}
)
"""Kinds that are things rather than buildings."""

SEVERAL_BUILDINGS = frozenset({"school", "hospital", "office", "public building", "hotel"})
"""Kinds that often stand in several buildings without a name of their own."""

LEAST_PIECE_M = 2000.0
"""Streets that hang together over less than this lead nowhere: a courtyard, a platform [m]."""


class Tagged(Protocol):
    """A feature of the map: number, position and tags."""

    @property
    def osm(self) -> str:
        """Kind and number, "n123", "w45" or "r6"."""

    @property
    def lon(self) -> float:
        """Longitude [deg]."""

    @property
    def lat(self) -> float:
        """Latitude [deg]."""

    @property
    def tags(self) -> Mapping[str, str]:
        """OSM tags."""


@dataclass(frozen=True, slots=True)
class Places:
    """K places, and where each meets the streets.

    Attributes
    ----------
    osm : tuple of K str
        "n123", "w45" or "r6".
    kind : tuple of K str
        Key of `PLACE_RULES`.
    name : tuple of K str
        Name on the map, "" unknown.
    lon, lat : ndarray of float, shape (K,)
        Position [deg].
    hours : tuple of K str
        ``opening_hours`` as tagged, "" unknown.
    gives : tuple of K frozenset of str
        Of "water", "food", "shelter", "help", "rest".
    needs_treatment, needs_key : ndarray of bool, shape (K,)
        The water must be treated; the tap needs a spigot key and leave.
    always_open : ndarray of bool, shape (K,)
        Outdoors or never locked: with no hours on the map it can be used at any hour.
    works : ndarray of float, shape (K, len(EVENTS))
        Share of such places that give what they give under each of `EVENTS`, 0 to 1. Assumed.
    service_s : ndarray of float, shape (K,)
        Time at the place: asking, queueing, filling [s]. Assumed.
    edited : tuple of K str
        What a person has said of it instead of map and table, "" nothing.
    segment : ndarray of int32, shape (K,)
        Nearest walkable segment; -1 if none is within reach or not attached yet.
    fraction : ndarray of float, shape (K,)
        Where on the segment, from its tail; NaN without a segment.
    access_m : ndarray of float, shape (K,)
        From the street to the place in a straight line [m]; infinite without a segment.
    left_out : tuple of (str, str, str)
        Features that would be a place but may not be used: osm, kind, reason.
    """

    osm: tuple[str, ...]
    kind: tuple[str, ...]
    name: tuple[str, ...]
    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    hours: tuple[str, ...]
    gives: tuple[frozenset[str], ...]
    needs_treatment: NDArray[np.bool_]
    needs_key: NDArray[np.bool_]
    always_open: NDArray[np.bool_]
    works: NDArray[np.float64]
    service_s: NDArray[np.float64]
    edited: tuple[str, ...]
    segment: NDArray[np.int32]
    fraction: NDArray[np.float64]
    access_m: NDArray[np.float64]
    left_out: tuple[tuple[str, str, str], ...] = ()

    def __len__(self) -> int:
        return len(self.osm)

    def works_in(self, event: str) -> NDArray[np.float64]:
        """Give the share of such places that work in an event.

        Parameters
        ----------
        event : str
            One of `EVENTS`.

        Returns
        -------
        ndarray of float, shape (K,)
            0 to 1; assumed.
        """
        return self.works[:, EVENTS.index(event)]


def places_from(features: Iterable[Tagged]) -> Places:
    """Pick the places out of the features of a map.

    Parameters
    ----------
    features : iterable of Tagged
        Anything with ``osm``, ``lon``, ``lat`` and ``tags``.

    Returns
    -------
    Places
        In the order given, not attached to streets yet. A place that is drawn both as a point and
        as a building appears once, with the tags of both; the named one's own come first.
    """
    kept: list[tuple[Tagged, str]] = []
    left_out: list[tuple[str, str, str]] = []
    for feature in features:
        kind = kind_of(feature.tags)
        if kind is None:
            continue
        reason = reason_left_out(feature.tags, kind)
        if reason:
            left_out.append((feature.osm, kind, reason))
        else:
            kept.append((feature, kind))
    kept = _merged(kept)
    rules = [PLACE_RULES[kind] for _, kind in kept]
    return Places(
        osm=tuple(feature.osm for feature, _ in kept),
        kind=tuple(kind for _, kind in kept),
        name=tuple(feature.tags.get("name", "") for feature, _ in kept),
        lon=np.array([feature.lon for feature, _ in kept], dtype=np.float64),
        lat=np.array([feature.lat for feature, _ in kept], dtype=np.float64),
        hours=tuple(feature.tags.get("opening_hours", "") for feature, _ in kept),
        gives=tuple(gives(feature.tags, PLACE_RULES[kind]) for feature, kind in kept),
        needs_treatment=np.array(
            [needs_treatment(feature.tags, PLACE_RULES[kind]) for feature, kind in kept],
            dtype=np.bool_,
        ),
        needs_key=np.array([rule.needs_key for rule in rules], dtype=np.bool_),
        always_open=np.array([rule.always_open for rule in rules], dtype=np.bool_),
        works=np.array(
            [[rule.works[event] for event in EVENTS] for rule in rules], dtype=np.float64
        ).reshape(len(kept), len(EVENTS)),
        service_s=np.array([rule.service_s for rule in rules], dtype=np.float64),
        edited=("",) * len(kept),
        segment=np.full(len(kept), -1, dtype=np.int32),
        fraction=np.full(len(kept), np.nan),
        access_m=np.full(len(kept), np.inf),
        left_out=tuple(left_out),
    )


class _Merged(NamedTuple):
    """Several features that are one place."""

    osm: str
    lon: float
    lat: float
    tags: Mapping[str, str]


def _merged(kept: list[tuple[Tagged, str]]) -> list[tuple[Tagged, str]]:
    """Make one place of a point and the building around it, and of unnamed wings of a building."""
    by_kind: dict[str, list[int]] = {}
    for row, (feature, kind) in enumerate(kept):
        if feature.osm:  # a point on a shore stands for a stretch of water of its own
            by_kind.setdefault(kind, []).append(row)
    gone: set[int] = set()
    whole = list(kept)
    for kind, rows in by_kind.items():
        if len(rows) == 1 or all(kept[row][0].osm[0] == "n" for row in rows):
            continue
        east, north = metres_per_degree(kept[rows[0]][0].lat)
        flat = [(kept[row][0].lon * float(east), kept[row][0].lat * float(north)) for row in rows]
        within_m = SAME_THING_M if kind in SMALL else SAME_PLACE_M
        pairs = cKDTree(flat).query_pairs(within_m, output_type="ndarray")
        for first, second in sorted(pairs.tolist()):
            one, other = rows[first], rows[second]
            if one in gone or other in gone or not _same(whole[one][0], whole[other][0], kind):
                continue
            kept_row, gone_row = (
                (one, other) if _fuller(whole[one][0], whole[other][0]) else (other, one)
            )
            keeps, goes = whole[kept_row][0], whole[gone_row][0]
            tags = {**goes.tags, **keeps.tags}
            whole[kept_row] = (_Merged(keeps.osm, keeps.lon, keeps.lat, tags), kind)
            gone.add(gone_row)
    return [pair for row, pair in enumerate(whole) if row not in gone]


def _same(one: Tagged, other: Tagged, kind: str) -> bool:
    """Whether two near features of a kind may be one place."""
    names = {one.tags.get("name", ""), other.tags.get("name", "")}
    if len(names - {""}) > 1 or (one.osm[0] == other.osm[0] == "n"):
        return False
    return one.osm[0] != other.osm[0] or (kind in SEVERAL_BUILDINGS and "" in names)


def _fuller(one: Tagged, other: Tagged) -> bool:
    """Whether the first says at least as much as the second; a point knows its door best."""

    def said(feature: Tagged) -> tuple[bool, bool, bool]:
        tags = feature.tags
        return "name" in tags, "opening_hours" in tags, feature.osm[0] == "n"

    return said(one) >= said(other)


def attach(places: Places, streets: Streets, *, reach_m: float = REACH_M) -> Places:
    """Find where each place meets the streets.

    Bridges and tunnels are passed over, as one does not step off them; so are streets that hang
    together with too little else to lead anywhere.

    Parameters
    ----------
    places : Places
        K places.
    streets : Streets
        The network.
    reach_m : float
        Farthest the street may lie in a straight line [m].

    Returns
    -------
    Places
        The same places with `segment`, `fraction` and `access_m`.
    """
    pieces = streets.components()
    allowed = (
        (streets.open_forward | streets.open_backward)
        & ~streets.ways.bridge[streets.way]
        & ~streets.ways.tunnel[streets.way]
        & (pieces.length_m >= min(LEAST_PIECE_M, pieces.length_m.max(initial=0.0)))[
            pieces.label[streets.tail]
        ]
    )
    shape = Shape(streets.lon, streets.lat, streets.tail, streets.head, streets.attribution)
    found = nearest_points(shape, places.lat, places.lon, limit_m=reach_m, allowed=allowed)
    return replace(
        places, segment=found.segment, fraction=found.fraction, access_m=found.distance_m
    )
