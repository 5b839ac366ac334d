"""No way home: one page of paper and one for a screen, in place of every earlier answer."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from simulator import files
from simulator.report.actions import Action
from simulator.report.exports import json_text
from simulator.report.figures.style import ROLES
from simulator.report.paper.answers import AnswerPart, answer_pdf
from simulator.report.paper.press import Page
from simulator.report.paper.sheet import STANDING_CAUTION
from simulator.report.text import files_written, wrapped
from simulator.report.words import clean

if TYPE_CHECKING:
    from simulator.plan import Plan

HEADLINE: Final = "Stay. No way home on foot"
"""What the pages are headed."""

ACTIONS: Final = (
    Action(
        "Now",
        "Do not set out on foot. Stay indoors, with people, warmth and water, and say where you "
        "are to those at home.",
    ),
    Action(
        "Water",
        "Fill every bottle while taps run; ask where water is given out. Drink when thirsty.",
    ),
    Action(
        "Look again",
        "Make the plan again when a bridge or street opens, the water falls, or authorities name "
        "a way. Until then follow what they say.",
    ),
)
"""Three lines to act on."""

LIMITS: Final = (
    "No way means: none on this map, with what the plan closes and what the map calls walkable. "
    "The map may lack a path, and a boat, a bus or a lift may be there. Never try water, rails "
    "or motorways instead."
)
"""What the answer rests on."""

WALK_FILES: Final = (
    *("summary.json", "hours.csv", "refills.csv", "route.geojson", "route.gpx", "timeline.pdf"),
    *("page.html", "bottles.csv", "walk.ics", "hours.parquet", "refills.parquet", "credits.txt"),
)
"""Every file that `plan` may write."""

ANSWER_FILES: Final[Mapping[str, tuple[str, ...]]] = {
    "detours": (
        *("detours.csv", "detours.geojson", "detours.json", "detours.pdf", "blockages.csv"),
    ),
    "bag": ("bag.json", "checklist.pdf", "upkeep.ics", "upkeep.csv", "chosen.csv"),
    "odds": ("odds.json", "odds.csv", "odds.pdf"),
    "year": ("year.json", "year.csv", "year.pdf"),
    "many": ("many.json", "many.pdf", "people.csv", "people.parquet", "passed.csv"),
}
"""Every file that the other commands may write."""


def closed_words(plan: Plan) -> tuple[str, ...]:
    """Say what the plan closes, for whoever asks why there is no way."""
    event = plan.event
    told = [f"closed by the plan: {clean(name)}" for name in event.closed]
    if getattr(event, "closed_area", None):
        told.append("an area that the plan closes")
    if getattr(event, "flood_level_m", None) is not None:
        told.append("everything below the flood level of the plan")
    return tuple(f"{one[:1].upper()}{one[1:]}" for one in told)


def no_way_pdf(plan: Plan, reason: str, *, attribution: str, page: Page = "A4") -> bytes:
    """Set one page that says to stay, why, and what to do."""
    shut = closed_words(plan)
    return answer_pdf(
        HEADLINE,
        plan.title,
        [
            AnswerPart(told=_capital(clean(reason, longest=600))),
            *(AnswerPart(heading=one.heading, told=one.text) for one in ACTIONS),
            *([AnswerPart(heading="What is counted as closed", lines=shut)] if shut else []),
            AnswerPart(heading="What this rests on", told=LIMITS),
            AnswerPart(heading="To fill in by hand", blanks=BLANKS),
        ],
        standing=STANDING_CAUTION,
        attribution=attribution,
        page=page,
        font=plan.choices.font,
    )


BLANKS: Final = ("Emergency number here", "Who to call, away from here", "Meeting place")
"""Lines to write on."""


def no_way_html(plan: Plan, reason: str, *, attribution: str) -> str:
    """Lay out the page for a screen; it has no script."""
    from jinja2 import Environment, StrictUndefined

    from simulator.report.page.html import DARK

    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    source = resources.files("simulator.report.page").joinpath("no_way.html.j2")
    return environment.from_string(source.read_text(encoding="utf-8")).render(
        title=clean(plan.title) or "Walk home",
        headline=HEADLINE,
        reason=_capital(clean(reason, longest=600)),
        actions=ACTIONS,
        shut=closed_words(plan),
        limits=LIMITS,
        standing=STANDING_CAUTION,
        attribution=clean(attribution),
        light={role: colour for colour, role in ROLES.items()},
        dark=DARK,
    )


def write_no_way(
    plan: Plan, summary: dict[str, Any], folder: Path, *, command: str, page: Page = "A4"
) -> list[Path]:
    """Write what is known, and take away every earlier answer that says otherwise.

    Parameters
    ----------
    plan : Plan
        What was asked.
    summary : dict
        Content of summary.json, with the reason as the verdict's.
    folder : pathlib.Path
        Made when it does not exist.
    command : str
        Which command asked: its earlier files go too.
    page : {"A4", "Letter"}
        Paper.

    Returns
    -------
    list of pathlib.Path
        ``summary.json``, ``timeline.pdf`` and ``page.html``; all or none.

    Raises
    ------
    InputError
        When nothing can be written there.
    """
    reason, credit = summary["verdict"]["reasons"][0], str(summary["attribution"])
    contents = {
        "summary.json": json_text(summary).encode(),
        "timeline.pdf": no_way_pdf(plan, reason, attribution=credit, page=page),
        "page.html": no_way_html(plan, reason, attribution=credit).encode(),
    }
    with files.staged(folder, replaces=(*WALK_FILES, *ANSWER_FILES.get(command, ()))) as stage:
        for name, content in contents.items():
            files.write_bytes(stage / name, content)
    return [folder / name for name in contents]


def no_way_text(reason: str, *, written: list[Path]) -> str:
    """Say it on a terminal, in the same words."""
    lines = [HEADLINE.upper(), *wrapped(_capital(reason))]
    for one in ACTIONS:
        lines += ["", one.heading, *wrapped(one.text, first="  ", rest="  ")]
    return "\n".join(lines + files_written(written))


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith(".") else ".")
