"""The way that water chooses, against networkx on the expanded graph of streets and fill levels."""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.supply.never_dry import FillingPoints, Supply, never_dry, through

HALVES = 2  # segments are cut in so many parts, so that points lie within them


class Town(NamedTuple):
    """Streets of whole seconds, with points on their middles or ends."""

    nodes: int
    tail: list[int]
    head: list[int]
    forward: list[int]
    backward: list[int]
    ends: list[tuple[int, float]]
    points: list[tuple[int, float]]
    access: list[int]
    stop: list[int]
    treated: list[bool]
    supply: Supply


@st.composite
def towns(draw: st.DrawFn) -> Town:
    """Make a small tangle with one-ways, vias and limited treatment."""
    nodes = draw(st.integers(2, 6))
    segments = draw(st.integers(1, 11))
    node = st.integers(0, nodes - 1)
    pairs = [draw(st.tuples(node, node)) for _ in range(segments)]
    seconds = st.sampled_from([2, 4, 6, 8])
    position = st.tuples(st.integers(0, segments - 1), st.sampled_from([0.0, 0.5, 1.0]))
    amount = draw(st.integers(0, 5))
    bottle = draw(st.integers(4, 14))
    return Town(
        nodes=nodes,
        tail=[pair[0] for pair in pairs],
        head=[pair[1] for pair in pairs],
        forward=[draw(seconds) for _ in pairs],
        backward=[draw(st.sampled_from([2, 4, 6, 0])) for _ in pairs],  # 0 is closed
        ends=draw(st.lists(position, min_size=2, max_size=3)),
        points=[draw(position) for _ in range(amount)],
        access=[draw(st.integers(0, 2)) for _ in range(amount)],
        stop=[draw(st.integers(0, 9)) for _ in range(amount)],
        treated=[draw(st.booleans()) for _ in range(amount)],
        supply=Supply(
            start_s=draw(st.integers(0, bottle)),
            bottle_s=bottle,
            treats_s=draw(st.sampled_from([0, 6, 15, 999])),
            dose_s=draw(st.sampled_from([0, 5])),
            one_bottle=draw(st.booleans()),
        ),
    )


Spot = tuple[str, int]
"""A node of the streets, the middle of a segment, or a point off the street."""

State = tuple[Spot, int, float, float]
"""Where, how many ends are passed, water left, treatment used."""


def spot(town: Town, position: tuple[int, float]) -> Spot:
    """Name where a position lies."""
    segment, fraction = position
    if fraction == 0.5:
        return ("middle", segment)
    return ("node", (town.tail if fraction == 0.0 else town.head)[segment])


