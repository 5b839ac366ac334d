"""Whatever the dice give, a walk keeps its books, or is refused in words.

A few towns on every run; more, at two seconds each, by hand:

    WALKHOME_TOWNS=300 pytest tests/hostile/test_random_towns.py
"""

from __future__ import annotations

import math
import os
from pathlib import Path
from typing import Any

import pytest

from simulator import InputError, NoWayHomeError, Plan, walk_home
from simulator.home.verdict import LEVELS
from tests.hostile.towns import write_plan

TOWNS = range(int(os.environ.get("WALKHOME_TOWNS", "5")))


def walked(plan: Plan) -> dict[str, Any] | None:
    """Walk a plan; None where it is refused, which must be in one line."""
    refusal = ""
    try:
        walk = walk_home(plan)
    except (InputError, NoWayHomeError) as fault:
        refusal = str(fault)
    if refusal:
        assert "\n" not in refusal
        return None
    check_books(walk.summary)
    hours = walk.hours
    assert (hours["distance_so_far_km"].diff().dropna() >= -1e-9).all()
    assert hours["distance_km"].sum() == pytest.approx(
        walk.summary["route"]["distance_km"], abs=1e-6
    )
    assert not hours["distance_km"].isna().any()
    return walk.summary


def check_books(summary: dict[str, Any]) -> None:
    """Check what the design says that numbers must obey."""
    water, clock, food = summary["water"], summary["time"], summary["food"]
    left = water["carried_l"] + water["refilled_l"] - water["drunk_l"] - water["left_l"]
    assert left == pytest.approx(0.0, abs=1e-6)
    parts = clock["moving_h"] + clock["resting_h"] + clock["stopped_h"]
    assert parts == pytest.approx(clock["elapsed_h"], abs=1e-6)
    assert 0.0 <= food["eaten_kcal"] <= food["carried_kcal"] + 1e-6
    assert water["short_l"] >= 0.0
    assert summary["light"]["dark_h"] <= clock["elapsed_h"] + 1e-6
    assert summary["verdict"]["level"] in LEVELS
    assert summary["verdict"]["reasons"]
    for shown in (summary["route"]["distance_km"], clock["elapsed_h"], water["need_l"]):
        assert math.isfinite(shown)
        assert shown > 0.0


@pytest.mark.parametrize("seed", TOWNS)
def test_a_town_by_the_dice_keeps_its_books(seed: int, tmp_path: Path) -> None:
    plan = Plan.read(write_plan(tmp_path, seed))
    told = walked(plan)
    if told is None:
        return
    # More water never makes a shortage worse, unless who can fill a bottle stops to do so and is
    # caught by one night more: that is another walk.
    bag = (tmp_path / "bag.csv").read_text(encoding="utf-8")
    (tmp_path / "more.csv").write_text(
        bag + "canteen,water,basic,1,1100,1100,4,1000,,,,\n", encoding="utf-8"
    )
    more = walked(plan.with_changes(bag={"items": tmp_path / "more.csv"}))
    assert more is not None
    if len(more["halts"]) <= len(told["halts"]):
        assert more["water"]["short_l"] <= told["water"]["short_l"] + 0.02


BARE = {"load": False, "dark": False, "fatigue": False, "effort": False}


@pytest.mark.parametrize("seed", TOWNS)
def test_closing_a_bridge_never_makes_the_way_quicker(seed: int, tmp_path: Path) -> None:
    # Without load, dark, tiredness, effort and quiet the time on foot is what the search weighs.
    plan = Plan.read(write_plan(tmp_path, seed)).with_changes(
        pace=BARE,
        event={"kind": "none"},
        choices={"quiet": 0.0},
        bag={"items": None},  # no bottle, so no steps off the way to fill it
        map={"elevation": ()},  # no unknown heights, where nobody is taken to gain downhill
    )
    told = walked(plan)
    if told is None or not told["route"]["bridges"]:
        return
    shut = walked(plan.with_changes(event={"closed": (told["route"]["bridges"][0],)}))
    if shut is not None:
        assert shut["time"]["moving_h"] >= told["time"]["moving_h"] - 1e-6
