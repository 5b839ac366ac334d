"""What to pack: exact answers against exhaustive search, limits and their price."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.bag.catalogue import Catalogue, parse_catalogue, read_catalogue
from simulator.bag.choose import OWNED_VALUE, Choice, Limits, choose
from simulator.bag.fit import NEEDED_PURPOSES, Demand
from simulator.bag.items import Items, parse_items
from simulator.bag.programme import Goal, PackLimit, best
from tests.conftest import EXAMPLES

HEADER = (
    "item,purpose,tier,quantity,mass_g,volume_ml,price,water_ml,holds_ml,light_h,expires,"
    "most,value\n"
)
OWNED_HEADER = HEADER.replace(",most,value", "")


def goods(*rows: str) -> Catalogue:
    return parse_catalogue(HEADER + "\n".join(rows) + "\n")


def owned(*rows: str) -> Items:
    return parse_items(OWNED_HEADER + "\n".join(rows) + "\n")


def demand(key: str, gives: str, need: float, unit: str = "ml") -> Demand:
    return Demand(key, key, unit, (gives,), need, "a test")


def names(choice: Choice) -> dict[str, int]:
    return dict(zip(choice.items.item, choice.items.quantity.astype(int).tolist(), strict=True))


# The solver against every possible choice ---------------------------------------------------

small = st.integers(0, 6)
rows = st.lists(
    st.tuples(
        st.sampled_from(["shelter", "water", "light", "first aid"]),
        st.sampled_from(["basic", "comfort"]),
        small, small, small, small, small,  # mass, volume, price, water, light
        st.integers(1, 2),
        st.integers(0, 5),
    ),
    min_size=1,
    max_size=5,
)  # fmt: skip
limit = st.one_of(st.none(), st.integers(0, 12))


def vector(
    counts: Sequence[int], table: list[tuple[object, ...]], own: int, needs: tuple[int, int]
) -> tuple[float, ...]:
    """Score a choice by the rules as the documentation states them, not by the code's rows."""
    taken = list(zip(counts, table, strict=True))

    def total(column: int) -> float:
        return sum(count * float(str(row[column])) for count, row in taken)

    def lacks(purpose: str) -> float:
        serving = (
            count
            for count, row in taken
            if row[0] == purpose and (purpose != "light" or float(str(row[6])) > 0.0)
        )
        return max(0.0, 1.0 - sum(serving))

    def light_h() -> float:  # only a lamp gives light to see by
        return sum(count * float(str(row[6])) for count, row in taken if row[0] == "light")

    water, light = needs
    ranked = [lacks(purpose) for purpose in NEEDED_PURPOSES[:4]]
    ranked += [max(0.0, water - total(5)), max(0.0, light - light_h())]
    ranked += [lacks(purpose) for purpose in NEEDED_PURPOSES[4:]]
    comfort = sum(
        count * (OWNED_VALUE / float(str(row[7])) if place < own else float(str(row[8])))
        for place, (count, row) in enumerate(taken)
    )
    price = sum(
        count * float(str(row[4])) for place, (count, row) in enumerate(taken) if place >= own
    )
    return tuple(round(score, 6) for score in (*ranked, -comfort, price, total(2)))


