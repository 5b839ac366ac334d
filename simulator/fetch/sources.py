"""The ground of a plan: the files it names, or what was fetched for its area; no network here."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from simulator.errors import InputError
from simulator.fetch.cache import Cache, Record
from simulator.ground.corridor import Cell, Corridor
from simulator.plan import Plan

AREA = "area"
"""Kind of a record that holds a map with its heights."""

LEAST_WAY = 1.25
"""A map that reaches at least ways of this many times the straight line is used, and what it lacks
said; about what streets add to a straight line (assumed)."""

LEAST_MARGIN_M = 1000.0
"""Room around start, vias and home that such a map must have [m]."""

CLIP_FROM_BYTES = 60_000_000
"""A map file larger than this is read where the plan needs it only [bytes]: about a small country,
which takes some gigabytes of memory as a whole."""


@dataclass(frozen=True, slots=True)
class Ground:
    """Files of a plan's ground.

    Attributes
    ----------
    plan : Plan
        The plan, naming these files.
    extract : pathlib.Path
        Map.
    area : Corridor or None
        Where to read the map; None for all of it.
    notes : tuple of str
        What the reader of the results should know.
    fetched : bool
        Whether the map was fetched for the area, and holds no more.
    """

    plan: Plan
    extract: Path
    area: Corridor | None
    notes: tuple[str, ...]
    fetched: bool = False


def corridor_of(plan: Plan) -> Corridor:
    """Give the area that a plan asks for."""
    places = (plan.trip.start, *plan.trip.via, plan.trip.home)
    return Corridor(places, plan.fetch.longest_way, 1000.0 * plan.fetch.margin_km)


def with_ground(plan: Plan, *, cache: Cache | None = None) -> Ground:
    """Find the ground of a plan.

    Parameters
    ----------
    plan : Plan
        What is asked.
    cache : Cache, optional
        Where fetched maps are; the system's place when left out.

    Returns
    -------
    Ground
        The files the plan names; for a plan that names no map, those fetched for its area.

    Raises
    ------
    InputError
        When no map is there; the message says how to get one.
    """
    if plan.map.extract is not None:
        return _named(plan, plan.map.extract)
    cache = cache or Cache()
    corridor = corridor_of(plan)
    record = find_area(cache, corridor)
    if record is None:
        name = plan.source or "PLAN.toml"
        where = f"{plan.source or 'plan'}: map.extract"
        problem = (
            f"no map is named and none of this area has been fetched; run `walkhome fetch {name}` "
            "while online, or name an OpenStreetMap extract"
        )
        raise InputError(where, problem)
    extract, *rasters = cache.read(record)
    elevation = plan.map.elevation or tuple(rasters)
    files = plan.map.model_copy(update={"extract": extract, "elevation": elevation})
    return Ground(
        plan=plan.model_copy(update={"map": files}),
        extract=extract,
        area=None,
        notes=tuple(_notes(record, corridor, heights=not plan.map.elevation)),
        fetched=True,
    )


def _named(plan: Plan, extract: Path) -> Ground:
    """Take the file that the plan names; a large one only where the plan needs it."""
    large = extract.is_file() and extract.stat().st_size > CLIP_FROM_BYTES
    if not large or extract.suffix == ".graphml":
        return Ground(plan, extract, None, ())
    reach = plan.fetch.longest_way
    note = (
        f"The map file is large; it was read where ways of up to {reach:g} times the straight line "
        "may lead. If no way home is found, or only a long one, raise longest_way under [fetch]."
    )
    return Ground(plan, extract, corridor_of(plan), (note,))


def on_this_map(reason: str, ground: Ground) -> str:
    """Say of a way that was not found how far the map reaches that was searched.

    Parameters
    ----------
    reason : str
        Why no way was found.
    ground : Ground
        The map.

    Returns
    -------
    str
        The same for a map that was read whole; otherwise with what lies beyond, and what to do.
    """
    if ground.area is None and not ground.fetched:
        return reason
    return (
        f"{reason.rstrip('.')}. The map holds only ways of up to "
        f"{ground.plan.fetch.longest_way:g} times the straight line: a longer one may exist; raise "
        "longest_way under [fetch]" + (", and run walkhome fetch again" if ground.fetched else "")
    )


def find_area(cache: Cache, corridor: Corridor) -> Record | None:
    """Find the newest fetched map of an area."""
    records = cache.records(AREA)
    for wanted in (corridor.cells(), _least(corridor).cells()):
        found = next((one for one in records if set(wanted) <= cells_of(one)), None)
        if found is not None:
            return found
    return None


def cells_of(record: Record) -> set[Cell]:
    """Give the cells that a fetched map covers."""
    return {(row, column) for row, column in record.facts.get("cells", ())}


def area_key(cells: Sequence[Cell], **sources: str) -> str:
    """Name an area in the cache."""
    return f"{AREA} {json.dumps([sorted(cells), sources], sort_keys=True)}"


def _least(corridor: Corridor) -> Corridor:
    return Corridor(
        corridor.places,
        min(corridor.longest_way, LEAST_WAY),
        min(corridor.margin_m, LEAST_MARGIN_M),
    )


def _notes(record: Record, corridor: Corridor, *, heights: bool) -> list[str]:
    """Say how old the map is and what it lacks."""
    facts: dict[str, Any] = dict(record.facts)
    day = datetime.fromtimestamp(record.made_epoch_s, UTC).date().isoformat()
    said = [f"Map fetched on {day}; what has changed since is not on it."]
    if not set(corridor.cells()) <= cells_of(record):
        said.append(
            "The fetched map does not reach all of the area asked for: longer ways around may be "
            "missing. Run walkhome fetch again while online."
        )
    if not heights:
        return said
    if len(record.files) == 1:
        said.append("No heights were fetched: the ground counts as flat.")
        return said
    said.append(
        "Heights are of the surface, in cells of 30 m: in woods and among high buildings they "
        "stand above the ground, and climbing is overstated there."
    )
    missing = facts.get("missing_tiles") or []
    if missing:
        said.append(f"The height model has no data for {len(missing)} square degree(s) of the map.")
    return said
