"""A first plan to edit: every key with its meaning, filled in for the demo place."""

from __future__ import annotations

import json
import shutil
import textwrap
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from simulator.errors import InputError
from simulator.files import read_text, require_writable_folder, staged, write_text
from simulator.plan import Plan, PlanKey, plan_reference
from simulator.plan.values import PlanTable

PLAN_NAME = "plan.toml"

WIDTH = 88
"""Widest note in the plan [characters]."""

PLAN_NOTES = """\
# A plan for the walk home. It runs as it stands, on an invented demo place:
#     walkhome plan plan.toml
# Change the places, the map and yourself. A line that begins with # is a note, or a key at its
# default or left out: take the # away to set it. For a group, repeat the [[walker]] table.
# Files are taken relative to this one. The map is an OpenStreetMap extract (.osm.pbf), the
# heights any elevation raster with a coordinate system.
"""

BAG_NOTES = """\
# One line an item; numbers are for one piece. mass_g is the item as packed, water and food
# included. An empty cell is unknown and is said so, 0 is none. expires: 2027-06-30 or 2027-06.
"""


def starter_plan(plan: Plan) -> str:
    """Write a plan as a file to edit, every key with its meaning."""
    lines = [PLAN_NOTES]
    rows = plan_reference()
    for row in rows:
        if "." not in row.key:
            lines += _line(row, getattr(plan, row.key))
    tables = dict.fromkeys(row.key.split(".")[0] for row in rows if "." in row.key)
    for table in tables:
        keys = [row for row in rows if row.key.startswith(f"{table}.")]
        parts = getattr(plan, table)
        for part in parts if isinstance(parts, tuple) else (parts,):
            heading = f"[[{table}]]" if isinstance(parts, tuple) else f"[{table}]"
            lines += ["", heading, *_table(part, keys)]
    return "\n".join(lines) + "\n"


def _table(part: PlanTable, keys: list[PlanKey]) -> Iterator[str]:
    """Write the keys of one table."""
    for row in keys:
        yield from _line(row, getattr(part, row.key.split(".")[1]))


def _line(row: PlanKey, value: object) -> Iterator[str]:
    """Write one key under its meaning, as a note when it is at its default."""
    name = row.key.rsplit(".", maxsplit=1)[-1]
    allowed = f"{row.kind} [{row.unit}]" if row.unit else row.kind
    said = f"{row.meaning[0].upper()}{row.meaning[1:]}. Allowed: {allowed}."
    yield from textwrap.wrap(said, WIDTH, initial_indent="# ", subsequent_indent="#   ")
    written = row.example if value is None else _toml(value)
    off = value is None or written == row.default
    yield f"# {name} = {written}" if off else f"{name} = {written}"


def _toml(value: object) -> str:
    """Write one value in TOML."""
    if isinstance(value, Path):
        return json.dumps(value.name, ensure_ascii=False)
    if isinstance(value, tuple):
        return f"[{', '.join(_toml(part) for part in value)}]"
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:g}" if float(f"{value:g}") == value else repr(value)
    return json.dumps(value, ensure_ascii=False)


def write_starter(folder: Path, plan: Plan) -> list[Path]:
    """Make a folder with a plan to edit and every file it names."""
    require_writable_folder(folder)
    sources = {path.name: path for _, path in plan.files()}
    names = [PLAN_NAME, *sources]
    taken = [name for name in names if (folder / name).exists()]
    if taken:
        problem = f"found {', '.join(taken)}; nothing is overwritten: give a new folder"
        raise InputError(str(folder), problem)
    with staged(folder) as stage:
        write_text(stage / PLAN_NAME, starter_plan(plan))
        for name, source in sources.items():
            if source == plan.bag.items:
                write_text(stage / name, BAG_NOTES + read_text(source, what="a list of items"))
            else:
                shutil.copyfile(source, stage / name)
    return [folder / name for name in names]
