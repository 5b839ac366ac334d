"""Local clock time and the moments it stands for; daylight-saving shifts included."""

from __future__ import annotations

import difflib
import math
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, available_timezones

from simulator.errors import InputError, shown


def zone_name(lat: float, lon: float) -> str:
    """Name the time zone that a place keeps.

    Parameters
    ----------
    lat : float
        Latitude [deg], north positive.
    lon : float
        Longitude [deg], east positive.

    Returns
    -------
    str
        IANA zone name; on the open sea a nautical zone such as ``Etc/GMT+2``.

    Raises
    ------
    ValueError
        If the place is not on the globe, or no zone is known for it.

    Notes
    -----
    Zone borders come from the timezone-boundary-builder polygons (OpenStreetMap data, ODbL),
    simplified by tzfpy; within some hundred metres of a border name the zone yourself.

    Examples
    --------
    >>> zone_name(46.09, -64.77)
    'America/Moncton'
    """
    import tzfpy

    if not (abs(lat) <= 90 and abs(lon) <= 180):  # noqa: PLR2004 - the globe
        msg = f"lat must be -90 to 90 and lon -180 to 180 degrees, found {lat!r}, {lon!r}"
        raise ValueError(msg)
    name = str(tzfpy.get_tz(lon, lat))
    if not name:
        msg = f"no time zone is known at {lat!r}, {lon!r}; name it as trip.timezone"
        raise ValueError(msg)
    return name


def read_zone(name: str, *, where: str = "trip.timezone") -> ZoneInfo:
    """Look a time zone up by its name.

    Parameters
    ----------
    name : str
        IANA zone name, e.g. ``Europe/Zurich``.
    where : str
        File and key the name came from, for the message.

    Returns
    -------
    zoneinfo.ZoneInfo
        The zone with its shifts.

    Raises
    ------
    InputError
        If there is no such zone; close names are suggested.
    """
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        near = difflib.get_close_matches(name, sorted(available_timezones()), n=2)
        hint = f"did you mean {' or '.join(near)}?" if near else "write one like Europe/Zurich"
        raise InputError(where, f"{shown(name)} is not an IANA time zone; {hint}") from error


def _both_readings(local: datetime, zone: ZoneInfo) -> tuple[datetime, datetime, bool]:
    """Read a wall clock before and after a shift, in UTC; does that wall time exist at all?."""
    first = local.replace(tzinfo=zone, fold=0).astimezone(UTC)
    second = local.replace(tzinfo=zone, fold=1).astimezone(UTC)
    plain = local.replace(tzinfo=None, fold=0)
    exists = first.astimezone(zone).replace(tzinfo=None, fold=0) == plain
    return first, second, exists


def to_epoch_s(local: datetime, zone: str, *, where: str = "trip.depart") -> float:
    """Turn a local wall-clock time into seconds since 1970-01-01 00:00 UTC.

    A time that the clocks show twice (autumn) is taken the first time round; `clock_note` says
    so. A time-aware `local` stands for itself.

    Parameters
    ----------
    local : datetime.datetime
        Wall-clock time; naive, or with its own offset.
    zone : str
        IANA zone of the place.
    where : str
        File and key the time came from, for the message.

    Returns
    -------
    float
        Seconds since the epoch [s].

    Raises
    ------
    InputError
        If the clocks skip that time (spring), or the zone is unknown.

    Examples
    --------
    >>> to_epoch_s(datetime(1970, 1, 1, 1, 0), "Europe/Zurich")
    0.0
    """
    if local.tzinfo is not None:
        return local.timestamp()
    first, second, exists = _both_readings(local, read_zone(zone))
    if not exists:
        after = max(first, second).astimezone(ZoneInfo(zone))
        before = min(first, second).astimezone(ZoneInfo(zone))
        problem = (
            f"{local:%Y-%m-%d %H:%M} does not exist in {zone}, where the clocks skip it that day; "
            f"write {before:%H:%M} or {after:%H:%M}"
        )
        raise InputError(where, problem)
    return first.timestamp()


def clock_note(local: datetime, zone: str) -> str:
    """Say which of two moments a repeated wall-clock time was taken for.

    Parameters
    ----------
    local : datetime.datetime
        Wall-clock time.
    zone : str
        IANA zone of the place.

    Returns
    -------
    str
        One sentence, or an empty text when the time happens once.
    """
    if local.tzinfo is not None:
        return ""
    first, second, exists = _both_readings(local, read_zone(zone))
    if not exists or first == second:
        return ""
    offset = first.astimezone(ZoneInfo(zone))
    return (
        f"{local:%Y-%m-%d %H:%M} happens twice in {zone} because the clocks go back; "
        f"the earlier one (UTC{offset:%z}) is used."
    )


def to_local(epoch_s: float, zone: str) -> datetime:
    """Turn seconds since the epoch into the time the local clock shows.

    Parameters
    ----------
    epoch_s : float
        Seconds since 1970-01-01 00:00 UTC [s].
    zone : str
        IANA zone of the place.

    Returns
    -------
    datetime.datetime
        Time-aware local time.

    Raises
    ------
    ValueError
        If `epoch_s` is not finite.
    InputError
        If the zone is unknown.
    """
    if not math.isfinite(epoch_s):
        msg = f"epoch_s must be finite, found {epoch_s!r}"
        raise ValueError(msg)
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=float(epoch_s))
    return moment.astimezone(read_zone(zone))


def iso_local(epoch_s: float, zone: str) -> str:
    """Write a moment as local ISO 8601 time with its offset, to the second.

    Parameters
    ----------
    epoch_s : float
        Seconds since 1970-01-01 00:00 UTC [s].
    zone : str
        IANA zone of the place.

    Returns
    -------
    str
        For example ``2026-05-04T16:30:00-03:00``.

    Raises
    ------
    ValueError
        If `epoch_s` is not finite.

    Examples
    --------
    >>> iso_local(1777923000.0, "America/Moncton")
    '2026-05-04T16:30:00-03:00'
    """
    return to_local(round(epoch_s), zone).isoformat(timespec="seconds")
