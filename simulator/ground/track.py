"""The door for recorded walks: GPX with times, as phones and receivers save it.

A file of a stranger: no entity is opened, no document type is taken, and its size is bounded. What
was no walk (a ride, clocks that go back, leaps) is refused with the point where it shows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn
from xml.parsers import expat

import numpy as np

from simulator.errors import InputError, shown
from simulator.files import read_bytes
from simulator.ground.snap import metres_per_degree

if TYPE_CHECKING:
    from numpy.typing import NDArray

LARGEST_BYTES = 50_000_000
"""A larger file is no walk of a day [bytes]: a point a second for 24 hours is some 15 MB."""

MOST_POINTS = 400_000
"""More points are refused: a point a second for four days."""

RULER_M = 25.0
"""Distance between the points that lengths are measured by [m]; an assumption, 15 to 40: shorter
adds the errors of the positions to the way, longer cuts its corners."""

PIECE_RULERS = 2
"""Rulers of which a piece is made that has one slope and one speed."""

LONGEST_PIECE_M = 250.0
"""A longer piece has too few points to say how the way ran [m]; an assumption, 100 to 400."""

LEAST_TRACK_KM = 2.0
"""A shorter walk tells too little of an hour's pace [km]; an assumption, 1 to 5."""

LONGEST_TRACK_H = 48.0
"""A longer record is more than one walk [h]; an assumption, 24 to 72."""

RIDE_M_S = 5.0
"""Faster than most people run for long, 18 km/h [m/s]; an assumption, 4 to 6."""

RIDE_SHARE = 0.02
"""Part of the length faster than that which makes it a ride; an assumption, 0.01 to 0.05: single
errors of positions stay below."""

FASTEST_USUAL_M_S, SLOWEST_USUAL_M_S = 2.5, 0.28
"""Most and least that the middle of the speeds may be [m/s], 9 and 1 km/h as for a walk timed by
hand: people change to a run at some 2 m/s (Hreljac 1993, Med Sci Sports Exerc 25:1158-1162; from
memory)."""

EXPECTED = "a recorded walk (.gpx) with a time at each point"


@dataclass(frozen=True, slots=True)
class TrackPieces:
    """A recorded walk in pieces of some fifty metres.

    Attributes
    ----------
    lon, lat : (P, 2) float64
        Ends of each piece [degrees].
    length_m, time_s : (P,) float64
        Length [m] and time [s], stops included.
    """

    lon: NDArray[np.float64]
    lat: NDArray[np.float64]
    length_m: NDArray[np.float64]
    time_s: NDArray[np.float64]


def read_track(path: Path, *, where: str) -> TrackPieces:
    """Read a recorded walk and cut it into pieces.

    Parameters
    ----------
    path : pathlib.Path
        GPX 1.0 or 1.1.
    where : str
        Key of the plan, for messages.

    Returns
    -------
    TrackPieces
        In the order walked.

    Raises
    ------
    InputError
        When it is no GPX, has no times, is too short, or was not walked.
    """
    named = f"{where}: {path.name}"
    points = _parsed(read_bytes(path, what=EXPECTED, largest=LARGEST_BYTES), named)
    at = np.array(points.rows, dtype=np.float64).reshape(-1, 4)
    if not points.timed:
        raise InputError(
            named, f"found {points.seen} points, none with a time; {EXPECTED} is needed"
        )
    _refuse_clocks(at, named)
    pieces = _pieces(at)
    _refuse_short(pieces, named)
    _refuse_rides(pieces, named)
    return pieces


