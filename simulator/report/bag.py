"""The bag on paper and as files: checklist with tick boxes, bag.json, calendar, chosen list."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

from simulator import files
from simulator.questions.bag import cautions_of, document, short_of
from simulator.report.calendar import upkeep_csv, upkeep_ics
from simulator.report.exports import json_text
from simulator.report.paper.press import Page, typeset
from simulator.report.tables import ORDER, day_in_words
from simulator.report.text import files_written, item, loud, row, wrapped
from simulator.report.words import clean
from simulator.units import G_PER_KG, ML_PER_L, UNKNOWN, Units, duration, energy

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from simulator.questions.bag import Change, Packed

GRAMS_PER_OUNCE: Final = 28.349523125
"""Exact (international avoirdupois ounce)."""

ML_PER_FLUID_OUNCE: Final = 29.5735295625
"""Exact (US customary)."""


STEP_UNITS: Final = {"volume": "ml", "mass": "g"}
"""What a step of each limit is counted in; money has no unit here."""


class DemandLike(Protocol):
    """What the walk asks; see `simulator.bag.fit`."""

    @property
    def label(self) -> str:
        """Name for people."""

    @property
    def unit(self) -> str:
        """Unit of the need."""

    @property
    def need(self) -> float:
        """How much."""


class BalanceLike(Protocol):
    """A demand and what the list has for it; see `simulator.bag.fit`."""

    @property
    def demand(self) -> DemandLike:
        """What is asked."""

    @property
    def have(self) -> float:
        """What the list gives."""

    @property
    def short(self) -> float:
        """What is missing."""

    @property
    def begins_h(self) -> float:
        """From when on."""

    @property
    def unknown(self) -> tuple[str, ...]:
        """Items that leave it open."""


def amount(value: float, unit: str, units: Units) -> str:
    """Say an amount of what a walk asks for.

    Parameters
    ----------
    value : float
        How much [`unit`].
    unit : str
        ``ml``, ``h``, ``kcal``, ``clo``, ``Wh``, ``packs`` or ``g``.
    units : Units
        Metric or US customary.

    Returns
    -------
    str
        Number and unit, or ``unknown``.

    Examples
    --------
    >>> amount(1240.0, "ml", Units("metric")), amount(0.354, "clo", Units("metric"))
    ('1.2 L', '0.4 clo')
    """
    if not math.isfinite(value):
        return UNKNOWN
    said = {"ml": units.volume, "h": duration, "kcal": energy}
    if unit in said:
        return said[unit](value)
    if unit == "g":
        return grams(value, units)
    if unit == "packs":
        return f"{value:.0f}"
    return f"{value:.1f} {unit}"


def grams(mass_g: float, units: Units) -> str:
    """Say a small mass."""
    if not math.isfinite(mass_g):
        return UNKNOWN
    if abs(mass_g) >= G_PER_KG:
        return units.mass(mass_g / G_PER_KG)
    return f"{mass_g / GRAMS_PER_OUNCE:.1f} oz" if units.us else f"{mass_g:.0f} g"


def money(price: float) -> str:
    """Say a price in the list's own currency."""
    return f"{price:.2f}" if math.isfinite(price) else UNKNOWN


def counted(pairs: Iterable[tuple[str, int]]) -> str:
    """Say items and their pieces."""
    return ", ".join(f"{count} {name}" for name, count in pairs)


def headline(short: int, missing: Sequence[str]) -> str:
    """Say in one sentence how a bag does."""
    if short:
        return f"{short} thing{' falls' if short == 1 else 's fall'} short on this walk."
    if missing:
        return f"Nothing falls short, but there is nothing for: {', '.join(missing)}."
    return "The bag holds what this walk asks for."


def when(hours: float, packed: Packed) -> str:
    """Say an hour of the walk as a clock time."""
    if not math.isfinite(hours):
        return UNKNOWN
    clock = packed.plan.trip.depart + timedelta(hours=hours)
    return f"{clock:%H:%M}, after {duration(hours)}"


