"""The commands about one walk: demo, new, plan, detours."""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.commands.runner import (
    DONE,
    SUMMARY,
    Output,
    command,
    output_options,
    plan_option,
    run,
    say,
)

if TYPE_CHECKING:
    from simulator.commands.runner import Commands, Stages
    from simulator.home.answer import Walk
    from simulator.plan import Plan


def add_walk_commands(commands: Commands) -> None:
    """Describe demo, new, plan and detours; imports nothing heavy."""
    demo = command(
        commands,
        "demo",
        "the whole job on an invented place; needs no network",
        "walkhome demo --out trial",
        _demo,
    )
    output_options(demo)

    new = command(
        commands,
        "new",
        "write a plan and a bag list to edit; they run as they stand",
        "walkhome new mywalk && walkhome plan mywalk/plan.toml",
        _new,
    )
    new.add_argument("folder", metavar="DIR", type=Path, help="folder to make")

    plan = command(
        commands,
        "plan",
        "the way, hour by hour, with refills, verdict and timeline",
        "walkhome plan mywalk/plan.toml --out results --page Letter",
        _plan,
    )
    plan_option(plan)
    plan.add_argument(
        "--from", metavar="LAT,LON", dest="here", help="on the day: where you stand now"
    )
    plan.add_argument(
        "--at", metavar="TIME", help="on the day: local time to leave, e.g. 2026-05-04T17:20"
    )
    plan.add_argument(
        "--closed",
        metavar="NAME",
        action="append",
        default=[],
        help="on the day: closed bridge, street or OSM way number, with hours if it has any; "
        "may be given again",
    )
    plan.add_argument(
        "--left",
        metavar="water_l=N,food_kcal=N,light_h=N,on_foot_h=N",
        help="on the day: what is left in the bag, hours of lamp light, and hours on foot so far; "
        "one or more of these",
    )
    output_options(plan)

    detours = command(
        commands,
        "detours",
        "closes each bridge of the way in turn and in pairs; other ways home",
        "walkhome detours mywalk/plan.toml --out results",
        _detours,
    )
    plan_option(detours)
    output_options(detours, shown="detours.json")


def _demo(chosen: argparse.Namespace) -> int:
    """Run the demo place's plan."""
    from simulator.demo import PLAN_NAME, demo_folder
    from simulator.plan import Plan

    return _walk(chosen, Plan.read(demo_folder() / PLAN_NAME))


def _plan(chosen: argparse.Namespace) -> int:
    """Run a person's plan."""
    from simulator.plan import Plan

    if not (chosen.here or chosen.at or chosen.closed or chosen.left):
        return _walk(chosen, Plan.read(chosen.plan))
    from simulator.questions.today import asked_today
    from simulator.report.files import writer_for

    plan, walk_on = asked_today(
        Plan.read(chosen.plan), chosen.here, chosen.at, chosen.closed, chosen.left
    )
    return _walk(chosen, plan, ask=partial(walk_on, writer=writer_for(plan)))


def _detours(chosen: argparse.Namespace) -> int:
    """Close what a plan's way crosses, write what it costs, print the dearest."""
    from simulator.plan import Plan

    plan = Plan.read(chosen.plan)

    def work(stages: Stages) -> Output:
        from simulator.questions.detours import find_detours
        from simulator.report.detours import detours_text, write_detours

        found = find_detours(plan, progress=stages, writer=write_detours)
        stages("writing the files")
        written = found.save(chosen.out, page=chosen.page)
        return Output(
            partial((chosen.out / "detours.json").read_text, encoding="utf-8"),
            partial(detours_text, found, written=written),
        )

    return run(chosen, plan, work)


def _new(chosen: argparse.Namespace) -> int:
    """Write a first plan."""
    from simulator.commands.starter import write_starter
    from simulator.demo import PLAN_NAME, demo_folder
    from simulator.plan import Plan

    written = write_starter(chosen.folder, Plan.read(demo_folder() / PLAN_NAME))
    say("Written:")
    for path in written:
        say(f"  {path}")
    say(f"Edit them, then: walkhome plan {written[0]}")
    return DONE


NEXT_TURNS = 8
"""Turns told in the terminal to someone who is on the way."""


def _walk(chosen: argparse.Namespace, plan: Plan, ask: Callable[..., Walk] | None = None) -> int:
    """Answer one plan, write its files, print its summary."""

    def work(stages: Stages) -> Output:
        from simulator import walk_home
        from simulator.report.paper.sheet import sheet_of
        from simulator.report.text import walk_text
        from simulator.report.words import paper_note

        gc.freeze()  # what is loaded stays to the end, so the collector need not look at it again
        walk = (ask or walk_home)(plan, progress=stages)
        stages("writing the files")
        written = walk.save(chosen.out, page=chosen.page)
        text = partial(
            walk_text,
            sheet_of(walk),
            written=written,
            notes=[paper_note(walk)],
            turns=NEXT_TURNS if ask is not None else 0,
            bold=sys.stdout.isatty() and not os.environ.get("NO_COLOR"),
        )
        return Output(partial((chosen.out / SUMMARY).read_text, encoding="utf-8"), text)

    return run(chosen, plan, work)
