"""Fetch a plan's ground: map and heights of its area, into the cache that works offline.

What has come stays: each piece is kept as soon as it is whole, so a fetch that broke off, was
stopped or killed goes on where it was. Only one process fetches at a time.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

from simulator.errors import InputError, MachineError, shown_address
from simulator.fetch.cache import Cache, DamagedError, Record
from simulator.fetch.geocode import GEOCODER
from simulator.fetch.heights import ELEVATION, fetch_heights, tiles_of
from simulator.fetch.http import Patience, ServerLine, TransferError
from simulator.fetch.overpass import (
    MOST_QUARTERINGS,
    OVERPASS,
    TooMuchError,
    fetch_piece,
    merge_pieces,
    quarters,
    question,
)
from simulator.fetch.sources import AREA, area_key, corridor_of, find_area
from simulator.ground.corridor import Box, Cell, Corridor, box_of, hull_of
from simulator.plan import Plan
from simulator.plan.tables import NO_HEIGHTS, refuse_address
from simulator.units import DAY_S

Tell = Callable[[str], None]

MOST_CELLS = 150
"""A larger area is not asked of a public server, but needs an extract: about 13,000 km² at 45
degrees of latitude."""

FRESH_DAYS = 30.0
"""Pieces younger than this are not fetched again [days] (assumed: streets change slowly)."""


@dataclass(frozen=True, slots=True)
class Sources:
    """Servers to ask.

    Attributes
    ----------
    streets, heights, places : str
        Addresses; heights may be ``none``.
    """

    streets: str
    heights: str
    places: str


@dataclass(frozen=True, slots=True)
class Fetched:
    """What a fetch has brought.

    Attributes
    ----------
    record : Record
        The area in the cache.
    corridor : Corridor
        What was asked for.
    received : int
        Bytes over the line.
    elapsed_s : float
        Time it took [s].
    pieces, reused : int
        Pieces of the map, and how many of them were in the cache already.
    missing : tuple of str
        Tiles that the height model does not have.
    """

    record: Record
    corridor: Corridor
    received: int
    elapsed_s: float
    pieces: int
    reused: int
    missing: tuple[str, ...]


def sources_of(plan: Plan | None, environ: Mapping[str, str] = os.environ) -> Sources:
    """Say which servers to ask: the plan's, else the environment's, else the public ones.

    Parameters
    ----------
    plan : Plan, optional
        With its ``[fetch]`` table.
    environ : mapping of str to str
        ``WALKHOME_STREETS_FROM``, ``WALKHOME_HEIGHTS_FROM``, ``WALKHOME_PLACES_FROM``.

    Returns
    -------
    Sources
        Addresses.

    Raises
    ------
    InputError
        When one is no address.
    """
    chosen = {}
    for name, public in (("streets", OVERPASS), ("heights", ELEVATION), ("places", GEOCODER)):
        variable = f"WALKHOME_{name.upper()}_FROM"
        asked = getattr(plan.fetch, f"{name}_from") if plan else None
        where = f"fetch.{name}_from" if asked else variable
        chosen[name] = asked or environ.get(variable) or public
        if not (name == "heights" and chosen[name] == NO_HEIGHTS):
            refuse_address(where, chosen[name])
    return Sources(**chosen)


def look_words(plan: Plan, cache: Cache) -> str:
    """Say what a fetch would do, and ask nobody.

    Parameters
    ----------
    plan : Plan
        What is asked.
    cache : Cache
        Where it would end up.

    Returns
    -------
    str
        Area, servers, and what is there already; a line each.
    """
    corridor = corridor_of(plan)
    cells = corridor.cells()
    west, south, east, north = hull_of(cells)
    sources = sources_of(plan)
    there = find_area(cache, corridor)
    heights = sources.heights if sources.heights == NO_HEIGHTS else shown_address(sources.heights)
    return "\n".join(
        [
            (
                f"Area: {south:.1f} to {north:.1f} north, {west:.1f} to {east:.1f} east, "
                f"{len(cells)} pieces."
            ),
            f"Streets from: {shown_address(sources.streets)}",
            f"Heights from: {heights}",
            f"In the cache: {there.about if there else 'nothing for this area'}",
        ]
    )


def fetch(
    plan: Plan,
    *,
    cache: Cache,
    tell: Tell,
    patience: Patience | None = None,
    fresh: bool = False,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> Fetched:
    """Fetch map and heights for a plan.

    Parameters
    ----------
    plan : Plan
        What is asked; rasters that it names are not fetched.
    cache : Cache
        Where it ends up.
    tell : callable
        Told how far it is.
    patience : Patience, optional
        Waits and tries.
    fresh : bool
        Fetch anew what the cache has.
    now : callable
        Date and time, for the credit.

    Returns
    -------
    Fetched
        What came.

    Raises
    ------
    InputError
        When the area is too large, or a server cannot be asked.
    MachineError
        When nothing can be written.
    """
    corridor = corridor_of(plan)
    cells = corridor.cells()
    if len(cells) > MOST_CELLS:
        where = f"{plan.source or 'plan'}: fetch.longest_way"
        problem = (
            f"the area has {len(cells)} pieces of a tenth of a degree; at most {MOST_CELLS} are "
            "asked of a server: lower longest_way, or name an extract of the country"
        )
        raise InputError(where, problem)
    sources = sources_of(plan)
    if plan.map.elevation:
        sources = Sources(sources.streets, NO_HEIGHTS, sources.places)
    work = _Work(cache, sources, tell, patience or Patience(), fresh, now().date().isoformat())
    try:
        with cache.writing(lambda: tell("another walkhome is fetching; waiting for it")):
            return work.run(cells, corridor)
    except OSError as fault:
        problem = f"cannot be written ({fault.strerror}); make room, or set WALKHOME_CACHE"
        raise MachineError(str(cache.folder), problem) from None


@dataclass(slots=True)
class _Work:
    """One fetch while it runs."""

    cache: Cache
    sources: Sources
    tell: Tell
    patience: Patience
    fresh: bool
    day: str
    reused: int = 0
    moments: list[str] = field(default_factory=list)

    def run(self, cells: Sequence[Cell], corridor: Corridor) -> Fetched:
        clock = self.patience.clock
        began = clock()
        line = ServerLine("street data", patience=self.patience, tell=self.tell)
        # A store of files, unlike a server that computes, needs no rest between requests.
        restless = replace(self.patience, pause_s=0.0)
        heights_line = ServerLine("heights", patience=restless, tell=self.tell)
        pieces: list[Path] = []
        for number, cell in enumerate(cells, start=1):
            spent, asked = clock() - began, number - 1 - self.reused
            left_s = spent / asked * (len(cells) - number + 1) if asked > 0 else 0.0
            self.tell(
                f"streets {number} of {len(cells)}, {line.received / 1e6:.1f} MB, {spent:.0f} s"
                + (f", at most {left_s:.0f} s left" if asked > 0 else "")
            )
            pieces += self.pieces(line, box_of(cell), MOST_QUARTERINGS)
        key = area_key(cells, streets=self.sources.streets, heights=self.sources.heights)
        with self.cache.unfinished() as folder:
            self.tell(f"putting {len(pieces)} pieces together")
            extract = folder / "map.osm.pbf"
            ways = merge_pieces(
                pieces, extract, data_of=min(self.moments, default=""), accessed=self.day
            )
            rasters, missing = self.heights(heights_line, cells, folder)
            record = self.cache.put(
                key,
                [extract, *rasters],
                kind=AREA,
                about=_about(corridor, ways),
                facts={
                    "cells": [list(cell) for cell in cells],
                    "accessed": self.day,
                    "data_of": [min(self.moments, default=""), max(self.moments, default="")],
                    "ways": ways,
                    "missing_tiles": missing,
                },
            )
        self.cache.shrink(keep=[key])
        return Fetched(
            record=record,
            corridor=corridor,
            received=line.received + heights_line.received,
            elapsed_s=clock() - began,
            pieces=len(pieces),
            reused=self.reused,
            missing=tuple(missing),
        )

    def pieces(self, line: ServerLine, box: Box, depth: int) -> list[Path]:
        """Give the answers for a box: from the cache, from the server, or in quarters."""
        key = f"streets {self.sources.streets} {question(box)}"
        record = self._kept(key)
        if record is None:
            record = self._asked(line, box, key, depth)
        else:
            self.reused += 1
        if record.facts.get("quartered"):
            return [path for part in quarters(box) for path in self.pieces(line, part, depth - 1)]
        if record.facts.get("data_of"):
            self.moments.append(str(record.facts["data_of"]))
        return [self.cache.path_of(file) for file in record.files]

    def _kept(self, key: str) -> Record | None:
        record = None if self.fresh else self.cache.find(key)
        if record is None:
            return None
        # A clock that was set back makes no piece fresh for ever.
        if not 0 <= self.cache.age_s(record) <= FRESH_DAYS * DAY_S:
            return None
        with suppress(DamagedError):
            self.cache.read(record)
            return record
        return None

    def _asked(self, line: ServerLine, box: Box, key: str, depth: int) -> Record:
        about = "streets {1:.2f} to {3:.2f} north, {0:.2f} to {2:.2f} east".format(*box)
        with self.cache.unfinished() as folder:
            target = folder / "piece.osm.gz"
            try:
                told = fetch_piece(line, self.sources.streets, box, target)
            except TooMuchError as fault:
                if depth <= 0:
                    problem = f"could not answer for even a small piece ({fault}); try again later"
                    raise TransferError(self.sources.streets, problem) from None
                self.tell("too much for the server; asking in quarters")
                return self.cache.put(key, [], kind="piece", about=about, facts={"quartered": True})
            return self.cache.put(
                key, [target], kind="piece", about=about, facts={"data_of": told.data_of}
            )

    def heights(
        self, line: ServerLine, cells: Sequence[Cell], folder: Path
    ) -> tuple[list[Path], list[str]]:
        if self.sources.heights == NO_HEIGHTS:
            return [], []
        written, missing = fetch_heights(
            line,
            self.sources.heights,
            cells,
            cache=self.cache,
            folder=folder,
            day=self.day,
            fresh=self.fresh,
            tell=self.tell,
        )
        if not written:
            tried = ", ".join(missing) or f"{len(tiles_of(cells))} tiles"
            problem = (
                f"has no heights for any part of the area ({tried}); check the address, or set "
                'heights_from = "none" under [fetch] to count the ground as flat'
            )
            raise TransferError(self.sources.heights, problem)
        return written, missing


def _about(corridor: Corridor, ways: int) -> str:
    places = " to ".join(f"{lat:.4f},{lon:.4f}" for lat, lon in corridor.places)
    return f"{places}: {ways} ways"
