"""Whether a list fits the person, the bag and the purse, and what is missing from it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from simulator.bag.items import TIERS, BagSum, Items, Storage, cautions, lit
from simulator.bag.programme import Goal, Rooms, best, unplaced
from simulator.units import G_PER_KG, ML_PER_L

SHARED: Mapping[str, bool] = {
    "shelter": False,
    "warmth": False,
    "water": False,
    "food": False,
    "first aid": True,
    "light": False,
    "signal": False,
    "power": True,
    "tool": True,
    "hygiene": True,
    "paper": True,
    "other": True,
}
"""True where one piece serves the whole party, by purpose; false where each walker needs one.
Common practice: who loses the others keeps a cover, water, food, light and a whistle; dressings,
treatment of water (counted in litres), tools, power and the map go round."""


def covering(items: Items, purpose: str) -> NDArray[np.bool_]:
    """Mark the items that cover a purpose."""
    marked = items.of(purpose)
    if purpose == "first aid":
        return marked & ~(items.is_a("foot care") & ~items.is_a("dressings"))
    if purpose == "light":
        return marked & lit(items)
    return marked | items.is_a("marker") if purpose == "signal" else marked


def pieces(purpose: str, walkers: int) -> int:
    """Give how many pieces of a purpose a party needs at least.

    Parameters
    ----------
    purpose : str
        A word of `simulator.bag.items.PURPOSES`.
    walkers : int
        How many walk, at least 1.

    Returns
    -------
    int
        1 for what is shared, otherwise one for each.

    Examples
    --------
    >>> pieces("first aid", 3), pieces("light", 3)
    (1, 3)
    """
    return 1 if SHARED[purpose] else walkers


BLISTER_FROM_KM: Final = 8.0
"""Distance from which untrained feet in everyday shoes want blister care [km]; common practice
puts the first hot spots at one to two hours of walking."""

PHONE_W: Final = 1.2
"""Power a telephone draws on the way, screen on for a look now and then, searching for weak
networks [W]; assumed."""

PHONE_LEFT_WH: Final = 6.0
"""Charge left in a telephone at the end of a working day [Wh]: two fifths of 15 Wh; assumed. One
telephone for the party is kept alive."""


@dataclass(frozen=True, slots=True)
class Cold:
    """A time at which the clothes worn are too thin.

    Attributes
    ----------
    key : str
        ``warmth_walking`` or ``warmth_halt``.
    at_h : float
        When it begins, hours after departure [h].
    more_clo : float
        Insulation that each walker needs beyond what is worn [clo]; nan where no model answers.
    note : str
        What it was reckoned from, in words.
    """

    key: str
    at_h: float
    more_clo: float
    note: str


@dataclass(frozen=True, slots=True, eq=False)
class Journey:
    """The party's walk as running totals; E instants, the first is the departure.

    Attributes
    ----------
    walkers : int
        How many walk.
    clock_h : numpy.ndarray
        Hours since departure, not decreasing, from 0 [h].
    lost_ml : numpy.ndarray
        Water lost by the party so far [ml].
    energy_kcal : numpy.ndarray
        Energy used by the party so far [kcal].
    unlit_h : numpy.ndarray
        Time on unlit ways in the dark so far [h].
    distance_km : numpy.ndarray
        Way made so far [km].
    safe_h : tuple of float
        When places are passed whose water needs no treatment and can be relied on [h].
    raw_h : tuple of float
        When places are passed whose water must be treated first [h].
    cold : tuple of Cold
        Times at which more warmth is wanted.
    store_kcal : float
        Energy that a walker's own body gives before lack of food is felt [kcal].
    people_per_lamp : int
        Walkers who see by the light of one lamp, as the plan says.
    """

    walkers: int
    clock_h: NDArray[np.float64]
    lost_ml: NDArray[np.float64]
    energy_kcal: NDArray[np.float64]
    unlit_h: NDArray[np.float64]
    distance_km: NDArray[np.float64]
    safe_h: tuple[float, ...]
    raw_h: tuple[float, ...]
    cold: tuple[Cold, ...]
    store_kcal: float
    people_per_lamp: int = 1

    @property
    def lamps(self) -> int:
        """Lamps that must shine at the same time for all to see."""
        return -(-self.walkers // self.people_per_lamp)

    @property
    def elapsed_h(self) -> float:
        """Departure to arrival [h]."""
        return float(self.clock_h[-1])


@dataclass(frozen=True, slots=True)
class Demand:
    """One thing that the walk asks of the bag.

    Attributes
    ----------
    key : str
        Name for programs, e.g. ``water_capacity``.
    label : str
        Name for people.
    unit : str
        Unit of `need`.
    gives : tuple of str
        What counts toward it: columns of the list, or ``blister_care``.
    need : float
        How much, for the whole party [`unit`]; nan is unknown.
    note : str
        What it rests on.
    """

    key: str
    label: str
    unit: str
    gives: tuple[str, ...]
    need: float
    note: str


def demands(journey: Journey, *, needed: Mapping[str, float] | None = None) -> tuple[Demand, ...]:
    """List what a walk asks of the bag, what stops a walker soonest first.

    Parameters
    ----------
    journey : Journey
        The walk.
    needed : mapping of str to float, optional
        Amounts by key that take the place of the walk's own, e.g. what nine walks of ten need.

    Returns
    -------
    tuple of Demand
        With a need of 0 where nothing is asked.

    Raises
    ------
    KeyError
        When `needed` names no demand.
    """
    found = tuple(_demands(journey))
    known = {demand.key for demand in found}
    unknown = [key for key in needed or {} if key not in known]
    if unknown:
        msg = f"no demand is called {unknown[0]!r}; allowed: {', '.join(sorted(known))}"
        raise KeyError(msg)
    return tuple(replace(one, need=(needed or {}).get(one.key, one.need)) for one in found)


def _demands(journey: Journey) -> Iterator[Demand]:
    """Work out each demand."""
    party = journey.walkers
    yield from _water_demands(journey)
    for cold in journey.cold:
        label = "warmth at a halt" if cold.key == "warmth_halt" else "warmth on foot"
        gives = "walking_clo" if cold.key == "warmth_walking" else "warmth_clo"
        yield Demand(cold.key, label, "clo", (gives,), party * cold.more_clo, cold.note)
    unlit_h = journey.lamps * float(journey.unlit_h[-1])
    each = (
        f"every {journey.people_per_lamp} walkers" if journey.people_per_lamp > 1 else "each walker"
    )
    note = f"a lamp for {each} on unlit ways in the dark"
    yield Demand("light", "light to see by", "h", ("light_h",), unlit_h, note)
    over_kcal = max(float(journey.energy_kcal[-1]) - party * journey.store_kcal, 0.0)
    note = f"what is used beyond {journey.store_kcal:.0f} kcal of a body's own (from memory)"
    yield Demand("energy", "food", "kcal", ("energy_kcal",), over_kcal, note)
    far = float(float(journey.distance_km[-1]) >= BLISTER_FROM_KM)
    note = f"one pack for the party from {BLISTER_FROM_KM:g} km on (common practice)"
    yield Demand("blister_care", "blister care", "packs", ("blister_care",), far, note)
    used_wh = max(PHONE_W * journey.elapsed_h - PHONE_LEFT_WH, 0.0)
    note = f"{PHONE_W:g} W for one phone that starts with {PHONE_LEFT_WH:g} Wh (assumed)"
    yield Demand("phone_power", "power for a phone", "Wh", ("power_wh",), used_wh, note)


def _water_demands(journey: Journey) -> Iterator[Demand]:
    """Work out what bottles and treatment must do."""
    water = water_stretches(journey)
    relied = f"{len(journey.safe_h)} safe and {len(journey.raw_h)} raw water places relied on"
    note = f"lasts to the first water; {relied}"
    yield Demand("water_start", "water at the start", "ml", ("water_ml",), water.first_ml, note)
    note = f"bottles filled at every water place; {relied}"
    yield Demand("water_capacity", "room for water", "ml", ("holds_ml",), water.longest_ml, note)
    label, note = "treatment or larger bottles", "where raw water lies between safe places"
    for number, (first, later, need_ml) in enumerate(water.mixed):
        key = f"treatment_{number}" if number else "treatment"
        gives = ("treats_ml", *("water_ml",) * first, *("holds_ml",) * later)
        yield Demand(key, label, "ml", gives, need_ml, note)


@dataclass(frozen=True, slots=True)
class Stretches:
    """Water lost between the places that give it.

    Attributes
    ----------
    first_ml : float
        Up to the first place of any kind, or home [ml].
    longest_ml : float
        Between two places of any kind, or the last and home: the most [ml].
    mixed : tuple of (int, int, float)
        For sets of stretches between safe places that have raw water on them: whether the one
        from the start is among them, how many others, and their loss together [ml].
    """

    first_ml: float
    longest_ml: float
    mixed: tuple[tuple[int, int, float], ...]


def water_stretches(journey: Journey) -> Stretches:
    """Measure the stretches between water places."""
    home_h = journey.elapsed_h
    everywhere = sorted({*journey.safe_h, *journey.raw_h})
    losses = _losses(journey, [0.0, *everywhere, home_h])
    safe = [0.0, *sorted(set(journey.safe_h)), home_h]
    raw = [
        loss if any(begin <= at <= end for at in journey.raw_h) else 0.0
        for begin, end, loss in zip(safe[:-1], safe[1:], _losses(journey, safe), strict=True)
    ]
    later = sorted((loss for loss in raw[1:] if loss > 0.0), reverse=True)
    mixed = [
        (first, count, first * raw[0] + sum(later[:count]))
        for first in ((0, 1) if raw[0] > 0.0 else (0,))
        for count in range(len(later) + 1)
        if first or count
    ]
    return Stretches(losses[0], max(losses[1:], default=0.0), tuple(mixed))


def _losses(journey: Journey, edges: Sequence[float]) -> list[float]:
    """Water lost between instants [ml]."""
    return np.diff(np.interp(edges, journey.clock_h, journey.lost_ml)).tolist()


WATER_MARGIN_ML: Final = 1.0
"""Shortages of water smaller than this are rounding [ml]."""


@dataclass(frozen=True, slots=True)
class Balance:
    """A demand and what the list has for it.

    Attributes
    ----------
    demand : Demand
        What is asked.
    have : float
        What the list gives [unit of the demand]; a lower bound when anything is unknown.
    unknown : tuple of str
        Items whose empty cell leaves `have` open.
    begins_h : float
        Hours after departure from which it falls short [h]; nan when it does not.
    """

    demand: Demand
    have: float
    unknown: tuple[str, ...]
    begins_h: float

    @property
    def short(self) -> float:
        """What is missing [unit of the demand]; nan where the need is unknown."""
        lacks = float(np.maximum(self.demand.need - self.have, 0.0))
        return lacks if np.isfinite(self.begins_h) or np.isnan(lacks) else 0.0

    @property
    def share(self) -> float:
        """What is missing over what is needed, 0 to 1; nan where the need is unknown."""
        return self.short / self.demand.need if self.demand.need > 0.0 else self.short


def supplies(items: Items, gives: Sequence[str]) -> NDArray[np.float64]:
    """Give what one piece of each item counts toward a demand.

    Parameters
    ----------
    items : Items
        The list.
    gives : sequence of str
        As `Demand.gives`; a name that stands twice counts twice.

    Returns
    -------
    numpy.ndarray
        In the demand's unit, float64 (K); unknown cells count as nothing.
    """
    given = np.zeros(len(items))
    for name in gives:
        if name == "blister_care":
            given += items.is_a("foot care")
        elif name == "light_h":
            given += np.nan_to_num(items.seeing_h)
        elif name == "power_wh":
            given += np.nan_to_num(items.phone_wh)
        elif name == "walking_clo":
            given += np.nan_to_num(items.walking_clo)
        elif name == "holds_ml":
            given += np.nan_to_num(
                np.where(np.isnan(items.holds_ml), items.water_ml, items.holds_ml)
            )
        else:
            given += np.nan_to_num(getattr(items, name))
    return given


def filled_more_ml(items: Items) -> NDArray[np.float64]:
    """Give the water by which a piece grows when it is filled on the way."""
    holds = np.where(np.isnan(items.holds_ml), items.water_ml, items.holds_ml)
    soft = items.volume_ml < holds
    return np.nan_to_num(np.where(soft, holds - np.nan_to_num(items.water_ml), 0.0))


def filled_room_ml(items: Items) -> NDArray[np.float64]:
    """Give the room that a piece takes filled: never less than the water in it."""
    packed = np.where(np.isnan(items.volume_ml), np.nan, np.fmax(items.volume_ml, items.water_ml))
    more = filled_more_ml(items)
    return np.where(more > 0.0, packed + more, items.volume_ml)


def against(
    items: Items, journey: Journey, *, needed: Mapping[str, float] | None = None
) -> tuple[Balance, ...]:
    """Hold a list against a walk.

    Parameters
    ----------
    items : Items
        The list.
    journey : Journey
        The walk.
    needed : mapping of str to float, optional
        As for `demands`.

    Returns
    -------
    tuple of Balance
        One for each demand, in its order; of the sets of stretches with raw water only the one
        that lacks most.
    """
    found = []
    for demand in demands(journey, needed=needed):
        have = float(supplies(items, demand.gives) @ items.quantity)
        unknown = [name for gives in dict.fromkeys(demand.gives) for name in _open(items, gives)]
        begins = _begins_h(demand, have, items, journey) if _falls_short(demand, have) else np.nan
        found.append(Balance(demand, have, tuple(dict.fromkeys(unknown)), begins))
    mixed = [one for one in found if one.demand.key.startswith("treatment")]
    worst = max(mixed, key=lambda one: one.short, default=None)
    return tuple(one for one in found if one not in mixed or one is worst)


def _open(items: Items, gives: str) -> tuple[str, ...]:
    """Name the items whose empty cell leaves open how much of it there is."""
    if gives == "walking_clo":
        return items.total("warmth_clo", where=~items.is_a("wrap") & (items.quantity > 0)).unknown
    return () if gives == "blister_care" else items.total(gives).unknown


def _falls_short(demand: Demand, have: float) -> bool:
    """Say whether a demand is not met; rounding does not count."""
    return demand.need - have > (WATER_MARGIN_ML if demand.unit == "ml" else 1e-9)


def _begins_h(demand: Demand, have: float, items: Items, journey: Journey) -> float:
    """Find from when on a demand that is not met is felt [h]."""
    if demand.key.startswith("warmth"):
        return next(cold.at_h for cold in journey.cold if cold.key == demand.key)
    if demand.key.startswith("treatment"):
        return _untreated_h(journey, items)
    begins = _BEGINS[demand.key](journey, have)
    return min(begins, journey.elapsed_h)


def _crossing_h(clock_h: NDArray[np.float64], total: NDArray[np.float64], level: float) -> float:
    """Find when a running total first exceeds a level, or the end [h]."""
    past = np.flatnonzero(total > level)
    if past.size == 0:
        return float(clock_h[-1])
    after = int(past[0])
    if after == 0:
        return float(clock_h[0])
    before = after - 1
    share = (level - total[before]) / (total[after] - total[before])
    return float(clock_h[before] + max(share, 0.0) * (clock_h[after] - clock_h[before]))


def _dry_h(journey: Journey, places_h: Sequence[float], holds_ml: float) -> float:
    """Find when bottles filled at each place first run dry before the next [h]."""
    edges = [*places_h, journey.elapsed_h]
    for begin, end in pairwise(edges):
        filled, needed = np.interp([begin, end], journey.clock_h, journey.lost_ml)
        if needed - filled > holds_ml + WATER_MARGIN_ML:
            return _crossing_h(journey.clock_h, journey.lost_ml, float(filled) + holds_ml)
    return journey.elapsed_h


def _untreated_h(journey: Journey, items: Items) -> float:
    """Find when the water runs out where raw water lies but cannot be treated any more [h]."""
    starts_ml, holds_ml, left_ml = (
        float(supplies(items, (name,)) @ items.quantity)
        for name in ("water_ml", "holds_ml", "treats_ml")
    )
    safe = [0.0, *sorted(set(journey.safe_h)), journey.elapsed_h]
    for number, (begin, end) in enumerate(pairwise(safe)):
        bottle_ml = holds_ml if number else starts_ml
        filled, needed = np.interp([begin, end], journey.clock_h, journey.lost_ml)
        if not any(begin <= at <= end for at in journey.raw_h):
            continue
        missing_ml = max(float(needed - filled) - bottle_ml, 0.0)
        if missing_ml > left_ml + WATER_MARGIN_ML:
            return _crossing_h(
                journey.clock_h, journey.lost_ml, float(filled) + bottle_ml + left_ml
            )
        left_ml -= missing_ml
    return journey.elapsed_h


_BEGINS: Mapping[str, Callable[[Journey, float], float]] = {
    "water_start": lambda journey, have: _crossing_h(journey.clock_h, journey.lost_ml, have),
    "water_capacity": lambda journey, have: _dry_h(
        journey, sorted({*journey.safe_h, *journey.raw_h}), have
    ),
    "light": lambda journey, have: _crossing_h(
        journey.clock_h, journey.lamps * journey.unlit_h, have
    ),
    "energy": lambda journey, have: _crossing_h(
        journey.clock_h, journey.energy_kcal, journey.walkers * journey.store_kcal + have
    ),
    "blister_care": lambda journey, _have: _crossing_h(
        journey.clock_h, journey.distance_km, BLISTER_FROM_KM
    ),
    "phone_power": lambda _journey, have: (PHONE_LEFT_WH + have) / PHONE_W,
}
"""When each demand that is not met is first felt [h], by key."""


PACKING_ALLOWANCE = 0.85
"""Share of a bag's stated volume that stiff, odd-shaped things fill (assumed; a soft kit packs
better, boxes worse)."""

NEEDED_PURPOSES = (
    "shelter",
    "water",
    "food",
    "first aid",
    "light",
    "signal",
    "warmth",
    "power",
    "tool",
    "hygiene",
    "paper",
)
"""What a bag should hold, the first four first; order of common practice: what kills or stops a
walker soonest leads."""

FIRST_NEEDS = 4
"""How many of `NEEDED_PURPOSES` come before all others."""

EASY_LOAD_SHARE = 0.10
"""Load over body mass up to which nobody need think of it; guidance for everyday bags, 10 to
20 % for adults and 10 to 15 % for children (from memory)."""

HEAVY_LOAD_SHARE = 0.20
"""Load over body mass above which an untrained person should leave things out (from memory)."""

SOON_DAYS = 90
"""An item that expires within this many days is named (common practice: four looks a year)."""


@dataclass(frozen=True, slots=True)
class Dated:
    """An item with its last good day.

    Attributes
    ----------
    item : str
        Name.
    expires : date
        Last good day.
    """

    item: str
    expires: date


@dataclass(frozen=True, slots=True)
class Fit:
    """How a list suits a person, a bag and a budget. Nan where it cannot be known.

    Attributes
    ----------
    mass : BagSum
        Mass as packed [g].
    mass_share : float
        Known mass over body mass [1]; a lower bound when `mass` has unknowns.
    load : str
        ``easy``, ``noticeable`` or ``heavy`` by `mass_share`; ``unknown``.
    volume : BagSum
        Room taken as packed [ml].
    usable_ml : float
        Room in the bag after the packing allowance [ml].
    volume_left_ml : float
        `usable_ml` less the known volume, flasks filled [ml]; negative when it does not fit, an
        upper bound
        when `volume` has unknowns.
    filled : tuple of (str, int)
        Flasks and pieces that the walk relies on; they count with their filled volume.
    too_large : tuple of str
        Items that find no room, compartment by compartment, however they are packed.
    price : BagSum
        Price [currency of the list].
    price_by : mapping of (str, str) to BagSum
        Price by tier and purpose [currency of the list]; only pairs that occur.
    price_by_tier : mapping of str to BagSum
        Price by tier [currency of the list].
    budget_left : float
        Budget less the known price [currency of the list]; negative when over.
    covered : tuple of str
        Needed purposes that the list has something for, most urgent first.
    missing : tuple of str
        Needed purposes without anything, most urgent first.
    missing_first : tuple of str
        Those of `missing` that come before all others.
    too_few : tuple of str
        Purposes of `covered` with fewer pieces than walkers who need one each.
    duplicates : tuple of str
        Names that stand on more than one line.
    expired : tuple of Dated
        Items past their last good day, oldest first.
    expiring : tuple of Dated
        Items whose last good day is near, soonest first.
    cautions : tuple of str
        What to mind, one sentence each.
    """

    mass: BagSum
    mass_share: float
    load: str
    volume: BagSum
    usable_ml: float
    volume_left_ml: float
    filled: tuple[tuple[str, int], ...]
    too_large: tuple[str, ...]
    price: BagSum
    price_by: Mapping[tuple[str, str], BagSum]
    price_by_tier: Mapping[str, BagSum]
    budget_left: float
    covered: tuple[str, ...]
    missing: tuple[str, ...]
    missing_first: tuple[str, ...]
    too_few: tuple[str, ...]
    duplicates: tuple[str, ...]
    expired: tuple[Dated, ...]
    expiring: tuple[Dated, ...]
    cautions: tuple[str, ...]


def fit(
    items: Items,
    *,
    on: date,
    body_mass_kg: float,
    capacity_l: float | None = None,
    pockets_l: Sequence[float] = (),
    budget: float | None = None,
    packing_allowance: float = PACKING_ALLOWANCE,
    soon_days: int = SOON_DAYS,
    stored: Storage = "carried",
    walkers: int = 1,
    filled: NDArray[np.int64] | None = None,
) -> Fit:
    """Check a list against a person, a bag and a budget.

    Parameters
    ----------
    items : Items
        The list.
    on : date
        Day to judge expiry at.
    body_mass_kg : float
        Body mass of the person who carries it [kg], above zero.
    capacity_l : float, optional
        Stated volume of the bag, pockets included [l]; unknown when left out.
    pockets_l : sequence of float
        Stated volumes of its pockets [l]; the rest is the main compartment.
    budget : float, optional
        Money for the bag [currency of the list].
    packing_allowance : float
        Share of the stated volume that can be filled, in (0, 1].
    soon_days : int
        How near a last good day must be to be named [days].
    stored : {"carried", "office", "car"}
        Where the bag waits for the day.
    walkers : int
        How many the list is for.
    filled : numpy.ndarray, optional
        Pieces of each item that the walk relies on filled, int64 (K); see `flasks_filled`.

    Returns
    -------
    Fit
        The findings.

    Raises
    ------
    ValueError
        When a number is outside its range, or the pockets exceed the bag.
    """
    if not body_mass_kg > 0:
        msg = f"`body_mass_kg` must be above 0, found {body_mass_kg!r}"
        raise ValueError(msg)
    if not 0 < packing_allowance <= 1:
        msg = f"`packing_allowance` must be in (0, 1], found {packing_allowance!r}"
        raise ValueError(msg)
    mass, volume, price = (items.total(name) for name in ("mass_g", "volume_ml", "price"))
    usable_ml = np.nan if capacity_l is None else capacity_l * ML_PER_L * packing_allowance
    share = mass.known / G_PER_KG / body_mass_kg
    covered = tuple(name for name in NEEDED_PURPOSES if covering(items, name).any())
    missing = tuple(name for name in NEEDED_PURPOSES if name not in covered)
    rooms = compartments_ml(capacity_l, pockets_l, packing_allowance, bags=walkers)
    expired, expiring = _dates(items, on, timedelta(days=soon_days))
    grown_ml = 0.0 if filled is None else float(filled_more_ml(items) @ filled)
    return Fit(
        mass=mass,
        mass_share=share,
        load=_load(share, known=not mass.unknown),
        volume=volume,
        usable_ml=usable_ml,
        volume_left_ml=usable_ml - volume.known - grown_ml,
        filled=()
        if filled is None
        else tuple((items.item[row], int(filled[row])) for row in np.flatnonzero(filled)),
        too_large=_too_large(items, rooms, filled),
        price=price,
        price_by=_price_by(items),
        price_by_tier={tier: items.total("price", where=_tier(items, tier)) for tier in TIERS},
        budget_left=np.nan if budget is None else budget - price.known,
        covered=covered,
        missing=missing,
        missing_first=tuple(name for name in NEEDED_PURPOSES[:FIRST_NEEDS] if name in missing),
        too_few=tuple(
            name
            for name in covered
            if items.quantity[covering(items, name)].sum() < pieces(name, walkers)
        ),
        duplicates=_duplicates(items),
        expired=expired,
        expiring=expiring,
        cautions=cautions(items, stored=stored),
    )


def _load(share: float, *, known: bool) -> str:
    """Name a load by its share of body mass; a heavy lower bound is heavy all the same."""
    if share > HEAVY_LOAD_SHARE:
        return "heavy"
    if not known:
        return "unknown"
    return "easy" if share <= EASY_LOAD_SHARE else "noticeable"


def _tier(items: Items, tier: str) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Mark the items of a tier."""
    return np.array([name == tier for name in items.tier], dtype=np.bool_)


