"""The offline page: one HTML file that asks the network for nothing."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable, Mapping
from importlib import resources
from importlib.util import find_spec
from pathlib import Path

from matplotlib.axes import Axes

from simulator.report.alt import (
    describe_ledger,
    describe_map,
    describe_profile,
    describe_strip,
)
from simulator.report.figures import profile, refill_strip
from simulator.report.ledgerfigure import ledger
from simulator.report.livedata import as_script_data, live_data
from simulator.report.mapfigure import fitting_height_in, route_map
from simulator.report.sheet import sheet_of
from simulator.report.style import ROLES, svg_text
from simulator.report.subject import Walk
from simulator.report.timeline import NAMES

NARROW_IN, WIDE_IN = 3.5, 7.1
"""Each figure is drawn twice, so that its text stays readable on a phone and on a desk."""

LIBRARY = ("bokeh.min.js", "bokeh-api.min.js")
"""Files of the plotting library that are written into the page."""

Drawer = Callable[[Walk, bool], Axes]
Describer = Callable[[Walk], str]

DARK = {
    "ink": "#ece8df",
    "grey": "#aaa59a",
    "pale": "#77736a",
    "faint": "#37352f",
    "paper": "#161513",
    "accent": "#f08a6c",
}
"""Colours by role at night: dim, warm, and still above 7 : 1 for text."""

FIGURES: dict[str, tuple[str, Drawer, Describer]] = {
    "map": (
        NAMES["map"],
        lambda walk, wide: _map(walk, WIDE_IN if wide else NARROW_IN),
        describe_map,
    ),
    "profile": (
        NAMES["profile"],
        lambda walk, wide: profile(walk, size_in=(WIDE_IN, 2.35) if wide else (NARROW_IN, 2.2)),
        describe_profile,
    ),
    "ledger": (
        "Budgets hour by hour",
        lambda walk, _wide: ledger(walk, size_in=(NARROW_IN, 4.8)),
        describe_ledger,
    ),
    "strip": (
        NAMES["strip"],
        lambda walk, wide: refill_strip(
            walk, size_in=(WIDE_IN, 1.75) if wide else (NARROW_IN, 1.9)
        ),
        describe_strip,
    ),
}
"""Name, drawing at either width, and words of each figure on the page."""

SAME_AT_BOTH = frozenset({"ledger"})
"""Figures that read as well upright on a wide page, drawn once."""

_COLOUR = re.compile("|".join(ROLES), re.IGNORECASE)


def _map(walk: Walk, width_in: float) -> Axes:
    height_in = fitting_height_in(walk, width_in, 1.5 * width_in)
    return route_map(walk, width_in=width_in, height_in=height_in)


def page_html(walk: Walk, *, figures: Mapping[str, str] | None = None) -> str:
    """Lay out the offline page.

    Parameters
    ----------
    walk : Walk
        What `simulator.walk_home` gave.
    figures : mapping of str to str, optional
        Wide figures that were drawn already, as ``timeline_and_figures`` gives them.

    Returns
    -------
    str
        A whole HTML document; all text escaped, and no script but the two whose digests its
        policy names.
    """
    from jinja2 import Environment, StrictUndefined  # noqa: PLC0415 - only when a page is asked for
    from markupsafe import Markup  # noqa: PLC0415 - as above

    # No `Markup` is made from map text: the figures' text is escaped where they are serialised.
    ready = figures or {}
    drawn = {
        name: {size: Markup(_by_role(svg)) for size, svg in _drawn(walk, name, ready).items()}  # noqa: S704
        for name in FIGURES
    }
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string(
        resources.files("simulator.report").joinpath("page.html.j2").read_text(encoding="utf-8")
    )
    live = live_data(walk)
    scripts = _scripts()
    return template.render(
        sheet=sheet_of(walk),
        figures=drawn,
        light={role: colour for colour, role in ROLES.items()},
        dark=DARK,
        live=live,
        # `as_script_data` leaves no character that could end the element; scripts are our own.
        live_json=Markup(as_script_data(live)),  # noqa: S704
        scripts=[Markup(script) for script in scripts],  # noqa: S704
        script_digests=[_digest(script) for script in scripts],
    )


def _scripts() -> list[str]:
    """Read the plotting library and the page's own script, as they stand in the page."""
    found = find_spec("bokeh")
    if found is None or not found.submodule_search_locations:
        message = "bokeh is not installed; install walkhome with its dependencies"
        raise ModuleNotFoundError(message)
    folder = Path(found.submodule_search_locations[0]) / "server" / "static" / "js"
    own = resources.files("simulator.report").joinpath("page.js").read_text(encoding="utf-8")
    # The library's files are read, not imported: importing it takes longer than drawing.
    return [*((folder / name).read_text(encoding="utf-8") for name in LIBRARY), own]


def _digest(script: str) -> str:
    """Give a script's SHA-256 as a content security policy names it."""
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def _drawn(walk: Walk, name: str, ready: Mapping[str, str]) -> dict[str, str]:
    """One figure as SVG at both widths."""
    title, draw, describe = FIGURES[name]
    words = describe(walk)
    if name in SAME_AT_BOTH:
        axes = draw(walk, False)  # noqa: FBT003 - the narrow form
        svg = svg_text(axes, prefix=name, title=title, description=words)
        return {"wide": "", "narrow": svg}
    return {
        size: ready[name]
        if size == "wide" and name in ready
        else svg_text(
            draw(walk, size == "wide"), prefix=f"{name}-{size}", title=title, description=words
        )
        for size in ("wide", "narrow")
    }


def _by_role(svg: str) -> str:
    """Name colours by their role, so that the style sheet can swap them."""
    return _COLOUR.sub(lambda found: f"var(--{ROLES[found.group().lower()]})", svg)
