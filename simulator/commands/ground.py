"""The commands about the ground: fetch it once, and look after what was fetched."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from simulator.commands.runner import BAD_INPUT, DONE, command, plan_option, say
from simulator.errors import InputError

if TYPE_CHECKING:
    from simulator.commands.runner import Commands
    from simulator.fetch.area import Fetched
    from simulator.fetch.cache import Cache
    from simulator.fetch.geocode import Found
    from simulator.plan import Plan


def add_ground_commands(commands: Commands) -> None:
    """Describe fetch and cache; imports nothing heavy."""
    fetch = command(
        commands,
        "fetch",
        "bring map and heights of a plan's area, once; afterwards no network is needed",
        "walkhome fetch mywalk/plan.toml",
        _fetch,
    )
    plan_option(fetch)
    fetch.add_argument(
        "--yes", action="store_true", help="take the places found for names without asking"
    )
    fetch.add_argument(
        "--fresh", action="store_true", help="fetch anew what the cache has, e.g. after months"
    )
    fetch.add_argument(
        "--look", action="store_true", help="say what would be fetched, and ask no server"
    )
    fetch.add_argument("--json", action="store_true", help="print the result as JSON")

    cache = command(
        commands,
        "cache",
        "list, limit or clear what has been fetched",
        "walkhome cache --limit 500",
        _cache,
    )
    cache.add_argument("--clear", action="store_true", help="remove everything that was fetched")
    cache.add_argument(
        "--limit", metavar="MB", type=float, help="set the size that the cache keeps to"
    )
    cache.add_argument("--json", action="store_true", help="print the list as JSON")


class Progress:
    """One line on a terminal that says how far it is; silent elsewhere.

    Parameters
    ----------
    stream : TextIO
        Where to write.
    """

    COLUMNS = 79

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._on = stream.isatty()
        self._written = False

    def __call__(self, stage: str) -> None:
        """Say how far it is; takes the place of what was said before."""
        if self._on:
            from simulator.files import terminal_safe

            line = terminal_safe(stage)[: self.COLUMNS]
            self._stream.write(f"\r{line:<{self.COLUMNS}}")
            self._stream.flush()
            self._written = True

    def close(self) -> None:
        """Wipe the line."""
        if self._written:
            self._stream.write(f"\r{'':<{self.COLUMNS}}\r")
            self._stream.flush()
            self._written = False


def _fetch(chosen: argparse.Namespace) -> int:
    """Look up names, then fetch map and heights."""
    from simulator.fetch.area import fetch, look_words
    from simulator.fetch.cache import Cache
    from simulator.plan import Plan

    if not _settle_names(chosen):
        return BAD_INPUT  # a place that the person does not take is an input to correct
    plan = Plan.read(chosen.plan, check_files=False)
    cache = Cache()
    if chosen.look:
        say(look_words(plan, cache))
        return DONE
    progress = Progress(sys.stderr)
    try:
        fetched = fetch(plan, cache=cache, tell=progress, fresh=chosen.fresh)
        weather = _fetch_weather(plan, progress)
    finally:
        progress.close()
    if chosen.json:
        say(json.dumps(_facts(fetched, cache, weather), indent=2, ensure_ascii=False))
    else:
        say(_told(chosen.plan, plan, fetched, weather))
    return DONE


def _settle_names(chosen: argparse.Namespace) -> bool:
    """Look up places written by name, and show them before they are used."""
    from simulator.plan.tables import places_by_name, read_names, read_tables

    tables = read_tables(chosen.plan)
    known = read_names(chosen.plan)
    wanted = [place for place in places_by_name(tables) if place.name not in known]
    if not wanted:
        return True
    from simulator.fetch.area import sources_of
    from simulator.fetch.geocode import CREDIT, look_up
    from simulator.plan.tables import refuse_address, write_names

    own = tables.get("fetch")
    named = own.get("places_from") if isinstance(own, dict) else None
    address = named if isinstance(named, str) else sources_of(None).places
    progress = Progress(sys.stderr)
    progress(f"looking up {len(wanted)} place(s)")
    refuse_address("fetch.places_from", address)
    names = list(dict.fromkeys(place.name for place in wanted))
    try:
        found = look_up(names, address=address, tell=progress)
    finally:
        progress.close()
    _show([(place.key, place.name) for place in wanted], found)
    if not chosen.yes and not _agreed():
        say("Nothing was taken. Write the place more fully, or as [latitude, longitude].")
        return False
    credit = f"{CREDIT}, accessed {datetime.now(UTC).date().isoformat()}"
    rows = [(place.name, place.lat, place.lon, place.display) for place in found]
    say(f"Kept in {write_names(chosen.plan, rows, credit=credit)}")
    return True


def _show(wanted: Sequence[tuple[str, str]], found: Sequence[Found]) -> None:
    by_name = {place.name: place for place in found}
    stream = sys.stderr
    for key, name in wanted:
        place = by_name[name]
        stream.write(_safe(f"{key}: {name}") + "\n")
        stream.write(_safe(f"  found: {place.display}") + "\n")
        stream.write(f"  at:    [{place.lat:.6f}, {place.lon:.6f}]\n")
    stream.flush()


def _agreed() -> bool:
    if not sys.stdin.isatty():
        where = "places by name"
        problem = "someone must look at what was found: run it in a terminal, or with --yes"
        raise InputError(where, problem)
    sys.stderr.write("Are these the right places? [y/N] ")
    sys.stderr.flush()
    return sys.stdin.readline().strip().lower() in {"y", "yes"}


def _fetch_weather(plan: Plan, progress: Progress) -> Path | None:
    """Bring the typical year that the plan names, when an address for it is set."""
    target = plan.weather.file
    if plan.fetch.weather_from is None or target is None or target.exists():
        return None
    from simulator.fetch.weather import fetch_weather
    from simulator.sky.weather_files import read_weather

    lat, lon = plan.trip.start

    def check(path: Path) -> None:
        read_weather(path, plan.trip.zone.key)

    return fetch_weather(
        plan.fetch.weather_from, lat=lat, lon=lon, target=target, check=check, tell=progress
    )


def _facts(fetched: Fetched, cache: Cache, weather: Path | None) -> dict[str, object]:
    record = fetched.record
    return {
        "schema": "walkhome fetch 1",
        "files": [
            {"path": str(cache.path_of(file)), "sha256": file.sha256, "bytes": file.size}
            for file in record.files
        ],
        "cells": len(record.facts["cells"]),
        "pieces": fetched.pieces,
        "reused": fetched.reused,
        "received_bytes": fetched.received,
        "elapsed_s": round(fetched.elapsed_s, 1),
        "accessed": record.facts["accessed"],
        "data_of": record.facts["data_of"],
        "missing_tiles": list(fetched.missing),
        "weather": None if weather is None else str(weather),
    }


def _told(source: Path, plan: Plan, fetched: Fetched, weather: Path | None) -> str:
    """Say what has come and what to do next."""
    record = fetched.record
    oldest, newest = record.facts["data_of"]
    data = "" if not oldest else f", data of {oldest[:10]}"
    if newest[:10] != oldest[:10]:
        data += f" to {newest[:10]}"
    lines = [
        (
            f"Map: {record.facts['ways']} ways in {fetched.pieces} pieces ({fetched.reused} of "
            f"them kept before){data}."
        ),
        (
            f"Fetched {fetched.received / 1e6:.1f} MB in {fetched.elapsed_s:.0f} s; "
            f"{record.size / 1e6:.1f} MB kept."
        ),
        "Map data © OpenStreetMap contributors, ODbL 1.0.",
    ]
    if len(record.files) > 1:
        from simulator.fetch.heights import CREDIT

        lines.append(f"{CREDIT}.")
    if fetched.missing:
        lines.append(f"No heights for {len(fetched.missing)} square degree(s), as over open sea.")
    if weather is not None:
        lines.append(f"Typical year: {weather}")
    if plan.map.extract is None:
        lines.append(f"Next, online or not: walkhome plan {source}")
    else:
        lines.append(
            f"The plan names its own map ({plan.map.extract.name}): take `extract` out to use "
            "the fetched one."
        )
    return "\n".join(lines)


def _cache(chosen: argparse.Namespace) -> int:
    """List the cache, after clearing or limiting it."""
    from simulator.fetch.cache import Cache

    cache = Cache()
    progress = Progress(sys.stderr)
    removed = 0
    if chosen.clear or chosen.limit is not None:
        with cache.writing(lambda: progress("another walkhome is fetching; waiting for it")):
            progress.close()
            if chosen.limit is not None:
                cache.set_limit_mb(chosen.limit)
            removed = cache.clear() if chosen.clear else cache.shrink()
    records = cache.records()
    if chosen.json:
        rows = [
            {
                "kind": one.kind,
                "about": one.about,
                "made": _day(one.made_epoch_s),
                "bytes": one.size,
                "files": [str(cache.path_of(file)) for file in one.files],
            }
            for one in records
        ]
        whole = {"folder": str(cache.folder), "limit_mb": cache.limit_mb(), "records": rows}
        say(json.dumps(whole, indent=2, ensure_ascii=False))
        return DONE
    if chosen.clear or removed:
        say(f"Removed {removed / 1e6:.1f} MB.")
    say(f"{cache.folder}: {cache.size() / 1e6:.1f} MB of at most {cache.limit_mb():g} MB")
    for one in (one for one in records if one.kind == "area"):
        say(_safe(f"  {_day(one.made_epoch_s)} {one.size / 1e6:8.1f} MB  {one.about}"))
    parts = [one for one in records if one.kind == "piece"]
    if parts:
        size = sum(one.size for one in parts) / 1e6
        say(f"  {len(parts)} pieces, {size:.1f} MB, so that a fetch need not begin again")
    return DONE


def _day(epoch_s: float) -> str:
    return datetime.fromtimestamp(epoch_s, UTC).date().isoformat()


def _safe(text: str) -> str:
    from simulator.files import terminal_safe

    return terminal_safe(text)
