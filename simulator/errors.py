"""Words for what is wrong with something a person wrote; one line for each fault."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence


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


class NoWayHomeError(LookupError):
    """No walkable way joins the places on this map; exit code 3.

    Parameters
    ----------
    message : str
        One line: how far each side reaches, and what stops it.
    """


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
    text = "a table" if isinstance(value, dict) else repr(value)
    return text if len(text) <= SHOWN_CHARACTERS else text[: SHOWN_CHARACTERS - 1] + "…"


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
    found = difflib.get_close_matches(word.lower(), lowered, n=1, cutoff=0.6)
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
