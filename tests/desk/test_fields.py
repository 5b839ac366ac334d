"""Entries of the page: from the file to text and back, refused in a form's own words."""

from __future__ import annotations

from datetime import datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.desk.fields import Field, page_fields, same, text_of, value_of
from simulator.plan import plan_reference

FIELDS = {field.key: field for field in page_fields()}


def test_every_key_of_the_offered_tables_has_an_entry_but_those_the_page_sets_itself() -> None:
    offered = {
        row.key for row in plan_reference() if row.key.partition(".")[0] not in {"odds", "fetch"}
    }
    assert offered - FIELDS.keys() == {"bag.items", "event.closed_area"}


@pytest.mark.parametrize(
    ("key", "typed", "value"),
    [
        ("walker.mass_kg", "80", 80),
        ("walker.height_m", " 1,75 ", 1.75),
        ("weather.air_c", "\N{MINUS SIGN}3.5", -3.5),
        ("trip.start", "46.1, -64.7", [46.1, -64.7]),
        ("trip.start", "[46.1 -64.7]", [46.1, -64.7]),
        ("trip.via", ["46.1, -64.7", " ", "46.2,-64.8"], [[46.1, -64.7], [46.2, -64.8]]),
        ("trip.depart", "2026-05-04T16:30", datetime.fromisoformat("2026-05-04T16:30")),
        ("trip.home_by", "21:00", time(21)),
        ("event.closed", ["Mill Bridge", "1234567"], ["Mill Bridge", 1234567]),
        ("choices.halt", "false", False),
        ("walker.sex", "female", "female"),
        ("walker.timed_walk", ["5", "62", "40", "40"], [5, 62, 40, 40]),
        ("event.flood_level_m", "  ", None),
        ("event.closed", [], None),
    ],
)
def test_what_is_typed_is_read_by_the_kind_of_its_entry(
    key: str, typed: str | list[str], value: object
) -> None:
    read = value_of(FIELDS[key], typed)
    assert read == value
    assert type(read) is type(value)


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        ("walker.mass_kg", "eighty", "a number is needed, e.g. 1.5"),
        ("walker.mass_kg", "80 kg", "a number is needed"),
        ("walker.mass_kg", "nan", "a number is needed"),
        ("walker.mass_kg", "1e999", "a number is needed"),
        ("weather.month", "5.5", "a whole number is needed"),
        ("trip.start", "the office", "latitude and longitude in degrees are needed"),
        ("trip.start", "146.1, -64.7", "latitude -90 to 90"),
        ("trip.depart", "2026-05-04", "date and time are needed"),
        ("trip.depart", "2026-05-04T16:30+02:00", "date and time are needed"),
        ("trip.home_by", "nine", "a time is needed"),
        ("choices.halt", "maybe", "yes or no is needed"),
        ("map.extract", "../../etc/passwd", "choose one of the files beside the plan"),
        ("title", "x" * 501, "found too much"),
    ],
)
def test_what_cannot_be_read_is_refused_without_a_word_of_the_file_format(
    key: str, typed: str, words: str
) -> None:
    with pytest.raises(ValueError, match=words.split("(", maxsplit=1)[0]) as refused:
        value_of(FIELDS[key], typed)
    for foreign in ("quotes", "TOML", "bracket"):
        assert foreign not in str(refused.value)


NUMBER = FIELDS["walker.pace_factor"]


@given(st.one_of(st.integers(-(10**14), 10**14), st.floats(allow_nan=False, allow_infinity=False)))
def test_a_number_survives_the_page(value: float) -> None:
    text = text_of(NUMBER, value)
    assert same(value_of(NUMBER, text), value)


@given(st.lists(st.tuples(st.floats(-90, 90), st.floats(-180, 180)), max_size=4))
def test_places_survive_the_page(places: list[tuple[float, float]]) -> None:
    field: Field = FIELDS["trip.via"]
    text = text_of(field, [list(place) for place in places])
    assert same(value_of(field, text) or [], [list(place) for place in places])


def test_true_is_not_one_but_one_is_one_point_nought() -> None:
    assert not same(left=True, right=1)
    assert same(1, 1.0)
    assert same([1, [2.0]], (1, [2]))
    assert not same([1], [1, 2])
