"""Walking rules against the meaning of each key on the OpenStreetMap wiki (page in the table)."""

from __future__ import annotations

import pytest

from simulator.ground.walkable import HIGHWAYS, KEYS, RULES, SMOOTHNESS, SURFACES, judge

Tags = dict[str, str]


@pytest.mark.parametrize(
    ("tags", "walkable"),
    [
        # Wiki page Key:highway
        ({"highway": "residential"}, True),
        ({"highway": "footway"}, True),
        ({"highway": "steps"}, True),
        ({"highway": "track"}, True),
        ({"highway": "trunk"}, True),
        ({"highway": "motorway"}, False),
        ({"highway": "motorway_link"}, False),
        ({"highway": "busway"}, False),
        ({"highway": "raceway"}, False),
        ({"highway": "corridor"}, True),
        ({"highway": "elevator"}, False),
        ({"highway": "via_ferrata"}, False),
        ({"highway": "nonsense"}, False),
        # Key:foot: what is said about walkers overrides what follows from the kind of way.
        ({"highway": "cycleway", "foot": "designated"}, True),
        ({"highway": "cycleway", "foot": "yes"}, True),
        ({"highway": "cycleway", "foot": "no"}, False),
        ({"highway": "motorway", "foot": "yes"}, True),
        ({"highway": "busway", "foot": "yes"}, True),
        ({"highway": "footway", "foot": "private"}, False),
        ({"highway": "primary", "foot": "use_sidepath"}, False),
        # Wiki page Key:access
        ({"highway": "footway", "access": "no"}, False),
        ({"highway": "service", "access": "private"}, False),
        ({"highway": "service", "access": "permissive"}, True),
        ({"highway": "service", "access": "private", "foot": "yes"}, True),
        ({"highway": "track", "access": "no", "foot": "permissive"}, True),
        ({"highway": "motorway", "access": "yes"}, False),
        # Wiki page Key:motorroad
        ({"highway": "trunk", "motorroad": "yes"}, False),
        ({"highway": "trunk", "motorroad": "yes", "foot": "yes"}, True),
        ({"highway": "trunk", "motorroad": "no"}, True),
        # Key:construction, Key:proposed, Key:abandoned: no permission makes them exist.
        ({"highway": "construction", "construction": "footway", "foot": "yes"}, False),
        ({"highway": "proposed", "proposed": "path"}, False),
        ({"highway": "abandoned"}, False),
        ({"highway": "path", "abandoned": "yes"}, False),
        ({"highway": "residential", "construction": "minor"}, True),
        # Wiki page Key:service
        ({"highway": "service", "service": "driveway"}, False),
        ({"highway": "service", "service": "driveway", "access": "yes"}, True),
        ({"highway": "service", "service": "driveway", "foot": "yes"}, True),
        ({"highway": "service", "service": "alley"}, True),
        # Wiki page Key:route
        ({"route": "ferry"}, False),
        ({"route": "ferry", "foot": "yes"}, False),
        # Key:man_made, Key:railway, Key:public_transport
        ({"man_made": "pier"}, True),
        ({"railway": "platform"}, True),
        ({"public_transport": "platform"}, True),
        # Wiki page Key:sac_scale
        ({"highway": "path", "sac_scale": "hiking"}, True),
        ({"highway": "path", "sac_scale": "alpine_hiking"}, False),
    ],
)
def test_a_way_is_walked_or_not_as_its_tags_say(tags: Tags, walkable: bool) -> None:
    verdict = judge(tags)
    assert verdict.walkable is walkable
    assert bool(verdict.reason) is not walkable


