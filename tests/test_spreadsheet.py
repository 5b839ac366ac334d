"""Tables as people's spreadsheets save them: ten habits, one list; what is doubtful is refused."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.bag.items import Items, parse_items, read_items
from simulator.errors import InputError
from simulator.spreadsheet import Column, Table, read_table

PLAIN = """\
item,purpose,kind,tier,quantity,mass_g,volume_ml,price,expires,water_ml,energy_kcal
Flasche,water,bottle,basic,1,1075,1100,1200.5,,1000,
Kekse,food,,basic,2,75.5,500,4,2030-09-28,,250
Salbe,first aid,dressings,basic,1,40,,3.25,2033-12-31,,
"""


def bytes_of(name: str) -> bytes:
    """Give the same list as ten spreadsheets of different habits save it."""
    german = (
        "Item;Purpose;Kind;Tier;Quantity;Mass_g;Volume_ml;Price;Expires;Water_ml;Energy_kcal\r\n"
        "Flasche;water;bottle;basic;1;1.075,0;1100;1.200,50 €;;1000;\r\n"
        "Kekse;food;;basic;2;75,5;500;4,00 €;28.09.30;;250\r\n"
        "Salbe;first aid;dressings;basic;1;40;?;3,25 €;12/2033;;\r\n"
    )
    units = (
        "item,purpose,kind,tier,quantity,mass,volume,price,expires,water,energy\n"
        'Flasche,water,bottle,basic,1x,"1,075 kg","1,1 l","EUR 1200,50",never,1 l,\n'
        'Kekse,food,,basic,2 pcs,"75,5 g","0,5 l",EUR 4,28 Sep 2030,,1046 kJ\n'
        'Salbe,first aid,dressings,basic,1,40 g,n/a,"EUR 3,25",12/33,,\n'
    )
    american = (
        "item\tpurpose\tkind\ttier\tqty\tMass (g)\tVolume [ml]\tCost\tBest before\tWater ml\t"
        "Energy (kcal)\r"
        'Flasche\twater\tbottle\tbasic\t1\t"1,075.0"\t1100\t"$1,200.50"\t\t1000\t\r'
        "Kekse\tfood\t\tbasic\t2\t75.5\t500\t$4.00\t09/28/2030\t\t250\r"
        "Salbe\tfirst aid\tdressings\tbasic\t1\t40\t-\t$3.25\t12/31/2033\t\t\r"
    )
    titled = (
        "My bag,,,,,,,,,,\n,,,,,,,,,,\n"
        + PLAIN
        + ",,,,,,,,,,\nTotal,,,,4,1266,2100,1211.75,,1000,500\n"
    )
    summed = PLAIN + ",,,,4,1266,2100,1211.75,,1000,500\n"
    columns = [line.split(",") for line in PLAIN.splitlines()]
    turned = [3, 0, 2, 1, 4, 5, 6, 7, 8, 10, 9]
    order = "\n".join(",".join(cells[place] for place in turned) for cells in columns)
    own = "\n".join(
        f"{line},{'#shelf' if place == 0 else 'hall'}"
        for place, line in enumerate(PLAIN.splitlines())
    )
    return {
        "plain": PLAIN.encode(),
        "german": german.encode("utf-8-sig"),
        "windows": german.encode("cp1252"),
        "units": units.encode(),
        "american": american.encode("utf-16"),
        "titled": titled.encode(),
        "summed": summed.encode(),
        "order": order.encode(),
        "own column": own.encode(),
        "told separator": f"sep=;\r\n{german}".encode(),
        "bare returns": PLAIN.replace("\n", "\r").encode(),
    }[name]


@pytest.mark.parametrize(
    "name",
    [
        *("german", "windows", "units", "american", "titled", "summed", "order", "own column"),
        *("told separator", "bare returns"),
    ],
)
def test_ten_spreadsheets_of_different_habits_hold_one_list(name: str, tmp_path: Path) -> None:
    def read(which: str) -> Items:
        path = tmp_path / f"{which}.csv"
        path.write_bytes(bytes_of(which))
        return read_items(path)

    items, plain = read(name), read("plain")
    assert items.item == plain.item
    assert items.expires == (None, dt.date(2030, 9, 28), dt.date(2033, 12, 31))
    for column in ("quantity", "mass_g", "volume_ml", "price", "water_ml", "energy_kcal"):
        # One kilocalorie is 4.184 kJ, so that 1046 kJ are 250 kcal.
        assert getattr(items, column) == pytest.approx(getattr(plain, column), nan_ok=True)
    assert math.isnan(items.volume_ml[2])


@pytest.mark.parametrize(
    ("name", "note"),
    [
        ("windows", "Windows-1252"),
        ("titled", "line 8 looks like a line of totals and was not counted"),
        ("titled", "line 1 to the line before the column names was not read"),
        ("summed", "line 5 looks like a line of totals and was not counted"),
    ],
)
def test_what_is_read_otherwise_than_by_the_letter_is_said(
    name: str, note: str, tmp_path: Path
) -> None:
    path = tmp_path / "bag.csv"
    path.write_bytes(bytes_of(name))
    assert any(note in line for line in read_items(path).notes)


HEADER = "item,purpose,kind,tier,quantity,mass_g,price,expires\n"


def faults(*rows: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        parse_items(HEADER + "\n".join(rows) + "\n", source="bag.csv")
    return [line.removeprefix("bag.csv: ") for line in str(caught.value).splitlines()]


def test_all_faults_of_a_file_are_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        parse_items(
            "item,purpose,tier,quantity,mas_g,mass_g\n"
            'a,food,basic,1,,"1,500"\nb,foot,basic,1,,5 l\nc,food,basic,?,,1\n',
            source="bag.csv",
        )
    told = str(caught.value).splitlines()
    assert [line.split("; ")[0].removeprefix("bag.csv: line ") for line in told] == [
        "1: found the column 'mas_g'",
        "2, column mass_g: found '1,500'",
        "3, column purpose: found 'foot'",
        "3, column mass_g: found '5 l'",
        "4, column quantity: found '?'",
    ]


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("05/06/2028", "write 2028-06-05 or 2028-05-06"),
        ("09/10", "which figure is the year?"),
        ("31.02.2028", "allowed: a day"),
        ("28-Sep", "allowed: a day"),
        ("2028", "allowed: a day"),
    ],
)
def test_a_date_that_may_be_two_days_is_refused(cell: str, words: str) -> None:
    (line,) = faults(f"a,food,,basic,1,1,1,{cell}")
    assert words in line


def test_a_doubtful_date_is_read_as_the_others_of_its_file_are() -> None:
    def days(*cells: str) -> tuple[dt.date | None, ...]:
        return parse_items(HEADER + "".join(f"a,food,,basic,1,1,1,{c}\n" for c in cells)).expires

    assert days("05/06/2028", "28/09/2030") == (dt.date(2028, 6, 5), dt.date(2030, 9, 28))
    assert days("05/06/2028", "09/28/2030") == (dt.date(2028, 5, 6), dt.date(2030, 9, 28))
    with pytest.raises(InputError, match="may be either"):
        days("05/06/2028", "09/28/2030", "28/09/2030")


def test_a_doubtful_number_is_read_as_the_others_of_its_file_are() -> None:
    def masses(*cells: str) -> list[float]:
        rows = "".join(f'a,food,,basic,1,"{cell}",1,\n' for cell in cells)
        return [float(mass) for mass in parse_items(HEADER + rows).mass_g]

    assert masses("1,500", "0.5") == [1500.0, 0.5]
    assert masses("1,500", "0,5") == [1.5, 0.5]
    assert masses("1.500", "0,5") == [1500.0, 0.5]
    assert masses("1.500") == [1.5]
    assert masses("1 500", "2'500", "~75", "ca. 80 g") == [1500.0, 2500.0, 75.0, 80.0]
    with pytest.raises(InputError, match=r"it may be 1500 or 1\.500"):
        masses("1,500", "0,5", "0.5")


def test_a_column_without_a_unit_wants_it_in_its_cells() -> None:
    text = "item,purpose,tier,quantity,weight\na,food,basic,1,75\nb,food,basic,1,75 g\n"
    with pytest.raises(InputError, match=r"line 2, column mass_g: found '75' without a unit"):
        parse_items(text)
    kilos = 'item,purpose,tier,quantity,weight_kg\na,food,basic,1,"0,5"\nb,food,basic,1,75 g\n'
    assert parse_items(kilos).mass_g.tolist() == [500.0, 75.0]


def test_two_currencies_are_not_added_up() -> None:
    assert "one currency" in faults("a,food,,basic,1,1,€ 4,", "b,food,,basic,1,1,$ 4,")[0]


def test_charge_without_a_voltage_is_no_energy() -> None:
    text = "item,purpose,tier,quantity,power_wh\nbank,power,basic,1,5000 mAh\n"
    with pytest.raises(InputError, match="mAh times volts"):
        parse_items(text)


def test_a_line_without_a_purpose_is_a_fault_when_it_sums_up_nothing() -> None:
    assert any("column purpose" in line for line in faults("a,food,,basic,1,50,1,", ",,,,,70,,"))


def test_very_many_faults_are_counted() -> None:
    told = faults(*(f"a{row},foot,,basic,1,1,1," for row in range(200)))
    assert told[-1].endswith("and 140 more faults")


@pytest.mark.parametrize("raw", [b"PK\x03\x04rest", b"\xd0\xcf\x11\xe0rest", b"a,b\x00\x01\n"])
def test_a_workbook_or_an_image_is_no_table(raw: bytes, tmp_path: Path) -> None:
    path = tmp_path / "bag.csv"
    path.write_bytes(raw)
    with pytest.raises(InputError, match=r"workbook|binary"):
        read_items(path)


PEOPLE = (
    Column("id"),
    Column("lat", "number", low=-90.0, high=90.0, needed=True),
    Column("mass_kg", "number", unit="kg", low=20.0, high=300.0),
    Column("depart", "moment"),
)


def people(text: str) -> Table:
    return read_table(text, "people.csv", PEOPLE)


def test_each_row_keeps_its_own_faults() -> None:
    table = people("id;lat;mass_kg;depart\na;46,1;80;04.05.2026 16:30\nb;x;8;\nc;-46,25;;\n")
    assert not table.faults
    first, bad, last = table.rows
    assert first.cells == {
        "id": "a",
        "lat": 46.1,
        "mass_kg": 80.0,
        "depart": dt.datetime(2026, 5, 4, 16, 30),  # noqa: DTZ001 - local by contract
    }
    assert [column for column, _ in bad.faults] == ["lat", "mass_kg"]
    assert last.cells["lat"] == -46.25
    assert not last.faults


@pytest.mark.parametrize(
    ("cell", "hour"),
    [
        ("2026-05-04T16:30:00", 16),
        ("2026-05-04 16:30", 16),
        ("05/25/2026 4:30 PM", 16),
        ("4 May 2026 12:30 am", 0),
    ],
)
def test_a_local_time_is_read_in_usual_forms(cell: str, hour: int) -> None:
    (row,) = people(f"id,lat,depart\na,46,{cell}\n").rows
    when = row.cells["depart"]
    assert isinstance(when, dt.datetime)
    assert (when.hour, when.minute) == (hour, 30)


@pytest.mark.parametrize("cell", ["2026-05-04T16:30Z", "2026-05 16:30", "16:30", "4.5.2026 25:00"])
def test_what_is_no_local_time_is_refused(cell: str) -> None:
    (row,) = people(f"id,lat,depart\na,46,{cell}\n").rows
    assert row.faults[0][0] == "depart"


@given(st.text(max_size=300))
def test_any_text_gives_rows_or_faults_and_never_breaks(text: str) -> None:
    for whole in (text, f"id,lat,mass_kg,depart\n{text}"):
        table = people(whole)
        assert table.faults or all(row.faults or "lat" in row.cells for row in table.rows)
