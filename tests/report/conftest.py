"""An invented walk for drawing: plausible tables, no simulation behind them."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, is_dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace, UnionType
from typing import Any, get_args, get_origin, get_type_hints
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from PIL import Image

from simulator.ground.osm import Line
from simulator.home.directions import Direction
from simulator.home.records import Summary
from simulator.report.figures.style import new_axes
from simulator.report.page import html as html_page
from simulator.report.page.html import page_html
from simulator.report.paper import timeline
from simulator.report.paper.timeline import timeline_pdf
from simulator.sky.sun import daylight_state
from tests.report.grid_town import (
    EAST,
    M_PER_DEG_LAT,
    M_PER_DEG_LON,
    NORTH,
    grid_streets,
    lonlat_of,
)
from tests.report.hazards import HAZARDS

FloatArray = NDArray[np.float64]

ZONE = ZoneInfo("America/Moncton")
DEPART = datetime(2026, 10, 12, 16, 30, tzinfo=ZONE)
HOSTILE = (
    "<script>alert(1)</script> & <b>Bold</b> Lane",
    '=HYPERLINK("x","y")',
    "Bell\x07 and\x00 null\x1b[31m Street",
    "שדרות \u202eevil\u202c مرحبا Road",
    "Emoji 🌉🚰 Way $x^2$ #set *strong* `raw`",
    "]]> --> <!-- & {{ 7*7 }} {% x %}",
)
"""Names a map could hold: markup, a formula, control characters, direction overrides, templates."""


@dataclass(frozen=True)
class FixtureWalk:
    """Has the attributes of a finished walk, and nothing behind them."""

    plan: Any
    streets: Any
    hours: pd.DataFrame
    segments: pd.DataFrame
    refills: pd.DataFrame
    summary: dict[str, Any]
    path_lonlat: FloatArray
    lines: tuple[Any, ...] = field(default=())
    items: Any = None
    directions: tuple[Direction, ...] = ()
    what_if: Any = None
    closed: NDArray[np.bool_] | None = None
    water: Any = None

    @property
    def facts(self) -> Summary:
        """The summary as records; what a test leaves out is empty."""
        facts: Summary = record_from(Summary, self.summary)
        time = self.summary["time"]
        asked = time.get("home_by") or {"leave_by": None}
        return replace(facts, explored="leave_by" in time and "leave_by" in asked)


def record_from(kind: Any, told: Any) -> Any:  # noqa: ANN401 - any record, from plain values
    """Read a value of some type from plain values; fields that are not told are empty."""
    options = [one for one in get_args(kind) if one is not type(None)]
    value: Any = told
    if isinstance(kind, UnionType):
        value = None if told is None else record_from(options[0], told)
    elif kind is datetime:
        value = datetime.fromisoformat(told) if isinstance(told, str) else told or DEPART
    elif get_origin(kind) is tuple:
        least = [None] * (0 if options[-1] is ... else len(options))
        value = tuple(record_from(options[0], one) for one in told or least)
    elif get_origin(kind) is Mapping:
        value = dict(told or {})
    elif kind in (str, int, float, bool):
        value = kind() if told is None else told
    elif not is_dataclass(told):
        each = get_type_hints(kind).items()
        value = kind(**{name: record_from(one, (told or {}).get(name)) for name, one in each})
    return value


MakeWalk = Callable[..., FixtureWalk]


def _way_m() -> FloatArray:
    """About 25 km on a street grid, a river crossed twice."""
    corners = (
        np.array(
            [
                (0, 0),
                (2.1, 0),
                (2.1, 1.5),
                (5.2, 1.5),
                (5.2, 3.3),
                (6.0, 3.3),
                (6.0, 6.9),
                (9.0, 6.9),
                (9.0, 8.1),
                (12.6, 8.1),
                (12.6, 9.6),
                (14.4, 9.6),
            ]
        )
        * 1000.0
    )
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    at = np.linspace(0.0, length[-1], 1001)
    way = np.column_stack([np.interp(at, length, corners[:, axis]) for axis in (0, 1)])
    wobble = 60.0 * np.sin(at / 340.0)
    return way + np.column_stack([wobble, wobble[::-1]])


def _segments(way_m: FloatArray, street_names: list[str]) -> pd.DataFrame:
    run = np.hypot(*np.diff(way_m, axis=0).T)
    start = np.concatenate([[0.0], np.cumsum(run)])[:-1]
    height = 20.0 + 55.0 * np.exp(-(((start - 9000.0) / 2300.0) ** 2)) + 9.0 * np.sin(start / 900.0)
    ends = np.append(height, height[-1] - 0.2)
    moving = run / 1.34
    elapsed = np.cumsum(moving) - moving
    elapsed = elapsed + 600.0 * np.floor(elapsed / 3000.0)  # ten minutes after each fifty
    midday_drop = elapsed / 3600.0
    sun = 18.0 - 10.5 * midday_drop
    block = (start // 1250.0).astype(int)
    lonlat = lonlat_of(way_m)
    return pd.DataFrame(
        {
            "distance_m": start,
            "run_m": run,
            "rise_m": np.diff(ends),
            "height_m": height,
            "slope": np.diff(ends) / run,
            "height_known": np.ones(run.size, dtype=bool),
            "lat": lonlat[:-1, 1],
            "lon": lonlat[:-1, 0],
            "street": [street_names[b % len(street_names)] for b in block],
            "highway": np.where(block % 3 == 0, "footway", "residential"),
            "surface": "paved",
            "lit": np.where(block % 3 == 0, 0, 1).astype(np.int8),
            "unlit": block % 3 == 0,
            "steps": False,
            "bridge": (np.abs(start - 6200.0) < 90) | (np.abs(start - 15800.0) < 40),
            "bridge_name": np.where(np.abs(start - 6200.0) < 90, "Mill Bridge", ""),
            "tunnel": False,
            "way_id": 1000 + block,
            "elapsed_s": elapsed,
            "moving_s": moving,
            "speed_m_s": 1.34,
            "dark": sun < -0.833,
            "sun_elevation_deg": sun,
        }
    )


def _hours(steps: pd.DataFrame) -> pd.DataFrame:
    end = float(steps["elapsed_s"].iloc[-1] + steps["moving_s"].iloc[-1])
    edges = np.append(np.arange(0.0, end, 3600.0), end)
    along = np.interp(edges, steps["elapsed_s"], steps["distance_m"] + steps["run_m"])
    along[0] = 0.0
    share = np.diff(edges) / 3600.0
    lost = np.cumsum(430.0 * share)
    first = np.searchsorted(steps["distance_m"], along[:-1], side="right") - 1
    drunk = np.minimum(lost, 1000.0 + 750.0 * (edges[1:] > 2.6 * 3600))
    left = np.maximum(1000.0 + 750.0 * (edges[1:] > 2.6 * 3600) - drunk, 0.0)
    sun = np.interp((edges[1:] + edges[:-1]) / 2, steps["elapsed_s"], steps["sun_elevation_deg"])
    unlit = np.where(sun < -0.833, 18.0, 0.0) * share
    light = 0.9 - np.cumsum(unlit) / 60.0
    clock = [(DEPART + timedelta(seconds=float(e))).isoformat() for e in edges]
    ending = (
        np.interp(along[1:], steps["distance_m"], steps["lat"]),
        np.interp(along[1:], steps["distance_m"], steps["lon"]),
    )
    stops = [""] * share.size
    stops[2] = "drinking water, Fish Market tap: 0.8 L"
    return pd.DataFrame(
        {
            "hour": np.arange(share.size),
            "clock_start": clock[:-1],
            "clock_end": clock[1:],
            "place": steps["street"].to_numpy()[first],
            "lat": ending[0],
            "lon": ending[1],
            "distance_km": np.diff(along) / 1000.0,
            "distance_so_far_km": along[1:] / 1000.0,
            "speed_km_h": 4.8,
            "ascent_m": 31.0 * share,
            "descent_m": 24.0 * share,
            "moving_min": 50.0 * share,
            "resting_min": 10.0 * share,
            "stopped_min": 0.0,
            "energy_used_kcal": 330.0 * share,
            "eaten_kcal": 150.0 * share,
            "energy_short_kcal": np.cumsum(180.0 * share),
            "food_left_kcal": np.maximum(900.0 - np.cumsum(150.0 * share), 0.0),
            "water_lost_ml": 430.0 * share,
            "drunk_ml": np.diff(np.append(0.0, drunk)),
            "refilled_ml": 0.0,
            "water_left_ml": left,
            "water_short_ml": lost - drunk,
            "body_mass_loss_pct": (lost - drunk) / 800.0,
            "daylight": np.array(["day", "twilight", "night"])[daylight_state(sun)],
            "dark_min": np.where(sun < -0.833, 60.0, 0.0) * share,
            "unlit_min": unlit,
            "light_left_h": np.maximum(light, 0.0),
            "light_short_h": np.maximum(-light, 0.0),
            "air_c": 9.0 - 0.9 * np.arange(share.size),
            "felt_c": 6.0 - 1.2 * np.arange(share.size),
            "rain_mm": 0.0,
            "sun_elevation_deg": sun,
            "stops": stops,
            "warmth_have_clo": 1.0,
            "warmth_need_clo": np.append(np.nan, 0.7 + 0.12 * np.arange(1, share.size)),
            "warmth_short_clo": np.append(
                np.nan, np.maximum(0.12 * np.arange(1, share.size) - 0.3, 0.0)
            ),
            "warmth_basis": ["not asked", *["walking"] * (share.size - 1)],
        }
    )


def _refills(steps: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    kinds = (
        ("drinking water", "water", False, False),
        ("supermarket", "water, food", False, False),
        ("shelter", "shelter, rest", False, False),
        ("hospital", "help, shelter, water", False, False),
        ("bench", "rest", False, False),
        ("spring", "water", True, False),
        ("outside tap", "water", False, True),
        ("fire station", "help", False, False),
    )
    rng = np.random.default_rng(3)
    # Uneven, with one long dry stretch.
    along = np.sort(np.concatenate([rng.uniform(0.4, 14.0, 34), rng.uniform(19.6, 24.8, 14)]))
    rows = []
    for index, km in enumerate(along):
        kind, gives, treat, key = kinds[(index * 5) % len(kinds)]
        when = DEPART + timedelta(
            seconds=float(np.interp(km * 1000, steps["distance_m"], steps["elapsed_s"]))
        )
        used = kind == "drinking water" and 11.0 < km < 14.0
        at = int(np.searchsorted(steps["distance_m"], km * 1000.0)) - 1
        off = float(rng.uniform(0, 280))
        rows.append(
            {
                "kind": kind,
                "name": names[index % len(names)],
                "osm": f"n{100 + index}",
                "lat": steps["lat"].iloc[at] + off / M_PER_DEG_LAT * (-1) ** index,
                "lon": steps["lon"].iloc[at] + off / M_PER_DEG_LON,
                "along_km": float(km),
                "off_m": off,
                "hours": "Mo-Sa 08:00-20:00",
                "arrive": when.isoformat(),
                "open": ("yes", "unknown", "no")[index % 3],
                "gives": gives,
                "needs_treatment": treat,
                "needs_key": key,
                "relied_on": not key,
                "used": used,
                "why": "fills the bottle before a dry stretch" if used else "bottle still full",
                "litres": 0.75 if used else 0.0,
            }
        )
    return pd.DataFrame(rows)


def _summary(hours: pd.DataFrame, level: str) -> dict[str, Any]:
    return {
        "schema": 1,
        "seed": 0,
        "inputs": {"town.osm.pbf": "ab" * 32, "heights.tif": "cd" * 32},
        "route": {
            "distance_km": float(hours["distance_so_far_km"].iloc[-1]),
            "ascent_m": 187.4,
            "descent_m": 160.2,
            "bridges": ["Mill Bridge", "Long Weir Bridge"],
            "steps_m": 42.0,
            "unlit_km": 3.42,
            "main_bridge": {
                "name": "Mill Bridge",
                "reachable": True,
                "extra_min": 25.4,
                "extra_km": 1.9,
                "via": ["Long Weir Bridge"],
                "turn_km": 5.4,
                "turn_into": "Weir Lane",
            },
        },
        "time": {
            "depart": str(hours["clock_start"].iloc[0]),
            "arrive": str(hours["clock_end"].iloc[-1]),
            "moving_h": 5.0,
            "resting_h": 0.98,
            "stopped_h": 0.1,
            "elapsed_h": 6.08,
            "dark_h": 3.9,
            "leave_by": "2026-10-12T12:15:00-03:00",
        },
        "water": {
            "need_l": 2.61,
            "carried_l": 1.0,
            "refilled_l": 0.75,
            "drunk_l": 1.75,
            "left_l": 0.0,
            "short_l": 0.86,
            "worst_body_mass_loss_pct": 1.08,
            "first_short_h": 4.07,
        },
        "food": {
            "need_kcal": 1980.0,
            "carried_kcal": 900.0,
            "eaten_kcal": 900.0,
            "short_kcal": 1080.0,
        },
        "light": {"dark_h": 1.5, "carried_h": 0.9, "short_h": 0.6},
        "shortages": [
            {"what": "water", "missing": 0.86, "from_h": 4.07, "counts_in_verdict": True},
            {"what": "food", "missing": 1080.0, "from_h": 2.0, "counts_in_verdict": False},
            {"what": "light to see by", "missing": 0.6, "from_h": 5.0, "counts_in_verdict": True},
        ],
        "sun": {
            "civil_dawn": "2026-10-12T07:04:00-03:00",
            "sunrise": "2026-10-12T07:34:00-03:00",
            "sunset": "2026-10-12T18:35:00-03:00",
            "civil_dusk": "2026-10-12T19:04:00-03:00",
        },
        "cold_heat": {"coldest_felt_c": -1.2, "hottest_felt_c": 6.0},
        "verdict": {
            "level": level,
            "reasons": [
                "water runs short from hour 5, by up to 0.9 L",
                "0.6 h of unlit way after dark without a working lamp",
            ],
        },
        "hazards": HAZARDS,
        "cautions": [
            "Drink to thirst; more than about 1 L an hour for hours can be dangerous.",
            "Treat water from springs; boiling or the bag's means, as its maker says.",
        ],
        "assumptions": [
            "10 minutes of rest in each hour",
            "street lights out in the event",
            "pace: tobler_1993 with surface, stairs, load and dark factors",
        ],
    }


def _items(names: list[str]) -> SimpleNamespace:
    count = len(names)
    return SimpleNamespace(
        item=tuple(names),
        purpose=("food", "light", "warmth", *("tool",) * count)[:count],
        quantity=np.array([3.0, *([1.0] * (count - 1))]),
        expires=(date(2027, 3, 31), *(None,) * (count - 1)),
        caution=("contains nuts", *("",) * (count - 1)),
    )


def _lines(steps: pd.DataFrame, landmark: str) -> tuple[Direction, ...]:
    """One line a street, turning right and left by turns."""
    streets = steps["street"]
    firsts = np.flatnonzero(streets != streets.shift())
    edges = np.append(firsts, len(steps))
    at = [*steps["distance_m"].iloc[firsts], steps["distance_m"].iloc[-1] + steps["run_m"].iloc[-1]]
    return tuple(
        Direction(
            along_m=at[row],
            turn=("right", "left")[row % 2] if row else "start",
            street=streets.iloc[first],
            kind="residential",
            heading="north-east",
            after=landmark if row == 1 else "",
            past=row % 3,
            past_m=40.0,
            leaving=((landmark, "left"),) if row == 2 else (),
            length_m=at[row + 1] - at[row],
            over=tuple(
                dict.fromkeys(
                    name for name in steps["bridge_name"].iloc[first : edges[row + 1]] if name
                )
            ),
        )
        for row, first in enumerate(firsts)
    )


@pytest.fixture(scope="session")
def make_walk() -> MakeWalk:
    """Build invented walks: ``make_walk(units="us", hostile=True, level="walk")``."""

    def build(
        *, units: str = "metric", hostile: bool = False, level: str = "walk with care"
    ) -> FixtureWalk:
        plain = [
            "Harbour Street",
            "Mill Bridge",
            "Long Weir Road",
            "Orchard Lane",
            "",
            "Ridge Path",
        ]
        names = list(HOSTILE) if hostile else plain
        way_m = _way_m()
        steps = _segments(way_m, names)
        hours = _hours(steps)
        river = np.column_stack([np.linspace(-3000.0, 17000.0, 90)] * 2)
        river = lonlat_of(np.column_stack([river[:, 0], 2600 + 900 * np.sin(river[:, 0] / 2500.0)]))
        park = lonlat_of(
            np.array(
                [(7000, 7200), (8600, 7200), (8600, 8300), (7000, 8300), (7000, 7200)],
                dtype=np.float64,
            )
        )
        summary = _summary(hours, level)
        if hostile:
            summary["route"]["bridges"] = list(HOSTILE)
            summary["verdict"]["reasons"] = list(HOSTILE)
            summary["inputs"] = {HOSTILE[0]: "00" * 32}
            summary["hazards"] = [one | {"street": HOSTILE[0]} for one in HAZARDS]
        return FixtureWalk(
            plan=SimpleNamespace(
                title=HOSTILE[0] if hostile else "Home from work by the river",
                units=units,
                choices=SimpleNamespace(page="A4", also=(), font=None, what_if=True, print="usual"),
                weather=SimpleNamespace(file=None),
                trip=SimpleNamespace(timezone=None, start=(NORTH, EAST)),
            ),
            streets=grid_streets(),
            hours=hours,
            segments=steps,
            refills=_refills(steps, [*names[:3], "", *names[3:]]),
            summary=summary,
            path_lonlat=lonlat_of(way_m),
            items=_items(names if hostile else ["oat bars", "head torch", "foil blanket"]),
            directions=_lines(steps, names[0]),
            lines=(
                Line({"waterway": "river"}, river[:, 0], river[:, 1]),
                Line({"leisure": "park"}, park[:, 0], park[:, 1]),
            ),
        )

    return build


@pytest.fixture(scope="session")
def walk(make_walk: MakeWalk) -> FixtureWalk:
    """Give the plain invented walk."""
    return make_walk()


@pytest.fixture(scope="session")
def hostile(make_walk: MakeWalk) -> FixtureWalk:
    """Give a walk through a map whose names are attacks."""
    return make_walk(hostile=True)


@pytest.fixture(scope="session")
def pdf(walk: FixtureWalk) -> bytes:
    """Give the plain walk's timeline on A4."""
    return timeline_pdf(walk)


