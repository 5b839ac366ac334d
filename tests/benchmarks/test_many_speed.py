"""Time of a table of people on a map of some 300,000 nodes, one process and two."""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from simulator import Plan
from simulator.ground.streets import Streets
from simulator.questions.many import PeoplePart, ground_of, many
from simulator.questions.people import Person

ROOT = Path(__file__).resolve().parents[2]
PEOPLE = 2_000
ORIGINS = 10
"""200 people leave each place, as 10,000 from 50."""

PLAN = """\
title = "A big city"
[trip]
start = [{start_lat}, {start_lon}]
home = [{home_lat}, {home_lon}]
depart = 2026-05-04T15:30:00
[map]
extract = "city.osm.pbf"
[walker]
mass_kg = 80
height_m = 1.75
age_y = 40
sex = "male"
[weather]
air_c = 18
humidity_pct = 60
wind_m_s = 3
cloud_pct = 50
rain_mm_h = 0
"""


class Memory:
    """Keeps parts in memory."""

    def __init__(self) -> None:
        self.parts: list[PeoplePart] = []

    def has(self, number: int) -> bool:
        """Say that nothing is finished."""
        return number < 0

    def put(self, part: PeoplePart) -> None:
        """Keep a part."""
        self.parts.append(part)

    def rows(self) -> pd.DataFrame:
        """Give everyone in the order of the table."""
        rows = pd.concat([part.rows for part in self.parts])
        return rows.sort_values("row", ignore_index=True)


def _processor_s() -> float:
    """Processor time of this process and of its finished children [s]."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in used)


@pytest.mark.benchmark
@pytest.mark.slow
def test_people_on_a_big_map_on_one_core_and_on_two(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "data.city", str(tmp_path)]
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    streets = Streets.read(tmp_path / "city.osm.pbf")
    rng = np.random.default_rng(3)
    at = np.column_stack([streets.lat, streets.lon])
    nodes = at[rng.integers(0, len(at), PEOPLE + ORIGINS)]
    first, last = nodes[0].tolist(), nodes[-1].tolist()
    (tmp_path / "plan.toml").write_text(
        PLAN.format(start_lat=first[0], start_lon=first[1], home_lat=last[0], home_lon=last[1]),
        encoding="utf-8",
    )
    plan = Plan.read(tmp_path / "plan.toml")
    people = [
        Person(
            id=str(row),
            start=tuple(nodes[row % ORIGINS].tolist()),
            home=tuple(nodes[ORIGINS + row].tolist()),
            mass_kg=float(rng.uniform(50, 100)),
            height_m=1.75,
            age_y=40.0,
            pace_factor=float(rng.uniform(0.7, 1.2)),
            clothing_clo=0.9,
            windproof=None,
            capacity_ml_kg_min=None,
            level_km_h=None,
            sex="female",
            bag=tmp_path / "bag.csv",  # bottles, so that stops are weighed
            depart=datetime(2026, 5, 4, 15, 30),  # noqa: DTZ001 - local clock time, as written
        )
        for row in range(PEOPLE)
    ]
    ground_of(plan)
    answers, taken, busy = [], [], []
    for workers in (1, 2):
        kept = Memory()
        began, used = time.perf_counter(), _processor_s()
        many(plan, people, kept, workers=workers)
        taken.append(time.perf_counter() - began)
        busy.append(_processor_s() - used)
        answers.append(kept.rows())
    pd.testing.assert_frame_equal(answers[0], answers[1])
    km = answers[0]["distance_km"].median()
    print(  # noqa: T201 - the report
        f"\n{PEOPLE:,} people from {ORIGINS} places on {streets.lon.size:,} nodes, median way "
        f"{km:.1f} km: one process {1e3 * taken[0] / PEOPLE:.1f} ms each, two "
        f"{1e3 * taken[1] / PEOPLE:.1f} ms each, {taken[0] / taken[1]:.2f} times as fast; "
        f"processor time {busy[0]:.1f} s and {busy[1]:.1f} s"
    )
