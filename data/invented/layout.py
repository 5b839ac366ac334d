"""What is drawn by hand: river, ridge, main roads, railway, districts. Kilometres, x east, y north.

The river comes in from the north-east, leaves the east basin through a gap in the ridge, and bends
around the old town. Work is south-west of it, home north-east of it: one crossing is needed
somewhere, in the city and then over the ridge, or beyond the gap after going round by the valley.
"""

from __future__ import annotations

from dataclasses import dataclass, field

START_KM = (-9.42, -0.22)
HOME_KM = (11.35, 5.85)
HALF_WIDTH_KM = 14.0
HALF_HEIGHT_KM = 9.0

RIVER = (
    (15.0, 3.9), (13.6, 3.0), (12.6, 1.7), (11.4, 1.9), (10.4, 0.9), (9.0, 1.3), (8.0, 0.1),
    (6.7, 0.0), (5.9, -1.5), (4.7, -1.6), (4.0, -3.1), (3.2, -4.3), (2.3, -5.1), (1.2, -5.0),
    (0.2, -5.4), (-0.9, -4.5), (-2.0, -4.3), (-2.9, -3.0), (-3.9, -2.6), (-4.5, -1.3),
    (-5.6, -1.1), (-6.3, 0.1), (-6.2, 1.2), (-7.2, 2.0), (-8.6, 1.9), (-9.6, 2.9), (-11.0, 2.8),
    (-12.2, 3.9), (-13.6, 3.9), (-15.0, 4.8),
)  # fmt: skip
RIVER_NAME = "River Ossen"
WEIR = ((4.727, -1.638), (4.722, -1.555))  # just above the path over it

# The crest of the ridge: for each y, the x it runs at, its height above the valley and its width.
CREST_Y = (-9.5, -7.0, -5.0, -2.6, -0.4, 1.6, 3.7, 6.2, 9.5)
CREST_X = (2.6, 2.3, 2.2, 1.5, 0.7, 0.5, 0.15, -0.5, -0.8)
CREST_RISE_M = (150.0, 170.0, 150.0, 195.0, 112.0, 215.0, 185.0, 205.0, 170.0)
CREST_WIDTH_KM = (0.9, 0.85, 0.7, 0.75, 0.8, 0.75, 0.58, 0.85, 0.9)

MOUND_KM = (-7.3, 1.05)  # the hill the old town stands on
MOUND_RISE_M = 34.0
MOUND_WIDTH_KM = 0.33

LAKE_KM = (6.3, 7.0)
LAKE_RADIUS_KM = 0.95
ISLAND_RADIUS_KM = 0.33

STREAMS = {
    "Sallow Beck": (
        (6.0, 6.2), (5.3, 5.2), (5.0, 3.9), (4.4, 2.6), (4.6, 1.6), (4.2, 0.2), (4.9, -0.7),
        (4.9, -1.6),
    ),
    "Thistle Brook": (
        (-1.2, 5.4), (-2.1, 4.9), (-3.4, 5.4), (-5.0, 5.5), (-6.6, 5.2), (-7.9, 4.2), (-8.2, 3.0),
        (-8.9, 2.3),
    ),
    "Amber Brook": ((-12.6, -5.6), (-11.0, -4.2), (-10.9, -2.4), (-11.5, -0.6), (-11.3, 1.2),
        (-11.3, 2.7)),
    "Hollow Beck": ((10.9, -5.5), (9.2, -3.6), (8.9, -1.8), (7.7, -1.0), (7.0, -0.1)),
}  # fmt: skip


@dataclass(frozen=True)
class Road:
    """A main line drawn by hand.

    Attributes
    ----------
    name : str
        Its name.
    kind : str
        A key of `styles.ROADS`.
    path : tuple
        Control points, km.
    over : str
        Name of its bridge over the river, where it crosses it.
    under : tuple of float
        Stretches in a tunnel: pairs of x, km.
    extra : dict
        Further tags.
    over_tags : dict
        Further tags of the bridge.
    """

    name: str
    kind: str
    path: tuple[tuple[float, float], ...]
    over: str = ""
    under: tuple[tuple[float, float], ...] = ()
    extra: dict[str, str] = field(default_factory=dict)
    over_tags: dict[str, str] = field(default_factory=dict)


