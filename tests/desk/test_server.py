"""The desk over its own port: answers, refusals, drafts, and equality with the command line."""

from __future__ import annotations

import copy
import io
import json
import os
import socket
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from simulator.bag.items import COLUMNS
from simulator.desk.server import LARGEST_BODY_BYTES, Presence
from tests.conftest import PLAN, TownWriter, write_town_into
from tests.desk.conftest import Start, Started, end

QUICK = PLAN + "[choices]\nwhat_if = false\n"


@pytest.fixture(scope="module")
def lent(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Started]:
    """Start one desk on the town for all tests that stop nothing and write nothing."""
    folder = tmp_path_factory.mktemp("town desk")
    begun = Started([str(write_town_into(folder, QUICK))], folder)
    begun.enter()
    yield begun
    end([begun])


@pytest.fixture
def desk(lent: Started) -> Iterator[Started]:
    """Lend it as it was opened."""
    yield lent
    assert lent.ask("POST", "/forget", {})[0] == 200


def begin(desk: Started) -> dict[str, Any]:
    status, _headers, body = desk.ask("GET", "/start")
    assert status == 200
    found: dict[str, Any] = json.loads(body)
    return found


def kinds(lines: list[dict[str, Any]]) -> list[str]:
    return [line["line"] for line in lines if line["line"] != "stage"]


def test_a_state_is_answered_line_by_line(desk: Started) -> None:
    state = begin(desk)["state"]
    lines = desk.lines(state)
    assert kinds(lines) == ["checked", "ground", "walk", "more", "end"]
    checked, walk = lines[0], next(line for line in lines if line["line"] == "walk")
    assert checked["faults"] == []
    # By hand from the list: 540 + 2 x 50 + 60 g; one bottle of 500 ml.
    assert checked["bag"]["sums"]["mass_g"] == [700.0, 0]
    assert checked["bag"]["sums"]["water_ml"] == [500.0, 0]
    assert walk["headline"]
    assert "<table" in walk["html"]["hours"]
    ground = json.loads(desk.ask("GET", "/ground")[2])
    assert [one["name"] for one in ground["crossings"]] == ["Mill Bridge"]
    assert len(ground["streets"]) == 4


def test_what_the_desk_says_is_what_plan_says_of_the_saved_file(
    start: Start, write_town: TownWriter, tmp_path: Path
) -> None:
    desk = start(write_town(QUICK))
    desk.enter()
    state = begin(desk)["state"]
    state["entries"]["trip.depart"] = "2026-05-04T18:45"
    state["entries"]["weather.air_c"] = "3,5"
    state["rows"][1]["cells"][COLUMNS.index("quantity")] = "3"
    state["areas"] = [[[46.0035, -64.7985], [46.0035, -64.7975], [46.0045, -64.7975]]]
    assert kinds(desk.lines(state))[-2:] == ["more", "end"]
    status, _headers, said = desk.ask("GET", "/walk/summary.json")
    assert status == 200
    saved = json.loads(desk.ask("POST", "/save", {"state": state, "overwrite": True})[2])
    assert saved["saved"].endswith("plan.toml")
    out = tmp_path / "out"
    plan = Path(saved["saved"])
    subprocess.run(
        [sys.executable, "-m", "simulator", "plan", str(plan), "--out", str(out)],
        check=True,
        capture_output=True,
    )
    assert said == (out / "summary.json").read_bytes()
    archive = zipfile.ZipFile(io.BytesIO(desk.ask("GET", "/walk/walk.zip")[2]))
    written = {path.name: path.read_bytes() for path in out.iterdir()}
    assert {name: archive.read(name) for name in archive.namelist()} == written
    assert desk.ask("GET", "/walk/timeline.pdf")[2] == written["timeline.pdf"]
    tables = tomllib.loads(plan.read_text(encoding="utf-8"))
    assert tables["weather"]["air_c"] == 3.5
    assert "Nothing is left unsaved" in desk.stop()


def test_nobody_is_asked_before_it_is_said_who_learns_what(shared: Started) -> None:
    said = json.loads(shared.ask("POST", "/find", {"name": "Mill Street 5"})[2])
    assert "Mill Street 5" in said["asks"]
    assert "http" in said["asks"]
    assert "faults" in json.loads(shared.ask("POST", "/find", {"name": " "})[2])
    state = begin(shared)["state"]
    state["entries"]["map.extract"] = ""
    words = json.loads(shared.ask("POST", "/look", {"state": state})[2])["words"]
    assert words[0].startswith("Area: ")
    assert any(line.startswith("Streets from: ") for line in words)
    shared.ask("POST", "/forget", {})


