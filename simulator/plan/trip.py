"""The table of a plan that says from where to where, and when."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from itertools import pairwise
from typing import Annotated, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BeforeValidator, field_validator, model_validator

from simulator.faults import shown
from simulator.plan.values import (
    LONGEST_TRIP_KM,
    Part,
    Point,
    Text,
    as_local_time,
    as_time_or_day,
    described,
    refuse_time_that_does_not_exist,
    straight_km,
    zone_name_at,
)

LATEST_HOME_H = 72.0
"""How long after departure one may ask to be home [h]; an assumption: three days, more than any
walk home takes that this is made for."""


class Trip(Part):
    """From where to where, and when."""

    start: Annotated[Point, described("where the walk begins, latitude first", unit="degrees")]
    home: Annotated[Point, described("where it ends, latitude first", unit="degrees")]
    via: Annotated[
        tuple[Point, ...],
        described("places to pass on the way, in order, e.g. a school", unit="degrees"),
    ] = ()
    depart: Annotated[
        datetime,
        BeforeValidator(as_local_time),
        described("clock time at the start, e.g. 2026-05-04T16:30:00; no Z, no offset"),
    ]
    home_by: Annotated[
        datetime | time | None,
        BeforeValidator(as_time_or_day),
        described(
            "clock time by which to be home, as 21:00:00 for the first such hour after departure, "
            "or with its date",
            example="21:00:00",
        ),
    ] = None
    timezone: Annotated[
        Text | None,
        described(
            "IANA time zone of the start; looked up from the map when left out",
            example='"Europe/Paris"',
        ),
    ] = None

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, name: str | None) -> str | None:
        if name is None:
            return None
        try:
            ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            msg = f"found {shown(name)}; an IANA name is needed, e.g. 'Europe/Paris'"
            raise ValueError(msg) from None
        return name

    @model_validator(mode="after")
    def _a_walk_that_can_be(self) -> Self:
        places = (self.start, *self.via, self.home)
        length = sum(straight_km(a, b) for a, b in pairwise(places))
        if length > LONGEST_TRIP_KM:
            msg = (
                f"found {length:.0f} km in straight lines from start to home; allowed: up to "
                f"{LONGEST_TRIP_KM:.0f} km; check that every place is [latitude, longitude]"
            )
            raise ValueError(msg)
        if len(set(places)) == 1:
            msg = "found start and home at the same place; give another home, or a via"
            raise ValueError(msg)
        refuse_time_that_does_not_exist(self.depart, self.zone)
        return self

    @model_validator(mode="after")
    def _home_after_departure(self) -> Self:
        until = self.home_until
        if until is None:
            return self
        refuse_time_that_does_not_exist(until, self.zone)
        latest = self.depart + timedelta(hours=LATEST_HOME_H)
        if not self.depart < until <= latest:
            msg = (
                f"found home_by {until.isoformat()} with departure {self.depart.isoformat()}; "
                f"allowed: after departure, at most {LATEST_HOME_H:g} hours later"
            )
            raise ValueError(msg)
        return self

    @property
    def home_until(self) -> datetime | None:
        """Local date and time by which to be home; None when not asked."""
        if not isinstance(self.home_by, time):
            return self.home_by
        until = datetime.combine(self.depart.date(), self.home_by)
        return until if until > self.depart else until + timedelta(days=1)

    @property
    def zone(self) -> ZoneInfo:
        """Time zone of the start, as given or looked up."""
        return ZoneInfo(self.timezone or zone_name_at(*self.start))

    @property
    def departs(self) -> datetime:
        """Departure with its time zone."""
        return self.depart.replace(tzinfo=self.zone)
