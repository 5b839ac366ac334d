"""The sun through a year: its lines stand where the sun rises and sets."""

from __future__ import annotations

import runpy
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from simulator.sky.sun import elevation_series, sun_day

ROOM = Path(__file__).resolve().parents[2] / "notebooks"
sun_year = runpy.run_path(str(ROOM / "sun_chart.py"))["sun_year"]


def test_sunset_stands_where_the_sun_sets() -> None:
    days, hours = np.arange(0.0, 365.0, 7.0), np.linspace(0.0, 24.0, 145)
    # 2026-01-01 00:00 UTC at longitude 0.
    epoch_s = 1_767_225_600.0 + 86_400.0 * days[:, None] + 3600.0 * hours
    axes = sun_year(elevation_series(50.0, 0.0, epoch_s), days, hours, across="2026")
    named = {text.get_text(): text.xy[1] * 24.0 for text in axes.texts if hasattr(text, "xy")}
    last = sun_day(50.0, 0.0, date(2026, 1, 1) + timedelta(days=int(days[-1])), "UTC")
    assert last.sunset is not None
    # Names stand up to a third of an hour towards noon of their line.
    told = last.sunset.hour + last.sunset.minute / 60.0
    assert named["sunset"] == pytest.approx(told, abs=0.6)
    assert named["civil dusk"] > named["sunset"] > named["sunrise"] > named["civil dawn"]
