"""The bag on paper and in the calendar, read back as other programs read them."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator import Plan
from simulator.bag.items import items_from, rows_of
from simulator.bag.upkeep import Task
from simulator.questions.bag import Packed, pack
from simulator.report.bag import amount, bag_text, checklist_pdf, grams, sheet_of_bag, write_bag
from simulator.report.calendar import upkeep_csv, upkeep_ics
from simulator.units import Units
from tests.conftest import PLAN, town_xml, write_heights

MADE = datetime(2026, 5, 4, tzinfo=UTC)
LINE_OCTETS = 75

HOSTILE = '#image("x.png") $x^2$ *bold* <b> \\ , ; "quoted" \u202ereversed'

BAG = """\
item,purpose,tier,quantity,mass_g,volume_ml,price,expires,water_ml,energy_kcal,light_h,caution
bottle,water,basic,1,540,560,4,,500,,,
old bar,food,basic,2,50,60,1,2026-01-31,,200,,eat me
tarp,shelter,basic,1,,700,9,,,,,
pillow,other,comfort,1,300,2900,9,,,,,
"""


@pytest.fixture(scope="module")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Packed:
    """Judge a poor bag for a night walk across the hand-written town, and choose a better one."""
    folder = tmp_path_factory.mktemp("town")
    plan = PLAN.replace("T09:30:00", "T22:30:00") + '[event]\nkind = "power failure"\n'
    (folder / "town.osm").write_text(town_xml(), encoding="utf-8")
    (folder / "bag.csv").write_text(BAG, encoding="utf-8")
    (folder / "plan.toml").write_text(plan, encoding="utf-8")
    write_heights(folder / "heights.tif")
    return pack(Plan.read(folder / "plan.toml"), choosing=True, most_runs=3)


@pytest.fixture(scope="module")
def unchosen(packed: Packed) -> Packed:
    """Give the same bag as if no better one had been asked for."""
    return replace(packed, choice=None, chosen_fit=None, chosen_balances=())


def text_of(pdf: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_every_item_can_be_ticked_and_shortages_lead(unchosen: Packed) -> None:
    text = text_of(checklist_pdf(unchosen))
    for said in (
        "bottle",
        "old bar",
        "past its date, 2026-01-31",
        "tarp",
        "unknown",
        "Falls short",
    ):
        assert said in text
    assert text.index("Falls short") < text.index("Tick off") < text.index("Keep it good")
    assert "first aid: ▸ nothing" in text


def test_a_chosen_bag_says_what_to_buy_and_what_stays(packed: Packed) -> None:
    text = text_of(checklist_pdf(packed))
    assert "The bag to pack" in text
    assert packed.choice is not None
    assert all(name in text for name in packed.choice.bought.item)
    assert text.count("buy,") == len(packed.choice.bought)
    assert "Could not be judged: " in text


@pytest.mark.parametrize(("page", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_paper_is_the_one_asked_for(packed: Packed, page: str, size: tuple[int, int]) -> None:
    # ISO 216 and ANSI/ASME Y14.1 in points.
    pdf = pypdf.PdfReader(io.BytesIO(checklist_pdf(packed, page=page)))  # type: ignore[arg-type]
    box = pdf.pages[0].mediabox
    assert (round(box.width), round(box.height)) == size
    assert 1 <= len(pdf.pages) <= 4


def test_another_paper_is_refused(packed: Packed) -> None:
    with pytest.raises(ValueError, match="'A3'; allowed are A4, Letter"):
        checklist_pdf(packed, page="A3")  # type: ignore[arg-type]


def test_what_stays_at_home_says_that_no_room_is_left_only_where_that_is_so(
    packed: Packed,
) -> None:
    assert packed.choice is not None
    name, volume_ml = packed.items.item[0], float(packed.items.volume_ml[0])
    for spare_ml, told in ((volume_ml - 1.0, True), (volume_ml, False)):
        choice = replace(packed.choice, left_out=((name, 1),))
        limits = replace(packed.limits, volume_ml=choice.volume_ml + spare_ml, mass_g=None)
        text = " ".join(bag_text(replace(packed, choice=choice, limits=limits)).split())
        assert (f"leave at home, for want of room: 1 {name}" in text) is told
        assert (f"leave at home: 1 {name}" in text) is not told


def test_what_a_person_wrote_is_printed_as_text_never_run(unchosen: Packed) -> None:
    rows = rows_of(unchosen.items)
    rows[0] |= {"item": HOSTILE, "caution": HOSTILE}
    hostile = replace(unchosen, items=items_from(rows))
    text = text_of(checklist_pdf(hostile))
    assert '#image("x.png")' in text.replace("“", '"').replace("”", '"')
    assert "*bold*" in text
    assert "\u202e" not in json.dumps(sheet_of_bag(hostile), ensure_ascii=False)


def test_all_files_are_written_and_the_same_again(packed: Packed, tmp_path: Path) -> None:
    first, second = (
        {path.name: path.read_bytes() for path in write_bag(packed, tmp_path / name)}
        for name in ("one", "two")
    )
    assert set(first) == {"bag.json", "checklist.pdf", "upkeep.ics", "upkeep.csv", "chosen.csv"}
    assert first == second


def test_us_units_reach_the_page_and_the_terminal(packed: Packed) -> None:
    american = replace(packed, plan=packed.plan.model_copy(update={"units": "us"}))
    for text in (text_of(checklist_pdf(american)), bag_text(american)):
        assert re.search(r"\d (?:lb|oz)\b", text)
        assert not re.search(r"\d (?:kg|g|L|ml)\b", text)
    assert grams(28.349523125, Units("us")) == "1.0 oz"  # the international ounce is exact
    assert amount(float("nan"), "ml", Units("metric")) == "unknown"


# The calendar --------------------------------------------------------------------------------

texts = st.text(max_size=200)
tasks = st.lists(
    st.builds(
        Task,
        day=st.dates(date(1990, 1, 1), date(2199, 12, 30)),
        kind=st.just("look"),
        what=texts,
        why=texts,
        items=st.just(()),
        yearly=st.booleans(),
    ),
    max_size=4,
)


def unfolded(text: str) -> list[str]:
    """Undo folding (RFC 5545, 3.1): a line break and a blank are taken out."""
    assert text.endswith("\r\n")
    return text.removesuffix("\r\n").replace("\r\n ", "").split("\r\n")


def unescaped(value: str) -> str:
    """Undo escaping of text (RFC 5545, 3.3.11)."""
    return re.sub(r"\\(.)", lambda found: {"n": "\n", "N": "\n"}.get(found[1], found[1]), value)


@given(tasks, texts)
def test_every_line_of_the_calendar_keeps_to_rfc_5545(found: list[Task], title: str) -> None:
    text = upkeep_ics(found, title=title, made=MADE)
    lines = text.split("\r\n")
    assert "\n" not in "".join(lines)
    assert "\r" not in "".join(lines)
    assert max(len(line.encode()) for line in lines) <= LINE_OCTETS
    whole = unfolded(text)
    assert (whole[0], whole[1], whole[-1]) == ("BEGIN:VCALENDAR", "VERSION:2.0", "END:VCALENDAR")
    names = [line.split(":")[0].split(";")[0] for line in whole]
    assert names.count("BEGIN") == names.count("END")
    assert names.count("TRIGGER") == names.count("ACTION") == names.count("BEGIN") - 1 - len(found)
    assert names.count("RRULE") == sum(task.yearly for task in found)
    for required in ("UID", "DTSTAMP", "DTSTART"):  # 3.6.1
        assert names.count(required) == names.count("SUMMARY") == len(found)
    uids = [line for line in whole if line.startswith("UID:")]
    assert len(set(uids)) == len(uids)  # 3.8.4.7: globally unique


def test_an_event_is_one_whole_day_and_its_text_survives() -> None:
    task = Task(date(2028, 2, 29), "look", "look; in, the \\ bag", "Charge: lamp. " * 12, ())
    whole = unfolded(upkeep_ics([task], title="Täglich ünterwegs", made=MADE))
    assert "DTSTART;VALUE=DATE:20280229" in whole
    assert "DTEND;VALUE=DATE:20280301" in whole  # 3.6.1: the end is not part of the event
    summary = next(line for line in whole if line.startswith("SUMMARY:"))
    assert summary == "SUMMARY:Bag: look\\; in\\, the \\\\ bag"
    assert unescaped(summary.removeprefix("SUMMARY:")) == "Bag: look; in, the \\ bag"
    description = next(line for line in whole if line.startswith("DESCRIPTION:"))
    assert "BEGIN:VALARM" in whole
    assert "Täglich ünterwegs. Charge: lamp. Charge" in unescaped(description)


def test_the_stamp_is_in_utc_and_fixed() -> None:
    task = Task(date(2028, 2, 29), "look", "look", "why", ())
    east = MADE.replace(hour=3).astimezone(timezone(timedelta(hours=5)))
    assert "DTSTAMP:20260504T030000Z" in unfolded(upkeep_ics([task], title="x", made=east))
    assert upkeep_ics([task], title="x", made=MADE) == upkeep_ics([task], title="x", made=MADE)


def test_the_table_has_a_row_for_each_task_and_runs_nothing(packed: Packed) -> None:
    hostile = Task(date(2028, 2, 29), "replace", "=cmd()", "+1", ("@x",))
    rows = list(csv.DictReader(io.StringIO(upkeep_csv([*packed.tasks, hostile]))))
    assert len(rows) == len(packed.tasks) + 1
    assert not [cell for row in rows for cell in row.values() if cell.startswith(("=", "+", "@"))]
    days = [row["day"] for row in rows[:-1]]
    assert days == sorted(days)


def test_another_program_reads_the_calendar_without_complaint(packed: Packed) -> None:
    icalendar = pytest.importorskip("icalendar", reason="a general-purpose reader of calendars")
    text = upkeep_ics(packed.tasks, title=packed.plan.title, made=MADE)
    calendar = icalendar.Calendar.from_ical(text)
    events = calendar.walk("VEVENT")
    assert not calendar.errors
    assert not [event for event in events if event.errors]
    read = [(event.decoded("DTSTART"), str(event["SUMMARY"])) for event in events]
    assert read == [(task.day, f"Bag: {task.what}") for task in packed.tasks]
    repeats = [event for event in events if "RRULE" in event]
    assert [event["RRULE"]["FREQ"] for event in repeats] == [["YEARLY"]] * 4
    alarms = [alarm.decoded("TRIGGER") for event in events for alarm in event.walk("VALARM")]
    assert set(alarms) <= {timedelta(hours=-15), timedelta(days=-6, hours=-15)}
    assert len(alarms) >= len(events)


def test_a_yearly_task_keeps_its_identity_when_the_plan_is_made_again_a_year_later() -> None:
    def uid(year: int, *, yearly: bool) -> str:
        task = Task(date(year, 3, 1), "look", "look", "why", (), yearly=yearly)
        return next(
            line for line in unfolded(upkeep_ics([task], title="x", made=MADE)) if "UID" in line
        )

    assert uid(2027, yearly=True) == uid(2028, yearly=True)
    assert uid(2027, yearly=False) != uid(2028, yearly=False)
