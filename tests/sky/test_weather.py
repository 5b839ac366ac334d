"""Weather at a moment: constants, interpolation, repeated days and years."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.errors import InputError
from simulator.plan import plan_reference
from simulator.sky.weather import QUANTITIES, RANGES, Weather, constant, design_day

DAY_S = 86400.0
MILD = {"air_c": 12.0, "humidity_pct": 60.0, "wind_m_s": 3.0, "cloud_pct": 50.0, "rain_mm_h": 0.0}


def moment(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def mild(**changes: float) -> Weather:
    values = MILD | changes
    return constant(
        air_c=values["air_c"],
        humidity_pct=values["humidity_pct"],
        wind_m_s=values["wind_m_s"],
        cloud_pct=values["cloud_pct"],
        rain_mm_h=values["rain_mm_h"],
    )


def year_of(air_c: npt.ArrayLike, *, utc_offset_s: float = 0.0) -> Weather:
    """Make a typical year whose other quantities are 0."""
    zeros = np.zeros(8760)
    return Weather(
        epoch_s=np.arange(0.0, 8760 * 3600.0, 3600.0),
        air_c=np.asarray(air_c, dtype=np.float64),
        humidity_pct=zeros,
        wind_m_s=zeros,
        cloud_pct=zeros,
        rain_mm_h=zeros,
        source="a made year",
        repeat="yearly",
        utc_offset_s=utc_offset_s,
    )


def hours_from(start_s: float, air_c: list[float]) -> Weather:
    zeros = np.zeros(len(air_c))
    return Weather(
        epoch_s=np.array([start_s + 3600.0 * hour for hour in range(len(air_c))]),
        air_c=np.array(air_c),
        humidity_pct=zeros,
        wind_m_s=zeros,
        cloud_pct=zeros,
        rain_mm_h=zeros,
        source="made hours",
    )


def test_constants_hold_at_every_moment_and_in_every_shape() -> None:
    at = mild().at(np.array([[-1e9, 0.0], [1e9, 5e9]]))
    for name in QUANTITIES:
        assert np.array_equal(getattr(at, name), np.full((2, 2), MILD[name]))
    assert at.known.all()
    assert at.solar_w_m2 is None
    assert mild().covers(-1e12, 1e12)


@pytest.mark.parametrize("name", QUANTITIES)
def test_constants_beyond_their_range_are_refused(name: str) -> None:
    low, high = RANGES[name]
    for value in (low - 0.1, high + 0.1, float("nan")):
        with pytest.raises(ValueError, match=f"{name} must be"):
            mild(**{name: value})


@pytest.mark.parametrize("name", QUANTITIES)
def test_whatever_a_plan_may_say_the_weather_takes(name: str) -> None:
    (about,) = [row for row in plan_reference() if row.key == f"weather.{name}"]
    low, high = RANGES[name]
    bounds = [float(word) for word in re.findall(r"-?\d+(?:\.\d+)?", about.kind)]
    assert len(bounds) == 2, about.kind
    assert low <= bounds[0] < bounds[1] <= high


def test_values_run_straight_between_hours_and_stop_at_the_ends() -> None:
    weather = hours_from(1000.0, [0.0, 10.0, 4.0])
    at = weather.at(np.array([999.0, 1000.0, 2800.0, 4600.0, 6400.0, 8200.0, 8201.0, np.nan]))
    assert at.air_c[1:6].tolist() == [0.0, 5.0, 10.0, 7.0, 4.0]
    assert np.isnan(at.air_c[[0, 6, 7]]).all()
    assert at.known.tolist() == [False, True, True, True, True, True, False, False]
    assert weather.covers(1000.0, 8200.0)
    assert not weather.covers(1000.0, 8200.5)


@given(
    values=st.lists(st.floats(-50, 50), min_size=2, max_size=30),
    shares=st.lists(st.floats(0, 1), min_size=1, max_size=20),
)
def test_interpolation_equals_numpys(values: list[float], shares: list[float]) -> None:
    weather = hours_from(5e8, values)
    moments = 5e8 + np.array(shares) * (len(values) - 1) * 3600.0
    expected = np.interp(moments, weather.epoch_s, values)
    assert weather.at(moments).air_c == pytest.approx(expected, abs=1e-6)


def test_a_typical_year_serves_any_date_by_month_day_and_hour() -> None:
    hours = np.arange(8760.0)
    weather = year_of(hours / 200.0)
    for text, position_h in (
        ("1999-01-01T00:00", 0),
        ("2026-03-01T06:30", (31 + 28) * 24 + 6.5),
        ("2028-03-01T06:30", (31 + 28) * 24 + 6.5),  # the leap day before it does not shift March
        ("2028-02-29T06:30", (31 + 27) * 24 + 6.5),  # the leap day itself repeats the 28th
        ("2026-12-31T23:00", 8759),
    ):
        assert float(weather.at(moment(text)).air_c) == pytest.approx(position_h / 200.0, abs=1e-9)


def test_a_typical_year_joins_its_end_to_its_start() -> None:
    air_c = np.zeros(8760)
    air_c[0], air_c[-1] = 10.0, 20.0
    weather = year_of(air_c)
    found = weather.at(np.array([moment("2026-12-31T23:15"), moment("2026-12-31T23:45")])).air_c
    assert found == pytest.approx([17.5, 12.5])


def test_a_typical_year_runs_on_its_own_standard_time() -> None:
    # Noon standard time at UTC-5 is 17:00 UTC, summer time or not.
    air_c = np.zeros((365, 24))
    air_c[:, 12] = 30.0
    weather = year_of(air_c.ravel(), utc_offset_s=-5 * 3600.0)
    assert float(weather.at(moment("2026-07-01T17:00")).air_c) == 30.0
    assert float(weather.at(moment("2026-07-01T12:00")).air_c) == 0.0


def test_the_mean_day_of_a_month_is_the_mean_of_each_hour() -> None:
    days, hours = np.meshgrid(np.arange(365.0), np.arange(24.0), indexing="ij")
    weather = year_of((days / 10 + hours).ravel(), utc_offset_s=3600.0)
    june = design_day(weather, 6)
    first, last = 151, 180  # 1 June and 30 June of a year of 365 days, counted from 0
    expected = np.arange(24) + (first + last) / 2 / 10
    assert june.air_c == pytest.approx(expected)
    assert june.repeat == "daily"
    # It repeats each day, in local standard time.
    assert float(june.at(moment("2031-11-11T11:00")).air_c) == pytest.approx(expected[12])
    assert float(june.at(moment("2031-11-11T22:30")).air_c) == pytest.approx(
        (expected[23] + expected[0]) / 2
    )


def test_hot_and_cold_days_are_real_days_of_the_month() -> None:
    rng = np.random.default_rng(7)
    air = rng.normal(10, 5, (365, 24))
    weather = year_of(air.ravel())
    july = air[181:212]
    hot, cold = design_day(weather, 7, kind="hot"), design_day(weather, 7, kind="cold")
    assert np.array_equal(hot.air_c, july[july.mean(axis=1).argmax()])
    assert np.array_equal(cold.air_c, july[july.mean(axis=1).argmin()])
    assert hot.source == "a made year, hottest day of month 7"


def test_a_design_day_from_hourly_values_uses_whole_local_days_only() -> None:
    # 60 hours from 2026-05-30 12:00 UTC: whole days are 31 May and 1 June.
    weather = hours_from(moment("2026-05-30T12:00"), [float(hour) for hour in range(60)])
    assert design_day(weather, 5).air_c.tolist() == list(range(12, 36))
    assert design_day(weather, 6).air_c.tolist() == list(range(36, 60))
    with pytest.raises(InputError, match="no whole day of month 7"):
        design_day(weather, 7)
    # One hour further west the days shift, and only one whole day is left.
    shifted = replace(weather, utc_offset_s=-3600.0)
    assert design_day(shifted, 5).air_c.tolist() == list(range(13, 37))
    with pytest.raises(InputError, match="no whole day of month 6"):
        design_day(shifted, 6)


def test_a_design_day_of_constants_is_the_constants() -> None:
    weather = mild()
    assert design_day(weather, 3) is weather


def test_impossible_months_and_kinds_are_refused() -> None:
    weather = year_of(np.zeros(8760))
    with pytest.raises(ValueError, match="month must be 1 to 12"):
        design_day(weather, 13)
    with pytest.raises(ValueError, match="mean, hot or cold"):
        design_day(weather, 1, kind="wet")  # type: ignore[arg-type]


def test_columns_of_unequal_length_or_irregular_steps_are_refused() -> None:
    weather = hours_from(0.0, [1.0, 2.0, 3.0])
    with pytest.raises(ValueError, match="as long as epoch_s"):
        replace(weather, wind_m_s=np.zeros(2))
    with pytest.raises(ValueError, match="regular step"):
        replace(weather, epoch_s=np.array([0.0, 3600.0, 7000.0]))
    with pytest.raises(ValueError, match="one value"):
        replace(weather, repeat="always")
