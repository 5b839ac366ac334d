"""The way street by street, in the words a person walks by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.report.rows import clock_words
from simulator.report.subject import Track, Walk
from simulator.report.words import clean
from simulator.units import Units

KINDS = {
    "footway": "a footpath",
    "path": "a path",
    "steps": "stairs",
    "cycleway": "a cycle track",
    "track": "a track",
    "bridleway": "a bridle path",
    "pedestrian": "a pedestrian street",
    "service": "a service road",
}
"""What a street without a name is called, by its class."""

NO_BREAK = "\N{NO-BREAK SPACE}"
NAMELESS = "a street without a name"
THROUGH = {"tunnel": "through a tunnel", "stairs": "with stairs"}


@dataclass(frozen=True, slots=True)
class Turn:
    """One instruction, ready to print.

    Attributes
    ----------
    along, when : str
        Distance from the start and clock time where it is given.
    text : str
        E.g. ``After Mill Bridge, left into High Street``.
    then : str
        How far, how steep, over or through what.
    short : str
        The instruction for a small card.
    """

    along: str
    when: str
    text: str
    then: str
    short: str


def turn_rows(walk: Walk, units: Units, track: Track) -> tuple[Turn, ...]:
    """Write the way's instructions.

    Parameters
    ----------
    walk : Walk
        The walk.
    units : Units
        Units to print in.
    track : Track
        Its positions.

    Returns
    -------
    tuple of Turn
        In walking order.
    """
    depart = track.clock(0.0)
    rows = []
    for one in walk.directions:
        when = track.clock(float(track.time_at(np.array([one.along_m]))[0]))
        told = units.long if one.length_m >= units.long_m else units.near
        after = clean(one.after, longest=50)
        street = clean(one.street, longest=60) or KINDS.get(str(one.kind), NAMELESS)
        turn = _turn(str(one.turn), street)
        passed = [f"over {clean(name, longest=50)}" for name in one.over]
        passed += [THROUGH.get(word, "") for word in one.through]
        length = told(one.length_m)
        rows.append(
            Turn(
                along=f"{one.along_m / units.long_m:.1f}",
                when=clock_words(when, depart),
                text=f"After {after}, {turn}" if after else turn[0].upper() + turn[1:],
                then=", ".join([f"{length}, {_ground(one, units)}", *filter(None, passed)]),
                short=f"{turn}, {length.replace(' ', NO_BREAK)}",
            )
        )
    return tuple(rows)


def _turn(turn: str, street: str) -> str:
    if turn == "start":
        return f"set out along {street}"
    return f"{turn} into {street}" if turn != "straight on" else f"straight on along {street}"


def _ground(one: Any, units: Units) -> str:  # noqa: ANN401 - the record lives in an earlier room
    """Say how the ground runs, with its climb where that is felt."""
    told = str(one.ground)
    if told == "level":
        return told
    up, down = units.height(one.ascent_m), units.height(one.descent_m)
    if told == "up and down":
        return f"up {up} and down {down}"
    return f"{told} {up if 'uphill' in told else down}"
