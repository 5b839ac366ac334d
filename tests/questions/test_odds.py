"""Drawn walks: against closed forms, against the plan's own walk, against outside libraries."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, time
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from SALib.test_functions import Ishigami
from scipy.special import ndtri

from simulator import Plan, demo_folder
from simulator.home.crowd_records import LEDGER, Arrivals
from simulator.questions.draws import THINGS, unit_draws
from simulator.questions.odds import (
    Ranking,
    Trial,
    amount_of,
    chance_of,
    ledger_bands,
    odds,
    profile_bands,
    rank,
)
from simulator.report.odds import write_odds
from simulator.walk.records import PASSING, Total
from tests.conftest import TownWriter
from tests.walk.conftest import make_course

STILL: dict[str, Any] = {
    "depart_sd_min": 0.0,
    "pace_sd": 0.0,
    "mass_sd_kg": 0.0,
    "tiring_sd": 0.0,
    "injury_chance": 0.0,
    "rest_sd": 0.0,
    "drink_least": 1.0,
    "sweat_sd": 0.0,
    "air_sd_c": 0.0,
    "humidity_sd_pct": 0.0,
    "wind_sd": 0.0,
    "sun_sd": 0.0,
    "rain_sd": 0.0,
    "places": False,
}


def silent(_stage: str) -> None:
    """Say nothing."""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml")


@pytest.fixture(scope="module")
def trial(plan: Plan) -> Trial:
    return Trial.prepare(plan, block=5_000, progress=silent)


@pytest.fixture
def town(write_town: TownWriter) -> Plan:
    """Give a walk of two kilometres over one bridge."""
    return Plan.read(write_town())


def with_odds(trial: Trial, **odds: Any) -> Trial:  # noqa: ANN401 - values of a plan
    settings = trial.scene.plan.with_changes(odds={**STILL, **odds}).odds
    return replace(trial, settings=settings)


def draw(trial: Trial, walks: int, seed: int = 1) -> Any:  # noqa: ANN401 - an Outcome
    names = [*THINGS, *(f"closed: {closing.name}" for closing in trial.closings)]
    unit = unit_draws(seed, names, walks)
    return trial.run(unit, seed=seed, luck_of=np.arange(walks), progress=silent)


def test_with_no_spread_every_walk_is_the_plan_s_own_to_the_bit(trial: Trial) -> None:
    walks = draw(with_odds(trial), 5).arrivals
    own = trial.ways[0].outcome
    assert (walks.elapsed_s == own.totals[Total.CLOCK_S, 0]).all()
    assert (walks.short_ml == own.worst_short_ml.sum()).all()
    owed_kcal = (own.totals[Total.ENERGY_KCAL] - own.totals[Total.EATEN_KCAL]).sum()
    from_body = walks.hourly[:, LEDGER.index("from_body_kcal")]
    assert np.nanmax(from_body, axis=0) + walks.energy_short_kcal == pytest.approx(owed_kcal)


def test_a_log_normal_pace_gives_the_log_normal_times_of_the_closed_form(town: Plan) -> None:
    # With load, dark, tiredness and rests switched off the time home is waiting at crossings,
    # which nobody's pace changes, and walking time over a pace factor exp(sd z): its quantile at q
    # is walking time times exp(sd ndtri(q)).
    trial = Trial.prepare(town, block=5_000, progress=silent)
    manner = replace(trial.scene.manner, load=False, dark=False, fatigue=False, rest_min_per_h=0.0)
    bare = replace(with_odds(trial, pace_sd=0.15), scene=replace(trial.scene, manner=manner))
    still = replace(with_odds(trial), scene=bare.scene)
    mean_pace_s = float(draw(still, 1).arrivals.elapsed_s[0])
    waiting_s = float(trial.ways[0].way.course.delay_s.sum())
    walking_s = mean_pace_s - waiting_s
    n = 4_000
    elapsed = draw(bare, n).arrivals.elapsed_s
    for share in (0.05, 0.5, 0.95):
        expected = waiting_s + walking_s * np.exp(0.15 * ndtri(share))
        # Standard error of a quantile: sqrt(q (1 - q) / n) over the density there.
        density = np.exp(-0.5 * ndtri(share) ** 2) / np.sqrt(2.0 * np.pi)
        density /= 0.15 * (expected - waiting_s)
        error = np.sqrt(share * (1.0 - share) / n) / density
        assert np.quantile(elapsed, share) == pytest.approx(expected, abs=4.0 * error)


def test_blocks_change_no_number_and_more_walks_keep_the_first_ones(town: Plan) -> None:
    trial = Trial.prepare(town, block=5_000, progress=silent)
    some = draw(trial, 40).arrivals
    cut = draw(replace(trial, block=7), 40).arrivals
    more = draw(trial, 60).arrivals
    for name in type(some).__slots__:
        one, other = getattr(some, name), getattr(cut, name)
        assert np.array_equal(one, other, equal_nan=one.dtype != bool), name
    assert np.array_equal(some.elapsed_s, more.elapsed_s[:40])


def test_two_plans_share_their_luck(trial: Trial) -> None:
    # Common random numbers: a bag with more water changes the water, and no walker's pace.
    walkers = trial.scene.walkers
    richer = replace(
        trial, scene=replace(trial.scene, walkers=replace(walkers, water_ml=walkers.water_ml + 400))
    )
    drawn = [draw(replace(each, settings=trial.scene.plan.odds), 30) for each in (trial, richer)]
    paces = [each.drawn.crowd.walkers.pace_factor for each in drawn]
    assert np.array_equal(paces[0], paces[1])
    gain = drawn[0].arrivals.short_ml - drawn[1].arrivals.short_ml
    apart = drawn[0].arrivals.short_ml.std() + drawn[1].arrivals.short_ml.std()
    assert gain.mean() > 0.0
    assert gain.std() < apart


def test_standard_errors_fall_as_one_over_the_root_of_the_walks() -> None:
    rng = np.random.default_rng(7)
    happened = rng.random(40_000) < 0.3
    few, many = chance_of(happened[:10_000]), chance_of(happened)
    assert few["standard_error"] / many["standard_error"] == pytest.approx(2.0, rel=0.02)
    values = rng.normal(10.0, 2.0, 40_000)
    assert amount_of(values)["standard_error"] == pytest.approx(2.0 / 200.0, rel=0.02)
    middles = [amount_of(rng.normal(size=400))["quantiles"]["0.5"] for _ in range(300)]
    told = np.mean([row["standard_error"] for row in middles])
    # Median of a normal sample: sqrt(pi / 2) / sqrt(n), Kenney and Keeping 1962.
    assert told == pytest.approx(np.sqrt(np.pi / 2.0) / 20.0, rel=0.1)
    assert np.std([row["value"] for row in middles]) == pytest.approx(told, rel=0.15)


def test_an_interval_is_honest_where_nothing_happened() -> None:
    # Wilson 1927 at p = 0: upper end z^2 / (n + z^2), z = 1.959964.
    told = chance_of(np.zeros(100, dtype=bool))
    assert told["low"] == 0.0
    assert told["high"] == pytest.approx(1.959964**2 / (100.0 + 1.959964**2), rel=1e-6)


def test_the_indices_of_salib_s_own_test_function() -> None:
    # Ishigami and Homma 1990 with a = 7, b = 0.1; analytic indices, e.g. Saltelli et al. 2008:
    # first order 0.3139, 0.4424, 0; total 0.5576, 0.4424, 0.2437.
    def outcomes(unit: np.ndarray[Any, Any]) -> dict[str, Any]:
        return {"ishigami": Ishigami.evaluate(np.pi * (2.0 * unit - 1.0))}

    (ranking,) = rank(outcomes, ["one", "two", "three"], base=4096, seed=3)
    first = dict(zip(ranking.names, ranking.first, strict=True))
    total = dict(zip(ranking.names, ranking.total, strict=True))
    assert ranking.names == ("one", "two", "three")
    for name, alone, whole in (
        ("one", 0.3139, 0.5576),
        ("two", 0.4424, 0.4424),
        ("three", 0.0, 0.2437),
    ):
        assert first[name] == pytest.approx(alone, abs=0.02)
        assert total[name] == pytest.approx(whole, abs=0.02)
    assert "decided by one (56 %), two (44 %), three (24 %)" in ranking.words()


def test_what_hardly_varies_is_not_ranked() -> None:
    (ranking,) = rank(lambda unit: {"dull": np.ones(len(unit))}, ["a", "b"], base=8, seed=1)
    assert "hardly varies" in ranking.words()


def test_the_chance_of_arriving_in_the_dark_is_astral_s_count(town: Plan) -> None:
    from astral import Observer
    from astral.sun import elevation

    # On 4 May civil twilight ends at about ten past nine here.
    late = town.with_changes(
        trip={"depart": town.trip.depart.replace(hour=20, minute=40)}, odds={"depart_sd_min": 30.0}
    )
    answer = odds(late, walks=2_000, decide=0)
    told = answer.document["chances"]["arrives_in_the_dark"]["chance"]
    assert 0.1 < told < 0.9
    middle = [0.5 * (a + b) for a, b in zip(town.trip.start, town.trip.home, strict=True)]
    observer = Observer(latitude=middle[0], longitude=middle[1], elevation=0.0)
    heights = np.array(
        [
            elevation(observer, datetime.fromisoformat(when).astimezone(UTC), with_refraction=False)
            for when in answer.walks["arrive"]
        ]
    )
    # astral follows a coarser solar algorithm (about 0.05 degrees): count what is surely dark.
    assert (heights < -6.1).mean() <= told <= (heights < -5.9).mean()


def test_an_even_closure_sends_half_of_the_walks_around(plan: Plan, trial: Trial) -> None:
    course = trial.ways[0].way.course
    bridge = str(trial.scene.streets.ways.name[int(course.way[course.bridge][0])])
    closing = plan.with_changes(odds={**STILL, "closures": ((bridge, 0.5),)})
    half = Trial.prepare(closing, block=5_000, progress=silent)
    outcome = draw(half, 100)
    around = outcome.way == 1
    assert around.mean() == pytest.approx(0.5, abs=4.0 * 0.5 / 10.0)
    assert np.array_equal(around, outcome.drawn.closed[:, 0])
    assert len({float(each) for each in outcome.arrivals.elapsed_s}) == 2
    own = half.ways[1].outcome.totals[Total.CLOCK_S, 0]
    assert (outcome.arrivals.elapsed_s[around] == own).all()


def test_walks_without_a_way_home_are_counted_and_nobody_else(town: Plan) -> None:
    answer = odds(town.with_changes(odds={"bridge_chance": 0.3}), walks=500, decide=0)
    told = answer.document
    assert told["no_way_home"] == pytest.approx(150, abs=4.0 * np.sqrt(500 * 0.3 * 0.7))
    assert told["chances"]["home"]["chance"] == 1.0 - told["no_way_home"] / 500
    lost = answer.walks["verdict"] == "no way home"
    assert lost.sum() == told["no_way_home"]
    assert answer.walks.loc[lost, "elapsed_h"].isna().all()
    assert answer.walks.loc[~lost, "elapsed_h"].notna().all()


def test_places_fail_by_the_share_of_their_kind(trial: Trial) -> None:
    from simulator.questions.draws import places_that_work

    place = np.arange(min(len(trial.scene.places), 25))
    n = 4_000
    rng = np.random.default_rng(5)
    works = places_that_work(
        trial.scene,
        trial.settings,
        place,
        together=rng.standard_normal(n),
        seed=1,
        luck_of=np.arange(n),
    )
    assert works is not None
    share = trial.scene.places.works_in(trial.scene.plan.event.kind)[place]
    assert works.mean(axis=0) == pytest.approx(share, abs=4.0 * 0.5 / np.sqrt(n))
    even = np.flatnonzero((share > 0.2) & (share < 0.8))
    together = np.corrcoef(works[:, even].T.astype(float))
    assert together[np.triu_indices(even.size, 1)].min() > 0.1


def test_the_files_say_all_and_the_same_seed_says_the_same(town: Plan, tmp_path: Path) -> None:
    answers = [odds(town, walks=60, seed=4, by=[time(23, 0)], decide=2) for _ in range(2)]
    paths = [write_odds(answer, tmp_path / str(row)) for row, answer in enumerate(answers)]
    for one, other in zip(*paths, strict=True):
        assert one.read_bytes() == other.read_bytes()
    told = json.loads(paths[0][0].read_text(encoding="utf-8"))
    assert told["seed"] == 4
    assert told["walks"] == 60
    assert {"home_by_dark", "home_within_12_h", "home_within_18_h", "home_by_23:00"} <= set(
        told["chances"]
    )
    for row in told["distributions"]:
        words = row["says"]
        assert any(mark in words for mark in ("assumed", "from memory", "practice", "may be"))
    assert paths[0][2].read_bytes().startswith(b"%PDF")


def test_bands_by_the_hour_are_of_those_who_are_still_on_the_way() -> None:
    # 20 walks take half an hour, 40 one and a half, 40 two and a half, and all keep 1, 2 or 3 km/h
    # in this order. After an hour 80 of 100 walk, at 2 and 3 km; after two 40, all at 6 km.
    speed_km_h = np.repeat([1.0, 2.0, 3.0], [20, 40, 40])
    elapsed_s = 3600.0 * np.repeat([0.5, 1.5, 2.5], [20, 40, 40])
    hourly = np.zeros((3, len(LEDGER), 100))
    hours = np.arange(1.0, 4.0)[:, np.newaxis]
    hourly[:, LEDGER.index("distance_m")] = 1000.0 * speed_km_h * hours
    hourly[:, LEDGER.index("water_left_ml")] = 500.0 / hours
    hourly[:, LEDGER.index("water_short_ml")] = 100.0 * hours
    table = ledger_bands(cast("Arrivals", SimpleNamespace(hourly=hourly, elapsed_s=elapsed_s)))
    assert table["hour"].tolist() == [1, 2]
    assert table["on_the_way"].tolist() == pytest.approx([0.8, 0.4])
    assert table["distance_km_0.05"].tolist() == [2.0, 6.0]
    assert table["distance_km_0.5"].tolist() == [2.5, 6.0]
    assert table["distance_km_0.95"].tolist() == [3.0, 6.0]
    assert table["water_left_l_0.5"].tolist() == [0.5, 0.25]
    assert table["water_short_l_0.5"].tolist() == pytest.approx([0.1, 0.2])


def test_bands_along_the_way_are_of_those_who_keep_to_it() -> None:
    # A way of 4 km in steps of 100 m: forty points, one a step. Two carry 1 l; of 100 walks
    # 60 keep to it, drink 10 mL a step and fill 300 mL at half way; the others are not counted.
    course = make_course(4000.0, step_m=100.0)
    profile = np.zeros((40, len(PASSING), 100))
    step = np.arange(40.0)[:, np.newaxis]
    profile[:, 0] = 90.0 * step
    profile[:, PASSING.index(Total.DRUNK_ML)] = 10.0 * step
    profile[:, PASSING.index(Total.REFILLED_ML)] = np.where(step >= 20, 300.0, 0.0)
    way = np.repeat([0, 1], [60, 40])
    profile[:, :, way == 1] = 1e9
    trial = SimpleNamespace(
        ways=(SimpleNamespace(way=SimpleNamespace(course=course)),),
        scene=SimpleNamespace(walkers=SimpleNamespace(water_ml=np.array([400.0, 600.0]))),
    )
    outcome = SimpleNamespace(way=way, arrivals=SimpleNamespace(profile=profile))
    table = profile_bands(cast("Trial", trial), cast("Any", outcome))
    assert table["distance_km"].tolist() == pytest.approx((np.arange(40) / 10.0).tolist())
    for share in (0.05, 0.5, 0.95):
        assert table[f"elapsed_h_{share:g}"].tolist() == pytest.approx(
            (np.arange(40) * 0.025).tolist()
        )
        left = table[f"water_left_l_{share:g}"]
        assert (left[0], left[19], left[20], left[39]) == pytest.approx((1.0, 0.81, 1.1, 0.91))


def test_a_part_larger_than_the_whole_says_that_the_walks_are_too_few() -> None:
    def words(total: float) -> str:
        shares = np.array([total, 0.2])
        return Ranking("the arrival", ("pace", "wind"), shares, shares, shares, shares, 64).words()

    for total in (0.8, 1.0):
        assert "too few" not in words(total)
        assert f"pace ({100.0 * total:.0f}" in words(total)
    assert "too few" in words(1.05)
    assert "105" not in words(1.05)
