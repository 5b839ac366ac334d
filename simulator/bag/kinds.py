"""Kinds of items: what a thing does on a walk, whatever it is called.

A list says the kind in a column of its own. Lists from before that column are still read: the kind
is then guessed from English words and from the numbers beside them, and the list says so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Final

KINDS: Final[Mapping[str, str]] = {
    "bottle": "holds water and keeps its shape",
    "flask": "holds water and grows when it is filled",
    "treatment": "makes water safe: tablets, filter",
    "lamp": "light to see by",
    "marker": "to be seen by: glow stick, reflector, blinking light",
    "cells": "for a lamp or a radio; `light_h` is what a lamp gives with them",
    "power bank": "electric energy for a telephone",
    "cable": "joins a power bank to a telephone",
    "rainwear": "keeps its wearer dry: poncho, rain jacket",
    "windproof": "a shell to wear that wind does not pass",
    "tarp": "a roof at a halt; no rainwear",
    "wrap": "goes round one at a halt: foil blanket, foil bag",
    "hat": "worn on the head",
    "gloves": "worn on the hands",
    "socks": "a change for the feet",
    "dressings": "for wounds",
    "foot care": "for blisters",
    "medicine": "to be taken by its label only",
    "whistle": "to be heard by",
    "radio": "hears the authorities",
    "tap key": "opens outdoor taps",
    "blade": "cuts; the law may restrict it",
    "fire": "lights or burns",
    "map": "shows the way",
    "other": "none of these",
}
"""Each kind and what it means. An item may be of several, joined by ``+``."""

JOINT: Final = " + "
"""Stands between the kinds of an item that has several."""

WORDS: Final = tuple(
    (kind, re.compile(rf"\b(?:{words})", flags=re.IGNORECASE))
    for kind, words in (
        ("tap key", r"(?:tap|spigot|sillcock|water|utility|four-way|4-way)\b.*\bkey\b"),
        ("marker", r"glow ?stick|light ?stick|reflect|blink|strobe|hi-?vis|beacon"),
        ("power bank", r"power ?bank"),
        ("cable", r"(?:charging )?(?:cable|lead)\b"),
        ("cells", r"(?:spare |lithium |alkaline )?(?:batter(?:y|ies)|cells)\b"),
        ("treatment", r"(?:water )?(?:purif|filter|treatment tablets|chlorine)"),
        ("tarp", r"(?:tarp|tent|bivvy|bivouac|fly ?sheet|awning)"),
        ("rainwear + windproof", r"(?:rain|storm|shell|waterproof) ?(?:jacket|coat|shell)"),
        ("rainwear", r"(?:poncho|rain ?(?:cape|wear|cover)|umbrella)"),
        ("windproof", r"(?:wind(?:proof|breaker|shirt)|wind jacket|shell\b)"),
        ("wrap", r"(?:foil|rescue|emergency|space) (?:blanket|bag)"),
        ("hat", r"(?:hat|cap|beanie|balaclava)\b"),
        ("gloves", r"(?:gloves?|mittens?)\b"),
        ("socks", r"socks?\b"),
        ("foot care", r"(?:blister|moleskin|foot tape|sports tape|zinc tape)"),
        ("medicine", r"(?:medicine|medication|painkiller|prescription)"),
        ("whistle", r"whistle"),
        ("radio", r"radio"),
        ("blade", r"(?:multi-?tool|knife|knives|scissors?|axe|saw)\b"),
        ("fire", r"(?:lighter|match(?:es)?|candle|stove|tinder)\b"),
        ("map", r"map\b"),
        ("lamp", r"(?:head ?|hand |flash)?(?:torch|lamp|light|lantern)\b"),
    )
)
"""English words that give a kind away, the more particular first."""


def guessed_kind(row: Mapping[str, object]) -> str:
    """Guess the kind of an item that says none.

    Parameters
    ----------
    row : mapping
        Cells by column; at least `item` and `purpose`.

    Returns
    -------
    str
        One or more of `KINDS` joined by `JOINT`; empty when nothing tells.

    Examples
    --------
    >>> guessed_kind({"item": "thin rain poncho", "purpose": "shelter"})
    'rainwear'
    >>> guessed_kind({"item": "Stirnlampe", "purpose": "light", "light_h": 20.0})
    'lamp'
    """
    name, purpose = str(row.get("item", "")), str(row.get("purpose", ""))
    for kind, words in WORDS:
        if words.search(name) and purpose in PURPOSES_OF.get(kind, {purpose}):
            return kind
    return _by_numbers(purpose, row)


PURPOSES_OF: Final[Mapping[str, frozenset[str]]] = {
    "tap key": frozenset({"tool"}),
    "cable": frozenset({"power", "tool", "other"}),
    "cells": frozenset({"power", "light", "tool", "other"}),
    "treatment": frozenset({"water", "hygiene"}),
    "tarp": frozenset({"shelter", "warmth"}),
    "rainwear": frozenset({"shelter", "warmth", "other"}),
    "rainwear + windproof": frozenset({"shelter", "warmth", "other"}),
    "windproof": frozenset({"shelter", "warmth", "other"}),
    "wrap": frozenset({"shelter", "warmth"}),
    "hat": frozenset({"warmth", "other"}),
    "gloves": frozenset({"warmth"}),
    "socks": frozenset({"warmth", "other"}),
    "lamp": frozenset({"light"}),
}
"""Purposes among which a word alone is believed; a house key must not open taps, and working
gloves keep nobody warm."""


def _by_numbers(purpose: str, row: Mapping[str, object]) -> str:
    """Guess from what a thing holds and gives, in any language."""

    def cell(column: str) -> float:
        value = row.get(column)
        return value if isinstance(value, float) and math.isfinite(value) else 0.0

    if purpose == "water":
        holds = max(cell("holds_ml"), cell("water_ml"))
        if holds > 0.0:
            return "flask" if 0.0 < cell("volume_ml") < holds else "bottle"
        return "treatment" if cell("treats_ml") > 0.0 else ""
    if purpose == "light" and cell("light_h") > 0.0:
        return "lamp"  # the column is hours of light to walk by
    if purpose == "power" and cell("power_wh") > 0.0:
        return "power bank"
    return "dressings" if purpose == "first aid" else ""
