"""The content of bag.json, and the cautions of a packed bag."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from simulator.bag.cautions import cautions
from simulator.bag.columns import TIERS
from simulator.questions.pack import short_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from simulator.bag.balance import Balance
    from simulator.bag.choose import Choice
    from simulator.bag.fit import Dated, Fit
    from simulator.bag.items import Items, Total
    from simulator.questions.pack import Packed
    from simulator.questions.pack_changes import Change

SCHEMA = "walkhome bag 1"
"""Name and version of the layout of bag.json."""

STANDING = (
    "What a list cannot know: your own medicines, spectacles, shoes that fit. Ask a doctor or "
    "pharmacist about medicines. Drink by thirst and need, do not save water; treat water by its "
    "label. Local law decides what may be carried. Orders of the authorities come first."
)
"""The caution that stands on every bag; common practice and public guidance."""


def document(packed: Packed) -> dict[str, Any]:
    """Give the content of bag.json.

    Parameters
    ----------
    packed : Packed
        The bag, judged.

    Returns
    -------
    dict
        Numbers in full precision; what is unknown is None.
    """
    choice = packed.choice
    return {
        "schema": SCHEMA,
        "title": packed.plan.title,
        "inputs": dict(sorted(packed.inputs.items())),
        "attribution": packed.attribution,
        "depart": packed.plan.trip.depart.isoformat(),
        "walkers": len(packed.plan.walker),
        "elapsed_h": packed.elapsed_h,
        "fit": _fit(packed.fit),
        "demands": [_balance(one) for one in packed.balances],
        "shortages": [_balance(one) for one in packed.shortages],
        "if_halted": {
            "at_h": packed.if_halted.at_h,
            "more_clo": _known(packed.if_halted.more_clo),
            "note": packed.if_halted.note,
        },
        "price_by_tier": {tier: _total(total) for tier, total in packed.fit.price_by_tier.items()},
        "price_by_purpose": [
            {"tier": tier, "purpose": purpose} | _total(total)
            for (tier, purpose), total in packed.fit.price_by.items()
        ],
        "a_bag_from_nothing": {
            standard: _bought(choice) for standard, choice in packed.tiers.items()
        },
        "changes": [_change(one) for one in packed.changes],
        "chosen": None if choice is None else _chosen(choice, packed),
        "upkeep": [
            {"day": task.day.isoformat(), "kind": task.kind, "what": task.what, "why": task.why}
            for task in packed.tasks
        ],
        "cautions": list(cautions_of(packed)),
        "assumptions": list(packed.notes) + _demand_notes(packed.balances),
    }


def cautions_of(packed: Packed) -> tuple[str, ...]:
    """List what to mind about the bag to be packed.

    Parameters
    ----------
    packed : Packed
        The bag, judged.

    Returns
    -------
    tuple of str
        The standing one first.
    """
    return (STANDING, *cautions(packed.packing, stored=packed.plan.bag.stored))


def _fit(found: Fit) -> dict[str, Any]:
    return {
        "mass_g": _total(found.mass),
        "mass_share": found.mass_share,
        "load": found.load,
        "volume_ml": _total(found.volume),
        "usable_ml": _known(found.usable_ml),
        "volume_left_ml": _known(found.volume_left_ml),
        "too_large": list(found.too_large),
        "price": _total(found.price),
        "budget_left": _known(found.budget_left),
        "covered": list(found.covered),
        "missing": list(found.missing),
        "missing_first": list(found.missing_first),
        "too_few": list(found.too_few),
        "duplicates": list(found.duplicates),
        "expired": _dates(found.expired),
        "expiring": _dates(found.expiring),
    }


def _balance(one: Balance) -> dict[str, Any]:
    return {
        "key": one.demand.key,
        "what": one.demand.label,
        "unit": one.demand.unit,
        "need": _known(one.demand.need),
        "have": one.have,
        "short": _known(one.short),
        "begins_h": _known(one.begins_h),
        "unknown": list(one.unknown),
        "note": one.demand.note,
    }


def _change(one: Change) -> dict[str, Any]:
    return {
        "what": one.what,
        "kind": one.kind,
        "measured_by": one.target,
        "unit": one.unit,
        "before": one.before,
        "after": one.after,
        "gain": one.gain,
        "price": _known(one.price),
        "mass_g": _known(one.mass_g),
        "gain_per_money": _known(one.gain_per_money),
        "gain_per_100_g": _known(one.gain_per_100_g),
        "later_min": one.later_min,
        "then_worst": one.new_worst or None,
    }


def _bought(choice: Choice) -> dict[str, Any]:
    return {
        "price": choice.spent,
        "volume_ml": choice.volume_ml,
        "mass_g": choice.mass_g,
        "uncovered": list(choice.uncovered),
        "unmet": dict(choice.unmet),
        "items": _listed(choice.items),
    }


def _chosen(choice: Choice, packed: Packed) -> dict[str, Any]:
    by_tier = dict.fromkeys(TIERS, 0.0)
    prices = (choice.bought.price * choice.bought.quantity).tolist()
    for tier, price in zip(choice.bought.tier, prices, strict=True):
        by_tier[tier] += price if math.isfinite(price) else 0.0
    return {
        "limits": {
            "budget": packed.limits.budget,
            "volume_ml": packed.limits.volume_ml,
            "mass_g": packed.limits.mass_g,
        },
        "spent": choice.spent,
        "spent_by_tier": by_tier,
        "volume_ml": choice.volume_ml,
        "mass_g": choice.mass_g,
        "value": choice.value,
        "fit": None if packed.chosen_fit is None else _fit(packed.chosen_fit),
        "buy": _listed(choice.bought),
        "leave_at_home": [{"item": name, "pieces": count} for name, count in choice.left_out],
        "not_considered": list(choice.not_considered),
        "uncovered": list(choice.uncovered),
        "shortages": [_balance(one) for one in short_of(packed.chosen_balances)],
        "limits_that_bind": [
            {
                "limit": one.limit,
                "more": one.step,
                "improves": one.improves,
                "by": one.by,
                "takes": [{"item": name, "pieces": count} for name, count in one.takes],
                "leaves": [{"item": name, "pieces": count} for name, count in one.leaves],
            }
            for one in choice.more
        ],
    }


def _listed(items: Items) -> list[dict[str, Any]]:
    return [
        {"item": name, "pieces": count, "price": _known(price)}
        for name, count, price in zip(
            items.item, items.quantity.tolist(), items.price.tolist(), strict=True
        )
    ]


def _total(total: Total) -> dict[str, Any]:
    return {"known": total.known, "unknown": list(total.unknown)}


def _dates(dated: Iterable[Dated]) -> list[Mapping[str, str]]:
    return [{"item": one.item, "expires": one.expires.isoformat()} for one in dated]


def _demand_notes(balances: Iterable[Balance]) -> list[str]:
    """Say what each demand rests on."""
    return [f"{one.demand.label}: {one.demand.note}." for one in balances]


def _known(value: float) -> float | None:
    """Give a number, or None where there is none."""
    return value if math.isfinite(value) else None
