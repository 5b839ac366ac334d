"""The cache: named by content, checked on every read, whole after a kill, kept to its limit."""

from __future__ import annotations

import hashlib
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.fetch.cache import LIMIT_MB, Cache, DamagedError, Record, default_folder


@dataclass
class Clock:
    """A clock that is set by hand."""

    now: float = 1_700_000_000.0

    def __call__(self) -> float:  # noqa: D102 - gives the time
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def cache(tmp_path: Path, clock: Clock) -> Cache:
    return Cache(tmp_path / "cache", now=clock)


def put(cache: Cache, key: str, content: bytes, *, kind: str = "piece") -> Record:
    with cache.writing(lambda: None), cache.unfinished() as folder:
        path = folder / "piece.bin"
        path.write_bytes(content)
        return cache.put(key, [path], kind=kind, about=key, facts={"size": len(content)})


def test_what_is_put_in_comes_out_under_its_fingerprint(cache: Cache) -> None:
    put(cache, "one", b"content")
    record = cache.find("one")
    assert record is not None
    # FIPS 180-4 as in hashlib.
    assert record.files[0].sha256 == hashlib.sha256(b"content").hexdigest()
    (path,) = cache.read(record)
    assert path.read_bytes() == b"content"
    assert record.files[0].sha256 in path.parts
    assert record.facts == {"size": 7}
    assert cache.find("two") is None


@pytest.mark.parametrize("damage", ["changed", "longer", "gone"])
def test_a_damaged_file_is_never_given_and_is_removed(cache: Cache, damage: str) -> None:
    record = put(cache, "one", b"content")
    path = cache.path_of(record.files[0])
    if damage == "gone":
        path.unlink()
    else:
        path.write_bytes(b"c0ntent" if damage == "changed" else b"content ")
    with pytest.raises(DamagedError, match="run walkhome fetch"):
        cache.read(record)
    assert cache.find("one") is None
    assert not path.exists()


def test_a_damaged_record_counts_as_none(cache: Cache) -> None:
    put(cache, "one", b"content")
    (path,) = (cache.folder / "records").glob("*.json")
    whole = path.read_bytes()
    for bad in (whole[:-9], whole.replace(b"piece", b"area!"), b"", b"[]", b'{"check": 1}'):
        path.write_bytes(bad)
        assert cache.find("one") is None
        assert cache.records() == []


def test_the_same_content_under_two_keys_is_kept_once(cache: Cache) -> None:
    put(cache, "one", b"content")
    put(cache, "two", b"content")
    assert cache.size() == 7
    assert len(list((cache.folder / "objects").iterdir())) == 1


def test_the_longest_unused_goes_first_and_pieces_before_areas(cache: Cache, clock: Clock) -> None:
    half = 4_000_000
    for number, kind in enumerate(("area", "piece", "piece", "piece")):
        put(cache, f"{kind} {number}", bytes([number]) * half, kind=kind)
        clock.now += 1000
    first = cache.find("piece 1")
    assert first is not None
    cache.read(first)  # used last
    clock.now += 1000
    with cache.writing(lambda: None):
        cache.set_limit_mb(13)
        assert cache.shrink() == half
    assert {one.key for one in cache.records()} == {"area 0", "piece 1", "piece 3"}
    with cache.writing(lambda: None):
        cache.set_limit_mb(10)
        cache.shrink(keep=["piece 3"])
    assert {one.key for one in cache.records()} == {"area 0", "piece 3"}
    assert len(list((cache.folder / "objects").iterdir())) == 2


def test_an_area_in_use_is_not_swept(cache: Cache, clock: Clock) -> None:
    record = put(cache, "area", b"0" * 11_000_000, kind="area")
    with cache.writing(lambda: None):
        cache.set_limit_mb(10)
        cache.read(record)
        clock.now += 60
        assert cache.shrink() == 0
        clock.now += 3600
        assert cache.shrink() == 11_000_000


