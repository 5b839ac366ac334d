"""A table of people: each as the main question answers for one, whatever works on the table."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest

from simulator import InputError, Plan, demo_folder, walk_home
from simulator.cli import main
from simulator.files import LARGEST_TEXT_BYTES
from simulator.home.crowd import Chooser
from simulator.home.crowd_records import Crowd, StopChoice
from simulator.home.refills import Met, Passed
from simulator.home.scene import Scene, prepare
from simulator.home.way import find_way, street_times
from simulator.questions.many import NOT_READ, PASSED, PeoplePart, many, part_size
from simulator.questions.people import Person, read_people
from simulator.report.many import PartStore, write_many
from simulator.route.crossings import group_crossings
from simulator.route.search import Fan
from simulator.sky.clock import zone_name
from simulator.sky.sun import sun_events
from simulator.walk.stops import Reach, both_ways, nearby_places
from tests.conftest import TownWriter

if TYPE_CHECKING:
    from numpy.typing import NDArray


@pytest.fixture(scope="module")
def plan() -> Plan:
    return Plan.read(demo_folder() / "plan.toml")


@pytest.fixture(scope="module")
def scene(plan: Plan) -> Scene:
    return prepare(plan)


@pytest.fixture(scope="module")
def table(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write 40 people who leave two places for homes all over the demo place."""
    path = tmp_path_factory.mktemp("people") / "people.csv"
    rng = np.random.default_rng(2)
    (lat, lon), (far_lat, far_lon) = plan.trip.start, plan.trip.home
    rows = [["own", lat, lon, far_lat, far_lon, 1.0, 80, ""]]
    for number in range(39):
        begin = plan.trip.start if number % 2 else (lat + 0.004, lon + 0.004)
        share = rng.uniform(0.05, 1.0)
        home = (lat + share * (far_lat - lat), lon + share * (far_lon - lon))
        depart = "2026-11-18T12:15:00" if number % 3 else ""
        pace, mass = round(rng.uniform(0.7, 1.2), 2), round(rng.uniform(50, 100))
        rows.append([f"p{number}", *begin, *home, pace, mass, depart])
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(
            [
                "id",
                "start_lat",
                "start_lon",
                "home_lat",
                "home_lon",
                "pace_factor",
                "mass_kg",
                "depart",
            ]
        )
        writer.writerows(rows)
    return path


class Memory:
    """Keeps parts in memory."""

    def __init__(self) -> None:
        self.parts: list[PeoplePart] = []

    def has(self, number: int) -> bool:
        """Say whether a part is finished."""
        return any(part.number == number for part in self.parts)

    def put(self, part: PeoplePart) -> None:
        """Keep a finished part."""
        self.parts.append(part)

    def rows(self) -> pd.DataFrame:
        """Give everyone in the order of the table."""
        rows = pd.concat([part.rows for part in self.parts])
        return rows.sort_values("row", ignore_index=True)


SIZE = 16
"""People in a part: the third part is not full."""


class Twice(PartStore):
    """Keeps parts in files and in memory."""

    def __init__(self, folder: Path, plan: Plan, people: Path) -> None:
        super().__init__(folder, plan, people, size=SIZE)
        self.memory = Memory()

    def put(self, part: PeoplePart) -> None:
        """Keep a finished part."""
        super().put(part)
        self.memory.put(part)


@pytest.fixture(scope="module")
def whole(plan: Plan, table: Path, tmp_path_factory: pytest.TempPathFactory) -> Twice:
    """Answer everyone in parts."""
    store = Twice(tmp_path_factory.mktemp("whole"), plan, table)
    many(plan, read_people(table, plan).people, store, size=SIZE)
    return store


@pytest.fixture(scope="module")
def answers(plan: Plan, table: Path) -> pd.DataFrame:
    """Answer everyone at once."""
    kept = Memory()
    many(plan, read_people(table, plan).people, kept)
    return kept.rows()


