"""What each figure shows, in words, for those who cannot see it."""

from __future__ import annotations

import numpy as np

from simulator.report.figures.map import CLOSED, care_words
from simulator.report.figures.profile import unknown_spans
from simulator.report.subject import DrawnWalk, Track
from simulator.report.tables import (
    bridge_spans,
    chosen,
    heights_known,
    longest_dry_m,
    places_of,
    units_of,
)
from simulator.units import duration, energy


def _clock_span(track: Track) -> str:
    return f"leaving at {track.clock(0.0):%H:%M}, home about {track.clock(track.duration_s):%H:%M}"


def describe_map(walk: DrawnWalk) -> str:
    """Say what the map shows."""
    units, track = units_of(walk), Track(walk)
    crossed = [name for _, _, name in bridge_spans(walk) if name]
    stops = int(places_of(walk)["used"].sum())
    bridges = f" Bridges crossed: {', '.join(dict.fromkeys(crossed))}." if crossed else ""
    return (
        f"Map of the way home, {units.long(track.length_m)} {_heading(track)}, "
        f"{_clock_span(track)}. A lettered disc stands where each hour begins; "
        f"{stops} planned stops are numbered.{bridges}{_unknown(walk, track)}{_care(walk)}"
    )


def _unknown(walk: DrawnWalk, track: Track) -> str:
    """Say where the heights are unknown; empty where they are not."""
    units = units_of(walk)
    spans = [
        f"{start / units.long_m:.1f} to {end / units.long_m:.1f}"
        for start, end in unknown_spans(walk, track)
    ]
    return f" Heights are unknown from {units.long_name} {', '.join(spans)}." if spans else ""


def _care(walk: DrawnWalk) -> str:
    """Say how many places to take care at are marked, and whether closed streets are."""
    marked = len(chosen(walk))
    count = f" {marked} places to take care at are lettered." if marked else ""
    shut = " Crosses lie on closed streets." if CLOSED in care_words(walk) else ""
    return f"{count}{shut}"


def _heading(track: Track) -> str:
    """Compass direction of home from the start."""
    north = track.lat[-1] - track.lat[0]
    east = (track.lon[-1] - track.lon[0]) * np.cos(np.radians(track.lat[0]))
    points = (
        "north",
        "north-east",
        "east",
        "south-east",
        "south",
        "south-west",
        "west",
        "north-west",
    )
    eighth = round(float(np.degrees(np.arctan2(east, north))) / 45.0) % 8
    return f"towards the {points[eighth]}"


def describe_profile(walk: DrawnWalk) -> str:
    """Say what the height profile shows."""
    units, track = units_of(walk), Track(walk)
    if not heights_known(walk, track):
        return f"The heights along the way are not known; {_clock_span(track)}."
    low, high = float(np.nanmin(track.height_m)), float(np.nanmax(track.height_m))
    highest = float(track.along_m[int(np.nanargmax(track.height_m))])
    words = walk.hours["daylight"].tolist()
    dark = next((i for i, word in enumerate(words) if word == "night"), None)
    evening = f" Night falls in hour {dark + 1} of {len(words)}." if dark else ""
    return (
        f"Height of the way from {units.height(low)} to {units.height(high)}, highest after "
        f"{units.long(highest)}, {_clock_span(track)}.{evening}{_unknown(walk, track)}"
    )


def describe_ledger(walk: DrawnWalk) -> str:
    """Say what the hourly ledger shows."""
    units, hours = units_of(walk), walk.hours
    said = []
    for column, name, say in (
        ("water_short_ml", "water", units.volume),
        ("energy_short_kcal", "food", energy),
        ("light_short_h", "light", duration),
    ):
        short = hours[column].to_numpy(np.float64)
        first = np.flatnonzero(short > 0.0)
        said.append(
            f"{name} is short from hour {int(first[0]) + 1}, at most {say(float(np.nanmax(short)))}"
            if first.size
            else f"{name} is never short"
        )
    felt = hours["felt_c"].dropna().to_numpy(np.float64)
    feels = (
        f"It feels like {units.degrees(float(felt.min()))} to {units.degrees(float(felt.max()))}."
        if felt.size
        else "How it feels is beyond the published tables."
    )
    return f"Budgets over {len(hours)} hours: {'; '.join(said)}. {feels}"


def describe_strip(walk: DrawnWalk) -> str:
    """Say what the refill strip shows."""
    units, track = units_of(walk), Track(walk)
    places = places_of(walk)
    counts = [
        f"{given} {sum(given in words for words in places['given'])}"
        for given in ("water", "food", "shelter", "help", "rest")
    ]
    start, end = longest_dry_m(walk, track)
    return (
        f"Places along the way by what they give: {', '.join(counts)}. The longest stretch without "
        f"ready water is {units.long(end - start)}, after {units.long(start)}."
    )
