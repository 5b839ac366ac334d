"""Who may be relied on for water, rule by rule, on one tap."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from simulator.home.refills import _barred, way_need
from simulator.home.scene import Scene
from simulator.walk.records import Doing, Outcome, Stop, Total, Trace


def tap(
    *, key: bool = False, raw: bool = False, locked: bool = False, has_key: bool = False,
    treats_ml: float = 0.0,
) -> Scene:  # fmt: skip
    places = SimpleNamespace(
        needs_key=np.array([key]),
        needs_treatment=np.array([raw]),
        always_open=np.array([not locked]),
    )
    carried = SimpleNamespace(has_key=has_key, treats_ml=treats_ml)
    return cast("Scene", SimpleNamespace(places=places, carried=carried))


@pytest.mark.parametrize(
    ("scene", "state", "why"),
    [
        (tap(), None, ""),
        (tap(), True, ""),
        (tap(), False, "closed on arrival"),
        (tap(locked=True), None, "opening hours unknown, so not relied on"),
        (tap(locked=True), True, ""),
        (tap(key=True), None, "needs a spigot key and leave of the owner; no key in the bag"),
        (tap(key=True), True, "needs a spigot key and leave of the owner; no key in the bag"),
        (tap(key=True, has_key=True), None, ""),
        (tap(raw=True), None, "untreated water, and nothing in the bag treats it"),
        (tap(raw=True, treats_ml=500.0), None, ""),
        (tap(key=True, raw=True, has_key=True), None,
         "untreated water, and nothing in the bag treats it"),
    ],
)  # fmt: skip
def test_a_tap_is_barred_by_what_is_missing(scene: Scene, state: bool | None, why: str) -> None:
    assert _barred(scene, 0, state) == why


def test_the_need_of_a_way_leaves_out_the_stops_for_water_and_nothing_else() -> None:
    # Two walkers: 1000 s of walking for 100 mL, a stop for water of 200 s and 30 mL, a wait for
    # first light of 300 s and 40 mL, 1000 s of walking for 100 mL.
    walking = Doing.MOVE
    totals = np.zeros((4, len(Total), 2))
    totals[:, Total.CLOCK_S] = np.array([1000.0, 1200.0, 1500.0, 2500.0])[:, np.newaxis]
    totals[:, Total.LOST_ML] = np.array([50.0, 65.0, 85.0, 135.0])[:, np.newaxis]
    trace = Trace(
        step=np.array([0, 1, 1, 1]),
        doing=np.array([walking, Doing.STOP, Doing.STOP, walking], dtype=np.int8),
        stop=np.array([-1, 0, 1, -1]),
        distance_m=np.array([1500.0, 1500.0, 1500.0, 3000.0]),
        totals=totals,
    )
    stops = [SimpleNamespace(until_epoch_s=None), SimpleNamespace(until_epoch_s=1.0)]
    need = way_need(cast("Outcome", SimpleNamespace(trace=trace)), cast("list[Stop]", stops))
    assert need.need_ml.tolist() == [100.0, 100.0, 140.0, 240.0]
    assert need.clock_s.tolist() == [1000.0, 1200.0, 1500.0, 2500.0]
    assert need.mean_ml_s == pytest.approx(240.0 / 2300.0)
