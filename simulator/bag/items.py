"""The list of what is carried: bag.csv in, columns and sums out, and what to mind about items.

For cautions kinds and English words in an item's name tell; each item has a column for the person's
own. Nothing here advises to carry a weapon.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simulator.bag.kinds import JOINT, KINDS, guessed_kind
from simulator.errors import InputError, gathered
from simulator.files import LARGEST_TEXT_BYTES, csv_text, read_bytes
from simulator.spreadsheet import (
    CellKind,
    Column,
    Table,
    decoded,
    place_of,
    read_table,
    told_together,
)

if TYPE_CHECKING:
    import pandas as pd

PURPOSES = (
    "shelter",
    "warmth",
    "water",
    "food",
    "first aid",
    "light",
    "signal",
    "power",
    "tool",
    "hygiene",
    "paper",
    "other",
)
"""What an item is for."""

TIERS = ("basic", "comfort")
"""Whether an item is needed, or nice to have."""

NUMBERS: Mapping[str, float] = {
    "quantity": 1_000,
    "mass_g": 50_000,
    "volume_ml": 200_000,
    "price": 10_000_000,
    "water_ml": 30_000,
    "holds_ml": 30_000,
    "treats_ml": 10_000_000,
    "energy_kcal": 50_000,
    "light_h": 10_000,
    "warmth_clo": 10,
    "power_wh": 2_000,
}
"""Columns of numbers with the most that one piece may have; assumed, to catch wrong units."""

REQUIRED = ("item", "purpose", "tier", "quantity")
"""Columns and cells that may not be missing or empty."""

COLUMNS = (
    "item", "purpose", "kind", "tier", "quantity", "mass_g", "volume_ml", "price", "expires",
    "water_ml", "holds_ml", "treats_ml", "energy_kcal", "light_h", "warmth_clo", "power_wh", "fits",
    "caution",
)  # fmt: skip
"""Every column, in the order of the file; all but those of `REQUIRED` may be left out."""

UNITS: Mapping[str, str] = {
    "quantity": "pieces",
    "mass_g": "g",
    "volume_ml": "ml",
    "water_ml": "ml",
    "holds_ml": "ml",
    "treats_ml": "ml",
    "energy_kcal": "kcal",
    "light_h": "h",
    "warmth_clo": "clo",
    "power_wh": "Wh",
    "lasts_months": "months",
    "mass_low_g": "g",
    "mass_high_g": "g",
}
"""Units of the columns of numbers; others stand without one."""

ALSO_CALLED: Mapping[str, tuple[str, ...]] = {
    "item": ("name", "thing", "article"),
    "quantity": ("pieces", "count", "qty"),
    "mass_g": ("weight",),
    "price": ("cost",),
    "expires": ("expiry", "expiry_date", "best_before", "use_by", "good_until"),
    "caution": ("note", "notes", "remark", "remarks", "cautions"),
}
"""Other names that people give to columns."""


def _columns(also: Mapping[str, float]) -> tuple[Column, ...]:
    """Say what may stand in each column."""
    words = {"purpose": PURPOSES, "kind": tuple(KINDS), "tier": TIERS}
    numbers = {**NUMBERS, **also}

    def column(name: str) -> Column:
        kind: CellKind = "number" if name in numbers else "word" if name in words else "text"
        return Column(
            name,
            kind="day" if name == "expires" else kind,
            unit=UNITS.get(name, ""),
            high=numbers.get(name, math.inf),
            words=words.get(name, ()),
            several=name == "kind",
            needed=name in REQUIRED,
            money=name.startswith("price"),
            also=ALSO_CALLED.get(name, ()),
        )

    return tuple(column(name) for name in (*COLUMNS, *also))


WATER_G_PER_ML = 1.0
"""Density of water [g/ml], to catch a mass that leaves out the contents."""

MASS_TOLERANCE = 0.95
"""Share of its water's mass that an item must have at least; allows for rounding."""


def list_table(text: str, source: str, *, also: Mapping[str, float] | None = None) -> Table:
    """Take a list apart, whatever its faults; `also` are further columns of numbers."""
    return read_table(text, source, _columns(also or {}), totals=True)


