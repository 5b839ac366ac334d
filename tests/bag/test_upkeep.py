"""What to renew in a bag, and when to look through it."""

from __future__ import annotations

import datetime as dt

from simulator.bag.items import parse_items
from simulator.bag.upkeep import upkeep

ON = dt.date(2026, 5, 4)
ITEMS = parse_items(
    "item,purpose,tier,quantity,expires,water_ml\n"
    "oat bars,food,basic,3,2027-03-31,\n"
    "nut mix,food,comfort,1,2027-03,\n"
    "old pouch,first aid,basic,1,2026-01-31,\n"
    "gone bar,food,basic,0,2026-12-31,\n"
    "bottle,water,basic,1,,500\n"
    "head torch,light,basic,1,,\n"
    "power bank,power,basic,1,,\n"
    "raisins,food,basic,1,,\n"
)


def test_what_expires_on_one_day_is_replaced_thirty_days_before_in_one_go() -> None:
    (task,) = [one for one in upkeep(ITEMS, on=ON) if "oat bars" in one.what]
    assert task.day == dt.date(2027, 3, 1)
    assert task.items == ("oat bars", "nut mix")
    assert "2027-03-31" in task.why


def test_what_is_past_its_day_is_to_be_replaced_at_once() -> None:
    first = upkeep(ITEMS, on=ON)[0]
    assert (first.day, first.items) == (ON, ("old pouch",))
    assert "has passed" in first.why


def test_an_item_that_is_not_there_needs_no_care() -> None:
    assert not [one for one in upkeep(ITEMS, on=ON) if "gone bar" in one.items]


def test_the_bag_is_looked_through_four_times_every_year() -> None:
    looks = [one for one in upkeep(ITEMS, on=ON) if one.kind == "look"]
    assert [(one.day.year, one.day.month) for one in looks] == [
        (2026, 6), (2026, 9), (2026, 12), (2027, 3),
    ]  # fmt: skip
    assert all(one.yearly for one in looks)
    assert all("head torch" in one.why and "power bank" in one.why for one in looks)
    assert all("raisins" in one.why for one in looks)


def test_no_date_years_ahead_stands_without_a_yearly_look_at_it() -> None:
    cells = parse_items(
        "item,purpose,tier,quantity,expires\nspare cells,power,basic,1,2033-12-31\n"
    )
    tasks = upkeep(cells, on=ON)
    (lone,) = [one for one in tasks if not one.yearly]
    assert lone.day == dt.date(2033, 12, 1)
    assert all("spare cells 2033-12-31" in one.why for one in tasks if one.yearly)
    assert len(tasks) == 5


def test_stored_water_is_changed_every_half_year() -> None:
    # Public household guidance (from memory): home-stored water every six months.
    days = [one.day for one in upkeep(ITEMS, on=ON) if "Change the water" in one.why]
    assert [day.month for day in days] == [9, 3]


def test_a_look_due_today_begins_today() -> None:
    looks = [one for one in upkeep(ITEMS, on=dt.date(2028, 3, 1)) if one.kind == "look"]
    assert looks[0].day == dt.date(2028, 3, 1)
    assert looks[-1].day == dt.date(2028, 12, 1)
