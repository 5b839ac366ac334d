"""Who walks and how: the plan's walkers, with what each carries and how they go."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.body import energy, pace
from simulator.body.slowing import LIMITS as SLOWING_LIMITS
from simulator.errors import InputError
from simulator.walk.manner import SWEAT_POSITIONS, Manner
from simulator.walk.records import Walkers

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.bag.items import Carried
    from simulator.body.limits import Limit
    from simulator.plan import Plan, Walker

LIGHTS_OUT = frozenset({"power failure"})
"""Events that put street lights out."""

(RESTING_AGE,) = energy.LIMITS["mifflin_1990"]
"""Ages for which the resting rate is published; others count as the nearest of them."""

(PACE_AGE,) = SLOWING_LIMITS["bohannon_1997"]
"""Ages for which a free walking speed is published; others count as the nearest of them."""

LEAST_PACE, MOST_PACE = 0.3, 2.0
"""Range of a walker's pace over the model's, as of the plan's ``pace_factor``."""


def manner_of(plan: Plan) -> Manner:
    """Say how the plan's party walks.

    Parameters
    ----------
    plan : Plan
        What is asked.

    Returns
    -------
    Manner
        With the limits of everyone in the party.
    """
    limits = tuple(dict.fromkeys(limit for walker in plan.walker for limit in walker.limits))
    asked = plan.pace
    return Manner(
        model=asked.model,
        surface=asked.surface,
        stairs=asked.stairs,
        load=asked.load,
        dark=asked.dark,
        fatigue=asked.fatigue,
        dark_unlit_factor=asked.dark_unlit_factor,
        dark_lit_factor=asked.dark_lit_factor,
        fatigue_per_h=asked.fatigue_per_h,
        limits=limits,
        street_lights=plan.event.kind not in LIGHTS_OUT,
        rest_min_per_h=plan.choices.rest_min_per_h,
        energy_model=plan.choices.energy_model,
        sweat=SWEAT_POSITIONS[plan.choices.sweat],
    )


def walkers_of(plan: Plan, load: Carried) -> Walkers:
    """Put the plan's walkers into arrays; what the bag holds is shared out by body mass.

    Parameters
    ----------
    plan : Plan
        What is asked.
    load : Carried
        What the bag adds up to.

    Returns
    -------
    Walkers
        One party. An age beyond the published ones counts as the nearest; ``age_notes`` says so.

    Raises
    ------
    InputError
        When a timed walk gives a pace that is no walk.
    """
    people = plan.walker
    mass = np.array([walker.mass_kg for walker in people])
    share = mass / mass.sum()
    own_pace = np.array([own_pace_factor(plan, row) for row in range(len(people))])
    return Walkers(
        mass_kg=mass,
        height_m=np.array([walker.height_m for walker in people]),
        age_y=np.array([_within(walker.age_y, RESTING_AGE) for walker in people]),
        male=np.array([walker.sex == "male" for walker in people]),
        pace_factor=own_pace,
        clothing_clo=np.array([walker.clothing_clo for walker in people]),
        bag_kg=share * load.mass_kg,
        water_ml=share * load.water_ml,
        capacity_ml=share * load.water_capacity_ml,
        treats_ml=share * load.treats_ml,
        food_kcal=share * load.energy_kcal,
        food_kg=share * load.food_mass_kg,
        light_s=np.full(mass.size, 3600.0 * load.light_h),
        party=np.zeros(mass.size, dtype=np.int64),
    )


def own_pace_factor(plan: Plan, row: int) -> float:
    """Give one walker's pace over the model's.

    Parameters
    ----------
    plan : Plan
        What is asked.
    row : int
        Which walker.

    Returns
    -------
    float
        ``pace_factor``, times what a timed walk shows, times the share of age and sex when the
        plan asks for it.

    Raises
    ------
    InputError
        When a timed walk gives a pace that is no walk.
    """
    walker = plan.walker[row]
    factor = walker.pace_factor
    if walker.timed_walk is not None:
        timed = timed_pace_factor(walker.timed_walk, model=plan.pace.model)
        if not LEAST_PACE <= timed <= MOST_PACE:
            number = f"[{row + 1}]" if len(plan.walker) > 1 else ""
            problem = (
                f"found a pace of {timed:.2f} times the model's; allowed: {LEAST_PACE:g} to "
                f"{MOST_PACE:g}; write kilometres, minutes, metres climbed, metres descended"
            )
            where = f"{plan.source or 'plan'}: walker{number}.timed_walk"
            raise InputError(where, problem)
        factor *= timed
    return factor * age_sex_share(plan, row)


