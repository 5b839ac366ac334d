"""What the summary says of a way, by hand on four steps."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pandas as pd
import pytest

from simulator.home.scene import MOVED, Scene
from simulator.home.summary import _route
from simulator.home.walked import Walked
from tests.walk.conftest import make_course


def test_every_sum_of_the_way_is_of_all_its_steps() -> None:
    # Steps of 100 m: up 3, down 1, up 2, down 5; the second and the fourth are stairs, the third is
    # a tunnel, the first two are unlit. The second and third lie on one bridge, the fourth on
    # another, which the map lists first.
    course = replace(
        make_course(400.0, step_m=100.0),
        rise_m=np.array([3.0, -1.0, 2.0, -5.0]),
        stairs=np.array([False, True, False, True]),
        tunnel=np.array([False, False, True, False]),
        segment=np.array([0, 1, 2, 3], dtype=np.int32),
    )
    crossings = SimpleNamespace(
        of_segment=np.array([-1, 1, 1, 0]),
        name=("Far Bridge", "Near Bridge"),
        way_ids=((7,), (8, 9)),
        lat=np.array([46.1, 46.2]),
        lon=np.array([-64.1, -64.2]),
    )
    scene = SimpleNamespace(
        ground=SimpleNamespace(crossings=crossings),
        closure=SimpleNamespace(matched=("Old Bridge",)),
        notes=("something else", f"{MOVED} 40 m"),
    )
    segments = pd.DataFrame({"run_m": course.run_m, "unlit": [True, True, False, False]})
    walked = SimpleNamespace(way=SimpleNamespace(course=course))
    told = _route(cast("Scene", scene), cast("Walked", walked), segments)
    assert told.distance_km == pytest.approx(0.4)
    assert (told.ascent_m, told.descent_m) == (5.0, 6.0)
    assert (told.steps_m, told.tunnel_m) == (200.0, 100.0)
    assert told.unlit_km == pytest.approx(0.2)
    assert told.bridges == ("Near Bridge", "Far Bridge")
    assert [one.along_km for one in told.crossings] == pytest.approx([0.1, 0.3])
    assert [one.ways for one in told.crossings] == [(8, 9), (7,)]
    assert [(one.lat, one.lon) for one in told.crossings] == [(46.2, -64.2), (46.1, -64.1)]
    assert told.closed == ("Old Bridge",)
    assert told.moved == ("40 m",)
