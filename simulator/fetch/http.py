"""Fetching over HTTP from servers that others run: polite, patient, and never half a file.

A transfer is tried again with growing waits while that may help, and ends with one sentence that
says what was wrong when it does not. Nothing that a server sends is trusted: not its size, packed
or unpacked, not its time, not its encoding. Parts of large files are taken as they are needed.

The standard library does it: each of the limits here needs a hand on the connection, which costs
more code around a library of more comfort.
"""

from __future__ import annotations

import http.client
import re
import socket
import ssl
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from email.utils import parsedate_to_datetime
from importlib import metadata
from pathlib import Path
from typing import Self

from simulator.errors import InputError, address_fault, shown
from simulator.fetch.cache import Cache, DamagedError

CHUNK_BYTES = 1 << 16

BUSY = frozenset({429, 502, 503, 504})
"""HTTP codes of a server that is busy or resting: too many requests, bad gateway, unavailable,
gateway timeout (RFC 6585, RFC 9110)."""

PAGE = b"<html", b"<!doctype html"
"""How a web page begins."""

Tell = Callable[[str], None]

_WHOLE = re.compile(r"[0-9]{1,15}")
"""A whole number in ASCII digits (RFC 9110, section 8.6), none longer than sizes and waits are."""


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait for a server, and how often to come back.

    Attributes
    ----------
    tries : int
        Most requests for one thing.
    tries_hopeless : int
        As above, where another try seldom helps: no connection, or another content than asked.
    first_wait_s, longest_wait_s : float
        Pause before the second try, doubled each time up to the longest [s]; a server that names
        a time is obeyed up to `longest_named_s`.
    longest_named_s : float
        Longest wait that a server may ask for [s].
    silence_s : float
        No byte for this long ends a try [s].
    longest_s : float
        A whole answer that takes longer, header included, ends a try [s].
    window_s : float
        Time over which the speed is judged [s].
    least_bytes_s : float
        Slower than this over a window ends a try [bytes/s].
    pause_s : float
        Rest between two requests to one server [s].
    sleep, clock : callable
        Waiting and time, replaced in tests.
    """

    tries: int = 6
    tries_hopeless: int = 2
    first_wait_s: float = 4.0
    longest_wait_s: float = 120.0
    longest_named_s: float = 600.0
    silence_s: float = 240.0
    longest_s: float = 1800.0
    window_s: float = 30.0
    least_bytes_s: float = 500.0
    pause_s: float = 1.0
    sleep: Callable[[float], None] = time.sleep
    clock: Callable[[], float] = time.monotonic


@dataclass(frozen=True, slots=True)
class Request:
    """What to ask for.

    Attributes
    ----------
    address : str
        Full address, http or https.
    form : bytes or None
        Body of a POST; a GET without.
    headers : mapping of str to str
        Further header fields.
    whole : bool
        Whether a part (206) is an answer, too; needed for ranges.
    largest : int
        More than this is not read, nor unpacked [bytes].
    """

    address: str
    form: bytes | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    whole: bool = True
    largest: int = 1 << 30


@dataclass(frozen=True, slots=True)
class Answer:
    """Header of an answer.

    Attributes
    ----------
    status : int
        HTTP code.
    headers : mapping of str to str
        Header fields, names in lower case.
    """

    status: int
    headers: Mapping[str, str]


class TransferError(InputError):
    """Something could not be fetched; nothing that was fetched before is lost.

    Parameters
    ----------
    where : str
        Server.
    problem : str
        What happened and what to do.
    """


class MissingError(TransferError):
    """The server answers, and does not have it (404)."""


_LATER = "what was fetched before is kept: run the same command again later"
_OFFLINE = (
    "this machine may be offline, or the address wrong: what was fetched before is kept, run the "
    "same command when there is a connection"
)
_WRONG = (
    "check the address; on a public network open its sign-in page first, then run the same command"
)


class CutError(Exception):
    """Content that ends too early; a taker raises it, and another try may bring the rest."""


class _AgainError(Exception):
    """One try failed; another may not."""

    def __init__(self, cause: str, *, wait_s: float | None = None, hope: str = _LATER) -> None:
        super().__init__(cause)
        self.wait_s = wait_s
        self.hope = hope


class _Deadline:
    """Cuts the connections of one try when its time is up."""

    def __init__(self, longest_s: float) -> None:
        self.passed = False
        self._connections: list[socket.socket] = []
        self._timer = threading.Timer(longest_s, self._cut)
        self._timer.daemon = True

    def __enter__(self) -> Self:
        self._timer.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._timer.cancel()

    def watch(self, connection: socket.socket) -> None:
        self._connections.append(connection)
        if self.passed:  # a proxy's answer that was cut may look like its end
            raise TimeoutError

    def _cut(self) -> None:
        self.passed = True
        for connection in self._connections:
            with suppress(OSError):  # it may be closed already
                connection.shutdown(socket.SHUT_RDWR)


Watch = Callable[[socket.socket], None]


def _watching(
    kind: type[http.client.HTTPConnection], watch: Watch
) -> type[http.client.HTTPConnection]:
    """Make a kind of connection that shows its socket as soon as it has one.

    Not only when it is connected: before that, a proxy may draw out its answer.
    """

    class Watched(kind):  # type: ignore[misc,valid-type]  # a class of the caller's choice
        def __setattr__(self, name: str, value: object) -> None:
            super().__setattr__(name, value)
            if name == "sock" and isinstance(value, socket.socket):
                watch(value)

    return Watched


class _Plain(urllib.request.HTTPHandler):
    def __init__(self, watch: Watch) -> None:
        super().__init__()
        self._kind = _watching(http.client.HTTPConnection, watch)

    def http_open(self, req: urllib.request.Request) -> http.client.HTTPResponse:
        return self.do_open(self._kind, req)


class _Secure(urllib.request.HTTPSHandler):
    def __init__(self, watch: Watch) -> None:
        super().__init__()
        self._kind = _watching(http.client.HTTPSConnection, watch)

        context = self._context = ssl.create_default_context()

        class Greeting(ssl.SSLSocket):
            """Shows itself before the greetings are exchanged, which a server may draw out."""

            def do_handshake(self, block: bool = False) -> None:
                watch(self)
                super().do_handshake(block)

        context.sslsocket_class = Greeting

    def https_open(self, req: urllib.request.Request) -> http.client.HTTPResponse:
        return self.do_open(self._kind, req, context=self._context)


Take = Callable[[Answer, Iterator[bytes]], None]
"""Given the header and the decoded pieces of the body; called anew for each try, and raises
`ValueError` when the content is not what was asked, `CutError` when its end is missing."""


class ServerLine:
    """A line to one server: requests one after the other, with a rest between them.

    Parameters
    ----------
    what : str
        What the server gives, e.g. ``street data``, for messages.
    patience : Patience
        Waits and tries.
    tell : callable
        Told what is being waited for.
    """

    def __init__(self, what: str, *, patience: Patience, tell: Tell) -> None:
        self.what = what
        self.patience = patience
        self.tell = tell
        self.received = 0
        self._last: float | None = None
        self._deadline = _Deadline(patience.longest_s)
        self._opener = urllib.request.OpenerDirector()
        for handler in (
            urllib.request.ProxyHandler(),
            _Plain(self._watched),
            _Secure(self._watched),
            urllib.request.HTTPDefaultErrorHandler(),
            urllib.request.HTTPRedirectHandler(),
            urllib.request.HTTPErrorProcessor(),
            urllib.request.UnknownHandler(),
        ):
            self._opener.add_handler(handler)

    def fetch(self, request: Request, take: Take) -> None:
        """Fetch one thing."""
        problem = address_fault(request.address)
        if problem:
            raise TransferError(self.what, problem)
        host = urllib.parse.urlsplit(request.address).netloc
        wait_s = self.patience.first_wait_s
        tries = hopeless = 0
        while True:
            tries += 1
            try:
                self._once(request, take, host)
            except _AgainError as fault:
                hopeless += fault.hope != _LATER
                if tries >= self.patience.tries or hopeless >= self.patience.tries_hopeless:
                    raise TransferError(host, f"{fault}; {fault.hope}") from None
                named = fault.wait_s
                if named is not None and named > self.patience.longest_named_s:
                    problem = f"{fault} and asks to come back in {named / 60:.0f} min; do so then"
                    raise TransferError(host, problem) from None
                pause_s = max(wait_s, named or 0.0)
                self.tell(f"{host} {fault}; trying again in {pause_s:.0f} s")
                self.patience.sleep(pause_s)
                wait_s = min(2 * wait_s, self.patience.longest_wait_s)
            else:
                return

    def _once(self, request: Request, take: Take, host: str) -> None:
        """Try once; everything that another try may mend becomes one kind of error."""
        self._rest()
        try:
            with _Deadline(self.patience.longest_s) as self._deadline:
                self._answered(request, take, host)
        except (_AgainError, TransferError):
            if not self._deadline.passed:
                raise
        finally:
            self._last = self.patience.clock()
        if self._deadline.passed:  # what ended with the connection may look whole
            msg = f"took longer than {self.patience.longest_s:.0f} s for the {self.what}"
            raise _AgainError(msg)

    def _watched(self, connection: socket.socket) -> None:
        self._deadline.watch(connection)

    def _answered(self, request: Request, take: Take, host: str) -> None:
        """Ask once, and say in our words what went wrong."""
        try:
            self._ask(request, take)
        except urllib.error.HTTPError as fault:
            with fault:
                raise self._refused(fault, host) from None
        except (TimeoutError, socket.timeout):  # noqa: UP041 - one class from Python 3.10 on
            msg = f"was silent for {self.patience.silence_s:.0f} s"
            raise _AgainError(msg) from None
        except urllib.error.URLError as fault:
            raise _unreachable(fault, host) from None
        except (http.client.HTTPException, ConnectionError, zlib.error, CutError):
            msg = f"broke off in the middle of the {self.what}"
            raise _AgainError(msg) from None
        except ValueError as fault:
            msg = f"did not send the {self.what} that was asked for: {fault}"
            raise _AgainError(msg, hope=_WRONG) from None

    def _rest(self) -> None:
        if self._last is not None:
            passed = self.patience.clock() - self._last
            if passed < self.patience.pause_s:
                self.patience.sleep(self.patience.pause_s - passed)

    def _ask(self, request: Request, take: Take) -> None:
        headers = {"User-Agent": _agent(), "Accept-Encoding": "gzip", **request.headers}
        asked = urllib.request.Request(  # noqa: S310 - checked above, and only HTTP is handled
            request.address, data=request.form, headers=headers
        )
        with self._opener.open(asked, timeout=self.patience.silence_s) as reply:
            answer = Answer(reply.status, {k.lower(): v for k, v in reply.headers.items()})
            if reply.status != (200 if request.whole else 206):
                msg = f"code {reply.status} where {200 if request.whole else 206} was expected"
                raise ValueError(msg)
            encoding = answer.headers.get("content-encoding", "identity").strip().lower()
            if encoding not in {"identity", headers["Accept-Encoding"]}:
                msg = f"an encoding that was not asked for ({shown(encoding)})"
                raise ValueError(msg)
            body = self._body(reply, answer, request.largest)
            take(answer, _unpacked(body, request.largest) if encoding == "gzip" else body)
            # A taker may stop early; what is left still tells whether the answer was whole.
            for _ in body:
                pass

    def _body(
        self, reply: http.client.HTTPResponse, answer: Answer, largest: int
    ) -> Iterator[bytes]:
        """Give the body as it comes; too slow, too long or too short ends it."""
        clock, patience = self.patience.clock, self.patience
        size, mark, mark_size = 0, clock(), 0
        while True:
            piece = reply.read1(CHUNK_BYTES)
            if not piece:
                break
            size += len(piece)
            self.received += len(piece)
            _refuse_more(size, largest)
            now = clock()
            if now - mark >= patience.window_s:
                if (size - mark_size) < patience.least_bytes_s * (now - mark):
                    msg = f"sends slower than {patience.least_bytes_s:.0f} bytes a second"
                    raise _AgainError(msg)
                mark, mark_size = now, size
            yield piece
        promised = answer.headers.get("content-length")
        if promised is not None and _WHOLE.fullmatch(promised) and size != int(promised):
            msg = f"broke off after {size} of {promised} bytes of the {self.what}"
            raise _AgainError(msg)

    def _refused(self, fault: urllib.error.HTTPError, host: str) -> Exception:
        said = _first_words(fault)
        if fault.code in BUSY:
            wait_s = _named_wait_s(fault.headers.get("Retry-After"), time.time())
            return _AgainError(f"is busy (code {fault.code})", wait_s=wait_s)
        if fault.code == http.HTTPStatus.NOT_FOUND:
            return MissingError(host, f"has no such {self.what} (code 404){said}")
        if fault.code >= http.HTTPStatus.INTERNAL_SERVER_ERROR:
            return _AgainError(f"has a fault (code {fault.code}){said}")
        return TransferError(
            host,
            f"refused to give {self.what} (code {fault.code}){said}; check the address, and the "
            "terms of use of the server",
        )


def _unreachable(fault: urllib.error.URLError, host: str) -> Exception:
    reason = fault.reason
    if isinstance(reason, TimeoutError):
        return _AgainError("did not answer in time")
    if isinstance(reason, ssl.SSLError):
        return TransferError(
            host,
            f"offers no trustworthy connection ({reason.reason or reason}); a sign-in page of the "
            "network may be in the way, or the clock of this machine wrong",
        )
    if isinstance(reason, OSError):
        return _AgainError(f"cannot be reached ({reason.strerror or reason})", hope=_OFFLINE)
    return _AgainError(f"cannot be reached ({reason})", hope=_OFFLINE)


def _refuse_more(size: int, largest: int) -> None:
    if size > largest:
        msg = f"more than {largest / 1e6:.3g} MB"
        raise ValueError(msg)


def _unpacked(body: Iterator[bytes], largest: int) -> Iterator[bytes]:
    """Undo gzip; notice an answer that was cut, and one that grows without end."""
    unpack = zlib.decompressobj(wbits=31)
    size = 0
    for piece in body:
        packed = piece
        while packed:
            data = unpack.decompress(packed, CHUNK_BYTES)
            size += len(data)
            _refuse_more(size, largest)
            yield data
            packed = unpack.unconsumed_tail
    yield unpack.flush()
    if not unpack.eof:
        msg = "compressed answer without its end"
        raise zlib.error(msg)


def _first_words(fault: urllib.error.HTTPError) -> str:
    """Give the start of an error's text, unless it is a web page."""
    try:
        raw = fault.read(CHUNK_BYTES)
    except (OSError, http.client.HTTPException):
        return ""
    if raw.lstrip().lower().startswith(PAGE):
        return ""
    words = " ".join(raw.decode("utf-8", "replace").split())
    return f': "{words[:120]}"' if words else ""