def _price_by(items: Items) -> dict[tuple[str, str], BagSum]:
    """Sum prices by tier and purpose, pairs in the order of `TIERS` and the list."""
    pairs = sorted(set(zip(items.tier, items.purpose, strict=True)))
    return {
        (tier, purpose): items.total("price", where=_tier(items, tier) & items.of(purpose))
        for tier, purpose in pairs
    }


def _duplicates(items: Items) -> tuple[str, ...]:
    """Find names on more than one line, spelling of capitals and spaces apart."""
    plain = [" ".join(name.casefold().split()) for name in items.item]
    counts = Counter(plain)
    firsts = dict(zip(reversed(plain), reversed(items.item), strict=True))
    return tuple(firsts[name] for name in dict.fromkeys(plain) if counts[name] > 1)


def _dates(items: Items, on: date, soon: timedelta) -> tuple[tuple[Dated, ...], tuple[Dated, ...]]:
    """Find what is past its last good day, and what soon will be."""
    dated = [
        Dated(name, day)
        for name, day, pieces in zip(items.item, items.expires, items.quantity, strict=True)
        if day is not None and pieces > 0
    ]
    dated.sort(key=lambda entry: (entry.expires, entry.item))
    expired = tuple(entry for entry in dated if entry.expires < on)
    expiring = tuple(entry for entry in dated if on <= entry.expires <= on + soon)
    return expired, expiring