def streets(town: Town) -> nx.DiGraph[Spot]:
    """Give the streets, cut in halves, as a graph of seconds."""
    graph: nx.DiGraph[Spot] = nx.DiGraph()

    def add(begin: Spot, end: Spot, seconds: int) -> None:
        if begin != end and seconds < graph.get_edge_data(begin, end, {"s": inf})["s"]:
            graph.add_edge(begin, end, s=seconds)

    for segment, (tail, head) in enumerate(zip(town.tail, town.head, strict=True)):
        ends = (("node", tail), ("middle", segment), ("node", head))
        for begin, end in ((0, 1), (1, 2)):
            add(ends[begin], ends[end], town.forward[segment] // HALVES)
            if town.backward[segment]:
                add(ends[end], ends[begin], town.backward[segment] // HALVES)
    for number, position in enumerate(town.points):
        add(spot(town, position), ("point", number), town.access[number])
        add(("point", number), spot(town, position), town.access[number])
    return graph


def expanded(town: Town) -> float:
    """Least time over states of (where, ends passed, water left, treatment used), by networkx."""
    ground, full = streets(town), town.supply.bottle_s
    ends = [spot(town, end) for end in town.ends]
    start = (ends[0], 0, town.supply.start_s, 0.0)
    graph: nx.DiGraph[State] = nx.DiGraph()
    graph.add_node(start)
    queue = [start]
    while queue:
        state = queue.pop()
        where, leg, water, used = state
        onward: list[tuple[State, float]] = [
            ((end, leg, water - data["s"], used), data["s"])
            for _, end, data in ground.out_edges(where, data=True)
            if data["s"] <= water
        ]
        if leg < len(ends) - 1 and where == ends[leg + 1]:
            onward.append(((where, leg + 1, water, used), 0.0))
        if where[0] == "point":
            number, more = where[1], 0.0
            if town.treated[number]:
                more = full if town.supply.one_bottle else full - water
                if town.supply.dose_s:
                    more = -(-more // town.supply.dose_s) * town.supply.dose_s
            if used + more <= town.supply.treats_s:
                onward.append(((where, leg, full, used + more), town.stop[number]))
        for after, seconds in onward:
            if after not in graph:
                queue.append(after)
            if after != state:
                graph.add_edge(state, after, s=seconds)
    least = nx.single_source_dijkstra_path_length(graph, start, weight="s")
    home = (seconds for state, seconds in least.items() if state[1] == len(ends) - 1)
    return float(min(home, default=inf))


def asked(town: Town) -> float:
    """Ask the tool."""
    backward = np.array([seconds or inf for seconds in town.backward], dtype=float)
    answer = never_dry(
        np.array(town.tail, dtype=np.int32),
        np.array(town.head, dtype=np.int32),
        town.nodes,
        np.array(town.forward, dtype=float),
        backward,
        ends=town.ends,
        points=FillingPoints(
            segment=np.array([segment for segment, _ in town.points], dtype=np.int32),
            fraction=np.array([fraction for _, fraction in town.points], dtype=float),
            access_s=np.array(town.access, dtype=float),
            stop_s=np.array(town.stop, dtype=float),
            treated=np.array(town.treated, dtype=bool),
        ),
        supply=town.supply,
    )
    return inf if answer is None else answer.total_s


@given(town=towns())
def test_the_way_is_that_of_networkx_on_places_times_fill_levels(town: Town) -> None:
    assert asked(town) == pytest.approx(expanded(town), abs=1e-5)


def line(*, supply: Supply, stop_s: float = 60.0) -> tuple[float, object]:
    """Walk 0 to 1 straight in 1000 s, or over 2 in 1200 s where there is a tap."""
    answer = never_dry(
        np.array([0, 0, 2], dtype=np.int32),
        np.array([1, 2, 1], dtype=np.int32),
        3,
        np.array([1000.0, 600.0, 600.0]),
        np.array([1000.0, 600.0, 600.0]),
        ends=[(0, 0.0), (0, 1.0)],
        points=FillingPoints(
            segment=np.array([1], dtype=np.int32),
            fraction=np.array([1.0]),
            access_s=np.array([0.0]),
            stop_s=np.array([stop_s]),
            treated=np.array([False]),
        ),
        supply=supply,
    )
    return (inf, ()) if answer is None else (answer.total_s, answer.visits)


def test_water_chooses_the_longer_way_only_when_the_bottle_is_too_small() -> None:
    assert line(supply=Supply(1000.0, 1000.0)) == (1000.0, ())
    total_s, visits = line(supply=Supply(900.0, 900.0))
    assert total_s == pytest.approx(1260.0)
    assert visits == ((0, 0),)
    assert line(supply=Supply(500.0, 500.0)) == (inf, ())
    assert line(supply=Supply(900.0, 900.0), stop_s=inf) == (inf, ())


def test_refills_are_put_between_the_ends_in_order() -> None:
    ends = [(0, 0.0), (5, 0.5), (9, 1.0)]
    visits = [(0, (2, 0.1)), (1, (7, 0.2)), (1, (8, 0.3))]
    assert through(ends, visits) == [
        (0, 0.0),
        (2, 0.1),
        (5, 0.5),
        (7, 0.2),
        (8, 0.3),
        (9, 1.0),
    ]
    assert through(ends, []) == ends
