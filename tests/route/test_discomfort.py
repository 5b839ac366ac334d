"""What traffic does to a street: by hand, and what must hold whatever the numbers.

Source of every number: common practice (assumptions stated beside the constants).
"""

from __future__ import annotations

import numpy as np
import pytest

from simulator.ground.walkable import HIGHWAYS
from simulator.route.discomfort import CLASS_DISCOMFORT, discomfort


def of(kind: str, **given: float) -> float:
    """Discomfort of one street."""
    plain = {
        "maxspeed_km_h": 0.0,
        "lanes": 0,
        "sidewalk": False,
        "shoulder": False,
        "motorroad": False,
        "lit": 0,
    }
    dark = bool(given.pop("dark", False))
    columns = {key: np.array([value]) for key, value in (plain | given).items()}
    code = np.array([HIGHWAYS.index(kind)], np.int8)
    return float(discomfort(code, **columns, dark=dark)[0])


def test_a_country_road_by_hand() -> None:
    # 0.8 at 80 km/h; 100 km/h on three lanes: 0.8 · 100/80 · 1.3 = 1.3.
    assert of("primary") == pytest.approx(0.8)
    assert of("primary", maxspeed_km_h=100.0, lanes=3) == pytest.approx(1.3)
    # A sidewalk in town: 0.8 · 50/80 · 0.15.
    assert of("primary", sidewalk=True) == pytest.approx(0.075)
    # Unlit, in the dark: half as much again; lit, in the dark: as by day.
    assert of("secondary", dark=True) == pytest.approx(0.75)
    assert of("secondary", lit=1, dark=True) == of("secondary", lit=1)


@pytest.mark.parametrize("kind", ["path", "footway", "track", "steps", "pedestrian", "cycleway"])
def test_ways_without_motor_traffic_cost_their_time(kind: str) -> None:
    assert of(kind, maxspeed_km_h=100.0, lanes=4, dark=True) == 0.0


@pytest.mark.parametrize("kind", sorted(CLASS_DISCOMFORT))
def test_what_is_worse_is_never_better(kind: str) -> None:
    speeds = [of(kind, maxspeed_km_h=speed) for speed in (10.0, 30.0, 50.0, 80.0, 100.0, 200.0)]
    assert speeds == sorted(speeds)
    plain = of(kind, maxspeed_km_h=70.0)
    assert of(kind, maxspeed_km_h=70.0, sidewalk=True) < plain
    assert of(kind, maxspeed_km_h=70.0, shoulder=True) < plain
    assert of(kind, maxspeed_km_h=70.0, lanes=4) > plain
    assert of(kind, maxspeed_km_h=70.0, motorroad=True) > plain
    assert of(kind, maxspeed_km_h=70.0, dark=True) > plain


def test_greater_roads_are_worse() -> None:
    order = ["trunk", "primary", "secondary", "tertiary", "unclassified", "residential", "path"]
    values = [of(kind, maxspeed_km_h=50.0) for kind in order]
    assert values == sorted(values, reverse=True)


def test_scalars_and_arrays_agree() -> None:
    kinds = ["primary", "path", "residential", "trunk_link"]
    rows = discomfort(
        np.array([HIGHWAYS.index(kind) for kind in kinds], np.int8),
        maxspeed_km_h=np.array([50.0, 0.0, 30.0, 0.0]),
        lanes=np.array([2, 0, 0, 1]),
        sidewalk=np.array([True, False, False, False]),
        shoulder=np.zeros(4, bool),
        motorroad=np.array([False, False, False, True]),
        lit=np.array([1, 0, -1, -1], np.int8),
    )
    alone = [
        of("primary", maxspeed_km_h=50.0, lanes=2, sidewalk=True, lit=1),
        of("path"),
        of("residential", maxspeed_km_h=30.0, lit=-1),
        of("trunk_link", lanes=1, motorroad=True, lit=-1),
    ]
    assert rows.tolist() == alone
