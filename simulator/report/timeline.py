"""The printed timeline: a PDF of a few pages, typeset from data that is never markup."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path
from typing import Literal

import matplotlib as mpl

from simulator.report.alt import describe_map, describe_profile, describe_strip
from simulator.report.content import units_of
from simulator.report.figures import profile, refill_strip
from simulator.report.mapfigure import route_map
from simulator.report.sheet import sheet_of
from simulator.report.style import ACCENT, FAINT, GREY, INK, PALE, svg_text
from simulator.report.subject import Walk

Page = Literal["A4", "Letter"]

PAPER_NAMES = {"A4": "a4", "Letter": "us-letter"}
"""Page sizes offered (ISO 216; ANSI/ASME Y14.1) and their names for the typesetter."""

MAP_HEIGHT_IN = {"A4": 5.0, "Letter": 4.4}


def timeline_pdf(walk: Walk, *, page: Page = "A4") -> bytes:
    """Typeset the timeline.

    The same walk gives the same bytes. Fonts are embedded, text is selectable, and the file
    follows PDF/UA-1 (tagged, with a text alternative for every figure).

    Parameters
    ----------
    walk : Walk
        What `simulator.walk_home` gave.
    page : {"A4", "Letter"}
        Paper.

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
    sheet = sheet_of(walk)
    data = sheet.as_dict() | {
        "paper": PAPER_NAMES[page],
        "us": units_of(walk).us,
        "colours": {"ink": INK, "grey": GREY, "pale": PALE, "faint": FAINT, "accent": ACCENT},
        "alt": {
            "map": describe_map(walk),
            "profile": describe_profile(walk),
            "strip": describe_strip(walk),
        },
    }
    drawings = {
        "map": svg_text(route_map(walk, height_in=MAP_HEIGHT_IN[page]), prefix="map"),
        "profile": svg_text(profile(walk), prefix="profile"),
        "strip": svg_text(refill_strip(walk), prefix="strip"),
    }
    template = resources.files("simulator.report").joinpath("timeline.typ").read_bytes()
    made = typst.compile(
        template,
        format="pdf",
        font_paths=[str(Path(mpl.get_data_path()) / "fonts" / "ttf")],
        ignore_system_fonts=True,
        sys_inputs={"sheet": json.dumps(data, sort_keys=True), **drawings},
        pdf_standards=["ua-1"],
    )
    return bytes(made)
