"""The plan and its list as the page edits them: what is not touched stays byte for byte."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from simulator import InputError, Plan, demo_folder
from simulator.bag.items import COLUMNS, parse_items
from simulator.desk.document import (
    Draft,
    Opened,
    PageState,
    Texts,
    TypedRow,
    faults_of,
    files_beside,
    open_document,
    put_in_place,
    save,
    state_from,
    texts_of,
)
from tests.conftest import BAG, PLAN, TownWriter

NOTED_BAG = """\
# for the office drawer
item,purpose,tier,quantity,mass_g,water_ml,energy_kcal
# check the cap
bottle,water,basic,1,540,500,
oat bar,food,basic,2,50,,200
# bought in May
"""


@pytest.fixture
def opened(write_town: TownWriter) -> Opened:
    return open_document(write_town(bag=NOTED_BAG))


def line(origin: int = -1, **cells: str) -> TypedRow:
    return TypedRow(tuple(cells.get(name, "") for name in COLUMNS), origin)


def entered(opened: Opened, **entries: str | list[str]) -> PageState:
    named = {name.replace("__", "."): entry for name, entry in entries.items()}
    return replace(opened.state, entries={**opened.state.entries, **named})


def test_an_untouched_page_is_the_opened_files(opened: Opened) -> None:
    texts = texts_of(opened, opened.state)
    assert texts == Texts(plan=opened.plan_text, row_lines=(4, 5))


def test_the_demo_keeps_every_note_but_that_of_a_key_taken_out() -> None:
    opened = open_document(demo_folder() / "plan.toml")
    state = entered(
        opened,
        trip__depart="2026-11-18T07:15",
        weather__air_c="-2",
        event__closed=["Old Ossen Bridge"],
        bag__budget="",
    )
    before, after = opened.plan_text.splitlines(), texts_of(opened, state).plan.splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=False) if a != b]
    assert len(after) == len(before) - 1
    assert changed[0] == (
        before[9],
        before[9].replace("16:30:00", "07:15:00"),
    )
    tables = tomllib.loads("\n".join(after))
    assert tables["weather"]["air_c"] == -2
    assert "budget" not in tables["bag"]
    assert tables["event"]["closed"] == ["Old Ossen Bridge"]
    assert [line for line in before if line.startswith("#")] == [
        line for line in after if line.startswith("#")
    ]


def test_people_come_and_go(opened: Opened) -> None:
    two = replace(
        entered(
            opened,
            walker__2__mass_kg="25",
            walker__2__height_m="1.2",
            walker__2__age_y="8",
            walker__2__sex="female",
        ),
        persons=2,
    )
    people = tomllib.loads(texts_of(opened, two).plan)["walker"]
    assert [person["mass_kg"] for person in people] == [80, 25]
    path = opened.path
    path.write_text(texts_of(opened, two).plan, encoding="utf-8")
    again = open_document(path)
    assert again.state.persons == 2
    one = replace(again.state, persons=1)
    assert [p["age_y"] for p in tomllib.loads(texts_of(again, one).plan)["walker"]] == [40]


def test_notes_of_the_list_stay_above_their_lines(opened: Opened) -> None:
    bottle, bar = opened.state.rows
    lamp = line(
        item="lamp", purpose="light", tier="basic", quantity="1", mass_g="60", light_h="10",
        caution="=not a formula",
    )  # fmt: skip
    state = replace(opened.state, rows=(bar, bottle, lamp))
    texts = texts_of(opened, state)
    assert texts.bag.splitlines() == [
        "# for the office drawer",
        "item,purpose,tier,quantity,mass_g,water_ml,energy_kcal,light_h,caution",
        "oat bar,food,basic,2,50,,200,,",
        "# check the cap",
        "bottle,water,basic,1,540,500,,,",
        "lamp,light,basic,1,60,,,10,'=not a formula",
        "# bought in May",
    ]
    items = parse_items(texts.bag)
    assert items.item == ("oat bar", "bottle", "lamp")
    assert items.caution[2] == "=not a formula"
    assert [texts.bag.splitlines()[line - 1].split(",")[0] for line in texts.row_lines] == [
        "oat bar",
        "bottle",
        "lamp",
    ]


def test_a_list_with_semicolons_keeps_them_and_its_decimal_commas(write_town: TownWriter) -> None:
    text = BAG.replace(",", ";").replace(";540;", ";540,5;")
    opened = open_document(write_town(bag=text))
    rows = (*opened.state.rows[:2],)
    written = texts_of(opened, replace(opened.state, rows=rows)).bag
    assert "540,5" in written
    assert parse_items(written).mass_g[0] == 540.5


WORN_BAG = """\
My bag;;;;;
Item;Purpose;Tier;Pieces;Weight (oz);# bought at
bottle;water;basic;1;20;the market
biscuits;food;basic;2;3,5;"a shop; round the corner"
Total;;;;27;
"""


def test_a_list_in_a_persons_own_words_is_shown_and_kept(write_town: TownWriter) -> None:
    opened = open_document(write_town(bag=WORN_BAG))
    bottle, biscuits = opened.state.rows
    assert dict(zip(COLUMNS, biscuits.cells, strict=True))["mass_g"] == "3,5 oz"
    heavier = replace(
        bottle, cells=tuple("540" if cell == "20 oz" else cell for cell in bottle.cells)
    )
    new = line(item="map", purpose="paper", tier="basic", quantity="1", mass_g="30", price="2")
    texts = texts_of(opened, replace(opened.state, rows=(heavier, biscuits, new)))
    assert texts.bag.splitlines() == [
        "My bag;;;;;",
        "Item;Purpose;Tier;Pieces;Weight (oz);# bought at;price",
        "bottle;water;basic;1;540 g;the market;",
        'biscuits;food;basic;2;3,5;"a shop; round the corner";',
        "map;paper;basic;1;30 g;;2",
    ]
    # 3.5 international avoirdupois ounces of 28.349523125 g.
    assert parse_items(texts.bag).mass_g.tolist() == pytest.approx([540.0, 99.22333, 30.0])
    assert texts.row_lines == (3, 4, 5)


def test_a_list_that_cannot_be_taken_apart_is_not_opened_to_be_written_over(
    write_town: TownWriter,
) -> None:
    with pytest.raises(InputError, match="line 3: cannot be read as CSV"):
        open_document(write_town(bag='item,purpose\n"a",water\n"b"c,food\n'))


def test_another_list_and_other_areas_take_the_place_of_the_plans(opened: Opened) -> None:
    folder = opened.path.parent
    (folder / "summer.csv").write_text(WORN_BAG, encoding="utf-8")
    drawn = texts_of(opened, replace(opened.state, areas=(RING,)))
    (folder / "flood.geojson").write_text(drawn.area, encoding="utf-8")
    assert "summer.csv" in files_beside(opened, "bag.items")
    sent = opened.state.as_json()
    sent |= {"bag": "summer.csv", **put_in_place(opened, "bag", "summer.csv")}
    sent |= {"area": "flood.geojson", **put_in_place(opened, "area", "flood.geojson")}
    state = state_from(sent)
    assert [row.cells[0] for row in state.rows] == ["bottle", "biscuits"]
    assert state.areas == (RING,)
    texts = texts_of(opened, state)
    tables = tomllib.loads(texts.plan)
    assert tables["bag"]["items"] == "summer.csv"
    assert tables["event"]["closed_area"] == "flood.geojson"
    # What was only chosen is written nowhere; what is then changed goes into the chosen file.
    assert (texts.bag_name, texts.area_name) == ("", "")
    shorter = texts_of(opened, replace(state, rows=state.rows[:1], areas=()))
    assert shorter.bag_name == "summer.csv"
    assert "biscuits" not in shorter.bag
    assert "closed_area" not in tomllib.loads(shorter.plan).get("event", {})


@pytest.mark.parametrize("name", ["gone.csv", "../secret.csv", "plan.toml", "broken.csv"])
def test_only_a_readable_list_beside_the_plan_takes_its_place(opened: Opened, name: str) -> None:
    folder = opened.path.parent
    (folder.parent / "secret.csv").write_text(WORN_BAG, encoding="utf-8")
    (folder / "broken.csv").write_text('item,purpose\n"a"b,water\n', encoding="utf-8")
    with pytest.raises(InputError):
        put_in_place(opened, "bag", name)
    texts = texts_of(opened, replace(opened.state, bag=name))
    assert [beside for beside, _ in texts.faults] == ["bag"]
    assert texts.bag == ""


def test_a_plan_without_a_list_gets_one_with_its_first_item(write_town: TownWriter) -> None:
    opened = open_document(write_town(PLAN.replace('items = "bag.csv"\n', "")))
    assert opened.state.rows == ()
    state = replace(
        opened.state, rows=(line(item="map", purpose="paper", tier="basic", quantity="1"),)
    )
    texts = texts_of(opened, state)
    assert texts.bag_name == "bag.csv"
    assert tomllib.loads(texts.plan)["bag"]["items"] == "bag.csv"


def test_a_list_of_another_folder_is_not_written_over(write_town: TownWriter) -> None:
    path = write_town(PLAN.replace('"bag.csv"', '"../lists/mine.csv"'))
    shared = path.parent.parent / "lists" / "mine.csv"
    shared.parent.mkdir()
    shared.write_text(BAG, encoding="utf-8")
    opened = open_document(path)
    texts = texts_of(opened, replace(opened.state, rows=opened.state.rows[:1]))
    assert texts.bag_name == "mine.csv"
    draft = Draft(path.parent / "draft")
    draft.write(opened, opened.state, texts)
    assert save(opened, texts, draft.plan(opened, texts), overwrite=True) == ()
    assert shared.read_text(encoding="utf-8") == BAG
    assert len(parse_items((path.parent / "mine.csv").read_text(encoding="utf-8"))) == 1


RING = ((46.0, -64.8), (46.001, -64.8), (46.001, -64.799))


def test_a_drawn_area_is_geojson_that_is_read_back_as_drawn(opened: Opened) -> None:
    texts = texts_of(opened, replace(opened.state, areas=(RING,)))
    (feature,) = json.loads(texts.area)["features"]
    outline = feature["geometry"]["coordinates"][0][0]
    assert outline[0] == outline[-1] == [-64.8, 46.0]  # longitude first, closed: RFC 7946
    opened.path.write_text(texts.plan, encoding="utf-8")
    (opened.path.parent / texts.area_name).write_text(texts.area, encoding="utf-8")
    again = open_document(opened.path)
    assert set(again.state.areas[0]) == set(RING)
    without = texts_of(again, replace(again.state, areas=()))
    assert "closed_area" not in tomllib.loads(without.plan)["event"]


def test_faults_stand_beside_their_entries(opened: Opened) -> None:
    bottle, bar = opened.state.rows
    heavy = line(bottle.origin, **dict(zip(COLUMNS, bottle.cells, strict=True)) | {"mass_g": "-5"})
    state = replace(
        entered(opened, walker__1__mass_kg="8", weather__air_c="mild", trip__home="46.0, -64.7"),
        rows=(bar, heavy),
    )
    texts = texts_of(opened, state)
    assert texts.faults == (("weather.air_c", "found 'mild'; a number is needed, e.g. 1.5"),)
    draft = Draft(opened.path.parent / "draft")
    draft.write(opened, state, texts)
    with pytest.raises(InputError) as refused:
        draft.plan(opened, texts)
    assert [name for name, _ in faults_of(refused.value, texts)] == ["walker.1.mass_kg"]
    with pytest.raises(InputError) as cell:
        parse_items(texts.bag, source="somewhere/bag.csv")
    assert [name for name, _ in faults_of(cell.value, texts)] == ["bag.2.mass_g"]


def test_only_files_beside_the_plan_are_offered(opened: Opened) -> None:
    assert files_beside(opened, "map.extract") == ("town.osm",)
    assert files_beside(opened, "map.elevation") == ("heights.tif",)
    assert files_beside(opened, "title") == ()


def test_saving_asks_before_it_replaces(opened: Opened) -> None:
    state = entered(opened, walker__1__mass_kg="81")
    texts = texts_of(opened, state)
    draft = Draft(opened.path.parent.parent / "draft")
    draft.write(opened, state, texts)
    plan = draft.plan(opened, texts)
    assert save(opened, texts, plan, overwrite=False) == ("plan.toml",)
    assert opened.path.read_text(encoding="utf-8") == opened.plan_text
    assert save(opened, texts, plan, overwrite=True) == ()
    assert Plan.read(opened.path).walker[0].mass_kg == 81
    assert (opened.path.parent / "bag.csv").read_text(encoding="utf-8") == NOTED_BAG
    assert save(opened, texts, plan, overwrite=False) == ()  # nothing would change


def test_saving_elsewhere_takes_the_files_along(opened: Opened, tmp_path: Path) -> None:
    moved = replace(opened, save_as=tmp_path / "mine" / "plan.toml")
    draft = Draft(tmp_path / "draft")
    texts = texts_of(moved, moved.state)
    draft.write(moved, moved.state, texts)
    assert save(moved, texts, draft.plan(moved, texts), overwrite=False) == ()
    assert sorted(path.name for path in (tmp_path / "mine").iterdir()) == [
        "bag.csv",
        "heights.tif",
        "plan.toml",
        "town.osm",
    ]
    Plan.read(tmp_path / "mine" / "plan.toml")


def test_a_draft_comes_back_and_knows_whether_the_file_was_changed(opened: Opened) -> None:
    draft = Draft(opened.path.parent / "draft")
    assert draft.read(opened) == (None, True)
    state = entered(opened, walker__1__mass_kg="abc")
    draft.write(opened, state, texts_of(opened, state))
    assert draft.read(opened) == (state, True)
    assert draft.folder.stat().st_mode & 0o077 == 0
    opened.path.write_text(PLAN + "\n", encoding="utf-8")
    assert draft.read(open_document(opened.path)) == (state, False)
    draft.drop()
    assert draft.read(opened) == (None, True)


@pytest.mark.parametrize(
    "sent",
    [
        None,
        [],
        {},
        {"entries": {}, "persons": 0, "rows": [], "areas": []},
        {"entries": {}, "persons": 999, "rows": [], "areas": []},
        {"entries": {"title": 3}, "persons": 1, "rows": [], "areas": []},
        {"entries": {}, "persons": 1, "rows": [{"cells": ["x"]}], "areas": []},
        {"entries": {}, "persons": 1, "rows": [], "areas": [[[1, 2]]]},
        {"entries": {}, "persons": 1, "rows": [], "areas": [[[1, 2], [3, "4"], [5, 6]]]},
        {"entries": {}, "persons": 1, "rows": [{}] * 401, "areas": []},
    ],
)
def test_what_no_page_sends_is_not_read(sent: object) -> None:
    with pytest.raises(ValueError, match="not what the page sends"):
        state_from(sent)


def test_a_state_survives_its_own_json(opened: Opened) -> None:
    state = replace(opened.state, areas=(RING,))
    assert state_from(json.loads(json.dumps(state.as_json()))) == state
