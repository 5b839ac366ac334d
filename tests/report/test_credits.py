"""Whose data it is: the credit of map and heights, and its days, in every file of every command."""

from __future__ import annotations

import csv
import json
import re
import shutil
from importlib.resources import files
from pathlib import Path

import osmium
import pytest
import rasterio
from pypdf import PdfReader

from simulator import cli, demo_folder
from simulator.ground.streets import Streets
from simulator.report.exports import CREDITS, NOBODY, credits_text, with_credits
from tests.conftest import TownWriter

DAY = "accessed 2026-01-02"
HEIGHTS = "Heights by the Survey of the Town, accessed 2026-01-03"
EXPECTED = (
    "© OpenStreetMap contributors",  # as openstreetmap.org/copyright asks
    "ODbL 1.0",
    DAY,
    HEIGHTS,
)
TYPICAL = Path(str(files("pvlib") / "data" / "723170TYA.CSV"))
"""A typical year of Greensboro in TMY3 form, carried by the package pvlib; public domain."""

BARE = {"upkeep.ics", "upkeep.csv", "chosen.csv"}
"""Lists of items and days to look after them; nothing in them is from the map."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the demo place as if its map and heights had been fetched on two days."""
    made = tmp_path_factory.mktemp("credited") / "place"
    shutil.copytree(demo_folder(), made)
    header = osmium.io.Header()
    header.set("generator", f"walkhome fetch; {DAY}")
    with osmium.SimpleWriter(str(made / "new.osm.pbf"), header=header) as writer:
        for item in osmium.FileProcessor(str(made / "town.osm.pbf")):
            writer.add(item)
    (made / "new.osm.pbf").replace(made / "town.osm.pbf")
    with rasterio.open(made / "heights.tif", "r+") as raster:
        raster.update_tags(TIFFTAG_COPYRIGHT=HEIGHTS)
    plan = (made / "plan.toml").read_text(encoding="utf-8")
    plan = plan.replace("[choices]\n", '[choices]\nalso = ["calendar", "parquet"]\n')
    (made / "plan.toml").write_text(plan, encoding="utf-8")
    with (made / "people.csv").open("w", encoding="utf-8", newline="") as stream:
        rows = csv.writer(stream)
        rows.writerow(["start_lat", "start_lon", "home_lat", "home_lon"])
        rows.writerows([[45.99802, -30.12161, 46.05263, -29.85348]] * 3)
    return made


def _said(path: Path) -> str:
    """Read all that a file says, whatever its form, on one line."""
    if path.suffix == ".pdf":
        return " ".join(page.extract_text() for page in PdfReader(path).pages)
    if path.suffix == ".parquet":
        import pyarrow.parquet as pq

        return str(pq.read_schema(path).metadata[b"attribution"].decode())
    text = path.read_bytes().decode()
    if path.suffix in {".json", ".geojson"}:
        return str(json.loads(text)["attribution"])
    if path.suffix == ".ics":  # RFC 5545, 3.1 and 3.3.11: folded lines, escaped commas
        unfolded = text.replace("\r\n ", "").replace("\\,", ",").replace("\\;", ";")
        return " ".join(line for line in unfolded.splitlines() if line.startswith("COMMENT:"))
    return text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "least"),
    [
        (["plan"], 12),
        (["detours"], 6),
        (["odds", "--walks", "40", "--decide", "0"], 4),
        (["year", "--weather", str(TYPICAL)], 4),
        (["many"], 6),
        (["bag", "--choose", "--changes", "0"], 5),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else None,
)
def test_every_file_of_every_command_names_whose_data_it_is_and_the_day(
    folder: Path, tmp_path: Path, command: list[str], least: int
) -> None:
    name, *options = command
    table = [str(folder / "people.csv")] if name == "many" else []
    out = tmp_path / "out"
    assert cli.main([name, str(folder / "plan.toml"), *table, *options, "--out", str(out)]) == 0
    written = sorted(path for path in out.rglob("*") if path.is_file())
    assert len(written) >= least
    covered = _covered(out)
    for path in written:
        if path.name in BARE:
            assert path.name not in covered
            continue
        if path.suffix == ".csv":
            told = covered[path.name]
            source = str(TYPICAL.name) if name == "year" else "written in the plan"
            assert f"Weather: {source}" in told
        else:
            told = _said(path)
        packed = "".join(told.split())  # a page may break the line anywhere
        for words in EXPECTED:
            assert "".join(words.split()) in packed, (path.name, words)


