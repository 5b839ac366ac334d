"""Water on paper: one bottle more, how sure the stops are, and the way that never runs dry.

What to show where
------------------
- ``bottle_rows(walk)``: a small table beside the ledger: bottle, stops, home at, water missing.
- ``water_lines(walk)``: four or five sentences for the first page, under the refills.
- ``bottles_csv(walk)``: the file bottles.csv.
- ``never_dry_feature(walk)``: one more line in route.geojson and on the map, where it differs.
- ``bottles_figure(walk)``: water taken and missing by bottle, for a notebook or a page.

In ``walk.refills`` the columns ``next_water``, ``next_water_km``, ``next_water_ml``,
``next_water_needs``, ``treatment``, ``works_share`` and ``if_dry`` belong to each place, and the
first four also to each hour of ``walk.hours``.
"""

from __future__ import annotations

import math
from dataclasses import asdict, astuple, dataclass, fields
from datetime import datetime
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
import pandas as pd

from simulator.files import csv_text
from simulator.home.records import (
    DryChance,
    LeastBottle,
    NextWater,
    OtherBottle,
    TreatmentUsed,
    WetWay,
)
from simulator.report.figures.style import ACCENT, INK, PAPER, in_ink, new_axes
from simulator.report.subject import DrawnWalk
from simulator.report.words import clean
from simulator.units import Units, duration, percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DIGITS = {
    "bottle_l": 2,
    "bag_kg": 2,
    "refilled_l": 2,
    "left_l": 2,
    "short_l": 2,
    "first_short_h": 2,
    "worst_body_mass_loss_pct": 1,
    "elapsed_h": 2,
}
"""Decimals in bottles.csv."""

LEAST_ML = 1.0
"""Water missing below this is a rounding, not a thirst [mL]."""

TENTH = 0.1
"""Volumes are said to this [L or quarts]; less than half of it is still not nothing."""


@dataclass(frozen=True, slots=True)
class Bottle:
    """One bottle on the same way, ready to print.

    Attributes
    ----------
    holds, stops, missing, loss, home : str
        What each walker's bottle holds, stops for water, water missing, largest loss of body mass,
        time at home.
    dry : bool
        Whether it runs dry.
    """

    holds: str
    stops: str
    missing: str
    loss: str
    home: str
    dry: bool


def bottle_rows(walk: DrawnWalk) -> tuple[Bottle, ...]:
    """Say each bottle in words, the smallest first."""
    units = Units(walk.plan.units)
    rows = []
    for row in walk.facts.water.bottles:
        missing_ml = 1000.0 * row.short_l
        dry = missing_ml > LEAST_ML
        rows.append(
            Bottle(
                holds=units.cups(1000.0 * row.bottle_l),
                stops=str(row.stops) if row.stops else "none",
                missing=_missing(missing_ml, units) if dry else "none",
                loss=f"{row.worst_body_mass_loss_pct:.1f} %",
                home=f"{datetime.fromisoformat(row.arrive):%H:%M}",
                dry=dry,
            )
        )
    return tuple(rows)


def _missing(missing_ml: float, units: Units) -> str:
    """Say a shortage so that a small one does not read as nothing."""
    least_ml = 10.0**-units.cup_digits * units.cup_ml
    if missing_ml < 0.5 * least_ml:
        return f"under {units.cups(least_ml)}"
    return units.cups(missing_ml)


def _enough(amount_ml: float, units: Units) -> str:
    """Say a bottle that is enough, never rounded to a smaller one."""
    tenth_ml = TENTH * units.volume_ml
    return units.volume(math.ceil(amount_ml / tenth_ml) * tenth_ml)


def water_lines(walk: DrawnWalk) -> tuple[str, ...]:
    """Say what the water of this walk hangs on, one fact a sentence."""
    units, water = Units(walk.plan.units), walk.facts.water
    lines = [
        _next(water.next, units),
        _sure(water.chance_dry, short=water.short_l * 1000.0 > LEAST_ML),
        _least(water.least_bottle_l, units),
        *(_used(one, units) for one in water.treatment),
        _never_dry(water.never_dry, units),
    ]
    return tuple(clean(line, longest=400) for line in lines if line)


def _next(told: NextWater | None, units: Units) -> str:
    if not told:
        return ""
    far = units.long(1000.0 * told.km)
    needs = "" if told.needs == "nothing" else f", which takes {told.needs}"
    return f"First water that can be relied on: {told.place}, after {far}{needs}."


def _sure(chance: DryChance | None, *, short: bool) -> str:
    if not chance:
        return ""
    if short:
        return "Even where every place works, the planned stops run dry."
    planned, onward, best = (
        percent(share) for share in (chance.as_planned, chance.going_on, chance.at_best)
    )
    return (
        "Should each place work only as often as assumed, the planned stops alone run dry in "
        f"{planned} of such days; going on to the next place when one is dry, in {onward}; trying "
        f"every place that helps, in {best}, which takes {duration(chance.extra_min / 60.0)} "
        "more."
    )


