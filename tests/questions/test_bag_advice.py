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
from simulator.questions.bag import _keys_and_tablets

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
