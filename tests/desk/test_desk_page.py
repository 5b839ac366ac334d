"""The whole job at the desk in a real browser: by mouse, by keyboard alone, on a narrow screen."""

from __future__ import annotations

import json
import shutil
import tomllib
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

from simulator.bag.items import read_items
from tests.desk.conftest import Start, Started

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "chrome"))), None)

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine to show the page"),
    pytest.mark.skipif(
        find_spec("playwright") is None or find_spec("axe_playwright_python") is None,
        reason="playwright or the checks of accessibility are not installed here",
    ),
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        shown = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield shown
        shown.close()


class Visit:
    """An open desk, and whatever its page complained of or asked of others."""

    def __init__(
        self,
        browser: Any,  # noqa: ANN401 - untyped at run time
        desk: Started,
        *,
        width: int = 1280,
        ready: bool = True,
    ) -> None:
        self.complaints: list[str] = []
        self.foreign: list[str] = []
        self.context = browser.new_context(viewport={"width": width, "height": 900})
        self.page = self.context.new_page()
        self.page.set_default_timeout(60_000)
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", self._asked)
        self.own = f"http://127.0.0.1:{desk.port}/"
        self.answers = 0
        self.page.goto(desk.address)
        if ready:  # a plan without a map has no answer yet
            self.answered()

    def _heard(self, message: Any) -> None:  # noqa: ANN401 - as above
        if message.type in {"error", "warning"}:
            self.complaints.append(message.text)

    def _asked(self, request: Any) -> None:  # noqa: ANN401 - as above
        if not request.url.startswith((self.own, "data:")):
            self.foreign.append(request.url)

    def answered(self) -> None:
        """Wait for the answer to what was changed last."""
        self.page.wait_for_function(
            "before => Number(document.documentElement.dataset.ready || 0) > before"
            " && !document.body.classList.contains('stale')",
            arg=self.answers,
        )
        self.answers = int(self.page.evaluate("document.documentElement.dataset.ready"))

    def text(self, element: str) -> str:
        """Read what an element says."""
        return str(self.page.locator(f"#{element}").text_content())

    def mark(self, name: str) -> Any:  # noqa: ANN401 - as above
        """Find a mark on the map by the beginning of its name."""
        return self.page.locator(f'#marks g[aria-label^="{name}"]')

    def tab_to(self, wanted: str) -> None:
        """Press Tab until something whose name begins so has the focus."""
        for _ in range(400):
            self.page.keyboard.press("Tab")
            name = self.page.evaluate(
                "(() => { const e = document.activeElement; const label = e.labels && e.labels[0];"
                " return (e.getAttribute('aria-label') || (label && label.textContent)"
                " || e.textContent || '').trim(); })()"
            )
            if str(name).startswith(wanted):
                return
        message = f"Tab does not lead to {wanted!r}"
        raise AssertionError(message)

    def faults(self) -> list[str]:
        """Run axe-core's checks of accessibility (WCAG 2.2 A and AA among them)."""
        spec = find_spec("axe_playwright_python")
        assert spec is not None
        assert spec.submodule_search_locations
        checks = Path(spec.submodule_search_locations[0]) / "axe.min.js"
        self.page.evaluate(checks.read_text(encoding="utf-8"))
        found = self.page.evaluate("() => axe.run()")["violations"]
        return [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found]

    def close(self) -> None:
        """Leave, having complained of nothing and asked nobody else."""
        self.context.close()
        assert not self.complaints
        assert not self.foreign


def touch(visit: Visit, name: str) -> None:
    """Touch the middle of a mark, whatever lies over it."""
    visit.mark(name).scroll_into_view_if_needed()
    box = visit.mark(name).bounding_box()
    visit.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def drag(visit: Visit, name: str, by: tuple[float, float]) -> None:
    visit.mark(name).scroll_into_view_if_needed()
    box = visit.mark(name).bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    visit.page.mouse.move(x, y)
    visit.page.mouse.down()
    visit.page.mouse.move(x + by[0], y + by[1], steps=4)
    visit.page.mouse.up()


