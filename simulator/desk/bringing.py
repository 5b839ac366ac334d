"""What the page may ask of servers: said first, asked only when the person has agreed."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from simulator.errors import InputError

if TYPE_CHECKING:
    from simulator.plan import Plan

Line = dict[str, Any]
"""One line of an answer, as it is sent."""

LONGEST_NAME = 200
"""Longest name of a place that is looked up [characters]."""


def look(plan: Plan) -> list[str]:
    """Say what a fetch of the plan's ground would ask, and whom."""
    from simulator.fetch.area import look_words
    from simulator.fetch.cache import Cache

    return look_words(plan, Cache()).splitlines()


def bring(plan: Plan, tell: Callable[[str], None]) -> str:
    """Fetch map and heights of the plan's area into the cache."""
    from simulator.fetch.area import fetch
    from simulator.fetch.cache import Cache

    fetched = fetch(plan, cache=Cache(), tell=tell)
    return (
        f"Fetched {fetched.received / 1e6:.1f} MB in {fetched.elapsed_s:.0f} s; from now on no "
        "network is needed for this area. Map data © OpenStreetMap contributors, ODbL 1.0."
    )


def find(name: str, *, agreed: bool, server: str = "") -> Line:
    """Look a place up by its name, by the plan's own server if it names one.

    Nobody is asked before the person knows who it is.
    """
    from simulator.fetch.area import sources_of
    from simulator.fetch.geocode import CREDIT, look_up
    from simulator.plan.tables import refuse_address

    wanted = " ".join(name.split())
    if not 0 < len(wanted) <= LONGEST_NAME:
        return {"faults": [("", f"write a name of 1 to {LONGEST_NAME} characters")]}
    try:
        server = server or sources_of(None).places
        refuse_address("fetch.places_from", server)
        if not agreed:
            return {"asks": f"This asks {server} for “{wanted}”, and nothing else."}
        (place,) = look_up([wanted], address=server)
    except InputError as fault:
        return {"faults": [("", fault.problem)]}
    return {"found": f"{place.display}. {CREDIT}.", "at": f"{place.lat:.6f}, {place.lon:.6f}"}
