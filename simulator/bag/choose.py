"""What to pack: the best of what is owned and what can be bought, within money, room and mass.

First the most urgent purposes, then what the walk asks for, then the other purposes, then comfort;
among equals the cheapest, then the lightest. The answer is exact, not a rule of thumb.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from simulator.arrays import Flags
from simulator.bag.catalogue import Catalogue
from simulator.bag.fit import (
    FIRST_NEEDS,
    NEEDED_PURPOSES,
    SHARED,
    Demand,
    covering,
    filled_more_ml,
    filled_room_ml,
    pieces,
    supplies,
)
from simulator.bag.items import (
    WATER_G_PER_ML,
    Items,
    items_from,
    joined,
    rows_of,
    with_quantities,
)
from simulator.bag.programme import (
    SAME,
    Goal,
    PackLimit,
    Rooms,
    best,
    held_at,
    least_more,
    widened,
    widening_for,
)

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
        What the bag may cost in all, the money spent on it before included [currency of the list].
    spend : float or None
        New money for what is bought now [currency of the list].
    volume_ml : float or None
        Usable room, flasks that are relied on filled [ml].
    mass_g : float or None
        Mass, flasks that are relied on filled [g].
    rooms_ml : tuple of float
        Usable room of each compartment, the main one first; empty when only the sum counts [ml].
    """

    budget: float | None = None
    spend: float | None = None
    volume_ml: float | None = None
    mass_g: float | None = None
    rooms_ml: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """What can be taken; K rows. A flask that grows has two: rolled up, and filled on the way.

    Attributes
    ----------
    plain : Items
        Owned items, then the catalogue's, one piece of each; `quantity` means nothing here.
    items : Items
        The same as they lie in the bag: a filled flask with its filled volume and mass, a rolled up
        one without the room for water that it then does not give.
    of : numpy.ndarray
        Row of `plain` that each row is, int64 (K).
    upper : numpy.ndarray
        Most pieces that may be taken of each row, int64 (K).
    most : numpy.ndarray
        Most pieces that may be taken of each row of `plain`, int64.
    value : numpy.ndarray
        Comfort of a piece, float64 (K).
    price : numpy.ndarray
        New money for a piece, 0 for what is owned, float64 (K) [currency of the list].
    own, filled : numpy.ndarray
        Whether a row is owned, and whether it is a flask filled on the way, bool (K).
    paid : float
        Known price of all that is owned [currency of the list].
    refused : tuple of str
        One sentence for each item that may not be taken.
    """

    plain: Items
    items: Items
    of: NDArray[np.int64]
    upper: NDArray[np.int64]
    most: NDArray[np.int64]
    value: NDArray[np.float64]
    price: NDArray[np.float64]
    own: NDArray[np.bool_]
    filled: NDArray[np.bool_]
    paid: float
    refused: tuple[str, ...]


def candidates(
    owned: Items | None, catalogue: Catalogue, limits: Limits, *, walkers: int, on: date | None
) -> Candidates:
    """Put owned and bought items into one table; those that cannot be judged get no pieces."""
    have = _whole_pieces(items_from([]) if owned is None else owned)
    plain = joined(have, catalogue.items)
    each = [1 if SHARED[purpose] else walkers for purpose in catalogue.items.purpose]
    there = _counts(have)
    wanted = catalogue.most * each - [there.get(_plain(name), 0) for name in catalogue.items.item]
    most = np.concatenate([have.quantity.astype(np.int64), np.maximum(wanted, 0)])
    own = np.arange(len(plain)) < len(have)
    price = np.where(own, 0.0, plain.price)
    refused: list[str] = []
    for row, name in enumerate(plain.item):
        why = _refusal(plain, row, price=float(price[row]), limits=limits, on=on)
        if why and most[row] > 0:
            refused.append(f"{name}: {why}")
            most[row] = 0
    value = np.concatenate([OWNED_VALUE / np.maximum(have.quantity, 1.0), catalogue.value])
    growing = np.flatnonzero(filled_more_ml(plain) > 0.0)
    of = np.concatenate([np.arange(len(plain)), growing])
    filled = np.arange(of.size) >= len(plain)
    return Candidates(
        plain=plain,
        items=_as_packed(plain, growing),
        of=of,
        upper=most[of],
        most=most,
        value=value[of],
        price=np.nan_to_num(price)[of],
        own=own[of],
        filled=filled,
        paid=0.0 if owned is None else owned.total("price").known,
        refused=tuple(refused),
    )


