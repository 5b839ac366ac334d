"""Servers that send more than was asked, packed small, or without end."""

from __future__ import annotations

import gzip
import socket
import threading
import time
import zlib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from simulator.errors import InputError
from simulator.fetch.cache import Cache
from simulator.fetch.http import BLOCK_BYTES, Answer, RangedFile, Request, ServerLine, TransferError
from simulator.fetch.weather import LARGEST_BYTES, fetch_weather

if TYPE_CHECKING:
    from tests.fetch.conftest import Behaviour, Exchange, Server, Waits

MB = 1_000_000


def packed_zeros(size: int) -> bytes:
    """Give a gzip of zeros, a thousandth of their size."""
    return gzip.compress(bytes(size), 1)


class Counter:
    """Take what comes and count it."""

    def __init__(self) -> None:
        self.size = 0

    def __call__(self, _: Answer, pieces: Iterator[bytes]) -> None:  # noqa: D102 - a taker
        self.size = 0
        for piece in pieces:
            self.size += len(piece)


def sends(body: bytes, code: int = 200, **headers: str | int) -> Behaviour:
    """Answer with a body and headers."""

    def behave(exchange: Exchange) -> bool:
        exchange.send(code, body, "application/octet-stream", **headers)
        return True

    return behave


@pytest.fixture
def line(waits: Waits) -> ServerLine:
    return ServerLine("map data", patience=waits.patience(tries_hopeless=1), tell=lambda _: None)


def test_decoded_bytes_count_and_not_those_sent(street_server: Server, line: ServerLine) -> None:
    street_server.misbehave.append(sends(packed_zeros(50 * MB), Content_Encoding="gzip"))
    taker = Counter()
    with pytest.raises(TransferError, match="more than 1 MB"):
        line.fetch(Request(street_server.address, largest=MB), taker)
    assert taker.size <= MB + (1 << 16)


@pytest.mark.parametrize("encoding", ["deflate", "br", "zstd", "gzip, gzip", "compress", "x-gzip"])
def test_an_encoding_that_was_not_asked_for_is_refused(
    street_server: Server, line: ServerLine, encoding: str
) -> None:
    street_server.misbehave.append(sends(zlib.compress(b"x"), Content_Encoding=encoding))
    with pytest.raises(TransferError, match="encoding"):
        line.fetch(Request(street_server.address), Counter())


def test_packed_parts_are_refused_where_plain_ones_were_asked_for(
    street_server: Server, line: ServerLine
) -> None:
    bomb = packed_zeros(40 * MB)
    street_server.misbehave.append(
        sends(bomb, 206, Content_Encoding="gzip", Content_Range="bytes 0-524287/999999999")
    )
    taker = Counter()
    request = Request(
        street_server.address,
        headers={"Range": "bytes=0-524287", "Accept-Encoding": "identity"},
        whole=False,
    )
    with pytest.raises(TransferError, match="encoding"):
        line.fetch(request, taker)
    assert taker.size == 0


def test_a_part_longer_than_asked_is_not_read(
    street_server: Server, waits: Waits, tmp_path: Path
) -> None:
    size = 40 * MB
    span = f"bytes 0-{size - 1}/{size}"
    street_server.misbehave += [sends(bytes(size), 206, Content_Range=span)] * 3
    line = ServerLine("heights", patience=waits.patience(tries_hopeless=1), tell=lambda _: None)
    cache = Cache(tmp_path / "cache")
    with (
        cache.writing(lambda: None),
        pytest.raises(TransferError),
    ):
        RangedFile(line, street_server.address, tmp_path / "copy", cache=cache, fresh=False)
    assert line.received <= 2 * BLOCK_BYTES
    assert cache.records() == []


@pytest.mark.parametrize(
    "whole", ["9" * 5000, str(10**18), "-5", "²", "1"], ids=["digits", "exabyte", "-", "²", "1"]
)
def test_a_size_that_cannot_be_is_refused(
    street_server: Server, waits: Waits, tmp_path: Path, whole: str
) -> None:
    body = bytes(BLOCK_BYTES)
    span = f"bytes 0-{BLOCK_BYTES - 1}/{whole}"
    street_server.misbehave += [sends(body, 206, Content_Range=span)] * 3
    line = ServerLine("heights", patience=waits.patience(tries_hopeless=1), tell=lambda _: None)
    cache = Cache(tmp_path / "cache")
    with cache.writing(lambda: None), pytest.raises(TransferError):
        RangedFile(line, street_server.address, tmp_path / "copy", cache=cache, fresh=False)
    assert cache.records() == []