@dataclass
class _Points:
    """What the parser has met so far."""

    where: str
    rows: list[tuple[float, float, float, float]] = field(default_factory=list)
    seen: int = 0
    timed: int = 0
    segment: int = 0
    is_gpx: bool = False
    waits: bool = False
    """Whether the open point has no time yet."""
    lat: float = 0.0
    lon: float = 0.0
    text: list[str] | None = None

    def start(self, name: str, attributes: dict[str, str]) -> None:
        local = name.rpartition(" ")[2]
        if not self.is_gpx and local == "gpx":
            self.is_gpx = True
        elif not self.is_gpx:
            raise InputError(self.where, f"found the element {shown(local)}; {EXPECTED} is needed")
        elif local == "trkseg":
            self.segment += 1
        elif local == "trkpt":
            self.point(attributes)
        elif local == "time" and self.waits:
            self.text = []

    def point(self, attributes: dict[str, str]) -> None:
        self.seen, self.waits = self.seen + 1, True
        if self.seen > MOST_POINTS:
            raise InputError(self.where, f"found more than {MOST_POINTS} points; cut out one walk")
        try:
            self.lat, self.lon = float(attributes["lat"]), float(attributes["lon"])
        except (KeyError, ValueError):
            self.lat = math.inf
        if not (abs(self.lat) <= 90.0 and abs(self.lon) <= 180.0):  # noqa: PLR2004 - degrees
            problem = (
                f"found point {self.seen} without a place on earth; lat within -90 to 90 and lon "
                "within -180 to 180 degrees are needed"
            )
            raise InputError(self.where, problem)

    def end(self, name: str) -> None:
        local = name.rpartition(" ")[2]
        if local == "time" and self.text is not None:
            moment = self.moment("".join(self.text).strip())
            self.text, self.waits = None, False
            self.timed += 1
            self.rows.append((self.lat, self.lon, moment, float(self.segment)))
        if local == "trkpt":
            self.waits = False

    def moment(self, text: str) -> float:
        try:
            found = datetime.fromisoformat(text)
            # GPX 1.1 states UTC; a time without a zone is taken as that.
            return (found if found.tzinfo else found.replace(tzinfo=UTC)).timestamp()
        except (ValueError, OverflowError):
            problem = (
                f"found the time {shown(text)} at point {self.seen}; allowed: as "
                "2026-05-04T16:30:00Z"
            )
            raise InputError(self.where, problem) from None

    def characters(self, text: str) -> None:
        if self.text is not None and sum(map(len, self.text)) < 100:  # noqa: PLR2004 - no time is longer
            self.text.append(text)


def _parsed(content: bytes, where: str) -> _Points:
    """Take the track points out of GPX; a document type, and so any entity, is refused."""

    def refuse(*_: Any) -> NoReturn:  # noqa: ANN401 - as the parser calls it
        raise InputError(
            where, f"found a document type or entity, which GPX has not; {EXPECTED} is needed"
        )

    points = _Points(where)
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    parser.StartElementHandler = points.start
    parser.EndElementHandler = points.end
    parser.CharacterDataHandler = points.characters
    try:
        parser.Parse(content, True)  # noqa: FBT003 - by position only
    except expat.ExpatError as fault:
        cause = expat.errors.messages.get(fault.code, "a fault")
        problem = f"is no whole XML (line {fault.lineno}: {cause}); save {EXPECTED} again"
        raise InputError(where, problem) from None
    except InputError:
        raise
    except (ValueError, LookupError):
        raise InputError(
            where, f"is in letters that cannot be read; save {EXPECTED} again"
        ) from None
    return points


def _refuse_clocks(at: NDArray[np.float64], where: str) -> None:
    """Refuse clocks that go back, and records of days."""
    step_s = np.diff(at[:, 2])
    if (step_s < 0.0).any():
        row = int(np.argmax(step_s < 0.0))
        moment = datetime.fromtimestamp(at[row + 1, 2], UTC)
        problem = (
            f"found a clock that goes back by {-step_s[row]:.0f} s to {moment:%Y-%m-%d %H:%M:%S} "
            "UTC; cut the file there and name one part"
        )
        raise InputError(where, problem)
    hours = float(at[-1, 2] - at[0, 2]) / 3600.0
    if hours > LONGEST_TRACK_H:
        problem = (
            f"found {hours:.0f} h from first to last point; allowed: up to "
            f"{LONGEST_TRACK_H:.0f} h; cut out one walk"
        )
        raise InputError(where, problem)


