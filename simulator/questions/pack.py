"""What must the bag hold for this walk, and what would do it most good? The bag's question."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite
from typing import TYPE_CHECKING, Final

from simulator.bag.balance import Balance, against
from simulator.bag.candidates import Limits
from simulator.bag.catalogue import read_catalogue
from simulator.bag.choose import choose
from simulator.bag.demand import Cold, demands
from simulator.bag.fit import EASY_LOAD_SHARE, G_PER_KG, ML_PER_L, PACKING_ALLOWANCE, Fit, fit
from simulator.bag.items import Items, items_from
from simulator.bag.lists import items_csv
from simulator.bag.upkeep import Task, upkeep
from simulator.errors import InputError
from simulator.questions.home import walk_way
from simulator.questions.pack_changes import MOST_RUNS, Change, next_best
from simulator.questions.pack_journey import if_halted, journey_of
from simulator.questions.pack_odds import CERTAINTY, needed_for, read_odds
from simulator.questions.scene import prepare
from simulator.questions.unknown_heights import map_notes
from simulator.questions.ways import find_way
from simulator.units import percent

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from simulator.bag.catalogue import Catalogue
    from simulator.bag.choose import Choice
    from simulator.bag.demand import Journey
    from simulator.plan import Plan
    from simulator.questions.scene import Scene

PARTY: Final = (
    "The list is the party's; each walker carries a bag of the stated volume, and the load is "
    "shared by body mass. Shelter, warmth, water, food, light and signal are counted for each "
    "walker; the rest is shared."
)
"""What is assumed of a party, printed when there is more than one walker."""

RELIED: Final = (
    "{safe} places with safe water and {raw} with raw water are relied on, as the walk relies on "
    "them; a dry one makes water shorter."
)


@dataclass(frozen=True, slots=True, eq=False)
class Packed:
    """The bag, judged.

    Attributes
    ----------
    plan : Plan
        What was asked.
    items : Items
        The list; empty when the plan names none.
    fit : Fit
        Whether it fits person, bag and purse.
    elapsed_h : float
        How long the walk takes [h].
    balances : tuple of Balance
        Each demand of the walk and what the list has for it.
    if_halted : Cold
        What a night in the open would ask, planned or not.
    changes : tuple of Change
        Single changes, the best first.
    tiers : mapping of str to Choice
        The cheapest bag from the catalogue alone by standard, ``basic`` and ``comfort``.
    choice : Choice or None
        The best bag, when asked for.
    chosen_fit : Fit or None
        Whether the best bag fits, when asked for.
    chosen_balances : tuple of Balance
        The same walk's demands and what the best bag has for them.
    tasks : tuple of Task
        Upkeep of the list, or of the best bag when asked for.
    limits : Limits
        What the bag may take.
    inputs : mapping of str to str
        SHA-256 of each input file.
    attribution : str
        Credit of map and heights, with its days: what the walk asks of the bag rests on them.
    notes : tuple of str
        What the answers rest on.
    """

    plan: Plan
    items: Items
    fit: Fit
    elapsed_h: float
    balances: tuple[Balance, ...]
    if_halted: Cold
    changes: tuple[Change, ...]
    tiers: Mapping[str, Choice]
    choice: Choice | None
    chosen_fit: Fit | None
    chosen_balances: tuple[Balance, ...]
    tasks: tuple[Task, ...]
    limits: Limits
    inputs: Mapping[str, str]
    attribution: str
    notes: tuple[str, ...]

    @property
    def packing(self) -> Items:
        """The best bag when it was asked for, otherwise the list as it is."""
        return self.items if self.choice is None else self.choice.items

    @property
    def chosen_csv(self) -> str | None:
        """The best bag in the form of bag.csv; None when it was not asked for."""
        return None if self.choice is None else items_csv(self.choice.items)

    @property
    def shortages(self) -> tuple[Balance, ...]:
        """What falls short on the walk, in the order of the demands."""
        return short_of(self.balances)


def short_of(balances: tuple[Balance, ...]) -> tuple[Balance, ...]:
    """Give the demands that are not met.

    Parameters
    ----------
    balances : tuple of Balance
        All of a walk.

    Returns
    -------
    tuple of Balance
        Those that have an hour at which they fall short.
    """
    return tuple(one for one in balances if isfinite(one.begins_h))


def pack(
    plan: Plan,
    *,
    choosing: bool = False,
    catalogue: Path | None = None,
    needed: Mapping[str, float] | None = None,
    odds: Path | None = None,
    certainty: float = CERTAINTY,
    most_runs: int = MOST_RUNS,
    progress: Callable[[str], None] | None = None,
) -> Packed:
    """Judge a plan's bag against its walk.

    Parameters
    ----------
    plan : Plan
        What is asked.
    choosing : bool
        Whether to choose the best bag, too.
    catalogue : pathlib.Path, optional
        What can be bought; the packaged invented one when left out.
    needed : mapping of str to float, optional
        Amounts by demand that take the place of the walk's own, e.g. what nine walks of ten need.
    odds : pathlib.Path, optional
        odds.json of the same files: what the bag needs at `certainty` is taken from it.
    certainty : float
        Share of the drawn walks that the bag should serve, in (0, 1).
    most_runs : int
        How many changes are tried by walking again; 0 for none.
    progress : callable, optional
        Told the name of each stage as it begins.

    Returns
    -------
    Packed
        Fit, shortages, changes, upkeep, and the best bag when asked for.

    Raises
    ------
    InputError
        When something in the plan or its files cannot be used.
    NoWayHomeError
        When no walkable way joins start and home on this map.
    """
    tell = progress or (lambda _stage: None)
    goods = read_catalogue(catalogue)
    drawn = None if odds is None else read_odds(odds, certainty)
    scene = prepare(plan, progress=tell)
    tell("finding the way")
    way = find_way(scene)
    tell("walking it hour by hour")
    walked = walk_way(scene, way)
    journey = journey_of(scene, walked)
    items = items_from([]) if scene.items is None else scene.items
    balances = _checked(items, journey, needed)
    if odds is not None and drawn is not None:
        sure = needed_for(
            odds, drawn, certainty, balances, walkers=journey.walkers, inputs=scene.fingerprints
        )
        needed = {**sure, **(needed or {})}
        balances = _checked(items, journey, needed)
    limits = _limits(scene)
    tell("choosing what to pack")
    choice = _chosen(scene, goods, journey, limits, needed) if choosing else None
    changes = next_best(
        scene, way, journey, balances, goods, most_runs=most_runs, needed=needed, progress=tell
    )
    on = plan.trip.depart.date()
    return Packed(
        plan=plan,
        items=items,
        fit=_fit(scene, items),
        elapsed_h=journey.elapsed_h,
        balances=balances,
        if_halted=if_halted(scene, journey),
        changes=changes,
        tiers=_tiers(goods, journey, limits, needed),
        choice=choice,
        chosen_fit=None if choice is None else _fit(scene, choice.items),
        chosen_balances=() if choice is None else against(choice.items, journey, needed=needed),
        tasks=upkeep(items if choice is None else choice.items, on=on),
        limits=limits,
        inputs=scene.fingerprints,
        attribution=scene.streets.attribution,
        notes=_notes(scene, journey, needed, certainty=None if odds is None else certainty),
    )


def _checked(
    items: Items, journey: Journey, needed: Mapping[str, float] | None
) -> tuple[Balance, ...]:
    """Hold the list against the walk; a demand that there is not is the person's mistake."""
    try:
        return against(items, journey, needed=needed)
    except KeyError as fault:
        where = "needed amounts"
        raise InputError(where, str(fault.args[0])) from None


