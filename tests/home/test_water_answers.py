"""Water on the demo place: stops, treatment, next water, chances, bottles and the way never dry."""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Callable
from dataclasses import asdict, replace
from functools import cache
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from simulator import Plan, demo_folder
from simulator.home.cautions import place_assumptions
from simulator.home.refills import CONTACT_S, kit_of, read_places
from simulator.home.scene import Scene, prepare, walkers_of
from simulator.home.walk import tabulate, walk_way
from simulator.home.walked import Walked
from simulator.home.water import (
    COLUMNS,
    WORTH_S,
    Ahead,
    _later,
    _row,
    answer_water,
    compare_bottles,
    dry_way,
    least_bottle,
    sureness,
)
from simulator.home.way import Way, find_way
from simulator.supply.refills import least_capacity_ml
from simulator.walk.records import Outcome, Total
from tests.walk.conftest import make_walkers

Walks = Callable[..., tuple[Scene, Walked]]


@pytest.fixture(scope="module")
def scene() -> Scene:
    # The fastest way: what runs dry there is compared with other ways by time.
    return prepare(Plan.read(demo_folder() / "plan.toml").with_changes(choices={"quiet": 0.0}))


@pytest.fixture(scope="module")
def way(scene: Scene) -> Way:
    return find_way(scene)


@pytest.fixture(scope="module")
def walked(scene: Scene, way: Way) -> Walked:
    return walk_way(scene, way)


@pytest.fixture(scope="module")
def walk_with(scene: Scene) -> Walks:
    """Give a function that walks home from the demo with another bottle, reach or weather."""
    prepared: dict[float, tuple[Scene, Way]] = {}

    @cache
    def walk(
        *,
        bottle_ml: float,
        air_c: float = 20.0,
        reach_m: float = 300.0,
        treats_ml: float = 20_000.0,
    ) -> tuple[Scene, Walked]:
        if air_c not in prepared:
            weather = {"air_c": air_c, "rain_mm_h": 0, "humidity_pct": 50}
            warm = prepare(scene.plan.with_changes(weather=weather, event={"kind": "none"}))
            prepared[air_c] = (warm, find_way(warm))
        warm, way = prepared[air_c]
        plan = warm.plan.with_changes(choices={"refill_reach_m": reach_m})
        load = replace(
            warm.carried, water_ml=bottle_ml, water_capacity_ml=bottle_ml, treats_ml=treats_ml
        )
        changed = replace(warm, plan=plan, carried=load, walkers=walkers_of(plan, load))
        return changed, walk_way(changed, way)

    return walk


def test_a_thirsty_walk_stops_where_needed_and_never_runs_dry(walk_with: Walks) -> None:
    scene, walked = walk_with(bottle_ml=500.0)
    outcome = walked.outcome
    assert walked.settled
    assert len(walked.stops) >= 2
    assert outcome.worst_short_ml.sum() == 0.0
    total = outcome.totals[:, 0]
    left = 500.0 + total[Total.REFILLED_ML] - total[Total.DRUNK_ML]
    assert 0.0 <= left <= 500.0
    assert total[Total.DRUNK_ML] <= total[Total.LOST_ML] + 1e-9
    # No single stop could be spared: without any one of them more is lacking than may be spared.
    thirst = Ahead(scene, walked).thirst
    chosen = np.flatnonzero(Ahead(scene, walked).plan.chosen)
    for spared in chosen.tolist():
        usable = np.isin(np.arange(thirst.need_ml.size), chosen) & (
            np.arange(thirst.need_ml.size) != spared
        )
        rows = np.flatnonzero(usable)
        assert thirst._plan(rows, 0.0, thirst.start_ml).short_ml > 0.0


