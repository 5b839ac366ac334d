"""Rivers, streams and lakes: where a street comes near enough to fill a bottle.

Surface water always needs treatment, and treatment does not remove fuel or chemicals; the rules of
`simulator.ground.kinds` leave out water that is salt, tidal, covered or may be dry.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from simulator.ground.kinds import OPEN_WATER, match
from simulator.ground.snap import Shape, metres_per_degree, nearest_points

if TYPE_CHECKING:
    from simulator.ground.streets import Streets

Floats = NDArray[np.float64]

BANK_M = 60.0
"""Water farther than this from a street is not looked for [m]: the ground between is unknown."""

STRETCH_M = 500.0
"""Along one stretch of water of this length the point nearest to a street is enough [m]."""

SAMPLE_M = 20.0
"""Distance between the points of a shore that are tried [m]."""


class Drawn(Protocol):
    """A line of the map: tags and points."""

    @property
    def tags(self) -> Mapping[str, str]:
        """OSM tags."""

    @property
    def lon(self) -> Floats:
        """Longitudes [deg]."""

    @property
    def lat(self) -> Floats:
        """Latitudes [deg]."""


class WaterPoint(NamedTuple):
    """A point on a shore, as a feature for `simulator.ground.places.places_from`.

    Attributes
    ----------
    osm : str
        "", as the line's number is not kept.
    lon, lat : float
        Position [deg].
    tags : mapping of str to str
        OSM tags of the line.
    """

    osm: str
    lon: float
    lat: float
    tags: Mapping[str, str]


def open_water(
    lines: Iterable[Drawn],
    streets: Streets,
    *,
    bank_m: float = BANK_M,
    stretch_m: float = STRETCH_M,
) -> tuple[WaterPoint, ...]:
    """Find where streets come near rivers, streams and lakes.

    Parameters
    ----------
    lines : iterable of Drawn
        Lines of the map; those that are no usable water are passed over.
    streets : Streets
        The network. Bridges and tunnels do not count: one cannot reach the water from them.
    bank_m : float
        Farthest the street may lie from the water [m].
    stretch_m : float
        One point is given for each stretch of this length [m].

    Returns
    -------
    tuple of WaterPoint
        In the order of the lines.
    """
    waters = [line for line in lines if match(line.tags) in OPEN_WATER and len(line.lon)]
    if not waters:
        return ()
    sampled = [_sampled(line.lon, line.lat) for line in waters]
    size = [along.size for _, _, along in sampled]
    lon, lat, along = (np.concatenate(column) for column in zip(*sampled, strict=True))
    owner = np.repeat(np.arange(len(waters)), size)

    way = streets.way
    ground = ~(streets.ways.bridge[way] | streets.ways.tunnel[way])
    ground &= streets.open_forward | streets.open_backward
    shape = Shape(streets.lon, streets.lat, streets.tail, streets.head, streets.attribution)
    away_m = nearest_points(shape, lat, lon, limit_m=bank_m, allowed=ground).distance_m

    near = np.flatnonzero(np.isfinite(away_m))
    stretch = np.floor(along[near] / stretch_m)
    order = np.lexsort((away_m[near], stretch, owner[near]))
    near, stretch = near[order], stretch[order]
    first = np.ones(near.size, dtype=np.bool_)
    first[1:] = (owner[near[1:]] != owner[near[:-1]]) | (stretch[1:] != stretch[:-1])
    return tuple(
        WaterPoint("", float(lon[row]), float(lat[row]), waters[int(owner[row])].tags)
        for row in near[first]
    )


def _sampled(lon: Floats, lat: Floats) -> tuple[Floats, Floats, Floats]:
    """Points along a line, and how far along they lie [m]."""
    east, north = metres_per_degree(lat[:1])
    length = np.hypot(np.diff(lon) * east, np.diff(lat) * north)
    along = np.concatenate(([0.0], np.cumsum(length)))
    count = max(int(np.ceil(along[-1] / SAMPLE_M)), 1)
    at = np.linspace(0.0, along[-1], count + 1)
    return np.interp(at, along, lon), np.interp(at, along, lat), at
