"""The printed pages as pictures, against pictures that a person has looked at.

After a change that is meant, delete the picture, run this once (it fails and writes the new one),
and look at it.
"""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from matplotlib.image import imread, imsave
from numpy.typing import NDArray
from pypdf import PdfReader

PICTURES = Path(__file__).parent / "pictures"
DOTS_PER_INCH = 40

MEAN_OFF, SHARE_OFF = 0.02, 0.04
"""Most that a page may differ: mean grey, and share of dots that differ by half the range. A line
of text that moves by its height changes about 0.5 % of a page; a lost figure more than 5 %."""

pytestmark = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="pdftoppm is not installed here"
)


def pages(pdf: bytes, folder: Path) -> list[NDArray[np.float64]]:
    """Render every page in greys."""
    (folder / "timeline.pdf").write_bytes(pdf)
    command = ["pdftoppm", "-r", str(DOTS_PER_INCH), "-gray", "-png", "timeline.pdf", "page"]
    subprocess.run(command, cwd=folder, check=True, timeout=120)
    shown = [imread(path) for path in sorted(folder.glob("page-*.png"))]
    return [page if page.ndim == 2 else page[..., 0] for page in shown]


def test_the_pages_look_as_they_did(pdf: bytes, tmp_path: Path) -> None:
    written = []
    for number, page in enumerate(pages(pdf, tmp_path), start=1):
        path = PICTURES / f"timeline-{number}.png"
        if not path.exists():
            PICTURES.mkdir(exist_ok=True)
            imsave(path, page, cmap="gray", vmin=0.0, vmax=1.0)
            written.append(path.name)
            continue
        before = imread(path)[..., 0]
        assert page.shape == before.shape
        off = np.abs(page - before)
        assert off.mean() < MEAN_OFF, path.name
        assert (off > 0.5).mean() < SHARE_OFF, path.name
    assert not written, f"new pictures, look at them: {', '.join(written)}"


def test_a_page_with_a_lost_figure_would_be_noticed(pdf: bytes, tmp_path: Path) -> None:
    first = pages(pdf, tmp_path)[0]
    lost = first.copy()
    lost[first.shape[0] // 2 :] = 1.0
    off = np.abs(lost - first)
    assert off.mean() > MEAN_OFF or (off > 0.5).mean() > SHARE_OFF


def test_every_page_has_a_picture(pdf: bytes) -> None:
    count = len(PdfReader(io.BytesIO(pdf)).pages)
    assert len(list(PICTURES.glob("timeline-*.png"))) == count
