"""Where to take care, on paper, map, page and in the files."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from simulator.report.exports import route_geojson
from simulator.report.figures.alt import describe_map
from simulator.report.figures.map import (
    CROSSES_EVERY_PT,
    Plane,
    care_words,
    closed_spots,
    route_map,
)
from simulator.report.page.data import live_data
from simulator.report.paper.timeline import timeline_pdf
from simulator.report.subject import Track
from simulator.report.tables import MOST, care_rows, chosen
from simulator.units import Units
from tests.report.conftest import HOSTILE, FixtureWalk
from tests.report.hazards import HAZARDS
from tests.report.test_figures import words_in
from tests.report.test_timeline import text_of


def with_hazards(walk: FixtureWalk, hazards: list[dict[str, object]]) -> FixtureWalk:
    return replace(walk, summary=walk.summary | {"hazards": hazards})


def test_rows_name_place_clock_and_advice(walk: FixtureWalk) -> None:
    point, stretch = care_rows(walk, Units("metric"), Track(walk))
    assert (point.mark, point.along, point.when) == ("a", "3.1", "17:08")
    assert (stretch.along, stretch.what) == ("12.5 to 14.0", "Unlit road: Weir Lane")
    assert stretch.advice == "be seen"
    # 12.5 km and 14.0 km in miles of 1.609344 km.
    assert care_rows(walk, Units("us"), Track(walk))[1].along == "7.8 to 8.7"


def test_map_and_paper_show_every_letter(walk: FixtureWalk, pdf: bytes) -> None:
    drawn = words_in(route_map(walk))
    text = text_of(pdf)
    for one in HAZARDS:
        assert one["mark"] in drawn
        assert str(one["advice"]) in text
    assert "take care" in drawn
    assert "authorities, signs and what you see on the ground come first" in text
    assert "2 places to take care at are lettered" in describe_map(walk)


@pytest.mark.usefixtures("plain_figures")
def test_a_walk_without_any_says_nothing_of_them(walk: FixtureWalk) -> None:
    calm = with_hazards(walk, [])
    assert care_words(calm) == ()
    assert "take care" not in words_in(route_map(calm))
    assert "Where to take care" not in text_of(timeline_pdf(calm))
    assert "take care" not in describe_map(calm)


def test_of_very_many_the_gravest_are_kept_in_walking_order(walk: FixtureWalk) -> None:
    calm, grave = HAZARDS[0] | {"kind": "marked hazard"}, HAZARDS[0] | {"kind": "ford"}
    many = [calm | {"from_km": 0.1 * n, "to_km": 0.1 * n} for n in range(MOST)]
    many += [grave | {"from_km": 9.0, "to_km": 9.0}]
    kept = chosen(with_hazards(walk, many))
    assert len(kept) == MOST
    assert kept[-1].kind == "ford"
    assert [one.from_km for one in kept] == sorted(one.from_km for one in kept)


def test_closed_streets_are_crossed_on_the_map_and_never_into_a_blot(walk: FixtureWalk) -> None:
    shut = np.zeros(np.asarray(walk.streets.way).size, dtype=bool)
    shut[::7] = True
    closed = replace(walk, closed=shut)
    assert "closed" in words_in(route_map(closed))
    assert "closed" not in words_in(route_map(walk))
    assert "Crosses lie on closed streets" in describe_map(closed)
    way = np.asarray(walk.path_lonlat)
    plane = Plane(*way.mean(axis=0))
    spots = closed_spots(closed, plane, every_m=250.0)
    cells = np.floor(spots / 250.0)
    assert len(np.unique(cells, axis=0)) == len(spots) > 5
    assert CROSSES_EVERY_PT > 4.2  # the size of a cross


def test_the_page_can_be_touched_and_read(walk: FixtureWalk, html: str) -> None:
    data = live_data(walk)["care"]
    assert [one["mark"] for one in data] == ["a", "b"]
    assert data[1]["words"] == "km 12.5 to 14.0, about 19:40: Unlit road: Weir Lane. Be seen."
    assert 'id="care"' in html
    assert html.count("Unlit road: Weir Lane") >= 2  # the table, and what a touch tells


def test_geojson_has_points_and_stretches(walk: FixtureWalk) -> None:
    told = [
        one
        for one in json.loads(route_geojson(walk))["features"]
        if one["properties"]["what"] == "take care"
    ]
    point, stretch = told
    assert point["geometry"]["type"] == "Point"
    assert stretch["geometry"]["type"] == "LineString"
    assert stretch["properties"]["to_km"] == pytest.approx(14.0)
    assert len(stretch["geometry"]["coordinates"]) > 10


def test_hostile_street_names_are_plain_text(hostile_pdf: bytes, hostile_html: str) -> None:
    printed = text_of(hostile_pdf).replace(" ", "")
    assert f"Unlit road: {HOSTILE[0]}".replace(" ", "") in printed
    assert "Unlit road: &lt;script&gt;" in hostile_html
    assert "Unlit road: <script>" not in hostile_html
