"""Figures: what they show, and that they leave nothing behind."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from xml.etree import ElementTree as ET

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from pyproj import Geod

from simulator.report.figures.alt import (
    describe_ledger,
    describe_map,
    describe_profile,
    describe_strip,
)
from simulator.report.figures.map import (
    POINTS_DRAWN,
    Plane,
    chained,
    fitting_height_in,
    route_map,
)
from simulator.report.figures.profile import ledger, profile, refill_strip
from simulator.report.figures.style import (
    ACCENT,
    GIVES,
    GLYPHS,
    GREY,
    INK,
    PAPER,
    SMALLEST_PT,
    Labels,
    first_given,
    svg_text,
)
from tests.report.conftest import FixtureWalk, MakeWalk
from tests.report.grid_town import grid_streets

Draw = Callable[..., Axes]
DRAWINGS: tuple[Draw, ...] = (route_map, profile, ledger, refill_strip)
WORDS = (describe_map, describe_profile, describe_ledger, describe_strip)


def words_in(axes: Axes, prefix: str = "x") -> list[str]:
    root = ET.fromstring(svg_text(axes, prefix=prefix))  # noqa: S314 - our own drawing
    return ["".join(e.itertext()).strip() for e in root.iter() if e.tag.endswith("}text")]


@pytest.mark.parametrize("draw", DRAWINGS)
def test_a_figure_can_be_drawn_alone_or_on_axes_of_ones_own(draw: Draw, walk: FixtureWalk) -> None:
    figure = Figure()
    mine = figure.add_subplot()
    assert draw(walk, mine) is mine
    assert draw(walk).get_figure() is not figure


@pytest.mark.parametrize("draw", DRAWINGS)
def test_the_same_walk_gives_the_same_drawing(draw: Draw, walk: FixtureWalk) -> None:
    assert svg_text(draw(walk), prefix="a") == svg_text(draw(walk), prefix="a")


def test_drawing_changes_no_setting_of_the_process(walk: FixtureWalk) -> None:
    before = dict(mpl.rcParams)
    for draw in DRAWINGS:
        svg_text(draw(walk), prefix="a")
    assert dict(mpl.rcParams) == before


@pytest.mark.parametrize("draw", DRAWINGS)
def test_no_text_is_smaller_than_seven_points(draw: Draw, walk: FixtureWalk) -> None:
    svg = svg_text(draw(walk), prefix="a")
    sizes = [float(size) for size in re.findall(r"font-size: ([\d.]+)px", svg)]
    assert sizes
    assert min(sizes) >= SMALLEST_PT


def relative_luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("colour", [INK, GREY, ACCENT])
def test_text_stands_out_from_paper(colour: str) -> None:
    # WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text.
    ratio = (relative_luminance(PAPER) + 0.05) / (relative_luminance(colour) + 0.05)
    assert ratio >= 4.5


def test_a_drawing_holds_nothing_active_and_no_outside_address(hostile: FixtureWalk) -> None:
    for draw in DRAWINGS:
        root = ET.fromstring(svg_text(draw(hostile), prefix="a"))  # noqa: S314 - our own drawing
        for element in root.iter():
            assert element.tag.rpartition("}")[2] not in {"script", "foreignObject", "image", "a"}
            for key, value in element.attrib.items():
                assert not key.rpartition("}")[2].startswith("on")
                assert "http" not in value
                if key.rpartition("}")[2] == "href":
                    assert value.startswith("#")


def test_two_drawings_in_one_page_share_no_id(walk: FixtureWalk) -> None:
    first = set(re.findall(r' id="([^"]+)"', svg_text(profile(walk), prefix="a")))
    second = set(re.findall(r' id="([^"]+)"', svg_text(profile(walk), prefix="b")))
    assert first
    assert not first & second


def test_the_map_tells_clock_times_start_home_and_distance(walk: FixtureWalk) -> None:
    words = words_in(route_map(walk))
    assert "start 16:30" in words
    assert "home 22:33" in words
    assert {"17:30", "18:30", "B", "C"} <= set(words)
    assert "10 km" in words
    assert any("OpenStreetMap" in word for word in words)


def test_hours_spent_on_one_spot_share_one_mark(walk: FixtureWalk) -> None:
    # A halt of three hours half way: every later step is reached three hours later.
    steps = walk.segments
    middle = len(steps) // 2
    elapsed = steps["elapsed_s"] + np.where(np.arange(len(steps)) >= middle, 3.0 * 3600.0, 0.0)
    halted = replace(walk, segments=steps.assign(elapsed_s=elapsed))
    words = words_in(route_map(halted))
    assert [word for word in words if " to " in word] == ["19:30 to 22:30"]
    assert "20:30" not in words


def test_the_map_is_true_to_scale_both_ways(walk: FixtureWalk) -> None:
    axes = route_map(walk)
    width, height = axes.get_window_extent().size
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    assert (x1 - x0) / width == pytest.approx((y1 - y0) / height, rel=1e-6)


@pytest.mark.parametrize("lat", [-55.0, 0.0, 46.0, 69.0])
def test_the_flat_picture_keeps_distances_within_half_a_percent(lat: float) -> None:
    # Against WGS 84 geodesics from PROJ; the picture is a sphere of mean radius, which differs
    # from the ellipsoid by up to 0.34 % (flattening 1/298).
    plane = Plane(10.0, lat)
    ends = np.array([[9.92, lat - 0.05], [10.09, lat + 0.06]])
    flat = np.hypot(*np.diff(plane.project(ends[:, 0], ends[:, 1]), axis=0)[0])
    true = Geod(ellps="WGS84").inv(*ends[0], *ends[1])[2]
    assert flat == pytest.approx(true, rel=5e-3)


def test_a_way_over_the_date_line_stays_in_one_piece() -> None:
    plane = Plane(179.99, 60.0)
    points = plane.project(np.array([179.98, -179.99]), np.array([60.0, 60.0]))
    assert abs(points[1, 0] - points[0, 0]) < 2000.0


def test_segments_that_follow_one_another_become_one_line() -> None:
    points = np.arange(12.0).reshape(6, 2)
    line = chained(
        np.array([0, 1, 3, 4], dtype=np.int32),
        np.array([1, 2, 4, 5], dtype=np.int32),
        np.array([7, 7, 7, 8], dtype=np.int32),
        points,
    )
    gap = [np.nan, np.nan]
    expected = np.array([*points[:3], gap, *points[3:5], gap, *points[4:6]])
    np.testing.assert_array_equal(line, expected)
    nothing = np.array([], dtype=np.int32)
    assert chained(nothing, nothing, nothing, points).shape == (0, 2)


def test_a_large_city_stays_a_small_drawing(walk: FixtureWalk) -> None:
    city = replace(walk, streets=grid_streets(columns=330, rows=330, spacing_m=60.0))
    assert city.streets.tail.size > 4 * POINTS_DRAWN
    assert len(svg_text(route_map(city), prefix="a")) < 1_500_000


def test_labels_keep_clear_of_one_another() -> None:
    axes = Figure(figsize=(4, 4), dpi=72).add_axes((0, 0, 1, 1))
    axes.set_xlim(0, 288)
    axes.set_ylim(0, 288)
    labels = Labels(axes, (288.0, 288.0))
    rng = np.random.default_rng(1)
    spots = [
        (p + np.array(labels.spot(*p, wide=30.0, high=9.0, away=(6.0, 12.0, 20.0))[:2]))  # type: ignore[index]
        for p in rng.uniform(60, 228, (14, 2))
    ]
    for index, one in enumerate(spots):
        for other in spots[index + 1 :]:
            apart = np.abs(one - other)
            assert apart[0] >= 30.0 - 1e-6 or apart[1] >= 9.0 - 1e-6


def test_each_need_has_a_mark_of_its_own() -> None:
    assert set(GLYPHS) == set(GIVES)
    shapes = {np.asarray(GLYPHS[name].vertices).tobytes() for name in GIVES}
    assert len(shapes) == len(GIVES)
    assert first_given({"rest", "help", "water"}) == "water"
    assert first_given(()) == "rest"


def test_a_tall_way_gets_a_tall_map_and_a_wide_one_a_low_map(walk: FixtureWalk) -> None:
    middle = walk.path_lonlat.mean(axis=0)
    tall = replace(walk, path_lonlat=middle + (walk.path_lonlat - middle) * [0.2, 1.0])
    wide = replace(walk, path_lonlat=middle + (walk.path_lonlat - middle) * [1.0, 0.2])
    heights = [fitting_height_in(w, 7.0, 20.0) for w in (wide, walk, tall)]
    assert heights == sorted(heights)
    assert fitting_height_in(tall, 7.0, 3.0) == 3.0


def test_the_profile_shows_dark_and_the_hours(walk: FixtureWalk) -> None:
    words = words_in(profile(walk))
    assert "night" in words
    assert "distance from the start (km)" in words
    assert "height (m)" in words


def test_us_units_reach_every_axis(make_walk: MakeWalk) -> None:
    walk = make_walk(units="us")
    assert "distance from the start (mi)" in words_in(profile(walk))
    assert "height (ft)" in words_in(profile(walk))
    assert "water (fl oz)" in words_in(ledger(walk))
    assert "warmth (°F)" in words_in(ledger(walk))
    assert "5 mi" in words_in(route_map(walk))
    assert any(
        re.fullmatch(r"no ready water for [\d.]+ mi", w) for w in words_in(refill_strip(walk))
    )


def test_figures_can_be_drawn_without_any_place_or_height(walk: FixtureWalk) -> None:
    steps = walk.segments.assign(height_m=np.nan, rise_m=np.nan)
    bare = replace(walk, refills=walk.refills.iloc[:0], segments=steps, lines=())
    for draw in DRAWINGS:
        svg_text(draw(bare), prefix="a")
    for describe in (describe_map, describe_ledger, describe_strip, describe_profile):
        assert describe(bare)


def test_flat_ground_for_want_of_heights_is_said_aloud(walk: FixtureWalk) -> None:
    streets = type(walk.streets)(**(vars(walk.streets) | {"terrain": None}))
    flat = replace(walk, streets=streets)
    assert any("counted as flat" in word for word in words_in(profile(flat)))
    assert "not known" in describe_profile(flat)
    assert not any("counted as flat" in word for word in words_in(profile(walk)))


def without_some_heights(walk: FixtureWalk, first: int, after: int) -> FixtureWalk:
    known = np.ones(len(walk.segments), dtype=bool)
    known[first:after] = False
    return replace(walk, segments=walk.segments.assign(height_known=known))


def test_unknown_heights_are_dotted_broken_and_named(walk: FixtureWalk) -> None:
    third = len(walk.segments) // 3
    holed = without_some_heights(walk, third, 2 * third)
    begin, end = walk.segments["distance_m"].iloc[[third, 2 * third]]
    # Two rows of dots on the map, one in the key; none of it where all heights are known.
    for each, marked in ((walk, False), (holed, True)):
        drawn, line = route_map(each), profile(each)
        dots = [one for one in drawn.lines if one.get_gid() == "unknown-heights"]
        gaps = [one for one in line.lines if one.get_gid() == "height-unknown"]
        assert [bool(dots), bool(gaps)] == [marked, marked]
        assert ("height unknown" in words_in(drawn)) == marked
        assert ("height unknown" in words_in(line)) == marked
        assert ("Heights are unknown from km" in describe_map(each)) == marked
        assert ("Heights are unknown from km" in describe_profile(each)) == marked
    (gap,) = gaps
    assert gap.get_color() == PAPER  # a broken line: it is told apart without colour
    assert gap.get_linestyle() != "-"
    across = np.asarray(gap.get_xdata(), dtype=np.float64)
    assert [across[0], across[-1]] == pytest.approx([begin / 1000.0, end / 1000.0])
    assert f"{begin / 1000.0:.1f} to {end / 1000.0:.1f}" in describe_map(holed)


def test_the_dots_stand_on_both_sides_of_the_unknown_stretch_only(walk: FixtureWalk) -> None:
    holed = without_some_heights(walk, 10, 30)
    (dots,) = [one for one in route_map(holed).lines if one.get_gid() == "unknown-heights"]
    points = np.asarray(dots.get_xydata(), dtype=np.float64).reshape(-1, 2, 2)
    way = walk.path_lonlat
    middle = (way.min(axis=0) + way.max(axis=0)) / 2.0
    on_way = Plane(float(middle[0]), float(middle[1])).project(way[:, 0], way[:, 1])
    for pair in points:
        nearest = int(np.argmin(np.hypot(*(on_way - pair.mean(axis=0)).T)))
        assert 9 <= nearest <= 31
        assert np.hypot(*(pair[0] - pair[1])) > 0.0


def test_a_short_unknown_stretch_gets_a_question_mark(walk: FixtureWalk) -> None:
    words = words_in(profile(without_some_heights(walk, 5, 6)))
    assert "?" in words
    assert "height unknown" not in words


def test_a_walk_of_a_few_steps_can_be_drawn(walk: FixtureWalk) -> None:
    short = replace(
        walk,
        segments=walk.segments.iloc[:3],
        hours=walk.hours.iloc[:1],
        path_lonlat=walk.path_lonlat[:4],
        refills=walk.refills.iloc[:1],
    )
    for draw in DRAWINGS:
        svg_text(draw(short), prefix="a")


@pytest.mark.parametrize("describe", WORDS)
def test_every_figure_can_be_told_in_words(
    describe: Callable[[FixtureWalk], str], walk: FixtureWalk, hostile: FixtureWalk
) -> None:
    assert describe(walk).endswith(".")
    assert "\u202e" not in describe(hostile)


def test_the_words_name_the_first_hour_that_runs_short(walk: FixtureWalk) -> None:
    first = int(np.flatnonzero(walk.hours["water_short_ml"] > 0)[0]) + 1
    assert f"water is short from hour {first}" in describe_ledger(walk)