def test_a_table_of_a_whole_town_may_be_larger_than_a_plan(plan: Plan, tmp_path: Path) -> None:
    begin, end = (",".join(map(str, place)) for place in (plan.trip.start, plan.trip.home))
    rows = [f"p{number} {'x' * 900},{begin},{end}" for number in range(6_000)]
    path = tmp_path / "people.csv"
    path.write_text("\n".join(["id,start_lat,start_lon,home_lat,home_lon", *rows]))
    assert path.stat().st_size > LARGEST_TEXT_BYTES
    assert len(read_people(path, plan).people) == len(rows)


def test_the_plan_s_own_walker_gets_the_plan_s_own_answer(
    plan: Plan, answers: pd.DataFrame
) -> None:
    told = walk_home(plan.with_changes(choices={"what_if": False})).summary
    own = answers.iloc[0]
    assert own["distance_km"] == pytest.approx(told["route"]["distance_km"], rel=1e-9)
    assert own["elapsed_h"] == pytest.approx(told["time"]["elapsed_h"], rel=1e-9)
    assert own["verdict"] == told["verdict"]["level"]
    assert own["bridges"].split("; ") == told["route"]["bridges"]


def test_children_the_very_old_and_who_carries_too_much_are_called_to_care(
    plan: Plan, tmp_path: Path
) -> None:
    (lat, lon), (far_lat, far_lon) = plan.trip.start, plan.trip.home
    home = (lat + 0.05 * (far_lat - lat), lon + 0.05 * (far_lon - lon))
    path = tmp_path / "people.csv"
    own = (demo_folder() / "bag.csv").read_text(encoding="utf-8")
    (tmp_path / "own.csv").write_text(own, encoding="utf-8")
    # With the 2 kg of the plan's bag 26 kg: 33 % of 80 kg.
    (tmp_path / "stones.csv").write_text(own.rstrip() + "\nstones,other,,comfort,1,24000\n")
    people = ["40,own.csv", "9,own.csv", "84,own.csv", "40,stones.csv"]
    rows = [f"{lat},{lon},{home[0]},{home[1]},80,{person}" for person in people]
    head = "start_lat,start_lon,home_lat,home_lon,mass_kg,age_y,bag"
    path.write_text("\n".join([head, *rows]), encoding="utf-8")
    noon = plan.with_changes(
        trip={"depart": "2026-05-04T12:00:00"}, event={"kind": "none", "closed": ()}
    )
    kept = Memory()
    many(noon, read_people(path, noon).people, kept)
    care = "walk with care"
    assert kept.rows()["verdict"].tolist() == ["walk", care, care, care]


@pytest.mark.parametrize("row", [2, 7, 20])
def test_a_person_is_answered_as_a_plan_for_that_person_alone(
    plan: Plan, table: Path, answers: pd.DataFrame, row: int
) -> None:
    person = read_people(table, plan).people[row]
    alone = plan.with_changes(
        trip={"start": person.start, "home": person.home, "depart": person.depart},
        walker={"pace_factor": person.pace_factor, "mass_kg": person.mass_kg},
        choices={"what_if": False},
    )
    told, found = walk_home(alone).summary, answers.iloc[row]
    # The way is chosen for a pace of 1: dusk may catch this person on another street.
    assert found["distance_km"] == pytest.approx(told["route"]["distance_km"], rel=0.02)
    assert found["elapsed_h"] == pytest.approx(told["time"]["elapsed_h"], rel=0.02, abs=0.05)


