"""Groups, and people who cannot take every way: what binds the route, the pace and the rests."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from numpy.typing import ArrayLike

from simulator.body.limits import Floats, one_of, possible


@dataclass(frozen=True, slots=True)
class LimitRule:
    """What one limit of a person means for the way.

    Attributes
    ----------
    max_slope : float
        Steepest slope, up or down, rise over run; infinite if none.
    stairs : bool
        True if stairs can be taken.
    refused : frozenset of str
        Surfaces that cannot be taken, words of `simulator.body.energy.TERRAIN_FACTORS`.
    speed_factor : float
        Share of the walker's speed.
    rest_factor : float
        Rest needed, as a multiple of the walker's.
    why : str
        Where the numbers come from.
    """

    max_slope: float
    stairs: bool
    refused: frozenset[str]
    speed_factor: float
    rest_factor: float
    why: str


WHEELCHAIR_RAMP_SLOPE: Final = 1 / 12
"""Steepest ramp of the ADA Standards for Accessible Design, 405.2 (from memory). Others are
stricter: ISO 21542 allows it for short ramps only and DIN 18040-1 stops at 6 % (both from memory);
ADA 403.3 wants walking surfaces no steeper than 5 % (from memory)."""

WHEELCHAIR_RAMP_STRICT_SLOPE: Final = 0.06
"""DIN 18040-1, from memory; a person alone on a long way should plan with this."""

LIMIT_RULES: Final[dict[str, LimitRule]] = {
    "no stairs": LimitRule(
        max_slope=math.inf,
        stairs=False,
        refused=frozenset(),
        speed_factor=1.0,
        rest_factor=1.5,
        why="rest: assumption, 1 to 2 times",
    ),
    "push-chair": LimitRule(
        max_slope=0.125,
        stairs=False,
        refused=frozenset({"sand", "mud", "rock"}),
        speed_factor=0.9,
        rest_factor=1.5,
        why="assumptions: slope 0.08 to 0.16, speed 0.8 to 1, rest 1 to 2 times",
    ),
    "wheels": LimitRule(
        max_slope=WHEELCHAIR_RAMP_SLOPE,
        stairs=False,
        refused=frozenset({"gravel", "grass", "ground", "sand", "mud", "rock"}),
        speed_factor=0.9,
        rest_factor=2.0,
        why="slope: ADA 405.2, from memory; assumptions: speed 0.6 to 1.2, rest 1 to 3 times",
    ),
}
"""Limits a plan may name. Kerbs, camber and width are not in map data: look before trusting."""

UNLIMITED: Final = LimitRule(
    max_slope=math.inf,
    stairs=True,
    refused=frozenset(),
    speed_factor=1.0,
    rest_factor=1.0,
    why="no limit",
)


def strictest(limits: Iterable[str]) -> LimitRule:
    """Join limits of one person or of a whole group into the rule that binds.

    Parameters
    ----------
    limits : iterable of str
        Words of `LIMIT_RULES`.

    Returns
    -------
    LimitRule
        The least slope, all refused surfaces, the slowest pace, the longest rest.

    Raises
    ------
    ValueError
        For an unknown word.

    Examples
    --------
    >>> strictest(["no stairs", "push-chair"]).max_slope
    0.125
    """
    rules = [LIMIT_RULES[one_of("limits", word, LIMIT_RULES)] for word in limits]
    if not rules:
        return UNLIMITED
    return LimitRule(
        max_slope=min(rule.max_slope for rule in rules),
        stairs=all(rule.stairs for rule in rules),
        refused=frozenset().union(*(rule.refused for rule in rules)),
        speed_factor=min(rule.speed_factor for rule in rules),
        rest_factor=max(rule.rest_factor for rule in rules),
        why="; ".join(dict.fromkeys(rule.why for rule in rules)),
    )


GROUP_SLOWER_M_S: Final = (0.12, 0.18)
"""Groups cross streets this much slower than people alone: Gates et al. 2006, Transp Res Rec
1982:38-47 (read in the abstract). Not applied: over hours a group is taken at its slowest."""


def group_speed_m_s(speed_m_s: ArrayLike, *, axis: int = 0) -> Floats:
    """Give the speed of a group that stays together: its slowest member's.

    Parameters
    ----------
    speed_m_s : array_like
        Speed of each member, m/s.
    axis : int
        Axis of the members.

    Returns
    -------
    ndarray
        m/s; NaN where any member's is unknown.

    Raises
    ------
    ValueError
        For impossible input, naming the allowed range.

    Examples
    --------
    >>> float(group_speed_m_s([1.4, 1.1]))
    1.1
    """
    slowest: Floats = possible("speed_m_s", speed_m_s).min(axis=axis)
    return slowest