def compartments_ml(
    capacity_l: float | None, pockets_l: Sequence[float], allowance: float, *, bags: int = 1
) -> list[float]:
    """Give the usable room of each main compartment and of each pocket [ml].

    Parameters
    ----------
    capacity_l : float or None
        Stated volume of all bags, pockets included [l]; unknown gives no compartments.
    pockets_l : sequence of float
        Stated volumes of all their pockets [l].
    allowance : float
        Share of the stated volume that can be filled.
    bags : int
        How many bags alike these are.

    Returns
    -------
    list of float
        The main compartments first.

    Raises
    ------
    ValueError
        When the pockets exceed the bags.
    """
    if capacity_l is None:
        return []
    main_l = capacity_l - sum(pockets_l)
    if capacity_l <= 0 or min(pockets_l, default=0.0) < 0 or main_l < 0:
        msg = f"`pockets_l` {list(pockets_l)} must be part of `capacity_l` {capacity_l}, above 0"
        raise ValueError(msg)
    return [room * ML_PER_L * allowance for room in (*[main_l / bags] * bags, *pockets_l)]


def _too_large(
    items: Items, room_ml: Sequence[float], filled: NDArray[np.int64] | None
) -> tuple[str, ...]:
    """Name what finds no compartment when as many pieces as can be do."""
    if not room_ml or len(items) == 0:
        return ()
    rooms = Rooms(items.volume_ml, np.array(room_ml))
    counts = np.ceil(items.quantity).astype(np.int64)
    if filled is not None and filled.any():
        sizes = np.concatenate([items.volume_ml, filled_room_ml(items)])
        rooms, counts = Rooms(sizes, rooms.room_ml), np.concatenate([counts - filled, filled])
    left = unplaced(rooms, counts).reshape(-1, len(items)).sum(axis=0)
    return tuple(dict.fromkeys(items.item[row] for row in np.flatnonzero(left)))


def flasks_filled(items: Items, need_ml: float) -> NDArray[np.int64]:
    """Say which flasks must be filled on the way for the list to hold enough water.

    Parameters
    ----------
    items : Items
        The list.
    need_ml : float
        Most water that is carried between two places that give it [ml]; nan needs nothing.

    Returns
    -------
    numpy.ndarray
        Pieces to fill, those that take the least room, all when there is not enough, int64 (K).
    """
    more_ml = filled_more_ml(items)
    holds = np.where(np.isnan(items.holds_ml), items.water_ml, items.holds_ml)
    stiff = np.where(more_ml > 0.0, np.nan_to_num(items.water_ml), np.nan_to_num(holds))
    lacks = need_ml - float(stiff @ items.quantity)
    pieces = np.where(more_ml > 0.0, np.ceil(items.quantity), 0.0).astype(np.int64)
    if not lacks > 0.0 or not pieces.any():
        return np.zeros(len(items), dtype=np.int64)
    goals = [Goal("room for water", more_ml, "at least", lacks), Goal("room", more_ml, "least")]
    return best(pieces, (), goals)
