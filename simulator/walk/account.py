"""What falls short on a walk: one list, made once, that everything printed is read from.

What is missing is what no longer can be made up for on the way: water beyond what a body does not
feel, food beyond what the body gives of its own, unlit way in the dark without a lamp, clothes too
thin with all that the bag holds put on, and time beyond what is allowed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simulator.units import HOUR_S, ML_PER_L
from simulator.walk.ledger import BODY_KCAL, Ledger, local_time
from simulator.walk.records import Total

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.walk.records import Outcome


class What(IntEnum):
    """What can fall short, the rows of an account."""

    WATER = 0
    FOOD = 1
    LIGHT = 2
    WARMTH_ON_FOOT = 3
    WARMTH_AT_A_HALT = 4
    TIME = 5


NAMES = ("water", "food", "light to see by", "warmth on foot", "warmth at a halt", "time")
"""What each row is called wherever it is told."""

UNITS = ("L", "kcal", "h", "clo", "clo", "h")
"""Unit of what is missing."""


class Lack(NamedTuple):
    """One thing that falls short, of n walks.

    Attributes
    ----------
    missing : (n,) float64
        How much at the worst; 0 for nothing, NaN where no model says.
    from_s : (n,) float64
        Since when, after departure [s]; infinite for never.
    at_m : (n,) float64
        Where along the way [m].
    """

    missing: NDArray[np.float64]
    from_s: NDArray[np.float64]
    at_m: NDArray[np.float64]


class Shortage(NamedTuple):
    """One thing that falls short on one walk, as it is told.

    Attributes
    ----------
    what, unit : str
        Out of ``NAMES`` and ``UNITS``.
    missing : float or None
        At the worst; None where no model says how much.
    from_h : float
        Hours after departure [h].
    from_clock : str
        Local time then, ISO 8601.
    where_km : float
        Along the way then [km].
    counts_in_verdict : bool
        Whether it is grave enough to call for care or staying.
    """

    what: str
    unit: str
    missing: float | None
    from_h: float
    from_clock: str
    where_km: float
    counts_in_verdict: bool


@dataclass(frozen=True, slots=True)
class Account:
    """What falls short on n walks, rows as in ``What``.

    Attributes
    ----------
    missing, from_s, at_m : (6, n) float64
        As in ``Lack``.
    counts : (6, n) bool
        Whether the verdict goes by it.
    """

    missing: NDArray[np.float64]
    from_s: NDArray[np.float64]
    at_m: NDArray[np.float64]
    counts: NDArray[np.bool_]

    @property
    def happens(self) -> NDArray[np.bool_]:
        """What falls short where, (6, n); what no model says counts as short."""
        return ~(self.missing <= 0.0)

    def first(self) -> tuple[list[str], NDArray[np.float64]]:
        """Name what falls short first on each walk, and since when [h]; "" and NaN for none."""
        since = np.where(self.happens, self.from_s, np.inf)
        row = np.argmin(since, axis=0)
        at_s = since.min(axis=0, initial=np.inf)
        short = np.asarray(self.happens.any(axis=0))
        names = [
            NAMES[what] if any_short else ""
            for what, any_short in zip(row.tolist(), short.tolist(), strict=True)
        ]
        return names, np.where(np.isfinite(at_s), at_s / HOUR_S, np.nan)

    def told(self, walk: int, *, depart_epoch_s: float, zone: str) -> tuple[Shortage, ...]:
        """List what falls short on one walk, what begins first first.

        Parameters
        ----------
        walk : int
            Which.
        depart_epoch_s : float
            Departure, seconds since 1970-01-01 UTC.
        zone : str
            IANA zone for clock times.

        Returns
        -------
        tuple of Shortage
            Empty when nothing does.
        """
        rows = np.flatnonzero(self.happens[:, walk])
        found = []
        for row in rows[np.argsort(self.from_s[rows, walk], kind="stable")].tolist():
            missing, from_s = float(self.missing[row, walk]), float(self.from_s[row, walk])
            found.append(
                Shortage(
                    what=NAMES[row],
                    unit=UNITS[row],
                    missing=missing if np.isfinite(missing) else None,
                    from_h=from_s / HOUR_S,
                    from_clock=local_time(depart_epoch_s + from_s, zone).isoformat(),
                    where_km=float(self.at_m[row, walk]) / 1000.0,
                    counts_in_verdict=bool(self.counts[row, walk]),
                )
            )
        return tuple(found)


def lacks_of(
    outcome: Outcome,
    ledger: Ledger,
    *,
    foot: Lack,
    halt: Lack,
    allowed_s: NDArray[np.float64],
) -> tuple[Lack, ...]:
    """Make the list, in the order of ``What``.

    Parameters
    ----------
    outcome : Outcome
        N walks of M members each.
    ledger : Ledger
        Cut from it.
    foot, halt : Lack
        Warmth on foot and at a halt, N walks.
    allowed_s : (N,) float64
        Time from departure that the walk may take [s].

    Returns
    -------
    tuple of Lack
        Water and food of the whole party, light of the member who has least.
    """
    walks, members = ledger.totals.shape[2:]
    total = outcome.totals.reshape(-1, walks, members)

    def since(
        missing: NDArray[np.float64], from_s: NDArray[np.float64], at_m: NDArray[np.float64]
    ) -> Lack:
        from_s, at_m = from_s.reshape(walks, members), at_m.reshape(walks, members)
        first = (np.arange(walks), np.argmin(from_s, axis=1))
        short = missing > 0.0
        return Lack(missing, np.where(short, from_s[first], np.inf), at_m[first])

    short_ml = outcome.worst_short_ml.reshape(walks, members).sum(axis=1)
    hungry = total[Total.ENERGY_KCAL] - total[Total.EATEN_KCAL] - BODY_KCAL
    unlit = (total[Total.LIGHT_NEED_S] - total[Total.LIGHT_USED_S]).max(axis=1)
    late_s = np.maximum(total[Total.CLOCK_S, :, 0] - allowed_s, 0.0)
    allowed_s = np.where(late_s > 0.0, allowed_s, np.inf)
    return (
        since(short_ml / ML_PER_L, outcome.first_short_s, outcome.first_short_m),
        since(np.maximum(hungry, 0.0).sum(axis=1), outcome.hungry_s, outcome.hungry_m),
        since(unlit / HOUR_S, outcome.light_out_s, outcome.light_out_m),
        foot,
        halt,
        Lack(late_s / HOUR_S, allowed_s, ledger.at_m(allowed_s)),
    )


def first_lack(lack: NDArray[np.float64], ledger: Ledger) -> Lack:
    """Give what lacks most in any hour, since the first hour in which anything lacks.

    Parameters
    ----------
    lack : (H, N) float64
        By hour; NaN where it is not asked.
    ledger : Ledger
        The hours.

    Returns
    -------
    Lack
        Of N walks.
    """
    known = np.nan_to_num(lack, nan=0.0)
    worst: NDArray[np.float64] = known.max(axis=0)
    first = np.argmax(known > 0.0, axis=0)
    every = np.arange(worst.size)
    from_s = np.where(worst > 0.0, ledger.edge_s[first, every], np.inf)
    return Lack(worst, from_s, ledger.distance_m[first, every])