@pytest.fixture(scope="session")
def hostile_pdf(hostile: FixtureWalk) -> bytes:
    """Give the timeline of a walk whose names are attacks."""
    return timeline_pdf(hostile)


@pytest.fixture(scope="session")
def us_pdf(make_walk: MakeWalk) -> bytes:
    """Give the timeline in US customary units, on Letter."""
    return timeline_pdf(make_walk(units="us"), page="Letter")


@pytest.fixture(scope="session")
def html(walk: FixtureWalk) -> str:
    """Give the plain walk's page."""
    return page_html(walk)


@pytest.fixture(scope="session")
def hostile_html(hostile: FixtureWalk) -> str:
    """Give the page of a walk whose names are attacks."""
    return page_html(hostile)


@pytest.fixture
def plain_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the figures of paper and page empty at their size, where only words are looked at."""

    def empty(_walk: object, *_places: object, **given: Any) -> Any:  # noqa: ANN401 - untyped axes
        size_in = given.get("size_in") or (given.get("width_in", 3.0), given.get("height_in", 2.0))
        axes = new_axes(size_in, (0.0, 0.0, 0.0, 0.0))
        axes.set_axis_off()
        return axes

    for module in (timeline, html_page):
        for name in ("route_map", "card_map", "inset_map", "profile", "refill_strip", "ledger"):
            if hasattr(module, name):
                monkeypatch.setattr(module, name, empty)


FOOT_SHARE = 0.075
"""Of a page's height, taken by the footer."""


def blank_shares(pdf: bytes) -> list[float]:
    """Give the highest blank band of each page, as a share of its height; the footer left out."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed here")
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "p.pdf").write_bytes(pdf)
        run = ["pdftoppm", "-r", "30", "-gray", "p.pdf", "page"]
        subprocess.run(run, cwd=name, check=True, timeout=60)
        shares = []
        for page in sorted(Path(name).glob("page*.pgm")):
            dots = np.asarray(Image.open(page))
            body = dots[: int(dots.shape[0] * (1.0 - FOOT_SHARE))]
            inked = np.flatnonzero((body < 200).any(axis=1))
            edges = np.concatenate([[-1], inked, [body.shape[0]]])
            shares.append(float(np.diff(edges).max()) / dots.shape[0])
    return shares
