"""Whether a list fits the person, the bag and the purse."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.bag.fit import NEEDED_PURPOSES, Dated, Fit, fit
from simulator.bag.items import RULES, Items, cautions, parse_items

HEADER = "item,purpose,tier,quantity,mass_g,volume_ml,price,expires,caution\n"
ON = dt.date(2026, 5, 4)


def listed(*rows: str) -> Items:
    return parse_items(HEADER + "\n".join(rows) + "\n")


def fitted(items: Items, **options: object) -> Fit:
    return fit(items, **{"on": ON, "body_mass_kg": 80.0, **options})  # type: ignore[arg-type]


def test_mass_is_a_share_of_the_body() -> None:
    assert fitted(listed("tarp,shelter,basic,1,4000,,")).mass_share == pytest.approx(0.05)
    loads = [fitted(listed(f"x,other,basic,1,{g},,")).load for g in (8000, 8001, 16001)]
    # Everyday guidance, from memory: 10 to 20 % of body mass for adults.
    assert loads == ["easy", "noticeable", "heavy"]


def test_an_unknown_mass_never_gives_an_easy_load() -> None:
    assert fitted(listed("tarp,shelter,basic,1,,,")).load == "unknown"
    assert fitted(listed("tarp,shelter,basic,1,,,", "stone,other,basic,1,20000,,")).load == "heavy"


def test_the_bag_is_filled_only_to_its_packing_allowance() -> None:
    items = listed("tarp,shelter,basic,1,,3000,", "coat,warmth,basic,1,,1300,")
    found = fitted(items, capacity_l=5.0, packing_allowance=0.8)
    assert found.usable_ml == pytest.approx(4000)
    assert found.volume_left_ml == pytest.approx(-300)
    assert found.too_large == ("coat",)
    assert np.isnan(fitted(items).volume_left_ml)
    assert fitted(items).too_large == ()


def test_a_thing_larger_than_every_pocket_does_not_fit_though_the_sum_does() -> None:
    items = listed("umbrella,shelter,basic,1,,1500,")
    halves = fitted(items, capacity_l=2.0, pockets_l=(1.0,), packing_allowance=1.0)
    assert halves.volume_left_ml > 0
    assert halves.too_large == ("umbrella",)


@given(
    st.lists(st.integers(1, 400), min_size=1, max_size=8),
    st.lists(st.sampled_from([0.1, 0.3, 0.5]), max_size=2),
)
def test_what_is_said_to_fit_does_fit(sizes: list[int], pockets: list[float]) -> None:
    rows = [f"thing {i},other,basic,1,,{size}," for i, size in enumerate(sizes)]
    found = fitted(listed(*rows), capacity_l=1.2, pockets_l=pockets, packing_allowance=1.0)
    if not found.too_large:
        assert found.volume_left_ml >= -1e-9
    if not pockets:  # one compartment: the sum decides
        assert bool(found.too_large) == (sum(sizes) > 1200)


def test_price_is_split_by_tier_and_purpose_and_held_against_the_budget() -> None:
    items = listed(
        "tarp,shelter,basic,1,,,10",
        "pillow,shelter,comfort,2,,,6",
        "bar,food,basic,3,,,1",
        "map,paper,basic,1,,,",
    )
    found = fitted(items, budget=20)
    assert found.price.known == 25
    assert found.price.unknown == ("map",)
    assert found.budget_left == -5
    assert {k: v.known for k, v in found.price_by_tier.items()} == {"basic": 13, "comfort": 12}
    assert found.price_by["comfort", "shelter"].known == 12
    assert found.price_by["basic", "paper"].unknown == ("map",)
    assert sum(total.known for total in found.price_by.values()) == found.price.known


def test_missing_purposes_are_named_the_most_urgent_first() -> None:
    found = fitted(listed("lamp,light,basic,1,,,", "bottle,water,comfort,1,,,", "bar,food,basic,0"))
    assert found.covered == ("water", "light")
    assert found.missing_first == ("shelter", "food", "first aid")
    assert found.missing[:3] == found.missing_first
    assert set(found.covered) | set(found.missing) == set(NEEDED_PURPOSES)


def test_a_thing_on_two_lines_is_named_once() -> None:
    items = listed("Rain  coat,shelter,basic,1", "rain coat,warmth,basic,1", "hat,warmth,basic,1")
    assert fitted(items).duplicates == ("Rain coat",)


def test_expiry_is_judged_on_the_day() -> None:
    items = listed(
        "old,food,basic,1,,,,2026-05-03",
        "today,food,basic,1,,,,2026-05-04",
        "soon,food,basic,1,,,,2026-08-02",
        "later,food,basic,1,,,,2026-08-03",
        "gone,food,basic,0,,,,2020-01-01",
        "never,food,basic,1,,,,",
    )
    found = fitted(items)
    assert found.expired == (Dated("old", dt.date(2026, 5, 3)),)
    assert [entry.item for entry in found.expiring] == ["today", "soon"]


def test_tools_that_law_may_restrict_get_a_caution() -> None:
    for name in ("pocket knife", "Multitool", "folding saws", "pry bar"):
        notes = cautions(listed(f"{name},tool,basic,1"))
        assert any("law may restrict" in note for note in notes), name


def test_no_weapon_is_ever_advised() -> None:
    notes = cautions(listed("pepper spray,other,basic,1", "baton,tool,basic,1"))
    assert sum("no weapon is advised" in note for note in notes) == 2
    said = " ".join(rule.says for rule in RULES)
    assert not re.search(r"\b(defen[cd]|fight|attack|protect yourself)", said)
    assert not set(NEEDED_PURPOSES) & {"defence", "weapon"}


def test_a_word_inside_another_word_gives_no_caution() -> None:
    assert cautions(listed("sawdust briquette,other,basic,1", "begun letter,paper,basic,1")) == ()


def test_medicine_treatment_fire_and_tap_keys_get_their_cautions() -> None:
    for name, words in (
        ("ibuprofen tablets", "pharmacist or doctor"),
        ("water treatment tablets", "keep to its label"),
        ("matches", "carbon monoxide"),
        ("tap key", "only taps that you may use"),
    ):
        assert any(words in note for note in cautions(listed(f"{name},tool,basic,1"))), name


def test_a_parked_car_spoils_some_things() -> None:
    items = listed("power bank,power,basic,1", "water bottle,water,basic,1", "tarp,shelter,basic,1")
    notes = cautions(items, stored="car")
    assert any("power bank: a closed car in the sun" in note for note in notes)
    assert any("water bottle: frost bursts" in note for note in notes)
    assert not any(note.startswith("tarp") for note in notes)
    assert cautions(items) == ()


def test_the_persons_own_caution_is_kept() -> None:
    notes = cautions(listed('pills,first aid,basic,1,,,,,"one a day, no more"'))
    assert "pills: one a day, no more" in notes


@pytest.mark.parametrize(
    "options",
    [
        {"body_mass_kg": 0.0},
        {"packing_allowance": 0.0},
        {"packing_allowance": 1.1},
        {"capacity_l": 0.0},
        {"capacity_l": 1.0, "pockets_l": (2.0,)},
        {"capacity_l": 1.0, "pockets_l": (-0.5,)},
    ],
)
def test_impossible_numbers_are_refused(options: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="must be"):
        fitted(listed("hat,warmth,basic,1"), **options)
