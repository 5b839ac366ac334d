"""Drawn walks in chances, amounts and bands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simulator.questions.chances import QUANTILES, amount_of, bands_of, chance_of
from simulator.questions.odds_trial import profile_steps
from simulator.questions.party import beyond_age, load_share
from simulator.questions.summary import JUDGED, JUDGED_WITH_HALT
from simulator.questions.verdicts import verdict_levels
from simulator.walk.records import HOURLY, PASSING, Total
from simulator.walk.verdict import (
    CHILL_CARE_C,
    FOOT_CARE_CLO,
    LIGHT_CARE_H,
    LOAD_CARE_SHARE,
    SHORT_CARE_ML,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.crowd_records import Arrivals
    from simulator.questions.odds_trial import Outcome, Trial
    from simulator.questions.scene import Scene

HOUR_S = 3600.0


def levels_of(scene: Scene, walks: Arrivals) -> NDArray[np.int8]:
    """Judge drawn walks as the main question does.

    Parameters
    ----------
    scene : Scene
        Event and bag.
    walks : Arrivals
        n walks.

    Returns
    -------
    (n,) int8
        Positions in ``LEVELS``, -1 where the walk is not known.
    """
    unknown = {text.split(" ", 1)[0] for text in scene.carried.unknown}
    event = scene.plan.event.kind
    care = (
        scene.items is None
        or bool(unknown & JUDGED)
        or load_share(scene.walkers) > LOAD_CARE_SHARE
        or bool(beyond_age(scene.plan))
    )
    level = verdict_levels(walks, event=event, always_care=care)
    if unknown & JUDGED_WITH_HALT:
        level = np.where((walks.halt_h > 0.0) & (level == 0), np.int8(1), level)
    return level


def shortages_of(walks: Arrivals) -> dict[str, Any]:
    """Give chance, size and beginning of every shortage.

    Parameters
    ----------
    walks : Arrivals
        n walks.

    Returns
    -------
    dict
        For water, energy, light and warmth; sizes and hours of the walks that have it.
    """
    light_h = walks.light_short_s / HOUR_S
    dry = walks.short_ml >= SHORT_CARE_ML
    # The body carries days of energy: only the food in the bag runs out.
    hungry = np.isfinite(walks.food_out_s) & (walks.food_out_s < walks.elapsed_s)
    unlit = light_h > LIGHT_CARE_H
    cold = (walks.coldest_c < CHILL_CARE_C) | (walks.foot_short_clo >= FOOT_CARE_CLO)

    def told(happened: NDArray[np.bool_], **amounts: NDArray[np.float64]) -> dict[str, Any]:
        sizes = {name: amount_of(values[happened]) for name, values in amounts.items()}
        return {**chance_of(happened), **sizes}

    return {
        "water": told(
            dry,
            short_l=walks.short_ml / 1000.0,
            body_mass_loss_pct=walks.loss_pct,
            from_h=walks.first_short_s / HOUR_S,
        ),
        "energy": told(
            hungry, short_kcal=walks.energy_short_kcal, from_h=walks.food_out_s / HOUR_S
        ),
        "light": told(unlit, short_h=light_h, from_h=walks.light_out_s / HOUR_S),
        "warmth": told(
            cold,
            felt_c=walks.coldest_c,
            clothes_short_clo=walks.foot_short_clo,
            from_h=walks.cold_from_s / HOUR_S,
        ),
        "warmth_of_a_night_halt": told(
            walks.halt_short_clo > 0.0, short_clo=walks.halt_short_clo, halt_h=walks.halt_h
        ),
    }


def ways_taken(trial: Trial, outcome: Outcome) -> list[dict[str, Any]]:
    """Tell each way, how often it is taken and how long it is.

    Parameters
    ----------
    trial : Trial
        The ways.
    outcome : Outcome
        Who took which.

    Returns
    -------
    list of dict
        One for each way that anyone took.
    """
    told = []
    for number, walked in enumerate(trial.ways):
        taken = outcome.way == number
        if taken.any():
            told.append(
                {
                    "way": number,
                    "distance_km": walked.way.course.length_m / 1000.0,
                    "taken": chance_of(taken),
                    "time_home_h": amount_of(outcome.arrivals.elapsed_s[taken] / HOUR_S),
                }
            )
    return told


def ledger_bands(scene: Scene, walks: Arrivals) -> pd.DataFrame:
    """Give the quantiles of the ledger at every full hour, of those still on the way.

    Parameters
    ----------
    scene : Scene
        What is carried.
    walks : Arrivals
        With their hours.

    Returns
    -------
    pandas.DataFrame
        One row an hour in which anyone is still on the way.
    """
    hourly = walks.hourly
    row = {each: 1 + HOURLY.index(each) for each in HOURLY}
    start_ml = float(scene.walkers.water_ml.sum())
    light_s = float(scene.walkers.light_s.min())
    drunk, lost = hourly[:, row[Total.DRUNK_ML]], hourly[:, row[Total.LOST_ML]]
    eaten, used = hourly[:, row[Total.EATEN_KCAL]], hourly[:, row[Total.ENERGY_KCAL]]
    amounts = {
        "distance_km": hourly[:, 0] / 1000.0,
        "water_left_l": (start_ml + hourly[:, row[Total.REFILLED_ML]] - drunk) / 1000.0,
        "water_short_l": np.maximum(lost - drunk, 0.0) / 1000.0,
        "energy_short_kcal": used - eaten,
        "light_left_h": (light_s - hourly[:, row[Total.LIGHT_USED_S]]) / HOUR_S,
    }
    if scene.walkers.count > 1:
        amounts.pop("light_left_h")  # summed over the group, and each has a lamp of one's own
    table = pd.DataFrame({"hour": np.arange(1, hourly.shape[0] + 1)})
    table["on_the_way"] = np.isfinite(hourly[:, 0]).mean(axis=1)
    for name, values in amounts.items():
        bands = bands_of(values)
        for column, share in enumerate(QUANTILES):
            table[f"{name}_{share:g}"] = bands[:, column]
    return table[table["on_the_way"] > 0.0]


def profile_bands(trial: Trial, outcome: Outcome) -> pd.DataFrame:
    """Give the quantiles of time and water along the plan's own way.

    Parameters
    ----------
    trial : Trial
        The way.
    outcome : Outcome
        Those who take it.

    Returns
    -------
    pandas.DataFrame
        One row a point of the way.
    """
    own = trial.ways[0]
    taken = outcome.way == 0
    at = own.way.course.distance_m[profile_steps(own)] / 1000.0
    profile = outcome.arrivals.profile[:, :, taken]
    start_ml = float(trial.scene.walkers.water_ml.sum())
    row = {each: PASSING.index(each) for each in PASSING}
    left = start_ml + profile[:, row[Total.REFILLED_ML]] - profile[:, row[Total.DRUNK_ML]]
    table = pd.DataFrame({"distance_km": at})
    for name, values in (("elapsed_h", profile[:, 0] / HOUR_S), ("water_left_l", left / 1000.0)):
        bands = bands_of(values)
        for column, share in enumerate(QUANTILES):
            table[f"{name}_{share:g}"] = bands[:, column]
    return table
