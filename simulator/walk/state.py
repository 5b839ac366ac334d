"""The walkers' state while they walk, and how time passing changes it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.body import energy, water
from simulator.walk.rates import water_loss_g_h
from simulator.walk.records import HOURLY, Dosing, Total
from simulator.walk.standing import HOUR_S, Standing
from simulator.walk.verdict import CHILL_CARE_C, HEAT_CARE_C

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.conditions import Moment

MAX_EAT_KCAL_H = 240.0
"""Most that is eaten on the move: 60 g of carbohydrate an hour, Thomas, Erdman and Burke 2016
(from memory) [kcal/h]."""

ROUNDING_S = 1e-6
ROUNDING_DOSES = 1e-9
AT_ONCE = Dosing()
"""Water that is treated is fit when the stop is over."""


class State(Standing):
    """Everything that changes while the walkers walk."""

    def spend(
        self,
        duration_s: NDArray[np.float64],
        power_w: NDArray[np.float64],
        moment: Moment,
        *,
        row: Total,
        walk_m_s: NDArray[np.float64] | None = None,
        run_m: NDArray[np.float64] | float = 0.0,
        sheltered: bool = False,
        needs_light: NDArray[np.bool_] | None = None,
    ) -> None:
        """Let time pass; in two parts where water under treatment becomes fit within it.

        Parameters
        ----------
        duration_s : ndarray of float64
            How long [s].
        power_w : ndarray of float64
            Metabolic rate [W].
        moment : Moment
            Sun and weather meanwhile.
        row : Total
            Total that the time is added to.
        walk_m_s : ndarray of float64, optional
            Speed over ground [m/s]; standing still when left out.
        run_m : ndarray of float64 or float
            Ground covered [m].
        sheltered : bool
            Whether wind and sun are kept off.
        needs_light : ndarray of bool, optional
            Who needs a lamp.
        """
        how = (power_w, moment, row, walk_m_s, sheltered, needs_light)
        if not self.treating:
            self._pass(duration_s, *how, run_m=run_m)
            return
        until_s = np.clip(self.fit_from_s - self.totals[Total.CLOCK_S], 0.0, duration_s)
        passing = duration_s > 0.0
        share = np.divide(until_s, duration_s, out=np.zeros_like(until_s), where=passing)
        self._pass(until_s, *how, run_m=run_m * share)
        self._become_fit()
        self._pass(duration_s - until_s, *how, run_m=run_m * (1.0 - share), begun_m=run_m * share)

    def _become_fit(self) -> None:
        """Let water whose treatment has taken its time be drunk."""
        fit = self.fit_from_s <= self.totals[Total.CLOCK_S] + ROUNDING_S
        self.waiting_ml = np.where(fit, 0.0, self.waiting_ml)
        self.treating = bool(self.waiting_ml.any())

    def _pass(
        self,
        duration_s: NDArray[np.float64],
        power_w: NDArray[np.float64],
        moment: Moment,
        row: Total,
        walk_m_s: NDArray[np.float64] | None,
        sheltered: bool,
        needs_light: NDArray[np.bool_] | None,
        *,
        run_m: NDArray[np.float64] | float,
        begun_m: NDArray[np.float64] | float = 0.0,
    ) -> None:
        """Let time pass at a constant rate: use energy, lose water, drink, eat, burn light."""
        walkers, total, traits = self.walkers, self.totals, self.traits
        hours = duration_s / HOUR_S
        lost_so_far, drunk_so_far = total[Total.LOST_ML], total[Total.DRUNK_ML]
        owed = lost_so_far - drunk_so_far
        rate_g_h, self.sweat_backed = water_loss_g_h(
            power_w,
            self.area_m2,
            moment,
            walkers.clothing_clo,
            skin_g_h=self.skin_g_h,
            body_mass_loss_pct=np.maximum(owed, 0.0) / (10.0 * walkers.mass_kg),
            walk_m_s=np.zeros_like(power_w) if walk_m_s is None else walk_m_s,
            sheltered=sheltered,
            sweat=self.sweat,
            sweat_factor=None if traits is None else traits.sweat_factor,
        )
        lost = rate_g_h * hours
        wanted = owed + lost
        carried = self.fit_ml
        drink = np.minimum(wanted, carried)
        if self.drank_ahead:
            drink = np.maximum(drink, 0.0)
        if traits is not None:
            # Who drinks less than is lost leaves the rest in the bottle.
            content = wanted - (1.0 - traits.drink_share) * (lost_so_far + lost)
            drink = np.minimum(drink, np.maximum(content, 0.0))
        drink = np.minimum(drink, water.MAX_DRINK_ML_H * hours)
        deficit = wanted - drink
        np.maximum(self.worst_deficit_ml, deficit, out=self.worst_deficit_ml)
        clock = total[Total.CLOCK_S]
        dry = (carried - drink <= 0.0) & (deficit > 0.0)
        if dry.any():
            dry &= duration_s > 0.0
            np.maximum(self.worst_short_ml, deficit, out=self.worst_short_ml, where=dry)
            # Water runs straight within the event, so the bottle empties part of the way through.
            met = drink - np.minimum(owed, 0.0)
            part = np.divide(met, lost, out=np.zeros_like(lost), where=lost > 0.0)
            emptied = clock + np.minimum(part, 1.0) * duration_s
            np.minimum(self.first_short_s, emptied, out=self.first_short_s, where=dry)

        burnt = power_w * duration_s / energy.J_PER_KCAL
        eaten = self._eat(burnt, duration_s)

        need, lamp = self._see(moment, duration_s, needs_light)
        self._feel(moment, duration_s)
        total[Total.CLOCK_S] += duration_s
        total[row] += duration_s
        total[Total.ENERGY_KCAL] += burnt
        total[Total.EATEN_KCAL] += eaten
        total[Total.LOST_ML] += lost
        total[Total.DRUNK_ML] += drink
        if self.hourly is not None:
            used = {
                Total.ENERGY_KCAL: burnt,
                Total.EATEN_KCAL: eaten,
                Total.LOST_ML: lost,
                Total.DRUNK_ML: drink,
                Total.LIGHT_NEED_S: need,
                Total.LIGHT_USED_S: lamp,
            }
            gone_m = np.broadcast_to(self.at_m + begun_m, duration_s.shape)
            self._mark(duration_s, gone_m, np.broadcast_to(run_m, duration_s.shape), used)

    def _eat(
        self, burnt: NDArray[np.float64], duration_s: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Say what is eaten of the food left, by hunger and at a rate that can be borne [kcal]."""
        total = self.totals
        hungry = total[Total.ENERGY_KCAL] - total[Total.EATEN_KCAL] + burnt
        left = self.walkers.food_kcal - total[Total.EATEN_KCAL]
        most = MAX_EAT_KCAL_H * (duration_s / HOUR_S)
        eaten: NDArray[np.float64] = np.minimum(np.minimum(hungry, left), most)
        gone = (eaten >= left) & (left > 0.0)
        if gone.any():
            at_s = total[Total.CLOCK_S] + duration_s
            np.minimum(self.food_out_s, at_s, out=self.food_out_s, where=gone)
        return eaten

    def _see(
        self,
        moment: Moment,
        duration_s: NDArray[np.float64],
        needs_light: NDArray[np.bool_] | None,
    ) -> tuple[NDArray[np.float64] | float, NDArray[np.float64] | float]:
        """Count the dark, and burn the lamp where there is no other light; need and use [s]."""
        total = self.totals
        night = moment.night
        if night.any():
            total[Total.DARK_S] += night * duration_s
        if needs_light is None or not needs_light.any():
            return 0.0, 0.0
        need = needs_light * duration_s
        lamp = np.minimum(need, self.walkers.light_s - total[Total.LIGHT_USED_S])
        total[Total.LIGHT_NEED_S] += need
        total[Total.LIGHT_USED_S] += lamp
        out = lamp < need
        if out.any():
            out_s = total[Total.CLOCK_S] + lamp
            np.minimum(self.light_out_s, out_s, out=self.light_out_s, where=out)
        return need, lamp

    def _feel(self, moment: Moment, duration_s: NDArray[np.float64]) -> None:
        """Keep the extremes of the felt temperature and when they first call for care."""
        felt, clock = moment.felt_c, self.totals[Total.CLOCK_S]
        passing = duration_s > 0.0
        np.minimum(self.coldest_c, felt, out=self.coldest_c, where=passing)
        np.maximum(self.hottest_c, felt, out=self.hottest_c, where=passing)
        if felt.min() < CHILL_CARE_C:
            np.minimum(
                self.cold_from_s, clock, out=self.cold_from_s, where=passing & (felt < CHILL_CARE_C)
            )
        if felt.max() >= HEAT_CARE_C:
            np.minimum(
                self.hot_from_s, clock, out=self.hot_from_s, where=passing & (felt >= HEAT_CARE_C)
            )

    def _mark(
        self,
        duration_s: NDArray[np.float64],
        gone_m: NDArray[np.float64],
        run_m: NDArray[np.float64],
        used: dict[Total, NDArray[np.float64] | float],
    ) -> None:
        """Read the totals of those who pass a full hour, straight between the event's ends."""
        clock = self.totals[Total.CLOCK_S]
        while (past := np.flatnonzero(clock >= self.next_mark_s)).size:
            at_s = self.next_mark_s[past]
            self.next_mark_s[past] += HOUR_S
            hour = (at_s / HOUR_S).astype(np.intp) - 1
            kept = hour < self.hourly.shape[0]  # type: ignore[union-attr]  # asked by the caller
            past, at_s, hour = past[kept], at_s[kept], hour[kept]
            back = np.divide(
                clock[past] - at_s,
                duration_s[past],
                out=np.zeros(past.size),
                where=duration_s[past] > 0.0,
            )
            mark = [gone_m[past] + (1.0 - back) * run_m[past]]
            for each in HOURLY:
                gain = used.get(each, 0.0)
                step = gain[past] if isinstance(gain, np.ndarray) else gain
                mark.append(self.totals[each, past] - back * step)
            self.hourly[hour, :, self.row[past]] = np.stack(mark, axis=1)  # type: ignore[index]

    def drink_ahead(self, most_ml: float, *, works: NDArray[np.bool_] | None = None) -> None:
        """Finish what is carried before filling, up to so much ahead of need.

        Parameters
        ----------
        most_ml : float
            Most that each walker drinks ahead [mL].
        works : (n,) bool, optional
            For whom there is anything to fill; everyone when left out.
        """
        total = self.totals
        ahead = total[Total.DRUNK_ML] - total[Total.LOST_ML]
        drink = np.minimum(np.maximum(most_ml - ahead, 0.0), self.fit_ml)
        total[Total.DRUNK_ML] += drink if works is None else works * drink
        self.drank_ahead = True

    def refill(
        self, *, treat: bool, dosing: Dosing = AT_ONCE, works: NDArray[np.bool_] | None = None
    ) -> None:
        """Fill every bottle as far as it holds, and treatment allows.

        Water under treatment is poured away where clean water is to be had, and what is refilled
        counts less that. Water taken while other water is under treatment becomes fit with it.

        Parameters
        ----------
        treat : bool
            Whether the water must be treated.
        dosing : Dosing
            How it is treated.
        works : (n,) bool, optional
            For whom there is anything to fill; everyone when left out.
        """
        works = np.ones(self.row.size, dtype=bool) if works is None else works
        want = np.where(works, self.walkers.capacity_ml - self.water_ml, 0.0)
        if not treat:
            self.waiting_ml = np.where(works, 0.0, self.waiting_ml)
            self.totals[Total.REFILLED_ML] += want
            return
        mixed = self.water_ml if dosing.one_bottle else np.zeros(want.size)
        want = np.clip(np.minimum(self.treats_ml, dosing.limit_ml) - mixed, 0.0, want)
        taking = want > 0.0
        treated = np.where(taking, want + mixed, 0.0)
        if dosing.dose_ml > 0.0:
            doses = np.ceil(treated / dosing.dose_ml - ROUNDING_DOSES) * dosing.dose_ml
        else:
            doses = treated
        self.treats_ml = self.treats_ml - np.minimum(doses, self.treats_ml)
        if dosing.contact_s > 0.0:
            waiting = treated if dosing.one_bottle else self.waiting_ml + want
            fit_from = self.totals[Total.CLOCK_S] + dosing.contact_s
            self.fit_from_s = np.where(taking, fit_from, self.fit_from_s)
            self.treating = True
        else:
            waiting = np.zeros(want.size)
        self.waiting_ml = np.where(taking, waiting, self.waiting_ml)
        self.totals[Total.REFILLED_ML] += want
