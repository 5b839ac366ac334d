"""The four budgets of an hour: what the bars and the short text say of the ledger."""

from __future__ import annotations

from dataclasses import replace

import pytest

from simulator.report.tables import Budget, Budgets, budget_rows
from simulator.units import Units
from tests.report.conftest import FixtureWalk
from tests.report.test_timeline import text_of

METRIC = Units("metric")


def rows(walk: FixtureWalk) -> tuple[Budgets, ...]:
    return budget_rows(walk, METRIC)


def every(walk: FixtureWalk) -> list[Budget]:
    return [getattr(row, name) for row in rows(walk) for name in Budgets.__slots__]


def test_a_bar_is_never_longer_than_its_frame(walk: FixtureWalk) -> None:
    for budget in every(walk):
        assert budget.left_share >= 0.0
        assert budget.short_share >= 0.0
        assert budget.left_share + budget.short_share <= 1.001  # shares are rounded to thousandths


def test_bars_are_as_long_as_the_ledger_says(walk: FixtureWalk) -> None:
    # The invented walk packs 1.0 L and 900 kcal; more food is short at its end than was packed.
    most = (walk.hours["food_left_kcal"] + walk.hours["energy_short_kcal"]).max()
    assert most > 900.0
    for row, left, food in zip(
        rows(walk), walk.hours["water_left_ml"], walk.hours["food_left_kcal"], strict=True
    ):
        assert row.water.left_share == pytest.approx(left / 1000.0, abs=0.001)
        assert row.food.left_share == pytest.approx(food / most, abs=0.001)
        assert abs(float(row.food.left) - food) <= 5.0
        assert not row.food.alarm


def test_what_is_short_stands_with_a_minus_and_is_never_told_as_zero(walk: FixtureWalk) -> None:
    short = walk.hours["water_short_ml"].to_numpy()
    for row, lack in zip(rows(walk), short, strict=True):
        assert bool(row.water.short) == (lack >= 1.0)
        if row.water.short:
            assert row.water.short[0] == "\N{MINUS SIGN}"
            assert float(row.water.short[1:]) > 0.0
    little = replace(walk, hours=walk.hours.assign(water_short_ml=3.0, energy_short_kcal=6.0))
    assert {row.water.short for row in rows(little)} == {"\N{MINUS SIGN}0.1"}
    assert {row.food.short for row in rows(little)} == {"\N{MINUS SIGN}10"}


def test_an_empty_budget_is_an_empty_frame(walk: FixtureWalk) -> None:
    gone = replace(
        walk,
        hours=walk.hours.assign(
            water_left_ml=0.0, water_short_ml=0.0, light_left_h=0.0, light_short_h=0.0
        ),
    )
    for row in rows(gone):
        for budget in (row.water, row.light):
            assert (budget.left, budget.short, budget.left_share) == ("0", "", 0.0)


def test_warmth_that_no_model_asks_for_has_no_bar(walk: FixtureWalk) -> None:
    first, *others = rows(walk)
    assert not first.warmth.asked
    assert first.warmth.left == "\N{EN DASH}"
    assert all(row.warmth.asked for row in others)


def test_warmth_covers_the_share_of_what_the_hour_asks(walk: FixtureWalk) -> None:
    for row, need in list(zip(rows(walk), walk.hours["warmth_need_clo"], strict=True))[1:]:
        assert row.warmth.left_share == pytest.approx(min(1.0 / need, 1.0), abs=0.001)
        told = row.warmth.short or row.warmth.left
        assert told == f"1.0/{need:.1f}"
        assert bool(row.warmth.short) == (need - 1.0 >= 0.05)


def test_a_rough_halt_is_marked_as_rough(walk: FixtureWalk) -> None:
    table = walk.hours.assign(warmth_need_clo=2.0, warmth_basis="halt, outside the standard")
    for row in rows(replace(walk, hours=table)):
        assert (row.warmth.short or row.warmth.left) == "\N{ALMOST EQUAL TO}1.0/2.0"


def test_us_units_measure_water_in_fluid_ounces(walk: FixtureWalk) -> None:
    # One US fluid ounce is 29.5735295625 mL (231 cubic inches / 128, exact).
    for row, left in zip(budget_rows(walk, Units("us")), walk.hours["water_left_ml"], strict=True):
        if left >= 25.0:
            assert row.water.left == f"{left / 29.5735295625:.0f}"


def test_all_four_budgets_and_their_key_are_on_paper(pdf: bytes) -> None:
    text = text_of(pdf)
    for words in (
        "water L",
        "food kcal",
        "lamp left hours",
        "warmth clo",
        "Frame: what was packed",
    ):
        assert words in text
    assert "\N{MINUS SIGN}0.9" in text
