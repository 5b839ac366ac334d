"""Whether a list fits the person, the bag and the purse, and what is missing from it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from simulator.bag.cautions import Storage, cautions
from simulator.bag.columns import TIERS
from simulator.bag.items import Items, Total
from simulator.bag.sharing import covering, pieces

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

G_PER_KG = 1000.0
ML_PER_L = 1000.0


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
    mass : Total
        Mass as packed [g].
    mass_share : float
        Known mass over body mass [1]; a lower bound when `mass` has unknowns.
    load : str
        ``easy``, ``noticeable`` or ``heavy`` by `mass_share`; ``unknown``.
    volume : Total
        Room taken [ml].
    usable_ml : float
        Room in the bag after the packing allowance [ml].
    volume_left_ml : float
        `usable_ml` less the known volume [ml]; negative when it does not fit, an upper bound
        when `volume` has unknowns.
    too_large : tuple of str
        Items that find no room, compartment by compartment, the largest placed first; a cleverer
        packing may exist.
    price : Total
        Price [currency of the list].
    price_by : mapping of (str, str) to Total
        Price by tier and purpose [currency of the list]; only pairs that occur.
    price_by_tier : mapping of str to Total
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

    mass: Total
    mass_share: float
    load: str
    volume: Total
    usable_ml: float
    volume_left_ml: float
    too_large: tuple[str, ...]
    price: Total
    price_by: Mapping[tuple[str, str], Total]
    price_by_tier: Mapping[str, Total]
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
    rooms = _compartments_ml(capacity_l, pockets_l, packing_allowance)
    expired, expiring = _dates(items, on, timedelta(days=soon_days))
    return Fit(
        mass=mass,
        mass_share=share,
        load=_load(share, known=not mass.unknown),
        volume=volume,
        usable_ml=usable_ml,
        volume_left_ml=usable_ml - volume.known,
        too_large=_too_large(items, rooms),
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


def _price_by(items: Items) -> dict[tuple[str, str], Total]:
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


def _compartments_ml(
    capacity_l: float | None, pockets_l: Sequence[float], allowance: float
) -> list[float]:
    """Give the usable room of the main compartment and of each pocket [ml]."""
    if capacity_l is None:
        return []
    main_l = capacity_l - sum(pockets_l)
    if capacity_l <= 0 or min(pockets_l, default=0.0) < 0 or main_l < 0:
        msg = f"`pockets_l` {list(pockets_l)} must be part of `capacity_l` {capacity_l}, above 0"
        raise ValueError(msg)
    return [room * ML_PER_L * allowance for room in (main_l, *pockets_l)]


def _too_large(items: Items, rooms_ml: list[float]) -> tuple[str, ...]:
    """Place pieces, largest first, where least room is left; name those that find none."""
    if not rooms_ml:
        return ()
    left = sorted(rooms_ml)
    outside: dict[str, None] = {}
    for row in np.argsort(-items.volume_ml, kind="stable"):
        size = items.volume_ml[row]
        if np.isnan(size):
            continue
        for _ in range(int(np.ceil(items.quantity[row]))):
            place = next((i for i, room in enumerate(left) if room >= size), None)
            if place is None:
                outside[items.item[row]] = None
                break
            left[place] -= size
            left.sort()
    return tuple(outside)
