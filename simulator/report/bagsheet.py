"""The bag on paper and as files: checklist with tick boxes, bag.json, calendar, chosen list."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from simulator import files
from simulator.questions.pack import short_of
from simulator.questions.pack_document import cautions_of, document
from simulator.report.bagwords import (
    amount,
    change,
    counted,
    grams,
    headline,
    limits_that_bind,
    money,
    shortage,
    when,
)
from simulator.report.checklist import ORDER
from simulator.report.exports import json_text
from simulator.report.rows import day_in_words
from simulator.report.typeset import Page, typeset
from simulator.report.upkeep import upkeep_csv, upkeep_ics
from simulator.report.words import clean
from simulator.units import Units

if TYPE_CHECKING:
    from simulator.questions.pack import Packed
    from simulator.report.bagwords import Balance

MOST_CHANGES: Final = 6
"""Changes printed; bag.json has them all."""

MOST_TASKS: Final = 12
"""Tasks of upkeep printed; the calendar has them all."""

AMPLE: Final = 20.0
"""More than this many times what is asked is called ample."""

LONGEST_NAME: Final = 60
"""Characters of an item's name that are printed."""


def write_bag(packed: Packed, folder: Path, *, page: Page = "A4") -> list[Path]:
    """Write every file of a packed bag.

    Parameters
    ----------
    packed : Packed
        What `simulator.questions.pack.pack` gave.
    folder : pathlib.Path
        Made when it does not exist.
    page : {"A4", "Letter"}
        Paper of the checklist.

    Returns
    -------
    list of pathlib.Path
        The files, bag.json first; all or none are written.

    Raises
    ------
    InputError
        When nothing can be written there.
    """
    stamp = datetime.combine(packed.plan.trip.depart.date(), datetime.min.time(), tzinfo=UTC)
    calendar = upkeep_ics(packed.tasks, title=packed.plan.title, made=stamp)
    contents: dict[str, bytes] = {
        "bag.json": bag_json(packed).encode(),
        "checklist.pdf": checklist_pdf(packed, page=page),
        "upkeep.ics": calendar.encode(),
        "upkeep.csv": upkeep_csv(packed.tasks).encode(),
    }
    if packed.chosen_csv is not None:
        contents["chosen.csv"] = packed.chosen_csv.encode()
    with files.staged(Path(folder)) as stage:
        for name, content in contents.items():
            files.write_bytes(stage / name, content)
    return [Path(folder) / name for name in contents]


def bag_json(packed: Packed) -> str:
    """Give the content of bag.json.

    Parameters
    ----------
    packed : Packed
        The bag, judged.

    Returns
    -------
    str
        JSON that ends in a line break; what is unknown is null.
    """
    return json_text(document(packed))


