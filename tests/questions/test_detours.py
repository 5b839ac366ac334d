"""Closed bridges on a hand-written town and on the demo place, and the files that tell of them."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import networkx as nx
import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader

from simulator import InputError, NoWayHomeError, Plan, demo_folder
from simulator.cli import main
from simulator.home.scene import Scene, prepare
from simulator.home.way import find_way, prepare_legs, street_times
from simulator.questions.detours import Detours, find_detours
from simulator.questions.today import (
    Left,
    read_here,
    read_left,
    read_time,
    replan,
    walk_on,
    with_left,
)
from simulator.report.detours import sheet_data, table_csv, write_detours
from simulator.route.crossings import group_crossings
from tests.conftest import PLAN, TownWriter

CONTRACT = ["crossing", "ways", "spans", "extra_min", "extra_km", "water_short_l", "dark_min"]
"""First columns of detours.csv."""


@pytest.fixture(scope="module")
def demo_plan() -> Plan:
    """Read the demo place's plan, with a home just across the river, so that tests are quick."""
    plan = Plan.read(demo_folder() / "plan.toml")
    return plan.model_copy(
        update={"trip": plan.trip.model_copy(update={"home": (46.012, -30.065)})}
    )


@pytest.fixture(scope="module")
def demo_scene(demo_plan: Plan) -> Scene:
    """Load it."""
    return prepare(demo_plan)


@pytest.fixture(scope="module")
def demo_detours(demo_plan: Plan) -> Detours:
    """Close every bridge of the demo place's way."""
    return find_detours(demo_plan, writer=write_detours)


def test_the_only_bridge_cannot_be_walked_around(write_town: TownWriter) -> None:
    found = find_detours(Plan.read(write_town()), writer=write_detours)
    assert found.crossings["crossing"].tolist() == ["Mill Bridge"]
    row = found.crossings.iloc[0]
    assert (row["reachable"], row["on_way"], row["verdict"]) == ("no", "yes", "no way home")
    assert pd.isna(row["extra_min"])
    assert row["ways"] == "9000"
    assert found.cut == ("Mill Bridge",)
    assert found.cut_is_smallest
    assert found.pairs.empty
    assert np.isinf(found.blockages["known_extra_min"]).any()
    assert "Without Mill Bridge there is no way home" in sheet_data(found)["headline"]


def test_a_bridge_that_one_stands_on_is_not_closed_in_turn(
    write_town: TownWriter, tmp_path: Path
) -> None:
    # The middle of the bridge, between rows 5 and 10 of the town.
    plan = PLAN.replace("start = [46.0002, -64.7998]", "start = [46.0075, -64.798]")
    found = find_detours(Plan.read(write_town(plan)), writer=write_detours)
    row = found.crossings.iloc[0]
    assert (row["crossing"], row["reachable"]) == ("Mill Bridge", "unknown")
    assert "stands on it" in row["verdict"]
    assert "not known" in sheet_data(found)["headline"]
    assert found.save(tmp_path / "out")


def test_no_way_to_begin_with_is_said(write_town: TownWriter) -> None:
    with pytest.raises(NoWayHomeError):
        find_detours(Plan.read(write_town(bridge=False)))


def test_a_via_on_this_side_keeps_the_bridge_in_the_second_leg(write_town: TownWriter) -> None:
    plan = PLAN.replace("depart =", "via = [[46.0042, -64.7958]]\ndepart =")
    found = find_detours(Plan.read(write_town(plan)))
    assert found.cut == ("Mill Bridge",)
    assert found.blockages["to_km"].is_monotonic_increasing
    end_km = float(found.blockages["to_km"].iloc[-1])
    assert end_km == pytest.approx(found.walk.summary["route"]["distance_km"], rel=1e-6)


def test_closing_never_makes_the_way_better_in_what_it_is_chosen_by(
    demo_scene: Scene, demo_detours: Detours
) -> None:
    # Time weighed by quiet; time alone may fall where the way around runs along a busy road.
    times = street_times(demo_scene)
    open_s = sum(leg.cost for leg in find_way(demo_scene, times=times).legs)
    crossings = group_crossings(demo_scene.streets, lines=demo_scene.lines)
    for number in range(len(crossings)):
        closed = find_way(demo_scene, times=times, also_closed=crossings.mask(number))
        assert sum(leg.cost for leg in closed.legs) >= open_s * (1.0 - 1e-9)
    fast = times.fastest()
    fastest_s = find_way(demo_scene, times=fast).cost_s
    for number in range(len(crossings)):
        closed = find_way(demo_scene, times=fast, also_closed=crossings.mask(number))
        assert closed.cost_s >= fastest_s * (1.0 - 1e-9)
    on_way = demo_detours.crossings[demo_detours.crossings["on_way"] == "yes"]
    assert (on_way["met_extra_min"] > 0.0).all()
    off_way = demo_detours.crossings[demo_detours.crossings["on_way"] == "no"]
    assert (off_way["extra_min"] == 0.0).all()


