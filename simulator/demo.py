"""Where the invented demo place lies: in the installed package, or in a checkout."""

from __future__ import annotations

from importlib.resources import as_file, files
from pathlib import Path

from simulator.errors import InputError

PLAN_NAME = "plan.toml"


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