@pytest.mark.parametrize("width", [1280, 360])
def test_the_whole_job_by_mouse(  # noqa: PLR0915 - one job from end to end
    browser: Any,  # noqa: ANN401 - as above
    start: Start,
    tmp_path: Path,
    width: int,
) -> None:
    desk = start()
    visit = Visit(browser, desk, width=width)
    page = visit.page
    assert "Walk" in visit.text("headline") or "wait" in visit.text("headline")
    assert visit.faults() == []
    before = visit.text("sentence")

    touch(visit, "Old Ossen Bridge")  # shut by touching it
    visit.answered()
    assert page.locator("#beside").is_visible()
    assert visit.text("sentence") != before
    assert visit.faults() == []
    page.keyboard.press("Escape")
    visit.answered()
    assert visit.text("sentence") == before
    assert not page.locator("#beside").is_visible()

    drag(visit, "Home", (-30, 12))
    visit.answered()
    page.get_by_role("button", name="Draw a closed area").click()
    box = page.locator("#map").bounding_box()
    for x, y in ((0.08, 0.42), (0.2, 0.42), (0.2, 0.55)):
        page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])
    page.get_by_role("button", name="Close the area").click()
    visit.answered()
    assert visit.mark("Closed area 1").count() == 1

    page.get_by_label("Depart").fill("2026-11-18T07:00")
    visit.answered()
    assert "leaving 07:00" in visit.text("sentence")
    page.get_by_label("Mass, kg").fill("70")
    visit.answered()
    page.get_by_role("button", name="Add an item").click()
    visit.answered()
    page.keyboard.type("flask")
    page.get_by_label("water, ml of flask").or_(
        page.locator("#bag tbody tr:last-child td.water_ml input")
    ).last.fill("750")
    visit.page.wait_for_timeout(300)
    page.locator("#bag tbody tr:last-child td.mass_g input").fill("800")
    visit.answered()

    page.get_by_role("button", name="Save").click()
    page.wait_for_function(
        "() => document.getElementById('save-words').textContent.startsWith('Saved')"
    )
    visit.answered()
    saved = tomllib.loads((tmp_path / "walkhome-desk" / "plan.toml").read_text(encoding="utf-8"))
    assert saved["walker"]["mass_kg"] == 70
    assert saved["trip"]["depart"].hour == 7
    assert saved["event"]["closed_area"] == "closed.geojson"
    assert "flask" in (tmp_path / "walkhome-desk" / "bag.csv").read_text(encoding="utf-8")
    page.get_by_label("Mass, kg").fill("71")
    visit.answered()
    page.get_by_role("button", name="Save").click()
    page.get_by_role("button", name="Replace").click()
    page.wait_for_function("() => document.getElementById('drafted').hidden")
    with page.expect_download() as download:
        page.get_by_role("link", name="All files").click()
    assert download.value.path().stat().st_size > 100_000
    width_now = page.evaluate("document.documentElement.scrollWidth")
    assert width_now <= width
    visit.close()


def test_the_whole_job_by_keyboard_alone(browser: Any, start: Start, tmp_path: Path) -> None:  # noqa: ANN401 - as above
    desk = start()
    visit = Visit(browser, desk)
    press = visit.page.keyboard.press
    before = visit.text("sentence")
    visit.tab_to("Old Ossen Bridge")
    press("Enter")
    visit.answered()
    assert visit.text("sentence") != before
    assert visit.page.evaluate("document.activeElement.getAttribute('aria-label')").startswith(
        "Old Ossen Bridge"
    )
    press("Escape")
    visit.answered()
    visit.tab_to("Home")
    for _ in range(3):
        press("Shift+ArrowLeft")
    visit.answered()
    assert visit.text("sentence") != before
    visit.page.locator("#kicker").click()
    visit.tab_to("Draw a closed area")
    press("Enter")
    for key in ("ArrowUp", "ArrowRight", "ArrowDown"):
        press(key)
        press("Enter")
    visit.page.locator("#area-close").focus()
    press("Enter")
    visit.answered()
    visit.tab_to("Depart")
    visit.page.keyboard.type("1118")
    visit.tab_to("Mass, kg")
    visit.page.keyboard.type("65")
    visit.answered()
    visit.tab_to("quantity of oat bars")
    press("Control+A")
    visit.page.keyboard.type("5")
    visit.answered()
    visit.page.locator("#kicker").click()
    visit.tab_to("Keep it")
    press("Enter")
    visit.tab_to("Save")
    press("Enter")
    visit.page.wait_for_function(
        "() => document.getElementById('save-words').textContent.startsWith('Saved')"
    )
    saved = tomllib.loads((tmp_path / "walkhome-desk" / "plan.toml").read_text(encoding="utf-8"))
    assert saved["walker"]["mass_kg"] == 65
    assert "closed_area" in saved["event"]
    items = read_items(tmp_path / "walkhome-desk" / "bag.csv")
    assert items.quantity[items.item.index("oat bars")] == 5
    visit.close()


def test_another_hour_is_worked_out_in_full_and_can_be_undone(browser: Any, start: Start) -> None:  # noqa: ANN401 - as above
    visit = Visit(browser, start())
    page = visit.page
    page.wait_for_selector("#departures button")
    before = visit.text("sentence")
    other = page.locator("#departures button").filter(has_not_text="16:30").first
    hour = str(other.text_content()).strip()[:5]
    other.click()
    visit.answered()
    assert visit.text("sentence") != before
    assert f"leaving {hour}" in visit.text("sentence")
    assert page.locator("#beside").is_visible()
    assert visit.faults() == []
    page.keyboard.press("Escape")
    visit.answered()
    assert visit.text("sentence") == before
    visit.close()


