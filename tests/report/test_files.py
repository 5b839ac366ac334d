"""All files of a walk, or none."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.report import files
from simulator.report.files import write_walk
from tests.report.conftest import FixtureWalk

# The output files of the plan command, as the documentation promises them.
PROMISED = {
    *("summary.json", "hours.csv", "refills.csv", "route.geojson", "route.gpx"),
    *("timeline.pdf", "page.html"),
}


def test_every_promised_file_is_written_and_nothing_else(
    walk: FixtureWalk, pdf: bytes, html: str, tmp_path: Path
) -> None:
    written = write_walk(walk, tmp_path / "out", page="A4")
    assert {path.name for path in written} == PROMISED
    assert {path.name for path in (tmp_path / "out").iterdir()} == PROMISED
    assert (tmp_path / "out" / "timeline.pdf").read_bytes() == pdf
    assert (tmp_path / "out" / "page.html").read_text(encoding="utf-8") == html


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the slow drawings where only the writing is looked at."""
    monkeypatch.setattr(files, "page_html", lambda _walk: "<!DOCTYPE html>")
    monkeypatch.setattr(files, "timeline_pdf", lambda _walk, *, page: b"%PDF" + page.encode())


@pytest.mark.usefixtures("quick")
def test_a_failure_on_the_way_leaves_nothing(
    walk: FixtureWalk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_walk: FixtureWalk) -> str:
        message = "the disk is full"
        raise OSError(message)

    monkeypatch.setattr(files, "page_html", fail)
    with pytest.raises(OSError, match="disk is full"):
        write_walk(walk, tmp_path / "out")
    assert not list(tmp_path.iterdir())


@pytest.mark.usefixtures("quick")
def test_a_failed_write_keeps_the_files_of_the_time_before(
    walk: FixtureWalk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = {path.name: path.read_bytes() for path in write_walk(walk, tmp_path / "out")}

    def fail(path: Path, _content: bytes) -> None:
        if path.name == "route.gpx":
            message = "the disk is full"
            raise OSError(message)

    monkeypatch.setattr("simulator.files.write_bytes", fail)
    with pytest.raises(OSError, match="disk is full"):
        write_walk(walk, tmp_path / "out", page="Letter")
    assert {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()} == before


def test_a_file_where_the_folder_should_be_is_refused(walk: FixtureWalk, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="found a file of this name"):
        write_walk(walk, tmp_path / "out")
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"
