"""Run the command line as ``python -m simulator``."""

from __future__ import annotations

from simulator.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
