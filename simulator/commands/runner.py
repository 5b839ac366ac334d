"""One way to run every command: options, progress, files, what is printed, exit codes.

0 done, 1 unexpected, 2 bad input, 3 no way home exists on this map, 4 the machine cannot go on (no
room on the disk, no memory, nobody who reads the output), 130 stopped by the person.
"""

from __future__ import annotations

import argparse
import io
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, NoReturn, TextIO

from simulator.errors import NoWayHomeError

if TYPE_CHECKING:
    from simulator.plan import Plan

DONE, UNEXPECTED, BAD_INPUT, NO_WAY, MACHINE, STOPPED = 0, 1, 2, 3, 4, 130
"""Exit codes; the last is the shell's for an interrupt."""

DEFAULT_OUT = "walkhome-out"
"""Folder for the results when --out is not given."""

SUMMARY = "summary.json"
"""The file that --json prints, if a command has no document of its own."""

NO_WAY_SCHEMA = "walkhome summary 1, no way home"
"""Name and version of the layout of summary.json when there is no walk to sum up."""

STAGE_COLUMNS = 68
"""Widest name of a stage [characters]; the time it took stands behind."""

QUIET_S = 1.0
"""A stage shorter than this is not mentioned [s]."""


class Parser(argparse.ArgumentParser):
    """A parser that refuses in one line, like every other bad input."""

    def error(self, message: str) -> NoReturn:
        """Print one line and leave with the code for bad input."""
        complain(f"{self.prog}: {message}; see {self.prog} --help")
        raise SystemExit(BAD_INPUT)


if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[Parser]  # noqa: SLF001 - it has no public name


class Output(NamedTuple):
    """What a command has to say once its files are written; each is made only when asked for.

    Attributes
    ----------
    document : callable
        Gives what --json prints.
    text : callable
        Gives what a person reads.
    """

    document: Callable[[], str]
    text: Callable[[], str]


class Stages:
    """Say what is being done, on a terminal only and only for what takes a while.

    Parameters
    ----------
    stream : TextIO
        Where to write.
    quiet_s : float
        Shorter stages are not mentioned [s].
    """

    def __init__(self, stream: TextIO, *, quiet_s: float = QUIET_S) -> None:
        self._stream = stream
        self._quiet_s = quiet_s
        self._on = stream.isatty()
        self._lock = threading.Lock()
        self._timer: threading.Timer | None = None
        self._began = 0.0
        self._said = False

    def __call__(self, stage: str) -> None:
        """Begin a stage; the one before has ended."""
        self.close()
        if not self._on:
            return
        self._began = time.monotonic()
        self._timer = threading.Timer(self._quiet_s, self._say, args=(stage,))
        self._timer.daemon = True
        self._timer.start()

    def _say(self, stage: str) -> None:
        """Name the stage while it runs."""
        from simulator.files import terminal_safe

        with self._lock:
            self._said = True
            self._stream.write(f"{terminal_safe(stage)[:STAGE_COLUMNS]} … ")
            self._stream.flush()

    def close(self) -> None:
        """End the last stage; its time stands behind its name if it was mentioned."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer.join()
            self._timer = None
        with self._lock:
            if self._said:
                self._stream.write(f"{time.monotonic() - self._began:.1f} s\n")
                self._stream.flush()
                self._said = False


def command(
    commands: Commands, name: str, does: str, example: str, run: Callable[..., int]
) -> Parser:
    """Add a command whose help carries an example."""
    parser = commands.add_parser(
        name,
        help=does,
        description=f"{does[0].upper()}{does[1:]}.",
        epilog=f"example: {example}",
        allow_abbrev=False,
    )
    parser.set_defaults(command=run, name=name)
    return parser


def plan_option(parser: Parser) -> None:
    """Add the plan file, which most commands take first."""
    parser.add_argument("plan", metavar="PLAN.toml", type=Path, help="plan file; see walkhome new")


def output_options(parser: Parser, *, shown: str = SUMMARY) -> None:
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


def run(chosen: argparse.Namespace, plan: Plan, work: Callable[[Stages], Output]) -> int:
    """Do a command's work under its stages, print what it has to say, give its exit code."""
    from simulator.files import of_other_runs, require_writable_folder

    require_writable_folder(chosen.out)
    other = of_other_runs(chosen.out / SUMMARY)
    if other:
        complain(
            f"{chosen.out}: {', '.join(other)} and {SUMMARY} there were not of one run, or were "
            "changed since; what this run writes is of one"
        )
    stages = Stages(sys.stderr)
    try:
        stages("loading the program")
        told = work(stages)
    except NoWayHomeError as fault:
        stages.close()
        return no_way(chosen, plan, str(fault))
    finally:
        stages.close()
    if chosen.json:
        say_json(told.document())
    else:
        say(told.text(), raw=True)
    return DONE


def no_way(chosen: argparse.Namespace, plan: Plan, reason: str) -> int:
    """Write what is known when no way home exists."""
    from simulator.fetch.sources import on_this_map, with_ground
    from simulator.ground.osm import credit_at
    from simulator.plan import inputs
    from simulator.report.no_way import no_way_text, write_no_way

    ground = with_ground(plan)
    reason, plan = on_this_map(reason, ground), ground.plan
    summary = {
        "schema": NO_WAY_SCHEMA,
        "title": plan.title,
        "inputs": inputs(plan),
        "attribution": credit_at(plan.map.extract) if plan.map.extract else "",
        "verdict": {"level": "stay and wait", "reasons": [reason]},
    }
    page = chosen.page or plan.choices.page
    written = write_no_way(plan, summary, chosen.out, command=chosen.name, page=page)
    if chosen.json:
        say_json((chosen.out / SUMMARY).read_text(encoding="utf-8"))
    else:
        say(no_way_text(reason, written=written), raw=True)
    complain(reason)
    return NO_WAY


def whole_number(low: int, high: int) -> Callable[[str], int]:
    """Give a reader of whole numbers between two ends, for an option."""

    def read(word: str) -> int:
        try:
            number = int(word)
        except ValueError:
            number = low - 1
        if not low <= number <= high:
            msg = f"found {word!r}; allowed: a whole number from {low} to {high}"
            raise argparse.ArgumentTypeError(msg)
        return number

    return read


def say(text: str, *, raw: bool = False) -> None:
    """Print lines on standard output; raw text is safe for a terminal already."""
    from simulator.files import terminal_safe

    lines = text if raw else "\n".join(terminal_safe(line) for line in text.split("\n"))
    sys.stdout.write(f"{lines}\n")


def say_json(text: str) -> None:
    """Print JSON on standard output, in UTF-8 whatever the terminal's encoding (RFC 8259)."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8")
    sys.stdout.write(text)


COMPLAINT_CHARACTERS = 500
"""Longest line on standard error; of a longer one begin and end are shown [characters]."""


def complain(text: str) -> None:
    """Print one line on standard error."""
    if sys.stderr is None:
        return
    if len(text) > COMPLAINT_CHARACTERS:
        text = f"{text[: COMPLAINT_CHARACTERS - 150]} … {text[-140:]}"
    from simulator.files import terminal_safe

    with suppress(OSError):  # nobody is left to tell
        sys.stderr.write(terminal_safe(text) + "\n")
        sys.stderr.flush()