def test_nothing_is_replaced_unasked(desk: Started) -> None:
    state = begin(desk)["state"]
    state["entries"]["title"] = "Another title"
    asked = json.loads(desk.ask("POST", "/save", {"state": state, "overwrite": False})[2])
    assert asked == {"asks": ["plan.toml"]}
    assert json.loads(desk.ask("POST", "/save", {"state": state})[2]) == asked


def test_faults_are_told_beside_their_entries_and_no_verdict_is_given(shared: Started) -> None:
    state = begin(shared)["state"]
    state["entries"]["walker.1.mass_kg"] = "800"
    state["entries"]["trip.home"] = "by the sea"
    state["rows"][0]["cells"][COLUMNS.index("mass_g")] = "heavy"
    lines = shared.lines(state)
    assert kinds(lines) == ["checked", "end"]
    assert {name for name, _ in lines[0]["faults"]} >= {"walker.1.mass_kg", "trip.home"}
    state = begin(shared)["opened"]
    state["rows"][0]["cells"][COLUMNS.index("mass_g")] = "heavy"
    assert [name for name, _ in shared.lines(state)[0]["faults"]] == ["bag.1.mass_g"]
    state = begin(shared)["opened"]
    state["entries"]["trip.home"] = "47.5, -29.9"
    assert shared.lines(state)[-2]["faults"][0][0] == "trip.home"


def test_a_shut_bridge_leaves_no_way_home(start: Start, write_town: TownWriter) -> None:
    desk = start(write_town(QUICK))
    desk.enter()
    state = begin(desk)["state"]
    assert kinds(desk.lines(state))[-2:] == ["more", "end"]
    assert desk.ask("GET", "/walk/summary.json")[0] == 200
    state["entries"]["event.closed"] = ["Mill Bridge"]
    lines = kinds(desk.lines(state))
    assert lines[0] == "checked"
    assert lines[-2:] == ["no way", "end"]
    # Nor is the walk of before to be printed for it.
    assert desk.ask("GET", "/walk/summary.json")[0] == 404


def test_unsaved_work_comes_back_after_a_kill(start: Start, write_town: TownWriter) -> None:
    path = write_town(QUICK)
    first = start(path)
    first.enter()
    state = begin(first)["state"]
    typed = copy.deepcopy(state)
    typed["entries"]["walker.1.mass_kg"] = "8x"
    first.lines(typed)
    first.process.kill()
    second = start(path)
    second.enter()
    again = begin(second)
    assert again["drafted"]
    assert not again["changed_since"]
    assert again["state"] == typed
    assert again["opened"] == state
    assert json.loads(second.ask("POST", "/forget", {})[2])["state"] == state
    assert not begin(second)["drafted"]


def test_the_demo_opens_without_a_plan_and_is_saved_beside(start: Start, tmp_path: Path) -> None:
    desk = start()
    desk.enter()
    state = begin(desk)["state"]
    saved = json.loads(desk.ask("POST", "/save", {"state": state})[2])
    assert Path(saved["saved"]) == tmp_path / "walkhome-desk" / "plan.toml"
    assert (tmp_path / "walkhome-desk" / "heights.tif").is_file()


