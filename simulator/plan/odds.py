"""The table of a plan that says how sure its numbers are: the spread of everything drawn.

A default is either sourced or called assumed; both stand in the description and are printed with
every result. All spreads are of one walk to the next, for this person, this bag and this day.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator

from simulator.faults import shown
from simulator.plan.values import Number, Part, Switch, Whole, as_closed, described

PAIR = 2

MOST_WALKS = 1_000_000
"""More are a slip of the keyboard."""


def as_chances(value: object) -> tuple[tuple[str | int, float], ...]:
    """Read what may be closed, with what chance.

    Parameters
    ----------
    value : object
        Pairs of a name or way number and a chance.

    Returns
    -------
    tuple of (str or int, float)
        As written.

    Raises
    ------
    ValueError
        When one is no such pair.
    """
    pairs: list[tuple[str | int, float]] = []
    for entry in value if isinstance(value, list | tuple) else (value,):
        if not isinstance(entry, list | tuple) or len(entry) != PAIR:
            msg = f'found {shown(entry)}; allowed: pairs, e.g. ["Mill Bridge", 0.1]'
            raise ValueError(msg)
        (name,) = as_closed(entry[0])
        chance = entry[1]
        if isinstance(chance, bool) or not isinstance(chance, int | float) or not 0 <= chance <= 1:
            msg = f"found {shown(chance)} as the chance of {shown(name)}; allowed: 0 to 1"
            raise ValueError(msg)
        pairs.append((name, float(chance)))
    return tuple(pairs)


class Odds(Part):
    """How much everything may differ from the plan; 0 holds a thing still."""

    walks: Annotated[
        Whole, described("how many walks are drawn", low=10, high=MOST_WALKS, why="or a slip")
    ] = 2000
    seed: Annotated[
        Whole, described("starts the random numbers; the same seed, the same walks", low=0)
    ] = 1
    depart_sd_min: Annotated[
        Number,
        described(
            "departure, normal around the plan's (assumed)",
            unit="min",
            low=0,
            high=720,
            why="a day",
        ),
    ] = 20.0
    pace_sd: Annotated[
        Number,
        described(
            "own pace, log-normal around pace_factor; adults of one age and sex differ by about "
            "0.12 (Bohannon 1997, from memory)",
            low=0,
            high=0.5,
        ),
    ] = 0.12
    mass_sd_kg: Annotated[
        Number,
        described("body mass, normal; clothes and scales (assumed)", unit="kg", low=0, high=20),
    ] = 2.0
    tiring_sd: Annotated[
        Number,
        described(
            "fitness: speed lost with the hours, log-normal around fatigue_per_h (assumed)",
            low=0,
            high=1,
        ),
    ] = 0.4
    fit_and_fast: Annotated[
        Number,
        described(
            "how far the fast are also the fit: correlation of pace and fitness (assumed)",
            low=0,
            high=1,
        ),
    ] = 0.5
    injury_chance: Annotated[
        Number,
        described(
            "chance of a blister, strain or the like somewhere on the way (assumed)", low=0, high=1
        ),
    ] = 0.05
    injury_pace: Annotated[
        Number, described("share of pace kept from there on (assumed)", low=0.2, high=1)
    ] = 0.75
    rest_sd: Annotated[
        Number,
        described("rests, log-normal around rest_min_per_h (assumed)", low=0, high=1),
    ] = 0.3
    drink_least: Annotated[
        Number,
        described(
            "share of the water lost that is drunk while there is any, even from this to 1; people "
            "on the move replace about two thirds or more (from memory)",
            low=0.3,
            high=1,
        ),
    ] = 0.7
    sweat_sd: Annotated[
        Number,
        described(
            "own sweat, log-normal around the equation; people differ by a quarter to a third "
            "(from memory)",
            low=0,
            high=1,
        ),
    ] = 0.3
    weather_days: Annotated[
        Whole,
        described(
            "with a typical year: days around the date that may be the day, all alike (assumed)",
            unit="days",
            low=0,
            high=180,
        ),
    ] = 15
    air_sd_c: Annotated[
        Number,
        described(
            "otherwise: error of the air temperature, normal, one for all hours; a day-ahead "
            "forecast misses by about 2 (common practice)",
            unit="°C",
            low=0,
            high=15,
        ),
    ] = 2.0
    humidity_sd_pct: Annotated[
        Number,
        described("error of the relative humidity, normal (assumed)", unit="%", low=0, high=40),
    ] = 8.0
    warm_and_dry: Annotated[
        Number,
        described(
            "how far warmer than forecast is drier: correlation of both errors (assumed)",
            low=0,
            high=1,
        ),
    ] = 0.5
    wind_sd: Annotated[
        Number,
        described("wind, log-normal around the forecast (assumed)", low=0, high=1),
    ] = 0.35
    sun_sd: Annotated[
        Number,
        described("sunlight through the clouds, log-normal (assumed)", low=0, high=1),
    ] = 0.3
    rain_sd: Annotated[
        Number,
        described("rain, log-normal around the forecast (assumed)", low=0, high=2),
    ] = 0.8
    closures: Annotated[
        tuple[tuple[str | int, float], ...],
        BeforeValidator(as_chances),
        described(
            "what may be closed, each for itself: name as on the map or way number, and chance",
            example='[["Mill Bridge", 0.1]]',
        ),
    ] = ()
    bridge_chance: Annotated[
        Number,
        described(
            "chance that a bridge of the way is closed, each for itself, beside closures (assumed)",
            low=0,
            high=1,
        ),
    ] = 0.0
    places: Annotated[
        Switch,
        described("draw whether each place works, by the assumed share of its kind in the event"),
    ] = True
    places_together: Annotated[
        Number,
        described(
            "how far places fail together: correlation of a normal copula (assumed)", low=0, high=1
        ),
    ] = 0.5
