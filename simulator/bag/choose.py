"""What to pack: the best of what is owned and what can be bought, within money, room and mass.

First the most urgent purposes, then what the walk asks for, then the other purposes, then comfort;
among equals the cheapest, then the lightest. The answer is exact, not a rule of thumb.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from simulator.bag.balance import supplies
from simulator.bag.candidates import Candidates, Limits, candidates, one_of_a_kind
from simulator.bag.catalogue import Catalogue
from simulator.bag.demand import Demand
from simulator.bag.fit import FIRST_NEEDS, NEEDED_PURPOSES
from simulator.bag.items import Items
from simulator.bag.lists import joined, with_quantities
from simulator.bag.programme import Goal, Limit, best
from simulator.bag.sharing import covering, pieces

Standard = Literal["basic", "comfort", "best"]
"""The cheapest bag that does what it can; the same with something of the comfort tier for each
purpose; or the most comfort within the limits."""

STEPS: Final[Mapping[str, tuple[float, ...]]] = {
    "budget": (1.0, 5.0, 10.0, 20.0, 50.0),
    "volume": (500.0, 1000.0, 2000.0),
    "mass": (100.0, 250.0, 500.0, 1000.0),
}
"""How much more of each limit is tried, least first [currency], [ml], [g]."""

SAME: Final = 1e-6
"""Scores closer than this are equal."""


@dataclass(frozen=True, slots=True)
class More:
    """What a little more of one limit would bring.

    Attributes
    ----------
    limit : str
        ``budget``, ``volume`` or ``mass``.
    step : float
        How much more [currency, ml or g].
    improves : str
        The first goal that gets better.
    by : float
        By how much, in the goal's unit.
    takes : tuple of (str, int)
        Items and pieces that come in.
    leaves : tuple of (str, int)
        Items and pieces that go out.
    """

    limit: str
    step: float
    improves: str
    by: float
    takes: tuple[tuple[str, int], ...]
    leaves: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """A bag.

    Attributes
    ----------
    items : Items
        What to pack: owned items kept, then those bought.
    bought : Items
        The part of it to buy.
    left_out : tuple of (str, int)
        Owned items and pieces that stay at home.
    not_considered : tuple of str
        One sentence for each item that could not be judged, or must not be taken.
    spent : float
        Price of `bought` [currency of the list].
    volume_ml, mass_g : float
        Known sums over `items` [ml], [g].
    uncovered : tuple of str
        Purposes with too few pieces.
    unmet : mapping of str to float
        Demands by key and what is missing [unit of the demand].
    value : float
        Comfort of all, the sum of the catalogue's values.
    more : tuple of More
        One for each limit that binds: the least step tried that makes the bag better.
    """

    items: Items
    bought: Items
    left_out: tuple[tuple[str, int], ...]
    not_considered: tuple[str, ...]
    spent: float
    volume_ml: float
    mass_g: float
    uncovered: tuple[str, ...]
    unmet: Mapping[str, float]
    value: float
    more: tuple[More, ...]


def choose(
    owned: Items | None,
    catalogue: Catalogue,
    demands: Sequence[Demand],
    *,
    limits: Limits,
    walkers: int = 1,
    on: date | None = None,
    standard: Standard = "best",
    ask_more: bool = True,
) -> Choice:
    """Choose the best bag.

    Parameters
    ----------
    owned : Items or None
        What is there already; it costs nothing and need not be taken.
    catalogue : Catalogue
        What can be bought.
    demands : sequence of Demand
        What the walk asks, most urgent first; those of unknown need are left out.
    limits : Limits
        What the bag may take.
    walkers : int
        How many share it; what each needs for himself is counted for each.
    on : date, optional
        Owned items past their last good day by then are not taken.
    standard : {"basic", "comfort", "best"}
        How good; see `Standard`.
    ask_more : bool
        Whether to find out which limits bind; some more solving.

    Returns
    -------
    Choice
        No other choice within the limits does better in the first goal in which it differs.

    Raises
    ------
    ValueError
        When a limit is negative.
    """
    table = candidates(owned, catalogue, limits, walkers=walkers, on=on)
    goals = _goals(table, demands, walkers=walkers, standard=standard)
    fixed = [*_limits(table, limits), *one_of_a_kind(table, walkers)]
    counts = best(table.upper, fixed, goals)
    more = _more(table, fixed, goals, counts) if ask_more else ()
    kept, bought = _lists(table, counts)
    items = joined(kept, bought)
    at_home = table.upper[: table.owned] - counts[: table.owned]
    purposes = _purpose_goals(table, NEEDED_PURPOSES, walkers, standard)
    return Choice(
        items=items,
        bought=bought,
        left_out=tuple(
            (table.items.item[row], int(at_home[row])) for row in np.flatnonzero(at_home > 0)
        ),
        not_considered=table.refused,
        spent=bought.total("price").known,
        volume_ml=items.total("volume_ml").known,
        mass_g=items.total("mass_g").known,
        uncovered=tuple(goal.name for goal in purposes if goal.score(counts) > SAME),
        unmet={
            one.key: score
            for one, goal in zip(demands, _demand_goals(table, demands), strict=True)
            if (score := goal.score(counts)) > SAME * max(one.need, 1.0)
        },
        value=float(table.value @ counts),
        more=more,
    )


def _purpose_goals(
    table: Candidates, purposes: Sequence[str], walkers: int, standard: Standard
) -> list[Goal]:
    comfort = np.array([tier == "comfort" for tier in table.items.tier], dtype=np.bool_)
    counted = comfort if standard == "comfort" else np.ones(len(table.items), dtype=np.bool_)
    return [
        Goal(
            purpose,
            (covering(table.items, purpose) & counted).astype(np.float64),
            "at least",
            float(pieces(purpose, walkers)),
        )
        for purpose in purposes
    ]


def _demand_goals(table: Candidates, demands: Sequence[Demand]) -> list[Goal]:
    return [
        Goal(
            one.label,
            supplies(table.items, one.gives),
            "at least",
            0.0 if np.isnan(one.need) else one.need,
        )
        for one in demands
    ]


def _goals(
    table: Candidates, demands: Sequence[Demand], *, walkers: int, standard: Standard
) -> list[Goal]:
    """Rank all aims."""
    goals = [
        *_purpose_goals(table, NEEDED_PURPOSES[:FIRST_NEEDS], walkers, standard),
        *_demand_goals(table, demands),
        *_purpose_goals(table, NEEDED_PURPOSES[FIRST_NEEDS:], walkers, standard),
    ]
    if standard == "best":
        goals.append(Goal("comfort", table.value, "most"))
    goals.append(Goal("price", table.price, "least"))
    goals.append(Goal("mass", np.nan_to_num(table.items.mass_g), "least"))
    return goals


def _limits(table: Candidates, limits: Limits) -> list[Limit]:
    return [
        Limit(name, np.nan_to_num(weights), most)
        for name, weights, most in (
            ("budget", table.price, limits.budget),
            ("volume", table.items.volume_ml, limits.volume_ml),
            ("mass", table.items.mass_g, limits.mass_g),
        )
        if most is not None
    ]


def _lists(table: Candidates, counts: NDArray[np.int64]) -> tuple[Items, Items]:
    """Split a choice into what is kept and what is bought."""
    own = np.arange(len(table.items)) < table.owned
    kept = with_quantities(table.items, np.where(own, counts, 0))
    bought = with_quantities(table.items, np.where(own, 0, counts))
    return kept, bought


def _more(
    table: Candidates, limits: Sequence[Limit], goals: Sequence[Goal], counts: NDArray[np.int64]
) -> tuple[More, ...]:
    """Find which limits bind: the least step of each that makes the bag better."""
    aims = [goal for goal in goals if goal.aim != "least"]
    found = []
    for place, limit in enumerate(limits):
        steps = STEPS.get(limit.name, ())
        if not steps:
            continue
        for number, step in enumerate((steps[-1], *steps)):
            wider = [*limits]
            wider[place] = replace(limit, most=limit.most + step)
            other = best(table.upper, wider, goals)
            gain = _first_gain(aims, counts, other)
            if gain is None and number == 0:
                break  # what the largest step does not bring, no smaller one does
            if gain is not None and number > 0:
                found.append(More(limit.name, step, *gain, *_exchange(table, counts, other)))
                break
    return tuple(found)


def _first_gain(
    aims: Sequence[Goal], before: NDArray[np.int64], after: NDArray[np.int64]
) -> tuple[str, float] | None:
    """Find the first goal that gets better, and by how much."""
    for goal in aims:
        gain = goal.score(before) - goal.score(after)
        if gain > SAME * max(1.0, goal.enough):
            return goal.name, gain
    return None


def _exchange(
    table: Candidates, before: NDArray[np.int64], after: NDArray[np.int64]
) -> tuple[tuple[tuple[str, int], ...], tuple[tuple[str, int], ...]]:
    """Say what comes in and what goes out."""
    change = after - before
    names = table.items.item
    takes = tuple((names[row], int(change[row])) for row in np.flatnonzero(change > 0))
    leaves = tuple((names[row], int(-change[row])) for row in np.flatnonzero(change < 0))
    return takes, leaves
