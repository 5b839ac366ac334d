"""The commands about chance: odds, year, many. Arguments in, files and a short text out."""

from __future__ import annotations

import argparse
from datetime import time
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
    from simulator.plan import Plan

DECIDE = 128
"""Base sample of the ranking when --decide is not given; a power of two."""

MOST_WALKS = 1_000_000


def add_odds(commands: Commands) -> None:
    """Describe the odds command."""
    odds = command(
        commands,
        "odds",
        "many drawn walks: chances, amounts with their spread, and what decides them",
        "walkhome odds mywalk/plan.toml --walks 5000 --by 22:00 --out results",
        run_odds,
    )
    plan_option(odds)
    odds.add_argument(
        "--walks", metavar="N", type=whole_number(10, MOST_WALKS), help="instead of odds.walks"
    )
    odds.add_argument(
        "--seed", metavar="S", type=whole_number(0, 2**63 - 1), help="instead of odds.seed"
    )
    odds.add_argument(
        "--by",
        metavar="HH:MM",
        type=clock_time,
        action="append",
        default=[],
        help="clock time to be home by; may be given several times",
    )
    odds.add_argument(
        "--decide",
        metavar="N",
        type=power_of_two,
        default=DECIDE,
        help=f"base sample of what decides, a power of two, 0 for none (default: {DECIDE})",
    )
    output_options(odds, shown="odds.json")


def run_odds(chosen: argparse.Namespace) -> int:
    """Draw walks, write their files, print the chances."""
    plan = read_plan(chosen)

    def work(stages: Stages) -> Output:
        from simulator.questions.odds import odds
        from simulator.report.odds import odds_json, odds_text, write_odds

        answer = odds(
            plan,
            walks=chosen.walks,
            seed=chosen.seed,
            by=chosen.by,
            decide=chosen.decide,
            progress=stages,
        )
        stages("writing the files")
        written = write_odds(answer, chosen.out, page=chosen.page or plan.choices.page)
        return Output(partial(odds_json, answer), partial(odds_text, answer, written=written))

    return run(chosen, plan, work)


def add_year(commands: Commands) -> None:
    """Describe the year command."""
    year = command(
        commands,
        "year",
        "every departure hour of a year: when the walk works with this bag, and when not",
        "walkhome year plan.toml --weather year.epw --bag summer=a.csv --bag winter=b.csv",
        run_year,
    )
    plan_option(year)
    year.add_argument(
        "--weather",
        metavar="FILE",
        type=Path,
        help="typical year (.epw, or .csv in TMY3 form), instead of the plan's weather",
    )
    year.add_argument(
        "--bag",
        metavar="[NAME=]CSV",
        type=named_file,
        action="append",
        default=[],
        help="bag list to compare, instead of the plan's; may be given several times",
    )
    output_options(year, shown="year.json")


def run_year(chosen: argparse.Namespace) -> int:
    """Walk a year, write its files, print when the bag works."""
    plan = read_plan(chosen)

    def work(stages: Stages) -> Output:
        from simulator.demo import YEAR_NAME, demo_folder, on_demo_place
        from simulator.questions.year import year
        from simulator.report.year import write_year, year_json, year_text

        bags = dict(chosen.bag) or None
        weather = chosen.weather
        if weather is None and plan.weather.file is None and on_demo_place(plan.map.extract):
            # The invented place has an invented year, so that the question can be tried at once.
            weather = demo_folder() / YEAR_NAME
        answer = year(plan, weather=weather, bags=bags, progress=stages)
        stages("writing the files")
        written = write_year(answer, chosen.out, page=chosen.page or plan.choices.page)
        return Output(partial(year_json, answer), partial(year_text, answer, written=written))

    return run(chosen, plan, work)


def add_many(commands: Commands) -> None:
    """Describe the many command."""
    many = command(
        commands,
        "many",
        "a table of people on one map: who is home when, and what bridges and refills carry",
        "walkhome many plan.toml people.csv --workers 2 --out results",
        run_many,
    )
    many.add_argument("plan", metavar="PLAN.toml", type=Path, help="map, weather, event for all")
    many.add_argument(
        "people",
        metavar="PEOPLE.csv",
        type=Path,
        help="start_lat, start_lon, home_lat, home_lon; and what differs from the plan's walker",
    )
    many.add_argument(
        "--workers",
        metavar="N",
        type=whole_number(1, 256),
        default=1,
        help="processes (default: 1)",
    )
    many.add_argument(
        "--scheduler", metavar="ADDRESS", help="Dask scheduler to work on, e.g. tcp://host:8786"
    )
    many.add_argument(
        "--strict",
        action="store_true",
        help="refuse the whole table when a row cannot be read; otherwise such rows are named and "
        "the others walk",
    )
    output_options(many, shown="many.json")


def run_many(chosen: argparse.Namespace) -> int:
    """Walk a table of people home; goes on where a run with the same inputs was broken off."""
    plan = read_plan(chosen)

    def work(stages: Stages) -> Output:
        from simulator.questions.many import many, part_size
        from simulator.questions.people import read_people
        from simulator.report.exports import json_text
        from simulator.report.many import PartStore, many_text, write_many

        table = read_people(chosen.people, plan, strict=chosen.strict)
        store = PartStore(chosen.out, plan, chosen.people, size=part_size(len(table.people)))
        basis = many(
            plan,
            table.people,
            store,
            unread=table.unread,
            workers=chosen.workers,
            scheduler=chosen.scheduler,
            progress=stages,
        )
        stages("writing the files")
        page = chosen.page or plan.choices.page
        written, document = write_many(
            plan,
            store,
            chosen.out,
            attribution=basis.attribution,
            page=page,
            notes=(*table.notes, *basis.notes),
        )
        return Output(partial(json_text, document), partial(many_text, document, written=written))

    return run(chosen, plan, work)


def named_file(word: str) -> tuple[str, Path]:
    """Read a file with a name before it, or its own."""
    name, mark, path = word.partition("=")
    return (name, Path(path)) if mark and name else (Path(word).stem, Path(word))


def read_plan(chosen: argparse.Namespace) -> Plan:
    """Read the plan that a command names."""
    from simulator.plan import Plan

    return Plan.read(chosen.plan)


def power_of_two(word: str) -> int:
    """Read a power of two, or none."""
    number = whole_number(0, MOST_WALKS)(word)
    if number & (number - 1) or number == 1:
        msg = f"found {word!r}; allowed: 0, or a power of two such as 64, 128, 256"
        raise argparse.ArgumentTypeError(msg)
    return number


def clock_time(word: str) -> time:
    """Read a clock time."""
    try:
        return time.fromisoformat(word)
    except ValueError:
        msg = f"found {word!r}; allowed: hours and minutes such as 22:00"
        raise argparse.ArgumentTypeError(msg) from None
