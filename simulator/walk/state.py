"""The walkers' state while they walk, and how time passing changes it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.body import energy, water
from simulator.walk.records import Total

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions, Moment
    from simulator.walk.records import Walkers

MAX_EAT_KCAL_H = 240.0
"""Most that is eaten on the move: 60 g of carbohydrate an hour, Thomas, Erdman and Burke 2016
(from memory) [kcal/h]."""


class State:
    """Everything that changes while the walkers walk."""

    def __init__(
        self, walkers: Walkers, conditions: Conditions, depart_epoch_s: NDArray[np.float64]
    ) -> None:
        n = walkers.count
        self.walkers = walkers
        self.conditions = conditions
        self.depart_epoch_s = depart_epoch_s
        self.totals = np.zeros((len(Total), n))
        self.since_rest_s = np.zeros(n)
        self.since_halt_s = np.zeros(n)
        self.treats_ml = walkers.treats_ml.copy()
        self.worst_deficit_ml = np.zeros(n)
        self.worst_short_ml = np.zeros(n)
        self.first_short_s = np.full(n, np.inf)
        self.light_out_s = np.full(n, np.inf)
        self.coldest_c = np.full(n, np.inf)
        self.hottest_c = np.full(n, -np.inf)
        self.sweat_in_range = np.ones(n, dtype=bool)
        self.area_m2 = np.asarray(water.body_area_m2(walkers.mass_kg, walkers.height_m))
        self.resting_w = np.where(
            walkers.male,
            energy.resting_w(walkers.mass_kg, walkers.height_m, walkers.age_y, "male"),
            energy.resting_w(walkers.mass_kg, walkers.height_m, walkers.age_y, "female"),
        )
        self.standing_w = np.asarray(energy.standing_w(walkers.mass_kg))
        # Parties are runs of equal numbers; one walker each needs no reduction.
        starts = np.flatnonzero(np.r_[True, walkers.party[1:] != walkers.party[:-1]])
        self.party_starts = starts if starts.size < n else None
        self.party_sizes = np.diff(np.r_[starts, n])

    @property
    def water_ml(self) -> NDArray[np.float64]:
        """Water in the bottles, from the balance itself so that it always closes."""
        total = self.totals
        left: NDArray[np.float64] = (
            self.walkers.water_ml + total[Total.REFILLED_ML] - total[Total.DRUNK_ML]
        )
        return left

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
        return self.conditions.at(self.depart_epoch_s + self.totals[Total.CLOCK_S])

    def slowest(self, duration_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Longest time within each party: a group walks at its slowest."""
        if self.party_starts is None:
            return duration_s
        return np.repeat(np.maximum.reduceat(duration_s, self.party_starts), self.party_sizes)

    def spend(
        self,
        duration_s: NDArray[np.float64],
        power_w: NDArray[np.float64],
        moment: Moment,
        *,
        row: Total,
        walk_m_s: NDArray[np.float64] | float = 0.0,
        sheltered: bool = False,
        needs_light: NDArray[np.bool_] | None = None,
    ) -> None:
        """Let time pass at a constant rate: use energy, lose water, drink, eat, burn light."""
        walkers, total = self.walkers, self.totals
        hours = duration_s / 3600.0
        calm = np.zeros_like(moment.wind_m_s)
        loss = water.water_loss_g_h(
            power_w,
            self.area_m2,
            moment.air_c,
            moment.humidity_pct,
            calm if sheltered else moment.wind_m_s,
            calm if sheltered else moment.radiant_w_m2,
            walkers.clothing_clo,
            walk_m_s=walk_m_s,
            body_mass_loss_pct=(total[Total.LOST_ML] - total[Total.DRUNK_ML])
            / (10.0 * walkers.mass_kg),
        )
        self.sweat_in_range = np.asarray(loss.in_range)
        lost = loss.total_g_h * hours
        wanted = total[Total.LOST_ML] - total[Total.DRUNK_ML] + lost
        carried = self.water_ml
        drink = np.minimum(np.minimum(wanted, carried), water.MAX_DRINK_ML_H * hours)
        deficit = wanted - drink
        np.maximum(self.worst_deficit_ml, deficit, out=self.worst_deficit_ml)
        dry = (carried - drink <= 0.0) & (deficit > 0.0) & (duration_s > 0.0)
        if dry.any():
            np.maximum(self.worst_short_ml, deficit, out=self.worst_short_ml, where=dry)
            # Water runs straight within the event, so the bottle empties part of the way through.
            part = np.divide(drink, lost, out=np.zeros_like(lost), where=lost > 0.0)
            emptied = total[Total.CLOCK_S] + np.minimum(part, 1.0) * duration_s
            np.minimum(self.first_short_s, emptied, out=self.first_short_s, where=dry)

        burnt = power_w * duration_s / energy.J_PER_KCAL
        hungry = total[Total.ENERGY_KCAL] - total[Total.EATEN_KCAL] + burnt
        left = walkers.food_kcal - total[Total.EATEN_KCAL]
        eaten = np.minimum(np.minimum(hungry, left), MAX_EAT_KCAL_H * hours)

        total[Total.DARK_S] += moment.night * duration_s
        if needs_light is not None and needs_light.any():
            need = needs_light * duration_s
            lamp = np.minimum(need, walkers.light_s - total[Total.LIGHT_USED_S])
            total[Total.LIGHT_NEED_S] += need
            total[Total.LIGHT_USED_S] += lamp
            out = lamp < need
            if out.any():
                gone = total[Total.CLOCK_S] + lamp
                np.minimum(self.light_out_s, gone, out=self.light_out_s, where=out)

        passing = duration_s > 0.0
        np.minimum(self.coldest_c, moment.felt_c, out=self.coldest_c, where=passing)
        np.maximum(self.hottest_c, moment.felt_c, out=self.hottest_c, where=passing)
        total[Total.CLOCK_S] += duration_s
        total[row] += duration_s
        total[Total.ENERGY_KCAL] += burnt
        total[Total.EATEN_KCAL] += eaten
        total[Total.LOST_ML] += lost
        total[Total.DRUNK_ML] += drink

    def refill(self, *, treat: bool) -> None:
        """Fill every bottle as far as it holds, and treatment allows."""
        want = self.walkers.capacity_ml - self.water_ml
        if treat:
            want = np.minimum(want, self.treats_ml)
            self.treats_ml = self.treats_ml - want
        self.totals[Total.REFILLED_ML] += want
