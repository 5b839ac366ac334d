"""The local server: one page, one script, one style sheet, and answers as lines of JSON."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from importlib import resources
from typing import Any

from tornado.httpserver import HTTPServer
from tornado.iostream import StreamClosedError
from tornado.netutil import bind_sockets
from tornado.web import Application, RequestHandler

from simulator.bag.items import COLUMNS, NUMBERS, PURPOSES, TIERS
from simulator.desk.answers import Desk, as_line, zipped
from simulator.desk.bringing import Line
from simulator.desk.document import FIELDS, SWAPPED, PageState, files_beside, state_from
from simulator.desk.guard import HEADERS, Guard
from simulator.errors import InputError

LOOPBACK = "127.0.0.1"
"""The only address that is listened on."""

LARGEST_BODY_BYTES = 2_000_000
"""Largest request [bytes]: a full table of items and many areas."""

LARGEST_HEADER_BYTES = 16_384

GONE_S = 90.0
"""How long the page may be away before the desk ends [s]: a reload takes less."""

UNSEEN_S = 1800.0
"""How long the first visit is waited for [s]."""

BEAT_S = 5.0
"""How often an open page is written to, so that a page that has gone is noticed [s]."""

PAGES = {
    "/": ("desk.html", "text/html; charset=utf-8"),
    "/desk.js": ("desk.js", "text/javascript; charset=utf-8"),
    "/desk.css": ("desk.css", "text/css; charset=utf-8"),
}
"""All that is served from the package; no other path leads to a file."""


class Presence:
    """Counts the pages that are open, and says when they have been gone for too long.

    Parameters
    ----------
    away_s : float
        How long all pages may be away [s].
    clock : callable
        Seconds that only grow.
    """

    def __init__(self, away_s: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._away_s = away_s
        self._clock = clock
        self._open = 0
        self._since = clock()
        self._seen = False

    def come(self) -> None:
        """Count a page."""
        self._open += 1
        self._seen = True

    def go(self) -> None:
        """Count a page no more."""
        self._open -= 1
        self._since = self._clock()

    @property
    def over(self) -> bool:
        """Whether nobody is there any more."""
        away = self._clock() - self._since
        return not self._open and away > (self._away_s if self._seen else UNSEEN_S)


class _Guarded(RequestHandler):
    """A request that is answered only to our own page."""

    desk: Desk
    guard: Guard
    presence: Presence
    worker: ThreadPoolExecutor

    def initialize(
        self, desk: Desk, guard: Guard, presence: Presence, worker: ThreadPoolExecutor
    ) -> None:
        """Take what the whole server shares."""
        self.desk, self.guard, self.presence, self.worker = desk, guard, presence, worker

    def set_default_headers(self) -> None:
        """Send the policy with every answer, refusals too."""
        self.clear_header("Server")
        for name, value in HEADERS.items():
            self.set_header(name, value)

    def prepare(self) -> None:
        """Refuse whatever does not come from our page in the browser that was let in."""
        method = self.request.method or ""
        reason = self.guard.refusal(method, dict(self.request.headers.get_all()))
        if reason is None and not self.guard.knows(self.get_cookie(self.guard.cookie_name)):
            reason = "open the address that walkhome desk has printed; it lets one browser in"
        if reason is not None:
            self.set_status(403)
            self.set_header("Content-Type", "text/plain; charset=utf-8")
            self.finish(reason + "\n")

    def write_error(self, status_code: int, **_kwargs: object) -> None:
        """Say no more than the number."""
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(f"{status_code}\n")

    def log_exception(self, *_about: object) -> None:
        """Leave the terminal quiet; what a person can mend is told on the page."""

    def sent(self) -> dict[str, Any]:
        """Read the body as a JSON object, or refuse it."""
        try:
            body = json.loads(self.request.body)
        except (ValueError, RecursionError):
            body = None
        if not isinstance(body, dict):
            self.send_error(400)
            return {}
        return body

    def state(self) -> PageState | None:
        """Read the state of the page from the body, or refuse it."""
        try:
            return state_from(self.sent().get("state"))
        except ValueError:
            if not self._finished:
                self.send_error(400)
            return None

    def json(self, line: Line) -> None:
        """Answer with one JSON object."""
        self.set_header("Content-Type", "application/json; charset=utf-8")
        self.finish(as_line(line))

    async def work(self, does: Callable[[], Any]) -> Any:  # noqa: ANN401 - whatever it gives
        """Run something slow beside the server."""
        return await asyncio.get_running_loop().run_in_executor(self.worker, does)


class _Enter(_Guarded):
    """Exchanges the one-time token for the cookie."""

    def prepare(self) -> None:
        """Need no cookie yet."""
        reason = self.guard.refusal(self.request.method or "", dict(self.request.headers.get_all()))
        cookie = None if reason else self.guard.admit(self.get_query_argument("token", ""))
        if cookie is None:
            self.set_status(403)
            self.set_header("Content-Type", "text/plain; charset=utf-8")
            self.finish((reason or "this address has been used, or never was ours") + "\n")
            return
        self.set_cookie(self.guard.cookie_name, cookie, httponly=True, samesite="Strict", path="/")
        self.redirect("/")


class _Page(_Guarded):
    """Gives one of the three files of the page."""

    def get(self) -> None:
        """Give it."""
        name, kind = PAGES[self.request.path]
        self.set_header("Content-Type", kind)
        self.finish(resources.files("simulator.desk").joinpath(name).read_bytes())


class _Start(_Guarded):
    """Gives what the page begins with."""

    def get(self) -> None:
        """Give it."""
        opened = self.desk.opened
        drafted, same = self.desk.draft.read(opened)
        if drafted is not None and drafted.as_json() == opened.state.as_json():
            drafted = None
        fields = [
            {
                "key": one.key,
                "table": one.table,
                "name": one.name,
                "kind": one.kind,
                "many": one.many,
                "words": list(one.words),
                "default": one.default,
                "unit": one.unit,
                "meaning": one.meaning,
                "files": list(files_beside(opened, one.key)),
            }
            for one in FIELDS
        ]
        self.json(
            {
                "name": opened.save_as.name,
                "folder": opened.save_as.parent.name,
                "state": (drafted or opened.state).as_json(),
                "opened": opened.state.as_json(),
                "drafted": drafted is not None,
                "changed_since": not same,
                "fields": fields,
                "files": {what: files_beside(opened, key) for what, key in SWAPPED.items()},
                "columns": list(COLUMNS),
                "numbers": list(NUMBERS),
                "purposes": list(PURPOSES),
                "tiers": list(TIERS),
            }
        )


class _Answer(_Guarded):
    """Streams the answer to a state of the page."""

    turn = 0
    fetches = False

    async def post(self) -> None:
        """Answer, line by line, until a later state comes."""
        state = self.state()
        if state is None:
            return
        self.turn = self.desk.begin()
        loop = asyncio.get_running_loop()
        lines: asyncio.Queue[Line] = asyncio.Queue()

        def send(line: Line) -> None:
            loop.call_soon_threadsafe(lines.put_nowait, line)

        self.set_header("Content-Type", "application/x-ndjson; charset=utf-8")
        does = self.desk.bring if self.fetches else self.desk.answer
        job = loop.run_in_executor(self.worker, does, self.turn, state, send)
        job.add_done_callback(lambda done: _ended(done, lines))
        try:
            line: Line = {}
            while line.get("line") != "end":
                line = await lines.get()
                self.write(as_line(line))
                await self.flush()
        except StreamClosedError:
            return

    def on_connection_close(self) -> None:
        """Give the answer up when nobody waits for it."""
        self.desk.give_up(self.turn)


class _Bring(_Answer):
    """Fetches the ground, and streams how far it is."""

    fetches = True


def _ended(job: asyncio.Future[None], lines: asyncio.Queue[Line]) -> None:
    """Close an answer; a fault of the program is told as one, never taken for a verdict."""
    fault = None if job.cancelled() else job.exception()
    if fault is not None:
        words = f"Unexpected: {type(fault).__name__}: {fault}. This is a fault of the program."
        lines.put_nowait({"line": "fault", "words": words})
    lines.put_nowait({"line": "end"})


class _Map(_Guarded):
    """Gives the map."""

    async def get(self) -> None:
        """Give it."""
        self.json(await self.work(self.desk.ground))


class _Keep(_Guarded):
    """Keeps a state of the page as the draft, when the page is left."""

    def post(self) -> None:
        """Keep it."""
        state = self.state()
        if state is not None:
            self.desk.keep(state)
            self.json({"kept": True})


class _Save(_Guarded):
    """Saves plan, list and areas."""

    async def post(self) -> None:
        """Save, or ask first."""
        state = self.state()
        if state is not None:
            overwrite = self.sent().get("overwrite") is True
            self.json(await self.work(lambda: self.desk.save(state, overwrite=overwrite)))


class _Look(_Guarded):
    """Says what a fetch would ask, and whom."""

    async def post(self) -> None:
        """Say it, and ask nobody."""
        state = self.state()
        if state is not None:
            self.json(await self.work(lambda: self.desk.look(state)))


class _Find(_Guarded):
    """Looks a place up by its name."""

    async def post(self) -> None:
        """Say first who is asked; ask when the person has agreed."""
        sent = self.sent()
        if not self._finished:
            name, agreed = str(sent.get("name", "")), sent.get("agreed") is True
            self.json(await self.work(lambda: self.desk.find(name, agreed=agreed)))


class _Swap(_Guarded):
    """Opens another list, or other areas, that lie beside the plan."""

    async def post(self) -> None:
        """Give what the page shows of it."""
        sent = self.sent()
        if not self._finished:
            what, name = str(sent.get("what", "")), str(sent.get("name", ""))
            if what not in SWAPPED:
                self.send_error(400)
                return
            self.json(await self.work(lambda: self.desk.swap(what, name)))


class _Forget(_Guarded):
    """Throws the draft away."""

    def post(self) -> None:
        """Begin again from the files."""
        self.desk.draft.drop()
        self.json({"state": self.desk.opened.state.as_json()})


class _Files(_Guarded):
    """Gives the files of the last answer."""

    async def get(self) -> None:
        """Give one, or all in an archive."""
        name = self.request.path.rpartition("/")[2]
        try:
            contents = await self.work(self.desk.files)
        except InputError as fault:
            self.set_status(409)
            self.set_header("Content-Type", "text/plain; charset=utf-8")
            self.finish(f"{fault}\n")
            return
        if contents is None:
            self.send_error(404)
        elif name == "walk.zip":
            self.set_header("Content-Type", "application/zip")
            self.set_header("Content-Disposition", 'attachment; filename="walk.zip"')
            self.finish(zipped(contents))
        else:
            kind = "application/pdf" if name.endswith(".pdf") else "application/json"
            self.set_header("Content-Type", kind)
            self.set_header("Content-Disposition", f'inline; filename="{name}"')
            self.finish(contents[name])


class _Stay(_Guarded):
    """A request that lasts as long as the page is open."""

    async def get(self) -> None:
        """Write a little now and then until the page has gone."""
        self.presence.come()
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        try:
            while True:
                self.write("\n")
                await self.flush()
                await asyncio.sleep(BEAT_S)
        except StreamClosedError:
            pass
        finally:
            self.presence.go()


def application(
    desk: Desk, guard: Guard, presence: Presence, worker: ThreadPoolExecutor
) -> Application:
    """Lay out what is served."""
    shared: dict[str, Any] = {
        "desk": desk,
        "guard": guard,
        "presence": presence,
        "worker": worker,
    }
    served: list[tuple[str, type[_Guarded]]] = [
        ("/enter", _Enter),
        *((path, _Page) for path in PAGES),
        ("/start", _Start),
        ("/answer", _Answer),
        ("/ground", _Map),
        ("/keep", _Keep),
        ("/save", _Save),
        ("/forget", _Forget),
        ("/look", _Look),
        ("/fetch", _Bring),
        ("/find", _Find),
        ("/swap", _Swap),
        ("/stay", _Stay),
        *((f"/walk/{name}", _Files) for name in ("timeline.pdf", "summary.json", "walk.zip")),
    ]
    return Application(
        [(path.replace(".", r"\."), handler, shared) for path, handler in served],
        default_handler_class=_Nothing,
        default_handler_args=shared,
        log_function=lambda _handler: None,
    )


class _Nothing(_Guarded):
    """Whatever else is asked for."""

    def get(self) -> None:
        """There is nothing."""
        self.send_error(404)

    post = get


async def serve(
    desk: Desk,
    *,
    port: int,
    ready: Callable[[str], Awaitable[None] | None],
    away_s: float = GONE_S,
) -> None:
    """Serve a desk until its page has been gone for a while.

    Parameters
    ----------
    desk : Desk
        Answers.
    port : int
        Port of the loopback; 0 for any that is free.
    ready : callable
        Told the address that lets one browser in.
    away_s : float
        How long the page may be away [s].

    Raises
    ------
    InputError
        When the port is taken.
    """
    try:
        sockets = bind_sockets(port, LOOPBACK)
    except OSError as fault:
        where = f"--port {port}"
        problem = f"cannot be listened on ({fault.strerror}); give another, or none"
        raise InputError(where, problem) from None
    guard = Guard(sockets[0].getsockname()[1])
    presence = Presence(away_s)
    with ThreadPoolExecutor(2, thread_name_prefix="desk") as worker:
        server = HTTPServer(
            application(desk, guard, presence, worker),
            max_body_size=LARGEST_BODY_BYTES,
            max_buffer_size=2 * LARGEST_BODY_BYTES,
            max_header_size=LARGEST_HEADER_BYTES,
        )
        server.add_sockets(sockets)
        try:
            ready(guard.entry)
            while not presence.over:  # noqa: ASYNC110 - nothing tells that nothing happens
                await asyncio.sleep(min(1.0, away_s / 4.0))
        finally:
            server.stop()
            desk.begin()  # whatever is being answered is given up
            await server.close_all_connections()
