"""Lists made from lists, and the form in which a spreadsheet opens them."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from simulator.bag.items import (
    NUMBERS,
    PURPOSES,
    TIERS,
    Items,
    items_csv,
    items_from,
    joined,
    parse_items,
    with_quantities,
)
from simulator.bag.kinds import KINDS

numbers = st.one_of(st.just(float("nan")), st.floats(0, 150), st.integers(0, 150).map(float))
words = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=12
).filter(lambda text: not text.startswith(("#", "'", '"')))
lines = st.fixed_dictionaries(
    {name: numbers for name in NUMBERS if name not in {"quantity", "mass_g", "warmth_clo"}}
    | {
        "item": words,
        "purpose": st.sampled_from(PURPOSES),
        "tier": st.sampled_from(TIERS),
        "quantity": st.integers(0, 9).map(float),
        "mass_g": st.floats(200, 50_000),
        "warmth_clo": st.floats(0, 10),
        "expires": st.one_of(st.none(), st.dates(dt.date(2000, 1, 1), dt.date(2100, 1, 1))),
        "caution": st.one_of(st.just(""), words),
        "kind": st.lists(st.sampled_from(list(KINDS)), min_size=1, max_size=2, unique=True).map(
            " + ".join
        ),
        "fits": st.sampled_from(["", "AAA"]),
    }
)


def same(one: Items, other: Items) -> bool:
    for field in dataclasses.fields(Items):
        left, right = getattr(one, field.name), getattr(other, field.name)
        if field.name in {"source", "notes"}:
            continue
        if isinstance(left, np.ndarray):
            if not np.array_equal(left, right, equal_nan=True):
                return False
        elif left != right:
            return False
    return True


@given(st.lists(lines, max_size=6))
def test_a_list_that_was_written_reads_back_the_same(rows: list[dict[str, object]]) -> None:
    items = items_from(rows)
    assert same(parse_items(items_csv(items)), items)


def test_a_name_that_a_spreadsheet_would_run_is_harmless_in_the_file_and_whole_when_read() -> None:
    items = items_from(
        [{"item": "=1+1", "purpose": "other", "tier": "basic", "quantity": 1.0, "caution": "-x"}]
    )
    text = items_csv(items)
    assert "'=1+1" in text
    assert "'-x" in text
    assert parse_items(text).item == ("=1+1",)
    assert parse_items(text).caution == ("-x",)


def test_items_without_a_piece_leave_the_list() -> None:
    rows = [
        {"item": name, "purpose": "other", "tier": "basic", "quantity": 2.0} for name in ("a", "b")
    ]
    fewer = with_quantities(items_from(rows), [0, 1])
    assert (fewer.item, fewer.quantity.tolist()) == (("b",), [1.0])
    assert joined(fewer, fewer).item == ("b", "b")
