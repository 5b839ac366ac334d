"""The commands about chance: odds, year, many. Arguments in, files and a short text out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import time
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.errors import NoWayHomeError

if TYPE_CHECKING:
    from simulator.plan import Plan

DECIDE = 128
"""Base sample of the ranking when --decide is not given; a power of two."""

MOST_WALKS = 1_000_000

Add = Callable[..., argparse.ArgumentParser]


def add_odds(add: Add, commands: object, outputs: Callable[..., None]) -> None:
    """Describe the odds command.

    Parameters
    ----------
    add : callable
        Adds a command with its help and example.
    commands : object
        Where to add it.
    outputs : callable
        Adds the options that commands with results share.
    """
    odds = add(
        commands,
        "odds",
        "many drawn walks: chances, amounts with their spread, and what decides them",
        "walkhome odds mywalk/plan.toml --walks 5000 --by 22:00 --out results",
    )
    odds.add_argument("plan", metavar="PLAN.toml", type=Path, help="plan file; see walkhome new")
    odds.add_argument("--walks", metavar="N", type=walks_number, help="instead of odds.walks")
    odds.add_argument("--seed", metavar="S", type=seed_number, help="instead of odds.seed")
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
    outputs(odds, shown="odds.json")
    odds.set_defaults(command=run_odds)


def run_odds(chosen: argparse.Namespace) -> int:
    """Draw walks, write their files, print the chances."""
    from simulator.commands.text import Stages
    from simulator.files import require_writable_folder

    plan = read_plan(chosen)
    require_writable_folder(chosen.out)
    stages = Stages(sys.stderr)
    try:
        stages("loading the program")
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
    except NoWayHomeError as fault:
        stages.close()
        return int(chosen.no_way(plan, str(fault), chosen))
    finally:
        stages.close()
    text = odds_json(answer) if chosen.json else odds_text(answer, written=written) + "\n"
    sys.stdout.write(text)
    return 0


def add_year(add: Add, commands: object, outputs: Callable[..., None]) -> None:
    """Describe the year command.

    Parameters
    ----------
    add : callable
        Adds a command with its help and example.
    commands : object
        Where to add it.
    outputs : callable
        Adds the options that commands with results share.
    """
    year = add(
        commands,
        "year",
        "every departure hour of a year: when the walk works with this bag, and when not",
        "walkhome year plan.toml --weather year.epw --bag summer=a.csv --bag winter=b.csv",
    )
    year.add_argument("plan", metavar="PLAN.toml", type=Path, help="plan file; see walkhome new")
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
    outputs(year, shown="year.json")
    year.set_defaults(command=run_year)


def run_year(chosen: argparse.Namespace) -> int:
    """Walk a year, write its files, print when the bag works."""
    from simulator.commands.text import Stages
    from simulator.files import require_writable_folder

    plan = read_plan(chosen)
    require_writable_folder(chosen.out)
    stages = Stages(sys.stderr)
    try:
        stages("loading the program")
        from simulator.questions.year import year
        from simulator.report.year import write_year, year_json, year_text

        bags = dict(chosen.bag) or None
        answer = year(plan, weather=chosen.weather, bags=bags, progress=stages)
        stages("writing the files")
        written = write_year(answer, chosen.out, page=chosen.page or plan.choices.page)
    except NoWayHomeError as fault:
        stages.close()
        return int(chosen.no_way(plan, str(fault), chosen))
    finally:
        stages.close()
    text = year_json(answer) if chosen.json else year_text(answer, written=written) + "\n"
    sys.stdout.write(text)
    return 0


def add_many(add: Add, commands: object, outputs: Callable[..., None]) -> None:
    """Describe the many command.

    Parameters
    ----------
    add : callable
        Adds a command with its help and example.
    commands : object
        Where to add it.
    outputs : callable
        Adds the options that commands with results share.
    """
    many = add(
        commands,
        "many",
        "a table of people on one map: who is home when, and what bridges and refills carry",
        "walkhome many plan.toml people.csv --workers 2 --out results",
    )
    many.add_argument("plan", metavar="PLAN.toml", type=Path, help="map, weather, event for all")
    many.add_argument(
        "people",
        metavar="PEOPLE.csv",
        type=Path,
        help="start_lat, start_lon, home_lat, home_lon; and what differs from the plan's walker",
    )
    many.add_argument(
        "--workers", metavar="N", type=workers_number, default=1, help="processes (default: 1)"
    )
    many.add_argument(
        "--scheduler", metavar="ADDRESS", help="Dask scheduler to work on, e.g. tcp://host:8786"
    )
    outputs(many, shown="many.json")
    many.set_defaults(command=run_many)


def run_many(chosen: argparse.Namespace) -> int:
    """Walk a table of people home; goes on where a run with the same inputs was broken off."""
    from simulator.commands.text import Stages
    from simulator.files import require_writable_folder

    plan = read_plan(chosen)
    require_writable_folder(chosen.out)
    stages = Stages(sys.stderr)
    try:
        stages("loading the program")
        from simulator.questions.many import PART, many, read_people
        from simulator.report.exports import json_text
        from simulator.report.many import PartStore, many_text, write_many

        people = read_people(chosen.people, plan)
        store = PartStore(chosen.out, plan, chosen.people, size=PART)
        basis = many(
            plan,
            people,
            store,
            workers=chosen.workers,
            scheduler=chosen.scheduler,
            progress=stages,
        )
        stages("writing the files")
        page = chosen.page or plan.choices.page
        written, document = write_many(
            plan, store, chosen.out, attribution=basis.attribution, page=page, notes=basis.notes
        )
    finally:
        stages.close()
    text = json_text(document) if chosen.json else many_text(document, written=written) + "\n"
    sys.stdout.write(text)
    return 0


def workers_number(word: str) -> int:
    """Read a number of processes."""
    return _whole(word, 1, 256)


def named_file(word: str) -> tuple[str, Path]:
    """Read a file with a name before it, or its own."""
    name, mark, path = word.partition("=")
    return (name, Path(path)) if mark and name else (Path(word).stem, Path(word))


def read_plan(chosen: argparse.Namespace) -> Plan:
    """Read the plan that a command names."""
    from simulator.plan import Plan

    return Plan.read(chosen.plan)


def walks_number(word: str) -> int:
    """Read a number of walks."""
    return _whole(word, 10, MOST_WALKS)


def seed_number(word: str) -> int:
    """Read a seed."""
    return _whole(word, 0, 2**63 - 1)


def power_of_two(word: str) -> int:
    """Read a power of two, or none."""
    number = _whole(word, 0, MOST_WALKS)
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


def _whole(word: str, low: int, high: int) -> int:
    try:
        number = int(word)
    except ValueError:
        number = low - 1
    if not low <= number <= high:
        msg = f"found {word!r}; allowed: a whole number from {low} to {high}"
        raise argparse.ArgumentTypeError(msg)
    return number
