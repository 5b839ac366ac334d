"""Who walks: timed walks, ages beyond the published models, groups at their slowest."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from simulator import InputError, Plan, demo_folder, walk_home
from simulator.bag.items import carried
from simulator.body import energy, pace
from simulator.home.crowd_records import LEDGER, MAPPED, Arrivals, When
from simulator.home.scene import (
    age_cautions,
    age_notes,
    beyond_age,
    prepare,
    timed_pace_factor,
    walkers_of,
)
from simulator.home.verdict import calm_strain
from simulator.home.walk import tabulate, walk_way
from simulator.home.way import find_way
from simulator.questions.odds import levels_of
from simulator.report.paper.sheet import sheet_of
from simulator.report.text import walk_text
from simulator.walk.account import What
from tests.conftest import PLAN, TownWriter


@pytest.fixture(scope="module")
def demo_plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})


def test_a_timed_walk_on_level_ground_is_the_models_time_over_ones_own() -> None:
    # Tobler 1993 on the level: 5.0367 km/h, so 5 km take 59.56 min (arithmetic).
    assert timed_pace_factor((5.0, 59.563, 0.0, 0.0), model="tobler_1993") == pytest.approx(
        1.0, rel=1e-4
    )
    assert timed_pace_factor((5.0, 119.126, 0.0, 0.0), model="tobler_1993") == pytest.approx(
        0.5, rel=1e-4
    )


@pytest.mark.parametrize("model", sorted(pace.PACE_MODELS))
def test_a_timed_walk_up_and_down_is_undone_by_the_model_itself(model: str) -> None:
    # Half of 6 km up a tenth and half down again, walked just as the model says.
    up_s, down_s = (3000.0 / float(pace.PACE_MODELS[model](slope)) for slope in (0.1, -0.1))
    minutes = (up_s + down_s) / 60.0
    assert timed_pace_factor((6.0, minutes, 300.0, 300.0), model=model) == pytest.approx(1.0)
    assert timed_pace_factor((3.0, up_s / 60.0, 300.0, 0.0), model=model) == pytest.approx(1.0)


def test_the_plan_walks_at_the_timed_pace(write_town: TownWriter) -> None:
    # 5 km in twice Tobler's time: everything that moves takes twice as long.
    path = write_town(PLAN.replace('sex = "male"', 'sex = "male"\ntimed_walk = [5, 119.126, 0, 0]'))
    plan = Plan.read(path).with_changes(
        pace={"fatigue": False, "model": "tobler_1993", "effort": False}, choices={"what_if": False}
    )
    slow = walk_home(plan).summary["time"]["moving_h"]
    usual = walk_home(plan.with_changes(walker={"timed_walk": None})).summary["time"]["moving_h"]
    assert slow == pytest.approx(2.0 * usual, rel=1e-3)


@pytest.mark.parametrize(
    "written",
    ["[5, 60]", '"5 km"', "[5, 60, -3, 0]", "[0.2, 3, 0, 0]", "[5, 5, 0, 0]", "[1, 30, 300, 300]"],
)
def test_a_timed_walk_that_tells_nothing_is_refused_at_the_door(
    write_town: TownWriter, written: str
) -> None:
    path = write_town(PLAN.replace('sex = "male"', f'sex = "male"\ntimed_walk = {written}'))
    with pytest.raises(InputError, match=r"timed_walk.*found"):
        Plan.read(path)


def test_a_child_in_the_group_is_walked_with_and_said_loudly(last_hours: Plan) -> None:
    adult = last_hours.walker[0]
    child = adult.model_copy(update={"age_y": 8.0, "mass_kg": 28.0, "height_m": 1.3})
    walk = walk_home(last_hours.with_changes(walker=(adult, child)))
    told = walk.summary
    assert any(text.startswith("AGE: walker 2 is 8; ") for text in told["assumptions"])
    assert told["cautions"][0].startswith("AGE: walker 2 is 8. Children tire")
    assert told["verdict"]["level"] != "walk"
    assert any("walker 2 is 8 years old" in text for text in told["verdict"]["reasons"])
    on_screen = " ".join(walk_text(sheet_of(walk)).split())
    assert "AGE: walker 2 is 8. Children tire" in on_screen
    assert np.isfinite(told["water"]["need_l"])


def test_the_very_old_call_for_care_and_the_old_for_caution(demo_plan: Plan) -> None:
    # Myers et al. 2017: 20 to 79 years (from memory).
    for age, beyond, cautioned in ((64, 0, 0), (65, 0, 1), (78, 0, 1), (84, 1, 1), (17, 0, 0)):
        plan = demo_plan.with_changes(walker={"age_y": float(age)})
        assert len(beyond_age(plan)) == beyond
        assert len(age_cautions(plan)) == cautioned
        assert len(age_notes(plan)) == beyond
    (caution,) = age_cautions(demo_plan.with_changes(walker={"age_y": 84.0}))
    assert caution.startswith("AGE: the walker is 84. From about 65 on thirst")


def test_an_unknown_in_the_bag_calls_for_care_on_every_walk(write_town: TownWriter) -> None:
    scene = prepare(Plan.read(write_town()).with_changes(choices={"what_if": False}))
    assert levels_of(scene, walked_lightly()).tolist() == [0]
    unsure = replace(scene, carried=replace(scene.carried, unknown=("water_ml of 'flask'",)))
    assert levels_of(unsure, walked_lightly()).tolist() == [1]


def walked_lightly() -> Arrivals:
    """Give one walk on which nothing calls for care."""
    columns = dict.fromkeys(Arrivals.__slots__, np.zeros(1))
    return replace(
        Arrivals(**columns),  # type: ignore[arg-type]  # columns not judged
        coldest_c=np.full(1, 15.0),
        strain=calm_strain(),
        mapped=np.zeros((len(MAPPED), 1)),
        when_s=np.full((len(When), 1), np.nan),
        hourly=np.zeros((1, len(LEDGER), 1)),
        short_from_s=np.full((len(What), 1), np.inf),
        missing=np.zeros((len(What), 1)),
        halt_in_the_open=np.zeros(1, dtype=bool),
        limits_left=np.zeros(1, dtype=bool),
    )


@pytest.mark.parametrize("age", [4.0, 18.0, 40.0, 95.0])
def test_people_of_any_age_have_a_pace(demo_plan: Plan, age: float) -> None:
    plan = demo_plan.with_changes(walker={"age_y": age})
    walkers = walkers_of(plan, carried(None))
    assert walkers.age_y.tolist() == [age]
    assert 0.4 < float(walkers.pace_factor[0]) <= 1.0
    # Who has timed a walk has shown what age does.
    timed = demo_plan.with_changes(walker={"age_y": age, "timed_walk": (5.0, 60.0, 0.0, 0.0)})
    own = walkers_of(timed, carried(None)).pace_factor
    assert (
        own.tolist()
        == walkers_of(
            demo_plan.with_changes(walker={"age_y": 40.0, "timed_walk": (5.0, 60.0, 0.0, 0.0)}),
            carried(None),
        ).pace_factor.tolist()
    )


def test_the_border_age_is_near_what_is_published_for_children() -> None:
    # Schofield 1985 (Hum Nutr Clin Nutr 39C Suppl 1:5-41; FAO/WHO/UNU 2001), from memory, boys:
    # 3 to 10 years 22.706 W + 504.3 kcal/day, 10 to 18 years 17.686 W + 658.2 kcal/day. The
    # equation's own standard error is about 7 to 10 %, and the two sources differ for adults too.
    for mass_kg, height_m, kcal_day in ((25.0, 1.28, 22.706 * 25 + 504.3), (45, 1.55, 1454.07)):
        at_border = float(energy.resting_w(mass_kg, height_m, 19.0, "male"))
        assert at_border == pytest.approx(kcal_day * 4184.0 / 86_400.0, rel=0.15)


def test_a_group_walks_at_its_slowest(last_hours: Plan) -> None:
    fast = last_hours.walker[0]
    slow = fast.model_copy(update={"pace_factor": 0.7})
    # A halt would change how much of the way is walked by day, and so faster.
    plan = last_hours.with_changes(choices={"halt": False})
    alone = walk_home(plan.with_changes(walker=(slow,))).summary["time"]
    both = walk_home(plan.with_changes(walker=(slow, fast))).summary["time"]
    # The bag is shared out, so each carries less and the slow one is a little faster.
    assert both["moving_h"] == pytest.approx(alone["moving_h"], rel=0.02)
    order = walk_home(plan.with_changes(walker=(fast, slow))).summary["time"]
    assert order["moving_h"] == pytest.approx(both["moving_h"], rel=1e-9)


def test_the_sweat_estimate_of_the_plan_changes_the_need_and_nothing_else(last_hours: Plan) -> None:
    told = {
        estimate: walk_home(last_hours.with_changes(choices={"sweat": estimate})).summary
        for estimate in ("low", "middle", "high")
    }
    need = [told[estimate]["water"]["need_l"] for estimate in ("low", "middle", "high")]
    assert need[0] < need[1] < need[2]
    assert told["low"]["route"] == told["high"]["route"]


def test_walkers_are_shared_the_bag_by_mass(demo_plan: Plan) -> None:
    load = replace(carried(None), mass_kg=6.0, water_ml=1000.0, water_capacity_ml=1500.0)
    heavy = demo_plan.walker[0]
    light = heavy.model_copy(update={"mass_kg": heavy.mass_kg / 3.0})
    walkers = walkers_of(demo_plan.with_changes(walker=(heavy, light)), load)
    assert walkers.bag_kg.tolist() == pytest.approx([4.5, 1.5])
    assert walkers.water_ml.sum() == pytest.approx(1000.0)


def test_an_empty_cell_is_told_in_words_and_not_by_its_column(write_town: TownWriter) -> None:
    scene = prepare(Plan.read(write_town()).with_changes(choices={"what_if": False}))
    unknown = ("warmth_clo of 'foil'", "water_ml of 'flask'", "mass_g of 'pen'")
    unsure = replace(scene, carried=replace(scene.carried, unknown=unknown))
    walk = tabulate(unsure, walk_way(unsure, find_way(unsure)))
    told = " ".join(walk.facts.verdict.reasons)
    assert "water of flask" in told
    assert "_ml" not in told


def test_what_lasts_for_one_does_not_last_for_two(last_hours: Plan, tmp_path: Path) -> None:
    one = last_hours.walker[0]

    def told(walkers: int, water_ml: float) -> tuple[float, bool]:
        bag = tmp_path / "bag.csv"
        head = "item,purpose,kind,tier,quantity,mass_g,water_ml\n"
        row = f"bottle,water,bottle,basic,1,{water_ml + 40.0:.0f},{water_ml:.0f}\n"
        bag.write_text(head + row, encoding="utf-8")
        plan = last_hours.with_changes(
            walker=(one,) * walkers,
            bag={"items": bag},
            event={"kind": "none"},
            trip={"depart": last_hours.trip.depart.replace(hour=11)},  # while shops are open
        )
        walk = walk_home(plan)
        lasting = walk.refills["why"].str.startswith("passed: what is carried lasts")
        return walk.summary["water"]["need_l"], bool(lasting.any())

    need_l, _ = told(1, 1000.0)
    # One and a half times what one needs: enough for one, and not for two.
    enough_ml = 1500.0 * need_l
    assert told(1, enough_ml)[1]
    assert not told(2, enough_ml)[1]