def _limits(scene: Scene) -> Limits:
    """Give what the bags of the party may take."""
    bag, people = scene.plan.bag, scene.walkers
    litres = None if bag.capacity_l is None else people.count * bag.capacity_l
    return Limits(
        budget=bag.budget,
        volume_ml=None if litres is None else litres * ML_PER_L * PACKING_ALLOWANCE,
        mass_g=EASY_LOAD_SHARE * float(people.mass_kg.sum()) * G_PER_KG,
    )


def _fit(scene: Scene, items: Items) -> Fit:
    """Hold the list against the party, its bags and its purse."""
    bag, people = scene.plan.bag, scene.walkers
    return fit(
        items,
        on=scene.plan.trip.depart.date(),
        body_mass_kg=float(people.mass_kg.sum()),
        capacity_l=None if bag.capacity_l is None else people.count * bag.capacity_l,
        pockets_l=people.count * bag.pockets_l,
        budget=bag.budget,
        stored=bag.stored,
        walkers=people.count,
    )


def _chosen(
    scene: Scene,
    goods: Catalogue,
    journey: Journey,
    limits: Limits,
    needed: Mapping[str, float] | None,
) -> Choice:
    return choose(
        scene.items,
        goods,
        demands(journey, needed=needed),
        limits=limits,
        walkers=scene.walkers.count,
        on=scene.plan.trip.depart.date(),
    )


def _tiers(
    goods: Catalogue, journey: Journey, limits: Limits, needed: Mapping[str, float] | None
) -> dict[str, Choice]:
    """Price a basic and a comfortable bag for this walk, bought from nothing."""
    asked = demands(journey, needed=needed)
    open_purse = replace(limits, budget=None)
    return {
        standard: choose(
            None,
            goods,
            asked,
            limits=open_purse,
            walkers=journey.walkers,
            standard=standard,
            ask_more=False,
        )
        for standard in ("basic", "comfort")
    }


def _notes(
    scene: Scene,
    journey: Journey,
    needed: Mapping[str, float] | None,
    *,
    certainty: float | None,
) -> tuple[str, ...]:
    """Say what the answers rest on."""
    notes = [
        RELIED.format(safe=len(journey.safe_h), raw=len(journey.raw_h)),
        f"A bag is filled to {PACKING_ALLOWANCE:.0%} of its stated volume (assumed).",
        f"The mass limit is {EASY_LOAD_SHARE:.0%} of body mass (guidance, from memory).",
        "Items, prices and masses of the catalogue are invented.",
    ]
    if certainty is not None:
        notes.append(
            f"What {percent(certainty)} of the drawn walks need takes the place of this walk's."
        )
    if needed:
        notes.append(f"Taken from outside this walk: {', '.join(sorted(needed))}.")
    notes += [PARTY] if scene.walkers.count > 1 else []
    return (*map_notes(scene.streets), *notes, *scene.notes)