def test_another_list_and_other_areas_are_chosen_on_the_page(
    browser: Any,  # noqa: ANN401 - as above
    start: Start,
    write_town: Any,  # noqa: ANN401 - as above
) -> None:
    plan = write_town()
    light = "item,purpose,tier,quantity,mass_g,water_ml\nflask,water,basic,1,300,250\n"
    (plan.parent / "light.csv").write_text(light, encoding="utf-8")
    (plan.parent / "odd.csv").write_text('item,purpose\n"a"b,c\n', encoding="utf-8")
    corners = [[-64.8, 46.0], [-64.8, 46.001], [-64.799, 46.001], [-64.8, 46.0]]
    area = {"type": "Polygon", "coordinates": [corners]}
    (plan.parent / "flood.geojson").write_text(json.dumps(area), encoding="utf-8")
    visit = Visit(browser, start(plan))
    page = visit.page
    page.get_by_label("List", exact=True).select_option("light.csv")
    visit.answered()
    assert page.locator("#bag tbody tr").count() == 1
    page.get_by_label("List", exact=True).select_option("odd.csv")
    page.wait_for_function("() => document.getElementById('f-swap-bag').textContent")
    assert "cannot be read as CSV" in visit.text("f-swap-bag")
    assert page.get_by_label("List", exact=True).input_value() == "light.csv"
    page.get_by_label("Closed areas", exact=True).select_option("flood.geojson")
    page.wait_for_selector('#marks g[aria-label^="Closed area"]', state="attached")
    assert visit.faults() == []
    page.locator("#save").click()
    page.locator("#ask-yes").click()
    page.wait_for_function(
        "() => document.getElementById('save-words').textContent.startsWith('Saved')"
    )
    saved = tomllib.loads(plan.read_text(encoding="utf-8"))
    assert saved["bag"]["items"] == "light.csv"
    assert saved["event"]["closed_area"] == "flood.geojson"
    assert (plan.parent / "light.csv").read_text(encoding="utf-8") == light
    visit.close()


def test_faults_stand_beside_their_entries_and_go_when_mended(browser: Any, start: Start) -> None:  # noqa: ANN401 - as above
    desk = start()
    visit = Visit(browser, desk)
    page = visit.page
    entry = page.get_by_label("Mass, kg")
    entry.fill("eighty")
    page.wait_for_selector("#faults:not([hidden])")
    assert visit.text("headline") == "No verdict yet."
    assert entry.get_attribute("aria-invalid") == "true"
    described = str(entry.get_attribute("aria-describedby")).split()[-1]
    assert "a number is needed" in str(page.locator(f'[id="{described}"]').text_content())
    page.locator("#bag tbody tr:first-child td.mass_g input").fill("-5")
    page.wait_for_function("() => document.querySelectorAll('#fault-list li').length === 2")
    assert "nothing is negative" in visit.text("fault-list") + str(
        page.locator("#bag tbody tr:first-child td.mass_g .fault").text_content()
    )
    assert visit.faults() == []
    entry.fill("80")
    page.locator("#bag tbody tr:first-child td.mass_g input").fill("540")
    visit.answered()
    assert page.locator("#faults").is_hidden()
    visit.close()


def test_a_killed_desk_says_so_and_the_next_one_has_the_draft(browser: Any, start: Start) -> None:  # noqa: ANN401 - as above
    desk = start()
    visit = Visit(browser, desk)
    visit.page.get_by_label("Mass, kg").fill("66")
    visit.answered()
    desk.process.kill()
    desk.process.wait()
    visit.page.wait_for_function(
        "() => document.getElementById('headline').textContent === 'The desk has ended.'"
    )
    visit.context.close()
    again = Visit(browser, start())
    assert again.page.get_by_label("Mass, kg").input_value() == "66"
    assert "Unsaved work" in again.text("drafted-words")
    again.page.get_by_role("button", name="Begin again").click()
    again.answered()
    assert again.page.get_by_label("Mass, kg").input_value() == "80"
    again.close()


def test_hostile_names_are_text(browser: Any, start: Start, write_town: Any) -> None:  # noqa: ANN401 - as above
    path = write_town()
    town = path.parent / "town.osm"
    hostile = "&lt;img src=x onerror=alert(1)&gt;&quot;&apos;"
    town.write_text(
        town.read_text(encoding="utf-8").replace("Mill Bridge", hostile), encoding="utf-8"
    )
    visit = Visit(browser, start(path))
    assert visit.page.locator("img").count() == 0
    assert "onerror" in str(visit.page.locator("#part-streets").text_content())
    visit.page.evaluate(
        "document.querySelectorAll('details').forEach((one) => { one.open = true; })"
    )
    assert visit.faults() == []
    visit.close()
