"""Transfers from a server on the loopback address that misbehaves on request."""

from __future__ import annotations

import gzip
import socket
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from simulator.fetch.http import (
    Answer,
    MissingError,
    Request,
    ServerLine,
    TransferError,
    looks_like_page,
)

if TYPE_CHECKING:
    from tests.fetch.conftest import Exchange, Misbehave, Server, Waits

BODY = b"heights of the hills\n" * 20_000


class Taker:
    """Keep what comes; called once for each try."""

    def __init__(self) -> None:
        self.body = b""
        self.tries = 0

    def __call__(self, _: Answer, pieces: Iterator[bytes]) -> None:  # noqa: D102 - a taker
        self.tries += 1
        self.body = b"".join(pieces)
        if looks_like_page(self.body):
            msg = "a web page"
            raise ValueError(msg)


@pytest.fixture
def server(street_server: Server) -> Server:
    """Give a server that sends one body, packed when asked."""

    def answer(exchange: Exchange) -> None:
        if "gzip" in exchange.headers.get("accept-encoding", ""):
            exchange.send(200, gzip.compress(BODY), Content_Encoding="gzip")
        else:
            exchange.send(200, BODY)

    street_server.answer = answer
    return street_server


@pytest.fixture
def told() -> list[str]:
    return []


@pytest.fixture
def line(waits: Waits, told: list[str]) -> ServerLine:
    return ServerLine("map data", patience=waits.patience(), tell=told.append)


def test_a_packed_body_arrives_whole_and_costs_its_packed_size(
    server: Server, line: ServerLine
) -> None:
    taker = Taker()
    line.fetch(Request(server.address), taker)
    assert taker.body == BODY
    assert line.received == len(gzip.compress(BODY))
    assert server.seen[0].headers["user-agent"].startswith("walkhome")


@pytest.mark.parametrize("code", [429, 502, 503, 504])
def test_a_busy_server_is_asked_again_after_growing_waits(
    server: Server,
    line: ServerLine,
    misbehave: type[Misbehave],
    waits: Waits,
    told: list[str],
    code: int,
) -> None:
    server.misbehave += [misbehave.refuse(code)] * 3
    taker = Taker()
    line.fetch(Request(server.address), taker)
    assert taker.body == BODY
    assert waits.slept == [4.0, 8.0, 16.0]
    assert f"is busy (code {code}); trying again in 16 s" in told[-1]


def test_a_wait_that_the_server_names_is_kept(
    server: Server, line: ServerLine, misbehave: type[Misbehave], waits: Waits
) -> None:
    # RFC 9110, section 10.2.3: seconds, or a date; one in the past asks for none.
    date = "Wed, 21 Oct 2015 07:28:00 GMT"
    server.misbehave += [
        misbehave.refuse(429, Retry_After="45"),
        misbehave.refuse(503, Retry_After=date),
        misbehave.refuse(503, Retry_After="soon"),
    ]
    line.fetch(Request(server.address), Taker())
    assert waits.slept == [45.0, 8.0, 16.0]


def test_a_wait_of_an_hour_is_left_to_the_person(
    server: Server, line: ServerLine, misbehave: type[Misbehave]
) -> None:
    server.misbehave.append(misbehave.refuse(429, Retry_After="3600"))
    with pytest.raises(TransferError, match="asks to come back in 60 min"):
        line.fetch(Request(server.address), Taker())
    assert len(server.seen) == 1


def test_a_server_that_stays_busy_is_left_alone_in_the_end(
    server: Server, line: ServerLine, misbehave: type[Misbehave], waits: Waits
) -> None:
    server.misbehave += [misbehave.refuse(504, b"<html>gateway timeout</html>")] * 20
    with pytest.raises(TransferError) as caught:
        line.fetch(Request(server.address), Taker())
    assert len(server.seen) == 6
    assert waits.slept == [4.0, 8.0, 16.0, 32.0, 64.0]
    host = server.address.removeprefix("http://")
    assert str(caught.value).startswith(f"{host}: is busy (code 504); what was fetched before is")


def test_a_connection_that_is_cut_never_gives_half_a_body(
    server: Server, line: ServerLine, misbehave: type[Misbehave], told: list[str]
) -> None:
    server.misbehave.append(misbehave.cut(BODY[:1000], said=len(BODY)))
    taker = Taker()
    line.fetch(Request(server.address), taker)
    assert taker.body == BODY
    assert "broke off after 1000 of" in told[0]


