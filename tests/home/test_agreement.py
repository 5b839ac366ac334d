"""One account: the same person with nothing drawn gets the same walk from every question.

The plan, the drawn walks with every spread at zero, the what-if of the page, the departure hour of
a year and the table of people must agree in every column of the ledger and in every shortage.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pytest

from simulator import Plan, Walk, demo_folder, walk_home
from simulator.home.crowd import walk_crowd
from simulator.home.crowd_records import LEDGER, Arrivals, Crowd
from simulator.home.scene import Scene, prepare
from simulator.home.verdict import LEVELS, account_of
from simulator.home.walk import walk_way
from simulator.home.way import find_way
from simulator.questions.draws import THINGS, unit_draws
from simulator.questions.many import many
from simulator.questions.odds import Trial, levels_of
from simulator.questions.people import read_people
from simulator.walk.account import NAMES
from tests.questions.test_many import Memory
from tests.questions.test_odds import STILL

EXACT: dict[str, Any] = {"rel": 1e-9, "abs": 1e-6}


class Asked(NamedTuple):
    """A plan and all that is asked of it."""

    plan: Plan
    walk: Walk
    scene: Scene
    arrivals: dict[str, Arrivals]


def hours_of(walk: Walk) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Give the plan's ledger in the columns of the others, (H, len(LEDGER))."""
    table = walk.hours.assign(distance_m=1000.0 * walk.hours["distance_so_far_km"])
    return table[list(LEDGER)].to_numpy(np.float64)


def ask_all(plan: Plan, walk: Walk) -> Asked:
    """Beside the plan's walk ask the drawn walks, and the hour of a year."""
    trial = Trial.prepare(plan.with_changes(odds=STILL), block=5_000, progress=lambda _stage: None)
    names = [*THINGS, *(f"closed: {closing.name}" for closing in trial.closings)]
    drawn = trial.run(
        unit_draws(1, names, 3), seed=1, luck_of=np.arange(3), progress=lambda _stage: None
    )
    scene = prepare(plan)
    walked = walk_way(scene, find_way(scene))
    crowd = Crowd(scene.walkers, scene.walkers.count, np.array([scene.depart_epoch_s]))
    year = walk_crowd(scene, walked, crowd, conditions=scene.conditions, follow_plan=False)
    return Asked(plan, walk, scene, {"odds": drawn.arrivals, "year": year})


def check(asked: Asked) -> None:
    """Hold every answer against the plan's."""
    walk = asked.walk
    own = hours_of(walk)
    told = walk.summary["shortages"]
    for name, arrivals in asked.arrivals.items():
        assert arrivals.elapsed_s[0] / 3600.0 == pytest.approx(
            walk.summary["time"]["elapsed_h"], **EXACT
        ), name
        hours = arrivals.hourly[:, :, 0]
        hours = hours[np.isfinite(hours[:, 0])]
        assert hours.shape == own.shape, name
        for column, title in enumerate(LEDGER):
            assert hours[:, column] == pytest.approx(own[:, column], **EXACT), (name, title)
        listed = account_of(arrivals).told(
            0, depart_epoch_s=asked.scene.depart_epoch_s, zone=asked.scene.zone
        )
        assert [one.what for one in listed] == [one["what"] for one in told], name
        for mine, theirs in zip(listed, told, strict=True):
            for key, value in mine._asdict().items():
                assert value == (
                    pytest.approx(theirs[key], **EXACT) if isinstance(value, float) else theirs[key]
                ), (name, mine.what, key)
        level = levels_of(asked.scene, arrivals)
        assert LEVELS[level[0]] == walk.summary["verdict"]["level"], name
    if walk.what_if is not None:
        answers = walk.what_if.turned[0].answers
        assert answers is not None
        row = walk.what_if.settings.planned
        assert answers.arrive_s[row] / 3600.0 == pytest.approx(
            walk.summary["time"]["elapsed_h"], **EXACT
        )
        ledger = answers.ledger[row][np.isfinite(answers.ledger[row][:, 0])]
        columns = ["distance_m", "water_left_ml", "water_short_ml", "energy_short_kcal"]
        for column, title in enumerate([*columns, "light_short_h"]):
            assert ledger[:, column] == pytest.approx(own[:, LEDGER.index(title)], **EXACT), title
        assert answers.level[row] == walk.summary["verdict"]["level"]
        listed = answers.account.told(
            row, depart_epoch_s=asked.scene.depart_epoch_s, zone=asked.scene.zone
        )
        assert [one.what for one in listed] == [one["what"] for one in told]