def test_measured_capacity_own_speed_and_a_windproof_coat_are_those_of_the_plan_for_one(
    plan: Plan, tmp_path: Path
) -> None:
    (lat, lon), (far_lat, far_lon) = plan.trip.start, plan.trip.home
    home = (round(lat + 0.15 * (far_lat - lat), 6), round(lon + 0.15 * (far_lon - lon), 6))
    path = tmp_path / "people.csv"
    head = "start_lat,start_lon,home_lat,home_lon,age_y,level_km_h,capacity_ml_kg_min,windproof"
    people = ["40,3.2,,", "40,,10,no", "40,,,yes", "40,,,"]
    rows = [f"{lat},{lon},{home[0]},{home[1]},{person}" for person in people]
    path.write_text("\n".join([head, *rows]), encoding="utf-8")
    windy = plan.with_changes(weather={"wind_m_s": 9.0, "air_c": 3.0}, trip={"home": home})
    read = read_people(path, windy).people
    kept = Memory()
    many(windy, read, kept)
    found = kept.rows()
    slow, weak, coat, usual = found["elapsed_h"].tolist()
    assert slow > 1.1 * usual
    assert weak > 1.02 * usual
    assert coat == usual
    changes = ({"level_km_h": 3.2}, {"capacity_ml_kg_min": 10.0, "windproof": False})
    for row, change in enumerate(changes):
        told = walk_home(windy.with_changes(walker=change, choices={"what_if": False})).summary
        assert found["elapsed_h"][row] == pytest.approx(told["time"]["elapsed_h"], rel=0.02)
        assert found["verdict"][row] == told["verdict"]["level"]
    fit = windy.with_changes(walker={"capacity_ml_kg_min": 60.0, "windproof": True})
    inherited = read_people(path, fit).people
    # Another age was written: what was measured of the plan's walker says nothing of that body.
    assert [one.capacity_ml_kg_min for one in inherited] == [None, 10.0, None, None]
    assert [one.windproof for one in inherited] == [True, False, True, True]


def test_a_timed_walk_sets_the_pace_of_who_has_none_of_their_own(
    plan: Plan, tmp_path: Path
) -> None:
    (lat, lon), (far_lat, far_lon) = plan.trip.start, plan.trip.home
    home = (round(lat + 0.15 * (far_lat - lat), 6), round(lon + 0.15 * (far_lon - lon), 6))
    path = tmp_path / "people.csv"
    rows = [f"{lat},{lon},{home[0]},{home[1]},{given}" for given in (",,", "1,,", ",4,", ",,70")]
    head = "start_lat,start_lon,home_lat,home_lon,pace_factor,level_km_h,mass_kg"
    path.write_text("\n".join([head, *rows]), encoding="utf-8")
    elapsed = []
    slow = (5.0, 100.0, 20.0, 20.0)  # 3 km/h
    for timed in (None, slow):
        asked = plan.with_changes(trip={"home": home}, walker={"timed_walk": timed})
        read = read_people(path, asked)
        kept = Memory()
        many(asked, read.people, kept)
        elapsed.append(kept.rows()["elapsed_h"].tolist())
    assert elapsed[1][0] > 1.2 * elapsed[0][0]
    assert elapsed[1][1:] == elapsed[0][1:]
    told = walk_home(asked.with_changes(choices={"what_if": False})).summary
    assert elapsed[1][0] == pytest.approx(told["time"]["elapsed_h"], rel=0.02)
    assert [note for note in read.notes if "timed_walk sets the pace of 1 of 4 people" in note]


def test_the_size_of_parts_changes_no_number(whole: Twice, answers: pd.DataFrame) -> None:
    pd.testing.assert_frame_equal(whole.memory.rows(), answers)


def test_a_wrong_first_guess_of_stops_is_corrected(
    plan: Plan, table: Path, answers: pd.DataFrame, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = np.flatnonzero(answers["refills"] > 0)[:6].tolist()
    choose = Chooser.choose
    guesses: list[StopChoice] = []

    def blind(
        self: Chooser, crowd: Crowd, met: Met, passed: Passed
    ) -> tuple[NDArray[np.bool_], StopChoice]:
        """Choose no stop at first, as if all had water enough."""
        relied, choice = choose(self, crowd, met, passed)
        if not guesses:
            choice = StopChoice(0 * choice.key, choice.method, choice.carried_on, choice.ahead_ml)
        guesses.append(choice)
        return relied, choice

    monkeypatch.setattr(Chooser, "choose", blind)
    people = read_people(table, plan).people
    kept = Memory()
    many(plan, [people[row] for row in rows], kept)
    assert rows
    columns = ["arrive", "water_short_l", "refills", "verdict"]
    expected = answers.loc[rows, columns].reset_index(drop=True)
    pd.testing.assert_frame_equal(kept.rows()[columns], expected)


@pytest.mark.slow
def test_many_small_parts_change_no_number(plan: Plan, table: Path, answers: pd.DataFrame) -> None:
    kept = Memory()
    many(plan, read_people(table, plan).people, kept, size=7)
    pd.testing.assert_frame_equal(kept.rows(), answers)


@pytest.mark.slow
def test_two_processes_change_no_number(plan: Plan, table: Path, answers: pd.DataFrame) -> None:
    kept = Memory()
    many(plan, read_people(table, plan).people, kept, size=16, workers=2)
    pd.testing.assert_frame_equal(kept.rows(), answers)


@pytest.mark.slow
def test_a_dask_cluster_changes_no_number(plan: Plan, table: Path, answers: pd.DataFrame) -> None:
    distributed = pytest.importorskip(
        "distributed", reason="Dask distributed is not installed: an existing engine is optional"
    )
    with distributed.LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address=None) as c:
        kept = Memory()
        many(plan, read_people(table, plan).people, kept, size=16, scheduler=c.scheduler_address)
    pd.testing.assert_frame_equal(kept.rows(), answers)


