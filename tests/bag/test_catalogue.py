"""The packaged catalogue: what it covers, what it costs, and how a catalogue is refused."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from simulator.bag.catalogue import parse_catalogue, read_catalogue
from simulator.bag.choose import Limits, choose
from simulator.bag.fit import NEEDED_PURPOSES, PACKING_ALLOWANCE, Journey, demands
from simulator.bag.items import PURPOSES, TIERS
from simulator.errors import InputError

CATALOGUE = read_catalogue()
ITEMS = CATALOGUE.items

FIVE_LITRES_ML = 5000.0 * PACKING_ALLOWANCE


def walk_of_25_km() -> Journey:
    """Make a mild spring walk of six hours that ends in the dark, one tap on the way."""
    clock = np.linspace(0.0, 6.0, 61)
    return Journey(
        walkers=1,
        clock_h=clock,
        lost_ml=300.0 * clock,
        energy_kcal=290.0 * clock,
        unlit_h=np.maximum(clock - 4.0, 0.0),
        distance_km=25.0 / 6.0 * clock,
        safe_h=(3.0,),
        raw_h=(),
        cold=(),
        store_kcal=1500.0,
    )


def test_every_purpose_and_both_tiers_are_there() -> None:
    assert set(ITEMS.purpose) == set(PURPOSES)
    pairs = set(zip(ITEMS.purpose, ITEMS.tier, strict=True))
    assert {(purpose, tier) for purpose in NEEDED_PURPOSES for tier in TIERS} <= pairs


def test_price_and_mass_lie_in_their_ranges_and_nothing_needed_is_unknown() -> None:
    for middle, low, high in (
        (ITEMS.price, CATALOGUE.price_low, CATALOGUE.price_high),
        (ITEMS.mass_g, CATALOGUE.mass_low_g, CATALOGUE.mass_high_g),
    ):
        assert ((low <= middle) & (middle <= high)).all()
    assert np.isfinite(ITEMS.volume_ml).all()
    assert (CATALOGUE.most >= 1).all()


def test_names_stand_once_and_say_no_maker() -> None:
    assert len({name.casefold() for name in ITEMS.item}) == len(ITEMS)
    # A maker's name would be written with a capital or a sign.
    assert all(re.fullmatch(r"[a-z][a-z -]*", name) for name in ITEMS.item)


# Common practice, as the trade tells beginners.
def test_a_glow_stick_gives_about_eight_hours() -> None:
    assert ITEMS.light_h[ITEMS.item.index("glow stick")] == pytest.approx(8.0, abs=4.0)


def test_one_tablet_treats_half_a_litre() -> None:
    strip = ITEMS.item.index("strip of ten purification tablets")
    assert ITEMS.treats_ml[strip] / 10 == 500.0


def test_a_basic_bag_takes_about_a_third_of_a_comfortable_one_and_both_fit_five_litres() -> None:
    needs = demands(walk_of_25_km())
    limits = Limits(volume_ml=FIVE_LITRES_ML)
    basic, comfort = (
        choose(None, CATALOGUE, needs, limits=limits, standard=standard, ask_more=False)
        for standard in ("basic", "comfort")
    )
    for bag in (basic, comfort):
        assert not bag.uncovered
        assert not bag.unmet
        assert bag.volume_ml <= FIVE_LITRES_ML
    assert basic.spent / comfort.spent == pytest.approx(1 / 3, abs=0.08)


HOUSEHOLD_KITS = {
    "Ready campaign, US Department of Homeland Security: basic kit (from memory)": {
        "water": "water bottle",
        "food that keeps": "bar",
        "radio": "radio",
        "flashlight": "torch|lamp",
        "first aid kit": "first-aid pouch",
        "extra batteries": "cells",
        "whistle": "whistle",
        "dust mask": "dust mask",
        "sheeting and duct tape": "cloth tape",
        "moist towelettes": "moist wipes",
        "garbage bags": "rubbish bags",
        "wrench or pliers": "multi-tool",
        "local maps": "map",
        "phone charger and battery": "power bank",
    },
    "Federal Office of Civil Protection, Germany: emergency pack (from memory)": {
        "first-aid material": "first-aid pouch",
        "battery radio": "radio",
        "documents in a sleeve": "copies of papers",
        "food and drink": "bar",
        "water bottle": "water bottle",
        "blanket": "foil b",
        "torch": "torch|lamp",
        "clothing for warmth and rain": "rain|underwear",
        "stout shoes": "shoes",
        "hygiene": "tissues|wipes",
        "mask": "dust mask",
    },
    "Red Cross: survival kit, items carried (from memory)": {
        "water": "water bottle",
        "food": "bar",
        "flashlight": "torch|lamp",
        "first aid kit": "first-aid pouch",
        "multi-purpose tool": "multi-tool",
        "sanitation": "tissues|wipes|sanitiser",
        "copies of documents": "copies of papers",
        "phone and charger": "power bank|cable",
        "emergency contact information": "card with numbers",
        "extra cash": "small money",
        "emergency blanket": "foil blanket",
        "maps": "map",
    },
}
"""Entries of official household lists that a person on foot can carry, and a pattern for the item
that answers each. Left out on purpose: medicines (a doctor's and a pharmacist's matter), what is
for a house or a car (can opener, fire extinguisher, fuel, crockery), infants' and pets' things."""


@pytest.mark.parametrize("published", HOUSEHOLD_KITS)
def test_official_household_lists_are_answered(published: str) -> None:
    missing = {
        entry: pattern
        for entry, pattern in HOUSEHOLD_KITS[published].items()
        if not any(re.search(pattern, name) for name in ITEMS.item)
    }
    assert not missing


ROW = "lamp,light,basic,1,50,60,5,,8,\n"
HEADER = "item,purpose,tier,quantity,mass_g,volume_ml,price,water_ml,light_h,price_high\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEADER + ROW.replace("basic,1", "basic,2"), "a catalogue describes 1 piece"),
        (HEADER + ROW.replace(",8,", ",8,3"), "price 5.0 outside"),
        (HEADER.replace("price_high", "prize_high") + ROW, "did you mean 'price_high'"),
        (HEADER + ROW.replace("light", "lihgt"), "did you mean 'light'"),
        (HEADER + ROW.replace("50", "-50"), "nothing is negative"),
        ("", "found no column names"),
    ],
)
def test_a_wrong_catalogue_is_refused_in_one_line(text: str, said: str) -> None:
    with pytest.raises(InputError) as refused:
        parse_catalogue(text, source="mine.csv")
    assert said in str(refused.value)
    assert str(refused.value).startswith("mine.csv")
    assert len(str(refused.value).splitlines()) == 1


def test_a_catalogue_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="found no file"):
        read_catalogue(tmp_path / "none.csv")
