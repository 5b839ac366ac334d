"""The printed timeline, read back with a PDF library."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from pypdf.generic import DictionaryObject

from simulator.report.paper.sheet import sheet_of
from simulator.report.paper.timeline import timeline_pdf
from tests.report.conftest import HOSTILE, FixtureWalk, MakeWalk, blank_shares

POINTS_PER_MM = 72.0 / 25.4


def read(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf))


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in read(pdf).pages).split())


def test_it_has_a_few_pages_and_says_what_matters_first(pdf: bytes) -> None:
    pages = read(pdf).pages
    assert 4 <= len(pages) <= 5
    first = " ".join(pages[0].extract_text().split())
    for words in (
        "Walk with care.",
        "16:30",
        "22:35",
        "24.4 km",
        "water from 20:35",
        "0.9 L",
        "12:15",
    ):
        assert words in first
    assert first.index("Walk with care.") < first.index("Falls short")


def test_the_pocket_card_has_eight_panels_on_one_landscape_sheet(pdf: bytes) -> None:
    card = read(pdf).pages[-1]
    assert card.mediabox.width > card.mediabox.height
    told = " ".join(card.extract_text().split())
    for words in ("Walk with care.", "16:30", "Hours", "Next water", "Mind", "cut", "Emergency"):
        assert words in told
    assert "If Mill Bridge is shut" in told
    assert "To fill in by hand" in told
    upside_down: list[str] = []
    card.extract_text(
        visitor_text=lambda text, cm, tm, _font, _size: (
            upside_down.append(text) if text.strip() and cm[0] * tm[0] < 0 else None
        )
    )
    assert "Hours" in " ".join(upside_down)  # the upper row stands on its head
    assert "Mind" not in " ".join(upside_down)


def test_the_pocket_card_is_black_only(pdf: bytes, tmp_path: Path) -> None:
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed here")
    (tmp_path / "t.pdf").write_bytes(pdf)
    last = len(read(pdf).pages)
    where = ("-f", str(last), "-l", str(last), "-r", "60", "-png", "t.pdf", "card")
    subprocess.run(["pdftoppm", *where], cwd=tmp_path, check=True, timeout=60)
    from matplotlib.image import imread

    picture = imread(next(tmp_path.glob("card*.png")))[..., :3]
    assert picture.min() < 0.2
    assert float((picture.max(axis=-1) - picture.min(axis=-1)).max()) < 0.02  # no colour at all
    # What survives a copier is ink or paper: under 200 dots of an inch only edges are between.
    ink = picture.mean(axis=-1)
    assert 0.01 < float((ink < 0.5).mean()) < 0.25


def test_the_map_and_its_clock_times_are_selectable_text(pdf: bytes) -> None:
    text = text_of(pdf)
    for words in ("start 16:30", "home 22:33", "distance from the start (km)", "planned stop"):
        assert words in text


def test_every_hour_caution_assumption_and_source_is_printed(pdf: bytes, walk: FixtureWalk) -> None:
    text = text_of(pdf)
    for start in walk.hours["clock_start"]:
        assert start[11:16] in text
    for sentence in (*walk.summary["cautions"], *walk.summary["assumptions"]):
        assert sentence[1:20] in text
    assert "© OpenStreetMap contributors" in text
    assert "town.osm.pbf" in text
    assert "abababababababab" not in text  # a digest tells a person nothing
    assert "Make this plan again when" in text


@pytest.mark.usefixtures("plain_figures")
@pytest.mark.parametrize(
    ("page", "width_pt", "height_pt"),
    [
        ("A4", 210.0 * POINTS_PER_MM, 297.0 * POINTS_PER_MM),  # ISO 216
        ("Letter", 612.0, 792.0),  # ANSI/ASME Y14.1: 8.5 by 11 inches
    ],
)
def test_paper_has_the_size_asked_for(
    walk: FixtureWalk, page: str, width_pt: float, height_pt: float
) -> None:
    made = read(timeline_pdf(walk, page=page))  # type: ignore[arg-type]  # parametrised
    assert 4 <= len(made.pages) <= 5
    for sheet in made.pages:
        sides = sorted([float(sheet.mediabox.width), float(sheet.mediabox.height)])
        assert sides == pytest.approx([width_pt, height_pt], abs=0.5)
    assert all(sheet.mediabox.width < sheet.mediabox.height for sheet in list(made.pages)[:-1])


def test_paper_of_another_name_is_refused(walk: FixtureWalk) -> None:
    with pytest.raises(ValueError, match=r"found 'B5'; allowed are A4, Letter"):
        timeline_pdf(walk, page="B5")  # type: ignore[arg-type]  # on purpose


def test_the_same_walk_gives_the_same_bytes(walk: FixtureWalk, pdf: bytes) -> None:
    assert timeline_pdf(walk) == pdf
    assert b"/CreationDate" not in pdf


def test_title_language_and_tags_are_set(pdf: bytes, walk: FixtureWalk) -> None:
    made = read(pdf)
    assert made.metadata is not None
    assert made.metadata.title == walk.plan.title
    root = made.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    # PDF/UA-1 (ISO 14289-1), clause 5: the file names the standard in its metadata.
    assert "pdfuaid" in root["/Metadata"].get_data().decode()


def _fonts(made: PdfReader) -> list[DictionaryObject]:
    found = []
    for item in range(1, len(made.xref[0]) + 1 if made.xref else 1):
        candidate = made.get_object(item)
        if isinstance(candidate, DictionaryObject) and candidate.get("/Type") == "/FontDescriptor":
            found.append(candidate)
    return found


def test_every_font_is_embedded(pdf: bytes) -> None:
    descriptors = _fonts(read(pdf))
    assert len(descriptors) >= 2
    # ISO 32000-1, table 122: an embedded font program is one of these streams.
    for descriptor in descriptors:
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)


def test_no_text_is_set_smaller_than_nine_points(pdf: bytes) -> None:
    sizes: set[float] = set()
    for page in read(pdf).pages:
        page.extract_text(
            visitor_text=lambda text, _cm, tm, _font, size: (
                sizes.add(round(abs(tm[3] * size), 1)) if text.strip() else None
            )
        )
    assert sizes
    assert min(sizes) >= 8.9


def test_no_page_is_mostly_blank_and_the_last_takes_trial_walks(pdf: bytes) -> None:
    assert max(blank_shares(pdf)) < 0.35
    assert "Walked for a trial" in text_of(pdf)


def test_hostile_names_are_only_text(hostile_pdf: bytes) -> None:
    made = hostile_pdf
    text = text_of(made)
    assert "<script>alert(1)</script>" in text
    assert "#set *strong* `raw`" in text
    for mark in (b"/JavaScript", b"/JS", b"/Launch", b"/URI", b"/OpenAction"):
        assert mark not in made
    # The visible order may not be turned round by hidden characters.
    assert not re.search("[\u202a-\u202e\u2066-\u2069]", PdfReader(io.BytesIO(made)).metadata.title)
    assert HOSTILE[0] in (read(made).metadata or {}).get("/Title", "")


def test_us_units_are_printed_throughout(make_walk: MakeWalk, us_pdf: bytes) -> None:
    walk = make_walk(units="us")
    text = text_of(us_pdf)
    miles = walk.summary["route"]["distance_km"] / 1.609344  # NIST SP 811, appendix B.8
    for words in (
        f"{miles:.1f} mi on foot",
        "ft",
        "°F",
        "2.8 qt",
        "29 fl oz",
        "distance from the start (mi)",
    ):
        assert words in text
    # Sentences of the verdict are the walk's own; everything set here begins with US units.
    assert " km on foot" not in text
    assert "up 610 ft, down 530 ft" in text  # a foot is 0.3048 m exactly


def test_one_system_of_units_stands_on_all_sheets(
    make_walk: MakeWalk, pdf: bytes, us_pdf: bytes
) -> None:
    for system, made, foreign in (
        ("metric", pdf, r"\d (mi|ft|qt|fl oz|°F)\b"),
        ("us", us_pdf, r"\d (km|m|°C)\b"),
    ):
        walk = make_walk(units=system)
        assert re.findall(foreign, text_of(made)) == []
        units = {hour.water_left.split()[-1] for hour in sheet_of(walk).hours}
        short = {hour.water_short.split()[-1] for hour in sheet_of(walk).hours if hour.water_short}
        assert units | short <= {"L" if system == "metric" else "oz", "empty"}


def test_a_long_walk_and_long_lists_still_print(walk: FixtureWalk) -> None:
    hours = walk.hours.iloc[[*range(len(walk.hours))] * 4].reset_index(drop=True)
    summary = dict(walk.summary)
    summary["verdict"] = {
        "level": "stay and wait",
        "reasons": [f"Reason {i}: " + "word " * 30 for i in range(14)],
    }
    summary["cautions"] = ["Be careful. " * 8] * 14
    made = timeline_pdf(replace(walk, hours=hours, summary=summary))
    text = text_of(made)
    assert "Stay and wait." in text
    assert "Do not set out as planned" in text
    assert "start 16:30" in text
    assert len(read(made).pages) <= 8


@pytest.mark.usefixtures("plain_figures")
def test_what_is_not_known_is_said_so(walk: FixtureWalk) -> None:
    summary = dict(walk.summary)
    summary["cold_heat"] = {"coldest_felt_c": float("nan"), "hottest_felt_c": None}
    summary["water"] = summary["water"] | {"first_short_h": None, "short_l": float("nan")}
    assert "unknown" in text_of(timeline_pdf(replace(walk, summary=summary)))
