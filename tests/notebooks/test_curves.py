"""Figures of models: what they say of a curve, and what they leave out."""

from __future__ import annotations

import re
import runpy
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree as ET

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from numpy.typing import NDArray

from simulator.body.catalogue import MODELS
from simulator.report.figures.style import SMALLEST_PT, svg_text

FloatArray = NDArray[np.float64]
ROOM = Path(__file__).resolve().parents[2] / "notebooks"
CURVES = runpy.run_path(str(ROOM / "curves.py"))
QUANTITIES, band_figure, held_at = CURVES["QUANTITIES"], CURVES["band_figure"], CURVES["held_at"]
lines_figure, model_figure, quantity = (
    CURVES[name] for name in ("lines_figure", "model_figure", "quantity")
)
sun_year = runpy.run_path(str(ROOM / "sun_chart.py"))["sun_year"]


@dataclass(frozen=True)
class Parabola:
    """A curve that is unknown below zero."""

    gives: str = "height of a ball"
    unit: str = "m"
    formula: str = r"\frac{x^2}{2}"
    across: str = "air_c"
    fixed: Mapping[str, float] = field(default_factory=dict)

    def curve(self, points: int = 201) -> tuple[FloatArray, FloatArray]:
        """Give half a parabola."""
        x = np.linspace(-1.0, 3.0, points)
        return x, np.where(x < 0.0, np.nan, 0.5 * x**2)


def words_in(axes: Axes) -> list[str]:
    root = ET.fromstring(svg_text(axes, prefix="x"))  # noqa: S314 - our own drawing
    return ["".join(e.itertext()).strip() for e in root.iter() if e.tag.endswith("}text")]


def drawn_points(axes: Axes, name: str) -> FloatArray:
    line = next(line for line in axes.get_lines() if line.get_gid() == name)
    return np.column_stack([line.get_xdata(), line.get_ydata()]).astype(np.float64)


def three_drawings() -> list[Axes]:
    x = np.linspace(0.0, 1.0, 5)
    days, hours = np.arange(0.0, 365.0, 7.0), np.linspace(0.0, 24.0, 49)
    heights = 40.0 * np.sin((hours - 6.0) / 12.0 * np.pi) + 0.0 * days[:, None]
    return [
        model_figure(Parabola()),
        lines_figure(x, {"one": x, "two": x**2}, across="way", up="cost"),
        band_figure(x, (x, 2.0 * x, 3.0 * x), across="way", up="cost"),
        sun_year(heights, days, hours, across="a year"),
    ]


def test_a_curve_is_drawn_as_the_model_gives_it_and_hatched_where_it_is_silent() -> None:
    axes = model_figure(Parabola())
    points = drawn_points(axes, "curve")
    x, y = Parabola().curve()
    np.testing.assert_array_equal(points, np.column_stack([x, y]))
    assert 'id="x-beyond"' in svg_text(axes, prefix="x")
    assert "height of a ball (m)" in words_in(axes)
    assert "air (°C)" in words_in(axes)


def test_the_formula_is_drawn_as_outlines_that_need_no_font() -> None:
    svg = svg_text(model_figure(Parabola()), prefix="x")
    assert 'id="x-formula"' in svg
    assert "frac" not in svg


@pytest.mark.parametrize("name", MODELS)
def test_every_model_of_the_catalogue_can_be_drawn(name: str) -> None:
    model = MODELS[name]
    axes = model_figure(model)
    _, y = model.curve()
    low, high = axes.get_ylim()
    assert low <= np.nanmin(y)
    assert np.nanmax(y) <= high
    assert quantity(model.across) in words_in(axes)


def test_every_argument_of_the_catalogue_has_words() -> None:
    used = {model.across for model in MODELS.values()}
    used |= {name for model in MODELS.values() for name in model.fixed}
    assert used <= QUANTITIES.keys()


def test_other_arguments_are_told_with_their_units() -> None:
    assert held_at({"mass_kg": 80.0, "load_kg": 5.0}) == "body mass 80 kg, load 5 kg"
    assert held_at({}) == ""


def test_lines_carry_their_names_and_no_name_covers_another() -> None:
    x = np.linspace(0.0, 1.0, 11)
    lines = {"first": x, "second": x + 0.001, "third": x + 0.002, "gone": np.full(11, np.nan)}
    axes = lines_figure(x, lines, across="way", up="cost")
    names = {text.get_text(): text for text in axes.texts}
    assert set(names) == {"first", "second", "third"}
    svg_text(axes, prefix="x")  # lays the figure out
    heights = sorted(text.xyann[1] for text in names.values())
    height_pt = axes.get_window_extent().height / axes.figure.dpi * 72.0
    assert np.diff(heights).min() * height_pt >= 9.9


def test_a_band_keeps_its_order_and_shows_where_no_source_reaches() -> None:
    x = np.linspace(0.0, 1.0, 11)
    axes = band_figure(x, (x, 2.0 * x, 3.0 * x), across="way", up="cost", outside=x < 0.5)
    assert 'id="x-beyond"' in svg_text(axes, prefix="x")
    assert axes.get_ylim()[0] == 0.0
    assert {"low", "middle", "high"} <= set(words_in(axes))


def test_these_drawings_are_in_the_house_style_and_leave_no_trace() -> None:
    before = dict(mpl.rcParams)
    for axes in three_drawings():
        svg = svg_text(axes, prefix="a")
        sizes = [float(size) for size in re.findall(r"font-size: ([\d.]+)px", svg)]
        assert sizes
        assert min(sizes) >= SMALLEST_PT
    assert dict(mpl.rcParams) == before


def test_the_same_model_gives_the_same_drawing() -> None:
    first, second = ([svg_text(axes, prefix="a") for axes in three_drawings()] for _ in range(2))
    assert first == second
