"""Paper out of a template, data and figures: one way for every PDF but the timeline."""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

import matplotlib as mpl

from simulator.report.style import ACCENT, GREY, INK, PALE
from simulator.report.timeline import PAPER_NAMES, Page


def typeset(
    template: str,
    sheet: Mapping[str, Any],
    *,
    page: Page,
    drawings: Mapping[str, str] | None = None,
) -> bytes:
    """Set a template with its data; nothing in the data is markup.

    The same data give the same bytes. Fonts are embedded, and the file follows PDF/UA-1: tagged,
    with title and language, and a text alternative for every figure.

    Parameters
    ----------
    template : str
        File of this room.
    sheet : mapping
        Text, numbers, truth values, lists and dicts, as the template reads them.
    page : {"A4", "Letter"}
        Paper.
    drawings : mapping of str to str, optional
        Figures as SVG, by name.

    Returns
    -------
    bytes
        A PDF file.

    Raises
    ------
    ValueError
        For paper of another name.
    """
    import typst  # noqa: PLC0415 - a compiled typesetter, only when a PDF is asked for

    if page not in PAPER_NAMES:
        message = f"page: found {page!r}; allowed are {', '.join(PAPER_NAMES)}"
        raise ValueError(message)
    data = {
        **sheet,
        "paper": PAPER_NAMES[page],
        "colours": {"ink": INK, "grey": GREY, "pale": PALE, "accent": ACCENT},
    }
    made = typst.compile(
        resources.files("simulator.report").joinpath(template).read_bytes(),
        format="pdf",
        font_paths=typst.Fonts(
            include_system_fonts=False,
            font_paths=[str(Path(mpl.get_data_path()) / "fonts" / "ttf")],
        ),
        sys_inputs={"sheet": json.dumps(data, sort_keys=True), **(drawings or {})},
        pdf_standards=["ua-1"],
    )
    return bytes(made)