@pytest.mark.parametrize(
    ("tags", "reason"),
    [
        ({"highway": "footway", "access": "private"}, "access=private: closed to the public"),
        ({"highway": "motorway"}, "highway=motorway: a motorway"),
        ({"route": "ferry", "foot": "yes"}, "route=ferry: a ferry is a boat, not a walk"),
        ({"highway": "service", "service": "driveway"}, "service=driveway: a private driveway"),
        ({"highway": "moon"}, "highway=moon: not a kind of way that is walked"),
        (
            {"highway": "path", "foot:forward": "no", "foot:backward": "no"},
            "closed to walkers in both directions",
        ),
    ],
)
def test_a_refused_way_says_which_tag_decided(tags: Tags, reason: str) -> None:
    assert judge(tags).reason.startswith(reason)


@pytest.mark.parametrize(
    ("tags", "forward", "backward"),
    [
        # Key:oneway binds vehicles.
        ({"highway": "residential", "oneway": "yes"}, True, True),
        ({"highway": "steps", "oneway": "yes"}, True, True),
        # Key:oneway:foot, Key:foot:backward
        ({"highway": "footway", "oneway:foot": "yes"}, True, False),
        ({"highway": "footway", "oneway:foot": "-1"}, False, True),
        ({"highway": "footway", "foot:backward": "no"}, True, False),
        ({"highway": "footway", "foot:forward": "no"}, False, True),
        # Key:conveying: escalators and moving walkways
        ({"highway": "steps", "conveying": "forward"}, True, False),
        ({"highway": "steps", "conveying": "backward"}, False, True),
        ({"highway": "steps", "conveying": "reversible"}, True, True),
        ({"highway": "steps", "conveying": "yes", "oneway": "yes"}, True, False),
        ({"highway": "steps", "conveying": "yes", "oneway": "-1"}, False, True),
        ({"highway": "footway", "conveying": "no", "oneway": "yes"}, True, True),
    ],
)
def test_directions_follow_what_is_said_about_walkers(
    tags: Tags,
    forward: bool,
    backward: bool,
) -> None:
    verdict = judge(tags)
    assert (verdict.forward, verdict.backward) == (forward, backward)


@pytest.mark.parametrize(
    ("tags", "surface"),
    [
        ({"surface": "asphalt"}, "paved"),
        ({"surface": "sett"}, "paved"),
        ({"surface": "fine_gravel"}, "compacted"),
        ({"surface": "pebblestone"}, "gravel"),
        ({"surface": "grass"}, "grass"),
        ({"surface": "earth"}, "ground"),
        ({"surface": "sand"}, "sand"),
        ({"surface": "mud"}, "mud"),
        ({"surface": "rock"}, "rock"),
        ({"surface": "lava"}, "unknown"),
        ({}, "unknown"),
        # The worse of two counts.
        ({"surface": "asphalt;sand"}, "sand"),
        # Key:tracktype speaks where surface is silent.
        ({"tracktype": "grade1"}, "paved"),
        ({"tracktype": "grade5"}, "ground"),
        ({"tracktype": "grade5", "surface": "gravel"}, "gravel"),
    ],
)
def test_the_surface_is_named_in_nine_words(tags: Tags, surface: str) -> None:
    assert judge({"highway": "path", **tags}).surface == surface


@pytest.mark.parametrize(
    ("tags", "traffic"),
    [
        ({"highway": "footway"}, 0),
        ({"highway": "track"}, 0),
        ({"highway": "residential"}, 1),
        ({"highway": "primary"}, 2),
        ({"highway": "primary", "sidewalk": "both"}, 1),
        ({"highway": "primary", "sidewalk": "separate"}, 1),
        ({"highway": "primary", "sidewalk": "no"}, 2),
        ({"highway": "secondary", "sidewalk:left": "yes"}, 1),
        ({"highway": "unclassified", "maxspeed": "80"}, 2),
        ({"highway": "unclassified", "maxspeed": "80", "sidewalk": "left"}, 1),
        ({"highway": "unclassified", "maxspeed": "45 mph"}, 2),
        ({"highway": "unclassified", "maxspeed": "40 mph"}, 1),
        ({"highway": "unclassified", "maxspeed": "RO:rural"}, 2),
        ({"highway": "unclassified", "maxspeed": "walk"}, 1),
    ],
)
def test_traffic_beside_the_walker_is_none_low_or_high(tags: Tags, traffic: int) -> None:
    assert judge(tags).traffic == traffic