def test_no_detour_is_made_for_a_mouthful(walk_with: Walks) -> None:
    _scene, walked = walk_with(bottle_ml=3000.0, air_c=4.0)
    need_ml = float(walked.outcome.totals[Total.LOST_ML].sum())
    # Enough by a mouthful, or lacking one: nobody leaves the way for that in the dark. A third of a
    # litre is 0.4 % of body mass, more than is let pass.
    for more_ml in (40.0, -40.0):
        _scene, walked = walk_with(bottle_ml=need_ml + more_ml, air_c=4.0)
        assert not walked.stops
        assert float(walked.outcome.worst_short_ml.sum()) == 0.0
    _scene, walked = walk_with(bottle_ml=need_ml - 330.0, air_c=4.0)
    assert walked.stops


def test_more_water_never_makes_the_shortage_worse(walk_with: Walks) -> None:
    shorts = [
        float(walk_with(bottle_ml=bottle_ml, treats_ml=0.0)[1].outcome.worst_short_ml.sum())
        for bottle_ml in (50.0, 250.0, 400.0, 950.0)
    ]
    assert all(more <= less for less, more in itertools.pairwise(shorts))


def test_tablets_are_carried_on_counted_and_named(walk_with: Walks) -> None:
    scene, walked = walk_with(bottle_ml=600.0)
    treated = [stop for stop in walked.stops if stop.treat]
    assert treated
    assert all(stop.dosing.dose_ml == 500.0 for stop in treated)
    walk = tabulate(scene, walked)
    used = walk.summary["water"]["treatment"][0]
    assert used["method"] == "tablets"
    # 0.6 L is more than half a litre: two tablets for a full bottle.
    litres = walk.refills.loc[walk.refills["treatment"] != "", "litres"]
    doses = np.ceil(1000.0 * litres / 500.0)
    assert used["doses_used"] == doses.sum()
    assert used["left_l"] == pytest.approx(used["carried_l"] - 0.5 * doses.sum())
    told = walk.refills.loc[walk.refills["treatment"] != "", "treatment"]
    assert told.str.contains(f"fit after {CONTACT_S / 60:.0f} min").all()


def test_without_treatment_no_stream_is_used(walk_with: Walks) -> None:
    scene, walked = walk_with(bottle_ml=500.0, treats_ml=0.0)
    assert not any(scene.places.needs_treatment[stop.place] for stop in walked.stops)
    refused = [
        text
        for row, text in enumerate(walked.reading.refusal)
        if scene.places.needs_treatment[walked.nearby.place[row]]
    ]
    assert all(refused)


def test_the_next_water_stands_beside_every_place_and_hour(scene: Scene, walked: Walked) -> None:
    walk = tabulate(scene, walked)
    refills, hours = walk.refills, walk.hours
    wet = refills[refills["relied_on"] & refills["gives"].str.contains("water")]
    for table, along in ((refills, "along_km"), (hours, "distance_so_far_km")):
        for _, row in table.iterrows():
            ahead = wet[wet["along_km"] >= row[along] - 1e-9]
            if table is refills:
                ahead = ahead[ahead.index > row.name]
            if ahead.empty:
                assert row["next_water"] == ""
                assert np.isnan(row["next_water_km"])
                continue
            first = ahead.iloc[0]
            assert first["kind"] in row["next_water"]
            far_km = first["along_km"] - row[along] + first["off_m"] / 1000.0
            assert row["next_water_km"] == pytest.approx(far_km)
            assert row["next_water_ml"] >= 0.0
            assert ("treatment" in row["next_water_needs"]) == first["needs_treatment"]
    used = refills[refills["used"]]
    assert used["if_dry"].str.startswith("if it gives none").all()
    assert (refills.loc[~refills["used"], "if_dry"] == "").all()
    told = walk.summary["water"]["next"]
    assert told["km"] == pytest.approx(wet.iloc[0]["along_km"] + wet.iloc[0]["off_m"] / 1000.0)


