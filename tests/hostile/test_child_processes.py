"""No process of ours runs code that lies in the folder of a plan."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import PLAN
from tests.hostile.conftest import Spoil

ROOT = Path(__file__).resolve().parents[2]
TRAPS = (
    "osmnx.py", "numpy.py", "simulator/__init__.py", "json.py", "sitecustomize.py",
    "multiprocessing/__init__.py", "concurrent/__init__.py", "pickle.py",
)  # fmt: skip


def set_traps(folder: Path) -> Path:
    """Lay modules into a folder that leave a mark when they are run."""
    mark = folder / "mark"
    for trap in TRAPS:
        path = folder / trap
        path.parent.mkdir(exist_ok=True)
        path.write_text(f"open({str(mark)!r}, 'w').close()\n", encoding="utf-8")
    return mark


def run(folder: Path, *words: str, before: str = "") -> subprocess.CompletedProcess[str]:
    """Run the command as installed: its script's folder is on the path, the working one is not."""
    code = f"import sys; {before}; from simulator.__main__ import main; sys.exit(main())"
    return subprocess.run(
        [sys.executable, "-P", "-c", code, *words],
        cwd=folder, capture_output=True, check=False, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def test_looking_up_a_place_runs_nothing_from_the_working_folder(spoilt: Spoil) -> None:
    plan = spoilt(start='"Mill Street"', added='\n[fetch]\nplaces_from = "http://127.0.0.1:9"\n')
    mark = set_traps(plan.parent)
    done = run(plan.parent, "fetch", plan.name, before=QUICK)
    assert done.returncode == 2, done.stderr
    assert "127.0.0.1:9: cannot be reached" in done.stderr
    assert not mark.exists()


QUICK = "import time; time.sleep = lambda _: None"
"""Waits between tries take no time."""


@pytest.mark.slow
@pytest.mark.parametrize("start", ["fork", "spawn"])
def test_worker_processes_run_nothing_from_the_working_folder(spoilt: Spoil, start: str) -> None:
    # Where processes are spawned they start as a fresh interpreter; spawning is the rule on
    # Windows and macOS (Python documentation, "multiprocessing", "Contexts and start methods").
    plan = spoilt()
    assert "[trip]" in PLAN
    people = "id,start_lat,start_lon,home_lat,home_lon\n" + "".join(
        f"{number},46.0002,-64.7998,46.0148,-64.7952\n" for number in range(4)
    )
    (plan.parent / "people.csv").write_text(people, encoding="utf-8")
    mark = set_traps(plan.parent)
    before = f"import multiprocessing; multiprocessing.set_start_method({start!r})"
    words = ("many", plan.name, "people.csv", "--workers", "2", "--out", "out")
    done = run(plan.parent, *words, before=before)
    assert done.returncode == 0, done.stderr
    assert not mark.exists()


def test_every_child_process_of_the_program_is_isolated() -> None:
    # -I and -P keep the working folder off the path (Python documentation, "Command line").
    for path in sorted((ROOT / "simulator").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                called = node.value.id, node.attr
                if called in {("subprocess", "run"), ("subprocess", "Popen"), ("os", "system")}:
                    pytest.fail(f"{path.name}: line {node.lineno}: start it with -I, say so here")
