"""The door for typical meteorological years, EPW and TMY3, read through pvlib."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from simulator.errors import InputError
from simulator.sky.weather import RANGES, Weather, year_position_s

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["existing_file", "is_epw", "read_typical_year"]

FloatArray = npt.NDArray[np.float64]

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
        raise InputError(where, f"there is no file {str(path)!r}; check the name")
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
    from pvlib import iotools  # noqa: PLC0415 - half a second, and only here

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


def _in_tenths(rain: FloatArray) -> bool:
    """Tell from the pattern of values whether rain stands in tenths of a millimetre."""
    wet = rain[rain > 0]
    if wet.size < FEWEST_WET_HOURS or np.any(wet % 1 != 0):
        return False
    steps = np.round(wet / GAUGE_STEP_TENTHS_MM)
    return bool(np.mean(np.round(steps * GAUGE_STEP_TENTHS_MM) == wet) >= GAUGE_SHARE)


def _filled(name: str, column: FloatArray, path: Path) -> tuple[FloatArray, str]:
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
    import pandas as pd  # noqa: PLC0415 - pvlib's readers bring it anyway

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
