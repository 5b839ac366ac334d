"""Files at the edge: read with a clear refusal, written whole or not at all."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
import os
import shutil
import stat
import tempfile
import time
import tomllib
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from simulator.errors import InputError, MachineError

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


TOO_DEEP = "a number of thousands of digits, or brackets hundreds deep"


def parse_toml(text: str) -> dict[str, Any]:
    """Read TOML; whatever the reader stumbles over is no TOML.

    Parameters
    ----------
    text : str
        Content of a file.

    Returns
    -------
    dict
        Its tables.

    Raises
    ------
    tomllib.TOMLDecodeError
        When it is none; numbers and brackets that no reader takes count as that.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except (ValueError, RecursionError):
        raise tomllib.TOMLDecodeError(TOO_DEEP) from None


def parse_json(text: str) -> Any:  # noqa: ANN401 - any value
    """Read JSON; whatever the reader stumbles over is no JSON.

    Parameters
    ----------
    text : str
        Content of a file.

    Returns
    -------
    object
        As `json.loads` gives it.

    Raises
    ------
    json.JSONDecodeError
        When it is none; numbers and brackets that no reader takes count as that.
    """
    try:
        return json.loads(text)
    except json.JSONDecodeError:
        raise
    except (ValueError, RecursionError):
        raise json.JSONDecodeError(TOO_DEEP, "", 0) from None


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
    try:
        with path.open("rb") as stream:
            content = stream.read(largest + 1)
    except OSError as fault:
        raise InputError(str(path), f"cannot be read ({fault.strerror})") from None
    if len(content) > largest:
        problem = f"found more than {largest / 1e6:g} MB; {what} has at most that"
        raise InputError(str(path), problem)
    return content


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
        When it is missing, a folder, a pipe or a device, empty or may not be read.
    """
    named = shown_path(path)
    try:
        found = path.stat()
    except (OSError, ValueError):
        raise InputError(where, f"found no file {named}; give the name of {what}") from None
    if stat.S_ISDIR(found.st_mode):
        raise InputError(where, f"found the folder {named}; give the name of {what}")
    if not stat.S_ISREG(found.st_mode):
        raise InputError(where, f"found {named}, which is no regular file; copy {what} into one")
    if not os.access(path, os.R_OK):
        raise InputError(where, f"found {named}, which you may not read; change its permissions")
    if found.st_size == 0:
        raise InputError(where, f"found an empty file {named}; {what} is needed")


SHOWN_PATH_CHARACTERS = 120


def shown_path(path: Path) -> str:
    """Give a path as it may be repeated in a message: its end where it is long."""
    text = str(path)
    return text if len(text) <= SHOWN_PATH_CHARACTERS else f"…{text[1 - SHOWN_PATH_CHARACTERS :]}"


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
        When it is a file, a file stands in its place on the way there, or nothing can be written.
    """
    where = f"output folder {shown_path(folder)}"
    try:
        folder.is_dir()
    except OSError as fault:  # a name longer than any file system takes
        raise InputError(where, f"cannot be ({fault.strerror}); give another with --out") from None
    if os.path.lexists(folder) and not folder.is_dir():
        raise InputError(where, "found a file of this name; give another folder with --out")
    # Folders that are missing on the way there are made with it.
    existing = next(
        path for path in (folder.absolute(), *folder.absolute().parents) if path.exists()
    )
    if not existing.is_dir():
        problem = f"found a file {shown_path(existing)} where a folder must be; give another --out"
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
    failure before that nothing in `folder` has changed and the lent folder is gone. The document
    of the set (``.json``) is moved last and the old one taken away first: a set without it is not
    whole. What killed processes left behind is swept.

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
    parent.mkdir(parents=True, exist_ok=True)
    _sweep(parent)
    lent = Path(tempfile.mkdtemp(dir=parent, prefix=STAGE))
    stage = lent / "files"
    stage.mkdir()
    try:
        with FileLock(lent / "lock"):
            yield stage
            if made:
                folder.mkdir(exist_ok=True)
            sources = sorted(p for p in stage.rglob("*") if p.is_file())
            _refuse_taken([folder / source.relative_to(stage) for source in sources])
            try:
                _put(stage, folder, sources, replaces)
            except KeyboardInterrupt:
                told = f"stopped; {folder}: {_halfway(stage, sources)}"
                raise KeyboardInterrupt(told) from None
            except OSError as fault:
                problem = f"{fault.strerror or fault}; {_halfway(stage, sources)}"
                raise MachineError(str(folder), problem) from None
    finally:
        shutil.rmtree(lent, ignore_errors=True)


