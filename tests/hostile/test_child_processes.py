"""No child process runs code that lies in the folder of a plan."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.fetch import geocode as geocode

ROOT = Path(__file__).resolve().parents[2]
TRAPS = ("osmnx.py", "simulator/__init__.py", "json.py", "sitecustomize.py")


@pytest.mark.parametrize("trap", TRAPS)
def test_looking_up_a_place_runs_nothing_from_the_working_folder(
    trap: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A folder from elsewhere may hold anything beside its plan.
    mark = tmp_path / "mark"
    path = tmp_path / trap
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"open({str(mark)!r}, 'w').close()\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError):
        geocode.look_up(["Mill Street"], address="http://127.0.0.1:9", longest_s=60.0)
    assert not mark.exists()


@pytest.mark.parametrize("trap", ["osmnx.py", "simulator/__init__.py"])
def test_looking_up_a_place_runs_nothing_from_a_path_in_the_environment(
    trap: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # PYTHONPATH of an empty part means the working folder; the package itself stays found.
    mark = tmp_path / "mark"
    path = tmp_path / trap
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"open({str(mark)!r}, 'w').close()\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(["", os.environ.get("PYTHONPATH", "")]))
    with pytest.raises(InputError):
        geocode.look_up(["Mill Street"], address="http://127.0.0.1:9", longest_s=60.0)
    assert not mark.exists()


def test_every_child_process_of_the_program_is_isolated() -> None:
    # -I and -P both keep the working folder off the path (Python documentation, "Command line and
    # environment"); worker processes of multiprocessing inherit the path of their parent.
    starts = []
    for path in sorted((ROOT / "simulator").rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and isinstance(node.func.value, ast.Name)
                and (node.func.value.id, node.func.attr)
                in {("subprocess", "run"), ("subprocess", "Popen"), ("os", "system")}
            ):
                words = {c.value for c in ast.walk(node) if isinstance(c, ast.Constant)}
                starts.append((path.name, bool(words & {"-I", "-P"})))
    assert starts
    assert all(isolated for _, isolated in starts), starts


def test_the_program_itself_takes_nothing_from_the_working_folder(tmp_path: Path) -> None:
    # The installed command starts with the folder of its script on the path, not the working one.
    (tmp_path / "osmnx.py").write_text("raise SystemExit(77)\n", encoding="utf-8")
    (tmp_path / "numpy.py").write_text("raise SystemExit(77)\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-P", "-m", "simulator", "new", "walk"],
        cwd=tmp_path,
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        text=True,
    )
    assert done.returncode == 0, done.stderr
