"""Peak memory of reading a corridor from maps of growing size.

Cities of `data.city`, three sizes; from each the same corridor of eight kilometres, and all of it.
Memory is the peak of a process of its own, less that of one that has loaded the libraries only.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.benchmarks.peak import PEAK

ROOT = Path(__file__).resolve().parents[2]
SIZES = (300_000, 1_200_000, 4_800_000)
HALF_KM = 4.0

READ = (
    PEAK
    + """
import json, sys, time
import osmium, pyproj, scipy.sparse.csgraph
from simulator.ground.corridor import Corridor
from simulator.ground.osm import read_extract
places = json.loads(sys.argv[2])
area = Corridor(tuple(tuple(place) for place in places), 1.5, 1000.0) if places else None
before, began = peak_mb(), time.perf_counter()
streets = read_extract(sys.argv[1], area=area).streets
print(json.dumps([peak_mb() - before, time.perf_counter() - began, streets.tail.size,
                  float(streets.length_m.sum())]))
"""
)


def read(path: Path, places: list[tuple[float, float]]) -> tuple[float, float, int, float]:
    """Read in a process of its own: peak memory [MB], time [s], segments, length [m]."""
    words = [sys.executable, "-c", READ, str(path), json.dumps(places)]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    peak_mb, time_s, segments, length_m = json.loads(done.stdout)
    return float(peak_mb), float(time_s), int(segments), float(length_m)


def city(folder: Path, size: int) -> Path:
    """Build a city, in a process of its own so that its memory is given back."""
    words = [sys.executable, "-m", "data.city", str(folder), "--nodes", str(size)]
    subprocess.run(words, check=True, capture_output=True, cwd=ROOT)
    return folder / "city.osm.pbf"


@pytest.mark.benchmark
@pytest.mark.slow
def test_memory_grows_with_the_corridor_and_not_with_the_file(tmp_path: Path) -> None:
    # The invented city lies round 46 N 30 W, where a degree of longitude is 77.46 km long.
    places = [(46.0, -30.0 + east_km / 77.46) for east_km in (-HALF_KM, HALF_KM)]
    clipped, whole = [], []
    print()  # noqa: T201 - the report
    for size in SIZES:
        path = city(tmp_path / str(size), size)
        clipped.append(read(path, places))
        whole.append(read(path, []))
        print(  # noqa: T201
            f"{size:>9,} points, {path.stat().st_size / 1e6:5.1f} MB file: "
            f"corridor {clipped[-1][0]:5.0f} MB {clipped[-1][1]:5.1f} s, "
            f"all {whole[-1][0]:5.0f} MB {whole[-1][1]:5.1f} s"
        )
    # The corridor holds about the same streets of each city, and all of the smallest one less.
    lengths = [row[3] for row in clipped]
    assert max(lengths) < 1.1 * min(lengths)
    # From the second size on, the decoder's queues are full: sixteen times the file, not a
    # quarter of the memory of reading it all, and a fraction of the growth.
    assert clipped[2][0] < 0.25 * whole[2][0]
    assert clipped[2][0] - clipped[1][0] < 0.15 * (whole[2][0] - whole[1][0])