def test_a_packed_body_without_its_end_is_noticed_even_when_no_length_was_said(
    server: Server, line: ServerLine, misbehave: type[Misbehave], told: list[str]
) -> None:
    def half(exchange: Exchange) -> bool:
        exchange.handler.send_response(200)
        exchange.handler.send_header("Content-Encoding", "gzip")
        exchange.handler.end_headers()
        exchange.handler.wfile.write(gzip.compress(BODY)[:300])
        exchange.handler.close_connection = True
        return True

    server.misbehave += [half, misbehave.well]
    taker = Taker()
    line.fetch(Request(server.address), taker)
    assert taker.body == BODY
    assert "broke off in the middle" in told[0]


def test_a_sign_in_page_is_no_map(
    server: Server, line: ServerLine, misbehave: type[Misbehave]
) -> None:
    page = misbehave.instead(b"<!DOCTYPE html><html><body>Welcome to our hotel</body></html>")
    server.misbehave += [page] * 9
    with pytest.raises(TransferError, match="a web page; check the address; on a public network"):
        line.fetch(Request(server.address), Taker())
    assert len(server.seen) == 2


def test_a_body_that_drips_is_given_up(
    server: Server, line: ServerLine, misbehave: type[Misbehave], told: list[str]
) -> None:
    server.misbehave.append(misbehave.drip(for_s=3.0))
    taker = Taker()
    line.fetch(Request(server.address), taker)
    assert taker.body == BODY
    assert "slower than 500 bytes a second" in told[0]


def test_silence_ends(
    server: Server, waits: Waits, misbehave: type[Misbehave], told: list[str]
) -> None:
    server.misbehave.append(misbehave.silence(for_s=1.0))
    line = ServerLine("map data", patience=waits.patience(silence_s=0.2), tell=told.append)
    line.fetch(Request(server.address), Taker())
    assert "0 s" in told[0]


def test_what_the_server_does_not_have_is_not_asked_for_again(
    server: Server, line: ServerLine, misbehave: type[Misbehave]
) -> None:
    server.misbehave.append(misbehave.refuse(404, b"no such key"))
    with pytest.raises(MissingError, match="no such map data"):
        line.fetch(Request(server.address), Taker())
    assert len(server.seen) == 1


def test_a_refusal_says_what_the_server_said_and_is_not_repeated(
    server: Server, line: ServerLine, misbehave: type[Misbehave]
) -> None:
    server.misbehave.append(misbehave.refuse(400, b"line 1: parse error: ; expected"))
    with pytest.raises(TransferError, match=r'\(code 400\): "line 1: parse error: ; expected"'):
        line.fetch(Request(server.address), Taker())
    assert len(server.seen) == 1


def test_being_offline_is_said_soon(waits: Waits) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    line = ServerLine("map data", patience=waits.patience(), tell=lambda _: None)
    with pytest.raises(TransferError, match=r"cannot be reached .*this machine may be offline"):
        line.fetch(Request(f"http://127.0.0.1:{port}"), Taker())
    assert waits.slept == [4.0]


@pytest.mark.parametrize("address", ["file:///etc/passwd", "ftp://127.0.0.1/x", "maps", "http://"])
def test_only_web_addresses_are_asked(waits: Waits, address: str) -> None:
    line = ServerLine("map data", patience=waits.patience(), tell=lambda _: None)
    with pytest.raises(TransferError, match="write http:// or https://"):
        line.fetch(Request(address), Taker())


def test_a_server_cannot_lead_to_a_file(
    server: Server, line: ServerLine, misbehave: type[Misbehave]
) -> None:
    server.misbehave += [misbehave.refuse(302, Location="file:///etc/hostname")] * 9
    taker = Taker()
    with pytest.raises(TransferError):
        line.fetch(Request(server.address), taker)
    assert taker.tries == 0


def test_more_than_was_bargained_for_is_not_read(server: Server, line: ServerLine) -> None:
    with pytest.raises(TransferError, match="more than"):
        line.fetch(Request(server.address, largest=100), Taker())


def test_requests_to_one_server_are_spaced(server: Server, waits: Waits) -> None:
    line = ServerLine("map data", patience=waits.patience(pause_s=1.0), tell=lambda _: None)
    for _ in range(3):
        line.fetch(Request(server.address), Taker())
    assert len(waits.slept) == 2
    assert all(0.5 < slept <= 1.0 for slept in waits.slept)
