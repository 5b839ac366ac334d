"""The warmth of each hour against an outside implementation of ISO 11079."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from pythermalcomfort.models import ireq

from simulator import Plan, demo_folder, walk_home
from simulator.body.warmth import BODY_WIND_SHARE
from simulator.body.water import body_area_m2
from simulator.home.answer import Walk
from simulator.home.warmth import LACK_CLO
from tests.home.scenarios import NIGHT, NO_LAMP, UNLIT, Scenario, person, sky, write

KCAL_H_PER_W = 4184.0 / 3600.0  # thermochemical calorie
LEAST_AIR_SPEED_M_S = 0.4  # ISO 11079, as the library restates it
W_M2_PER_MET = 58.15  # definition of the met


@pytest.fixture(scope="module")
def plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})


@pytest.fixture(scope="module")
def walk(plan: Plan) -> Walk:
    return walk_home(plan.with_changes(weather={"rain_mm_h": 0.0}))


def theirs(walk: Walk, hour: int) -> float:
    """Give the library's minimal required insulation for the effort of one hour [clo]."""
    row, weather = walk.hours.iloc[hour], walk.plan.weather
    person = walk.plan.walker[0]
    minutes = row["moving_min"] + row["resting_min"] + row["stopped_min"]
    kcal = row["energy_used_kcal"]
    if minutes < 60.0 and hour > 0:  # the last hour: the sixty minutes that end with it
        kcal += (1.0 - minutes / 60.0) * walk.hours["energy_used_kcal"][hour - 1]
        minutes = 60.0
    watts = kcal * KCAL_H_PER_W * 60.0 / minutes
    rate_w_m2 = watts / float(body_area_m2(person.mass_kg, person.height_m))
    found = ireq(
        tdb=weather.air_c,
        tr=weather.air_c,
        vr=max(float(weather.wind_m_s or 0.0) * BODY_WIND_SHARE, LEAST_AIR_SPEED_M_S),
        rh=weather.humidity_pct,
        met=rate_w_m2 / W_M2_PER_MET,
        clo=person.clothing_clo,
        p=50,
        walk_sp=min(0.0052 * (rate_w_m2 - 58.0), 1.2),  # the standard's own, from the effort
        limit_inputs=False,
        round_output=False,
    )
    return float(found.icl_min)


def test_an_hour_on_foot_asks_what_the_standard_asks_for_its_effort(walk: Walk) -> None:
    assert (walk.hours["warmth_basis"] == "walking").all()
    for hour in range(len(walk.hours)):
        # The library searches in steps of 0.01 m2K/W (0.065 clo).
        assert walk.hours["warmth_need_clo"][hour] == pytest.approx(theirs(walk, hour), abs=0.065)


def test_clothes_need_and_lack_of_each_hour_balance(walk: Walk) -> None:
    hours = walk.hours
    lack = np.maximum(hours["warmth_need_clo"] - hours["warmth_have_clo"], 0.0)
    assert np.allclose(hours["warmth_short_clo"], lack)
    assert (hours["warmth_have_clo"] == walk.plan.walker[0].clothing_clo).all()


def test_food_packed_is_food_eaten_and_food_left(walk: Walk) -> None:
    eaten = np.cumsum(walk.hours["eaten_kcal"])
    packed = walk.summary["food"]["carried_kcal"]
    assert np.allclose(walk.hours["food_left_kcal"] + eaten, packed)


def test_colder_or_windier_hours_never_ask_less(last_hours: Plan) -> None:
    walk = walk_home(last_hours.with_changes(weather={"rain_mm_h": 0.0}))
    for change in ({"air_c": 0.0}, {"wind_m_s": 8.0}):
        worse = walk_home(last_hours.with_changes(weather={"rain_mm_h": 0.0, **change}))
        assert (worse.hours["warmth_need_clo"] > walk.hours["warmth_need_clo"]).all()


def test_mild_air_is_beyond_the_standard_and_marked_so(last_hours: Plan) -> None:
    # ISO 11079 ends at 10 degrees C.
    mild = walk_home(last_hours.with_changes(weather={"air_c": 12.0}))
    assert (mild.hours["warmth_basis"] == "walking, outside the standard").all()
    assert (mild.hours["warmth_need_clo"] >= 0.0).all()
    warm = walk_home(last_hours.with_changes(weather={"air_c": 26.0}))
    assert (warm.hours["warmth_basis"] == "not asked").all()
    assert not any(text.startswith("Clothes:") for text in warm.summary["cautions"])