def shortage(one: BalanceLike, packed: Packed, units: Units) -> str:
    """Say what falls short."""
    unit = one.demand.unit
    label = one.demand.label
    unknown = f"; unknown: {', '.join(one.unknown)}" if one.unknown else ""
    return (
        f"{label[0].upper()}{label[1:]}: {amount(one.short, unit, units)} missing of "
        f"{amount(one.demand.need, unit, units)}, from {when(one.begins_h, packed)}{unknown}"
    )


def change(one: Change, units: Units) -> str:
    """Say what a change does."""
    before, after = (amount(value, one.unit, units) for value in (one.before, one.after))
    missing = "" if one.target == "time on the way" else " missing"
    parts = [f"{one.what[0].upper()}{one.what[1:]}: {one.target} {before} to {after}{missing}"]
    if one.price:
        parts.append(f"costs {money(one.price)}")
    if one.mass_g:
        parts.append(f"{grams(one.mass_g, units)} {'more' if one.mass_g > 0 else 'in all'}")
    if abs(one.later_min) >= 1.0:
        word = "longer" if one.later_min > 0 else "shorter"
        parts.append(f"{duration(abs(one.later_min) / 60.0)} {word} on the way")
    each = [
        f"{fine_amount(gain, one.unit, units)} for each {unit}"
        for gain, unit in (
            (one.gain_per_money, "1.00"),
            (one.gain_per_100_g, f"{3.5 if units.us else 100:g} {'oz' if units.us else 'g'}"),
        )
        if gain > 0.0
    ]
    return ", ".join(parts) + (f" ({', '.join(each)})" if each else "")


def fine_amount(value: float, unit: str, units: Units) -> str:
    """Say a small amount so that it does not vanish in rounding."""
    if unit == "ml" and not units.us and value < ML_PER_L:
        return f"{value:.0f} ml"
    if unit == "ml" and value < ML_PER_L:
        return f"{value / ML_PER_FLUID_OUNCE:.1f} fl oz"
    if unit in {"clo", "packs", "Wh"}:
        return f"{value:.2f} {unit}"
    return amount(value, unit, units)


def _why_left(packed: Packed) -> str:
    """Say why owned things stay at home, where one limit bars every one of them."""
    choice, items, limits = packed.choice, packed.items, packed.limits
    if choice is None:
        return ""
    left = np.isin(items.item, [name for name, _count in choice.left_out])
    piece = np.minimum(items.quantity[left], 1.0)
    for most, taken, each, words in (
        (limits.volume_ml, choice.volume_ml, items.volume_ml, "for want of room"),
        (limits.mass_g, choice.mass_g, items.mass_g, "as the bag is as heavy as it may be"),
    ):
        if most is not None and bool((taken + piece * each[left] > most).all()):
            return f", {words}"
    return ""


def limits_that_bind(packed: Packed, units: Units) -> list[str]:
    """Say what a little more of each limit would bring."""
    if packed.choice is None:
        return []
    said = []
    for one in packed.choice.more:
        cents = math.ceil(round(100.0 * one.step, 3)) / 100.0
        step = (
            money(cents)
            if one.limit in {"budget", "spend"}
            else fine_amount(one.step, STEP_UNITS[one.limit], units)
        )
        text = f"{step} more {LIMIT_NAMES[one.limit]} would take in: {counted(one.takes)}"
        text += f"; and leave out: {counted(one.leaves)}" if one.leaves else ""
        said.append(f"{text} (better in {one.improves}).")
    return said or ["No limit binds: more money, room or mass would bring nothing."]


LIMIT_NAMES: Final = {
    "budget": "for the bag in all",
    "spend": "new money",
    "volume": "room",
    "mass": "mass",
}
"""What each limit is called after an amount of it."""


def in_all(packed: Packed) -> str:
    """Say what the bag may cost in all."""
    if packed.limits.budget is None:
        return "no limit set for the bag in all"
    return f"of {money(packed.limits.budget)} that the bag may cost in all"


