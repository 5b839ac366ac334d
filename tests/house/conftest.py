"""What the tests of the house share: the checkout, and the modules of the installed package."""

from __future__ import annotations

import pkgutil
from pathlib import Path

import pytest

import simulator

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def root() -> Path:
    """Give the checkout that these tests lie in; the package tested may be installed elsewhere."""
    return ROOT


@pytest.fixture(scope="session")
def module_names() -> list[str]:
    """Give every module of the package."""
    found = pkgutil.walk_packages(simulator.__path__, "simulator.")
    # Importing __main__ would run the program.
    return sorted(one.name for one in found if not one.name.endswith("__main__"))