def test_clearing_removes_everything_and_keeps_the_limit(cache: Cache) -> None:
    put(cache, "one", b"content")
    with cache.writing(lambda: None):
        cache.set_limit_mb(50)
        assert cache.clear() == 7
    assert cache.records() == []
    assert list((cache.folder / "objects").iterdir()) == []
    assert cache.limit_mb() == 50
    (cache.folder / "limit-mb").write_text("much")
    assert cache.limit_mb() == LIMIT_MB


def test_a_limit_too_small_for_any_area_is_refused(cache: Cache) -> None:
    with cache.writing(lambda: None), pytest.raises(InputError, match="at least 10 MB"):
        cache.set_limit_mb(1)
    with cache.writing(lambda: None), pytest.raises(InputError):
        cache.set_limit_mb(float("nan"))


def test_the_folder_is_the_systems_unless_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert default_folder({"WALKHOME_CACHE": str(tmp_path / "x")}) == tmp_path / "x"
    if sys.platform.startswith("linux"):
        # XDG Base Directory Specification 0.8: $XDG_CACHE_HOME, else $HOME/.cache.
        monkeypatch.setenv("XDG_CACHE_HOME", "/var/c")
        assert default_folder({}) == Path("/var/c/walkhome")
        monkeypatch.delenv("XDG_CACHE_HOME")
        assert default_folder({}) == Path.home() / ".cache" / "walkhome"


def test_a_folder_that_cannot_be_made_is_refused_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with (
        pytest.raises(InputError, match="set WALKHOME_CACHE to another"),
        Cache(tmp_path / "file" / "cache").writing(lambda: None),
    ):
        pass


def test_a_cache_that_may_only_be_read_is_read(cache: Cache) -> None:
    record = put(cache, "one", b"content")
    records = cache.folder / "records"
    records.chmod(0o500)
    try:
        assert len(cache.read(record)) == 1
    finally:
        records.chmod(0o700)


HOLD = """
import sys, time
from pathlib import Path
from simulator.fetch.cache import Cache
with Cache(Path(sys.argv[1])).writing(lambda: print("waits", flush=True)):
    print("holds", flush=True)
    time.sleep(float(sys.argv[2]))
"""


def test_a_second_process_waits_and_a_killed_one_lets_go(tmp_path: Path) -> None:
    words = [sys.executable, "-c", HOLD, str(tmp_path / "cache")]
    with subprocess.Popen([*words, "60"], stdout=subprocess.PIPE, text=True) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == "holds\n"
        with subprocess.Popen([*words, "0"], stdout=subprocess.PIPE, text=True) as second:
            assert second.stdout is not None
            assert second.stdout.readline() == "waits\n"
            assert second.poll() is None
            first.send_signal(signal.SIGKILL)
            assert second.stdout.readline() == "holds\n"


WRITE = """
import sys
from pathlib import Path
from simulator.fetch.cache import Cache
cache = Cache(Path(sys.argv[1]))
number = int(sys.argv[2])
with cache.writing(lambda: None):
    while True:
        number += 1
        with cache.unfinished() as folder:
            path = folder / "piece.bin"
            path.write_bytes(bytes([number % 251]) * 300_000)
            cache.put(f"key {number % 7}", [path], kind="piece", about="", facts={})
        print(number, flush=True)
"""


def test_killing_a_writer_at_any_moment_loses_nothing_and_leaves_nothing_half_read(
    tmp_path: Path,
) -> None:
    cache = Cache(tmp_path / "cache")
    number = 0
    for round_ in range(6):
        words = [sys.executable, "-c", WRITE, str(cache.folder), str(number)]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout is not None
            for _ in range(8):
                number = int(writer.stdout.readline())
            time.sleep(0.0007 * round_)
            writer.send_signal(signal.SIGKILL)
        records = cache.records()
        # What was reported as kept is there, every file whole.
        assert f"key {number % 7}" in {one.key for one in records}
        for record in records:
            (path,) = cache.read(record)
            content = path.read_bytes()
            assert content == content[:1] * 300_000
        with cache.writing(lambda: None):
            assert list((cache.folder / "unfinished").iterdir()) == []
            wanted = {file.sha256 for one in cache.records() for file in one.files}
            assert {path.name for path in (cache.folder / "objects").iterdir()} == wanted
