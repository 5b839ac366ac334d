"""What a thing does on a walk, by its kind and not by what it is called."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from simulator.bag.catalogue import read_catalogue
from simulator.bag.choose import Limits, choose
from simulator.bag.fit import covering, supplies
from simulator.bag.items import Items, carried, cautions, parse_items, read_items
from simulator.bag.kinds import KINDS, _by_numbers
from simulator.demo import demo_folder
from simulator.errors import InputError

HEADER = "item,purpose,kind,tier,quantity,mass_g,light_h,power_wh,fits\n"


def bag(*rows: str) -> Items:
    return parse_items(HEADER + "\n".join(rows) + "\n")


def test_a_list_in_another_language_is_understood_by_its_kinds() -> None:
    items = bag(
        "Stirnlampe,light,lamp,basic,1,80,20,,",
        "Blasenpflaster,first aid,foot care,basic,1,15,,,",
        "Verbandpäckchen,first aid,dressings,basic,1,90,,,",
        "Regenjacke,shelter,rainwear + windproof,comfort,1,230,,,",
        "Knicklicht,light,marker,basic,1,25,8,,",
        "Vierkantschlüssel,tool,tap key,basic,1,95,,,",
        "Taschenmesser,tool,blade,basic,1,95,,,",
    )
    assert items.notes == ()
    load = carried(items)
    assert (load.light_h, load.lamps) == (20.0, 1)
    assert (load.rainwear, load.windproof, load.tarps, load.has_key) == (1, 1, 0, True)
    assert supplies(items, ("blister_care",)).tolist() == [0, 1, 0, 0, 0, 0, 0]
    assert covering(items, "first aid").tolist() == [False, False, True, False, False, False, False]
    assert covering(items, "light").tolist() == [True, *[False] * 6]
    assert covering(items, "signal").tolist() == [False] * 4 + [True, False, False]
    assert any(line.startswith("Taschenmesser: local law") for line in cautions(items))


def test_an_owned_lamp_of_any_name_is_not_bought_a_second_time() -> None:
    owned = parse_items(
        "item,purpose,kind,tier,quantity,mass_g,volume_ml,light_h,fits\n"
        "Stirnlampe,light,lamp,basic,1,80,130,20,AAA\n"
    )
    choice = choose(owned, read_catalogue(), (), limits=Limits())
    assert not choice.bought.is_a("lamp").any()
    assert "Stirnlampe" in choice.items.item


def test_cells_give_light_only_with_a_lamp_that_they_fit() -> None:
    cells = "cells,power,cells,basic,2,20,10,,AAA"
    assert carried(bag(cells)).light_h == 0.0
    assert carried(bag(cells, "lamp,light,lamp,basic,1,60,4,,AA")).light_h == 4.0
    assert carried(bag(cells, "lamp,light,lamp,basic,1,60,4,,AAA")).light_h == 24.0
    assert carried(bag(cells, "lamp,light,lamp,basic,1,60,4,,")).light_h == 24.0


def test_a_lamp_without_cells_is_no_light() -> None:
    bare = "lamp,light,lamp,basic,1,60,0,,AAA"
    assert carried(bag(bare)).lamps == 0
    assert not covering(bag(bare), "light").any()
    assert carried(bag(bare, "cells,power,cells,basic,1,20,10,,AAA")).lamps == 1


def test_a_power_bank_gives_a_telephone_nothing_without_its_cable() -> None:
    bank = "bank,power,power bank,basic,1,90,,10,USB"
    assert np.nansum(bag(bank).phone_wh) == 0.0
    assert np.nansum(bag(bank, "cable,power,cable,basic,1,9,,,barrel").phone_wh) == 0.0
    assert np.nansum(bag(bank, "cable,power,cable,basic,1,9,,,USB").phone_wh) == 10.0
    assert np.nansum(bag("bank,power,power bank + cable,basic,1,90,,10,").phone_wh) == 10.0


def test_an_old_list_is_read_with_a_hint_that_names_each_guess() -> None:
    items = parse_items(
        "item,purpose,tier,quantity,light_h,mass_g\n"
        "glow stick,light,basic,1,8,25\nStirnlampe,light,basic,1,20,80\n"
        "thin rain poncho,shelter,basic,1,,60\nPlane,shelter,basic,1,,300\n"
        "oat bar,food,basic,1,,60\n"
    )
    assert items.kind == ("marker", "lamp", "rainwear", "", "")
    assert carried(items).light_h == 20.0
    assert carried(items).rainwear == 1
    (hint,) = items.notes
    assert "column `kind`" in hint
    assert "glow stick (marker), Stirnlampe (lamp)" in hint
    assert "Plane (none found)" in hint
    assert "oat bar" not in hint


@pytest.mark.parametrize("cell", ["lanp", "lamp + tarpp", "torch, marker"])
def test_a_kind_that_there_is_not_is_refused(cell: str) -> None:
    with pytest.raises(InputError, match=r"column kind: found .*allowed: bottle"):
        bag(f'x,light,"{cell}",basic,1,9,,,')


def test_the_demos_list_and_the_catalogue_say_their_kinds() -> None:
    demo = read_items(demo_folder() / "bag.csv")
    for items in (demo, read_catalogue().items):
        told = [kind for kind in items.kind if kind]
        assert len(told) > len(items) // 2
        assert all(one in KINDS for kind in told for one in kind.split(" + "))
        assert not items.notes


def test_the_readme_names_every_kind() -> None:
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert ", ".join(f"`{kind}`" for kind in KINDS) in " ".join(text.split())


@pytest.mark.parametrize(
    ("holds_ml", "volume_ml", "kind"),
    [
        # Rolled up empty it takes less room than it holds; a stiff bottle never does, and where
        # the room is not known nothing says that it folds.
        (1000.0, 40.0, "flask"),
        (1000.0, 999.0, "flask"),
        (1000.0, 1000.0, "bottle"),
        (1000.0, 1200.0, "bottle"),
        (1000.0, 0.0, "bottle"),
        (1000.0, math.nan, "bottle"),
    ],
)
def test_what_holds_more_than_its_room_folds(holds_ml: float, volume_ml: float, kind: str) -> None:
    row = {"holds_ml": holds_ml, "water_ml": 0.0, "volume_ml": volume_ml, "treats_ml": 0.0}
    assert _by_numbers("water", row) == kind
    full = {"holds_ml": math.nan, "water_ml": holds_ml, "volume_ml": volume_ml}
    assert _by_numbers("water", full) == kind