@pytest.mark.slow
def test_a_worker_that_is_killed_midway_changes_no_number(
    plan: Plan, table: Path, answers: pd.DataFrame
) -> None:
    distributed = pytest.importorskip(
        "distributed", reason="Dask distributed is not installed: an existing engine is optional"
    )

    class Killing(Memory):
        def put(self, part: PeoplePart) -> None:
            """End one worker's process, of this cluster, after the first part."""
            if not self.parts:
                with distributed.Client(cluster.scheduler_address) as client:
                    number = next(iter(client.run(os.getpid).values()))
                os.kill(number, signal.SIGKILL)
            super().put(part)

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as cluster:
        kept = Killing()
        people = read_people(table, plan).people
        many(plan, people, kept, size=5, scheduler=cluster.scheduler_address)
    pd.testing.assert_frame_equal(kept.rows(), answers)


def test_a_part_is_as_large_as_its_table_alone_says() -> None:
    assert [part_size(people) for people in (1, 100, 2_000, 100_000)] == [250, 250, 500, 1000]


def test_a_run_that_was_broken_off_goes_on_and_the_files_are_the_same(
    plan: Plan, table: Path, whole: Twice, tmp_path: Path
) -> None:
    people = read_people(table, plan).people
    shutil.copytree(whole.folder, tmp_path / "whole" / whole.folder.name)
    unbroken = PartStore(tmp_path / "whole", plan, table, size=SIZE)
    credit = many(plan, people, unbroken, size=SIZE).attribution
    paths, document = write_many(plan, unbroken, tmp_path / "whole", attribution=credit)

    class Broken(PartStore):
        def put(self, part: PeoplePart) -> None:
            if part.number == 1:
                raise KeyboardInterrupt
            super().put(part)

    with pytest.raises(KeyboardInterrupt):
        many(plan, people, Broken(tmp_path / "again", plan, table, size=SIZE), size=SIZE)
    again = PartStore(tmp_path / "again", plan, table, size=SIZE)
    assert [again.has(number) for number in range(3)] == [True, False, False]
    credit = many(plan, people, again, size=SIZE).attribution
    others, _document = write_many(plan, again, tmp_path / "again", attribution=credit)
    assert [path.name for path in paths] == [path.name for path in others]
    for one, other in zip(paths, others, strict=True):
        assert one.read_bytes() == other.read_bytes(), one.name
    assert document["people"] == 40
    assert sum(document["status"].values()) == 40
    assert not (tmp_path / "again" / "people-parts").exists()
    read = pd.read_parquet(tmp_path / "whole" / "people.parquet")
    assert read["id"].tolist() == [person.id for person in people]
    told = json.loads((tmp_path / "whole" / "many.json").read_text(encoding="utf-8"))
    assert told == document


