"""Many walkers, each on a way of one's own, through the same steps as one walk."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.walk.rates import refuse_impossible
from simulator.walk.records import Each, Total, some_of
from simulator.walk.state import State
from simulator.walk.stepping import Step, move, step_columns
from simulator.walk.stopping import make_stop, take_rest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.walk.conditions import Conditions
    from simulator.walk.course import Course
    from simulator.walk.manner import Manner
    from simulator.walk.records import Stop, Walkers

TOGETHER = 500
"""Walkers taken at a time; bounds the memory and changes no number."""

FEWER = 0.9
"""Who is home is set aside when this share or less is still on the way."""


@dataclass(frozen=True, slots=True)
class Apart:
    """How each walked; shape (n,) unless said.

    Attributes
    ----------
    totals : (len(Total), n) float64
        Totals on arrival.
    worst_deficit_ml, worst_short_ml, first_short_s, light_out_s : ndarray
        As in ``Outcome``.
    coldest_felt_c, hottest_felt_c, busy_dark_m : ndarray
        As in ``Outcome``.
    clock_s, lost_ml : tuple of (S_i,) float64
        Time since departure [s] and water lost [mL] at each step's start, of each walker.
    """

    totals: NDArray[np.float64]
    worst_deficit_ml: NDArray[np.float64]
    worst_short_ml: NDArray[np.float64]
    first_short_s: NDArray[np.float64]
    light_out_s: NDArray[np.float64]
    coldest_felt_c: NDArray[np.float64]
    hottest_felt_c: NDArray[np.float64]
    busy_dark_m: NDArray[np.float64]
    clock_s: tuple[NDArray[np.float64], ...]
    lost_ml: tuple[NDArray[np.float64], ...]


def walk_apart(
    courses: Sequence[Course],
    walkers: Walkers,
    *,
    manner: Manner,
    conditions: Conditions,
    depart_epoch_s: NDArray[np.float64],
    stops: Sequence[Sequence[Stop]],
    beside_traffic: Sequence[NDArray[np.bool_]],
    together: int = TOGETHER,
) -> Apart:
    """Walk every walker along an own course.

    Parameters
    ----------
    courses : sequence of Course
        One a walker.
    walkers : Walkers
        n walkers, each a party of one.
    manner : Manner
        How all of them walk.
    conditions : Conditions
        Sun and weather for all.
    depart_epoch_s : (n,) float64
        Departures, seconds since 1970-01-01 UTC.
    stops : sequence of sequence of Stop
        Of each walker, in order of ``step``.
    beside_traffic : sequence of (S_i,) bool
        Steps beside heavy traffic of each.
    together : int
        Walkers taken at a time; changes no number.

    Returns
    -------
    Apart
        In the order given; each walker's numbers are those of ``simulate`` alone.

    Raises
    ------
    ValueError
        For walkers or weather that cannot be.
    """
    refuse_impossible(walkers, conditions)
    # Ways of like length walk together, the longest first, so that few wait for many.
    length = np.array([course.run_m.size for course in courses], dtype=np.int64)
    order = np.argsort(-length, kind="stable")
    parts = []
    for first in range(0, order.size, together):
        rows = order[first : first + together]
        party = np.arange(rows.size)
        group = _Group(
            State(
                replace(some_of(walkers, rows), party=party),
                conditions,
                depart_epoch_s[rows],
                rest_s_per_h=manner.rest_s_per_h,
                sweat=manner.sweat,
            ),
            [courses[row] for row in rows.tolist()],
            manner,
            [stops[row] for row in rows.tolist()],
            [beside_traffic[row] for row in rows.tolist()],
        )
        parts.append(group.walk())
    back = np.argsort(order, kind="stable")
    joined = {
        name: np.concatenate([getattr(part, name) for part in parts], axis=-1)[..., back]
        for name in Apart.__slots__
        if name not in {"clock_s", "lost_ml"}
    }
    clock = [each for part in parts for each in part.clock_s]
    lost = [each for part in parts for each in part.lost_ml]
    return Apart(
        **joined,
        clock_s=tuple(clock[row] for row in back.tolist()),
        lost_ml=tuple(lost[row] for row in back.tolist()),
    )


class _Group:
    """Walkers whose ways are laid out side by side, the longest first."""

    def __init__(
        self,
        state: State,
        courses: list[Course],
        manner: Manner,
        stops: list[Sequence[Stop]],
        beside_traffic: list[NDArray[np.bool_]],
    ) -> None:
        self.state, self.manner = state, manner
        self.length = np.array([course.run_m.size for course in courses], dtype=np.int64)
        most, count = int(self.length[0]), self.length.size
        fill = Step(0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0, unlit=False, always_dark=False, busy=False)
        self.columns = [
            np.full((most, count), value, dtype=bool if isinstance(value, bool) else float)
            for value in fill
        ]
        for row, (course, beside) in enumerate(zip(courses, beside_traffic, strict=True)):
            for column, values in zip(
                self.columns, step_columns(course, manner, beside), strict=True
            ):
                column[: self.length[row], row] = values
        self.waiting: dict[int, list[tuple[int, Stop]]] = {}
        for row, planned in enumerate(stops):
            for stop in planned:
                self.waiting.setdefault(stop.step, []).append((row, stop))
        self.clock = np.zeros((most, count))
        self.lost = np.zeros((most, count))

    def walk(self) -> Apart:
        """Walk them all home."""
        whole = state = self.state
        busy = np.zeros(self.length.size)
        active = self.length.size
        for step in range(int(self.length[0])):
            going = int(np.searchsorted(-self.length, -step, side="left"))
            if going <= FEWER * active:
                if state is not whole:
                    whole.put(np.arange(active), state)
                active = going
                state = whole.some(np.arange(active))
            for row, stop in self.waiting.get(step, ()):
                alone = np.arange(active) == row
                each = Each(active=alone, works=np.ones(active, dtype=bool))
                make_stop(state, replace(stop, each=each), self.manner)
            self.clock[step, :active] = state.totals[Total.CLOCK_S]
            self.lost[step, :active] = state.totals[Total.LOST_ML]
            here = Step(*(column[step, :active] for column in self.columns))
            move(state, here, self.manner, state.walkers.pace_factor, busy[:active])
            # Nobody rests at home.
            further = int(np.searchsorted(-self.length, -(step + 1), side="left"))
            state.since_rest_s[further:] = 0.0
            take_rest(state)
        if state is not whole:
            whole.put(np.arange(active), state)
        lengths = self.length.tolist()
        return Apart(
            totals=whole.totals,
            worst_deficit_ml=whole.worst_deficit_ml,
            worst_short_ml=whole.worst_short_ml,
            first_short_s=whole.first_short_s,
            light_out_s=whole.light_out_s,
            coldest_felt_c=whole.coldest_c,
            hottest_felt_c=whole.hottest_c,
            busy_dark_m=busy,
            clock_s=tuple(self.clock[:most, row] for row, most in enumerate(lengths)),
            lost_ml=tuple(self.lost[:most, row] for row, most in enumerate(lengths)),
        )
