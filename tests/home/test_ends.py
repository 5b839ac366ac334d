"""Ends that the way does not reach where the plan puts them are told loudly."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.demo import demo_folder
from simulator.errors import InputError
from simulator.home.scene import MOVED, Scene, prepare
from simulator.plan import Plan


@pytest.fixture(scope="module")
def scene() -> Scene:
    return prepare(Plan.read(demo_folder() / "plan.toml"))


def notes(scene: Scene, **trip: tuple[float, float]) -> list[str]:
    """Give the notes on ends that were moved, with other ends."""
    other = prepare(scene.plan.with_changes(trip=trip))
    return [note for note in other.notes if note.startswith(MOVED)]


def test_ends_on_their_streets_are_not_spoken_of(scene: Scene) -> None:
    assert [note for note in scene.notes if note.startswith(MOVED)] == []


def test_a_home_in_the_middle_of_a_lake_is_told(scene: Scene) -> None:
    water = next(line for line in scene.lines if line.tags.get("water") == "lake")
    middle = (float(water.lat.mean()), float(water.lon.mean()))
    with_home = scene.plan.with_changes(choices={"snap_limit_m": 5000.0})
    lake = prepare(with_home.with_changes(trip={"home": middle}))
    (note,) = [note for note in lake.notes if note.startswith(MOVED)]
    assert "trip.home" in note
    assert "lies in water" in note


def test_an_end_far_from_any_street_is_told_with_the_distance(scene: Scene) -> None:
    water = next(line for line in scene.lines if line.tags.get("water") == "river")
    place = (
        float((water.lat.min() + water.lat.max()) / 2.0),
        float((water.lon.min() + water.lon.max()) / 2.0),
    )
    (note,) = notes(scene, home=place)
    far_m = float(note.split(" to a street ")[1].split()[0])
    streets = scene.streets
    scale = np.array([np.cos(np.radians(place[0])), 1.0]) * 111_195.0
    nodes = np.column_stack([streets.lon, streets.lat]) * scale
    least_m = np.hypot(*(nodes - np.array([place[1], place[0]]) * scale).T).min()
    # The nearest point of a street is no farther than its nearest corner.
    assert 100.0 <= far_m <= least_m + 10.0
    near = scene.plan.with_changes(trip={"home": place}, choices={"snap_limit_m": 50.0})
    with pytest.raises(InputError, match=r"trip\.home"):
        prepare(near)


def test_an_end_on_a_piece_cut_off_is_moved_and_told(scene: Scene) -> None:
    streets = scene.streets
    label = streets.components().label
    alone = np.flatnonzero(label[streets.tail] != 0)
    if not alone.size:
        pytest.skip("the demo place hangs together")
    row = int(alone[0])
    lon, lat = streets.point_at(row, 0.5)
    (note,) = notes(scene, home=(lat, lon))
    assert "does not join up" in note
