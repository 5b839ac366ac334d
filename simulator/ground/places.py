"""Places of a map and where they meet the streets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from simulator.ground.kinds import (
    PLACE_RULES,
    gives,
    kind_of,
    match,
    needs_treatment,
    reason_left_out,
)
from simulator.ground.snap import Shape, nearest_points

if TYPE_CHECKING:
    from simulator.ground.streets import Streets

__all__ = ["PLACE_RULES", "Places", "Tagged", "attach", "match", "places_from"]

REACH_M = 300.0
"""Places farther than this from any street, as the crow flies, are not attached [m]."""

LEAST_PIECE_M = 2000.0
"""Streets that hang together over less than this lead nowhere: a courtyard, a platform [m]."""


class Tagged(Protocol):
    """A feature of the map: number, position and tags."""

    @property
    def osm(self) -> str:
        """Kind and number, "n123" or "w45"."""

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
        "n123" or "w45".
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
    segment: NDArray[np.int32]
    fraction: NDArray[np.float64]
    access_m: NDArray[np.float64]
    left_out: tuple[tuple[str, str, str], ...] = ()

    def __len__(self) -> int:
        return len(self.osm)


def places_from(features: Iterable[Tagged]) -> Places:
    """Pick the places out of the features of a map.

    Parameters
    ----------
    features : iterable of Tagged
        Anything with ``osm``, ``lon``, ``lat`` and ``tags``.

    Returns
    -------
    Places
        In the order given, not attached to streets yet.
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
        segment=np.full(len(kept), -1, dtype=np.int32),
        fraction=np.full(len(kept), np.nan),
        access_m=np.full(len(kept), np.inf),
        left_out=tuple(left_out),
    )


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
