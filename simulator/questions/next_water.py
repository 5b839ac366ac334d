"""What stands beside every place and every hour: the next water, and what to do if a tap is dry."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.ground.kinds import PLACE_RULES
from simulator.questions.thirst import (
    Thirst,
    thirst_of,
    way_need,
)
from simulator.route.bottle import used_ml
from simulator.route.refills_chance import Odds, chance_dry, surest
from simulator.units import Units

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked
    from simulator.route.refills import StopPlan

GRAIN_ML = 10.0
"""Needs are rounded to this when every outcome is followed [mL]: a mouthful."""

MOUTHFUL_ML = 50.0
"""Less than this missing is called a mouthful [mL]."""

PRICE_PER_S = 0.01 / 600.0
"""Chance worth giving up to save a second: one in a hundred for ten minutes; assumed."""

TRIES = 60
"""So many places are weighed against each other, those nearest to the way first."""


def needs_of(scene: Scene, place: int) -> str:
    """Say what it takes to get water at a place.

    Parameters
    ----------
    scene : Scene
        Places.
    place : int
        Row of the place.

    Returns
    -------
    str
        In words; "nothing" when it is free and fit to drink.
    """
    places = scene.places
    wants = {
        "treatment": places.needs_treatment[place],
        "a spigot key and leave of the owner": places.needs_key[place],
        "money": PLACE_RULES[places.kind[place]].needs_money,
    }
    return ", ".join(words for words, needed in wants.items() if needed) or "nothing"


def label_of(scene: Scene, place: int) -> str:
    """Call a place by its kind, and its name where it has one.

    Parameters
    ----------
    scene : Scene
        Places.
    place : int
        Row of the place.

    Returns
    -------
    str
        As the map has it; not escaped.
    """
    kind, name = scene.places.kind[place], scene.places.name[place]
    return f"{kind} {name}" if name else kind


class Ahead:
    """Water ahead of any point of one walked way.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.

    Attributes
    ----------
    thirst : Thirst
        Need and supply along it.
    plan : StopPlan
        The stops by need, one row a nearby place.
    relied_on : (C,) bool
        Places that give water and are relied on.
    """

    def __init__(self, scene: Scene, walked: Walked) -> None:
        self.scene, self.walked = scene, walked
        self.units = Units(scene.plan.units)
        reading = walked.reading
        self.thirst: Thirst = thirst_of(scene, walked.nearby, reading, walked.outcome, walked.stops)
        self.relied_on: NDArray[np.bool_] = reading.relied_on & self.thirst.gives
        self.plan: StopPlan = self.thirst.plan(reading.relied_on)
        self.wet = np.flatnonzero(self.relied_on)

    def after(self, along_m: float, *, beyond: int = -1) -> int:
        """Find the next water relied on from a point of the way.

        Parameters
        ----------
        along_m : float
            Distance from the start [m].
        beyond : int
            Only places after this row.

        Returns
        -------
        int
            Row of the nearby place; -1 when there is none up to home.
        """
        ahead = self.wet[(self.walked.nearby.along_m[self.wet] >= along_m) & (self.wet > beyond)]
        return int(ahead[0]) if ahead.size else -1

    def columns(self, along_m: float, need_ml: float, row: int) -> dict[str, Any]:
        """Say where the next water is, from a point of the way.

        Parameters
        ----------
        along_m : float
            Distance of the point from the start [m].
        need_ml : float
            Water needed up to there [mL].
        row : int
            From `after`.

        Returns
        -------
        dict
            ``next_water``, ``next_water_km`` (walk to it, off the way included),
            ``next_water_ml`` (needed up to it), ``next_water_needs``.
        """
        if row < 0:
            return {
                "next_water": "",
                "next_water_km": np.nan,
                "next_water_ml": np.nan,
                "next_water_needs": "",
            }
        nearby = self.walked.nearby
        place = int(nearby.place[row])
        on_m = float(nearby.along_m[row]) - along_m + float(nearby.off_m[row])
        return {
            "next_water": label_of(self.scene, place),
            "next_water_km": on_m / 1000.0,
            "next_water_ml": max(float(self.thirst.need_ml[row]) - need_ml, 0.0),
            "next_water_needs": needs_of(self.scene, place),
        }

    def if_dry(self, row: int) -> tuple[int, str]:
        """Say what to do when a planned stop gives nothing.

        Parameters
        ----------
        row : int
            Nearby place that is stopped at.

        Returns
        -------
        int
            Row of the second choice; -1 for none.
        str
            What to do, in one sentence.
        """
        arrive_ml = float(np.nan_to_num(self.plan.arrive_ml[row]))
        left_ml = max(arrive_ml - float(self.thirst.stop_need_ml[row]), 0.0)
        second = self.thirst.plan_after(row, self.relied_on, left_ml)
        volume = self.units.volume
        stops = np.flatnonzero(second.chosen)
        if not stops.size:
            if second.short_ml <= 0.0:
                return -1, "if dry: what is left lasts to home"
            short = self._missing(second.short_ml)
            return -1, f"if dry: no other water is relied on up to home; {short} would be missing"
        choice, nearby = int(stops[0]), self.walked.nearby
        on_m = float(nearby.along_m[choice] - nearby.along_m[row]) + float(nearby.off_m[choice])
        far = self.units.long(on_m) if on_m >= self.units.long_m else self.units.near(on_m)
        label = label_of(self.scene, int(nearby.place[choice]))
        need_ml = float(self.thirst.need_ml[choice] - self.thirst.need_ml[row])
        text = f"if dry: on {far} to {label}, {volume(need_ml)} needed of {volume(left_ml)} left"
        if second.short_ml > 0.0:
            text += f"; {self._missing(second.short_ml)} would be missing on the way home"
        return choice, text

    def _missing(self, short_ml: float) -> str:
        """Say an amount missing so that a little does not read as none."""
        return "a mouthful" if short_ml < MOUTHFUL_ML else self.units.volume(short_ml)

    def treatment(self, row: int, taken_ml: float) -> str:
        """Say how water taken at a stop is made fit.

        Parameters
        ----------
        row : int
            Nearby place that is stopped at.
        taken_ml : float
            Water taken [mL].

        Returns
        -------
        str
            In words; "" where none is needed.
        """
        method = int(self.plan.method[row])
        if method < 0:
            return ""
        name, treatment = self.thirst.kit.names[method], self.thirst.kit.treatments[method]
        treated_ml = self.thirst.capacity_ml if self.thirst.kit.one_bottle else taken_ml
        if name == "tablets":
            count = used_ml(treated_ml, treatment.dose_ml, np.inf) / treatment.dose_ml
            minutes = self.thirst.kit.contact_s[method] / 60.0
            how = "drink it then, on the way" if self.plan.carried_on[row] else "wait for it here"
            tablets = "1 tablet" if count == 1 else f"{count:.0f} tablets"
            return f"{tablets}, fit after {minutes:.0f} min: {how}"
        return f"{name} for {self.units.volume(treated_ml)}"


def with_next_water(
    scene: Scene, walked: Walked, refills: pd.DataFrame, hours: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame, dict[str, Any]]:
    """Add to the places and to the hours what comes next, and what if a tap is dry.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.
    refills, hours : pandas.DataFrame
        The tables of the walk.

    Returns
    -------
    refills, hours : pandas.DataFrame
        With new columns at their ends.
    water : dict
        For the summary: ``next`` on setting out, ``treatment`` used up, ``chance_dry``.
    """
    ahead = Ahead(scene, walked)
    thirst, nearby = ahead.thirst, walked.nearby
    rows = []
    for row, used in enumerate(refills["used"].tolist()):
        along_m, need_ml = float(nearby.along_m[row]), float(thirst.need_ml[row])
        columns = ahead.columns(along_m, need_ml, ahead.after(along_m, beyond=row))
        stopped = bool(used) and bool(ahead.plan.chosen[row])
        taken_ml = 1000.0 * float(refills["litres"].iloc[row])
        columns["treatment"] = ahead.treatment(row, taken_ml) if stopped else ""
        columns["works_share"] = float(walked.reading.works[row])
        columns["if_dry"] = ahead.if_dry(row)[1] if stopped else ""
        rows.append(columns)
    names = [*ahead.columns(0.0, 0.0, -1), "treatment", "works_share", "if_dry"]
    told = refills.assign(**{name: [row[name] for row in rows] for name in names})
    return told, _hours(ahead, hours), _water(ahead, told)


def _hours(ahead: Ahead, hours: pd.DataFrame) -> pd.DataFrame:
    """Say at each hour's end where the next water is."""
    so_far_m = 1000.0 * hours["distance_so_far_km"].to_numpy(np.float64)
    lost_ml = way_need(ahead.walked.outcome, ahead.walked.stops).at_m(so_far_m)
    rows = [
        ahead.columns(along_m, need_ml, ahead.after(along_m))
        for along_m, need_ml in zip(so_far_m.tolist(), lost_ml.tolist(), strict=True)
    ]
    names = ahead.columns(0.0, 0.0, -1)
    return hours.assign(**{name: [row[name] for row in rows] for name in names})


