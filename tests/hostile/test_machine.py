"""A machine that gives out, files that are none, and a person who stops: one line, all or nothing.

The command runs as installed, in a process of its own.
"""

from __future__ import annotations

import hashlib
import json
import os
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

import pytest

from simulator import cli
from simulator.files import LEAST_STALE_S, STAGE, of_other_runs, staged, write_text
from tests.conftest import QUICK, TownWriter
from tests.hostile.conftest import Refused, Spoil

ROOT = Path(__file__).resolve().parents[2]
MACHINE, STOPPED = 4, 130
WAY_IN = "import sys; from simulator.__main__ import main; {before}; sys.exit(main())"

TELL_THAT_IT_LISTENS = (
    "import simulator.__main__ as way_in, types; "
    "tell = lambda *_: (sys.stdout.write('.'), sys.stdout.flush()); "
    "way_in.os = types.SimpleNamespace(environ=types.SimpleNamespace(setdefault=tell))"
)
"""The first thing that the way in does within reach of its handler is to write a dot."""

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="limits, pipes and signals of POSIX"
)


def command(*words: str | Path, before: str = "pass") -> list[str]:
    return [sys.executable, "-P", "-c", WAY_IN.format(before=before), *map(str, words)]


def environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT)}


def run(
    *words: str | Path, stdout: int | IO[Any] = subprocess.PIPE, limit_bytes: int | None = None
) -> subprocess.CompletedProcess[str]:
    """Run the command, with a limit on the size of files if one is given."""
    before = "pass"
    if limit_bytes is not None:
        before = (
            "import resource, signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN); "
            f"resource.setrlimit(resource.RLIMIT_FSIZE, ({limit_bytes}, {limit_bytes}))"
        )
    return subprocess.run(
        command(*words, before=before),
        stdout=stdout, stderr=subprocess.PIPE, check=False, text=True, env=environment(),
    )  # fmt: skip


def one_line(said: str) -> str:
    assert said.count("\n") == 1, said
    assert "Traceback" not in said
    assert not said.startswith("unexpected:")
    return said


@pytest.mark.parametrize("limit_bytes", [0, 4096, 200_000])
def test_a_limit_on_the_size_of_files_is_the_machines_fault(
    write_town: TownWriter, tmp_path: Path, limit_bytes: int
) -> None:
    plan, out = write_town(QUICK), tmp_path / "out"
    done = run("plan", plan, "--out", out, limit_bytes=limit_bytes)
    assert done.returncode == MACHINE, done.stderr
    assert "damaged" not in one_line(done.stderr)
    assert not out.exists() or not list(out.iterdir())
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(STAGE)]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full")
@pytest.mark.parametrize("words", [("--version",), ("new", "{tmp}/walk"), ("cache",)])
def test_an_output_that_is_full_is_the_machines_fault(
    words: tuple[str, ...], tmp_path: Path
) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = run(*(word.format(tmp=tmp_path) for word in words), stdout=full)
    assert done.returncode == MACHINE, done.stderr
    assert "No space left" in one_line(done.stderr)


def test_an_output_that_nobody_reads_is_the_machines_fault(tmp_path: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = run("new", tmp_path / "walk", stdout=writer)
    finally:
        os.close(writer)
    assert done.returncode == MACHINE
    one_line(done.stderr)
    assert (tmp_path / "walk" / "plan.toml").is_file()


def test_a_closed_output_is_refused_before_any_work(tmp_path: Path) -> None:
    done = subprocess.run(
        ["/bin/sh", "-c", 'exec "$@" >&-', "sh", *command("new", tmp_path / "walk")],
        stderr=subprocess.PIPE, check=False, text=True, env=environment(),
    )  # fmt: skip
    assert done.returncode == MACHINE
    assert "standard output" in one_line(done.stderr)
    assert not (tmp_path / "walk").exists()


def test_an_output_folder_that_goes_away_is_the_machines_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, refused: Refused
) -> None:
    def going(*_: object) -> int:
        with staged(tmp_path / "out") as stage:
            stage.rmdir()
            write_text(stage / "a.txt", "x")
        return 0

    monkeypatch.setattr(cli, "_done", going)
    refused("demo", code=MACHINE)