MOTORWAY = Road(
    "", "motorway",
    ((-3.3, -9.4), (-3.3, -7.0), (-2.75, -5.2), (-2.4, -3.4), (-2.4, -1.5), (-2.6, 0.6),
     (-2.5, 2.4), (-2.8, 5.0), (-3.3, 9.4)),
    over="Ossen Viaduct", extra={"ref": "M 4"},
)  # fmt: skip

TRUNK = Road(
    "Basin Expressway", "motorroad",
    ((-2.95, 2.12), (-2.5, 2.2), (-1.7, 2.25), (-0.9, 2.3), (0.3, 2.35), (1.6, 2.5), (3.0, 3.0),
     (5.0, 3.3), (6.4, 4.2), (7.7, 5.6), (9.2, 7.0), (11.5, 7.7), (13.9, 8.0)),
    under=((-0.95, 1.75),),
)  # fmt: skip

RAIL = (
    (-14.5, -2.5), (-12.0, -2.05), (-9.8, -1.85), (-8.2, -1.75), (-6.6, -2.35), (-4.6, -3.9),
    (-2.6, -5.1), (-0.6, -6.15), (0.9, -6.45), (2.3, -5.85), (3.7, -4.9), (5.2, -3.4),
    (6.5, -2.3), (7.5, -1.1), (8.25, 0.45), (8.8, 2.1), (9.0, 3.7), (10.0, 6.3), (11.9, 7.2),
    (13.9, 7.4),
)  # fmt: skip
RAIL_BRIDGE = "Heronsgap Railway Bridge"
# The walkway beside its rails: from Valley Road to it, and from it to Fennick Road's fields.
RAIL_WALK = (
    ((8.8, -1.0), (8.45, -0.62), (8.2, -0.3)),
    ((8.72, 1.3), (9.15, 1.7), (9.75, 2.25), (10.45, 2.35)),
)

