"""From extract and raster to a route, and the whole plan, against osmnx with networkx.

Each side runs in a process of its own; times leave imports out unless they are what is measured.
Both weigh edges by Tobler's function of the slope between their ends. The routes' times are
compared on level ground, where osmnx and we have the same slopes. The city is invented by
``data/city.py``.
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import time
import tomllib
from dataclasses import fields
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from simulator import Plan, Walk, demo_folder
from simulator.home.scene import Scene, prepare
from simulator.home.walk import answer
from simulator.home.way import find_way
from simulator.walk.course import Course
from simulator.walk.engine import simulate
from tests.benchmarks.peak import PEAK

ROOT = Path(__file__).resolve().parents[2]

OURS = (
    PEAK
    + """
import json, sys, time
import numpy, osmium, pyproj, rasterio, scipy.ndimage, scipy.sparse.csgraph
from simulator.ground.streets import Streets
from simulator.route.search import Network
from simulator.walk.party import Manner, street_times_s
extract, raster, ends = sys.argv[1], sys.argv[2], json.loads(sys.argv[3])
begin = time.perf_counter()
streets = Streets.read(extract, elevation=[raster])
network = Network.of_streets(streets)
start, home = (streets.snap(*end, limit_m=500.0, component=0) for end in ends)
plain = Manner(surface=False, stairs=False)
times = street_times_s(streets, plain)
path = network.least(*times, (start.segment, start.fraction), (home.segment, home.fraction))
lines = streets.polyline(path.segment, path.forward, path.from_fraction, path.to_fraction)
seconds = time.perf_counter() - begin
peak = peak_mb()
level = streets.length_m / (6.0 * numpy.exp(-0.175) / 3.6)
nodes = [int(streets.tail[end.segment]) for end in (start, home)]
cost = network.field(level, level, (start.segment, 0.0))[nodes[1]]
ids = [int(streets.node_id[node]) for node in nodes]
print(json.dumps({"seconds": seconds, "peak_mb": peak, "level_s": cost, "ids": ids}))
"""
)

THEIRS = (
    PEAK
    + """
import json, sys, time
import networkx, numpy, osmnx
extract, raster, ids = sys.argv[1], sys.argv[2], json.loads(sys.argv[3])
begin = time.perf_counter()
graph = osmnx.graph_from_xml(extract, bidirectional=True, simplify=False, retain_all=True)
graph = osmnx.elevation.add_node_elevations_raster(graph, raster, cpus=1)
graph = osmnx.elevation.add_edge_grades(graph)
for _, _, data in graph.edges(data=True):
    slope = 0.0 if numpy.isnan(data["grade"]) else data["grade"]
    speed = 6.0 * numpy.exp(-3.5 * abs(slope + 0.05)) / 3.6
    data["walk_s"] = data["length"] / speed
    data["level_s"] = data["length"] / (6.0 * numpy.exp(-0.175) / 3.6)
