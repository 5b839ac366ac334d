"""Which row of a table of tags fits a feature."""

from __future__ import annotations

from collections.abc import Mapping

Condition = tuple[str, frozenset[str]]


def conditions(text: str) -> tuple[Condition, ...]:
    """Read one pattern of a table.

    Parameters
    ----------
    text : str
        ``key=value|value``, several joined by `` + ``; ``*`` is any value but "no".

    Returns
    -------
    tuple of (str, frozenset of str)
        Keys and the values that fit; all must hold.

    Examples
    --------
    >>> conditions("amenity=shelter + covered=*")
    (('amenity', frozenset({'shelter'})), ('covered', frozenset({'*'})))
    """
    pairs = (part.split("=") for part in text.split(" + "))
    return tuple((key, frozenset(values.split("|"))) for key, values in pairs)


def holds(tags: Mapping[str, str], condition: Condition) -> bool:
    """Decide whether one condition holds; a list such as ``food;drinks`` fits by any part.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags.
    condition : (str, frozenset of str)
        Key and the values that fit.

    Returns
    -------
    bool
        Whether a value fits.
    """
    key, values = condition
    found = tags.get(key)
    if found is None:
        return False
    if found in values:
        return True
    if "*" in values and found != "no":
        return True
    return ";" in found and not values.isdisjoint(found.replace(" ", "").split(";"))


class FirstFit:
    """The first row of a table that fits a feature.

    Parameters
    ----------
    table : mapping of str to tuple of str
        Patterns by name, in order of preference.
    """

    def __init__(self, table: Mapping[str, tuple[str, ...]]) -> None:
        self._by_key: dict[str, list[tuple[int, str, tuple[Condition, ...]]]] = {}
        for rank, (name, patterns) in enumerate(table.items()):
            for pattern in patterns:
                needed = conditions(pattern)
                self._by_key.setdefault(needed[0][0], []).append((rank, name, needed))

    def __call__(self, tags: Mapping[str, str]) -> str | None:
        """Name the first row that fits.

        Parameters
        ----------
        tags : mapping of str to str
            OSM tags.

        Returns
        -------
        str or None
            Name of the row; None if none fits.
        """
        fitting = [
            (rank, name)
            for key in tags
            for rank, name, needed in self._by_key.get(key, ())
            if all(holds(tags, condition) for condition in needed)
        ]
        return min(fitting)[1] if fitting else None