def _covered(out: Path) -> dict[str, str]:
    """Read which tables the credits speak for, and what they say of each."""
    if not (out / CREDITS).exists():
        return {}
    _heading, *blocks = (out / CREDITS).read_text(encoding="utf-8").strip().split("\n\n")
    return {
        name: said
        for heading, _, said in (block.partition("\n") for block in blocks)
        for name in heading.removesuffix(":").split(", ")
    }


@pytest.mark.slow
def test_what_carries_no_credit_holds_no_street_of_the_map(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    words = ["bag", str(folder / "plan.toml"), "--choose", "--changes", "0", "--out", str(out)]
    assert cli.main(words) == 0
    ways = Streets.read(folder / "town.osm.pbf").ways
    names = {name for name in (*ways.name, *ways.bridge_name) if len(name) > 4}
    assert len(names) > 100
    for bare in BARE:
        text = (out / bare).read_text(encoding="utf-8")
        assert [name for name in names if name in text] == []


def test_without_a_way_home_the_summary_still_names_the_source(
    write_town: TownWriter, tmp_path: Path
) -> None:
    plan = write_town(bridge=False)
    town = plan.parent / "town.osm"
    text = town.read_text(encoding="utf-8").replace("invented", f"walkhome fetch; {DAY}")
    town.write_text(text, encoding="utf-8")
    assert cli.main(["plan", str(plan), "--out", str(tmp_path / "out")]) == 3
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["attribution"] == f"Map data © OpenStreetMap contributors, ODbL 1.0, {DAY}"


def test_tables_of_two_commands_in_one_folder_keep_their_credits(tmp_path: Path) -> None:
    first = with_credits(
        {"hours.csv": b"", "refills.csv": b"", "page.html": b""},
        tmp_path,
        attribution="Map A; Heights B",
        weather="Weather: written in the plan.",
    )
    assert "page.html" not in first[CREDITS].decode()
    (tmp_path / CREDITS).write_bytes(first[CREDITS])
    second = with_credits(
        {"odds.csv": b""}, tmp_path, attribution="Map C", weather="Weather: year.epw"
    )
    (tmp_path / CREDITS).write_bytes(second[CREDITS])
    told = _covered(tmp_path)
    assert told["hours.csv"] == told["refills.csv"]
    assert told["hours.csv"].split("\n") == [
        "  Map A",
        "  Heights B",
        "  Weather: written in the plan.",
    ]
    assert told["odds.csv"].split("\n") == ["  Map C", "  Weather: year.epw"]
    # Asked again, from whichever side: the same bytes.
    again = with_credits(
        {"odds.csv": b""}, tmp_path, attribution="Map C", weather="Weather: year.epw"
    )
    assert again[CREDITS] == second[CREDITS]
    # A table made anew is told of anew, and of the older one nothing is left.
    third = with_credits(
        {"hours.csv": b""}, tmp_path, attribution="Map D", weather="Weather: year.epw"
    )
    assert b"Map A" not in third[CREDITS]


def test_a_map_without_credit_is_said_so_and_a_hostile_one_stays_on_its_line() -> None:
    assert NOBODY in credits_text(["a.csv"], attribution="", weather="w")
    text = credits_text(["a.csv"], attribution="Me\n\nb.csv:\n  Someone\x1b[31m", weather="w")
    assert re.findall(r"^\S.*:$", text, re.MULTILINE) == ["a.csv:"]
    assert "\x1b" not in text


@pytest.mark.parametrize(
    "before", ["", "nonsense", "a\n\n\n\nb:", "\x00\n\n:\n\n,\n  x", "\n\n\n\n:\n  x\n\nb.csv:"]
)
def test_a_file_of_that_name_that_says_nothing_of_tables_is_replaced(before: str) -> None:
    alone = credits_text(["a.csv"], attribution="Map", weather="w")
    assert credits_text(["a.csv"], attribution="Map", weather="w", before=before) == alone


def test_a_folder_without_tables_gets_no_credits_file(tmp_path: Path) -> None:
    contents = {"bag.json": b"{}"}
    assert with_credits(contents, tmp_path, attribution="Map", weather="w") == contents
