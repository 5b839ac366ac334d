"""Who may be relied on for water, rule by rule, on one tap."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from simulator.home.refills import _barred
from simulator.home.scene import Scene


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