def test_the_way_around_leaves_the_way_where_it_says(demo_detours: Detours) -> None:
    way = {tuple(point) for point in demo_detours.walk.path_lonlat.round(9).tolist()}
    for _, row in demo_detours.crossings.iterrows():
        if row["on_way"] == "no":
            continue
        around = [tuple(p) for p in demo_detours.lonlat[row["crossing"]].round(9).tolist()]
        turn = (round(row["turn_lon"], 9), round(row["turn_lat"], 9))
        place = around.index(turn)
        assert set(around[: place + 1]) <= way
        assert around[place + 1] not in way
        assert row["turn_km"] <= row["along_km"]


def test_a_crossing_is_compared_with_the_walk_that_avoids_it(
    demo_scene: Scene, demo_detours: Detours
) -> None:
    # The same walk by way of the plan: the bridge closed by name there.
    row = demo_detours.crossings[demo_detours.crossings["on_way"] == "yes"].iloc[0]
    closed = walk_on(replan(demo_scene.plan, closed=[row["crossing"]]), left=Left())
    told, first = closed.summary, demo_detours.walk.summary
    assert row["arrive"] == told["time"]["arrive"]
    extra_h = told["time"]["elapsed_h"] - first["time"]["elapsed_h"]
    assert row["extra_min"] == pytest.approx(60.0 * extra_h)
    extra_km = told["route"]["distance_km"] - first["route"]["distance_km"]
    assert row["extra_km"] == pytest.approx(extra_km)
    assert row["water_short_l"] == pytest.approx(told["water"]["short_l"])
    assert row["dark_min"] == pytest.approx(60.0 * told["time"]["dark_h"])


@pytest.mark.slow
def test_the_cut_leaves_no_way_and_anything_less_does(
    demo_scene: Scene, demo_detours: Detours
) -> None:
    # networkx on the streets of the demo place, closures taken out.
    streets, cut = demo_scene.streets, demo_detours.cut
    assert cut
    crossings = group_crossings(streets, lines=demo_scene.lines)
    numbers = [crossings.name.index(name) for name in cut]

    def joined(shut: list[int]) -> bool:
        open_now = ~crossings.mask(*shut) & ~demo_scene.closed
        graph: nx.DiGraph[int] = nx.DiGraph()
        forth, back = streets.open_forward & open_now, streets.open_backward & open_now
        graph.add_edges_from(
            zip(streets.tail[forth].tolist(), streets.head[forth].tolist(), strict=True)
        )
        graph.add_edges_from(
            zip(streets.head[back].tolist(), streets.tail[back].tolist(), strict=True)
        )
        start, home = demo_scene.ends[0].segment, demo_scene.ends[-1].segment
        return nx.has_path(graph, int(streets.head[start]), int(streets.tail[home]))

    assert not joined(numbers)
    for spared in numbers:
        assert joined([number for number in numbers if number != spared])


@pytest.mark.slow
def test_legs_equal_networkx_on_the_demo_place(demo_scene: Scene) -> None:
    streets = demo_scene.streets
    trip = prepare_legs(demo_scene, street_times(demo_scene)).trips[0]
    forward_s, backward_s = trip.times_s
    crossings = group_crossings(streets, lines=demo_scene.lines)
    (begin, leave), (end, arrive) = trip.layout.origin, trip.layout.destination
    graph: nx.MultiDiGraph[int | str] = nx.MultiDiGraph()
    for row, (tail, head) in enumerate(zip(streets.tail, streets.head, strict=True)):
        if demo_scene.closed[row]:
            continue
        if streets.open_forward[row]:
            graph.add_edge(int(tail), int(head), key=row, time_s=forward_s[row])
        if streets.open_backward[row]:
            graph.add_edge(int(head), int(tail), key=-row - 1, time_s=backward_s[row])
    graph.add_edge("start", int(streets.head[begin]), time_s=(1 - leave) * forward_s[begin])
    graph.add_edge("start", int(streets.tail[begin]), time_s=leave * backward_s[begin])
    graph.add_edge(int(streets.tail[end]), "home", time_s=arrive * forward_s[end])
    graph.add_edge(int(streets.head[end]), "home", time_s=(1 - arrive) * backward_s[end])
    for number in range(len(crossings)):
        rows = crossings.segments(number).tolist()
        keys = [
            (tail, head, key)
            for row in rows
            for tail, head, key in (
                (int(streets.tail[row]), int(streets.head[row]), row),
                (int(streets.head[row]), int(streets.tail[row]), -row - 1),
            )
            if graph.has_edge(tail, head, key)
        ]
        kept = {edge: graph.edges[edge]["time_s"] for edge in keys}
        graph.remove_edges_from(keys)
        expected = nx.dijkstra_path_length(graph, "start", "home", weight="time_s")
        for (tail, head, key), time_s in kept.items():
            graph.add_edge(tail, head, key=key, time_s=time_s)
        assert trip.without(rows).cost_s == pytest.approx(expected, rel=1e-9)