def read_rows(
    text: str, source: str, *, also: Mapping[str, float] | None = None
) -> tuple[list[dict[str, object]], tuple[str, ...]]:
    """Read and check every cell of a list; also what was read otherwise than by the letter."""
    table = list_table(text, source, also=also)
    faults = table.all_faults()
    for row in table.rows:
        if not row.faults:
            where = place_of(source, row.line, "mass_g")
            faults += [(where, problem) for problem in _too_light(row.cells)]
            where = place_of(source, row.line, "quantity")
            faults += [(where, problem) for problem in _in_parts(row.cells)]
    if faults:
        raise told_together(faults, source)
    return [dict(row.cells) for row in table.rows], table.notes


def _too_light(row: Mapping[str, object]) -> Iterator[str]:
    """Find an item that weighs less than the water in it."""
    mass, water = row.get("mass_g"), row.get("water_ml")
    if not isinstance(mass, float) or not isinstance(water, float):
        return
    least = water * WATER_G_PER_ML
    if mass < least * MASS_TOLERANCE:
        yield (
            f"found {mass:g} g for an item with {water:g} ml of water, which alone is {least:g} g; "
            "write the mass as packed, water included"
        )


DIVISIBLE = frozenset({"food"})
"""Purposes of which a part of a piece does a part of the work: half a bar, but not half a lamp."""


def _in_parts(row: Mapping[str, object]) -> Iterator[str]:
    """Find a part of a piece where only whole ones are of use."""
    pieces, purpose = row.get("quantity"), row.get("purpose")
    if isinstance(pieces, float) and not pieces.is_integer() and purpose not in DIVISIBLE:
        yield (
            f"found {pieces:g} pieces of something for {purpose}; write whole pieces, such "
            f"as {math.floor(pieces)} or {math.ceil(pieces)}, and sizes for one of them: only food "
            "is of use by the part"
        )


KIND_MATTERS = frozenset({"shelter", "light", "first aid", "power"})
"""Purposes in which the answers hang on the kind: dry or not, to see by or to be seen by, wounds or
feet, with a cable or without."""

DEPENDS_ON: Mapping[str, frozenset[str]] = {
    "mass_g": frozenset(),
    "volume_ml": frozenset(),
    "price": frozenset(),
    "water_ml": frozenset({"water"}),
    "holds_ml": frozenset({"water"}),
    "treats_ml": frozenset({"water"}),
    "energy_kcal": frozenset({"food"}),
    "light_h": frozenset({"light"}),
    "warmth_clo": frozenset({"warmth"}),
    "power_wh": frozenset({"power"}),
}
"""Purposes whose empty cells make a column's sum uncertain; an empty set means every item.
A whistle without `energy_kcal` says nothing about food, a biscuit without it does."""

NO_COLUMNS = frozenset({"source", "notes"})
"""What a list knows beside its columns."""

WATER_COLUMNS = ("water_ml", "holds_ml", "treats_ml")
"""An item for water fills at least one of these; the others then are nothing, not unknown."""


@dataclass(frozen=True, slots=True)
class BagSum:
    """A sum over the list, and what is missing from it.

    Attributes
    ----------
    known : float
        Sum of the known cells times their quantities, in the column's unit; a lower bound when
        anything is unknown.
    unknown : tuple of str
        Items whose cell is empty although the sum depends on it.
    """

    known: float
    unknown: tuple[str, ...]

    @property
    def unknown_count(self) -> int:
        """Number of items missing from the sum."""
        return len(self.unknown)


