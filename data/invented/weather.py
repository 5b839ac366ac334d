"""A typical year for the demo place: seasons, days, fronts and showers out of a seeded generator.

Invented from first to last; only its shape is that of a mild coast at 46 degrees north. Written in
the open format EPW: eight header lines, then one row of 35 fields an hour, missing ones filled with
the format's nines.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

HOURS = 8760
SEED = 46_030

MEAN_C, SEASON_C, DAY_C = 10.5, 8.0, 3.5
"""Mean of the year, half the swing of the seasons and, under a clear sky, of a day [degC]."""

FRONT_H, FRONT_C = 60.0, 2.8
"""How long fronts last, and by how much they shift the temperature [h], [degC]."""

WARMEST_DAY, WARMEST_HOUR = 205, 15

HEADER = (
    "LOCATION,Ossenford (invented),-,-,invented,000000,46.00,-30.00,-2.0,20.0",
    "DESIGN CONDITIONS,0",
    "TYPICAL/EXTREME PERIODS,0",
    "GROUND TEMPERATURES,0",
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
    "COMMENTS 1,Everything here is invented; no weather was measured",
    "COMMENTS 2,See data/README.md",
    "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
)

MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def write_year(path: Path) -> None:
    """Write the typical year of the demo place."""
    air_c, humidity_pct, wind_m_s, cloud, rain_mm = _hours(np.random.default_rng(SEED))
    dew_c = air_c - (100.0 - humidity_pct) / 5.0
    lines = list(HEADER)
    hour = 0
    for month, days in enumerate(MONTH_DAYS, 1):
        for day in range(1, days + 1):
            for ends in range(1, 25):
                lines.append(
                    f"2001,{month},{day},{ends},60,?,{air_c[hour]:.1f},{dew_c[hour]:.1f},"
                    f"{humidity_pct[hour]:.0f},101325,9999,9999,9999,9999,9999,9999,999999,999999,"
                    f"999999,9999,999,{wind_m_s[hour]:.1f},{cloud[hour]:.0f},99,9999,99999,9,"
                    f"999999999,999,.999,999,99,999,{rain_mm[hour]:.1f},1"
                )
                hour += 1
    path.write_text("\n".join(lines) + "\n", encoding="ascii", newline="\n")


def _hours(rng: np.random.Generator) -> tuple[NDArray[np.float64], ...]:
    """Draw air, humidity, wind, cloud in tenths and rain of every hour."""
    hour = np.arange(HOURS)
    season = np.cos(2.0 * np.pi * (hour / 24.0 - WARMEST_DAY) / 365.0)
    front = _drift(rng, FRONT_H)
    cloud = np.clip(np.round(6.0 - season + 3.2 * _drift(rng, 18.0)), 0.0, 10.0)
    clear = 1.0 - cloud / 10.0
    of_day = np.cos(2.0 * np.pi * (hour % 24 - WARMEST_HOUR) / 24.0)
    swing = DAY_C * (0.35 + 0.65 * clear) * (0.7 + 0.3 * season)
    air_c = MEAN_C + SEASON_C * season + swing * of_day + FRONT_C * front
    humidity_pct = np.clip(
        80.0 - 9.0 * of_day * (0.4 + clear) + 8.0 * _drift(rng, 30.0), 35.0, 100.0
    )
    wind_m_s = np.clip(4.2 - 0.8 * season + 1.9 * _drift(rng, 24.0), 0.0, 18.0)
    wet = (cloud >= 8.0) & (rng.random(HOURS) < 0.4)
    rain_mm = np.where(wet, rng.gamma(0.9, 0.8, HOURS), 0.0)
    return air_c, humidity_pct, wind_m_s, cloud, rain_mm


def _drift(rng: np.random.Generator, lasts_h: float) -> NDArray[np.float64]:
    """Draw what wanders around zero, of deviation one, forgotten after some hours.

    The year closes: its end runs into its beginning.
    """
    keep = float(np.exp(-1.0 / lasts_h))
    noise = rng.normal(0.0, np.sqrt(1.0 - keep * keep), HOURS)
    drift = np.empty(HOURS)
    value = 0.0
    for _ in range(2):
        for row in range(HOURS):
            value = keep * value + noise[row]
            drift[row] = value
    return drift
