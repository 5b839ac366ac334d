"""A typical year from an address that the person names; there is no default."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from simulator.errors import InputError, shown, shown_address
from simulator.fetch.http import Answer, Patience, Request, ServerLine, looks_like_page
from simulator.plan.tables import refuse_address

PLACE_IN_BRACES = re.compile(r"\{(lat|lon)(?::\.([0-7])f)?\}")
"""What an address may leave to be filled in; nothing else of Python's formats, which can read
attributes and fill the memory."""

LARGEST_BYTES = 30_000_000
"""A typical year has some two megabytes; more is something else [bytes]."""


def fetch_weather(
    template: str,
    *,
    lat: float,
    lon: float,
    target: Path,
    check: Callable[[Path], None],
    tell: Callable[[str], None],
    patience: Patience | None = None,
) -> Path:
    """Fetch a typical year.

    Parameters
    ----------
    template : str
        Address; ``{lat}`` and ``{lon}`` stand for the place, and may say how many digits.
    lat, lon : float
        Place [degrees].
    target : pathlib.Path
        File to write.
    check : callable
        Reads the file and raises `InputError` when it is no typical year.
    tell : callable
        Told what is being done.
    patience : Patience, optional
        Waits and tries.

    Returns
    -------
    pathlib.Path
        `target`.

    Raises
    ------
    InputError
        When it cannot be fetched, or is no weather file.
    """
    where = "fetch.weather_from"
    places = {"lat": lat, "lon": lon}
    address = PLACE_IN_BRACES.sub(
        lambda found: f"{places[found[1]]:.{found[2]}f}" if found[2] else f"{places[found[1]]}",
        template,
    )
    if "{" in address or "}" in address:
        problem = (
            f"found {shown(template)}; only {{lat}} and {{lon}} may stand in braces, with up to "
            "seven digits as in {lat:.2f}"
        )
        raise InputError(where, problem)
    refuse_address(where, address)
    tell("typical weather")
    parts: list[bytes] = []

    def take(_: Answer, pieces: Iterator[bytes]) -> None:
        parts[:] = list(pieces)
        if looks_like_page(b"".join(parts[:1])):
            msg = "a web page, not a weather file"
            raise ValueError(msg)

    line = ServerLine("typical year", patience=patience or Patience(), tell=tell)
    line.fetch(Request(address, largest=LARGEST_BYTES), take)
    with TemporaryDirectory(dir=target.parent, prefix=".walkhome-") as folder:
        path = Path(folder) / target.name
        path.write_bytes(b"".join(parts))
        try:
            check(path)
        except InputError as fault:
            problem = f"sent no typical year: {fault.problem}"
            raise InputError(shown_address(address), problem) from None
        path.replace(target)
    return target