@dataclass(frozen=True, slots=True, eq=False)
class Items:
    """The list, one row an item. Numbers are for one piece; a sum multiplies by `quantity`.

    Attributes
    ----------
    item : tuple of str
        Name, as written.
    purpose, tier : tuple of str
        Words of `PURPOSES` and `TIERS` in `simulator.bag.items`.
    kind : tuple of str
        Words of `simulator.bag.kinds.KINDS`, several joined by `` + ``; empty is none known.
    quantity : numpy.ndarray
        Pieces, float64 (K).
    mass_g : numpy.ndarray
        Mass as packed, contents included [g], float64 (K); nan is unknown, here and below.
    volume_ml : numpy.ndarray
        Room it takes in the bag [ml].
    price : numpy.ndarray
        Price [currency of the list].
    expires : tuple of date or None
        Last good day; None is unknown or never.
    water_ml : numpy.ndarray
        Water in it at the start [ml].
    holds_ml : numpy.ndarray
        Most water it can be filled with again [ml]; unknown counts as `water_ml`.
    treats_ml : numpy.ndarray
        Water it makes safe before it is used up [ml].
    energy_kcal : numpy.ndarray
        Food energy [kcal].
    light_h : numpy.ndarray
        Hours of light to walk by [h].
    warmth_clo : numpy.ndarray
        Insulation when worn or wrapped round [clo].
    power_wh : numpy.ndarray
        Electric energy it can give [Wh].
    fits : tuple of str
        What must be the same on things that work together only where they fit: lamp and cells,
        power bank and cable (``AAA``, ``USB-C``); empty fits anything.
    caution : tuple of str
        The person's own note, as text.
    source : str
        Where the list came from, for messages.
    notes : tuple of str
        What had to be guessed in reading it.
    """

    item: tuple[str, ...]
    purpose: tuple[str, ...]
    kind: tuple[str, ...]
    tier: tuple[str, ...]
    quantity: NDArray[np.float64]
    mass_g: NDArray[np.float64]
    volume_ml: NDArray[np.float64]
    price: NDArray[np.float64]
    expires: tuple[date | None, ...]
    water_ml: NDArray[np.float64]
    holds_ml: NDArray[np.float64]
    treats_ml: NDArray[np.float64]
    energy_kcal: NDArray[np.float64]
    light_h: NDArray[np.float64]
    warmth_clo: NDArray[np.float64]
    power_wh: NDArray[np.float64]
    fits: tuple[str, ...]
    caution: tuple[str, ...]
    source: str = ""
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.item)

    @property
    def table(self) -> pd.DataFrame:
        """The list as a table, columns as in bag.csv."""
        import pandas as pd

        names = [field.name for field in fields(self) if field.name not in NO_COLUMNS]
        return pd.DataFrame({name: getattr(self, name) for name in names})

    def of(self, *purposes: str) -> NDArray[np.bool_]:
        """Mark the items of some purposes.

        Parameters
        ----------
        *purposes : str
            Words of `PURPOSES`.

        Returns
        -------
        numpy.ndarray
            True where the item has one of them and at least one piece is there, bool (K).
        """
        named = np.array([purpose in purposes for purpose in self.purpose], dtype=np.bool_)
        return named & (self.quantity > 0)

    def is_a(self, *kinds: str) -> NDArray[np.bool_]:
        """Mark the items of some kinds.

        Parameters
        ----------
        *kinds : str
            Words of `simulator.bag.kinds.KINDS`.

        Returns
        -------
        numpy.ndarray
            True where the item is of one of them and at least one piece is there, bool (K).
        """
        named = [not set(kinds).isdisjoint(own.split(JOINT)) for own in self.kind]
        return np.array(named, dtype=np.bool_) & (self.quantity > 0)

    def served(self, rows: NDArray[np.bool_], by: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Mark those of some items beside which something that fits them is there."""
        there = [self.fits[row] for row in np.flatnonzero(by)]
        return np.array(
            [
                bool(needs) and any(not own or not other or own == other for other in there)
                for own, needs in zip(self.fits, rows.tolist(), strict=True)
            ],
            dtype=np.bool_,
        )

    @property
    def seeing_h(self) -> NDArray[np.float64]:
        """Hours of light to see by that a piece gives: lamps, and cells that fit one here [h]."""
        lamps, cells = self.is_a("lamp"), self.is_a("cells")
        gives = (lamps & ~cells) | self.served(cells, lamps)
        return np.where(gives, self.light_h, np.where(self.is_a("marker"), 0.0, np.nan))

    @property
    def walking_clo(self) -> NDArray[np.float64]:
        """Warmth that a piece gives on the move; a wrap serves at a halt only [clo]."""
        return np.where(self.is_a("wrap"), 0.0, self.warmth_clo)

    @property
    def phone_wh(self) -> NDArray[np.float64]:
        """Energy that a piece gives a telephone: nothing from a power bank without a cable [Wh]."""
        banks, cables = self.is_a("power bank"), self.is_a("cable")
        return np.where(banks & ~cables & ~self.served(banks, cables), 0.0, self.power_wh)

    def total(self, column: str, *, where: NDArray[np.bool_] | None = None) -> BagSum:
        """Sum a column over all pieces.

        Parameters
        ----------
        column : str
            One of the number columns, e.g. ``mass_g``.
        where : numpy.ndarray, optional
            Items to count, bool (K); all when left out.

        Returns
        -------
        Total
            The known sum and the items missing from it.

        Raises
        ------
        KeyError
            When there is no such column.
        """
        if column not in DEPENDS_ON:
            msg = f"{column!r} cannot be summed; allowed: {', '.join(DEPENDS_ON)}"
            raise KeyError(msg)
        counted = self.quantity > 0 if where is None else where & (self.quantity > 0)
        values = self.seeing_h if column == "light_h" else getattr(self, column)
        sums = np.nansum(np.where(counted, values * self.quantity, 0.0))
        missing = counted & self._unknown(column)
        return BagSum(float(sums), tuple(self.item[i] for i in np.flatnonzero(missing)))

    def _unknown(self, column: str) -> NDArray[np.bool_]:
        """Mark the items whose empty cell leaves the column's sum open."""
        empty: NDArray[np.bool_]
        if column == "holds_ml":  # a full bottle shows what it holds, an empty one does not
            empty = np.isnan(self.holds_ml) & (self.water_ml == 0.0)
        elif column in WATER_COLUMNS:
            empty = np.isnan(self.water_ml) & np.isnan(self.holds_ml) & np.isnan(self.treats_ml)
        elif column == "light_h":  # what shines to be seen by says nothing about light to see by
            empty = np.isnan(self.light_h) & ~self.is_a("marker")
        else:
            empty = np.isnan(getattr(self, column))
        purposes = DEPENDS_ON[column]
        return empty & self.of(*purposes) if purposes else empty


@dataclass(frozen=True, slots=True)
class Carried:
    """What the list amounts to on a walk. Sums of known cells; see `unknown`.

    Attributes
    ----------
    mass_kg : float
        Everything as packed [kg].
    water_ml : float
        Water at the start [ml].
    water_capacity_ml : float
        Most water that the containers hold when filled on the way [ml].
    treats_ml : float
        Water that can be made safe [ml].
    energy_kcal : float
        Food energy [kcal].
    light_h : float
        Hours of light to see by, one lamp after the other, cells that fit one among them [h].
    warmth_clo : float
        Added insulation at a halt, summed as garments are (Olesen 1985) [clo].
    walking_clo : float
        The part of it that is worn on the move [clo].
    power_wh : float
        Electric energy [Wh].
    has_key : bool
        Whether a key for outdoor taps is carried.
    unknown : tuple of str
        One phrase for each sum that is a lower bound, e.g. ``mass_g of 'rain jacket'``.
    food_mass_kg : float
        Part of `mass_kg` that goes as the food is eaten [kg].
    lamps : int
        Pieces that give light to see by.
    rainwear : int
        Pieces that each keep one walker dry.
    windproof : int
        Shells to wear that wind does not pass.
    tarps : int
        Roofs for a halt.
    """

    mass_kg: float = 0.0
    water_ml: float = 0.0
    water_capacity_ml: float = 0.0
    treats_ml: float = 0.0
    energy_kcal: float = 0.0
    light_h: float = 0.0
    warmth_clo: float = 0.0
    walking_clo: float = 0.0
    power_wh: float = 0.0
    has_key: bool = False
    unknown: tuple[str, ...] = ()
    food_mass_kg: float = 0.0
    lamps: int = 0
    rainwear: int = 0
    windproof: int = 0
    tarps: int = 0


def carried(items: Items | None) -> Carried:
    """Sum up a list for the walk.

    Parameters
    ----------
    items : Items or None
        The list; None is an empty bag.

    Returns
    -------
    Carried
        The sums, and what is missing from them.
    """
    if items is None:
        return Carried()
    sums = {column: items.total(column) for column in DEPENDS_ON if column != "price"}
    unknown = [
        f"{column} of {name!r}"
        for column, total in sums.items()
        if column != "volume_ml"
        for name in total.unknown
    ]
    refillable = np.where(np.isnan(items.holds_ml), items.water_ml, items.holds_ml)

    def pieces(mask: NDArray[np.bool_]) -> int:
        return int(items.quantity[mask].sum())

    return Carried(
        mass_kg=sums["mass_g"].known / 1000.0,
        water_ml=sums["water_ml"].known,
        water_capacity_ml=float(np.nansum(refillable * items.quantity)),
        treats_ml=sums["treats_ml"].known,
        energy_kcal=sums["energy_kcal"].known,
        light_h=sums["light_h"].known,
        warmth_clo=sums["warmth_clo"].known,
        walking_clo=float(np.nansum(items.walking_clo * items.quantity)),
        power_wh=sums["power_wh"].known,
        has_key=bool(items.is_a("tap key").any()),
        unknown=tuple(unknown),
        food_mass_kg=items.total("mass_g", where=items.of("food")).known / 1000.0,
        lamps=pieces(lit(items)),
        rainwear=pieces(items.is_a("rainwear")),
        windproof=pieces(items.is_a("windproof")),
        tarps=pieces(items.is_a("tarp")),
    )


def lit(items: Items) -> NDArray[np.bool_]:
    """Mark the lamps that shine: by the cells in them, or by others here that fit."""
    lamps, cells = items.is_a("lamp"), items.is_a("cells") & (items.light_h > 0.0)
    return np.asarray(lamps & ((items.light_h != 0.0) | items.served(lamps, cells)), dtype=np.bool_)


def read_items(path: str | Path) -> Items:
    """Read a list of items, as any spreadsheet saves it.

    Parameters
    ----------
    path : str or pathlib.Path
        CSV as any spreadsheet saves it; see `simulator.spreadsheet`. Lines that begin with ``#``
        are notes. Numbers are for one piece.

    Returns
    -------
    Items
        One row an item, in the order of the file.

    Raises
    ------
    InputError
        One line for each fault: file, line, column, what was found, what is allowed.
    """
    text, notes = read_written(Path(path), what="a list of items in CSV")
    items = parse_items(text, source=str(path))
    return replace(items, notes=(*notes, *items.notes))


def read_written(
    path: Path, *, what: str, largest: int = LARGEST_TEXT_BYTES
) -> tuple[str, tuple[str, ...]]:
    """Read a table that a spreadsheet saved, in any of the usual encodings."""
    raw = read_bytes(path, what=what, largest=largest)
    return decoded(raw, str(path), what=what)


def read_bags(folder: str | Path) -> dict[str, Items]:
    """Read every list in a folder, e.g. one a season or one a person."""
    place = Path(folder)
    lists = sorted(place.glob("*.csv")) if place.is_dir() else []
    if not lists:
        raise InputError(str(place), "found no list; give a folder with at least one .csv")
    bags: dict[str, Items] = {}
    faults: list[tuple[str, str]] = []
    for path in lists:
        try:
            bags[path.stem] = read_items(path)
        except InputError as fault:
            faults.append((fault.where, fault.problem))
    if faults:
        raise gathered(faults)
    return bags


@lru_cache(maxsize=8)
def parse_items(text: str, *, source: str = "bag.csv") -> Items:
    """Read a list of items from text; see `read_items`. The same text is read once."""
    rows, notes = read_rows(text, source)
    return items_from(rows, source=source, notes=(*notes, *guess_kinds(rows, source)))


def guess_kinds(rows: Iterable[dict[str, object]], source: str) -> tuple[str, ...]:
    """Fill in kinds that a list leaves out, and say of which items."""
    guessed = []
    for row in rows:
        if not row.get("kind"):
            row["kind"] = guessed_kind(row)
            if row["purpose"] in KIND_MATTERS:
                guessed.append(f"{row['item']} ({row['kind'] or 'none found'})")
    if not guessed:
        return ()
    told = ", ".join(guessed)
    return (
        f"{Path(source).name}: kinds guessed from names, write them in a column `kind`: {told}.",
    )


def items_from(
    rows: Iterable[Mapping[str, object]], *, source: str = "", notes: tuple[str, ...] = ()
) -> Items:
    """Make a list from checked rows.

    Parameters
    ----------
    rows : iterable of mapping
        By column name; `item`, `purpose`, `tier` and `quantity` are there, others may be.
    source : str
        Where the rows came from, for messages.
    notes : tuple of str
        What had to be guessed in reading them.

    Returns
    -------
    Items
        One row an item.
    """
    kept = list(rows)

    def words(name: str) -> tuple[str, ...]:
        return tuple(str(row.get(name) or "") for row in kept)

    def numbers(name: str) -> NDArray[np.float64]:
        return np.array([row.get(name, np.nan) for row in kept], dtype=np.float64)

    days = (row.get("expires") for row in kept)
    return Items(
        item=words("item"),
        purpose=words("purpose"),
        kind=words("kind"),
        tier=words("tier"),
        expires=tuple(day if isinstance(day, date) else None for day in days),
        fits=words("fits"),
        caution=words("caution"),
        source=source,
        notes=notes,
        **{name: numbers(name) for name in NUMBERS},
    )


def rows_of(items: Items) -> list[dict[str, object]]:
    """Give a list as rows, the way `simulator.bag.items.items_from` takes them."""
    names = [field.name for field in fields(items) if field.name not in NO_COLUMNS]
    columns = {name: getattr(items, name) for name in names}
    return [
        {
            name: float(column[row]) if name in NUMBERS else column[row]
            for name, column in columns.items()
        }
        for row in range(len(items))
    ]


def with_quantities(items: Items, quantity: ArrayLike) -> Items:
    """Change how many pieces of each item are there; items without any leave the list.

    Parameters
    ----------
    items : Items
        Any list.
    quantity : array_like
        Pieces, (K,).

    Returns
    -------
    Items
        The items with at least one piece.
    """
    counts = np.asarray(quantity, dtype=np.float64)
    rows = [
        row | {"quantity": float(count)}
        for row, count in zip(rows_of(items), counts, strict=True)
        if count > 0
    ]
    return items_from(rows, source=items.source, notes=items.notes)


def joined(*lists: Items) -> Items:
    """Put lists behind each other.

    Parameters
    ----------
    *lists : Items
        Any lists.

    Returns
    -------
    Items
        All rows, in order.
    """
    rows = [row for items in lists for row in rows_of(items)]
    return items_from(rows, source=lists[0].source if lists else "")


def items_csv(items: Items) -> str:
    """Write a list in the form of bag.csv.

    Parameters
    ----------
    items : Items
        Any list.

    Returns
    -------
    str
        CSV that `simulator.bag.items.parse_items` reads back to the same list; text that a
        spreadsheet would run as a formula has an apostrophe before it, which the reader drops.
    """
    return csv_text(COLUMNS, [[_cell(row, name) for name in COLUMNS] for row in rows_of(items)])


def _cell(row: Mapping[str, object], name: str) -> object:
    """Give a cell; whole numbers without a point, as a person writes them."""
    value = row[name]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


Storage = Literal["carried", "office", "car"]


@dataclass(frozen=True, slots=True)
class CautionRule:
    """A caution for items of some kinds, or whose name holds one of some words.

    Attributes
    ----------
    words : str
        Regular expression for whole words, any case.
    says : str
        What to mind.
    kinds : frozenset of str
        Words of `simulator.bag.kinds.KINDS`.
    """

    words: str
    says: str
    kinds: frozenset[str] = frozenset()

    def fits(self, name: str, kind: str = "") -> bool:
        """Say whether the rule is about an item."""
        named = re.search(rf"\b(?:{self.words})s?\b", name, flags=re.IGNORECASE)
        return named is not None or not self.kinds.isdisjoint(kind.split(JOINT))


RULES = (
    CautionRule(
        r"knife|knives|blade|multi-?tool|axe|hatchet|saw|scissor|machete|cutter|razor",
        "local law may restrict carrying it in public or at work; ask first, leave it when in "
        "doubt",
        frozenset({"blade"}),
    ),
    CautionRule(
        r"pry ?bar|crow ?bar|lock ?pick|bolt cutter|slim ?jim",
        "local law may restrict carrying it without a trade's reason; ask first",
    ),
    CautionRule(
        r"spray|baton|gun|pistol|ammunition|taser|stun|slingshot|weapon|mace",
        "it may be unlawful and makes a walk more dangerous, not less; no weapon is advised here",
    ),
    CautionRule(
        r"flare|firework|laser",
        "it burns or blinds, and local law may restrict it; keep to its instructions",
    ),
    CautionRule(
        r"medicine|medication|pill|painkiller|aspirin|ibuprofen|paracetamol|acetaminophen|"
        r"antibiotic|inhaler|insulin|antihistamine|prescription|loperamide|iodine",
        "ask a pharmacist or doctor what suits you and what it must not be taken with; keep the "
        "label and check its date",
        frozenset({"medicine"}),
    ),
    CautionRule(
        r"stove|fuel|burner|candle|lighter|match|matches|tinder",
        "never burn anything indoors, in a car or in a tent: fire and carbon monoxide",
        frozenset({"fire"}),
    ),
    CautionRule(
        r"tablet|filter|chlorine|bleach|purif\w+|treatment",
        "keep to its label: dose, waiting time, cold or cloudy water; it does not remove fuel or "
        "chemicals",
        frozenset({"treatment"}),
    ),
    CautionRule(
        r"mask|respirator",
        "it does not make smoke, gas or dust of an unknown kind safe; leave the area",
    ),
)
"""Cautions by words in the name; general safety guidance, common practice."""

HOT_STORAGE = CautionRule(
    r"medicine|medication|pill|chocolate|batter(?:y|ie)|power ?bank|candle|lighter|spray|"
    r"sanit\w+|wipe|glow ?stick|light ?stick|tablet|phone|bar|tape|plaster|bandage",
    "a closed car in the sun gets hot enough to spoil or burst it; take it along or renew it often",
    frozenset({"power bank", "cells", "medicine", "marker", "foot care", "dressings"}),
)
"""Items that a hot car spoils; common practice, labels give 25 or 30 °C as the limit for most
medicines."""

COLD_STORAGE = CautionRule(
    r"water|juice|bottle|medicine|medication|sanit\w+|wipe|batter(?:y|ie)|power ?bank|phone|gel|"
    r"filter",
    "frost bursts, spoils or weakens it; a filter that froze no longer cleans",
    frozenset({"bottle", "power bank", "cells", "medicine", "treatment"}),
)
"""Items that frost in a parked car spoils; common practice."""


def cautions(items: Items, *, stored: Storage = "carried") -> tuple[str, ...]:
    """List what to mind about a list of items.

    Parameters
    ----------
    items : Items
        The list.
    stored : {"carried", "office", "car"}
        Where the bag waits for the day.

    Returns
    -------
    tuple of str
        One sentence each, in the order of the list; the person's own notes among them.
    """
    return tuple(dict.fromkeys(_each(items, stored)))


def _each(items: Items, stored: Storage) -> Iterator[str]:
    """Go through the items and the rules that fit."""
    for row, name in enumerate(items.item):
        if not items.quantity[row] > 0:
            continue
        if items.caution[row]:
            yield f"{name}: {items.caution[row]}"
        for rule in RULES:
            if rule.fits(name, items.kind[row]):
                yield f"{name}: {rule.says}"
        if "tap key" in items.kind[row].split(JOINT):
            yield f"{name}: open only taps that you may use; ask the owner"
        for rule in (HOT_STORAGE, COLD_STORAGE) if stored == "car" else ():
            if rule.fits(name, items.kind[row]):
                yield f"{name}: {rule.says}"
        if stored == "office" and items.purpose[row] == "food":
            yield f"{name}: in a drawer it draws mice and goes stale; keep it closed and dated"
