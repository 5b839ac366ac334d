"""The door for weather files: hourly CSV here, typical years through the room next door."""

from __future__ import annotations

import csv
import difflib
import math
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import numpy.typing as npt

from simulator.arrays import Floats
from simulator.errors import InputError, shown
from simulator.sky.clock import read_zone, to_epoch_s
from simulator.sky.weather import QUANTITIES, RANGES, Weather, design_day, year_position_s

if TYPE_CHECKING:
    import pandas as pd

LONGEST_FILLED_H: Final = 3
"""Widest gap in a typical year that is bridged by a straight line [h]; wider is refused."""

HOURS_A_YEAR: Final = 8760

SOLAR_RANGE_W_M2: Final = (0.0, 1500.0)
"""Irradiance on level ground: the sun at the top of the air gives about 1361 W/m2."""

# pvlib's names: quantity -> (column, factor to our unit, values at and past which it is missing).
EPW_FIELDS: Final = {
    "air_c": ("temp_air", 1.0, 99.9),
    "humidity_pct": ("relative_humidity", 1.0, 999.0),
    "wind_m_s": ("wind_speed", 1.0, 999.0),
    "cloud_pct": ("total_sky_cover", 10.0, 99.0),
    "rain_mm_h": ("liquid_precipitation_depth", 1.0, 999.0),
    "solar_w_m2": ("ghi", 1.0, 9999.0),
}
TMY3_FIELDS: Final = {
    "air_c": ("temp_air", 1.0, math.inf),
    "humidity_pct": ("relative_humidity", 1.0, math.inf),
    "wind_m_s": ("wind_speed", 1.0, math.inf),
    "cloud_pct": ("TotCld (tenths)", 10.0, math.inf),
    "rain_mm_h": ("Lprecip depth (mm)", 1.0, math.inf),
    "solar_w_m2": ("ghi", 1.0, math.inf),
}
"""Missing marks: EPW fills with nines (EnergyPlus weather format), TMY3 with -9900 (Wilcox &
Marion 2008, NREL/TP-581-43156), which the lower bound of RANGES catches."""

GAUGE_STEP_TENTHS_MM: Final = 2.54
GAUGE_SHARE: Final = 0.95
"""Rain gauges of the United States step by 0.01 inch [0.1 mm]. TMY3 files head their rain column
"mm", yet some hold tenths: nearly every value is then a whole multiple of this step, rounded
(measured on the file 723170TYA that pvlib carries, 98 % of 358 wet hours; as millimetres it would
rain 8345 mm a year at Greensboro)."""

HEAVIEST_HOUR_MM: Final = 125.0
"""More rain than this in an hour of a typical year is a fault of the file (703165TY, which pvlib
carries, has 255 mm hours in a place of drizzle); it is treated as missing."""

RAIN_HOURS: Final = ("liquid_precipitation_quantity", "Lprecip quantity (hr)")
"""pvlib's names, EPW and TMY3, of the hours over which the rain of a row was gathered. Only rows
of one hour are used: totals of 3, 6 or 24 hours would count the same rain again."""

FEWEST_WET_HOURS: Final = 10
"""Wet hours it takes to tell tenths of a millimetre from millimetres by that pattern."""

HIGHEST_HUMIDITY_PCT: Final = 110.0
"""The EPW format allows humidity up to 110 %; above 100 it is taken as 100."""


def existing_file(path: Path) -> Path:
    """Refuse the name of a weather file that is not there.

    Parameters
    ----------
    path : pathlib.Path
        The file.

    Returns
    -------
    pathlib.Path
        The same path.

    Raises
    ------
    InputError
        If there is no such file.
    """
    if not path.is_file():
        where = "weather.file"
        raise InputError(where, f"there is no file {shown(str(path))}; check the name")
    return path


def is_epw(path: Path) -> bool:
    """Tell an EPW file by its name.

    Parameters
    ----------
    path : pathlib.Path
        The file.

    Returns
    -------
    bool
        True if the name ends in ``.epw``.
    """
    return path.suffix.lower() == ".epw"


def _parse_typical_year(path: Path) -> tuple[pd.DataFrame, dict[str, Any]]:
    from pvlib import iotools

    kind = "EPW" if is_epw(path) else "TMY3"
    fields = EPW_FIELDS if kind == "EPW" else TMY3_FIELDS
    try:
        if kind == "EPW":
            data, meta = iotools.read_epw(str(path))
        else:
            data, meta = iotools.read_tmy3(str(path), map_variables=True)
        data[[column for column, _, _ in fields.values()]].astype(np.float64)
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, OSError) as error:
        raise InputError(
            path.name,
            f"cannot be read as a typical year in {kind} form; it may be cut short or of another "
            "kind (.epw for EPW, .csv for TMY3)",
        ) from error
    return data, meta


def _longest_run(missing: npt.NDArray[np.bool_]) -> int:
    """Count the longest run of missing hours, across the turn of the year."""
    if missing.all():
        return int(missing.size)
    turned = np.roll(missing, -int(np.argmin(missing)))
    edges = np.diff(np.concatenate([[0], turned.astype(np.int8), [0]]))
    lengths = np.flatnonzero(edges == -1) - np.flatnonzero(edges == 1)
    return int(lengths.max(initial=0))


