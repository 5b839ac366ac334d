"""The door for weather files: hourly CSV here, typical years through the room next door."""

from __future__ import annotations

import csv
import difflib
import math
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from simulator.errors import InputError
from simulator.sky.clock import read_zone, to_epoch_s
from simulator.sky.typical_year import existing_file, is_epw, read_typical_year
from simulator.sky.weather import QUANTITIES, RANGES, Weather, design_day

__all__ = ["COLUMNS", "read_hourly_csv", "read_weather"]

FloatArray = npt.NDArray[np.float64]

COLUMNS: Final = ("time", *QUANTITIES)
"""Columns of an hourly file. `time` is local wall-clock time, ISO 8601, with or without an offset;
units: C, %, m/s at 10 m, % of the sky, mm/h."""

LONGEST_STEP_S: Final = 3 * 3600.0
"""Widest step between rows [s]; weather changes too much in between beyond that."""

UNIT_HINTS: Final = {
    "air_c": "degrees Celsius, not Fahrenheit or kelvin",
    "humidity_pct": "percent",
    "wind_m_s": "metres per second, not km/h or knots",
    "cloud_pct": "percent of the sky, not oktas or tenths",
    "rain_mm_h": "millimetres per hour",
}


def _refuse(path: Path, faults: list[tuple[int, str]]) -> None:
    """Raise all faults of a file as one message that names the first in full."""
    if not faults:
        return
    line, problem = faults[0]
    others = sorted({number for number, _ in faults[1:]})
    if others:
        shown = ", ".join(str(number) for number in others[:5])
        more = ", …" if len(others) > 5 else ""  # noqa: PLR2004 - enough to find them
        problem = f"{problem} ({len(faults) - 1} more faults, on lines {shown}{more})"
    where = f"{path.name}: line {line}"
    raise InputError(where, problem)


