"""What a person says of places: read, refused with a reason, and put before map and table."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulator.errors import InputError
from simulator.ground.kinds import EVENTS, PLACE_RULES
from simulator.ground.places import Places, edited, places_from, read_edits
from tests.ground.test_places import Feature


@pytest.fixture
def places() -> Places:
    tap = {"amenity": "drinking_water"}
    return places_from(
        [
            Feature(tap, osm="n1"),
            Feature(
                tap | {"opening_hours": "Mo-Su 08:00-20:00", "name": "Fountain Lane"}, osm="n2"
            ),
            Feature({"amenity": "cafe", "name": "Corner"}, osm="n3"),
        ]
    )


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "places.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_kind_and_single_places_are_changed_and_say_so(tmp_path: Path, places: Places) -> None:
    text = """
        [kind."drinking water"]
        works = 0.6
        stop_min = 3
        hours = "06:00-22:00"
        [place.n2]
        works = { "power failure" = 1, flood = 0 }
        needs_key = true
        [place.Corner]
        gives = ["water"]
        needs_treatment = true
        hours = "24/7"
    """
    after = edited(places, read_edits(write(tmp_path, text)))
    assert after.works_in("none").tolist() == [0.6, 0.6, PLACE_RULES["cafe"].works["none"]]
    assert after.works_in("power failure").tolist()[:2] == [0.6, 1.0]
    assert after.works_in("flood").tolist()[:2] == [0.6, 0.0]
    assert after.service_s.tolist() == [180.0, 180.0, PLACE_RULES["cafe"].service_s]
    # Hours said of a kind are for places without any on the map.
    assert after.hours == ("06:00-22:00", "Mo-Su 08:00-20:00", "24/7")
    assert after.always_open.tolist() == [False, True, False]
    assert after.needs_key.tolist() == [False, True, False]
    assert after.needs_treatment.tolist() == [False, False, True]
    assert after.gives[2] == {"water"}
    assert after.edited[0] == "works 60 %, stop 3 min, hours 06:00-22:00"
    assert after.edited[1].endswith(
        "works 100 % under power failure, works 0 % under flood, needs a key"
    )
    assert "gives water" in after.edited[2]
    # The places as read stay as they were.
    assert places.edited == ("", "", "")
    assert places.works.shape == (3, len(EVENTS))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[kind.taps]\nworks = 1", "unknown kind; "),
        ("[kinds.tap]\nworks = 1", "did you mean 'kind'?"),
        ("[kind.tap]\nwork = 1", "did you mean 'works'?"),
        ("[kind.tap]\nworks = 60", "a number from 0 to 1"),
        ("[kind.tap]\nworks = true", "a number from 0 to 1"),
        ("[kind.tap]\nworks = { 'powercut' = 1 }", "unknown event 'powercut'"),
        ("[kind.tap]\nworks = { flood = -1 }", "a number from 0 to 1"),
        ("[kind.tap]\nstop_min = -5", "a number from 0 to 240"),
        ("[kind.tap]\nstop_min = nan", "a number from 0 to 240"),
        ("[kind.tap]\nhours = 'from eight'", "opening hours in the OSM syntax"),
        ("[kind.tap]\nneeds_key = 'no'", "true or false"),
        ("[kind.tap]\ngives = ['beer']", "a list of words out of food, help"),
        ("[kind]\ntap = 3", "a table of keys is needed"),
        ("kind = 3", "unknown table"),
        ("[kind.tap\nworks = 1", "not readable as TOML"),
    ],
)
def test_what_cannot_be_used_is_refused_in_one_line(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        read_edits(write(tmp_path, text))
    assert "places.toml" in str(caught.value)
    assert says in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_every_fault_is_named_at_once(tmp_path: Path) -> None:
    text = "[kind.tap]\nworks = 2\nstop_min = -1\n[kind.moon]\nworks = 1\n"
    with pytest.raises(InputError) as caught:
        read_edits(write(tmp_path, text))
    assert len(str(caught.value).splitlines()) == 3


def test_a_place_that_the_map_does_not_have_is_refused(tmp_path: Path, places: Places) -> None:
    edits = read_edits(write(tmp_path, "[place.Cornre]\nworks = 1\n[place.n9]\nworks = 1"))
    with pytest.raises(InputError, match="did you mean 'Corner'") as caught:
        edited(places, edits)
    assert len(str(caught.value).splitlines()) == 2
