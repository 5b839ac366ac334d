"""Words for what is wrong with something a person wrote; one line for each fault."""

from __future__ import annotations

import difflib
import errno
import os
from collections.abc import Iterable, Sequence
from urllib.parse import urlsplit


class InputError(ValueError):
    """Something a person wrote, or a file they named, cannot be used.

    The message is one line that says where (file, and line or key), what was found, what is
    allowed, and what to do. The command line prints it and ends with exit code 2.

    Parameters
    ----------
    where : str
        File, and line or key, e.g. ``plan.toml: walker.mass_kg``.
    problem : str
        What was found, what is allowed and what to do, as one sentence.
    """

    def __init__(self, where: str, problem: str) -> None:
        self.where = where
        self.problem = problem
        super().__init__(f"{where}: {problem}")


class MachineError(RuntimeError):
    """The machine cannot go on: no room on the disk, no memory, nobody to write to; exit code 4.

    Parameters
    ----------
    where : str
        File or folder.
    problem : str
        What happened and what to do.
    """

    def __init__(self, where: str, problem: str) -> None:
        self.where = where
        self.problem = problem
        super().__init__(f"{where}: {problem}")


class NoWayHomeError(LookupError):
    """No walkable way joins the places on this map; exit code 3.

    Parameters
    ----------
    message : str
        One line: how far each side reaches, and what stops it.
    """


MACHINE_FAULTS = tuple(
    getattr(errno, name)
    for name in ("ENOSPC", "EDQUOT", "EFBIG", "EIO", "EROFS", "ENOMEM", "EMFILE", "ENFILE", "EPIPE")
    if hasattr(errno, name)
)
"""Faults of the machine, and not of a file: no room, a limit on sizes, broken or read-only disk, no
memory, too many open files, nobody who listens."""


def of_the_machine(fault: BaseException) -> bool:
    """Tell whether a fault is the machine's: no other file would do better.

    Parameters
    ----------
    fault : BaseException
        As raised; libraries give the system's words where they lose its number.

    Returns
    -------
    bool
        True for full disks, limits, and memory that ran out.
    """
    if isinstance(fault, OSError) and fault.errno in MACHINE_FAULTS:
        return True
    said = str(fault)
    return isinstance(fault, MemoryError) or any(os.strerror(n) in said for n in MACHINE_FAULTS)


SHOWN_CHARACTERS = 60
"""Longest piece of a person's own text repeated in a message [characters]."""


def gathered(faults: Sequence[tuple[str, str]]) -> InputError:
    """Join faults into one error whose text has one line for each.

    Parameters
    ----------
    faults : sequence of (str, str)
        Where and problem of each fault; at least one.

    Returns
    -------
    InputError
        `where` and the first line are those of the first fault.
    """
    (where, problem), *others = faults
    return InputError(where, "\n".join([problem, *(f"{w}: {p}" for w, p in others)]))


def shown(value: object) -> str:
    """Give a value as it may be repeated in a one-line message.

    Parameters
    ----------
    value : object
        Anything a person wrote.

    Returns
    -------
    str
        Its `repr`, cut to `SHOWN_CHARACTERS`, with every line break escaped.
    """
    try:
        text = "a table" if isinstance(value, dict) else repr(value)
    except ValueError:  # the interpreter writes no number of thousands of digits
        text = "a number of thousands of digits"
    return text if len(text) <= SHOWN_CHARACTERS else text[: SHOWN_CHARACTERS - 1] + "…"


MOST_ADDRESS_CHARACTERS = 2000
"""A web address longer than this is none [characters]: what servers and browsers commonly take."""


def address_fault(address: str) -> str:
    """Say why something is no web address that may be asked.

    Parameters
    ----------
    address : str
        What a person wrote, or a server sent.

    Returns
    -------
    str
        What is wrong and what to do; empty when nothing is.
    """
    try:
        parts = urlsplit(address)
        host, secret = parts.hostname, parts.username is not None or parts.password is not None
        _ = parts.port  # raises when it is no number of a port
    except ValueError:
        parts, host, secret = None, None, "@" in address
    if secret:
        return (
            "found an address with a name or password in it, which would end up in messages and "
            "the cache; leave them out, or put a server between that adds them"
        )
    plain = address.isascii() and address.isprintable() and " " not in address
    short = len(address) <= MOST_ADDRESS_CHARACTERS
    if parts is None or parts.scheme not in {"http", "https"} or not (host and plain and short):
        return f"found {shown(address)}; write http:// or https:// and a server, in plain letters"
    return ""


def shown_address(address: str) -> str:
    """Give a web address as it may be shown: server and path.

    Parameters
    ----------
    address : str
        Any.

    Returns
    -------
    str
        Without name, password and question, which may hold secrets, and not longer than a line.
    """
    if address_fault(address):
        return "the address"
    parts = urlsplit(address)
    text = f"{parts.scheme}://{parts.netloc}{parts.path}"
    return text if len(text) <= 2 * SHOWN_CHARACTERS else text[: 2 * SHOWN_CHARACTERS - 1] + "…"


def closest_word(word: str, known: Iterable[str]) -> str:
    """Find the known word most like the one found.

    Parameters
    ----------
    word : str
        What a person wrote.
    known : iterable of str
        What may be written.

    Returns
    -------
    str
        The nearest known word, capitals apart; empty when none is near.
    """
    lowered = {name.lower(): name for name in known}
    found = difflib.get_close_matches(word[:SHOWN_CHARACTERS].lower(), lowered, n=1, cutoff=0.6)
    return lowered[found[0]] if found else ""


def closest(word: str, known: Iterable[str]) -> str:
    """Suggest the known word most like the one found.

    Parameters
    ----------
    word : str
        What a person wrote.
    known : iterable of str
        What may be written.

    Returns
    -------
    str
        ``did you mean 'this'? `` with a trailing space, or nothing when no word is near.

    Examples
    --------
    >>> closest("smothing_m", ["extract", "smoothing_m"])
    "did you mean 'smoothing_m'? "
    """
    found = closest_word(word, known)
    return f"did you mean {found!r}? " if found else ""
