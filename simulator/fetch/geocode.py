"""Names of places to coordinates, by a server that answers Nominatim's search.

The first guess of the server is shown to the person before it is used, and is kept only when it is
a place on Earth. The graph library has a geocoder too, but that one keeps settings for the whole
process and waits without end when the server is busy.
"""

from __future__ import annotations

import json
import urllib.parse
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from simulator.errors import InputError, shown
from simulator.fetch.http import Answer, Patience, Request, ServerLine
from simulator.plan.values import as_point

GEOCODER = "https://nominatim.openstreetmap.org"
"""Public geocoder where none is named; the address that osmnx has too. It allows one
question a second (its usage policy, from memory)."""

PATIENCE = Patience(tries=3, silence_s=30.0, longest_s=60.0)
"""Waits of seconds, for someone sits and waits."""

LARGEST_BYTES = 1_000_000
"""An answer with one place has some thousand bytes; more is something else [bytes]."""

CREDIT = "Places looked up: © OpenStreetMap contributors, ODbL 1.0"


@dataclass(frozen=True, slots=True)
class Found:
    """What the geocoder makes of a name.

    Attributes
    ----------
    name : str
        As asked.
    lat, lon : float
        Place [degrees].
    display : str
        How the geocoder calls it, in full.
    """

    name: str
    lat: float
    lon: float
    display: str


def look_up(
    names: Sequence[str],
    *,
    address: str,
    tell: Callable[[str], None] = lambda _: None,
    patience: Patience = PATIENCE,
) -> list[Found]:
    """Ask the geocoder for places.

    Parameters
    ----------
    names : sequence of str
        Names or postal addresses.
    address : str
        Server, without ``/search``.
    tell : callable
        Told what is being waited for.
    patience : Patience
        Waits and tries.

    Returns
    -------
    list of Found
        One for each name: the geocoder's first guess, to be shown to the person.

    Raises
    ------
    InputError
        If a name is not found, or the server does not answer.
    """
    line = ServerLine("place", patience=patience, tell=tell)
    return [_found(line, address, name) for name in names]


def _found(line: ServerLine, address: str, name: str) -> Found:
    """Look up one name."""
    rows: list[tuple[float, float, str]] = []

    def take(_: Answer, pieces: Iterator[bytes]) -> None:
        rows[:] = _read(b"".join(pieces))

    asked = urllib.parse.urlencode({"q": name, "format": "jsonv2", "limit": 1})
    line.fetch(Request(f"{address.rstrip('/')}/search?{asked}", largest=LARGEST_BYTES), take)
    if not rows:
        problem = "no such place found; write it another way, or as [latitude, longitude]"
        raise InputError(shown(name), problem)
    return Found(name, *rows[0])


def _read(body: bytes) -> list[tuple[float, float, str]]:
    """Read the places of an answer; raises `ValueError` when it is none."""
    try:
        return [
            (*as_point([float(row["lat"]), float(row["lon"])]), str(row["display_name"]))
            for row in json.loads(body)[:1]
        ]
    except (TypeError, KeyError, ValueError, RecursionError):
        msg = "no list of places on Earth"
        raise ValueError(msg) from None
