"""The command line: arguments in, files and a short summary out, exit codes as documented."""

from __future__ import annotations

import argparse
import io
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from typing import NoReturn

from simulator.commands.bag import add_bag
from simulator.commands.chance import add_many, add_odds, add_year
from simulator.commands.desk import add_desk
from simulator.commands.ground import add_ground_commands
from simulator.commands.runner import BAD_INPUT, DONE, STOPPED, UNEXPECTED, Parser, complain, say
from simulator.commands.walk import add_walk_commands
from simulator.errors import InputError


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
            complain(line)
        return BAD_INPUT
    except KeyboardInterrupt:
        complain("stopped; nothing was written")
        return STOPPED
    except Exception as fault:  # noqa: BLE001 - the last resort of the program
        if os.environ.get("WALKHOME_DEBUG"):
            traceback.print_exc()
        complain(
            f"unexpected: {type(fault).__name__}: {fault}; this is a fault of the program, "
            "set WALKHOME_DEBUG=1 for details"
        )
        return UNEXPECTED


def _parser() -> Parser:
    """Describe the commands; imports nothing heavy."""
    parser = Parser(
        prog="walkhome",
        description="Know before the day whether you get home on foot with this bag.",
        epilog="example: walkhome demo",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="print the version")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    add_walk_commands(commands)
    add_desk(commands)
    add_bag(commands)
    add_odds(commands)
    add_year(commands)
    add_many(commands)
    add_ground_commands(commands)
    return parser


class _Version(argparse.Action):
    """Print the installed version; looked up only when asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> NoReturn:
        """Print and leave."""
        from importlib import metadata

        try:
            say(f"{parser.prog} {metadata.version('walkhome')}")
        except metadata.PackageNotFoundError:
            say(f"{parser.prog}, not installed")
        raise SystemExit(DONE)