ROADS = (
    Road(
        "Great West Road", "primary",
        ((-13.9, -1.5), (-11.6, -0.95), (-9.7, -0.62), (-8.2, -0.35), (-7.2, 0.25),
         (-6.3, 0.68), (-5.3, 0.95), (-4.0, 1.15), (-2.6, 1.25), (-1.75, 0.95)),
        over="Old Ossen Bridge",
        over_tags={"bridge:structure": "arch", "material": "stone", "historic": "bridge"},
    ),
    Road(
        "Saddle Road", "secondary",
        ((-1.75, 0.95), (-1.3, 0.32), (-0.72, 0.42), (-0.42, -0.12), (-0.02, 0.2), (0.42, -0.38),
         (0.95, -0.15), (1.35, -0.6), (1.75, -0.05), (2.3, 0.35), (3.0, 0.45), (3.7, 0.55)),
    ),
    Road(
        "Fennick Road", "secondary",
        ((3.7, 0.55), (5.2, 1.3), (6.6, 2.35), (8.3, 3.3), (9.4, 4.1), (10.4, 4.9), (12.1, 5.5),
         (13.9, 6.1)),
    ),
    Road(
        "Neck Road", "secondary",
        ((-4.25, 2.75), (-3.4, 3.1), (-2.5, 3.25), (-1.6, 3.2), (-1.15, 3.72), (-0.85, 3.34),
         (-0.42, 3.62), (0.1, 3.66), (0.85, 3.7), (1.3, 4.08), (1.75, 3.72), (2.35, 4.2),
         (3.1, 3.95), (4.0, 4.15)),
        under=((-0.4, 0.85),),
    ),
    Road(
        "Sallow Road", "secondary",
        ((4.0, 4.15), (5.6, 4.35), (7.6, 4.5), (8.9, 4.75), (10.4, 4.9)),
    ),
    Road(
        "Valley Road", "secondary",
        ((-8.1, -0.36), (-7.9, -1.2), (-7.3, -2.5), (-5.4, -3.9), (-3.9, -4.75), (-2.8, -5.4),
         (-1.4, -5.55), (-0.2, -6.0), (1.0, -6.05), (2.2, -5.6), (3.3, -4.95), (4.3, -4.05),
         (5.1, -2.9), (6.4, -1.95), (7.5, -1.75), (8.8, -1.0), (9.9, -0.4), (10.35, 0.2),
         (10.5, 0.9), (10.55, 1.9), (10.1, 3.2), (10.4, 4.9)),
        over="Quernby Bridge",
        over_tags={"bridge:structure": "arch", "material": "stone"},
    ),
    Road(
        "Gap Lane", "lane",
        ((-1.75, 0.95), (-1.55, -0.6), (-1.7, -2.2), (-0.9, -3.3), (0.2, -4.3), (1.3, -4.35),
         (2.4, -4.4), (3.0, -3.5), (3.6, -2.0), (3.4, -0.6), (3.7, 0.55)),
    ),
    Road(
        "Station Parade", "secondary",
        ((-9.7, -0.62), (-9.3, -1.45), (-8.2, -1.52), (-6.9, -1.75), (-5.7, -1.95),
         (-5.15, -1.7)),
    ),
    Road("Northgate Way", "secondary", ((-4.9, -0.45), (-4.6, 0.2), (-4.35, 1.1))),
    Road(
        "Market Street", "tertiary",
        ((-7.2, 0.25), (-7.35, 1.1), (-7.3, 2.0), (-7.1, 3.0), (-6.5, 4.1), (-6.2, 5.0)),
        over="Market Bridge", over_tags={"bridge:structure": "beam", "material": "steel"},
    ),
    Road(
        "Saltworks Road", "tertiary",
        ((-9.7, -0.62), (-10.25, 0.55), (-10.3, 1.6), (-10.2, 2.8), (-9.9, 4.0),
         (-9.3, 4.9)),
        over="Saltworks Bridge", over_tags={"bridge:structure": "truss", "material": "steel"},
    ),
    Road(
        "Overwater Road", "tertiary",
        ((-13.9, 5.6), (-11.6, 4.7), (-9.9, 4.0), (-8.2, 4.35), (-6.5, 4.1), (-5.2, 3.7),
         (-4.25, 2.75), (-4.35, 1.1)),
    ),
    Road(
        "Southmead Road", "tertiary",
        ((-9.7, -0.62), (-9.75, -2.4), (-8.9, -3.5), (-7.0, -4.7), (-5.2, -5.3), (-3.9, -5.2),
         (-2.8, -5.4)),
    ),
    Road(
        "Ambersett Road", "tertiary",
        ((-9.75, -2.4), (-10.9, -3.6), (-12.1, -4.9), (-13.9, -5.8)),
    ),
    Road(
        "Thistleham Road", "tertiary",
        ((-6.2, 5.0), (-5.8, 6.2), (-5.5, 7.3), (-5.9, 8.8)),
    ),
    Road(
        "Bracken Foot Road", "tertiary",
        ((-1.75, 0.95), (-1.8, 2.0), (-1.75, 3.2), (-1.9, 4.6), (-2.0, 6.4), (-2.2, 8.8)),
    ),
    Road(
        "Sallow Lane", "lane",
        ((3.7, 0.55), (3.8, 2.0), (4.1, 3.2), (4.0, 4.15), (4.1, 5.6), (4.7, 7.0), (5.2, 8.7)),
    ),
    Road(
        "Mere Lane", "lane",
        ((7.6, 4.5), (8.0, 5.9), (7.8, 7.2), (7.0, 8.3), (5.2, 8.7)),
    ),
    Road(
        "Ossenbeck Lane", "lane",
        ((4.3, -4.05), (5.6, -4.6), (7.6, -4.3), (9.6, -3.4), (11.4, -2.6), (13.9, -2.4)),
    ),
    Road(
        "Hollowby Lane", "lane",
        ((9.9, -0.4), (11.2, -1.2), (11.4, -2.6), (11.8, -4.6), (11.4, -6.8), (12.2, -8.8)),
    ),
    Road(
        "Fennick Ford Lane", "track",
        ((9.9, -0.4), (11.3, 0.3), (12.2, 1.2), (12.62, 1.72), (12.7, 2.4), (11.9, 3.9),
         (12.1, 5.5)),
        over="Fennick Ford", over_tags={"ford": "yes", "surface": "concrete"},
    ),
    Road(
        "Gap Weir Path", "footpath",
        ((5.0, -2.95), (4.75, -2.2), (4.72, -1.6), (4.7, -0.9), (4.3, -0.2), (3.7, 0.55)),
        over="Mill Weir", over_tags={"width": "1.2", "handrail": "yes"},
    ),
    Road(
        "Heron Path", "footway",
        ((-6.75, -0.85), (-6.1, -0.5), (-5.3, 0.0), (-4.6, 0.2)),
        over="Heron Footbridge", over_tags={"bridge:structure": "suspension", "width": "2.5"},
    ),
    Road(
        "Reedbank Path", "footpath",
        ((-12.3, 2.6), (-12.75, 3.3), (-12.95, 3.95), (-13.0, 4.8), (-12.6, 5.1)),
        over="Reedbank Stepping Stones", over_tags={"ford": "stepping_stones"},
    ),
    Road(
        "Southern Lane", "lane",
        ((-5.2, -5.3), (-6.1, -6.9), (-6.0, -8.8)),
    ),
    Road(
        "High Moor Lane", "lane",
        ((1.0, -6.05), (1.4, -7.1), (3.1, -7.9), (5.0, -7.2), (7.0, -6.6), (7.6, -4.3)),
    ),
)  # fmt: skip


