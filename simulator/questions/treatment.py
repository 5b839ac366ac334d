"""What the bag has for making water fit to drink, and what that costs on the way.

Neither tablets nor boiling nor a filter remove fuel or other chemicals. Times and doses here are
common practice; what stands on the label goes before them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from simulator.route.bottle import Treatment

if TYPE_CHECKING:
    from simulator.bag.items import Items

TABLET_ML = 500.0
"""Water that one tablet treats [mL]: one for each half litre, common practice; the label rules."""

CONTACT_S = 1800.0
"""Time from dropping tablets or drops until the water is fit [s]: 30 min, Mohamed et al. 2015,
J. Water Health 13:544-552 (read in summary), for clear water. Chlorine dioxide against
Cryptosporidium, and cold or cloudy water, take up to four hours by their labels (restated)."""

TABLET_S = 60.0
"""Time to drop tablets in and shake [s]; assumed."""

CUP_ML = 500.0
"""Water boiled at a time on a small stove [mL]; assumed."""

CUP_S = 480.0
"""Time to bring a cup to a rolling boil on a small stove and keep it there for a minute [s]:
assumed, 5 to 15 min by stove and wind; one minute of rolling boil is the CDC's, three above
2000 m."""

HIGH_S = 120.0
"""Two more minutes of boiling [s], above `HIGH_M`; CDC."""

HIGH_M = 2000.0
"""Height from which water is boiled for three minutes [m]; CDC."""

FILTER_S_PER_ML = 240.0 / 1000.0
"""Time to press water through a small filter [s/mL]: four minutes a litre; assumed, 1 to 10."""

ASSUMED = (
    f"Treating water: one tablet for each {TABLET_ML / 1000.0:g} L, fit after "
    f"{CONTACT_S / 60.0:.0f} min, longer in cold or cloudy water; a cup boils in "
    f"{CUP_S / 60.0:.0f} min; a filter gives a litre in {1000.0 * FILTER_S_PER_ML / 60.0:.0f} min. "
    "What the label says goes before these figures."
)
"""The assumptions of this module in a sentence."""

WORDS = {
    "filter": re.compile(r"filter|purifier|straw", flags=re.IGNORECASE),
    "boiling": re.compile(r"stove|burner|boil|kettle|fuel|cooker|pot\b|cup\b", flags=re.IGNORECASE),
}
"""How a method is known by an item's name; anything else that treats water counts as tablets, which
take the longest."""

ORDER = ("filter", "tablets", "boiling")


@dataclass(frozen=True, slots=True)
class Kit:
    """What is carried for water, of the whole party.

    Attributes
    ----------
    names : tuple of str
        Methods out of `ORDER`, quickest first.
    treatments : tuple of Treatment
        What each can treat and what it costs, for a full filling of every bottle.
    contact_s : tuple of float
        Time until the water is fit when it is carried on [s]; 0 where it is fit at once.
    one_bottle : bool
        A single vessel: untreated water mixes with what is left in it.
    """

    names: tuple[str, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    contact_s: tuple[float, ...] = ()
    one_bottle: bool = False

    @property
    def longest_contact_s(self) -> float:
        """Longest contact time of the methods carried [s]."""
        return max(self.contact_s, default=0.0)


def method_of(name: str) -> str:
    """Tell how an item treats water, by its name.

    Parameters
    ----------
    name : str
        As on the list.

    Returns
    -------
    str
        One of `ORDER`.

    Examples
    --------
    >>> method_of("squeeze filter"), method_of("strip of purification tablets")
    ('filter', 'tablets')
    """
    return next((method for method, words in WORDS.items() if words.search(name)), "tablets")


def kit_of(
    items: Items | None, *, treats_ml: float, capacity_ml: float, highest_m: float = 0.0
) -> Kit:
    """Say what the bag has for making water fit.

    Parameters
    ----------
    items : Items or None
        The bag's list.
    treats_ml : float
        Water the bag can treat in all [mL]; what the list does not account for counts as tablets.
    capacity_ml : float
        What the bottles hold together [mL].
    highest_m : float
        Highest ground of the way [m].

    Returns
    -------
    Kit
        Methods with a use left, quickest first.
    """
    by_method = dict.fromkeys(ORDER, 0.0)
    vessels = 0.0
    if items is not None:
        amount = np.nan_to_num(items.treats_ml * items.quantity)
        for name, treats in zip(items.item, amount.tolist(), strict=True):
            if treats > 0.0:
                by_method[method_of(name)] += treats
        holds = np.where(np.isnan(items.holds_ml), items.water_ml, items.holds_ml)
        vessels = float(items.quantity[np.nan_to_num(holds) > 0.0].sum())
    by_method["tablets"] += max(treats_ml - sum(by_method.values()), 0.0)
    for name in reversed(ORDER):  # what the list has more of than is asked for goes, slowest first
        by_method[name] -= min(by_method[name], max(sum(by_method.values()) - treats_ml, 0.0))
    cup_s = CUP_S + (HIGH_S if highest_m > HIGH_M else 0.0)
    costs = {
        "filter": (capacity_ml * FILTER_S_PER_ML, 0.0, inf, 0.0),
        "tablets": (TABLET_S + CONTACT_S, TABLET_ML, TABLET_S, CONTACT_S),
        "boiling": (np.ceil(capacity_ml / CUP_ML) * cup_s, 0.0, inf, 0.0),
    }
    names = tuple(name for name in ORDER if by_method[name] > 0.0)
    return Kit(
        names=names,
        treatments=tuple(
            Treatment(by_method[name], float(costs[name][0]), costs[name][1], costs[name][2])
            for name in names
        ),
        contact_s=tuple(costs[name][3] for name in names),
        one_bottle=vessels == 1.0,
    )
