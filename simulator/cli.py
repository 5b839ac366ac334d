"""The command line: arguments in, files and a short summary out, exit codes as documented.

0 done, 1 unexpected, 2 bad input, 3 no way home exists on this map.
"""

from __future__ import annotations

import argparse
import gc
import io
import json
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NoReturn

from simulator.commands.bag import add_bag
from simulator.commands.chance import add_many, add_odds, add_year
from simulator.commands.ground import add_commands
from simulator.errors import InputError, NoWayHomeError

if TYPE_CHECKING:
    from simulator.home.answer import Walk
    from simulator.plan import Plan

DONE, UNEXPECTED, BAD_INPUT, NO_WAY, STOPPED = 0, 1, 2, 3, 130
"""Exit codes; the last is the shell's for an interrupt."""

DEFAULT_OUT = "walkhome-out"
"""Folder for the results when --out is not given."""

SUMMARY = "summary.json"
"""The file that --json prints."""

NO_WAY_SCHEMA = "walkhome summary 1, no way home"
"""Name and version of the layout of summary.json when there is no walk to sum up."""


class _Parser(argparse.ArgumentParser):
    """A parser that refuses in one line, like every other bad input."""

    def error(self, message: str) -> NoReturn:
        """Print one line and leave with the code for bad input."""
        _complain(f"{self.prog}: {message}; see {self.prog} --help")
        raise SystemExit(BAD_INPUT)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        Words after the program's name; those of the process when left out.

    Returns
    -------
    int
        Exit code.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    words = list(sys.argv[1:] if arguments is None else arguments)
    if "--from" in words[:-1]:
        # South of the equator a place begins with a minus, which would pass for an option.
        at = words.index("--from")
        words[at : at + 2] = [f"--from={words[at + 1]}"]
    chosen = _parser().parse_args(words)
    command: Callable[[argparse.Namespace], int] = chosen.command
    try:
        return command(chosen)
    except InputError as fault:
        for line in str(fault).splitlines():
            _complain(line)
        return BAD_INPUT
    except KeyboardInterrupt:
        _complain("stopped; nothing was written")
        return STOPPED
    except Exception as fault:  # noqa: BLE001 - the last resort of the program
        if os.environ.get("WALKHOME_DEBUG"):
            traceback.print_exc()
        _complain(
            f"unexpected: {type(fault).__name__}: {fault}; this is a fault of the program, "
            "set WALKHOME_DEBUG=1 for details"
        )
        return UNEXPECTED


def _parser() -> _Parser:
    """Describe the commands; imports nothing heavy."""
    parser = _Parser(
        prog="walkhome",
        description="Know before the day whether you get home on foot with this bag.",
        epilog="example: walkhome demo",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="print the version")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    demo = _command(
        commands,
        "demo",
        "the whole job on an invented place; needs no network",
        "walkhome demo --out trial",
    )
    _output_options(demo)
    demo.set_defaults(command=_demo)

    new = _command(
        commands,
        "new",
        "write a plan and a bag list to edit; they run as they stand",
        "walkhome new mywalk && walkhome plan mywalk/plan.toml",
    )
    new.add_argument("folder", metavar="DIR", type=Path, help="folder to make")
    new.set_defaults(command=_new)

    plan = _command(
        commands,
        "plan",
        "the way, hour by hour, with refills, verdict and timeline",
        "walkhome plan mywalk/plan.toml --out results --page Letter",
    )
    plan.add_argument("plan", metavar="PLAN.toml", type=Path, help="plan file; see walkhome new")
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
        "--left", metavar="water_l=N,food_kcal=N", help="on the day: what is left in the bag"
    )
    _output_options(plan)
    plan.set_defaults(command=_plan)

    detours = _command(
        commands,
        "detours",
        "closes each bridge of the way in turn and in pairs; other ways home",
        "walkhome detours mywalk/plan.toml --out results",
    )
    detours.add_argument("plan", metavar="PLAN.toml", type=Path, help="see walkhome new")
    _output_options(detours, shown="detours.json")
    detours.set_defaults(command=_detours)

    add_bag(_command, commands, _output_options)
    add_commands(partial(_command, commands))
    add_odds(_command, commands, _output_options)
    add_year(_command, commands, _output_options)
    add_many(_command, commands, _output_options)
    parser.set_defaults(no_way=_no_way)
    return parser


def _command(
    commands: argparse._SubParsersAction[_Parser], name: str, does: str, example: str
) -> _Parser:
    """Add a command whose help carries an example."""
    return commands.add_parser(
        name,
        help=does,
        description=f"{does[0].upper()}{does[1:]}.",
        epilog=f"example: {example}",
        allow_abbrev=False,
    )


def _output_options(parser: _Parser, *, shown: str = SUMMARY) -> None:
    """Add the options that commands with results share."""
    parser.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        default=Path(DEFAULT_OUT),
        help=f"folder for the results (default: {DEFAULT_OUT})",
    )
    parser.add_argument("--json", action="store_true", help=f"print {shown} and nothing else")
    parser.add_argument("--page", choices=("A4", "Letter"), help="paper, instead of the plan's")


