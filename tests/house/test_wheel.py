"""The wheel is what people get: the tests run against it, and it works away from the checkout."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest

import simulator

RESULTS = {
    "summary.json",
    "hours.csv",
    "refills.csv",
    "route.geojson",
    "route.gpx",
    "timeline.pdf",
    "page.html",
}


def run(words: Sequence[str], *, cwd: Path, path: Path | None = None) -> str:
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    if path is not None:
        clean["PYTHONPATH"] = str(path)
    done = subprocess.run(
        [sys.executable, *words], cwd=cwd, env=clean, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{words}\n{done.stdout}{done.stderr}"
    return done.stdout


@pytest.mark.skipif(not os.environ.get("CI"), reason="a checkout may be installed in place")
def test_the_tests_run_against_the_installed_wheel(root: Path) -> None:
    home = Path(simulator.__file__).resolve()
    assert "site-packages" in home.parts
    assert root not in home.parents


@pytest.fixture(scope="module")
def wheel(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel with the build backend of this environment; no network is asked."""
    folder = tmp_path_factory.mktemp("wheel")
    run(["-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), "."], cwd=root)
    (found,) = folder.glob("*.whl")
    return found


@pytest.mark.slow
def test_the_wheel_holds_the_package_the_demo_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert "simulator/py.typed" in names
    assert "simulator/_demo/plan.toml" in names
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"simulator"}
    assert not [name for name in names if "__pycache__" in name or name.endswith(".pyc")]
    assert wheel.stat().st_size < 6_000_000


@pytest.mark.slow
def test_the_demo_runs_from_the_wheel_alone(
    wheel: Path, root: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    place = tmp_path_factory.mktemp("elsewhere")
    target = place / "target"
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(target)
    where = run(
        ["-c", "import simulator; print(simulator.__file__)"], cwd=place, path=target
    ).strip()
    assert Path(where).is_relative_to(target)
    out = place / "out"
    printed = run(["-m", "simulator", "demo", "--out", str(out), "--json"], cwd=place, path=target)
    summary = json.loads(printed)
    assert {path.name for path in out.iterdir()} >= RESULTS
    assert summary == json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert str(root) not in (out / "page.html").read_text(encoding="utf-8")
    assert 20 < summary["route"]["distance_km"] < 32
