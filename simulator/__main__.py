"""The way in: ``walkhome`` and ``python -m simulator`` begin here.

Next to nothing is loaded before someone listens for a stop by the person.
"""

from __future__ import annotations

import os
import sys


def main() -> int:
    """Run the command line; a stop is one line and the shell's exit code for it, at any time."""
    try:
        # Worker processes must not look for modules in the working folder: it may hold anything.
        os.environ.setdefault("PYTHONSAFEPATH", "1")
        from simulator.cli import main as run

        return run()
    except KeyboardInterrupt:
        sys.stderr.write("stopped; every file in place is whole\n")
        return 130


if __name__ == "__main__":
    raise SystemExit(main())
