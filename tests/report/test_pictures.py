"""The demo's printed pages as pictures: against a second renderer, and against pictures looked at.

Pages are rendered finely and averaged, which takes away most of how a renderer draws a hair line;
after a slight blur two pictures of one page are alike nearly everywhere. WALKHOME_WRITE_DOCS=1
writes the pictures anew after a change that is meant: look at them before they are kept.
"""

from __future__ import annotations

import io
import os
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import typst
from numpy.typing import NDArray
from PIL import Image
from pypdf import PdfReader
from scipy.ndimage import gaussian_filter

from simulator import Walk
from simulator.report.paper.timeline import BLANK, timeline_pdf

Picture = NDArray[np.float64]

PICTURES = Path(__file__).parent / "pictures"
DOTS_PER_INCH, AVERAGED = 160, 4
"""Pages are rendered at the first, and squares of so many dots averaged: 40 an inch are kept."""

BLUR_DOTS = 1.0
DIFFERENT = 0.12
"""A dot differs when its grey does by this share of black and white."""

MOST_DIFFERENT = 0.002
"""Share of a page's dots that may differ. Two renderers: under 0.01 % differ; a block of text moved
by one line: 0.7 % or more; a map that is missing: several percent (measured below)."""

MOST_KB = 150
GREYS = 16

pytestmark = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="pdftoppm is not installed here"
)


@dataclass(frozen=True)
class Printed:
    """The demo's timeline, its pages as poppler shows them, and what the typesetter was given."""

    pdf: bytes
    pages: list[Picture]
    template: bytes
    options: dict[str, Any]

    def by_typst(self, **inputs: str) -> list[Picture]:
        """Let the typesetter draw the pages itself, with some inputs changed."""
        options = self.options | {"sys_inputs": self.options["sys_inputs"] | inputs}
        made = typst.compile(self.template, format="png", ppi=DOTS_PER_INCH, **options)
        return [averaged(Image.open(io.BytesIO(page))) for page in made]


@pytest.fixture(scope="module")
def printed(whole_walk: Walk, tmp_path_factory: pytest.TempPathFactory) -> Printed:
    asked: dict[str, Any] = {}
    compile_pdf = typst.compile

    def listen(template: bytes, **options: Any) -> bytes:  # noqa: ANN401 - passed on as they are
        asked.update(options, template=template)
        made: bytes = compile_pdf(template, **options)
        return made

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(typst, "compile", listen)
        pdf = timeline_pdf(whole_walk)
    folder = tmp_path_factory.mktemp("pages")
    (folder / "timeline.pdf").write_bytes(pdf)
    command = ["pdftoppm", "-r", str(DOTS_PER_INCH), "-gray", "-png", "timeline.pdf", "page"]
    subprocess.run(command, cwd=folder, check=True, timeout=120, capture_output=True)
    pages = [averaged(Image.open(path)) for path in sorted(folder.glob("page-*.png"))]
    options = {name: asked[name] for name in ("font_paths", "sys_inputs")}
    return Printed(pdf, pages, asked["template"], options)


def averaged(image: Image.Image) -> Picture:
    """Give the mean grey of small squares of dots, 0 black to 1 white."""
    dots = np.asarray(image.convert("L"), dtype=np.float64) / 255.0
    high, wide = (side // AVERAGED for side in dots.shape)
    squares = dots[: high * AVERAGED, : wide * AVERAGED].reshape(high, AVERAGED, wide, AVERAGED)
    grey: Picture = squares.mean(axis=(1, 3))
    return grey


def share_different(one: Picture, other: Picture) -> float:
    """Give the share of dots that differ after a slight blur."""
    assert (
        np.abs(np.subtract(one.shape, other.shape)).max() <= 1
    )  # renderers round the paper's edge
    high, wide = np.minimum(one.shape, other.shape)
    first, second = (gaussian_filter(page[:high, :wide], BLUR_DOTS) for page in (one, other))
    return float((np.abs(first - second) > DIFFERENT).mean())


def test_two_renderers_show_the_same_pages(printed: Printed) -> None:
    others = printed.by_typst()
    assert len(others) == len(printed.pages) == len(PdfReader(io.BytesIO(printed.pdf)).pages)
    for page, other in zip(printed.pages, others, strict=True):
        assert share_different(page, other) < MOST_DIFFERENT


def test_the_pages_look_as_they_did(printed: Printed) -> None:
    if os.environ.get("WALKHOME_WRITE_DOCS"):
        PICTURES.mkdir(exist_ok=True)
        for path in PICTURES.glob("*.png"):
            path.unlink()
        for number, page in enumerate(printed.pages, start=1):
            greys = np.round(page * (GREYS - 1)) * (255 // (GREYS - 1))
            picture = Image.fromarray(greys.astype(np.uint8))
            picture.save(PICTURES / f"demo-{number}.png", optimize=True)
    kept = sorted(PICTURES.glob("demo-*.png"))
    assert len(kept) == len(printed.pages)
    for path, page in zip(kept, printed.pages, strict=True):
        before = np.asarray(Image.open(path).convert("L"), dtype=np.float64) / 255.0
        assert share_different(page, before) < MOST_DIFFERENT, path.name


def test_the_kept_pictures_are_small() -> None:
    assert sum(path.stat().st_size for path in PICTURES.iterdir()) < MOST_KB * 1000


@pytest.mark.parametrize("number", [0, 1, 2, 3])
def test_a_block_moved_by_one_line_would_be_noticed(printed: Printed, number: int) -> None:
    page = printed.pages[number]
    high, wide = page.shape
    top, bottom, line = int(0.30 * high), int(0.42 * high), round(12.0 / 72.0 * 40.0)
    moved = page.copy()
    moved[top + line : bottom + line, : wide // 2] = page[top:bottom, : wide // 2]
    assert share_different(page, moved) > 2.0 * MOST_DIFFERENT


@pytest.mark.parametrize("name", ["map", "profile", "strip"])
def test_a_missing_figure_would_be_noticed(printed: Printed, name: str) -> None:
    lost = printed.by_typst(**{name: BLANK})
    pairs = zip(printed.pages[:-1], lost[:-1], strict=False)  # the card lies sideways
    assert max(share_different(page, other) for page, other in pairs) > 5.0 * MOST_DIFFERENT


def test_a_missing_map_on_the_card_would_be_noticed(printed: Printed) -> None:
    lost = printed.by_typst(card_map=BLANK)
    assert share_different(printed.pages[-1], lost[-1]) > 2.0 * MOST_DIFFERENT