def _in_tenths(rain: Floats) -> bool:
    """Tell from the pattern of values whether rain stands in tenths of a millimetre."""
    wet = rain[rain > 0]
    if wet.size < FEWEST_WET_HOURS or np.any(wet % 1 != 0):
        return False
    steps = np.round(wet / GAUGE_STEP_TENTHS_MM)
    return bool(np.mean(np.round(steps * GAUGE_STEP_TENTHS_MM) == wet) >= GAUGE_SHARE)


def _filled(name: str, column: Floats, path: Path) -> tuple[Floats, str]:
    """Bridge short gaps; say what was filled; refuse long ones (rain: taken as none)."""
    missing = np.isnan(column)
    count = int(np.count_nonzero(missing))
    if not count:
        return column, ""
    if name == "rain_mm_h":
        dry = np.where(missing, 0.0, column)
        return dry, f"{path.name} gives no rain for {count} hours; they are taken as dry."
    longest = _longest_run(missing)
    if longest > LONGEST_FILLED_H:
        raise InputError(
            path.name,
            f"gives no {name} for {longest} hours on end, {LONGEST_FILLED_H} may be bridged; "
            "use another file or constants",
        )
    hours = np.arange(column.size)
    known = hours[~missing]
    bridged = np.interp(hours, known, column[~missing], period=column.size)
    return bridged, f"{path.name}: {count} missing hours of {name} are bridged by straight lines."


def read_typical_year(path: Path) -> Weather:
    """Read a typical meteorological year, to be used for any date by month, day and hour.

    Parameters
    ----------
    path : pathlib.Path
        ``.epw`` (EnergyPlus weather) or a TMY3 ``.csv``; read through `pvlib.iotools`.

    Returns
    -------
    Weather
        8760 hours that repeat every year, in the standard time of the file; 29 February takes the
        values of the 28th. `notes` says what was missing and how it was filled.

    Raises
    ------
    InputError
        If the file is not of that form, has not every hour of a year once, or lacks a quantity for
        more than three hours on end.

    Notes
    -----
    A typical year is stitched from real months: it has ordinary extremes, not the worst ones. Its
    wind was measured at an open airfield at 10 m. Rain is often missing from such files.
    """
    import pandas as pd

    data, meta = _parse_typical_year(existing_file(path))
    # Both formats label the hour by its end; pvlib moves the EPW label to the start of the hour.
    shift_h = 1 if is_epw(path) else 0
    index = pd.DatetimeIndex(data.index)
    naive = index.tz_localize(None).to_numpy().astype("datetime64[s]")
    leap = (naive.astype("datetime64[D]") - naive.astype("datetime64[M]")).astype(np.int64) == 28  # noqa: PLR2004
    leap &= naive.astype("datetime64[M]").astype(np.int64) % 12 == 1
    data, naive = data.loc[~leap], naive[~leap]
    position = year_position_s(naive.astype(np.float64)) + shift_h * 3600.0
    position %= HOURS_A_YEAR * 3600.0
    order = np.argsort(position, kind="stable")
    hours = position[order] / 3600.0
    if hours.size != HOURS_A_YEAR or not np.array_equal(hours, np.arange(HOURS_A_YEAR)):
        raise InputError(
            path.name,
            f"holds {hours.size} rows that are not every hour of a year once; "
            f"a typical year has {HOURS_A_YEAR}",
        )
    columns: dict[str, Any] = {}
    notes = []
    fields = EPW_FIELDS if is_epw(path) else TMY3_FIELDS
    for name, (column, factor, missing_from) in fields.items():
        raw = data[column].to_numpy(dtype=np.float64)[order]
        value = np.where(raw >= missing_from, np.nan, raw * factor)
        if name == "rain_mm_h" and _in_tenths(value):
            value = value / 10.0
            notes.append(f"{path.name}: rain stands in tenths of a millimetre and is read so.")
        if name == "rain_mm_h":
            gathered_h = data[RAIN_HOURS[0 if is_epw(path) else 1]].to_numpy(dtype=np.float64)
            doubtful = (gathered_h[order] > 1) | (value > HEAVIEST_HOUR_MM)
            value = np.where(doubtful, np.nan, value)
        if name == "humidity_pct":
            value = np.where(value <= HIGHEST_HUMIDITY_PCT, np.minimum(value, 100.0), value)
        low, high = RANGES.get(name, SOLAR_RANGE_W_M2)
        value = np.where((value >= low) & (value <= high), value, np.nan)
        if name == "solar_w_m2":
            columns[name] = None if np.isnan(value).any() else value
            continue
        columns[name], note = _filled(name, value, path)
        notes += [note] if note else []
    return Weather(
        epoch_s=hours * 3600.0,
        source=path.name,
        repeat="yearly",
        utc_offset_s=float(meta["TZ"]) * 3600.0,
        notes=tuple(notes),
        **columns,
    )


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
            raise InputError(where, f"unknown column {shown(name)}; {hint}")
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
        msg = f"time {shown(cell)} is not a date and time like 2026-05-04T16:00"
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


def _check_shares(values: dict[str, Floats], lines: list[int]) -> list[tuple[int, str]]:
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
