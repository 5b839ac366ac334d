"""The first plan to edit: complete, explained, and true to what the reader accepts."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from simulator.commands.starter import starter_plan, write_starter
from simulator.errors import InputError
from simulator.plan import Plan, plan_reference

TownWriter = Callable[..., Path]

KEY = re.compile(r"^# (\w+) = ", flags=re.MULTILINE)


def test_the_written_plan_says_what_the_first_one_said(
    write_town: TownWriter, tmp_path: Path
) -> None:
    plan = Plan.read(write_town())
    written = write_starter(tmp_path / "mine", plan)
    again = Plan.read(written[0])
    assert again.trip == plan.trip
    assert again.walker == plan.walker
    assert again.weather == plan.weather
    assert [path.name for _, path in again.files()] == [path.name for _, path in plan.files()]
    assert {path.parent for path in written} == {tmp_path / "mine"}
    for (_, old), (_, new) in zip(plan.files(), again.files(), strict=True):
        assert new.read_bytes().endswith(old.read_bytes())


def test_every_key_stands_in_the_written_plan_with_its_meaning(write_town: TownWriter) -> None:
    text = starter_plan(Plan.read(write_town()))
    plain = " ".join(text.replace("#   ", "").split())
    for row in plan_reference():
        name = row.key.rsplit(".", maxsplit=1)[-1]
        assert re.search(rf"^(# )?{name} = ", text, flags=re.MULTILINE), row.key
        assert row.meaning[1:] in plain, row.key


def test_every_key_that_is_a_note_can_be_set_by_taking_its_mark_away(
    write_town: TownWriter,
) -> None:
    path = write_town()
    text = starter_plan(Plan.read(path))
    tomllib.loads(KEY.sub(r"\1 = ", text))
    # The defaults that it shows are the defaults: set one by one they change nothing.
    plan = Plan.read(path)
    path.write_text(text, encoding="utf-8")
    for row in plan_reference():
        if row.default not in {"required", "none"}:
            table, _, name = row.key.rpartition(".")
            head, heading, rest = text.partition(f"[{table}]") if table else ("", "", text)
            rest = re.sub(rf"^# {name} = ", f"{name} = ", rest, count=1, flags=re.MULTILINE)
            path.write_text(head + heading + rest, encoding="utf-8")
            assert Plan.read(path) == plan, row.key


def test_every_example_of_a_key_is_accepted(write_town: TownWriter) -> None:
    plan = Plan.read(write_town())
    for row in plan_reference():
        if row.example and row.key not in {"weather.file", "weather.month"}:
            table, key = row.key.split(".")
            value = tomllib.loads(f"x = {row.example}")["x"]
            plan.with_changes(**{table: {key: value}})


def test_nothing_is_overwritten(write_town: TownWriter, tmp_path: Path) -> None:
    plan = Plan.read(write_town())
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "heights.tif").write_text("my own")
    with pytest.raises(InputError, match=r"found heights\.tif; nothing is overwritten"):
        write_starter(tmp_path / "mine", plan)
    assert [path.name for path in (tmp_path / "mine").iterdir()] == ["heights.tif"]