def test_what_to_do_if_dry_is_what_the_places_left_allow(walk_with: Walks) -> None:
    scene, walked = walk_with(bottle_ml=500.0)
    ahead = Ahead(scene, walked)
    for row in np.flatnonzero(ahead.plan.chosen).tolist():
        choice, text = ahead.if_dry(row)
        # Walk on from there with what is left, the place itself struck out.
        usable = ahead.relied_on & (np.arange(ahead.relied_on.size) > row)
        left_ml = max(float(ahead.plan.arrive_ml[row] - ahead.thirst.stop_need_ml[row]), 0.0)
        again = ahead.thirst.plan_after(row, usable, left_ml)
        stops = np.flatnonzero(again.chosen)
        assert choice == (int(stops[0]) if stops.size else -1)
        assert ("missing" in text) == (again.short_ml > 0.0)


def test_chances_are_in_order_and_vanish_where_everything_works(walk_with: Walks) -> None:
    scene, walked = walk_with(bottle_ml=500.0)
    told = sureness(Ahead(scene, walked))
    assert 0.0 <= told.at_best <= told.going_on <= told.as_planned <= 1.0
    assert told.as_planned > 0.0
    # With all planned stops working nothing runs dry, so the chance is at most that one fails;
    # and at least that of the least sure one that cannot be spared.
    stops = np.flatnonzero(Ahead(scene, walked).plan.chosen)
    works = float(np.prod(walked.reading.works[stops]))
    assert told.as_planned <= 1.0 - works + 1e-9
    thirst, worst = Ahead(scene, walked).thirst, 0.0
    for spared in stops.tolist():
        rows = stops[stops != spared]
        if thirst._plan(rows, 0.0, thirst.start_ml).short_ml > 0.0:
            worst = max(worst, 1.0 - float(walked.reading.works[spared]))
    assert told.as_planned >= worst - 1e-9
    sure = replace(walked, reading=replace(walked.reading, works=np.ones(walked.nearby.place.size)))
    told = sureness(Ahead(scene, sure))
    assert told.as_planned == told.going_on == told.at_best == 0.0


def test_assumed_shares_and_times_of_every_kind_relied_on_are_listed(
    scene: Scene, walked: Walked
) -> None:
    text = " ".join(place_assumptions(scene, walked))
    reading = walked.reading
    for row, place in enumerate(walked.nearby.place.tolist()):
        if reading.relied_on[row] and "water" in scene.places.gives[place]:
            share = f"{100.0 * reading.works[row]:.0f} %"
            assert re.search(rf"{scene.places.kind[place]} {share} and [\d.]+ min", text)
    assert "independently" in text


def test_each_bottle_in_the_table_is_the_walk_with_that_bottle(
    scene: Scene, walked: Walked
) -> None:
    table = compare_bottles(scene, walked)
    assert tuple(table.columns) == COLUMNS
    assert table["bottle_l"].tolist() == [0.5, 1.0, 1.5, 2.0]
    assert (table["short_l"].diff().dropna() <= 1e-9).all()
    for _, row in table.iterrows():
        bottle_ml = 1000.0 * row["bottle_l"]
        load = replace(scene.carried, water_ml=bottle_ml, water_capacity_ml=bottle_ml)
        alone = replace(scene, walkers=walkers_of(scene.plan, load))
        more_kg = (bottle_ml - scene.carried.water_ml) / 1000.0
        alone = replace(
            alone, walkers=replace(alone.walkers, bag_kg=scene.walkers.bag_kg + more_kg)
        )
        mine = walk_way(alone, walked.way)
        total = mine.outcome.totals[:, 0]
        assert row["elapsed_h"] == pytest.approx(total[Total.CLOCK_S] / 3600.0, rel=1e-9)
        assert row["refilled_l"] == pytest.approx(total[Total.REFILLED_ML] / 1000.0, abs=1e-9)
        assert row["stops"] == len(mine.stops)
        balance = row["bottle_l"] + row["refilled_l"] - total[Total.DRUNK_ML] / 1000.0
        assert row["left_l"] == pytest.approx(balance)


