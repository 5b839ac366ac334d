"""A network contracted to its junctions: which segments follow each other without a choice.

Structure only, found once; costs come with each query. A *dart* is a segment in one direction:
number ``2 * segment`` runs tail to head, ``2 * segment + 1`` head to tail.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components

Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Strings:
    """C strings of segments between J junctions, covering S segments.

    A string runs from one junction to another (or back to the same one) over nodes where exactly
    two segments meet. On a ring without a junction the lowest node is made one.

    Attributes
    ----------
    junction : (J,) int32
        Nodes that are junctions or dead ends, ascending.
    start : (C + 1,) int32
        String ``c`` holds places ``start[c]:start[c + 1]`` of the arrays below.
    segment : (S,) int32
        Segments in the order of their string.
    along : (S,) bool
        Whether the string passes the segment tail to head.
    end_node : (S,) int32
        Node reached after each segment.
    first, last : (C,) int32
        Rows in ``junction`` at the two ends of each string.
    """

    junction: Ints
    start: Ints
    segment: Ints
    along: NDArray[np.bool_]
    end_node: Ints
    first: Ints
    last: Ints


@dataclass(frozen=True, slots=True)
class Links:
    """Strings as links between different junctions, in both directions.

    String ``c`` walked from its first junction is link ``2 * c``, from its last ``2 * c + 1``, so
    that ``link ^ 1`` is the same string walked the other way.

    Attributes
    ----------
    leave_start : (J + 1,) int32
        Links that leave junction ``j`` are ``leave_link[leave_start[j]:leave_start[j + 1]]``.
    leave_link, leave_to : (D,) int32
        Links and the junctions they lead to, in the order of both; loops are left out.
    pair_start : (P,) int32
        First link of each pair of neighbours, which several strings may join.
    pair_row : (J + 1,) int32
        Pairs of junction ``j`` are ``pair_row[j]:pair_row[j + 1]``.
    """

    leave_start: Ints
    leave_link: Ints
    leave_to: Ints
    pair_start: Ints
    pair_row: Ints


def find_links(strings: Strings) -> Links:
    """Order the strings by the junctions they leave and reach.

    Parameters
    ----------
    strings : Strings
        Strings of a network.

    Returns
    -------
    Links
        Both directions of every string that joins two junctions.
    """
    leave = np.stack([strings.first, strings.last], axis=1).ravel()
    reach = np.stack([strings.last, strings.first], axis=1).ravel()
    dart = np.flatnonzero(leave != reach).astype(np.int32)
    dart = dart[np.lexsort((dart, reach[dart], leave[dart]))]
    leave, reach = leave[dart], reach[dart]
    new_pair = np.ones(dart.size, bool)
    new_pair[1:] = (leave[1:] != leave[:-1]) | (reach[1:] != reach[:-1])
    pair_start = np.flatnonzero(new_pair).astype(np.int32)
    rows = np.arange(strings.junction.size + 1)
    return Links(
        leave_start=np.searchsorted(leave, rows).astype(np.int32),
        leave_link=dart,
        leave_to=reach,
        pair_start=pair_start,
        pair_row=np.searchsorted(leave[pair_start], rows).astype(np.int32),
    )


def find_strings(tail: Ints, head: Ints, n_nodes: int, present: NDArray[np.bool_]) -> Strings:
    """Find the strings of a network.

    Parameters
    ----------
    tail, head : (M,) int32
        Ends of the segments.
    n_nodes : int
        Number of nodes.
    present : (M,) bool
        Segments to take; the others are as if they were not there.

    Returns
    -------
    Strings
        All segments present, in strings.
    """
    rows = np.flatnonzero(present).astype(np.int32)
    # A dart leaves the node leaves[dart].
    leaves = np.stack([tail[rows], head[rows]], axis=1).ravel()
    degree = np.bincount(leaves, minlength=n_nodes)
    is_junction = (degree > 0) & (degree != 2)  # noqa: PLR2004 - two segments meet
    partner = _partners(leaves, is_junction)
    label = _labels(partner, rows.size)
    _open_rings(leaves, is_junction, partner, label)

    starts = np.flatnonzero(partner < 0).astype(np.int32)
    # Each string has two darts that leave a junction; the lower one gives its direction.
    order = np.argsort(label[starts >> 1], kind="stable")
    pairs = starts[order].reshape(-1, 2)
    walk = _walk(partner, pairs)
    size = np.bincount(label, minlength=pairs.shape[0])[label[pairs[:, 0] >> 1]]
    junction = np.flatnonzero(is_junction).astype(np.int32)
    return Strings(
        junction=junction,
        start=np.concatenate([[0], np.cumsum(size)]).astype(np.int32),
        segment=rows[walk >> 1],
        along=(walk & 1) == 0,
        end_node=leaves[walk ^ 1],
        first=np.searchsorted(junction, leaves[pairs[:, 0]]).astype(np.int32),
        last=np.searchsorted(junction, leaves[pairs[:, 1]]).astype(np.int32),
    )


def _partners(leaves: Ints, is_junction: NDArray[np.bool_]) -> Ints:
    """For each dart that leaves a node between two segments, give the other that leaves it."""
    inner = np.flatnonzero(~is_junction[leaves])
    order = inner[np.argsort(leaves[inner], kind="stable")].astype(np.int32)
    partner = np.full(leaves.size, -1, np.int32)
    partner[order[0::2]] = order[1::2]
    partner[order[1::2]] = order[0::2]
    return partner


def _labels(partner: Ints, count: int) -> Ints:
    """Give all segments of a string one number; they are linked at nodes between two."""
    linked = np.flatnonzero(partner >= 0)
    links = coo_array(
        (np.ones(linked.size, bool), (linked >> 1, partner[linked] >> 1)), shape=(count, count)
    )
    _, label = connected_components(links, directed=False)
    return np.asarray(label, np.int32)


def _open_rings(leaves: Ints, is_junction: NDArray[np.bool_], partner: Ints, label: Ints) -> None:
    """Make the lowest node of every ring without a junction a junction, in place."""
    count = int(label.max(initial=-1)) + 1
    opened = np.zeros(count, bool)
    opened[label[np.flatnonzero(partner < 0) >> 1]] = True
    ring = np.flatnonzero(~opened[label])
    if not ring.size:
        return
    lowest = np.full(count, leaves.max(initial=0) + 1, leaves.dtype)
    darts = np.concatenate([2 * ring, 2 * ring + 1])
    np.minimum.at(lowest, label[darts >> 1], leaves[darts])
    cut = darts[leaves[darts] == lowest[label[darts >> 1]]]
    is_junction[leaves[cut]] = True
    partner[cut] = -1


def _walk(partner: Ints, pairs: Ints) -> Ints:
    """Darts of all strings in order, string after string.

    The strings are tied end to end into one line, which compiled code then follows.
    """
    count = partner.size
    if not count:
        return np.empty(0, np.int32)
    # After a dart comes the partner of its opposite, which leaves the node it arrives at.
    follow = partner[np.arange(count) ^ 1]
    follow[pairs[:-1, 1] ^ 1] = pairs[1:, 0]
    follow[pairs[-1, 1] ^ 1] = -1
    has_next = follow >= 0
    start = np.concatenate([[0], np.cumsum(has_next)]).astype(np.int32)
    line = csr_array((np.ones(int(has_next.sum())), follow[has_next], start), shape=(count, count))
    return np.asarray(
        breadth_first_order(line, int(pairs[0, 0]), return_predecessors=False), np.int32
    )
