"""What goes into a crowd's walks and what comes out."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, fields, replace
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from simulator.home.refills import AHEAD_STEP_ML
from simulator.units import HOUR_S
from simulator.walk.account import What
from simulator.walk.ledger import Amounts, as_long
from simulator.walk.records import Traits, Walkers, WeatherError, some_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.supply.refills import Stops


class When(IntEnum):
    """What is told with the hour in which it begins or is most, the rows of ``Arrivals.when_s``."""

    COLD = 0
    """First feels cold enough for care."""
    UNLIT = 1
    """The hour with the most unlit way in the dark begins."""
    BUSY = 2
    """The longest stretch along busy roads without pavement begins."""
    FORD = 3
    FLOODS = 4
    STEEP = 5
    """First water to wade, first way that floods, and the longest unpaved steep stretch."""
    HALT = 6
    """The coldest night halt begins."""


MAPPED = ("fords", "floods_km", "steep_km", "busy_danger")
"""Rows of ``Arrivals.mapped``: ``simulator.home.hazards.mapped_risks``."""

LEDGER = ("distance_m", *Amounts._fields)
"""Columns of ``Arrivals.hourly``."""


@dataclass(frozen=True, slots=True)
class Crowd:
    """Who walks when, n walks of one party each; party members stand next to each other.

    Attributes
    ----------
    walkers : Walkers
        n times the members of a party.
    members : int
        Members of each party.
    depart_epoch_s : (n,) float64
        Departures, seconds since 1970-01-01 UTC.
    works : (n, C) bool or None
        For each tap of the way whether it works on that walk; None where all do.
    traits : Traits or None
        Habits and mishaps, by walker.
    error : WeatherError or None
        Weather of one's own, by walker.
    carried_clo : (n,) float64 or None
        Warmth that each member's bag adds [clo]; None where it is the plan's.
    kept_dry : (n,) bool or None
        Whether something keeps the rain off; None where it is as in the plan.
    """

    walkers: Walkers
    members: int
    depart_epoch_s: NDArray[np.float64]
    works: NDArray[np.bool_] | None = None
    traits: Traits | None = None
    error: WeatherError | None = None
    carried_clo: NDArray[np.float64] | None = None
    kept_dry: NDArray[np.bool_] | None = None

    @property
    def count(self) -> int:
        """Number of walks n."""
        return int(self.depart_epoch_s.size)

    def some(self, walks: NDArray[np.intp]) -> Crowd:
        """Take some of the walks.

        Parameters
        ----------
        walks : (m,) int64
            Which.

        Returns
        -------
        Crowd
            In that order.
        """
        rows = (walks[:, None] * self.members + np.arange(self.members)).ravel()
        party = np.repeat(np.arange(walks.size), self.members)
        return Crowd(
            walkers=replace(some_of(self.walkers, rows), party=party),
            members=self.members,
            depart_epoch_s=self.depart_epoch_s[walks],
            works=None if self.works is None else self.works[walks],
            traits=None if self.traits is None else some_of(self.traits, rows),
            error=None if self.error is None else some_of(self.error, rows),
            carried_clo=None if self.carried_clo is None else self.carried_clo[walks],
            kept_dry=None if self.kept_dry is None else self.kept_dry[walks],
        )


@dataclass(frozen=True, slots=True)
class Arrivals:
    """How each walk went; shape (n,) unless said. Amounts are the party's, extremes the worst's.

    Attributes
    ----------
    elapsed_s : ndarray
        Departure to home [s].
    dark_s, unlit_s : ndarray
        After dark, of it on unlit ways [s].
    loss_pct : ndarray
        Worst body-mass loss [%].
    coldest_c, hottest_c : ndarray
        Extremes of the felt temperature [degC].
    cold_from_s, hot_from_s : ndarray
        When it first calls for care [s], infinite if never.
    halt_h : ndarray
        Length of the worst night halt [h]; NaN without one.
    strain : (len(Strain), n) float64
        What the hours on the way ask of the body, from ``simulator.home.strain``.
    slowed_share : ndarray
        Time on foot that comes of going slower to keep the effort up.
    mapped : (len(MAPPED), n) float64
        Fords, way that floods and steep unpaved way [km], and the danger of its busy roads.
    when_s : (len(When), n) float64
        Since departure [s]; NaN where it does not happen.
    halt_in_the_open : ndarray of bool
        Whether a night halt has no shelter.
    busy_dark_km, busy_day_km : ndarray
        Walked after dark and by day along busy roads without pavement [km].
    missing, short_from_s, short_at_m : (6, n) float64
        What falls short, since when [s] and where [m]: the fields of
        ``simulator.walk.account.Account``.
    hourly : (H, len(LEDGER), n) float64
        The ledger at the end of each hour, the last one on arrival; NaN from then on.
    profile : (K, len(PASSING), n) float64
        Totals on reaching the steps asked for.
    limits_left : ndarray of bool
        Whether the weather grid ends before the walk, or a body model gives nothing; such a walk
        is not known.
    """

    elapsed_s: NDArray[np.float64]
    dark_s: NDArray[np.float64]
    unlit_s: NDArray[np.float64]
    loss_pct: NDArray[np.float64]
    coldest_c: NDArray[np.float64]
    hottest_c: NDArray[np.float64]
    cold_from_s: NDArray[np.float64]
    hot_from_s: NDArray[np.float64]
    halt_h: NDArray[np.float64]
    strain: NDArray[np.float64]
    slowed_share: NDArray[np.float64]
    mapped: NDArray[np.float64]
    when_s: NDArray[np.float64]
    halt_in_the_open: NDArray[np.bool_]
    busy_dark_km: NDArray[np.float64]
    busy_day_km: NDArray[np.float64]
    missing: NDArray[np.float64]
    short_from_s: NDArray[np.float64]
    short_at_m: NDArray[np.float64]
    hourly: NDArray[np.float64]
    profile: NDArray[np.float64]
    limits_left: NDArray[np.bool_]

    @property
    def short_ml(self) -> NDArray[np.float64]:
        """Largest lack of water with the bottle empty [mL]."""
        short: NDArray[np.float64] = 1000.0 * self.missing[What.WATER]
        return short

    @property
    def first_short_s(self) -> NDArray[np.float64]:
        """When it begins [s], infinite if never."""
        first: NDArray[np.float64] = self.short_from_s[What.WATER]
        return first

    @property
    def light_short_s(self) -> NDArray[np.float64]:
        """Unlit way in the dark without a lamp [s]."""
        short: NDArray[np.float64] = HOUR_S * self.missing[What.LIGHT]
        return short

    @property
    def energy_short_kcal(self) -> NDArray[np.float64]:
        """Energy lacking beyond what the body gives of its own [kcal]."""
        short: NDArray[np.float64] = self.missing[What.FOOD]
        return short

    @property
    def halt_short_clo(self) -> NDArray[np.float64]:
        """Warmth lacking at the worst night halt [clo]; NaN without one, or where no model says."""
        return np.where(np.isnan(self.halt_h), np.nan, self.missing[What.WARMTH_AT_A_HALT])

    @property
    def foot_short_clo(self) -> NDArray[np.float64]:
        """Clothes lacking in the coldest hour on foot, all that the bag holds put on [clo]."""
        short: NDArray[np.float64] = self.missing[What.WARMTH_ON_FOOT]
        return short

    def put(self, walks: NDArray[np.intp], part: Arrivals) -> None:
        """Put some walks in their places.

        Parameters
        ----------
        walks : (m,) int64
            Which.
        part : Arrivals
            m walks.
        """
        for field in fields(Arrivals):
            values, mine = getattr(self, field.name), getattr(part, field.name)
            if field.name == "hourly":
                values, mine = _alike(values, mine)
                object.__setattr__(self, field.name, values)
            values[..., walks] = mine


def join_arrivals(parts: list[Arrivals]) -> Arrivals:
    """Put walks behind each other."""
    columns = {
        field.name: np.concatenate([getattr(part, field.name) for part in parts], axis=-1)
        for field in fields(Arrivals)
        if field.name != "hourly"
    }
    return Arrivals(**columns, hourly=as_long([part.hourly for part in parts]))


def _alike(
    one: NDArray[np.float64], other: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give both as many hours as the longer has."""
    nobody = [each[..., :0] for each in (one, other)]
    return as_long([one, nobody[1]]), as_long([nobody[0], other])


