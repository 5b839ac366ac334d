"""Whatever comes in through a door is taken, or refused in words; nothing else ever happens.

Minutes as it stands, and the same files on every run. For hours:

    WALKHOME_FUZZ=20000 WALKHOME_FUZZ_SEED=7 pytest tests/fuzz -k "GraphML or XML"
"""

from __future__ import annotations

import os
import warnings
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, seed, settings

from tests.fuzz.doors import DOORS, check_words
from tests.fuzz.spoil import Blow, blows, spoilt

EXAMPLES = int(os.environ.get("WALKHOME_FUZZ", "40"))
SEED = int(os.environ.get("WALKHOME_FUZZ_SEED", "1"))
SLOW = {"typical year, EPW", "typical year, TMY3", "map, GraphML"}
"""Doors whose good files take long to read: fewer of them by default."""


@pytest.mark.parametrize("name", DOORS)
def test_a_good_file_is_taken(name: str, tmp_path: Path) -> None:
    # A door that refuses everything would pass the other test.
    door = DOORS[name]
    path = tmp_path / door.name
    good = door.good(tmp_path)
    path.write_bytes(good)
    if name != "record of the cache":  # its own check is wrong on purpose; it reads as none
        door.read(path)


@pytest.mark.parametrize("name", DOORS)
def test_a_spoilt_file_is_taken_or_refused_in_words(
    name: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    door = DOORS[name]
    folder = tmp_path_factory.mktemp("door")
    good = door.good(folder)
    path = folder / door.name
    count = max(EXAMPLES // 4, 5) if name in SLOW else EXAMPLES

    @seed(SEED)
    @settings(
        max_examples=count, database=None, deadline=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(changes=blows())
    def spoil(changes: list[Blow]) -> None:
        path.write_bytes(spoilt(good, changes))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            try:
                door.read(path)
            except door.refusals as fault:
                check_words(fault)

    spoil()
