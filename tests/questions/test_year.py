"""The year: verdicts as the main question gives them, light as an outside library counts it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from importlib.resources import files
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from astral import Observer
from astral.sun import elevation
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator import InputError, Plan, demo_folder, walk_home
from simulator.home.crowd_records import LEDGER, Arrivals, When
from simulator.home.strain import Strain
from simulator.home.verdict import (
    LEVELS,
    Findings,
    calm_strain,
    findings_of_arrivals,
    judge,
    levels_of,
)
from simulator.questions.year import (
    MOST_CLUSTERS,
    YearAnswer,
    clusters,
    departure_hours,
    longest_span,
    works_from_to,
    year,
)
from simulator.report.figures.year import on_calendar
from simulator.report.year import write_year
from simulator.walk.account import NAMES, What
from tests.conftest import BAG, EXAMPLES, PLAN, TownWriter

TYPICAL = Path(str(files("pvlib") / "data" / "723170TYA.CSV"))
"""A typical year of Greensboro in TMY3 form, carried by the package pvlib; public domain."""


@pytest.fixture(scope="module")
def answer(tmp_path_factory: pytest.TempPathFactory) -> YearAnswer:
    from tests.conftest import town_xml, write_heights

    folder = tmp_path_factory.mktemp("town")
    (folder / "town.osm").write_text(town_xml(), encoding="utf-8")
    (folder / "bag.csv").write_text(BAG, encoding="utf-8")
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    write_heights(folder / "heights.tif")
    return year(Plan.read(folder / "plan.toml"), weather=TYPICAL)


def test_every_hour_of_the_year_has_a_row_with_the_columns_of_the_contract(
    answer: YearAnswer,
) -> None:
    table = answer.table
    assert len(table) == 8760
    assert list(table.columns[:6]) == [
        "depart",
        "verdict",
        "arrive",
        "dark_h",
        "water_short_l",
        "coldest_felt_c",
    ]
    assert set(table["verdict"]) <= set(LEVELS)
    assert table["depart"].is_unique


def test_hours_run_through_clock_changes_without_a_gap() -> None:
    hours = departure_hours(2026, "Europe/Paris")
    assert hours.size == 8760
    assert (np.diff(hours) == 3600.0).all()
    assert departure_hours(2028, "Europe/Paris").size == 8784
    first = datetime.fromtimestamp(hours[0], tz=UTC) + timedelta(hours=1)
    assert (first.month, first.day, first.hour) == (1, 1, 0)


# At dusk and dawn the plan may choose another of two equal ways, which the year does not move.
@pytest.mark.parametrize("hour", [8, 21, 3000, 3022, 6117])
def test_an_hour_of_the_year_is_the_main_question_s_walk_to_the_bit(
    answer: YearAnswer, hour: int
) -> None:
    row = answer.table.iloc[hour]
    when = datetime.fromisoformat(row["depart"]).replace(tzinfo=None)
    told = walk_home(answer.plan.with_changes(trip={"depart": when})).summary
    assert row["elapsed_h"] == pytest.approx(told["time"]["elapsed_h"], rel=1e-12)
    assert row["dark_h"] == pytest.approx(told["time"]["dark_h"], abs=1e-6)
    assert row["coldest_felt_c"] == pytest.approx(told["cold_heat"]["coldest_felt_c"], abs=0.05)
    assert row["verdict"] == told["verdict"]["level"]


SHORTAGES = {
    What.WATER: "water_short_l",
    What.FOOD: "energy_short_kcal",
    What.LIGHT: "light_short_h",
    What.WARMTH_ON_FOOT: "foot_short_clo",
    What.WARMTH_AT_A_HALT: "halt_short_clo",
    What.TIME: "time_short_h",
}
POOR = """\
item,purpose,tier,quantity,mass_g,volume_ml,price,water_ml,light_h
quarter bottle,water,basic,1,290,300,4,250,
lamp,light,basic,1,60,50,8,,0.5
"""


def test_the_year_lacks_what_the_plan_of_that_hour_lacks_and_since_then(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "bag.csv").write_text(POOR, encoding="utf-8")
    poor = Plan.read(demo_folder() / "plan.toml").with_changes(
        trip={"home_by": "20:00"},
        walker={"clothing_clo": 0.6},
        bag={"items": tmp_path / "bag.csv"},
        choices={"what_if": False, "longest_day_h": 6.0},
    )
    # An afternoon in January, a noon in July, an October afternoon at the hour of the plan.
    chosen = departure_hours(poor.trip.depart.year, "Atlantic/South_Georgia")[[15, 4393, 7000]]
    monkeypatch.setattr("simulator.questions.year.departure_hours", lambda *_: chosen)
    found = year(poor, weather=TYPICAL)
    seen = set()
    for row in found.table.to_dict("records"):
        when = datetime.fromisoformat(row["depart"]).replace(tzinfo=None)
        told = walk_home(found.plan.with_changes(trip={"depart": when})).summary
        assert row["verdict"] == told["verdict"]["level"]
        lacks = {one["what"]: one for one in told["shortages"]}
        for what, column in SHORTAGES.items():
            missing = lacks.get(NAMES[what], {"missing": 0.0})["missing"]
            assert np.nan_to_num(row[column]) == pytest.approx(missing, rel=1e-5, abs=1e-6), column
            seen |= {what} if missing else set()
        first = told["shortages"][0]
        assert row["short_of"] == first["what"]
        assert row["short_from_h"] == pytest.approx(first["from_h"], rel=1e-6, abs=1e-6)
    assert seen == set(What)


def test_arrival_in_the_dark_is_astral_s_count(answer: YearAnswer) -> None:
    trip = answer.plan.trip
    middle = [0.5 * (a + b) for a, b in zip(trip.start, trip.home, strict=True)]
    observer = Observer(latitude=middle[0], longitude=middle[1], elevation=0.0)
    table = answer.table.iloc[::7]
    height = np.array(
        [
            elevation(observer, datetime.fromisoformat(when).astimezone(UTC), with_refraction=False)
            for when in table["arrive"]
        ]
    )
    dark = table["arrives_in_the_dark"].to_numpy(dtype=bool)
    # astral follows a coarser solar algorithm; the engine's sun runs straight for ten minutes.
    clear = np.abs(height + 6.0) > 0.2
    assert clear.mean() > 0.95
    assert np.array_equal(dark[clear], height[clear] < -6.0)


def test_constants_hold_no_seasons_and_are_refused(write_town: TownWriter) -> None:
    with pytest.raises(InputError, match="typical year"):
        year(Plan.read(write_town()))


NAN = float("nan")


@settings(max_examples=4 * EXAMPLES)
@given(
    loss=st.floats(0.0, 6.0),
    short=st.floats(0.0, 3000.0),
    felt=st.tuples(st.floats(-40.0, 45.0), st.floats(-40.0, 45.0)).map(sorted),
    unlit=st.tuples(st.floats(0.0, 4.0), st.floats(0.0, 1.0)),
    elapsed=st.floats(1.0, 30.0),
    halt=st.one_of(st.none(), st.tuples(st.floats(0.5, 12.0), st.floats(0.0, 3.0), st.booleans())),
    busy=st.floats(0.0, 1.0),
    foot=st.floats(0.0, 2.0),
    event=st.sampled_from(["none", "power failure", "road failure", "flood", "storm"]),
    unpriced=st.booleans(),
)
def test_the_verdict_of_many_is_the_verdict_of_each(
    loss: float,
    short: float,
    felt: list[float],
    unlit: tuple[float, float],
    elapsed: float,
    halt: tuple[float, float, bool] | None,
    busy: float,
    foot: float,
    event: str,
    *,
    unpriced: bool,
) -> None:
    hours, clo, sheltered = halt or (NAN, NAN, True)
    strain = calm_strain()
    strain[Strain.FOOT_SHORT_CLO] = foot
    findings = Findings(
        loss_pct=np.array([loss]),
        short_ml=np.array([short]),
        first_short_h=np.ones(1),
        coldest_felt_c=np.array([felt[0]]),
        hottest_felt_c=np.array([felt[1]]),
        unlit_h=np.array([unlit[0]]),
        light_short_h=np.array([unlit[0] * unlit[1]]),
        elapsed_h=np.array([elapsed]),
        halt_short_clo=np.array([clo]),
        halt_h=np.array([hours]),
        halt_open=np.array([not sheltered]),
        busy_dark_km=np.array([busy]),
        busy_day_km=np.array([2.0 * busy]),
        slowed_share=np.array([busy / 4.0]),
        strain=strain,
        floods_km=np.array([busy]),
        event=event,
        unpriced=("the lamp",) if unpriced else (),
    )
    columns = dict.fromkeys(Arrivals.__slots__, np.zeros(1))
    missing = np.zeros((len(What), 1))
    missing[What.WATER] = short / 1000.0
    missing[What.LIGHT] = findings.light_short_h[0]
    missing[What.WARMTH_ON_FOOT] = foot
    missing[What.WARMTH_AT_A_HALT] = 0.0 if halt is None else clo
    walks = replace(
        Arrivals(**columns),  # type: ignore[arg-type]  # columns not judged
        elapsed_s=np.array([3600.0 * elapsed]),
        loss_pct=np.array([loss]),
        missing=missing,
        short_from_s=np.zeros((len(What), 1)),
        short_at_m=np.zeros((len(What), 1)),
        coldest_c=np.array([felt[0]]),
        hottest_c=np.array([felt[1]]),
        unlit_s=3600.0 * findings.unlit_h,
        halt_h=np.array([hours]),
        halt_in_the_open=np.array([not sheltered]),
        busy_dark_km=np.array([busy]),
        busy_day_km=np.array([2.0 * busy]),
        slowed_share=np.array([busy / 4.0]),
        mapped=np.array([[0.0], [busy], [0.0], [1.0]]),
        when_s=np.full((len(When), 1), np.nan),
        hourly=np.zeros((1, len(LEDGER), 1)),
        strain=strain,
        limits_left=np.zeros(1, dtype=bool),
    )
    read = findings_of_arrivals(walks, event=event, unpriced=findings.unpriced)
    assert levels_of(read).tolist() == levels_of(findings).tolist()
    assert judge(read) == judge(replace(findings, first_short_h=np.zeros(1)))


def days_of(*works: int) -> tuple[list[date], np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Days from 1 January, told in runs of working and failing days by turns."""
    flags = np.concatenate([np.full(run, row % 2 == 0) for row, run in enumerate(works)])
    return [date(2026, 1, 1) + timedelta(days=day) for day in range(flags.size)], flags


