"""The small map on the pocket card: black only, legible, and where there is room."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from simulator.report.figures.map import CARD_WIDTH_IN, LEAST_IN, MOST_IN, card_map, copied
from simulator.report.figures.style import SMALLEST_PT, svg_text
from simulator.report.paper.timeline import timeline_pdf
from tests.report.conftest import FixtureWalk, MakeWalk
from tests.report.test_figures import words_in
from tests.report.test_timeline import read

KEY = "Open square: start. Full: home."


def card_of(pdf: bytes) -> str:
    return " ".join(read(pdf).pages[-1].extract_text().split())


def test_it_shows_distances_and_planned_stops(walk: FixtureWalk, make_walk: MakeWalk) -> None:
    drawn = words_in(card_map(walk))
    stops = int(walk.refills["used"].sum())
    assert {f"{number + 1}" for number in range(stops)} <= set(drawn)
    assert any(word.endswith(" km") for word in drawn)
    assert any(word.endswith(" mi") for word in words_in(card_map(make_walk(units="us"))))


def test_it_is_black_and_white_and_no_letter_is_too_small(walk: FixtureWalk) -> None:
    svg = copied(svg_text(card_map(walk), prefix="m"))
    assert set(re.findall(r"#[0-9a-fA-F]{6}\b", svg)) <= {"#000000", "#ffffff"}
    sizes = [float(size) for size in re.findall(r"font-size: ([\d.]+)px", svg)]
    assert sizes
    assert min(sizes) >= SMALLEST_PT


def test_it_is_no_higher_than_half_a_panel(walk: FixtureWalk) -> None:
    figure = card_map(walk).get_figure(root=True)
    assert figure is not None
    width, height = figure.get_size_inches()
    assert width == pytest.approx(CARD_WIDTH_IN)
    assert LEAST_IN <= height <= MOST_IN
    # A panel is 105 mm high on A4 (half of 210 mm), 108 mm on Letter.
    assert height < 0.5 * 105.0 / 25.4


def test_it_stands_on_the_card_where_a_panel_has_room(pdf: bytes) -> None:
    told = card_of(pdf)
    assert KEY in told
    # The card is cut off and carried alone, so it names the source itself (ODbL 1.0, 4.3).
    assert "OpenStreetMap contributors" in told[told.index(KEY) :]


def test_it_is_left_out_where_every_panel_is_full(walk: FixtureWalk) -> None:
    reasons = [f"reason {number}: {'so many words ' * 8}" for number in range(12)]
    verdict = walk.summary["verdict"] | {"reasons": reasons}
    route = walk.summary["route"]
    bridge = route["main_bridge"] | {"via": ["A Very Long Name of a Bridge Indeed"] * 25}
    turns = walk.directions * 12
    full = replace(
        walk,
        summary=walk.summary | {"verdict": verdict, "route": route | {"main_bridge": bridge}},
        directions=turns,
    )
    assert KEY not in card_of(timeline_pdf(full))


def test_places_to_take_care_at_are_on_the_card(pdf: bytes) -> None:
    assert "Take care (km)" in card_of(pdf)
    assert "12.5 to 14.0" in card_of(pdf)