def test_clothes_that_lack_on_foot_are_a_caution(walk: Walk) -> None:
    thin = walk.hours[walk.hours["warmth_short_clo"] >= LACK_CLO]
    (told,) = (text for text in walk.summary["cautions"] if text.startswith("Clothes:"))
    assert f"{thin['warmth_short_clo'].max():.1f} clo" in told
    assert f"hours {thin['hour'].min() + 1} and {thin['hour'].max() + 1}" in told


def test_soaking_rain_takes_warmth_unless_the_bag_keeps_it_off(
    last_hours: Plan, tmp_path: Path
) -> None:
    bare = (demo_folder() / "bag.csv").read_text(encoding="utf-8").splitlines()
    bag = tmp_path / "bag.csv"
    bag.write_text("\n".join(line for line in bare if ",shelter," not in line), encoding="utf-8")
    wet = {"rain_mm_h": 4.0}
    walk = walk_home(last_hours.with_changes(weather=wet, bag={"items": bag}))
    worn = walk.hours["warmth_have_clo"]
    assert (np.diff(worn) <= 0.0).all()
    assert worn.iloc[-1] < worn.iloc[0]
    covered = walk_home(last_hours.with_changes(weather=wet))
    assert (covered.hours["warmth_have_clo"] == 1.0).all()


def test_an_hour_of_a_halt_is_judged_by_the_halt(plan: Plan, tmp_path: Path) -> None:
    bare = (demo_folder() / "bag.csv").read_text(encoding="utf-8").splitlines()
    bag = tmp_path / "bag.csv"
    lamps = ("head torch", "glow stick")
    bag.write_text("\n".join(line for line in bare if not line.startswith(lamps)), "utf-8")
    late = datetime(2026, 11, 18, 20, 0)  # noqa: DTZ001 - local by contract
    hours = walk_home(plan.with_changes(trip={"depart": late}, bag={"items": bag})).hours
    waiting = hours[hours["stopped_min"] > 59.0]
    assert (waiting["warmth_basis"] == "halt").all()
    # At rest the body makes less than half of the heat, so far more clothes are asked for.
    on_foot = hours[hours["warmth_basis"] == "walking"]
    assert waiting["warmth_need_clo"].min() > 1.5 * on_foot["warmth_need_clo"].max()
    assert (waiting["warmth_have_clo"] > on_foot["warmth_have_clo"].max()).all()


NIGHT_OUT = Scenario(
    "unlit road by night, no lamp, windy",
    "stay and wait",
    "",
    (person(75, 40, clothing_clo=1.2),),
    sky(4, wind_m_s=8, humidity_pct=60),
    tags=UNLIT,
    bag=NO_LAMP,
    depart=NIGHT,
    length_km=6,
)
SHELL = "wind jacket,warmth,basic,1,250,500,40,,,,,,,0.1,,"


def halt_lack(tmp_path: Path, bag: str, *, windproof: object) -> float:
    """Give what a night halt in the open lacks [clo], as the summary and as the crowd tell it."""
    scenario = replace(NIGHT_OUT, bag=bag)
    plan = Plan.read(write(scenario, tmp_path / f"{windproof}{len(bag)}"))
    told = walk_home(plan.with_changes(walker={"windproof": windproof})).summary
    short = float(told["cold_heat"]["halt_short_clo"])
    (listed,) = (one for one in told["shortages"] if "halt" in one["what"])
    assert listed["missing"] == pytest.approx(short, abs=0.02)  # of members and of the party
    return short


@pytest.mark.parametrize(("windproof", "permeability"), [(False, 50), (True, 8)])
def test_a_halt_counts_whether_the_clothes_keep_the_wind_out(
    tmp_path: Path, windproof: bool, permeability: float
) -> None:
    person, weather = NIGHT_OUT.who[0], NIGHT_OUT.weather
    asked = ireq(
        tdb=weather["air_c"],
        tr=weather["air_c"],
        vr=weather["wind_m_s"] * BODY_WIND_SHARE,
        rh=weather["humidity_pct"],
        met=1.0,
        clo=person["clothing_clo"],
        p=permeability,
        walk_sp=0.0,
        limit_inputs=False,
        round_output=False,
    )
    lack = float(asked.icl_min) - float(str(person["clothing_clo"]))
    # The library searches in steps of 0.01 m2K/W (0.065 clo).
    assert halt_lack(tmp_path, NO_LAMP, windproof=windproof) == pytest.approx(lack, abs=0.1)


def test_a_windproof_shell_in_the_bag_counts_at_a_halt_as_on_foot(tmp_path: Path) -> None:
    packed, worn = (
        halt_lack(tmp_path, NO_LAMP + SHELL + "\n", windproof=None),
        halt_lack(tmp_path, NO_LAMP, windproof=True),
    )
    assert packed == pytest.approx(worn - 0.1, abs=0.02)  # and its own tenth of a clo
