"""Lint, form, types and layers, each checked once over the whole checkout."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest


def run(root: Path, *words: str) -> None:
    """Run a tool of this environment in the checkout; its report is the failure."""
    done = subprocess.run(
        [sys.executable, *words], cwd=root, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{' '.join(words)}\n{done.stdout}{done.stderr}"


def test_the_code_passes_the_linter(root: Path) -> None:
    run(root, "-m", "ruff", "check", ".")


def test_the_code_is_formatted(root: Path) -> None:
    run(root, "-m", "ruff", "format", "--check", ".")


@pytest.mark.slow
def test_the_types_hold(root: Path) -> None:
    run(root, "-m", "mypy")


def test_rooms_import_only_from_earlier_rooms(root: Path) -> None:
    run(root, "-c", "from importlinter.cli import lint_imports_command as run; run()", "--no-cache")
