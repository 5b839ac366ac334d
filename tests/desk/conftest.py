"""A desk as a person starts it: the program in a process of its own."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest


class Started:
    """A desk that runs, and one browser's way of speaking with it."""

    def __init__(self, arguments: list[str], folder: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "simulator", "desk", "--no-browser", *arguments],
            stdout=subprocess.PIPE,
            text=True,
            cwd=folder,
            env={**os.environ, "XDG_STATE_HOME": str(folder / "state")},
        )
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().split()[-1]
        self.port = int(self.address.split(":")[2].split("/")[0])
        self.cookie = ""

    @property
    def headers(self) -> dict[str, str]:
        """What the page's own script sends."""
        return {
            "Origin": f"http://127.0.0.1:{self.port}",
            "Sec-Fetch-Site": "same-origin",
            "Content-Type": "application/json",
            "Cookie": self.cookie,
        }

    def ask(
        self,
        method: str,
        path: str,
        body: object = None,
        headers: dict[str, str] | None = None,
    ) -> tuple[int, dict[str, str], bytes]:
        """Send one request; give status, headers and body."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=120)
        try:
            sent = body if isinstance(body, bytes) else json.dumps(body).encode()
            connection.putrequest(method, path, skip_host=True)
            for name, value in {
                "Host": f"127.0.0.1:{self.port}",
                **(self.headers if headers is None else headers),
            }.items():
                connection.putheader(name, value)
            if method == "POST":
                connection.putheader("Content-Length", str(len(sent)))
            connection.endheaders(sent if method == "POST" else None)
            answer = connection.getresponse()
            return answer.status, dict(answer.getheaders()), answer.read()
        finally:
            connection.close()

    def enter(self) -> None:
        """Exchange the token of the printed address for the cookie."""
        status, headers, _body = self.ask("GET", self.address.partition(str(self.port))[2])
        assert status == 302
        self.cookie = headers["Set-Cookie"].partition(";")[0]

    def lines(self, state: object) -> list[dict[str, Any]]:
        """Have a state answered."""
        status, _headers, body = self.ask("POST", "/answer", {"state": state})
        assert status == 200
        return [json.loads(line) for line in body.splitlines()]

    def stop(self) -> str:
        """Press Ctrl-C; give what was printed then."""
        self.process.send_signal(signal.SIGINT)
        printed, _ = self.process.communicate(timeout=60)
        return printed


Start = Callable[..., Started]


def end(begun: list[Started]) -> None:
    """End desks at once."""
    for one in begun:
        if one.process.poll() is None:
            one.process.kill()
        one.process.communicate(timeout=60)


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Start desks, and end them after the test."""
    begun: list[Started] = []

    def new(*arguments: str | Path) -> Started:
        begun.append(Started([str(argument) for argument in arguments], tmp_path))
        return begun[-1]

    yield new
    end(begun)


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Started]:
    """Lend one desk on the demo to all tests that change nothing."""
    begun = Started([], tmp_path_factory.mktemp("desk"))
    begun.enter()
    yield begun
    end([begun])
