"""Points that stop a walker or make one wait; keys as on the OpenStreetMap wiki."""

from __future__ import annotations

import pytest

from simulator.ground.walkable import SIGNAL_DELAY_S, barrier_blocks, crossing_delay_s


@pytest.mark.parametrize(
    ("tags", "reason"),
    [
        # Key:barrier, with Key:access, Key:foot and Key:locked
        ({}, None),
        ({"access": "private"}, None),
        ({"barrier": "gate"}, None),
        ({"barrier": "gate", "access": "private"}, "barrier=gate, access=private"),
        ({"barrier": "gate", "access": "private", "foot": "yes"}, None),
        ({"barrier": "gate", "foot": "no"}, "barrier=gate, foot=no"),
        ({"barrier": "gate", "locked": "yes"}, "barrier=gate, locked=yes"),
        ({"barrier": "gate", "locked": "yes", "foot": "yes"}, None),
        ({"barrier": "bollard"}, None),
        ({"barrier": "bollard", "access": "no"}, None),
        ({"barrier": "bollard", "foot": "no"}, "barrier=bollard, foot=no"),
        ({"barrier": "cycle_barrier"}, None),
        ({"barrier": "stile"}, None),
        ({"barrier": "wall"}, "barrier=wall"),
        ({"barrier": "fence", "access": "yes"}, None),
        ({"barrier": "kerb"}, None),
    ],
)
def test_a_barrier_stops_walkers_only_where_its_tags_say_so(
    tags: dict[str, str], reason: str | None
) -> None:
    assert barrier_blocks(tags) == reason


def test_the_wait_at_a_signal_is_that_of_random_arrival() -> None:
    # Highway Capacity Manual (from memory): (C - g)^2 / 2C; 90 s cycle, 20 s green: 4900 / 180.
    assert pytest.approx(27.2, abs=0.05) == SIGNAL_DELAY_S
    assert crossing_delay_s({"highway": "traffic_signals"}) == SIGNAL_DELAY_S


def test_waits_grow_with_less_help_and_nothing_crossed_costs_nothing() -> None:
    zebra = crossing_delay_s({"highway": "crossing", "crossing": "uncontrolled"})
    bare = crossing_delay_s({"highway": "crossing", "crossing": "unmarked"})
    assert 0.0 < zebra < bare < SIGNAL_DELAY_S
    assert crossing_delay_s({"railway": "level_crossing"}) > 0.0
    assert crossing_delay_s({"highway": "bus_stop"}) == 0.0
