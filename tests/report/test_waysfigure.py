"""Several ways on one map: each drawn, named, told apart without colour."""

from __future__ import annotations

import re

import numpy as np

from simulator.report.figures.map import ways_map
from simulator.report.figures.style import SMALLEST_PT, svg_text
from tests.report.conftest import FixtureWalk


def test_every_way_is_drawn_and_named_once(walk: FixtureWalk) -> None:
    line = np.asarray(walk.path_lonlat)
    others = {"by the hill": line + 0.002, "by the <b>valley</b>": line - 0.002}
    svg = svg_text(ways_map(walk, others, name="fastest"), prefix="a")
    assert svg.count('id="a-way"') == 1
    assert re.findall(r'id="a-(other-\d)"', svg) == ["other-1", "other-2"]
    assert svg.count(">fastest<") == 1
    assert svg.count(">by the hill<") == 1
    assert "<b>" not in svg


def test_other_ways_differ_in_their_dashes(walk: FixtureWalk) -> None:
    line = np.asarray(walk.path_lonlat)
    axes = ways_map(walk, {"one": line + 0.002, "two": line - 0.002})
    ways = [
        str(other._dash_pattern)  # type: ignore[attr-defined]
        for other in axes.get_lines()
        if str(other.get_gid()).startswith(("way", "other"))
    ]
    assert len(set(ways)) == len(ways) == 3


def test_all_ways_lie_inside_the_frame_at_one_scale(walk: FixtureWalk) -> None:
    line = np.asarray(walk.path_lonlat)
    axes = ways_map(walk, {"far off": line + 0.05})
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    for drawn in axes.get_lines():
        if str(drawn.get_gid()).startswith(("way", "other")):
            x, y = np.asarray(drawn.get_xdata()), np.asarray(drawn.get_ydata())
            assert x0 < x.min() <= x.max() < x1
            assert y0 < y.min() <= y.max() < y1
    width, height = axes.get_window_extent().size
    assert np.isclose(width / (x1 - x0), height / (y1 - y0), rtol=1e-6)


def test_no_text_of_it_is_too_small(walk: FixtureWalk) -> None:
    svg = svg_text(ways_map(walk, {}), prefix="a")
    assert min(float(size) for size in re.findall(r"font-size: ([\d.]+)px", svg)) >= SMALLEST_PT