def test_the_least_bottle_is_where_the_walk_just_never_runs_dry(
    scene: Scene, walked: Walked
) -> None:
    least = least_bottle(scene, walked)
    thirst = Ahead(scene, walked).thirst
    wet = thirst.gives & walked.reading.relied_on
    by_hand = np.diff(thirst.need_ml[wet], prepend=0.0, append=thirst.end_need_ml).max()
    assert 1000.0 * least.every_place == pytest.approx(by_hand)
    assert 1000.0 * least.every_place == pytest.approx(
        least_capacity_ml(thirst.need_ml[wet], end_need_ml=thirst.end_need_ml), rel=1e-12
    )
    assert 1000.0 * least.no_stop == pytest.approx(thirst.end_need_ml, rel=1e-12)


def test_the_way_never_dry_is_found_where_the_fastest_runs_dry(walk_with: Walks) -> None:
    scene, walked = walk_with(bottle_ml=500.0, reach_m=20.0)
    assert walked.outcome.worst_short_ml.sum() > 0.0
    found = dry_way(scene, walked, walk_way)
    assert found.needed
    assert found.found
    assert found.safe
    assert found.walked is not None
    assert found.walked.outcome.worst_short_ml.sum() == 0.0
    # It is not the shortest by walking time, or the fastest would have been it.
    assert found.walked.way.cost_s >= walked.way.cost_s
    assert len(found.places) >= 2
    told = answer_water(scene, walked, walk_way)
    assert told.never_dry_lonlat is not None
    assert told.never_dry.differs
    assert told.never_dry.other is not None
    assert told.never_dry.other.extra_min > 0.0
    json.dumps([asdict(one) for one in (told.never_dry, told.least)], allow_nan=False)
    json.dumps([asdict(one) for one in told.compared], allow_nan=False)


def test_a_bottle_that_lasts_keeps_the_fastest_way(walk_with: Walks) -> None:
    scene, walked = walk_with(bottle_ml=3000.0)
    found = dry_way(scene, walked, walk_way)
    assert not found.needed
    assert found.walked is None
    assert found.safe


def test_a_bottle_too_small_for_every_way_says_so(walk_with: Walks) -> None:
    scene, walked = walk_with(bottle_ml=100.0, air_c=30.0, reach_m=20.0)
    found = dry_way(scene, walked, walk_way)
    assert found.needed
    assert not found.safe


def test_what_the_plan_says_of_places_is_believed_and_marked(scene: Scene, walked: Walked) -> None:
    kind = scene.places.kind[walked.stops[0].place]
    works = scene.places.works.copy()
    rows = np.array([name == kind for name in scene.places.kind])
    works[rows] = 0.1
    edited = tuple("works 10%" if row else "" for row in rows.tolist())
    doubtful = replace(scene, places=replace(scene.places, works=works, edited=edited))
    again = walk_way(doubtful, walked.way)
    assert not any(doubtful.places.kind[stop.place] == kind for stop in again.stops)
    assert any("works 10%" in line for line in place_assumptions(doubtful, again))


