"""Clothes on foot: what lacks with all that the bag holds put on, for one walk and for many."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pythermalcomfort.models import ireq

from simulator import Plan, demo_folder, walk_home
from simulator.body.warmth import BODY_WIND_SHARE
from simulator.home.crowd import walk_crowd
from simulator.home.crowd_records import Crowd
from simulator.home.scene import prepare
from simulator.home.walk import walk_way
from simulator.home.warmth import afoot, on_foot, worst_of
from simulator.home.way import find_way
from simulator.walk.records import some_of
from tests.walk.conftest import DEPART_EPOCH_S, make_conditions

W_M2_PER_MET = 58.15  # definition of the met
RATE_W_M2 = 165.0  # class 2 of ISO 8996, moderate; from memory


def lack(
    air_c: float, wind_m_s: float, worn_clo: float, carried_clo: float = 0.0, rain_mm_h: float = 0.0
) -> float:
    found = on_foot(
        make_conditions(air_c=air_c, wind_m_s=wind_m_s, rain_mm_h=rain_mm_h, humidity_pct=60.0),
        np.array([DEPART_EPOCH_S]),
        np.array([3.5 * 3600.0]),
        np.array([RATE_W_M2]),
        np.array([worn_clo]),
        carried_clo,
        kept_dry=False,
    )
    return float(worst_of(found.lack_clo)[0])


@pytest.mark.parametrize(("air_c", "wind_m_s"), [(5.0, 3.0), (0.0, 5.0), (-10.0, 8.0)])
def test_what_lacks_is_what_the_standard_asks_beyond_worn_and_carried(
    air_c: float, wind_m_s: float
) -> None:
    theirs = ireq(
        tdb=air_c,
        tr=air_c,
        vr=wind_m_s * BODY_WIND_SHARE,
        rh=60.0,
        met=RATE_W_M2 / W_M2_PER_MET,
        clo=0.5,
        p=50,
        walk_sp=min(0.0052 * (RATE_W_M2 - 58.0), 1.2),  # the standard's own, from the effort
        limit_inputs=False,
        round_output=False,
    )
    # The library searches in steps of 0.01 m2K/W (0.065 clo).
    assert lack(air_c, wind_m_s, 0.5) == pytest.approx(theirs.icl_min - 0.5, abs=0.065)
    assert lack(air_c, wind_m_s, 0.5, 0.2) == pytest.approx(lack(air_c, wind_m_s, 0.5) - 0.2)


def test_rain_takes_warmth_and_warm_air_asks_nothing() -> None:
    assert lack(4.0, 10.0, 0.6, rain_mm_h=8.0) > lack(4.0, 10.0, 0.6) + 0.2
    # ISO 11079 ends at 10 degC; the balance, and the danger of wind and wet, do not.
    assert lack(10.0, 10.0, 0.1) - lack(10.1, 10.0, 0.1) == pytest.approx(0.0, abs=0.02)
    assert lack(14.0, 10.0, 0.1) > 0.3
    assert lack(26.0, 10.0, 0.1) == 0.0
    assert lack(-5.0, 2.0, 4.0) == 0.0


def need(rate_w_m2: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[float]:
    found = on_foot(
        make_conditions(air_c=0.0, wind_m_s=3.0),
        np.array([DEPART_EPOCH_S]),
        np.array([2.0 * 3600.0 + 1200.0]),
        rate_w_m2,
        np.array([1.0]),
        0.0,
        kept_dry=True,
    )
    hours: list[float] = found.need_clo[:, 0].tolist()
    return hours


def test_a_rest_shortly_before_home_counts_within_its_sixty_minutes() -> None:
    # Twenty minutes at 100 W/m2 after forty at 165 are sixty at 143.3.
    *whole, last = need(np.array([[165.0], [165.0], [100.0]]))
    assert whole == need(np.array([165.0]))[:2]
    assert last == pytest.approx(need(np.array([430.0 / 3.0]))[2])


@pytest.fixture(scope="module")
def plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml").with_changes(choices={"what_if": False})


def test_a_walk_too_thinly_clad_is_no_walk(last_hours: Plan) -> None:
    bitter = walk_home(last_hours.with_changes(weather={"air_c": -15.0, "wind_m_s": 10.0}))
    assert bitter.summary["verdict"]["level"] == "stay and wait"
    assert "too thin for walking" in bitter.summary["verdict"]["reasons"][0]
    mild = walk_home(last_hours.with_changes(weather={"air_c": 9.0, "wind_m_s": 1.0}))
    assert not any("too thin" in text for text in mild.summary["verdict"]["reasons"])


def test_one_walk_and_the_same_walk_in_a_crowd_lack_the_same(plan: Plan) -> None:
    scene = prepare(plan.with_changes(weather={"air_c": -8.0, "wind_m_s": 6.0}))
    walked = walk_way(scene, find_way(scene))
    single = worst_of(afoot(scene, walked).lack_clo).max()
    rows = np.zeros(3, dtype=np.intp)
    crowd = Crowd(
        replace(some_of(scene.walkers, rows), party=np.arange(3)),
        1,
        np.full(3, scene.depart_epoch_s),
    )
    arrivals = walk_crowd(scene, walked, crowd, conditions=scene.conditions, follow_plan=True)
    assert single > 0.5
    assert arrivals.foot_short_clo == pytest.approx(np.full(3, single), rel=1e-12)
