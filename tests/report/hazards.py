"""Places to take care at on the invented walk."""

from __future__ import annotations

from typing import Any

from tests.report.grid_town import EAST, NORTH

HAZARDS: list[dict[str, Any]] = [
    {
        "mark": mark,
        "kind": kind,
        "from_km": from_km,
        "to_km": to_km,
        "lat": NORTH,
        "lon": EAST,
        "reached": f"2026-10-12T{reached}:00-03:00",
        "street": street,
        "words": words,
        "advice": advice,
    }
    for mark, kind, from_km, to_km, reached, street, words, advice in (
        ("a", "ford", 3.1, 3.1, "17:08", "", "crosses water without a bridge", "go round"),
        ("b", "traffic in the dark", 12.5, 14.0, "19:40", "Weir Lane", "unlit road", "be seen"),
    )
]
"""A point and a stretch to take care at."""
