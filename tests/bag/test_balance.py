"""A walk's demands against a list, and the hour at which each falls short."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.bag.fit import (
    PHONE_LEFT_WH,
    PHONE_W,
    Balance,
    Cold,
    Journey,
    _crossing_h,
    against,
    demands,
    water_stretches,
)
from simulator.bag.items import Items, parse_items

HEADER = (
    "item,purpose,tier,quantity,mass_g,water_ml,holds_ml,treats_ml,energy_kcal,light_h,"
    "warmth_clo,power_wh\n"
)


def bag(*rows: str) -> Items:
    return parse_items(HEADER + "\n".join(rows) + "\n")


def journey(**changes: object) -> Journey:
    """Make a steady walk of ten hours: 300 ml, 250 kcal and 2.5 km an hour, dark after six."""
    clock = np.linspace(0.0, 10.0, 101)
    plain = Journey(
        walkers=1,
        clock_h=clock,
        lost_ml=300.0 * clock,
        energy_kcal=250.0 * clock,
        unlit_h=np.maximum(clock - 6.0, 0.0),
        distance_km=2.5 * clock,
        safe_h=(),
        raw_h=(),
        cold=(),
        store_kcal=1500.0,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def balance(key: str, items: Items, walk: Journey) -> Balance:
    (found,) = (one for one in against(items, walk) if one.demand.key == key)
    return found


EMPTY = bag("stone,other,basic,1,10,,,,,,,")


# Each by arithmetic on the steady walk above.
def test_without_any_water_place_the_bottle_must_last_to_home() -> None:
    found = balance("water_start", bag("bottle,water,basic,1,600,600,,,,,,"), journey())
    assert found.demand.need == pytest.approx(3000.0)
    assert found.short == pytest.approx(2400.0)
    assert found.begins_h == pytest.approx(2.0)


def test_a_tap_on_the_way_shortens_what_must_be_carried() -> None:
    walk = journey(safe_h=(3.0, 7.0))
    stretches = water_stretches(walk)
    assert stretches.first_ml == pytest.approx(900.0)
    assert stretches.longest_ml == pytest.approx(1200.0)
    small = bag("bottle,water,basic,1,1000,1000,1000,,,,,")
    assert np.isnan(balance("water_start", small, walk).begins_h)
    room = balance("water_capacity", small, walk)
    assert room.short == pytest.approx(200.0)
    assert room.begins_h == pytest.approx(3.0 + 1000.0 / 300.0)


def test_raw_water_counts_only_with_treatment_or_a_larger_bottle() -> None:
    walk = journey(safe_h=(2.0,), raw_h=(6.0,))
    bottle = "bottle,water,basic,1,1500,1500,1500,,,,,"
    dry = balance("treatment", bag(bottle), walk)
    assert dry.demand.need == pytest.approx(2400.0)  # from the tap at 2 h to home
    assert dry.begins_h == pytest.approx(2.0 + 1500.0 / 300.0)
    tablets = "tablets,water,basic,1,10,0,0,1000,,,,"
    assert np.isnan(balance("treatment", bag(bottle, tablets), walk).begins_h)
    few = "tablets,water,basic,1,10,0,0,500,,,,"
    assert balance("treatment", bag(bottle, few), walk).short == pytest.approx(400.0)
    flask = "flask,water,basic,1,10,0,1000,,,,,"
    assert np.isnan(balance("treatment", bag(bottle, flask), walk).begins_h)


def test_light_runs_out_when_the_lamp_does_and_each_walker_needs_one() -> None:
    lamp = bag("lamp,light,basic,1,10,,,,,3,,")
    one = balance("light", lamp, journey())
    assert [one.demand.need, one.short] == pytest.approx([4.0, 1.0])
    assert one.begins_h == pytest.approx(9.0)
    two = balance("light", lamp, journey(walkers=2))
    assert two.short == pytest.approx(5.0)
    assert two.begins_h == pytest.approx(7.5)


def test_one_lamp_serves_as_many_as_the_plan_says() -> None:
    lamp = bag("lamp,light,basic,1,10,,,,,3,,")
    # Four hours unlit: two lamps side by side for three who see by one lamp in pairs.
    for walkers, lamps in ((1, 1), (2, 1), (3, 2), (4, 2)):
        found = balance("light", lamp, journey(walkers=walkers, people_per_lamp=2))
        assert found.demand.need == pytest.approx(4.0 * lamps)
        assert found.begins_h == pytest.approx(6.0 + 3.0 / lamps)


def test_food_is_asked_for_only_beyond_the_bodys_own_store() -> None:
    found = balance("energy", bag("bar,food,basic,1,60,,,,250,,,"), journey())
    assert found.demand.need == pytest.approx(1000.0)  # 2500 used, 1500 in the body
    assert found.begins_h == pytest.approx(1750.0 / 250.0)
    short = journey(store_kcal=2600.0)
    assert balance("energy", EMPTY, short).demand.need == 0.0


def test_warmth_is_counted_for_each_walker_and_begins_when_it_is_cold() -> None:
    walk = journey(walkers=2, cold=(Cold("warmth_halt", 6.5, 0.5, "a test"),))
    found = balance("warmth_halt", bag("bag,warmth,basic,1,10,,,,,,0.6,"), walk)
    assert found.short == pytest.approx(0.4)
    assert found.begins_h == 6.5


def test_where_no_model_answers_nothing_is_made_up() -> None:
    walk = journey(cold=(Cold("warmth_walking", np.nan, np.nan, "too warm"),))
    found = balance("warmth_walking", EMPTY, walk)
    assert np.isnan(found.demand.need)
    assert np.isnan(found.short)
    assert np.isnan(found.begins_h)


def test_blisters_want_care_from_the_distance_at_which_they_begin() -> None:
    found = balance("blister_care", EMPTY, journey())
    assert found.begins_h == pytest.approx(8.0 / 2.5)
    assert (
        balance("blister_care", bag("Blister plasters,first aid,basic,1,9,,,,,,,"), journey()).short
        == 0
    )
    near = journey(distance_km=0.5 * np.linspace(0.0, 10.0, 101))
    assert balance("blister_care", EMPTY, near).demand.need == 0.0


def test_a_phone_goes_out_when_its_charge_and_the_power_bank_are_used() -> None:
    bank, cable = "power bank,power,basic,1,90,,,,,,,2", "charging cable,power,basic,1,20,,,,,,,"
    found = balance("phone_power", bag(bank, cable), journey())
    assert found.demand.need == pytest.approx(10.0 * PHONE_W - PHONE_LEFT_WH)
    assert found.begins_h == pytest.approx((PHONE_LEFT_WH + 2.0) / PHONE_W)
    alone = balance("phone_power", bag(bank), journey())  # nothing joins it to the telephone
    assert alone.begins_h == pytest.approx(PHONE_LEFT_WH / PHONE_W)


def test_an_unknown_cell_is_named_beside_the_sum_that_it_leaves_open() -> None:
    found = balance("light", bag("lamp,light,basic,1,10,,,,,,,"), journey())
    assert found.unknown == ("lamp",)
    assert found.have == 0.0


def test_a_certainty_from_elsewhere_takes_the_place_of_the_walks_own_amount() -> None:
    asked = {one.key: one.need for one in demands(journey(), needed={"light": 7.5})}
    assert asked["light"] == 7.5
    assert asked["water_start"] == pytest.approx(3000.0)
    with pytest.raises(KeyError, match="lihgt"):
        demands(journey(), needed={"lihgt": 1.0})


hours = st.lists(st.floats(0.1, 9.9), max_size=5).map(tuple)


@given(hours, hours, st.integers(0, 3000), st.integers(0, 3000))
def test_another_safe_place_or_more_water_never_makes_water_shorter(
    safe: tuple[float, ...], raw: tuple[float, ...], water: int, more: int
) -> None:
    def missing(walk: Journey, ml: int) -> list[float]:
        items = bag(f"bottle,water,basic,1,9000,{ml},{ml},,,,,")
        keys = ("water_start", "water_capacity")
        return [balance(key, items, walk).short for key in keys]

    walk = journey(safe_h=safe, raw_h=raw)
    plain = missing(walk, water)
    assert all(a <= b + 1e-6 for a, b in zip(missing(walk, water + more), plain, strict=True))
    closer = journey(safe_h=(*safe, 5.0), raw_h=raw)
    # The first stretch and the longest together: a new place may only split one of them.
    assert sum(missing(closer, water)[:1]) <= plain[0] + 1e-6


@given(hours, hours, st.integers(0, 3000), st.integers(0, 4000), st.integers(0, 3000))
def test_bottles_and_treatment_that_pass_never_run_dry_when_walked(
    safe: tuple[float, ...], raw: tuple[float, ...], water: int, treats: int, room: int
) -> None:
    """Walk the steady walk place by place, by hand, with the rules of the demands."""
    walk = journey(safe_h=safe, raw_h=raw)
    holds = max(water, room)
    items = bag(
        f"bottle,water,basic,1,9000,{water},{holds},,,,,",
        f"tablets,water,basic,1,9,0,0,{treats},,,,",
    )
    passes = all(np.isnan(one.begins_h) for one in against(items, walk) if one.demand.unit == "ml")
    left, can_treat, at = float(water), float(treats), 0.0
    dry = False
    stops = sorted(
        [*((hour, True) for hour in safe), *((hour, False) for hour in raw), (10.0, True)]
    )
    for number, (hour, is_safe) in enumerate(stops):
        left -= 300.0 * (hour - at)
        dry = dry or left < -2.0
        at = hour
        if is_safe:
            left = float(holds)
            continue
        # Treat no more than is needed to the next safe place.
        to_safe = next(h for h, ok in stops[number:] if ok) - hour
        taken = min(max(300.0 * to_safe - left, 0.0), holds - left, can_treat)
        left, can_treat = left + taken, can_treat - taken
    if passes:
        assert not dry


def test_the_hour_in_which_a_running_total_passes_a_level_is_read_off_straight() -> None:
    # 0, 100, 300 and 300 mL after 0, 1, 2 and 5 h.
    clock_h, total = np.array([0.0, 1.0, 2.0, 5.0]), np.array([0.0, 100.0, 300.0, 300.0])
    passed = [_crossing_h(clock_h, total, level) for level in (-1.0, 0.0, 50.0, 100.0, 250.0)]
    assert passed == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.75])
    assert _crossing_h(clock_h, total, 300.0) == pytest.approx(5.0)  # never: the end
