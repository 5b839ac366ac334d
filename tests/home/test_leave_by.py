"""The hour to be home by: against whole walks made at other departures."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest

from simulator import InputError, Plan, walk_home
from simulator.home.answer import Walk
from simulator.questions.today import replan
from tests.conftest import PLAN, TownWriter


@pytest.fixture(scope="module")
def plan(last_hours: Plan) -> Plan:
    # The fastest way, which hardly depends on the hour; a quiet one does. Two hours, and a quarter.
    return last_hours.with_changes(choices={"quiet": 0.0, "what_if": True})


def told(walk: Walk) -> dict[str, object]:
    found: dict[str, object] = walk.summary["time"]["home_by"]
    return found


def arrives(plan: Plan, depart: datetime) -> datetime:
    """Walk the plan at another departure, with stops and way of its own."""
    other = plan.with_changes(trip={"depart": depart}, choices={"what_if": False})
    return datetime.fromisoformat(walk_home(other).summary["time"]["arrive"])


def slow_of(walk: Walk) -> float:
    """How much longer than planned the slow end of the span takes."""
    time_told = walk.summary["time"]
    return float(time_told["elapsed_h_band"][1]) / float(time_told["elapsed_h"])


def test_leaving_at_the_told_hour_is_in_time_even_slowly_and_half_an_hour_later_is_not(
    plan: Plan,
) -> None:
    walk = walk_home(plan.with_changes(trip={"home_by": time(17, 30)}))
    asked, slow = told(walk), slow_of(walk)
    by, leave = (datetime.fromisoformat(str(asked[key])) for key in ("at", "leave_by"))
    assert by.isoformat() == "2026-11-18T17:30:00-02:00"
    assert slow > 1.02
    for later, in_time in ((timedelta(), True), (timedelta(minutes=30), False)):
        depart = leave + later
        home = depart + slow * (arrives(plan, depart.replace(tzinfo=None)) - depart)
        # Within what longer steps and the plan's own stops make of a walk.
        assert (home <= by + timedelta(minutes=3)) is in_time
    planned = datetime.fromisoformat(walk.summary["time"]["arrive"])
    # Clock times in the summary are whole seconds.
    assert asked["late_min"] == pytest.approx((planned - by).total_seconds() / 60.0, abs=0.02)
    # The hour by daylight is another question; its margin is named.
    dusk = datetime.fromisoformat(str(walk.summary["sun"]["civil_dusk"]))
    leave = datetime.fromisoformat(walk.summary["time"]["leave_by"])
    home = leave + slow * (arrives(plan, leave.replace(tzinfo=None)) - leave)
    assert home <= dusk + timedelta(minutes=3)
    margin_h = (slow - 1.0) * walk.summary["time"]["elapsed_h"]
    assert walk.summary["time"]["leave_by_margin_h"] == pytest.approx(margin_h)


def test_an_hour_that_even_a_slow_walk_meets_is_never_answered_with_an_earlier_one(
    plan: Plan,
) -> None:
    asked = told(walk_home(plan.with_changes(trip={"home_by": time(8)})))
    leave = datetime.fromisoformat(str(asked["leave_by"])).replace(tzinfo=None)
    assert leave >= plan.trip.depart
    assert float(str(asked["late_min"])) < 0.0


def test_no_hour_of_the_day_is_said_when_the_way_is_too_long(write_town: TownWriter) -> None:
    text = PLAN.replace("depart = 2026-05-04T09:30:00", "depart = 2026-05-04T02:00:00")
    # The town takes about half an hour, and nothing before 03:00 is tried.
    plan = Plan.read(write_town(text)).with_changes(trip={"home_by": time(3, 10)})
    late = plan.with_changes(trip={"depart": datetime(2026, 5, 4, 3, 5)})  # noqa: DTZ001 - local by contract
    asked = told(walk_home(late))
    assert asked["leave_by"] is None
    assert float(str(asked["late_min"])) > 10.0


def test_an_hour_before_departure_is_that_of_the_next_day(plan: Plan) -> None:
    trip = plan.with_changes(trip={"home_by": time(6)}).trip
    assert trip.home_until == datetime(2026, 11, 19, 6)  # noqa: DTZ001 - local by contract


def test_nothing_is_said_where_nothing_is_asked(plan: Plan) -> None:
    walk = walk_home(plan.with_changes(choices={"what_if": False}))
    assert walk.summary["time"]["home_by"] is None


def test_a_plan_without_other_departures_still_says_how_late_it_is(plan: Plan) -> None:
    quick = plan.with_changes(trip={"home_by": time(17, 30)}, choices={"what_if": False})
    asked = told(walk_home(quick))
    assert "leave_by" not in asked
    # Six kilometres until then: by night and with the bag they take over an hour and a half.
    assert float(str(asked["late_min"])) > 30.0


# Clocks in Moncton, from the IANA time zone database: 02:00 becomes 03:00 on 8 March 2026, and
# 02:00 becomes 01:00 on 1 November 2026.
def test_a_deadline_beyond_the_spring_change_counts_real_hours(write_town: TownWriter) -> None:
    text = PLAN.replace("depart = 2026-05-04T09:30:00", "depart = 2026-03-08T01:30:00")
    asked = told(walk_home(Plan.read(write_town(text)).with_changes(trip={"home_by": time(3, 5)})))
    by = datetime.fromisoformat(str(asked["at"]))
    assert by.astimezone(UTC) == datetime(2026, 3, 8, 6, 5, tzinfo=UTC)
    # 35 minutes of real time lie between 01:30 and 03:05; the town takes about that long.
    assert -15.0 < float(str(asked["late_min"])) < 15.0


def test_a_deadline_that_the_clocks_skip_is_refused_at_the_door(write_town: TownWriter) -> None:
    text = PLAN.replace(
        "depart = 2026-05-04T09:30:00", "depart = 2026-03-07T22:00:00\nhome_by = 02:30:00"
    )
    with pytest.raises(InputError, match="does not exist in America/Moncton"):
        Plan.read(write_town(text))


def test_a_deadline_that_comes_twice_is_the_first_of_them(write_town: TownWriter) -> None:
    text = PLAN.replace(
        "depart = 2026-05-04T09:30:00", "depart = 2026-10-31T23:30:00\nhome_by = 01:30:00"
    )
    asked = told(walk_home(Plan.read(write_town(text))))
    assert str(asked["at"]) == "2026-11-01T01:30:00-03:00"


def test_a_night_halt_of_the_planned_hour_binds_no_departure_that_needs_none(plan: Plan) -> None:
    # Who leaves 16:30 without lamps is overtaken by the dark and must wait.
    short = plan.with_changes(
        trip={"home_by": datetime(2026, 11, 19, 18)},  # noqa: DTZ001 - local by contract
        bag={"items": None},
    )
    walk = walk_home(short)
    assert walk.summary["halts"]
    asked = told(walk)
    leave = datetime.fromisoformat(str(asked["leave_by"])).replace(tzinfo=None)
    assert leave > short.trip.depart
    by = datetime.fromisoformat(str(asked["at"]))
    assert arrives(short, leave) <= by
    # By daylight of the planned day one comes home without any halt.
    dusk = datetime.fromisoformat(walk.summary["sun"]["civil_dusk"])
    light = datetime.fromisoformat(walk.summary["time"]["leave_by"]).replace(tzinfo=None)
    assert arrives(short, light) <= dusk


@pytest.mark.parametrize(
    ("hour", "until"),
    [
        (datetime(2026, 11, 18, 19), datetime(2026, 11, 18, 21)),  # noqa: DTZ001 - local by contract
        (datetime(2026, 11, 18, 22), datetime(2026, 11, 18, 21)),  # noqa: DTZ001 - late for it
        (datetime(2026, 11, 20, 8), datetime(2026, 11, 20, 21)),  # noqa: DTZ001 - another day
    ],
)
def test_on_the_day_the_planned_hour_stays_however_late_one_leaves(
    plan: Plan, hour: datetime, until: datetime
) -> None:
    asked = plan.with_changes(trip={"home_by": time(21)})
    assert replan(asked, depart=hour).trip.home_until == until