@given(rows, rows, limit, limit, limit, small, small)
def test_no_other_choice_within_the_limits_is_better(
    have: list[tuple[object, ...]],
    shop: list[tuple[object, ...]],
    budget: int | None,
    volume: int | None,
    mass: int | None,
    water: int,
    light: int,
) -> None:
    have = have[:3]
    table = [*have, *shop]

    def line(place: int, row: tuple[object, ...]) -> str:
        purpose, tier, mass_g, volume_ml, price, water_ml, light_h, count, value = row
        # Water weighs what it weighs: the list refuses less.
        grams = max(int(str(mass_g)), int(str(water_ml)))
        table[place] = (purpose, tier, grams, volume_ml, price, water_ml, light_h, count, value)
        own = place < len(have)
        end = f"{light_h}," if own else f"{light_h},,{count},{value}"
        pieces = count if own else 1
        kind = "lamp" if purpose == "light" and float(str(light_h)) > 0.0 else "other"
        numbers = f"{pieces},{grams},{volume_ml},{price},{water_ml}"
        return f"thing {place},{purpose},{tier},{numbers},,{end},{kind}"

    lines = [line(place, row) for place, row in enumerate(table)]
    found = choose(
        parse_items("\n".join([OWNED_HEADER.strip() + ",kind", *lines[: len(have)]])),
        parse_catalogue("\n".join([HEADER.strip() + ",kind", *lines[len(have) :]])),
        (demand("water", "water_ml", water), demand("light", "light_h", light, "h")),
        limits=Limits(budget=budget, volume_ml=volume, mass_g=mass),
        ask_more=False,
    )
    picked = names(found)
    counts = [picked.get(f"thing {place}", 0) for place in range(len(table))]
    paid = sum(int(str(row[4])) * int(str(row[7])) for row in have)  # is not got back at home
    left = None if budget is None else max(budget - paid, 0)
    limits = ((4, left, len(have)), (3, volume, 0), (2, mass, 0))

    def taken(choice: Sequence[int], column: int, first: int) -> float:
        counted = list(zip(choice, table, strict=True))[first:]
        return sum(count * float(str(row[column])) for count, row in counted)

    lamps_owned = sum(
        int(str(row[7])) for row in table[: len(have)] if row[0] == "light" and row[6] != 0
    )

    def allowed(choice: Sequence[int]) -> bool:
        spare = [  # a comfortable lamp is bought only where none is owned, and one is enough
            count
            for count, row in list(zip(choice, table, strict=True))[len(have) :]
            if row[0] == "light" and row[1] == "comfort" and row[6] != 0
        ]
        return sum(spare) <= max(1 - lamps_owned, 0) and all(
            most is None or taken(choice, column, first) <= most for column, most, first in limits
        )

    ranges = [range(int(str(row[7])) + 1) for row in table]
    assert allowed(counts)
    exhaustive = min(
        vector(choice, table, len(have), (water, light))
        for choice in itertools.product(*ranges)
        if allowed(choice)
    )
    assert vector(counts, table, len(have), (water, light)) == exhaustive


@given(st.data())
def test_the_programme_agrees_with_exhaustive_search(data: st.DataObject) -> None:
    size = data.draw(st.integers(1, 5))
    numbers = st.lists(st.integers(0, 9), min_size=size, max_size=size)
    upper = np.array(data.draw(st.lists(st.integers(0, 3), min_size=size, max_size=size)))
    limits = [
        PackLimit(
            "x", np.array(data.draw(numbers), dtype=float), float(data.draw(st.integers(0, 15)))
        )
        for _ in range(data.draw(st.integers(0, 2)))
    ]
    goals = [
        Goal(
            "g",
            np.array(data.draw(numbers), dtype=float),
            data.draw(st.sampled_from(["at least", "most", "least"])),
            float(data.draw(st.integers(0, 20))),
        )
        for _ in range(data.draw(st.integers(1, 3)))
    ]
    found = best(upper, limits, goals)
    every = (
        np.array(choice)
        for choice in itertools.product(*(range(most + 1) for most in upper.tolist()))
    )
    feasible = [one for one in every if all(x.weights @ one <= x.most for x in limits)]
    exhaustive = min(tuple(goal.score(one) for goal in goals) for one in feasible)
    assert all(x.weights @ found <= x.most + 1e-9 for x in limits)
    assert tuple(goal.score(found) for goal in goals) == pytest.approx(exhaustive)


def test_a_negative_limit_is_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        choose(None, goods("tarp,shelter,basic,1,9,9,9"), (), limits=Limits(budget=-1.0))


# Rules of the choice ---------------------------------------------------------------------------


def test_basics_come_before_any_comfort() -> None:
    shop = goods(
        "pillow,other,comfort,1,10,10,10,,,,,1,10",
        "tarp,shelter,basic,1,10,10,10,,,,,1,0",
    )
    assert names(choose(None, shop, (), limits=Limits(budget=10))) == {"tarp": 1}
    assert len(names(choose(None, shop, (), limits=Limits(budget=20)))) == 2


def test_what_is_owned_costs_nothing_and_is_not_bought_again() -> None:
    shop = goods("Head  Torch,light,comfort,1,10,10,10,,,5,,1,9")
    found = choose(
        owned("head torch,light,basic,1,10,10,99,,,5,"), shop, (), limits=Limits(budget=50)
    )
    assert names(found) == {"head torch": 1}
    assert found.spent == 0.0


def test_an_item_that_cannot_be_judged_is_not_chosen_and_said() -> None:
    shop = goods(
        "dear tarp,shelter,basic,1,10,10,8,,,,,1,0", "mystery tarp,shelter,basic,1,10,10,,,,,,1,0"
    )
    bound = choose(None, shop, (), limits=Limits(budget=10, volume_ml=99))
    assert names(bound) == {"dear tarp": 1}
    assert bound.not_considered == ("mystery tarp: not chosen, its price is unknown",)
    # Without a budget the unknown price stands in nobody's way.
    assert not choose(None, shop, (), limits=Limits(volume_ml=99)).not_considered