route = networkx.shortest_path(graph, *ids, weight="walk_s")
lines = [(graph.nodes[node]["x"], graph.nodes[node]["y"]) for node in route]
seconds = time.perf_counter() - begin
peak = peak_mb()
level = networkx.shortest_path_length(graph, *ids, weight="level_s")
print(json.dumps({"seconds": seconds, "peak_mb": peak, "level_s": level}))
"""
)


@pytest.fixture(scope="module")
def city(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("city")
    for ending in (".osm", ".osm.pbf"):
        command = [sys.executable, "-m", "data.city", str(folder), "--suffix", ending]
        subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    return folder


def run(*command: str) -> str:
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return done.stdout.splitlines()[-1]


@pytest.mark.benchmark
@pytest.mark.slow
def test_from_extract_and_raster_to_a_route(city: Path) -> None:
    plan = tomllib.loads((city / "plan.toml").read_text(encoding="utf-8"))
    ends = json.dumps([plan["trip"]["start"], plan["trip"]["home"]])
    raster = str(city / "heights.tif")
    ours = json.loads(run(sys.executable, "-c", OURS, str(city / "city.osm.pbf"), raster, ends))
    theirs = json.loads(
        run(sys.executable, "-c", THEIRS, str(city / "city.osm"), raster, json.dumps(ours["ids"]))
    )
    # osmnx walks along haversine lengths; 0.6 % is the most that they leave the ellipsoid. Its
    # graph also holds ways that may not be walked, so its way is never longer.
    assert theirs["level_s"] <= 1.006 * ours["level_s"]
    assert theirs["level_s"] >= 0.90 * ours["level_s"]
    print(  # noqa: T201 - a benchmark's result
        f"\nread, heights, contract, route: {ours['seconds']:.2f} s, {ours['peak_mb']:.0f} MB; "
        f"osmnx with networkx {theirs['seconds']:.2f} s, {theirs['peak_mb']:.0f} MB: "
        f"{theirs['seconds'] / ours['seconds']:.1f} times faster, "
        f"{theirs['peak_mb'] / ours['peak_mb']:.1f} times smaller"
    )


@pytest.mark.benchmark
@pytest.mark.slow
def test_the_whole_plan_beside_importing_osmnx(city: Path, tmp_path: Path) -> None:
    program = "import sys; from simulator.cli import main; sys.exit(main(sys.argv[1:]))"
    times: dict[str, list[float]] = {"plan": [], "import osmnx": []}
    for turn in range(3):
        out = tmp_path / str(turn)
        begin = time.perf_counter()
        run(sys.executable, "-c", program, "plan", str(city / "plan.toml"), "--out", str(out))
        times["plan"].append(time.perf_counter() - begin)
        begin = time.perf_counter()
        subprocess.run([sys.executable, "-c", "import osmnx"], check=True)
        times["import osmnx"].append(time.perf_counter() - begin)
        assert (out / "timeline.pdf").stat().st_size > 0
    plan, osmnx = (sorted(times[name])[1] for name in ("plan", "import osmnx"))
    print(  # noqa: T201 - a benchmark's result
        f"\nwalkhome plan, all files: {plan:.2f} s; import osmnx: {osmnx:.2f} s: {plan / osmnx:.1f}"
    )


class Told(Exception):  # noqa: N818 - ends the work where the answer is known
    """The verdict is told."""


def answer_of(scene: Scene) -> Walk:
    """Answer up to the verdict, before other hours and paces are tried."""
    found: list[Walk] = []

    def first(walk: Walk) -> None:
        found.append(walk)
        raise Told

    with contextlib.suppress(Told):
        answer(scene, first=first)
    return found[0]


@pytest.mark.benchmark
@pytest.mark.slow
def test_a_changed_plan_beside_importing_osmnx() -> None:
    program = "import time; t = time.process_time(); import osmnx; print(time.process_time() - t)"
    osmnx_s = float(run(sys.executable, "-c", program))
    plan = Plan.read(demo_folder() / "plan.toml")
    scene = prepare(plan)
    answer_of(scene)
    lat, lon = plan.trip.home
    changes: dict[str, dict[str, Any]] = {
        "departure": {"trip": {"depart": plan.trip.depart - timedelta(minutes=45)}},
        "later departure, with a night halt": {
            "trip": {"depart": plan.trip.depart + timedelta(minutes=45)}
        },
        "pace": {"walker": {"pace_factor": 1.1}},
        "closure": {"event": {"closed": ("Old Ossen Bridge",)}},
        "end": {"trip": {"home": (lat + 0.002, lon)}},
    }
    for name, change in changes.items():
        changed = plan.with_changes(**change)
        begin = time.process_time()
        walk = answer_of(prepare(changed, kept=scene.ground))
        took_s = time.process_time() - begin
        assert walk.facts == answer_of(prepare(changed)).facts
        print(  # noqa: T201 - a benchmark's result
            f"\nanswer to another {name}: {took_s:.2f} s of processor time; "
            f"import osmnx {osmnx_s:.2f} s: {took_s / osmnx_s:.2f}"
        )


@pytest.mark.benchmark
@pytest.mark.slow
def test_one_walk_beside_as_many_steps_of_plain_numpy() -> None:
    scene = prepare(Plan.read(demo_folder() / "plan.toml"))
    course = find_way(scene).course
    # Every step by itself, as far as 1,500 steps go.
    columns: dict[str, Any] = {
        field.name: value[: 1500 + value.size - course.run_m.size]
        for field in fields(Course)
        if field.name != "joins"
        for value in [getattr(course, field.name)]
    }
    short = Course(**columns)
    assert short.run_m.size == 1500

    def walk() -> float:
        begin = time.process_time()
        simulate(
            short,
            scene.walkers,
            manner=scene.manner,
            conditions=scene.conditions,
            depart_epoch_s=np.full(scene.walkers.count, scene.depart_epoch_s),
        )
        return time.process_time() - begin

    def floor() -> float:
        one, begin = np.ones(1), time.process_time()
        for _step in range(1500):
            for _equation in range(20):
                np.exp(one)
        return time.process_time() - begin

    ours, theirs = (min(each() for _ in range(5)) for each in (walk, floor))
    print(  # noqa: T201 - a benchmark's result
        f"\none walk of 1,500 steps: {1000.0 * ours:.0f} ms; twenty numpy.exp of one element for "
        f"each step: {1000.0 * theirs:.0f} ms: {ours / theirs:.1f}"
    )
