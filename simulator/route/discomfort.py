"""How much nicer than a road a quiet way must be before it is worth its extra minutes.

A walker beside fast traffic is tired, wet and in danger sooner than one on a path; the least-time
way knows nothing of that. Each street gets a factor on its time, one where there is no motor
traffic: perceived cost = time · (1 + quiet · discomfort). The search minimises the perceived cost;
all times that are told are times. With ``quiet`` at zero the two are the same, and the way is the
fastest one.

What the factors rest on: the danger and the unease of walking beside traffic grow with speed,
volume and lanes, and fall with anything that stands between (from memory, common to guides of
roadside walking; no source gives one number). All numbers are assumptions, with their ranges.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.ground.walkable import HIGHWAYS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.ground.walkable import Ways

CLASS_DISCOMFORT = {
    **dict.fromkeys(("motorway", "motorway_link", "trunk", "trunk_link"), 1.2),
    **dict.fromkeys(("primary", "primary_link"), 0.8),
    **dict.fromkeys(("secondary", "secondary_link"), 0.5),
    **dict.fromkeys(("tertiary", "tertiary_link"), 0.25),
    **dict.fromkeys(("unclassified", "road", "busway", "other"), 0.1),
    **dict.fromkeys(("residential", "service"), 0.03),
}
"""Discomfort by kind of road, at `REFERENCE_KM_H` with no sidewalk: 1 means that a minute there
counts as two. Stands for the volume of traffic, which no map tells. Assumptions; half to double."""

REFERENCE_KM_H = 80.0
"""Speed limit at which `CLASS_DISCOMFORT` is meant [km/h]."""

TOWN_KM_H = 50.0
"""Taken where a road is lit or has a sidewalk and its limit is not mapped [km/h]; an assumption,
40 to 60."""

COUNTRY_KM_H = 80.0
"""Taken where nothing is mapped of a road of these kinds [km/h]; an assumption, 70 to 100."""

SPEED_EXPONENT = 1.0
"""Discomfort grows with this power of the speed limit; an assumption, 0.5 to 2."""

SLOWEST_KM_H, FASTEST_KM_H = 20.0, 130.0
"""Speed limits beyond these count as these [km/h]."""

LANES_FROM, LANES_FACTOR = 3, 1.3
"""From this many lanes on, discomfort is multiplied so; an assumption, 1.1 to 1.6."""

SIDEWALK_FACTOR = 0.15
"""What a sidewalk leaves of it; an assumption, 0.05 to 0.3."""

SHOULDER_FACTOR = 0.6
"""What a shoulder to walk on leaves of it; an assumption, 0.4 to 0.8."""

MOTORROAD_FACTOR = 1.5
"""A road for motor traffic only that a sign opens to walkers; an assumption, 1.2 to 2."""

DARK_FACTOR = 1.5
"""In the dark where no street light stands; an assumption, 1.2 to 2.5: being seen late is what
kills beside roads."""


_BY_CODE = np.array([CLASS_DISCOMFORT.get(name, 0.0) for name in HIGHWAYS])


def discomfort(
    highway: NDArray[np.int8],
    *,
    maxspeed_km_h: NDArray[np.floating],
    lanes: NDArray[np.integer],
    sidewalk: NDArray[np.bool_],
    shoulder: NDArray[np.bool_],
    motorroad: NDArray[np.bool_],
    lit: NDArray[np.int8],
    dark: bool = False,
) -> NDArray[np.float64]:
    """Say how unpleasant motor traffic makes some streets.

    Parameters
    ----------
    highway : (W,) int8
        Kinds, positions in ``simulator.ground.walkable.HIGHWAYS``.
    maxspeed_km_h : (W,) float
        Speed limits [km/h]; 0 where none is mapped.
    lanes : (W,) int
        Lanes of both directions together; 0 where not mapped.
    sidewalk, shoulder, motorroad : (W,) bool
        Whether the map has a sidewalk, a shoulder, and signs for motor traffic only.
    lit : (W,) int8
        -1 unknown, 0 no, 1 yes.
    dark : bool
        Walk it in the dark.

    Returns
    -------
    (W,) float64
        At least zero; zero where no motor traffic runs.

    Examples
    --------
    A country road of the first class without a sidewalk, and a path.

    >>> from simulator.ground.walkable import HIGHWAYS
    >>> kinds = np.array([HIGHWAYS.index("primary"), HIGHWAYS.index("path")], np.int8)
    >>> none = np.zeros(2, bool)
    >>> discomfort(
    ...     kinds, maxspeed_km_h=np.zeros(2), lanes=np.zeros(2, int), sidewalk=none,
    ...     shoulder=none, motorroad=none, lit=np.zeros(2, np.int8),
    ... ).tolist()
    [0.8, 0.0]
    """
    speed = speed_taken_km_h(maxspeed_km_h, lit=lit, sidewalk=sidewalk)
    found = _BY_CODE[highway] * (speed / REFERENCE_KM_H) ** SPEED_EXPONENT
    found = found * np.where(lanes >= LANES_FROM, LANES_FACTOR, 1.0)
    found = found * np.where(motorroad, MOTORROAD_FACTOR, 1.0)
    found = found * np.where(sidewalk, SIDEWALK_FACTOR, np.where(shoulder, SHOULDER_FACTOR, 1.0))
    if dark:
        found = found * np.where(lit == 1, 1.0, DARK_FACTOR)
    return np.asarray(found, np.float64)


def speed_taken_km_h(
    maxspeed_km_h: NDArray[np.floating], *, lit: NDArray[np.int8], sidewalk: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Give the speed limit, or what is taken where none is mapped, within what counts."""
    in_town = (lit == 1) | sidewalk
    speed = np.where(maxspeed_km_h > 0, maxspeed_km_h, np.where(in_town, TOWN_KM_H, COUNTRY_KM_H))
    return np.clip(speed, SLOWEST_KM_H, FASTEST_KM_H)


