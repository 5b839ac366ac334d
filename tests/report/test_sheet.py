"""Words and rows: what is said, and what is left out."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from datetime import date, datetime
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from simulator.home.summary import told_sun
from simulator.report.calendar import walk_ics
from simulator.report.page.html import page_html
from simulator.report.paper.sheet import sheet_of
from simulator.report.paper.timeline import timeline_pdf
from simulator.report.subject import Track, hour_letter, runs
from simulator.report.tables import (
    bridge_spans,
    clock_words,
    day_in_words,
    longest_dry_m,
    places_of,
)
from simulator.report.text import walk_text
from simulator.sky.sun import sun_day
from simulator.units import UNKNOWN
from tests.report.conftest import HOSTILE, FixtureWalk, MakeWalk

pytestmark = pytest.mark.usefixtures("plain_figures")


def figure_of(walk: FixtureWalk, label: str) -> Any:  # noqa: ANN401 - one of the sheet's figures
    return next(figure for figure in sheet_of(walk).figures if figure.label == label)


@pytest.mark.parametrize(
    ("level", "headline"),
    [
        ("walk", "Walk."),
        ("walk with care", "Walk with care."),
        ("stay and wait", "Stay and wait."),
    ],
)
def test_the_verdict_comes_in_words_and_never_sounds_lighter_than_it_is(
    make_walk: MakeWalk, level: str, headline: str
) -> None:
    sheet = sheet_of(make_walk(level=level))
    assert sheet.headline == headline
    assert sheet.sentence.startswith("Do not set out") == (level == "stay and wait")


def test_key_figures_are_the_summarys(walk: FixtureWalk) -> None:
    assert figure_of(walk, "Leave").value == "16:30"
    assert figure_of(walk, "Home").value == "22:35"
    assert figure_of(walk, "Water needed").value == "2.6 L"
    short = figure_of(walk, "Falls short")
    # 4.07 h after 16:30 is 20:34, said to five minutes.
    assert (short.value, short.short) == ("water from 20:35", True)
    assert short.note.startswith("0.9 L; also ")
    assert "also light to see by: 36 min" in short.note
    assert short.note.endswith("; body loses up to 1.1 % of its mass")
    assert figure_of(walk, "In the dark").short
    latest = figure_of(walk, "Leave by")
    assert (latest.value, latest.note) == ("12:15", "to be home by dark, 19:04")


def test_where_heights_are_unknown_time_and_water_are_told_as_spans(walk: FixtureWalk) -> None:
    told = {
        "unknown_km": 1.4,
        "stretches": [[6.2, 7.6]],
        "time_h_band": [6.0, 6.5],
        "need_l_band": [2.52, 2.88],
        "steepest_assumed": 0.1,
    }
    holed = replace(walk, summary=walk.summary | {"heights": told})
    assert figure_of(holed, "Home").note.endswith("6 h 00 min to 6 h 30 min in all")
    assert figure_of(holed, "Way").note.endswith("; heights unknown for 1.4 km")
    assert figure_of(holed, "Water needed").note.startswith("2.5 L to 2.9 L by unknown heights; ")
    for nothing in ({}, dict.fromkeys(told)):
        plain = replace(walk, summary=walk.summary | {"heights": nothing})
        assert sheet_of(plain) == sheet_of(walk)
    assert figure_of(walk, "Home").note == "6 h 05 min in all"


@pytest.mark.parametrize(
    ("changes", "value", "note"),
    [
        ({"leave_by": None}, "no hour", "too long for this day: dark from 19:04"),
        ({}, "unknown", "not worked out"),
    ],
)
def test_where_no_hour_is_early_enough_it_says_so(
    walk: FixtureWalk, changes: dict[str, None], value: str, note: str
) -> None:
    time = {name: told for name, told in walk.summary["time"].items() if name != "leave_by"}
    latest = figure_of(replace(walk, summary=walk.summary | {"time": time | changes}), "Leave by")
    assert (latest.value, latest.note) == (value, note)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (None, ""),
        (
            {"late_min": 93.2, "leave_by": "2026-10-12T14:45:00-03:00"},
            "Leave by 14:45 to be home by 21:00: leaving 16:30 is too late by 1 h 34 min.",
        ),
        (
            {"late_min": -20.9, "leave_by": "2026-10-12T16:45:00-03:00"},
            "Leave by 16:45 to be home by 21:00: leaving 16:30 leaves 20 min to spare.",
        ),
        (
            {"late_min": 0.1, "leave_by": None},
            (
                "No hour of this day is early enough to be home by 21:00: "
                "leaving 16:30 is too late by 1 min."
            ),
        ),
        ({"late_min": 93.2}, "Home by 21:00: leaving 16:30 is too late by 1 h 34 min."),
    ],
)
def test_the_hour_to_be_home_by_is_told_on_page_one_card_calendar_and_page(
    walk: FixtureWalk, asked: dict[str, object] | None, words: str
) -> None:
    told = None if asked is None else {"at": "2026-10-12T21:00:00-03:00"} | asked
    time = walk.summary["time"] | {"home_by": told}
    other = replace(walk, summary=walk.summary | {"time": time})
    assert sheet_of(other).home_by == words
    pages = PdfReader(io.BytesIO(timeline_pdf(other))).pages
    for page in (pages[0], pages[-1]):
        assert words in " ".join(page.extract_text().split())
    calendar = walk_ics(other).replace("\r\n ", "").replace("\\,", ",")
    assert words in calendar
    assert words in page_html(other)
    assert ("to be home by 21:00" in calendar) == (words.find("to be home by") >= 0)


def test_nothing_short_is_told_as_none(walk: FixtureWalk) -> None:
    water = walk.summary["water"] | {"short_l": 0.0, "worst_body_mass_loss_pct": 0.0}
    told = walk.summary | {"water": water, "shortages": []}
    short = figure_of(replace(walk, summary=told), "Falls short")
    assert (short.value, short.note, short.short) == ("nothing known", "", False)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        (
            {},
            (
                "Leave the way at km 5.4 for Weir Lane, go by Long Weir Bridge: 25 min more, "
                "1.9 km farther."
            ),
        ),
        (
            {"turn_km": None, "extra_min": 0.2, "via": []},
            "Go round it: hardly longer, 1.9 km farther.",
        ),
        (
            {"reachable": False},
            "There is no other way home on foot on this map. Stay, or turn back early.",
        ),
    ],
)
def test_the_main_bridge_has_a_way_round_or_none(
    walk: FixtureWalk, changes: dict[str, object], told: str
) -> None:
    bridge = walk.summary["route"]["main_bridge"] | changes
    route = walk.summary["route"] | {"main_bridge": bridge}
    sheet = sheet_of(replace(walk, summary=walk.summary | {"route": route}))
    assert (sheet.bridge_heading, sheet.bridge_words) == ("If Mill Bridge is shut", told)
    route = walk.summary["route"] | {"main_bridge": None}
    assert sheet_of(replace(walk, summary=walk.summary | {"route": route})).bridge_heading == ""


def test_where_the_plan_asks_for_no_other_departures_it_says_so(walk: FixtureWalk) -> None:
    time = {name: told for name, told in walk.summary["time"].items() if name != "leave_by"}
    route = walk.summary["route"] | {"main_bridge": None}
    choices = SimpleNamespace(**(vars(walk.plan.choices) | {"what_if": False}))
    plan = SimpleNamespace(**(vars(walk.plan) | {"choices": choices}))
    off = replace(walk, plan=plan, summary=walk.summary | {"time": time, "route": route})
    latest = figure_of(off, "Leave by")
    assert (latest.value, latest.note) == ("not asked", "this plan leaves it out")
    sheet = sheet_of(off)
    assert sheet.bridge_heading == "If a bridge is shut"
    assert sheet.bridge_words == (
        "Ways round a shut bridge were not asked for in this plan. "
        "The way crosses Mill Bridge, Long Weir Bridge."
    )
    first = " ".join(PdfReader(io.BytesIO(timeline_pdf(off))).pages[0].extract_text().split())
    assert sheet.bridge_words in first
    no_bridge = off.summary | {"route": route | {"bridges": []}}
    assert sheet_of(replace(off, summary=no_bridge)).bridge_heading == ""


@pytest.mark.parametrize(
    ("lat", "day", "state", "value", "told"),
    [
        # Spherical astronomy: at the solstices (declination 23.44 deg) the sun's lowest height in
        # June is latitude - 66.56 deg, its highest in December 66.56 deg - latitude; it is up
        # above -0.83 deg (refraction and half disc) and dark below -6 deg (USNO, from memory).
        (78.2, date(2026, 6, 21), "sun never sets", "any hour", "does not get dark"),
        (78.2, date(2026, 12, 21), "dark all day", "no hour", "does not rise"),
        (66.0, date(2026, 6, 21), "sun never sets", "any hour", "does not get dark"),
        (66.0, date(2026, 12, 21), "day and night", "12:15", ""),
        (62.0, date(2026, 6, 21), "never dark", "any hour", "does not get dark"),
        (68.5, date(2026, 12, 21), "sun never rises", "12:15", "does not rise"),
        (46.0, date(2026, 6, 21), "day and night", "12:15", ""),
        (46.0, date(2026, 12, 21), "day and night", "12:15", ""),
    ],
)
def test_days_without_sunrise_or_without_dark_are_told_in_words(
    walk: FixtureWalk, lat: float, day: date, state: str, value: str, told: str
) -> None:
    sun = told_sun(sun_day(lat, 15.0, day, "UTC"))
    assert sun.state == state
    other = replace(walk, summary=walk.summary | {"sun": sun})
    latest = figure_of(other, "Leave by")
    assert latest.value == value
    assert UNKNOWN not in latest.value + latest.note
    line = sheet_of(other).sun
    assert line
    assert told in line
    assert bool(told) == line.startswith("The sun")
    assert ("First light" in line) == (state == "day and night")
    terminal = " ".join(walk_text(sheet_of(other)).split())
    assert sun.told[1:] in terminal


# Of each form of the line one, the longest: midnight sun, a day without sunrise, day and night.
@pytest.mark.parametrize(("lat", "month"), [(78.2, 6), (68.5, 12), (66.0, 12)])
def test_the_line_of_the_sun_stands_on_paper_and_page(
    walk: FixtureWalk, lat: float, month: int
) -> None:
    sun = told_sun(sun_day(lat, 15.0, date(2026, month, 21), "UTC"))
    other = replace(walk, summary=walk.summary | {"sun": sun})
    line = sheet_of(other).sun
    page = " ".join(PdfReader(io.BytesIO(timeline_pdf(other))).pages[0].extract_text().split())
    assert line in page
    assert line in page_html(other)


def test_the_calendar_holds_the_whole_plan_and_bounds_a_hostile_one(walk: FixtureWalk) -> None:
    def described(reasons: list[str]) -> str:
        verdict = walk.summary["verdict"] | {"reasons": reasons}
        made = walk_ics(replace(walk, summary=walk.summary | {"verdict": verdict}))
        # RFC 5545, 3.1: lines of at most 75 octets, folded and unfolded; 3.3.11 sets no length.
        assert max(len(line.encode()) for line in made.split("\r\n")) <= 75
        whole = made.replace("\r\n ", "").split("\r\n")
        return next(line for line in whole if line.startswith("DESCRIPTION:"))

    long = described([f"{'reason ' * 60}{number}" for number in range(9)])
    assert "reason 8. If Mill Bridge is shut: Leave the way" in long
    assert long.endswith("1.9 km farther.")
    assert len(described([f"{'x' * 5000}{number}" for number in range(900)])) < 11_000


ON_PAPER: tuple[dict[str, float], ...] = (
    {},
    {"own_pace": -12.4, "dark": 0.5, "age_sex": -3.0},
)
"""Nothing, and the longest line; setting pages takes a while."""


@pytest.mark.parametrize(
    ("costs", "line"),
    [
        ({}, ""),
        ({"dark": 0.4, "load": -0.49}, ""),
        (
            {"load": 4.2, "dark": 67.6, "fatigue": 7.1, "surface": 0.3, "stairs": 0.0},
            "Slower than the bare pace model by: dark 68 min, tiredness 7, load 4.",
        ),
        (
            {"own_pace": -12.4, "dark": 0.5, "age_sex": -3.0},
            (
                "Slower than the bare pace model by: dark 1 min; "
                "faster by: own pace 12 min, age and sex 3."
            ),
        ),
        ({"own_pace": -12.4}, "Faster than the bare pace model by: own pace 12 min."),
        ({"group": 3.2}, "Slower than the bare pace model by: waiting for each other 3 min."),
        ({"dark": math.nan}, ""),
    ],
)
def test_what_slowed_the_walk_is_one_line_under_the_hours(
    walk: FixtureWalk, costs: dict[str, float], line: str
) -> None:
    time = walk.summary["time"] | {"pace_cost_min": costs}
    other = replace(walk, summary=walk.summary | {"time": time})
    assert sheet_of(other).slowing == line
    html = page_html(other)
    assert html.count("the bare pace model") == bool(line)
    assert line in html
    assert "bare pace" not in walk_text(sheet_of(other))
    if costs in ON_PAPER:
        text = " ".join(
            " ".join(page.extract_text().split())
            for page in PdfReader(io.BytesIO(timeline_pdf(other))).pages
        )
        assert text.count("the bare pace model") == bool(line)
        assert line in text


def test_turns_read_as_sentences(walk: FixtureWalk) -> None:
    turns = sheet_of(walk).turns
    assert turns[0].text == f"Set out north-east along {walk.segments['street'].iloc[0]}"
    assert turns[0].when == "16:30"
    assert any(" into " in turn.text for turn in turns)
    assert any("over Mill Bridge" in turn.then for turn in turns)
    assert all(turn.short[0].islower() for turn in turns)


def test_the_bag_is_listed_by_purpose(walk: FixtureWalk) -> None:
    bag = sheet_of(walk).bag
    assert [purpose.name for purpose in bag] == ["warmth", "food", "light"]
    food = bag[1].ticks[0]
    assert (food.item, food.expires, food.caution) == (
        "3 \N{MULTIPLICATION SIGN} oat bars",
        "2027-03-31",
        "contains nuts",
    )
    assert sheet_of(replace(walk, items=None)).bag == ()


def test_clock_times_follow_the_zone_over_a_shift_of_the_clock(walk: FixtureWalk) -> None:
    # Europe/Berlin left summer time on 25 October 2026 at 03:00 (Directive 2000/84/EC).
    trip = type(walk.plan.trip)(timezone="Europe/Berlin", start=(52.5, 13.4))
    plan = type(walk.plan)(**(vars(walk.plan) | {"trip": trip}))
    summary = walk.summary | {
        "time": walk.summary["time"] | {"depart": "2026-10-25T01:30:00+02:00"}
    }
    track = Track(replace(walk, plan=plan, summary=summary))
    assert track.clock(0.0).isoformat() == "2026-10-25T01:30:00+02:00"
    assert track.clock(2.0 * 3600.0).isoformat() == "2026-10-25T02:30:00+01:00"


def test_a_time_on_another_day_names_the_day() -> None:
    depart = datetime.fromisoformat("2026-11-18T16:30:00-02:00")
    assert clock_words(depart, depart) == "16:30"
    assert clock_words(datetime.fromisoformat("2026-11-19T00:02:00-02:00"), depart) == "00:02 Thu"
    assert day_in_words(depart) == "Wednesday 18 November 2026"


def test_a_shortage_is_never_rounded_to_nothing(walk: FixtureWalk) -> None:
    hours = walk.hours.assign(water_short_ml=3.0)
    assert {hour.water_short for hour in sheet_of(replace(walk, hours=hours)).hours} == {"< 0.1 L"}
    hours = walk.hours.assign(water_short_ml=0.0, light_short_h=0.0)
    assert not any(hour.short for hour in sheet_of(replace(walk, hours=hours)).hours)


def test_the_lamp_is_told_hour_by_hour(walk: FixtureWalk) -> None:
    rows = sheet_of(walk).hours
    assert rows[0].light == "day"
    assert any(row.light.endswith(" min") for row in rows)
    assert any(row.light.endswith(", no lamp") for row in rows)


def test_reasons_that_open_alike_are_told_once(walk: FixtureWalk) -> None:
    reasons = ["not known: mass of A", "not known: mass of B", "too cold"]
    summary = walk.summary | {"verdict": {"level": "walk with care", "reasons": reasons}}
    assert sheet_of(replace(walk, summary=summary)).reasons == (
        "Not known: mass of A; mass of B",
        "Too cold",
    )


def test_bridges_without_a_name_are_counted(walk: FixtureWalk) -> None:
    route = walk.summary["route"] | {
        "bridges": ["Mill Bridge", "unnamed bridge (way 7)", "unnamed bridge (way 9)"]
    }
    sheet = sheet_of(replace(walk, summary=walk.summary | {"route": route}))
    assert sheet.bridges == "Mill Bridge, 2 without a name"


def test_planned_stops_are_always_listed_and_places_come_from_all_along_the_way(
    walk: FixtureWalk,
) -> None:
    sheet = sheet_of(walk)
    assert [place.mark for place in sheet.places if place.used] == ["1"]
    along = [float(place.along) for place in sheet.places]
    assert along == sorted(along)
    assert along[0] < 3.0
    assert along[-1] > 21.0
    assert len(sheet.places) + sheet.places_left_out == len(walk.refills)


def test_water_to_be_treated_or_shut_does_not_end_a_dry_stretch(walk: FixtureWalk) -> None:
    start, end = longest_dry_m(walk, Track(walk))
    places = places_of(walk)
    inside = places[(places["along_km"] * 1000 > start + 1) & (places["along_km"] * 1000 < end - 1)]
    ready = ["water" in g for g in inside["given"]]
    ready &= (inside["open"] != "no").to_numpy() & ~inside["needs_treatment"].to_numpy(bool)
    assert not np.any(ready)
    spring = walk.refills.assign(needs_treatment=True)
    whole = (0.0, Track(walk).length_m)
    assert longest_dry_m(replace(walk, refills=spring), Track(walk)) == pytest.approx(whole)


def test_bridges_are_found_where_the_steps_say(walk: FixtureWalk) -> None:
    spans = bridge_spans(walk)
    assert [round(start / 100) for start, _, _ in spans] == [61, 158]
    assert all(end > start for start, end, _ in spans)
    assert spans[0][2] == "Mill Bridge"  # its own name
    assert spans[1][2] in set(walk.segments["street"])  # the street's, where it has none


def test_hostile_text_is_cleaned_before_it_reaches_any_template(hostile: FixtureWalk) -> None:
    told = str(sheet_of(hostile).as_dict())
    assert "\\u202e" not in told
    assert "\\x00" not in told
    assert HOSTILE[0] in told  # kept as text, to be escaped by whoever prints it


def test_hours_have_letters_and_runs_cover_everything() -> None:
    assert [hour_letter(i) for i in (0, 1, 25, 26, 27, 52)] == ["A", "B", "Z", "AA", "AB", "BA"]
    codes = np.array([2, 2, 0, 1, 1])
    assert runs(codes) == [(0, 2, 2), (2, 3, 0), (3, 5, 1)]
    assert runs(codes[:0]) == []
