"""The offline page: one HTML file that asks the network for nothing."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable, Mapping
from importlib import resources
from typing import TYPE_CHECKING

from matplotlib.axes import Axes

from simulator.report.figures.alt import (
    describe_ledger,
    describe_map,
    describe_profile,
    describe_strip,
)
from simulator.report.figures.map import fitting_height_in, route_map
from simulator.report.figures.profile import ledger, profile, refill_strip
from simulator.report.figures.style import ROLES, svg_text
from simulator.report.page.data import as_script_data, live_data, packed
from simulator.report.paper.sheet import sheet_of
from simulator.report.paper.timeline import NAMES
from simulator.report.subject import DrawnWalk

if TYPE_CHECKING:
    from jinja2 import Template

NARROW_IN, WIDE_IN = 3.5, 7.1
"""Widths of figures: one fits a phone, the other is the paper's."""

Drawer = Callable[[DrawnWalk], Axes]
Describer = Callable[[DrawnWalk], str]

DARK = {
    "ink": "#ece8df",
    "grey": "#aaa59a",
    "pale": "#77736a",
    "faint": "#37352f",
    "paper": "#161513",
    "accent": "#f08a6c",
}
"""Colours by role at night: dim, warm, and still above 7 : 1 for text."""


def _map(walk: DrawnWalk) -> Axes:
    height_in = fitting_height_in(walk, WIDE_IN, 1.5 * WIDE_IN)
    return route_map(walk, width_in=WIDE_IN, height_in=height_in)


FIGURES: dict[str, tuple[str, Drawer, Describer]] = {
    "map": (NAMES["map"], _map, describe_map),
    "profile": (
        NAMES["profile"],
        lambda walk: profile(walk, size_in=(WIDE_IN, 2.35)),
        describe_profile,
    ),
    "ledger": (
        "Budgets hour by hour",
        lambda walk: ledger(walk, size_in=(NARROW_IN, 4.8)),
        describe_ledger,
    ),
    "strip": (
        NAMES["strip"],
        lambda walk: refill_strip(walk, size_in=(WIDE_IN, 1.75)),
        describe_strip,
    ),
}
"""Name, drawing and words of each figure on the page. The ledger stands upright and fits a phone;
the others keep their width, and a phone scrolls them sideways."""

_COLOUR = re.compile("|".join(ROLES), re.IGNORECASE)


def page_html(walk: DrawnWalk, *, figures: Mapping[str, str] | None = None) -> str:
    """Lay out the offline page."""
    from markupsafe import Markup

    # No `Markup` is made from map text: the figures' text is escaped where they are serialised.
    ready = figures or {}
    drawn = {name: Markup(_by_role(_drawn(walk, name, ready))) for name in FIGURES}  # noqa: S704
    live = live_data(walk)
    script = _script()
    return page_template().render(
        sheet=sheet_of(walk),
        figures=drawn,
        light={role: colour for colour, role in ROLES.items()},
        dark=DARK,
        live=live,
        # `as_script_data` leaves no character that could end the element; scripts are our own.
        live_json=Markup(as_script_data(packed(live))),  # noqa: S704
        script=Markup(script),  # noqa: S704
        script_digest=_digest(script),
    )


def page_template() -> Template:
    """Give the page's template; its tables are blocks, which the desk shows one by one.

    Returns
    -------
    jinja2.Template
        Escapes all text; asks for ``sheet``.
    """
    from jinja2 import Environment, StrictUndefined

    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    source = resources.files("simulator.report.page").joinpath("page.html.j2")
    return environment.from_string(source.read_text(encoding="utf-8"))


def _script() -> str:
    """Read the page's own script."""
    return resources.files("simulator.report.page").joinpath("page.js").read_text(encoding="utf-8")


def _digest(script: str) -> str:
    """Give a script's SHA-256 as a content security policy names it."""
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def _drawn(walk: DrawnWalk, name: str, ready: Mapping[str, str]) -> str:
    """One figure as SVG; the paper's own where it was drawn already."""
    if name in ready:
        return ready[name]
    title, draw, describe = FIGURES[name]
    return svg_text(draw(walk), prefix=name, title=title, description=describe(walk))


def _by_role(svg: str) -> str:
    """Name colours by their role, so that the style sheet can swap them."""
    return _COLOUR.sub(lambda found: f"var(--{ROLES[found.group().lower()]})", svg)
