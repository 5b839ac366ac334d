"""What the command line says of a walk on a terminal, in 80 columns."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Literal

from simulator.files import terminal_safe
from simulator.units import ML_PER_L, Units, duration, energy, number

COLUMNS = 80
"""Widest line printed [characters]."""

MOST_REASONS = 3
"""Reasons and cautions printed; the timeline has them all."""


def summary_text(
    summary: Mapping[str, object],
    *,
    system: Literal["metric", "us"] = "metric",
    written: Sequence[Path] = (),
    notes: Sequence[str] = (),
    bold: bool = False,
) -> str:
    """Lay out the verdict and the key figures of a walk.

    Parameters
    ----------
    summary : mapping
        As in summary.json; what is missing is left out or called unknown.
    system : {"metric", "us"}
        Units.
    written : sequence of pathlib.Path
        Files to name at the end.
    notes : sequence of str
        What to know of these files.
    bold : bool
        Whether the terminal shows the verdict in bold.

    Returns
    -------
    str
        Lines of at most 80 columns, without the last line's end; file names are not broken.
    """
    verdict = _table(summary, "verdict")
    level = terminal_safe(str(verdict.get("level", "unknown"))).upper()
    lines = [f"\x1b[1m{level}\x1b[0m" if bold else level]
    for reason in _texts(verdict.get("reasons"))[:MOST_REASONS]:
        lines += _item(reason)
    units = Units(system)
    lines += ["", *_figures(summary, units)]
    shortage = first_shortage(summary, units)
    lines += _row("first short", shortage or "nothing, as far as the models know")
    cautions = _texts(summary.get("cautions"))
    if cautions:
        lines += ["", "Mind:"]
        for caution in cautions[:MOST_REASONS]:
            lines += _item(caution)
        if len(cautions) > MOST_REASONS:
            lines += _item(f"{len(cautions) - MOST_REASONS} more in the timeline")
    for note in filter(None, notes):
        lines += ["", *textwrap.wrap(terminal_safe(note), COLUMNS)]
    if written:
        lines += ["", *_next_steps(written), "", "Written:"]
        lines += [f"  {terminal_safe(str(path))}" for path in written]
    return "\n".join(lines)


def first_shortage(summary: Mapping[str, object], units: Units) -> str:
    """Say what runs short first, and when; food is left out, for a body has its own store."""
    found: list[tuple[float, str]] = []
    for name, key, told in (
        ("water", "short_l", lambda short: _litres(units, short)),
        ("light", "short_h", duration),
    ):
        part = _table(summary, name)
        short, after = number(part.get(key)), number(part.get("first_short_h"))
        if short > 0:
            when = f" after {duration(after)}" if math.isfinite(after) else ""
            found.append((after if when else math.inf, f"{name}{when}, {told(short)} short"))
    return min(found)[1] if found else ""


def _figures(summary: Mapping[str, object], units: Units) -> Iterator[str]:
    """Give the key figures, one a line."""
    route, clock = _table(summary, "route"), _table(summary, "time")
    water, food, light = (_table(summary, name) for name in ("water", "food", "light"))
    felt = _table(summary, "cold_heat")
    bridges = route.get("bridges")
    count = len(bridges) if isinstance(bridges, list) else None
    crossings = "" if count is None else f", {count} bridge{'' if count == 1 else 's'}"
    length_m = number(route.get("distance_km")) * 1000
    climbs = [
        units.both(Units.height, number(route.get(name))) for name in ("ascent_m", "descent_m")
    ]
    yield from _row(
        "way",
        f"{units.both(Units.long, length_m)}, {climbs[0]} up, {climbs[1]} down{crossings}",
    )
    yield from _row("leave", _clock(clock.get("depart")))
    yield from _row(
        "home",
        f"{_clock(clock.get('arrive'))}, after {duration(number(clock.get('elapsed_h')))} "
        f"({duration(number(clock.get('moving_h')))} moving)",
    )
    yield from _row("sun", str(_table(summary, "sun").get("told") or ""))
    yield from _row("leave by", _for_daylight(summary, clock))
    yield from _row("home by", _home_by(clock))
    yield from _row(
        "water",
        ", ".join(
            f"{word} {_litres(units, water.get(f'{word}_l'))}"
            for word in ("need", "carried", "refilled")
        ),
    )
    yield from _row(
        "food",
        f"use {energy(number(food.get('need_kcal')))}, "
        f"carried {energy(number(food.get('carried_kcal')))}",
    )
    yield from _row(
        "dark",
        f"{duration(number(light.get('dark_h')))}, "
        f"light carried {duration(number(light.get('carried_h')))}",
    )
    coldest, hottest = (
        units.both(Units.degrees, number(felt.get(end)))
        for end in ("coldest_felt_c", "hottest_felt_c")
    )
    yield from _row("felt", coldest if coldest == hottest else f"{coldest} to {hottest}")


def _litres(units: Units, water_l: object) -> str:
    return units.both(Units.volume, number(water_l) * ML_PER_L)


def _for_daylight(summary: Mapping[str, object], clock: Mapping[str, object]) -> str:
    """Say when to leave so as to be home by dark; empty when that is not known."""
    dusk = _table(summary, "sun").get("civil_dusk")
    if "leave_by" not in clock or dusk is None:
        return ""
    found = clock["leave_by"]
    return (
        f"{'no hour' if found is None else _clock(found)}, to be home by dark {_clock(dusk)[11:]}"
    )


def _home_by(clock: Mapping[str, object]) -> str:
    """Say when to leave so as to be home by the hour the plan names; empty when it names none."""
    asked = _table(clock, "home_by")
    if not asked:
        return ""
    late_min, found = number(asked.get("late_min")), asked.get("leave_by")
    parts = [_clock(asked.get("at"))]
    if "leave_by" in asked:
        parts.append(
            f"leave by {_clock(found)}" if found else "no hour of this day is early enough"
        )
    if late_min > 0.0:
        parts.append(f"as planned too late by {duration(math.ceil(late_min) / 60.0)}")
    return ", ".join(parts)


def _next_steps(written: Sequence[Path]) -> Iterator[str]:
    """Say which of the files to open."""
    names = {path.name: path for path in written}
    if "timeline.pdf" in names:
        yield "Next: print timeline.pdf, walk a part of the way on a good day, and set"
        yield "pace_factor from your own time. Local authorities' word comes first."


def _row(label: str, text: str) -> list[str]:
    """Lay out a labelled line, wrapped under its text."""
    return textwrap.wrap(
        terminal_safe(text),
        COLUMNS,
        initial_indent=f"  {label:<13}",
        subsequent_indent=" " * 15,
    )


def _item(text: str) -> list[str]:
    """Lay out one entry of a list, wrapped."""
    plain = terminal_safe(text)
    return textwrap.wrap(plain, COLUMNS, initial_indent="  - ", subsequent_indent="    ")


def _clock(value: object) -> str:
    """Shorten an ISO time to the minute."""
    return str(value).replace("T", " ")[:16] if isinstance(value, str) else "unknown"


def _table(summary: Mapping[str, object], name: str) -> Mapping[str, object]:
    """Read one table of the summary; empty when it is not there."""
    found = summary.get(name)
    return found if isinstance(found, Mapping) else {}


def _texts(value: object) -> list[str]:
    """Read a list of sentences."""
    return [str(text) for text in value] if isinstance(value, list | tuple) else []
