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


def test_the_bag_is_looked_through_four_times_a_year_for_two_years() -> None:
    looks = [one for one in upkeep(ITEMS, on=ON) if one.kind == "look"]
    assert len(looks) == 8
    assert {one.day.month for one in looks} == {3, 6, 9, 12}
    assert all(ON <= one.day < dt.date(2028, 5, 4) for one in looks)
    assert all("head torch" in one.why and "power bank" in one.why for one in looks)
    assert all("raisins" in one.why for one in looks)


def test_stored_water_is_changed_every_half_year() -> None:
    # Public household guidance (from memory): home-stored water every six months.
    days = [one.day for one in upkeep(ITEMS, on=ON) if "Change the water" in one.why]
    assert [day.month for day in days] == [9, 3, 9, 3]


def test_a_leap_day_has_an_end_two_years_on() -> None:
    looks = [one for one in upkeep(ITEMS, on=dt.date(2028, 2, 29)) if one.kind == "look"]
    assert looks[-1].day == dt.date(2029, 12, 1)
