"""Values that can be read and cannot be meant: refused at the door with what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.files import csv_safe, terminal_safe
from simulator.plan import Plan
from simulator.report.words import clean
from tests.hostile.conftest import Refused, Spoil


def test_coordinates_that_are_valid_both_ways_round_are_called_swapped(
    spoilt: Spoil, refused: Refused, tmp_path: Path
) -> None:
    plan = spoilt(start="[-64.7998, 46.0002]", home="[-64.7952, 46.0148]")
    said = refused("plan", plan, "--out", tmp_path / "out")
    assert "this looks swapped, for the map lies there: write [46.0002, -64.7998]" in said


def test_a_place_far_from_the_map_is_not_called_swapped(
    spoilt: Spoil, refused: Refused, tmp_path: Path
) -> None:
    plan = spoilt(start="[10.0002, 20.7998]", home="[10.0148, 20.7952]")
    said = refused("plan", plan, "--out", tmp_path / "out")
    assert "swapped" not in said
    assert "nearest walkable street" in said


@pytest.mark.parametrize("year", [1949, 2099, 2100, 9999])
def test_years_that_weather_and_sky_do_not_reach_are_refused(spoilt: Spoil, year: int) -> None:
    with pytest.raises(InputError, match=r"allowed: 1950 to 2098"):
        Plan.read(spoilt(depart=f"{year:04}-05-04T09:30:00"))


@pytest.mark.parametrize("year", [1950, 2098])
def test_the_first_and_the_last_year_are_walked_through(
    spoilt: Spoil, refused: Refused, tmp_path: Path, year: int
) -> None:
    plan = spoilt(depart=f"{year}-12-31T22:30:00")
    refused("plan", plan, "--out", tmp_path / "out", code=0, lines=0)


# Words of living languages that are spelt with a joiner: Persian "mi-khaham" with U+200C, Sinhala
# "Sri" with U+200D, Malayalam "nanma" as a chillu with U+200D (Unicode chapters 9, 12 and 13).
SPELT = (
    "\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",
    "\u0dc1\u0dca\u200d\u0dbb\u0dd3",
    "\u0d28\u0d28\u0d4d\u200d\u0d2e",
)


@pytest.mark.parametrize("word", SPELT)
def test_joiners_stay_where_a_script_needs_them(word: str) -> None:
    assert terminal_safe(word) == clean(word) == csv_safe(word) == word


@pytest.mark.parametrize(
    "text",
    ["Mi\u200dll", "\u200dMill", "Mill\u200c", "\u0dc1\u200d", "a\u200d\u0dc1",
     "\u0dc1\u200d\u200d\u0dbb", "\u0dc1\u202e\u0dbb", "\u0dc1\ufeff\u0dbb"],
)  # fmt: skip
def test_characters_that_only_hide_go(text: str) -> None:
    plain = terminal_safe(text)
    assert not set(plain) & set("\u200c\u200d\u202e\ufeff")
