"""Where walks are cut into hours, and nowhere else; the hour-by-hour ledger and the step table.

Totals are read while walking, at each full hour since departure, straight within the event that
passes it. A refill is booked when the bottles are full: after the way to the place and the time
spent there, in an instant. What a walk comes to on arrival ends its last hour.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from simulator.body.energy import GLYCOGEN_KCAL
from simulator.ground.walkable import HIGHWAYS, SURFACES
from simulator.sky.sun import DAYLIGHT_STATES, daylight_state
from simulator.units import HOUR_S
from simulator.walk.party import is_unlit
from simulator.walk.records import HOURLY, Doing, Total, pace_costs_s

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from simulator.ground.streets import Streets
    from simulator.walk.conditions import Conditions
    from simulator.walk.course import Course
    from simulator.walk.party import Manner
    from simulator.walk.records import Outcome, Trace, Walkers


def local_time(epoch_s: float, zone: str) -> datetime:
    """Clock time in a zone, to the second.

    Parameters
    ----------
    epoch_s : float
        Seconds since 1970-01-01 UTC.
    zone : str
        IANA name of the zone.

    Returns
    -------
    datetime
        Aware, with the offset in force at that instant.
    """
    return datetime.fromtimestamp(round(epoch_s), tz=UTC).astimezone(ZoneInfo(zone))


def street_names(streets: Streets, way: NDArray[np.int32]) -> list[str]:
    """Name of each way row, or its class in brackets when it has none."""
    ways = streets.ways
    return [ways.name[row] or f"(unnamed {HIGHWAYS[ways.highway[row]]})" for row in way.tolist()]


BODY_KCAL = GLYCOGEN_KCAL[0]
"""What a walker's own body gives before lack of food is felt [kcal]."""

MORE_HOURS = 12
"""Rows that are added whenever a walk outlasts those there are."""


class HourMarks:
    """Reads walkers at each full hour while they walk.

    Attributes
    ----------
    rows : tuple of Total
        Totals that are read.
    values : (H, 1 + len(rows), n) float64
        Distance [m] and totals at each full hour; NaN from arrival on.
    """

    def __init__(self, rows: tuple[Total, ...], walkers: int) -> None:
        self.rows = rows
        self.read_rows = [Total.CLOCK_S, *rows]
        self.values = np.full((MORE_HOURS, 1 + len(rows), walkers), np.nan)

    def read(
        self,
        totals: NDArray[np.float64],
        after: Mapping[Total, NDArray[np.float64]],
        *,
        next_s: NDArray[np.float64],
        row: NDArray[np.intp],
        gone_m: NDArray[np.float64] | float,
        run_m: NDArray[np.float64] | float,
    ) -> None:
        """Read the totals of those who pass a full hour within events.

        Totals are (len(Total), n) before events, those that change (n,) after one event or (E, n)
        after each; distances broadcast to that.
        """
        clock = after[Total.CLOCK_S]
        several = clock.ndim > 1
        while (past := np.flatnonzero((clock[-1] if several else clock) >= next_s)).size:
            at_s = next_s[past]
            next_s[past] += HOUR_S
            hour = np.rint(at_s / HOUR_S).astype(np.intp) - 1
            if int(hour.max()) >= len(self.values):
                more = np.full((MORE_HOURS, *self.values.shape[1:]), np.nan)
                self.values = np.concatenate([self.values, more])
            event = (clock[:, past] >= at_s).argmax(axis=0) if several else np.zeros_like(past)
            there = (event, past) if several else (past,)
            begun = totals[self.read_rows][:, past]
            ended = begun.copy()
            for place, each in enumerate(self.read_rows):
                if each in after:
                    ended[place] = after[each][there]
                    if several:
                        earlier = after[each][event - 1, past]
                        begun[place] = np.where(event > 0, earlier, begun[place])
            late_s, long_s = ended[0] - at_s, ended[0] - begun[0]
            back = np.divide(late_s, long_s, out=np.zeros(past.size), where=long_s > 0.0)
            begun_m, metres = (np.broadcast_to(one, clock.shape)[there] for one in (gone_m, run_m))
            gone = begun_m + (1.0 - back) * metres
            mark = np.vstack([gone, (ended - back * (ended - begun))[1:]])
            self.values[hour, :, row[past]] = mark.T


