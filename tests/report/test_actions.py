"""Three lines to act on, the span of arrival, and the list of what falls short."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from simulator.report.actions import about, actions_of, arrival_of, shortages_of
from simulator.report.subject import Track
from simulator.units import Units
from tests.report.conftest import FixtureWalk

METRIC = Units("metric")


def told(walk: FixtureWalk) -> dict[str, str]:
    return {one.heading: one.text for one in actions_of(walk, METRIC, Track(walk))}


@pytest.mark.parametrize(
    ("clock", "minutes", "up", "said"),
    [
        ("22:33", 5, None, "22:35"),
        ("22:32", 5, None, "22:30"),
        ("22:33", 15, False, "22:30"),
        ("22:31", 15, True, "22:45"),
        ("22:30", 15, True, "22:30"),
        ("23:58", 5, None, "00:00"),
    ],
)
def test_clock_times_are_rounded_to_what_can_be_known(
    clock: str, minutes: int, up: bool | None, said: str
) -> None:
    when = datetime.fromisoformat(f"2026-10-12T{clock}:00-03:00")
    assert f"{about(when, step_min=minutes, up=up):%H:%M}" == said


def test_arrival_is_a_span_that_holds_the_plan_and_is_rounded_outward(walk: FixtureWalk) -> None:
    # Departs 16:30; the walk takes 6 h 03 min.
    time = walk.summary["time"] | {"elapsed_h_band": [5.6, 7.6]}
    arrival = arrival_of(replace(walk, summary=walk.summary | {"time": time}).facts, Track(walk))
    # 16:30 + 5 h 36 min = 22:06; + 7 h 36 min = 00:06 of the next day, a Tuesday.
    assert arrival.words == "home between 22:00 and 00:15 Tue, most likely about 22:35"
    late = walk.summary["time"] | {"elapsed_h_band": [7.6, 9.6]}
    # The plan itself, 22:33, lies within the span whatever the band says.
    other = replace(walk, summary=walk.summary | {"time": late})
    assert arrival_of(other.facts, Track(walk)).span == "22:30 to 02:15 Tue"
    plain = arrival_of(walk.facts, Track(walk))
    assert plain.words == "home about 22:35"
    assert plain.span == "22:35"


def test_the_summarys_own_list_of_shortages_is_read_and_ordered_by_danger(
    walk: FixtureWalk,
) -> None:
    listed = [
        {"what": "food", "missing": 900.0, "from_h": 3.0, "counts_in_verdict": False},
        {"what": "light to see by", "missing": 0.5, "from_h": 4.0, "counts_in_verdict": True},
        {"what": "water", "missing": 0.04, "from_h": 5.0, "counts_in_verdict": True},
        {"what": "warmth at a halt", "missing": 1.2, "from_h": math.inf, "counts_in_verdict": True},
    ]
    holds = replace(walk, summary=walk.summary | {"shortages": listed})
    found = shortages_of(holds, METRIC, Track(walk))
    assert [one.what for one in found] == ["warmth at a halt", "light to see by", "food"]
    assert [one.from_clock for one in found] == ["", "20:30", "19:30"]
    assert [one.amount for one in found] == ["1.2 clo (about 4 jumpers)", "30 min", "900 kcal"]


def test_every_lack_that_counts_has_a_line_to_act_on(walk: FixtureWalk) -> None:
    found = [one for one in shortages_of(walk, METRIC, Track(walk)) if one.counts]
    assert {"water", "light to see by"} <= {one.what for one in found}
    before = told(walk)["Before you leave"]
    assert before.startswith("Carry 0.9 L more water")
    assert "Take a lamp or cells for 36 min more" in before


def test_with_nothing_lacking_it_says_so(walk: FixtureWalk) -> None:
    time = walk.summary["time"] | {"leave_by": None}
    calm = replace(walk, summary=walk.summary | {"shortages": [], "time": time})
    assert told(calm)["Before you leave"] == "Pack what is listed; no lack is known."


def test_the_water_line_names_the_planned_stop_and_its_backup(walk: FixtureWalk) -> None:
    stops = walk.refills.assign(
        if_dry=["if it gives none: what is left lasts to home"] * len(walk.refills)
    )
    line = told(replace(walk, refills=stops))["Water"]
    assert line.startswith("Stop 1, ")
    assert "If it gives none: what is left lasts to home." in line
    none = walk.refills.assign(used=False)
    assert "no stop is planned" in told(replace(walk, refills=none))["Water"] or "short" in line


def test_turning_back_is_told_by_half_of_the_time(walk: FixtureWalk) -> None:
    track = Track(walk)
    line = told(walk)["Turn back or stay"]
    half_km = float(track.along_at(np.array([track.duration_s / 2.0]))[0]) / 1000.0
    assert line.startswith(f"Up to km {half_km:.1f} going back is the shorter way.")
    assert "stay at the next shelter: " in line


def test_a_verdict_to_stay_says_stay_first(walk: FixtureWalk) -> None:
    verdict = {"level": "stay and wait", "reasons": ["it feels like -30 °C"]}
    line = told(replace(walk, summary=walk.summary | {"verdict": verdict}))
    assert line["Stay"].startswith("Stay where you are, indoors and with people if you can: it ")


@pytest.mark.parametrize(
    ("clo", "amount", "remedy"),
    [
        (1.2, "1.2 clo (about 4 jumpers)", "about 4 jumpers or a sleeping bag."),
        (3.0, "3.0 clo (more than jumpers give)", "a sleeping bag or the like."),
    ],
)
def test_nobody_is_told_to_wear_ten_jumpers(
    walk: FixtureWalk, clo: float, amount: str, remedy: str
) -> None:
    lack = {"what": "warmth at a halt", "missing": clo, "from_h": 5.0, "counts_in_verdict": True}
    cold = replace(walk, summary=walk.summary | {"shortages": [lack]})
    assert [one.amount for one in shortages_of(cold, METRIC, Track(cold))] == [amount]
    assert f"Pack warmth for sitting still, {remedy}" in told(cold)["Before you leave"]
