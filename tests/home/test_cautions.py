"""Cautions that depend on how the walk went: drinking too much, and what is short."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from simulator import Plan, demo_folder
from simulator.body.pace import MIDDLE
from simulator.home import walk as home
from simulator.home.cautions import AHEAD_ML, _hour_at, _pace, _pace_words, cautions, over_drunk
from simulator.home.scene import prepare
from simulator.home.summary import findings_of
from simulator.home.walked import Walked
from simulator.home.way import find_way
from simulator.walk.records import Total

MASS_KG = np.array([75.0])
"""The body mass that the cap of TB MED 507 is for, from memory."""


@pytest.fixture(scope="module")
def walked() -> Walked:
    scene = prepare(Plan.read(demo_folder() / "plan.toml"))
    return home.walk_way(scene, find_way(scene))


def drinking(walked: Walked, *, drunk_ml_h: float, lost_ml_h: float) -> Walked:
    """Let so much be drunk and lost in every hour of the walk."""
    trace = walked.outcome.trace
    assert trace is not None
    totals = trace.totals.copy()
    hours = totals[:, Total.CLOCK_S] / 3600.0
    totals[:, Total.DRUNK_ML], totals[:, Total.LOST_ML] = drunk_ml_h * hours, lost_ml_h * hours
    outcome = replace(walked.outcome, trace=replace(trace, totals=totals))
    return replace(walked, outcome=outcome)


def test_drinking_by_need_is_not_too_much(walked: Walked) -> None:
    assert not over_drunk(walked, MASS_KG)
    assert not over_drunk(drinking(walked, drunk_ml_h=1000.0, lost_ml_h=1000.0), MASS_KG)


@pytest.mark.parametrize(
    ("drunk_ml_h", "lost_ml_h"),
    [
        # TB MED 507: at most 1.42 l in an hour (1.5 US quarts), whatever is lost.
        (1500.0, 1500.0),
        # ACSM 2007: not more than is lost; 0.4 l an hour ahead soon passes two glasses.
        (600.0, 200.0),
    ],
)
def test_drinking_faster_or_more_than_is_safe_is_flagged(
    walked: Walked, drunk_ml_h: float, lost_ml_h: float
) -> None:
    assert over_drunk(drinking(walked, drunk_ml_h=drunk_ml_h, lost_ml_h=lost_ml_h), MASS_KG)


def test_a_glass_before_filling_the_bottle_is_no_fault(walked: Walked) -> None:
    trace = walked.outcome.trace
    assert trace is not None
    totals = trace.totals.copy()
    totals[:, Total.DRUNK_ML] = totals[:, Total.LOST_ML] + 0.5 * AHEAD_ML
    totals[:, Total.DRUNK_ML] = np.minimum(
        totals[:, Total.DRUNK_ML], 1000.0 * totals[:, Total.CLOCK_S] / 3600.0
    )
    outcome = replace(walked.outcome, trace=replace(trace, totals=totals))
    assert not over_drunk(replace(walked, outcome=outcome), MASS_KG)


def test_what_an_item_warns_of_is_said_with_its_name(walked: Walked) -> None:
    scene = prepare(Plan.read(demo_folder() / "plan.toml"))
    assert scene.items is not None
    findings = findings_of(scene, walked)
    warned = tuple("hot" if row == 1 else "" for row in range(len(scene.items.item)))
    lines = cautions(replace(scene, items=replace(scene.items, caution=warned)), walked, findings)
    assert f"{scene.items.item[1]}: hot" in lines
    without = cautions(replace(scene, items=None), walked, findings)
    assert [line for line in lines if line not in without] == [f"{scene.items.item[1]}: hot"]


@pytest.mark.parametrize("dark", [True, False])
def test_the_pace_after_dark_is_an_assumption_where_it_is_one(dark: bool) -> None:
    plan = Plan.read(demo_folder() / "plan.toml").with_changes(pace={"dark": dark})
    told = " ".join(_pace(prepare(plan)))
    assert ("After dark pace falls to" in told) == dark
    assert ("Left out by the plan: dark." in told) == (not dark)


def test_the_hour_in_which_a_place_is_reached_counts_from_one() -> None:
    # 4 km in the first hour, 8 km after the second: 8 km itself begins the third.
    hours = pd.DataFrame({"distance_so_far_km": [4.0, 8.0, 10.0]})
    told = [_hour_at(hours, metres) for metres in (0.0, 3999.0, 4001.0, 8000.0, 9500.0)]
    assert told == [1, 1, 2, 3, 3]


def test_the_pace_is_named_by_its_paper_or_as_the_median_of_all() -> None:
    assert _pace_words("tobler_1993") == "Tobler 1993"
    assert _pace_words("irmischer_clarke_2018") == "Irmischer Clarke 2018"
    assert _pace_words(MIDDLE) == "the median of the published models"
