"""Whose data the tables are made from: a small text beside files that have no place for a credit.

A CSV holds a heading and rows, and nothing else (RFC 4180): a line of credit in it would be read as
one more row. So the credit stands in one file beside all tables of a folder.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from simulator.report.words import clean

CREDITS: Final = "credits.txt"
"""Name of the file."""

HEADING: Final = (
    "Whose data these tables are made from. Keep this file with them, and the credit on what you\n"
    "publish from them. All else that is made from the map carries its credit inside.\n"
)
"""What stands at its top."""

NOBODY: Final = "Map: its source asks for no credit."
"""What is said where the map names nobody."""

CONSTANT_WEATHER: Final = "Weather: written in the plan."
"""What is said where no weather file is named."""

LARGEST_BYTES: Final = 100_000
"""A file larger than this is none of ours, and is not read."""

TABLE: Final = re.compile(r"\w+\.csv")
"""Name of a table."""

SEPARATOR: Final = "; "
"""Between the credits of map and heights, as the streets carry them."""

LONGEST: Final = 400
"""Characters kept of one credit."""


def weather_credit(plan: Any) -> str:  # noqa: ANN401 - the plan's own model lives in an earlier room
    """Say where the weather comes from.

    Parameters
    ----------
    plan : Plan
        What was asked.

    Returns
    -------
    str
        One line.
    """
    file = plan.weather.file
    return CONSTANT_WEATHER if file is None else f"Weather: {clean(Path(file).name)}"


def with_credits(
    contents: Mapping[str, bytes], folder: Path, *, attribution: str, weather: str
) -> dict[str, bytes]:
    """Put the credits beside files that are about to be written.

    Parameters
    ----------
    contents : mapping of str to bytes
        Files by name.
    folder : pathlib.Path
        Where they go. What it says already of tables of another command is kept.
    attribution : str
        Credit of map and heights, with its days, as the streets carry it.
    weather : str
        Where the weather comes from, e.g. from `weather_credit`.

    Returns
    -------
    dict of str to bytes
        The same files, and `CREDITS` last when one of them is a table.
    """
    tables = [name for name in contents if TABLE.fullmatch(name)]
    if not tables:
        return dict(contents)
    text = credits_text(tables, attribution=attribution, weather=weather, before=_before(folder))
    return {**contents, CREDITS: text.encode()}


def credits_text(tables: Sequence[str], *, attribution: str, weather: str, before: str = "") -> str:
    """Give the content of `CREDITS`.

    Parameters
    ----------
    tables : sequence of str
        Names of the files it speaks for.
    attribution, weather : str
        As for `with_credits`.
    before : str
        What the file said before; what it says of other tables stays.

    Returns
    -------
    str
        Blocks by their tables, in alphabetic order.
    """
    told = [clean(credit, longest=LONGEST) for credit in attribution.split(SEPARATOR)]
    lines = [line for line in told if line] or [NOBODY]
    blocks = {frozenset(tables): [*lines, clean(weather, longest=LONGEST)]}
    for block in before.split("\n\n")[1:]:
        heading, _, said = block.partition("\n")
        named = frozenset(clean(heading).removesuffix(":").split(", "))
        older = said and all(map(TABLE.fullmatch, named))
        if older and not named & frozenset(tables):
            blocks[named] = [clean(line, longest=LONGEST) for line in said.splitlines()]
    told_of = sorted((", ".join(sorted(named)), said) for named, said in blocks.items())
    return "\n".join(
        [
            HEADING,
            *(
                "\n".join([f"{names}:", *(f"  {one}" for one in said), ""])
                for names, said in told_of
            ),
        ]
    )


def _before(folder: Path) -> str:
    """Read what the folder says already; nothing where it says nothing that can be read."""
    path = folder / CREDITS
    try:
        if path.is_file() and path.stat().st_size <= LARGEST_BYTES:
            return path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
    return ""
