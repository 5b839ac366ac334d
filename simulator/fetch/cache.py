"""What was fetched, kept on disk: named by its content, checked on every read.

A file lies in a folder named by its SHA-256 and is never changed. A record, also written whole or
not at all, says what the file answers. A file without a record is the rest of a process that was
killed, and is swept up by the next one that writes. Who writes or sweeps holds the lock; who only
reads needs none.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout
from platformdirs import user_cache_path

from simulator.errors import InputError
from simulator.files import sha256_of, write_text

LONGEST_WAIT_S = 3600.0
"""Longest wait for another process that writes [s]."""


@dataclass(frozen=True, slots=True)
class Kept:
    """One file of a record.

    Attributes
    ----------
    sha256 : str
        Fingerprint of the content.
    name : str
        Name of the file.
    size : int
        Size [bytes].
    """

    sha256: str
    name: str
    size: int


@dataclass(frozen=True, slots=True)
class Record:
    """What the cache holds about one thing.

    Attributes
    ----------
    key : str
        What it answers, e.g. address and question.
    kind : str
        ``area`` or ``piece``.
    about : str
        One line for people.
    made_epoch_s : float
        When it was fetched, since 1970 in UTC [s].
    files : tuple of Kept
        Its files.
    facts : mapping of str to object
        What else is known: JSON values.
    """

    key: str
    kind: str
    about: str
    made_epoch_s: float
    files: tuple[Kept, ...]
    facts: Mapping[str, Any]

    @property
    def size(self) -> int:
        """Size of the files [bytes]."""
        return sum(file.size for file in self.files)


def write_record(record: Record, path: Path) -> None:
    """Write a record, whole or not at all."""
    body = json.dumps(asdict(record), ensure_ascii=False, sort_keys=True)
    whole = {"check": hashlib.sha256(body.encode()).hexdigest(), "record": json.loads(body)}
    write_text(path, json.dumps(whole, ensure_ascii=False, sort_keys=True))


def read_record(path: Path) -> Record | None:
    """Read a record."""
    try:
        whole = json.loads(path.read_text(encoding="utf-8"))
        body = json.dumps(whole["record"], ensure_ascii=False, sort_keys=True)
        if hashlib.sha256(body.encode()).hexdigest() != whole["check"]:
            return None
        files = tuple(Kept(**file) for file in whole["record"].pop("files"))
        return Record(**whole["record"], files=files)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


PLACE = "WALKHOME_CACHE"
"""Environment variable that names the folder of the cache."""

LIMIT_MB = 2000
"""Size that the cache keeps to where none was set [MB]: some tens of areas."""

LEAST_LIMIT_MB = 10

RECORDS, OBJECTS, UNFINISHED = "records", "objects", "unfinished"
LIMIT_FILE, LOCK_FILE = "limit-mb", "lock"

IN_USE_S = 600.0
"""A record read within this time is not swept, for a walk may be about to read its files [s]."""


class DamagedError(InputError):
    """A cached file no longer is what was fetched; it has been removed."""


def default_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """Give the folder where this system keeps caches."""
    if environ.get(PLACE):
        return Path(environ[PLACE]).expanduser()
    return user_cache_path("walkhome", appauthor=False, opinion=False)


class Cache:
    """A folder of fetched files.

    Parameters
    ----------
    folder : pathlib.Path, optional
        Where; the system's place for caches when left out. Made when something is put in.
    now : callable
        Clock, seconds since 1970 in UTC.
    """

    def __init__(self, folder: Path | None = None, *, now: Callable[[], float] = time.time) -> None:
        self.folder = default_folder() if folder is None else folder
        self._now = now

    @contextmanager
    def writing(self, waiting: Callable[[], None]) -> Iterator[None]:
        """Be the only process that writes.

        Parameters
        ----------
        waiting : callable
            Called once when another process is at it.

        Yields
        ------
        None
            While the lock is held; rests of killed processes are gone.

        Raises
        ------
        InputError
            When the folder cannot be made or written.
        """
        try:
            for name in (RECORDS, OBJECTS, UNFINISHED):
                (self.folder / name).mkdir(parents=True, exist_ok=True)
            lock = FileLock(self.folder / LOCK_FILE)
            try:
                lock.acquire(timeout=0)
            except Timeout:
                waiting()
                lock.acquire(timeout=LONGEST_WAIT_S)
        except Timeout:
            problem = f"another process has held it for {LONGEST_WAIT_S / 60:.0f} min; end that one"
            raise InputError(str(self.folder / LOCK_FILE), problem) from None
        except OSError as fault:
            problem = f"cannot be used as the cache ({fault.strerror}); set {PLACE} to another"
            raise InputError(str(self.folder), problem) from None
        with lock:
            self._sweep()
            yield

    @contextmanager
    def unfinished(self) -> Iterator[Path]:
        """Lend an empty folder for files on their way in."""
        folder = Path(tempfile.mkdtemp(dir=self.folder / UNFINISHED))
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    def put(
        self,
        key: str,
        files: Sequence[Path],
        *,
        kind: str,
        about: str,
        facts: Mapping[str, Any] | None = None,
    ) -> Record:
        """Keep files, under their own names; the lock is held.

        Parameters
        ----------
        key : str
            What they answer; an older record of this key is replaced.
        files : sequence of pathlib.Path
            On the same file system; they are moved.
        kind : str
            ``area`` or ``piece``.
        about : str
            One line for people.
        facts : mapping, optional
            What else to remember: JSON values.

        Returns
        -------
        Record
            As kept.
        """
        kept = []
        for path in files:
            with path.open("rb") as stream:
                os.fsync(stream.fileno())
            file = Kept(sha256_of(path), path.name, path.stat().st_size)
            target = self.path_of(file)
            target.parent.mkdir(parents=True, exist_ok=True)
            path.replace(target)
            kept.append(file)
        record = Record(key, kind, about, self._now(), tuple(kept), facts or {})
        write_record(record, self._record_path(key))
        self._touch(record)
        return record

    def path_of(self, file: Kept) -> Path:
        """Say where a file lies.

        Parameters
        ----------
        file : Kept
            File of a record.

        Returns
        -------
        pathlib.Path
            Its place in the cache.
        """
        return self.folder / OBJECTS / file.sha256 / file.name

    def find(self, key: str) -> Record | None:
        """Look up a record."""
        return read_record(self._record_path(key))

    def records(self, kind: str | None = None) -> list[Record]:
        """List what the cache holds.

        Parameters
        ----------
        kind : str, optional
            ``area`` or ``piece``; all when left out.

        Returns
        -------
        list of Record
            The newest first.
        """
        found = [read_record(path) for path in sorted((self.folder / RECORDS).glob("*.json"))]
        kept = [one for one in found if one is not None and kind in {None, one.kind}]
        return sorted(kept, key=lambda one: (-one.made_epoch_s, one.key))

    def read(self, record: Record) -> tuple[Path, ...]:
        """Give a record's files, each compared with its fingerprint.

        Parameters
        ----------
        record : Record
            What to read.

        Returns
        -------
        tuple of pathlib.Path
            In the order of the record.

        Raises
        ------
        DamagedError
            When one is missing or differs; the record is removed then.
        """
        paths = tuple(self.path_of(file) for file in record.files)
        for file, path in zip(record.files, paths, strict=True):
            whole = path.is_file() and path.stat().st_size == file.size
            if not whole or sha256_of(path) != file.sha256:
                self._record_path(record.key).unlink(missing_ok=True)
                path.unlink(missing_ok=True)
                raise DamagedError(
                    str(path),
                    "the cached copy is missing or no longer what was fetched; it was removed: "
                    "run walkhome fetch PLAN.toml again",
                )
        self._touch(record)
        return paths

    def age_s(self, record: Record) -> float:
        """Say how long ago a record was made."""
        return self._now() - record.made_epoch_s

    def clear(self) -> int:
        """Remove everything; the lock is held.

        Returns
        -------
        int
            Size of what was removed [bytes].
        """
        size = self.size()
        for path in (self.folder / RECORDS).glob("*.json"):
            path.unlink(missing_ok=True)
        self._sweep()
        return size

    def shrink(self, *, keep: Sequence[str] = ()) -> int:
        """Remove what was used longest ago until the limit is kept; the lock is held.

        Pieces go before areas, for an area can be used without its pieces.

        Parameters
        ----------
        keep : sequence of str
            Keys that stay.

        Returns
        -------
        int
            Size of what was removed [bytes].
        """
        before = self.size()
        order = sorted(
            (one for one in self.records() if one.key not in keep and not self._in_use(one)),
            key=lambda one: (one.kind == "area", self._used(one)),
        )
        limit = self.limit_mb() * 1_000_000
        size = before
        for record in order:
            if size <= limit:
                break
            self._record_path(record.key).unlink(missing_ok=True)
            size -= record.size
        self._sweep()
        return before - self.size()

    def size(self) -> int:
        """Add up the files of all records.

        Returns
        -------
        int
            Size [bytes]; a file that two records share counts once.
        """
        return sum({f.sha256: f.size for one in self.records() for f in one.files}.values())

    def limit_mb(self) -> float:
        """Read the size that the cache keeps to.

        Returns
        -------
        float
            Limit [MB].
        """
        try:
            return float((self.folder / LIMIT_FILE).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return LIMIT_MB

    def set_limit_mb(self, limit_mb: float) -> None:
        """Set the size that the cache keeps to; the lock is held.

        Parameters
        ----------
        limit_mb : float
            Limit [MB].

        Raises
        ------
        InputError
            When it is too small for any area.
        """
        if not limit_mb >= LEAST_LIMIT_MB:
            problem = f"found {limit_mb:g}; at least {LEAST_LIMIT_MB} MB are needed for one area"
            where = "--limit"
            raise InputError(where, problem)
        write_text(self.folder / LIMIT_FILE, f"{limit_mb:g}\n")

    def _record_path(self, key: str) -> Path:
        return self.folder / RECORDS / f"{hashlib.sha256(key.encode()).hexdigest()}.json"

    def _touch(self, record: Record) -> None:
        # A cache that may only be read works all the same; then the order of use is not known.
        try:
            os.utime(self._record_path(record.key), (self._now(), self._now()))
        except OSError:
            return

    def _used(self, record: Record) -> float:
        try:
            return self._record_path(record.key).stat().st_mtime
        except OSError:
            return record.made_epoch_s

    def _in_use(self, record: Record) -> bool:
        return record.kind == "area" and self._now() - self._used(record) < IN_USE_S

    def _sweep(self) -> None:
        """Remove what no record names; nobody else writes now."""
        wanted = {file.sha256 for one in self.records() for file in one.files}
        for path in (self.folder / OBJECTS).iterdir():
            if path.name not in wanted:
                shutil.rmtree(path, ignore_errors=True)
        for path in (self.folder / UNFINISHED).iterdir():
            shutil.rmtree(path, ignore_errors=True)
        for path in (self.folder / RECORDS).glob(".*"):
            path.unlink(missing_ok=True)
