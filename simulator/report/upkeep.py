"""The upkeep of the bag as a calendar that any calendar program reads, and as a table."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import Final, Protocol

from simulator.files import csv_text
from simulator.report.ical import calendar, ics_text, utc_stamp

PRODUCT: Final = "-//walkhome//bag upkeep//EN"

COLUMNS: Final = ("day", "kind", "what", "why", "items")
"""Columns of upkeep.csv."""


class Task(Protocol):
    """Something to do on a day, as `simulator.bag.upkeep.upkeep` gives it."""

    @property
    def day(self) -> date:
        """When."""

    @property
    def kind(self) -> str:
        """What sort of task."""

    @property
    def what(self) -> str:
        """In a few words."""

    @property
    def why(self) -> str:
        """In a sentence."""

    @property
    def items(self) -> tuple[str, ...]:
        """Items it is about."""


def upkeep_csv(tasks: Sequence[Task]) -> str:
    """Lay out tasks as a table.

    Parameters
    ----------
    tasks : sequence of Task
        In order of day.

    Returns
    -------
    str
        CSV, one row a task; text is harmless in a spreadsheet.
    """
    rows = [
        (task.day.isoformat(), task.kind, task.what, task.why, "; ".join(task.items))
        for task in tasks
    ]
    return csv_text(COLUMNS, rows)


def upkeep_ics(tasks: Sequence[Task], *, title: str, made: datetime) -> str:
    r"""Lay out tasks as a calendar (RFC 5545).

    Parameters
    ----------
    tasks : sequence of Task
        Each becomes an event of a whole day that keeps nobody busy.
    title : str
        Whose bag it is; part of the events' identity, so that a calendar updates instead of
        doubling them.
    made : datetime
        Stamp of the calendar; a fixed one gives the same bytes again. Aware ones are put into UTC.

    Returns
    -------
    str
        Lines that end with ``\r\n`` and have at most 75 octets before it.
    """
    stamp = utc_stamp(made)
    lines: list[str] = []
    used: dict[str, int] = {}
    for task in tasks:
        name = _identity(title, task)
        used[name] = used.get(name, 0) + 1
        lines += _event(task, uid=f"{name}-{used[name]}@walkhome.invalid", stamp=stamp, title=title)
    return calendar(lines, product=PRODUCT)


def _identity(title: str, task: Task) -> str:
    """Give the same letters for the same task on every run."""
    parts = (title, task.day.isoformat(), task.kind, task.what)
    return sha256("\x1f".join(parts).encode("utf-8", "replace")).hexdigest()[:32]


def _event(task: Task, *, uid: str, stamp: str, title: str) -> list[str]:
    """One event; its end is the first day after it (RFC 5545, 3.6.1)."""
    return [
        "BEGIN:VEVENT",
        f"UID:{uid}",
        f"DTSTAMP:{stamp}",
        f"DTSTART;VALUE=DATE:{task.day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{task.day + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{ics_text(f'Bag: {task.what}')}",
        f"DESCRIPTION:{ics_text(f'{title}. {task.why}')}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]