def _pieces(at: NDArray[np.float64]) -> TrackPieces:
    """Measure a track by a ruler, segment by segment."""
    east_m, north_m = metres_per_degree(float(at[:, 0].mean()))
    x_m = ((at[:, 1] - at[0, 1]) * float(east_m)).tolist()
    y_m = ((at[:, 0] - at[0, 0]) * float(north_m)).tolist()
    moment, segment = at[:, 2].tolist(), at[:, 3].tolist()
    ends: list[tuple[int, int]] = []
    length_m: list[float] = []
    first = last = 0
    rulers, gone_m = 0, 0.0
    for row in range(1, len(x_m)):
        if segment[row] != segment[last]:
            first = last = row
            rulers, gone_m = 0, 0.0
            continue
        step_m = math.hypot(x_m[row] - x_m[last], y_m[row] - y_m[last])
        if step_m < RULER_M or moment[row] <= moment[last]:
            continue
        rulers, gone_m, last = rulers + 1, gone_m + step_m, row
        if rulers == PIECE_RULERS or gone_m >= PIECE_RULERS * RULER_M:
            ends.append((first, row))
            length_m.append(gone_m)
            first, rulers, gone_m = row, 0, 0.0
    rows = np.array(ends, dtype=np.int64).reshape(-1, 2)
    return TrackPieces(
        lon=at[rows, 1],
        lat=at[rows, 0],
        length_m=np.array(length_m),
        time_s=at[rows[:, 1], 2] - at[rows[:, 0], 2],
    )


def _refuse_short(pieces: TrackPieces, where: str) -> None:
    """Refuse what is too short, or has its points too far apart."""
    long = pieces.length_m > LONGEST_PIECE_M
    length_km, far_km = pieces.length_m.sum() / 1000.0, pieces.length_m[long].sum() / 1000.0
    if length_km < LEAST_TRACK_KM:
        problem = (
            f"found {length_km:.1f} km with times; allowed: {LEAST_TRACK_KM:g} km and more; record "
            "an hour or so, walked as you would walk home"
        )
        raise InputError(where, problem)
    if length_km - far_km < LEAST_TRACK_KM:
        problem = (
            f"found points more than {LONGEST_PIECE_M:g} m apart along most of the way; record one "
            "each few seconds"
        )
        raise InputError(where, problem)


def _refuse_rides(pieces: TrackPieces, where: str) -> None:
    """Refuse what was not walked, by the quantiles of its speed."""
    speed = pieces.length_m / pieces.time_s
    fast_m = float(pieces.length_m[speed > RIDE_M_S].sum())
    order = np.argsort(speed)
    gone = np.cumsum(pieces.length_m[order])
    middle = float(speed[order][np.searchsorted(gone, 0.5 * gone[-1])])
    if fast_m > RIDE_SHARE * float(pieces.length_m.sum()):
        row = int(np.argmax(speed > RIDE_M_S))
        km = float(pieces.length_m[:row].sum()) / 1000.0
        problem = (
            f"found {fast_m / 1000.0:.1f} km faster than {3.6 * RIDE_M_S:.0f} km/h, the first at "
            f"km {km:.1f}: a ride, or a leap of clock or position; cut that part out"
        )
        raise InputError(where, problem)
    if not SLOWEST_USUAL_M_S <= middle <= FASTEST_USUAL_M_S:
        problem = (
            f"found {3.6 * middle:.1f} km/h for the middle of the way; allowed: "
            f"{3.6 * SLOWEST_USUAL_M_S:.0f} to {3.6 * FASTEST_USUAL_M_S:.0f} km/h; name a walk, no "
            "run or ride"
        )
        raise InputError(where, problem)
