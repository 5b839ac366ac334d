"""A file on a server, read by parts: only what is asked for crosses the line, and once."""

from __future__ import annotations

import io
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


class RangedFile(io.RawIOBase):
    """A read-only file whose blocks come from a server and are kept in the cache.

    Parameters
    ----------
    line : Line
        To the server.
    address : str
        Of the file.
    cache : Cache
        Keeps the blocks, so that a broken-off reading goes on where it stopped.
    fresh : bool
        Whether to fetch anew what the cache has.
    """

    def __init__(self, line: Line, address: str, *, cache: Cache, fresh: bool) -> None:
        self._line = line
        self._address = address
        self._cache = cache
        self._fresh = fresh
        self._place = 0
        self._version = ""
        self._blocks: dict[int, bytes] = {}
        self.fault: Exception | None = None
        self.size = 0
        self.size = self._size_of(self._block(0))

    def _size_of(self, first: bytes) -> int:
        record = self._cache.find(self._name(0))
        return int(record.facts["whole"]) if record else len(first)

    def readable(self) -> bool:
        """Say that it can be read.

        Returns
        -------
        bool
            True.
        """
        return True

    def seekable(self) -> bool:
        """Say that one may begin anywhere.

        Returns
        -------
        bool
            True.
        """
        return True

    def tell(self) -> int:
        """Give the place of the next byte.

        Returns
        -------
        int
            Bytes from the start.
        """
        return self._place

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Go to a place.

        Parameters
        ----------
        offset : int
            Bytes from where `whence` says.
        whence : int
            Start, present place or end.

        Returns
        -------
        int
            The place, in bytes from the start.
        """
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._place, io.SEEK_END: self.size}[whence]
        self._place = max(0, base + offset)
        return self._place

    def read(self, size: int = -1) -> bytes:
        """Read from the present place on.

        Parameters
        ----------
        size : int
            Most bytes; all that are left when negative.

        Returns
        -------
        bytes
            Fewer at the end of the file. Empty once a fetch has failed: the reader of rasters
            swallows errors of its files, so the first one waits in ``fault``.
        """
        end = self.size if size < 0 else min(self._place + size, self.size)
        if self.fault is not None or end <= self._place:
            return b""
        first, last = self._place // BLOCK_BYTES, (end - 1) // BLOCK_BYTES
        try:
            whole = b"".join(self._block(number) for number in range(first, last + 1))
        except Exception as fault:  # noqa: BLE001 - kept, and raised by whoever opened the raster
            self.fault = fault
            return b""
        part = whole[self._place - first * BLOCK_BYTES : end - first * BLOCK_BYTES]
        self._place = end
        return part

    def _name(self, number: int) -> str:
        return f"block {number} of {self._address}"

    def _block(self, number: int) -> bytes:
        if number not in self._blocks:
            kept = self._kept(number)
            self._blocks[number] = self._fetched(number) if kept is None else kept
        return self._blocks[number]

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
        self._line.fetch(Request(self._address, headers=headers, whole=False), take)
        if self._version and facts["version"] != self._version:
            problem = "changed while it was read; run the same command again"
            raise ChangedError(self._address, problem)
        self._version = str(facts["version"])
        self._keep(number, bytes(block), facts)
        return bytes(block)

    def _keep(self, number: int, block: bytes, facts: dict[str, object]) -> None:
        with self._cache.unfinished() as folder:
            path = Path(folder) / f"{number}.block"
            path.write_bytes(block)
            about = f"part {number} of {self._address.rsplit('/', 1)[-1]}"
            self._cache.put(self._name(number), [path], kind="piece", about=about, facts=facts)
