"""What each walker of a party needs for himself, and what one piece does for all."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from simulator.bag.items import Items

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

ONLY_FEET: Final = re.compile(r"\b(?:blister|moleskin|foot tape)", flags=re.IGNORECASE)
"""Name of first aid that dresses feet and nothing else, so that it covers no wound."""


def covering(items: Items, purpose: str) -> NDArray[np.bool_]:
    """Mark the items that cover a purpose.

    Parameters
    ----------
    items : Items
        The list.
    purpose : str
        A word of `simulator.bag.columns.PURPOSES`.

    Returns
    -------
    numpy.ndarray
        True for items of the purpose of which at least one piece is there, bool (K); blister
        care alone is not first aid.
    """
    marked = items.of(purpose)
    if purpose != "first aid":
        return marked
    return marked & ~np.array([bool(ONLY_FEET.search(name)) for name in items.item], dtype=np.bool_)


def pieces(purpose: str, walkers: int) -> int:
    """Give how many pieces of a purpose a party needs at least.

    Parameters
    ----------
    purpose : str
        A word of `simulator.bag.columns.PURPOSES`.
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
