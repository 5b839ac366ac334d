"""What to mind about single items: law, medicines, fire, water, storage.

The words are looked for in the item's name; a list in another language gets fewer cautions, so
each item has a column for the person's own. Nothing here advises to carry a weapon.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from simulator.bag.items import TAP_KEY, Items

Storage = Literal["carried", "office", "car"]


@dataclass(frozen=True, slots=True)
class Rule:
    """A caution for items whose name holds one of some words.

    Attributes
    ----------
    words : str
        Regular expression for whole words, any case.
    says : str
        What to mind.
    """

    words: str
    says: str

    def fits(self, name: str) -> bool:
        """Say whether the rule is about an item.

        Parameters
        ----------
        name : str
            The item's name.

        Returns
        -------
        bool
            True when one of the words stands in it, in the singular or the plural.
        """
        return bool(re.search(rf"\b(?:{self.words})s?\b", name, flags=re.IGNORECASE))


RULES = (
    Rule(
        r"knife|knives|blade|multi-?tool|axe|hatchet|saw|scissor|machete|cutter|razor",
        "local law may restrict carrying it in public or at work; ask first, leave it when in "
        "doubt",
    ),
    Rule(
        r"pry ?bar|crow ?bar|lock ?pick|bolt cutter|slim ?jim",
        "local law may restrict carrying it without a trade's reason; ask first",
    ),
    Rule(
        r"spray|baton|gun|pistol|ammunition|taser|stun|slingshot|weapon|mace",
        "it may be unlawful and makes a walk more dangerous, not less; no weapon is advised here",
    ),
    Rule(
        r"flare|firework|laser",
        "it burns or blinds, and local law may restrict it; keep to its instructions",
    ),
    Rule(
        r"medicine|medication|pill|painkiller|aspirin|ibuprofen|paracetamol|acetaminophen|"
        r"antibiotic|inhaler|insulin|antihistamine|prescription|loperamide|iodine",
        "ask a pharmacist or doctor what suits you and what it must not be taken with; keep the "
        "label and check its date",
    ),
    Rule(
        r"stove|fuel|burner|candle|lighter|match|matches|tinder",
        "never burn anything indoors, in a car or in a tent: fire and carbon monoxide",
    ),
    Rule(
        r"tablet|filter|chlorine|bleach|purif\w+|treatment",
        "keep to its label: dose, waiting time, cold or cloudy water; it does not remove fuel or "
        "chemicals",
    ),
    Rule(
        r"mask|respirator",
        "it does not make smoke, gas or dust of an unknown kind safe; leave the area",
    ),
)
"""Cautions by words in the name; general safety guidance, common practice."""

HOT_STORAGE = Rule(
    r"medicine|medication|pill|chocolate|batter(?:y|ie)|power ?bank|candle|lighter|spray|"
    r"sanit\w+|wipe|glow ?stick|light ?stick|tablet|phone|bar|tape|plaster|bandage",
    "a closed car in the sun gets hot enough to spoil or burst it; take it along or renew it often",
)
"""Items that a hot car spoils; common practice, labels give 25 or 30 °C as the limit for most
medicines."""

COLD_STORAGE = Rule(
    r"water|juice|bottle|medicine|medication|sanit\w+|wipe|batter(?:y|ie)|power ?bank|phone|gel|"
    r"filter",
    "frost bursts, spoils or weakens it; a filter that froze no longer cleans",
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
            if rule.fits(name):
                yield f"{name}: {rule.says}"
        if TAP_KEY.search(name):
            yield f"{name}: open only taps that you may use; ask the owner"
        for rule in (HOT_STORAGE, COLD_STORAGE) if stored == "car" else ():
            if rule.fits(name):
                yield f"{name}: {rule.says}"
        if stored == "office" and items.purpose[row] == "food":
            yield f"{name}: in a drawer it draws mice and goes stale; keep it closed and dated"
