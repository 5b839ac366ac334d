"""Room in a bag as it is: filled flasks, pockets, and things that need one another."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from simulator.bag.catalogue import Catalogue, parse_catalogue, read_catalogue
from simulator.bag.choose import Choice, Limits, choose
from simulator.bag.fit import Demand, filled_room_ml, flasks_filled
from simulator.bag.items import Items, parse_items
from simulator.bag.programme import (
    Constraint,
    Goal,
    PackLimit,
    Rooms,
    best,
    unplaced,
    widening_for,
)
from tests.conftest import EXAMPLES

HEADER = (
    "item,purpose,kind,tier,quantity,mass_g,volume_ml,price,water_ml,holds_ml,light_h,power_wh,"
    "fits,most,value\n"
)


def goods(*rows: str) -> Catalogue:
    return parse_catalogue(HEADER + "\n".join(rows) + "\n")


def owned(*rows: str) -> Items:
    head = HEADER.replace(",most,value", "")
    return parse_items(head + "\n".join(rows) + "\n")


def taken(choice: Choice) -> dict[str, int]:
    return dict(zip(choice.items.item, choice.items.quantity.astype(int).tolist(), strict=True))


FLASK = "flask,water,flask,basic,1,35,60,6,0,500,,,,2,0"
BOTTLE = "bottle,water,bottle,basic,1,90,560,3,0,500,,,,2,0"


# A flask of 35 g that is rolled up to 60 ml takes 560 ml and 535 g with half a litre in it.
def test_a_flask_that_is_relied_on_takes_its_filled_volume_and_mass() -> None:
    need = (Demand("water_capacity", "room for water", "ml", ("holds_ml",), 500.0, ""),)
    found = choose(None, goods(FLASK), need, limits=Limits(volume_ml=600.0, mass_g=1000.0))
    assert taken(found) == {"flask": 1}
    assert found.filled == (("flask", 1),)
    assert (found.volume_ml, found.mass_g) == (560.0, 535.0)
    tight = choose(None, goods(FLASK), need, limits=Limits(volume_ml=559.0))
    assert tight.unmet == {"water_capacity": pytest.approx(500.0)}
    heavy = choose(None, goods(FLASK), need, limits=Limits(mass_g=534.0))
    assert heavy.unmet == {"water_capacity": pytest.approx(500.0)}
    # One that is not relied on stays rolled up.
    spare = choose(
        owned("flask,water,flask,basic,1,35,60,6,0,500,,,"),
        goods(BOTTLE),
        need,
        limits=Limits(volume_ml=700.0),
    )
    assert taken(spare) == {"flask": 1}
    assert choose(None, goods(FLASK), (), limits=Limits(volume_ml=60.0)).volume_ml == 60.0


@pytest.mark.parametrize(
    ("row", "room_ml"),
    [
        ("f,water,flask,basic,1,35,60,6,0,500,,,", 560.0),
        ("f,water,flask,basic,1,285,310,6,250,500,,,", 560.0),
        ("b,water,bottle,basic,1,90,560,6,0,500,,,", 560.0),
        ("b,water,bottle,basic,1,640,560,6,500,500,,,", 560.0),
        ("f,water,flask,basic,1,500,100,6,400,500,,,", 500.0),
    ],
)
def test_a_filled_volume_is_never_less_than_the_water_in_it(row: str, room_ml: float) -> None:
    items = owned(row)
    assert filled_room_ml(items).tolist() == [room_ml]
    assert filled_room_ml(items)[0] >= items.holds_ml[0]


def test_only_as_many_flasks_are_filled_as_the_walk_needs() -> None:
    items = owned(
        "bottle,water,bottle,basic,1,640,560,6,500,500,,,",
        "small,water,flask,basic,2,35,60,6,0,500,,,",
        "large,water,flask,basic,1,50,90,6,0,1000,,,",
    )
    assert flasks_filled(items, 500.0).tolist() == [0, 0, 0]
    assert flasks_filled(items, 900.0).tolist() == [0, 1, 0]
    assert flasks_filled(items, 1900.0).tolist() == [0, 1, 1]
    assert flasks_filled(items, 9000.0).tolist() == [0, 2, 1]


def test_pockets_bind_the_choice() -> None:
    shop = goods(
        "roll,shelter,tarp,basic,1,100,900,5,,,,,,1,9",
        "jacket,shelter,rainwear,comfort,1,100,500,5,,,,,,1,3",
        "bar,food,,basic,1,50,100,1,,,,,,9,1",
    )
    whole = choose(None, shop, (), limits=Limits(volume_ml=1000.0, rooms_ml=(1000.0,)))
    assert taken(whole) == {"roll": 1, "bar": 1}
    split = choose(None, shop, (), limits=Limits(volume_ml=1000.0, rooms_ml=(600.0, 400.0)))
    assert taken(split) == {"jacket": 1, "bar": 5}
    room = [(one.step, one.takes, one.leaves) for one in split.more if one.limit == "volume"]
    # 100 ml more take a sixth bar; 500 ml the roll with two bars beside it, four in the pocket.
    assert room == [
        (100.0, (("bar", 1),), ()),
        (500.0, (("roll", 1), ("bar", 1)), (("jacket", 1),)),
    ]


def test_more_money_brings_nothing_where_the_pockets_are_full() -> None:
    # Five bars of 100 ml fill 300 and 200 ml and cost all there is; one limit alone opens nothing.
    shop = goods("bar,food,,basic,1,50,100,1,,,,,,9,1")
    limits = Limits(volume_ml=500.0, rooms_ml=(300.0, 200.0), spend=5.0)
    full = choose(None, shop, (), limits=limits)
    assert taken(full) == {"bar": 5}
    assert full.more == ()
    # With room to spare a sixth bar costs one more, and the room is not asked for.
    roomy = Limits(volume_ml=900.0, rooms_ml=(700.0, 200.0), spend=5.0)
    (more,) = choose(None, shop, (), limits=roomy).more[:1]
    assert (more.limit, more.step, more.takes) == ("spend", 1.0, (("bar", 1),))


def places_all(sizes: list[int], rooms: list[int]) -> bool:
    """Try every way of laying pieces into compartments."""
    return any(
        all(
            sum(size for size, at in zip(sizes, where, strict=True) if at == room) <= most
            for room, most in enumerate(rooms)
        )
        for where in itertools.product(range(len(rooms)), repeat=len(sizes))
    )


@settings(max_examples=2 * EXAMPLES)
@given(
    st.lists(st.integers(1, 9), max_size=6), st.lists(st.integers(1, 12), min_size=1, max_size=3)
)
def test_what_finds_a_room_is_what_trying_every_way_finds(
    sizes: list[int], rooms: list[int]
) -> None:
    given_rooms = Rooms(np.array(sizes, dtype=float), np.array(rooms, dtype=float))
    left = unplaced(given_rooms, np.ones(len(sizes), dtype=np.int64))
    assert (left.sum() == 0) == places_all(sizes, rooms)
    kept = [size for size, out in zip(sizes, left.tolist(), strict=True) if not out]
    assert places_all(kept, rooms)
    assert not any(
        places_all(list(more), rooms) for more in itertools.combinations(sizes, len(kept) + 1)
    )


@given(st.data())
def test_the_best_within_compartments_is_the_best_of_all_that_go_in(data: st.DataObject) -> None:
    size = data.draw(st.integers(1, 4))
    whole = st.integers(1, 6)
    numbers = st.lists(whole, min_size=size, max_size=size)
    volume, value = data.draw(numbers), data.draw(numbers)
    upper = np.array(data.draw(st.lists(st.integers(0, 2), min_size=size, max_size=size)))
    rooms = data.draw(st.lists(st.integers(1, 8), min_size=2, max_size=3))
    goals = [
        Goal("value", np.array(value, dtype=float), "most"),
        Goal("room", np.array(volume, dtype=float), "least"),
    ]
    found = best(
        upper, (), goals, rooms=Rooms(np.array(volume, dtype=float), np.array(rooms, dtype=float))
    )

    def laid(counts: tuple[int, ...]) -> bool:
        return places_all(
            [v for v, count in zip(volume, counts, strict=True) for _ in range(count)], rooms
        )

    every = [
        one for one in itertools.product(*(range(most + 1) for most in upper.tolist())) if laid(one)
    ]
    assert laid(tuple(found.tolist()))
    assert tuple(goal.score(found) for goal in goals) == min(
        tuple(goal.score(np.array(one)) for goal in goals) for one in every
    )


# The same small programme stated a second time, from the rule, for scipy's other interface.
@given(st.data())
def test_an_independent_integer_programme_agrees(data: st.DataObject) -> None:
    size = data.draw(st.integers(2, 9))
    numbers = st.lists(st.integers(1, 20), min_size=size, max_size=size)
    price, volume, value = (np.array(data.draw(numbers), dtype=float) for _ in range(3))
    upper = np.array(data.draw(st.lists(st.integers(0, 3), min_size=size, max_size=size)))
    money, room = float(data.draw(st.integers(0, 90))), float(data.draw(st.integers(0, 90)))
    found = best(
        upper,
        [PackLimit("budget", price, money), PackLimit("volume", volume, room)],
        [Goal("value", value, "most"), Goal("price", price, "least")],
    )
    first = linprog(
        -value,
        A_ub=np.array([price, volume]),
        b_ub=np.array([money, room]),
        bounds=[(0, most) for most in upper],
        integrality=1,
    )
    assert first.fun is not None
    assert value @ found == pytest.approx(-first.fun)
    second = linprog(
        price,
        A_ub=np.array([price, volume, -value]),
        b_ub=np.array([money, room, first.fun + 1e-7]),
        bounds=[(0, most) for most in upper],
        integrality=1,
    )
    assert price @ found == pytest.approx(second.fun)


def test_a_power_bank_comes_with_its_cable_and_a_lamp_with_cells_that_fit() -> None:
    shop = goods(
        "bank,power,power bank,basic,1,75,60,7,,,,10,USB,1,0",
        "cable,power,cable,basic,1,15,25,2,,,,,USB,1,0",
        "thin cable,power,cable,basic,1,15,25,1,,,,,barrel,1,0",
        "bare lamp,light,lamp,basic,1,45,45,3,,,0,,AAA,1,0",
        "cells,power,cells,basic,1,30,20,2,,,20,,AAA,2,0",
        "fat cells,power,cells,basic,1,30,20,1,,,20,,D,2,0",
        "glow stick,light,marker,basic,1,25,30,1,,,8,,,2,0",
    )
    needs = (
        Demand("light", "light", "h", ("light_h",), 4.0, ""),
        Demand("phone_power", "power", "Wh", ("power_wh",), 5.0, ""),
    )
    found = choose(None, shop, needs, limits=Limits())
    assert {"bank", "cable", "bare lamp", "cells"} <= set(taken(found))
    assert not {"thin cable", "fat cells"} & set(taken(found))
    assert found.unmet == {}
    assert "light" not in found.uncovered
    poor = choose(None, shop, needs, limits=Limits(spend=4.0))  # not both lamp and cells
    assert "bare lamp" not in taken(poor)
    assert poor.unmet["light"] == pytest.approx(4.0)


# Two amounts -----------------------------------------------------------------------------------


def test_what_the_bag_may_cost_in_all_counts_what_was_spent_before() -> None:
    have = owned("hat,warmth,hat,basic,1,50,90,30,,,,,")
    shop = goods("tarp,shelter,tarp,basic,1,50,90,10,,,,,,1,0")
    assert taken(choose(have, shop, (), limits=Limits(budget=40.0))) == {"hat": 1, "tarp": 1}
    assert taken(choose(have, shop, (), limits=Limits(budget=39.0))) == {"hat": 1}
    assert taken(choose(have, shop, (), limits=Limits(spend=10.0))) == {"hat": 1, "tarp": 1}
    assert taken(choose(have, shop, (), limits=Limits(budget=99.0, spend=9.0))) == {"hat": 1}
    (more,) = choose(have, shop, (), limits=Limits(budget=99.0, spend=9.5)).more
    assert (more.limit, more.step) == ("spend", 0.5)
    assert choose(have, shop, (), limits=Limits(budget=20.0)).bought.item == ()


@settings(max_examples=max(EXAMPLES // 12, 1))
@given(st.integers(10, 70), st.integers(1500, 4500))
def test_a_breakpoint_is_the_least_that_brings_anything(money: int, room: int) -> None:
    shop = read_catalogue()
    needs = (Demand("water_capacity", "room for water", "ml", ("holds_ml",), 1500.0, ""),)

    def chosen(spend: float, volume: float) -> Choice:
        return choose(
            None, shop, needs, ask_more=False, limits=Limits(spend=spend, volume_ml=volume)
        )

    limits = Limits(spend=float(money), volume_ml=float(room))
    found = choose(None, shop, needs, limits=limits)
    for one in found.more:
        wide = np.array([one.step, 0.0]) if one.limit == "spend" else np.array([0.0, one.step])
        least = 0.05 if one.limit == "spend" else 1.0  # finer than any price or volume of the list
        after = chosen(*(np.array([money, room]) + wide + 1e-6))
        assert taken(after) != taken(found)
        if one is next(other for other in found.more if other.limit == one.limit):
            before = chosen(*(np.array([money, room]) + wide - least * (wide > 0.0)))
            assert before.value == pytest.approx(found.value)
            assert before.unmet == pytest.approx(found.unmet)
            assert before.uncovered == found.uncovered


def test_only_the_volume_is_widened_in_the_pockets() -> None:
    # Pieces of 100 ml and 50 g; three pockets' worth is wanted. By hand: with pockets of 100 and
    # 100 ml and a limit of 200 ml a third piece needs 100 ml more; with room for three but a limit
    # of 120 g it needs 30 g more, and with pockets for two no grams bring it.
    wanted = Constraint(np.ones(1), 3.0, np.inf)
    upper, one = np.array([9]), np.ones(1)
    volume, mass = PackLimit("volume", 100.0 * one, 200.0), PackLimit("mass", 50.0 * one, 120.0)
    two, three = (Rooms(100.0 * one, np.full(number, 100.0)) for number in (2, 3))
    assert widening_for(upper, [volume], 0, [wanted], two) == pytest.approx(100.0, abs=0.01)
    assert widening_for(upper, [volume], 0, [wanted], None) == pytest.approx(100.0, abs=0.01)
    assert widening_for(upper, [mass], 0, [wanted], three) == pytest.approx(30.0, abs=0.01)
    assert widening_for(upper, [mass], 0, [wanted], None) == pytest.approx(30.0, abs=0.01)
    assert widening_for(upper, [mass], 0, [wanted], two) is None
