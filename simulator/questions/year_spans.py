"""From when to when in the year something works."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

WEEK = 7
FEWEST_IN_A_WEEK = 6
"""Days of the week around a day that must work for it to lie within the span: single bad days do
not end a season, two in a week do; an assumption."""


MOST_OF_THE_YEAR = 0.9
"""Share of days from which it is said when it fails, not when it works."""


@dataclass(frozen=True, slots=True)
class Span:
    """The longest stretch of the year in which something works.

    Attributes
    ----------
    first, last : datetime.date or None
        Its ends; None when there is none. A last day before the first one lies in the next year.
    working : int
        Days of the whole year that work.
    bad_inside : int
        Days within the stretch that do not.
    days : int
        Days of the year.
    """

    first: date | None
    last: date | None
    working: int
    bad_inside: int
    days: int

    def words(self, leave: datetime) -> str:
        """Say it in one sentence.

        Parameters
        ----------
        leave : datetime.datetime
            The plan's departure, for its hour.

        Returns
        -------
        str
            Like: leaving at 16 h this bag works from 3 April to 28 October.
        """
        begin = f"Leaving at {leave.hour} h this bag works"
        if self.working == self.days:
            return f"{begin} on every day of the year."
        if self.first is None or self.last is None:
            return f"{begin} on {self.working} of {self.days} days, in no lasting stretch."
        if self.working >= MOST_OF_THE_YEAR * self.days:
            out_from, out_to = self.last + timedelta(days=1), self.first - timedelta(days=1)
            return (
                f"{begin} on {self.working} of {self.days} days; "
                f"it fails mostly from {_named(out_from)} to {_named(out_to)}."
            )
        single = f"{self.bad_inside} single day{'s' if self.bad_inside > 1 else ''}"
        but = f", but for {single}" if self.bad_inside else ""
        return (
            f"{begin} from {_named(self.first)} to {_named(self.last)}{but}; "
            f"{self.working} of {self.days} days in all."
        )


def works_from_to(hours: pd.DataFrame, *, hour: int, year: int) -> Span:
    """Find the span at one clock hour.

    Parameters
    ----------
    hours : pandas.DataFrame
        Columns ``depart`` and ``verdict`` of year.csv.
    hour : int
        Local clock hour of departure.
    year : int
        Calendar year.

    Returns
    -------
    Span
        Works means that the verdict is neither "stay and wait" nor unknown.
    """
    when = [datetime.fromisoformat(text) for text in hours["depart"]]
    fine = hours["verdict"].isin(["walk", "walk with care"]).tolist()
    by_day: dict[date, bool] = {}
    for moment, works in zip(when, fine, strict=True):
        if moment.hour == hour and moment.year == year:
            by_day.setdefault(moment.date(), works)
    days = sorted(by_day)
    return longest_span(days, np.array([by_day[day] for day in days], dtype=bool))


def longest_span(days: list[date], works: NDArray[np.bool_]) -> Span:
    """Find the longest stretch, around the turn of the year too.

    Parameters
    ----------
    days : list of datetime.date
        In order.
    works : (n,) bool
        Whether it works on each.

    Returns
    -------
    Span
        The longest; the earlier of two alike.
    """
    count = works.size
    if works.all():
        return Span(days[0], days[-1], count, 0, count)
    half = WEEK // 2
    week = np.sum([np.roll(works, shift) for shift in range(-half, half + 1)], axis=0)
    good = works & (week >= FEWEST_IN_A_WEEK)
    # Fill the single bad days that a good week surrounds.
    held = good | (np.roll(good, 1) & np.roll(good, -1))
    # The week around the ends of a stretch reaches beyond it: add the working days at its ends.
    for _ in range(half):
        held |= works & (np.roll(held, 1) | np.roll(held, -1))
    if not held.any():
        return Span(None, None, int(works.sum()), 0, count)
    start = int(np.flatnonzero(~held)[0]) if not held.all() else 0
    turned = np.roll(held, -start)
    edges = np.diff(np.concatenate([[0], turned.astype(np.int8), [0]]))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    best = int(np.argmax(ends - begins))
    rows = (np.arange(begins[best], ends[best]) + start) % count
    return Span(
        first=days[int(rows[0])],
        last=days[int(rows[-1])],
        working=int(works.sum()),
        bad_inside=int((~works[rows]).sum()),
        days=count,
    )


def _named(day: date) -> str:
    return f"{day.day} {day:%B}"
