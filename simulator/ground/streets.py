"""The street network as arrays: points, the straight segments between them, and their ways.

A segment joins two consecutive points of a way; its two directions are told apart by flags and by
the direction of travel, never by doubling it. Points where a barrier stops walkers have one copy
for each segment that ends there (see :mod:`simulator.ground.assemble`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components

from simulator.ground.assemble import StreetArrays
from simulator.ground.snap import Shape, Snap, Snaps, nearest_point, nearest_points
from simulator.ground.terrain import Terrain, read_terrain

if TYPE_CHECKING:
    import networkx as nx


@dataclass(frozen=True, slots=True)
class Components:
    """Pieces of the network that hang together, one-ways taken both ways.

    Attributes
    ----------
    label : (N,) int32
        Piece of each node; pieces are numbered from the longest, 0.
    nodes : (C,) int64
        Nodes of each piece.
    length_m : (C,) float64
        Walkable length of each piece [m].
    """

    label: NDArray[np.int32]
    nodes: NDArray[np.int64]
    length_m: NDArray[np.float64]


def find_components(
    tail: NDArray[np.int32], head: NDArray[np.int32], length_m: NDArray[np.float64], *, nodes: int
) -> Components:
    """Label the pieces of a network that hang together.

    Parameters
    ----------
    tail, head : (M,) int32
        Ends of the segments.
    length_m : (M,) float64
        Their lengths [m].
    nodes : int
        Number of nodes.

    Returns
    -------
    Components
        Pieces in order of length, the longest first.
    """
    links = coo_array((np.ones(tail.size, bool), (tail, head)), shape=(nodes, nodes))
    count, label = connected_components(links, directed=False)
    total_m = np.bincount(label[tail], length_m, count).astype(np.float64)
    order = np.argsort(-total_m, kind="stable")
    rank = np.empty(count, np.int32)
    rank[order] = np.arange(count)
    size = np.bincount(label, minlength=count)
    return Components(rank[label], size[order], total_m[order])


SMOOTHING_M = 30.0
"""Smoothing of heights where none is asked for [m]: about one cell of an open raster."""


@dataclass(frozen=True, slots=True)
class Streets(StreetArrays):
    """Streets that may be walked: arrays that can be read, located and measured."""

    def __repr__(self) -> str:
        """Say how much there is; arrays say the rest."""
        km = float(np.sum(self.length_m)) / 1000.0
        return (
            f"<Streets: {self.length_m.size:,} segments of {km:,.0f} km, {self.lon.size:,} nodes>"
        )

    @classmethod
    def of(cls, arrays: StreetArrays) -> Streets:
        """Take what a reader found as streets."""
        return cls(**{field.name: getattr(arrays, field.name) for field in fields(arrays)})

    @classmethod
    def read(
        cls,
        path: Path | str,
        elevation: Sequence[Path | str] = (),
        *,
        smoothing_m: float = SMOOTHING_M,
    ) -> Streets:
        """Read a map extract, or a GraphML file that osmnx saved.

        Parameters
        ----------
        path : path
            ``.osm.pbf``, ``.osm``, ``.osm.gz``, ``.osm.bz2`` or ``.graphml``.
        elevation : sequence of path
            Elevation rasters; none leaves the streets flat.
        smoothing_m : float
            Standard deviation of the smoothing of heights [m].

        Returns
        -------
        Streets
            The walkable streets, with heights if rasters were given.

        Raises
        ------
        InputError
            If a file cannot be read or holds no walkable way.
        """
        path = Path(path)
        if path.suffix.lower() == ".graphml":
            from simulator.ground.graphml import read_graphml

            found = read_graphml(path)
        else:
            from simulator.ground.osm import read_extract

            found = read_extract(path).streets
        streets = cls.of(found)
        return streets.with_heights(elevation, smoothing_m=smoothing_m) if elevation else streets

    @classmethod
    def from_networkx(cls, graph: nx.MultiDiGraph[int]) -> Streets:
        """Take a networkx graph with the attributes osmnx gives."""
        from simulator.ground.graphml import from_networkx

        return cls.of(from_networkx(graph))

    def to_networkx(self) -> nx.MultiDiGraph[int]:
        """Give a networkx graph with the attributes osmnx gives."""
        from simulator.ground.graphml import to_networkx

        return to_networkx(self)

    def with_terrain(self, terrain: Terrain) -> Streets:
        """Attach heights."""
        sizes = (terrain.node_height_m.size, terrain.piece_start.size - 1)
        if sizes != (self.node_id.size, self.tail.size):
            msg = (
                f"terrain has {sizes[0]} nodes and {sizes[1]} segments, "
                f"the streets have {self.node_id.size} and {self.tail.size}"
            )
            raise ValueError(msg)
        return replace(self, terrain=terrain)

    def with_heights(
        self, paths: Sequence[Path | str], *, smoothing_m: float = SMOOTHING_M
    ) -> Streets:
        """Read elevation rasters and lay the streets over them.

        A bridge or tunnel with a locked gate on it still runs straight from end to end: heights
        are found on the network without barriers.

        Parameters
        ----------
        paths : sequence of path
            Elevation rasters.
        smoothing_m : float
            Standard deviation of the smoothing [m].

        Returns
        -------
        Streets
            The same streets with heights.

        Raises
        ------
        InputError
            If a raster cannot be used or none touches the streets.
        """
        same = self.same_node()
        terrain = read_terrain(
            self.lon,
            self.lat,
            same[self.tail],
            same[self.head],
            self.length_m,
            self.ways.bridge[self.way],
            self.ways.tunnel[self.way],
            paths=paths,
            smoothing_m=smoothing_m,
            steps=self.ways.steps[self.way],
        )
        draped = self.with_terrain(
            replace(
                terrain,
                node_height_m=terrain.node_height_m[same],
                node_known=terrain.node_known[same],
            )
        )
        return replace(draped, attribution="; ".join([self.attribution, *terrain.credits]))

    def components(self) -> Components:
        """Label the pieces of the network that hang together."""
        return find_components(self.tail, self.head, self.length_m, nodes=self.node_id.size)

    def snap(self, lat: float, lon: float, *, limit_m: float, component: int | None = None) -> Snap:
        """Find the nearest point on a walkable segment."""
        return nearest_point(
            self._shape(), lat, lon, limit_m=limit_m, allowed=self._within(component)
        )

    def snap_many(
        self,
        lat: NDArray[np.float64],
        lon: NDArray[np.float64],
        *,
        limit_m: float,
        component: int | None = None,
    ) -> Snaps:
        """Find the nearest point on a walkable segment for many places at once."""
        return nearest_points(
            self._shape(), lat, lon, limit_m=limit_m, allowed=self._within(component)
        )

    def polyline(
        self,
        segment: NDArray[np.int32],
        forward: NDArray[np.bool_],
        from_fraction: float,
        to_fraction: float,
    ) -> NDArray[np.float64]:
        """Draw a path.

        Parameters
        ----------
        segment : (K,) int32
            Segments in the order walked.
        forward : (K,) bool
            Whether each is walked tail to head.
        from_fraction, to_fraction : float
            Where on the first segment the walk begins, where on the last it ends; both measured
            from the tail, 0 to 1.

        Returns
        -------
        (K + 1, 2) float64
            Longitude and latitude of the start, of each node passed, and of the end [degrees].
        """
        entry = np.where(forward, self.tail[segment], self.head[segment])
        points = np.empty((segment.size + 1, 2))
        points[:-1, 0], points[:-1, 1] = self.lon[entry], self.lat[entry]
        points[0] = self.point_at(int(segment[0]), from_fraction)
        points[-1] = self.point_at(int(segment[-1]), to_fraction)
        return points

    def point_at(self, segment: int, fraction: float) -> tuple[float, float]:
        """Find a point on a segment."""
        tail, head = self.tail[segment], self.head[segment]
        across = (self.lon[head] - self.lon[tail] + 180.0) % 360.0 - 180.0
        lon = self.lon[tail] + fraction * across
        lat = self.lat[tail] + fraction * (self.lat[head] - self.lat[tail])
        return float((lon + 180.0) % 360.0 - 180.0), float(lat)

    def matrix(
        self, cost_forward: NDArray[np.float64], cost_backward: NDArray[np.float64]
    ) -> csr_array:
        """Give the network as a sparse matrix for scipy."""
        forth, back = self.open_forward, self.open_backward
        row = np.concatenate([self.tail[forth], self.head[back]]).astype(np.int64)
        column = np.concatenate([self.head[forth], self.tail[back]]).astype(np.int64)
        cost = np.concatenate([cost_forward[forth], cost_backward[back]])
        size = self.node_id.size
        key = row * size + column
        order = np.lexsort((cost, key))
        first = np.ones(order.size, bool)
        first[1:] = key[order[1:]] != key[order[:-1]]
        kept = order[first]
        return csr_array((cost[kept], (row[kept], column[kept])), shape=(size, size))

    def _shape(self) -> Shape:
        return Shape(self.lon, self.lat, self.tail, self.head, self.attribution)

    def _within(self, component: int | None) -> NDArray[np.bool_]:
        walkable = self.open_forward | self.open_backward
        if component is not None:
            walkable &= self.components().label[self.tail] == component
        return walkable