def _put(stage: Path, folder: Path, sources: Sequence[Path], replaces: Sequence[str]) -> None:
    """Rename finished files into their folder, the document of the set last."""
    documents = [source for source in sources if source.suffix == ".json"]
    for name in replaces:
        if not (stage / name).exists():
            (folder / name).unlink(missing_ok=True)
    for source in documents:
        (folder / source.relative_to(stage)).unlink(missing_ok=True)
    for source in [*(p for p in sources if p not in documents), *documents]:
        target = folder / source.relative_to(stage)
        target.parent.mkdir(parents=True, exist_ok=True)
        source.replace(target)


def _halfway(stage: Path, sources: Sequence[Path]) -> str:
    """Say which files of a set are in place when putting them there ends too early."""
    names = {source: source.relative_to(stage).as_posix() for source in sources}
    there, lacking = (
        [name for source, name in names.items() if source.exists() is missing]
        for missing in (False, True)
    )
    if not lacking:
        return "all new files are in place and whole"
    return (
        f"new and whole are {', '.join(there) or 'none of the files'}; not in place: "
        f"{', '.join(lacking)}; an earlier set there is no longer whole: run the command again"
    )


STAGE = ".walkhome-"
"""How the name of a folder with unfinished files begins."""

LEAST_STALE_S = 60.0
"""An unfinished folder younger than this is left alone, for its owner may not hold it yet [s]."""


def _sweep(parent: Path) -> None:
    """Remove unfinished folders whose process was killed: the system has freed their locks."""
    for lent in parent.glob(f"{STAGE}*"):
        try:
            if time.time() - lent.stat().st_mtime < LEAST_STALE_S:
                continue
            with FileLock(lent / "lock", timeout=0):
                pass
        except (OSError, Timeout):
            continue
        shutil.rmtree(lent, ignore_errors=True)


def _refuse_taken(targets: Sequence[Path]) -> None:
    """Refuse names that a folder has, before any file is moved."""
    for target in targets:
        if target.is_dir():
            where = str(target)
            problem = (
                "found a folder where a file of this name goes; move it, or give another --out"
            )
            raise InputError(where, problem)


def of_other_runs(document: Path) -> list[str]:
    """Tell which files beside a document are not those of its set.

    Parameters
    ----------
    document : pathlib.Path
        ``summary.json`` with the fingerprints of its files, or nothing.

    Returns
    -------
    list of str
        Names that are missing or differ; empty where there is no such document.
    """
    try:
        told = parse_json(read_text(document, what="a document"))["files"]
        return [
            str(name)
            for name, sha256 in sorted(told.items())
            if not os.path.isfile(document.parent / name)  # noqa: PTH113 - any name may stand there
            or sha256_of(document.parent / name) != sha256
        ]
    except (InputError, ValueError, LookupError, TypeError, AttributeError):
        return []


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
        characters; line breaks and tabs become spaces. Joiners stay between letters of scripts
        that are spelt with them.

    Examples
    --------
    >>> terminal_safe("Mill\x1b[31m\nBridge")
    'Mill[31m Bridge'
    """
    spaced = [" " if c in "\n\r\t\v\f\x85\u2028\u2029" else c for c in text]
    return "".join(
        c
        for at, c in enumerate(spaced)
        if unicodedata.category(c) not in {"Cc", "Cf", "Cs"} or _joins(spaced, at)
    )


JOINERS = "\u200c\u200d"

JOINING_SCRIPTS = (
    *("ARABIC", "SYRIAC", "MONGOLIAN", "DEVANAGARI", "BENGALI", "GURMUKHI", "GUJARATI", "ORIYA"),
    *("TAMIL", "TELUGU", "KANNADA", "MALAYALAM", "SINHALA", "KHMER", "MYANMAR", "TIBETAN"),
)
"""Scripts in which a joiner, or its opposite, changes how a word is spelt (Unicode Standard Annex
31, section 2.3, and the chapters on these scripts, from memory)."""


def _joins(text: Sequence[str], at: int) -> bool:
    """Tell a joiner that a name needs from one that only hides."""
    return (
        text[at] in JOINERS
        and 0 < at < len(text) - 1
        and all(unicodedata.name(text[n], "").startswith(JOINING_SCRIPTS) for n in (at - 1, at + 1))
    )


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
