"""Where the invented demo place lies: in the installed package, or in a checkout."""

from __future__ import annotations

import filecmp
from importlib.resources import as_file, files
from pathlib import Path

from simulator.errors import InputError

PLAN_NAME = "plan.toml"
MAP_NAME, YEAR_NAME = "town.osm.pbf", "year.epw"
"""The map of the place, and the weather of a typical year there."""


def demo_folder() -> Path:
    """Find the folder of the demo place.

    A wheel carries it inside the package; a checkout (an editable install too) has it under
    ``data/``, where its generator writes it.

    Returns
    -------
    pathlib.Path
        Folder with ``plan.toml`` and the files that it names.

    Raises
    ------
    InputError
        When neither place has it.
    """
    package = files("simulator")
    with as_file(package) as here:
        for folder in (here / "_demo", here.parent / "data" / "demo"):
            if (folder / PLAN_NAME).is_file():
                return folder
        problem = "found no plan.toml in the package or in data/demo; install the package again"
        raise InputError(str(here), problem)


def on_demo_place(extract: Path | None) -> bool:
    """Tell whether a map is that of the invented place.

    Parameters
    ----------
    extract : pathlib.Path or None
        Map that a plan names.

    Returns
    -------
    bool
        True for the file that travels with the package, and for a copy.
    """
    if extract is None or extract.name != MAP_NAME:
        return False
    own = demo_folder() / MAP_NAME
    # A first plan brings a copy of the map with it.
    return extract.is_file() and filecmp.cmp(extract, own, shallow=False)
