"""Typical years: the TMY3 files that pvlib carries, and an EPW written by its published layout."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pvlib
import pytest

from simulator.errors import InputError
from simulator.sky.weather import Weather, design_day
from simulator.sky.weather_files import read_typical_year, read_weather

PVLIB_DATA = Path(pvlib.__file__).parent / "data"
GREENSBORO = PVLIB_DATA / "723170TYA.CSV"
SAND_POINT = PVLIB_DATA / "703165TY.csv"

# Fields of an EPW row (EnergyPlus, Auxiliary Programs, "EPW CSV format"), with its missing marks.
Cells = dict[int, str]
DRY_BULB, HUMIDITY, WIND, SKY, RAIN, RAIN_HOURS, GLOBAL = 6, 8, 21, 22, 33, 34, 13


def write_epw(path: Path, change: Callable[[datetime, Cells], None] | None = None) -> Path:
    """Write a year whose air temperature is the hour of the day and humidity the month."""
    lines = [
        "LOCATION,Nowhere,-,INV,Made,000000,46.10,-64.70,-4.0,20.0",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,made",
        "COMMENTS 2,made",
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
    ]
    start = datetime(2005, 1, 1, tzinfo=UTC)
    for hour in range(8760):
        begins = start + timedelta(hours=hour)
        cells: Cells = dict.fromkeys(range(35), "0")
        cells |= {
            0: str(begins.year),
            1: str(begins.month),
            2: str(begins.day),
            3: str(begins.hour + 1),
            4: "60",
            5: "?9",
            DRY_BULB: str(begins.hour + 1),
            HUMIDITY: str(begins.month),
            WIND: "3.5",
            SKY: "5",
            RAIN: "0.2",
            RAIN_HOURS: "1",
            GLOBAL: "100",
        }
        if change is not None:
            change(begins, cells)
        lines.append(",".join(cells[field] for field in range(35)))
    path.write_text("\n".join(lines) + "\n", encoding="ascii")
    return path


def at(weather: Weather, text: str) -> dict[str, float]:
    moment = datetime.fromisoformat(text).timestamp()
    now = weather.at(moment)
    return {
        name: float(getattr(now, name))
        for name in ("air_c", "humidity_pct", "wind_m_s", "rain_mm_h")
    }


def test_an_epw_row_stands_at_the_hour_it_names(tmp_path: Path) -> None:
    weather = read_typical_year(write_epw(tmp_path / "year.epw"))
    # Row "hour 15" of 4 May is 15:00 standard time, UTC-4; the year asked for does not matter.
    found = at(weather, "2026-05-04T15:00-04:00")
    assert found == {"air_c": 15.0, "humidity_pct": 5.0, "wind_m_s": 3.5, "rain_mm_h": 0.2}
    assert at(weather, "2031-05-04T15:30-04:00")["air_c"] == 15.5
    # "Hour 24" is midnight, which is where the next day starts.
    assert at(weather, "2026-05-05T00:00-04:00")["air_c"] == 24.0
    assert weather.cloud_pct[0] == 50.0
    assert weather.solar_w_m2 is not None
    assert weather.notes == ()
    assert weather.source == "year.epw"


def test_short_gaps_are_bridged_and_said_and_long_ones_refused(tmp_path: Path) -> None:
    def lose(hours: range) -> Callable[[datetime, Cells], None]:
        def change(begins: datetime, cells: Cells) -> None:
            if (begins.month, begins.day) == (3, 3) and begins.hour in hours:
                cells[DRY_BULB] = "99.9"

        return change

    weather = read_typical_year(write_epw(tmp_path / "year.epw", lose(range(6, 9))))
    assert at(weather, "2026-03-03T08:00-04:00")["air_c"] == pytest.approx(8.0)
    assert weather.notes == ("year.epw: 3 missing hours of air_c are bridged by straight lines.",)
    with pytest.raises(InputError, match="gives no air_c for 4 hours on end, 3 may be bridged"):
        read_typical_year(write_epw(tmp_path / "year.epw", lose(range(6, 10))))


def test_missing_rain_is_taken_as_dry_aloud(tmp_path: Path) -> None:
    def change(_: datetime, cells: Cells) -> None:
        cells[RAIN] = "999"

    weather = read_typical_year(write_epw(tmp_path / "year.epw", change))
    assert weather.rain_mm_h.max() == 0
    assert weather.notes == ("year.epw gives no rain for 8760 hours; they are taken as dry.",)


def test_rain_gathered_over_several_hours_is_not_counted_twice(tmp_path: Path) -> None:
    def change(begins: datetime, cells: Cells) -> None:
        if begins.hour == 5:
            cells[RAIN], cells[RAIN_HOURS] = "1.2", "6"

    weather = read_typical_year(write_epw(tmp_path / "year.epw", change))
    assert weather.rain_mm_h.max() == 0.2
    assert weather.notes == ("year.epw gives no rain for 365 hours; they are taken as dry.",)


def test_the_leap_day_of_a_real_year_is_left_out(tmp_path: Path) -> None:
    path = write_epw(tmp_path / "year.epw")
    lines = path.read_text(encoding="ascii").splitlines()
    after_28_february = 8 + 59 * 24
    leap = [
        line.replace("2005,2,28", "2004,2,29")
        for line in lines[after_28_february - 24 : after_28_february]
    ]
    path.write_text(
        "\n".join(lines[:after_28_february] + leap + lines[after_28_february:]), "ascii"
    )
    weather = read_typical_year(path)
    assert weather.epoch_s.size == 8760


def test_a_cut_or_foreign_file_is_refused_in_one_line(tmp_path: Path) -> None:
    path = write_epw(tmp_path / "year.epw")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(InputError, match=r"year\.epw"):
        read_typical_year(path)
    for junk in (b"", b"\x00\x01\x02", b"LOCATION,a,b\n1,2\n", b"<html></html>\n" * 20):
        path.write_bytes(junk)
        with pytest.raises(InputError, match="cannot be read as a typical year in EPW form"):
            read_typical_year(path)
    table = tmp_path / "123456.csv"
    table.write_text("123456,x\nnothing\n", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be read as a typical year in TMY3 form"):
        read_weather(table, "UTC")


def test_the_greensboro_file_matches_its_own_lines() -> None:
    # Lines of 723170TYA.CSV: the first row, 01/01/1988 01:00, UTC-5, and its text beside it.
    weather = read_weather(GREENSBORO, "America/New_York")
    header = GREENSBORO.read_text().splitlines()
    names, first = header[1].split(","), header[2].split(",")
    now = weather.at(datetime.fromisoformat("2026-01-01T01:00-05:00").timestamp())
    assert float(now.air_c) == float(first[names.index("Dry-bulb (C)")])
    assert float(now.humidity_pct) == float(first[names.index("RHum (%)")])
    assert float(now.wind_m_s) == float(first[names.index("Wspd (m/s)")])
    assert float(now.cloud_pct) == 10 * float(first[names.index("TotCld (tenths)")])
    assert weather.utc_offset_s == -5 * 3600


def test_the_greensboro_rain_is_that_of_the_town_not_ten_times_it() -> None:
    # NOAA normals 1981-2010 give about 1070 mm a year (from memory); a typical year may be drier.
    weather = read_weather(GREENSBORO, "America/New_York")
    assert 700 < weather.rain_mm_h.sum() < 1400
    assert any("tenths of a millimetre" in note for note in weather.notes)


def test_the_sand_point_rain_is_mostly_unknown_and_says_so() -> None:
    # Its rain rows hold overlapping totals of 3, 6 and 24 hours and marks near 255.
    weather = read_weather(SAND_POINT, "America/Anchorage")
    assert weather.rain_mm_h.max() <= 10
    (note,) = weather.notes
    assert "gives no rain for 8504 hours" in note


def test_july_noons_and_january_nights_of_greensboro_are_as_its_climate() -> None:
    # NOAA normals 1981-2010 (from memory): mean July high about 31 C, January low about -1 C.
    weather = read_weather(GREENSBORO, "America/New_York")
    july, january = design_day(weather, 7), design_day(weather, 1)
    assert july.air_c.max() == pytest.approx(31, abs=2)
    assert january.air_c.min() == pytest.approx(-1, abs=3)
    assert int(np.argmax(july.air_c)) in range(13, 18)
    hot, cold = design_day(weather, 7, kind="hot"), design_day(weather, 7, kind="cold")
    assert hot.air_c.mean() > july.air_c.mean() > cold.air_c.mean()
