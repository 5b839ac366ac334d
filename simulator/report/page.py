"""The offline page: one HTML file that asks the network for nothing."""

from __future__ import annotations

import re
from importlib import resources

from simulator.report.alt import (
    describe_ledger,
    describe_map,
    describe_profile,
    describe_strip,
)
from simulator.report.figures import ledger, profile, refill_strip
from simulator.report.mapfigure import route_map
from simulator.report.sheet import sheet_of
from simulator.report.style import ROLES, svg_text
from simulator.report.subject import Walk

WIDTH_IN = 5.2
"""Figures are drawn for a narrow screen; a wide one shows them larger."""

DARK = {
    "ink": "#ece8df",
    "grey": "#aaa59a",
    "pale": "#77736a",
    "faint": "#37352f",
    "paper": "#161513",
    "accent": "#f08a6c",
}
"""Colours by role at night: dim, warm, and still above 7 : 1 for text."""

_COLOUR = re.compile("|".join(ROLES), re.IGNORECASE)


def page_html(walk: Walk) -> str:
    """Lay out the offline page.

    Parameters
    ----------
    walk : Walk
        What `simulator.walk_home` gave.

    Returns
    -------
    str
        A whole HTML document; no script, no outside address, all text escaped.
    """
    from jinja2 import Environment, StrictUndefined  # noqa: PLC0415 - only when a page is asked for
    from markupsafe import Markup  # noqa: PLC0415 - as above

    # No `Markup` is made from map text: the figures' text is escaped where they are serialised.
    def inline(svg: str) -> Markup:
        return Markup(_COLOUR.sub(lambda found: f"var(--{ROLES[found.group().lower()]})", svg))  # noqa: S704

    figures = {
        "map": inline(
            svg_text(
                route_map(walk, height_in=5.6, width_in=WIDTH_IN),
                prefix="map",
                title="Map of the way",
                description=describe_map(walk),
            )
        ),
        "profile": inline(
            svg_text(
                profile(walk, size_in=(WIDTH_IN, 2.5)),
                prefix="profile",
                title="Height profile",
                description=describe_profile(walk),
            )
        ),
        "ledger": inline(
            svg_text(
                ledger(walk, size_in=(WIDTH_IN, 5.2)),
                prefix="ledger",
                title="Budgets hour by hour",
                description=describe_ledger(walk),
            )
        ),
        "strip": inline(
            svg_text(
                refill_strip(walk, size_in=(WIDTH_IN, 1.9)),
                prefix="strip",
                title="Places along the way",
                description=describe_strip(walk),
            )
        ),
    }
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string(
        resources.files("simulator.report").joinpath("page.html.j2").read_text(encoding="utf-8")
    )
    light = {role: colour for colour, role in ROLES.items()}
    return template.render(sheet=sheet_of(walk), figures=figures, light=light, dark=DARK)