@pytest.mark.parametrize("text", ["²", "9" * 5000, "-1", "nan", "inf", "1e9", "", "Wed, 99 Foo"])
def test_any_wait_that_a_server_names_is_understood_or_passed_over(
    street_server: Server, waits: Waits, text: str
) -> None:
    # RFC 9110, section 10.2.3: a whole number of seconds in ASCII digits, or a date.
    def busy(exchange: Exchange) -> bool:
        exchange.handler.send_response(503)
        exchange.handler.send_header("Retry-After", text)
        exchange.handler.send_header("Content-Length", "0")
        exchange.handler.end_headers()
        return True

    street_server.misbehave.append(busy)
    street_server.answer = lambda exchange: exchange.send(200, b"well")
    line = ServerLine("map data", patience=waits.patience(), tell=lambda _: None)
    taker = Counter()
    try:
        line.fetch(Request(street_server.address), taker)
    except TransferError as fault:
        assert "asks to come back" in str(fault)  # noqa: PT017 - one of two good ends
        assert len(str(fault)) < 300  # noqa: PT017
    else:
        assert taker.size == 4
        assert waits.slept == [4.0]


@pytest.mark.parametrize("where", ["header", "body", "error"])
def test_a_whole_answer_has_a_deadline(street_server: Server, waits: Waits, where: str) -> None:
    # Never silent, never slower than what counts as slow: only the clock ends it.
    def drip(exchange: Exchange) -> bool:
        handler, stop = exchange.handler, time.monotonic() + 20.0
        if where == "header":
            handler.wfile.write(b"HTTP/1.1 200 OK\r\n")
        else:
            handler.send_response(503 if where == "error" else 200)
            handler.end_headers()
        number = 0
        while time.monotonic() < stop:
            number += 1
            handler.wfile.write(
                f"X-{number}: {'x' * 90}\r\n".encode() if where == "header" else b"x" * 100
            )
            handler.wfile.flush()
            time.sleep(0.3 if where == "header" else 0.02)
        return True

    street_server.misbehave += [drip] * 2
    patience = waits.patience(longest_s=1.0, tries=1, window_s=60.0)
    line = ServerLine("map data", patience=patience, tell=lambda _: None)
    began = time.monotonic()
    with pytest.raises(TransferError, match="longer than 1 s"):
        line.fetch(Request(street_server.address), Counter())
    assert time.monotonic() - began < 10.0  # far from the server's 20 s; a deadline, not a race


@pytest.mark.parametrize("way", ["greetings", "proxy"])
def test_what_comes_before_a_safe_connection_has_the_deadline_too(
    waits: Waits, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    # A record of 16 kB announced (RFC 8446, 5.1: handshake, version, length), or the header of an
    # answer to CONNECT (RFC 9110, 9.3.6), sent byte by byte.
    opening = b"\x16\x03\x03\x40\x00" if way == "greetings" else b"HTTP/1.1 200 OK\r\nX-0: "

    def drip(listener: socket.socket, stop: float) -> None:
        connection, _ = listener.accept()
        with connection, suppress(OSError):
            connection.sendall(opening)
            while time.monotonic() < stop:
                connection.sendall(b"\x02" if way == "greetings" else b"x")
                time.sleep(0.05)

    with socket.create_server(("127.0.0.1", 0)) as listener:
        address = f"127.0.0.1:{listener.getsockname()[1]}"
        if way == "proxy":
            monkeypatch.setenv("https_proxy", f"http://{address}")
            monkeypatch.setenv("no_proxy", "")
            address = "map.invalid"
        began = time.monotonic()
        server = threading.Thread(target=drip, args=(listener, began + 20.0), daemon=True)
        server.start()
        patience = waits.patience(longest_s=1.0, tries=1, silence_s=60.0)
        line = ServerLine("map data", patience=patience, tell=lambda _: None)
        with pytest.raises(TransferError, match="longer than 1 s"):
            line.fetch(Request(f"https://{address}/"), Counter())
        assert time.monotonic() - began < 10.0  # far from the server's 20 s
        server.join(timeout=10.0)


@pytest.mark.parametrize(
    "template",
    ["http://h/{lat:99999999f}", "http://h/{lat!r}", "http://h/{lat.__class__}", "http://h/{0}",
     "http://h/{lat:{lon}}", "http://h/{lon:.999999999f}", "http://h/{lat", "http://h/}",
     "http://h/{lat:%}", "http://h/{}", "http://h/{lat:.8f}"],
)  # fmt: skip
def test_an_address_takes_places_and_nothing_else(template: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="braces"):
        fetch_weather(
            template,
            lat=60.0,
            lon=24.0,
            target=tmp_path / "year.epw",
            check=lambda _: None,
            tell=lambda _: None,
        )


def test_a_typical_year_is_not_a_bomb(street_server: Server, waits: Waits, tmp_path: Path) -> None:
    bomb = packed_zeros(LARGEST_BYTES + 10 * MB)
    street_server.misbehave += [sends(bomb, Content_Encoding="gzip")] * 3
    with pytest.raises(InputError, match="more than 30 MB"):
        fetch_weather(
            street_server.address + "/{lat:.2f}/{lon}",
            lat=60.0,
            lon=24.0,
            target=tmp_path / "year.epw",
            check=lambda _: None,
            tell=lambda _: None,
            patience=waits.patience(tries_hopeless=1),
        )
    assert street_server.seen[0].path == "/60.00/24.0"
    assert list(tmp_path.iterdir()) == []
