"""Every scenario gets the word that a careful person would give, with its reason.

``WALKHOME_WRITE_DOCS=1`` writes the table anew; look at it before keeping it.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from simulator import Plan, walk_home
from tests.home.scenarios import Scenario, scenarios, write

TABLE = Path(__file__).with_name("scenarios.md")

HEAD = """\
# Walks and their word

Made by `tests/home/test_scenarios.py`. One straight road, everything else as named. Looked through
for false calm (a word too light) and false alarm (one too grave).

| walk | word | time | first reason |
| --- | --- | --- | --- |
"""

FAST = frozenset(
    {
        "fair spring day, adult",
        "storm wind and cloudburst",
        "wet and windy at 10.1 °C, 0.5 clo",
        "42 °C in full sun, 77 years",
        "hill of 1,500 m at 20 %, 78 years",
        "25 km of fast road by day",
        "unlit road by night, glow sticks",
        "frost and wind, coat of 2 clo",
        "a little water short",
    }
)
"""Those that are asked of every change; the others are slow together."""


def told(scenario: Scenario, folder: Path) -> tuple[str, tuple[str, ...], float]:
    summary = walk_home(Plan.read(write(scenario, folder))).summary
    verdict = summary["verdict"]
    return verdict["level"], tuple(verdict["reasons"]), float(summary["time"]["elapsed_h"])


@pytest.mark.parametrize(
    "scenario",
    [
        pytest.param(one, id=one.name, marks=() if one.name in FAST else pytest.mark.slow)
        for one in scenarios()
    ],
)
def test_the_word_is_the_one_of_a_careful_person(scenario: Scenario, tmp_path: Path) -> None:
    level, reasons, _hours = told(scenario, tmp_path)
    assert level == scenario.word, reasons
    assert scenario.because in " | ".join(reasons)


def test_there_are_sixty_of_all_kinds() -> None:
    every = scenarios()
    assert len(every) >= 60
    assert len({one.name for one in every}) == len(every)
    assert {one.word for one in every} == {"walk", "walk with care", "stay and wait"}


@pytest.mark.skipif("WALKHOME_WRITE_DOCS" not in os.environ, reason="writes the table")
def test_the_table_is_written(tmp_path: Path) -> None:
    lines = []
    for number, one in enumerate(scenarios()):
        level, reasons, hours = told(one, tmp_path / str(number))
        lines.append(f"| {one.name} | {level} | {hours:.1f} h | {reasons[0]} |\n")
    TABLE.write_text(HEAD + "".join(lines), encoding="utf-8")