def test_each_person_counts_once_at_each_physical_crossing(scene: Scene, whole: Twice) -> None:
    rows, passed = whole.rows(), whole.passed()
    assert list(passed.columns) == list(PASSED)
    crossings = group_crossings(scene.streets, lines=scene.lines)
    over = passed[passed["kind"] == "crossing"].groupby("name")["people"].sum()
    walking = rows["bridges"].str.split("; ").explode().value_counts()
    assert over.to_dict() == walking[walking.index != ""].to_dict()
    for one in passed[passed["kind"] == "crossing"].to_dict("records"):
        number = crossings.name.index(one["name"])
        assert tuple(map(int, one["ways"].split())) == crossings.way_ids[number]
        assert (one["lon"], one["lat"]) == pytest.approx(
            (crossings.lon[number], crossings.lat[number])
        )
    taps = passed[passed["kind"] == "refill"]
    assert taps["people"].sum() == rows["refills"].sum() > 0
    assert taps["lat"].notna().all()
    assert set(taps["ways"]) <= {str(number) for number in scene.places.osm}


def test_who_needs_longer_than_a_day_is_counted_where_it_ends(
    plan: Plan, table: Path, tmp_path: Path
) -> None:
    short = plan.with_changes(choices={"longest_day_h": 2.0})
    store = PartStore(tmp_path / "out", short, table, size=40)
    many(short, read_people(table, short).people, store)
    rows, passed = store.rows(), store.passed()
    assert rows["needs_a_night_halt"].sum() > 0
    ends = passed[passed["kind"] == "shelter"]
    assert ends["people"].sum() == rows["needs_a_night_halt"].sum()


def test_after_dark_is_after_civil_twilight(answers: pd.DataFrame, plan: Plan) -> None:
    # The walk looks its light up on a clock of some minutes; the sun's own table is exact.
    assert answers["arrives_after_dark"].any()
    zone = plan.trip.timezone or zone_name(*plan.trip.start)
    for row in answers[answers["status"] == "home"].to_dict("records"):
        when = datetime.fromisoformat(row["arrive"])
        events = sun_events(*plan.trip.home, when.date(), zone)
        dusk, dawn = events["civil_dusk"], events["civil_dawn"]
        assert dusk is not None
        assert dawn is not None
        if abs((when - dusk).total_seconds()) > 300.0:
            assert row["arrives_after_dark"] == (when > dusk or when < dawn)


def test_a_fan_gives_the_ways_of_single_searches(scene: Scene) -> None:
    times = street_times(scene)
    start = (scene.ends[0].segment, scene.ends[0].fraction)
    costs = (times.day_forward_s, times.day_backward_s)
    fan = Fan(scene.network, *costs, start, closed=scene.closed)
    rng = np.random.default_rng(4)
    usable = np.flatnonzero(
        (scene.streets.open_forward | scene.streets.open_backward) & ~scene.closed
    )
    found = 0
    for segment in rng.choice(usable, 60).tolist():
        end = (int(segment), float(rng.random()))
        path = fan.way_to(end)
        if path is None:
            continue
        found += 1
        alone = scene.network.least(*costs, start, end, closed=scene.closed)
        assert np.array_equal(path.segment, alone.segment)
        assert path.cost == alone.cost
    assert found > 40


def test_places_near_a_way_are_those_of_the_main_question(scene: Scene) -> None:
    way = find_way(scene)
    reach_m = scene.plan.choices.refill_reach_m
    near = nearby_places(
        scene.places,
        scene.streets,
        course=way.course,
        start_fraction=way.legs[0].from_fraction,
        closed=scene.closed,
        reach_m=reach_m,
    )
    reach = Reach(
        scene.places,
        scene.streets,
        walkable=both_ways(scene.streets, scene.closed),
        reach_m=reach_m,
        rows=np.arange(scene.places.segment.size),
    )
    mine = reach.along(way.course, start_fraction=way.legs[0].from_fraction)
    assert sorted(mine.place.tolist()) == sorted(near.place.tolist())
    order, other = np.argsort(mine.place), np.argsort(near.place)
    np.testing.assert_allclose(mine.off_m[order], near.off_m[other], atol=1e-6)
    np.testing.assert_allclose(mine.along_m[order], near.along_m[other], atol=1e-6)


