"""The command about the bag. Arguments in, files and a short text out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from simulator.errors import NoWayHomeError

MOST_CHANGES = 12
"""Changes of the bag tried when --changes is not given."""

MOST_COUNTED = 1000
"""Most that an option for a number of things takes."""

Add = Callable[..., argparse.ArgumentParser]


def add_bag(add: Add, commands: object, outputs: Callable[..., None]) -> None:
    """Describe the bag command.

    Parameters
    ----------
    add : callable
        Adds a command whose help carries an example.
    commands : object
        Where commands are added.
    outputs : callable
        Adds the options that commands with results share.
    """
    bag = add(
        commands,
        "bag",
        "holds the bag against the walk; chooses what to pack",
        "walkhome bag mywalk/plan.toml --choose --out results",
    )
    bag.add_argument("plan", metavar="PLAN.toml", type=Path, help="plan file; see walkhome new")
    bag.add_argument(
        "--choose",
        action="store_true",
        help="choose the best bag under budget, room and mass; writes chosen.csv",
    )
    bag.add_argument(
        "--catalogue",
        metavar="CSV",
        type=Path,
        help="what can be bought (default: a packaged list of invented generic items)",
    )
    bag.add_argument(
        "--changes",
        metavar="N",
        type=_count,
        default=MOST_CHANGES,
        help=f"changes tried by walking again, 0 for none (default: {MOST_CHANGES})",
    )
    bag.add_argument(
        "--odds",
        metavar="ODDS.json",
        type=Path,
        help="odds of the same files; what the bag needs is taken from the drawn walks",
    )
    bag.add_argument(
        "--certainty",
        metavar="SHARE",
        type=float,
        default=0.9,
        help="share of those walks that the bag should serve (default: 0.9)",
    )
    bag.add_argument(
        "--need",
        metavar="KEY=AMOUNT",
        type=_need,
        action="append",
        default=[],
        help="an amount that takes the place of the walk's own, e.g. what nine walks of ten need: "
        "water_capacity=2500; keys and units are those of `demands` in bag.json",
    )
    outputs(bag, shown="bag.json")
    bag.set_defaults(command=run_bag)


def _count(word: str) -> int:
    """Read a number of things, none negative."""
    try:
        count = int(word)
    except ValueError:
        count = -1
    if not 0 <= count <= MOST_COUNTED:
        msg = f"found {word!r}; allowed: a whole number from 0 to {MOST_COUNTED}"
        raise argparse.ArgumentTypeError(msg)
    return count


def _need(word: str) -> tuple[str, float]:
    """Read what is asked of the bag, and how much."""
    key, equals, amount = word.partition("=")
    try:
        value = float(amount)
    except ValueError:
        value = -1.0
    if not (key and equals and 0.0 <= value < float("inf")):
        msg = f"found {word!r}; allowed: KEY=AMOUNT with a number from 0, e.g. light=6"
        raise argparse.ArgumentTypeError(msg)
    return key, value


def run_bag(chosen: argparse.Namespace) -> int:
    """Judge a plan's bag, write its files, print how it does."""
    from simulator.commands.text import Stages
    from simulator.files import require_writable_folder
    from simulator.plan import Plan

    plan = Plan.read(chosen.plan)
    require_writable_folder(chosen.out)
    stages = Stages(sys.stderr)
    try:
        stages("loading the program")
        from simulator.questions.bag import pack
        from simulator.report.bag import bag_json, bag_text, write_bag

        packed = pack(
            plan,
            choosing=chosen.choose,
            catalogue=chosen.catalogue,
            needed=dict(chosen.need),
            odds=chosen.odds,
            certainty=chosen.certainty,
            most_runs=chosen.changes,
            progress=stages,
        )
        stages("writing the files")
        written = write_bag(packed, chosen.out, page=chosen.page or plan.choices.page)
    except NoWayHomeError as fault:
        stages.close()
        return int(chosen.no_way(plan, str(fault), chosen))
    finally:
        stages.close()
    text = bag_json(packed) if chosen.json else bag_text(packed, written=written) + "\n"
    sys.stdout.write(text)
    return 0
