"""OSM tags for each sort of street, drawn by weighted chance."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from data.invented.lattice import Fabric
from data.invented.names import Names

Tags = dict[str, str]

# Main roads: tags everywhere, in built areas, and in the country.
ROADS: Mapping[str, tuple[Tags, Tags, Tags]] = {
    "primary": (
        {"highway": "primary", "surface": "asphalt", "ref": "A 12"},
        {"sidewalk": "both", "lit": "yes", "maxspeed": "50", "lanes": "2"},
        {"sidewalk": "right", "lit": "no", "maxspeed": "80", "lanes": "2"},
    ),
    "secondary": (
        {"highway": "secondary", "surface": "asphalt"},
        {"sidewalk": "both", "lit": "yes", "maxspeed": "50"},
        {"sidewalk": "no", "lit": "no", "maxspeed": "80"},
    ),
    "tertiary": (
        {"highway": "tertiary", "surface": "asphalt"},
        {"sidewalk": "both", "lit": "yes", "maxspeed": "50"},
        {"sidewalk": "no", "lit": "no", "maxspeed": "60"},
    ),
    "lane": (
        {"highway": "unclassified", "surface": "asphalt"},
        {"lit": "yes", "maxspeed": "30", "sidewalk": "left"},
        {"lit": "no", "maxspeed": "60"},
    ),
    "track": (
        {"highway": "track", "tracktype": "grade2", "surface": "gravel"},
        {"lit": "no"},
        {"lit": "no"},
    ),
    "footpath": (
        {"highway": "path", "surface": "compacted", "lit": "no"},
        {},
        {},
    ),
    "footway": (
        {"highway": "footway", "surface": "paving_stones", "lit": "yes"},
        {},
        {},
    ),
    "motorway": (
        {"highway": "motorway", "surface": "asphalt", "oneway": "yes", "lanes": "2"},
        {"lit": "no"},
        {"lit": "no"},
    ),
    "motorroad": (
        {"highway": "trunk", "motorroad": "yes", "foot": "no", "surface": "asphalt"},
        {"lit": "no"},
        {"lit": "no"},
    ),
}

FABRICS: Mapping[str, Fabric] = {
    "grid": Fabric((108.0, 146.0), warp_m=6.0, wave_m=900.0, jitter_m=4.0, keep=0.92, snap_m=38.0,
        step_m=33.0),
    "old": Fabric(
        (74.0, 92.0), warp_m=30.0, wave_m=380.0, jitter_m=17.0, keep=0.66, snap_m=30.0, step_m=16.0
    ),
    "terraces": Fabric(
        (132.0, 232.0), warp_m=40.0, wave_m=1000.0, jitter_m=7.0, keep=0.78, snap_m=46.0,
        step_m=33.0,
    ),
    "suburb": Fabric(
        (162.0, 250.0), warp_m=78.0, wave_m=850.0, jitter_m=12.0, keep=0.5, snap_m=60.0, stubs=0.34,
        step_m=29.0
    ),
    "works": Fabric((190.0, 260.0), warp_m=10.0, jitter_m=5.0, keep=0.6, snap_m=70.0, step_m=32.0),
    "village": Fabric(
        (150.0, 190.0), warp_m=45.0, wave_m=480.0, jitter_m=20.0, keep=0.5, snap_m=65.0, stubs=0.12,
        step_m=25.0
    ),
    "park": Fabric((135.0, 150.0), warp_m=38.0, wave_m=300.0, jitter_m=12.0, keep=0.6, snap_m=45.0),
    "forest": Fabric(
        (300.0, 370.0), warp_m=80.0, wave_m=640.0, jitter_m=35.0, keep=0.55, snap_m=120.0,
        step_m=27.0,
    ),
    "country": Fabric(
        (600.0, 740.0), warp_m=150.0, wave_m=1900.0, jitter_m=80.0, keep=0.6, snap_m=210.0,
        step_m=33.0,
    ),
}  # fmt: skip

STEEPEST: Mapping[str, float] = {"suburb": 0.15, "village": 0.15, "country": 0.13, "forest": 0.3}

_PAVED = {"surface": "asphalt"}
# Weight, tags and name kind of the through streets of each fabric.
THROUGH: Mapping[str, tuple[tuple[float, Tags, str], ...]] = {
    "grid": (
        (6, {"highway": "residential", "sidewalk": "both", "lit": "yes", **_PAVED}, "city"),
        (2, {"highway": "unclassified", "sidewalk": "both", "lit": "yes", **_PAVED}, "city"),
        (1, {"highway": "pedestrian", "surface": "paving_stones", "lit": "yes"}, "city"),
        (1, {"highway": "service", "service": "alley", "lit": "no", **_PAVED}, ""),
        (1, {"highway": "tertiary", "sidewalk": "both", "lit": "yes", **_PAVED}, "city"),
    ),
    "old": (
        (3, {"highway": "pedestrian", "surface": "sett", "lit": "yes"}, "old"),
        (3, {"highway": "living_street", "surface": "sett", "lit": "yes"}, "old"),
        (2, {"highway": "footway", "surface": "paving_stones", "lit": "yes"}, "old"),
        (2, {"highway": "residential", "surface": "cobblestone", "sidewalk": "left",
             "lit": "yes"}, "old"),
        (1, {"highway": "footway", "surface": "cobblestone", "lit": "no"}, "old"),
    ),
    "terraces": (
        (8, {"highway": "residential", "sidewalk": "both", "lit": "yes", **_PAVED}, "city"),
        (1, {"highway": "service", "service": "alley", "lit": "no", "surface": "concrete"}, ""),
        (1, {"highway": "footway", "surface": "asphalt", "lit": "yes"}, ""),
        (1, {"highway": "cycleway", "foot": "designated", "segregated": "yes", "lit": "yes",
             **_PAVED}, "path"),
    ),
    "suburb": (
        (6, {"highway": "residential", "sidewalk": "both", "lit": "yes", **_PAVED}, "suburb"),
        (2, {"highway": "residential", "sidewalk": "right", "lit": "yes", **_PAVED}, "suburb"),
        (1, {"highway": "residential", "sidewalk": "no", "lit": "no", **_PAVED}, "suburb"),
        (1, {"highway": "living_street", "surface": "paving_stones", "lit": "yes"}, "suburb"),
        (1, {"highway": "footway", "surface": "asphalt", "lit": "no"}, ""),
    ),
    "works": (
        (4, {"highway": "unclassified", "lit": "yes", "surface": "concrete"}, "works"),
        (3, {"highway": "service", "lit": "no", **_PAVED}, ""),
        (1, {"highway": "service", "service": "driveway", "access": "customers",
             "surface": "concrete"}, ""),
    ),
    "village": (
        (4, {"highway": "residential", "lit": "yes", **_PAVED}, "village"),
        (3, {"highway": "unclassified", "lit": "no", **_PAVED}, "village"),
        (1, {"highway": "footway", "surface": "fine_gravel", "lit": "no"}, ""),
        (1, {"highway": "track", "tracktype": "grade2", "surface": "gravel"}, ""),
    ),
    "park": (
        (3, {"highway": "footway", "surface": "fine_gravel", "lit": "yes"}, ""),
        (2, {"highway": "footway", "surface": "asphalt", "lit": "yes"}, "path"),
        (1, {"highway": "path", "surface": "grass", "lit": "no"}, ""),
    ),
    "forest": (
        (3, {"highway": "path", "surface": "ground", "lit": "no"}, ""),
        (2, {"highway": "track", "tracktype": "grade3", "surface": "gravel", "lit": "no"}, "path"),
        (1, {"highway": "track", "tracktype": "grade5", "surface": "mud", "lit": "no"}, ""),
        (1, {"highway": "bridleway", "foot": "yes", "surface": "ground"}, "path"),
        (1, {"highway": "path", "surface": "rock", "sac_scale": "hiking", "lit": "no"}, ""),
    ),
    "country": (
        (3, {"highway": "unclassified", "lit": "no", **_PAVED}, "country"),
        (2, {"highway": "track", "tracktype": "grade2", "surface": "gravel"}, ""),
        (2, {"highway": "track", "tracktype": "grade4", "surface": "ground"}, ""),
        (2, {"highway": "path", "surface": "grass"}, ""),
        (1, {"highway": "track", "tracktype": "grade3"}, ""),
        (1, {"highway": "track", "tracktype": "grade1", "surface": "concrete", "access": "private",
             "foot": "permissive"}, ""),
    ),
}  # fmt: skip

STUBS: tuple[tuple[float, Tags, str], ...] = (
    (4, {"highway": "residential", "sidewalk": "both", "lit": "yes", **_PAVED}, "close"),
    (2, {"highway": "service", "service": "driveway", "lit": "no", **_PAVED}, ""),
    (1, {"highway": "residential", "sidewalk": "no", "lit": "no", "surface": "gravel"}, "close"),
)


def pick(
    rng: np.random.Generator, names: Names, choices: tuple[tuple[float, Tags, str], ...]
) -> Tags:
    """Draw one set of tags, with a new name where that sort of street has one."""
    weights = np.cumsum([weight for weight, _, _ in choices])
    number = int(np.searchsorted(weights, rng.random() * weights[-1], side="right"))
    _, tags, kind = choices[number]
    return {**tags, "name": names.new(kind)} if kind else dict(tags)
