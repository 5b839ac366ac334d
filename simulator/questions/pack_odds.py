"""What many drawn walks ask of the bag at a chosen certainty, from odds.json."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.errors import InputError
from simulator.files import read_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from simulator.bag.balance import Balance

CERTAINTY: Final = 0.9
"""Share of walks that a bag should serve when nothing else is asked; a judgement."""

AMOUNTS: Final[Mapping[str, tuple[str, str, float]]] = {
    "water_start": ("water", "short_l", 1000.0),
    "water_capacity": ("water", "short_l", 1000.0),
    "light": ("light", "short_h", 1.0),
    "warmth_halt": ("warmth_of_a_night_halt", "short_clo", 1.0),
}
"""Demand: shortage of odds.json, its amount, and that amount's factor to the demand's unit. What
falls short of water is to be carried from the start, and to find room."""

FOR_EACH: Final = frozenset({"light", "warmth_halt"})
"""Demands whose shortage is one walker's, not the party's."""


def read_odds(path: Path, certainty: float) -> dict[str, Any]:
    """Read an odds.json, before any work is done for it.

    Parameters
    ----------
    path : pathlib.Path
        File to read.
    certainty : float
        Share of walks that will be asked for, in (0, 1).

    Returns
    -------
    dict
        Its content.

    Raises
    ------
    InputError
        When the file is none, or the share is none.
    """
    if not 0.0 < certainty < 1.0:
        where = "certainty"
        raise InputError(where, f"found {certainty:g}; allowed: above 0 and below 1, e.g. 0.9")
    try:
        told = json.loads(read_text(path, what="an odds.json"))
    except json.JSONDecodeError as fault:
        where = f"{path}: line {fault.lineno}"
        raise InputError(where, f"cannot be read as JSON ({fault.msg})") from None
    if not isinstance(told, dict) or not isinstance(told.get("shortages"), dict):
        raise InputError(str(path), "found no `shortages`; give the odds.json of this plan")
    return told


def needed_for(
    path: Path,
    told: Mapping[str, Any],
    certainty: float,
    balances: Iterable[Balance],
    *,
    walkers: int,
    inputs: Mapping[str, str],
) -> dict[str, float]:
    """Read what the bag needs so that a share of the drawn walks lacks nothing.

    Parameters
    ----------
    path : pathlib.Path
        Where `told` came from, for messages.
    told : mapping
        odds.json of the same plan with the same bag.
    certainty : float
        Share of walks, in (0, 1).
    balances : iterable of Balance
        The list against the plan's own walk.
    walkers : int
        How many walk.
    inputs : mapping of str to str
        SHA-256 of the plan's files, by name.

    Returns
    -------
    dict of str to float
        Amount by demand [unit of the demand], for those that fall short at that certainty: what the
        bag has and what is missing then.

    Raises
    ------
    InputError
        When the odds belong to other files, or tell of too few walks.
    """
    _same_inputs(path, told, inputs)
    needed = {}
    for balance in balances:
        key = balance.demand.key
        if key not in AMOUNTS:
            continue
        shortage, amount, factor = AMOUNTS[key]
        missing = factor * _missing(path, told, shortage, amount, certainty)
        if missing > 0.0:
            each = walkers if key in FOR_EACH else 1
            needed[key] = max(balance.have + each * missing, balance.demand.need)
    return needed


def _same_inputs(path: Path, told: Mapping[str, Any], inputs: Mapping[str, str]) -> None:
    """Refuse odds of another bag, plan or map."""
    theirs = told.get("inputs")
    known = theirs if isinstance(theirs, dict) else {}
    other = sorted(name for name, digest in inputs.items() if known.get(name) != digest)
    if other:
        problem = f"was made from another {other[0]}; make the odds again with these files"
        raise InputError(str(path), problem)


def _missing(
    path: Path, told: Mapping[str, Any], shortage: str, amount: str, certainty: float
) -> float:
    """Give what is missing at a certainty; 0 when so few walks lack it.

    The file's quantiles are of the walks that lack it. Between them the amount is interpolated;
    below the least the least is taken, which is too much rather than too little.
    """
    try:
        chance = float(told["shortages"][shortage]["chance"])
        if chance <= 1.0 - certainty:
            return 0.0
        rows = told["shortages"][shortage][amount]["quantiles"] or {}
        known = sorted((float(share), float(row["value"])) for share, row in rows.items())
    except (KeyError, TypeError, ValueError):
        where = f"{path}: shortages.{shortage}"
        raise InputError(where, "cannot be read; make the odds again") from None
    if not known:
        where = f"{path}: shortages.{shortage}"
        raise InputError(where, "too few walks lack it to say how much; draw more walks")
    wanted = (certainty - (1.0 - chance)) / chance
    shares, values = zip(*known, strict=True)
    if wanted > shares[-1]:
        where = f"{path}: shortages.{shortage}"
        most = 1.0 - chance * (1.0 - shares[-1])
        problem = f"tells no more than a certainty of {math.floor(1000 * most) / 1000:g}; ask less"
        raise InputError(where, problem)
    return float(np.interp(wanted, shares, values))