@pytest.mark.parametrize("name", ["summary.json", "timeline.pdf", "route.gpx"])
def test_a_folder_in_the_place_of_an_output_file_is_refused_before_any_is_replaced(
    write_town: TownWriter, tmp_path: Path, refused: Refused, name: str
) -> None:
    out = tmp_path / "out"
    (out / name).mkdir(parents=True)
    (out / "hours.csv").write_text("of another run", encoding="utf-8")
    assert name in refused("plan", write_town(QUICK), "--out", out)
    assert (out / "hours.csv").read_text(encoding="utf-8") == "of another run"


def test_no_memory_is_the_machines_fault(monkeypatch: pytest.MonkeyPatch, refused: Refused) -> None:
    def greedy(*_: object) -> int:
        raise MemoryError

    monkeypatch.setattr(cli, "_done", greedy)
    assert "out of memory" in refused("demo", code=MACHINE)


def pipe_in(folder: Path) -> Path:
    path = folder / "pipe"
    os.mkfifo(path)
    assert stat.S_ISFIFO(path.stat().st_mode)
    return path


ODD_FILES: dict[str, Callable[[Path], Path]] = {
    "device": lambda _: Path("/dev/zero"),
    "pipe": pipe_in,
    "folder": lambda folder: folder,
}


@pytest.mark.parametrize("kind", ODD_FILES)
@pytest.mark.parametrize(
    "key", ["plan", "extract", "elevation", "items", "file", "closed_area", "places", "font",
            "people"],
)  # fmt: skip
def test_what_is_no_regular_file_is_never_read(
    key: str, kind: str, spoilt: Spoil, tmp_path: Path, refused: Refused
) -> None:
    odd = ODD_FILES[kind](tmp_path)
    link = tmp_path / {"extract": "m.osm.pbf", "elevation": "h.tif", "file": "w.csv"}.get(key, key)
    link.symlink_to(odd)
    changed = {
        "extract": {"extract": f'"{link}"'},
        "elevation": {"elevation": f'["{link}"]'},
        "items": {"items": f'"{link}"'},
        "file": {"air_c": f'12\nfile = "{link}"'},
        "closed_area": {"added": f'\n[event]\nclosed_area = "{link}"\n'},
        "places": {"extract": f'"town.osm"\nplaces = "{link}"'},
        "font": {"added": f'\n[choices]\nfont = "{link}"\n'},
    }.get(key, {})
    plan = spoilt(**changed)
    if key == "people":
        refused("many", plan, link, "--out", tmp_path / "out")
    else:
        refused("plan", link if key == "plan" else plan, "--out", tmp_path / "out")


def test_a_stop_by_the_person_is_one_line_at_any_time(
    write_town: TownWriter, tmp_path: Path
) -> None:
    # While modules load, while the map is read, while files are made; a long walk through all.
    plan, ends = write_town(QUICK), set()
    for delay_s in (0.0, 0.02, 0.1, 0.3, 0.6, 1.0, 1.5):
        out = tmp_path / f"out {delay_s}"
        process = subprocess.Popen(
            command("plan", plan, "--out", out, before=TELL_THAT_IT_LISTENS),
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment(),
        )  # fmt: skip
        assert process.stdout is not None
        assert process.stdout.read(1) == "."  # it listens from here on
        time.sleep(delay_s)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=60)
        ends.add(process.returncode)
        assert process.returncode in {0, STOPPED}, (delay_s, said)
        if process.returncode == STOPPED:
            assert one_line(said).startswith("stopped")
            assert not (out / "summary.json").exists()
        assert not [path for path in tmp_path.iterdir() if path.name.startswith(STAGE)]
    assert STOPPED in ends


