"""The list of what is carried: bag.csv in, columns and sums out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.bag.columns import NUMBERS, read_rows
from simulator.errors import InputError
from simulator.faults import gathered
from simulator.files import read_text

if TYPE_CHECKING:
    import pandas as pd

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

WATER_COLUMNS = ("water_ml", "holds_ml", "treats_ml")
"""An item for water fills at least one of these; the others then are nothing, not unknown."""


TAP_KEY = re.compile(
    r"\b(?:tap|spigot|sillcock|water|utility|four-way|4-way)\b.*\bkey\b", flags=re.IGNORECASE
)
"""Name of a tool that opens outdoor taps; a house key on the list must not count as one."""


@dataclass(frozen=True, slots=True)
class Total:
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
        Words of `PURPOSES` and `TIERS` in `simulator.bag.columns`.
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
    caution : tuple of str
        The person's own note, as text.
    source : str
        Where the list came from, for messages.
    """

    item: tuple[str, ...]
    purpose: tuple[str, ...]
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
    caution: tuple[str, ...]
    source: str = ""

    def __len__(self) -> int:
        return len(self.item)

    @property
    def table(self) -> pd.DataFrame:
        """The list as a table, columns as in bag.csv."""
        import pandas as pd  # noqa: PLC0415 - only for people who look at the table

        names = [field.name for field in fields(self) if field.name != "source"]
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

    def total(self, column: str, *, where: NDArray[np.bool_] | None = None) -> Total:
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
        values: NDArray[np.float64] = getattr(self, column)
        sums = np.nansum(np.where(counted, values * self.quantity, 0.0))
        missing = counted & self._unknown(column)
        return Total(float(sums), tuple(self.item[i] for i in np.flatnonzero(missing)))

    def _unknown(self, column: str) -> NDArray[np.bool_]:
        """Mark the items whose empty cell leaves the column's sum open."""
        empty: NDArray[np.bool_]
        if column == "holds_ml":  # a full bottle shows what it holds, an empty one does not
            empty = np.isnan(self.holds_ml) & (self.water_ml == 0.0)
        elif column in WATER_COLUMNS:
            empty = np.isnan(self.water_ml) & np.isnan(self.holds_ml) & np.isnan(self.treats_ml)
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
        Hours of light, one lamp after the other [h].
    warmth_clo : float
        Added insulation, summed as garments are (Olesen 1985) [clo].
    power_wh : float
        Electric energy [Wh].
    has_key : bool
        Whether a key for outdoor taps is carried: a tool with a name that fits `TAP_KEY`.
    unknown : tuple of str
        One phrase for each sum that is a lower bound, e.g. ``mass_g of 'rain jacket'``.
    food_mass_kg : float
        Part of `mass_kg` that goes as the food is eaten [kg].
    """

    mass_kg: float = 0.0
    water_ml: float = 0.0
    water_capacity_ml: float = 0.0
    treats_ml: float = 0.0
    energy_kcal: float = 0.0
    light_h: float = 0.0
    warmth_clo: float = 0.0
    power_wh: float = 0.0
    has_key: bool = False
    unknown: tuple[str, ...] = ()
    food_mass_kg: float = 0.0


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
    return Carried(
        mass_kg=sums["mass_g"].known / 1000.0,
        water_ml=sums["water_ml"].known,
        water_capacity_ml=float(np.nansum(refillable * items.quantity)),
        treats_ml=sums["treats_ml"].known,
        energy_kcal=sums["energy_kcal"].known,
        light_h=sums["light_h"].known,
        warmth_clo=sums["warmth_clo"].known,
        power_wh=sums["power_wh"].known,
        has_key=any(
            TAP_KEY.search(name)
            for name, tool in zip(items.item, items.of("tool"), strict=True)
            if tool
        ),
        unknown=tuple(unknown),
        food_mass_kg=items.total("mass_g", where=items.of("food")).known / 1000.0,
    )


def read_items(path: str | Path) -> Items:
    """Read a list of items, as any spreadsheet saves it.

    Parameters
    ----------
    path : str or pathlib.Path
        CSV in UTF-8 (a byte-order mark is fine), separated by commas, semicolons or tabs; a
        decimal comma is understood where the comma does not separate. Lines that begin with
        ``#`` are notes. Numbers are for one piece.

    Returns
    -------
    Items
        One row an item, in the order of the file.

    Raises
    ------
    InputError
        One line for each fault: file, line, column, what was found, what is allowed.
    """
    source = Path(path)
    return parse_items(read_text(source, what="a list of items in CSV"), source=str(source))


def read_bags(folder: str | Path) -> dict[str, Items]:
    """Read every list in a folder, e.g. one a season or one a person.

    Parameters
    ----------
    folder : str or pathlib.Path
        Folder with one or more ``.csv`` lists.

    Returns
    -------
    dict of str to Items
        By file name without its ending, in order of name.

    Raises
    ------
    InputError
        When there is no list, or with one line for each fault in any of them.
    """
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


def parse_items(text: str, *, source: str = "bag.csv") -> Items:
    """Read a list of items from text; see `read_items`.

    Parameters
    ----------
    text : str
        The file's content.
    source : str
        Its name, for messages.

    Returns
    -------
    Items
        One row an item.

    Raises
    ------
    InputError
        One line for each fault.
    """
    return items_from(read_rows(text, source), source=source)


def items_from(rows: Iterable[Mapping[str, object]], *, source: str = "") -> Items:
    """Make a list from checked rows.

    Parameters
    ----------
    rows : iterable of mapping
        By column name; `item`, `purpose`, `tier` and `quantity` are there, others may be.
    source : str
        Where the rows came from, for messages.

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
        tier=words("tier"),
        expires=tuple(day if isinstance(day, date) else None for day in days),
        caution=words("caution"),
        source=source,
        **{name: numbers(name) for name in NUMBERS},
    )