def _water(ahead: Ahead, refills: pd.DataFrame) -> dict[str, Any]:
    """Sum up what the water of this walk hangs on."""
    first = ahead.after(0.0)
    columns = ahead.columns(0.0, 0.0, first)
    told: dict[str, Any] = {"next": None}
    if first >= 0:
        told["next"] = {
            "place": columns["next_water"],
            "km": columns["next_water_km"],
            "need_l": columns["next_water_ml"] / 1000.0,
            "needs": columns["next_water_needs"],
        }
    told["treatment"] = _used(ahead, refills)
    told["chance_dry"] = sureness(ahead)
    return told


def _used(ahead: Ahead, refills: pd.DataFrame) -> list[dict[str, Any]]:
    """List each treatment carried: what it could treat, what was used up, what is left."""
    kit = ahead.thirst.kit
    used = [0.0] * len(kit.names)
    for row, litres in enumerate(refills["litres"].tolist()):
        method = int(ahead.plan.method[row])
        if method >= 0 and litres > 0.0:
            treated = ahead.thirst.capacity_ml if kit.one_bottle else 1000.0 * litres
            left = kit.treatments[method].treats_ml - used[method]
            used[method] += used_ml(treated, kit.treatments[method].dose_ml, left)
    return [
        {
            "method": name,
            "carried_l": treatment.treats_ml / 1000.0,
            "used_l": gone / 1000.0,
            "left_l": (treatment.treats_ml - gone) / 1000.0,
            "doses_used": gone / treatment.dose_ml if treatment.dose_ml else None,
        }
        for name, treatment, gone in zip(kit.names, kit.treatments, used, strict=True)
    ]


