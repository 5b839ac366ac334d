"""Names of places to coordinates, through the graph library's geocoder.

The library keeps its settings for the whole process, and waits without end when the server is
busy. So it works in a process of its own, which ends when it has answered or its time is up.
"""

from __future__ import annotations

import json
import subprocess
import sys
import urllib.parse
from collections.abc import Sequence
from dataclasses import dataclass

from simulator.errors import InputError
from simulator.fetch.http import TransferError

GEOCODER = "https://nominatim.openstreetmap.org"
"""Public geocoder where none is named; the address that osmnx has too. It allows one
question a second (its usage policy, from memory)."""

LONGEST_S = 90.0
"""Longest wait for the geocoder [s], and as much again for each ten names."""

ANSWER_TIMEOUT_S = 30

CREDIT = "Places looked up: © OpenStreetMap contributors, ODbL 1.0"

_NOT_FOUND, _FAILED = "not found", "failed"


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


def look_up(names: Sequence[str], *, address: str, longest_s: float = LONGEST_S) -> list[Found]:
    """Ask the geocoder for places.

    Parameters
    ----------
    names : sequence of str
        Names or postal addresses.
    address : str
        Server, without ``/search``.
    longest_s : float
        Longest wait [s].

    Returns
    -------
    list of Found
        One for each name: the geocoder's first guess, to be shown to the person.

    Raises
    ------
    InputError
        If a name is not found, or the server does not answer.
    """
    host = urllib.parse.urlsplit(address).netloc or address
    question = json.dumps({"address": address, "names": list(names)})
    code = "from simulator.fetch.geocode import answer; answer()"
    try:
        done = subprocess.run(  # noqa: S603 - this interpreter, fixed words
            [sys.executable, "-c", code],
            input=question,
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=longest_s * (1 + len(names) // 10),
            check=False,
        )
    except subprocess.TimeoutExpired:
        problem = "did not answer in time; it may be busy: try again later, or write coordinates"
        raise TransferError(host, problem) from None
    if done.returncode != 0:
        last = (done.stderr.strip().splitlines() or ["no answer"])[-1]
        raise TransferError(host, f"could not be asked ({last[:160]}); write coordinates instead")
    found = []
    for name, reply in zip(names, json.loads(done.stdout), strict=True):
        if reply.get("fault") == _NOT_FOUND:
            raise InputError(
                repr(name), "no such place found; write it another way, or as [latitude, longitude]"
            )
        if "fault" in reply:
            raise TransferError(
                host, f"could not look up {name!r} ({reply['cause'][:160]}); try again later"
            )
        found.append(Found(name, reply["lat"], reply["lon"], reply["display"]))
    return found


def answer() -> None:
    """Answer one question on standard input; runs in the process of its own."""
    import osmnx

    question = json.loads(sys.stdin.read())
    osmnx.settings.nominatim_url = question["address"]
    osmnx.settings.use_cache = False
    osmnx.settings.requests_timeout = ANSWER_TIMEOUT_S
    osmnx.settings.http_user_agent = osmnx.settings.http_referer = "walkhome"
    replies = [_answer(osmnx, name) for name in question["names"]]
    sys.stdout.write(json.dumps(replies))


def _answer(osmnx: object, name: str) -> dict[str, object]:
    """Look up one name; the first guess counts."""
    from osmnx._errors import InsufficientResponseError, ResponseStatusCodeError
    from requests.exceptions import RequestException

    try:
        table = osmnx.geocode_to_gdf(name, which_result=1)  # type: ignore[attr-defined]
    except InsufficientResponseError as fault:
        said = str(fault)
        kind = _NOT_FOUND if "0 results" in said else _FAILED
        return {"fault": kind, "cause": said}
    except (ResponseStatusCodeError, RequestException, KeyError, ValueError) as fault:
        return {"fault": _FAILED, "cause": f"{type(fault).__name__}: {fault}"}
    row = table.iloc[0]
    return {
        "lat": float(row["lat"]),
        "lon": float(row["lon"]),
        "display": str(row["display_name"]),
    }
