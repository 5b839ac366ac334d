"""The command line: what it prints, writes and answers; run as a person would."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest

from simulator import cli
from simulator.commands.runner import Stages
from simulator.errors import InputError, NoWayHomeError
from simulator.files import write_text
from simulator.report.text import WIDEST

TownWriter = Callable[..., Path]

SUMMARY: dict[str, object] = {
    "schema": "walkhome summary 1",
    "route": {
        "distance_km": 25.31,
        "ascent_m": 312.0,
        "descent_m": 280.0,
        "bridges": ["Mill Bridge", "Weir Bridge"],
    },
    "time": {
        "depart": "2026-05-04T16:30:00-03:00",
        "arrive": "2026-05-04T22:41:00-03:00",
        "moving_h": 5.2,
        "elapsed_h": 6.18,
    },
    "water": {"need_l": 2.4, "carried_l": 0.5, "refilled_l": 1.0, "short_l": 0.4,
              "first_short_h": 4.5},
    "food": {"need_kcal": 1700.0, "carried_kcal": 400.0, "short_kcal": 1300.0},
    "light": {"dark_h": 2.1, "carried_h": 1.0, "short_h": 1.1, "first_short_h": 5.0},
    "cold_heat": {"coldest_felt_c": 7.2, "hottest_felt_c": 12.9},
    "verdict": {"level": "walk with care", "reasons": ["Water runs short after 4 h 30 min. " * 4]},
    "cautions": ["Drink by need, do not ration.", "Boil water.", "Wear light colours.", "Rest."],
}  # fmt: skip


def run(*words: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "simulator", *map(str, words)],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        encoding="utf-8",
    )


def listing(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def pretend(monkeypatch: pytest.MonkeyPatch, answer: Exception | None = None) -> None:
    """Let the command line believe that a walk was found, or was not."""

    def save(folder: Path, *, page: str | None = None) -> list[Path]:
        folder.mkdir(exist_ok=True)
        write_text(folder / "summary.json", json.dumps({**SUMMARY, "page": page}))
        write_text(folder / "timeline.pdf", "")
        return [folder / "summary.json", folder / "timeline.pdf"]

    words = SimpleNamespace(
        headline="Walk with care.",
        sentence="Home about 22:40.",
        home_by="",
        actions=(),
        reasons=(),
        figures=(),
        sun="",
        bridge_heading="",
        cautions=(),
        assumptions=(),
    )
    import simulator.report.calendar
    import simulator.report.files  # or what is imported meanwhile keeps the words

    monkeypatch.setattr("simulator.report.paper.sheet.sheet_of", lambda _: words)

    def walk_home(_: object, *, progress: Callable[[str], None]) -> SimpleNamespace:
        progress("reading the map")
        if answer:
            raise answer
        return SimpleNamespace(
            plan=SimpleNamespace(title="Over the 橋", choices=SimpleNamespace(font=None)),
            segments=pd.DataFrame({"street": ["Mill Lane"]}),
            refills=pd.DataFrame({"name": ["tap"]}),
            summary=SUMMARY,
            save=save,
        )

    monkeypatch.setattr(simulator, "walk_home", walk_home)


@pytest.mark.parametrize("words", [["--help"], ["plan", "--help"], ["new", "--help"]])
def test_help_has_an_example_and_imports_nothing_heavy(tmp_path: Path, words: list[str]) -> None:
    code = (
        "import sys\nfrom simulator.cli import main\n"
        "try: main(sys.argv[1:])\nexcept SystemExit as end: assert end.code == 0\n"
        "print([m for m in ('numpy', 'osmnx', 'pydantic', 'pandas') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=tmp_path, check=True, capture_output=True, text=True,
    )  # fmt: skip
    assert "example: walkhome" in done.stdout
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "the following arguments are required: COMMAND; see walkhome --help"),
        (["plam", "x"], "invalid choice: 'plam'"),
        (["plan"], "required: PLAN.toml; see walkhome plan --help"),
        (["plan", "x", "--page", "A3"], "invalid choice: 'A3'"),
        (["plan", "x", "--jso"], "unrecognized arguments: --jso"),
    ],
)
def test_a_wrong_word_is_refused_in_one_line(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    with pytest.raises(SystemExit) as end:
        cli.main(words)
    caught = capsys.readouterr()
    assert end.value.code == 2
    assert caught.out == ""
    assert len(caught.err.splitlines()) == 1
    assert said in caught.err


def test_a_plan_prints_verdict_figures_and_files(
    write_town: TownWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    pretend(monkeypatch)
    out = tmp_path / "results"
    assert cli.main(["plan", str(write_town()), "--out", str(out), "--page", "Letter"]) == 0
    caught = capsys.readouterr()
    assert caught.err == ""
    assert caught.out.splitlines()[0] == "WALK WITH CARE"
    assert "Home about 22:40." in caught.out
    assert str(out / "timeline.pdf") in caught.out
    assert "LETTERS: some names have letters that the paper's font lacks (U+6A4B)" in caught.out
    assert json.loads((out / "summary.json").read_text())["page"] == "Letter"


def test_json_prints_the_summary_and_nothing_else(
    write_town: TownWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    pretend(monkeypatch)
    monkeypatch.chdir(tmp_path)
    assert cli.main(["plan", str(write_town()), "--json"]) == 0
    caught = capsys.readouterr()
    assert caught.err == ""
    assert caught.out == (tmp_path / "walkhome-out" / "summary.json").read_text()


def test_no_way_home_ends_with_three_and_says_what_is_known(
    write_town: TownWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    pretend(monkeypatch, NoWayHomeError("no way home: the river stops it"))
    out = tmp_path / "out"
    assert cli.main(["plan", str(write_town()), "--out", str(out), "--json"]) == 3
    caught = capsys.readouterr()
    assert caught.err == "no way home: the river stops it\n"
    known = json.loads((out / "summary.json").read_text())
    assert known == json.loads(caught.out)
    assert known["verdict"] == {
        "level": "stay and wait",
        "reasons": ["no way home: the river stops it"],
    }
    assert set(known["inputs"]) == {"plan.toml", "town.osm", "heights.tif", "bag.csv"}
    assert listing(out) == ["page.html", "summary.json", "timeline.pdf"]


def test_a_fault_of_the_program_is_one_line_with_a_hint(
    write_town: TownWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    pretend(monkeypatch, ZeroDivisionError("a\nb\x1b[31m"))
    words = ["plan", str(write_town()), "--out", str(tmp_path / "out")]
    assert cli.main(words) == 1
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1
    assert said.startswith("unexpected: ZeroDivisionError: a b[31m;")
    assert "WALKHOME_DEBUG=1" in said
    monkeypatch.setenv("WALKHOME_DEBUG", "1")
    assert cli.main(words) == 1
    assert "Traceback" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_an_interrupt_while_files_are_put_in_place_says_which_are_there(
    write_town: TownWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    pretend(monkeypatch, KeyboardInterrupt("stopped; out: new and whole are a.csv"))  # type: ignore[arg-type]
    assert cli.main(["plan", str(write_town()), "--out", str(tmp_path / "out")]) == 130
    assert capsys.readouterr().err == "stopped; out: new and whole are a.csv\n"


def test_an_interrupt_ends_quietly(
    write_town: TownWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    pretend(monkeypatch, KeyboardInterrupt())  # type: ignore[arg-type]
    assert cli.main(["plan", str(write_town()), "--out", str(tmp_path / "out")]) == 130
    assert capsys.readouterr().err == "stopped; every file in place is whole\n"


def test_an_output_folder_that_cannot_be_is_refused_before_the_walk(
    write_town: TownWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    pretend(monkeypatch, AssertionError("the walk must not begin"))
    plan = str(write_town())
    (tmp_path / "file").touch()
    for out in (tmp_path / "file", tmp_path / "file" / "x"):
        assert cli.main(["plan", plan, "--out", str(out)]) == 2
        said = capsys.readouterr().err
        assert len(said.splitlines()) == 1
        assert said.startswith(f"output folder {out}: ")


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        """Say so."""
        return True


def test_stages_are_named_on_a_terminal_only_and_only_when_they_take_a_while() -> None:
    terminal, pipe = Terminal(), io.StringIO()
    for stream in (terminal, pipe):
        stages = Stages(stream, quiet_s=0.05)
        stages("a quick one")
        stages("a slow one")
        time.sleep(0.3)
        stages("another quick one")
        stages.close()
    assert pipe.getvalue() == ""
    assert terminal.getvalue().startswith("a slow one … 0.")
    assert terminal.getvalue().endswith(" s\n")
    assert terminal.getvalue().count("\n") == 1


# From here on everything is real: nothing stands in for the walk, and the files are the town's.

BAD_PLANS = {
    "an unknown key": ("mass_kg = 80", "mas_kg = 80", "did you mean 'mass_kg'?"),
    "an impossible mass": ("mass_kg = 80", "mass_kg = 8000", "found 8000; allowed: 20 to 300 kg"),
    "a time that does not exist": (
        "2026-05-04T09:30:00", "2026-03-08T02:30:00", "does not exist in America/Moncton"),
    "a wrong file type": ('"town.osm"', '"bag.csv"', "found 'bag.csv'; allowed: a file ending"),
    "a missing extract": ('"town.osm"', '"gone.osm"', "found no file"),
    "a start in the sea": ("[46.0002, -64.7998]", "[46.0002, -64.7]", "trip.start"),
}  # fmt: skip


def test_an_interrupt_once_files_are_in_place_does_not_deny_them(
    write_town: TownWriter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("simulator.commands.runner.say", stop)
    out = tmp_path / "out"
    assert cli.main(["plan", str(write_town()), "--out", str(out)]) == 130
    assert (out / "summary.json").is_file()
    said = capsys.readouterr().err
    assert said.startswith("stopped; ")
    assert "nothing" not in said


Refusal = Callable[[Path], str]


@pytest.fixture
def refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> Refusal:
    """Give a function that runs a plan which must be refused: one line, 2, nothing written."""

    def refuse(plan: Path) -> str:
        monkeypatch.chdir(tmp_path)
        before = listing(tmp_path)
        code = cli.main(["plan", str(plan)])
        caught = capfd.readouterr()  # the file descriptors: libraries in C write there too
        assert code == 2, caught.err
        assert caught.out == ""
        assert len(caught.err.splitlines()) == 1, caught.err
        assert listing(tmp_path) == before
        return caught.err

    return refuse


@pytest.mark.parametrize("kind", BAD_PLANS)
def test_a_bad_plan_is_refused_in_one_line(
    write_town: TownWriter, refused: Refusal, kind: str
) -> None:
    old, new, words = BAD_PLANS[kind]
    path = write_town()
    text = path.read_text()
    assert text.count(old) == 1
    path.write_text(text.replace(old, new))
    said = refused(path)
    assert words in said
    assert "plan.toml" in said or kind == "a start in the sea"


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "empty file"), (b"<?xml version='1.0'?><osm version='0.6'><node id='1' lat", "town.osm"),
     (b"\x00\x01\x02 not a map", "town.osm"), (b"PK\x03\x04", "town.osm")],
)  # fmt: skip
def test_a_broken_extract_is_refused_in_one_line(
    write_town: TownWriter, refused: Refusal, content: bytes, words: str
) -> None:
    path = write_town()
    (path.parent / "town.osm").write_bytes(content)
    assert words in refused(path)


def test_a_raster_that_does_not_cover_the_way_is_refused(
    write_town: TownWriter, refused: Refusal
) -> None:
    assert "heights.tif" in refused(write_town(raster_west=10.0))


def test_a_bag_with_a_negative_number_is_refused(write_town: TownWriter, refused: Refusal) -> None:
    path = write_town()
    bag = path.parent / "bag.csv"
    bag.write_text(bag.read_text().replace(",540,", ",-540,"))
    said = refused(path)
    assert "bag.csv: line 2, column mass_g: found '-540'" in said


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a file system nobody may write")
def test_a_read_only_folder_is_refused_to_a_person_too(
    write_town: TownWriter, tmp_path: Path
) -> None:
    done = run("plan", write_town(), "--out", "/proc/self/out", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.startswith("output folder /proc/self/out: nothing can be written there")
    assert len(done.stderr.splitlines()) == 1


def test_the_town_is_walked_and_every_file_is_written(
    write_town: TownWriter, tmp_path: Path
) -> None:
    done = run("plan", write_town(), "--out", "out", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert max(map(len, done.stdout.splitlines())) <= WIDEST
    assert listing(tmp_path / "out") == [
        "bottles.csv", "credits.txt", "hours.csv", "page.html", "refills.csv", "route.geojson",
        "route.gpx", "summary.json", "timeline.pdf",
    ]  # fmt: skip
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["route"]["bridges"] == ["Mill Bridge"]
    assert 1.6 < summary["route"]["distance_km"] < 2.4


def test_without_a_bridge_the_program_ends_with_three(
    write_town: TownWriter, tmp_path: Path
) -> None:
    done = run("plan", write_town(bridge=False), "--out", "out", cwd=tmp_path)
    assert done.returncode == 3, done.stderr
    assert len(done.stderr.splitlines()) == 1
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["verdict"]["level"] == "stay and wait"


@pytest.mark.slow
def test_the_demo_runs_from_anywhere(tmp_path: Path) -> None:
    done = run("demo", "--out", "out", "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    summary = json.loads(done.stdout)
    assert 20 < summary["route"]["distance_km"] < 35
    assert (tmp_path / "out" / "timeline.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.slow
def test_a_new_plan_runs_as_it_stands_and_again_after_it_was_moved(tmp_path: Path) -> None:
    done = run("new", "mine", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "mine/plan.toml" in done.stdout.replace(os.sep, "/")
    (tmp_path / "mine").rename(tmp_path / "moved")
    for name in ("plan.toml", "bag.csv"):
        assert (tmp_path / "moved" / name).read_text(encoding="utf-8").startswith("# ")
    done = run("plan", "moved/plan.toml", "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["route"]["distance_km"] > 20


def test_a_new_plan_never_overwrites(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "bag.csv").write_text("my own")
    done = run("new", "mine", cwd=tmp_path)
    assert done.returncode == 2
    assert "found bag.csv; nothing is overwritten" in done.stderr
    assert listing(tmp_path) == ["mine", "mine/bag.csv"]


def test_input_errors_are_value_errors() -> None:
    assert issubclass(InputError, ValueError)
