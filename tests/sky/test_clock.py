"""Wall clocks, zones and the two days a year when they jump."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.errors import InputError
from simulator.sky.clock import clock_note, iso_local, read_zone, to_epoch_s, to_local, zone_name


def wall(text: str) -> datetime:
    return datetime.fromisoformat(text)


@pytest.mark.parametrize(
    ("lat", "lon", "name"),
    [
        # Capitals and the zones that the IANA database (zone1970.tab) lists for them.
        (35.6812, 139.7671, "Asia/Tokyo"),
        (47.1410, 9.5209, "Europe/Vaduz"),
        (43.7384, 7.4246, "Europe/Monaco"),
        (-33.8688, 151.2093, "Australia/Sydney"),
        (40.7128, -74.0060, "America/New_York"),
        (27.7172, 85.3240, "Asia/Kathmandu"),
    ],
)
def test_a_place_keeps_the_zone_of_its_country(lat: float, lon: float, name: str) -> None:
    assert zone_name(lat, lon) == name
    assert read_zone(zone_name(lat, lon)).key == name


def test_the_open_sea_keeps_a_nautical_zone() -> None:
    assert zone_name(40.0, -30.0) == "Etc/GMT+2"


def test_a_place_off_the_globe_has_no_zone() -> None:
    with pytest.raises(ValueError, match="lat must be -90 to 90"):
        zone_name(200.0, 10.0)


@pytest.mark.parametrize(
    ("local", "zone", "utc"),
    [
        ("2026-05-04T16:30", "America/Moncton", "2026-05-04T19:30"),
        ("2026-01-04T16:30", "America/Moncton", "2026-01-04T20:30"),
        ("2026-07-01T00:15", "Asia/Kathmandu", "2026-06-30T18:30"),
        ("2026-07-01T08:00", "Pacific/Auckland", "2026-06-30T20:00"),
    ],
)
def test_wall_time_becomes_the_moment_it_stands_for(local: str, zone: str, utc: str) -> None:
    expected = datetime.fromisoformat(utc).replace(tzinfo=UTC).timestamp()
    assert to_epoch_s(wall(local), zone) == expected
    assert clock_note(wall(local), zone) == ""
    assert to_local(expected, zone).replace(tzinfo=None) == wall(local)


def test_a_time_the_clocks_skip_is_refused_with_the_two_nearest() -> None:
    # Directive 2000/84/EC: at 01:00 UTC on the last Sunday of March, 02:00 becomes 03:00 in Zurich.
    with pytest.raises(InputError) as caught:
        to_epoch_s(wall("2026-03-29T02:30"), "Europe/Zurich")
    assert str(caught.value) == (
        "trip.depart: 2026-03-29 02:30 does not exist in Europe/Zurich, where the clocks skip it "
        "that day; write 01:30 or 03:30"
    )
    assert to_epoch_s(wall("2026-03-29T03:00"), "Europe/Zurich") == (
        to_epoch_s(wall("2026-03-29T01:59"), "Europe/Zurich") + 60
    )


def test_a_time_the_clocks_repeat_is_the_earlier_one_and_says_so() -> None:
    # Same directive: on the last Sunday of October 03:00 summer time becomes 02:00.
    local = wall("2026-10-25T02:30")
    assert (
        to_epoch_s(local, "Europe/Zurich") == datetime(2026, 10, 25, 0, 30, tzinfo=UTC).timestamp()
    )
    assert clock_note(local, "Europe/Zurich") == (
        "2026-10-25 02:30 happens twice in Europe/Zurich because the clocks go back; "
        "the earlier one (UTC+0200) is used."
    )


def test_a_time_with_its_own_offset_stands_for_itself() -> None:
    local = datetime(2026, 10, 25, 2, 30, tzinfo=timezone(timedelta(hours=1)))
    assert to_epoch_s(local, "Asia/Tokyo") == datetime(2026, 10, 25, 1, 30, tzinfo=UTC).timestamp()
    assert clock_note(local, "Asia/Tokyo") == ""


def test_iso_text_carries_the_offset_of_each_side_of_a_shift() -> None:
    before = datetime(2026, 3, 29, 0, 59, 59, tzinfo=UTC).timestamp()
    assert iso_local(before, "Europe/Zurich") == "2026-03-29T01:59:59+01:00"
    assert iso_local(before + 1, "Europe/Zurich") == "2026-03-29T03:00:00+02:00"


def test_an_unknown_zone_is_refused_with_close_names() -> None:
    with pytest.raises(InputError, match="did you mean Europe/Zurich"):
        read_zone("Europe/Zürich")
    for bad in ("", "../etc/passwd", "No/Such"):
        with pytest.raises(InputError, match="not an IANA time zone"):
            read_zone(bad)


def test_a_moment_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        to_local(float("nan"), "UTC")


@given(
    epoch_s=st.integers(-600_000_000, 4_000_000_000),
    zone=st.sampled_from(["Europe/Zurich", "America/St_Johns", "Australia/Lord_Howe", "UTC"]),
)
def test_a_moment_comes_back_from_its_local_time(epoch_s: int, zone: str) -> None:
    local = to_local(epoch_s, zone)
    assert local.timestamp() == epoch_s
    naive = local.replace(tzinfo=None, fold=0)
    # Naive, it is the same moment or, in a repeated hour, the earlier of the two.
    back = to_epoch_s(naive, zone)
    assert back == epoch_s or (local.fold == 1 and back < epoch_s and clock_note(naive, zone))
