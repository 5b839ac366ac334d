"""Opening hours, on the examples of the OSM wiki page ``Key:opening_hours`` and its specification.

https://wiki.openstreetmap.org/wiki/Key:opening_hours (section Examples) gives each text and its
meaning in words; the expected answers below are those words applied to a date.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from astral import Observer
from astral.sun import sun

from simulator.ground.hours import open_at

VIENNA_ZONE = ZoneInfo("Europe/Vienna")


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=VIENNA_ZONE)


def in_vienna(hours: str, when: datetime, *, country: str | None = None) -> bool | None:
    return open_at(hours, when, lat=48.2, lon=16.4, country=country)


@pytest.mark.parametrize(
    ("hours", "when", "expected"),
    [
        # 2026-05-04 is a Monday, 2026-05-09 a Saturday, 2026-05-10 a Sunday.
        ("24/7", "2026-05-10T03:00", True),
        # Specification, "Rule separators": a later rule takes the day over, "||" falls back.
        ("Mo-Sa 10:00-20:00; Tu off", "2026-05-05T12:00", False),
        ("Mo-Sa 10:00-20:00; Tu 10:00-14:00", "2026-05-05T13:00", True),
        ("Mo-Sa 10:00-20:00; Tu 10:00-14:00", "2026-05-05T15:00", False),
        ("Mo-Fr 08:00-12:00 || off", "2026-05-09T10:00", False),
        ('Mo-Fr 08:00-12:00 || "by appointment"', "2026-05-04T10:00", True),
        ('Mo-Fr 08:00-12:00 || "by appointment"', "2026-05-09T10:00", None),
        ("Mo-Fr 08:00-12:00 unknown", "2026-05-04T10:00", None),
        ("closed", "2026-05-04T10:00", False),
        ("off", "2026-05-04T10:00", False),
        ("open", "2026-05-04T10:00", True),
        # Section "Wide range selectors": years, single dates, open ends.
        ("2026 Mo-Fr 08:00-12:00", "2026-05-04T10:00", True),
        ("2027 Mo-Fr 08:00-12:00", "2026-05-04T10:00", False),
        ("2025+ Mo-Fr 08:00-12:00", "2026-05-04T10:00", True),
        ("2026 May 4 08:00-12:00", "2026-05-04T10:00", True),
        # Easter Sunday 2026 is 5 April (Meeus, Astronomical Algorithms, chapter 8).
        ("easter 10:00-12:00", "2026-04-05T11:00", True),
        ("easter +1 day 10:00-12:00", "2026-04-06T11:00", True),
        ("easter 10:00-12:00", "2026-04-12T11:00", False),
        ("Mo-Fr 08:00-17:30", "2026-05-04T08:00", True),
        ("Mo-Fr 08:00-17:30", "2026-05-04T17:30", False),
        ("Mo-Fr 08:00-17:30", "2026-05-09T12:00", False),
        ("Mo-Fr 08:00-12:00,13:00-17:30", "2026-05-04T12:30", False),
        ("Mo-Fr 08:00-12:00,13:00-17:30", "2026-05-04T13:00", True),
        ("Mo-Fr 08:00-12:00, We 14:00-18:00", "2026-05-06T15:00", True),
        ("Mo-Fr 08:00-12:00, We 14:00-18:00", "2026-05-06T09:00", True),
        ("Mo-Fr 08:00-12:00; We 14:00-18:00", "2026-05-06T09:00", False),
        ("Mo-Fr 08:00-12:00, We 14:00-18:00", "2026-05-07T15:00", False),
        ("Sa-Su 00:00-24:00", "2026-05-10T23:59", True),
        ("Sa-Su 00:00-24:00", "2026-05-11T00:00", False),
        # Over midnight: Friday's night ends on Saturday morning.
        ("Fr 22:00-04:00", "2026-05-09T03:59", True),
        ("Fr 22:00-04:00", "2026-05-08T03:00", False),
        ("Fr 22:00-28:00", "2026-05-09T03:59", True),
        # Months, dates, weeks.
        ("Apr-Oct 09:00-18:00", "2026-05-04T10:00", True),
        ("Nov-Mar 10:00-16:00; Apr-Oct 09:00-18:00", "2026-12-04T17:00", False),
        ("Nov-Mar 10:00-16:00; Apr-Oct 09:00-18:00", "2026-05-04T17:00", True),
        ("Mo-Su 08:00-18:00; Apr 10-15 off; Jun 08:00-14:00", "2026-04-12T10:00", False),
        ("Mo-Su 08:00-18:00; Apr 10-15 off; Jun 08:00-14:00", "2026-06-12T15:00", False),
        ("Mo-Su 08:00-18:00; Apr 10-15 off; Jun 08:00-14:00", "2026-04-16T15:00", True),
        # ISO 8601: 2026-05-08 lies in week 19, 2026-05-15 in week 20 (datetime.isocalendar).
        ("week 1-53/2 Fr 09:00-12:00", "2026-05-08T10:00", True),
        ("week 1-53/2 Fr 09:00-12:00", "2026-05-15T10:00", False),
        ("week 2-52/2 We 09:00-12:00; week 1-53/2 Fr 09:00-12:00", "2026-05-13T10:00", True),
        # Nth weekday of the month: 2026-05-09 is the second Saturday.
        ("Sa[2] 09:00-12:00", "2026-05-09T10:00", True),
        ("Sa[1] 09:00-12:00", "2026-05-09T10:00", False),
        ("Sa[-1] 09:00-12:00", "2026-05-30T10:00", True),
        # Public holidays: 1 May, in Austria.
        ("Mo-Fr 08:00-18:00; PH off", "2026-05-01T10:00", False),
        ("Mo-Sa 10:00-20:00; PH off", "2026-05-04T10:00", True),
        ("Mo-Su,PH 10:00-20:00", "2026-05-01T12:00", True),
        ("PH 10:00-12:00", "2026-05-01T11:00", True),
        ("PH 10:00-12:00", "2026-05-04T11:00", False),
        ("24/7 off", "2026-05-04T11:00", False),
        ("off", "2026-05-04T11:00", False),
        ('Mo-Fr 08:00-17:00 "shut for repairs"', "2026-05-09T11:00", False),
        # Open end: open from then on.
        ("Mo-Fr 17:00+", "2026-05-04T18:00", True),
    ],
)
def test_the_examples_of_the_specification_mean_what_it_says(
    hours: str, when: str, expected: bool
) -> None:
    assert in_vienna(hours, local(when)) is expected


@pytest.mark.parametrize(
    "hours",
    [
        "",
        "by appointment",
        '"by appointment"',
        'Mo-Fr 08:00-18:00 "on request"',
        "Mo-Fr 08:00-18:00 unknown",
        "8 to 6",
        "Mo-Fr 25:00-99:99 nonsense",
        "<script>alert(1)</script>",
    ],
)
def test_what_is_missing_unreadable_or_conditional_is_unknown(hours: str) -> None:
    assert in_vienna(hours, local("2026-05-04T11:00")) is None


def test_sunset_is_that_of_the_place_and_date() -> None:
    # Against the library astral, within the 3 minutes that two solar formulas may differ.
    margin = timedelta(minutes=3)
    for day in (datetime(2026, 6, 21), datetime(2026, 12, 21)):  # noqa: DTZ001 - dates
        sunset = sun(Observer(48.2, 16.4), date=day.date(), tzinfo=VIENNA_ZONE)["sunset"]
        assert in_vienna("sunrise-sunset", sunset - margin) is True
        assert in_vienna("sunrise-sunset", sunset + margin) is False


def test_the_clock_of_the_place_counts_whatever_zone_the_time_is_given_in() -> None:
    hours = "Mo-Fr 08:00-18:00"
    opening = local("2026-05-04T08:00")
    for zone in (UTC, timezone(timedelta(hours=-7)), ZoneInfo("Asia/Tokyo")):
        assert in_vienna(hours, opening.astimezone(zone)) is True
        assert in_vienna(hours, (opening - timedelta(minutes=1)).astimezone(zone)) is False


def test_summer_time_is_the_places_own() -> None:
    # Clocks go forward in Vienna on 2026-03-29: 06:30 UTC is 07:30 the day before, 08:30 then.
    assert in_vienna("08:00-18:00", datetime(2026, 3, 28, 6, 30, tzinfo=UTC)) is False
    assert in_vienna("08:00-18:00", datetime(2026, 3, 29, 6, 30, tzinfo=UTC)) is True


def test_school_holidays_are_not_known_so_only_what_does_not_hang_on_them_is() -> None:
    hours = "Mo-Fr 08:00-16:00; SH off"
    assert in_vienna(hours, local("2026-05-04T10:00")) is None
    assert in_vienna(hours, local("2026-05-04T20:00")) is False
    swimming = "Mo-Fr 14:00-20:00; SH Mo-Fr 09:00-20:00"
    assert in_vienna(swimming, local("2026-05-04T10:00")) is None
    assert in_vienna(swimming, local("2026-05-04T15:00")) is True
    # Specification: "SH,PH Mo-Fr" = Monday to Friday on holidays only, so not on a Saturday.
    assert in_vienna("PH Mo-Fr 09:00-10:00", local("2026-05-09T09:30")) is False


def test_public_holidays_where_no_calendar_reaches_are_unknown() -> None:
    noon = datetime(2026, 5, 4, 21, tzinfo=UTC)  # Monday, about local noon

    def at_sea(hours: str, country: str | None = None) -> bool | None:
        return open_at(hours, noon, lat=0.0, lon=-140.0, country=country)

    assert at_sea("Mo-Fr 08:00-18:00") is True
    assert at_sea("Mo-Fr 08:00-18:00; PH off") is None
    assert at_sea("Mo-Fr 08:00-18:00; PH off", country="AT") is True


def test_an_unknown_country_code_falls_back_to_the_position() -> None:
    first_of_may = local("2026-05-01T10:00")
    assert in_vienna("Mo-Fr 08:00-18:00; PH off", first_of_may, country="ZZ") is False


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        in_vienna("24/7", datetime(2026, 5, 4, 11))  # noqa: DTZ001 - the claim
