"""The command that opens the desk in the browser."""

from __future__ import annotations

import argparse
import hashlib
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.commands.runner import DONE, command, say

if TYPE_CHECKING:
    from simulator.commands.runner import Commands

DEMO_FOLDER = "walkhome-desk"
"""Where the demo plan is saved when no plan was named."""

MOST_PORTS = 65_535


def add_desk(commands: Commands) -> None:
    """Describe ``desk``; imports nothing heavy."""
    desk = command(
        commands,
        "desk",
        "plan in the browser on this machine; every change is answered at once",
        "walkhome desk mywalk/plan.toml",
        _desk,
    )
    desk.add_argument(
        "plan",
        metavar="PLAN.toml",
        type=Path,
        nargs="?",
        help=f"plan file; the demo place when left out, saved in ./{DEMO_FOLDER}",
    )
    desk.add_argument(
        "--port", type=_port, default=0, help="port on this machine (default: one that is free)"
    )
    desk.add_argument(
        "--no-browser", action="store_true", help="print the address and open no browser"
    )


def _port(text: str) -> int:
    """Read the number of a port."""
    number = int(text) if text.isascii() and text.isdigit() else -1
    if not 0 <= number <= MOST_PORTS:
        msg = f"found {text!r}; allowed: 0 to {MOST_PORTS}"
        raise argparse.ArgumentTypeError(msg)
    return number


def _desk(chosen: argparse.Namespace) -> int:
    """Serve the page until it has been gone for a while, or until Ctrl-C."""
    import asyncio
    import webbrowser

    from simulator.demo import PLAN_NAME, demo_folder
    from simulator.desk.answers import Desk
    from simulator.desk.document import Draft, open_document
    from simulator.desk.server import serve

    path: Path = chosen.plan or demo_folder() / PLAN_NAME
    save_as = Path.cwd() / DEMO_FOLDER / PLAN_NAME if chosen.plan is None else path
    if save_as.exists():
        path = save_as  # the demo that was saved before is gone on with
    desk = Desk(open_document(path, save_as=save_as), Draft(draft_folder(save_as)))

    def ready(address: str) -> None:
        say(f"The desk is open at {address}")
        say("It lets one browser in. Ctrl-C ends it; what was typed is kept.")
        sys.stdout.flush()  # who reads the address through a pipe waits for it
        if not chosen.no_browser:
            webbrowser.open(address)

    try:
        asyncio.run(serve(desk, port=chosen.port, ready=ready))
    except KeyboardInterrupt:
        say("")
    kept = desk.close()
    say("Unsaved work is kept for the next time." if kept else "Nothing is left unsaved.")
    return DONE


def draft_folder(plan: Path, environ: Mapping[str, str] = os.environ) -> Path:
    """Give the folder where unsaved work on a plan is kept."""
    if sys.platform == "win32":
        base = Path(environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = Path(environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state")
    name = hashlib.sha256(str(plan.absolute()).encode()).hexdigest()[:16]
    return base / "walkhome" / "desk" / name
