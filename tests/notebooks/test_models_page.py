"""The page of models is the one that the code makes, figures and all."""

from __future__ import annotations

import importlib.util
import re
import sys
from pathlib import Path
from types import ModuleType

import pytest

from simulator.body.catalogue import MODELS

ROOM = Path(__file__).resolve().parents[2] / "notebooks"
NUMBER = re.compile(r"-?\d+\.?\d*")
PATH_PART = re.compile(rf"[A-Za-z]|{NUMBER.pattern}")
"""A letter or a number of a drawn path; between them versions put spaces or none."""

NEAR_PT = 0.1
"""Other versions of the drawing library and other processors round differently [pt]."""


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    """Load the script beside the page."""
    spec = importlib.util.spec_from_file_location("make_models", ROOM / "make_models.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # where its records look for their annotations
    sys.path.insert(0, str(ROOM))  # as when the script is run
    try:
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(str(ROOM))
    return module


@pytest.fixture(scope="module")
def figures(maker: ModuleType) -> dict[str, str]:
    """Draw every figure anew."""
    made: dict[str, str] = maker.figures()
    return made


def without_marks(svg: str) -> str:
    """Leave out ids, which the drawing library makes from digits, and how it spaces a path."""
    named = re.sub(r'(id="|href="#|url\(#)[^")]*', r"\1", svg)
    return re.sub(r'(?<= d=")[^"]*', lambda path: " ".join(PATH_PART.findall(path[0])), named)


def test_the_page_is_the_one_that_the_code_makes(maker: ModuleType) -> None:
    assert (ROOM / "models.md").read_text(encoding="utf-8") == maker.page()


def test_the_figures_are_the_ones_that_the_code_makes(figures: dict[str, str]) -> None:
    kept = {path.name: path.read_text(encoding="utf-8") for path in ROOM.glob("models/*")}
    assert kept.keys() == figures.keys()
    for name, svg in figures.items():
        old, new = without_marks(kept[name]), without_marks(svg)
        assert NUMBER.sub("0", old) == NUMBER.sub("0", new), name
        pairs = zip(NUMBER.findall(old), NUMBER.findall(new), strict=True)
        assert all(abs(float(one) - float(other)) <= NEAR_PT for one, other in pairs), name


def test_every_model_and_every_figure_stands_on_the_page_once(figures: dict[str, str]) -> None:
    text = (ROOM / "models.md").read_text(encoding="utf-8")
    assert re.findall(r"^### (\S+)$", text, flags=re.MULTILINE) == sorted(
        MODELS, key=lambda name: text.index(f"### {name}\n")
    )
    shown = re.findall(r"!\[[^\]]+\]\(models/([^)]+)\)", text)
    assert sorted(shown) == sorted(figures)