def new_money(packed: Packed) -> str:
    """Say how much new money there is."""
    spend = packed.limits.spend
    return "" if spend is None else f"of {money(spend)} new money"


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
        Lines no wider than the window, without the last line's end; file names are not broken.
    """
    units = Units(packed.plan.units)
    told = headline(len(packed.shortages), packed.fit.missing)
    lines = wrapped(told)
    lines += [part for one in packed.shortages for part in item(shortage(one, packed, units))]
    lines += ["", *_figures(packed, units)]
    helping = [one for one in packed.changes if one.gain > 0.0][:MOST_CHANGES]
    if helping:
        lines += ["", "Next best change, each tried by walking again:"]
        lines += [part for one in helping for part in item(change(one, units))]
    if packed.choice is not None:
        lines += ["", *_chosen(packed, units)]
    lines += loud(packed.notes)
    lines += files_written(written)
    return "\n".join(lines)


def _figures(packed: Packed, units: Units) -> Iterator[str]:
    """Give mass, room, money, purposes and dates of the list as it is."""
    found, limits = packed.fit, packed.limits
    share = f"{100.0 * found.mass_share:.1f} % of body mass"
    load = "" if found.load == "unknown" else f", {found.load}"
    yield from row(
        "mass", f"{_sum(grams(found.mass.known, units), found.mass.unknown_count)}, {share}{load}"
    )
    full_ml = found.usable_ml - found.volume_left_ml
    full_ml = full_ml if math.isfinite(full_ml) else found.volume.known
    room = _sum(units.volume(full_ml), found.volume.unknown_count)
    of_room = "" if limits.volume_ml is None else f", of {units.volume(limits.volume_ml)} to fill"
    yield from row("room", room + of_room)
    price = _sum(money(found.price.known), found.price.unknown_count)
    yield from row("price", f"{price}, {in_all(packed)}")
    if limits.spend is not None:
        yield from row("new money", f"{money(limits.spend)} may be spent now")
    if found.filled:
        yield from row("filled", f"{counted(found.filled)}, with the room that it takes full")
    if found.missing:
        yield from row("nothing for", ", ".join(found.missing))
    if found.too_few:
        yield from row("too few for", ", ".join(found.too_few))
    if found.too_large:
        yield from row("no room for", ", ".join(found.too_large))
    if found.expired:
        yield from row("out of date", ", ".join(one.item for one in found.expired))
    basic, comfort = (packed.tiers[name].spent for name in ("basic", "comfort"))
    yield from row(
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
    purse = " ".join(filter(None, [money(choice.spent), new_money(packed)]))
    yield from item(f"buy for {purse}: {counted(bought) or 'nothing'}")
    yield from item(
        f"all that is owned and bought costs {money(packed.price_in_all)}, {in_all(packed)}"
    )
    if choice.filled:
        yield from item(f"fill on the way: {counted(choice.filled)}; the room counts full")
    if choice.left_out:
        yield from item(f"leave at home{_why_left(packed)}: {counted(choice.left_out)}")
    for text in (*choice.not_considered, *limits_that_bind(packed, units)):
        yield from item(text)
    for one in short_of(packed.chosen_balances):
        yield from item(f"still short. {shortage(one, packed, units)}")
    if packed.chosen_fit is not None and packed.chosen_fit.too_large:
        yield from item(f"no room found for: {', '.join(packed.chosen_fit.too_large)}")
    if choice.uncovered:
        yield from item(f"still nothing for: {', '.join(choice.uncovered)}")


def _sum(said: str, count: int) -> str:
    """Mark a sum that is a lower bound, by how many items it lacks."""
    return f"at least {said} ({count} unknown)" if count else said


MOST_CHANGES_ON_PAPER: Final = 6
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
        What `simulator.questions.bag.pack` gave.
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
    """Typeset the checklist."""
    return typeset("bagsheet.typ", sheet_of_bag(packed), page=page, font=packed.plan.choices.font)


def sheet_of_bag(packed: Packed) -> dict[str, Any]:
    """Put a packed bag into the texts of the checklist."""
    units, choice = Units(packed.plan.units), packed.choice
    balances = packed.balances if packed.choice is None else packed.chosen_balances
    short = short_of(balances)
    return {
        "title": clean(packed.plan.title),
        "day": day_in_words(packed.plan.trip.depart),
        "headline": _headline(packed),
        "chosen": packed.choice is not None,
        "figures": _sheet_figures(packed, units),
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
        "binding": [clean(text, longest=900) for text in limits_that_bind(packed, units)],
        "tasks": _tasks(packed),
        "tasks_left_out": max(len(packed.tasks) - MOST_TASKS, 0),
        "cautions": [clean(text, longest=400) for text in cautions_of(packed)],
        "notes": [clean(text, longest=400) for text in packed.notes],
        "attribution": clean(packed.attribution, longest=400),
    }


def _have(one: BalanceLike, units: Units) -> str:
    """Say what the list gives; far more than is asked needs no figure."""
    if one.demand.need > 0.0 and one.have > AMPLE * one.demand.need:
        return "ample"
    return amount(one.have, one.demand.unit, units) + ("+" if one.unknown else "")


def _changes(packed: Packed, units: Units) -> list[str]:
    """Say which changes help the list as it is; a chosen bag is past them."""
    helping = [one for one in packed.changes if one.gain > 0.0 and packed.choice is None]
    return [clean(change(one, units), longest=240) for one in helping[:MOST_CHANGES_ON_PAPER]]


def _tasks(packed: Packed) -> list[dict[str, str]]:
    """List what to do; what is done again as before says so."""
    rows: list[dict[str, str]] = []
    first: dict[str, str] = {}
    for task in packed.tasks[:MOST_TASKS]:
        day = day_in_words(datetime.combine(task.day, time()))
        why = f"as on {first[task.why]}" if task.why in first else task.why
        first.setdefault(task.why, day)
        when = f"{day}, and every year" if task.yearly else day
        rows.append({"day": when, "what": clean(task.what), "why": clean(why, longest=1200)})
    return rows


def _headline(packed: Packed) -> str:
    """Say in one sentence how the bag to be packed does."""
    choice = packed.choice
    if choice is None:
        return headline(len(packed.shortages), packed.fit.missing)
    return headline(len(short_of(packed.chosen_balances)), choice.uncovered)


def _sheet_figures(packed: Packed, units: Units) -> list[dict[str, Any]]:
    """Give mass, room and money."""
    items = packed.packing
    mass, volume = items.total("mass_g"), items.total("volume_ml")
    usable, limits = packed.limits.volume_ml, packed.limits
    found = packed.fit if packed.chosen_fit is None else packed.chosen_fit
    room_ml = volume.known if usable is None else found.usable_ml - found.volume_left_ml
    unpriced = packed.fit.price.unknown_count
    people_kg = sum(walker.mass_kg for walker in packed.plan.walker)
    room = "capacity unknown" if usable is None else f"of {units.volume(usable)} to fill"
    room += ", flasks full" if found.filled else ""
    full = usable is not None and room_ml > usable
    dear = limits.budget is not None and packed.price_in_all > limits.budget
    share = f"{mass.known / 10.0 / people_kg:.1f} % of body mass"
    bought = []
    if packed.choice is not None:
        spent = packed.choice.spent
        over = limits.spend is not None and spent > limits.spend
        told = new_money(packed) or "new money"
        bought = [_figure("to be spent", money(spent), told, 0, over=over)]
    return [
        _figure("mass", grams(mass.known, units), share, mass.unknown_count, over=False),
        _figure("room", units.volume(room_ml), room, volume.unknown_count, over=full),
        _figure("price", money(packed.price_in_all), in_all(packed), unpriced, over=dear),
        *bought,
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