def people_of(plan: Plan, folder: Path) -> pd.DataFrame:
    """Ask the table of people for the plan's own walker."""
    (lat, lon), (far_lat, far_lon) = plan.trip.start, plan.trip.home
    path = folder / "people.csv"
    path.write_text(
        f"id,start_lat,start_lon,home_lat,home_lon\nown,{lat},{lon},{far_lat},{far_lon}\n",
        encoding="utf-8",
    )
    kept = Memory()
    many(plan, read_people(path, plan).people, kept)
    return kept.rows()


@pytest.fixture(scope="module")
def demo(whole_walk: Walk) -> Asked:
    return ask_all(Plan.read(demo_folder() / "plan.toml"), whole_walk)


def test_the_demo_is_one_walk_whoever_asks(demo: Asked) -> None:
    check(demo)


def test_the_table_of_people_gives_the_plan_s_own_walk(demo: Asked, tmp_path: Path) -> None:
    row = people_of(demo.plan, tmp_path).iloc[0]
    told = demo.walk.summary
    assert row["elapsed_h"] == pytest.approx(told["time"]["elapsed_h"], **EXACT)
    assert row["water_short_l"] == pytest.approx(told["water"]["short_l"], **EXACT)
    assert row["energy_short_kcal"] == pytest.approx(told["food"]["short_kcal"], **EXACT)
    assert row["light_short_h"] == pytest.approx(told["light"]["short_h"], **EXACT)
    assert row["verdict"] == told["verdict"]["level"]
    first = told["shortages"][0]
    assert row["short_of"] == first["what"]
    assert row["short_from_h"] == pytest.approx(first["from_h"], **EXACT)
    assert set(NAMES) >= {row["short_of"]}


REAL = """\
title = "On a real map"
[trip]
start = {start}
home = {home}
depart = {depart}
[map]
extract = "{extract}"
elevation = ["{heights}"]
{walkers}
[bag]
items = "bag.csv"
capacity_l = 20
[weather]
air_c = {air_c}
humidity_pct = 50
wind_m_s = 2
cloud_pct = 20
rain_mm_h = 0
[choices]
what_if = {what_if}
longest_day_h = {day_h}
"""

ALONE = """[walker]
mass_kg = 75
height_m = 1.75
age_y = 40
sex = "male"
"""

TWO = """[[walker]]
mass_kg = 75
height_m = 1.75
age_y = 40
sex = "male"
[[walker]]
mass_kg = 60
height_m = 1.65
age_y = 35
sex = "female"
pace_factor = 0.9
"""

VALLEY = {"start": [47.0668, 9.5037], "home": [47.2380, 9.5270]}  # Balzers to Ruggell
HILL = {"start": [47.1410, 9.5209], "home": [47.1030, 9.6100]}  # Vaduz to Malbun
DAY = {"depart": "2026-07-04T13:30:00", "air_c": 24, "day_h": 14, "what_if": "true"}
NIGHT = {"depart": "2026-10-04T19:30:00", "air_c": 8, "day_h": 4, "what_if": "false"}


@pytest.mark.slow
@pytest.mark.parametrize(
    "case",
    [
        pytest.param(VALLEY | DAY | {"walkers": ALONE}, id="valley with stops for water"),
        pytest.param(HILL | DAY | {"walkers": ALONE}, id="hill"),
        pytest.param(VALLEY | NIGHT | {"walkers": ALONE}, id="night halts"),
        pytest.param(VALLEY | DAY | {"walkers": TWO}, id="party"),
    ],
)
def test_a_real_walk_is_one_walk_whoever_asks(
    case: dict[str, Any], liechtenstein: Path, tmp_path: Path
) -> None:
    own = (demo_folder() / "bag.csv").read_text(encoding="utf-8")
    (tmp_path / "bag.csv").write_text(own, encoding="utf-8")
    (tmp_path / "plan.toml").write_text(
        REAL.format(
            extract=liechtenstein, heights=liechtenstein.parent / "dem_clip_3s.tif", **case
        ),
        encoding="utf-8",
    )
    plan = Plan.read(tmp_path / "plan.toml")
    asked = ask_all(plan, walk_home(plan))
    assert bool(asked.walk.summary["halts"]) == (case["day_h"] == NIGHT["day_h"])
    check(asked)
