"""Files at the edge: read with a clear refusal, written whole or not at all."""

from __future__ import annotations

import csv
import hashlib
import io
import math
import os
import shutil
import tempfile
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from simulator.errors import InputError

LARGEST_TEXT_BYTES = 5_000_000
"""A plan or a bag list larger than this is taken for a wrong file [bytes]."""

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""First characters that make a spreadsheet run a cell as a formula (OWASP, "CSV Injection")."""


def read_text(path: Path, *, what: str) -> str:
    """Read a text file that a person wrote.

    Parameters
    ----------
    path : pathlib.Path
        File in UTF-8, with or without a byte-order mark.
    what : str
        What the file should be, for the message, e.g. ``a plan in TOML``.

    Returns
    -------
    str
        The text, without the mark; line ends as they are in the file.

    Raises
    ------
    InputError
        When the file is missing, unreadable, too large, binary or not UTF-8.
    """
    raw = read_bytes(path, what=what, largest=LARGEST_TEXT_BYTES)
    if raw.startswith(b"PK\x03\x04"):
        raise InputError(str(path), f"found a workbook or archive; {what} is needed: export it")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw.count(b"\n", 0, fault.start) + 1
        problem = f"found bytes that are not UTF-8 text; save {what} again as UTF-8"
        where = f"{path}: line {line}"
        raise InputError(where, problem) from None
    if "\0" in text:
        raise InputError(str(path), f"found binary data; {what} is needed")
    return text


def read_bytes(path: Path, *, what: str, largest: int) -> bytes:
    """Read a whole file, or say in one line why not.

    Parameters
    ----------
    path : pathlib.Path
        File to read.
    what : str
        What it should be, for messages.
    largest : int
        Refused above this size [bytes].

    Returns
    -------
    bytes
        The content.
    """
    require_file(path, str(path), what=what)
    size = path.stat().st_size
    if size > largest:
        problem = f"found {size / 1e6:.1f} MB; {what} has at most {largest / 1e6:g} MB"
        raise InputError(str(path), problem)
    try:
        return path.read_bytes()
    except OSError as fault:
        raise InputError(str(path), f"cannot be read ({fault.strerror})") from None


def require_file(path: Path, where: str, *, what: str) -> None:
    """Refuse a path that is not a readable file with something in it.

    Parameters
    ----------
    path : pathlib.Path
        File to look at.
    where : str
        Where the person named it, for the message.
    what : str
        What the file should be.

    Raises
    ------
    InputError
        When it is missing, a folder, empty or may not be read.
    """
    if not path.exists():
        raise InputError(where, f"found no file {path}; give the name of {what}")
    if path.is_dir():
        raise InputError(where, f"found the folder {path}; give the name of {what}")
    if not os.access(path, os.R_OK):
        raise InputError(where, f"found {path}, which you may not read; change its permissions")
    if path.is_file() and path.stat().st_size == 0:
        raise InputError(where, f"found an empty file {path}; {what} is needed")


def sha256_of(path: Path) -> str:
    """Give a file's fingerprint.

    Parameters
    ----------
    path : pathlib.Path
        File to read.

    Returns
    -------
    str
        SHA-256 in hexadecimal.

    Raises
    ------
    InputError
        When the file cannot be read.
    """
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as fault:
        raise InputError(str(path), f"cannot be read ({fault.strerror})") from None


def require_writable_folder(folder: Path) -> None:
    """Refuse an output folder before any work is done for it; leaves nothing behind.

    Parameters
    ----------
    folder : pathlib.Path
        Folder that will be made, or that exists.

    Raises
    ------
    InputError
        When it is a file, its parent does not exist, or nothing can be written there.
    """
    where = f"output folder {folder}"
    if os.path.lexists(folder) and not folder.is_dir():
        raise InputError(where, "found a file of this name; give another folder with --out")
    existing = folder if folder.is_dir() else folder.absolute().parent
    if not existing.is_dir():
        problem = f"found no folder {existing} to make it in; make it, or give another with --out"
        raise InputError(where, problem)
    try:
        with tempfile.TemporaryFile(dir=existing):
            pass
    except OSError as fault:
        problem = f"nothing can be written there ({fault.strerror}); give another with --out"
        raise InputError(where, problem) from None


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file whole: readers see the old one or the new one, never a part.

    Parameters
    ----------
    path : pathlib.Path
        File to write; its folder exists.
    content : bytes
        All of it.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).chmod(0o666 & ~_umask())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def write_text(path: Path, text: str) -> None:
    r"""Write text in UTF-8 with ``\n`` line ends, whole or not at all.

    Parameters
    ----------
    path : pathlib.Path
        File to write; its folder exists.
    text : str
        All of it.
    """
    write_bytes(path, text.encode("utf-8"))


def _umask() -> int:
    """Read the process's mask; a temporary file is private, the finished one need not be."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


