"""Small maps written by hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import osmium
import pytest
from osmium.osm.mutable import Node, Relation, Way

Tags = Mapping[str, str]
MapWriter = Callable[..., Path]


@pytest.fixture
def write_map(tmp_path: Path) -> MapWriter:
    """Give a function that writes points and ways to an extract.

    Points: number to (lon, lat) or (lon, lat, tags). Ways: (number, points, tags). Relations:
    (number, ((kind, number, role), ...), tags).
    """

    def write(
        points: Mapping[int, tuple[float, float] | tuple[float, float, Tags]],
        ways: Sequence[tuple[int, Sequence[int], Tags]],
        *,
        relations: Sequence[tuple[int, Sequence[tuple[str, int, str]], Tags]] = (),
        name: str = "map.osm",
    ) -> Path:
        path = tmp_path / name
        with osmium.SimpleWriter(str(path), overwrite=True) as writer:
            for number, point in points.items():
                tags = point[2] if len(point) > 2 else {}
                writer.add_node(Node(id=number, version=1, location=point[:2], tags=dict(tags)))
            for number, refs, tags in ways:
                writer.add_way(Way(id=number, version=1, nodes=list(refs), tags=dict(tags)))
            for number, members, tags in relations:
                writer.add_relation(
                    Relation(id=number, version=1, members=list(members), tags=dict(tags))
                )
        return path

    return write
