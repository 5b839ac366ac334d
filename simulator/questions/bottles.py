"""One bottle more: the same way with other bottles, and the least that never runs dry on it.

All bottles are walked at once, each by a party of its own in one run of the engine.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from simulator.questions.next_water import label_of
from simulator.questions.refilling import choose_refills, read_places
from simulator.questions.thirst import thirst_of
from simulator.route.refills import least_capacity_ml
from simulator.walk.engine import simulate
from simulator.walk.ledger import local_time
from simulator.walk.records import Each, Outcome, Stop, Total, Walkers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.questions.scene import Scene
    from simulator.questions.walked import Walked

BOTTLES_L = (0.5, 1.0, 1.5, 2.0)
"""Bottles compared, for each walker, full at the start [L]."""

ROUNDS = 4
"""How often stops and arrival times may correct each other before the last answer is taken."""

COLUMNS = (
    "bottle_l",
    "bag_kg",
    "stops",
    "places",
    "refilled_l",
    "left_l",
    "short_l",
    "first_short_h",
    "worst_body_mass_loss_pct",
    "elapsed_h",
    "arrive",
    "never_dry",
)
"""Columns of the table; litres and kilograms are those of the whole party."""


def compare_bottles(
    scene: Scene, walked: Walked, *, bottles_l: Sequence[float] = BOTTLES_L
) -> pd.DataFrame:
    """Walk the same way with other bottles.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked with the plan's own bottles; its night halts are kept.
    bottles_l : sequence of float
        What each walker's bottles hold and start with [L].

    Returns
    -------
    pandas.DataFrame
        One row a bottle, with `COLUMNS`. The bag weighs what the water weighs; the mass of the
        bottle itself is left out.
    """
    members = scene.walkers.count
    parties = [_with_bottle(scene, 1000.0 * litres) for litres in bottles_l]
    scenes = [replace(scene, walkers=walkers) for walkers in parties]
    halts = [halt.stop for halt in walked.halts]
    # The plan's own walk tells needs and hours well enough for a first choice of stops.
    wanted = [
        choose_refills(one, walked.nearby, walked.reading, walked.outcome, walked.stops)
        for one in scenes
    ]
    for _ in range(ROUNDS):
        stops = _all_stops(wanted, halts, members)
        outcome = _walk_all(scene, walked, parties, stops)
        each = [_party(outcome, slice(n * members, (n + 1) * members)) for n in range(len(parties))]
        again = [
            choose_refills(one, walked.nearby, read_places(one, walked.nearby, mine), mine, stops)
            for one, mine in zip(scenes, each, strict=True)
        ]
        if again == wanted:
            break
        chosen, wanted = wanted, again
    else:
        wanted = chosen
    rows = [
        _row(scene, litres, walkers, mine, stops)
        for litres, walkers, mine, stops in zip(bottles_l, parties, each, wanted, strict=True)
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def least_bottle_ml(scene: Scene, walked: Walked) -> dict[str, float]:
    """Give the smallest bottles that never run dry on the way as walked.

    Parameters
    ----------
    scene : Scene
        The loaded plan.
    walked : Walked
        The way as walked.

    Returns
    -------
    dict
        For the whole party, full at the start [mL]: ``every_place`` with a stop at every place
        relied on, ``no_stop`` with none.
    """
    thirst = thirst_of(scene, walked.nearby, walked.reading, walked.outcome, walked.stops)
    wet = walked.reading.relied_on & thirst.gives
    return {
        "every_place": least_capacity_ml(thirst.need_ml[wet], end_need_ml=thirst.end_need_ml),
        "no_stop": thirst.end_need_ml,
    }


def _with_bottle(scene: Scene, bottle_ml: float) -> Walkers:
    """Give the party with other bottles, full."""
    walkers = scene.walkers
    full = np.full(walkers.count, bottle_ml)
    return replace(
        walkers,
        water_ml=full,
        capacity_ml=full,
        bag_kg=walkers.bag_kg + (full - walkers.water_ml) / 1000.0,
    )


def _all_stops(wanted: Sequence[Sequence[Stop]], halts: Sequence[Stop], members: int) -> list[Stop]:
    """Put the stops of every party in one list; night halts are everyone's."""
    number = np.repeat(np.arange(len(wanted)), members)
    works = np.ones(number.size, dtype=bool)
    stops = list(halts)
    for party, mine in enumerate(wanted):
        stops += [replace(stop, each=Each(active=number == party, works=works)) for stop in mine]
    return sorted(stops, key=lambda stop: stop.step)


def _walk_all(
    scene: Scene, walked: Walked, parties: Sequence[Walkers], stops: Sequence[Stop]
) -> Outcome:
    """Walk with every bottle in one run."""
    number = np.repeat(np.arange(len(parties)), scene.walkers.count)
    columns = {
        name: np.concatenate([getattr(walkers, name) for walkers in parties])
        for name in Walkers.__dataclass_fields__
    }
    return simulate(
        walked.way.course,
        Walkers(**columns | {"party": number}),
        manner=scene.manner,
        conditions=scene.conditions,
        depart_epoch_s=np.full(number.size, scene.depart_epoch_s),
        stops=stops,
        record=True,
    )


def _party(outcome: Outcome, rows: slice) -> Outcome:
    """Take one party out of a recorded run."""
    trace, clock = outcome.trace, outcome.step_clock_s
    if trace is None or clock is None:
        message = "bottles are compared on recorded walks; simulate with record=True"
        raise ValueError(message)
    return replace(
        outcome,
        totals=outcome.totals[:, rows],
        step_clock_s=clock[:, rows],
        worst_deficit_ml=outcome.worst_deficit_ml[rows],
        worst_short_ml=outcome.worst_short_ml[rows],
        first_short_s=outcome.first_short_s[rows],
        trace=replace(trace, totals=trace.totals[:, :, rows]),
    )


def _row(
    scene: Scene, litres: float, walkers: Walkers, mine: Outcome, stops: Sequence[Stop]
) -> dict[str, object]:
    total = mine.totals
    start, refilled = float(walkers.water_ml.sum()), float(total[Total.REFILLED_ML].sum())
    short_ml, first_s = float(mine.worst_short_ml.sum()), float(mine.first_short_s.min())
    clock_s = float(total[Total.CLOCK_S].max())
    loss: NDArray[np.float64] = mine.worst_deficit_ml / (10.0 * walkers.mass_kg)
    return {
        "bottle_l": litres,
        "bag_kg": float(walkers.bag_kg.sum()),
        "stops": len(stops),
        "places": "; ".join(label_of(scene, stop.place) for stop in stops),
        "refilled_l": refilled / 1000.0,
        "left_l": (start + refilled - float(total[Total.DRUNK_ML].sum())) / 1000.0,
        "short_l": short_ml / 1000.0,
        "first_short_h": first_s / 3600.0 if np.isfinite(first_s) else np.nan,
        "worst_body_mass_loss_pct": float(loss.max()),
        "elapsed_h": clock_s / 3600.0,
        "arrive": local_time(scene.depart_epoch_s + clock_s, scene.zone).isoformat(),
        "never_dry": short_ml <= 0.0,
    }
