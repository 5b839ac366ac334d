"""The command line: arguments in, files and a short summary out, exit codes as documented."""

from __future__ import annotations

import argparse
import io
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import NoReturn

from simulator.commands.bag import add_bag
from simulator.commands.chance import add_many, add_odds, add_year
from simulator.commands.desk import add_desk
from simulator.commands.ground import add_ground_commands
from simulator.commands.runner import (
    BAD_INPUT,
    DONE,
    MACHINE,
    STOPPED,
    UNEXPECTED,
    Parser,
    complain,
    say,
)
from simulator.commands.walk import add_walk_commands
from simulator.errors import InputError, MachineError, of_the_machine


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
    try:
        return _done(words)
    except (InputError, MachineError) as fault:
        for line in str(fault).splitlines():
            complain(line)
        return BAD_INPUT if isinstance(fault, InputError) else MACHINE
    except KeyboardInterrupt as stop:
        # Whoever was putting files in place says which ones are. All else that is in place was
        # there before, or is a finished part: this run may have written some, so it claims neither.
        complain(str(stop) or "stopped; every file in place is whole")
        return STOPPED
    except Exception as fault:  # noqa: BLE001 - the last resort of the program
        return _failed(fault)


def _done(words: Sequence[str]) -> int:
    """Run a command, and see that what it printed has left."""
    if sys.stdout is None:
        where = "standard output"
        raise MachineError(where, "is closed; send it to a file, or to nowhere")
    try:
        chosen = _parser().parse_args(words)
    except SystemExit:
        sys.stdout.flush()  # help and version end here
        raise
    command: Callable[[argparse.Namespace], int] = chosen.command
    code = command(chosen)
    sys.stdout.flush()
    return code


def _failed(fault: Exception) -> int:
    """Tell a fault of the machine from one of the program."""
    if os.environ.get("WALKHOME_DEBUG"):
        traceback.print_exception(fault)
    if isinstance(fault, OSError) or of_the_machine(fault):
        complain(_machine_words(fault))
        _drop_output()
        return MACHINE
    complain(
        f"unexpected: {type(fault).__name__}: {fault}; this is a fault of the program, "
        "set WALKHOME_DEBUG=1 for details"
    )
    return UNEXPECTED


def _machine_words(fault: Exception) -> str:
    """Say what the machine could not do; what stood before still stands whole."""
    if isinstance(fault, MemoryError):
        return "out of memory; take a smaller map, or another machine; every file in place is whole"
    if not isinstance(fault, OSError):
        return f"the machine cannot go on: {fault}; every file in place is whole"
    if fault.filename is None:
        return f"writing failed: {fault.strerror}; every file in place is whole"
    return f"{fault.filename}: {fault.strerror}; every file in place is whole"


def _drop_output() -> None:
    """Let nothing more be written to an output that failed, for it would fail again at the end."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


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