def _read_rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    """Read the rows with their line numbers; the header must hold just the documented columns."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.reader(file, strict=True)
            rows = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except (UnicodeDecodeError, csv.Error, OSError) as error:
        problem = "is not a readable CSV text in UTF-8; save it again as comma-separated UTF-8"
        raise InputError(path.name, problem) from error
    if not rows:
        raise InputError(path.name, f"is empty; expected the columns {', '.join(COLUMNS)}")
    header = [cell.strip() for cell in rows[0][1]]
    where = f"{path.name}: line {rows[0][0]}"
    for name in header:
        if name not in COLUMNS:
            near = difflib.get_close_matches(name, COLUMNS, n=1)
            hint = f"did you mean {near[0]}?" if near else f"allowed are {', '.join(COLUMNS)}"
            raise InputError(where, f"unknown column {name!r}; {hint}")
    missing = [name for name in COLUMNS if name not in header]
    if missing or len(set(header)) != len(header):
        what = f"lacks the column {missing[0]}" if missing else "names a column twice"
        raise InputError(where, f"the header {what}; expected {', '.join(COLUMNS)}")
    table = []
    for line, row in rows[1:]:
        if len(row) != len(header):
            where = f"{path.name}: line {line}"
            raise InputError(
                where,
                f"has {len(row)} cells where the header has {len(header)}; "
                "check for a missing or a decimal comma",
            )
        table.append((line, {name: cell.strip() for name, cell in zip(header, row, strict=True)}))
    return table


def _read_time(cell: str, zone: str, previous_s: float) -> float:
    """Read one time; where the clocks repeat an hour, the second row of it is the later one."""
    try:
        local = datetime.fromisoformat(cell)
    except ValueError as error:
        msg = f"time {cell!r} is not a date and time like 2026-05-04T16:00"
        raise ValueError(msg) from error
    try:
        moment = to_epoch_s(local, zone, where="time")
    except InputError as error:
        raise ValueError(error.problem) from error
    if local.tzinfo is None and moment <= previous_s:
        later = local.replace(tzinfo=read_zone(zone), fold=1).timestamp()
        # Only the first repeat: a third row with this time is a duplicate.
        moment = later if later > previous_s else moment
    return moment


def _read_value(name: str, cell: str) -> float:
    low, high = RANGES[name]
    try:
        value = float(cell)
    except ValueError as error:
        found = "an empty cell" if not cell else repr(cell)
        msg = f"{name} holds {found}; expected a number from {low:g} to {high:g}"
        raise ValueError(msg) from error
    if not low <= value <= high:
        msg = f"{name} is {cell}, outside {low:g} to {high:g}; it must be in {UNIT_HINTS[name]}"
        raise ValueError(msg)
    return value


def _check_steps(epoch_s: list[float], lines: list[int], times: list[str]) -> list[tuple[int, str]]:
    """Find gaps, repeats and disorder; the first two rows set the step."""
    step = epoch_s[1] - epoch_s[0]
    if step > LONGEST_STEP_S:
        return [(lines[1], f"is {step / 3600:g} h after the row before; rows may be 3 h apart")]
    faults = []
    for (before, now), line, time in zip(pairwise(epoch_s), lines[1:], times[1:], strict=True):
        if now == before:
            faults.append((line, f"time {time} stands twice; keep one row"))
        elif now < before:
            faults.append((line, f"time {time} is earlier than the row before; sort the rows"))
        elif now - before != step:
            problem = (
                f"time {time} is {(now - before) / 3600:g} h after the row before, the step is "
                f"{step / 3600:g} h; fill the gap (where clocks change, write offsets: +02:00)"
            )
            faults.append((line, problem))
    return faults


def _check_shares(values: dict[str, FloatArray], lines: list[int]) -> list[tuple[int, str]]:
    """Catch percentages written as shares of one."""
    faults = []
    humidity, cloud = values["humidity_pct"], values["cloud_pct"]
    if humidity.max() <= 1:
        faults.append((lines[0], "humidity_pct never exceeds 1; write percent, e.g. 65 not 0.65"))
    if cloud.max() <= 1 and np.any(cloud % 1 != 0):
        faults.append((lines[0], "cloud_pct never exceeds 1; write percent, e.g. 50 not 0.5"))
    return faults


def read_hourly_csv(path: Path, zone: str) -> Weather:
    """Read weather by the hour from a CSV file.

    The first line names the columns ``time,air_c,humidity_pct,wind_m_s,cloud_pct,rain_mm_h``, in
    any order. Rows follow one another at one step of at most three hours, without gaps. Times are
    local wall-clock times of `zone`, or carry their own offset (``2026-10-25T02:30+01:00``); where
    clocks go back, the hour that happens twice has two rows.

    Parameters
    ----------
    path : pathlib.Path
        The file, UTF-8.
    zone : str
        IANA zone of times without an offset.

    Returns
    -------
    Weather
        Values between the first and the last row; nothing is known outside them.

    Raises
    ------
    InputError
        With file and line: unreadable file, unknown or missing column, a cell that is no number, a
        value beyond `RANGES`, a gap, a repeat, a time the clocks skip.
    """
    rows = _read_rows(existing_file(path))
    if len(rows) < 2:  # noqa: PLR2004 - a step needs two
        raise InputError(path.name, "holds fewer than two rows of weather; add one row an hour")
    faults: list[tuple[int, str]] = []
    epoch_s: list[float] = []
    values: dict[str, list[float]] = {name: [] for name in QUANTITIES}
    for line, cells in rows:
        try:
            epoch_s.append(_read_time(cells["time"], zone, epoch_s[-1] if epoch_s else -math.inf))
            for name in QUANTITIES:
                values[name].append(_read_value(name, cells[name]))
        except ValueError as error:
            faults.append((line, str(error)))
    _refuse(path, faults)
    lines = [line for line, _ in rows]
    columns: dict[str, Any] = {name: np.array(column) for name, column in values.items()}
    times = [cells["time"] for _, cells in rows]
    _refuse(path, _check_steps(epoch_s, lines, times) + _check_shares(columns, lines))
    offset = datetime.fromtimestamp(epoch_s[0], tz=read_zone(zone)).utcoffset()
    return Weather(
        epoch_s=np.array(epoch_s),
        source=path.name,
        utc_offset_s=offset.total_seconds() if offset is not None else 0.0,
        **columns,
    )


def read_weather(
    path: Path,
    zone: str,
    *,
    month: int | None = None,
    kind: Literal["mean", "hot", "cold"] = "mean",
) -> Weather:
    """Read whichever weather file this is.

    Parameters
    ----------
    path : pathlib.Path
        ``.epw``, a TMY3 ``.csv``, or an hourly ``.csv`` (told apart by the ``time`` column).
    zone : str
        IANA zone of times without an offset in an hourly file.
    month : int or None
        If given, one design day of this month instead of the hours themselves.
    kind : {"mean", "hot", "cold"}
        Which design day.

    Returns
    -------
    Weather
        The weather with its notes.

    Raises
    ------
    InputError
        If the file cannot be used; see the readers.
    """
    if is_epw(existing_file(path)):
        weather = read_typical_year(path)
    else:
        with path.open(encoding="utf-8-sig", errors="replace") as file:
            names = [cell.strip() for cell in file.readline().split(",")]
        hourly = "time" in names or any(name in names for name in QUANTITIES)
        # A TMY3 file opens with a station number; anything else is meant as an hourly file.
        is_tmy3 = not hourly and names[0].isdigit()
        weather = read_typical_year(path) if is_tmy3 else read_hourly_csv(path, zone)
    if month is None:
        return weather
    day = design_day(weather, month, kind=kind)
    note = f"The weather is one day standing for the month: {day.source}."
    return replace(day, notes=(*day.notes, note))