def sureness(ahead: Ahead) -> dict[str, Any]:
    """Weigh the chance of running dry, each place working with its assumed share only.

    Parameters
    ----------
    ahead : Ahead
        Water along a walked way.

    Returns
    -------
    dict
        ``as_planned``: the planned stops and no other; ``going_on``: on to the next place when one
        is dry, at `PRICE_PER_S`; ``at_best``: every place tried that helps; ``extra_min``: mean
        time that the latter takes more than the planned stops.
    """
    planned = chance_dry(_odds(ahead, ahead.plan.chosen | ahead.relied_on), _at(ahead))
    going_on = surest(_odds(ahead, ahead.relied_on, waits=True), price_per_s=PRICE_PER_S)
    best = surest(_odds(ahead, ahead.walked.reading.tried & ahead.thirst.gives, waits=True))
    return {
        "as_planned": planned,
        "going_on": min(going_on.dry, planned),
        "at_best": min(best.dry, going_on.dry, planned),
        "extra_min": max(best.stop_s - ahead.plan.stop_s, 0.0) / 60.0,
    }


def _rows(ahead: Ahead, among: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Choose the places to weigh: the planned ones, then the nearest to the way."""
    rows = np.flatnonzero(among)
    if rows.size > TRIES:
        first = np.lexsort((ahead.walked.nearby.off_m[rows], ~ahead.plan.chosen[rows]))
        rows = np.sort(rows[first[:TRIES]])
    return rows


def _odds(ahead: Ahead, among: NDArray[np.bool_], *, waits: bool = False) -> Odds:
    thirst, reading = ahead.thirst, ahead.walked.reading
    rows = _rows(ahead, among) if waits else np.flatnonzero(among)
    treatments = thirst.treatments(thirst.end_need_ml)
    if waits:  # what is waited for is fit at once: the surest, and far fewer states to follow
        treatments = tuple(each._replace(carry_s=np.inf) for each in treatments)
    return Odds.of(
        thirst.need_ml[rows],
        reading.stop_s[rows],
        reading.works[rows],
        start_ml=thirst.start_ml,
        capacity_ml=thirst.capacity_ml,
        end_need_ml=thirst.end_need_ml,
        needs_treatment=thirst.treated[rows],
        treatments=treatments,
        fit_after_ml=thirst.fit_after_ml[rows],
        stop_need_ml=thirst.stop_need_ml[rows],
        drink_ahead_ml=thirst.ahead_ml,
        one_bottle=thirst.kit.one_bottle,
        grain_ml=GRAIN_ML if waits else 0.0,
    )


def _at(ahead: Ahead) -> StopPlan:
    """Give the plan with its stops numbered among the places relied on."""
    rows = np.flatnonzero(ahead.plan.chosen | ahead.relied_on)
    return replace(
        ahead.plan,
        chosen=ahead.plan.chosen[rows],
        method=ahead.plan.method[rows],
        carried_on=ahead.plan.carried_on[rows],
    )
