"""The offline page: safe, whole, and quiet in a browser."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from simulator.report.figures.style import ROLES
from simulator.report.page.html import DARK, page_html
from tests.report.conftest import FixtureWalk
from tests.report.test_figures import relative_luminance


class Elements(HTMLParser):
    """Collects every element with its attributes, all scripts, and all other text but style."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.scripts: list[str] = []
        self._inside = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep the element."""
        self.found.append((tag, dict(attrs)))
        self._inside = tag if tag in {"style", "script"} else ""
        if tag == "script":
            self.scripts.append("")

    def handle_endtag(self, tag: str) -> None:
        """Notice where a style sheet or a script ends."""
        if tag == self._inside:
            self._inside = ""

    def handle_data(self, data: str) -> None:
        """Keep the text."""
        if self._inside == "script":
            self.scripts[-1] += data
        elif not self._inside:
            self.text.append(data)


def without_scripts(html: str) -> str:
    return re.sub(r"(?s)<script.*?</script>", "", html)


@pytest.mark.parametrize("which", ["html", "hostile_html"])
def test_nothing_in_the_page_can_be_fetched_or_run(
    which: str, request: pytest.FixtureRequest
) -> None:
    page = request.getfixturevalue(which)
    for tag, attributes in Elements(page).found:
        assert tag not in {"iframe", "object", "embed", "link", "img", "form", "base"}
        if tag == "script":
            assert not attributes or attributes == {"type": "application/json", "id": "walk-data"}
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name.rpartition(":")[2] in {"href", "src", "srcset", "action", "data"}:
                assert str(value).startswith("#")
            if value and "url(" in value:
                assert re.fullmatch(r"(?s)(?:(?!url\().)*(?:url\(#[\w-]+\)(?:(?!url\().)*)+", value)
    rest = without_scripts(page)
    assert "@import" not in rest
    assert not [
        found for found in re.findall(r"https?://[^\s\"'<]+", rest) if "w3.org" not in found
    ]


def test_the_policy_allows_just_the_scripts_that_stand_in_the_page(html: str) -> None:
    # W3C Content Security Policy Level 3: a digest allows the one script it is the digest of.
    parsed = Elements(html)
    policy = next(
        a["content"] for t, a in parsed.found if a.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy is not None
    rules = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert rules["style-src"] == "'unsafe-inline'"
    _data, *scripts = parsed.scripts
    digests = [
        base64.b64encode(hashlib.sha256(script.encode()).digest()).decode() for script in scripts
    ]
    assert rules["script-src"].split() == [f"'sha256-{digest}'" for digest in digests]
    assert len(scripts) == 1


def test_the_scripts_data_is_data_whatever_the_names(hostile_html: str) -> None:
    data, *_scripts = Elements(hostile_html).scripts
    assert not set("<>&") & set(data)
    told = json.loads(data)
    assert "<script>alert(1)</script> & <b>Bold</b> Lane" in str(told["ways"][0]["streets"])


def test_hostile_names_appear_as_text_only(hostile_html: str) -> None:
    parsed = Elements(hostile_html)
    text = "".join(parsed.text)
    assert "<script>alert(1)</script>" in text
    assert "{{ 7*7 }}" in text
    rest = without_scripts(hostile_html) + parsed.scripts[0]
    for mark in ("\u202e", "\x07", "\x00"):
        assert mark not in rest


def test_the_page_is_one_small_file_and_the_same_each_time(html: str, walk: FixtureWalk) -> None:
    assert len(html.encode()) < 1_500_000
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
    body = without_scripts(html[html.index("<body>") :])
    assert not [colour for colour in ROLES if colour in body]
    assert "prefers-color-scheme: dark" in html


@pytest.mark.parametrize("role", ["ink", "grey", "accent"])
def test_text_stands_out_in_the_dark_theme(role: str) -> None:
    # WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text.
    ratio = (relative_luminance(DARK[role]) + 0.05) / (relative_luminance(DARK["paper"]) + 0.05)
    assert ratio >= 4.5
