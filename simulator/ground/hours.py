"""Opening hours in the OSM syntax: open, shut, or not known.

The grammar is that of the OpenStreetMap wiki, ``Key:opening_hours/specification``, read by the
parser opening-hours-py. What the text leaves open stays unknown (None): it is no promise.
"""

from __future__ import annotations

import re
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

if TYPE_CHECKING:
    from opening_hours import OpeningHours

# Holidays whose dates the parser may not have; the same rule is then read as if every day were
# one and as if none were.
HOLIDAYS = ("PH", "SH")

# Latitude and longitude are rounded to this many decimals for the cache [degrees]: 0.1 degrees
# shift sunset by under half a minute of time.
CACHE_DECIMALS = 1

_WEEKDAY = r"(?:Mo|Tu|We|Th|Fr|Sa|Su)"
_NEVER = "1900 "  # a year selector that no walk meets
_UTC = ZoneInfo("UTC")


def open_at(
    hours: str,
    when: datetime,
    *,
    lat: float,
    lon: float,
    country: str | None = None,
) -> bool | None:
    """Decide whether a place is open.

    Parameters
    ----------
    hours : str
        Value of ``opening_hours``; "" if the map has none.
    when : datetime
        Time-zone aware.
    lat, lon : float
        The place [degrees]: its time zone, sunrise and sunset, and its country's holidays.
    country : str, optional
        ISO 3166-1 alpha-2 code; found from the position if left out.

    Returns
    -------
    bool or None
        Open or shut; None if the hours are missing or cannot be read, say so themselves
        ("unknown", or a condition in quotes such as "by appointment"), or hang on a holiday
        whose date is not known (school holidays; public holidays of some countries).

    Raises
    ------
    ValueError
        If `when` has no time zone.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> noon = datetime(2026, 5, 4, 12, tzinfo=timezone.utc)  # a Monday
    >>> open_at("Mo-Fr 08:00-18:00", noon, lat=48.2, lon=16.4)
    True
    >>> open_at("by appointment", noon, lat=48.2, lon=16.4) is None
    True
    """
    if when.tzinfo is None or when.utcoffset() is None:
        msg = f"when must have a time zone: {when!r}"
        raise ValueError(msg)
    # The parser takes named zones only; what it needs is the instant.
    instant = when.astimezone(_UTC)
    place = (round(lat, CACHE_DECIMALS), round(lon, CACHE_DECIMALS))
    answers = {
        _state(reading, instant, place, country) for reading in _readings(hours, place, country)
    }
    return answers.pop() if len(answers) == 1 else None


def readable(hours: str) -> bool:
    """Say whether a text follows the OSM syntax of opening hours.

    Parameters
    ----------
    hours : str
        As ``opening_hours`` is tagged.

    Returns
    -------
    bool
        True when the parser can read it.

    Examples
    --------
    >>> readable("Mo-Fr 08:00-18:00"), readable("from eight to six")
    (True, False)
    """
    return _parsed(hours, (0.0, 0.0), None) is not None


def _state(
    hours: str, instant: datetime, place: tuple[float, float], country: str | None
) -> bool | None:
    from opening_hours import State

    parsed = _parsed(hours, place, country)
    if parsed is None:
        return None
    state, comment = parsed.state(instant)
    if state == State.CLOSED:
        return False
    # The specification: a comment on an open time is a condition, so it is not simply open.
    return None if state == State.UNKNOWN or comment else True


@lru_cache(maxsize=4096)
def _parsed(hours: str, place: tuple[float, float], country: str | None) -> OpeningHours | None:
    import opening_hours

    # The three kinds of error are missing from the package's stubs.
    unknown_country: type[Exception] = vars(opening_hours)["UnknownCountryError"]
    unreadable: type[Exception] = vars(opening_hours)["ParserError"]
    nowhere: type[Exception] = vars(opening_hours)["InvalidCoordinatesError"]
    try:
        return opening_hours.OpeningHours(hours, coords=place, country=country)
    except unknown_country:
        return _parsed(hours, place, None)
    except (unreadable, nowhere):
        return None


@lru_cache(maxsize=4096)
def _readings(hours: str, place: tuple[float, float], country: str | None) -> tuple[str, ...]:
    """Give every reading of a text whose holidays are not known: never, and every day."""
    readings = [hours]
    for holiday in HOLIDAYS:
        # "SH Mo-Fr" means those weekdays when they are holidays; the parser takes it for "or".
        weekdays = re.compile(rf"\b{holiday}\s+(?={_WEEKDAY})")
        if weekdays.search(hours):
            readings = [
                weekdays.sub(instead, text) for text in readings for instead in (_NEVER, "")
            ]
        alone = re.compile(rf"\b{holiday}\b")
        if alone.search(readings[0]) and not _has_calendar(holiday, place, country):
            readings += [alone.sub("Mo-Su", text) for text in readings]
    return tuple(readings)


def _has_calendar(holiday: str, place: tuple[float, float], country: str | None) -> bool:
    parsed = _parsed(holiday, place, country)
    return parsed is not None and parsed.next_change(datetime(2020, 1, 1, tzinfo=_UTC)) is not None
