"""A packed bag on a terminal, in 80 columns."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from simulator.files import terminal_safe
from simulator.questions.pack import short_of
from simulator.report.bagwords import (
    change,
    counted,
    grams,
    headline,
    limits_that_bind,
    money,
    shortage,
)
from simulator.report.words import loud
from simulator.units import Units

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from simulator.questions.pack import Packed

COLUMNS: Final = 80
"""Widest line printed [characters]."""

MOST_CHANGES: Final = 4
"""Changes printed; bag.json has them all."""


def bag_text(packed: Packed, *, written: Sequence[Path] = ()) -> str:
    """Lay out how the bag does.

    Parameters
    ----------
    packed : Packed
        The bag, judged.
    written : sequence of pathlib.Path
        Files to name at the end.

    Returns
    -------
    str
        Lines of at most 80 columns, without the last line's end; file names are not broken.
    """
    units = Units(packed.plan.units)
    told = headline(len(packed.shortages), packed.fit.missing)
    lines = _wrapped(told, first="", rest="")
    lines += [part for one in packed.shortages for part in _item(shortage(one, packed, units))]
    lines += ["", *_figures(packed, units)]
    helping = [one for one in packed.changes if one.gain > 0.0][:MOST_CHANGES]
    if helping:
        lines += ["", "Next best change, each tried by walking again:"]
        lines += [part for one in helping for part in _item(change(one, units))]
    if packed.choice is not None:
        lines += ["", *_chosen(packed, units)]
    lines += loud(packed.notes)
    if written:
        lines += ["", "Written:", *(f"  {terminal_safe(str(path))}" for path in written)]
    return "\n".join(lines)


def _figures(packed: Packed, units: Units) -> Iterator[str]:
    """Give mass, room, money, purposes and dates of the list as it is."""
    found, limits = packed.fit, packed.limits
    share = f"{100.0 * found.mass_share:.1f} % of body mass"
    load = "" if found.load == "unknown" else f", {found.load}"
    yield from _row(
        "mass", f"{_sum(grams(found.mass.known, units), found.mass.unknown_count)}, {share}{load}"
    )
    room = _sum(units.volume(found.volume.known), found.volume.unknown_count)
    of_room = "" if limits.volume_ml is None else f", of {units.volume(limits.volume_ml)} to fill"
    yield from _row("room", room + of_room)
    price = _sum(money(found.price.known), found.price.unknown_count)
    of_money = "" if limits.budget is None else f", of {money(limits.budget)}"
    yield from _row("price", price + of_money)
    if found.missing:
        yield from _row("nothing for", ", ".join(found.missing))
    if found.too_few:
        yield from _row("too few for", ", ".join(found.too_few))
    if found.too_large:
        yield from _row("no room for", ", ".join(found.too_large))
    if found.expired:
        yield from _row("out of date", ", ".join(one.item for one in found.expired))
    basic, comfort = (packed.tiers[name].spent for name in ("basic", "comfort"))
    yield from _row(
        "from nothing",
        f"a basic bag for this walk takes {money(basic)}, a comfortable one {money(comfort)} "
        "(catalogue prices, invented in the packaged one)",
    )


def _chosen(packed: Packed, units: Units) -> Iterator[str]:
    """Say what the best bag is."""
    choice = packed.choice
    if choice is None:
        return
    bought = zip(choice.bought.item, choice.bought.quantity.astype(int).tolist(), strict=True)
    yield "The best bag within these limits:"
    yield from _item(f"buy for {money(choice.spent)}: {counted(bought) or 'nothing'}")
    if choice.left_out:
        yield from _item(f"leave at home: {counted(choice.left_out)}")
    for text in (*choice.not_considered, *limits_that_bind(packed, units)):
        yield from _item(text)
    for one in short_of(packed.chosen_balances):
        yield from _item(f"still short. {shortage(one, packed, units)}")
    if packed.chosen_fit is not None and packed.chosen_fit.too_large:
        yield from _item(f"no room found for: {', '.join(packed.chosen_fit.too_large)}")
    if choice.uncovered:
        yield from _item(f"still nothing for: {', '.join(choice.uncovered)}")


def _sum(said: str, count: int) -> str:
    """Mark a sum that is a lower bound, by how many items it lacks."""
    return f"at least {said} ({count} unknown)" if count else said


def _row(label: str, text: str) -> list[str]:
    """Lay out a labelled line, wrapped under its text."""
    return _wrapped(text, first=f"  {label:<13}", rest=" " * 15)


def _item(text: str) -> list[str]:
    """Lay out one entry of a list, wrapped."""
    return _wrapped(text, first="  - ", rest="    ")


def _wrapped(text: str, *, first: str, rest: str) -> list[str]:
    return textwrap.wrap(terminal_safe(text), COLUMNS, initial_indent=first, subsequent_indent=rest)
