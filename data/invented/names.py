"""Invented names: word parts put together by chance, each used once."""

from __future__ import annotations

import numpy as np

FIRST = (
    "Alder", "Amber", "Ash", "Barley", "Beck", "Birch", "Bramble", "Bracken", "Briar", "Broad",
    "Burn", "Carr", "Chalk", "Cinder", "Clay", "Clover", "Cobble", "Copper", "Coal", "Dapple",
    "Dew", "Dun", "Elder", "Ember", "Fallow", "Fen", "Fern", "Flax", "Flint", "Frost", "Gall",
    "Gorse", "Grain", "Hale", "Harrow", "Hasp", "Haw", "Hazel", "Heather", "Hollin", "Hop",
    "Iron", "Ivy", "Kelp", "Kestrel", "Lark", "Lime", "Ling", "Linnet", "Loam", "Mallow", "Marl",
    "Meadow", "Merrow", "Mist", "Moss", "Nettle", "Oat", "Osier", "Otter", "Peat", "Pebble",
    "Plover", "Quern", "Quill", "Rowan", "Rush", "Rye", "Sallow", "Salt", "Sedge", "Shale",
    "Silver", "Slate", "Sloe", "Sorrel", "Sparrow", "Stone", "Swallow", "Tallow", "Tansy",
    "Teasel", "Thistle", "Thorn", "Thrush", "Timber", "Umber", "Vetch", "Wax", "Wether", "Whin",
    "Willow", "Wind", "Withy", "Wren", "Yarrow", "Yew",
)  # fmt: skip
SECOND = (
    "acre", "bank", "beck", "bourne", "brook", "by", "combe", "cote", "croft", "dale", "den",
    "edge", "ell", "fall", "field", "fold", "ford", "garth", "gate", "grove", "ham", "heath",
    "hill", "holm", "how", "hurst", "keld", "law", "ley", "lea", "mead", "mere", "more", "mouth",
    "nook", "over", "pool", "ridge", "rise", "sett", "shaw", "side", "slade", "stead", "stock",
    "stow", "thorpe", "thwaite", "wade", "water", "wick", "with", "wold", "worth", "yard",
)  # fmt: skip
KINDS = {
    "city": ("Street", "Street", "Row", "Street", "Place", "Avenue", "Court"),
    "old": ("Lane", "Alley", "Gate", "Row", "Wynd", "Yard", "Passage", "Street"),
    "suburb": ("Road", "Avenue", "Drive", "Crescent", "Way", "Gardens", "Rise", "Road"),
    "close": ("Close", "Mews", "Nook", "Court", "End"),
    "works": ("Road", "Way", "Yard", "Wharf Road"),
    "village": ("Lane", "Road", "Green", "Hill", "Street"),
    "country": ("Lane", "Road", "Lane", "Drove"),
    "path": ("Path", "Walk", "Ride", "Way"),
}


class Names:
    """A bag of names; none comes out twice.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        self._used: set[str] = set()

    def stem(self) -> str:
        """Give the first half of a name, e.g. ``"Alderwick"``, that nothing else has."""
        while True:
            first = FIRST[int(self._rng.integers(len(FIRST)))]
            second = SECOND[int(self._rng.integers(len(SECOND)))]
            name = f"{first}{second}"
            if name not in self._used and first[-1].lower() != second[0]:
                self._used.add(name)
                return name

    def new(self, kind: str) -> str:
        """Give a name nobody has yet, e.g. ``"Alderwick Lane"`` for the kind ``"old"``."""
        ends = KINDS[kind]
        while True:
            first = FIRST[int(self._rng.integers(len(FIRST)))]
            second = SECOND[int(self._rng.integers(len(SECOND)))]
            name = f"{first}{second} {ends[int(self._rng.integers(len(ends)))]}"
            if name not in self._used and first[-1].lower() != second[0]:
                self._used.add(name)
                return name
