"""A plan to spoil, and a look at how the command line takes it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from simulator.cli import main
from simulator.demo import demo_folder
from simulator.plan import Plan
from tests.conftest import PLAN, TownWriter

LONGEST_MESSAGE = 600
"""A refusal is a line or two on a terminal, whatever was found [characters]."""

Refused = Callable[..., str]
Spoil = Callable[..., Path]


@pytest.fixture
def refused(capsys: pytest.CaptureFixture[str]) -> Refused:
    """Give a function that runs a command, expects bad input said in one line, and returns it."""

    def run(*words: str | Path, code: int = 2, lines: int = 1) -> str:
        try:
            found = main([str(word) for word in words])
        except SystemExit as leaving:
            found = int(leaving.code or 0)
        said = capsys.readouterr().err
        assert found == code, said[:LONGEST_MESSAGE]
        assert not said.startswith("unexpected:")
        assert said.count("\n") == lines, said[:LONGEST_MESSAGE]
        assert len(said) <= LONGEST_MESSAGE, said[:LONGEST_MESSAGE]
        return said

    return run


@pytest.fixture
def spoilt(write_town: TownWriter) -> Spoil:
    """Give a function that writes the town's plan with some lines replaced, others added."""

    def spoil(*, added: str = "", **lines: str) -> Path:
        text = PLAN
        for key, value in lines.items():
            (old,) = re.findall(rf"^{key} = .*$", text, flags=re.MULTILINE)
            text = text.replace(old, f"{key} = {value}")
        return write_town(text + added)

    return spoil


@pytest.fixture
def demo_plan() -> Plan:
    """Give the demo's plan."""
    return Plan.read(demo_folder() / "plan.toml")
