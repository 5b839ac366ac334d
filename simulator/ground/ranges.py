"""A file on a server, taken by parts: only what is needed crosses the line, and once."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from simulator.ground.cache import Cache, DamagedError
from simulator.ground.transfer import Answer, Line, Request, TransferError, looks_like_page

BLOCK_BYTES = 1 << 19
"""Bytes fetched at a time: about one row of blocks of a compressed elevation tile."""

_RANGE = re.compile(r"bytes (\d+)-(\d+)/(\d+)")


class ChangedError(TransferError):
    """The file on the server is another one than its parts in the cache."""


class RangedFile:
    """A local stand-in for a file on a server: as long, but filled only where it is needed.

    Parameters
    ----------
    line : Line
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

    def __init__(self, line: Line, address: str, copy: Path, *, cache: Cache, fresh: bool) -> None:
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
        """Have some bytes in the stand-in.

        Parameters
        ----------
        start, stop : int
            First byte, and the one past the last.
        """
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
            facts["whole"] = whole
            facts["version"] = answer.headers.get("etag", f"{whole} bytes")

        headers = {"Range": f"bytes={start}-{stop - 1}", "Accept-Encoding": "identity"}
        self._line.fetch(Request(self.address, headers=headers, whole=False), take)
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
