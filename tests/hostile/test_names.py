"""Hostile names through every sheet of every command: they are text, wherever they end up."""

from __future__ import annotations

import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from xml.sax.saxutils import escape

import pytest

from simulator.cli import main
from tests.conftest import BAG, PLAN, town_xml, write_heights

NASTY = "<script>alert(1)</script><img src=x onerror=alert(2)>\"'`${7*7}{{7*7}}]]>&#x202e;"
FORMULA = "=HYPERLINK(1)+cmd|' /C calc'!A0"
HIDING = "Mill\u202egnp.exe\u200b\x1b[31mBridge\u2028#import"
TYPESET = '#include "/etc/passwd" $sum$ *_`\\ @a <b>'
NAMES = (NASTY, FORMULA, HIDING.replace("\x1b", ""), TYPESET)


class Active(HTMLParser):
    """Find what a browser would run, fetch or follow that came from a name."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.scripts = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: D102
        self.scripts += tag == "script"
        for name, value in attrs:
            if name.startswith("on") or (name in {"src", "href"} and value == "x"):
                self.found.append(f"{tag} {name}={value}")


@pytest.fixture(scope="module")
def town(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the town with hostile names for streets, bridge, places, items, people and title."""
    folder = tmp_path_factory.mktemp("names")
    xml = town_xml()
    for old, name in zip(
        ("Mill Bridge", "Row 10 Street", "Lane 2", "Row 0 Street"), NAMES, strict=True
    ):
        xml = xml.replace(f'v="{old}"', f'v="{escape(name, {chr(34): "&quot;", chr(10): " "})}"')
    taps = "".join(
        f'<node id="{9000 + n}" version="1" lat="{46.0 + 0.001 * n:.4f}" lon="-64.7975">'
        '<tag k="amenity" v="drinking_water"/>'
        f'<tag k="name" v="{escape(name, {chr(34): "&quot;"})}"/>'
        f'<tag k="opening_hours" v="{escape(name, {chr(34): "&quot;"})}"/></node>'
        for n, name in enumerate(NAMES)
    )
    first = xml.index("<way ")
    (folder / "town.osm").write_text(xml[:first] + taps + xml[first:], encoding="utf-8")
    write_heights(folder / "heights.tif")
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    rows = list(csv.reader(io.StringIO(BAG)))
    writer.writerow(rows[0])
    for row, name in zip(rows[1:], NAMES, strict=False):
        writer.writerow([f"{row[0]} {name}", *row[1:-1], name])
    (folder / "bag.csv").write_text(stream.getvalue(), encoding="utf-8")
    title = json.dumps(f"{NASTY} {TYPESET} {FORMULA}")
    plan = re.sub(r"^title = .*$", lambda _: f"title = {title}", PLAN, flags=re.MULTILINE)
    (folder / "plan.toml").write_text(plan, encoding="utf-8")
    people = io.StringIO()
    writer = csv.writer(people, lineterminator="\n")
    writer.writerow(["id", "start_lat", "start_lon", "home_lat", "home_lon"])
    for name in NAMES:
        writer.writerow([name, 46.0002, -64.7998, 46.0148, -64.7952])
    (folder / "people.csv").write_text(people.getvalue(), encoding="utf-8")
    return folder


COMMANDS = {
    "plan": (),
    "detours": (),
    "bag": ("--choose",),
    "odds": ("--walks", "20", "--decide", "0"),
    "many": ("people.csv",),
}


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_hostile_names_are_text_in_every_file(
    command: str, town: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [str(town / word) if word.endswith(".csv") else word for word in COMMANDS[command]]
    out = tmp_path / "out"
    assert main([command, str(town / "plan.toml"), *words, "--out", str(out)]) == 0
    printed = capsys.readouterr().out
    assert not set(printed) & set("\x1b\u202e\u200b\u2028")
    files = [path for path in out.rglob("*") if path.is_file()]
    assert files
    for path in files:
        check(path)


def check(path: Path) -> None:
    """See that a file holds the names as text, by the rules of its kind."""
    if path.suffix in {".pdf", ".parquet", ".png"}:
        assert path.stat().st_size > 0
        return
    text = path.read_text(encoding="utf-8")
    assert not set(text) & set("\x1b\u202e\u200b"), path.name
    if path.suffix in {".json", ".geojson"}:
        json.loads(text)
    elif path.suffix == ".csv":
        for row in csv.reader(io.StringIO(text), strict=True):
            for cell in row:
                assert not cell.startswith(("=", "@", "\t", "\r")), (path.name, cell)
                assert not cell.startswith(("+", "-")) or re.fullmatch(r"[-+][\d.:T]+.*", cell), (
                    cell
                )
    elif path.suffix in {".html", ".svg"}:
        parser = Active()
        parser.feed(text)
        assert parser.found == [], path.name
        assert "<script>alert" not in text
        assert "<img src=x" not in text
