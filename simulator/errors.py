"""The two ways a request can fail that are not faults of the program."""

from __future__ import annotations


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
