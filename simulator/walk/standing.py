"""Who the walkers are and how each stands, apart from how time passing changes it."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING, Self

import numpy as np

from simulator.body import energy, water
from simulator.walk.conditions import differing
from simulator.walk.rates import most_load_share
from simulator.walk.records import HOURLY, Total, some_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions, Moment
    from simulator.walk.records import Traits, Walkers, WeatherError

LIGHT_LOAD_SHARE = 0.4
"""Load over body mass up to which no formula of the walk needs a check; the least of their limits,
``simulator.body.metabolism.LIMITS["total_mass"]``."""

HOUR_S = 3600.0

CHANGING = (
    "totals",
    "since_rest_s",
    "since_halt_s",
    "treats_ml",
    "waiting_ml",
    "fit_from_s",
    "worst_deficit_ml",
    "worst_short_ml",
    "first_short_s",
    "light_out_s",
    "food_out_s",
    "coldest_c",
    "hottest_c",
    "cold_from_s",
    "hot_from_s",
    "next_mark_s",
)
"""What time passing changes, walkers last."""

FIXED = ("row", "depart_epoch_s", "area_m2", "skin_g_h", "resting_w", "standing_w", "rest_s_per_h")
"""What stays, walkers last."""


class Standing:
    """Who the walkers are and how each stands: clocks, bottles, loads, extremes so far."""

    def __init__(
        self,
        walkers: Walkers,
        conditions: Conditions,
        depart_epoch_s: NDArray[np.float64],
        *,
        rest_s_per_h: float,
        sweat: float | NDArray[np.float64] = 0.0,
        traits: Traits | None = None,
        error: WeatherError | None = None,
        mark_hours: int = 0,
    ) -> None:
        n = walkers.count
        self.walkers, self.traits, self.error = walkers, traits, error
        self.conditions = conditions
        self.depart_epoch_s = depart_epoch_s
        self.row = np.arange(n)
        self.totals = np.zeros((len(Total), n))
        self.since_rest_s = np.zeros(n)
        self.since_halt_s = np.zeros(n)
        self.treats_ml = walkers.treats_ml.copy()
        self.waiting_ml = np.zeros(n)
        self.fit_from_s = np.full(n, -np.inf)
        self.treating = self.drank_ahead = False
        self.worst_deficit_ml = np.zeros(n)
        self.worst_short_ml = np.zeros(n)
        self.first_short_s = np.full(n, np.inf)
        self.light_out_s = np.full(n, np.inf)
        self.food_out_s = np.where(walkers.food_kcal > 0.0, np.inf, 0.0)
        self.coldest_c = np.full(n, np.inf)
        self.hottest_c = np.full(n, -np.inf)
        self.cold_from_s = np.full(n, np.inf)
        self.hot_from_s = np.full(n, np.inf)
        self.light = most_load_share(walkers) <= LIGHT_LOAD_SHARE
        self.sweat_backed = True
        self.area_m2 = np.asarray(water.body_area_m2(walkers.mass_kg, walkers.height_m))
        self.skin_g_h = np.asarray(water.skin_diffusion_g_h(self.area_m2))
        self.resting_w = np.where(
            walkers.male,
            energy.resting_w(walkers.mass_kg, walkers.height_m, walkers.age_y, "male"),
            energy.resting_w(walkers.mass_kg, walkers.height_m, walkers.age_y, "female"),
        )
        self.standing_w = np.asarray(energy.standing_w(walkers.mass_kg))
        self.rest_s_per_h = np.full(n, rest_s_per_h)
        self.sweat = np.full(n, sweat) if np.any(sweat) else None
        if traits is not None:
            self.rest_s_per_h = self.rest_s_per_h * traits.rest_factor
        self.at_m = 0.0
        self.hourly = np.full((mark_hours, 1 + len(HOURLY), n), np.nan) if mark_hours else None
        self.next_mark_s = np.full(n, HOUR_S)
        self._group()

    def _group(self) -> None:
        """Find the parties: runs of equal numbers; one walker each needs no reduction."""
        party = self.walkers.party
        starts = np.flatnonzero(np.r_[True, party[1:] != party[:-1]])
        self.party_starts = starts if starts.size < party.size else None
        self.party_sizes = np.diff(np.r_[starts, party.size])

    def some(self, rows: NDArray[np.intp]) -> Self:
        """Copy some walkers, whole parties, to change them apart from the others.

        Parameters
        ----------
        rows : ndarray of int
            Which walkers.

        Returns
        -------
        Standing
            A copy of theirs, of the same kind.
        """
        part = copy.copy(self)
        part.walkers = some_of(self.walkers, rows)
        part.traits = None if self.traits is None else some_of(self.traits, rows)
        part.error = None if self.error is None else some_of(self.error, rows)
        part.sweat = None if self.sweat is None else self.sweat[rows]
        for name in (*CHANGING, *FIXED):
            setattr(part, name, getattr(self, name)[..., rows])
        if self.party_starts is not None:
            part._group()  # noqa: SLF001 - one's own kind
        return part

    def put(self, rows: NDArray[np.intp], part: Standing) -> None:
        """Write changed walkers back.

        Parameters
        ----------
        rows : ndarray of int
            Which walkers.
        part : Standing
            Their changed state.
        """
        for name in CHANGING:
            getattr(self, name)[..., rows] = getattr(part, name)
        self.sweat_backed = self.sweat_backed and part.sweat_backed
        self.treating = self.treating or part.treating
        self.drank_ahead = self.drank_ahead or part.drank_ahead

    @property
    def water_ml(self) -> NDArray[np.float64]:
        """Water in the bottles, from the balance itself so that it always closes."""
        total = self.totals
        left: NDArray[np.float64] = (
            self.walkers.water_ml + total[Total.REFILLED_ML] - total[Total.DRUNK_ML]
        )
        return left

    @property
    def fit_ml(self) -> NDArray[np.float64]:
        """Water in the bottles that is fit to drink now."""
        return self.water_ml - self.waiting_ml if self.treating else self.water_ml

    @property
    def load_kg(self) -> NDArray[np.float64]:
        """What the bag weighs now: water drunk and food eaten no longer weigh on the walker."""
        walkers, total = self.walkers, self.totals
        eaten = np.divide(
            total[Total.EATEN_KCAL],
            walkers.food_kcal,
            out=np.zeros(walkers.count),
            where=walkers.food_kcal > 0.0,
        )
        gone_ml = total[Total.DRUNK_ML] - total[Total.REFILLED_ML]
        load: NDArray[np.float64] = np.maximum(
            walkers.bag_kg - gone_ml / 1000.0 - eaten * walkers.food_kg, 0.0
        )
        return load

    def now(self) -> Moment:
        """Look up what surrounds each walker."""
        moment = self.conditions.at(self.depart_epoch_s + self.totals[Total.CLOCK_S])
        return moment if self.error is None else differing(moment, self.error)

    def slowest(self, duration_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Longest time within each party: a group walks at its slowest.

        Parameters
        ----------
        duration_s : ndarray of float64
            Each walker's own time [s].

        Returns
        -------
        ndarray of float64
            The party's time [s].
        """
        if self.party_starts is None:
            return duration_s
        return np.repeat(np.maximum.reduceat(duration_s, self.party_starts), self.party_sizes)
