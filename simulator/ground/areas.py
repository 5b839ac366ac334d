"""Areas that the map draws as a relation: a lake, a wood or a hospital of several outlines.

Only the outer outlines count. They come in pieces, which are joined end to end; what lies outside
the extract is left open.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Container

OUTER = frozenset({"outer", ""})
"""Roles of the ways that bound an area from outside (OpenStreetMap wiki, "Relation:multipolygon",
from memory; an empty role counts as outer)."""

Floats = NDArray[np.float64]


class Area(NamedTuple):
    """A relation that bounds an area.

    Attributes
    ----------
    number : int
        Its number.
    tags : dict of str to str
        OSM tags.
    outer : tuple of int
        Numbers of its outer ways.
    """

    number: int
    tags: dict[str, str]
    outer: tuple[int, ...]


@dataclass(slots=True)
class Chains:
    """Point numbers of many ways, end to end.

    Attributes
    ----------
    refs : array of int
        Point numbers.
    count : list of int
        How many belong to each way.
    """

    refs: array[int] = field(default_factory=lambda: array("q"))
    count: list[int] = field(default_factory=list)

    def add(self, refs: list[int]) -> None:
        """Append a way.

        Parameters
        ----------
        refs : list of int
            Its point numbers.
        """
        self.refs.extend(refs)
        self.count.append(len(refs))


@dataclass(slots=True)
class Outlines:
    """Areas, and the ways that may bound them.

    Attributes
    ----------
    areas : list of Area
        Those with a way here.
    ways : list of int
        Numbers of the ways.
    chains : Chains
        Their points.
    """

    areas: list[Area] = field(default_factory=list)
    ways: list[int] = field(default_factory=list)
    chains: Chains = field(default_factory=Chains)

    def add(self, number: int, refs: list[int]) -> None:
        """Append a way that may bound an area.

        Parameters
        ----------
        number : int
            Its number.
        refs : list of int
            Its points.
        """
        self.ways.append(number)
        self.chains.add(refs)


def read_areas(
    path: Path,
    wanted: Callable[[Mapping[str, str]], bool],
    *,
    among: Container[int] | None = None,
) -> list[Area]:
    """Read the relations that bound an area.

    Parameters
    ----------
    path : pathlib.Path
        Map extract.
    wanted : callable
        Given the tags of a relation, whether to keep it.
    among : container of int, optional
        Numbers of the ways that are here; areas without one of them are passed over.

    Returns
    -------
    list of Area
        In the order of the file.
    """
    import osmium  # noqa: PLC0415 - slow to import

    found = []
    bounding = osmium.filter.TagFilter(("type", "multipolygon"))
    for relation in osmium.FileProcessor(str(path), osmium.osm.RELATION).with_filter(bounding):
        tags = dict(relation.tags)
        if not wanted(tags):
            continue
        outer = tuple(
            member.ref for member in relation.members if member.type == "w" and member.role in OUTER
        )
        if outer and (among is None or any(number in among for number in outer)):
            found.append(Area(relation.id, tags, outer))
    return found


def joined(pieces: Iterable[tuple[Floats, Floats]]) -> list[tuple[Floats, Floats]]:
    """Join pieces of outlines end to end.

    Parameters
    ----------
    pieces : iterable of ((K,) float64, (K,) float64)
        Longitudes and latitudes [degrees].

    Returns
    -------
    list of ((K,) float64, (K,) float64)
        As few lines as may be; a whole outline ends where it begins.
    """
    lines = [np.column_stack(piece) for piece in pieces if piece[0].size > 1]
    if not lines:
        return []
    merged = shapely.line_merge(shapely.MultiLineString(lines))
    parts = (shapely.get_coordinates(part) for part in shapely.get_parts(merged))
    return [(part[:, 0].copy(), part[:, 1].copy()) for part in parts]
