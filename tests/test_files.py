"""Files at the edge: refused clearly, written whole or not at all, harmless where they end up."""

from __future__ import annotations

import csv
import errno
import io
import math
import os
import stat
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.errors import InputError, MachineError
from simulator.files import (
    FORMULA_STARTS,
    csv_safe,
    csv_text,
    read_text,
    require_file,
    require_writable_folder,
    sha256_of,
    staged,
    terminal_safe,
    write_bytes,
    write_text,
)


def listing(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def test_a_file_is_replaced_whole_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_text(path, "old\n")
    write_text(path, "né\n")
    assert path.read_bytes() == "né\n".encode()
    assert listing(tmp_path) == ["a.txt"]


def test_a_failed_write_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_bytes(path, b"new")
    assert path.read_text() == "old"
    assert listing(tmp_path) == ["a.txt"]


@pytest.mark.skipif(os.name != "posix", reason="permission bits are POSIX")
def test_a_written_file_has_the_permissions_of_any_new_file(tmp_path: Path) -> None:
    (tmp_path / "plain").touch()
    write_bytes(tmp_path / "ours", b"")
    modes = {stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("plain", "ours")}
    assert len(modes) == 1


def test_staged_files_arrive_together(tmp_path: Path) -> None:
    out = tmp_path / "out"
    with staged(out) as stage:
        (stage / "a").write_text("1")
        (stage / "sub").mkdir()
        (stage / "sub" / "b").write_text("2")
        assert not out.exists()
    assert listing(tmp_path) == ["out", "out/a", "out/sub", "out/sub/b"]


def test_a_failure_between_leaves_the_folder_as_it_was(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "a").write_text("old")

    def fail_half_way() -> None:
        with staged(out) as stage:
            (stage / "a").write_text("new")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_half_way()
    assert listing(tmp_path) == ["out", "out/a"]
    assert (out / "a").read_text() == "old"


def half_put(monkeypatch: pytest.MonkeyPatch, fault: BaseException, out: Path) -> None:
    """Put three files in place over an earlier set; the second does not get there."""
    out.mkdir()
    (out / "summary.json").write_text("old")
    replace = Path.replace

    def breaking(self: Path, target: Path) -> Path:
        if target.name == "b.pdf":
            raise fault
        return replace(self, target)

    with staged(out) as stage:
        for name in ("a.csv", "b.pdf", "summary.json"):
            (stage / name).write_text("new")
        monkeypatch.setattr(Path, "replace", breaking)


@pytest.mark.parametrize(
    ("fault", "expected"),
    [(KeyboardInterrupt(), KeyboardInterrupt), (OSError(errno.EIO, "broken"), MachineError)],
)
def test_a_stop_while_files_are_put_in_place_names_what_is_whole_and_what_not(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    fault: BaseException,
    expected: type[BaseException],
) -> None:
    with pytest.raises(expected) as told:
        half_put(monkeypatch, fault, tmp_path / "out")
    words = str(told.value)
    assert "\n" not in words
    assert "new and whole are a.csv; not in place: b.pdf, summary.json;" in words
    assert "earlier set there is no longer whole" in words
    # What the words say is so, and nothing lies about unfinished.
    assert listing(tmp_path) == ["out", "out/a.csv"]
    assert (tmp_path / "out" / "a.csv").read_text() == "new"


def test_an_output_folder_that_cannot_be_is_refused_before_any_work(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    for folder in (tmp_path / "file", tmp_path / "file" / "out", tmp_path / "link"):
        with pytest.raises(InputError, match="output folder"):
            require_writable_folder(folder)
    assert listing(tmp_path) == ["file", "link"]


def test_folders_missing_on_the_way_are_made_with_the_files_and_not_before(tmp_path: Path) -> None:
    out = tmp_path / "no" / "such" / "out"
    require_writable_folder(out)
    assert listing(tmp_path) == []
    with staged(out) as stage:
        (stage / "a.txt").write_text("a")
    assert (out / "a.txt").read_text() == "a"
    assert listing(out.parent) == ["out", "out/a.txt"]


# Root may write to a folder without write permission, so the refusal is provoked by the error that
# the system gives everyone else.
def test_a_read_only_output_folder_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(**_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("simulator.files.tempfile.TemporaryFile", refuse)
    with pytest.raises(InputError, match=r"nothing can be written there \(Permission denied\)"):
        require_writable_folder(tmp_path)


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_folder_without_write_permission_is_refused(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(InputError, match="nothing can be written there"):
            require_writable_folder(tmp_path)
    finally:
        tmp_path.chmod(0o700)


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="needs a file system nobody may write")
def test_a_file_system_that_takes_no_files_is_refused() -> None:
    with pytest.raises(InputError, match="nothing can be written there"):
        require_writable_folder(Path("/proc/self/walkhome-out"))


def test_reading_refuses_what_is_not_text(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    for content, words in (
        (b"", "empty file"),
        (b"PK\x03\x04", "workbook or archive"),
        (b"ok\nok\n\xff", "line 3: found bytes that are not UTF-8"),
        (b"a\0b", "binary data"),
        (b"a" * 5_000_001, "found more than 5 MB"),
    ):
        path.write_bytes(content)
        with pytest.raises(InputError, match=words):
            read_text(path, what="a list in CSV")
    with pytest.raises(InputError, match="found the folder"):
        read_text(tmp_path, what="a list in CSV")
    with pytest.raises(InputError, match="found no file"):
        require_file(tmp_path / "gone", "plan.toml: bag.items", what="a list in CSV")


# FIPS 180-4 example, as NIST publishes it: SHA-256 of "abc".
def test_fingerprints_are_sha_256(tmp_path: Path) -> None:
    (tmp_path / "abc").write_bytes(b"abc")
    assert sha256_of(tmp_path / "abc") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
    with pytest.raises(InputError, match="cannot be read"):
        sha256_of(tmp_path / "gone")


def test_csv_is_the_same_everywhere_and_reads_back() -> None:
    rows = [('Mill, "old"', 1.0 / 3.0, 2, None, True), ("=1+1", math.nan, -0.0, "x", False)]
    text = csv_text(("name", "a", "b", "c", "d"), rows, decimals={"a": 2})
    assert text == 'name,a,b,c,d\n"Mill, ""old""",0.33,2,,yes\n\'=1+1,,0.0,x,no\n'
    assert next(csv.reader(io.StringIO(text.splitlines()[1])))[0] == 'Mill, "old"'


def test_csv_writes_numpy_numbers_as_numbers() -> None:
    text = csv_text(("a", "b", "c"), [(np.float64(0.1), np.int64(3), np.bool_(1))])
    assert text == "a,b,c\n0.1,3,yes\n"


@given(st.text())
def test_no_text_becomes_a_formula_or_a_second_line(text: str) -> None:
    cell = csv_safe(text)
    assert not cell.startswith(FORMULA_STARTS)
    assert len(cell.splitlines()) <= 1


@given(st.text())
def test_no_text_can_steer_a_terminal(text: str) -> None:
    plain = terminal_safe(text)
    assert len(plain.splitlines()) <= 1
    assert all(c.isprintable() or c.isspace() or ord(c) > 0x7F for c in plain)
    assert not set(plain) & {"\x1b", "\x07", "\u202e", "\u2066", "\u200b", "\x9b"}


def test_plain_names_of_any_script_stay_as_they_are() -> None:
    for name in ("Mühlbrücke", "橋", "جسر", "Mill Bridge (old)"):
        assert terminal_safe(name) == name
        assert csv_safe(name) == name
