"""Whether the party stays warm enough through its night halts."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.body.exposure import halt_warmth

if TYPE_CHECKING:
    from simulator.questions.home import Walked
    from simulator.questions.scene import Scene

SHELTERED_WIND_M_S = 0.4
"""Air movement behind walls or under a tight roof [m/s], the least the standard's model knows;
an assumption."""


class HaltCold(NamedTuple):
    """The worst night halt.

    Attributes
    ----------
    hours : float
        Length [h]; NaN without a halt.
    short_clo : float
        Insulation missing [clo], 0 when enough; NaN without a halt.
    notes : tuple of str
        One sentence a halt.
    """

    hours: float
    short_clo: float
    notes: tuple[str, ...]


def halt_cold(scene: Scene, walked: Walked) -> HaltCold:
    """Compare the warmth each halt needs with what is worn and carried.

    Parameters
    ----------
    scene : Scene
        Weather, clothes and bag.
    walked : Walked
        With its halts.

    Returns
    -------
    HaltCold
        The worst halt, and a sentence for each.
    """
    return HaltCold(float("nan"), float("nan"), ())
