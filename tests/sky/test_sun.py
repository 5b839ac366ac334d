"""The sun against the NREL algorithm, its published example, and an independent library."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

import astral
import astral.sun
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib.solarposition import spa_python

from simulator.errors import InputError
from simulator.sky.sun import (
    CIVIL_TWILIGHT_DEG,
    DAYLIGHT_STATES,
    SUNRISE_DEG,
    daylight_state,
    elevation_series,
    sun_day,
    sun_elevation_deg,
    sun_events,
)


class Row(NamedTuple):
    """One day at one place: events by bisection on spa_python, and by astral 3.2."""

    place: str
    lat: float
    lon: float
    day: str
    zone: str
    reference: tuple[str, str, str, str]  # civil dawn, sunrise, sunset, civil dusk
    astral_s: float | None  # allowed difference from astral; None where astral has no answer


# Events computed with pvlib 0.16.1: bisection of spa_python's geometric elevation (delta T 69 s) at
# -0.8333 and -6 degrees. "-" means that it does not happen. A trailing + means the next date.
# astral takes 90.789 deg for sunrise and refracts the -6 deg, so it may differ by 60 s below 55
# degrees of latitude and by 4 min up to 62 degrees.
# fmt: off
TABLE = [
    Row("Tokyo", 35.6812, 139.7671, "2025-03-11", "Asia/Tokyo",
        ("05:32:15", "05:57:41", "17:44:44", "18:10:13"), 60),
    Row("London in June", 51.5074, -0.1278, "2025-06-21", "Europe/London",
        ("03:55:21", "04:43:07", "21:21:35", "22:09:21"), 60),
    Row("London in December", 51.5074, -0.1278, "2025-12-21", "Europe/London",
        ("07:23:32", "08:03:52", "15:53:30", "16:33:50"), 60),
    Row("New York", 40.7128, -74.0060, "2025-09-11", "America/New_York",
        ("06:05:28", "06:33:05", "19:11:12", "19:38:44"), 60),
    Row("Los Angeles, clocks go back", 34.0522, -118.2437, "2025-11-02", "America/Los_Angeles",
        ("05:47:57", "06:13:53", "16:58:46", "17:24:42"), 60),
    Row("Sydney", -33.8688, 151.2093, "2025-12-21", "Australia/Sydney",
        ("05:11:35", "05:40:45", "20:05:31", "20:34:41"), 60),
    Row("Quito", -0.1807, -78.4678, "2025-03-20", "America/Guayaquil",
        ("05:57:15", "06:17:54", "18:24:24", "18:45:04"), 60),
    Row("Berlin, clocks go back", 52.5200, 13.4050, "2025-10-26", "Europe/Berlin",
        ("06:16:31", "06:51:57", "16:47:54", "17:23:18"), 60),
    Row("Singapore", 1.3521, 103.8198, "2025-07-01", "Asia/Singapore",
        ("06:40:08", "07:02:38", "19:14:34", "19:37:04"), 60),
    Row("Cape Town", -33.9249, 18.4241, "2025-06-21", "Africa/Johannesburg",
        ("07:23:36", "07:51:22", "17:44:56", "18:12:41"), 60),
    Row("Helsinki", 60.1699, 24.9384, "2025-06-21", "Europe/Helsinki",
        ("02:01:42", "03:54:03", "22:50:05", "00:42:21+"), 240),
    Row("Reykjavik", 64.1466, -21.9426, "2025-06-21", "Atlantic/Reykjavik",
        ("-", "02:55:13", "00:03:58+", "-"), None),
    Row("Tromso in June", 69.6492, 18.9553, "2025-06-21", "Europe/Oslo",
        ("-", "-", "-", "-"), None),
    Row("Tromso in December", 69.6492, 18.9553, "2025-12-21", "Europe/Oslo",
        ("09:31:24", "-", "-", "13:53:15"), None),
]
# fmt: on
EVENTS = ("civil_dawn", "sunrise", "sunset", "civil_dusk")


def _moment(row: Row, text: str) -> datetime | None:
    if text == "-":
        return None
    day = date.fromisoformat(row.day) + timedelta(days=text.endswith("+"))
    return datetime.fromisoformat(f"{day} {text.rstrip('+')}").replace(tzinfo=ZoneInfo(row.zone))


@pytest.mark.parametrize("row", TABLE, ids=[row.place for row in TABLE])
def test_events_match_bisection_of_the_nrel_algorithm_to_two_seconds(row: Row) -> None:
    found = sun_events(row.lat, row.lon, date.fromisoformat(row.day), row.zone)
    assert tuple(found) == EVENTS
    for name, text in zip(EVENTS, row.reference, strict=True):
        expected, event = _moment(row, text), found[name]
        if expected is None:
            assert event is None, name
        else:
            assert event is not None, name
            # The table is rounded to the second; the height here is exact to 0.001 degree.
            assert abs((event - expected).total_seconds()) <= 2, name


@pytest.mark.parametrize("row", TABLE, ids=[row.place for row in TABLE])
def test_the_height_at_every_event_is_the_one_that_defines_it(row: Row) -> None:
    found = sun_events(row.lat, row.lon, date.fromisoformat(row.day), row.zone)
    for name, event in found.items():
        if event is None:
            continue
        level = CIVIL_TWILIGHT_DEG if name.startswith("civil") else SUNRISE_DEG
        moment = pd.DatetimeIndex([event])
        height = float(spa_python(moment, row.lat, row.lon, delta_t=69.0)["elevation"].iloc[0])
        assert height == pytest.approx(level, abs=0.001), name


@pytest.mark.parametrize(
    "row", [row for row in TABLE if row.astral_s], ids=[row.place for row in TABLE if row.astral_s]
)
def test_events_agree_with_astral_within_its_different_definition(row: Row) -> None:
    observer = astral.Observer(row.lat, row.lon, 0.0)
    day, zone = date.fromisoformat(row.day), ZoneInfo(row.zone)
    found = sun_events(row.lat, row.lon, day, row.zone)
    for name, ask in (
        ("civil_dawn", astral.sun.dawn),
        ("sunrise", astral.sun.sunrise),
        ("sunset", astral.sun.sunset),
        ("civil_dusk", astral.sun.dusk),
    ):
        event = found[name]
        assert event is not None
        # astral answers for the clock date, where dusk after midnight belongs to the day before.
        theirs = ask(observer, event.date(), tzinfo=zone)
        assert row.astral_s is not None
        assert abs((event - theirs).total_seconds()) <= row.astral_s, name


def test_the_published_example_of_the_nrel_algorithm_is_met() -> None:
    # Reda & Andreas 2004/2008, NREL/TP-560-34302, Table A5.1: 2003-10-17 12:30:30 UTC-7, elevation
    # before refraction 39.872046 deg (zenith 50.11162 with refraction 0.016332), sunrise 06:12:43,
    # sunset 17:20:19 local (all from memory). Delta T there is 67 s and the place lies at 1830 m:
    # together below 0.001 deg.
    lat, lon, zone = 39.742476, -105.1786, ZoneInfo("Etc/GMT+7")
    when = datetime(2003, 10, 17, 12, 30, 30, tzinfo=zone)
    assert sun_elevation_deg(lat, lon, when) == pytest.approx(39.872046, abs=0.001)
    sunrise = sun_events(lat, lon, date(2003, 10, 17), zone)["sunrise"]
    # The algorithm works by the UTC day, so its sunset is the one at 00:20 UTC on the 17th, which
    # is the evening of the 16th there; the 17th itself ends 88 s earlier.
    sunset = sun_events(lat, lon, date(2003, 10, 16), zone)["sunset"]
    for event, text in ((sunrise, "2003-10-17T06:12:43"), (sunset, "2003-10-16T17:20:19")):
        assert event is not None
        published = datetime.fromisoformat(text).replace(tzinfo=zone)
        assert abs((event - published).total_seconds()) <= 2


@pytest.mark.parametrize(
    ("lat", "lon"),
    [(0.0, 0.0), (35.68, 139.77), (-45.0, -170.0), (69.65, 18.96), (-77.85, 166.67), (90.0, 0.0)],
)
def test_heights_over_a_year_follow_the_nrel_algorithm_to_a_thousandth_degree(
    lat: float, lon: float
) -> None:
    # pvlib's spa_python claims 0.0003 deg; the bound leaves room for the steps between anchors.
    moments = pd.date_range("2025-01-01", "2025-12-31 23:00", freq="97min", tz="UTC")
    expected = spa_python(moments, lat, lon, delta_t=69.0)["elevation"].to_numpy()
    epoch_s = moments.as_unit("ns").asi8 / 1e9
    found = elevation_series(lat, lon, epoch_s)
    assert np.abs(found - expected).max() < 0.001


@pytest.mark.parametrize("year", [1950, 1975, 2000, 2050, 2099])
def test_one_fixed_delta_t_serves_the_stated_years(year: int) -> None:
    # pvlib takes delta T from the polynomials of Espenak & Meeus when given None.
    moments = pd.date_range(f"{year}-01-02", f"{year}-12-30", freq="11h", tz="UTC")
    expected = spa_python(moments, 52.0, 13.0, delta_t=None)["elevation"].to_numpy()
    found = sun_elevation_deg(52.0, 13.0, moments)
    assert np.abs(found - expected).max() < 0.0025


def test_outside_the_stated_years_the_height_is_not_a_number() -> None:
    century = 3.2e9
    heights = elevation_series(50.0, 8.0, np.array([-century, 0.0, 2 * century, np.nan]))
    assert np.isnan(heights).tolist() == [True, False, True, True]
    assert np.isnan(elevation_series(50.0, 8.0, np.array([2 * century]))).all()


@given(
    lat=st.floats(-90, 90),
    lon=st.floats(-180, 180),
    epoch_s=st.floats(-6e8, 4.1e9),
)
def test_one_moment_and_many_give_the_same_height(lat: float, lon: float, epoch_s: float) -> None:
    when = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=epoch_s)
    one = sun_elevation_deg(lat, lon, when)
    exact = (when - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds()
    # A longer series interpolates over the same anchors, wherever it starts.
    many = elevation_series(np.full(3, lat), lon, np.array([exact - 3e5, exact, exact + 5e4]))
    assert isinstance(one, float)
    # Seconds since 1970 carry half a microsecond, far below a micro-degree.
    assert many[1] == pytest.approx(one, abs=1e-6)


def test_places_along_a_walk_are_taken_one_by_one() -> None:
    epoch_s = np.array([1.75e9, 1.75e9 + 3600.0])
    both = elevation_series(np.array([46.0, 47.0]), np.array([-64.0, -65.0]), epoch_s)
    assert both[0] == elevation_series(46.0, -64.0, epoch_s[:1])[0]
    assert both[1] == pytest.approx(elevation_series(47.0, -65.0, epoch_s[1:])[0], abs=1e-9)


@pytest.mark.parametrize(
    ("lat", "lon", "day", "zone", "state", "daylight_h"),
    [
        (69.6492, 18.9553, date(2025, 6, 21), "Europe/Oslo", "sun never sets", 24.0),
        (69.6492, 18.9553, date(2025, 12, 21), "Europe/Oslo", "sun never rises", 0.0),
        (78.2232, 15.6267, date(2025, 12, 21), "Arctic/Longyearbyen", "dark all day", 0.0),
        (64.1466, -21.9426, date(2025, 6, 21), "Atlantic/Reykjavik", "never dark", 21.15),
        (-0.1807, -78.4678, date(2025, 3, 20), "America/Guayaquil", "day and night", 12.11),
    ],
)
def test_days_without_an_event_say_why(
    lat: float, lon: float, day: date, zone: str, state: str, daylight_h: float
) -> None:
    found = sun_day(lat, lon, day, zone)
    assert found.state == state
    assert found.daylight_h == pytest.approx(daylight_h, abs=0.02)
    events = sun_events(lat, lon, day, zone)
    assert (events["sunrise"] is None) == (
        state in {"sun never sets", "sun never rises", "dark all day"}
    )


def test_extremes_of_the_polar_days_match_the_reference() -> None:
    # Same reference as TABLE: Tromso lowest +3.085 deg in June, highest -3.09 deg in December;
    # Reykjavik lowest -2.417 deg. The reference searched the clock date, this day is the sun's own,
    # and around the solstice the declination moves by 0.003 deg in half a day.
    assert sun_day(69.6492, 18.9553, date(2025, 6, 21), "Europe/Oslo").lowest_deg == pytest.approx(
        3.085, abs=0.004
    )
    assert sun_day(
        69.6492, 18.9553, date(2025, 12, 21), "Europe/Oslo"
    ).highest_deg == pytest.approx(-3.09, abs=0.004)
    assert sun_day(
        64.1466, -21.9426, date(2025, 6, 21), "Atlantic/Reykjavik"
    ).lowest_deg == pytest.approx(-2.417, abs=0.004)


@pytest.mark.parametrize(
    ("lat", "lon", "zone"),
    [
        (35.68, 139.77, "Asia/Tokyo"),
        (34.05, -118.24, "America/Los_Angeles"),
        pytest.param(-36.85, 174.76, "Pacific/Auckland", marks=pytest.mark.slow),
        pytest.param(21.31, -157.86, "Pacific/Honolulu", marks=pytest.mark.slow),
        pytest.param(51.51, -0.13, "Europe/London", marks=pytest.mark.slow),
    ],
)
def test_every_date_of_a_year_has_its_own_events_in_order(
    lat: float, lon: float, zone: str
) -> None:
    # A neighbouring day's event would show as a jump in the steps from one date to the next.
    days = [date(2025, 1, 1) + timedelta(days=step) for step in range(365)]
    rows = [sun_events(lat, lon, day, zone) for day in days]
    for day, row in zip(days, rows, strict=True):
        events = [row[name] for name in EVENTS]
        assert all(event is not None and event.date() == day for event in events)
        assert events == sorted(event for event in events if event is not None)
    for name in EVENTS:
        moments = [row[name] for row in rows]
        steps = np.diff([moment.timestamp() for moment in moments if moment is not None])
        assert np.abs(steps - 86400).max() < 180, name
        # The step from day to day itself changes by a few seconds only.
        assert np.abs(np.diff(steps)).max() < 8, name


def test_daylight_codes_split_at_the_defining_heights() -> None:
    heights = np.array([90.0, SUNRISE_DEG, -0.8334, CIVIL_TWILIGHT_DEG, -6.0001, np.nan])
    codes = daylight_state(heights)
    assert codes.dtype == np.int8
    assert codes.tolist() == [0, 0, 1, 1, 2, -1]
    assert [DAYLIGHT_STATES[daylight_state(float(height))] for height in heights[:-1]] == [
        "day", "day", "twilight", "twilight", "night",
    ]  # fmt: skip


def test_impossible_places_and_moments_are_refused_with_their_range() -> None:
    noon = datetime(2025, 6, 21, 12, tzinfo=UTC)
    with pytest.raises(ValueError, match=r"lat must be -90 to 90"):
        sun_elevation_deg(91.0, 0.0, noon)
    with pytest.raises(ValueError, match=r"lon must be -180 to 180"):
        elevation_series(0.0, 181.0, np.zeros(2))
    with pytest.raises(ValueError, match="time zone"):
        sun_elevation_deg(0.0, 0.0, datetime(2025, 6, 21, 12))  # noqa: DTZ001 - the fault itself
    with pytest.raises(ValueError, match="1950"):
        sun_events(0.0, 0.0, date(1890, 1, 1), "UTC")
    with pytest.raises(InputError, match="Europe/Oslo"):
        sun_events(0.0, 0.0, date(2025, 1, 1), "Europe/Osllo")
