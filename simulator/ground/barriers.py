"""OSM tags of points on a way: what stops a walker there, and what makes one wait.

Pure functions of tags; keys as on the OpenStreetMap wiki (Key:barrier, Key:crossing, Key:foot,
Key:access, Key:locked).
"""

from __future__ import annotations

from collections.abc import Mapping

from simulator.ground.walkable import DENIALS, GRANTS, words

SOLID = words("wall fence hedge city_wall retaining_wall ditch handrail_fence")
"""Values of ``barrier`` that stop a walker unless the tags say otherwise."""

GATES = words(
    "gate sliding_gate swing_gate lift_gate hampshire_gate wicket_gate kissing_gate "
    "turnstile full-height_turnstile sally_port door toll_booth border_control "
    "checkpoint entrance"
)
"""Values of ``barrier`` that let a walker through unless locked or closed to the public.

At every other barrier (bollard, block, chain, stile, kerb …) ``access`` speaks of vehicles, and
only ``foot`` speaks of walkers.
"""

SIGNAL_CYCLE_S = 90.0
"""Assumed length of a signal cycle [s]; common practice."""

SIGNAL_GREEN_S = 20.0
"""Assumed part of the cycle in which a walker may start [s]; common practice."""

SIGNAL_DELAY_S = (SIGNAL_CYCLE_S - SIGNAL_GREEN_S) ** 2 / (2.0 * SIGNAL_CYCLE_S)
"""Mean wait of a walker who arrives at random [s]: (C - g)^2 / 2C.

Highway Capacity Manual, pedestrian delay at signalised crossings (from memory).
"""

CROSSING_DELAY_S = {"marked": 3.0, "unmarked": 8.0, "railway": 10.0}
"""Mean wait where no signal helps [s]: assumed, no source; more traffic means more."""

_MARKED = words("marked zebra uncontrolled")


def barrier_blocks(tags: Mapping[str, str]) -> str | None:
    """Say why a walker cannot pass a point of a way.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags of one node.

    Returns
    -------
    str or None
        The reason, or None when a walker can pass.

    Examples
    --------
    >>> barrier_blocks({"barrier": "gate", "access": "private"})
    'barrier=gate, access=private'
    >>> barrier_blocks({"barrier": "bollard", "access": "no"}) is None
    True
    """
    barrier, foot, access = (tags.get(key) for key in ("barrier", "foot", "access"))
    if barrier is None or foot in GRANTS:
        return None
    if foot in DENIALS:
        return f"barrier={barrier}, foot={foot}"
    if barrier in GATES and access in DENIALS:
        return f"barrier={barrier}, access={access}"
    if barrier in GATES and tags.get("locked") == "yes":
        return f"barrier={barrier}, locked=yes"
    return f"barrier={barrier}" if barrier in SOLID and access not in GRANTS else None


def crossing_delay_s(tags: Mapping[str, str]) -> float:
    """Mean wait at a point where the way crosses traffic.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags of one node.

    Returns
    -------
    float
        Wait [s]; 0 where nothing is crossed. An assumption, not a measurement: without power
        the signals are dark and traffic decides.

    Examples
    --------
    >>> round(crossing_delay_s({"highway": "crossing", "crossing": "traffic_signals"}), 1)
    27.2
    """
    highway = tags.get("highway")
    crossing = tags.get("crossing")
    if highway == "traffic_signals" or crossing == "traffic_signals":
        return SIGNAL_DELAY_S
    if highway == "crossing":
        return CROSSING_DELAY_S["marked" if crossing in _MARKED else "unmarked"]
    if tags.get("railway") in {"level_crossing", "crossing"}:
        return CROSSING_DELAY_S["railway"]
    return 0.0
