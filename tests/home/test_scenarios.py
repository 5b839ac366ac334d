"""Every scenario gets the word that a careful person would give, with its reason.

``WALKHOME_WRITE_DOCS=1`` writes the table anew; look at it before keeping it.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from simulator import Plan, walk_home
from simulator.home.scene import prepare
from simulator.home.summary import findings_of
from simulator.home.verdict import NOTHING_FOUND, Verdict, judge
from simulator.home.walk import walk_way
from simulator.home.way import find_way
from tests.home.scenarios import Scenario, scenarios, write
from tests.home.test_verdict import needs_nothing_more

TABLE = Path(__file__).with_name("scenarios.md")

HEAD = """\
# Walks and their word

Made by `tests/home/test_scenarios.py`. One straight road, everything else as named. Looked through
for false calm (a word too light) and false alarm (one too grave).

| walk | word | time | first reason |
| --- | --- | --- | --- |
"""


def told(scenario: Scenario, folder: Path) -> tuple[Verdict, float]:
    """Walk a scenario as the main question does, without tables and without trying other hours."""
    scene = prepare(Plan.read(write(scenario, folder)))
    findings = findings_of(scene, walk_way(scene, find_way(scene)))
    return judge(findings), float(findings.elapsed_h[0])


@pytest.mark.parametrize("scenario", scenarios(), ids=lambda one: one.name)
def test_the_word_is_the_one_of_a_careful_person(scenario: Scenario, tmp_path: Path) -> None:
    verdict, _hours = told(scenario, tmp_path)
    assert verdict.level == scenario.word, verdict.reasons
    assert scenario.because in " | ".join(verdict.reasons)
    for reason in verdict.reasons:
        assert reason == NOTHING_FOUND or needs_nothing_more(reason), reason


@pytest.mark.parametrize("name", ["near gale", "a little water short"])
def test_what_is_printed_is_that_word(name: str, tmp_path: Path) -> None:
    (scenario,) = (one for one in scenarios() if one.name == name)
    verdict, _hours = told(scenario, tmp_path / "judged")
    printed = walk_home(Plan.read(write(scenario, tmp_path / "printed"))).summary["verdict"]
    assert printed["level"] == verdict.level
    assert tuple(printed["reasons"])[: len(verdict.reasons)] == verdict.reasons


def test_there_are_sixty_of_all_kinds() -> None:
    every = scenarios()
    assert len(every) >= 60
    assert len({one.name for one in every}) == len(every)
    assert {one.word for one in every} == {"walk", "walk with care", "stay and wait"}


@pytest.mark.skipif("WALKHOME_WRITE_DOCS" not in os.environ, reason="writes the table")
def test_the_table_is_written(tmp_path: Path) -> None:
    lines = []
    for number, one in enumerate(scenarios()):
        verdict, hours = told(one, tmp_path / str(number))
        lines.append(f"| {one.name} | {verdict.level} | {hours:.1f} h | {verdict.reasons[0]} |\n")
    TABLE.write_text(HEAD + "".join(lines), encoding="utf-8")
