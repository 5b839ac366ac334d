"""The plan at a glance: key figures, the latest departure, the main bridge."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from simulator.report.rows import clock_words, day_in_words
from simulator.report.subject import SECONDS_PER_HOUR, Track
from simulator.report.words import clean
from simulator.sky.sun import DARK_ALL_DAY, LIGHT_ALL_DAY
from simulator.units import ML_PER_L, UNKNOWN, Units, duration, energy, number

LEAST_SHORT_H = 1.0 / 60.0
"""A shortage of light under a minute is not told [h]."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One key figure.

    Attributes
    ----------
    label, value, note : str
        What it is, the number with its unit, and one more fact, perhaps empty.
    short : bool
        Whether something runs short here.
    also : str
        The number in the units that were not asked for; empty where it has no such unit.
    """

    label: str
    value: str
    note: str = ""
    short: bool = False
    also: str = ""


def key_figures(
    summary: dict[str, Any], track: Track, units: Units, *, heights: bool, asked: bool
) -> tuple[Figure, ...]:
    """Write the key figures.

    Parameters
    ----------
    summary : dict
        As in summary.json.
    track : Track
        Positions of the walk.
    units : Units
        Units to print in.
    heights : bool
        Whether heights are known.
    asked : bool
        Whether the plan asks for other departures and shut bridges.

    Returns
    -------
    tuple of Figure
        The most needed first.
    """
    route, time, water = summary["route"], summary["time"], summary["water"]
    food, light, felt = summary["food"], summary["light"], summary["cold_heat"]
    depart, arrive = track.clock(0.0), track.clock(track.duration_s)
    unlit = duration(number(light.get("unlit_h", light["dark_h"])))
    length_m = number(route["distance_km"]) * 1000.0
    felt_c = (number(felt["coldest_felt_c"]), number(felt["hottest_felt_c"]))
    return (
        Figure("Leave", f"{depart:%H:%M}", day_in_words(depart)),
        Figure(
            "Home about",
            clock_words(arrive, depart),
            f"{_elapsed(summary)} in all",
        ),
        _leave_by(summary, depart, asked=asked),
        Figure(
            "Way",
            units.long(length_m),
            f"up {_climb(units, route['ascent_m'])}, "
            f"down {_climb(units, route['descent_m'])}{_unknown_part(summary, units)}"
            if heights
            else "heights not known: counted as flat",
            also=units.other.long(length_m),
        ),
        Figure("Walking", duration(number(time["moving_h"])), _beside_walking(time)),
        _first_shortage(summary, track, units),
        Figure(
            "Water needed",
            units.volume(number(water["need_l"]) * ML_PER_L),
            f"{_need_span(summary, units)}"
            f"carried {_litres(units, water['carried_l'])}, "
            f"refilled {_litres(units, water['refilled_l'])}",
            also=units.other.volume(number(water["need_l"]) * ML_PER_L),
        ),
        Figure(
            "In the dark",
            duration(number(time["dark_h"])),
            f"unlit {unlit}; lamp light carried {duration(number(light['carried_h']))}",
            short=number(light["short_h"]) >= LEAST_SHORT_H,
        ),
        Figure(
            "Food energy short",
            _or_none(number(food["short_kcal"]), energy),
            f"needed {energy(number(food['need_kcal']))}, "
            f"carried {energy(number(food['carried_kcal']))}",
        ),
        Figure(
            "Feels like",
            _range(units, *felt_c),
            "coldest and warmest hour",
            also=_range(units.other, *felt_c),
        ),
    )


def _elapsed(summary: dict[str, Any]) -> str:
    """Tell the time home, as a span where heights are unknown."""
    band = summary.get("heights", {}).get("time_h_band")
    ends = [duration(number(end)) for end in band or [summary["time"]["elapsed_h"]]]
    return " to ".join(dict.fromkeys(ends))


def _need_span(summary: dict[str, Any], units: Units) -> str:
    """Tell the span of the water needed where heights are unknown; empty where it has none."""
    band = summary.get("heights", {}).get("need_l_band")
    ends = list(dict.fromkeys(units.volume(number(end) * ML_PER_L) for end in band or []))
    return f"{' to '.join(ends)} by unknown heights; " if len(ends) > 1 else ""


def _unknown_part(summary: dict[str, Any], units: Units) -> str:
    """Tell how much of the way has no heights; empty where all has or none has."""
    told = summary.get("heights", {})
    if not told.get("time_h_band"):
        return ""
    return f"; heights unknown for {units.near(number(told['unknown_km']) * 1000.0)}"


def _climb(units: Units, climb_m: object) -> str:
    return units.both(Units.height, number(climb_m))


def _litres(units: Units, water_l: object) -> str:
    return units.both(Units.volume, number(water_l) * ML_PER_L)


def _leave_by(summary: dict[str, Any], depart: datetime, *, asked: bool) -> Figure:
    """Tell the latest departure of the day that is home before dark."""
    label = "Leave by, for daylight"
    sun = summary.get("sun", {})
    state, dusk = sun.get("state"), sun.get("civil_dusk")
    if state in LIGHT_ALL_DAY:
        return Figure(label, "any hour", "it does not get dark that day")
    if state == DARK_ALL_DAY:
        return Figure(label, "no hour", "the sun does not rise that day")
    if not asked:
        return Figure(label, "not asked", "what_if = false")
    if dusk is None or "leave_by" not in summary["time"]:
        return Figure(label, UNKNOWN, "not worked out")
    dark = f"{datetime.fromisoformat(str(dusk)):%H:%M}"
    latest = summary["time"]["leave_by"]
    if latest is None:
        return Figure(label, "no hour", f"too long for this day: dark from {dark}")
    when = datetime.fromisoformat(str(latest))
    return Figure(label, clock_words(when, depart), f"to be home by dark, {dark}")


def home_by_words(summary: dict[str, Any], depart: datetime) -> str:
    """Say when to leave so as to be home by the hour that the plan names.

    Parameters
    ----------
    summary : dict
        As in summary.json.
    depart : datetime
        Planned departure.

    Returns
    -------
    str
        One or two sentences; empty when the plan names no hour.
    """
    asked = summary["time"].get("home_by")
    if not asked:
        return ""
    by = clock_words(datetime.fromisoformat(str(asked["at"])), depart)
    late = number(asked["late_min"])
    # Rounded up, for someone waits: half a minute late is late.
    now = (
        f"leaving {depart:%H:%M} is too late by {duration(math.ceil(late) / 60.0)}."
        if late > 0.0
        else f"leaving {depart:%H:%M} leaves {duration(math.floor(-late) / 60.0)} to spare."
    )
    if "leave_by" not in asked:
        return f"Home by {by}: {now}"
    if asked["leave_by"] is None:
        return f"No hour of this day is early enough to be home by {by}: {now}"
    leave = clock_words(datetime.fromisoformat(str(asked["leave_by"])), depart)
    return f"Leave by {leave} to be home by {by}: {now}"


def _first_shortage(summary: dict[str, Any], track: Track, units: Units) -> Figure:
    """Tell what runs short first, and when; food is left out, for a body has its own store."""
    depart = track.clock(0.0)
    water, light = summary["water"], summary["light"]
    found: list[tuple[float, str, str]] = []
    for name, part, said, least in (
        ("water", water, _litres(units, water["short_l"]), 0.0),
        ("light", light, duration(number(light["short_h"])), LEAST_SHORT_H),
    ):
        short = number(part["short_l" if name == "water" else "short_h"])
        if short > least:
            after = number(part.get("first_short_h"))
            found.append((after if math.isfinite(after) else math.inf, name, said))
    loss = _loss(number(water["worst_body_mass_loss_pct"]))
    if not found:
        return Figure("First shortage", "none", loss)
    after, name, said = min(found)
    at = "" if math.isinf(after) else clock_words(track.clock(after * SECONDS_PER_HOUR), depart)
    others = [f"{other} short {amount}" for _after, other, amount in sorted(found)[1:]]
    note = "; ".join(filter(None, [f"up to {said}", *others, loss]))
    return Figure("First shortage", f"{name} {at}".strip(), note, short=True)


def bridge_words(summary: dict[str, Any], units: Units) -> tuple[str, str]:
    """Say what to do when the main bridge is shut.

    Parameters
    ----------
    summary : dict
        As in summary.json.
    units : Units
        Units to print in.

    Returns
    -------
    (str, str)
        Heading and sentences; both empty when the way uses no bridge or it was not worked out.
    """
    bridge = summary["route"].get("main_bridge")
    if not bridge:
        return "", ""
    heading = f"If {clean(bridge['name'], longest=60)} is shut"
    if not bridge["reachable"]:
        return heading, "There is no other way home on foot on this map. Stay, or turn back early."
    via = [clean(name, longest=60) for name in bridge["via"]]
    extra_min, extra_m = number(bridge["extra_min"]), number(bridge["extra_km"]) * 1000.0
    parts = [f"{duration(extra_min / 60.0)} more" if extra_min >= 1.0 else "hardly longer"]
    if abs(extra_m) >= 0.05 * units.long_m:
        told = units.both(Units.long, abs(extra_m))
        parts.append(f"{told} {'farther' if extra_m > 0.0 else 'less to walk'}")
    told = f"go by {' and '.join(via)}" if via else "go round it"
    turn = ""
    if bridge.get("turn_km") is not None:
        into = clean(bridge.get("turn_into") or "", longest=60)
        at = f"{units.long_name} {number(bridge['turn_km']) * 1000.0 / units.long_m:.1f}"
        turn = f"Leave the way at {at}{f' for {into}' if into else ''}, "
    told = f"{turn}{told}" if turn else told[0].upper() + told[1:]
    return heading, f"{told}: {', '.join(parts)}."


def _beside_walking(time: dict[str, Any]) -> str:
    """Rests and stops, and how far the published pace models differ."""
    parts = [
        f"{word} {duration(number(time[key]))}"
        for word, key in (("rests", "resting_h"), ("stops", "stopped_h"))
        if number(time[key]) != 0.0
    ]
    if "moving_h_band" in time:
        low, high = (duration(number(end)) for end in time["moving_h_band"])
        parts.insert(0, f"{low} to {high} by other pace models")
    return "; ".join(parts)


def _or_none(amount: float, say: Callable[[float], str]) -> str:
    return "none" if amount == 0.0 else say(amount)


def _loss(percent: float) -> str:
    """Say what the body loses; a loss too small to see is left out."""
    if not math.isfinite(percent):
        return f"loss of body mass {UNKNOWN}"
    return f"body loses up to {percent:.1f} % of its mass" if percent >= 0.05 else ""  # noqa: PLR2004 - the last digit


def _range(units: Units, low: float, high: float) -> str:
    if not (math.isfinite(low) and math.isfinite(high)):
        return f"{units.degrees(low)} to {units.degrees(high)}"
    first = units.degrees(low).split(" ")[0]
    if units.degrees(low) == units.degrees(high):
        return units.degrees(low)
    return f"{first} to {units.degrees(high)}"
