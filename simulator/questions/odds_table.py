"""Drawn walks as a table, and every distribution they were drawn from in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simulator.plan.odds import Odds
from simulator.walk.ledger import local_time
from simulator.walk.verdict import LEVELS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.questions.odds_trial import Outcome
    from simulator.questions.scene import Scene

HOUR_S = 3600.0

DAYS_ONLY = frozenset({"weather_days"})
FORECAST_ONLY = frozenset(
    {"air_sd_c", "humidity_sd_pct", "warm_and_dry", "wind_sd", "sun_sd", "rain_sd"}
)
NOT_DRAWN = frozenset({"walks", "seed"})


def distributions(settings: Odds, *, by_days: bool) -> list[dict[str, Any]]:
    """List every distribution with its size and where it comes from.

    Parameters
    ----------
    settings : Odds
        The plan's table.
    by_days : bool
        Whether the weather is drawn from the days of a typical year, or errs around a forecast.

    Returns
    -------
    list of dict
        ``key``, ``value``, ``says`` (with source or "assumed"), ``changed`` from the default.
    """
    unused = NOT_DRAWN | (FORECAST_ONLY if by_days else DAYS_ONLY)
    return [
        {
            "key": f"odds.{name}",
            "value": _plain(getattr(settings, name)),
            "says": field.description or "",
            "changed": getattr(settings, name) != field.default,
        }
        for name, field in Odds.model_fields.items()
        if name not in unused
    ]


def _plain(value: object) -> object:
    """Give a value as JSON has it."""
    return [list(pair) for pair in value] if isinstance(value, tuple) else value


def walk_rows(
    scene: Scene, outcome: Outcome, arrive_epoch_s: NDArray[np.float64], level: NDArray[np.int8]
) -> pd.DataFrame:
    """Put the drawn walks into a table, one row each.

    Parameters
    ----------
    scene : Scene
        For the zone.
    outcome : Outcome
        Draws and arrivals.
    arrive_epoch_s : (n,) float64
        Arrivals.
    level : (n,) int8
        Verdicts, -1 for none.

    Returns
    -------
    pandas.DataFrame
        Draws first, then how it went; empty where not known.
    """
    crowd, walks = outcome.drawn.crowd, outcome.arrivals
    one = slice(None, None, crowd.members)
    columns: dict[str, Any] = {
        "walk": np.arange(crowd.count),
        "depart": [_clock(scene, when) for when in crowd.depart_epoch_s.tolist()],
        "day": outcome.drawn.day,
        "way": outcome.way,
        "pace_factor": crowd.walkers.pace_factor[one],
        "mass_kg": crowd.walkers.mass_kg[one],
    }
    if crowd.traits is not None:
        columns |= {
            "rest_factor": crowd.traits.rest_factor[one],
            "drink_share": crowd.traits.drink_share[one],
            "sweat_factor": crowd.traits.sweat_factor[one],
            "tiring_factor": crowd.traits.tiring_factor[one],
            "hurt_from_km": _finite(crowd.traits.hurt_from_m[one] / 1000.0),
        }
    if crowd.error is not None:
        columns |= {
            "air_error_c": crowd.error.air_c[one],
            "humidity_error_pct": crowd.error.humidity_pct[one],
            "wind_factor": crowd.error.wind_factor[one],
        }
    columns |= {
        "arrive": [_clock(scene, when) for when in arrive_epoch_s.tolist()],
        "elapsed_h": walks.elapsed_s / HOUR_S,
        "dark_h": walks.dark_s / HOUR_S,
        "water_short_l": walks.short_ml / 1000.0,
        "water_short_from_h": _finite(walks.first_short_s / HOUR_S),
        "body_mass_loss_pct": walks.loss_pct,
        "energy_short_kcal": walks.energy_short_kcal,
        "food_out_h": _finite(walks.food_out_s / HOUR_S),
        "light_short_h": walks.light_short_s / HOUR_S,
        "light_out_h": _finite(walks.light_out_s / HOUR_S),
        "coldest_felt_c": walks.coldest_c,
        "hottest_felt_c": walks.hottest_c,
        "halt_h": walks.halt_h,
        "halt_short_clo": walks.halt_short_clo,
        "verdict": [
            "no way home" if lost else (LEVELS[row] if row >= 0 else "not known")
            for lost, row in zip(outcome.no_way.tolist(), level.tolist(), strict=True)
        ],
    }
    return pd.DataFrame(columns)


def _clock(scene: Scene, epoch_s: float) -> str:
    """Give a local clock time, empty when there is none."""
    return local_time(epoch_s, scene.zone).isoformat() if np.isfinite(epoch_s) else ""


def _finite(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give NaN for what never happens."""
    return np.where(np.isfinite(values), values, np.nan)
