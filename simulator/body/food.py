"""What food can and cannot do on a walk of a day."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from simulator.body.limits import Floats, floats, possible

J_PER_KCAL: Final = 4184.0
W_PER_KCAL_H: Final = J_PER_KCAL / 3600.0

KCAL_PER_G_CARBOHYDRATE: Final = 4.0  # Atwater; from memory

EAT_KCAL_H: Final = (30.0 * KCAL_PER_G_CARBOHYDRATE, 60.0 * KCAL_PER_G_CARBOHYDRATE)
"""What the gut takes up well during exercise: 30 to 60 g of carbohydrate an hour (Thomas, Erdman
and Burke 2016, Med Sci Sports Exerc 48:543-568; from memory). At walking pace less is fine."""

MAX_EAT_KCAL_H: Final = EAT_KCAL_H[1]
"""The upper end of `EAT_KCAL_H`."""

GLYCOGEN_KCAL: Final = (1500.0, 2400.0)
"""Carbohydrate stored in a fed adult's muscles and liver; from memory. A walk home of 25 km uses
about 1600 kcal, part of it fat."""

ATWATER_KCAL_G: Final[dict[str, float]] = {
    "protein": 4.0,
    "carbohydrate": 4.0,
    "fat": 9.0,
    "alcohol": 7.0,
    "fibre": 2.0,
}
"""Energy of food by component, kcal per g (Merrill and Watt 1973; from memory)."""

ONE_DAY_SHORTAGE: Final = (
    "A healthy adult can walk for a day with little or no food: the body's stores cover it. "
    "Expect to be slower, colder, hungry and short-tempered, and to judge worse; a little often "
    "helps more than much at once. Being short of food for a day is not starvation, and is no "
    "reason to leave the way or to go without water. It is different for people who take insulin "
    "or other medicine that lowers blood sugar, for small children, in pregnancy and in illness: "
    "they need to eat, and should ask their doctor beforehand."
)
"""What a one-day shortage of food does and does not mean, in plain words."""


def eat_kcal(used_kcal: ArrayLike, left_kcal: ArrayLike, hours: ArrayLike) -> Floats:
    """Give what to eat now: what was used, from what is left, no faster than it is taken up.

    Parameters
    ----------
    used_kcal : array_like
        Energy used and not yet eaten, kcal.
    left_kcal : array_like
        Energy of the food carried, kcal.
    hours : array_like
        Time it is eaten over, h.

    Returns
    -------
    ndarray
        kcal.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> [float(kcal) for kcal in eat_kcal([100, 900, 900], [500, 500, 50], 1.0)]
    [100.0, 240.0, 50.0]
    """
    most = MAX_EAT_KCAL_H * possible("hours", hours)
    wanted = np.maximum(floats(used_kcal), 0.0)
    return np.minimum(np.minimum(wanted, possible("left_kcal", left_kcal)), most)[()]
