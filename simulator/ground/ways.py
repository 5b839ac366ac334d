"""Columns for the ways of a map: those kept, and those refused with the reason."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.ground.walkable import HIGHWAYS, SMOOTHNESS, SURFACES, Verdict


@dataclass(frozen=True, slots=True)
class Ways:
    """The W kept ways, one scalar a column.

    Attributes
    ----------
    osm_id : (W,) int64
        Number of the OSM way.
    highway : (W,) int8
        Kind of way, position in :data:`simulator.ground.walkable.HIGHWAYS`.
    name : tuple of W str
        Name, else reference number, else "".
    bridge_name : tuple of W str
        Name of the bridge or tunnel itself, "" unknown.
    surface : (W,) int8
        Position in :data:`simulator.ground.walkable.SURFACES`.
    smoothness : (W,) int8
        Position in :data:`simulator.ground.walkable.SMOOTHNESS`.
    lit : (W,) int8
        -1 unknown, 0 no, 1 yes.
    steps, bridge, tunnel, sidewalk : (W,) bool
        A stairway, on a bridge, in a tunnel, with a sidewalk mapped.
    layer : (W,) int8
        Vertical order, 0 at ground level.
    traffic : (W,) int8
        Motor traffic beside the walker: 0 none, 1 low, 2 high.
    forward, backward : (W,) bool
        May be walked in, against the direction of drawing.
    note : tuple of W str
        What a walker should know (closing times, fords …), "" nothing.
    """

    osm_id: NDArray[np.int64]
    highway: NDArray[np.int8]
    name: tuple[str, ...]
    bridge_name: tuple[str, ...]
    surface: NDArray[np.int8]
    smoothness: NDArray[np.int8]
    lit: NDArray[np.int8]
    steps: NDArray[np.bool_]
    bridge: NDArray[np.bool_]
    tunnel: NDArray[np.bool_]
    sidewalk: NDArray[np.bool_]
    layer: NDArray[np.int8]
    traffic: NDArray[np.int8]
    forward: NDArray[np.bool_]
    backward: NDArray[np.bool_]
    note: tuple[str, ...]

    def __len__(self) -> int:
        return self.osm_id.size

    def take(self, rows: NDArray[np.int64]) -> Ways:
        """Keep some ways.

        Parameters
        ----------
        rows : (K,) int64
            Rows to keep, in the order wanted.

        Returns
        -------
        Ways
            The K ways.
        """
        columns: dict[str, Any] = {}
        for column in self.__slots__:
            values = getattr(self, column)
            if isinstance(values, tuple):
                columns[column] = tuple(values[row] for row in rows.tolist())
            else:
                columns[column] = values[rows]
        return Ways(**columns)


@dataclass(frozen=True, slots=True)
class Rejected:
    """The ways that may not be walked, and why.

    Attributes
    ----------
    osm_id : (R,) int64
        Number of the OSM way.
    highway : tuple of R str
        Value of ``highway``, "" none.
    name : tuple of R str
        Name, "" unknown.
    reason : tuple of R str
        Tag that decided, and why.
    """

    osm_id: NDArray[np.int64]
    highway: tuple[str, ...]
    name: tuple[str, ...]
    reason: tuple[str, ...]

    def __len__(self) -> int:
        return self.osm_id.size


def name_of(tags: Mapping[str, str]) -> str:
    """Name a way as a person would look for it.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags of the way.

    Returns
    -------
    str
        Name, else reference number, else "".
    """
    return tags.get("name") or tags.get("ref") or ""


def bridge_name_of(tags: Mapping[str, str]) -> str:
    """Name the bridge or tunnel that carries a way.

    Parameters
    ----------
    tags : mapping of str to str
        OSM tags of the way.

    Returns
    -------
    str
        Name of the structure, "" unknown.
    """
    return tags.get("bridge:name") or tags.get("tunnel:name") or ""


def collect_ways(
    osm_id: Sequence[int],
    verdicts: Sequence[Verdict],
    names: Sequence[str],
    bridge_names: Sequence[str],
) -> Ways:
    """Turn verdicts into columns.

    Parameters
    ----------
    osm_id : sequence of W int
        Numbers of the ways.
    verdicts : sequence of W Verdict
        What each way means to a walker.
    names, bridge_names : sequence of W str
        Their names, and those of the structures that carry them.

    Returns
    -------
    Ways
        One row a way.
    """
    highway = {name: code for code, name in enumerate(HIGHWAYS)}
    surface = {name: code for code, name in enumerate(SURFACES)}
    smoothness = {name: code for code, name in enumerate(SMOOTHNESS)}
    return Ways(
        osm_id=np.array(osm_id, np.int64),
        highway=np.array([highway[v.highway] for v in verdicts], np.int8),
        name=tuple(names),
        bridge_name=tuple(bridge_names),
        surface=np.array([surface[v.surface] for v in verdicts], np.int8),
        smoothness=np.array([smoothness[v.smoothness] for v in verdicts], np.int8),
        lit=np.array([v.lit for v in verdicts], np.int8),
        steps=np.array([v.steps for v in verdicts], bool),
        bridge=np.array([v.bridge for v in verdicts], bool),
        tunnel=np.array([v.tunnel for v in verdicts], bool),
        sidewalk=np.array([v.sidewalk for v in verdicts], bool),
        layer=np.array([v.layer for v in verdicts], np.int8),
        traffic=np.array([v.traffic for v in verdicts], np.int8),
        forward=np.array([v.forward for v in verdicts], bool),
        backward=np.array([v.backward for v in verdicts], bool),
        note=tuple("; ".join(v.notes) for v in verdicts),
    )


def collect_rejected(rows: Sequence[tuple[int, str, str, str]]) -> Rejected:
    """Turn refused ways into columns.

    Parameters
    ----------
    rows : sequence of (int, str, str, str)
        Way number, value of ``highway``, name, reason.

    Returns
    -------
    Rejected
        One row a way.
    """
    return Rejected(
        osm_id=np.array([row[0] for row in rows], np.int64),
        highway=tuple(row[1] for row in rows),
        name=tuple(row[2] for row in rows),
        reason=tuple(row[3] for row in rows),
    )
