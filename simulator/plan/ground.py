"""Where the ground of a plan comes from when no file is named, and places written by name."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, NamedTuple

from simulator.errors import InputError
from simulator.faults import shown
from simulator.files import read_text, write_text
from simulator.plan.values import Number, Part, Text, as_point, described


class Fetch(Part):
    """What ``walkhome fetch`` brings into the cache, and from where."""

    longest_way: Annotated[
        Number,
        described(
            "ways up to this many times the straight line, of each leg, are on the map",
            low=1.1,
            high=4,
            why="less leaves no detour, more fetches a country",
        ),
    ] = 1.5
    margin_km: Annotated[
        Number,
        described("least room around start, vias and home", unit="km", low=0.5, high=50),
    ] = 2.0
    streets_from: Annotated[
        Text | None,
        described(
            "server that answers Overpass questions; a public one when left out",
            example='"https://maps.example.org/api/interpreter"',
        ),
    ] = None
    heights_from: Annotated[
        Text | None,
        described(
            'server with tiles laid out as the Copernicus model of 30 m; "none" for no heights; a '
            "public one when left out",
            example='"https://heights.example.org/tiles"',
        ),
    ] = None
    places_from: Annotated[
        Text | None,
        described(
            "geocoder for places written by name; a public one when left out",
            example='"https://places.example.org"',
        ),
    ] = None
    weather_from: Annotated[
        Text | None,
        described(
            "where to get the typical year that weather.file names, when it is missing",
            example='"https://weather.example.org/{lat:.2f}/{lon:.2f}/year.epw"',
        ),
    ] = None


class NamedPlace(NamedTuple):
    """A place that a plan names in words.

    Attributes
    ----------
    key : str
        Where it stands, e.g. ``trip.start``.
    name : str
        As written.
    """

    key: str
    name: str


def names_beside(source: Path) -> Path:
    """Say which file holds the places of a plan that stand there by name.

    Parameters
    ----------
    source : pathlib.Path
        The plan.

    Returns
    -------
    pathlib.Path
        ``plan.names.toml`` beside ``plan.toml``.
    """
    return source.with_suffix(".names.toml")


def read_names(source: Path) -> dict[str, tuple[float, float]]:
    """Read the places that were looked up for a plan.

    Parameters
    ----------
    source : pathlib.Path
        The plan.

    Returns
    -------
    dict of str to (float, float)
        Name to latitude and longitude [degrees]; empty without the file.

    Raises
    ------
    InputError
        When the file is not as ``walkhome fetch`` writes it.
    """
    path = names_beside(source)
    if not path.exists():
        return {}
    text = read_text(path, what="a list of looked-up places")
    try:
        return {name: as_point(row["at"]) for name, row in tomllib.loads(text).items()}
    except (tomllib.TOMLDecodeError, ValueError, KeyError, TypeError) as fault:
        cause = "a place lacks `at`" if isinstance(fault, KeyError) else str(fault)
        problem = f"{cause}; correct it, or delete the file and run walkhome fetch again"
        raise InputError(str(path), problem) from None


def write_names(
    source: Path, rows: Sequence[tuple[str, float, float, str]], *, credit: str
) -> Path:
    """Add places to those looked up for a plan.

    Parameters
    ----------
    source : pathlib.Path
        The plan.
    rows : sequence of (str, float, float, str)
        Name, latitude and longitude [degrees], and what the geocoder calls it.
    credit : str
        Whose data the places are, and when they were asked for.

    Returns
    -------
    pathlib.Path
        The file written.
    """
    path = names_beside(source)
    known = read_names(source)
    old = tomllib.loads(read_text(path, what="a list of looked-up places")) if known else {}
    table = {name: (*known[name], str(old[name].get("found", ""))) for name in known}
    table |= {name: (lat, lon, found) for name, lat, lon, found in rows}
    lines = [
        f"# Places that {source.name} has by name, looked up by walkhome fetch. Correct `at`,",
        "# [latitude, longitude], where it is wrong. Delete a place to have it looked up again.",
        f"# {credit}",
    ]
    for name, (lat, lon, found) in table.items():
        # JSON strings are TOML strings, except for one control character that neither prints.
        lines += ["", f"[{_quoted(name)}]", f"at = [{lat:.7f}, {lon:.7f}]"]
        lines.append(f"found = {_quoted(found)}")
    write_text(path, "\n".join(lines) + "\n")
    return path


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def places_by_name(tables: Mapping[str, Any]) -> Iterator[NamedPlace]:
    """Go through the places of a plan that are written in words.

    Parameters
    ----------
    tables : mapping
        The plan as read from TOML.

    Yields
    ------
    NamedPlace
        Start, vias and home, as far as they are text.
    """
    trip = tables.get("trip")
    if not isinstance(trip, Mapping):
        return
    via = trip.get("via")
    stops = via if isinstance(via, list) else [via]
    rows = [("trip.start", trip.get("start"))]
    rows += [(f"trip.via[{number}]", place) for number, place in enumerate(stops, start=1)]
    rows.append(("trip.home", trip.get("home")))
    for key, place in rows:
        if isinstance(place, str) and place.strip():
            yield NamedPlace(key, place)


def with_names(
    tables: Mapping[str, Any], names: Mapping[str, tuple[float, float]]
) -> dict[str, Any]:
    """Put places where a plan has names; a name not known stays, and is refused as one.

    Parameters
    ----------
    tables : mapping
        The plan as read from TOML.
    names : mapping of str to (float, float)
        Latitude and longitude of each name [degrees].

    Returns
    -------
    dict
        The plan with coordinates.
    """
    if not any(place.name in names for place in places_by_name(tables)):
        return dict(tables)

    def at(place: object) -> object:
        return list(names[place]) if isinstance(place, str) and place in names else place

    trip = dict(tables["trip"])
    for key in ("start", "home"):
        if key in trip:
            trip[key] = at(trip[key])
    if "via" in trip:
        via = trip["via"]
        trip["via"] = [at(place) for place in via] if isinstance(via, list) else [at(via)]
    return {**tables, "trip": trip}


def read_tables(source: Path) -> dict[str, Any]:
    """Read a plan's tables as they stand, before anything is checked.

    Parameters
    ----------
    source : pathlib.Path
        The plan.

    Returns
    -------
    dict
        Empty when the file is not TOML; reading the plan then says so.
    """
    try:
        return tomllib.loads(read_text(source, what="a plan in TOML"))
    except tomllib.TOMLDecodeError:
        return {}


def refuse_address(where: str, address: str) -> None:
    """Refuse what is no web address.

    Parameters
    ----------
    where : str
        Key or variable that named it.
    address : str
        What was found.

    Raises
    ------
    InputError
        When it does not begin with http:// or https://.
    """
    if not address.startswith(("http://", "https://")):
        problem = f"found {shown(address)}; an address with http:// or https:// is needed"
        raise InputError(where, problem)