class _Version(argparse.Action):
    """Print the installed version; looked up only when asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> NoReturn:
        """Print and leave."""
        from importlib import metadata

        try:
            _say(f"{parser.prog} {metadata.version('walkhome')}")
        except metadata.PackageNotFoundError:
            _say(f"{parser.prog}, not installed")
        raise SystemExit(DONE)


def _demo(chosen: argparse.Namespace) -> int:
    """Run the demo place's plan."""
    from simulator.demo import PLAN_NAME, demo_folder
    from simulator.plan import Plan

    return _walk(Plan.read(demo_folder() / PLAN_NAME), chosen)


def _plan(chosen: argparse.Namespace) -> int:
    """Run a person's plan."""
    from simulator.plan import Plan

    if not (chosen.here or chosen.at or chosen.closed or chosen.left):
        return _walk(Plan.read(chosen.plan), chosen)
    from simulator.questions.today import asked_today
    from simulator.report.files import write_walk

    def write(walk: Walk, folder: Path, page: Literal["A4", "Letter"] | None) -> list[Path]:
        return write_walk(walk, folder, page=page or plan.choices.page)

    plan, walk_on = asked_today(
        Plan.read(chosen.plan), chosen.here, chosen.at, chosen.closed, chosen.left
    )
    return _walk(plan, chosen, ask=partial(walk_on, writer=write))


def _detours(chosen: argparse.Namespace) -> int:
    """Close what a plan's way crosses, write what it costs, print the dearest."""
    from simulator.commands.text import Stages
    from simulator.files import require_writable_folder
    from simulator.plan import Plan

    plan = Plan.read(chosen.plan)
    require_writable_folder(chosen.out)
    stages = Stages(sys.stderr)
    try:
        stages("loading the program")
        from simulator.questions.detours import find_detours
        from simulator.report.detours import detours_text, write_detours

        found = find_detours(plan, progress=stages, writer=write_detours)
        stages("writing the files")
        written = found.save(chosen.out, page=chosen.page)
    except NoWayHomeError as fault:
        stages.close()
        return _no_way(plan, str(fault), chosen)
    finally:
        stages.close()
    if chosen.json:
        _say_json((chosen.out / "detours.json").read_text(encoding="utf-8"))
    else:
        _say(detours_text(found, written=written), raw=True)
    return DONE


def _new(chosen: argparse.Namespace) -> int:
    """Write a first plan."""
    from simulator.commands.starter import write_starter
    from simulator.demo import PLAN_NAME, demo_folder
    from simulator.plan import Plan

    written = write_starter(chosen.folder, Plan.read(demo_folder() / PLAN_NAME))
    _say("Written:")
    for path in written:
        _say(f"  {path}")
    _say(f"Edit them, then: walkhome plan {written[0]}")
    return DONE


def _walk(plan: Plan, chosen: argparse.Namespace, ask: Callable[..., Walk] | None = None) -> int:
    """Answer one plan, write its files, print its summary."""
    from simulator.commands.text import Stages, summary_text
    from simulator.files import require_writable_folder

    require_writable_folder(chosen.out)
    stages = Stages(sys.stderr)
    try:
        stages("loading the program")
        from simulator import walk_home
        from simulator.report.words import paper_note

        gc.freeze()  # what is loaded stays to the end, so the collector need not look at it again
        walk = (ask or walk_home)(plan, progress=stages)
        stages("writing the files")
        written = walk.save(chosen.out, page=chosen.page)
    except NoWayHomeError as fault:
        stages.close()
        return _no_way(plan, str(fault), chosen)
    finally:
        stages.close()
    if chosen.json:
        _say_json((chosen.out / SUMMARY).read_text(encoding="utf-8"))
    else:
        bold = sys.stdout.isatty() and not os.environ.get("NO_COLOR")
        text = summary_text(
            walk.summary, system=plan.units, written=written, notes=[paper_note(walk)], bold=bold
        )
        _say(text, raw=True)
    return DONE


def _no_way(plan: Plan, reason: str, chosen: argparse.Namespace) -> int:
    """Write what is known when no way home exists."""
    from simulator.fetch.sources import on_this_map, with_ground
    from simulator.files import staged, write_text
    from simulator.ground.osm import credit_at
    from simulator.plan import inputs

    ground = with_ground(plan)
    reason, plan = on_this_map(reason, ground), ground.plan
    summary = {
        "schema": NO_WAY_SCHEMA,
        "title": plan.title,
        "inputs": inputs(plan),
        "attribution": credit_at(plan.map.extract) if plan.map.extract else "",
        "verdict": {"level": "stay and wait", "reasons": [reason]},
    }
    text = json.dumps(summary, indent=2, ensure_ascii=False) + "\n"
    with staged(chosen.out) as stage:
        write_text(stage / SUMMARY, text)
    if chosen.json:
        _say_json(text)
    _complain(reason)
    return NO_WAY


def _say(text: str, *, raw: bool = False) -> None:
    """Print one line on standard output, or several that are safe already."""
    from simulator.files import terminal_safe

    sys.stdout.write((text if raw else terminal_safe(text)) + "\n")


def _say_json(text: str) -> None:
    """Print JSON on standard output, in UTF-8 whatever the terminal's encoding (RFC 8259)."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8")
    sys.stdout.write(text)


def _complain(text: str) -> None:
    """Print one line on standard error."""
    from simulator.files import terminal_safe

    sys.stderr.write(terminal_safe(text) + "\n")
