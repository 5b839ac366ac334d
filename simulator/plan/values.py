"""Single values of a plan: points, local times, lists and paths, and how a key is described."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from pydantic import AllowInfNan, BaseModel, BeforeValidator, ConfigDict, Field, Strict
from pydantic.config import JsonDict

from simulator.errors import shown

EXTRACT_SUFFIXES = (".osm.pbf", ".osm", ".osm.bz2", ".osm.gz", ".graphml")
"""Map files that can be read, by the end of their names."""

EARTH_RADIUS_KM = 6371.0088
"""Mean radius of the earth [km]; IUGG mean radius R1 of WGS84. For a plausibility check only."""

LONGEST_TRIP_KM = 300.0
"""Straight legs together beyond this are taken for a slip [km]; an assumption: about a week of
walking, far more than any walk home, far less than most swapped coordinates give."""

_FIRST_YEAR, _LAST_YEAR = 1950, 2098
_POINT_PARTS = 2
_TIMED_PARTS = 4

LEAST_TIMED_KM = 1.0
"""A timed walk shorter than this tells too little of an hour's pace [km]; an assumption."""

TIMED_KM_H = 1.0, 9.0
"""Slowest and fastest that a timed walk may be [km/h]; an assumption: outside it is a slip."""

MOST_TIMED_SLOPE = 0.2
"""Climb and descent of a timed walk over its length; every pace model reaches this far."""


def as_tuple(value: object) -> object:
    """Let a list of one be written without brackets."""
    if isinstance(value, list | tuple):
        return tuple(value)
    return (value,)


def as_closed(value: object) -> tuple[str | int, ...]:
    """Read what is closed."""
    closed: list[str | int] = []
    for entry in value if isinstance(value, list | tuple) else (value,):
        if isinstance(entry, str) and entry.strip():
            closed.append(entry.strip())
        elif isinstance(entry, int) and not isinstance(entry, bool) and 0 < entry < 2**63:
            closed.append(entry)
        else:
            msg = (
                f"found {shown(entry)}; allowed: names in quotes as on the map, "
                "or OpenStreetMap way numbers from 1"
            )
            raise ValueError(msg)
    return tuple(closed)


def as_path(value: object) -> Path:
    """Read a file name."""
    if isinstance(value, Path):
        return value
    if not isinstance(value, str) or not value.strip() or "\0" in value:
        msg = f'found {shown(value)}; a file name in quotes is needed, e.g. "town.osm.pbf"'
        raise ValueError(msg)
    return Path(value).expanduser()


def as_point(value: object) -> tuple[float, float]:
    """Read a place written as latitude, longitude.

    Parameters
    ----------
    value : object
        What a person wrote.

    Returns
    -------
    (float, float)
        Latitude and longitude [deg].

    Raises
    ------
    ValueError
        If it is no place on the globe.
    """
    if isinstance(value, str):
        msg = (
            f"found {shown(value)}; two numbers are needed: [latitude, longitude] in degrees; a "
            "place by name is looked up once, online, by walkhome fetch"
        )
        raise ValueError(msg)  # noqa: TRY004 - the validator gathers ValueErrors only
    numbers = list(value) if isinstance(value, Sequence) else []
    good = [isinstance(n, int | float) and not isinstance(n, bool) for n in numbers]
    if len(numbers) != _POINT_PARTS or not all(good):
        msg = f"found {shown(value)}; two numbers are needed: [latitude, longitude] in degrees"
        raise ValueError(msg)
    lat, lon = (float(n) for n in numbers)
    if abs(lat) <= 90 and abs(lon) <= 180:  # noqa: PLR2004 - the poles and the date line
        return lat, lon
    hint = "write numbers of degrees within these ranges"
    if abs(lon) <= 90 and abs(lat) <= 180:  # noqa: PLR2004
        hint = f"this looks swapped: write [{lon:g}, {lat:g}]"
    msg = (
        f"found [{lat:g}, {lon:g}]; allowed: latitude -90 to 90 first, "
        f"then longitude -180 to 180; {hint}"
    )
    raise ValueError(msg)


def as_local_time(value: object) -> datetime:
    """Read a clock time at the start, without an offset."""
    example = "e.g. 2026-05-04T16:30:00"
    moment = value
    if isinstance(value, str):
        try:
            moment = date.fromisoformat(value)
        except ValueError:
            try:
                moment = datetime.fromisoformat(value)
            except ValueError:
                moment = None
    if isinstance(moment, date) and not isinstance(moment, datetime):
        msg = f"found {moment.isoformat()}; the hour is missing: write date and time, {example}"
        raise ValueError(msg)  # noqa: TRY004 - the validator gathers ValueErrors only
    if not isinstance(moment, datetime):
        msg = f"found {shown(value)}; a date and time without quotes is needed, {example}"
        raise ValueError(msg)  # noqa: TRY004
    if moment.tzinfo is not None:
        plain = moment.replace(tzinfo=None).isoformat()
        msg = (
            f"found {moment.isoformat()}; write the clock time at the start without Z or offset, "
            f"e.g. {plain}: the time zone comes from the start point or trip.timezone"
        )
        raise ValueError(msg)
    if not _FIRST_YEAR <= moment.year <= _LAST_YEAR:
        msg = f"found the year {moment.year}; allowed: {_FIRST_YEAR} to {_LAST_YEAR}"
        raise ValueError(msg)
    return moment