@pytest.mark.parametrize(
    ("forged", "status"),
    [
        ({}, 200),
        ({"Host": "rebound.example"}, 403),
        ({"Host": "localhost:1"}, 403),
        ({"Origin": "http://elsewhere.example"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Cookie": ""}, 403),
        ({"Cookie": "walkhome-desk-1=guessed"}, 403),
        ({"Content-Type": "text/plain"}, 403),
    ],
)
def test_a_forged_request_changes_nothing(
    shared: Started, forged: dict[str, str], status: int
) -> None:
    state = begin(shared)["state"]
    state["entries"]["title"] = "Forged"
    headers = {**shared.headers, **forged}
    assert shared.ask("POST", "/keep", {"state": state}, headers)[0] == status
    assert begin(shared)["drafted"] == (status == 200)
    shared.ask("POST", "/forget", {})


def test_every_answer_carries_the_policy_and_refusals_say_little(shared: Started) -> None:
    for path, headers in (("/", None), ("/", {}), ("/desk.js", None), ("/nothing", None)):
        _status, found, _body = shared.ask("GET", path, headers=headers)
        assert "default-src 'none'" in found["Content-Security-Policy"]
        assert found["X-Content-Type-Options"] == "nosniff"
    assert "Server" not in shared.ask("GET", "/")[1]


@pytest.mark.parametrize(
    "path",
    [
        "/../desk/server.py",
        "/desk.js/../../server.py",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/desk%2ejs/x",
        "/walk/../plan.toml",
        "/walk/plan.toml",
        "/walk/..%2fstate.json",
        "/static/desk.js",
        "//etc/passwd",
        "/deskxjs",
    ],
)
def test_no_path_leads_to_a_file(shared: Started, path: str) -> None:
    assert shared.ask("GET", path)[0] == 404


def test_a_page_without_the_token_is_let_in_nowhere(start: Start, write_town: TownWriter) -> None:
    desk = start(write_town(QUICK))
    for path in ("/", "/start", "/ground", "/stay", "/enter", "/enter?token=guess"):
        assert desk.ask("GET", path, headers={})[0] == 403
    desk.enter()
    token = desk.address.partition(str(desk.port))[2]
    assert desk.ask("GET", token, headers={})[0] == 403  # used once


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b'{"state": 3}', b"[" * 100_000])
def test_what_is_no_state_is_refused(shared: Started, body: bytes) -> None:
    assert shared.ask("POST", "/answer", body)[0] == 400


def test_a_body_without_end_is_cut_off(shared: Started) -> None:
    with socket.create_connection(("127.0.0.1", shared.port), timeout=30) as wire:
        wire.sendall(
            b"POST /answer HTTP/1.1\r\nHost: 127.0.0.1\r\n"
            + f"Content-Length: {LARGEST_BODY_BYTES + 1}\r\n\r\n".encode()
        )
        assert b" 400 " in wire.recv(4096).split(b"\r\n")[0] or not wire.recv(1)
    assert begin(shared)["state"]


def test_only_the_loopback_is_listened_on(shared: Started) -> None:
    others = [
        address[4][0]
        for address in socket.getaddrinfo(socket.gethostname(), shared.port, socket.AF_INET)
        if not str(address[4][0]).startswith("127.")
    ]
    if not others:
        pytest.skip("this machine has no address but the loopback's")
    with pytest.raises(OSError, match=r"refused|unreachable|timed out"):
        socket.create_connection((str(others[0]), shared.port), timeout=2)


def test_a_later_state_ends_the_answer_to_an_earlier_one(start: Start) -> None:
    desk = start()  # the demo takes long enough for a later state to come
    desk.enter()
    state = begin(desk)["state"]
    body = json.dumps({"state": state}).encode()
    with socket.create_connection(("127.0.0.1", desk.port), timeout=60) as wire:
        head = "".join(f"{name}: {value}\r\n" for name, value in desk.headers.items())
        wire.sendall(
            f"POST /answer HTTP/1.1\r\nHost: 127.0.0.1:{desk.port}\r\n{head}"
            f"Content-Length: {len(body)}\r\n\r\n".encode()
            + body
        )
        state["entries"]["title"] = "Later"
        later = desk.lines(state)
        earlier = b""
        while b'"end"' not in earlier:
            earlier += wire.recv(65536)
    assert b'"later"' in earlier
    assert kinds(later)[-2:] == ["more", "end"]


def test_a_taken_port_is_told_in_one_line(shared: Started) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "simulator", "desk", "--no-browser", "--port", str(shared.port)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ},
    )
    assert done.returncode == 2
    assert f"--port {shared.port}" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_the_desk_ends_when_its_pages_have_been_gone_for_a_while() -> None:
    now = [0.0]
    presence = Presence(60.0, clock=lambda: now[0])
    now[0] = 1000.0
    assert not presence.over  # the first visit may take its time
    presence.come()
    presence.come()
    now[0] = 5000.0
    presence.go()
    now[0] = 6000.0
    assert not presence.over
    presence.go()
    now[0] = 6059.0
    assert not presence.over
    now[0] = 6061.0
    assert presence.over