def test_an_expired_item_is_left_and_said() -> None:
    have = owned("old bar,food,basic,1,10,10,1,,,,2026-01-31")
    shop = goods("bar,food,basic,1,10,10,2,,,,,1,0")
    found = choose(have, shop, (), limits=Limits(), on=dt.date(2026, 5, 4))
    assert names(found) == {"bar": 1}
    assert found.not_considered == ("old bar: past its last good day, 2026-01-31",)


def test_each_walker_gets_a_light_and_all_share_one_first_aid_pouch() -> None:
    shop = goods("lamp,light,basic,1,10,10,3,,,5,,1,0", "pouch,first aid,basic,1,10,10,5,,,,,1,0")
    found = choose(None, shop, (), limits=Limits(), walkers=3)
    assert names(found) == {"lamp": 3, "pouch": 1}


def test_a_second_map_is_not_bought_for_comfort() -> None:
    shop = goods("map on cloth,paper,comfort,1,10,10,5,,,,,1,9")
    have = owned("paper map,paper,basic,1,10,10,1,,,,")
    assert names(choose(have, shop, (), limits=Limits(), walkers=2)) == {"paper map": 1}
    assert names(choose(None, shop, (), limits=Limits())) == {"map on cloth": 1}
    # One map goes round, but each walker may have a light to himself.
    lamps = goods("head torch,light,comfort,1,10,10,5,,,5,,1,9")
    assert names(choose(None, lamps, (), limits=Limits(), walkers=2)) == {"head torch": 2}


def test_blister_care_alone_is_not_first_aid() -> None:
    shop = goods("blister plasters,first aid,basic,1,10,10,1,,,,,1,0")
    assert "first aid" in choose(None, shop, (), limits=Limits()).uncovered


def test_half_a_packet_counts_as_a_piece_of_half_the_size() -> None:
    have = owned("biscuits,food,basic,0.5,400,800,3,,,,")
    found = choose(have, goods("tarp,shelter,basic,1,1,1,1,,,,,1,0"), (), limits=Limits())
    assert found.items.total("mass_g").known == 200 + 1
    assert found.items.total("volume_ml").known == 400 + 1


def test_a_demand_that_cannot_be_met_in_full_is_met_as_far_as_can_be() -> None:
    shop = goods("bottle,water,basic,1,500,500,1,500,,,,4,0")
    need = (demand("water_start", "water_ml", 1800.0),)
    found = choose(None, shop, need, limits=Limits(volume_ml=1500.0))
    assert names(found) == {"bottle": 3}
    assert found.unmet == {"water_start": pytest.approx(300.0)}
    assert choose(None, shop, need, limits=Limits()).unmet == {}


def test_the_limit_that_binds_is_named_with_what_a_little_more_buys() -> None:
    shop = goods(
        "bottle,water,basic,1,500,500,4,500,,,,4,0", "tarp,shelter,basic,1,50,100,6,,,,,1,0"
    )
    need = (demand("water_start", "water_ml", 1000.0),)
    found = choose(None, shop, need, limits=Limits(budget=10, volume_ml=5000, mass_g=9000))
    (more,) = found.more
    assert (more.limit, more.step, more.within) == ("budget", 4.0, 10.0)  # a bottle's price
    assert more.takes == (("bottle", 1),)
    assert more.improves == "water_start"
    assert more.by == pytest.approx(500.0)
    assert choose(None, shop, need, limits=Limits(budget=99)).more == ()


@settings(max_examples=EXAMPLES // 4)
@given(st.integers(5, 120), st.integers(1000, 6000))
def test_more_money_or_room_never_makes_the_bag_worse(budget: int, volume: int) -> None:
    shop = read_catalogue()
    needs = (demand("water_start", "water_ml", 1500.0), demand("light", "light_h", 4.0, "h"))

    def ranked(more_money: float, more_room: float) -> tuple[float, ...]:
        found = choose(
            None, shop, needs, ask_more=False,
            limits=Limits(budget=budget + more_money, volume_ml=volume + more_room),
        )  # fmt: skip
        return tuple(float(purpose in found.uncovered) for purpose in NEEDED_PURPOSES[:4]) + tuple(
            round(found.unmet.get(one.key, 0.0), 3) for one in needs
        )

    plain = ranked(0, 0)
    assert ranked(7, 0) <= plain
    assert ranked(0, 700) <= plain