@contextmanager
def staged(folder: Path, *, replaces: Sequence[str] = ()) -> Iterator[Path]:
    """Lend an empty folder whose files reach `folder` only when everything went well.

    The files are moved one after the other by renaming, which the system does whole; on any
    failure before that nothing in `folder` has changed and the lent folder is gone.

    Parameters
    ----------
    folder : pathlib.Path
        Where the files shall end; made when it does not exist.
    replaces : sequence of str
        Names of an earlier set that goes when the new files come, so that none contradicts them.

    Yields
    ------
    pathlib.Path
        An empty folder on the same file system, to write into.

    Raises
    ------
    InputError
        When nothing can be written there.
    """
    require_writable_folder(folder)
    made = not folder.exists()
    parent = folder.absolute().parent if made else folder
    stage = Path(tempfile.mkdtemp(dir=parent, prefix=".walkhome-"))
    try:
        yield stage
        if made:
            folder.mkdir(exist_ok=True)
        for name in replaces:
            if not (stage / name).exists():
                (folder / name).unlink(missing_ok=True)
        for source in sorted(p for p in stage.rglob("*") if p.is_file()):
            target = folder / source.relative_to(stage)
            target.parent.mkdir(parents=True, exist_ok=True)
            source.replace(target)
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def csv_safe(text: str) -> str:
    """Make text harmless in a spreadsheet cell.

    Parameters
    ----------
    text : str
        From map data or from a person.

    Returns
    -------
    str
        Without control characters; with a leading apostrophe where a spreadsheet would
        otherwise run it as a formula (OWASP, "CSV Injection").

    Examples
    --------
    >>> csv_safe("=1+2"), csv_safe("Mill Bridge")
    ("'=1+2", 'Mill Bridge')
    """
    plain = terminal_safe(text)
    return (
        f"'{plain}"
        if text.startswith(FORMULA_STARTS) or plain.startswith(FORMULA_STARTS)
        else (plain)
    )


def terminal_safe(text: str) -> str:
    r"""Make text harmless on a terminal and on one line.

    Parameters
    ----------
    text : str
        From map data or from a person.

    Returns
    -------
    str
        Without control, format (direction overrides, zero-width) and lone surrogate
        characters; line breaks and tabs become spaces.

    Examples
    --------
    >>> terminal_safe("Mill\x1b[31m\nBridge")
    'Mill[31m Bridge'
    """
    spaced = (" " if c in "\n\r\t\v\f\x85\u2028\u2029" else c for c in text)
    return "".join(c for c in spaced if unicodedata.category(c) not in {"Cc", "Cf", "Cs"})


def csv_text(
    header: Sequence[str],
    rows: Iterable[Sequence[object]],
    *,
    decimals: dict[str, int] | None = None,
) -> str:
    r"""Lay out rows as CSV that is the same on every machine.

    Parameters
    ----------
    header : sequence of str
        Column names.
    rows : iterable of sequence
        Cells in the order of `header`: text, numbers, truth values, or None.
    decimals : dict of str to int, optional
        Digits after the point for a column; others get the shortest form that reads back.

    Returns
    -------
    str
        Comma separated with ``\n`` line ends (otherwise RFC 4180); None and nan are empty
        cells, true and false are ``yes`` and ``no``, text is made harmless by `csv_safe`.
    """
    digits = [(decimals or {}).get(name) for name in header]
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(
        [_cell(value, places) for value, places in zip(row, digits, strict=True)] for row in rows
    )
    return stream.getvalue()


def _cell(value: object, decimals: int | None) -> str:
    """Write one cell; numpy's numbers count as numbers through their Python value."""
    plain = value.item() if hasattr(value, "item") else value
    if plain is None:
        return ""
    if isinstance(plain, bool):
        return "yes" if plain else "no"
    if isinstance(plain, float):
        if math.isnan(plain):
            return ""
        rounded = plain if decimals is None else round(plain, decimals)
        rounded += 0.0  # minus zero would otherwise differ between equal results
        return repr(rounded) if decimals is None else f"{rounded:.{decimals}f}"
    return str(plain) if isinstance(plain, int) else csv_safe(str(plain))
