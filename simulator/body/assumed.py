"""Warmth that no source gives a number for: things in a bag, wet clothes, a tarp in the wind.

Visible assumptions, each with the range it may have; a person who knows better changes them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.arrays import Floats
from simulator.body.limits import possible


@dataclass(frozen=True, slots=True)
class Assumed:
    """A number for which no source was found, with the range it may have.

    Attributes
    ----------
    low, middle, high : float
        Range and the value taken.
    why : str
        What it rests on.
    """

    low: float
    middle: float
    high: float
    why: str


ASSUMED_CLO: Final[dict[str, Assumed]] = {
    "blanket": Assumed(0.5, 1.0, 1.6, "1.57 clo per cm of trapped air (from memory), 3 to 10 mm"),
    "foil sheet": Assumed(0.0, 0.3, 0.6, "stops wind and wet; adds little to good clothing"),
    "foil bag": Assumed(0.2, 0.5, 1.0, "as a foil sheet, but closed"),
    "poncho": Assumed(0.0, 0.2, 0.4, "stops wind and rain; a thin layer of air"),
    "tarp": Assumed(0.0, 0.0, 0.1, "stops wind and rain only"),
    "sit mat": Assumed(0.0, 0.2, 0.4, "keeps the cold ground off a part of the body"),
}
"""Insulation in clo of things in a bag. Assumptions all: no source gives a value for them."""

WET_INSULATION_SHARE: Final = Assumed(
    0.3, 0.5, 0.8, "share of its insulation that soaked clothing keeps; no source, depends on cloth"
)
SOAKING_RAIN_MM: Final = Assumed(
    2.0, 5.0, 15.0, "rain that soaks unprotected clothing through; no source"
)
TARP_WIND_SHARE: Final = Assumed(
    0.2, 0.5, 0.8, "share of the wind left under a pitched tarp; no source"
)


def wet_clothing_clo(
    clothing_clo: ArrayLike,
    rain_mm: ArrayLike,
    *,
    kept: ArrayLike = WET_INSULATION_SHARE.middle,
    soaking_mm: ArrayLike = SOAKING_RAIN_MM.middle,
) -> Floats:
    """Give what rain leaves of clothing's insulation: a stated penalty, not science.

    Parameters
    ----------
    clothing_clo : array_like
        Insulation when dry, clo.
    rain_mm : array_like
        Rain that fell on it unprotected, mm.
    kept : array_like
        Share that soaked clothing keeps (`WET_INSULATION_SHARE`).
    soaking_mm : array_like
        Rain that soaks it (`SOAKING_RAIN_MM`).

    Returns
    -------
    ndarray
        clo.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> [float(clo) for clo in wet_clothing_clo(1.0, [0.0, 5.0, 50.0])]
    [1.0, 0.5, 0.5]
    """
    soaked = possible("soaking_mm", soaking_mm, "rain_mm")
    wet = np.clip(possible("rain_mm", rain_mm) / np.maximum(soaked, 1e-9), 0.0, 1.0)
    share = 1.0 - (1.0 - possible("kept", kept, "share")) * wet
    return (possible("clothing_clo", clothing_clo) * share)[()]