def test_a_season_is_found_around_single_bad_days() -> None:
    span = longest_span(*days_of(0, 90, 60, 1, 60, 154))
    assert (span.first, span.last) == (date(2026, 4, 1), date(2026, 7, 30))
    assert span.bad_inside == 1
    assert span.working == 120


def test_a_winter_season_runs_over_the_turn_of_the_year() -> None:
    span = longest_span(*days_of(60, 200, 105))
    assert span.first is not None
    assert span.last is not None
    assert span.first.month == 9
    assert span.last.month in {2, 3}
    assert span.last < span.first


def test_a_bag_that_never_or_always_works_says_so() -> None:
    leave = datetime(2026, 5, 4, 16, tzinfo=UTC)
    good = longest_span(*days_of(365))
    assert "no day of 365 says stay" in good.words(leave)
    # With no bad day there are no others; and all is not told as a number.
    assert "; 12 of them ask for care" in replace(good, careful=12).words(leave)
    assert "; all of them ask for care" in replace(good, careful=365).words(leave)
    assert "every day says stay and wait" in longest_span(*days_of(0, 365)).words(leave)


def test_the_real_clusters_of_bad_days_are_named_and_none_is_lost() -> None:
    leave = datetime(2026, 5, 4, 16, tzinfo=UTC)
    # Bad: 3 and 4 January, 20 February, 10 and 14 July, 20 to 23 December.
    days, works = days_of(2, 2, 46, 1, 139, 1, 3, 1, 158, 4, 8)
    span = replace(longest_span(days, works), bad=clusters(days, works), careful=12)
    assert span.words(leave) == (
        "Leaving at 16 h in this typical year, 9 of 365 days say stay and wait: "
        "3 January and 4 January, 20 February, 10 July to 14 July (2 of 5 days), "
        "20 December to 23 December; 12 of the others ask for care."
    )
    # Bad from 30 December to 2 January is one cluster, not two.
    turned = longest_span(*days_of(0, 2, 361, 2))
    winter = clusters(*days_of(0, 2, 361, 2))
    assert replace(turned, bad=winter).words(leave).endswith(": 30 December to 2 January.")
    # Every third week one bad day: more clusters than are named are counted.
    often = np.arange(365) % 20 != 5
    told = replace(longest_span(days, often), bad=clusters(days, often)).words(leave)
    assert told.count(",") == MOST_CLUSTERS + 1
    assert f"{int((~often).sum()) - MOST_CLUSTERS} more scattered over the year" in told


