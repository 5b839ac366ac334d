"""Where on the way to take care, as rows a person reads."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from simulator.questions.hazards import KINDS
from simulator.report.rows import clock_words
from simulator.report.subject import Track, Walk
from simulator.report.words import clean
from simulator.units import Units, number

MOST = 24
"""Places to take care at that are printed and drawn, the gravest kinds first."""


@dataclass(frozen=True, slots=True)
class Care:
    """One place to take care at, ready to print.

    Attributes
    ----------
    mark, along, when, what, advice : str
        Its letter, where it begins (and ends) in the printed unit, about when it is reached, what
        it is, and one line of advice.
    """

    mark: str
    along: str
    when: str
    what: str
    advice: str


def chosen(walk: Walk) -> list[dict[str, Any]]:
    """Choose what is printed: all of it, or the gravest kinds and the longest stretches.

    Parameters
    ----------
    walk : Walk
        The walk.

    Returns
    -------
    list of dict
        Entries of ``summary["hazards"]``, at most `MOST`, in walking order.
    """
    told: list[dict[str, Any]] = walk.summary.get("hazards", [])
    if len(told) <= MOST:
        return told
    gravity = {kind: rank for rank, kind in enumerate(KINDS)}
    ranked = sorted(
        range(len(told)),
        key=lambda row: (
            gravity.get(str(told[row]["kind"]), len(gravity)),
            number(told[row]["from_km"]) - number(told[row]["to_km"]),
            row,
        ),
    )
    return [told[row] for row in sorted(ranked[:MOST])]


def care_rows(walk: Walk, units: Units, track: Track) -> tuple[Care, ...]:
    """Write the places to take care at as rows.

    Parameters
    ----------
    walk : Walk
        The walk.
    units : Units
        Units to print in.
    track : Track
        Its positions.

    Returns
    -------
    tuple of Care
        In walking order.
    """
    depart = track.clock(0.0)
    rows = []
    for one in chosen(walk):
        begins, ends = (number(one[key]) * 1000.0 / units.long_m for key in ("from_km", "to_km"))
        span = (
            f"{begins:.1f}" if f"{ends:.1f}" == f"{begins:.1f}" else f"{begins:.1f} to {ends:.1f}"
        )
        street = clean(one["street"], longest=60)
        words = clean(one["words"], longest=80)
        rows.append(
            Care(
                mark=clean(one["mark"], longest=3),
                along=span,
                when=clock_words(datetime.fromisoformat(str(one["reached"])), depart),
                what=f"{words[:1].upper()}{words[1:]}{f': {street}' if street else ''}",
                advice=clean(one["advice"], longest=120),
            )
        )
    return tuple(rows)


def care_feature(one: dict[str, Any], coordinates: list[list[float]]) -> dict[str, Any]:
    """Give a place to take care at as a GeoJSON feature.

    Parameters
    ----------
    one : dict
        Entry of ``summary["hazards"]``.
    coordinates : list of list of float
        Positions along it.

    Returns
    -------
    dict
        A line, or a point where it has no length.
    """
    told = {name: clean(one[name]) for name in ("mark", "kind", "street", "words", "advice")}
    return {
        "type": "Feature",
        "geometry": {"type": "LineString", "coordinates": coordinates}
        if len(coordinates) > 1
        else {"type": "Point", "coordinates": coordinates[0]},
        "properties": {
            "what": "take care",
            **told,
            "from_km": round(number(one["from_km"]), 3),
            "to_km": round(number(one["to_km"]), 3),
            "reached": str(one["reached"]),
        },
    }
