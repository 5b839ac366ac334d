"""Advice on what opens more water: a key where taps need one, treatment where water is raw."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from simulator.bag.catalogue import read_catalogue
from simulator.bag.fit import Journey
from simulator.bag.items import parse_items
from simulator.home.scene import Scene
from simulator.home.way import Way
from simulator.questions import bag
from simulator.questions.bag import _keys_and_tablets, _other_ways, _streets

GOODS = read_catalogue()
BAG = parse_items("item,purpose,tier,quantity,mass_g\nhat,warmth,basic,1,80\n")


def advised(*, keys: bool, has_key: bool, raw: bool, treats_ml: float) -> list[str]:
    scene = SimpleNamespace(
        places=SimpleNamespace(needs_key=np.array([False, keys])),
        carried=SimpleNamespace(has_key=has_key, treats_ml=treats_ml),
    )
    journey = SimpleNamespace(raw_h=(1.0,) if raw else ())
    tries = _keys_and_tablets(cast("Scene", scene), cast("Journey", journey), BAG, GOODS)
    return [one.what for one in tries]


def test_a_key_is_advised_where_a_tap_needs_one_and_the_bag_has_none() -> None:
    (what,) = advised(keys=True, has_key=False, raw=False, treats_ml=0.0)
    assert what.startswith("add ")
    assert "key" in what
    assert advised(keys=True, has_key=True, raw=False, treats_ml=0.0) == []
    assert advised(keys=False, has_key=False, raw=False, treats_ml=0.0) == []


def test_treatment_is_advised_where_raw_water_lies_and_the_bag_treats_none() -> None:
    (what,) = advised(keys=False, has_key=False, raw=True, treats_ml=0.0)
    treats = {
        f"add {name}": ml for name, ml in zip(GOODS.items.item, GOODS.items.treats_ml, strict=True)
    }
    assert treats[what] > 0.0
    assert advised(keys=False, has_key=False, raw=True, treats_ml=500.0) == []


def test_the_cheapest_that_helps_is_advised() -> None:
    (what,) = advised(keys=False, has_key=False, raw=True, treats_ml=0.0)
    prices = {
        f"add {name}": price
        for name, price, ml in zip(
            GOODS.items.item, GOODS.items.price, GOODS.items.treats_ml, strict=True
        )
        if ml > 0.0
    }
    assert prices[what] == pytest.approx(min(prices.values()))


def test_another_way_is_named_by_its_two_longest_streets() -> None:
    # Street 0 has no name and is the longest; Mill Lane is walked twice, 300 m in all.
    streets = SimpleNamespace(ways=SimpleNamespace(name=["", "Mill Lane", "Low Road", "Weir Path"]))
    scene = cast("Scene", SimpleNamespace(streets=streets))

    def way_over(rows: list[int], run_m: list[float]) -> Way:
        course = SimpleNamespace(way=np.array(rows), run_m=np.array(run_m))
        return cast("Way", SimpleNamespace(course=course))

    way = way_over([0, 1, 2, 1, 3], [900.0, 200.0, 250.0, 100.0, 240.0])
    assert _streets(scene, way) == "Mill Lane and Low Road"
    assert _streets(scene, way_over([3, 2], [50.0, 50.0])) == "Low Road and Weir Path"
    assert _streets(scene, way_over([3], [50.0])) == "Weir Path"
    assert _streets(scene, way_over([0], [50.0])) == "streets without a name"


def test_another_way_is_looked_for_on_the_longest_part(monkeypatch: pytest.MonkeyPatch) -> None:
    # Three parts between the places to pass; the one in the middle costs most.
    class Legs:
        trips = ("first", "middle", "last")

        def with_leg(self, _scene: object, leg: int, path: str) -> SimpleNamespace:
            return SimpleNamespace(
                course=SimpleNamespace(way=np.array([leg]), run_m=np.array([5.0])), path=path
            )

    def others(trip: str, _length_m: object, *, count: int) -> list[SimpleNamespace]:
        return [SimpleNamespace(path=f"{trip} {number}") for number in range(count)]

    monkeypatch.setattr(bag, "street_times", lambda _scene: None)
    monkeypatch.setattr(bag, "prepare_legs", lambda _scene, _times: Legs())
    monkeypatch.setattr(bag, "alternatives", others)
    names = ("Ash Road", "Beech Road", "")
    streets = SimpleNamespace(ways=SimpleNamespace(name=names), length_m=np.zeros(3))
    way = SimpleNamespace(legs=[SimpleNamespace(cost=cost) for cost in (300.0, 900.0, 600.0)])
    tries = list(
        _other_ways(cast("Scene", SimpleNamespace(streets=streets)), cast("Way", way), BAG)
    )
    assert [cast("SimpleNamespace", one.way).path for one in tries] == ["middle 0", "middle 1"]
    assert {one.what for one in tries} == {"another way, by Beech Road"}