def test_what_a_killed_process_left_is_swept_and_what_another_holds_is_not(tmp_path: Path) -> None:
    dead = tmp_path / f"{STAGE}dead"
    (dead / "files").mkdir(parents=True)
    (dead / "files" / "half").write_text("x", encoding="utf-8")
    young = tmp_path / f"{STAGE}young"
    young.mkdir()
    with staged(tmp_path / "held") as stage:
        alive = stage.parent
        for folder in (dead, alive):
            os.utime(folder, (time.time() - 2 * LEAST_STALE_S,) * 2)
        with staged(tmp_path / "out") as other:
            write_text(other / "a.txt", "x")
        assert not dead.exists()
        assert young.exists()
        assert alive.exists()
    assert (tmp_path / "out" / "a.txt").read_text(encoding="utf-8") == "x"


def test_the_document_of_a_set_comes_last_and_the_old_one_goes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "summary.json").write_text("old", encoding="utf-8")
    moved: list[tuple[str, bool]] = []
    replace = Path.replace

    def watched(self: Path, target: Path) -> Path:
        if target.parent == out:
            moved.append((target.name, (out / "summary.json").exists()))
        return replace(self, target)

    with staged(out) as stage:
        for name in ("a.csv", "summary.json", "z.pdf"):
            write_text(stage / name, name)
        monkeypatch.setattr(Path, "replace", watched)
    assert moved == [("a.csv", False), ("z.pdf", False), ("summary.json", False)]


def test_the_summary_names_the_files_of_its_set(write_town: TownWriter, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert cli.main(["plan", str(write_town(QUICK)), "--out", str(out)]) == 0
    sums = json.loads((out / "summary.json").read_text(encoding="utf-8"))["files"]
    assert sums.keys() | {"summary.json"} == {path.name for path in out.iterdir()}
    for name, told in sums.items():
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == told


def test_a_set_of_several_runs_is_said(
    write_town: TownWriter, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan, out = write_town(QUICK), tmp_path / "out"
    assert cli.main(["plan", str(plan), "--out", str(out)]) == 0
    capsys.readouterr()
    assert cli.main(["plan", str(plan), "--out", str(out)]) == 0
    assert "several runs" not in capsys.readouterr().err
    (out / "hours.csv").write_text("of another run", encoding="utf-8")
    assert cli.main(["plan", str(plan), "--out", str(out)]) == 0
    assert "hours.csv" in capsys.readouterr().err


@pytest.mark.slow
def test_a_killed_plan_leaves_the_old_set_or_the_new_one(
    write_town: TownWriter, tmp_path: Path
) -> None:
    # Killed without warning at many moments, over an older set: what a person then finds is whole
    # by its summary, or has none.
    plan, out = write_town(QUICK), tmp_path / "out"
    assert run("plan", plan, "--out", out).returncode == 0
    whole = ended = 0
    for number in range(12):
        process = subprocess.Popen(
            command("plan", plan, "--out", out, before=TELL_THAT_IT_LISTENS),
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment(),
        )  # fmt: skip
        assert process.stdout is not None
        assert process.stdout.read(1) == "."
        try:
            process.wait(0.3 * (number + 1))
        except subprocess.TimeoutExpired:
            process.kill()
        process.wait()
        process.stdout.close()
        ended += process.returncode == 0
        if (out / "summary.json").exists():
            whole += 1
            assert of_other_runs(out / "summary.json") == []
    assert whole > 0
    for lent in out.glob(f"{STAGE}*"):
        os.utime(lent, (time.time() - 2 * LEAST_STALE_S,) * 2)
    assert run("plan", plan, "--out", out).returncode == 0
    assert not list(out.glob(f"{STAGE}*"))
    assert of_other_runs(out / "summary.json") == []


@pytest.mark.skipif(
    not sys.platform.startswith("linux") or os.geteuid() != 0, reason="mounts a small disk"
)
def test_a_full_disk_is_the_machines_fault(write_town: TownWriter, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)],
        capture_output=True, check=False,
    )  # fmt: skip
    if mounted.returncode != 0:
        pytest.skip("this machine lets nobody mount a disk")
    try:
        done = run("plan", write_town(QUICK), "--out", disk / "out")
        left = [path.name for path in disk.iterdir()]
    finally:
        subprocess.run(["umount", str(disk)], check=True)
    assert done.returncode == MACHINE, done.stderr
    assert "No space left" in one_line(done.stderr)
    assert left == []
