"""All files of a walk, or none."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest
from icalendar import Calendar

from simulator.errors import InputError
from simulator.report import files
from simulator.report.calendar import walk_ics
from simulator.report.files import write_walk
from tests.report.conftest import HOSTILE, FixtureWalk

# The output files of the plan command, as the documentation promises them.
PROMISED = {
    *("summary.json", "hours.csv", "refills.csv", "route.geojson", "route.gpx"),
    *("timeline.pdf", "page.html", "credits.txt"),
}


def test_every_promised_file_is_written_and_nothing_else(
    walk: FixtureWalk, pdf: bytes, html: str, tmp_path: Path
) -> None:
    written = write_walk(walk, tmp_path / "out", page="A4")
    assert {path.name for path in written} == PROMISED
    assert {path.name for path in (tmp_path / "out").iterdir()} == PROMISED
    assert (tmp_path / "out" / "timeline.pdf").read_bytes() == pdf
    page = (tmp_path / "out" / "page.html").read_text(encoding="utf-8")
    # Its wide figures are the paper's own; words and numbers are those of the page alone.
    assert page.partition("<body>")[0] == html.partition("<body>")[0]
    assert page.rpartition("</footer>")[2] == html.rpartition("</footer>")[2]


@pytest.mark.usefixtures("quick")
def test_a_calendar_and_parquet_are_written_when_asked_for(
    walk: FixtureWalk, tmp_path: Path
) -> None:
    choices = SimpleNamespace(page="A4", also=("calendar", "parquet"), what_if=True, print="usual")
    plan = SimpleNamespace(**(vars(walk.plan) | {"choices": choices}))
    asked = replace(walk, plan=plan)
    written = {path.name for path in write_walk(asked, tmp_path)}
    assert written == PROMISED | {"walk.ics", "hours.parquet", "refills.parquet"}
    hours = pd.read_parquet(tmp_path / "hours.parquet")
    pd.testing.assert_frame_equal(hours, walk.hours, check_dtype=False)
    event = Calendar.from_ical((tmp_path / "walk.ics").read_bytes()).walk("VEVENT")[0]
    assert walk.streets.attribution in {str(comment) for comment in event["COMMENT"]}


def test_the_calendar_reads_back_as_the_walk(hostile: FixtureWalk) -> None:
    # RFC 5545, read by a calendar library.
    calendar = Calendar.from_ical(walk_ics(hostile))
    (event,) = calendar.walk("VEVENT")
    assert event.decoded("DTSTART") == datetime(2026, 10, 12, 19, 30, tzinfo=UTC)
    assert event.decoded("DTEND") > event.decoded("DTSTART") + timedelta(hours=5)
    assert HOSTILE[0] in str(event["SUMMARY"])
    assert all(len(line.encode()) <= 75 for line in walk_ics(hostile).split("\r\n"))
    assert walk_ics(hostile) == walk_ics(hostile)


def test_the_calendar_tells_each_reason_in_a_sentence(walk: FixtureWalk) -> None:
    (event,) = Calendar.from_ical(walk_ics(walk)).walk("VEVENT")
    told = str(event["DESCRIPTION"])
    reasons = [str(reason) for reason in walk.summary["verdict"]["reasons"]]
    assert len(reasons) > 1
    for reason in reasons:
        assert f". {reason[0].upper()}{reason[1:]}. " in f"{told} "
    assert ".." not in told


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the slow drawings where only the writing is looked at."""
    monkeypatch.setattr(files, "page_html", lambda _walk, **_figures: "<!DOCTYPE html>")
    monkeypatch.setattr(
        files, "timeline_and_figures", lambda _walk, *, page: (b"%PDF" + page.encode(), {})
    )


@pytest.mark.usefixtures("quick")
def test_a_failure_on_the_way_leaves_nothing(
    walk: FixtureWalk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_walk: FixtureWalk, **_figures: object) -> str:
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
