"""Paper out of templates, data and figures: one way for every PDF."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from simulator.report.figures.style import ACCENT, GREY, INK, PALE
from simulator.report.words import Faces, boxes_note, typeset_fonts

Page = Literal["A4", "Letter"]

PAPER_NAMES = {"A4": "a4", "Letter": "us-letter"}
"""Page sizes offered (ISO 216; ANSI/ASME Y14.1) and their names for the typesetter."""


@dataclass(frozen=True, slots=True)
class Press:
    """A typesetter with its fonts and paper, from `press`.

    Attributes
    ----------
    page : {"A4", "Letter"}
        Paper.
    font : pathlib.Path or None
        Font file that the plan names.
    faces : Faces
        Fonts.
    """

    page: Page
    font: Path | None
    faces: Faces

    def pdf(self, *templates: str, sheet: Mapping[str, Any], drawings: Mapping[str, str]) -> bytes:
        """Set templates, one after the other, with their data; nothing in the data is markup."""
        import typst

        made = typst.compile(
            _source(templates),
            format="pdf",
            font_paths=self.faces.fonts,
            sys_inputs=self._inputs(sheet, drawings),
            pdf_standards=["ua-1"],
        )
        return bytes(made)

    def value(
        self, template: str, label: str, *, sheet: Mapping[str, Any], drawings: Mapping[str, str]
    ) -> Any:  # noqa: ANN401 - any JSON value
        """Ask a template for a value that it works out while it is set."""
        import typst

        found = typst.query(
            _source((template,)),
            f"<{label}>",
            field="value",
            one=True,
            font_paths=self.faces.fonts,
            sys_inputs=self._inputs(sheet, drawings),
        )
        return json.loads(found)

    def _inputs(self, sheet: Mapping[str, Any], drawings: Mapping[str, str]) -> dict[str, str]:
        data = {
            **sheet,
            "paper": PAPER_NAMES[self.page],
            "colours": {"ink": INK, "grey": GREY, "pale": PALE, "accent": ACCENT},
            "named_fonts": self.faces.named,
            "boxes": boxes_note(texts_in(sheet), self.font),
        }
        return {"sheet": json.dumps(data, sort_keys=True), **drawings}


def _source(templates: tuple[str, ...]) -> bytes:
    room = resources.files("simulator.report.paper")
    return b"".join(room.joinpath(name).read_bytes() for name in templates)


@contextmanager
def press(page: Page, font: Path | None) -> Iterator[Press]:
    """Make a typesetter ready."""
    if page not in PAPER_NAMES:
        message = f"page: found {page!r}; allowed are {', '.join(PAPER_NAMES)}"
        raise ValueError(message)
    with typeset_fonts(font) as faces:
        yield Press(page, font, faces)


def texts_in(data: object) -> Iterator[str]:
    """Go through every text of nested data."""
    if isinstance(data, str):
        yield data
    elif isinstance(data, Mapping):
        for value in data.values():
            yield from texts_in(value)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from texts_in(value)


def typeset(
    template: str,
    sheet: Mapping[str, Any],
    *,
    page: Page,
    font: Path | None,
    drawings: Mapping[str, str] | None = None,
) -> bytes:
    """Set one template with its data."""
    with press(page, font) as ready:
        return ready.pdf(template, sheet=sheet, drawings=drawings or {})