def age_sex_share(plan: Plan, row: int) -> float:
    """Give the share that age and sex have in a walker's own pace.

    Parameters
    ----------
    plan : Plan
        What is asked.
    row : int
        Which walker.

    Returns
    -------
    float
        1 when the plan leaves age and sex out.
    """
    if not plan.pace.age_sex:
        return 1.0
    walker = plan.walker[row]
    return float(pace.age_sex_factor(_within(walker.age_y, PACE_AGE), walker.sex))


def timed_pace_factor(timed_walk: tuple[float, float, float, float], *, model: str) -> float:
    """Give the pace factor that one timed walk shows.

    Parameters
    ----------
    timed_walk : tuple of float
        Length [km], time without stops [min], metres climbed and descended [m].
    model : str
        Pace model that the factor is for.

    Returns
    -------
    float
        Above 1 is faster than the model. Climb and descent count as one even slope up and one
        down, since the list does not say where they were; level ground has no slope.
    """
    length_km, minutes, ascent_m, descent_m = timed_walk
    length_m, change_m = 1000.0 * length_km, ascent_m + descent_m
    if change_m == 0.0:
        return pace.pace_factor_from_timed_walk(length_m, 60.0 * minutes, model=model)
    steepness = change_m / length_m
    parts = [(height_m / steepness, sign) for height_m, sign in ((ascent_m, 1), (descent_m, -1))]
    walked = [(part_m, sign * steepness) for part_m, sign in parts if part_m > 0.0]
    lengths, slopes = (np.array(column) for column in zip(*walked, strict=True))
    times = lengths / length_m * 60.0 * minutes
    return pace.pace_factor_from_timed_walk(lengths, times, slopes, model=model)


def load_share(walkers: Walkers) -> float:
    """Give the heaviest bag as packed over the mass of who carries it.

    Parameters
    ----------
    walkers : Walkers
        Who walks.

    Returns
    -------
    float
        Load over body mass.
    """
    return float((walkers.bag_kg / walkers.mass_kg).max())


def is_beyond_age(age_y: float) -> bool:
    """Say whether an age is outside what the models of the body were made from.

    Parameters
    ----------
    age_y : float
        Age [years].

    Returns
    -------
    bool
        True for children and the very old.
    """
    return not RESTING_AGE.low <= age_y <= RESTING_AGE.high


def beyond_age(plan: Plan) -> list[str]:
    """Name the walkers whose age is outside what the models of the body were made from.

    Parameters
    ----------
    plan : Plan
        What is asked.

    Returns
    -------
    list of str
        E.g. ``walker 2 is 8 years old``.
    """
    return [
        f"{_who(plan, row)} is {walker.age_y:g} years old"
        for row, walker in enumerate(plan.walker)
        if is_beyond_age(walker.age_y)
    ]


def age_cautions(plan: Plan) -> list[str]:
    """Say what to mind with walkers beyond the ages of the published models.

    Parameters
    ----------
    plan : Plan
        What is asked.

    Returns
    -------
    list of str
        One sentence a walker concerned.
    """
    return [
        f"AGE: {_who(plan, row)} is {walker.age_y:g}. "
        + (
            "Children tire, chill and overheat sooner and walk slower than the adults the models "
            "were measured on"
            if walker.age_y < RESTING_AGE.low
            else "Old people feel thirst, heat and cold less than the adults the models were "
            "measured on"
        )
        + ": time a walk of theirs (timed_walk), plan more rest, ask a doctor when in doubt."
        for row, walker in enumerate(plan.walker)
        if is_beyond_age(walker.age_y)
    ]


def age_notes(plan: Plan) -> list[str]:
    """Say loudly which age is used for a walker beyond the published models.

    Parameters
    ----------
    plan : Plan
        What is asked.

    Returns
    -------
    list of str
        One sentence a walker concerned.
    """
    return [note for row, walker in enumerate(plan.walker) for note in _age_note(plan, row, walker)]


def _who(plan: Plan, row: int) -> str:
    return f"walker {row + 1}" if len(plan.walker) > 1 else "the walker"


def _age_note(plan: Plan, row: int, walker: Walker) -> Iterator[str]:
    who, age = _who(plan, row), walker.age_y
    if is_beyond_age(age):
        yield (
            f"AGE: {who} is {age:g}; the models of energy, water, warmth and pace were measured "
            f"on adults, so {_within(age, RESTING_AGE):g} years is used where an age is asked for."
        )
    if plan.pace.age_sex and not PACE_AGE.low <= age <= PACE_AGE.high:
        yield (
            f"AGE: no free walking speed is published for {age:g} years; {who} counts as "
            f"{_within(age, PACE_AGE):g}."
        )


def _within(age_y: float, limit: Limit) -> float:
    """Give the age, or the nearest published one."""
    return float(min(max(age_y, limit.low), limit.high))
