"""Know, before the day, whether this person, with this bag, gets home on foot from there.

The public face: read or make a `Plan`, ask `walk_home`, look at the `Walk`. Importing the package
is cheap; the heavy libraries load when a question is asked.

Examples
--------
>>> from simulator import Plan, demo_folder, walk_home
>>> plan = Plan.read(demo_folder() / "plan.toml")
>>> plan.trip.depart.year
2026
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.demo import demo_folder
    from simulator.errors import InputError, NoWayHomeError
    from simulator.ground.streets import Streets
    from simulator.home.answer import Walk
    from simulator.plan import Plan

__all__ = [
    "InputError",
    "NoWayHomeError",
    "Plan",
    "Streets",
    "Walk",
    "demo_folder",
    "walk_home",
]

_HOMES = {
    "InputError": "simulator.errors",
    "NoWayHomeError": "simulator.errors",
    "Plan": "simulator.plan",
    "Streets": "simulator.ground.streets",
    "Walk": "simulator.home.answer",
    "demo_folder": "simulator.demo",
}


def walk_home(plan: Plan, *, progress: Callable[[str], None] | None = None) -> Walk:
    """Tell whether this party, with this bag, gets home from there.

    Parameters
    ----------
    plan : Plan
        What is asked.
    progress : callable, optional
        Told the name of each stage as it begins.

    Returns
    -------
    Walk
        Way, hour-by-hour ledger, refills, verdict; `Walk.save` writes the files.

    Raises
    ------
    InputError
        When something in the plan or its files cannot be used.
    NoWayHomeError
        When no walkable way joins start and home on this map.
    """
    from simulator.home import walk as home
    from simulator.report.files import writer_for

    return home.walk_home(plan, progress=progress, writer=writer_for(plan))


def __getattr__(name: str) -> object:
    """Load a public name on first use."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    message = f"module 'simulator' has no attribute {name!r}"
    raise AttributeError(message)