def _least(least: LeastBottle | None, units: Units) -> str:
    if not least:
        return ""
    every, none = (_enough(1000.0 * litres, units) for litres in (least.every_place, least.no_stop))
    return (
        f"The smallest bottle that never runs dry on this way holds {every}, filled at every place "
        f"relied on; without any stop it takes {none}."
    )


def _used(treatment: TreatmentUsed, units: Units) -> str:
    used, left = (units.volume(1000.0 * litres) for litres in (treatment.used_l, treatment.left_l))
    if treatment.used_l <= 0.0:
        return ""
    doses = treatment.doses_used
    count = f"{doses:.0f} " if doses else ""
    return f"Treatment used up: {count}{treatment.method}, for {used}; left for {left}."


def _never_dry(told: WetWay | None, units: Units) -> str:
    if not told:
        return ""
    if told.other is not None:
        far = units.long(1000.0 * told.other.distance_km)
        later = duration(abs(told.other.extra_min) / 60.0)
        when = "later" if told.other.extra_min >= 0.0 else "sooner"
        ends = "never runs dry" if told.exists else "runs less dry"
        places = "; ".join(told.other.places)
        return f"Another way {ends}: {far}, home {later} {when}, filling at {places}."
    if told.fastest_runs_dry:
        return (
            "No way home on this map was found on which this bottle lasts from one place to the "
            "next: carry more."
        )
    return ""


def bottles_csv(walk: DrawnWalk) -> str:
    """Give the comparison of bottles as CSV."""
    rows = walk.facts.water.bottles
    if not rows:
        return ""
    names = [field.name for field in fields(OtherBottle)]
    return csv_text(names, (astuple(row) for row in rows), decimals=DIGITS)


def never_dry_feature(walk: DrawnWalk) -> dict[str, Any] | None:
    """Give the way that never runs dry as a GeoJSON feature (RFC 7946)."""
    lonlat = None if walk.water is None else walk.water.never_dry_lonlat
    told = walk.facts.water.never_dry
    if lonlat is None or told is None or told.other is None:
        return None
    return {
        "type": "Feature",
        "geometry": {
            "type": "LineString",
            "coordinates": [list(point) for point in np.round(lonlat, 6).tolist()],
        },
        "properties": {
            "what": "way never dry" if told.exists else "way less dry",
            "distance_km": round(told.other.distance_km, 3),
            "extra_min": round(told.other.extra_min, 1),
            "places": [clean(place) for place in told.other.places],
        },
    }


@in_ink
def bottles_figure(
    walk: DrawnWalk, ax: Axes | None = None, *, size_in: tuple[float, float] = (3.4, 2.2)
) -> Axes:
    """Draw each bottle's water: carried and taken upwards, missing downwards."""
    ax = ax or new_axes(size_in, (0.55, 0.45, 0.10, 0.15))
    units = Units(walk.plan.units)
    rows = pd.DataFrame([asdict(row) for row in walk.facts.water.bottles])
    if rows.empty:
        ax.set_axis_off()
        return ax
    per = 1000.0 / units.volume_ml
    carried, taken, short = (
        rows[name].to_numpy(np.float64) * per for name in ("bottle_l", "refilled_l", "short_l")
    )
    people = len(walk.plan.walker)
    at = np.arange(len(rows))
    ax.bar(at, carried * people, width=0.6, facecolor=INK, edgecolor=INK, lw=0.9, label="carried")
    ax.bar(
        at,
        taken,
        bottom=carried * people,
        width=0.6,
        facecolor=PAPER,
        edgecolor=INK,
        lw=0.9,
        label="refilled",
    )
    with mpl.rc_context({"hatch.color": ACCENT}):
        ax.bar(
            at,
            -short,
            width=0.6,
            facecolor=PAPER,
            edgecolor=ACCENT,
            hatch="//////",
            lw=0.9,
            label="missing",
        )
    top = carried * people + taken
    for place, height, stops in zip(at.tolist(), top.tolist(), rows["stops"].tolist(), strict=True):
        words = "no stop" if stops == 0 else "1 stop" if stops == 1 else f"{stops} stops"
        ax.annotate(
            words,
            (place, height),
            xytext=(0.0, 2.0),
            textcoords="offset points",
            ha="center",
            va="bottom",
        )
    low, high = -float(short.max(initial=0.0)), float(top.max(initial=0.0))
    span = max(high - low, 1e-6)
    ax.set_ylim(low - 0.06 * span if low < 0.0 else 0.0, high + 0.14 * span)
    ax.axhline(0.0, color=INK, lw=0.8)
    ax.set_xticks(at, [f"{value:g}" for value in np.round(carried, 2).tolist()])
    ax.set_xlabel(f"bottle of each walker ({units.volume_name})")
    ax.set_ylabel(f"water ({units.volume_name})")
    if math.isfinite(span):
        ax.legend(loc="best", frameon=False, fontsize="small")
    return ax