def test_alternatives_are_walked_and_keep_their_bounds(demo_detours: Detours) -> None:
    table = demo_detours.alternatives
    assert len(table) == len(demo_detours.other_walks) > 0
    assert (table["shared_pct"] <= 50.0).all()
    for walk, (_, row) in zip(demo_detours.other_walks, table.iterrows(), strict=True):
        assert walk.summary["time"]["arrive"] == row["arrive"]


def test_the_files_are_those_of_the_contract(demo_detours: Detours, tmp_path: Path) -> None:
    written = {path.name: path for path in demo_detours.save(tmp_path / "out")}
    assert set(written) == {
        "detours.csv",
        "detours.geojson",
        "detours.json",
        "blockages.csv",
        "detours.pdf",
        "credits.txt",
    }
    rows = list(csv.DictReader(io.StringIO(written["detours.csv"].read_text("utf-8"))))
    assert list(rows[0])[: len(CONTRACT) + 1] == [*CONTRACT, "reachable"]
    assert len(rows) == len(demo_detours.crossings)
    told = json.loads(written["detours.json"].read_text("utf-8"))
    assert told["fewest_that_cut_home_off"] == list(demo_detours.cut or ())
    assert told["crossings"][0]["crossing"] == rows[0]["crossing"]
    drawn = json.loads(written["detours.geojson"].read_text("utf-8"))
    kinds = [feature["properties"]["what"] for feature in drawn["features"]]
    assert kinds.count("way") == 1
    assert kinds.count("crossing") == len(rows)
    assert kinds.count("around") == kinds.count("turn") == len(demo_detours.lonlat)
    assert kinds.count("other way") == len(demo_detours.other_walks)
    for feature in drawn["features"]:
        points = np.array(feature["geometry"]["coordinates"]).reshape(-1, 2)
        # RFC 7946 section 3.1.1: longitude first; the demo place lies west of 29 W, north of 45 N.
        assert (points[:, 0] < -29.0).all()
        assert (points[:, 1] > 45.0).all()
    text = "".join(page.extract_text() for page in PdfReader(written["detours.pdf"]).pages)
    assert "If the bridge is closed" in text
    assert rows[0]["crossing"] in text
    assert "Turn at" in text


def test_the_same_detours_give_the_same_bytes(demo_detours: Detours, tmp_path: Path) -> None:
    first = {path.name: path.read_bytes() for path in demo_detours.save(tmp_path / "a")}
    second = {path.name: path.read_bytes() for path in demo_detours.save(tmp_path / "b")}
    assert first == second


def test_paper_and_writer_are_checked(demo_detours: Detours, tmp_path: Path) -> None:
    demo_detours.save(tmp_path / "letter", page="Letter")
    page = PdfReader(tmp_path / "letter" / "detours.pdf").pages[0]
    # ANSI/ASME Y14.1 size A: 8.5 by 11 inches.
    assert float(page.mediabox.width) == pytest.approx(8.5 * 72)
    with pytest.raises(ValueError, match="page"):
        demo_detours.save(tmp_path / "folio", page="Folio")  # type: ignore[arg-type]
    assert not (tmp_path / "folio").exists()


def test_hostile_names_are_harmless_in_the_table() -> None:
    table = pd.DataFrame({"crossing": ['=HYPERLINK("x")'], "extra_min": [np.inf], "lat": [np.nan]})
    header, row = table_csv(table).splitlines()
    assert header == "crossing,extra_min,lat"
    cells = next(csv.reader([row]))
    assert not cells[0].startswith("=")
    assert cells[1:] == ["", ""]


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("water_l=0.4", Left(water_l=0.4)),
        ("water_l=0, food_kcal=600", Left(water_l=0.0, food_kcal=600.0)),
    ],
)
def test_what_is_left_is_read(text: str, left: Left) -> None:
    assert read_left(text) == left