@dataclass(frozen=True)
class District:
    """A built or green area with streets of one sort.

    Attributes
    ----------
    name : str
        Its name.
    kind : str
        A key of `styles.DISTRICTS`.
    outline : tuple
        Corners, km; one point and a radius make a round village.
    angle_deg : float
        Direction of its streets.
    """

    name: str
    kind: str
    outline: tuple[tuple[float, float], ...]
    angle_deg: float = 0.0
    radius_km: float = 0.0


DISTRICTS = (
    District(
        "Old Ossenford", "old",
        ((-7.75, -0.55), (-6.9, -0.75), (-6.2, -0.3), (-6.1, 0.6), (-6.3, 1.35), (-7.0, 1.75),
         (-7.8, 1.5), (-7.95, 0.5)),
        25.0,
    ),
    District(
        "The Exchange", "grid",
        ((-10.3, -1.5), (-8.2, -1.35), (-8.0, 0.2), (-8.4, 1.25), (-9.6, 1.2), (-10.3, 0.45)),
        8.0,
    ),
    District(
        "Saltworks", "works",
        ((-10.4, 0.9), (-9.5, 1.35), (-8.9, 1.5), (-9.4, 2.8), (-11.2, 2.7), (-12.2, 3.6),
         (-13.2, 2.7), (-12.4, 0.8)),
        -20.0,
    ),
    District(
        "Northbank", "terraces",
        ((-6.2, -0.7), (-4.4, -1.3), (-3.4, -2.8), (-2.5, -2.4), (-2.6, 2.5), (-2.9, 4.9),
         (-5.2, 5.2), (-7.0, 4.9), (-7.5, 2.0), (-6.2, 1.5)),
        -12.0,
    ),
    District(
        "Overwater", "suburb",
        ((-7.0, 1.9), (-8.6, 1.9), (-9.7, 3.0), (-11.5, 3.1), (-11.9, 4.9), (-9.6, 6.1),
         (-6.9, 5.4)),
        20.0,
    ),
    District(
        "Westing", "suburb",
        ((-13.1, -1.9), (-10.3, -1.8), (-10.3, 0.7), (-12.3, 0.9), (-13.5, -0.2)),
        -8.0,
    ),
    District(
        "Weirside", "terraces",
        ((-8.4, -1.5), (-6.3, -0.9), (-4.9, -1.3), (-4.1, -2.6), (-3.0, -3.2), (-2.7, -4.6),
         (-4.4, -4.0), (-6.3, -2.5)),
        -30.0,
    ),
    District(
        "Southmead", "suburb",
        ((-10.2, -2.0), (-8.0, -1.7), (-6.4, -2.5), (-4.5, -4.1), (-3.1, -4.9), (-3.4, -6.0),
         (-6.4, -6.3), (-9.4, -5.0)),
        -35.0,
    ),
    District(
        "Kettlegate", "terraces",
        ((-10.3, -1.9), (-8.2, -1.8), (-5.5, -1.2), (-6.1, 1.6), (-7.3, 1.95), (-8.9, 1.9),
         (-10.4, 1.0)),
        -5.0,
    ),
    District(
        "Brackenfoot", "suburb",
        ((-2.1, -3.7), (-2.1, 1.6), (-2.2, 4.9), (-1.3, 4.7), (-1.05, 3.0), (-0.95, 0.8),
         (-1.0, -1.2), (-0.6, -3.2)),
        5.0,
    ),
    District(
        "Marrowfield", "suburb",
        ((5.7, 2.3), (6.2, 1.6), (7.2, 1.7), (7.7, 2.6), (7.2, 3.3), (6.3, 3.2)), 30.0,
    ),
    District(
        "Fennick", "suburb",
        ((8.4, 3.6), (9.3, 3.0), (10.8, 3.1), (11.9, 4.2), (12.3, 5.6), (11.8, 6.5),
         (10.6, 6.7), (9.4, 6.2), (8.4, 5.2)),
        38.0,
    ),
    District("Gap End", "village", ((0.1, -6.1),), 20.0, 0.55),
    District("Ossenbeck", "village", ((4.5, -4.1),), 40.0, 0.55),
    District("Nether Sallow", "village", ((3.6, 0.6),), 10.0, 0.7),
    District("Upper Sallow", "village", ((4.0, 4.3),), -15.0, 0.6),
    District("Quernby", "village", ((10.3, -0.2),), -40.0, 0.65),
    District("Hollowby", "village", ((7.1, -2.0),), 15.0, 0.5),
    District("Thistleham", "village", ((-5.6, 7.2),), -20.0, 0.6),
    District("Ambersett", "village", ((-12.0, -4.9),), 35.0, 0.55),
    District("Merehead", "village", ((5.2, 8.3),), 5.0, 0.45),
    District("Stonehope", "village", ((11.5, -2.7),), 25.0, 0.5),
)  # fmt: skip

