"""What to pack: the best of what is owned and what can be bought, within money, room and mass.

First the most urgent purposes, then what the walk asks for, then the other purposes, then comfort;
among equals the cheapest, then the lightest. The answer is exact, not a rule of thumb.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import takewhile
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from simulator.arrays import Floats
from simulator.bag.catalogue import Catalogue
from simulator.bag.fit import (
    FIRST_NEEDS,
    NEEDED_PURPOSES,
    SHARED,
    Demand,
    covering,
    pieces,
    supplies,
)
from simulator.bag.items import Items, items_from, joined, rows_of, with_quantities

Aim = Literal["at least", "most", "least"]

SLACK: Final = 1e-6
"""What a goal may lose to rounding when it is held fixed: the solver's own tolerance, relative to
the largest number of its row."""


@dataclass(frozen=True, slots=True, eq=False)
class Goal:
    """One aim.

    Attributes
    ----------
    name : str
        What it is, for messages.
    weights : numpy.ndarray
        What one piece of each candidate counts, float64 (K).
    aim : {"at least", "most", "least"}
        Miss `enough` by as little as can be; have as much, or as little, as can be.
    enough : float
        For ``at least``: more than this is not sought.
    """

    name: str
    weights: Floats
    aim: Aim
    enough: float = 0.0

    def score(self, counts: NDArray[np.int64]) -> float:
        """Say how badly a choice does; less is better."""
        amount = float(self.weights @ counts)
        if self.aim == "at least":
            return max(self.enough - amount, 0.0)
        return -amount if self.aim == "most" else amount


@dataclass(frozen=True, slots=True, eq=False)
class PackLimit:
    """What a choice may not exceed.

    Attributes
    ----------
    name : str
        E.g. ``budget``.
    weights : numpy.ndarray
        What one piece of each candidate takes, float64 (K), none negative.
    most : float
        All that there is.
    """

    name: str
    weights: Floats
    most: float


def best(
    upper: NDArray[np.int64], limits: Sequence[PackLimit], goals: Sequence[Goal]
) -> NDArray[np.int64]:
    """Choose how many of each candidate to take."""
    if any(limit.most < 0 for limit in limits):
        msg = "`limits` must all be 0 or more"
        raise ValueError(msg)
    rows = [_Row(limit.weights, -np.inf, limit.most) for limit in limits]
    first = list(takewhile(lambda goal: goal.aim == "at least", goals))
    targets = [_clipped(goal) for goal in first]
    whole = _solve(np.zeros(upper.size), upper, [*rows, *targets])
    counts = np.zeros(upper.size, dtype=np.int64)
    if whole is not None:  # all that is asked for first can be had together
        rows += targets
        goals = goals[len(first) :]
        counts = whole
    for goal in goals:
        found = _step(goal, upper, rows)
        if found is None:
            msg = f"the solver found no answer for {goal.name!r} within the limits"
            raise RuntimeError(msg)
        counts = found
        rows.append(_held(goal, counts))
    return counts


@dataclass(frozen=True, slots=True, eq=False)
class _Row:
    """A linear constraint."""

    weights: Floats
    low: float
    high: float


def _clipped(goal: Goal) -> _Row:
    """Ask for all that a goal wants, in shares of it; a piece never counts for more than all."""
    if goal.enough <= 0.0:
        return _Row(np.zeros(goal.weights.size), -np.inf, np.inf)
    return _Row(np.minimum(goal.weights / goal.enough, 1.0), 1.0 - SLACK, np.inf)


def _held(goal: Goal, counts: NDArray[np.int64]) -> _Row:
    """Keep what has been reached."""
    reached = float(goal.weights @ counts)
    slack = SLACK * max(1.0, float(np.abs(goal.weights).max(initial=0.0)))
    if goal.aim == "least":
        return _Row(goal.weights, -np.inf, reached + slack)
    if goal.aim == "most":
        return _Row(goal.weights, reached - slack, np.inf)
    if reached >= goal.enough:
        return _clipped(goal)
    return _Row(goal.weights / goal.enough, reached / goal.enough - SLACK, np.inf)


def _step(goal: Goal, upper: NDArray[np.int64], rows: Sequence[_Row]) -> NDArray[np.int64] | None:
    """Do best in one goal."""
    if goal.aim == "least":
        return _solve(goal.weights, upper, rows)
    if goal.aim == "most":
        return _solve(-goal.weights, upper, rows)
    if goal.enough <= 0.0:
        return _solve(np.zeros(upper.size), upper, rows)
    share = np.minimum(goal.weights / goal.enough, 1.0)
    return _solve(np.zeros(upper.size), upper, rows, target=share)


def _solve(
    cost: Floats,
    upper: NDArray[np.int64],
    rows: Sequence[_Row],
    *,
    target: Floats | None = None,
) -> NDArray[np.int64] | None:
    """Solve one programme; with a target, what it lacks to 1 is all that costs."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    size = upper.size
    weights = np.array([[*row.weights, 0.0] for row in rows]).reshape(len(rows), size + 1)
    low = [row.low for row in rows]
    high = [row.high for row in rows]
    if target is not None:
        weights = np.vstack([weights, [*target, 1.0]])
        low, high = [*low, 1.0], [*high, np.inf]
    spare = float(target is not None)
    constraints = [LinearConstraint(weights, low, high)] if low else []
    found = milp(
        np.append(cost, spare),
        integrality=np.append(np.ones(size), 0.0),
        bounds=Bounds(np.zeros(size + 1), np.append(upper, spare)),
        constraints=constraints,
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None:
        return None
    return np.rint(found.x[:size]).astype(np.int64)


OWNED_VALUE: Final = 4.0
"""Comfort, 0 to 10, of all pieces of an item that a person has chosen to own; a judgement."""

ALIKE: Final = (
    "power bank", "map", "dressings", "lamp", "treatment", "blade", "rainwear", "gloves", "socks",
)  # fmt: skip
"""Kinds of which one (for each walker, where each needs one) is enough: one of the comfort tier is
not bought beside it. The basic tier is free: it is bought only when asked for."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a bag may take in all; None is no limit.

    Attributes
    ----------
    budget : float or None
        Money for what is bought [currency of the list].
    volume_ml : float or None
        Usable room [ml].
    mass_g : float or None
        Mass as packed [g].
    """

    budget: float | None = None
    volume_ml: float | None = None
    mass_g: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Owned items, then the catalogue's; K rows.

    Attributes
    ----------
    items : Items
        One piece of each; `quantity` means nothing here.
    upper : numpy.ndarray
        Most pieces that may be taken, int64 (K).
    value : numpy.ndarray
        Comfort of a piece, float64 (K).
    price : numpy.ndarray
        Price of a piece, 0 for what is owned, float64 (K) [currency of the list].
    owned : int
        How many rows, from the first, are owned.
    refused : tuple of str
        One sentence for each item that may not be taken.
    """

    items: Items
    upper: NDArray[np.int64]
    value: NDArray[np.float64]
    price: NDArray[np.float64]
    owned: int
    refused: tuple[str, ...]


def candidates(
    owned: Items | None, catalogue: Catalogue, limits: Limits, *, walkers: int, on: date | None
) -> Candidates:
    """Put owned and bought items into one table; those that cannot be judged get no pieces."""
    have = _whole_pieces(items_from([]) if owned is None else owned)
    items = joined(have, catalogue.items)
    each = [1 if SHARED[purpose] else walkers for purpose in catalogue.items.purpose]
    there = _counts(have)
    wanted = catalogue.most * each - [there.get(_plain(name), 0) for name in catalogue.items.item]
    upper = np.concatenate([have.quantity.astype(np.int64), np.maximum(wanted, 0)])
    own = np.arange(len(items)) < len(have)
    price = np.where(own, 0.0, items.price)
    refused: list[str] = []
    for row, name in enumerate(items.item):
        why = _refusal(items, row, price=float(price[row]), limits=limits, on=on)
        if why and upper[row] > 0:
            refused.append(f"{name}: {why}")
            upper[row] = 0
    value = np.concatenate([OWNED_VALUE / np.maximum(have.quantity, 1.0), catalogue.value])
    return Candidates(items, upper, value, np.nan_to_num(price), len(have), tuple(refused))


def _plain(name: str) -> str:
    """Give a name with capitals and spaces apart."""
    return " ".join(name.casefold().split())


def _counts(items: Items) -> Counter[str]:
    """Count the pieces of each name; what is owned is not bought again."""
    counts: Counter[str] = Counter()
    for name, count in zip(items.item, items.quantity.tolist(), strict=True):
        counts[_plain(name)] += int(count)
    return counts


def _whole_pieces(items: Items) -> Items:
    """Make an item of half a piece one piece of half the size, so that pieces can be counted."""
    rows = []
    for row in rows_of(items):
        count = float(str(row["quantity"]))
        if not count.is_integer():
            scaled = {
                name: cell * count
                for name, cell in row.items()
                if isinstance(cell, float) and name != "quantity"
            }
            row = row | scaled | {"quantity": 1.0}  # noqa: PLW2901 - the row, made countable
        rows.append(row)
    return items_from(rows, source=items.source)


def _refusal(items: Items, row: int, *, price: float, limits: Limits, on: date | None) -> str:
    """Say why an item is not to be considered; nothing when it is."""
    expires = items.expires[row]
    if on is not None and expires is not None and expires < on:
        return f"past its last good day, {expires}"
    unknown = [
        name
        for name, cell, limit in (
            ("price", price, limits.budget),
            ("volume", items.volume_ml[row], limits.volume_ml),
            ("mass", items.mass_g[row], limits.mass_g),
        )
        if limit is not None and np.isnan(cell)
    ]
    return f"not chosen, its {' and '.join(unknown)} is unknown" if unknown else ""


def one_of_a_kind(table: Candidates, walkers: int) -> list[PackLimit]:
    """Keep comforts from being bought beside what is alike and owned, or beside each other."""
    own = np.arange(len(table.items)) < table.owned
    comfort = np.array([tier == "comfort" for tier in table.items.tier], dtype=np.bool_)
    found = []
    for kind in ALIKE:
        alike = table.items.is_a(kind)
        bought = alike & comfort & ~own
        for purpose in sorted({table.items.purpose[row] for row in np.flatnonzero(bought)}):
            same = np.array([one == purpose for one in table.items.purpose], dtype=np.bool_)
            there = int(table.upper[alike & own & same].sum())
            enough = max(pieces(purpose, walkers) - there, 0)
            found.append(PackLimit(kind, (bought & same).astype(np.float64), float(enough)))
    return found


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


def _limits(table: Candidates, limits: Limits) -> list[PackLimit]:
    return [
        PackLimit(name, np.nan_to_num(weights), most)
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
    table: Candidates, limits: Sequence[PackLimit], goals: Sequence[Goal], counts: NDArray[np.int64]
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
