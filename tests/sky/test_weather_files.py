"""Hourly weather files: what is read, and every way a person can get one wrong."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.sky.weather_files import COLUMNS, read_hourly_csv, read_weather

HEADER = ",".join(COLUMNS)
GOOD = [
    "2026-05-04T16:00,12.5,60,3.0,50,0",
    "2026-05-04T17:00,11.5,65,2.0,75,0.4",
    "2026-05-04T18:00,10.0,70,1.0,100,1.2",
]


def written(folder: Path, rows: list[str], *, header: str = HEADER) -> Path:
    path = folder / "hours.csv"
    path.write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    return path


def complaint(path: Path, zone: str = "America/Moncton") -> str:
    with pytest.raises(InputError) as caught:
        read_hourly_csv(path, zone)
    message = str(caught.value)
    assert "\n" not in message
    return message


def test_a_good_file_is_read_in_local_time(tmp_path: Path) -> None:
    weather = read_hourly_csv(written(tmp_path, GOOD), "America/Moncton")
    # 16:00 in Moncton, which keeps UTC-3 in May.
    assert weather.first_s == datetime(2026, 5, 4, 19, tzinfo=UTC).timestamp()
    assert weather.air_c.tolist() == [12.5, 11.5, 10.0]
    assert weather.rain_mm_h.tolist() == [0.0, 0.4, 1.2]
    assert weather.source == "hours.csv"
    assert weather.repeat == "never"
    assert float(weather.at(weather.first_s + 1800).cloud_pct) == 62.5


def test_columns_may_stand_in_any_order_with_spaces_a_mark_and_blank_lines(tmp_path: Path) -> None:
    path = tmp_path / "hours.csv"
    path.write_text(
        "\ufeffair_c, time ,wind_m_s,humidity_pct,rain_mm_h,cloud_pct\r\n"
        "5, 2026-01-01 00:00 ,1,80,0,0\r\n\r\n6,2026-01-01 03:00,2,90,0,100\r\n",
        encoding="utf-8",
    )
    weather = read_hourly_csv(path, "UTC")
    assert weather.air_c.tolist() == [5.0, 6.0]
    assert weather.humidity_pct.tolist() == [80.0, 90.0]


def test_the_repeated_hour_of_autumn_has_two_rows(tmp_path: Path) -> None:
    times = ["01:00", "02:00", "02:00", "03:00"]
    rows = [f"2026-10-25T{time},{10 - step},60,3,50,0" for step, time in enumerate(times)]
    weather = read_hourly_csv(written(tmp_path, rows), "Europe/Zurich")
    assert (weather.epoch_s - weather.epoch_s[0]).tolist() == [0.0, 3600.0, 7200.0, 10800.0]


def test_the_skipped_hour_of_spring_is_no_gap(tmp_path: Path) -> None:
    rows = [f"2026-03-29T{time},10,60,3,50,0" for time in ("01:00", "03:00", "04:00")]
    weather = read_hourly_csv(written(tmp_path, rows), "Europe/Zurich")
    assert (weather.epoch_s - weather.epoch_s[0]).tolist() == [0.0, 3600.0, 7200.0]
    rows[1] = rows[1].replace("03:00", "02:00")
    assert "line 3: 2026-03-29 02:00 does not exist in Europe/Zurich" in complaint(
        written(tmp_path, rows), "Europe/Zurich"
    )


def test_times_with_their_own_offset_need_no_zone(tmp_path: Path) -> None:
    rows = [f"2026-05-04T{hour}:00+02:00,10,60,3,50,0" for hour in (16, 17)]
    weather = read_hourly_csv(written(tmp_path, rows), "Asia/Tokyo")
    assert weather.first_s == datetime(2026, 5, 4, 14, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("2026-05-04T17:00,abc,65,2,75,0", "line 3: air_c holds 'abc'; expected a number from -90"),
        ("2026-05-04T17:00,,65,2,75,0", "line 3: air_c holds an empty cell"),
        ("2026-05-04T17:00,nan,65,2,75,0", "line 3: air_c is nan, outside -90 to 60"),
        ("2026-05-04T17:00,77,65,2,75,0", "not Fahrenheit or kelvin"),
        ("2026-05-04T17:00,10,165,2,75,0", "line 3: humidity_pct is 165, outside 0 to 100"),
        ("2026-05-04T17:00,10,65,-2,75,0", "wind_m_s is -2, outside 0 to 75"),
        ("2026-05-04T17:00,10,65,2,75,-1", "rain_mm_h is -1, outside 0 to 310"),
        ("04.05.2026 17:00,10,65,2,75,0", "line 3: time '04.05.2026 17:00' is not a date and time"),
        ("2026-05-04T19:00,10,65,2,75,0", "line 4: time 2026-05-04T18:00 is earlier"),
        ("2026-05-04T16:00,10,65,2,75,0", "line 3: rows"),
        ("2026-05-04T17:00,10,65,2,75", "line 3: has 5 cells where the header has 6"),
        ("2026-05-04T17:00,10,5,65,2,75,0", "decimal comma"),
    ],
)
def test_a_bad_row_is_named_with_file_and_line(tmp_path: Path, row: str, words: str) -> None:
    if words == "line 3: rows":
        words = "line 3: time 2026-05-04T16:00 stands twice"
    message = complaint(written(tmp_path, [GOOD[0], row, GOOD[2]]))
    assert message.startswith("hours.csv: line ")
    assert words in message


def test_a_gap_is_named_with_its_length(tmp_path: Path) -> None:
    rows = [*GOOD, "2026-05-04T21:00,9,70,1,100,0"]
    message = complaint(written(tmp_path, rows))
    assert "line 5: time 2026-05-04T21:00 is 3 h after the row before, the step is 1 h" in message


def test_a_step_of_more_than_three_hours_is_refused(tmp_path: Path) -> None:
    rows = [f"2026-05-04T{hour},9,70,1,100,0" for hour in ("00:00", "06:00", "12:00")]
    assert "line 3: is 6 h after the row before; rows may be 3 h apart" in complaint(
        written(tmp_path, rows)
    )


def test_all_faults_are_counted_in_one_message(tmp_path: Path) -> None:
    rows = [GOOD[0], GOOD[1].replace("65", "x"), GOOD[2].replace("10.0", "999")]
    message = complaint(written(tmp_path, rows))
    assert "line 3: humidity_pct holds 'x'" in message
    assert message.endswith("(1 more faults, on lines 4)")


def test_percentages_written_as_shares_of_one_are_refused(tmp_path: Path) -> None:
    rows = [
        row.replace(",60,", ",0.6,").replace(",65,", ",0.65,").replace(",70,", ",0.7,")
        for row in GOOD
    ]
    assert "humidity_pct never exceeds 1; write percent" in complaint(written(tmp_path, rows))
    rows = [
        row.replace(",50,", ",0.5,").replace(",75,", ",0.75,").replace(",100,", ",1,")
        for row in GOOD
    ]
    assert "cloud_pct never exceeds 1; write percent" in complaint(written(tmp_path, rows))


@pytest.mark.parametrize(
    ("header", "words"),
    [
        (HEADER.replace("air_c", "air_C"), "unknown column 'air_C'; did you mean air_c?"),
        (HEADER + ",pressure", "unknown column 'pressure'; allowed are time, air_c"),
        (HEADER.replace(",cloud_pct", ""), "the header lacks the column cloud_pct"),
        (HEADER + ",air_c", "the header names a column twice"),
    ],
)
def test_a_wrong_header_is_named(tmp_path: Path, header: str, words: str) -> None:
    message = complaint(written(tmp_path, GOOD, header=header))
    assert message.startswith("hours.csv: line 1: ")
    assert words in message


def test_files_that_are_no_table_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "hours.csv"
    assert "there is no file" in complaint(path)
    path.write_bytes(b"")
    assert "hours.csv: is empty" in complaint(path)
    path.write_text(HEADER + "\n" + GOOD[0] + "\n", encoding="utf-8")
    assert "fewer than two rows" in complaint(path)
    path.write_bytes(b"\xff\xfe\x00PNG\x00\x81")
    assert "not a readable CSV text" in complaint(path)
    path.write_text(HEADER + '\n"2026-05-04T16:00,12,60\n', encoding="utf-8")
    assert "not a readable CSV text" in complaint(path)


def test_any_weather_file_is_told_by_its_first_line(tmp_path: Path) -> None:
    path = written(tmp_path, [f"2026-05-04T{hour:02d}:00,{hour},60,3,50,0" for hour in range(24)])
    assert read_weather(path, "UTC").epoch_s.size == 24
    day = read_weather(path, "UTC", month=5)
    assert day.repeat == "daily"
    assert day.air_c.tolist() == list(range(24))
    assert day.notes == (
        "The weather is one day standing for the month: hours.csv, mean day of month 5.",
    )
    # Whatever is not a typical year is judged as an hourly file, which names its columns.
    path.write_text("date;temp\n1;2\n", encoding="utf-8")
    with pytest.raises(InputError, match="allowed are time, air_c"):
        read_weather(path, "UTC")
    with pytest.raises(InputError, match="there is no file"):
        read_weather(tmp_path / "none.epw", "UTC")
