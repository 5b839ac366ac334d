"""The hour-by-hour ledger and the step table, cut from the engine's trace."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from simulator.ground.walkable import HIGHWAYS, SURFACES
from simulator.sky.sun import DAYLIGHT_STATES, daylight_state
from simulator.walk.party import is_unlit
from simulator.walk.records import Doing, Total, pace_costs_s

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.ground.streets import Streets
    from simulator.walk.conditions import Conditions
    from simulator.walk.course import Course
    from simulator.walk.party import Manner
    from simulator.walk.records import Trace, Walkers

HOUR_S = 3600.0


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


def hours_table(
    trace: Trace,
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
    trace : Trace
        Events of one party.
    course, walkers, conditions, streets
        What the trace was made from.
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
    clock = trace.totals[:, Total.CLOCK_S, 0]
    end_s = float(clock[-1])
    edges = np.append(np.arange(0.0, end_s, HOUR_S), end_s)
    distance = np.interp(edges, clock, trace.distance_m)
    party = {row: np.interp(edges, clock, trace.totals[:, row].sum(axis=1)) for row in Total}
    one = {row: np.interp(edges, clock, trace.totals[:, row, 0]) for row in Total}
    rise = np.append(0.0, np.cumsum(np.maximum(course.rise_m, 0.0)))
    fall = np.append(0.0, np.cumsum(np.maximum(-course.rise_m, 0.0)))
    unknown = np.append(0.0, np.cumsum(np.where(_height_known(course, streets), 0.0, course.run_m)))
    costs = pace_costs_s(
        one, pace_factor=float(walkers.pace_factor[0]), age_sex_factor=age_sex_factor
    )
    loss_pct = _worst_loss_pct(trace, walkers, clock, edges)
    light_left, light_short = _light(trace, walkers, clock, edges)

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
    capacity = float(walkers.water_ml.sum())
    water_left = capacity + party[Total.REFILLED_ML][1:] - party[Total.DRUNK_ML][1:]
    walked_km_h = np.divide(3.6 * gone, moved, out=np.full(gone.size, np.nan), where=moved > 0.0)
    times = [local_time(depart_epoch_s + edge, zone).isoformat() for edge in edges]
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
            "energy_short_kcal": party[Total.ENERGY_KCAL][1:] - party[Total.EATEN_KCAL][1:],
            "food_left_kcal": np.maximum(
                float(walkers.food_kcal.sum()) - party[Total.EATEN_KCAL][1:], 0.0
            ),
            "water_lost_ml": np.diff(party[Total.LOST_ML]),
            "drunk_ml": np.diff(party[Total.DRUNK_ML]),
            "refilled_ml": np.diff(party[Total.REFILLED_ML]),
            "water_left_ml": np.maximum(water_left, 0.0),
            "water_short_ml": np.maximum(party[Total.LOST_ML] - party[Total.DRUNK_ML], 0.0)[1:],
            "body_mass_loss_pct": loss_pct[1:],
            "daylight": states,
            "dark_min": np.diff(one[Total.DARK_S]) / 60.0,
            "unlit_min": np.diff(one[Total.LIGHT_NEED_S]) / 60.0,
            "light_left_h": light_left[1:],
            "light_short_h": light_short[1:],
            "air_c": middle.air_c,
            "felt_c": felt,
            "rain_mm": middle.rain_mm_h * np.diff(edges) / HOUR_S,
            "sun_elevation_deg": middle.sun_deg,
            "stops": _stop_texts(trace, clock, edges, stop_labels),
            **{f"{name}_cost_min": np.diff(cost_s) / 60.0 for name, cost_s in costs.items()},
        }
    )


def _worst_loss_pct(
    trace: Trace, walkers: Walkers, clock: NDArray[np.float64], edges: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Body-water deficit as a share of body mass, the worst member's [%]."""
    deficit_ml = trace.totals[:, Total.LOST_ML] - trace.totals[:, Total.DRUNK_ML]
    worst = np.max(deficit_ml / (10.0 * walkers.mass_kg), axis=1)
    loss: NDArray[np.float64] = np.maximum(np.interp(edges, clock, worst), 0.0)
    return loss


def _light(
    trace: Trace, walkers: Walkers, clock: NDArray[np.float64], edges: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Hours of light left and short, of the member who has least."""
    used = trace.totals[:, Total.LIGHT_USED_S]
    left = np.min(walkers.light_s - used, axis=1) / HOUR_S
    short = np.max(trace.totals[:, Total.LIGHT_NEED_S] - used, axis=1) / HOUR_S
    return np.interp(edges, clock, left), np.interp(edges, clock, short)


def _stop_texts(
    trace: Trace,
    clock: NDArray[np.float64],
    edges: NDArray[np.float64],
    labels: Sequence[str],
) -> list[str]:
    """Name what is stopped for in each hour; a stop counts where it begins."""
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
