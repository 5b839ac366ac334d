"""From what a door has read to clean streets; every reader ends here."""

from __future__ import annotations

import numpy as np

from simulator.errors import InputError
from simulator.ground import assemble
from simulator.ground.streets import Streets
from simulator.ground.ways import Rejected, Ways


def build_streets(
    points: assemble.Points,
    segments: assemble.Segments,
    ways: Ways,
    *,
    rejected: Rejected,
    counts: dict[str, int],
    attribution: str,
    where: str,
) -> Streets:
    """Clean raw points and segments into streets.

    Parameters
    ----------
    points : Points
        N points, with barriers and waits.
    segments : Segments
        M segments.
    ways : Ways
        Kept ways; those left without a segment are dropped.
    rejected : Rejected
        Refused ways.
    counts : dict of str to int
        What was found while reading; more is added.
    attribution : str
        Whose data this is.
    where : str
        File or object, for the message.

    Returns
    -------
    Streets
        Clean streets.

    Raises
    ------
    InputError
        If no segment is left.
    """
    points, segments, dropped = assemble.merge_same_place(points, segments)
    points, segments = assemble.drop_unused(points, segments)
    blocked = int(points.blocked.sum())
    points, segments = assemble.split_barriers(points, segments)
    if not segments.tail.size:
        raise InputError(
            where,
            f"holds no walkable way ({len(rejected)} ways refused); choose an extract that covers "
            "the walk and keeps its highway tags",
        )
    used = np.unique(segments.way)
    renumber = np.zeros(len(ways), np.int32)
    renumber[used] = np.arange(used.size)
    ways = ways.take(used)
    way = renumber[segments.way]
    return Streets(
        node_id=points.node_id,
        lon=points.lon,
        lat=points.lat,
        tail=segments.tail.astype(np.int32),
        head=segments.head.astype(np.int32),
        way=way,
        length_m=segments.length_m,
        open_forward=ways.forward[way],
        open_backward=ways.backward[way],
        delay_s=points.delay_s,
        ways=ways,
        rejected=rejected,
        terrain=None,
        counts={
            **counts,
            "ways_kept": len(ways),
            "ways_rejected": len(rejected),
            "zero_length_segments": dropped,
            "barriers": blocked,
        },
        attribution=attribution,
    )
