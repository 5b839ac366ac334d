"""The next best change: each single one tried by walking again, and ranked by what it does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.bag.balance import Balance, against, supplies
from simulator.bag.items import TAP_KEY, carried, items_from
from simulator.bag.lists import joined, with_quantities
from simulator.errors import InputError, NoWayHomeError
from simulator.questions.home import walk_way
from simulator.questions.legs import prepare_legs
from simulator.questions.pack_journey import journey_of
from simulator.questions.party import walkers_of
from simulator.questions.scene import LONGEST_WALK_H, weather_of
from simulator.questions.ways import find_way, street_times
from simulator.route.alternatives import alternatives
from simulator.walk.conditions import conditions_over

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from simulator.bag.catalogue import Catalogue
    from simulator.bag.demand import Journey
    from simulator.bag.items import Items
    from simulator.questions.scene import Scene
    from simulator.questions.ways import Way

MOST_RUNS: Final = 12
"""Changes tried at most, each by walking again."""

MOST_ADDED: Final = 3
"""Items of the catalogue tried for the worst shortage."""

MOST_DROPPED: Final = 2
"""Items tried without, the heaviest of the comfort tier."""

EARLIER_H: Final = 1.0
"""How much earlier a departure is tried [h]."""

HOURS: Final = "h"

FREE: Final = 0.02
"""What a change costs at least in the ranking, as a share of the bag; a judgement."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change and what it does.

    Attributes
    ----------
    what : str
        The change, in words.
    kind : str
        ``add``, ``drop``, ``swap``, ``leave earlier`` or ``other way``.
    target : str
        What it is measured by: the label of the worst shortage, or ``time on the way`` when nothing
        falls short.
    unit : str
        Unit of `before`, `after` and `gain`.
    before, after : float
        What is missing without and with it [`unit`].
    price : float
        What it costs [currency of the list]; nan is unknown.
    mass_g : float
        How much heavier the bag gets [g]; nan is unknown.
    later_min : float
        How much longer the walk takes [min].
    new_worst : str
        Label of what then is worst; empty when nothing falls short.
    """

    what: str
    kind: str
    target: str
    unit: str
    before: float
    after: float
    price: float
    mass_g: float
    later_min: float
    new_worst: str

    @property
    def gain(self) -> float:
        """How much less is missing [`unit`]."""
        return self.before - self.after

    @property
    def gain_per_money(self) -> float:
        """Gain for one unit of money; nan when it costs nothing or the price is unknown."""
        return self.gain / self.price if self.price > 0.0 else np.nan

    @property
    def gain_per_100_g(self) -> float:
        """Gain for 100 g; nan when it weighs nothing or the mass is unknown."""
        return 100.0 * self.gain / self.mass_g if self.mass_g > 0.0 else np.nan


@dataclass(frozen=True, slots=True)
class _Try:
    """A change to be walked."""

    what: str
    kind: str
    items: Items
    price: float = 0.0
    way: Way | None = None
    earlier_h: float = 0.0


def worst_of(balances: Sequence[Balance]) -> Balance | None:
    """Find the worst shortage: the greatest share missing, the more urgent among equals.

    Parameters
    ----------
    balances : sequence of Balance
        In order of urgency.

    Returns
    -------
    Balance or None
        None when nothing falls short.
    """
    short = [one for one in balances if np.isfinite(one.begins_h)]
    return max(short, key=lambda one: one.share, default=None)


def next_best(
    scene: Scene,
    way: Way,
    journey: Journey,
    balances: Sequence[Balance],
    goods: Catalogue,
    *,
    most_runs: int = MOST_RUNS,
    needed: Mapping[str, float] | None = None,
    progress: Callable[[str], None] | None = None,
) -> tuple[Change, ...]:
    """Try single changes and rank them.

    Ground, network and places are read once; each change walks again with the bag, the hour or the
    way changed. Those that help come first, by the share of the shortage that they mend over the
    shares that they add to the bag's price and mass (with `FREE` added, so that what costs and
    weighs nothing leads but does not win for a trifle).

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    way : Way
        The way it takes.
    journey : Journey
        The walk as it is.
    balances : sequence of Balance
        The list against it.
    goods : Catalogue
        What can be bought.
    most_runs : int
        Changes tried at most.
    needed : mapping of str to float, optional
        As for `simulator.bag.demand.demands`.
    progress : callable, optional
        Told each change as it is tried.

    Returns
    -------
    tuple of Change
        The best first; those that do not help at the end.
    """
    tell = progress or (lambda _stage: None)
    if most_runs < 1:
        return ()
    items = items_from([]) if scene.items is None else scene.items
    worst = worst_of(balances)
    found: list[Change] = []
    tries = list(_tries(scene, way, journey, items, worst, goods))[:most_runs]
    for number, one in enumerate(tries, 1):
        tell(f"trying change {number} of {len(tries)}: {one.what}")
        after = _walk_again(scene, way, one)
        if after is None:
            continue
        then = against(one.items, after, needed=needed)
        found.append(_measured(one, items, journey, after, worst, then))
    return tuple(sorted(found, key=lambda change: _rank(change, items)))


def _rank(change: Change, items: Items) -> tuple[bool, float, str]:
    """Order: helping changes by gain over cost, then the others by harm."""
    if not change.gain > 0.0:
        return True, -change.gain, change.what
    money = change.price / max(items.total("price").known, 1.0)
    mass = max(change.mass_g, 0.0) / max(items.total("mass_g").known, 1.0)
    cost = float(np.nan_to_num(money, nan=1.0) + np.nan_to_num(mass, nan=1.0))
    share = min(change.gain / change.before, 1.0) if change.before > 0.0 else 0.0
    return False, -share / (cost + FREE), change.what


def _measured(
    one: _Try,
    items: Items,
    journey: Journey,
    after: Journey,
    worst: Balance | None,
    then: Sequence[Balance],
) -> Change:
    """Say what a change did."""
    same = [b for b in then if worst is not None and _alike(b.demand.key, worst.demand.key)]
    left = max((b.short for b in same), default=0.0)
    new = worst_of(then)
    with_it, without = (listed.total("mass_g") for listed in (one.items, items))
    judged = len(with_it.unknown) <= len(without.unknown)  # what came in has a mass
    return Change(
        what=one.what,
        kind=one.kind,
        target="time on the way" if worst is None else worst.demand.label,
        unit=HOURS if worst is None else worst.demand.unit,
        before=journey.elapsed_h if worst is None else worst.short,
        after=after.elapsed_h if worst is None else left,
        price=one.price,
        mass_g=with_it.known - without.known if judged else np.nan,
        later_min=60.0 * (after.elapsed_h - journey.elapsed_h),
        new_worst="" if new is None else new.demand.label,
    )


def _alike(key: str, other: str) -> bool:
    """Whether two keys are the same demand; treatment has several."""
    return key == other or (key.startswith("treatment") and other.startswith("treatment"))


def _walk_again(scene: Scene, way: Way, one: _Try) -> Journey | None:
    """Walk with a change; nothing when it cannot be walked."""
    load = carried(one.items)
    changed = replace(scene, items=one.items, carried=load, walkers=walkers_of(scene.plan, load))
    try:
        if one.earlier_h:
            changed = _earlier(changed, one.earlier_h)
            way = find_way(changed)
        return journey_of(changed, walk_way(changed, one.way or way))
    except (InputError, NoWayHomeError):
        return None


def _earlier(scene: Scene, hours: float) -> Scene:
    """Set out earlier: light, weather and opening hours move along."""
    depart = scene.plan.trip.depart - timedelta(hours=hours)
    plan = scene.plan.model_copy(
        update={"trip": scene.plan.trip.model_copy(update={"depart": depart})}
    )
    epoch_s = scene.depart_epoch_s - 3600.0 * hours
    try:
        conditions = conditions_over(
            weather_of(plan, scene.zone),
            lat=0.5 * (scene.ends[0].lat + scene.ends[-1].lat),
            lon=0.5 * (scene.ends[0].lon + scene.ends[-1].lon),
            start_epoch_s=epoch_s,
            hours=LONGEST_WALK_H,
        )
    except ValueError:
        where = f"{plan.weather.file or 'weather'}"
        raise InputError(where, "the weather does not reach back that far") from None
    return replace(scene, plan=plan, depart_epoch_s=epoch_s, conditions=conditions)


def _tries(
    scene: Scene,
    way: Way,
    journey: Journey,
    items: Items,
    worst: Balance | None,
    goods: Catalogue,
) -> Iterator[_Try]:
    """Set out what to try, what is likely to help first."""
    if worst is not None:
        yield from _additions(items, worst, goods)
        yield from _swaps(items, worst, goods)
    yield from _keys_and_tablets(scene, journey, items, goods)
    yield _Try(f"leave {EARLIER_H:g} h earlier", "leave earlier", items, earlier_h=EARLIER_H)
    yield from _other_ways(scene, way, items)
    yield from _drops(items, worst)


def _bought(goods: Catalogue, row: int) -> Items:
    """One piece out of the catalogue."""
    return with_quantities(goods.items, np.arange(len(goods.items)) == row)


def _additions(items: Items, worst: Balance, goods: Catalogue) -> Iterator[_Try]:
    """Try the items that give most for their money against the worst shortage."""
    there = set(items.item)  # one more of what is there already is no news
    rows = [row for row in _helpful(worst, goods) if goods.items.item[row] not in there]
    yield from (_add(items, goods, row) for row in rows[:MOST_ADDED])


def _helpful(worst: Balance, goods: Catalogue) -> list[int]:
    """Rows of the catalogue that lessen a shortage, most for the money first."""
    given = np.minimum(supplies(goods.items, worst.demand.gives), worst.short)
    worth = given / np.maximum(np.nan_to_num(goods.items.price, nan=np.inf), 0.01)
    order = np.lexsort((goods.items.mass_g, -worth))
    return [row for row in order.tolist() if given[row] > 0.0]


def _swaps(items: Items, worst: Balance, goods: Catalogue) -> Iterator[_Try]:
    """Try a larger one in place of the least that serves the same end."""
    own = supplies(items, worst.demand.gives)
    rows = np.flatnonzero((own > 0.0) & (items.quantity > 0.0))
    if rows.size == 0:
        return
    least = int(rows[np.argmin(own[rows])])
    given = supplies(goods.items, worst.demand.gives)
    larger = [row for row in _helpful(worst, goods) if given[row] > own[least]]
    best = max(larger, key=lambda row: given[row] - own[least], default=None)
    if best is None:
        return
    fewer = items.quantity.copy()
    fewer[least] = max(fewer[least] - 1.0, 0.0)
    changed = joined(with_quantities(items, fewer), _bought(goods, best))
    what = f"swap {items.item[least]} for {goods.items.item[best]}"
    yield _Try(what, "swap", changed, float(goods.items.price[best]))


def _keys_and_tablets(
    scene: Scene, journey: Journey, items: Items, goods: Catalogue
) -> Iterator[_Try]:
    """Try what opens more water: treatment, and a key for taps."""
    cheap = np.argsort(goods.items.price, kind="stable").tolist()
    if journey.raw_h and scene.carried.treats_ml <= 0.0:
        rows = [row for row in cheap if goods.items.treats_ml[row] > 0.0]
        yield from (_add(items, goods, row) for row in rows[:1])
    if scene.places.needs_key.any() and not scene.carried.has_key:
        rows = [
            row
            for row in cheap
            if goods.items.purpose[row] == "tool" and TAP_KEY.search(goods.items.item[row])
        ]
        yield from (_add(items, goods, row) for row in rows[:1])


def _add(items: Items, goods: Catalogue, row: int) -> _Try:
    name = goods.items.item[row]
    price = float(goods.items.price[row])
    return _Try(f"add {name}", "add", joined(items, _bought(goods, row)), price)


def _other_ways(scene: Scene, way: Way, items: Items) -> Iterator[_Try]:
    """Try other ways home, the shortest first."""
    legs = prepare_legs(scene, street_times(scene))
    longest = int(np.argmax([leg.cost for leg in way.legs]))
    for other in alternatives(legs.trips[longest], scene.streets.length_m, count=2):
        changed = legs.with_leg(scene, longest, other.path)
        names = _streets(scene, changed)
        yield _Try(f"another way, by {names}", "other way", items, way=changed)


def _streets(scene: Scene, way: Way) -> str:
    """Name the longest streets of a way."""
    metres: dict[str, float] = {}
    for row, run in zip(way.course.way.tolist(), way.course.run_m.tolist(), strict=True):
        name = scene.streets.ways.name[row]
        if name:
            metres[name] = metres.get(name, 0.0) + run
    longest = sorted(metres, key=lambda name: (-metres[name], name))[:2]
    return " and ".join(longest) or "streets without a name"


def _drops(items: Items, worst: Balance | None) -> Iterator[_Try]:
    """Try without the heaviest comforts that do nothing against the worst shortage."""
    helps = np.zeros(len(items)) if worst is None else supplies(items, worst.demand.gives)
    comfort = np.array([tier == "comfort" for tier in items.tier], dtype=np.bool_)
    heavy = np.nan_to_num(items.mass_g * items.quantity)
    order = np.argsort(-heavy, kind="stable").tolist()
    for row in [row for row in order if comfort[row] and helps[row] <= 0.0][:MOST_DROPPED]:
        fewer = items.quantity.copy()
        fewer[row] = 0.0
        yield _Try(f"drop {items.item[row]}", "drop", with_quantities(items, fewer))
