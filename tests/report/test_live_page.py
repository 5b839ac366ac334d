"""The offline page in a real browser, as a person with a finger, a keyboard or neither uses it."""

from __future__ import annotations

import math
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, time, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from simulator import Plan, Walk, demo_folder, walk_home
from simulator.report.actions import about
from simulator.report.page.html import page_html
from simulator.report.paper.sheet import sheet_of
from tests.report.conftest import FixtureWalk, MakeWalk

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "chrome"))), None)

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine to show the page"),
    pytest.mark.skipif(find_spec("playwright") is None, reason="playwright is not installed here"),
]

READY = "html[data-ready]"
SERIOUS = {"serious", "critical"}


@pytest.fixture(scope="module")
def demo() -> Walk:
    return walk_home(Plan.read(demo_folder() / "plan.toml"))


@pytest.fixture(scope="module")
def demo_page(demo: Walk, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_text(page_html(demo), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        shown = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield shown
        shown.close()


class Visit:
    """An open page, and whatever it complained of or asked for."""

    def __init__(self, browser: Any, path: Path, **wishes: Any) -> None:  # noqa: ANN401 - untyped at run time
        self.complaints: list[str] = []
        self.requests: list[str] = []
        self.context = browser.new_context(**wishes)
        self.page = self.context.new_page()
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.goto(path.as_uri())
        if wishes.get("java_script_enabled", True):
            self.page.wait_for_selector(READY)
            self.page.wait_for_timeout(200)

    def _heard(self, message: Any) -> None:  # noqa: ANN401 - as above
        if message.type in {"error", "warning"}:
            self.complaints.append(message.text)

    def text(self, element: str) -> str:
        """Read what an element says."""
        return str(self.page.locator(f"#{element}").text_content())

    def reach(self) -> tuple[float, float]:
        """Tell from where to where the map shows, west to east [m]."""
        left, right = self.page.evaluate("walkMap.x()")
        return float(left), float(right)

    def slide(self, name: str, value: int) -> None:
        """Move a slider as a person does, from the keyboard."""
        slider = self.page.locator(f"#set-{name}")
        slider.press("Home")
        for _ in range(value):
            slider.press("ArrowRight")

    def leave(self) -> None:
        """Close the page; it must have been silent and asked for nothing."""
        self.context.close()
        assert self.complaints == []
        assert len(self.requests) == 1, self.requests


@pytest.fixture(params=[360, 1280])
def visit(browser: Any, demo_page: Path, request: pytest.FixtureRequest) -> Iterator[Visit]:  # noqa: ANN401 - as above
    opened = Visit(
        browser,
        demo_page,
        viewport={"width": request.param, "height": 800},
        has_touch=request.param < 500,
    )
    yield opened
    opened.leave()


def test_touching_an_hour_shows_the_place(visit: Visit, demo: Walk) -> None:
    visit.page.locator("#hour-buttons button").nth(3).click()
    told = visit.text("told-hour")
    row = demo.hours.iloc[3]
    assert told.startswith(f"Hour D, {row.clock_start:%H:%M}: {row.place}, km ")
    assert f"{row.water_left_ml / 1000.0:.1f} L" in told
    pressed = visit.page.locator("#hour-buttons button[aria-pressed=true]")
    assert pressed.count() == 1
    assert visit.page.locator("#live-hours tr.chosen th").text_content().startswith("D ")


def test_touching_the_profile_chooses_the_hour_there(visit: Visit, demo: Walk) -> None:
    profile = visit.page.locator("#live-profile")
    profile.scroll_into_view_if_needed()
    box = profile.bounding_box()
    touch = (
        visit.page.touchscreen.tap
        if visit.page.viewport_size["width"] < 500
        else visit.page.mouse.click
    )
    touch(box["x"] + 0.97 * box["width"], box["y"] + 80)
    visit.page.wait_for_timeout(400)
    last = len(demo.hours) - 1
    assert visit.text("told-hour").startswith(f"Hour {chr(ord('A') + last)}, ")


def test_the_map_pans_under_the_finger_and_comes_back(visit: Visit) -> None:
    drawn = visit.page.locator("#live-map")
    drawn.scroll_into_view_if_needed()
    box = drawn.bounding_box()
    before = visit.reach()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    visit.page.mouse.move(x, y)
    visit.page.mouse.down()
    visit.page.mouse.move(x - 80, y, steps=5)
    visit.page.mouse.up()
    visit.page.wait_for_timeout(200)
    after = visit.reach()
    # 80 pixels of a map as wide as its box, both edges alike.
    moved = (before[1] - before[0]) * 80.0 / box["width"]
    assert after[0] - before[0] == pytest.approx(moved, rel=0.15)
    assert after[1] - after[0] == pytest.approx(before[1] - before[0])
    visit.page.locator("#whole").click()
    assert visit.reach() == pytest.approx(before)


def test_the_map_can_be_moved_by_keys_and_buttons(visit: Visit) -> None:
    before = visit.reach()
    visit.page.locator("#live-map").press("ArrowRight")
    assert visit.reach()[0] > before[0]
    visit.page.locator("#live-map").press("0")
    assert visit.reach() == pytest.approx(before)
    visit.page.locator("#zoom-in").click()
    left, right = visit.reach()
    assert right - left == pytest.approx(0.6 * (before[1] - before[0]))


def test_each_slider_changes_the_ledger(visit: Visit, demo: Walk) -> None:
    assert demo.what_if is not None
    settings = demo.what_if.settings
    planned = visit.text("live-sentence")
    # The same words as at the head of the page and on paper.
    assert sheet_of(demo).arrival in planned
    last = len(settings.depart_min) - 1
    visit.slide("depart", last)
    depart = datetime.fromisoformat(demo.summary["time"]["depart"])
    later = depart + timedelta(minutes=settings.depart_min[last])
    assert f"leaving {later:%H:%M}" in visit.text("live-sentence")
    # By hand: the planned walk's span in share of the time, its ends rounded outward to 15 min.
    answers = demo.what_if.turned[0].answers
    assert answers is not None
    per_depart = len(settings.water_ml) * len(settings.pace)
    place = settings.planned % per_depart + last * per_depart
    took_h, band = float(answers.arrive_s[place]) / 3600.0, demo.facts.time.elapsed_h_band
    assert band is not None
    shares = [end / demo.facts.time.elapsed_h for end in band]
    early_h, late_h = min(shares[0], 1.0) * took_h, max(shares[1], 1.0) * took_h
    assert 0.5 < late_h - early_h < 8.0
    early = about(later + timedelta(hours=early_h), step_min=15, up=False)
    late = about(later + timedelta(hours=late_h), step_min=15, up=True)
    told = visit.text("live-sentence")
    assert f"home between {early:%H:%M}" in told
    assert f" and {late:%H:%M}" in told
    assert visit.text("told-depart").startswith(f"{later:%H:%M}")
    first = visit.page.locator("#live-hours th").first.text_content()
    assert first.startswith(f"A {later:%H:%M}")
    visit.page.locator("#as-planned").click()
    assert visit.text("live-sentence") == planned

    # Who sets out with empty bottles fills them at the first place by the way.
    visit.slide("water", 0)
    assert "Water does not run short." in visit.text("live-sentence")
    visit.page.locator("#as-planned").click()

    visit.slide("pace", 0)
    assert visit.text("told-pace") == "20 % slower"
    assert visit.text("live-sentence") != planned
    assert visit.page.locator("#live-hours tr").count() > len(demo.hours)


def test_empty_bottles_run_short_where_nothing_is_filled_by_the_way(
    browser: Any,  # noqa: ANN401 - as above
    tmp_path: Path,
) -> None:
    plan = Plan.read(demo_folder() / "plan.toml").with_changes(choices={"refill_reach_m": 0.0})
    walk = walk_home(plan)
    (tmp_path / "page.html").write_text(page_html(walk), encoding="utf-8")
    assert walk.what_if is not None
    settings, answers = walk.what_if.settings, walk.what_if.turned[0].answers
    assert answers is not None
    own = settings.water_ml.index(settings.columns()[1][settings.planned])
    short_ml = answers.ledger[settings.planned - own * len(settings.pace), :, 2]
    # Without a drop and nothing filled, all that is lost is lacking, more than a litre of it.
    worst_l = float(np.nanmax(short_ml)) / 1000.0
    assert 1.0 < worst_l < 1.5
    opened = Visit(browser, tmp_path / "page.html", viewport={"width": 360, "height": 800})
    opened.slide("water", 0)
    assert f"short by up to {worst_l:.1f} L" in opened.text("live-sentence")
    opened.leave()


def test_shutting_bridges_leads_round_them_and_back(visit: Visit, demo: Walk) -> None:
    planned = visit.text("live-sentence")
    bridge = demo.summary["route"]["main_bridge"]
    box = visit.page.get_by_role("checkbox", name=bridge["name"])
    box.check()
    told = visit.text("live-sentence")
    length_km = demo.summary["route"]["distance_km"] + bridge["extra_km"]
    assert told.startswith(f"{length_km:.1f} km, ")
    for other in visit.page.locator("input[data-bridge]").all():
        other.check()
    assert visit.text("live-level") in {"Not worked out.", "No way home."}
    for other in visit.page.locator("input[data-bridge]").all():
        other.uncheck()
    assert visit.text("live-sentence") == planned


SHOW_HOURS = "document.getElementById('live-ledger').hidden = false"


def test_an_hour_in_which_nothing_is_short_does_not_say_short(visit: Visit, demo: Walk) -> None:
    visit.page.evaluate(SHOW_HOURS)
    told = visit.page.evaluate(
        "[...document.querySelectorAll('#live-hours tr')].map(row => [...row.cells].filter("
        "cell => cell.checkVisibility() && cell.textContent.trim()).map("
        "cell => cell.dataset.name || ''))"
    )
    empty = visit.page.evaluate(
        "[...document.querySelectorAll('#live-hours td')].filter("
        "cell => !cell.textContent.trim() && cell.childNodes.length).length"
    )
    assert empty == 0
    # The page says water short from 50 ml on; the ledger has the same hours.
    short = demo.hours["water_short_ml"].to_numpy() >= 50.0
    assert ["short" in names for names in told] == short.tolist()
    # Shown or not, what is named has something to say.
    stacked = visit.page.viewport_size["width"] < 500
    hidden = visit.page.locator("#live-hours td[data-name=short]").first
    assert short[0] or hidden.is_visible() is not stacked


def test_the_heading_of_the_hours_is_as_wide_as_the_table(visit: Visit) -> None:
    visit.page.evaluate(SHOW_HOURS)
    table, caption = (
        visit.page.locator(f"#live-ledger {name}").bounding_box()["width"]
        for name in ("table", "caption")
    )
    assert caption == pytest.approx(table, abs=2.0)


def test_a_change_stands_beside_the_planned_answer_at_the_head_of_the_page(visit: Visit) -> None:
    head = visit.page.locator("#changed")
    planned = visit.page.locator("h1").text_content()
    assert not head.is_visible()
    assert not visit.page.locator("#live-ledger").is_visible()
    visit.slide("depart", 0)
    assert head.is_visible()
    assert visit.text("changed-sentence") == visit.text("live-sentence")
    assert visit.text("changed-level") == visit.text("live-level")
    assert visit.page.locator("h1").text_content() == planned
    assert visit.page.locator("#live-ledger").is_visible()
    visit.page.locator("#as-planned").click()
    assert not head.is_visible()


def test_a_shut_bridge_is_crossed_out_and_nothing_stale_is_left_without_an_answer(
    visit: Visit,
) -> None:
    boxes = visit.page.locator("input[data-bridge]").all()
    boxes[0].check()
    visit.page.wait_for_timeout(100)
    assert visit.page.evaluate("walkMap.shut()") == 1
    for box in boxes:
        box.check()
    visit.page.wait_for_timeout(100)
    assert visit.text("changed-level") in {"Not worked out.", "No way home."}
    assert visit.page.evaluate("walkMap.shut()") == 1
    for name in ("told-hour", "live-hours", "hour-buttons", "live-why"):
        assert visit.text(name) == ""
    assert not visit.page.locator("#live-profile").is_visible()
    drawn = "document.querySelector('#live-map .way').getAttribute('d')"
    assert visit.page.evaluate(drawn) == ""


def test_the_first_screen_of_a_phone_holds_verdict_what_to_do_and_the_map(
    browser: Any,  # noqa: ANN401 - as above
    demo_page: Path,
) -> None:
    opened = Visit(browser, demo_page, viewport={"width": 360, "height": 740})
    for part, shown in (("h1", 1.0), ("dl.act", 1.0), ("#live-map", 1.0)):
        box = opened.page.locator(part).first.bounding_box()
        assert box["y"] + shown * box["height"] <= 740, part
    opened.leave()


@pytest.mark.parametrize("hours", [None, 0], ids=["as planned", "earliest departure"])
def test_sliders_map_and_answer_share_one_view_on_a_phone(
    browser: Any,  # noqa: ANN401 - as above
    demo_page: Path,
    hours: int | None,
) -> None:
    opened = Visit(browser, demo_page, viewport={"width": 360, "height": 740})
    if hours is not None:
        opened.slide("depart", hours)
    boxes = [
        opened.page.locator(part).first.bounding_box()
        for part in ("#live-map", "#live-level", "#live-sentence", "#set-depart", "#set-pace")
    ]
    top = min(box["y"] for box in boxes)
    assert max(box["y"] + box["height"] for box in boxes) - top <= 740
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= 360 for box in boxes)
    opened.leave()


def test_letters_of_the_map_are_no_smaller_than_twelve_pixels(visit: Visit) -> None:
    sizes = visit.page.evaluate(
        "[...document.querySelectorAll('#live-map text, #live-profile text')].map("
        "text => [parseFloat(getComputedStyle(text).fontSize), text.getScreenCTM().a])"
    )
    assert len(sizes) > 5
    assert min(size * scale for size, scale in sizes) >= 12.0


def test_every_stop_of_the_keyboard_has_a_name(visit: Visit) -> None:
    # WCAG 2.2, success criterion 4.1.2: name and role of every control.
    found = visit.page.evaluate(
        """() => {
          const stops = [];
          const search = (root) => {
            for (const part of root.querySelectorAll("*")) {
              if (part.shadowRoot) search(part.shadowRoot);
              if (part.tabIndex < 0 || !part.checkVisibility()) continue;
              const label = part.labels && part.labels[0] && part.labels[0].textContent;
              const name = part.getAttribute("aria-label") || label || part.textContent;
              const own = ["A", "BUTTON", "INPUT"].includes(part.tagName);
              stops.push([part.tagName, own || part.getAttribute("role"), (name || "").trim()]);
            }
          };
          search(document);
          return stops;
        }"""
    )
    assert len(found) > 15
    assert [stop for stop in found if not (stop[1] and stop[2])] == []


def test_nothing_sticks_out_sideways(visit: Visit) -> None:
    width = visit.page.viewport_size["width"]
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_no_serious_fault_of_accessibility_is_found(
    browser: Any,  # noqa: ANN401 - as above
    demo_page: Path,
    width: int,
    scheme: str,
) -> None:
    # axe-core checks WCAG 2.2 A and AA, contrast among them.
    spec = find_spec("axe_playwright_python")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("the accessibility checks are not installed here")
    checks = Path(spec.submodule_search_locations[0]) / "axe.min.js"
    visit = Visit(
        browser,
        demo_page,
        viewport={"width": width, "height": 800},
        color_scheme=scheme,
        bypass_csp=True,
    )
    visit.page.evaluate(checks.read_text(encoding="utf-8"))
    found = visit.page.evaluate("axe.run()")
    visit.leave()
    assert len(found["passes"]) > 20
    faults = [
        (fault["id"], [node["target"] for node in fault["nodes"]][:3])
        for fault in found["violations"]
        if fault["impact"] in SERIOUS
    ]
    assert faults == []


def test_the_theme_can_be_turned_by_hand(browser: Any, demo_page: Path) -> None:  # noqa: ANN401 - as above
    visit = Visit(browser, demo_page, color_scheme="light")
    paper = "getComputedStyle(document.body).backgroundColor"
    assert visit.page.evaluate(paper) == "rgb(255, 255, 255)"
    visit.page.locator("#theme").click()
    assert visit.page.evaluate(paper) != "rgb(255, 255, 255)"
    assert visit.page.locator("#theme").get_attribute("aria-pressed") == "true"
    visit.page.locator("#theme").click()
    assert visit.page.evaluate(paper) == "rgb(255, 255, 255)"
    visit.leave()


def test_without_script_and_on_paper_the_drawn_map_stands_in(
    browser: Any,  # noqa: ANN401 - as above
    demo_page: Path,
) -> None:
    still = Visit(browser, demo_page, java_script_enabled=False)
    assert still.page.locator("section#map svg").first.is_visible()
    assert not still.page.locator("#live").is_visible()
    still.leave()
    printed = Visit(browser, demo_page)
    assert not printed.page.locator("section#map").is_visible()
    printed.page.emulate_media(media="print")
    assert printed.page.locator("section#map").is_visible()
    assert not printed.page.locator("#live").is_visible()
    printed.leave()


@pytest.mark.parametrize("width", [360, 1280])
def test_hostile_names_do_nothing_but_stand_there(
    browser: Any,  # noqa: ANN401 - as above
    hostile_html: str,
    tmp_path: Path,
    width: int,
) -> None:
    path = tmp_path / "page.html"
    path.write_text(hostile_html, encoding="utf-8")
    visit = Visit(browser, path, viewport={"width": width, "height": 800})
    for button in visit.page.locator("#hour-buttons button").all():
        button.click()
        assert visit.text("told-hour").startswith("Hour ")
    visit.page.locator("#hour-buttons button").first.click()
    assert "<script>alert(1)</script> & <b>Bold</b> Lane" in visit.text("told-hour")
    assert visit.page.locator("#told-hour b, #told-hour script").count() == 0
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    assert visit.page.evaluate("document.images.length") == 0
    visit.leave()


@pytest.mark.parametrize("width", [360, 1280])
def test_unknown_heights_are_dotted_on_the_map_and_broken_in_the_profile(
    browser: Any,  # noqa: ANN401 - as above
    walk: FixtureWalk,
    html: str,
    tmp_path: Path,
    width: int,
) -> None:
    known = np.ones(len(walk.segments), dtype=bool)
    known[20:60] = False
    holed = replace(walk, segments=walk.segments.assign(height_known=known))
    said = "height unknown, estimated"
    for text, marked in ((html, False), (page_html(holed), True)):
        path = tmp_path / "page.html"
        path.write_text(text, encoding="utf-8")
        visit = Visit(browser, path, viewport={"width": width, "height": 800})
        assert "on foot" in visit.text("live-sentence") or "leaving" in visit.text("live-sentence")
        dots, gaps = visit.page.evaluate("[walkMap.dots(), walkMap.gaps()]")
        assert [dots > 0, gaps > 0] == [marked, marked]
        assert (said in str(visit.page.locator("#live").text_content())) == marked
        # The dots stay as far apart on the screen, whatever the scale of the map.
        visit.page.locator("#zoom-in").click()
        visit.page.wait_for_timeout(100)
        assert (visit.page.evaluate("walkMap.dots()") > dots) == marked
        visit.leave()


def test_us_units_hold_on_the_page_too(
    browser: Any,  # noqa: ANN401 - as above
    make_walk: MakeWalk,
    tmp_path: Path,
) -> None:
    path = tmp_path / "page.html"
    path.write_text(page_html(make_walk(units="us")), encoding="utf-8")
    visit = Visit(browser, path, viewport={"width": 360, "height": 800})
    assert re.fullmatch(r"[\d.]+ mi", visit.text("scale-words"))
    before = visit.page.locator("#scale-bar").bounding_box()["width"]
    visit.page.locator("#zoom-in").click()
    assert (visit.text("scale-words"), before) != ("", 0)
    visit.page.locator("#hour-buttons button").nth(2).click()
    told = " ".join(visit.text(name) for name in ("told-hour", "live-sentence", "live-hours"))
    assert " mi" in told
    # One unit in a column, the same in the table of the hours below it.
    for table in ("live-hours", "hours"):
        assert " fl oz" in visit.text(table)
        assert " qt" not in visit.text(table)
    assert not re.search(r"\d (km|L)\b", told)
    visit.leave()


def test_touching_a_place_to_take_care_at_tells_why(visit: Visit, demo: Walk) -> None:
    care = visit.page.evaluate("JSON.parse(document.getElementById('walk-data').textContent).care")
    assert [one["mark"] for one in care] == [one["mark"] for one in demo.summary["hazards"]]
    drawn = visit.page.locator("#live-map")
    drawn.scroll_into_view_if_needed()
    box = drawn.bounding_box()
    (left, right), (low, high) = visit.page.evaluate("[walkMap.x(), walkMap.y()]")
    one = care[-1]  # far from any stop
    x = box["x"] + box["width"] * (one["x"] - left) / (right - left)
    y = box["y"] + box["height"] * (high - one["y"]) / (high - low)
    touch = (
        visit.page.touchscreen.tap
        if visit.page.viewport_size["width"] < 500
        else visit.page.mouse.click
    )
    touch(x, y)
    visit.page.wait_for_timeout(400)
    assert visit.text("told-hour").startswith("Take care, ")


def test_another_departure_says_whether_it_is_in_time(browser: Any, tmp_path: Path) -> None:  # noqa: ANN401 - untyped at run time
    plan = Plan.read(demo_folder() / "plan.toml").with_changes(trip={"home_by": time(21)})
    path = tmp_path / "page.html"
    walk = walk_home(plan)
    path.write_text(page_html(walk), encoding="utf-8")
    visit = Visit(browser, path, viewport={"width": 360, "height": 800})
    # Rounded up to the minute, for someone waits.
    late = math.ceil(walk.summary["time"]["home_by"]["late_min"] - 1e-3)
    told = f"Too late for 21:00 by {late // 60} h {late % 60:02d} min."
    assert told in visit.text("live-sentence")
    visit.slide("depart", 0)  # six hours earlier
    assert "In time for 21:00." in visit.text("live-sentence")
    visit.leave()