def test_the_files_hold_every_hour_and_the_chart_every_day(
    answer: YearAnswer, tmp_path: Path
) -> None:
    saved = write_year(answer, tmp_path / "out")
    assert [path.name for path in saved] == [
        *("year.json", "year.csv", "year.pdf"),
        "credits.txt",
    ]
    assert saved[1].read_text(encoding="utf-8").count("\n") == 8761
    assert saved[2].read_bytes().startswith(b"%PDF")
    chart = on_calendar(answer.table, answer.table["elapsed_h"].to_numpy())
    assert chart.shape == (24, 365)
    # The clock change of spring skips one hour of this zone.
    assert np.isnan(chart).sum() == 1


def test_the_span_of_one_clock_hour_counts_that_hour_of_that_year_only() -> None:
    # Five days at 17:00: good, careful, bad, good, careful. Beside them another hour, and another
    # year, which a typical year may touch at its ends; an hour passed twice counts as first passed.
    rows = [
        ("2026-03-01T17:00+01:00", "walk"),
        ("2026-03-02T17:00+01:00", "walk with care"),
        ("2026-03-02T17:00+00:00", "stay where you are"),
        ("2026-03-03T17:00+01:00", "stay where you are"),
        ("2026-03-04T17:00+01:00", "walk"),
        ("2026-03-05T17:00+01:00", "walk with care"),
        ("2026-03-03T18:00+01:00", "walk with care"),
        ("2026-03-05T18:00+01:00", "walk with care"),
        ("2025-12-31T17:00+01:00", "walk with care"),
        ("2027-01-01T17:00+01:00", "walk with care"),
    ]
    span = works_from_to(pd.DataFrame(rows, columns=["depart", "verdict"]), hour=17, year=2026)
    assert (span.days, span.working, span.careful) == (5, 4, 2)
    third = date(2026, 3, 3)
    assert span.bad == ((third, third, 1),)
