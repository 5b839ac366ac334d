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


def with_a_litre_more(plan: Plan, folder: Path) -> Plan:
    """Let another litre be carried, in a bottle of its own."""
    bag = (folder / "bag.csv").read_text(encoding="utf-8")
    more = folder / "more.csv"
    more.write_text(f"{bag}canteen,water,basic,1,1100,1100,4,1000,,,,\n", encoding="utf-8")
    return plan.with_changes(bag={"items": more})


@pytest.mark.parametrize("seed", TOWNS)
def test_a_town_by_the_dice_keeps_its_books(seed: int, tmp_path: Path) -> None:
    plan = Plan.read(write_plan(tmp_path, seed))
    told = walked(plan)
    if told is None:
        return
    # What is carried slows, and who can fill a bottle stops to do so: a walk so much longer that a
    # night more is halted is another walk. What is monotone whatever happens is asked below.
    more = walked(with_a_litre_more(plan, tmp_path))
    assert more is not None
    if len(more["halts"]) <= len(told["halts"]):
        assert more["water"]["short_l"] <= told["water"]["short_l"] + 0.02


WEIGHTLESS = {"load": False, "effort": False}
"""Nobody walks slower for what is carried."""


@pytest.mark.parametrize("seed", TOWNS)
def test_where_water_changes_no_time_more_of_it_is_more_at_every_hour(
    seed: int, tmp_path: Path
) -> None:
    # It slows nobody and is filled nowhere, so both walks are one in time, halts and all. Then
    # water left is never less, and what is lacking never more nor sooner, but for what is sweated
    # under the weight of it.
    plan = Plan.read(write_plan(tmp_path, seed)).with_changes(
        pace=WEIGHTLESS, choices={"refill_reach_m": 0.0}
    )
    try:
        told = walk_home(plan)
    except (InputError, NoWayHomeError):
        return
    more = walk_home(with_a_litre_more(plan, tmp_path))
    if told.summary["water"]["refilled_l"] or more.summary["water"]["refilled_l"]:
        return  # at a place on the very way
    assert more.summary["time"] == told.summary["time"]
    assert more.summary["halts"] == told.summary["halts"]
    sweated_ml = (more.hours["water_lost_ml"] - told.hours["water_lost_ml"]).cumsum() + 1e-6
    assert (sweated_ml > 0.0).all()
    assert (more.hours["water_left_ml"] >= told.hours["water_left_ml"] - sweated_ml).all()
    assert (more.hours["water_short_ml"] <= told.hours["water_short_ml"] + sweated_ml).all()
    one, other = told.summary["water"], more.summary["water"]
    assert other["short_l"] <= one["short_l"] + float(sweated_ml.iloc[-1]) / 1000.0
    assert (other["first_short_h"] or math.inf) >= (one["first_short_h"] or math.inf)


@pytest.mark.parametrize("seed", TOWNS)
def test_who_halts_nowhere_never_lacks_more_for_carrying_more(seed: int, tmp_path: Path) -> None:
    # Stops for water are chosen freely. Where weight and night halts cost no time, a stop costs
    # nothing but the water lost at it, which the choice knows.
    plan = Plan.read(write_plan(tmp_path, seed)).with_changes(
        pace=WEIGHTLESS, choices={"halt": False}
    )
    told = walked(plan)
    if told is None:
        return
    more = walked(with_a_litre_more(plan, tmp_path))
    assert more is not None
    assert more["halts"] == told["halts"] == []
    sweated_l = max(more["water"]["need_l"] - told["water"]["need_l"], 0.0)
    assert more["water"]["short_l"] <= told["water"]["short_l"] + sweated_l + 1e-9


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
