"""The lessons run from a clean kernel, end in exercises that the guide answers, keep no outputs."""

from __future__ import annotations

import importlib.util
import json
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import jupytext
import pytest

ROOM = Path(__file__).resolve().parents[2] / "notebooks"
LESSONS = sorted(ROOM.glob("lesson_*.ipynb"))
RUNNER = Path(__file__).with_name("run_lesson.py")
ANSWER = re.compile(r"^(answer_(\d)_(\d)) = \.\.\.$", flags=re.MULTILINE)


def load(name: str) -> ModuleType:
    """Load a script of the room as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOM / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def pair() -> ModuleType:
    """Load what keeps a lesson's two files alike."""
    return load("pair")


@pytest.fixture(scope="module")
def lesson() -> ModuleType:
    """Load what the lessons share."""
    return load("lesson")


def guide_answers() -> dict[str, str]:
    """Read the teacher's guide: number of an exercise to its answer as Python."""
    text = (ROOM / "README.md").read_text(encoding="utf-8")
    return dict(re.findall(r"^\| (\d\.\d) \| `([^`]+)` \|", text, flags=re.MULTILINE))


def cells(path: Path) -> list[Any]:
    read: Any = jupytext.read(path)
    return list(read.cells)


def printed(outputs: list[dict[str, Any]]) -> str:
    return "".join(out["text"] for out in outputs if out["output_type"] == "stream")


@pytest.mark.slow
@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_runs_from_a_clean_kernel_and_the_guide_answers_it(path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(RUNNER), str(path)],
        input=json.dumps(guide_answers()),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    told = json.loads(done.stdout)
    for cell in told:
        if cell["exercise"]:
            assert "in place of the three dots" in printed(cell["first"])
            assert printed(cell["answered"]).startswith("Right."), cell
    assert any("<svg" in json.dumps(cell["first"]) for cell in told)


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_is_kept_without_outputs(path: Path) -> None:
    kept = json.loads(path.read_text(encoding="utf-8"))
    for number, cell in enumerate(kept["cells"], 1):
        assert cell["id"] == f"cell-{number:02d}"
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            assert cell["execution_count"] is None


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_notebook_and_its_text_agree(path: Path, pair: ModuleType) -> None:
    text = path.with_suffix(".py").read_text(encoding="utf-8")
    notebook = path.read_text(encoding="utf-8")
    assert pair.notebook_of(text) == notebook
    assert pair.text_of(notebook) == text


def test_there_are_seven_lessons_and_each_has_both_files() -> None:
    assert [path.stem.split("_")[1] for path in LESSONS] == list("1234567")
    assert len(list(ROOM.glob("lesson_*.py"))) == len(LESSONS)


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_ends_in_exercises_that_the_guide_answers(path: Path) -> None:
    found = [
        f"{lesson}.{number}"
        for cell in cells(path)
        if cell.cell_type == "code"
        for _, lesson, number in ANSWER.findall(cell.source)
    ]
    own = path.stem.split("_")[1]
    assert found == [f"{own}.{number}" for number in range(1, len(found) + 1)]
    assert len(found) >= 3
    answered = [number for number in guide_answers() if number.startswith(own)]
    assert answered == found


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_keeps_its_caution(path: Path) -> None:
    words = "\n".join(cell.source for cell in cells(path) if cell.cell_type == "markdown")
    assert "**Mind.**" in words


def test_the_guide_links_to_what_is_there() -> None:
    text = (ROOM / "README.md").read_text(encoding="utf-8")
    links = re.findall(r"\]\((?!https?:|#)([^)#\s]+)", text)
    assert len(links) >= len(LESSONS)
    assert not [link for link in links if not (ROOM / link).exists()]


@pytest.mark.parametrize(
    ("answer", "equals", "within", "right"),
    [
        (1.04, 1.0, 0.05, True),
        (1.06, 1.0, 0.05, False),
        (float("nan"), 1.0, 0.5, False),
        ("Mill  bridge ", "Mill Bridge", 0.0, True),
        ("Mill", "Mill Bridge", 0.0, False),
        (["b", "A"], {"a", "B"}, 0.0, True),
        (["a"], {"a", "b"}, 0.0, False),
        ("ab", {"a", "b"}, 0.0, False),
        ("A", ["a"], 0.0, True),
        (1, ["1"], 0.0, False),
        (True, True, 0.0, True),
        (1, True, 0.0, False),
        (True, 1.0, 0.0, False),
        ("1", 1.0, 0.0, False),
        (2, lambda: 2.0, 0.0, True),
    ],
)
def test_an_answer_is_judged_by_number_word_or_set(
    lesson: ModuleType,
    capsys: pytest.CaptureFixture[str],
    answer: object,
    equals: object,
    within: float,
    right: bool,
) -> None:
    lesson.check(answer, equals, within=within, hint="Look again.")
    told = capsys.readouterr().out
    assert told == ("Right.\n" if right else "Not yet. Look again.\n")


def test_an_answer_that_is_not_there_yet_is_asked_for_and_nothing_is_worked_out(
    lesson: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    lesson.check(..., lambda: pytest.fail("worked out too early"))
    assert "in place of the three dots" in capsys.readouterr().out


def test_without_sliders_three_values_are_told(
    lesson: ModuleType, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lesson, "find_spec", lambda _name: None)
    lesson.slide(lambda value: f"at {value:g}", low=1.0, high=9.0, step=1.0, start=4.0, name="x")
    told = capsys.readouterr().out
    assert told.startswith("at 1\nat 4\nat 9\n")


def test_a_figure_of_a_lesson_is_on_white_and_says_what_it_shows(lesson: ModuleType) -> None:
    from matplotlib.figure import Figure

    told = lesson.show(Figure().add_subplot(), 'A <b>map</b> & "more"').data
    assert "background:#fff" in told
    assert "<figcaption>A &lt;b&gt;map&lt;/b&gt; &amp; &quot;more&quot;</figcaption>" in told
    assert 'role="img"' in told
