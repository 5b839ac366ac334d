"""The terminal: the paper's words, wrapped at the window's width."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from simulator.report.paper.sheet import sheet_of
from simulator.report.text import MOST_REASONS, NARROWEST, WIDEST, walk_text, window
from tests.report.conftest import FixtureWalk


@pytest.mark.parametrize(
    ("columns", "widest"), [("50", 50), ("64", 64), ("20", NARROWEST), ("400", WIDEST)]
)
def test_lines_keep_to_the_window(
    walk: FixtureWalk, monkeypatch: pytest.MonkeyPatch, columns: str, widest: int
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert window() == widest
    text = walk_text(sheet_of(walk), written=[Path("out/timeline.pdf")], notes=["A note. " * 30])
    assert widest - 12 < max(map(len, text.splitlines())) <= widest


def test_the_terminal_says_what_the_paper_says_in_the_same_words(walk: FixtureWalk) -> None:
    sheet = sheet_of(walk)
    told = " ".join(walk_text(sheet).split())
    for words in (
        *(action.text for action in sheet.actions),
        *sheet.reasons,
        sheet.sentence,
        *(figure.value for figure in sheet.figures),
        sheet.bridge_words,
    ):
        assert words in told


def test_what_is_not_printed_is_counted(walk: FixtureWalk) -> None:
    reasons = [f"reason number {count}" for count in range(MOST_REASONS + 3)]
    summary = walk.summary | {"verdict": {"level": "walk with care", "reasons": reasons}}
    told = walk_text(sheet_of(replace(walk, summary=summary)))
    assert "Reason number 5" in told
    assert "Reason number 6" not in told
    assert "3 more in the timeline" in told


def test_bold_is_for_terminals_only(walk: FixtureWalk) -> None:
    sheet = sheet_of(walk)
    assert "\x1b" not in walk_text(sheet)
    assert walk_text(sheet, bold=True).startswith("\x1b[1mWALK WITH CARE\x1b[0m")


def test_hostile_names_cannot_steer_the_terminal(hostile: FixtureWalk) -> None:
    assert not set(walk_text(sheet_of(hostile))) & {"\x1b", "\u202e"}
