"""One process at a time: a lock that the system frees when its holder dies."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from simulator.errors import InputError

POLL_S = 0.1


@contextmanager
def held(path: Path, *, waiting: Callable[[], None], longest_s: float = 3600.0) -> Iterator[None]:
    """Hold a lock file.

    Parameters
    ----------
    path : pathlib.Path
        File to lock; made when missing, and left behind empty.
    waiting : callable
        Called once when another process holds it.
    longest_s : float
        Longest wait [s].

    Yields
    ------
    None
        While no other process holds the lock.

    Raises
    ------
    InputError
        When another process does not let go in time.
    """
    with path.open("a+b") as stream:
        began, told = time.monotonic(), False
        while not _try_lock(stream):
            if not told:
                waiting()
                told = True
            if time.monotonic() - began > longest_s:
                raise InputError(
                    str(path), f"another process has held this lock for {longest_s / 60:.0f} min"
                )
            time.sleep(POLL_S)
        try:
            yield
        finally:
            _unlock(stream)


if sys.platform == "win32":
    import msvcrt

    def _try_lock(stream: IO[bytes]) -> bool:
        stream.seek(0)
        try:
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _unlock(stream: IO[bytes]) -> None:
        stream.seek(0)
        msvcrt.locking(stream.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _try_lock(stream: IO[bytes]) -> bool:
        try:
            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _unlock(stream: IO[bytes]) -> None:
        fcntl.flock(stream, fcntl.LOCK_UN)
