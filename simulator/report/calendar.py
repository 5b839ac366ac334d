"""The upkeep of the bag as a calendar that any calendar program reads, and as a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from typing import Final, Protocol

from simulator.files import csv_text
from simulator.report.paper.sheet import bridge_words, sheet_of
from simulator.report.subject import DrawnWalk, Track
from simulator.report.tables import units_of
from simulator.report.words import clean

LONGEST_OCTETS: Final = 75
"""Longest line of a calendar file without its end [octets] (RFC 5545, 3.1)."""

LONGEST_TEXT: Final = 10_000
"""Characters kept of one text: the whole of any walk's, but a hostile one stays bounded."""

STOPS: Final = (".", "!", "?", "\N{HORIZONTAL ELLIPSIS}")
"""What a sentence may end with."""

PRODUCT: Final = "-//walkhome//way home//EN"


def calendar(events: Sequence[str], *, product: str) -> str:
    r"""Put the lines of events into a calendar."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{product}",
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
        *events,
        "END:VCALENDAR",
    ]
    return "".join(f"{piece}\r\n" for line in lines for piece in _folded(line))


def utc_stamp(when: datetime) -> str:
    """Write an instant in UTC; one without a zone counts as UTC."""
    return f"{when - (when.utcoffset() or timedelta()):%Y%m%dT%H%M%SZ}"


def ics_text(text: str) -> str:
    """Escape a text value (RFC 5545, 3.3.11)."""
    plain = clean(text, longest=LONGEST_TEXT)
    for mark in ("\\", ";", ","):
        plain = plain.replace(mark, f"\\{mark}")
    return plain


def walk_ics(walk: DrawnWalk) -> str:
    r"""Give the walk as a calendar of one event, from departure to arrival."""
    sheet, track = sheet_of(walk), Track(walk)
    depart = track.clock(0.0).astimezone(UTC)
    arrive = track.clock(track.duration_s).astimezone(UTC)
    stamp = utc_stamp(depart)
    name = sha256(f"{sheet.title}\x1f{stamp}".encode("utf-8", "replace")).hexdigest()[:32]
    heading, told = bridge_words(walk.facts.route.main_bridge, units_of(walk))
    words = [
        sheet.headline,
        sheet.sentence,
        sheet.home_by,
        *sheet.reasons,
        f"{heading}: {told}" if told else "",
    ]
    comments = [sheet.standing, sheet.attribution]
    return calendar(
        [
            "BEGIN:VEVENT",
            f"UID:{name}@walkhome.invalid",
            f"DTSTAMP:{stamp}",
            f"DTSTART:{stamp}",
            f"DTEND:{utc_stamp(arrive)}",
            f"SUMMARY:{ics_text(f'{sheet.headline} {sheet.title}')}",
            f"DESCRIPTION:{ics_text(' '.join(map(_stopped, filter(None, words))))}",
            *(f"COMMENT:{ics_text(comment)}" for comment in comments if comment),
            "END:VEVENT",
        ],
        product=PRODUCT,
    )


def _stopped(sentence: str) -> str:
    """End a sentence with a stop where it has none."""
    return sentence if sentence.endswith(STOPS) else f"{sentence}."


def _folded(line: str) -> Iterator[str]:
    """Fold a line at 75 octets without cutting a character (RFC 5545, 3.1)."""
    piece, size = "", 0
    for character in line:
        octets = len(character.encode("utf-8"))
        if size + octets > LONGEST_OCTETS:
            yield piece
            piece, size = " ", 1  # the blank that marks a line going on counts too
        piece += character
        size += octets
    yield piece


UPKEEP_PRODUCT: Final = "-//walkhome//bag upkeep//EN"

COLUMNS: Final = ("day", "every", "kind", "what", "why", "items")
"""Columns of upkeep.csv."""


class TaskLike(Protocol):
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

    @property
    def yearly(self) -> bool:
        """Whether it is done on that day of every year."""


def upkeep_csv(tasks: Sequence[TaskLike]) -> str:
    """Lay out tasks as a table."""
    rows = [
        (
            task.day.isoformat(),
            "year" if task.yearly else "",
            task.kind,
            task.what,
            task.why,
            "; ".join(task.items),
        )
        for task in tasks
    ]
    return csv_text(COLUMNS, rows)


def upkeep_ics(tasks: Sequence[TaskLike], *, title: str, made: datetime) -> str:
    r"""Lay out tasks as a calendar (RFC 5545)."""
    stamp = utc_stamp(made)
    lines: list[str] = []
    used: dict[str, int] = {}
    for task in tasks:
        name = _identity(title, task)
        used[name] = used.get(name, 0) + 1
        lines += _event(task, uid=f"{name}-{used[name]}@walkhome.invalid", stamp=stamp, title=title)
    return calendar(lines, product=UPKEEP_PRODUCT)


def _identity(title: str, task: TaskLike) -> str:
    """Give the same letters for the same task on every run, a yearly one's in any year."""
    day = f"{task.day:%m-%d}" if task.yearly else task.day.isoformat()
    parts = (title, day, task.kind, task.what)
    return sha256("\x1f".join(parts).encode("utf-8", "replace")).hexdigest()[:32]


def _event(task: TaskLike, *, uid: str, stamp: str, title: str) -> list[str]:
    """One event; its end is the first day after it (RFC 5545, 3.6.1)."""
    ahead = ALARMS if task.kind == "replace" else ALARMS[:1]
    return [
        "BEGIN:VEVENT",
        f"UID:{uid}",
        f"DTSTAMP:{stamp}",
        f"DTSTART;VALUE=DATE:{task.day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{task.day + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{ics_text(f'Bag: {task.what}')}",
        f"DESCRIPTION:{ics_text(f'{title}. {task.why}')}",
        "TRANSP:TRANSPARENT",
        *(["RRULE:FREQ=YEARLY"] if task.yearly else []),
        *(line for trigger in ahead for line in _alarm(trigger, task)),
        "END:VEVENT",
    ]


ALARMS: Final = ("-PT15H", "-P6DT15H")
"""Nine in the morning of the day before, and a week before for what must be bought (RFC 5545,
3.8.6.3: from the beginning of the day)."""


def _alarm(trigger: str, task: TaskLike) -> list[str]:
    """Have the calendar remind of a task (RFC 5545, 3.6.6)."""
    return [
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        f"DESCRIPTION:{ics_text(f'Bag: {task.what}')}",
        f"TRIGGER:{trigger}",
        "END:VALARM",
    ]
