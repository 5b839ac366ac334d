"""What this room needs of a walk in order to draw it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Protocol
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from simulator.sky.clock import zone_name

if TYPE_CHECKING:
    from simulator.ground.osm import Line
    from simulator.ground.streets import Streets
    from simulator.home.directions import Direction
    from simulator.home.records import Summary
    from simulator.home.variants import WhatIf
    from simulator.home.water import WaterAnswers
    from simulator.plan import Plan

FloatArray = NDArray[np.float64]
SECONDS_PER_HOUR = 3600.0


class DrawnWalk(Protocol):
    """A finished walk, as `simulator.walk_home` gives it; only what is drawn is named here."""

    @property
    def plan(self) -> Plan:
        """What was asked."""

    @property
    def streets(self) -> Streets:
        """The street network the way was found on."""

    @property
    def lines(self) -> tuple[Line, ...]:
        """Tagged lines of the map for drawing: water, parks."""

    @property
    def hours(self) -> pd.DataFrame:
        """One row an hour of the walk."""

    @property
    def segments(self) -> pd.DataFrame:
        """One row a step along the way."""

    @property
    def refills(self) -> pd.DataFrame:
        """One row a place to refill, shelter or get help."""

    @property
    def facts(self) -> Summary:
        """Everything that is told beside the tables."""

    @property
    def items(self) -> Any:  # noqa: ANN401 - of a room that this one does not know
        """The bag's list; None when the plan names none."""

    @property
    def directions(self) -> tuple[Direction, ...]:
        """The way street by street."""

    @property
    def closed(self) -> NDArray[np.bool_] | None:
        """Streets that the plan closes at all hours; None when not told."""

    @property
    def what_if(self) -> WhatIf | None:
        """Other departures, waters, paces and closures; None when not worked out."""

    @property
    def water(self) -> WaterAnswers | None:
        """Bottles compared and the way that never runs dry; None when not worked out."""

    @property
    def path_lonlat(self) -> FloatArray:
        """The way, (K, 2) longitude and latitude [deg]."""


class Track:
    """Positions along the way by distance and by time, for placing marks.

    Parameters
    ----------
    walk : DrawnWalk
        The walk to draw.

    Attributes
    ----------
    along_m : ndarray of float64, (S+1,)
        Distance from the start at each step's start, and at the end [m].
    elapsed_s : ndarray of float64, (S+1,)
        Time since departure there [s].
    lon, lat, height_m : ndarray of float64, (S+1,)
        Position [deg] and height [m] there.
    """

    def __init__(self, walk: DrawnWalk) -> None:
        steps = walk.segments
        run = steps["run_m"].to_numpy(np.float64)
        start = steps["distance_m"].to_numpy(np.float64)
        height = steps["height_m"].to_numpy(np.float64)
        rise = steps["rise_m"].to_numpy(np.float64)
        elapsed = steps["elapsed_s"].to_numpy(np.float64)
        moving = steps["moving_s"].to_numpy(np.float64)
        end = np.asarray(walk.path_lonlat, dtype=np.float64)[-1]
        self.along_m: FloatArray = np.append(start, start[-1] + run[-1])
        self.elapsed_s: FloatArray = np.append(elapsed, elapsed[-1] + moving[-1])
        self.height_m: FloatArray = np.append(height, height[-1] + rise[-1])
        self.lon: FloatArray = np.append(steps["lon"].to_numpy(np.float64), end[0])
        self.lat: FloatArray = np.append(steps["lat"].to_numpy(np.float64), end[1])
        self._depart = walk.facts.time.depart
        trip = walk.plan.trip
        self._zone = ZoneInfo(trip.timezone or zone_name(*trip.start))

    @property
    def length_m(self) -> float:
        """Length of the way [m]."""
        return float(self.along_m[-1])

    @property
    def duration_s(self) -> float:
        """Time from departure to the last step's end [s]."""
        return float(self.elapsed_s[-1])

    def clock(self, elapsed_s: float) -> datetime:
        """Tell the local time after so many seconds."""
        return (self._depart.astimezone(ZoneInfo("UTC")) + timedelta(seconds=elapsed_s)).astimezone(
            self._zone
        )

    def along_at(self, elapsed_s: FloatArray) -> FloatArray:
        """Find the distance from the start reached at given times."""
        return np.interp(elapsed_s, self.elapsed_s, self.along_m)

    def time_at(self, along_m: FloatArray) -> FloatArray:
        """Find the time at which given distances are first reached."""
        return np.interp(along_m, self.along_m, self.elapsed_s)

    def lonlat_at(self, along_m: FloatArray) -> FloatArray:
        """Find longitude and latitude at given distances."""
        return np.column_stack(
            [np.interp(along_m, self.along_m, self.lon), np.interp(along_m, self.along_m, self.lat)]
        )

    def whole_hours_s(self) -> FloatArray:
        """Find the ledger's hour boundaries inside the walk, departure left out."""
        last = int(np.ceil(self.duration_s / SECONDS_PER_HOUR))
        marks: FloatArray = np.arange(1, last, dtype=np.float64) * SECONDS_PER_HOUR
        return marks[marks < self.duration_s - 1.0]


def hour_letter(index: int) -> str:
    """Name a ledger hour: A for the first, after Z come AA, AB and so on.

    Parameters
    ----------
    index : int
        Hour since departure, from 0.

    Returns
    -------
    str
        One letter, two from the 27th hour on.

    Examples
    --------
    >>> hour_letter(0), hour_letter(25), hour_letter(26)
    ('A', 'Z', 'AA')
    """
    first, second = divmod(index, 26)
    return (chr(ord("A") + first - 1) if first else "") + chr(ord("A") + second)


def runs(codes: NDArray[Any]) -> list[tuple[int, int, Any]]:
    """Find stretches of equal value as (first, after the last, value)."""
    if codes.size == 0:
        return []
    cuts = np.flatnonzero(codes[1:] != codes[:-1]) + 1
    edges = [0, *cuts.tolist(), codes.size]
    return list(zip(edges[:-1], edges[1:], codes[edges[:-1]].tolist(), strict=True))
