"""The command about the bag. Arguments in, files and a short text out."""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.commands.runner import (
    Output,
    command,
    output_options,
    plan_option,
    run,
    whole_number,
)

if TYPE_CHECKING:
    from simulator.commands.runner import Commands, Stages

MOST_CHANGES = 12
"""Changes of the bag tried when --changes is not given."""

MOST_COUNTED = 1000
"""Most that an option for a number of things takes."""


def add_bag(commands: Commands) -> None:
    """Describe the bag command."""
    bag = command(
        commands,
        "bag",
        "holds the bag against the walk; chooses what to pack",
        "walkhome bag mywalk/plan.toml --choose --out results",
        run_bag,
    )
    plan_option(bag)
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
        type=whole_number(0, MOST_COUNTED),
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
    output_options(bag, shown="bag.json")


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
    from simulator.plan import Plan

    plan = Plan.read(chosen.plan)

    def work(stages: Stages) -> Output:
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
        return Output(partial(bag_json, packed), partial(bag_text, packed, written=written))

    return run(chosen, plan, work)