def _as_packed(plain: Items, growing: NDArray[np.intp]) -> Items:
    """Give each item as it lies in the bag; those that grow rolled up, and again filled."""
    rows, more_ml, room_ml = rows_of(plain), filled_more_ml(plain), filled_room_ml(plain)
    filled = [
        rows[row]
        | {
            "volume_ml": float(room_ml[row]),
            "mass_g": float(plain.mass_g[row] + WATER_G_PER_ML * more_ml[row]),
        }
        for row in growing.tolist()
    ]
    for row in growing.tolist():
        rows[row] = rows[row] | {"holds_ml": float(np.nan_to_num(plain.water_ml[row]))}
    return items_from([*rows, *filled], source=plain.source)


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
            ("price", price, limits.budget if limits.spend is None else limits.spend),
            ("volume", items.volume_ml[row], limits.volume_ml),
            ("mass", items.mass_g[row], limits.mass_g),
        )
        if limit is not None and np.isnan(cell)
    ]
    return f"not chosen, its {' and '.join(unknown)} is unknown" if unknown else ""


def one_of_a_kind(table: Candidates, walkers: int) -> list[PackLimit]:
    """Keep comforts from being bought beside what is alike and owned, or beside each other."""
    comfort = np.array([tier == "comfort" for tier in table.items.tier], dtype=np.bool_)
    found = []
    for kind in ALIKE:
        alike = table.items.is_a(kind)
        bought = alike & comfort & ~table.own
        for purpose in sorted({table.items.purpose[row] for row in np.flatnonzero(bought)}):
            same = np.array([one == purpose for one in table.items.purpose], dtype=np.bool_)
            there = int(table.upper[alike & table.own & same & ~table.filled].sum())
            enough = max(pieces(purpose, walkers) - there, 0)
            found.append(PackLimit(kind, (bought & same).astype(np.float64), float(enough)))
    return found


def one_state(table: Candidates) -> list[PackLimit]:
    """Let each piece of a flask be either rolled up or filled."""
    return [
        PackLimit("flask", (table.of == row).astype(np.float64), float(table.most[row]))
        for row in table.of[table.filled].tolist()
    ]


def companions(table: Candidates) -> list[PackLimit]:
    """Let nothing be taken without what it is no use without."""
    items = table.items
    lamps, cells, banks = items.is_a("lamp"), items.is_a("cells"), items.is_a("power bank")
    cables, shining = items.is_a("cable"), items.light_h > 0.0
    empty = lamps & (items.light_h == 0.0)
    return [
        *_wanting("cable", items, banks & ~cables, cables, one_for_all=True),
        *_wanting("lamp", items, cells & shining & ~lamps, lamps, one_for_all=True),
        *_wanting(
            "cells in use",
            items,
            cells & ~shining & ~lamps,
            lamps | items.is_a("radio"),
            one_for_all=True,
        ),
        *_wanting("cells", items, empty & ~cells, cells & shining, one_for_all=False),
    ]


def _wanting(
    name: str, items: Items, these: Flags, others: Flags, *, one_for_all: bool
) -> list[PackLimit]:
    """Bind what wants another thing to the pieces of it that fit."""
    found = []
    for fits in sorted({items.fits[row] for row in np.flatnonzero(these)}):
        wanting = these & np.array([one == fits for one in items.fits], dtype=np.bool_)
        serving = others & np.array(
            [not fits or not one or one == fits for one in items.fits], dtype=np.bool_
        )
        serves = float(MOST_SERVED if one_for_all else 1)
        found.append(PackLimit(name, wanting - serves * serving, 0.0))
    return found


MOST_SERVED: Final = 100
"""Pieces that one cable or lamp serves, one after the other; more than anybody packs."""

Standard = Literal["basic", "comfort", "best"]
"""The cheapest bag that does what it can; the same with something of the comfort tier for each
purpose; or the most comfort within the limits."""

STEPS: Final[Mapping[str, float]] = {
    "budget": 10.0,
    "spend": 10.0,
    "volume": 500.0,
    "mass": 100.0,
}
"""A little more of each limit, as people ask for it [currency], [ml], [g]."""

FARTHEST: Final = 10.0
"""The first gain is looked for up to this many times a little more."""