IMPACT_DEATH = (6.9, 0.090)
"""Share of struck grown walkers who die at v km/h: 1 / (1 + exp(6.9 - 0.090 v)); Rosén and Sander
2009, Accid Anal Prev 41:536-542; from memory."""

SHOULDER_LEAVES = 0.3
"""What a paved shoulder leaves of the crashes of people who walk along a road: 71 % fewer (US
Federal Highway Administration, desktop reference for crash reduction factors; from memory)."""


def traffic_danger(ways: Ways, rows: NDArray[np.integer]) -> NDArray[np.float64]:
    """Give the danger of walking along roads, over that of a main road at `REFERENCE_KM_H`.

    The share of impacts that kill at the speed limit, times the traffic that the kind of road
    stands for (`CLASS_DISCOMFORT`), less what a shoulder leaves. Exposure only: how drivers and
    sight are on the day no map tells.

    Parameters
    ----------
    ways : Ways
        The ways.
    rows : (S,) int
        Those asked for.

    Returns
    -------
    (S,) float64
        1 for a primary road at 80 km/h without pavement or shoulder.
    """
    lit, sidewalk = ways.lit[rows], ways.sidewalk[rows]
    speed = speed_taken_km_h(ways.maxspeed_km_h[rows], lit=lit, sidewalk=sidewalk)
    kills, reference = (
        1.0 / (1.0 + np.exp(IMPACT_DEATH[0] - IMPACT_DEATH[1] * km_h))
        for km_h in (speed, REFERENCE_KM_H)
    )
    volume = _BY_CODE[ways.highway[rows]] / CLASS_DISCOMFORT["primary"]
    left = np.where(ways.shoulder[rows], SHOULDER_LEAVES, 1.0)
    return np.asarray(kills / reference * volume * left, np.float64)


def quiet_factor(ways: Ways, *, quiet: float, dark: bool = False) -> NDArray[np.float64]:
    """Give the factor from time to perceived cost, for every way of a map.

    Parameters
    ----------
    ways : Ways
        The ways.
    quiet : float
        Weight of the discomfort, 0 for the fastest way.
    dark : bool
        Walk it in the dark.

    Returns
    -------
    (W,) float64
        At least one.
    """
    return 1.0 + quiet * discomfort(
        ways.highway,
        maxspeed_km_h=ways.maxspeed_km_h,
        lanes=ways.lanes,
        sidewalk=ways.sidewalk,
        shoulder=ways.shoulder,
        motorroad=ways.motorroad,
        lit=ways.lit,
        dark=dark,
    )
