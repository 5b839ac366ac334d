"""A place found and the map fetched at the desk, in a real browser, from loopback servers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.desk.conftest import Started, end
from tests.desk.test_desk_page import Visit, browser, pytestmark

if TYPE_CHECKING:
    from tests.fetch.conftest import Server

__all__ = ["browser", "pytestmark"]

PLAN = """\
[trip]
start = [60.1711, 24.9414]
home = [60.1722, 24.9470]
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
margin_km = 0.5
places_from = "{places}"
streets_from = "{streets}/interpreter"
heights_from = "none"
"""


def test_a_place_is_found_and_the_map_fetched_only_when_agreed(
    browser: Any,  # noqa: ANN401 - a fixture, untyped at run time
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    street_server: Server,
    place_server: Server,
) -> None:
    monkeypatch.setenv("WALKHOME_CACHE", str(tmp_path / "cache"))
    path = tmp_path / "plan.toml"
    servers = {"places": place_server.address, "streets": street_server.address}
    path.write_text(PLAN.format(**servers), encoding="utf-8")
    desk = Started([str(path)], tmp_path)
    try:
        visit = Visit(browser, desk, ready=False)
        page = visit.page
        page.locator("#bring summary").click()
        page.get_by_label("Name of a place").fill("Central Station, Helsinki")
        page.locator("#find").click()
        page.wait_for_selector("#find-buttons button")
        # The plan's own server is the one named, and nobody has been asked yet.
        assert place_server.address in visit.text("find-words")
        assert place_server.seen == []
        page.get_by_role("button", name="Ask it").click()
        page.get_by_role("button", name="Use it as start").click()
        assert [one.form["q"] for one in place_server.seen] == ["Central Station, Helsinki"]
        assert page.locator('[data-entry="trip.start"]').input_value().startswith("60.171")
        page.locator("#look").click()
        page.wait_for_selector("#fetch:not([hidden])")
        assert street_server.address in visit.text("look-words")
        assert street_server.seen == []
        page.locator("#fetch").click()
        page.wait_for_function(
            "() => document.getElementById('fetch-words').textContent.startsWith('Fetched')"
        )
        visit.answered()
        assert "km on foot" in visit.text("sentence")
        assert street_server.seen
        assert visit.faults() == []
        visit.close()
    finally:
        end([desk])
