"""A bad answer never enters the cache, whatever is bad about it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from simulator.errors import InputError
from simulator.fetch import geocode
from simulator.fetch.cache import Cache
from simulator.fetch.http import ServerLine, TransferError
from simulator.fetch.overpass import fetch_piece, merge_pieces
from simulator.ground.corridor import box_of

if TYPE_CHECKING:
    from tests.fetch.conftest import Exchange, Server, Waits

BOX = box_of((601, 249))  # 60.1 to 60.2 north, 24.9 to 25.0 east
GOOD_BASE = "2026-11-20T10:00:00Z"
GOOD_NODE = '<node id="1" lat="60.17" lon="24.95"/>'
WAY = '<way id="5"><nd ref="1"/><nd ref="2"/><tag k="highway" v="path"/></way>'


def answer_of(*, base: str = GOOD_BASE, node: str = GOOD_NODE, way: str = WAY) -> bytes:
    """Write an answer in the form of such a server, with one part of it changed."""
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<osm version="0.6" generator="of a test">\n'
        f'<meta osm_base="{base}"/>\n{node}\n<node id="2" lat="60.18" lon="24.96"/>\n{way}\n'
        "</osm>\n"
    ).encode()


@pytest.fixture
def line(waits: Waits) -> ServerLine:
    patience = waits.patience(tries=2, tries_hopeless=1)
    return ServerLine("street data", patience=patience, tell=lambda _: None)


def serve(server: Server, body: bytes) -> None:
    """Answer everything with one body."""

    def answer(exchange: Exchange) -> None:
        exchange.send(200, body, "application/osm3s+xml")

    server.answer = answer


def test_a_good_answer_is_taken(street_server: Server, line: ServerLine, tmp_path: Path) -> None:
    serve(street_server, answer_of())
    told = fetch_piece(line, street_server.address, BOX, tmp_path / "piece.osm.gz")
    assert told.data_of == GOOD_BASE


@pytest.mark.parametrize(
    "base",
    ["9999-99-99", "9999-99-99T99:99:99Z", "2026-02-30T10:00:00Z", "0000-01-01T00:00:00Z",
     "2026-11-20T10:00:00", "2026-11-20T10::::Z", "2026-11-20T25:00:00Z", "9999-12-31T23:59:59Z"],
)  # fmt: skip
def test_a_date_that_cannot_be_is_a_bad_answer(
    street_server: Server, line: ServerLine, tmp_path: Path, base: str
) -> None:
    serve(street_server, answer_of(base=base))
    with pytest.raises(TransferError, match="did not send the street data that was asked for"):
        fetch_piece(line, street_server.address, BOX, tmp_path / "piece.osm.gz")


@pytest.mark.parametrize(
    "node",
    [
        '<node id="1" lat="nan" lon="24.95"/>',
        '<node id="1" lat="60.17" lon="inf"/>',
        '<node id="1" lat="91" lon="24.95"/>',
        '<node id="1" lat="60.17" lon="181"/>',
        '<node id="1" lat="" lon="24.95"/>',
        '<node id="1" lat="9999999999" lon="24.95"/>',
        '<node id="1" lat="60.17" lon="24.95" version="-5"/>',
        '<node id="1" lat="60.17" lon="24.95" timestamp="9999-99-99T00:00:00Z"/>',
        '<node id="99999999999999999999999" lat="60.17" lon="24.95"/>',
        '<node id="1" lat="60.17"',
        "<node><node><node>",
    ],
)
def test_a_point_that_cannot_be_is_a_bad_answer(
    street_server: Server, line: ServerLine, tmp_path: Path, node: str
) -> None:
    serve(street_server, answer_of(node=node))
    with pytest.raises(TransferError, match="did not send the street data that was asked for"):
        fetch_piece(line, street_server.address, BOX, tmp_path / "piece.osm.gz")


def test_a_giant_attribute_is_a_bad_answer(
    street_server: Server, line: ServerLine, tmp_path: Path
) -> None:
    giant = f'<node id="1" lat="60.17" lon="24.95"><tag k="name" v="{"x" * 3_000_000}"/></node>'
    serve(street_server, answer_of(node=giant))
    with pytest.raises(TransferError):
        fetch_piece(line, street_server.address, BOX, tmp_path / "piece.osm.gz")


def test_pieces_of_an_impossible_date_never_end_the_process(tmp_path: Path) -> None:
    # The writer of the map library ends the whole process when it is given such a date.
    piece = tmp_path / "piece.osm"
    piece.write_bytes(answer_of())
    code = (
        "import sys; from pathlib import Path; from simulator.ground.overpass import merge_pieces;"
        "merge_pieces([Path(sys.argv[1])], Path(sys.argv[2]), data_of='9999-99-99T99:99:99Z',"
        "accessed='2026-01-01')"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(piece), str(tmp_path / "out.osm.pbf")],
        capture_output=True, check=False, text=True,
    )  # fmt: skip
    assert done.returncode in {0, 1}, done.returncode


def test_pieces_of_a_good_date_are_merged(tmp_path: Path) -> None:
    piece = tmp_path / "piece.osm"
    piece.write_bytes(answer_of())
    target = tmp_path / "out.osm.pbf"
    assert merge_pieces([piece], target, data_of=GOOD_BASE, accessed="2026-01-01") == 1


@pytest.mark.parametrize(
    ("lat", "lon"),
    [("nan", "24.9"), ("91", "24.9"), ("60.1", "181"), ("inf", "24.9"), ("north", "24.9")],
)
def test_a_place_that_is_off_the_earth_is_a_bad_answer(
    place_server: Server, waits: Waits, lat: str, lon: str
) -> None:
    def answer(exchange: Exchange) -> None:
        row = {
            "place_id": 1, "osm_type": "node", "osm_id": 7, "lat": lat, "lon": lon,
            "class": "place", "type": "house", "importance": 0.5, "name": "x",
            "display_name": "x", "boundingbox": ["60.1", "60.2", "24.9", "25.0"],
            "geojson": {"type": "Point", "coordinates": [24.9, 60.1]},
        }  # fmt: skip
        exchange.send(200, json.dumps([row]).encode(), "application/json")

    place_server.answer = answer
    with pytest.raises(InputError, match="no list of places on Earth"):
        geocode.look_up(["Hakaniemi"], address=place_server.address, patience=waits.patience())


def test_a_record_of_the_cache_that_was_changed_is_no_record(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    with cache.writing(lambda: None), cache.unfinished() as folder:
        (folder / "a").write_bytes(b"abc")
        cache.put("k", [folder / "a"], kind="piece", about="x", facts={"n": 1})
    (path,) = (tmp_path / "cache" / "records").glob("*.json")
    whole = path.read_text(encoding="utf-8")
    for spoilt in (
        whole.replace('"n": 1', '"n": 2'),
        whole.replace('"check"', '"chuck"'),
        whole[: len(whole) // 2],
        "[" * 100_000,
        f'{{"record": {"9" * 5000}}}',
        "null",
        "",
        '{"check": "", "record": null}',
    ):
        path.write_text(spoilt, encoding="utf-8")
        assert cache.find("k") is None
        assert cache.records() == []
