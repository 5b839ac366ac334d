"""Letters that the paper's own fonts lack, with a font made here of a few empty squares."""

from __future__ import annotations

import io
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pikepdf
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from pypdf import PdfReader

from simulator.errors import InputError
from simulator.report.paper.timeline import timeline_pdf
from simulator.report.words import (
    boxes_note,
    label_font,
    lacking,
    letters,
    paper_note,
    typeset_fonts,
)

if TYPE_CHECKING:
    from pathlib import Path

    from tests.report.conftest import FixtureWalk

TOWN = "町橋"


@pytest.fixture
def font(tmp_path: Path) -> Path:
    """Make a font that has the letters of `TOWN` and no other."""
    pen = TTGlyphPen(None)
    for point, draw in zip(
        ((100, 0), (900, 0), (900, 800), (100, 800)), (pen.moveTo, *3 * [pen.lineTo]), strict=True
    ):
        draw(point)
    pen.closePath()
    square = pen.glyph()
    glyphs = {ord(letter): f"glyph{ord(letter)}" for letter in TOWN}
    names = [".notdef", *glyphs.values()]
    made = FontBuilder(1000, isTTF=True)
    made.setupGlyphOrder(names)
    made.setupCharacterMap(glyphs)
    made.setupGlyf(dict.fromkeys(names, square))
    made.setupHorizontalMetrics(dict.fromkeys(names, (1000, 100)))
    made.setupHorizontalHeader(ascent=800, descent=-200)
    made.setupNameTable(
        {
            "familyName": "Invented Squares",
            "styleName": "Regular",
            "uniqueFontIdentifier": "1",
            "fullName": "Invented Squares Regular",
            "psName": "InventedSquares-Regular",
            "version": "Version 1.0",
        }
    )
    made.setupOS2()
    made.setupPost()
    path = tmp_path / "squares.ttf"
    made.save(path)
    return path


def test_letters_of_the_house_font_print() -> None:
    assert lacking(["Mühle Żółć Οδός Улица שלום", "a\tb"], None) == ""
    assert boxes_note(["Mill Lane"], None) == ""


def test_letters_that_no_font_has_are_named_once_and_what_helps_is_said() -> None:
    assert lacking([f"{TOWN} a", TOWN], None) == TOWN
    note = boxes_note([TOWN], None)
    assert "(U+753A, U+6A4B)" in note
    assert "[choices] font" in note
    many = "".join(map(chr, range(0x4E00, 0x4E20)))
    assert "and 27 more)" in boxes_note([many], None)


def test_a_named_font_adds_its_letters(font: Path) -> None:
    assert {ord(letter) for letter in TOWN} <= letters(font) - letters(None)
    assert boxes_note([f"Mill Lane {TOWN}"], font) == ""
    assert "the plan's font lacks (U+99C5)" in boxes_note(["駅"], font)
    found = label_font(TOWN, font)
    assert found is not None
    assert found.get_name() == "Invented Squares"
    assert label_font("Mill Lane", font) is None
    assert label_font(TOWN, None) is None


def test_the_typesetter_gets_the_named_font_and_none_of_the_machine(font: Path) -> None:
    with typeset_fonts(None) as plain, typeset_fonts(font) as more:
        assert (plain.named, more.named) == ([], ["Invented Squares"])
        assert {"DejaVu Sans", "Libertinus Serif"} <= set(plain.fonts.families())
        assert set(more.fonts.families()) - set(plain.fonts.families()) == set(more.named)


def _over_the(bridge: str, walk: FixtureWalk, font: Path | None) -> FixtureWalk:
    """Give a walk whose streets and longest bridge have a name in letters of the named font."""
    plan = SimpleNamespace(
        **vars(walk.plan)
        | {"choices": SimpleNamespace(page="A4", also=(), font=font, what_if=True, print="usual")}
    )
    summary = walk.summary | {"route": walk.summary["route"] | {"bridges": [bridge]}}
    return replace(walk, plan=plan, segments=walk.segments.assign(street=bridge), summary=summary)


def test_paper_prints_the_named_font_and_says_nothing_of_boxes(
    walk: FixtureWalk, font: Path
) -> None:
    named = _over_the(TOWN, walk, font)
    made = timeline_pdf(named)
    with pikepdf.open(io.BytesIO(made)) as file:
        used = {
            str(one.BaseFont).split("+")[-1]
            for page in file.pages
            for one in page.Resources.Font.values()
        }
    assert any("InventedSquares" in name for name in used)
    assert not any("LastResort" in name for name in used)
    assert "LETTERS" not in PdfReader(io.BytesIO(made)).pages[0].extract_text()
    assert paper_note(named) == ""
    assert made == timeline_pdf(named)


def test_paper_without_such_a_font_says_so_on_its_first_page(walk: FixtureWalk) -> None:
    boxed = _over_the(TOWN, walk, None)
    words = " ".join(PdfReader(io.BytesIO(timeline_pdf(boxed))).pages[0].extract_text().split())
    assert "LETTERS: some names have letters that the paper's font lacks (U+753A, U+6A4B)" in words
    assert paper_note(boxed) in words


def test_a_file_that_is_no_font_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "names.ttf"
    path.write_text("no font")
    with pytest.raises(InputError, match=r"choices\.font: names\.ttf.*cannot be used as a font"):
        letters(path)