PARKS = {
    "Lantern Park": ((-5.1, 2.0), (-4.5, 1.7), (-4.1, 2.0), (-4.3, 2.6), (-4.9, 2.7)),
    "Weir Meadow": ((-5.4, -2.3), (-4.7, -2.5), (-4.3, -3.2), (-4.9, -3.5), (-5.6, -3.0)),
}

# Single places put by hand, so that something lies along each way over and round the ridge.
SPOTS = (
    ({"natural": "spring", "name": "Neck Spring"}, (-0.62, 3.52)),
    ({"amenity": "shelter", "shelter_type": "weather_shelter"}, (1.02, 3.83)),
    ({"natural": "spring", "drinking_water": "yes", "name": "Saddle Well"}, (0.55, -0.44)),
    ({"amenity": "shelter", "shelter_type": "basic_hut", "name": "Crest Hut"}, (0.47, 1.64)),
    ({"tourism": "viewpoint", "name": "Bracken View"}, (0.38, 1.66)),
    ({"man_made": "water_tap", "drinking_water": "yes"}, (3.93, 4.24)),
    ({"highway": "bus_stop", "shelter": "yes", "bench": "yes"}, (6.05, 4.36)),
    ({"amenity": "fountain", "drinking_water": "yes"}, (8.86, 4.76)),
    ({"amenity": "pub", "name": "Gap Inn", "opening_hours": "We-Su 17:00-00:30"}, (0.35, -6.02)),
    ({"amenity": "drinking_water", "opening_hours": "sunrise-sunset"}, (4.62, -1.72)),
    ({"railway": "station", "name": "Ossenford"}, (-8.2, -1.74)),
    ({"railway": "halt", "name": "Hollowby Halt", "shelter": "yes"}, (6.98, -1.79)),
    ({"railway": "halt", "name": "Fennick Halt", "shelter": "yes"}, (9.17, 4.33)),
    ({"place": "town", "name": "Ossenford"}, (-7.6, 0.9)),
)

# Ways that differ from their neighbours: district, kind, changed tags, how many.
EXCEPTIONS = (
    ("Lantern Park", "footway", {"foot:conditional": "no @ (23:00-05:00)"}, 3),
    ("Northbank", "residential", {"highway": "construction", "construction": "residential"}, 2),
    ("Old Ossenford", "footway", {"oneway:foot": "yes"}, 1),
    ("Overwater", "footway", {"foot": "private"}, 1),
    ("Saltworks", "service", {"access": "no"}, 2),
    ("Kettlegate", "cycleway", {"foot": "no"}, 1),
    ("Weirside", "residential", {"access": "private", "foot": "yes"}, 1),
    ("Westing", "residential", {"access": "destination"}, 2),
    ("Southmead", "residential", {"access": "private"}, 2),
    ("Fennick", "footway", {"access:conditional": "yes @ (06:00-22:00)"}, 1),
)

# Behind a fence with a locked gate: its streets join nothing outside.
HARBOUR = ((-12.1, 2.35), (-11.55, 2.1), (-11.1, 2.2), (-11.2, 2.55), (-11.7, 2.75), (-12.05, 3.1))
# A private estate across the straight line home.
ESTATE = ((7.75, 3.75), (8.3, 3.55), (8.75, 4.0), (8.6, 4.5), (8.0, 4.4))