@pytest.mark.parametrize(
    ("value", "code"), [("yes", 1), ("24/7", 1), ("no", 0), ("perhaps", -1), (None, -1)]
)
def test_light_is_known_unknown_or_absent(value: str | None, code: int) -> None:
    tags = {"highway": "path"} | ({} if value is None else {"lit": value})
    assert judge(tags).lit == code


@pytest.mark.parametrize(
    ("tags", "bridge", "tunnel", "layer"),
    [
        ({"bridge": "yes", "layer": "1"}, True, False, 1),
        ({"bridge": "viaduct"}, True, False, 0),
        ({"bridge": "no"}, False, False, 0),
        ({"tunnel": "yes", "layer": "-2"}, False, True, -2),
        ({"tunnel": "culvert"}, False, False, 0),
        ({"layer": "ground"}, False, False, 0),
        ({"layer": "9" * 400}, False, False, 0),
        ({"layer": "nan"}, False, False, 0),
        ({"layer": "1000"}, False, False, 0),
    ],
)
def test_bridges_tunnels_and_layers_are_read_whatever_is_written(
    tags: Tags,
    bridge: bool,
    tunnel: bool,
    layer: int,
) -> None:
    verdict = judge({"highway": "footway", **tags})
    assert (verdict.bridge, verdict.tunnel, verdict.layer) == (bridge, tunnel, layer)


def test_times_of_closing_are_kept_as_a_note_and_the_plain_value_governs() -> None:
    # Key:foot:conditional, Key:access:conditional (Conditional restrictions)
    verdict = judge({"highway": "footway", "access:conditional": "no @ (22:00-06:00)"})
    assert verdict.walkable
    assert "access:conditional=no @ (22:00-06:00)" in verdict.notes[0]
    assert not judge({"highway": "path", "foot": "no", "foot:conditional": "yes @ (Su)"}).walkable


@pytest.mark.parametrize(
    "tags", [{"ford": "yes"}, {"flood_prone": "yes"}, {"foot": "discouraged"}, {"hazard": "rocks"}]
)
def test_what_a_walker_should_know_is_noted(tags: Tags) -> None:
    assert len(judge({"highway": "path", **tags}).notes) == 1


def test_smoothness_is_kept_for_wheels() -> None:
    assert judge({"highway": "path", "smoothness": "horrible"}).smoothness == "horrible"
    assert judge({"highway": "path", "smoothness": "so-so"}).smoothness == "unknown"


def test_every_rule_names_its_key_and_says_why() -> None:
    for rule in RULES:
        assert rule.wiki == f"https://wiki.openstreetmap.org/wiki/Key:{rule.key}"
        assert rule.reason
        assert rule.key in KEYS


def test_tags_outside_the_keys_change_no_verdict() -> None:
    tags = {"highway": "path", "surface": "mud"}
    assert judge(tags) == judge({**tags, "name": "x", "source": "survey", "note": "private!"})
    assert not {"name", "source", "note"} & KEYS


def test_codes_fit_their_columns_and_are_not_repeated() -> None:
    for table in (HIGHWAYS, SURFACES, SMOOTHNESS):
        assert len(set(table)) == len(table) <= 127


@pytest.mark.parametrize(
    ("kind", "noted"), [("primary", False), ("residential", False), ("footway", True)]
)
def test_a_through_road_keeps_no_hours(kind: str, noted: bool) -> None:
    # A shop's hours that slipped onto its road; a park's path may well be shut at night.
    verdict = judge({"highway": kind, "opening_hours": "Mo-Fr 08:00-18:00"})
    assert verdict.walkable
    assert any("opening_hours" in note for note in verdict.notes) == noted