def as_long(parts: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Put hours of walks beside each other, as many rows as the longest has."""
    most = max(len(part) for part in parts)
    filled = [
        np.concatenate([part, np.full((most - len(part), *part.shape[1:]), np.nan)])
        for part in parts
    ]
    return np.concatenate(filled, axis=-1)


@dataclass(frozen=True, slots=True)
class Ledger:
    """Walks cut at their full hours and on arrival: H hours, N walks of M members each.

    Attributes
    ----------
    edge_s : (H + 1, N) float64
        Ends of the hours since departure [s], the last one the arrival; NaN after it.
    distance_m : (H + 1, N) float64
        Along the way [m].
    rows : tuple of Total
        Totals that are known.
    totals : (R, H + 1, N, M) float64
        Each of them, by member.
    """

    edge_s: NDArray[np.float64]
    distance_m: NDArray[np.float64]
    rows: tuple[Total, ...]
    totals: NDArray[np.float64]

    def of(self, total: Total) -> NDArray[np.float64]:
        """Give a total by member, (H + 1, N, M)."""
        found: NDArray[np.float64] = self.totals[self.rows.index(total)]
        return found

    def party(self, total: Total) -> NDArray[np.float64]:
        """Give a total of the party, (H + 1, N)."""
        found: NDArray[np.float64] = self.of(total).sum(axis=-1)
        return found

    def one(self, total: Total) -> NDArray[np.float64]:
        """Give a total of the first member, (H + 1, N)."""
        found: NDArray[np.float64] = self.of(total)[..., 0]
        return found

    def at_m(self, at_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give where each walk is at a time since departure, straight within the hour, (N,) [m]."""
        found = [
            np.interp(when, edge[known], gone[known])
            for when, edge, gone in zip(at_s, self.edge_s.T, self.distance_m.T, strict=True)
            for known in [np.isfinite(edge)]
        ]
        return np.array(found)

    def at_s(self, at_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give when each walk is at a place, straight within the hour; NaN for NaN, (N,) [s]."""
        behind = np.count_nonzero(self.distance_m <= at_m, axis=0) - 1
        known = np.count_nonzero(np.isfinite(self.distance_m), axis=0)
        row, every = np.clip(behind, 0, np.maximum(known - 2, 0)), np.arange(at_m.size)
        run_m, took_s = (
            column[row + 1, every] - column[row, every] for column in (self.distance_m, self.edge_s)
        )
        gone_m = at_m - self.distance_m[row, every]
        share = np.divide(gone_m, run_m, out=np.zeros(at_m.size), where=run_m > 0.0)
        found: NDArray[np.float64] = self.edge_s[row, every] + share * took_s
        return np.where(np.isnan(at_m), np.nan, found)


def ledger_of(outcome: Outcome, *, members: int, length_m: NDArray[np.float64] | float) -> Ledger:
    """Cut walks into hours.

    Parameters
    ----------
    outcome : Outcome
        Walked with hours marked, or recorded; members of a party beside each other.
    members : int
        Members of each party.
    length_m : float or (N,) float64
        Length of the way [m].

    Returns
    -------
    Ledger
        All walks.

    Raises
    ------
    ValueError
        When no hours were marked.
    """
    if outcome.hourly is None:
        message = "hours are read while walking; simulate with marks, or record=True"
        raise ValueError(message)
    marked = outcome.hourly
    rows = tuple(Total) if marked.shape[1] == 1 + len(Total) else HOURLY
    walks = marked.shape[-1] // members
    arrive_s = outcome.totals[Total.CLOCK_S].reshape(walks, members)[:, 0]
    last = np.ceil(np.nan_to_num(arrive_s, posinf=0.0) / HOUR_S).astype(np.int64)
    last = np.maximum(last, 1)
    hours = int(last.max(initial=1))
    values = np.full((hours + 1, 1 + len(rows), walks, members), np.nan)
    shared = min(hours, len(marked))
    values[0] = 0.0
    values[1 : shared + 1] = marked[:shared].reshape(shared, -1, walks, members)
    every = np.arange(walks)
    home = outcome.totals[list(rows)].reshape(len(rows), walks, members)
    values[last, 0, every] = np.broadcast_to(length_m, (walks,))[:, None]
    values[last, 1:, every] = home.swapaxes(0, 1)
    hour = np.arange(hours + 1)[:, None]
    edge = np.where(hour < last, hour * HOUR_S, np.where(hour == last, arrive_s, np.nan))
    return Ledger(
        edge_s=edge,
        distance_m=values[:, 0, :, 0],
        rows=rows,
        totals=np.moveaxis(values[:, 1:], 1, 0),
    )


class Amounts(NamedTuple):
    """What a ledger tells of a party at its edges, every field (H + 1, N).

    Attributes
    ----------
    water_left_ml, water_short_ml : ndarray
        In all bottles; lost and not drunk by all [mL].
    body_mass_loss_pct : ndarray
        Of the member who has lost most [%].
    energy_short_kcal, from_body_kcal, food_left_kcal : ndarray
        Used and not eaten: beyond what each body gives of its own, and what it gives; and food
        left, of all [kcal].
    light_left_h, light_short_h : ndarray
        Of the member who has least [h].
    """

    water_left_ml: NDArray[np.float64]
    water_short_ml: NDArray[np.float64]
    body_mass_loss_pct: NDArray[np.float64]
    energy_short_kcal: NDArray[np.float64]
    from_body_kcal: NDArray[np.float64]
    food_left_kcal: NDArray[np.float64]
    light_left_h: NDArray[np.float64]
    light_short_h: NDArray[np.float64]


def amounts_of(ledger: Ledger, walkers: Walkers) -> Amounts:
    """Tell what is left and what is short at each edge.

    Parameters
    ----------
    ledger : Ledger
        N walks of M members.
    walkers : Walkers
        N times M walkers.

    Returns
    -------
    Amounts
        Nothing below zero.
    """
    _rows, _hours, walks, members = ledger.totals.shape

    def of(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return values.reshape(walks, members)

    lost, drunk = ledger.of(Total.LOST_ML), ledger.of(Total.DRUNK_ML)
    eaten = ledger.party(Total.EATEN_KCAL)
    owed_kcal = ledger.of(Total.ENERGY_KCAL) - ledger.of(Total.EATEN_KCAL)
    own_kcal = np.minimum(owed_kcal, BODY_KCAL)
    lit = ledger.of(Total.LIGHT_USED_S)
    left_ml = of(walkers.water_ml) + ledger.of(Total.REFILLED_ML) - drunk
    return Amounts(
        water_left_ml=np.maximum(left_ml.sum(axis=-1), 0.0),
        water_short_ml=np.maximum((lost - drunk).sum(axis=-1), 0.0),
        body_mass_loss_pct=np.maximum(
            ((lost - drunk) / (10.0 * of(walkers.mass_kg))).max(axis=-1), 0.0
        ),
        energy_short_kcal=(owed_kcal - own_kcal).sum(axis=-1),
        from_body_kcal=own_kcal.sum(axis=-1),
        food_left_kcal=np.maximum(of(walkers.food_kcal).sum(axis=-1) - eaten, 0.0),
        light_left_h=(of(walkers.light_s) - lit).min(axis=-1) / HOUR_S,
        light_short_h=(ledger.of(Total.LIGHT_NEED_S) - lit).max(axis=-1) / HOUR_S,
    )


def hours_table(
    outcome: Outcome,
    *,
    course: Course,
    walkers: Walkers,
    conditions: Conditions,
    streets: Streets,
    depart_epoch_s: float,
    zone: str,
    stop_labels: Sequence[str] = (),
    age_sex_factor: float = 1.0,
) -> pd.DataFrame:
    """One row per hour since departure, for the whole party.

    Amounts of water, food and energy are summed over the party; body-mass loss is the worst
    member's, light is the member's who has least.

    Parameters
    ----------
    outcome : Outcome
        A recorded walk of one party.
    course, walkers, conditions, streets
        What it was walked with.
    depart_epoch_s : float
        Departure, seconds since 1970-01-01 UTC.
    zone : str
        IANA zone for clock times.
    stop_labels : sequence of str
        What to call each stop, in the order of the stops given to the engine.
    age_sex_factor : float
        The share of age and sex in the first walker's own pace.

    Returns
    -------
    pandas.DataFrame
        Times, place, pace, energy, water, light, weather and stops; units are in the names.
    """
    ledger = ledger_of(outcome, members=walkers.count, length_m=course.length_m)
    edges, distance = ledger.edge_s[:, 0], ledger.distance_m[:, 0]
    party = {row: ledger.party(row)[:, 0] for row in ledger.rows}
    one = {row: ledger.one(row)[:, 0] for row in ledger.rows}
    told = Amounts(*(values[:, 0] for values in amounts_of(ledger, walkers)))
    rise = np.append(0.0, np.cumsum(np.maximum(course.rise_m, 0.0)))
    fall = np.append(0.0, np.cumsum(np.maximum(-course.rise_m, 0.0)))
    unknown = np.append(0.0, np.cumsum(np.where(_height_known(course, streets), 0.0, course.run_m)))
    costs = pace_costs_s(
        one, pace_factor=float(walkers.pace_factor[0]), age_sex_factor=age_sex_factor
    )
    middle = conditions.at(depart_epoch_s + 0.5 * (edges[1:] + edges[:-1]))
    felt = middle.felt_c
    states = [DAYLIGHT_STATES[code] for code in daylight_state(middle.sun_deg).tolist()]
    step = np.clip(
        np.searchsorted(course.distance_m, distance[:-1], side="right") - 1,
        0,
        course.run_m.size - 1,
    )
    moved = np.diff(one[Total.MOVED_S])
    gone = np.diff(distance)
    walked_km_h = np.divide(3.6 * gone, moved, out=np.full(gone.size, np.nan), where=moved > 0.0)
    times = [local_time(depart_epoch_s + edge, zone) for edge in edges]
    return pd.DataFrame(
        {
            "hour": np.arange(edges.size - 1),
            "clock_start": times[:-1],
            "clock_end": times[1:],
            "place": street_names(streets, course.way[step]),
            "lat": np.interp(distance[1:], course.distance_m, course.lat),
            "lon": np.interp(distance[1:], course.distance_m, course.lon),
            "distance_km": gone / 1000.0,
            "distance_so_far_km": distance[1:] / 1000.0,
            "speed_km_h": walked_km_h,
            "ascent_m": np.diff(np.interp(distance, course.distance_m, rise)),
            "descent_m": np.diff(np.interp(distance, course.distance_m, fall)),
            "height_unknown_m": np.diff(np.interp(distance, course.distance_m, unknown)),
            "moving_min": moved / 60.0,
            "resting_min": np.diff(one[Total.RESTED_S]) / 60.0,
            "stopped_min": np.diff(one[Total.STOPPED_S]) / 60.0,
            "energy_used_kcal": np.diff(party[Total.ENERGY_KCAL]),
            "eaten_kcal": np.diff(party[Total.EATEN_KCAL]),
            "energy_short_kcal": told.energy_short_kcal[1:],
            "from_body_kcal": told.from_body_kcal[1:],
            "food_left_kcal": told.food_left_kcal[1:],
            "water_lost_ml": np.diff(party[Total.LOST_ML]),
            "drunk_ml": np.diff(party[Total.DRUNK_ML]),
            "refilled_ml": np.diff(party[Total.REFILLED_ML]),
            "water_left_ml": told.water_left_ml[1:],
            "water_short_ml": told.water_short_ml[1:],
            "body_mass_loss_pct": told.body_mass_loss_pct[1:],
            "daylight": states,
            "dark_min": np.diff(one[Total.DARK_S]) / 60.0,
            "unlit_min": np.diff(one[Total.LIGHT_NEED_S]) / 60.0,
            "light_left_h": told.light_left_h[1:],
            "light_short_h": told.light_short_h[1:],
            "air_c": middle.air_c,
            "felt_c": felt,
            "rain_mm": middle.rain_mm_h * np.diff(edges) / HOUR_S,
            "sun_elevation_deg": middle.sun_deg,
            "stops": _stop_texts(outcome.trace, edges, stop_labels),
            **{f"{name}_cost_min": np.diff(cost_s) / 60.0 for name, cost_s in costs.items()},
        }
    )


def _stop_texts(
    trace: Trace | None, edges: NDArray[np.float64], labels: Sequence[str]
) -> list[str]:
    """Name what is stopped for in each hour; a stop counts where it begins."""
    if trace is None:
        message = "stops are told of a recorded walk; simulate with record=True"
        raise ValueError(message)
    clock = trace.totals[:, Total.CLOCK_S, 0]
    texts: list[list[str]] = [[] for _ in range(edges.size - 1)]
    events = np.flatnonzero(trace.doing == Doing.STOP)
    for event in events.tolist():
        began = clock[event - 1]
        row = min(int(np.searchsorted(edges, began, side="right")) - 1, edges.size - 2)
        texts[row].append(labels[int(trace.stop[event])])
    return ["; ".join(words) for words in texts]


def segments_table(
    course: Course,
    *,
    streets: Streets,
    manner: Manner,
    step_clock_s: NDArray[np.float64],
    moving_s: NDArray[np.float64],
    conditions: Conditions,
    depart_epoch_s: float,
) -> pd.DataFrame:
    """One row per step of the way, in order.

    Parameters
    ----------
    course : Course
        The way.
    streets : Streets
        For names and tags.
    manner : Manner
        Whether street lights are counted on.
    step_clock_s : (S,) float64
        Time since departure at each step's start [s].
    moving_s : (S,) float64
        Time walked on each step [s].
    conditions : Conditions
        For light and sun.
    depart_epoch_s : float
        Departure, seconds since 1970-01-01 UTC.

    Returns
    -------
    pandas.DataFrame
        Position, slope, street, time and light of every step; units are in the names. ``unlit``
        says at any hour whether no street light is counted on there, ``height_known`` whether a
        raster covers it; height and slope are an estimate elsewhere.
    """
    ways = streets.ways
    moment = conditions.at(depart_epoch_s + step_clock_s)
    return pd.DataFrame(
        {
            "distance_m": course.distance_m[:-1],
            "run_m": course.run_m,
            "rise_m": course.rise_m,
            "height_m": course.height_m[:-1],
            "slope": course.slope,
            "height_known": _height_known(course, streets),
            "lat": course.lat[:-1],
            "lon": course.lon[:-1],
            "street": [ways.name[row] for row in course.way.tolist()],
            "highway": [HIGHWAYS[code] for code in course.highway.tolist()],
            "surface": [SURFACES[code] for code in course.surface.tolist()],
            "lit": course.lit,
            "unlit": is_unlit(manner, course.lit),
            "steps": course.stairs,
            "bridge": course.bridge,
            "bridge_name": [ways.bridge_name[row] for row in course.way.tolist()],
            "tunnel": course.tunnel,
            "way_id": ways.osm_id[course.way],
            "elapsed_s": step_clock_s,
            "moving_s": moving_s,
            "speed_m_s": course.run_m / moving_s,
            "dark": moment.night,
            "sun_elevation_deg": moment.sun_deg,
        }
    )


def _height_known(course: Course, streets: Streets) -> NDArray[np.bool_]:
    if streets.terrain is None:
        return np.zeros(course.run_m.size, dtype=np.bool_)
    return streets.terrain.covered[course.segment]
