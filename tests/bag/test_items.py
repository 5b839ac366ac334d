"""The list of what is carried: read from any spreadsheet, summed without inventing anything."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.bag.items import (
    COLUMNS,
    PURPOSES,
    TIERS,
    Carried,
    carried,
    parse_items,
    read_bags,
    read_items,
)
from simulator.errors import InputError

CONTRACT_HEADER = (
    "item,purpose,tier,quantity,mass_g,volume_ml,price,expires,water_ml,treats_ml,energy_kcal,"
    "light_h,warmth_clo,power_wh,caution"
)
"""The columns that the contract names, in its order."""

ROWS = """\
bottle,water,basic,1,540,560,4.5,,500,,,,,,
treatment tablets,water,basic,10,1,2,0.2,2029-01,,500,,,,,30 min in clear water
oat bar,food,basic,2,50,60,1.2,2027-06-30,,,200,,,,
glow stick,light,comfort,1,20,30,1,,,,,8,,,
hand lamp,light,basic,1,60,50,4,,,,,6,,,
tap key,tool,basic,1,80,40,6,,,,,,,,
"""

LIST = f"{CONTRACT_HEADER}\n{ROWS}"


def problems(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        parse_items(text, source="bag.csv")
    return str(caught.value).splitlines()


def test_the_contracts_columns_are_all_understood() -> None:
    added = {"kind", "holds_ml", "fits"}
    assert [name for name in COLUMNS if name not in added] == CONTRACT_HEADER.split(",")
    assert TIERS == ("basic", "comfort")
    assert ", ".join(PURPOSES) == (
        "shelter, warmth, water, food, first aid, light, signal, power, tool, hygiene, paper, other"
    )


def test_a_list_becomes_columns_for_one_piece_and_sums_over_all_pieces() -> None:
    items = parse_items(LIST)
    assert items.item == (
        "bottle",
        "treatment tablets",
        "oat bar",
        "glow stick",
        "hand lamp",
        "tap key",
    )
    assert items.expires[1] == dt.date(2029, 1, 31)  # a month counts to its end
    assert items.expires[2] == dt.date(2027, 6, 30)
    assert math.isnan(items.light_h[0])
    assert items.total("mass_g").known == pytest.approx(540 + 10 * 1 + 2 * 50 + 20 + 60 + 80)
    assert items.total("price").known == pytest.approx(4.5 + 2 + 2.4 + 1 + 4 + 6)
    assert items.table.shape == (6, len(COLUMNS))


# Common practice: one treatment tablet makes half a litre safe, a glow stick shines about 8 hours.
def test_what_is_carried_is_summed_for_the_walk() -> None:
    load = carried(parse_items(LIST))
    assert load.mass_kg == pytest.approx(0.81)
    assert load.food_mass_kg == pytest.approx(0.1)
    assert dataclasses.replace(load, mass_kg=0.0, food_mass_kg=0.0) == Carried(
        water_ml=500.0,
        water_capacity_ml=500.0,
        treats_ml=5000.0,
        energy_kcal=400.0,
        light_h=6.0,  # a glow stick is to be seen by
        has_key=True,
        lamps=1,
    )
    assert carried(None) == Carried()


def test_an_empty_bottle_holds_water_and_a_pouch_cannot_be_filled_again() -> None:
    text = (
        "item,purpose,tier,quantity,mass_g,water_ml,holds_ml\n"
        "folding bottle,water,basic,1,40,0,1000\npouch,water,basic,2,130,125,0\n"
    )
    load = carried(parse_items(text))
    assert load.water_ml == 250.0
    assert load.water_capacity_ml == 1000.0
    assert load.unknown == ()
    unsaid = "item,purpose,tier,quantity,mass_g,water_ml\nfolding bottle,water,basic,1,40,0\n"
    assert carried(parse_items(unsaid)).unknown == ("holds_ml of 'folding bottle'",)


def test_an_empty_cell_is_unknown_only_where_a_sum_depends_on_it() -> None:
    text = (
        "item,purpose,tier,quantity,mass_g,energy_kcal,water_ml\n"
        "whistle,signal,basic,1,10,,\nbar,food,basic,3,,,\nbottle,water,basic,1,300,,\n"
    )
    items = parse_items(text)
    assert items.total("mass_g").known == 310.0
    assert items.total("mass_g").unknown == ("bar",)
    assert items.total("energy_kcal").unknown == ("bar",)
    assert items.total("water_ml").unknown == ("bottle",)
    assert items.total("price").unknown_count == 3
    assert carried(items).unknown == (
        "mass_g of 'bar'",
        "water_ml of 'bottle'",
        "treats_ml of 'bottle'",
        "energy_kcal of 'bar'",
    )
    with pytest.raises(KeyError, match="cannot be summed"):
        items.total("caution")


def test_nothing_of_an_item_that_is_not_there_counts() -> None:
    text = "item,purpose,tier,quantity,mass_g\nbar,food,basic,0,50\nrope,tool,basic,0,\n"
    assert carried(parse_items(text)) == Carried()


def test_only_a_key_for_taps_is_one() -> None:
    def has_key(name: str, purpose: str = "tool") -> bool:
        head = "item,purpose,tier,quantity\n"
        return carried(parse_items(f"{head}{name},{purpose},basic,1\n")).has_key

    assert all(map(has_key, ("Spigot key", "four-way sillcock key", "water key", "tap KEY")))
    assert not any(map(has_key, ("house key", "turkey, roast".replace(",", ""), "monkey wrench")))
    assert not has_key("tap key", "paper")


def test_every_spreadsheets_way_of_saving_gives_the_same_list(tmp_path: Path) -> None:
    semicolons = "\n".join(
        line if line.startswith("item") else line.replace(".", ",")
        for line in LIST.replace(",", ";").splitlines()
    )
    ways = {
        "plain": LIST.encode(),
        "mark": b"\xef\xbb\xbf" + LIST.encode(),
        "crlf": LIST.replace("\n", "\r\n").encode(),
        "cr": LIST.replace("\n", "\r").encode(),
        "no last line end": LIST.rstrip("\n").encode(),
        "semicolons": semicolons.encode(),
        "tabs": LIST.replace(",", "\t").encode(),
        "quoted": LIST.replace("bottle", '"bottle"').encode(),
        "padded": LIST.replace(",tool,", " , Tool ,").encode(),
        "notes": ("# a note, with a comma\n" + LIST + ",,,,\n\n").encode(),
        "capitals": LIST.replace("mass_g", "Mass_g").encode(),
    }
    tables = {}
    for name, content in ways.items():
        path = tmp_path / "bag.csv"
        path.write_bytes(content)
        tables[name] = read_items(path).table.to_csv()
    assert len(set(tables.values())) == 1, {name: len(table) for name, table in tables.items()}


def test_short_lines_leave_their_last_cells_unknown() -> None:
    items = parse_items(f"{CONTRACT_HEADER}\nbar,food,basic,1\n")
    assert np.isnan(items.mass_g[0])


def test_every_fault_is_named_by_line_column_found_and_allowed() -> None:
    text = f"{CONTRACT_HEADER}\nbar,foood,basic,,x,,,30.13.2027,,,,,,,\nrope,tool,top,1,-4\n"
    number = "allowed: a number from 0 to 50000, or an empty cell for unknown"
    days = "allowed: a day as 2027-06-30 or 30.06.2027, a month as 2027-06 or 06/2027, or empty"
    only = "write the number alone or with g"
    assert [line.removeprefix("bag.csv: line ") for line in problems(text)] == [
        f"2, column purpose: found 'foood'; did you mean 'food'? allowed: {', '.join(PURPOSES)}",
        "2, column quantity: found an empty cell; write it",
        f"2, column mass_g: found 'x'; {number}; {only}",
        f"2, column expires: found '30.13.2027'; {days}",
        "3, column tier: found 'top'; allowed: basic, comfort",
        f"3, column mass_g: found '-4'; {number}; nothing is negative",
    ]


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("-1", "nothing is negative"),
        ("\u22121", "nothing is negative"),
        ("1,500", "it may be 1500 or 1.500: write 1500, or 1.5"),
        ("500 ml", "alone or with g"),
        ("=1+2", "alone or with g"),
        ("nan", "alone or with g"),
        ("inf", "alone or with g"),
        ("1e9", "check the unit"),
        ("0x10", "alone or with g"),
        ("#REF!", "a sum that failed"),
    ],
)
def test_a_cell_that_is_no_number_from_zero_is_refused(cell: str, words: str) -> None:
    text = f'item,purpose,tier,quantity,mass_g\nbar,food,basic,1,"{cell}"\n'
    lines = problems(text)
    assert len(lines) == 1
    assert lines[0].startswith("bag.csv: line 2, column mass_g: found")
    assert words in lines[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("\n\n", "found no column names"),
        ("# only a note\n", "found no column names"),
        ("item,purpose,tier\n", "missing columns: quantity"),
        ("item,purpose,tier,quantity,mas_g\n", "did you mean 'mass_g'?"),
        ("item,purpose,tier,quantity,item\n", "the column 'item' twice"),
        ("item,purpose,tier,quantity\nbar,food,basic,1,2\n", "line 2: found 5 cells, allowed: 4"),
        ('item,purpose,tier,quantity\n"bar,food,basic,1\n', "check the double quotes"),
    ],
)
def test_a_list_that_is_no_list_is_refused_in_one_line(text: str, words: str) -> None:
    lines = problems(text)
    assert len(lines) == 1
    assert words in lines[0]


def test_half_a_lamp_is_refused_and_half_a_bar_is_read() -> None:
    head = "item,purpose,tier,quantity,energy_kcal\n"
    (line,) = problems(head + "lamp,light,basic,1.5,\nbar,food,basic,1.5,200\n")
    assert line.startswith("bag.csv: line 2, column quantity: found 1.5 pieces")
    assert "such as 1 or 2" in line
    assert parse_items(head + "bar,food,basic,1.5,200\n").total("energy_kcal").known == 300.0


def test_a_mass_that_leaves_out_the_water_is_refused() -> None:
    text = "item,purpose,tier,quantity,mass_g,water_ml\nbottle,water,basic,1,40,500\n"
    assert "write the mass as packed, water included" in problems(text)[0]


def test_line_numbers_are_those_of_the_file_after_notes_and_broken_lines() -> None:
    text = '# note\nitem,purpose,tier,quantity\n"a\nb",tool,basic,1\nrope,tool,basic,x\n'
    assert problems(text)[0].startswith("bag.csv: line 5, column quantity")


def test_text_that_looks_like_a_formula_stays_text() -> None:
    items = parse_items('item,purpose,tier,quantity\n"=HYPERLINK(""x"")",tool,basic,1\n')
    assert items.item == ('=HYPERLINK("x")',)


def test_a_folder_may_hold_several_bags(tmp_path: Path) -> None:
    (tmp_path / "winter.csv").write_text(LIST)
    (tmp_path / "summer.csv").write_text(f"{CONTRACT_HEADER}\nhat,warmth,basic,1\n")
    bags = read_bags(tmp_path)
    assert list(bags) == ["summer", "winter"]
    assert len(bags["winter"]) == 6
    (tmp_path / "autumn.csv").write_text("item\n")
    (tmp_path / "summer.csv").write_text("tier\n")
    with pytest.raises(InputError) as caught:
        read_bags(tmp_path)
    assert len(str(caught.value).splitlines()) == 2
    with pytest.raises(InputError, match="found no list"):
        read_bags(tmp_path / "gone")


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_but_never_breaks(text: str) -> None:
    try:
        items = parse_items(f"item,purpose,tier,quantity,mass_g\n{text}")
    except InputError as fault:
        assert str(fault).startswith("bag.csv: line")  # noqa: PT017 - either outcome is right
    else:
        assert not (items.quantity < 0).any()


def test_what_is_wrapped_round_one_warms_a_halt_and_not_the_walk() -> None:
    # Common practice: a closed bag cannot be walked in, and a loose sheet blows off.
    rows = (
        "item,purpose,kind,tier,quantity,mass_g,volume_ml,price,warmth_clo\n"
        "jumper,warmth,,basic,1,300,900,20,0.3\n"
        "foil bag,warmth,wrap,basic,1,110,180,9,0.5\n"
    )
    sums = carried(parse_items(rows))
    assert sums.warmth_clo == pytest.approx(0.8)
    assert sums.walking_clo == pytest.approx(0.3)