def checklist_pdf(packed: Packed, *, page: Page = "A4") -> bytes:
    """Typeset the checklist.

    The same bag gives the same bytes. Fonts are embedded and the file follows PDF/UA-1.

    Parameters
    ----------
    packed : Packed
        The bag, judged.
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
    return typeset("bagsheet.typ", sheet_of_bag(packed), page=page, font=packed.plan.choices.font)


def sheet_of_bag(packed: Packed) -> dict[str, Any]:
    """Put a packed bag into the texts of the checklist.

    Parameters
    ----------
    packed : Packed
        The bag, judged.

    Returns
    -------
    dict
        Only text, numbers, lists and dicts; nothing is markup.
    """
    units, choice = Units(packed.plan.units), packed.choice
    balances = packed.balances if packed.choice is None else packed.chosen_balances
    short = short_of(balances)
    return {
        "title": clean(packed.plan.title),
        "day": day_in_words(packed.plan.trip.depart),
        "headline": _headline(packed),
        "chosen": packed.choice is not None,
        "figures": _figures(packed, units),
        "short": [clean(shortage(one, packed, units)) for one in short],
        "asked": [
            {
                "what": one.demand.label,
                "need": amount(one.demand.need, one.demand.unit, units),
                "have": _have(one, units),
                "missing": amount(one.short, one.demand.unit, units) if one in short else "",
                "begins": when(one.begins_h, packed) if one in short else "",
                "note": clean(one.demand.note),
            }
            for one in balances
        ],
        "halted": clean(
            f"Had the walk to be broken off halfway ({packed.if_halted.note}), each walker would "
            f"need {amount(packed.if_halted.more_clo, 'clo', units)} beyond the clothes worn: seek "
            "a heated place, or stay among people.",
            longest=400,
        ),
        "changes": _changes(packed, units),
        "groups": _groups(packed, units),
        "walkers": len(packed.plan.walker),
        "at_home": "" if choice is None else clean(counted(choice.left_out), longest=400),
        "refused": [] if choice is None else [clean(text) for text in choice.not_considered],
        "binding": [clean(text, longest=300) for text in limits_that_bind(packed, units)],
        "tasks": _tasks(packed),
        "tasks_left_out": max(len(packed.tasks) - MOST_TASKS, 0),
        "cautions": [clean(text, longest=400) for text in cautions_of(packed)],
        "notes": [clean(text, longest=400) for text in packed.notes],
        "attribution": clean(packed.attribution, longest=400),
    }


def _have(one: Balance, units: Units) -> str:
    """Say what the list gives; far more than is asked needs no figure."""
    if one.demand.need > 0.0 and one.have > AMPLE * one.demand.need:
        return "ample"
    return amount(one.have, one.demand.unit, units) + ("+" if one.unknown else "")


def _changes(packed: Packed, units: Units) -> list[str]:
    """Say which changes help the list as it is; a chosen bag is past them."""
    helping = [one for one in packed.changes if one.gain > 0.0 and packed.choice is None]
    return [clean(change(one, units), longest=240) for one in helping[:MOST_CHANGES]]


def _tasks(packed: Packed) -> list[dict[str, str]]:
    """List what to do; what is done again as before says so."""
    rows: list[dict[str, str]] = []
    first: dict[str, str] = {}
    for task in packed.tasks[:MOST_TASKS]:
        day = day_in_words(datetime.combine(task.day, time()))
        why = f"as on {first[task.why]}" if task.why in first else task.why
        first.setdefault(task.why, day)
        rows.append({"day": day, "what": clean(task.what), "why": clean(why, longest=400)})
    return rows


def _headline(packed: Packed) -> str:
    """Say in one sentence how the bag to be packed does."""
    choice = packed.choice
    if choice is None:
        return headline(len(packed.shortages), packed.fit.missing)
    return headline(len(short_of(packed.chosen_balances)), choice.uncovered)


def _figures(packed: Packed, units: Units) -> list[dict[str, Any]]:
    """Give mass, room and money."""
    items = packed.packing
    mass, volume = items.total("mass_g"), items.total("volume_ml")
    usable, budget = packed.limits.volume_ml, packed.limits.budget
    price = items.total("price") if packed.choice is None else packed.choice.bought.total("price")
    people_kg = sum(walker.mass_kg for walker in packed.plan.walker)
    room = "capacity unknown" if usable is None else f"of {units.volume(usable)} to fill"
    purse = "no budget set" if budget is None else f"of {money(budget)}"
    full = usable is not None and volume.known > usable
    dear = budget is not None and price.known > budget
    share = f"{mass.known / 10.0 / people_kg:.1f} % of body mass"
    paid = "price" if packed.choice is None else "to be spent"
    return [
        _figure("mass", grams(mass.known, units), share, mass.unknown_count, over=False),
        _figure("room", units.volume(volume.known), room, volume.unknown_count, over=full),
        _figure(paid, money(price.known), purse, price.unknown_count, over=dear),
    ]


def _figure(label: str, value: str, note: str, unknown: int, *, over: bool) -> dict[str, Any]:
    """One figure; a sum with unknown cells is at least as much."""
    words = f"{note}, {unknown} unknown" if unknown else note
    return {"label": label, "value": f"{value}+" if unknown else value, "note": words, "over": over}


def _groups(packed: Packed, units: Units) -> list[dict[str, Any]]:
    """Put the items under their purposes, in the order in which they are needed."""
    items = packed.packing
    kept = len(items) if packed.choice is None else len(items) - len(packed.choice.bought)
    on = packed.plan.trip.depart.date()
    groups = []
    for purpose in ORDER:
        rows = [
            _line(packed, row, units, on=on, buy=row >= kept)
            for row in range(len(items))
            if items.purpose[row] == purpose and items.quantity[row] > 0
        ]
        if rows or purpose in packed.fit.covered + packed.fit.missing:
            groups.append({"purpose": purpose, "rows": rows})
    return groups


def _line(packed: Packed, row: int, units: Units, *, on: date, buy: bool) -> dict[str, Any]:
    """One item to tick."""
    items = packed.packing
    expires = items.expires[row]
    return {
        "item": clean(items.item[row], longest=LONGEST_NAME),
        "pieces": f"{items.quantity[row]:g}",
        "mass": grams(float(items.mass_g[row] * items.quantity[row]), units),
        "until": "" if expires is None else expires.isoformat(),
        "late": expires is not None and expires < on,
        "note": clean(items.caution[row]),
        "buy": money(float(items.price[row] * items.quantity[row])) if buy else "",
    }