def test_a_bad_row_never_sinks_the_others(write_town: TownWriter, tmp_path: Path) -> None:
    plan = Plan.read(write_town())
    path = tmp_path / "people.csv"
    ends = ";".join(str(number) for number in (*plan.trip.start, *plan.trip.home))
    comma = ends.replace(".", ",")
    path.write_bytes(
        (
            "id;start_lat;start_lon;home_lat;home_lon;mass_kg;sex;bag;depart\r"
            f"ann;{comma};80;male;;\r"
            f"bob;{comma};8;other;none.csv;today\r"
            f"eve;{comma};70 kg;female;;04.05.2026 16:30\r"
        ).encode()
    )
    table = read_people(path, plan)
    assert [person.id for person in table.people] == ["ann", "eve"]
    (bad,) = table.unread
    assert (bad.row, bad.id) == (1, "bob")
    for word in ("line 3", "mass_kg", "sex", "bag", "depart"):
        assert word in bad.reason
    kept = Memory()
    many(plan, table.people, kept, unread=table.unread)
    rows = kept.rows()
    assert rows["id"].tolist() == ["ann", "bob", "eve"]
    assert rows["status"].tolist() == ["home", NOT_READ, "home"]
    assert rows["reason"].tolist() == ["", bad.reason, ""]
    with pytest.raises(InputError, match=r"line 3, column mass_kg"):
        read_people(path, plan, strict=True)
    path.write_text("start_lat,start_lon,home_lat\n", encoding="utf-8")
    with pytest.raises(InputError, match="home_lon"):
        read_people(path, plan)


def test_a_bag_that_cannot_be_read_is_a_fault_of_its_rows(
    write_town: TownWriter, tmp_path: Path
) -> None:
    plan = Plan.read(write_town())
    (tmp_path / "bad.csv").write_text("item,purpose,tier,quantity\na,foot,basic,1\n")
    ends = ",".join(str(number) for number in (*plan.trip.start, *plan.trip.home))
    path = tmp_path / "people.csv"
    path.write_text(f"start_lat,start_lon,home_lat,home_lon,bag\n{ends},bad.csv\n{ends},\n")
    table = read_people(path, plan)
    assert len(table.people) == 1
    assert "found 'foot'" in table.unread[0].reason


def test_the_command_counts_rows_that_it_could_not_read_and_ends_well(
    write_town: TownWriter, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = write_town()
    plan = Plan.read(file)
    ends = ",".join(str(number) for number in (*plan.trip.start, *plan.trip.home))
    path = tmp_path / "people.csv"
    path.write_text(f"start_lat,start_lon,home_lat,home_lon,age_y\n{ends},30\n{ends},300\n")
    told = ["many", str(file), str(path), "--out", str(tmp_path / "out")]
    assert main(told) == 0
    assert "1 row could not be read" in " ".join(capsys.readouterr().out.split())
    people = pd.read_csv(tmp_path / "out" / "people.csv")
    assert people["status"].tolist() == ["home", NOT_READ]
    assert main([*told, "--strict"]) == 2
    assert "column age_y" in capsys.readouterr().err


def test_people_far_from_any_street_and_people_at_home_are_told_apart(
    write_town: TownWriter,
) -> None:
    plan = Plan.read(write_town())
    person = read_people_of(plan)
    there = replace(person, home=(47.5, -60.0))
    at_home = replace(person, home=person.start)
    kept = Memory()
    many(plan, [person, there, at_home], kept)
    assert kept.rows()["status"].tolist() == ["home", "no street near", "at home"]
    reasons = kept.rows()["reason"].tolist()
    assert reasons[0] == ""
    assert reasons[1].startswith("no street within 500 m of home")


def read_people_of(plan: Plan) -> Person:
    """Make the plan's own walker a row."""
    assert plan.source is not None
    path = plan.source.parent / "one.csv"
    ends = ",".join(str(number) for number in (*plan.trip.start, *plan.trip.home))
    path.write_text(f"start_lat,start_lon,home_lat,home_lon\n{ends}\n", encoding="utf-8")
    return read_people(path, plan).people[0]