@dataclass(slots=True)
class StopChoice:
    """Where each of n walks stops; (C, n).

    Attributes
    ----------
    key : ndarray of int64
        What is done at each place: 0 for passing, else by treatment, carried on or not, and how
        much is drunk ahead. Equal keys are equal stops.
    method : ndarray of int64
        Treatment used, -1 for none.
    carried_on : ndarray of bool
        Whether the water becomes fit on the way.
    ahead_ml : ndarray of float64
        Most drunk ahead of need by each walker [mL].
    """

    key: NDArray[np.int64]
    method: NDArray[np.int64]
    carried_on: NDArray[np.bool_]
    ahead_ml: NDArray[np.float64]

    @classmethod
    def of(cls, chosen: Stops, ahead_ml: NDArray[np.float64]) -> StopChoice:
        """Put chosen stops into keys."""
        way = 2 * (chosen.method + 1) + chosen.carried_on + 1
        steps = np.rint(ahead_ml / AHEAD_STEP_ML).astype(np.int64)
        key = np.where(chosen.chosen, 1000 * way + steps, 0)
        return cls(key, chosen.method, chosen.carried_on, ahead_ml)

    def at(self, place: NDArray[np.int64], other: NDArray[np.int64]) -> StopChoice:
        """Give the same at places of another way, passing by those not known here."""
        row = {each: number for number, each in enumerate(_counted(place))}
        there = _counted(other)
        known = np.array([each in row for each in there], dtype=bool)
        rows = np.array([row[each] for each in there if each in row], dtype=np.intp)
        walks = self.key.shape[1]
        same = StopChoice(
            np.zeros((other.size, walks), dtype=np.int64),
            np.full((other.size, walks), -1, dtype=np.int64),
            np.zeros((other.size, walks), dtype=bool),
            np.zeros((other.size, walks)),
        )
        for name in self.__slots__:
            getattr(same, name)[known] = getattr(self, name)[rows]
        return same

    def some(self, walks: NDArray[np.intp]) -> StopChoice:
        """Take some walks."""
        return StopChoice(*(getattr(self, name)[:, walks] for name in self.__slots__))

    def put(self, walks: NDArray[np.intp], part: StopChoice) -> None:
        """Put some walks in their places."""
        for name in self.__slots__:
            getattr(self, name)[:, walks] = getattr(part, name)


def _counted(place: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Tell a second passing from the first: each place with how often it came before."""
    before: Counter[int] = Counter()
    counted = []
    for each in place.tolist():
        counted.append((each, before[each]))
        before[each] += 1
    return counted
