"""How sure is it? Thousands of drawn walks through the same engine, and what decides them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.plan import inputs
from simulator.questions.chances import amount_of, chance_of
from simulator.questions.draws import THINGS, unit_draws
from simulator.questions.odds_table import distributions, walk_rows
from simulator.questions.odds_told import (
    ledger_bands,
    levels_of,
    profile_bands,
    shortages_of,
    ways_taken,
)
from simulator.questions.odds_trial import Outcome, Trial
from simulator.questions.sensitivity import Ranking, rank
from simulator.questions.unknown_heights import map_notes
from simulator.sky.clock import to_epoch_s
from simulator.walk.verdict import LEVELS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from simulator.plan import Plan
    from simulator.questions.scene import Scene

SCHEMA = "walkhome odds 1"
HOUR_S = 3600.0

WITHIN_H = (12.0, 18.0)
"""Times home that planners ask for [h]; common practice for about 25 km."""


@dataclass(frozen=True, slots=True)
class OddsAnswer:
    """How sure a walk home is.

    Attributes
    ----------
    plan : Plan
        What was asked.
    document : dict
        The content of odds.json.
    walks : pandas.DataFrame
        One row a drawn walk: the content of odds.csv.
    ledger : pandas.DataFrame
        Quantiles hour by hour, of those still on the way.
    profile : pandas.DataFrame
        Quantiles along the plan's own way, of those who take it.
    rankings : tuple of Ranking
        What decides; empty when not asked for.
    """

    plan: Plan
    document: dict[str, Any]
    walks: pd.DataFrame
    ledger: pd.DataFrame
    profile: pd.DataFrame
    rankings: tuple[Ranking, ...]


def odds(
    plan: Plan,
    *,
    walks: int | None = None,
    seed: int | None = None,
    by: Sequence[time] = (),
    decide: int = 256,
    block: int = 5_000,
    progress: Callable[[str], None] | None = None,
) -> OddsAnswer:
    """Draw many walks and tell how they go.

    Parameters
    ----------
    plan : Plan
        Its table ``odds`` says how far everything spreads.
    walks, seed : int, optional
        In place of the plan's own.
    by : sequence of datetime.time
        Local clock times to be home by, each the first one after the plan's departure.
    decide : int
        Base sample of the sensitivity analysis, a power of two; 0 leaves it out.
    block : int
        Walks at a time; changes no number.
    progress : callable, optional
        Told each stage as it begins, with its share done.

    Returns
    -------
    OddsAnswer
        The same for the same plan, number of walks and seed.

    Raises
    ------
    InputError
        When something in the plan or its files cannot be used.
    NoWayHomeError
        When there is no way home even with nothing closed by chance.
    """
    tell = progress or (lambda _stage: None)
    settings = plan.odds
    walks, seed = walks or settings.walks, settings.seed if seed is None else seed
    trial = Trial.prepare(plan, block=block, progress=tell)
    names = [*THINGS, *(f"closed: {closing.name}" for closing in trial.closings)]
    unit = unit_draws(seed, names, walks)
    tell("drawing the walks")
    outcome = trial.run(unit, seed=seed, luck_of=np.arange(walks), progress=tell)
    rankings: tuple[Ranking, ...] = ()
    if decide:

        def again(sample: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
            # The walks of one base sample share the luck that is not ranked.
            luck = np.arange(sample.shape[0]) // (len(names) + 2)
            return _deciding(trial.run(sample, seed=seed, luck_of=luck, progress=tell))

        tell("finding what decides")
        rankings = rank(again, names, base=decide, seed=seed)
    return _answer(trial, outcome, seed=seed, by=by, rankings=rankings)


def _deciding(outcome: Outcome) -> dict[str, NDArray[np.float64]]:
    """Amounts whose causes are ranked; no way home counts as the worst that was walked."""
    walks = outcome.arrivals
    amounts = {
        "time to get home": walks.elapsed_s / HOUR_S,
        "water lost and not drunk": walks.loss_pct,
        "time on unlit ways without a lamp": walks.light_short_s / HOUR_S,
    }
    return {
        name: np.where(outcome.no_way, np.nanmax(values), values)
        for name, values in amounts.items()
    }


def _by_epoch_s(scene: Scene, at: time, day: NDArray[np.int64]) -> NDArray[np.float64]:
    """First such clock time after the plan's departure, moved with the drawn day."""
    depart = scene.plan.trip.depart
    when = datetime.combine(depart.date(), at)
    if when <= depart:
        when += timedelta(days=1)
    offsets = np.unique(day)
    epochs = {
        int(offset): to_epoch_s(when + timedelta(days=int(offset)), scene.zone, where="--by")
        for offset in offsets
    }
    return np.array([epochs[each] for each in day.tolist()])