@pytest.mark.parametrize(
    "text",
    ["", "water", "water_l=", "water_l=-1", "water_l=nan", "beer_l=1", "water_l=1,water_l=2"],
)
def test_nonsense_left_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(InputError, match="--left") as refusal:
        read_left(text)
    assert "\n" not in str(refusal.value)


def test_a_place_is_read_and_refused() -> None:
    assert read_here("46.01, -30.08") == (46.01, -30.08)
    for text in ("46.01", "north,west", "1,2,3", "", "nan,5"):
        with pytest.raises(InputError, match="--from"):
            read_here(text)
    with pytest.raises(InputError, match="latitude goes first"):
        read_here("130.0,46.0")


def test_what_is_left_weighs_less_and_is_all_there_is(demo_scene: Scene) -> None:
    empty = with_left(demo_scene, Left(water_l=0.0, food_kcal=0.0))
    assert empty.walkers.water_ml.sum() == 0.0
    assert empty.walkers.food_kcal.sum() == 0.0
    gone_kg = demo_scene.carried.water_ml / 1000.0 + demo_scene.carried.food_mass_kg
    assert demo_scene.walkers.bag_kg.sum() - empty.walkers.bag_kg.sum() == pytest.approx(gone_kg)
    same = with_left(demo_scene, Left())
    np.testing.assert_allclose(same.walkers.bag_kg, demo_scene.walkers.bag_kg)
    with pytest.raises(InputError, match="containers"):
        with_left(demo_scene, Left(water_l=99.0))


def test_on_the_day_the_way_starts_here_and_keeps_off_what_is_closed(demo_plan: Plan) -> None:
    here = (46.003, -30.09)
    depart = demo_plan.trip.depart.replace(hour=17, minute=30)
    plan = replan(demo_plan, here=here, closed=["Old Ossen Bridge"], depart=depart)
    assert demo_plan.event.closed == ()
    walk = walk_on(plan, left=Left(water_l=0.1, food_kcal=200.0))
    lon, lat = walk.path_lonlat[0]
    assert abs(lat - here[0]) < 0.005
    assert abs(lon - here[1]) < 0.005
    assert walk.summary["time"]["depart"].startswith(depart.isoformat())
    assert walk.summary["water"]["carried_l"] == pytest.approx(0.1)
    assert walk.summary["food"]["carried_kcal"] == pytest.approx(200.0)
    assert 62 not in walk.segments["way_id"].tolist()


@pytest.mark.parametrize(("hours", "shut"), [("16:00-19:00", True), ("19:00-06:00", False)])
def test_hours_of_closure_count_at_the_time_of_arrival(
    demo_plan: Plan, hours: str, shut: bool
) -> None:
    # The walk leaves at 16:30 and reaches the bridge, 3.6 km on, within the hour.
    scene = prepare(replan(demo_plan, closed=[f"Old Ossen Bridge {hours}"]))
    ways = scene.streets.ways.osm_id[scene.streets.way]
    walked = np.concatenate([leg.segment for leg in find_way(scene).legs])
    assert (62 not in ways[walked].tolist()) == shut


def test_a_misspelt_closure_on_the_day_offers_the_right_name(demo_plan: Plan) -> None:
    with pytest.raises(InputError, match="did you mean 'Old Ossen Bridge'"):
        walk_on(replan(demo_plan, closed=["Old Osen Bridge"]), left=Left())


def test_a_time_is_read_and_refused() -> None:
    assert read_time("2026-05-04T17:20").minute == 20
    for text in ("noon", "17:20", "2026-05-04T17:20Z", ""):
        with pytest.raises(InputError, match="--at"):
            read_time(text)


def test_the_commands_write_their_files_and_refuse_in_one_line(
    write_town: TownWriter, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = str(write_town())
    assert main(["detours", plan, "--out", str(tmp_path / "detours")]) == 0
    assert "no way home" in capsys.readouterr().out
    assert (tmp_path / "detours" / "detours.pdf").stat().st_size > 0
    on_the_day = ["plan", plan, "--out", str(tmp_path / "now"), "--from", "46.0042,-64.7958"]
    assert main([*on_the_day, "--left", "water_l=0.1", "--at", "2026-05-04T10:15"]) == 0
    capsys.readouterr()
    assert main([*on_the_day, "--closed", "Mill Bridge", "--json"]) == 3
    assert "stay and wait" in capsys.readouterr().out
    assert main([*on_the_day, "--closed", "Mill Bridg"]) == 2
    told = capsys.readouterr().err
    assert "did you mean 'Mill Bridge'" in told
    assert told.count("\n") == 1
    assert main(["plan", plan, "--from", "-95,7"]) == 2
    assert "latitude goes first" in capsys.readouterr().err