def test_five_hundred_places_are_read_quickly_enough_to_be_read_often(
    scene: Scene, walked: Walked
) -> None:
    times = -(-500 // walked.nearby.place.size)
    many = replace(
        walked.nearby,
        place=np.tile(walked.nearby.place, times),
        along_m=np.tile(walked.nearby.along_m, times),
        off_m=np.tile(walked.nearby.off_m, times),
        step=np.tile(walked.nearby.step, times),
    )
    reading = read_places(scene, many, walked.outcome)
    assert reading.refusal == walked.reading.refusal * times
    assert np.array_equal(reading.works, np.tile(walked.reading.works, times))


def test_the_kit_is_read_off_the_list(scene: Scene) -> None:
    kit = kit_of(scene.items, treats_ml=20_000.0, capacity_ml=1000.0)
    assert kit.names == ("tablets",)
    assert not kit.one_bottle
    assert kit.treatments[0].treats_ml == 20_000.0
    # Less than the list has is what counts when the bag is changed; nothing left is no method.
    assert kit_of(scene.items, treats_ml=500.0, capacity_ml=1000.0).treatments[0].treats_ml == 500.0
    assert kit_of(scene.items, treats_ml=0.0, capacity_ml=1000.0).names == ()
    assert kit_of(None, treats_ml=300.0, capacity_ml=500.0).names == ("tablets",)


def test_a_way_that_turns_back_on_a_street_still_finds_the_places_beside_it(
    scene: Scene, walked: Walked
) -> None:
    # A via on a street of its own: the walk goes in and comes out the same way.
    streets = scene.streets
    ends = np.bincount(np.concatenate([streets.tail, streets.head]), minlength=streets.lon.size)
    both = streets.open_forward & streets.open_backward & ~scene.closed
    dead_end = np.flatnonzero(both & (ends[streets.head] == 1) & (ends[streets.tail] > 2))
    middle = streets.tail[walked.way.course.segment[walked.way.course.segment.size // 2]]
    away = np.hypot(
        streets.lon[streets.head[dead_end]] - streets.lon[middle],
        streets.lat[streets.head[dead_end]] - streets.lat[middle],
    )
    segment = int(dead_end[np.argmin(away)])
    start, home = scene.ends[0], scene.ends[-1]
    via = replace(start, segment=segment, fraction=0.5)
    turned = replace(scene, ends=(start, via, home))
    again = walk_way(turned, find_way(turned))
    assert again.nearby.place.size > 0
    assert (np.diff(again.nearby.along_m) >= 0.0).all()


def test_a_row_of_a_party_adds_up_its_members_and_tells_the_worst_of_them(scene: Scene) -> None:
    # Two of 80 kg with 0.5 l each. The first fills 300 mL and drinks 700, the second drinks 400:
    # 1.0 + 0.3 - 1.1 = 0.2 l are left; 100 + 50 mL are lacking, first of the second after half an
    # hour; 400 and 800 mL of 80 kg are 0.5 and 1 %. The slower is home after two hours.
    totals = np.zeros((len(Total), 2))
    totals[Total.REFILLED_ML] = [300.0, 0.0]
    totals[Total.DRUNK_ML] = [700.0, 400.0]
    totals[Total.CLOCK_S] = [6600.0, 7200.0]
    mine = SimpleNamespace(
        totals=totals,
        worst_short_ml=np.array([100.0, 50.0]),
        first_short_s=np.array([np.inf, 1800.0]),
        worst_deficit_ml=np.array([400.0, 800.0]),
    )
    pair = make_walkers(2, mass_kg=80.0, water_ml=500.0, bag_kg=3.0)
    row = _row(scene, 0.5, pair, cast("Outcome", mine), ())
    for name, value in {
        "bottle_l": 0.5, "bag_kg": 6.0, "stops": 0, "places": "", "refilled_l": 0.3, "left_l": 0.2,
        "short_l": 0.15, "first_short_h": 0.5, "worst_body_mass_loss_pct": 1.0, "elapsed_h": 2.0,
        "never_dry": False,
    }.items():  # fmt: skip
        assert row[name] == (pytest.approx(value) if isinstance(value, float) else value), name


@pytest.mark.parametrize(("other_s", "later"), [(6600.0, False), (7000.0, True), (8000.0, True)])
def test_another_way_for_water_must_be_home_plainly_sooner(other_s: float, later: bool) -> None:
    # The way itself takes 7200 s with its slower walker; 300 s are worth another way.
    assert WORTH_S == 300.0

    def home_after(*clock_s: float) -> Walked:
        totals = np.zeros((len(Total), len(clock_s)))
        totals[Total.CLOCK_S] = clock_s
        return cast("Walked", SimpleNamespace(outcome=SimpleNamespace(totals=totals)))

    assert _later(home_after(other_s, 100.0), home_after(6000.0, 7200.0)) == later
    assert _later(None, home_after(7200.0))