@dataclass(frozen=True, slots=True)
class More:
    """What a little more of one limit would bring.

    Attributes
    ----------
    limit : str
        ``budget``, ``spend``, ``volume`` or ``mass``.
    step : float
        The least that it takes, exactly [currency, ml or g].
    within : float
        The little more that it lies within, 0 when it takes more than that [currency, ml or g].
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
    within: float
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
        Known sums over `items`, the flasks of `filled` full [ml], [g].
    filled : tuple of (str, int)
        Flasks and pieces that the walk relies on, to be filled on the way at the latest.
    uncovered : tuple of str
        Purposes with too few pieces.
    unmet : mapping of str to float
        Demands by key and what is missing [unit of the demand].
    value : float
        Comfort of all, the sum of the catalogue's values.
    more : tuple of More
        For each limit that binds the least that makes the bag better, and the best that lies
        within a little more.
    """

    items: Items
    bought: Items
    left_out: tuple[tuple[str, int], ...]
    not_considered: tuple[str, ...]
    spent: float
    volume_ml: float
    mass_g: float
    filled: tuple[tuple[str, int], ...]
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
    if any(most is not None and most < 0.0 for most in (limits.budget, limits.spend)):
        msg = "`limits` must all be 0 or more"
        raise ValueError(msg)
    table = candidates(owned, catalogue, limits, walkers=walkers, on=on)
    goals = _goals(table, demands, walkers=walkers, standard=standard)
    fixed = [
        *_limits(table, limits),
        *one_of_a_kind(table, walkers),
        *one_state(table),
        *companions(table),
    ]
    rooms = _rooms(table, limits)
    counts = best(table.upper, fixed, goals, rooms=rooms)
    more = _more(table, fixed, goals, counts, rooms) if ask_more else ()
    kept, bought = _lists(table, counts)
    items = joined(kept, bought)
    there = with_quantities(table.items, counts)
    taken = np.bincount(table.of, weights=counts, minlength=len(table.plain)).astype(np.int64)
    at_home = np.where(table.own[: len(table.plain)], table.most - taken, 0)
    purposes = _purpose_goals(table, NEEDED_PURPOSES, walkers, standard)
    return Choice(
        items=items,
        bought=bought,
        left_out=tuple(
            (table.plain.item[row], int(at_home[row])) for row in np.flatnonzero(at_home > 0)
        ),
        not_considered=table.refused,
        spent=bought.total("price").known,
        volume_ml=there.total("volume_ml").known,
        mass_g=there.total("mass_g").known,
        filled=tuple(
            (table.items.item[row], int(counts[row]))
            for row in np.flatnonzero(table.filled & (counts > 0))
        ),
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
    """Give what the choice may take; money that is spent already is not got back at home."""
    left = None if limits.budget is None else limits.budget - table.paid
    return [
        PackLimit(name, np.nan_to_num(weights), most)
        for name, weights, most in (
            ("budget", table.price, left if left is None else max(left, 0.0)),
            ("spend", table.price, limits.spend),
            ("volume", table.items.volume_ml, limits.volume_ml),
            ("mass", table.items.mass_g, limits.mass_g),
        )
        if most is not None
    ]


def _rooms(table: Candidates, limits: Limits) -> Rooms | None:
    if len(limits.rooms_ml) < 2:  # noqa: PLR2004 - one room is the limit of volume
        return None
    return Rooms(table.items.volume_ml, np.array(limits.rooms_ml))


def _lists(table: Candidates, counts: NDArray[np.int64]) -> tuple[Items, Items]:
    """Split a choice into what is kept and what is bought."""
    size = len(table.plain)
    taken = np.bincount(table.of, weights=counts, minlength=size)
    own = table.own[:size]
    kept = with_quantities(table.plain, np.where(own, taken, 0))
    bought = with_quantities(table.plain, np.where(own, 0, taken))
    return kept, bought


def _more(
    table: Candidates,
    limits: Sequence[PackLimit],
    goals: Sequence[Goal],
    counts: NDArray[np.int64],
    rooms: Rooms | None,
) -> tuple[More, ...]:
    """Find what a little more of each limit brings, and the least that brings anything."""
    aims = [goal for goal in goals if goal.aim != "least"]
    found: list[More] = []
    for place, limit in enumerate(limits):
        little = STEPS.get(limit.name)
        if little is None:
            continue
        first = least_more(table.upper, limits, place, aims, counts, rooms)
        if first is None or first > FARTHEST * little:
            continue
        steps = [first]
        if first <= little:
            wider, room = widened(limits, place, rooms, little)
            there = best(table.upper, wider, goals, rooms=room)
            held = [held_at(goal, there) for goal in aims]
            least = widening_for(table.upper, limits, place, held, rooms)
            steps += [] if least is None or least <= first + SAME * limit.most else [least]
        for step in steps:
            wider, room = widened(limits, place, rooms, step)
            other = best(table.upper, wider, goals, rooms=room)
            gain = _first_gain(aims, counts, other)
            if gain is not None:
                exchange = _exchange(table, counts, other)
                within = little if step <= little else 0.0
                found.append(More(limit.name, step, within, *gain, *exchange))
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
    change = np.bincount(table.of, weights=after - before, minlength=len(table.plain))
    names = table.plain.item
    takes = tuple((names[row], int(change[row])) for row in np.flatnonzero(change > 0))
    leaves = tuple((names[row], int(-change[row])) for row in np.flatnonzero(change < 0))
    return takes, leaves
