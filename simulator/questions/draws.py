"""Drawn walks: from numbers between 0 and 1 to walkers, weather, closures and places that work.

Each thing drawn has a stream of random numbers of its own, found from the seed and its name. So
the same seed gives the same luck to two plans, and their difference is the plans' own; and adding
a thing changes nothing of the others.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING
from zlib import crc32

import numpy as np
from scipy.special import ndtr, ndtri

from simulator.home.crowd_records import Crowd
from simulator.sky.clock import to_epoch_s
from simulator.units import MINUTE_S
from simulator.walk.records import Traits, WeatherError, some_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.home.scene import Scene
    from simulator.plan.tables import Odds

THINGS = (
    "departure",
    "pace",
    "body mass",
    "fitness",
    "small injury",
    "rests",
    "drinking",
    "sweat",
    "weather",
    "humidity",
    "wind",
    "sun",
    "rain",
    "places",
)
"""What is drawn on every walk; what may be closed comes behind, one for each closure."""

FARTHEST = 4.0
"""Normal draws are held within so many standard deviations."""

SLOWEST, FASTEST = 0.2, 2.5
"""Bounds of a drawn pace factor."""

LIGHTEST_KG = 20.0
"""Least drawn body mass [kg]."""


@dataclass(frozen=True, slots=True)
class DrawnWalks:
    """Walks as drawn, n of them.

    Attributes
    ----------
    crowd : Crowd
        Who walks when in which weather; places not yet drawn.
    day : (n,) int64
        Days after the plan's date.
    closed : (n, J) bool
        Which of the possible closures hold.
    together : (n,) float64
        Common luck of the places, standard normal.
    """

    crowd: Crowd
    day: NDArray[np.int64]
    closed: NDArray[np.bool_]
    together: NDArray[np.float64]


def stream(seed: int, name: str) -> np.random.Generator:
    """Open the stream of one thing."""
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(crc32(name.encode()),)))


def unit_draws(seed: int, names: Sequence[str], walks: int) -> NDArray[np.float64]:
    """Draw numbers between 0 and 1 for every thing and walk."""
    return np.column_stack([stream(seed, name).random(walks) for name in names])


def shape_walks(
    scene: Scene,
    settings: Odds,
    unit: NDArray[np.float64],
    *,
    by_days: bool,
    chances: NDArray[np.float64],
    length_m: float,
) -> DrawnWalks:
    """Turn even numbers into walks."""
    even = dict(zip(THINGS, unit.T, strict=False))
    normal = {
        name: np.clip(ndtri(np.clip(column, 1e-12, 1.0 - 1e-12)), -FARTHEST, FARTHEST)
        for name, column in even.items()
    }
    walks, members = unit.shape[0], scene.walkers.count
    rows = np.tile(np.arange(members), walks)
    base = some_of(scene.walkers, rows)

    def each(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.repeat(values, members)

    pace = np.exp(settings.pace_sd * normal["pace"])
    walkers = replace(
        base,
        party=np.repeat(np.arange(walks), members),
        mass_kg=np.maximum(
            base.mass_kg + settings.mass_sd_kg * each(normal["body mass"]), LIGHTEST_KG
        ),
        pace_factor=np.clip(base.pace_factor * each(pace), SLOWEST, FASTEST),
    )
    depart, day = _departures(
        scene, settings, even["weather"], normal["departure"], by_days=by_days
    )
    return DrawnWalks(
        crowd=Crowd(
            walkers=walkers,
            members=members,
            depart_epoch_s=depart,
            traits=_traits(settings, even, normal, length_m, members),
            error=None if by_days else _weather_error(settings, normal, members),
        ),
        day=day,
        closed=unit[:, len(THINGS) :] < chances,
        together=normal["places"],
    )


def _departures(
    scene: Scene,
    settings: Odds,
    even: NDArray[np.float64],
    normal: NDArray[np.float64],
    *,
    by_days: bool,
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """When each walk begins: around the plan's time, on a day around the plan's."""
    late_s = MINUTE_S * settings.depart_sd_min * normal
    if not by_days:
        return scene.depart_epoch_s + late_s, np.zeros(even.size, dtype=np.int64)
    days = settings.weather_days
    day = np.minimum((even * (2 * days + 1)).astype(np.int64), 2 * days) - days
    begins = {
        offset: to_epoch_s(
            scene.plan.trip.depart + timedelta(days=offset), scene.zone, where="trip.depart"
        )
        for offset in np.unique(day).tolist()
    }
    return np.array([begins[offset] for offset in day.tolist()]) + late_s, day


def _traits(
    settings: Odds,
    even: dict[str, NDArray[np.float64]],
    normal: dict[str, NDArray[np.float64]],
    length_m: float,
    members: int,
) -> Traits:
    """Habits, fitness and mishaps; an injury happens at any point of the way alike."""
    tied = settings.fit_and_fast
    tiring = -tied * normal["pace"] - np.sqrt(1.0 - tied**2) * normal["fitness"]
    chance, luck = settings.injury_chance, even["small injury"]
    hurt = luck < chance
    where = np.divide(luck, chance, out=np.zeros_like(luck), where=hurt)
    columns = {
        "rest_factor": np.exp(settings.rest_sd * normal["rests"]),
        "drink_share": settings.drink_least + (1.0 - settings.drink_least) * even["drinking"],
        "sweat_factor": np.exp(settings.sweat_sd * normal["sweat"]),
        "tiring_factor": np.exp(settings.tiring_sd * tiring),
        "hurt_from_m": np.where(hurt, where * length_m, np.inf),
        "hurt_factor": np.full(luck.size, settings.injury_pace),
    }
    return Traits(**{name: np.repeat(column, members) for name, column in columns.items()})


def _weather_error(
    settings: Odds, normal: dict[str, NDArray[np.float64]], members: int
) -> WeatherError | None:
    """One error for all hours of a walk; None when the forecast is taken as certain."""
    spreads = (
        settings.air_sd_c,
        settings.humidity_sd_pct,
        settings.wind_sd,
        settings.sun_sd,
        settings.rain_sd,
    )
    if not any(spreads):
        return None
    tied = settings.warm_and_dry
    damp = -tied * normal["weather"] + np.sqrt(1.0 - tied**2) * normal["humidity"]
    columns = {
        "air_c": settings.air_sd_c * normal["weather"],
        "humidity_pct": settings.humidity_sd_pct * damp,
        "wind_factor": np.exp(settings.wind_sd * normal["wind"]),
        "sun_factor": np.exp(settings.sun_sd * normal["sun"]),
        "rain_factor": np.exp(settings.rain_sd * normal["rain"]),
    }
    return WeatherError(**{name: np.repeat(column, members) for name, column in columns.items()})


def places_that_work(
    scene: Scene,
    settings: Odds,
    place: NDArray[np.int64],
    *,
    together: NDArray[np.float64],
    seed: int,
    luck_of: NDArray[np.int64],
) -> NDArray[np.bool_] | None:
    """Draw which places work on which walk."""
    if not settings.places:
        return None
    share = scene.places.works_in(scene.plan.event.kind)
    tied = settings.places_together
    most = int(luck_of.max(initial=-1)) + 1
    works = np.empty((together.size, place.size), dtype=bool)
    for column, row in enumerate(place.tolist()):
        own = stream(seed, f"place {scene.places.osm[row]}").standard_normal(most)[luck_of]
        luck = ndtr(np.sqrt(tied) * together + np.sqrt(1.0 - tied) * own)
        works[:, column] = luck < share[row]
    return works