ASSUMPTIONS = (
    (
        "Every walk follows the plan's own stops for water; whoever finds a place shut or dry, or "
        "needs more, stops at the next place that can be relied on before the bottles run dry. "
        "Waters that need treatment are used only where the plan uses them."
    ),
    "The members of a group share form, habits and weather; a mishap slows them all.",
    "Opening hours are read at the quarter of an hour of passing by.",
    (
        "A night halt is made at the latest shelter that can be relied on before the day is over, "
        "or else where one stands, until first light."
    ),
    "A walk is home by dark when no minute of it falls after civil twilight.",
    "Standard errors are those of the drawing; they say nothing of what the models do not know.",
)
"""What holds for all drawn walks."""


def _answer(
    trial: Trial,
    outcome: Outcome,
    *,
    seed: int,
    by: Sequence[time],
    rankings: tuple[Ranking, ...],
) -> OddsAnswer:
    """Put the walks into chances, quantiles, bands and tables."""
    scene, walks, drawn = trial.scene, outcome.arrivals, outcome.drawn
    plan = scene.plan
    home = ~walks.limits_left
    arrive = drawn.crowd.depart_epoch_s + walks.elapsed_s
    sun = trial.conditions.at(np.where(home, arrive, scene.depart_epoch_s)).night
    level = levels_of(scene, walks)
    chances = {
        "home": chance_of(home),
        "home_by_dark": chance_of(home & (walks.dark_s == 0.0)),
        "arrives_in_the_dark": chance_of(home & sun),
        **{
            f"home_within_{hours:g}_h": chance_of(home & (walks.elapsed_s <= hours * HOUR_S))
            for hours in WITHIN_H
        },
        **{
            f"home_by_{at:%H:%M}": chance_of(home & (arrive <= _by_epoch_s(scene, at, drawn.day)))
            for at in by
        },
        "night_halt": chance_of(home & (walks.halt_h > 0.0)),
        **{f"verdict_{name}": chance_of(level == row) for row, name in enumerate(LEVELS)},
    }
    document = {
        "schema": SCHEMA,
        "title": plan.title,
        "seed": seed,
        "walks": int(home.size),
        "inputs": dict(sorted(inputs(plan).items())),
        "attribution": scene.streets.attribution,
        "no_way_home": int(outcome.no_way.sum()),
        "not_known": int((walks.limits_left & ~outcome.no_way).sum()),
        "chances": chances,
        "time_home_h": amount_of(walks.elapsed_s / HOUR_S),
        "shortages": shortages_of(walks),
        "coldest_felt_c": amount_of(walks.coldest_c),
        "hottest_felt_c": amount_of(walks.hottest_c),
        "ways": ways_taken(trial, outcome),
        "decides": [ranking.told() for ranking in rankings],
        "distributions": distributions(plan.odds, by_days=trial.by_days),
        "assumptions": [*map_notes(scene.streets), *ASSUMPTIONS],
    }
    return OddsAnswer(
        plan=plan,
        document=document,
        walks=walk_rows(scene, outcome, arrive, level),
        ledger=ledger_bands(scene, walks),
        profile=profile_bands(trial, outcome),
        rankings=rankings,
    )