def as_time_or_day(value: object) -> datetime | time | None:
    """Read a clock time at the start, with or without its date."""
    clock = value
    if isinstance(value, str):
        try:
            clock = time.fromisoformat(value)
        except ValueError:
            return as_local_time(value)
    if value is None or (isinstance(clock, time) and clock.tzinfo is None):
        return clock if isinstance(clock, time) else None
    if isinstance(clock, date):
        return as_local_time(clock)
    msg = (
        f"found {shown(value)}; a clock time without quotes, Z or offset is needed, e.g. 21:00:00 "
        "or 2026-05-04T21:00:00"
    )
    raise ValueError(msg)


TRACK_SUFFIX = ".gpx"
"""Ending of a recorded walk."""


def as_timed_walk(value: object) -> tuple[float, float, float, float] | Path | None:
    """Read one timed walk: four numbers, or the name of a recorded one."""
    if value is None:
        return None
    if isinstance(value, str | Path) and str(value).lower().endswith(TRACK_SUFFIX):
        return as_path(value)
    numbers = list(value) if isinstance(value, list | tuple) else []
    good = [isinstance(n, int | float) and not isinstance(n, bool) for n in numbers]
    if len(numbers) != _TIMED_PARTS or not all(good) or not all(n >= 0 for n in numbers):
        msg = (
            f"found {shown(value)}; four numbers are needed: [kilometres, minutes without stops, "
            "metres climbed, metres descended], e.g. [5.0, 62, 40, 40], or the name of a recorded "
            'walk, e.g. "walk.gpx"'
        )
        raise ValueError(msg)
    length_km, minutes, ascent_m, descent_m = (float(n) for n in numbers)
    speed = length_km / (minutes / 60.0) if minutes > 0.0 else math.inf
    steepness = (ascent_m + descent_m) / (1000.0 * length_km) if length_km > 0.0 else math.inf
    slow, fast = TIMED_KM_H
    walked = length_km >= LEAST_TIMED_KM and slow <= speed <= fast
    if not (walked and steepness <= MOST_TIMED_SLOPE):
        msg = (
            f"found {shown(value)}; allowed: at least {LEAST_TIMED_KM:g} km, {slow:g} to {fast:g} "
            f"km/h, climb and descent together at most {MOST_TIMED_SLOPE:.0%} of the length; walk "
            "an hour or so as you would walk home"
        )
        raise ValueError(msg)
    return length_km, minutes, ascent_m, descent_m


def straight_km(start: tuple[float, float], end: tuple[float, float]) -> float:
    """Give the great-circle distance of two places on a sphere, for plausibility only."""
    lat_1, lon_1, lat_2, lon_2 = (math.radians(n) for n in (*start, *end))
    half = (
        math.sin((lat_2 - lat_1) / 2) ** 2
        + math.cos(lat_1) * math.cos(lat_2) * math.sin((lon_2 - lon_1) / 2) ** 2
    )
    return 2 * EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(half)))


def zone_name_at(lat: float, lon: float) -> str:
    """Look up the time zone of a place."""
    from tzfpy import get_tz

    return str(get_tz(lon, lat)) or "UTC"


def refuse_time_that_does_not_exist(moment: datetime, zone: ZoneInfo) -> None:
    """Refuse a clock time that daylight saving leaps over."""
    local = moment.replace(tzinfo=zone)
    there_and_back = local.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    if there_and_back == moment.replace(fold=0):
        return
    before, after = local.utcoffset(), local.replace(fold=1).utcoffset()
    leap = abs((before or timedelta()) - (after or timedelta()))
    msg = (
        f"found {moment.isoformat()}; this time does not exist in {zone.key}: the clocks leap "
        f"{leap.total_seconds() / 60:.0f} minutes ahead; write e.g. {(moment + leap).isoformat()}"
    )
    raise ValueError(msg)


Number = Annotated[float, Strict(), AllowInfNan(allow_inf_nan=False)]
Switch = Annotated[bool, Strict()]
Text = Annotated[str, Strict()]
Whole = Annotated[int, Strict()]
FilePath = Annotated[Path, BeforeValidator(as_path)]
Point = Annotated[tuple[float, float], BeforeValidator(as_point)]
TimedWalk = Annotated[tuple[float, float, float, float] | Path, BeforeValidator(as_timed_walk)]


def described(
    meaning: str,
    *,
    unit: str = "",
    low: float | None = None,
    high: float | None = None,
    why: str = "",
    example: str = "",
) -> Any:  # noqa: ANN401 - as pydantic.Field, which stands for a value of any type
    """Describe a key once: for the validator, for its messages and for the printed reference."""
    notes: JsonDict = {"unit": unit, "why": why, "example": example}
    return Field(description=meaning, ge=low, le=high, json_schema_extra=notes)


class PlanTable(BaseModel):
    """A table of the plan; cannot be changed after it is made, and takes no unknown key."""

    model_config = ConfigDict(frozen=True, extra="forbid")
