"""The offline page: safe, whole, and quiet in a browser."""

from __future__ import annotations

import re
import shutil
import subprocess
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from simulator.report.page import DARK, page_html
from simulator.report.style import ROLES
from tests.report.conftest import FixtureWalk
from tests.report.test_figures import relative_luminance

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "chrome"))), None)


class Elements(HTMLParser):
    """Collects every element with its attributes, and all text outside style."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self._style = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep the element."""
        self.found.append((tag, dict(attrs)))
        self._style = tag == "style"

    def handle_endtag(self, tag: str) -> None:
        """Notice where a style sheet ends."""
        self._style = self._style and tag != "style"

    def handle_data(self, data: str) -> None:
        """Keep the text."""
        if not self._style:
            self.text.append(data)


@pytest.mark.parametrize("which", ["html", "hostile_html"])
def test_nothing_in_the_page_can_be_fetched_or_run(
    which: str, request: pytest.FixtureRequest
) -> None:
    page = request.getfixturevalue(which)
    for tag, attributes in Elements(page).found:
        assert tag not in {"script", "iframe", "object", "embed", "link", "img", "form", "base"}
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name.rpartition(":")[2] in {"href", "src", "srcset", "action", "data"}:
                assert str(value).startswith("#")
            if value and "url(" in value:
                assert re.fullmatch(r"(?s)(?:(?!url\().)*(?:url\(#[\w-]+\)(?:(?!url\().)*)+", value)
    assert "@import" not in page


def test_the_policy_forbids_everything_but_inline_style(html: str) -> None:
    # W3C Content Security Policy Level 3
    policy = next(
        a["content"]
        for t, a in Elements(html).found
        if a.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy is not None
    rules = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert "script-src" not in rules
    assert rules["style-src"] == "'unsafe-inline'"


def test_hostile_names_appear_as_text_only(hostile_html: str) -> None:
    parsed = Elements(hostile_html)
    text = "".join(parsed.text)
    assert "<script>alert(1)</script>" in text
    assert "{{ 7*7 }}" in text
    assert "\u202e" not in hostile_html
    assert "\x07" not in hostile_html
    assert "\x00" not in hostile_html


def test_the_page_is_one_small_file_and_the_same_each_time(html: str, walk: FixtureWalk) -> None:
    assert len(html.encode()) < 3_000_000
    assert page_html(walk) == html


def test_headings_landmarks_and_names_serve_a_screen_reader(html: str) -> None:
    found = Elements(html).found
    tags = [tag for tag, _ in found]
    assert tags.count("h1") == 1
    assert {"header", "nav", "main", "footer"} <= set(tags)
    levels = [int(tag[1]) for tag in tags if re.fullmatch(r"h[1-6]", tag)]
    assert all(after - before <= 1 for before, after in pairwise(levels))
    ids = [a["id"] for _, a in found if "id" in a]
    assert len(ids) == len(set(ids))
    for tag, attributes in found:
        if tag == "html":
            assert attributes["lang"] == "en"
        if tag == "svg":
            assert attributes["role"] == "img"
            assert set(str(attributes["aria-labelledby"]).split()) <= set(ids)
        if tag == "a":
            assert str(attributes["href"])[1:] in ids
        if tag == "th":
            assert attributes["scope"] in {"col", "row"}


def test_every_colour_of_the_figures_follows_the_theme(html: str) -> None:
    body = html[html.index("<body>") :]
    assert not [colour for colour in ROLES if colour in body]
    assert "prefers-color-scheme: dark" in html


@pytest.mark.parametrize("role", ["ink", "grey", "accent"])
def test_text_stands_out_in_the_dark_theme(role: str) -> None:
    # WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text.
    ratio = (relative_luminance(DARK[role]) + 0.05) / (relative_luminance(DARK["paper"]) + 0.05)
    assert ratio >= 4.5


@pytest.mark.slow
@pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine to show the page")
@pytest.mark.parametrize("width", [360, 1280])
def test_a_browser_shows_the_page_without_a_complaint(
    hostile_html: str, tmp_path: Path, width: int
) -> None:
    (tmp_path / "page.html").write_text(hostile_html, encoding="utf-8")
    # A frame gives widths below the browser's smallest window; the outer script only measures.
    (tmp_path / "frame.html").write_text(
        f'<iframe src="page.html" style="border:0;width:{width}px;height:900px"></iframe>'
        '<p id="result"></p><script>addEventListener("load",()=>{const d=frames[0].document;'
        'document.getElementById("result").textContent='
        "`widest=${d.documentElement.scrollWidth} images=${d.images.length}`})</script>",
        encoding="utf-8",
    )
    done = subprocess.run(
        [
            str(CHROMIUM),
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--enable-logging=stderr",
            "--allow-file-access-from-files",
            "--log-level=0",
            f"--user-data-dir={tmp_path / 'profile'}",
            "--virtual-time-budget=4000",
            "--dump-dom",
            (tmp_path / "frame.html").as_uri(),
        ],
        capture_output=True,
        text=True,
        timeout=90,
        check=True,
    )
    assert not [line for line in done.stderr.splitlines() if "CONSOLE" in line]
    found = re.search(r"widest=(\d+) images=(\d+)<", done.stdout)
    assert found
    assert int(found[1]) <= width  # nothing sticks out sideways
    assert int(found[2]) == 0
