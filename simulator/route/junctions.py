"""The junctions of a way as a walker meets them: which ways lead on, and at what angle.

All is read from the drawn lines. An arm's bearing is taken to the point `SEEN_M` along it, straight
through points where nothing branches off, or to the next junction if that comes sooner.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.ground.streets import Streets

SEEN_M = 20.0
"""How far along an arm its direction is judged [m]; an assumption, 10 to 40."""

HOPS = 8
"""Points followed at most while an arm's direction is judged."""

DEGREE_M = 111_195.0
"""One degree of latitude on a sphere of 6,371 km [m]; used only to compare near points."""


class Arm(NamedTuple):
    """A way that leads on from a junction.

    Attributes
    ----------
    segment : int
        Its first segment.
    forward : bool
        Whether that is walked tail to head when leaving by this arm.
    way : int
        Row in ``Streets.ways``.
    angle_deg : float
        From straight on, positive to the right, -180 to 180 [deg].
    """

    segment: int
    forward: bool
    way: int
    angle_deg: float


@dataclass(frozen=True, slots=True)
class Junction:
    """A point of a way where the walker has a choice.

    Attributes
    ----------
    along_m : float
        From the start of the way [m].
    row : int
        Place of the segment that is taken, in the way.
    came : int
        Row in ``Streets.ways`` of the street one comes along.
    arms : tuple of Arm
        All that lead on, from the leftmost to the rightmost; not the way back.
    taken : int
        Place of the right one in ``arms``.
    """

    along_m: float
    row: int
    came: int
    arms: tuple[Arm, ...]
    taken: int


class _Near:
    """The streets close to a way, to be followed from point to point."""

    def __init__(self, streets: Streets, nodes: NDArray[np.int64]) -> None:
        self._streets = streets
        flag = np.zeros(streets.node_id.size, bool)
        flag[nodes] = True
        rows = np.empty(0, np.int64)
        for _ in range(HOPS + 1):
            rows = np.flatnonzero(flag[streets.tail] | flag[streets.head])
            flag[streets.tail[rows]] = flag[streets.head[rows]] = True
        self._arms: dict[int, list[tuple[int, bool, int]]] = {}
        tails, heads = streets.tail[rows].tolist(), streets.head[rows].tolist()
        for row, tail, head in zip(rows.tolist(), tails, heads, strict=True):
            self._arms.setdefault(tail, []).append((row, True, head))
            self._arms.setdefault(head, []).append((row, False, tail))

    def at(self, node: int) -> list[tuple[int, bool, int]]:
        """Segments that leave a point, whether as drawn, and where they lead."""
        return self._arms[node]

    def bearing_deg(self, node: int, segment: int, forward: bool) -> float:
        """Direction in which an arm leaves, clockwise from north [deg]."""
        streets = self._streets
        gone_m = 0.0
        for _ in range(HOPS):
            end = int((streets.head if forward else streets.tail)[segment])
            length_m = float(streets.length_m[segment])
            if gone_m + length_m >= SEEN_M:
                share = (SEEN_M - gone_m) / length_m
                lon, lat = streets.point_at(segment, share if forward else 1.0 - share)
                break
            gone_m += length_m
            lon, lat = float(streets.lon[end]), float(streets.lat[end])
            onward = [arm for arm in self._arms.get(end, ()) if arm[0] != segment]
            if len(onward) != 1 or end == node:
                break
            segment, forward, _ = onward[0]
        east = (lon - float(streets.lon[node]) + 180.0) % 360.0 - 180.0
        east *= math.cos(math.radians(lat))
        return math.degrees(math.atan2(east, lat - float(streets.lat[node])))


def turned_deg(angle_deg: float) -> float:
    """Bring an angle into -180 to 180 [deg]."""
    return (angle_deg + 180.0) % 360.0 - 180.0


def junctions_along(
    streets: Streets,
    segment: NDArray[np.int32],
    forward: NDArray[np.bool_],
    along_m: NDArray[np.float64],
) -> tuple[Junction, ...]:
    """List the points of a way where more than one way leads on.

    Parameters
    ----------
    streets : Streets
        All streets; closed ones stand there too, and are seen.
    segment : (K,) int
        Segments in the order walked.
    forward : (K,) bool
        Whether each is walked tail to head.
    along_m : (K,) float
        Where each begins, from the start [m].

    Returns
    -------
    tuple of Junction
        In walking order. Where the way turns back on the same street, the way back is an arm.
    """
    entry = np.where(forward, streets.tail[segment], streets.head[segment]).astype(np.int64)
    near = _Near(streets, entry)
    found = []
    rows = zip(segment.tolist(), forward.tolist(), entry.tolist(), along_m.tolist(), strict=True)
    before: tuple[int, bool] | None = None
    for row, (here, ahead, node, at_m) in enumerate(rows):
        if before is not None:
            came, came_ahead = before
            met = int((streets.head if came_ahead else streets.tail)[came])
            back = (here, not ahead) == before
            leaving = [arm for arm in near.at(node) if back or arm[0] != came]
            if met == node and len(leaving) > 1:
                # Straight on is away from the arm one came by.
                straight = near.bearing_deg(node, came, not came_ahead) + 180.0
                arms = sorted(
                    (
                        Arm(
                            one,
                            drawn,
                            int(streets.way[one]),
                            # To a tenth, so that lines drawn twice are told apart by number.
                            round(turned_deg(near.bearing_deg(node, one, drawn) - straight), 1),
                        )
                        for one, drawn, _end in leaving
                    ),
                    key=lambda arm: (arm.angle_deg, arm.segment, arm.forward),
                )
                taken = [(arm.segment, arm.forward) for arm in arms].index((here, ahead))
                found.append(Junction(at_m, row, int(streets.way[came]), tuple(arms), taken))
        before = (here, ahead)
    return tuple(found)


def heading_deg(streets: Streets, segment: int, *, forward: bool) -> float:
    """Direction in which a segment is walked, clockwise from north [deg].

    Parameters
    ----------
    streets : Streets
        All streets.
    segment : int
        The segment.
    forward : bool
        Whether it is walked tail to head.

    Returns
    -------
    float
        0 to 360.
    """
    tail, head = int(streets.tail[segment]), int(streets.head[segment])
    begin, end = (tail, head) if forward else (head, tail)
    east = turned_deg(float(streets.lon[end] - streets.lon[begin]))
    east *= math.cos(math.radians(float(streets.lat[end])))
    return math.degrees(math.atan2(east, float(streets.lat[end] - streets.lat[begin]))) % 360.0
