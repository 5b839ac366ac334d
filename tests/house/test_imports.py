"""What starting up may load: little for the package, less for the help text."""

from __future__ import annotations

import ast
import subprocess
import sys

import pytest

HEAVY = {
    "geopandas",
    "matplotlib",
    "networkx",
    "numpy",
    "osmium",
    "osmnx",
    "pandas",
    "pvlib",
    "pydantic",
    "pyproj",
    "rasterio",
    "scipy",
    "shapely",
    "typst",
}

MOST_MODULES = {"import": 60, "help": 110}
"""Modules that start-up may add to a bare interpreter; measured 30 and 60 on Python 3.11, with room
for the standard library of later versions."""


def loaded_by(code: str) -> set[str]:
    """Run code in a fresh interpreter; give the modules it added."""
    before, after = "import sys; bare = set(sys.modules)", "print(sorted(set(sys.modules) - bare))"
    script = f"{before}\n{code}\nprint()\n{after}"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return set(ast.literal_eval(done.stdout.splitlines()[-1]))


HELP = """
from simulator.cli import main
try:
    main(["{words}"])
except SystemExit as end:
    assert not end.code
"""


def test_importing_the_package_loads_nothing_heavy() -> None:
    loaded = loaded_by("import simulator")
    assert not loaded & HEAVY
    assert len(loaded) <= MOST_MODULES["import"]


def test_the_help_text_loads_nothing_heavy() -> None:
    loaded = loaded_by(HELP.format(words="--help"))
    assert not loaded & HEAVY
    assert len(loaded) <= MOST_MODULES["help"]


@pytest.mark.parametrize("command", ["demo", "new", "plan"])
def test_the_help_of_a_command_loads_nothing_heavy(command: str) -> None:
    assert not loaded_by(HELP.format(words=f'{command}", "--help')) & HEAVY


def test_the_public_face_names_just_what_it_offers() -> None:
    names = "import simulator; assert all(getattr(simulator, one) for one in simulator.__all__)"
    assert "osmnx" not in loaded_by(names)
    assert len(loaded_by("import simulator; assert 5 <= len(simulator.__all__) <= 14")) > 0


@pytest.mark.slow
def test_a_whole_walk_needs_neither_osmnx_nor_the_global_figure_state(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    folder = tmp_path_factory.mktemp("demo")
    loaded = loaded_by(
        f"from simulator.cli import main; assert main(['demo', '--out', {str(folder)!r}]) == 0"
    )
    assert "numpy" in loaded
    assert not loaded & {"osmnx", "geopandas", "matplotlib.pyplot", "igraph"}
