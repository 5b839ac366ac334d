"""Water in words, rows, files and a figure: what the summary says, in the reader's units."""

from __future__ import annotations

import csv
import io
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from simulator.home.records import Summary
from simulator.report.water import (
    bottle_rows,
    bottles_csv,
    bottles_figure,
    never_dry_feature,
    water_lines,
)
from tests.report.conftest import record_from

HOSTILE = '=cmd|"calc"!A1\x1b[31m'


class _Plan:
    def __init__(self, units: str) -> None:
        self.units = units
        self.walker = (object(),)


class _Water:
    def __init__(self) -> None:
        self.never_dry_lonlat = np.array([[-30.1234567, 46.0], [-30.1, 46.1]])


def _walk(units: str = "metric", **changes: object) -> Any:  # noqa: ANN401 - part of a walk
    """Give a walk with answers about water and nothing else."""
    facts = record_from(Summary, {"water": _answers() | changes})
    return SimpleNamespace(plan=_Plan(units), water=_Water(), facts=facts)


def _bottle(bottle_l: float, short_l: float, stops: int) -> dict[str, Any]:
    return {
        "bottle_l": bottle_l,
        "bag_kg": 3.0,
        "stops": stops,
        "places": HOSTILE,
        "refilled_l": 1.0,
        "left_l": 0.25,
        "short_l": short_l,
        "first_short_h": 2.5 if short_l else None,
        "worst_body_mass_loss_pct": 0.6,
        "elapsed_h": 7.0,
        "arrive": "2026-11-18T23:44:46-02:00",
        "never_dry": short_l == 0.0,
    }


def _answers() -> dict[str, Any]:
    return {
        "short_l": 0.0,
        "next": {"place": HOSTILE, "km": 1.234, "need_l": 0.1, "needs": "treatment"},
        "treatment": [
            {
                "method": "tablets",
                "carried_l": 20.0,
                "used_l": 1.0,
                "left_l": 19.0,
                "doses_used": 2.0,
            }
        ],
        "chance_dry": {"as_planned": 0.4, "going_on": 0.01, "at_best": 0.004, "extra_min": 8.0},
        "bottles": [_bottle(0.5, 0.52, 3), _bottle(1.0, 0.01, 1), _bottle(2.0, 0.0, 0)],
        "least_bottle_l": {"every_place": 1.01, "no_stop": 2.1},
        "never_dry": {
            "fastest_runs_dry": True,
            "exists": True,
            "differs": True,
            "need_ml_h": 150.0,
            "other": {
                "distance_km": 24.6,
                "elapsed_h": 7.2,
                "extra_min": 26.0,
                "short_l": 0.0,
                "places": ["tap", HOSTILE],
            },
        },
    }


def test_each_bottle_is_a_row_and_a_small_thirst_is_not_called_none() -> None:
    rows = bottle_rows(_walk())
    assert [row.holds for row in rows] == ["0.5 L", "1.0 L", "2.0 L"]
    assert [row.missing for row in rows] == ["0.5 L", "under 0.1 L", "none"]
    assert [row.stops for row in rows] == ["3", "1", "none"]
    assert [row.dry for row in rows] == [True, True, False]
    assert rows[0].home == "23:44"
    # NIST SP 811: a US fluid ounce is 29.5735295625 mL, so half a litre is 16.9 of them.
    assert bottle_rows(_walk("us"))[0].holds == "17 fl oz"


def test_the_sentences_say_the_numbers_and_carry_no_control_characters() -> None:
    lines = water_lines(_walk())
    text = " ".join(lines)
    assert "\x1b" not in text
    assert "after 1.2 km, which takes treatment" in text
    assert "run dry in 40 % of such days" in text
    assert "in 1 %; trying every place that helps, in under 1 %, which takes" in text
    assert "8 min" in text
    # A bottle of 1.0 L would run dry: the sentence rounds up.
    assert "holds 1.1 L" in text
    assert "2 tablets, for 1.0 L; left for 19.0 L" in text
    assert "never runs dry: 24.6 km, home 26 min later" in text
    assert "0.8 mi" in " ".join(water_lines(_walk("us")))


def test_what_is_not_known_or_not_needed_is_left_out() -> None:
    assert water_lines(_walk(next=None, chance_dry=None, least_bottle_l=None, never_dry=None)) == (
        "Treatment used up: 2 tablets, for 1.0 L; left for 19.0 L.",
    )
    short = water_lines(_walk(short_l=0.3))
    assert any("Even where every place works" in line for line in short)
    none = _answers()["never_dry"] | {"differs": False, "exists": False, "other": None}
    assert any("carry more" in line for line in water_lines(_walk(never_dry=none)))


def test_the_file_holds_every_bottle_and_no_formula() -> None:
    rows = list(csv.DictReader(io.StringIO(bottles_csv(_walk()))))
    assert [float(row["bottle_l"]) for row in rows] == [0.5, 1.0, 2.0]
    assert not any(row["places"].startswith("=") for row in rows)
    assert rows[2]["first_short_h"] == ""
    assert bottles_csv(_walk(bottles=[])) == ""


def test_the_way_never_dry_is_a_line_of_longitude_and_latitude() -> None:
    feature = never_dry_feature(_walk())
    assert feature is not None
    assert feature["geometry"]["coordinates"] == [[-30.123457, 46.0], [-30.1, 46.1]]
    assert feature["properties"]["what"] == "way never dry"
    walk = _walk()
    walk.water.never_dry_lonlat = None  # as when the ways agree
    assert never_dry_feature(walk) is None


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_figure_has_a_bar_for_each_part_of_each_bottle(units: str) -> None:
    ax = bottles_figure(_walk(units))
    heights = sorted(round(float(bar.get_height()), 3) for bar in ax.patches)  # type: ignore[attr-defined]
    per = 1.0 if units == "metric" else 1.0 / 0.946352946
    assert len(heights) == 9
    assert heights[-1] == pytest.approx(2.0 * per, abs=1e-3)
    assert heights[0] == pytest.approx(-0.52 * per, abs=1e-3)
    empty = bottles_figure(_walk(bottles=[]))
    assert len(empty.patches) == 0
    assert not empty.axison