def _named_wait_s(text: str | None, now_epoch_s: float) -> float | None:
    """Read Retry-After: seconds or a date (RFC 9110, section 10.2.3)."""
    if text is None:
        return None
    if _WHOLE.fullmatch(text.strip()):
        return float(text)
    try:
        return max(0.0, parsedate_to_datetime(text).timestamp() - now_epoch_s)
    except (ValueError, OverflowError, TypeError):
        return None


def _agent() -> str:
    try:
        return f"walkhome/{metadata.version('walkhome')}"
    except metadata.PackageNotFoundError:
        return "walkhome"


def looks_like_page(start: bytes) -> bool:
    """Tell a web page by its first bytes."""
    return start.lstrip().lower().startswith(PAGE)


BLOCK_BYTES = 1 << 19
"""Bytes fetched at a time: about one row of blocks of a compressed elevation tile."""

LARGEST_FILE_BYTES = 2_000_000_000
"""A file of which parts are taken is at most this large [bytes]; a tile of heights has 40 MB."""

_RANGE = re.compile(r"bytes ([0-9]{1,15})-([0-9]{1,15})/([0-9]{1,15})")


class ChangedError(TransferError):
    """The file on the server is another one than its parts in the cache."""


class RangedFile:
    """A local stand-in for a file on a server: as long, but filled only where it is needed.

    Parameters
    ----------
    line : ServerLine
        To the server.
    address : str
        Of the file.
    copy : pathlib.Path
        Stand-in to make; its begin is filled at once.
    cache : Cache
        Keeps the parts, so that a broken-off reading goes on where it stopped.
    fresh : bool
        Whether to fetch anew what the cache has.

    Attributes
    ----------
    address : str
        As given.
    size : int
        Size of the file [bytes].
    """

    def __init__(
        self, line: ServerLine, address: str, copy: Path, *, cache: Cache, fresh: bool
    ) -> None:
        self._line = line
        self.address = address
        self._copy = copy
        self._cache = cache
        self._fresh = fresh
        self._version = ""
        self._filled: set[int] = set()
        self.size = 0
        first = self._block(0)
        record = self._cache.find(self._name(0))
        self.size = int(record.facts["whole"]) if record else len(first)
        with copy.open("wb") as stream:
            stream.write(first)
            stream.truncate(self.size)
        self._filled.add(0)

    def fill(self, start: int, stop: int) -> None:
        """Have some bytes in the stand-in."""
        numbers = range(start // BLOCK_BYTES, (min(stop, self.size) - 1) // BLOCK_BYTES + 1)
        with self._copy.open("r+b") as stream:
            for number in numbers:
                if number not in self._filled:
                    stream.seek(number * BLOCK_BYTES)
                    stream.write(self._block(number))
                    self._filled.add(number)

    def _name(self, number: int) -> str:
        return f"block {number} of {self.address}"

    def _block(self, number: int) -> bytes:
        kept = self._kept(number)
        return self._fetched(number) if kept is None else kept

    def _kept(self, number: int) -> bytes | None:
        record = self._cache.find(self._name(number))
        if (
            record is None
            or self._fresh
            or (self._version and record.facts["version"] != self._version)
        ):
            return None
        try:
            (path,) = self._cache.read(record)
        except DamagedError:
            return None
        self._version = str(record.facts["version"])
        return path.read_bytes()

    def _fetched(self, number: int) -> bytes:
        start = number * BLOCK_BYTES
        stop = start + BLOCK_BYTES if not self.size else min(start + BLOCK_BYTES, self.size)
        block = bytearray()
        facts: dict[str, object] = {}

        def take(answer: Answer, pieces: Iterator[bytes]) -> None:
            block.clear()
            found = _RANGE.fullmatch(answer.headers.get("content-range", ""))
            if not found:
                msg = "no part of a file"
                raise ValueError(msg)
            begin, end, whole = (int(text) for text in found.groups())
            for piece in pieces:
                block.extend(piece)
            if looks_like_page(bytes(block[:64])):
                msg = "a web page, not heights"
                raise ValueError(msg)
            if begin != start or end + 1 != min(stop, whole) or len(block) != end + 1 - begin:
                msg = f"bytes {begin} to {end} where {start} to {stop - 1} were asked for"
                raise ValueError(msg)
            if not end < whole <= LARGEST_FILE_BYTES or self.size not in {0, whole}:
                msg = f"part of a file of {whole / 1e6:.0f} MB"
                raise ValueError(msg)
            facts["whole"] = whole
            facts["version"] = answer.headers.get("etag", f"{whole} bytes")

        headers = {"Range": f"bytes={start}-{stop - 1}", "Accept-Encoding": "identity"}
        request = Request(self.address, headers=headers, whole=False, largest=stop - start)
        self._line.fetch(request, take)
        if self._version and facts["version"] != self._version:
            problem = "changed while it was read; run the same command again"
            raise ChangedError(self.address, problem)
        self._version = str(facts["version"])
        self._keep(number, bytes(block), facts)
        return bytes(block)

    def _keep(self, number: int, block: bytes, facts: dict[str, object]) -> None:
        with self._cache.unfinished() as folder:
            path = Path(folder) / f"{number}.block"
            path.write_bytes(block)
            about = f"part {number} of {self.address.rsplit('/', 1)[-1]}"
            self._cache.put(self._name(number), [path], kind="piece", about=about, facts=facts)
