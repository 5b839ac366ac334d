"""One name for one quantity: the glossary of DEVELOPERS.md against every public name."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import pkgutil
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Final

import pytest

import simulator

# The unit that a name ends on, and how the glossary writes it.
UNITS: Final = {
    "_c": "°C",
    "_clo": "clo",
    "_deg": "deg",
    "_g": "g",
    "_g_h": "g/h",
    "_g_m2_h": "g/m2/h",
    "_h": "h",
    "_kcal": "kcal",
    "_kg": "kg",
    "_km": "km",
    "_km_h": "km/h",
    "_l": "l",
    "_lux": "lux",
    "_m": "m",
    "_m2": "m2",
    "_m_s": "m/s",
    "_min": "min",
    "_min_per_h": "min/h",
    "_ml": "ml",
    "_ml_kg_min": "mL/kg/min",
    "_mm": "mm",
    "_mm_h": "mm/h",
    "_pct": "%",
    "_per_h": "1/h",
    "_rad": "rad",
    "_s": "s",
    "_w": "W",
    "_w_kg": "W/kg",
    "_w_m2": "W/m2",
    "_wh": "Wh",
    "_y": "years",
}

# Words that stand for something which has a name already.
INSTEAD: Final = {
    r"latitude": "lat",
    r"longitude|lng|long": "lon",
    r"(.*_)?(kmh|kph|mps|percent|metres|meters|secs|seconds|minutes|hrs)": "a unit of UNITS",
    r"(air_)?temp(erature)?(_c)?|t_air|ta": "air_c",
    r"rh|rh_pct|relative_humidity(_pct)?|humidity": "humidity_pct",
    r"wind|wind_speed(_m_s)?": "wind_m_s",
    r"dist|dist_m|distance": "distance_m",
    r"elev|elev_m|elevation_m|altitude(_m)?|ele": "height_m",
    r"grade|gradient|incline": "slope",
    r"weight|weight_kg|body_mass": "mass_kg",
    r"speed|velocity|speed_ms|v": "speed_m_s",
    r"age|years": "age_y",
    r"timestamp|unixtime|epoch": "epoch_s",
    r"tzname|time_zone": "zone",
}

# Where one of those words is right after all.
ALLOWED: Final = {
    ("simulator.report", "weight"): "how bold a letter or a line is, not a mass",
}


def room_of(module_name: str) -> str:
    """Give the room that a module lies in; all plan modules are one room."""
    parts = module_name.split(".")
    return "plan" if len(parts) > 1 and parts[1].startswith("plan") else ".".join(parts[:2])


def names_in(member: object) -> Iterator[str]:
    """Give the arguments of a function, or the fields of a class and its methods' arguments."""
    if inspect.isfunction(member):
        yield from inspect.signature(member).parameters
    elif inspect.isclass(member):
        if dataclasses.is_dataclass(member):
            yield from (field.name for field in dataclasses.fields(member))
        yield from getattr(member, "model_fields", {})
        yield from getattr(member, "_fields", ())
        for name, value in vars(member).items():
            if inspect.isfunction(value) and not name.startswith("_"):
                yield from inspect.signature(value).parameters


@cache
def public_names() -> Mapping[str, frozenset[str]]:
    """Map each public argument or field to the rooms that use it."""
    found: dict[str, set[str]] = defaultdict(set)
    for one in pkgutil.walk_packages(simulator.__path__, "simulator."):
        if one.name.endswith("__main__"):
            continue
        module = importlib.import_module(one.name)
        for name, member in vars(module).items():
            if not name.startswith("_") and getattr(member, "__module__", None) == one.name:
                for word in names_in(member):
                    found[word].add(room_of(one.name))
    return {name: frozenset(rooms) for name, rooms in found.items()}


def unit_of(name: str) -> str | None:
    """Give the unit that a name ends on; the longest ending counts."""
    endings = [ending for ending in UNITS if name.endswith(ending)]
    return UNITS[max(endings, key=len)] if endings else None


@pytest.fixture(scope="module")
def glossary(root: Path) -> dict[str, str]:
    """Read the table under "Glossary": name to unit."""
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.split("\n## Glossary\n")[1].split("\n## ")[0]
    rows = re.findall(r"^\| `(\w+)` \| ([^|]*) \| [^|]+ \|$", section, flags=re.MULTILINE)
    assert len(rows) == len({name for name, _ in rows}), "a name stands twice in the glossary"
    return {name: unit.strip() for name, unit in rows}


def test_a_quantity_that_rooms_share_stands_in_the_glossary(glossary: dict[str, str]) -> None:
    shared = {name for name, rooms in public_names().items() if len(rooms) > 1 and unit_of(name)}
    assert len(shared) > 20
    missing = sorted(shared - glossary.keys())
    assert not missing, f"add to the glossary, or use the name it has there: {missing}"


def test_the_glossary_gives_each_name_the_unit_it_ends_on(glossary: dict[str, str]) -> None:
    wrong = {
        name: (unit, unit_of(name))
        for name, unit in glossary.items()
        if (unit_of(name) or "") != ("" if unit == "-" or name in {"lat", "lon"} else unit)
    }
    assert not wrong, f"name: (glossary, ending) {wrong}"


def test_every_name_of_the_glossary_is_in_use(glossary: dict[str, str]) -> None:
    assert not sorted(glossary.keys() - public_names().keys())


def test_nothing_goes_by_a_second_name() -> None:
    faults = []
    for name, rooms in public_names().items():
        for pattern, instead in INSTEAD.items():
            if re.fullmatch(pattern, name):
                faults += [
                    f"{room}: {name}, say {instead}"
                    for room in sorted(rooms)
                    if (room, name) not in ALLOWED
                ]
    assert not faults, "\n".join(faults)
