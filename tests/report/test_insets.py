"""Maps of stretches that are hard to follow: where they are, and what they show."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from pypdf import PdfReader

from simulator.report.figures.map import inset_map
from simulator.report.figures.style import svg_text
from simulator.report.paper.timeline import KNOT_M, MOST_INSETS, knots, timeline_pdf
from tests.report.conftest import FixtureWalk


def turned(walk: FixtureWalk, at: list[float]) -> FixtureWalk:
    first = walk.directions[0]
    told = tuple(replace(first, along_m=along, turn="left") for along in at)
    return replace(walk, directions=told)


@pytest.mark.parametrize(
    ("at", "found"),
    [
        ([100.0, 5000.0, 9000.0], []),
        ([100.0, 300.0, 500.0, 9000.0], [(100.0, 500.0)]),
        # The densest window is taken whole; what is left is too little for another.
        ([0.0, 400.0, 600.0, 700.0, 1400.0], [(0.0, 700.0)]),
        ([0.0, 10.0, 20.0, 5000.0, 5100.0, 5200.0], [(0.0, 20.0), (5000.0, 5200.0)]),
    ],
)
def test_a_knot_is_many_turns_close_together(
    walk: FixtureWalk, at: list[float], found: list[tuple[float, float]]
) -> None:
    assert [(start, end) for start, end, _ in knots(turned(walk, at))] == found


def test_no_more_knots_are_drawn_than_a_page_holds(walk: FixtureWalk) -> None:
    at = [1000.0 * place + step for place in range(9) for step in (0.0, 50.0, 100.0)]
    found = knots(turned(walk, at))
    assert len(found) == MOST_INSETS
    assert all(end - start <= KNOT_M for start, end, _ in found)


def test_the_map_of_a_knot_shows_its_turns_and_the_paper_has_it(walk: FixtureWalk) -> None:
    at = [2000.0, 2200.0, 2400.0]
    drawn = svg_text(
        inset_map(walk, 1900.0, 2500.0, [(one, f"t{one:.0f}") for one in at]), prefix="i"
    )
    for one in at:
        assert f"t{one:.0f}" in drawn
    text = " ".join(
        page.extract_text() for page in PdfReader(io.BytesIO(timeline_pdf(turned(walk, at)))).pages
    )
    assert "Where the way is hard to follow" in text
    assert "km 2.0 to 2.4:" in " ".join(text.split())
